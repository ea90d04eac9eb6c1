"""A simulated bank on a simulated charger: one whole revival, with what really happened kept apart.

Seeded and repeatable. It exists for the demo's recording, for rehearsing the relay and for judging the estimates; the
rules never see it, and it is not the model that they assume.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.bench.simulated_bank.charger import Setting, Supply, available, weather
from tests.bench.simulated_bank.chemistry import Array, Cells, advance, joined, part, rest_curve


class Scenario(NamedTuple):
    """One kind of round.

    Attributes
    ----------
    strings, blocks, block_cells, capacity
        Arrangement; capacity of a block [Ah].
    settings : tuple of Setting
        In the order in which the owner uses them.
    raise_after : float
        The owner turns to the next setting after so long at the ceiling with a woken bank [h].
    equalise, compensation
        [V per cell], [V/K per cell].
    hold, at_current : float, float or None
        Hold [h]; tail current that starts it [A], ``None`` starts it at voltage.
    free : float
        Share of the plates' surface not sealed at the start; 1 is a healthy empty bank.
    hard, lost, charged : float
        Shares of the rating: old crystals, beyond recovery, still charged.
    wake_rate, dissolve_rate : float
        How fast the surface frees itself and crystals dissolve [1/h].
    push, feed : float
        What frees the surface: overpotential, and the current that already flows.
    acceptance : float
        How strongly a nearly full cell resists [ohm Ah].
    free_most : float
        Share of the surface that can ever be freed; close to `free` it is hopeless.
    gas : float
        [A per 100 Ah] at 2.23 V per cell and 25 degC.
    spread : float
        Relative spread from cell to cell.
    laggard : float
        Strings wake so much later than the first: divides `free` of the later strings.
    dead_string, shorted : bool
        The last string is open; one cell of the first string has a short.
    short : float
        How well that short conducts [S per Ah]: 4 is a metal bridge, 0.02 leaves the cell at about two volts.
    poison : float
        Antimony on the negative plates: how fast their gassing current grows [1/h].
    halves : float
        Each half of the blocks is woken alone on half the volts for so long before the bank is joined [h].
    packed : float
        Cooling of a block [W/K]; 2.5 alone, 1.2 packed.
    ambient, swing : float
        [degC], [K].
    supply : Supply
    overrun : float
        Nobody opens the relay until so long after the hold [h].
    wait, rest, longest : float
        Before the charger starts, after the hold, and at most in all [h].
    """

    strings: int = 1
    blocks: int = 4
    block_cells: int = 3
    capacity: float = 200.0
    settings: tuple[Setting, ...] = (Setting(30.96, 20.0),)
    raise_after: float = 6.0
    equalise: float = 2.58
    compensation: float = 0.0
    hold: float = 16.0
    at_current: float | None = None
    free: float = 0.00035
    hard: float = 0.25
    lost: float = 0.05
    charged: float = 0.05
    wake_rate: float = 0.6
    dissolve_rate: float = 0.05
    push: float = 0.12
    feed: float = 14.0
    acceptance: float = 0.28
    free_most: float = 1.0
    gas: float = 0.014
    spread: float = 0.08
    laggard: float = 1.0
    dead_string: bool = False
    shorted: bool = False
    short: float = 4.0
    poison: float = 0.0
    halves: float = 0.0
    packed: float = 1.6
    ambient: float = 18.0
    swing: float = 4.0
    supply: Supply = Supply()
    overrun: float = 0.0
    wait: float = 0.3
    rest: float = 3.0
    longest: float = 240.0

    @property
    def cells(self) -> int:
        """Cells in series."""
        return self.blocks * self.block_cells


class Run(NamedTuple):
    """What happened, free of any meter's error; one row per step.

    Units: [s since the epoch], [V], [A], [degC]; `limit` and `amps` are the charger's ceiling [V, A] with `amps` 0
    where it was off; `hold` [s] is the hold clock as the row begins; `closed` tells whether the relay let the charger
    run; `charge` [Ah] is what the cells now in the circuit were given.
    """

    scenario: Scenario
    at: Array
    strings: Array
    blocks: NDArray[np.float32]
    ambient: Array
    volts: Array
    current: Array
    temperature: Array
    limit: Array
    amps: Array
    setting: Array
    hold: Array
    closed: Array
    charge: Array

    @property
    def cells(self) -> Array:
        """Cells in series at each moment: half of them while the halves are woken one by one."""
        s = self.scenario
        whole = self.at - self.at[0] >= (s.wait + 2.0 * s.halves) * 3600.0
        return np.where(whole | (s.halves == 0.0), s.cells, s.cells // 2).astype(float)


def build(scenario: Scenario, random: np.random.Generator, temperature: float) -> Cells:
    """Make the cells of a bank, each a little different."""
    s = scenario
    shape = (s.strings, s.cells)

    def about(value: float, spread: float = s.spread) -> Array:
        return value * np.exp(random.normal(0.0, spread, shape) - spread * spread / 2.0)

    capacity = np.full(shape, s.capacity)
    free = np.minimum(about(s.free, 1.5 * s.spread), 1.0)
    free[1:] /= s.laggard
    hard = np.clip(about(s.hard), 0.0, 0.9) * capacity
    lost = np.clip(about(s.lost), 0.0, 0.9) * capacity
    active = np.clip(about(s.charged), 0.005, 1.0) * capacity
    soft = np.maximum(capacity - hard - lost - active, 0.02 * capacity)
    short = np.zeros(shape)
    if s.shorted:
        short[0, int(random.integers(s.cells))] = s.short * s.capacity
    lead = np.full(s.strings, 0.004)
    if s.dead_string:
        lead[-1] = 1e5
    curve = rest_curve(1.265)
    # Blocks in the middle of a row cool less than those at its ends.
    row = np.repeat(np.linspace(-1.0, 1.0, s.blocks), s.block_cells)
    cooling = s.packed / s.block_cells * s.capacity / 200.0 * (0.9 + 0.25 * row * row)
    return Cells(
        capacity=capacity,
        gravity_full=1.265,
        gas=about(s.gas) * s.capacity / 100.0,
        wake_rate=about(s.wake_rate),
        dissolve_rate=about(s.dissolve_rate),
        push=s.push,
        feed=s.feed,
        free_most=np.clip(np.maximum(about(s.free_most, s.spread / 3.0), free * 1.02), 0.0, 1.0),
        acceptance=about(s.acceptance),
        cooling=np.broadcast_to(cooling, shape).copy(),
        short=short,
        lead=lead,
        active=active,
        soft=soft,
        hard=hard,
        free=free,
        temperature=np.full(shape, temperature),
        fast=np.zeros(shape),
        slow=np.zeros(shape),
        volts=np.interp(active / capacity, np.linspace(0.0, 1.05, 106), curve),
        rest_curve=curve,
    )


def simulate(scenario: Scenario, seed: int, start: float = 1_781_510_400.0, dt: float = 20.0) -> Run:
    """Run one round to its rest, or to `Scenario.longest`.

    Parameters
    ----------
    seed : int
        The same seed gives the same round.
    start : float
        [s since the epoch].
    dt : float
        Step [s].
    """
    s = scenario
    random = np.random.default_rng(seed)
    count = int(s.longest * 3600.0 / dt)
    at = start + dt * np.arange(count, dtype=np.float64)
    share = available(s.supply, at, random)
    air = weather(at, s.ambient, s.swing, random)
    cells = build(s, random, float(air[0]))
    # No charger regulates to the millivolt.
    ripple = 0.008 * np.sin(at / 1100.0 + random.uniform(0.0, 6.0)) + random.normal(0.0, 0.002, count)
    blocks = np.empty((count, s.strings, s.blocks), dtype=np.float32)
    strings = np.empty((count, s.strings))
    columns = np.zeros((9, count))
    control = Control(s)
    end = count
    parts = (part(cells, 0, s.cells // 2), part(cells, s.cells // 2, s.cells)) if s.halves else (cells,)
    circuit = cells
    for index in range(count):
        since = at[index] - start
        if s.halves:
            stage = min(2, int(max(0.0, since / 3600.0 - s.wait) / s.halves))
            if stage == 2 and len(parts) == 2:
                parts = (joined(*parts),)
            if circuit is not parts[stage % 2]:
                circuit = parts[stage % 2]
                control.joined(circuit.volts.shape[1])
        circuit.gas = circuit.gas * (1.0 + s.poison * dt / 3600.0)
        hottest = float(circuit.temperature.max())
        limit, amps = control.source(since, float(share[index]), hottest)
        volts, each = advance(circuit, limit + ripple[index] * control.cells / 12.0, amps, float(air[index]), dt)
        current, held = float(each.sum()), control.hold
        control.seen(volts, current, (limit, amps), hottest, dt)
        strings[index] = each
        across = circuit.volts if len(parts) == 1 else np.hstack([half.volts for half in parts])
        blocks[index] = across.reshape(s.strings, s.blocks, s.block_cells).sum(axis=2)
        columns[:, index] = (
            volts,
            current,
            hottest,
            limit,
            max(amps, 0.0),
            control.setting,
            held,
            not control.open,
            control.charge,
        )
        if control.rested > s.rest * 3600.0:
            end = index + 1
            break
    columns = columns[:, :end]
    return Run(s, at[:end], strings[:end], blocks[:end], air[:end], *columns[:, :end])


class Control:
    """The owner, the charger and the relay of a round that nobody watches: settings, hold clock, heat pause."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.cells = scenario.cells
        self.setting = 0
        self.hold = 0.0
        self.charge = self.aside = 0.0
        self.woken = False
        self.started = scenario.at_current is None
        self.ceiling = 0.0
        self.tail = 0.0
        self.mean = 0.0
        self.recent: list[float] = []
        self.waited = 0.0
        self.means: list[float] = []
        self.done = False
        self.hot = False
        self.pause = 0.0
        self.rested = 0.0

    @property
    def open(self) -> bool:
        """Whether the relay keeps the charger off."""
        return self.rested > self.scenario.overrun * 3600.0 or self.hot

    def joined(self, cells: int) -> None:
        """So many cells in series from now on; what went into each half counts for the whole."""
        whole = cells == self.scenario.cells
        self.charge, self.aside = (0.5 * (self.aside + self.charge), 0.0) if whole else (0.0, self.charge)
        self.cells, self.woken, self.ceiling = cells, False, 0.0

    def source(self, since: float, share: float, hottest: float) -> tuple[float, float]:
        """Ceiling [V] and amps [A] of the source now; amps 0 when off, negative with a load."""
        s = self.scenario
        setting = s.settings[self.setting]
        limit = setting.volts + s.compensation * s.cells * (hottest - 25.0)
        limit = min(limit, max(2.72 * s.cells, setting.volts)) * self.cells / s.cells
        if since < s.wait * 3600.0 or self.open:
            return limit, 0.0
        if share <= 0.0:
            return limit, -s.supply.load
        return limit, share * setting.amps

    def seen(self, volts: float, current: float, source: tuple[float, float], hottest: float, dt: float) -> None:
        """Move the clocks on."""
        s = self.scenario
        limit, amps = source
        if amps > 0.0:
            self.charge += current * dt / 3600.0
        self.woken = (
            self.woken or current >= 0.8 * s.settings[self.setting].amps or self.charge >= 0.5 * s.strings * s.capacity
        )
        at_ceiling = amps > 0.0 and volts >= limit - 0.01 * self.cells
        equalising = s.equalise + s.compensation * (hottest - 25.0)
        at_equalise = amps > 0.0 and volts / self.cells >= min(equalising, max(2.72, s.equalise)) - 0.03
        if at_ceiling and self.woken and self.cells == s.cells and self.setting + 1 < len(s.settings):
            self.ceiling += dt
            if self.ceiling >= s.raise_after * 3600.0:
                self.setting += 1
        if at_equalise and self.woken and not self.started and s.at_current is not None:
            self.recent = [*self.recent[-(round(600.0 / dt) - 1) :], current]
            self.mean = sum(self.recent) / len(self.recent)
            self.tail = self.tail + dt if self.mean <= s.at_current else 0.0
            self.waited += dt
            if self.waited >= 600.0 * (len(self.means) + 1):
                self.means.append(self.mean)
            last = self.means[-24:]
            flat = len(self.means) >= 60 and max(last) <= min(1.05 * min(last), 1.6 * s.at_current)
            self.started = self.tail >= 900.0 or flat
        if at_equalise and self.woken and self.started:
            self.hold += dt
            self.done = self.hold >= s.hold * 3600.0
        if self.done:
            self.rested += dt
        if hottest >= 43.333:
            self.hot, self.pause = True, 0.0
        elif self.hot:
            self.pause += dt
            self.hot = hottest > 37.8 or self.pause < 1800.0
