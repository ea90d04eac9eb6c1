"""Judge an experience on rounds that it was not learned from: ``python -m tests.bench.fleet.judge_experience``.

Each family is a valley with physics of its own. From the seeds to learn on, three experiences: of the same valley, of
all valleys, and of all but this one (a stranger's). Two more are deliberately wrong: every part said to take three
times as long, and a third, by a thousand rounds that were all alike. On the seeds to judge on, each stands beside the
estimate without experience, over the same observations.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from bridge.fleet.lessons import experience_of
from bridge.fleet.read_rounds import cleaned
from rules.bank import NO_EXPERIENCE, TAUGHT, Experience, Lesson
from tests.bench.estimate.families.campaign import FAMILIES
from tests.bench.fleet.rounds import rows

Row = dict[str, Any]
#: What is judged, in this order.
JUDGED = ("without", "own valley", "all valleys", "other valleys", "wrong: thrice", "wrong: a third")
#: Where in a round.
PLACES = ("tenth", "quarter", "half", "three-quarters")
ENTRIES = tuple(f"entry of {stage}" for stage in ("waking", "reviving", "bulk", "absorbing", "finishing", "holding"))


def wrong(times: float) -> Experience:
    """Return an experience that a thousand rounds, all alike, are said to have shown."""
    return Experience(1000, tuple(Lesson(part, "any", 1000, times, 0.1) for part in TAUGHT))


def played(work: tuple[str, int, Path | None, Sequence[Experience]]) -> list[Row]:
    """Play one round."""
    return rows(*work)


def table(judged: dict[str, list[Row]], places: Iterable[str]) -> list[str]:
    """Return Markdown: median and greatest error, bias, share inside the band and its width, at each place."""
    lines = ["| place | rounds | " + " | ".join(JUDGED) + " |", "|---|---|" + "---|" * len(JUDGED)]
    for place in places:
        cells, count = [], 0
        for name in JUDGED:
            told = [m for row in judged[name] for m in json.loads(row["moments"]) if m["moment"] == place]
            told = [m for m in told if m["needed"] is not None and m["needed"] > 0.25]
            count = len(told)
            if not told:
                cells.append("-")
                continue
            needed = np.array([m["needed"] for m in told])
            hours = np.array([m["hours"] for m in told])
            width = np.array([m["high"] - m["low"] for m in told]) / needed
            errors = np.abs(hours - needed) / needed
            inside = np.mean([m["covered"] for m in told])
            cells.append(
                f"{100 * np.median(errors):.0f} %, {100 * np.percentile(errors, 90):.0f} %; "
                f"{100 * inside:.0f} % in {100 * np.median(width):.0f} %"
            )
        lines.append(f"| {place} | {count} | " + " | ".join(cells) + " |")
    return lines


def main() -> int:
    """Learn, judge, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.fleet.judge_experience", description=__doc__)
    parser.add_argument("--learn", type=int, default=20, help="seeds of each family to learn on, from 0")
    parser.add_argument("--judge", type=int, default=10, help="seeds of each family to judge on")
    parser.add_argument("--first", type=int, default=200, help="first seed to judge on: not looked at before")
    parser.add_argument("--kept", type=Path, help="folder for simulated rounds")
    parser.add_argument("--learned", type=Path, help="rows already learned on, JSON Lines; else they are played")
    parser.add_argument("--rows", type=Path, help="write every judged row here, JSON Lines")
    parser.add_argument("--jobs", type=int, default=1)
    arguments = parser.parse_args()
    with ProcessPoolExecutor(arguments.jobs) as pool:
        if arguments.learned is None:
            seeds = range(arguments.learn)
            work = [(name, seed, arguments.kept, [NO_EXPERIENCE]) for name in FAMILIES for seed in seeds]
            known = [row for found in pool.map(played, work) for row in found]
        else:
            known = [json.loads(line) for line in arguments.learned.read_text("utf-8").splitlines()]
        known = [row for row in map(cleaned, known) if row is not None]
        judging = []
        for place, name in enumerate(FAMILIES):
            tried = [
                NO_EXPERIENCE,
                experience_of(row for row in known if row["site"] == name),
                experience_of(known),
                experience_of(row for row in known if row["site"] != name),
                wrong(3.0),
                wrong(1.0 / 3.0),
            ]
            first = arguments.first + place * arguments.judge  # no household twice
            judging += [(name, first + seed, arguments.kept, tried) for seed in range(arguments.judge)]
        judged: dict[str, list[Row]] = {name: [] for name in JUDGED}
        for (name, seed, _, _), found in zip(judging, pool.map(played, judging), strict=True):
            print(name, seed, found[0]["outcome"] if found else "never begun", file=sys.stderr, flush=True)
            for tried_with, row in zip(JUDGED, found, strict=False):
                judged[tried_with].append(row)
                if arguments.rows is not None:
                    with arguments.rows.open("a", encoding="utf-8") as out:
                        out.write(json.dumps({"experience": tried_with, **row}) + "\n")
    print("Median and 90 % error of the middle; share inside the band, in its median width over what was needed:\n")
    print("\n".join(table(judged, [*PLACES, *ENTRIES])))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
