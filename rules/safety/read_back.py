"""Did the relay do as it was told? Its own report counts, and the current falling in any case."""

from __future__ import annotations

from rules.bank import Bank
from rules.events import Event, Order, moment
from rules.safety.latching import BEFORE
from rules.safety.state import TOLD_CLOSED, Finding, Interlock, Latch, Outcomes, Seen

#: The relay, or the current, must show the cut within this time; then the order repeats, soon first, then slowly [s].
#: Who closes it meanwhile is answered at once, but no contact is worn out by a quarrel: once a second at most [s].
READ_BACK, REPEAT_SLOWLY, LEAST_BETWEEN_ORDERS = 10.0, 300.0, 1.0
#: Current proves a cut only where it was above this before [A] and above three steps of its meter; and it has fallen
#: when no more than this share is left.
PROVABLE_CURRENT, PROVABLE_STEPS, FALLEN_SHARE = 1.0, 3.0, 0.2
#: A relay that reported nothing for so long and then closed has been away [s].
NEWS_AFTER = 60.0
#: Current may flow so long after a confirmed cut before another source is suspected [s].
OTHER_SOURCE_AFTER = 30.0
#: A current meter may be so slow that its fall shows only after this time [s].
SLOWEST_METER = 900.0
#: With no more than this share left at once after a cut the charger has gone, though something else still feeds the
#: bank: sun, a second charger [1] (common practice, no source).
DROPPED_SHARE = 0.5
#: With so much of it left the current has not fallen at all [1].
UNMOVED_SHARE = 0.8
#: How a relay disobeys, what is said of it once it does no more, and what stands between that and what is so since.
_OPEN_YET_FLOWS = "the relay reports open but the current has not fallen"
_REPORTS_CLOSED = "the relay reports closed although it was ordered to open"
_WAS = {
    _OPEN_YET_FLOWS: "the relay reported open but the current had not fallen",
    _REPORTS_CLOSED: "the relay reported closed although it was ordered to open",
}
_LET_GO = ", until "


def provable(current: float | None, step: float) -> bool:
    """Tell whether a fall of this current [A] could be told from the meter's step [A].

    Examples
    --------
    >>> provable(4.0, 1.0), provable(2.0, 1.0), provable(0.9, 0.0)
    (True, False, False)
    """
    return current is not None and current > PROVABLE_CURRENT and current > PROVABLE_STEPS * step


def reported(lock: Interlock, seen: Seen) -> bool | None:
    """Return what the relay itself says of the last cut: closed, open, or nothing that counts.

    Closed counts when it was reported after the cut was ordered, open when no `allow` has been ordered since.
    """
    if seen.relay_closed:
        return True if seen.relay_at > lock.order_at else None
    if seen.relay_closed is False:
        return False if seen.relay_at > lock.allowed_at else None
    return None


def fallen(lock: Interlock, seen: Seen) -> bool | None:
    """Tell whether the current fell after the cut; None where that cannot be told (yet)."""
    if not provable(lock.current_before, seen.current_step) or seen.current is None:
        return None
    if seen.current_at <= lock.order_at:
        return None
    return seen.current <= FALLEN_SHARE * lock.current_before


def goes_backward(lock: Interlock, seen: Seen) -> bool | None:
    """Tell whether a current below zero went with the cut: then its sign is wrong; None where nothing says so yet.

    A load that draws goes on drawing, and an inverter that loses its feed with the charger only begins to.

    Examples
    --------
    >>> cut = Interlock(order_at=100.0, current_before=-22.0)
    >>> [goes_backward(cut, Seen(current=amps, current_at=105.0)) for amps in (0.0, -21.0)]
    [True, False]
    """
    if not provable(-lock.current_before, seen.current_step):
        return False
    if seen.current is None or seen.current_at <= lock.order_at:
        return None
    return abs(seen.current) <= FALLEN_SHARE * -lock.current_before


def dropped(lock: Interlock, seen: Seen) -> bool:
    """Tell whether half of the current or more went with the cut: the relay obeyed, whatever still feeds the bank.

    Examples
    --------
    >>> cut = Interlock(order_at=100.0, current_before=22.0)
    >>> dropped(cut, Seen(current=6.0, current_at=105.0)), dropped(cut, Seen(current=21.0, current_at=105.0))
    (True, False)
    """
    before = lock.current_before
    if not provable(before, seen.current_step) or seen.current is None or seen.current_at <= lock.order_at:
        return False
    return seen.current <= DROPPED_SHARE * before and provable(before - seen.current, seen.current_step)


def can_show(bank: Bank, lock: Interlock, seen: Seen) -> bool:
    """Tell whether anything could show that the relay opened: its own state, or a current that can be seen falling."""
    reports = bank.relay is not None and bank.relay.reports_state
    return reports or provable(lock.current_before, seen.current_step)


