"""Hours left to the end of the hold, with a band and a reason; no number where there is nothing to reckon from."""

from __future__ import annotations

import math
from typing import NamedTuple

from rules.bank import Bank
from rules.phase import CHARGING, LONGEST, Observation, PhaseMemory, expected_current
from rules.remaining import calibration
from rules.remaining.calibration import TENTH, Hours
from rules.remaining.daily_pattern import Pattern, clock, learn, runs
from rules.remaining.experience import lesson_of, said, still_trusted
from rules.remaining.parts import BLOCKING, JUST_BEGUN, STAGE_OF, TAKES, Part, hold_hours, parts, taught
from rules.remaining.taper import Points, Seen, keep
from rules.remaining.thresholds import THRESHOLDS as T

#: Said instead of `JUST_BEGUN` where charging has stopped again before there was an estimate.
STANDS_STILL = "charging stands still before a first estimate could be made"


class Estimate(NamedTuple):
    """Hours to the end of the hold.

    Attributes
    ----------
    hours, low, high : float or None
        Charging hours: middle, 10 %, 90 % [h]; ``None`` where there is no basis.
    clock_hours, clock_low, clock_high : float or None
        The same by the clock, nights and stops included [h].
    reason : str
        What it rests on, or why there is none.
    energy : float or None
        Energy still needed at the bank [kWh].
    """

    hours: float | None = None
    low: float | None = None
    high: float | None = None
    clock_hours: float | None = None
    clock_low: float | None = None
    clock_high: float | None = None
    reason: str = "no round"
    energy: float | None = None


class Foretold(NamedTuple):
    """A prediction that waits for its judgement, in charging hours of this round [h].

    Attributes
    ----------
    made, judged : float
        When it was made, and when it is looked at again.
    early, late : float
        The end that it gave as 10 % and 90 %.
    """

    made: float
    judged: float
    early: float
    late: float


class RemainingMemory(NamedTuple):
    """What the estimate remembers between two minutes.

    Attributes
    ----------
    estimate : Estimate
        Latest.
    at : float or None
        When it was made [s].
    pattern : Pattern
        On and off.
    source, source_seconds, rated : float
        What the charger has given lately where it was the limit [A]: less than its rating under a weak sun; for how
        long that was seen [s]; and the charger's current then [A].
    before, spread : float
        Charging hours before the hold, negative where unknown [h], and their relative spread [1].
    parts : str
        What these hours are made of, for people.
    phase : str
        Phase at the last estimate.
    lowest : float
        Lowest middle estimate since the last rise that was explained, less the charging since [h].
    looked : float
        When the taper was last followed [s].
    why, why_until, why_from : str, float, float
        Reason for the last rise, until when it is told [s], and from how many hours it rose: once they have passed, a
        rise is told no more [h].
    down : float
        Relative spread of `before` downward [1].
    taper, taper_hours : tuple of Point, float
        Currents at the equalising voltage before the hold, and charging hours there [h], [A].
    made : tuple of Foretold
        Predictions of this round that wait for their judgement.
    charged : float
        Charging hours of this estimate's memory [h].
    wide : float
        What misses of this round have widened its bands by, as a logarithm [1].
    coolest : float or None
        Lowest electrolyte temperature of this round [degC].
    trust : float
        What this round has left of the trust in the bank's experience [1].
    reckoned, entered : float
        Hours of the present stage as reckoned at its first estimate without experience, 0 = not yet [h], and charging
        hours then [h].
    """

    estimate: Estimate = Estimate()
    at: float | None = None
    pattern: Pattern = Pattern()
    source: float = 0.0
    before: float = -1.0
    spread: float = 0.0
    parts: str = ""
    phase: str = "idle"
    lowest: float = 0.0
    looked: float = 0.0
    why: str = ""
    why_until: float = 0.0
    down: float = 0.0
    taper: Points = ()
    taper_hours: float = 0.0
    made: tuple[Foretold, ...] = ()
    charged: float = 0.0
    wide: float = 0.0
    coolest: float | None = None
    trust: float = T.trusted_first.value
    reckoned: float = 0.0
    entered: float = 0.0
    source_seconds: float = 0.0
    rated: float = 0.0
    why_from: float = 0.0


