"""What rounds teach is told as counts with an interval, and one strange row stops no report."""

from __future__ import annotations

import argparse
import json
import math
from pathlib import Path
from typing import Any

import pyarrow
import pytest
from pyarrow import parquet

from bridge.commands import fleet_learn
from bridge.config import load
from bridge.errors import UsageError
from bridge.fleet.lessons import experience_of, part_ratios
from bridge.fleet.read_rounds import cleaned, read
from bridge.fleet.round_row import COLUMNS, Known, rows
from bridge.fleet.taught import by_class, taught, wilson
from tests.support.round_lines import Stage, played

TYPES = {
    "string": pyarrow.string(), "double": pyarrow.float64(), "int": pyarrow.int64(), "boolean": pyarrow.bool_(),
    "json": pyarrow.string(),
}  # fmt: skip
PARTS = "about 2.0 h bulk, 3.0 h until the charger is raised, 0.6 h climb before the 10 h hold"


def _row(
    bank: str = "north", site: str = "tarn-hut", bulk: float = 3.0, held: bool = True, **changes: Any
) -> dict[str, Any]:
    """The row of a round whose bulk was reckoned at 2 h, and its wait at 3.6 h."""
    stages = [
        Stage("reviving", 2.0),
        Stage("bulk", bulk, 15.6, reason=PARTS, advice="Wait for 4 h. Then look."),
        Stage("absorbing", 1.8, 13.6, reason="about 3.0 h until the charger is raised before the 10 h hold"),
        Stage("holding", 10.0, 10.0),
        Stage("resting", 0.5),
    ]
    states, events, _ = played(stages if held else stages[:2])
    (row,) = rows(Known(site, "north", 12, 400.0, "at-voltage", 10.0, (("N1",),), 2014), states, events)
    ended = {} if held else {"finished": True, "outcome": "abandoned"}
    return {**row, "bank": bank, **ended, **changes}


def _write(path: Path, found: list[dict[str, Any]], leave_out: tuple[str, ...] = ()) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    schema = pyarrow.schema([(name, TYPES[kind]) for name, kind, _ in COLUMNS if name not in leave_out])
    parquet.write_table(pyarrow.Table.from_pylist(found, schema=schema), path)


def _run(*words: str) -> int:
    parser = argparse.ArgumentParser()
    fleet_learn.add_arguments(parser)
    return fleet_learn.run(parser.parse_args(words))


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_gives_the_printed_intervals(count: int, of: int, low: float, high: float) -> None:
    # Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3 (from memory).
    share = wilson(count, of)
    assert [share.low, share.high] == pytest.approx([low, high], abs=6e-5)


def test_no_round_is_no_share_and_all_of_some_is_never_certain() -> None:
    assert wilson(0, 0)[1:] == (0, 0, 0.0, 1.0)
    assert 0.5 < wilson(5, 5).low < 0.6  # 5 of 5 may well be a little more than half


def test_classes_hold_their_lower_edge_and_what_nobody_knows() -> None:
    found: list[dict[str, Any]]
    found = [{"outcome": "held", "v": 1.8}, {"outcome": "abandoned", "v": 1.79}, {"outcome": "held", "v": None}]
    classes = by_class(found, lambda row: row["v"], (1.8, 2.0), "V")
    assert [(one.label, one.seen, one.of) for one in classes] == [
        ("under 1.8 V", 0, 1), ("1.8 to 2 V", 1, 1), ("2 V and more", 0, 0), ("not known", 1, 1),
    ]  # fmt: skip


def test_a_part_is_held_against_what_was_reckoned_without_experience() -> None:
    ratios = part_ratios(cleaned(_row()) or {})
    assert ratios == {"bulk": pytest.approx(1.5), "absorbing": pytest.approx(0.5)}
    moved = _row()
    moved["moments"] = moved["moments"].replace("10 h hold", "10 h hold; 9 earlier rounds make bulk 1.25 times as long")
    assert part_ratios(cleaned(moved) or {})["bulk"] == pytest.approx(1.875)


def test_only_rounds_that_held_from_a_begin_that_was_seen_teach_hours() -> None:
    told = [cleaned(row) or {} for row in (_row(), _row(held=False), _row(whole=False))]
    assert experience_of(told).rounds == 1


