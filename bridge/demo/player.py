"""Plays a recording to the broker at the pace of a clock that never runs ahead of what was played."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from paho.mqtt.client import Client, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion

from bridge import clock as time_source
from bridge.clock import PacedClock
from bridge.message import Message
from bridge.service import Service

#: The bridge may be so far behind the player, in recorded time [s], before the player waits.
LEAD = 30.0


class Player:
    """One client that publishes every message of a recording.

    Attributes
    ----------
    played : int
        Messages published so far.
    sent_at : dict of float
        Topic -> when its last message was published [s, monotonic].
    """

    def __init__(self, host: str, port: int, messages: Sequence[Message], clock: PacedClock) -> None:
        self.messages = messages
        self.clock = clock
        self.played = 0
        self.sent_at: dict[str, float] = {}
        self.client = Client(CallbackAPIVersion.VERSION2, client_id="demo-player", protocol=MQTTv5)
        self.client.max_inflight_messages_set(1000)
        self.client.connect(host, port)
        self.client.loop_start()

    def play(self, service: Service, pace: Callable[[], float], look: Callable[[], None]) -> None:
        """Publish everything; `pace` says how fast [recorded s per s], `look` is called often in between."""
        speed = pace()
        self.clock.run_at(speed)
        for message in self.messages:
            self.clock.limit = message.at
            while True:
                wanted = pace()
                if wanted != speed:
                    speed = wanted
                    self.clock.run_at(speed)
                wait = self.clock.real_wait(message.at)
                if wait <= 0.0:
                    break
                look()
                time_source.sleep(min(wait, 0.02))
            while service.engine.at < message.at - LEAD:
                look()
                time_source.sleep(0.001)
            sent = self.client.publish(message.topic, message.payload, qos=1, retain=message.retain)
            self.sent_at[message.topic] = time_source.monotonic()
            self.played += 1
            if self.played % 200 == 0:
                sent.wait_for_publish(5.0)
                look()

    def close(self) -> None:
        """Off the bus."""
        self.client.disconnect()
        self.client.loop_stop()
