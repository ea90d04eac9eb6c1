"""A recorded round through the owner's own file, in private: as `revival run --fast` plays it."""

from __future__ import annotations

import json
import re
from dataclasses import fields
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.commands.replay import recorded
from bridge.commands.run_fast import belonging, in_private, without_own_openings, without_proofs
from bridge.config import Loaded, load
from bridge.journal.batch import Batch
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.rehearsal.scratch import scratch
from bridge.settings import Cabin
from rules.events import Event

CABIN = Path("bridge/demo/cabin.toml")
ROUND = Path("sample_messages/rounds/tarn-hut-north-with-relay.jsonl.gz")
#: Of the recording: the half hour around the over-temperature [s since its beginning].
HALF_AN_HOUR = 1800.0
FROM, TO = 34.4 * 3600.0, 34.9 * 3600.0


#: Everything of a cabin that leaves its machine, or is none of a play's business.
WAYS_OUT = ("influx", "notify", "parcels", "page", "discovery_prefix")
#: What else a cabin has. A new field is one or the other, and whoever adds it decides which.
STAYS = {
    "site", "banks", "broker", "relays", "journal", "root", "source", "time_source", "deadband", "load_relays",
    "degrees", "openings",
}  # fmt: skip


def with_every_way_out(folder: Path) -> Loaded:
    """The invented cabin with a database, messages, parcels, a page and a hub's documents."""
    secret = folder / "secret"
    secret.write_text("planted-not-a-secret-0123456789")
    urls = folder / "urls"
    urls.write_text("ntfy://example.org/cabin\n")
    file = folder / "cabin.toml"
    file.write_text(
        CABIN.read_text()
        + f"""
[influxdb]
url = "http://127.0.0.1:9"
org = "hut"
bucket = "revival"
token_file = "{secret}"

[notify]
urls_file = "{urls}"

[parcels]
where = "{folder / "parcels"}"

[page]
listen = "127.0.0.1:8170"

[hub]
discovery = "homeassistant"
"""
    )
    return load(file)


def test_every_way_out_of_a_cabin_is_known() -> None:
    assert {field.name for field in fields(Cabin)} == {*WAYS_OUT, *STAYS}


def test_a_rehearsal_has_none_of_them(tmp_path: Path) -> None:
    loaded = with_every_way_out(tmp_path)
    assert all(getattr(loaded.cabin, way) is not None for way in WAYS_OUT)
    copy = scratch(loaded, "north", "rehearsal", tmp_path, None).cabin
    assert all(getattr(copy, way) is None for way in WAYS_OUT)


def line(message: Message) -> str:
    """A message as a recording holds it."""
    return json.dumps({"t": message.at, "topic": message.topic, "payload": message.payload.decode()}) + "\n"


@pytest.fixture
def hot_half_hour(tmp_path: Path) -> Path:
    """The part of the round in which the bank gets too hot."""
    messages = list(recorded(ROUND))
    begin = messages[0].at
    path = tmp_path / "hot.jsonl"
    path.write_text("".join(line(message) for message in messages if FROM <= message.at - begin <= TO))
    return path


