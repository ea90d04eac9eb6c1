"""What brings a journal of an earlier version up to this one: small steps, in order, in one transaction."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable

log = logging.getLogger(__name__)


def _test_and_water_columns(connection: sqlite3.Connection) -> None:
    """Add four columns, 1 to 2: they came while the version stayed 1, so a version 1 may have them already."""
    present = columns(connection, "state")
    for name in ("gassing_share", "top_up_at", "capacity_delivered", "capacity_percent"):
        if name not in present:
            connection.execute(f"ALTER TABLE state ADD COLUMN {name} INTEGER")


#: The first leads from version 1 to 2, the next from 2 to 3. Whoever changes `bridge.journal.schema.DDL` adds a step
#: at the end, which names what it adds in full: it has to do the same when the tables of today are long forgotten.
MIGRATIONS: tuple[Callable[[sqlite3.Connection], None], ...] = (_test_and_water_columns,)
#: Of the tables, kept in the file as its `user_version`.
VERSION = 1 + len(MIGRATIONS)


def columns(connection: sqlite3.Connection, table: str) -> frozenset[str]:
    """Return the names of the columns that a table has in this file."""
    return frozenset(row[1] for row in connection.execute(f"PRAGMA table_info({table})"))


def migrate(connection: sqlite3.Connection, version: int) -> None:
    """Bring the tables from this version to `VERSION`, all of the way or not at all.

    Raises
    ------
    sqlite3.Error
        The disk does not let us; the file is as it was.
    """
    connection.execute("BEGIN IMMEDIATE")
    try:
        for step in MIGRATIONS[version - 1 :]:
            step(connection)
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    log.info("journal brought from schema %d to %d", version, VERSION)
