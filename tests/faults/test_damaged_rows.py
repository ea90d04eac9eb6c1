"""One flipped bit in what a start reads back: the bridge opens, and what cannot be read leaves the bank tripped."""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

import pytest

from bridge.app import _note_changes, _remembered, _restore
from bridge.clock import Clock
from bridge.config import Loaded, load
from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.writer import Journal
from bridge.runtime.engine import Engine
from rules.events import Event, Order, Outcome, Tick
from rules.safety import Latch
from tests.support.brokers import wait_until
from tests.support.cabin import write_cabin
from tests.support.running_bridge import turning

SOUTH = """
[[bank]]
id = "south"
blocks = { per_string = 4, cells = 3, capacity = "200 Ah" }
[[bank.meter]]
topic = "cabin/south"
style = "plain"
quantity = "voltage"
unit = "V"
[[bank.meter]]
topic = "cabin/south/probe"
quantity = "electrolyte_temperature"
unit = "degC"
placed = "cell"
[bank.relay]
topic = "cabin/south/set"
"""
#: Bits flipped in each kind of row: enough to meet names, lengths, types and contents many times over.
FLIPS = {"snapshot": 150, "fact": 80, "event": 80}
#: Bytes of a row's head that lie before its first column: cell size, row number, and the kinds of its columns.
HEAD = 8
PIECE = 40


class Collected:
    """Stands where the service does: takes what the rules say, and what is to be kept."""

    def __init__(self, engine: Engine) -> None:
        self.engine, self.told = engine, list[Outcome]()
        engine.carry = self.carry

    def carry(self, outcome: Outcome) -> None:
        self.told.append(outcome)

    def keep_fact(self, name: str, text: str | None) -> None:
        """Nothing is kept here."""


def start(loaded: Loaded) -> tuple[Journal, Collected]:
    """What every start does before anything is subscribed."""
    cabin = loaded.cabin
    journal = Journal.open(cabin.journal, {bank.id: bank.meters for bank in cabin.banks.values()})
    engine = Engine(cabin.banks, loaded.routes, lambda outcome: None)
    collected = Collected(engine)
    clock = Clock()
    memories, lost = _remembered(journal, cabin.banks)
    _restore(engine, journal, clock, memories, lost)
    _note_changes(collected, cabin, journal.facts(), clock.now())  # type: ignore[arg-type]
    for bank in engine.banks:
        engine._fold(bank, Tick(clock.now()))
    return journal, collected


class Kept(NamedTuple):
    """A sound journal: north is tripped for heat, south was never tripped."""

    loaded: Loaded
    whole: bytes


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    folder = tmp_path_factory.mktemp("damaged")
    loaded = load(write_cabin(folder, 1883, extra="").parent / "cabin.toml")
    path = loaded.cabin.source
    Path(path).write_text(Path(path).read_text().replace("\n[journal]", SOUTH + "\n[journal]"))
    loaded = load(Path(path))
    journal, collected = start(loaded)
    engine, cabin = collected.engine, loaded.cabin
    north = engine.memories["north"]
    hot = {"over-temperature": Latch(1795590000.0, 44.0, 43.3, "degC", "hot")}
    engine.memories["north"] = north._replace(interlock=north.interlock._replace(latched=hot))
    facts: dict[str, str | None] = {
        "filters": json.dumps("0123456789abcdef"), "announced": json.dumps(["homie/5/tarn-hut/$state"]),
    }  # fmt: skip
    for bank in cabin.banks.values():
        facts[f"limits/{bank.id}"] = json.dumps({"temperature": bank.limits.temperature})
    events = [Event(name, "trip", 1795590000.0 + place, {"hazard": "gas"}) for place, name in enumerate(cabin.banks)]
    journal.submit(Batch(snapshots={bank: engine.snapshot(bank) for bank in engine.banks}, facts=facts, events=events))
    assert journal.close(20.0)
    yield Kept(loaded, cabin.journal.path.read_bytes())


def places(kept: Kept, table: str) -> list[int]:
    """Where in the file the rows of this table lie, heads included."""
    path = kept.loaded.cabin.journal.path
    path.write_bytes(kept.whole)
    found: set[int] = set()
    with closing(sqlite3.connect(path)) as connection:
        names = {"snapshot": "bank, memory", "fact": "name, value", "event": "kind, detail"}[table]
        for first, second in connection.execute(f"SELECT {names} FROM {table}"):
            row = b"".join(part.encode() if isinstance(part, str) else part for part in (first, second))
            at = kept.whole.find(row[:PIECE])
            assert at > 0, "the row begins whole in its page"
            found.update(range(at - HEAD, at + PIECE))
            for begin in range(PIECE, len(row) - PIECE, PIECE):  # long rows go on in other pages
                at = kept.whole.find(row[begin : begin + PIECE])
                found.update(range(at, at + PIECE) if at > 0 else ())
    return sorted(found)


