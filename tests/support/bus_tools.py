"""Buses for the tests, on brokers that the tests start."""

from __future__ import annotations

import time
from collections.abc import Iterable
from typing import Any

from bridge.mailbox import Item, Mailbox
from bridge.message import Message
from bridge.mqtt.bus import Bus, Subscriptions
from bridge.settings import BrokerSettings
from tests.support.brokers import wait_until

NUMBER = iter(range(1_000_000))


class Buses:
    """Makes buses, each with ids of its own, and stops them."""

    def __init__(self) -> None:
        self.made: list[Bus] = []

    def __call__(
        self,
        broker: Any,
        *,
        live: Iterable[str] = (),
        history: Iterable[str] = (),
        commands: Iterable[str] = (),
        base: str = "",
        will: str | None = None,
        known: str | None = None,
        start: bool = True,
        wait: bool = True,
        **settings: Any,
    ) -> Bus:
        """A bus on this broker or proxy; `settings` are those of `BrokerSettings`."""
        bus = Bus(
            BrokerSettings(broker.host, broker.port, **settings), Mailbox(), time.time, base or f"hut{next(NUMBER)}"
        )
        if start:
            bus.start(Subscriptions(tuple(live), tuple(history), tuple(commands), will, known))
            self.made.append(bus)
            if wait:
                wait_until(lambda: bus.subscribed, 10, "connected and subscribed")
        return bus

    def close(self) -> None:
        """Stop them all."""
        for bus in self.made:
            bus.stop(0.2)


def take(bus: Bus, count: int, timeout: float = 10.0) -> list[Item]:
    """At least so many items of any kind from the mailbox."""
    found: list[Item] = []
    deadline = time.monotonic() + timeout
    while len(found) < count and time.monotonic() < deadline:
        found += bus.mailbox.take(1000, 0.05)
    assert len(found) >= count, f"{len(found)} of {count} items"
    return found


def collect(bus: Bus, count: int, timeout: float = 10.0) -> list[Message]:
    """At least so many messages; session changes are passed over."""
    found: list[Message] = []
    deadline = time.monotonic() + timeout
    while len(found) < count and time.monotonic() < deadline:
        found += [item for item in bus.mailbox.take(1000, 0.05) if isinstance(item, Message)]
    assert len(found) >= count, f"{len(found)} of {count} messages"
    return found


def nothing(bus: Bus, seconds: float = 0.3) -> bool:
    """Whether no message comes for so long [s]."""
    deadline = time.monotonic() + seconds
    found: list[Any] = []
    while time.monotonic() < deadline:
        found += [item for item in bus.mailbox.take(1000, 0.05) if isinstance(item, Message)]
    return not found
