"""Whether a bank has woken: by what its current did, never by how much of the charger that was."""

from __future__ import annotations

import math
from itertools import pairwise
from statistics import median

from rules.bank import Bank
from rules.phase.charger import expected_current, tail_current, takes_back
from rules.phase.memory import TEN_MINUTES, WARMTH, Bin, PhaseMemory, Track
from rules.phase.thresholds import THRESHOLDS as T

#: Ten-minute pieces for which the voltage must have stood while a current fell from its peak [1] (assumed).
FALL_PIECES = 2
#: Ten-minute pieces in which a bank climbs to a ceiling, or a charger is raised [1] (assumed).
CLIMBS = 2
#: A floor that reads nothing, or less, is known all the same; the ammeter's zero is allowed for where it counts [A].
A_LITTLE = 0.001
#: Median second difference of pure noise, in standard deviations [1]: 0.6745 times sqrt(1 + 4 + 1).
MEDIAN_TURN = 1.652
#: A current whose last digit changes no oftener than this has no mean finer than its digits [s] (assumed).
STANDS = 300.0
#: Its highest and lowest are half a step off each, and one more by the noise of a single reading [1].
DIGITS = 1.5


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
    refills = not memory.woken and takes_back(track)
    at_top = memory.ceiling > 0.0 and track.volts >= memory.ceiling - T.below_ceiling.value
    # At its ceiling the charger is no limit, however much the bank takes: that one grows still, or has passed its peak.
    limit = T.all_but.value if at_top else T.strong.value
    strong = track.strong_seconds + seconds if track.amps >= limit * reference and not refills else 0.0
    kept = min([piece.amps for piece in track.bins[-2:]]) if len(track.bins) > 1 and not refills else 0.0
    peak, lowest, floor = max(track.peak, kept), track.lowest, track.peak_floor
    lowest_temperature, floor_temperature = track.lowest_temperature, track.peak_floor_temperature
    if kept > track.highest:
        floor, floor_temperature = lowest, lowest_temperature
    if at_top and len(track.bins) > 1 and not memory.woken:
        latest = max(track.bins[-1].amps, A_LITTLE)
        if not lowest or latest < lowest:
            lowest, lowest_temperature = latest, track.bins[-1].temperature
    below = memory.ceiling and track.volts < memory.ceiling - T.ceiling_band.value
    free = track.free_charge + (track.amps * seconds / 3600.0 if below and not refills else 0.0)
    track = _late_peak(memory, track, kept)
    if at_top and track.on_seconds >= T.settles.value and not memory.woken:
        track = track._replace(
            settled_charge=track.settled_charge + track.amps * seconds / 3600.0,
            settled_hours=track.settled_hours + seconds / 3600.0,
            settled_temperature=max(track.settled_temperature, track.temperature),
        )
    track = track._replace(
        strong_amps=T.strong.value * reference, strong_seconds=strong, peak=peak, highest=max(track.highest, peak),
        free_charge=free, lowest=lowest, peak_floor=floor,
        lowest_temperature=lowest_temperature, peak_floor_temperature=floor_temperature,
    )  # fmt: skip
    woken = memory.woken or strong >= TEN_MINUTES or _awake(bank, memory, track, charge)
    full = not memory.woken and may_be_full(track, bank.capacity)
    if full and _charged(memory, track, bank.capacity, _blur(memory)):
        woken, memory = True, _held_already(bank, memory)
        track = track._replace(tail_seconds=memory.track.tail_seconds, past_peak=True)
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
    return _took_charge(track, capacity, blur, real)


def _held_already(bank: Bank, memory: PhaseMemory) -> PhaseMemory:
    """Count what was held before it was known that this bank had never been blocked.

    Its fall told so in the end, and was a taper from the first half hour on, in which a rested surface fills: the clock
    of a hold that begins at the voltage ran since then, one that waits for its current since that had been under the
    tail for a quarter of an hour besides.
    """
    live, track = memory.live, memory.track
    since = max(0.0, live.pending - T.surface.value)
    if bank.hold.starts == "at-voltage":
        return memory._replace(hold_seconds=since)
    under = 0
    tail = tail_current(bank) / (1.0 + T.tail_gain.value)
    while under < len(track.bins) and track.bins[-1 - under].amps - track.zero <= tail:
        under += 1
    held = min(since, under * TEN_MINUTES) - T.tail_seconds.value
    if held <= 0.0:
        return memory
    return memory._replace(hold_seconds=held, track=track._replace(tail_seconds=T.tail_seconds.value))


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
    """Return by how much noise and coarse digits set the highest and lowest of many ten-minute means apart [A].

    Floor and peak may be that alone. Noise shows in how the means turn, whatever way they drift. Digits that flicker
    leave a mean that is finer than they are; where they stand for minutes, or are read so seldom, it is not.
    """
    live = memory.live
    amps = [piece.amps for piece in memory.track.bins]
    turns = [abs(before - 2.0 * here + after) for before, here, after in zip(amps, amps[1:], amps[2:], strict=False)]
    noise = T.flat_noise.value * median(turns) / MEDIAN_TURN if turns else 0.0
    stands = not live.amp_period or live.amp_period > STANDS
    return noise + DIGITS * live.amp_step if stands else noise


def left_floor(memory: PhaseMemory) -> bool:
    """Tell whether the current now is so many times its floor that neither a day's warmth nor digits explain it.

    Examples
    --------
    >>> [left_floor(PhaseMemory(track=Track(lowest=floor, amps=3.0))) for floor in (0.6, 2.0)]
    [True, False]
    """
    track, blur = memory.track, _blur(memory)
    floor = max(0.0, track.lowest - track.zero) + blur
    return track.lowest > 0.0 and track.amps - track.zero + blur >= T.left_floor.value * floor


