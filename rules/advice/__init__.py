"""What a person should know and do next."""

from rules.advice.answer import ANSWERS, PAPERWORK, is_it_safe
from rules.advice.charger_now import AMPS_STAND_FOR, HELD_UP, ChargerNow, aired, known, not_off, off_known
from rules.advice.charger_now import words as charger_words
from rules.advice.chores import due, schedule
from rules.advice.doubts import WARM, blocks, doubts
from rules.advice.findings import STRINGS_GOOD_FOR
from rules.advice.flag_words import FIRST_AID, FLAGS, NORMAL_COURSE, NOT_SAFE, action, on_paper
from rules.advice.next_step import advice
from rules.advice.phase_words import LOOKS_BLOCKED
from rules.advice.situation import Contradiction, Situation

__all__ = [
    "AMPS_STAND_FOR",
    "ANSWERS",
    "FIRST_AID",
    "FLAGS",
    "HELD_UP",
    "LOOKS_BLOCKED",
    "NORMAL_COURSE",
    "NOT_SAFE",
    "PAPERWORK",
    "STRINGS_GOOD_FOR",
    "WARM",
    "ChargerNow",
    "Contradiction",
    "Situation",
    "action",
    "advice",
    "aired",
    "blocks",
    "charger_words",
    "doubts",
    "due",
    "is_it_safe",
    "known",
    "not_off",
    "off_known",
    "on_paper",
    "schedule",
]
