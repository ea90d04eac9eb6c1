"""Reading the journal: short read-only transactions, so that the write-ahead log never grows behind a reader."""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import quote

from bridge.clock import LATEST
from bridge.errors import JournalError, NoJournalError
from bridge.journal.migrations import VERSION, columns
from bridge.journal.rows import EVENT_SQL, READING_SQL, Row, as_event, as_reading, as_state, state_sql
from bridge.journal.schema import DATED, ROLLED, readable, rolled_rows
from bridge.message import Message
from rules.events import Derived, Event

#: Messages looked at in one go when searching backward.
STRETCH = 10_000
#: Messages read at once when going forward.
MESSAGES = 5000
#: A message that arrived so much later than the one stored after it arrived by a clock that was then set back [s].
SET_BACK = 2.0


class Bucket(NamedTuple):
    """Readings of one stretch of time: least, greatest and mean volts [V], amps [A], temperature [degC]; None = none.

    `at` is the start of the stretch [s since the epoch]. The temperature is that of the states: of several thermometers
    the hottest.
    """

    at: float
    voltage_min: float | None
    voltage_max: float | None
    voltage_mean: float | None
    current_min: float | None
    current_max: float | None
    current_mean: float | None
    temperature_min: float | None
    temperature_max: float | None
    temperature_mean: float | None


