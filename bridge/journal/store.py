"""A batch becomes rows: the statements of one commit."""

from __future__ import annotations

import json
import re
import sqlite3
import zlib
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from itertools import chain
from typing import Any

from bridge.journal.batch import Batch
from bridge.journal.schema import READING_COLUMNS, ROLLED, STATE_FLAGS, STATE_SCALES, STATE_WORDS, rolled_rows
from rules.bank import Meter
from rules.events import Derived, Event, Reading

#: A state is stored when one of these changes, else every STATE_EVERY seconds.
STATE_EVERY = 10.0
#: The words, flags and cells of a state are stored anew at least so often [s]: retention drops what is old.
DETAILS_EVERY = 3600.0
EXTRA = len(READING_COLUMNS)
#: Rows to a statement: a few sizes, so that few statements are prepared; times the widest table's columns the largest
#: stays below the 32,766 parameters that SQLite takes.
AT_ONCE = (512, 64, 8, 1)
#: Beyond this a scaled value cannot be a measurement, and would not fit a column; NaN fails the comparison too.
LARGEST = 1e15

_COLUMNS = [column for column, _ in READING_COLUMNS.values()]
INSERT_MESSAGE = "INSERT OR IGNORE INTO message (at, topic, stamp, crc, payload, flags, boot) VALUES (?,?,?,?,?,?,?)"
INSERT_READING = (
    f"INSERT INTO reading (second, bank, {', '.join(_COLUMNS)}, extra, boot) VALUES (?,?{',?' * (EXTRA + 2)})"
)
_STATE = (*STATE_SCALES, *STATE_FLAGS, *STATE_WORDS)
INSERT_STATE = (
    f"INSERT INTO state (at, bank, {', '.join(_STATE)}, varying, detail, boot) VALUES (?,?{',?' * (len(_STATE) + 3)})"
)
_ROLLED = [f"{name}_{what}" for name, _ in ROLLED for what in ("n", "sum", "min", "max")]
_MERGE = ", ".join(
    f"{n}_n = {n}_n + excluded.{n}_n, {n}_sum = {n}_sum + excluded.{n}_sum, "
    f"{n}_min = min(ifnull({n}_min, excluded.{n}_min), ifnull(excluded.{n}_min, {n}_min)), "
    f"{n}_max = max(ifnull({n}_max, excluded.{n}_max), ifnull(excluded.{n}_max, {n}_max))"
    for n, _ in ROLLED
)
UPSERT_MINUTE = (
    f"INSERT INTO minute (minute, bank, {', '.join(_ROLLED)}) VALUES (?,?{',?' * len(_ROLLED)}) "
    f"ON CONFLICT (minute, bank) DO UPDATE SET {_MERGE}"
)
#: Where a row of a state has its temperature: after moment and bank.
_TEMPERATURE = 2 + list(STATE_SCALES).index("temperature")
_FROM_ROWS = ", ".join(f"count({name}), ifnull(sum({name}), 0), min({name}), max({name})" for name, _ in ROLLED)
#: The roll-up of rows that have only now been given their true time.
ROLL_RESTAMPED = (
    f"INSERT INTO minute (minute, bank, {', '.join(_ROLLED)}) SELECT second / 60, bank, {_FROM_ROWS} FROM "
    f"({rolled_rows('boot = ?', 'boot = ?')}) GROUP BY 1, 2 ON CONFLICT (minute, bank) DO UPDATE SET {_MERGE}"
)
#: Detail of a state that has no column of its own and seldom changes; stored once and referred to. What each block
#: took changes all the time and follows from the charge: it is kept in the snapshot only.
_SELDOM = tuple(
    name
    for name in Derived._fields
    if name
    not in {"bank", "at", "string_currents", "freshness", "blocks", "chores", *STATE_SCALES, *STATE_FLAGS, *STATE_WORDS}
)


def compact(value: object) -> str:
    """Return JSON as short as it gets; what is no JSON becomes its text rather than an error."""
    return json.dumps(value, separators=(",", ":"), default=str)


