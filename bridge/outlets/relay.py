"""Orders to the charger's relay: passes on what the rules order, and refreshes a standing permit.

It never closes a relay that may have opened meanwhile. Whatever opens it without the rules (the cut that the guard
left with the broker, after a lost connection, the relay's own auto-off after a pause of ours) is told to them, and they
alone close it again.
"""

from __future__ import annotations

import logging

from bridge import clock as time_source
from bridge.mqtt.relay_guard import RelayGuard
from bridge.settings import RelaySettings
from rules.events import Order
from rules.safety import AUTO_OFF_MISSING, LINK_LOST, NOBODY_LISTENS, REPEATS

log = logging.getLogger("revival.relay")


#: A refresh may need so long to reach the relay; later than that before its auto-off it counts as too late [s].
ON_ITS_WAY = 2.0
#: What the broker keeps on the relay's topic is looked at so often, and a topic without a listener tried again [s].
LOOK_EVERY, TRY_AGAIN = 60.0, 30.0


class RelayOutlet:
    """One relay, one or several banks behind it: it is allowed only while every bank's last order is allow."""

    def __init__(self, relay: RelaySettings, guard: RelayGuard) -> None:
        self.relay, self.guard = relay, guard
        self._orders: dict[str, str] = dict.fromkeys(relay.banks, "cut")
        self._refresh_every = relay.auto_off / REPEATS if relay.auto_off else None
        self._refreshed_at = float("-inf")
        self._allowed_on = 0  # the connection on which the standing permit was given
        self._heard_by = 0.0  # when the relay was last told to close, by a clock that goes on while the host sleeps [s]
        self._looked_at = self._tried_at = time_source.steady()
        self._told_on = 0  # the connection of which the rules were told; 0 = that there is none
        self._told_link = LINK_LOST

    @property
    def allowed(self) -> bool:
        """Every bank behind the relay allows, though it be once only."""
        return all(action != "cut" for action in self._orders.values())

    @property
    def _stands(self) -> bool:
        """The permit is one that is repeated: no bank waits for the relay's own auto-off to open it."""
        return all(action == "allow" for action in self._orders.values())

    def order(self, order: Order) -> None:
        """Pass on at once; a cut always leaves, an allow only when no other bank behind the relay holds it cut."""
        if order.action == "cut":
            self.guard.order("cut")
            self._orders[order.bank] = "cut"
        else:
            self._orders[order.bank] = order.action
            if self.allowed:
                self._allow(order.at)
            else:
                held = [bank for bank, action in self._orders.items() if action == "cut"]
                log.info("%s: stays cut, held by %s", self.relay.name, ", ".join(held))

    def held_by(self, bank: str) -> str:
        """Return another bank behind the same relay that holds it cut; empty where none does."""
        return next((other for other, action in self._orders.items() if other != bank and action == "cut"), "")

    def refresh(self, at: float) -> None:
        """Repeat a standing allow every third of the relay's auto-off; called once a second.

        It comes from here, the engine's own thread, because only an engine that turns may keep a relay closed.
        """
        moment = time_source.steady()
        if moment - self._looked_at >= LOOK_EVERY:
            self._looked_at = moment
            self.guard.look()
        if not self.allowed:
            if self.guard.unheard and moment - self._tried_at >= TRY_AGAIN:
                self._tried_at = moment
                self.guard.order("cut")  # the broker says whether anybody hears it
            return
        if self._refresh_every is None or not self._stands or at - self._refreshed_at < self._refresh_every:
            return
        if self._generation() == self._allowed_on and not self._lapsed(moment):
            self._allow(at)

    def changes(self) -> list[dict[str, object]]:
        """Return what the rules must hear of the way to the relay since they were last told, in order."""
        told: list[dict[str, object]] = []
        generation = self._generation()
        if self._told_on and generation != self._told_on:
            last = self.guard.last
            unanswered = last is not None and last.action == "cut" and self.guard.acknowledged_at is None
            told.append({"link": LINK_LOST, "why": "the connection to the broker was lost", "unanswered": unanswered})
            self._told_link = LINK_LOST
        self._told_on = generation
        link = AUTO_OFF_MISSING if self.relay.uncovered else ""
        if not generation or self.guard.listened is False:
            link = NOBODY_LISTENS if generation else LINK_LOST
        if link != self._told_link:
            self._told_link = link
            told.append({"link": link, "why": _WHY[link].format(topic=self.relay.topic)})
        if self._stands and self._lapsed(time_source.steady()):
            told.append({"link": link, "opened": "its auto-off passed before the permit could be refreshed"})
        return told

    def take_kept(self) -> list[tuple[str, bool]]:
        """Return orders that somebody left retained on the relay's topic; each is cleared, and answered by the cut.

        Beside each stands whether it may close the relay: whatever is not the cut may.
        """
        found: list[tuple[str, bool]] = []
        while self.guard.kept:
            kept = self.guard.kept.popleft()
            found.append((kept.decode("utf-8", "replace")[:40], kept != self.relay.cut.encode()))
        if found:
            self.guard.clear_kept()
            if not self.allowed:
                self.guard.order("cut")
        return found

    def _generation(self) -> int:
        link = self.guard.session.link
        return link[1] if link is not None else 0

    def _lapsed(self, moment: float) -> bool:
        """Tell whether the relay may have opened by itself: it was not told to stay closed in time."""
        auto_off = self.relay.auto_off
        return auto_off is not None and moment - self._heard_by >= auto_off - ON_ITS_WAY

    def clock_moved(self) -> None:
        """Forget times of before the bridge's clock was set: a standing permit is refreshed at once."""
        self._refreshed_at = float("-inf")

    def _allow(self, at: float) -> None:
        self.guard.order("allow")
        self._refreshed_at = at
        self._heard_by = time_source.steady()
        self._allowed_on = self._generation()


_WHY = {
    LINK_LOST: "there is no connection to the broker, so {topic} cannot be ordered",
    NOBODY_LISTENS: "the broker says that nobody listens on {topic}",
    AUTO_OFF_MISSING: "nothing opens the relay on {topic} when broker, network or power are lost",
    "": "",
}
