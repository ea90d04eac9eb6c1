"""Plays a recording to the broker at the pace of a clock that never runs ahead of what was played and heard."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Mapping, Sequence

from paho.mqtt.client import Client, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion

from bridge import clock as time_source
from bridge.clock import PacedClock
from bridge.demo.elsewhere import NOBODY, Login, own_id
from bridge.message import Message

#: So many messages of one topic may be under way between player and bridge, and the clock may be so far ahead of the
#: second that the bridge has come to, and of the oldest message under way [recorded s]: at a few thousand recorded
#: seconds a second, the real milliseconds that a thread or a disk takes must not look like a silent meter or a slow
#: relay.
UNDER_WAY, LEAD, BEHIND = 2, 4.0, 1.0
#: What a relay takes to answer an order, however long it really takes [recorded s].
ANSWERS = 0.5
#: What is told, not measured, goes another way through the bridge and is not counted.
TOLD = "/set"


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
        self._on_its_way: deque[tuple[str, int, float]] = deque()
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
        waits: Callable[[], bool],
        flows: Callable[[Message], Message],
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
        waits : callable
            Whether the relay still owes an answer: the clock then goes on by no more than a relay needs.
        flows : callable
            What a message becomes as the relay stands.
        look : callable
            Called often in between.
        """
        speed = stands = 0.0
        for message in self.messages:
            while True:
                wanted = pace()
                if wanted != speed:
                    speed = wanted
                    self.clock.run_at(speed)
                self._settle(arrived)
                behind = self._on_its_way[0][2] + BEHIND if self._on_its_way else message.at
                stands = (stands or self.clock.now() + ANSWERS) if waits() else 0.0
                self.clock.limit = max(self.clock.now(), stands or min(message.at, reached() + LEAD, behind))
                if self.clock.now() >= message.at and self._under_way(message.topic, arrived) < UNDER_WAY:
                    break
                look()
                time_source.sleep(min(max(self.clock.real_wait(message.at), 0.0003), 0.02))
            self.client.publish(message.topic, flows(message).payload, qos=1, retain=message.retain)
            self.sent_at[message.topic] = time_source.monotonic()
            self.played[message.topic] += 1
            if not message.topic.endswith(TOLD):
                self._on_its_way.append((message.topic, self.played[message.topic], message.at))

    def _settle(self, arrived: Mapping[str, int]) -> None:
        while self._on_its_way and arrived[self._on_its_way[0][0]] >= self._on_its_way[0][1]:
            self._on_its_way.popleft()

    def _under_way(self, topic: str, arrived: Mapping[str, int]) -> int:
        return 0 if topic.endswith(TOLD) else self.played[topic] - arrived[topic]

    def close(self) -> None:
        """Leave the bus."""
        self.client.disconnect()
        self.client.loop_stop()
