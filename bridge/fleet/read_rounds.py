"""Rows of rounds, read from the Parquet files that `revival fleet judge` writes."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from bridge.errors import UsageError
from bridge.fleet.round_row import COLUMNS

Row = dict[str, Any]
#: Without these a row is none.
NEEDED = (
    "site",
    "bank",
    "begun",
    "finished",
    "outcome",
    "whole",
    "seen_until",
    "capacity",
    "moments",
    "advice",
    "trips",
)
#: What names a round.
KEY = ("site", "bank", "begun")
#: A longer text comes from nowhere here [characters].
LONGEST = 2_000_000
#: What the lists in a row hold, and of which type each value is; the rest of an entry is not read.
ENTRIES: Mapping[str, Mapping[str, tuple[type, ...]]] = {
    "moments": {
        "moment": (str,), "stage": (str,), "hours": (int, float), "low": (int, float), "high": (int, float),
        "needed": (int, float, type(None)), "covered": (bool, type(None)), "reason": (str,), "left": (dict,),
    },
    "advice": {
        "words": (str,), "hours": (int, float), "act": (str,), "act_after": (int, float, type(None)), "befell": (str,),
    },
    "trips": {"hazard": (str,), "stage": (str,), "reset_after": (int, float, type(None))},
}  # fmt: skip


class Read(NamedTuple):
    """The newest row of each round, the files they came from, and how many rows were none."""

    rows: tuple[Row, ...]
    files: int
    refused: int


def read(where: Path) -> Read:
    """Return every round under a folder: Parquet files of the table ``round``, each round once, the newest row of it.

    Raises
    ------
    UsageError
        Nothing can be read there, or pyarrow is not installed.
    """
    if not where.exists():
        raise UsageError(f"{where}: there is no such folder: name the one that `revival fleet judge --out` wrote")
    files = [where] if where.is_file() else sorted(where.rglob("*.parquet"))
    found: dict[tuple[Any, ...], Row] = {}
    used = refused = 0
    for path in files:
        partitions = _partitions(path, where)
        if partitions.get("table", "round") != "round" or path.name.startswith(("_", ".")):
            continue
        used += 1
        for plain in _table(path):
            row = cleaned({**partitions, **plain})
            if row is None:
                refused += 1
                continue
            key = tuple(row[name] for name in KEY)
            if key not in found or row["seen_until"] >= found[key]["seen_until"]:
                found[key] = row
    if not used:
        raise UsageError(f"{where}: holds no rounds: name the folder that `revival fleet judge --out` wrote")
    return Read(tuple(found[key] for key in sorted(found)), used, refused)


def _partitions(path: Path, where: Path) -> dict[str, str]:
    parts = path.relative_to(where).parts[:-1] if path != where else ()
    return dict(part.split("=", 1) for part in (*where.parts[-3:], *parts) if part.count("=") == 1)


def _table(path: Path) -> Iterator[Mapping[str, Any]]:
    try:
        import pyarrow  # noqa: PLC0415  (the extra "fleet": only where rounds are read)
        from pyarrow import parquet  # noqa: PLC0415
    except ImportError:
        raise UsageError(
            "rounds are Parquet files: install the extra that reads them: pip install '.[fleet]'"
        ) from None
    try:
        with parquet.ParquetFile(path) as file:
            names = [name for name, _, _ in COLUMNS if name in file.schema_arrow.names]
            for batch in file.iter_batches(columns=names):
                yield from batch.to_pylist()
    except (OSError, pyarrow.ArrowException) as error:
        raise UsageError(f"{path}: is no Parquet file that can be read ({error}): move it away, judge anew") from None


def cleaned(plain: Mapping[str, Any]) -> Row | None:
    """Return the row with every column of its type, what is missing as null; None where it is no row.

    Rows come from many cabins: nothing in one may stop the report of the others.
    """
    row = {name: _value(kind, plain.get(name)) for name, kind, _ in COLUMNS}
    if any(row[name] is None for name in NEEDED) or row["capacity"] <= 0.0:
        return None
    for name, wanted in ENTRIES.items():
        if not isinstance(row[name], list) or not all(_entry(entry, wanted) for entry in row[name]):
            return None
    return row if row["verdicts"] is None or isinstance(row["verdicts"], dict) else None


def _value(kind: str, value: Any) -> Any:
    if value is None:
        return None
    if kind in ("double", "int"):
        real = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        return (float(value) if kind == "double" else int(value)) if real else None
    if kind == "boolean":
        return value if isinstance(value, bool) else None
    if not isinstance(value, str) or len(value) > LONGEST:
        return None
    if kind == "string":
        return value
    try:
        return json.loads(value)
    except (ValueError, RecursionError):
        return None


def _entry(entry: object, wanted: Mapping[str, tuple[type, ...]]) -> bool:
    if not isinstance(entry, dict):
        return False
    for name, types in wanted.items():
        value = entry.get(name)
        if not isinstance(value, types) or (isinstance(value, bool) and bool not in types):
            return False
        if isinstance(value, float) and not math.isfinite(value):
            return False
    left = entry.get("left", {})
    return isinstance(left, dict) and all(type(hours) in (int, float) for hours in left.values())
