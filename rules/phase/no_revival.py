"""What will not revive: hours at the ceiling without growth, a shorted cell, a bank that swallows everything."""

from __future__ import annotations

import math

from rules.bank import Bank
from rules.events import moment
from rules.phase.charger import expected_current
from rules.phase.memory import BINS, WARMTH, PhaseMemory, Track
from rules.phase.observation import Observation
from rules.phase.thresholds import THRESHOLDS as T

#: Charging time at the ceiling without growth [s].
NOT_REVIVING, HOPELESS = 24 * 3600.0, 96 * 3600.0
#: What must be seen for this long to be believed [s].
AN_HOUR = 3600.0
#: Beyond a meter's zero offset [A].
FED = -0.8
#: A very cold bank takes nothing for hours and is not dead for it [degC].
COLD = 10.0
#: Warmth to which currents are brought before they are compared [degC]: growth has to show in the current as it is and
#: in the current brought there.
REFERENCE = 25.0
#: Growth of a current: by a quarter; where nobody measures the electrolyte, more than a day 12 K warmer can explain.
GROWN, GROWN_UNSEEN = 1.25, 2.0
#: No round is longer [h]. A current that grows as fast as its own square, the fastest that waking goes, has 1 / rate to
#: go: a slower pace is not waited for.
LONGEST = 240.0
#: The acid alone: no sound cell that takes charge is under 1.915 V, nor, with half its rating returned, under 1.99 V,
#: even if it was flat to the last and a third of the charge was lost (Bode, Lead-Acid Batteries, Wiley 1977: 1.91 V at
#: a gravity of 1.05, 1.985 V at 1.125; and some 0.02 V of resistance).
ACID, ACID_SLOPE = 1.915, 0.15
#: A living bank is full, with all its gassing, before this many times its rating has gone in [1].
FULL = 1.6


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
    memory = memory._replace(track=_low(bank, memory, observation, seconds))
    track = memory.track
    if track.shorted:
        return memory._replace(not_reviving=True, hopeless=True, finding=track.shorted)
    at_ceiling = memory.ceiling > 0.0 and track.volts >= memory.ceiling - T.below_ceiling.value
    if memory.woken or memory.phase not in ("waking", "reviving"):
        return _swallowing(bank, memory, observation, seconds)
    if not at_ceiling or unseen(memory, observation):
        return memory
    reference = expected_current(bank, memory)
    least = T.growth_least.value * bank.capacity
    recent = [
        piece
        for piece in track.bins[-int(T.growth_pieces.value) :]
        if piece.volts >= memory.ceiling - T.below_ceiling.value
    ]
    amps = sum(piece.amps for piece in recent) / len(recent) if recent else track.amps
    cool = amps * math.exp(WARMTH * (REFERENCE - track.temperature))
    blocked = track.blocked_seconds + (seconds if track.amps < T.blocked_share.value * reference else 0.0)
    latest = max(recent[-1].amps if recent else amps, 0.0)
    floor = min(track.floor, latest) if track.blocked_seconds >= T.floor_after.value else latest
    factor = GROWN if observation.temperature is not None else GROWN_UNSEEN
    step = max(least, T.growth_steps.value * observation.resolution[1])
    stuck = memory.stuck_seconds + seconds
    fresh = len(recent) < T.growth_first.value or track.stuck_since is None
    # What a rested bank takes back in the first hours of a run falls again: that is no growth.
    run = [piece.amps for piece in recent if piece.at > observation.at - track.on_seconds]
    hour = int(T.hour_pieces.value)
    rises = len(run) >= hour and run[-1] >= T.keeps.value * run[-hour]
    if rises and all(now > factor * before + step for now, before in ((amps, track.growth), (cool, track.growth_cool))):
        fresh = fresh or math.log(amps / max(track.growth, least)) >= stuck / 3600.0 / LONGEST
    if fresh:
        stuck = 0.0
        track = track._replace(growth=amps, growth_cool=cool, stuck_since=observation.at)
    # What it fell to is what it has to grow from.
    track = track._replace(
        floor=floor,
        blocked_seconds=blocked,
        growth=max(0.0, min(track.growth, amps)),
        growth_cool=max(0.0, min(track.growth_cool, cool)),
    )
    late = stuck >= NOT_REVIVING and track.temperature >= COLD
    hopeless = stuck >= HOPELESS and late
    finding = ""
    if late:
        finding = (
            f"since {moment(track.stuck_since or observation.at)} at {memory.ceiling:.2f} V per cell for "
            f"{stuck / 3600.0:.0f} charging hours, and the current stays at {latest:.1f} A"
        )
    return memory._replace(stuck_seconds=stuck, not_reviving=late, hopeless=hopeless, finding=finding, track=track)


