"""What the meters tell: believable, fresh, counted and warming."""

from rules.meters.counters import (
    HAND_GAP,
    Counters,
    Sample,
    charging_threshold,
    integrate,
    restarted,
    up_to,
    with_voltage,
)
from rules.meters.freshness import ASSUMED_PERIOD, GRACE, ages, fresh, fresh_values, silence_limit
from rules.meters.plausible import AGREES, CONFIRM_WINDOW, GOOD, NEVER, SUSPECT, Trace, judge, remember
from rules.meters.warming import RATE_LIMIT, RATE_WARNING, Thermal

__all__ = [
    "AGREES",
    "ASSUMED_PERIOD",
    "CONFIRM_WINDOW",
    "GOOD",
    "GRACE",
    "HAND_GAP",
    "NEVER",
    "RATE_LIMIT",
    "RATE_WARNING",
    "SUSPECT",
    "Counters",
    "Sample",
    "Thermal",
    "Trace",
    "ages",
    "charging_threshold",
    "fresh",
    "fresh_values",
    "integrate",
    "judge",
    "remember",
    "restarted",
    "silence_limit",
    "up_to",
    "with_voltage",
]
