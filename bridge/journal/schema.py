"""The tables, their scales, and how the file is opened.

Rows are appended in the order of arrival and values are scaled integers (mV, mA, hundredths of a degree): that is
what lets a memory card live for years. Only keys that grow with time are indexed, so a commit touches the last page
of each tree and no other.
"""

from __future__ import annotations

import os
import sqlite3
import time
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from bridge.errors import JournalError
from bridge.journal.migrations import VERSION, migrate
from bridge.words.catalogue import BANK, FIELD

PRIVATE = 0o600  #: mode of everything the bridge keeps
#: Longest look for damage at the start [s].
CHECK_FOR = 20.0

#: Quantity -> column of the wide reading row and its scale; every other meter goes into `extra`.
READING_COLUMNS: dict[str, tuple[str, float]] = {
    "voltage": ("voltage_mv", 1000.0),
    "current": ("current_ma", 1000.0),
    "power": ("power_dw", 10.0),
    "electrolyte_temperature": ("temperature_cc", 100.0),
    "ambient_temperature": ("ambient_cc", 100.0),
}
#: What the one-minute roll-up keeps: name, scale.
ROLLED: tuple[tuple[str, float], ...] = (("voltage", 1000.0), ("current", 1000.0), ("temperature", 100.0))

#: Rows of the catalogue that have a column of their own, in the order of the fields.
_ROWS = sorted((row for row in BANK if row.scale), key=lambda row: FIELD[row.field])
#: Numbers of `rules.events.Derived` kept as scaled integers.
STATE_SCALES: dict[str, float] = {row.field: row.scale for row in _ROWS if row.datatype in ("float", "datetime")}
STATE_FLAGS = tuple(row.field for row in _ROWS if row.datatype == "boolean")
STATE_WORDS = tuple(row.field for row in _ROWS if row.datatype == "enum")

_STATE_COLUMNS = ", ".join(
    [f"{name} INTEGER" for name in (*STATE_SCALES, *STATE_FLAGS)] + [f"{name} TEXT" for name in STATE_WORDS]
)
_READING_COLUMNS = ", ".join(f"{column} INTEGER" for column, _ in READING_COLUMNS.values())
_ROLLED_COLUMNS = ", ".join(f"{name}_{what} INTEGER" for name, _ in ROLLED for what in ("n", "sum", "min", "max"))

#: Times: `at`, `stamp` in ms since the epoch, `second` and `minute` in their own unit. `boot` is NULL where the clock
#: was trusted. The unique key of raw messages begins with the stamp so that it, too, grows at one end only.
DDL = f"""
CREATE TABLE topic (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
CREATE TABLE bank (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
CREATE TABLE boot (id INTEGER PRIMARY KEY, name TEXT NOT NULL, anchor_ms INTEGER NOT NULL, UNIQUE (name, anchor_ms));
CREATE TABLE message (id INTEGER PRIMARY KEY, at INTEGER NOT NULL, topic INTEGER NOT NULL, stamp INTEGER, crc INTEGER,
  payload BLOB NOT NULL, flags INTEGER NOT NULL, boot INTEGER);
CREATE UNIQUE INDEX message_once ON message (stamp, topic, crc) WHERE stamp IS NOT NULL;
CREATE INDEX message_boot ON message (boot) WHERE boot IS NOT NULL;
CREATE TABLE reading (id INTEGER PRIMARY KEY, second INTEGER NOT NULL, bank INTEGER NOT NULL, {_READING_COLUMNS},
  extra TEXT, boot INTEGER);
CREATE INDEX reading_second ON reading (second);
CREATE INDEX reading_boot ON reading (boot) WHERE boot IS NOT NULL;
CREATE TABLE minute (minute INTEGER NOT NULL, bank INTEGER NOT NULL, {_ROLLED_COLUMNS}, PRIMARY KEY (minute, bank))
  WITHOUT ROWID;
CREATE TABLE detail (id INTEGER PRIMARY KEY, at INTEGER NOT NULL, json TEXT NOT NULL);
CREATE TABLE state (id INTEGER PRIMARY KEY, at INTEGER NOT NULL, bank INTEGER NOT NULL, {_STATE_COLUMNS},
  varying TEXT, detail INTEGER, boot INTEGER);
CREATE INDEX state_bank ON state (bank, at);
CREATE INDEX state_boot ON state (boot) WHERE boot IS NOT NULL;
CREATE TABLE event (id INTEGER PRIMARY KEY, at INTEGER NOT NULL, bank INTEGER NOT NULL, kind TEXT NOT NULL,
  detail TEXT NOT NULL, boot INTEGER);
CREATE INDEX event_at ON event (at);
CREATE INDEX event_boot ON event (boot) WHERE boot IS NOT NULL;
CREATE TABLE health (id INTEGER PRIMARY KEY, at INTEGER NOT NULL, detail TEXT NOT NULL, boot INTEGER);
CREATE TABLE snapshot (bank TEXT PRIMARY KEY, memory BLOB NOT NULL) WITHOUT ROWID;
CREATE TABLE fact (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE cursor (outlet TEXT PRIMARY KEY, position TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE rejected (id INTEGER PRIMARY KEY, at INTEGER NOT NULL, outlet TEXT NOT NULL, line TEXT NOT NULL,
  words TEXT NOT NULL);
"""


