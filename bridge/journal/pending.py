"""What goes along with the next commit: outlets' positions, rows their servers refused, and debts of a failing disk."""

from __future__ import annotations

import threading
from collections import deque
from typing import NamedTuple

from bridge.journal.batch import Batch

#: At most so many events, and refused rows, are kept for a disk that does not take them.
MOST = 10_000


class Along(NamedTuple):
    """One commit's worth of it."""

    owed: list[Batch]
    positions: dict[str, str]
    rejected: list[tuple[int, str, str, str]]


class Pending:
    """A box filled by any thread, emptied by the journal's."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._positions: dict[str, str] = {}
        self._rejected: deque[tuple[int, str, str, str]] = deque(maxlen=MOST)
        self._owed = Batch()

    def __bool__(self) -> bool:
        return bool(self._positions or self._rejected)

    @property
    def owes(self) -> bool:
        """Trips, snapshots or facts of a batch that failed are still to be written."""
        return len(self._owed) > 0

    def advance(self, outlet: str, position: str) -> None:
        """Remember a position: the newest counts."""
        with self._lock:
            self._positions[outlet] = position

    def reject(self, outlet: str, at: float, line: str, words: str) -> None:
        """Remember a row that was refused for good [s since the epoch]."""
        with self._lock:
            self._rejected.append((round(at * 1000.0), outlet, line[:10_000], words[:1000]))

    def owe(self, batch: Batch) -> None:
        """Keep what must never be lost of a batch that the disk refused; raw messages and samples are given up."""
        if batch.boot and not self._owed.boot:
            self._owed.boot, self._owed.anchor = batch.boot, batch.anchor
        self._owed.snapshots.update(batch.snapshots)
        self._owed.facts.update(batch.facts)
        self._owed.events.extend(batch.events)
        del self._owed.events[:-MOST]

    def take(self) -> Along:
        """Return all of it, for one attempt; give it `back` where that fails."""
        with self._lock:
            along = Along([self._owed] if self.owes else [], self._positions, list(self._rejected))
            self._positions = {}
            self._rejected.clear()
            self._owed = Batch()
        return along

    def back(self, along: Along) -> None:
        """Take back what a failed attempt had taken; what came in meanwhile is newer."""
        with self._lock:
            self._positions = {**along.positions, **self._positions}
            self._rejected.extendleft(reversed(along.rejected[-(MOST - len(self._rejected)) :]))
            for batch in along.owed:
                self._owed = batch
