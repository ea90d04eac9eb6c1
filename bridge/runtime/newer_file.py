"""Whether the cabin file says something else than what runs: a bridge takes it only when it starts."""

from __future__ import annotations

import hashlib
from pathlib import Path

from bridge.config import read
from bridge.config.models import CabinTable
from bridge.errors import ConfigError
from bridge.settings import Cabin


def meters_of(tables: CabinTable) -> set[tuple[str, str, str]]:
    """Return bank, quantity and place of every meter that a file names, with what it says of its numbers."""
    found = set()
    for bank in tables.bank:
        for meter in (*bank.meter, *tables.meter):
            place = f"{meter.topic.replace('{bank}', bank.id)} {meter.pointer or meter.name or ''}".strip()
            unit = f" in {meter.unit}" if meter.unit else ""
            turned = ", discharging positive" if meter.sign == "discharging" else ""
            found.add((bank.id, meter.quantity, f"{place}{unit}{turned}"))
    return found


class NewerFile:
    """The cabin file beside the bridge that was started from it.

    Parameters
    ----------
    cabin : Cabin
        What runs.

    Attributes
    ----------
    words : str
        What a person must know and do; empty while the file is the one that runs.
    """

    def __init__(self, cabin: Cabin) -> None:
        self._path = Path(cabin.source)
        self._cuts = {bank for relay in cabin.relays for bank in relay.banks}
        self._seen = self._stamp()
        self._running = self._digest()
        self._meters = self._read_meters()
        self.words = ""

    def look(self) -> str:
        """Look at the file, and into it where it was written since; return what is to be told anew, or ``""``."""
        stamp = self._stamp()
        if stamp == self._seen:
            return ""
        self._seen, before = stamp, self.words
        self.words = self._told()
        return self.words if self.words != before else ""

    def _told(self) -> str:
        digest = self._digest()
        if digest in (self._running, ""):
            return ""  # as it was, or just being written
        newer = f"{self._path.name} has changed since this bridge started: restart the bridge, it runs by the old one"
        try:
            tables = read(self._path)
        except ConfigError as error:
            return f"{newer}, but mend it first: {str(error).splitlines()[0]}"
        added = [bank.id for bank in tables.bank if bank.relay is not None and bank.id not in self._cuts]
        cut = f"; until then no relay cuts for {', '.join(added)}" if added else ""
        gone = sorted(self._meters - meters_of(tables))
        judged = "; ".join(f"{bank}'s {quantity.replace('_', ' ')} from {place}" for bank, quantity, place in gone)
        return newer + cut + (f"; until then it judges by what the file no longer names: {judged}" if gone else "")

    def _read_meters(self) -> set[tuple[str, str, str]]:
        try:
            return meters_of(read(self._path))
        except ConfigError:
            return set()

    def _stamp(self) -> tuple[int, int]:
        try:
            found = self._path.stat()
        except OSError:
            return 0, 0
        return found.st_mtime_ns, found.st_size

    def _digest(self) -> str:
        try:
            return hashlib.sha256(self._path.read_bytes()).hexdigest()
        except OSError:
            return ""
