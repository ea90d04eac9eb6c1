"""Units against hand-worked numbers, and the traps in their spelling."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.units import UnitError, compile_unit, near, parse


@pytest.mark.parametrize(
    ("unit", "canonical", "raw", "value"),
    [
        ("mV", "V", 12640, 12.64),
        ("kV", "V", 0.0126, 12.6),
        ("mA", "A", -9500, -9.5),
        ("kW", "W", 1.6, 1600),
        # degC = (degF - 32) / 1.8, by hand
        ("degF", "degC", 32, 0),
        ("degF", "degC", 77, 25),
        ("degF", "degC", 212, 100),
        ("degF", "degC", -40, -40),
        ("°F", "degC", 104, 40),
        ("K", "degC", 298.15, 25),
        ("Cel", "degC", 23.1, 23.1),
        ("°C", "degC", 23.1, 23.1),
        ("mv", "V", 1000, 1),
        ("Volt", "V", 12.6, 12.6),
        ("in", "mm", 1, 25.4),
        ("percent", "1", 1, 0.01),
        ("ppm", "1", 10000, 0.01),
        ("%LEL", "1", 25, 0.01),  # 4 % by volume is the lower explosive limit of hydrogen in air
        ("sg", "1", 1.265, 1.265),
        ("mV/degC", "V/K", -4, -0.004),
    ],
)
def test_factors_agree_with_numbers_worked_by_hand(unit: str, canonical: str, raw: float, value: float) -> None:
    assert compile_unit(unit, canonical)(raw) == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(
    ("unit", "canonical", "fix"),
    [
        ("C", "degC", 'write "degC"'),
        ("F", "degC", 'write "degF"'),
        ("degrees", "degC", '"degC" or "degF"'),
        ("°", "degC", '"degC" or "degF"'),
        ("V", "degC", '"degC" or "degF"'),
        ("%", "1", '"percent"'),
        ("MV", "V", '"mV"'),
        ("MA", "A", '"mA"'),
        ("A", "V", '"V" or "mV"'),
        ("voltz", "V", 'did you mean "volts"?'),
        ("dBm", "W", '"W" or "kW"'),
        ("", "V", '"V" or "mV"'),
        ("V); import os", "V", '"V" or "mV"'),
    ],
)
def test_F04_a_unit_that_is_wrong_or_ambiguous_is_refused_with_the_right_spelling(
    unit: str, canonical: str, fix: str
) -> None:
    with pytest.raises(UnitError) as refused:
        compile_unit(unit, canonical)
    assert fix in str(refused.value)


def test_per_cent_is_decided_by_who_wrote_it() -> None:
    assert compile_unit("%", "1", "text").scale == 0.01
    assert compile_unit("%", "1", "senml").scale == 1.0


@settings(deadline=None)
@given(st.floats(-1e4, 1e4), st.sampled_from(["degF", "K", "degC"]))
def test_temperatures_agree_with_pint_everywhere(raw: float, unit: str) -> None:
    registry = pint.get_application_registry()
    expected = registry.Quantity(raw, "kelvin" if unit == "K" else unit).to("degC").magnitude
    assert compile_unit(unit, "degC")(raw) == pytest.approx(expected, abs=1e-7)


@pytest.mark.parametrize(
    ("text", "canonical", "value"),
    [
        ("110 degF", "degC", 43.3333333333),
        ("43.3°C", "degC", 43.3),
        ("200Ah", "Ah", 200),
        ("32 V", "V", 32),
        ("-4 mV/K", "V/K", -0.004),
        ("90 days", "s", 7_776_000),
        ("16 h", "h", 16),
        ("30 min", "h", 0.5),
        ("2 GB", "byte", 2e9),
        ("1 percent", "1", 0.01),
        (1.265, "1", 1.265),
    ],
)
def test_quantities_are_read_as_people_write_them(text: object, canonical: str, value: float) -> None:
    assert parse(text, canonical) == pytest.approx(value, rel=1e-12)


def test_a_difference_of_temperature_has_no_zero_point() -> None:
    # 10 degF of difference are 5.556 K; subtracting 32 first is the classic mistake.
    assert parse("10 degF", "degC", difference=True) == pytest.approx(5.5555556)
    assert parse("10 delta_degF", "degC", difference=True) == pytest.approx(5.5555556)


@pytest.mark.parametrize(
    "text", ["28.8", 32, "12,6 V", "1_2 V", "nan V", "1e400 V", True, None, [], "V", "43 C", "110 F"]
)
def test_what_is_no_quantity_is_refused(text: object) -> None:
    with pytest.raises(UnitError):
        parse(text, "degC" if text in ("43 C", "110 F") else "V")


def test_a_bare_number_is_answered_with_the_same_number_and_a_unit() -> None:
    with pytest.raises(UnitError, match=r'write "28\.8 V"'):
        parse("28.8", "V")


def test_near_matches_are_suggested_and_far_ones_are_not() -> None:
    assert near("voltge", ["voltage", "current"]) == '; did you mean "voltage"?'
    assert near("xyz", ["voltage"]) == ""