def test_lessons_are_geometric_means_and_few_rounds_are_never_all_alike() -> None:
    told = experience_of([cleaned(_row(bulk=hours)) or {} for hours in (2.0, 4.0)])
    bulk = {lesson.sort: lesson for lesson in told.lessons if lesson.part == "bulk"}
    assert bulk["any"].longer == pytest.approx(math.sqrt(2.0), abs=0.01)
    assert bulk["low"].rounds == 2
    assert bulk["any"].spread > math.log(2.0) / 2.0


def test_each_round_is_read_once_the_newest_row_of_it_and_other_tables_are_not(tmp_path: Path) -> None:
    older, newer = _row(seen_until=10.0, outcome="under-way", finished=False), _row()
    _write(tmp_path / "site=tarn-hut/table=round/day=2026-11-25/a.parquet", [newer], leave_out=("site",))
    _write(tmp_path / "site=tarn-hut/table=round/day=2026-11-25/b.parquet", [older], leave_out=("site",))
    parquet.write_table(pyarrow.table({"t": [1.0]}), tmp_path / "site=tarn-hut/c.parquet")
    (tmp_path / "site=tarn-hut/table=state").mkdir()
    (tmp_path / "site=tarn-hut/table=state/d.parquet").write_bytes(b"PAR1 torn")
    found = read(tmp_path)
    assert [row["outcome"] for row in found.rows] == ["held"]
    assert found.refused == 1  # a table without a table= of its own, and no row in it


@pytest.mark.parametrize(
    "changes",
    [
        {"moments": "[{}]"}, {"moments": '[{"moment":1}]'}, {"moments": "{"}, {"advice": "7"}, {"begun": math.nan},
        {"capacity": 0.0}, {"outcome": None}, {"verdicts": "[]"},
    ],
)  # fmt: skip
def test_what_is_no_row_is_left_out(changes: dict[str, Any]) -> None:
    assert cleaned(_row()) is not None
    assert cleaned({**_row(), **changes}) is None


def test_a_folder_without_rounds_and_a_torn_file_are_said(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="holds no rounds"):
        read(tmp_path)
    with pytest.raises(UsageError, match="no such folder"):
        read(tmp_path / "none")
    (tmp_path / "a.parquet").write_bytes(b"PAR1 torn")
    with pytest.raises(UsageError, match="no Parquet file that can be read"):
        read(tmp_path)


def test_report_json_and_experience_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    hostile = "<script>alert(1)</script>"
    trip = json.dumps([{"hazard": hostile, "stage": "bulk", "reset_after": None}])
    found = [
        _row("a", bulk=2.5),
        _row("b", trips=trip),
        _row("c", site=hostile, capacity_before=100.0, capacity_after=260.0),
    ]
    found += [_row("d", held=False), _row("e", held=False, volts_found=1.4)]
    _write(tmp_path / "rounds/a.parquet", found)
    out, experience = tmp_path / "report.html", tmp_path / "experience.toml"
    given = ("--rounds", str(tmp_path / "rounds"), "--out", str(out), "--experience", str(experience))
    assert _run(*given, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    volts = {one["label"]: one for one in told["revival"][0][1]}
    assert (volts["1.9 to 2 V"]["seen"], volts["1.9 to 2 V"]["of"]) == (3, 4)
    assert told["gains"] == [{"site": hostile, "bank": "c", "before": 0.25, "after": 0.65}]
    text = out.read_text("utf-8")
    assert "<script" not in text
    assert "3 of 4" in text
    assert "prefers-color-scheme" in text
    cabin = tmp_path / "cabin.toml"
    cabin.write_text(
        '[site]\nid = "tarn-hut"\n[experience]\nfile = "experience.toml"\n[[bank]]\nid = "north"\n'
        'blocks = { per_string = 4, cells = 3, capacity = "200 Ah" }\n',
        encoding="utf-8",
    )
    learned = taught(read(tmp_path / "rounds").rows).experience
    assert load(cabin).cabin.banks["north"].experience == learned
    assert learned.rounds == 3
    with pytest.raises(UsageError, match="--force"):
        _run(*given)


def test_nothing_held_is_nothing_to_learn_hours_from(tmp_path: Path) -> None:
    _write(tmp_path / "a.parquet", [_row(held=False)])
    with pytest.raises(UsageError, match="no round held"):
        _run("--rounds", str(tmp_path), "--experience", str(tmp_path / "x.toml"))
    with pytest.raises(UsageError, match="nothing to write"):
        _run("--rounds", str(tmp_path))
