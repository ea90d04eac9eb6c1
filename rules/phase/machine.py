"""Where a bank is in its revival: one word, and the clocks that hang on it.

Two speeds. Every observation moves the hold clock, sample-exactly, and adds to the present minute. Once a minute
`rules.phase.minute` looks at the smoothed minute, at trends and at the charge returned, and decides.
"""

from __future__ import annotations

from itertools import pairwise

from rules.bank import Bank
from rules.phase.charger import equalise_seen, held_within
from rules.phase.hold import settled
from rules.phase.memory import CHARGING, MINUTE, PHASES, TEN_MINUTES, Live, PhaseMemory, Track, initial
from rules.phase.minute import judge
from rules.phase.observation import Observation
from rules.phase.thresholds import THRESHOLDS as T

__all__ = ["PHASES", "PhaseMemory", "command", "initial", "observe", "running"]

#: Voltage per cell below the equalising voltage that still counts as held [V] (common practice, no source).
#: Beyond so many seconds a current below zero at a charger's voltage is a reversed sign [s].
REVERSED = T.reversed_seconds.value
#: A hold that nobody goes on with for so long, with so little of it missing, is over [s], [1] (common practice, no
#: source).
GIVEN_UP_AFTER, NEARLY_HELD = 86400.0, 0.1
#: Two samples farther apart than three of the meter's usual steps, in these bounds, have not heard what lay between
#: them [1], [s] (assumed).
STEPS_HEARD, SHORTEST_HEARD, LONGEST_HEARD = 3.0, 90.0, 900.0
#: The usual step between samples: the longest first one taken for it [s], and the weight of each in its mean [1]
#: (assumed).
FIRST_STEP, STEP_WEIGHT = 300.0, 0.05
#: Weight of each time between two changes of the current shown in their mean [1] (assumed).
CHANGE_WEIGHT = 0.2
#: What is kept of the largest change of the current shown at each later one [1] (assumed).
STEP_KEPT = 0.9
#: Noise goes to and fro; what goes on in one direction is the bank, or a cloud. Two steps in three of pure noise turn
#: back, so those count one and a half times [1]; each has this weight in the mean [1]; a larger step of the voltage is
#: no noise [V per cell] (weight and largest step assumed).
TURNED, NOISE_WEIGHT, LARGEST_NOISE = 1.5, 0.02, 0.02
#: A voltage that moves by more than this [V per cell], and by more than so many times its noise [1], is taken as it is
#: (assumed).
LEAP, LEAP_NOISE = 0.01, 4.0
#: What moves less is smoothed the more, the larger its noise is beside this [V per cell], in this time [s] (assumed).
SMOOTHED_FROM, SMOOTHED_OVER = 0.004, 120.0
#: Current that certainly flows: a Hall sensor's stray and a little [A] at most, of the charging current [1] or of the
#: rating [C20/h] if that is less (they stray by half an ampere: common practice, no source; shares assumed).
FLOWS, FLOWS_OF_CURRENT, FLOWS_OF_RATING = 0.55, 0.4, 0.003
#: On charge for so long [s], a bank whose voltage stands this close to its minute's [V per cell] is held (assumed).
HELD_FOR, HELD_WITHIN = 300.0, 0.005
#: Fallen by more than this [V per cell], and than so many times its noise [1], a voltage is not held up (assumed).
FALLEN, FALLEN_NOISE = 0.005, 1.5
#: For so long only a charger can keep the voltage up [s] (assumed).
KEPT_UP = 300.0
#: What sums of floating numbers may be off [V per cell].
ROUNDING = 1e-6
#: How far from its minimum a hold may be when a charger switched off because of it: moments [s], or so many steps of
#: the meter [1] (assumed).
MOMENTS, STEPS_SHORT = 120.0, 2.0


