"""Permit and latch: when the charger may run, when it must not, and whether the relay did as it was told.

Two things are kept apart. The *permit* comes and goes with what is known: fresh readings, a started round, a hold not
yet complete. The *latch* remembers that a hazard was seen; only a person's reset clears it, and a second act, resume,
lets the relay close. Silence is a demand. Every order is followed until something outside shows that it was obeyed.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.bank import Bank
from rules.reading import Event, Order

#: A withdrawn permit stays away at least so long, and comes back by itself at most so often in a day [s], [1].
LEAST_OPEN, RETURNS_PER_DAY, DAY = 300.0, 4, 86400.0
#: The relay, or the current, must show the cut within this time; then the order repeats, soon first, then slowly [s].
READ_BACK, REPEAT_SLOWLY, LEAST_BETWEEN_ORDERS = 10.0, 300.0, 5.0
#: Current proves a cut only where it was above this before [A] and above three steps of its meter; and it has fallen
#: when no more than this share is left.
PROVABLE_CURRENT, PROVABLE_STEPS, FALLEN_SHARE = 1.0, 3.0, 0.2
#: Current may flow so long after a confirmed cut before another source is suspected [s].
OTHER_SOURCE_AFTER = 30.0
#: A proof test waits so long for the relay to close, and to open [s].
PROOF_WAIT = 15.0
#: A proof test is overdue after this time [s].
PROOF_GOOD_FOR = 90 * DAY
#: A bypass is for silence only and at most this long [min].
LONGEST_BYPASS = 60.0


class Latch(NamedTuple):
    """A hazard that was seen: when, what, and where the limit was at that moment."""

    at: float
    value: float | None
    limit: float | None
    unit: str
    reason: str


class Finding(NamedTuple):
    """Something that is so now: value and limit in `unit`, and the reason in words."""

    value: float | None = None
    limit: float | None = None
    unit: str = ""
    reason: str = ""


class Proof(NamedTuple):
    """The last proof test of the real path.

    Attributes
    ----------
    at : float
        When it ended [s since the epoch]; 0 = never.
    passed : bool
        The relay opened as ordered.
    seconds : float
        From order to evidence [s].
    current_proved : bool
        The current was seen to fall as well.
    note : str
        What was seen.
    """

    at: float = 0.0
    passed: bool = False
    seconds: float = 0.0
    current_proved: bool = False
    note: str = ""


class Interlock(NamedTuple):
    """State of the interlock.

    Attributes
    ----------
    latched : dict of Latch
        Hazards seen and not yet reset.
    started : bool
        A person started the round.
    needs_resume : bool
        A latch was reset; a second act is still missing.
    exhausted : bool
        The permit came back too often today; a person must act.
    allowed : bool
        The last order was `allow`.
    order_at : float
        When the last change of order left [s since the epoch]; 0 = none yet.
    repeated_at : float
        When that order was last repeated [s since the epoch].
    withdrawn_for : str
        Why the permit was last withdrawn.
    returns : tuple of float
        When it came back by itself during the last day [s since the epoch].
    resumes : int
        Automatic resumes used in this round.
    current_before : float
        Current when the cut was ordered [A].
    confirmed_at : float
        When something outside showed the last cut [s since the epoch]; 0 = not yet.
    bypasses : dict of float
        Quantity -> until when its silence is excused [s since the epoch].
    checklist_by : str
        Who confirmed the start checklist.
    proof : Proof
        The last proof test.
    proving : str
        "" or which part of a proof test runs: closing, opening.
    proving_since : float
        [s since the epoch].
    """

    latched: dict[str, Latch] = {}
    started: bool = False
    needs_resume: bool = False
    exhausted: bool = False
    allowed: bool = False
    order_at: float = 0.0
    repeated_at: float = 0.0
    withdrawn_for: str = ""
    returns: tuple[float, ...] = ()
    resumes: int = 0
    current_before: float = 0.0
    confirmed_at: float = 0.0
    bypasses: dict[str, float] = {}
    checklist_by: str = ""
    proof: Proof = Proof()
    proving: str = ""
    proving_since: float = 0.0


class Seen(NamedTuple):
    """What the interlock may judge by at this moment.

    Attributes
    ----------
    current : float or None
        Fresh current [A].
    current_at : float
        When it was true [s since the epoch].
    current_step : float
        Smallest step of its meter [A].
    relay_closed : bool or None
        As last reported.
    relay_at : float
        When [s since the epoch].
    temperature : float or None
        Hottest probe [degC].
    """

    current: float | None = None
    current_at: float = 0.0
    current_step: float = 0.0
    relay_closed: bool | None = None
    relay_at: float = 0.0
    temperature: float | None = None


Outcomes = list[Order | Event]


def provable(current: float | None, step: float) -> bool:
    """Whether a fall of this current [A] could be told from the meter's step [A].

    Examples
    --------
    >>> provable(4.0, 1.0), provable(2.0, 1.0), provable(0.9, 0.0)
    (True, False, False)
    """
    return current is not None and current > PROVABLE_CURRENT and current > PROVABLE_STEPS * step


def decide(
    bank: Bank,
    lock: Interlock,
    at: float,
    hazards: dict[str, Finding],
    obstacles: dict[str, Finding],
    seen: Seen,
) -> tuple[Interlock, Outcomes]:
    """Judge the bank at one moment: latch, withdraw or give the permit, follow up the last order.

    Parameters
    ----------
    bank : Bank
        Limits, automatic resume, and whether there is a relay.
    lock : Interlock
        So far.
    at : float
        Now [s since the epoch].
    hazards : dict of Finding
        Latching hazards that are so now, confirmed.
    obstacles : dict of Finding
        What the permit is withheld for now; the first is the one named.
    seen : Seen
        Evidence: current, relay state, temperature.

    Returns
    -------
    tuple
        The new state, and orders and events in the order in which they must leave.
    """
    outcomes: Outcomes = []
    lock = _latch(bank, lock, at, hazards, outcomes)
    lock = _resume_by_itself(bank, lock, at, hazards, seen, outcomes)
    if bank.relay is None:
        return lock, outcomes
    if lock.proving:
        lock = _prove(bank, lock, at, seen, obstacles, outcomes)
    if not lock.proving:
        lock = _permit(bank, lock, at, obstacles, seen, outcomes)
    return _follow_up(bank, lock, at, seen, outcomes), outcomes


def _latch(bank: Bank, lock: Interlock, at: float, hazards: dict[str, Finding], outcomes: Outcomes) -> Interlock:
    fresh = {name: finding for name, finding in hazards.items() if name not in lock.latched}
    if not fresh:
        return lock
    latched = dict(lock.latched)
    for name, finding in fresh.items():
        latched[name] = Latch(at, finding.value, finding.limit, finding.unit, finding.reason)
        outcomes.append(
            Event(
                bank.id,
                "trip",
                at,
                {
                    "hazard": name,
                    "value": finding.value,
                    "limit": finding.limit,
                    "unit": finding.unit,
                    "reason": finding.reason,
                },
            )
        )
    return lock._replace(latched=latched, needs_resume=True)


def _resume_by_itself(
    bank: Bank, lock: Interlock, at: float, hazards: dict[str, Finding], seen: Seen, outcomes: Outcomes
) -> Interlock:
    """Over-temperature alone may clear itself: only where the owner chose it, cool, rested, and not too often."""
    automatic = bank.automatic
    if not automatic.allowed or set(lock.latched) != {"over-temperature"} or "over-temperature" in hazards:
        return lock
    cool = seen.temperature is not None and seen.temperature < bank.limits.temperature_resume
    rested = at - lock.latched["over-temperature"].at >= automatic.rest
    if not (cool and rested and lock.resumes < automatic.times):
        return lock
    outcomes.append(Event(bank.id, "automatic-resume", at, {"temperature": seen.temperature, "use": lock.resumes + 1}))
    return lock._replace(latched={}, needs_resume=False, resumes=lock.resumes + 1, withdrawn_for="")


def blocked_by(lock: Interlock, obstacles: dict[str, Finding]) -> str:
    """Why the permit is not given, or "" if nothing stands against it."""
    if lock.latched:
        return next(iter(lock.latched))
    if lock.needs_resume:
        return "needs-resume"
    if lock.exhausted:
        return "permit-exhausted"
    return next(iter(obstacles), "")


def _permit(
    bank: Bank, lock: Interlock, at: float, obstacles: dict[str, Finding], seen: Seen, outcomes: Outcomes
) -> Interlock:
    against = blocked_by(lock, obstacles)
    if against:
        if lock.allowed or lock.order_at == 0.0:
            # A first start orders the cut as well: the relay may have been left closed.
            return _cut(bank, lock, at, against, seen, outcomes)
        return lock
    if lock.allowed:
        return lock
    returns = tuple(each for each in lock.returns if at - each < DAY)
    if lock.withdrawn_for:
        if at - lock.order_at < LEAST_OPEN:
            return lock
        if len(returns) >= RETURNS_PER_DAY:
            outcomes.append(Event(bank.id, "permit-exhausted", at, {"returns": len(returns)}))
            return lock._replace(exhausted=True, returns=returns)
        returns = (*returns, at)
    outcomes.append(Order(bank.id, "allow", at, "all needed readings are fresh and good"))
    outcomes.append(Event(bank.id, "permit-given", at, {"after": lock.withdrawn_for}))
    return lock._replace(allowed=True, order_at=at, repeated_at=at, withdrawn_for="", returns=returns, confirmed_at=0.0)


def _cut(bank: Bank, lock: Interlock, at: float, reason: str, seen: Seen, outcomes: Outcomes) -> Interlock:
    # The order goes in front of the events that explain it: it must not wait for them.
    outcomes.insert(0, Order(bank.id, "cut", at, reason))
    outcomes.append(Event(bank.id, "permit-withdrawn", at, {"reason": reason}))
    # A person's act (start, resume) gives the permit at once; whatever withdrew it by itself waits its time.
    waits = lock.started and reason not in ("not-started", "hold-complete")
    return lock._replace(
        allowed=False,
        order_at=at,
        repeated_at=at,
        withdrawn_for=reason if waits else "",
        current_before=seen.current or 0.0,
        confirmed_at=0.0,
    )


def _follow_up(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    """Look for the evidence of the last cut; repeat the order until there is some."""
    if lock.allowed or lock.order_at == 0.0 or lock.proving == "closing":
        return lock
    opened = shows_open(lock, seen)
    if opened and not lock.confirmed_at:
        evidence = max(lock.order_at, opened)
        outcomes.append(
            Event(
                bank.id,
                "cut-confirmed",
                at,
                {
                    "seconds": round(evidence - lock.order_at, 3),
                    "by": "relay" if seen.relay_closed is False else "current",
                },
            )
        )
        return lock._replace(confirmed_at=evidence)
    closed_again = seen.relay_closed is True and lock.confirmed_at > 0.0 and seen.relay_at > lock.confirmed_at
    if closed_again and at - lock.repeated_at >= LEAST_BETWEEN_ORDERS:
        outcomes.insert(0, Order(bank.id, "cut", at, "the relay closed without a permit"))
        outcomes.append(Event(bank.id, "closed-without-permit", at, {}))
        return lock._replace(order_at=at, repeated_at=at, confirmed_at=0.0, current_before=seen.current or 0.0)
    if not lock.confirmed_at and can_show(bank, lock, seen):
        # Soon at first, then ever slower: 10, 20, 40 ... seconds after the order, at last every five minutes.
        patience = min(REPEAT_SLOWLY, max(READ_BACK, lock.repeated_at - lock.order_at))
        if at - lock.repeated_at >= patience:
            outcomes.insert(0, Order(bank.id, "cut", at, "no evidence that the relay opened"))
            return lock._replace(repeated_at=at)
    return lock


def can_show(bank: Bank, lock: Interlock, seen: Seen) -> bool:
    """Whether anything could show that the relay opened: its own state, or a current that can be seen falling."""
    reports = bank.relay is not None and bank.relay.reports_state
    return reports or provable(lock.current_before, seen.current_step)


def shows_open(lock: Interlock, seen: Seen) -> float:
    """When something outside showed the last cut [s since the epoch], or 0.

    The relay's own report counts first; without one, the current must have fallen after the order.
    """
    if seen.relay_closed is not None:
        return max(seen.relay_at, lock.order_at) if seen.relay_closed is False else 0.0
    fallen = (
        provable(lock.current_before, seen.current_step)
        and seen.current is not None
        and seen.current_at > lock.order_at
        and seen.current <= FALLEN_SHARE * lock.current_before
    )
    return seen.current_at if fallen else 0.0


def disobeyed(bank: Bank, lock: Interlock, at: float, seen: Seen) -> Finding | None:
    """The relay says closed, or (where it says nothing) the current has not fallen, although a cut was ordered."""
    if bank.relay is None or lock.allowed or lock.order_at == 0.0 or lock.confirmed_at or lock.proving:
        return None
    if at - lock.order_at < READ_BACK:
        return None
    if seen.relay_closed is True:
        return Finding(reason="the relay reports closed although it was ordered to open")
    if (
        seen.relay_closed is None
        and provable(lock.current_before, seen.current_step)
        and seen.current is not None
        and seen.current_at > lock.order_at + READ_BACK
        and seen.current > FALLEN_SHARE * lock.current_before
    ):
        return Finding(seen.current, FALLEN_SHARE * lock.current_before, "A", "the current did not fall after the cut")
    return None


def unconfirmed(bank: Bank, lock: Interlock, at: float, seen: Seen) -> Finding | None:
    """No evidence of the last cut in time, though there should have been some."""
    if bank.relay is None or lock.allowed or lock.order_at == 0.0 or lock.confirmed_at or lock.proving:
        return None
    if at - lock.order_at < READ_BACK or not can_show(bank, lock, seen):
        return None
    return Finding(at - lock.order_at, READ_BACK, "s", "nothing has shown that the relay opened")


def other_source(lock: Interlock, at: float, seen: Seen, threshold: float) -> Finding | None:
    """Current [A] still flows in although the relay is known to be open: something else feeds the bank."""
    if lock.allowed or not lock.confirmed_at or seen.relay_closed is not False or seen.current is None:
        return None
    flows = seen.current > max(threshold, PROVABLE_STEPS * seen.current_step)
    if flows and seen.current_at - lock.confirmed_at > OTHER_SOURCE_AFTER:
        return Finding(seen.current, threshold, "A", "current flows in although the relay is open")
    return None


# ----------------------------------------------------------------------------------- a proof test


def begin_proof(bank: Bank, lock: Interlock, at: float, seen: Seen) -> tuple[Interlock, Outcomes]:
    """Exercise the real path: close if it is open, open it, look for the evidence, put it back as it was."""
    outcomes: Outcomes = [Event(bank.id, "proof-begun", at, {"from": "closed" if lock.allowed else "open"})]
    if lock.allowed:
        outcomes.insert(0, Order(bank.id, "cut", at, "proof test"))
        return (
            lock._replace(
                allowed=False,
                order_at=at,
                repeated_at=at,
                proving="opening",
                proving_since=at,
                current_before=seen.current or 0.0,
                confirmed_at=0.0,
            ),
            outcomes,
        )
    outcomes.insert(0, Order(bank.id, "allow", at, "proof test"))
    return lock._replace(proving="closing", proving_since=at, order_at=at, repeated_at=at), outcomes


def _prove(
    bank: Bank, lock: Interlock, at: float, seen: Seen, obstacles: dict[str, Finding], outcomes: Outcomes
) -> Interlock:
    waited = at - lock.proving_since
    unsafe = bool(lock.latched) or any(name in obstacles for name in ("meter-silent", "meter-suspect", "journal-lost"))
    if unsafe:
        return _end_proof(bank, lock, at, False, False, 0.0, "stopped: not safe to go on", seen, outcomes)
    if lock.proving == "closing":
        closed = seen.relay_closed is True and seen.relay_at >= lock.proving_since
        flowing = provable(seen.current, seen.current_step) and seen.current_at > lock.proving_since
        if (closed and waited >= 2.0) or flowing or (waited >= PROOF_WAIT and not _reports(bank)):
            outcomes.insert(0, Order(bank.id, "cut", at, "proof test"))
            return lock._replace(
                proving="opening",
                proving_since=at,
                order_at=at,
                repeated_at=at,
                current_before=seen.current or 0.0,
                confirmed_at=0.0,
            )
        if waited >= PROOF_WAIT:
            return _end_proof(bank, lock, at, False, False, 0.0, "the relay never reported closed", seen, outcomes)
        return lock
    opened = shows_open(lock, seen)
    by_current = provable(lock.current_before, seen.current_step)
    fallen = (
        seen.current is not None
        and seen.current_at > lock.order_at
        and seen.current <= FALLEN_SHARE * lock.current_before
    )
    if opened and opened >= lock.order_at and (seen.relay_closed is None or seen.relay_at >= lock.proving_since):
        if not by_current:
            note = "current not provable now, repeat once the bank takes charge"
            return _end_proof(bank, lock, at, True, False, opened - lock.order_at, note, seen, outcomes)
        if fallen:
            note = "the relay opened and the current fell"
            return _end_proof(bank, lock, at, True, True, opened - lock.order_at, note, seen, outcomes)
    if waited >= PROOF_WAIT:
        if not _reports(bank) and not by_current:
            note = "current not provable now, and the relay reports no state: repeat once the bank takes charge"
            return _end_proof(bank, lock, at, True, False, 0.0, note, seen, outcomes)
        note = "the current did not fall" if opened else "the relay was not seen to open"
        return _end_proof(bank, lock, at, False, False, waited, note, seen, outcomes)
    return lock


def _reports(bank: Bank) -> bool:
    return bank.relay is not None and bank.relay.reports_state


def _end_proof(
    bank: Bank,
    lock: Interlock,
    at: float,
    passed: bool,
    current_proved: bool,
    seconds: float,
    note: str,
    seen: Seen,
    outcomes: Outcomes,
) -> Interlock:
    proof = Proof(at, passed, round(seconds, 3), current_proved, note)
    outcomes.append(
        Event(
            bank.id,
            "proof",
            at,
            {"passed": passed, "seconds": proof.seconds, "current_proved": current_proved, "note": note},
        )
    )
    lock = lock._replace(proof=proof, proving="", confirmed_at=at if passed else 0.0)
    if lock.order_at and not passed:
        # A failing test never leaves the relay closed, and a person must look before it closes again.
        outcomes.insert(0, Order(bank.id, "cut", at, "the proof test failed"))
        return lock._replace(
            order_at=at, repeated_at=at, needs_resume=True, withdrawn_for="", current_before=seen.current or 0.0
        )
    # With nothing left against it the permit may return at once: the test, not a fault, opened the relay.
    return lock._replace(withdrawn_for="")
