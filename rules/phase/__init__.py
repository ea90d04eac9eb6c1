"""Where the bank is in its revival."""

from rules.phase.charger import expected_current
from rules.phase.machine import HOLD_BAND
from rules.phase.memory import CHARGING, PHASES, Bin, PhaseMemory
from rules.phase.no_revival import FULL
from rules.phase.observation import Observation

__all__ = ["CHARGING", "FULL", "HOLD_BAND", "PHASES", "Bin", "Observation", "PhaseMemory", "expected_current"]
