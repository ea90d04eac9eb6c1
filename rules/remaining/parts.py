"""The stretches of a round that are still to come, each with its hours and how sure they are."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

from rules.bank import Bank
from rules.phase import (
    FULL,
    LONGEST,
    WARMTH,
    Bin,
    Observation,
    PhaseMemory,
    equalise_seen,
    expected_current,
    flat_in,
    held_from,
    piece_noise,
    tail_current,
    unseen,
)
from rules.phase import THRESHOLDS as PHASE
from rules.remaining.experience import Times, learned, lesson_of
from rules.remaining.taper import Seen, left
from rules.remaining.thresholds import THRESHOLDS as T

#: Volts per cell at a ten-hour rate and 25 degC [V] against charge still to come, as a share of the capacity that
#: is left [1]. Shape of a lead-acid constant-current charge (common practice, no source).
CURVE = (
    (2.00, 1.00), (2.05, 0.90), (2.10, 0.76), (2.15, 0.57), (2.20, 0.41), (2.25, 0.29), (2.30, 0.20), (2.35, 0.145),
    (2.40, 0.10), (2.45, 0.07), (2.50, 0.05), (2.55, 0.03), (2.60, 0.015), (2.65, 0.0),
)  # fmt: skip
#: What a sulfated bank still holds of its rating, and its spread (one standard deviation of the logarithm) [1].
CAPACITY_LEFT, CAPACITY_SPREAD = 0.68, 0.4
#: Standard deviation of pure noise over the mean step between neighbours [1]: sqrt(pi) / 2.
PER_STEP = 0.886
#: The pace of the voltage is taken since so many ten-minute pieces ago [1], whose middle lies twenty-five minutes back,
#: and brought to an hour [1/h].
PACE_PIECES, PACE_PER_HOUR = 3, 2.4
#: Resistance while charging times capacity [Ohm Ah]: Schiffer and others, J. Power Sources 168 (2007) 66, give 0.42.
RESISTANCE = 0.5
#: A bank that has not been at the equalising voltage yet.
NOTHING_SEEN = Seen()
#: Times its rating after which a bank is full, and what still goes in is gas [1].
FULL_RETURNED = 1.2


#: Why there are no hours in the first minutes.
JUST_BEGUN = "the charger has only just begun; hours are reckoned from its first 20 min of charging, not before"
#: How reasons begin that speak of amps which flow: of few, and of too many for covered plates.
BLOCKING, TAKES = "still blocking", "not settled yet whether it still blocks"
#: Fewer ten-minute pieces show no growth, three stretches of two [1].
GROWTH_BINS = 6
#: What stage each part passes in, by its name.
STAGE_OF = {
    "waking": "waking", "reviving": "reviving", "bulk": "bulk", "until the charger is raised": "absorbing",
    "climb": "absorbing", "finishing": "finishing",
}  # fmt: skip


class Part(NamedTuple):
    """One stretch: its name for people, hours [h], relative spread upward and downward (one standard deviation) [1]."""

    name: str
    hours: float
    spread: float
    down: float = -1.0


def to_come(volts: float) -> float:
    """Return share of capacity still to be charged at this voltage per cell [V] -> [1].

    Examples
    --------
    >>> round(to_come(2.40), 3), to_come(2.7)
    (0.1, 0.0)
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


