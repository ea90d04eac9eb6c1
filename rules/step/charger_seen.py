"""What is known of the charger, from which every sentence about it is made."""

from __future__ import annotations

from rules.advice import ChargerNow, aired, known
from rules.bank import Bank
from rules.bank_view import View
from rules.phase import CHARGING
from rules.safety import Interlock
from rules.step.memory import Memory


def charger(bank: Bank, memory: Memory, lock: Interlock, view: View, at: float) -> ChargerNow:
    """Return what is known of the charger at one moment [s since the epoch]; every sentence is made from this."""
    now = known(bank, lock, view, memory.counters, memory.hand, memory.meters, at, memory.charged_at)
    if memory.phase.interrupted and now.by == "voltage":
        # It sinks from where a charger held it: beside a charge that stands still that voltage shows no charger.
        now = now._replace(state="unseen", by="")
    return aired(now, memory.charged_at, at)


def shown_phase(memory: Memory, now: ChargerNow) -> tuple[str, bool]:
    """Return the phase that is told, and whether charging stands still.

    Phases are judged by whole minutes; whether current flows is seen at once. In the minutes between the two every
    surface says what is seen: a round whose first current flows has begun, charging that goes on is not interrupted,
    and where meters show that nothing flows it stands still.
    """
    phase, charging = memory.phase, charging_seen(now)
    begun = charging_begun(memory, charging)
    told = "waking" if begun else phase.phase
    stands = phase.interrupted or charging is False
    return told, told in CHARGING and stands and not charging


def charging_begun(memory: Memory, charging: bool | None) -> bool:
    """Tell whether a round whose phase is not judged yet is charged, or was for some seconds and cut."""
    phase = memory.phase
    if phase.phase != "idle" or phase.started_at is None:
        return False
    return bool(charging) or memory.charged_at > phase.started_at


def charging_seen(now: ChargerNow) -> bool | None:
    """Tell whether the bank is seen to be charged, or seen not to be; nothing where neither is seen."""
    if now.flows or now.state == "on":
        return True
    return False if now.metered or now.state == "off" else None
