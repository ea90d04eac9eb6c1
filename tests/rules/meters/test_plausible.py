"""What is believed: sentinels, ranges, impossible steps, wrong units, samples out of order."""

from __future__ import annotations

import pytest

from rules.bank.model import Meter
from rules.events import Reading
from rules.meters.plausible import GOOD, LATE, MISSING, NEVER, SUSPECT, Trace, judge, remember
from tests.support.fold import PROBE, Fold, ready

T = 1_795_590_000.0
THERMOMETER = Meter(PROBE, "electrolyte_temperature")
VOLTMETER = Meter("voltage", "voltage")


def reading(value: float, after: float = 10.0, meter: Meter = THERMOMETER) -> Reading:
    return Reading("north", meter.name, value, T + after, T + after)


def believed(value: float) -> Trace:
    return Trace(value, T, GOOD, changed_at=T)


@pytest.mark.parametrize(
    ("meter", "before", "value", "quality", "reason"),
    [
        (THERMOMETER, NEVER, -127.0, MISSING, "unplugged"),
        (THERMOMETER, NEVER, 85.0, SUSPECT, "power-on value"),
        (THERMOMETER, NEVER, 120.1, SUSPECT, "unit"),
        (THERMOMETER, NEVER, -60.0, SUSPECT, "out of range"),
        (THERMOMETER, NEVER, 300.0, SUSPECT, "out of range"),
        (THERMOMETER, believed(25.0), 30.0, GOOD, ""),
        (THERMOMETER, believed(25.0), 30.1, SUSPECT, "impossible step"),
        (THERMOMETER, believed(25.0), 77.0, SUSPECT, "unit"),
        (VOLTMETER, NEVER, 26_000.0, SUSPECT, "unit"),
        (VOLTMETER, NEVER, 50_000.0, SUSPECT, "out of range"),
        (VOLTMETER, NEVER, 42.0, GOOD, ""),
        (VOLTMETER, believed(26.0), 0.026, SUSPECT, "unit"),
        (VOLTMETER, believed(26.0), 0.5, GOOD, ""),
        (Meter("hydrogen", "hydrogen"), NEVER, 1.2, SUSPECT, "unit"),
        (Meter("current", "current"), NEVER, 20_000.0, SUSPECT, "unit"),
    ],
)
def test_f05_f06_each_value_is_judged_by_range_past_and_sentinels(
    meter: Meter, before: Trace, value: float, quality: str, reason: str
) -> None:
    assert judge(meter, 12 if meter is VOLTMETER else 1, before, reading(value, meter=meter)) == (quality, reason)


def test_f06_a_real_85_is_believed_at_the_second_sample_and_trips() -> None:
    fold = ready()
    fold.read(PROBE, 85.0)
    assert not fold.lock.latched and fold.memory.meters[PROBE].quality == SUSPECT
    fold.at += 10.0
    fold.read(PROBE, 84.0)
    assert "over-temperature" in fold.lock.latched


def test_f06_an_85_alone_never_trips_and_the_next_good_value_clears_the_suspicion() -> None:
    fold = ready()
    fold.read(PROBE, 85.0)
    fold.wait(10, every=5, voltage=28.0, current=20.0)
    assert "meter-suspect" in fold.flags
    fold.read(PROBE, 25.1)
    fold.wait(60, every=10, voltage=28.0, current=20.0, **{PROBE: 25.1})
    assert not fold.lock.latched and "meter-suspect" not in fold.flags and fold.lock.allowed


def test_a_second_startling_sample_after_the_window_or_far_off_bears_nothing_out() -> None:
    once = remember(believed(25.0), reading(50.0), SUSPECT, "impossible step")
    assert judge(THERMOMETER, 1, once, reading(51.0, 70.0))[0] == GOOD
    assert judge(THERMOMETER, 1, once, reading(51.0, 71.0))[0] == SUSPECT
    assert judge(THERMOMETER, 1, once, reading(53.1, 20.0))[0] == SUSPECT
    assert judge(THERMOMETER, 1, once, reading(51.0, 10.0))[0] == SUSPECT


def test_what_warms_slowly_is_believed_over_a_long_gap() -> None:
    assert judge(THERMOMETER, 1, believed(25.0), reading(45.0, 300.0))[0] == GOOD


def test_f05_fahrenheit_called_celsius_never_trips_and_withdraws_the_permit_in_time() -> None:
    fold = ready()
    while fold.lock.allowed and fold.at < T + 300.0:
        fold.wait(10, every=10, voltage=28.0, current=20.0, **{PROBE: 77.0})
    assert not fold.lock.latched
    assert not fold.lock.allowed and fold.orders[-1].reason == "meter-suspect"
    assert ": unit: cabin/probe says 77" in fold.memory.flags["meter-suspect"].reason


def test_f13_a_sample_older_than_the_newest_is_counted_and_moves_nothing() -> None:
    fold = ready()
    before = fold.memory.meters["voltage"]
    fold.read("voltage", 20.0, measured_at=before.at - 5.0)
    after = fold.memory.meters["voltage"]
    assert (after.value, after.late) == (before.value, before.late + 1)
    assert judge(VOLTMETER, 12, before, Reading("north", "voltage", 20.0, fold.at, before.at - 5.0))[0] == LATE


def test_f13_a_late_current_adds_no_charge() -> None:
    fold = ready()
    charge = fold.memory.counters.charge
    fold.read("current", 500.0, measured_at=fold.at - 60.0)
    assert fold.memory.counters.charge == charge


def test_f10_a_retained_value_is_shown_but_never_fresh_and_never_takes_a_fresh_ones_place() -> None:
    fold = Fold()
    fold.read("voltage", 26.0, retained=True)
    fold.read(PROBE, 60.0, retained=True)
    fold.wait(1)
    assert fold.derived is not None and fold.derived.voltage is None
    assert fold.memory.meters["voltage"].value == 26.0
    assert not fold.lock.latched and not fold.memory.pending
    fold = ready()
    fold.read(PROBE, 20.0, retained=True)
    assert fold.memory.meters[PROBE].value == 25.0 and not fold.memory.meters[PROBE].retained


def test_a_learned_period_is_not_stretched_by_silence() -> None:
    trace = believed(26.0)
    for second in range(10, 200, 10):
        trace = remember(trace, reading(26.0, second, VOLTMETER), GOOD, "")
    assert trace.period == pytest.approx(10.0)
    trace = remember(trace, reading(26.0, 3800.0, VOLTMETER), GOOD, "")
    assert trace.period == pytest.approx(11.0)


def test_the_smallest_step_and_the_last_change_are_remembered() -> None:
    trace = remember(believed(26.0), reading(26.5, 10, VOLTMETER), GOOD, "")
    trace = remember(trace, reading(26.4, 20, VOLTMETER), GOOD, "")
    trace = remember(trace, reading(26.4, 30, VOLTMETER), GOOD, "")
    assert trace.step == pytest.approx(0.1) and trace.changed_at == T + 20
