"""Hydrometer readings: notation, correction, and what a log of them tells."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from statistics import median
from typing import NamedTuple

from rules.electrolyte import specific_gravity, weight_percent_from_gravity

#: Reference of the trade's hydrometers: 80 degF [degC].
REFERENCE = (80.0 - 32.0) / 1.8
#: 0.004 per 10 degF, as [1/K]; source 14.
SLOPE = 0.004 / 10.0 * 1.8
#: Modulus of the Baume scale for liquids heavier than water; source 17. The older 144.32 is not used.
MODULUS = 145.0
#: What a hydrometer can show [1].
WEAKEST, STRONGEST = 1.000, 1.400
#: Readings that are no numbers: float on the bottom, float off the top, nothing could be drawn.
MARKS = ("low", "high", "none")
#: A hydrometer is read to one point; differences up to that are equal [1].
POINT = 0.001
#: Rest after which a reading counts for a verdict [h]; common practice, no source.
RESTED = 6.0
#: Newest readings kept of each cell.
KEPT = 24
#: Readings of different cells belong together within this [h]; common practice, no source.
TOGETHER = 24.0

_HOUR = 3600.0
_NOTATION = re.compile(r"(?:sg\s*)?(\d{1,4}(?:[.,]\d+)?)\s*(°?\s*b(?:[eé]|aum[eé])\.?)?", re.IGNORECASE | re.ASCII)


class GravityReading(NamedTuple):
    """One reading of one cell.

    Attributes
    ----------
    taken_at : float
        [s since the epoch].
    cell : str
        Block label and cell, ``"N1.2"``.
    gravity_corrected : float or None
        At the reference temperature [1]; ``None`` where the reading is no number.
    mark : str
        Empty, or ``low``, ``high``, ``none``.
    under_charge : bool
        Taken while charging.
    trusted : bool
        Counts for a verdict: rested, and its temperature known.
    """

    taken_at: float
    cell: str
    gravity_corrected: float | None
    mark: str
    under_charge: bool
    trusted: bool


Log = tuple[GravityReading, ...]


def corrected_gravity(reading: float, temperature: float, reference: float = REFERENCE) -> float:
    """Hydrometer reading at the reference temperature.

    Parameters
    ----------
    reading : float
        As read [1].
    temperature : float
        Of the electrolyte, not of the air; -12.3 to 71.2 [degC].
    reference : float
        Temperature for which the hydrometer is made [degC].

    Returns
    -------
    float
        Never under 1.000: the rule takes too much from cold, weak acid [1].

    Raises
    ------
    ValueError
        Off the hydrometer's scale, or outside the printed correction chart (10 to 160 degF).

    Notes
    -----
    Source 14: four points per 10 degF. Swapping the temperatures inverts it.

    Examples
    --------
    >>> round(corrected_gravity(1.240, 37.778), 3)
    1.248
    """
    if not WEAKEST <= reading <= STRONGEST:
        raise ValueError(f"specific gravity {reading:g} is off the hydrometer's scale, 1.000 to 1.400")
    for degrees in (temperature, reference):
        if not -12.3 <= degrees <= 71.2:
            raise ValueError(f"{degrees:g} degC is outside the hydrometer's correction chart, -12.3 to 71.2 degC")
    return max(WEAKEST, reading + SLOPE * (temperature - reference))


def gravity_from_baume(degrees: float) -> float:
    """Specific gravity from degrees Baume, liquids heavier than water.

    Parameters
    ----------
    degrees : float
        0 to 70 [degree Baume].

    Returns
    -------
    float
        At 60 degF [1].

    Raises
    ------
    ValueError
        Lighter than water, or heavier than any sulphuric acid.

    Notes
    -----
    Source 17.

    Examples
    --------
    >>> round(gravity_from_baume(30.0), 4)
    1.2609
    """
    if not 0.0 <= degrees <= 70.0:
        raise ValueError(f"{degrees:g} degrees Baume is outside sulphuric acid, 0 to 70")
    return MODULUS / (MODULUS - degrees)


def baume_from_gravity(gravity: float) -> float:
    """Degrees Baume from specific gravity, liquids heavier than water.

    Parameters
    ----------
    gravity : float
        1.000 to 1.933 [1].

    Returns
    -------
    float
        [degree Baume].

    Raises
    ------
    ValueError
        Lighter than water, or heavier than any sulphuric acid.

    Notes
    -----
    Source 17.

    Examples
    --------
    >>> round(baume_from_gravity(1.265), 2)
    30.38
    """
    if not 1.0 <= gravity <= MODULUS / (MODULUS - 70.0):
        raise ValueError(f"specific gravity {gravity:g} is outside the Baume scale of sulphuric acid, 1.000 to 1.933")
    return MODULUS - MODULUS / gravity


def parse_gravity(written: str | float) -> float | str:
    """Gravity as people write it: 1.265, 1265, 1,265, 30.4 Be, or the words low, high, none.

    Parameters
    ----------
    written : str or float
        A bare number from 10 to 45 is taken as degrees Baume, from 1000 to 1400 as points [1].

    Returns
    -------
    float or str
        Specific gravity, uncorrected [1], or one of ``low``, ``high``, ``none``.

    Raises
    ------
    ValueError
        Neither a notation known here nor a gravity that a hydrometer can show.

    Notes
    -----
    Source 17 for degrees Baume; the notations are common practice, no source.

    Examples
    --------
    >>> parse_gravity("1265"), parse_gravity(1.25), parse_gravity("low")
    (1.265, 1.25, 'low')
    >>> round(parse_gravity("30.4 °Bé"), 4)
    1.2653
    """
    text = "" if isinstance(written, bool) else str(written).strip().lower()
    if text in MARKS:
        return text
    found = _NOTATION.fullmatch(text)
    if found:
        number = float(found[1].replace(",", "."))
        baume = found[2] is not None or 10.0 <= number <= 45.0
        gravity = gravity_from_baume(min(number, 70.0)) if baume else number / 1000.0 if number >= 1000.0 else number
        if WEAKEST <= gravity <= STRONGEST:
            return gravity
    raise ValueError(
        f"{written!r} is no gravity between 1.000 and 1.400; write 1.265, 1265, 30.4 Be, or low, high, none"
    )


def reading(
    taken_at: float,
    cell: str,
    value: float | str,
    *,
    temperature: float | None,
    under_charge: bool,
    rested_hours: float | None,
) -> GravityReading:
    """Corrected entry for the log.

    Parameters
    ----------
    taken_at : float
        [s since the epoch].
    cell : str
        Block label and cell.
    value : float or str
        As `parse_gravity` returns it [1].
    temperature : float or None
        Of the electrolyte [degC]; unknown counts as the reference, and the reading is not trusted.
    under_charge : bool
        Taken while charging.
    rested_hours : float or None
        Since the charger stopped [h]; ``None`` where it has not charged in this round.

    Returns
    -------
    GravityReading
        Not trusted under charge or within six hours after it, when acid is still layered and full of gas.

    Raises
    ------
    ValueError
        As `corrected_gravity`.

    Notes
    -----
    Source 14 for the correction; the six hours are common practice, no source.

    Examples
    --------
    >>> reading(0.0, "N1.2", 1.240, temperature=37.778, under_charge=False, rested_hours=12.0).trusted
    True
    >>> reading(0.0, "N1.2", "low", temperature=None, under_charge=False, rested_hours=None).mark
    'low'
    """
    rested = not under_charge and (rested_hours is None or rested_hours >= RESTED)
    if isinstance(value, str):
        return GravityReading(taken_at, cell, None, value, under_charge, rested)
    gravity = corrected_gravity(value, REFERENCE if temperature is None else temperature)
    return GravityReading(taken_at, cell, gravity, "", under_charge, rested and temperature is not None)


def add(log: Log, new: Iterable[GravityReading]) -> Log:
    """Log with new readings, in order of time, the newest 24 of each cell kept.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.
    new : iterable of GravityReading
        In any order; late entries find their place.

    Returns
    -------
    tuple of GravityReading
        In order of time.

    Notes
    -----
    Book-keeping by definition.

    Examples
    --------
    >>> late = GravityReading(60.0, "N1.1", 1.250, "", True, False)
    >>> [entry.taken_at for entry in add((late._replace(taken_at=120.0),), [late])]
    [60.0, 120.0]
    """
    kept: list[GravityReading] = []
    seen: dict[str, int] = {}
    # Of two at one moment the one entered later counts: it is the correction.
    for entry in reversed(sorted((*log, *new), key=lambda entry: entry.taken_at)):
        seen[entry.cell] = seen.get(entry.cell, 0) + 1
        if seen[entry.cell] <= KEPT:
            kept.append(entry)
    return tuple(reversed(kept))


def latest(log: Log, trusted_only: bool = False) -> dict[str, GravityReading]:
    """Newest number of each cell, those left out that are more than 24 h older than the newest of all.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.
    trusted_only : bool
        Only what counts for a verdict.

    Returns
    -------
    dict
        Cell to reading.

    Notes
    -----
    The 24 hours are common practice, no source.

    Examples
    --------
    >>> first = GravityReading(0.0, "N1.1", 1.250, "", True, False)
    >>> list(latest((first, first._replace(cell="N1.2", taken_at=25 * 3600.0))))
    ['N1.2']
    """
    newest: dict[str, GravityReading] = {}
    for entry in log:
        if entry.gravity_corrected is not None and (entry.trusted or not trusted_only):
            newest[entry.cell] = entry
    last = max((entry.taken_at for entry in newest.values()), default=0.0)
    return {cell: entry for cell, entry in newest.items() if last - entry.taken_at <= TOGETHER * _HOUR}


def spread(log: Log, trusted_only: bool = False) -> float | None:
    """Highest minus lowest of the newest readings of all cells.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.
    trusted_only : bool
        Only what counts for a verdict.

    Returns
    -------
    float or None
        Specific gravity [1]; ``None`` with fewer than two cells.

    Notes
    -----
    Definition; limits on it come from source 14.

    Examples
    --------
    >>> walk = [GravityReading(0.0, f"N1.{n}", g, "", False, True) for n, g in enumerate((1.265, 1.235), 1)]
    >>> round(spread(tuple(walk)), 3)
    0.03
    """
    numbers = [entry.gravity_corrected for entry in latest(log, trusted_only).values() if entry.gravity_corrected]
    return max(numbers) - min(numbers) if len(numbers) > 1 else None


def lowest(log: Log, trusted_only: bool = False) -> GravityReading | None:
    """Newest reading of the weakest cell.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.
    trusted_only : bool
        Only what counts for a verdict.

    Returns
    -------
    GravityReading or None
        ``None`` without any number.

    Notes
    -----
    By definition.

    Examples
    --------
    >>> number = GravityReading(0.0, "N1.1", 1.250, "", True, False)
    >>> lowest((number, number._replace(cell="N1.2", gravity_corrected=None, mark="low"))).cell
    'N1.1'
    """
    return min(latest(log, trusted_only).values(), key=lambda entry: entry.gravity_corrected or 0.0, default=None)


def trend_per_hour(log: Log, at: float, hours: float = 6.0) -> float | None:
    """Rise of gravity per hour: median over cells of the straight line through each cell's readings.

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
        if series[-1][0] - series[0][0] < 0.5:
            continue
        middle_hour = sum(hour for hour, _ in series) / len(series)
        above = sum((hour - middle_hour) * gravity for hour, gravity in series)
        slopes.append(above / sum((hour - middle_hour) ** 2 for hour, _ in series))
    return median(slopes) if slopes else None


