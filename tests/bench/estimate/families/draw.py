"""Pictures: a round with truth, estimate and band; the calibration of the band by family and stage."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import matplotlib
import numpy as np

from .door import Said
from .marks import LEAST, STAGES, Marks, median
from .truth import PHASES, Truth
from .wire import Array
from .world import Lived

matplotlib.use("Agg")
from matplotlib import pyplot
from matplotlib.figure import Figure


class Judged(NamedTuple):
    """One round: what was true, what was said, how right it was."""

    truth: Truth
    said: Said
    marks: Marks


#: Rounds drawn as the worst ones; a guess is shown as wrong as this at most [1].
WORST, MOST_WRONG = 10, 1.5


def draw_page(folder: Path, rounds: list[Judged]) -> None:
    """Write calibration.png, curves.png, errors.png and worst.png of many rounds."""
    marks = [each.marks for each in rounds]
    draw_calibration(folder / "calibration.png", marks)
    _draw_curves(folder / "curves.png", rounds)
    _draw_errors(folder / "errors.png", marks)
    _draw_worst(folder / "worst.png", rounds)


def _asked(each: Judged) -> Array:
    index = np.arange(len(each.truth.at))
    known = np.isfinite(each.said.low) & np.isfinite(each.said.high) & (np.nan_to_num(each.truth.remaining) > LEAST)
    asked: Array = each.truth.live & (index >= each.truth.start) & (index < each.truth.end) & known
    return asked


def _draw_curves(path: Path, rounds: list[Judged]) -> None:
    """By family: the share of truths under the band's low end, middle and high end, against 10, 50 and 90 %."""
    families = list(dict.fromkeys(each.marks["family"] for each in rounds))
    figure, axes = pyplot.subplots(1, len(families), figsize=(3.2 * len(families), 3.6), sharey=True, squeeze=False)
    for axis, family in zip(axes[0], families, strict=True):
        for number, stage in enumerate(STAGES):
            under = []
            for each in rounds:
                here = _asked(each) & (each.truth.phase == PHASES.index(stage))
                if each.marks["family"] == family and here.sum() >= 10:
                    left = each.truth.remaining[here]
                    ends = (each.said.low, each.said.middle, each.said.high)
                    under.append([float((left < end[here]).mean()) for end in ends])
            if under:
                axis.plot((0.1, 0.5, 0.9), np.mean(under, axis=0), "o-", color=f"C{number}", linewidth=1, label=stage)
        axis.plot((0, 1), (0, 1), color="k", linewidth=0.8)
        axis.set_title(family, fontsize=9)
        axis.set_xlabel("said")
        axis.grid(alpha=0.3)
        axis.legend(fontsize=6)
    axes[0][0].set_ylabel("truths under it, mean of rounds")
    _write(figure, path)


def _draw_errors(path: Path, marks: list[Marks]) -> None:
    """By family and stage: the median error of the middle, beside every baseline's."""
    families = list(dict.fromkeys(m["family"] for m in marks))
    figure, axes = pyplot.subplots(len(families), 1, figsize=(10, 2.2 * len(families)), sharex=True, squeeze=False)
    for axis, family in zip(axes[:, 0], families, strict=True):
        for place, stage in enumerate(STAGES):
            these = [m["stages"][stage] for m in marks if m["family"] == family and stage in m["stages"]]
            if not these:
                continue
            heights = {"ours": median(np.array([s["error"] for s in these]))}
            heights |= {b: median(np.array([s["baselines"][b] for s in these])) for b in these[0]["baselines"]}
            for number, (name, height) in enumerate(heights.items()):
                shown = min(height, MOST_WRONG)
                axis.bar(place + 0.16 * number - 0.32, shown, 0.15, color=f"C{number}", label=name)
        handles, labels = axis.get_legend_handles_labels()
        first = dict(zip(labels, handles, strict=True))
        axis.legend(first.values(), first.keys(), fontsize=6, ncols=5)
        axis.set_ylabel(family, fontsize=8)
        axis.set_xticks(range(len(STAGES)), STAGES)
        axis.grid(alpha=0.3, axis="y")
    _write(figure, path)


