"""Random lives of a bank: readings, silence, acts, restarts, clock steps. What must hold after every single event."""

from __future__ import annotations

import json

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from bridge.journal.snapshot import freeze, shifted, thaw
from rules.bank.model import AutomaticResume, Meter
from rules.events import Command
from rules.meters.freshness import silence_limit
from rules.meters.plausible import NEVER
from rules.safety.interlock import DAY, LEAST_OPEN, RETURNS_PER_DAY, Proof
from rules.safety.state import TOLD_CLOSED
from rules.step.memory import Memory
from tests.support.fold import CASE, PROBE, Fold, make_bank

NEEDED = ("voltage", "current", "electrolyte_temperature")
SECOND = Meter(CASE, "electrolyte_temperature", placed="case", period=20.0)


class Interlocked(RuleBasedStateMachine):
    """One bank with two probes, a relay that obeys or does not, and a person who tries everything."""

    @initialize(automatic=st.booleans(), trusted=st.booleans())
    def begin(self, automatic: bool, trusted: bool) -> None:
        bank = make_bank(automatic=AutomaticResume(automatic, rest=1800.0), more=(SECOND,))
        self.fold = Fold(bank)
        self.closed = False
        self.seen = 0
        self.given: list[float] = []
        self.fold.fold(Command("north", "boot", self.fold.at, argument={"clock_trusted": trusted}))
        proof = Proof(self.fold.at, True, 1.0, True, "")
        self.fold.memory = self.fold.memory._replace(interlock=self.fold.lock._replace(proof=proof))
        self.well(5)

    # ------------------------------------------------------------------------------ what happens

    @rule(seconds=st.integers(1, 120))
    def well(self, seconds: int) -> None:
        values = {"voltage": 28.0, "current": 20.0 if self.closed else 0.0, PROBE: 25.0, CASE: 25.0}
        self.fold.wait(seconds, every=5, **values)

    @rule(
        seconds=st.sampled_from([1, 30, 61, 75, 200, 400]),
        still=st.sets(st.sampled_from(["voltage", "current", PROBE])),
    )
    def silence(self, seconds: int, still: set[str]) -> None:
        values = {"voltage": 28.0, "current": 20.0 if self.closed else 0.0, PROBE: 25.0}
        self.fold.wait(seconds, every=5, **{name: values[name] for name in still})

    @rule(
        meter=st.sampled_from([PROBE, CASE]), value=st.sampled_from([-127.0, 20.0, 39.9, 41.0, 43.4, 52.0, 85.0, 110.0])
    )
    def temperature(self, meter: str, value: float) -> None:
        self.fold.at += 1.0
        self.fold.read(meter, value)

    @rule(value=st.sampled_from([0.026, 20.0, 28.0, 33.2, 40.0, 26_000.0]), late=st.booleans(), kept=st.booleans())
    def voltage(self, value: float, late: bool, kept: bool) -> None:
        self.fold.at += 1.0
        self.fold.read("voltage", value, measured_at=self.fold.at - (500.0 if late else 0.0), retained=kept)

    @rule(value=st.floats(-50.0, 60.0))
    def current(self, value: float) -> None:
        self.fold.at += 1.0
        self.fold.read("current", value)

    @rule(closed=st.booleans(), retained=st.booleans())
    def relay_says(self, closed: bool, retained: bool) -> None:
        self.fold.at += 0.5
        self.fold.read("relay_state", float(closed), retained=retained)

    @rule()
    def relay_obeys(self) -> None:
        self.fold.at += 0.2
        self.fold.read("relay_state", float(self.closed))

    @rule(what=st.sampled_from(["start", "resume", "finish", "abandon", "prove", "test", "zero"]))
    def act(self, what: str) -> None:
        self.fold.act("checklist", name="the keeper")
        self.fold.act(what, sure=True)

    @rule()
    def tries_its_auto_off(self) -> None:
        self.fold.act("checklist", name="the keeper")
        self.fold.act("prove", auto_off=True)

    @rule()
    def reset(self) -> None:
        self.fold.wait(1)  # what a start or a fresh reading has brought about comes first: it is not the reset's
        before = len(self.fold.orders)
        allowed = self.fold.lock.allowed
        if self.fold.lock.proving:  # the end of a proof test may give the permit back at this very moment
            return
        self.fold.act("reset")
        assert all(order.action == "cut" for order in self.fold.orders[before:]), "a reset is not a restart"
        assert allowed or not self.fold.lock.allowed

    @rule(quantity=st.sampled_from([*NEEDED, "fan"]), minutes=st.sampled_from([1.0, 5.0, 61.0]))
    def bypass(self, quantity: str, minutes: float) -> None:
        self.fold.act("bypass", quantity=quantity, minutes=minutes)
        assert all(until <= self.fold.at + 3600.0 for until in self.fold.lock.bypasses.values())

    @rule(down=st.sampled_from([0.0, 5.0, 600.0, 90_000.0]), trusted=st.booleans())
    def restart(self, down: float, trusted: bool) -> None:
        kept = thaw(Memory, json.loads(json.dumps(freeze(self.fold.memory))))
        assert kept == self.fold.memory, "a restart continues exactly"
        latched = set(kept.interlock.latched)
        self.fold.at += down
        orders = self.fold.fold(Command("north", "boot", self.fold.at, argument={"clock_trusted": trusted}))
        assert [order.action for order in orders] == ["cut"], "whatever was, a start cuts first"
        assert latched <= set(self.fold.lock.latched), "no trip is forgotten"
        self.closed = False

    @rule(step=st.sampled_from([-2400.0, 7200.0, 3 * DAY]))
    def clock_is_set(self, step: float) -> None:
        self.fold.memory = shifted(self.fold.memory, step)
        self.fold.at += step
        self.given = [at + step for at in self.given]

    @precondition(lambda self: not self.fold.lock.latched)
    @rule()
    def journal_is_lost(self) -> None:
        self.fold.fold(Command("north", "journal-lost", self.fold.at, argument={"why": "unreadable"}))
        assert not self.fold.lock.allowed

    # ---------------------------------------------------------------------------- what must hold

    @invariant()
    def orders_and_memory_agree(self) -> None:
        new = self.fold.orders[self.seen :]
        self.seen = len(self.fold.orders)
        for order in new:
            if order.action == "allow" and order.reason != "proof test":
                self.given.append(order.at)
            self.closed = order.action != "cut"
        lock = self.fold.lock
        assert self.closed == (lock.allowed or lock.proving in TOLD_CLOSED)

    @invariant()
    def never_allowed_while_latched_lost_owed_exhausted_or_not_started(self) -> None:
        lock = self.fold.lock
        if lock.allowed or lock.proving in TOLD_CLOSED:
            assert not lock.latched
        if lock.allowed:
            assert lock.started and not lock.lost and not lock.needs_resume and not lock.exhausted

    @invariant()
    def never_allowed_on_silence_unless_bypassed(self) -> None:
        fold = self.fold
        if not fold.lock.allowed:
            return
        for quantity in NEEDED:
            if fold.lock.bypasses.get(quantity, 0.0) > fold.at - 1.0:
                continue
            ages = [
                fold.at - trace.at - silence_limit(meter, trace)
                for meter in fold.bank.by_quantity[quantity]
                for trace in [fold.memory.meters.get(meter.name, NEVER)]
                if trace.at and not trace.retained
            ]
            assert min(ages) <= 1.0, f"{quantity}: not withdrawn in the second in which it was due"

    @invariant()
    def a_hazard_that_counts_is_latched_in_the_same_step(self) -> None:
        counts = {key.split("|")[0] for key, entry in self.fold.memory.pending.items() if entry.confirmed}
        assert counts <= set(self.fold.lock.latched)

    @invariant()
    def the_permit_comes_back_by_itself_seldom_and_late(self) -> None:
        lock = self.fold.lock
        assert len([at for at in lock.returns if self.fold.at - at < DAY]) <= RETURNS_PER_DAY
        for event in self.fold.events[-3:]:
            if event.kind == "permit-given" and event.detail["after"]:
                cut = [order.at for order in self.fold.orders if order.action == "cut" and order.at < event.at]
                assert not cut or event.at - cut[-1] >= LEAST_OPEN or event.at < self.fold.at - 1.0


Interlocked.TestCase.settings = settings(max_examples=60, stateful_step_count=40, deadline=None, database=None)
TestInterlocked = Interlocked.TestCase
