"""``python -m tests.bench.estimate.families.fit``: take numbers from some families, and judge them on another one.

What is fitted so far is the band: by stage, the 10, 50 and 90 % points of truth over guess, for the rules' middle and
for every baseline, each family and each round counting alike. `--leave-out FAMILY` fits on the others and scores on
that one; `--rotate` does so for each family in turn and prints the score in-family beside it. The marks come from
``python -m tests.bench.estimate.families --rounds-to FILE``.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

sys.path.insert(0, str(Path(__file__).resolve().parents[4]))

from tests.bench.estimate.families.baselines import BASELINES
from tests.bench.estimate.families.marks import STAGES, Marks
from tests.bench.estimate.families.targets import percent

OURS = "rules"
GUESSES = (OURS, *BASELINES)
Band = dict[str, float]


def ratios(marks: list[Marks], stage: str, guess: str) -> dict[str, list[list[float]]]:
    """Truth over guess in a stage, by family, a list of equal parts per round."""
    result: dict[str, list[list[float]]] = {}
    for m in marks:
        entry = m["stages"].get(stage)
        if entry is None:
            continue
        found = entry["ratios"] if guess == OURS else entry["baseline ratios"].get(guess, [])
        if found:
            result.setdefault(m["family"], []).append(found)
    return result


def quantiles(values: list[float], weights: list[float], shares: tuple[float, ...]) -> list[float]:
    """Weighted quantiles."""
    order = np.argsort(values)
    sorted_values, sorted_weights = np.array(values)[order], np.array(weights)[order]
    below = (np.cumsum(sorted_weights) - 0.5 * sorted_weights) / sorted_weights.sum()
    return [float(np.interp(share, below, sorted_values)) for share in shares]


def fit(marks: list[Marks]) -> dict[str, dict[str, Band]]:
    """Band by guess and stage: factors on the guess."""
    bands: dict[str, dict[str, Band]] = {}
    for guess in GUESSES:
        for stage in STAGES:
            values: list[float] = []
            weights: list[float] = []
            by_family = ratios(marks, stage, guess)
            for rounds in by_family.values():
                for parts in rounds:
                    values += parts
                    weights += [1.0 / len(rounds) / len(parts)] * len(parts)
            if values:
                low, middle, high = quantiles(values, weights, (0.1, 0.5, 0.9))
                rounds_of = sum(len(rounds) for rounds in by_family.values())
                band = {"low": low, "middle": middle, "high": high, "rounds": rounds_of}
                bands.setdefault(guess, {})[stage] = band
    return bands


def judge(bands: dict[str, dict[str, Band]], marks: list[Marks]) -> dict[str, dict[str, dict[str, float]]]:
    """Of other rounds: share inside, width over truth, error of the fitted middle; by guess and stage."""
    result: dict[str, dict[str, dict[str, float]]] = {}
    for guess, stages in bands.items():
        for stage, band in stages.items():
            rounds = [parts for each in ratios(marks, stage, guess).values() for parts in each]
            if not rounds:
                continue
            found = np.concatenate([np.array(parts) for parts in rounds])
            inside = [np.mean((np.array(p) >= band["low"]) & (np.array(p) <= band["high"])) for p in rounds]
            result.setdefault(guess, {})[stage] = {
                "inside": float(np.mean(inside)),
                "width": float(np.median((band["high"] - band["low"]) / found)),
                "error": float(np.median(np.abs(band["middle"] / found - 1.0))),
                "rounds": float(len(rounds)),
            }
    return result


def shown(title: str, judged: dict[str, dict[str, dict[str, float]]]) -> Table:
    """Inside / width / error, by stage and guess."""
    table = Table(title=f"{title}: inside / width / error of the fitted band")
    table.add_column("stage")
    for guess in judged:
        table.add_column(guess, justify="right")
    for stage in STAGES:
        cells = []
        for stages in judged.values():
            each = stages.get(stage)
            cells.append("-" if each is None else " / ".join(percent(each[k]) for k in ("inside", "width", "error")))
        table.add_row(stage, *cells)
    return table


def main() -> int:
    """Fit, judge, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.estimate.families.fit", description=__doc__)
    parser.add_argument("marks", type=Path, help="written by --rounds-to")
    parser.add_argument("--family", action="append", help="fit on this one; may be repeated (all)")
    parser.add_argument("--leave-out", help="fit on the others, judge on this one")
    parser.add_argument("--rotate", action="store_true", help="leave out each in turn")
    parser.add_argument("--json", action="store_true", help="print the fitted numbers as JSON")
    arguments = parser.parse_args()
    lines = arguments.marks.read_text(encoding="utf-8").splitlines()
    marks: list[Marks] = [json.loads(line) for line in lines]
    families = arguments.family or list(dict.fromkeys(m["family"] for m in marks))
    marks = [m for m in marks if m["family"] in families or m["family"] == arguments.leave_out]
    console = Console(width=None if sys.stdout.isatty() else 170)
    left_out = families if arguments.rotate else [arguments.leave_out] if arguments.leave_out else []
    unknown = [name for name in left_out if not any(m["family"] == name for m in marks)]
    if unknown:
        parser.error(f"no marks of {', '.join(unknown)} in {arguments.marks}")
    result: dict[str, Any] = {}
    for name in left_out:
        others, own = [m for m in marks if m["family"] != name], [m for m in marks if m["family"] == name]
        bands = fit(others)
        result[name] = {"fitted": bands, "left out": judge(bands, own), "in family": judge(fit(own), own)}
    if not left_out:
        bands = fit(marks)
        result["all"] = {"fitted": bands, "in family": judge(bands, marks)}
    if arguments.json:
        print(json.dumps(result, indent=1))
        return 0
    for name, each in result.items():
        for which in ("left out", "in family"):
            if which in each:
                console.print(shown(f"{name}, {which}", each[which]))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
