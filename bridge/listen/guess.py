"""What one number probably is by itself: from its unit, its name, its size, and whether it lives.

What its neighbours say is `bridge.listen.banks`' part. A temperature that could be Celsius or Fahrenheit is never
decided by its size alone where both are possible for a bank.
"""

from __future__ import annotations

import re
from itertools import pairwise
from statistics import median
from typing import NamedTuple

from bridge.listen.evidence import SURE_ENOUGH, Evidence, sure
from bridge.listen.names import abbreviated, battery_room, by_a_battery, named, part_of, unit_named, words_of
from bridge.listen.said import PREFIXED, PREFIXES
from bridge.listen.source import Source
from bridge.listen.vocabulary import (
    AC,
    ACID_ITSELF,
    AIR,
    BATTERY,
    CIRCUITS,
    CUT,
    ELECTROLYTE,
    EMPTY,
    GUARDS,
    MACHINES,
    NOT_OURS,
    OF_A_BATTERY,
    PARTS,
    PARTS_OF_TWO,
    STORES,
    STRINGS,
    THINGS,
    WEAK,
    WORDS,
)
from bridge.units import ALIASES, SHARES, Linear, UnitError, compile_unit
from rules.bank import QUANTITIES

__all__ = [
    "SURE_ENOUGH",
    "Guess",
    "cells_of",
    "digit_of",
    "guess",
    "in_another_unit",
    "lags",
    "may_be_tenths",
    "not_ours",
    "proved",
    "settle_degrees",
    "settle_scale",
    "told",
]