def observe(bank: Bank, memory: PhaseMemory, observation: Observation) -> PhaseMemory:
    """Fold one observation into the memory.

    Parameters
    ----------
    bank : Bank
        As arranged at present.
    memory : PhaseMemory
        From the call before, or `initial`.
    observation : Observation
        What the trusted meters show.

    Returns
    -------
    PhaseMemory
        New memory.

    Examples
    --------
    A watched bank at 14.7 V that takes 4 A from a 50 A charger is waking.

    >>> from rules.bank.model import Bank, Block, ChargerSetting
    >>> block = Block("N1", 6, 200.0)
    >>> bank = Bank("north", ((block,),), chargers=(ChargerSetting(14.7, 50.0),))
    >>> memory = initial()
    >>> for minute in range(40):
    ...     memory = observe(bank, memory, Observation(60.0 * minute, 14.7 / 6, 4.0))
    >>> memory.phase
    'waking'
    """
    live = memory.live
    at = observation.at
    volts = observation.volts_per_cell
    amps = observation.current
    if live.at is None or at < live.at:
        return memory._replace(live=Live(at=at, opened=at, volts=volts or 0.0, noise=live.noise))
    step = at - live.at
    if step == 0.0:
        return memory
    period = live.period
    gap = min(LONGEST_HEARD, max(SHORTEST_HEARD, STEPS_HEARD * period)) if period else LONGEST_HEARD
    heard = step <= gap
    period = (period + STEP_WEIGHT * (min(step, LONGEST_HEARD) - period)) if period else min(step, FIRST_STEP)

    noise, smooth, moved = live.noise, live.smooth, 0.0
    if volts is not None:
        moved = volts - live.volts if live.volts else 0.0
        if moved:
            turned = TURNED * min(abs(moved), LARGEST_NOISE) if moved * live.moved < 0.0 else 0.0
            noise += NOISE_WEIGHT * (turned - noise)
        smooth = _smoothed(smooth, volts, noise, step)

    good_at, good_volts, earned = _held(bank, memory, observation, heard, smooth)
    hold_seconds = memory.hold_seconds
    pending, owed = live.pending, live.owed
    phase = memory.phase
    if earned and phase in CHARGING:
        pending += earned
        if memory.woken:
            counts = phase == "holding" or (bank.hold.starts == "at-voltage" and memory.track.past_peak)
            hold_seconds += earned if counts else 0.0
        elif amps is not None and abs(amps) >= memory.track.strong_amps > 0.0:
            owed += earned

    volt_seconds, volt_time = live.volt_seconds, live.volt_time
    amp_seconds, amp_time = live.amp_seconds, live.amp_time
    if heard:
        if volts is not None:
            volt_seconds += volts * step
            volt_time += step
        if amps is not None:
            amp_seconds += amps * step
            amp_time += step
    live = _ammeter(live, amps, step, memory.track.on_seconds >= T.first_minutes.value)._replace(
        at=at, period=period, noise=noise, volts=volts if volts is not None else live.volts, moved=moved or live.moved,
        smooth=smooth, good_at=good_at, good_volts=good_volts, good_last=live.good_last if good_at is None else good_at,
        pending=pending, owed=owed, volt_seconds=volt_seconds, volt_time=volt_time, amp_seconds=amp_seconds,
        amp_time=amp_time,
    )  # fmt: skip
    return _concluded(bank, memory._replace(live=live, hold_seconds=hold_seconds), observation)


def _ammeter(live: Live, amps: float | None, step: float, settled: bool) -> Live:
    """Learn the ammeter's noise, and how often and by how much what it shows changes while a charge goes on."""
    live = live._replace(amp_stood=live.amp_stood + step)
    if amps is None or amps == live.amps:
        return live
    change = amps - live.amps
    turned = TURNED * abs(change) if change * live.amp_moved < 0.0 else 0.0
    live = live._replace(
        amps=amps, amp_moved=change, amp_noise=live.amp_noise + NOISE_WEIGHT * (turned - live.amp_noise)
    )
    if settled:
        weight = CHANGE_WEIGHT if live.amp_period else 1.0
        stood = min(live.amp_stood, LONGEST_HEARD)
        live = live._replace(
            amp_step=max(abs(change), STEP_KEPT * live.amp_step),
            amp_period=live.amp_period + weight * (stood - live.amp_period),
        )
    return live._replace(amp_stood=0.0)


def _smoothed(smooth: float, volts: float, noise: float, step: float) -> float:
    """Return the voltage per cell with the learned noise taken out [V]; it follows a leap at once."""
    if abs(volts - smooth) > max(LEAP, LEAP_NOISE * noise):
        return volts
    weight = max(1.0 / (1.0 + (noise / SMOOTHED_FROM) ** 2), min(1.0, step / SMOOTHED_OVER))
    return smooth + weight * (volts - smooth)


def _concluded(bank: Bank, memory: PhaseMemory, observation: Observation) -> PhaseMemory:
    """Return the memory after what follows from this observation: a minute judged, a cut, the end of the hold."""
    at = observation.at
    if at - memory.live.opened >= MINUTE:
        memory = judge(bank, memory, observation)
        memory = memory._replace(
            live=memory.live._replace(opened=at, volt_seconds=0.0, volt_time=0.0, amp_seconds=0.0, amp_time=0.0)
        )
    if observation.cut and not memory.interrupted and memory.phase in CHARGING:
        memory = memory._replace(interrupted=True)
    if memory.phase == "holding" and memory.hold_seconds >= bank.hold.minimum * 3600.0 - _slack(bank, memory):
        memory = _end_hold(bank, memory, observation)
    return memory


