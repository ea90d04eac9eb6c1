"""How right it was: phases, transitions, hours, bands."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .baselines import BASELINES
from .kinds import Kind
from .labels import DWELL, HOLDING, IDLE, Truth
from .watch import Said


class Score(NamedTuple):
    """One round's marks. Shares are of time; `tenths` are medians of |middle - truth| / truth by tenth of the round."""

    kind: str
    seed: int
    hopeless: bool
    phase_right: float
    transitions: list[float]
    changes_said: int
    changes_true: int
    hold_end_error: float
    period: float
    tenths: list[float]
    first_quarters: float
    last_quarter: float
    at_quarter: float
    at_three_quarters: float
    silent: float
    covered: float
    covered_before_hold: float
    error_before_hold: float
    width: float
    rises: int
    clock_error: float
    baselines: dict[str, float]
    baseline_tenths: dict[str, list[float]]
    said_not_reviving: float
    said_hopeless: float
    finding: str
    finite_while_dead: float
    milliseconds: float


def median(values: np.ndarray) -> float:
    """Median of what is known; nan where nothing is."""
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")


def phases_right(said: Said, truth: Truth, at: np.ndarray) -> tuple[float, list[float]]:
    """Share of the time with the right phase (neighbours count near a transition), and each transition's error [s]."""
    row = np.clip(np.searchsorted(at, said.at, side="right") - 1, 0, len(at) - 1)
    real, also = truth.phase[row], truth.also[row]
    right = (said.phase == real) | (said.phase == also)
    changes = np.flatnonzero(np.diff(truth.phase)) + 1
    errors = []
    for change in changes:
        when = at[change]
        near = np.abs(said.at - when) <= DWELL
        right |= near & ((said.phase == truth.phase[change - 1]) | (said.phase == truth.phase[change]))
        if truth.phase[change - 1] == IDLE:
            continue
        entered = np.flatnonzero((said.phase[1:] == truth.phase[change]) & (said.phase[:-1] != truth.phase[change])) + 1
        errors.append(float(np.abs(said.at[entered] - when).min()) if len(entered) else 24 * 3600.0)
    judged = real != IDLE
    weight = np.diff(said.at, append=said.at[-1])
    return float((right * weight)[judged].sum() / weight[judged].sum()), errors


def score(kind: Kind, seed: int, at: np.ndarray, truth: Truth, said: Said) -> Score:
    """Mark one round."""
    right, transitions = phases_right(said, truth, at)
    row = np.clip(np.searchsorted(at, said.at, side="right") - 1, 0, len(at) - 1)
    left, clock = truth.remaining[row], truth.clock[row]
    whole = float(truth.remaining[truth.start]) if truth.finite else float("nan")
    judged = (row >= truth.start) & (row < truth.end) & (np.nan_to_num(left) > 0.25)
    gone = np.where(judged, 1.0 - left / whole, np.nan)
    charging = whole - left
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.abs(said.middle - left) / left
        # Once the hold clock runs the band is a line: a sample period either way is inside.
        margin = max(60.0, kind.sensors.period) / 3600.0
        inside = (said.low - margin <= left) & (left <= said.high + margin)
        width = (said.high - said.low) / left
        clock_off = np.abs(said.clock - clock) / clock
    known = judged & np.isfinite(said.middle)
    tenths = [median(off[known & (gone >= i / 10) & (gone < (i + 1) / 10)]) for i in range(10)]

    # The hold is a clock and easy; what comes before it is not.
    early = known & (truth.phase[row] < HOLDING)

    def near(share: float) -> float:
        return median(off[known & (np.abs(gone - share) <= 0.02)])

    baselines, baseline_tenths = {}, {}
    for name, guess in BASELINES.items():
        with np.errstate(divide="ignore", invalid="ignore"):
            missed = np.abs(guess(kind, said, charging) - left) / left
        baselines[name] = median(np.where(np.isfinite(missed), missed, 1.0)[known]) if known.any() else float("nan")
        baseline_tenths[name] = [median(missed[judged & (gone >= i / 10) & (gone < (i + 1) / 10)]) for i in range(10)]
    # A rise of more than a tenth from one observation to the next ten minutes later.
    later = np.clip(np.searchsorted(said.at, said.at + 600.0), 0, len(said.at) - 1)
    rise = known & (said.middle[later] > 1.1 * said.middle + 0.2)
    rises = int(np.count_nonzero(np.diff(rise.astype(int)) == 1))
    dead = said.at - at[0] >= kind.dead_after * 3600.0
    end = np.flatnonzero(said.hold >= kind.scenario.hold - 1e-6)
    return Score(
        kind=kind.name,
        seed=seed,
        hopeless=kind.hopeless,
        phase_right=right,
        transitions=transitions,
        changes_said=int(np.count_nonzero(np.diff(said.phase))),
        changes_true=int(np.count_nonzero(np.diff(truth.phase))),
        period=max(kind.sensors.period, float(at[1] - at[0])),
        hold_end_error=float(said.at[end[0]] - at[truth.end]) if truth.finite and len(end) else float("nan"),
        tenths=tenths,
        first_quarters=median(off[known & (gone >= 0.25) & (gone < 0.75)]),
        last_quarter=median(off[known & (gone >= 0.75)]),
        at_quarter=near(0.25),
        at_three_quarters=near(0.75),
        silent=1.0 - float(known.sum() / max(judged.sum(), 1)) if truth.finite else float("nan"),
        covered=float(inside[known].mean()) if known.any() else float("nan"),
        covered_before_hold=float(inside[early].mean()) if early.any() else float("nan"),
        error_before_hold=median(off[early]),
        width=median(width[known]),
        rises=rises,
        clock_error=median(clock_off[judged]),
        baselines=baselines,
        baseline_tenths=baseline_tenths,
        said_not_reviving=said.not_reviving,
        said_hopeless=said.hopeless,
        finding=said.finding,
        finite_while_dead=float(np.isfinite(said.middle[dead]).mean()) if kind.hopeless else 0.0,
        milliseconds=1000.0 * said.seconds / max(len(said.at), 1),
    )
