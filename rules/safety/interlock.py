"""Permit and latch: when the charger may run, and when it must not.

Two things are kept apart. The *permit* comes and goes with what is known: fresh readings, a started round, a hold not
yet complete. The *latch* remembers that a hazard was seen; only a person's reset clears it, and a second act, resume,
lets the relay close. Silence is a demand. Every order is followed until something outside shows that it was obeyed.
"""

from __future__ import annotations

from rules.bank import Bank
from rules.events import Event, Order, moment
from rules.laws import GAS_AFTER_CHARGE
from rules.safety.closing import (
    DAY,
    LEAST_OPEN,
    NOT_A_FAULT,
    NOT_THERE_YET,
    RETURNS_PER_DAY,
    close,
    link_changed,
    opened_outside,
    rested,
    returns_today,
    used_up,
)
from rules.safety.evidence import Pending, confirmed, still_missing
from rules.safety.latching import FIRE_NOTED, NOTED_BY_A_PERSON, joined
from rules.safety.own_off import Ended, stuck_words
from rules.safety.proof import (
    FLOWS_FOR,
    PROOF_GOOD_FOR,
    TRY_EVERY,
    begin_proof,
    prove,
    seen_beside,
    stop_proof,
    try_by_itself,
    unproved,
    witnessed,
)
from rules.safety.read_back import (
    READ_BACK,
    can_show,
    disobeyed,
    follow_up,
    other_source,
    patience_ends,
    provable,
    retold,
    shows_open,
    unconfirmed,
)
from rules.safety.state import DEGRADED, OVER_NOW, PROVED, UNPROVED, Finding, Interlock, Latch, Outcomes, Proof, Seen

__all__ = [
    "DAY", "DISOBEYED_SINCE", "KEPT_ORDER_SHOWN", "LEAST_OPEN", "LONGEST_BYPASS", "NOT_STORED", "PROOF_GOOD_FOR",
    "READ_BACK", "RETURNS_PER_DAY",
    "Ended", "Finding", "Interlock", "Latch", "Outcomes", "Proof", "Seen",
    "begin_proof", "blocked_by", "can_show", "decide", "disobeyed", "link_changed", "moments", "other_source",
    "provable", "retold", "seen_beside", "shows_open", "stop_proof", "stuck_words", "unconfirmed", "unproved",
    "unready", "witnessed",
]  # fmt: skip

