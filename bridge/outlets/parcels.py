"""The journal as parcels: files of rows that leave the cabin when there is a link, followed by a cursor of its own.

The journal is the buffer: weeks without a link are caught up in order, one file of each table at a time. What a file
holds is written down before it is made, so that one that was cut off is made again with the same name and rows.
"""

from __future__ import annotations

import hashlib
import json
import logging
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, NamedTuple

from bridge.errors import JournalError
from bridge.journal.reader import JournalReader
from bridge.journal.rows import Row
from bridge.journal.writer import Journal
from bridge.outlets.discovery import release
from bridge.outlets.parcel_file import Store, content
from bridge.outlets.parcel_schema import TABLES, Name, SiteClock, day_of
from bridge.settings import ParcelsSettings

log = logging.getLogger(__name__)

CURSOR = "parcels"
#: Table -> stream of the journal.
STREAMS = {"message": "message", "reading": "reading", "state": "state", "event": "event", "hand": "event"}
#: Two tables of one stream: what is none of the one is the other's.
_SHARED = ("event", "hand")
#: A file holds at most so many rows, and messages of so many bytes: what one turn keeps in memory.
ROWS, BYTES = 20_000, 8_000_000
#: Rows read from the journal at once.
PIECE = 2000
#: Pauses [s]: between looks, between files while weeks are caught up, after a refusal, and the longest between tries.
LOOK, DRAIN, REFUSED, LONGEST = 10.0, 2.0, 60.0, 900.0
#: The journal has so long to keep what is about to be sent [s].
KEPT_WITHIN = 20.0
#: A month's limit is looked at again so often [s].
LIMITED = 3600.0
_SETTLED = ("up to date", "draining")


class _Plan(NamedTuple):
    """One file that is to be made: rows after `after` up to `until`, of which the first and last give the name."""

    table: str
    after: int
    until: int
    first: int
    last: int
    day: str


class _Limited(Exception):
    """The bytes of a month are used up."""


