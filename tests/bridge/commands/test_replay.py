"""Recorded traffic through the same engine, offline: what comes out, the same each time, and after a restart."""

from __future__ import annotations

import contextlib
import gzip
import io
import json
import re
import sys
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

import pytest

from bridge.cli import main
from bridge.commands.replay import recorded
from bridge.config import load
from bridge.errors import UsageError
from bridge.journal.snapshot import from_text
from bridge.message import Message
from bridge.outlets.homie import HomieOutlet
from bridge.report.scored import Note, left, read_notebook, told
from bridge.runtime.engine import Engine
from rules.events import Derived, Event, Outcome

CABIN = Path("bridge/demo/cabin.toml")
NOTEBOOK = Path("sample_messages/rounds/tarn-hut-north/notebook.csv")
ROUND = Path("sample_messages/rounds/tarn-hut-north-with-relay.jsonl.gz")
FIELDS = {
    "t", "bank", "phase", "interrupted", "remaining_hours", "remaining_low", "remaining_high", "remaining_clock_hours",
    "remaining_clock_low", "remaining_clock_high", "remaining_reason", "flags", "charge_allowed", "tripped", "relay",
    "hold_hours", "charge_returned_ah", "volts_per_cell", "current_a", "temperature_c", "advice",
}  # fmt: skip


class Replayed(NamedTuple):
    """What one replay wrote: states, the table of its score, the picture of it."""

    lines: list[dict[str, object]]
    table: str
    picture: str


@pytest.fixture(scope="module")
def replayed(tmp_path_factory: pytest.TempPathFactory) -> Replayed:
    """The invented cabin's whole round, replayed and scored once."""
    out, drawn, printed = tmp_path_factory.mktemp("replay") / "derived.jsonl", "score.svg", io.StringIO()
    files = ["--config", str(CABIN), "--messages", str(ROUND), "--derived", str(out)]
    score = ["--score", str(NOTEBOOK), "--picture", str(out.with_name(drawn))]
    with contextlib.redirect_stdout(printed):
        assert main(["replay", *files, *score]) == 0
    states = [json.loads(line) for line in out.read_text().splitlines()]
    return Replayed(states, printed.getvalue(), out.with_name(drawn).read_text())


@pytest.fixture(scope="module")
def lines(replayed: Replayed) -> list[dict[str, object]]:
    """Its states."""
    return replayed.lines


def test_a_person_at_a_terminal_gets_a_summary_and_a_pipe_gets_lines(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    short = tmp_path / "short.jsonl"
    with gzip.open(ROUND, "rt") as lines:
        short.write_text("".join(line for line, _ in zip(lines, range(6000), strict=False)))
    words = ["replay", "--config", str(CABIN), str(short)]
    assert main(words) == 0
    piped = capsys.readouterr().out
    assert all(json.loads(line)["bank"] == "north" for line in piped.splitlines())
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    assert main([*words, "--json"]) == 0
    assert capsys.readouterr().out == piped
    assert main(words) == 0
    said = capsys.readouterr().out.splitlines()
    assert 4 <= len(said) <= 22 and said[0].startswith("bank north: ") and said[0].endswith(" h of record")
    assert any(line.startswith("  waking: ") for line in said) and any(line.startswith("  hold: ") for line in said)
    assert any("trip" in line for line in said) and said[-1].startswith("dropped: ")


def test_every_line_has_the_words_of_the_recording_format(lines: list[dict[str, object]]) -> None:
    assert all(set(line) == FIELDS for line in lines)


def test_a_notebook_scores_phase_hours_and_band_stage_by_stage(replayed: Replayed) -> None:
    """Phases read off volts and amps; the hold is a clock, so its hours must be right (common practice, no source)."""
    rows = {row.split()[0]: row.split()[1:] for row in replayed.table.splitlines()}
    assert rows["bank"] == ["north"]
    assert list(rows)[2:] == ["waking", "reviving", "bulk", "absorbing", "holding", "resting", "all"]
    assert float(rows["holding"][0]) == pytest.approx(19.6, abs=0.1)
    assert int(rows["all"][1]) >= 98
    assert all(int(rows[name][1]) >= 98 for name in list(rows)[3:-1])
    assert int(rows["holding"][3]) <= 2
    assert int(rows["holding"][5]) == 100
    assert rows["resting"][3:] == ["-", "-", "-", "-", "-"]


def test_the_picture_of_a_score_shows_both_phases_band_and_truth(replayed: Replayed) -> None:
    root = ElementTree.fromstring(replayed.picture)
    words = [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
    assert words.count("holding") == 2
    assert {"written", "said"} <= set(words)
    truth = [line for line in root.iter("{http://www.w3.org/2000/svg}polyline") if line.get("stroke-dasharray")]
    assert len(truth) == 1
    assert len(list(root.iter("{http://www.w3.org/2000/svg}polygon"))) >= 1


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("when,what\n", "the first line must be when,bank,what"),
        ("when,bank,what\nmonday,north,waking\n", "row 2: when = 'monday'"),
        ("when,bank,what\n2026-06-15T08:16,south,waking\n", "row 2: bank = 'south': the cabin file knows north"),
        ("when,bank,what\n2026-06-15T08:16,north,asleep\n", "row 2: what = 'asleep': write one of idle, waking"),
    ],
)
def test_a_notebook_that_cannot_be_read_names_row_value_and_fix(tmp_path: Path, text: str, wrong: str) -> None:
    path = tmp_path / "notebook.csv"
    path.write_text(text)
    with pytest.raises(UsageError, match=re.escape(wrong)):
        read_notebook(path, ["north"])


