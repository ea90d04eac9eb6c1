"""The door of events: a bank, its memory and one event go in; new memory and what follows come out."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from rules.bank import Arrangement, Bank, arranged
from rules.events import Command, Derived, HandReading, Incoming, Outcome, Reading, Tick, Unreadable
from rules.step.derived_state import Standing, derive, metered
from rules.step.judge import Looked, judge, look_in
from rules.step.memory import Memory, view_of
from rules.step.on_command import act
from rules.step.on_hand_reading import record
from rules.step.on_reading import sample, unreadable


@lru_cache(maxsize=512)
def as_joined(bank: Bank, arrangement: Arrangement) -> Bank:
    """Return the bank as its blocks are joined now."""
    return arranged(bank, arrangement)


def step(bank: Bank, memory: Memory, event: Incoming) -> tuple[Memory, tuple[Outcome, ...]]:
    """Fold one event into a bank's memory, and put together what is to be said of it.

    Pure: the same bank, memory and event give the same answer, live and in replay.

    Parameters
    ----------
    bank : Bank
        As configured.
    memory : Memory
        From `rules.step.memory.initial`, the last step, or a snapshot.
    event : Reading, Unreadable, Tick, Command or HandReading
        What happened; `at` never runs backward.

    Returns
    -------
    tuple
        New memory, and outcomes in the order in which they must be carried out: orders first.

    Raises
    ------
    KeyError
        A reading of a meter that the bank does not have.

    Examples
    --------
    A bank nothing is known of is idle, and may not be charged:

    >>> from rules.bank.model import Block
    >>> from rules.step.memory import initial
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),))
    >>> memory, outcomes = step(bank, initial(), Tick(1795590000.0))
    >>> outcomes[-1].phase, outcomes[-1].charge_allowed
    ('idle', False)
    """
    memory, outcomes = fold(bank, memory, event)
    return memory, tuple([derived(each) if isinstance(each, Standing) else each for each in outcomes])


def derived(due: Standing) -> Derived:
    """Put a state together that is due."""
    return derive(*due)


def fold(bank: Bank, memory: Memory, event: Incoming) -> Looked:
    """Fold one event as `step` does; a state that is due is not put together, for not everybody wants each of them."""
    configured = bank
    if memory.arrangement is not None:
        bank = as_joined(bank, memory.arrangement)
    if type(event) is Reading:
        memory, urgent = sample(bank, memory, event)
        return _judged_anew(bank, memory, event.at) if urgent else (memory, ())
    if type(event) is Unreadable:
        return unreadable(bank, memory, event), ()
    if type(event) is Tick:
        return look_in(bank, memory, event.at)
    if type(event) is Command:
        memory, outcomes = act(configured, bank, memory, event)
        if memory.arrangement is not None:
            bank = as_joined(configured, memory.arrangement)
        memory, judged = _judged_anew(bank, memory, event.at)
        return memory, _orders_first((*outcomes, *judged))
    assert type(event) is HandReading
    memory, outcomes = record(configured, bank, memory, event)
    memory, judged = _judged_anew(bank, memory, event.at)
    return memory, _orders_first((*outcomes, *judged))


def _judged_anew(bank: Bank, memory: Memory, at: float) -> Looked:
    """Judge at once, and reckon anew what falls due next: what a person or a relay did may change all of it."""
    memory = memory._replace(due_at=0.0)
    return judge(bank, memory, view_of(bank, memory, at), at)


def _orders_first(outcomes: tuple[Outcome | Standing, ...]) -> tuple[Outcome | Standing, ...]:
    return tuple(sorted(outcomes, key=lambda outcome: not hasattr(outcome, "action")))


def measured(bank: Bank, memory: Memory, at: float) -> dict[str, Any]:
    """Return what the meters show now, under the fields of a `Derived`: what changes faster than a state is due.

    Parameters
    ----------
    bank : Bank
        As configured.
    memory : Memory
        With the newest readings in it.
    at : float
        Now [s since the epoch].

    Returns
    -------
    dict
        Field -> value, `None` where no meter tells it that is fresh and believed; units as in `Derived`.
    """
    if memory.arrangement is not None:
        bank = as_joined(bank, memory.arrangement)
    return metered(view_of(bank, memory, at), memory.counters)
