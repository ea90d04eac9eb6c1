"""Findings: what the readings show that a person should know. None of them ever opens the relay."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from rules.advice.charger_now import most_amps
from rules.bank import Bank, Meter
from rules.bank_view import View
from rules.events import Flag, moment
from rules.hand import HandLog
from rules.meters import CLOCK_OFF, FLOWS, HAND_GAP, RATE_WARNING, Thermal, Trace
from rules.phase import PhaseMemory
from rules.safety import OVER_CURRENT_FACTOR, Finding

#: Warmth that warns, and the margin below which the warning ends [K].
WARNING_ENDS = 1.0
#: Probes of one bank may differ by so much; what is up ends one kelvin lower [K].
PROBES_APART = 5.0
#: Share of the hydrogen limit from which a person is told, and share of that at which it ends [1]; common practice, no
#: source.
HYDROGEN_NEAR, HYDROGEN_ENDS = 0.7, 0.85
#: Below this a bank at rest, or a charger turned down, is no longer at a gassing voltage [V per cell].
STILL_HIGH = 2.47
#: Shares outside these multiples of the mean are unequal; below this mean nothing can be said [1], [A].
LEAST_SHARE, MOST_SHARE, TELLING_CURRENT = 0.5, 1.5, 2.0
#: Spread of corrected gravity that asks for attention [1]; midpoint off the middle [V].
SPREAD, MIDPOINT = 0.030, 0.3
#: Clamp readings of the strings say how they share for so long [s].
STRINGS_GOOD_FOR = 12 * 3600.0
#: A string below this is fed by none, but feeds the others [A].
FED = -0.8
#: A total so far over the limits of the strings is no error of the shunt or of the charger's knob, and what is up ends
#: a little lower, for a steady current tells one story [1]; of measured strings the end alone; common practice, no
#: source.
TOTAL_OVER, TOTAL_ENDS, STRING_ENDS = 1.02, 1.01, 0.99
#: What is said of a string that others feed.
FED_BY_OTHERS = "others feed it: a shorted cell in it is likely"
#: Phases in which a standing voltage belongs to a current that only falls.
TAPERING = frozenset({"absorbing", "finishing", "holding"})
#: A jump: half an hour of even current, then, the five minutes of the jump itself left out, a quarter of an hour at so
#: many times that and so much more, at a voltage that stands; common practice, no source [1], [A], [V per cell].
BEFORE_STEP, AFTER_STEP, CALM, STEP_UP, LEAST_STEP, STANDING_VOLTS = 6, 3, 1.1, 1.3, 1.0, 0.02
#: So many five-minute means [1] of a current that differs by no more than this share of itself [1], between these [A],
#: as a share of the rating [1], below this voltage per cell [V], are an offset; common practice, no source.
OFFSET_STEPS, OFFSET_EVEN, OFFSET_LEAST, OFFSET_MOST, OFFSET_VOLTS = 12, 0.25, 0.2, 0.02, 2.2
#: A clock so far behind stands near the beginning of its count: nothing has set it [s], five years.
NEVER_SET = -5 * 365 * 86400.0
#: Up to this a clock is off by hours, then by days [s].
TOLD_IN_HOURS = 48 * 3600.0
#: Charging is over: the charger must be seen down.
ENDED = frozenset({"resting", "testing", "finished"})


def findings(
    bank: Bank,
    traces: dict[str, Trace],
    view: View,
    thermal: Thermal,
    phase: PhaseMemory,
    hand: HandLog,
    raised: frozenset[str],
    at: float,
    bypasses: Mapping[str, float] = MappingProxyType({}),
) -> dict[str, Finding]:
    """Return what the readings show that a person should know.

    Parameters
    ----------
    raised : frozenset of str
        Names of flags that are up already, for those that end later than they begin.
    bypasses : mapping
        Until when the silence of a meter is excused [s since the epoch].
    at : float
        Now [s since the epoch].
    """
    found: dict[str, Finding] = {}
    warm = _warm(bank, traces, view, hand, raised, bypasses, at)
    if warm is not None:
        found["temperature-high"] = warm
    if thermal.rate is not None and thermal.rate > RATE_WARNING:
        found["temperature-rising-fast"] = Finding(thermal.rate, RATE_WARNING, "K/h", "the electrolyte warms")
    probes = view.values("electrolyte_temperature")
    if len(probes) > 1 and max(probes) - min(probes) > PROBES_APART - ("sensors-disagree" in raised):
        found["sensors-disagree"] = Finding(
            max(probes) - min(probes), PROBES_APART, "K", "electrolyte probes differ; the hotter one counts"
        )
    elif hand.amps_apart:
        found["sensors-disagree"] = Finding(reason=f"{hand.amps_apart}; the ammeter is used")
    hydrogen = max(view.values("hydrogen"), default=0.0)
    near = HYDROGEN_NEAR * bank.limits.hydrogen
    if hydrogen >= near * (HYDROGEN_ENDS if "hydrogen-high" in raised else 1.0):
        found["hydrogen-high"] = Finding(hydrogen, bank.limits.hydrogen, "1", f"{100.0 * hydrogen:.2f} % hydrogen")
    for name, finding in (
        ("zero-due", _offset(bank, view, thermal)),
        ("meter-clock-wrong", _wrong_clock(bank, traces)),
        ("string-over-limit", _string_over(bank, strings_known(view, hand, at), "string-over-limit" in raised)),
        ("current-step", None if "block_voltage" in bank.by_quantity else _stepped(thermal, phase)),
        ("imbalance", _imbalance(bank, view, hand, at)),
        ("gravities-doubted", _doubted(hand)),
    ):
        if finding is not None:
            found[name] = finding
    if phase.hopeless:
        found["hopeless"] = Finding(reason=phase.finding)
    elif phase.not_reviving:
        found["not-reviving"] = Finding(reason=phase.finding)
    if phase.phase == "absorbing" and not phase.interrupted:
        found["charger-limit-low"] = Finding(
            view.volts_per_cell, bank.equalise, "V", "the charger's ceiling is below the equalising voltage"
        )
    if _still_high(bank, view, phase, "charger-still-high" in raised):
        found["charger-still-high"] = Finding(view.volts_per_cell, STILL_HIGH, "V", "the work at high volts is over")
    return found


def _warm(
    bank: Bank,
    traces: dict[str, Trace],
    view: View,
    hand: HandLog,
    raised: frozenset[str],
    bypasses: Mapping[str, float],
    at: float,
) -> Finding | None:
    """Find warmth that is close to where the work stops, by probe, by hand, or by a probe that fell silent."""
    by_hand = [degrees for degrees in (hand.temperature_now(at), hand.case_now(at)) if degrees is not None]
    probed = [] if view.hottest is None else [view.hottest]
    # A person's thermometer may be in a warmer cell than the probe: the warmest counts.
    hottest = max([*probed, *by_hand], default=None)
    up = "temperature-high" in raised
    gone = _warm_when_last_heard(bank, traces, view, hand, bypasses, at) if up else None
    if hottest is None or hottest < bank.limits.temperature_warning - (WARNING_ENDS if up else 0.0):
        return gone
    if gone is not None and gone.value is not None and gone.value > hottest:
        return gone
    read = " (by hand)" if hottest not in probed else ""
    # One limit is said, and it is the one of where the warmth was felt.
    limits = bank.limits
    stops = limits.temperature_case if hottest in (view.temperature_case, hand.case_now(at)) else limits.temperature
    return Finding(hottest, stops, "degC", f"warm{read}; the work stops at the limit")


def _warm_when_last_heard(
    bank: Bank, traces: dict[str, Trace], view: View, hand: HandLog, bypasses: Mapping[str, float], at: float
) -> Finding | None:
    """Find the hottest thermometer that fell silent warm, and whose place nobody has measured since.

    What another place shows says nothing of that one: a probe that fails in a warm cell cools none.
    """
    warmest, meter = bank.limits.temperature_warning - WARNING_ENDS, None
    for each in bank.by_quantity.get("electrolyte_temperature", ()):
        trace = traces.get(each.name)
        if trace is None or trace.retained or view.lives(each) or not 0.0 < at - trace.at <= HAND_GAP:
            continue
        if trace.value >= warmest and bypasses.get(each.name, 0.0) <= at and not _measured_since(each, hand, trace.at):
            warmest, meter = trace.value, each
    if meter is None:
        return None
    why = (
        f"{warmest:.1f} degC when {meter.words} ({meter.source}) was last heard, at {moment(traces[meter.name].at)}, "
        "and nothing was read at that place since; the work stops at the limit"
    )
    limits = bank.limits
    return Finding(warmest, limits.temperature_case if meter.placed == "case" else limits.temperature, "degC", why)


def _measured_since(meter: Meter, hand: HandLog, at: float) -> bool:
    """Tell whether a person has held a thermometer where this one sits since a moment [s since the epoch]."""
    return any(
        entry.kind == "temperature" and entry.taken_at > at and meter.index in entry.values
        for entry in hand.entries
        if meter.index or meter.placed != "case"
    )


def _offset(bank: Bank, view: View, thermal: Thermal) -> Finding | None:
    """Find an hour of the same little current while nothing charges: the meter's zero, or a small load."""
    steps = thermal.steps[-OFFSET_STEPS:]
    if view.relay_closed or view.estimated or view.current is None or len(steps) < OFFSET_STEPS:
        return None
    currents = [step.current for step in steps]
    mean = sum(currents) / len(currents)
    even = max(currents) - min(currents) <= OFFSET_EVEN * abs(mean)
    quiet = all(0.0 < step.volts < OFFSET_VOLTS for step in steps)
    if not (quiet and even and OFFSET_LEAST <= abs(mean) <= OFFSET_MOST * bank.capacity):
        return None
    return Finding(mean, OFFSET_LEAST, "A", f"the current meter shows {mean:.1f} A while nothing charges")


