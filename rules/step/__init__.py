"""The door of events: one event folded into a bank's memory."""

from rules.step.checklist_doubts import Doubt, checklist_doubts
from rules.step.current_verdict import round_over, so_far, standing, still_to_measure, trip_kept, trip_stands
from rules.step.derived_state import Standing, flags_in_order
from rules.step.door import as_joined, derived, fold, measured, step
from rules.step.memory import Memory, initial, quiet_until
from rules.step.newest import over_words
from rules.step.on_command import INTERNAL, resume_refused
from rules.step.rewire import block_ledger

__all__ = [
    "INTERNAL",
    "Doubt",
    "Memory",
    "Standing",
    "as_joined",
    "block_ledger",
    "checklist_doubts",
    "derived",
    "flags_in_order",
    "fold",
    "initial",
    "measured",
    "over_words",
    "quiet_until",
    "resume_refused",
    "round_over",
    "so_far",
    "standing",
    "step",
    "still_to_measure",
    "trip_kept",
    "trip_stands",
]  # fmt: skip
