"""`revival fleet judge` with a real Spark: the lines of a replay, and what is no parcel is told and left aside."""

from __future__ import annotations

import hashlib
import json
import pickle
import shutil
import sys
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

import pyarrow as pa
import pyarrow.dataset
import pyarrow.parquet as pq
import pytest

from bridge.cli import main
from bridge.commands.replay import recorded
from bridge.config import Loaded, compiled
from bridge.errors import UsageError
from bridge.fleet.read import MOST_ROWS, Aside, look
from bridge.fleet.session import java
from bridge.message import Message
from bridge.outlets.parcel_file import Store, content
from bridge.outlets.parcel_schema import Name, parse
from bridge.runtime.engine import Engine
from bridge.runtime.replayed import StateLines, event_line
from rules.events import Derived, Outcome
from tests.support.made_parcels import cabin_parcel, cabin_text, put
from tests.support.parcel_house import Cabin

DEMO = Path("bridge/demo/cabin.toml")
ROUND = Path("bridge/demo/round.jsonl.gz")
TWO_BANKS = Path("sample_messages/two-banks")
#: Messages of the round that reach its first charging.
ENOUGH = 450
#: The first message judged by the other cabin file, and messages in a parcel.
CHANGED, PARCEL = 301, 150


class Bomb:
    """Leaves a file where it is unpickled."""

    def __reduce__(self) -> tuple[Any, ...]:
        return open, (str(Path("/tmp") / "revival-unpickled"), "w")


class Valley(NamedTuple):
    """Several cabins, judged once."""

    folder: Path
    parcels: Path
    out: Path
    said: dict[str, Any]
    lines: dict[tuple[str, str, str], list[str]]


def messages() -> list[Message]:
    return [message for message in islice(recorded(ROUND), ENOUGH) if not message.topic.endswith("/set")]


def mistaken(cabin: Cabin) -> str:
    """The cabin file after somebody wrote the wrong unit for a probe, in the middle of a round."""
    tables = json.loads(cabin.text)
    probe = next(meter for meter in tables["bank"][0]["meter"] if meter.get("unit") == "degF")
    probe["unit"] = "degC"
    return json.dumps(tables, sort_keys=True)


def house(folder: Path, parcels: Path, site: str, **how: Any) -> Cabin:
    cabin = Cabin(DEMO, folder, site)
    cabin.live(messages())
    cabin.send(parcels, rows=PARCEL, **how)
    cabin.journal.close()
    return cabin


def of_messages(parcels: Path, site: str) -> list[Path]:
    return sorted((parcels / f"site={site}" / "table=message").rglob("*.parquet"))


