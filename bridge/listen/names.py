"""What names say: words of topics and pointers, the quantity or unit in them, and whose value it is.

A name is evidence and no proof: `bridge.listen.evidence` says how much it counts beside physics.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from itertools import pairwise

from bridge.listen.vocabulary import (
    ARTICLES,
    BATTERY,
    BETWEEN,
    BY_BEFORE,
    BY_BEHIND,
    CHARGING,
    CUT,
    DEGREE_LETTERS,
    DEGREES,
    EMPTY,
    ENDING,
    GERMAN,
    GLUE,
    HOUSES,
    KNOWN_WORDS,
    LABELLED,
    LATIN,
    LETTERED,
    MEASURED,
    NOUNS,
    OF_SEVERAL,
    PARTS,
    PARTS_OF_TWO,
    RELAYS,
    ROOM_BEFORE,
    ROOM_BEHIND,
    SHORTEST,
    SHORTEST_STEM,
    STATED,
    SWITCHED,
    TAILS,
    UNITS,
    WEAK,
    WORDS,
    folded,
    without_accents,
    word_set,
)


def part_of(words: list[str]) -> str | None:
    """Return the part of a bank that words name, the first of them: its midpoint, a block, a cell.

    >>> part_of(["bank", "ponto", "medio"]), part_of(["tensao", "media"]), part_of(["block", "3"])
    ('midpoint_voltage', None, 'block_voltage')
    """
    for word, after in zip(words, [*words[1:], ""], strict=True):
        if (word, after) in PARTS_OF_TWO:
            return PARTS_OF_TWO[word, after]
        if word in PARTS:
            return PARTS[word]
    return None


#: A level with so many dots is divided by them, not the number or the name of two words that has one [1] (assumed).
_DOTS = 2


@lru_cache(maxsize=20_000)
def in_levels(topic: str) -> str:
    """Return a topic with strokes between its levels: where its last one has several dots, they divide it as well.

    An address has dots between numbers, and is one level.

    >>> in_levels("hut.bank.cell.01"), in_levels("hut/bank.half.v"), in_levels("hut/bank.v")
    ('hut/bank/cell/01', 'hut/bank/half/v', 'hut/bank.v')
    >>> in_levels("hut/192.168.1.7")
    'hut/192.168.1.7'
    """
    above, stroke, last = topic.rpartition("/")
    parts = last.split(".")
    divided = len(parts) > _DOTS and all(parts) and 2 * sum(part.isdigit() for part in parts) < len(parts)
    return f"{above}{stroke}{'/'.join(parts)}" if divided else topic


_SUFFIX = re.compile(r"(.*?)(mV|mA|mW|kW|degC|degF|kWh|mAh|Ah)")
#: Where a name changes from small to capital letters, or between letters and digits.
#: (``i1`` is a current, ``L1`` a phase).
_JOINTS = re.compile(r"(?<=[^\W\d_A-Z])(?=[A-Z])|(?<=[^\W\d_]{2})(?=\d)|(?<=\b[uvitUVIT])(?=\d)|(?<=\d)(?=[^\W\d_]{3})")


@lru_cache(maxsize=4096)
def words_of(text: str) -> list[str]:
    """Return the lower-case words of a topic or pointer, glued and cut ones taken apart.

    >>> words_of("hut/cellTemp_1/dc-mV/currentmA/temp_degF")
    ['hut', 'cell', 'temp', '1', 'dc', 'mv', 'current', 'ma', 'temp', 'degf']
    >>> words_of("barn/battvolt/string2amps/page"), words_of("streamA/probe_a")
    (['barn', 'batt', 'volt', 'string', '2', 'amps', 'page'], ['stream', 'a', 'probe', 'a'])
    """
    words: list[str] = []
    # a capital with an accent is no small letter before the next capital
    parts = [
        without_accents(part) if part.isupper() else part
        for part in re.split(r"[\W_]+", unicodedata.normalize("NFC", text))
    ]
    for part in parts:
        unit = _SUFFIX.fullmatch(part)
        # "streamA" is no mA: what stands before a unit has to be a quantity, or nothing.
        stem, tail = unit.groups() if unit and (not unit[1] or unit[1].lower() in WORDS) else (part, "")
        for word in _JOINTS.sub(" ", stem).split():
            words += [_without_ending(one) for one in _unglued(folded(word))]
        words += [tail.lower()] if tail else []
    return words


#: What begins so is the word behind it with an ending, if no more than so many letters follow [1] (assumed).
_STEMS = {
    **dict.fromkeys(
        word_set(
            "batter bateri baterij akumulator akkumulator akumulaator ackumulator accumulator acumulador accumulateur"
        ),
        "battery",
    ),
    **dict.fromkeys(word_set("батаре батері акумулятор аккумулятор акумулатор μπαταρι συσσωρευτ"), "battery"),
    **dict.fromkeys(
        word_set("nabijec nabijac ladowark prostownik laddar ladegerat laturi punjac зарядн φορτιστ"), "charger"
    ),
    **dict.fromkeys(
        word_set("elektrolyt elektrolit electrolit eletrolit kyselin kiselin електроліт электролит ηλεκτρολυτ кислот"),
        "acid",
    ),
}
#: Shorter ones are some other word too often [1]; so are these: a bank, a heater's part (assumed).
_SHORTEST_LATIN, _NO_LATIN = 4, word_set("banka banki element elementy stan aber bolt meso igra keli")
#: Longer words have too many ways to be written; so many ways are enough [1] (assumed).
_MOST_WAYS = 200


def _in_latin(word: str) -> list[str]:
    """Return the ways in which a Greek or Cyrillic word is written in Latin letters; none of another word.

    >>> _in_latin("ρευμα"), _in_latin("люк"), _in_latin("volts")
    (['revma', 'refma', 'reuma'], ['lyuk', 'ljuk', 'liuk'], [])
    """
    ways, place = [""], 0
    while place < len(word):
        letters = next((part for part in (word[place : place + 2], word[place]) if part in LATIN), "")
        if not letters or len(ways) > _MOST_WAYS:
            return []
        ways = [way + latin for way in ways for latin in LATIN[letters] or ("",)]
        place += len(letters)
    return ways


_NO_LATIN |= KNOWN_WORDS
_WRITTEN_IN_LATIN = {
    latin: "battery" if word in BATTERY else word
    for word in sorted(word for word in KNOWN_WORDS if not word.isascii())
    for latin in _in_latin(word)
    if len(latin) >= _SHORTEST_LATIN and latin not in _NO_LATIN
}
_STEMS |= {latin: base for stem, base in list(_STEMS.items()) if not stem.isascii() for latin in _in_latin(stem)}


def _without_ending(word: str) -> str:
    """Return a word that is unknown as it stands, and one of a battery, its acid or its charger with an ending, as it.

    >>> [_without_ending(word) for word in ("akumulatorów", "μπαταριες", "elektrolytu", "batteriedoktor", "bater")]
    ['battery', 'battery', 'elektrolytu', 'batteriedoktor', 'bater']
    >>> [_without_ending(word) for word in ("mpatarias", "thermokrasia", "napryazhenie")]
    ['battery', 'θερμοκρασια', 'напряжение']
    """
    if word in _WRITTEN_IN_LATIN:
        return _WRITTEN_IN_LATIN[word]
    if word in GLUE or word in WORDS or word in RELAYS or len(word) < SHORTEST_STEM:
        return word
    return next(
        (base for stem, base in _STEMS.items() if word.startswith(stem) and len(word) - len(stem) <= ENDING), word
    )


def _unglued(word: str) -> list[str]:
    """Return the known words that a word is made of without remainder, else the word itself."""
    if word in GLUE or len(word) < 2 * SHORTEST:
        return [word]
    tail = next((tail for tail in TAILS if word.endswith(tail) and len(word) - len(tail) >= SHORTEST), None)
    german = next((end for end in GERMAN if word.endswith(end) and len(word) - len(end) >= SHORTEST), None)
    for cut in range(len(word) - SHORTEST, SHORTEST - 1, -1):
        charged = word[:cut] in CHARGING and (word[cut:] in RELAYS or word[cut:] in WORDS)
        if charged or (word[:cut] in GLUE and word[cut:] in GLUE):
            return [word[:cut], word[cut:]]
    state = next((end for end in STATED if word.endswith(end)), None)
    if state is not None and german is None and tail is None:
        known = next((begin for begin in SWITCHED if word.removesuffix(state).endswith(begin)), None)
        if known is not None:
            return (
                [*_unglued(word[: -len(known) - len(state)]), known, state]
                if len(word) > len(known + state)
                else [known, state]
            )
    if german is not None or tail == "temp":
        end = german or "temp"
        return [*_unglued(word[: -len(end)]), end]
    return [word[: -len(tail)], tail] if tail else [word]


def battery_room(text: str) -> bool:
    """Tell whether a name is of the place in which batteries stand, and of nothing in it.

    >>> [battery_room(name) for name in ("CasaBaterias_Temp", "battery_shed", "sala de baterias")]
    [True, True, True]
    >>> [battery_room(name) for name in ("casa_bateria", "house_battery_temp", "battery_shed_cell_3")]
    [False, False, False]
    """
    words = [word for word in words_of(text) if word not in BETWEEN | MEASURED | EMPTY]
    if len(words) != len(("room", "battery")):
        return False
    first, second = words
    by_order = (first in ROOM_BEFORE and second in BATTERY) or (first in BATTERY and second in ROOM_BEHIND)
    return by_order or (first in HOUSES and second in OF_SEVERAL)


def by_a_battery(words: list[str]) -> bool:
    """Tell whether a name says of a thing that it is by a battery, and so is none of it.

    >>> [by_a_battery(words_of(name)) for name in ("Smedje ved batteriet", "next to the battery", "akku mellett")]
    [True, True, True]
    >>> [by_a_battery(words_of(name)) for name in ("battery by day", "batteri smedje", "bank near full")]
    [False, False, False]
    """
    spoken = [word for word in words if word not in BETWEEN | ARTICLES]
    pairs = set(pairwise(spoken))
    return any(
        (before in BY_BEFORE and after in BATTERY) or (before in BATTERY and after in BY_BEHIND)
        for before, after in pairs
    )


def unit_named(words: list[str], canonical: str) -> str | None:
    """Return the unit that a name says, of those that measure this canonical one.

    >>> unit_named(["temp", "f"], "degC"), unit_named(["current", "ma"], "A"), unit_named(["f", "temp"], "degC")
    ('degF', 'mA', None)
    """
    units = UNITS.get(canonical, {})
    for before, word in zip(["", *words], words, strict=False):
        if word in units:
            return units[word]
        if canonical == "degC" and word in DEGREE_LETTERS and before in DEGREES:
            return DEGREE_LETTERS[word]
    return None


def is_label(before: str, word: str) -> bool:
    """Tell whether a letter of amps tells one of several from the others: it stands behind a word for one of them.

    >>> is_label("string", "i"), is_label("blok", "a"), is_label("blok", "i"), is_label("batt", "a")
    (True, True, False, False)
    """
    return (word in {"a", "i"} and before in LABELLED) or (word == "a" and before in LETTERED)


def named(words: list[str]) -> tuple[str, bool] | None:
    """Return the word that names a quantity, and whether it is a full one; the last full one decides.

    "current" before a word that is nothing of the kind is the adjective (``current_page``), and a letter behind a
    place is its label (``probe_a``, ``string_b``).

    >>> named(["current", "temperature"]), named(["shunt", "v"]), named(["current", "page"]), named(["page"])
    (('temperature', True), ('v', False), ('current', False), None)
    >>> named(["probe", "a"])
    ('probe', False)
    """
    found = [
        place for place, word in enumerate(words) if word in WORDS and not (place and is_label(words[place - 1], word))
    ]
    full = [place for place in found if words[place] not in WEAK and words[place] not in CUT]
    if not found:
        return None
    place = (full or found)[-1]
    after = words[place + 1 :]
    adjective = words[place] == "current" and bool(after) and not (len(after[0]) < SHORTEST or after[0] in NOUNS)
    return words[place], bool(full) and not adjective


#: Two letters that begin as an abbreviation of volts or amps does, and are a word or another unit.
_NO_ABBREVIATION = word_set("up us uv va vu un ut um in id ip if im io")
_BEGIN = {"v": "voltage", "u": "voltage", "i": "current"}


def abbreviated(words: list[str]) -> str | None:
    """Return the quantity that a name of two letters abbreviates, the symbol first: of volts, or of amps.

    Only beside its counterpart it means anything: ``VS`` and ``IS`` of one device are a pair, either alone is nothing.

    >>> abbreviated(["vt"]), abbreviated(["is", "2"]), abbreviated(["ip"]), abbreviated(["out", "vt"])
    ('voltage', 'current', None, None)
    """
    spoken = [word for word in words if not word.isdigit()]
    if len(spoken) != 1 or len(spoken[0]) != len("vt") or spoken[0] in _NO_ABBREVIATION:
        return None
    return WORDS.get(spoken[0], _BEGIN.get(spoken[0][0]))
