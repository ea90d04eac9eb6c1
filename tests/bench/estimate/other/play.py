"""A whole round: a person, a charger, a supply and a bank, step by step; and the truth of it for the labels."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .bank import Cells, Recipe
from .plates import Array
from .source import Setting, Supply, available, shed

STEP = 30.0
FIRST_DAY = 1_772_236_800.0


class Scenario(NamedTuple):
    """One round as it will be played.

    Attributes
    ----------
    recipe : Recipe
        The bank; `blocks` of `block_cells` cells in series.
    settings : tuple of Setting
        Of the charger, in order.
    raise_after : float
        The person turns it up after so many charging hours at the ceiling of a woken bank [h],
    raise_at : float
        or at this hour, whatever the bank does [h]; infinite = only as above.
    halves : tuple of (float, float, int)
        From hour, to hour, which half of every string is charged by itself, at half the volts.
    equalise, compensation, hold, at_current : float
        As in the rules' bank [V], [V/K], [h], [A].
    mean, swing, supply, begin
        The shed's air [degC], the power, the hour of the day at which the round begins.
    wait, overrun, rest, longest : float
        Before charging; after the hold, charger on; charger off; at most in all [h].
    """

    recipe: Recipe = Recipe()
    blocks: int = 4
    block_cells: int = 3
    settings: tuple[Setting, ...] = (Setting(32.0, 25.0),)
    raise_after: float = 4.0
    raise_at: float = float("inf")
    halves_at: tuple[tuple[float, float, int], ...] = ()
    equalise: float = 2.667
    compensation: float = 0.0
    hold: float = 16.0
    at_current: float | None = None
    mean: float = 18.0
    swing: float = 5.0
    supply: Supply = Supply()
    begin: float = 9.0
    wait: float = 0.3
    overrun: float = 0.5
    rest: float = 3.0
    longest: float = 260.0
    halves: float = 0.0

    @property
    def strings(self) -> int:
        """In parallel."""
        return self.recipe.strings

    @property
    def capacity(self) -> float:
        """Of a string [Ah]."""
        return self.recipe.capacity

    @property
    def cells(self) -> int:
        """In series."""
        return self.blocks * self.block_cells


class Played(NamedTuple):
    """What happened, row by row, in the terms the labels ask for; `wiring` says until when which half is charged."""

    scenario: Scenario
    at: Array
    cells: Array
    volts: Array
    current: Array
    strings: Array
    temperature: Array
    ambient: Array
    limit: Array
    amps: Array
    setting: Array
    hold: Array
    closed: Array
    charge: Array
    wiring: tuple[tuple[float, int | None], ...]
    left: Array


class HoldClock:
    """The hold as the trade counts it, on what really happened."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario, self.woken, self.started, self.seconds = scenario, False, False, 0.0
        self.there: list[float] = []
        self.under = 0.0

    def look(self, volts: float, current: float, amps: float, charge: float, warmth: float, whole: bool) -> None:
        """One step; volts per cell, bank current, the charger's amps, charge returned, electrolyte."""
        s = self.scenario
        if not whole:
            return
        self.woken |= current >= 0.8 * amps or charge >= 0.5 * s.strings * s.capacity
        aim = min(s.equalise + s.compensation * (warmth - 25.0), max(2.72, s.equalise))
        if not self.woken or volts < aim - 0.03:
            return
        self.started = self.started or s.at_current is None or self._settled(current, s.at_current)
        if self.started:
            self.seconds += STEP

    def _settled(self, current: float, tail: float) -> bool:
        self.there.append(current)
        ten = float(np.mean(self.there[-int(600 / STEP) :]))
        self.under = self.under + STEP if ten <= tail else 0.0
        four = self.there[-int(4 * 3600 / STEP) :]
        steady = len(self.there) * STEP >= 36000.0 and max(four) - min(four) <= 0.05 * max(four) and ten <= 1.6 * tail
        return self.under >= 900.0 or steady


