"""When a bank must be looked at again although nothing new comes in: a time, reckoned when something has changed.

What is decided by time alone is decided at a moment that is known beforehand: a meter falls silent, a cut must have
shown, a chore falls due. A second before the earliest of them changes nothing and costs next to nothing.

*Looked at every second all the same*: a bank with a hazard that waits or counts, and one whose proof test runs. *Every
ten seconds*: one whose charger may run, so that no cut rests on this list being complete. *Every minute*: every other.
Whoever adds a rule that goes by time alone adds its moment here; `tests/rules/step/test_quiet_second.py` folds the same
events with a look at every second beside it and compares.

*What needs each second and gets none*: the state that goes out. Its time, the ages in it and the values of flags that
only say for how long something is so are those of the last look; what the meters show is published apart, by the
bridge. Clocks of charge, hold and phase lose nothing: they count what lies between two samples, or two looks.
"""

from __future__ import annotations

from collections.abc import Iterator

from rules.advice import AMPS_STAND_FOR, STRINGS_GOOD_FOR, schedule
from rules.bank import Bank
from rules.bank_view import current_silence
from rules.laws import GAS_AFTER_CHARGE
from rules.meters import GRACE, HAND_GAP, STUCK_VOLTAGE, silence_limit, stands_too_long_at
from rules.safety import GRAVITY_GOOD_FOR, LONGEST_ROUND, interlock
from rules.step.memory import Memory
from rules.step.on_tick import LOOK_EVERY

#: A bank whose charger may run is looked at at least so often [s].
CHARGING_EVERY = 10.0
#: Five-minute means that may be younger than a voltage may stand [1]: two, and one at the edge.
TOO_YOUNG = 3
#: Sums of moments are off by less [s].
ROUNDING = 0.001


def next_look(bank: Bank, memory: Memory, at: float) -> float:
    """Return before which moment no rule says anything else, if nothing new comes in [s since the epoch].

    Parameters
    ----------
    bank : Bank
        As joined now.
    memory : Memory
        As the look at this moment leaves it.
    at : float
        Now [s since the epoch].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> from rules.step.memory import initial
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),))
    >>> next_look(bank, initial()._replace(observed_at=1795590000.0, began_at=1795590000.0), 1795590010.0)
    1795590059.999
    """
    if memory.pending or memory.interlock.proving:
        return 0.0
    latest = memory.observed_at + LOOK_EVERY
    if memory.interlock.allowed:
        latest = min(latest, at + CHARGING_EVERY)
    return min([latest, *[moment for moment in _moments(bank, memory, at) if moment >= at]]) - ROUNDING


def _moments(bank: Bank, memory: Memory, at: float) -> Iterator[float]:
    """Yield every moment at which time alone may change what is judged; of those long past nothing follows."""
    yield memory.began_at + GRACE
    counters, hand = memory.counters, memory.hand
    yield counters.current_at + current_silence(bank, memory.meters, counters)
    if counters.by_hand:
        yield counters.current_at + AMPS_STAND_FOR
    for name, trace in memory.meters.items():
        meter = bank.by_name.get(name)
        if meter is not None:
            yield trace.at + silence_limit(meter, trace)
            yield memory.began_at + max(GRACE, silence_limit(meter, trace))
            yield from stands_too_long_at(meter, trace)
    # The means of the last five minutes count as those of before a voltage stood still only once they are old enough.
    yield from [step.at + STUCK_VOLTAGE for step in memory.thermal.steps[-TOO_YOUNG:]]
    yield from (hand.voltage_at + HAND_GAP, hand.temperature_at + HAND_GAP, hand.case_at + HAND_GAP)
    yield hand.string_amps_at + STRINGS_GOOD_FOR
    yield from [entry.taken_at + GRAVITY_GOOD_FOR for entry in hand.gravities]
    yield memory.charged_at + 3600.0 * GAS_AFTER_CHARGE
    yield (memory.phase.started_at or 0.0) + LONGEST_ROUND
    yield from [chore.due_at for chore in schedule(bank, counters, memory.phase, hand, at).values()]
    yield from interlock.moments(bank, memory.interlock)