class Guess(NamedTuple):
    """What a source probably is.

    Attributes
    ----------
    quantity, unit : str
        As the cabin file writes them; unit is empty for contacts and for Homie, which brings its own.
    evidence : tuple of Evidence
        What speaks for it and against it.
    sign : str
        ``charging`` or ``discharging``.
    part : str
        Which block, cell or string, where the neighbours tell.
    """

    source: Source
    quantity: str
    unit: str
    evidence: tuple[Evidence, ...]
    sign: str = "charging"
    part: str = ""

    @property
    def sure(self) -> float:
        """0 to 0.99."""
        return sure(self.evidence)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why, the strongest first, what speaks against it last."""
        return tuple(one.words for one in sorted(self.evidence, key=lambda one: -one.weight))

    @property
    def words(self) -> frozenset[str]:
        """Every word of topic, label and pointer."""
        return frozenset(all_words(self.source)) | _around(self.source)

    @property
    def linear(self) -> Linear:
        """Conversion to the canonical unit, without sign."""
        if not self.unit:
            return Linear(1.0)
        return compile_unit(self.unit, QUANTITIES[self.quantity].unit, _dialect(self.source))

    @property
    def value(self) -> float:
        """Median in the canonical unit."""
        return self.linear(median(self.source.values))

    @property
    def series(self) -> list[tuple[float, float]]:
        """(time [s], value in the canonical unit), in the order of arrival."""
        linear = self.linear
        return [(at, linear(value)) for at, value in self.source.series]

    def because(self, name: str, words: str) -> Guess:
        """Return the same guess with one more piece of evidence."""
        return self._replace(evidence=(*self.evidence, Evidence(name, words)))


_KINDS = {"voltage": "voltage", "current": "current", "power": "power", "temperature": "temperature"}
_CANONICAL = {"V": "voltage", "A": "current", "W": "power", "degC": "temperature"}
#: So many values tell whether a number lives, and whether it only counts.
_ALIVE, _COUNTS = 20, 8
#: A clock's seconds: rounded by so much [s], off by this share, in this share of the steps [1] (assumed).
_ROUNDED_SECOND, _CLOCKS, _NEARLY_ALWAYS = 1.0, 0.05, 0.8
#: A number called milliamperes below this, or kilowatts above, may be called wrongly.
_MILLI, _KILO = 300.0, 100.0
#: Volts and amps without a unit above this are thousandths (assumed).
MILLI_FROM = 1000.0
#: More than this is no count of tenths of a bank's amps [A] (assumed).
_MOST_TENTHS = 300.0
#: Hotter is no acid, whatever the name says [degC]; what can only be kelvin [K]; what is Celsius by its size [degC]
#: (assumed).
HOTTEST, KELVIN, CELSIUS = 65.0, (250.0, 350.0), (-20.0, 36.0)
#: Water freezes, and what is colder is no acid on charge [K].
_FREEZES = 273.15
#: From a cold morning in Celsius to hot acid in Fahrenheit, and what acid moves at most between two messages [degree]
#: (assumed).
_WARM, _LAG = (3.0, 140.0), 2.0
#: Between water and the strongest acid of any battery [1] (common practice, no source).
GRAVITIES = (1.0, 1.4)
#: A share of gas above this is no percentage.
PERCENT_MOST = 100.0
#: Steps of a degree that a digital thermometer of twelve bits knows (common practice, no source).
_SIXTEENTHS = 16.0
#: Families of thermometers on a one-wire bus, first in their ids (the bus's own registration of ids, from memory).
_ID_OF_A_THERMOMETER = re.compile(r"(?:10|22|28|3b|42)[-._]?[0-9a-f]{4,14}")
#: So many different ones are hardly chance [1], and what tells which way a half was rounded [degree] (assumed).
_NO_CHANCE, _HALVES = 3, (-0.0001, 0.0001)
#: What begins as the folder above does, and is numbered.
_NUMBERED = re.compile(r"([a-z]{1,3})\d{1,2}")
#: What tells one of a few blocks from the others.
_FIRST_LETTERS = frozenset("abcdef")
#: So many words are shown where several speak.
WORDS_SHOWN = 4
#: Mains of any country, with room [V] (common practice, no source).
MAINS = (80.0, 280.0)
#: Volts that a cell of a bank can show, found dead to equalised [V] (assumed: 1.5 is far below flat).
LEAD_CELL = (1.5, 2.85)
#: Volts of a lithium cell [V]: flat 2.85, full 4.25; a lead cell never stands there (a standard textbook range, from
#: memory: iron phosphate 3.2-3.4 V at rest, other kinds 3.5-4.2 V).
LITHIUM_CELL = (2.85, 4.3)
#: Cells in series of the banks that people have, the commonest first; a flat bank and a charged one of the next size
#: overlap, and then both are named.
_SIZES = (12, 6, 24, 18, 3, 36, 60)
#: Cells of a truck's bank, which charged stands where a per cent of fullness does: by its volts alone it is none.
_TRUCK = 40
#: What a standing or charging cell usually shows [V].
_USUAL = (1.88, 2.72)
#: So high a bank is so rare that a tenth of its volts, or a thousandth, is the likelier by far [V] (assumed).
_RARE = 100.0
#: Prefixes of the volts that a whole number may be, the likeliest first (assumed).
_LIKELIEST = ("m", "", "c", "d")
#: What a number with decimals may be multiplied by: it is no count of hundredths.
_NO_COUNT = (1.0, 0.001)


def cells_of(volts: float) -> tuple[int, ...]:
    """Return the numbers of cells in series that could show this, the likeliest first.

    >>> cells_of(26.3), cells_of(12.64), cells_of(45.4), cells_of(3.3)
    ((12,), (6,), (24, 18), ())
    """
    possible = [cells for cells in _SIZES if LEAD_CELL[0] * cells <= volts <= LEAD_CELL[1] * cells]
    usual = [cells for cells in possible if _USUAL[0] * cells <= volts <= _USUAL[1] * cells]
    return tuple(usual or possible)


def all_words(source: Source) -> list[str]:
    """Return the words of topic, label and place, in order."""
    return words_of(f"{source.topic} {source.label} {source.at}")


def _around(source: Source) -> frozenset[str]:
    """Return the words that texts elsewhere say of the place in which it stands."""
    return frozenset(word for text in source.around for word in words_of(text))


def told(one: Guess) -> str:
    """Return where it stands, for a reason in words."""
    return f"{one.source.topic} {one.source.at}".strip()


def guess(source: Source) -> Guess | None:
    """Return the best guess for one source by itself, or None where it is nothing we could use."""
    words = all_words(source)
    last = _last_words(source) or words
    if not source.values or not_ours(source):
        return None
    if source.factor is not None and source.factor not in PREFIXES:
        # a count of so much can be written in no unit
        return None
    if source.contact or (set(source.values) <= {0.0, 1.0} and _switched(words)):
        return _contact(source, words)
    kind, evidence = _kind(source, words, last)
    if kind is None:
        return None
    found = _with_unit(source, _quantity(kind, words, _around(source), source), evidence, words)
    if found is not None and found.quantity == "cell_voltage" and _above_any_cell(found):
        found = _with_unit(source, "voltage", evidence, words)
    return None if found is None else _behaved(_whose(found, kind, set(words) | _around(source)))


def _last_words(source: Source) -> list[str]:
    """Return the words that name the number itself: its label and key, or the last telling part of its topic."""
    label = [] if source.said else words_of(source.label)
    last = [word for word in (*label, *words_of(source.at)) if word not in EMPTY and not word.isdigit()]
    telling = [part for part in source.levels.split("/") if part.lower() not in EMPTY]
    of_topic = words_of(telling[-1] if telling else "")
    # a lone "v" may be short for value, and then the topic names it, or what stands beside it
    if last[-1:] == ["v"] and not source.said and _called_otherwise(last[:-1]):
        return last[:-1]
    return [*of_topic, "v"] if last == ["v"] else last or of_topic


def _called_otherwise(words: list[str]) -> bool:
    """Tell whether a name beside a value is of something else than volts: of acid, of air, of amps.

    >>> [_called_otherwise(words) for words in (["acid"], ["bank"], ["cell", "3"], ["bank", "current"])]
    [True, False, False, True]
    """
    name = named(words)
    letter = len(words) == 1 and words[0] in WEAK
    return bool(set(words) & (ACID_ITSELF | AIR)) or (
        name is not None and (letter or (name[1] and WORDS[name[0]] != "voltage"))
    )


def _above_any_cell(found: Guess) -> bool:
    """Tell whether what is called cells shows volts that no single one can, and a bank of them does."""
    count = found.source.unit is None and all(value == int(value) for value in found.source.values)
    return not count and found.value > LITHIUM_CELL[1] and bool(cells_of(found.value))


#: What a bank has a total of, at every moment.
_OF_THE_WHOLE = frozenset({"voltage", "current"})


def not_ours(source: Source) -> bool:
    """Tell whether a number is called a setting, a bound, a counter, or what else no bank is measured by."""
    last = _last_words(source) or all_words(source)
    named_so = NOT_OURS & {*last, *words_of(source.said)}
    if "total" in named_so and (called := named(last)) is not None and called[1] and WORDS[called[0]] in _OF_THE_WHOLE:
        # of volts and amps it is the whole of a bank, and no counter
        named_so -= {"total"}
    return bool(named_so) and not any(WORDS.get(word) == "hydrogen" for word in all_words(source))


def proved(source: Source, quantity: str, unit: str, why: str, name: str = "product holds") -> Guess:
    """Return the guess for a number that physics names and no name does, with what its words say about whose it is."""
    found = Guess(source, quantity, unit, (Evidence(name, why),))
    return _behaved(_whose(found, quantity, set(all_words(source)) | _around(source)))


def _switched(words: list[str]) -> str | None:
    """Return what a contact is called that may be a bank's: a fan or a door."""
    return next((WORDS[word] for word in reversed(words) if WORDS.get(word) in {"fan", "door"}), None)


