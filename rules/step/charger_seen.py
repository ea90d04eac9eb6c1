"""What is known of the charger, from which every sentence about it is made."""

from __future__ import annotations

from rules.advice import ChargerNow, aired, known
from rules.bank import Bank
from rules.bank_view import View
from rules.safety import Interlock
from rules.step.memory import Memory


def charger(bank: Bank, memory: Memory, lock: Interlock, view: View, at: float) -> ChargerNow:
    """Return what is known of the charger at one moment [s since the epoch]; every sentence is made from this."""
    now = known(bank, lock, view, memory.counters, memory.hand, memory.meters, at, memory.charged_at)
    if memory.phase.interrupted and now.by == "voltage":
        # It sinks from where a charger held it: beside a charge that stands still that voltage shows no charger.
        now = now._replace(state="unseen", by="")
    return aired(now, memory.charged_at, at)