def test_charging_hours_left_leave_out_what_lies_between_off_and_on() -> None:
    notes = [Note(0.0, "n", "waking"), Note(3600.0, "n", "off"), Note(7200.0, "n", "on"), Note(36000.0, "n", "resting")]
    truth = told(notes, "n")
    assert left(truth, 1800.0) == (8.5, 9.5)
    assert left(truth, 5400.0) == (8.0, 8.5)
    assert left(truth, 36000.0) is None


def test_there_is_a_line_at_least_every_minute(lines: list[dict[str, object]]) -> None:
    times = [float(line["t"]) for line in lines]  # type: ignore[arg-type]
    assert max(after - before for before, after in pairwise(times)) <= 70.0


def test_the_round_goes_through_its_phases_in_order(lines: list[dict[str, object]]) -> None:
    phases = list(dict.fromkeys(str(line["phase"]) for line in lines))
    assert phases == ["idle", "waking", "reviving", "bulk", "absorbing", "holding", "resting"]


def test_the_hot_episode_trips_once_and_the_hold_ends_at_sixteen_hours(lines: list[dict[str, object]]) -> None:
    tripped = [bool(line["tripped"]) for line in lines]
    edges = sum(1 for before, after in pairwise(tripped) if after and not before)
    assert edges == 1
    assert max(float(line["hold_hours"]) for line in lines) == pytest.approx(16.0, abs=0.01)  # type: ignore[arg-type]
    assert not any(line["charge_allowed"] for line in lines if line["phase"] == "resting")


def engine_of(carry: list[Outcome]) -> tuple[Engine, HomieOutlet]:
    """An engine on the invented cabin that keeps what comes out."""
    loaded = load(CABIN)
    return Engine(loaded.cabin.banks, loaded.routes, carry.append), HomieOutlet(loaded.cabin, lambda *_, **__: None)


def take(engine: Engine, homie: HomieOutlet, message: Message) -> None:
    """As `replay` does."""
    if message.topic in homie.command_topics():
        told = homie.command(message, message.at)
        if told is not None and not isinstance(told, Event):
            engine.advance(told.at)
            engine.fold(told)
    else:
        engine.accept(message)


def test_a_restart_in_the_middle_changes_nothing() -> None:
    messages = [message for message, _ in zip(recorded(ROUND), range(24_000), strict=False)]
    whole: list[Outcome] = []
    engine, homie = engine_of(whole)
    for message in messages:
        take(engine, homie, message)

    broken: list[Outcome] = []
    first, homie = engine_of(broken)
    for message in messages[:19_000]:
        take(first, homie, message)
    second, homie = engine_of(broken)
    second.memories["north"] = from_text(first.snapshot("north")).memory
    second.advance(first.at)
    broken.clear()
    for message in messages[19_000:]:
        take(second, homie, message)

    assert second.memories["north"] == engine.memories["north"]
    tail = [outcome for outcome in whole if outcome.at > messages[19_000].at]
    assert [outcome for outcome in broken if outcome.at > messages[19_000].at] == tail


def test_the_same_traffic_gives_the_same_states() -> None:
    runs = []
    for _ in range(2):
        kept: list[Outcome] = []
        engine, homie = engine_of(kept)
        for message, _count in zip(recorded(ROUND), range(6000), strict=False):
            take(engine, homie, message)
        runs.append([outcome for outcome in kept if isinstance(outcome, Derived)])
    assert runs[0] == runs[1]


def test_a_line_that_is_no_message_is_named(tmp_path: Path) -> None:
    path = tmp_path / "broken.jsonl"
    path.write_text('{"t": 1, "topic": "a", "payload": "1", "retain": false}\n{"t": 2}\n')
    with pytest.raises(UsageError, match=r"broken\.jsonl, line 2"):
        list(recorded(path))


def test_a_missing_recording_is_a_usage_error(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", "--config", str(CABIN), "--messages", str(tmp_path / "none.jsonl")]) == 2
    assert main(["replay", "--config", str(CABIN), str(tmp_path / "none.jsonl")]) == 2, "the same, as run --fast has it"
    for words in ([], [str(ROUND), "--messages", str(ROUND)]):
        assert main(["replay", "--config", str(CABIN), *words]) == 2
    assert "none.jsonl" in capsys.readouterr().err


def test_a_replay_that_fails_leaves_nothing_behind(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "torn.jsonl").write_text('{"t": 1.0, "topic": "a", "payload": "b"}\nnonsense\n')
    words = ["replay", "--config", str(CABIN), "--messages", str(tmp_path / "torn.jsonl")]
    words += ["--output", str(tmp_path / "states.jsonl"), "--events", str(tmp_path / "events.jsonl")]
    for _ in range(2):  # and a second try needs no --force
        assert main(words) == 2
        assert "torn.jsonl, line 2: not a recorded message" in capsys.readouterr().err
        assert [path.name for path in tmp_path.iterdir()] == ["torn.jsonl"]
    assert main([*words[:-3], str(tmp_path / "nowhere" / "states.jsonl")]) == 2
    assert "cannot write" in capsys.readouterr().err
