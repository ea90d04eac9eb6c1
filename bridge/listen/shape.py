"""How a bank is built, told by its parts: string currents that add up to its current, blocks and cells to its volts."""

from __future__ import annotations

import re
from typing import NamedTuple

from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess, cells_of
from bridge.listen.places import path
from bridge.listen.source import Source
from bridge.listen.vocabulary import PARTS, STRINGS, folded

#: Parts add up to the whole within this share: as many meters, each with its own error (assumed).
_ADDS_UP = 0.06
_PARTS = frozenset({"string_current", "block_voltage", "cell_voltage"})
CELLS_OF_A_BLOCK = 3
#: Cells of the blocks that people have, the commonest first (common practice, no source).
_BLOCKS = (3, 6, 1, 4, 2, 12)
#: Parts that a string has several of; a string's name; so many have a letter (A to Z).
_IN_A_STRING = frozenset({"block_voltage", "cell_voltage"})
#: ("stringA" is an English string, "stringa1" an Italian one).
_STRINGS = (*sorted(STRINGS - {"stringa"}, reverse=True), r"stringa(?=[ _/-]?\d)")
_STRING = re.compile(rf"(?<![a-z])(?:{'|'.join(_STRINGS)})[ _/-]?([a-z]|\d+)(?![a-z0-9])")
_LETTERS = 26
#: What tells those apart that are called alike: a number, or a single letter.
_TELLS_APART = re.compile(r"\d+|(?<=[ _/-])[a-d](?=[ _/-]|$)")
#: What is less likely than this is no part of anything [1] (assumed).
_BELIEVED_AT_ALL = 0.1


class Shape(NamedTuple):
    """Strings in parallel, blocks in one string, cells in one block; None where no part tells."""

    strings: int | None = None
    per_string: int | None = None
    cells: int | None = None


