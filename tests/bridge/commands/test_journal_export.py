"""`revival export` and `revival backfill` from a real journal."""

from __future__ import annotations

import argparse
import csv
import io
import json
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from functools import partial
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.clock import iso
from bridge.commands import backfill, export
from bridge.commands.replay import recorded
from bridge.intake.hand_words import moment as noted_moment
from bridge.journal.batch import Batch
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.settings import JournalSettings
from rules.bank.model import Meter
from rules.events import Derived, Event, Flag, Reading
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.http_faults import FaultyDatabase, Reply
from tests.support.running_bridge import turning

T = 1_795_593_600.0  # 2026-11-25T08:00Z
CABIN = """
[site]
id = "tarn-hut"
[broker]
host = "localhost"
[[bank]]
id = "north"
strings = 1
blocks = {{ per_string = 1, cells = 3, capacity = "200 Ah", labels = ["N1"] }}
[[bank.meter]]
topic = "cabin/volts"
style = "plain"
quantity = "voltage"
unit = "V"
[journal]
path = "revival.db"
[influxdb]
url = "{url}"
org = "hut"
bucket = "revival"
token_env = "HUT_TOKEN"
"""


@pytest.fixture
def database(monkeypatch: pytest.MonkeyPatch) -> Iterator[FaultyDatabase]:
    monkeypatch.setenv("HUT_TOKEN", "planted-secret")
    running = FaultyDatabase()
    yield running
    running.close()


@pytest.fixture
def cabin(tmp_path: Path, database: FaultyDatabase) -> Path:
    """A cabin file beside a journal of ten seconds."""
    meters = {"north": (Meter("voltage", "voltage"), Meter("cell_voltage:N1.2", "cell_voltage", "N1.2"))}
    journal = Journal.open(JournalSettings(path=tmp_path / "revival.db"), meters)
    batch = Batch()
    for second in range(10):
        at = T + second
        batch.messages.append((Message("cabin/volts", b"6.3%d" % second, at, retain=second == 0), None))
        batch.readings.append(Reading("north", "voltage", 6.3 + second / 100, at, at))
        batch.readings.append(Reading("south", "voltage", 12.0, at, at))
    batch.readings.append(Reading("north", "cell_voltage:N1.2", 2.1, T, T))
    batch.messages.append((Message("cabin/odd", b"\xff\x00", T + 9.5), None))
    batch.derived = [Derived("north", T, voltage=6.3, phase="bulk", flags=(Flag("gassing", "chore", T),))]
    batch.events = [Event("north", "phase", T, {"phase": "bulk", "why": "volts, rising"})]
    journal.submit(batch)
    assert journal.close(20.0)
    path = tmp_path / "cabin.toml"
    path.write_text(CABIN.format(url=database.url))
    return path