def spoil(parcels: Path) -> None:
    """Everything that may lie among parcels and is none, or not yet."""
    first = of_messages(parcels, "tarn-hut")[0]
    name = parse(str(first.relative_to(parcels)))
    assert name is not None
    # Twice: the same rows under another name, as after a name that was made anew.
    rows = pq.read_table(pa.BufferReader(first.read_bytes())).slice(0, 100)
    again = name._replace(last=100)
    notes = {key: pq.read_metadata(first).metadata[f"revival.{key}".encode()].decode() for key in ("begins", "cabin")}
    columns = {key: rows[key].cast(pa.int64()) if key in ("at", "stamp") else rows[key] for key in rows.column_names}
    (parcels / again.place).write_bytes(content(again, columns, {"bridge": "0", "clock": 0, "after": 0, **notes}))
    # Half a file, an unfinished one, no Parquet at all, a foreign one, one of another site, one of a newer version.
    for site, number in (("torn-hut", 1), ("late-hut", 1)):
        victim = of_messages(parcels, site)[number]
        if site == "late-hut":
            victim.unlink()
        else:
            victim.write_bytes(victim.read_bytes()[: victim.stat().st_size // 2])
    (first.parent / f"_{first.name}").write_bytes(b"PAR1")
    beyond = name._replace(first=9_000, last=9_999)
    (parcels / beyond.place).write_bytes(pickle.dumps(Bomb()))
    foreign = name._replace(first=8_000, last=8_999)
    pq.write_table(rows.replace_schema_metadata(None), parcels / foreign.place)
    strange = parcels / "site=strange-hut" / "table=message" / first.parent.name
    strange.mkdir(parents=True)
    shutil.copy(first, strange / first.name)
    shutil.copy(first, strange / first.name.replace("tarn-hut", "strange-hut"))
    newer = name._replace(first=7_000, last=7_999)
    text = content(newer, columns, {"bridge": "9", "schema": 2})
    (parcels / newer.place).write_bytes(text)
    for site, text_of in (("hash-hut", "{}"), ("false-hut", json.dumps({"site": {"id": "tarn-hut"}, "bank": []}))):
        place = Name(site, "cabin", "2026-06-15", 1781510400, 0, 1781510400)
        told = hashlib.sha256(text_of.encode()).hexdigest() if site == "false-hut" else "0" * 64
        data = content(place, {"row": [0], "at": [0], "text": [text_of], "sha256": [told]}, {"bridge": "0"})
        Store(str(parcels)).put(place.folder, place.file, data)
    (parcels / "site=..").mkdir()
    put(parcels, cabin_parcel("mute-hut", cabin_text("mute-hut"), 1, 1_781_510_400.0))


@pytest.fixture(scope="module")
def valley(tmp_path_factory: pytest.TempPathFactory) -> Valley:
    folder = tmp_path_factory.mktemp("valley")
    parcels, out = folder / "parcels", folder / "out"
    for site in ("tarn-hut", "torn-hut", "late-hut"):
        house(folder, parcels, site)
    two = Cabin(TWO_BANKS / "cabin.toml", folder, "two-hut")
    two.live(recorded(TWO_BANKS / "messages.jsonl"))
    bomb = Message("cabin/shunt", pickle.dumps(Bomb()), two.now + 1.0)
    two.live([bomb, bomb._replace(topic=next(iter(two.engine.routes.live_topics)))])
    two.send(parcels)
    two.journal.close()
    changing = Cabin(DEMO, folder, "changing-hut")
    changing.live(messages()[: CHANGED - 1])
    changing.send(parcels, rows=PARCEL)
    changing.text, kept = mistaken(changing), changing.text
    changing.live(messages()[CHANGED - 1 :])
    outlet = changing.outlet(parcels, rows=PARCEL)
    outlet._since = CHANGED - 1  # as at the start after which the rest came
    changing.run(outlet)
    changing.journal.close()
    changing.text = kept
    spoil(parcels)
    words = ["fleet", "judge", "--parcels", str(parcels), "--out", str(out), "--engine", "local[1]", "--json"]
    with pytest.MonkeyPatch.context() as patch, (folder / "said.json").open("w+") as said:
        patch.setattr(sys, "stdout", said)
        assert main(words) == 0
        said.seek(0)
        told = json.loads(said.read())
    lines: dict[tuple[str, str, str], list[str]] = {}
    for table in ("state", "event"):
        rows = pyarrow.dataset.dataset(out / f"table={table}", exclude_invalid_files=True).to_table().to_pylist()
        for row in sorted(rows, key=lambda row: (row["site"], row["bank"], row["number"])):
            lines.setdefault((table, row["site"], row["bank"]), []).append(row["line"])
            assert row["number"] == len(lines[(table, row["site"], row["bank"])])
    return Valley(folder, parcels, out, told, lines)


def replayed(valley: Valley, site: str, config: Path) -> dict[str, list[str]]:
    """The lines of `revival replay` of what `revival export` writes of the same journal."""
    exported = valley.folder / f"{site}.jsonl"
    words = ["export", "--journal", str(valley.folder / f"{site}.db"), "--format", "messages", "--force"]
    assert main([*words, "--output", str(exported)]) == 0
    out = {table: valley.folder / f"{site}-{table}.jsonl" for table in ("state", "event")}
    words = ["replay", "--config", str(config), "--messages", str(exported), "--force"]
    assert main([*words, "--output", str(out["state"]), "--events", str(out["event"])]) == 0
    return {table: path.read_text().splitlines() for table, path in out.items()}


def test_what_is_judged_is_what_a_replay_writes_byte_for_byte(valley: Valley) -> None:
    whole = replayed(valley, "tarn-hut", DEMO)
    assert len(whole["state"]) > 30
    for table, lines in whole.items():
        assert valley.lines[(table, "tarn-hut", "north")] == lines


def test_each_of_two_banks_is_judged_as_in_the_replay_of_both(valley: Valley) -> None:
    site = "two-hut"
    whole = replayed(valley, site, TWO_BANKS / "cabin.toml")
    banks = {json.loads(line)["bank"] for line in whole["state"]}
    assert len(banks) == 2
    for table, lines in whole.items():
        for bank in banks:
            mine = [line for line in lines if json.loads(line)["bank"] == bank]
            assert valley.lines.get((table, site, bank), []) == mine


def test_a_cabin_file_that_changed_in_mid_round_judges_from_its_message_on(valley: Valley) -> None:
    first, second = changed_files(valley)
    out: dict[str, list[str]] = {"state": [], "event": []}
    states = StateLines()

    def carry(outcome: Outcome) -> None:
        if isinstance(outcome, Derived):
            line = states.line(outcome)
            out["state"] += [] if line is None else [line]
        else:
            out["event"].append(event_line(outcome))

    def engine(loaded: Loaded) -> Engine:
        return Engine(loaded.cabin.banks, loaded.routes, carry)

    before, after = engine(first), engine(second)
    for number, message in enumerate(messages(), 1):
        if number == CHANGED:
            before.advance(message.at)  # the site's clock has come to the first message of the new file
            after.memories.update(before.memories)
            after.resume(before.at)
        (before if number < CHANGED else after).accept(message)
    for table, lines in out.items():
        assert lines != valley.lines[(table, "tarn-hut", "north")]
        assert valley.lines[(table, "changing-hut", "north")] == lines


def changed_files(valley: Valley) -> tuple[Loaded, Loaded]:
    texts = [
        pq.read_table(pa.BufferReader(path.read_bytes()))["text"][0].as_py()
        for path in sorted((valley.parcels / "site=changing-hut" / "table=cabin").rglob("*.parquet"))
    ]
    first, second = (compiled(json.loads(text), Path("cabin")) for text in texts)
    return first, second


def test_what_is_no_parcel_or_not_yet_is_told_and_left_aside(valley: Valley) -> None:
    told = "\n".join(valley.said["told"])
    for words in (
        "table=message/day=2026-06-15/tarn-hut-message",
        "torn, or no Parquet file",
        "a foreign Parquet file",
        "written by a newer version (schema 2, known here: 1)",
        "of another place",
        "its place is none of a parcel",
        "waits: site=late-hut: messages 151 to 300 have not come yet",
        "waits: site=torn-hut: messages 151 to 300 have not come yet",
        "its cabin file is not what its hash says",
        "a cabin file in the parcels cannot be used",
        "site=hash-hut: no cabin file",
        "left aside: site=..: no site has such a name",
        "waits: site=mute-hut: its cabin file has come, and no messages yet",
    ):
        assert words in told
    assert not Path("/tmp/revival-unpickled").exists()
    assert {site for _, site, _ in valley.lines} == {
        "tarn-hut", "torn-hut", "late-hut", "changing-hut", "two-hut",
    }  # fmt: skip


def test_before_a_late_or_torn_parcel_all_is_judged_and_nothing_behind_it(valley: Valley) -> None:
    whole = valley.lines[("state", "tarn-hut", "north")]
    for site in ("torn-hut", "late-hut"):
        part = valley.lines[("state", site, "north")]
        assert 0 < len(part) < len(whole)
        assert part == whole[: len(part)]


def test_a_parcel_larger_than_any_bridge_makes_is_not_unpacked(tmp_path: Path) -> None:
    rows = MOST_ROWS + 1
    name = Name("tarn-hut", "event", "2026-06-15", 1781510400, 1, rows)
    columns: dict[str, Any] = {"row": range(1, rows + 1), "at": [0] * rows, "undated": [False] * rows}
    columns |= {key: [""] * rows for key in ("bank", "kind", "detail")}
    store = Store(str(tmp_path))
    store.put(name.folder, name.file, content(name, columns, {"bridge": "0"}))
    found = look(store, name.place, 0)
    assert isinstance(found, Aside) and "no bridge makes so large a parcel" in found.why


def test_rounds_have_the_columns_of_their_document(valley: Valley) -> None:
    rows = pyarrow.dataset.dataset(valley.out / "table=round").to_table().to_pylist()
    assert {row["site"] for row in rows} <= {site for _, site, _ in valley.lines}
    assert all(row["bank"] and row["begun"] > 1.7e9 and isinstance(row["moments"], str) for row in rows)


def test_a_judgement_is_not_written_over_another_or_among_parcels(
    valley: Valley, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["fleet", "judge", "--parcels", str(valley.parcels), "--out"]
    assert main([*words, str(valley.out)]) == 2
    assert "--force" in capsys.readouterr().err
    assert main([*words, str(valley.parcels / "out")]) == 2
    assert "among the parcels" in capsys.readouterr().err


def test_without_java_or_the_extra_it_ends_in_plain_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["fleet", "judge", "--parcels", str(tmp_path / "parcels"), "--out", str(tmp_path / "out")]
    assert main([*words, "--engine", "yarn"]) == 2
    assert "write local[*], local[2] or spark://host:7077" in capsys.readouterr().err
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("JAVA_HOME", raising=False)
    assert main(words) == 2
    assert "apt install openjdk-17-jre-headless" in capsys.readouterr().err
    old = tmp_path / "java"
    old.write_text("#!/bin/sh\necho 'openjdk version \"11.0.2\" 2019-01-15' >&2\n")
    old.chmod(0o755)
    with pytest.raises(UsageError, match="is 11: install Java 17"):
        java({"PATH": f"{tmp_path}:/bin"})
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyspark", None)
    assert main(words) == 2
    assert 'pyarrow, pyspark missing: install the extra "fleet"' in capsys.readouterr().err
