"""What people measure and see, kept and summed up."""

from rules.hand import connections
from rules.hand.asked_words import asks
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
from rules.hand.gravity import REASONS, WATERED, GravityReading, latest, latest_of_each, reading, spread
from rules.hand.log import Entry, HandLog, rejoined
from rules.hand.misspelt import as_meant, meant
from rules.hand.numbered import spelled_out
from rules.hand.seen_words import (
    damages,
    dangers,
    deposits,
    in_doubt,
    located,
    may_mean_another,
    understood,
    worries,
)
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
from rules.hand.tongues import FIRE, HURT, SMOKE

__all__ = [
    "BACKWARD",
    "FIRE",
    "FULL",
    "GRAVITY_SLIPS",
    "HURT",
    "KINDS",
    "LEVELS",
    "REASONS",
    "SAME_MINUTES",
    "SMOKE",
    "WATERED",
    "Entry",
    "GravityReading",
    "HandLog",
    "Shown",
    "as_meant",
    "asks",
    "below_plates",
    "beside_the_block_meters",
    "beside_the_meter",
    "beside_the_whole",
    "cautions",
    "check",
    "connections",
    "damages",
    "dangers",
    "deposits",
    "differs_from_the_meter",
    "doubt",
    "frozen_solid",
    "in_doubt",
    "latest",
    "latest_of_each",
    "located",
    "may_mean_another",
    "meant",
    "measured_at",
    "other_scale",
    "raised_early",
    "reading",
    "rejoined",
    "reserve",
    "spelled_out",
    "spread",
    "strange_amps",
    "strange_charger",
    "strange_gravity",
    "understood",
    "worries",
]
