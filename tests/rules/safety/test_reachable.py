"""Every state that interlock, permit, proof, storage and relay can come to together, walked through one by one.

The machine is the real one: `decide`, `begin_proof` and the acts of a person and of the bridge, from a bank that has
just booted. Ages are kept as far as a rule asks for them (five minutes open, a day, the waits of a proof) and
capped beyond, so that the states are finitely many; where two states differ by an age between two limits only, one of
them is walked on from. Three laws hold in every one of them:

1. tripped means that no `allow` is the last order;
2. no permit while storing is not proved, the proof is absent, the checklist open, or a person has opened the relay;
3. every order that closes the relay is counted, and no day has more that no person asked for than the limit.

To be quick, two returns a day stand for the four: the walk with four has 46,456 states and the same outcome.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import pytest

from rules.bank.model import Relay
from rules.events import Command, Order
from rules.safety import DEGRADED, PROVED, UNPROVED, closing, proof
from rules.safety.closing import DAY, LEAST_OPEN
from rules.safety.interlock import Finding, Interlock, Proof, Seen, decide, unready
from rules.step.memory import Memory, initial
from rules.step.on_command import ACTS
from tests.support.fold import START, make_bank

BANK = make_bank(relay=Relay(reports_state=True, auto_off=90.0))
EMPTY = initial()
HOT = {"over-temperature": Finding(44.0, 43.3, "degC", "hot")}
#: Returns a day in this walk [1].
FEWER = 2
#: The contact, and what is wrong now: nothing or a hazard.
State = tuple[Interlock, bool, str]
#: Beyond these an age makes no difference any more [s].
OLD, OLDEST = LEAST_OPEN + 1.0, DAY + 1.0


def seen(lock: Interlock, closed: bool, at: float) -> Seen:
    """The relay has just reported; no current flows that could show anything."""
    return Seen(None, 0.0, 0.0, closed, at, 25.0)


def look(state: State, at: float) -> tuple[State, list[Order]]:
    """One second's judgement, and the contact obeys."""
    lock, closed, wrong = state
    obstacles = {} if lock.started else {"not-started": Finding()}
    obstacles |= unready(BANK, lock)
    hazards = HOT if wrong == "hot" else {}
    lock, outcomes = decide(BANK, lock, at, hazards, obstacles, seen(lock, closed, at - 0.5))
    orders = [each for each in outcomes if isinstance(each, Order)]
    for order in reversed(orders):
        closed = order.action == "allow"
    return (lock, closed, wrong), orders


def act(name: str, /, **argument: object) -> Callable[[State], tuple[State, list[Order]]]:
    """What a person or the bridge does, and the look that follows it."""

    def done(state: State) -> tuple[State, list[Order]]:
        lock, closed, wrong = state
        memory: Memory = EMPTY._replace(interlock=lock, began_at=START - 9000.0)
        if name == "prove" and (lock.latched or lock.proving or wrong or lock.storage != PROVED):
            return state, []
        if name == "prove":
            from rules.safety.interlock import begin_proof

            lock, outcomes = begin_proof(BANK, lock, START, seen(lock, closed, START - 0.5))
            orders = [each for each in outcomes if isinstance(each, Order)]
            for order in orders:
                closed = order.action == "allow"
            return (lock, closed, wrong), orders
        memory, _ = ACTS[name](BANK, memory, Command("north", name, START, "x", argument))
        after, orders = look((memory.interlock, closed, wrong), START + 0.001)
        return after, orders

    return done


def pass_time(seconds: float) -> Callable[[State], tuple[State, list[Order]]]:
    def done(state: State) -> tuple[State, list[Order]]:
        return look(state, START + seconds)

    return done


def contact(closed: bool) -> Callable[[State], tuple[State, list[Order]]]:
    """Somebody, the will or a queue moves it."""
    return lambda state: look((state[0], closed, state[2]), START + 1.0)


def becomes(wrong: str) -> Callable[[State], tuple[State, list[Order]]]:
    return lambda state: look((state[0], state[1], wrong), START + 1.0)


