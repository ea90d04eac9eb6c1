"""How many hours the round still takes, with a band and a reason."""

from rules.remaining.experience import sort_of
from rules.remaining.parts import STAGE_OF

__all__ = ["STAGE_OF", "sort_of"]
