"""How old may a reading be? Silence is a demand: what is not known to be fresh counts as not known."""

from __future__ import annotations

import math
from collections.abc import Mapping

from rules.bank import Bank, Meter
from rules.meters.plausible import LONGEST_SILENCE, NEVER, SHORTEST_SILENCE, Trace

#: Meters never seen are excused this long after a start [s]; the permit is not.
GRACE = 120.0
#: Before a period is known or configured, one sample a minute is assumed [s].
ASSUMED_PERIOD = 60.0


#: False silences that a meter's record may make in a day [1/d], so that all meters of a bank make one in 50 days.
FALSE_A_DAY = 0.005
#: With a record of losses a meter may be silent so long [s]: half of the time in which an electrolyte at its limit,
#: warming at the fastest rate that is tolerated (8 K/h), reaches the absolute limit 8.4 K higher.
LONGEST_WITH_RECORD = 1800.0
#: Losses under this are chance [1], and nobody waits for more than so many periods [1].
LEAST_LOST, MOST_PERIODS = 0.005, 9.0


def silence_limit(meter: Meter, trace: Trace) -> float:
    """Return three times the meter's period, more where it loses some; at least 60 s, at most what harm allows [s].

    At a share of losses p the chance that n samples in a row are lost is p to the n, and a day has so many chances as
    samples: n is chosen so that this happens less than once in half a year.

    Examples
    --------
    >>> silence_limit(Meter("current", "current", period=100.0), NEVER)
    300.0
    >>> silence_limit(Meter("current", "current", period=60.0), NEVER._replace(lost=0.08))
    360.0
    """
    period = meter.period or trace.period or ASSUMED_PERIOD
    usual = 3.0 * period
    if not SHORTEST_SILENCE <= usual <= LONGEST_SILENCE:
        usual = SHORTEST_SILENCE if usual < SHORTEST_SILENCE else LONGEST_SILENCE
    if trace.lost < LEAST_LOST:
        return usual
    row = math.ceil(math.log(FALSE_A_DAY * period / 86400.0) / math.log(min(0.5, trace.lost)))
    return max(usual, min(LONGEST_WITH_RECORD, min(MOST_PERIODS, row + 1.0) * period))


def fresh(meter: Meter, trace: Trace | None, at: float) -> bool:
    """Tell whether the believed value is young enough to act on at this moment [s since the epoch]."""
    if trace is None or not trace.at or trace.retained:
        return False
    return at - trace.at <= silence_limit(meter, trace)


def fresh_values(bank: Bank, traces: Mapping[str, Trace], quantity: str, at: float) -> list[float]:
    """Return believed values of one quantity, in canonical units, that are fresh at this moment [s since the epoch]."""
    values = []
    for meter in bank.by_quantity.get(quantity, ()):
        trace = traces.get(meter.name)
        if trace is not None and fresh(meter, trace, at):
            values.append(trace.value)
    return values


def ages(bank: Bank, traces: Mapping[str, Trace], at: float) -> dict[str, float]:
    """Return age of the freshest value of each quantity [s]."""
    result: dict[str, float] = {}
    for meter in bank.meters:
        trace = traces.get(meter.name, NEVER)
        if trace.at:
            age = round(at - trace.at, 1)
            result[meter.quantity] = min(age, result.get(meter.quantity, age))
    return result
