"""Density of acid against the printed table and against two libraries whose models are not ours."""

from __future__ import annotations

import pytest
from chempy.properties.sulfuric_acid_density_myhre_1998 import sulfuric_acid_density
from thermo.electrochem import Laliberte_density

from rules.laws.electrolyte import density, molality, specific_gravity, weight_percent_from_gravity

# CRC Handbook of Chemistry and Physics, 102nd ed., concentrative properties: wt%, kg/m3 at 20 degC.
CRC = {
    0: 998.2,
    10: 1066.1,
    15: 1102.0,
    20: 1139.8,
    22: 1155.4,
    24: 1171.4,
    26: 1187.2,
    28: 1203.1,
    30: 1219.1,
    32: 1235.3,
    34: 1251.8,
    36: 1268.5,
    38: 1285.5,
    40: 1302.8,
    42: 1320.5,
}


@pytest.mark.parametrize(("weight_percent", "printed"), CRC.items())
def test_density_at_20_degrees_is_that_of_the_printed_table(weight_percent: int, printed: float) -> None:
    assert density(weight_percent, 20.0) == pytest.approx(printed, abs=0.4)


@pytest.mark.parametrize("temperature", [10.0, 15.0, 20.0, 25.0, 26.67, 30.0, 40.0, 50.0])
def test_density_is_within_2_of_an_independent_model_from_10_to_50_degrees(temperature: float) -> None:
    # Laliberte and Cooper, J. Chem. Eng. Data 49 (2004) 1141, as the library `thermo` computes it.
    for weight_percent in range(10, 41):
        independent = Laliberte_density(temperature + 273.15, [weight_percent / 100.0], ["7664-93-9"])
        assert density(weight_percent, temperature) == pytest.approx(independent, abs=2.0), weight_percent


def test_density_at_freezing_is_within_3_of_the_independent_model() -> None:
    # Here the two published bases themselves differ most.
    for weight_percent in range(10, 41):
        independent = Laliberte_density(273.15, [weight_percent / 100.0], ["7664-93-9"])
        assert density(weight_percent, 0.0) == pytest.approx(independent, abs=3.1), weight_percent


@pytest.mark.parametrize("temperature", [5.0, 10.0, 15.0, 20.0, 25.0])
def test_density_is_within_2_of_a_second_independent_model_up_to_25_degrees(temperature: float) -> None:
    # Myhre, Nielsen and Saastad, J. Chem. Eng. Data 43 (1998) 617, as the library `chempy` computes it. Its polynomial
    # turns upward above 30 degC, beyond the paper's measurements, so it is not used there.
    for weight_percent in range(10, 41):
        independent = sulfuric_acid_density(weight_percent / 100.0, temperature + 273.15)
        assert density(weight_percent, temperature) == pytest.approx(independent, abs=2.0), weight_percent


@pytest.mark.parametrize(
    ("weight_percent", "printed"),
    # International Critical Tables as printed in Perry's, 25 degC; from memory.
    [(20.0, 1136.5), (30.0, 1215.0), (40.0, 1299.1)],
)
def test_density_at_25_degrees_is_that_of_the_critical_tables(weight_percent: float, printed: float) -> None:
    assert density(weight_percent, 25.0) == pytest.approx(printed, abs=1.0)


@pytest.mark.parametrize("gravity", [1.050, 1.100, 1.120, 1.150, 1.190, 1.200, 1.225, 1.250, 1.265, 1.280, 1.300])
def test_strength_from_gravity_agrees_with_the_independent_model(gravity: float) -> None:
    # The library's own acid and water at 25 degC give the gravity back within two points.
    strength = weight_percent_from_gravity(gravity) / 100.0
    acid, water = (Laliberte_density(298.15, [part], ["7664-93-9"]) for part in (strength, 0.0))
    assert acid / water == pytest.approx(gravity, abs=0.002)


def test_molality_of_30_percent_is_the_printed_one() -> None:
    assert molality(30.0) == pytest.approx(4.370, abs=0.001)  # CRC, same table


@pytest.mark.parametrize(("weight_percent", "temperature"), [(42.1, 20.0), (-0.1, 20.0), (30.0, -0.1), (30.0, 50.1)])
def test_density_outside_the_tables_is_refused(weight_percent: float, temperature: float) -> None:
    with pytest.raises(ValueError, match="outside the density table"):
        density(weight_percent, temperature)


def test_gravity_outside_battery_acid_is_refused() -> None:
    with pytest.raises(ValueError, match="outside battery acid"):
        weight_percent_from_gravity(0.99)
    with pytest.raises(ValueError, match="outside battery acid"):
        weight_percent_from_gravity(specific_gravity(42.0) + 0.001)
