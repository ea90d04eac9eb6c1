"""What a bank's meters make of a round: steps, gains, drift, late and lost and repeated samples, silence."""

from __future__ import annotations

import numpy as np

from tests.bench.simulated_bank.sensors import Samples, Sensors

from .plates import Array
from .play import STEP, Played


def stepped(values: Array, step: float) -> Array:
    """As shown by a display that drops what is under its last digit (half up)."""
    shown: Array = np.floor(values / step + 0.5) * step if step > 0.0 else values
    return shown


def seen(run: Played, meters: Sensors, seed: int) -> Samples:
    """Look at a round through these meters; the same seed sees the same."""
    random = np.random.default_rng((seed, 4711))
    span = float(run.at[-1] - run.at[0])
    gaps = meters.period * np.clip(1.0 + random.normal(0.0, 0.01, int(span / meters.period)), 0.9, 1.1)
    measured = run.at[0] + np.cumsum(gaps)
    measured = measured[measured < run.at[-1]]
    count = len(measured)
    # Voltage and current jump at a switch and glide between: rows follow each other without interpolation at a jump.
    row = np.clip(((measured - run.at[0]) / STEP).astype(int), 0, len(run.at) - 2)
    part = (measured - run.at[row]) / STEP
    jump = (run.amps[row + 1] != run.amps[row]) | (run.cells[row + 1] != run.cells[row])

    def at_moment(values: Array) -> Array:
        glide = values[row] + part * (values[row + 1] - values[row])
        moved: Array = np.where(jump, values[row], glide)
        return moved

    gain = random.normal(0.0, 0.0015)
    volts = at_moment(run.volts) * (1.0 + gain) + random.normal(0.0, meters.volts_noise, count)
    drift = 0.3 * meters.amps_noise * np.sin(2.0 * np.pi * measured / 86_400.0)
    amps = at_moment(run.current) * (1.0 + random.normal(0.0, 0.008)) + drift + meters.amps_offset
    amps = amps + random.normal(0.0, meters.amps_noise, count)
    shown = np.round(amps * volts) if meters.power else stepped(amps, meters.amps_step)
    lag = np.exp(-STEP / 480.0)
    inside = np.empty(len(run.at))
    level = float(run.temperature[0])
    for index, value in enumerate(run.temperature.tolist()):
        level = lag * level + (1.0 - lag) * value
        inside[index] = level
    warm = stepped(at_moment(inside) + random.normal(0.0, 0.1, count), meters.temperature_step)
    air = stepped(at_moment(run.ambient) + random.normal(0.0, 0.1, count), meters.temperature_step)
    if not meters.temperature:
        warm, air = np.full(count, np.nan), np.full(count, np.nan)
    arrives = measured + random.gamma(2.0, 0.15, count)
    keep = random.uniform(size=count) >= meters.lost
    if meters.outages:
        for begin in run.at[0] + span * random.uniform(size=random.poisson(meters.outages * span / 86_400.0)):
            keep &= (measured < begin) | (measured > begin + min(random.exponential(2400.0), 5400.0))
    late = random.uniform(size=count) < meters.late
    arrives = arrives + np.where(late, random.exponential(60.0, count), 0.0)
    again = np.flatnonzero(keep & (random.uniform(size=count) < meters.twice))
    came = np.concatenate([np.flatnonzero(keep), again])
    when = np.concatenate([arrives[keep], arrives[again] + random.uniform(0.1, 30.0, len(again))])
    order = np.argsort(when, kind="stable")
    came = came[order]
    return Samples(
        when[order], measured[came], stepped(volts, meters.volts_step)[came], shown[came], warm[came], air[came]
    )
