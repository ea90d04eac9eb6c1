"""A broker that announces itself in the network, announced for real (RFC 6762, RFC 6763)."""

from __future__ import annotations

import argparse
import io
import socket
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from pydantic import SecretStr
from rich.console import Console
from zeroconf import ServiceInfo, Zeroconf

from bridge.commands import listen
from bridge.errors import CannotReachError
from bridge.listen.nearby import SERVICE, announced
from bridge.settings import BrokerSettings
from tests.support.brokers import Broker

Announce = Callable[[str, int], None]


@pytest.fixture
def announce() -> Iterator[Announce]:
    """Announce a broker of this name and port on loopback, as its host would."""
    network = Zeroconf()

    def now(name: str, port: int) -> None:
        here = [socket.inet_aton("127.0.0.1")]
        network.register_service(
            ServiceInfo(SERVICE, f"{name}.{SERVICE}", addresses=here, port=port, server=f"{name}.")
        )

    yield now
    network.close()


@pytest.fixture
def nothing_here(monkeypatch: pytest.MonkeyPatch) -> BrokerSettings:
    """Settings of a host on which no broker runs."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    monkeypatch.setattr(listen, "HERE", f"127.0.0.1:{port}")
    return BrokerSettings(host="127.0.0.1", port=port)


def look(settings: BrokerSettings, yes: bool = True, named: str | None = None) -> BrokerSettings:
    console = Console(file=io.StringIO())
    return listen.located(settings, argparse.Namespace(broker=named), console, lambda question: yes)


def test_an_announced_broker_is_found_with_its_port(announce: Announce) -> None:
    announce("hut", 18831)
    assert [(one.name, one.host, one.port) for one in announced(4.0)] == [("hut", "127.0.0.1", 18831)]


def test_one_that_is_here_is_taken_before_any_other(make_broker: Callable[..., Broker], announce: Announce) -> None:
    announce("hut", 18832)
    settings = BrokerSettings(host="127.0.0.1", port=make_broker().port)
    assert look(settings) is settings


def test_where_none_is_here_the_only_one_announced_is_taken_if_its_owner_says_so(
    announce: Announce, nothing_here: BrokerSettings
) -> None:
    announce("hut", 18833)
    assert look(nothing_here).port == 18833
    with pytest.raises(CannotReachError, match=r"hut at 127.0.0.1:18833 announces itself: if it is yours"):
        look(nothing_here, yes=False)


def test_no_password_goes_to_a_broker_that_only_announced_itself(
    announce: Announce, nothing_here: BrokerSettings
) -> None:
    announce("hut", 18834)
    with pytest.raises(CannotReachError, match="name it by --broker"):
        look(replace(nothing_here, username="keeper", password=SecretStr("planted")))


def test_of_several_none_is_taken_and_all_are_named(announce: Announce, nothing_here: BrokerSettings) -> None:
    announce("hut", 18835)
    announce("shed", 18836)
    with pytest.raises(CannotReachError, match=r"hut at 127.0.0.1:18835, shed at 127.0.0.1:18836"):
        look(nothing_here)


def test_none_at_all_is_said_with_what_to_do(nothing_here: BrokerSettings) -> None:
    with pytest.raises(CannotReachError, match=r"none announces itself in this network: give --broker HOST:PORT"):
        look(nothing_here)


def test_one_that_was_named_is_never_looked_for(announce: Announce, nothing_here: BrokerSettings) -> None:
    announce("hut", 18837)
    assert look(nothing_here, named="127.0.0.1:1") is nothing_here
