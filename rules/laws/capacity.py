"""What ampere-hours mean at another rate and temperature, and where a discharge test ends."""

from __future__ import annotations

from rules.laws.curves import finite

#: Flooded deep-cycle batteries between 5 h and 20 h lie at 1.13 to 1.17; common practice, no source [1].
EXPONENT = 1.15
#: Change of capacity per kelvin in tests over three hours [1/K]; source 18.
PER_KELVIN = 0.006
#: Ends of a test per cell [V]: of the bank, and of any single cell, whichever comes first; source 15.
END_VOLTAGE = 1.75
END_VOLTAGE_CELL = 1.65
#: Peukert exponents of lead-acid batteries lie between no effect and this [1]; source 19.
STEEPEST_EXPONENT = 1.5
#: Peukert's rule holds for discharges between these hours [h]; source 19.
SHORTEST_DISCHARGE, LONGEST_DISCHARGE = 0.5, 120.0
#: Electrolyte at which a capacity test can be corrected [degC]; source 16.
COLDEST_TEST, WARMEST_TEST = 0.0, 45.0
#: More than the capacity changes per kelvin [1/K]; 0.006 to 0.01 is usual, source 16.
LARGEST_PER_KELVIN = 0.02
#: A test that ends lower harms, one that ends higher says nothing [V per cell]; sources 15 and 16.
LOWEST_END, HIGHEST_END = 1.60, 1.95


def percent_of_rated(delivered: float, rated: float) -> float:
    """Return capacity as percent of what is rated; hours over hours at the same current give the same.

    Parameters
    ----------
    delivered : float
        [Ah].
    rated : float
        At the same rate [Ah].

    Returns
    -------
    float
        [percent].

    Raises
    ------
    ValueError
        No rating, or less than nothing delivered.

    Notes
    -----
    Source 15.

    Examples
    --------
    >>> percent_of_rated(7.5, 10.0)
    75.0
    """
    if not (rated > 0 and delivered >= 0 and finite(rated, delivered)):
        raise ValueError(f"{delivered} Ah of {rated} Ah is no share of a rating")
    return 100.0 * delivered / rated


def peukert_hours(current: float, capacity: float, exponent: float = EXPONENT, hours: float = 20.0) -> float:
    """Return hours that a battery as rated lasts at another current.

    Parameters
    ----------
    current : float
        Of the discharge [A].
    capacity : float
        Rated [Ah].
    exponent : float
        1 to 1.5 [1].
    hours : float
        At which it is rated [h].

    Returns
    -------
    float
        0.5 to 120 [h].

    Raises
    ------
    ValueError
        No current or capacity, an exponent that no battery has, or a rate too far from the rated one.

    Notes
    -----
    Source 19, in the form that keeps the rated hours.

    Examples
    --------
    >>> round(peukert_hours(20.0, 200.0, 1.2), 3)
    8.706
    """
    if not (current > 0 and capacity > 0 and hours > 0):
        raise ValueError(f"{capacity} Ah at {hours} h discharged with {current} A is no discharge")
    if not 1.0 <= exponent <= STEEPEST_EXPONENT:
        raise ValueError(f"a Peukert exponent of {exponent:g} is outside lead-acid batteries, 1 to 1.5")
    lasts = hours * (capacity / (current * hours)) ** exponent
    if not SHORTEST_DISCHARGE <= lasts <= LONGEST_DISCHARGE:
        raise ValueError(f"{current:g} A would last {lasts:.3g} h; Peukert's rule holds from half an hour to 120 h")
    return float(lasts)


def peukert_capacity(current: float, capacity: float, exponent: float = EXPONENT, hours: float = 20.0) -> float:
    """Return ampere-hours that a battery as rated gives at another current.

    Parameters
    ----------
    current : float
        Of the discharge [A].
    capacity : float
        Rated [Ah].
    exponent : float
        1 to 1.5 [1].
    hours : float
        At which it is rated [h].

    Returns
    -------
    float
        [Ah].

    Raises
    ------
    ValueError
        As `peukert_hours`.

    Notes
    -----
    Source 19.

    Examples
    --------
    >>> round(peukert_capacity(20.0, 200.0, 1.2), 1)
    174.1
    """
    return current * peukert_hours(current, capacity, exponent, hours)


def temperature_corrected(
    delivered: float, temperature: float, coefficient: float = PER_KELVIN, reference: float = 25.0
) -> float:
    """Return ampere-hours as they would have been at the reference temperature.

    Parameters
    ----------
    delivered : float
        [Ah].
    temperature : float
        Of the electrolyte at the start, 0 to 45 [degC].
    coefficient : float
        0.006 for tests over three hours, 0.01 for one hour and less [1/K].
    reference : float
        0 to 45 [degC].

    Returns
    -------
    float
        [Ah].

    Raises
    ------
    ValueError
        Too cold or too hot for the rule, a coefficient that cannot be, or less than nothing delivered.

    Notes
    -----
    Source 18, carried over from its 20 degC to 25 degC.

    Examples
    --------
    >>> round(temperature_corrected(154.0, 15.0), 1)
    163.8
    """
    if not (delivered >= 0 and finite(delivered)):
        raise ValueError(f"{delivered} Ah is less than nothing")
    for degrees in (temperature, reference):
        if not COLDEST_TEST <= degrees <= WARMEST_TEST:
            raise ValueError(f"a capacity test at {degrees:g} degC cannot be corrected; only 0 to 45 degC can")
    if not 0.0 <= coefficient <= LARGEST_PER_KELVIN:
        raise ValueError(f"capacity does not change by {coefficient:g} per kelvin; 0.006 to 0.01 is usual")
    return delivered / (1.0 + coefficient * (temperature - reference))


def end_voltage(cells: int, per_cell: float = END_VOLTAGE) -> float:
    """Return bank or block voltage at which a capacity test ends.

    Parameters
    ----------
    cells : int
        In series [1].
    per_cell : float
        1.60 to 1.95 [V].

    Returns
    -------
    float
        [V].

    Raises
    ------
    ValueError
        No cells, or an end voltage that harms or says nothing.

    Notes
    -----
    Sources 15 and 16.

    Examples
    --------
    >>> end_voltage(12)
    21.0
    """
    if not (cells >= 1 and finite(cells)):
        raise ValueError(f"{cells} cells cannot be tested")
    if not LOWEST_END <= per_cell <= HIGHEST_END:
        raise ValueError(f"a test that ends at {per_cell:g} V per cell harms or says nothing; 1.60 to 1.95 V")
    return cells * per_cell