def initial() -> RemainingMemory:
    """Return a memory that has estimated nothing yet.

    Examples
    --------
    >>> initial().estimate.hours is None
    True
    """
    return RemainingMemory()


def observe(bank: Bank, phase: PhaseMemory, memory: RemainingMemory, observation: Observation) -> RemainingMemory:
    """Renew the estimate once a minute.

    Parameters
    ----------
    bank : Bank
        As arranged.
    phase : PhaseMemory
        After this observation.
    memory : RemainingMemory
        From the call before, or `initial`.
    observation : Observation
        Latest.

    Returns
    -------
    RemainingMemory
        With `estimate`.

    Examples
    --------
    >>> from rules.bank.model import Bank, Block
    >>> bank = Bank("north", ((Block("N1", 6, 200.0),),))
    >>> observe(bank, PhaseMemory(), initial(), Observation(0.0, 2.1, 0.0)).estimate.reason
    'no round'
    """
    at = observation.at
    if memory.at is not None and 0.0 <= at - memory.at < T.renewed.value and phase.phase == memory.phase:
        return memory
    seconds = at - memory.at if memory.at is not None and 0.0 <= at - memory.at <= T.no_gap.value else 0.0
    if phase.phase not in CHARGING:
        return RemainingMemory(Estimate(reason=_idle(phase)), at, phase=phase.phase)
    track = phase.track
    charging = track.off_seconds == 0.0 and not phase.interrupted
    pattern = learn(memory.pattern, at, seconds, charging, _of_use(bank, phase)) if seconds else memory.pattern
    source, shown = memory.source, memory.source_seconds
    if phase.set_current > T.another_charger.value * memory.rated:
        source, shown = 0.0, 0.0
    if seconds and charging and phase.woken and phase.ceiling and track.volts < phase.ceiling - T.clear_of_top.value:
        # What is written on the charger says nothing of its source: only what was seen counts, the first hours fully.
        shown = min(T.source_over.value, shown + seconds)
        source += (track.amps - source) * min(1.0, seconds / shown)
    passed = seconds / 3600.0 if charging else 0.0
    lowest = max(0.0, memory.lowest - passed)
    memory = memory._replace(
        at=at, pattern=pattern, source=source, source_seconds=shown, rated=phase.set_current, lowest=lowest,
        charged=memory.charged + passed,
        coolest=track.temperature if memory.coolest is None else min(memory.coolest, track.temperature),
    )  # fmt: skip
    if phase.phase != memory.phase:
        memory = _told_by(bank, phase, memory)
    if phase.phase == "finishing" and charging:
        hours = memory.taper_hours + passed
        taper = memory.taper
        if track.on_seconds >= T.settled_run.value or not taper:
            taper = keep(taper, hours, track.slow, track.temperature)
        memory = memory._replace(taper_hours=hours, taper=taper)
    known = memory.before >= 0.0 and phase.phase == memory.phase
    if known and (not charging or track.on_seconds < T.after_stop.value) and pattern.stops and phase.phase != "holding":
        # A stop says nothing new about the bank, and its first minutes after one little.
        return _express(bank, phase, memory._replace(before=max(0.0, memory.before - passed)), observation)
    if known and phase.phase == "finishing" and memory.looked and at - memory.looked < T.looks.value:
        return _express(bank, phase, memory._replace(before=max(0.0, memory.before - passed)), observation)
    memory = memory._replace(looked=at)
    coming = parts(
        bank, phase, observation, _usual(bank, phase, source), _stay(phase, memory, observation), memory.trust
    )
    if isinstance(coming, str):
        return memory._replace(estimate=Estimate(reason=coming), phase=phase.phase, before=-1.0)
    if not memory.reckoned and bank.experience.lessons:
        own = sum(part.hours for part in coming if STAGE_OF[part.name] == phase.phase)
        times = taught(bank, phase, phase.phase, memory.trust).times
        memory = memory._replace(reckoned=own / times, entered=memory.charged)
    before = sum(part.hours for part in coming)
    spread = math.sqrt(sum((part.hours * part.spread) ** 2 for part in coming)) / before if before else 0.0
    down = math.sqrt(sum([(part.hours * _down(part)) ** 2 for part in coming])) / before if before else 0.0
    if known and memory.before > 0.0 and before:
        kept = max(0.02, memory.before - passed)
        before = kept * (max(before, 0.02) / kept) ** (0.3 if phase.phase == "finishing" else 0.05)
    # What is said of the parts adds up to what is said of them together.
    memory = memory._replace(before=before, spread=spread, down=down)
    ahead = _ahead(bank, phase, memory)
    whole = sum(part.hours for part in coming)
    of_all = ahead.middle / whole if whole else 1.0
    words = ", ".join(
        f"{of_all * part.hours:.1f} h {part.name}" for part in coming if of_all * part.hours >= T.named_part.value
    )
    return _express(bank, phase, memory._replace(parts=words), observation)


