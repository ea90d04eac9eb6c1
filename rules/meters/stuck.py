"""Does a value stand still although the bank says that it must have moved? A probe, a voltmeter, an ammeter.

A probe and a voltmeter are held against the current, an ammeter against the voltage and against its own record: only
one whose last digit went to and fro all the time can be known to stand still. A meter with coarse steps stands by
rights, and so does one on a charger that gives all it can.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Protocol

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
#: A well charged cell sinks by this at least once nothing flows; a coarser voltmeter need not show it [V per cell]
#: (assumed: 10 mV are ohmic alone at a fortieth of the rating, 0.42 ohm Ah: Schiffer and others, as below, and as much
#: is polarisation).
SINKS = 0.02
#: As long as the charge could not have warmed the acid by so many steps, or so far, a still probe is no sign [1], [K].
MUST_MOVE_STEPS, MUST_MOVE = 2.0, 0.5
#: Heat that warms one cell by a kelvin, for each rated Ah [J/K]: a 6 V block of 200 Ah holds about 30 kJ/K, by its
#: parts, no source; volts below which charge warms nothing, and least overvoltage [V].
HEAT_CAPACITY, REVERSIBLE, LEAST_OVER = 50.0, 2.0, 0.05

#: An ammeter is not looked at before it has said the same for so long [s]; it used to turn within so many of its
#: samples [1].
STUCK_CURRENT, TURNS_WITHIN = 600.0, 4.0
#: No bank that has woken loses so much within two five-minute means at an even charge [V per cell], and never less than
#: so many steps of the voltmeter [1]: a tenth of the rating is 40 mV of ohmic drop alone (0.42 ohm Ah: Schiffer and
#: others, J. Power Sources 168 (2007) 66). Below an ampere and twice what counts as charging a reading may be a meter's
#: zero [A], [1].
FALLEN_VOLTS, FALLEN_STEPS, FALLEN_WITHIN, FLOWS_IN, FLOWS_TIMES = 0.04, 2.0, 2, 1.0, 2.0
#: From the first on only a charger holds a cell, and one that has woken then gasses away more than the second [V per
#: cell], [C20/h]: 0.008 A per 100 Ah at 2.23 V, e-fold in 90 mV, half of it at 10 degC, are 0.0014. So many means [1].
GASSES, NOTHING, NOTHING_FOR = 2.55, 0.0005, 3
#: At a ceiling: all ten-minute means lie at one voltage, to within [V per cell], and about one current [1].
ONE_VOLTAGE, ABOUT_IT = 0.03, (0.7, 1.4)
#: A meter whose noise is so many of its steps goes to and fro wherever it stands: one that only dithers between two
#: digits shows one and a half at most, once so many turns have passed since the charger jumped [1]. It moved in so many
#: ten-minute means, and then stood in so many, and longer than so many of its usual turns [1].
LOUD, TURNED, MOVED, STOOD, UNHEARD_OF = 1.75, 150.0, 6, 6, 30.0
#: A meter heard every few minutes has not turned so often within hours. Rounding moves a mean by half a digit, and how
#: far it lies off the line of its neighbours by two: whose ten-minute means lay off it to either side by more, one
#: after the other and so often, rests on no digit [1], [1] (assumed).
SWINGS, SWINGS_OFTEN = 2.25, 3
#: Less noise rests in the middle of a digit and dithers at its edge. A meter that crept through a whole one, by no more
#: than so much of it from one mean to the next and in three of them, and rested nowhere, moves in one sample of sixty
#: at least; so many means without one are then no chance [1].
WHOLE, CREPT, STOOD_LONG = 1.0, {1: 0.5, 3: 0.75}, 12
#: This close to a whole digit, as a share of one, a mean is that of a meter that rested, but for rounding [1].
RESTED = 0.01
#: Length of such a mean [s].
TEN_MINUTES = 600.0


class Piece(Protocol):
    """Some minutes of charging."""

    @property
    def at(self) -> float:
        """When they ended [s since the epoch]."""

    @property
    def volts(self) -> float:
        """Mean volts per cell [V]."""

    @property
    def amps(self) -> float:
        """Mean current [A]."""


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
    # An ammeter is judged by what it has said: a look comes with its sample.
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
    if trace.step > SINKS * bank.cells:
        return False
    # A healthy voltmeter falls with the current and rests after it: it must have stood still while charge still flowed.
    since = trace.changed_at + 0.5 * STEP
    before = [step.current for step in thermal.steps if since <= step.at <= at - STUCK_VOLTAGE]
    return bool(before) and max(before) > WELL_CHARGED * threshold and counters.current_at > trace.changed_at


def stuck_current(
    bank: Bank,
    meter: Meter,
    traces: Mapping[str, Trace],
    thermal: Thermal,
    woken: bool,
    noise: float,
    pieces: Sequence[Piece],
) -> bool:
    """Tell whether an ammeter says the same to its last digit although the current must have changed.

    Parameters
    ----------
    bank : Bank
        Its size, and its voltmeter.
    meter : Meter
        An ammeter of the whole bank.
    traces : mapping of Trace
        The meters' past by name.
    thermal : Thermal
        Five-minute means of volts and amps, whether it is charged or not.
    woken : bool
        A bank that has not woken sags by itself, and may take nothing at a ceiling.
    noise : float
        What its successive values differ by without going anywhere [A].
    pieces : sequence of Piece
        Ten-minute means of the last charging hours, oldest first.
    """
    trace = traces.get(meter.name, NEVER)
    # What it has said, and not how long ago: a silent meter stands for nothing.
    still = trace.at - trace.changed_at
    if not trace.changed_at or still < STUCK_CURRENT:
        return False
    if not 0.0 < trace.usual <= max(FLICKERS, TURNS_WITHIN * trace.period) or still < UNUSUAL * trace.usual:
        return False
    # The first mean that ends after it came to a stand began before.
    since = [step for step in thermal.steps if trace.changed_at <= step.at <= trace.at][1:]
    if woken and (_fell(bank, traces, since) or _nothing_at_a_ceiling(bank, since)):
        return True
    return _rests_at_a_ceiling(meter, trace, noise, pieces)


def _fell(bank: Bank, traces: Mapping[str, Trace], since: Sequence[Step]) -> bool:
    """Tell whether the voltage fell, and is still down, while the meter went on telling the same charge."""
    flows = max(FLOWS_IN, FLOWS_TIMES * charging_threshold(bank.capacity))
    voltmeters = bank.by_quantity.get("voltage", ())
    if not since or since[-1].current < flows or not voltmeters:
        return False
    shown = traces.get(voltmeters[0].name, NEVER)
    if shown.at < since[-1].at - STEP:
        return False
    least = max(FALLEN_VOLTS, FALLEN_STEPS * (voltmeters[0].resolution or shown.step) / bank.cells)
    now = shown.value / bank.cells
    return any(
        before.volts - later.volts >= least and before.volts - now >= least
        for n, before in enumerate(since)
        for later in since[n + 1 : n + 1 + FALLEN_WITHIN]
    )


def _nothing_at_a_ceiling(bank: Bank, since: Sequence[Step]) -> bool:
    """Tell whether it says that nothing flows where a charger holds a woken bank at a gassing voltage."""
    last = since[-NOTHING_FOR:]
    held = len(last) == NOTHING_FOR and all(step.volts >= GASSES for step in last)
    return held and last[-1].current <= NOTHING * bank.capacity


def _rests_at_a_ceiling(meter: Meter, trace: Trace, noise: float, pieces: Sequence[Piece]) -> bool:
    """Tell whether a digit that never rested at this ceiling and about this current has rested for an hour or two."""
    since = [piece for piece in pieces if trace.changed_at <= piece.at <= trace.at][1:]
    if len(since) < STOOD:
        return False
    now, step = since[-1].amps, meter.resolution or trace.step
    alike: list[Piece] = []
    for piece in reversed([piece for piece in pieces if piece.at < trace.changed_at]):
        volts = [each.volts for each in (piece, *alike, *since)]
        about = ABOUT_IT[0] * now <= piece.amps <= ABOUT_IT[1] * now
        if not about or max(volts) - min(volts) > ONE_VOLTAGE or min(volts) < REGULATED:
            break
        alike.append(piece)
    if _swings([piece.amps / step for piece in alike]):
        return True
    # In digits: what was taken off for the meter's zero belongs to them.
    digits = [(piece.amps - now + trace.value) / step for piece in alike]
    rested = [n for n, each in enumerate(digits) if abs(each - round(each)) <= RESTED]
    before = alike[: rested[0]] if rested else alike
    amps = [piece.amps / step for piece in before]
    if trace.at - trace.changed_at < UNHEARD_OF * trace.usual:
        return False
    if noise >= LOUD * step and len(before) >= max(MOVED, TURNED * trace.usual / TEN_MINUTES):
        return True
    if len(since) < STOOD_LONG:
        return False
    crept = 1
    while crept < len(amps) and all(
        abs(amps[crept] - amps[crept - n]) <= most for n, most in CREPT.items() if n <= crept
    ):
        crept += 1
    return crept >= MOVED and max(amps[:crept]) - min(amps[:crept]) >= WHOLE


def _swings(amps: Sequence[float]) -> bool:
    """Tell whether ten-minute means left their own course to and fro, by more than two digits can, again and again [1].

    Examples
    --------
    A taper on a meter that strays by 2 % of 6 A, and one on a meter that dithers between two of its digits:

    >>> _swings((725.0, 713.5, 687.5, 674.0, 671.0, 639.0, 650.0, 610.0))
    True
    >>> _swings((395.0, 394.0, 394.5, 393.5, 394.0, 393.0, 393.5, 392.5))
    False
    """
    bends = [first - 2.0 * middle + last for first, middle, last in zip(amps, amps[1:], amps[2:], strict=False)]
    turns = [max(pair) >= SWINGS and min(pair) <= -SWINGS for pair in pairwise(bends)]
    return sum(turns) >= SWINGS_OFTEN
