"""`revival watch` in front of a real bridge: what status says, and the curves of the last day."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.commands.status import NOTED
from bridge.commands.watch import curves
from bridge.config import load
from bridge.journal.reader import Bucket
from rules.advice import FLAGS
from tests.support.brokers import wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.page_site import open_site


def test_the_running_bank_is_shown_with_its_answers_and_curves(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with open_site(tmp_path) as site:
        for _ in range(2):
            site.broker.publish("cabin/shunt", shunt(time.time(), 28.8, 4.0), "-q", "1")
        wait_until(lambda: "north" in site.service.latest and site.service.latest["north"].voltage is not None, 30.0)
        told = ""

        def drawn() -> bool:
            nonlocal told
            assert main(["watch", "--once", "--config", str(site.config)]) == 0
            told = " ".join(capsys.readouterr().out.replace("│", " ").split())
            return re.search(r"V per cell [▁▂▃▄▅▆▇█ ]+ [\d.]+ to 2\.400 in the last day", told) is not None

        wait_until(drawn, 60.0, "the newest volts per cell on the curve")
    assert "bridge: connected to the broker" in told
    assert "2.400 V per cell, 28.80 V, 4.0 A" in told


def test_without_a_bridge_it_says_how_to_start_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["watch", "--once", "--config", str(write_cabin(tmp_path, 1883, relay=False))]) == 4
    assert "start it with `revival run`" in capsys.readouterr().err


def test_every_flag_with_a_command_exists() -> None:
    assert set(NOTED) <= set(FLAGS)


class Kept:
    """A journal with one stretch of twenty minutes: 22 A for some of them, and warmer than now."""

    def __init__(self, _: Path) -> None: ...

    def __enter__(self) -> Kept:
        return self

    def __exit__(self, *_: object) -> None: ...

    def readings(self, *_: object) -> list[Bucket]:
        """What was rolled up."""
        return [Bucket(0.0, 25.2, 28.8, 27.0, 2.0, 22.0, 9.0, 40.0, 44.7, 42.0)]


CELSIUS = '\n[page]\ntemperature = "degC"\n'


def test_the_ends_of_a_curve_are_of_every_reading_and_of_now(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bridge.commands.watch.JournalReader", Kept)
    state = {"at": 1200.0, "voltage": 28.9, "current": 0.0, "temperature": 24.6}
    drawn = curves(load(write_cabin(tmp_path, 1883, relay=False, extra=CELSIUS)), {"banks": {"north": state}})["north"]
    assert [line.plain.split("  ")[-1] for line in drawn] == [
        "2.100 to 2.408 in the last day",
        "0.0 to 22.0 in the last day",
        "24.6 to 44.7 in the last day",
    ]