def _draw_worst(path: Path, rounds: list[Judged]) -> None:
    """The rounds with the least truth inside the band and the most minutes of wrong phases."""

    def bad(each: Judged) -> float:
        here = _asked(each)
        left, said = each.truth.remaining[here], each.said
        outside = float(((left < said.low[here]) | (left > said.high[here])).mean()) if here.any() else 0.0
        return outside + 2.0 * (1.0 - float(np.nan_to_num(each.marks["phase"], nan=1.0)))

    figure, axes = pyplot.subplots(5, 2, figsize=(13, 14))
    for axis, each in zip(axes.flat, sorted(rounds, key=bad, reverse=True)[:WORST], strict=False):
        truth, said = each.truth, each.said
        hours = (truth.at - truth.at[0]) / 3600.0
        axis.fill_between(hours, said.low, said.high, color="C0", alpha=0.25, linewidth=0)
        axis.plot(hours, said.middle, color="C0", linewidth=1.0)
        axis.plot(hours, truth.remaining, color="k", linewidth=1.0, linestyle="--")
        top = 1.8 * float(np.nanmax(np.r_[truth.remaining, 10.0]))
        axis.set_ylim(0.0, top)
        for change in np.flatnonzero(np.diff(truth.phase)) + 1:
            axis.axvline(hours[change], color="0.8", linewidth=0.6)
            axis.text(hours[change], 0.98 * top, PHASES[truth.phase[change]], rotation=90, va="top", fontsize=5)
        m = each.marks
        axis.set_title(f"{m['family']} {m['seed']}: {m['kind']}; phase right {m['phase']:.0%}", fontsize=8)
        axis.grid(alpha=0.3)
    _write(figure, path)


def _write(figure: Figure, path: Path) -> None:
    figure.tight_layout()
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=70)
    pyplot.close(figure)


