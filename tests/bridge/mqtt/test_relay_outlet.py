"""Orders to the relay, and the guard whose will is the cut, against a real mosquitto."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from paho.mqtt.client import Client, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion

from bridge.mqtt.relay_guard import RelayGuard
from bridge.mqtt.session import Session
from bridge.outlets.relay import RelayOutlet
from bridge.settings import BrokerSettings, RelaySettings
from rules.events import Order
from tests.support.brokers import Broker, Proxy, wait_until

NUMBER = iter(range(1_000_000))


class Relay:
    """Notes everything that reaches the relay's topic: (payload, retain, monotonic time)."""

    def __init__(self, broker: Broker, topic: str) -> None:
        self.seen: list[tuple[bytes, bool, float]] = []
        self.session = Session(
            BrokerSettings(broker.host, broker.port),
            f"relay{next(NUMBER)}",
            opened=lambda session, present: session.link and session.link[0].subscribe(topic, 1),
            received=lambda client, data, m: self.seen.append((m.payload, m.retain, time.monotonic())),
        )
        self.session.start()
        wait_until(lambda: self.session.connected)
        time.sleep(0.05)

    def payloads(self) -> list[bytes]:
        return [payload for payload, _, _ in self.seen]


@pytest.fixture
def rig(broker: Broker) -> Iterator[Callable[..., tuple[RelayOutlet, Relay]]]:
    made: list[tuple[RelayOutlet, Relay]] = []

    def make(
        banks: tuple[str, ...] = ("north",), auto_off: float = 90.0, protocol: str = "5", port: int = 0, host: str = ""
    ) -> Any:
        topic = f"cabin/charger{next(NUMBER)}/set"
        relay = RelaySettings(f"charger{next(NUMBER)}", tuple(banks), topic, auto_off=auto_off)
        guard = RelayGuard(
            BrokerSettings(host or broker.host, port or broker.port, protocol=protocol), relay, "tarn-hut"
        )
        listener = Relay(broker, topic)
        guard.start()
        wait_until(lambda: guard.connected)
        made.append((RelayOutlet(relay, guard), listener))
        return made[-1]

    yield make
    for outlet, listener in made:
        outlet.guard.session.stop()
        listener.session.stop()


def order(action: str, bank: str = "north", at: float = 0.0) -> Order:
    return Order(bank, action, at, "test")


def test_orders_reach_the_relay_with_quality_one_and_are_never_retained(
    rig: Callable[..., tuple[RelayOutlet, Relay]],
) -> None:
    outlet, relay = rig()
    outlet.order(order("allow"))
    outlet.order(order("cut"))
    wait_until(lambda: len(relay.seen) == 2)
    assert [(payload, retain) for payload, retain, _ in relay.seen] == [(b"ON", False), (b"OFF", False)]
    assert outlet.guard.wait_acknowledged(5)
    last, acknowledged_at = outlet.guard.last, outlet.guard.acknowledged_at
    assert last is not None and last.action == "cut"
    assert acknowledged_at is not None and acknowledged_at - last.asked_at < 5


def test_every_repeated_cut_is_passed_on(rig: Callable[..., tuple[RelayOutlet, Relay]]) -> None:
    outlet, relay = rig()
    for _ in range(3):
        outlet.order(order("cut"))
    wait_until(lambda: relay.payloads() == [b"OFF"] * 3)


def test_a_relay_behind_two_banks_is_allowed_only_when_both_allow(
    rig: Callable[..., tuple[RelayOutlet, Relay]],
) -> None:
    outlet, relay = rig(banks=("north", "south"))
    outlet.order(order("allow", "north"))
    outlet.refresh(1000.0)
    assert not outlet.allowed and relay.payloads() == []
    outlet.order(order("allow", "south"))
    wait_until(lambda: relay.payloads() == [b"ON"])
    outlet.order(order("cut", "north"))
    wait_until(lambda: relay.payloads() == [b"ON", b"OFF"])
    outlet.refresh(5000.0)
    assert outlet.guard.wait_acknowledged(5)
    assert relay.payloads() == [b"ON", b"OFF"]


def test_f32_a_standing_permit_is_refreshed_every_third_of_the_auto_off(
    rig: Callable[..., tuple[RelayOutlet, Relay]],
) -> None:
    outlet, relay = rig(auto_off=90.0)
    outlet.order(order("allow", at=0.0))
    for second in range(1, 91):
        outlet.refresh(float(second))
    wait_until(lambda: len(relay.seen) >= 4)
    assert relay.payloads() == [b"ON"] * 4  # at 0, 30, 60 and 90 s
    outlet.order(order("cut", at=91.0))
    for second in range(91, 181):
        outlet.refresh(float(second))
    assert outlet.guard.wait_acknowledged(5)
    time.sleep(0.05)
    assert relay.payloads() == [b"ON"] * 4 + [b"OFF"]


