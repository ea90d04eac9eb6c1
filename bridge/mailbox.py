"""Between the network threads and the engine: bounded by number, bytes and cost; what safety rests on first."""

from __future__ import annotations

import queue
import threading
import time
from collections import Counter
from collections.abc import Iterable
from typing import Any, NamedTuple

from bridge.intake.request import Request
from bridge.message import Message


class Asked(NamedTuple):
    """A request on its way to the engine; the engine puts its answer into `reply`."""

    request: Request
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

#: A larger payload is heavy: it takes long to decode, and one meter may not spend the time of all. No meter that
#: reports a value needs as much; packs of an hour do [bytes].
HEAVY = 4096
#: Most that may wait in all: together with what SQLite and the interpreter take it stays far below the service unit's
#: 512 MB [bytes].
MOST_BYTES = 48_000_000
#: Most that may wait of one topic: on the live session, and on the kept one, which brings hours of packs after an
#: outage and is asked to hold before it comes so far [bytes].
MOST_OF_TOPIC, MOST_OF_KEPT = 1_000_000, 16_000_000
#: With so much heavy mail waiting the kept session is to wait in the broker [bytes].
HOLD_ABOVE = 2_000_000
#: Heavy mail handed out at once: so long may a hot reading that comes meanwhile have to wait [bytes].
HEAVY_AT_ONCE = 64_000


class _Lane(NamedTuple):
    """Items of one urgency, in order of arrival."""

    items: list[Item]

    def first(self, limit: int) -> list[Item]:
        taken = self.items[:limit]
        del self.items[:limit]
        return taken


class Mailbox:
    """Many writers that never wait, one reader.

    Items come in three lanes, each in order of arrival: first what safety rests on (people's requests, commands, and
    the topics in `first_topics`), then everything else, last what is heavy to decode, a little at a time. A topic of
    which heavy mail waits has all its mail in the last lane: no older value of it may come after a newer one.

    Parameters
    ----------
    capacity, per_topic : int
        Most messages that may wait, in all and of one topic; what is beyond is dropped and counted in `dropped`.
    first_topics : iterable of str
        Topics of voltage, current, electrolyte temperature, hydrogen and relay state.

    Attributes
    ----------
    floods : set of str
        Topics of the live session that brought more heavy mail than may wait; the reader empties it.
    """

    def __init__(self, capacity: int = 20_000, per_topic: int = 4_000, first_topics: Iterable[str] = ()) -> None:
        self.capacity = capacity
        self.per_topic = per_topic
        self.dropped: Counter[str] = Counter()
        self.floods: set[str] = set()
        self._first_topics = frozenset(first_topics)
        # Reentrant: a signal may stop the process, and so call `wake`, while this very thread is inside `take`.
        self._changed = threading.Condition(threading.RLock())
        self._urgent, self._ordinary, self._heavy = _Lane([]), _Lane([]), _Lane([])
        self._messages = self._bytes = self._heavy_bytes = 0
        self._number_of: Counter[str] = Counter()
        self._bytes_of: Counter[str] = Counter()
        self._heavy_of: Counter[str] = Counter()
        self._rested_at = 0.0
        self._reader_waits = False
        self._woken = False

    @property
    def waiting(self) -> int:
        """Messages that wait."""
        return self._messages

    @property
    def laden(self) -> bool:
        """So much heavy mail waits that the broker is to keep the rest of what it keeps for us."""
        return self._heavy_bytes > HOLD_ABOVE

    def put(self, item: Item) -> bool:
        """Add an item; ``False`` when it was dropped. A session change is never dropped."""
        with self._changed:
            if type(item) is Message:
                if not self._has_room(item):
                    self.dropped[item.topic] += 1
                    if item.session == "live" and self._bytes_of[item.topic] + len(item.payload) > MOST_OF_TOPIC:
                        self.floods.add(item.topic)
                    return False
                self._put_message(item)
            else:
                self._urgent.items.append(item)
            if self._reader_waits:
                self._reader_waits = False
                self._changed.notify()
        return True

    def _has_room(self, message: Message) -> bool:
        topic, size = message.topic, len(message.payload)
        most = MOST_OF_TOPIC if message.session == "live" else MOST_OF_KEPT
        return (
            self._messages < self.capacity
            and self._number_of[topic] < self.per_topic
            and self._bytes + size <= MOST_BYTES
            and self._bytes_of[topic] + size <= most
        )

    def _put_message(self, message: Message) -> None:
        topic, size = message.topic, len(message.payload)
        self._messages += 1
        self._bytes += size
        self._number_of[topic] += 1
        self._bytes_of[topic] += size
        if size > HEAVY or topic in self._heavy_of:
            self._heavy_of[topic] += 1
            self._heavy_bytes += size
            self._heavy.items.append(message)
        elif topic in self._first_topics:
            self._urgent.items.append(message)
        else:
            self._ordinary.items.append(message)

    def take(self, limit: int = 1000, timeout: float = 1.0) -> list[Item]:
        """Return up to `limit` items; empty after `timeout` [s] without any, or after `wake`."""
        with self._changed:
            if not (self._light() or self._woken) and (wait := self._patience(timeout)) > 0:
                self._reader_waits = True
                self._changed.wait(wait)
                self._reader_waits = False
            self._woken = False
            taken = self._urgent.first(limit)
            taken += self._ordinary.first(limit - len(taken))
            if time.monotonic() >= self._rested_at:
                taken += self._some_heavy(limit - len(taken))
            if not self._any():
                self._messages = self._bytes = 0
                self._number_of.clear()
                self._bytes_of.clear()
            else:
                for item in taken:
                    if type(item) is Message:
                        self._forget(item)
        return taken

    def rest(self, seconds: float) -> None:
        """Hand out no heavy mail for so long [s]: the threads that read the network need the time."""
        self._rested_at = time.monotonic() + seconds

    def _light(self) -> bool:
        return bool(self._urgent.items or self._ordinary.items)

    def _any(self) -> bool:
        return self._light() or bool(self._heavy.items)

    def _patience(self, timeout: float) -> float:
        return min(timeout, self._rested_at - time.monotonic()) if self._heavy.items else timeout

    def _some_heavy(self, limit: int) -> list[Item]:
        """Return as much as may be decoded before anybody looks for a hot reading again; one at least."""
        number = size = 0
        for item in self._heavy.items[:limit]:
            assert type(item) is Message
            if number and size + len(item.payload) > HEAVY_AT_ONCE:
                break
            number, size = number + 1, size + len(item.payload)
            self._heavy_of[item.topic] -= 1
            if not self._heavy_of[item.topic]:
                del self._heavy_of[item.topic]
        self._heavy_bytes -= size
        return self._heavy.first(number)

    def _forget(self, message: Message) -> None:
        topic, size = message.topic, len(message.payload)
        self._messages -= 1
        self._bytes -= size
        self._number_of[topic] -= 1
        self._bytes_of[topic] -= size

    def wake(self) -> None:
        """Let a waiting `take` return at once."""
        with self._changed:
            self._woken = True
            self._changed.notify()
