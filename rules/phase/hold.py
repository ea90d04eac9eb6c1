"""The hold: when it starts, when it was none after all, and how it ends where nobody switches the charger off."""

from __future__ import annotations

import math

from rules.bank import Bank
from rules.phase.charger import equalise_seen, past_equalise, tail_current
from rules.phase.memory import TEN_MINUTES, WARMTH, PhaseMemory, Track
from rules.phase.thresholds import THRESHOLDS as T

#: Ten-minute pieces of holding kept: four hours.
HOLD_BINS = 24
#: What sums of floating numbers may be off [A].
ROUNDING = 1e-9
#: Mean step between neighbours of pure noise, in standard deviations [1]: 2 / sqrt(pi), the d2 of control charts for
#: pairs (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2).
MEAN_STEP = 1.128
#: Mean second difference of pure noise, in standard deviations [1]: sqrt(2 / pi) times sqrt(1 + 4 + 1).
MEAN_TURN = 1.954
#: How long a bank must have stood at the equalising voltage before that is a stay [s].
A_STAY = 300.0
#: Runs of a charger that are over, from which on another end like theirs is expected [1].
A_HABIT = 2


def settled(track: Track, resolution: float) -> bool:
    """Tell whether current at the equalising voltage has stayed within 5 % for the last four hours.

    Parameters
    ----------
    track : Track
        Slow memory.
    resolution : float
        Smallest step of the ammeter [A]; a flicker of one step is not a change.

    Returns
    -------
    bool
        Settled.

    Examples
    --------
    >>> settled(Track(hold_bins=(5.0,) * 24), 0.0), settled(Track(hold_bins=(6.0, *((5.0,) * 23))), 0.0)
    (True, False)
    """
    pieces = track.hold_bins
    if len(pieces) < HOLD_BINS:
        return False
    low, high = min(pieces), max(pieces)
    return high - low <= max(T.flat_within.value * (low + high) / 2.0 + ROUNDING, resolution)


def steady(track: Track, noise: float) -> bool:
    """Tell whether the current of the last four hours is flat but for the meter's own noise.

    In doubt it is not flat: a hold that begins too late costs hours, one
    that begins too early costs the bank.

    Parameters
    ----------
    track : Track
        Slow memory.
    noise : float
        What is left of the meter's noise in a ten-minute mean, one standard deviation [A].

    Returns
    -------
    bool
        Flat.

    Examples
    --------
    >>> noisy = tuple(5.0 + 0.2 * (-1) ** k for k in range(24))
    >>> steady(Track(hold_bins=noisy), 0.2), steady(Track(hold_bins=noisy), 0.0)
    (True, False)
    >>> steady(Track(hold_bins=tuple(5.0 + 0.05 * k for k in range(24))), 0.2)
    False
    """
    pieces = track.hold_bins
    if len(pieces) < HOLD_BINS:
        return False
    allowed = T.flat_within.value * sum(pieces) / len(pieces)
    # Noise explains how far single pieces lie apart, never a drift: the middles of the outer thirds lie two thirds of
    # the four hours apart.
    third = HOLD_BINS // 3
    drifted = 1.5 * abs(sum(pieces[-third:]) - sum(pieces[:third])) / third
    return max(pieces) - min(pieces) <= allowed + T.flat_noise.value * noise and drifted <= allowed


def flat_in(track: Track, noise: float) -> float:
    """Return the hours before which the current cannot have been flat for four: what lay apart from now has to pass.

    Parameters
    ----------
    track : Track
        Slow memory.
    noise : float
        What is left of the meter's noise in a ten-minute mean, one standard deviation [A].

    Returns
    -------
    float
        [h].

    Examples
    --------
    It fell until an hour and a half ago, so two and a half are still missing:

    >>> flat_in(Track(hold_bins=(8.0,) * 15 + (6.0,) * 9), 0.0), flat_in(Track(hold_bins=(6.0,) * 24), 0.0)
    (2.5, 0.0)
    """
    pieces = track.hold_bins
    alike = 0
    for piece in reversed(pieces):
        if abs(piece - pieces[-1]) > T.flat_within.value * pieces[-1] + T.flat_noise.value * noise:
            break
        alike += 1
    return (HOLD_BINS - alike) * TEN_MINUTES / 3600.0