def test_what_is_allowed_once_is_not_repeated_nor_missed_until_it_is_allowed_as_usual_again(
    rig: Callable[..., tuple[RelayOutlet, Relay]], monkeypatch: pytest.MonkeyPatch
) -> None:
    steady = [1000.0]
    monkeypatch.setattr("bridge.outlets.relay.time_source.steady", lambda: steady[0])
    outlet, relay = rig(banks=("north", "south"), auto_off=90.0)
    outlet.changes()
    outlet.order(order("allow", "south", at=0.0))
    outlet.order(order("allow-once", at=0.0))
    for second in range(1, 120):
        steady[0] += 1.0
        outlet.refresh(float(second))
    assert outlet.changes() == [], "that it opens by itself is what is waited for"
    assert outlet.allowed and outlet.held_by("south") == ""
    outlet.order(order("allow", at=120.0))
    steady[0] += 31.0
    outlet.refresh(151.0)
    assert outlet.guard.wait_acknowledged(5)
    wait_until(lambda: len(relay.seen) >= 3)
    assert relay.payloads() == [b"ON"] * 3, "once, then as usual at 120 and 151 s"
    steady[0] += 89.0
    assert "auto-off" in str(outlet.changes()[0]["opened"])


def test_without_auto_off_nothing_is_repeated(rig: Callable[..., tuple[RelayOutlet, Relay]]) -> None:
    outlet, relay = rig(auto_off=None)
    outlet.order(order("allow"))
    for second in range(1, 200):
        outlet.refresh(float(second))
    assert outlet.guard.wait_acknowledged(5)
    time.sleep(0.05)
    assert relay.payloads() == [b"ON"]


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_f58_closing_with_the_will_makes_the_broker_publish_the_cut(
    rig: Callable[..., tuple[RelayOutlet, Relay]], protocol: str
) -> None:
    outlet, relay = rig(protocol=protocol)
    outlet.order(order("allow"))
    wait_until(lambda: relay.payloads() == [b"ON"])
    outlet.guard.close_with_will()
    wait_until(lambda: relay.payloads() == [b"ON", b"OFF"])
    assert not outlet.guard.session.thread.is_alive()


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_f32_a_lost_bridge_cuts_the_relay(
    rig: Callable[..., tuple[RelayOutlet, Relay]], make_proxy: Callable[[int], Proxy], broker: Broker, protocol: str
) -> None:
    proxy = make_proxy(broker.port)
    outlet, relay = rig(protocol=protocol, port=proxy.port, auto_off=None)
    assert outlet.changes() == [{"link": "", "why": ""}]
    outlet.order(order("allow"))
    wait_until(lambda: relay.payloads() == [b"ON"])
    proxy.refusing = True
    proxy.cut()
    wait_until(lambda: relay.payloads() == [b"ON", b"OFF"], 10, "the will")
    wait_until(lambda: not outlet.guard.connected)
    (lost,) = outlet.changes()
    assert (lost["link"], lost["unanswered"]) == ("relay-link-lost", False)
    proxy.refusing = False
    wait_until(lambda: outlet.guard.connected, 20)
    # The connection is back, and the relay open: whether it closes again is for the rules to say.
    for second in range(1, 100):
        outlet.refresh(float(second))
    assert outlet.changes() == [{"link": "", "why": ""}]
    time.sleep(0.1)
    assert relay.payloads() == [b"ON", b"OFF"]
    outlet.order(order("allow", at=200.0))
    wait_until(lambda: relay.payloads() == [b"ON", b"OFF", b"ON"])


def test_f67_a_cut_that_a_lost_connection_took_along_is_told_as_unanswered(
    rig: Callable[..., tuple[RelayOutlet, Relay]], make_proxy: Callable[[int], Proxy], broker: Broker
) -> None:
    proxy = make_proxy(broker.port)
    outlet, _ = rig(port=proxy.port)
    outlet.changes()
    outlet.order(order("allow"))
    assert outlet.guard.wait_acknowledged(5)
    proxy.stalled = True
    outlet.order(order("cut"))
    proxy.refusing = True
    proxy.cut()
    wait_until(lambda: not outlet.guard.connected)
    (lost,) = outlet.changes()
    assert lost["unanswered"] is True


