"""Experience of a valley's rounds helps on rounds that were left out, and a wrong one costs little.

The banks are simulated (`tests.bench.fleet.keep_valley`), and their records kept. A wider judgement, on banks of five
other physics, stands in `tests/bench/RESULTS.md`.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import fmean
from typing import Any

import pytest

from bridge.fleet.lessons import experience_of
from bridge.fleet.read_rounds import cleaned
from bridge.fleet.round_row import Row
from rules.bank import NO_EXPERIENCE, TAUGHT, Bank, Block, ChargerSetting, Experience, HoldRule, Lesson
from rules.phase import Observation
from tests.bench.fleet.rounds import rows_of

VALLEY = json.loads(gzip.decompress((Path(__file__).parent / "valley.json.gz").read_bytes()))
#: Rounds to learn on; the others are left out.
LEARNED_ON = 4
#: Moments before the hold, where experience has a say.
JUDGED = (
    "tenth",
    "quarter",
    "entry of waking",
    "entry of reviving",
    "entry of bulk",
    "entry of absorbing",
    "entry of finishing",
)
#: A wrong file may worsen the mean error by so much of the hours needed at most [1].
HARM = 0.10


def _bank(kept: dict[str, Any]) -> Bank:
    strings = tuple(tuple(Block(f"{letter}{number}", 3, 200.0) for number in range(1, 5)) for letter in "AB")
    settings = tuple(ChargerSetting(volts, amps) for volts, amps in zip((28.8, 32.0), kept["amps"], strict=True))
    hold = HoldRule(kept["hold"], kept["hold"], "at-current", VALLEY["tail"])
    return Bank("north", strings, chargers=settings, equalise=2.667, hold=hold)


def _observations(kept: dict[str, Any]) -> Iterator[Observation]:
    before = charge = charging = 0.0
    for at, millivolts, tenths, warm in zip(*kept["samples"], strict=True):
        amps = tenths / 10.0
        charge += max(0.0, amps) * (at - before) / 3600.0
        charging += at - before if amps > 0.1 else 0.0
        before = at
        yield Observation(
            1e9 + at, millivolts / 12e3, amps, warm / 10.0, 18.0, charge=charge, charging_seconds=charging
        )


def _rows(kept: dict[str, Any], experiences: Sequence[Experience]) -> list[Row]:
    found = [cleaned(row) for row in rows_of("valley", _bank(kept), _observations(kept), experiences)]
    return [row for row in found if row is not None]


def _error(rows: Sequence[Row]) -> float:
    """The mean error of the middle, of the hours needed."""
    told = [told for row in rows for told in row["moments"] if told["moment"] in JUDGED]
    return fmean(abs(one["hours"] - one["needed"]) / one["needed"] for one in told)


def _wrong(times: float) -> Experience:
    return Experience(1000, tuple(Lesson(part, "any", 1000, times, 0.1) for part in TAUGHT))


@pytest.fixture(scope="module")
def judged() -> dict[str, list[Row]]:
    """Rounds left out, with and without experience."""
    learned = experience_of(row for kept in VALLEY["banks"][:LEARNED_ON] for row in _rows(kept, [NO_EXPERIENCE]))
    assert learned.rounds == LEARNED_ON
    tried = {"without": NO_EXPERIENCE, "own": learned, "thrice": _wrong(3.0), "a third": _wrong(1.0 / 3.0)}
    rounds = [_rows(kept, list(tried.values())) for kept in VALLEY["banks"][LEARNED_ON:]]
    return {name: [found[place] for found in rounds] for place, name in enumerate(tried)}


def test_it_helps_on_rounds_left_out(judged: dict[str, list[Row]]) -> None:
    assert _error(judged["own"]) < 0.95 * _error(judged["without"])


@pytest.mark.parametrize("wrong", ["thrice", "a third"])
def test_a_wrong_one_costs_little(judged: dict[str, list[Row]], wrong: str) -> None:
    assert _error(judged[wrong]) < _error(judged["without"]) + HARM


def test_the_estimate_says_that_it_used_one_and_the_hold_is_the_same(judged: dict[str, list[Row]]) -> None:
    entries = [told for row in judged["own"] for told in row["moments"] if told["moment"] in JUDGED]
    assert all(f"; {LEARNED_ON} earlier rounds make " in told["reason"] for told in entries)
    assert not any("earlier rounds" in told["reason"] for row in judged["without"] for told in row["moments"])
    assert [row["ended"] for row in judged["own"]] == [row["ended"] for row in judged["without"]]
