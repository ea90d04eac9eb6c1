"""What a number probably is: from its unit, its name, its range, and how it behaves beside the others.

A guess is written into the cabin file only above `SURE_ENOUGH`; below it stays a comment with its reason. A wrong guess
that looks right is the danger here: a temperature that could be Celsius or Fahrenheit is never decided by range alone.
"""

from __future__ import annotations

import re
from statistics import median
from typing import NamedTuple

from bridge.listen.collect import Source
from bridge.units import ALIASES, SHARES, Linear, UnitError, compile_unit
from rules.quantity import QUANTITIES

SURE_ENOUGH = 0.6


class Guess(NamedTuple):
    """What a source probably is.

    Attributes
    ----------
    quantity, unit : str
        As the cabin file writes them; unit is empty for contacts and for Homie, which brings its own.
    sure : float
        0 to 1.
    reasons : tuple of str
        Why, and what to compare.
    sign : str
        ``charging`` or ``discharging``.
    """

    source: Source
    quantity: str
    unit: str
    sure: float
    reasons: tuple[str, ...]
    sign: str = "charging"

    @property
    def value(self) -> float:
        """Median in the canonical unit."""
        return self.linear(median(self.source.values))

    @property
    def linear(self) -> Linear:
        """Conversion to the canonical unit, without sign."""
        if not self.unit:
            return Linear(1.0)
        return compile_unit(self.unit, QUANTITIES[self.quantity].unit, _dialect(self.source))


_WORDS: dict[str, str] = {
    **dict.fromkeys(("volt", "volts", "voltage", "v", "u", "mv", "millivolt", "millivolts", "vdc"), "voltage"),
    **dict.fromkeys(("current", "amp", "amps", "ampere", "amperes", "a", "i", "ma", "milliamps", "shunt"), "current"),
    **dict.fromkeys(("power", "watt", "watts", "w", "p"), "power"),
    **dict.fromkeys(("temp", "temperature", "celsius", "fahrenheit", "degc", "degf", "probe", "t"), "temperature"),
    **dict.fromkeys(("air", "ambient", "outdoor", "outside"), "temperature"),
    **dict.fromkeys(("hydrogen", "h2"), "hydrogen"),
    **dict.fromkeys(("gravity", "sg", "hydrometer"), "gravity"),
    **dict.fromkeys(("level",), "level"),
    **dict.fromkeys(("fan", "ventilator", "vent"), "fan"),
    **dict.fromkeys(("door", "hatch"), "door"),
}  # fmt: skip
#: A full word decides against a letter; "shunt" and "probe" say only where something is measured.
_WEAK = frozenset({"v", "u", "a", "i", "w", "p", "t", "shunt", "probe", "vent", "air", "ambient", "outdoor", "outside"})
_UNIT_IN_NAME = {"mv": "mV", "millivolt": "mV", "millivolts": "mV", "ma": "mA", "milliamps": "mA", "celsius": "degC",
                 "degc": "degC", "fahrenheit": "degF", "degf": "degF"}  # fmt: skip
_NOT_OURS = frozenset(
    re.findall(
        r"\w+",
        "soc rssi lqi snr uptime humidity pressure energy kwh wh count counter version percent heap channel index "
        "illuminance linkquality frequency port ttl seq sequence firmware setpoint target limit max min",
    )
)
_AIR = frozenset({"air", "ambient", "room", "outdoor", "outside", "indoor"})
_ACID = frozenset({"cell", "probe", "battery", "bank", "electrolyte", "acid", "case", "block"})
#: Last parts of a topic that say nothing.
_EMPTY = frozenset({"state", "value", "get", "status", "reading"})
_AC = frozenset({"ac", "mains", "grid", "generator", "outlet", "plug", "socket"})
_KINDS = {"voltage": "voltage", "current": "current", "power": "power", "temperature": "temperature"}
_CANONICAL = {"V": "voltage", "A": "current", "W": "power", "degC": "temperature"}


def words_of(text: str) -> list[str]:
    """Lower-case words of a topic or pointer; ``cellTemp_1`` is cell, temp, 1."""
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Za-z])(?=\d)", " ", text)
    return [word.lower() for word in re.split(r"[^A-Za-z0-9]+", spaced) if word]


