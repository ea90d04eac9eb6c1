"""Whether the hydrometer says that a bank is charged: then hardly any amps at full volts are no sign of sulfate."""

from __future__ import annotations

from rules.bank import Bank
from rules.bank_view import View
from rules.hand import latest_of_each
from rules.safety import GRAVITY_GOOD_FOR, known_acid
from rules.step.memory import Memory

#: A cell is full from so little below its full gravity on [1]: five points is what a hydrometer and its reader are
#: wrong together (common practice, no source).
FULL_WITHIN = 0.005
#: From so little below it on a cell is nearly charged [1]: seven eighths of its charge between 1.265 and about 1.090
#: (from memory), so that hardly any amps may be a charged bank's as well as a blocked one's.
NEARLY_WITHIN = 0.025


def read_full(bank: Bank, memory: Memory, view: View, at: float) -> float | None:
    """Return the gravity of the weakest cell, where rested readings of every cell show a charged bank [1].

    Sulfate holds the acid that is missing from a cell, so that a cell at its full gravity has none to give back. Each
    cell must have been read within a week in a way that counts for a verdict, and nothing read, drawn or measured since
    may contradict it.

    Parameters
    ----------
    bank : Bank
        As joined now.
    memory : Memory
        Hydrometer readings, and what was drawn since.
    view : View
        The bank as its meters show it.
    at : float
        Now [s since the epoch].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0),),))
    >>> read_full(bank, Memory(), View(None, None, None, False, None, None, None, (), None, 0.0), 0.0) is None
    True
    """
    return _weakest(bank, memory, view, at, bank.full_gravity - FULL_WITHIN)


def read_nearly_full(bank: Bank, memory: Memory, view: View, at: float) -> float | None:
    """Return the gravity of the weakest cell, where the same readings show a bank that is nearly charged [1]."""
    return _weakest(bank, memory, view, at, bank.full_gravity - NEARLY_WITHIN)


def _weakest(bank: Bank, memory: Memory, view: View, at: float, least: float) -> float | None:
    """Return the lowest gravity [1], where each cell counts, none is below the least [1] and nothing contradicts it."""
    trusted = {entry.cell: entry for entry in memory.hand.gravities if entry.trusted and entry.mark == ""}
    newest = latest_of_each(memory.hand.gravities)
    weakest = None
    for cell in bank.every_cell:
        if cell not in trusted or at - trusted[cell].taken_at > GRAVITY_GOOD_FOR:
            return None
        for entry in (trusted[cell], newest[cell]):
            if entry.gravity_corrected is None or entry.gravity_corrected < least:
                return None
            weakest = min(weakest or entry.gravity_corrected, entry.gravity_corrected)
    rested = memory.phase.track.rested
    if known_acid(bank, memory.hand, memory.counters, view, rested, at).gravity is None:
        return None
    return weakest
