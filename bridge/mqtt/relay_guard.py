"""One connection per charger relay: carries its orders, and the broker publishes the cut when it is lost."""

from __future__ import annotations

import logging
import threading
import time
from typing import Literal, NamedTuple

from bridge.mqtt.client import Will
from bridge.mqtt.session import Session
from bridge.settings import BrokerSettings, RelaySettings

log = logging.getLogger("revival.relay")

NOBODY_LISTENS = 0x10  #: MQTT 5: no matching subscribers

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
        self._payloads = {"cut": relay.cut.encode(), "allow": relay.allow.encode()}
        self._taken: tuple[int | None, float] = (None, 0.0)  # written by the network thread alone
        self._lock = threading.Lock()  # not taken in `_acknowledged`, which the library calls under its own lock
        self.session = Session(
            settings,
            f"{client_id_base or settings.client_prefix}-guard-{relay.name}",
            will=Will(relay.topic, relay.cut.encode()),
            opened=self._opened,
            acknowledged=self._acknowledged,
        )

    def start(self) -> None:
        """Begin to connect; never waits."""
        self.session.start()

    @property
    def connected(self) -> bool:
        """The broker holds our will."""
        return self.session.connected

    @property
    def acknowledged_at(self) -> float | None:
        """When the broker confirmed the last order [s, monotonic]; ``None`` = not yet."""
        last, (number, moment) = self.last, self._taken
        return moment if last is not None and last.number is not None and last.number == number else None

    def order(self, action: Action) -> None:
        """Publish now; never waits. A cut without a connection leaves as soon as there is one, an allow does not."""
        with self._lock:
            self._send(Sent(action, time.monotonic()))

    def close_with_will(self, timeout: float = 2.0) -> None:
        """End so that the broker publishes the cut once more: MQTT 5 asks for the will, 3.1.1 drops the socket."""
        self.session.stop(timeout, with_will=True)

    def wait_acknowledged(self, timeout: float) -> bool:
        """Wait for the broker to have the last order, at most `timeout` [s]."""
        deadline = time.monotonic() + timeout
        while self.acknowledged_at is None and self.connected and time.monotonic() < deadline:
            time.sleep(0.002)
        return self.acknowledged_at is not None

    def _send(self, order: Sent) -> None:
        number = self.session.publish(self.relay.topic, self._payloads[order.action], qos=1, retain=False)
        self.last = order if number is None else order._replace(number=number, generation=number >> 16)

    def _acknowledged(self, number: int, code: int) -> None:
        if code >= 0x80:
            log.error("%s: the broker refuses the order on %s (0x%02X)", self.relay.name, self.relay.topic, code)
            return
        listened = code != NOBODY_LISTENS
        if listened != self.listened and not listened:
            log.warning("%s: nobody listens on %s", self.relay.name, self.relay.topic)
        self.listened = listened
        self._taken = (number, time.monotonic())

    def _opened(self, session: Session, present: bool) -> None:
        # a cut is always due; an allow belongs to an engine that is alive, which refreshes it within a second
        with self._lock:
            if self.last is not None and self.last.action == "cut":
                self._send(self.last)
