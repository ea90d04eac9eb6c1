"""What a person should know and do next."""

from rules.advice.charger_now import ChargerNow, aired, known
from rules.advice.charger_now import words as charger_words
from rules.advice.chores import due, schedule
from rules.advice.doubts import doubts
from rules.advice.sentences import FLAGS, Situation, action, advice, on_paper

__all__ = [
    "FLAGS",
    "ChargerNow",
    "Situation",
    "action",
    "advice",
    "aired",
    "charger_words",
    "doubts",
    "due",
    "known",
    "on_paper",
    "schedule",
]
