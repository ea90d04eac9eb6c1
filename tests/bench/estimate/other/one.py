"""One round of the second simulator through the same labels, driver and marks as any other."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tests.bench.estimate.labels import label
from tests.bench.estimate.score import Score, score
from tests.bench.estimate.watch import observations, taking_over, watch, watch_through_the_door

from .kinds import KINDS, varied
from .meters import seen
from .play import play


def one(number: int, seed: int, door: bool, plots: Path | None) -> Score:
    """Run one round of one kind."""
    kind: Any = KINDS[number]  # the same fields as the other simulator's kinds, of other types
    seed_of_round = 7000 * (number + 1) + seed
    kind = kind._replace(scenario=varied(kind.scenario, seed_of_round))
    run: Any = play(kind.scenario, seed_of_round)
    samples = seen(run, kind.sensors, seed_of_round)
    if kind.second:
        samples = taking_over(kind, samples, seen(run, kind.sensors._replace(outages=0.0), seed_of_round + 1))
    truth = label(run)
    said = watch_through_the_door(kind, run, samples) if door else watch(kind, run, observations(kind, run, samples))
    marks = score(kind, seed, run.at, truth, said)
    if plots is not None:
        from tests.bench.estimate.plot import plot

        plot(plots, run, truth, said, marks)
    return marks
