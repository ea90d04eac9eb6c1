"""Ampere-hours, energy, water and hours against sums made by hand."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.bank.model import Bank, Block
from rules.meters.counters import Counters, Sample, charging_threshold, integrate, restarted, up_to, with_voltage

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


def test_of_a_bank_that_nobody_has_read_nothing_is_counted() -> None:
    blank = Counters()
    assert all(not each for each in blank)
    assert not any(Sample(T, 10.0, 60.0, 1)[4:]), "and of a sample nothing is said that was not measured"


@pytest.mark.parametrize(
    ("capacity", "least"), [(40.0, 0.2), (80.0, 0.2), (100.0, 0.25), (200.0, 0.5), (220.0, 0.55), (800.0, 2.0)]
)
def test_from_a_four_hundredth_of_the_rating_on_it_is_charging_and_never_from_less_than_a_fifth_of_an_ampere(
    capacity: float, least: float
) -> None:
    # 200 Ah: half an ampere (common practice, no source).
    assert charging_threshold(capacity) == pytest.approx(least)
    for amps, seconds in ((charging_threshold(capacity), 360.0), (0.99 * least, 0.0)):
        counters = integrate(Counters(), Sample(T, amps, 600.0, 1), capacity)
        counters = integrate(counters, Sample(T + 360.0, amps, 600.0, 1), capacity)
        assert counters.charging_seconds == seconds and counters.charge == pytest.approx(0.1 * amps)


@pytest.mark.parametrize(("share", "amps", "seconds"), [(0.5, 20.0, 0.0), (0.51, 20.0, 360.0), (1.0, 0.4, 0.0)])
def test_gas_stirs_the_acid_while_most_of_a_charging_current_makes_it(
    share: float, amps: float, seconds: float
) -> None:
    counters = run((0, amps), (6, amps), gassing_share=share)
    assert counters.gassing_seconds == seconds
    assert counters.gassing == pytest.approx(0.1 * amps * share)


def test_a_gap_is_bridged_up_to_its_limit_and_the_first_sample_has_none_behind_it() -> None:
    assert run((0, 10.0)).unknown_seconds == 0.0 and run((0, 10.0)).current == 10.0
    assert run((0, 10.0), (10, 10.0)).unknown_seconds == 0.0
    assert run((0, 10.0), (10, 10.0)).charge == pytest.approx(10.0 / 6.0)
    beyond = run((0, 10.0), (10.1, 7.0))
    assert (beyond.charge, beyond.current, beyond.current_at) == (0.0, 7.0, T + 606.0)
    assert run((0, 10.0), (11, 10.0), (30, 10.0)).unknown_seconds == pytest.approx(30.0 * 60.0), "gaps add up"
    early = Counters(current=5.0, current_at=0.5)
    assert integrate(early, Sample(36.5, 5.0, 60.0, 1), 200.0).charge == pytest.approx(0.05)


def test_a_sample_that_is_no_newer_adds_nothing_and_turns_no_clock_back() -> None:
    before = run((0, 10.0), (6, 10.0))
    for minute in (6.0, 5.995, 5.0):
        after = integrate(before, Sample(T + 60.0 * minute, 4.0, 600.0, 1, estimated=True, by_hand=True), 200.0)
        assert (after.charge, after.current, after.current_at) == (before.charge, 4.0, before.current_at)
        assert after.unknown_seconds == 0.0 and after.estimated and after.by_hand


def test_where_a_current_comes_from_is_kept_with_it() -> None:
    for estimated, by_hand in ((True, False), (False, True), (False, False)):
        for minutes in (6, 60):
            counters = run((0, 10.0), (minutes, 12.0), estimated=estimated, by_hand=by_hand)
            assert (counters.estimated, counters.by_hand) == (estimated, by_hand) and counters.current == 12.0


def test_an_offset_charges_nothing_and_what_is_drawn_is_counted_all_the_same() -> None:
    idle = run((0, 0.4), (6, 0.4), idle=True)
    assert (idle.charge, idle.discharge, idle.string_charge, idle.current) == (0.0, 0.0, (), 0.4)
    drawn = run((0, -0.4), (6, -0.4), idle=True)
    assert drawn.charge == 0.0 and drawn.discharge == pytest.approx(0.04)
    assert run((0, 0.0), (6, 0.0)).string_charge == (), "nothing is neither"


def test_blocks_that_are_joined_to_other_strings_begin_there_at_nothing() -> None:
    counters = run((0, 10.0), (6, 10.0))
    both = integrate(counters, Sample(T + 720.0, 10.0, 600.0, 2), 200.0)
    assert counters.string_charge == pytest.approx((1.0,)) and both.string_charge == pytest.approx((0.5, 0.5))
    shared = integrate(both, Sample(T + 1080.0, 10.0, 600.0, 2, (0.9, 0.1)), 200.0)
    assert shared.string_charge == pytest.approx((1.4, 0.6)) and shared.charge == pytest.approx(3.0)


def test_energy_goes_in_at_the_newest_voltage() -> None:
    counters = with_voltage(run((0, 10.0), (6, 10.0)), 30.0)
    assert counters.voltage == 30.0 and counters.charge == pytest.approx(1.0)
    # 1 Ah at 25 V, then 1 Ah at 30 V.
    counters = integrate(counters, Sample(T + 720.0, 10.0, 600.0, 1), 200.0)
    assert counters.energy == pytest.approx(0.055)


BY_HAND = Bank("north", tuple(tuple(Block(f"{s}{n}", 3, 200.0) for n in range(4)) for s in "AB"))


@pytest.mark.parametrize(("hours", "charge"), [(1.0, 10.0), (24.0, 240.0), (24.0 + 1.0 / 3600.0, 0.0)])
def test_what_was_read_by_hand_stands_for_a_day(hours: float, charge: float) -> None:
    read = Counters(current=10.0, current_at=T, by_hand=True, estimated=True, voltage=25.0)
    after = up_to(read, T + 3600.0 * hours, BY_HAND, 0.8)
    assert after.charge == pytest.approx(charge) and after.by_hand and after.estimated and after.current == 10.0
    assert after.gassing == pytest.approx(0.4 * charge), "four fifths of it, in each of two strings"
    assert sum(after.string_charge) == pytest.approx(charge)
    assert up_to(read, T + 3600.0, BY_HAND).gassing == 0.0
    metered = read._replace(by_hand=False)
    assert up_to(metered, T + 3600.0 * hours, BY_HAND) is metered, "a meter speaks for itself"


def test_a_new_round_forgets_what_went_in_and_keeps_what_is_still_so() -> None:
    before = Counters(
        27.1, 100.0, 7.0, 2.5, 30.0, 3600.0, 1800.0, (100.0,), 12.0, T, True, True, 60.0, {"bulk": 1.0}, 0.3, 900.0, 0.1
    )
    assert all(before)
    kept = {
        "voltage", "discharge", "gassing", "gassing_seconds", "current", "current_at", "estimated", "by_hand", "zero",
        "zero_before",
    }  # fmt: skip
    after = restarted(before)
    for name in Counters._fields:
        assert getattr(after, name) == (getattr(before, name) if name in kept else getattr(Counters(), name)), name


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
