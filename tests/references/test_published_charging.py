"""Charger arithmetic against printed numbers and common practice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rules.bank.model import Bank, Block
from rules.laws.ac_side import CORRECTED, PLAIN, ac_current_for, circuit_continuous_limit, current_from_ac
from rules.laws.charging import (
    compensated_voltage,
    finishing_current,
    shares_at_voltage,
    string_current_limit,
    string_shares,
)


@pytest.mark.parametrize(
    ("emfs", "resistances", "volts", "currents"),
    # Three 24 V strings at 30 A; arithmetic on Ohm's and Kirchhoff's laws.
    [
        ((25.2, 25.2, 25.2), (0.060, 0.060, 0.060), 25.80, (10.0, 10.0, 10.0)),
        ((25.2, 25.2, 25.2), (0.060, 0.060, 0.120), 25.92, (12.0, 12.0, 6.0)),
        ((25.2, 25.2, 23.2), (0.060, 0.060, 0.060), 25.13, (-1.11, -1.11, 32.2)),
    ],
)
def test_thirty_amps_divide_between_three_strings(
    emfs: tuple[float, ...], resistances: tuple[float, ...], volts: float, currents: tuple[float, ...]
) -> None:
    shares = string_shares(30.0, emfs, resistances)
    assert shares.volts == pytest.approx(volts, abs=0.005)
    assert shares.currents == pytest.approx(currents, abs=0.03)


def test_string_shares_solve_the_network_as_linear_algebra_does() -> None:
    # Independent route: unknowns V, I1..I3 of the network's own equations, solved by numpy.
    emfs, ohms = (25.2, 24.9, 26.1), (0.06, 0.09, 0.12)
    equations = np.zeros((4, 4))
    equations[0, 1:] = 1.0
    equations[1:, 0] = 1.0
    equations[1:, 1:] = -np.diag(ohms)
    volts, *currents = np.linalg.solve(equations, [42.0, *emfs])
    shares = string_shares(42.0, emfs, ohms)
    assert shares.volts == pytest.approx(volts)
    assert shares.currents == pytest.approx(currents)


def test_a_sulfated_twin_takes_a_quarter_at_constant_voltage() -> None:
    assert shares_at_voltage(28.8, (26.4, 27.6), (0.060, 0.120)).currents == pytest.approx((40.0, 10.0))


def test_fifty_amps_into_two_equal_strings_are_25_each() -> None:
    # Common practice, no source.
    assert string_shares(50.0, (25.0, 25.0), (0.05, 0.05)).currents == pytest.approx((25.0, 25.0))


def test_voltages_of_common_practice_scale_by_cells() -> None:
    # Common practice, no source: 14.7 V on 6 cells is 29.4 V on 12; 32 V on 12 cells is 2.67 V each.
    half = Bank("half", ((Block("N1", 6, 225.0),),), equalise=14.7 / 6)
    whole = replace(half, id="whole", strings=((Block("N1", 6, 225.0), Block("N2", 6, 225.0)),))
    assert whole.equalise_at(25.0) * whole.cells == pytest.approx(29.4)
    assert replace(whole, equalise=Bank.equalise).equalise_at(25.0) * whole.cells == pytest.approx(32.0, abs=0.05)


@pytest.mark.parametrize(
    ("ac", "kind", "bank_volts", "amps"),
    # Conservation of energy: AC volts and amps; power factor and efficiency.
    [
        ((120, 12), CORRECTED, 29.0, 43.3),
        ((120, 12), PLAIN, 29.0, 25.8),
        ((120, 12), (0.70, 0.85), 15.5, 55.3),
        ((120, 12), CORRECTED, 62.0, 20.2),
        ((230, 10), (0.95, 0.88), 58.0, 33.2),
    ],
)
def test_dc_amps_from_the_ac_side(
    ac: tuple[float, float], kind: tuple[float, float], bank_volts: float, amps: float
) -> None:
    assert current_from_ac(*ac, bank_volts, *kind) == pytest.approx(amps, abs=0.06)


@pytest.mark.parametrize(("ac_amps", "bank_volts", "rule_of_thumb"), [(10.0, 28.0, 42.0), (30.0, 24.0, 150.0)])
def test_the_trades_ac_rules_are_upper_bounds(ac_amps: float, bank_volts: float, rule_of_thumb: float) -> None:
    # 10 A at 120 V for 42 A at 28 V, 30 A for 150 A at 24 V: common practice, no source; they leave out every loss.
    lossless = current_from_ac(120.0, ac_amps, bank_volts, 1.0, 1.0)
    assert rule_of_thumb <= lossless * 1.001
    for kind in (CORRECTED, PLAIN):
        assert current_from_ac(120.0, ac_amps, bank_volts, *kind) < rule_of_thumb


@pytest.mark.parametrize(("power_factor", "ac_amps"), [(0.70, 8.68), (0.99, 6.14)])
def test_ac_amps_for_20_amps_at_31_volts(power_factor: float, ac_amps: float) -> None:
    assert ac_current_for(31.0, 20.0, 120.0, power_factor, 0.85) == pytest.approx(ac_amps, abs=0.01)


@pytest.mark.parametrize(("breaker", "continuous"), [(15, 12), (20, 16), (30, 24)])
def test_a_circuit_carries_80_percent_for_three_hours_or_more(breaker: float, continuous: float) -> None:
    # NEC 210.20(A): continuous load at 125 percent.
    assert circuit_continuous_limit(breaker) == pytest.approx(continuous)


@pytest.mark.parametrize(
    ("setting", "temperature", "volts"),
    # 0.028 V per 10 degF is -5 mV/K; common practice, no source.
    [(2.40, 10, 2.475), (2.40, 40, 2.325), (2.45, 10, 2.525), (2.58, 10, 2.655), (2.58, 40, 2.505), (2.58, 25, 2.58)],
)
def test_compensation_numbers(setting: float, temperature: float, volts: float) -> None:
    assert compensated_voltage(setting, temperature, -0.005) == pytest.approx(volts)
    printed = -0.028 / (10 / 1.8)
    assert compensated_voltage(setting, temperature, printed) == pytest.approx(volts, abs=0.001)


def test_cold_never_raises_the_setting_beyond_the_ceiling() -> None:
    assert compensated_voltage(2.67, -10.0, -0.005) == 2.72
    assert compensated_voltage(2.74, -10.0, -0.005) == 2.74


@pytest.mark.parametrize(("capacity", "limit"), [(100, 13.0), (225, 29.25), (230.77, 30.0), (400, 30.0)])
def test_a_string_takes_13_percent_and_at_most_30_amps(capacity: float, limit: float) -> None:
    # Common practice, no source.
    assert string_current_limit(capacity) == pytest.approx(limit, abs=0.001)
    assert finishing_current(capacity) == pytest.approx(0.06 * capacity)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="resistance above 0"):
        string_shares(10.0, (25.0,), (0.0,))
    with pytest.raises(ValueError, match="do not describe the strings"):
        string_shares(10.0, (25.0, 25.0), (0.1,))
    with pytest.raises(ValueError, match="power factor"):
        current_from_ac(120.0, 10.0, 28.0, 1.2, 0.9)
    with pytest.raises(ValueError, match="tells nothing"):
        current_from_ac(120.0, 10.0, 0.0)
    with pytest.raises(ValueError, match="lies between"):
        compensated_voltage(2.58, 20.0, -5.0)
    with pytest.raises(ValueError, match="no capacity"):
        string_current_limit(0.0)