def _down(part: Part) -> float:
    """Return spread downward: as upward on a scale of ratios, where it is not known apart."""
    return part.down if part.down >= 0.0 else part.spread / (1.0 + part.spread)


#: Stages whose first estimate foretells them and no other: the one of a waking bank holds its reviving too, and a taper
#: is followed from its first minute.
TELLING = ("reviving", "bulk", "absorbing")


def _told_by(bank: Bank, phase: PhaseMemory, memory: RemainingMemory) -> RemainingMemory:
    """Look back at the stage that has ended: it tells how far the bank's experience is to be trusted for the rest."""
    trust = memory.trust
    if memory.phase in TELLING and memory.reckoned:
        took = (memory.charged - memory.entered, memory.reckoned)
        part = lesson_of(memory.phase, memory.phase)
        trust = still_trusted(bank.experience, phase.track.rested, part, trust, took)
    return memory._replace(trust=trust, reckoned=0.0)


def _stay(phase: PhaseMemory, memory: RemainingMemory, observation: Observation) -> Seen:
    """Return the stay at the equalising voltage; without its air, the coolest that a bank was is what it cools to."""
    temperature = phase.track.temperature
    still = memory.coolest if observation.ambient is None else observation.ambient
    above = 0.0 if still is None else max(0.0, temperature - still)
    return Seen(memory.taper, memory.taper_hours, temperature, above, runs(memory.pattern))


def _judged(memory: RemainingMemory, hours: float, low: float, high: float) -> RemainingMemory:
    """Look back at what this round foretold: an end outside an older band widens the next, one inside narrows them.

    That is adaptive conformal inference (Gibbs and Candes 2021) with the present middle standing for the truth, which
    nobody knows before the hold is over.
    """
    now = memory.charged
    wide = memory.wide
    waiting = []
    for foretold in memory.made:
        if now < foretold.judged:
            waiting.append(foretold)
        else:
            missed = not foretold.early <= now + hours <= foretold.late
            wide += T.learns.value * (missed - T.misses.value)
    if not waiting or now >= waiting[-1].made + max(0.5, T.judged_after.value * T.foretold_share.value * hours):
        waiting.append(Foretold(now, now + max(0.5, T.judged_after.value * hours), now + low, now + high))
    wide = min(T.widest.value, max(T.narrowest.value, wide))
    return memory._replace(made=tuple(waiting[-24:]), wide=wide)


def _of_use(bank: Bank, phase: PhaseMemory) -> bool | None:
    """Tell whether this charging would serve a hold: at its voltage, or, before it, with the current to get there."""
    if phase.phase in ("holding", "finishing"):
        return phase.live.good_at is not None
    track = phase.track
    if phase.phase == "absorbing":
        return track.below_seconds == 0.0
    weak = track.below_seconds > 0.0 and track.amps < T.of_no_use.value * expected_current(bank, phase)
    return False if weak and phase.woken else None


