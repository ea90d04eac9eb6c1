"""The hydrometer log and the capacity test: what counts, what is left out, what a person is told."""

from __future__ import annotations

import pytest

from rules.hand.gravity import GravityReading, add, lowest, reading, spread
from rules.hand.gravity_trend import plateau, still_rising, trend_per_hour
from rules.laws.gassing import gassing_share
from rules.laws.hydrometer import REFERENCE
from rules.verdict.capacity_test import CapacityTest, advance, result

HOUR = 3600.0


def charging(*gravities: float, every: float = HOUR, cell: str = "N1.1") -> tuple[GravityReading, ...]:
    return tuple(GravityReading(every * n, cell, value, "", True, False) for n, value in enumerate(gravities))


@pytest.mark.parametrize(
    ("temperature", "under_charge", "rested_hours", "trusted"),
    [
        (REFERENCE, False, None, True),  # not charged in this round
        (REFERENCE, False, 6.0, True),
        (REFERENCE, False, 5.9, False),
        (REFERENCE, True, None, False),
        (None, False, 24.0, False),  # its correction is unknown
    ],
)
def test_a_reading_counts_for_a_verdict_only_when_rested_and_corrected(
    temperature: float | None, under_charge: bool, rested_hours: float | None, trusted: bool
) -> None:
    made = reading(0.0, "N1.1", 1.25, temperature=temperature, under_charge=under_charge, rested_hours=rested_hours)
    assert (made.trusted, made.gravity_corrected) == (trusted, 1.25)


@pytest.mark.parametrize(
    ("mark", "apart", "weakest"), [("low", 0.150, 1.100), ("high", 0.050, 1.250), ("none", None, 1.250)]
)
def test_a_mark_is_weaker_or_stronger_than_any_number_and_is_no_point_of_a_trend(
    mark: str, apart: float | None, weakest: float
) -> None:
    # Scale of a battery hydrometer, 1.100 to 1.300: common practice, no source.
    marked = reading(60.0, "N1.2", mark, temperature=None, under_charge=False, rested_hours=None)
    log = add(charging(1.250), [marked])
    assert log[-1].mark == mark
    assert (trend_per_hour(log, HOUR), still_rising(log, HOUR)) == (None, None)
    assert spread(log) == (None if apart is None else pytest.approx(apart))
    assert lowest(log) == pytest.approx(weakest)


def test_cold_weak_acid_is_not_corrected_below_water() -> None:
    made = reading(0.0, "N1.1", 1.010, temperature=5.0, under_charge=False, rested_hours=None)
    assert made.gravity_corrected == 1.0


def test_last_weeks_reading_of_a_cell_does_not_widen_the_spread() -> None:
    log = (
        GravityReading(0.0, "N1.1", 1.150, "", False, True),
        GravityReading(170 * HOUR, "N1.2", 1.255, "", False, True),
        GravityReading(170 * HOUR, "N1.3", 1.260, "", False, True),
    )
    assert spread(log) == pytest.approx(0.005)


def test_falling_gravity_is_not_rising() -> None:
    assert still_rising(charging(1.270, 1.266, 1.262, 1.258), 3 * HOUR) is False


def test_readings_older_than_six_hours_do_not_tell_of_a_rise_now() -> None:
    assert still_rising(charging(1.250, 1.256, 1.262, 1.268), 9.5 * HOUR) is None


def test_one_rising_cell_among_level_ones_is_still_rising() -> None:
    level = charging(1.263, 1.263, 1.263, 1.263)
    behind = charging(1.250, 1.254, 1.257, 1.260, cell="N1.2")
    assert still_rising(add(level, behind), 3 * HOUR) is True
    assert not plateau(add(level, behind), ["N1.1", "N1.2"])


def test_three_readings_in_three_hours_are_no_plateau() -> None:
    assert not plateau(charging(1.263, 1.263, 1.263, every=1.5 * HOUR), ["N1.1"])


def test_the_trend_is_the_middle_cells_and_a_dead_one_does_not_hide_it() -> None:
    log = add(charging(1.250, 1.252, 1.254), charging(1.250, 1.253, 1.256, cell="N1.2"))
    log = add(log, charging(1.100, 1.100, 1.100, cell="N1.3"))
    assert trend_per_hour(log, 2 * HOUR) == pytest.approx(0.002)


def test_the_log_forgets_the_oldest_of_a_cell_only() -> None:
    log = add(charging(1.200, cell="N1.2"), charging(*[1.25] * 30))
    assert sum(entry.cell == "N1.1" for entry in log) == 24
    assert sum(entry.cell == "N1.2" for entry in log) == 1


def test_a_weak_cell_at_rest_does_not_end_a_test() -> None:
    test = CapacityTest(0.0, 25.0)
    for minute in range(4):
        test = advance(test, 60.0 * minute, 0.0, 2.0, lowest_cell=1.5)
    assert test.ended_at is None


def test_a_first_low_sample_is_not_yet_a_reason() -> None:
    test = advance(CapacityTest(0.0, 25.0), 0.0, -10.0, 1.7)
    assert (test.ended_at, test.reason, test.low_samples) == (None, "", 1)


def test_a_late_sample_does_not_run_a_test_backward() -> None:
    test = advance(CapacityTest(0.0, 25.0), 60.0, -10.0, 1.9)
    assert advance(test, 30.0, -10.0, 1.9) == test


def test_a_short_test_in_the_cold_is_corrected_more() -> None:
    # IEC 60896-11: 0.010 per kelvin for one hour and less, 0.006 for tests over three hours; from memory.
    short = CapacityTest(0.0, 15.0, delivered=100.0, hours=1.0)
    long = CapacityTest(0.0, 15.0, delivered=100.0, hours=10.0)
    assert result(short, 200.0).corrected == pytest.approx(100.0 / 0.90)
    assert result(long, 200.0).corrected == pytest.approx(100.0 / 0.94)


def test_above_60_degrees_all_of_the_current_counts_as_gas() -> None:
    assert gassing_share(2.30, 65.0, 200.0, 50.0) == 1.0


@pytest.mark.parametrize("rested", [0, 1, 2, 3])
def test_a_reading_off_charge_among_the_four_makes_no_plateau(rested: int) -> None:
    hourly = tuple(
        GravityReading(3600.0 * hour, "N1.1", 1.263, "", under_charge=hour != rested, trusted=False)
        for hour in range(4)
    )
    assert not plateau(hourly, ["N1.1"])
    charged = tuple(entry._replace(under_charge=True) for entry in hourly)
    assert plateau(charged, ["N1.1"])
    unread = (*charged[:rested], charged[rested]._replace(gravity_corrected=None), *charged[rested + 1 :])
    assert not plateau(unread, ["N1.1"])
