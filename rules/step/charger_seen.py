"""What is known of the charger, from which every sentence about it is made."""

from __future__ import annotations

from rules.advice import ChargerNow, aired, known
from rules.bank import Bank
from rules.bank_view import View
from rules.meters import NEVER
from rules.phase import CHARGING
from rules.safety import Interlock
from rules.step.memory import Memory

#: A charger that is on takes more than this at its outlet, whatever its bank takes [W] (common practice, no source).
OUTLET_OFF = 1.0
#: No more than this is an ammeter that shows nothing [A], and no bank on a charger stands lower for long [V per cell]
#: (common practice, no source: sound cells rest at 2.15 V at most, and a charger lifts a blocked bank to its setting).
NO_AMPS, AT_REST = 0.1, 2.17


def off_seen(bank: Bank, memory: Memory, view: View) -> float:
    """Return when meters last showed that the charger is certainly off [s since the epoch]; 0 where they do not.

    The outlet's own watts say it best; without them it takes amps and volts together.
    """
    heard = memory.meters
    if watts := view.living.get("ac_power", ()):
        if max(value for _, value in watts) > OUTLET_OFF:
            return 0.0
        return min(heard.get(meter.name, NEVER).at for meter, _ in watts)
    amps, volts = view.living.get("current", ()), view.living.get("voltage", ())
    if not amps or not volts or max(abs(value) for _, value in amps) > NO_AMPS:
        return 0.0
    if max(value for _, value in volts) > AT_REST * bank.cells:
        return 0.0
    return min(heard.get(meter.name, NEVER).at for meter, _ in (*amps, *volts))


def charger(bank: Bank, memory: Memory, lock: Interlock, view: View, at: float) -> ChargerNow:
    """Return what is known of the charger at one moment [s since the epoch]; every sentence is made from this."""
    charged = (memory.charged_at, memory.resumed_at)
    now = known(bank, lock, view, memory.counters, memory.hand, memory.meters, at, *charged)
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
