"""Parcels as they arrive, through Spark's structured streaming: every bank kept up to date, every row out exactly once.

Three things make the output the same whatever dies in between.

- **The waybill comes first.** What has arrived whole is written down in a numbered file, a waybill, with the moment by
  the centre's clock. One waybill is one batch, and a batch that is run again sees what it saw the first time.
- **The state store holds the banks** (RocksDB, one version a batch): `bridge.fleet.kept_bank`, by field names. Its
  timers run on the moments of the waybills.
- **Rows go into files named by batch and partition**, written whole and renamed, so a batch that is run again replaces
  its own files. Whoever reads the folder needs no log beside it.

Waybills and parcels are the truth; the checkpoint can be made again from them. Where a version of the state is lost,
the whole fold is run anew, and writes the same files.
"""

from __future__ import annotations

import fcntl
import json
import logging
import shutil
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import pyarrow as pa
import pyarrow.parquet as pq
from pyspark import TaskContext
from pyspark.errors import PySparkException
from pyspark.sql import Row
from pyspark.sql.streaming.stateful_processor import StatefulProcessor

from bridge.errors import CannotReachError, UsageError
from bridge.fleet import board, read
from bridge.fleet.cabin_word import CabinWord
from bridge.fleet.fold import COMPILED, FoldError, InRow
from bridge.fleet.kept_bank import Bank, Kept, Offer, Parcels, as_offer, from_text, to_text
from bridge.fleet.waybill import Desk
from bridge.outlets.parcel_file import Store
from bridge.outlets.parcel_schema import day_of

if TYPE_CHECKING:
    from pyspark.sql import DataFrame, SparkSession
    from pyspark.sql.streaming.query import StreamingQuery

log = logging.getLogger("revival.fleet")

#: Below the folder of the output: what `follow` keeps for itself.
OWN = "follow"
#: Partitions of the state: fixed when the output is begun, and the most workers that fold at a time.
PARTITIONS = 16
#: What comes out of the stream; `shown` is of the table `board` alone.
LINES = "table string, site string, bank string, number long, at double, line string"
OFFERS = "site string, bank string, offer string, arrived timestamp"
#: Rows of this name are for the board, not for a table.
SHOWN = "board"
_FILE = pa.schema(
    [("site", pa.string()), ("bank", pa.string()), ("number", pa.int64()), ("at", pa.float64()), ("line", pa.string())]
)
_LINES = pa.schema([("table", pa.string()), *_FILE])
CHANGED = "this parcel was whole when it came and is not any more; put it back as it was"
#: A batch is begun so often before its failure is told; a killed worker is none.
ATTEMPTS = 4
#: Said by Spark where a version of the state is not there or cannot be read.
LOST = ("CANNOT_LOAD_STATE_STORE", "STATE_STORE_", "FAILED_READ_FILE", "CHECKPOINT")
#: So much data of a state store is kept beside its newest version [versions].
CONFIGURATION = {
    "spark.sql.streaming.stateStore.providerClass": (
        "org.apache.spark.sql.execution.streaming.state.RocksDBStateStoreProvider"
    ),
    "spark.sql.streaming.stateStore.rocksdb.changelogCheckpointing.enabled": "true",
    # A batch for each waybill and no other: a batch that is run again has the number it had.
    "spark.sql.streaming.noDataMicroBatches.enabled": "false",
    "spark.sql.shuffle.partitions": str(PARTITIONS),
    "spark.sql.session.timeZone": "UTC",
}


@lru_cache(maxsize=8)
def opened(where: str) -> Parcels:
    """Return how a worker reads the store; cabin files stay in its memory."""
    store = Store(where)

    def rows(offer: Offer, topics: frozenset[str]) -> tuple[float, Iterator[InRow]]:
        parcel = read.look(store, offer.path, 0)
        if not isinstance(parcel, read.Parcel):
            raise FoldError(f"{offer.path}: {CHANGED}")
        return parcel.begins / 1000.0, inside(parcel, topics)

    def inside(parcel: read.Parcel, topics: frozenset[str]) -> Iterator[InRow]:
        asides: list[read.Aside] = []
        yield from read.messages(store, [parcel], topics, asides)
        if asides:
            raise FoldError(f"{parcel.name.place}: {CHANGED} ({asides[0].why})")

    @lru_cache(maxsize=COMPILED)
    def text(place: str) -> str:
        found = read.cabin_file(store, place, 0)
        if isinstance(found, read.Aside):
            raise FoldError(f"{place}: {CHANGED} ({found.why})")
        return found.text

    return Parcels(rows, text)


