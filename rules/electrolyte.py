"""Battery acid: density, strength, rest voltage, freezing point.

Specific gravity here is density over the density of water at the same temperature. Every function raises where its
published basis ends; none goes on with a number beyond it.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import log10

#: Molar mass of sulphuric acid [kg/mol].
MOLAR_MASS = 0.098079

#: Density at 20 degC as a polynomial in weight percent, fitted by us to the table of source 1 (0-42 wt%, largest
#: residual 0.32 kg/m3).
_AT_20 = (998.2, 6.288475, 0.05552898, -9.598186e-4, 1.0031120e-5)
#: Change with (t - 20 degC), then with its square, as polynomials in weight percent; fitted by us to the columns
#: 0-50 degC of source 2 (from memory; largest residual 0.33 kg/m3).
_SLOPE = (-0.1877654, -0.02577961, 2.945962e-4)
_CURVE = (-5.023788e-3, 3.236320e-4, -4.699188e-6)

#: Strongest acid of source 1's table that the fit covers [1], in weight percent.
STRONGEST = 42.0

#: Bode's rest voltage as a polynomial in log10 of molality; source 3.
_BODE = (1.922, 0.148, 0.063, 0.074, 0.034)
WEAKEST_MOLALITY, STRONGEST_MOLALITY = 0.5, 7.0

#: Specific gravity [1] and freezing point [degC]; sources 4, 5 and 6, the middle where they differ.
_FREEZING = (
    (1.000, 0.0),
    (1.050, -2.8),
    (1.100, -7.5),
    (1.150, -15.0),
    (1.160, -17.2),
    (1.200, -27.0),
    (1.220, -35.0),
    (1.250, -52.2),
    (1.265, -59.4),
    (1.280, -67.8),
)


def _polynomial(coefficients: tuple[float, ...], x: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total


def _inverse(rising: Callable[[float], float], target: float, low: float, high: float) -> float:
    """Argument at which a rising function reaches the target, to the last bit that bisection can tell."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if rising(middle) < target else (low, middle)
    return 0.5 * (low + high)


def density(weight_percent: float, temperature: float) -> float:
    """Density of aqueous sulphuric acid.

    Parameters
    ----------
    weight_percent : float
        Acid in the solution, 0 to 42 [percent].
    temperature : float
        0 to 50 [degC].

    Returns
    -------
    float
        [kg/m^3].

    Raises
    ------
    ValueError
        Acid stronger, or temperature further off, than the tables behind the fit.

    Notes
    -----
    Sources 1 and 2. Within 0.4 kg/m3 of the table at 20 degC, and within 2 kg/m3 of an independent model over
    10-40 wt% and 10-50 degC (3 kg/m3 at 0 degC).

    Examples
    --------
    >>> round(density(30.0, 20.0), 1)
    1219.0
    """
    if not 0.0 <= weight_percent <= STRONGEST:
        raise ValueError(f"acid of {weight_percent:g} wt% is outside the density table, 0 to {STRONGEST:g} wt%")
    if not 0.0 <= temperature <= 50.0:
        raise ValueError(f"electrolyte at {temperature:g} degC is outside the density table, 0 to 50 degC")
    step = temperature - 20.0
    warmer = _polynomial(_SLOPE, weight_percent) + step * _polynomial(_CURVE, weight_percent)
    return _polynomial(_AT_20, weight_percent) + step * warmer


def specific_gravity(weight_percent: float, temperature: float = 25.0) -> float:
    """Density over that of water at the same temperature.

    Parameters
    ----------
    weight_percent : float
        Acid in the solution, 0 to 42 [percent].
    temperature : float
        0 to 50 [degC].

    Returns
    -------
    float
        Specific gravity [1].

    Raises
    ------
    ValueError
        As `density`.

    Notes
    -----
    Sources 1 and 2.

    Examples
    --------
    >>> round(specific_gravity(35.6), 3)
    1.265
    """
    return density(weight_percent, temperature) / density(0.0, temperature)


def weight_percent_from_gravity(gravity: float, temperature: float = 25.0) -> float:
    """Strength of an acid from its specific gravity.

    Parameters
    ----------
    gravity : float
        Density over that of water at the same temperature [1].
    temperature : float
        Of both, 0 to 50 [degC].

    Returns
    -------
    float
        Acid in the solution [percent].

    Raises
    ------
    ValueError
        Lighter than water, or stronger than 42 wt% (about 1.323 at 25 degC).

    Notes
    -----
    Inverse of `specific_gravity`; sources 1 and 2.

    Examples
    --------
    >>> round(weight_percent_from_gravity(1.265), 1)
    35.6
    """
    strongest = specific_gravity(STRONGEST, temperature)
    if not 1.0 <= gravity <= strongest:
        raise ValueError(f"specific gravity {gravity:g} is outside battery acid, 1.000 to {strongest:.3f}")
    return _inverse(lambda percent: specific_gravity(percent, temperature), gravity, 0.0, STRONGEST)


def molality(weight_percent: float) -> float:
    """Moles of acid per kilogram of water.

    Parameters
    ----------
    weight_percent : float
        Acid in the solution [percent].

    Returns
    -------
    float
        [mol/kg].

    Raises
    ------
    ValueError
        Under nothing, or no water left.

    Notes
    -----
    Definition; molar mass of source 7.

    Examples
    --------
    >>> round(molality(30.0), 2)
    4.37
    """
    if not 0.0 <= weight_percent < 100.0:
        raise ValueError(f"{weight_percent:g} wt% is no solution of acid in water")
    return weight_percent / (MOLAR_MASS * (100.0 - weight_percent))


