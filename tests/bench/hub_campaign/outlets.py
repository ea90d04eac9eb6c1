"""First part: outlets alone, fed with made-up states, so that every kind of value passes the hub within a minute."""

from __future__ import annotations

import json
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hub import Hub

from bridge.mailbox import Mailbox, SessionChange
from bridge.message import Message
from bridge.mqtt.bus import Bus, Subscriptions
from bridge.outlets import discovery
from bridge.outlets.discovery import DiscoveryOutlet
from bridge.outlets.homie import HomieOutlet
from bridge.settings import BrokerSettings, Cabin
from rules.bank.model import Bank, Block, Meter, Relay
from rules.events import Command, Derived, Flag
from tests.support.brokers import Broker, wait_until

PREFIX = "homeassistant"
BLOCKS = (tuple(Block(f"N{n}", 3, 200.0) for n in range(1, 5)),)
METERS = (Meter("voltage", "voltage"), Meter("electrolyte_temperature", "electrolyte_temperature", placed="cell"))
BANKS = {name: Bank(name, BLOCKS, meters=METERS, relay=Relay(reports_state=True)) for name in ("north", "south")}
HOT = Flag("over-temperature", "hazard", 1795590000.0, 44.2, 43.333, "degC", "two samples", "let it cool")


def derived(bank: str, **more: Any) -> Derived:
    """A bank in the middle of a round."""
    values: dict[str, Any] = {
        "voltage": 28.81, "volts_per_cell": 2.4008, "current": 12.5, "power": 360.0, "temperature": 31.5,
        "phase": "finishing", "phase_since": time.time() - 3600.0, "remaining_hours": 12.34, "remaining_low": 10.0,
        "remaining_high": 15.5, "remaining_reason": "the taper", "finish_at": time.time() + 44424.0, "energy": 7.123,
        "charge_returned": 251.2, "charge_allowed": True, "relay": "closed", "next_step": "nothing",
        "freshness": {"voltage": 1.0, "electrolyte_temperature": 12.0},
    }  # fmt: skip
    return Derived(bank, time.time(), **(values | more))


class Bridge:
    """Bus and outlets without an engine: what the campaign says is what is published."""

    def __init__(self, broker: Broker, banks: dict[str, Bank]) -> None:
        cabin = Cabin("tarn-hut", banks, BrokerSettings(broker.host, broker.port), discovery_prefix=PREFIX)
        self.bus = Bus(cabin.broker, Mailbox(), time.time, "revival-tarn-hut")
        self.homie = HomieOutlet(cabin, self.bus.publish)
        self.commands: list[Command] = []
        commands = tuple(self.homie.command_topics())
        self.bus.start(Subscriptions(commands=commands, will_topic=self.homie.state_topic))

    def turn(self, until: Callable[[], object], what: str, timeout: float = 60.0) -> None:
        """What the engine does, until something is so."""
        deadline = time.monotonic() + timeout
        while not until():
            if time.monotonic() > deadline:
                raise AssertionError(f"in vain: {what}")
            for item in self.bus.mailbox.take(100, 0.1):
                if isinstance(item, SessionChange):
                    if item.session == "live" and item.connected:
                        self.homie.announce()
                elif isinstance(item, Message):
                    told = self.homie.command(item, time.time())
                    if isinstance(told, Command):
                        self.commands.append(told)
            self.homie.health(time.time(), 0.5, True)
        print(f"ok    {what}", flush=True)

    def stop(self) -> None:
        """Leave in good order."""
        self.homie.disconnect()
        self.bus.stop(5)


def campaign(program: str) -> None:
    """All steps; raises where one fails. A quarter of an hour of life is cut to 30 s, and said again each 8 s."""
    discovery.EXPIRES, discovery.REPEAT = 30, 8.0
    with tempfile.TemporaryDirectory() as folder:
        broker, hub = Broker(Path(folder) / "broker").start(), Hub(program, Path(folder))
        bridge: Bridge | None = None
        try:
            hub.start()
            hub.set_up(broker)
            bridge = Bridge(broker, BANKS)
            _steps(broker, hub, bridge)
            complaints = hub.complaints()
            print("\n".join(complaints[:20]))
            assert not complaints, f"{len(complaints)} lines of the hub's log are about us"
            print("ok    the hub's log has no line about us")
        finally:
            if bridge is not None:
                bridge.bus.stop(1)
            hub.stop()
            broker.stop()


