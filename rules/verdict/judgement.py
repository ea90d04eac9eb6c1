"""Keep, keep derated, repeat or scrap: per block, and for the bank as it stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import fmean, median
from typing import NamedTuple

from rules.laws import rest_voltage

#: From worst to best known.
WORDS = ("scrap", "repeat", "keep-derated", "keep")
#: Nothing was measured, so nothing is said.
NOT_JUDGED = "not-judged"
#: Shares of rated capacity [1]: sound from here on (sources 6 and 16); under the other no use (common practice, no
#: source).
SOUND, USELESS = 0.80, 0.50
#: Spread of corrected gravity within a block [1]: matched up to here (common practice, no source); a bad cell above
#: the other, after equalising (source 14).
MATCHED, BAD_CELL = 0.030, 0.050
#: Gain of one round that counts, as a share of rated capacity [1]; common practice, no source.
GAIN = 0.05
#: How far a sound cell may lie below the middle of its neighbours: gravity [1] and volts [V]; common practice, no
#: source.
GRAVITY_BELOW, VOLTS_BELOW = 0.030, 0.2
#: With fewer cells nobody can say which one stands out [1].
FEWEST_COMPARED = 3
#: What shares of floating numbers may be off [1].
ROUNDING = 1e-9
#: A block resting this far below what its own acid would give has a cell that gives nothing [V]; half a cell and more.
MISSING = 1.5
#: A sound cell that was charged and rested is far above this; one under it is shorted or dead [V]; a flat one ends its
#: discharge at 1.75 V (source 15), the margin is common practice, no source.
DEAD_CELL = 1.80
#: Weakest acid whose rest voltage is published [1].
WEAKEST = 1.035

NOTHING_MEASURED = "nothing was measured since the round: rest, read every cell, test, then judge"
#: The same where something was found or read that is no figure to judge by.
NOTHING_COUNTS = (
    "nothing was measured since the round that counts for a verdict: rest, read every cell, test, then judge"
)
#: What was read is not all that a verdict needs.
NO_TEST = "no capacity test yet: rest, test, then judge"
#: What was read while it charged, or too soon after, tells only where to look.
READ_AGAIN = "read every cell again 6 h after charging at the earliest, better 24 h, test, then judge"
#: Why a block's capacity is only a lower bound, as a rule.
ANOTHER_FELL = "until another block fell: test it alone"
#: The same where only the bank was watched.
UNWATCHED = "until the bank was empty, and nobody watched its blocks: test it alone"


class CellReading(NamedTuple):
    """One cell as measured at one moment: corrected gravity [1] and volts [V], ``None`` where not taken."""

    gravity: float | None = None
    volts: float | None = None


class Evidence(NamedTuple):
    """What is known of one block, or of a whole bank, when the round is over.

    Attributes
    ----------
    label : str
        Block label or bank id.
    cells : int
        In series.
    rated : float
        Capacity at the 20-hour rate [Ah].
    capacity : float or None
        Measured, corrected to 25 degC and to the 20-hour rate [Ah].
    at_least : bool
        `capacity` is only what it gave as far as it was measured: another block fell first, or readings are missing.
    previous : float or None
        The same from the round before [Ah].
    gravities : tuple of float
        Corrected and trusted: rested, charger off for hours [1].
    gravity_rising : bool or None
        Still rising when the hold ended; ``None`` where nobody read.
    resting : float or None
        Volts after the rest [V].
    faults : tuple of str
        ``shorted`` or ``reversed`` with where, as `cell_faults` words them.
    flagged : tuple of str
        Anything else that was found and not put right.
    because : str
        Why the capacity is only a lower bound, for people, behind "gave so much".
    read_early : str
        What was read and does not count, why, and which cell stands out in it, for people.
    equalised : bool
        The hold of this round was done: before it cells that differ are what it is there to mend.
    """

    label: str
    cells: int
    rated: float
    capacity: float | None = None
    at_least: bool = False
    previous: float | None = None
    gravities: tuple[float, ...] = ()
    gravity_rising: bool | None = None
    resting: float | None = None
    faults: tuple[str, ...] = ()
    flagged: tuple[str, ...] = ()
    because: str = ANOTHER_FELL
    read_early: str = ""
    equalised: bool = True


class Verdict(NamedTuple):
    """The word, and why.

    Attributes
    ----------
    label : str
        Block label or bank id.
    word : str
        ``scrap``, ``keep``, ``keep-derated`` or ``repeat``; ``not-judged`` where nothing was measured.
    capacity : float or None
        What to count on from now on [Ah].
    reasons : tuple of str
        For people, the deciding one first.
    """

    label: str
    word: str
    capacity: float | None
    reasons: tuple[str, ...]


class Given(NamedTuple):
    """A verdict that a person gave: when [s since the epoch], by whom, words and capacities [Ah] by label."""

    at: float
    by: str = ""
    words: dict[str, str] = {}
    capacities: dict[str, float] = {}


def cell_faults(cells: Mapping[str, CellReading]) -> dict[str, str]:
    """Return cells that stand out from their neighbours, at rest or while discharging.

    Parameters
    ----------
    cells : dict
        Cell -> gravity [1] and volts [V], all taken at the same moment.

    Returns
    -------
    dict
        Cell -> ``reversed``, or ``low`` with what is low.

    Raises
    ------
    ValueError
        Fewer than three cells: nothing to compare with.

    Notes
    -----
    Against the middle (median) of all cells, so that a few bad ones do not move the measure;
    common practice, no source.

    Examples
    --------
    >>> cell_faults({"1": CellReading(1.2, 1.97), "2": CellReading(1.19, 1.96), "3": CellReading(1.1, -0.2)})
    {'3': 'reversed'}
    """
    if len(cells) < FEWEST_COMPARED:
        raise ValueError(f"{len(cells)} cells are too few to say which one stands out")
    volts = [cell.volts for cell in cells.values() if cell.volts is not None]
    gravities = [cell.gravity for cell in cells.values() if cell.gravity is not None]
    found: dict[str, str] = {}
    for name, cell in cells.items():
        if cell.volts is not None and cell.volts < 0.0:
            found[name] = "reversed"
            continue
        low = []
        if cell.gravity is not None and round(median(gravities) - cell.gravity, 4) > GRAVITY_BELOW:
            low.append(f"gravity {cell.gravity:.3f} against {median(gravities):.3f}")
        if cell.volts is not None and round(median(volts) - cell.volts, 4) > VOLTS_BELOW:
            low.append(f"{cell.volts:.2f} V against {median(volts):.2f} V")
        if low:
            found[name] = f"low: {', '.join(low)}"
    return found


def resting_fault(cells: int, resting: float, gravities: Sequence[float]) -> str | None:
    """Return what a rested block's volts betray when held against its own acid.

    Parameters
    ----------
    cells : int
        In series.
    resting : float
        Volts after the rest [V].
    gravities : sequence of float
        Corrected and trusted [1]; may be empty.

    Returns
    -------
    str or None
        ``reversed`` or ``shorted`` in words, or nothing.

    Raises
    ------
    ValueError
        A gravity outside battery acid.

    Notes
    -----
    A shorted cell takes about 2 V from its block while the acid of the others reads well; common practice, no source.

    Examples
    --------
    >>> resting_fault(6, 10.5, [1.26, 1.26, 1.255])
    'shorted cell: rests at 10.50 V where its acid would give 12.63 V'
    >>> resting_fault(6, 12.6, [1.26, 1.26, 1.255]) is None
    True
    """
    if resting < 0.0:
        return f"reversed: reads {resting:.2f} V"
    if not gravities:
        return None
    # Nearly water gives nearly no voltage of its own: what lies under the published range counts as its lowest.
    expected = cells * fmean(rest_voltage(max(gravity, WEAKEST)) for gravity in gravities)
    if expected - resting > MISSING:
        return f"shorted cell: rests at {resting:.2f} V where its acid would give {expected:.2f} V"
    return None


def judge(evidence: Evidence) -> Verdict:
    """Return the verdict on one block, or on a bank as it stands.

    Parameters
    ----------
    evidence : Evidence
        What the round has shown.

    Returns
    -------
    Verdict
        In this order: scrap, keep, keep derated, repeat; not judged where nothing is known.

    Raises
    ------
    ValueError
        No rated capacity, or a gravity outside battery acid.

    Notes
    -----
    Replace under 80 percent: sources 6 and 16. Spread over 0.050 after equalising is a bad cell: source 14. Half of the
    rated capacity, and five points gained in a round: common practice, no source.

    Examples
    --------
    >>> judge(Evidence("N1", 3, 200.0, capacity=162.0, gravities=(1.262, 1.265, 1.260))).word
    'keep'
    >>> judge(Evidence("N2", 3, 200.0, capacity=120.0, previous=90.0, gravities=(1.25, 1.26, 1.25))).reasons[0]
    'still gaining: 45 % before, 60 % of its rated 200 Ah now'
    """
    if not evidence.rated > 0:
        raise ValueError(f"{evidence.label}: a rated capacity of {evidence.rated} Ah cannot be judged against")
    spread = round(max(evidence.gravities) - min(evidence.gravities), 4) if evidence.gravities else None
    share = None if evidence.capacity is None else evidence.capacity / evidence.rated
    why_scrap = _why_scrap(evidence, spread, share)
    if why_scrap:
        return Verdict(evidence.label, "scrap", None, tuple(why_scrap))
    if share is None and not evidence.gravities and evidence.resting is None:
        return Verdict(evidence.label, NOT_JUDGED, None, (_why_not_judged(evidence), *evidence.flagged))
    doubts = _doubts(evidence, spread)
    if share is None and not evidence.equalised and spread is not None and spread > BAD_CELL:
        return Verdict(evidence.label, NOT_JUDGED, None, tuple(doubts))
    if share is None:
        return Verdict(evidence.label, "repeat", None, (NO_TEST, *doubts))
    words = f"{100 * share:.0f} % of its rated {evidence.rated:g} Ah"
    if share >= SOUND:
        if doubts:
            return Verdict(evidence.label, "repeat", evidence.capacity, (*doubts, words))
        return Verdict(evidence.label, "keep", evidence.capacity, (f"{words}, sound",))
    return _under_sound(evidence, share, words, doubts)


def _why_not_judged(evidence: Evidence) -> str:
    """Say what is missing: a finding, or what was read under charge, shows only where to look."""
    if evidence.read_early:
        return f"{evidence.read_early}; {READ_AGAIN}"
    return NOTHING_COUNTS if evidence.flagged else NOTHING_MEASURED


def _under_sound(evidence: Evidence, share: float, words: str, doubts: list[str]) -> Verdict:
    """Return the verdict on a capacity that is no longer sound: another round while it gains, else less to count on."""
    if evidence.at_least:
        return Verdict(evidence.label, "repeat", None, (f"gave {words} {evidence.because}", *doubts))
    if evidence.previous is None:
        return Verdict(
            evidence.label, "repeat", evidence.capacity, (f"{words}: another round shows whether it gains", *doubts)
        )
    before = evidence.previous / evidence.rated
    if share - before >= GAIN - ROUNDING or evidence.gravity_rising:
        gaining = f"still gaining: {100 * before:.0f} % before, {words} now"
        return Verdict(evidence.label, "repeat", evidence.capacity, (gaining, *doubts))
    if doubts:
        return Verdict(evidence.label, "repeat", evidence.capacity, (*doubts, words))
    reason = f"{words} and no longer gaining ({100 * before:.0f} % before): count on {evidence.capacity:.0f} Ah"
    return Verdict(evidence.label, "keep-derated", evidence.capacity, (reason,))


def _why_scrap(evidence: Evidence, spread: float | None, share: float | None) -> list[str]:
    reasons = list(evidence.faults)
    if evidence.resting is not None:
        fault = resting_fault(evidence.cells, evidence.resting, evidence.gravities)
        reasons += [fault] if fault else []
    if evidence.equalised and spread is not None and spread > BAD_CELL:
        reasons.append(f"gravity still differs by {spread:.3f} between its cells after equalising: a bad cell")
    if share is not None and share < USELESS and not evidence.at_least:
        reasons.append(f"gives {100 * share:.0f} % of its rated {evidence.rated:g} Ah, less than half")
    return reasons


def _doubts(evidence: Evidence, spread: float | None) -> list[str]:
    doubts = list(evidence.flagged)
    if spread is None:
        early = f": {evidence.read_early}" if evidence.read_early else ""
        doubts.append(f"no rested gravity of its cells yet{early}")
    elif spread > MATCHED:
        differs = f"gravity differs by {spread:.3f} between its cells"
        if evidence.equalised:
            doubts.append(f"{differs}: equalise once more")
        else:
            doubts.insert(0, f"{differs}, and no hold was done in this round: equalise first, then judge")
    return doubts
