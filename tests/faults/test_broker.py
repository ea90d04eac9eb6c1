"""Faults of broker and network, F16 and F18 to F29, produced with a real mosquitto and a proxy that misbehaves."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

import bridge.mqtt.bus
from bridge.mailbox import SessionChange
from bridge.message import Message
from bridge.mqtt.bus import Bus, Subscriptions, filters_hash
from bridge.mqtt.session import Session
from bridge.outlets.homie import HomieOutlet
from bridge.settings import BrokerSettings, Cabin
from rules.bank.model import Bank, Block
from rules.events import Derived, Event
from tests.conftest import MakeBroker
from tests.support.brokers import Broker, Certificates, Proxy, password_file, wait_until
from tests.support.bus_tools import NUMBER, Buses, collect, nothing, take

KEEPALIVE = 2  # so that what takes 15 s in a cabin takes 2 s here
BANKS = {"north": Bank("north", ((Block("N1", 3, 200.0),),))}


class Watcher:
    """Everything seen on some topics by somebody else: (topic, payload, retain) in order."""

    def __init__(self, broker: Any, topics: str) -> None:
        self.seen: list[tuple[str, str, bool]] = []
        self.session = Session(
            BrokerSettings(broker.host, broker.port),
            f"watcher{next(NUMBER)}",
            opened=lambda session, _: session.link and session.link[0].subscribe(topics, 1),
            received=lambda c, d, m: self.seen.append((m.topic, m.payload.decode(), m.retain)),
        )
        self.session.start()
        wait_until(lambda: self.session.connected)
        time.sleep(0.05)

    def of(self, topic: str) -> list[str]:
        return [payload for name, payload, _ in self.seen if name == topic]


@pytest.fixture
def watch() -> Iterator[Any]:
    made: list[Watcher] = []

    def make(broker: Any, topics: str) -> Watcher:
        made.append(Watcher(broker, topics))
        return made[-1]

    yield make
    for one in made:
        one.session.stop()


def follow(bus: Bus, homie: HomieOutlet, until: Any, timeout: float = 20.0) -> None:
    """What the engine does with sessions and commands, until something is so."""
    deadline = time.monotonic() + timeout
    while not until():
        assert time.monotonic() < deadline, "in vain"
        for item in bus.mailbox.take(100, 0.05):
            if isinstance(item, SessionChange):
                if item.session == "live" and item.connected:
                    homie.announce()
            elif isinstance(item, Message):
                homie.command(item, time.time())


def homie_on(bus: Bus, site: str) -> HomieOutlet:
    return HomieOutlet(Cabin(site, BANKS), bus.publish)


# ----------------------------------------------------------------------------------- F11, F15, F16


def test_f11_unstamped_samples_of_an_outage_are_not_replayed(
    broker: Broker, make_bus: Buses, make_proxy: Callable[[int], Proxy]
) -> None:
    live, stamped = f"cabin/{next(NUMBER)}", f"cabin/{next(NUMBER)}"
    proxy = make_proxy(broker.port)
    bus = make_bus(proxy, live=[live], history=[stamped])
    proxy.refusing = True
    proxy.cut()
    wait_until(lambda: not bus.connected and not (bus.history and bus.history.connected))
    publisher = make_bus(broker)
    for number in range(100):
        publisher.publish(live, str(number), retain=False)
        publisher.publish(stamped, str(number), retain=False)
    assert publisher.flush(5)
    proxy.refusing = False
    wait_until(lambda: bus.subscribed, 30, "back")
    broker.publish(live, "now", "-q", "1")
    arrived: list[Any] = []
    while not any(m.payload == b"now" for m in arrived) or len(arrived) < 21:
        arrived += collect(bus, 1)
        for message in arrived:
            bus.ack(message)  # the broker holds back what is beyond its window until these are acknowledged
    assert [m.payload for m in arrived if m.session == "live"] == [b"now"]
    assert [m.payload for m in arrived if m.session == "history"][:20] == [str(n).encode() for n in range(20)]


def test_f15_a_flood_on_one_topic_is_bounded_and_the_others_come_through(broker: Broker, make_bus: Buses) -> None:
    flood, quiet = f"cabin/{next(NUMBER)}", f"cabin/{next(NUMBER)}"
    bus = make_bus(broker, live=[flood, quiet])
    bus.mailbox.per_topic = 100
    publisher = make_bus(broker)
    for number in range(3000):  # nobody takes anything out meanwhile
        publisher.publish(flood, str(number), retain=False, qos=0)
    publisher.publish(quiet, "44.2", retain=False)
    assert publisher.flush(10)
    wait_until(lambda: bus.mailbox.dropped[flood] == 2900, 10)
    assert [m.payload for m in collect(bus, 101) if m.topic == quiet] == [b"44.2"]


@pytest.mark.parametrize("history", [False, True])
def test_f16_the_bridge_does_not_hear_its_own_publishes(broker: Broker, make_bus: Buses, history: Any) -> None:
    topic = f"cabin/{next(NUMBER)}"
    bus = make_bus(broker, live=[f"{topic}/#"], history=[f"{topic}/stamped"] if history else [])
    bus.publish(f"{topic}/own", "1")
    assert bus.flush(5)
    broker.publish(f"{topic}/other", "2", "-q", "1")
    assert [m.topic for m in collect(bus, 1)] == [f"{topic}/other"]
    assert nothing(bus)


# ---------------------------------------------------------------------------------------- F18, F19


def test_f18_an_exception_in_a_callback_does_not_end_the_session(
    broker: Broker, make_bus: Buses, caplog: pytest.LogCaptureFixture
) -> None:
    topic = f"cabin/{next(NUMBER)}"
    bus = make_bus(broker, start=False)
    moments = iter([RuntimeError("defective clock")])

    def now() -> float:
        for error in moments:
            raise error
        return time.time()

    bus.now = now
    bus.live.received = bus._receiver(bus.live, "live")
    bus.start(Subscriptions(live=(topic,)))
    wait_until(lambda: bus.connected)
    time.sleep(0.1)
    broker.publish(topic, "lost", "-q", "1")
    broker.publish(topic, "kept", "-q", "1")
    assert [m.payload for m in collect(bus, 1)] == [b"kept"]
    assert bus.healthy()
    assert "defective clock" in caplog.text
    caplog.clear()
    bus.stop()


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")  # the thread's death is the point
def test_f18_a_dead_network_thread_makes_the_bridge_unhealthy(
    broker: Broker, make_bus: Buses, monkeypatch: pytest.MonkeyPatch
) -> None:
    bus = make_bus(broker)
    assert bus.healthy()

    def end(self: Session) -> str:
        raise SystemExit

    monkeypatch.setattr(Session, "_once", end)
    bus.live.drop()
    wait_until(lambda: not bus.healthy(), 30, "unhealthy")


def test_f18_a_watch_that_does_not_turn_makes_the_bridge_unhealthy(
    broker: Broker, make_bus: Buses, monkeypatch: pytest.MonkeyPatch
) -> None:
    bus = make_bus(broker)
    monkeypatch.setattr(bridge.mqtt.bus, "STUCK", 0.9)
    assert bus.healthy()
    bus.outgoing._lock.acquire()
    try:
        wait_until(lambda: not bus.healthy(), 10, "unhealthy")
    finally:
        bus.outgoing._lock.release()
    wait_until(bus.healthy, 10, "healthy again")


def test_f19_connected_but_deaf_is_noticed_by_the_heartbeat(
    make_broker: MakeBroker, make_bus: Buses, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    own = make_broker()
    bus = make_bus(own, keepalive=KEEPALIVE)
    monkeypatch.setattr(bus, "heartbeat_topic", "somewhere/else")  # what comes back is not heard any more
    bus.live.received = bus._receiver(bus.live, "live")
    before = bus.live.generation
    monkeypatch.setattr(bus.live, "publish", lambda *a, **k: None)
    wait_until(lambda: bus.live.generation > before, 10 * KEEPALIVE, "connect again")
    assert "connected but deaf" in caplog.text


def test_f19_a_broker_that_forbids_the_heartbeat_costs_one_connection_and_a_warning(
    make_broker: MakeBroker, make_bus: Buses, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / "acl").write_text("topic readwrite cabin/#\n")
    bus = make_bus(make_broker([f"acl_file {tmp_path / 'acl'}"]), keepalive=KEEPALIVE)
    wait_until(lambda: "does the broker let us write and read revival/" in caplog.text, 10 * KEEPALIVE)
    time.sleep(2.5 * KEEPALIVE)
    assert bus.connected and bus.live.generation == 2
    assert caplog.text.count("does the broker let us") == 1


# ---------------------------------------------------------------------------------------------- F20


def test_f20_two_with_one_identifier_do_not_knock_each_other_off_for_ever(
    broker: Broker, make_bus: Buses, caplog: pytest.LogCaptureFixture
) -> None:
    base = f"hut{next(NUMBER)}"
    first = make_bus(broker, base=base)
    second = make_bus(broker, base=base)
    wait_until(lambda: "taken over" in str(first.status()) + str(second.status()), 20, "named in the status")
    assert "session taken over: another client uses the same identifier?" in caplog.text
    time.sleep(3)
    assert first.live.generation + second.live.generation <= 8  # 6 to 7 for each in 12 s without a back-off of our own


def test_f20_a_broker_that_names_the_takeover_is_believed_at_once(
    make_bus: Buses, caplog: pytest.LogCaptureFixture
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        settings = BrokerSettings("127.0.0.1", server.getsockname()[1])
        bus = make_bus(settings, wait=False)
        peer, _ = server.accept()
        with peer:
            peer.recv(1000)
            peer.sendall(bytes([0x20, 3, 0, 0, 0]))  # CONNACK, success
            wait_until(lambda: bus.connected)
            peer.sendall(bytes([0xE0, 2, 0x8E, 0]))  # DISCONNECT, session taken over (OASIS MQTT 5.0, 3.14.2.1)
            wait_until(lambda: "session taken over: another client" in str(bus.status()))
    assert "session taken over" in caplog.text
    bus.stop()


def test_f20_the_wait_grows_while_sessions_are_short(
    make_broker: MakeBroker, make_bus: Buses, make_proxy: Callable[[int], Proxy], monkeypatch: pytest.MonkeyPatch
) -> None:
    proxy = make_proxy(make_broker().port)
    waits: list[float] = []
    bus = make_bus(proxy)
    monkeypatch.setattr("bridge.mqtt.session.random.uniform", lambda low, high: high)
    monkeypatch.setattr(bus.live._stopping, "wait", waits.append)
    for count in range(1, 6):
        wait_until(lambda: bus.connected)
        proxy.cut()
        wait_until(partial(lambda most: len(waits) >= most, count))
    assert waits[:5] == [1.0, 10.0, 20.0, 40.0, 60.0]


# ----------------------------------------------------------------------------------------- F21, F22


def test_f21_f22_the_delayed_will_and_the_birth_are_retained_on_one_topic(
    broker: Broker, make_bus: Buses, make_proxy: Callable[[int], Proxy], watch: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bridge.mqtt.bus, "WILL_DELAY", 1)
    site = f"hut{next(NUMBER)}"
    state = f"homie/5/{site}/$state"
    proxy = make_proxy(broker.port)
    bus = make_bus(proxy, base=site, start=False)
    homie = homie_on(bus, site)
    watcher = watch(broker, state)
    bus.start(Subscriptions(commands=(state,), will_topic=state))
    follow(bus, homie, lambda: watcher.of(state)[-1:] == ["ready"])
    proxy.refusing = True
    lost_at = time.monotonic()
    proxy.cut()
    wait_until(lambda: watcher.of(state)[-1] == "lost", 10, "the will")
    assert time.monotonic() - lost_at >= 0.9
    assert watch(broker, state).seen == [(state, "lost", True)]
    proxy.refusing = False
    follow(bus, homie, lambda: watcher.of(state)[-1] == "ready")
    time.sleep(1.5)
    follow(bus, homie, lambda: True)
    assert watch(broker, state).seen == [(state, "ready", True)]  # no will of an old connection came later
    bus.stop()


def test_f21_our_own_lost_is_answered_with_ready(broker: Broker, make_bus: Buses, watch: Any) -> None:
    site = f"hut{next(NUMBER)}"
    state = f"homie/5/{site}/$state"
    bus = make_bus(broker, will=state, commands=[state])
    homie = homie_on(bus, site)
    watcher = watch(broker, state)
    follow(bus, homie, lambda: watcher.of(state)[-1:] == ["ready"])
    broker.publish(state, "lost", "-r", "-q", "1")
    follow(bus, homie, lambda: watcher.of(state)[-2:] == ["lost", "ready"])


def test_f21_a_clean_stop_leaves_disconnected_and_no_will(broker: Broker, make_bus: Buses, watch: Any) -> None:
    site = f"hut{next(NUMBER)}"
    state = f"homie/5/{site}/$state"
    bus = make_bus(broker, will=state)
    homie = homie_on(bus, site)
    follow(bus, homie, lambda: bus.flush(0.1))
    homie.disconnect()
    assert bus.stop(5)
    time.sleep(0.3)
    assert watch(broker, state).seen == [(state, "disconnected", True)]


# ----------------------------------------------------------------------------------------- F23, F24


def test_f23_a_broker_that_comes_back_empty_gets_everything_again(
    make_broker: MakeBroker, make_bus: Buses, watch: Any
) -> None:
    own = make_broker()
    bus = make_bus(own, live=["cabin/a"], history=["cabin/stamped"])
    homie = homie_on(bus, "tarn-hut")
    follow(bus, homie, lambda: bus.flush(0.1))
    homie.update(Derived("north", time.time(), voltage=26.31))
    own.restart()
    watcher = watch(own, "homie/#")
    follow(
        bus,
        homie,
        lambda: watcher.of("homie/5/tarn-hut/$state")[-1:] == ["ready"] and bus.history and bus.history.connected,
    )
    assert watcher.of("homie/5/tarn-hut-north/electrical/voltage")[-1] == "26.31"
    assert len([topic for topic, payload, _ in watcher.seen if payload]) > 60
    time.sleep(0.1)
    own.publish("cabin/stamped", "1", "-q", "1")
    own.publish("cabin/a", "2", "-q", "1")
    assert {m.session for m in collect(bus, 2)} == {"history", "live"}


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_f24_a_changed_subscription_list_starts_the_kept_session_anew_once(
    broker: Broker, make_bus: Buses, protocol: str
) -> None:
    base, old, new = f"hut{next(NUMBER)}", f"cabin/{next(NUMBER)}", f"cabin/{next(NUMBER)}"
    first = make_bus(broker, history=[old], base=base, protocol=protocol)
    known = first.subscriptions.filters
    assert known == filters_hash([old])
    first.stop()
    second = make_bus(broker, history=[new], base=base, protocol=protocol, known=known)
    broker.publish(old, "stale filter", "-q", "1")
    broker.publish(new, "wanted", "-q", "1")
    (message,) = collect(second, 1)
    assert message.payload == b"wanted"
    second.ack(message)
    assert nothing(second)
    second.stop()
    broker.publish(new, "while away", "-q", "1")
    third = make_bus(broker, history=[new], base=base, protocol=protocol, known=second.subscriptions.filters)
    assert collect(third, 1)[0].payload == b"while away"


def test_f24_without_a_remembered_list_a_kept_session_is_subscribed_again(broker: Broker, make_bus: Buses) -> None:
    base, old, new = f"hut{next(NUMBER)}", f"cabin/{next(NUMBER)}", f"cabin/{next(NUMBER)}"
    make_bus(broker, history=[old], base=base).stop()
    second = make_bus(broker, history=[new], base=base, known=None)  # the journal, and the list with it, was lost
    broker.publish(new, "wanted", "-q", "1")
    assert collect(second, 1)[0].payload == b"wanted"


# ---------------------------------------------------------------------------------------------- F35


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
@pytest.mark.parametrize("when", ["before the bridge came up", "while it runs"])
def test_f35_a_retained_reset_is_never_carried_out(broker: Broker, make_bus: Buses, protocol: str, when: Any) -> None:
    site = f"hut{next(NUMBER)}"
    cabin = Cabin(site, BANKS, BrokerSettings(protocol=protocol))
    topic = f"homie/5/{site}-north/safety/reset/set"
    if when == "before the bridge came up":
        broker.publish(topic, "true", "-r", "-q", "1")
    bus = make_bus(broker, commands=HomieOutlet(cabin, lambda *a, **k: None).command_topics(), protocol=protocol)
    homie = HomieOutlet(cabin, bus.publish)
    if when == "while it runs":
        broker.publish(topic, "true", "-r", "-q", "1")
    (message,) = collect(bus, 1)
    told = homie.command(message, time.time())
    assert told is None or (isinstance(told, Event) and told.kind == "refused")
    broker.clear(topic)


# ----------------------------------------------------------------------------------- F25, F26, F27


def test_f25_a_broker_that_is_down_at_boot_is_waited_for(
    make_broker: MakeBroker, make_bus: Buses, caplog: pytest.LogCaptureFixture
) -> None:
    own = make_broker(start=False)
    bus = make_bus(own, wait=False)
    wait_until(lambda: "refused: nothing listens" in caplog.text)
    time.sleep(1.5)
    assert bus.healthy() and not bus.connected
    assert caplog.text.count("refused: nothing listens") == 1  # one line for the edge, not one for each attempt
    own.start()
    wait_until(lambda: bus.connected, 30)


def test_f26_a_wrong_password_is_told_apart_and_tried_again_slowly(
    make_broker: MakeBroker, make_bus: Buses, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    own = make_broker([f"password_file {password_file(tmp_path, revival='tarn')}"], anonymous=False)
    bus = make_bus(own, wait=False, username="revival")
    wait_until(lambda: "not authorised" in caplog.text or "wrong user name" in caplog.text)
    time.sleep(2)
    assert bus.live.generation == 1
    assert bus.healthy()
    assert "user name" in str(bus.status())


def test_f26_an_expired_certificate_is_told_apart(
    make_broker: MakeBroker, make_bus: Buses, expired_certificates: Certificates, caplog: pytest.LogCaptureFixture
) -> None:
    own = make_broker(tls=expired_certificates)
    bus = make_bus(own, wait=False, tls=True, ca_file=expired_certificates.ca)
    wait_until(lambda: "has expired" in caplog.text)
    assert "has expired" in str(bus.status())


@pytest.mark.parametrize("wrong", ["authority", "name"])
def test_f26_a_certificate_of_somebody_else_is_told_apart_and_never_accepted(
    make_broker: MakeBroker,
    make_bus: Buses,
    certificates: Certificates,
    expired_certificates: Certificates,
    caplog: pytest.LogCaptureFixture,
    wrong: Any,
) -> None:
    own = make_broker(tls=certificates)
    own.host = "127.0.0.1" if wrong == "authority" else "127.1"  # the same address, by a name that is not certified
    bus = make_bus(
        own, wait=False, tls=True, ca_file=(expired_certificates if wrong == "authority" else certificates).ca
    )
    wait_until(lambda: "is not trusted" in caplog.text)
    assert "is not trusted" in str(bus.status())
    assert not bus.connected and bus.live.generation <= 1


@pytest.mark.parametrize("how", ["stalled network", "frozen broker"])
def test_f27_a_half_open_connection_is_noticed(
    make_broker: MakeBroker, make_bus: Buses, make_proxy: Callable[[int], Proxy], how: str
) -> None:
    own = make_broker()
    proxy = make_proxy(own.port)
    bus = make_bus(proxy, history=["cabin/stamped"], keepalive=KEEPALIVE)
    bus.mailbox.take(100, 0)
    if how == "frozen broker":
        own.freeze()
    else:
        proxy.stalled = True
    began = time.monotonic()
    wait_until(lambda: not bus.connected, 3 * 1.5 * KEEPALIVE, "noticed")
    assert time.monotonic() - began < 3 * 1.5 * KEEPALIVE
    lost = [item for item in take(bus, 1) if isinstance(item, SessionChange)]
    assert lost and not lost[0].connected
    if how == "frozen broker":
        own.thaw()
    else:
        proxy.stalled = False
        proxy.cut()
    wait_until(lambda: bus.connected, 30, "back")


# ----------------------------------------------------------------------------------------- F28, F29


def test_f28_after_a_long_offline_spell_each_topic_is_sent_once_with_its_last_value(
    make_broker: MakeBroker, make_bus: Buses, watch: Any
) -> None:
    own = make_broker(start=False)
    bus = make_bus(own, wait=False)
    for number in range(20_000):
        bus.publish(f"out/{number % 50}", str(number))
        bus.publish("event", "stale", retain=False)
    assert bus.outgoing.outstanding == 50
    assert bus.status()["dropped"] == {"event": 20_000}
    own.start()
    watcher = watch(own, "#")
    wait_until(lambda: bus.connected, 30)
    assert bus.flush(10)
    time.sleep(0.2)
    sent = [(topic, payload) for topic, payload, _ in watcher.seen if topic.startswith("out/")]
    assert sorted(sent) == sorted((f"out/{n % 50}", str(n)) for n in range(19_950, 20_000))


def test_f28_what_a_lost_connection_still_owed_is_sent_on_the_next_one(
    make_broker: MakeBroker, make_bus: Buses, make_proxy: Callable[[int], Proxy], watch: Any
) -> None:
    own = make_broker()
    proxy = make_proxy(own.port)
    bus = make_bus(proxy)
    proxy.stalled = True
    for number in range(500):  # more than the window
        bus.publish(f"out/{number}", str(number))
    proxy.cut()
    proxy.stalled = False
    watcher = watch(own, "out/#")
    wait_until(lambda: bus.connected and bus.flush(1), 30, "flushed")
    time.sleep(0.2)
    assert {topic: payload for topic, payload, _ in watcher.seen} == {f"out/{n}": str(n) for n in range(500)}


def test_f29_without_retain_values_are_sent_unretained_with_one_warning(
    make_broker: MakeBroker, make_bus: Buses, watch: Any, caplog: pytest.LogCaptureFixture
) -> None:
    own = make_broker(["retain_available false"])
    bus = make_bus(own, will="homie/5/x/$state", wait=False)
    wait_until(lambda: bus.connected, 30, "connected without a retained will")
    watcher = watch(own, "out/#")
    for number in range(3):
        bus.publish("out/a", str(number))
    assert bus.flush(5)
    wait_until(lambda: watcher.of("out/a") == ["0", "1", "2"])
    wait_until(lambda: caplog.text.count("the broker keeps nothing retained: going on without") == 1)


def test_f29_with_a_small_maximum_packet_the_large_is_dropped_with_one_warning(
    make_broker: MakeBroker, make_bus: Buses, caplog: pytest.LogCaptureFixture
) -> None:
    own = make_broker(["max_packet_size 500"])
    bus = make_bus(own)
    for _ in range(3):
        bus.publish("out/large", "x" * 600)
    bus.publish("out/small", "x")
    assert bus.flush(5)
    assert bus.status()["dropped"] == {"out/large": 3}
    assert caplog.text.count("larger than the broker's maximum packet") == 1
    assert bus.live.generation == 1


def test_f29_a_broker_with_quality_zero_only_still_gets_everything(
    make_broker: MakeBroker, make_bus: Buses, watch: Any
) -> None:
    own = make_broker(["max_qos 0"])
    bus = make_bus(own, live=["cabin/a"], will="homie/5/x/$state", wait=False)
    wait_until(lambda: bus.connected, 30)
    watcher = watch(own, "out/#")
    bus.publish("out/a", "1")
    wait_until(lambda: watcher.of("out/a") == ["1"])
    assert bus.flush(5)
    own.publish("cabin/a", "2")
    assert collect(bus, 1)[0].payload == b"2"
