"""The whole bridge on a real broker: messages in, states and relay orders out, journal, restart."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.config import load
from bridge.journal.reader import JournalReader
from bridge.runtime.control_socket import ask
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import RelayStandIn, shunt, write_cabin
from tests.support.running_bridge import turning


def feed(broker: Broker, volts: float, amps: float, fahrenheit: float) -> None:
    """One round of readings, by a client that is not ours."""
    broker.publish("cabin/shunt", shunt(time.time(), volts, amps), "-q", "1")
    broker.publish("cabin/probe", f"{fahrenheit}", "-q", "1")


def act(path: Path, what: str, **argument: object) -> dict[str, object]:
    """What `revival` commands ask of a running bridge."""
    return ask(load(path).cabin.journal.path, {"ask": "act", "bank": "north", "name": what, "argument": argument})


@pytest.fixture
def relay_broker(make_broker: Callable[..., Broker]) -> Broker:
    """A broker of this test's own: the relay topic is the same in every cabin."""
    return make_broker(lines=["max_queued_messages 100000"])


def test_a_voltage_message_becomes_a_state_on_the_bus_and_a_row_in_the_journal(
    relay_broker: Broker, tmp_path: Path
) -> None:
    path = write_cabin(tmp_path, relay_broker.port, relay=False)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        feed(relay_broker, 26.31, 12.5, 77.0)
        wait_until(
            lambda: (
                service.latest
                and None not in (service.latest["north"].volts_per_cell, service.latest["north"].temperature)
            )
        )
        state = service.latest["north"]
        assert state.volts_per_cell == pytest.approx(26.31 / 12)
        assert state.temperature == pytest.approx(25.0)
        assert not state.charge_allowed
    with JournalReader(tmp_path / "revival.db") as reader:
        topics = [message.topic for message, _ in reader.messages(0.0, time.time() + 60.0)]
    assert sorted(topics) == ["cabin/probe", "cabin/shunt"]


def test_a_started_round_closes_the_relay_and_a_hot_reading_opens_it(relay_broker: Broker, tmp_path: Path) -> None:
    path = write_cabin(tmp_path, relay_broker.port)
    relay = RelayStandIn(relay_broker.port)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        feed(relay_broker, 26.0, 0.0, 77.0)
        wait_until(lambda: service.latest["north"].temperature is not None)
        assert relay.wait_for(False)
        assert act(path, "start")["refused"] == ["the start checklist is not confirmed; the relay was never proved"]
        assert act(path, "checklist", name="the keeper")["refused"] == []
        assert act(path, "prove")["refused"] == []
        wait_until(lambda: service.engine.memories["north"].interlock.proof.passed, 20.0)
        assert act(path, "start")["refused"] == []
        assert relay.wait_for(True)
        feed(relay_broker, 30.0, 20.0, 111.0)
        feed(relay_broker, 30.0, 20.0, 111.0)
        assert relay.wait_for(False)
        wait_until(lambda: service.latest["north"].tripped)
        assert act(path, "resume")["refused"] != []
        assert str(act(path, "reset")["refused"]).startswith(
            "['over-temperature is still there: 3 more readings in a row "
        )
        for _ in range(4):  # the first is too far from the last to be believed, and one good one clears nothing
            feed(relay_broker, 26.0, 0.0, 90.0)
        wait_until(lambda: not service.engine.memories["north"].pending)
        assert act(path, "reset")["refused"] == []
        assert not relay.closed, "a reset is not a restart"
        assert act(path, "resume")["refused"] == []
        assert relay.wait_for(True)
    assert relay.wait_for(False), "a clean stop cuts"
    relay.close()


