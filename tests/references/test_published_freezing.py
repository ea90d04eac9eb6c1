"""Freezing points of electrolyte against depressions measured for the acid itself."""

from __future__ import annotations

import pytest

from rules.laws.electrolyte import freezing_point, specific_gravity

# CRC Handbook of Chemistry and Physics, 102nd ed., concentrative properties: wt%, freezing depression in K.
CRC = {10: 4.64, 15: 8.35, 20: 13.64, 24: 19.85, 26: 24.29, 28: 29.65, 30: 36.21}


@pytest.mark.parametrize(("weight_percent", "depression"), CRC.items())
def test_freezing_point_is_within_2_kelvin_of_the_measured_depression(weight_percent: int, depression: float) -> None:
    assert freezing_point(specific_gravity(weight_percent, 20.0)) == pytest.approx(-depression, abs=2.0)


def test_freezing_point_is_within_3_kelvin_near_1_250() -> None:
    # CRC, 32 and 34 wt%: 44.76 and 55.28 K. The army's table is a straight line through a steep curve there.
    for weight_percent, depression in ((32, 44.76), (34, 55.28)):
        assert freezing_point(specific_gravity(weight_percent, 20.0)) == pytest.approx(-depression, abs=3.0)


@pytest.mark.parametrize(
    ("gravity", "fahrenheit"),
    # US Army TM 5-1185 and OD1002; TM 10-6140-200-14 page 11 for 1.160 and 1.220. 18.5 and -16.5 degF stand in neither:
    # they are the middle of two prints, 18 and 19, -16 and -17.
    [(1.000, 32), (1.100, 18.5), (1.150, 5), (1.160, 1), (1.200, -16.5), (1.220, -31), (1.250, -62), (1.280, -90)],
)
def test_freezing_point_is_the_armys(gravity: float, fahrenheit: float) -> None:
    assert freezing_point(gravity) == pytest.approx((fahrenheit - 32) / 1.8, abs=0.1)


def test_a_nearly_dead_cell_freezes_just_below_zero() -> None:
    # 1.050 and 1.265 stand only in a maker's sheet (27 and -75 degF); these bounds hold whatever it says.
    assert -8.0 < freezing_point(1.100) < freezing_point(1.050) < -2.0


@pytest.mark.parametrize("gravity", [0.999, 1.281])
def test_gravity_outside_the_tables_has_no_freezing_point(gravity: float) -> None:
    with pytest.raises(ValueError, match="outside the freezing table"):
        freezing_point(gravity)
