"""What a household's meters make of what happened: gains, steps, noise, lag, losses, silence, and meters that lie."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .priors import CASE_SHOWS
from .wire import Array
from .world import OFF, Lived

#: From so long on a gap is a silence in which it may be cut [s]; a slow meter's is three of its periods.
SILENCE = 600.0
#: A charger that runs must be cut when all its meters have been silent for so long [s]. In a real outage, ten minutes
#: at least, it may be cut at any time.
SILENCE_DEMANDS = 3600.0


class Seen(NamedTuple):
    """Samples in order of arrival.

    `at` arrival and `measured` [s since the epoch]; `values` by meter name in canonical units, nan = not sent;
    `outages` begin and end of each silence, of the broker or by lost samples [s since the epoch].
    """

    at: Array
    measured: Array
    values: dict[str, Array]
    outages: tuple[tuple[float, float], ...]


def lagged(values: Array, at: Array, seconds: float) -> Array:
    """What a slow probe shows of a temperature."""
    result = np.empty(len(values))
    level, before = float(values[0]), float(at[0])
    for row, (value, moment) in enumerate(zip(values.tolist(), at.tolist(), strict=True)):
        level += (value - level) * (1.0 - np.exp(-(moment - before) / seconds))
        before = moment
        result[row] = level
    return result


def stepped(values: Array, step: float) -> Array:
    """To the meter's last digit."""
    return np.round(values / step) * step


def look(lived: Lived) -> Seen:
    """See a round as the household does; the same round is seen the same."""
    drawn, m, h = lived.round, lived.round.meters, lived.round.hazard
    random = np.random.default_rng((drawn.seed, 3_131))
    count = int((lived.at[-1] - lived.at[0]) / m.period)
    measured = lived.at[0] + m.period * (np.arange(count) + random.uniform(0.0, 0.05, count))
    row = np.clip(np.searchsorted(lived.at, measured, side="right") - 1, 0, len(lived.at) - 2)
    part = (measured - lived.at[row]) / np.maximum(lived.at[row + 1] - lived.at[row], 1e-6)
    jump = lived.mode[row + 1] != lived.mode[row]
    part = np.where(jump, 0.0, np.clip(part, 0.0, 1.0))

    def moment(values: Array) -> Array:
        glide: Array = values[row] + part * (values[row + 1] - values[row])
        return glide

    volts_true = moment(lived.at_charger if m.at_charger else lived.volts)
    current_true = moment(lived.current)
    volts = volts_true * m.volts_gain + random.normal(0.0, m.volts_noise, count)
    amps = current_true * m.amps_gain + m.amps_offset
    amps = amps + random.normal(0.0, 1.0, count) * (m.amps_noise * np.abs(current_true) + 0.3 * m.amps_step)
    reached = lived.air + CASE_SHOWS * (lived.probed - lived.air) if m.on_case else lived.probed
    probe = lagged(reached, lived.at, m.probe_lag)
    warm = moment(probe) + random.normal(0.0, 0.06, count)
    begin = next((event[1] for event in lived.events if event[0] == h.kind), np.inf)
    gone = measured >= begin
    if h.kind == "swapped":
        amps = np.where(gone, -amps, amps)
    elif h.kind == "drifting":
        grown = np.clip((measured - begin) / 36_000.0, 0.0, 1.0) if np.isfinite(begin) else np.zeros(count)
        amps = amps + grown * h.size * drawn.make.capacity * drawn.make.strings * 0.1
    volts, amps = stepped(volts, m.volts_step), stepped(amps, m.amps_step)
    warm = stepped(warm, m.probe_step)
    if h.kind == "stuck" and gone.any():
        first = int(np.argmax(gone))
        held = {"voltage": volts, "current": amps, "temperature": warm}[h.quantity]
        held[first:] = held[first]
    values = {"voltage": volts}
    if m.power:
        values["power"] = np.round(volts * amps)
    else:
        values["current"] = amps
    if m.probe:
        values["electrolyte_temperature"] = warm
    if m.ambient:
        values["ambient_temperature"] = stepped(moment(lived.air) + random.normal(0.0, 0.1, count), m.probe_step)
    if m.blocks:
        for number in range(drawn.make.blocks):
            gain = 1.0 + random.normal(0.0, 0.003)
            shown = moment(lived.blocks[:, number]) * gain + random.normal(0.0, 0.01, count)
            values[f"block_voltage:A{number + 1}"] = stepped(shown, max(m.volts_step, 0.01))
    elif m.midpoint and drawn.make.blocks % 2 == 0:
        half = moment(lived.blocks[:, : drawn.make.blocks // 2].sum(axis=1))
        shown = half * (1.0 + random.normal(0.0, 0.003)) + random.normal(0.0, 0.01, count)
        values["midpoint_voltage"] = stepped(shown, m.volts_step)
    if m.strings:
        for number in range(drawn.make.strings):
            gain = m.amps_gain + random.normal(0.0, 0.01)
            shown = moment(lived.strings[:, number]) * gain + random.normal(0.0, 0.3 * m.amps_step, count)
            values[f"string_current:{number + 1}"] = stepped(shown, m.amps_step)
    keep = random.uniform(size=count) >= m.loss
    silences = []
    if m.outages:
        when = lived.at[0] + random.exponential(86_400.0 / m.outages)
        while when < lived.at[-1]:
            length = float(np.exp(random.uniform(np.log(600.0), np.log(3.0 * 3600.0))))
            keep &= (measured < when) | (measured > when + length)
            silences.append((float(when), float(when + length)))
            when += length + random.exponential(86_400.0 / m.outages)
    arrives = measured + random.uniform(0.02, 0.4, count)
    arrives = arrives + np.where(random.uniform(size=count) < m.late, random.exponential(40.0, count), 0.0)
    rows = np.flatnonzero(keep)
    rows = rows[np.argsort(arrives[rows], kind="stable")]
    # Samples lost in a row are a silence as well: nobody who hears nothing can tell why.
    heard = arrives[rows]
    quiet = np.flatnonzero(np.diff(heard) >= max(SILENCE, 3.0 * m.period))
    gaps = [(float(heard[n]), float(heard[n + 1])) for n in quiet]
    silences += [gap for gap in gaps if not any(gap[0] < end and begin < gap[1] for begin, end in silences)]
    return Seen(arrives[rows], measured[rows], {name: shown[rows] for name, shown in values.items()}, tuple(silences))


def charging_at(lived: Lived, at: float) -> bool:
    """Whether the charger was on."""
    row = min(max(int(np.searchsorted(lived.at, at, side="right")) - 1, 0), len(lived.at) - 1)
    return bool(lived.mode[row] != OFF)
