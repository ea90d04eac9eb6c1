"""Keep, derate, repeat or scrap: evidence and judgement."""

from rules.verdict.capacity_test import CapacityTest, advance, result
from rules.verdict.evidence import evidence_of
from rules.verdict.judgement import (
    FEWEST_COMPARED,
    GRAVITY_BELOW,
    NO_TEST,
    NOT_JUDGED,
    VOLTS_BELOW,
    WORDS,
    Given,
    Verdict,
    judge,
)
from rules.verdict.matching import Matching, matching

__all__ = [
    "FEWEST_COMPARED",
    "GRAVITY_BELOW",
    "NOT_JUDGED",
    "NO_TEST",
    "VOLTS_BELOW",
    "WORDS",
    "CapacityTest",
    "Given",
    "Matching",
    "Verdict",
    "advance",
    "evidence_of",
    "judge",
    "matching",
    "result",
]
