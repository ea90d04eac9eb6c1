"""What numbers say about each other, whatever they are called: watts, sums, and what moves together."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import pairwise
from statistics import correlation, median, pstdev

Series = Sequence[tuple[float, float]]

#: Values of one moment: so far apart at most [s]. Slow meters report once a minute.
SAME_MOMENT = 60.0
#: Watts agree with volts times amps within this share; meters round, and do not sample together (assumed).
_AGREE, _OFTEN = 0.08, 0.8
#: In the middle they are so near all the same, however they scatter [1] (assumed).
_MIDDLE = 0.05
#: And watts are rounded by so much [W].
_ROUNDED = 0.02
#: Too few watts to be told from rounding [W].
LEAST_WATTS = 3.0
#: So few are compared all the same where more than so many samples were heard [W], [1] (assumed).
FEW_WATTS, MANY = 0.5, 20
#: Smaller than this is nothing, and no ratio is taken to it.
_NOTHING = 1e-6
#: Fewer samples than this show no answer (assumed).
_ENOUGH = 8
#: A step of the current: this share of its largest value, and at least so many amps (assumed).
_STEP_SHARE, _STEP_AMPS = 0.25, 0.8
#: A step of the voltage stands out of its own noise by so much.
_OUT_OF_NOISE = 4.0
#: This share of the steps that the voltage answered have to agree [1] (assumed: chance gives a half).
_AS_ONE = 0.8
#: How long the voltage may take to answer [s].
_ANSWERS = 30.0
#: Values of one moment while a current steps [s].
_BESIDE = 15.0


def at(series: Series, when: float, within: float = SAME_MOMENT) -> float | None:
    """Return the last value at or before a moment, or the next one, if near enough.

    >>> at([(0.0, 1.0), (10.0, 2.0)], 12.0), at([(0.0, 1.0)], 90.0)
    (2.0, None)
    """
    place = bisect_right(series, when, key=lambda one: one[0])
    near = [series[spot] for spot in (place - 1, place) if 0 <= spot < len(series)]
    near = [one for one in near if abs(one[0] - when) <= within]
    return min(near, key=lambda one: abs(one[0] - when))[1] if near else None


def watts_agree(volts: Series, amps: Series, watts: Series) -> bool | None:
    """Return whether watts are volts times amps nearly always; None where too little flows to tell.

    >>> watts_agree([(0, 26.0)], [(0, -49.5)], [(1, -1290.0)]), watts_agree([(0, 26.0)], [(0, 49.5)], [(1, 640.0)])
    (True, False)
    """
    compared = [abs(told - product) <= _AGREE * product + _ROUNDED for told, product in _products(volts, amps, watts)]
    if not compared:
        return None
    return sum(compared) >= _OFTEN * len(compared)


def watts_agree_in_the_middle(volts: Series, amps: Series, watts: Series) -> bool:
    """Return whether watts scatter about volts times amps, as where slow meters look at a load that comes and goes.

    >>> volts, amps = ([(30.0 * n, value) for n in range(20)] for value in (25.0, 2.0))
    >>> watts = [(30.0 * n, 50.0 + (20.0 if n % 3 == 0 else -20.0 if n % 3 == 1 else 0.0)) for n in range(20)]
    >>> watts_agree(volts, amps, watts), watts_agree_in_the_middle(volts, amps, watts)
    (False, True)
    """
    ratios = [told / product for told, product in _products(volts, amps, watts) if product > FEW_WATTS]
    return len(ratios) >= _ENOUGH and abs(median(ratios) - 1.0) <= _MIDDLE


def _products(volts: Series, amps: Series, watts: Series) -> Iterator[tuple[float, float]]:
    """Yield watts as they are told, and volts times amps of the same moment, wherever enough flows to tell."""
    for when, told in watts:
        volt, amp = at(volts, when), at(amps, when)
        if volt is None or amp is None:
            continue
        product = abs(volt * amp)
        if max(product, abs(told)) >= LEAST_WATTS or (product > FEW_WATTS and len(watts) > MANY):
            yield abs(told), product


def ratio(one: Series, other: Series) -> tuple[float, float] | None:
    """Return the median of one over other at the same moments, and how far it strays; None without such moments.

    >>> ratio([(0, 12.0), (9, 12.2)], [(0, 24.0), (9, 24.4)])
    (0.5, 0.0)
    """
    ratios = [
        value / beside for when, value in one if (beside := at(other, when)) is not None and abs(beside) > _NOTHING
    ]
    return (median(ratios), pstdev(ratios)) if ratios else None


def answers(volts: Series, amps: Series) -> tuple[int, int]:
    """Return how many steps of the current the voltage followed, and how many it went against; 0, 0 by chance.

    A bank's voltage rises when more charge flows and falls when less does; a step up of a current that counts
    discharge as positive makes it fall.

    >>> v = [(t, 31.6 if t < 60 else 30.0) for t in range(120)]
    >>> a = [(t, 12.0 if t < 60 else 0.0) for t in range(120)]
    >>> answers(v, a), answers(v, [(t, -i) for t, i in a])
    ((1, 0), (0, 1))
    """
    if min(len(volts), len(amps)) < _ENOUGH:
        return 0, 0
    largest = max(abs(value) for _, value in amps)
    least = max(_STEP_AMPS, _STEP_SHARE * largest)
    changes = [abs(later[1] - sooner[1]) for sooner, later in pairwise(volts)]
    noise = max(median(changes), 1e-4 * abs(volts[0][1]))
    followed = against = 0
    for (before, low), (after, high) in pairwise(amps):
        step = high - low
        if abs(step) < least or after - before > SAME_MOMENT:
            continue
        first, then = at(volts, before - 2.0, 15.0), at(volts, after + _ANSWERS, 15.0)
        if first is None or then is None or abs(then - first) < _OUT_OF_NOISE * noise:
            continue
        if (then - first) * step > 0:
            followed += 1
        else:
            against += 1
    return (followed, against) if max(followed, against) >= _AS_ONE * (followed + against) else (0, 0)


def moves_together(volts: Series, amps: Series) -> float:
    """Return how well volts follow amps, -1 to 1: the weaker of two correlations, of values and of their changes.

    Two numbers that only drift agree in their values by chance, but not in what they do from one half minute to the
    next. 0 where too little moved to tell.

    >>> a = [(t, 20.0 if t // 60 % 2 else 5.0) for t in range(400)]
    >>> round(moves_together([(t, 27.0 + 0.1 * i) for t, i in a], a), 6), moves_together([(0, 27.0)], [(0, 5.0)])
    (1.0, 0.0)
    >>> moves_together([(t, 27.0 + 0.001 * t) for t in range(400)], [(t, 5.0 + 0.001 * t) for t in range(400)])
    0.0
    """
    values, changes = [], []
    for when, flow in amps:
        now, then, later = (
            at(volts, when, _BESIDE),
            at(volts, when + _ANSWERS, _BESIDE),
            at(amps, when + _ANSWERS, _BESIDE),
        )
        if now is None or then is None or later is None:
            continue
        values.append((now, flow))
        changes.append((then - now, later - flow))
    if len(values) < _ENOUGH or max(abs(change) for _, change in changes) < _STEP_AMPS:
        return 0.0
    if len({volt for volt, _ in values}) == 1 or len({change for change, _ in changes}) == 1:
        return 0.0
    found = [correlation(*zip(*pairs, strict=True)) for pairs in (values, changes)]
    return min(found, key=abs) if found[0] * found[1] > 0.0 else 0.0