def growth_rate(bins: tuple[Bin, ...], current: float) -> tuple[float, float] | None:
    """Return how a waking bank's current grows: logarithmic rate now [1/h], and its own growth with the current [1].

    A current that makes its own way grows like di/dt = k i^(1+p): p = 0 is exponential, p = 1 ends in a jump. Three
    equal stretches of the last six charging hours tell both, p only as far as the growth stands out. Nothing moves yet
    while it is a fortieth of what the charger can give, and what warmth does to a leak or to gas (6 % per kelvin:
    Schiffer and others, J. Power Sources 168 (2007) 66) is no growth.
    """
    if len(bins) < GROWTH_BINS:
        return None
    count = len(bins) // 3
    warm = bins[-1].temperature
    amps = [piece.amps * math.exp(WARMTH * (warm - piece.temperature)) for piece in bins]
    first, middle, last = (sum(amps[k * count : (k + 1) * count]) / count for k in range(3))
    # It has to show in the current as it is as well: not all that flows in the cold of a morning follows the warmth.
    shown = sum([piece.amps for piece in bins[:count]]) / count
    least = max(first, shown, 0.0)
    grew = last > T.grown.value * least and last - least >= T.grown_share.value * current
    if not grew or last < T.grown_from.value * current:
        return None
    # Growth has to stand out of the meter's scatter: three standard errors of the difference of two means.
    scatter = PER_STEP * sum(abs(after - before) for before, after in pairwise(amps)) / (len(amps) - 1)
    if last - first < T.stands_out.value * scatter * math.sqrt(2.0 / count):
        return None
    hours = count / 6.0
    first = max(first, 0.1 * last)
    middle = min(max(middle, first * 1.01), last / 1.01)
    early, late = math.log(middle / first) / hours, math.log(last / middle) / hours
    clear = math.log(last / first)
    power = 0.7 + clear / (clear + 1.0) * (min(2.0, max(-0.5, math.log(late / early) / (0.5 * clear))) - 0.7)
    power = max(0.05, power)
    # The rate of the last stretch belongs to its middle; the current has moved on since.
    now = max(bins[-1].amps, last)
    rate = math.sqrt(late * (late + early) / 2.0)
    return rate * (now / math.sqrt(middle * last)) ** power, power


def parts(
    bank: Bank,
    phase: PhaseMemory,
    observation: Observation,
    usual: float,
    seen: Seen = NOTHING_SEEN,
    trust: float = 1.0,
) -> tuple[Part, ...] | str:
    """Return what is still to come, or why nobody can say.

    Parameters
    ----------
    bank : Bank
        As arranged.
    phase : PhaseMemory
        Where it is.
    observation : Observation
        Latest.
    usual : float
        Charging current to reckon with in bulk [A].
    seen : Seen
        The stay at the equalising voltage before the hold.
    trust : float
        In the bank's experience [1].

    Returns
    -------
    tuple of Part, or str
        In order of time, without the hold; or the reason for no number.
    """
    track = phase.track
    why_none = _no_hours(phase, observation)
    if why_none:
        return why_none
    weak = track.amps < T.weak.value * expected_current(bank, phase)
    if phase.phase == "holding" and (track.below_seconds < T.left_for.value or weak):
        return ()
    if len(track.bins) <= 1:
        return JUST_BEGUN
    at_top = track.volts >= phase.ceiling - PHASE.below_ceiling.value
    if phase.phase == "reviving" and track.amps < T.past_peak.value * track.peak and at_top:
        return (*_rise(bank, phase, observation, usual, trust), *_tail(bank, phase, seen, trust))
    if phase.phase in ("waking", "reviving"):
        wake = _waking(phase, phase.set_current or expected_current(bank, phase))
        if isinstance(wake, str):
            return wake
        earlier = taught(bank, phase, wake.name, trust)
        wake = wake._replace(hours=wake.hours * earlier.times, spread=earlier.doubt(wake.spread))
        return (wake, *_rise(bank, phase, observation, usual, trust), *_tail(bank, phase, seen, trust))
    if phase.phase == "finishing":
        return _tail(bank, phase, seen, trust)
    return _gets_nowhere(bank, phase, observation) or (
        *_rise(bank, phase, observation, usual, trust),
        *_tail(bank, phase, seen, trust),
    )


