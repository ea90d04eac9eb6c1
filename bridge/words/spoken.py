"""Sentences of the rules as their reader says them: the scale of the owner's thermometer, the clock of the place.

The rules write temperatures as ``43.3 degC`` (a limit of the trade also as ``38 degC (100 degF)``), rates as
``8.0 K/h``, differences as ``3 K``, moments as ``2026-11-25T07:00Z``, and water, levels, air and openings in metric
units: whoever reads Fahrenheit pours fluid ounces and measures inches. Whatever a person wrote goes through unchanged.
"""

from __future__ import annotations

import re
from datetime import datetime
from functools import lru_cache
from math import ceil

from bridge.units import (
    CM2_PER_SQUARE_INCH,
    M3_PER_CUBIC_FOOT,
    ML_PER_FLUID_OUNCE,
    ML_PER_GALLON,
    ML_PER_QUART,
    MM_PER_INCH,
)

_NUMBER = r"-?\d+(?:\.\d+)?(?:e\+\d+)?"
_BOTH = re.compile(rf"({_NUMBER}) degC \(({_NUMBER}) degF\)")
_CELSIUS = re.compile(rf"(?:({_NUMBER}) to )?({_NUMBER}) degC\b")
_APART = re.compile(rf"({_NUMBER}) K(/h)?(?![\w/])")
#: What is measured in another system where Fahrenheit is read; grams only of water, as the rules say it.
_MEASURED = re.compile(
    rf"(?:({_NUMBER}) to )?({_NUMBER}) (mm|L/h|L|mL|m3/h|m\^3/h|m³/h|m\^3|cm2|cm\^2|g(?= of | per cell| above))"
    r"(?![\w/^]| per Ah)"
)
#: Amounts in a command that is named as an example of what is typed, and how they are typed in the other measures.
_TYPED = re.compile(r"(?<=[ =])(10mm|300ml)(?=[ `])")
_TYPED_AS = {"10mm": "3/8in", "300ml": "10floz"}
#: A gallon that was noted in whole millilitres is one [mL].
_WHOLE_ML = 0.5
#: Of these and more it is poured by the next larger measure [mL].
_POURED = ((ML_PER_GALLON, ML_PER_GALLON, "gal"), (ML_PER_QUART, ML_PER_QUART, "qt"))
_MOMENT = re.compile(r"\b\d{4}-\d\d-\d\dT\d\d:\d\dZ")
SIGNS = {"degC": "°C", "degF": "°F"}


@lru_cache(maxsize=4096)
def spoken(text: str, scale: str = "degC", join: str = " ") -> str:
    """Return a sentence of the rules in the owner's scale ("degC" or "degF") and by the clock of the place.

    Parameters
    ----------
    text : str
        From the rules.
    scale : str
        Of the cabin, as `bridge.settings.Cabin.degrees` says.
    join : str
        Between a number and its unit.

    Examples
    --------
    >>> spoken("warm it above 10 degC (50 degF); 43.5 degC measured, 2.0 K/h", "degF")
    'warm it above 50 °F; 110.3 °F measured, 3.6 °F/h'
    >>> spoken("electrolyte probes differ, 3.5 K, limit 3 K", "degF")
    'electrolyte probes differ, 6.3 °F, limit 5.4 °F'
    >>> spoken("75 m3/h, or 2117 cm2 low and high; 12 mm, 6.4 L of distilled water", "degF")
    '45 cfm, or 329 sq in low and high; 0.47 in, 1.7 gal of distilled water'
    >>> spoken("limit 43.3 degC", "degF")  # 110 degF in the owner's file and on his thermometer
    'limit 110.0 °F'
    """
    sign = SIGNS[scale]
    hot = scale == "degF"

    def degrees(found: re.Match[str]) -> str:
        ends = [end for end in found.groups() if end is not None]
        return f"{' to '.join(_degrees(end, hot) for end in ends)}{join}{sign}"

    text = _BOTH.sub(lambda found: f"{found[2 if hot else 1]}{join}{sign}", text)
    text = _APART.sub(lambda found: f"{float(found[1]) * (1.8 if hot else 1.0):.1f}{join}{sign}{found[2] or ''}", text)
    text = measured(text, scale, join)
    text = _MOMENT.sub(lambda found: here(found[0]), text)
    return _CELSIUS.sub(degrees, text)


