"""Is this value believable? Each reading is judged against its meter's range and its own past.

A reading that is not believed is kept in the journal but never enters a state and never trips by itself; the silence
limit of its quantity keeps running meanwhile, so a meter that stays unbelievable withdraws the permit.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.bank import QUANTITIES, Meter
from rules.events import Reading

#: A second sample within this time confirms a startling first one [s].
CONFIRM_WINDOW = 60.0
#: Two startling temperatures agree when they are no further apart [K].
AGREES = 3.0
#: Electrolyte cannot warm faster than this: tens of kilojoules per kelvin stand against it [K/s] (common practice, no
#: source; a flooded 6 V block of 200 Ah holds about 30 kJ/K, so even 500 W give 1 K a minute).
FASTEST_WARMING = 5.0 / 60.0
#: Readings of a one-wire thermometer that are no temperatures: unplugged, and its register at power-on [degC].
UNPLUGGED, POWER_ON = -127.0, 85.0
#: On the way through another unit they lose their last digits [K].
SAME = 0.01
#: A stamp older than this is a backlog or a slow clock [s]; as old as the sample before to within this share of the
#: time between them [1], so often in a row, it is a clock; common practice, no source.
CLOCK_OFF, OWN_PACE, SURE_OF_CLOCK = 300.0, 0.5, 3
#: A current a thousand times the one before, above this [A], is the same current in thousandths.
THOUSANDTHS = 100.0
#: How close to a thousand the ratio is [1]; a voltage in thousandths: at most this [V per cell] and, against a
#: thousandth of the one before, off by no more than this share [1] (assumed).
ABOUT_THOUSAND, DEAD_VOLTS, ABOUT_IT = (800.0, 1250.0), 0.1, 0.2
#: A step of more than this [K], and more than the electrolyte can warm by meanwhile, is startling; one that is no
#: further than this from the value before, read as degrees Fahrenheit, is a change of unit [K] (assumed).
STARTLING, SAME_WARMTH = 5.0, 3.0
#: Silence is three periods, within these bounds [s].
SHORTEST_SILENCE, LONGEST_SILENCE = 60.0, 900.0
#: Arrivals closer than this share of the period are one delivery, a burst after a gap, and teach nothing [1].
BUNCHED = 0.1
#: A gap of so many periods has lost a sample [1].
MISSED = 1.5
#: Weight of one gap in the record of losses, and the most that one gap may count as lost [1].
LOSS_LEARNS, LOST_AT_ONCE = 0.01, 3.0

GOOD, SUSPECT, MISSING, LATE = "good", "suspect", "missing", "late"
#: Why a value is not believed before a second one bears it out.
IMPOSSIBLE_STEP, POWERED_ON = "impossible step", "power-on value"
STARTLES = frozenset({IMPOSSIBLE_STEP, POWERED_ON})
CURRENTS = frozenset({"current", "string_current"})
TEMPERATURES = frozenset({"electrolyte_temperature", "ambient_temperature"})


class Trace(NamedTuple):
    """What is remembered of one meter.

    Attributes
    ----------
    value : float
        Last believed value, canonical unit; NaN-free, 0.0 before the first.
    at : float
        When that value was true: measured, never later than arrival [s since the epoch]; 0 = never.
    quality, reason : str
        Of the newest sample, believed or not.
    doubtful, doubtful_at : float
        The newest sample that was not believed, and when it came.
    suspect_since : float
        Since when nothing could be believed [s since the epoch]; 0 = all well.
    changed_at : float
        When the believed value last changed [s since the epoch].
    step : float
        Smallest change seen, canonical unit; 0 = none yet.
    period : float
        Learned time between samples [s]; 0 = not yet known.
    lost : float
        Learned share of samples that never arrive [1].
    late : int
        Samples that came after a newer one and were left out.
    retained : bool
        The value came as a retained message of unknown age: shown, not counted as fresh.
    usual : float
        Learned time between turns of the value [s]; a probe whose last digit flickers has a short one.
    direction, turned_at : float
        Where its newest change went, 1 or -1, and when it last turned [s since the epoch].
    heard_at, own_lag : float
        Arrival of the newest sample whose own time was old, and how old it said it was [s].
    lagging : int
        Samples in a row that came at their usual pace and yet as old as those before: a slow clock, no backlog.
    clock_off : float
        How far the meter's own clock is off, where it is not used [s]; negative = slow.
    stuck_at : float
        Of an ammeter: since when it stood still when it was found to be stuck [s since the epoch].
    """

    value: float = 0.0
    at: float = 0.0
    quality: str = ""
    reason: str = ""
    suspect_since: float = 0.0
    changed_at: float = 0.0
    step: float = 0.0
    period: float = 0.0
    retained: bool = False
    usual: float = 0.0
    direction: float = 0.0
    turned_at: float = 0.0
    lost: float = 0.0
    doubtful: float = 0.0
    doubtful_at: float = 0.0
    late: int = 0
    heard_at: float = 0.0
    own_lag: float = 0.0
    lagging: int = 0
    clock_off: float = 0.0
    stuck_at: float = 0.0


NEVER = Trace()
#: What a believed sample changes stands before the rest.
_REST = Trace._fields.index("lost") + 1


def wrong_unit(value: float, low: float, high: float, temperature: bool) -> bool:
    """Tell whether an impossible value becomes possible as thousandths [1] or as degrees Fahrenheit [degF]."""
    if temperature:
        return low <= (value - 32.0) / 1.8 <= high
    return low <= value / 1000.0 <= high


def by_arrival(trace: Trace, reading: Reading) -> tuple[Trace, Reading]:
    """Date the reading by its arrival where the meter's own clock is slow, and remember that.

    A backlog arrives faster than it was measured, and each of its samples is less old than the one before. Samples that
    come at their own pace and stay as old as they were are those of a slow clock: the third in a row is believed to be
    of now.

    Examples
    --------
    >>> trace, told = Trace(), []
    >>> for n in range(5):
    ...     trace, dated = by_arrival(trace, Reading("north", "current", 5.0, 9e4 + 10.0 * n, 82800.0 + 10.0 * n))
    ...     told.append(dated.at - dated.measured_at)
    >>> told
    [7200.0, 7200.0, 7200.0, 0.0, 0.0]
    """
    lag = reading.at - reading.measured_at
    if reading.stamp_off:
        # Its stamp could not be believed at all, and arrival was taken.
        return trace._replace(clock_off=reading.stamp_off, lagging=0), reading
    if lag <= CLOCK_OFF or reading.retained:
        well = not (trace.clock_off or trace.lagging)
        return trace if well else trace._replace(lagging=0, clock_off=0.0), reading
    waited, drift = reading.at - trace.heard_at, lag - trace.own_lag
    steady = trace.own_lag > CLOCK_OFF and waited > 0.0 and abs(drift) <= OWN_PACE * waited
    lagging = min(trace.lagging + 1, SURE_OF_CLOCK) if steady else 0
    off = -lag if lagging >= SURE_OF_CLOCK else 0.0
    trace = trace._replace(lagging=lagging, clock_off=off, own_lag=lag, heard_at=reading.at)
    return trace, reading._replace(measured_at=reading.at) if off else reading


def judge(meter: Meter, spanned: int, trace: Trace, reading: Reading) -> tuple[str, str]:
    """Return quality and reason of one reading.

    Parameters
    ----------
    meter : Meter
        What reports.
    spanned : int
        Cells in series that the value spans.
    trace : Trace
        The meter's past.
    reading : Reading
        The sample, canonical unit.

    Returns
    -------
    tuple of str
        ``good``, ``suspect``, ``missing`` or ``late``, and why.

    Examples
    --------
    >>> probe = Meter("electrolyte_temperature", "electrolyte_temperature")
    >>> judge(probe, 1, NEVER, Reading("north", probe.name, -127.0, 10.0, 10.0))
    ('missing', 'unplugged')
    >>> judge(probe, 1, NEVER, Reading("north", probe.name, 85.0, 10.0, 10.0))
    ('suspect', 'power-on value')
    """
    value, named = reading.value, meter.quantity
    quantity = QUANTITIES[named]
    temperature = named in TEMPERATURES
    if temperature and abs(value - UNPLUGGED) < SAME:
        return MISSING, "unplugged"
    low, high, per_cell = quantity.low, quantity.high, quantity.per_cell
    if per_cell:
        low, high = low * spanned, high * spanned
    if not low <= value <= high:
        return SUSPECT, "unit" if wrong_unit(value, low, high, temperature) else "out of range"
    at = trace.at
    if at and reading.measured_at < at and not trace.retained:
        return LATE, "older than the newest"
    if temperature:
        return _judge_temperature(trace, reading)
    if abs(value) > THOUSANDTHS and named in CURRENTS:
        lowest, highest = ABOUT_THOUSAND
        if lowest < abs(value / (trace.value or value)) < highest:
            return SUSPECT, "unit"
    if per_cell and at and abs(value) < DEAD_VOLTS * spanned < abs(trace.value):
        ratio = trace.value / 1000.0
        if abs(value - ratio) < ABOUT_IT * abs(ratio):
            return SUSPECT, "unit"
    return GOOD, ""


def _judge_temperature(trace: Trace, reading: Reading) -> tuple[str, str]:
    """Return doubt sentinels and steps: what no electrolyte can do is not believed until a second sample agrees."""
    value = reading.value
    step = abs(value - trace.value)
    startling = step > STARTLING and trace.at > 0.0 and step > FASTEST_WARMING * (reading.measured_at - trace.at)
    if startling and abs((value - 32.0) / 1.8 - trace.value) < SAME_WARMTH:
        # Degrees Fahrenheit called Celsius repeat themselves; a second sample proves nothing.
        return SUSPECT, "unit"
    power_on = abs(value - POWER_ON) < SAME
    if power_on or startling:
        seconded = (
            trace.quality == SUSPECT
            and 0.0 < reading.at - trace.doubtful_at <= CONFIRM_WINDOW
            and abs(value - trace.doubtful) <= AGREES
        )
        if not seconded:
            return SUSPECT, POWERED_ON if power_on else IMPOSSIBLE_STEP
    return GOOD, ""


def remember(trace: Trace, reading: Reading, quality: str, reason: str) -> Trace:
    """Return the meter's past with this reading in it."""
    if quality == GOOD:
        # Comparisons instead of `min` and `max`: this is done for every value of every meter.
        value, measured, arrived = reading.value, reading.measured_at, reading.at
        at = arrived if arrived < measured else measured
        before, period, lost = trace.at, trace.period, trace.lost
        gap = at - before
        if before and gap > BUNCHED * period:
            if period:
                missing = 0.0 if gap < MISSED * period else min(LOST_AT_ONCE, (gap / period - 0.5) // 1.0)
                lost += LOSS_LEARNS * (missing - (1.0 + missing) * lost)
            # A slow mean that a single gap cannot stretch: silence must not teach patience.
            most = 2.0 * period
            period = gap if period == 0.0 else period + 0.1 * ((gap if gap < most else most) - period)
        change = value - trace.value
        changed_at = trace.changed_at
        step, usual, direction, turned_at = trace.step, trace.usual, trace.direction, trace.turned_at
        if change or changed_at == 0.0:
            changed_at = at
            if before:
                size, way = abs(change), 1.0 if change > 0.0 else -1.0
                if step == 0.0 or size < step:
                    step = size
                if way != direction:
                    # Only what goes to and fro flickers; a ramp ends in a plateau. No standstill stretches the mean.
                    direction, went = way, at - turned_at
                    if turned_at:
                        usual = went if usual == 0.0 else usual + 0.1 * (min(went, 2.0 * usual) - usual)
                    turned_at = at
        # Put together by hand, because it happens with every sample.
        changed = (
            value, at, GOOD, "", 0.0, changed_at, step, period, reading.retained, usual, direction, turned_at, lost,
        )  # fmt: skip
        return tuple.__new__(Trace, changed + trace[_REST:])
    if quality == LATE:
        return trace._replace(late=trace.late + 1)
    return trace._replace(
        quality=quality,
        reason=reason,
        doubtful=reading.value,
        doubtful_at=reading.at,
        suspect_since=trace.suspect_since or reading.at,
    )