def test_f67_a_permit_that_was_not_refreshed_in_time_is_told_and_never_repeated(
    rig: Callable[..., tuple[RelayOutlet, Relay]], monkeypatch: pytest.MonkeyPatch
) -> None:
    steady = [1000.0]
    monkeypatch.setattr("bridge.outlets.relay.time_source.steady", lambda: steady[0])
    outlet, relay = rig(auto_off=90.0)
    outlet.changes()
    outlet.order(order("allow", at=0.0))
    steady[0] += 87.9
    outlet.refresh(31.0)
    wait_until(lambda: relay.payloads() == [b"ON"] * 2)
    steady[0] += 88.0
    outlet.refresh(200.0)
    (told,) = outlet.changes()
    assert "auto-off" in str(told["opened"]) and told["link"] == ""
    assert outlet.guard.wait_acknowledged(5)
    time.sleep(0.1)
    assert relay.payloads() == [b"ON"] * 2


def test_f68_an_allow_expires_a_little_after_the_next_is_due_and_a_cut_never(broker: Broker) -> None:
    seen: list[tuple[bytes, int | None]] = []
    topic = f"cabin/charger{next(NUMBER)}/set"
    # A client as any relay has it: ours does not look at what a message says of its expiry.
    listener = Client(CallbackAPIVersion.VERSION2, f"relay{next(NUMBER)}", protocol=MQTTv5)
    listener.on_message = lambda client, data, m: seen.append(
        (bytes(m.payload), getattr(m.properties, "MessageExpiryInterval", None))
    )
    subscribed = threading.Event()
    listener.on_subscribe = lambda *_: subscribed.set()
    listener.connect(broker.host, broker.port)
    listener.loop_start()
    listener.subscribe(topic, 1)
    assert subscribed.wait(10.0)
    for auto_off, expiry in ((90.0, 35), (None, 10)):
        guard = RelayGuard(
            BrokerSettings(broker.host, broker.port), RelaySettings("x", ("north",), topic, auto_off=auto_off), "hut"
        )
        guard.start()
        wait_until(lambda: guard.connected)
        guard.order("allow")
        guard.order("cut")
        wait_until(lambda: len(seen) >= 2)
        assert seen == [(b"ON", expiry), (b"OFF", None)]
        guard.session.stop()
        wait_until(lambda: not guard.connected)
        seen.clear()
    listener.disconnect()
    listener.loop_stop()


def test_f30_a_cut_ordered_without_a_connection_leaves_as_soon_as_there_is_one(
    rig: Callable[..., tuple[RelayOutlet, Relay]], make_proxy: Callable[[int], Proxy], broker: Broker
) -> None:
    proxy = make_proxy(broker.port)
    outlet, relay = rig(port=proxy.port)
    proxy.refusing = True
    proxy.cut()
    wait_until(lambda: not outlet.guard.connected)
    wait_until(lambda: relay.payloads() == [b"OFF"], 10, "the will")
    outlet.order(order("cut"))
    assert outlet.guard.acknowledged_at is None
    proxy.refusing = False
    wait_until(lambda: outlet.guard.acknowledged_at is not None, 20)
    assert relay.payloads() == [b"OFF", b"OFF"]


def test_the_guard_says_when_nobody_listens_to_the_relays_topic(
    broker: Broker, caplog: pytest.LogCaptureFixture
) -> None:
    relay = RelaySettings("deaf", ("north",), f"nobody/{next(NUMBER)}")
    guard = RelayGuard(BrokerSettings(broker.host, broker.port), relay, "tarn-hut")
    guard.start()
    wait_until(lambda: guard.connected)
    time.sleep(1.1)  # for a moment it listens itself, for what is retained
    guard.order("cut")
    assert guard.wait_acknowledged(5)
    assert guard.listened is False and guard.unheard
    assert "nobody listens on nobody/" in caplog.text
    guard.session.stop()


def test_f69_what_is_kept_on_another_topic_is_no_order_to_this_relay(
    rig: Callable[..., tuple[RelayOutlet, Relay]], broker: Broker
) -> None:
    # amqtt 0.12.1 hands a new client what is kept for everybody's subscriptions; here the guard asks for more itself
    broker.publish("homie/5/elsewhere/$state", "ready", "-r", "-q", "1")
    outlet, _ = rig(protocol="3.1.1")
    broker.publish(outlet.relay.topic, "ON", "-r", "-q", "1")
    link = outlet.guard.session.link
    assert link is not None
    link[0].subscribe([("homie/5/elsewhere/$state", 1), (outlet.relay.topic, 1)])
    outlet.guard.session.wake()
    wait_until(lambda: b"ON" in outlet.guard.kept)
    time.sleep(0.3)
    assert outlet.take_kept() == [("ON", True)]
    outlet.guard.kept.extend([b"OFF", b"toggle"])
    assert outlet.take_kept() == [("OFF", False), ("toggle", True)]
    broker.clear("homie/5/elsewhere/$state")
