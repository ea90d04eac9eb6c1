"""`revival check` on a file with several mistakes: all that can be told at once, and none that only follows."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest

from bridge.cli import main
from tests.support.cabin import write_cabin

#: What is written, and what stands there instead: a slip of each kind that is told.
MISTAKES = {
    "site": ('id = "tarn-hut"', 'id = "Tarn Hut"'),
    "port": ("port = 9", "port = 99999"),
    "broker key": ("[broker]", '[broker]\nusr = "me"'),
    "secret": ("[broker]", '[broker]\npassword_file = "nowhere"'),
    "bank": ('id = "north"', 'id = "North Bank"'),
    "blocks": ("per_string = 4", "per_string = 0"),
    "labels": ('"N1", "N2"', '"N1", "N1"'),
    "charger": ('volts = "32 V"', 'volts = "32 W"'),
    "hold": ('starts = "at-voltage"', 'starts = "at-current"'),
    "limits": ("hold =", 'limits = { cell_voltage = "2.5 V" }\nhold ='),
    "limit": ("hold =", 'limits = { string_current = "30 K" }\nhold ='),
    "quantity": ('quantity = "voltage"', 'quantity = "volts"'),
    "unit": ('unit = "mV"', 'unit = "A"'),
    "pointer": ('pointer = "/dc/a"\n', ""),
    "unit gone": ('"current"\nunit = "A"\n', '"current"\n'),
    "degrees": ('unit = "degF"', 'unit = "F"'),
    "placed": ('placed = "cell"', 'placed = "lid"'),
    "meter topic": ('"cabin/probe"', '"cabin/+"'),
    "order": ('topic = "cabin/charger/set"', 'topic = "cabin/shunt"'),
    "auto off": ('auto_off = "90 s"', 'auto_off = "2 s"'),
    "words": ('allow = "ON"', 'allow = "OFF"'),
    "journal": ("[journal]", '[journal]\nkeep = "90 moons"'),
}


def told(folder: Path, capsys: pytest.CaptureFixture[str], *names: str) -> set[str]:
    """Return what `check` says of a file with these mistakes, a line each."""
    file = write_cabin(folder, 9)
    text = file.read_text()
    for name in names:
        right, wrong = MISTAKES[name]
        assert right in text, name
        text = text.replace(right, wrong, 1)
    file.write_text(text)
    assert main(["check", "--config", str(file)]) == 78
    *lines, count = capsys.readouterr().err.splitlines()
    assert count.startswith(f"{len(lines)} thing")
    return set(lines)


def _meets(first: str, second: str) -> bool:
    """Tell whether two slips stand in the same words, so that one file cannot have both."""
    (right, wrong), (other, _) = MISTAKES[first], MISTAKES[second]
    return other in right or right in other or (other in wrong and other not in right)


def test_of_any_two_mistakes_both_are_told_and_nothing_that_only_follows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    alone = {name: told(tmp_path, capsys, name) for name in MISTAKES}
    assert {name for name, lines in alone.items() if not lines} == set()
    bad, tried = [], 0
    for pair in combinations(MISTAKES, 2):
        if _meets(*pair):
            continue
        tried += 1
        both = told(tmp_path, capsys, *pair)
        lost = {name for name in pair if not both & _named(alone[name], pair)}
        more = both - _named(alone[pair[0]] | alone[pair[1]], pair)
        if (lost - HIDDEN.get(pair, set())) or more:
            bad.append((pair, lost, more))
    assert tried > 190
    assert not bad, "\n".join(map(str, bad))


def _named(lines: set[str], pair: tuple[str, ...]) -> set[str]:
    """Return lines also as they are where the other slip gives their bank or meter another name."""
    names = [('"north"', '"North Bank"')] if "bank" in pair else []
    names += [('"cabin/probe"', '"cabin/+"')] if "meter topic" in pair else []
    return lines | {line.replace(was, now) for line in lines for was, now in names}


#: What cannot be judged before the other slip is mended: labels of nobody knows how many blocks, a unit of what.
HIDDEN = {("blocks", "labels"): {"labels"}, ("quantity", "unit"): {"unit"}}


def test_three_lines_that_are_no_toml_are_told_each(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = write_cabin(tmp_path, 9)
    text = file.read_text().replace("port = 9", "port = 9x").replace('id = "north"', "id = north")
    file.write_text(text.replace("[journal]", "[journal"))
    assert main(["check", "--config", str(file)]) == 78
    said = capsys.readouterr().err
    where = [number for number, line in enumerate(file.read_text().split("\n"), 1) if line in WRONG]
    assert [f"line {number}: is not valid TOML" in said for number in where] == [True] * 3
    assert "3 things are wrong" in said and "The rest of the file is looked at once these lines are mended" in said


WRONG = {"port = 9x", "id = north", "[journal"}


@pytest.mark.parametrize("text", ["[bank]\n", "bank = 3\nsite = 4\n", "[[bank]]\nmeter = 3\n", "bank = [1, [2]]\n", ""])
def test_tables_that_are_none_are_told_and_end_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    (tmp_path / "cabin.toml").write_text(text)
    assert main(["check", "--config", str(tmp_path / "cabin.toml")]) == 78
    assert "wrong" in capsys.readouterr().err
