"""The bank as it stands: blocks, strings, how they are joined, and what can be measured on them."""

from rules.bank.arrangement import (
    Arrangement,
    arranged,
    as_configured,
    change,
    halves,
    joining_current,
    too_much_for_the_part,
)
from rules.bank.experience import NO_EXPERIENCE, TAUGHT, Experience, Lesson
from rules.bank.ledger import BlockLedger, credit
from rules.bank.model import (
    HARD_SULFATE,
    LEAST_EQUALISE,
    REACHES,
    AutomaticResume,
    Bank,
    Block,
    ChargerSetting,
    HoldRule,
    Limits,
    Meter,
    Relay,
)
from rules.bank.quantity import CURRENT_QUANTITIES, ON_ABOVE, QUANTITIES

__all__ = [
    "CURRENT_QUANTITIES",
    "HARD_SULFATE",
    "LEAST_EQUALISE",
    "NO_EXPERIENCE",
    "ON_ABOVE",
    "QUANTITIES",
    "REACHES",
    "TAUGHT",
    "Arrangement",
    "AutomaticResume",
    "Bank",
    "Block",
    "BlockLedger",
    "ChargerSetting",
    "Experience",
    "HoldRule",
    "Lesson",
    "Limits",
    "Meter",
    "Relay",
    "arranged",
    "as_configured",
    "change",
    "credit",
    "halves",
    "joining_current",
    "too_much_for_the_part",
]
