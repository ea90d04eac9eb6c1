"""Whether gravity still rises, has come to a plateau, and rises more than lost water explains."""

from __future__ import annotations

from collections.abc import Collection
from statistics import median

from rules.hand.gravity import POINT, GravityReading, Log
from rules.laws import finite, specific_gravity, weight_percent_from_gravity

_HOUR = 3600.0

#: Readings closer together than this say nothing of a slope [h]; assumed.
SHORTEST_TREND = 0.5
#: So many successive hourly readings make a plateau; common practice, no source.
PLATEAU_READINGS = 4
#: Ten minutes early counts as an hour, and as three: nobody walks round by the second [s] (assumed).
AN_HOUR, THREE_HOURS = 50.0 * 60.0, 170.0 * 60.0
#: What differences of floating numbers may be off [1].
ROUNDING = 1e-9


def trend_per_hour(log: Log, at: float, hours: float = 6.0) -> float | None:
    """Return rise of gravity per hour: median over cells of the straight line through each cell's readings.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.
    at : float
        Now [s since the epoch].
    hours : float
        How far back [h].

    Returns
    -------
    float or None
        Specific gravity per hour [1/h]; ``None`` where no cell has two readings half an hour apart.

    Notes
    -----
    Least squares; common practice, no source.

    Examples
    --------
    >>> hourly = tuple(GravityReading(3600.0 * h, "N1.1", 1.250 + 0.002 * h, "", True, False) for h in range(4))
    >>> round(trend_per_hour(hourly, 3 * 3600.0), 4)
    0.002
    """
    slopes = []
    for series in _recent(log, at, hours).values():
        if series[-1][0] - series[0][0] < SHORTEST_TREND:
            continue
        middle_hour = sum(hour for hour, _ in series) / len(series)
        above = sum((hour - middle_hour) * gravity for hour, gravity in series)
        slopes.append(above / sum((hour - middle_hour) ** 2 for hour, _ in series))
    return median(slopes) if slopes else None


def still_rising(log: Log, at: float) -> bool | None:
    """Tell whether gravity of any cell still rises, from its last four readings within six hours.

    Readings less than 25 minutes apart count as one, so that checking a cell twice proves nothing.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.
    at : float
        Now [s since the epoch].

    Returns
    -------
    bool or None
        ``None`` where no cell has four readings in the last 6 h.

    Notes
    -----
    Sources 15 and 20, a point of resolution counted as equal.

    Examples
    --------
    >>> values = (1.258, 1.262, 1.263, 1.263, 1.263)
    >>> hourly = tuple(GravityReading(3600.0 * h, "N1.1", g, "", True, False) for h, g in enumerate(values))
    >>> [still_rising(hourly[:n], 3600.0 * (n - 1)) for n in (3, 4, 5)]
    [None, True, False]
    """
    judged = [four for series in _recent(log, at, 6.0).values() if (four := _newest_four(series))]
    if not judged:
        return None
    return any(four[-1] > four[0] and not _level(four) for four in judged)


def plateau(log: Log, cells: Collection[str], silent: Collection[str] = ()) -> bool:
    """Tell whether every cell has stopped rising: four successive hourly readings within a point of their median.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.
    cells : collection of str
        All cells that must agree.
    silent : collection of str
        Cells seen not to gas: a dead cell is flat too, and is not full.

    Returns
    -------
    bool
        Only readings under charge count; more frequent ones must agree too.

    Notes
    -----
    Sources 15, 20 and 21.

    Examples
    --------
    >>> values = (1.251, 1.258, 1.262, 1.263, 1.263, 1.263)
    >>> hourly = tuple(GravityReading(3600.0 * h, "N1.1", g, "", True, False) for h, g in enumerate(values))
    >>> plateau(hourly[:5], ["N1.1"]), plateau(hourly, ["N1.1"]), plateau(hourly, ["N1.1"], silent=["N1.1"])
    (False, True, False)
    """
    if not cells or not set(cells).isdisjoint(silent):
        return False
    return all(_flat([entry for entry in log if entry.cell == cell and not entry.mark]) for cell in cells)


def water_loss_alone(gravity: float, electrolyte: float, water_lost: float) -> float:
    """Return rise of gravity that lost water explains without any recovery.

    Parameters
    ----------
    gravity : float
        Before, at 25 degC [1].
    electrolyte : float
        Mass in the cell before [kg].
    water_lost : float
        From the cell; negative where water was added [g].

    Returns
    -------
    float
        Specific gravity [1].

    Raises
    ------
    ValueError
        More water lost than the density table follows, or no electrolyte.

    Notes
    -----
    Mass balance over sources 1 and 2.

    Examples
    --------
    >>> round(water_loss_alone(1.270, 2.6, 80.0), 3)
    0.01
    """
    remaining = 1000.0 * electrolyte - water_lost
    if not (electrolyte > 0.0 and remaining > 0.0 and finite(electrolyte, water_lost)):
        raise ValueError(f"a cell with {electrolyte:g} kg of electrolyte cannot lose {water_lost:g} g of water")
    acid = weight_percent_from_gravity(gravity) * 1000.0 * electrolyte
    return specific_gravity(acid / remaining) - gravity


def _recent(log: Log, at: float, hours: float) -> dict[str, list[tuple[float, float]]]:
    """Return hours and gravities of each cell within the last hours."""
    series: dict[str, list[tuple[float, float]]] = {}
    for entry in log:
        if entry.gravity_corrected is not None and entry.corrected and 0.0 <= at - entry.taken_at <= hours * _HOUR:
            series.setdefault(entry.cell, []).append((entry.taken_at / _HOUR, entry.gravity_corrected))
    return series


def _level(gravities: list[float]) -> bool:
    middle = median(gravities)
    return all(abs(gravity - middle) <= POINT + ROUNDING for gravity in gravities)


def _newest_four(series: list[tuple[float, float]]) -> list[float]:
    """Return gravities since the fourth newest of readings 25 minutes or more apart; empty with fewer than four."""
    counted, counted_hour = 0, float("inf")
    for position in range(len(series) - 1, -1, -1):
        if counted_hour - series[position][0] >= 25.0 / 60.0 - ROUNDING:
            counted, counted_hour = counted + 1, series[position][0]
        if counted == PLATEAU_READINGS:
            return [gravity for _, gravity in series[position:]]
    return []


def _flat(readings: list[GravityReading]) -> bool:
    """Tell whether the newest four hourly readings, and those between them, are level and under charge."""
    if not readings:
        return False
    newest = counted_at = readings[-1].taken_at
    hourly = 1
    window: list[float] = []
    for entry in reversed(readings):
        since = counted_at - entry.taken_at
        if not entry.under_charge or entry.gravity_corrected is None or since > 2.0 * _HOUR:
            return False
        window.append(entry.gravity_corrected)
        if since >= AN_HOUR:
            hourly, counted_at = hourly + 1, entry.taken_at
        if hourly >= PLATEAU_READINGS and newest - entry.taken_at >= THREE_HOURS:
            return _level(window)
    return False