def guess(source: Source) -> Guess | None:
    """The best guess for one source by itself, or None where it is nothing we could use."""
    words = words_of(source.topic + " " + source.at)
    telling = [part for part in source.topic.split("/") if part.lower() not in _EMPTY]
    last = words_of(source.at) or words_of(telling[-1] if telling else "") or words
    if not source.values or _NOT_OURS & set(last):
        return None
    if source.contact:
        return _contact(source, words)
    kind, sure, reasons = _kind(source, words, last)
    if kind is None:
        return None
    found = _with_unit(source, _quantity(kind, words), sure, reasons, words)
    if found is not None and kind == "temperature" and not set(words) & (_AIR | _ACID):
        why = "of the electrolyte, or of the air? no name says"
        return found._replace(sure=min(0.5, found.sure), reasons=(*found.reasons, why))
    return found


def _contact(source: Source, words: list[str]) -> Guess | None:
    quantity = next((_WORDS[word] for word in words if _WORDS.get(word) in {"fan", "door"}), None)
    if quantity is None:
        return None
    why = f"named {quantity}, a contact: see that on means running or open, and that it reports regularly"
    return Guess(source, quantity, "", 0.5, (why,))


def _kind(source: Source, words: list[str], last: list[str]) -> tuple[str | None, float, tuple[str, ...]]:
    """Voltage, current, power, temperature ... and how sure: the unit first, then the hub's kind, then the name."""
    if source.unit in {"C", "F"} and any(_WORDS.get(word) == "temperature" for word in words):
        return "temperature", 0.75, (f"named a temperature, says {source.unit}",)
    if source.unit is not None:
        for canonical, kind in _CANONICAL.items():
            try:
                compile_unit(source.unit, canonical, _dialect(source))
            except UnitError:
                continue
            return kind, 0.95, (f"says {source.unit}",)
        if "hydrogen" in words or "h2" in words:
            return "hydrogen", 0.85, (f"named hydrogen, says {source.unit}",)
        return None, 0.0, ()
    if source.kind in _KINDS:
        return _KINDS[source.kind], 0.85, (f"announced as {source.kind}",)
    for scope, strong, weak in ((last, 0.85, 0.65), (words, 0.75, 0.5)):
        named = [word for word in scope if word in _WORDS]
        full = [word for word in named if word not in _WEAK]
        if named:
            word = (full or named)[-1]
            return _WORDS[word], strong if full else weak, (f'named "{word}"',)
    return None, 0.0, ()


def _quantity(kind: str, words: list[str]) -> str:
    """The trade's quantity for a kind, from the other words of the name."""
    names = set(words)
    if kind == "temperature":
        return (
            "ambient_temperature"
            if names & _AIR and not names & {"cell", "probe", "battery", "bank"}
            else ("electrolyte_temperature")
        )
    if kind in {"voltage", "current", "power"} and names & _AC:
        return f"ac_{kind}"
    if kind == "voltage":
        for word in ("block", "cell", "midpoint"):
            if word in names:
                return f"{word}_voltage"
    return "string_current" if kind == "current" and "string" in names else kind


def _with_unit(source: Source, quantity: str, sure: float, reasons: tuple[str, ...], words: list[str]) -> Guess | None:
    """Settle the unit: said, named, or by range; the range also confirms or denies."""
    canonical = QUANTITIES[quantity].unit
    if source.unit is not None and canonical != "1":
        unit = {"C": "degC", "F": "degF"}.get(source.unit, source.unit) if canonical == "degC" else source.unit
        return Guess(source, quantity, ALIASES.get(unit, unit), sure, reasons)
    middle = median(source.values)
    named = next((_UNIT_IN_NAME[word] for word in words if word in _UNIT_IN_NAME), None)
    if canonical == "degC":
        return _temperature(source, quantity, sure, reasons, named)
    if canonical == "1":
        return _share(source, quantity, sure, reasons)
    if canonical == "mm" or QUANTITIES[quantity].unit == "boolean":
        return None
    milli = f"m{canonical}"
    if named == milli and abs(middle) > 300:
        return Guess(source, quantity, milli, min(0.95, sure + 0.1), (*reasons, f"and {milli} in the name"))
    if quantity == "voltage":
        if nominal_cells(middle) is not None:
            return Guess(source, quantity, "V", min(0.9, sure + 0.05), (*reasons, f"{middle:g} V fits a bank"))
        if nominal_cells(middle / 1000.0) is not None:
            why = f"{middle:g} V cannot be a bank, {middle / 1000.0:g} V can: the number is millivolts"
            return Guess(source, quantity, "mV", max(0.7, sure - 0.1), (*reasons, why))
        return Guess(source, quantity, "V", 0.3, (*reasons, f"{middle:g} fits no bank, in V or in mV"))
    if quantity.endswith("current") and abs(middle) > 1000.0:
        return Guess(source, quantity, "mA", sure - 0.15, (*reasons, f"{middle:g} A is too much: milliamperes"))
    return Guess(source, quantity, canonical, sure, (*reasons, f"no unit: {canonical} assumed"))