def _wrong_clock(bank: Bank, traces: dict[str, Trace]) -> Finding | None:
    """Find the meter whose own clock is farthest off; its values are used by their arrival."""
    worst, meter = 0.0, None
    for each in bank.meters:
        trace = traces.get(each.name)
        if trace is not None and abs(trace.clock_off) > abs(worst):
            worst, meter = trace.clock_off, each
    if meter is None:
        return None
    amount = f"{abs(worst) / 3600.0:.1f} h" if abs(worst) < TOLD_IN_HOURS else f"{abs(worst) / 86400.0:.0f} days"
    how = "slow" if worst < 0.0 else "fast"
    if worst < NEVER_SET:
        how += ", for it was never set or its message tells no time that can be read"
    why = f"the clock of {meter.source or meter.words} is {amount} {how}; arrival counts"
    return Finding(worst, CLOCK_OFF, "s", why)


def strings_known(view: View, hand: HandLog, at: float) -> tuple[float, ...]:
    """Return amps of every string as measured, or as somebody clamped them not long ago [A]; else empty."""
    return view.strings or (hand.string_amps if at - hand.string_amps_at <= STRINGS_GOOD_FOR else ())


def _string_over(bank: Bank, strings: tuple[float, ...], up: bool) -> Finding | None:
    """Find a measured string that takes more than its limit, and whether the others feed it; `up` = it did before."""
    limit = bank.string_current_limit
    if len(strings) != len(bank.strings) or max(strings) <= limit * (STRING_ENDS if up else 1.0):
        return None
    worst = max(strings)
    why = f"string {strings.index(worst) + 1} takes {worst:.1f} A"
    if min(strings) < FED:
        why += f", and {FED_BY_OTHERS}"
    return Finding(worst, limit, "A", why)