#: What hubs call what opens (their announcements' device classes).
_OPENS = frozenset({"door", "opening", "garage_door"})


def _contact(source: Source, words: list[str]) -> Guess | None:
    quantity = "door" if source.kind in _OPENS else _switched(words)
    if quantity is None or set(words) & THINGS:
        return None
    why = f"named {quantity}, a contact: see that on means running or open, and that it reports regularly"
    found = Guess(source, quantity, "", (Evidence("named", f"named {quantity}"), Evidence("whose", why)))
    if not source.foreign:
        return found
    return found.because(
        "words not read", f"it says {_few(source.words)}, which no mapping reads: let it say on and off"
    )


def _kind(source: Source, words: list[str], last: list[str]) -> tuple[str | None, tuple[Evidence, ...]]:
    """Return the kind, voltage or current or ...: the unit first, then the hub's kind, then the name."""
    if source.unit is not None:
        return _kind_by_unit(source, words)
    if source.kind in _KINDS:
        return _KINDS[source.kind], (Evidence("kind announced", f"announced as {source.kind}"),)
    return _kind_by_name(source, words, last)


def _kind_by_unit(source: Source, words: list[str]) -> tuple[str | None, tuple[Evidence, ...]]:
    """Return the kind that a unit measures."""
    if source.unit in {"C", "F"}:
        # farads and coulombs are no meter's at a bank, degrees are
        if any(WORDS.get(word) == "temperature" for word in words):
            return "temperature", (Evidence("unit beside", f"named a temperature, says {source.unit}"),)
        if ACID_ITSELF & set(words):
            return "temperature", (Evidence("unit beside", f"named after the acid, says {source.unit}"),)
        if lags(source):
            return "temperature", (Evidence("unit beside", f"says {source.unit}, as warm and as slow as acid or air"),)
    for canonical, kind in _CANONICAL.items():
        try:
            compile_unit(source.unit or "", canonical, _dialect(source))
        except UnitError:
            continue
        return kind, (Evidence("unit said", f"says {source.unit}"),)
    for kind in ("hydrogen", "gravity"):
        if any(WORDS.get(word) == kind for word in words):
            return kind, (Evidence("unit said", f"named {kind}, says {source.unit}"),)
    return None, ()


