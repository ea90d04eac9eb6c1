"""What will not revive: hours at the ceiling without growth, and a bank that swallows everything."""

from __future__ import annotations

from datetime import UTC, datetime

from rules.bank import Bank
from rules.observation import Observation
from rules.phase_charger import expected_current
from rules.phase_memory import BINS, PhaseMemory

#: Charging time at the ceiling without growth [s].
NOT_REVIVING, HOPELESS = 24 * 3600.0, 96 * 3600.0
#: One string fed by the others for this long [s].
HOG = 3600.0
#: Beyond a meter's zero offset [A].
FED = -0.8
#: A very cold bank takes nothing for hours and is not dead for it [degC].
COLD = 10.0


def watch_growth(bank: Bank, memory: PhaseMemory, observation: Observation, seconds: float) -> PhaseMemory:
    """Count charging time at the ceiling in which current does not grow.

    Parameters
    ----------
    bank : Bank
        As arranged.
    memory : PhaseMemory
        Phase memory.
    observation : Observation
        Latest; its ammeter step bounds what can be seen as growth.
    seconds : float
        Length of this minute [s].

    Returns
    -------
    PhaseMemory
        With `stuck_seconds`, `not_reviving`, `hopeless`, `finding`.
    """
    track = memory.track
    at_ceiling = memory.ceiling > 0.0 and track.volts >= memory.ceiling - 0.03
    if memory.woken or memory.phase not in ("waking", "reviving"):
        return _swallowing(bank, memory, observation, seconds)
    if not at_ceiling:
        return memory
    reference = expected_current(bank, memory)
    amps = track.bins[-1].amps if track.bins else track.amps
    floor = min(track.floor, max(amps, 0.0)) if track.blocked_seconds >= 1200.0 else max(amps, 0.0)
    blocked = track.blocked_seconds + (seconds if track.amps < 0.15 * reference else 0.0)
    grown = amps > track.growth + max(0.12 * track.growth, 0.001 * bank.capacity, 0.6 * observation.resolution[1])
    fresh = grown or track.blocked_seconds < 1200.0
    stuck = 0.0 if fresh else memory.stuck_seconds + seconds
    since = track.stuck_since if track.stuck_since is not None and not fresh else observation.at
    track = track._replace(
        floor=floor, blocked_seconds=blocked, growth=amps if fresh else track.growth, stuck_since=since
    )
    late = stuck >= NOT_REVIVING and track.temperature >= COLD
    hopeless = stuck >= HOPELESS and late
    finding = ""
    if late:
        finding = (
            f"since {_clock(since)} at {memory.ceiling:.2f} V per cell for {stuck / 3600.0:.0f} charging hours, "
            f"and the current stays at {max(amps, 0.0):.1f} A"
        )
    return memory._replace(stuck_seconds=stuck, not_reviving=late, hopeless=hopeless, finding=finding, track=track)


def _swallowing(bank: Bank, memory: PhaseMemory, observation: Observation, seconds: float) -> PhaseMemory:
    """A shorted cell: full current for longer than the bank can hold, or one string that the others feed."""
    track = memory.track
    bins, strings = track.bins, observation.strings
    feeding = bool(strings) and min(strings) < FED and max(strings) > 0.8 * track.amps > 1.0
    track = track._replace(hog_seconds=track.hog_seconds + seconds if feeding else 0.0)
    memory = memory._replace(track=track)
    taken = observation.charge - track.entered
    flat = len(bins) == BINS and bins[-1].volts <= bins[0].volts + 0.006
    since = track.stuck_since if memory.hopeless and track.stuck_since is not None else observation.at
    if track.hog_seconds >= HOG:
        number = strings.index(max(strings)) + 1
        why = f"string {number} takes {max(strings):.0f} A and the others feed it; a shorted cell in it is likely"
    elif memory.phase == "bulk" and taken >= 1.6 * bank.capacity and flat and track.volts < 2.35:
        why = (
            f"{taken:.0f} Ah have gone into {bank.capacity:.0f} Ah and the voltage stays at "
            f"{track.volts:.2f} V per cell; a shorted cell or string is likely"
        )
    elif memory.phase == "bulk" and flat and memory.hopeless:
        return memory
    else:
        return memory._replace(stuck_seconds=0.0, not_reviving=False, hopeless=False, finding="")
    finding = f"since {_clock(since)}: {why}"
    return memory._replace(hopeless=True, finding=finding, track=track._replace(stuck_since=since))


def _clock(at: float) -> str:
    return datetime.fromtimestamp(at, UTC).strftime("%Y-%m-%d %H:%M UTC")
