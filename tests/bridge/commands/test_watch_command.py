"""`revival watch` in front of a real bridge: what status says, and the curves of the last day."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.commands.status import COMMANDS
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
    assert set(COMMANDS) - {"tripped"} <= set(FLAGS)