def _kind_by_name(source: Source, words: list[str], last: list[str]) -> tuple[str | None, tuple[Evidence, ...]]:
    """Return the kind that a name says, or a place: acid is measured by its warmth, a block by its volts."""
    short = abbreviated(last)
    if short in _COUNTERPARTS and named(last) is None and _COUNTERPARTS[short] in source.company:
        return short, (Evidence("letter", f'"{" ".join(last)}" beside the like of its counterpart'),)
    by_place = _kind_by_place(source, words, last)
    said, own = _without_marks(words_of(source.said)), named(last)
    scopes = [(last, "named"), (said, "described"), (words, "named further up")]
    for scope, strength in scopes if own is not None and own[1] else (scopes[1], scopes[0], scopes[2]):
        name = named(scope)
        if name is None:
            continue
        word, full = name
        if (
            word == "v"
            and not full
            and not source.company & _COMPANY - {"voltage"}
            and (named(words) or ("", False))[1]
        ):
            # beside no other letter it is short for value, and the name further up says of what
            continue
        of_a_folder = strength == "named further up" and WORDS[word] in {"power", "current"}
        marks = strength == "named further up" and word not in source.levels.lower().split("/")
        no_quantity = len(word) == 1 and (marks or tuple(last[-2:]) in PARTS_OF_TWO)
        if no_quantity or (of_a_folder and _of_a_part(words, last)):
            # a folder is called "power" that holds all about it, and of a cell, a half or acid nobody measures such;
            # a letter behind a word further up tells which of several, and that of "p medio" is its point
            break
        if word in CUT and (strength == "named further up" or WORDS[word] == "fan"):
            # a cut word further up may be any word
            continue
        if by_place[0] is not None and (word in _MARKS or (len(word) == 1 and strength == "named further up")):
            # an "a" of what is filled with acid, or is a block, tells which; a letter further up may be any word
            break
        if full or word == "current":
            weight = strength
        elif word in CUT:
            weight = "cut short"
        else:
            weight = "letter in company" if source.company & _COMPANY - {WORDS[word]} else "letter"
        evidence: tuple[Evidence, ...] = (Evidence(weight, f'named "{word}"'),)
        if word == "current" and not full:
            evidence += (Evidence("adjective", '"current" may be the adjective here'),)
        if strength == "named" and (other := named(said)) is not None and other[1] and WORDS[other[0]] != WORDS[word]:
            evidence += (Evidence("named otherwise", f'but described as "{other[0]}"'),)
        return WORDS[word], evidence
    return by_place


def _of_a_part(words: list[str], last: list[str]) -> bool:
    """Tell whether the last thing that a name says is a part of a bank, or what fills it, numbered or not.

    >>> _of_a_part(["power", "cell", "01"], ["01"]), _of_a_part(["cell", "1", "power"], ["power"])
    (True, False)
    """
    spoken = [word for word in words if not word.isdigit() and word not in EMPTY]
    own = {word for word in last if not word.isdigit()} or set(spoken[-1:])
    return bool(own & (PARTS.keys() | ELECTROLYTE)) or tuple(spoken[-2:]) in PARTS_OF_TWO


#: Letters of amps that as often tell one of several from the others.
_MARKS = frozenset({"a", "i"})


def _without_marks(words: list[str]) -> list[str]:
    """Return a description's words without letters before its end: there they tell which, and not what.

    >>> _without_marks(["a", "bloco", "1"]), _without_marks(["batt", "a"])
    (['bloco', '1'], ['batt', 'a'])
    """
    spoken = [place for place, word in enumerate(words) if not word.isdigit()]
    return [word for place, word in enumerate(words) if len(word) > 1 or word.isdigit() or place == spoken[-1]]


def _kind_by_place(source: Source, words: list[str], last: list[str]) -> tuple[str | None, tuple[Evidence, ...]]:
    """Return the kind that a place alone says, or how a number moves."""
    if ACID_ITSELF & set(words) and lags(source):
        return "temperature", (Evidence("place alone", "named after the acid, as warm and as slow as it can be"),)
    if ELECTROLYTE & set(words_of(source.said)) and lags(source) and median(source.values) > LITHIUM_CELL[1]:
        return "temperature", (Evidence("place alone", "said to be of a cell, whose volts it cannot be, and as warm"),)
    if AIR & set(words if source.said else last) and lags(source):
        return "temperature", (Evidence("place alone", "called air, as warm and as slow as it can be"),)
    if lags(source) and _ID_OF_A_THERMOMETER.fullmatch((source.at or source.levels).rpartition("/")[2].lower()):
        return "temperature", (Evidence("place alone", "under the id of a one-wire thermometer, as warm and as slow"),)
    if lags(source) and _in_sixteenths(source):
        return "temperature", (Evidence("sixteenths", "it moves by sixteenths, as digital thermometers do"),)
    spoken = [word for word in words if not word.isdigit() and word not in EMPTY]
    of_two = tuple(spoken[-2:]) in PARTS_OF_TWO
    numbered = _NUMBERED.fullmatch(spoken[-1]) if len(spoken) > 1 else None
    if numbered and spoken[-2].startswith(numbered[1]):
        # "b1" under "blocks" is a block
        spoken = spoken[:-1]
    if len(spoken) > 1 and spoken[-1] in _FIRST_LETTERS and spoken[-2] in _VOLTS_ONLY:
        spoken = spoken[:-1]
    if spoken and (spoken[-1] in _VOLTS_ONLY or of_two) and median(source.values) > LEAD_CELL[0] * _LEAST_CELLS:
        return "voltage", (Evidence("place alone", "named after a part of a bank, of which one measures the volts"),)
    return None, ()