def _temperature(
    source: Source, quantity: str, sure: float, reasons: tuple[str, ...], named: str | None
) -> Guess | None:
    middle = median(source.values)
    if named is not None:
        return Guess(source, quantity, named, min(0.95, sure + 0.1), (*reasons, f"and {named} in the name"))
    if 250.0 < middle < 350.0:
        return Guess(source, quantity, "K", sure, (*reasons, f"{middle:g} can only be kelvin"))
    in_fahrenheit = (middle - 32.0) / 1.8
    if -20.0 <= middle <= 36.0:
        why = f"no unit: {middle:.1f} degC, or {in_fahrenheit:.1f} degC if it is degF: compare with a thermometer"
        return Guess(source, quantity, "degC", sure - 0.2, (*reasons, why))
    why = (
        f"no unit: as degF it is {in_fahrenheit:.1f} degC, as degC it is {middle:.1f} and HOT: "
        "compare with a thermometer before you decide"
    )
    return Guess(source, quantity, "degF", 0.4, (*reasons, why))


def _share(source: Source, quantity: str, sure: float, reasons: tuple[str, ...]) -> Guess | None:
    middle = median(source.values)
    if quantity == "gravity":
        fits = 1.0 <= middle <= 1.4
        return Guess(source, quantity, "1", sure if fits else 0.3, (*reasons, f"{middle:g}"))
    unit = "percent" if source.unit == "%" and source.style != "senml" else source.unit
    if unit in SHARES:
        return Guess(source, quantity, unit, sure, reasons)
    return Guess(
        source, quantity, "ppm" if middle > 100 else "percent", 0.4, (*reasons, "no unit: ppm, percent or %LEL?")
    )


def nominal_cells(volts: float) -> int | None:
    """Cells of a 12, 24 or 48 V bank that could show this voltage [V]."""
    for cells, low, high in ((6, 9.0, 17.4), (12, 17.4, 34.8), (24, 36.0, 69.6)):
        if low <= volts < high:
            return cells
    return None


def settle_sign(current: Guess, voltage: Guess | None) -> Guess:
    """Which way a current counts, from what the voltage does beside it.

    No lead-acid cell stands above 2.13 V while it is being discharged (at rest a full one shows less), and hardly any
    below 2.0 V while it takes a charge (common practice, no source).
    """
    amps = current.value
    cells = None if voltage is None else nominal_cells(voltage.value)
    if voltage is None or cells is None:
        return current._replace(
            sure=current.sure - 0.1, reasons=(*current.reasons, "sign not known: no voltage beside it")
        )
    per_cell = voltage.value / cells
    if abs(amps) < 0.5:
        why = "nothing flowed: see that charging shows as positive"
        return current._replace(sure=min(current.sure, 0.65), reasons=(*current.reasons, why))
    if amps < 0 and per_cell > 2.13:
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell can only be charging: the meter counts discharge as positive"
        return current._replace(sign="discharging", sure=max(0.7, current.sure - 0.1), reasons=(*current.reasons, why))
    if amps > 0 and per_cell < 2.0:
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell: charging a dead bank, or discharging with the sign turned?"
        return current._replace(sure=0.5, reasons=(*current.reasons, why))
    if amps < 0:
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell: discharging, or a turned sign? look again under charge"
        return current._replace(sure=min(current.sure, 0.65), reasons=(*current.reasons, why))
    return current._replace(reasons=(*current.reasons, f"positive at {per_cell:.2f} V per cell: charging"))


def settle_power(power: Guess, voltage: Guess, current: Guess) -> Guess:
    """Whether a power is that of the bank: volts times amps, within a tenth."""
    product = abs(voltage.value * current.value)
    if product < 10.0:
        return power
    if abs(abs(power.value) - product) < 0.1 * product:
        turned = power.value < 0 and settle_sign(current, voltage).sign == "discharging"
        sign = "discharging" if turned else "charging"
        return power._replace(sure=max(0.9, power.sure), sign=sign, reasons=(*power.reasons, "volts times amps agree"))
    why = f"volts times amps are {product:.0f} W, this says {power.value:.0f} W: another circuit's?"
    return power._replace(sure=min(0.5, power.sure), reasons=(*power.reasons, why))


def _dialect(source: Source) -> str:
    return "senml" if source.style == "senml" else "text"