class ParcelsOutlet:
    """A reader that follows the journal in a thread of its own and puts parcels into a store.

    Parameters
    ----------
    settings : ParcelsSettings
        Where, how often, which tables, how much a month.
    cabin : str
        What may leave of the cabin file, as JSON text (`bridge.config.told`).
    now : callable
        The bridge's time [s since the epoch].
    trusted : callable
        Whether it is right.

    Attributes
    ----------
    state : str
        ``stopped``, ``waiting for the clock``, ``up to date``, ``draining``, ``month's limit reached`` or
        ``unreachable``.
    words : str
        What is the matter, where it is not well.
    backlog : int
        Rows of the journal that are not in the store yet.
    files, sent : int
        Parcels put since the start, and their bytes.
    missed : int
        Rows that the journal thinned before they could be sent.
    """

    def __init__(
        self,
        settings: ParcelsSettings,
        site: str,
        cabin: str,
        journal: Journal,
        now: Callable[[], float],
        trusted: Callable[[], bool],
        *,
        look: float = LOOK,
        drain: float = DRAIN,
        rows: int = ROWS,
    ) -> None:
        self.state, self.words = "stopped", ""
        self.backlog = self.files = self.sent = self.missed = 0
        self._settings, self._site, self._cabin, self._journal = settings, site, cabin, journal
        self._now, self._trusted = now, trusted
        self._look, self._drain, self._rows = look, drain, rows
        self._store: Store | None = None
        self._kept: dict[str, Any] = {}
        self._since = self._newest_message()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="parcels", daemon=True)

    def start(self) -> None:
        """Begin to follow."""
        self._thread.start()

    def stop(self, timeout: float = 2.0) -> bool:
        """End after the file under way, waiting at most `timeout` [s]; the rest goes out after the next start."""
        self._stop.set()
        self._thread.join(timeout)
        return not self._thread.is_alive()

    def status(self) -> dict[str, object]:
        """Return how sending is, for `status` and page."""
        return {
            "state": self.state,
            "words": self.words,
            "backlog": self.backlog,
            "files": self.files,
            "sent": self.sent,
            "month": int(self._kept.get("bytes", 0)),
            "missed": self.missed,
        }

    def _newest_message(self) -> int:
        """Return the last message before this start: later ones are judged by the cabin file of this start."""
        try:
            with JournalReader(self._journal.path) as reader:
                return reader.newest("message")
        except JournalError:
            return 0

    def _run(self) -> None:
        pause, failures = 0.0, 0
        while not self._stop.wait(pause):
            if not self._trusted() or self._journal.undated:
                self.state, pause = "waiting for the clock", min(1.0, self._look)
                continue
            try:
                more = self._turn()
            except _Limited as limit:
                self._note("month's limit reached", str(limit))
                pause = LIMITED
            except Exception as error:  # network, store, library: all of them are waited for
                log.debug("parcels", exc_info=True)
                failures += 1
                self._note("unreachable", f"{type(error).__name__}: {_one_line(error)}")
                pause = min(LONGEST, self._look * 2.0 ** min(failures - 1, 10))
            else:
                failures = 0
                self._note("draining" if more else "up to date", "")
                pause = self._drain if more else self._look
        if self._kept:
            self._journal.advance(CURSOR, json.dumps(self._kept), at_once=True)
        self.state = "stopped"

    def _note(self, state: str, words: str) -> None:
        """Keep the state and, at its edges only, log a line."""
        if state != self.state and state not in _SETTLED:
            log.warning("parcels %s: %s", state, words)
        elif state in _SETTLED and self.state not in (*_SETTLED, "stopped", "waiting for the clock"):
            log.warning("parcels are taken again")
        self.state, self.words = state, words

    # -------------------------------------------------------------------------------------- one turn

    def _turn(self) -> bool:
        """Finish what was begun, then make one file of each table that is due; whether more waits."""
        if self._store is None:
            self._store = Store(self._settings.where)
        with JournalReader(self._journal.path) as reader:
            kept = self._kept = self._kept or self._from_journal(reader)
            for plan in [_Plan(*plan) for plan in kept["plans"]]:
                self._make(reader, plan)
            tops = {table: reader.newest(STREAMS[table]) for table in self._settings.tables}
            self._cabins()
            behind = {table: top - kept["rows"].get(table, 0) for table, top in tops.items()}
            self.backlog = sum(max(0, rows) for rows in behind.values())
            due = self._now() - kept["at"] >= self._settings.every or self._now() < kept["at"]
            # The first messages ever go at once: a cabin whose parcels hold none yet cannot be judged.
            due = due or (tops.get("message", 0) > 0 and "message" not in kept["rows"])
            full = [table for table, rows in behind.items() if rows > self._rows]
            if not self.backlog or not (due or full):
                return False
            if due:
                kept["at"] = self._now()
            plans = [plan for table in tops if due or table in full for plan in self._plan(reader, table, tops[table])]
            kept["plans"] = [list(plan) for plan in plans]
            self._save(reader)
            for plan in plans:
                self._make(reader, plan)
            self.backlog = sum(max(0, top - kept["rows"].get(table, 0)) for table, top in tops.items())
            left = any(top - kept["rows"].get(table, 0) > 0 for table, top in tops.items()) if due else bool(full)
            if left and due:
                kept["at"] = 0.0  # the link is there: no hour is waited for until what was missed has gone
            self._journal.advance(CURSOR, json.dumps(kept))
            return left

    def _from_journal(self, reader: JournalReader) -> dict[str, Any]:
        """Return where sending was; from the beginning where this journal was never sent."""
        text = reader.position(CURSOR)
        kept = json.loads(text) if text else {}
        if not kept:
            kept = {"journal": int(self._now()), "rows": {}, "plans": [], "at": 0.0, "begins": 0, "clock": 0}
            kept |= {"month": "", "bytes": 0, "cabin": "", "cabins": []}
            self._since = -1  # rows from before parcels were wanted are judged by the first file there is
        told = hashlib.sha256(self._cabin.encode()).hexdigest()
        waiting = kept["cabins"][-1][3] if kept["cabins"] else kept["cabin"]
        if told != waiting:
            kept["cabins"].append([self._since + 1, round(self._now() * 1000.0), self._cabin, told])
        self._kept = kept
        self._save(reader)
        return kept

    def _save(self, reader: JournalReader) -> None:
        """Keep where sending is, and wait until the journal has it.

        Raises
        ------
        JournalError
            The journal does not take it: nothing may be sent that would not be remembered.
        """
        text = json.dumps(self._kept)
        self._journal.advance(CURSOR, text, at_once=True)
        until = time.monotonic() + KEPT_WITHIN
        while reader.position(CURSOR) != text:
            if time.monotonic() > until or self._stop.wait(0.02):
                raise JournalError("the journal does not keep what is about to be sent")

    def _cabins(self) -> None:
        """Put the cabin file where it changed."""
        kept = self._kept
        while kept["cabins"]:
            row, at, text, told = kept["cabins"][0]
            name = Name(self._site, "cabin", day_of(at / 1000.0), kept["journal"], row, at // 1000)
            columns: dict[str, Sequence[Any]] = {"row": [row], "at": [at], "text": [text], "sha256": [told]}
            self._put(name, content(name, columns, {"bridge": release(), "cabin": kept["cabin"]}))
            kept["cabin"] = told
            kept["cabins"].pop(0)

    def _plan(self, reader: JournalReader, table: str, top: int) -> Iterator[_Plan]:
        """Choose the rows of the next file: up to a change of day, a number of rows, or of bytes."""
        after = self._kept["rows"].get(table, 0)
        first = last = until = count = size = 0
        day = ""
        for row, at, dated, weight in _outlines(reader, table, after, top):
            until = row
            if weight is None:
                continue
            if not first:
                first, day = row, day_of(at)
            elif count >= self._rows or size > BYTES or (dated and day_of(at) > day):
                until = last
                break
            last, count, size = row, count + 1, size + weight
        if first:
            yield _Plan(table, after, until, first, last, day)
        elif top:
            self._kept["rows"][table] = top

    def _make(self, reader: JournalReader, plan: _Plan) -> None:
        """Make and put one file; a name that is in the store already is whole, and settled."""
        kept = self._kept
        name = Name(self._site, plan.table, plan.day, kept["journal"], plan.first, plan.last)
        notes: dict[str, object] = {"bridge": release()}
        clock = SiteClock(kept["clock"] / 1000.0)
        begins = kept["begins"]
        if plan.table == "message":
            columns, begins = _messages(reader, plan, clock, begins)
            notes |= {"begins": begins, "clock": kept["clock"], "after": plan.after, "cabin": kept["cabin"]}
        else:
            columns = _columns(plan.table, _rows_of(reader, plan))
        assert self._store is not None
        if columns["row"] and not self._store.has(name.place):
            self._put(name, content(name, columns, notes))
        if plan.table not in _SHARED:
            self.missed += plan.until - plan.after - len(columns["row"])
        kept["rows"][plan.table] = plan.until
        kept["clock"], kept["begins"] = round(clock.at * 1000.0), begins
        kept["plans"] = [each for each in kept["plans"] if each[0] != plan.table]

    def _put(self, name: Name, data: bytes) -> None:
        """Put one file within the month's limit.

        Raises
        ------
        _Limited
            It would be more than may be sent this month.
        """
        kept, month = self._kept, datetime.fromtimestamp(self._now(), UTC).strftime("%Y-%m")
        if kept["month"] != month:
            kept["month"], kept["bytes"] = month, 0
        limit = self._settings.monthly
        if limit is not None and kept["bytes"] + len(data) > limit:
            raise _Limited(f"{kept['bytes'] / 1e6:.1f} MB of {limit / 1e6:.1f} MB are used in {month}")
        assert self._store is not None
        self._store.put(name.folder, name.file, data)
        kept["bytes"] += len(data)
        self.files += 1
        self.sent += len(data)


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split())[:300]


