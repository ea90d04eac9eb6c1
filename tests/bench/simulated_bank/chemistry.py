"""What one lead-acid cell does, for the simulated bank only; the rules never import this.

Everything is arrays of shape (strings, cells). Charge is kept in four heaps that always add up to the rated capacity:
`active` (charged), `soft` (fresh sulfate, charges readily), `hard` (old crystals, must dissolve first) and `lost`.
`free` is the share of plate surface that is not sealed by crystals: a nearly sealed cell takes almost no current,
and the surface frees itself faster the more of it is free.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Specific gravity against molality [mol/kg] at 25 degC (CRC Handbook of Chemistry and Physics, 102nd ed.).
_GRAVITY = np.array([1.000, 1.050, 1.100, 1.150, 1.200, 1.250, 1.265, 1.280, 1.300])
_MOLALITY = np.array([0.05, 0.814, 1.722, 2.738, 3.883, 5.179, 5.602, 6.042, 6.659])
#: Gassing current rises 11 per volt and 0.06 per kelvin (Schiffer et al., J. Power Sources 168 (2007) 66).
GAS_PER_VOLT = 11.0
GAS_PER_KELVIN = 0.06
#: Thermoneutral voltage of water [V]: what a gassing ampere does not turn into heat.
WATER_VOLTS = 1.481
#: Heat stored by one cell per ampere-hour of rating [J/(K Ah)]: 30.3 kJ/K for three cells of 200 Ah.
HEAT_PER_AH = 30_300.0 / 3 / 200


def bode(molality: Array) -> Array:
    """Rest voltage [V] of acid at this molality [mol/kg], 25 degC (Bode, Lead-Acid Batteries, Wiley 1977)."""
    x = np.log10(molality)
    return 1.922 + x * (0.148 + x * (0.063 + x * (0.074 + x * 0.034)))


_SHARE = np.linspace(0.0, 1.05, 106)


@dataclass
class Cells:
    """All cells of a bank: what does not change, then what does. Units: Ah, V, degC, ohm Ah, 1/h."""

    capacity: Array
    gravity_full: float
    gas: Array  # A per cell at 2.23 V and 25 degC
    wake_rate: Array  # 1/h
    dissolve_rate: Array  # 1/h
    push: float  # what frees the surface: overpotential,
    feed: float  # and current
    free_most: Array  # share of the surface that can ever be freed
    acceptance: Array  # ohm Ah: how strongly a nearly full cell resists
    cooling: Array  # W/K
    short: Array  # siemens across the plates; 0 where sound
    lead: Array  # ohm in series with each string, shape (strings,)
    active: Array
    soft: Array
    hard: Array
    free: Array
    temperature: Array
    fast: Array  # V, acid gathered at the plates
    slow: Array  # V, surface charge
    volts: Array  # V across each cell
    rest_curve: Array

    def rest_voltage(self) -> Array:
        """Rest voltage from the acid that is out of the plates [V]."""
        return np.interp(self.active / self.capacity, _SHARE, self.rest_curve)


def part(cells: Cells, first: int, last: int) -> Cells:
    """Cells from `first` up to `last` of every string, on their own."""
    values = {field.name: getattr(cells, field.name) for field in fields(cells)}
    return Cells(**{name: value[:, first:last] if _each(value, cells) else value for name, value in values.items()})


def joined(first: Cells, second: Cells) -> Cells:
    """Two parts in series again."""
    pairs = {field.name: (getattr(first, field.name), getattr(second, field.name)) for field in fields(first)}
    whole: dict[str, Any] = {
        name: np.hstack(pair) if _each(pair[0], first) else pair[0] for name, pair in pairs.items()
    }
    return Cells(**whole)


def _each(value: Array | float, cells: Cells) -> bool:
    return np.shape(value) == cells.volts.shape


def rest_curve(gravity_full: float) -> Array:
    """Rest voltage [V] against the charged share of the rating."""
    gravity = 1.05 + (gravity_full - 1.05) * _SHARE
    return bode(np.interp(gravity, _GRAVITY, _MOLALITY))


def advance(cells: Cells, volts: float, amps: float, ambient: float, dt: float) -> tuple[float, Array]:
    """Let the bank live for `dt` [s] on a source that gives at most `volts` [V] and `amps` [A].

    Parameters
    ----------
    volts, amps : float
        Ceiling of the source. ``amps`` 0 is an open relay; negative is a load [V, A].
    ambient : float
        Air [degC].
    dt : float
        Step [s], at most about 30.

    Returns
    -------
    tuple of float and Array
        Bank voltage [V] and current of each string [A].
    """
    c, hours = cells, dt / 3600.0
    capacity = c.capacity
    rest = c.rest_voltage()
    warm = c.temperature - 25.0
    share = c.active / (c.active + c.soft + 1e-6 * capacity)
    full = share / (1.0001 - np.minimum(share, 1.0))
    cold = np.exp(-0.02 * warm)
    ohm = cold * 0.17 / capacity
    open_plate = c.free / (0.13 + 0.87 * c.free) * capacity / cold
    taking = open_plate / (0.12 + c.acceptance * full)
    # An empty plate gives nothing, however well it conducts.
    left = np.clip((c.active / capacity - 0.005) / 0.01, 0.0, 1.0)
    giving = left * open_plate / (0.35 + 0.3 * (1.0 - share) / (share + 0.02))
    inner = rest + c.fast + c.slow
    gas = c.gas * (0.03 + 0.97 * c.free) * np.exp(GAS_PER_KELVIN * np.clip(warm, -50.0, 50.0))
    x = c.volts
    series = ohm.sum(axis=1) + c.lead
    bank = 0.0
    current = np.zeros(len(c.lead))
    # Newton on all cells at once. A string is a chain: linearise every cell, add them up, share between the strings.
    for _ in range(12):
        gassing = gas * np.exp(GAS_PER_VOLT * (x - 2.23))
        conduct = np.where(x > inner, taking, giving)
        flow = conduct * (x - inner) + gassing + c.short * x
        slope = conduct + GAS_PER_VOLT * gassing + c.short
        offset = (x - flow / slope).sum(axis=1)
        resist = series + (1.0 / slope).sum(axis=1)
        bank = (amps + (offset / resist).sum()) / (1.0 / resist).sum()
        if amps > 0.0:
            bank = min(bank, max(volts, (offset / resist).sum() / (1.0 / resist).sum()))
        current = (bank - offset) / resist
        move = np.clip((current[:, None] - flow) / slope, -0.15, 0.15)
        x = x + move
        if np.abs(move).max() < 2e-5:
            break
    gassing = gas * np.exp(GAS_PER_VOLT * (x - 2.23))
    charging = np.where(x > inner, taking, giving) * (x - inner)
    over = x - rest

    c.active = np.clip(c.active + charging * hours, 0.005 * capacity, None)
    c.soft = np.maximum(c.soft - charging * hours, 0.0)
    # Crystals dissolve at their surface, faster where the plate is free, driven and warm.
    arrhenius = np.exp(0.06 * np.minimum(warm, 20.0))
    push = np.clip(over / 0.45, 0.0, 2.0)
    eager = c.push * push + c.feed * np.clip(charging / (0.1 * capacity), 0.0, 1.0)
    c.free = np.minimum(c.free + c.wake_rate * eager * arrhenius * c.free * (1.0 - c.free / c.free_most) * hours, 1.0)
    drive = np.clip(np.exp((x - 2.40) / 0.2), 0.0, 6.0) * (over > 0.03)
    crystals = np.cbrt(c.hard / capacity + 1e-9)
    freed = c.dissolve_rate * c.free * drive * arrhenius * crystals * crystals * 0.8 * capacity * hours
    freed = np.minimum(freed, c.hard)
    c.hard = c.hard - freed
    c.soft = c.soft + freed
    c.fast = c.fast + (0.12 * charging / capacity - c.fast) * (1.0 - np.exp(-dt / 240.0))
    c.slow = c.slow + (0.3 * charging / capacity + 0.2 * np.maximum(over, 0.0) - c.slow) * (1.0 - np.exp(-dt / 3600.0))

    through = current[:, None]
    heat = charging * (x - rest) + gassing * (x - WATER_VOLTS) + c.short * x * x + through * through * ohm
    c.temperature = c.temperature + (heat - c.cooling * (c.temperature - ambient)) * dt / (HEAT_PER_AH * capacity)
    c.volts = x
    return float(bank), current
