"""The socket that reads and writes in large pieces, over real sockets and under the real client."""

from __future__ import annotations

import socket
import ssl
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.mqtt.buffered_socket import Buffered, BufferedClient, Published, published
from bridge.mqtt.session import Session
from bridge.settings import BrokerSettings
from tests.support.brokers import Broker, wait_until


def pair() -> tuple[Buffered, socket.socket]:
    inner, other = socket.socketpair()
    inner.setblocking(False)
    return Buffered(inner), other


@given(st.binary(min_size=1, max_size=5000), st.lists(st.integers(1, 700), min_size=1))
def test_the_same_bytes_come_out_whatever_the_pieces(data: bytes, sizes: list[int]) -> None:
    held, other = pair()
    other.sendall(data)
    other.close()
    came, turn = b"", 0
    while piece := held.recv(sizes[turn % len(sizes)]):
        assert len(piece) <= sizes[turn % len(sizes)]
        came, turn = came + piece, turn + 1
    held.close()
    assert came == data


def test_what_is_left_of_a_piece_is_pending_and_nothing_more_to_read_is_said_as_a_socket_says_it() -> None:
    held, other = pair()
    other.sendall(b"abc")
    assert not held.pending(), "the system has it, we have not: polling tells"
    assert held.recv(1) == b"a"
    assert held.pending()
    assert held.recv(10) == b"bc"
    assert not held.pending()
    with pytest.raises(BlockingIOError):
        held.recv(1)
    other.close()
    assert held.recv(1) == b""
    held.close()


def test_nothing_is_sent_before_the_flush_and_what_the_system_does_not_take_stays() -> None:
    held, other = pair()
    other.setblocking(False)
    held.send(b"one")
    held.send(b"two")
    with pytest.raises(BlockingIOError):
        other.recv(10)
    assert held.flush() is False
    assert other.recv(10) == b"onetwo"
    held.send(b"x" * 10_000_000)
    assert held.flush() is True, "more than the system takes at once"
    came = 0
    while came < 10_000_000:
        came += len(other.recv(1_000_000))
        held.flush()
    assert held.flush() is False
    held.send(b"bye")
    held.close()
    assert other.recv(10) == b"bye", "a goodbye still leaves"
    other.close()


def test_a_gone_connection_is_an_error_of_the_flush_but_not_of_closing() -> None:
    held, other = pair()
    other.close()
    held.send(b"x")
    with pytest.raises(OSError, match="pipe"):
        held.flush()
    held.close()


@pytest.mark.parametrize("error", [ssl.SSLWantReadError, ssl.SSLWantWriteError, BlockingIOError])
def test_a_tls_socket_that_wants_another_turn_gets_it(error: type[Exception]) -> None:
    class Busy:
        fileno = setsockopt = setblocking = shutdown = lambda *_: 0

        def send(self, _data: Any) -> int:
            raise error

        def pending(self) -> int:
            return 5

    held = Buffered(Busy())
    held.send(b"x")
    assert held.flush() is True
    assert held.pending(), "what TLS has decoded, polling does not tell"


def length(size: int) -> bytes:
    """A length as OASIS MQTT 5.0, 1.5.5 writes it: seven bits a byte, the least first."""
    written = bytearray()
    while size > 0x7F:
        written.append(size & 0x7F | 0x80)
        size >>= 7
    return bytes([*written, size])


def packet(message: Published, five: bool, properties: bytes = b"") -> bytes:
    """A message as OASIS MQTT 5.0, 3.3 and MQTT 3.1.1, 3.3 write it."""
    topic = message.topic.encode()
    body = len(topic).to_bytes(2, "big") + topic + (message.mid.to_bytes(2, "big") if message.qos else b"")
    body += length(len(properties)) + properties if five else b""
    body += message.payload
    return bytes([0x30 | message.dup << 3 | message.qos << 1 | message.retain]) + length(len(body)) + body


MESSAGES = st.builds(
    lambda topic, payload, qos, retain, dup, mid: Published(topic, payload, qos, retain, dup, mid if qos else 0),
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=200),
    st.binary(max_size=20_000),
    st.integers(0, 1),
    st.booleans(),
    st.booleans(),
    st.integers(1, 0xFFFF),
)


