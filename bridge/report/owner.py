"""Numbers, times and the rules' own sentences as the owner of the batteries reads them."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from bridge.settings import Cabin
from bridge.words.estimated import between
from bridge.words.spoken import SIGNS, customary, spoken
from rules.plan import Figure

#: Below these a figure has two digits behind the point, and one.
TWO_DIGITS, ONE_DIGIT = 10.0, 100.0
#: Sooner is at once; up to the other seconds are told, then minutes [s].
AT_ONCE, SECONDS_UNTIL = 0.1, 90.0
#: Of less no minute is told [h].
SHORTEST = 0.5 / 60.0
NO_BREAK = "\N{NO-BREAK SPACE}"
#: Units as they are written by machines, and on paper.
_PRINTED = {
    "degC": "°C", "degF": "°F", "cm^2": "cm²", "cm2": "cm²", "m^3": "m³", "m3/h": "m³/h", " %": f"{NO_BREAK}%",
}  # fmt: skip
#: Of what a person noted, where the value is a number.
_NOTED = {"voltage": "V", "amps": "A", "string_amps": "A", "ac_amps": "A AC", "level": "mm", "water": "mL"}
_CHARGER = {"volts": "V", "amps": "A"}


class Units(NamedTuple):
    """How the owner reads temperatures: "degC" or "degF"."""

    temperature: str = "degC"

    @classmethod
    def of(cls, cabin: Cabin) -> Units:
        """Return the units in which the cabin file is read."""
        return cls(cabin.degrees)

    @property
    def sign(self) -> str:
        """As it is written behind a number."""
        return SIGNS[self.temperature]

    def degrees(self, celsius: float) -> float:
        """Convert from [degC]."""
        return celsius * 1.8 + 32.0 if self.temperature == "degF" else celsius

    def warmth(self, celsius: float | None, digits: int = 1) -> str:
        """Write a temperature with its unit."""
        return "not known" if celsius is None else f"{self.degrees(celsius):.{digits}f}{NO_BREAK}{self.sign}"

    def measured(self, value: float | None, unit: str) -> str:
        """Write any value of a flag or trip."""
        if value is None:
            return "not known"
        if unit == "K/h":
            return self._rate(value)
        if unit == "A":
            return _amps(value)
        return self.warmth(value) if unit == "degC" else f"{value:.4g} {'' if unit == '1' else unit}".strip()

    def words(self, text: str) -> str:
        """Write a sentence of the rules in the owner's scale; nothing a person wrote goes through here.

        Examples
        --------
        >>> Units("degF").words("warm it above 10 degC (50 degF); 43.5 degC measured").replace(NO_BREAK, " ")
        'warm it above 50 °F; 110.3 °F measured'
        """
        return typeset(spoken(text, self.temperature, NO_BREAK))

    def _rate(self, kelvin: float) -> str:
        return f"{kelvin * 1.8 if self.temperature == 'degF' else kelvin:.1f}{NO_BREAK}{self.sign}/h"

    def figure(self, figure: Figure) -> str:
        """Return value, or range, of a plan with its unit, as short as it stays true."""
        if figure.unit == "degC":
            return " to ".join(self.warmth(end) for end in (figure.value, figure.high) if end is not None)
        return typeset(in_scale(figure, self.temperature, NO_BREAK))

    def noted(self, kind: str, where: str, value: object) -> str:
        """Return one value that a person noted, with the unit that its kind has."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            return str(value)
        if kind == "temperature":
            return self.warmth(value)
        if kind == "gravity":
            return f"{value:.3f}"
        if kind in ("water", "level"):
            # A fluid ounce has 29.5735 mL: nobody pours more exactly than a millilitre, or sees tenths of a millimetre
            return self.words(f"{round(value, 0 if kind == 'water' else 1):g} {_NOTED[kind]}")
        if kind == "charger" and where == "volts" and not value:
            return "off"
        unit = _CHARGER.get(where, "") if kind == "charger" else _NOTED.get(kind, "")
        return _amps(value, unit) if unit.startswith("A") else f"{value:.4g} {unit}".strip()


def _amps(value: float, unit: str = "A") -> str:
    """Write a current as an ammeter is read: to a tenth."""
    return f"{value:.1f}".removesuffix(".0") + f" {unit}"


def typeset(text: str) -> str:
    """Write units as they are printed; no value is converted, so that a formula stays true."""
    for plain, printed in _PRINTED.items():
        text = text.replace(plain, printed)
    return text


#: Figures whose amount is measured otherwise where Fahrenheit is read.
_METRIC = ("mm", "g", "L", "L/h", "m^3/h", "cm^2")


def in_scale(figure: Figure, scale: str, join: str = " ") -> str:
    """Return value, or range, of a plan in the units of whoever reads this scale."""
    if scale == "degF" and figure.unit in _METRIC:
        low = figure.value if figure.high is not None else None
        return customary(figure.unit, figure.value if figure.high is None else figure.high, low, join)
    return spoken(amount(figure), scale, join)


def amount(figure: Figure) -> str:
    """Return value, or range, with its canonical unit; a range no finer than it is known."""
    # As the sentences beside it write it.
    unit = "days" if figure.unit == "d" else figure.unit.replace("^", "")
    if figure.high is not None:
        return f"{between(figure.value, figure.high)} {unit}"
    size = abs(figure.value)
    digits = 2 if size < TWO_DIGITS and unit != "mm" else 1 if size < ONE_DIGIT else 0
    return f"{figure.value:.{digits}f} {unit}"


def inputs_of(figure: Figure) -> str:
    """Return what went into a figure, in one line."""
    return ", ".join(
        f"{name.replace('^', '')} = {value if isinstance(value, str) else format(value, '.4g')}"
        for name, value in figure.inputs.items()
    )


def day(at: float) -> str:
    """Date of a moment [s since the epoch], by the clock of the place."""
    here = datetime.fromtimestamp(at).astimezone()
    return f"{here.day} {here:%B %Y}"


def days(since: float, until: float) -> str:
    """Return from which day to which a stretch goes [s since the epoch]; a single day once.

    Examples
    --------
    >>> days(1795590000.0, 1795593600.0), days(1795590000.0, 1795849200.0)
    ('25 November 2026', '25 November 2026 to 28 November 2026')
    """
    first, last = day(since), day(until)
    return first if first == last else f"{first} to {last}"


def moment(at: float) -> str:
    """Return day and time of a moment [s since the epoch], by the clock of the place; never parted by a line's end."""
    here = datetime.fromtimestamp(at).astimezone()
    return f"{here.day} {here:%b %H:%M}".replace(" ", NO_BREAK)


def lasting(seconds: float) -> str:
    """Return a short time [s] in words."""
    if seconds < AT_ONCE:
        return "at once"
    return f"after {seconds:.1f} s" if seconds < SECONDS_UNTIL else f"after {seconds / 60:.0f} min"


def short(hours: float) -> str:
    """Return hours that may be only minutes [h], in words."""
    if hours >= 1.0 or hours == 0.0:
        return f"{hours:.1f} h"
    return f"{hours * 60:.0f} min" if hours >= SHORTEST else "under 1 min"
