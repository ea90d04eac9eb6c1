"""Experience is a prior: it weighs by its rounds and their sort, is bounded, and gives way to the round itself."""

from __future__ import annotations

import math

import pytest

from rules.bank import TAUGHT, Experience, Lesson
from rules.remaining.experience import DOUBT, NOTHING_LEARNED, learned, still_trusted
from rules.remaining.thresholds import THRESHOLDS as T


def _claims(rounds: int, longer: float = 1.1, sort: str = "any", spread: float = 0.3) -> Experience:
    every = Lesson("bulk", "any", rounds, longer, spread)
    own = () if sort == "any" else (Lesson("bulk", sort, rounds, longer, spread),)
    return Experience(rounds, (every, *own))


def test_few_rounds_weigh_little_and_many_all_but_whole() -> None:
    times = [learned(_claims(rounds), 1.9, "bulk").times for rounds in (1, 8, 1000)]
    # n / (n + 8) of the logarithm: 1/9, 1/2 and nearly 1.
    assert times == pytest.approx([1.1 ** (1 / 9), 1.1**0.5, 1.1 ** (1000 / 1008)], abs=1e-4)


def test_rounds_of_its_sort_speak_beside_those_of_all() -> None:
    two = Experience(40, (Lesson("bulk", "any", 40, 1.0, 0.3), Lesson("bulk", "flat", 8, 1.12, 0.3)))
    assert learned(two, 1.6, "bulk").times == pytest.approx(math.sqrt(1.12), abs=1e-4)
    assert learned(two, 2.05, "bulk").times == 1.0


@pytest.mark.parametrize("part", TAUGHT)
@pytest.mark.parametrize("longer", [0.1, 10.0])
def test_no_file_moves_a_part_beyond_a_share_of_its_own_doubt(part: str, longer: float) -> None:
    wild = Experience(1_000_000, (Lesson(part, "any", 1_000_000, longer, 0.0),))
    assert abs(math.log(learned(wild, 1.9, part).times)) <= T.moves_most.value * DOUBT[part] + 1e-4


def test_bands_never_become_narrower_for_it() -> None:
    assert learned(_claims(1000, spread=0.01), 1.9, "bulk").doubt(0.4) == 0.4
    assert learned(_claims(1000, spread=0.9), 1.9, "bulk").doubt(0.4) > 0.8
    assert NOTHING_LEARNED.doubt(0.4) == 0.4


def test_a_stage_that_contradicts_it_takes_the_trust_and_one_that_agrees_gives_some() -> None:
    thrice = _claims(1000, 3.0, spread=0.1)
    gone = still_trusted(thrice, 1.9, "bulk", 0.8, (5.0, 5.0))
    assert gone < 0.3
    assert still_trusted(thrice, 1.9, "bulk", gone, (5.0, 5.0)) < 0.04
    assert 0.8 < still_trusted(thrice, 1.9, "bulk", 0.8, (15.0, 5.0)) <= T.trusted_most.value
    assert learned(thrice, 1.9, "bulk", 0.0).times == 1.0
    assert still_trusted(thrice, 1.9, "finishing", 0.8, (5.0, 5.0)) == 0.8  # it claims nothing of this part
