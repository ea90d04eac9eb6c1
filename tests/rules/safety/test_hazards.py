"""What latches: one sample or two, over how long, and from which meter."""

from __future__ import annotations

import pytest

from rules.bank.model import Limits, Meter
from rules.safety.hazards import over_limit
from tests.support.fold import CASE, PROBE, Fold, make_bank, ready

GOOD = {"voltage": 28.0, "current": 20.0, PROBE: 25.0}
CELL = Meter(PROBE, "electrolyte_temperature", placed="cell")
ON_CASE = Meter(CASE, "electrolyte_temperature", placed="case")


# --------------------------------------------------------------------------- the confirm window


def test_one_hot_sample_waits_and_a_second_within_the_window_trips() -> None:
    fold = ready(temperature=43.0)
    assert fold.read(PROBE, 43.4) == []
    assert not fold.lock.latched
    fold.at += 30.0
    assert [order.action for order in fold.read(PROBE, 43.4)] == ["cut"]


def test_a_cooler_second_sample_clears() -> None:
    fold = ready(temperature=43.0)
    fold.read(PROBE, 43.4)
    fold.at += 5.0
    fold.read(PROBE, 43.2)
    fold.wait(59, every=5, voltage=28.0, current=20.0)
    assert not fold.lock.latched and not fold.memory.pending


def test_no_second_sample_within_sixty_seconds_counts_as_confirmed() -> None:
    fold = ready(temperature=43.0)
    fold.wait(1)
    fold.read(PROBE, 43.4)
    began = fold.at
    fold.wait(59, every=5, voltage=28.0, current=20.0)
    assert not fold.lock.latched
    fold.wait(1)
    assert fold.lock.latched["over-temperature"].at == began + 60.0
    assert fold.orders[-1].action == "cut" and fold.orders[-1].at == began + 60.0


def test_the_same_moment_twice_is_one_sample() -> None:
    fold = ready(temperature=43.0)
    fold.read(PROBE, 43.4)
    fold.read(PROBE, 43.4)
    assert not fold.lock.latched


@pytest.mark.parametrize(("value", "trips"), [(51.6, False), (51.7, True)])
def test_from_51_7_degrees_a_single_sample_trips(value: float, trips: bool) -> None:
    fold = Fold()  # never seen before, so nothing makes it an impossible step
    fold.read(PROBE, value)
    assert bool(fold.lock.latched) is trips


@pytest.mark.parametrize(
    ("meter", "value", "trips"),
    [(CELL, 43.3, False), (CELL, 43.334, True), (ON_CASE, 39.9, False), (ON_CASE, 40.0, True)],
)
def test_a_probe_on_the_case_trips_earlier_than_one_in_a_cell(meter: Meter, value: float, trips: bool) -> None:
    assert (over_limit(make_bank(), meter, 1, value) is not None) is trips


def test_the_hotter_of_two_probes_counts() -> None:
    fold = ready(make_bank(more=(ON_CASE,)))
    for _ in range(2):
        fold.read(PROBE, 25.0)
        fold.read(CASE, 40.5)
        fold.at += 5.0
    assert "on the case" in fold.lock.latched["over-temperature"].reason
    assert "sensors-disagree" in fold.flags


def test_two_hot_samples_of_two_probes_are_not_two_of_one() -> None:
    fold = ready(make_bank(more=(Meter(CASE, "electrolyte_temperature", placed="cell"),)), temperature=43.0)
    fold.read(CASE, 30.0)
    fold.at += 1.0
    fold.read(PROBE, 43.4)
    fold.read(CASE, 30.0)
    assert not fold.lock.latched
    fold.at += 1.0
    fold.read(PROBE, 43.4)
    assert fold.lock.latched


def test_f38_a_hot_reading_during_the_start_up_grace_trips_at_once() -> None:
    fold = Fold()
    fold.wait(1)
    fold.read(PROBE, 44.0)
    fold.at += 2.0
    fold.read(PROBE, 44.0)
    assert fold.lock.latched and fold.at - fold.memory.began_at < 120.0


def test_a_startling_first_sample_counts_only_when_the_second_bears_it_out() -> None:
    fold = ready(temperature=43.0)
    fold.read(PROBE, 85.0)
    fold.at += 5.0
    fold.read(PROBE, 43.4)
    assert not fold.lock.latched, "the second sample did not bear the first one out"
    fold = ready()
    fold.read(PROBE, 50.0)
    fold.at += 5.0
    fold.read(PROBE, 51.0)
    assert fold.lock.latched


# ------------------------------------------------------------------------------- other hazards


@pytest.mark.parametrize(("per_cell", "trips"), [(2.75, False), (2.751, True)])
def test_over_voltage_is_absolute(per_cell: float, trips: bool) -> None:
    fold = ready()
    for _ in range(2):
        fold.at += 1.0
        fold.read("voltage", 12 * per_cell)
    assert ("over-voltage" in fold.lock.latched) is trips


