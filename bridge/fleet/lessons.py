"""From rows of rounds to the experience file: what each part of an estimate took over what was reckoned."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from statistics import fmean
from typing import Any

from bridge.fleet.round_row import PART_STAGES, foretold_parts
from rules.bank import TAUGHT, Experience, Lesson
from rules.remaining import STAGE_OF, sort_of

Row = Mapping[str, Any]
Told = Mapping[str, Any]
#: Shorter hours than these say nothing of a ratio [h]: the sentence gives tenths, and a phase begins within minutes.
SHORTEST = 0.3
#: One round counts as no more than so many times longer or shorter [1].
ODDEST = 6.0
#: What the spread of a few ratios is shrunk towards (standard deviation of a logarithm), as one round more [1];
#: assumed.
USUAL_SPREAD = 0.7
#: Parts that are reckoned best before they begin: afterwards the estimate sees them itself.
FROM_BEFORE = ("absorbing", "finishing")
_MOVED = re.compile(r"\b([a-z]+) ([0-9]+\.[0-9]+) times")


def experience_of(rows: Iterable[Row]) -> Experience:
    """Return what rounds that held have taught; rows of others, and of parts of rounds, teach nothing of hours."""
    found: dict[tuple[str, str], list[float]] = {}
    rounds = 0
    for row in rows:
        ratios = part_ratios(row)
        rounds += bool(ratios)
        for part, ratio in ratios.items():
            for sort in ("any", sort_of(row["volts_found"])):
                found.setdefault((part, sort), []).append(math.log(min(ODDEST, max(1.0 / ODDEST, ratio))))
    lessons = [
        Lesson(part, sort, len(logs), round(math.exp(fmean(logs)), 3), round(_spread(logs), 3))
        for (part, sort), logs in sorted(found.items(), key=lambda item: _order(*item[0]))
    ]
    return Experience(rounds, tuple(lessons))


def _order(part: str, sort: str) -> tuple[int, bool, str]:
    """Return parts in the order of a round, each with all sorts first."""
    return TAUGHT.index(part), sort != "any", sort


def part_ratios(row: Row) -> dict[str, float]:
    """Return hours needed over hours reckoned, without any earlier experience, for each part a round tells of [1]."""
    if row["outcome"] != "held" or not row["whole"]:
        return {}
    ratios = {}
    for part in TAUGHT:
        for told in row["moments"]:
            inside = told["stage"] == part
            if inside == (part in FROM_BEFORE):
                continue
            ratio = _ratio(part, told)
            if ratio is not None:
                ratios[part] = ratio
                break
    return ratios


def _ratio(part: str, told: Told) -> float | None:
    named = {name: hours for name, hours in foretold_parts(told["reason"]).items() if STAGE_OF[name] == part}
    stages = {stage for name in named for stage in PART_STAGES[name]}
    if part == "bulk" and not any(STAGE_OF[name] == "absorbing" for name in foretold_parts(told["reason"])):
        stages.add("absorbing")  # the charger goes there at once: nothing is waited for
    moved = {name: float(times) for name, times in _MOVED.findall(told["reason"])}
    reckoned = sum(named.values()) / moved.get(part, 1.0)
    if not named or reckoned < SHORTEST:
        return None
    needed = sum(float(told["left"][stage]) for stage in stages)
    return max(SHORTEST / 2.0, needed) / reckoned


def _spread(logs: list[float]) -> float:
    mean = fmean(logs)
    return math.sqrt((sum((log - mean) ** 2 for log in logs) + USUAL_SPREAD**2) / len(logs))
