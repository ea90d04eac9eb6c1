"""The log of hydrometer readings: corrected, trusted or not, its spread and its weakest cell."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from rules.laws import REFERENCE, corrected_gravity

#: Rest after which a reading counts for a verdict [h]; common practice, no source.
RESTED = 6.0
#: Water added to a cell lies on its acid until gassing has stirred it for an hour, or, in a cell that does not gas, for
#: two days [h]; US Bureau of Reclamation
#: FIST 3-6, 2.17.
STIRRED, MIXED = 1.0, 48.0
#: Newest readings kept of each cell.
KEPT = 24
#: Readings of different cells belong together within this [h]; common practice, no source.
TOGETHER = 24.0

_HOUR = 3600.0


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
        Counts for a verdict: rested, mixed, and its temperature known.
    corrected : bool
        Its temperature was known; else the number stands as it was read.
    mixed : bool
        No water lies unmixed on the acid; else it says nothing of the cell.
    why : str
        Why it does not count, for people; empty where it does.
    discharge : float
        Counter at that moment [Ah].
    """

    taken_at: float
    cell: str
    gravity_corrected: float | None = None
    mark: str = ""
    under_charge: bool = False
    trusted: bool = False
    corrected: bool = True
    mixed: bool = True
    why: str = ""
    discharge: float = 0.0


Log = tuple[GravityReading, ...]


def reading(
    taken_at: float,
    cell: str,
    value: float | str,
    *,
    temperature: float | None,
    under_charge: bool,
    rested_hours: float | None,
    reference: float = REFERENCE,
    watered_hours: float | None = None,
    stirred_hours: float = 0.0,
    discharge: float = 0.0,
) -> GravityReading:
    """Return corrected entry for the log.

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
    reference : float
        Temperature for which the hydrometer is made [degC].
    watered_hours : float or None
        Since water was added to this cell [h]; ``None`` where none was.
    stirred_hours : float
        Of gassing charge since then [h].
    discharge : float
        Counter at that moment [Ah].

    Returns
    -------
    GravityReading
        Not trusted under charge or within six hours after it, when acid is still layered and full of gas, nor while
        water that was added lies on top of it.

    Raises
    ------
    ValueError
        As `corrected_gravity`.

    Notes
    -----
    Source 14 for the correction, the US Bureau of Reclamation's FIST 3-6 for mixing; the six hours are common practice,
    no source.

    Examples
    --------
    >>> reading(0.0, "N1.2", 1.240, temperature=37.778, under_charge=False, rested_hours=12.0).trusted
    True
    >>> reading(0.0, "N1.2", "low", temperature=None, under_charge=False, rested_hours=None).mark
    'low'
    """
    unmixed = watered_hours is not None and watered_hours < MIXED and stirred_hours < STIRRED
    why = []
    if under_charge:
        why.append(f"under charge, or within {RESTED:.0f} h after it")
    elif rested_hours is not None and rested_hours < RESTED:
        why.append(f"only {rested_hours:.1f} h after charging, {RESTED:.0f} h are needed")
    if unmixed:
        why.append(
            f"water was added {watered_hours:.0f} h before and lies on the acid: read again after an hour of gassing "
            f"charge, or two days after the water"
        )
    if isinstance(value, str):
        return GravityReading(
            taken_at, cell, None, value, under_charge, not why, mixed=not unmixed, why="; ".join(why),
            discharge=discharge,
        )  # fmt: skip
    if temperature is None:
        why.append("without the temperature of its acid: not corrected")
    number = corrected_gravity(value, reference if temperature is None else temperature, reference)
    return GravityReading(
        taken_at,
        cell,
        number,
        "",
        under_charge,
        not why,
        temperature is not None,
        not unmixed,
        "; ".join(why),
        discharge,
    )


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
    """Return newest number of each cell, those left out that are more than 24 h older than the newest of all.

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


def latest_of_each(log: Log) -> dict[str, GravityReading]:
    """Return newest reading of each cell, a number or a mark, however old.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.

    Returns
    -------
    dict
        Cell to reading.

    Notes
    -----
    By definition.

    Examples
    --------
    >>> low = GravityReading(9.0, "N1.1", None, "low", False, True)
    >>> latest_of_each((low._replace(taken_at=0.0, mark="", gravity_corrected=1.25), low))["N1.1"].mark
    'low'
    """
    return {entry.cell: entry for entry in log}


def spread(log: Log, trusted_only: bool = False) -> float | None:
    """Return highest minus lowest of the newest readings of all cells in which no water lies unmixed.

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
    newest = latest(tuple([entry for entry in log if entry.mixed]), trusted_only)
    numbers = [entry.gravity_corrected for entry in newest.values() if entry.gravity_corrected]
    return max(numbers) - min(numbers) if len(numbers) > 1 else None


def lowest(log: Log, trusted_only: bool = False) -> GravityReading | None:
    """Return newest reading of the weakest cell.

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
