"""Plays a recording to the broker at the pace of a clock that never runs ahead of what was played and heard."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from paho.mqtt.client import Client, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion

from bridge import clock as time_source
from bridge.clock import PacedClock
from bridge.demo.elsewhere import NOBODY, Login, own_id
from bridge.message import Message

#: So many messages of one topic may be under way between player and bridge, and the clock may be so far ahead of the
#: second that the bridge has come to [recorded s]: at a few thousand recorded seconds a second, the real milliseconds
#: that a thread or a disk takes must not look like a silent meter or a slow relay.
UNDER_WAY, LEAD = 2, 4.0


class Player:
    """One client that publishes every message of a recording.

    Attributes
    ----------
    played : Counter
        Messages published so far, by topic.
    sent_at : dict of float
        Topic -> when its last message was published [s, monotonic].
    """

    def __init__(
        self, host: str, port: int, messages: Sequence[Message], clock: PacedClock, login: Login = NOBODY
    ) -> None:
        self.messages = messages
        self.clock = clock
        self.played: Counter[str] = Counter()
        self.sent_at: dict[str, float] = {}
        self.client = Client(CallbackAPIVersion.VERSION2, client_id=own_id("player"), protocol=MQTTv5)
        if login.username is not None:
            self.client.username_pw_set(login.username, login.password)
        self.client.max_inflight_messages_set(1000)
        self.client.connect(host, port)
        self.client.loop_start()

    def play(
        self,
        arrived: Mapping[str, int],
        reached: Callable[[], float],
        pace: Callable[[], float],
        look: Callable[[], None],
    ) -> None:
        """Publish everything.

        Parameters
        ----------
        arrived : Counter
            How many messages of each topic the bridge has taken in so far.
        reached : callable
            To which recorded second the bridge has come [s since the epoch].
        pace : callable
            How fast [recorded s per s].
        look : callable
            Called often in between.
        """
        speed = 0.0
        for message in self.messages:
            while True:
                wanted = pace()
                if wanted != speed:
                    speed = wanted
                    self.clock.run_at(speed)
                self.clock.limit = min(message.at, reached() + LEAD)
                if self.clock.now() >= message.at and self._under_way(message.topic, arrived) < UNDER_WAY:
                    break
                look()
                time_source.sleep(min(max(self.clock.real_wait(message.at), 0.0003), 0.02))
            self.client.publish(message.topic, message.payload, qos=1, retain=message.retain)
            self.sent_at[message.topic] = time_source.monotonic()
            self.played[message.topic] += 1

    def _under_way(self, topic: str, arrived: Mapping[str, int]) -> int:
        # What is told, not measured, goes another way through the bridge and is not counted.
        return 0 if topic.endswith("/set") else self.played[topic] - arrived[topic]

    def close(self) -> None:
        """Leave the bus."""
        self.client.disconnect()
        self.client.loop_stop()
