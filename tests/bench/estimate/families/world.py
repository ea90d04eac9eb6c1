"""A bank of any family, a charger, its supply, people and mishaps, step by step; and what really happened.

Meters are not here: every row is what was so. The hold clock is the trade's own, on true volts and amps
(`hold_clock`). Nobody cuts: what the rules order is judged against the truth, it does not change it.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

import numpy as np

from .hold_clock import HoldClock
from .priors import Round
from .wire import Array, Cells

#: First moment of every round: a March midnight [s since the epoch].
DAY, FIRST_DAY = 86_400.0, 1_772_236_800.0
#: Before charging begins, after the hold with the charger on, and afterwards [h].
WAIT, OVERRUN, REST = 0.3, 1.5, 3.0
#: Charger off, regulating volts, amps, power.
OFF, VOLTS, AMPS, WATTS = 0, 1, 2, 3
#: Short and long steps [s], and how long after a switch the short ones last [s].
QUICK, AFTER_SWITCH = 10.0, 120.0
#: Volts per cell of a float stage.
FLOAT = 2.23
#: Over-voltage that harms [V per cell], over-temperature [degC]; a person stops everything so long afterwards [h].
HIGH_CELL, HOT, STOPPED_AFTER = 2.75, 43.333, 2.5
#: A runaway: growth [1] and warming [K] within [s], as the trade's slow form looks back.
RUNS_GROWN, RUNS_WARMER, RUNS_WITHIN = 1.3, 3.0, 6 * 3600.0


class Lived(NamedTuple):
    """Row by row at `at` [s since the epoch], rows 10 to 60 s apart.

    `volts` at the posts, `at_charger` [V], `current` [A], `top` the ceiling the charger holds at the posts [V],
    `amps` what it could give [A], `mode` (`OFF` ...), `setting` index, `hottest`, `probed` and `air` [degC],
    `strings` [A], `blocks` [V], `hold` [s], `woken`, `charge` [Ah], `appetite` [A], `opened` [1], `gas` mean
    of the cells [A]. `events`: name, begin, when a cut begins to be required and its deadline, end
    [s since the epoch] (inf = never). `hold_end` [s since the epoch].
    """

    round: Round
    at: Array
    volts: Array
    at_charger: Array
    current: Array
    top: Array
    amps: Array
    mode: Array
    setting: Array
    hottest: Array
    probed: Array
    air: Array
    strings: Array
    blocks: Array
    hold: Array
    woken: Array
    charge: Array
    appetite: Array
    opened: Array
    gas: Array
    events: tuple[tuple[str, float, float, float, float], ...]
    hold_end: float


def supplied(drawn: Round, minutes: int, random: np.random.Generator) -> Array:
    """Share of the charger's amps that there is power for, minute by minute [0..1]."""
    charger = drawn.charger
    at = drawn.begin * 3600.0 + 60.0 * np.arange(minutes)
    hour, day = at / 3600.0 % 24.0, (at // DAY).astype(int)
    share = np.ones(minutes)
    if charger.hours:
        share[:] = 0.0
        shift = random.normal(0.0, 0.3, int(day[-1]) + 1)[day]
        for begin, end in charger.hours:
            share[((hour - begin - shift) % 24.0) < (end - begin)] = 1.0
    if charger.sun:
        course = np.clip(np.sin(np.pi * (hour - 6.0) / 12.5), 0.0, None) ** 1.15
        cover = random.beta(0.9, 1.3, int(day[-1]) + 1)[day]
        sky, minute = np.ones(minutes), 0
        while minute < minutes:
            cloud = max(2, int(random.exponential(35.0)))
            shaded = random.uniform() < cover[minute]
            sky[minute : minute + cloud] = random.uniform(0.1, 0.6) if shaded else random.uniform(0.9, 1.0)
            minute += cloud
        share = np.minimum(charger.sun * course * sky, 1.0)
        share[share < 0.03] = 0.0
    if charger.cuts:
        moment = float(random.exponential(DAY / charger.cuts))
        while moment < 60.0 * minutes:
            length = random.exponential(1.5) * 3600.0 + 300.0
            share[int(moment / 60.0) : int((moment + length) / 60.0) + 1] = 0.0
            moment += length + random.exponential(DAY / charger.cuts)
    return share


def weather(drawn: Round, minutes: int, random: np.random.Generator) -> Array:
    """Air around the bank, minute by minute [degC]."""
    at = drawn.begin * 3600.0 + 60.0 * np.arange(minutes)
    air = drawn.air + drawn.swing * np.cos(2.0 * np.pi * (at / DAY - 15.5 / 24.0))
    for days in (1.9, 3.3, 6.1):
        air = air + random.normal(0.0, 0.8) * np.sin(2.0 * np.pi * (at / DAY / days + random.uniform()))
    return air


class Source:
    """Charger and people: which ceiling and how many amps there are now."""

    def __init__(self, drawn: Round, random: np.random.Generator) -> None:
        self.drawn, self.charger = drawn, drawn.charger
        self.share = supplied(drawn, int(drawn.longest * 60.0) + 2, random)
        self.setting, self.at_top, self.factor = 0, 0.0, 1.0
        self.off_until, self.own, self.extra = 0.0, 0.0, 0.0
        self.hands = list(drawn.hands)
        self.over = -1.0
        self.flat = False

    def now(self, since: float, volts: float, warmth: float) -> tuple[float, float]:
        """Ceiling at its terminals [V] and amps (0 = off, negative = load) so many seconds after the beginning."""
        c, cells = self.charger, self.drawn.make.cells
        while self.hands and since >= self.hands[0][0] * 3600.0:
            self._act(since)
        per_cell, amps = c.settings[self.setting]
        if self.over >= OVERRUN and c.ending == "float":
            per_cell = FLOAT
        ceiling = (min(per_cell + c.compensation * (warmth - 25.0), max(2.72, per_cell)) + self.extra) * cells
        share = float(self.share[min(int(since / 60.0), len(self.share) - 1)])
        waiting = since < WAIT * 3600.0 or since < self.off_until
        gone = self.over >= OVERRUN and c.ending in ("off", "by-itself")
        gone = gone or self.over >= OVERRUN + REST
        if waiting or gone or share <= 0.0:
            self.flat = self.flat or volts < 1.9 * cells
            # What draws on it lets go of an empty bank, until it has been charged again.
            return ceiling, 0.0 if waiting or gone or self.flat else -c.load
        self.flat = False
        return ceiling, min(share * amps * self.factor, c.watts * self.factor / max(volts, cells))

    def _act(self, since: float) -> None:
        _, act, size = self.hands.pop(0)
        if act == "off":
            self.off_until = since + size * 3600.0
        elif act == "raise":
            self.setting = min(self.setting + 1, len(self.charger.settings) - 1)
        elif act == "lower-amps":
            self.factor = size
        else:
            self.factor = 1.0

    def seen(self, since: float, mode: int, woken: bool, seconds: float, done: bool) -> None:
        """Move the people's and the charger's own clocks on."""
        c, hours = self.charger, seconds / 3600.0
        if mode == VOLTS and woken:
            self.at_top += hours
            last = self.setting + 1 >= len(c.settings)
            if self.at_top >= c.raise_after and not last:
                self.setting, self.at_top = self.setting + 1, 0.0
        if mode == VOLTS and not done:
            self.own += hours
            if self.own >= c.own_hours:
                self.own, self.off_until = 0.0, since + c.restart * 3600.0
        if done:
            self.over = max(self.over, 0.0) + hours


class Mishap:
    """The drawn hazard: waits for its stage, then happens, and says when a cut must follow."""

    def __init__(self, drawn: Round, spared: Lived | None) -> None:
        self.hazard, self.drawn, self.spared = drawn.hazard, drawn, spared
        self.stage_since = self.began = self.required = self.deadline = np.inf
        self.held: deque[tuple[float, float, float]] = deque()

    def look(self, at: float, stage: str, cells: Cells, source: Source, seconds: float) -> None:
        """Let it begin or go on; `stage` as the truth has it now."""
        h = self.hazard
        order = ("waking", "reviving", "finishing", "holding")
        if not np.isfinite(self.stage_since) and stage in order and order.index(stage) >= order.index(h.stage):
            self.stage_since = at
        if h.kind == "none" or at < self.stage_since + 3600.0 * h.after:
            return
        if not np.isfinite(self.began):
            self.began = at
            if h.kind == "short":
                cells.short(h.string, h.cell, h.size * self.drawn.make.capacity)
            elif h.kind == "over-voltage":
                source.extra = h.size
        hours = (at - self.began) / 3600.0
        if h.kind == "runaway-fast" and hours < 3.0:
            cells.poison(h.size ** (seconds / 3600.0 / 3.0))
        elif h.kind == "runaway-slow" and hours < 14.0:
            cells.poison(h.size ** (seconds / 3600.0 / 14.0))

    def warmer(self, at: float) -> float:
        """What the hazard adds to the air [K]."""
        if self.hazard.kind != "over-temperature" or not np.isfinite(self.began):
            return 0.0
        return float(self.hazard.size * min(1.0, (at - self.began) / 5400.0))

    def judge(self, at: float, current: float, warmth: float) -> None:
        """When has a cut become required: by the physics of runaway, not by a meter; told only what a ceiling takes.

        It takes 1.3 times the least of the last six hours and is 3 K warmer than then. At least half of that it owes to
        its own current, beside the same bank without the hazard: what a warm day does to a weak one harms nobody.
        """
        if self.spared is None or not np.isfinite(self.began):
            return
        self.held.append((at, current, warmth))
        while at - self.held[0][0] > RUNS_WITHIN:
            self.held.popleft()
        _, least, then = min(self.held, key=lambda row: row[1])
        own = warmth - float(np.interp(at, self.spared.at, self.spared.probed))
        fed = current >= RUNS_GROWN * least and warmth >= then + RUNS_WARMER and own >= 0.5 * RUNS_WARMER
        if fed and not np.isfinite(self.required):
            self.required, self.deadline = at, at + 3600.0


def play(drawn: Round, family: type[Cells]) -> Lived:
    """Play a round of a family; the same round plays the same."""
    random = np.random.default_rng((drawn.seed, 515))
    source, air = Source(drawn, random), weather(drawn, int(drawn.longest * 60.0) + 2, random)
    cells = family(drawn.make, float(air[0]), random)  # type: ignore[call-arg]
    runs_away = drawn.hazard.kind in ("runaway-fast", "runaway-slow")
    spared = play(drawn._replace(hazard=drawn.hazard._replace(kind="none")), family) if runs_away else None
    clock, mishap = HoldClock(drawn), Mishap(drawn, spared)
    probe_string, probe_cell = drawn.hazard.string, drawn.hazard.cell // 3 * 3
    start = FIRST_DAY + drawn.begin * 3600.0
    many, per_block = drawn.make.cells, drawn.make.block_cells
    since, volts, current, charge, switched = 0.0, 2.0 * many, 0.0, 0.0, 0.0
    was_on, was_setting, appetite, opened, next_look = False, 0, 0.0, 0.0, 0.0
    rows: list[tuple[float, ...]] = []
    strings: list[Array] = []
    blocks: list[Array] = []
    hot_since = high_since = np.inf
    stop = drawn.longest * 3600.0
    drop = 0.0
    while since < stop:
        warmth = float(cells.warmth.mean())
        ceiling, amps = source.now(since, volts, warmth)
        on = amps > 0.0
        if on != was_on or source.setting != was_setting:
            switched, was_on, was_setting = since, on, source.setting
        step = QUICK if since - switched < AFTER_SWITCH else cells.longest
        outside = float(air[int(since / 60.0)]) + mishap.warmer(start + since)
        # The cable's drop of the step before, eased: the bank's own resistance is larger, so this settles.
        drop = 0.5 * drop + 0.5 * source.charger.cable * max(current, 0.0) if on else 0.0
        top = ceiling - drop
        before = volts
        volts, each = cells.live(top, amps, outside, step)
        current = float(each.sum())
        mode = OFF
        if on:
            limited = volts >= top - 0.001 * many and current < 0.995 * amps
            mode = VOLTS if limited else (WATTS if amps < 0.97 * source.charger.settings[source.setting][1] else AMPS)
        at = start + since
        if since >= next_look:
            appetite, opened, next_look = cells.appetite(), cells.open_share(), since + 600.0
        hottest = float(cells.warmth.max())
        probed = float(cells.warmth[probe_string, probe_cell])
        last = source.setting + 1 >= len(source.charger.settings)
        clock.look(mode, current, charge, opened, last, step)
        stage = clock.stage(mode, last)
        mishap.look(at, stage, cells, source, step)
        if mode == VOLTS:
            mishap.judge(at, current, probed)
        source.seen(since, mode, clock.woken, step, clock.done)
        charge += max(current, 0.0) * step / 3600.0
        rows.append(
            (
                at, volts, volts + source.charger.cable * current, current, top, max(amps, 0.0), mode,
                source.setting, hottest, probed, outside, clock.seconds, clock.woken, charge, appetite, opened,
                float(cells.gassing().mean()),
            )
        )  # fmt: skip
        strings.append(each)
        blocks.append(cells.volts().reshape(drawn.make.strings, drawn.make.blocks, per_block)[0].sum(axis=1))
        hot_since = min(hot_since, at) if probed >= HOT else np.inf
        high_since = min(high_since, at) if on and volts / many > HIGH_CELL else np.inf
        since += step
        stopped = min(hot_since, high_since, mishap.required)
        if at > stopped + STOPPED_AFTER * 3600.0 or source.over > OVERRUN + REST + 1.0:
            break
        if abs(volts - before) > 0.05 * many:
            switched = since
    columns = np.array(rows).T
    done = np.flatnonzero(columns[11] >= drawn.hold * 3600.0)
    hold_end = float(columns[0][done[0]]) if len(done) else np.inf
    at, volts_, at_charger, current_, top_, amps_, mode_, setting_, hottest_, probed_, air_, hold_ = columns[:12]
    woken_, charge_, appetite_, opened_, gas_ = columns[12:]
    lived = Lived(
        drawn, at, volts_, at_charger, current_, top_, amps_, mode_, setting_, hottest_, probed_, air_,
        np.array(strings), np.array(blocks), hold_, woken_, charge_, appetite_, opened_, gas_, (), hold_end,
    )  # fmt: skip
    return lived._replace(events=happened(lived, mishap))


def hangs_back(lived: Lived, began: float) -> float:
    """From when a short can be seen by the household's block or midpoint meters: on charge, 1.6 V, for ten minutes."""
    drawn, h = lived.round, lived.round.hazard
    number_of_blocks = drawn.make.blocks
    by_halves = drawn.meters.midpoint and number_of_blocks % 2 == 0
    if h.string or number_of_blocks < 2 or not (drawn.meters.blocks or by_halves):
        return float(np.inf)
    if drawn.meters.blocks:
        number = h.cell // drawn.make.block_cells
        lacks = np.median(np.delete(lived.blocks, number, axis=1), axis=1) - lived.blocks[:, number]
    else:
        half = lived.blocks[:, : drawn.make.blocks // 2].sum(axis=1)
        lacks = np.abs(lived.volts - 2.0 * half)
    rows = (lived.at >= began) & (lived.mode != OFF) & (lacks >= 1.6)
    since = np.inf
    for at, low in zip(lived.at.tolist(), rows.tolist(), strict=True):
        since = min(since, at) if low else np.inf
        if at - since >= 600.0:
            return float(since)
    return float(np.inf)


def happened(lived: Lived, mishap: Mishap) -> tuple[tuple[str, float, float, float, float], ...]:
    """Hazards: name, begin, from when a cut is required, by when it must have come, end [s since the epoch]."""
    drawn, h = lived.round, lived.round.hazard
    never, found = np.inf, []
    many = drawn.make.cells
    slow = 60.0 * 15.0 + 2.0 * drawn.meters.probe_lag + 2.0 * drawn.meters.period
    if np.isfinite(mishap.began):
        required, deadline = mishap.required, mishap.deadline
        if h.kind == "short":
            required = hangs_back(lived, mishap.began)
            deadline = required + 1800.0 + 3.0 * drawn.meters.period
        if h.kind in ("runaway-fast", "runaway-slow"):
            deadline = required + 3600.0 + slow
        if h.kind != "over-voltage":
            name = "warm-air" if h.kind == "over-temperature" else h.kind
            found.append((name, mishap.began, required, deadline, never))
    hot = np.flatnonzero(lived.probed >= HOT + 0.3)
    warm = np.flatnonzero(lived.hottest >= HOT - 0.7)
    if len(warm):
        required = float(lived.at[hot[0]]) if len(hot) else never
        found.append(("over-temperature", float(lived.at[warm[0]]), required, required + slow, never))
    high = np.flatnonzero((lived.mode != OFF) & (lived.volts / many > HIGH_CELL * 1.004))
    near = np.flatnonzero((lived.mode != OFF) & (lived.volts / many > HIGH_CELL * 0.992))
    if len(near):
        # A meter that shows too little cannot know: required where its own error still shows it.
        shown = lived.volts / many * drawn.meters.volts_gain > HIGH_CELL * 1.004
        high = high[shown[high]]
        required = float(lived.at[high[0]]) if len(high) else never
        deadline = required + 300.0 + 3.0 * drawn.meters.period
        found.append(("over-voltage", float(lived.at[near[0]]), required, deadline, never))
    return tuple(found)
