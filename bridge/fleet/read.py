"""Parcels read back: looked over before anything is believed, then rows in the order of the journal.

A parcel is data from somebody else. Its place is taken apart by one strict pattern, its own metadata must say the same,
columns have the documented types, and what does not fit is left aside with words. Nothing in it is executed or
unpickled, and no path is made of anything but the checked place.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import defaultdict
from collections.abc import Collection, Iterator
from typing import Any, NamedTuple

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from bridge.fleet.fold import FoldError, InRow, cabin, topics
from bridge.outlets.parcel_file import UNFINISHED, Store, schema
from bridge.outlets.parcel_schema import SCHEMA, TABLES, Name, SiteClock, parse

#: A parcel of a bridge is some hundred kilobytes; larger ones are not opened [bytes].
LARGEST = 64_000_000
#: A site's folder.
_SITE = re.compile(r"site=([a-z0-9](?:[a-z0-9-]{0,62}[a-z0-9])?)")
#: Of a number in a parcel's metadata.
DIGITS = 15
#: A bridge puts no more than a fifth of these into one [rows]; and what pages hold when they are unpacked [bytes].
MOST_ROWS, UNPACKED = 100_000, 256_000_000
#: Rows held at once while a parcel is read.
BATCH = 5000
#: Characters of a cabin file: two hundred banks of twenty meters.
LONGEST_CABIN = 4_000_000

#: Said of a site.
NO_CABIN = "no cabin file that can be used has come yet: its banks are not known"


class Aside(NamedTuple):
    """A file that was left aside, and why."""

    place: str
    why: str


class Parcel(NamedTuple):
    """One parcel that was looked over.

    Attributes
    ----------
    name : Name
        What its place says, and its own metadata too.
    size : int
        [bytes].
    rows : int
        In it.
    begins, clock : int
        Of messages: as documented [ms since the epoch].
    after : int
        Of messages: the row before which nothing is missing once the parcel that ends with it is there.
    cabin : str
        Of messages: hash of the newest cabin file sent before it, which it is not judged without.
    """

    name: Name
    size: int
    rows: int
    begins: int = 0
    clock: int = 0
    after: int = 0
    cabin: str = ""


class CabinFile(NamedTuple):
    """What a site's banks are judged by, from a message on."""

    journal: int
    row: int
    text: str

    @property
    def sha256(self) -> str:
        """Return the hash by which message parcels name it."""
        return hashlib.sha256(self.text.encode()).hexdigest()


class Site(NamedTuple):
    """Everything of one site that may be used.

    Attributes
    ----------
    cabins : tuple of CabinFile
        In the order in which they came into force.
    parcels : dict
        Table -> its parcels in the order of the journal, none holding rows of another.
    """

    site: str
    cabins: tuple[CabinFile, ...]
    parcels: dict[str, tuple[Parcel, ...]]

    @property
    def banks(self) -> tuple[str, ...]:
        """Return ids of all banks that any of the cabin files has."""
        return tuple(sorted({bank for each in self.cabins for bank in cabin(each.text).cabin.banks}))


def look(store: Store, place: str, size: int) -> Parcel | Aside | None:
    """Look one file over without reading its rows; None where it is an unfinished one, or no parcel by its ending."""
    last = place.rpartition("/")[2]
    hidden = last.startswith((UNFINISHED, ".")) and not last.startswith("..")
    if hidden or not last.endswith(".parquet"):
        return None
    name = parse(place)
    if name is None:
        return Aside(place, "its place is none of a parcel: site=/table=/day=/ and the name must agree")
    if size > LARGEST:
        return Aside(place, f"{size} bytes: no bridge makes so large a parcel")
    try:
        with store.files.open_input_file(f"{store.root}/{place}") as file:
            found = pq.ParquetFile(file, page_checksum_verification=True)
            return _fits(place, name, size, found.schema_arrow, found.metadata)
    except FileNotFoundError:
        return Aside(place, "gone while it was looked at")
    except (OSError, pa.ArrowException, ValueError) as error:
        return Aside(place, f"torn, or no Parquet file ({_one_line(error)})")


