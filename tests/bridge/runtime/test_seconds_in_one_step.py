"""An engine passes seconds in which no bank has anything due in one step, and says and remembers the same."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

import bridge.runtime.engine
from bridge.config import load
from bridge.message import Message
from bridge.runtime.engine import Engine
from rules.events import Command, Outcome
from rules.step import quiet_until
from tests.support.cabin import shunt, write_cabin

START = 1_795_590_000.0


def lived(folder: Path) -> tuple[list[Outcome], str, int]:
    """What came out of an hour and a half with meters that speak, pause and fall silent; the memory; seconds folded."""
    loaded = load(write_cabin(folder, 1))
    outcomes: list[Outcome] = []
    engine = Engine(loaded.cabin.banks, loaded.routes, outcomes.append)
    dice, at = random.Random(7), START
    engine.fold(Command("north", "boot", at, argument={"storage": "proved"}))
    for gap in [5.0] * 60 + [30.0] * 20 + [170.0, 1.5, 900.0, 5.0, 5.0, 61.0, 0.2, 2000.0, 5.0]:
        at += gap
        engine.accept(Message("cabin/shunt", shunt(at, 27.0 + dice.random(), 20.0).encode(), at))
        engine.accept(Message("cabin/probe", b"77.0", at))
    return outcomes, engine.snapshot("north"), len(outcomes)


def test_a_jump_over_quiet_seconds_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[float] = []

    def counted(memory: object) -> float:
        asked.append(quiet_until(memory))  # type: ignore[arg-type]
        return asked[-1]

    with monkeypatch.context() as patched:
        patched.setattr(bridge.runtime.engine, "quiet_until", counted)
        jumped = lived(tmp_path)
    jumps = len(asked)
    monkeypatch.setattr(bridge.runtime.engine, "quiet_until", lambda memory: 0.0)
    walked = lived(tmp_path)
    assert jumped == walked
    assert jumps < 1200, f"of 4000 seconds {jumps} were stopped at"