STEPS: dict[str, Callable[[State], tuple[State, list[Order]]]] = {
    "a second": pass_time(1.0),
    "sixteen seconds": pass_time(16.0),
    "five minutes": pass_time(LEAST_OPEN),
    "a day": pass_time(DAY),
    "opened by somebody": contact(False),
    "closed by somebody": contact(True),
    "all is well": becomes(""),
    "hot": becomes("hot"),
    "start": act("start"),
    "resume": act("resume"),
    "reset": act("reset"),
    "abandon": act("abandon"),
    "checklist": act("checklist", name="the keeper"),
    "prove": act("prove"),
    "boot": act("boot", storage=UNPROVED, link="relay-link-lost"),
    "stores": act("health", storage=PROVED),
    "disk full": act("health", storage=DEGRADED, why="full"),
    "link lost": act("relay-link", link="relay-link-lost", unanswered=False),
    "link lost with a cut": act("relay-link", link="relay-link-lost", unanswered=True),
    "link back": act("relay-link", link=""),
    "auto-off passed": act("relay-link", link="", opened="its auto-off passed"),
}


def capped(lock: Interlock, now: float) -> Interlock:
    """The same state with its moments told as of `START`, and none older than makes a difference."""

    def aged(at: float, most: float = OLD) -> float:
        return START - min(most, float(round(now - at))) if at else 0.0

    latched = {name: latch._replace(at=START) for name, latch in lock.latched.items()}
    shown = Proof(START - OLDEST if lock.proof.at else 0.0, lock.proof.passed, current_proved=lock.proof.current_proved)
    return lock._replace(
        latched=latched,
        proof=shown,
        order_at=aged(lock.order_at),
        repeated_at=aged(lock.repeated_at),
        allowed_at=aged(lock.allowed_at),
        confirmed_at=aged(lock.confirmed_at),
        closed_at=aged(lock.closed_at),
        proving_since=aged(lock.proving_since) if lock.proving else 0.0,
        opened_by_hand=aged(lock.opened_by_hand),
        closed_report_at=aged(lock.closed_report_at),
        returns=tuple([START - 1.0 for at in lock.returns if now - at < DAY]),
        closings=0,
        withdrawn_for="a fault" if lock.withdrawn_for else "",
        conditions={},
        link_why="",
        resumes=0,
    )


def key(state: State) -> tuple[object, ...]:
    """What tells two states apart: everything but ages between two limits."""
    lock, closed, wrong = state

    def young(at: float, limit: float) -> object:
        return None if not at else START - at >= limit

    return (
        frozenset(lock.latched), lock.started, lock.needs_resume, lock.exhausted, lock.allowed, lock.proving,
        lock.proof.passed, lock.storage, bool(lock.checklist_by), bool(lock.opened_by_hand), bool(lock.opened_for),
        lock.link, lock.seen_closed, bool(lock.withdrawn_for), len(lock.returns), bool(lock.confirmed_at),
        young(lock.order_at, LEAST_OPEN), bool(lock.lost), closed, wrong,
    )  # fmt: skip


def holds(before: State, orders: list[Order], after: State) -> None:
    lock = after[0]
    closings = [order for order in orders if order.action == "allow"]
    assert lock.closings - before[0].closings == len(closings), "every closing is counted"
    assert len(lock.returns) <= FEWER
    last = next((order.action for order in orders), "")
    if lock.latched:
        assert not lock.allowed and last != "allow", "tripped, and allowed to close"
    if lock.allowed:
        assert lock.storage == PROVED, "a permit that nobody keeps"
        assert lock.proof.passed and lock.checklist_by and lock.started, "a permit without proof or checklist"
        assert not (lock.opened_by_hand or lock.needs_resume or lock.exhausted or lock.lost or lock.link)
    if not lock.started:
        assert not lock.checklist_by or before[0].checklist_by or not before[0].started, "a checklist of another round"


def test_the_three_laws_hold_in_every_state_that_can_be_reached(monkeypatch: pytest.MonkeyPatch) -> None:
    for room in (closing, proof):
        monkeypatch.setattr(room, "RETURNS_PER_DAY", FEWER)
    first: State = (Interlock(storage=UNPROVED, link="relay-link-lost"), True, "")
    known = {key(first)}
    waiting = deque([first])
    steps = 0
    while waiting:
        state = waiting.popleft()
        for name, step in STEPS.items():
            steps += 1
            after, orders = step(state)
            try:
                holds(state, orders, after)
            except AssertionError as error:
                raise AssertionError(f"{error}: {name} from {key(state)} to {after[0]}") from None
            now = START + {"sixteen seconds": 16.0, "five minutes": LEAST_OPEN, "a day": DAY}.get(name, 1.0)
            after = (capped(after[0], now), after[1], after[2])
            told = key(after)
            if told not in known:
                known.add(told)
                waiting.append(after)
    print(f"\n{len(known)} states, {steps} steps")
    allowed = [told for told in known if told[4]]
    assert len(known) > 1000 and allowed, "the walk went nowhere"
