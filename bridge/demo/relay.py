"""A relay for the demo: obeys on the bus, reports its state, and notes to the millisecond when it was told."""

from __future__ import annotations

from typing import Any

from paho.mqtt.client import Client, MQTTMessage, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion

from bridge import clock
from bridge.demo.elsewhere import NOBODY, Login, own_id
from bridge.settings import RelaySettings


class DemoRelay:
    """A stand-in for the hardware; `opened_at` is when it last opened [s, monotonic].

    `told` and `reported` count the orders it heard and the states it published.
    """

    def __init__(self, host: str, port: int, relay: RelaySettings, login: Login = NOBODY) -> None:
        self.relay = relay
        self.closed = False
        self.opened_at = 0.0
        self.told = self.reported = 0
        self.client = Client(CallbackAPIVersion.VERSION2, client_id=own_id("relay"), protocol=MQTTv5)
        if login.username is not None:
            self.client.username_pw_set(login.username, login.password)
        self.client.on_connect = lambda client, *_: client.subscribe(relay.topic, 1)
        self.client.on_message = self._told
        self.client.connect(host, port)
        self.client.loop_start()

    def _told(self, client: Client, userdata: Any, message: MQTTMessage) -> None:
        closed = message.payload.decode("utf-8", "replace") == self.relay.allow
        if self.closed and not closed:
            self.opened_at = clock.monotonic()
        if closed != self.closed or not closed:
            self.closed = closed
            if self.relay.state_topic is not None:
                state = self.relay.state_closed if closed else self.relay.state_open
                self.reported += 1
                client.publish(self.relay.state_topic, state, qos=1)
        self.told += 1

    def close(self) -> None:
        """Leave the bus."""
        self.client.disconnect()
        self.client.loop_stop()