@lru_cache(maxsize=4096)
def measured(text: str, scale: str, join: str = " ") -> str:
    """Return a sentence with its water, levels, air and openings in the owner's measures; temperatures stay.

    Parameters
    ----------
    text : str
        From the rules.
    scale : str
        Of the cabin: "degF" goes with US measures.
    join : str
        Between a number and its unit.

    Examples
    --------
    >>> measured("5.2 m3/h of air needed now, 43.3 degC", "degF"), measured("5.2 m3/h of air", "degC")
    ('3.1 cfm of air needed now, 43.3 degC', '5.2 m3/h of air')
    >>> measured("note it with `revival record level north A2=10mm`", "degF")
    'note it with `revival record level north A2=3/8in`'
    """
    if scale != "degF":
        return text
    text = _TYPED.sub(lambda found: _TYPED_AS[found[0]], text)
    return _MEASURED.sub(lambda found: customary(found[3], found[2], found[1], join), text)


def _degrees(written: str, hot: bool) -> str:
    """Return degrees Celsius as the owner reads them; in Fahrenheit a whole degree where it may have been one."""
    digits = len(written.partition(".")[2])
    exact = float(written) * 1.8 + 32.0 if hot else float(written)
    whole = round(exact)
    if hot and digits and f"{(whole - 32.0) / 1.8:.{digits}f}" == written:
        exact = float(whole)
    return f"{exact:.{min(digits, 1)}f}"


def customary(unit: str, value: str | float, low: str | float | None = None, join: str = " ") -> str:
    """Return a metric amount, or a range up to it, in US customary units.

    Air, openings and litres to have at hand are rounded up, for less would not do.

    Parameters
    ----------
    unit : str
        As `spoken` knows it: mm, mL, L, g of water, L/h, m3/h, m^3, cm2.
    value, low : str or float
        In that unit; `low` is where a range begins.
    join : str
        Between a number and its unit.

    Examples
    --------
    >>> customary("g", 355.0), customary("L", 1.2), customary("L", 2.0, 1.0), customary("m^3", 30.0)
    ('12.0 fl oz', '1.3 qt', '1.1 to 2.2 qt', '1059 cu ft')
    >>> customary("L/h", 27.6), customary("L/h", 0.5)
    ('1.0 cu ft/h', '0.018 cu ft/h')
    """
    amounts = [float(one) for one in (low, value) if one is not None]
    if unit in ("mL", "g", "L"):
        poured = [one * (1000.0 if unit == "L" else 1.0) for one in amounts]
        measure, name = next(
            ((each, name) for least, each, name in _POURED if max(poured) >= least - _WHOLE_ML),
            (ML_PER_FLUID_OUNCE, "fl oz"),
        )
        # Litres are what must be at hand, millilitres and grams what was poured or lost.
        tenths = [10.0 * one / measure for one in poured]
        said = [f"{(ceil(round(one, 4)) if unit == 'L' else one) / 10.0:.1f}" for one in tenths]
    elif unit == "mm":
        name, said = "in", [_inches(one / MM_PER_INCH) for one in amounts]
    elif unit == "L/h":
        name, said = "cu ft/h", [_small(one / 1000.0 / M3_PER_CUBIC_FOOT) for one in amounts]
    elif unit == "m^3":
        name, said = "cu ft", [f"{one / M3_PER_CUBIC_FOOT:.0f}" for one in amounts]
    elif unit in ("cm2", "cm^2"):
        name, said = "sq in", [f"{ceil(one / CM2_PER_SQUARE_INCH)}" for one in amounts]
    else:
        name, said = "cfm", [_cfm(one / M3_PER_CUBIC_FOOT / 60.0) for one in amounts]
    return f"{' to '.join(said)}{join}{name}"


#: Below this a flow has a digit behind the point [cfm].
_SMALL_FLOW = 10.0
#: Below this a rate of gas has two digits that tell something [cu ft/h].
_NOT_SMALL = 0.1


def _small(amount: float) -> str:
    """Write with a digit behind the point, with two that tell something where that would be nought."""
    return f"{amount:.1f}" if amount >= _NOT_SMALL or not amount else f"{amount:.2g}"


#: So near to a quarter of an inch it is that quarter: the rules write whole millimetres [in].
_A_QUARTER = 0.5 / MM_PER_INCH


def _inches(amount: float) -> str:
    """Write inches to a hundredth, and a quarter of one as such, though it was rounded to a millimetre before.

    >>> _inches(0.25), _inches(19.0 / 25.4), _inches(13.0 / 25.4), _inches(1.0), _inches(12.0 / 25.4)
    ('0.25', '0.75', '0.5', '1.0', '0.47')
    """
    quarter = round(4.0 * amount) / 4.0
    nearest = quarter if abs(amount - quarter) <= _A_QUARTER and quarter else amount
    return f"{nearest:.2f}".removesuffix("0")


def _cfm(flow: float) -> str:
    return f"{ceil(flow)}" if flow >= _SMALL_FLOW else f"{ceil(10.0 * flow) / 10.0:.1f}"


def here(written: str) -> str:
    """Return a moment of the rules' sentences by the clock of the place, with its day."""
    at = datetime.fromisoformat(written).astimezone()
    return f"{at.day} {at:%b %H:%M}"
