"""Orders to the charger's relay: passes on what the rules order, and refreshes a standing permit."""

from __future__ import annotations

import logging
from typing import NamedTuple

from bridge.mqtt.relay_guard import Action, RelayGuard
from bridge.settings import RelaySettings
from rules.events import Order

log = logging.getLogger("revival.relay")


class Evidence(NamedTuple):
    """How long the last cut took, as far as this side sees it.

    Attributes
    ----------
    ordered_at : float
        The order's own time, bridge's clock [s since the epoch].
    sent_at : float
        Handed to the connection, host's monotonic clock [s].
    acknowledged_after : float or None
        From there to the broker's acknowledgement [s].
    """

    bank: str
    reason: str
    ordered_at: float
    sent_at: float
    acknowledged_after: float | None


class RelayOutlet:
    """One relay, one or several banks behind it: it is allowed only while every bank's last order is allow."""

    def __init__(self, relay: RelaySettings, guard: RelayGuard) -> None:
        self.relay, self.guard = relay, guard
        self._orders: dict[str, Action] = dict.fromkeys(relay.banks, "cut")
        self._refresh_every = relay.auto_off / 3.0 if relay.auto_off else None
        self._refreshed_at = float("-inf")
        self._last_cut: tuple[Order, float] | None = None

    @property
    def allowed(self) -> bool:
        """Every bank behind the relay allows."""
        return all(action == "allow" for action in self._orders.values())

    @property
    def cut_sent_at(self) -> float | None:
        """When the last cut was handed to the connection, host's monotonic clock [s]."""
        return self._last_cut[1] if self._last_cut is not None else None

    def order(self, order: Order) -> None:
        """Pass on at once; a cut always leaves, an allow only when no other bank behind the relay holds it cut."""
        if order.action == "cut":
            self.guard.order("cut")
            self._orders[order.bank] = "cut"
            if self.guard.last is not None:
                self._last_cut = (order, self.guard.last.asked_at)
        else:
            self._orders[order.bank] = "allow"
            if self.allowed:
                self._allow(order.at)
            else:
                held = [bank for bank, action in self._orders.items() if action == "cut"]
                log.info("%s: stays cut, held by %s", self.relay.name, ", ".join(held))

    def refresh(self, at: float) -> None:
        """Once a second: repeat a standing allow every third of the relay's auto-off, and after a new connection.

        The broker has published the cut for a lost connection, so a permit that still stands is sent again; it comes
        from here, the engine's own thread, because only an engine that turns may keep a relay closed.
        """
        if not self.allowed or not self.guard.connected:
            return
        last = self.guard.last
        lost = last is None or last.number is None or last.generation != self.guard.session.generation
        if lost or (self._refresh_every is not None and at - self._refreshed_at >= self._refresh_every):
            self._allow(at)

    def clock_moved(self) -> None:
        """The bridge's clock was set: times of before it mean nothing, so a standing permit is refreshed at once."""
        self._refreshed_at = float("-inf")

    def evidence(self) -> Evidence | None:
        """The last cut's times; ``None`` before the first."""
        if self._last_cut is None:
            return None
        order, sent_at = self._last_cut
        last, acknowledged_at = self.guard.last, self.guard.acknowledged_at
        same = last is not None and last.asked_at == sent_at and acknowledged_at is not None
        after = acknowledged_at - sent_at if same and acknowledged_at is not None else None
        return Evidence(order.bank, order.reason, order.at, sent_at, after)

    def _allow(self, at: float) -> None:
        self.guard.order("allow")
        self._refreshed_at = at
