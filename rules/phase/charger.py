"""What the charger can do: its present ceiling and its current, from the owner's list and from what is seen."""

from __future__ import annotations

from rules.bank import Bank
from rules.phase.memory import Bin, PhaseMemory

#: Only a charger holds a cell above this for long [V] (rest voltage of the strongest acid used is below 2.17 V).
LEAST_CEILING = 2.25


def expected_current(bank: Bank, memory: PhaseMemory) -> float:
    """Charger current known by configuration or learning, else what the strings should be given.

    Parameters
    ----------
    bank : Bank
        As arranged.
    memory : PhaseMemory
        Phase memory.

    Returns
    -------
    float
        Current [A].
    """
    return memory.set_current or max(memory.track.peak, len(bank.strings) * bank.string_current_limit)


def learn_charger(bank: Bank, memory: PhaseMemory, resolution: tuple[float, float]) -> PhaseMemory:
    """Keep ceiling and current up to date.

    The owner's settings are taken in their order: a voltage above the present one means the charger was raised.
    A voltage that stays flat while the current is clearly under the charger's, or moves, is a ceiling; a current that
    stays flat below the ceiling is the charger's current.

    Parameters
    ----------
    bank : Bank
        As arranged.
    memory : PhaseMemory
        Phase memory, this minute already in its track.
    resolution : tuple of float
        Smallest step of voltage per cell [V] and current [A].

    Returns
    -------
    PhaseMemory
        With `ceiling` and `set_current`.
    """
    track = memory.track
    ceiling, amps = memory.ceiling, memory.set_current
    learned, setting, peak = track.learned, track.setting, track.peak
    shift = bank.equalise_at(track.temperature) - bank.equalise
    settings = tuple((charger.volts / bank.cells + shift, charger.amps) for charger in bank.chargers)
    if settings and not ceiling:
        ceiling, amps = settings[setting]
    if ceiling and track.volts > ceiling + 0.02:
        higher = [k for k, (volts, _) in enumerate(settings) if volts > track.volts - 0.015]
        setting = higher[0] if higher else setting
        ceiling, peak, learned = (settings[setting][0] if higher else 0.0), 0.0, False
        amps = settings[setting][1] if higher else amps
    flat = _flat_voltage(track.bins, max(0.006, 1.2 * resolution[0]))
    if flat is not None:
        near = any(abs(flat - volts) < 0.04 for volts, _ in settings)
        hours = 4 if near or (not settings and flat > 2.33) else 18
        limited = amps and track.bins[-1].amps >= 0.95 * amps
        if not limited and _flat_voltage(track.bins, max(0.006, 1.2 * resolution[0]), hours) is not None:
            if abs(flat - ceiling) > 0.012:
                peak = track.bins[-1].amps if ceiling and flat > ceiling else peak
            ceiling, learned = flat, True
    amps = _learn_current(memory, ceiling, amps, resolution[1])
    below = 0.0 if ceiling and track.volts >= ceiling - 0.03 else track.below_seconds + 60.0
    track = track._replace(setting=setting, learned=learned, peak=peak, below_seconds=below)
    return memory._replace(ceiling=ceiling, set_current=amps, track=track)


def _flat_voltage(bins: tuple[Bin, ...], step: float, count: int = 4) -> float | None:
    """Mean of the last ten-minute voltages where they agree, at a level that needs a charger [V]."""
    if len(bins) < count:
        return None
    volts = [piece.volts for piece in bins[-count:]]
    mean = sum(volts) / count
    return mean if max(volts) - min(volts) <= step and mean >= LEAST_CEILING else None


def _learn_current(memory: PhaseMemory, ceiling: float, amps: float, step: float) -> float:
    """A current that stays put below the ceiling is the charger's [A]."""
    bins = memory.track.bins
    if bins and bins[-1].amps > 1.03 * amps > 0.0:
        return bins[-1].amps
    count = 9 if amps else 4
    if len(bins) < count:
        return amps
    recent = [piece.amps for piece in bins[-count:]]
    mean = sum(recent) / count
    drift = abs(sum(recent[-2:]) - sum(recent[:2])) / 2.0
    volts = [piece.volts for piece in bins[-count:]]
    free = max(volts) < (ceiling - 0.04 if ceiling else 2.6) and (ceiling or max(volts) - min(volts) > 0.012)
    if free and drift <= max(0.012 * mean, 0.5 * step) and max(recent) - min(recent) <= max(0.03 * mean, step):
        return mean if mean >= 0.25 * amps and mean > 1.0 else amps
    return amps
