"""Parcels of invented cabins, made of recorded messages without a cabin to send them."""

from __future__ import annotations

import gzip
import hashlib
import json
from collections.abc import Iterator, Sequence
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

from pyarrow import parquet

from bridge.config import told
from bridge.fleet.fold import BankFold, InRow, OutRow
from bridge.intake.recorded import parse_recorded
from bridge.message import Message
from bridge.outlets.parcel_file import content
from bridge.outlets.parcel_schema import SCHEMA, Name, SiteClock, day_of

ROUND = Path("bridge/demo/round.jsonl.gz")
CABIN = Path("bridge/demo/cabin.toml")
#: When the invented journals were begun [s since the epoch].
JOURNAL = 1_781_510_400


class Made(NamedTuple):
    """A parcel: its place and its bytes."""

    name: Name
    data: bytes


def round_messages(until: int = 1_000_000) -> list[Message]:
    """Return the first messages of the demo's round."""
    with gzip.open(ROUND, "rb") as lines:
        return [parse_recorded(line) for _, line in zip(range(until), lines, strict=False)]


def cabin_text(site: str, config: Path = CABIN) -> str:
    """Return what leaves a cabin of its cabin file, under another name."""
    return json.dumps({**told(config), "site": {"id": site}}, sort_keys=True)


def rows_of(messages: list[Message], journal: int = JOURNAL) -> list[InRow]:
    """Number messages as a journal does."""
    clock = SiteClock()
    return [
        InRow(journal, number, message.topic, message.payload, *clock.take(message.at), message.retain)
        for number, message in enumerate(messages, 1)
    ]


def cabin_parcel(site: str, text: str, first: int, at: float, journal: int = JOURNAL, before: str = "") -> Made:
    """Return the parcel of a cabin file, in force from a row on, and sent after the one with the text `before`."""
    name = Name(site, "cabin", day_of(at), journal, first, int(at))
    columns: dict[str, Sequence[Any]] = {
        "row": [first],
        "at": [int(at * 1000)],
        "text": [text],
        "sha256": [_hash(text)],
    }
    return Made(name, content(name, columns, {"bridge": "test", "cabin": _hash(before) if before else ""}))


def message_parcels(site: str, rows: list[InRow], cabins: list[tuple[int, str]], hours: float = 1.0) -> Iterator[Made]:
    """Yield the parcels of a site's messages, one for so many hours; a cabin file ends one.

    Parameters
    ----------
    cabins : list of tuple
        Row from which a cabin file is in force, and its text.
    """
    after, clock = 0, 0.0

    def cut(row: InRow) -> tuple[int, int]:
        return int(row.at // (hours * 3600.0)), sum(first <= row.row for first, _ in cabins)

    for (_, cabin), group in groupby(rows, cut):
        inside = list(group)
        name = Name(site, "message", day_of(inside[0].at), inside[0].journal, inside[0].row, inside[-1].row)
        notes: dict[str, object] = {
            "begins": int(rows[0].at * 1000),
            "clock": int(clock * 1000),
            "after": after,
            "bridge": "test",
        }
        notes["cabin"] = _hash(cabins[cabin - 1][1])
        columns: dict[str, Sequence[Any]] = {
            "row": [row.row for row in inside],
            "at": [round(row.at * 1000) for row in inside],
            "topic": [row.topic for row in inside],
            "stamp": [None] * len(inside),
            "payload": [row.payload for row in inside],
            "retained": [row.retained for row in inside],
            "kept": [False] * len(inside),
            "undated": [False] * len(inside),
        }
        yield Made(name, content(name, columns, notes))
        after, clock = inside[-1].row, inside[-1].clock


def put(where: Path, made: Made) -> None:
    """Lay a parcel into a store, whole at once."""
    folder = where / made.name.folder
    folder.mkdir(parents=True, exist_ok=True)
    new = folder / f"_{made.name.file}"
    new.write_bytes(made.data)
    new.rename(folder / made.name.file)


def folded(site: str, bank: str, rows: list[InRow], cabins: list[tuple[int, str]]) -> list[OutRow]:
    """Return what comes out of the same messages without any engine around the fold."""
    fold, out, waiting = BankFold(site, bank), [], list(cabins)
    for row in rows:
        while waiting and waiting[0][0] <= row.row:
            fold.configure(waiting.pop(0)[1])
        out += fold.feed(row)
    return out


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def newer(made: Made, number: int) -> Made:
    """Return a parcel that says that a newer version wrote it, with rows that no other has."""
    table = parquet.read_table(BytesIO(made.data))
    name = made.name._replace(first=900_000_000 + number, last=900_000_000 + number)
    metadata = {b"revival.schema": str(SCHEMA + 1).encode()}
    out = BytesIO()
    parquet.write_table(table.replace_schema_metadata(metadata), out)
    return Made(name, out.getvalue())
