"""The proof test: an exercised cut through the real path, with its measured time and what shows it.

Only evidence proves: the relay's own report, the current that fell, or the word of a person who stood beside it, by
name. What was proved without current is a promise, kept at the first ampere: the test is then tried by itself. Where
it is asked for, the relay's own auto-off is tried first (`rules.safety.own_off`), and the cut by order follows it.
"""

from __future__ import annotations

from rules.bank import Bank
from rules.events import Event, Order
from rules.safety.closing import AUTO_OFF_MISSING, NOT_A_FAULT, RETURNS_PER_DAY, close, returns_today
from rules.safety.own_off import NOTHING_TO_SEE, Ended, look, own_off_words, stuck_words, window
from rules.safety.read_back import SLOWEST_METER, fallen, goes_backward, provable, shows_open
from rules.safety.state import (
    NOT_REPEATED,
    OVER_NOW,
    PROVED,
    TOLD_CLOSED,
    Finding,
    Interlock,
    Outcomes,
    OwnOff,
    Proof,
    Seen,
)

#: The relay has so long to report closed, and to show open [s].
PROOF_WAIT = 15.0
#: A charger has so long to show its current once the relay has closed [s]; then the current is not provable now.
CURRENT_WAIT = 5.0
#: A proof test is overdue after this time [s].
PROOF_GOOD_FOR = 90 * 86400.0
#: With one of these against it, no relay is closed for a test.
UNSAFE = (
    "meter-silent", "meter-suspect", "frozen-risk", "water-reserve", "plates-bare", "polarity-reversed", "case-damaged",
    "connection-bad",
)  # fmt: skip
REPEAT = "too little current flowed to see it fall, repeat once the bank takes charge"
WRONG_SIGN = (
    "current: sign: it reads below zero while the charger is on, and goes with it: turn sign of its [[bank.meter]], or "
    "its two wires"
)
#: Behind a relay that is closed nothing came: the cut of a charger that is off shows nothing of this one.
CHARGER_OFF = "not proved: the charger is off; switch it on at the wall and prove again"
NOT_CURRENT = "that the current falls with the relay"
NEVER_CLOSED = "the relay never reported closed"
NOTHING_SHOWED = (
    "nothing showed that the relay opened: it reports no state, and too little current flowed to see it fall"
)
#: A person who stood beside the relay has so long to say what was heard and seen [s].
WITNESS_WAIT = 180.0
#: A broker that says that nobody listens may still have been asked before the relay came [s].
LINK_WAIT = 1.0
#: Nobody waits for a test that was tried by itself: a meter that shows the mean of half a minute has its time [s].
TRIED_WAIT = 60.0
#: A current that is to prove the relay by itself has flowed so long; and it is tried so seldom [s].
FLOWS_FOR, TRY_EVERY = 120.0, 86400.0
#: The reason under which the relay stays open, and comes back, after a test that nobody asked for.
BY_ITSELF = "proof-test"


def begin_proof(
    bank: Bank, lock: Interlock, at: float, seen: Seen, own: bool = False, beside: bool = False
) -> tuple[Interlock, Outcomes]:
    """Exercise the real path: close if it is open, open it, look for the evidence, put it back.

    From this moment [s since the epoch]; with `own` the relay has first to open by its own auto-off, and with `beside`
    other banks behind it are tried at the same time.
    """
    asked = {"auto_off": True} if own else {}
    outcomes: Outcomes = [Event(bank.id, "proof-begun", at, {"from": "closed" if lock.allowed else "open", **asked})]
    # A person asked for it: this closing is theirs, and so is what comes after it.
    lock = lock._replace(proving_by_itself=False, opened_for="", withdrawn_for="", sign_doubted=0.0)
    if own:
        # The order of now is the one that its time runs from, also where it is closed already and reports nothing new.
        stands = lock.allowed and seen.relay_closed is True and _reports(bank)
        lock = close(bank, lock, at, "proof test of its own auto-off", outcomes, once=True)._replace(allowed=False)
        return lock._replace(
            proving="auto-off" if stands else "closing-once",
            proving_since=at,
            proving_beside=beside,
            current_before=(seen.current or 0.0) if stands else 0.0,
        ), outcomes
    if lock.allowed:
        return _open(bank, lock, at, seen, outcomes), outcomes
    return close(bank, lock, at, "proof test", outcomes)._replace(proving="closing", proving_since=at), outcomes


