"""Rest voltage by electrode potentials against activities from a library that knows nothing of electrodes."""

from __future__ import annotations

import math

import phreeqpython
import pytest

from rules.laws.electrolyte import density, weight_percent_from_molality
from rules.laws.rest_voltage import gravity_from_rest_voltage, rest_voltage, rest_voltage_from_molality

MOLALITIES = (0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 6.5)


@pytest.fixture(scope="module")
def pitzer() -> phreeqpython.PhreeqPython:
    return phreeqpython.PhreeqPython(database="pitzer.dat")


def _acid(pitzer: phreeqpython.PhreeqPython, molality: float) -> phreeqpython.Solution:
    return pitzer.add_solution({"temp": 25, "units": "mol/kgw", "S(6)": molality, "pH": "1 charge"})


@pytest.mark.parametrize("molality", MOLALITIES)
def test_bode_is_within_3_millivolts_of_pitzer_activities(pitzer: phreeqpython.PhreeqPython, molality: float) -> None:
    # E = E0 + RT/F ln(a_acid / a_water). E0 = 1.6913 + 0.3588 V from the CRC Handbook's electrode potentials, from
    # memory. The activity of water follows from its ion product, which is constant: a_H a_OH / a_w = K_w.
    nearly_water = _acid(pitzer, 1e-9).species_activities
    activities = _acid(pitzer, molality).species_activities
    water = activities["H+"] * activities["OH-"] / (nearly_water["H+"] * nearly_water["OH-"])
    acid = activities["H+"] ** 2 * activities["SO4-2"]
    from_activities = 2.0501 + 8.314462618 * 298.15 / 96485.33212 * math.log(acid / water)
    assert rest_voltage_from_molality(molality) == pytest.approx(from_activities, abs=0.003)


@pytest.mark.parametrize("molality", MOLALITIES)
def test_density_is_within_2_of_the_pitzer_volumes(pitzer: phreeqpython.PhreeqPython, molality: float) -> None:
    independent = 1000.0 * _acid(pitzer, molality).density
    assert density(weight_percent_from_molality(molality), 25.0) == pytest.approx(independent, abs=2.0)


@pytest.mark.parametrize(
    ("molality", "printed"),
    # Bode, Lead-Acid Batteries (1977), both electrodes, as an open model package evaluates them.
    [(0.5, 1.8814), (1.0, 1.9220), (2.0, 1.9746), (3.0, 2.0168), (4.0, 2.0546), (5.0, 2.0896), (6.0, 2.1226)],
)
def test_rest_voltage_is_bodes(molality: float, printed: float) -> None:
    assert rest_voltage_from_molality(molality) == pytest.approx(printed, abs=0.0002)


@pytest.mark.parametrize("gravity", [1.235, 1.250, 1.265, 1.280, 1.300])
def test_the_trades_rule_holds_for_a_charged_cell(gravity: float) -> None:
    # Gravity + 0.845: common practice, no source.
    assert rest_voltage(gravity) == pytest.approx(gravity + 0.845, abs=0.003)


@pytest.mark.parametrize(
    ("gravity", "block"), [(1.265, 12.70), (1.225, 12.40), (1.190, 12.20), (1.155, 12.00), (1.120, 11.90)]
)
def test_rest_voltage_of_six_cells_is_that_of_the_printed_charge_table(gravity: float, block: float) -> None:
    # Deep-cycle table; common practice, no source. Its own tolerance is 0.05 V, and it is rounded to 0.1 V.
    assert 6 * rest_voltage(gravity) == pytest.approx(block, abs=0.07)


def test_a_cell_is_about_2_volts_and_twelve_make_24() -> None:
    # Nominal 2 V per cell: common practice, no source. Half discharged is the middle of a cell's life.
    assert rest_voltage(1.190) == pytest.approx(2.0, abs=0.05)
    assert 12 * rest_voltage(1.150) == pytest.approx(24.0, abs=0.2)


@pytest.mark.parametrize("volts", [0.0, 1.75, 1.87, 2.17, 2.4])
def test_a_voltage_at_which_no_sound_cell_rests_is_refused(volts: float) -> None:
    with pytest.raises(ValueError, match="no sound cell rests"):
        gravity_from_rest_voltage(volts)


@pytest.mark.parametrize("molality", [0.49, 7.01])
def test_acid_outside_the_confirmed_range_has_no_rest_voltage(molality: float) -> None:
    with pytest.raises(ValueError, match="outside the rest-voltage formula"):
        rest_voltage_from_molality(molality)
