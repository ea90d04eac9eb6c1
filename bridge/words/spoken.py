"""Sentences of the rules as their reader says them: the scale of the owner's thermometer, the clock of the place.

The rules write temperatures as ``43.3 degC`` (a limit of the trade also as ``38 degC (100 degF)``), rates as
``8.0 K/h``, differences as ``3 K`` and moments as ``2026-11-25T07:00Z``. Whatever a person wrote goes through
unchanged.
"""

from __future__ import annotations

import re
from datetime import datetime
from functools import lru_cache

_NUMBER = r"-?\d+(?:\.\d+)?"
_BOTH = re.compile(rf"({_NUMBER}) degC \(({_NUMBER}) degF\)")
_CELSIUS = re.compile(rf"(?:({_NUMBER}) to )?({_NUMBER}) degC\b")
_APART = re.compile(rf"({_NUMBER}) K(/h)?(?![\w/])")
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
    text = _MOMENT.sub(lambda found: here(found[0]), text)
    return _CELSIUS.sub(degrees, text)


def _degrees(written: str, hot: bool) -> str:
    """Return degrees Celsius as the owner reads them; in Fahrenheit a whole degree where it may have been one."""
    digits = len(written.partition(".")[2])
    exact = float(written) * 1.8 + 32.0 if hot else float(written)
    whole = round(exact)
    if hot and digits and f"{(whole - 32.0) / 1.8:.{digits}f}" == written:
        exact = float(whole)
    return f"{exact:.{min(digits, 1)}f}"


def here(written: str) -> str:
    """Return a moment of the rules' sentences by the clock of the place, with its day."""
    at = datetime.fromisoformat(written).astimezone()
    return f"{at.day} {at:%b %H:%M}"
