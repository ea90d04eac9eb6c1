"""Model of what leaves on the live session: random publishes, acknowledgements, losses and returns (F23, F28)."""

from __future__ import annotations

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from bridge.mqtt import outgoing
from bridge.mqtt.outgoing import Outgoing, Waiting

TOPICS = st.sampled_from([f"topic/{number}" for number in range(6)])


class Broker:
    """Stands in for a session: keeps what reached it, loses what was in flight when the connection is cut."""

    maximum_packet = 0
    maximum_qos = 2

    def __init__(self) -> None:
        self.link: tuple[object, int] | None = None
        self.generation = 0
        self.in_flight: list[tuple[int, str, bytes]] = []
        self.retained: dict[str, bytes] = {}
        self.count = 0

    @property
    def connected(self) -> bool:
        return self.link is not None

    def publish(self, topic: str, payload: bytes, qos: int, retain: bool) -> int | None:
        if self.link is None:
            return None
        self.count += 1
        number = self.generation << 16 | self.count
        self.in_flight.append((number, topic, payload))
        return number


class Publishing(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.broker = Broker()
        self.outgoing = Outgoing(self.broker)  # type: ignore[arg-type]
        self.last: dict[str, bytes] = {}
        self.number = 0

    @rule(topic=TOPICS)
    def publish(self, topic: str) -> None:
        self.number += 1
        self.last[topic] = str(self.number).encode()
        self.outgoing.publish(topic, Waiting(self.last[topic], 1, True))

    @rule(topic=TOPICS)
    def publish_an_event(self, topic: str) -> None:
        self.outgoing.publish(f"event/{topic}", Waiting(b"now", 1, False))

    @rule()
    def connect(self) -> None:
        if not self.broker.connected:
            self.broker.generation += 1
            self.broker.count = 0
            self.broker.link = (object(), self.broker.generation)

    @rule(arrived=st.integers(0, 5))
    def lose(self, arrived: int) -> None:
        """Some of what was in flight still reaches the broker, none of the acknowledgements comes back."""
        for _, topic, payload in self.broker.in_flight[:arrived]:
            self.broker.retained[topic] = payload
        self.broker.in_flight.clear()
        self.broker.link = None

    @rule(count=st.integers(1, 5))
    def acknowledge(self, count: int) -> None:
        taken, self.broker.in_flight = self.broker.in_flight[:count], self.broker.in_flight[count:]
        for number, topic, payload in taken:
            self.broker.retained[topic] = payload
            self.outgoing.acknowledged(number, 0)

    @rule()
    def pump(self) -> None:
        self.outgoing.pump()

    @invariant()
    def the_queue_is_bounded(self) -> None:
        assert len(self.outgoing._waiting) <= len(self.last)
        assert len(self.broker.in_flight) <= outgoing.WINDOW

    @invariant()
    def nothing_older_follows_something_newer(self) -> None:
        for topic in self.last:
            numbers = [int(payload) for _, name, payload in self.broker.in_flight if name == topic]
            assert numbers == sorted(numbers)

    def teardown(self) -> None:
        """In the end the broker holds the last value of every topic."""
        self.connect()
        for _ in range(200):
            done = self.outgoing.pump()
            self.acknowledge(1000)
            if done and not self.broker.in_flight:
                break
        assert self.outgoing.pump()
        assert {topic: self.broker.retained.get(topic) for topic in self.last} == self.last


TestPublishing = Publishing.TestCase
TestPublishing.settings = settings(max_examples=150, stateful_step_count=40, deadline=None)


def test_with_a_window_of_three_the_model_holds_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outgoing, "WINDOW", 3)
    case = Publishing.TestCase()
    type(case).settings = settings(max_examples=150, stateful_step_count=40, deadline=None)
    case.runTest()
