"""A second in which nothing is due is not looked at, and a look at it would have changed nothing.

Which moments are due is ours (assumed); what falls due at them has its source where it stands. The same comparison runs
beside every other test with ``-p tests.support.every_second``.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rules.bank.model import AutomaticResume, Meter, Relay
from rules.events import Command, Event, HandReading, Order, Reading, Tick
from rules.hand.gravity import GravityReading
from rules.meters.warming import Step
from rules.phase import PhaseMemory
from rules.safety.state import Latch, Proof
from rules.step import Memory, quiet_until
from tests.support.every_second import watched
from tests.support.fold import CASE, PROBE, Fold, make_bank, ready

DAY = 86400.0
GOOD = {"voltage": 28.0, "current": 20.0, PROBE: 25.0}
NOISE = {"voltage": st.floats(23.0, 33.5), "current": st.floats(-10.0, 40.0), PROBE: st.floats(-5.0, 45.0)}
NOISE |= {CASE: st.floats(-5.0, 45.0), "fan": st.sampled_from([0.0, 1.0]), "relay_state": st.sampled_from([0.0, 1.0])}
MORE = (Meter(CASE, "electrolyte_temperature", placed="case"), Meter("fan", "fan"))
BANKS = (
    make_bank(more=MORE, automatic=AutomaticResume(allowed=True)),
    make_bank(more=MORE, relay=Relay(reports_state=False, auto_off=90.0), strings=2),
    make_bank(more=MORE, relay=None),
)

said = st.fixed_dictionaries({}, optional=NOISE)
heard = st.tuples(st.just("hear"), said, st.sampled_from([0.0, 0.0, 0.0, 50.0, 400.0]))
steady = st.tuples(st.just("wait"), said, st.sampled_from([(20.0, 5.0), (130.0, 20.0), (400.0, 60.0)]))
lasting = st.sampled_from([(5.0, 0.0), (70.0, 0.0), (320.0, 0.0), (700.0, 0.0)])
silent: Any = st.tuples(st.just("wait"), st.just({}), lasting)
acts = st.tuples(
    st.just("act"),
    st.sampled_from(
        ["start", "resume", "reset", "prove", "finish", "abandon", "checklist", "bypass", "boot", "health"]
    ),
    st.just({"name": "keeper", "quantity": "current", "minutes": 2, "storage": "proved", "sure": True}),
)
notes = st.tuples(
    st.just("note"),
    st.sampled_from([("voltage", 26.0), ("amps", 20.0), ("gravity", 1.25), ("charger", 0.0), ("water", 0.1)]),
    st.sampled_from([0.0, 82_000.0, 6.99 * DAY]),
)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.sampled_from(BANKS), st.booleans(), st.lists(st.one_of(heard, steady, silent, acts, notes), max_size=14))
def test_no_second_that_is_left_out_would_have_changed_anything(bank: Any, under_way: bool, story: list[Any]) -> None:
    begun = ready(bank, fan=1.0) if under_way else Fold(bank)
    memory, at = begun.memory, begun.at
    for kind, what, detail in story:
        at += 0.5
        if kind == "hear":
            for meter, value in what.items():
                if meter in bank.by_name:
                    memory, _ = watched(bank, memory, Reading(bank.id, meter, value, at, at - detail))
        elif kind == "act":
            memory, _ = watched(bank, memory, Command(bank.id, what, at, "keeper", detail))
        elif kind == "note":
            where = {"gravity": "N00.1"}.get(what[0], "")
            memory, _ = watched(bank, memory, HandReading(bank.id, what[0], at, at - detail, {where: what[1]}))
        else:
            lasts, every = detail
            for second in range(1, int(lasts) + 1):
                if every and second % every == 0:
                    for meter, value in what.items():
                        if meter in bank.by_name:
                            memory, _ = watched(bank, memory, Reading(bank.id, meter, value, at + second, at + second))
                memory, _ = watched(bank, memory, Tick(float(int(at + second))))
            at = float(int(at + lasts))


def memory_of(**changed: Any) -> Any:
    """A memory that differs in this; its interlock in `lock`, what people noted in `hand`, its traces in `traces`."""

    def of(memory: Memory) -> Memory:
        traces = {name: memory.meters[name]._replace(**more) for name, more in changed.get("traces", {}).items()}
        return memory._replace(
            interlock=memory.interlock._replace(**changed.get("lock", {})),
            hand=memory.hand._replace(**changed.get("hand", {})),
            counters=memory.counters._replace(**changed.get("counters", {})),
            phase=changed.get("phase", memory.phase),
            thermal=memory.thermal._replace(steps=changed.get("steps", ())),
            meters={**memory.meters, **traces},
        )

    return of


AT = ready().at
#: No multiple of the ten seconds after which a bank whose charger may run is looked at anyway [s].
DUE = AT + 33.0
SHOWN = Proof(at=AT - 60.0, passed=True, current_proved=True)
CUT = {"allowed": False, "started": False, "order_at": AT - 3.0, "repeated_at": AT, "current_before": 20.0}
ROUND = PhaseMemory("bulk", AT - 600.0, woken=True, started_at=AT - 600.0)
LONG = ROUND._replace(started_at=AT - 12.0 * DAY)
OPEN = {"relay_state": {"value": 0.0, "at": AT - 90.0}}
AWAY = {"allowed": False, "withdrawn_for": "meter-silent", "order_at": DUE - 300.0, "repeated_at": AT - 100.0}
HELD = {"lock": {**AWAY, "confirmed_at": AT - 90.0, "allowed_at": AT - 900.0}, "traces": OPEN}
HOT = {"over-temperature": Latch(DUE - 1800.0, 44.0, 43.3, "degC", "probe")}
COOLED = {"allowed": False, "latched": HOT, "order_at": DUE - 1800.0, "confirmed_at": DUE - 1800.0}
PROMISED = {"proof": SHOWN._replace(current_proved=False), "flows_since": AT - 500.0}
STILL = {"counters": {"current": 0.0}, "steps": (Step(DUE - 600.0, 25.0, 20.0, 2.3),)}
LESS = {
    "counters": {"current": 13.0},
    "steps": tuple(Step(AT - 300.0 * n, 25.0, 20.0 - 7.0 * (n == 0), 2.3) for n in (1, 0)),
}
FLICKERED = {"value": 27.0, "changed_at": DUE - 600.0, "usual": 50.0, "step": 0.01}
CELLS = [f"N0{block}.{cell}" for block in range(4) for cell in (1, 2, 3)]
STRONG = tuple(GravityReading(DUE - 7.0 * DAY, cell, 1.26) for cell in CELLS)
COLD = {"traces": {PROBE: {"value": -1.0, "at": AT}}}
UNHEARD = {"at": 0.0}


@pytest.mark.parametrize(
    ("changed", "due", "happens"),
    [
        ({}, 61, "flag meter-silent"),
        ({"lock": {"bypasses": {"current": DUE}}}, 33, "end bypassed"),
        ({"lock": {"kept_order_at": DUE - 600.0, "kept_order": "on"}}, 33, "end retained-order"),
        ({"lock": {"proof": SHOWN._replace(at=DUE - 90.0 * DAY)}}, 34, "flag proof-test-due"),
        ({"lock": CUT}, 7, "flag relay-unconfirmed"),
        ({"lock": CUT}, 10, "order cut"),
        (HELD, 33, "order allow"),
        ({"lock": COOLED, "traces": OPEN}, 33, "event automatic-resume"),
        ({"lock": {**PROMISED, "flows_since": DUE - 120.0}}, 33, "order cut"),
        ({"lock": {**PROMISED, "tried_at": DUE - DAY}}, 33, "order cut"),
        ({"lock": {**PROMISED, "returns": (DUE - DAY, AT - 99.0, AT - 98.0, AT - 97.0)}}, 33, "order cut"),
        ({"phase": ROUND._replace(started_at=DUE - 900.0)}, 33, "flag presence-due"),
        ({"phase": ROUND._replace(started_at=DUE - 10.0 * DAY)}, 34, "flag charge-limit"),
        ({"phase": LONG, "lock": {"extended_until": DUE}}, 33, "flag charge-limit"),
        ({**LESS, "traces": {"voltage": FLICKERED}}, 33, "flag meter-suspect"),
        ({**STILL, "traces": {"voltage": {"changed_at": AT - 900.0, "step": 0.01}}}, 33, "flag meter-suspect"),
        ({"traces": {"voltage": UNHEARD}, "hand": {"voltage": 26.0, "voltage_at": DUE - DAY}}, 34, "state"),
        ({"traces": {PROBE: UNHEARD}, "hand": {"temperature": 26.0, "temperature_at": DUE - DAY}}, 34, "state"),
        ({"traces": {PROBE: UNHEARD}, "hand": {"case": 26.0, "case_at": DUE - DAY}}, 34, "state"),
        ({"traces": {"current": {"at": 0.0}}, "counters": {"by_hand": True, "current_at": DUE - DAY}}, 34, "state"),
        ({"hand": {"string_amps": (80.0,), "string_amps_at": DUE - 12 * 3600.0}}, 34, "end string-over-limit"),
        ({**COLD, "hand": {"gravities": STRONG}}, 34, "flag frozen-risk"),
    ],
)  # fmt: skip
def test_what_time_alone_decides_happens_in_its_second(changed: dict[str, Any], due: int, happens: str) -> None:
    # A minute of silence, and a minute to the next look: what is due in between is seen because it is due.
    fold = ready(make_bank(automatic=AutomaticResume(allowed=True)))
    memory = memory_of(**changed)(fold.memory)._replace(due_at=0.0)
    seconds: dict[str, set[int]] = {}
    flags, said, looks = set(memory.flags), memory.shown, 0
    for second in range(1, 71):
        looks += quiet_until(memory) <= AT + second
        memory, outcomes = watched(fold.bank, memory, Tick(AT + second))
        told = [f"order {each.action}" for each in outcomes if isinstance(each, Order)]
        told += [f"event {each.kind}" for each in outcomes if isinstance(each, Event)]
        told += [f"flag {name}" for name in set(memory.flags) - flags]
        told += [f"end {name}" for name in flags - set(memory.flags)]
        told += ["state"] if memory.shown != said and second > 1 else []
        flags, said = set(memory.flags), memory.shown
        for each in told:
            seconds.setdefault(each, set()).add(second)
    assert due in seconds.get(happens, ()), seconds
    assert looks < 40
