"""Ampere-hours, energy, water and hours against sums made by hand."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.meters.counters import Counters, Sample, charging_threshold, integrate, restarted

T = 1_795_590_000.0
currents = st.floats(-60.0, 60.0)


def run(*samples: tuple[float, float], gap: float = 600.0, strings: int = 1, **more: object) -> Counters:
    """Samples of (minute, amps) into a 200 Ah bank at 25 V."""
    counters = Counters(voltage=25.0)
    for minute, amps in samples:
        counters = integrate(counters, Sample(T + 60.0 * minute, amps, gap, strings, **more), 200.0)  # type: ignore[arg-type]
    return counters


def test_a_ramp_from_nothing_to_ten_amps_in_six_minutes_is_half_an_ampere_hour() -> None:
    counters = run((0, 0.0), (6, 10.0))
    assert counters.charge == pytest.approx(0.5)
    assert counters.energy == pytest.approx(0.0125)


def test_discharge_is_kept_apart_from_charge() -> None:
    counters = run((0, 10.0), (6, 10.0), (6.001, -20.0), (9.001, -20.0))
    assert counters.charge == pytest.approx(1.0, abs=0.001)
    assert counters.discharge == pytest.approx(1.0, abs=0.001)


def test_a_gap_adds_nothing_and_is_told_as_unknown_time() -> None:
    counters = run((0, 10.0), (11, 10.0), (12, 10.0))
    assert counters.charge == pytest.approx(10.0 / 60.0)
    assert counters.unknown_seconds == 660.0
    assert counters.charging_seconds == 60.0


def test_a_trickle_below_the_threshold_is_charge_but_no_charging_time() -> None:
    assert charging_threshold(200.0) == 0.5
    counters = run((0, 0.4), (10, 0.4))
    assert counters.charging_seconds == 0.0
    assert counters.charge == pytest.approx(0.4 / 6.0)


def test_strings_take_what_was_measured_or_equal_shares() -> None:
    assert run((0, 50.0), (6, 50.0), strings=2).string_charge == pytest.approx((2.5, 2.5))
    assert run((0, 50.0), (6, 50.0), strings=2, shares=(0.8, 0.2)).string_charge == pytest.approx((4.0, 1.0))


def test_a_string_gasses_with_its_own_part_of_the_current() -> None:
    assert run((0, 20.0), (6, 20.0), strings=2, gassing_share=0.5).gassing == pytest.approx(0.5)


def test_half_an_ampere_of_zero_error_is_twelve_ampere_hours_a_day() -> None:
    # Common practice, no source: why the zero of a meter is calibrated at rest.
    assert run(*((10.0 * n, 0.5) for n in range(145))).charge == pytest.approx(12.0)


def test_a_new_round_begins_at_nothing_but_knows_the_present_current_the_zero_and_the_lost_water() -> None:
    before = run((0, 20.0), (6, 20.0), gassing_share=0.5)._replace(zero=0.3)
    after = restarted(before)
    assert (after.charge, after.energy, after.string_charge, after.charging_seconds) == (0.0, 0.0, (), 0.0)
    assert (after.current, after.zero, after.gassing) == (20.0, 0.3, before.gassing)


@given(st.lists(currents, min_size=2, max_size=30))
def test_charge_less_discharge_is_the_sum_of_trapezoids(amps: list[float]) -> None:
    counters = run(*((float(minute), value) for minute, value in enumerate(amps)))
    expected = sum((a + b) / 2.0 / 60.0 for a, b in pairwise(amps))
    assert counters.charge - counters.discharge == pytest.approx(expected, abs=1e-9)
    assert sum(counters.string_charge) == pytest.approx(counters.charge)


@given(currents, currents, st.floats(0.01, 9.99))
def test_a_sample_in_between_on_the_line_changes_nothing(first: float, last: float, minute: float) -> None:
    between = first + (last - first) * minute / 10.0
    if first * last >= 0.0:
        assert run((0, first), (minute, between), (10, last)).charge == pytest.approx(
            run((0, first), (10, last)).charge
        )