def still_rising(log: Log, at: float) -> bool | None:
    """Whether gravity of any cell still rises, from its last four readings within six hours.

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
    """Whether every cell has stopped rising: four successive hourly readings within a point of their median.

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
    """Rise of gravity that lost water explains without any recovery.

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
    if not (electrolyte > 0.0 and remaining > 0.0):
        raise ValueError(f"a cell with {electrolyte:g} kg of electrolyte cannot lose {water_lost:g} g of water")
    acid = weight_percent_from_gravity(gravity) * 1000.0 * electrolyte
    return specific_gravity(acid / remaining) - gravity


def _recent(log: Log, at: float, hours: float) -> dict[str, list[tuple[float, float]]]:
    """Hours and gravities of each cell within the last hours."""
    series: dict[str, list[tuple[float, float]]] = {}
    for entry in log:
        if entry.gravity_corrected is not None and 0.0 <= at - entry.taken_at <= hours * _HOUR:
            series.setdefault(entry.cell, []).append((entry.taken_at / _HOUR, entry.gravity_corrected))
    return series


def _level(gravities: list[float]) -> bool:
    middle = median(gravities)
    return all(abs(gravity - middle) <= POINT + 1e-9 for gravity in gravities)


def _newest_four(series: list[tuple[float, float]]) -> list[float]:
    """Gravities since the fourth newest of readings that lie 25 minutes or more apart; empty with fewer than four."""
    counted, counted_hour = 0, float("inf")
    for position in range(len(series) - 1, -1, -1):
        if counted_hour - series[position][0] >= 25.0 / 60.0:
            counted, counted_hour = counted + 1, series[position][0]
        if counted == 4:
            return [gravity for _, gravity in series[position:]]
    return []


def _flat(readings: list[GravityReading]) -> bool:
    """Whether the newest four hourly readings, and those between them, are level and under charge."""
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
        # Ten minutes early counts as an hour: nobody walks round by the second.
        if since >= 50.0 * 60.0:
            hourly, counted_at = hourly + 1, entry.taken_at
        if hourly >= 4 and newest - entry.taken_at >= 170.0 * 60.0:
            return _level(window)
    return False
