"""``python -m tests.bench.estimate``: simulate, watch, mark, print."""

from __future__ import annotations

import argparse
import json
import sys
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.markup import escape
from rich.progress import Progress
from rich.table import Table

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from tests.bench.estimate.kinds import HELD_OUT, KINDS, varied
from tests.bench.estimate.labels import label
from tests.bench.estimate.other import kinds as other_kinds
from tests.bench.estimate.other.one import one as other_one
from tests.bench.estimate.score import Score, score
from tests.bench.estimate.watch import observations, taking_over, watch, watch_through_the_door
from tests.bench.simulated_bank.sensors import sample
from tests.bench.simulated_bank.simulate import simulate


def one(number: int, seed: int, door: bool, plots: Path | None) -> Score:
    """Run one round of one kind."""
    kind = KINDS[number]
    seed_of_round = 1000 * number + seed
    kind = kind._replace(scenario=varied(kind.scenario, seed_of_round))
    run = simulate(kind.scenario, seed_of_round)
    samples = sample(run, kind.sensors, seed_of_round)
    if kind.second:
        samples = taking_over(kind, samples, sample(run, kind.sensors._replace(outages=0.0), seed_of_round + 1))
    truth = label(run)
    said = watch_through_the_door(kind, run, samples) if door else watch(kind, run, observations(kind, run, samples))
    marks = score(kind, seed, run.at, truth, said)
    if plots is not None:
        from tests.bench.estimate.plot import plot

        plot(plots, run, truth, said, marks)
    return marks


def percent(value: float) -> str:
    """A share for people."""
    return "-" if not np.isfinite(value) else f"{100 * value:.0f}%"


def by_kind(scores: list[Score]) -> Table:
    """A line per round."""
    table = Table(title="Round by round (error = |middle - truth| / truth, medians)")
    for name in (
        "round",
        "phase",
        "trans min",
        "changes",
        "hold end / period s",
        "¼",
        "¾",
        "silent",
        "inside",
        "early",
        "width",
        "rises",
        "ms",
    ):
        table.add_column(name, justify="left" if name == "round" else "right")
    for s in scores:
        verdict = "".join(
            f" [{name} {hours:.0f} h]"
            for name, hours in (("not reviving", s.said_not_reviving), ("hopeless", s.said_hopeless))
            if np.isfinite(hours)
        ) + (f" [finite {percent(s.finite_while_dead)}]" if s.hopeless else "")
        table.add_row(
            escape(f"{s.kind} #{s.seed}{verdict}"),
            percent(s.phase_right),
            f"{np.median(s.transitions) / 60:.0f}" if s.transitions else "-",
            f"{s.changes_said}/{s.changes_true}",
            f"{s.hold_end_error:.0f} / {s.period:.0f}",
            percent(s.at_quarter),
            percent(s.at_three_quarters),
            percent(s.silent),
            percent(s.covered),
            percent(s.covered_before_hold),
            percent(s.width),
            str(s.rises),
            f"{s.milliseconds:.2f}",
        )
    return table