def _steps(broker: Broker, hub: Hub, bridge: Bridge) -> None:
    def shows(entity: str, state: str, kind: str = "sensor") -> Callable[[], bool]:
        return lambda: hub.states().get(f"{kind}.tarn_hut_{entity}") == state

    bridge.turn(lambda: bridge.bus.subscribed, "connected")
    for bank in BANKS:
        bridge.homie.update(derived(bank))
    cabin = Cabin("tarn-hut", BANKS, discovery_prefix=PREFIX)
    expected = {
        f"{topic.split('/')[1]}.{json.loads(document)['object_id']}"
        for topic, document in DiscoveryOutlet(cabin, PREFIX, print).documents.items()
    }
    bridge.turn(lambda: expected <= set(hub.states()), f"all {len(expected)} entities are there")
    bridge.turn(shows("north_electrical_voltage", "28.81"), "a voltage")
    bridge.turn(shows("north_revival_phase", "finishing"), "a phase")
    bridge.turn(shows("north_safety_charge_allowed", "on", "binary_sensor"), "charging allowed")
    bridge.turn(shows("north_safety_over_temperature", "off", "binary_sensor"), "a flag that is down")
    mute = ("_at", "_since", "_verdict_word")  # no moment and no verdict yet

    def missing() -> list[str]:
        states = hub.states()
        return [one for one in expected if states[one] == "unavailable" and not one.endswith(mute)]

    try:
        bridge.turn(lambda: not missing(), "none of them is unavailable once every value was said again")
    finally:
        print("\n".join(f"      unavailable: {one}" for one in missing()), end="")
    bridge.turn(shows("south_gas_water_reserve", "unknown"), "what was never known is unknown")
    hot: dict[str, Any] = {"flags": (HOT,), "safe": "no", "unsafe": (HOT.name,)}
    bridge.homie.update(derived("north", tripped=True, trip_reason=HOT.name, **hot))
    bridge.turn(shows("north_safety_over_temperature", "on", "binary_sensor"), "the flag goes up")
    reason = "over-temperature: two samples, 44.2 °C, limit 43.3 °C"
    bridge.turn(shows("north_safety_trip_reason", reason), "the reason")
    bridge.homie.update(derived("north", voltage=None, temperature=None, finish_at=None, phase_since=None))
    bridge.turn(shows("north_electrical_voltage", "unknown"), "an emptied number is unknown")
    bridge.turn(shows("north_revival_finish_at", "unavailable"), "an emptied moment is not shown")
    bridge.turn(shows("north_safety_trip_reason", ""), "an empty text is empty")
    hub.press("button.tarn_hut_north_safety_reset")
    hub.press("button.tarn_hut_south_revival_command_start")
    bridge.turn(lambda: len(bridge.commands) == 2, "two buttons pressed")
    assert [(c.bank, c.name) for c in bridge.commands] == [("north", "reset"), ("south", "start")]
    record = bridge.homie.announced()
    bridge.stop()
    bridge.turn(shows("south_electrical_voltage", "unavailable"), "a bridge that left is unavailable")
    again = Bridge(broker, {"south": BANKS["south"]})
    try:
        again.turn(lambda: again.bus.subscribed, "comes back with one bank less")
        again.homie.retire(record)
        again.homie.update(derived("south"))
        again.turn(shows("south_electrical_voltage", "28.81"), "the other bank is there again")
        again.turn(lambda: not [one for one in hub.states() if "tarn_hut_north" in one], "no entity is orphaned")
        hub.stop()
        hub.start()
        again.turn(shows("south_electrical_voltage", "28.81"), "after a restart of the hub", 90.0)
        again.turn(shows("south_revival_phase", "finishing"), "its phase too")
        begun = time.monotonic()
        again.turn(lambda: time.monotonic() - begun > 1.5 * discovery.EXPIRES, "longer than a value lives")
        assert shows("south_electrical_voltage", "28.81")(), "a value that never changes does not expire"
        print("ok    a value that never changes does not expire while it is said again", flush=True)
        again.bus.stop(5)
        for device in ("tarn-hut", "tarn-hut-south"):  # as a broker says it that came back from a power cut alone
            broker.publish(f"homie/5/{device}/$state", "ready", "-r", "-q", "1")
        wait_until(shows("south_electrical_voltage", "28.81"), 20, "the broker says ready of a bridge that is gone")
        wait_until(shows("south_electrical_voltage", "unavailable"), 60, "its values expire")
        print("ok    values of a bridge that is gone expire although its state still says ready", flush=True)
    finally:
        again.stop()


if __name__ == "__main__":
    campaign(sys.argv[1])