def test_what_is_exported_of_ones_own_round_is_replayed_as_that_round(
    relay_broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from bridge.cli import main

    path = write_cabin(tmp_path, relay_broker.port)
    relay = RelayStandIn(relay_broker.port)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        feed(relay_broker, 26.0, 0.0, 77.0)
        wait_until(lambda: service.latest["north"].temperature is not None)
        assert relay.wait_for(False)
        assert act(path, "checklist", name="the keeper")["refused"] == []
        assert act(path, "prove")["refused"] == []
        wait_until(lambda: service.engine.memories["north"].interlock.proof.passed, 20.0)
        assert act(path, "start")["refused"] == []
        assert relay.wait_for(True)
        feed(relay_broker, 27.0, 9.0, 77.0)
        wait_until(lambda: service.latest["north"].current == pytest.approx(9.0))
    relay.close()
    out, lines, events = (tmp_path / name for name in ("own.jsonl", "lines.jsonl", "events.jsonl"))
    words = ["--config", str(path)]
    assert main(["export", *words, "--format", "messages", "--output", str(out)]) == 0
    assert main(["replay", *words, str(out), "--output", str(lines), "--events", str(events)]) == 0
    last = json.loads(lines.read_text().splitlines()[-1])
    assert not {"not-started", "proof-test-missing", "checklist-open", "relay-disobeys"} & set(last["flags"])
    assert last["charge_allowed"] and not last["tripped"] and last["relay"] == "closed"
    told = [json.loads(line) for line in events.read_text().splitlines()]
    assert [each["detail"]["passed"] for each in told if each["kind"] == "proof"] == [True]
    assert "is not judged" not in capsys.readouterr().err

    bare = tmp_path / "bare.jsonl"
    bare.write_text("".join(f"{line}\n" for line in out.read_text().splitlines() if "homie/" not in line))
    assert main(["replay", *words, str(bare), "--output", str(tmp_path / "bare-lines.jsonl")]) == 0
    said = capsys.readouterr().err
    assert "north: nobody confirms a checklist, proves or starts in this recording, so its safety is not judged" in said


def test_f33_a_trip_survives_a_restart(relay_broker: Broker, tmp_path: Path) -> None:
    path = write_cabin(tmp_path, relay_broker.port)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        feed(relay_broker, 26.0, 0.0, 130.0)
        wait_until(lambda: bool(service.engine.memories["north"].interlock.latched))
    with turning(path) as service:
        assert "over-temperature" in service.engine.memories["north"].interlock.latched
        assert not service.engine.memories["north"].interlock.allowed


def test_status_answers_for_people_and_machines(
    relay_broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from bridge.cli import main

    path = write_cabin(tmp_path, relay_broker.port, relay=False)
    assert main(["status", "--config", str(path)]) == 4
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        feed(relay_broker, 28.8, 2.0, 70.0)
        wait_until(lambda: service.latest and service.latest["north"].current is not None)
        capsys.readouterr()
        assert main(["status", "--config", str(path), "--json"]) == 0
        assert json.loads(capsys.readouterr().out)["banks"]["north"]["volts_per_cell"] == pytest.approx(2.4)
        assert main(["status", "--config", str(path)]) == 0
        assert "2.400 V per cell" in capsys.readouterr().out


def test_nobody_proves_or_starts_while_the_newest_reading_is_over_its_limit(
    relay_broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from bridge.cli import main

    path = write_cabin(tmp_path, relay_broker.port)
    relay = RelayStandIn(relay_broker.port)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        feed(relay_broker, 26.0, 0.0, 113.7)
        wait_until(lambda: service.latest["north"].temperature is not None)
        assert relay.wait_for(False)
        assert act(path, "checklist", name="the keeper")["refused"] == []
        refused = str(act(path, "prove")["refused"])
        assert refused.startswith("['45.4 degC in the electrolyte is over the limit of 43.3 degC")
        assert "45.4 degC in the electrolyte is over the limit" in str(act(path, "start")["refused"])
        assert main(["status", "--config", str(path)]) == 0
        said = capsys.readouterr().out
        assert "no danger seen" not in said and "reading-over-limit" in said
        assert not relay.closed and not service.engine.memories["north"].interlock.latched, "and it is no trip yet"
        for _ in range(2):  # the first is too far from the last to be believed
            feed(relay_broker, 26.0, 0.0, 77.0)
        wait_until(lambda: "reading-over-limit" not in {flag.name for flag in service.latest["north"].flags})
        assert act(path, "prove")["refused"] == []
    relay.close()