def _in_sixteenths(source: Source) -> bool:
    """Tell whether a number knows sixteenths only, exactly or in hundredths, and more of them than halves."""
    exact = all((value * _SIXTEENTHS).is_integer() for value in source.values)
    # of a hundred hundredths one in six is a sixteenth, rounded: three different ones are hardly chance
    rounded = all(_hundredths(value) == value for value in source.values) and len(set(source.values)) >= _NO_CHANCE
    return (exact or rounded) and any(not (value * 2.0).is_integer() for value in source.values)


def _hundredths(value: float) -> float:
    """Return the sixteenth next to a value as it is written in hundredths, either way that a half is rounded."""
    return min(
        (round(round(value * _SIXTEENTHS) / _SIXTEENTHS + off, 2) for off in _HALVES), key=lambda one: abs(one - value)
    )


def lags(source: Source) -> bool:
    """Tell whether a number is as warm as acid may be, in either scale, and as slow: litres of it have to warm up."""
    warm = _WARM[0] <= median(source.values) <= _WARM[1]
    return warm and all(abs(later - sooner) <= _LAG for sooner, later in pairwise(source.values))


#: A single letter names a quantity where another of these stands beside it in the same place.
_COMPANY = frozenset({"voltage", "current", "power"})
#: What an abbreviation is told by.
_COUNTERPARTS = {"voltage": "current", "current": "voltage"}


def _quantity(kind: str, words: list[str], around: frozenset[str], source: Source) -> str:
    """Return the trade's quantity for a kind, from the other words of the name, or from the texts around it."""
    names = set(words)
    if kind == "temperature":
        names |= set() if names & (AIR | ELECTROLYTE | BATTERY) else around
        of_air = bool(names & AIR) or battery_room(_own_level(source)) or by_a_battery(words_of(source.label))
        return "ambient_temperature" if of_air and not names & ELECTROLYTE else "electrolyte_temperature"
    of_mains = names & AC and not (kind == "voltage" and _tapped(words))
    if kind in {"voltage", "current", "power"} and of_mains:
        return f"ac_{kind}"
    if kind == "voltage":
        return part_of(words) or kind
    return "string_current" if kind == "current" and names & STRINGS else kind


def _own_level(source: Source) -> str:
    """Return what a number itself is called: its own name, or what it is called elsewhere, without a mere value."""
    own = source.label or source.at or source.levels
    return next((part for part in reversed(own.split("/")) if part and part.lower() not in EMPTY), "")


def _tapped(words: list[str]) -> bool:
    """Tell whether all that says mains is half of a name for a midpoint: an outlet is a tap in many languages.

    >>> _tapped(["presa", "centrale"]), _tapped(["presa", "centrale", "rete"]), _tapped(["presa", "garage"])
    (True, False, False)
    """
    pairs = {word for pair in pairwise(words) if pair in PARTS_OF_TWO for word in pair}
    return bool(pairs) and not set(words) & AC - pairs


#: A share of the air's volume, in hundredths.
_BY_VOLUME = frozenset({"vol%", "%vol", "% vol", "vol.-%", "vol-%"})
#: Parts of a bank of which nothing but volts is told (of a cell its acid is), and the cells of the smallest.
_VOLTS_ONLY, _LEAST_CELLS = frozenset(word for word, kind in PARTS.items() if kind != "cell_voltage"), 3


def _with_unit(source: Source, quantity: str, evidence: tuple[Evidence, ...], words: list[str]) -> Guess | None:
    """Settle the unit: said, named, or by size; the size also confirms or denies."""
    canonical = QUANTITIES[quantity].unit
    if source.unit is not None and canonical != "1":
        unit = {"C": "degC", "F": "degF"}.get(source.unit, source.unit) if canonical == "degC" else source.unit
        return Guess(source, quantity, ALIASES.get(unit, unit), evidence)
    said = unit_named(words, canonical)
    if canonical == "degC":
        return _temperature(source, quantity, evidence, said)
    if canonical in {"1", "mm", "boolean"}:
        return _share(source, quantity, evidence, words) if canonical == "1" else None
    if source.factor in PREFIXES and canonical in PREFIXED:
        scaled = Evidence("unit in the name", f"a factor of {source.factor:g} is told")
        return Guess(source, quantity, f"{PREFIXES[source.factor]}{canonical}", (*evidence, scaled))
    if said is not None:
        return _as_named(source, quantity, said, evidence)
    middle = median(source.values)
    if quantity == "voltage":
        return _volts(source, evidence)
    if quantity.endswith("current") and abs(middle) > MILLI_FROM:
        why = f"{middle:g} A is too much: milliamperes"
        return Guess(source, quantity, "mA", (*evidence, Evidence("only as milliamperes", why)))
    return Guess(source, quantity, canonical, (*evidence, Evidence("unit assumed", f"no unit: {canonical} assumed")))


