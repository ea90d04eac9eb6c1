"""Whether a bank has woken: by what its current did, never by how much of the charger that was."""

from __future__ import annotations

import math
from itertools import pairwise

from rules.bank import Bank
from rules.phase.charger import expected_current
from rules.phase.memory import TEN_MINUTES, WARMTH, Bin, PhaseMemory, Track
from rules.phase.thresholds import THRESHOLDS as T

#: Ten-minute pieces for which the voltage must have stood while a current fell from its peak [1] (assumed).
FALL_PIECES = 2
#: Ten-minute pieces in which a bank climbs to a ceiling, or a charger is raised [1] (assumed).
CLIMBS = 2


def wake(bank: Bank, memory: PhaseMemory, charge: float, seconds: float) -> PhaseMemory:
    """Keep floor and peak of the current, and say whether the bank has woken.

    It has when the charger was its limit for ten minutes, when its current left its floor and has fallen again from a
    peak that was kept, when it took charge below the ceiling, when half its capacity went in, or when it was never
    blocked.

    Parameters
    ----------
    bank : Bank
        As arranged.
    memory : PhaseMemory
        With this minute in its track and the charger learned.
    charge : float
        Returned in this round into these blocks [Ah].
    seconds : float
        Length of this minute [s].

    Returns
    -------
    PhaseMemory
        With `woken`, and the hold that was owed.
    """
    track = memory.track
    reference = expected_current(bank, memory)
    strong = track.strong_seconds + seconds if track.amps >= T.strong.value * reference else 0.0
    kept = min([piece.amps for piece in track.bins[-2:]]) if len(track.bins) > 1 else 0.0
    at_top = memory.ceiling > 0.0 and track.volts >= memory.ceiling - T.below_ceiling.value
    peak, lowest, floor = max(track.peak, kept), track.lowest, track.peak_floor
    if kept > track.highest:
        floor = lowest
    if at_top and len(track.bins) > 1 and not memory.woken:
        latest = track.bins[-1].amps
        lowest = min(lowest, latest) if lowest else latest
    below = memory.ceiling and track.volts < memory.ceiling - T.ceiling_band.value
    free = track.free_charge + (track.amps * seconds / 3600.0 if below else 0.0)
    track = _late_peak(memory, track, kept)
    track = track._replace(
        strong_amps=T.strong.value * reference, strong_seconds=strong, peak=peak, highest=max(track.highest, peak),
        free_charge=free, lowest=lowest, peak_floor=floor,
    )  # fmt: skip
    woken = memory.woken or strong >= TEN_MINUTES or _awake(bank, memory, track, charge)
    awake = tuple(sorted({*track.awake, *track.blocks})) if woken and not memory.woken else track.awake
    past = track.past_peak or (woken and (charge >= T.returned.value * bank.capacity or _left_peak(track, at_top)))
    track = track._replace(awake=awake, past_peak=past)
    hold, live = memory.hold_seconds, memory.live
    if live.owed and (woken or (not strong and track.amps < T.owed_lost.value * reference)):
        hold += live.owed if past and bank.hold.starts == "at-voltage" else 0.0
        live = live._replace(owed=0.0)
    return memory._replace(woken=woken, track=track, hold_seconds=hold, live=live)


def _awake(bank: Bank, memory: PhaseMemory, track: Track, charge: float) -> bool:
    capacity = bank.capacity
    real = may_be_full(track, capacity)
    # Half the capacity may be gas: in one that rested empty it must have gone in at the 20-hour rate once.
    most = T.peak_least.value * capacity if real else T.woken_gassing.value * capacity
    if charge >= T.returned.value * capacity and track.highest >= most:
        return True
    if track.free_charge >= T.taken_free.value * capacity and track.highest >= T.peak_least.value * capacity:
        return True
    if memory.phase == "absorbing":
        return True
    blur = _blur(memory)
    if _fallen(memory, track, capacity, blur) or _passed(memory, track, capacity, blur):
        return True
    return real and _charged(memory, track, capacity)


def _left_peak(track: Track, at_top: bool) -> bool:
    """Tell whether the current has fallen from its peak at a ceiling: before that a bank is filled, not held."""
    latest = max(track.amps, track.bins[-1].amps if track.bins else 0.0)
    return at_top and 0.0 < latest <= T.fallen.value * track.highest


def _late_peak(memory: PhaseMemory, track: Track, kept: float) -> Track:
    """Keep the highest current that came after an hour and a half at this ceiling, when no surface fills any more."""
    if memory.woken or kept <= track.late_peak or not _stood(memory, track, int(T.settles.value / TEN_MINUTES)):
        return track
    return track._replace(late_peak=kept, late_peak_temperature=track.temperature)


def _stood(memory: PhaseMemory, track: Track, count: int) -> bool:
    """Tell whether the voltage has stood at the present ceiling for so many pieces of one run [1]."""
    pieces = track.bins[-count:]
    if memory.ceiling == 0.0 or len(pieces) < count or track.on_seconds < count * TEN_MINUTES:
        return False
    least = memory.ceiling - T.below_ceiling.value
    return all([piece.volts >= least for piece in pieces])


def _blur(memory: PhaseMemory) -> float:
    """Return what noise and coarse digits leave in a ten-minute mean [A]: floor and peak may be that alone."""
    samples = TEN_MINUTES / memory.live.period if memory.live.period else 1.0
    return memory.live.amp_noise / math.sqrt(max(1.0, samples))


