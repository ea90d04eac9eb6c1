"""One bank folded in pieces gives what `revival replay` gives of the whole, byte for byte."""

from __future__ import annotations

import gzip
import json
from itertools import islice
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.commands.replay import recorded
from bridge.config import told
from bridge.fleet.fold import BankFold, FoldError, InRow, OutRow, topics
from bridge.message import Message
from bridge.outlets.parcel_schema import SiteClock

SAMPLES = Path("sample_messages")
ROUND = Path("bridge/demo/round.jsonl.gz")
#: So many messages of the round reach its first command, trip of the checklist and charging [1].
ENOUGH = 700


def cabin_text(config: Path) -> str:
    return json.dumps(told(config), sort_keys=True)


def rows(messages: list[Message]) -> list[InRow]:
    clock = SiteClock()
    return [
        InRow(1, number, message.topic, message.payload, *clock.take(message.at), message.retain)
        for number, message in enumerate(messages, 1)
    ]


def replayed(config: Path, messages: Path, folder: Path) -> dict[str, list[str]]:
    out = {table: folder / f"{table}.jsonl" for table in ("state", "event")}
    words = ["replay", "--config", str(config), "--messages", str(messages)]
    assert main([*words, "--output", str(out["state"]), "--events", str(out["event"])]) == 0
    return {table: path.read_text().splitlines() for table, path in out.items()}


def folded(text: str, site: str, bank: str, messages: list[InRow], piece: int) -> list[OutRow]:
    """Fold with everything forgotten but the snapshot after each piece."""
    fold = BankFold(site, bank)
    fold.configure(text)
    out = fold.passes(messages[0].clock)
    for number, row in enumerate(messages, 1):
        out += fold.feed(row)
        out += fold.feed(row)  # twice changes nothing
        if number % piece == 0:
            fold = BankFold(site, bank, fold.snapshot())
    return out + fold.passes(messages[-1].clock)


@pytest.mark.parametrize("sample", ["homie", "two-banks", "json-with-time", "hub-states"])
def test_a_fold_in_pieces_gives_the_lines_of_a_replay(sample: str, tmp_path: Path) -> None:
    config, messages = SAMPLES / sample / "cabin.toml", SAMPLES / sample / "messages.jsonl"
    whole = replayed(config, messages, tmp_path)
    text = cabin_text(config)
    for bank in topics(text):
        out = folded(text, str(told(config)["site"]["id"]), bank, rows(list(recorded(messages))), 7)  # type: ignore[index]
        for table, lines in whole.items():
            mine = [line for line in lines if json.loads(line)["bank"] == bank]
            assert [row.line for row in out if row.table == table] == mine
            assert [row.number for row in out if row.table == table] == list(range(1, len(mine) + 1))


def test_what_people_asked_in_a_recording_is_folded_as_in_the_replay(tmp_path: Path) -> None:
    part = tmp_path / "round.jsonl"
    with gzip.open(ROUND, "rb") as round_:
        part.write_bytes(b"".join(islice(round_, ENOUGH)))
    whole = replayed(Path("bridge/demo/cabin.toml"), part, tmp_path)
    out = folded(cabin_text(Path("bridge/demo/cabin.toml")), "tarn-hut", "north", rows(list(recorded(part))), 150)
    for table, lines in whole.items():
        assert [row.line for row in out if row.table == table] == lines
    assert '"name":"checklist"' in "".join(whole["event"])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"format": 99}, "a newer version kept this state"),
        ({"bank": "south"}, "is of tarn-hut/south"),
        ({"memory": "{"}, "cannot be read"),
    ],
)
def test_a_snapshot_that_does_not_fit_is_refused_in_words(change: dict[str, object], words: str) -> None:
    kept = json.loads(BankFold("tarn-hut", "north").snapshot()) | change
    with pytest.raises(FoldError, match=words):
        BankFold("tarn-hut", "north", json.dumps(kept))


def test_a_cabin_file_that_cannot_be_used_is_refused_in_words() -> None:
    with pytest.raises(FoldError, match=r"a cabin file in the parcels cannot be used: .*site = 3: must be a table"):
        topics('{"site": 3, "bank": []}')
