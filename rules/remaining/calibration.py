"""How far truth lay from the hours foretold, stage by stage, on simulated banks: what makes a band hold four in five.

The parts of a round are reasoned, and reasoning is too sure of itself. Here every stage has a factor from the hours
reckoned before the hold to those that were true, with a band around it, and the hold has the band of its beginning.
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
    """How truth lay beside the hours reckoned before the hold, in a stage: a factor, and a band around it.

    Attributes
    ----------
    level : float
        Logarithm of true over reckoned hours in the middle [1].
    low, high : float
        10 % and 90 % around it, as logarithms [1].
    typical : float
        Width of the reasoned band in this stage, as a logarithm [1]: a narrower one narrows this band, by its root.
    """

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


#: Fitted on all five families, seeds 0 to 13, by the script named above.
STAGES = {
    "waking": Stage(-0.01, -1.01, 0.91, 1.41),
    "reviving": Stage(-0.35, -0.87, 1.38, 1.44),
    "bulk": Stage(0.03, -1.02, 1.72, 1.54),
    "absorbing": Stage(-0.84, -1.33, 2.36, 2.17),
    "finishing": Stage(-0.23, -1.6, 1.9, 1.04),
}
#: By how a hold starts.
HOLDS = {"at-voltage": Begun(0.033, 0.03), "at-current": Begun(0.136, 0.019)}


def width(up: float, down: float) -> float:
    """Return the width of the reasoned band, 10 to 90 %, as a logarithm [1], of its spreads upward and downward [1].

    Examples
    --------
    >>> round(width(0.5, 0.3), 2)
    1.28
    """
    return FORGOTTEN + math.log1p(TENTH * up) - math.log(max(LEAST_LEFT, 1.0 - TENTH * down))


def before(phase: str, hours: float, up: float, down: float, wider: float, known: float = 0.0) -> Hours:
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
    known : float
        How far earlier rounds of this place stand for the simulated ones: they know the factor themselves [1].

    Returns
    -------
    Hours
        [h].

    Examples
    --------
    >>> low, middle, high = before("bulk", 10.0, 0.5, 0.3, 0.0)
    >>> low < middle < high and before("bulk", 10.0, 0.5, 0.3, 0.5).high > high
    True
    >>> before("bulk", 10.0, 0.05, 0.05, 0.0).high < high
    True
    """
    stage = STAGES.get(phase)
    if stage is None or hours <= 0.0:
        return Hours(hours, hours, hours)
    middle = (1.0 - known) * stage.level + math.log(hours + FEW_HOURS)
    apart = math.exp(wider) * math.sqrt(min(1.0, width(up, down) / stage.typical))
    logs = (middle + apart * stage.low, middle, middle + apart * stage.high)
    return Hours(*[max(0.0, math.exp(log) - FEW_HOURS) for log in logs])