def _fits(place: str, name: Name, size: int, columns: pa.Schema, metadata: Any) -> Parcel | Aside:
    told = {
        key.decode("utf-8", "replace"): value.decode("utf-8", "replace")
        for key, value in (metadata.metadata or {}).items()
    }
    version = told.get("revival.schema", "")
    if not version.isdecimal() or len(version) > DIGITS:
        return Aside(place, "a foreign Parquet file: it does not say revival.schema")
    if int(version) > SCHEMA:
        return Aside(place, f"written by a newer version (schema {version}, known here: {SCHEMA}); use that version")
    said = [told.get(f"revival.{key}", "") for key in ("site", "table", "journal", "first", "last")]
    if said != [name.site, name.table, str(name.journal), str(name.first), str(name.last)]:
        return Aside(place, f"of another place: its metadata says {' '.join(said)!r:.200}")
    unpacked = sum(metadata.row_group(group).total_byte_size for group in range(metadata.num_row_groups))
    if metadata.num_rows > MOST_ROWS or unpacked > UNPACKED:
        return Aside(place, f"{metadata.num_rows} rows, {unpacked} bytes unpacked: no bridge makes so large a parcel")
    for field in schema(name.table):
        position = columns.get_field_index(field.name)
        if position < 0 and not field.nullable:
            return Aside(place, f"column {field.name} is missing")
        if position >= 0 and not _same(columns.field(position).type, field.type):
            return Aside(place, f"column {field.name} is {columns.field(position).type}, not {field.type}")
    numbers = [told.get(f"revival.{key}", "0") for key in ("begins", "clock", "after")]
    if not all(number.isdecimal() and len(number) <= DIGITS for number in numbers):
        return Aside(place, "revival.begins, revival.clock or revival.after is no number")
    first, clock, after = map(int, numbers)
    return Parcel(name, size, metadata.num_rows, first, clock, after, told.get("revival.cabin", ""))


def _same(found: pa.DataType, wanted: pa.DataType) -> bool:
    """Tell whether two types hold the same; a writer may keep words in a dictionary."""
    if pa.types.is_dictionary(found):
        found = found.value_type
    return bool(found.equals(wanted))


def site_names(store: Store) -> list[str]:
    """Return the sites that have a folder in a store; names that are none are passed over.

    Raises
    ------
    OSError
        The store does not answer.
    """
    names = [_SITE.fullmatch(folder) for folder in store.folders()]
    return sorted(name[1] for name in names if name is not None)


def strange_folders(store: Store) -> list[Aside]:
    """Return the folders that want to be a site's and have a name that no site has.

    Raises
    ------
    OSError
        The store does not answer.
    """
    named = [folder for folder in store.folders() if folder.startswith("site=") and not _SITE.fullmatch(folder)]
    return [Aside(folder, "no site has such a name: nothing in it is used") for folder in named]


def survey(store: Store, site: str = "") -> tuple[list[Site], list[Aside]]:
    """Return what a store holds of one site, or of all, and what was left aside.

    Only the ends of files are read.

    Raises
    ------
    OSError
        The store does not answer.
    """
    asides: list[Aside] = []
    found: dict[str, dict[str, list[Parcel]]] = defaultdict(lambda: defaultdict(list))
    for place, size in store.below(f"site={site}" if site else ""):
        parcel = look(store, place, size)
        if isinstance(parcel, Aside):
            asides.append(parcel)
        elif parcel is not None:
            found[parcel.name.site][parcel.name.table].append(parcel)
    whole = []
    for name, tables in sorted(found.items()):
        cabins, bad = _cabins(store, tables.pop("cabin", []))
        asides += bad
        ordered = {
            table: tuple(sorted(parcels, key=lambda each: (each.name.journal, each.name.first, -each.name.last)))
            for table, parcels in tables.items()
        }
        if cabins:
            whole.append(Site(name, cabins, ordered))
        else:
            asides.append(Aside(f"site={name}", NO_CABIN))
    return whole, asides


def _cabins(store: Store, parcels: list[Parcel]) -> tuple[tuple[CabinFile, ...], list[Aside]]:
    """Read cabin files: text that is what its hash says, of this site, and can be compiled."""
    cabins: list[CabinFile] = []
    asides: list[Aside] = []
    for parcel in sorted(parcels, key=lambda each: (each.name.journal, each.name.first, each.name.last)):
        rows = read(store, parcel, asides)
        for row in rows:
            why = _wrong(parcel.name, row)
            if why:
                asides.append(Aside(parcel.name.place, why))
            else:
                cabins.append(CabinFile(parcel.name.journal, parcel.name.first, row["text"]))
    return tuple(cabins), asides


def cabin_file(store: Store, place: str, size: int) -> CabinFile | Aside:
    """Return the cabin file of one parcel, or why it cannot be used."""
    parcel = look(store, place, size)
    if not isinstance(parcel, Parcel):
        return parcel or Aside(place, "no parcel")
    cabins, asides = _cabins(store, [parcel])
    return asides[0] if asides else cabins[0]


def _wrong(name: Name, row: dict[str, Any]) -> str:
    text = row["text"]
    if len(text) > LONGEST_CABIN:
        return "its cabin file is longer than any"
    if hashlib.sha256(text.encode()).hexdigest() != row["sha256"]:
        return "its cabin file is not what its hash says: changed, or damaged on the way"
    try:
        site = cabin(text).cabin.site
    except FoldError as error:
        return str(error)
    return "" if site == name.site else f"its cabin file is of another site, {site}"


def read(store: Store, parcel: Parcel, asides: list[Aside]) -> list[dict[str, Any]]:
    """Return all rows of a small parcel; nothing where it is torn inside, which is noted in `asides`."""
    rows: list[dict[str, Any]] = []
    for batch in batches(store, parcel, asides):
        rows += batch.to_pylist()
    return rows


