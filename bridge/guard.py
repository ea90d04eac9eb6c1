"""One connection per charger relay: carries its orders, and the broker publishes the cut when this connection is lost."""

from __future__ import annotations

import logging
import time
from typing import Literal, NamedTuple

from bridge.session import Session, Will
from bridge.settings import BrokerSettings, RelaySettings

log = logging.getLogger("revival.relay")

Action = Literal["cut", "allow"]


class Sent(NamedTuple):
    """The last order as far as the broker: times by the host's monotonic clock [s], ``None`` = not yet."""

    action: Action
    asked_at: float
    sent_at: float | None = None
    acknowledged_at: float | None = None


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
        self._payloads = {"cut": relay.cut.encode(), "allow": relay.allow.encode()}
        self._number = -1
        self._early: tuple[int, float] = (-1, 0.0)
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
    def acknowledged(self) -> bool:
        """The broker has the last order."""
        return self.last is not None and self.last.acknowledged_at is not None

    def order(self, action: Action) -> None:
        """Publish now; never waits. A cut without a connection leaves as soon as there is one, an allow does not."""
        self.last = Sent(action, time.monotonic())
        self._send(self.last)

    def close_with_will(self, timeout: float = 2.0) -> None:
        """End so that the broker publishes the cut once more: MQTT 5 asks for the will, 3.1.1 drops the socket."""
        self.session.stop(timeout, with_will=True)

    def wait_acknowledged(self, timeout: float) -> bool:
        """Wait for the broker to have the last order, at most `timeout` [s]."""
        deadline = time.monotonic() + timeout
        while not self.acknowledged and self.connected and time.monotonic() < deadline:
            time.sleep(0.002)
        return self.acknowledged

    def _send(self, order: Sent) -> None:
        number = self.session.publish(self.relay.topic, self._payloads[order.action], qos=1, retain=False)
        if number is None:
            return
        self.last = order._replace(sent_at=time.monotonic())
        self._number = number
        self._settle()

    def _settle(self) -> None:
        # the acknowledgement may come before `publish` has returned the packet's number: whoever is second settles
        number, moment = self._early
        if self.last is not None and number == self._number and self.last.acknowledged_at is None:
            self.last = self.last._replace(acknowledged_at=moment)

    def _acknowledged(self, number: int, code: int) -> None:
        if code >= 0x80:
            log.error("%s: the broker refuses the order on %s (0x%02X)", self.relay.name, self.relay.topic, code)
            return
        self._early = (number, time.monotonic())
        self._settle()

    def _opened(self, session: Session, present: bool) -> None:
        # a cut is always due; an allow belongs to an engine that is alive, which refreshes it within a second
        last = self.last
        if last is not None and last.action == "cut" and last.acknowledged_at is None:
            self._send(last)