def total(scores: list[Score]) -> dict[str, object]:
    """The whole, in the terms of the targets."""
    alive = [s for s in scores if not s.hopeless]
    dead = [s for s in scores if s.hopeless]

    def middle(values: list[float]) -> float:
        known = [value for value in values if np.isfinite(value)]
        return float(np.median(known)) if known else float("nan")

    def mean(values: list[float]) -> float:
        known = [value for value in values if np.isfinite(value)]
        return float(np.mean(known)) if known else float("nan")

    transitions = [error for s in alive for error in s.transitions]
    names = list(alive[0].baselines) if alive else []
    return {
        "rounds": len(scores),
        "phase right (mean)": mean([s.phase_right for s in scores]),
        "phase right (worst)": min(s.phase_right for s in scores),
        "transition error, min (median)": middle(transitions) / 60.0,
        "transition error, min (80 %)": float(np.percentile(transitions or [float("nan")], 80)) / 60.0,
        "hold end error, s (median of size)": middle([abs(s.hold_end_error) for s in alive]),
        "hold end later or earlier than a sample": sum(1 for s in alive if abs(s.hold_end_error) > 1.05 * s.period),
        "hold never ended": sum(1 for s in alive if not np.isfinite(s.hold_end_error)),
        "error at a quarter": middle([s.at_quarter for s in alive]),
        "error at three quarters": middle([s.at_three_quarters for s in alive]),
        "error from a quarter to three": middle([s.first_quarters for s in alive]),
        "error after three quarters": middle([s.last_quarter for s in alive]),
        "error by tenth": [middle([s.tenths[i] for s in alive]) for i in range(10)],
        "no estimate": mean([s.silent for s in alive]),
        "inside the band": mean([s.covered for s in alive]),
        "inside the band before the hold": mean([s.covered_before_hold for s in alive]),
        "error before the hold": middle([s.error_before_hold for s in alive]),
        "band width": middle([s.width for s in alive]),
        "unexplained rises per round": mean([s.rises for s in alive]),
        "clock-hours error": middle([s.clock_error for s in alive]),
        "baselines (same moments)": {name: middle([s.baselines[name] for s in alive]) for name in names},
        "estimate (same moments)": middle([e for s in alive for e in s.tenths]),
        "baselines by tenth": {
            name: [middle([s.baseline_tenths[name][i] for s in alive]) for i in range(10)] for name in names
        },
        "living called hopeless": sum(bool(np.isfinite(s.said_hopeless)) for s in alive),
        "living called not-reviving": sum(bool(np.isfinite(s.said_not_reviving)) for s in alive),
        "dead called hopeless": f"{sum(bool(np.isfinite(s.said_hopeless)) for s in dead)}/{len(dead)}",
        "finite estimate of the dead": mean([s.finite_while_dead for s in dead]),
        "ms per observation": mean([s.milliseconds for s in scores]),
    }


def shown(value: object) -> str:
    """A total for people."""
    if isinstance(value, list):
        return "  ".join(percent(item) for item in value)
    if isinstance(value, dict):
        return "; ".join(f"{name}: {shown(item)}" for name, item in value.items())
    return f"{value:.3g}" if isinstance(value, float) else str(value)


def plain(value: object) -> object:
    """JSON knows no nan: null stands for what is not known."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value if not isinstance(value, float) or np.isfinite(value) else None


def main() -> int:
    """Run the kinds asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.estimate", description=__doc__)
    parser.add_argument("--physics", choices=("demo", "other"), default="demo", help="whose simulated bank")
    parser.add_argument("--held-out", action="store_true", help="the kinds that nobody tunes on: totals only")
    parser.add_argument("--seeds", type=int, default=1, help="rounds per kind")
    parser.add_argument("--kind", help="only kinds whose name holds this")
    parser.add_argument("--through-the-door", action="store_true", help="every reading through rules.step")
    parser.add_argument("--plots", type=Path, help="folder for a picture per round")
    parser.add_argument("--json", action="store_true", help="print JSON only")
    parser.add_argument("--jobs", type=int, default=2)
    arguments = parser.parse_args()
    kinds: Any = KINDS
    held_out: Any = HELD_OUT
    play: Any = one
    if arguments.physics == "other":
        kinds, held_out, play = other_kinds.KINDS, other_kinds.HELD_OUT, other_one
    chosen = [number for number in range(len(kinds)) if (number in held_out) == arguments.held_out]
    work = [
        (number, seed)
        for number in chosen
        for seed in range(arguments.seeds)
        if not arguments.kind or arguments.kind.lower() in kinds[number].name.lower()
    ]
    if not work:
        parser.error("no kind has such a name")
    console = Console(stderr=arguments.json, width=None if sys.stdout.isatty() else 170)
    plots = None if arguments.held_out else arguments.plots
    scores: list[Score] = []
    with ProcessPoolExecutor(arguments.jobs) as pool, Progress(console=console, transient=True) as progress:
        task = progress.add_task("rounds", total=len(work))
        futures = [pool.submit(play, number, seed, arguments.through_the_door, plots) for number, seed in work]
        for future in as_completed(futures):
            scores.append(future.result())
            progress.advance(task)
    order = {kind.name: number for number, kind in enumerate(kinds)}
    scores.sort(key=lambda s: (order[s.kind], s.seed))
    whole = total(scores)
    if arguments.json:
        rounds = [] if arguments.held_out else [s._asdict() for s in scores]
        print(json.dumps(plain({"total": whole, "rounds": rounds}), indent=1, allow_nan=False))
        return 0
    if not arguments.held_out:
        console.print(by_kind(scores))
    for name, value in whole.items():
        console.print(f"{name:>36}  {shown(value)}", highlight=False)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
