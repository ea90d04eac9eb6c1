"""Which of the blocks worth keeping belong together in one string."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean
from typing import NamedTuple

from rules.verdict.judgement import Evidence, judge

#: Capacities in one string should not differ by more than this share [1]; common practice, no source.
UNEVEN = 0.10


class Matching(NamedTuple):
    """Which blocks belong together.

    Attributes
    ----------
    strings : tuple of tuple of str
        Labels of each proposed string, the strongest string first.
    spare : tuple of str
        Good blocks that are left over.
    notes : tuple of str
        What to know about it.
    """

    strings: tuple[tuple[str, ...], ...]
    spare: tuple[str, ...]
    notes: tuple[str, ...]


def matching(blocks: Sequence[Evidence], cells_in_series: int) -> Matching:
    """Propose strings from the blocks worth keeping.

    A string gives what its weakest block gives, so blocks are sorted by capacity, then gravity, and cut into strings.
    Equals keep their order; a block of which nothing is known is not placed.

    Parameters
    ----------
    blocks : sequence of Evidence
        All blocks at hand; those to scrap are left out.
    cells_in_series : int
        Of the bank to build.

    Returns
    -------
    Matching
        Strings, what is left over, and notes.

    Raises
    ------
    ValueError
        As `judge`.

    Examples
    --------
    >>> four = [Evidence(f"N{n}", 6, 200.0, ah, gravities=(1.26,) * 6) for n, ah in enumerate((190, 165, 188, 168))]
    >>> matching(four, 12).strings
    (('N0', 'N2'), ('N3', 'N1'))
    """
    verdicts = {block.label: judge(block) for block in blocks}
    usable = [block for block in blocks if verdicts[block.label].word != "scrap"]
    notes = [
        f"{block.label} is left out: {verdicts[block.label].reasons[0]}" for block in blocks if block not in usable
    ]
    unknown = [block for block in usable if block.capacity is None and not block.gravities]
    if unknown:
        notes.append(
            f"{' '.join(block.label for block in unknown)}: neither tested nor read at rest, so not placed yet"
        )
        usable = [block for block in usable if block not in unknown]
    strings: list[list[Evidence]] = []
    spare = unknown
    for cells in sorted({block.cells for block in usable}):
        alike = sorted((block for block in usable if block.cells == cells), key=_strength, reverse=True)
        size = cells_in_series // cells if cells_in_series % cells == 0 else 0
        whole = len(alike) // size * size if size else 0
        strings += [alike[start : start + size] for start in range(0, whole, size or 1)]
        spare = [*spare, *alike[whole:]]
    strings.sort(key=lambda string: min(_strength(block) for block in string), reverse=True)
    for string in strings:
        notes += _string_notes(string)
    return Matching(
        tuple(tuple(block.label for block in string) for string in strings),
        tuple(block.label for block in spare),
        tuple(notes),
    )


def _strength(block: Evidence) -> tuple[float, float]:
    return (
        block.capacity if block.capacity is not None else -1.0,
        fmean(block.gravities) if block.gravities else 0.0,
    )


def _string_notes(string: Sequence[Evidence]) -> list[str]:
    labels = " ".join(block.label for block in string)
    untested = [block.label for block in string if block.capacity is None]
    if untested:
        return [f"{labels}: {', '.join(untested)} not tested yet, placed by gravity alone"]
    capacities = [block.capacity for block in string if block.capacity is not None]
    if min(capacities) < (1.0 - UNEVEN) * max(capacities):
        return [f"{labels}: uneven, it gives what its weakest block gives, {min(capacities):.0f} Ah"]
    return [f"{labels}: counts as {min(capacities):.0f} Ah"]
