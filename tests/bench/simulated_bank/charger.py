"""What feeds the simulated bank: charger settings, and when there is power for them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from tests.bench.simulated_bank.chemistry import Array

DAY = 86_400.0


class Setting(NamedTuple):
    """Volts [V] and amps [A] at the bank."""

    volts: float
    amps: float


class Supply(NamedTuple):
    """Power over the day.

    Attributes
    ----------
    kind : str
        ``continuous``, ``generator`` (off at night), ``solar`` (sun and clouds) or ``cuts`` (now and then none).
    start, stop : float
        Generator or sun hours [h of the day].
    load : float
        What an inverter draws while there is no power [A].
    """

    kind: str = "continuous"
    start: float = 7.0
    stop: float = 22.0
    load: float = 0.0


def available(supply: Supply, at: Array, random: np.random.Generator) -> Array:
    """Share of the charger's amps that there is power for, at each moment [s since the epoch] -> [0..1]."""
    share = np.ones(len(at))
    day = np.floor(at / DAY).astype(int)
    hour = at / 3600.0 % 24.0
    first = day[0]
    days = int(day[-1] - first) + 1
    if supply.kind == "generator":
        begin = supply.start + random.normal(0.0, 0.3, days)
        end = supply.stop + random.normal(0.0, 0.4, days)
        share = ((hour >= begin[day - first]) & (hour < end[day - first])).astype(float)
    elif supply.kind == "solar":
        height = np.sin(np.pi * np.clip((hour - supply.start) / (supply.stop - supply.start), 0.0, 1.0))
        overcast = random.beta(1.2, 2.0, days)[day - first]
        step = float(np.median(np.diff(at)))
        keep = np.exp(-step / 900.0)
        cloud = np.empty(len(at))
        level = 0.0
        for index, kick in enumerate(random.normal(0.0, np.sqrt(1.0 - keep * keep), len(at))):
            level = keep * level + kick
            cloud[index] = level
        shade = 1.0 - overcast * (0.35 + 0.65 / (1.0 + np.exp(-3.0 * cloud)))
        share = np.clip(1.6 * height * shade, 0.0, 1.0)  # the array is larger than the charger
        share[share < 0.02] = 0.0
    elif supply.kind == "cuts":
        moment = at[0] + random.exponential(10.0) * 3600.0
        while moment < at[-1]:
            end_of_cut = moment + random.uniform(0.2, 3.0) * 3600.0
            share[(at >= moment) & (at < end_of_cut)] = 0.0
            moment = end_of_cut + random.exponential(18.0) * 3600.0
    return share


def weather(at: Array, mean: float, swing: float, random: np.random.Generator, *, warmest: float = 15.0) -> Array:
    """Air in the room [degC]: a daily wave of `swing` [K] about `mean` [degC], warmest at `warmest` [h], wandering."""
    days = at / DAY
    air = mean + swing * np.cos(2.0 * np.pi * (at / 3600.0 - warmest) / 24.0)
    for period in (1.7, 3.1, 5.3):
        air = air + random.normal(0.0, 0.5) * np.sin(2.0 * np.pi * (days / period + random.uniform()))
    return np.asarray(air)
