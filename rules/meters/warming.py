"""Warm is normal, hot stops the work: how fast the electrolyte warms, and whether current and heat feed each other."""

from __future__ import annotations

from typing import NamedTuple

#: Length of one step of the memory, and how many are kept: 2 h and a little [s], [1].
STEP, KEPT = 300.0, 26
#: Over which the warming rate is taken, and over which a runaway must show [s].
RATE_SPAN, RUNAWAY_SPAN = 1800.0, 7200.0
#: Rates of electrolyte that warn and that trip [K/h] (common practice, no source).
RATE_WARNING, RATE_LIMIT = 5.0, 8.0
#: Every ten minutes of that half hour the electrolyte itself must have gone on warming, by so much of the limit [1].
GOES_ON = 0.5
#: Runaway: growth of the 30-min mean current over its lowest, and warming of the electrolyte in 2 h [K].
RUNAWAY_GROWTH, RUNAWAY_WARMING = 1.30, 3.0
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
    looks : int
        How many went into them.
    with_ambient : bool
        An older version kept the excess over the air: such a memory starts afresh.
    lowest : float
        Lowest 30-minute mean current since the taper [A]; 0 = none yet.
    rate : float or None
        Warming over the last half hour [K/h].
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


def observe(
    thermal: Thermal,
    at: float,
    temperature: float | None,
    current: float,
    volts_per_cell: float | None,
    tapering: bool,
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
    current : float
        Into the bank [A].
    volts_per_cell : float or None
        [V].
    tapering : bool
        Phase is finishing or holding and charging is not interrupted.
    """
    if temperature is None:
        return thermal
    if thermal.with_ambient or at - thermal.opened_at > 4 * STEP:
        thermal = Thermal(opened_at=at)
    volts = volts_per_cell if volts_per_cell is not None else 0.0
    thermal = Thermal(
        thermal.steps,
        thermal.opened_at,
        thermal.excess + temperature,
        thermal.current + current,
        thermal.volts + volts,
        thermal.looks + 1,
        False,
        thermal.lowest,
        thermal.rate,
    )
    if at - thermal.opened_at < STEP:
        return thermal
    return _close_step(thermal, at, tapering)


def _close_step(thermal: Thermal, at: float, tapering: bool) -> Thermal:
    count = thermal.looks
    step = Step(at, thermal.excess / count, thermal.current / count, thermal.volts / count)
    steps = (*thermal.steps, step)[-KEPT:]
    recent = [each for each in steps if each.at > at - RATE_SPAN - STEP]
    rate = None
    if len(recent) >= 3 and recent[-1].at - recent[0].at >= 2 * STEP:
        rate = 3600.0 * (recent[-1].excess - recent[0].excess) / (recent[-1].at - recent[0].at)
    lowest = 0.0
    if tapering:
        lowest = thermal.lowest
        # Only at a steady voltage: a pause, or the minutes before the ceiling was reached, were no taper.
        if len(steps) >= 6 and _steady(steps[-6:]):
            mean = sum(each.current for each in steps[-6:]) / 6.0
            lowest = mean if lowest == 0.0 else min(lowest, mean)
    return Thermal(steps, at, 0.0, 0.0, 0.0, 0, thermal.with_ambient, lowest, rate)


def _steady(steps: tuple[Step, ...]) -> bool:
    volts = [step.volts for step in steps]
    return max(volts) - min(volts) <= STEADY


def warming_too_fast(thermal: Thermal) -> float | None:
    """The rate [K/h] if the electrolyte has risen faster than the limit for half an hour, all of it, else None."""
    steps = thermal.steps
    if thermal.rate is None or thermal.rate <= RATE_LIMIT or len(steps) < 7:
        return None
    half_hour = steps[-7:]
    pieces = zip(half_hour[:-2:2], half_hour[2::2], strict=True)
    least = GOES_ON * RATE_LIMIT / 3600.0
    goes_on = all(later.excess - earlier.excess >= least * (later.at - earlier.at) for earlier, later in pieces)
    return thermal.rate if goes_on and half_hour[-1].at - half_hour[0].at >= RATE_SPAN - 1.0 else None


def runaway(thermal: Thermal) -> tuple[float, float] | None:
    """Mean current and its lowest [A] when both current and heat climb at a steady voltage, else None.

    `lowest` is only kept while finishing or holding, so this is silent in every other phase.
    """
    steps = thermal.steps
    if thermal.lowest <= 0.0 or len(steps) < 6:
        return None
    half_hour = steps[-6:]
    mean = sum(each.current for each in half_hour) / 6.0
    oldest = next((each for each in steps if each.at >= steps[-1].at - RUNAWAY_SPAN - STEP), steps[0])
    if (
        mean >= RUNAWAY_GROWTH * thermal.lowest
        and _steady(half_hour)
        and steps[-1].excess - oldest.excess >= RUNAWAY_WARMING
    ):
        return mean, thermal.lowest
    return None
