"""What people measure and see, kept and summed up."""

from rules.hand.cautions import cautions
from rules.hand.checks import (
    BACKWARD,
    FULL,
    KINDS,
    LEVELS,
    SAME_MINUTES,
    below_plates,
    beside_the_block_meters,
    beside_the_meter,
    beside_the_whole,
    check,
    differs_from_the_meter,
    doubt,
    measured_at,
    reserve,
)
from rules.hand.gravity import GravityReading, latest, latest_of_each, reading
from rules.hand.log import Entry, HandLog, rejoined
from rules.hand.numbered import spelled_out
from rules.hand.seen_words import damages, dangers, deposits, located, may_mean_another, understood, worries
from rules.hand.slips import (
    GRAVITY_SLIPS,
    Shown,
    frozen_solid,
    other_scale,
    raised_early,
    strange_amps,
    strange_charger,
    strange_gravity,
)

__all__ = [
    "BACKWARD",
    "FULL",
    "GRAVITY_SLIPS",
    "KINDS",
    "LEVELS",
    "SAME_MINUTES",
    "Entry",
    "GravityReading",
    "HandLog",
    "Shown",
    "below_plates",
    "beside_the_block_meters",
    "beside_the_meter",
    "beside_the_whole",
    "cautions",
    "check",
    "damages",
    "dangers",
    "deposits",
    "differs_from_the_meter",
    "doubt",
    "frozen_solid",
    "latest",
    "latest_of_each",
    "located",
    "may_mean_another",
    "measured_at",
    "other_scale",
    "raised_early",
    "reading",
    "rejoined",
    "reserve",
    "spelled_out",
    "strange_amps",
    "strange_charger",
    "strange_gravity",
    "understood",
    "worries",
]
