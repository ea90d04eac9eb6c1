"""A pretended bank and a pretended relay on the scratch topics: they publish what the owner's meters would."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable

from paho.mqtt.client import Client, ConnectFlags, MQTTMessage, MQTTv5, MQTTv311
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from bridge import clock as time_source
from bridge.config import Loaded
from bridge.intake.mapping import Mapping
from bridge.mqtt.refusals import tls_context
from bridge.rehearsal.encode import descriptions, payloads
from bridge.settings import BrokerSettings, RelaySettings
from rules.bank import Bank

#: Meters of the rehearsal report so often [s].
EVERY = 1.0
MAINS = 120.0
FORGET_WITHIN = 2.0


class Stage:
    """A stage that publishes every mapped meter once a second, and answers for the relay.

    Attributes
    ----------
    temperature, per_cell : float
        What the electrolyte probes [degC] and the voltmeters [V per cell] show.
    closed : bool
        The pretended relay's contact.
    told : list of tuple
        What the relay was told, and when [s, monotonic].
    """

    def __init__(self, loaded: Loaded, bank: Bank, now: Callable[[], float]) -> None:
        self.bank, self.now = bank, now
        self.relay: RelaySettings | None = next(iter(loaded.cabin.relays), None)
        self.mappings: list[Mapping] = [m for m in loaded.routes.mappings if m.quantity != "relay_state"]
        self.states: list[Mapping] = [m for m in loaded.routes.mappings if m.quantity == "relay_state"]
        self.temperature, self.per_cell = 25.0, 2.12
        self.closed = False
        self.told: list[tuple[str, float]] = []
        self.changed = threading.Condition()
        self._ending = threading.Event()
        self._broker = loaded.cabin.broker
        self.user = self._broker.username
        self._client = self._connect(self._broker)
        for topic, text in descriptions(self.mappings).items():
            self._client.publish(topic, text, qos=1)
        self._thread = threading.Thread(target=self._play, name="rehearsal", daemon=True)
        self._thread.start()

    def _connect(self, broker: BrokerSettings) -> Client:
        client = self._client_for(broker, "stage")
        client.on_connect = self._on_connect
        client.on_message = self._on_message
        client.connect(broker.host, broker.port)
        client.loop_start()
        return client

    def _client_for(self, broker: BrokerSettings, name: str) -> Client:
        """Return a client as the owner's broker wants it, with nothing kept."""
        five = broker.protocol == "5"
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"{broker.client_prefix}-{name}",
            protocol=MQTTv5 if five else MQTTv311,
            clean_session=None if five else True,
        )
        if broker.username is not None:
            client.username_pw_set(broker.username, broker.password.get_secret_value() if broker.password else None)
        if broker.tls:
            client.tls_set_context(tls_context(broker))
        return client

    def _on_connect(
        self, client: Client, userdata: object, flags: ConnectFlags, code: ReasonCode, properties: Properties | None
    ) -> None:
        if self.relay is not None and not code.is_failure:
            client.subscribe(self.relay.topic, 1)

    def _on_message(self, client: Client, userdata: object, message: MQTTMessage) -> None:
        word = message.payload.decode("utf-8", "replace")
        with self.changed:
            self.told.append((word, time_source.monotonic()))
            self.closed = self.relay is not None and word == self.relay.allow
            self.changed.notify_all()
        self._publish(self.states, {"relay_state": float(self.closed)})

    def wait_for(self, closed: bool, timeout: float) -> bool:
        """Tell whether the contact comes to this state in time [s]."""
        with self.changed:
            return self.changed.wait_for(lambda: self.closed is closed, timeout)

    def values(self) -> dict[str, float]:
        """Return what every mapped meter shows, canonical units: half the bulk current while the relay is closed."""
        strings = len(self.bank.strings)
        share = 0.5 * self.bank.string_current_limit if self.closed or self.relay is None else 0.0
        volts = self.per_cell * self.bank.cells
        watts = volts * share * strings
        by_quantity = {
            "current": share * strings + self.bank.zero_offset,
            "string_current": share,
            "power": watts,
            "ac_voltage": MAINS,
            "ac_power": watts / self.bank.charger_efficiency,
            "ac_current": watts / self.bank.charger_efficiency / self.bank.power_factor / MAINS,
            "electrolyte_temperature": self.temperature,
            "ambient_temperature": 20.0,
            "hydrogen": 0.0,
            "fan": 1.0,
            "door": 1.0,
            "gravity": 1.2,
            "level": 10.0,
        }
        return {
            meter.name: by_quantity.get(meter.quantity, self.per_cell * self.bank.spans[meter.name])
            for meter in self.bank.meters
            if meter.quantity != "relay_state"
        }

    def show(self) -> float:
        """Let every meter report now; when [s, monotonic]."""
        self._publish(self.mappings, self.values())
        return time_source.monotonic()

    def _publish(self, mappings: list[Mapping], values: dict[str, float]) -> None:
        for topic, payload in payloads(mappings, values, self.now()).items():
            self._client.publish(topic, payload, qos=1)

    def _play(self) -> None:
        while not self._ending.wait(EVERY):
            self.show()

    def forget(self, topics: Iterable[str], session: str) -> None:
        """Leave nothing on the owner's broker: no retained topic, and no session that it keeps for a bridge."""
        waiting = [self._client.publish(topic, b"", qos=1, retain=True) for topic in topics]
        for each in waiting:
            each.wait_for_publish(FORGET_WITHIN)
        kept = self._client_for(self._broker, session)
        kept.connect(self._broker.host, self._broker.port)
        kept.loop_start()
        kept.disconnect()
        kept.loop_stop()

    def close(self) -> None:
        """Leave the bus."""
        self._ending.set()
        self._thread.join(5.0)
        self._client.disconnect()
        self._client.loop_stop()