def piece_noise(memory: PhaseMemory) -> float:
    """Return what is left of the ammeter's noise in a ten-minute mean, one standard deviation [A].

    Noise that changes from sample to sample leaves its steps over the root of their number (the mean step between
    neighbours of pure noise is 1.128 standard deviations). Noise that wanders for minutes leaves more: that shows in
    how the means themselves turn, whatever way they drift.

    Examples
    --------
    >>> drifting = PhaseMemory(track=Track(hold_bins=tuple(5.0 - 0.05 * k for k in range(24))))
    >>> wandering = PhaseMemory(track=Track(hold_bins=tuple(5.0 + 0.1 * (-1) ** k for k in range(24))))
    >>> round(piece_noise(drifting), 6), round(piece_noise(wandering), 2)
    (0.0, 0.2)
    """
    live, pieces = memory.live, memory.track.hold_bins
    fast = live.amp_noise / MEAN_STEP / math.sqrt(max(1.0, TEN_MINUTES / max(live.period, 1.0)))
    turns = [
        abs(before - 2.0 * here + after) for before, here, after in zip(pieces, pieces[1:], pieces[2:], strict=False)
    ]
    return max(fast, sum(turns) / len(turns) / MEAN_TURN) if turns else fast


def at_equalise(bank: Bank, memory: PhaseMemory, at: float, seconds: float, step: float = 0.0) -> PhaseMemory:
    """Start the hold, or `finishing`, once the bank has really stood at the equalising voltage.

    Parameters
    ----------
    bank : Bank
        As arranged.
    memory : PhaseMemory
        With this minute in it.
    at, seconds : float
        Now, and the length of this minute [s].
    step : float
        Smallest step of the ammeter [A].

    Returns
    -------
    PhaseMemory
        New memory.
    """
    live, track = memory.live, memory.track
    memory = _revoke(bank, memory, at, seconds, step)
    if live.good_at is None and at - live.good_last > TEN_MINUTES:
        return memory._replace(live=live._replace(pending=0.0))
    if memory.phase == "holding":
        return memory._replace(track=_hold_piece(memory.track, seconds))
    rising = memory.phase in ("waking", "reviving") and track.amps >= T.rising.value * track.peak
    if not memory.woken or rising or live.pending < A_STAY:
        return memory
    if bank.hold.starts == "at-voltage":
        if not track.past_peak:
            return memory
        return memory._replace(
            phase="holding", since=at - live.pending,
            live=live._replace(pending=0.0),
            track=track._replace(
                candidate="", candidate_seconds=0.0, entry=track.highest, entry_temperature=track.temperature,
                entry_seconds=0.0,
            ),
        )  # fmt: skip
    if memory.set_current and track.amps >= T.limited.value * memory.set_current:
        short = equalise_seen(bank, track) - T.nearly_there.value
        if (track.volts < short and memory.phase != "finishing") or past_equalise(bank, memory):
            return memory
    tail = tail_current(bank)
    track = _hold_piece(track, seconds)
    # A meter that shows less than nothing while nothing flows shows too little now; a coarse one may.
    seen = (1.0 + T.tail_gain.value) * (max(track.slow, track.amps) - track.zero) + T.tail_steps.value * step
    # Under a cloud any current is small.
    low = track.tail_seconds + seconds if seen <= tail and live.good_at is not None else 0.0
    track = track._replace(tail_seconds=low, finishing_seconds=track.finishing_seconds + seconds)
    # All four hours must have been near the tail: a charger that is just switched off passes through any current.
    four_hours = sum(track.hold_bins) / len(track.hold_bins) if track.hold_bins else math.inf
    near = max(track.amps, four_hours) <= T.flat_tails.value * tail
    flat = track.finishing_seconds >= T.flat_after.value and near and steady(track, piece_noise(memory))
    track = track._replace(flat_seconds=track.flat_seconds + seconds if flat else 0.0)
    if low >= T.tail_seconds.value or track.flat_seconds >= T.flat_seconds.value:
        entry = track.slow if low >= T.tail_seconds.value else sum(track.hold_bins) / len(track.hold_bins)
        track = track._replace(
            entry=entry, entry_temperature=track.temperature, entry_seconds=0.0, flat_seconds=0.0
        )  # fmt: skip
        return memory._replace(phase="holding", since=at, live=live._replace(pending=0.0), track=track)
    memory = memory._replace(track=track)
    return memory._replace(phase="finishing", since=memory.since if memory.phase == "finishing" else at - live.pending)