def _volts(source: Source, evidence: tuple[Evidence, ...]) -> Guess:
    """Return a voltage whose unit nobody says, by what fits a bank; where several powers of ten do, it is asked."""
    middle = median(source.values)
    counts = all(value == int(value) for value in source.values)
    scales = PREFIXES if counts else _NO_COUNT
    fits = {PREFIXES[scale]: scale * middle for scale in scales if cells_of(scale * middle)}
    fits = {prefix: volts for prefix, volts in fits.items() if _usual(volts)} or fits
    fits = {prefix: volts for prefix, volts in fits.items() if volts < _RARE} or fits
    if len(fits) > 1 or fits.keys() & {"d", "c"}:
        likely = next(prefix for prefix in _LIKELIEST if prefix in fits)
        asked = ", ".join(f"{volts:g} V if it is {prefix}V" for prefix, volts in fits.items())
        # alone, hundredths of a bank's volts are as well thousandths of a small cell's
        name = "power of ten" if len(fits) > 1 else "only as a count"
        return Guess(source, "voltage", f"{likely}V", (*evidence, Evidence(name, f"no unit: {asked}")))
    if "" in fits:
        return Guess(source, "voltage", "V", (*evidence, Evidence("fits a bank", f"{middle:g} V fits a bank")))
    if fits and middle > MILLI_FROM:
        why = f"{middle:g} V cannot be a bank, {fits['m']:g} V can: the number is millivolts"
        return Guess(source, "voltage", "mV", (*evidence, Evidence("only as millivolts", why)))
    why = f"{middle:g} fits no bank, in V or in mV"
    return Guess(source, "voltage", "V", (*evidence, Evidence("fits no bank", why)))


def in_another_unit(found: Guess, cells: int) -> Guess | None:
    """Return a voltage of which nobody says the unit in the one that so many cells make of it; None where it is in it.

    >>> found = Guess(Source("hut/v", "plain", values=[12700.0]), "voltage", "mV", ())
    >>> in_another_unit(found, 60).value, in_another_unit(found, 6)
    (127.0, None)
    """
    said = {evidence.name for evidence in found.evidence} & {"unit said", "unit in the name"}
    middle = median(found.source.values)
    if said or found.source.unit is not None or cells in cells_of(found.value):
        return None
    counts = all(value == int(value) for value in found.source.values)
    scales = PREFIXES if counts else _NO_COUNT
    units = [PREFIXES[scale] for scale in scales if cells in cells_of(scale * middle)]
    return settle_scale(found._replace(unit=f"{units[0]}V")) if len(units) == 1 else None


def _usual(volts: float) -> bool:
    """Tell whether a voltage is one that a standing or charging bank usually shows."""
    return any(_USUAL[0] * cells <= volts <= _USUAL[1] * cells for cells in cells_of(volts))


def settle_scale(found: Guess) -> Guess:
    """Return a voltage without the question of its power of ten, where its parts or its watts have answered it."""
    asked = {"power of ten", "only as a count"}
    return found._replace(evidence=tuple(one for one in found.evidence if one.name not in asked))


def digit_of(one: Guess) -> float:
    """Return the last digit that a number was told with, in the canonical unit.

    >>> digit_of(Guess(Source("hut/v", "plain", values=[471.0, 472.0]), "voltage", "dV", ()))
    0.1
    """
    places = max(len(f"{value:.6f}".rstrip("0").partition(".")[2]) for value in one.source.values)
    return abs(one.linear(1.0) - one.linear(0.0)) / 10.0**places


def may_be_tenths(amps: Guess) -> bool:
    """Tell whether amps may be tenths: ten times too large, they hide volts ten times too small in the product."""
    assumed = any(e.name in {"unit assumed", "only as milliamperes"} for e in amps.evidence)
    raw = amps.source.values
    return assumed and all(value == int(value) for value in raw) and abs(median(raw)) / 10.0 < _MOST_TENTHS


def _as_named(source: Source, quantity: str, unit: str, evidence: tuple[Evidence, ...]) -> Guess:
    """Hold a name that says mV, mA or kW against the size of the number."""
    middle = median(source.values)
    evidence = (*evidence, Evidence("unit in the name", f"and {unit} in the name"))
    if unit == "mV" and quantity == "voltage" and not cells_of(middle / 1000.0):
        volts = bool(cells_of(middle))
        why = f"but {middle:g} " + ("fits a bank in volts" if volts else "fits no bank, in V or in mV")
        return Guess(source, quantity, "V" if volts else unit, (*evidence, Evidence("fits no bank", why)))
    if abs(middle) < _MILLI if unit.startswith("m") else abs(middle) > _KILO:
        evidence += (Evidence("unit in doubt", f"but is {middle:g} not {unit[1]}?"),)
    return Guess(source, quantity, unit, evidence)


