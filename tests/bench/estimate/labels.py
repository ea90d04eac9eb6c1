"""What the phase really was, told with hindsight from what really happened; the estimator never sees it.

The definitions, in the order of a round:

- *idle* until the charger first gives current;
- *waking*, if the bank blocked at all (less than half of the charger's current in its first quarter of an hour), until
  the current at the ceiling leaves a tenth of what the charger can give for good;
- *reviving* until the voltage has come within 5 mV per cell of the bottom of its sag, or, where the charger never
  limits, until the woken bank's current has peaked;
- *bulk* below the charger's ceiling, until the voltage is back at it for half an hour;
- at the ceiling *absorbing* under the equalising voltage, *finishing* at it before the hold clock starts, *holding*
  while the clock runs; below the ceiling for half an hour or more with full power, *bulk* again;
- *resting* once the hold is complete (*holding* is right too until the charger is off).

While the charger is off the phase stays. Two answers are right where the trade would give both: while the voltage
climbs back after an interruption or follows a weak sun, the phase before it and *bulk*; between the first string's
waking and the last one's, *reviving* and what the whole bank shows; while the hold clock counts in a bank that is just
waking, *reviving* and *holding*.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from tests.bench.simulated_bank.chemistry import Array
from tests.bench.simulated_bank.simulate import Run

PHASES = ("idle", "waking", "reviving", "bulk", "absorbing", "finishing", "holding", "resting")
IDLE, WAKING, REVIVING, BULK, ABSORBING, FINISHING, HOLDING, RESTING = range(8)
DWELL = 1800.0


class Truth(NamedTuple):
    """Row by row of a `Run`.

    Attributes
    ----------
    phase, also : array of int
        Index into `PHASES`, and another phase that is as right.
    interrupted : array of bool
    remaining, clock : Array
        Charging hours and clock hours to the end of the hold [h]; nan where there is none.
    start, end : int
        Rows of the first current and of the end of the hold (or the last row).
    finite : bool
        Whether the hold was completed.
    """

    phase: np.ndarray
    also: np.ndarray
    interrupted: np.ndarray
    remaining: Array
    clock: Array
    start: int
    end: int
    finite: bool


def bridged(flag: np.ndarray, valid: np.ndarray, rows: int) -> np.ndarray:
    """At the ceiling, without dips and touches of fewer than `rows` rows; each stretch of valid rows by itself."""
    result = flag.copy()
    where = np.flatnonzero(valid)
    windows = np.split(where, np.flatnonzero(np.diff(where) > 1) + 1) if len(where) else []
    for number, window in enumerate(windows):
        values = flag[window].copy()
        for wanted in (True, False):  # first bridge short dips, then drop short touches
            edges = np.flatnonzero(np.diff(values.astype(np.int8))) + 1
            starts, ends = np.r_[0, edges], np.r_[edges, len(values)]
            for begin, end in zip(starts, ends, strict=True):
                inside = begin > 0 and (end < len(values) or not wanted)
                first_touch = number > 0 and begin == 0 and not wanted and end < len(values)
                if values[begin] != wanted and end - begin < rows and (inside or first_touch):
                    values[begin:end] = wanted
        result[window] = values
    return result


def bottoms(sagging: np.ndarray, volts: Array, least: int) -> tuple[int, int]:
    """Rows where the first and the last sag of at least `least` rows reach their bottom; 0, 0 without one."""
    found = []
    rows = np.flatnonzero(sagging)
    for spell in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1):
        if len(spell) < least:
            continue
        sag = volts[spell]
        lowest = np.minimum.accumulate(sag)
        # A sag has turned once the voltage is 10 mV above its lowest so far; strings may sag one after the other.
        turned = np.flatnonzero(sag > lowest + 0.01)
        first = float(lowest[turned[0]] if len(turned) else lowest[-1])
        found.append(int(spell[np.argmax(sag <= first + 0.005)]))
        if sag.max() - sag.min() > 0.008:
            found.append(int(spell[np.argmax(sag <= sag.min() + 0.005)]))
    return (found[0], max(found)) if found else (0, 0)


def label(run: Run) -> Truth:
    """Tell every row's phase and what was really left."""
    s = run.scenario
    step = float(run.at[1] - run.at[0])
    count = len(run.at)
    on = run.amps > 0.0
    # A bank woken in halves is judged from where it is whole again.
    start = int(np.argmax(on & (run.cells == s.cells)))
    done = run.hold >= s.hold * 3600.0
    finite = bool(done.any())
    end = int(np.argmax(done)) if finite else count - 1
    index = np.arange(count)
    volts, top = run.volts / run.cells, run.limit / run.cells
    settings = np.array([setting.amps for setting in s.settings])[run.setting.astype(int)]
    took = (run.current >= 0.8 * settings) | (run.charge >= 0.5 * s.strings * s.capacity)
    woken = np.flatnonzero(took & (index >= start))
    woke = int(woken[0]) if len(woken) else count
    ceiling = on & (volts >= top - 0.012)
    equalise = np.minimum(s.equalise + s.compensation * (run.temperature - 25.0), max(2.72, s.equalise))

    opening = np.flatnonzero(on & (index >= start))[: max(1, int(900.0 / step))]
    blocked = bool((ceiling[opening] & (run.current[opening] < 0.5 * settings[opening])).any())
    phase = np.full(count, WAKING)
    phase[:start] = IDLE
    climb = start
    if blocked:
        low = np.flatnonzero(ceiling & (run.current < 0.1 * settings) & (start <= index) & (index < woke))
        climb = int(low[-1]) + 1 if len(low) else start
    phase[climb:] = REVIVING if blocked else BULK

    full = run.amps >= 0.97 * settings
    after = on & (index >= (woke if blocked else start))
    at_top = bridged(ceiling, after, int(DWELL / step)) & after
    below = after & ~at_top
    counts = np.r_[run.hold[1:], run.hold[-1]] > 0.0  # from the row on in which the clock begins to run
    place = np.where(top >= equalise - 0.03, np.where(counts, HOLDING, FINISHING), ABSORBING)
    also = phase.copy()
    phase[after] = np.where(at_top, place, BULK)[after]
    also[after] = phase[after]
    if blocked and woke < count:
        first, last = bottoms(below & full, volts, int(DWELL / step))
        turned = max(first, woke)
        if not first:  # never half an hour of full power: no telling when the sag was over
            last = woke + int(np.argmax(np.r_[at_top[woke:] & (index[woke:] > woke + int(DWELL / step)), True]))
        if at_top[woke]:
            # Still at the ceiling when it had woken: reviving up to the peak of this spell's current.
            spell_end = woke + int(np.argmin(np.r_[at_top[woke:], False]))
            peak = woke + int(np.argmax(run.current[woke:spell_end]))
            turned = peak if peak < spell_end - int(DWELL / step) else max(first, spell_end)
        also[woke:turned] = phase[woke:turned]
        phase[woke:turned] = np.where(on[woke:turned], REVIVING, phase[woke:turned])
        sagging = (below & full)[woke:turned]
        also[woke:turned] = np.where(sagging, REVIVING, also[woke:turned])
        also[turned:last] = REVIVING
    # Off, or too little power to stay up: the phase stays.
    stays = (~on & (index >= start)) | (below & ~full & (phase == BULK))
    climbing = np.zeros(count, dtype=bool)
    for back in np.flatnonzero(stays[:-1] & ~stays[1:]) + 1:
        again = np.flatnonzero(ceiling[back:])
        climbing[back : back + (int(again[0]) if len(again) else count)] = True
    kept = np.maximum.accumulate(np.where(stays | climbing, 0, index))
    held = (stays | climbing) & (index >= start) & (phase[kept] > REVIVING)
    also[held] = np.where(on[held], np.where(also[held] == REVIVING, REVIVING, BULK), also[kept][held])
    phase[held] = phase[kept][held]
    lit = np.maximum.accumulate(np.where(on, index, 0))
    dark = ~on & (index >= start)
    phase[dark], also[dark] = phase[lit][dark], also[lit][dark]
    if finite:
        phase[end:] = RESTING
        also[end:] = np.where(on[end:], HOLDING, RESTING)
    hours = np.cumsum(on[::-1])[::-1] * step / 3600.0
    remaining = np.where(index <= end, hours - hours[end], np.nan) if finite else np.full(count, np.nan)
    clock = np.where(index <= end, (run.at[end] - run.at) / 3600.0, np.nan) if finite else np.full(count, np.nan)
    interrupted = ~on & (index >= start) & (index < end)
    return Truth(phase, also, interrupted, remaining, clock, start, end, finite)