def total_over(bank: Bank, view: View, up: bool) -> Finding | None:
    """Find a total that is more than the strings should take: the least that the worst of them takes.

    Parameters
    ----------
    up : bool
        It was so before; then it ends lower.
    """
    limit = bank.string_current_limit
    share = (view.current or 0.0) / len(bank.strings)
    if view.strings or share <= limit * (TOTAL_ENDS if up else TOTAL_OVER):
        return None
    each = "the string takes" if len(bank.strings) == 1 else "shared evenly each string takes"
    danger = f"over {OVER_CURRENT_FACTOR * limit:.1f} A {'' if len(bank.strings) == 1 else 'a string '}it is a danger"
    lower = f"lower the charger to {most_amps(bank):g} A"
    return Finding(share, limit, "A", f"{each} {share:.1f} A, more than it should; {lower}; {danger}")


def over_by_far(flag: Flag) -> bool:
    """Tell whether a string is so far over its limit that it trips where that lasts, or is fed by others."""
    if FED_BY_OTHERS in flag.reason:
        return True
    return flag.value is not None and flag.limit is not None and flag.value > OVER_CURRENT_FACTOR * flag.limit


def _stepped(thermal: Thermal, phase: PhaseMemory) -> Finding | None:
    """Find a current that jumped at a standing voltage and stays: so shorts a cell where no block is measured."""
    steps = thermal.steps
    if phase.phase not in TAPERING or phase.interrupted:
        return None
    for k in range(BEFORE_STEP, len(steps)):
        before, after = steps[k - BEFORE_STEP : k], steps[k + 1 :]
        currents = [step.current for step in before]
        if len(after) < AFTER_STEP or min(currents) <= 0.0 or max(currents) > CALM * min(currents):
            continue
        volts = [step.volts for step in (*before, *after)]
        mean, lowest = sum(currents) / BEFORE_STEP, min(step.current for step in after)
        jumped = lowest >= STEP_UP * mean and lowest - mean >= LEAST_STEP
        if jumped and max(volts) - min(volts) <= STANDING_VOLTS:
            why = f"the current jumped from {mean:.1f} to {lowest:.1f} A at a standing voltage"
            return Finding(lowest, STEP_UP * mean, "A", why)
    return None