class Store:
    """The journal's tables behind one connection, with the ids of topics, banks and boots at hand."""

    def __init__(self, connection: sqlite3.Connection, meters: Mapping[str, tuple[Meter, ...]]) -> None:
        self.connection = connection
        self._meters = meters
        self._forget()

    def _forget(self) -> None:
        """Forget what was learned in a transaction that was rolled back: it is not in the file."""
        self._topics: dict[str, int] = dict(self.connection.execute("SELECT name, id FROM topic"))
        self._banks: dict[str, int] = dict(self.connection.execute("SELECT name, id FROM bank"))
        self._boots: dict[tuple[str, float], int] = {}
        self._places: dict[tuple[str, str], tuple[int, int, float]] = {}
        self._details: dict[int, tuple[str, int, float]] = {}
        self._kept: dict[str, tuple[tuple[object, ...], float]] = {}
        self._memories: dict[str, str] = {}

    def write(
        self,
        batches: Iterable[Batch],
        *,
        full: bool,
        position: Mapping[str, str] | None = None,
        rejected: Iterable[tuple[int, str, str, str]] = (),
        health: tuple[float, str] | None = None,
    ) -> None:
        """Commit all of it or nothing.

        Parameters
        ----------
        full : bool
            Wait until the disk says that it is on its surface.
        position : mapping, optional
            Outlet -> how far it has read.
        rejected : iterable of tuple
            At [ms], outlet, line, the server's words.
        health : tuple, optional
            At [s] and JSON of the journal's own condition.

        Raises
        ------
        sqlite3.Error
            Nothing of it was stored.
        """
        execute = self.connection.execute
        execute("PRAGMA synchronous = FULL" if full else "PRAGMA synchronous = NORMAL")
        execute("BEGIN IMMEDIATE")
        try:
            for batch in batches:
                self._write_batch(batch)
            if position:
                self.connection.executemany("INSERT OR REPLACE INTO cursor VALUES (?,?)", position.items())
            self.connection.executemany("INSERT INTO rejected (at, outlet, line, words) VALUES (?,?,?,?)", rejected)
            if health:
                execute("INSERT INTO health (at, detail) VALUES (?,?)", (round(health[0] * 1000.0), health[1]))
            execute("COMMIT")
        except BaseException:
            if self.connection.in_transaction:
                execute("ROLLBACK")
            self._forget()
            raise

    def _write_batch(self, batch: Batch) -> None:
        boot = self._boot(batch.boot, batch.anchor) if batch.boot else None
        many = self._insert
        if batch.messages:
            many(INSERT_MESSAGE, self._message_rows(batch, boot))
        rows = self._reading_rows(batch.readings)
        many(INSERT_READING, [(*row[:-1], compact(row[-1]) if row[-1] else None, boot) for row in rows])
        states = [self._state_row(state, boot) for state in batch.derived if self._worth(state)]
        many(INSERT_STATE, states)
        if boot is None:
            many(UPSERT_MINUTE, roll(rows, states))
        if batch.events:
            many(
                "INSERT INTO event (at, bank, kind, detail, boot) VALUES (?,?,?,?,?)",
                [self._event_row(event, boot) for event in batch.events],
            )
        for bank, memory in batch.snapshots.items():
            if self._memories.get(bank) != memory:
                packed = zlib.compress(memory.encode(), 1)
                self.connection.execute("INSERT OR REPLACE INTO snapshot VALUES (?,?)", (bank, packed))
                self._memories[bank] = memory
        for name, value in batch.facts.items():
            if value is None:
                self.connection.execute("DELETE FROM fact WHERE name = ?", (name,))
            else:
                self.connection.execute("INSERT OR REPLACE INTO fact VALUES (?,?)", (name, value))

    def _insert(self, statement: str, rows: Sequence[Sequence[object]]) -> None:
        """Insert all rows, many to a statement: each statement gives up the interpreter's lock and has to win it back.

        Row by row a busy engine starves the journal: 5 ms a row were measured.
        """
        start = 0
        for size in AT_ONCE:
            while len(rows) - start >= size:
                values = list(chain.from_iterable(rows[start : start + size]))
                self.connection.execute(_for_rows(statement, size), values)
                start += size

    def _message_rows(self, batch: Batch, boot: int | None) -> list[tuple[object, ...]]:
        topics, crc32 = self._topics, zlib.crc32
        rows: list[tuple[object, ...]] = []
        append = rows.append
        for (topic, payload, at, retain, session, *_), stamp in batch.messages:
            number = topics.get(topic) or self._learn("topic", topics, topic)
            flags = (1 if retain else 0) | (2 if session == "history" else 0)
            if stamp is None:
                append((round(at * 1000.0), number, None, None, payload, flags, boot))
            else:
                append((round(at * 1000.0), number, round(stamp * 1000.0), crc32(payload), payload, flags, boot))
        return rows

    def _reading_rows(self, readings: list[Reading]) -> list[list[Any]]:
        """Return one row per bank and second, the last value of each meter; retained values have no age: left out."""
        rows: dict[tuple[int, int], list[Any]] = {}
        places = self._places
        for bank, meter, value, _, measured_at, retained, _ in readings:
            if retained or not -LARGEST < value < LARGEST:
                continue
            number, place, scale = places.get((bank, meter)) or self._place(bank, meter)
            key = (int(measured_at), number)
            row = rows.get(key)
            if row is None:
                rows[key] = row = [key[0], number, None, None, None, None, None, None]
            if place < EXTRA:
                row[place + 2] = round(value * scale)
            elif row[-1] is None:
                row[-1] = {meter: round(value, 6)}
            else:
                row[-1][meter] = round(value, 6)
        return list(rows.values())

    def _place(self, bank: str, meter: str) -> tuple[int, int, float]:
        """Return column of a meter: the first meter of a common quantity has one, all others share `extra`."""
        number = self._banks.get(bank) or self._learn("bank", self._banks, bank)
        firsts: dict[str, str] = {}
        for one in self._meters.get(bank, ()):
            firsts.setdefault(one.quantity, one.name)
        place, scale = EXTRA, 1.0
        for index, (quantity, (_, factor)) in enumerate(READING_COLUMNS.items()):
            if firsts.get(quantity) == meter:
                place, scale = index, factor
        self._places[bank, meter] = number, place, scale
        return number, place, scale

    def _worth(self, state: Derived) -> bool:
        """Tell whether this state is stored: something changed that a person would notice, or its time has passed."""
        notable = (
            state.phase,
            state.interrupted,
            state.charge_allowed,
            state.tripped,
            state.relay,
            state.remaining_reason,
            tuple(flag.name for flag in state.flags),
        )
        before = self._kept.get(state.bank)
        if before is not None and before[0] == notable and 0.0 <= state.at - before[1] < STATE_EVERY:
            return False
        self._kept[state.bank] = notable, state.at
        return True

    def _state_row(self, state: Derived, boot: int | None) -> tuple[object, ...]:
        bank = self._banks.get(state.bank) or self._learn("bank", self._banks, state.bank)
        numbers: list[object] = []
        for name, scale in STATE_SCALES.items():
            value = getattr(state, name)
            numbers.append(round(value * scale) if value is not None and -LARGEST < value * scale < LARGEST else None)
        varying: dict[str, object] = {}
        if state.string_currents:
            varying["s"] = [round(amps, 3) for amps in state.string_currents]
        if state.freshness:
            varying["f"] = {name: round(age, 1) for name, age in state.freshness.items()}
        return (
            round(state.at * 1000.0),
            bank,
            *numbers,
            *(int(getattr(state, name)) for name in STATE_FLAGS),
            *(getattr(state, name) for name in STATE_WORDS),
            compact(varying) if varying else None,
            self._detail(bank, state),
            boot,
        )

    def _detail(self, bank: int, state: Derived) -> int:
        """Return the id of the words, flags and cells of this state: the same row while they stay, at most an hour."""
        text = compact({name: getattr(state, name) for name in _SELDOM})
        last = self._details.get(bank)
        if last is not None and last[0] == text and 0.0 <= state.at - last[2] < DETAILS_EVERY:
            return last[1]
        row = self.connection.execute(
            "INSERT INTO detail (at, json) VALUES (?,?) RETURNING id", (round(state.at * 1000.0), text)
        )
        number = int(row.fetchone()[0])
        self._details[bank] = text, number, state.at
        return number

    def _event_row(self, event: Event, boot: int | None) -> tuple[object, ...]:
        bank = self._banks.get(event.bank) or self._learn("bank", self._banks, event.bank)
        return round(event.at * 1000.0), bank, event.kind, compact(event.detail), boot

    def _learn(self, table: str, known: dict[str, int], name: str) -> int:
        cursor = self.connection.execute(f"INSERT INTO {table} (name) VALUES (?) RETURNING id", (name,))
        known[name] = number = int(cursor.fetchone()[0])
        return number

    def _boot(self, name: str, anchor: float) -> int:
        key = (name, anchor)
        if key not in self._boots:
            row = (name, round(anchor * 1000.0))
            self.connection.execute("INSERT OR IGNORE INTO boot (name, anchor_ms) VALUES (?,?)", row)
            found = self.connection.execute("SELECT id FROM boot WHERE name = ? AND anchor_ms = ?", row)
            self._boots[key] = int(found.fetchone()[0])
        return self._boots[key]

    def restamp(self, boot: str, offset: float) -> None:
        """Give rows of this boot their true time: what the true clock adds to the monotonic one is `offset` [s]."""
        self.connection.execute("BEGIN IMMEDIATE")
        try:
            rows = self.connection.execute("SELECT id, anchor_ms FROM boot WHERE name = ?", (boot,)).fetchall()
            for number, anchor in rows:
                shift = round(offset * 1000.0) - anchor
                seconds = round(shift / 1000.0)
                self.connection.execute("UPDATE reading SET second = second + ? WHERE boot = ?", (seconds, number))
                self.connection.execute("UPDATE state SET at = at + ? WHERE boot = ?", (shift, number))
                self.connection.execute(ROLL_RESTAMPED, (number, number))
                for table in ("reading", "state"):
                    self.connection.execute(f"UPDATE {table} SET boot = NULL WHERE boot = ?", (number,))
                for table in ("message", "event"):
                    self.connection.execute(
                        f"UPDATE {table} SET at = at + ?, boot = NULL WHERE boot = ?", (shift, number)
                    )
            self.connection.execute("DELETE FROM boot WHERE name = ?", (boot,))
            self.connection.execute("COMMIT")
        except BaseException:
            if self.connection.in_transaction:
                self.connection.execute("ROLLBACK")
            raise
        finally:
            self._boots.clear()


