"""What feeds the bank: settings of a charger, its cable, and when there is power; and the air of the shed."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .plates import Array

DAY = 86_400.0


class Setting(NamedTuple):
    """Of the charger, at its own terminals: volts [V] and amps [A]."""

    volts: float
    amps: float


class Supply(NamedTuple):
    """When there is power, and how much.

    Attributes
    ----------
    hours : tuple of (float, float)
        Generator runs [h of the day]; empty = always.
    sun : float
        What the panels give at noon under a clear sky, over the charger's amps; 0 = no panels.
    cuts : float
        Cuts of some tens of minutes to hours, per day.
    weak : float
        The source's power over what the charger asks at its highest setting; above 1 it never limits.
    load : float
        What draws on the bank while there is no power [A].
    cable : float
        Between charger and bank [ohm].
    """

    hours: tuple[tuple[float, float], ...] = ()
    sun: float = 0.0
    cuts: float = 0.0
    weak: float = 2.0
    load: float = 0.0
    cable: float = 0.001


def available(supply: Supply, at: Array, random: np.random.Generator) -> Array:
    """Share of the charger's amps that there is power for, row by row [0..1]."""
    hour = at / 3600.0 % 24.0
    day = (at // DAY - at[0] // DAY).astype(int)
    share = np.ones(len(at))
    if supply.hours:
        share = np.zeros(len(at))
        for begin, end in supply.hours:
            early = random.normal(0.0, 0.25, day[-1] + 1)[day]
            share = np.where((hour >= begin + early) & (hour < end + early), 1.0, share)
    if supply.sun:
        # Clear-sky course squared off by the tilt of the panels; clouds come and go as spells, not as noise.
        course = np.clip(np.sin(np.pi * (hour - 6.2) / 13.0), 0.0, 1.0) ** 1.2
        step = float(at[1] - at[0])
        cloudy = random.uniform(0.15, 0.85, day[-1] + 1)
        sky = np.ones(len(at))
        row = 0
        while row < len(at):
            under = random.uniform() < cloudy[day[row]]
            length = max(1, int(random.exponential(1500.0 if under else 3000.0) / step))
            sky[row : row + length] = random.uniform(0.12, 0.55) if under else random.uniform(0.9, 1.0)
            row += length
        share = np.minimum(share, supply.sun * course * sky)
    if supply.cuts:
        moment = at[0] + random.exponential(DAY / supply.cuts)
        while moment < at[-1]:
            end = moment + random.uniform(0.3, 4.0) * 3600.0
            share[(at >= moment) & (at < end)] = 0.0
            moment = end + random.exponential(DAY / supply.cuts)
    return np.where(share < 0.02, 0.0, np.minimum(share, 1.0))


def shed(mean: float, swing: float, at: Array, random: np.random.Generator) -> Array:
    """The air around the bank [degC]: warmest at four in the afternoon, and weather that drifts over days."""
    step = float(at[1] - at[0])
    drift = np.cumsum(random.normal(0.0, 1.0, len(at))) * np.sqrt(step / DAY) * 1.5
    back = np.exp(-np.arange(len(at)) * step / (3.0 * DAY))
    weather = drift - np.linspace(0.0, drift[-1], len(at)) * (1.0 - back)
    air: Array = mean + swing * np.cos(2.0 * np.pi * (at / DAY - 16.0 / 24.0)) + np.clip(weather, -6.0, 6.0)
    return air
