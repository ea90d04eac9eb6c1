"""A journal whose own connection a test may touch, for it is touched between two turns of the journal's thread."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from bridge.journal.writer import Journal
from bridge.settings import JournalSettings
from rules.bank import Meter


class StillJournal(Journal):
    """The journal as it is, but that its thread can be kept from beginning a turn.

    A connection that one thread closes while another executes a statement on it is freed under its feet: the process
    may die of it, and it would be the test's doing, for nobody but the journal's thread touches it otherwise.
    """

    def __init__(self, settings: JournalSettings, meters: Mapping[str, tuple[Meter, ...]]) -> None:
        super().__init__(settings, meters)
        self._turning = threading.Lock()

    def _turn(self, hurry: bool) -> None:
        with self._turning:
            super()._turn(hurry)

    @contextmanager
    def between_turns(self) -> Iterator[sqlite3.Connection | None]:
        """Give the writer's connection, None where the file is not open, while the thread waits."""
        with self._turning:
            yield None if self._store is None else self._store.connection