def flipped(kept: Kept, place: int, bit: int) -> tuple[Journal, Collected]:
    path = kept.loaded.cabin.journal.path
    for one in path.parent.glob(path.name + "*"):
        one.unlink()
    damaged = bytearray(kept.whole)
    damaged[place] ^= 1 << bit
    path.write_bytes(damaged)
    return start(kept.loaded)


@pytest.mark.parametrize("table", FLIPS)
def test_f65_one_flipped_bit_opens_and_a_trip_is_kept_or_replaced_by_words(table: str, kept: Kept) -> None:
    draw = random.Random(65)
    lost = 0
    for place in draw.choices(places(kept, table), k=FLIPS[table]):
        bit = draw.randrange(8)
        journal, collected = flipped(kept, place, bit)
        try:
            memories = collected.engine.memories
            where = f"{table}, byte {place}, bit {bit}"
            north, south = memories["north"].interlock, memories["south"].interlock
            assert north.latched.keys() & {"over-temperature", "journal-lost"}, where
            for lock in (north, south):
                if "journal-lost" in lock.latched:
                    lost += 1
                    assert "journal" in lock.latched["journal-lost"].reason, where
            actions = [told.action for told in collected.told if isinstance(told, Order)]
            assert actions.count("cut") >= 2 and "allow" not in actions, where
        finally:
            journal.close(10.0)
    assert lost > 0 or table == "event", "some of it could not be read"


@pytest.mark.parametrize("name", [b"n\xefrth", b"nosth"])
def test_f65_a_memory_whose_banks_name_is_damaged_leaves_that_bank_tripped(name: bytes, kept: Kept) -> None:
    path = kept.loaded.cabin.journal.path
    path.write_bytes(kept.whole)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE snapshot SET bank = CAST(? AS TEXT) WHERE bank = 'north'", (name,))
        connection.commit()
    journal, collected = start(kept.loaded)
    latched = {bank: memory.interlock.latched for bank, memory in collected.engine.memories.items()}
    assert list(latched["north"]) == ["journal-lost"] and latched["south"] == {}
    assert "what it remembered of it is gone" in latched["north"]["journal-lost"].reason
    assert journal.close(10.0)


@pytest.mark.parametrize("value", ["{", "[1]", "5", '"\N{REPLACEMENT CHARACTER}"', ""])
def test_f65_facts_that_damage_made_senseless_end_nothing(value: str, kept: Kept) -> None:
    path = kept.loaded.cabin.journal.path
    path.write_bytes(kept.whole)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE fact SET value = ?", (value,))
        connection.commit()
    journal, collected = start(kept.loaded)
    reasons = [memory.interlock.latched["journal-lost"].reason for memory in collected.engine.memories.values()]
    assert all("limits it was last watched with" in reason for reason in reasons)
    assert journal.close(10.0)


def test_f65_raw_messages_of_another_kind_than_they_were_leave_the_banks_tripped(kept: Kept) -> None:
    path = kept.loaded.cabin.journal.path
    path.write_bytes(kept.whole)
    now = Clock().now()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("INSERT INTO topic VALUES (1, CAST(x'636162ef' AS TEXT))")
        connection.execute(
            "INSERT INTO message VALUES (1, ?, 1, NULL, NULL, 'text', 0, NULL)", (round(now * 1000.0) - 5,)
        )
        connection.commit()
    journal, collected = start(kept.loaded)
    assert collected.engine.memories["north"].interlock.latched
    assert journal.close(10.0)


def test_f65_the_first_commit_of_a_run_carries_the_memory_of_every_bank(kept: Kept, tmp_path: Path) -> None:
    path = tmp_path / "cabin.toml"
    shutil.copy(str(kept.loaded.cabin.source), path)
    with turning(path) as service:
        wait_until(lambda: len(service.journal.snapshots()) == 2, 20)
        with JournalReader(service.journal.path) as reader:
            assert set(reader.banks()) <= reader.snapshots().keys()
