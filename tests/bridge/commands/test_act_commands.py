"""`revival start`, `prove`, `reset` ... on a running bridge, a real broker and a relay that answers; and `rehearse`."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.cli import COMMANDS, main
from bridge.commands import act
from bridge.config import load
from bridge.intake.mapping import Mapping
from bridge.journal.reader import JournalReader
from bridge.message import Message
from bridge.rehearsal.encode import descriptions, payloads
from bridge.rehearsal.scratch import scratch
from rules.events import Event
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import RelayStandIn, shunt, write_cabin
from tests.support.running_bridge import turning

SAMPLES = sorted((Path(__file__).parents[3] / "sample_messages").glob("**/cabin.toml"))


def feed(broker: Broker, volts: float, amps: float, fahrenheit: float) -> None:
    broker.publish("cabin/shunt", shunt(time.time(), volts, amps), "-q", "1")
    broker.publish("cabin/probe", f"{fahrenheit}", "-q", "1")


def test_every_act_of_a_round_can_be_given_from_the_command_line(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port)

    def revival(*words: str) -> tuple[int, str]:
        capsys.readouterr()
        code = main([words[0], "--config", str(path), *words[1:]])
        captured = capsys.readouterr()
        return code, captured.out + captured.err

    code, said = revival("start")
    assert code == 4 and "no bridge runs" in said
    relay = RelayStandIn(broker.port)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        feed(broker, 26.0, 0.0, 77.0)
        wait_until(lambda: "north" in service.latest and service.latest["north"].temperature is not None)
        code, said = revival("start")
        assert code == 5 and "the start checklist is not confirmed" in said
        assert revival("checklist", "--name", "the keeper", "--read", "all")[0] == 0
        code, said = revival("prove")
        assert code == 5 and "be clear of the posts; if nobody is at the posts, say --sure" in said
        assert not relay.closed, "nothing closes before somebody has said that nobody is there"
        feed(broker, 26.0, 0.0, 77.0)  # meters go on speaking while somebody types
        code, said = revival("prove", "--sure")
        assert code == 0, said
        assert "passed" in said and "repeat once the bank takes charge" in said
        code, said = revival("start")
        assert code == 0 and "charging allowed" in said
        wait_until(lambda: relay.closed)
        code, said = revival("bypass", "current", "--minutes", "61")
        assert code == 5 and "at most 60" in said
        code, said = revival("bypass", "temperature", "20min")
        assert code == 2 and "which one? north has electrolyte_temperature: write it whole" in said
        code, said = revival("bypass", "current", "61min")
        assert code == 5 and "at most 60" in said
        code, said = revival("bypass", "current")
        assert code == 2 and "for how long? `revival bypass current 20` excuses it for 20 minutes" in said
        code, said = revival("bypass", "--minutes", "5", "current")
        assert (
            code == 0 and "silence of current excused until " in said and "over-current and a thermal runaway" in said
        )
        assert "bypassed" in service.engine.memories["north"].flags
        code, said = revival("reset")
        assert code == 5 and "nothing to reset" in said
        code, said = revival("resume")
        assert code == 5 and "nothing waits for a resume" in said
        code, said = revival("start", "--bank", "east")
        assert code == 2 and "there are north" in said
        relay.obeys = False
        code, said = revival("prove", "--sure")
        assert code == 5 and "FAILED" in said and "stays so" in said
        relay.obeys = True
        code, said = revival("finish")
        assert code == 5 and "held 0.0 of at least" in said and "say --sure" in said
        assert service.engine.memories["north"].interlock.started
        code, said = revival("finish", "--sure")
        assert code == 0 and "finish by" in said and "early" in said
        assert relay.wait_for(False)
        code, said = revival("finish")
        assert code == 5 and "no round runs" in said
    relay.close()


def test_whoever_ends_a_watched_round_hears_that_the_charger_goes_on_and_no_relay_is_proved_with_a_warning(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        assert main(["prove", "--config", str(path)]) == 5
        told = capsys.readouterr()
        assert "there is no relay to prove" in told.err and "comes on" not in told.out + told.err
        assert main(["abandon", "--config", str(path)]) == 5
        assert "no round runs" in capsys.readouterr().err
        assert main(["start", "--config", str(path)]) == 0
        feed(broker, 28.4, 3.4, 77.0)
        wait_until(lambda: service.latest["north"].current == 3.4)
        capsys.readouterr()
        assert main(["arrange", "split", "--config", str(path)]) == 5
        refused = capsys.readouterr().err
        assert "3.4 A flow: switch the charger off at the wall, air the room for an hour" in refused
        assert "say --sure" in refused and service.engine.memories["north"].arrangement is None
        assert main(["arrange", "split", "--sure", "--config", str(path)]) == 0
        assert main(["arrange", "rejoin", "--sure", "--config", str(path)]) == 0
        assert main(["bypass", "voltage", "--minutes", "5", "--config", str(path)]) == 0
        assert "nobody watches for over-voltage" in capsys.readouterr().out
        wait_until(lambda: "bypassed" in {flag.name for flag in service.latest["north"].flags})
        assert main(["status", "--config", str(path)]) == 0
        assert "bypassed: silence of voltage excused until" in capsys.readouterr().out
        assert main(["abandon", "--config", str(path)]) == 5
        refused = capsys.readouterr().err
        assert "a round is under way" in refused and "say --sure" in refused
        assert service.engine.memories["north"].interlock.started, "nothing is done unasked"
        assert main(["finish", "--sure", "--by", "Ann", "--config", str(path)]) == 0
        assert "the round is over, the charger still gives 3.4 A" in capsys.readouterr().out


def test_over_the_bus_an_early_finish_is_refused_with_the_word_that_insists_and_that_word_is_taken(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)
    command = "homie/5/tarn-hut-north/revival/command/set"

    def stored(kind: str) -> list[Event]:
        with JournalReader(path.parent / "revival.db") as reader:
            return reader.events("north", 0.0, 1e11, [kind])

    def refusals() -> list[str]:
        return [str(event.detail["why"]) for event in stored("refused")]

    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        broker.publish(command, "start", "-q", "1")
        wait_until(lambda: service.engine.memories["north"].interlock.started)
        broker.publish(command, "finish", "-q", "1")
        wait_until(refusals)
        assert refusals() == [
            "the hold is not complete: held 0.0 of at least 16 h, and a later round holds anew from nothing: send "
            "finish-early if it is meant"
        ]
        assert service.engine.memories["north"].interlock.started
        broker.publish(command, "finish-early", "-q", "1")
        wait_until(lambda: not service.engine.memories["north"].interlock.started)
        wait_until(lambda: "finish" in [event.detail["name"] for event in stored("command")])
        capsys.readouterr()
        out = path.parent / "told.jsonl"
        assert main(["export", "--config", str(path), "--format", "messages", "--output", str(out)]) == 0
        told = [json.loads(line) for line in out.read_text().splitlines()]
        assert [line["payload"] for line in told if line["topic"] == command] == ["start", "finish-early"]


def test_acts_of_the_bridge_itself_cannot_be_asked_for(make_broker: Callable[..., Broker], tmp_path: Path) -> None:
    from bridge.runtime.control_socket import ask

    path = write_cabin(tmp_path, make_broker().port)
    with turning(path):
        for name in ("boot", "journal-lost", "health", "relay-changed"):
            answer = ask(load(path).cabin.journal.path, {"ask": "act", "bank": "north", "name": name})
            assert answer == {"error": f"{name} is no command"}


def test_a_rehearsal_plays_to_the_cut_on_the_owners_broker_and_leaves_nothing_there(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port)
    real = RelayStandIn(broker.port)
    assert main(["rehearse", "--config", str(path)]) == 0
    said = capsys.readouterr().out
    assert "every step came out" in said and "FAILED" not in said
    assert said.index("start: the relay closes") < said.index("tripped by over-temperature") < said.index("and opened")
    assert real.told == [], "the real relay was never spoken to"
    real.close()
    assert not (tmp_path / "revival.db").exists()
    left: list[str] = []
    watcher = RelayStandIn(broker.port)
    watcher.client.on_message = lambda client, data, message: left.append(message.topic)
    watcher.client.subscribe("#")
    time.sleep(0.5)
    watcher.close()
    assert left == []


def test_a_rehearsal_that_came_out_is_proposed_again_only_once_the_file_is_changed(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_cabin(tmp_path, make_broker().port)

    def proposed(*change: str) -> bool:
        capsys.readouterr()
        assert main(["setup", "--output", str(path), "--no-rehearse", *change]) == 0
        following = capsys.readouterr().out.partition("next, in this order")[2]
        assert "revival prove" in following
        return "revival rehearse" in following

    assert proposed("--site", "mill")
    assert main(["rehearse", "--config", str(path)]) == 0
    assert not proposed("--site", "mill"), "nothing was changed"
    assert proposed("--site", "barn"), "the play was of another file"
    kept = path.with_name(".cabin.toml.rehearsed")
    assert main(["rehearse", "--config", str(path)]) == 0 and kept.exists()
    kept.write_text("torn")
    assert proposed("--site", "barn")


def test_a_rehearsal_says_which_mapping_is_wrong(
    make_broker: Callable[..., Broker],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from bridge.commands import rehearse

    monkeypatch.setattr(rehearse, "PATIENCE", 3.0)
    broker = make_broker(lines=[f"acl_file {tmp_path / 'acl'}"], start=False)
    (tmp_path / "acl").write_text("topic readwrite rehearsal/+/homie/#\ntopic readwrite rehearsal/+/cabin/shunt\n")
    broker.start()
    assert main(["rehearse", "--config", str(write_cabin(tmp_path, broker.port))]) == 5
    said = capsys.readouterr().out
    assert "FAILED  no reading of electrolyte_temperature" in said and "--embedded" in said
    assert "1 steps FAILED" in said, "nothing else is played without readings"


@pytest.fixture
def failed(
    make_broker: Callable[..., Broker],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> Callable[..., str]:
    """What a rehearsal says that fails on a cabin file from which something was taken out."""
    from bridge.commands import rehearse

    monkeypatch.setattr(rehearse, "PATIENCE", 6.0)

    def play(*without: str) -> str:
        path = write_cabin(tmp_path, make_broker().port)
        text = path.read_text()
        for part in without:
            assert part in text
            text = text.replace(part, "")
        path.write_text(text)
        assert main(["rehearse", "--config", str(path)]) == 5
        return capsys.readouterr().out

    return play


def test_a_rehearsal_of_a_relay_that_nothing_shows_says_what_is_missing_in_the_file(
    failed: Callable[..., str],
) -> None:
    keys = ("[[bank.meter]]", 'topic = "cabin/shunt"', 'style = "json"', 'pointer = "/dc/a"', 'quantity = "current"')
    current = "\n".join(("", *keys, 'unit = "A"', 'time = "/t"', ""))
    said = failed('state_topic = "cabin/charger/state"\n', current)
    for step in ("proof test", "the cut is not confirmed"):
        assert f"FAILED  {step}: nothing in the file can show that the relay on cabin/charger/set opened" in said, said
    assert "has no state_topic, and no [[bank.meter]] of north is its current" in said
    assert "Write state_topic where the relay tells its state, or map the current" in said
    assert "start: the relay closes" in said and "2 steps FAILED" in said, "the rest is played on a person's word"


def test_a_rehearsal_of_a_relay_that_may_not_close_says_why_and_what_to_write(failed: Callable[..., str]) -> None:
    said = failed('auto_off = "90 s"\n')
    assert "FAILED  start: the relay does not close: auto-off-missing" in said
    assert "write `auto_off` into the cabin file" in said and "rehearsal/" not in said.partition("\n")[2]
    assert "the relay, which never closed, stays open: on cabin/charger/set it was told" in said
    assert "(-" not in said, "no time runs backward"


def test_a_rehearsal_whose_relay_state_stays_away_names_its_topic(
    make_broker: Callable[..., Broker],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from bridge.commands import rehearse

    monkeypatch.setattr(rehearse, "PATIENCE", 3.0)
    broker = make_broker(lines=[f"acl_file {tmp_path / 'acl'}"], start=False)
    meters = "".join(f"topic readwrite rehearsal/+/{each}\n" for each in ("homie/#", "cabin/shunt", "cabin/probe"))
    (tmp_path / "acl").write_text(f"{meters}topic readwrite rehearsal/+/cabin/charger/set\n")
    broker.start()
    assert main(["rehearse", "--config", str(write_cabin(tmp_path, broker.port))]) == 5
    said = capsys.readouterr().out
    assert "FAILED  proof test: the relay was not seen to open; it was looked for on" in said
    assert "cabin/charger/state (never read)" in said and "cabin/shunt /dc/a (read as " in said


def test_a_rehearsal_without_a_broker_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", "--config", str(write_cabin(tmp_path, 1))]) == 4
    assert "the broker at 127.0.0.1:1" in capsys.readouterr().err


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.parent.name)
def test_what_the_rehearsal_publishes_is_read_back_by_the_same_cabin_file(path: Path) -> None:
    loaded = load(path, {"REVIVAL_PASSWORD": "x"})
    for name, bank in loaded.cabin.banks.items():
        copy = scratch(loaded, name, "rehearsal/x", Path("nowhere"), None)
        mappings: list[Mapping] = list(copy.routes.mappings)
        contacts = {mapping.meter for mapping in mappings if mapping.is_contact}
        values = {meter.name: 1.0 if meter.name in contacts else 2.1 + n for n, meter in enumerate(bank.meters)}
        at = 1_795_590_000.0
        for topic, text in descriptions(mappings).items():
            copy.routes.decode(Message(topic, text.encode(), at))
        read: dict[str, float] = {}
        for topic, text in payloads(mappings, values, at).items():
            decoded = copy.routes.decode(Message(topic, text.encode(), at))
            assert decoded.rejected == (), (topic, text)
            read |= {reading.meter: reading.value for reading in decoded.readings}
        assert read == pytest.approx(values, abs=1e-4)


def test_every_command_has_its_module_and_its_help(capsys: pytest.CaptureFixture[str]) -> None:
    for name in COMMANDS:
        with pytest.raises(SystemExit) as stopped:
            main([name, "--help"])
        assert stopped.value.code == 0
        assert name in capsys.readouterr().out


def test_times_in_what_is_asked_back_are_those_of_the_clock_of_the_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    why = "it charged until 2026-11-25T07:03Z, and gas may still be about: air the room until 2026-11-25T08:03Z before"
    monkeypatch.setattr(act, "order", lambda *_: {"unsure": why})
    assert main(["arrange", "split", "--config", str(write_cabin(tmp_path, 1883))]) == 5
    said = capsys.readouterr().err
    assert "air the room until 25 Nov" in said and "2026-" not in said


@pytest.mark.parametrize(
    ("sudo", "user", "name"),
    [("", "root", "the owner"), ("ann", "root", "ann"), ("", "bo", "bo"), ("root", "root", "the owner")],
)
def test_root_is_the_name_of_nobody(monkeypatch: pytest.MonkeyPatch, sudo: str, user: str, name: str) -> None:
    monkeypatch.setenv("SUDO_USER", sudo)
    monkeypatch.setattr("getpass.getuser", lambda: user)
    assert act.whoever() == name


def test_a_round_that_runs_is_given_up_with_sure_and_by_name(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        assert main(["start", "--config", str(path)]) == 0
        feed(broker, 28.4, 3.4, 77.0)
        wait_until(lambda: service.latest["north"].current == 3.4)
        assert main(["status", "--bank", "north", "--config", str(path)]) == 0
        assert "3.4 A" in capsys.readouterr().out
        assert main(["status", "--bank", "east", "--config", str(path)]) == 2
        assert "no bank 'east': there are north" in capsys.readouterr().err
        assert main(["abandon", "--sure", "--by", "Ann", "--config", str(path)]) == 0
        assert "by Ann" in capsys.readouterr().out
        assert not service.engine.memories["north"].interlock.started