def _no_hours(phase: PhaseMemory, observation: Observation) -> str:
    """Return why no hours can be told of this bank in whatever phase: hopeless, unseen, or too low; else ""."""
    track = phase.track
    if phase.hopeless:
        return f"no hours: {phase.finding}"
    blind = unseen(phase, observation)
    if blind and "limit" not in blind:
        return f"no hours: {blind}"
    if track.low_seconds > 0.0:
        return f"no hours: {track.volts:.2f} V per cell under charge is too low for sound cells; measure every block"
    return ""


def _gets_nowhere(bank: Bank, phase: PhaseMemory, observation: Observation) -> str:
    """Return why this bank will not reach the equalising voltage: it stands below, or swallows everything; else ""."""
    track = phase.track
    rising = _lifts(bank, phase) is not None
    if phase.phase != "absorbing" and not rising and _stands(bank, phase):
        return f"no hours: all the charger gives no longer lifts the voltage above {track.volts:.2f} V per cell"
    returned = (observation.charge - track.base) / bank.capacity
    if returned > FULL and not rising:
        return f"no hours: {returned:.1f} times its rating has gone in, and it is still below the equalising voltage"
    return ""


def _lifts(bank: Bank, phase: PhaseMemory) -> tuple[float, float] | None:
    """Return hours until the charger's current has lifted the voltage to its ceiling [h], and their spread [1].

    From the pace of all the six hours kept, in a bank that is warm, old or small for its charger and gasses; ``None``
    where it does not rise by more than a voltage that stands.
    """
    track = phase.track
    run = [piece for piece in track.bins if piece.at >= phase.since]
    half = len(run) // 2
    if half < T.lifts_pieces.value or track.amps < T.lifts_not_full.value * phase.set_current:
        return None
    early = sum(piece.volts for piece in run[:half]) / half
    late = sum(piece.volts for piece in run[-half:]) / half
    if late - early < PHASE.stands.value:
        return None
    pace = (late - early) / (half / 6.0)
    target = held_from(bank, track)
    stop = phase.ceiling if 0.0 < phase.ceiling < target else target
    return max(T.named_part.value, stop - late) / pace, T.lifts_spread.value


def _stands(bank: Bank, phase: PhaseMemory) -> bool:
    """Tell whether gas takes the whole current below the voltage that is wanted, as in a hot or worn bank."""
    track = phase.track
    pieces = int(T.lifts_not_pieces.value)
    run = track.bins[-pieces:]
    full = track.amps >= T.lifts_not_full.value * phase.set_current
    if len(run) < pieces or track.volts < T.lifts_not.value or not full:
        return False
    still = max(piece.volts for piece in run) - min(piece.volts for piece in run) < PHASE.stands.value
    return still and track.volts < equalise_seen(bank, track) - T.lifts_not_below.value


def hold_hours(bank: Bank, phase: PhaseMemory) -> tuple[float, float]:
    """Return what is left of the hold [h] and its doubt [h]: between minimum and maximum current and gravity decide."""
    least = max(0.0, bank.hold.minimum - phase.hold_seconds / 3600.0)
    spare = max(0.0, bank.hold.maximum - max(bank.hold.minimum, phase.hold_seconds / 3600.0))
    return least + 0.4 * spare, 0.4 * spare


