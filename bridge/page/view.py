"""What the page shows, as plain JSON values.

Everything is read from frozen tuples that the engine replaced in one go: another thread sees one consistent moment.
"""

from __future__ import annotations

from typing import Any

from bridge.journal.snapshot import freeze
from bridge.runtime.requests import plain_state
from bridge.runtime.service import Service
from bridge.settings import Cabin, PageSettings
from bridge.words.bank_status import LEAST_AIR, gas, gas_goes_on, hand_value, hydrogen, place, standing
from bridge.words.spoken import measured
from rules.advice import FIRST_AID
from rules.bank import Bank
from rules.events import Derived
from rules.hand import GRAVITY_SLIPS
from rules.phase import PHASES, hold_stretch
from rules.plan import cautions, checklist
from rules.safety import burning, hurt, out_until, own_off_words, reset_refused
from rules.step import Memory, as_joined, over_words, resume_refused
from rules.verdict import GRAVITY_BELOW, VOLTS_BELOW

#: Readings of a cell that are sent along for its trend, and entries for looking back.
TREND, ENTRIES = 6, 20
#: Less water per cell than this is not told [g].
LEAST_WATER = 0.5


def site_view(cabin: Cabin, settings: PageSettings) -> dict[str, Any]:
    """Return what does not change while the bridge runs."""
    return {
        "site": cabin.site,
        "temperature": cabin.degrees,
        "poured": "fl oz" if cabin.degrees == "degF" else "mL",  # water, as the bench asks for it
        "writable": settings.token is not None,
        "phases": PHASES,
        "checklist": in_measures(checklist(cabin.banks.values()), cabin.degrees),
        "cautions": in_measures(cautions(cabin.banks.values()), cabin.degrees),
        # A cell stands out from these on: the verdict's own thresholds.
        "apart": {"gravity": GRAVITY_BELOW, "volts": VOLTS_BELOW},
        "slips": GRAVITY_SLIPS,
        "banks": {name: _bank(bank) for name, bank in cabin.banks.items()},
    }


def _bank(bank: Bank) -> dict[str, Any]:
    return {
        "cells": bank.cells,
        "capacity": bank.capacity,
        "strings": [[block.__dict__ for block in string] for string in bank.strings],
        "chargers": [[charger.volts, charger.amps] for charger in bank.chargers],
        "full_gravity": bank.full_gravity,
        "hydrometer_reference": bank.hydrometer_reference,
        "hot": bank.temperature_limit,
        "warm": bank.limits.temperature_warning,
        "ceiling": bank.limits.cell_voltage,
        "relay": bank.relay is not None,
        "auto_off": bank.relay.auto_off if bank.relay is not None else None,
    }


def in_measures(told: Any, scale: str) -> Any:
    """Return plain values with the measures of every sentence in them as the owner reads them ("degC" or "degF").

    Examples
    --------
    >>> in_measures({"why": ["12 mm under the plates"], "at": 5.0}, "degF")
    {'why': ['0.47 in under the plates'], 'at': 5.0}
    """
    if isinstance(told, str):
        return measured(told, scale)
    if isinstance(told, dict):
        return {name: in_measures(value, scale) for name, value in told.items()}
    return [in_measures(value, scale) for value in told] if isinstance(told, list | tuple) else told


def bank_view(service: Service, bank: str, derived: Derived, scale: str) -> dict[str, Any]:
    """Return a bank's state, how it stands, and its interlock; amounts as who reads this scale measures them."""
    return dict(in_measures(_bank_view(service, bank, derived), scale))


