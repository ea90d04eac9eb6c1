"""The relay's own auto-off, measured: it is told to close once and not again, until it opens by itself.

*Objective*: what alone covers a lost broker or network is no longer believed as written. *Is*: a test that a person
asks for; the bridge goes on watching and cuts at once where anything is the matter. *The safe side*: a relay that was
not seen to open by itself counts as not proved until it was. No plain proof washes that away, for it shows the
bridge's own order, and that is what does not arrive once broker or network are gone; only a test that sees it open
does, or another relay, or `auto_off = "none"` in the cabin file. One that opens too early is no danger, but somebody
else may have opened it: nothing was measured then. *Is not*: tried by itself; it keeps the charger on for longer than
a proof does.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.bank import Relay
from rules.events import moment
from rules.safety.closing import REPEATS
from rules.safety.read_back import SLOWEST_METER, fallen, provable
from rules.safety.state import Interlock, OwnOff, Seen

#: It may open so much sooner or later than is written [s], and by this share of it [1]: order and report are on their
#: way, and the timers of small relays are coarse (common practice, no source).
SLACK, SLACK_SHARE = 15.0, 0.1
#: Where only the current shows it, a meter that shows the mean of half a minute has its time [s].
METER_SLACK = 60.0
#: An order to stay closed may be so long on its way to the relay [s].
ON_ITS_WAY = 2.0
#: Once the relay reports open, a quick meter has so long to show that the current fell [s].
FALLS_WITHIN = 15.0
NO_REPORT = "the current fell, but the relay never reported open: nobody knows whether its own auto-off opened it"
UNMOVED = "the relay reported open by itself, but the current did not fall: a contact that hangs, or another source"
NOTHING_TO_SEE = "it reports no state, and too little current flowed to see it fall by itself"
AS_WRITTEN = "as written, not tested"
#: The other way out, and what it costs.
WITHOUT_ONE = (
    "where it has no auto-off, `revival setup --auto-off none`, start the bridge anew and `revival prove`: then "
    "nothing opens it once broker or network are gone, and the charger runs on until somebody comes"
)


class Ended(NamedTuple):
    """How the trial of the auto-off ended.

    Attributes
    ----------
    seconds : float
        From the only order to close until it was open, or until that was given up [s].
    why : str
        What is wrong; empty where it opened as written.
    stuck : bool
        It was not seen to open by itself.
    """

    seconds: float
    why: str = ""
    stuck: bool = False


def window(relay: Relay) -> tuple[float, float]:
    """Return after which time, at the soonest and at the latest, it opens by itself as is written [s].

    Examples
    --------
    >>> window(Relay(reports_state=True, auto_off=90.0)), window(Relay(reports_state=False, auto_off=90.0))
    ((75.0, 105.0), (75.0, 150.0))
    >>> window(Relay(reports_state=True, auto_off=15.0))
    (7.0, 30.0)
    """
    written = relay.auto_off or 0.0
    slack = max(SLACK, SLACK_SHARE * written)
    late = slack if relay.reports_state else max(slack, METER_SLACK)
    return max(written - slack, written / REPEATS + ON_ITS_WAY), written + late


def own_off_words(auto_off: float | None, own: OwnOff) -> str:
    """Say what is known of a relay's own auto-off; empty where it has none.

    Parameters
    ----------
    auto_off : float or None
        As the cabin file has it now [s].
    own : OwnOff
        As it was last tried.

    Examples
    --------
    >>> own_off_words(90.0, OwnOff(1795590000.0, 88.2, 90.0)), own_off_words(90.0, OwnOff())
    ('opens by itself after 88 s, measured on 2026-11-25', 'as written, not tested')
    >>> own_off_words(60.0, OwnOff(1795590000.0, 88.2, 90.0)), own_off_words(None, OwnOff(1795590000.0, 88.2, 90.0))
    ('as written, not tested', '')
    """
    if auto_off is None:
        return ""
    day = moment(own.at)[:10]
    if own.why:
        return f"it was NOT seen to open by itself on {day}"
    # Measured under another figure of the file it says nothing of the setting of now.
    return f"opens by itself after {own.seconds:.0f} s, measured on {day}" if own.written == auto_off else AS_WRITTEN


def stuck_words(relay: Relay | None, own: OwnOff) -> str:
    """Say that the relay was not seen to open by itself, by what the cabin file says of it now; empty where it may.

    Examples
    --------
    >>> tried = OwnOff(1795590000.0, 0.0, 90.0, "the relay was not seen to open by itself within 105 s")
    >>> stuck_words(Relay(auto_off=90.0), tried) == tried.why, stuck_words(Relay(auto_off=None), tried)
    (True, '')
    """
    if relay is None or not relay.auto_off or not own.why:
        return ""
    if relay.auto_off == own.written:
        return own.why
    return (
        f"the relay was not seen to open by itself when {own.written:g} s were written, and was not tried since with "
        f"{relay.auto_off:g} s: `revival prove --auto-off`; {WITHOUT_ONE}"
    )


def look(relay: Relay, lock: Interlock, at: float, seen: Seen) -> tuple[Interlock, Ended | None]:
    """Look once at a relay that was told to close and is not told again, at this moment [s since the epoch].

    `confirmed_at` keeps when it was first seen open, `current_before` the most that has flowed since that order.
    """
    lock = _watched(relay, lock, seen)
    opened = lock.confirmed_at
    soonest, latest = window(relay)
    if opened and opened - lock.order_at <= latest:
        return lock, _opened(relay, lock, at, seen, opened - lock.order_at, soonest)
    waited = at - lock.order_at
    if waited <= latest:
        return lock, None
    if relay.reports_state and not opened and fallen(lock, seen):
        return lock, Ended(waited, NO_REPORT)
    written = f"{relay.auto_off or 0.0:g} s"
    why = (
        f"the relay was not seen to open by itself within {latest:g} s, though {written} are written: with broker "
        f"or network gone it stays closed and the charger runs on; set {written} in the relay itself, then "
        f"`revival prove --auto-off`; {WITHOUT_ONE}"
    )
    return lock, Ended(waited, why, stuck=True)


def _watched(relay: Relay, lock: Interlock, seen: Seen) -> Interlock:
    """Return the state with the most that has flowed, and with when the relay was first seen open as it is now."""
    fresh = seen.current is not None and seen.current_at > lock.order_at
    if fresh and seen.current is not None and seen.current > lock.current_before:
        lock = lock._replace(current_before=seen.current)
    if relay.reports_state:
        is_open, since = seen.relay_closed is False and seen.relay_at > lock.order_at, seen.relay_at
    else:
        is_open, since = bool(fallen(lock, seen)), seen.current_at
    return lock._replace(confirmed_at=(lock.confirmed_at or since) if is_open else 0.0)


def _opened(relay: Relay, lock: Interlock, at: float, seen: Seen, seconds: float, soonest: float) -> Ended | None:
    """Judge a relay that was seen to open after so long [s]; None while the current has still to show it."""
    if seconds < soonest:
        return Ended(seconds, _too_early(relay, seconds))
    if not provable(lock.current_before, seen.current_step):
        return Ended(seconds)
    # What was measured before the relay opened says nothing of it.
    fell = fallen(lock, seen) if seen.current_at >= lock.confirmed_at else None
    if fell:
        return Ended(seconds)
    patience = SLOWEST_METER if fell is None and seen.current is not None else FALLS_WITHIN
    return Ended(seconds, UNMOVED) if at - lock.confirmed_at >= patience else None


def _too_early(relay: Relay, seconds: float) -> str:
    written = relay.auto_off or 0.0
    what = "the relay opened" if relay.reports_state else "the current fell"
    why = (
        f"{what} by itself after {seconds:.0f} s, long before the {written:g} s that are written: somebody else did "
        "it, or the relay is set shorter; look at its own setting and write that as auto_off"
    )
    every = written / REPEATS
    if seconds < every + ON_ITS_WAY:
        why += f" (orders to stay closed come every {every:.0f} s, so it would open between them, in mid charge)"
    return why
