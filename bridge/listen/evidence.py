"""What speaks for and against a guess, each with its weight; a guess is as sure as its evidence adds up.

Weights are natural logarithms of odds (evidence of independent witnesses adds): +2.2 alone would be 90 %, 0 is even.
All are assumed, ordered by this rule: physics over a said unit, a said unit over a name, a name over a letter, and
whatever contradicts over whatever agrees, because a wrong mapping that looks right is worse than five questions.
"""

from __future__ import annotations

from math import exp
from typing import NamedTuple

#: Nothing under this goes live: it is offered, commented out, with its reasons.
SURE_ENOUGH = 0.9
#: So sure, it is reckoned with while looking for what belongs together [1] (assumed).
HALF_BELIEVED = 0.3

#: What its owner says of a number.
TAKEN = "taken by hand"
#: A thermometer beside one of the bank's that is known or much likelier: a second one, if somebody bought it.
ANOTHER_KNOWN = "another is known"
#: A thermometer that hangs outside by its name: the weather's.
OUTDOORS = "outdoors"
#: Evidence -> weight [ln odds]. The name stands in `Evidence.name`; the reason in words is written where it is found.
WEIGHTS: dict[str, float] = {
    # what the payload, a description or a hub's announcement says
    "unit said": 3.0,
    "kind announced": 2.2,
    "unit beside": 2.6,
    # what a person says
    TAKEN: 12.0,
    # what names say
    "named": 1.8,
    "described": 1.5,
    "named further up": 0.9,
    "letter": 0.3,
    "cut short": 1.0,
    "place alone": -0.5,
    "sixteenths": 0.6,
    "no name": -2.5,
    "called alike": -1.5,
    "listed cells": -0.5,
    "letter in company": 1.2,
    "unit in the name": 0.8,
    "electrolyte named": 1.2,
    "battery named": 0.8,
    "air named": 0.5,
    # what the size says
    "fits a bank": 0.3,
    "only as millivolts": 0.6,
    "only as milliamperes": -0.5,
    "only kelvin": 1.0,
    "unit assumed": -0.2,
    "Celsius by size": 0.0,
    "Celsius or Fahrenheit": -1.0,
    "others say Fahrenheit": -2.5,
    "hardly a bank": -3.0,
    "fits no bank": -6.0,
    "cannot be": -6.0,
    "unit in doubt": -2.5,
    "adjective": -2.5,
    "named otherwise": -2.5,
    "wide name": -1.4,
    # how it behaves
    "lives": 0.3,
    "stands still": -1.6,
    "counts": -3.5,
    "register": -6.0,
    "only kept": -5.0,
    "read by hand": -1.0,
    "several labels": -5.0,
    "several units": -5.0,
    # whose it is
    "only one of its kind": 1.2,
    "beside the volts": 1.0,
    "own amps": 1.5,
    "watts beside": 1.5,
    "another circuit": -4.0,
    "another thing": -6.5,
    "another machine's battery": -2.0,
    "a stranger's": -2.5,
    "no amps of its own": -3.5,
    "no volts": -3.5,
    "seen again": -4.0,
    "whose": -2.2,
    OUTDOORS: -2.2,
    "only by name": -1.0,
    "only by its size": 0.0,
    "words not read": -0.5,
    "which of several": -3.0,
    "a second one": -3.0,
    "a share": -3.0,
    "of which bank": -1.0,
    "lithium": -7.0,
    "mains": -3.0,
    "not the bank's": -6.0,
    ANOTHER_KNOWN: -6.0,
    # physics among neighbours
    "product holds": 1.0,
    "watts agree": 3.0,
    "watts disagree": -4.0,
    "moves with the amps": 2.5,
    "by warmth": 1.0,
    "moved once with the amps": 0.5,
    "sums agree": 2.5,
    "by chance": -1.5,
    "half of the bank": 2.0,
    "by its share": 0.5,
    "not half of the bank": -4.0,
    "a half": -4.0,
    "sign shown": 0.4,
    "sign turned": 0.0,
    "sign not known": -1.0,
    "scale": -1.0,
    "power of ten": -1.0,
    "only as a count": -3.2,
    "size of a count": -0.5,
    "sign in doubt": -2.0,
}
#: What stays so unsure whatever else is known [0-1]: which way a current counts is asked, though it be the bank's for
#: certain.
MOST: dict[str, float] = {
    "of which bank": 0.6,
    "a second one": 0.6,
    "a share": 0.6,
    "Celsius or Fahrenheit": 0.5,
    "a stranger's": 0.3,
    "not the bank's": 0.01,
    OUTDOORS: 0.2,
    ANOTHER_KNOWN: 0.01,
    "sign not known": 0.7,
    "scale": 0.6,
    "power of ten": 0.6,
    "size of a count": 0.6,
    "sign in doubt": 0.4,
    "another machine's battery": 0.2,
    "only by name": 0.8,
    "only by its size": 0.8,
    "no name": 0.5,
    "called alike": 0.5,
    "listed cells": 0.5,
    "no volts": 0.5,
    "read by hand": 0.5,
    "words not read": 0.5,
    "by warmth": 0.7,
    "by its share": 0.7,
    "a half": 0.5,
}


class Evidence(NamedTuple):
    """One witness: its name in `WEIGHTS`, and the reason in words."""

    name: str
    words: str

    @property
    def weight(self) -> float:
        """Weight [ln odds]."""
        return WEIGHTS[self.name]


def sure(evidence: tuple[Evidence, ...]) -> float:
    """Return how sure the evidence makes us, 0 to 0.99.

    >>> sure((Evidence("unit said", "says V"),)), sure((Evidence("letter", "v"), Evidence("only kept", "kept")))
    (0.95, 0.01)

    A doubt caps what is guessed, never what its owner says:

    >>> doubted = (Evidence("letter", "v"), Evidence("only kept", "kept"))
    >>> sure((*doubted, Evidence(TAKEN, "its owner says so")))
    0.99
    """
    if any(one.name == TAKEN for one in evidence):
        return 0.99
    total = sum(one.weight for one in evidence)
    most = min((MOST[one.name] for one in evidence if one.name in MOST), default=0.99)
    return min(most, round(1.0 / (1.0 + exp(-max(-30.0, min(30.0, total)))), 2))