def test_readings_are_a_table_with_a_column_for_every_meter(cabin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["export", "--config", str(cabin), "--bank", "north", "--since", "2026-11-25T08:00", "--until", str(T + 3)]
    assert main(words) == 0
    table = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    assert table == [
        ["time", "bank", "cell_voltage_N1.2_v", "voltage_v"],
        ["2026-11-25T08:00:00.000Z", "north", "2.1", "6.3"],
        ["2026-11-25T08:00:01.000Z", "north", "", "6.31"],
        ["2026-11-25T08:00:02.000Z", "north", "", "6.32"],
    ]


def test_states_and_events_are_tables_too(cabin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal = ["--journal", str(cabin.with_name("revival.db"))]
    assert main(["export", *journal, "--table", "states"]) == 0
    header, row = csv.reader(io.StringIO(capsys.readouterr().out))
    assert len(set(header)) == len(header) and "next_step" in header, "every column once"
    state = dict(zip(header, row, strict=True))
    assert (state["phase"], state["voltage_v"], state["temperature_c"], state["flags"]) == (
        "bulk",
        "6.3",
        "",
        "gassing",
    )
    assert main(["export", *journal, "--table", "events"]) == 0
    header, row = csv.reader(io.StringIO(capsys.readouterr().out))
    assert row == ["2026-11-25T08:00:00.000Z", "north", "phase", '{"phase": "bulk", "why": "volts, rising"}']


def test_line_protocol_goes_to_a_file(cabin: Path, tmp_path: Path) -> None:
    out = tmp_path / "points.txt"
    assert main(["export", "--config", str(cabin), "--format", "line", "--bank", "north", "--output", str(out)]) == 0
    lines = out.read_text().splitlines()
    assert len(lines) == 12
    assert all(",site=tarn-hut,bank=north,source=" in line for line in lines)


def test_exported_messages_are_a_recording_that_replay_reads(cabin: Path, tmp_path: Path) -> None:
    out = tmp_path / "recording.jsonl"
    assert main(["export", "--config", str(cabin), "--format", "messages", "--output", str(out)]) == 0
    messages = list(recorded(out))
    assert messages[0] == Message("cabin/volts", b"6.30", T, retain=True)
    assert messages[-1] == Message("cabin/odd", b"\xff\x00", T + 9.5)
    assert "payload_b64" in json.loads(out.read_text().splitlines()[-1])
    packed = tmp_path / "recording.jsonl.gz"
    assert main(["export", "--config", str(cabin), "--format", "messages", "--output", str(packed)]) == 0
    assert packed.read_bytes()[:2] == b"\x1f\x8b" and list(recorded(packed)) == messages


def test_a_bank_or_journal_that_is_not_there_is_named(cabin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    nothing = cabin.with_name("west.csv")
    assert main(["export", "--config", str(cabin), "--bank", "west", "--output", str(nothing)]) == 2
    assert not nothing.exists()
    assert "there are north, south" in capsys.readouterr().err
    assert main(["export", "--journal", str(cabin.with_name("none.db"))]) == 4
    assert "none.db" in capsys.readouterr().err


def test_backfill_writes_the_range_and_a_second_time_changes_nothing(
    cabin: Path, database: FaultyDatabase, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["backfill", "--config", str(cabin), "--since", str(T + 2), "--until", str(T + 5), "--bank", "north"]
    assert main(words) == 0
    assert "3 points written, 0 refused" in capsys.readouterr().err
    assert database.values("bank_reading", "voltage_v") == [6.32, 6.33, 6.34]
    before = dict(database.points)
    assert main(words) == 0
    assert database.points == before


def test_backfill_waits_for_a_busy_database_and_ends_with_4_where_it_is_refused(
    cabin: Path, database: FaultyDatabase, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(backfill, "WAIT", 0.01)
    database.script = lambda lines: Reply(503) if len(database.requests) == 1 else Reply()
    assert main(["backfill", "--config", str(cabin)]) == 0
    assert len(database.values("bank_reading", "voltage_v")) == 20
    database.script = lambda lines: Reply(401, "unauthorized access")
    assert main(["backfill", "--config", str(cabin)]) == 4
    error = capsys.readouterr().err
    assert "unauthorized access" in error
    assert "planted-secret" not in error


def test_readings_by_hand_are_in_the_export_and_a_replay_takes_them_in(
    cabin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    journal = Journal.open(JournalSettings(path=cabin.with_name("revival.db")), {})
    noted = {
        "kind": "gravity", "taken_at": T + 4.0, "values": {"N1.1": 1.25, "N1.2": 1.19, "N1.3": "low"},
        "temperature": 26.7, "under_charge": False, "rested_hours": None, "by": "Ann", "note": "", "undo": False,
    }  # fmt: skip
    events = [
        Event("north", "hand", T + 5.0, noted),
        Event("north", "command", T + 6.0, {"name": "witness", "by": "Ann", "argument": {}}),
        Event("north", "command", T + 6.5, {"name": "boot", "by": "", "argument": {}}),
    ]
    journal.submit(Batch(events=events))
    assert journal.close(20.0)
    out, states = tmp_path / "recording.jsonl", tmp_path / "states.jsonl"
    assert main(["export", "--config", str(cabin), "--format", "messages", "--output", str(out)]) == 0
    assert "left out, and a replay will not know them: 1 act (witness): the bus has no topic" in capsys.readouterr().err
    assert main(["replay", "--config", str(cabin), "--messages", str(out), "--output", str(states)]) == 0
    last = json.loads(states.read_text().splitlines()[-1])
    assert last["temperature_c"] == 26.7 and "imbalance" in last["flags"], "which the gravities alone tell"
    bare = tmp_path / "bare.jsonl"
    words = ["export", "--journal", str(cabin.with_name("revival.db")), "--format", "messages", "--output", str(bare)]
    assert main(words) == 0
    assert "1 reading by hand and 1 act (witness): only the cabin file knows" in capsys.readouterr().err


def test_where_the_bridge_was_away_every_table_says_so_and_a_replay_comes_up_again_as_it_did(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)
    for amps in (5.0, 6.0):  # started, ended, started again two seconds later: readings are kept by the second
        time.sleep(2.0)
        with turning(path) as service:
            wait_until(lambda: service.bus.subscribed)
            for _ in range(2):
                broker.publish("cabin/shunt", shunt(time.time(), 26.1, amps), "-q", "1")
            wait_until(partial(lambda running, shown: running.latest["north"].current == shown, service, amps), 20.0)
            back = service.engine.memories["north"].began_at

    def exported(*words: str) -> list[dict[str, str]]:
        capsys.readouterr()
        assert main(["export", "--config", str(path), *words]) == 0
        return list(csv.DictReader(io.StringIO(capsys.readouterr().out)))

    (boot,) = [
        detail
        for row in exported("--table", "events")
        if row["kind"] == "command" and "away_since" in (detail := json.loads(row["detail"]))
    ]
    gone = boot["away_since"]
    assert boot["name"] == "boot" and back - 20.0 < gone < back
    for table in ("readings", "states"):
        rows = exported("--table", table)
        (said,) = [row for row in rows if row["bridge"]]
        assert said["bridge"] == f"away since {iso(gone, 'milliseconds')}, started again"
        assert said["time"] == iso(round(back, 3), "milliseconds") and said["bank"] == "north" and not said["voltage_v"]
        assert 0 < rows.index(said) < len(rows) - 1, "in its place"
        later = exported("--table", table, "--since", str(back + 0.1))
        assert later and "bridge" not in later[0], "a stretch in which it was always there has no such column"
    out, events = tmp_path / "recording.jsonl", tmp_path / "events.jsonl"
    assert main(["export", "--config", str(path), "--format", "messages", "--output", str(out)]) == 0
    own = [message for message in recorded(out) if message.topic == "homie/5/tarn-hut/$state"]
    assert [(message.payload, round(message.at - at, 2)) for message, at in zip(own, (gone, back), strict=True)] == [
        (b"disconnected", 0.0),
        (b"init", 0.0),
    ]
    states = tmp_path / "states.jsonl"
    words = ["replay", "--config", str(path), str(out), "--output", str(states), "--events", str(events)]
    assert main(words) == 0
    replayed = [json.loads(line) for line in events.read_text().splitlines()]
    (again,) = [each["detail"] for each in replayed if each["kind"] == "command" and each["detail"]["name"] == "boot"]
    assert abs(again["away_since"] - gone) < 2.0, "the last look of then"
    assert not any(gone + 1.0 < json.loads(line)["t"] < back - 1.0 for line in states.read_text().splitlines())


def test_a_stretch_begins_in_the_words_that_a_note_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    noon = datetime(2026, 11, 25, 12, 0).astimezone()
    monkeypatch.setattr("time.time", noon.timestamp)
    for written, (day, hour, minute) in {
        "20:45": (24, 20, 45), "9:05": (25, 9, 5), "yesterday": (24, 0, 0), "today": (25, 0, 0),
        "yesterday 20:45": (24, 20, 45), "23:59 yesterday": (24, 23, 59), "2 h ago": (25, 10, 0),
    }.items():  # fmt: skip
        here = noon.replace(day=day, hour=hour, minute=minute)
        assert export.moment(written) == here.timestamp(), written
        if written not in ("yesterday", "today"):
            assert noted_moment(written, noon.timestamp()) == here.timestamp(), "a note takes the same"
    assert export.moment("2026-11-25T08:00") == T, "a date without an offset stays UTC"
    with pytest.raises(argparse.ArgumentTypeError, match="by the clock of this host"):
        export.moment("soon")


@pytest.mark.parametrize(("zone", "said"), [("Etc/GMT-2", True), ("UTC", False)])
def test_the_times_of_a_table_are_said_to_be_utc_where_the_clock_differs(
    cabin: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, zone: str, said: bool
) -> None:
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        assert main(["export", "--config", str(cabin)]) == 0
    finally:
        monkeypatch.undo()
        time.tzset()
    assert ("times are UTC, as their Z says; the clock of this host is at UTC+0200" in capsys.readouterr().err) is said
