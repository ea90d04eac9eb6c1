"""Permit and latch: when the charger may run, and when it must not."""

from rules.safety.closing import AUTO_OFF_MISSING, LINK_LOST, NOBODY_LISTENS
from rules.safety.evidence import Pending, confirmed, forget, lasting, note
from rules.safety.frost import (
    FROST_MARGIN,
    GRAVITY_GOOD_FOR,
    UNKNOWN_GRAVITY,
    coldest_to_charge,
    frozen_risk,
    known_acid,
    may_freeze,
)
from rules.safety.hazards import SHORTED_BLOCK, Blocks, over_limit, remember_blocks, standing
from rules.safety.interlock import (
    LEAST_OPEN,
    LONGEST_BYPASS,
    Finding,
    Interlock,
    Latch,
    Proof,
    Seen,
    blocked_by,
    out_until,
    reset_refused,
)
from rules.safety.permits import (
    EXTENSION,
    LONGEST_ROUND,
    TOP_UP_AT,
    meter_findings,
    noted,
    reserve,
    water_used,
)
from rules.safety.proof import CURRENT_WAIT, NOT_CURRENT, PROOF_WAIT, SLOWEST_METER
from rules.safety.read_back import READ_BACK
from rules.safety.state import DEGRADED, PROVED, UNPROVED

__all__ = [
    "AUTO_OFF_MISSING",
    "CURRENT_WAIT",
    "DEGRADED",
    "EXTENSION",
    "FROST_MARGIN",
    "GRAVITY_GOOD_FOR",
    "LEAST_OPEN",
    "LINK_LOST",
    "LONGEST_BYPASS",
    "LONGEST_ROUND",
    "NOBODY_LISTENS",
    "NOT_CURRENT",
    "PROOF_WAIT",
    "PROVED",
    "READ_BACK",
    "SHORTED_BLOCK",
    "SLOWEST_METER",
    "TOP_UP_AT",
    "UNKNOWN_GRAVITY",
    "UNPROVED",
    "Blocks",
    "Finding",
    "Interlock",
    "Latch",
    "Pending",
    "Proof",
    "Seen",
    "blocked_by",
    "coldest_to_charge",
    "confirmed",
    "forget",
    "frozen_risk",
    "known_acid",
    "lasting",
    "may_freeze",
    "meter_findings",
    "note",
    "noted",
    "out_until",
    "over_limit",
    "remember_blocks",
    "reserve",
    "reset_refused",
    "standing",
    "water_used",
]
