"""Capacity: the discharge test, and what its ampere-hours mean at another rate and temperature."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

#: Flooded deep-cycle batteries between 5 h and 20 h lie at 1.13 to 1.17; common practice, no source [1].
EXPONENT = 1.15
#: Change of capacity per kelvin in tests over three hours [1/K]; source 18.
PER_KELVIN = 0.006
#: Ends of a test per cell [V]: of the bank, and of any single cell, whichever comes first; source 15.
END_VOLTAGE = 1.75
END_VOLTAGE_CELL = 1.65


def percent_of_rated(delivered: float, rated: float) -> float:
    """Capacity as percent of what is rated; hours over hours at the same current give the same.

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
    if not (rated > 0 and delivered >= 0):
        raise ValueError(f"{delivered} Ah of {rated} Ah is no share of a rating")
    return 100.0 * delivered / rated


def peukert_hours(current: float, capacity: float, exponent: float = EXPONENT, hours: float = 20.0) -> float:
    """Hours that a battery as rated lasts at another current.

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
    if not 1.0 <= exponent <= 1.5:
        raise ValueError(f"a Peukert exponent of {exponent:g} is outside lead-acid batteries, 1 to 1.5")
    lasts = hours * (capacity / (current * hours)) ** exponent
    if not 0.5 <= lasts <= 120.0:
        raise ValueError(f"{current:g} A would last {lasts:.3g} h; Peukert's rule holds from half an hour to 120 h")
    return float(lasts)


def peukert_capacity(current: float, capacity: float, exponent: float = EXPONENT, hours: float = 20.0) -> float:
    """Ampere-hours that a battery as rated gives at another current.

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
    """Ampere-hours as they would have been at the reference temperature.

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
    if not delivered >= 0:
        raise ValueError(f"{delivered} Ah is less than nothing")
    for degrees in (temperature, reference):
        if not 0.0 <= degrees <= 45.0:
            raise ValueError(f"a capacity test at {degrees:g} degC cannot be corrected; only 0 to 45 degC can")
    if not 0.0 <= coefficient <= 0.02:
        raise ValueError(f"capacity does not change by {coefficient:g} per kelvin; 0.006 to 0.01 is usual")
    return delivered / (1.0 + coefficient * (temperature - reference))


def end_voltage(cells: int, per_cell: float = END_VOLTAGE) -> float:
    """Bank or block voltage at which a capacity test ends.

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
    if not cells >= 1:
        raise ValueError(f"{cells} cells cannot be tested")
    if not 1.60 <= per_cell <= 1.95:
        raise ValueError(f"a test that ends at {per_cell:g} V per cell harms or says nothing; 1.60 to 1.95 V")
    return cells * per_cell


class CapacityTest(NamedTuple):
    """A discharge under way.

    Attributes
    ----------
    started_at : float
        [s since the epoch].
    temperature : float or None
        Of the electrolyte at the start [degC].
    at, current : float or None
        Of the last sample [s since the epoch], and its discharge current [A].
    delivered : float
        [Ah].
    hours, unknown_hours : float
        Spent discharging, and lost to gaps in the readings [h].
    low_samples : int
        Samples in a row at the end voltage [1].
    ended_at : float or None
        [s since the epoch].
    reason : str
        Why it ended.
    fell_first : tuple of str
        Blocks in the order in which they came down to 1.75 V per cell.
    """

    started_at: float
    temperature: float | None
    at: float | None = None
    current: float | None = None
    delivered: float = 0.0
    hours: float = 0.0
    unknown_hours: float = 0.0
    low_samples: int = 0
    ended_at: float | None = None
    reason: str = ""
    fell_first: tuple[str, ...] = ()


