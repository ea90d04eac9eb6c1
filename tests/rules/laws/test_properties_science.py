"""Properties of the arithmetic: corrections invert, what is monotone in nature is, and banks scale exactly."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from rules.bank.model import Bank, Block
from rules.hand import gravity, gravity_trend
from rules.laws import ac_side, capacity, charging, electrolyte, faraday, gassing, hydrometer, ventilation
from rules.laws.rest_voltage import (
    gravity_from_rest_voltage,
    rest_voltage,
    rest_voltage_from_molality,
    state_of_charge_from_gravity,
)
from rules.verdict import capacity_test as discharge

strengths = st.floats(0.0, 42.0)
temperatures = st.floats(0.0, 50.0)
gravities = st.floats(1.0, 1.32)
healthy = st.floats(1.04, 1.30)
currents = st.floats(0.0, 500.0)
#: 12, 24 and 48 V.
cells_in_series = st.sampled_from([6, 12, 24])
strings_in_parallel = st.integers(1, 4)


def rising(function: object, low: float, high: float, steps: int = 400) -> bool:
    assert callable(function)
    values = [function(low + (high - low) * step / steps) for step in range(steps + 1)]
    return all(left < right for left, right in pairwise(values))


# ------------------------------------------------------------------------------------ corrections invert


@given(strengths, temperatures)
def test_strength_comes_back_from_gravity(percent: float, temperature: float) -> None:
    found = electrolyte.weight_percent_from_gravity(electrolyte.specific_gravity(percent, temperature), temperature)
    assert found == pytest.approx(percent, abs=1e-9)


@given(strengths)
def test_strength_comes_back_from_molality(percent: float) -> None:
    assert electrolyte.weight_percent_from_molality(electrolyte.molality(percent)) == pytest.approx(percent, abs=1e-9)


@given(healthy)
def test_gravity_comes_back_from_rest_voltage(value: float) -> None:
    assert gravity_from_rest_voltage(rest_voltage(value)) == pytest.approx(value, abs=1e-9)


@given(st.floats(1.05, 1.34), st.floats(-12.0, 71.0), st.floats(-12.0, 71.0))
def test_hydrometer_correction_inverts_when_the_temperatures_are_swapped(
    reading: float, temperature: float, reference: float
) -> None:
    there = hydrometer.corrected_gravity(reading, temperature, reference)
    assume(1.0 < there <= 1.4)
    assert hydrometer.corrected_gravity(there, reference, temperature) == pytest.approx(reading, abs=1e-12)


@given(st.floats(0.0, 70.0))
def test_degrees_baume_invert(degrees: float) -> None:
    assert 145.0 - 145.0 / hydrometer.gravity_from_baume(degrees) == pytest.approx(degrees, abs=1e-9)


@given(st.floats(1.0, 200.0), st.floats(1.0, 100.0), st.floats(0.5, 1.0), st.floats(0.5, 1.0))
def test_ac_and_dc_invert(volts: float, amps: float, power_factor: float, efficiency: float) -> None:
    drawn = ac_side.ac_current_for(volts, amps, 230.0, power_factor, efficiency)
    assert ac_side.current_from_ac(230.0, drawn, volts, power_factor, efficiency) == pytest.approx(amps)


@given(st.floats(50.0, 2000.0), st.floats(1.0, 1.5))
def test_peukert_at_the_rated_current_is_the_rating(rated: float, exponent: float) -> None:
    assert capacity.peukert_hours(rated / 20.0, rated, exponent) == pytest.approx(20.0)
    assert capacity.peukert_capacity(rated / 20.0, rated, exponent) == pytest.approx(rated)


@given(st.floats(1.05, 1.28), st.floats(0.5, 10.0), st.floats(0.0, 0.05))
def test_lost_water_put_back_restores_gravity(value: float, mass: float, share: float) -> None:
    water = 1000.0 * mass * share
    rise = gravity_trend.water_loss_alone(value, mass, water)
    assert rise >= -1e-12
    back = gravity_trend.water_loss_alone(value + rise, mass - water / 1000.0, -water)
    assert back == pytest.approx(-rise, abs=1e-9)


@given(st.sampled_from(["{:.3f}", "sg {:.3f}", " {:.3f} "]), st.integers(1000, 1400))
def test_every_notation_of_a_gravity_reads_the_same(form: str, points: int) -> None:
    expected = points / 1000.0
    written = form.format(expected)
    assert hydrometer.parse_gravity(written) == expected
    assert hydrometer.parse_gravity(written.replace(".", ",")) == expected
    assert hydrometer.parse_gravity(points) == hydrometer.parse_gravity(str(points)) == expected


@given(st.integers(100, 410))
def test_every_notation_of_degrees_baume_reads_the_same(tenths: int) -> None:
    degrees = tenths / 10.0
    bare: tuple[float | str, ...] = (degrees, f"{degrees}")
    if tenths <= 140:  # it may be a gravity with its point one place on
        for form in bare:
            with pytest.raises(ValueError, match=f"may be a gravity of {degrees / 10.0:.3f} or degrees Baume"):
                hydrometer.parse_gravity(form)
        bare = ()
    forms = (*bare, f"{degrees} Be", f"{degrees} °Bé", f"{degrees}°be", f"{degrees} Baume")
    for form in forms:
        assert hydrometer.parse_gravity(form) == hydrometer.gravity_from_baume(degrees)


@given(st.one_of(st.text(max_size=12), st.floats(), st.booleans(), st.integers()))
def test_whatever_is_typed_is_a_gravity_a_mark_or_a_clear_error(typed: str | float) -> None:
    try:
        read = hydrometer.parse_gravity(typed)
    except ValueError as error:
        assert "write 1." in str(error)
    else:
        assert read in hydrometer.MARKS or (isinstance(read, float) and 1.0 <= read <= 1.4)


@pytest.mark.parametrize(
    "typed", ["1_265", "nan", "inf", "1e3", "0.999", "1401", "45.1", "43 Be", "265", "", "1.265.1"]
)
def test_what_is_no_gravity_is_refused(typed: str) -> None:
    with pytest.raises(ValueError, match="is no gravity"):
        hydrometer.parse_gravity(typed)


# -------------------------------------------------------------------- what is no number is never answered

LAWS: list[tuple[Callable[..., object], tuple[float | tuple[float, ...], ...]]] = [
    (ac_side.current_from_ac, (120.0, 12.0, 29.0, 0.99, 0.88)),
    (ac_side.ac_current_for, (31.0, 20.0, 120.0, 0.7, 0.85)),
    (ac_side.circuit_continuous_limit, (15.0,)),
    (charging.string_current_limit, (225.0,)),
    (charging.finishing_current, (200.0,)),
    (charging.compensated_voltage, (2.58, 10.0, -0.005, 2.72)),
    (charging.shares_at_voltage, (28.8, (26.4, 27.6), (0.06, 0.12))),
    (charging.string_shares, (30.0, (25.2, 25.2), (0.06, 0.06))),
    (capacity.percent_of_rated, (7.5, 10.0)),
    (capacity.peukert_hours, (20.0, 200.0, 1.2, 20.0)),
    (capacity.peukert_capacity, (20.0, 200.0, 1.2, 20.0)),
    (capacity.temperature_corrected, (154.0, 15.0, 0.006, 25.0)),
    (capacity.end_voltage, (12, 1.75)),
    (electrolyte.density, (30.0, 20.0)),
    (electrolyte.specific_gravity, (30.0, 20.0)),
    (electrolyte.weight_percent_from_gravity, (1.2, 20.0)),
    (electrolyte.molality, (30.0,)),
    (electrolyte.weight_percent_from_molality, (4.0,)),
    (electrolyte.freezing_point, (1.1,)),
    (rest_voltage_from_molality, (6.0,)),
    (rest_voltage, (1.265,)),
    (gravity_from_rest_voltage, (2.11,)),
    (state_of_charge_from_gravity, (1.19, 1.265, 1.12)),
    (faraday.water_split, (1.0, 12.0, 96485.0)),
    (faraday.molar_volume, (25.0, 101325.0)),
    (faraday.hydrogen_rate, (1.0, 12.0, 25.0)),
    (faraday.oxygen_rate, (1.0, 12.0, 25.0)),
    (faraday.water_rate, (1.0,)),
    (faraday.level_drop, (10.0, 100.0)),
    (gassing.gassing_current, (2.58, 25.0, 100.0, 0.02)),
    (gassing.gassing_heat, (10.0, 2.58, 1.481)),
    (ventilation.ventilation_needed, (50.0, 12.0)),
    (ventilation.opening_area, (30.0,)),
    (ventilation.hours_to_fraction, (20.0, 50.0, 0.01)),
    (hydrometer.corrected_gravity, (1.24, 37.0, 26.7)),
    (hydrometer.gravity_from_baume, (30.0,)),
    (gravity_trend.water_loss_alone, (1.27, 2.6, 80.0)),
]


@pytest.mark.parametrize(("law", "arguments"), LAWS, ids=[law.__name__ for law, _ in LAWS])
@pytest.mark.parametrize("nothing", [math.nan, math.inf, -math.inf])
def test_no_law_answers_what_is_no_number(
    law: Callable[..., object], arguments: tuple[float | tuple[float, ...], ...], nothing: float
) -> None:
    assert law(*arguments) is not None
    for place, argument in enumerate(arguments):
        wrong = (nothing, *argument[1:]) if isinstance(argument, tuple) else nothing
        with pytest.raises(ValueError):
            law(*arguments[:place], wrong, *arguments[place + 1 :])


def test_a_gassing_share_without_a_number_errs_to_more_gas() -> None:
    assert gassing.gassing_share(math.nan, 25.0, 100.0, 10.0) == 1.0
    assert gassing.gassing_share(2.4, math.nan, 100.0, 10.0) == 1.0


# ------------------------------------------------------------------------- monotone where physics is


@given(temperatures)
def test_stronger_acid_is_heavier(temperature: float) -> None:
    assert rising(lambda percent: electrolyte.density(percent, temperature), 0.0, 42.0)
    assert rising(lambda percent: electrolyte.specific_gravity(percent, temperature), 0.0, 42.0)


@given(st.floats(5.0, 42.0))
def test_warmer_acid_is_lighter(percent: float) -> None:
    assert rising(lambda temperature: -electrolyte.density(percent, temperature), 0.0, 50.0)


def test_stronger_acid_rests_higher_and_freezes_lower() -> None:
    assert rising(rest_voltage, 1.032, 1.30)
    assert rising(lambda value: -electrolyte.freezing_point(value), 1.0, 1.28)


@given(gravities, gravities)
def test_state_of_charge_follows_gravity_and_stays_between_0_and_1(first: float, second: float) -> None:
    low, high = sorted((first, second))
    assert 0.0 <= state_of_charge_from_gravity(low) <= state_of_charge_from_gravity(high) <= 1.0


@given(st.floats(-20.0, 60.0))
def test_gassing_grows_with_voltage_and_heat(temperature: float) -> None:
    assert rising(lambda volts: gassing.gassing_current(volts, temperature, 200.0), 2.0, 2.8)
    assert rising(lambda degrees: gassing.gassing_current(2.5, degrees, 200.0), -20.0, 60.0)


@given(st.floats(-0.5, 3.5), st.floats(-50.0, 120.0), currents)
def test_the_share_that_gasses_is_a_share_for_every_plausible_reading(
    volts: float, temperature: float, current: float
) -> None:
    share = gassing.gassing_share(volts, temperature, 200.0, current)
    assert 0.0 <= share <= 1.0
    assert gassing.gassing_share(volts + 0.01, temperature, 200.0, current) >= share


@given(st.floats(-40.0, 60.0), st.floats(-40.0, 60.0), st.floats(-0.01, 0.0))
def test_compensation_never_raises_the_setting_when_it_is_warmer(first: float, second: float, slope: float) -> None:
    cold, warm = sorted((first, second))
    assert charging.compensated_voltage(2.6, warm, slope) <= charging.compensated_voltage(2.6, cold, slope) <= 2.72


@given(st.floats(8.0, 60.0), st.floats(1.01, 1.5))
def test_more_current_gives_less_capacity(amps: float, exponent: float) -> None:
    assert capacity.peukert_capacity(amps * 1.01, 400.0, exponent) < capacity.peukert_capacity(amps, 400.0, exponent)


@given(st.floats(0.0, 45.0), st.floats(0.0, 45.0))
def test_a_colder_test_is_corrected_upward(first: float, second: float) -> None:
    cold, warm = sorted((first, second))
    assert capacity.temperature_corrected(100.0, cold) >= capacity.temperature_corrected(100.0, warm)


# ---------------------------------------------------------------------------------- banks scale exactly


@given(cells_in_series, strings_in_parallel, currents)
def test_gas_water_and_air_scale_with_cells_and_strings(cells: int, strings: int, amps: float) -> None:
    one = faraday.hydrogen_rate(amps, 1)
    assert faraday.hydrogen_rate(strings * amps, cells) == pytest.approx(strings * cells * one)
    assert ventilation.ventilation_needed(strings * amps, cells) == pytest.approx(
        strings * cells * ventilation.ventilation_needed(amps, 1)
    )
    # Each cell of each string sees its own string's current, however many there are.
    assert faraday.water_rate(strings * amps / strings) == pytest.approx(faraday.water_rate(amps))


@given(cells_in_series, strings_in_parallel, st.floats(2.0, 2.8), temperatures)
def test_gassing_current_scales_with_strings_and_not_with_cells(
    cells: int, strings: int, volts: float, temperature: float
) -> None:
    bank = Bank("north", tuple((Block(f"{string}", cells, 225.0),) for string in range(strings)))
    one = gassing.gassing_current(volts, temperature, 225.0)
    assert gassing.gassing_current(volts, temperature, bank.capacity) == pytest.approx(strings * one)


@given(cells_in_series, strings_in_parallel, st.floats(1.0, 200.0), st.floats(1.9, 2.2), st.floats(0.001, 0.02))
def test_equal_strings_share_equally_at_any_voltage(
    cells: int, strings: int, amps: float, emf: float, ohms: float
) -> None:
    shares = charging.string_shares(amps, [cells * emf] * strings, [cells * ohms] * strings)
    assert shares.currents == pytest.approx([amps / strings] * strings)
    one = charging.string_shares(amps / strings, [emf], [ohms])
    assert shares.volts == pytest.approx(cells * one.volts)


@given(
    st.lists(st.tuples(st.floats(20.0, 30.0), st.floats(0.01, 1.0)), min_size=1, max_size=4), st.floats(-50.0, 100.0)
)
def test_string_currents_always_add_up_to_the_bank(strings: list[tuple[float, float]], amps: float) -> None:
    shares = charging.string_shares(amps, [emf for emf, _ in strings], [ohms for _, ohms in strings])
    assert math.fsum(shares.currents) == pytest.approx(amps, abs=1e-9)


@given(cells_in_series, st.integers(1, 4), st.floats(30.0, 400.0))
def test_limits_are_per_string_whatever_the_bank(cells: int, strings: int, rated: float) -> None:
    bank = Bank("north", tuple((Block(f"{string}", cells, rated),) for string in range(strings)), compensation=-0.004)
    assert bank.string_current_limit == charging.string_current_limit(rated)
    for temperature in (5.0, 40.0):
        assert bank.equalise_at(temperature) == charging.compensated_voltage(bank.equalise, temperature, -0.004)


@pytest.mark.parametrize(
    ("wrong", "why"), [({"equalise": 4.0}, "4 V per cell"), ({"compensation": 0.004}, "0.004 V/K")]
)
def test_a_bank_that_no_charger_can_serve_is_refused_when_it_is_made(wrong: dict[str, float], why: str) -> None:
    with pytest.raises(ValueError, match=f"bank north: .*{why}"):
        Bank("north", ((Block("N1", 6, 225.0),),), **wrong)  # type: ignore[arg-type]


@given(cells_in_series, strings_in_parallel)
def test_end_voltage_and_discharge_percent_scale(cells: int, strings: int) -> None:
    assert capacity.end_voltage(cells) == cells * capacity.end_voltage(1)
    test = discharge.CapacityTest(0.0, 25.0)
    for minute in range(0, 10):
        test = discharge.advance(test, 60.0 * minute, -10.0 * strings, 2.0)
    assert discharge.result(test, 200.0 * strings).percent == pytest.approx(
        discharge.result(test._replace(delivered=test.delivered / strings), 200.0).percent
    )


# ------------------------------------------------------------------------------------------ hydrometer log


readings = st.lists(
    st.builds(
        gravity.GravityReading,
        taken_at=st.floats(0.0, 40 * 3600.0),
        cell=st.sampled_from(["N1.1", "N1.2", "N2.1"]),
        gravity_corrected=st.one_of(st.none(), gravities),
        mark=st.just(""),
        under_charge=st.booleans(),
        trusted=st.booleans(),
        mixed=st.just(True),  # what was read of water not yet mixed in stands in no spread
        charged=st.floats(0.0, 40 * 3600.0),
    ),
    max_size=80,
)


@given(readings)
def test_the_log_is_the_same_in_whatever_order_readings_arrive(entries: list[gravity.GravityReading]) -> None:
    assume(len({entry.taken_at for entry in entries}) == len(entries))
    one_by_one: gravity.Log = ()
    for entry in entries:
        one_by_one = gravity.add(one_by_one, [entry])
    assert one_by_one == gravity.add((), entries)
    for cell in {entry.cell for entry in entries}:
        assert sum(entry.cell == cell for entry in one_by_one) <= gravity.KEPT


@given(readings, st.floats(0.0, 50 * 3600.0))
def test_what_the_log_tells_never_contradicts_itself(entries: list[gravity.GravityReading], at: float) -> None:
    log = gravity.add((), entries)
    spread, lowest = gravity.spread(log), gravity.lowest(log)
    if spread is not None:
        assert lowest is not None
        compared = gravity.compared(log)
        assert len(compared) > 1
        assert spread == pytest.approx(max(compared.values()) - min(compared.values()))
        assert set(compared.values()) <= {entry.gravity_corrected for entry in log}
    gravity_trend.trend_per_hour(log, at)
    if gravity_trend.plateau(log, ["N1.1"]):
        newest = max(entry.taken_at for entry in log if entry.cell == "N1.1")
        only = tuple(entry for entry in log if entry.cell == "N1.1")
        assert gravity_trend.still_rising(only, newest) is not True
