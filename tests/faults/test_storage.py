"""Faults F41 to F52 and F58 where they concern the journal and the time-series outlet: real SQLite, real HTTP.

What cannot be produced without the right to mount: a read-only remount is SQLite's own refusal to write
(``query_only``), a full disk is a page limit in SQLite and, in a process of its own, a limit of the kernel on the
size of a file. A power cut is a process killed with SIGKILL: what the kernel holds survives it, so that the order of
flushes (synchronous=FULL) is asserted beside it.
"""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from influxdb_client.rest import ApiException
from pydantic import SecretStr
from urllib3 import HTTPHeaderDict

from bridge.errors import JournalError
from bridge.journal import schema
from bridge.journal import writer as writer_module
from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.schema import open_for_writing
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.outlets.influx import InfluxOutlet
from bridge.outlets.influx_writer import LONGEST, read_answer
from bridge.settings import InfluxSettings, JournalSettings
from rules.bank.model import Meter
from rules.events import Derived, Event, Reading
from tests.support.brokers import wait_until
from tests.support.http_faults import FaultyDatabase, Reply
from tests.support.still_journal import StillJournal

METERS = {"north": (Meter("voltage", "voltage"),)}
T = 1_795_590_000.0
ROOT = Path(__file__).parents[2]


def message(number: int, at: float = T, size: int = 0) -> Message:
    return Message("cabin/shunt", b"%d" % number + b" " * size, at, session="history", mid=number, qos=1)


def stamped(first: int, count: int, size: int = 0) -> Batch:
    """A batch of numbered messages that carry their own time, each to be acknowledged."""
    sent = [message(number, T + number / 10, size) for number in range(first, first + count)]
    return Batch(messages=[(one, one.at) for one in sent], acks=sent)


def readings(first: int, count: int) -> Batch:
    return Batch(readings=[Reading("north", "voltage", float(n), T + n, T + n) for n in range(first, first + count)])


class Desk:
    """A journal and what came back from it."""

    def __init__(self, path: Path, **settings: object) -> None:
        self.path = path
        self.journal = StillJournal.open(JournalSettings(path=path, **settings), METERS)  # type: ignore[arg-type]
        self.done: list[tuple[Batch, Exception | None]] = []
        self._returned = threading.Semaphore(0)
        self.journal.on_done = self._on_done

    def _on_done(self, batch: Batch, error: Exception | None) -> None:
        self.done.append((batch, error))
        self._returned.release()

    def commit(self, batch: Batch) -> Exception | None:
        self.journal.submit(batch)
        assert self._returned.acquire(timeout=60.0), "the journal did not hand the batch back"
        return self.done[-1][1]

    @contextmanager
    def connection(self) -> Iterator[sqlite3.Connection]:
        """The journal's own, while its thread stands between two turns."""
        with self.journal.between_turns() as connection:
            assert connection is not None
            yield connection

    def reader(self) -> JournalReader:
        return JournalReader(self.path)


@pytest.fixture
def make_desk(tmp_path: Path) -> Iterator[Callable[..., Desk]]:
    desks: list[Desk] = []

    def make(name: str = "revival.db", **settings: object) -> Desk:
        desks.append(Desk(tmp_path / name, **settings))
        return desks[-1]

    yield make
    for desk in desks:
        assert desk.journal.close(20.0)


@pytest.fixture
def database() -> Iterator[FaultyDatabase]:
    running = FaultyDatabase()
    yield running
    running.close()


@pytest.fixture
def follow(database: FaultyDatabase) -> Iterator[Callable[..., InfluxOutlet]]:
    outlets: list[InfluxOutlet] = []

    def start(journal: Journal, **options: object) -> InfluxOutlet:
        settings = InfluxSettings(database.url, "hut", "revival", SecretStr("a-secret-token"))
        quick = {"look": 0.02, "drain": 0.02, "refused": 0.2, "trusted": lambda: True, **options}
        outlets.append(InfluxOutlet(settings, "tarn-hut", journal, **quick))  # type: ignore[arg-type]
        outlets[-1].start()
        return outlets[-1]

    yield start
    for outlet in outlets:
        assert outlet.stop(20.0)


# -------------------------------------------------------------------------- the time-series database


