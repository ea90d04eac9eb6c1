"""Cells on the wire: their state, and one step of it with a charger that limits volts and amps."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from . import plates
from .plates import Array


class Recipe(NamedTuple):
    """What a bank is made of and what has become of it.

    Attributes
    ----------
    strings, cells : int
        In parallel and in series.
    capacity : float
        Of a string when it was new [Ah].
    contact : float
        Share of the negative plates' material that the current still reaches when the round begins [1].
    reach : float
        Share that it can ever reach again [1]; the rest is shed or cut off for good.
    grow : float
        Share newly reached per share charged [1]; below about one the current eats its crystals up and stalls.
    crust : float
        How many times worse the contact's resistance is while it is only spots; gone at some percent of the plate [1].
    sizes, speeds : tuple of float
        Shares of the sulfate by crystal size, and three times the surface's speed over the radius [1/h].
    charged : float
        Share that is no sulfate when the round begins [1].
    gas : float
        Gassing against new plates without antimony's ageing [1].
    leak : float
        Conductance through dirt and moss in every cell, per Ah of capacity [S/Ah].
    uneven, apart : float
        Spread of `contact` from cell to cell (log), and its ratio from string to string.
    shorts : tuple of tuple
        String, cell and conductance [S] of each short.
    dead_strings : tuple of int
        Strings whose reach is no more than their contact.
    loss : float
        Heat lost per kelvin and Ah of a cell [W/(K Ah)].
    """

    strings: int = 1
    cells: int = 12
    capacity: float = 200.0
    contact: float = 0.004
    reach: float = 0.9
    grow: float = 1.6
    crust: float = 3.0
    sizes: tuple[float, ...] = (0.72, 0.18, 0.1)
    speeds: tuple[float, ...] = (2.5, 0.8, 0.12)
    charged: float = 0.04
    gas: float = 0.7
    leak: float = 0.0006
    uneven: float = 0.35
    apart: float = 1.0
    shorts: tuple[tuple[int, int, float], ...] = ()
    dead_strings: tuple[int, ...] = ()
    loss: float = 0.004


class Cells:
    """The state, changed in place: `step` is called some ten thousand times a round."""

    def __init__(self, recipe: Recipe, warmth: float, random: np.random.Generator) -> None:
        self.recipe = recipe
        shape = (recipe.strings, recipe.cells)
        both = (2, *shape)
        self.capacity = recipe.capacity * np.exp(random.normal(0.0, 0.03, shape))
        order = recipe.apart ** np.arange(recipe.strings)
        spread = np.exp(random.normal(0.0, recipe.uneven, both)) * order[None, :, None]
        spread[0] *= 2.5  # positives are reached more easily than negatives (common practice, no source)
        self.reach = np.clip(recipe.reach * np.exp(random.normal(0.0, 0.04, both)), 0.002, 0.98)
        self.reach = np.maximum(self.reach, 1.1 * recipe.contact)
        for string in recipe.dead_strings:
            self.reach[:, string] = np.minimum(self.reach[:, string], 0.02)
        self.contact = np.minimum(recipe.contact * spread, 0.9 * self.reach)
        sizes = np.array(recipe.sizes) / sum(recipe.sizes)
        sulfate = (self.capacity * self.reach * (1.0 - recipe.charged))[..., None] * sizes
        near = (self.contact / self.reach)[..., None]
        self.connected = sulfate * near
        self.crystals = self.connected.copy()
        self.hidden = sulfate * (1.0 - near)
        self.speeds = np.array(recipe.speeds)
        self.water = 0.0083 * self.capacity  # kg: 13 g of acid per Ah (source 4: 2.6 kg in 200 Ah), a third of it acid
        weak = 5.6 - plates.ACID * self.capacity * (1.0 - recipe.charged) / self.water
        self.pores = np.repeat(np.maximum(weak, 0.3)[None], 2, axis=0)
        self.top = 0.97 * np.maximum(weak, 0.3)
        self.bottom = 1.03 * np.maximum(weak, 0.3)
        self.leak = recipe.leak * self.capacity * np.exp(random.normal(0.0, 0.4, shape))
        self.short = np.zeros(shape)
        for string, cell, conductance in recipe.shorts:
            self.short[string, cell] = conductance
        self.ageing = recipe.gas * np.exp(random.normal(0.0, 0.15, shape))
        self.over = np.zeros(both)
        self.warmth = np.full(shape, warmth)
        self.wired = np.ones(shape, dtype=bool)
        self.charging = np.zeros(both)
        self.gassing = np.zeros(both)
        self.resistance = np.zeros(shape)

    def sulfate(self) -> Array:
        """Sulfate on each plate that current can ever reach [Ah]."""
        left: Array = (self.crystals + self.hidden).sum(axis=-1)
        return left

    def step(self, limit: float, amps: float, cable: float, air: float, seconds: float) -> tuple[float, Array]:
        """Charge for so long: volts at the bank and each string's amps.

        The charger holds `limit` at its own terminals and gives `amps` at most; the `cable` [ohm] is in between. With
        `amps` zero or less it is off, and a load draws what `amps` says.
        """
        hours = seconds / 3600.0
        warmer = self.warmth - 25.0
        acid = 0.5 * self.pores.mean(axis=0) + 0.25 * (self.top + self.bottom)
        rest = plates.equilibrium(self.pores)
        # 0.2 mV per kelvin and cell (from memory).
        rest[0] += 0.0002 * warmer
        stirred = 1.0 + 0.6 * self.gassing[1] / (self.gassing[1] + 0.01 * self.capacity)
        speed = plates.solubility(self.pores) * np.exp(plates.DISSOLVE_HEAT * warmer) * stirred
        rates = self.speeds * speed[..., None]
        room = plates.ceiling(self.crystals, self.connected, rates) + 1e-6
        exchange = plates.EXCHANGE * self.capacity * self.contact * np.exp(0.05 * warmer)
        # Sulfate covers what could make gas, but never all of it: bare grid stays.
        bare = 0.25 + 0.75 * self.contact
        at_rest = plates.GAS_AT_REST / 100.0 * self.capacity * self.ageing * np.exp(plates.GAS_HEAT * warmer) * bare
        gas = at_rest * np.exp((rest - plates.GAS_AT) / plates.GAS_SLOPE)
        full = np.clip((self.capacity * self.contact - self.crystals.sum(axis=-1)) / (0.05 * self.capacity), 0.0, 1.0)
        film = (1.0 + self.recipe.crust * np.exp(-self.contact / 0.05)) / self.contact
        film = 0.5 * plates.PLATE_SHARE * film.sum(axis=0)
        liquid = (1.0 - plates.PLATE_SHARE) / plates.conductance(acid) * np.exp(-0.015 * warmer)
        self.resistance = plates.RESISTANCE / self.capacity * (film + liquid)
        layer = plates.LAYER * self.capacity * (0.05 + self.contact) / hours
        leak = self.leak + self.short
        before, over = self.over, self.over.copy()
        volts = 0.0
        for _ in range(12):
            charging, gassing, slope = plates.kinetics(over, exchange, room, gas, full)
            flow = charging + gassing + layer * (over - before)
            slope = slope + layer + 1e-6
            base = (rest + over - flow / slope).sum(axis=0)
            steep = (1.0 / slope).sum(axis=0) + self.resistance
            share = 1.0 + leak * steep
            base_string = np.where(self.wired, base / share, 0.0).sum(axis=1)
            steep_string = np.where(self.wired, steep / share, 0.0).sum(axis=1)
            pull = (base_string / steep_string).sum()
            ease = (1.0 / steep_string).sum()
            volts = (amps + pull) / ease
            if amps > 0.0 and volts + cable * amps > limit:
                volts = (limit + cable * pull) / (1.0 + cable * ease)
                # A charger does not draw: over its limit it gives nothing.
                if volts * ease - pull < 0.0:
                    volts = pull / ease
            strings = (volts - base_string) / steep_string
            through = (np.where(self.wired, strings[:, None], 0.0) - leak * base) / share
            move = np.minimum(np.maximum((through - flow) / slope, -0.08), 0.08)
            over += move
            if float(np.abs(move).max()) < 1e-4:
                break
        np.clip(over, -2.2, 1.5, out=over)
        charging, gassing, _ = plates.kinetics(over, exchange, room, gas, full)
        self._after(charging, gassing, room, rates, hours)
        self._heat(through, over, rest, leak, air, seconds)
        self.over, self.charging, self.gassing = over, charging, gassing
        return float(volts), strings

    def _after(self, charging: Array, gassing: Array, room: Array, rates: Array, hours: float) -> None:
        """Crystals shrink, contact spreads, acid moves."""
        used = np.maximum(charging, 0.0) / room
        melted = rates * np.cbrt(self.connected * self.crystals * self.crystals) * (used * hours)[..., None]
        self.crystals = np.maximum(self.crystals - melted, 0.0)
        back = np.maximum(-charging, 0.0) * hours
        self.crystals[..., 0] += back
        self.connected[..., 0] += back
        left = np.maximum(self.reach - self.contact, 1e-9)
        spread = self.recipe.grow * np.maximum(charging, 0.0) * hours / self.capacity
        spread = spread * np.minimum(left / (0.25 * self.reach), 1.0)
        spread = np.minimum(spread, 0.5 * left)
        moved = self.hidden * (spread / left)[..., None]
        self.contact = self.contact + spread
        self.connected = self.connected + moved
        self.crystals = self.crystals + moved
        self.hidden = self.hidden - moved
        # Acid: half a mole per faraday at either plate; pores exchange with the free acid in about 40 minutes, the
        # dense acid sinks, and gas (or days) mix top and bottom (rates from memory).
        pore, free = 0.15 * self.water, 0.35 * self.water
        self.pores = self.pores + 0.5 * plates.ACID * charging * hours / pore
        leaves = (self.pores - 0.5 * (self.top + self.bottom)) * np.minimum(1.5 * hours, 0.5)
        self.pores = np.maximum(self.pores - leaves, 0.05)
        given = leaves.sum(axis=0) * 0.15 / 0.35
        down = np.where(given > 0.0, 0.75, 0.5)
        self.bottom = self.bottom + down * given
        self.top = self.top + (1.0 - down) * given
        lost = 0.000336 * gassing.mean(axis=0) * hours
        mixed = (self.bottom - self.top) * np.minimum((0.01 + 25.0 * gassing[1] / self.capacity) * hours, 0.4)
        concentrate = 1.0 + lost / (2.0 * free)
        self.bottom = (self.bottom - mixed) * concentrate
        self.top = (self.top + mixed) * concentrate
        self.water = self.water - lost

    def _heat(self, through: Array, over: Array, rest: Array, leak: Array, air: float, seconds: float) -> None:
        """Heat of overpotential, resistance, gas and leaks, against the air around."""
        cell = (rest + over).sum(axis=0) + self.resistance * through
        charging = 0.5 * self.charging.sum(axis=0)
        gassing = 0.5 * self.gassing.sum(axis=0)
        watts = through * cell - charging * rest.sum(axis=0) * 0.99 - gassing * 1.481 + leak * cell * cell
        # 50 J/K per Ah: acid, lead and case of a 200 Ah block by parts.
        heat = 50.0 * self.recipe.capacity
        # One case around three cells, then neighbours.
        near = self.warmth.reshape(self.recipe.strings, -1, 3).mean(axis=2).repeat(3, axis=1)
        flow = self.recipe.loss * self.recipe.capacity * (air - self.warmth) + 4.0 * (near - self.warmth)
        self.warmth = self.warmth + (watts + flow) * seconds / heat