def draw_round(folder: Path, lived: Lived, truth: Truth, said: Said, marks: Marks) -> Path:
    """Write a picture of one round and return where."""
    hours, true_hours = (truth.at - truth.at[0]) / 3600.0, (lived.at - truth.at[0]) / 3600.0
    figure, axes = pyplot.subplots(5, 1, figsize=(12, 13), sharex=True, height_ratios=(1.3, 1, 1, 0.8, 1.8))
    phases, volts, amps, warmth, fan = axes
    for number in range(len(PHASES)):
        where = np.flatnonzero(truth.right[:, number])
        phases.plot(hours[where], np.full(len(where), number), "s", color="0.85", markersize=5)
    phases.plot(hours, truth.phase, color="0.45", linewidth=4, drawstyle="steps-post", label="truth (pale: right too)")
    phases.plot(
        hours,
        np.where(said.phase < 0, np.nan, said.phase),
        color="C3",
        linewidth=1.2,
        drawstyle="steps-post",
        label="said",
    )
    phases.fill_between(hours, -0.5, 7.5, where=~truth.live, color="C3", alpha=0.08, linewidth=0, label="not judged")
    phases.set_yticks(range(len(PHASES)), PHASES)
    phases.legend(loc="lower right", fontsize=7)
    cells = lived.round.make.cells
    volts.plot(true_hours, lived.top / cells, color="0.7", linewidth=0.8, label="ceiling at the posts")
    volts.plot(true_hours, lived.volts / cells, color="k", linewidth=0.8, label="true")
    volts.plot(hours, said.volts, color="C0", linewidth=0.7, label="shown")
    volts.set_ylim(1.85, 2.85)
    volts.set_ylabel("V per cell")
    amps.plot(true_hours, lived.current, color="k", linewidth=0.8)
    amps.plot(true_hours, lived.appetite, color="C2", linewidth=0.8, label="appetite at 2.40 V")
    amps.plot(hours, said.amps, color="C1", linewidth=0.7, label="shown")
    amps.set_ylim(-0.1 * lived.current.max() - 0.5, 1.3 * lived.current.max() + 0.5)
    amps.set_ylabel("A")
    warmth.plot(true_hours, lived.hottest, color="C3", linewidth=0.9, label="hottest cell")
    warmth.plot(true_hours, lived.probed, color="C1", linewidth=0.9, label="probed cell")
    warmth.plot(true_hours, lived.air, color="C2", linewidth=0.9, label="air")
    warmth.set_ylabel("degC")
    fan.fill_between(hours, said.low, said.high, color="C0", alpha=0.25, linewidth=0, label="10-90 %")
    fan.plot(hours, said.middle, color="C0", linewidth=1.2, label="middle")
    fan.plot(hours, truth.remaining, color="k", linewidth=1.2, linestyle="--", label="truth")
    fan.set_ylabel("charging hours left")
    top = np.nanmax(np.r_[truth.remaining, 1.0]) if truth.finite else float(np.nanmax(np.r_[said.high, 1.0]))
    fan.set_ylim(0.0, 2.2 * top)
    fan.set_xlabel("hours")
    for axis in axes:
        axis.grid(alpha=0.3)
        for _, begin, required, _, _ in lived.events:
            axis.axvline((begin - truth.at[0]) / 3600.0, color="C1", linewidth=0.8)
            if np.isfinite(required):
                axis.axvline((required - truth.at[0]) / 3600.0, color="C3", linewidth=1.0)
        for at, _, latched in said.cuts:
            axis.axvline((at - truth.at[0]) / 3600.0, color="C3" if latched else "C4", linewidth=0.6, linestyle=":")
    for axis in (volts, amps, warmth, fan):
        axis.legend(loc="upper right", fontsize=7)
    words = ", ".join(f"{(at - truth.at[0]) / 3600.0:.1f} h {reason}" for at, reason, _ in said.cuts[:5])
    r = lived.round
    bank = f"{r.make.strings} x {cells} cells of {r.make.capacity:g} Ah"
    hold = "at-voltage" if r.tail is None else f"tail {r.tail:g} A"
    figure.suptitle(
        f"{marks['family']} seed {r.seed}: {marks['kind']}, {bank}, {hold}\n"
        f"phase right {marks['phase']:.0%}; cuts: {words or 'none'}",
        fontsize=9,
    )
    figure.tight_layout()
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{marks['family']}-{r.seed}.png"
    figure.savefig(path, dpi=70)
    pyplot.close(figure)
    return path


def draw_calibration(path: Path, marks: list[Marks]) -> None:
    """Truth over middle by stage and family: quantiles, and the share inside the band."""
    families = list(dict.fromkeys(m["family"] for m in marks))
    figure, (spread, inside) = pyplot.subplots(2, 1, figsize=(11, 8))
    for number, family in enumerate(families):
        for place, stage in enumerate(STAGES):
            these = [m["stages"][stage] for m in marks if m["family"] == family and stage in m["stages"]]
            ratios = np.array([s["ratios"] for s in these if s["ratios"]])
            x = place + 0.15 * (number - 0.5 * (len(families) - 1))
            if len(ratios):
                low, middle, high = (float(np.quantile(ratios, q)) for q in (0.1, 0.5, 0.9))
                spread.plot([x, x], [low, high], color=f"C{number}", linewidth=2)
                spread.plot([x], [middle], "o", color=f"C{number}", label=family if place == 0 else None)
            covered = [s["covered"] for s in these if np.isfinite(s["covered"])]
            if covered:
                inside.bar(
                    x, float(np.mean(covered)), width=0.13, color=f"C{number}", label=family if place == 0 else None
                )
    spread.set_yscale("log")
    spread.axhline(1.0, color="k", linewidth=0.8)
    spread.set_ylabel("truth over middle, 10-50-90 %")
    inside.axhspan(0.75, 0.88, color="0.85")
    inside.set_ylabel("truth inside the 80 % band")
    for axis in (spread, inside):
        axis.set_xticks(range(len(STAGES)), STAGES)
        axis.legend(fontsize=7)
        axis.grid(alpha=0.3)
    figure.tight_layout()
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=80)
    pyplot.close(figure)
