"""How a bank is built, told by its parts: string currents that add up to its current, blocks and cells to its volts."""

from __future__ import annotations

import re
from typing import NamedTuple

from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess, cells_of

#: Parts add up to the whole within this share: as many meters, each with its own error (assumed).
_ADDS_UP = 0.06
_PARTS = frozenset({"string_current", "block_voltage", "cell_voltage"})
_CELLS_OF_A_BLOCK = 3
#: Parts that a string has several of; a string's name; so many have a letter (A to Z).
_IN_A_STRING = frozenset({"block_voltage", "cell_voltage"})
_STRING = re.compile(r"(?<![a-z])(?:strings?|strang|rama|branche?)[ _/-]?([a-z]|\d+)(?![a-z0-9])")
_LETTERS = 26
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
    strings = sorted({string for family in families if (string := _string(family[0]))})
    taken: set[tuple[str, str]] = set()
    for family in families:
        quantity = family[0].quantity
        whole = bank.value if quantity != "string_current" else None if current is None else current.value
        cells = (cells_of(bank.value) or (0,))[0]
        count = len(family)
        total = sum(one.value for one in family)
        adds_up = whole is not None and count > 1 and abs(abs(total) - abs(whole)) <= _ADDS_UP * abs(whole)
        fits = quantity == "string_current" or (cells and cells % count == 0)
        if quantity == "cell_voltage":
            fits = count == cells and cells % _CELLS_OF_A_BLOCK == 0
        string = _string(family[0]) if quantity in _IN_A_STRING else ""
        letter = chr(ord("A") + strings.index(string)) if string else "A"
        if not adds_up or not fits or (quantity, letter) in taken or len(strings) > _LETTERS:
            for one in family:
                settled[id(one)] = one.because("which of several", "which one? write its index")
            continue
        taken.add((quantity, letter))
        if letter != "A":
            shape = shape._replace(strings=max(shape.strings or 1, len(strings)))
        if quantity == "string_current":
            shape = shape._replace(strings=count)
        else:
            each = cells // count if quantity == "block_voltage" else _CELLS_OF_A_BLOCK
            shape = shape._replace(per_string=cells // each, cells=each)
        strings_of = current if quantity == "string_current" else None
        unsure = strings_of is not None and strings_of.sure < SURE_ENOUGH
        turned = strings_of is not None and (strings_of.sign == "discharging") == (strings_of.value * total >= 0)
        sign = "discharging" if turned else "charging"
        for number, one in enumerate(family):
            told = one._replace(sign=sign, part=_index(quantity, number, letter))
            told = told.because("sums agree", f"{count} of them add up to the bank's")
            settled[id(one)] = told.because("sign not known", "which way does it count?") if unsure else told
    return settled, shape


def _index(quantity: str, number: int, letter: str) -> str:
    if quantity == "string_current":
        return str(number + 1)
    if quantity == "block_voltage":
        return f"{letter}{number + 1}"
    return f"{letter}{number // _CELLS_OF_A_BLOCK + 1}.{number % _CELLS_OF_A_BLOCK + 1}"


def _families(rest: list[Guess]) -> list[list[Guess]]:
    """Return parts that are called alike but for a number or a letter, in the order of their names."""
    families: dict[tuple[str, str], list[Guess]] = {}
    for one in rest:
        if one.quantity in _PARTS and one.sure > _BELIEVED_AT_ALL:
            # "stringA" is a place of its own for blocks and cells, and one of several for the strings' currents
            place = f"{one.source.topic} {one.source.at}".lower()
            string = _string(one) if one.quantity in _IN_A_STRING else ""
            name = re.sub(r"\d+|(?<=[_/-])[a-d](?=[_/-]|$)", "#", _STRING.sub("string#", place))
            families.setdefault((one.quantity, f"{name} {string}"), []).append(one)
    return [sorted(family, key=_natural) for family in families.values()]


def _string(one: Guess) -> str:
    """Return the letter or number of the string that it stands in, where its name says one."""
    named = _STRING.search(f"{one.source.topic} {one.source.at}".lower())
    return named[1] if named else ""


def _natural(one: Guess) -> list[tuple[int, str]]:
    text = f"{one.source.topic} {one.source.at}"
    return [(int(part), "") if part.isdigit() else (0, part) for part in re.split(r"(\d+)", text)]