def settle_parts(rest: list[Guess], bank: Guess, current: Guess | None) -> tuple[dict[int, Guess], Shape]:
    """Return every part with its index, or the question which one it is; and the shape that they tell."""
    settled: dict[int, Guess] = {}
    shape = Shape()
    families = _families(rest)
    strings = sorted({string for family in families if (string := _string(family[0].source))})
    taken: set[tuple[str, str]] = set()
    for family in families:
        quantity = family[0].quantity
        whole = bank.value if quantity != "string_current" else None if current is None else current.value
        count = len(family)
        cells = cells_by_parts(bank, count if quantity == "block_voltage" else 1)
        total = sum(one.value for one in family)
        adds_up = whole is not None and count > 1 and abs(abs(total) - abs(whole)) <= _ADDS_UP * abs(whole)
        fits = quantity == "string_current" or (cells and cells % count == 0)
        if quantity == "cell_voltage":
            fits = count == cells and cells % CELLS_OF_A_BLOCK == 0
        string = _string(family[0].source) if quantity in _IN_A_STRING else ""
        letter = chr(ord("A") + strings.index(string)) if string else "A"
        if any(id(one) in settled for one in family):
            continue
        if not adds_up or not fits or (quantity, letter) in taken or len(strings) > _LETTERS:
            continue
        taken.add((quantity, letter))
        if letter != "A":
            shape = shape._replace(strings=max(shape.strings or 1, len(strings)))
        if quantity == "string_current":
            shape = shape._replace(strings=count)
        else:
            each = cells // count if quantity == "block_voltage" else CELLS_OF_A_BLOCK
            shape = shape._replace(per_string=cells // each, cells=each)
        strings_of = current if quantity == "string_current" else None
        unsure = strings_of is not None and strings_of.sure < SURE_ENOUGH
        turned = strings_of is not None and (strings_of.sign == "discharging") == (strings_of.value * total >= 0)
        sign = "discharging" if turned else "charging"
        for number, one in enumerate(family):
            told = one._replace(sign=sign, part=_index(quantity, number, letter))
            told = told.because("sums agree", f"{count} of them add up to the bank's")
            settled[id(one)] = told.because("sign not known", "which way does it count?") if unsure else told
    for one in rest:
        if one.quantity in _PARTS and id(one) not in settled:
            settled[id(one)] = one.because("which of several", "which one? write its index")
    return settled, shape


def cells_by_parts(bank: Guess, blocks: int) -> int:
    """Return the cells in series of a bank of so many blocks: of the possible, those that make the commonest blocks.

    Six blocks at 47 V are of three cells on charge, sooner than of four at rest.
    """
    possible = [cells for cells in cells_of(bank.value) if cells % blocks == 0]
    order = [each for each in _BLOCKS if each * blocks in possible] if blocks > 1 else []
    return order[0] * blocks if order else (possible or [0])[0]


def _index(quantity: str, number: int, letter: str) -> str:
    if quantity == "string_current":
        return str(number + 1)
    if quantity == "block_voltage":
        return f"{letter}{number + 1}"
    return f"{letter}{number // CELLS_OF_A_BLOCK + 1}.{number % CELLS_OF_A_BLOCK + 1}"


def family_names(source: Source, *, of_string: bool = True) -> list[str]:
    """Return what a source is called, but for the numbers or letters that tell it from the others: all, or only one.

    Cells and blocks of different strings are different families; of the strings' own currents each is one.

    >>> family_names(Source("hut/block1/v", "plain")), family_names(Source("hut/2/stringA/u_2", "plain"))
    (['hut/block#/v'], ['hut/#/string#/u_# a', 'hut/#/string#/u_2 a', 'hut/2/string#/u_# a'])
    """
    string = _string(source) if of_string else ""
    whole = (source.levels, source.label, source.at)
    # what it is called elsewhere need not be alike: its own name may be
    called = (whole, (source.levels, source.at)) if source.label and source.label == source.said else (whole,)
    names = [name for parts in called for name in _names(folded(" ".join(part for part in parts if part)))]
    return [f"{name} {string}".strip() for name in names]


def under_parts(source: Source) -> tuple[str, ...]:
    """Return the place of a number up to a word for blocks or cells above it: there each may have a name of its own.

    >>> under_parts(Source("hut/blocks/left_front", "plain")), under_parts(Source("hut/left_front", "plain"))
    (('hut', 'blocks'), ())
    """
    words = path(source)
    spot = next((place for place, word in enumerate(words[:-1]) if word in PARTS), None)
    return () if spot is None else words[: spot + 1]


def _names(place: str) -> list[str]:
    place = _STRING.sub("string#", place)
    spans = [found.span() for found in _TELLS_APART.finditer(place)]
    alone = [f"{place[:start]}#{place[end:]}" for start, end in spans]
    return [_TELLS_APART.sub("#", place), *(alone if len(alone) > 1 else [])]


def _families(rest: list[Guess]) -> list[list[Guess]]:
    """Return parts that are called alike but for a number or a letter, in the order of their names.

    Where all that is called alike is too much, as of two boards with cells each, fewer are tried after it.
    """
    families: dict[tuple[str, str], list[Guess]] = {}
    for one in rest:
        if one.quantity in _PARTS and one.sure > _BELIEVED_AT_ALL:
            for name in family_names(one.source, of_string=one.quantity in _IN_A_STRING):
                families.setdefault((one.quantity, name), []).append(one)
            if one.quantity in _IN_A_STRING and (under := under_parts(one.source)):
                families.setdefault((one.quantity, " ".join(under)), []).append(one)
            if one.quantity == "string_current":
                # strings that have names of their own are told by their place
                families.setdefault((one.quantity, " ".join(one.source.place)), []).append(one)
    return sorted(
        (sorted(family, key=lambda one: natural(one.source)) for family in families.values()), key=len, reverse=True
    )


def _string(source: Source) -> str:
    """Return the letter or number of the string that it stands in, where its name says one."""
    named = _STRING.search(folded(f"{source.levels} {source.said} {source.at}"))
    return named[1] if named else ""


def natural(source: Source) -> list[tuple[int, str]]:
    """Return a key that puts what is numbered in the order of its numbers."""
    text = f"{source.topic} {source.at}"
    return [(int(part), "") if part.isdigit() else (0, part) for part in re.split(r"(\d+)", text)]