def _temperature(source: Source, quantity: str, evidence: tuple[Evidence, ...], said: str | None) -> Guess:
    """Guess the unit of a temperature that does not say it.

    15 to 36 is taken as Celsius: as Fahrenheit it would be acid at -9 to +2 degC, which one bank in a hundred shows
    while its meter leaves out the unit (assumed). Above that both are possible and one of them is hot: asked.
    """
    middle = median(source.values)
    said = said or _lettered(source)
    if source.factor not in {None, 1.0}:
        why = f"a factor of {source.factor:g} is told, and no unit: of degC, or of degF? compare with a thermometer"
        return Guess(source, quantity, f"{PREFIXES[source.factor or 1.0]}degC", (*evidence, Evidence("scale", why)))
    if said is not None:
        found = Guess(source, quantity, said, (*evidence, Evidence("unit in the name", f"and {said} in the name")))
        impossible = (said == "degC" and middle > HOTTEST) or (said == "degF" and middle < 0.0)
        return found.because("cannot be", f"but can {middle:g} {said} be?") if impossible else found
    return settle_degrees(Guess(source, quantity, "degC", evidence))


def _lettered(source: Source) -> str | None:
    """Return the scale that a capital letter behind the name of acid or air says, where what it is can be so warm.

    >>> warm = [85.1, 85.2]
    >>> [_lettered(Source(name, "plain", values=warm)) for name in ("hut/acid_F", "hut/acid_C", "hut/probe_F")]
    ['degF', None, None]
    """
    own = _own_level(source)
    spoken = words_of(own)
    if len(spoken) < len(("acid", "F")) or spoken[-2] not in ELECTROLYTE | AIR:
        return None
    middle = median(source.values)
    if own.endswith("C") and CELSIUS[0] <= middle <= HOTTEST:
        return "degC"
    return "degF" if own.endswith("F") and middle > CELSIUS[1] else None


def settle_degrees(found: Guess) -> Guess:
    """Return a temperature with the scale that its size allows."""
    middle = median(found.source.values)
    if KELVIN[0] < middle < KELVIN[1] and all(value == int(value) for value in found.source.values):
        tenths = middle < _FREEZES
        why = f"no unit: {middle / 10.0:.1f} degC if it counts tenths, {middle - _FREEZES:.1f} degC if it is kelvin"
        return found._replace(unit="ddegC" if tenths else "K").because("power of ten", why)
    if KELVIN[0] < middle < KELVIN[1]:
        return found._replace(unit="K").because("only kelvin", f"{middle:g} can only be kelvin")
    in_fahrenheit = (middle - 32.0) / 1.8
    if CELSIUS[0] <= middle <= CELSIUS[1]:
        why = f"no unit: {middle:.1f} degC, or {in_fahrenheit:.1f} degC if it is degF: compare with a thermometer"
        return found.because("Celsius by size", why)
    why = (
        f"no unit: as degF it is {in_fahrenheit:.2f} degC, as degC it is {middle:.1f} and HOT: "
        "compare with a thermometer before you decide"
    )
    return found._replace(unit="degF").because("Celsius or Fahrenheit", why)


def _share(source: Source, quantity: str, evidence: tuple[Evidence, ...], words: list[str]) -> Guess:
    middle = median(source.values)
    if quantity == "gravity":
        # kilograms in a litre, grams in a cubic centimetre: the number is the same
        found = Guess(source, quantity, "1", evidence)
        return (
            found if GRAVITIES[0] <= middle <= GRAVITIES[1] else found.because("cannot be", f"{middle:g} is no gravity")
        )
    unit = "percent" if source.unit == "%" and source.style != "senml" else source.unit
    unit = "percent" if unit is not None and unit.lower() in _BY_VOLUME else unit
    if unit in SHARES:
        return Guess(source, quantity, unit, evidence)
    told = next((word for word in words if word in {"ppm", "percent"}), None)
    if told is not None:
        return Guess(source, quantity, told, (*evidence, Evidence("unit in the name", f"and {told} in the name")))
    why = Evidence("unit in doubt", "no unit: ppm, percent or %LEL?")
    return Guess(source, quantity, "ppm" if middle > PERCENT_MOST else "percent", (*evidence, why))


def _whose(found: Guess, kind: str, names: set[str]) -> Guess:
    """Weigh what the other words say about whose it is."""
    if names & ELECTROLYTE and kind == "temperature":
        found = found.because("electrolyte named", f"named {sorted(names & ELECTROLYTE)[0]}")
    elif names & (BATTERY - _TELLING_A_KIND):
        found = found.because("battery named", f"named {sorted(names & BATTERY)[0]}")
    elif names & BATTERY or (kind in {"voltage", "current", "power"} and names & STORES):
        found = found.because("battery named", "named a battery's")
    # a board has warmth of its own, but neither acid nor a battery
    its_own = frozenset() if names & ACID_ITSELF or (kind != "temperature" and names & BATTERY) else _BOARDS
    if (other := names & (THINGS - _BOARDS | its_own)) and other <= MACHINES and kind in {"voltage", "current"}:
        found = found.because("another machine's battery", f"named {sorted(other)[0]}: its own battery, or the bank?")
    elif not other and (guard := names & GUARDS) and kind in {"voltage", "current"}:
        found = found.because("another thing", f"named {sorted(guard)[0]}: its own battery, or the bank?")
    elif other:
        found = found.because("another thing", f"named {sorted(other)[0]}: is it the bank's?")
    elif (other := names & CIRCUITS) and not names & (BATTERY | ELECTROLYTE) and found.quantity[:3] != "ac_":
        found = found.because("another circuit", f"named {sorted(other)[0]}: is it the bank's?")
    elif kind == "temperature" and names & AIR and found.quantity == "ambient_temperature":
        found = found.because("air named", f"named {sorted(names & AIR)[0]}")
    elif kind == "temperature" and not names & (AIR | BATTERY | ELECTROLYTE):
        found = found.because("wide name", "of the electrolyte, or of the air? no name says")
    return found