def _fallen(memory: PhaseMemory, track: Track, capacity: float, blur: float) -> bool:
    """Tell whether it left its floor by a factor, kept a peak, and fell from it at a voltage that stood."""
    at_top = memory.ceiling > 0.0 and track.volts >= memory.ceiling - T.below_ceiling.value
    if not at_top or len(track.bins) <= FALL_PIECES:
        return False
    peak = track.highest
    left = peak >= max(T.left_floor.value * track.peak_floor, T.peak_least.value * capacity)
    grew = track.peak_floor > 0.0 or may_be_full(track, capacity)
    least = min(T.fallen.value * peak, peak - blur)
    fell = track.bins[-1].amps <= least and track.amps <= least
    stood = all(piece.volts >= memory.ceiling - T.below_ceiling.value for piece in track.bins[-FALL_PIECES:])
    return left and grew and fell and stood and track.on_seconds >= T.settles.value


def _passed(memory: PhaseMemory, track: Track, capacity: float, blur: float) -> bool:
    """Tell whether a late peak has been passed at a voltage that stood: growth over its floor, or a taper to its half.

    A small peak must have left its floor by the factor, whatever the ammeter's zero and its digits hide; a living
    current need not have grown by much, as in a bank that takes half of its charger at once, but must have halved. The
    first fill of a dead one is highest in its first minutes, and its gas falls only with the warmth, which is taken out
    here. A small one that grew by less has been charge as well where it halves and ends below the floor it grew from:
    warmth that nobody measures comes back to that floor, and goes no further.
    """
    peak = track.late_peak
    if peak < T.grew_least.value * capacity or not _stood(memory, track, FALL_PIECES):
        return False
    cooler = max(1.0, math.exp(WARMTH * (track.late_peak_temperature - track.temperature)))
    left = max(track.bins[-1].amps, track.amps) * cooler / peak
    zero = max(T.zero_hides.value, blur)
    grew = track.peak_floor > 0.0 and peak + zero >= T.left_floor.value * (track.peak_floor + zero)
    floor = track.peak_floor if track.peak_floor > zero else 0.0
    hump = T.hump.value * floor + blur < peak and track.amps < T.under_floor.value * floor
    return (grew and left <= min(T.fallen.value, 1.0 - blur / peak)) or (
        (hump or peak >= T.peak_least.value * capacity) and left <= T.tapered.value
    )


def _charged(memory: PhaseMemory, track: Track, capacity: float) -> bool:
    """Tell whether it is full: a finishing current from the first minutes on, and nothing but a fall at each ceiling.

    A charger that is raised begins the fall anew, from more current; what came before at less volts must have fallen.
    """
    if memory.ceiling == 0.0:
        return False
    count = 0
    while count < len(track.bins) and track.bins[-1 - count].volts >= memory.ceiling - T.below_ceiling.value:
        count += 1
    if count < int(T.charged_pieces.value):
        return False
    run, before = track.bins[-count:], _stays(track.bins[:-count])
    # The pieces that belong to no stay are climbs to a ceiling, and the minutes in which one was raised.
    stays = [stay for stay in before if len(stay) > 1]
    climbing = len(before) - len(stays)
    if climbing > CLIMBS * (1 + len(stays)):
        return False
    run = run[1:]  # its first minutes fill the plates' surface, in a blocked bank too
    first, last = run[0].amps, run[-1].amps
    lowest = min(piece.amps for piece in run) if stays else track.lowest
    if (
        first < T.charged_least.value * capacity
        or last > T.charged_fall.value * first
        or lowest < T.charged_kept.value * last
    ):
        return False
    # In the last ten minutes of an earlier stay the charger may have been raised already.
    return _falls(run) and all(_falls(stay[1:-1]) for stay in stays)


def _stays(bins: tuple[Bin, ...]) -> list[tuple[Bin, ...]]:
    """Return the pieces in runs at one voltage each; a run of one is a climb."""
    stays: list[tuple[Bin, ...]] = []
    for piece in bins:
        if stays and abs(piece.volts - stays[-1][-1].volts) <= T.below_ceiling.value:
            stays[-1] = (*stays[-1], piece)
        else:
            stays.append((piece,))
    return stays


def _falls(run: tuple[Bin, ...]) -> bool:
    """Tell whether no piece is above the one before it by more than a meter's scatter."""
    return all(after.amps <= T.charged_scatter.value * before.amps for before, after in pairwise(run))


def may_be_full(track: Track, capacity: float) -> bool:
    """Tell whether a current that tapers can mean a bank nearly full, rather than a dead one's first fill and gas.

    A bank that rested below 2.05 V per cell was under half charged (acid of 1.19). Such a one is filling only if it
    once took a tenth of its rating.

    Parameters
    ----------
    track : Track
        Slow memory.
    capacity : float
        Rating [Ah].

    Returns
    -------
    bool
        It can.

    Examples
    --------
    >>> may_be_full(Track(rested=1.90, highest=12.0), 200.0), may_be_full(Track(rested=2.11, highest=12.0), 200.0)
    (False, True)
    """
    return not 0.0 < track.rested < T.rested_charged.value or track.highest >= T.filling_least.value * capacity
