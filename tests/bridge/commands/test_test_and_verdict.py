"""A capacity test and a verdict on a real broker: the load comes off, the words are on the bus, blocks keep theirs."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from bridge.cli import main
from bridge.config import load
from bridge.errors import ConfigError
from bridge.journal.batch import Batch
from bridge.journal.snapshot import to_text
from bridge.journal.writer import Journal
from bridge.settings import JournalSettings
from rules.events import HandReading
from rules.hand.log import HandLog, record
from rules.phase.memory import PhaseMemory
from rules.step.memory import initial
from rules.verdict.capacity_test import CapacityTest
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.running_bridge import turning

LOAD = '\n[bank.load_relay]\ntopic = "cabin/load/set"\ncut = "OPEN"\n'


class Listener:
    """A client that is not ours, and the last thing it heard on each topic."""

    def __init__(self, port: int) -> None:
        self.heard: dict[str, str] = {}
        self.lock = threading.Lock()
        self.client = Client(CallbackAPIVersion.VERSION2, client_id="listener")
        self.client.on_message = lambda _c, _u, message: self.heard.update({message.topic: message.payload.decode()})
        self.client.on_connect = lambda client, *_: client.subscribe("#", 1)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def bank(self, path: str) -> str:
        return self.heard.get(f"homie/5/tarn-hut-north/{path}", "")

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


@pytest.fixture
def broker(make_broker: Callable[..., Broker]) -> Broker:
    """One of this test's own: topics are the same in every cabin."""
    return make_broker()


@pytest.fixture
def listener(broker: Broker) -> Iterator[Listener]:
    """Hears everything."""
    listener = Listener(broker.port)
    yield listener
    listener.close()


@pytest.fixture
def testing(broker: Broker, tmp_path: Path) -> Path:
    """A cabin whose bank has given 164 Ah at 10 A and is nearly down."""
    path = write_cabin(tmp_path, broker.port, relay=False)
    text = path.read_text().replace("\n[journal]", LOAD + "\n[journal]")
    path.write_text(text)
    now = time.time()
    cells: dict[str, float | str] = {f"N{block}.{cell}": 1.262 for block in range(1, 5) for cell in range(1, 4)}
    hand = record(
        HandLog(), HandReading("north", "gravity", now, now - 20 * 3600.0, cells, 26.7), 0.0, 0.0, False, 12.0
    )
    memory = initial()._replace(
        phase=PhaseMemory("testing", now - 17 * 3600.0, woken=True, hold_complete=True, started_at=now - 99 * 3600.0),
        hand=hand,
        test=CapacityTest(now - 17 * 3600.0, 25.0, delivered=164.2, hours=16.42, fell_first=("N2",)),
    )
    journal = Journal.open(JournalSettings(path=tmp_path / "revival.db"), {"north": ()})
    journal.submit(Batch(snapshots={"north": to_text(memory)}))
    journal.close(10.0)
    return path


