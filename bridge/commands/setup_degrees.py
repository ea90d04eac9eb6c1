"""In which scale page, plan and paper speak to their readers: as the thermometers count, else as the place does."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence

from bridge.commands.listen import Heard
from bridge.commands.setup_answers import Asker
from bridge.commands.setup_heard import read_degrees
from bridge.listen.banks import FAHRENHEIT, Found, degrees_of
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess, guess, told
from rules.bank import QUANTITIES

#: Territories whose people read Fahrenheit (Unicode CLDR, unitPreferenceData, temperature).
_READ_FAHRENHEIT = frozenset({"US", "PR", "BS", "BZ", "KY", "PW"})
#: Where a host says which country's measures its people use, the first that says anything.
_SAY_WHERE = ("LC_ALL", "LC_MEASUREMENT", "LANG")
QUESTION = "Temperatures for people: degC with millimetres and litres, or degF with inches and quarts?"


def scale_of(asker: Asker, found: Sequence[Found], heard: Heard) -> str:
    """Return the scale, and say which and why; empty = the usual, Celsius.

    It is asked only where no thermometer in the house was heard and the host names no country.
    """
    given: str | None = asker.arguments.degrees
    if given is not None:
        return given
    live = [one for bank in found for one in bank.guesses if one.sure >= SURE_ENOUGH and _is_warmth(one)]
    if scale := degrees_of(found):
        count = "counts" if len(live) == 1 else "count"
        asker.console.print(
            f"{', '.join(map(told, live))} {count} in Fahrenheit, so page, plan and paper will, with inches and "
            "quarts; --degrees degC changes that",
            markup=False,
        )
        return scale
    elsewhere = [] if live else [one for one in map(guess, heard.collector.sources) if one and _is_warmth(one)]
    if live or elsewhere:
        return _said(asker, _by_size(live or elsewhere), "")
    scale = by_country(os.environ)
    if scale or not asker.asks:
        return _said(asker, "by this computer's language" if scale else "", scale)
    answer: str = asker.answer("degrees", QUESTION, "degC", read_degrees)
    return answer


def _said(asker: Asker, why: str, scale: str) -> str:
    """Say in one line which scale is taken, and how another is."""
    if scale == "degF":
        line = "page, plan and paper say °F, inches and quarts; --degrees degC says °C, millimetres and litres"
    else:
        line = "page, plan and paper say °C, millimetres and litres; --degrees degF says °F, inches and quarts"
        asker.assume("degrees", "degC")
    asker.console.print(f"{line} ({why})" if why else line, markup=False)
    return scale


def _by_size(warmths: Sequence[Guess]) -> str:
    """Return why the usual scale is taken, where the thermometers do not say it, or count in both."""
    units = [one.source.unit for one in warmths]
    if any(unit in FAHRENHEIT for unit in units):
        return "the thermometers count in both scales, or some say none"
    by_size = next((told(one) for one in warmths if one.unit not in FAHRENHEIT), "")
    if any(units) or not by_size:
        return ""
    return f"no thermometer says its scale, and {by_size} is Celsius by its size"


def by_country(environment: Mapping[str, str]) -> str:
    """Return the scale of the country that a host's language names; empty where it names none.

    >>> [by_country({"LANG": said}) for said in ("en_US.UTF-8", "de_DE.UTF-8", "C.UTF-8")]
    ['degF', 'degC', '']
    """
    said = next((environment[name] for name in _SAY_WHERE if environment.get(name)), "")
    country = re.match(r"[a-z]{2,3}_([A-Z]{2})\b", said)
    if country is None:
        return ""
    return "degF" if country[1] in _READ_FAHRENHEIT else "degC"


def _is_warmth(one: Guess) -> bool:
    return QUANTITIES[one.quantity].unit == "degC"
