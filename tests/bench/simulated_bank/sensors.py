"""Meters of the simulated bank, from good to bad: what reaches the bus of what happened."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from tests.bench.simulated_bank.chemistry import Array
from tests.bench.simulated_bank.simulate import Run


class Sensors(NamedTuple):
    """How good the meters are.

    Attributes
    ----------
    period : float
        Between samples [s].
    volts_noise, volts_step : float
        At the bank [V]; a step of 0 shows everything.
    amps_noise, amps_step, amps_offset : float
        [A].
    temperature : bool
        Whether there are temperature probes.
    temperature_step : float
        [K].
    power : bool
        The meter shows watts, not amps.
    lost, late, twice : float
        Share of samples that never come, come up to two minutes late, or come twice.
    outages : float
        Spells of up to two hours without any sample, per day.
    """

    period: float = 10.0
    volts_noise: float = 0.005
    volts_step: float = 0.001
    amps_noise: float = 0.03
    amps_step: float = 0.01
    amps_offset: float = 0.0
    temperature: bool = True
    temperature_step: float = 0.1
    power: bool = False
    lost: float = 0.0
    late: float = 0.0
    twice: float = 0.0
    outages: float = 0.0


class Samples(NamedTuple):
    """What arrives, in order of arrival: [s since the epoch] twice, [V], [A or W], [degC], [degC]."""

    at: Array
    measured_at: Array
    volts: Array
    amps: Array
    temperature: Array
    ambient: Array


def quantised(values: Array, step: float) -> Array:
    """Rounded to the meter's smallest step."""
    return np.round(values / step) * step if step > 0.0 else values


def sample(run: Run, sensors: Sensors, seed: int) -> Samples:
    """Look at a round through these meters; the same seed gives the same samples."""
    random = np.random.default_rng((seed, 77))
    count = int((run.at[-1] - run.at[0]) / sensors.period)
    measured = run.at[0] + sensors.period * np.arange(count) + random.uniform(0.0, 0.02 * sensors.period, count)
    row = np.clip(np.searchsorted(run.at, measured, side="right") - 1, 0, len(run.at) - 1)
    volts = quantised(run.volts[row] + random.normal(0.0, sensors.volts_noise, count), sensors.volts_step)
    amps = run.current[row] * (1.0 + random.normal(0.0, 0.002)) + random.normal(0.0, sensors.amps_noise, count)
    amps = quantised(amps + sensors.amps_offset, sensors.amps_step)
    if sensors.power:
        amps = np.round(amps * volts)
    # A probe lags its electrolyte by some minutes.
    step = float(run.at[1] - run.at[0])
    lag = np.exp(-step / 180.0)
    probe = np.empty(len(run.at))
    level = float(run.temperature[0])
    for moment_row, value in enumerate(run.temperature.tolist()):
        level = lag * level + (1.0 - lag) * value
        probe[moment_row] = level
    temperature = quantised(probe[row] + random.normal(0.0, 0.05, count), sensors.temperature_step)
    ambient = quantised(run.ambient[row] + random.normal(0.0, 0.05, count), sensors.temperature_step)
    if not sensors.temperature:
        temperature, ambient = np.full(count, np.nan), np.full(count, np.nan)
    arrival = measured + random.uniform(0.02, 0.3, count)
    keep = random.uniform(size=count) >= sensors.lost
    moment = run.at[0] + (random.exponential(24.0 / sensors.outages) * 3600.0 if sensors.outages else np.inf)
    while moment < run.at[-1]:
        end = moment + random.uniform(0.1, 2.0) * 3600.0
        keep &= (measured < moment) | (measured > end)
        moment = end + random.exponential(24.0 / sensors.outages) * 3600.0
    late = random.uniform(size=count) < sensors.late
    arrival[late] += random.uniform(10.0, 120.0, int(late.sum()))
    index = np.flatnonzero(keep)
    again = index[random.uniform(size=len(index)) < sensors.twice]
    index = np.concatenate([index, again])
    when = np.concatenate([arrival[keep], arrival[again] + 5.0])
    index = index[np.argsort(when, kind="stable")]
    return Samples(np.sort(when), measured[index], volts[index], amps[index], temperature[index], ambient[index])
