"""Faraday's law at a current that all makes gas: hydrogen, oxygen, and the water it costs."""

from __future__ import annotations

from rules.laws.curves import finite

#: Faraday constant [C/mol] and gas constant [J/(mol K)]; source 7.
FARADAY = 96485.33212
GAS_CONSTANT = 8.314462618
#: Molar mass of water [g/mol]; source 7.
WATER_MOLAR_MASS = 18.01528
#: Atmospheric pressure at which gas volumes are given [Pa].
PRESSURE = 101325.0
#: Gas in a battery room [degC]; outside these a probe is wrong. Common practice, no source.
COLDEST_ROOM, WARMEST_ROOM = -40.0, 80.0


def water_split(current: float, cells: float = 1, faraday: float = FARADAY) -> float:
    """Return water split by a current through cells in series.

    Parameters
    ----------
    current : float
        That makes gas [A].
    cells : float
        In series [1].
    faraday : float
        Charge of a mole of electrons [C/mol].

    Returns
    -------
    float
        Also hydrogen made; oxygen is half of it [mol/s].

    Raises
    ------
    ValueError
        A negative current: discharge splits no water.

    Notes
    -----
    Faraday's law with two electrons per molecule; constant of source 7.

    Examples
    --------
    >>> round(3600.0 * water_split(1.0), 6)
    0.018656
    """
    if not (current >= 0 and cells > 0 and finite(current, cells, faraday)):
        if not (current >= 0 and finite(current)):
            raise ValueError(f"a current of {current} A splits no water; only charging current (0 or more) does")
        raise ValueError(f"{cells} cells make no gas; count cells in series")
    return cells * current / (2.0 * faraday)


def molar_volume(temperature: float, pressure: float = PRESSURE) -> float:
    """Return volume of a mole of ideal gas.

    Parameters
    ----------
    temperature : float
        -40 to 80 [degC].
    pressure : float
        [Pa].

    Returns
    -------
    float
        [L/mol].

    Raises
    ------
    ValueError
        A temperature no battery room has, or no pressure.

    Notes
    -----
    Gas law; constant of source 7. Hydrogen differs by 0.06 percent.

    Examples
    --------
    >>> round(molar_volume(0.0), 3)
    22.414
    """
    if not COLDEST_ROOM <= temperature <= WARMEST_ROOM:
        raise ValueError(f"gas at {temperature:g} degC is outside a battery room, -40 to 80 degC")
    if not (pressure > 0 and finite(pressure)):
        raise ValueError(f"gas has no volume at {pressure} Pa")
    return 1000.0 * GAS_CONSTANT * (temperature + 273.15) / pressure


def hydrogen_rate(current: float, cells: float, temperature: float = 25.0) -> float:
    """Return hydrogen from a current that all makes gas.

    Parameters
    ----------
    current : float
        [A].
    cells : float
        In series [1].
    temperature : float
        Of the gas, -40 to 80 [degC].

    Returns
    -------
    float
        At 101.325 kPa [L/h].

    Raises
    ------
    ValueError
        A negative current, or a temperature no battery room has.

    Notes
    -----
    Source 7; no recombination is credited in vented cells.

    Examples
    --------
    >>> round(hydrogen_rate(1.0, 1), 4)
    0.4564
    """
    return 3600.0 * water_split(current, cells) * molar_volume(temperature)


def oxygen_rate(current: float, cells: float, temperature: float = 25.0) -> float:
    """Return oxygen from a current that all makes gas: half the hydrogen.

    Parameters
    ----------
    current : float
        [A].
    cells : float
        In series [1].
    temperature : float
        Of the gas, -40 to 80 [degC].

    Returns
    -------
    float
        At 101.325 kPa [L/h].

    Raises
    ------
    ValueError
        As `hydrogen_rate`.

    Notes
    -----
    Source 7.

    Examples
    --------
    >>> round(oxygen_rate(1.0, 1), 4)
    0.2282
    """
    return 0.5 * hydrogen_rate(current, cells, temperature)


def water_rate(current: float) -> float:
    """Return water that each cell loses to a current that all makes gas.

    Parameters
    ----------
    current : float
        Of the string [A].

    Returns
    -------
    float
        Per cell [g/h].

    Raises
    ------
    ValueError
        A negative current.

    Notes
    -----
    Source 7.

    Examples
    --------
    >>> round(water_rate(1.0), 5)
    0.33609
    """
    return 3600.0 * water_split(current) * WATER_MOLAR_MASS


def level_drop(water: float, surface: float) -> float:
    """Return how far the level falls when water is lost.

    Parameters
    ----------
    water : float
        Lost by one cell, 1 g counted as 1.003 mL (25 degC) [g].
    surface : float
        Free surface above the plates of one cell [cm^2].

    Returns
    -------
    float
        [mm].

    Raises
    ------
    ValueError
        Negative water or no surface.

    Notes
    -----
    Geometry; density of water of source 1.

    Examples
    --------
    >>> round(level_drop(80.7, 120.0), 1)
    6.7
    """
    if not (water >= 0 and finite(water)):
        raise ValueError(f"{water} g of lost water cannot be; loss is 0 or more")
    if not (surface > 0 and finite(surface)):
        raise ValueError(f"a cell with a free surface of {surface} cm2 holds no water")
    return 10.0 * water * 1.003 / surface
