"""Cells in the order in which one walks along them, in rows that fit on paper."""

from __future__ import annotations

from typing import NamedTuple

from rules.bank import Bank

#: So many cells stand beside each other: with what was read twice, and with a figure to write.
WIDEST, WIDEST_WRITTEN = 6, 12


class Row(NamedTuple):
    """Some cells of one block, the rest of the row left empty."""

    label: str
    cells: tuple[str, ...]
    empty: int


def heads(bank: Bank) -> list[str]:
    """Return what stands over the columns; numbers only where every row begins with the first cell of its block."""
    most = max(block.cells for string in bank.strings for block in string)
    return [f"cell {number}" for number in range(1, most + 1)] if most <= WIDEST else ["cells", *[""] * (WIDEST - 1)]


def rows(bank: Bank) -> list[Row]:
    """Return every cell once; a block with many takes several rows."""
    width = len(heads(bank))
    found = []
    for block in (block for string in bank.strings for block in string):
        for first in range(1, block.cells + 1, width):
            last = min(first + width - 1, block.cells)
            label = block.label if block.cells <= width else f"{block.label}, {first} to {last}"
            cells = tuple(f"{block.label}.{number}" for number in range(first, last + 1))
            found.append(Row(label, cells, width - len(cells)))
    return found


def groups(bank: Bank) -> list[list[str]]:
    """Return every cell once, in groups that have room side by side for a hand; blocks stay whole where they can."""
    found: list[list[str]] = []
    for block in (block for string in bank.strings for block in string):
        names = [f"{block.label}.{number}" for number in range(1, block.cells + 1)]
        if found and len(found[-1]) + len(names) <= WIDEST_WRITTEN:
            found[-1] += names
            continue
        found += [names[first : first + WIDEST_WRITTEN] for first in range(0, len(names), WIDEST_WRITTEN)]
    return found
