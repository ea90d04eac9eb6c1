"""The proof test: an exercised cut through the real path, with its measured time."""

from __future__ import annotations

from rules.bank import Bank
from rules.events import Event, Order
from rules.safety.read_back import fallen, provable, shows_open
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
REPEAT = "current not provable now, repeat once the bank takes charge"


def begin_proof(bank: Bank, lock: Interlock, at: float, seen: Seen) -> tuple[Interlock, Outcomes]:
    """Exercise the real path: close if it is open, open it, look for the evidence, put it back.

    From this moment [s since the epoch].
    """
    outcomes: Outcomes = [Event(bank.id, "proof-begun", at, {"from": "closed" if lock.allowed else "open"})]
    if lock.allowed:
        return _open(bank, lock, at, seen, outcomes), outcomes
    outcomes.insert(0, Order(bank.id, "allow", at, "proof test"))
    return (
        lock._replace(
            proving="closing", proving_since=at, order_at=at, repeated_at=at, allowed_at=at, confirmed_at=0.0
        ),
        outcomes,
    )


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
    """One look at a running proof test, at this moment [s since the epoch]."""
    if lock.latched or any(name in obstacles for name in UNSAFE):
        return _failed(bank, lock, at, seen, at - lock.proving_since, "stopped: not safe to go on", outcomes)
    if lock.proving == "closing":
        return _closing(bank, lock, at, seen, outcomes)
    return _opening(bank, lock, at, seen, outcomes)


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
    if opened and (fell or not by_current):
        note = "the relay opened and the current fell" if fell else REPEAT
        return _passed(bank, lock, at, opened - lock.order_at, bool(fell), note, outcomes)
    if waited < PROOF_WAIT or (opened and fell is None and seen.current is not None and waited < SLOWEST_METER):
        return lock
    if not _reports(bank) and not by_current:
        return _passed(bank, lock, at, 0.0, False, f"the relay reports no state and {REPEAT}", outcomes)
    note = "the current did not fall" if opened or not _reports(bank) else "the relay was not seen to open"
    return _failed(bank, lock, at, seen, waited, note, outcomes)


def _reports(bank: Bank) -> bool:
    return bank.relay is not None and bank.relay.reports_state


def _passed(
    bank: Bank, lock: Interlock, at: float, seconds: float, current_proved: bool, note: str, outcomes: Outcomes
) -> Interlock:
    proof = Proof(at, True, round(seconds, 3), current_proved, note)
    outcomes.append(_told(bank, proof))
    # With nothing left against it the permit may return at once: the test, not a fault, opened the relay.
    return lock._replace(proof=proof, proving="", confirmed_at=at, withdrawn_for="")


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
    }
    return Event(bank.id, "proof", proof.at, detail)
