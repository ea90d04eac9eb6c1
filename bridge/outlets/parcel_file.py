"""One parcel as bytes: an Apache Parquet file of a few kilobytes, and where it is put."""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
from pyarrow.fs import FileSelector, FileSystem, FileType, LocalFileSystem

from bridge.outlets.parcel_schema import SCHEMA, TABLES, Name

_TYPES = {
    "int64": pa.int64(),
    "time": pa.timestamp("ms", "UTC"),
    "string": pa.string(),
    "binary": pa.binary(),
    "double": pa.float64(),
    "bool": pa.bool_(),
}
#: Of zstd. Higher costs a small computer seconds an hour for the last percent (`tests/bench/RESULTS.md`).
LEVEL = 9
#: What rises with the rows is kept as differences; what repeats, as places in a dictionary.
_DIFFERENCES = ("row", "at", "stamp", "voltage_mv", "charge_returned_mah", "water_used_mg")
_WORDS = ("payload", "detail", "other", "text")
#: What belongs to a file while it is written; readers pass over it.
UNFINISHED = "_"
#: Stores that show an object only when it is whole, and have no renaming.
_OBJECTS = frozenset(("s3", "gcs", "abfs"))


def schema(table: str) -> pa.Schema:
    """Return the columns of a table."""
    return pa.schema(
        [
            pa.field(column, _TYPES[kind.removesuffix("?")], nullable=kind.endswith("?"))
            for column, kind in TABLES[table].items()
        ]
    )


def content(name: Name, columns: dict[str, Sequence[Any]], notes: dict[str, object]) -> bytes:
    """Return a parcel of these columns; times in ms since the epoch.

    Parameters
    ----------
    name : Name
        Its place, which its own metadata repeats.
    columns : dict
        By name, all of one length.
    notes : dict
        More metadata: ``bridge``, and of messages ``begins`` and ``clock``.
    """
    told = {"schema": SCHEMA, "site": name.site, "table": name.table, "journal": name.journal}
    told |= {"first": name.first, "last": name.last, **notes}
    metadata = {f"revival.{key}": str(value) for key, value in told.items()}
    table = pa.table(columns, schema=schema(name.table))
    kinds = TABLES[name.table]
    differences = [column for column in kinds if column in _DIFFERENCES]
    plain = [column for column in kinds if column in _WORDS]
    sink = pa.BufferOutputStream()
    with pq.ParquetWriter(
        sink,
        table.schema,
        compression="zstd",
        compression_level=LEVEL,
        use_dictionary=[column for column in kinds if column not in differences and column not in plain],
        column_encoding=dict.fromkeys(differences, "DELTA_BINARY_PACKED"),
        write_statistics=False,
        store_schema=False,
        write_page_checksum=True,
    ) as writer:
        writer.add_key_value_metadata(metadata)  # that of a schema is left out with the schema
        writer.write_table(table)
    return bytes(sink.getvalue().to_pybytes())


class Store:
    """Where parcels are put: a folder, or what a URL of the library's filesystems names.

    Parameters
    ----------
    where : str
        A folder, or a URL such as ``s3://bucket/prefix?region=...``; who may write there is told to the library by its
        own environment, never here.

    Raises
    ------
    OSError, ValueError
        The library knows no such filesystem, or lacks what reaches it.
    """

    def __init__(self, where: str) -> None:
        if "://" in where:
            self.files, root = FileSystem.from_uri(where)
        else:
            self.files, root = LocalFileSystem(), str(Path(where).absolute())
        self.root = root.rstrip("/")
        self.local = isinstance(self.files, LocalFileSystem)

    def has(self, place: str) -> bool:
        """Tell whether a file is there, whole."""
        found = self.files.get_file_info(f"{self.root}/{place}")
        return bool(found.type == FileType.File and found.size)

    def put(self, folder: str, file: str, data: bytes) -> None:
        """Write a file so that it is there whole or not at all.

        Raises
        ------
        OSError
            The store does not take it.
        """
        if self.local:
            _put(Path(self.root) / folder, file, data)
            return
        direct = self.files.type_name in _OBJECTS
        if not direct:
            self.files.create_dir(f"{self.root}/{folder}", recursive=True)
        target = f"{self.root}/{folder}/{file}"
        written = target if direct else f"{self.root}/{folder}/{UNFINISHED}{file}"
        with self.files.open_output_stream(written) as stream:
            stream.write(data)
        if not direct:
            self.files.move(written, target)

    def folders(self) -> list[str]:
        """Return the names of the folders in it.

        Raises
        ------
        OSError
            The store does not answer.
        """
        found = self.files.get_file_info(FileSelector(self.root, allow_not_found=True))
        return sorted(entry.base_name for entry in found if entry.type == FileType.Directory)

    def below(self, folder: str = "") -> list[tuple[str, int]]:
        """Return place and size [bytes] of every file below a folder, in order of their names.

        Raises
        ------
        OSError
            The store does not answer.
        """
        selector = FileSelector(f"{self.root}/{folder}".rstrip("/"), recursive=True, allow_not_found=True)
        start = len(self.root) + 1
        return sorted(
            (found.path[start:], found.size or 0)
            for found in self.files.get_file_info(selector)
            if found.type == FileType.File
        )


def _put(folder: Path, file: str, data: bytes) -> None:
    """Write to a folder of this machine, or one that is mounted: on the disk before it has its name."""
    folder.mkdir(parents=True, exist_ok=True)
    unfinished = folder / f"{UNFINISHED}{file}"
    try:
        with unfinished.open("wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        unfinished.rename(folder / file)
    except OSError:
        with suppress(OSError):
            unfinished.unlink()
        raise
    with suppress(OSError):  # a file system that cannot name its folders
        entry = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(entry)
        finally:
            os.close(entry)
