"""Parcels of a real journal: read by pandas and pyarrow, sent once, caught up in order, and nothing secret in them."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import pandas
import pyarrow.dataset
import pyarrow.parquet as pq
import pytest

from bridge.commands.replay import recorded
from bridge.journal.reader import JournalReader
from bridge.message import Message
from bridge.outlets.parcel_file import Store
from bridge.outlets.parcel_schema import TABLES, parse
from tests.support.brokers import wait_until
from tests.support.parcel_house import Cabin

CABIN = Path("bridge/demo/cabin.toml")
ROUND = Path("bridge/demo/round.jsonl.gz")


@pytest.fixture(scope="module")
def messages() -> list[Message]:
    return [message for message in islice(recorded(ROUND), 500) if not message.topic.endswith("/set")]


@pytest.fixture(scope="module")
def sent(messages: list[Message], tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Cabin, Path]]:
    folder = tmp_path_factory.mktemp("cabin")
    cabin = Cabin(CABIN, folder)
    cabin.live(messages)
    cabin.send(folder / "parcels")
    yield cabin, folder / "parcels"
    cabin.journal.close()


def files(where: Path) -> dict[str, bytes]:
    return {str(path.relative_to(where)): path.read_bytes() for path in sorted(where.rglob("*")) if path.is_file()}


def test_pandas_reads_every_table_with_the_columns_of_the_document(sent: tuple[Cabin, Path]) -> None:
    document = Path("bridge/fleet/PARCELS.md").read_text()
    types = {"int64": "int64", "time": "timestamp[ms, UTC]", "string": "string", "binary": "binary"}
    types |= {"double": "double", "bool": "bool"}
    for table, columns in TABLES.items():
        for column, kind in columns.items():
            written = types[kind.removesuffix("?")] + (", may be null" if kind.endswith("?") else "")
            assert re.search(rf"^\| (`{table}`)? ?\| `{column}` \| {re.escape(written)} \|", document, re.MULTILINE)
    _, where = sent
    for table in ("message", "reading", "state", "event", "cabin"):
        frame = pandas.read_parquet(where / "site=tarn-hut" / f"table={table}")
        assert list(frame.columns)[: len(TABLES[table])] == list(TABLES[table])
        assert set(frame["day"].astype(str)) == {"2026-06-15"}
        assert str(frame["at"].dt.tz) == "UTC"


def test_what_is_in_them_is_what_the_journal_holds(sent: tuple[Cabin, Path], messages: list[Message]) -> None:
    cabin, where = sent
    rows = (
        pyarrow.dataset.dataset(where / "site=tarn-hut" / "table=message", partitioning="hive").to_table().to_pylist()
    )
    assert [(row["topic"], row["payload"], row["at"].timestamp()) for row in rows] == [
        (message.topic, message.payload, message.at) for message in messages
    ]
    frame = pandas.read_parquet(where / "site=tarn-hut" / "table=reading")
    with JournalReader(cabin.journal.path) as reader:
        kept = reader.after("reading", 0, 10_000)
    assert list(frame["voltage"].dropna()) == [row.values["voltage"] for row in kept if "voltage" in row.values]
    states = pandas.read_parquet(where / "site=tarn-hut" / "table=state")
    assert {"idle", "waking"} >= set(states["phase"]) and "not-started" in states["flags"].iloc[-1]


def test_sent_again_from_the_beginning_nothing_changes(sent: tuple[Cabin, Path]) -> None:
    cabin, where = sent
    before = files(where)
    assert all(parse(place) for place in before)
    kept = cabin.position()
    ahead = dict(kept["rows"])
    for table, rows in ahead.items():  # cut off after the file was put and before that was remembered
        name = next((name for place in before if (name := parse(place)) and name.table == table), None)
        if name is not None:
            kept["plans"].append([table, 0, rows, name.first, name.last, name.day])
        kept["rows"][table] = 0
    kept["clock"] = kept["begins"] = 0
    cabin.journal.advance("parcels", json.dumps(kept), at_once=True)
    wait_until(lambda: cabin.position() == kept)
    cabin.send(where)
    assert files(where) == before
    assert cabin.position()["rows"] == ahead


def test_weeks_without_a_link_are_caught_up_in_order_and_in_pieces(messages: list[Message], tmp_path: Path) -> None:
    cabin = Cabin(CABIN, tmp_path)
    blocked = tmp_path / "parcels"
    blocked.write_text("a file where the folder should be")
    outlet = cabin.outlet(blocked, tables=("message",), rows=60)
    outlet.start()
    wait_until(lambda: outlet.state == "unreachable")
    cabin.live(messages[:400])
    assert "NotADirectoryError" in outlet.words or "FileExistsError" in outlet.words
    blocked.unlink()
    wait_until(lambda: outlet.state == "up to date" and not outlet.backlog and outlet.files > 1)
    assert outlet.stop()
    cabin.journal.close()
    tables = [pq.read_table(blocked / place) for place in files(blocked) if "table=message" in place]
    assert [len(table) for table in tables] == [60] * 6 + [40]
    assert [row for table in tables for row in table["row"].to_pylist()] == list(range(1, 401))


def test_a_months_limit_holds_everything_back_until_the_next_month(messages: list[Message], tmp_path: Path) -> None:
    cabin = Cabin(CABIN, tmp_path)
    cabin.live(messages)
    outlet = cabin.outlet(tmp_path / "parcels", monthly=9000.0)
    outlet.start()
    wait_until(lambda: outlet.state == "month's limit reached")
    assert outlet.stop()
    assert 0 < sum(map(len, files(tmp_path / "parcels").values())) <= 9000
    assert "MB are used in 2026-06" in outlet.words
    cabin.now += 30 * 86400.0
    cabin.send(tmp_path / "parcels", monthly=90_000.0)
    cabin.journal.close()
    assert len(pandas.read_parquet(tmp_path / "parcels" / "site=tarn-hut" / "table=message")) == len(messages)


def test_no_more_than_one_file_of_a_table_in_a_stretch(messages: list[Message], tmp_path: Path) -> None:
    cabin = Cabin(CABIN, tmp_path)
    cabin.live(messages[:100])
    outlet = cabin.outlet(tmp_path / "parcels", every=3600.0, tables=("message",))
    outlet.start()
    wait_until(lambda: outlet.state == "up to date" and not outlet.backlog)
    cabin.live(messages[100:200])
    wait_until(lambda: outlet.backlog == 100)
    assert len([place for place in files(tmp_path / "parcels") if "table=message" in place]) == 1
    cabin.now += 3600.0
    wait_until(lambda: not outlet.backlog)
    assert outlet.stop()
    cabin.journal.close()
    assert len([place for place in files(tmp_path / "parcels") if "table=message" in place]) == 2


def test_any_filesystem_of_the_library_takes_them(tmp_path: Path) -> None:
    store = Store(f"file://{tmp_path}/store")
    store.put("site=a/table=b", "c.parquet", b"whole")
    assert store.has("site=a/table=b/c.parquet")
    assert store.below() == [("site=a/table=b/c.parquet", 5)]
