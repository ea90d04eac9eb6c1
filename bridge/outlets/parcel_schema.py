"""What a parcel is: its tables, names and the clock of a site, for who writes and who reads them.

`bridge/fleet/PARCELS.md` is the document of this; a test compares the two.
"""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime
from typing import NamedTuple

#: Of the tables below. A column that is added leaves it; one that changes its meaning or goes raises it.
SCHEMA = 1
#: Type of each column by name, in their order; what may be null ends with a question mark.
TABLES: dict[str, dict[str, str]] = {
    "message": {
        "row": "int64", "at": "time", "topic": "string", "stamp": "time?", "payload": "binary", "retained": "bool",
        "kept": "bool", "undated": "bool",
    },
    "reading": {
        "row": "int64", "at": "time", "bank": "string", "voltage": "double?", "current": "double?", "power": "double?",
        "electrolyte_temperature": "double?", "ambient_temperature": "double?", "other": "string?", "undated": "bool",
    },
    "state": {
        "row": "int64", "at": "time", "bank": "string", "phase": "string", "relay": "string", "charge_allowed": "bool",
        "tripped": "bool", "interrupted": "bool", "voltage_mv": "int64?", "current": "double?",
        "temperature": "double?", "ambient": "double?", "remaining_hours": "double?", "remaining_low": "double?",
        "remaining_high": "double?", "hold_hours": "double?", "charge_returned_mah": "int64?",
        "water_used_mg": "int64?", "flags": "string", "undated": "bool",
    },
    "event": {
        "row": "int64", "at": "time", "bank": "string", "kind": "string", "detail": "string", "undated": "bool",
    },
    "hand": {
        "row": "int64", "at": "time", "bank": "string", "kind": "string", "detail": "string", "undated": "bool",
    },
    "cabin": {"row": "int64", "at": "time", "text": "string", "sha256": "string"},
}  # fmt: skip
_PLACE = re.compile(
    r"site=(?P<site>[a-z0-9](?:[a-z0-9-]{0,62}[a-z0-9])?)/table=(?P<table>[a-z]{1,16})/day=(?P<day>\d{4}-\d\d-\d\d)/"
    r"(?P=site)-(?P=table)-(?P<journal>\d{10})-(?P<first>\d{12})-(?P<last>\d{12})\.parquet"
)


class Name(NamedTuple):
    """What the place of a parcel says.

    Attributes
    ----------
    site, table, day : str
        Whose, of what, from which UTC day on.
    journal : int
        When this journal was first sent [s since the epoch].
    first, last : int
        Row numbers.
    """

    site: str
    table: str
    day: str
    journal: int
    first: int
    last: int

    @property
    def folder(self) -> str:
        """Return the folder below the store's root."""
        return f"site={self.site}/table={self.table}/day={self.day}"

    @property
    def file(self) -> str:
        """Return the name in its folder."""
        return f"{self.site}-{self.table}-{self.journal:010d}-{self.first:012d}-{self.last:012d}.parquet"

    @property
    def place(self) -> str:
        """Return the place below the store's root."""
        return f"{self.folder}/{self.file}"


def parse(place: str) -> Name | None:
    """Return what the place of a file below the store's root says; None where it is no parcel's.

    Examples
    --------
    >>> name = Name("tarn-hut", "message", "2026-06-15", 1781510400, 1, 360)
    >>> parse(name.place) == name, parse("site=../table=message/day=2026-06-15/x.parquet")
    (True, None)
    """
    found = _PLACE.fullmatch(place)
    if found is None or found["table"] not in TABLES:
        return None
    return Name(
        found["site"], found["table"], found["day"], int(found["journal"]), int(found["first"]), int(found["last"])
    )


def day_of(at: float) -> str:
    """Return the UTC day of a moment [s since the epoch].

    >>> day_of(1781510400.0)
    '2026-06-15'
    """
    return datetime.fromtimestamp(at, UTC).strftime("%Y-%m-%d")


class SiteClock:
    """The clock that the banks of one bridge share, as its engine keeps it over messages in order.

    Parameters
    ----------
    at : float
        Where it stands [s since the epoch]; 0 before the first message.
    """

    def __init__(self, at: float = 0.0) -> None:
        self.at = at

    def take(self, at: float) -> tuple[float, float]:
        """Return when the message counts as arrived, and up to where every second has passed [s since the epoch]."""
        if at < self.at:
            at = self.at
        elif not self.at or at >= math.floor(self.at) + 1:
            self.at = at
        return at, self.at
