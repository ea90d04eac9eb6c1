"""The journal's own thread: whole batches in, commits, retention, and never an exception out."""

from __future__ import annotations

import logging
import sqlite3
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Self, TypeVar

from bridge.errors import JournalError
from bridge.journal.batch import Batch, not_yet_counted
from bridge.journal.pending import Pending
from bridge.journal.reader import JournalReader
from bridge.journal.reserve import Reserve, reserve_path
from bridge.journal.retention import Retention
from bridge.journal.schema import is_damage, open_for_writing
from bridge.journal.store import Store, compact
from bridge.message import Message
from bridge.settings import JournalSettings
from rules.bank import Meter
from rules.safety import DEGRADED, PROVED, UNPROVED

Kept = TypeVar("Kept")
log = logging.getLogger(__name__)

#: How long a batch may wait for a disk that refuses before it is handed back as unstored [s].
PATIENCE = 5.0
#: A disk that refuses is tried again so soon, and sooner where something new is handed over [s].
TRY_AGAIN = 0.2
#: At most so long between two commits that reach the disk's surface, while anything is committed at all [s].
SURFACE_EVERY = 10.0
HEALTH_EVERY = 60.0


def _ignore(batch: Batch, error: Exception | None) -> None:
    """Do nothing until the engine says what is to be done with committed batches."""