def _bank_view(service: Service, bank: str, derived: Derived) -> dict[str, Any]:
    configured, memory = service.engine.banks[bank], service.engine.memories[bank]
    lock = memory.interlock
    joined = configured if memory.arrangement is None else as_joined(configured, memory.arrangement)
    level, words = standing(derived)
    raised = {flag.name: flag.action for flag in derived.flags}
    over = over_words(joined, memory, derived.at, closing=False) if lock.latched else ""
    no_reset = reset_refused(lock, memory.pending, derived.at, over)
    return {
        **plain_state(derived),
        "level": level,
        "where": place(derived.phase, derived.interrupted, derived.charging, ", standing still"),
        "gas": gas(derived),
        "amounts": _amounts(derived),
        "gas_goes_on": gas_goes_on(derived.at, derived.safe_to_approach_at),
        "placed": _placed(configured, memory),
        "hold_band": hold_stretch(configured, memory.phase),
        "heard_at": derived.at - min(derived.freshness.values()) if derived.freshness else None,
        "standing": words,
        "lock": {
            "started": lock.started,
            "allowed": lock.allowed,
            "needs_resume": lock.needs_resume and (lock.started or configured.relay is None),
            "no_resume": resume_refused(joined, memory, derived.at),
            "no_reset": no_reset if lock.latched else "",
            "noted": lock.noted,
            "exhausted": lock.exhausted,
            "out_until": out_until(lock),
            "burning": burning(lock.latched),
            "first_aid": FIRST_AID if hurt(lock.latched) and derived.at < out_until(lock) else "",
            "latched": [
                {"name": name, "at": latch.at, "reason": latch.reason, "action": raised.get(name, "")}
                for name, latch in lock.latched.items()
            ],
            "checklist_by": lock.checklist_by,
            "proving": lock.proving,
            "proof": freeze(lock.proof) if lock.proof.at else None,
            "own_off": own_off_words(None if joined.relay is None else joined.relay.auto_off, lock.proof.own),
            "order_at": lock.order_at,
            "confirmed_at": lock.confirmed_at,
            "withdrawn_for": lock.withdrawn_for,
            "bypasses": lock.bypasses,
        },
    }


def _amounts(derived: Derived) -> dict[str, str]:
    """Return what is shown as a figure and measured otherwise elsewhere; empty where there is none to speak of."""
    air, gassed, water = derived.ventilation_needed, derived.hydrogen_rate, derived.water_used
    return {
        "air": f"{air:.1f} m³/h" if air is not None and air >= LEAST_AIR else "",
        "hydrogen": hydrogen(gassed) if gassed else "",
        "water": f"{water:.0f} g per cell" if water > LEAST_WATER else "",
    }


#: Quantities that a meter may tell of one block or cell, and under what name the page shows them.
PLACED = {"block_voltage": "volts", "cell_voltage": "volts", "electrolyte_temperature": "warmth"}
#: The same, noted by hand.
NOTED = {"voltage": "volts", "temperature": "warmth"}


def _placed(bank: Bank, memory: Memory) -> dict[str, dict[str, list[float]]]:
    """Return what meters tell of single blocks and cells: value and when it was true [s since the epoch]."""
    found: dict[str, dict[str, list[float]]] = {"volts": {}, "warmth": {}}
    for meter in bank.meters:
        trace = memory.meters.get(meter.name)
        if meter.index and meter.quantity in PLACED and trace is not None and trace.at:
            found[PLACED[meter.quantity]][meter.index] = [trace.value, trace.at]
    return found


def _noted(memory: Memory) -> dict[str, dict[str, list[float]]]:
    """Return what was noted by hand of single blocks and cells, the newest of each place."""
    found: dict[str, dict[str, list[float]]] = {"volts": {}, "warmth": {}}
    for entry in memory.hand.entries:
        if entry.kind in NOTED:
            for where, value in entry.values.items():
                if where and isinstance(value, float | int):
                    found[NOTED[entry.kind]][where] = [float(value), entry.taken_at]
    return found


def hand_view(bank: str, memory: Memory, scale: str) -> dict[str, Any]:
    """Return what was entered by hand: the newest entries as the owner reads them, and the readings of every cell."""
    # What was read without a temperature could not be corrected, and is never shown as if it had been.
    bare = {entry.taken_at for entry in memory.hand.entries if entry.kind == "gravity" and entry.temperature is None}
    cells: dict[str, list[list[float | str | None]]] = {}
    for reading in memory.hand.gravities:
        row = [reading.taken_at, reading.gravity_corrected, reading.mark, reading.taken_at in bare]
        cells.setdefault(reading.cell, []).append(row)
    return {
        "bank": bank,
        "placed": _noted(memory),
        "cells": {cell: readings[-TREND:] for cell, readings in cells.items()},
        "entries": [
            {
                "kind": entry.kind,
                "taken_at": entry.taken_at,
                "values": {where: hand_value(entry.kind, where, value, scale) for where, value in entry.values.items()},
                "temperature": entry.temperature,
                "by": entry.by,
                "note": entry.note,
                "under_charge": entry.under_charge,
            }
            for entry in reversed(memory.hand.entries[-ENTRIES:])
        ],
    }


def bridge_view(service: Service) -> dict[str, Any]:
    """Return how the bridge itself is."""
    return {
        "at": service.clock.now(),
        "turned_at": service.engine.at,
        "connected": service.bus.connected,
        "clock_trusted": service.clock.trusted,
        "journal_lag": round(service.journal.lag, 1),
        "journal_degraded": service.journal.degraded,
        "newer_file": service.newer_file,
        "database": None if service.database is None else service.database(),
    }
