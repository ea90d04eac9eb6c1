"""A model of journal and outlet: random commits, redeliveries, failing disks, crashes and refusing servers.

A crash is a copy of the files as they lie on the disk while the journal is at rest, opened in place of the original:
what a process killed at that moment leaves behind. Kills in the middle of a commit are `tests/bench/journal_crash.py`.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
import threading
from collections.abc import Sequence
from contextlib import closing, suppress
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from bridge.journal import writer as writer_module
from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.schema import open_for_writing
from bridge.message import Message
from bridge.outlets.influx import InfluxOutlet
from bridge.outlets.influx_writer import Answer, Columns, InfluxWriter
from bridge.settings import InfluxSettings, JournalSettings
from rules.bank.model import Meter
from rules.events import Event, Reading
from tests.support.still_journal import StillJournal

T = 1_795_590_000.0
METERS = {"north": (Meter("voltage", "voltage"),)}


class Server(InfluxWriter):
    """The real splitting and counting, with a server in memory behind it."""

    def __init__(self) -> None:
        self.points: set[str] = set()
        self.answer = "accepted"
        self.bad: set[int] = set()
        self.since_start: set[str] = set()
        self.columns = Columns()

    def post(self, lines: Sequence[str]) -> Answer:
        """Refuse whole batches with a bad row in them; else as told."""
        if self.answer != "accepted":
            return Answer(self.answer, "as told")
        if any(_value(line) in self.bad for line in lines):
            return Answer("bad", "400 type conflict")
        self.points.update(lines)
        self.since_start.update(lines)
        return Answer("accepted")


def _value(line: str) -> int:
    return int(float(line.split("voltage_v=")[1].split(maxsplit=1)[0])) if "voltage_v=" in line else -1


class JournalMachine(RuleBasedStateMachine):
    """One bridge's storage through its life."""

    @initialize()
    def begin(self) -> None:
        """An empty folder."""
        writer_module.PATIENCE = 0.0
        self.folder = Path(tempfile.mkdtemp())
        self.lives = 0
        self.path = self.folder / "life0.db"
        self.server = Server()
        self.sent = 0
        self.acknowledged: set[int] = set()
        self.given_up: set[int] = set()
        self.stored: set[int] = set()
        self.refused: set[int] = set()
        self.latch = self.latch_owed = 0
        self.failing = False
        self._open()

    def _open(self) -> None:
        self.journal = StillJournal.open(JournalSettings(path=self.path), METERS)
        self.returned = threading.Semaphore(0)
        self.error: Exception | None = None
        self.journal.on_done = self._done
        settings_ = InfluxSettings("http://127.0.0.1:9", "hut", "revival", None)  # type: ignore[arg-type]
        self.outlet = InfluxOutlet(settings_, "hut", self.journal, lambda: True, far=20)
        self.server.since_start = set()
        self.server_killed = False

    def _done(self, batch: Batch, error: Exception | None) -> None:
        self.error = error
        self.returned.release()

    def _commit(self, batch: Batch) -> None:
        numbers = {int(message.payload) for message in batch.acks}
        self.journal.submit(batch)
        assert self.returned.acquire(timeout=30.0)
        self.acknowledged |= numbers
        if self.error is None:
            self.stored |= numbers
        else:
            self.given_up |= numbers

    def _batch(self, numbers: Sequence[int]) -> Batch:
        batch = Batch()
        for number in numbers:
            at = T + number
            message = Message("cabin/shunt", b"%d" % number, at, session="history", qos=1)
            batch.messages.append((message, at))
            batch.acks.append(message)
            if number not in self.stored:  # the engine tells repeats apart before the rules see them
                batch.readings.append(Reading("north", "voltage", float(number), at, at))
        return batch

    @rule(count=st.integers(1, 30), latch=st.booleans())
    def new_messages(self, count: int, latch: bool) -> None:
        """A batch arrives, perhaps with a trip."""
        batch = self._batch(range(self.sent, self.sent + count))
        self.sent += count
        if latch:
            self.latch_owed += 1
            batch.urgent = True
            batch.snapshots["north"] = str(self.latch_owed)
            batch.events.append(Event("north", "trip", T + self.sent, {"n": self.latch_owed}))
        self._commit(batch)
        if self.error is None:
            self.latch = self.latch_owed

    @rule(data=st.data())
    def redelivery(self, data: st.DataObject) -> None:
        """The broker sends some again."""
        if self.sent:
            numbers = data.draw(st.lists(st.integers(0, self.sent - 1), max_size=10, unique=True))
            self._commit(self._batch([number for number in numbers if number in self.stored]))

    @rule()
    def disk_fails(self) -> None:
        """From now on nothing can be written, however often the file is opened."""
        self.failing = True
        original = sqlite3.connect

        def open_read_only(path: Path, *, check: bool) -> tuple[sqlite3.Connection, bool, Path | None]:
            connection = original(path, isolation_level=None, check_same_thread=False)
            connection.execute("PRAGMA query_only = ON")
            return connection, False, None

        vars(writer_module)["open_for_writing"] = open_read_only
        with self.journal.between_turns() as connection:
            if connection is not None:
                connection.execute("PRAGMA query_only = ON")

    @rule()
    def disk_recovers(self) -> None:
        """What was owed is written by the next commit at the latest."""
        vars(writer_module)["open_for_writing"] = ORIGINAL
        if self.failing:
            self.failing = False
            self._commit(Batch(facts={"probe": "1"}))
            self._commit(Batch(facts={"probe": "2"}))
            assert self.error is None
            self.latch = self.latch_owed

    @rule(clean=st.booleans())
    def restart(self, clean: bool) -> None:
        """The process ends, by itself or not, and another begins on what lies on the disk."""
        self.disk_recovers()
        self.lives += 1
        image = self.folder / f"life{self.lives}.db"
        if not clean:
            self._copy(image)
        assert self.journal.close(20.0)
        if clean:
            self._copy(image)
        self.path = image
        self._open()
        assert self.journal.set_aside is None

    def _copy(self, image: Path) -> None:
        for ending in ("", "-wal"):
            with suppress(FileNotFoundError):
                shutil.copyfile(f"{self.path}{ending}", f"{image}{ending}")

    @rule(answer=st.sampled_from(["accepted", "accepted", "refused", "busy", "unreachable"]))
    def outlet_turns(self, answer: str) -> None:
        """The outlet looks once."""
        self.server.answer = answer
        self.outlet._watch(self.outlet._turn(self.server))

    @rule()
    def server_is_killed(self) -> None:
        """What it took in the last two minutes, all of this run here, is gone; it answers again later."""
        if not self.server_killed and self.outlet._positions and not self.outlet._away:
            self.server_killed = True
            self.server.points -= self.server.since_start
            self._commit(self._batch(range(self.sent, self.sent + 1)))  # something to notice it by
            self.sent += 1
            if self.error is None:
                self.outlet_turns("unreachable")
            else:
                self.outlet._watch(Answer("unreachable", "as told"))

    @rule(number=st.integers(0, 200))
    def a_row_is_bad(self, number: int) -> None:
        """The server will not take this value, unless it has it already."""
        if not any(_value(line) == number for line in self.server.points):
            self.server.bad.add(number)

    @rule()
    def outlet_catches_up(self) -> None:
        """With a willing server everything stored is there, but for what it refused."""
        self.disk_recovers()
        self.server.answer = "accepted"
        for _ in range(50):
            assert self.outlet._turn(self.server).kind == "accepted"
            if self.outlet.backlog == 0:
                break
        there = {_value(line) for line in self.server.points} - {-1}
        assert there == self.stored - self.server.bad

    @invariant()
    def what_was_acknowledged_is_stored_once_or_counted(self) -> None:
        """The promise to the broker."""
        if not hasattr(self, "path"):
            return
        with closing(sqlite3.connect(self.path)) as connection:
            numbers = [int(payload) for (payload,) in connection.execute("SELECT payload FROM message")]
        assert len(numbers) == len(set(numbers))
        assert set(numbers) == self.stored
        assert self.acknowledged == self.stored | self.given_up
        with JournalReader(self.path) as reader:
            assert int(reader.snapshots().get("north", "0")) >= self.latch
            trips = [event.detail["n"] for event in reader.events("north", 0, 4e9, ["trip"])]
        assert trips[: self.latch] == list(range(1, self.latch + 1))

    def teardown(self) -> None:
        """Leave nothing behind."""
        vars(writer_module)["open_for_writing"] = ORIGINAL
        writer_module.PATIENCE = PATIENCE
        if hasattr(self, "journal"):
            assert self.journal.close(20.0)
            shutil.rmtree(self.folder)


ORIGINAL, PATIENCE = open_for_writing, writer_module.PATIENCE

TestJournalWithCursors = JournalMachine.TestCase
TestJournalWithCursors.settings = settings(
    max_examples=60,
    stateful_step_count=30,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
