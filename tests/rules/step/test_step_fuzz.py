"""Whatever meters say and people do, in any order, the fold answers: it never raises, and never forgets itself.

An exception in the fold would end the bridge (and its guard would cut the charger): safe, but days of watching lost.
"""

from __future__ import annotations

import json
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.journal.snapshot import freeze, thaw
from rules.bank.model import Bank, Block, ChargerSetting, HoldRule, Meter, Relay
from rules.bank.quantity import QUANTITIES
from rules.events import Command, HandReading, Reading, Tick
from rules.step import step
from rules.step.memory import Memory, initial
from rules.step.on_command import ACTS

START = 1_795_590_000.0
METERS = (
    Meter("voltage", "voltage"),
    Meter("current", "current", resolution=0.1),
    Meter("power", "power"),
    Meter("electrolyte_temperature", "electrolyte_temperature", placed="cell"),
    Meter("electrolyte_temperature#2", "electrolyte_temperature", placed="case"),
    Meter("ambient_temperature", "ambient_temperature"),
    Meter("midpoint_voltage", "midpoint_voltage"),
    Meter("string_current:1", "string_current", index="1"),
    Meter("string_current:2", "string_current", index="2"),
    Meter("block_voltage:A1", "block_voltage", index="A1"),
    Meter("block_voltage:A2", "block_voltage", index="A2"),
    Meter("cell_voltage:A1.1", "cell_voltage", index="A1.1"),
    Meter("ac_voltage", "ac_voltage"),
    Meter("ac_current", "ac_current"),
    Meter("hydrogen", "hydrogen"),
    Meter("fan", "fan"),
    Meter("relay_state", "relay_state"),
)
BANK = Bank(
    "north",
    (
        (Block("A1", 6, 200.0), Block("A2", 6, 200.0)),
        (Block("B1", 6, 200.0), Block("B2", 6, 200.0)),
    ),
    chargers=(ChargerSetting(28.8, 50.0), ChargerSetting(32.0, 50.0)),
    hold=HoldRule(0.2, 0.5),
    meters=METERS,
    relay=Relay(reports_state=True, auto_off=90.0),
)


def value_of(meter: Meter) -> st.SearchStrategy[float]:
    """Anything such a meter could send, a little beyond what is plausible."""
    quantity = QUANTITIES[meter.quantity]
    cells = BANK.spans[meter.name] if quantity.per_cell else 1
    low, high = quantity.low * cells, quantity.high * cells
    margin = 0.1 * (high - low)
    return st.floats(low - margin, high + margin, allow_nan=False)


def reading_of(meter: Meter) -> st.SearchStrategy[tuple[str, str, float]]:
    """One step of a story."""
    return st.tuples(st.just("read"), st.just(meter.name), value_of(meter))


ARGUMENTS: tuple[dict[str, Any], ...] = (
    {},
    {"name": "keeper"},
    {"quantity": "voltage", "minutes": 5},
    {"act": "split"},
    {"act": "rejoin"},
    {"act": "isolate", "number": 2},
    {"act": "add", "number": 1},
    {"minutes": "many"},
)
KINDS = ("gravity", "level", "voltage", "amps", "ac_amps", "string_amps", "water", "seen", "note", "charger")
readings = st.sampled_from(METERS).flatmap(reading_of)
acts = st.tuples(
    st.just("act"),
    st.sampled_from([*sorted(ACTS), "arrange", "unknown"]),
    st.sampled_from(ARGUMENTS),
)
notes = st.tuples(
    st.just("note"),
    st.sampled_from(KINDS),
    st.dictionaries(
        st.sampled_from(["", "A1", "A1.1", "B2.3", "1", "2"]),
        st.one_of(st.floats(-50.0, 1500.0), st.sampled_from(["low", "high", "none", "sulfate 3", "below-plates"])),
        max_size=3,
    ),
)
waits = st.tuples(st.just("wait"), st.sampled_from([1.0, 1.0, 5.0, 61.0, 700.0, 4000.0]), st.none())


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.one_of(readings, readings, readings, waits, acts, notes), min_size=5, max_size=60))
def test_the_fold_answers_whatever_happens_and_its_memory_survives_a_snapshot(story: list[tuple]) -> None:  # type: ignore[type-arg]
    memory, at = initial(), START
    for kind, what, detail in story:
        if kind == "read":
            memory, _ = step(BANK, memory, Reading("north", what, detail, at, at))
        elif kind == "act":
            memory, _ = step(BANK, memory, Command("north", what, at, "fuzz", detail))
        elif kind == "note":
            memory, _ = step(BANK, memory, HandReading("north", what, at, at, detail))
        else:
            for second in range(int(what) if what <= 61.0 else 61):
                memory, _ = step(BANK, memory, Tick(at + second))
            at += what
            memory, _ = step(BANK, memory, Tick(at))
    assert thaw(Memory, json.loads(json.dumps(freeze(memory)))) == memory
