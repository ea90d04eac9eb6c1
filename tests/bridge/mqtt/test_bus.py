"""The broker sessions against a real mosquitto."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.errors import CannotReachError, ConfigError
from bridge.mailbox import SessionChange
from bridge.mqtt.bus import Subscriptions, filters_hash, probe
from bridge.settings import BrokerSettings
from tests.conftest import MakeBroker
from tests.support.brokers import Broker, Certificates, Proxy, password_file, wait_until
from tests.support.bus_tools import NUMBER, Buses, collect


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_message_of_another_client_arrives_with_its_time_and_session(
    broker: Broker, make_bus: Buses, protocol: str
) -> None:
    topic = f"cabin/probe{next(NUMBER)}"
    bus = make_bus(broker, live=[topic], protocol=protocol)
    before = time.time()
    broker.publish(topic, "26.31", "-q", "1")
    (message,) = collect(bus, 1)
    assert message[:2] == (topic, b"26.31")
    assert before <= message.at <= time.time()
    assert (message.session, message.retain) == ("live", False)


def test_connecting_is_announced_in_the_mailbox(broker: Broker, make_bus: Buses) -> None:
    bus = make_bus(broker)
    assert SessionChange("live", True, False, "") in bus.mailbox.take(10, 1)


def test_a_retained_message_is_marked_on_subscribing(broker: Broker, make_bus: Buses) -> None:
    topic = f"cabin/probe{next(NUMBER)}"
    broker.publish(topic, "old", "-r", "-q", "1")
    bus = make_bus(broker, live=[topic])
    broker.publish(topic, "new", "-r", "-q", "1")
    assert [(m.payload, m.retain) for m in collect(bus, 2)] == [(b"old", True), (b"new", False)]
    broker.clear(topic)


def test_a_command_keeps_its_publishers_retain_flag(broker: Broker, make_bus: Buses) -> None:
    topic = f"cabin/command{next(NUMBER)}"
    bus = make_bus(broker, commands=[topic])
    broker.publish(topic, "start", "-r", "-q", "1")
    assert [(m.payload, m.retain) for m in collect(bus, 1)] == [(b"start", True)]
    broker.clear(topic)


def test_what_is_published_is_retained_with_quality_one(broker: Broker, make_bus: Buses) -> None:
    topic = f"out/{next(NUMBER)}"
    bus = make_bus(broker)
    bus.publish(topic, "1")
    assert bus.flush(5)
    reader = make_bus(broker, live=[topic])
    (message,) = collect(reader, 1)
    assert (message.payload, message.retain, message.qos) == (b"1", True, 1)


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_history_is_delivered_again_until_it_is_acknowledged(broker: Broker, make_bus: Buses, protocol: str) -> None:
    topic, base = f"cabin/stamped{next(NUMBER)}", f"hut{next(NUMBER)}"
    first = make_bus(broker, history=[topic], base=base, protocol=protocol)
    for number in range(3):
        broker.publish(topic, str(number), "-q", "1")
    one, *_ = collect(first, 3)
    first.ack(one)
    time.sleep(0.1)
    first.stop()
    broker.publish(topic, "3", "-q", "1")
    second = make_bus(broker, history=[topic], base=base, protocol=protocol, known=filters_hash([topic]))
    again = collect(second, 3)
    assert [m.payload for m in again] == [b"1", b"2", b"3"]
    for message in again:
        second.ack(message)
    time.sleep(0.1)
    second.stop()
    third = make_bus(broker, history=[topic], base=base, protocol=protocol)
    assert collect(third, 0, 0.3) == []


def test_an_acknowledgement_of_an_earlier_connection_does_not_touch_a_later_one(
    broker: Broker, make_bus: Buses, make_proxy: Callable[[int], Proxy], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bridge.mqtt.session.SUSPECT_WAIT", 1.0)
    topic = f"cabin/stamped{next(NUMBER)}"
    proxy = make_proxy(broker.port)
    bus = make_bus(proxy, history=[topic])
    broker.publish(topic, "a", "-q", "1")
    (old,) = collect(bus, 1)
    proxy.cut()
    (again,) = collect(bus, 1, 15)
    assert again.payload == b"a" and again.mid != old.mid
    bus.ack(old)
    time.sleep(0.1)
    proxy.cut()
    assert collect(bus, 1, 15)[0].payload == b"a"


def test_what_overflows_the_mailbox_in_the_history_session_is_acknowledged_and_counted(
    broker: Broker, make_bus: Buses
) -> None:
    topic = f"cabin/stamped{next(NUMBER)}"
    bus = make_bus(broker, start=False)
    bus.mailbox.per_topic = 5
    bus.start(Subscriptions(history=(topic,)))
    wait_until(lambda: bus.subscribed)
    publisher = make_bus(broker)
    for number in range(50):
        publisher.publish(topic, str(number), retain=False)
    # more than the broker's window of 20: they only keep coming when the overflow is acknowledged
    wait_until(lambda: bus.mailbox.dropped[topic] == 45, 10, "45 dropped")
    bus.stop()


def test_a_refused_subscription_is_named(broker: Broker, make_bus: Buses, caplog: pytest.LogCaptureFixture) -> None:
    bus = make_bus(broker, live=["a", "b"])
    bus._asked["live"] = {7: ["a", "b"]}
    bus._suback("live", 7, [0x01, 0x87])  # this broker's access list denies deliveries, never the subscription itself
    assert "b: subscription refused (0x87)" in caplog.text
    assert bus.status()["refused"] == {"b": 1}


def test_a_refused_publish_is_counted(make_broker: MakeBroker, make_bus: Buses, tmp_path: Path) -> None:
    (tmp_path / "acl").write_text("topic readwrite allowed/#\n")
    own: Broker = make_broker([f"acl_file {tmp_path / 'acl'}"])
    bus = make_bus(own)
    bus.publish("secret/x", "1")
    assert bus.flush(5)
    bus.publish("allowed/x", "1")
    assert bus.flush(5)
    assert dict(bus.outgoing.refused) == {"secret/x": 1}


def test_the_probe_tells_what_is_wrong(
    make_broker: MakeBroker, certificates: Certificates, expired_certificates: Certificates, tmp_path: Path
) -> None:
    own = make_broker([f"password_file {password_file(tmp_path, revival='tarn')}"], anonymous=False)
    with pytest.raises(CannotReachError, match="user name"):
        probe(BrokerSettings(own.host, own.port, username="revival", password=None), "probe")
    own.stop()
    with pytest.raises(CannotReachError, match="refused: nothing listens"):
        probe(BrokerSettings(own.host, own.port), "probe")
    expired = make_broker(tls=expired_certificates)
    with pytest.raises(CannotReachError, match="has expired"):
        probe(BrokerSettings(expired.host, expired.port, tls=True, ca_file=expired_certificates.ca), "probe")
    valid = make_broker(tls=certificates)
    with pytest.raises(CannotReachError, match="not trusted"):
        probe(BrokerSettings(valid.host, valid.port, tls=True, ca_file=expired_certificates.ca), "probe")
    probe(BrokerSettings(valid.host, valid.port, tls=True, ca_file=certificates.ca), "probe")
    with pytest.raises(ConfigError, match="nowhere"):
        probe(BrokerSettings(valid.host, valid.port, tls=True, ca_file=tmp_path / "nowhere.pem"), "probe")


def test_tls_carries_messages_and_a_client_certificate(
    make_broker: MakeBroker, make_bus: Buses, certificates: Certificates
) -> None:
    own = make_broker(["require_certificate true"], tls=certificates)
    bus = make_bus(
        own,
        live=["a"],
        tls=True,
        ca_file=certificates.ca,
        certificate_file=certificates.client_certificate,
        key_file=certificates.client_key,
    )
    bus.publish("b", "1")
    assert bus.flush(5)
    tls = ("--cafile", certificates.ca, "--cert", certificates.client_certificate, "--key", certificates.client_key)
    own.publish("a", "26", "-q", "1", *map(str, tls))
    assert collect(bus, 1)[0].payload == b"26"