def _usual(bank: Bank, phase: PhaseMemory, source: float) -> float:
    """Return the current to reckon with: the charger's, or what its source has given lately [A]."""
    current = phase.set_current or expected_current(bank, phase)
    if phase.phase in ("bulk", "holding") and (not source or source >= T.own_amps.value * current):
        return phase.track.amps
    return source or current


#: Why there are no hours where the charger was left on after a round's end.
STILL_ON = "the round is over, and the charger is still on"
#: Why there are no hours outside charging; at rest it depends on the hold.
_NOT_CHARGING = {"testing": "a capacity test runs", "finished": "the round is over"}


def _idle(phase: PhaseMemory) -> str:
    if phase.phase == "idle":
        return "no round" if phase.started_at is None else "the round is started, and charging has not begun"
    if phase.phase == "resting":
        return "the bank rests; " + ("the hold is complete" if phase.hold_complete else "the hold was not completed")
    return _NOT_CHARGING[phase.phase]


def told_now(phase: PhaseMemory, estimate: Estimate, charging: bool | None, begun: bool = False) -> Estimate:
    """Return what may be said of the hours now: a person's word or a cut may have come since they were reckoned.

    Parameters
    ----------
    phase : PhaseMemory
        As it is now.
    estimate : Estimate
        The latest.
    charging : bool or None
        The bank is seen to be charged at this moment, or seen not to be; the phase hears of it with the next whole
        minute. `None` where neither is seen.
    begun : bool
        The round's first current has flowed, and its phase is not judged yet.

    Examples
    --------
    >>> told_now(PhaseMemory(started_at=1795590000.0), Estimate(), False).reason
    'the round is started, and charging has not begun'
    >>> told_now(PhaseMemory(started_at=1795590000.0), Estimate(), False, True).reason == STANDS_STILL
    True
    >>> told_now(PhaseMemory(started_at=1795590000.0), Estimate(), True, True).reason
    'the charger has only just begun; hours are reckoned from its first 20 min of charging, not before'
    """
    if phase.phase not in CHARGING:
        # A bank that current flows into does not rest, whoever ended its round.
        fed = charging and phase.phase == "resting"
        if begun:
            return Estimate(reason=JUST_BEGUN if charging else STANDS_STILL)
        return Estimate(reason=STILL_ON if fed else _idle(phase))
    stands = not charging and (phase.interrupted or phase.track.off_seconds > 0.0 or charging is False)
    seen_before = estimate.reason.startswith((JUST_BEGUN, BLOCKING, TAKES))
    return estimate._replace(reason=STANDS_STILL) if seen_before and stands else estimate


