"""A journal as the version at hand writes it: one bank in mid-hold, one tripped. See README.md beside this file."""

from __future__ import annotations

import gzip
import json
import sqlite3
import sys
import tempfile
from pathlib import Path

from bridge.config import load
from bridge.journal.batch import Batch
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.runtime.engine import Engine
from rules.events import Command, Derived, Event, HandReading, Outcome

#: First message [s since the epoch]; between two of one meter [s].
BEGAN, EVERY = 1_795_600_000.0, 20.0
#: Only the last quarter of an hour is kept message by message, so that the file stays small [s].
WHOLE = 900.0
#: Messages that came after the last snapshot, as after a power cut [s].
UNSEEN = 100.0
CELLS = [f"N{block}.{cell}" for block in range(1, 5) for cell in range(1, 4)]


def amps(hours: float) -> float:
    """Current into the north bank: all the charger gives, then a taper [A]."""
    return 20.0 if hours < 9.0 else max(3.0, 20.0 * 0.55 ** (hours - 9.0))


def volts(hours: float) -> float:
    """Its voltage: rising to the charger's ceiling in nine hours [V]."""
    return min(32.0, 26.0 + hours * 6.0 / 9.0)


def fahrenheit(hours: float) -> float:
    """The south bank's electrolyte: too hot for a quarter of an hour [degF]."""
    return 118.0 if 15.0 <= hours < 15.25 else 80.0


def messages(at: float) -> list[Message]:
    """What the four meters say at this moment."""
    hours = (at - BEGAN) / 3600.0
    north = {"dc": {"mv": round(1000 * volts(hours)), "a": round(amps(hours), 2)}, "t": at}
    south = {"dc": {"mv": 25_200, "a": 0.0}, "t": at}
    return [
        Message("cabin/shunt", json.dumps(north).encode(), at, session="history"),
        Message("cabin/probe", f"{84.0 + hours / 4.0:.2f}".encode(), at),
        Message("shed/shunt", json.dumps(south).encode(), at, session="history"),
        Message("shed/probe", f"{fahrenheit(hours):.2f}".encode(), at),
    ]


def by_hand(hours: float) -> list[HandReading]:
    """What a person noted within this step."""
    at = BEGAN + hours * 3600.0
    if hours == 1.0:
        readings = {**dict.fromkeys(CELLS, 1.150), "N2.3": 1.120}
        return [HandReading("north", "gravity", at, at, readings, 28.0, "Ann", "before")]
    if hours == 12.0:
        return [
            HandReading("north", "gravity", at, at, dict.fromkeys(CELLS, 1.210), 31.0, "Ann"),
            HandReading("north", "water", at, at, {"": 600.0}, None, "Ann"),
        ]
    return []


def make(folder: Path, hours: float = 18.0) -> dict[str, object]:
    """Write `revival.db` beside the cabin file in this folder; what this version remembers after so many hours."""
    ends = BEGAN + hours * 3600.0
    loaded = load(folder / "cabin.toml")
    cabin = loaded.cabin
    said: list[Outcome] = []
    engine = Engine(cabin.banks, loaded.routes, said.append)
    journal = Journal.open(cabin.journal, {bank.id: bank.meters for bank in cabin.banks.values()})
    batch = Batch()
    for step in range(round((ends - BEGAN) / EVERY)):
        at = BEGAN + step * EVERY
        late = at >= ends - WHOLE
        for message in messages(at):
            decoded = engine.accept(message)
            if decoded is not None and late:
                batch.messages.append((message, decoded.stamp))
                batch.readings.extend(decoded.readings)
        if step == 1:
            engine.fold(Command("north", "start", at, "Ann"))
            engine.fold(Command("south", "checklist", at, "Ann", {"name": "Ann"}))
        for reading in by_hand(round(step * EVERY / 3600.0, 6)):
            engine.fold(reading)
        for outcome in said:
            if isinstance(outcome, Event):
                batch.events.append(outcome)
            elif isinstance(outcome, Derived) and late:
                batch.derived.append(outcome)
        said.clear()
        if at == ends - UNSEEN:
            batch.snapshots.update({bank: engine.snapshot(bank) for bank in engine.banks})
    journal.submit(batch)
    if not journal.close(60.0):
        raise SystemExit("the journal was not written")
    north, south = engine.memories["north"], engine.memories["south"]
    return {
        "at": engine.at,
        "phase": north.phase.phase,
        "hold_seconds": north.phase.hold_seconds,
        "charge": north.counters.charge,
        "charging_seconds": north.counters.charging_seconds,
        "gravities": [reading.gravity_corrected for reading in north.hand.gravities],
        "entries": [[entry.kind, entry.taken_at, entry.by] for entry in north.hand.entries],
        "latched": {name: latch.reason for name, latch in south.interlock.latched.items()},
        "checklist_by": south.interlock.checklist_by,
    }


def main(name: str) -> None:
    """Keep the journal of this version under this name, beside this file."""
    here = Path(__file__).parent
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "cabin.toml").write_bytes((here / "cabin.toml").read_bytes())
        told = make(folder)
        connection = sqlite3.connect(folder / "revival.db")
        connection.execute("PRAGMA journal_mode = DELETE")  # everything into the one file
        connection.close()
        whole = (folder / "revival.db").read_bytes()
    (here / f"{name}.journal.gz").write_bytes(gzip.compress(whole, 9, mtime=0))
    (here / f"{name}.json").write_text(json.dumps(told, indent=1) + "\n")


if __name__ == "__main__":
    main(sys.argv[1])
