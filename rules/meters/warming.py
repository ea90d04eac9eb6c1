"""Warm is normal, hot stops the work: how fast the electrolyte warms, and whether current and heat feed each other."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

#: Length of one step of the memory, and how many are kept: 2 h and a little [s], [1].
STEP, KEPT = 300.0, 26
#: Half-hour means kept for what goes slowly: six hours and one [1], [s].
HALVES, HALF = 13, 1800.0
#: A step that nobody closed for so long ends the memory: what is joined over a gap is no trend [s].
FORGOTTEN_AFTER = 4 * STEP
#: Steps in half an hour, and the fewest that tell a rate [1].
HALF_HOUR, RATE_STEPS = 6, 3
#: Over which the warming rate is taken, and over which a runaway must show [s].
RATE_SPAN, RUNAWAY_SPAN = 1800.0, 7200.0
#: Rates of electrolyte that warn and that trip [K/h] (common practice, no source).
RATE_WARNING, RATE_LIMIT = 5.0, 8.0
#: Every ten minutes of that half hour the electrolyte itself must have gone on warming, by so much of the limit [1].
GOES_ON = 0.5
#: Runaway: growth of the 30-min mean current over its lowest [1], or within the same two hours in which the electrolyte
#: warms [1]: 3 K make 20 % of gas (6 % a kelvin: Schiffer and others, J. Power Sources 168 (2007) 66); warming [K].
RUNAWAY_GROWTH, RUNAWAY_TOGETHER, RUNAWAY_WARMING = 1.30, 1.18, 3.0
#: Slow runaway: current over its lowest [1], and warming over six hours that still goes on [K] (assumed).
SLOW_GROWTH, SLOW_WARMING, STILL_WARMING = 2.0, 2.0, 0.3
#: Where the equalising voltage is held no string wakes any more, and only warmth may make the current grow, by 6 % a
#: kelvin: more than the first over its lowest, and by the second more than that warmth explains, is a runaway however
#: long it takes, up to six hours [1] (6 %: Schiffer and others, as above; the rest assumed).
HELD_GROWTH, UNEXPLAINED, PER_KELVIN = 1.30, 1.18, 0.06
#: A current that has fallen so far below its highest half hour since its lowest does not run away: a waking bank's has
#: passed its peak [1] (2 % of scatter, assumed). What flowed before the lowest was a taper, and hides no runaway.
STILL_GROWS = 0.98
#: "Steady voltage" during a runaway: spread over the span per cell [V].
STEADY = 0.03


class Step(NamedTuple):
    """Means over five minutes: electrolyte [degC], whatever the air does; current [A]; volts per cell [V]."""

    at: float
    excess: float
    current: float
    volts: float


class Thermal(NamedTuple):
    """Two hours of warmth.

    Attributes
    ----------
    steps : tuple of Step
        Newest last.
    opened_at : float
        When the step being filled began [s since the epoch].
    excess, current, volts : float
        Its sums.
    looks, amp_looks : int
        How many went into them, and how many of these knew the current.
    with_ambient : bool
        An older version kept the excess over the air: such a memory starts afresh.
    lowest : float
        Lowest 30-minute mean current since the taper [A]; 0 = none yet.
    rate : float or None
        Warming over the last half hour [K/h].
    halves : tuple of Step
        Half-hour means of the last six hours, newest last.
    lowest_volts : float
        At what voltage the lowest flowed [V per cell]: a charger that is raised begins a new taper.
    probes : tuple of str
        The thermometers that the newest look was taken with.
    shown : float
        What they showed [degC].
    levels : dict
        Each set of thermometers seen so far -> by how much what was remembered has moved for it [K].
    """

    steps: tuple[Step, ...] = ()
    opened_at: float = 0.0
    excess: float = 0.0
    current: float = 0.0
    volts: float = 0.0
    looks: int = 0
    with_ambient: bool = False
    lowest: float = 0.0
    rate: float | None = None
    halves: tuple[Step, ...] = ()
    lowest_volts: float = 0.0
    amp_looks: int = 0
    probes: tuple[str, ...] = ()
    shown: float = 0.0
    levels: dict[str, float] = {}


def observe(
    thermal: Thermal,
    at: float,
    temperature: float | None,
    current: float | None,
    volts_per_cell: float | None,
    standing: bool,
    probes: Mapping[str, float] | None = None,
) -> Thermal:
    """Take one look into the memory.

    Parameters
    ----------
    thermal : Thermal
        So far.
    at : float
        [s since the epoch].
    temperature : float or None
        Of the electrolyte [degC]: a door that opens cools the air, and warms nothing.
    current : float or None
        Into the bank [A]. A silent ammeter says nothing of it: then the current is taken to stand where it stood, for a
        nought would be a lowest from which everything has grown.
    volts_per_cell : float or None
        [V].
    standing : bool
        The bank has woken, is charging, and its voltage stands at a ceiling of the charger.
    probes : mapping, optional
        What each thermometer shows that the temperature is the hottest of [degC].

    Returns
    -------
    Thermal
        With this look in it.
    """
    if temperature is None:
        return thermal
    if thermal.with_ambient or at - thermal.opened_at > FORGOTTEN_AFTER:
        thermal = Thermal(opened_at=at)
    thermal = _by(thermal, probes or {}, temperature)
    volts = volts_per_cell if volts_per_cell is not None else 0.0
    thermal = Thermal(
        thermal.steps,
        thermal.opened_at,
        thermal.excess + temperature,
        thermal.current + (current or 0.0),
        thermal.volts + volts,
        thermal.looks + 1,
        False,
        thermal.lowest,
        thermal.rate,
        thermal.halves,
        thermal.lowest_volts,
        thermal.amp_looks + (current is not None),
        thermal.probes,
        temperature,
        thermal.levels,
    )
    if at - thermal.opened_at < STEP:
        return thermal
    return _close_step(thermal, at, standing)


def _by(thermal: Thermal, probes: Mapping[str, float], temperature: float) -> Thermal:
    """Return what is remembered as the thermometers of now would have shown it: a trend is taken within one meter.

    What one shows more than another is no warming, and what each has warmed by stays. One that falls silent and comes
    back is held against what it showed itself.

    Examples
    --------
    An acid of 18 degC that warmed by 1 K; then a second probe is read, in a cell of 22 degC:

    >>> before = Thermal((Step(0.0, 17.0, 5.0, 2.4), Step(300.0, 18.0, 5.0, 2.4)), probes=("a",), shown=18.0)
    >>> [step.excess for step in _by(before, {"a": 18.0, "b": 22.0}, 22.0).steps]
    [21.0, 22.0]
    """
    names = tuple(sorted(probes))
    if names == thermal.probes or not names:
        return thermal
    if not thermal.probes:
        return thermal._replace(probes=names, levels={" + ".join(names): 0.0})
    # What was read before and still is says it of now, else the last look of it.
    goes_on = all(name in probes for name in thermal.probes)
    before = max(probes[name] for name in thermal.probes) if goes_on else thermal.shown
    level, known = thermal.levels.get(" + ".join(thermal.probes), 0.0), thermal.levels.get(" + ".join(names))
    moved = temperature - before if known is None else known - level
    return thermal._replace(
        steps=tuple([step._replace(excess=step.excess + moved) for step in thermal.steps]),
        halves=tuple([step._replace(excess=step.excess + moved) for step in thermal.halves]),
        excess=thermal.excess + moved * thermal.looks,
        probes=names,
        levels={**thermal.levels, " + ".join(names): level + moved},
    )


def _close_step(thermal: Thermal, at: float, standing: bool) -> Thermal:
    count = thermal.looks
    stood = thermal.steps[-1].current if thermal.steps else 0.0
    current = thermal.current / thermal.amp_looks if thermal.amp_looks else stood
    step = Step(at, thermal.excess / count, current, thermal.volts / count)
    steps = (*thermal.steps, step)[-KEPT:]
    recent = [each for each in steps if each.at > at - RATE_SPAN - STEP]
    rate = None
    if len(recent) >= RATE_STEPS:
        rate = 3600.0 * (recent[-1].excess - recent[0].excess) / (recent[-1].at - recent[0].at)
    lowest, lowest_volts, halves = 0.0, 0.0, thermal.halves
    if standing:
        lowest, lowest_volts = thermal.lowest, thermal.lowest_volts
        # Only at a steady voltage: a pause, or the minutes before the ceiling was reached, were no taper.
        if len(steps) >= HALF_HOUR and _steady(steps[-HALF_HOUR:]):
            mean = sum(each.current for each in steps[-HALF_HOUR:]) / HALF_HOUR
            volts = sum(each.volts for each in steps[-HALF_HOUR:]) / HALF_HOUR
            # An older version did not remember at what voltage: then at this one.
            lowest_volts = lowest_volts or volts
            if lowest == 0.0 or mean < lowest or volts > lowest_volts + STEADY:
                lowest, lowest_volts = mean, volts
    if not halves or at - halves[-1].at >= HALF:
        halves = (*halves, step)[-HALVES:]
    kept = (thermal.probes, thermal.shown, thermal.levels)
    return Thermal(steps, at, 0.0, 0.0, 0.0, 0, False, lowest, rate, halves, lowest_volts, 0, *kept)


def _steady(steps: tuple[Step, ...]) -> bool:
    volts = [step.volts for step in steps]
    return max(volts) - min(volts) <= STEADY


def warming_too_fast(thermal: Thermal) -> float | None:
    """Return the rate [K/h] if the electrolyte rose faster than the limit for half an hour, all of it, else None."""
    steps = thermal.steps
    if thermal.rate is None or thermal.rate <= RATE_LIMIT or len(steps) <= HALF_HOUR:
        return None
    half_hour = steps[-HALF_HOUR - 1 :]
    pieces = zip(half_hour[:-2:2], half_hour[2::2], strict=True)
    least = GOES_ON * RATE_LIMIT / 3600.0
    goes_on = all(later.excess - earlier.excess >= least * (later.at - earlier.at) for earlier, later in pieces)
    return thermal.rate if goes_on and half_hour[-1].at - half_hour[0].at >= RATE_SPAN - 1.0 else None


def runaway(thermal: Thermal, peaked: bool, held: bool) -> tuple[float, float] | None:
    """Return mean current and what it is held against [A] when current and heat climb together, else None.

    Parameters
    ----------
    thermal : Thermal
        Its `lowest` is only kept while the voltage stands at a ceiling of a bank that has woken: a revival climbs, too.
    peaked : bool
        Its current has fallen from the peak of its waking: one that only now wakes grows for hours, and warms by that.
    held : bool
        That ceiling is the equalising voltage.
    """
    steps = thermal.steps
    if thermal.lowest <= 0.0 or len(steps) < HALF_HOUR or not _steady(steps[-HALF_HOUR:]):
        return None
    mean = sum(each.current for each in steps[-HALF_HOUR:]) / HALF_HOUR
    # Before its peak there was no taper to run away from.
    found = _fast(thermal, mean) if peaked else None
    if found is None and peaked and _still_grows(thermal, mean):
        found = _slow(thermal, mean) or (_unexplained(thermal, mean) if held else None)
    return found


def _still_grows(thermal: Thermal, mean: float) -> bool:
    """Tell whether a current stands at its highest since the lowest half hour of the last six hours.

    Examples
    --------
    A taper that runs away after its lowest, and a waking that has passed its peak:

    >>> tapered, woken = (30.0, 12.0, 5.0, 7.0), (2.0, 4.0, 8.0, 7.0)
    >>> [_still_grows(Thermal(halves=tuple(Step(0.0, 25.0, a, 2.6) for a in amps)), 7.2) for amps in (tapered, woken)]
    [True, False]
    """
    amps = [half.current for half in thermal.halves]
    since = amps[amps.index(min(amps)) :] if amps else []
    return mean >= STILL_GROWS * max(since, default=0.0)


def _fast(thermal: Thermal, mean: float) -> tuple[float, float] | None:
    """Find a current that grew with an electrolyte 3 K warmer within two hours, or stands over its lowest."""
    steps = thermal.steps
    oldest = next(each for each in steps if each.at >= steps[-1].at - RUNAWAY_SPAN - STEP)
    if steps[-1].excess - oldest.excess < RUNAWAY_WARMING:
        return None
    if mean >= RUNAWAY_GROWTH * thermal.lowest:
        return mean, thermal.lowest
    earlier = [
        each.current for each in steps if each.at <= oldest.at + HALF and abs(each.volts - steps[-1].volts) <= STEADY
    ]
    before = sum(earlier) / len(earlier) if len(earlier) >= HALF_HOUR else 0.0
    together = before > 0.0 and mean >= RUNAWAY_TOGETHER * before and mean >= RUNAWAY_TOGETHER * thermal.lowest
    return (mean, before) if together else None


def _slow(thermal: Thermal, mean: float) -> tuple[float, float] | None:
    """Find a current that has doubled at a constant voltage while the electrolyte still warms after six hours of it."""
    halves = thermal.halves
    if mean < SLOW_GROWTH * thermal.lowest or len(halves) < HALVES:
        return None
    now = thermal.steps[-1]
    constant = all(abs(each.volts - now.volts) <= STEADY for each in halves)
    warms = now.excess - halves[0].excess >= SLOW_WARMING and now.excess - halves[-3].excess >= STILL_WARMING
    return (mean, thermal.lowest) if constant and warms else None


def _unexplained(thermal: Thermal, mean: float) -> tuple[float, float] | None:
    """Find a current that has grown more than the warmth since its lowest half hour explains, and a bank still warming.

    Examples
    --------
    >>> climb = [Step(1800.0 * n, 25.0 + 0.5 * n, 20.0 + 1.5 * n, 2.6) for n in range(8)]
    >>> thermal = Thermal(steps=tuple(climb[-6:]), lowest=20.0, halves=tuple(climb))
    >>> _unexplained(thermal, 30.5), _unexplained(thermal, 28.0)
    ((30.5, 20.0), None)
    """
    now = thermal.steps[-1]
    # Over a pause too: what the bank took before it at this voltage is what it takes.
    stay = [half for half in thermal.halves if abs(half.volts - now.volts) <= STEADY]
    lowest = min(stay, key=lambda half: half.current, default=now)
    warmer = now.excess - lowest.excess
    enough = SLOW_WARMING if mean >= SLOW_GROWTH * lowest.current else RUNAWAY_WARMING
    if lowest.current <= 0.0 or warmer < enough or now.excess - stay[-min(3, len(stay))].excess < STILL_WARMING:
        return None
    # What was drawn in a pause flows back first, and less and less of it.
    paused = any(half.at > lowest.at and half not in stay for half in thermal.halves)
    grows = not paused or mean >= UNEXPLAINED * thermal.lowest
    grown = mean >= lowest.current * max(HELD_GROWTH, UNEXPLAINED * math.exp(PER_KELVIN * warmer))
    return (mean, lowest.current) if grown and grows else None
