"""Ampere-hours that somebody counts: nobody does so but of a battery, and they are of that current whose sum they are.

Other things have their energy counted, in watt-hours; charge matters only where it is kept.
"""

from __future__ import annotations

from itertools import pairwise

from bridge.listen.names import words_of
from bridge.listen.physics import Series
from bridge.listen.source import Source

#: What ampere-hours are called -> how many of them one is [Ah].
_CALLED = {"ah": 1.0, "mah": 0.001}
#: The count and the current's own sum agree within this share, and the count has moved by so many of its smallest
#: steps, or nothing is shown [1] (assumed: two meters, each with its error).
_AGREE, _STEPS = 0.1, 5
_SECONDS_OF_AN_HOUR = 3600.0


def counts_charge(source: Source) -> float | None:
    """Return how many ampere-hours one of a source's numbers is [Ah], by its unit or its name; None if it is not one.

    >>> counts_charge(Source("hut/fore/Ah", "plain")), counts_charge(Source("hut/fore/kWh", "plain"))
    (1.0, None)
    """
    if source.unit is not None:
        return _CALLED.get(source.unit.lower())
    said = [_CALLED[word] for word in words_of(f"{source.topic} {source.label} {source.at}") if word in _CALLED]
    return said[-1] if said and not source.contact else None


def is_sum_of(charge: Series, each: float, amps: Series) -> bool:
    """Tell whether a count of charge goes on as a current flows.

    Parameters
    ----------
    charge : sequence of (float, float)
        When [s], and what was counted.
    each : float
        What one of it is [Ah].
    amps : sequence of (float, float)
        When [s], and the current [A]; its sign does not matter, for some count what is taken.

    Examples
    --------
    >>> counted = [(60.0 * n, 9.4 + round(0.05 * n, 2)) for n in range(10)]
    >>> is_sum_of(counted, 1.0, [(t, 3.0) for t in range(600)]), is_sum_of(counted, 1.0, [(t, 6.0) for t in range(600)])
    (True, False)
    """
    if not charge:
        return False
    (begin, first), (end, last) = charge[0], charge[-1]
    flows = [flow for when, flow in amps if begin <= when <= end]
    steps = {abs(later - sooner) for (_, sooner), (_, later) in pairwise(charge) if later != sooner}
    if not flows or not steps:
        return False
    counted, step = each * abs(last - first), each * min(steps)
    flowed = abs(sum(flows)) / len(flows) * (end - begin) / _SECONDS_OF_AN_HOUR
    return counted >= _STEPS * step and abs(counted - flowed) <= _AGREE * flowed
