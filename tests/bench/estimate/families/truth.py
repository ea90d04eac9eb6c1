"""What each minute really was, told with hindsight from the cells; no meter has a say.

Definitions (RULES, section 3), in the order of a round:

- *idle* until the charger first gives current;
- a bank is *blocked* when less than half of what can ever open is open at the first current;
- *waking* and *reviving* lie before `peak`: the first time that its appetite (what it would take at 2.40 V per cell
  without gas, looked at while it has charged for a while) reaches 97 % of its most, or nine tenths are open, or it is
  woken (`hold_clock`); at the charger's ceiling it is waking under an eighth of the current that it comes to (of the
  charger's amps, of C/8, where they are less), twice its floor, or 3 % of the charger's amps, whichever is most, and
  reviving above; on amps or power it is reviving while the voltage sags, *bulk* from its bottom on;
- after `peak`, or in a bank that never blocked: *bulk* while amps or power limit, at a ceiling that is not the last one
  *absorbing*, at the last one *finishing*, and *holding* while the hold clock runs;
- *resting* once the hold is complete.

The hold clock and what woken means: `hold_clock`.

Right as well: the neighbours within 30 min of a transition; the phase before an interruption, and bulk, while the
voltage climbs back after it; between the first string's waking and the last one's, reviving and what the bank shows;
waking and reviving from half to twice that eighth, and up to an eighth of the charger's amps; the phase before and bulk
where the sun is too weak to stay at the ceiling; holding and finishing between `peak` and woken; holding after its end
while current flows.

A cut is right before the first current, from the last twentieth of the hold (a quarter of an hour at least) on, after a
hazard has begun (two hours before a runaway), and where the trade's rule of runaway is met by true values. It is
required from when a probed cell passes the limit, a bank passes 2.75 V per cell so that its own meter shows it, a
block or half hangs back by 1.6 V on charge where that is metered, or a poisoned bank takes 1.3 times its least of six
hours and is 3 K warmer than then, by half of it at least warmer than it would be without the poison.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from .hold_clock import FEW
from .wire import Array

if TYPE_CHECKING:
    from .priors import Round
    from .world import Lived

PHASES = ("idle", "waking", "reviving", "bulk", "absorbing", "finishing", "holding", "resting")
IDLE, WAKING, REVIVING, BULK, ABSORBING, FINISHING, HOLDING, RESTING = range(8)
#: Either side of a transition both phases are right [min].
TOLERANCE = 30
#: Of the appetite's most: reached; or so much of what can ever open is open [1].
PEAK, OPEN = 0.97, 0.9
#: A sealed bank is waking under this share of what it comes to [1].
EIGHTH = 0.125
#: The hold may end so much early [1], and a cut is right so long before its end at least [min].
EARLY, EARLY_LEAST = 0.05, 15
#: Over-voltage, less what a meter of a block may show too much [V per cell].
NEARLY_HIGH = 0.992 * 2.75
#: Over-current over a string's limit, less what a clamp may show too much [1].
NEARLY_OVER = 0.96 * 1.25
#: What the truth says of a cut in a minute.
FORBIDDEN, ALLOWED, REQUIRED = 0, 1, 2


class Truth(NamedTuple):
    """Minute by minute.

    Attributes
    ----------
    at : Array
        [s since the epoch].
    phase : array of int
        Index into `PHASES`.
    right : array of bool, shape (minutes, phases)
        Every phase that is right.
    interrupted, live : array of bool
        Charger off in the middle; whether the minute is judged (no hazard that must stop the round, no lying meter).
    remaining, clock : Array
        Charging and clock hours to the end of the hold [h]; nan where there is none.
    cut : array of int
        `FORBIDDEN`, `ALLOWED`, `REQUIRED`.
    gone : Array
        Share of the charging hours of the round that are over [0..1]; nan where the hold never ends.
    start, end : int
        Minutes of the first current and of the end of the hold (or the last).
    alive, finite : bool
        It revived; its hold was completed.
    dead_from : int
        From this minute on no hours may be given: it has been at its ceiling for 24 h and takes no more. -1 = never.
    """

    at: Array
    phase: Array
    right: Array
    interrupted: Array
    live: Array
    remaining: Array
    clock: Array
    cut: Array
    gone: Array
    start: int
    end: int
    alive: bool
    finite: bool
    dead_from: int


def string_limit(drawn: Round) -> float:
    """What the owner writes down as the most that a string may take [A]."""
    most = max(amps for _, amps in drawn.charger.settings) / drawn.make.strings
    return max(most, 0.13 * drawn.make.capacity)


def smooth(values: Array, width: int) -> Array:
    """Running mean over an odd number of minutes."""
    if len(values) < width:
        return values
    padded = np.pad(values, width // 2, mode="edge")
    mean: Array = np.convolve(padded, np.ones(width) / width, "valid")
    return mean


def spells(flag: Array) -> list[tuple[int, int]]:
    """Begin and end of every run of true."""
    edges = np.flatnonzero(np.diff(np.r_[0, flag.astype(np.int8), 0]))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def sagging(lived_volts: Array, limited: Array, before: Array, cells: int) -> Array:
    """Minutes on amps or power in which the voltage has not come to the bottom of its sag."""
    result = np.zeros(len(limited), dtype=bool)
    # Spells that a few minutes at the ceiling, or a cut, break are one.
    closed = limited.copy()
    for begin, end in spells(~limited):
        if begin > 0 and end < len(limited) and end - begin < 20:
            closed[begin:end] = True
    for begin, end in spells(closed & before):
        rows = np.arange(begin, end)
        if len(rows) < 10:
            result[rows] = True
            continue
        volts = smooth(lived_volts[rows] / cells, 9)
        lowest = int(np.argmin(volts))
        if volts[0] - volts[lowest] > 0.012:
            result[begin : begin + lowest] = True
    return result


def label(lived: Lived) -> Truth:
    """Tell what each minute was."""
    drawn, make = lived.round, lived.round.make
    count = int((lived.at[-1] - lived.at[0]) / 60.0)
    at = lived.at[0] + 60.0 * np.arange(count)
    row = np.clip(np.searchsorted(lived.at, at, side="right") - 1, 0, len(lived.at) - 1)
    mode, setting, volts, current = lived.mode[row], lived.setting[row], lived.volts[row], lived.current[row]
    on, index = mode > 0, np.arange(count)
    start = int(np.argmax(on)) if on.any() else count
    finite = bool(np.isfinite(lived.hold_end))
    end = int(np.searchsorted(at, lived.hold_end)) if finite else count - 1
    end = min(end, count - 1)
    appetite = smooth(lived.appetite[row], 21)
    opened = lived.opened[row]
    blocked = bool(start < count and opened[start] < 0.5)
    ahead = (index >= start) & (index <= end)
    # A rested bank takes more for a while: what counts is its appetite while it charges.
    fed = ahead & on & _charged_on(on, start)
    woken = lived.woken[row] > 0.5
    mean = smooth(np.where(on, current, 0.0), 11)
    wakes, wakes_low, wakes_high = _thresholds(lived, mean, (mode == 1) & ahead)
    peak = start
    if blocked:
        most = float(appetite[fed].max()) if fed.any() else 0.0
        ready = (fed & (appetite >= PEAK * most)) | (ahead & (woken | (opened >= OPEN)))
        reached = np.flatnonzero(ready)
        peak = int(reached[0]) if len(reached) and most > wakes else count
        # What still grew when the record ended has not come to its peak.
        peak = count if make.dead or (not finite and peak > end - 60) else peak
    alive = peak < count
    last = setting >= len(drawn.charger.settings) - 1
    top = mode == 1
    counting = np.r_[np.diff(lived.hold[row]) > 0.0, False] & top
    counting |= np.r_[False, counting[:-1]] & top
    running = _while_running(counting, lived.hold[row])
    limited = on & ~top
    sag = sagging(volts, limited, (index < peak) & (index >= start), make.cells)
    phase = np.full(count, IDLE)
    right = np.zeros((count, len(PHASES)), dtype=bool)
    young = (index >= start) & (index < peak)
    early_top, early_amps = young & top, young & limited
    above = [begin for begin, finish in spells(early_top & (mean >= wakes)) if finish - begin >= TOLERANCE]
    leaves = above[0] if above else count
    phase[early_top] = np.where(index[early_top] < leaves, WAKING, REVIVING)
    right[early_top & (mean > wakes_low), REVIVING] = True
    right[early_top & (mean < wakes_high), WAKING] = True
    weak = early_amps & (mean < wakes)
    phase[early_amps] = np.where(sag[early_amps], REVIVING, BULK)
    # A weak sun or little power in a sealed bank: it is the power that limits, not the plates.
    phase[weak] = np.where(lived.appetite[row][weak] < wakes, WAKING, phase[weak])
    right[early_amps, BULK] = right[early_amps, REVIVING] = True
    right[weak, WAKING] = True
    old = (index >= start) & (index >= peak)
    phase[old & limited] = BULK
    place = np.where(last, np.where(running, HOLDING, FINISHING), ABSORBING)
    phase[old & top] = place[old & top]
    between = old & top & ~woken
    right[between, REVIVING] = True
    right[between & last, FINISHING] = right[between & last, HOLDING] = True
    if drawn.tail is None:
        phase[between & last] = REVIVING
    if make.strings > 1:
        # The next string still wakes while the bank as a whole shows what the first one does.
        earlier, later = np.maximum(index - 60, 0), np.clip(index + 60, 0, count - 1)
        steady = smooth(on.astype(float), 121) > 0.99
        right[old & blocked & steady & (appetite[later] > 1.03 * appetite[earlier]), REVIVING] = True
        shows = np.where(limited, BULK, place)
        right[young & on & woken, shows[young & on & woken]] = True
    right[old & ~woken, REVIVING] = True
    if make.dead:
        phase[(index >= start) & on] = WAKING
    under_cloud = (mode == 3) & (drawn.charger.sun > 0.0)
    _keep_over_gaps(phase, right, on, top, under_cloud, index >= start)
    if finite:
        phase[end:] = RESTING
        right[end:] = False
        right[end:, RESTING] = True
        right[end:, HOLDING] = on[end:]
        right[end:, IDLE] = False
    _merge_short(phase, right, end)
    right[index, phase] = True
    for change in np.flatnonzero(np.diff(phase)) + 1:
        near = slice(max(0, change - TOLERANCE), min(count, change + TOLERANCE))
        right[near, phase[change]] = right[near, phase[change - 1]] = True
    hours = np.cumsum(on[::-1])[::-1] / 60.0
    remaining = np.where(index <= end, hours - hours[end], np.nan) if finite else np.full(count, np.nan)
    clock = np.where(index <= end, (end - index) / 60.0, np.nan) if finite else np.full(count, np.nan)
    whole = float(remaining[start]) if finite and start < count else np.nan
    gone = np.where(ahead, 1.0 - remaining / whole, np.nan) if finite else np.full(count, np.nan)
    live, cut = _cuts(lived, at, end, finite, start)
    dead_from = -1
    if make.dead:
        at_top = np.cumsum(top & (index >= start)) / 60.0
        late = np.flatnonzero(at_top >= 24.0)
        dead_from = int(late[0]) if len(late) else -1
    interrupted = ~on & (index >= start) & (index < end)
    return Truth(
        at, phase, right, interrupted, live, remaining, clock, cut, gone, start, end, alive, finite, dead_from
    )  # fmt: skip


def _while_running(counting: Array, hold: Array) -> Array:
    """The clock runs, or has run and is only paused at the ceiling for minutes."""
    result = counting.copy()
    for begin, end in spells(~counting):
        if begin > 0 and end < len(counting) and end - begin < 20 and hold[min(end, len(hold) - 1)] > 0.0:
            result[begin:end] = True
    return result


def _charged_on(on: Array, start: int) -> Array:
    """On since an hour and a half at least, or since the first current."""
    result = np.zeros(len(on), dtype=bool)
    for begin, end in spells(on):
        result[begin if begin <= start else begin + 90 : end] = True
    return result


def _thresholds(lived: Lived, mean: Array, at_top: Array) -> tuple[float, float, float]:
    """Amps under which a sealed bank is waking, and from where to where reviving and waking are both right.

    An eighth of what it comes to (or of the charger's amps, of C/8), but at least twice its floor and a few percent of
    what the charger gives.
    """
    make, charger = lived.round.make, lived.round.charger
    rated = make.capacity * make.strings
    reference = max(min(max(amps for _, amps in charger.settings), rated / 8.0), rated / 40.0)
    early = mean[np.flatnonzero(at_top)[20:]]  # what a rested surface takes in the first minutes says nothing
    if not len(early):
        return EIGHTH * reference, 0.5 * EIGHTH * reference, 2.0 * EIGHTH * reference
    comes_to = min(float(early.max()), reference)
    wakes = max(EIGHTH * comes_to, FEW * reference, min(2.0 * float(early.min()), 0.5 * comes_to))
    return wakes, 0.5 * wakes, max(2.0 * wakes, min(EIGHTH * reference, 0.5 * comes_to))


def _keep_over_gaps(phase: Array, right: Array, on: Array, top: Array, cloud: Array, begun: Array) -> None:
    """Off, or back at too little sun: the phase stays. Climbing back to where it was: the phase before, and bulk."""
    count = len(phase)
    before = int(phase[0])
    for minute in range(count):
        if begun[minute] and on[minute] and not cloud[minute]:
            before = int(phase[minute])
        elif begun[minute] and cloud[minute] and before >= ABSORBING:
            right[minute, BULK] = True
            phase[minute] = before
        elif begun[minute] and cloud[minute]:
            before = int(phase[minute])
    for begin, end in spells(~on & begun):
        if begin == 0:
            continue
        before = int(phase[begin - 1])
        phase[begin:end] = before
        right[begin:end] |= right[begin - 1]
        back = end
        while back < count and on[back] and not top[back]:
            back += 1
        if before >= ABSORBING and back > end:
            climbing = np.arange(end, back)
            right[climbing, before] = right[climbing, BULK] = True
            if len(climbing) <= 120:
                phase[climbing] = before


def _merge_short(phase: Array, right: Array, end: int, least: int = 20) -> None:
    """Spells shorter than 20 min belong to the phase before them; both are right."""
    begin = 0
    for change in [*(np.flatnonzero(np.diff(phase)) + 1).tolist(), len(phase)]:
        if 0 < begin < end and change - begin < least and phase[begin] != RESTING:
            right[begin:change, phase[begin]] = True
            phase[begin:change] = phase[begin - 1]
        begin = change


def _runs_away(lived: Lived, at: Array) -> Array:
    """The trade's rule of runaway is met by true values: whoever cuts then is not wrong, whatever warmed the bank."""
    row = np.clip(np.searchsorted(lived.at, at, side="right") - 1, 0, len(lived.at) - 1)
    held = (lived.mode[row] == 1) & (lived.woken[row] > 0.5)
    mean = smooth(np.where(held, lived.current[row], np.nan_to_num(lived.current[row])), 31)
    warmth = lived.hottest[row]
    risen = warmth - warmth[np.maximum(np.arange(len(at)) - 120, 0)]
    lowest = np.minimum.accumulate(np.where(held, mean, np.inf))
    with np.errstate(invalid="ignore"):
        met = held & (mean >= 1.25 * lowest) & (risen >= 2.5)
    # The rule's own windows, and hysteresis, may tell it some minutes later.
    spread = np.convolve(met.astype(float), np.ones(91), "full")[: len(at)] > 0.0
    return np.asarray(spread)


def _cuts(lived: Lived, at: Array, end: int, finite: bool, start: int) -> tuple[Array, Array]:
    """Which minutes are judged, and what a cut in them would be."""
    count = len(at)
    cut = np.full(count, FORBIDDEN)
    live = np.ones(count, dtype=bool)
    cut[:start] = ALLOWED
    if finite:
        grace = max(EARLY_LEAST, int(EARLY * lived.round.hold * 60.0))
        cut[max(0, end - grace) :] = ALLOWED
    cut[_runs_away(lived, at)] = ALLOWED
    row = np.clip(np.searchsorted(lived.at, at, side="right") - 1, 0, len(lived.at) - 1)
    # A metered block or string that passes its limit by itself may trip, within its meter's error and a few minutes.
    over = np.zeros(count)
    if lived.round.meters.blocks:
        over += lived.blocks[row].max(axis=1) / lived.round.make.block_cells > NEARLY_HIGH
    if lived.round.meters.strings:
        over += lived.strings[row].max(axis=1) > NEARLY_OVER * string_limit(lived.round)
    cut[np.convolve(over, np.ones(10), "full")[:count] > 0.0] = ALLOWED
    for name, begin, required, _, stop in lived.events:
        lead = 7200.0 if name.startswith("runaway") else 0.0
        touched = (at >= begin - lead) & (at <= stop)
        cut[touched] = np.maximum(cut[touched], ALLOWED)
        cut[at >= required] = REQUIRED
        if np.isfinite(required):
            live &= at < required
        if name in ("stuck", "swapped", "drifting", "short", "over-voltage"):
            live &= ~((at >= begin) & (at <= stop))
    return live, cut