def test_at_the_end_voltage_the_load_relay_opens_and_the_verdict_is_on_the_bus(
    testing: Path, broker: Broker, listener: Listener, capsys: pytest.CaptureFixture[str]
) -> None:
    with turning(testing) as service:
        wait_until(lambda: service.bus.subscribed)

        def discharging() -> bool:
            broker.publish("cabin/shunt", shunt(time.time(), 20.8, -10.0), "-q", "1")
            return "cabin/load/set" in listener.heard

        wait_until(discharging, 20.0)
        assert listener.heard["cabin/load/set"] == "OPEN"
        wait_until(lambda: listener.bank("safety/test-end") == "true", 20.0)
        wait_until(lambda: listener.bank("verdict/word") == "keep", 20.0)
        rows = json.loads(listener.bank("verdict/table"))
        assert [row["label"] for row in rows] == ["north", "N1", "N2", "N3", "N4"]
        assert rows[2]["word"] == "keep"
        assert "82 % of its rated 200 Ah" in rows[2]["reasons"][0]
        assert json.loads(listener.bank("verdict/fell-first")) == ["N2"]
        assert float(listener.bank("verdict/capacity-percent")) == pytest.approx(82.1, abs=0.5)
        assert sorted(json.loads(listener.bank("verdict/strings"))[0]) == ["N1", "N2", "N3", "N4"]
        assert main(["verdict", "--config", str(testing), "--give", "Ann"]) == 0
        assert "KEEP" in capsys.readouterr().out
        wait_until(lambda: listener.bank("revival/phase") == "finished", 20.0)
        wait_until(lambda: listener.bank("safety/after-round") == "true", 20.0)
        assert json.loads(listener.bank("verdict/table"))[0]["reasons"][0] == "given by Ann"
    with turning(testing) as service:
        wait_until(lambda: "north" in service.latest, 20.0)
        assert service.engine.memories["north"].given is not None
        capsys.readouterr()
        assert main(["verdict", "--config", str(testing), "--capacity", "N1=90 Ah", "--give", "Ben"]) == 0
        assert main(["record", "--list", "--config", str(testing)]) == 0
        lines = capsys.readouterr().out.splitlines()
        listed = [line.split() for line in lines if "verdict by" in line]
        assert [line[-1] for line in listed] == ["Ben", "Ann"]
        assert main(["record", "--take-back", listed[1][0], "--config", str(testing)]) == 2
        assert "only the last verdict can be taken back" in capsys.readouterr().err
        assert main(["verdict", "--take-back", "--give", "Ben", "--config", str(testing)]) == 2
        capsys.readouterr()
        assert main(["record", "--take-back", listed[0][0], "--config", str(testing)]) == 0
        said = capsys.readouterr().out
        assert "that of Ben, " in said and "that of Ann before it stands again, and the round stays over" in said
        assert main(["verdict", "--config", str(testing)]) == 0
        assert "given by Ann" in capsys.readouterr().out
        assert main(["verdict", "--take-back", "--config", str(testing)]) == 0
        assert "none stands, and the round stays over" in capsys.readouterr().out
        assert service.engine.memories["north"].given is None
        assert service.engine.memories["north"].phase.phase == "finished"
        assert main(["verdict", "--take-back", "--config", str(testing)]) == 5
        wait_until(lambda: "given by" not in listener.bank("verdict/table"), 20.0)


def test_an_arrangement_over_the_bus_moves_the_account_of_each_block(
    broker: Broker, listener: Listener, tmp_path: Path
) -> None:
    path = write_cabin(tmp_path, broker.port, relay=False)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        broker.publish("cabin/shunt", shunt(time.time(), 28.8, 2.0), "-q", "1")
        wait_until(lambda: service.latest and service.latest["north"].volts_per_cell is not None, 20.0)
        ask = "homie/5/tarn-hut-north/revival/arrange/set"
        broker.publish(ask, '{"act": "split", "number": 2}', "-q", "1")
        wait_until(lambda: "air the room for an hour" in (listener.bank("revival/refused") or ""), 20.0)
        assert '"sure": true' in json.loads(listener.bank("revival/refused"))["why"]
        assert service.engine.memories["north"].arrangement is None
        broker.publish(ask, '{"act": "split", "number": 2, "sure": true}', "-q", "1")
        wait_until(lambda: service.engine.memories["north"].arrangement is not None, 20.0)
        broker.publish("cabin/shunt", shunt(time.time(), 14.4, 2.0), "-q", "1")
        wait_until(lambda: listener.bank("electrical/volts-per-cell") == "2.400", 25.0)

        def wired() -> dict[str, int]:
            return {row["block"]: row["string"] for row in json.loads(listener.bank("cells/blocks") or "[]")}

        wait_until(lambda: wired() == {"N3": 1, "N4": 1, "N1": 0, "N2": 0}, 25.0)


def test_a_load_relay_on_the_charger_s_topic_is_refused(tmp_path: Path) -> None:
    path = write_cabin(tmp_path, 1883)
    extra = '[bank.load_relay]\ntopic = "cabin/charger/set"\n'
    path.write_text(path.read_text().replace("\n[journal]", f"\n{extra}\n[journal]"))
    with pytest.raises(ConfigError, match="is a charger's relay"):
        load(path)
