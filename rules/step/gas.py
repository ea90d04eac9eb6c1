"""What of the current makes gas: the whole of it from the onset of gassing on, unless the bank has shown less."""

from __future__ import annotations

from rules.bank import Bank
from rules.bank_view import View
from rules.hand import HandLog, latest_of_each
from rules.laws import AGED, EXCHANGE, gassing_onset, gassing_share
from rules.meters import FLOWS, Counters, up_to
from rules.phase import PhaseMemory, still_accepted
from rules.step.memory import Memory

#: Below this a charging current makes so little gas that it is not reckoned: 0.3 % by the law [V per cell].
NO_GAS = 2.2
#: From here on the air is that of the whole current, whatever is thought to gas of it [V per cell]: a full, old or
#: warm cell gasses under the onset of a new one too (common practice, no source).
GAS_FORMS = 2.30
#: A bank whose weakest cell is so near to its full gravity [1] takes hardly any charge: what flows is gas (common
#: practice, no source).
NEARLY_FULL = 0.030


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


def aired_share(bank: Bank, hand: HandLog, view: View, warmth: float, share: float) -> float:
    """Return share of the charging current for which the air is reckoned [1]: never less than what may gas.

    All of it from 2.30 V per cell on, where nobody knows the volts, and where the bank is nearly full; under that what
    an aged cell gasses.

    Parameters
    ----------
    bank : Bank
        As joined now.
    hand : HandLog
        Hydrometer readings: also doubted ones, for a full cell that is not full only asks for more air.
    view : View
        The bank now, with a charging current.
    warmth : float
        Of the electrolyte, the warmest it may be where nobody knows [degC].
    share : float
        That is thought to gas [1].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),))
    >>> view = View(28.8, 2.40, 2.9, False, 16.0, None, None, (), None, 0.0)
    >>> aired_share(bank, HandLog(), view, 16.0, 0.11)
    1.0
    """
    volts = view.volts_per_cell
    if volts is None or view.current is None or volts >= min(GAS_FORMS, gassing_onset(warmth)):
        return 1.0
    newest = latest_of_each(hand.gravities)
    known = [newest[cell].gravity_corrected if cell in newest else None for cell in bank.every_cell]
    if all(gravity is not None and gravity >= bank.full_gravity - NEARLY_FULL for gravity in known):
        return 1.0
    return max(share, gassing_share(volts, warmth, bank.capacity, view.current, AGED * EXCHANGE))


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
