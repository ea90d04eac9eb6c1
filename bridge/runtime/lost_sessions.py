"""Sessions at the broker that were lost: from when to when something is missing, and who took a relay's guard."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection
from typing import NamedTuple

from bridge.clock import Clock, PacedClock
from bridge.mailbox import SessionChange
from bridge.mqtt.refusals import REFUSALS, TAKEN_OVER
from bridge.outlets.relay import RelayOutlet
from rules.events import Event, moment

log = logging.getLogger("revival")

#: So long the loss of a session is said after it [s].
SAID_FOR = 86_400.0


class _Down(NamedTuple):
    """The kept session is down: since when [s since the epoch], and whether another client has it."""

    since: float
    taken: bool


class LostSessions:
    """What is known of the sessions that the broker keeps for us.

    Parameters
    ----------
    banks : collection of str
        Every one is told of a loss.
    clock : Clock or PacedClock
        The bridge's time.
    relays : collection of RelayOutlet
        Their guards have a session each.
    carry : callable
        Takes the events.
    """

    def __init__(
        self,
        banks: Collection[str],
        clock: Clock | PacedClock,
        relays: Collection[RelayOutlet],
        carry: Callable[[Event], None],
    ) -> None:
        self.banks, self.clock, self.relays, self.carry = banks, clock, relays, carry
        self._down: _Down | None = None
        self._guards_taken: set[RelayOutlet] = set()
        self._lost, self._lost_at = "", 0.0

    @property
    def words(self) -> str:
        """The last loss for people; empty where there was none within a day."""
        return self._lost if self.clock.now() - self._lost_at < SAID_FOR else ""

    def changed(self, change: SessionChange) -> None:
        """Say from when to when what the broker was to keep for us is missing, where it no longer has it."""
        now, down = self.clock.now(), self._down
        if not change.connected:
            taken = REFUSALS[TAKEN_OVER] in change.reason
            self._down = _Down(down.since if down else now, taken or (down is not None and down.taken))
            return
        self._down = None
        if down is not None and down.taken:
            self._tell("history", down.since, now, REFUSALS[TAKEN_OVER])
        elif down is not None and not change.present:
            self._tell("history", down.since, now, "the broker no longer had what it was to keep for us")

    def look_at_guards(self) -> None:
        """Look whether somebody else took the identifier of a guard: its will, the cut, went with it."""
        taken = {relay for relay in self.relays if REFUSALS[TAKEN_OVER] in relay.guard.session.reason}
        now = self.clock.now()
        for relay in taken - self._guards_taken:
            self._tell(f"guard of {relay.relay.name}", now, now, REFUSALS[TAKEN_OVER])
        self._guards_taken = taken

    def _tell(self, session: str, since: float, until: float, why: str) -> None:
        self._lost, self._lost_at = f"{session}, from {moment(since)} to {moment(until, up=True)}: {why}", until
        log.warning("broker session %s", self._lost)
        detail = {"session": session, "since": since, "until": until, "why": why}
        for bank in self.banks:
            self.carry(Event(bank, "session-lost", until, detail))
