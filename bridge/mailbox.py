"""Between the network threads and the engine: bounded, per topic too, in order of arrival."""

from __future__ import annotations

import queue
import threading
from collections import Counter
from typing import Any, NamedTuple

from bridge.message import Message


class Asked(NamedTuple):
    """A request on its way to the engine; the engine puts its answer into `reply`."""

    request: dict[str, Any]
    reply: queue.SimpleQueue[dict[str, Any]]


class SessionChange(NamedTuple):
    """A broker session came up or went down.

    Attributes
    ----------
    session : str
        ``live`` or ``history``.
    present : bool
        On connecting: the broker still had the session.
    reason : str
        On going down: why, in words.
    """

    session: str
    connected: bool
    present: bool = False
    reason: str = ""


Item = Message | SessionChange | Asked


class Mailbox:
    """Many writers that never wait, one reader.

    Writers fill one list while the reader empties another; the two change places under the lock, so neither a full
    box nor a slow reader ever holds up a network thread.

    Parameters
    ----------
    capacity, per_topic : int
        Most messages that may wait, in all and of one topic; what is beyond is dropped and counted in `dropped`.
    """

    def __init__(self, capacity: int = 20_000, per_topic: int = 4_000) -> None:
        self.capacity = capacity
        self.per_topic = per_topic
        self.dropped: Counter[str] = Counter()
        self._changed = threading.Condition(threading.Lock())
        self._filling: list[Item] = []
        self._waiting_of: dict[str, int] = {}
        self._reader_waits = False
        self._woken = False
        self._emptying: list[Item] = []
        self._next = 0

    def put(self, item: Item) -> bool:
        """Add an item; ``False`` when it was dropped. A session change is never dropped."""
        with self._changed:
            if type(item) is Message:
                topic = item.topic
                count = self._waiting_of.get(topic, 0)
                if count >= self.per_topic or len(self._filling) >= self.capacity:
                    self.dropped[topic] += 1
                    return False
                self._waiting_of[topic] = count + 1
            self._filling.append(item)
            if self._reader_waits:
                self._reader_waits = False
                self._changed.notify()
        return True

    def take(self, limit: int = 1000, timeout: float = 1.0) -> list[Item]:
        """Up to `limit` items in order of arrival; empty after `timeout` [s] without any, or after `wake`."""
        if self._next >= len(self._emptying):
            with self._changed:
                if not self._filling and not self._woken and timeout > 0:
                    self._reader_waits = True
                    self._changed.wait(timeout)
                    self._reader_waits = False
                self._woken = False
                self._emptying, self._filling = self._filling, []
                self._waiting_of = {}
            self._next = 0
            if len(self._emptying) <= limit:
                taken, self._emptying = self._emptying, []
                return taken
        taken = self._emptying[self._next : self._next + limit]
        self._next += len(taken)
        return taken

    def wake(self) -> None:
        """Let a waiting `take` return at once."""
        with self._changed:
            self._woken = True
            self._changed.notify()
