"""Whether the hydrometer says that a bank is charged: then hardly any amps at full volts are no sign of sulfate."""

from __future__ import annotations

from contextlib import suppress

from rules.advice import Contradiction
from rules.bank import Bank
from rules.bank_view import View
from rules.hand import latest_of_each
from rules.laws import gravity_from_rest_voltage, state_of_charge_from_gravity
from rules.safety import CONTRADICTS, DRAWN, GRAVITY_GOOD_FOR, at_rest, known_acid
from rules.step.memory import Memory

#: A cell is full from so little below its full gravity on [1]: five points is what a hydrometer and its reader are
#: wrong together (common practice, no source).
FULL_WITHIN = 0.005
#: From so little below it on a cell is nearly charged [1]: seven eighths of its charge between 1.265 and about 1.090
#: (from memory), so that hardly any amps may be a charged bank's as well as a blocked one's.
NEARLY_WITHIN = 0.025
#: Where so much of what was missing at rest has gone in, gravities may simply have risen since [1]; common practice, no
#: source.
GONE_IN = 0.5


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


def contradiction(bank: Bank, memory: Memory, at: float) -> Contradiction | None:
    """Return gravities of a charged bank and the volts at which it rested before the charge, where both cannot be.

    Whether the gravities were read at rest or under charge: what gassing and layers do makes them lower, not full. They
    contradict nothing once charge has gone in that explains their rise, or was drawn since they were read.

    Parameters
    ----------
    bank : Bank
        As joined now.
    memory : Memory
        Hydrometer readings, charge returned, and the volts before the charger came on.
    at : float
        Now [s since the epoch].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> contradiction(Bank("north", ((Block("N1", 3, 200.0),),)), Memory(), 0.0) is None
    True
    """
    rested = memory.phase.track.rested
    newest = latest_of_each(memory.hand.gravities)
    numbers = []
    for cell in bank.every_cell if rested > 0.0 else ():
        entry = newest.get(cell)
        if entry is None or entry.gravity_corrected is None or not entry.mixed:
            return None
        drawn = memory.counters.discharge - entry.discharge > DRAWN * bank.capacity
        if drawn or at - entry.taken_at > GRAVITY_GOOD_FOR:
            return None
        numbers.append(entry.gravity_corrected)
    weakest = min(numbers, default=0.0)
    if weakest < bank.full_gravity - NEARLY_WITHIN or rested >= at_rest(weakest) - CONTRADICTS:
        return None
    missing = 1.0
    with suppress(ValueError):  # no sound cell rests there: all of it is missing
        missing -= state_of_charge_from_gravity(gravity_from_rest_voltage(rested), bank.full_gravity)
    if memory.counters.charge - memory.phase.track.base > GONE_IN * missing * bank.capacity:
        return None
    return Contradiction(weakest, rested, at_rest(weakest))
