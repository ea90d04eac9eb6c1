"""``python -m tests.bench.estimate.families.calibrate --kept FOLDER``: fit the bands by stage, and judge them left out.

Every round is played through phase and estimate alone (`observed`). It gives a row each ten minutes: the stage that the
rules said, the hours before the hold and their reasoned spread, and what truly was left. The band of a stage is taken
between families, not within them: each family's rows are set against the middle of the others, and the outer points
of all those are the band round the middle of all (as the jackknife+ of Barber and others 2021 does with single rows).
Which outer points, the number of rounds decides: of n, conformal inference takes the ((n + 1) / 10 - 1) / n part for
a tenth. Families count alike, a round at most as four hours.

`--rotate` fits for every family on the other families' *even* seeds and judges on its own *odd* seeds, and the other
way round, so that neither the physics nor the household was seen; judged is the whole code with that table put in, its
online correction included. `--in-family` fits on the family's own households of the other parity instead: the gap
between the two is what tuning is worth. Without either the table for `rules/remaining/calibration.py` is printed,
fitted on everything.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections import Counter
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[4]))

from rules.bank import Bank
from rules.phase import PhaseMemory, expected_current, tail_current
from rules.remaining import calibration, estimate
from rules.remaining.parts import hold_hours
from tests.bench.estimate.families import campaign, draw, observed, targets
from tests.bench.estimate.families.marks import STAGES, mark
from tests.bench.estimate.families.wire import Array

#: Minutes between two rows; rows of a stage of one round that count at most, four hours: those that creep for days
#: would outweigh all others.
EVERY, MOST = 10, 24
#: The hold may have begun this much before it was seen, and its hours be none [h].
BEGUN = 0.4
#: Which of `signs` is the logarithm of the charger's current over the rating.
PACE = 7
#: Width of a particle, in the units of `signs` [1].
KERNEL = 0.7
#: Fewer rounds than these families have may show none of it, and the hours must count down [1].
LEAST_SLOPE = 0.3
#: What lies outside on either side [1].
OUTSIDE = 0.1


class Row(NamedTuple):
    """One look at one round: who, the stage said, hours and spreads as reasoned, hours truly before the hold, signs."""

    family: str
    seed: int
    stage: str
    before: float
    up: float
    down: float
    true: float
    off: float
    starts: str
    signs: tuple[float, ...]


def rows_of(family: str, each: observed.Round) -> list[Row]:
    """Play a round and look at it each ten minutes."""
    played = observed.play(each, memories=True)
    asked = observed.judged(each, played)
    bank = each.bank.watched
    rows = []
    for minute in np.flatnonzero(asked & np.isfinite(played.said.middle))[::EVERY].tolist():
        phase, memory = played.memories[minute]
        hold, _ = hold_hours(bank, phase)
        left = float(each.truth.remaining[minute])
        rows.append(
            Row(
                family, each.lived.round.seed, phase.phase, memory.before, memory.spread, memory.down, left - hold,
                (left - hold) / bank.hold.minimum, bank.hold.starts,
                signs(bank, phase, memory, float(np.nan_to_num(played.said.charge[minute]))),
            )
        )  # fmt: skip
    return rows


def signs(bank: Bank, phase: PhaseMemory, memory: estimate.RemainingMemory, charge: float) -> tuple[float, ...]:
    """What a bank shows at this moment, each on a scale of about one: its state, as far as meters know it."""
    track = phase.track
    usual = expected_current(bank, phase)
    return (
        math.log(memory.before + calibration.FEW_HOURS),
        2.0 * (charge - track.base) / bank.capacity,
        0.7 * math.log(max(0.01, track.amps / usual)),
        0.7 * math.log(max(0.1, track.slow / (tail_current(bank)))),
        math.log(memory.charged + calibration.FEW_HOURS),
        10.0 * min(0.2, max(-0.5, track.volts - phase.ceiling)),
        0.1 * (track.temperature - 25.0),
        math.log(usual / bank.capacity),
        0.5 * math.log1p(track.blocked_seconds / 3600.0),
        5.0 * ((track.rested or 2.0) - 2.0),
    )


def reckoned(rows: list[Row]) -> Array:
    """Logarithm of the hours reckoned before the hold, in ratings where the stage is charge over current."""
    return np.log(np.array([row.before for row in rows]) + calibration.FEW_HOURS) - paced(rows)


def true(rows: list[Row]) -> Array:
    """Logarithm of those that were true."""
    return np.log(np.array([max(row.true, -BEGUN) for row in rows]) + calibration.FEW_HOURS) - paced(rows)


def paced(rows: list[Row]) -> Array:
    """Logarithm of the hours in which the charger gives the rating; 0 in stages that are not charge over current."""
    return np.array([-row.signs[PACE] if row.stage in calibration.PACED else 0.0 for row in rows])


def widths(rows: list[Row]) -> Array:
    """Widths of the reasoned bands."""
    return np.array([calibration.width(row.up, row.down) for row in rows])


def weights(rows: list[Row]) -> Array:
    """Each family alike; in it every round by its rows, at most four hours of them."""
    count = Counter((row.family, row.seed) for row in rows)
    whole: Counter[str] = Counter()
    for (family, _), number in count.items():
        whole[family] += min(number, MOST)
    return np.array(
        [
            min(count[row.family, row.seed], MOST) / count[row.family, row.seed] / whole[row.family] for row in rows
        ]
    )  # fmt: skip


def points(values: Array, weight: Array, shares: tuple[float, ...]) -> list[float]:
    """Weighted quantiles."""
    order = np.argsort(values)
    below = (np.cumsum(weight[order]) - 0.5 * weight[order]) / weight.sum()
    return [float(np.interp(share, below, values[order])) for share in shares]


def tails(rows: list[Row]) -> tuple[float, float]:
    """The outer points that leave a tenth outside on either side in a round that is not among these."""
    count = len({(row.family, row.seed) for row in rows})
    share = max(0.0, ((count + 1) * OUTSIDE - 1.0) / count)
    return share, 1.0 - share


def between(values: Array, weight: Array, families: Array, outer: tuple[float, float]) -> tuple[float, float, float]:
    """Low, middle and high for a family that is not among these."""
    (middle,) = points(values, weight, (0.5,))
    apart, heavy = [], []
    for family in np.unique(families):
        own = families == family
        if own.all():
            continue
        (others,) = points(values[~own], weight[~own], (0.5,))
        apart.append(values[own] - others)
        heavy.append(weight[own])
    if not apart:
        apart, heavy = [values - middle], [weight]
    low, high = points(np.concatenate(apart), np.concatenate(heavy), outer)
    return middle + min(low, 0.0), middle, middle + max(high, 0.0)


def beside(rows: list[Row], slope: float = 1.0) -> calibration.Stage:
    """What the hours reckoned mean in these rows of one stage, where truth follows their slope."""
    weight, families = weights(rows), np.array([row.family for row in rows])
    rest = true(rows) - slope * reckoned(rows)
    (typical,) = points(widths(rows), weight, (0.5,))
    (level,) = points(rest, weight, (0.5,))
    narrow = np.sqrt(np.minimum(1.0, widths(rows) / typical))
    low, _, high = between((rest - level) / narrow, weight, families, tails(rows))
    return calibration.Stage(*[round(float(value), 2) for value in (slope, level, low, high, typical)])


def slope_of(rows: list[Row]) -> float:
    """How much of the reckoned hours the true ones follow, between logarithms; never more than all of them."""
    known, weight = reckoned(rows), weights(rows)
    mean = float(np.average(known, weights=weight))
    spread = float(np.average((known - mean) ** 2, weights=weight))
    slope = float(np.average((known - mean) * true(rows), weights=weight)) / max(spread, 1e-9)
    return min(1.0, max(LEAST_SLOPE, slope))


def fit(rows: list[Row]) -> tuple[dict[str, calibration.Stage], dict[str, calibration.Begun]]:
    """The two tables from these rows."""
    stages = {}
    for stage in STAGES[:-1]:
        these = [row for row in rows if row.stage == stage]
        if these:
            stages[stage] = beside(these, slope_of(these))
    holds = {}
    for starts in calibration.HOLDS:
        these = [row for row in rows if row.stage == "holding" and row.starts == starts]
        if these:
            low, high = points(np.array([row.off for row in these]), weights(these), tails(these))
            holds[starts] = calibration.Begun(round(max(0.0, -low), 3), round(max(0.0, high), 3))
    return calibration.STAGES | stages, calibration.HOLDS | holds


def particles(others: list[Row], own: list[Row]) -> tuple[Array, Array, Array]:
    """A Bayesian filter of particles that are moments of other rounds, each weighed by how it meets this one."""
    known, weight, truly = np.array([row.signs for row in others]), weights(others), true(others)
    ends = []
    for row in own:
        far = ((known - np.array(row.signs)) ** 2).sum(axis=1)
        meets = weight * np.exp(-0.5 * (far - far.min()) / KERNEL**2)
        ends.append(points(truly, meets, (OUTSIDE, 0.5, 1.0 - OUTSIDE)))
    low, middle, high = np.array(ends).T
    return low, middle, high


def predicted(form: str, others: list[Row], own: list[Row]) -> tuple[Array, Array, Array]:
    """Low, middle and high of the hours before the hold that one form of estimate gives rows it was not fitted on."""
    few, known = calibration.FEW_HOURS, reckoned(own)
    if form == "as reasoned":
        below = -np.log(np.maximum(calibration.LEAST_LEFT, 1.0 - calibration.TENTH * np.array([r.down for r in own])))
        ends = [known - below, known, known + np.log1p(calibration.TENTH * np.array([r.up for r in own]))]
    elif form == "in reasoned widths":
        weight, families = weights(others), np.array([row.family for row in others])
        off = (true(others) - reckoned(others)) / widths(others)
        ends = [known + value * widths(own) for value in between(off, weight, families, tails(others))]
    elif form == "particles":
        ends = list(particles(others, own))
    else:
        slope = {"factor by stage": 1.0, "stage alone": 0.0}.get(form, slope_of(others))
        fitted = beside(others, slope)
        narrow = np.sqrt(np.minimum(1.0, widths(own) / fitted.typical))
        middle = fitted.level + slope * known
        ends = [middle + narrow * fitted.low, middle, middle + narrow * fitted.high]
    low, mid, high = [np.maximum(np.exp(end + paced(own)) - few, 0.0) for end in ends]
    return low, mid, high


#: As the parts say; their error in units of their own width; a factor by stage; a line by stage (in the rules); the
#: stage alone; a filter of particles over what the bank shows.
FORMS = ("as reasoned", "in reasoned widths", "factor by stage", "line by stage", "stage alone", "particles")


def compare(rows: list[Row]) -> list[str]:
    """Lines of a table: every form on families and households that it was not fitted on, hours before the hold."""
    lines = ["| stage | " + " | ".join(FORMS) + " |", "|---|" + "---|" * len(FORMS)]
    for stage in STAGES[:-1]:
        cells = []
        for form in FORMS:
            inside, errors, wide = [], [], []
            for family in campaign.FAMILIES:
                for half in (0, 1):
                    others = [r for r in rows if r.stage == stage and r.family != family and r.seed % 2 != half]
                    own = [r for r in rows if r.stage == stage and r.family == family and r.seed % 2 == half]
                    if not others or not own:
                        continue
                    low, middle, high = predicted(form, others, own)
                    truly = np.maximum(np.array([row.true for row in own]), 0.0)
                    for seed in {row.seed for row in own}:
                        these = np.array([row.seed == seed for row in own])
                        inside.append(float(((low <= truly) & (truly <= high))[these].mean()))
                        errors.append(float(np.median(np.abs(middle - truly)[these])))
                        wide.append(float(np.median((high - low)[these])))
            cells.append(f"{100.0 * np.mean(inside):.0f} %, {np.median(errors):.1f} h, {np.median(wide):.0f} h")
        lines.append(f"| {stage} | " + " | ".join(cells) + " |")
    return lines


def judged(family: str, each: observed.Round) -> draw.Judged:
    """Marks of the whole code on one round, as it stands or with tables put in by the caller."""
    said = observed.play(each).said
    return draw.Judged(each.truth, said, mark(family, each.lived, each.seen, each.truth, said))


def main() -> int:
    """Fit, or rotate and judge; print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.estimate.families.calibrate", description=__doc__)
    parser.add_argument("--kept", type=Path, required=True, help="folder of rounds that happened and were told")
    parser.add_argument("--rounds", type=int, default=16, help="of each family (16)")
    parser.add_argument(
        "--first", type=int, default=0, help="judge rounds from this seed on; earlier ones only fit (0)"
    )
    parser.add_argument("--rotate", action="store_true", help="judge every family with a table that never saw it")
    parser.add_argument("--in-family", action="store_true", help="judge it with its own other households instead")
    parser.add_argument("--compare", action="store_true", help="forms of estimate beside each other, left out")
    parser.add_argument("--plots", type=Path, help="folder for calibration, error by stage and the ten worst rounds")
    arguments = parser.parse_args()
    rows: list[Row] = []
    for seed in range(arguments.rounds):
        for family in campaign.FAMILIES:
            rows += rows_of(family, observed.kept_round(family, seed, arguments.kept))
    if arguments.compare:
        print(*compare(rows), sep="\n")
        return 0
    if not (arguments.rotate or arguments.in_family):
        stages, holds = fit(rows)
        print(*[f'    "{name}": {value},' for name, value in (stages | holds).items()], sep="\n")
        return 0
    rounds: list[draw.Judged] = []
    for family in campaign.FAMILIES:
        for half in (0, 1):
            others = [r for r in rows if (r.family == family) == arguments.in_family and r.seed % 2 != half]
            stages, holds = fit(others)
            with patch.object(calibration, "STAGES", stages), patch.object(calibration, "HOLDS", holds):
                for seed in range(half, arguments.rounds, 2):
                    if seed < arguments.first:
                        continue
                    rounds.append(judged(family, observed.kept_round(family, seed, arguments.kept)))
    marks = [each.marks for each in rounds]
    print(targets.markdown({f: targets.summary([m for m in marks if m["family"] == f]) for f in campaign.FAMILIES}))
    if arguments.plots:
        draw.draw_page(arguments.plots, rounds)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
