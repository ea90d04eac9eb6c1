"""What will not revive: hours at the ceiling without growth, and a bank that swallows everything."""

from __future__ import annotations

from datetime import UTC, datetime

from rules.bank import Bank
from rules.observation import Observation
from rules.phase_charger import expected_current
from rules.phase_memory import PhaseMemory

#: Charging time at the ceiling without growth [s].
NOT_REVIVING, HOPELESS = 24 * 3600.0, 96 * 3600.0
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
    if memory.woken or memory.phase != "waking":
        return _swallowing(bank, memory, observation)
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


def _swallowing(bank: Bank, memory: PhaseMemory, observation: Observation) -> PhaseMemory:
    """Full charger current for far longer than the bank can hold, and the voltage does not move: a shorted cell."""
    track = memory.track
    bins = track.bins
    moving = len(bins) < 36 or bins[-1].volts > bins[0].volts + 0.006
    if memory.phase == "bulk" and observation.charge >= 1.6 * bank.capacity and not moving and track.volts < 2.35:
        since = track.stuck_since if memory.hopeless and track.stuck_since is not None else observation.at
        finding = (
            f"since {_clock(since)}: {observation.charge:.0f} Ah have gone into {bank.capacity:.0f} Ah and the voltage "
            f"stays at {track.volts:.2f} V per cell; a shorted cell or string is likely"
        )
        return memory._replace(hopeless=True, finding=finding, track=track._replace(stuck_since=since))
    if memory.phase != "bulk" or moving:
        return memory._replace(stuck_seconds=0.0, not_reviving=False, hopeless=False, finding="")
    return memory


def _clock(at: float) -> str:
    return datetime.fromtimestamp(at, UTC).strftime("%Y-%m-%d %H:%M UTC")