def detail(text: str) -> dict[str, Any] | None:
    """Return the detail of an event; None where somebody else's file holds no table there."""
    try:
        told = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return told if isinstance(told, dict) else None


def batches(
    store: Store, parcel: Parcel, asides: list[Aside], columns: Collection[str] = ()
) -> Iterator[pa.RecordBatch]:
    """Yield the rows of a parcel, all of them or none: a page that is damaged is found before the first is used."""
    known = [name for name in TABLES[parcel.name.table] if not columns or name in columns]
    try:
        with store.files.open_input_file(f"{store.root}/{parcel.name.place}") as file:
            data = file.read()
        found = pq.ParquetFile(pa.BufferReader(data), page_checksum_verification=True)
        table = found.read(columns=[name for name in known if found.schema_arrow.get_field_index(name) >= 0])
        table.validate(full=True)
        numbers = table.column("row")
        if lacking := [name for name in table.column_names if _never_null(parcel.name.table, name, table)]:
            raise ValueError(f"nothing stands in {', '.join(lacking)} where something must")
        if not parcel.name.table == "cabin" and not _rising(numbers, parcel.name):
            raise ValueError("its rows do not rise from the first to the last that its name says")
    except (OSError, pa.ArrowException, ValueError) as error:
        asides.append(Aside(parcel.name.place, f"torn, or changed since ({_one_line(error)})"))
        return
    yield from table.to_batches(max_chunksize=BATCH)


def _never_null(table: str, column: str, rows: pa.Table) -> bool:
    return bool(not TABLES[table][column].endswith("?") and rows.column(column).null_count)


def _rising(numbers: pa.ChunkedArray, name: Name) -> bool:
    if len(numbers) == 0 or numbers.null_count:
        return False
    values = numbers.combine_chunks()
    ends = values[0].as_py(), values[-1].as_py()
    rises = len(values) == 1 or pc.min(pc.subtract(values[1:], values[:-1])).as_py() > 0
    return bool(rises and ends == (name.first, name.last))


class Waits(NamedTuple):
    """What of a site has not come yet, in words: what came after it is not judged before it does."""

    site: str
    what: str


def chain(site: Site) -> tuple[list[Parcel], Waits | None]:
    """Return message parcels up to the first that is missing, and what is waited for.

    A parcel tells which row the one before it ended with, so that rows a journal thinned are told from a late parcel.
    """
    whole: list[Parcel] = []
    known = {each.sha256 for each in site.cabins}
    journal = last = 0
    for parcel in site.parcels.get("message", ()):
        if parcel.name.journal != journal:
            journal, last = parcel.name.journal, 0
        if parcel.after > last:
            return whole, Waits(site.site, f"messages {last + 1} to {parcel.after} have not come yet")
        if parcel.cabin and parcel.cabin not in known:
            return whole, Waits(site.site, f"the cabin file for messages from {parcel.name.first} on has not come yet")
        whole.append(parcel)
        last = max(last, parcel.name.last)
    return whole, None


def messages(
    store: Store, parcels: Collection[Parcel], wanted: Collection[str], asides: list[Aside]
) -> Iterator[InRow]:
    """Yield messages on these topics from parcels of `chain`, in order and each once.

    A row that no clock ever dated is left out, since nobody knows when it was. A parcel that is damaged ends them all:
    what came after it waits until it is whole. The last row has no topic, so that time passes to the end.
    """
    seen = (0, 0)
    topics_wanted = pa.array(sorted(wanted), pa.string())
    clock = SiteClock()
    for parcel in parcels:
        clock = SiteClock(max(clock.at, parcel.clock / 1000.0))
        damaged = len(asides)
        for batch in batches(store, parcel, asides):
            mine = pc.is_in(batch.column("topic"), value_set=topics_wanted).to_pylist()
            numbers, times = batch.column("row").to_pylist(), batch.column("at").cast(pa.int64()).to_pylist()
            undated, retained = batch.column("undated").to_pylist(), batch.column("retained").to_pylist()
            words, payloads = batch.column("topic"), batch.column("payload")
            for place, (row, at) in enumerate(zip(numbers, times, strict=True)):
                if (parcel.name.journal, row) <= seen or undated[place]:
                    continue
                seen = (parcel.name.journal, row)
                arrived, passed = clock.take(at / 1000.0)
                if mine[place]:
                    yield InRow(*seen, words[place].as_py(), payloads[place].as_py(), arrived, passed, retained[place])
        if len(asides) > damaged:
            break
    if seen[0]:
        yield InRow(seen[0], seen[1] + 1, "", b"", clock.at, clock.at)


def begins(site: Site) -> float:
    """Return when the site's first message came [s since the epoch]; 0 where none is known."""
    return next((parcel.begins / 1000.0 for parcel in site.parcels.get("message", ()) if parcel.begins), 0.0)


def topics_of(site: Site, bank: str) -> frozenset[str]:
    """Return the topics that a bank is judged by, under any of its site's cabin files."""
    return frozenset(topic for each in site.cabins for topic in topics(each.text).get(bank, ()))


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split())[:200]
