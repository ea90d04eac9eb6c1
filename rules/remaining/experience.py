"""How far the experience of earlier rounds moves an estimate: by their number, and by their sort.

A prior, and no more than that. What rounds of all sorts showed is shrunk towards what is reckoned without them, what
rounds of this sort showed towards that of all (the credibility of actuaries, n / (n + k): Buehlmann 1967, from memory),
and nothing moves an estimate by more than a bound. Where the round itself tells something, its voice is weighed against
this one as against any other prior.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from rules.bank import Experience
from rules.remaining.thresholds import THRESHOLDS as T


class Times(NamedTuple):
    """How much longer than reckoned a part is expected to take.

    Attributes
    ----------
    times : float
        Over the hours reckoned without experience [1].
    weight : float
        How much the experience weighs against what is known without it, 0 to 1 [1].
    spread : float
        Standard deviation of the logarithm, as the rounds showed it [1].
    """

    times: float = 1.0
    weight: float = 0.0
    spread: float = 0.0

    def doubt(self, spread: float) -> float:
        """Return the spread of a part that without experience has this one [1]."""
        return math.sqrt((1.0 - self.weight) * spread * spread + self.weight * self.spread * self.spread)


NOTHING_LEARNED = Times()


def sort_of(volts_found: float | None) -> str:
    """Return the sort of a bank by its volts per cell as found [V].

    Examples
    --------
    >>> [sort_of(volts) for volts in (None, 1.6, 1.9, 2.05)]
    ['unknown', 'flat', 'low', 'charged']
    """
    if not volts_found:
        return "unknown"
    if volts_found < T.found_flat.value:
        return "flat"
    return "low" if volts_found < T.rested_low.value else "charged"


def learned(experience: Experience, volts_found: float | None, part: str) -> Times:
    """Return what the experience makes of a part, for a bank found at these volts per cell [V].

    Examples
    --------
    Eight rounds weigh as much as what is known without them; their sort adds its own.

    >>> from rules.bank import Lesson
    >>> rounds = Experience(8, (Lesson("bulk", "any", 8, 1.21, 0.2),))
    >>> learned(rounds, 1.9, "bulk")
    Times(times=1.1, weight=0.5, spread=0.2)
    >>> learned(rounds, 1.9, "finishing")
    Times(times=1.0, weight=0.0, spread=0.0)
    """
    sort = sort_of(volts_found)
    found = {lesson.sort: lesson for lesson in experience.lessons if lesson.part == part}
    every, own = found.get("any"), found.get(sort)
    if every is None or every.rounds <= 0:
        return NOTHING_LEARNED
    few = T.rounds_weigh.value
    weight = every.rounds / (every.rounds + few)
    longer, square = weight * math.log(every.longer), every.spread * every.spread
    if own is not None and own.rounds > 0:
        share = own.rounds / (own.rounds + few)
        longer += share * (math.log(own.longer) - longer)
        square += share * (own.spread * own.spread - square)
        weight += share * (1.0 - weight)
    most = math.log(T.moves_most.value)
    return Times(
        round(math.exp(min(most, max(-most, longer))), 4), weight, max(T.least_spread.value, math.sqrt(square))
    )


def said(experience: Experience, volts_found: float | None, named: tuple[str, ...]) -> str:
    """Return how an estimate says that it rests on earlier rounds, or nothing where they moved none of its parts.

    Parameters
    ----------
    experience : Experience
        The bank's.
    volts_found : float or None
        Volts per cell as found [V].
    named : tuple of str
        Parts of this estimate.

    Examples
    --------
    >>> from rules.bank import Lesson
    >>> rounds = Experience(8, (Lesson("bulk", "any", 8, 1.21, 0.2),))
    >>> said(rounds, 1.9, ("bulk", "finishing"))
    'by 8 earlier rounds: bulk 1.10 times'
    """
    moved = [(part, learned(experience, volts_found, part)) for part in named]
    told = [f"{part} {times.times:.2f} times" for part, times in moved if times.weight]
    return f"by {experience.rounds} earlier rounds: {', '.join(told)}" if told else ""