def rolled_rows(of_reading: str, of_state: str) -> str:
    """Return the query for what charts are made of, of the rows that these two conditions pass.

    Volts and amps are those of the first meter. A bank may have several thermometers, and the hottest decides: it
    stands in the states, as the rules believed it.
    """
    return (
        "SELECT second, bank, voltage_mv AS voltage, current_ma AS current, NULL AS temperature FROM reading "
        f"WHERE {of_reading} UNION ALL SELECT at / 1000, bank, NULL, NULL, temperature FROM state "
        f"WHERE temperature IS NOT NULL AND {of_state}"
    )


DATED = ("message", "reading", "state", "event", "health")


def open_for_writing(path: Path, *, check: bool) -> tuple[sqlite3.Connection, bool, Path | None]:
    """Open the journal: make it where there is none, set a damaged one aside, bring an older one up to this version.

    Parameters
    ----------
    check : bool
        Look through the whole file for damage; not needed when a healthy file is opened again.

    Returns
    -------
    tuple
        Connection, whether the file was newly made, and where a damaged predecessor now lies.

    Raises
    ------
    JournalError
        The file was written by a newer version of this program.
    sqlite3.Error, OSError
        The disk does not let us: the caller goes on without and tries again.
    """
    set_aside = None
    connection = _open_sound(path, check=check)
    if connection is None:
        set_aside = _set_aside(path)
        connection = _connect(path)
    try:
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        fresh = version == 0
        if fresh:
            # A commit writes every page it touches, and most of them for a few rows: small pages halve the bytes.
            connection.execute("PRAGMA page_size = 1024")
            connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
        _prepare(connection)
        if fresh:
            connection.executescript(f"BEGIN IMMEDIATE; {DDL} PRAGMA user_version = {VERSION}; COMMIT;")
        elif version < VERSION:
            migrate(connection, version)
    except BaseException:
        connection.close()
        raise
    return connection, fresh, set_aside


def is_damage(error: BaseException) -> bool:
    """Tell whether SQLite says that the file itself is broken, as opposed to full, busy or unreachable."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    return code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def readable(text: bytes) -> str:
    r"""Return the text of a column; where damage left no UTF-8 a name that nothing has, instead of no file at all.

    Examples
    --------
    >>> readable(b"north"), readable(b"n\xefrth") == "north"
    ('north', False)
    """
    return text.decode("utf-8", "replace")


def _connect(path: Path) -> sqlite3.Connection:
    _close_to_others(path)
    # Transactions are begun and ended by hand; the connection moves once from the opening thread to the journal's.
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=2.0, cached_statements=64)
    connection.text_factory = readable
    return connection


def _close_to_others(path: Path) -> None:
    """Let only this user read it: who was home, and when. SQLite gives its side files the same mode.

    Raises
    ------
    OSError
        The folder takes no file.
    """
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, PRIVATE))
    for ending in ("", "-wal", "-shm"):
        with suppress(OSError):  # another user's file, or a file system without modes
            path.with_name(path.name + ending).chmod(PRIVATE)


def _prepare(connection: sqlite3.Connection) -> None:
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = NORMAL")
    connection.execute("PRAGMA wal_autocheckpoint = 8000")
    connection.execute("PRAGMA journal_size_limit = 4194304")
    connection.execute("PRAGMA temp_store = MEMORY")


def _open_sound(path: Path, *, check: bool) -> sqlite3.Connection | None:
    """Return the file, sound or still to be made; None where it is damaged."""
    connection = _connect(path)
    try:
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        if version > VERSION:
            raise JournalError(
                f"{path}: this journal was written by a newer version (schema {version}, known here: {VERSION}). "
                "Install that version again, go back to the copy of the journal made before the upgrade, "
                "or move the file away to start a new journal."
            )
        if version == 0 and connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            raise JournalError(f"{path}: this is another program's database. Name another file under [journal] path.")
        if not check or version == 0 or _looks_sound(connection):
            return connection
    except sqlite3.DatabaseError as error:
        if not is_damage(error):
            connection.close()
            raise
    except JournalError:
        connection.close()
        raise
    connection.close()
    return None


def _looks_sound(connection: sqlite3.Connection) -> bool:
    """Return what a restart depends on is looked through whole, the rest for a bounded time.

    Two gigabytes on a memory card take minutes, and a service that is not ready by then is started again for ever.
    Damage further in is found when it is met, and sets the file aside then.
    """
    for table in ("snapshot", "fact", "cursor"):
        if connection.execute(f"PRAGMA quick_check({table})").fetchone()[0] != "ok":
            return False
    until = time.monotonic() + CHECK_FOR
    connection.set_progress_handler(lambda: time.monotonic() > until, 100_000)
    try:
        return bool(connection.execute("PRAGMA quick_check(1)").fetchone()[0] == "ok")
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode != sqlite3.SQLITE_INTERRUPT:
            raise
        return True
    finally:
        connection.set_progress_handler(None, 0)


def _set_aside(path: Path) -> Path:
    """Rename the damaged file, and what belongs to it, to a dated name beside it."""
    dated = f"{path.name}.damaged-{datetime.now(UTC):%Y%m%dT%H%M%S}"
    target = path.with_name(dated)
    number = 1
    while target.exists():
        number += 1
        target = path.with_name(f"{dated}-{number}")
    path.rename(target)
    for ending in ("-wal", "-shm"):
        with suppress(FileNotFoundError):
            path.with_name(path.name + ending).rename(target.with_name(target.name + ending))
    return target
