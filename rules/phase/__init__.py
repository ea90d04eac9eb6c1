"""Where the bank is in its revival."""

from rules.phase.acceptance import still_accepted
from rules.phase.charger import at_ceiling, equalise_seen, expected_current, held_from, hold_stretch, tail_current
from rules.phase.hold import flat_in, piece_noise
from rules.phase.machine import REVERSED
from rules.phase.memory import CHARGING, HELD, PHASES, WARMTH, Bin, PhaseMemory
from rules.phase.no_revival import FULL, LONGEST, unseen
from rules.phase.observation import Observation
from rules.phase.thresholds import THRESHOLDS, Threshold

__all__ = [
    "CHARGING",
    "FULL",
    "HELD",
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
    "flat_in",
    "held_from",
    "hold_stretch",
    "piece_noise",
    "still_accepted",
    "tail_current",
    "unseen",
]
