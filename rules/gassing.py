"""Gas, water and heat that follow from current: Faraday's law, air needed, water used."""

from __future__ import annotations

from math import exp

#: Faraday constant [C/mol] and gas constant [J/(mol K)]; source 7.
FARADAY = 96485.33212
GAS_CONSTANT = 8.314462618
#: Molar mass of water [g/mol]; source 7.
WATER_MOLAR_MASS = 18.01528
#: Atmospheric pressure at which gas volumes are given [Pa].
PRESSURE = 101325.0
#: Voltage at which splitting water neither heats nor cools: 285.83 kJ/mol over two charges; source 1 [V].
THERMONEUTRAL = 1.481
#: Gassing current of a sound antimony cell at 2.23 V and 25 degC, per 100 Ah [A]; source 9, the value from memory.
EXCHANGE = 0.020
#: An aged cell gasses several times as much; source 9 names a factor of five or more [1].
AGED = 5.0
#: Highest cell voltage to which the gassing law is trusted [V].
HIGHEST = 2.8
#: Hydrogen in air: explosive from 4 percent, the aim is a quarter of that; sources 10 and 11 [1].
EXPLOSIVE_FRACTION = 0.04
SAFE_FRACTION = 0.01
#: Gas keeps coming after the charger stops; source 12 [h].
GAS_AFTER_CHARGE = 1.0


def water_split(current: float, cells: float = 1, faraday: float = FARADAY) -> float:
    """Water split by a current through cells in series.

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
    if not current >= 0:
        raise ValueError(f"a current of {current} A splits no water; only charging current (0 or more) does")
    if not cells > 0:
        raise ValueError(f"{cells} cells make no gas; count cells in series")
    return cells * current / (2.0 * faraday)


def molar_volume(temperature: float, pressure: float = PRESSURE) -> float:
    """Volume of a mole of ideal gas.

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
    if not -40.0 <= temperature <= 80.0:
        raise ValueError(f"gas at {temperature:g} degC is outside a battery room, -40 to 80 degC")
    if not pressure > 0:
        raise ValueError(f"gas has no volume at {pressure} Pa")
    return 1000.0 * GAS_CONSTANT * (temperature + 273.15) / pressure


def hydrogen_rate(current: float, cells: float, temperature: float = 25.0) -> float:
    """Hydrogen from a current that all makes gas.

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
    """Oxygen from a current that all makes gas: half the hydrogen.

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
    """Water that each cell loses to a current that all makes gas.

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
    """How far the level falls when water is lost.

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
    if not water >= 0:
        raise ValueError(f"{water} g of lost water cannot be; loss is 0 or more")
    if not surface > 0:
        raise ValueError(f"a cell with a free surface of {surface} cm2 holds no water")
    return 10.0 * water * 1.003 / surface


def gassing_current(volts_per_cell: float, temperature: float, capacity: float, exchange: float = EXCHANGE) -> float:
    """Current that splits water in a cell at this voltage.

    Parameters
    ----------
    volts_per_cell : float
        0 to 2.8 [V].
    temperature : float
        Of the electrolyte, -20 to 60 [degC].
    capacity : float
        Rated at the 20-hour rate, of the strings together [Ah].
    exchange : float
        At 2.23 V and 25 degC per 100 Ah, up to five times more and beyond when aged [A].

    Returns
    -------
    float
        [A].

    Raises
    ------
    ValueError
        Voltage or temperature outside the law, or no capacity.

    Notes
    -----
    Source 9: 11 per volt and 0.06 per kelvin, so ten times more per 0.21 V and twice per 11.6 K.

    Examples
    --------
    >>> round(gassing_current(2.58, 25.0, 100.0), 2)
    0.94
    """
    if not 0.0 <= volts_per_cell <= HIGHEST:
        raise ValueError(f"{volts_per_cell:g} V per cell is outside the gassing law, 0 to {HIGHEST:g} V")
    if not -20.0 <= temperature <= 60.0:
        raise ValueError(f"electrolyte at {temperature:g} degC is outside the gassing law, -20 to 60 degC")
    if not (capacity > 0 and exchange > 0):
        raise ValueError(f"{capacity} Ah with {exchange} A per 100 Ah is no battery that gasses")
    return exchange * capacity / 100.0 * exp(11.0 * (volts_per_cell - 2.23) + 0.06 * (temperature - 25.0))


