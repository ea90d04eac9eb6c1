"""What people measure and see, kept and summed up."""

from rules.hand.checks import FULL, LEVELS, check, places
from rules.hand.gravity import GravityReading, latest, reading
from rules.hand.log import HandLog, rejoined

__all__ = ["FULL", "LEVELS", "GravityReading", "HandLog", "check", "latest", "places", "reading", "rejoined"]