#: A bypass is for silence only and at most this long [min].
LONGEST_BYPASS = 60.0
#: A retained order is cleared at sight, and found again at each look if it comes back: so long after the last one it is
#: over, and stands in the record alone [s].
KEPT_ORDER_SHOWN = 600.0
#: What stands against the permit while nothing is kept, by the state of the storage.
NOT_STORED = {UNPROVED: "storage-unproved", DEGRADED: "journal-degraded"}
#: Why a relay that passed its proof has to be proved anew.
DISOBEYED_SINCE = "the relay disobeyed since it was proved: find out why, then prove it anew with `revival prove`"
#: Nobody goes in so long after somebody smelled, heard or saw a danger [s] (IEC 62485-2 for gas after charging).
AIRED_AFTER = 3600.0 * GAS_AFTER_CHARGE


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

    Examples
    --------
    A hazard latches, and on the first look the cut is ordered whatever the relay did before:

    >>> from rules.bank.model import Block, Relay
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),), relay=Relay(reports_state=True))
    >>> hot = {"over-temperature": Finding(44.0, 43.3, "degC", "hot")}
    >>> lock, outcomes = decide(bank, Interlock(), 1795590000.0, hot, {}, Seen())
    >>> list(lock.latched), outcomes[0].action, lock.allowed
    (['over-temperature'], 'cut', False)
    """
    outcomes: Outcomes = []
    lock = _voided(_latch(bank, lock, at, hazards, outcomes))
    lock = _resume_by_itself(bank, lock, at, hazards, seen, outcomes)
    if bank.relay is None:
        return lock, outcomes
    if lock.proving:
        lock = prove(bank, lock, at, seen, obstacles, outcomes)
    lock = opened_outside(bank, lock, at, seen, outcomes)
    safe = not hazards and not blocked_by(lock, obstacles) and not lock.opened_for and OVER_NOW not in obstacles
    lock = try_by_itself(bank, lock, at, seen, safe, outcomes)
    if not lock.proving:
        lock = _permit(bank, lock, at, obstacles, seen, outcomes)
    return follow_up(bank, lock, at, seen, outcomes), outcomes


def _latch(bank: Bank, lock: Interlock, at: float, hazards: dict[str, Finding], outcomes: Outcomes) -> Interlock:
    new: dict[str, Latch] = {}
    for name, finding in hazards.items():
        before = lock.latched.get(name)
        latch = Latch(at, *finding) if before is None else joined(before, finding, at)
        if latch is before:
            continue
        new[name] = latch
        if before is None or (finding.value is None and latch.reason != before.reason):
            # Another danger of the same name is told like a first one; that it became hotter stands in the state.
            outcomes.append(
                Event(bank.id, "trip", at, {"hazard": name, **finding._replace(reason=latch.reason)._asdict()})
            )
    return lock._replace(latched={**lock.latched, **new}) if new else lock


def _voided(lock: Interlock) -> Interlock:
    """Return the state without its proof where the relay disobeyed since: what it once did says nothing of it now.

    At every look, so that a trip that an earlier version latched voids it too.
    """
    if "relay-disobeys" not in lock.latched or not lock.proof.passed:
        return lock
    return lock._replace(proof=Proof(note=DISOBEYED_SINCE))


def _resume_by_itself(
    bank: Bank, lock: Interlock, at: float, hazards: dict[str, Finding], seen: Seen, outcomes: Outcomes
) -> Interlock:
    """Clear over-temperature alone by itself: only where the owner chose it, cool, rested, and not too often.

    Whatever else stands against the permit, a resume that a person still owes above all, goes on standing.
    """
    automatic = bank.automatic
    if not automatic.allowed or lock.latched.keys() != {"over-temperature"} or "over-temperature" in hazards:
        return lock
    opened = lock.latched["over-temperature"].at
    if bank.relay is not None:
        if not lock.confirmed_at and can_show(bank, lock, seen):
            return lock
        opened = max(opened, lock.confirmed_at, lock.order_at)
    cool = seen.temperature is not None and seen.temperature < bank.limits.temperature_resume
    if not cool or at - opened < automatic.rest or lock.resumes >= automatic.times:
        return lock
    outcomes.append(Event(bank.id, "automatic-resume", at, {"temperature": seen.temperature, "use": lock.resumes + 1}))
    return lock._replace(latched={}, resumes=lock.resumes + 1)


def blocked_by(lock: Interlock, obstacles: dict[str, Finding]) -> str:
    """Return why the permit is not given, or "" if nothing stands against it.

    A newest value over its limit keeps a relay from closing, and opens none: that is left to the trip.
    """
    if lock.latched:
        return next(iter(lock.latched))
    if lock.lost:
        return "journal-lost"
    if lock.storage != PROVED:
        return NOT_STORED[lock.storage]
    if lock.needs_resume:
        return "resume-due"
    if lock.opened_by_hand:
        return "opened-by-hand"
    if lock.exhausted:
        return "permit-exhausted"
    if lock.link:
        return lock.link
    return next((name for name in obstacles if name != OVER_NOW or not lock.allowed), "")


def reset_refused(lock: Interlock, pending: dict[str, Pending], at: float, over: str = "") -> str:
    """Say everything that stands against a reset now [s since the epoch]; empty where it would be taken.

    Parameters
    ----------
    lock : Interlock
        With what tripped.
    pending : dict of Pending
        Hazards that are there now, and what has still to be read until they are not.
    at : float
        [s since the epoch].
    over : str
        Why the newest value of a meter lets nothing close the relay; empty where none does.

    Examples
    --------
    Whoever smelled rotten eggs airs the room for an hour before anybody goes in:

    >>> noted = Interlock(latched={"danger-noted": Latch(1795590000.0, None, None, "", "rotten eggs")})
    >>> reset_refused(noted, {}, 1795591000.0)
    'a danger was noted: air the room from outside until 2026-11-25T08:00Z, nobody goes in before'
    >>> reset_refused(noted, {}, 1795593600.0)
    ''
    """
    against: list[str] = []
    still = sorted(set(confirmed(pending)) & set(lock.latched))
    if still:
        missing = [words for name in still if (words := still_missing(pending, name))]
        there = f"{' and '.join(still)} {'is' if len(still) == 1 else 'are'} still there"
        against.append(f"{there}: {'; '.join(missing)}" if missing else there)
    until = out_until(lock)
    if at < until and FIRE_NOTED in lock.latched:
        when = moment(until, up=True)
        against.append(f"a fire was noted: nobody goes in before the fire service says so, nor before {when}")
    elif at < until:
        when = moment(until, up=True)
        against.append(f"a danger was noted: air the room from outside until {when}, nobody goes in before")
    # What sends people out of the room is read before what has to be read in it.
    return "; and ".join(reversed(against)) or over


def out_until(lock: Interlock) -> float:
    """Return until when nobody goes in because of a danger that was noted [s since the epoch]; 0 = none was."""
    noted = [lock.latched[name] for name in NOTED_BY_A_PERSON if name in lock.latched]
    return max([max(each.at, each.again_at) + AIRED_AFTER for each in noted], default=0.0)


def aired_after_charge(lock: Interlock, charged_at: float) -> Interlock:
    """Return the state in which nobody goes in before the gas of the last charge is gone either [s since the epoch].

    One moment stands on every line, and no reset is taken before it: the hour after the note, or after the current.
    """
    late = [
        name
        for name in NOTED_BY_A_PERSON
        if name in lock.latched and charged_at > max(lock.latched[name].at, lock.latched[name].again_at)
    ]
    if not late:
        return lock
    again = {name: lock.latched[name]._replace(again_at=charged_at) for name in late}
    return lock._replace(latched={**lock.latched, **again})


def moments(bank: Bank, lock: Interlock) -> tuple[float, ...]:
    """Return the moments [s since the epoch] at which time alone may change what the interlock does or says.

    What a running proof test waits for is not among them: it is looked at every second.
    """
    opened = max([lock.order_at, lock.confirmed_at, *[latch.at for latch in lock.latched.values()]])
    return (
        lock.order_at + READ_BACK,
        lock.order_at + LEAST_OPEN,
        *patience_ends(lock),
        opened + bank.automatic.rest,
        lock.flows_since + FLOWS_FOR,
        lock.tried_at + TRY_EVERY,
        lock.proof.at + PROOF_GOOD_FOR,
        lock.kept_order_at + KEPT_ORDER_SHOWN,
        lock.extended_until,
        out_until(lock),
        *[each + DAY for each in lock.returns],
        *lock.bypasses.values(),
    )


def unready(bank: Bank, lock: Interlock) -> dict[str, Finding]:
    """Return what a round that was started no longer has: a proof that failed since, a checklist taken back."""
    found: dict[str, Finding] = {}
    if lock.started and not lock.proving and not lock.proof.passed:
        found["proof-test-missing"] = Finding(reason=unproved(bank, lock))
    if lock.started and not lock.checklist_by:
        found["checklist-open"] = Finding(reason="the start checklist is not confirmed")
    return found


def _permit(
    bank: Bank, lock: Interlock, at: float, obstacles: dict[str, Finding], seen: Seen, outcomes: Outcomes
) -> Interlock:
    against = blocked_by(lock, obstacles)
    if lock.order_at == 0.0:
        # The first order is always the cut: nobody knows how the relay was left.
        # Before a connection can have come none was lost.
        early = against == lock.link and lock.link_why == NOT_THERE_YET
        cut = _cut(bank, lock, at, "restart" if early else against or "restart", seen, outcomes)
        # What withdrew it was the bridge that went away, whatever else is missing when it comes back.
        return cut._replace(withdrawn_for="restart") if lock.withdrawn_for == "restart" and cut.withdrawn_for else cut
    if lock.allowed and lock.opened_for:
        return _cut(bank, lock, at, lock.opened_for, seen, outcomes)
    if against:
        return _cut(bank, lock, at, against, seen, outcomes) if lock.allowed else lock
    if lock.allowed or not rested(lock, at):
        return lock
    if used_up(lock, at):
        returns = returns_today(lock, at)
        outcomes.append(Event(bank.id, "permit-exhausted", at, {"returns": len(returns)}))
        return lock._replace(exhausted=True, returns=returns)
    after = lock.withdrawn_for
    lock = close(bank, lock, at, "all needed readings are fresh and good", outcomes)
    outcomes.append(Event(bank.id, "permit-given", at, {"after": after}))
    return lock._replace(allowed=True, withdrawn_for="")


def _cut(bank: Bank, lock: Interlock, at: float, reason: str, seen: Seen, outcomes: Outcomes) -> Interlock:
    # The order goes in front of the events that explain it: it must not wait for them.
    outcomes.insert(0, Order(bank.id, "cut", at, reason))
    outcomes.append(Event(bank.id, "permit-withdrawn", at, {"reason": reason}))
    waits = lock.started and reason not in NOT_A_FAULT
    return lock._replace(
        allowed=False,
        opened_for="",
        order_at=at,
        repeated_at=at,
        withdrawn_for=reason if waits else "",
        current_before=seen.current or 0.0,
        confirmed_at=0.0,
    )
