"""The socket that reads and writes in large pieces, over real sockets and under the real client."""

from __future__ import annotations

import socket
import ssl
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.mqtt.buffered_socket import Buffered
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


def test_the_library_still_makes_its_sockets_where_we_wrap_them(make_broker: Callable[..., Broker]) -> None:
    broker = make_broker()
    session = Session(BrokerSettings(host=broker.host, port=broker.port), "wrapped")
    session.start()
    wait_until(lambda: session.connected)
    assert session.link is not None
    assert isinstance(session.link[0].socket(), Buffered)
    session.stop()
