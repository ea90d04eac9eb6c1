"""The log of hydrometer readings: corrected, trusted or not, its spread and its weakest cell."""

from __future__ import annotations

from collections.abc import Iterable
from statistics import median
from typing import NamedTuple

from rules.laws import REFERENCE, corrected_gravity

#: Between the reasons why one reading does not count.
REASONS = "; "
#: Rest after which a reading counts for a verdict [h]; common practice, no source.
RESTED = 6.0
#: Water added to a cell lies on its acid until gassing has stirred it for an hour, or, in a cell that does not gas, for
#: two days [h]; US Bureau of Reclamation
#: FIST 3-6, 2.17.
STIRRED, MIXED = 1.0, 48.0
#: Newest readings kept of each cell.
KEPT = 24
#: Readings of different cells belong together within this [h], and within so much charging, which a walk round a large
#: bank takes [h]; common practice, no source.
TOGETHER, WALK = 24.0, 1.0
#: A hydrometer is read to one point [1]; so many cells that stand out are named.
POINT, NAMED = 0.001, 6
#: Scale of a battery hydrometer [1]: a cell that does not float it is weaker than any number, one above it stronger
#: (common practice, no source).
SCALE = {"low": 1.100, "high": 1.300}
OFF_SCALE = {"low": "too weak to float the hydrometer", "high": "above its scale"}

_HOUR = 3600.0