class JournalReader:
    """A read-only look into a journal, whether a bridge is writing it or not. Use it in one thread.

    A journal of an earlier version is read as it is: only who writes brings it up to date.

    Raises
    ------
    NoJournalError
        There is no such file, or it is no journal.
    JournalError
        A newer version wrote it.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self._connection = sqlite3.connect(
                f"file:{quote(str(path.absolute()))}?mode=ro", uri=True, isolation_level=None, timeout=2.0
            )
            self._connection.text_factory = readable
            version = self._connection.execute("PRAGMA user_version").fetchone()[0]
            self._state_sql = state_sql(columns(self._connection, "state"))
        except sqlite3.Error as error:
            raise NoJournalError(
                f"{path}: cannot be read as a journal ({error}): `revival run` makes one; or correct [journal] path"
            ) from error
        if not 1 <= version <= VERSION:
            self._connection.close()
            raise JournalError(f"{path}: schema {version}, known here: {VERSION}. Use the version that wrote it.")

    def __enter__(self) -> JournalReader:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    def _all(self, sql: str, parameters: Sequence[object] = ()) -> list[Any]:
        return self._connection.execute(sql, parameters).fetchall()

    # ------------------------------------------------------------------ for a starting engine

    def snapshots(self) -> dict[str, str]:
        """Return bank id -> JSON of the rules' memory; empty text where damage has left no text."""
        return {bank: _unpacked(memory) for bank, memory in self._all("SELECT * FROM snapshot")}

    def facts(self) -> dict[str, str]:
        """Name -> JSON text."""
        return dict(self._all("SELECT * FROM fact"))

    def recent_stamps(self, limit: int) -> list[tuple[str, float, int]]:
        """Return topic, stamp [s] and CRC-32 of the `limit` newest stamped messages, in order of their stamps."""
        rows = self._all(
            "SELECT topic.name, stamp, crc FROM message JOIN topic ON topic.id = message.topic "
            "WHERE stamp IS NOT NULL ORDER BY stamp DESC LIMIT ?",
            (limit,),
        )
        return [(topic, stamp / 1000.0, crc) for topic, stamp, crc in reversed(rows)]

    def recent_unbelieved(self, limit: int) -> list[tuple[str, int]]:
        """Return topic and CRC-32 of messages of the kept session without a believed time, among the `limit` newest."""
        rows = self._all(
            "SELECT topic.name, payload FROM message JOIN topic ON topic.id = message.topic "
            "WHERE message.id > ? AND stamp IS NULL AND flags & 2 ORDER BY message.id",
            (self.newest("message") - limit,),
        )
        return [(topic, zlib.crc32(payload)) for topic, payload in rows]

    def since_memory(self, judged_at: float) -> Iterator[Message]:
        """Yield raw messages stored after a memory of this age [s since the epoch], in the order of arrival.

        Looked for from the end: rows that a clock of the future dated before it was set back are no news.
        """
        start, following, first = round(judged_at * 1000.0), LATEST * 1000.0, 0
        for number, at in self._connection.execute("SELECT id, at FROM message ORDER BY id DESC"):
            if not start <= at <= following + SET_BACK * 1000.0:
                break
            first, following = number, at
        if first:
            for message, _ in self._messages(first - 1, start, round(LATEST * 1000.0)):
                yield message

    # ------------------------------------------------------------------ for people

    def banks(self) -> list[str]:
        """Return banks that have readings, states or events."""
        return [name for (name,) in self._all("SELECT name FROM bank WHERE name <> '' ORDER BY name")]

    def readings(self, bank: str, since: float, until: float, bucket: float) -> list[Bucket]:
        """Return down-sampled readings from `since` to `until` [s since the epoch] in stretches of `bucket` [s].

        Stretches of whole minutes come from the one-minute roll-up; 7 days then take hundredths of a second.
        """
        width = max(1, round(bucket))
        if width % 60 == 0:
            parts = ", ".join(
                f"min({name}_min), max({name}_max), CAST(sum({name}_sum) AS REAL) / nullif(sum({name}_n), 0)"
                for name, _ in ROLLED
            )
            rows = self._all(
                f"SELECT minute * 60 / ? * ? AS start, {parts} FROM minute "
                "WHERE minute >= ? AND minute < ? AND bank = (SELECT id FROM bank WHERE name = ?) GROUP BY start",
                (width, width, int(since // 60), -int(-until // 60), bank),
            )
        else:
            parts = ", ".join(f"min({name}), max({name}), avg({name})" for name, _ in ROLLED)
            ours = "boot IS NULL AND bank = (SELECT id FROM bank WHERE name = ?)"
            told = rolled_rows(f"second >= ? AND second < ? AND {ours}", f"at >= ? AND at < ? AND {ours}")
            first, last = int(since), -int(-until // 1)
            rows = self._all(
                f"SELECT second / ? * ? AS start, {parts} FROM ({told}) GROUP BY start",
                (width, width, first, last, bank, 1000 * first, 1000 * last, bank),
            )
        scales = [scale for _, scale in ROLLED for _ in range(3)]
        return [
            Bucket(
                float(row[0]),
                *(None if value is None else value / scale for value, scale in zip(row[1:], scales, strict=True)),
            )
            for row in rows
        ]

    def states(self, bank: str, since: float, until: float) -> list[Derived]:
        """Return stored states in order of time."""
        rows = self._all(
            self._state_sql
            + "WHERE state.bank = (SELECT id FROM bank WHERE name = ?) AND state.at >= ? AND state.at < ? "
            "ORDER BY state.at",
            (bank, round(since * 1000.0), round(until * 1000.0)),
        )
        return [as_state(row) for row in rows]

    def states_at(self, bank: str, moments: Sequence[float]) -> list[Derived | None]:
        """Return the state that held at each of these moments [s since the epoch]; None before the first."""
        sql = (
            self._state_sql + "WHERE state.bank = (SELECT id FROM bank WHERE name = ?) AND state.at <= ? "
            "ORDER BY state.at DESC LIMIT 1"
        )
        found = [self._all(sql, (bank, round(at * 1000.0))) for at in moments]
        return [as_state(rows[0]) if rows else None for rows in found]

    def latest_state(self, bank: str) -> Derived | None:
        """Return the newest stored state of a bank."""
        rows = self._all(
            self._state_sql + "WHERE state.bank = (SELECT id FROM bank WHERE name = ?) ORDER BY state.at DESC LIMIT 1",
            (bank,),
        )
        return as_state(rows[0]) if rows else None

    def events(self, bank: str | None, since: float, until: float, kinds: Sequence[str] | None = None) -> list[Event]:
        """Return events in order of time; of one bank, or all."""
        rows = self._all(
            EVENT_SQL + "WHERE event.at >= ? AND event.at < ? ORDER BY event.at, event.id",
            (round(since * 1000.0), round(until * 1000.0)),
        )
        events = [as_event(row) for row in rows if bank is None or row[2] == bank]
        return [event for event in events if kinds is None or event.kind in kinds]

    def last_trip(self, hazard: str) -> dict[str, float]:
        """Return when each bank last tripped by a hazard [s since the epoch]; without those that never did."""
        rows = self._all(EVENT_SQL + "WHERE kind = 'trip' ORDER BY event.at, event.id", ())
        trips = [as_event(row) for row in rows]
        return {trip.bank: trip.at for trip in trips if trip.detail.get("hazard") == hazard}

    def messages(self, since: float, until: float) -> Iterator[tuple[Message, float | None]]:
        """Yield raw messages in the order of arrival, each with its own stamp or None.

        They have no index of their own (it would cost every commit a page): the beginning is found from the end, by
        stretches of messages all of which arrived earlier.
        """
        last = self.newest("message")
        start = round(since * 1000.0)
        while last > 0 and self._all(
            "SELECT 1 FROM message WHERE id > ? AND id <= ? AND at >= ? LIMIT 1", (last - STRETCH, last, start)
        ):
            last -= STRETCH
        return self._messages(last, start, round(until * 1000.0))

    def _messages(self, last: int, start: int, end: int) -> Iterator[tuple[Message, float | None]]:
        """Yield rows after the one of this number that arrived from `start` to `end` [ms since the epoch]."""
        while True:
            rows = self._all(
                "SELECT message.id, at, topic.name, stamp, payload, flags FROM message "
                "JOIN topic ON topic.id = message.topic WHERE message.id > ? AND at >= ? AND at < ? "
                f"ORDER BY message.id LIMIT {MESSAGES}",
                (last, start, end),
            )
            for number, at, topic, stamp, payload, flags in rows:
                session = "history" if flags & 2 else "live"
                message = Message(topic, payload, at / 1000.0, bool(flags & 1), session)
                yield message, None if stamp is None else stamp / 1000.0
                last = number
            if len(rows) < MESSAGES:
                return

    # ------------------------------------------------------------------ for outlets

    def position(self, outlet: str) -> str:
        """Return how far an outlet has read, in its own words; empty for the beginning."""
        rows = self._all("SELECT position FROM cursor WHERE outlet = ?", (outlet,))
        return str(rows[0][0]) if rows else ""

    def newest(self, stream: str) -> int:
        """Return greatest row id of a stream; 0 when empty."""
        return int(self._all(f"SELECT ifnull(max(id), 0) FROM {_table(stream)}")[0][0])

    def after(self, stream: str, position: int, limit: int, until: int | None = None) -> list[Row]:
        """Return rows of ``reading``, ``state``, ``event`` or ``health`` after a row id, in order of storing."""
        end = 1 << 62 if until is None else until
        where = f"WHERE {_table(stream)}.id > ? AND {stream}.id <= ? ORDER BY {stream}.id LIMIT ?"
        return self._rows(stream, where, (position, end, limit))

    def raw(self, position: int, limit: int, until: int) -> list[tuple[int, int, str, int | None, bytes, int, bool]]:
        """Return messages after a row id up to another, in order of storing.

        Each as number, arrival [ms since the epoch], topic, the meter's own time [ms], payload, flags (1 retained,
        2 of the kept session) and whether no trusted clock ever dated it.
        """
        return [
            (*row[:6], row[6] is not None)
            for row in self._all(
                "SELECT message.id, at, topic.name, stamp, payload, flags, boot FROM message "
                "JOIN topic ON topic.id = message.topic WHERE message.id > ? AND message.id <= ? "
                "ORDER BY message.id LIMIT ?",
                (position, until, limit),
            )
        ]

    def between(self, stream: str, since: float, until: float, after: int, limit: int) -> list[Row]:
        """Return rows of a stream in a range of time [s since the epoch] after a row id, in order of storing."""
        where = f"WHERE {stream}.id > ? AND {_range(stream, since, until)} ORDER BY {stream}.id LIMIT ?"
        return self._rows(stream, where, (after, limit))

    def count(self, stream: str, since: float, until: float) -> int:
        """Return how many rows `between` would give in all."""
        return int(self._all(f"SELECT count(*) FROM {stream} WHERE {_range(stream, since, until)}")[0][0])

    def _rows(self, stream: str, where: str, parameters: Sequence[object]) -> list[Row]:
        if stream == "reading":
            return [as_reading(row) for row in self._all(READING_SQL + where, parameters)]
        if stream == "state":
            return [
                Row(row[0], row[1] / 1000.0, row[2], row[3] is not None, as_state(row))
                for row in self._all(self._state_sql + where, parameters)
            ]
        if stream == "event":
            return [
                Row(row[0], row[1] / 1000.0, row[2], row[3] is not None, as_event(row))
                for row in self._all(EVENT_SQL + where, parameters)
            ]
        rows = self._all("SELECT id, at, detail, boot FROM health " + where, parameters)
        return [Row(row[0], row[1] / 1000.0, "", row[3] is not None, json.loads(row[2])) for row in rows]


def _unpacked(memory: bytes) -> str:
    try:
        return zlib.decompress(memory).decode()
    except (zlib.error, UnicodeDecodeError, TypeError):
        return ""


def _table(stream: str) -> str:
    if stream not in DATED:
        raise ValueError(f"no stream {stream!r}; there are {DATED}")
    return stream


def _range(stream: str, since: float, until: float) -> str:
    column, scale = ("second", 1.0) if _table(stream) == "reading" else ("at", 1000.0)
    # The plus keeps SQLite from taking the index on time and sorting it all again for every piece.
    return f"+{stream}.{column} >= {round(since * scale)} AND +{stream}.{column} < {round(until * scale)}"