_TELLING_A_KIND = frozenset(OF_A_BATTERY)
_BOARDS = frozenset({"board"})


def _behaved(found: Guess) -> Guess:
    """Weigh what speaks against a guess in how it behaves, whatever its name and unit say."""
    source = found.source
    quantity = QUANTITIES[found.quantity]
    steps = {round(later - sooner, 6) for sooner, later in pairwise(source.values)}
    if len(source.labels) > 1:
        found = found.because("several labels", f"several things speak through this place: {_few(source.labels)}")
    if len(source.units) > 1:
        found = found.because("several units", f"its unit changes: {_few(source.units)}")
    if not source.times and found.quantity == "gravity":
        found = found.because("read by hand", "kept since somebody read a hydrometer: of what day?")
    elif not source.times:
        found = found.because("only kept", "only a kept message was heard, of unknown age: does it still report?")
    if _register(source, steps):
        found = found.because("register", f"{source.values[0]:g} in every message: a number of something, no reading")
    if len(source.values) >= _COUNTS and len(steps) == 1 and steps != {0.0}:
        found = found.because("counts", "it goes on by equal steps: a counter or a clock?")
    elif _by_the_clock(source):
        found = found.because("counts", "it goes on as the clock does and begins again: seconds since something?")
    elif len(source.values) >= _ALIVE and steps == {0.0}:
        found = found.because("stands still", f"the same in all {len(source.values)} messages: does it live?")
    elif len(steps) > 1:
        found = found.because("lives", "it lives")
    if not quantity.per_cell and not quantity.low <= found.value <= quantity.high:
        found = found.because("cannot be", f"{found.value:g} {quantity.unit} cannot be")
    if found.quantity == "voltage" and found.unit and source.unit is not None and not cells_of(found.value):
        found = found.because("fits no bank", f"{found.value:g} V fits no bank")
    cells = cells_of(found.value) if found.quantity == "voltage" and found.unit else ()
    letter = any(e.name in {"letter", "letter in company"} for e in found.evidence)
    truck = not letter and _USUAL[0] * _TRUCK <= found.value <= _USUAL[1] * _TRUCK
    if cells and not truck and not _USUAL[0] * cells[0] <= found.value <= _USUAL[1] * cells[0]:
        found = found.because(
            "hardly a bank", f"{found.value:g} V is hardly a bank's: {found.value / cells[0]:.2f} V a cell"
        )
    return _in_bounds(found)


def _in_bounds(found: Guess) -> Guess:
    """Deny what its volts deny: a cell where only lithium's stand, mains that are none."""
    if found.quantity == "cell_voltage" and LITHIUM_CELL[0] < found.value < LITHIUM_CELL[1]:
        return found.because("lithium", f"{found.value:.2f} V is a lithium cell's")
    if found.quantity == "ac_voltage" and not MAINS[0] <= found.value <= MAINS[1]:
        return found.because("cannot be", f"{found.value:g} V is no mains, or it was off")
    return found


def _by_the_clock(source: Source) -> bool:
    """Tell whether a number nearly always rises by the seconds that went by, whenever it does not begin again."""
    rises = [
        (later[1] - sooner[1], later[0] - sooner[0])
        for sooner, later in pairwise(source.series)
        if later[1] > sooner[1] and later[0] > sooner[0]
    ]
    timed = [1 for rise, went in rises if abs(rise - went) <= max(_CLOCKS * went, min(_ROUNDED_SECOND, went / 3.0))]
    return len(timed) >= _COUNTS and len(timed) >= _NEARLY_ALWAYS * len(rises) and 2 * len(rises) > len(source.times)


def _register(source: Source, steps: set[float]) -> bool:
    """Tell whether a number in a document is a large whole one that never moves, as a register's or a serial's."""
    first = source.values[0]
    still = source.style in {"json", "pairs"} and len(source.values) >= _COUNTS and steps == {0.0}
    return still and source.unit is None and first == int(first) and abs(first) >= MILLI_FROM


def _few(words: set[str]) -> str:
    shown = sorted(words)
    return ", ".join(shown[:WORDS_SHOWN]) + (" ..." if len(shown) > WORDS_SHOWN else "")


def _dialect(source: Source) -> str:
    return "senml" if source.style == "senml" else "text"
