"""What a rested cell tells: its voltage from its acid and back, and the charge its gravity stands for."""

from __future__ import annotations

from math import log10

from rules.laws.curves import argument, finite, polynomial
from rules.laws.electrolyte import molality, specific_gravity, weight_percent_from_gravity, weight_percent_from_molality
from rules.laws.hydrometer import STRONGEST, WEAKEST

#: Bode's rest voltage as a polynomial in log10 of molality; source 3.
_BODE = (1.922, 0.148, 0.063, 0.074, 0.034)
WEAKEST_MOLALITY, STRONGEST_MOLALITY = 0.5, 7.0


def rest_voltage_from_molality(molality: float) -> float:
    """Return voltage of a rested cell from the molality of its acid, at 25 degC.

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
    return polynomial(_BODE, log10(molality))


def rest_voltage(gravity: float) -> float:
    """Return voltage of a rested cell from its specific gravity, at 25 degC.

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
    """Return specific gravity at 25 degC that a rested voltage stands for.

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
    found = argument(rest_voltage_from_molality, volts, WEAKEST_MOLALITY, STRONGEST_MOLALITY)
    return specific_gravity(weight_percent_from_molality(found))


def state_of_charge_from_gravity(gravity: float, full: float = 1.265, empty: float = 1.120) -> float:
    """Return share of the charge that a corrected gravity stands for.

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
    if not WEAKEST <= gravity <= STRONGEST:
        raise ValueError(f"specific gravity {gravity:g} is outside a hydrometer's scale, 1.000 to 1.400")
    if not (full > empty and finite(full, empty)):
        raise ValueError(f"a full cell ({full:g}) must be stronger than an empty one ({empty:g})")
    return min(1.0, max(0.0, (gravity - empty) / (full - empty)))
