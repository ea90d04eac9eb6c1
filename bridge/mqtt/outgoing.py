"""What the live session publishes: a bounded window in flight, and one waiting value per topic, in order."""

from __future__ import annotations

import logging
import threading
import time
from collections import Counter, deque
from typing import NamedTuple

from bridge.mqtt.refusals import FAILURE
from bridge.mqtt.session import PACKET_BITS, Session

log = logging.getLogger("revival.bus")

WINDOW = 200  #: publishes in flight at most
#: Topics that may wait: 200 banks have 20,000 and, with documents for a hub, 40,000.
MOST_WAITING = 100_000


class Waiting(NamedTuple):
    """A publish not yet acknowledged by the broker."""

    payload: bytes
    qos: int
    retain: bool


class Outgoing:
    """Publishes of one session.

    Without a connection, or with a full window, the last value of each retained topic waits and is sent once; what is
    not retained would arrive stale, so it is dropped and counted. The order across topics is kept.

    Attributes
    ----------
    refused, dropped : Counter
        What the broker denied and what could not be kept, per topic.
    stir : threading.Event
        Set when `pump` has something to do.
    """

    def __init__(self, session: Session) -> None:
        self.session = session
        self.refused: Counter[str] = Counter()
        self.dropped: Counter[str] = Counter()
        self.stir = threading.Event()
        self._lock = threading.Lock()  # never taken in a callback of the library: it publishes under a lock of its own
        self._waiting: dict[str, Waiting] = {}
        self._sent: dict[int, tuple[str, Waiting]] = {}
        self._acknowledged: deque[tuple[int, int]] = deque()

    def publish(self, topic: str, item: Waiting) -> None:
        """Send, or keep for later; never waits for the network."""
        limit = self.session.maximum_packet
        if limit and len(item.payload) + len(topic) + 32 > limit:
            self._drop(topic, f"larger than the broker's maximum packet of {limit} bytes")
            return
        with self._lock:
            self._settle()
            if not (self._waiting and item.retain) and len(self._sent) < WINDOW and self._send(topic, item):
                return
            if not item.retain:
                self.dropped[topic] += 1
                return
            self._waiting.pop(topic, None)
            if len(self._waiting) >= MOST_WAITING:
                self._drop(topic, "too much is waiting for the broker")
                return
            self._waiting[topic] = item
        self.stir.set()

    def acknowledged(self, number: int, code: int) -> None:
        """Take note, as a callback of the session."""
        self._acknowledged.append((number, code))
        if self._waiting:
            self.stir.set()

    def pump(self) -> bool:
        """Send what waits, as far as the window allows; whether nothing is left or in flight."""
        with self._lock:
            self._settle()
            while self._waiting and len(self._sent) < WINDOW:
                topic = next(iter(self._waiting))
                if not self._send(topic, self._waiting[topic]):
                    break
                del self._waiting[topic]
            return not self._waiting and not self._sent

    def flush(self, timeout: float) -> bool:
        """Wait until the broker has acknowledged everything, at most `timeout` [s]."""
        deadline = time.monotonic() + timeout
        while not (done := self.pump()) and self.session.connected and time.monotonic() < deadline:
            time.sleep(0.005)
        return done

    @property
    def outstanding(self) -> int:
        """Publishes waiting or in flight."""
        return len(self._waiting) + len(self._sent)

    def refuse(self, topic: str, why: str) -> None:
        """Count a denial; one line for the first of each topic."""
        self.refused[topic] += 1
        if self.refused[topic] == 1:
            log.warning("%s: %s", topic, why)

    def _send(self, topic: str, item: Waiting) -> bool:
        number = self.session.publish(topic, item.payload, item.qos, item.retain)
        if number is None:
            return False
        if min(item.qos, self.session.maximum_qos) > 0:
            self._sent[number] = (topic, item)
        return True

    def _settle(self) -> None:
        """Take note of acknowledgements; what a lost connection still owed goes back in line, oldest first."""
        while self._acknowledged:
            number, code = self._acknowledged.popleft()
            topic, _ = self._sent.pop(number, ("", None))
            if code >= FAILURE and topic:
                self.refuse(topic, f"publish refused (0x{code:02X})")
        link = self.session.link
        if self._sent and (link is None or next(iter(self._sent)) >> PACKET_BITS != link[1]):
            owed = {topic: item for topic, item in self._sent.values() if item.retain}
            self._waiting = owed | self._waiting
            self._sent.clear()

    def _drop(self, topic: str, why: str) -> None:
        self.dropped[topic] += 1
        if self.dropped[topic] == 1:
            log.warning("not published on %s: %s", topic, why)