def test_a_recording_is_played_through_the_file_and_summed_up(
    hot_half_hour: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Speed decides how long it takes, not what comes out: half an hour in a second, with its trip."""
    assert main(["run", "--config", str(CABIN), "--fast", str(hot_half_hour), "--speed", "1000"]) == 0
    told = " ".join(capfd.readouterr().out.split())
    assert "tripped by over-temperature" in told, told
    assert "0 unstored" in told


@pytest.mark.parametrize("told", [True, False])
def test_a_recording_without_a_word_of_a_person_is_said_to_begin_no_round(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], told: bool
) -> None:
    messages = list(recorded(ROUND))
    begin = [message for message in messages if message.at - messages[0].at <= HALF_AN_HOUR]
    path = tmp_path / "begin.jsonl"
    path.write_text("".join(line(message) for message in begin if told or not message.topic.endswith("/set")))
    assert main(["run", "--config", str(CABIN), "--fast", str(path), "--speed", "1000"]) == 0
    said = " ".join(capfd.readouterr().out.split())
    assert ("Nobody confirms a checklist, starts or notes anything in this recording" in said) is not told
    assert ("revival export --config FILE --format messages" in said) is not told


def test_what_its_own_bridge_opened_for_minutes_is_no_hands_opening() -> None:
    """The proof tried again at 8.3 h goes; the cut for heat, its resume and the end of the hold stay."""
    loaded, messages = load(CABIN), sorted(recorded(ROUND), key=lambda message: message.at)
    told = [message.topic for message in messages]
    played, _ = without_proofs(in_private(loaded, 1, Path("/nowhere"), told, None), messages)
    kept = without_own_openings(in_private(loaded, 1, Path("/nowhere"), told, None), played)
    reported = [
        (round((m.at - messages[0].at) / 3600.0, 1), m.payload) for m in kept if m.topic == "cabin/charger/state"
    ]
    assert [state for hour, state in reported if hour > 1.0] == [b"OFF", b"ON", b"OFF", b"OFF"]
    assert not [hour for hour, _ in reported if 8.0 < hour < 9.0]
    silent = [m for m in played if not (m.topic == "cabin/shunt" and 8.28 < (m.at - messages[0].at) / 3600.0 < 8.35)]
    opened = [m for m in without_own_openings(in_private(loaded, 1, Path("/nowhere"), told, None), silent)]
    assert [m for m in opened if m.payload == b"OFF" and 8.0 < (m.at - messages[0].at) / 3600.0 < 9.0]


def test_without_a_file_of_ones_own_it_goes_through_the_recordings_and_is_started(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """At the pace of a whole round: what the keeper tells and what the relay answers do not overtake each other."""
    messages = list(recorded(ROUND))
    path = tmp_path / "begin.jsonl"
    path.write_text("".join(line(message) for message in messages if message.at - messages[0].at <= HALF_AN_HOUR))
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("REVIVAL_CONFIG", raising=False)
    assert main(["run", "--fast", str(path), "--speed", "3360"]) == 0
    told = " ".join(capfd.readouterr().out.split())
    assert "demo/cabin.toml" in told.replace(" ", "") and "watched only" not in told
    assert "waking" in told and "Switch the charger off" not in told, told


def test_a_file_that_lies_beside_the_recording_is_its_own(tmp_path: Path) -> None:
    topics = frozenset({"cabin/shunt"})
    assert belonging(tmp_path / "round.jsonl.gz", frozenset({"garden/pump"})) is None
    (tmp_path / "round.toml").write_text(CABIN.read_text())
    assert belonging(tmp_path / "round.jsonl.gz", topics) == tmp_path / "round.toml"


def test_where_nobody_starts_a_round_under_the_files_name_the_bank_is_watched_only(tmp_path: Path) -> None:
    other = tmp_path / "cabin.toml"
    other.write_text(CABIN.read_text().replace('"tarn-hut"', '"elsewhere"'))
    private = in_private(load(other), 1, tmp_path, {message.topic for message in recorded(ROUND)}, None).cabin
    assert private.relays == () and private.banks["north"].relay is None


def test_of_what_the_recording_lacks_only_that_is_said(
    hot_half_hour: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    short = tmp_path / "short.jsonl"
    messages = [message for message in recorded(hot_half_hour) if not message.topic.endswith("/set")][:300]
    state = str(load(CABIN).cabin.relays[0].state_topic)
    unasked = [*messages, Message(state, b"ON", messages[-1].at)]
    for said, kept in (
        (f"its relay does not report on {state}", [message for message in messages if message.topic != state]),
        ("nobody starts a round of tarn-hut-north", unasked),
    ):
        short.write_text("".join(map(line, kept)))
        assert main(["run", "--config", str(CABIN), "--fast", str(short), "--speed", "3000"]) == 0
        told = " ".join(capfd.readouterr().out.split())
        assert f"north: watched only, for in this recording {said}" in told, told


def test_the_picture_of_a_play_begins_at_no_hours_and_never_below(
    hot_half_hour: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")  # the picture of a terminal, in whose first frame nothing was heard yet
    assert main(["run", "--config", str(CABIN), "--fast", str(hot_half_hour), "--speed", "3000"]) == 0
    told = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", capfd.readouterr().out)
    hours = [float(found) for found in re.findall(r"(-?[0-9.]+) h at ", told)]
    assert hours and min(hours) == 0.0, hours


def test_a_round_out_of_ones_own_journal_is_started_again_in_the_fast_play(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whoever started it by command line or page sent nothing over the bus: the export tells it all the same."""
    file = tmp_path / "cabin.toml"
    file.write_text(CABIN.read_text())
    loaded = load(file)
    cabin, state = loaded.cabin, str(loaded.cabin.relays[0].state_topic)
    at = 1_795_590_000.0
    batch = Batch()
    for second, topic, payload in ((0.0, "cabin/shunt", b"{}"), (9.0, state, b"ON")):
        batch.messages.append((Message(topic, payload, at + second), None))
    by = {"by": "keeper", "argument": {}}
    acts = (("checklist", {"by": "keeper", "argument": {"name": "Ann"}}), ("start", by), ("zero", by))
    for second, (name, told) in zip((1, 3, 4), acts, strict=True):
        batch.events.append(Event("north", "command", at + second, {"name": name, **told}))
    batch.events.append(Event("north", "proof-begun", at + 2, {"from": "open"}))
    journal = Journal.open(cabin.journal, {})
    journal.submit(batch)
    assert journal.close(20.0)
    out = tmp_path / "round.jsonl"
    assert main(["export", "--config", str(file), "--format", "messages", "--output", str(out)]) == 0
    messages = list(recorded(out))
    asked = [(message.topic.removeprefix("homie/5/tarn-hut-north/"), message.payload) for message in messages]
    assert asked == [
        ("cabin/shunt", b"{}"), ("revival/checklist/set", b"Ann"), ("safety/prove/set", b"true"),
        ("revival/command/set", b"start"), (state, b"ON"),
    ]  # fmt: skip
    private = in_private(loaded, 1, tmp_path, [message.topic for message in messages], None).cabin
    assert private.relays == cabin.relays and private.banks["north"].relay is not None


def test_nothing_of_it_leaves_the_machine(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """The owner's broker is not asked: nobody listens on its port, and the file's login is not used."""
    loaded = with_every_way_out(tmp_path)
    heard = [message.topic for message in recorded(ROUND)]
    private = in_private(loaded, 1, tmp_path, heard, None).cabin
    assert all(getattr(private, way) is None for way in WAYS_OUT)
    assert (private.broker.host, private.broker.port, private.broker.password) == ("127.0.0.1", 1, None)
    assert private.journal.path.parent == tmp_path
    assert private.relays == loaded.cabin.relays


def test_a_relay_that_does_not_report_in_the_recording_is_left_out(tmp_path: Path) -> None:
    loaded = load(CABIN)
    state = loaded.cabin.relays[0].state_topic
    heard = {message.topic for message in recorded(ROUND)} - {state}
    private = in_private(loaded, 1, tmp_path, heard, None).cabin
    assert private.relays == () and private.banks["north"].relay is None


def test_a_recording_of_another_house_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = tmp_path / "other.jsonl"
    other.write_text(json.dumps({"t": 1795590000.0, "topic": "garden/pump", "payload": "on"}) + "\n")
    for command in (
        ["run", "--config", str(CABIN), "--fast", str(other)],
        ["replay", "--config", str(CABIN), str(other)],
    ):
        assert main(command) != 0
        said = capsys.readouterr()
        assert "none of its meters' topics is in the recording, which has garden/pump" in said.err and not said.out


def test_speed_without_a_recording_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "--config", str(CABIN), "--speed", "10"]) == 2
    assert "--speed belongs to --fast" in capsys.readouterr().err