@cache
def _for_rows(statement: str, size: int) -> str:
    """Return an insert of one row as an insert of `size` rows."""
    head, values, tail = re.split(r"(\(\?[?,]*\))", statement)
    return f"{head}{','.join([values] * size)}{tail}"


def roll(readings: Iterable[Sequence[Any]], states: Iterable[Sequence[Any]]) -> list[list[Any]]:
    """Sum rows up per bank and minute: number, sum, least and greatest of volts, amps and temperature."""
    minutes: dict[tuple[int, int], list[Any]] = {}

    def add(key: tuple[int, int], place: int, value: Any) -> None:
        minute = minutes.get(key)
        if minute is None:
            minutes[key] = minute = [*key, *[0, 0, None, None] * len(ROLLED)]
        minute[place] += 1
        minute[place + 1] += value
        if minute[place + 2] is None or value < minute[place + 2]:
            minute[place + 2] = value
        if minute[place + 3] is None or value > minute[place + 3]:
            minute[place + 3] = value

    for second, bank, volts, amps, *_ in readings:
        if volts is not None:
            add((second // 60, bank), 2, volts)
        if amps is not None:
            add((second // 60, bank), 6, amps)
    for row in states:
        if row[_TEMPERATURE] is not None:
            add((row[0] // 60_000, row[1]), 10, row[_TEMPERATURE])
    return list(minutes.values())