def _outlines(
    reader: JournalReader, table: str, after: int, until: int
) -> Iterator[tuple[int, float, bool, int | None]]:
    """Yield number, time [s since the epoch], whether dated, and weight [bytes] of rows; None for another table's."""
    if table == "message":
        while rows := reader.raw(after, PIECE, until):
            for number, at, _, _, payload, _, undated in rows:
                yield number, at / 1000.0, not undated, len(payload)
            after = rows[-1][0]
        return
    while piece := reader.after(STREAMS[table], after, PIECE, until):
        for row in piece:
            yield row.id, row.at, not row.undated, 0 if _belongs(table, row) else None
        after = piece[-1].id


def _belongs(table: str, row: Row) -> bool:
    """Tell whether a row of the journal's events is one of this table."""
    return table not in _SHARED or (row.values.kind == "hand") == (table == "hand")


def _rows_of(reader: JournalReader, plan: _Plan) -> Iterator[Row]:
    after = plan.after
    while piece := reader.after(STREAMS[plan.table], after, PIECE, plan.last):
        yield from (row for row in piece if _belongs(plan.table, row))
        after = piece[-1].id


def _messages(
    reader: JournalReader, plan: _Plan, clock: SiteClock, begins: int
) -> tuple[dict[str, Sequence[Any]], int]:
    """Return columns of messages, and when the site's first one came [ms since the epoch]; moves the clock on."""
    columns: dict[str, list[Any]] = {column: [] for column in TABLES["message"]}
    after = plan.after
    while rows := reader.raw(after, PIECE, plan.last):
        for number, at, topic, stamp, payload, flags, undated in rows:
            row = (number, at, topic, stamp, payload, bool(flags & 1), bool(flags & 2), undated)
            for column, value in zip(columns.values(), row, strict=True):
                column.append(value)
            if not undated:
                begins = begins or at
                clock.take(at / 1000.0)
        after = rows[-1][0]
    return {name: column for name, column in columns.items()}, begins


