"""How old may a reading be? Silence is a demand: what is not known to be fresh counts as not known."""

from __future__ import annotations

from collections.abc import Mapping

from rules.bank import Bank, Meter
from rules.meters.plausible import LONGEST_SILENCE, NEVER, SHORTEST_SILENCE, Trace

#: Meters never seen are excused this long after a start [s]; the permit is not.
GRACE = 120.0
#: Before a period is known or configured, one sample a minute is assumed [s].
ASSUMED_PERIOD = 60.0


def silence_limit(meter: Meter, trace: Trace) -> float:
    """Three times the meter's period, between 60 s and 15 min [s].

    Examples
    --------
    >>> silence_limit(Meter("current", "current", period=100.0), NEVER)
    300.0
    """
    period = meter.period or trace.period or ASSUMED_PERIOD
    return min(LONGEST_SILENCE, max(SHORTEST_SILENCE, 3.0 * period))


def fresh(meter: Meter, trace: Trace | None, at: float) -> bool:
    """Whether the believed value is young enough to act on at this moment [s since the epoch]."""
    if trace is None or trace.at == 0.0 or trace.retained:
        return False
    return at - trace.at <= silence_limit(meter, trace)


def fresh_values(bank: Bank, traces: Mapping[str, Trace], quantity: str, at: float) -> list[float]:
    """Believed values of one quantity, in canonical units, that are fresh at this moment [s since the epoch]."""
    values = []
    for meter in bank.by_quantity.get(quantity, ()):
        trace = traces.get(meter.name)
        if trace is not None and fresh(meter, trace, at):
            values.append(trace.value)
    return values


def ages(bank: Bank, traces: Mapping[str, Trace], at: float) -> dict[str, float]:
    """Age of the freshest value of each quantity [s]."""
    result: dict[str, float] = {}
    for meter in bank.meters:
        trace = traces.get(meter.name, NEVER)
        if trace.at:
            age = round(at - trace.at, 1)
            result[meter.quantity] = min(age, result.get(meter.quantity, age))
    return result
