"""Where the bank is in its revival."""

from rules.phase.acceptance import still_accepted
from rules.phase.charger import at_ceiling, equalise_seen, expected_current, hold_band
from rules.phase.machine import HOLD_BAND, REVERSED
from rules.phase.memory import CHARGING, PHASES, WARMTH, Bin, PhaseMemory
from rules.phase.no_revival import FULL, LONGEST, unseen
from rules.phase.observation import Observation
from rules.phase.thresholds import THRESHOLDS, Threshold

__all__ = [
    "CHARGING",
    "FULL",
    "HOLD_BAND",
    "LONGEST",
    "PHASES",
    "REVERSED",
    "THRESHOLDS",
    "WARMTH",
    "Bin",
    "Observation",
    "PhaseMemory",
    "Threshold",
    "at_ceiling",
    "equalise_seen",
    "expected_current",
    "hold_band",
    "still_accepted",
    "unseen",
]