def gassing_share(
    volts_per_cell: float, temperature: float, capacity: float, current: float, exchange: float = EXCHANGE
) -> float:
    """Share of a charging current that makes gas.

    Has an answer for every reading a meter can give, and where the law ends it errs to more gas: above 2.8 V per cell
    or 60 degC all of the current, under -20 degC as much as at -20 degC.

    Parameters
    ----------
    volts_per_cell : float
        [V].
    temperature : float
        Of the electrolyte [degC].
    capacity : float
        Rated at the 20-hour rate, of the strings together [Ah].
    current : float
        Positive = charging; 0 or less makes no gas [A].
    exchange : float
        At 2.23 V and 25 degC per 100 Ah [A].

    Returns
    -------
    float
        0 to 1 [1].

    Raises
    ------
    ValueError
        No capacity.

    Notes
    -----
    Source 9.

    Examples
    --------
    >>> round(gassing_share(2.58, 25.0, 200.0, 10.0), 3)
    0.188
    >>> gassing_share(2.70, 40.0, 200.0, 4.0)
    1.0
    """
    if current <= 0.0:
        return 0.0
    if volts_per_cell > HIGHEST or temperature > 60.0:
        return 1.0
    makes_gas = gassing_current(max(0.0, volts_per_cell), max(-20.0, temperature), capacity, exchange)
    return min(1.0, makes_gas / current)


def ventilation_needed(current: float, cells: float) -> float:
    """Air that keeps hydrogen under the limit while this current makes gas.

    Parameters
    ----------
    current : float
        Of the bank, all strings together [A].
    cells : float
        In series [1].

    Returns
    -------
    float
        [m^3/h].

    Raises
    ------
    ValueError
        A negative current or no cells.

    Notes
    -----
    Source 13: 24 volumes of air per volume of hydrogen, 0.42 L per Ah, five-fold safety: 0.0504 per cell and ampere.
    Equalising lies above the voltages of its tables, so the whole current is taken.

    Examples
    --------
    >>> round(ventilation_needed(50.0, 12), 1)
    30.2
    """
    if not (current >= 0 and cells > 0):
        raise ValueError(f"{current} A through {cells} cells makes no gas to ventilate; only charging current does")
    return 24.0 * 0.42e-3 * 5.0 * cells * current


def opening_area(ventilation: float) -> float:
    """Free opening in, and the same out, for natural ventilation.

    Parameters
    ----------
    ventilation : float
        [m^3/h].

    Returns
    -------
    float
        Of each of the two openings [cm^2].

    Raises
    ------
    ValueError
        A negative flow.

    Notes
    -----
    Source 13: 28 cm2 per m3/h, air moving at 0.1 m/s.

    Examples
    --------
    >>> round(opening_area(30.24))
    847
    """
    if not ventilation >= 0:
        raise ValueError(f"a flow of {ventilation} m3/h needs no opening; it is 0 or more")
    return 28.0 * ventilation


def hours_to_fraction(room_volume: float, hydrogen_rate: float, fraction: float = SAFE_FRACTION) -> float:
    """Hours until hydrogen reaches a fraction in a closed, well mixed room.

    Parameters
    ----------
    room_volume : float
        Free volume [m^3].
    hydrogen_rate : float
        [L/h].
    fraction : float
        By volume, over 0 up to 0.04 [1].

    Returns
    -------
    float
        Infinite where no hydrogen is made [h].

    Raises
    ------
    ValueError
        No room, a negative rate, or a fraction that would explode.

    Notes
    -----
    Volume balance. Real gas collects under the ceiling sooner; a bound, not a permission.

    Examples
    --------
    >>> round(hours_to_fraction(20.0, hydrogen_rate(10.0, 12)), 2)
    3.65
    """
    if not (room_volume > 0 and hydrogen_rate >= 0):
        raise ValueError(f"{hydrogen_rate} L/h into {room_volume} m3 is no room filling with hydrogen")
    if not 0.0 < fraction <= EXPLOSIVE_FRACTION:
        raise ValueError(f"a hydrogen fraction of {fraction:g} is not between 0 and {EXPLOSIVE_FRACTION:g} (explosive)")
    return 1000.0 * room_volume * fraction / hydrogen_rate if hydrogen_rate else float("inf")


def gassing_heat(current: float, volts_per_cell: float, thermoneutral: float = THERMONEUTRAL) -> float:
    """Heat that a gassing current leaves in each cell.

    Parameters
    ----------
    current : float
        That makes gas [A].
    volts_per_cell : float
        At least the thermoneutral voltage [V].
    thermoneutral : float
        At which splitting water neither heats nor cools [V].

    Returns
    -------
    float
        Per cell [W].

    Raises
    ------
    ValueError
        A negative current, or a voltage at which water is not split.

    Notes
    -----
    Energy balance; enthalpy of water of source 1.

    Examples
    --------
    >>> round(3 * gassing_heat(10.0, 2.58), 1)
    33.0
    """
    if not current >= 0:
        raise ValueError(f"a current of {current} A makes no gas; only charging current (0 or more) does")
    if not volts_per_cell >= thermoneutral:
        raise ValueError(f"{volts_per_cell} V per cell does not split water; gassing needs {thermoneutral} V")
    return current * (volts_per_cell - thermoneutral)
