"""What of the current makes gas: the whole of it from the onset of gassing on, unless the bank has shown less."""

from __future__ import annotations

from rules.bank import Bank
from rules.bank_view import View
from rules.laws import gassing_onset, gassing_share
from rules.meters import FLOWS, Counters, up_to
from rules.phase import PhaseMemory, still_accepted
from rules.step.memory import Memory

#: Below this a charging current makes so little gas that it is not reckoned: 0.3 % by the law [V per cell].
NO_GAS = 2.2


def gas_share(bank: Bank, phase: PhaseMemory, volts: float, warmth: float | None, current: float) -> float:
    """Return share of a charging current that splits water [1].

    Parameters
    ----------
    bank : Bank
        As joined now.
    phase : PhaseMemory
        What the bank has shown.
    volts : float
        Of the bank [V].
    warmth : float or None
        Of the electrolyte, 25 where nobody knows [degC].
    current : float
        Positive = charging [A].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),))
    >>> gas_share(bank, PhaseMemory(), 12 * 2.58, 25.0, 10.0)
    1.0
    >>> round(gas_share(bank, PhaseMemory(), 12 * 2.20, 25.0, 10.0), 3)
    0.003
    """
    if current <= 0.0:
        return 0.0
    degrees = 25.0 if warmth is None else warmth
    per_cell = volts / bank.cells
    # The law of a new cell, and where it ends all of the current.
    law = gassing_share(per_cell, degrees, bank.capacity, current)
    if law >= 1.0 or per_cell < gassing_onset(degrees):
        return law
    return max(law, 1.0 - still_accepted(phase) / current)


def current_flows(view: View) -> bool:
    """Tell whether the bank is charged now; where nobody measures the current, by volts that only a charger gives."""
    if view.current is not None:
        return view.current > FLOWS
    warmth = 25.0 if view.hottest is None else view.hottest
    return view.volts_per_cell is not None and view.volts_per_cell >= gassing_onset(warmth)


def counted_up_to(bank: Bank, memory: Memory, at: float) -> Counters:
    """Return counters with what was read by hand counted up to now [s since the epoch], as the bank was joined."""
    counters = memory.counters
    share = gas_share(bank, memory.phase, counters.voltage, memory.hand.temperature_now(at), counters.current)
    return up_to(counters, at, bank, share)
