"""Battery acid: density, strength, freezing point.

Specific gravity here is density over the density of water at the same temperature. Every function raises where its
published basis ends; none goes on with a number beyond it.
"""

from __future__ import annotations

from itertools import pairwise

from rules.laws.curves import argument, finite, polynomial

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


#: Specific gravity [1] and freezing point [degC]; sources 4, 5 and 6, the middle where two of them differ (1.100 and
#: 1.200). The points at 1.050 and 1.265 stand only in a maker's sheet, source 22.
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
#: The density table ends here [degC]; source 1.
WARMEST_ACID = 50.0
#: Everything is acid, and no water is left [wt%].
NO_WATER = 100.0


def density(weight_percent: float, temperature: float) -> float:
    """Return density of aqueous sulphuric acid.

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
    if not 0.0 <= temperature <= WARMEST_ACID:
        raise ValueError(f"electrolyte at {temperature:g} degC is outside the density table, 0 to 50 degC")
    step = temperature - 20.0
    warmer = polynomial(_SLOPE, weight_percent) + step * polynomial(_CURVE, weight_percent)
    return polynomial(_AT_20, weight_percent) + step * warmer


def specific_gravity(weight_percent: float, temperature: float = 25.0) -> float:
    """Return density over that of water at the same temperature.

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
    """Return strength of an acid from its specific gravity.

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
    return argument(lambda percent: specific_gravity(percent, temperature), gravity, 0.0, STRONGEST)


def molality(weight_percent: float) -> float:
    """Return moles of acid per kilogram of water.

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
    if not 0.0 <= weight_percent < NO_WATER:
        raise ValueError(f"{weight_percent:g} wt% is no solution of acid in water")
    return weight_percent / (MOLAR_MASS * (NO_WATER - weight_percent))


def weight_percent_from_molality(molality: float) -> float:
    """Return weight percent of acid from moles per kilogram of water.

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
    if not (molality >= 0.0 and finite(molality)):
        raise ValueError(f"{molality:g} mol/kg is a negative amount of acid")
    return 100.0 * molality * MOLAR_MASS / (1.0 + molality * MOLAR_MASS)


def freezing_point(gravity: float) -> float:
    """Return temperature at which electrolyte begins to freeze.

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
    Straight lines between the printed values of sources 4, 5, 6 and 22.

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
