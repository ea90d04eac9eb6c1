"""Does a value stand still although the current says that it must have moved? A probe, a voltmeter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rules.bank import Bank, Meter
from rules.meters.counters import Counters, charging_threshold
from rules.meters.plausible import NEVER, Trace
from rules.meters.warming import RUNAWAY_TOGETHER, STEP, Step, Thermal

#: A voltage that has not moved so long after charging stopped is stuck [s]; and one whose last digit flickered, while
#: the current changed by a third: only a fine meter must show that, cables alone drop more [V per cell], [s].
#: From the last on a charger may hold the voltage, and it stands by rights while the current falls [V per cell].
STUCK_VOLTAGE, THIRD, FINE_VOLTS, FLICKERS, REGULATED = 600.0, 1.0 / 3.0, 0.005, 120.0, 2.33
#: A temperature that has not moved so long while the current more than halved or doubled is stuck: fine probes show
#: every tenth of a kelvin, coarse ones may rest longer [s], [K]; so is a fine one that stands so many times longer than
#: it ever did [1].
STUCK_FINE, STUCK_COARSE, FINE_STEP, UNUSUAL = 2 * 3600.0, 6 * 3600.0, 0.3, 12.0
#: Five-minute means of current that must be known of that time, and how many times the lowest the highest is [1].
STUCK_STEPS, CHANGED = 12, 2.0
#: Times the charging threshold from which the voltage must have moved with the current [1] (assumed).
WELL_CHARGED = 5.0
#: At a steady voltage the current grows by 18 % with 3 K (as in `rules.meters.warming`): a probe that stood through so
#: many five-minute means of it, half an hour against the lowest half hour, is stuck [1]; less than so many steps of the
#: current's meter is no growth [1]; a coarse probe may stand still through 3 K by rights [K].
GROWS_FOR, HALF_AN_HOUR, CURRENT_STEPS, COARSE_PROBE = 12, 6, 2.0, 1.0
#: So many five-minute means tell whether a bank was well charged before its voltage stood still [1].
STUCK_BEFORE = 4
#: As long as the charge could not have warmed the acid by so many steps, or so far, a still probe is no sign [1], [K].
MUST_MOVE_STEPS, MUST_MOVE = 2.0, 0.5
#: Heat that warms one cell by a kelvin, for each rated Ah [J/K]: a 6 V block of 200 Ah holds about 30 kJ/K, by its
#: parts, no source; volts below which charge warms nothing, and least overvoltage [V].
HEAT_CAPACITY, REVERSIBLE, LEAST_OVER = 50.0, 2.0, 0.05


def stands_too_long_at(meter: Meter, trace: Trace) -> tuple[float, ...]:
    """Return the moments [s since the epoch] at which a value that goes on standing still may count as stuck.

    Examples
    --------
    >>> stands_too_long_at(Meter("voltage", "voltage"), NEVER._replace(changed_at=1000.0, usual=100.0))
    (1600.0, 2200.0)
    """
    since, unusual = trace.changed_at, UNUSUAL * trace.usual
    if meter.quantity == "electrolyte_temperature":
        return since + STUCK_FINE, since + STUCK_COARSE, since + max(STUCK_FINE, unusual)
    return (since + STUCK_VOLTAGE, since + max(STUCK_VOLTAGE, unusual)) if meter.quantity == "voltage" else ()


def stuck(bank: Bank, meter: Meter, trace: Trace, thermal: Thermal, counters: Counters, at: float) -> bool:
    """Tell whether a value stands still now [s since the epoch] although the current says it must have moved."""
    if not trace.changed_at:
        return False
    if meter.quantity == "electrolyte_temperature":
        return _stuck_probe(bank, trace, thermal, at)
    if meter.quantity == "voltage":
        return _stuck_voltage(bank, trace, thermal, counters, at)
    return False


def _stuck_probe(bank: Bank, trace: Trace, thermal: Thermal, at: float) -> bool:
    still, fine = at - trace.changed_at, 0.0 < trace.step <= FINE_STEP
    if still < (STUCK_FINE if fine else STUCK_COARSE):
        return False
    since = [step for step in thermal.steps if step.at >= trace.changed_at]
    if len(since) < STUCK_STEPS:
        return False
    if _warmed(bank, since) < max(MUST_MOVE, MUST_MOVE_STEPS * trace.step):
        return False
    if fine and 0.0 < UNUSUAL * trace.usual <= still:
        return True
    currents = [step.current for step in since]
    return max(currents) > CHANGED * max(min(currents), charging_threshold(bank.capacity))


def missed_the_heat(bank: Bank, traces: Mapping[str, Trace], probe: Trace, thermal: Thermal) -> bool:
    """Tell whether the current of a bank at its ceiling has grown, at no more volts, as only heat makes it grow.

    Parameters
    ----------
    bank : Bank
        Its shunts, and what counts as charging.
    traces : mapping of Trace
        The meters' past by name.
    probe : Trace
        The past of the thermometer that did not move meanwhile.
    thermal : Thermal
        Five-minute means of the current.
    """
    if not probe.changed_at or thermal.lowest <= 0.0 or probe.step > COARSE_PROBE:
        return False
    if len(thermal.steps) < GROWS_FOR or thermal.steps[-GROWS_FOR].at - STEP < probe.changed_at:
        return False
    since = [step for step in thermal.steps if step.at - STEP >= probe.changed_at]
    now, before = since[-HALF_AN_HOUR:], since[:-HALF_AN_HOUR]
    # Half hours of the last two, and for what goes slowly a glance every half hour of the last six.
    spans = [before[n : n + HALF_AN_HOUR] for n in range(len(before) - HALF_AN_HOUR + 1)]
    spans += [[step] for step in thermal.halves if probe.changed_at <= step.at - STEP and step.at < now[0].at]
    amps, volts = min([_mean(span) for span in spans])
    amps_now, volts_now = _mean(now)
    shunts = bank.by_quantity.get("current", ())
    coarse = max([meter.resolution or traces.get(meter.name, NEVER).step for meter in shunts], default=0.0)
    shows = max(charging_threshold(bank.capacity), CURRENT_STEPS * coarse)
    grown = amps_now >= RUNAWAY_TOGETHER * amps and amps_now - amps >= shows
    return grown and volts_now <= volts + FINE_VOLTS


def _mean(steps: Sequence[Step]) -> tuple[float, float]:
    """Return amps [A] and volts per cell [V]."""
    count = len(steps)
    return sum([step.current for step in steps]) / count, sum([step.volts for step in steps]) / count


def _warmed(bank: Bank, steps: Sequence[Step]) -> float:
    """Return what the charge of these five minutes each would warm the acid by, if no heat left it [K]."""
    per_cell = sum(max(0.0, step.current) * max(LEAST_OVER, step.volts - REVERSIBLE) for step in steps)
    return STEP * per_cell / (HEAT_CAPACITY * bank.capacity)


def _stuck_voltage(bank: Bank, trace: Trace, thermal: Thermal, counters: Counters, at: float) -> bool:
    still, threshold = at - trace.changed_at, charging_threshold(bank.capacity)
    if still < STUCK_VOLTAGE:
        return False
    moves = trace.value < REGULATED * bank.cells
    if (
        moves
        and 0.0 < trace.usual <= FLICKERS
        and trace.step <= FINE_VOLTS * bank.cells
        and still >= UNUSUAL * trace.usual
    ):
        # Five minutes that lie mostly before it stood still say nothing.
        currents = [step.current for step in thermal.steps if step.at >= trace.changed_at + 0.5 * STEP]
        most = max(currents, default=0.0)
        if most > WELL_CHARGED * threshold and most - min(currents) >= THIRD * most:
            return True
    if counters.current >= threshold:
        return False
    before = [step.current for step in thermal.steps[-STUCK_BEFORE:] if step.at <= at - STUCK_VOLTAGE]
    return bool(before) and max(before) > WELL_CHARGED * threshold and counters.current_at > trace.changed_at
