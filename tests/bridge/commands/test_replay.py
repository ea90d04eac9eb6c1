"""Recorded traffic through the same engine, offline: what comes out, the same each time, and after a restart."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.commands.replay import recorded
from bridge.config import load
from bridge.errors import UsageError
from bridge.journal.snapshot import from_text
from bridge.message import Message
from bridge.outlets.homie import HomieOutlet
from bridge.runtime.engine import Engine
from rules.events import Derived, Event, Outcome

CABIN = Path("bridge/demo/cabin.toml")
ROUND = Path("sample_messages/rounds/tarn-hut-north-with-relay.jsonl.gz")
FIELDS = {
    "t", "bank", "phase", "interrupted", "remaining_hours", "remaining_low", "remaining_high", "remaining_clock_hours",
    "remaining_reason", "flags", "charge_allowed", "tripped", "relay", "hold_hours", "charge_returned_ah",
    "volts_per_cell", "current_a", "temperature_c", "advice",
}  # fmt: skip


@pytest.fixture(scope="module")
def lines(tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, object]]:
    """The invented cabin's whole round, replayed once."""
    out = tmp_path_factory.mktemp("replay") / "derived.jsonl"
    assert main(["replay", "--config", str(CABIN), "--messages", str(ROUND), "--derived", str(out)]) == 0
    return [json.loads(line) for line in out.read_text().splitlines()]


def test_every_line_has_the_words_of_the_recording_format(lines: list[dict[str, object]]) -> None:
    assert all(set(line) == FIELDS for line in lines)


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
    assert "none.jsonl" in capsys.readouterr().err
