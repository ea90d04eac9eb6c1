"""Blocks and cells by their number, as people say them: "block 2", "cell 3 of battery 1"."""

from __future__ import annotations

import re
from collections.abc import Collection

_WORD = re.compile(r"[\w.]+\w|\w")
_UNIT = r"(?:blocks?|batter(?:y|ies)|batts?)"
#: A number that counts a block, and no days, volts or blocks more.
_NUMBER = (
    r"(?:no\.?\s*|nr\.?\s*|number\s+|#\s*)?(\d{1,2})\b"
    r"(?!\s*(?:[.,]\d|%|°|days?\b|d\b|hours?\b|h\b|min|weeks?\b|times?\b|of\b|more\b|others?\b|volts?\b|v\b|amps?\b|a\b|ah\b|mm\b|deg))"
)
_CELL_NUMBER = _NUMBER.replace(r"of\b|", "")
_CELL_OF = re.compile(
    rf"\bcell\s+{_CELL_NUMBER}\s*,?\s*(?:of|in|on|at)?\s*(?:the\s+)?{_UNIT}\s+{_NUMBER}", re.IGNORECASE
)
_CELL_BEHIND = re.compile(rf"\b{_UNIT}\s+{_NUMBER}\s*,?\s*cell\s+{_NUMBER}", re.IGNORECASE)
_CELL_OF_LABEL = re.compile(
    r"\bcell\s+(\d{1,2})\s+(?:of|in|on)\s+(?:the\s+)?(?:block\s+|battery\s+)?([^\W\d_]\w*)\b", re.IGNORECASE
)
_CELL_ALONE = re.compile(rf"\bcell\s+{_NUMBER}", re.IGNORECASE)
_BLOCKS = re.compile(rf"\b{_UNIT}\s+{_NUMBER}(?:(?:\s*,\s*|\s+and\s+|\s*&\s*){_NUMBER})?", re.IGNORECASE)


def _called(number: int, labels: Collection[str]) -> list[str]:
    """Return the blocks that may be meant by a number; one where it is plain.

    Examples
    --------
    >>> _called(2, ["A1", "A2"]), _called(2, ["A1", "A2", "B2"]), _called(2, ["N0", "N1", "N2"]), _called(9, ["A1"])
    (['A2'], ['A2', 'B2'], ['N1', 'N2'], [])
    """
    ends = {label: re.search(r"\d+$", label) for label in labels}
    numbers = {label: int(end[0]) for label, end in ends.items() if end}
    found = [label for label, each in numbers.items() if each == number]
    # Who counts from nought on the labels counts from one in words, or does not: either may be meant.
    if 0 in numbers.values():
        found += [label for label, each in numbers.items() if each == number - 1]
    return sorted(found)


def spelled_out(words: str, places: Collection[str]) -> tuple[str, tuple[str, ...]]:
    """Return the words with the labels of blocks and cells that they count, and of what it is not plain which.

    Parameters
    ----------
    words : str
        As somebody noted them.
    places : collection of str
        Every place of the bank, as in `Bank.places`.

    Examples
    --------
    >>> four = ("", "A1", "A1.1", "A1.2", "A2", "A2.1", "A2.2")
    >>> [spelled_out(said, four)[0] for said in ("a crack in block 2", "cell 2 of battery 1 leaks", "leaks 2 days")]
    ['a crack in A2', 'A1.2 leaks', 'leaks 2 days']
    >>> spelled_out("a crack in block 2", ("", "A1", "A2", "B1", "B2"))
    ('a crack in block 2', ('block 2: A2 or B2',))
    >>> spelled_out("cell 3 bubbling hard", four)[1], spelled_out("A2 cell 3 bubbling hard", four)[1]
    (('cell 3',), ())
    """
    labels = [place for place in places if place and "." not in place]
    unclear: list[str] = []

    def label(said: str, number: str) -> str | None:
        found = _called(int(number), labels)
        if len(found) != 1:
            unclear.append(f"{said}: {' or '.join(found or sorted(labels))}")
            return None
        return found[0] if not found[0].isdecimal() else f"block_{found[0]}"

    def cell(said: str, block: str, number: str) -> str:
        place = f"{(label(said, block) or '').removeprefix('block_')}.{int(number)}"
        return place if place in places else said

    def blocks(found: re.Match[str]) -> str:
        each = [label(found[0], number) for number in found.groups() if number]
        return " and ".join(str(one) for one in each) if None not in each else found[0]

    if labels:
        words = _CELL_OF.sub(lambda found: cell(found[0], found[2], found[1]), words)
        words = _CELL_BEHIND.sub(lambda found: cell(found[0], found[1], found[2]), words)
        words = _CELL_OF_LABEL.sub(
            lambda found: next((at for at in places if at.lower() == f"{found[2]}.{found[1]}".lower()), found[0]), words
        )
        words = _BLOCKS.sub(blocks, words)
        named = {place.lower() for place in places if place} & {word.lower() for word in _WORD.findall(words)}
        if len(labels) > 1 and not named and not unclear and (alone := _CELL_ALONE.search(words)):
            unclear.append(alone[0])
    return words, tuple(dict.fromkeys(unclear))