def shows_open(lock: Interlock, seen: Seen) -> float:
    """Return when something outside showed the last cut [s since the epoch], or 0.

    The relay's own report counts first; without one, the current must have fallen after the order.
    """
    told = reported(lock, seen)
    if told is None:
        return seen.current_at if fallen(lock, seen) or dropped(lock, seen) else 0.0
    return 0.0 if told else max(seen.relay_at, lock.order_at)


def waits(bank: Bank, lock: Interlock) -> bool:
    """Tell whether a cut was ordered that a relay is to show."""
    return bank.relay is not None and not lock.allowed and lock.order_at > 0.0 and not lock.proving


def disobeyed(bank: Bank, lock: Interlock, at: float, seen: Seen) -> Finding | None:
    """Find a relay that says closed, or a current that has not fallen, although a cut was ordered [s since the epoch].

    A relay that reports open while the current goes on unmoved has a welded contact if a proof test once showed that
    this current falls with the relay; else another source is likelier, and `other_source` speaks.
    """
    if not waits(bank, lock) or at - lock.order_at < READ_BACK:
        return None
    told = reported(lock, seen)
    before = lock.current_before
    if told is False:
        unmoved = (
            # The trip voids the proof and goes on standing on what the proof showed.
            (lock.proof.current_proved or "relay-disobeys" in lock.latched)
            and provable(before, seen.current_step)
            and seen.current is not None
            and seen.current_at - lock.order_at > OTHER_SOURCE_AFTER
            and seen.current >= UNMOVED_SHARE * before
        )
        if unmoved:
            return Finding(seen.current, UNMOVED_SHARE * before, "A", _OPEN_YET_FLOWS)
        return None
    if lock.confirmed_at:
        return None
    if told:
        return Finding(reason=_REPORTS_CLOSED)
    if fallen(lock, seen) is False and seen.current_at > lock.order_at + READ_BACK:
        return Finding(seen.current, FALLEN_SHARE * before, "A", "the current did not fall after the cut")
    return None


def retold(lock: Interlock, disobeys: Finding | None, seen: Seen, at: float) -> Interlock:
    """Say of a relay that disobeyed until when it did [s since the epoch], once it is seen to have let go.

    The trip stands: only its reason is put right, and put back where the relay disobeys once more.
    """
    latch = lock.latched.get("relay-disobeys")
    if latch is None:
        return lock
    over = _LET_GO in latch.reason
    head = latch.reason.partition(BEFORE)[0]
    if disobeys is not None:
        told = Latch(latch.at, *disobeys) if over else latch
        if not over and head in _WAS and head != disobeys.reason:  # it disobeys in another way now
            told = Latch(latch.at, *disobeys._replace(reason=f"{disobeys.reason}{BEFORE}{_past(head)}"))
    else:
        lets_go = "" if over else _lets_go(lock, latch.reason, seen)
        earlier = _past(latch.reason.removeprefix(head))
        reason = f"{_past(head)}{_LET_GO}{moment(at)}; {lets_go}{earlier}"
        told = Latch(latch.at, reason=reason) if lets_go else latch
    return lock if told is latch else lock._replace(latched={**lock.latched, "relay-disobeys": told})


def _past(reason: str) -> str:
    """Return how a relay disobeyed as it is said once it does no more.

    Examples
    --------
    >>> _past("the relay reports open but the current has not fallen; before: the current did not fall after the cut")
    'the relay reported open but the current had not fallen; before: the current did not fall after the cut'
    """
    return BEFORE.join([_WAS.get(each, each) for each in reason.split(BEFORE)])


def _lets_go(lock: Interlock, reason: str, seen: Seen) -> str:
    """Say what shows that the relay has let go since; empty where nothing does."""
    none = seen.current is not None and seen.current_at > lock.order_at and seen.current <= PROVABLE_CURRENT
    gone = none or fallen(lock, seen) is True
    if reason.partition(BEFORE)[0] == _OPEN_YET_FLOWS:
        return "the current has fallen since" if gone else ""
    if reported(lock, seen) is False:
        return "it reports open since"
    return "the current has fallen since" if gone and seen.relay_closed is None else ""


def unconfirmed(bank: Bank, lock: Interlock, at: float, seen: Seen) -> Finding | None:
    """Tell that nothing has shown the last cut by now [s since the epoch], though something should have."""
    if not waits(bank, lock) or lock.confirmed_at:
        return None
    if at - lock.order_at < READ_BACK or not can_show(bank, lock, seen):
        return None
    return Finding(at - lock.order_at, READ_BACK, "s", "nothing has shown that the relay opened")


def flows_again(lock: Interlock, seen: Seen, threshold: float) -> bool:
    """Tell whether current [A] flows in well after a confirmed cut."""
    if lock.allowed or not lock.confirmed_at or seen.current is None:
        return False
    return (
        seen.current > max(threshold, PROVABLE_STEPS * seen.current_step)
        and seen.current_at - lock.confirmed_at > OTHER_SOURCE_AFTER
    )