@given(MESSAGES, st.booleans(), st.binary(max_size=200), st.binary(max_size=9), st.binary(max_size=9), st.data())
def test_a_message_is_taken_where_it_lies_whole_and_left_where_it_does_not(
    message: Published, five: bool, properties: bytes, before: bytes, behind: bytes, data: st.DataObject
) -> None:
    whole = packet(message, five, properties)
    assert published(before + whole + behind, len(before), five) == (message, len(before) + len(whole))
    cut = data.draw(st.integers(0, len(whole) - 1))
    assert published(whole[:cut], 0, five) is None, "the rest has not come yet"


@pytest.mark.parametrize(
    "strange",
    [
        "34 0a 0003 612f62 0007 00 3236",  # QoS 2 is a conversation: the library's
        "36 0a 0003 612f62 0007 00 3236",  # QoS 3 is forbidden (OASIS MQTT 5.0, 3.3.1.2)
        "40 02 0007",  # another kind
        "32 0a 0003 61ff62 0007 00 3236",  # a topic that is not UTF-8
        "32 0a 0003 612f62 0000 00 3236",  # a number of 0 is forbidden (2.2.1)
        "32 07 0000 0007 00 3236",  # no topic: an alias, which we never allowed (3.3.2.3.4)
        "32 07 0003 612f62 0007",  # no length of properties
        "32 0a 0003 612f62 0007 7f 3236",  # properties that go on behind the end
        "32 0a 0009 612f62 0007 00 3236",  # a topic that goes on behind the end
        "32 80808080 01",  # a length of five bytes (1.5.5)
        "30 00",
        "30 01 00",
    ],
)
def test_whatever_is_strange_about_a_packet_is_left_to_the_library(strange: str) -> None:
    assert published(bytes.fromhex(strange), 0, five=True) is None


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_stream_comes_once_and_in_order_whoever_reads_each_of_its_packets(
    make_broker: Callable[..., Broker], protocol: str
) -> None:
    broker = make_broker()
    settings = BrokerSettings(host=broker.host, port=broker.port, protocol=protocol)
    came: list[bytes] = []
    kinds: set[str] = set()
    strays: list[bytes] = []

    def received(client: Any, userdata: Any, message: Any) -> None:
        kinds.add(type(message).__name__)
        came.append(message.payload)
        if message.payload == b"7":
            raise ZeroDivisionError("a defect costs this message alone")
        listener.ack(listener.number(message.mid))

    listener = Session(settings, "listener", persistent=100, received=received)
    listener.start()
    wait_until(lambda: listener.connected)
    assert listener.link is not None
    client = listener.link[0]
    assert isinstance(client, BufferedClient) and not client.midway
    client.subscribe("stream/#", qos=1)
    speaker = Session(settings, "speaker")
    speaker.start()
    wait_until(lambda: speaker.connected)
    said = [str(number).encode() for number in range(1500)]
    said[700] = b"x" * 300_000  # more than is read at once: the library reads it in pieces
    for payload in said:
        speaker.publish("stream/one", payload, expiry=60)
    wait_until(lambda: len(came) >= len(said), 30.0)
    assert came == said
    assert kinds == {"Published", "MQTTMessage"}
    listener.stop()
    again = Session(
        settings, "listener", persistent=100, received=lambda client, data, message: strays.append(message.payload)
    )
    again.start()
    wait_until(lambda: b"last" in strays or (speaker.publish("stream/one", b"last") is None))
    assert [each for each in strays if each != b"last"] == [b"7"], "all but that one were acknowledged"
    again.stop()
    speaker.stop()


def test_the_library_still_makes_its_sockets_where_we_wrap_them(make_broker: Callable[..., Broker]) -> None:
    broker = make_broker()
    session = Session(BrokerSettings(host=broker.host, port=broker.port), "wrapped")
    session.start()
    wait_until(lambda: session.connected)
    assert session.link is not None
    assert isinstance(session.link[0].socket(), Buffered)
    session.stop()
