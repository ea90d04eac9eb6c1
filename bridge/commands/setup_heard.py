"""What an owner says of a number that was heard: that it is the bank's, in which unit, which way, which part, where."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import NamedTuple

from bridge.commands.setup_answers import Asker
from bridge.listen.banks import FAHRENHEIT
from bridge.listen.evidence import TAKEN
from bridge.listen.guess import Guess, told
from bridge.words.spoken import spoken
from rules.bank import QUANTITIES

#: What a number leaves open of its degrees, and of its direction.
_WHICH_DEGREES = frozenset({"Celsius or Fahrenheit", "others say Fahrenheit"})
_WHICH_WAY = frozenset({"sign not known", "sign in doubt"})
_WAYS, _DEGREES = ("charging", "discharging"), ("degC", "degF")
_UNKNOWN_WAY = "don't know"
#: Quantities of a part, and how their parts are called in the file.
PARTS = {"string_current": "1", "block_voltage": "A1", "cell_voltage": "A1.2", "gravity": "A1.2"}


class Taken(NamedTuple):
    """A value that is taken by its place, and what is said of it beside.

    Attributes
    ----------
    place : str
        Topic, and where in the payload.
    unit, sign, part : str
        ``degC`` or ``degF``, ``charging`` or ``discharging``, a part's index; empty where nobody says it.
    """

    place: str
    unit: str = ""
    sign: str = ""
    part: str = ""

    def lines(self) -> dict[str, str]:
        """Return key -> line of the cabin file for what is said."""
        keys = {"unit": self.unit, "sign": self.sign, "index": self.part}
        return {key: f'{key} = "{value}"' for key, value in keys.items() if value}


def read_taken(text: str) -> Taken:
    """Return what is taken.

    >>> read_taken("cabin/env  /acid as degF"), read_taken("cabin/amps as discharging").sign
    (Taken(place='cabin/env /acid', unit='degF', sign='', part=''), 'discharging')
    """
    place, _, said = text.partition(" as ")
    taken = Taken(" ".join(place.split()))
    for word in said.split():
        if word in _DEGREES:
            taken = taken._replace(unit=word)
        elif word in _WAYS:
            taken = taken._replace(sign=word)
        elif re.fullmatch(r"[\w.-]+", word):
            taken = taken._replace(part=word)
        else:
            raise ValueError(f'{word!r} says nothing of a value: degF, discharging, or its index, as in "TOPIC as A1"')
    return taken


def taken(one: Guess, said: Taken) -> Guess:
    """Return a guess as its owner's word, with what is said of it."""
    if said.part.isdecimal() and one.quantity == "current":
        one = one._replace(quantity="string_current")  # of one string, not of the whole
    own = one._replace(unit=said.unit or one.unit, sign=said.sign or one.sign, part=said.part or one.part)
    return own.because(TAKEN, "its owner says so")


def taken_and_asked(asker: Asker, one: Guess, may_wait: bool = False) -> Guess:
    """Return a guess that somebody takes in a terminal; what the number leaves open is asked.

    Where it `may_wait`, whoever does not know which way it counts leaves it in doubt, as it was.
    """
    doubts = {evidence.name for evidence in one.evidence}
    said = Taken(told(one))
    if doubts & _WHICH_DEGREES and one.source.unit is None:
        middle = one.source.values[-1]
        unit = asker.asked(
            f"{told(one)} says {middle:g}: in degC or degF?",
            "degF" if one.unit in FAHRENHEIT else "degC",
            read_degrees,
        )
        said = said._replace(unit=unit)
    if doubts & _WHICH_WAY and one.quantity in {"current", "string_current", "power"}:
        sign = _which_way(asker, one, may_wait)
        if sign == _UNKNOWN_WAY:
            return one
        said = said._replace(sign=sign)
    if one.quantity in PARTS and not one.part:
        usual = PARTS[one.quantity]
        said = said._replace(part=asker.asked(f"{told(one)}: of which part (its index, such as {usual})?", usual, str))
    words = " ".join(word for word in said[1:] if word)
    asker.remember("take", f"{said.place} as {words}" if words else said.place)
    return taken(one, said)


def _which_way(asker: Asker, one: Guess, may_wait: bool) -> str:
    """Ask which way a number counts; what nobody knows is told by the first charge."""
    ways = (*_WAYS, _UNKNOWN_WAY) if may_wait else _WAYS
    lead = f"{', '.join(ways[:-1])} or {ways[-1]}: " if may_wait else ""
    sign = asker.asked(f"{told(one)}: {lead}a positive number means", one.sign, one_of(ways))
    if sign == _UNKNOWN_WAY:
        asker.console.print(
            f"   left out for now: it stands commented out in the file, and what it would tell stays unknown. Look at "
            f'it at the first charge: `revival setup --take "{told(one)} as charging"` where it is above zero then, '
            '"... as discharging" where it is below',
            markup=False,
        )
    return sign


def taken_as_strings(asker: Asker, some: list[Guess]) -> list[Guess]:
    """Return currents that are one string's each, in their order; which way they count is asked once."""
    open_ = any(evidence.name in _WHICH_WAY for one in some for evidence in one.evidence)
    sign = asker.asked("A positive number of these means", some[0].sign, one_of(_WAYS)) if open_ else ""
    said = [Taken(told(one), sign=sign, part=str(number)) for number, one in enumerate(some, 1)]
    for one in said:
        asker.remember("take", " ".join([one.place, "as", *([sign] if sign else []), one.part]))
    return [taken(one, words) for one, words in zip(some, said, strict=True)]


def read_degrees(text: str) -> str:
    """Return a scale.

    >>> read_degrees("F"), read_degrees("Celsius"), read_degrees("degF")
    ('degF', 'degC', 'degF')
    """
    letter = re.fullmatch(r"(?:deg|°|degrees?)?\s*(?:(c)(?:elsius)?|(f)(?:ahrenheit)?)\.?", text.strip(), re.IGNORECASE)
    if letter is None:
        raise ValueError("degC or degF, please")
    return "degC" if letter[1] else "degF"


def one_of(words: Iterable[str]) -> Callable[[str], str]:
    """Return what reads one of these words."""
    allowed = {word.lower(): word for word in words}

    def read(text: str) -> str:
        said = text.strip(" .").lower()
        said = {"y": "yes", "n": "no", "?": _UNKNOWN_WAY, "dont know": _UNKNOWN_WAY}.get(said, said)
        if said not in allowed:
            raise ValueError(f"{' or '.join(allowed.values())}, please")
        return allowed[said]

    return read


def shown(one: Guess, scale: str = "") -> str:
    """Return a number in one line: where it stands, what it shows, what it may be."""
    return f"{told(one)}: {valued(one, scale)}; {spoken(one.reasons[-1], scale or _own(one))}"


def valued(one: Guess, scale: str = "") -> str:
    """Return what a source shows, a temperature in the owner's scale; where none is known, in the source's."""
    return spoken(f"{one.value:.2f} {QUANTITIES[one.quantity].unit}", scale or _own(one))


def _own(one: Guess) -> str:
    return "degF" if (one.unit or one.source.unit) in FAHRENHEIT else "degC"