def unseen(memory: PhaseMemory, observation: Observation) -> str:
    """Return why nothing can be said of a bank's growth: current not read, its sign or its zero wrong; else ''.

    A bank at a charger's voltage cannot give current: what reads below zero there says something of the meter only.
    The same is true of a current that only the charger's limit shows.

    Parameters
    ----------
    memory : PhaseMemory
        Phase memory.
    observation : Observation
        Latest.

    Returns
    -------
    str
        Reason, or empty.

    Examples
    --------
    >>> unseen(PhaseMemory(), Observation(0.0, 2.67, None))
    'no current has been read'
    """
    track = memory.track
    if track.reversed_seconds > 0.0:
        return f"the current reads below zero at {track.volts:.2f} V per cell: its sign is reversed, or its zero is off"
    if not track.current_seen and observation.current is None:
        return "no current has been read"
    recent = track.bins[-int(T.unseen_pieces.value) :]
    if recent and sum(piece.amps for piece in recent) / len(recent) < T.offset_seen.value:
        return "the current meter's zero is off"
    if memory.set_current and track.amps >= T.limited.value * memory.set_current:
        return "the charger is the limit"
    return ""


def watch_response(memory: PhaseMemory, observation: Observation, seconds: float) -> PhaseMemory:
    """Count charging time in which nothing has moved: neither volts, nor amps, nor gravity.

    What a rested bank does in the first hours of a run is no movement; a hold is flat by rights, and has its own clock.

    Parameters
    ----------
    memory : PhaseMemory
        With this minute in its track.
    observation : Observation
        Latest.
    seconds : float
        Length of this minute [s].

    Returns
    -------
    PhaseMemory
        With the track's `still_seconds`.
    """
    track, gained = memory.track, observation.gravity_gained or 0.0
    moved = abs(track.volts - track.still_volts) > T.still_volts.value or abs(track.amps - track.still_amps) > max(
        T.still_amps.value * abs(track.still_amps), observation.resolution[1]
    )
    moved = (moved and track.on_seconds >= T.settles.value) or gained - track.still_gravity > T.still_gravity.value
    if moved or observation.gravity_rising or memory.phase == "holding":
        track = track._replace(still_volts=track.volts, still_amps=track.amps, still_gravity=gained, still_seconds=0.0)
    else:
        track = track._replace(still_seconds=track.still_seconds + seconds)
    return memory._replace(track=track)


def too_low(bank: Bank, track: Track, charge: float) -> bool:
    """Tell whether the voltage under charge is lower than the acid of sound cells alone would make it.

    Parameters
    ----------
    bank : Bank
        As arranged.
    track : Track
        Slow memory.
    charge : float
        Returned since the blocks were joined like this [Ah].

    Returns
    -------
    bool
        A cell gives nothing to the sum.

    Examples
    --------
    Eleven cells at 2.12 V and a shorted one:

    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),))
    >>> too_low(bank, Track(volts=11 * 2.12 / 12, amps=20.0), 80.0), too_low(bank, Track(volts=2.05, amps=20.0), 80.0)
    (True, False)
    """
    returned = charge / bank.capacity
    charges = track.amps >= T.takes_charge.value * bank.capacity and returned >= T.low_returned.value
    return charges and track.volts < ACID + ACID_SLOPE * min(returned, T.low_returned_most.value)


def _low(bank: Bank, memory: PhaseMemory, observation: Observation, seconds: float) -> Track:
    """Take an hour of too low a voltage for a shorted cell, whatever comes after."""
    track = memory.track
    low = track.low_seconds + seconds if too_low(bank, track, observation.charge - track.base) else 0.0
    if low < AN_HOUR or track.shorted:
        return track._replace(low_seconds=low)
    why = (
        f"since {moment(observation.at - low)}: {track.volts:.2f} V per cell while it takes {track.amps:.0f} A is less "
        f"than its acid alone makes; a shorted or reversed cell is likely: measure every block"
    )
    return track._replace(low_seconds=low, shorted=why)


def _swallowing(bank: Bank, memory: PhaseMemory, observation: Observation, seconds: float) -> PhaseMemory:
    """Find a shorted cell: full current for longer than the bank can hold, or one string that the others feed."""
    track = memory.track
    bins, strings = track.bins, observation.strings
    feeding = bool(strings) and min(strings) < FED and max(strings) > T.hogs.value * track.amps > T.hog_least.value
    track = track._replace(hog_seconds=track.hog_seconds + seconds if feeding else 0.0)
    memory = memory._replace(track=track)
    taken = observation.charge - track.entered
    flat = len(bins) == BINS and bins[-1].volts <= bins[0].volts + T.stands.value
    since = track.stuck_since if memory.hopeless and track.stuck_since is not None else observation.at
    if track.hog_seconds >= AN_HOUR:
        number = strings.index(max(strings)) + 1
        why = f"string {number} takes {max(strings):.0f} A and the others feed it; a shorted cell in it is likely"
    elif memory.phase == "bulk" and taken >= FULL * bank.capacity and flat and track.volts < T.swallows_below.value:
        why = (
            f"{taken:.0f} Ah have gone into {bank.capacity:.0f} Ah and the voltage stays at "
            f"{track.volts:.2f} V per cell; a shorted cell or string is likely"
        )
    elif memory.phase == "bulk" and flat and memory.hopeless:
        return memory
    else:
        return memory._replace(stuck_seconds=0.0, not_reviving=False, hopeless=False, finding="")
    finding = f"since {moment(since)}: {why}"
    return memory._replace(hopeless=True, finding=finding, track=track._replace(stuck_since=since))
