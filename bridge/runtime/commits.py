"""What waits to be stored, when it is handed to the journal, and when the broker may forget it."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable

from bridge import clock as time_source
from bridge.clock import Clock, PacedClock
from bridge.journal.batch import Batch, not_yet_counted
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.runtime.engine import Engine
from rules.safety import DEGRADED, PROVED

#: Commit every so often [s] or after so many rows.
COMMIT_EVERY, ROWS = 10.0, 500
#: Commit before half of what the broker sends unacknowledged waits, or it would stop sending. Up to the first window a
#: handful of meters fills it: the oldest acknowledgement then waits no longer than this [s]. From the second on the
#: broker itself keeps a minute, and the card is written that seldom.
SMALL_WINDOW, ACK_AGE = 100, 1.0
LARGE_WINDOW, SPARING = 500, 60.0
#: With so many acknowledgements waiting the broker is to wait too: its own limit on what it sends before they come
#: cannot be relied on (mosquitto 2.0.11 forgets it after the first).
MOST_OWED = 1_000
#: While the journal does not answer at most so many raw messages are kept; then the oldest batch goes unstored.
MOST_WAITING = 50_000
#: The same in bytes of their payloads: commit with so many, and let the oldest go unstored with so many.
COMMIT_BYTES, MOST_BYTES = 4_000_000, 64_000_000
#: A snapshot of each bank at least so often [s].
SNAPSHOT_EVERY = 60.0
#: A journal so far behind does not answer [s].
LONGEST_LAG = 30.0
#: The disk has so long to answer before `history` messages are acknowledged anyway, and counted as unstored [s].
DISK_PATIENCE = 5.0


#: What is said of something that was done and could not be kept.
UNKEPT = "done, but the journal does not take it: free or replace the disk, or the next start may not know of it"


class Answer:
    """What a person is told of an act: after its commit, or that it could not be kept. Given once, by any thread."""

    def __init__(self, give: Callable[[bool], None]) -> None:
        self.asked_at = time_source.monotonic()
        self._give = give
        self._once = threading.Lock()

    def stored(self, error: Exception | None) -> None:
        """Note that the batch came back from the journal."""
        self.given(error is None)

    def given(self, kept: bool) -> bool:
        """Give it now, if it was not; whether it was given before."""
        if not self._once.acquire(blocking=False):
            return True
        self._give(kept)
        return False


class Storing:
    """What goes to the journal: collected, and acknowledged once it is stored, or could not be.

    Parameters
    ----------
    engine : Engine
        For the banks' snapshots.
    journal : Journal
        Its `on_done` is set to this.
    clock : Clock or PacedClock
        For the mark that rows carry while nobody vouches for the time.
    acknowledge : callable
        Tells the broker that it may forget a message.
    in_flight : int
        Messages that the broker sends before it waits for an acknowledgement.

    Attributes
    ----------
    batch : Batch
        Being filled.
    unstored : int
        Messages acknowledged without being stored, each counted once. One that the disk takes after all, when it
        answers again, stays counted.
    dated : bool
        The times in the batch are those of a trusted clock.
    """

    def __init__(
        self,
        engine: Engine,
        journal: Journal,
        clock: Clock | PacedClock,
        acknowledge: Callable[[Message], None],
        in_flight: int = 20,
    ) -> None:
        self.engine, self.journal, self.clock, self.acknowledge = engine, journal, clock, acknowledge
        self._most_acks = max(1, in_flight // 2)
        self._every = COMMIT_EVERY if in_flight < LARGE_WINDOW else SPARING
        self._ack_age = ACK_AGE if in_flight < SMALL_WINDOW else self._every
        self.batch = Batch()
        self._unstored_here = self._unstored_there = 0  # by the engine's thread, by the journal's
        self.dated = clock.trusted
        self._opened_at = time_source.monotonic()
        self._acks_since = 0.0
        self._snapshots_at = -SNAPSHOT_EVERY  # the first commit carries every bank's memory, on a new board as well
        self._answers: deque[Answer] = deque()
        journal.on_done = self._stored

    def owe(self, message: Message) -> None:
        """Owe the broker this message's acknowledgement until it is stored."""
        if not self.batch.acks:
            self._acks_since = time_source.monotonic()
        self.batch.acks.append(message)

    def answer_after(self, give: Callable[[bool], None]) -> None:
        """Tell a person how an act ended once what it changed is committed, or the disk has had its time.

        What changed nothing, a reading sent again among it, is answered with the batch under way, or at once.
        """
        if not len(self.batch) and self.journal.backlog == 0:
            give(self.storage[0] == PROVED)
            return
        answer = Answer(give)
        self.batch.after.append(answer.stored)
        self.batch.urgent = True  # somebody stands there and waits
        self._answers.append(answer)

    @property
    def storage(self) -> tuple[str, str]:
        """Whether what happens now is kept, and why not (`rules.safety.state`)."""
        state, why = self.journal.storage
        if state == PROVED and self.journal.lag > LONGEST_LAG:
            return DEGRADED, f"the disk has not answered for {LONGEST_LAG:.0f} s or longer"
        return state, why

    @property
    def unstored(self) -> int:
        """Messages acknowledged without being stored."""
        return self._unstored_here + self._unstored_there

    @property
    def behind(self) -> bool:
        """The journal is slower than the stream: no more is to be taken from the broker for now."""
        return len(self.batch.acks) >= MOST_OWED

    def commit(self, moment: float) -> None:
        """Hand over what is due at this moment of the host's clock [s, monotonic]."""
        batch = self.batch
        if not len(batch):
            self._opened_at = moment
            return
        due = self.journal.backlog == 0 and (
            len(batch.acks) >= self._most_acks
            or (bool(batch.acks) and moment - self._acks_since >= self._ack_age)
            or moment - self._opened_at >= self._every
            or len(batch.messages) + len(batch.derived) >= ROWS
            or batch.size >= COMMIT_BYTES
        )
        if not (due or batch.urgent):
            if len(batch.messages) > MOST_WAITING or batch.size > MOST_BYTES:
                self._give_up(batch)
            return
        changed = {event.bank for event in batch.events} if batch.urgent else set()
        if moment - self._snapshots_at >= SNAPSHOT_EVERY:
            changed = set(self.engine.banks)
            self._snapshots_at = moment
        self.submit(moment, changed & set(self.engine.banks))

    def submit(self, moment: float, snapshots: set[str]) -> None:
        """Hand over now, with the memory of these banks."""
        batch, self.batch = self.batch, Batch()
        batch.snapshots.update({bank: self.engine.snapshot(bank) for bank in snapshots})
        if not self.dated:
            batch.boot, batch.anchor = time_source.BOOT, self.clock.anchor
        self._opened_at = moment
        self.journal.submit(batch)

    def acknowledge_anyway(self, moment: float) -> None:
        """Acknowledge what waits too long for a disk that stands still, or no newer message would come."""
        while self._answers and moment - self._answers[0].asked_at > DISK_PATIENCE:
            self._answers.popleft().given(False)
        if self.journal.backlog == 0 and not self.batch.after:
            self._answers.clear()
        if self.journal.backlog == 0:
            return
        late = self.journal.overdue(DISK_PATIENCE)
        batch = self.batch
        if batch.acks and moment - self._acks_since > DISK_PATIENCE:
            late += batch.acks
            batch.acks = []
        self._unstored_here += len(late)
        for message in late:
            self.acknowledge(message)

    def _give_up(self, batch: Batch) -> None:
        """Acknowledge and count messages that the disk does not take, so that the broker goes on."""
        self._unstored_here += not_yet_counted(batch)
        for message in batch.acks:
            self.acknowledge(message)
        batch.messages.clear()
        batch.size = 0
        batch.readings.clear()
        batch.acks.clear()

    def _stored(self, batch: Batch, error: Exception | None) -> None:
        """Take note, in the journal's thread: committed, or given up after a bounded wait; either way acknowledged."""
        if error is not None:
            self._unstored_there += not_yet_counted(batch)
        for follow in batch.after:
            follow(error)
        for message in batch.acks:
            self.acknowledge(message)