def advance(
    test: CapacityTest,
    at: float,
    current: float,
    volts_per_cell: float,
    *,
    blocks: Mapping[str, float] | None = None,
    lowest_cell: float | None = None,
    longest_gap: float = 300.0,
) -> CapacityTest:
    """Fold one sample into a capacity test; after its end nothing changes any more.

    Parameters
    ----------
    test : CapacityTest
        So far.
    at : float
        [s since the epoch].
    current : float
        Of the bank, positive = charging [A].
    volts_per_cell : float
        Of the bank [V].
    blocks : mapping of str to float, optional
        Volts per cell of each measured block [V].
    lowest_cell : float, optional
        Lowest single cell where cells are measured [V].
    longest_gap : float
        A longer silence adds nothing and is counted as unknown [s].

    Returns
    -------
    CapacityTest
        Ended when two samples in a row lie at the end voltage of the bank or of a single cell.

    Notes
    -----
    Source 15 for the ends; trapezoids between samples.

    Examples
    --------
    >>> test = CapacityTest(0.0, 25.0)
    >>> for minute in range(0, 121):
    ...     test = advance(test, 60.0 * minute, -10.0, 1.95 if minute < 119 else 1.74)
    >>> round(test.delivered, 1), test.ended_at, test.reason
    (20.0, 7200.0, 'bank at 1.74 V per cell')
    """
    if test.ended_at is not None or (test.at is not None and at <= test.at):
        return test
    discharge = max(0.0, -current)
    if test.at is not None and test.current is not None:
        hours, mean = (at - test.at) / 3600.0, 0.5 * (discharge + test.current)
        if at - test.at > longest_gap:
            test = test._replace(unknown_hours=test.unknown_hours + hours)
        elif mean > 0.0:
            test = test._replace(delivered=test.delivered + mean * hours, hours=test.hours + hours)
    fallen = sorted(
        (volts, label)
        for label, volts in (blocks or {}).items()
        if volts <= END_VOLTAGE and label not in test.fell_first
    )
    reason = ""
    if discharge > 0.0 and lowest_cell is not None and lowest_cell <= END_VOLTAGE_CELL:
        reason = f"a cell at {lowest_cell:.2f} V"
    elif discharge > 0.0 and volts_per_cell <= END_VOLTAGE:
        reason = f"bank at {volts_per_cell:.2f} V per cell"
    low_samples = test.low_samples + 1 if reason else 0
    # One sample may be a load step or a glitch; two in a row end the test.
    ended = low_samples >= 2
    return test._replace(
        at=at,
        current=discharge,
        low_samples=low_samples,
        ended_at=at if ended else None,
        reason=reason if ended else "",
        fell_first=test.fell_first + tuple(label for _, label in fallen),
    )


class CapacityResult(NamedTuple):
    """Ampere-hours delivered, the same at 25 degC [Ah], what the rating is at this current [Ah], and the [percent]."""

    delivered: float
    corrected: float
    rated_at_rate: float
    percent: float


def result(test: CapacityTest, capacity: float, exponent: float = EXPONENT) -> CapacityResult:
    """What a test says of the rated capacity.

    Parameters
    ----------
    test : CapacityTest
        Ended, or stopped early by a person (then it is a lower bound).
    capacity : float
        Rated at the 20-hour rate [Ah].
    exponent : float
        Peukert's [1].

    Returns
    -------
    CapacityResult
        Corrected for temperature and rate [Ah], [percent]; an unknown temperature is not corrected.

    Raises
    ------
    ValueError
        Nothing discharged, or as `temperature_corrected` and `peukert_hours`.

    Notes
    -----
    Sources 15, 18 and 19.

    Examples
    --------
    >>> cold = CapacityTest(0.0, 15.0, delivered=154.0, hours=15.4)
    >>> round(result(cold, 200.0).percent, 1)
    81.9
    """
    if not (test.hours > 0.0 and test.delivered > 0.0):
        raise ValueError("the capacity test has not discharged anything yet")
    degrees = 25.0 if test.temperature is None else test.temperature
    coefficient = PER_KELVIN if test.hours > 1.0 else 0.01
    corrected = temperature_corrected(test.delivered, degrees, coefficient)
    rated = peukert_capacity(test.delivered / test.hours, capacity, exponent)
    return CapacityResult(test.delivered, corrected, rated, percent_of_rated(corrected, rated))
