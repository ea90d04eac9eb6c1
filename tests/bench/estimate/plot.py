"""One picture per round: phase track, volts, amps, temperature, and the estimate's fan against the truth."""

from __future__ import annotations

from pathlib import Path

import matplotlib
import numpy as np

from tests.bench.simulated_bank.simulate import Run

from .labels import PHASES, Truth
from .score import Score
from .watch import Said

matplotlib.use("Agg")
from matplotlib import pyplot


def plot(folder: Path, run: Run, truth: Truth, said: Said, marks: Score) -> Path:
    """Write the picture and return where."""
    hours = (run.at - run.at[0]) / 3600.0
    said_hours = (said.at - run.at[0]) / 3600.0
    figure, axes = pyplot.subplots(5, 1, figsize=(11, 13), sharex=True, height_ratios=(1.2, 1, 1, 0.8, 1.8))
    phases, volts, amps, warmth, fan = axes
    phases.plot(hours, truth.phase, color="0.7", linewidth=5, label="truth", drawstyle="steps-post")
    phases.plot(hours, truth.also, color="0.85", linewidth=2, drawstyle="steps-post")
    phases.plot(said_hours, said.phase, color="C3", linewidth=1.2, label="said", drawstyle="steps-post")
    phases.set_yticks(range(len(PHASES)), PHASES)
    phases.legend(loc="lower right")
    volts.plot(said_hours, said.volts, color="C0", linewidth=0.8)
    volts.set_ylabel("V per cell")
    amps.plot(said_hours, said.amps, color="C1", linewidth=0.8)
    amps.set_ylabel("A")
    warmth.plot(hours, run.temperature, color="C3", linewidth=0.9, label="electrolyte")
    warmth.plot(hours, run.ambient, color="C2", linewidth=0.9, label="air")
    warmth.set_ylabel("degC")
    warmth.legend(loc="upper right")
    fan.fill_between(said_hours, said.low, said.high, color="C0", alpha=0.25, linewidth=0, label="10-90 %")
    fan.plot(said_hours, said.middle, color="C0", linewidth=1.2, label="middle")
    fan.plot(hours, truth.remaining, color="k", linewidth=1.2, linestyle="--", label="truth")
    fan.set_ylabel("charging hours left")
    top = truth.remaining[truth.start] if truth.finite else float(np.nanmax(np.r_[said.high, 1.0]))
    fan.set_ylim(0.0, 2.2 * top)
    fan.legend(loc="upper right")
    fan.set_xlabel("hours")
    for axis in axes:
        axis.grid(alpha=0.3)
    figure.suptitle(
        f"{marks.kind} (seed {marks.seed}): phase right {marks.phase_right:.1%}, covered {marks.covered:.0%}"
    )
    figure.tight_layout()
    folder.mkdir(parents=True, exist_ok=True)
    name = "".join(letter if letter.isalnum() else "-" for letter in marks.kind.lower())
    path = folder / f"{name}-{marks.seed}.png"
    figure.savefig(path, dpi=70)
    pyplot.close(figure)
    return path
