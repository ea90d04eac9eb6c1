"""The capacity test: a discharge folded sample by sample, and what it says of the rating."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from rules.laws import (
    END_VOLTAGE,
    END_VOLTAGE_CELL,
    EXPONENT,
    PER_KELVIN,
    percent_of_rated,
    peukert_capacity,
    temperature_corrected,
)

#: Samples in a row at the end voltage that end the test: one may be a load step or a glitch [1] (assumed).
LOW_SAMPLES = 2


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
    temperature: float | None = None
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
    ended = low_samples >= LOW_SAMPLES
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
    """Return what a test says of the rated capacity.

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
