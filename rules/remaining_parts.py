"""The stretches of a round that are still to come, each with its hours and how sure they are."""

from __future__ import annotations

import math
from typing import NamedTuple

from rules.bank import Bank
from rules.observation import Observation
from rules.phase_charger import expected_current
from rules.phase_memory import Bin, PhaseMemory

#: Volts per cell at a ten-hour rate and 25 degC [V] against charge still to come before the equalising voltage, as a
#: share of the capacity that is left [1]. Shape of a lead-acid constant-current charge (common practice, no source).
CURVE = (
    (2.00, 1.02), (2.05, 0.95), (2.10, 0.85), (2.15, 0.71), (2.20, 0.54), (2.25, 0.39), (2.30, 0.27), (2.35, 0.18),
    (2.40, 0.12), (2.45, 0.085), (2.50, 0.06), (2.55, 0.04), (2.60, 0.02), (2.64, 0.004),
)  # fmt: skip


class Part(NamedTuple):
    """One stretch: its name for people, hours [h], relative spread (one standard deviation) [1]."""

    name: str
    hours: float
    spread: float


def to_come(volts: float) -> float:
    """Share of capacity still to be charged at this voltage per cell [V] -> [1].

    Examples
    --------
    >>> round(to_come(2.40), 3), to_come(2.7)
    (0.12, 0.004)
    """
    below = CURVE[0]
    for above in CURVE:
        if volts < above[0]:
            if above is below:
                return above[1]
            part = (volts - below[0]) / (above[0] - below[0])
            return below[1] + part * (above[1] - below[1])
        below = above
    return below[1]


def growth_rate(bins: tuple[Bin, ...]) -> tuple[float, float] | None:
    """Logarithmic growth of the current per charging hour [1/h] and its mean slope [A/h] over up to three hours."""
    recent = bins[-18:]
    if len(recent) < 6:
        return None
    third = len(recent) // 3
    first = sum(piece.amps for piece in recent[:third]) / third
    last = sum(piece.amps for piece in recent[-third:]) / third
    hours = (len(recent) - third) / 6.0
    if last <= 1.08 * max(first, 0.0) or last - first < 0.15:
        return None
    return math.log(last / max(first, 0.2 * last)) / hours, (last - first) / hours


def parts(bank: Bank, phase: PhaseMemory, observation: Observation, mean_amps: float) -> tuple[Part, ...] | str:
    """What is still to come, or why nobody can say.

    Parameters
    ----------
    bank : Bank
        As arranged.
    phase : PhaseMemory
        Where it is.
    observation : Observation
        Latest.
    mean_amps : float
        Mean charging current of the last hours [A].

    Returns
    -------
    tuple of Part, or str
        In order of time; or the reason for no number.
    """
    track = phase.track
    if phase.hopeless:
        return f"no hours: {phase.finding}"
    hold = Part("hold", max(0.0, bank.hold.minimum * 3600.0 - phase.hold_seconds) / 3600.0, 0.0)
    if phase.hold_seconds >= bank.hold.minimum * 3600.0 or bank.hold.maximum > bank.hold.minimum:
        spare = max(0.0, bank.hold.maximum - max(bank.hold.minimum, phase.hold_seconds / 3600.0))
        hold = Part("hold", hold.hours + 0.4 * spare, 0.4 * spare / max(0.1, hold.hours + 0.4 * spare))
    if phase.phase == "holding":
        return (hold,)
    current = phase.set_current or expected_current(bank, phase)
    rise = _rise(bank, phase, observation, mean_amps or current)
    if phase.phase in ("waking", "reviving"):
        wake = _waking(phase, current)
        return wake if isinstance(wake, str) else (wake, *rise, hold)
    if track.on_seconds + 60.0 * len(track.bins) < 1200.0:
        return "the charger has only just begun; a first estimate comes in some minutes"
    if phase.phase == "finishing":
        return (*_tail(bank, phase), hold)
    return (*rise, hold)


def _waking(phase: PhaseMemory, current: float) -> Part | str:
    track = phase.track
    growth = growth_rate(track.bins)
    if growth is None:
        if phase.phase == "reviving" and track.amps >= 0.7 * current:
            return Part("reviving", 1.5, 0.7)
        return f"still blocking: {max(track.amps, 0.0):.1f} A at {track.volts:.2f} V per cell, no growth to reckon from"
    rate, slope = growth
    amps = max(track.amps, 0.01 * current)
    exponential = math.log(max(1.0, current / amps)) / rate
    linear = max(0.0, current - amps) / slope
    hours = min(exponential, 0.65 * exponential + 0.35 * linear) + 0.2
    if hours > 240.0:
        return f"still blocking: the current grows by only {slope:.2f} A per hour"
    return Part("waking", hours, 0.6 if phase.phase == "waking" else 0.45)


def _rise(bank: Bank, phase: PhaseMemory, observation: Observation, amps: float) -> tuple[Part, ...]:
    """From now to the equalising voltage."""
    track = phase.track
    target = bank.equalise_at(track.temperature) - 0.03
    amps = max(amps, 0.01 * bank.capacity)
    low_ceiling = 0.0 < phase.ceiling < target
    returned = observation.charge / bank.capacity
    coulomb = max(0.95 - returned, 0.12 + 0.1 * max(0.0, returned - 0.95))
    if phase.phase in ("waking", "reviving"):
        left = max(0.3, coulomb)
        bulk = Part("bulk", left * bank.capacity / amps, 0.35)
    elif phase.phase == "absorbing":
        left, bulk = 0.1, Part("bulk", 0.0, 0.0)
    else:
        seen = track.volts + 0.004 * (track.temperature - 25.0) - 0.5 * (track.amps / bank.capacity - 0.1)
        by_voltage = 0.85 * to_come(seen)
        sure = 1.0 / 0.45**2
        doubt = 1.0 / (0.3 / max(0.15, coulomb)) ** 2
        left = math.exp((sure * math.log(by_voltage) + doubt * math.log(coulomb)) / (sure + doubt))
        bulk = Part("bulk", left * bank.capacity / amps, 1.0 / math.sqrt(sure + doubt))
    if not low_ceiling:
        return (bulk,)
    climb = Part("climb", 0.08 * bank.capacity / max(amps, 0.6 * phase.set_current), 0.6)
    elapsed = (observation.at - phase.since) / 3600.0 if phase.phase == "absorbing" else 0.0
    wait = Part("absorbing", max(2.0, 0.5 * elapsed), 0.8)
    share = max(0.0, 1.0 - to_come(phase.ceiling) / max(left, to_come(phase.ceiling) + 0.01))
    return (bulk._replace(hours=bulk.hours * share), wait, climb)


def _tail(bank: Bank, phase: PhaseMemory) -> tuple[Part, ...]:
    """From the equalising voltage to the tail current."""
    track = phase.track
    tail = bank.hold.tail if bank.hold.tail is not None else 0.03 * bank.capacity
    steady = max(0.0, 10.0 - track.finishing_seconds / 3600.0)
    pieces = track.hold_bins[-9:]
    if track.amps <= tail:
        return (Part("finishing", max(0.0, 0.25 - track.tail_seconds / 3600.0), 0.2),)
    lasting = 3.0
    if len(pieces) >= 4 and pieces[-1] < 0.99 * pieces[0]:
        lasting = min(12.0, (len(pieces) - 1) / 6.0 / math.log(pieces[0] / pieces[-1]))
    hours = lasting * math.log(track.amps / tail) + 0.25
    if track.amps <= 1.6 * tail:
        hours = min(hours, steady + 1.0)
    return (Part("finishing", hours, 0.5),)