def _fallen(memory: PhaseMemory, track: Track, capacity: float, blur: float) -> bool:
    """Tell whether it left its floor by a factor, kept a peak, and fell from it at a voltage that stood."""
    at_top = memory.ceiling > 0.0 and track.volts >= memory.ceiling - T.below_ceiling.value
    if not at_top or len(track.bins) <= FALL_PIECES:
        return False
    peak = track.highest
    # Growth below a raise counts, but what the raise itself drives through a bank fills its surface first.
    floor = track.peak_floor / track.grown
    left = peak >= max(T.left_floor.value * floor, T.peak_least.value * capacity)
    grew = track.peak_floor > 0.0 or may_be_full(track, capacity)
    least = min(T.fallen.value * peak, peak - blur)
    fell = track.bins[-1].amps <= least and track.amps <= least
    if peak < T.left_floor.value * track.peak_floor:
        hour = int(T.hour_pieces.value)
        fell = fell and _stood(memory, track, int(T.settles.value / TEN_MINUTES))
        fell = fell and track.bins[-1].amps < T.keeps.value * track.bins[-hour].amps
    stood = all(piece.volts >= memory.ceiling - T.below_ceiling.value for piece in track.bins[-FALL_PIECES:])
    return left and grew and fell and stood and track.on_seconds >= T.settles.value


def _passed(memory: PhaseMemory, track: Track, capacity: float, blur: float) -> bool:
    """Tell whether a late peak has been passed at a voltage that stood: growth over its floor, or a taper far below it.

    It must have left its floor by the factor, whatever the ammeter's zero and its digits hide; a living current need
    not have grown by as much, as in a bank that takes half of its charger at once, but must have fallen by that factor:
    then its floor lies behind its peak. The first fill of a dead one is highest in its first minutes, and its gas falls
    only with the warmth, which is taken out here; not where it grew beyond all that warmth makes of its floor: then
    what falls is charge, and no gas. One that grew by less has been charge as well where it halves and ends below the
    floor it grew from: warmth that nobody measures comes back to that floor, and goes no further.
    """
    peak = track.late_peak
    if peak < T.grew_least.value * capacity or not _stood(memory, track, FALL_PIECES):
        return False
    cooler = max(1.0, math.exp(WARMTH * (track.late_peak_temperature - track.temperature)))
    # A peak counts where it was kept for twenty minutes, and so does a fall.
    latest = [piece.amps for piece in track.bins[-FALL_PIECES:]]
    left = max(*latest, track.amps) * cooler / peak
    zero = max(T.zero_hides.value, blur)
    least = T.left_floor.value * (max(0.0, track.peak_floor - track.zero) + zero)
    grew = track.peak_floor > 0.0 and peak - track.zero + zero >= least
    floor = track.peak_floor if track.peak_floor > zero else 0.0
    hump = T.hump.value * floor + blur < peak and track.amps < T.under_floor.value * floor
    warmer = max(1.0, math.exp(WARMTH * (track.late_peak_temperature - track.peak_floor_temperature)))
    charge = grew and peak - track.zero + zero >= least * warmer
    left = left / cooler if charge else left
    clear = 1.0 - blur / peak
    if grew:
        left_at = T.fallen.value
    elif hump:
        left_at = T.tapered.value
    else:
        left_at = 1.0 / T.left_floor.value if peak >= T.peak_least.value * capacity else 0.0
    return left <= min(left_at, clear)


def _took_charge(track: Track, capacity: float, blur: float, real: bool) -> bool:
    """Tell whether what went in at the ceiling was charge, though the current only ever fell.

    What still flows is the most that can have been gas, in the warmest hour as much more as warmth makes of it. What
    went in beyond it plates took: those that stay blocked take next to nothing, a fifth where they rested empty.
    """
    peak = track.late_peak
    warmer = max(0.0, track.settled_temperature - track.temperature)
    latest = max([track.amps, *[piece.amps for piece in track.bins[-FALL_PIECES:]]]) * math.exp(WARMTH * warmer)
    taken = track.settled_charge - latest * track.settled_hours
    least = T.taken_settled.value if real else T.taken_empty.value
    return taken >= least * capacity and latest <= min(peak / T.left_floor.value, peak - blur)


def _charged(memory: PhaseMemory, track: Track, capacity: float, blur: float) -> bool:
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
    full = track.rested >= T.rested_full.value
    large = first >= T.charged_least.value * capacity
    # Where nothing but gas flows it goes with the warmth of the day: hours without growth tell as much as a fall.
    long = full and large and count >= int(T.charged_long.value)
    if (
        not (full or large)
        or (last > min(T.charged_fall.value * first, first - blur) and not long)
        or lowest < T.charged_kept.value * last - blur
    ):
        return False
    # In the last ten minutes of an earlier stay the charger may have been raised already.
    return _falls(run, blur) and all(_falls(stay[1:-1], blur) for stay in stays)


def _stays(bins: tuple[Bin, ...]) -> list[tuple[Bin, ...]]:
    """Return the pieces in runs at one voltage each; a run of one is a climb."""
    stays: list[tuple[Bin, ...]] = []
    for piece in bins:
        if stays and abs(piece.volts - stays[-1][-1].volts) <= T.below_ceiling.value:
            stays[-1] = (*stays[-1], piece)
        else:
            stays.append((piece,))
    return stays


def _falls(run: tuple[Bin, ...], blur: float) -> bool:
    """Tell whether no piece is above the one before it by more than a meter's scatter, its noise and its digits."""
    return all(
        after.amps <= max(T.charged_scatter.value * before.amps, before.amps + blur) for before, after in pairwise(run)
    )


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