def _columns(table: str, rows: Iterator[Row]) -> dict[str, Sequence[Any]]:
    make = {"reading": _reading, "state": _state, "event": _event, "hand": _hand}[table]
    columns: dict[str, list[Any]] = {column: [] for column in TABLES[table]}
    for row in rows:
        common = {"row": row.id, "at": round(row.at * 1000.0), "bank": row.bank, "undated": row.undated}
        values = {**common, **make(row.values)}
        for column, taken in columns.items():
            taken.append(values[column])
    return {name: column for name, column in columns.items()}


_OWN = ("voltage", "current", "power", "electrolyte_temperature", "ambient_temperature")


def _reading(values: Mapping[str, Any]) -> dict[str, Any]:
    other = {name: value for name, value in values.items() if name not in _OWN}
    return {**{name: values.get(name) for name in _OWN}, "other": _json(other) if other else None}


#: Column -> field of a state, of what differs from row to row: whole thousandths cost a tenth of what floats do.
_THOUSANDTHS = {"voltage_mv": "voltage", "charge_returned_mah": "charge_returned", "water_used_mg": "water_used"}


def _state(state: Any) -> dict[str, Any]:
    values = {name: getattr(state, name, None) for name in TABLES["state"]}
    for column, source in _THOUSANDTHS.items():
        value = getattr(state, source)
        values[column] = None if value is None else round(value * 1000.0)
    del values["row"], values["undated"], values["at"], values["bank"]
    return {**values, "flags": " ".join(flag.name for flag in state.flags)}


def _event(event: Any) -> dict[str, Any]:
    return {"kind": event.kind, "detail": _json(event.detail)}


def _hand(event: Any) -> dict[str, Any]:
    return {"kind": str(event.detail.get("kind", "")), "detail": _json(event.detail)}


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