def _express(bank: Bank, phase: PhaseMemory, memory: RemainingMemory, observation: Observation) -> RemainingMemory:
    """Add the hold, walk through the coming days, put it into words."""
    at, pattern, before = observation.at, memory.pattern, memory.before
    hold, doubt = hold_hours(bank, phase)
    # Even a clock is only as sure as the samples that started it.
    blur = 0.05 + 8.0 * (phase.live.noise + 0.5 * observation.resolution[0])
    ahead = _ahead(bank, phase, memory)
    rough = (0.6, 1.4) if pattern.seen else (0.1, 2.5)
    if 0.0 < memory.source < T.little_source.value * (phase.set_current or math.inf):
        # The sun keeps no timetable: some of the coming hours will be of no use.
        rough, doubt = (0.4, 2.0), math.hypot(doubt, 0.06 * hold)
    held = _begun(bank, phase, hold, math.hypot(TENTH * doubt, blur))
    hours, clock_hours = clock(pattern, at, ahead.middle, held.middle, 1.0)
    low, clock_low = clock(pattern, at, ahead.low, held.low, rough[0])
    high, clock_high = clock(pattern, at, ahead.high, held.high, rough[1])
    # Where the unlucky tenth of these walks finds no end, it ends with the longest round, and the middle stands.
    longest = max(clock_hours, LONGEST - (at - (phase.started_at or at)) / 3600.0)
    high, clock_high = min(high, max(hours, longest)), min(clock_high, longest)
    finite = math.isfinite(clock_hours)
    why, until, lowest, rose_from = memory.why, memory.why_until, memory.lowest, memory.why_from
    if memory.estimate.hours is None:
        lowest = hours
    elif hours > T.goes_up.value * lowest + T.goes_up_least.value:
        why, until = f"up from {lowest:.0f} h: {_cause(phase, memory)}", at + T.said_for.value
        rose_from, lowest = lowest, hours
    lowest = min(lowest, hours)
    reason = _sentence(bank, phase, memory)
    if at < until and round(hours) > round(rose_from):
        reason = f"{reason} ({why})"
    if before > 0.0:
        memory = _judged(memory, hours, low, high)
    current = phase.set_current or memory.source or phase.track.amps
    ampere_hours = ahead.middle * current + hold * min(current, 0.025 * bank.capacity)
    estimate = Estimate(
        hours, low, high,
        clock_hours if finite else None, clock_low if finite else None, clock_high if finite else None,
        reason, ampere_hours * 2.5 * bank.cells / 1000.0,
    )  # fmt: skip
    return memory._replace(
        estimate=estimate, phase=phase.phase, lowest=lowest, why=why, why_until=until, why_from=rose_from
    )


def _ahead(bank: Bank, phase: PhaseMemory, memory: RemainingMemory) -> Hours:
    """Return low, middle and high of the hours before the hold [h]."""
    known = taught(bank, phase, phase.phase, memory.trust).weight if bank.experience.lessons else 0.0
    current = expected_current(bank, phase)
    if 0.0 < memory.source < T.little_source.value * current:
        # A charger of 25 A on a sun that gives 3 takes as long as one of 3 A.
        current = memory.source
    rating = bank.capacity / current
    return calibration.before(phase.phase, memory.before, memory.spread, memory.down, memory.wide, rating, known)


def _begun(bank: Bank, phase: PhaseMemory, left: float, doubt: float) -> Hours:
    """Return low, middle and high of what is left of the hold [h], where `left` stands on the clock [h].

    One that runs may have begun earlier or later than was seen; `doubt` is what else is not known [h].
    """
    if phase.phase != "holding" or phase.hold_seconds <= 0.0:
        return Hours(max(0.0, left - doubt), left, left + doubt)
    begun = calibration.HOLDS[bank.hold.starts]
    early, late = begun.early * bank.hold.minimum, begun.late * bank.hold.minimum
    return Hours(max(0.0, left - math.hypot(early, doubt)), left, left + math.hypot(late, doubt))


def _cause(phase: PhaseMemory, memory: RemainingMemory) -> str:
    if phase.phase != memory.phase:
        return f"the bank is {phase.phase} now"
    if memory.pattern.off_seconds or phase.track.on_seconds < T.just_on.value:
        return "charging was interrupted"
    return "it takes charge more slowly than expected"


def _sentence(bank: Bank, phase: PhaseMemory, memory: RemainingMemory) -> str:
    held, needed = phase.hold_seconds / 3600.0, phase.hold_needed / 3600.0
    if phase.phase == "holding" and not memory.parts:
        return f"{held:.1f} h of the {needed:.0f} h hold are done; the rest is a clock"
    told = f"about {memory.parts or 'no time'} before the {needed:.0f} h hold, from charge returned, voltage and trend"
    named = tuple(dict.fromkeys([stage for name, stage in STAGE_OF.items() if f" h {name}" in memory.parts]))
    earlier = said(bank.experience, phase.track.rested, phase.phase, named, memory.trust)
    return f"{told}; {earlier}" if earlier else told
