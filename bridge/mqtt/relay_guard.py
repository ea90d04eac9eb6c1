"""One connection per charger relay: carries its orders, and the broker publishes the cut when it is lost.

An `allow` is only good while its sender lives, so it never waits for a relay: under MQTT 5 it expires a little after
the next one is due, under 3.1.1 it goes with quality 0, which a broker does not keep for who is away. A cut waits as
long as it has to.
"""

from __future__ import annotations

import logging
import math
import threading
import time
from collections import deque
from typing import Any, Literal, NamedTuple

from paho.mqtt.client import Client
from paho.mqtt.subscribeoptions import SubscribeOptions

from bridge.mqtt.client import Will
from bridge.mqtt.refusals import FAILURE
from bridge.mqtt.session import PACKET_BITS, Session
from bridge.settings import BrokerSettings, RelaySettings
from rules.safety import REPEATS

log = logging.getLogger("revival.relay")

NOBODY_LISTENS = 0x10  #: MQTT 5: no matching subscribers
#: An `allow` lives so much longer on its way than until the next one [s], and so long where none follows [s].
LATE_BY, ONLY_ONE = 5.0, 10.0
#: A look at what is retained makes us a listener ourselves for a moment, at most so long [s].
LOOKING = 1.0

Action = Literal["cut", "allow"]


class Sent(NamedTuple):
    """An order as handed to the connection.

    Attributes
    ----------
    asked_at : float
        [s] by the host's monotonic clock.
    number : int or None
        The packet; ``None`` while there is no connection.
    generation : int
        The connection it went out on.
    """

    action: Action
    asked_at: float
    number: int | None = None
    generation: int = 0


class RelayGuard:
    """Orders to one relay; losing this bridge cuts it.

    The will is the cut, not retained, without delay: it covers the loss of the *bridge*. Loss of the broker, the
    network or the power is covered by the relay's own auto-off alone.

    Parameters
    ----------
    client_id_base : str
        Fixed from run to run, different for two bridges on one broker.
    """

    def __init__(self, settings: BrokerSettings, relay: RelaySettings, client_id_base: str | None = None) -> None:
        self.relay = relay
        self.last: Sent | None = None
        self.listened: bool | None = None  #: whether anybody subscribes to the relay's topic, where the broker says so
        self.kept: deque[bytes] = deque(maxlen=100)  #: orders that somebody left retained, for the engine to clear
        self._looked_at = float("-inf")
        self._five = settings.protocol == "5"
        refresh = relay.auto_off / REPEATS + LATE_BY if relay.auto_off else ONLY_ONE
        self._expiry = math.ceil(refresh)
        self._payloads = {"cut": relay.cut.encode(), "allow": relay.allow.encode()}
        self._taken: tuple[int | None, float] = (None, 0.0)  # written by the network thread alone
        self._lock = threading.Lock()  # not taken in `_acknowledged`, which the library calls under its own lock
        self.session = Session(
            settings,
            f"{client_id_base or settings.client_prefix}-guard-{relay.name}",
            will=Will(relay.topic, relay.cut.encode()),
            opened=self._opened,
            acknowledged=self._acknowledged,
            received=self._received,
            answered=self._answered,
        )

    def start(self) -> None:
        """Begin to connect; never waits."""
        self.session.start()

    @property
    def connected(self) -> bool:
        """The broker holds our will."""
        return self.session.connected

    @property
    def unheard(self) -> bool:
        """The broker could say whether anybody listens, and has not said that somebody does."""
        return self._five and not self.listened

    @property
    def acknowledged_at(self) -> float | None:
        """When the broker confirmed the last order [s, monotonic]; ``None`` = not yet."""
        last, (number, moment) = self.last, self._taken
        return moment if last is not None and last.number is not None and last.number == number else None

    def order(self, action: Action) -> None:
        """Publish now; never waits. A cut without a connection leaves as soon as there is one, an allow does not."""
        with self._lock:
            self._send(Sent(action, time.monotonic()))

    def look(self) -> None:
        """Ask the broker once what it keeps for the relay's topic: `kept` tells.

        A subscription that stays would be a listener itself, and the broker could no longer say that nobody is.
        """
        link = self.session.link
        if link is not None:
            self._looked_at = time.monotonic()
            if self._five:
                link[0].subscribe([(self.relay.topic, SubscribeOptions(qos=1, retainAsPublished=True))])
            else:
                link[0].subscribe(self.relay.topic, 1)
            self.session.wake()

    def clear_kept(self) -> None:
        """Take away what is retained on the relay's topic."""
        self.session.publish(self.relay.topic, b"", qos=1, retain=True)

    def close_with_will(self, timeout: float = 2.0) -> None:
        """End so that the broker publishes the cut once more: MQTT 5 asks for the will, 3.1.1 drops the socket."""
        self.session.stop(timeout, with_will=True)

    def cut_and_leave(self, timeout: float = 2.0) -> None:
        """End a start that failed: the cut that was ordered has so long [s] to reach a broker that is still unknown."""
        deadline = time.monotonic() + timeout
        while self.acknowledged_at is None and time.monotonic() < deadline:
            time.sleep(0.005)
        self.close_with_will()

    def wait_acknowledged(self, timeout: float) -> bool:
        """Wait for the broker to have the last order, at most `timeout` [s]."""
        deadline = time.monotonic() + timeout
        while self.acknowledged_at is None and self.connected and time.monotonic() < deadline:
            time.sleep(0.002)
        return self.acknowledged_at is not None

    def _send(self, order: Sent) -> None:
        may_be_lost = order.action == "allow"
        number = self.session.publish(
            self.relay.topic,
            self._payloads[order.action],
            qos=0 if may_be_lost and not self._five else 1,
            expiry=self._expiry if may_be_lost else None,
        )
        self.last = order if number is None else order._replace(number=number, generation=number >> PACKET_BITS)

    def _acknowledged(self, number: int, code: int) -> None:
        if code >= FAILURE:
            log.error("%s: the broker refuses the order on %s (0x%02X)", self.relay.name, self.relay.topic, code)
            return
        listened = code != NOBODY_LISTENS
        ourselves = listened and time.monotonic() - self._looked_at < LOOKING
        if self._five and not ourselves:
            if listened != self.listened and not listened:
                log.warning("%s: nobody listens on %s", self.relay.name, self.relay.topic)
            self.listened = listened
        self._taken = (number, time.monotonic())

    def _opened(self, session: Session, present: bool) -> None:
        # a cut is always due; an allow belongs to an engine that is alive, which refreshes it within a second
        with self._lock:
            if self.last is not None and self.last.action == "cut":
                self._send(self.last)
        self.look()

    def _received(self, client: Client, userdata: Any, message: Any) -> None:
        # Some brokers hand out at once what is kept for other clients' subscriptions: that is no order to this relay.
        if message.retain and message.payload and message.topic == self.relay.topic:
            self.kept.append(message.payload)

    def _answered(self, mid: int, codes: list[int]) -> None:
        # What is kept comes with the answer, before the broker reads this.
        link = self.session.link
        if link is not None:
            link[0].unsubscribe(self.relay.topic)
        if codes and codes[0] >= FAILURE:
            log.warning("%s: the broker does not let us see what it keeps on %s", self.relay.name, self.relay.topic)
