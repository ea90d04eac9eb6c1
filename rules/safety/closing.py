"""The one way back to closed: every order that closes the relay is given, timed and counted here.

Whatever opened the relay (the permit withdrawn, the guard's will, a pause of the bridge, a restart, a second bridge, a
proof test that nobody asked for), it stays open for its time and comes back by itself so often in a day and no more.
What a person opened a person closes: never the bridge.
"""

from __future__ import annotations

from rules.bank import Bank
from rules.events import Event, Order
from rules.safety.read_back import READ_BACK
from rules.safety.state import Interlock, Outcomes, Seen

#: A withdrawn permit stays away at least so long, and comes back by itself at most so often in a day [s], [1].
LEAST_OPEN, RETURNS_PER_DAY, DAY = 300.0, 4, 86400.0
#: A standing permit is repeated so often within the relay's own auto-off [1]: two of them may be lost on their way.
REPEATS = 3.0
#: After these a person's act gives the permit at once; whatever else withdrew it waits its time.
NOT_A_FAULT = frozenset({"not-started", "hold-complete"})
#: What stands between the bridge and its relay: no connection; or the broker says that nobody is at the other end.
LINK_LOST, NOBODY_LISTENS = "relay-link-lost", "nobody-listens"
#: Said of the first at a start, until the connection stands.
NOT_THERE_YET = "the connection to the broker is not there yet"
#: An order reaches it, but without broker, network or power nothing would open it, and the owner has not accepted that.
AUTO_OFF_MISSING = "auto-off-missing"
LINKS = frozenset({"", LINK_LOST, NOBODY_LISTENS, AUTO_OFF_MISSING})
#: An opening seen so shortly before the guard's connection was found lost was its will and no person's hand [s].
WILL_SEEN = 60.0


def returns_today(lock: Interlock, at: float) -> tuple[float, ...]:
    """Return when the relay was closed by itself during the day before this moment [s since the epoch]."""
    return tuple([each for each in lock.returns if at - each < DAY])


def rested(lock: Interlock, at: float) -> bool:
    """Tell whether a relay that a fault opened has been open for its time, at this moment [s since the epoch]."""
    return not lock.withdrawn_for or at - lock.order_at >= LEAST_OPEN


def used_up(lock: Interlock, at: float) -> bool:
    """Tell whether it would close by itself once more than a day allows, at this moment [s since the epoch]."""
    return bool(lock.withdrawn_for) and len(returns_today(lock, at)) >= RETURNS_PER_DAY


def close(bank: Bank, lock: Interlock, at: float, reason: str, outcomes: Outcomes, *, once: bool = False) -> Interlock:
    """Order the relay to close, at this moment [s since the epoch]; the only place from which this is done.

    It counts as by itself where a fault had opened it (`withdrawn_for`), as a person's where a person has just acted.
    What is ordered `once` is not repeated, so that the relay's own auto-off opens it.
    """
    outcomes.insert(0, Order(bank.id, "allow-once" if once else "allow", at, reason))
    returns = returns_today(lock, at)
    return lock._replace(
        order_at=at,
        repeated_at=at,
        allowed_at=at,
        confirmed_at=0.0,
        seen_closed=False,
        opened_for="",
        closings=lock.closings + 1,
        returns=(*returns, at) if lock.withdrawn_for else returns,
    )


def opened_outside(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    """Take the relay seen open while it may be closed as what it is: somebody opened it, at this moment [s].

    A report that was on its way when the permit was given says nothing: it must have been seen closed since, or stay
    open for the time that a relay has to obey. While another bank behind the same relay holds it, open is right.
    """
    if not lock.allowed or lock.proving or lock.held_by or seen.relay_at <= lock.allowed_at:
        return lock
    if seen.relay_closed:
        return lock if lock.seen_closed else lock._replace(seen_closed=True)
    late = seen.relay_at - lock.allowed_at > READ_BACK
    if seen.relay_closed is None or not (lock.seen_closed or late):
        return lock
    outcomes.append(Event(bank.id, "opened-by-hand", at, {"reported_at": seen.relay_at}))
    return lock._replace(opened_by_hand=at)


def link_changed(lock: Interlock, at: float, link: str, opened: str, unanswered: bool) -> Interlock:
    """Take what the bridge tells of the way to the relay, at this moment [s since the epoch].

    Parameters
    ----------
    lock : Interlock
        So far.
    link : str
        What stands in the way now, as a flag; empty where nothing does.
    opened : str
        What may have opened the relay meanwhile; empty where nothing may.
    unanswered : bool
        The connection was lost and with it a cut that nobody acknowledged.
    """
    link = link if link in LINKS else LINK_LOST
    was_will = unanswered and lock.opened_by_hand and at - lock.opened_by_hand <= WILL_SEEN
    if was_will:
        # The will opened the relay and was seen before the loss was: no person's act, so it may come back by itself.
        lock = lock._replace(opened_by_hand=0.0, withdrawn_for=LINK_LOST)
    return lock._replace(link=link, opened_for=opened if lock.allowed or lock.proving else "")