class Journal:
    """Everything the bridge remembers; nobody but the engine submits, anybody may read the file.

    Attributes
    ----------
    path : Path
        The file.
    fresh : bool
        It was newly made.
    set_aside : Path or None
        Where a damaged predecessor now lies.
    vanished : bool
        The file is new although what lies beside it shows that there was another.
    degraded : str
        Why the journal does not store at the moment, or empty.
    reserved : dict of str
        Memory of the banks whose last change the journal could not take before this start; mostly empty.
    unstored : int
        Raw messages that a failing disk made us give up.
    on_done : callable
        Called from the journal's thread with each batch after its commit, or with the error that kept it out.
    """

    def __init__(self, settings: JournalSettings, meters: Mapping[str, tuple[Meter, ...]]) -> None:
        self.path = settings.path
        self.fresh = False
        self.set_aside: Path | None = None
        self.vanished = False
        self._inode = 0
        self.degraded = ""
        self.reserved: dict[str, str] = {}
        self.unstored = 0
        self.on_done: Callable[[Batch, Exception | None], None] = _ignore
        self._meters = meters
        self._store: Store | None = None
        self._reserve = Reserve(reserve_path(settings.path), len(meters))
        self._proved = False
        self._failing_since = 0.0
        self._retention = Retention(settings)
        self._wake = threading.Condition()
        self._waiting: deque[tuple[Batch, float]] = deque()
        self._working: tuple[tuple[Batch, float], ...] = ()
        self._pending = Pending()
        self._restamps: list[tuple[str, float]] = []
        self._undated = ""
        self._suspect = True
        self._hurry = False
        self._closing = False
        self._newest = 0.0
        self._surfaced = 0.0
        self._health_at = 0.0
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)

    @classmethod
    def open(cls, settings: JournalSettings, meters: Mapping[str, tuple[Meter, ...]]) -> Self:
        """Open or make the file, prove that it stores, and start the thread.

        A disk that refuses leaves the journal `degraded`: the bridge works from memory and the thread tries again.

        Raises
        ------
        JournalError
            The file was written by a newer version, or is another program's database.
        """
        journal = cls(settings, meters)
        journal.reserved = journal._reserve.read()
        beside = journal._reserve.path.exists()
        try:
            journal._open()
            journal.vanished = journal.fresh and beside
        except (sqlite3.Error, OSError) as error:
            journal._degrade(error)
        else:
            journal._try([])
        journal._thread.start()
        return journal

    # ------------------------------------------------------------------ what the engine calls

    def submit(self, batch: Batch) -> None:
        """Hand over a whole batch; it belongs to the journal from now on."""
        with self._wake:
            if batch.boot:
                self._undated = batch.boot
            self._waiting.append((batch, time.monotonic()))
            self._wake.notify()

    @property
    def backlog(self) -> int:
        """Batches not yet committed; hand over the next when it is 0, or at once when urgent."""
        return len(self._waiting) + len(self._working)

    @property
    def lag(self) -> float:
        """Age of the oldest batch that is not yet committed [s]."""
        with self._wake:
            oldest = self._working or self._waiting
            return time.monotonic() - oldest[0][1] if oldest else 0.0

    @property
    def storage(self) -> tuple[str, str]:
        """Whether what is handed over is kept: proved, unproved or degraded (`rules.safety.state`), and why not.

        A disk that refuses for a moment (full until the oldest rows are thinned, locked by a reader) has its patience;
        meanwhile what matters goes into the reserve.
        """
        why, since = self.degraded, self._failing_since
        if why and (not self._proved or time.monotonic() - since > PATIENCE):
            return DEGRADED, why
        return (PROVED, "") if self._proved else (UNPROVED, "nothing has been written since this start")

    def overdue(self, limit: float) -> list[Message]:
        """Take back acknowledgements that have waited longer than `limit` [s] for a disk that does not answer.

        A full or failing disk says so and the batch comes back with its error; a frozen one says nothing, and the
        thread stands still in the write. Each message is given out once, here or with its batch.
        """
        taken: list[Message] = []
        with self._wake:
            for batch, since in (*self._working, *self._waiting):
                if batch.acks and time.monotonic() - since > limit:
                    taken += batch.acks
                    batch.acks = []
            self.unstored += len(taken)
        return taken

    @property
    def thinned(self) -> int:
        """Rows that the limit on size, or a full disk, has taken since the start; those past their age do not count."""
        return self._retention.thinned

    @property
    def undated(self) -> bool:
        """Rows of this run still carry times of an untrusted clock: outlets wait."""
        return bool(self._undated)

    def advance(self, outlet: str, position: str, *, at_once: bool = False) -> None:
        """Remember how far an outlet has read; stored with the next commit, or with one of its own where it says so."""
        self._pending.advance(outlet, position)
        if at_once:
            with self._wake:
                self._hurry = True
                self._wake.notify()

    def reject(self, outlet: str, at: float, line: str, words: str) -> None:
        """Keep a row that an outlet's server refused [s since the epoch], with the server's words."""
        self._pending.reject(outlet, at, line, words)

    def restamp(self, boot: str, offset: float) -> None:
        """Have rows of this boot dated by monotonic time + `offset` [s], now that the clock is trusted."""
        with self._wake:
            self._restamps.append((boot, offset))
            self._wake.notify()

    def snapshots(self) -> dict[str, str]:
        """Return memory of each bank as last committed; empty where there is none or it cannot be read."""
        return self._read(JournalReader.snapshots) or {}

    def facts(self) -> dict[str, str]:
        """Return facts as last committed."""
        return self._read(JournalReader.facts) or {}

    def banks(self) -> list[str] | None:
        """Return banks that have rows; None where the file cannot be read."""
        return self._read(JournalReader.banks)

    def recent_stamps(self, limit: int = 50_000) -> Iterable[tuple[str, float, int]]:
        """Return topic, own time [s, to the millisecond] and CRC-32 of the newest payloads, in order of time."""
        return self._read(lambda reader: reader.recent_stamps(limit)) or []

    def recent_unbelieved(self, limit: int = 50_000) -> Iterable[tuple[str, int]]:
        """Return topic and CRC-32 of the newest payloads of the kept session whose own time is not believed."""
        return self._read(lambda reader: reader.recent_unbelieved(limit)) or []

    def close(self, timeout: float = 3.0) -> bool:
        """Commit what waits and close the file; False where the disk did not let us in time [s]."""
        with self._wake:
            self._closing = True
            self._wake.notify()
        self._thread.join(timeout)
        return not self._thread.is_alive()

    # ------------------------------------------------------------------ the thread

    def _run(self) -> None:
        while True:
            with self._wake:
                self._wake.wait_for(self._wanted, timeout=1.0)
                self._working = tuple(self._waiting)
                self._waiting.clear()
                closing, hurry, self._hurry = self._closing, self._hurry, False
            try:
                self._turn(hurry)
            except Exception as error:  # the thread outlives everything; the engine is told
                log.exception("journal")
                self._finish(error)
            if closing and not self._waiting:
                break
        if self._store is not None:
            self._store.connection.close()

    def _wanted(self) -> bool:
        return bool(self._waiting or self._closing or self._hurry or (self._restamps and self._can_restamp()))

    def _can_restamp(self) -> bool:
        return not self.degraded and not self._pending.owes

    def _turn(self, hurry: bool) -> None:
        if self._working:
            self._commit([batch for batch, _ in self._working])
        elif self._pending or self.degraded or not self._proved:
            self._idle_commit(hurry)
        if self._restamps and self._can_restamp():
            self._restamp()
        if self._store is not None and not self.degraded:
            try:
                self._retention.step(self._store.connection, self._newest, idle=not self._waiting)
            except sqlite3.Error as error:
                self._degrade(error)

    def _commit(self, batches: list[Batch]) -> None:
        """Commit all that waits in one transaction; a batch that cannot be stored at all goes alone."""
        patience = time.monotonic() + (0.0 if self.degraded else PATIENCE)
        error = self._try(batches)
        while error is not None and _may_pass(error) and time.monotonic() < patience and not self._closing:
            with self._wake:
                self._wake.wait(TRY_AGAIN)  # a trip that comes meanwhile goes into the reserve at once
            self._keep_in_reserve(batches)
            error = self._try(batches)
        if error is not None and not _may_pass(error) and len(batches) > 1:
            for batch in batches:
                self._finish(self._try([batch]), [batch])
        else:
            self._finish(error, batches)

    def _try(self, batches: list[Batch]) -> Exception | None:
        """Try once, on a newly opened file where the last attempt failed."""
        along = self._pending.take()
        everything = [*along.owed, *batches]
        unproved = bool(self.degraded) or not self._proved
        full = unproved or self._must_surface(everything)
        health = self._health(batches)
        try:
            self._notice_vanished()
            store = self._store or self._open()
            if unproved:
                self._reserve.prepare()
            # While unproved there is always something to write, so that success proves the disk.
            proof = {"journal": self.degraded} if unproved else {}
            store.write(everything, full=full, position=along.positions | proof, rejected=along.rejected, health=health)
        except Exception as error:
            self._keep_in_reserve(everything)
            self._pending.back(along)
            if getattr(error, "sqlite_errorcode", 0) == sqlite3.SQLITE_FULL and self._store is not None:
                self._retention.make_room(self._store.connection)
            self._degrade(error)
            return error
        if full:
            self._surfaced = time.monotonic()
        if health is not None:
            self._health_at = health[0]
        if unproved:
            if self.degraded:
                log.warning("journal stores again: %s", self.path)
            self.degraded, self._proved = "", True
        self._empty_reserve(everything)
        return None

    def _empty_reserve(self, stored: list[Batch]) -> None:
        """Empty the reserve once what it holds of our banks, or something newer, is in the journal."""
        owned = self._reserve.banks & self._meters.keys()
        if owned and owned <= {bank for batch in stored for bank in batch.snapshots}:
            with suppress(OSError):
                self._reserve.clear()

    def _keep_in_reserve(self, batches: list[Batch]) -> None:
        """Keep what a kill must not make anybody forget, where the journal does not take it; what waits is newer."""
        with self._wake:
            waiting = [batch for batch, _ in self._waiting]
        snapshots: dict[str, str] = {}
        for batch in (*batches, *waiting):
            snapshots.update(batch.snapshots)
        if snapshots:
            try:
                self._reserve.keep(snapshots)
            except OSError as error:
                log.error("journal %s: not even the reserve takes it: %s", self.path, error)

    def _idle_commit(self, hurry: bool) -> None:
        """Commit positions that waited long enough or are waited for; try a disk that failed again every second."""
        now = hurry or self.degraded or not self._proved or self._closing
        if now or time.monotonic() - self._surfaced > SURFACE_EVERY:
            self._try([])

    def _must_surface(self, batches: list[Batch]) -> bool:
        """Tell whether the file must have it now: trips and what is acknowledged at once, else every ten seconds."""
        if any(batch.urgent or batch.acks or batch.snapshots for batch in batches):
            return True
        return time.monotonic() - self._surfaced > SURFACE_EVERY

    def _finish(self, error: Exception | None, batches: list[Batch] | None = None) -> None:
        """Hand batches back; what must never be lost of a failed one stays owed."""
        done = [batch for batch, _ in self._working] if batches is None else batches
        for batch in done:
            if error is not None:
                self.unstored += not_yet_counted(batch)
                if _may_pass(error):
                    self._pending.owe(batch)
        with self._wake:
            self._working = tuple(pair for pair in self._working if not any(pair[0] is batch for batch in done))
        for batch in done:
            try:
                self.on_done(batch, error)
            except Exception:
                log.exception("journal: what follows a commit failed")

    def _health(self, batches: list[Batch]) -> tuple[float, str] | None:
        """Return the journal's own condition, once a minute of the bridge's clock."""
        for batch in batches:
            if batch.messages and not batch.boot:
                self._newest = batch.messages[-1][0].at
        if not self._newest or abs(self._newest - self._health_at) < HEALTH_EVERY:
            return None
        condition = {
            "journal_lag_s": round(self.lag, 3),
            "journal_unstored_messages": self.unstored,
            "journal_thinned_rows": self._retention.thinned,
            "journal_size_bytes": self._retention.size,
        }
        return self._newest, compact(condition)

    def _restamp(self) -> None:
        while self._restamps and self._store is not None:
            boot, offset = self._restamps[0]
            try:
                self._store.restamp(boot, offset)
            except sqlite3.Error as error:
                self._degrade(error)
                return
            with self._wake:
                self._restamps.pop(0)
                if boot == self._undated and not any(batch.boot == boot for batch, _ in self._waiting):
                    self._undated = ""

    def _open(self) -> Store:
        connection, self.fresh, set_aside = open_for_writing(self.path, check=self._suspect)
        self._suspect = False
        if set_aside is not None:
            self.set_aside = set_aside
            log.error("journal %s was damaged; it now lies at %s and a new one was begun", self.path, set_aside)
        self._store = Store(connection, self._meters)
        self._inode = self.path.stat().st_ino
        return self._store

    def _notice_vanished(self) -> None:
        """Tell when the file that is written to is no longer the one that the next start will find.

        Raises
        ------
        OSError
            It was deleted, or another lies in its place.
        """
        if self._store is None:
            return
        try:
            there = self.path.stat().st_ino
        except FileNotFoundError:
            there = 0
        if there != self._inode:
            raise OSError("its file was deleted, or replaced by another, while the bridge was running")

    def _degrade(self, error: Exception) -> None:
        """Say why, once, and open the file anew for the next attempt where the file or the disk is at fault."""
        if isinstance(error, (sqlite3.OperationalError, OSError)) or is_damage(error):
            if not self.degraded:
                log.error("journal %s does not store: %s", self.path, error)
                self._failing_since = time.monotonic()
            self.degraded = str(error) or type(error).__name__
            self._suspect = self._suspect or is_damage(error)
            if self._store is not None:
                self._store.connection.close()
                self._store = None
        else:
            log.error("journal %s: a batch cannot be stored: %s", self.path, error)

    def _read(self, what: Callable[[JournalReader], Kept]) -> Kept | None:
        """Read from the file through a connection of its own; a file that cannot be read holds nothing."""
        try:
            with JournalReader(self.path) as reader:
                return what(reader)
        except (sqlite3.Error, JournalError, TypeError) as error:  # TypeError: damage made text of a number
            log.error("journal %s cannot be read: %s", self.path, error)
            return None


def _may_pass(error: Exception) -> bool:
    """Tell whether it may pass: a full or unreachable disk recovers, a row that SQLite cannot take does not."""
    return isinstance(error, (sqlite3.OperationalError, OSError)) or is_damage(error)
