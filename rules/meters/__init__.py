"""What the meters tell: believable, fresh, counted and warming."""

from rules.meters.counters import (
    FLOWS,
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
    LATE,
    NEVER,
    SUSPECT,
    Trace,
    by_arrival,
    judge,
    remember,
)
from rules.meters.stuck import missed_the_heat, stuck
from rules.meters.warming import RATE_LIMIT, RATE_WARNING, Step, Thermal

__all__ = [
    "AGREES",
    "ASSUMED_PERIOD",
    "CLOCK_OFF",
    "CONFIRM_WINDOW",
    "FLOWS",
    "GOOD",
    "GRACE",
    "HAND_GAP",
    "LATE",
    "NEVER",
    "RATE_LIMIT",
    "RATE_WARNING",
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
    "missed_the_heat",
    "remember",
    "restarted",
    "silence_limit",
    "stuck",
    "up_to",
    "with_voltage",
]
