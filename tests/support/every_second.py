"""A look at every second beside a fold that looks only when something falls due: no second that is left out may matter.

As a plugin it watches whatever a test run folds, through the rules' door or an engine:
``python -m pytest -p tests.support.every_second tests/moments tests/rules tests/faults``.
"""

from __future__ import annotations

import sys
from types import ModuleType

from bridge.runtime import engine
from rules.bank import Bank
from rules.events import Derived, Incoming, Outcome, Tick
from rules.step import Memory
from rules.step.door import fold, step
from rules.step.judge import Looked


def of_note(memory: Memory) -> Memory:
    """Return a memory without what a look that changes nothing renews: its own time, and for how long flags are up."""
    flags = {name: flag._replace(value=None) for name, flag in memory.flags.items()}
    return memory._replace(flags=flags, judged_at=0.0, shown_at=0.0, due_at=0.0, heard=False)


def looked_at(bank: Bank, memory: Memory, at: float) -> tuple[Memory, tuple[Outcome, ...]]:
    """Fold a second that is looked at whether anything is due or not [s since the epoch]."""
    return step(bank, memory._replace(due_at=0.0), Tick(at))


def compared(bank: Bank, memory: Memory, at: float) -> None:
    """Assert of a second that passed without a look [s since the epoch] that a look would have changed nothing."""
    looked, told = looked_at(bank, memory, at)
    assert [each for each in told if type(each) is not Derived] == [], "something was due"
    assert of_note(looked) == of_note(memory), "something has changed"
    WATCHED[0] += 1


def watched(bank: Bank, memory: Memory, event: Incoming) -> tuple[Memory, tuple[Outcome, ...]]:
    """Fold one event as `step` does, and compare a second that is not looked at."""
    after, outcomes = step(bank, memory, event)
    if type(event) is Tick and after is memory:
        assert not outcomes
        compared(bank, memory, event.at)
    return after, outcomes


def folded(bank: Bank, memory: Memory, event: Incoming) -> Looked:
    """Fold one event as an engine does, and compare a second that is not looked at."""
    after, outcomes = fold(bank, memory, event)
    if type(event) is Tick and after is memory:
        compared(bank, memory, event.at)
    return after, outcomes


#: The door itself folds plainly.
DOOR = "rules.step.door"
#: Seconds that passed without a look, each compared with one that was looked at.
WATCHED = [0]


def pytest_collection_finish() -> None:
    """Put the watched fold in the place of the plain one, wherever it was imported."""
    for module in list(sys.modules.values()):
        if isinstance(module, ModuleType) and getattr(module, "step", None) is step and module.__name__ != DOOR:
            vars(module)["step"] = watched
    vars(engine)["fold"] = folded
    # Or it would not come to the seconds in which nothing is due.
    vars(engine)["quiet_until"] = lambda memory: 0.0


def pytest_terminal_summary(terminalreporter: object) -> None:
    """Say how many seconds were compared, so that none is not taken for all."""
    print(f"\n{WATCHED[0]} seconds without a look would have changed nothing")