def _held(
    bank: Bank, memory: PhaseMemory, observation: Observation, heard: bool, smooth: float
) -> tuple[float | None, float, float]:
    """Move the edge of the hold clock: last good sample [s], its volts per cell [V], time earned [s].

    A sample is good when the voltage is in the band and current flows. One whose current reads next to nothing while
    the voltage does not fall is doubtful: it earns nothing yet, and the next good sample, or five minutes in which
    only a charger can have kept the voltage up, earn the time back to the last good one. Nobody knows when between two
    samples the voltage came or went: half of the time between them counts, else every cloud would cost a sample.
    """
    live = memory.live
    good_at = live.good_at if heard else None
    if observation.volts_per_cell is None or observation.cut:
        return None, 0.0, 0.0
    track = memory.track
    at = observation.at
    wanted = equalise_seen(bank, track)
    near = smooth >= wanted - T.nearly_there.value
    short = (_at_limit(memory) and (not near or _stays_at_limit(memory, wanted))) or _filling(memory)
    if smooth < wanted - held_within(bank, memory, observation.resolution[0]) - ROUNDING or short:
        return None, 0.0, (0.5 * (at - good_at) if good_at is not None else 0.0)
    amps = observation.current
    if amps is not None and track.reversed_seconds >= REVERSED:
        amps = -amps
    if amps is None or amps > max(FLOWS, min(FLOWS_OF_CURRENT * track.amps, FLOWS_OF_RATING * bank.capacity)):
        came = 0.5 * (at - (live.at or at)) if heard else 0.0
        return at, smooth, (at - good_at if good_at is not None else came)
    if good_at is None:
        on_charge = track.on_seconds >= HELD_FOR and track.off_seconds == 0.0
        steady = on_charge and smooth >= track.volts - HELD_WITHIN
        return (at, smooth, 0.0) if steady else (None, 0.0, 0.0)
    if smooth < live.good_volts - max(FALLEN, FALLEN_NOISE * live.noise, observation.resolution[0]):
        return None, 0.0, 0.0
    if at - good_at > KEPT_UP:
        return at, smooth, at - good_at
    return good_at, live.good_volts, 0.0


def _at_limit(memory: PhaseMemory) -> bool:
    """Tell whether the charger gives all it can: then the voltage is the bank's on its way up, and nothing is held."""
    return memory.set_current > 0.0 and memory.track.amps >= T.limited.value * memory.set_current


def _stays_at_limit(memory: PhaseMemory, wanted: float) -> bool:
    """Tell whether the charger has given all it can for an hour, as near this voltage as one that stands [V per cell].

    A bank that reaches the voltage takes less within the hour. Where gas takes all that the charger gives, a cool night
    lifts the voltage there and a warm day lets it down again: nothing is regulated, and nothing is held.
    """
    run = memory.track.bins[-int(T.hour_pieces.value) + 1 :]
    least, limit = wanted - T.nearly_there.value, T.limited.value * memory.set_current
    long = len(run) >= int(T.hour_pieces.value) - 1
    return long and all([piece.volts >= least and piece.amps >= limit for piece in run])


def _filling(memory: PhaseMemory) -> bool:
    """Tell whether the voltage still climbs, to a ceiling or past one that is none.

    One is the owner's word about a charger that gives more. One was seen while the charger gave all it had: where its
    power is the limit, the voltage sags as the current comes, stands for an hour, and climbs past that hours later. And
    one that was seen is not reached yet while a current that hardly falls, or all that the charger gives, still lifts
    the voltage to it. In the first half hour after a stop nobody knows whether it climbs: all that a charger gives
    whose ceiling was never seen holds nothing until then. Nor does a ceiling that a falling current still lifts, be it
    a cable's drop or a climb that looks like one. It delays the beginning of a hold alone.
    """
    track, count = memory.track, int(T.filling_pieces.value)
    if memory.phase in ("holding", "finishing"):
        return False
    if len(track.bins) < count or track.on_seconds < count * TEN_MINUTES:
        return not track.learned and _at_limit(memory)
    if track.learned and track.volts - track.bins[-count].volts > T.stands.value and not _leaps(track, count):
        return True  # a ceiling seen behind a cable creeps up as the current falls: it is not where it will stand
    if track.learned:
        below = track.volts < memory.ceiling - T.nearly_there.value
        none = below or _at_limit(memory) or track.ceiling_amps >= T.limited.value * memory.set_current > 0.0
    else:
        none = track.volts > memory.ceiling + T.nearly_there.value
    first = track.bins[-count]
    kept = _at_limit(memory) or track.amps >= T.keeps.value * first.amps
    return none and kept and track.volts - first.volts >= T.filling_rise.value


