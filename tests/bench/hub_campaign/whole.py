"""Second part: the whole bridge as `revival run`, the two alarms and the daily word of docker/hub/revival.yaml."""

from __future__ import annotations

import contextlib
import json
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from hub import Hub

from bridge.config import load
from bridge.outlets.discovery import DiscoveryOutlet
from bridge.words.page_address import link
from tests.support.brokers import Broker, free_port, wait_until
from tests.support.cabin import RelayStandIn, shunt, write_cabin

REPOSITORY = Path(__file__).parents[3]
SHIPPED = REPOSITORY / "docker/hub/revival.yaml"
LOST_FOR = "00:00:05"
#: The first part has the metric system; this hub turns every temperature into degrees Fahrenheit by itself.
PACKAGE = (
    "homeassistant:\n  time_zone: UTC\n  unit_system: us_customary\n  packages:\n    revival: !include revival.yaml\n"
)
PAGE = free_port()
SECOND = """
[hub]

[page]
listen = "0.0.0.0:{port}"

[[bank]]
id = "{name}"
strings = 1
blocks = {{ per_string = 4, cells = 3, capacity = "200 Ah" }}

[[bank.meter]]
topic = "cabin/second"
quantity = "voltage"
unit = "V"
"""


def shipped(summary_at: datetime) -> str:
    """The shipped file with shorter waits: two minutes become five seconds, the evening comes soon."""
    text, times = SHIPPED.read_text().replace('"00:02:00"', f'"{LOST_FOR}"'), f'at: "{summary_at:%H:%M:%S}"'
    assert text.count(LOST_FOR) == 2
    text, count = re.subn(r'at: "20:00:00"', times, text)
    assert count == 1
    return text


def second(path: Path, name: str) -> None:
    """Give the cabin a hub and a second bank of this name."""
    path.write_text(path.read_text().partition("\n[hub]")[0] + SECOND.format(name=name, port=PAGE))


class Meters:
    """Publishes every two seconds: 12.5 A while the relay is closed, and whatever temperature is set."""

    def __init__(self, broker: Broker, relay: RelayStandIn) -> None:
        self.broker, self.relay, self.fahrenheit = broker, relay, 77.0
        self.on, self.probe = True, True
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()

    def _run(self) -> None:
        while self.on:
            with contextlib.suppress(subprocess.SubprocessError):
                amps = 12.5 if self.relay.closed else 0.0
                self.broker.publish("cabin/shunt", shunt(time.time(), 26.31, amps), "-q", "1")
                if self.probe:
                    self.broker.publish("cabin/probe", f"{self.fahrenheit}")
                self.broker.publish("cabin/second", "25.1")
            time.sleep(2.0)

    def stop(self) -> None:
        self.on = False
        self.thread.join(10)


def start_bridge(path: Path) -> subprocess.Popen[bytes]:
    """The real thing, a process of its own."""
    with (path.parent / "bridge.log").open("ab") as log:
        return subprocess.Popen(
            [sys.executable, "-m", "bridge", "run", "--config", str(path)], cwd=REPOSITORY, stdout=log, stderr=log
        )


def end(process: subprocess.Popen[bytes] | None) -> None:
    """End this process in good order."""
    if process is not None and process.poll() is None:
        process.terminate()
        process.wait(20)


def so(what: str, condition: Callable[[], object], timeout: float = 60.0) -> None:
    """A step: wait until it is so, and say it."""
    begun = time.monotonic()
    wait_until(condition, timeout, what)
    print(f"ok    {what} ({time.monotonic() - begun:.1f} s)", flush=True)


def entities(path: Path) -> set[str]:
    """Every entity that the hub should know for this cabin."""
    cabin = load(path).cabin
    assert cabin.discovery_prefix
    documents = DiscoveryOutlet(cabin, cabin.discovery_prefix, print).documents
    return {f"{topic.split('/')[1]}.{json.loads(document)['object_id']}" for topic, document in documents.items()}


