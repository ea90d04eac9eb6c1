"""What people measure and see, kept and summed up."""

from rules.hand.checks import FULL, KINDS, LEVELS, check, doubt
from rules.hand.gravity import GravityReading, latest, latest_of_each, reading
from rules.hand.log import BACKWARD, Entry, HandLog, rejoined
from rules.hand.seen_words import dangers, deposits, located

__all__ = [
    "BACKWARD",
    "FULL",
    "KINDS",
    "LEVELS",
    "Entry",
    "GravityReading",
    "HandLog",
    "check",
    "dangers",
    "deposits",
    "doubt",
    "latest",
    "latest_of_each",
    "located",
    "reading",
    "rejoined",
]