def _leaps(track: Track, count: int) -> bool:
    """Tell whether the voltage rose in one of so many pieces by more than a cable gives back: it was raised."""
    climb = [*[piece.volts for piece in track.bins[-count:]], track.volts]
    return max([after - before for before, after in pairwise(climb)]) > T.creeps.value


def _slack(bank: Bank, memory: PhaseMemory) -> float:
    """Return what may be missing of a hold that a charger switched off for, ten minutes and moments before its end [s].

    One that has been off for a day with hardly anything missing is not coming back: the bank rests, and nothing waits
    for ever.
    """
    if memory.track.off_seconds >= GIVEN_UP_AFTER:
        return NEARLY_HELD * bank.hold.minimum * 3600.0
    return max(MOMENTS, STEPS_SHORT * memory.live.period) if memory.track.off_seconds >= TEN_MINUTES else 0.0


def _end_hold(bank: Bank, memory: PhaseMemory, observation: Observation) -> PhaseMemory:
    """End the hold at its minimum if current has settled and gravity has stopped rising, else at its maximum."""
    given_up = memory.track.off_seconds >= GIVEN_UP_AFTER
    done = (
        given_up
        or memory.hold_seconds >= bank.hold.maximum * 3600.0 - _slack(bank, memory)
        or (settled(memory.track, observation.resolution[1]) and observation.gravity_rising is not True)
    )
    if not done:
        return memory._replace(hold_needed=bank.hold.maximum * 3600.0)
    return _rest(memory._replace(hold_needed=min(memory.hold_seconds, bank.hold.maximum * 3600.0)), observation.at)


def _rest(memory: PhaseMemory, at: float) -> PhaseMemory:
    return memory._replace(phase="resting", since=at, interrupted=False, hold_complete=True, hold_completed_at=at)


def running(memory: PhaseMemory) -> bool:
    """Tell whether a round is on its way to the end of its hold.

    Examples
    --------
    >>> running(initial())
    False
    """
    return memory.phase in CHARGING or (memory.phase == "idle" and memory.started_at is not None)


def command(bank: Bank, memory: PhaseMemory, name: str, at: float) -> PhaseMemory:
    """Return the memory after what a person's act does to the phase.

    Parameters
    ----------
    bank : Bank
        As arranged at present.
    memory : PhaseMemory
        From the call before.
    name : str
        ``start`` a round with new counters, ``resume`` after a stop, ``finish`` the hold early, ``abandon`` the
        round, ``test`` (capacity test begins), ``verdict`` (given). Anything else changes nothing.
    at : float
        When [s].

    Returns
    -------
    PhaseMemory
        New memory.

    Examples
    --------
    >>> from rules.bank.model import Bank, Block
    >>> bank = Bank("north", ((Block("N1", 6, 200.0),),))
    >>> command(bank, initial(), "start", 100.0).started_at
    100.0
    >>> command(bank, initial(), "abandon", 100.0).phase
    'idle'
    """
    fresh = PhaseMemory(since=at, live=memory.live._replace(pending=0.0, owed=0.0, good_at=None))
    if name == "start" and not running(memory):
        rested, rests = _as_it_rested(memory)
        return fresh._replace(
            started_at=at,
            hold_needed=bank.hold.minimum * 3600.0,
            track=Track(
                cells=bank.cells,
                capacity=bank.capacity,
                temperature=memory.track.temperature,
                zero=memory.track.zero,
                zero_seen=memory.track.zero_seen,
                rested=rested,
                rests=rests,
            ),
        )
    if name == "abandon":
        return fresh._replace(stop_awaited=TEN_MINUTES)
    if name == "finish" and running(memory):
        # Ended by a person before its time a hold is over, but not complete.
        whole = memory.hold_seconds >= bank.hold.minimum * 3600.0 - _slack(bank, memory)
        return _rest(memory, at)._replace(hold_complete=whole, hold_completed_at=at if whole else None)
    if name == "test" and memory.phase in ("resting", "finished"):
        return memory._replace(phase="testing", since=at)
    if name == "verdict" and memory.phase in ("resting", "testing", "finished"):
        return memory._replace(phase="finished", since=at)
    return memory


def _as_it_rested(memory: PhaseMemory) -> tuple[float, float]:
    """Return at what the bank rested before a start, a minute ago and at last [V per cell]; 0 where nobody saw it.

    With a relay nothing charges before the start: what the meters showed until then is all that is known of the rest.
    """
    seen = (memory.track.rested, memory.track.rests) if memory.phase == "idle" else (0.0, 0.0)
    return seen if max(seen) <= T.rests_most.value else (0.0, 0.0)
