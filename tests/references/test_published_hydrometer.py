"""Hydrometer corrections, the Baume scale and the plateau, against printed worked examples."""

from __future__ import annotations

import pytest
from thermo.electrochem import Laliberte_density

from rules.hand.gravity import GravityReading
from rules.hand.gravity_trend import plateau, still_rising, trend_per_hour, water_loss_alone
from rules.laws.hydrometer import REFERENCE, SLOPE, corrected_gravity, gravity_from_baume


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


@pytest.mark.parametrize(
    ("read", "fahrenheit", "printed"),
    [
        (1.240, 100, 1.248),  # US Army TM 5-3895-349-14&P, worked example
        (1.250, 90, 1.254),  # deep-cycle correction chart; common practice, no source
        (1.250, 70, 1.246),  # same chart
        (1.265, 110, 1.277),  # the rule itself
        (1.265, 50, 1.253),
        (1.230, 32, 1.2108),
    ],
)
def test_correction_gives_the_printed_worked_example(read: float, fahrenheit: float, printed: float) -> None:
    assert corrected_gravity(read, celsius(fahrenheit)) == pytest.approx(printed, abs=1e-9)


@pytest.mark.parametrize(
    ("fahrenheit", "printed"),
    # Correction chart for 80 degF; common practice, no source.
    [(160, 0.032), (120, 0.016), (110, 0.012), (100, 0.008), (80, 0.0), (60, -0.008), (40, -0.016), (10, -0.028)],
)
def test_correction_follows_the_printed_chart(fahrenheit: float, printed: float) -> None:
    assert corrected_gravity(1.250, celsius(fahrenheit)) - 1.250 == pytest.approx(printed, abs=1e-9)


def test_a_point_for_every_3_degrees_fahrenheit_is_nearly_the_same_rule() -> None:
    # US Navy NAVEDTRA 14344: one point per 3 degF around 80 degF; the gravity and the range of 50-110 degF are ours.
    for fahrenheit in range(50, 111, 5):
        navy = 1.250 + 0.001 * (fahrenheit - 80) / 3
        assert corrected_gravity(1.250, celsius(fahrenheit)) == pytest.approx(navy, abs=0.0021)


def test_the_rule_is_the_real_expansion_of_charged_acid() -> None:
    # Laliberte and Cooper (2004) through `thermo`: slope at 36 wt%, mean of 15-35 degC, against water at 4 degC.
    warm, cold = (Laliberte_density(273.15 + t, [0.36], ["7664-93-9"]) for t in (35.0, 15.0))
    assert (cold - warm) / 20.0 / 1000.0 == pytest.approx(SLOPE, rel=0.03)


@pytest.mark.parametrize(
    ("degrees", "gravity"),
    # Marks' Handbook: gravity is 145 / (145 - B), degrees are 145 - 145 / gravity.
    [(0, 1.0), (10, 1.0741), (18, 1.1417), (22, 1.1789), (26, 1.2185), (30, 1.2609), (34, 1.3063), (66, 1.8354)],
)
def test_degrees_baume_are_those_of_the_american_scale(degrees: float, gravity: float) -> None:
    assert gravity_from_baume(degrees) == pytest.approx(gravity, abs=5e-5)
    assert 145.0 - 145.0 / gravity_from_baume(degrees) == pytest.approx(degrees, abs=1e-9)


def hourly(*gravities: float, cell: str = "N1.1") -> tuple[GravityReading, ...]:
    return tuple(GravityReading(3600.0 * hour, cell, g, "", True, False) for hour, g in enumerate(gravities))


def test_plateau_is_met_at_the_fourth_equal_reading_and_not_before() -> None:
    # US Navy: no rise for 4 h; US Army: three successive hourly readings without increase. A point counts as equal.
    values = (1.251, 1.258, 1.262, 1.263, 1.263, 1.263)
    assert [plateau(hourly(*values[:n]), ["N1.1"]) for n in range(1, 7)] == [False] * 5 + [True]
    assert [still_rising(hourly(*values[:n]), 3600.0 * n) for n in range(1, 7)] == [None] * 3 + [True, True, False]


def test_a_point_up_and_down_is_a_plateau() -> None:
    assert plateau(hourly(1.262, 1.264, 1.263, 1.263), ["N1.1"])
    assert not plateau(hourly(1.260, 1.261, 1.262, 1.263), ["N1.1"])
    assert still_rising(hourly(1.260, 1.261, 1.262, 1.263), 4 * 3600.0)


def test_reading_more_often_does_not_shorten_the_hours() -> None:
    every_ten_minutes = tuple(GravityReading(600.0 * n, "N1.1", 1.263, "", True, False) for n in range(19))
    assert [plateau(every_ten_minutes[:n], ["N1.1"]) for n in (17, 19)] == [False, True]
    # Four looks within half an hour say nothing about a rise.
    assert still_rising(every_ten_minutes[:4], 1800.0) is None


def test_a_plateau_needs_every_cell_and_a_charger_at_work() -> None:
    both = sorted((*hourly(*[1.263] * 4), *hourly(*[1.250] * 4, cell="N1.2")))
    assert plateau(tuple(both), ["N1.1", "N1.2"])
    assert not plateau(tuple(both), ["N1.1", "N1.2", "N1.3"])
    resting = tuple(entry._replace(under_charge=False) for entry in both)
    assert not plateau(resting, ["N1.1", "N1.2"])
    assert not plateau(tuple(both[:-1]), ["N1.1", "N1.2"])


def test_hours_without_a_reading_break_a_plateau() -> None:
    night = tuple(GravityReading(3600.0 * hour, "N1.1", 1.263, "", True, False) for hour in (0.0, 1.0, 2.0, 9.0))
    assert not plateau(night, ["N1.1"])


def test_a_flat_cell_that_does_not_gas_is_not_full() -> None:
    # Kimberly: readings count while all cells gas.
    dead = hourly(1.151, 1.151, 1.151, 1.151)
    assert plateau(dead, ["N1.1"])
    assert not plateau(dead, ["N1.1"], silent=["N1.1"])


def test_navy_example_of_points_to_go() -> None:
    # The formula is the US Navy's, points to go over points per Ah and amps; the numbers are ours: 40 points at 0.4
    # points per Ah and 10 A take 10 h, 4 points an hour.
    rising = hourly(*(1.200 + 0.004 * hour for hour in range(7)))
    trend = trend_per_hour(rising, 6 * 3600.0)
    assert trend is not None
    assert 0.040 / trend == pytest.approx(10.0)


@pytest.mark.parametrize(("water", "gravity"), [(-50.0, 1.2638), (-100.0, 1.2583), (-200.0, 1.2479), (80.0, 1.2794)])
def test_water_alone_moves_gravity_as_the_independent_density_model_says(water: float, gravity: float) -> None:
    # 2.6 kg of 36 wt% acid, gravity 1.2696, computed with Laliberte's density at 25 degC.
    assert 1.2696 + water_loss_alone(1.2696, 2.6, water) == pytest.approx(gravity, abs=0.0005)


def test_the_reference_is_80_fahrenheit() -> None:
    assert pytest.approx(26.667, abs=0.001) == REFERENCE
