"""The chemistry of the plates: potentials, charging through dissolving crystals, gas on either plate.

Arrays are shaped ``(2, strings, cells)``, positive plates first; crystals have a last axis of classes.
"""

from __future__ import annotations

from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[Any]]

#: mol of acid (and of water, the other way) per ampere-hour of sulfate turned over: one per faraday [mol/Ah].
ACID = 3600.0 / 96485.33
#: Gas at both plates of 100 Ah at 2.23 V per cell, 6 mol/kg and 25 degC [A] (source 2).
GAS_AT_REST = 0.020
#: Per e-fold of current [V]: oxygen 90 mV a decade, hydrogen 120 (both from memory); together 11 per volt (source 2).
GAS_SLOPE = np.array([0.090, 0.120]).reshape(2, 1, 1) / np.log(10.0)
#: Plate potentials at which `GAS_AT_REST` flows [V]: Bode at 6 mol/kg, and the 0.107 V up to 2.23 V shared out.
GAS_AT = np.array([1.734 + 0.050, 0.389 + 0.057]).reshape(2, 1, 1)
#: Gas per kelvin at the same voltage [1/K] (source 2).
GAS_HEAT = 0.06
#: Charging: per e-fold [V]; 60 mV a decade at the positive (source 3), 40 at the negative (from memory).
CHARGE_SLOPE = np.array([0.060, 0.040]).reshape(2, 1, 1) / np.log(10.0)
#: Exchange current of a clean plate over its capacity [1/h] (common size of a reversible porous plate, from memory).
EXCHANGE = np.array([0.010, 0.030]).reshape(2, 1, 1)
#: Double layer and surface oxide [Ah per V and Ah of capacity] (from memory, order only).
LAYER = np.array([0.010, 0.003]).reshape(2, 1, 1)
#: Resistance times capacity on charge [ohm Ah] (source 2), and how much of it is plate, both plates together.
RESISTANCE, PLATE_SHARE = 0.42, 0.6
#: Crystals dissolve about twice as fast 15 K warmer (from memory; activation near 40 kJ/mol).
DISSOLVE_HEAT = 0.045


def equilibrium(molality: Array) -> Array:
    """Potentials of both plates [V] in the acid of their pores, the negative's with its sign turned (source 1)."""
    x, y = np.log10(np.maximum(molality, 0.05))
    positive = 1.628 + x * (0.074 + x * (0.033 + x * (0.043 + x * 0.022)))
    negative = 0.294 + y * (0.074 + y * (0.030 + y * (0.031 + y * 0.012)))
    return np.stack([positive, negative])


def conductance(molality: Array) -> Array:
    """Of the acid against that of 4 mol/kg [1]: poor in weak acid, best near 4 mol/kg (shape from memory)."""
    x = np.maximum(molality, 0.05) / 4.0
    return x**0.8 * np.exp(0.8 * (1.0 - x))


def solubility(molality: Array) -> Array:
    """How well sulfate dissolves in the acid against 2 mol/kg [1]: half as well in full acid (from memory)."""
    return 1.2 / (1.0 + (np.maximum(molality, 0.0) / 4.5) ** 2)


def ceiling(crystals: Array, connected: Array, rate: Array) -> Array:
    """The most current that the crystals in contact can feed [A]: shrinking cores.

    `crystals` and `connected` are the sulfate left and what the same crystals held when whole [Ah]; `rate` [1/h] is
    three times the speed of the surface over the radius.
    """
    left = np.maximum(crystals, 0.0)
    most: Array = (rate * np.cbrt(connected * left * left)).sum(axis=-1)
    return most


def kinetics(over: Array, exchange: Array, limit: Array, gas: Array, full: Array) -> tuple[Array, Array, Array]:
    """Charging and gassing current of each plate and the slope of their sum, at an overpotential [V].

    Charging saturates at what dissolves; discharging fades when nothing charged is left (`full` 0..1).
    """
    steps = over / CHARGE_SLOPE
    up = np.exp(np.minimum(np.maximum(steps, -60.0), 60.0))
    down = full * np.exp(np.minimum(np.maximum(-steps, -60.0), 12.0))
    room = limit / (limit + exchange * up + 1e-12)
    rising = exchange * up * room
    falling = exchange * down
    bubbles = gas * np.exp(np.minimum(np.maximum(over / GAS_SLOPE, -60.0), 40.0))
    slope = (rising * room + falling) / CHARGE_SLOPE + bubbles / GAS_SLOPE
    return rising - falling, bubbles, slope