def _revoke(bank: Bank, memory: PhaseMemory, at: float, seconds: float, step: float) -> PhaseMemory:
    """Take a hold back once the current rises above what it began from: it was none, or a string has woken late.

    It began from a flat current, from one under the tail, or after a peak; the last two say less, and have to be passed
    by more. What a warmer electrolyte makes of a gassing current is no charge that was still missing, nor what a rested
    bank first takes back in the morning.
    """
    track = memory.track
    if not track.entry:
        return memory
    waits = bank.hold.starts == "at-current"
    flat = waits and track.entry - track.zero > tail_current(bank)
    times = T.revoked.value if flat else T.revoked_peak.value
    warmer = max(0.0, track.temperature - track.entry_temperature)
    most = times * track.entry * math.exp(WARMTH * warmer) + T.tail_steps.value * step
    above = track.entry_seconds + seconds if track.amps > most and track.on_seconds >= T.settles.value else 0.0
    memory = memory._replace(track=track._replace(entry_seconds=above))
    if above < T.revoked_seconds.value:
        return memory
    track = track._replace(
        entry=0.0, entry_seconds=0.0, tail_seconds=0.0, finishing_seconds=0.0, hold_bins=(), hold_amp_seconds=0.0,
        hold_bin_seconds=0.0, past_peak=waits and track.past_peak,
    )  # fmt: skip
    memory = memory._replace(hold_seconds=0.0, track=track)
    if memory.phase != "holding":
        return memory
    return memory._replace(phase="finishing" if waits else "bulk", since=at)


def _hold_piece(track: Track, seconds: float) -> Track:
    filled, total = track.hold_bin_seconds + seconds, track.hold_amp_seconds + track.amps * seconds
    if filled < TEN_MINUTES:
        return track._replace(hold_bin_seconds=filled, hold_amp_seconds=total)
    pieces = (*track.hold_bins[-HOLD_BINS + 1 :], total / filled)
    return track._replace(hold_bins=pieces, hold_bin_seconds=0.0, hold_amp_seconds=0.0)


def folded_back(bank: Bank, memory: PhaseMemory, at: float, seconds: float) -> PhaseMemory | None:
    """Return the memory where a charger ends the hold by itself, off or back at a float voltage; else ``None``.

    Nearly all of the hold is over then: it is complete. Earlier the bank is interrupted, its clock stands and it waits
    for the charger.

    Parameters
    ----------
    bank : Bank
        As arranged.
    memory : PhaseMemory
        With this minute in it.
    at, seconds : float
        Now, and the length of this minute [s].

    Returns
    -------
    PhaseMemory or None
        New memory.
    """
    track = memory.track
    if memory.phase not in ("holding", "finishing"):
        return None
    off = track.off_seconds > 0.0
    settled_amps = track.hold_bins[-1] if track.hold_bins else track.amps
    back = track.volts < equalise_seen(bank, track) - T.folded.value and track.amps <= max(settled_amps, 0.0)
    if not off and not back:
        return None if not track.folded_seconds else memory._replace(track=track._replace(folded_seconds=0.0)) and None
    lasting = track.off_seconds if off else track.folded_seconds + seconds
    memory = memory._replace(
        track=track._replace(folded_seconds=lasting), interrupted=memory.interrupted or lasting >= T.off_seconds.value
    )
    nearly = memory.hold_seconds >= T.nearly_held.value * bank.hold.minimum * 3600.0
    very = memory.hold_seconds >= T.all_but_held.value * bank.hold.minimum * 3600.0
    ended = lasting >= (TEN_MINUTES if very else T.ended_off.value)
    # Twice it has stopped for hours, and now after as long a run: it is evening, or the generator's time, once more.
    as_before = off and track.runs >= A_HABIT and track.run_seconds >= T.as_before.value * track.earlier_run
    if memory.phase == "holding" and nearly and ended and not as_before:
        return memory._replace(
            phase="resting", since=at, interrupted=False, hold_complete=True, hold_completed_at=at,
            hold_needed=memory.hold_seconds,
        )  # fmt: skip
    return memory if off or lasting >= TEN_MINUTES else None