def try_by_itself(bank: Bank, lock: Interlock, at: float, seen: Seen, safe: bool, outcomes: Outcomes) -> Interlock:
    """Keep the promise of a proof without current once enough flows, at this moment [s since the epoch].

    Only while nothing else is the matter (`safe`), while a day still allows the relay to come back, and once a day.
    """
    promised = lock.proof.passed and not lock.proof.current_proved and lock.allowed and not lock.proving
    if not promised or not provable(seen.current, seen.current_step):
        return lock._replace(flows_since=0.0) if lock.flows_since else lock
    if not lock.flows_since:
        return lock._replace(flows_since=at)
    tried = lock.tried_at > 0.0 and at - lock.tried_at < TRY_EVERY
    full_day = len(returns_today(lock, at)) >= RETURNS_PER_DAY
    if tried or full_day or not safe or at - lock.flows_since < FLOWS_FOR:
        return lock
    outcomes.append(Event(bank.id, "proof-begun", at, {"from": "closed", "by_itself": True}))
    lock = lock._replace(proving_by_itself=True, tried_at=at, opened_for="", flows_since=0.0)
    return _open(bank, lock, at, seen, outcomes)


def _open(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    outcomes.insert(0, Order(bank.id, "cut", at, "proof test"))
    return lock._replace(
        allowed=False,
        order_at=at,
        repeated_at=at,
        proving="opening",
        proving_since=at,
        current_before=seen.current or 0.0,
        confirmed_at=0.0,
    )


def prove(
    bank: Bank, lock: Interlock, at: float, seen: Seen, obstacles: dict[str, Finding], outcomes: Outcomes
) -> Interlock:
    """Look once at a running proof test, at this moment [s since the epoch]."""
    waited = at - lock.proving_since
    if lock.latched or any(name in obstacles for name in UNSAFE):
        return _failed(bank, lock, at, seen, waited, "stopped: not safe to go on", outcomes)
    if lock.proving in TOLD_CLOSED and OVER_NOW in obstacles:
        why = obstacles[OVER_NOW].reason
        return _failed(bank, lock, at, seen, waited, f"stopped: over its limit: {why}", outcomes)
    if lock.opened_for:
        return _failed(bank, lock, at, seen, waited, f"interrupted: {lock.opened_for}", outcomes)
    if lock.proving in NOT_REPEATED and (against := _against_longer(lock, obstacles)):
        return _failed(bank, lock, at, seen, waited, f"stopped: {against}", outcomes)
    # A relay without an auto-off can be proved all the same: who asked for the test is there to pull the plug.
    if lock.link not in ("", AUTO_OFF_MISSING) and waited >= LINK_WAIT:
        return _failed(bank, lock, at, seen, waited, lock.link_why or lock.link, outcomes)
    if lock.proving in _LOOKS:
        return _LOOKS[lock.proving](bank, lock, at, seen, outcomes)
    if lock.proving == "witness":
        return _failed(bank, lock, at, seen, waited, NOTHING_SHOWED, outcomes) if waited >= WITNESS_WAIT else lock
    return _opening(bank, lock, at, seen, outcomes)


def stop_proof(bank: Bank, lock: Interlock, at: float, seen: Seen, why: str) -> tuple[Interlock, Outcomes]:
    """Open the relay and end a proof test that may not go on, where one runs, at this moment [s since the epoch]."""
    if not lock.proving:
        return lock, []
    outcomes: Outcomes = []
    return _failed(bank, lock, at, seen, at - lock.proving_since, f"stopped: {why}", outcomes), outcomes


def _against_longer(lock: Interlock, obstacles: dict[str, Finding]) -> str:
    """Say why the charger may not run on for as long as an auto-off takes; empty where it may."""
    if lock.storage != PROVED:
        return "nothing can be kept any more"
    return next((found.reason or name for name, found in obstacles.items() if name not in NOT_A_FAULT), "")


def _closing_once(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    """Wait for the relay to be seen closed, before its auto-off is waited for."""
    closed = seen.relay_closed is True and seen.relay_at > lock.proving_since
    fresh = seen.current_at > lock.proving_since
    if closed if _reports(bank) else fresh and provable(seen.current, seen.current_step):
        before = (seen.current or 0.0) if fresh else 0.0
        return lock._replace(proving="auto-off", proving_since=at, current_before=before)
    waited = at - lock.proving_since
    # To close or to open it for this bank would end what another one behind it sees just now.
    if waited < PROOF_WAIT + (_longest(bank) if lock.proving_beside and not _reports(bank) else 0.0):
        return lock
    if _reports(bank):
        return _failed(bank, lock, at, seen, waited, NEVER_CLOSED, outcomes)
    if lock.proof.own.why:
        # It was not seen to open by itself before, and cannot be seen now: that stands.
        return _failed(bank, lock, at, seen, waited, f"its own auto-off cannot be tried: {NOTHING_TO_SEE}", outcomes)
    outcomes.append(_tried(bank, at, Ended(0.0, NOTHING_TO_SEE)))
    return close(bank, lock, at, "proof test", outcomes)._replace(proving="closing", proving_since=at)


def _own(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    """Wait for the relay to open by its own auto-off; then go on with the cut by order, or fail."""
    if bank.relay is None or not bank.relay.auto_off:
        return _failed(bank, lock, at, seen, at - lock.proving_since, "it has no auto_off any more", outcomes)
    if lock.held_by:
        # It was seen closed, so nobody held it then: it was opened by order since, and no timer of its own did it.
        why = f"{lock.held_by}, behind the same relay, had it opened: nothing was measured of its own auto-off"
        return _after(bank, lock, at, seen, Ended(at - lock.order_at, why), outcomes)
    lock, ended = look(bank.relay, lock, at, seen)
    return lock if ended is None else _after(bank, lock, at, seen, ended, outcomes)


def seen_beside(bank: Bank, lock: Interlock, at: float, seen: Seen, ended: Ended) -> tuple[Interlock, Outcomes]:
    """Take how the trial ended by the meters of another bank behind the same relay [s since the epoch]."""
    outcomes: Outcomes = []
    if lock.proving not in NOT_REPEATED or bank.relay is None or not bank.relay.auto_off:
        return lock, outcomes
    return _after(bank, lock, at, seen, ended, outcomes), outcomes


def _longest(bank: Bank) -> float:
    """Return after which time the trial of a relay's own auto-off is over in any case [s]."""
    return 0.0 if bank.relay is None else window(bank.relay)[1]


def _after(bank: Bank, lock: Interlock, at: float, seen: Seen, ended: Ended, outcomes: Outcomes) -> Interlock:
    """Keep how the trial of the auto-off ended, and go on with the cut by order, or fail."""
    outcomes.append(_tried(bank, at, ended))
    written, before = bank.relay.auto_off if bank.relay is not None else None, lock.proof.own
    if not ended.why:
        own = OwnOff(at, round(ended.seconds, 3), written or 0.0)
        lock = close(bank, lock, at, "proof test", outcomes)
        return lock._replace(proving="closing", proving_since=at, proof=lock.proof._replace(own=own))
    # What was measured once says nothing of a relay that does otherwise now; that it hung stands until it opens.
    own = OwnOff(at, 0.0, written or 0.0, ended.why) if ended.stuck else before if before.why else OwnOff()
    lock = lock._replace(proof=lock.proof._replace(own=own))
    return _failed(bank, lock, at, seen, ended.seconds, ended.why, outcomes)


def _tried(bank: Bank, at: float, ended: Ended) -> Event:
    written = bank.relay.auto_off if bank.relay is not None else None
    detail = {"opened": not ended.why, "seconds": round(ended.seconds, 3), "written": written, "note": ended.why}
    detail |= {"stuck": True} if ended.stuck else {}
    return Event(bank.id, "auto-off", at, detail)


def _closing(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    waited = at - lock.proving_since
    closed = seen.relay_closed is True and seen.relay_at > lock.proving_since
    flowing = provable(seen.current, seen.current_step) and seen.current_at > lock.proving_since
    off = _reports(bank) and seen.off_at > lock.proving_since and not flowing
    # A charger that is slow to come on has its time before it counts as off.
    enough = CURRENT_WAIT if closed and not off else PROOF_WAIT
    if off and closed and waited >= enough:
        return _failed(bank, lock, at, seen, waited, CHARGER_OFF, outcomes)
    if flowing or (waited >= enough and (closed or not _reports(bank))):
        return _open(bank, lock, at, seen, outcomes)
    if waited >= PROOF_WAIT:
        return _failed(bank, lock, at, seen, waited, NEVER_CLOSED, outcomes)
    return lock


def _opening(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    waited = at - lock.proving_since
    by_current = provable(lock.current_before, seen.current_step)
    fell = fallen(lock, seen)
    opened = shows_open(lock, seen)
    if _reports(bank) and not (seen.relay_closed is False and seen.relay_at > lock.order_at):
        # Where the relay reports, a fallen current alone is not the proof that was asked for.
        opened = 0.0
    backward = goes_backward(lock, seen) if opened or not _reports(bank) else False
    if backward:
        return _failed(bank, lock, at, seen, waited, WRONG_SIGN, outcomes)._replace(sign_doubted=at)
    if backward is None and waited < PROOF_WAIT:
        return lock
    if opened and (fell or not by_current):
        note = "the relay opened and the current fell" if fell else REPEAT
        kind = "state" if _reports(bank) else "current"
        return _passed(bank, lock, at, opened - lock.order_at, bool(fell), note, kind, "", outcomes)
    patience = TRIED_WAIT if lock.proving_by_itself else PROOF_WAIT
    if waited < patience or (opened and fell is None and seen.current is not None and waited < SLOWEST_METER):
        return lock
    if not _reports(bank) and not by_current:
        return lock._replace(proving="witness", proving_since=at)
    note = "the current did not fall" if opened or not _reports(bank) else "the relay was not seen to open"
    return _failed(bank, lock, at, seen, waited, note, outcomes)


#: What is looked at in the parts of a test in which the relay is told to be closed.
_LOOKS = {"closing-once": _closing_once, "auto-off": _own, "closing": _closing}


def _reports(bank: Bank) -> bool:
    return bank.relay is not None and bank.relay.reports_state


def witnessed(bank: Bank, lock: Interlock, at: float, by: str) -> tuple[Interlock, Outcomes]:
    """Take a person's word, by name, that the relay was heard and the charger went out [s since the epoch]."""
    outcomes: Outcomes = []
    note = f"{by} heard the relay and saw the charger go out; {REPEAT}"
    return _passed(bank, lock, at, 0.0, False, note, "person", by, outcomes), outcomes


def _passed(
    bank: Bank,
    lock: Interlock,
    at: float,
    seconds: float,
    current_proved: bool,
    note: str,
    kind: str,
    by: str,
    outcomes: Outcomes,
) -> Interlock:
    not_shown = "" if current_proved else NOT_CURRENT
    proof = Proof(at, True, round(seconds, 3), current_proved, note, kind, by, not_shown, _kept(bank, lock))
    outcomes.append(_told(bank, proof))
    # A person who asked for the test gets the permit back at once; one that nobody asked for counts like a fault.
    after = BY_ITSELF if lock.proving_by_itself else ""
    return lock._replace(proof=proof, proving="", confirmed_at=at, withdrawn_for=after)


def _failed(
    bank: Bank, lock: Interlock, at: float, seen: Seen, seconds: float, note: str, outcomes: Outcomes
) -> Interlock:
    proof = Proof(at, False, round(seconds, 3), False, note, own=_kept(bank, lock))
    outcomes.append(_told(bank, proof))
    # A failing test never leaves the relay closed, and a person must look before it closes again.
    outcomes.insert(0, Order(bank.id, "cut", at, "the proof test failed"))
    before = lock.current_before if lock.proving == "opening" else seen.current or 0.0
    return lock._replace(
        proof=proof,
        proving="",
        allowed=False,
        order_at=at,
        repeated_at=at,
        confirmed_at=0.0,
        needs_resume=True,
        withdrawn_for="",
        current_before=before,
    )


def unproved(bank: Bank, lock: Interlock) -> str:
    """Say why the relay counts as not proved, by what the cabin file says of it now."""
    proof = lock.proof
    if not proof.own.why or proof.note != proof.own.why:
        return proof.note or "the relay was never proved"
    return stuck_words(bank.relay, proof.own) or (
        "the relay was not proved since the cabin file says that it has no auto-off of its own"
    )


def as_far_as(proof: Proof) -> str:
    """Say how far a relay is proved whose current was not seen to fall; empty where it was, or nothing passed.

    Examples
    --------
    >>> as_far_as(Proof(passed=True, kind="person", by="Ann"))[:31], as_far_as(Proof())
    ('proved as far as the word of An', '')
    """
    if not proof.passed or proof.current_proved:
        return ""
    word = f"the word of {proof.by}" if proof.kind == "person" else "the relay's own word"
    return f"proved as far as {word}; the fall of the amps is tried once the bank takes charge"


def _kept(bank: Bank, lock: Interlock) -> OwnOff:
    """Return what is known of the relay's own auto-off; nothing where the cabin file says that it has none."""
    return lock.proof.own if bank.relay is not None and bank.relay.auto_off else OwnOff()


def _told(bank: Bank, proof: Proof) -> Event:
    written = bank.relay.auto_off if bank.relay is not None else None
    detail = {
        "passed": proof.passed,
        "seconds": proof.seconds,
        "current_proved": proof.current_proved,
        "note": proof.note,
        "kind": proof.kind,
        "by": proof.by,
        "not_shown": proof.not_shown,
        "own": own_off_words(written, proof.own),
    }
    return Event(bank.id, "proof", proof.at, detail)
