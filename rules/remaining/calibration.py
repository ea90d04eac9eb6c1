"""How far truth lay from the hours foretold, stage by stage, on simulated banks: what makes a band hold four in five.

The parts of a round are reasoned, and reasoning is too sure of itself: half an hour reckoned before the hold took two,
and forty took twenty. Here every stage has a line, between logarithms, from the hours reckoned before the hold to those
that were true, with a band around it; the line is less steep than one to one where reckoned hours are scattered. The
hold has the band of its beginning.
They are fitted by `tests/bench/estimate/families/calibrate.py` on five families of simulated banks that share no
equations (source 26); how they do on a family that was left out stands in `tests/bench/RESULTS.md`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

#: 10 % and 90 % of a normal distribution, in standard deviations.
TENTH = 1.2816
#: Hours under which a ratio says nothing [h]; a spread downward leaves at least so much of the hours [1]; what any
#: reasoned band forgets, as a logarithm [1].
FEW_HOURS, LEAST_LEFT, FORGOTTEN = 0.5, 0.05, 0.3


class Stage(NamedTuple):
    """How truth lay beside the hours reckoned before the hold, in a stage: a line, and a band around it.

    Attributes
    ----------
    slope : float
        How much of the reckoned hours the true ones follow, between logarithms [1].
    level : float
        Logarithm of the true hours, or ratings, where one was reckoned [1].
    low, high : float
        10 % and 90 % around it, as logarithms [1].
    typical : float
        Width of the reasoned band in this stage, as a logarithm [1]: a narrower one narrows this band, by its root.
    """

    slope: float
    level: float
    low: float
    high: float
    typical: float


class Begun(NamedTuple):
    """By how much of a hold its end came earlier, and later, than its clock said: 10 % and 90 % [1]."""

    early: float
    late: float


class Hours(NamedTuple):
    """Low, middle and high [h]."""

    low: float
    middle: float
    high: float


#: Fitted on all five families, seeds 0 to 127, by the script named above.
STAGES = {
    "waking": Stage(0.38, 0.25, -0.5, 0.59, 1.4),
    "reviving": Stage(0.5, -0.04, -0.94, 0.87, 1.48),
    "bulk": Stage(0.62, -0.17, -1.03, 1.2, 1.63),
    "absorbing": Stage(0.61, 0.29, -1.36, 1.33, 2.27),
    "finishing": Stage(0.64, 0.12, -1.43, 1.24, 1.2),
}
#: Stages that are charge over current: their hours are taken in hours of the charger's current that make the rating, so
#: that half the current takes twice as long.
PACED = frozenset({"waking", "reviving", "bulk"})
#: By how a hold starts.
HOLDS = {"at-voltage": Begun(0.087, 0.058), "at-current": Begun(0.117, 0.013)}


def width(up: float, down: float) -> float:
    """Return the width of the reasoned band, 10 to 90 %, as a logarithm [1], of its spreads upward and downward [1].

    Examples
    --------
    >>> round(width(0.5, 0.3), 2)
    1.28
    """
    return FORGOTTEN + math.log1p(TENTH * up) - math.log(max(LEAST_LEFT, 1.0 - TENTH * down))


def before(phase: str, hours: float, up: float, down: float, wider: float, rating: float, known: float = 0.0) -> Hours:
    """Return low, middle and high of the hours before the hold.

    Parameters
    ----------
    phase : str
        The stage that the bank is in.
    hours : float
        As its parts say [h].
    up, down : float
        Relative spreads of these, one standard deviation [1].
    wider : float
        Logarithm by which this round's own misses widen the band [1].
    rating : float
        Hours in which the charger gives the bank its rating [h].
    known : float
        How far earlier rounds of this place stand for the simulated ones: they know the line themselves [1].

    Returns
    -------
    Hours
        [h].

    Examples
    --------
    >>> low, middle, high = before("bulk", 10.0, 0.5, 0.3, 0.0, 20.0)
    >>> low < middle < high and before("bulk", 10.0, 0.5, 0.3, 0.5, 20.0).high > high
    True
    >>> before("bulk", 10.0, 0.05, 0.05, 0.0, 20.0).high < high
    True
    """
    stage = STAGES.get(phase)
    if stage is None or hours <= 0.0:
        return Hours(hours, hours, hours)
    paced = math.log(rating) if phase in PACED else 0.0
    reckoned = math.log(hours + FEW_HOURS) - paced
    middle = known * reckoned + (1.0 - known) * (stage.level + stage.slope * reckoned) + paced
    apart = math.exp(wider) * math.sqrt(min(1.0, width(up, down) / stage.typical))
    logs = (middle + apart * stage.low, middle, middle + apart * stage.high)
    return Hours(*[max(0.0, math.exp(log) - FEW_HOURS) for log in logs])
