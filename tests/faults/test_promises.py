"""Every fault of the list has a test with its id in the name; the guarantees name tests that exist; 20 kills."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]
ROOT = TESTS.parent
GUARANTEES = Path(__file__).parent / "guarantees.md"
FAULTS = {f"F{number:02}" for number in range(1, 88)}


def names() -> dict[str, set[str]]:
    """Test function -> the fault ids in its name."""
    found: dict[str, set[str]] = {}
    for path in sorted(TESTS.rglob("test_*.py")):
        for name in re.findall(r"^(?:async )?def (test_\w+)", path.read_text(), re.MULTILINE):
            found[name] = {part.upper() for part in name.split("_") if re.fullmatch(r"f\d\d", part)}
    return found


def test_every_fault_from_f01_to_f87_has_a_test() -> None:
    covered = set().union(*names().values())
    assert sorted(FAULTS - covered) == []


def test_every_fault_is_among_the_guarantees() -> None:
    tests = names()
    promised = [tests.get(name, set()) for name in re.findall(r"`(test_\w+)`", GUARANTEES.read_text())]
    assert sorted(FAULTS - set().union(*promised)) == []


def test_every_test_that_the_guarantees_name_exists() -> None:
    named = set(re.findall(r"`(test_\w+)`", GUARANTEES.read_text()))
    assert len(named) > 30
    assert sorted(named - names().keys()) == []


def test_every_promise_has_a_test() -> None:
    tables = re.findall(r"^\| promise \| test \|\n\|---\|---\|\n((?:\|.*\n)+)", GUARANTEES.read_text(), re.MULTILINE)
    promises = [line for table in tables for line in table.splitlines()]
    assert len(promises) > 30
    model = "| `Interlocked` in `tests/rules/safety/test_interlock_model.py` |"
    assert [line for line in promises if not re.search(r"\| `test_\w+`[^|]* \|$", line) and model not in line] == []
    assert "class Interlocked(RuleBasedStateMachine)" in (TESTS / "rules/safety/test_interlock_model.py").read_text()


def test_the_guarantees_are_found_from_the_readme() -> None:
    assert "(tests/faults/guarantees.md)" in (ROOT / "README.md").read_text()


def test_f48_f32_nothing_is_lost_doubled_or_forgotten_through_20_kills_of_the_whole_bridge() -> None:
    program = TESTS / "bench" / "kill_campaign.py"
    finished = subprocess.run(
        [sys.executable, str(program), "--kills", "20"],
        capture_output=True,
        text=True,
        timeout=280,
        cwd=ROOT,
        check=False,
    )
    assert finished.returncode == 0, finished.stdout + finished.stderr
    report = json.loads(finished.stdout.splitlines()[-1])
    assert report["kills"] == 20 and report["trips"] == 10
    assert (report["missing"], report["twice"], report["latches_lost"]) == (0, 0, 0)
