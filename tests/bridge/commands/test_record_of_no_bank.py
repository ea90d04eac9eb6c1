"""`revival record` of a danger: asked back at a terminal, and never lost where it is misspelt or no bank is named."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.cli import main
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import write_cabin
from tests.support.running_bridge import turning

CELLAR = """
[[bank]]
id = "cellar"
strings = 1
blocks = {{ per_string = 2, cells = 6, capacity = "150 Ah", labels = ["C1", "C2"] }}
hold = {{ minimum = "16 h", maximum = "16 h", starts = "at-voltage" }}

[[bank.meter]]
topic = "cellar/volts"
quantity = "voltage"
unit = "V"

[journal]"""


def with_a_second_bank(folder: Path, port: int) -> Path:
    path = write_cabin(folder, port, relay=False)
    path.write_text(path.read_text().replace("\n[journal]", CELLAR.format()))
    return path


class Terminal:
    """A person who answers at the terminal, and what was asked."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.answers: list[str] = []
        self.asked: list[str] = []
        monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
        monkeypatch.setattr("builtins.input", self.ask)

    def ask(self, words: str) -> str:
        self.asked.append(words)
        return self.answers.pop(0)


def test_who_means_the_crack_has_noted_a_crack_and_who_does_not_keeps_the_words(
    make_broker: Callable[..., Broker],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = write_cabin(tmp_path, make_broker().port, relay=False)

    def record(*words: str) -> tuple[int, str]:
        code = main(["record", "seen", *words, "--config", str(path)])
        out, err = capsys.readouterr()
        return code, out + err

    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        code, said = record("crak in case N1")
        assert code == 5 and 'do you mean "crack in case N1"? If you do, say it so' in said
        assert "--sure keeps the words as they are" in said
        terminal = Terminal(monkeypatch)
        terminal.answers = ["n"]
        code, said = record("crak in case N1")
        assert code == 0 and "kept as words" in said
        assert terminal.asked[-1].startswith('north: Do you mean "crack in case N1"?')
        assert terminal.asked[-1].endswith("[Y/n] ")
        assert "case-damaged" not in [flag.name for flag in service.latest["north"].flags]
        for yes in ("", "y"):
            terminal.answers = [yes]
            code, said = record("crak in case N1")
            assert code == 0 and "seen noted: N1 crack in case N1" in said and "kept as words" not in said
            assert "case-damaged" in [flag.name for flag in service.latest["north"].flags]
        terminal.answers = ["y"]
        code, said = record("sprak at the post of N2")
        assert code == 0 and "Leave the room now" in said
        assert "danger-noted" in service.engine.memories["north"].interlock.latched


def test_a_danger_of_no_named_bank_is_noted_for_all_of_them_and_said_first_what_to_do(
    make_broker: Callable[..., Broker],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = with_a_second_bank(tmp_path, make_broker().port)

    def record(*words: str) -> tuple[int, str]:
        code = main(["record", *words, "--config", str(path)])
        out, err = capsys.readouterr()
        return code, out + err

    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)

        def tripped() -> list[str]:
            return [
                bank
                for bank in ("cellar", "north")
                if "danger-noted" in service.engine.memories[bank].interlock.latched
            ]

        for words in (["voltage", "25.1"], ["seen", "all well"], ["seen", "gassing"]):
            code, said = record(*words)
            assert code == 2 and "say which bank first: there are cellar, north" in said
        code, said = record("seen", "north", "gassing", "--bank", "cellar")
        assert code == 2 and "'north' in front of the values and --bank cellar are two banks: name one" in said
        assert record("seen", "north", "gassing", "--bank", "north")[0] == 0, "named twice is named"
        terminal = Terminal(monkeypatch)
        terminal.answers = ["cellar"]
        code, said = record("seen", "spark at post")
        assert code == 0 and tripped() == ["cellar"]
        assert said.startswith("Leave the room now: touch no switch in it")
        assert terminal.asked[-1].startswith("At which bank: cellar, north?")
        monkeypatch.undo()
        code, said = record("seen", "spark at post")
        assert code == 0 and tripped() == ["cellar", "north"]
        assert "Leave the room now" in said and "it is noted for cellar and north" in said
        assert "revival record seen --bank north --undo" in said


def test_a_danger_between_two_named_banks_is_noted_for_both(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = with_a_second_bank(tmp_path, make_broker().port)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        arguments = ["record", "seen", "north", "spark at post", "--bank", "cellar", "--config", str(path)]
        assert main(arguments) == 0
        assert "it is noted for north and cellar" in capsys.readouterr().out
        assert all("danger-noted" in service.engine.memories[bank].interlock.latched for bank in ("north", "cellar"))