def test_f41_after_an_outage_the_newest_goes_first_and_everything_arrives(
    make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    desk = make_desk()
    database.script = lambda lines: Reply(502)
    outlet = follow(desk.journal, far=5000, drain=0.5)
    desk.commit(readings(0, 12_000))
    wait_until(lambda: outlet.state == "unreachable", 20.0)
    database.script = lambda lines: Reply()
    wait_until(lambda: outlet.state == "draining", 20.0)
    desk.commit(readings(20_000, 1))
    wait_until(lambda: 20_000.0 in database.values("bank_reading", "voltage_v"), 20.0)
    live_after = database.order.index(next(line for line in database.order if "voltage_v=20000.0" in line))
    wait_until(lambda: outlet.state == "up to date", 60.0)
    assert live_after < 12_000, "live data waited for the backlog"
    assert database.values("bank_reading", "voltage_v") == [*map(float, range(12_000)), 20_000.0]
    assert outlet.backlog == 0


def test_f41_the_journal_keeps_to_its_size_thins_the_oldest_raw_first_and_counts(
    make_desk: Callable[..., Desk],
) -> None:
    desk = make_desk(at_most=3_000_000)
    desk.commit(Batch(events=[Event("north", "trip", T)], urgent=True))
    for part in range(40):
        desk.commit(stamped(part * 200, 200, size=1000))
        desk.commit(readings(part * 200, 200))
    wait_until(lambda: desk.journal.thinned > 0 and desk.journal._retention.size <= 3_000_000, 30.0)
    with closing(desk.reader()) as reader:
        kept = [int(one.payload) for one, _ in reader.messages(0, T + 1e6)]
        assert kept == list(range(kept[0], 8000))
        assert kept[0] == desk.journal.thinned
        assert len(reader.after("reading", 0, 10_000)) == 8000
        assert len(reader.events("north", 0, T + 1)) == 1


def test_f41_rows_older_than_the_owner_wants_are_removed(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk(keep=3600.0)
    desk.commit(stamped(0, 10))
    desk.commit(readings(0, 10))
    late = message(99, T + 2 * 3600)
    desk.commit(Batch(messages=[(late, late.at)], readings=[Reading("north", "voltage", 1.0, late.at, late.at)]))

    def left() -> tuple[int, int]:
        with closing(desk.reader()) as reader:
            return len(list(reader.messages(0, T + 1e6))), len(reader.after("reading", 0, 100))

    wait_until(lambda: left() == (1, 1), 20.0)
    assert desk.journal.thinned == 0  # age is what the owner asked for, not a loss


@pytest.mark.parametrize("status", [400, 422])
def test_f42_one_bad_point_is_quarantined_with_the_servers_words_and_the_rest_goes_on(
    status: int, make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    def script(lines: list[str]) -> Reply:
        bad = any("voltage_v=77.0" in line for line in lines)
        return Reply(status, "field type conflict: voltage_v is already an integer") if bad else Reply()

    database.script = script
    desk = make_desk()
    desk.commit(readings(0, 200))
    outlet = follow(desk.journal)
    wait_until(lambda: outlet.sent == 200, 30.0)
    assert outlet.rejected == 1
    assert database.values("bank_reading", "voltage_v") == [float(n) for n in range(200) if n != 77]
    desk.commit(readings(200, 1))
    with closing(sqlite3.connect(desk.path)) as connection:
        ((outlet_name, line, words),) = connection.execute("SELECT outlet, line, words FROM rejected").fetchall()
    assert outlet_name == "influx"
    assert "voltage_v=77.0" in line
    assert words == f"{status} field type conflict: voltage_v is already an integer"


def test_f42_a_server_that_answers_400_to_everything_is_waited_for_and_costs_no_row(
    make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    database.script = lambda lines: Reply(400, "what?")
    desk = make_desk()
    desk.commit(readings(0, 100))
    outlet = follow(desk.journal, refused=0.05)
    wait_until(lambda: outlet.state == "refused", 30.0)
    assert outlet.rejected == 0
    database.script = lambda lines: Reply()
    wait_until(lambda: outlet.state == "up to date", 30.0)
    assert database.values("bank_reading", "voltage_v") == [float(n) for n in range(100)]


def test_f43_points_older_than_the_buckets_retention_are_counted_once_and_never_sent_again(
    make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    def script(lines: list[str]) -> Reply:
        old = sum(float(line.split("voltage_v=")[1].split()[0]) < 50 for line in lines)
        return (
            Reply(422, f"partial write: points beyond retention policy dropped={old}", store=True) if old else Reply()
        )

    database.script = script
    desk = make_desk()
    desk.commit(readings(0, 100))
    outlet = follow(desk.journal)
    wait_until(lambda: outlet.sent == 100, 30.0)
    desk.commit(readings(100, 1))
    wait_until(lambda: outlet.sent == 101, 30.0)
    assert outlet.rejected == 50
    assert len(database.requests) == 2


@pytest.mark.parametrize("words", ['field type conflict: input field "temperature_c" on measurement', "no"])
def test_a_refused_column_costs_its_own_values_and_no_row(
    words: str, make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    database.script = lambda lines: Reply(400, words) if any("temperature_c=" in line for line in lines) else Reply()
    desk = make_desk()
    states = [Derived("north", T + 10.0 * n, voltage=float(n), temperature=20.0, phase="bulk") for n in range(60)]
    desk.commit(Batch(derived=states))
    outlet = follow(desk.journal)
    wait_until(lambda: outlet.state == "up to date" and outlet.sent >= 60, 60.0)
    assert database.values("bank_state", "voltage_v") == [float(n) for n in range(60)]
    assert database.values("bank_state", "phase_number") == [3.0] * 60
    assert outlet.rejected == 60
    requests = len(database.requests)
    assert requests < 200, "soon the column is left out beforehand"
    desk.commit(Batch(derived=[Derived("north", T + 10.0 * n, voltage=float(n), temperature=20.0) for n in (60, 61)]))
    wait_until(lambda: 61.0 in database.values("bank_state", "voltage_v"), 30.0)
    wait_until(lambda: outlet.rejected == 62, 10.0)
    with closing(sqlite3.connect(desk.path)) as connection:
        lines = [line for (line,) in connection.execute("SELECT line FROM rejected")]
    assert lines and all("temperature_c=20.0" in line and "voltage_v" not in line for line in lines)


def test_after_a_server_was_killed_the_last_two_minutes_are_sent_again_once(
    make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    desk = make_desk()
    outlet = follow(desk.journal)
    desk.commit(readings(0, 50))
    wait_until(lambda: outlet.sent == 50, 30.0)
    database.points.clear()  # it had them in memory only
    database.script = lambda lines: Reply(502)
    desk.commit(readings(50, 1))
    wait_until(lambda: outlet.state == "unreachable" and outlet.backlog == 51, 30.0)
    assert outlet.status()["backlog"] == 51
    database.script = lambda lines: Reply()
    wait_until(lambda: outlet.state == "up to date", 30.0)
    assert database.values("bank_reading", "voltage_v") == [float(n) for n in range(51)]
    assert outlet.sent == 101 and outlet.backlog == 0


@pytest.mark.parametrize("status", [401, 403, 404])
def test_f44_a_revoked_token_or_missing_bucket_keeps_the_data_and_logs_one_line(
    status: int,
    make_desk: Callable[..., Desk],
    database: FaultyDatabase,
    follow: Callable[..., InfluxOutlet],
    caplog: pytest.LogCaptureFixture,
) -> None:
    database.script = lambda lines: Reply(status, "no")
    desk = make_desk()
    desk.commit(readings(0, 10))
    outlet = follow(desk.journal, refused=0.05)
    wait_until(lambda: len(database.requests) >= 4, 30.0)
    assert outlet.state == "refused"
    assert len([record for record in caplog.records if "refused" in record.getMessage()]) == 1
    assert "a-secret-token" not in caplog.text  # F60
    database.script = lambda lines: Reply()
    wait_until(lambda: outlet.state == "up to date", 30.0)
    assert database.values("bank_reading", "voltage_v") == [float(n) for n in range(10)]
    assert outlet.rejected == 0


@pytest.mark.parametrize("status", [429, 503])
def test_f45_retry_after_is_honoured(
    status: int, make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    times: list[float] = []

    def script(lines: list[str]) -> Reply:
        times.append(time.monotonic())
        return Reply(status, "later", {"Retry-After": "1"}) if len(times) == 1 else Reply()

    database.script = script
    desk = make_desk()
    desk.commit(readings(0, 10))
    outlet = follow(desk.journal)
    wait_until(lambda: outlet.sent == 10, 30.0)
    assert times[1] - times[0] >= 1.0


def test_f45_retry_after_has_a_ceiling() -> None:
    error = ApiException(status=503, reason="later")
    error.headers = HTTPHeaderDict({"Retry-After": "86400"})
    answer = read_answer(error)
    assert (answer.kind, answer.wait) == ("busy", LONGEST)


@pytest.mark.parametrize("reply", [Reply(204, delay=1.5), Reply(204, cut=True)], ids=["slow", "cut"])
def test_f45_a_write_whose_answer_was_lost_is_repeated_and_overwrites_itself(
    reply: Reply, make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    database.script = lambda lines: reply if len(database.requests) == 1 else Reply()
    desk = make_desk()
    desk.commit(readings(0, 10))
    outlet = follow(desk.journal, timeout=(0.5, 0.5))
    wait_until(lambda: outlet.sent == 10, 30.0)
    assert len(database.requests) == 2
    assert database.values("bank_reading", "voltage_v") == [float(n) for n in range(10)]


def test_f45_a_batch_too_large_for_the_server_is_split(
    make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    database.script = lambda lines: Reply(413, "too large") if len(lines) > 30 else Reply()
    desk = make_desk()
    desk.commit(readings(0, 200))
    outlet = follow(desk.journal)
    wait_until(lambda: outlet.sent == 200, 30.0)
    assert outlet.rejected == 0
    assert database.values("bank_reading", "voltage_v") == [float(n) for n in range(200)]


def test_writes_are_compressed_and_name_bucket_organisation_and_precision(
    make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    desk = make_desk()
    desk.commit(readings(0, 10))
    follow(desk.journal)
    wait_until(lambda: database.requests, 30.0)
    path, headers, _ = database.requests[0]
    assert path == "/api/v2/write?org=hut&bucket=revival&precision=us"
    assert headers["Content-Encoding"] == "gzip"
    assert headers["Authorization"] == "Token a-secret-token"


# -------------------------------------------------------------------------- the disk


def make_disk_fail(desk: Desk, how: str) -> None:
    """The journal's own connection meets the fault; the next one that is opened does not, until told."""
    with desk.connection() as connection:
        if how == "full":
            pages = connection.execute("PRAGMA page_count").fetchone()[0]
            connection.execute(f"PRAGMA max_page_count = {pages}")
        else:
            connection.execute("PRAGMA query_only = ON")


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Every connection that is opened from now on meets the fault too; call with "" to heal."""
    original = open_for_writing

    def fail(how: str) -> None:
        def opened(path: Path, *, check: bool) -> tuple[sqlite3.Connection, bool, Path | None]:
            result = original(path, check=check)
            if how == "full":
                pages = result[0].execute("PRAGMA page_count").fetchone()[0]
                result[0].execute(f"PRAGMA max_page_count = {pages}")
            elif how == "read-only":
                result[0].execute("PRAGMA query_only = ON")
            elif how == "I/O error":
                result[0].close()
                raise sqlite3.OperationalError("disk I/O error")
            return result

        monkeypatch.setattr(writer_module, "open_for_writing", opened)

    return fail


@pytest.mark.parametrize(("how", "words"), [("full", "full"), ("read-only", "readonly"), ("I/O error", "I/O error")])
def test_f46_a_failing_disk_hands_batches_back_after_a_bounded_wait_and_is_owed_what_matters(
    how: str,
    words: str,
    make_desk: Callable[..., Desk],
    failing: Callable[[str], None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(writer_module, "PATIENCE", 0.5)
    desk = make_desk()
    assert desk.commit(stamped(0, 10)) is None
    make_disk_fail(desk, how)
    failing(how)
    trip = Batch(events=[Event("north", "trip", T)], snapshots={"north": "tripped"}, urgent=True)
    lost = stamped(10, 2000, size=500)
    lost.events, lost.snapshots = trip.events, trip.snapshots
    error = desk.commit(lost)
    assert error is not None
    assert words in desk.journal.degraded
    assert desk.journal.unstored == 2000
    assert len(desk.done[-1][0].acks) == 2000  # the engine acknowledges them all the same
    assert desk.journal.backlog == 0
    began = time.monotonic()
    assert desk.commit(stamped(3000, 500, size=500)) is not None
    assert time.monotonic() - began < 15.0  # nobody waits the whole patience for each batch of a disk known to fail
    failing("")
    wait_until(lambda: desk.journal.degraded == "", 30.0)
    with closing(desk.reader()) as reader:
        assert [event.kind for event in reader.events("north", 0, T + 1)] == ["trip"]
        assert reader.snapshots() == {"north": "tripped"}
    assert desk.commit(stamped(5000, 1)) is None


def test_f46_on_a_full_disk_the_newest_takes_the_place_of_the_oldest_raw(
    make_desk: Callable[..., Desk], failing: Callable[[str], None]
) -> None:
    desk = make_desk()
    assert desk.commit(stamped(0, 5000, size=500)) is None
    failing("full")
    make_disk_fail(desk, "full")
    for part in range(10):
        assert desk.commit(stamped(5000 + part * 300, 300, size=500)) is None
    assert desk.journal.thinned >= 2000
    assert desk.journal.unstored == 0
    with closing(desk.reader()) as reader:
        kept = [int(one.payload) for one, _ in reader.messages(0, T + 1e6)]
    assert kept == list(range(kept[0], 8000))


def test_f46_a_disk_that_does_not_answer_at_all_gives_the_acknowledgements_back(
    make_desk: Callable[..., Desk],
) -> None:
    desk = make_desk()
    answering = threading.Event()
    with desk.connection() as connection:
        connection.create_function("stand_still", 0, answering.wait)
        connection.execute("CREATE TEMP TRIGGER frozen AFTER INSERT ON main.event BEGIN SELECT stand_still(); END")
    batch = stamped(0, 10)
    batch.events = [Event("north", "note", T)]
    expected = list(batch.acks)
    desk.journal.submit(batch)
    wait_until(lambda: desk.journal.lag > 0.3, 10.0)
    assert desk.journal.overdue(60.0) == []
    assert desk.journal.overdue(0.2) == expected
    assert desk.journal.overdue(0.2) == []
    answering.set()
    wait_until(lambda: desk.done, 20.0)
    assert desk.done == [(batch, None)]
    assert batch.acks == []


def test_f46_what_was_given_back_and_is_then_not_stored_is_counted_once(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    answering = threading.Event()
    frozen = "BEGIN SELECT stand_still(); SELECT RAISE(ABORT, 'no'); END"
    with desk.connection() as connection:
        connection.create_function("stand_still", 0, answering.wait)
        connection.execute(f"CREATE TEMP TRIGGER frozen AFTER INSERT ON main.event {frozen}")
    batch = stamped(0, 10)
    batch.events = [Event("north", "note", T)]
    desk.journal.submit(batch)
    wait_until(lambda: desk.journal.lag > 0.3, 10.0)
    assert len(desk.journal.overdue(0.2)) == 10
    answering.set()
    wait_until(lambda: desk.done, 20.0)
    assert desk.done[0][1] is not None
    assert desk.journal.unstored == 10


def test_f46_a_journal_that_cannot_be_opened_is_degraded_and_tried_again(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "card" / "revival.db")
    assert desk.journal.degraded
    assert not desk.journal.fresh
    assert desk.journal.snapshots() == {}
    (tmp_path / "card").mkdir()
    wait_until(lambda: desk.journal.degraded == "", 30.0)
    assert desk.commit(stamped(0, 1)) is None
    assert desk.journal.close(10.0)


def test_f46_a_kernel_limit_on_the_file_is_survived_by_a_whole_process(tmp_path: Path) -> None:
    program = """
import resource, sys, threading
from pathlib import Path
from bridge.journal import writer
from bridge.journal.batch import Batch
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.settings import JournalSettings
writer.PATIENCE = 0.5
resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, resource.RLIM_INFINITY))
journal = Journal.open(JournalSettings(path=Path(sys.argv[1])), {})
returned, errors = threading.Semaphore(0), []
def done(batch, error):
    errors.append(error)
    returned.release()
journal.on_done = done
def commit(count):
    journal.submit(Batch(messages=[(Message("t", b"x" * 1000, 1.0 + n), None) for n in range(count)]))
    assert returned.acquire(timeout=60)
    return errors[-1]
assert commit(10) is None
assert commit(3000) is not None, "the limit did not bite"
assert journal.degraded, "not degraded"
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
assert commit(10) is None, errors
assert journal.degraded == ""
assert journal.close(20)
print("survived")
"""
    finished = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path / "revival.db")],
        capture_output=True, text=True, timeout=120, cwd=ROOT, check=False,
    )  # fmt: skip
    assert finished.stdout == "survived\n", finished.stderr


def damage(path: Path) -> None:
    """Overwrite the middle of the file, as a dying memory card does."""
    size = path.stat().st_size
    with path.open("r+b") as file:
        for offset in range(4096, size, 8192):
            file.seek(offset)
            file.write(b"\xa5" * 2000)


def damage_raw_messages(path: Path) -> None:
    """Overwrite the first page of the raw messages alone: everything that a start reads is whole."""
    with closing(sqlite3.connect(path)) as connection:
        (page,) = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'message'").fetchone()
        (size,) = connection.execute("PRAGMA page_size").fetchone()
    with path.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\xa5" * size)


@pytest.mark.parametrize("how", ["pages", "raw messages", "header", "not a database"])
def test_f47_a_damaged_journal_is_set_aside_with_a_dated_name_and_a_new_one_begun(
    how: str, make_desk: Callable[..., Desk], tmp_path: Path
) -> None:
    first = make_desk()
    first.commit(stamped(0, 500, size=200))
    first.commit(Batch(snapshots={"north": "allowed"}))
    assert first.journal.close(10.0)
    path = tmp_path / "revival.db"
    if how == "pages":
        damage(path)
    elif how == "raw messages":
        damage_raw_messages(path)
    elif how == "header":
        path.write_bytes(b"\0" * 100 + path.read_bytes()[100:])
    else:
        path.write_bytes(b"this was never a database\n" * 100)
    before = path.read_bytes()
    second = make_desk()
    assert second.journal.set_aside is not None
    assert second.journal.set_aside.name.startswith("revival.db.damaged-20")
    assert second.journal.set_aside.read_bytes() == before
    assert second.journal.fresh
    assert second.journal.snapshots() == {}
    assert second.commit(stamped(0, 10)) is None
    assert second.journal.degraded == ""


def test_f47_looking_for_damage_does_not_hold_up_the_start_for_ever(
    make_desk: Callable[..., Desk], monkeypatch: pytest.MonkeyPatch
) -> None:
    first = make_desk()
    first.commit(stamped(0, 20_000))
    first.commit(Batch(snapshots={"north": "tripped"}))
    assert first.journal.close(10.0)
    monkeypatch.setattr(schema, "CHECK_FOR", -1.0)
    second = make_desk()
    assert second.journal.set_aside is None
    assert second.journal.snapshots() == {"north": "tripped"}
    assert second.commit(stamped(20_000, 10)) is None


def test_f47_damage_found_while_running_costs_the_file_but_not_the_bridge(
    make_desk: Callable[..., Desk], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer_module, "PATIENCE", 0.5)
    desk = make_desk()
    for part in range(5):
        desk.commit(stamped(part * 500, 500, size=200))
    with desk.connection() as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    damage(desk.path)
    with desk.connection() as connection:
        connection.execute("PRAGMA cache_size = 1")
    for part in range(5, 12):
        desk.commit(stamped(part * 500, 500, size=200))
    wait_until(lambda: desk.journal.set_aside is not None and desk.journal.degraded == "", 30.0)
    assert desk.commit(stamped(0, 10)) is None


# -------------------------------------------------------------------------- power cuts and wear


def test_f48_trips_and_what_is_acknowledged_wait_for_the_disk_surface_and_samples_do_not(
    make_desk: Callable[..., Desk],
) -> None:
    desk = make_desk()
    statements: list[str] = []
    desk.commit(readings(0, 1))
    with desk.connection() as connection:
        connection.set_trace_callback(statements.append)

    def synchronous(batch: Batch) -> str:
        statements.clear()
        desk.commit(batch)
        return next(statement.split(" = ")[1] for statement in statements if "PRAGMA synchronous" in statement)

    assert synchronous(Batch(events=[Event("north", "trip", T)], urgent=True)) == "FULL"
    assert synchronous(stamped(0, 1)) == "FULL"
    assert synchronous(readings(1, 1)) == "NORMAL"
    with desk.connection() as connection:
        connection.set_trace_callback(None)


def test_f48_nothing_acknowledged_is_lost_and_nothing_is_stored_twice_through_20_kills(tmp_path: Path) -> None:
    finished = subprocess.run(
        [sys.executable, str(ROOT / "tests/bench/journal_crash.py"), "--kills", "20", "--folder", str(tmp_path)],
        capture_output=True, text=True, timeout=170, cwd=ROOT, check=False,
    )  # fmt: skip
    assert finished.returncode == 0, finished.stdout + finished.stderr
    report = json.loads(finished.stdout.splitlines()[-1])
    assert report["kills"] == 20
    assert report["acknowledged"] > 1000
    assert report["missing"] == report["twice"] == report["latches_lost"] == 0


def test_f49_many_messages_are_one_transaction(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    statements: list[str] = []
    desk.commit(readings(0, 1))
    with desk.connection() as connection:
        connection.set_trace_callback(statements.append)
    desk.commit(stamped(0, 500))
    with desk.connection() as connection:
        connection.set_trace_callback(None)
    assert statements.count("COMMIT") == 1


def test_f50_the_log_shrinks_again_after_a_long_reader(make_desk: Callable[..., Desk], tmp_path: Path) -> None:
    desk = make_desk()
    desk.commit(stamped(0, 10))
    with closing(sqlite3.connect(desk.path, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM message").fetchone()
        for part in range(1, 20):
            desk.commit(stamped(part * 1000, 1000, size=1000))
        log = tmp_path / "revival.db-wal"
        assert log.stat().st_size > 16_000_000
        reader.execute("ROLLBACK")
    wait_until(lambda: log.stat().st_size <= 4_194_304, 30.0)


def test_f51_a_journal_of_a_newer_version_is_refused_with_a_sentence_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "revival.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = 999")
        connection.execute("CREATE TABLE later (id)")
    before = path.read_bytes()
    with pytest.raises(JournalError, match="newer version") as caught:
        Journal.open(JournalSettings(path=path), METERS)
    assert caught.value.exit_code == 70
    assert path.read_bytes() == before
    with pytest.raises(JournalError, match="999"):
        JournalReader(path)


def test_f51_another_programs_database_is_never_touched(tmp_path: Path) -> None:
    path = tmp_path / "photos.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE photo (id)")
    with pytest.raises(JournalError, match="another program"):
        Journal.open(JournalSettings(path=path), METERS)


# -------------------------------------------------------------------------- time and the end


def test_f52_nothing_goes_out_before_the_clock_is_trusted_and_then_with_its_true_time(
    make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    desk = make_desk()
    trusted = threading.Event()
    early = Batch(readings=[Reading("north", "voltage", 26.0, 1000.0, 1000.0)], boot="boot-1", anchor=900.0)
    desk.commit(early)
    outlet = follow(desk.journal, trusted=trusted.is_set)
    wait_until(lambda: outlet.state == "waiting for the clock", 10.0)
    trusted.set()  # before the rows have their true time: still nothing may leave
    time.sleep(0.3)
    assert database.requests == []
    desk.journal.restamp("boot-1", T - 100.0)
    wait_until(lambda: outlet.sent == 1, 20.0)
    assert database.order == [f"bank_reading,site=tarn-hut,bank=north,source=meter voltage_v=26.0 {int(T) * 1_000_000}"]


def test_f52_rows_that_were_never_dated_stay_out_of_the_database_and_are_counted(
    make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    before = make_desk()
    lost = Batch(readings=[Reading("north", "voltage", 26.0, 1000.0, 1000.0)], boot="boot-1", anchor=900.0)
    before.commit(lost)
    assert before.journal.close(10.0)  # the power went before the clock was ever set
    desk = make_desk()
    desk.commit(readings(1, 1))
    outlet = follow(desk.journal)
    wait_until(lambda: outlet.sent == 2, 20.0)
    assert outlet.undated == 1
    assert database.values("bank_reading", "voltage_v") == [1.0]


def test_f58_stopping_while_draining_is_quick_and_the_rest_goes_out_after_the_next_start(
    make_desk: Callable[..., Desk], database: FaultyDatabase, follow: Callable[..., InfluxOutlet]
) -> None:
    desk = make_desk()
    desk.commit(readings(0, 6000))
    database.script = lambda lines: Reply(delay=0.3)
    outlet = follow(desk.journal, far=1000, drain=30.0)
    wait_until(lambda: outlet.state == "draining", 30.0)
    assert outlet.stop(5.0)
    assert outlet.state == "stopped"
    desk.commit(readings(7000, 1))
    database.script = lambda lines: Reply()
    again = follow(desk.journal)
    wait_until(lambda: again.state == "up to date", 60.0)
    assert database.values("bank_reading", "voltage_v") == [*map(float, range(6000)), 7000.0]


def test_f58_closing_commits_what_waits(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    for part in range(5):
        desk.journal.submit(stamped(part * 100, 100))
    assert desk.journal.close(10.0)
    with closing(desk.reader()) as reader:
        assert len(list(reader.messages(0, T + 1e6))) == 500