def campaign(program: str) -> None:
    """All steps; raises where one fails."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        broker = Broker(folder / "broker").start()
        evening = datetime.now(UTC) + timedelta(seconds=120)
        (folder / "hub").mkdir()
        (folder / "hub/revival.yaml").write_text(shipped(evening))
        hub = Hub(program, folder / "hub")
        path = write_cabin(folder, broker.port)
        second(path, "south")
        relay, bridge = RelayStandIn(broker.port), None
        meters = Meters(broker, relay)
        try:
            hub.start()
            hub.set_up(broker)
            hub.stop()
            hub.add(PACKAGE)  # only now: a hub that knows no broker yet complains of triggers that need one
            hub.start()
            bridge = start_bridge(path)
            _values(hub, path)
            _round(hub, broker, meters, relay)
            so("the daily word is there, by the hub's own clock", lambda: "The banks today" in hub.notifications(), 150)
            word = hub.notifications()["The banks today"]
            print("      " + word.replace("\n", "\n      "))
            assert re.search(r"Electrolyte: (77|120)\.0 °F\.", word) and "°C" not in word, "the hub's own degrees"
            bridge = _lost(hub, broker, bridge, path)
            _registries(hub, path)
            hub.stop()
            hub.start()
            so("after a restart of the hub the values are back", shows(hub, "north_electrical_voltage", "26.31"), 60)
            meters.probe = False
            so("a silent thermometer becomes unknown", shows(hub, "north_thermal_temperature", "unknown"), 200)
            bridge = _renamed(hub, bridge, path)
            text = hub.complaints()
            print("\n".join(text[:20]))
            assert not text, f"{len(text)} lines of the hub's log are about us"
            print("ok    the hub's log has no line about us")
        except AssertionError:
            print(f"{hub.notifications()}\n{(folder / 'bridge.log').read_text()[-3000:]}")
            raise
        finally:
            meters.stop()
            relay.close()
            end(bridge)
            hub.stop()
            broker.stop()


def shows(hub: Hub, entity: str, state: str, kind: str = "sensor") -> Callable[[], bool]:
    """Whether the hub shows this."""
    return lambda: hub.states().get(f"{kind}.tarn_hut_{entity}") == state


def _values(hub: Hub, path: Path) -> None:
    expected = entities(path)
    so(f"all {len(expected)} entities are there", lambda: expected <= set(hub.states()))
    so("a voltage", shows(hub, "north_electrical_voltage", "26.31"))
    so("a current", shows(hub, "north_electrical_current", "0.00"))
    so("a temperature, given and shown in Fahrenheit", shows(hub, "north_thermal_temperature", "77.0"))
    so("the other bank", shows(hub, "south_electrical_voltage", "25.10"))
    so("not tripped", shows(hub, "north_safety_tripped", "off", "binary_sensor"))
    so("the bridge's own health", shows(hub, "health_clock_trusted", "on", "binary_sensor"))
    so("an empty topic is unknown", shows(hub, "south_electrical_current", "unknown"))


def _round(hub: Hub, broker: Broker, meters: Meters, relay: RelayStandIn) -> None:
    press = "button.tarn_hut_north_{}".format
    told = "tarn-hut-north: {} was refused".format
    hub.press(press("safety_prove"))
    so(
        "a proof before the checklist is refused, and why",
        lambda: "checklist" in hub.notifications().get(told("prove"), ""),
    )
    assert "checklist" in hub.states()["sensor.tarn_hut_north_revival_refused"]
    hub.press(press("revival_command_start"))
    so("a start as well, with its reason", lambda: "checklist" in hub.notifications().get(told("start"), ""))
    so("beside the button too", lambda: hub.states()["sensor.tarn_hut_north_revival_refused"].startswith("start: "))
    assert "checklist" in hub.states()["sensor.tarn_hut_north_revival_refused"]
    assert "ON" not in relay.told, "what is refused closes nothing"
    hub.write("text.tarn_hut_north_revival_checklist_by", "the keeper")
    so("a name in the text field", shows(hub, "north_revival_checklist_by", "the keeper", "text"))
    hub.press(press("revival_checklist_confirm"))
    so("the name is taken", shows(hub, "north_revival_checklist_by", "", "text"))
    hub.press(press("safety_prove"))
    so("prove, pressed in the hub, closes the relay", lambda: "ON" in relay.told)
    so("and open again", lambda: shows(hub, "north_safety_relay", "open")() and not relay.closed)
    so(
        "the relay is proved: the current fell too",
        shows(hub, "north_safety_proof_test_missing", "off", "binary_sensor"),
    )
    hub.press(press("revival_command_start"))
    so("start, pressed in the hub, closes it", lambda: relay.closed)
    so("the hub shows it closed", shows(hub, "north_safety_relay", "closed"))
    so("the current flows", shows(hub, "north_electrical_current", "12.50"))
    meters.fahrenheit = 120.0
    so("120 degF trips the bank", shows(hub, "north_safety_tripped", "on", "binary_sensor"), 90)
    so("the relay is open", lambda: not relay.closed)
    title = "tarn-hut-north has tripped"
    so("a person is told", lambda: title in hub.notifications())
    print(f"      {hub.notifications()[title]}")
    assert "over-temperature" in hub.notifications()[title]
    hub.clear_screen()
    for _ in range(2):  # as the bridge says it every five minutes
        broker.publish("homie/5/tarn-hut-north/safety/tripped", "true", "-r", "-q", "1")
        so("a trip that stands is told again", lambda: title in hub.notifications())
        time.sleep(5.0)
    assert [one["title"] for one in hub.cards()].count(title) == 1, "one card"
    meters.fahrenheit = 77.0
    so("it cools", shows(hub, "north_thermal_temperature", "77.0"))
    assert hub.states()["binary_sensor.tarn_hut_north_safety_tripped"] == "on", "cooling alone resets nothing"
    time.sleep(5.0)
    hub.press(press("safety_reset"))
    so("reset takes the trip away", shows(hub, "north_safety_tripped", "off", "binary_sensor"))
    time.sleep(3.0)
    assert not relay.closed, "a reset is not a restart"
    hub.press(press("revival_command_resume"))
    so("resume closes the relay", lambda: relay.closed)


def _lost(hub: Hub, broker: Broker, bridge: subprocess.Popen[bytes], path: Path) -> subprocess.Popen[bytes]:
    bridge.kill()
    bridge.wait(10)
    so("a killed bridge is unavailable", shows(hub, "north_electrical_voltage", "unavailable"), 60)
    so("a person is told that nobody watches", lambda: "Nobody watches the bank" in hub.notifications())
    print(f"      {hub.notifications()['Nobody watches the bank']}")
    again = start_bridge(path)
    so("it comes back", shows(hub, "north_electrical_voltage", "26.31"))
    hub.clear_screen()
    assert "Nobody watches the bank" not in hub.notifications()
    broker.stop(signal.SIGKILL)
    so("a killed broker is unavailable", shows(hub, "north_electrical_voltage", "unavailable"), 60)
    so("a person is told that nobody watches", lambda: "Nobody watches the bank" in hub.notifications())
    broker.start()
    so("it comes back with the broker", shows(hub, "north_electrical_voltage", "26.31"), 120)
    return again


def _registries(hub: Hub, path: Path) -> None:
    """Every device leads to the page, and what is about safety stands among the first things shown."""
    devices = [one for one in hub.socket(type="config/device_registry/list") if "tarn-hut" in str(one["identifiers"])]
    assert len(devices) == 3
    page = load(path).cabin.page
    assert page is not None
    assert {one["configuration_url"] for one in devices} == {link(page)} != {""}, devices
    entities = [
        one
        for one in hub.socket(type="config/entity_registry/list")
        if one["entity_id"].split(".")[1].startswith("tarn")
    ]
    hidden = [one["entity_id"] for one in entities if one["entity_category"] or one["disabled_by"] or one["hidden_by"]]
    assert hidden, "health is diagnostic"
    assert not [one for one in hidden if "_health_" not in one], hidden
    print(f"ok    3 devices link to the page; of {len(entities)} entities only {len(hidden)} of health are diagnostic")


def _renamed(hub: Hub, bridge: subprocess.Popen[bytes], path: Path) -> subprocess.Popen[bytes]:
    end(bridge)
    second(path, "spare")
    again = start_bridge(path)
    so("a renamed bank is there by its new name", shows(hub, "spare_electrical_voltage", "25.10"))
    so("nothing of the old name is left", lambda: not [one for one in hub.states() if "tarn_hut_south" in one])
    end(again)
    path.write_text(path.read_text().replace("[hub]", ""))
    again = start_bridge(path)
    so("without [hub] nothing is left at all", lambda: not [one for one in hub.states() if "tarn_hut" in one])
    return again


if __name__ == "__main__":
    campaign(sys.argv[1])
