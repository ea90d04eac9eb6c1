"""How far the experience of earlier rounds moves an estimate: by their number, and by their sort.

A prior, and no more than that. What rounds of all sorts showed is shrunk towards what is reckoned without them, what
rounds of this sort showed towards that of all (the credibility of actuaries, n / (n + k): Buehlmann 1967, from memory).
However many rounds a file claims, it moves a part by no more than a share of the doubt that the part has by itself: a
wrong file, or one of quite other banks, costs little. And the round's own evidence wins: inside a stage its currents
and volts are weighed against this prior as against any other, and each stage that ends tells whether it took what the
experience claims or what is reckoned without it; what is believed of the rest follows (Bayes).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from rules.bank import Experience
from rules.remaining.thresholds import THRESHOLDS as T

#: Standard deviation of the logarithm of each part as reckoned without experience [1]: as in `rules.remaining.parts`.
DOUBT = {"waking": 0.6, "reviving": 0.5, "bulk-ahead": 0.45, "bulk": 0.5, "absorbing": 1.0, "finishing": 1.0}


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
        """Return the spread of a part that without experience has this one [1]: wider where rounds showed it wider."""
        square = (1.0 - self.weight) * spread * spread + self.weight * self.spread * self.spread
        return max(spread, math.sqrt(square))


NOTHING_LEARNED = Times()
#: No likelihood is nothing at all.
TINY = 1e-12


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


def learned(experience: Experience, volts_found: float | None, part: str, trust: float = 1.0) -> Times:
    """Return what the experience makes of a part.

    Parameters
    ----------
    experience : Experience
        The bank's.
    volts_found : float or None
        Volts per cell as found [V].
    part : str
        One of `rules.bank.TAUGHT`.
    trust : float
        What this round has left of the trust in it, 0 to 1 [1].

    Examples
    --------
    Eight rounds weigh as much as what is known without them; and however long bulk took elsewhere, it is moved by no
    more than a part of its own doubt.

    >>> from rules.bank import Lesson
    >>> rounds = Experience(8, (Lesson("bulk", "any", 8, 1.21, 0.2),))
    >>> learned(rounds, 1.9, "bulk")
    Times(times=1.1, weight=0.5, spread=0.2)
    >>> learned(Experience(900, (Lesson("bulk", "any", 900, 5.0, 0.1),)), 1.9, "bulk").times
    1.1331
    >>> learned(rounds, 1.9, "finishing")
    Times(times=1.0, weight=0.0, spread=0.0)
    """
    longer, weight, spread = _claimed(experience, volts_found, part)
    if not weight:
        return NOTHING_LEARNED
    most = T.moves_most.value * DOUBT[part]
    return Times(round(math.exp(min(most, max(-most, trust * longer))), 4), trust * weight, spread)


def _claimed(experience: Experience, volts_found: float | None, part: str) -> tuple[float, float, float]:
    """Return the logarithm of how much longer it is said to take, shrunk, its weight, its spread [1]; else zeros."""
    sort = sort_of(volts_found)
    found = {lesson.sort: lesson for lesson in experience.lessons if lesson.part == part}
    every, own = found.get("any"), found.get(sort)
    if every is None or every.rounds <= 0:
        return 0.0, 0.0, 0.0
    few = T.rounds_weigh.value
    weight = every.rounds / (every.rounds + few)
    longer, square = weight * math.log(every.longer), every.spread * every.spread
    if own is not None and own.rounds > 0:
        share = own.rounds / (own.rounds + few)
        longer += share * (math.log(own.longer) - longer)
        square += share * (own.spread * own.spread - square)
        weight += share * (1.0 - weight)
    return longer, weight, math.sqrt(square)


def still_trusted(
    experience: Experience, volts_found: float | None, part: str, trust: float, hours: tuple[float, float]
) -> float:
    """Return what is left of the trust in an experience after a part has ended.

    Parameters
    ----------
    experience : Experience
        The bank's.
    volts_found : float or None
        Volts per cell as found [V].
    part : str
        What has ended: one of `rules.bank.TAUGHT`.
    trust : float
        Before, 0 to 1 [1].
    hours : tuple of float
        What it took, and what was reckoned without experience when it began [h].

    Examples
    --------
    A bulk that took what is reckoned speaks against a file that claims thrice as long, not against one of a fifth more.

    >>> from rules.bank import Lesson
    >>> for longer in (3.0, 1.2):
    ...     claims = Experience(90, (Lesson("bulk", "any", 90, longer, 0.3),))
    ...     print(round(still_trusted(claims, 1.9, "bulk", 0.8, (5.0, 5.0)), 2))
    0.25
    0.81
    """
    longer, weight, spread = _claimed(experience, volts_found, part)
    if not weight:
        return trust
    took = math.log(max(hours[0], T.tells_least.value) / max(hours[1], T.tells_least.value))
    claims = math.hypot(spread, T.tells_within.value)
    as_claimed = math.exp(-0.5 * ((took - longer) / claims) ** 2) / claims
    as_reckoned = math.exp(-0.5 * (took / DOUBT[part]) ** 2) / DOUBT[part]
    most = T.tells_most.value
    odds = trust / (1.0 - trust) * min(most, max(1.0 / most, as_claimed / max(as_reckoned, TINY)))
    return min(T.trusted_most.value, odds / (1.0 + odds))


def lesson_of(stage: str, phase: str) -> str:
    """Return the lesson for a stage: a bulk still to come is reckoned in another way than one under way.

    Examples
    --------
    >>> lesson_of("bulk", "reviving"), lesson_of("bulk", "bulk"), lesson_of("finishing", "bulk")
    ('bulk-ahead', 'bulk', 'finishing')
    """
    return "bulk-ahead" if stage == "bulk" and phase in ("waking", "reviving") else stage


def said(
    experience: Experience, volts_found: float | None, phase: str, named: tuple[str, ...], trust: float = 1.0
) -> str:
    """Return how an estimate says that it rests on earlier rounds, or nothing where they moved none of its parts.

    Parameters
    ----------
    experience : Experience
        The bank's.
    volts_found : float or None
        Volts per cell as found [V].
    phase : str
        In which it is said.
    named : tuple of str
        Stages that the estimate names.
    trust : float
        What this round has left of the trust in it, 0 to 1 [1].

    Examples
    --------
    >>> from rules.bank import Lesson
    >>> rounds = Experience(8, (Lesson("bulk", "any", 8, 1.21, 0.2),))
    >>> said(rounds, 1.9, "bulk", ("bulk", "finishing"))
    '8 earlier rounds make bulk 1.10 times as long'
    """
    moved = [(stage, learned(experience, volts_found, lesson_of(stage, phase), trust)) for stage in named]
    told = [f"{stage} {times.times:.2f} times" for stage, times in moved if times.weight]
    return f"{experience.rounds} earlier rounds make {', '.join(told)} as long" if told else ""
