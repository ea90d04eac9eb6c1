"""How many hours the round still takes, with a band and a reason."""

from rules.remaining.estimate import told_now
from rules.remaining.experience import lesson_of, sort_of
from rules.remaining.parts import BLOCKING, STAGE_OF
from rules.remaining.thresholds import THRESHOLDS

#: So many rounds weigh as much as what is known without them [1].
FEW_ROUNDS = THRESHOLDS.rounds_weigh.value

__all__ = ["BLOCKING", "FEW_ROUNDS", "STAGE_OF", "lesson_of", "sort_of", "told_now"]