def _waking(phase: PhaseMemory, current: float) -> Part | str:
    track = phase.track
    bins = tuple(piece for piece in track.bins if piece.volts >= phase.ceiling - T.at_top.value)
    began = (phase.live.at or 0.0) - track.on_seconds
    run = [piece for piece in bins if piece.at > began]
    # After a night the bank first takes back what leaked away: that falls again, and is no growth.
    hour = int(PHASE.hour_pieces.value)
    refill = len(run) < len(bins) and (len(run) < hour or run[-1].amps < PHASE.keeps.value * run[-hour].amps)
    growth = None if refill else growth_rate(bins, current)
    if growth is None or phase.stuck_seconds > T.stuck.value:
        if phase.phase == "reviving" and track.amps >= T.comes_round.value * current:
            return Part("reviving", 1.5, 0.7)
        blocks = track.amps < PHASE.blocked_share.value * current
        # Three pieces of two show a growth: an hour of charging at the ceiling.
        course = "no growth to reckon from" if len(bins) >= GROWTH_BINS else "growth shows after an hour of charging"
        seen = f"{max(track.amps, 0.0):.1f} A at {track.volts:.2f} V per cell"
        return f"{BLOCKING if blocks else TAKES}: {seen}, {course}"
    rate, power = growth
    ratio = min(1.0, max(track.amps, 0.01 * current) / current)
    hours = 0.85 * (1.0 - ratio**power) / (power * rate) + 0.2
    if hours > LONGEST:
        return f"{BLOCKING}: the current grows by only {100.0 * rate:.1f} % per hour"
    return Part(phase.phase, hours, 0.6 if phase.phase == "waking" else 0.5)


def _rise(bank: Bank, phase: PhaseMemory, observation: Observation, amps: float, trust: float) -> tuple[Part, ...]:
    """Return the parts from now to the equalising voltage, over the charger's ceiling where that is lower."""
    track = phase.track
    target = held_from(bank, track)
    amps = max(amps, 0.01 * bank.capacity)
    stop = phase.ceiling if 0.0 < phase.ceiling < target else target
    left, spread = _charge_to(bank, phase, observation, stop, trust)
    hours = left / amps
    returned = (observation.charge - track.base) / bank.capacity
    pace = (track.volts - track.bins[-PACE_PIECES].volts) * PACE_PER_HOUR if len(track.bins) >= PACE_PIECES else 0.0
    gives_all = phase.phase == "bulk" and track.amps >= T.lifts_not_full.value * phase.set_current > 0.0
    if track.volts > T.pace_from.value and (pace > T.pace_least.value or gives_all):
        # Near the end the pace of the voltage is worth as much as the charge; one too slow to be seen is slow.
        hours = math.sqrt(hours * max(0.02, stop - track.volts) / max(pace, T.pace_least.value))
    creeps = _lifts(bank, phase)
    if creeps is not None and returned > FULL_RETURNED:
        # Full, and gassing at all that the charger gives: charge over current says nothing any more.
        hours, spread = creeps
    bulk = Part("bulk", hours, spread)
    if stop == target:
        waits = bank.hold.starts == "at-voltage" and not track.past_peak and track.volts >= target
        return (_until_it_falls(phase, observation),) if waits else (bulk,)
    elapsed = (observation.at - phase.since) / 3600.0 if phase.phase == "absorbing" else 0.0
    # Nobody has said when: it may be now, and the longer it has not come the longer it may still take.
    earlier = taught(bank, phase, "absorbing", trust)
    hours = max(earlier.times * T.raised_after.value, T.raised_again.value * elapsed)
    wait = Part("until the charger is raised", hours, T.raised_spread.value, T.raised_down.value)
    climb = Part("climb", earlier.times * 0.08 * bank.capacity / max(amps, 0.6 * phase.set_current), 0.6)
    if phase.phase == "absorbing":
        return (wait, climb)
    return (bulk, wait, climb)


def taught(bank: Bank, phase: PhaseMemory, stage: str, trust: float) -> Times:
    """Return what rounds before this one showed of a stage, for a bank found as this one was; trust in them [1]."""
    return learned(bank.experience, phase.track.rested, lesson_of(stage, phase.phase), trust)


def _until_it_falls(phase: PhaseMemory, observation: Observation) -> Part:
    """Return the part at the voltage until the current falls from its peak: the longer it stays, the longer it may."""
    hours = max(T.falls_after.value, T.falls_again.value * (observation.at - phase.since) / 3600.0)
    return Part("until the current falls", hours, T.raised_spread.value, T.raised_down.value)


