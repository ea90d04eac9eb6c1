"""The bank as it stands: blocks, strings, how they are joined, and what can be measured on them."""

from rules.bank.arrangement import Arrangement, arranged, as_configured, change, halves, joining_current
from rules.bank.ledger import BlockLedger, credit
from rules.bank.model import AutomaticResume, Bank, Block, ChargerSetting, HoldRule, Limits, Meter, Relay
from rules.bank.quantity import CURRENT_QUANTITIES, ON_ABOVE, QUANTITIES

__all__ = [
    "CURRENT_QUANTITIES",
    "ON_ABOVE",
    "QUANTITIES",
    "Arrangement",
    "AutomaticResume",
    "Bank",
    "Block",
    "BlockLedger",
    "ChargerSetting",
    "HoldRule",
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
