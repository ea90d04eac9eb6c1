"""The bank as it stands: blocks, strings, how they are joined, and what can be measured on them."""

from rules.bank.arrangement import Arrangement, arranged, as_configured, change, halves, joining_current
from rules.bank.experience import NO_EXPERIENCE, TAUGHT, Experience, Lesson
from rules.bank.ledger import BlockLedger, credit
from rules.bank.model import AutomaticResume, Bank, Block, ChargerSetting, HoldRule, Limits, Meter, Relay
from rules.bank.quantity import CURRENT_QUANTITIES, ON_ABOVE, QUANTITIES

__all__ = [
    "CURRENT_QUANTITIES",
    "NO_EXPERIENCE",
    "ON_ABOVE",
    "QUANTITIES",
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
]
