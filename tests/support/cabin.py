"""A small cabin for tests: one bank, a shunt, a probe, a relay; and a relay that answers like a real one."""

from __future__ import annotations

import json
import threading
from pathlib import Path

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

CABIN = """
[site]
id = "tarn-hut"

[broker]
host = "127.0.0.1"
port = {port}

[[bank]]
id = "north"
strings = 1
blocks = {{ per_string = 4, cells = 3, capacity = "200 Ah", labels = ["N1", "N2", "N3", "N4"] }}
chargers = [ {{ volts = "32 V", amps = "25 A" }} ]
hold = {{ minimum = "16 h", maximum = "16 h", starts = "at-voltage" }}

[[bank.meter]]
topic = "cabin/shunt"
style = "json"
pointer = "/dc/mv"
quantity = "voltage"
unit = "mV"
time = "/t"

[[bank.meter]]
topic = "cabin/shunt"
style = "json"
pointer = "/dc/a"
quantity = "current"
unit = "A"
time = "/t"

[[bank.meter]]
topic = "cabin/probe"
style = "plain"
quantity = "electrolyte_temperature"
unit = "degF"
placed = "cell"
{relay}
[journal]
path = "{journal}"
"""

RELAY = """
[bank.relay]
topic = "cabin/charger/set"
cut = "OFF"
allow = "ON"
state_topic = "cabin/charger/state"
auto_off = "90 s"
"""


def write_cabin(folder: Path, port: int, *, relay: bool = True, extra: str = "") -> Path:
    """A cabin file in this folder, for a broker on this port."""
    path = folder / "cabin.toml"
    path.write_text(CABIN.format(port=port, relay=RELAY if relay else "", journal="revival.db") + extra)
    return path


def shunt(t: float, volts: float, amps: float) -> str:
    """What the shunt publishes."""
    return json.dumps({"dc": {"mv": round(1000 * volts), "a": amps}, "t": t})


class RelayStandIn:
    """A relay on the bus: obeys, reports its state, keeps what it was told."""

    def __init__(
        self, port: int, *, obeys: bool = True, auto_off: float | None = None, login: tuple[str, str] | None = None
    ) -> None:
        self.auto_off = auto_off  #: opens by itself so long after the last ON [s]
        self._timer: threading.Timer | None = None
        self.told: list[str] = []
        self.closed = False
        self.closings = 0  #: how often the contact went from open to closed
        self.obeys = obeys
        self.changed = threading.Condition()
        self.client = Client(CallbackAPIVersion.VERSION2, client_id="relay-stand-in")
        if login is not None:
            self.client.username_pw_set(*login)
        self.client.on_message = self._on_message
        self.client.on_connect = lambda client, *_: client.subscribe("cabin/charger/set", 1)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def _on_message(self, client: Client, userdata: object, message: MQTTMessage) -> None:
        with self.changed:
            self.told.append(message.payload.decode())
            if self.obeys:
                self.closings += not self.closed and self.told[-1] == "ON"
                self.closed = self.told[-1] == "ON"
            if self._timer is not None:
                self._timer.cancel()
            if self.closed and self.auto_off is not None:
                self._timer = threading.Timer(self.auto_off, self._open_by_itself)
                self._timer.daemon = True
                self._timer.start()
            client.publish("cabin/charger/state", "ON" if self.closed else "OFF", qos=1)
            self.changed.notify_all()

    def push(self, closed: bool) -> None:
        """Somebody uses the button on its case."""
        with self.changed:
            self.closed = closed
            self.client.publish("cabin/charger/state", "ON" if closed else "OFF", qos=1)
            self.changed.notify_all()

    def _open_by_itself(self) -> None:
        with self.changed:
            self.closed = False
            self.client.publish("cabin/charger/state", "OFF", qos=1)
            self.changed.notify_all()

    def wait_for(self, closed: bool, timeout: float = 45.0) -> bool:
        """Whether the contact comes to this state in time [s]; shorter than silence or auto-off would take."""
        with self.changed:
            return self.changed.wait_for(lambda: self.closed is closed, timeout)

    def close(self) -> None:
        """Off the bus."""
        if self._timer is not None:
            self._timer.cancel()
        self.client.disconnect()
        self.client.loop_stop()
