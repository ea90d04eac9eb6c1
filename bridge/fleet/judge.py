"""`revival fleet judge`: every bank of every site folded from its first message, on Spark; nothing goes back.

One bank is one piece of work, and a worker reads its site's parcels itself: what travels between processes is a list
of names on the way out and lines on the way back, as Arrow tables. No message is shuffled, whatever there are of them.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from heapq import merge
from typing import TYPE_CHECKING, Any, NamedTuple

import pyarrow as pa

from bridge.errors import CannotReachError, UsageError
from bridge.fleet import read
from bridge.fleet.fold import BankFold, FoldError, OutRow, cabin
from bridge.fleet.round_row import COLUMNS, Notes, known, note, so_far
from bridge.outlets.parcel_file import Store

if TYPE_CHECKING:
    from pyspark.sql import DataFrame, SparkSession

#: A piece of work: all messages of a bank up to one of them.
_WORK = pa.schema(
    [("site", pa.string()), ("bank", pa.string()), ("journal", pa.int64()), ("row", pa.int64()), ("files", pa.int64())]
)
WORK = "site string, bank string, journal long, row long, files long"
#: What comes out of it: lines by table, and ``told`` for what was left aside or waits.
_LINES = pa.schema(
    [
        ("table", pa.string()),
        ("site", pa.string()),
        ("bank", pa.string()),
        ("number", pa.int64()),
        ("at", pa.float64()),
        ("line", pa.string()),
    ]
)
LINES = "table string, site string, bank string, number long, at double, line string"
#: Lines handed to Spark at once.
PIECE = 2000
#: Banks to one task at most: what is lost with a worker is folded again.
BANKS_A_TASK = 8
TOLD = "told"
#: So many sites are named where one is asked for that is none.
SHOWN = 20
#: Acts of people are not messages: rows of rounds take them from what the cabin kept of them.
ACTS = ("command", "test-end", "hand")


class Judged(NamedTuple):
    """What came of a judgement: how many sites, banks, and rows of each table, and what was left aside or waits."""

    sites: int
    banks: int
    rows: dict[str, int]
    told: tuple[str, ...]


def sites_of(parcels: str, sites: Iterable[str] = ()) -> list[str]:
    """Return the sites to judge: those that are named, or all there are.

    Raises
    ------
    UsageError
        There is nothing to judge.
    CannotReachError
        The store does not answer.
    """
    try:
        there = read.site_names(Store(parcels))
    except (OSError, ValueError) as error:
        raise CannotReachError(f"{parcels}: cannot be read ({error})") from None
    if not there:
        raise UsageError(f"{parcels}: holds no parcels: name the folder or store that [parcels] where names")
    names = sorted(set(sites))
    if strange := [name for name in names if name not in there]:
        raise UsageError(f"{parcels}: holds no site {', '.join(strange)}: there are {', '.join(there[:SHOWN])}")
    return names or there


def judge(spark: SparkSession, parcels: str, out: str, names: list[str]) -> Judged:
    """Fold every bank of these sites and write its lines below `out`, as ``table=state``, ``=event`` and ``=round``.

    Raises
    ------
    CannotReachError
        The store or the engine does not answer.
    """
    from pyspark.errors import PySparkException  # noqa: PLC0415  (only where Spark is)

    try:
        works = _survey(spark, parcels, names)
        told = [row["line"] for row in works if row["table"] == TOLD]
        told += [f"left aside: {aside.place}: {aside.why}" for aside in read.strange_folders(Store(parcels))]
        banks = [row for row in works if row["table"] != TOLD]
        rows = _fold(spark, parcels, out, banks, told)
    except PySparkException as error:
        first = (str(error).strip() or type(error).__name__).splitlines()[0]
        raise CannotReachError(f"Spark could not end the work: {first}") from None
    return Judged(len(names), len(banks), rows, tuple(sorted(set(told))))


def _survey(spark: SparkSession, parcels: str, names: list[str]) -> list[dict[str, Any]]:
    """Look every site over where it is read, and return its banks and what was left aside."""
    table = pa.table({"site": names})
    pieces = spark.createDataFrame(table).repartition(
        max(1, min(len(names), spark.sparkContext.defaultParallelism * 4))
    )
    found: list[dict[str, Any]] = pieces.mapInArrow(surveyor(parcels), LINES).toArrow().to_pylist()
    return found


def surveyor(parcels: str) -> Callable[[Iterable[pa.RecordBatch]], Iterator[pa.RecordBatch]]:
    """Return what looks sites over: a line for each bank, its number the last row and its time the journal."""

    def look(batches: Iterable[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
        store = Store(parcels)
        for batch in batches:
            for name in batch.column("site").to_pylist():
                rows = list(_of_site(store, name))
                if rows:
                    yield pa.RecordBatch.from_pylist([row._asdict() for row in rows], _LINES)

    return look


def _of_site(store: Store, name: str) -> Iterator[OutRow]:
    sites, asides = read.survey(store, name)
    for aside in asides:
        yield OutRow(TOLD, name, "", 0, 0.0, f"left aside: {aside.place}: {aside.why}")
    for site in sites:
        chain, waits = read.chain(site)
        if waits is not None:
            yield OutRow(TOLD, name, "", 0, 0.0, f"waits: site={name}: {waits.what}")
        elif not chain:
            yield OutRow(TOLD, name, "", 0, 0.0, f"waits: site={name}: its cabin file has come, and no messages yet")
        if chain:
            last = max((parcel.name.journal, parcel.name.last) for parcel in chain)
            for bank in site.banks:
                yield OutRow("bank", name, bank, last[1], float(last[0]), str(len(chain)))


def _fold(spark: SparkSession, parcels: str, out: str, banks: list[dict[str, Any]], told: list[str]) -> dict[str, int]:
    from pyspark.storagelevel import StorageLevel  # noqa: PLC0415  (only where Spark is)

    # The longest first, so that none is begun when all others are done.
    banks = sorted(banks, key=lambda row: (-int(row["line"]), row["site"], row["bank"]))
    columns = {
        "site": [row["site"] for row in banks],
        "bank": [row["bank"] for row in banks],
        "journal": [int(row["at"]) for row in banks],
        "row": [row["number"] for row in banks],
        "files": [int(row["line"]) for row in banks],
    }
    tasks = max(1, min(len(banks), max(spark.sparkContext.defaultParallelism, -(-len(banks) // BANKS_A_TASK))))
    works = spark.createDataFrame(pa.table(columns, schema=_WORK)).repartition(tasks)
    lines = works.mapInArrow(folder(parcels), LINES).persist(StorageLevel.DISK_ONLY)
    try:
        counts = {row["table"]: row["count"] for row in lines.groupBy("table").count().toArrow().to_pylist()}
        told += lines.filter(lines["table"] == TOLD).toArrow().column("line").to_pylist()
        for table in ("state", "event"):
            _write(lines.filter(lines["table"] == table).drop("table"), out, table)
        _write(_rounds(lines), out, "round")
    finally:
        lines.unpersist()
    return {table: int(counts.get(table, 0)) for table in ("state", "event", "round")}


def _write(rows: DataFrame, out: str, table: str) -> None:
    rows.write.mode("overwrite").option("compression", "zstd").parquet(f"{out}/table={table}")


def _rounds(lines: DataFrame) -> DataFrame:
    """Give rows of rounds their columns; tables in a row stay JSON text."""
    from pyspark.sql.functions import from_json  # noqa: PLC0415  (only where Spark is)

    kinds = ", ".join(f"{name} {'string' if kind == 'json' else kind}" for name, kind, _ in COLUMNS)
    rounds = lines.filter(lines["table"] == "round")
    return rounds.select(from_json(rounds["line"], kinds).alias("round")).select("round.*").coalesce(1)


def folder(parcels: str) -> Callable[[Iterable[pa.RecordBatch]], Iterator[pa.RecordBatch]]:
    """Return what folds banks: works in, lines out."""

    def fold(batches: Iterable[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
        store = Store(parcels)
        rows: list[OutRow] = []
        for batch in batches:
            for work in batch.to_pylist():
                for row in bank_lines(store, work["site"], work["bank"], (work["journal"], work["row"])):
                    rows.append(row)
                    if len(rows) >= PIECE:
                        yield _batch(rows)
                        rows.clear()
        if rows:
            yield _batch(rows)

    return fold


def _batch(rows: list[OutRow]) -> pa.RecordBatch:
    return pa.RecordBatch.from_pylist([row._asdict() for row in rows], _LINES)


def bank_lines(store: Store, name: str, bank: str, until: tuple[int, int]) -> Iterator[OutRow]:
    """Fold one bank over its site's parcels and yield its lines, then a row for each of its rounds.

    Parameters
    ----------
    until : tuple of int
        Journal and row that were last when the site was looked over: what came since is for the next judgement.
    """
    sites, _ = read.survey(store, name)
    for site in sites:
        chain, _ = read.chain(site)
        asides: list[read.Aside] = []
        parcels = [parcel for parcel in chain if (parcel.name.journal, parcel.name.last) <= until]
        rounds = _Rounds(name, bank, store, site)
        try:
            for row in _folded(store, site, bank, parcels, asides):
                yield row
                yield from rounds.take(row)
        except FoldError as error:
            yield OutRow(TOLD, name, bank, 0, 0.0, f"stopped: site={name} bank={bank}: {error}")
        yield from rounds.end()
        for aside in asides:
            yield OutRow(TOLD, name, bank, 0, 0.0, f"waits: {aside.place}: {aside.why}; nothing behind it is judged")


def _folded(
    store: Store, site: read.Site, bank: str, parcels: list[read.Parcel], asides: list[read.Aside]
) -> Iterator[OutRow]:
    fold = BankFold(site.site, bank)
    waiting = list(site.cabins)
    begins = read.begins(site)
    for row in read.messages(store, parcels, read.topics_of(site, bank), asides):
        while waiting and (waiting[0].journal, waiting[0].row) <= (row.journal, row.row):
            fold.configure(waiting.pop(0).text)
            yield from fold.passes(begins)
        yield from fold.feed(row)


class _Rounds:
    """Rows of a bank's rounds, worked out of its lines as they come, and of what people did there."""

    def __init__(self, site: str, bank: str, store: Store, where: read.Site) -> None:
        self._site, self._bank = site, bank
        self._notes = Notes()
        files = [cabin(each.text) for each in where.cabins]
        found = [file for file in files if bank in file.cabin.banks]
        made = [table.blocks.made for file in found for table in file.model.bank if table.id == bank]
        self._who = known(site, found[-1].cabin.banks[bank], made[-1]) if found else None
        acts = _acts(store, where, bank)
        self._acts = iter(acts)
        self._next = next(self._acts, None)
        self._at = 0.0

    def take(self, row: OutRow) -> Iterator[OutRow]:
        """Take one line in; a row when the next round begins."""
        while self._next is not None and float(self._next["t"]) <= row.at:
            yield from self._note(self._next)
            self._next = next(self._acts, None)
        self._at = row.at
        yield from self._note(json.loads(row.line))

    def end(self) -> Iterator[OutRow]:
        """Return the row of the round that is under way, or that nothing followed."""
        while self._next is not None:
            yield from self._note(self._next)
            self._next = next(self._acts, None)
        last = None if self._who is None else so_far(self._who, self._notes)
        if last is not None:
            yield self._row(last)

    def _note(self, line: dict[str, Any]) -> Iterator[OutRow]:
        if self._who is None:
            return
        self._notes, row = note(self._who, self._notes, line)
        if row is not None:
            yield self._row(row)

    def _row(self, row: dict[str, Any]) -> OutRow:
        text = json.dumps(row, separators=(",", ":"))
        return OutRow("round", self._site, self._bank, int(row["begun"]), self._at, text)


def _acts(store: Store, site: read.Site, bank: str) -> list[dict[str, Any]]:
    """Return what people did and measured at a bank, in order of time, as lines of events."""
    asides: list[read.Aside] = []

    def of(table: str) -> Iterator[dict[str, Any]]:
        seen = (0, 0)
        for parcel in site.parcels.get(table, ()):
            for batch in read.batches(store, parcel, asides):
                for row in batch.to_pylist():
                    kind = "hand" if table == "hand" else row["kind"]
                    if (parcel.name.journal, row["row"]) <= seen or row["undated"]:
                        continue
                    seen = (parcel.name.journal, row["row"])
                    if row["bank"] == bank and kind in ACTS and (detail := read.detail(row["detail"])) is not None:
                        yield {"t": row["at"].timestamp(), "bank": bank, "kind": kind, "detail": detail}

    return list(merge(*(sorted(of(table), key=_at) for table in ("event", "hand")), key=_at))


def _at(line: dict[str, Any]) -> float:
    return float(line["t"])
