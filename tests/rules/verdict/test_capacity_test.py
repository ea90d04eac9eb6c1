"""The capacity test, sample by sample: what it counts, when it ends, and what it says of the rating."""

from __future__ import annotations

import pytest

from rules.verdict.capacity_test import CapacityTest, advance, result

MINUTE = 60.0
BEGUN = CapacityTest(0.0, 25.0)


def drawn(*samples: tuple[float, float, float]) -> CapacityTest:
    """Fold samples of (minute, amps out, volts per cell)."""
    test = BEGUN
    for minute, amps, volts in samples:
        test = advance(test, minute * MINUTE, -amps, volts)
    return test


def test_ampere_hours_are_the_area_under_straight_lines_between_samples() -> None:
    test = drawn((0, 10.0, 2.0), (3, 20.0, 2.0), (6, 20.0, 2.0))
    assert test.delivered == pytest.approx((15.0 + 20.0) * 3 / 60)
    assert test.hours == pytest.approx(0.1) and test.unknown_hours == 0.0
    assert (BEGUN.delivered, BEGUN.hours, BEGUN.unknown_hours, BEGUN.low_samples) == (0.0, 0.0, 0.0, 0)
    first = drawn((7, 10.0, 2.0))
    assert (first.delivered, first.hours, first.at, first.current) == (0.0, 0.0, 420.0, 10.0)


def test_a_load_that_is_off_spends_no_hours_and_charging_gives_nothing_back() -> None:
    paused = drawn((0, 0.0, 2.0), (3, 0.0, 2.0))
    assert (paused.hours, paused.unknown_hours, paused.delivered) == (0.0, 0.0, 0.0)
    begun = drawn((0, 0.0, 2.0), (3, 0.8, 2.0))
    assert begun.hours == pytest.approx(0.05) and begun.delivered == pytest.approx(0.02)
    charged = drawn((0, 10.0, 2.0), (3, -30.0, 2.2), (6, -30.0, 2.2))
    assert charged.delivered == pytest.approx(5.0 * 3 / 60), "the last straight line ends at nothing"
    assert charged.current == 0.0


@pytest.mark.parametrize(("minutes", "known"), [(4.9, True), (5.0, True), (5.1, False), (90.0, False)])
def test_a_silence_of_more_than_five_minutes_is_unknown_time_and_no_charge(minutes: float, known: bool) -> None:
    test = drawn((0, 10.0, 2.0), (minutes, 10.0, 2.0))
    hours = minutes / 60.0
    assert test.hours == pytest.approx(hours if known else 0.0)
    assert test.unknown_hours == pytest.approx(0.0 if known else hours)
    assert test.delivered == pytest.approx(10.0 * hours if known else 0.0)
    slow = advance(drawn((0, 10.0, 2.0)), 9 * MINUTE, -10.0, 2.0, longest_gap=600.0)
    assert slow.unknown_hours == 0.0 and slow.delivered == pytest.approx(1.5), "a slow meter has its own gap"


def test_silences_add_up_and_a_repeated_sample_counts_once() -> None:
    test = drawn((0, 10.0, 2.0), (60, 10.0, 2.0), (150, 10.0, 2.0), (150, 99.0, 1.0), (153, 10.0, 2.0))
    assert test.unknown_hours == pytest.approx(2.5)
    assert test.delivered == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("samples", "ends"),
    [
        ([(0, 10.0, 1.75), (1, 10.0, 1.75)], 1),
        ([(0, 10.0, 1.751), (1, 10.0, 1.751)], None),
        ([(0, 10.0, 1.74), (1, 10.0, 1.80), (2, 10.0, 1.74)], None),
        ([(0, 10.0, 1.74), (1, 10.0, 1.80), (2, 10.0, 1.74), (3, 10.0, 1.74)], 3),
        ([(0, 0.0, 1.70), (1, 0.0, 1.70), (2, 0.0, 1.70)], None),
        ([(0, 0.4, 1.70), (1, 0.4, 1.70)], 1),
    ],
)
def test_two_samples_in_a_row_at_1_75_volts_under_load_end_it(
    samples: list[tuple[float, float, float]], ends: int | None
) -> None:
    # 1.75 V per cell at the 20-hour rate: US Navy NAVEDTRA 14113. Two in a row: assumed.
    test = drawn(*samples)
    assert test.ended_at == (None if ends is None else ends * MINUTE)
    assert test.reason == ("" if ends is None else f"bank at {samples[-1][2]:.2f} V per cell")