def test_over_voltage_counts_per_block_too_and_lower_where_the_owner_says() -> None:
    block = Meter("block_voltage:N00", "block_voltage", index="N00")
    fold = ready(make_bank(more=(block,), limits=Limits(cell_voltage=2.6)))
    for _ in range(2):
        fold.at += 1.0
        fold.read("block_voltage:N00", 3 * 2.61)
    assert fold.lock.latched["over-voltage"].limit == 2.6


def test_over_current_needs_thirty_seconds() -> None:
    # 0.13 x C20 of 200 Ah is 26 A, and a quarter over it 32.5 A (common practice, no source).
    fold = ready()
    fold.wait(29, every=1, **{**GOOD, "current": 33.0})
    assert "over-current" not in fold.lock.latched
    fold.wait(3, every=1, **{**GOOD, "current": 33.0})
    assert fold.lock.latched["over-current"].limit == pytest.approx(32.5)
    fold = ready()
    fold.wait(120, every=1, **{**GOOD, "current": 32.4})
    assert not fold.lock.latched


def test_over_current_is_judged_per_string_where_strings_are_measured_else_by_an_estimate() -> None:
    fold = ready(make_bank(strings=2))
    fold.wait(40, every=5, **{**GOOD, "current": 66.0})
    assert "estimated" in fold.lock.latched["over-current"].reason
    meters = tuple(Meter(f"string_current:{n}", "string_current", index=str(n), period=10.0) for n in (1, 2))
    fold = ready(make_bank(strings=2, more=meters))
    shares = {"string_current:1": 10.0, "string_current:2": 34.0}
    fold.wait(40, every=5, **{**GOOD, "current": 44.0}, **shares)
    assert fold.lock.latched["over-current"].reason == "string 2 takes 34.0 A"


@pytest.mark.parametrize(("share", "trips"), [(0.0099, False), (0.01, True)])
def test_hydrogen_trips_at_one_per_cent_by_volume(share: float, trips: bool) -> None:
    fold = ready(make_bank(more=(Meter("hydrogen", "hydrogen", period=10.0),)), hydrogen=0.0)
    for _ in range(2):
        fold.at += 1.0
        fold.read("hydrogen", share)
    assert ("gas" in fold.lock.latched) is trips


def test_a_fan_that_reports_off_while_charging_trips_after_half_a_minute() -> None:
    fan = Meter("fan", "fan", period=10.0)
    fold = ready(make_bank(more=(fan,)), fan=1.0)
    fold.wait(20, every=5, **GOOD, fan=1.0)
    fold.wait(29, every=1, **GOOD, fan=0.0)
    assert "gas" not in fold.lock.latched
    fold.wait(3, every=1, **GOOD, fan=0.0)
    assert "gas" in fold.lock.latched


def test_a_cell_that_stays_low_under_charge_is_suspected_of_a_short() -> None:
    cells = tuple(Meter(f"cell_voltage:N00.{n}", "cell_voltage", index=f"N00.{n}", period=10.0) for n in (1, 2, 3))
    fold = ready(make_bank(more=cells))
    values = {"cell_voltage:N00.1": 2.45, "cell_voltage:N00.2": 2.1, "cell_voltage:N00.3": 2.45}
    fold.wait(70, every=5, **GOOD, **values)
    assert fold.lock.latched["cell-short-suspected"].reason.startswith("cell N00.2 stays at 2.10 V")


def test_a_block_and_a_half_that_lost_a_cell_show_it() -> None:
    blocks = tuple(Meter(f"block_voltage:N0{n}", "block_voltage", index=f"N0{n}", period=10.0) for n in range(4))
    fold = ready(make_bank(more=blocks))
    values = {f"block_voltage:N0{n}": 7.4 for n in range(4)} | {"block_voltage:N02": 5.8}
    fold.wait(70, every=5, **GOOD, **values)
    assert "block N02" in fold.lock.latched["cell-short-suspected"].reason
    fold = ready(make_bank(more=(Meter("midpoint_voltage", "midpoint_voltage", period=10.0),)))
    fold.wait(70, every=5, **GOOD, midpoint_voltage=12.5)
    assert "halves" in fold.lock.latched["cell-short-suspected"].reason


def test_electrolyte_that_warms_eight_kelvin_an_hour_over_the_air_for_half_an_hour_runs_away() -> None:
    fold = ready(make_bank(more=(Meter("ambient_temperature", "ambient_temperature", period=60.0),)))
    temperature = 20.0
    while "thermal-runaway" not in fold.lock.latched and temperature < 35.0:
        temperature += 9.0 / 60.0
        fold.wait(60, every=30, voltage=28.0, current=20.0, ambient_temperature=15.0, **{PROBE: temperature})
    assert 20.0 + 9.0 * 0.5 <= temperature <= 20.0 + 9.0 * 1.1
    fold = ready(make_bank(more=(Meter("ambient_temperature", "ambient_temperature", period=60.0),)))
    for minute in range(120):
        warm = 20.0 + 6.0 * minute / 60.0
        fold.wait(60, every=30, voltage=28.0, current=20.0, ambient_temperature=15.0, **{PROBE: warm})
    assert not fold.lock.latched and "temperature-rising-fast" in fold.flags
