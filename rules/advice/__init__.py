"""What a person should know and do next."""

from rules.advice.charger_now import ChargerNow, aired, known, moment
from rules.advice.charger_now import words as charger_words
from rules.advice.chores import due, schedule
from rules.advice.doubts import doubts
from rules.advice.sentences import FLAGS, Situation, Steps, action, advice, lines

__all__ = [
    "FLAGS",
    "ChargerNow",
    "Situation",
    "Steps",
    "action",
    "advice",
    "aired",
    "charger_words",
    "doubts",
    "due",
    "known",
    "lines",
    "moment",
    "schedule",
]
