"""The journal's version says what its tables are, and every earlier version is brought up to it."""

from __future__ import annotations

import gzip
import hashlib
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from bridge.errors import JournalError
from bridge.journal.batch import Batch
from bridge.journal.migrations import MIGRATIONS, VERSION, columns, migrate
from bridge.journal.reader import JournalReader
from bridge.journal.schema import DDL, open_for_writing
from bridge.journal.writer import Journal
from bridge.settings import JournalSettings
from rules.events import Derived

KEPT = Path(__file__).parent / "kept"
NAMES = ("first-landed", "between", "last-release")
LATER = {"gassing_share", "top_up_at", "capacity_delivered", "capacity_percent"}


def place(folder: Path, name: str) -> Path:
    """A copy of a journal that an earlier version wrote."""
    path = folder / "revival.db"
    path.write_bytes(gzip.decompress((KEPT / f"{name}.journal.gz").read_bytes()))
    return path


def tables(path: Path) -> dict[str, set[tuple[object, ...]]]:
    """Table -> name, type, not null, default and key of each column; and the indices as they were written."""
    with closing(sqlite3.connect(path)) as connection:
        names = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        found = {name: {row[1:] for row in connection.execute(f"PRAGMA table_info({name})")} for name in names}
        found["indices"] = set(connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'index'"))
        return found


def test_who_changes_the_tables_changes_their_version() -> None:
    # Where this fails: add a step to `bridge.journal.migrations.MIGRATIONS`, keep a journal of the version before under
    # `kept`, and only then write the new pair here. A schema that changes under its old number refuses every batch.
    assert (VERSION, hashlib.sha256(DDL.encode()).hexdigest()[:16]) == (2, "83e5515a5210072e")


@pytest.mark.parametrize("name", NAMES)
def test_a_journal_of_an_earlier_version_gets_the_tables_of_a_new_one_and_keeps_its_rows(
    name: str, tmp_path: Path
) -> None:
    path = place(tmp_path, name)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)
        assert columns(connection, "state") & LATER == (set() if name == "first-landed" else LATER)
        before = {table: connection.execute(f"SELECT count(*) FROM {table}").fetchone() for table in ("event", "state")}
        first = connection.execute("SELECT at, bank, voltage, hold_hours FROM state ORDER BY id").fetchall()
    connection, fresh, set_aside = open_for_writing(path, check=True)
    with closing(connection):
        assert (fresh, set_aside) == (False, None)
        assert connection.execute("PRAGMA user_version").fetchone() == (VERSION,)
        assert connection.execute("SELECT at, bank, voltage, hold_hours FROM state ORDER BY id").fetchall() == first
        for table, count in before.items():
            assert connection.execute(f"SELECT count(*) FROM {table}").fetchone() == count
    new = tmp_path / "new.db"
    open_for_writing(new, check=True)[0].close()
    assert tables(path) == tables(new)


@pytest.mark.parametrize("name", NAMES)
def test_a_journal_of_an_earlier_version_stores_the_states_of_this_one(name: str, tmp_path: Path) -> None:
    path = place(tmp_path, name)
    state = Derived("north", 1_795_700_000.0, voltage=32.0, gassing_share=0.75, capacity_percent=81.5)
    journal = Journal.open(JournalSettings(path=path), {"north": ()})
    journal.submit(Batch(derived=[state], urgent=True))
    assert journal.close(30.0)
    assert (journal.unstored, journal.degraded) == (0, "")
    with JournalReader(path) as reader:
        assert reader.latest_state("north") == state


def test_a_migration_that_the_disk_refuses_leaves_the_journal_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = place(tmp_path, "first-landed")

    def full(connection: sqlite3.Connection) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        monkeypatch.setattr("bridge.journal.migrations.MIGRATIONS", (*MIGRATIONS, full))
        with pytest.raises(sqlite3.OperationalError, match="full"):
            migrate(connection, 1)
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)
        assert not columns(connection, "state") & LATER
    journal = Journal.open(JournalSettings(path=path), {"north": ()})
    assert "full" in journal.degraded
    assert journal.snapshots().keys() == {"north", "south"}, "what is remembered can be read all the same"
    monkeypatch.undo()
    journal.submit(Batch(derived=[Derived("north", 1_795_700_000.0, voltage=32.0)], urgent=True))
    assert journal.close(30.0)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (VERSION,)
    with JournalReader(path) as reader:
        latest = reader.latest_state("north")
        assert latest is not None
        assert latest.at == 1_795_700_000.0


def test_a_newer_journal_is_left_alone(tmp_path: Path) -> None:
    path = place(tmp_path, "last-release")
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    before = path.read_bytes()
    with pytest.raises(JournalError, match="copy of the journal made before the upgrade"):
        open_for_writing(path, check=True)
    with pytest.raises(JournalError, match="Use the version that wrote it"):
        JournalReader(path)
    assert path.read_bytes() == before