def _charge_to(
    bank: Bank, phase: PhaseMemory, observation: Observation, stop: float, trust: float
) -> tuple[float, float]:
    """Return the charge until this voltage per cell is reached at the charger's current [Ah], and its spread [1].

    The curve needs the capacity that is left. Two things tell it: what such banks usually hold, and the charge that
    went in between two voltages of this very bulk.
    """
    track = phase.track
    shift = 0.004 * (track.temperature - 25.0)
    end = to_come(_standard(stop, track.amps, bank.capacity, shift))
    earlier = taught(bank, phase, "bulk", trust)
    usual, doubtful = CAPACITY_LEFT * earlier.times, earlier.doubt(CAPACITY_SPREAD)
    if phase.phase in ("waking", "reviving"):
        rate = min(0.3, (phase.set_current or expected_current(bank, phase)) / bank.capacity)
        whole = usual * (1.0 - max(end, 0.9 * rate)) * bank.capacity
        return max(0.25 * whole, whole - 0.9 * (observation.charge - track.base)), 0.45
    now = to_come(_standard(track.volts, track.amps, bank.capacity, shift))
    capacity, spread = usual, doubtful
    returned = (observation.charge - track.base) / bank.capacity
    # More has gone in than such a bank usually holds.
    if returned > capacity * (1.0 - now):
        capacity = min(1.6, returned / max(0.2, 1.0 - now) * 0.5 + capacity * 0.5)
    bins = tuple(piece for piece in track.bins if piece.at >= phase.since)
    lowest = min(range(len(bins)), key=lambda k: bins[k].volts, default=0)
    run = bins[lowest:]
    if len(run) >= T.bulk_pieces.value:
        before, after = run[0], run[-1]
        went_in = sum(piece.amps for piece in run[1:]) / 6.0 / bank.capacity
        shares = to_come(_standard(before.volts, before.amps, bank.capacity, shift)) - to_come(
            _standard(after.volts, after.amps, bank.capacity, shift)
        )
        seen = min(2.5, max(0.15, went_in / max(0.004, shares)))
        doubt = math.hypot(0.35, 0.06 / max(0.01, went_in))
        weight = doubtful**2 / (doubtful**2 + doubt**2)
        capacity *= (seen / capacity) ** weight
        spread = doubtful * math.sqrt(1.0 - weight)
    return max(0.003, capacity * (now - end)) * bank.capacity, spread + 0.1


def _standard(volts: float, amps: float, capacity: float, shift: float) -> float:
    """Return volts per cell as they would read at a ten-hour rate and 25 degC [V]."""
    return volts + shift - RESISTANCE * (amps / capacity - 0.1)


def _tail(bank: Bank, phase: PhaseMemory, seen: Seen, trust: float) -> tuple[Part, ...]:
    """Return the part from the equalising voltage to the tail current, where the hold waits for it."""
    if bank.hold.starts != "at-current" or phase.phase == "holding":
        return ()
    track = phase.track
    tail = tail_current(bank)
    blocked = track.blocked_seconds > T.sealed_for.value or 0.0 < track.rested < T.rested_low.value
    earlier = taught(bank, phase, "finishing", trust)
    usual = (T.finishing_sulfated if blocked else T.finishing_sound).value
    prior = (earlier.times * usual, earlier.doubt(T.finishing_spread.value))
    if phase.phase != "finishing":
        return (Part("finishing", prior[0], math.expm1(prior[1]), -math.expm1(-prior[1])),)
    if track.slow <= tail:
        return (Part("finishing", max(0.0, 0.25 - track.tail_seconds / 3600.0), 0.2),)
    steady_in = max(flat_in(track, piece_noise(phase)), 10.0 - track.finishing_seconds / 3600.0)
    span = left(seen, track.slow, tail, steady_in, prior)
    up = (span.high / max(span.middle, 0.05) - 1.0) / 1.2816
    down = (1.0 - span.low / max(span.middle, 0.05)) / 1.2816
    return (Part("finishing", span.middle, up, down),)
