"""What is acknowledged without being stored is counted, and each message once."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import pytest

import bridge.clock
import bridge.runtime.commits
from bridge.clock import ToldClock
from bridge.journal.batch import Batch
from bridge.message import Message
from bridge.runtime.commits import DISK_PATIENCE, Storing


class FrozenDisk:
    """A journal that takes batches and does not answer until it is told how they ended."""

    def __init__(self) -> None:
        self.waiting: list[Batch] = []
        self.on_done: Callable[[Batch, Exception | None], object] = lambda _batch, _error: None

    @property
    def backlog(self) -> int:
        return len(self.waiting)

    def submit(self, batch: Batch) -> None:
        self.waiting.append(batch)

    def overdue(self, limit: float) -> list[Message]:
        taken = [message for batch in self.waiting for message in batch.acks]
        for batch in self.waiting:
            batch.acks = []
        return taken

    def answer(self, error: Exception | None) -> None:
        while self.waiting:
            self.on_done(self.waiting.pop(0), error)


class Desk:
    """`Storing` on a frozen disk; the moment is told."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, in_flight: int = 20) -> None:
        self.moment = 1000.0
        monkeypatch.setattr(bridge.clock, "monotonic", lambda: self.moment)
        self.disk, self.acknowledged = FrozenDisk(), list[int]()
        engine = SimpleNamespace(banks={}, snapshot=lambda bank: "")
        self.storing = Storing(
            engine,  # type: ignore[arg-type]
            self.disk,  # type: ignore[arg-type]
            ToldClock(),
            lambda message: self.acknowledged.append(message.mid),
            in_flight,
        )
        self.storing.commit(self.moment)

    def hear(self, *numbers: int, session: str = "history") -> None:
        for number in numbers:
            message = Message("cabin/shunt", b"{}", 0.0, False, session, number, 1)
            self.storing.batch.messages.append((message, 0.0))
            if session == "history":
                self.storing.owe(message)


@pytest.fixture
def desk(monkeypatch: pytest.MonkeyPatch) -> Desk:
    return Desk(monkeypatch)


@pytest.mark.parametrize(("error", "counted"), [(OSError("I/O error"), 5), (None, 3)])
def test_a_message_acknowledged_while_the_disk_stood_still_is_not_counted_again_when_its_batch_fails(
    desk: Desk, error: Exception | None, counted: int
) -> None:
    desk.hear(1, 2, 3)
    desk.hear(4, 5, session="live")
    desk.storing.submit(desk.moment, set())
    desk.storing.acknowledge_anyway(desk.moment)
    assert (desk.storing.unstored, desk.acknowledged) == (3, [1, 2, 3])
    desk.disk.answer(error)
    assert (desk.storing.unstored, desk.acknowledged) == (counted, [1, 2, 3])


def test_what_waits_behind_a_disk_that_stands_still_is_acknowledged_and_counted_once_too(desk: Desk) -> None:
    desk.hear(1)
    desk.storing.submit(desk.moment, set())
    desk.hear(2, 3)
    desk.moment += DISK_PATIENCE + 0.1
    desk.storing.acknowledge_anyway(desk.moment)
    assert (desk.storing.unstored, desk.acknowledged) == (3, [1, 2, 3])
    desk.hear(4)
    desk.storing.submit(desk.moment, set())
    desk.disk.answer(OSError("I/O error"))
    assert (desk.storing.unstored, desk.acknowledged) == (4, [1, 2, 3, 4])


def test_when_too_much_waits_for_the_disk_the_oldest_goes_and_is_counted_once(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bridge.runtime.commits, "MOST_WAITING", 3)
    desk.hear(1)
    desk.storing.submit(desk.moment, set())
    desk.hear(2, 3)
    desk.moment += DISK_PATIENCE + 0.1
    desk.storing.acknowledge_anyway(desk.moment)
    desk.hear(4, 5)
    desk.storing.commit(desk.moment)
    assert (desk.storing.unstored, desk.acknowledged) == (5, [1, 2, 3, 4, 5])
    assert not desk.storing.batch.messages


def test_a_batch_that_is_stored_in_time_is_acknowledged_and_counts_nothing(desk: Desk) -> None:
    desk.hear(1, 2)
    desk.storing.submit(desk.moment, set())
    desk.disk.answer(None)
    assert (desk.storing.unstored, desk.acknowledged) == (0, [1, 2])


@pytest.mark.parametrize(
    ("in_flight", "waiting", "age", "commits"),
    [
        (1, 1, 0.0, True),
        (3, 1, 0.0, True),
        (20, 9, 0.5, False),
        (20, 10, 0.0, True),
        (20, 1, 1.0, True),
        (200, 80, 9.0, False),
        (200, 100, 0.0, True),
        (200, 1, 10.0, True),
        (1000, 470, 59.0, False),
        (1000, 1, 60.0, True),
    ],
)
def test_acknowledgements_wait_as_long_as_the_brokers_window_allows(
    monkeypatch: pytest.MonkeyPatch, in_flight: int, waiting: int, age: float, commits: bool
) -> None:
    desk = Desk(monkeypatch, in_flight)
    desk.hear(*range(waiting))
    desk.moment += age
    desk.storing.commit(desk.moment)
    assert bool(desk.disk.waiting) is commits


def test_with_a_broker_that_sends_one_at_a_time_what_needs_no_acknowledgement_still_waits(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    desk = Desk(monkeypatch, 1)
    desk.hear(1, session="live")
    desk.storing.commit(desk.moment)
    assert not desk.disk.waiting