def _still_high(bank: Bank, view: View, phase: PhaseMemory, raised: bool) -> bool:
    """Tell whether the charger has not been seen down since the end of the hold.

    Silence is no sight of it, and a switched-off charger is, where no relay hides at what it stands.
    """
    if phase.phase not in ENDED:
        return False
    if view.volts_per_cell is None:
        return raised
    off = bank.relay is None and view.current is not None and view.current <= FLOWS
    return view.volts_per_cell >= STILL_HIGH and not off and (raised or phase.phase == "resting")


def _doubted(hand: HandLog) -> Finding | None:
    """Find cells that seem apart by readings that tell nothing for a verdict: worth a look, no fault seen."""
    if hand.spread is None or hand.spread <= SPREAD or not hand.apart_doubt:
        return None
    which = f": {hand.apart}" if hand.apart else ""
    why = f"gravity spread between cells {hand.spread:.3f}{which}; not for a verdict: {hand.apart_doubt}"
    return Finding(hand.spread, None, "1", why)


def _imbalance(bank: Bank, view: View, hand: HandLog, at: float) -> Finding | None:
    if hand.spread is not None and hand.spread > SPREAD and not hand.apart_doubt:
        which = f" {hand.spread:.3f}: {hand.apart}" if hand.apart else ""
        return Finding(hand.spread, SPREAD, "1", f"gravity spread between cells{which}")
    midpoints = view.values("midpoint_voltage")
    volts = None if view.voltage_by_hand else view.voltage
    if midpoints and volts is not None and view.current is not None and view.current > TELLING_CURRENT:
        off = max(abs(midpoint - 0.5 * volts) for midpoint in midpoints)
        if off > MIDPOINT:
            return Finding(off, MIDPOINT, "V", "midpoint off the middle while charging")
    strings = strings_known(view, hand, at)
    # A string over its limit is named instead: those that give nothing beside it are not what is wrong.
    if 1 < len(strings) == len(bank.strings) and max(strings) <= bank.string_current_limit:
        mean = sum(strings) / len(strings)
        if mean > TELLING_CURRENT:
            for number, amps in enumerate(strings, 1):
                share = amps / mean
                if not LEAST_SHARE <= share <= MOST_SHARE:
                    return Finding(
                        share, MOST_SHARE if share > 1 else LEAST_SHARE, "1", f"string {number} takes {amps:.1f} A"
                    )
    return None
