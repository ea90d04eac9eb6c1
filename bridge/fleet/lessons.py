"""From rows of rounds to the experience file: what each part of an estimate took over what was reckoned."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from statistics import fmean
from typing import Any

from bridge.fleet.round_row import PART_STAGES, foretold_parts
from rules.bank import TAUGHT, Experience, Lesson
from rules.remaining import STAGE_OF, lesson_of, sort_of

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
                found.setdefault((part, sort), []).append(math.log(ratio))
    lessons = [
        Lesson(part, sort, len(logs), round(math.exp(fmean(logs)), 3), round(_spread(logs), 3))
        for (part, sort), logs in sorted(found.items(), key=lambda item: _order(*item[0]))
    ]
    return Experience(rounds, tuple(lessons))


def _order(part: str, sort: str) -> tuple[int, bool, str]:
    """Return parts in the order of a round, each with all sorts first."""
    return TAUGHT.index(part), sort != "any", sort


def part_ratios(row: Row) -> dict[str, float]:
    """Return hours needed over hours reckoned, without any earlier experience, for each part a round tells of [1].

    The geometric mean of what was said at the entry of its stages: one round is one voice.
    """
    if row["outcome"] != "held" or not row["whole"]:
        return {}
    logs: dict[str, list[float]] = {}
    for told in row["moments"]:
        if told["moment"].startswith("entry"):
            for part, ratio in _ratios(told).items():
                logs.setdefault(part, []).append(math.log(min(ODDEST, max(1.0 / ODDEST, ratio))))
    return {part: math.exp(fmean(found)) for part, found in logs.items()}


def _ratios(told: Told) -> dict[str, float]:
    """Return the ratios of one estimate, without what an earlier experience had moved in it."""
    named = foretold_parts(told["reason"])
    moved = {name: float(times) for name, times in _MOVED.findall(told["reason"])}
    reckoned: dict[str, float] = {}
    passes: dict[str, set[str]] = {}
    for name, hours in named.items():
        stage = STAGE_OF[name]
        reckoned[stage] = reckoned.get(stage, 0.0) + hours / moved.get(stage, 1.0)
        passes.setdefault(stage, set()).update(PART_STAGES[name])
    if "bulk" in passes and "absorbing" not in passes:
        passes["bulk"].add("absorbing")  # the charger goes there at once: nothing is waited for
    ratios = {}
    for stage, hours in reckoned.items():
        if hours >= SHORTEST and not (stage == told["stage"] and stage in FROM_BEFORE):
            needed = sum(float(told["left"].get(name, 0.0)) for name in passes[stage])
            ratios[lesson_of(stage, told["stage"])] = max(SHORTEST / 2.0, needed) / hours
    return ratios


def _spread(logs: list[float]) -> float:
    mean = fmean(logs)
    return math.sqrt((sum((log - mean) ** 2 for log in logs) + USUAL_SPREAD**2) / len(logs))
