"""Permit and latch: when the charger may run, and when it must not."""

from rules.safety.hazards import Pending, confirmed, lasting, note, over_limit, standing
from rules.safety.interlock import LONGEST_BYPASS, Finding, Interlock, Latch, Proof, Seen
from rules.safety.permits import (
    RESERVE_USED,
    TOP_UP_AT,
    UNKNOWN_GRAVITY,
    coldest_to_charge,
    frozen_risk,
    meter_findings,
    reserve,
    water_used,
)
from rules.safety.proof import CURRENT_WAIT, PROOF_WAIT, SLOWEST_METER

__all__ = [
    "CURRENT_WAIT",
    "LONGEST_BYPASS",
    "PROOF_WAIT",
    "RESERVE_USED",
    "SLOWEST_METER",
    "TOP_UP_AT",
    "UNKNOWN_GRAVITY",
    "Finding",
    "Interlock",
    "Latch",
    "Pending",
    "Proof",
    "Seen",
    "coldest_to_charge",
    "confirmed",
    "frozen_risk",
    "lasting",
    "meter_findings",
    "note",
    "over_limit",
    "reserve",
    "standing",
    "water_used",
]
