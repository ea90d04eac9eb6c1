"""How long the current at the equalising voltage still falls: a grid of tapers, weighed by how they meet the past.

A taper is what is accepted above a gassing floor: it dies away exponentially where one heap of sulfate dissolves, and
more slowly the more its crystals differ. Three numbers describe it, the floor, the pace now and how the pace slackens;
all their combinations on a coarse grid are kept, each weighed by the currents of this round. What comes out is a
distribution of hours, wide while little has been seen.

The floor is gas, and gas moves with warmth: a bank that its own current has heated, or an afternoon, gasses more, and
less again when the current has fallen. Without that every bank that warms seems never to finish.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

from rules.phase import THRESHOLDS as PHASE
from rules.phase import WARMTH
from rules.remaining.thresholds import THRESHOLDS as T

#: Gassing floor over the tail current, as warm as the bank will be then [1], pace of the fall now [1/h], and how the
#: pace slackens (0 = exponential, 1 = as of a reaction of the second order) [1]. Wide on purpose, assumed.
FLOORS = (0.0, 0.3, 0.55, 0.75, 0.9, 1.05, 1.25, 1.5)
PACES = (0.015, 0.03, 0.05, 0.08, 0.12, 0.18, 0.27, 0.4, 0.7, 1.2)
SLACKS = (0.0, 0.5, 1.0, 2.0)
#: Hours ahead at which a taper is looked at [h].
AHEAD = (
    0.0,
    0.25,
    0.5,
    1.0,
    1.5,
    2.0,
    3.0,
    4.0,
    5.0,
    6.0,
    8.0,
    10.0,
    12.5,
    15.0,
    18.0,
    22.0,
    27.0,
    33.0,
    40.0,
    50.0,
    62.0,
    80.0,
    120.0,
)
FOUR_HOURS = 4.0
#: By the clock, over which a bank gives off what its own current has heated it by [h]: 250 kg at 1 kJ/(kg K) in still
#: air (assumed).
COOLS_OVER = 8.0
#: Further back nothing is compared [h].
LOOKS_BACK = 24.0


class Span(NamedTuple):
    """Hours: 10 %, middle, 90 % [h]."""

    low: float
    middle: float
    high: float


class Point(NamedTuple):
    """A current [A], for how long the bank had been at the equalising voltage [h], and its electrolyte [degC]."""

    hours: float
    amps: float
    temperature: float = 25.0


Points = tuple[Point, ...]
#: What cooling makes of the floor at every hour ahead, and four hours before it [1].
Course = tuple[tuple[float, ...], tuple[float, ...]]


class Seen(NamedTuple):
    """A stay at the equalising voltage so far.

    Attributes
    ----------
    points : tuple of Point
        What was taken.
    hours : float
        Charging hours there [h].
    temperature : float
        Electrolyte now [degC].
    above : float
        By how much that is above what it would be without current [K].
    runs : float
        Share of the time in which the charger runs: what it heats in a run, a bank gives off in the stop after it [1].
    """

    points: Points = ()
    hours: float = 0.0
    temperature: float = 25.0
    above: float = 0.0
    runs: float = 1.0


def keep(points: Points, hours: float, amps: float, temperature: float = 25.0) -> Points:
    """Add a point of (hours at the equalising voltage [h], current [A]) where it is far enough from the last.

    Examples
    --------
    >>> seen = (Point(0.0, 12.0),)
    >>> len(keep(seen, 0.1, 11.9)), keep(seen, 1.0, 11.0)[-1]
    (1, Point(hours=1.0, amps=11.0, temperature=25.0))
    """
    if points and hours < points[-1][0] + max(T.apart_least.value, T.kept_apart.value * hours):
        return points
    return (*points[-79:], Point(hours, amps, temperature))


def left(seen: Seen, amps: float, tail: float, steady_in: float, prior: tuple[float, float]) -> Span:
    """Return the hours until a hold that waits for its current begins.

    Parameters
    ----------
    seen : Seen
        The stay so far.
    amps : float
        Current now [A].
    tail : float
        Current under which the hold begins [A].
    steady_in : float
        Hours of uninterrupted charging until a flat current counts as well [h]; infinite where charging is interrupted.
    prior : tuple of float
        Middle of the whole stage [h] and standard deviation of its logarithm [1], before anything was seen.

    Returns
    -------
    Span
        Hours still to go [h].

    Examples
    --------
    An exponential taper with a time constant of 5 h, from 30 A, now at 12 A, to 6 A, would end after 3.5 h. It is the
    quickest of the tapers that meet this past, and most real ones slacken, so it stands at the short end of the answer:

    >>> import math
    >>> seen = tuple(Point(0.5 * k, 30.0 * math.exp(-0.1 * k)) for k in range(10))
    >>> span = left(Seen(seen, 4.6), 12.0, 6.0, math.inf, (12.0, 0.7))
    >>> [round(hours, 1) for hours in span]
    [4.1, 6.2, 9.3]

    The same currents in a bank that has warmed by 8 K meanwhile fall in truth faster, and will when it cools:

    >>> warmed = tuple(point._replace(temperature=25.0 + 8.0 * point.hours / 4.6) for point in seen)
    >>> left(Seen(warmed, 4.6, 33.0, 8.0), 12.0, 6.0, math.inf, (12.0, 0.7)).middle < span.middle
    True
    """
    points, hours = since_last_peak(seen.points, seen.hours)
    recent = [
        (point.hours - hours, math.log(point.amps), math.exp(WARMTH * (point.temperature - seen.temperature)))
        for point in points
        if point.amps > 0.0 and hours - point.hours <= LOOKS_BACK
    ]
    # What its own current heats, it heats the less the nearer the current comes to the tail, and the less of the day
    # the charger runs: the bank that was hot in the evening begins the next run cool.
    cools = seen.above * max(0.0, 1.0 - seen.runs * tail / max(amps, tail))
    course = (_cooling(cools, seen.runs, 0.0), _cooling(cools, seen.runs, FOUR_HOURS))
    # The past speaks the less the further back it is, and all of it together as a few independent looks: strings that
    # wake late, warmth and weather move the current in ways that no smooth taper has.
    age = [1.0 / (1.0 + (at / max(0.25 * hours, 1.0)) ** 2) for at, _, _ in recent]
    trust = T.fit_looks.value / (sum(age) or 1.0) / T.fit_error.value**2
    found: list[tuple[float, float]] = []
    for floor_share in FLOORS:
        floor = floor_share * tail * math.exp(WARMTH * cools)
        over = amps - floor
        if over <= LEAST_OVER * amps:
            continue
        for pace in PACES:
            for slack in SLACKS:
                ends = _ends(floor, over, pace, slack, tail, steady_in, course)
                whole = math.log((hours + ends) / prior[0]) / prior[1]
                wrong = trust * _distance(recent, age, floor, over, pace, slack)
                found.append((ends, -0.5 * wrong - 0.5 * whole * whole))
    return _quantiles(found, prior)


def _cooling(cools: float, runs: float, earlier: float) -> tuple[float, ...]:
    """Return what giving off so much heat [K] makes of the floor, so many hours before every hour ahead [1]."""
    over = COOLS_OVER * runs
    return tuple([math.exp(-WARMTH * cools * (1.0 - math.exp(-max(0.0, hours - earlier) / over))) for hours in AHEAD])


def since_last_peak(points: Points, hours: float) -> tuple[Points, float]:
    """Return what was seen since the current last climbed to a peak, hours [h] by amps [A], and hours since [h].

    A string that wakes late begins the stage anew.

    Examples
    --------
    >>> seen = (Point(0.0, 18.0), Point(4.0, 9.0), Point(8.0, 14.0), Point(12.0, 12.0))
    >>> since_last_peak(seen, 13.0)
    ((Point(hours=0.0, amps=14.0, temperature=25.0), Point(hours=4.0, amps=12.0, temperature=25.0)), 5.0)
    """
    start, lowest = 0, math.inf
    for number, point in enumerate(points):
        # As warm as now: an afternoon is no string that wakes.
        amps = point.amps * math.exp(WARMTH * (points[-1].temperature - point.temperature))
        if amps > T.climbs_anew.value * lowest:
            start, lowest = number, math.inf
        elif start and point.amps > points[start].amps:
            start = number
        else:
            lowest = min(lowest, amps)
    begun = points[start].hours if start else 0.0
    return tuple([point._replace(hours=point.hours - begun) for point in points[start:]]), hours - begun


def _distance(
    recent: list[tuple[float, float, float]], age: list[float], floor: float, over: float, pace: float, slack: float
) -> float:
    """Return weighted squares of what this taper misses of the past, in logarithms of the current [1]."""
    total = 0.0
    for (at, seen, warmer), weight in zip(recent, age, strict=True):
        then = _shape(at, pace, slack)
        gap = math.log(floor * warmer + over * then) - seen if then > 0.0 else 1.0
        total += weight * gap * gap
    return total


#: A floor this near to the current leaves no taper to follow [1].
LEAST_OVER = 0.02
#: Closer to its own beginning than this a taper cannot be followed back [1].
LEAST_BASE = 0.02


@lru_cache(maxsize=4096)
def _curve(pace: float, slack: float) -> tuple[float, ...]:
    return tuple([_shape(ahead, pace, slack) for ahead in AHEAD])


@lru_cache(maxsize=4096)
def _before(pace: float, slack: float) -> tuple[float, ...]:
    return tuple([_shape(ahead - FOUR_HOURS, pace, slack) for ahead in AHEAD])


def _shape(at: float, pace: float, slack: float) -> float:
    """Return part above the floor, so long from now [h], over that of now [1]; 0 where the taper cannot have been."""
    if slack == 0.0:
        return math.exp(min(20.0, -pace * at))
    base = 1.0 + slack * pace * at
    return math.exp(-math.log(base) / slack) if base > LEAST_BASE else 0.0


def _ends(floor: float, over: float, pace: float, slack: float, tail: float, steady_in: float, course: Course) -> float:
    """Return when this taper passes the tail, or is flat enough and long enough [h]."""
    curve, before = _curve(pace, slack), _before(pace, slack)
    last, last_amps = 0.0, floor + over
    for ahead, share, then, cooler, cooler_then in zip(AHEAD, curve, before, *course, strict=True):
        amps = floor * cooler + over * share
        if amps <= tail:
            if last_amps <= tail or ahead == 0.0:
                return ahead + 0.25
            part = math.log(last_amps / tail) / math.log(last_amps / amps)
            return last + part * (ahead - last) + 0.25
        if ahead >= steady_in and amps <= PHASE.flat_tails.value * tail and then > 0.0:
            earlier = floor * cooler_then + over * then
            if earlier - amps <= PHASE.flat_within.value * amps:
                return max(ahead, steady_in)
        last, last_amps = ahead, amps
    return T.grows.value


def _quantiles(found: list[tuple[float, float]], prior: tuple[float, float]) -> Span:
    if not found:
        return Span(0.25, 0.5, 0.4 * prior[0])
    best = max(weight for _, weight in found)
    weighed = sorted([(ends, math.exp(weight - best)) for ends, weight in found])
    total = sum([weight for _, weight in weighed])
    result, passed, wanted = [], 0.0, [0.1, 0.5, 0.9]
    for ends, weight in weighed:
        passed += weight
        while wanted and passed >= wanted[0] * total:
            result.append(ends)
            wanted.pop(0)
    return Span(*result[:3])
