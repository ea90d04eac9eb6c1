"""The owner's own limits, and the volts of the mains: what `revival setup` takes, and asks only where it matters."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from bridge import units
from bridge.commands.setup_answers import UNKNOWN, Asker
from bridge.config.models import OUTLETS
from bridge.config.services import OPENINGS as AREAS
from bridge.errors import UsageError
from bridge.listen.write import escaped
from rules.bank import LEAST_EQUALISE, Limits

#: Option -> key below ``limits`` of the file. Nobody is asked in the first evening: the usual ones suit every bank.
OWN_LIMITS = {
    "temperature-limit": "temperature",
    "case-limit": "temperature_case",
    "voltage-limit": "cell_voltage",
    "current-limit": "string_current",
}
MAINS = "ac-voltage"
#: How the openings of the room are asked for.
OPENINGS = "How large is each opening for air, one low and one high (none: not said)?"
#: No file takes a limit above this [V per cell]; a number up to it is of one cell.
HIGHEST = 3.5
#: How each is asked for.
ASKED = {
    "temperature-limit": "At which temperature of the acid is the charger cut?",
    "case-limit": "At which temperature of a case is the charger cut?",
    "voltage-limit": "At how many volts, of one cell or of the bank, is the charger cut?",
    "current-limit": "How many amps may one string take?",
    MAINS: "How many volts has the charger's outlet (unknown: not said)?",
}
#: What has to stay below the limit of the acid, and by how much it is put there [degC] (assumed).
_BELOW = {"temperature_warning": 3.0, "temperature_resume": 3.0, "temperature_case": 0.0}


def read_temperature(text: str) -> str:
    """Return a temperature as the file writes it.

    >>> read_temperature("104F"), read_temperature("40 °C")
    ('104 degF', '40 degC')
    """
    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(?:deg|°|degrees?)?\s*([CF])\w*\.?\s*", text, re.IGNORECASE)
    if found is None:
        raise ValueError('a temperature with its scale, such as "110 degF" or "43 degC"')
    return f"{found[1].replace(',', '.')} deg{found[2].upper()}"


def read_mains(text: str) -> str:
    """Return the volts of the mains as the file writes them; empty where they are not known.

    >>> read_mains("230"), read_mains("120V"), read_mains("unknown")
    ('230 V', '120 V', '')
    """
    if text.strip().lower() in {UNKNOWN, "-"}:
        return ""
    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(?:V|volts?)?\s*(?:AC)?\s*", text, re.IGNORECASE)
    if found is None:
        raise ValueError('volts of the outlet, such as "120 V" or "230 V"; unknown where you do not know')
    volts = found[1].replace(",", ".")
    if not OUTLETS[0] <= float(volts) <= OUTLETS[1]:
        raise ValueError(
            f"{volts} V is no outlet, which has {OUTLETS[0]:g} to {OUTLETS[1]:g} V: asked for is what comes from the "
            'wall, such as "120 V" or "230 V", not what the charger gives; unknown where you do not know'
        )
    return f"{volts} V"


def read_openings(text: str) -> str:
    """Return the area of each opening for air as the file writes it; empty where there is none or nobody knows.

    >>> read_openings("100 sq in"), read_openings("600cm2"), read_openings("none")
    ('100 sq in', '600cm2', '')
    """
    written = text.strip()
    if written.lower() in {UNKNOWN, "-", "none"}:
        return ""
    try:
        area = units.parse(written, "cm^2")
    except units.UnitError as error:
        raise ValueError(f'area of each opening, such as "600 cm^2" or "100 sq in"; none: {error}') from None
    least, most = AREAS
    if not least <= area <= most:
        raise ValueError(f'"{written}" is no opening of a room: each has {least:g} to {most:g} cm^2; none')
    return written


def openings_line(written: str) -> str:
    """Return the line of the file for openings as they were typed."""
    return f'openings = "{written}"'


def openings_words(area: float, degrees: str) -> str:
    """Return an area [cm^2] as it can be typed, in the measures of whoever reads this scale.

    >>> openings_words(645.16, "degF"), openings_words(600.0, "degC")
    ('100 sq in', '600 cm^2')
    """
    return f"{area / units.CM2_PER_SQUARE_INCH:.4g} sq in" if degrees == "degF" else f"{area:.4g} cm^2"


def read_amps(text: str) -> str:
    """Return amps of one string as the file writes them.

    >>> read_amps("25"), read_amps("12,5 A per string")
    ('25 A', '12.5 A')
    """
    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(?:A|amps?)?\s*(?:(?:per|each|a) string)?\s*", text, re.IGNORECASE)
    if found is None:
        raise ValueError('amps of one string, such as "25 A"')
    return f"{found[1].replace(',', '.')} A"


def reads(option: str, cells: int) -> Callable[[str], str]:
    """Return what reads a limit of a bank with so many cells, as the file writes it."""

    def volts(text: str) -> str:
        found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(?:V|volts?)?\s*((per|each|a) cell)?", text, re.IGNORECASE)
        if found is None:
            raise ValueError(f'volts of one cell or of the bank, such as "2.7 V" or "{2.7 * cells:g} V"')
        said = float(found[1].replace(",", "."))
        each = said if said <= HIGHEST else said / cells
        if not LEAST_EQUALISE < each <= HIGHEST:
            raise ValueError(
                f"{said:g} V is {each:.2f} V for each of {cells} cells: a limit lies above {LEAST_EQUALISE:g} V and "
                f"up to {HIGHEST:g} V per cell; {Limits().cell_voltage:g} V is usual"
            )
        return f"{each:.4g} V"

    return {"voltage-limit": volts, "current-limit": read_amps}.get(option, read_temperature)


def ceiling(limits: Mapping[str, str]) -> float:
    """Return the volts of one cell at which harm begins [V], as its owner says it or as usual."""
    return units.parse(limits["cell_voltage"], "V") if "cell_voltage" in limits else Limits().cell_voltage


def limits_given(asker: Asker, cells: int) -> dict[str, str]:
    """Return key -> value of the limits that were given as options.

    Raises
    ------
    UsageError
        One of them cannot be read.
    """
    said: dict[str, str] = {}
    for option, key in OWN_LIMITS.items():
        given = getattr(asker.arguments, option.replace("-", "_"))
        if given is None:
            continue
        try:
            said[key] = reads(option, cells)(given)
        except ValueError as error:
            asker.refused.add(option)
            raise UsageError(f"--{option} {given!r}: {error}") from None
    return said


def with_limits(before: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:
    """Return limits with others beside; what has to stay below the acid's goes down with it.

    >>> with_limits({}, {"temperature": "39 degC"})
    {'temperature': '39 degC', 'temperature_case': '39 degC'}
    >>> sorted(with_limits({}, {"temperature": "37 degC"}).items())[2:]
    [('temperature_resume', '34 degC'), ('temperature_warning', '34 degC')]
    """
    now = {**before, **said}
    if "temperature" not in said:
        return now
    highest = units.parse(said["temperature"], "degC")
    for key, under in _BELOW.items():
        usual = getattr(Limits(), key)
        own = units.parse(now[key], "degC") if key in now else usual
        if key not in said and own >= highest and (under or own > highest):
            now[key] = f"{highest - under:.3g} degC" if under else said["temperature"]
    return now


def limits_line(limits: Mapping[str, Any]) -> str:
    """Return the key with the owner's limits.

    >>> limits_line({"temperature": "104 degF"})
    'limits = { temperature = "104 degF" }'
    """
    told = (f'{key} = "{escaped(one)}"' if isinstance(one, str) else f"{key} = {one}" for key, one in limits.items())
    return f"limits = {{ {', '.join(told)} }}"