def play(s: Scenario, seed: int) -> Played:
    """Play the round; the same seed plays the same."""
    random = np.random.default_rng((seed, 911))
    at = FIRST_DAY + s.begin * 3600.0 + STEP * np.arange(int(s.longest * 3600.0 / STEP))
    power, air = available(s.supply, at, random), shed(s.mean, s.swing, at, random)
    cells = Cells(s.recipe, float(air[0]), random)
    clock = HoldClock(s)
    middle = s.blocks // 2 * s.block_cells
    most = s.supply.weak * s.settings[-1].volts * s.settings[-1].amps
    rows: list[tuple[float, ...]] = []
    strings: list[Array] = []
    left: list[Array] = []
    number, at_top, charged, open_since, volts, over = 0, 0.0, np.zeros(2), False, 0.0, 0.0
    for row, moment in enumerate(at.tolist()):
        hour = (moment - at[0]) / 3600.0
        half = next((part for begin, end, part in s.halves_at if begin <= hour - s.wait < end), None)
        cells.wired[:] = half is None
        if half is not None:
            cells.wired[:, :middle] = half == 0
            cells.wired[:, middle:] = half == 1
        many = s.cells if half is None else (middle if half == 0 else s.cells - middle)
        setting = s.settings[number]
        warmth = float(cells.warmth[cells.wired].mean())
        hottest = float(cells.warmth.max())
        open_since = hottest > 37.8 if open_since else hottest >= 43.3
        share = 0.0 if over > s.overrun or hour < s.wait or open_since else float(power[row])
        aim = setting.volts / s.cells + s.compensation * (warmth - 25.0)
        limit = min(aim, max(2.72, setting.volts / s.cells)) * many
        amps = min(share * setting.amps, most / max(volts, 1.0)) if share else 0.0
        # An inverter lets go of an empty bank.
        asked = amps if amps > 0.0 else -s.supply.load * (volts > 1.75 * many)
        volts, each = cells.step(limit, asked, s.supply.cable, float(air[row]), STEP)
        current = float(each.sum())
        given = max(current, 0.0) * STEP / 3600.0
        if half is None:
            charged += given
        else:
            charged[half] += given
        charge = float(charged.mean() if half is None else charged[half])
        on = amps > 0.0
        if on:
            clock.look(volts / many, current, setting.amps, charge, warmth, half is None)
        held = limit - s.supply.cable * max(current, 0.0)
        if on and half is None and clock.woken and volts >= held - 0.01 * many:
            at_top += STEP / 3600.0
        turned = at_top >= s.raise_after * (number + 1) or hour >= s.raise_at
        if turned and number + 1 < len(s.settings):
            number += 1
        rows.append(
            (
                many,
                volts,
                current,
                hottest,
                air[row],
                held,
                share * setting.amps if on else 0.0,
                s.settings.index(setting),
                clock.seconds,
                not open_since,
                charge,
            )
        )
        strings.append(each)
        left.append(cells.sulfate().mean(axis=(1, 2)))
        if clock.seconds >= s.hold * 3600.0:
            over += STEP / 3600.0
            if over > s.overrun + s.rest:
                break
    columns = np.array(rows, dtype=float).T
    many, volts_, current_, warm, air_, held_, amps_, setting_, hold_, closed_, charge_ = columns
    begin = float(at[0]) + s.wait * 3600.0
    wiring: list[tuple[float, int | None]] = []
    last = 0.0
    for start, end, part in s.halves_at:
        if start > last:
            wiring.append((begin + start * 3600.0, None))
        wiring.append((begin + end * 3600.0, part))
        last = end
    wiring.append((float("inf"), None))
    return Played(
        s,
        at[: len(rows)],
        many,
        volts_,
        current_,
        np.array(strings),
        warm,
        air_,
        held_,
        amps_,
        setting_,
        hold_,
        closed_,
        charge_,
        tuple(wiring),
        np.array(left),
    )
