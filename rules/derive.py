"""What is said of a bank, put together from its memory."""

from __future__ import annotations

from rules.advice import FLAGS, advice
from rules.bank import Bank
from rules.freshness import ages
from rules.gassing import gassing_share, hydrogen_rate, ventilation_needed
from rules.memory import Memory
from rules.permits import water_used
from rules.reading import Derived
from rules.view import View

#: Air goes on moving so long after charging before the bank may be approached with tools [s].
AIRING = 3600.0


def derive(bank: Bank, memory: Memory, view: View, at: float) -> Derived:
    """Everything that goes out, at one moment [s since the epoch]."""
    phase, counters, hand, lock = memory.phase, memory.counters, memory.hand, memory.interlock
    estimate = memory.remaining.estimate
    charging = view.current is not None and view.current > 0.2
    hydrogen = air = None
    if view.current is not None and view.volts_per_cell is not None:
        current = max(0.0, view.current)
        share = gassing_share(view.volts_per_cell, view.hottest or 25.0, bank.capacity, current) if charging else 0.0
        hydrogen = hydrogen_rate(current * share, bank.cells)
        # Air is asked for by the whole current as soon as the bank gasses: the share is an estimate, the room is not.
        air = ventilation_needed(current if share > 0.5 else current * share, bank.cells)
    names = sorted(memory.flags, key=lambda name: FLAGS[name].severity_rank)
    remaining = estimate.hours
    return Derived(
        bank=bank.id,
        at=at,
        voltage=view.voltage,
        volts_per_cell=view.volts_per_cell,
        current=view.current,
        current_estimated=view.estimated,
        string_currents=view.strings,
        power=None if view.voltage is None or view.current is None else view.voltage * view.current,
        temperature=view.hottest,
        ambient=view.ambient,
        rise_rate=memory.thermal.rate,
        phase=phase.phase,
        phase_since=phase.since or None,
        interrupted=phase.interrupted,
        remaining_hours=remaining,
        remaining_low=estimate.low,
        remaining_high=estimate.high,
        remaining_clock_hours=estimate.clock_hours,
        remaining_reason=estimate.reason,
        finish_at=None if estimate.clock_hours is None else at + 3600.0 * estimate.clock_hours,
        hold_hours=phase.hold_seconds / 3600.0,
        hold_needed=phase.hold_needed / 3600.0,
        charge_returned=counters.charge,
        energy=counters.energy,
        overcharge=max(0.0, counters.charge - bank.capacity),
        hydrogen_rate=hydrogen,
        ventilation_needed=air,
        water_used=water_used(counters, hand.topped_up),
        safe_to_approach_at=at + AIRING if charging else (memory.charged_at + AIRING if memory.charged_at else None),
        lowest_gravity=hand.lowest,
        gravity_spread=hand.spread,
        gravity_trend=hand.trend,
        cells=tuple(
            {
                "cell": entry.cell,
                "gravity": entry.gravity_corrected,
                "mark": entry.mark,
                "taken_at": entry.taken_at,
                "under_charge": entry.under_charge,
            }
            for entry in {entry.cell: entry for entry in hand.gravities}.values()
        ),
        charge_allowed=lock.allowed and bank.relay is not None,
        tripped=bool(lock.latched),
        trip_reason=", ".join(lock.latched),
        relay="unknown" if view.relay_closed is None else ("closed" if view.relay_closed else "open"),
        flags=tuple(memory.flags[name] for name in names),
        next_step=advice(phase.phase, phase.interrupted, names, phase.woken, bank.relay is None),
        freshness=ages(bank, memory.meters, at),
    )
