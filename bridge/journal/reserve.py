"""A few kilobytes beside the journal, taken while there was room: what a full disk refuses is still written there.

Overwriting bytes that a file already has needs no new room, so a trip or an `abandon` outlives a kill although the
journal itself could not take it. It is no second journal: it holds the memory of the banks that changed, and is empty
while the journal stores.
"""

from __future__ import annotations

import json
import os
import struct
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

#: Room for each of two turns: for any bank's memory many times over, and so much more for each further bank [bytes].
LEAST_ROOM, ROOM_PER_BANK = 65_536, 16_384
#: Marks a turn; its number, the length of what follows, and the checksum of that.
_HEAD = struct.Struct("<8sQII")
_MARK = b"revival1"


def reserve_path(journal: Path) -> Path:
    """Return where the reserve of this journal lies."""
    return journal.with_name(journal.name + ".reserve")


class Reserve:
    """Two places in one file, written in turn, so that a kill in the middle of one leaves the other.

    Parameters
    ----------
    path : Path
        The file.
    banks : int
        How many banks' memories it may have to take.
    """

    def __init__(self, path: Path, banks: int) -> None:
        self.path = path
        self.room = LEAST_ROOM + ROOM_PER_BANK * max(0, banks - 1)
        self._number = 0
        self._held: dict[str, str] = {}

    def prepare(self) -> None:
        """Take the room, on the disk's surface; what is already there stays.

        Raises
        ------
        OSError
            There is no room, or nothing may be written.
        """
        self._number = max([number for number, _ in self._turns()], default=0)
        kept = self._held = self.read()
        with self._opened(os.O_RDWR | os.O_CREAT) as handle:
            size = os.fstat(handle).st_size
            if size >= 2 * self.room:
                self.room = size // 2  # never less than there was: the turns lie at its halves
                return
            os.posix_fallocate(handle, 0, 2 * self.room)
            if size == 0:
                # Zeros, not a promise of room: some file systems look for it only when it is written.
                os.pwrite(handle, bytes(2 * self.room), 0)
            os.fsync(handle)
        if kept:
            self._write(kept)

    @property
    def banks(self) -> frozenset[str]:
        """Whose memory it holds."""
        return frozenset(self._held)

    def keep(self, snapshots: Mapping[str, str]) -> None:
        """Add the memory of these banks, which the journal did not take; a later one replaces an earlier one.

        Raises
        ------
        OSError
            Not even this can be written, or it is larger than the room.
        """
        together = {**self._held, **snapshots}
        if together != self._held:
            self._write(together)

    def clear(self) -> None:
        """Empty it: the journal has taken it all.

        Raises
        ------
        OSError
            It cannot be written.
        """
        if self._held:
            self._write({})

    def _write(self, snapshots: dict[str, str]) -> None:
        packed = zlib.compress(json.dumps(snapshots).encode(), 1) if snapshots else b""
        if _HEAD.size + len(packed) > self.room:
            raise OSError(f"{len(packed)} bytes are more than {self.path} has room for")
        self._number += 1
        head = _HEAD.pack(_MARK, self._number, len(packed), zlib.crc32(packed))
        with self._opened(os.O_RDWR) as handle:
            os.pwrite(handle, head + packed, self.room * (self._number % 2))
            os.fsync(handle)
        self._held = snapshots

    def read(self) -> dict[str, str]:
        """Return memory by bank that the journal did not take; empty where it took all, or nothing can be read."""
        newest = max(self._turns(), default=(0, b""))[1]
        try:
            kept = json.loads(zlib.decompress(newest)) if newest else {}
        except (ValueError, zlib.error):
            return {}
        return {str(bank): str(text) for bank, text in kept.items()}

    def _turns(self) -> list[tuple[int, bytes]]:
        try:
            whole = self.path.read_bytes()
        except OSError:
            return []
        found = []
        half = len(whole) // 2  # as it was made, perhaps for another number of banks
        for start in (0, half):
            part = whole[start : start + half]
            if len(part) < _HEAD.size:
                continue
            mark, number, length, checksum = _HEAD.unpack_from(part)
            packed = part[_HEAD.size : _HEAD.size + length]
            if mark == _MARK and len(packed) == length and zlib.crc32(packed) == checksum:
                found.append((number, packed))
        return found

    @contextmanager
    def _opened(self, how: int) -> Iterator[int]:
        handle = os.open(self.path, how | os.O_CLOEXEC, 0o600)
        try:
            yield handle
        finally:
            os.close(handle)
