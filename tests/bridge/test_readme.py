"""What the README shows is what the program does: commands, snippets, links."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bridge.cli import COMMANDS, EXIT_CODES
from bridge.config import load

README = Path("README.md").read_text(encoding="utf-8")


def test_every_command_stands_in_the_readme_with_its_own_words() -> None:
    for name, summary in COMMANDS.items():
        assert f"| `{name}` | {summary} |" in README


def test_the_exit_codes_are_the_programs() -> None:
    assert EXIT_CODES.removeprefix("exit codes: ") in README


def test_every_link_into_the_repository_leads_somewhere() -> None:
    targets = re.findall(r"\]\(([^)]+)\)", README)
    assert targets
    for target in targets:
        if not target.startswith("http"):
            assert Path(target.split("#")[0]).exists(), target


def test_the_snippets_make_a_cabin_file_that_loads(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    snippets = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    meter, relay = (re.sub(r"^ +", "", snippet, flags=re.MULTILINE) for snippet in snippets)
    path = tmp_path / "cabin.toml"
    path.write_text(
        '[site]\nid = "tarn-hut"\n\n[[bank]]\nid = "north"\nstrings = 1\n'
        'blocks = { per_string = 4, cells = 3, capacity = "200 Ah" }\n\n'
        + meter
        + '\n[[bank.meter]]\ntopic = "cabin/probe"\nstyle = "plain"\nquantity = "electrolyte_temperature"\n'
        + 'unit = "degF"\nplaced = "cell"\n\n'
        + relay
    )
    loaded = load(path)
    assert loaded.cabin.relays[0].auto_off == 90.0
    assert loaded.routes.history_topics == ("cabin/shunt",)
