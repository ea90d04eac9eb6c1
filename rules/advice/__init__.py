"""What a person should know and do next."""

from rules.advice.chores import due, schedule
from rules.advice.sentences import FLAGS, action, advice

__all__ = ["FLAGS", "action", "advice", "due", "schedule"]