def other_source(lock: Interlock, at: float, seen: Seen, threshold: float) -> Finding | None:
    """Find current [A] that still flows in although the relay is known to be open: something else feeds the bank."""
    if not flows_again(lock, seen, threshold):
        return None
    if reported(lock, seen) is False:
        return Finding(seen.current, threshold, "A", "current flows in although the relay is open")
    if seen.relay_closed is None and fallen(lock, seen) is False:
        return Finding(seen.current, threshold, "A", "current flows in again although the relay was cut")
    return None


def _flows_on(lock: Interlock, seen: Seen) -> bool:
    """Tell whether the relay reports open and the current of before goes on as if nothing had been ordered."""
    return (
        reported(lock, seen) is False
        and fallen(lock, seen) is False
        and seen.current is not None
        and seen.current >= UNMOVED_SHARE * lock.current_before
    )


def _closed_anew(lock: Interlock, seen: Seen) -> bool:
    """Tell whether the relay reports closed after a silence, and not in answer to the last order."""
    return (
        seen.relay_closed is True
        and seen.relay_at - lock.repeated_at > LEAST_BETWEEN_ORDERS
        and seen.relay_at - lock.closed_report_at > NEWS_AFTER
    )


def follow_up(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    """Look for evidence of the last cut by now [s since the epoch]; repeat the order until there is some."""
    if lock.allowed or lock.order_at == 0.0 or lock.proving in TOLD_CLOSED:
        return lock
    if not lock.confirmed_at:
        return _await_evidence(bank, lock, at, seen, outcomes)
    return _watch_confirmed(bank, lock, at, seen, outcomes)


def _patience(lock: Interlock) -> float:
    """Return how long the next order waits [s]: 10, 20, 40 ... seconds after the first, at last five minutes."""
    return min(REPEAT_SLOWLY, max(READ_BACK, lock.repeated_at - lock.order_at))


def patience_ends(lock: Interlock) -> tuple[float, ...]:
    """Return when the last cut may be ordered again [s since the epoch], whatever calls for it."""
    return tuple([lock.repeated_at + wait for wait in (LEAST_BETWEEN_ORDERS, _patience(lock), REPEAT_SLOWLY)])


def _await_evidence(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    """Return the state while nothing has shown yet that the relay opened [s since the epoch]."""
    shown = shows_open(lock, seen)
    if shown:
        by = "relay" if reported(lock, seen) is False else "current"
        detail = {"seconds": round(shown - lock.order_at, 3), "by": by}
        outcomes.append(Event(bank.id, "cut-confirmed", at, detail))
        return lock._replace(confirmed_at=shown)
    if _closed_anew(lock, seen):
        # A relay that comes back and closes, by an order that somebody left for it, is answered at once.
        outcomes.insert(0, Order(bank.id, "cut", at, "the relay closed without a permit"))
        outcomes.append(Event(bank.id, "closed-without-permit", at, {}))
        return lock._replace(
            order_at=at,
            repeated_at=at,
            closed_at=at,
            closed_report_at=seen.relay_at,
            current_before=seen.current or 0.0,
        )
    if seen.relay_closed and seen.relay_at > lock.closed_report_at:
        lock = lock._replace(closed_report_at=seen.relay_at)
    if can_show(bank, lock, seen) and at - lock.repeated_at >= _patience(lock):
        outcomes.insert(0, Order(bank.id, "cut", at, "no evidence that the relay opened"))
        return lock._replace(repeated_at=at)
    return lock


def _watch_confirmed(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    """Return the state after a confirmed cut [s since the epoch]: a relay that closes, a current that flows again."""
    if seen.relay_closed and seen.relay_at > lock.confirmed_at and at - lock.repeated_at >= LEAST_BETWEEN_ORDERS:
        outcomes.insert(0, Order(bank.id, "cut", at, "the relay closed without a permit"))
        outcomes.append(Event(bank.id, "closed-without-permit", at, {}))
        return lock._replace(
            order_at=at, repeated_at=at, closed_at=at, confirmed_at=0.0, current_before=seen.current or 0.0
        )
    if _flows_on(lock, seen) and at - lock.repeated_at >= _patience(lock):
        # Welded, or another source: an order costs nothing, and a contact that hangs may let go.
        outcomes.insert(0, Order(bank.id, "cut", at, "the relay reports open and the current has not fallen"))
        return lock._replace(repeated_at=at)
    # A relay that reports nothing may have been closed by somebody, or the sun has risen: an order costs nothing.
    again = seen.relay_closed is None and fallen(lock, seen) is False
    if again and seen.current_at > lock.confirmed_at and at - lock.repeated_at >= REPEAT_SLOWLY:
        outcomes.insert(0, Order(bank.id, "cut", at, "current flows again without a permit"))
        return lock._replace(repeated_at=at)
    return lock
