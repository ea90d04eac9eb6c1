"""Units as people and meters write them, compiled at start-up to one factor and one offset.

`pint` is asked only here and never per message: three conversions cost it some 40 microseconds, a compiled factor a
fifth of one. An alias table stands in front of it because its own names hold traps: `C` is coulomb, `F` is farad,
`MV` is megavolt, and `Cel`, `Volt`, `mv` are unknown.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from difflib import get_close_matches
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import pint


class UnitError(ValueError):
    """A unit or quantity that is unknown, ambiguous, or of the wrong kind; the text names the right spelling."""


class Linear(NamedTuple):
    """``canonical = raw * scale + offset``."""

    scale: float
    offset: float = 0.0

    def __call__(self, raw: float) -> float:
        """Convert one value."""
        return raw * self.scale + self.offset


#: Spellings met in the field -> what pint calls them.
ALIASES: dict[str, str] = {
    "Cel": "degC", "°C": "degC", "℃": "degC", "celsius": "degC", "Celsius": "degC", "deg C": "degC", "degc": "degC",
    "°F": "degF", "℉": "degF", "fahrenheit": "degF", "Fahrenheit": "degF", "deg F": "degF", "degf": "degF",
    "Kelvin": "kelvin",
    "v": "V", "Volt": "V", "Volts": "V", "volts": "V", "VDC": "V", "Vdc": "V", "VAC": "V", "Vac": "V",
    "mv": "mV", "millivolts": "mV", "kv": "kV",
    "a": "A", "Amp": "A", "Amps": "A", "amp": "A", "amps": "A", "Ampere": "A", "ADC": "A", "AAC": "A", "ma": "mA",
    "w": "W", "Watt": "W", "Watts": "W", "watts": "W", "kw": "kW",
    "Ohm": "ohm", "Ohms": "ohm", "Ω": "ohm",
    "ah": "Ah", "AH": "Ah", "amp hours": "Ah", "sec": "s", "secs": "s", "mins": "min", "hrs": "h", "hr": "h",
    "cu ft": "ft^3", "cuft": "ft^3", "cubic feet": "ft^3", "cubic foot": "ft^3", "ft3": "ft^3", "m3": "m^3",
    **dict.fromkeys(("sq in", "sqin", "sq. in", "square inch", "square inches", "in2", "in^2"), "inch^2"),
    **dict.fromkeys(("cm2", "cm²", "sq cm", "square centimetres", "square centimeters"), "cm^2"),
    "kb": "kB", "mb": "MB", "gb": "GB", "mm": "mm", "inches": "inch", "in": "inch",
}  # fmt: skip

#: US customary measures: an inch is 25.4 mm and a gallon 231 cubic inches, both exactly (NIST Handbook 44, Appendix C);
#: the rest are whole parts of these.
MM_PER_INCH, CM2_PER_SQUARE_INCH = 25.4, 2.54**2
ML_PER_GALLON = 231.0 * 2.54**3
ML_PER_QUART, ML_PER_PINT = ML_PER_GALLON / 4.0, ML_PER_GALLON / 8.0
ML_PER_CUP, ML_PER_FLUID_OUNCE = ML_PER_GALLON / 16.0, ML_PER_GALLON / 128.0
M3_PER_CUBIC_FOOT = 0.3048**3

#: Measures of water as people pour it, in millilitres; an ounce of it is a fluid one, a gallon a US one.
POURED: dict[str, float] = {
    "ml": 1.0, "l": 1000.0, "litre": 1000.0, "litres": 1000.0, "liter": 1000.0, "liters": 1000.0,
    **dict.fromkeys(("fl oz", "fl. oz", "floz", "fluid ounce", "fluid ounces"), ML_PER_FLUID_OUNCE),
    **dict.fromkeys(("oz", "ounce", "ounces"), ML_PER_FLUID_OUNCE),
    **dict.fromkeys(("cup", "cups"), ML_PER_CUP),
    **dict.fromkeys(("pt", "pint", "pints"), ML_PER_PINT),
    **dict.fromkeys(("qt", "quart", "quarts"), ML_PER_QUART),
    **dict.fromkeys(("gal", "gallon", "gallons"), ML_PER_GALLON),
}  # fmt: skip

#: Shares of one: the only units a dimensionless quantity may have. A lone ``%`` is decided by the dialect.
#: 100 % of hydrogen's lower explosive limit is 4 % by volume (common practice for gas sensors, no source).
SHARES: dict[str, float] = {
    "1": 1.0, "ratio": 1.0, "fraction": 1.0, "sg": 1.0, "SG": 1.0, "/": 1.0,
    "percent": 0.01, "/100": 0.01, "%vol": 0.01, "vol%": 0.01, "% vol": 0.01, "/1000": 0.001,
    "ppm": 1e-6, "ppb": 1e-9, "%LEL": 0.0004, "% LEL": 0.0004,
}  # fmt: skip

#: Tenths, hundredths and thousandths of a degree, as counted in whole numbers.
_DEGREES_COUNTED = re.compile(r"([dcm])(?:degC|°C|Cel|℃)")
_COUNTS = {"d": 0.1, "c": 0.01, "m": 0.001}

#: What a person asking for this canonical unit may write, for the messages.
SPELLINGS: dict[str, str] = {
    "V": '"V" or "mV"', "A": '"A" or "mA"', "W": '"W" or "kW"', "degC": '"degC" or "degF"', "Ah": '"Ah"', "h": '"h"',
    "s": '"s", "min", "h" or "days"', "1": '"1" (a ratio), "percent", "ppm" or "%LEL"', "mm": '"mm" or "in"',
    "byte": '"MB" or "GB"', "V/K": '"mV/K"', "g": '"g" or "kg"', "m^3": '"m^3" or "cu ft"', "cm^2": '"cm^2" or "sq in"',
}  # fmt: skip

#: How a quantity of this canonical unit is written, for whoever wrote none.
_EXAMPLES = {
    "V": '"28.8 V"', "A": '"9.5 A"', "mm": '"12 mm" or "0.5 in"', "degC": '"84 degF"',
    "g": '"300 mL" or "10 fl oz"', "Ah": '"200 Ah"', "h": '"6 h"', "cm^2": '"600 cm^2" or "100 sq in"',
}  # fmt: skip
_KINDS = {
    "V": "voltage",
    "A": "current",
    "W": "power",
    "degC": "temperature",
    "Ah": "charge",
    "h": "time",
    "s": "time",
    "g": "mass",
    "mm": "length",
    "cm^2": "area",
}
_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_QUANTITY = re.compile(rf"\s*({_NUMBER})\s*(\S.*?)?\s*")
_UNIT = re.compile(r"[^\W\d_][\w°/^ -]{0,23}|[°%µμΩ/℃℉][\w°/%^ -]{0,23}|1")


@cache
def _registry() -> pint.UnitRegistry[Any]:
    """Return one registry for the process; imported late, because `revival --help` must be quick on a small board."""
    import pint  # noqa: PLC0415  (late: see `_registry`)

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=False)


@lru_cache(maxsize=1024)
def compile_unit(unit: str, canonical: str, dialect: str = "cabin") -> Linear:
    """Return factor and offset from `unit` to `canonical`.

    Parameters
    ----------
    unit : str
        As written.
    canonical : str
        The bridge's own unit for the quantity.
    dialect : str
        Who wrote it: ``cabin`` (the owner's file), ``text`` (a payload or a Homie description, where ``%`` is per
        cent) or ``senml`` (RFC 8428, where ``%`` is a ratio and ``C`` is coulomb).

    Raises
    ------
    UnitError
        Unknown, ambiguous or of the wrong kind.

    Examples
    --------
    >>> compile_unit("mV", "V")(12640)
    12.64
    >>> round(compile_unit("degF", "degC")(110), 2), compile_unit("mdegC", "degC")(21437)
    (43.33, 21.437)
    """
    written = unit.strip()
    if not _UNIT.fullmatch(written):
        raise UnitError(f'unit "{unit}" cannot be read: write {SPELLINGS.get(canonical, canonical)}')
    if canonical == "1":
        return Linear(_share(written, dialect))
    _refuse_traps(written, canonical)
    counted = _DEGREES_COUNTED.fullmatch(written) if canonical == "degC" else None
    if counted is not None:  # pint multiplies no unit that has an offset
        return Linear(_COUNTS[counted[1]])
    name = ALIASES.get(written, written)
    if canonical == "V/K":  # a difference of temperature: 1 K is 1 degC
        name = re.sub(r"/\s*(degC|°C|Cel|℃)$", "/K", name)
    registry = _registry()
    import pint  # noqa: PLC0415  (late: see `_registry`)

    try:
        source, target = registry.parse_units(name), registry.parse_units(canonical)
        zero, one, far = (float(registry.Quantity(x, source).to(target).magnitude) for x in (0.0, 1.0, 1000.0))
    except pint.DimensionalityError as error:
        kind = _KINDS.get(canonical, f"quantity in {canonical}")
        raise UnitError(f'unit "{unit}" is no {kind}: write {SPELLINGS.get(canonical, canonical)}') from error
    except Exception as error:  # pint raises its own, tokenize's and plain ones for what it cannot read
        near = get_close_matches(written, [*ALIASES, "V", "mV", "A", "mA", "W", "degC", "degF", "Ah"], n=1)
        hint = f'did you mean "{near[0]}"?' if near else f"write {SPELLINGS.get(canonical, canonical)}"
        raise UnitError(f'unit "{unit}" is not known: {hint}') from error
    # The far point gives the scale without the rounding that subtracting two neighbours leaves; the near one proves
    # that the unit is linear (decibels are not).
    scale, offset = float(f"{(far - zero) / 1000.0:.14g}"), float(f"{zero:.14g}")
    if not math.isclose(one, scale + offset, rel_tol=1e-9, abs_tol=1e-9) or not scale:
        raise UnitError(f'unit "{unit}" is not a linear scale: write {SPELLINGS.get(canonical, canonical)}')
    return Linear(scale, offset)


def _share(written: str, dialect: str) -> float:
    if written == "%":
        if dialect == "cabin":
            raise UnitError(
                'unit "%" is 0 to 100 for some meters and 0 to 1 for others: '
                'write "percent" (0 to 100) or "ratio" (0 to 1)'
            )
        return 1.0 if dialect == "senml" else 0.01
    if written not in SHARES:
        raise UnitError(f'unit "{written}" is no share of one: write {SPELLINGS["1"]}')
    return SHARES[written]


def _refuse_traps(written: str, canonical: str) -> None:
    """Refuse spellings that mean something else than the writer thinks."""
    if canonical == "degC":
        if written in {"C", "c"}:
            raise UnitError(f'unit "{written}" is coulomb, not Celsius: write "degC"')
        if written in {"F", "f"}:
            raise UnitError(f'unit "{written}" is farad, not Fahrenheit: write "degF"')
        if written in {"deg", "degree", "degrees", "°"}:
            raise UnitError(f'unit "{written}" does not say which degrees: write "degC" or "degF"')
    if written in {"MV", "MA", "MW"} and written[1] == canonical:
        raise UnitError(f'unit "{written}" is a million {canonical}: write "m{canonical}" for a thousandth')


def parse(text: object, canonical: str, *, difference: bool = False, bare: bool = True) -> float:
    """Return a quantity as a person writes it as a number in the canonical unit.

    Parameters
    ----------
    text : object
        ``"110 degF"``, ``"200 Ah"``, ``"32V"``; a bare number is refused because it does not say its unit, except for
        a dimensionless quantity.
    canonical : str
        The bridge's own unit.
    difference : bool
        A difference, such as an offset or a resolution: 1.8 degF is then 1 degC, not -16.8.
    bare : bool
        Whether a dimensionless quantity may be a bare number.

    Raises
    ------
    UnitError
        Not a quantity, or not of this kind.

    Examples
    --------
    >>> parse("200 Ah", "Ah"), parse("90 days", "s"), round(parse("1.8 degF", "degC", difference=True), 6)
    (200.0, 7776000.0, 1.0)
    """
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise UnitError(f"must be a quantity in quotes, with its unit: write {SPELLINGS.get(canonical, canonical)}")
    match = _QUANTITY.fullmatch(str(text))
    if match is None:
        example = _EXAMPLES.get(canonical, _EXAMPLES["V"])
        raise UnitError(f'"{text}" is no quantity: write a number and a unit, as in {example}')
    number, unit = float(match[1]), match[2]
    if unit and unit[0] in ",_":
        raise UnitError(f'"{text}" is no quantity: write digits with a decimal point, as in "12.6 V"')
    if not math.isfinite(number):
        raise UnitError(f'"{text}" is not a finite number')
    if unit is None:
        if canonical == "1" and not bare:
            raise UnitError(f'{text} does not say its unit: write "{match[1]} percent" if that is what it is')
        if canonical != "1":
            example = SPELLINGS.get(canonical, canonical).split('"')[1]
            if canonical == "degC":  # nobody's thermometer is guessed
                raise UnitError(f'{text} does not say its unit: write "{match[1]} degC" or "{match[1]} degF"')
            raise UnitError(f'{text} does not say its unit: write "{match[1]} {example}" if that is what it is')
        return number
    if difference:
        linear = compile_unit(unit.removeprefix("delta_"), canonical)
        return number * linear.scale
    return float(f"{compile_unit(unit, canonical)(number):.12g}")


def near(word: str, known: Iterable[str]) -> str:
    """Return ``; did you mean "x"?`` where something known is spelt nearly so, else an empty text."""
    close = get_close_matches(word.lower(), list(known), n=1, cutoff=0.6)
    return f'; did you mean "{close[0]}"?' if close else ""