class Fold(StatefulProcessor):
    """One bank in the state store: text by field names, and the moment for which its timer is set."""

    def __init__(self, where: str) -> None:
        self._where = where

    def init(self, handle: Any) -> None:
        """Take the state of the partition; called by the worker."""
        self._handle = handle
        self._kept = handle.getValueState("bank", "kept string, timer long")

    def handleInputRows(self, key: Any, rows: Iterator[Row], timerValues: Any) -> Iterator[Row]:
        """Fold what a waybill offers this bank."""
        site, bank = key
        offers = [as_offer(json.loads(row.offer)) for row in rows if row.offer]
        if offers:
            yield from self._told(site, bank, lambda one: one.take(offers, offers[0].arrived))

    def handleExpiredTimer(self, key: Any, timerValues: Any, expiredTimerInfo: Any) -> Iterator[Row]:
        """Let time pass for a bank from which nothing came."""
        site, bank = key
        fired = expiredTimerInfo.getExpiryTimeInMs()
        yield from self._told(site, bank, lambda one: one.pass_time(fired / 1000.0), fired)

    def _told(self, site: str, bank: str, act: Callable[[Bank], None], fired: int = 0) -> Iterator[Row]:
        text, timer = self._kept.get() if self._kept.exists() else (None, None)
        one = Bank(site, bank, from_text(text) if text else Kept(), opened(self._where))
        act(one)
        kept, due = one.close(), one.due()
        if timer is not None and timer != fired:  # Spark takes away the one that fired
            self._handle.deleteTimer(timer)
        timer = None if due is None else int(due * 1000.0) + 1
        if timer is not None:
            self._handle.registerTimer(timer)
        self._kept.update((to_text(kept), timer))
        for row in one.out:
            yield Row(**row._asdict())
        shown = one.shown()
        if shown is not None:
            yield Row(table=SHOWN, site=site, bank=bank, number=0, at=kept.arrived_at, line=json.dumps(shown))

    def close(self) -> None:
        """Nothing to close."""