def weight_percent_from_molality(molality: float) -> float:
    """Weight percent of acid from moles per kilogram of water.

    Parameters
    ----------
    molality : float
        [mol/kg].

    Returns
    -------
    float
        Acid in the solution [percent].

    Raises
    ------
    ValueError
        A negative amount of acid.

    Notes
    -----
    Definition; molar mass of source 7.

    Examples
    --------
    >>> round(weight_percent_from_molality(4.37), 1)
    30.0
    """
    if not molality >= 0.0:
        raise ValueError(f"{molality:g} mol/kg is a negative amount of acid")
    return 100.0 * molality * MOLAR_MASS / (1.0 + molality * MOLAR_MASS)


def rest_voltage_from_molality(molality: float) -> float:
    """Voltage of a rested cell from the molality of its acid, at 25 degC.

    Parameters
    ----------
    molality : float
        0.5 to 7 [mol/kg].

    Returns
    -------
    float
        Per cell [V].

    Raises
    ------
    ValueError
        Acid weaker or stronger than the range over which activities confirm the formula.

    Notes
    -----
    Difference of the two electrode potentials of source 3; within 3 mV of Pitzer activities over 0.5-6.5 mol/kg.

    Examples
    --------
    >>> round(rest_voltage_from_molality(6.0), 4)
    2.1226
    """
    if not WEAKEST_MOLALITY <= molality <= STRONGEST_MOLALITY:
        raise ValueError(
            f"acid of {molality:g} mol/kg is outside the rest-voltage formula, "
            f"{WEAKEST_MOLALITY:g} to {STRONGEST_MOLALITY:g} mol/kg"
        )
    return _polynomial(_BODE, log10(molality))


def rest_voltage(gravity: float) -> float:
    """Voltage of a rested cell from its specific gravity, at 25 degC.

    Parameters
    ----------
    gravity : float
        About 1.031 to 1.308 at 25 degC [1].

    Returns
    -------
    float
        Per cell [V].

    Raises
    ------
    ValueError
        Acid weaker or stronger than the formula holds.

    Notes
    -----
    Source 3 over sources 1 and 2. The trade's "gravity + 0.84" reads up to 22 mV low in a nearly dead cell.

    Examples
    --------
    >>> round(rest_voltage(1.265), 2)
    2.11
    """
    return rest_voltage_from_molality(molality(weight_percent_from_gravity(gravity)))


def gravity_from_rest_voltage(volts: float) -> float:
    """Specific gravity at 25 degC that a rested voltage stands for.

    Parameters
    ----------
    volts : float
        Per cell, after at least six hours of rest [V].

    Returns
    -------
    float
        Specific gravity [1].

    Raises
    ------
    ValueError
        No healthy cell rests there: shorted, reversed, not rested, or dead beyond the formula.

    Notes
    -----
    Inverse of `rest_voltage`; source 3.

    Examples
    --------
    >>> round(gravity_from_rest_voltage(2.11), 3)
    1.264
    """
    lowest = rest_voltage_from_molality(WEAKEST_MOLALITY)
    highest = rest_voltage_from_molality(STRONGEST_MOLALITY)
    if not lowest <= volts <= highest:
        raise ValueError(f"no sound cell rests at {volts:g} V; its acid would give {lowest:.2f} to {highest:.2f} V")
    found = _inverse(rest_voltage_from_molality, volts, WEAKEST_MOLALITY, STRONGEST_MOLALITY)
    return specific_gravity(weight_percent_from_molality(found))


def freezing_point(gravity: float) -> float:
    """Temperature at which electrolyte begins to freeze.

    Parameters
    ----------
    gravity : float
        1.000 to 1.280 [1].

    Returns
    -------
    float
        [degC].

    Raises
    ------
    ValueError
        Outside the printed tables; sources differ by 3 K already at 1.280.

    Notes
    -----
    Straight lines between the printed values of sources 4, 5 and 6.

    Examples
    --------
    >>> freezing_point(1.150)
    -15.0
    >>> round(freezing_point(1.175), 1)
    -20.9
    """
    if not _FREEZING[0][0] <= gravity <= _FREEZING[-1][0]:
        raise ValueError(f"specific gravity {gravity:g} is outside the freezing table, 1.000 to 1.280")
    for (weak, warm), (strong, cold) in pairwise(_FREEZING):
        if gravity <= strong:
            return warm + (cold - warm) * (gravity - weak) / (strong - weak)
    return _FREEZING[-1][1]


def state_of_charge_from_gravity(gravity: float, full: float = 1.265, empty: float = 1.120) -> float:
    """Share of the charge that a corrected gravity stands for.

    Parameters
    ----------
    gravity : float
        Corrected and rested [1].
    full, empty : float
        Of a full and of an empty cell [1].

    Returns
    -------
    float
        0 to 1; weaker than empty is 0, stronger than full is 1 [1].

    Raises
    ------
    ValueError
        A reading that no hydrometer gives, or a full cell that is not stronger than an empty one.

    Notes
    -----
    Straight line; end points are common practice for deep-cycle batteries, no source.

    Examples
    --------
    >>> round(state_of_charge_from_gravity(1.190), 3)
    0.483
    """
    if not 1.0 <= gravity <= 1.4:
        raise ValueError(f"specific gravity {gravity:g} is outside a hydrometer's scale, 1.000 to 1.400")
    if not full > empty:
        raise ValueError(f"a full cell ({full:g}) must be stronger than an empty one ({empty:g})")
    return min(1.0, max(0.0, (gravity - empty) / (full - empty)))
