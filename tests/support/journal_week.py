"""A made-up week of one bank in a journal, written quickly: what page and report have to draw after seven days."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bridge.config import load
from bridge.journal.batch import Batch
from bridge.journal.snapshot import to_text
from bridge.journal.writer import Journal
from rules.bank.ledger import BlockLedger
from rules.bank.model import Bank
from rules.events import Derived, Event, HandReading, Reading
from rules.hand.log import HandLog
from rules.hand.log import record as note
from rules.meters.counters import Counters
from rules.phase.memory import PhaseMemory
from rules.safety.interlock import Interlock, Proof
from rules.step.memory import initial

HOUR, DAY = 3600.0, 86400.0
#: Phase and the hour of the week in which it begins; the week ends in the hold.
WEEK = (
    ("waking", 1.0),
    ("reviving", 40.0),
    ("bulk", 52.0),
    ("absorbing", 96.0),
    ("finishing", 120.0),
    ("holding", 156.0),
)
#: The generator is off at night [h of the day].
NIGHT = (1.0, 6.0)
TRIP = 130.0  #: h
Curve = NDArray[np.float64]


def write_week(
    config: Path,
    end: float,
    step: float = 10.0,
    hours: float = 168.0,
    *,
    over: bool = False,
    pace: float = 1.0,
    percent: float = 0.0,
) -> None:
    """Fill the journal of this cabin file with a week that ends at `end` [s since the epoch].

    A round that is `over` was finished there, had come only so far by its `pace`, and was tested where `percent` of
    the rating is told.
    """
    cabin = load(config).cabin
    bank = next(iter(cabin.banks.values()))
    start = end - hours * HOUR
    at = np.arange(start, end, step)
    hour = (at - start) / HOUR
    volts, amps, heat, still = curves(hour * pace)
    journal = Journal.open(cabin.journal, {bank.id: bank.meters})
    for first in range(0, len(at), 5000):
        part = slice(first, first + 5000)
        batch = Batch()
        for when, volt, amp, warm in zip(at[part], volts[part], amps[part], heat[part], strict=True):
            now = float(when)
            batch.readings += [
                Reading(bank.id, "voltage", float(volt) * bank.cells, now, now),
                Reading(bank.id, "current", float(amp), now, now),
                Reading(bank.id, "electrolyte_temperature", float(warm), now, now),
            ]
        every = max(1, round(60.0 / step))
        for place in range(first, min(first + 5000, len(at)), every):
            batch.derived.append(
                _state(bank, float(at[place]), float(hour[place]), volts[place], amps[place], heat[place], hours)
            )
        journal.submit(batch)
    last = Batch(events=_events(bank, start, hours, hour, still), urgent=True)
    if over:
        last.events.append(Event(bank.id, "command", end, {"name": "finish", "by": "keeper", "argument": {}}))
        last.events.append(
            Event(bank.id, "phase", end + 1.0, {"phase": "idle", "before": "holding", "interrupted": False})
        )
    if percent:
        tested = end + DAY
        last.events.append(Event(bank.id, "test-end", tested, {"reason": "1.75 V", "delivered": 2.0 * percent}))
        last.derived.append(Derived(bank.id, tested + 1.0, capacity_percent=percent))
    hand = HandLog()
    for sheet in sheets(bank, start):
        hand = note(hand, sheet, 0.0, 0.0, True, None)
    last.events += hand_events(bank, start)
    machine = PhaseMemory("holding", start + 156 * HOUR, False, True, start + HOUR, 12 * HOUR, 16 * HOUR)
    counters = Counters(
        charge=212.0, energy=5.9, gassing=30.0, charging_seconds=130 * HOUR, string_charge=(212.0,), voltage=31.9
    )
    proof = Proof(start + 600.0, True, 1.2, False, "the relay opened")
    memory = initial()._replace(
        phase=machine._replace(ceiling=2.67, set_current=25.0),
        counters=counters,
        interlock=Interlock(started=True, checklist_by="keeper", proof=proof),
        hand=hand,
        charged_at=end,
        ledger={block.label: BlockLedger() for string in bank.strings for block in string},
    )
    last.snapshots[bank.id] = to_text(memory)
    journal.submit(last)
    journal.close(30.0)


def curves(hour: Curve) -> tuple[Curve, Curve, Curve, NDArray[np.bool_]]:
    """Volts per cell, amps, degC by the hour of the week, and where charging stands still."""
    points = [0, 1, 40, 52, 53, 96, 120, 121, 156, 168]
    volts = np.interp(hour, points, [1.9, 2.4, 2.4, 2.18, 2.2, 2.4, 2.4, 2.42, 2.665, 2.668])
    amps = np.interp(hour, points, [0.0, 0.2, 4.0, 24.5, 25.0, 25.0, 8.0, 22.0, 6.0, 3.5])
    noise = np.random.default_rng(7)
    day = hour % 24.0
    still = ((day >= NIGHT[0]) & (day < NIGHT[1]) & (hour > 6.0) & (hour < 156.0)) | (
        (hour >= TRIP) & (hour < TRIP + 3.0)
    )
    amps = np.where(still, 0.0, amps) + noise.normal(0.0, 0.05, len(hour))
    volts = np.where(still, 2.08, volts) + noise.normal(0.0, 0.002, len(hour))
    heat = (
        16.0
        + 4.0 * np.sin((hour - 9.0) / 24.0 * 2.0 * np.pi)
        + np.interp(hour, points, [0, 0, 2, 9, 9, 10, 7, 12, 16, 15])
    )
    heat += np.exp(-np.abs(hour - TRIP) / 2.0) * 10.0
    return volts, amps, heat + noise.normal(0.0, 0.05, len(hour)), still


def _phase(hour: float) -> str:
    return next((name for name, begins in reversed(WEEK) if hour >= begins), "idle")


def _state(bank: Bank, at: float, hour: float, volts: float, amps: float, heat: float, hours: float) -> Derived:
    left = max(0.5, (hours + 4.0 - hour) * 0.8)
    known = hour > 42.0
    return Derived(
        bank.id,
        at,
        voltage=volts * bank.cells,
        volts_per_cell=volts,
        current=amps,
        temperature=heat,
        phase=_phase(hour),
        remaining_hours=left if known else None,
        remaining_low=left * 0.75 if known else None,
        remaining_high=left * 1.4 if known else None,
        remaining_clock_hours=left * 1.2 if known else None,
        remaining_reason="from the bulk charge so far" if known else "nothing moves yet",
        charge_returned=hour * 1.2,
        relay="closed",
    )


def _events(bank: Bank, start: float, hours: float, hour: Curve, still: NDArray[np.bool_]) -> list[Event]:
    hot = {"hazard": "over-temperature", "value": 43.6, "limit": 43.333, "unit": "degC", "reason": "43.6 degC measured"}
    told: list[tuple[float, str, dict[str, object]]] = [
        (0.14, "command", {"name": "checklist", "by": "keeper", "argument": {}}),
        (0.17, "proof", {"passed": True, "seconds": 1.2, "current_proved": False, "note": "the relay opened"}),
        (1.0, "command", {"name": "start", "by": "keeper", "argument": {}}),
        (TRIP, "trip", hot),
        (TRIP, "order", {"action": "cut", "reason": "over-temperature"}),
        (TRIP + 0.001, "cut-confirmed", {"seconds": 1.4, "by": "relay"}),
        (TRIP + 2.98, "command", {"name": "reset", "by": "keeper", "argument": {}}),
        (TRIP + 3.0, "command", {"name": "resume", "by": "keeper", "argument": {}}),
        (150.0, "hand", {"kind": "water", "values": {"": 900.0}, "by": "keeper", "note": "", "taken_at": start}),
    ]
    events = [Event(bank.id, kind, start + when * HOUR, detail) for when, kind, detail in told]
    changes = [(begins, name, False) for name, begins in WEEK]
    edges = np.flatnonzero(np.diff(still.astype(int))) + 1
    changes += [(float(hour[edge]), "", bool(still[edge])) for edge in edges]
    name, standing = "idle", False
    for when, new, is_still in sorted(changes):
        before = name
        name, standing = (new, standing) if new else (name, is_still)
        detail = {"phase": name, "before": before, "interrupted": standing}
        events.append(Event(bank.id, "phase", start + when * HOUR, detail))
    return sorted(events, key=lambda event: event.at)


def sheets(bank: Bank, start: float) -> list[HandReading]:
    """Three walks along the string; the last cell stays behind."""
    cells = [f"{block.label}.{cell + 1}" for string in bank.strings for block in string for cell in range(block.cells)]
    found = []
    for hour, base in ((0.5, 1.120), (100.0, 1.215), (150.0, 1.252)):
        values: dict[str, float | str] = {cell: round(base + 0.003 * ((7 * n) % 5), 3) for n, cell in enumerate(cells)}
        values[cells[-1]] = round(base - 0.025, 3)
        when = start + hour * HOUR
        found.append(HandReading(bank.id, "gravity", when, when, values, 26.0, "keeper"))
    return found


def hand_events(bank: Bank, start: float) -> list[Event]:
    """The same as the journal keeps them."""
    return [
        Event(bank.id, "hand", sheet.at, {**sheet._asdict(), "under_charge": sheet.at > start + HOUR})
        for sheet in sheets(bank, start)
    ]
