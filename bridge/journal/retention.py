"""Age and size of the journal, kept in small steps between commits; the oldest raw messages go first."""

from __future__ import annotations

import sqlite3
import time
from contextlib import suppress
from pathlib import Path

from bridge.settings import JournalSettings

#: Rows looked at in one statement, and time one step may take [s]: a commit never waits long behind it.
ROWS = 2000
STEP = 0.05
EVERY = 1.0
#: A write-ahead log that a long reader has let grow beyond this is cut back when nothing else is to do [bytes].
LOG_LIMIT = 16_000_000
#: By size: raw messages first, then what can be told from coarser rows. Events are never thinned by size.
ORDER = ("message", "reading", "state", "health", "rejected")


class Retention:
    """The thinning of the journal.

    Attributes
    ----------
    thinned : int
        Rows that the size limit (not age) has taken since the start.
    size : int
        Bytes in use when last looked.
    """

    def __init__(self, settings: JournalSettings) -> None:
        self.thinned = 0
        self.size = 0
        self._settings = settings
        self._log = Path(f"{settings.path}-wal")
        self._last = 0.0

    def step(self, connection: sqlite3.Connection, now: float, *, idle: bool) -> None:
        """Do a little, at most once a second; `now` is the newest trusted time seen [s since the epoch], 0 for none."""
        began = time.monotonic()
        if began - self._last < EVERY:
            return
        self._last = began
        self.size = _size(connection)
        removed = False
        if now:
            removed = self._by_age(connection, round((now - self._settings.keep) * 1000.0), began + STEP)
        removed |= self._by_size(connection, began + STEP)
        if removed:
            connection.execute("PRAGMA incremental_vacuum(2000)").fetchall()
        if idle and self._log.exists() and self._log.stat().st_size > LOG_LIMIT:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()

    def make_room(self, connection: sqlite3.Connection) -> None:
        """Free pages of a full disk inside the file, so that the newest can be stored in place of the oldest raw.

        Removing writes too; where even the log has no room, fewer rows at a time may still go through.
        """
        for rows in (ROWS, ROWS // 10, ROWS // 100):
            with suppress(sqlite3.OperationalError):
                self.thinned += _remove_first(connection, rows)
                return

    def _by_age(self, connection: sqlite3.Connection, before: int, until: float) -> bool:
        removed = False
        for table, column, limit in (
            ("message", "at", before),
            ("reading", "second", before // 1000),
            ("state", "at", before),
            ("detail", "at", before - 86_400_000),
            ("health", "at", before),
            ("rejected", "at", before),
        ):
            while time.monotonic() < until and _remove(connection, table, f"AND {column} < {limit}"):
                removed = True
        return removed

    def _by_size(self, connection: sqlite3.Connection, until: float) -> bool:
        removed = False
        while self.size > self._settings.at_most and time.monotonic() < until:
            taken = _remove_first(connection, ROWS)
            if not taken:
                break
            removed = True
            self.thinned += taken
            self.size = _size(connection)
        return removed


def _remove_first(connection: sqlite3.Connection, rows: int) -> int:
    """Remove the oldest rows of the first table that has any to give."""
    return next((count for table in ORDER if (count := _remove(connection, table, rows=rows))), 0)


def _remove(connection: sqlite3.Connection, table: str, condition: str = "", rows: int = ROWS) -> int:
    """Remove some of the oldest rows: a stretch of the primary key, so nothing is searched.

    The newest row stays, so that numbers never begin again behind an outlet's position.
    """
    return connection.execute(
        f"DELETE FROM {table} WHERE id < (SELECT min(id) FROM {table}) + {rows} "
        f"AND id < (SELECT max(id) FROM {table}) {condition}"
    ).rowcount


def _size(connection: sqlite3.Connection) -> int:
    pages, free, size = (
        connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "freelist_count", "page_size")
    )
    return int((pages - free) * size)