#: How a reading that is not true yet for fresh water says so; less than half an hour is said in minutes [h].
WATERED, HALF = "water was added", 0.5


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
    charged : float
        Charging until that moment [s].
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
    charged: float = 0.0


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
    charged: float = 0.0,
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
    charged : float
        Charging until that moment [s].

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
    watered = 0.0 if watered_hours is None else watered_hours
    unmixed = watered_hours is not None and watered < MIXED and stirred_hours < STIRRED
    why = []
    if under_charge:
        why.append(f"under charge, or within {RESTED:.0f} h after it")
    elif rested_hours is not None and rested_hours < RESTED:
        why.append(f"only {rested_hours:.1f} h after charging, {RESTED:.0f} h are needed")
    if unmixed:
        ago = f"{watered:.0f} h" if watered >= HALF else f"{60.0 * watered:.0f} min"
        why.append(
            f"{WATERED} {ago} before and lies on the acid: read again after an hour of gassing "
            f"charge, or two days after the water"
        )
    if isinstance(value, str):
        return GravityReading(
            taken_at, cell, None, value, under_charge, not why, mixed=not unmixed, why=REASONS.join(why),
            discharge=discharge, charged=charged,
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
        REASONS.join(why),
        discharge,
        charged,
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
    """Return newest number of each cell; left out are those more than 24 h older than the newest of all.

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


def compared(log: Log) -> dict[str, float]:
    """Return gravity of each cell of the newest walk round the bank, as far as the cells can be compared.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.

    Returns
    -------
    dict
        Cell to specific gravity [1]. Readings between which the bank was charged for more than an hour, or which are a
        day apart, are of different walks; a single cell that was read again is none. A cell that does not float the
        hydrometer counts as its lowest mark, or as the weakest number of the walk where that is weaker, one above its
        scale likewise. A cell in which water lies unmixed, or of which nothing could be drawn, is left out.

    Notes
    -----
    Common practice, no source: a charge of some hours lifts a cell by more than a bad one stands apart.

    Examples
    --------
    >>> before = [GravityReading(0.0, f"N1.{n}", 1.180, "", False, True) for n in (1, 2)]
    >>> after = before[0]._replace(taken_at=9 * 3600.0, gravity_corrected=1.240, charged=9 * 3600.0)
    >>> compared((*before, after))
    {'N1.1': 1.18, 'N1.2': 1.18}
    """
    walk = {cell: entry for cell, entry in _walk(log).items() if entry.mixed}
    numbers = [entry.gravity_corrected for entry in walk.values() if entry.gravity_corrected is not None]
    ends = {"low": min([SCALE["low"], *numbers]), "high": max([SCALE["high"], *numbers])}
    found = {cell: entry.gravity_corrected or ends.get(entry.mark) for cell, entry in walk.items()}
    return {cell: number for cell, number in found.items() if number is not None}


def _walk(log: Log) -> dict[str, GravityReading]:
    """Return the newest reading of each cell of the newest walk round the bank; nothing where only one was read."""
    rest = list(log)
    while rest:
        last = rest.pop()
        newest = {entry.cell: entry for entry in (*[each for each in rest if _together(each, last)], last)}
        if len(newest) > 1:
            return newest
        rest = [each for each in rest if not _together(each, last)]
    return {}


def _together(entry: GravityReading, last: GravityReading) -> bool:
    """Tell whether a reading is of the same walk as a later one."""
    near = last.taken_at - entry.taken_at <= TOGETHER * _HOUR
    return near and abs(last.charged - entry.charged) <= WALK * _HOUR


def spread_doubt(log: Log) -> str:
    """Return why the cells that are compared tell nothing for a verdict.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.

    Returns
    -------
    str
        In words; empty where each reading can be trusted.

    Notes
    -----
    Common practice, no source: what is trusted is judged by `reading`.

    Examples
    --------
    >>> sheet = [reading(0.0, f"N1.{n}", 1.25, temperature=25.0, under_charge=n == 2, rested_hours=9.0) for n in (1, 2)]
    >>> spread_doubt(tuple(sheet)), spread_doubt(tuple(sheet[:1] * 2))
    ('under charge, or within 6 h after it', '')
    """
    return next((entry.why for entry in _walk(log).values() if entry.mixed and not entry.trusted), "")


def spread(log: Log) -> float | None:
    """Return highest minus lowest of the newest walk round the bank.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.

    Returns
    -------
    float or None
        Specific gravity [1]; ``None`` with fewer than two cells that can be compared.

    Notes
    -----
    Definition; limits on it come from source 14.

    Examples
    --------
    >>> walk = [GravityReading(0.0, f"N1.{n}", g, "", False, True) for n, g in enumerate((1.265, 1.235), 1)]
    >>> round(spread(tuple(walk)), 3)
    0.03
    """
    numbers = compared(log).values()
    return max(numbers) - min(numbers) if len(numbers) > 1 else None


def standing_out(log: Log) -> str:
    """Return which cells make the spread: half of it or more off the middle, the farthest first.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.

    Returns
    -------
    str
        In words; empty where nothing can be compared.

    Notes
    -----
    Common practice, no source.

    Examples
    --------
    >>> walk = [GravityReading(0.0, f"N1.{n}", g, "", False, True) for n, g in enumerate((1.26, 1.26, 1.2), 1)]
    >>> standing_out(tuple(walk))
    'N1.3 at 1.200, the middle is 1.260'
    """
    numbers = compared(log)
    if len(numbers) <= 1:
        return ""
    middle = median(numbers.values())
    off = sorted(((abs(number - middle), cell) for cell, number in numbers.items()), key=lambda each: -each[0])
    half = 0.5 * (max(numbers.values()) - min(numbers.values())) - POINT / 2.0
    walk = _walk(log)
    shown = {cell: OFF_SCALE.get(walk[cell].mark, f"at {number:.3f}") for cell, number in numbers.items()}
    named = [f"{cell} {shown[cell]}" for distance, cell in off if distance >= half]
    more = [f"{len(named) - NAMED} more"] if len(named) > NAMED else []
    return f"{', '.join([*named[:NAMED], *more])}, the middle is {middle:.3f}"


def lowest(log: Log) -> float | None:
    """Return newest gravity of the weakest cell.

    Parameters
    ----------
    log : tuple of GravityReading
        In order of time.

    Returns
    -------
    float or None
        Specific gravity [1]: at most the lowest mark of the scale where a cell does not float the hydrometer; an older
        number of a cell that shows none is past. ``None`` without any.

    Notes
    -----
    By definition.

    Examples
    --------
    >>> number = GravityReading(0.0, "N1.1", 1.250, "", True, False)
    >>> lowest((number,)), lowest((number, number._replace(cell="N1.2", gravity_corrected=None, mark="low")))
    (1.25, 1.1)
    """
    shown = [
        (entry.taken_at, SCALE["low"] if entry.mark == "low" else entry.gravity_corrected)
        for entry in latest_of_each(log).values()
    ]
    # A cell of which nothing could be drawn makes what the others showed no older.
    last = max((at for at, number in shown if number is not None), default=0.0)
    numbers = [number for at, number in shown if number is not None and last - at <= TOGETHER * _HOUR]
    # Where the newest of every cell shows none, what was compared last still stands.
    return min(numbers or compared(log).values(), default=None)
