"""A recorded round through the owner's own file, in private: as `revival run --fast` plays it."""

from __future__ import annotations

import json
from dataclasses import fields
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.commands.replay import recorded
from bridge.commands.run_fast import belonging, in_private, without_own_openings, without_proofs
from bridge.config import Loaded, load
from bridge.message import Message
from bridge.rehearsal.scratch import scratch
from bridge.settings import Cabin

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
    "degrees",
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
    assert main(["run", "--config", str(CABIN), "--fast", str(other)]) != 0
    assert "none of its meters' topics is in the recording, which has garden/pump" in capsys.readouterr().err


def test_speed_without_a_recording_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "--config", str(CABIN), "--speed", "10"]) == 2
    assert "--speed belongs to --fast" in capsys.readouterr().err
