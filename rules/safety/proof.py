"""The proof test: an exercised cut through the real path, with its measured time and what shows it.

Only evidence proves: the relay's own report, the current that fell, or the word of a person who stood beside it, by
name. What was proved without current is a promise, kept at the first ampere: the test is then tried by itself.
"""

from __future__ import annotations

from rules.bank import Bank
from rules.events import Event, Order
from rules.safety.closing import AUTO_OFF_MISSING, RETURNS_PER_DAY, close, returns_today
from rules.safety.read_back import fallen, goes_backward, provable, shows_open
from rules.safety.state import Finding, Interlock, Outcomes, Proof, Seen

#: The relay has so long to report closed, and to show open [s].
PROOF_WAIT = 15.0
#: A charger has so long to show its current once the relay has closed [s]; then the current is not provable now.
CURRENT_WAIT = 5.0
#: A current meter may be so slow that its fall shows only after this time [s].
SLOWEST_METER = 900.0
#: A proof test is overdue after this time [s].
PROOF_GOOD_FOR = 90 * 86400.0
#: With one of these against it, no relay is closed for a test.
UNSAFE = (
    "meter-silent", "meter-suspect", "frozen-risk", "water-reserve", "plates-bare", "polarity-reversed", "case-damaged",
)  # fmt: skip
REPEAT = "too little current flowed to see it fall, repeat once the bank takes charge"
WRONG_SIGN = (
    "current: sign: it reads below zero while the charger is on, and goes with it: turn sign of its [[bank.meter]], or "
    "its two wires"
)
NOT_CURRENT = "that the current falls with the relay"
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


def begin_proof(bank: Bank, lock: Interlock, at: float, seen: Seen) -> tuple[Interlock, Outcomes]:
    """Exercise the real path: close if it is open, open it, look for the evidence, put it back.

    From this moment [s since the epoch].
    """
    outcomes: Outcomes = [Event(bank.id, "proof-begun", at, {"from": "closed" if lock.allowed else "open"})]
    # A person asked for it: this closing is theirs, and so is what comes after it.
    lock = lock._replace(proving_by_itself=False, opened_for="", withdrawn_for="", sign_doubted=0.0)
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
    if lock.opened_for:
        return _failed(bank, lock, at, seen, waited, f"interrupted: {lock.opened_for}", outcomes)
    # A relay without an auto-off can be proved all the same: who asked for the test is there to pull the plug.
    if lock.link not in ("", AUTO_OFF_MISSING) and waited >= LINK_WAIT:
        return _failed(bank, lock, at, seen, waited, lock.link_why or lock.link, outcomes)
    if lock.proving == "closing":
        return _closing(bank, lock, at, seen, outcomes)
    if lock.proving == "witness":
        return _failed(bank, lock, at, seen, waited, NOTHING_SHOWED, outcomes) if waited >= WITNESS_WAIT else lock
    return _opening(bank, lock, at, seen, outcomes)


def stop_proof(bank: Bank, lock: Interlock, at: float, seen: Seen, why: str) -> tuple[Interlock, Outcomes]:
    """Open the relay and end a proof test that may not go on, where one runs, at this moment [s since the epoch]."""
    if not lock.proving:
        return lock, []
    outcomes: Outcomes = []
    return _failed(bank, lock, at, seen, at - lock.proving_since, f"stopped: {why}", outcomes), outcomes


def _closing(bank: Bank, lock: Interlock, at: float, seen: Seen, outcomes: Outcomes) -> Interlock:
    waited = at - lock.proving_since
    closed = seen.relay_closed is True and seen.relay_at > lock.proving_since
    flowing = provable(seen.current, seen.current_step) and seen.current_at > lock.proving_since
    enough = CURRENT_WAIT if closed else PROOF_WAIT
    if flowing or (waited >= enough and (closed or not _reports(bank))):
        return _open(bank, lock, at, seen, outcomes)
    if waited >= PROOF_WAIT:
        return _failed(bank, lock, at, seen, waited, "the relay never reported closed", outcomes)
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
    proof = Proof(at, True, round(seconds, 3), current_proved, note, kind, by, "" if current_proved else NOT_CURRENT)
    outcomes.append(_told(bank, proof))
    # A person who asked for the test gets the permit back at once; one that nobody asked for counts like a fault.
    after = BY_ITSELF if lock.proving_by_itself else ""
    return lock._replace(proof=proof, proving="", confirmed_at=at, withdrawn_for=after)


def _failed(
    bank: Bank, lock: Interlock, at: float, seen: Seen, seconds: float, note: str, outcomes: Outcomes
) -> Interlock:
    proof = Proof(at, False, round(seconds, 3), False, note)
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


def _told(bank: Bank, proof: Proof) -> Event:
    detail = {
        "passed": proof.passed,
        "seconds": proof.seconds,
        "current_proved": proof.current_proved,
        "note": proof.note,
        "kind": proof.kind,
        "by": proof.by,
        "not_shown": proof.not_shown,
    }
    return Event(bank.id, "proof", proof.at, detail)
