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
from rules.meters.plausible import (
    AGREES,
    CLOCK_OFF,
    CONFIRM_WINDOW,
    GOOD,
    NEVER,
    SUSPECT,
    Trace,
    by_arrival,
    judge,
    remember,
)
from rules.meters.warming import RATE_LIMIT, RATE_WARNING, STEP, Step, Thermal

__all__ = [
    "AGREES",
    "ASSUMED_PERIOD",
    "CLOCK_OFF",
    "CONFIRM_WINDOW",
    "GOOD",
    "GRACE",
    "HAND_GAP",
    "NEVER",
    "RATE_LIMIT",
    "RATE_WARNING",
    "STEP",
    "SUSPECT",
    "Counters",
    "Sample",
    "Step",
    "Thermal",
    "Trace",
    "ages",
    "by_arrival",
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