def test_after_its_end_nothing_changes_any_more() -> None:
    over = drawn((0, 10.0, 1.7), (1, 10.0, 1.7))
    assert advance(over, 10 * MINUTE, -10.0, 2.0) == over


@pytest.mark.parametrize(("lowest", "ends"), [(2.0, False), (1.66, False), (1.65, True), (1.0, True), (-0.3, True)])
def test_a_single_cell_at_its_own_end_voltage_ends_it_and_is_named(lowest: float, ends: bool) -> None:
    test = BEGUN
    for minute in (0, 1):
        test = advance(test, minute * MINUTE, -10.0, 1.95, lowest_cell=lowest)
    assert (test.ended_at is not None) is ends
    assert test.reason == (f"a cell at {lowest:.2f} V" if ends else "")
    idle = advance(advance(BEGUN, 0.0, 0.0, 1.95, lowest_cell=lowest), MINUTE, 0.0, 1.95, lowest_cell=lowest)
    assert idle.ended_at is None, "without a load a low cell says nothing of capacity"
    light = advance(advance(BEGUN, 0.0, -0.5, 1.95, lowest_cell=lowest), MINUTE, -0.5, 1.95, lowest_cell=lowest)
    assert (light.ended_at is not None) is ends


def test_blocks_are_named_in_the_order_in_which_they_came_down() -> None:
    test = BEGUN
    for minute, blocks in enumerate(
        [
            {"N1": 1.95, "N2": 1.90, "N3": 1.90},
            {"N1": 1.90, "N2": 1.7501, "N3": 1.75},
            {"N1": 1.72, "N2": 1.60, "N3": 1.70},
            {"N1": 1.60, "N2": 1.60, "N3": 1.95},
        ]
    ):
        test = advance(test, minute * MINUTE, -10.0, 1.9, blocks=blocks)
    assert test.fell_first == ("N3", "N2", "N1"), "the lower of two first, and each once"
    assert advance(test, 300.0, -10.0, 1.9).fell_first == ("N3", "N2", "N1")


@pytest.mark.parametrize(
    ("degrees", "hours", "corrected"),
    [
        (25.0, 10.0, 100.0),
        (None, 10.0, 100.0),
        (15.0, 10.0, 100.0 / 0.94),
        (35.0, 10.0, 100.0 / 1.06),
        (15.0, 1.01, 100.0 / 0.94),
        (15.0, 1.0, 100.0 / 0.90),
        (15.0, 0.8, 100.0 / 0.90),
    ],
)
def test_what_was_delivered_is_corrected_to_25_degrees(degrees: float | None, hours: float, corrected: float) -> None:
    # IEC 60896-11: 0.006 per kelvin for long tests and 0.010 for one hour and less; from memory.
    told = result(CapacityTest(0.0, degrees, delivered=100.0, hours=hours), 200.0)
    assert told.corrected == pytest.approx(corrected)
    assert told.delivered == 100.0


def test_the_rating_at_another_rate_is_peukerts() -> None:
    # 200 Ah in 20 h; at 20 A with an exponent of 1.2 it lasts 8.706 h (Peukert in the form that keeps the hours).
    told = result(CapacityTest(0.0, 25.0, delivered=160.0, hours=8.0), 200.0, 1.2)
    assert told.rated_at_rate == pytest.approx(174.1, abs=0.05)
    assert told.percent == pytest.approx(100.0 * 160.0 / 174.1, abs=0.05)
    assert result(CapacityTest(0.0, 25.0, delivered=160.0, hours=16.0), 200.0).percent == pytest.approx(80.0)


@pytest.mark.parametrize(("hours", "delivered"), [(0.0, 10.0), (1.0, 0.0), (0.0, 0.0)])
def test_a_test_that_gave_nothing_says_nothing(hours: float, delivered: float) -> None:
    with pytest.raises(ValueError, match="not discharged anything yet"):
        result(CapacityTest(0.0, 25.0, hours=hours, delivered=delivered), 200.0)
    assert result(CapacityTest(0.0, 25.0, hours=0.6, delivered=0.9), 2.0).percent > 0.0