def write_rows(out: Path, batch: int) -> Callable[[Iterable[pa.RecordBatch]], Iterator[pa.RecordBatch]]:
    """Return what writes the rows of a partition, and passes on those for the board."""

    def write(batches: Iterable[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
        context = TaskContext.get()
        name = f"follow-{batch:08d}-{0 if context is None else context.partitionId():03d}.parquet"
        files: dict[tuple[str, str], list[dict[str, Any]]] = {}
        shown = []
        for taken in batches:
            for row in taken.to_pylist():
                if row["table"] == SHOWN:
                    shown.append(row)
                else:
                    files.setdefault((row["table"], day_of(row["at"])), []).append(row)
        for (table, date), rows in sorted(files.items()):
            rows.sort(key=lambda row: (row["site"], row["bank"], row["number"]))
            place = out / f"table={table}" / f"day={date}"
            place.mkdir(parents=True, exist_ok=True)
            new = place / f"_{name}"
            pq.write_table(pa.Table.from_pylist(rows, _FILE), new, compression="zstd")
            new.replace(place / name)
        yield pa.RecordBatch.from_pylist(shown, _LINES)

    return write


class Shown:
    """The banks as the board shows them, kept in one file: after every batch, before Spark counts it as done."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.banks: dict[str, dict[str, Any]] = {}

    def load(self) -> bool:
        """Read what was kept; False where there is nothing, or nothing that can be read."""
        try:
            self.banks = json.loads(self._path.read_text("utf-8"))
        except (OSError, ValueError):
            return False
        return True

    def take(self, rows: Iterable[Row], batch: int) -> None:
        """Keep what a batch told; the first one begins anew."""
        if batch == 0:
            self.banks = {}
        for row in rows:
            self.banks[f"{row.site}/{row.bank}"] = json.loads(row.line)
        board.put(self._path, json.dumps(self.banks, separators=(",", ":")))


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Hold the output for one process; a killed one lets go of it.

    Raises
    ------
    UsageError
        Another process writes there.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "lock").open("w") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise UsageError(
                f"{folder}: another `revival fleet follow` writes there; give this one its own --out"
            ) from None
        yield


class Follower:
    """The stream of one output folder.

    Parameters
    ----------
    spark : SparkSession
        With `CONFIGURATION`.
    where : str
        The store of the parcels, by the same name here and for every worker.
    out : Path
        The output; a folder that every worker reaches by this name.
    """

    def __init__(self, spark: SparkSession, where: str, out: Path) -> None:
        self._spark, self._where, self._out = spark, where, out.absolute()
        self._own = self._out / OWN
        self._checkpoint = self._own / "checkpoint"
        self._query: StreamingQuery | None = None
        self.desk = Desk(Store(where), self._own / "waybills")
        self.shown = Shown(self._own / "shown.json")
        if self._checkpoint.exists() and not self.shown.load():
            self._forget("what the board showed is lost")

    def step(self, now: float) -> int:
        """Take in what has arrived, wait until it is written, and return how many parcels banks were offered.

        Raises
        ------
        CannotReachError
            Spark gave up again and again; what it had written stays, and the next start goes on from there.
        """
        offers = self.desk.look(now)
        for attempt in range(1, ATTEMPTS + 1):
            try:
                self._run()
                return offers
            except PySparkException as error:
                why = in_short(error)
                if attempt == ATTEMPTS:
                    break
                if lost(error):
                    self._forget(why)
                else:
                    log.warning("%s: begun again from the last batch, because %s", self._out, why)
        raise CannotReachError(f"{self._out}: Spark gave up {ATTEMPTS} times, what is written stays: {why}")

    def _run(self) -> None:
        if self._query is None:
            self._query = self._start()
        try:
            self._query.processAllAvailable()
        except PySparkException:
            self._query.stop()
            self._query = None
            raise

    def _start(self) -> StreamingQuery:
        offers = (
            self._spark.readStream.schema(OFFERS)
            .option("maxFilesPerTrigger", 1)
            .option("maxFileAge", "36500d")
            .json(str(self._own / "waybills"))
            .withWatermark("arrived", "0 seconds")
        )
        rows = offers.groupBy("site", "bank").transformWithState(Fold(self._where), LINES, "append", "EventTime")

        def put(batch: DataFrame, number: int) -> None:
            self.shown.take(batch.mapInArrow(write_rows(self._out, number), LINES).collect(), number)

        return rows.writeStream.foreachBatch(put).option("checkpointLocation", str(self._checkpoint)).start()

    def _forget(self, why: str) -> None:
        """Begin anew from the waybills; the files that come out are the same."""
        log.warning("%s: folded anew from the first parcel, because %s", self._out, why)
        shutil.rmtree(self._checkpoint)

    def close(self) -> None:
        """Stop the stream between two batches."""
        if self._query is not None:
            self._query.stop()


def lost(error: Exception) -> bool:
    """Tell whether a version of the state is gone, or cannot be read."""
    return any(word in str(error) for word in LOST)


def in_short(error: Exception) -> str:
    """Return what went wrong in one line: our own words where a worker said them, else Spark's first."""
    lines = str(error).splitlines()
    return next((line for line in lines if "FoldError: " in line), lines[0] if lines else type(error).__name__)


class Turn(NamedTuple):
    """One turn of `follow`: parcels that were new, all banks, what is left aside (place -> why), and the page."""

    files: int
    banks: int
    refused: dict[str, str]
    page: Path


def follow(
    spark: SparkSession, where: str, out: Path, every: float, stop: Callable[[float], bool] | None
) -> Iterator[Turn]:
    """Follow a store and yield each turn that changed something; the board is written with every turn.

    Parameters
    ----------
    every : float
        Looks at the store lie so far apart [s].
    stop : callable or None
        Waits so many seconds and tells whether to end; None = end as soon as nothing new has come.

    Raises
    ------
    UsageError
        The output is another process's, or takes no files.
    CannotReachError
        Spark gave up.
    """
    with alone(out / OWN):
        follower, words = Follower(spark, where, out), CabinWord(out / OWN / "said.json")
        try:
            while True:
                now = time.time()
                offers = follower.step(now)
                desk = follower.desk
                files = desk.taken + words.hear(Store(where), desk.told, desk.watched)
                refused = {**words.asides, **desk.refused}
                banks = board.with_asides(words.over(follower.shown.banks), refused)
                asides = [{"name": place, "why": why} for place, why in sorted(refused.items())]
                text = board.document(banks, asides, now, 0.0 if stop is None else every)
                yield Turn(files, len(banks), refused, board.write(out, text))
                if not offers and (stop is None or stop(every)):
                    return
        finally:
            follower.close()
