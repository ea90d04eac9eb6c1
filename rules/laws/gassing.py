"""How much of a charging current makes gas, and how warm that makes the cells."""

from __future__ import annotations

from math import exp

from rules.laws.curves import finite

#: Voltage at which splitting water neither heats nor cools: 285.83 kJ/mol over two charges; source 1 [V].
THERMONEUTRAL = 1.481
#: Gassing current of a sound antimony cell at 2.23 V and 25 degC, per 100 Ah [A]; source 9, the value from memory.
EXCHANGE = 0.020
#: An aged cell gasses several times as much; source 9 names a factor of five or more [1].
AGED = 5.0
#: Voltage from which a cell gasses at 25 degC: the change-over of a two-rate charger, US Army TM 10-6140-200-14 p. 16
#: (source 6) [V]; and how it moves with the electrolyte [V/K], from memory.
ONSET, ONSET_PER_KELVIN = 2.37, -0.005
#: Highest cell voltage to which the gassing law is trusted [V].
HIGHEST = 2.8
#: Electrolyte for which the law was measured, and a little beyond [degC]; source 9.
COLDEST_CELL, WARMEST_CELL = -20.0, 60.0


def gassing_current(volts_per_cell: float, temperature: float, capacity: float, exchange: float = EXCHANGE) -> float:
    """Return current that splits water in a cell at this voltage.

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
    if not COLDEST_CELL <= temperature <= WARMEST_CELL:
        raise ValueError(f"electrolyte at {temperature:g} degC is outside the gassing law, -20 to 60 degC")
    if not (capacity > 0 and exchange > 0 and finite(capacity, exchange)):
        raise ValueError(f"{capacity} Ah with {exchange} A per 100 Ah is no battery that gasses")
    return exchange * capacity / 100.0 * exp(11.0 * (volts_per_cell - 2.23) + 0.06 * (temperature - 25.0))


def gassing_onset(temperature: float) -> float:
    """Return voltage of a cell from which a charging current makes gas.

    Parameters
    ----------
    temperature : float
        Of the electrolyte [degC].

    Returns
    -------
    float
        Per cell [V].

    Notes
    -----
    Source 6 at 77 degF; 5 mV less for each kelvin warmer from memory, under the curves in print on either side.

    Examples
    --------
    >>> gassing_onset(25.0), round(gassing_onset(0.0), 3)
    (2.37, 2.495)
    """
    return ONSET + ONSET_PER_KELVIN * (temperature - 25.0)


def gassing_share(
    volts_per_cell: float, temperature: float, capacity: float, current: float, exchange: float = EXCHANGE
) -> float:
    """Return share of a charging current that makes gas.

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
    if not (volts_per_cell <= HIGHEST and temperature <= WARMEST_CELL):  # also where there is no number
        return 1.0
    makes_gas = gassing_current(max(0.0, volts_per_cell), max(COLDEST_CELL, temperature), capacity, exchange)
    return min(1.0, makes_gas / current)


def gassing_heat(current: float, volts_per_cell: float, thermoneutral: float = THERMONEUTRAL) -> float:
    """Return heat that a gassing current leaves in each cell.

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
    if not (current >= 0 and finite(current)):
        raise ValueError(f"a current of {current} A makes no gas; only charging current (0 or more) does")
    if not (volts_per_cell >= thermoneutral and finite(volts_per_cell, thermoneutral)):
        raise ValueError(f"{volts_per_cell} V per cell does not split water; gassing needs {thermoneutral} V")
    return current * (volts_per_cell - thermoneutral)
