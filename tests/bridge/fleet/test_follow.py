"""Parcels through the real engine: row for row what one fold gives, whatever is lost in between.

Expected rows come from the fold alone (`tests/bridge/fleet/test_fold.py` holds it against `revival replay`). What a
whole campaign of kills gave stands in `tests/bench/RESULTS.md`; it runs on demand (`tests/bench/fleet/`).
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pyarrow.dataset as datasets
import pytest

from bridge.errors import UsageError
from bridge.fleet import session
from bridge.fleet.follow import CONFIGURATION, OWN, Follower, alone
from tests.support.made_parcels import (
    Made,
    cabin_parcel,
    cabin_text,
    folded,
    message_parcels,
    put,
    round_messages,
    rows_of,
)

if TYPE_CHECKING:
    from pyspark.sql import SparkSession

NOW = 1_800_000_000.0
#: Messages of each cabin: small, because every batch costs the engine a second whatever is in it.
ENOUGH = 500
SITES = ("alm", "beck")


@pytest.fixture(scope="module")
def spark() -> Iterator[SparkSession]:
    with session.started("local[2]", {**CONFIGURATION, "spark.sql.shuffle.partitions": "2"}) as started:
        yield started


def rows_below(out: Path, table: str) -> list[tuple[str, int, str]]:
    """Rows of a table as anybody reads them, without a log of the engine's."""
    found = datasets.dataset(out / f"table={table}", partitioning="hive").to_table().to_pylist()
    return sorted((row["site"], row["number"], row["line"]) for row in found)


@pytest.mark.filterwarnings("ignore:PySpark does not yet fully support pandas:FutureWarning")
def test_what_dies_in_between_changes_no_row(
    spark: SparkSession, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    rows = rows_of(round_messages(ENOUGH))
    made: list[Made] = []
    for site in SITES:
        text = cabin_text(site)
        made += [cabin_parcel(site, text, 1, rows[0].at), *message_parcels(site, rows, [(1, text)], 0.2)]
    random.Random(3).shuffle(made)
    store, out = tmp_path / "store", tmp_path / "out"
    half = len(made) // 2

    follower = Follower(spark, str(store), out)
    for parcel in made[:half]:
        put(store, parcel)
    assert follower.step(NOW) > 0

    # The process dies after a batch has written its rows and before the engine has counted it as done.
    class Died(Exception):
        pass

    def die(*_: object) -> None:
        raise Died

    with monkeypatch.context() as dying:
        dying.setattr(follower.shown, "take", die)
        dying.setattr("bridge.fleet.follow.ATTEMPTS", 1)
        for parcel in made[half:-2]:
            put(store, parcel)
        with pytest.raises(Exception, match="gave up 1 times"):
            follower.step(NOW + 60.0)
    follower.close()

    # Meanwhile a version of the state is lost, with every change that led to it.
    gone = [path for path in (out / OWN / "checkpoint" / "state").rglob("1.*") if path.suffix in (".zip", ".changelog")]
    assert gone
    for path in gone:
        path.unlink()
    again = Follower(spark, str(store), out)
    for parcel in made[-2:]:
        put(store, parcel)
    again.step(NOW + 120.0)
    assert "folded anew from the first parcel" in caplog.text
    again.close()

    wanted = [row for site in SITES for row in folded(site, "north", rows, [(1, cabin_text(site))])]
    for table in ("state", "event"):
        told = sorted((row.site, row.number, row.line) for row in wanted if row.table == table)
        assert rows_below(out, table) == told
    shown = json.loads((out / OWN / "shown.json").read_text())
    assert sorted(shown) == ["alm/north", "beck/north"]
    assert {bank["heard_at"] for bank in shown.values()} == {rows[-1].at}


def test_an_output_is_one_process_s_and_lies_apart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with (
        alone(tmp_path / OWN),
        pytest.raises(UsageError, match="another `revival fleet follow` writes there"),
        alone(tmp_path / OWN),
    ):
        pass
    from bridge.cli import main

    words = ["fleet", "follow", "--parcels", str(tmp_path), "--out", str(tmp_path / "out")]
    assert main(words) == 2
    assert "lies among the parcels" in capsys.readouterr().err
