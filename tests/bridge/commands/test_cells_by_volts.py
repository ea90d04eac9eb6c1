"""A file that the meters themselves contradict: what `revival check --connect` and `revival setup` make of it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge import config
from bridge.cli import main
from tests.support.brokers import Broker
from tests.support.small_shed import shed

#: A 24 V bank in its hold, as a monitor tells it that says everything in one document.
MONITOR = {"hut/monitor": lambda volts, amps: json.dumps({"U": 31.61, "I": round(amps, 2), "Ah": 5.41})}
FILE = """
[site]
id = "hut"

[broker]
host = "127.0.0.1"
port = {port}

[[bank]]
id = "north"
blocks = {{ per_string = 4, cells = {cells}, capacity = "200 Ah" }}

[[bank.meter]]
topic = "hut/monitor"
style = "json"
pointer = "{pointer}"
quantity = "voltage"
unit = "V"
"""


def written(folder: Path, port: int, pointer: str = "/U", cells: int = 3) -> Path:
    file = folder / "cabin.toml"
    file.write_text(FILE.format(port=port, pointer=pointer, cells=cells))
    return file


def checked(file: Path, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    code = main(["check", "--config", str(file), "--connect", "--wait", "3"])
    return code, " ".join(capsys.readouterr().out.split())


def test_a_bank_of_as_many_cells_as_its_volts_say_can_be_run(
    broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with shed(broker.port, meters=MONITOR):
        code, told = checked(written(tmp_path, broker.port), capsys)
    assert code == 0 and told.endswith("The file can be run.") and "each by the" not in told


def test_a_place_that_the_message_does_not_have_is_named_beside_those_it_has(
    broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with shed(broker.port, meters=MONITOR):
        code, told = checked(written(tmp_path, broker.port, "/V"), capsys)
    assert code == 4 and "can be run" not in told
    assert "/V is missing; there is /Ah, /I, /U" in told
    assert "correct its [[bank.meter]] with topic hut/monitor" in told


def test_ampere_hours_read_as_volts_are_no_volts_of_twelve_cells(
    broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with shed(broker.port, meters=MONITOR):
        code, told = checked(written(tmp_path, broker.port, "/Ah"), capsys)
    assert code == 78 and "can be run" not in told
    assert "cells of north: FAILED, 12 cells, 0.45 V each by the 5.4 V heard" in told


def test_twice_the_cells_is_said_before_every_limit_doubles_and_left_to_whoever_counts_them(
    broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with shed(broker.port, meters=MONITOR):
        code, told = checked(written(tmp_path, broker.port, cells=6), capsys)
    assert code == 0, "a nearly dead bank of 24 cells may show 31.6 V, and is what this is for"
    assert "look again: north has 24 cells, 1.32 V each by the 31.6 V heard: they are those of 12 cells" in told
    assert "The file can be run once its cells are counted" in told and "The file can be run." not in told


@pytest.mark.parametrize(("blocks", "each"), [("12", "36 cells, 0.88 V each"), ("3", "9 cells, 3.51 V each")])
def test_blocks_that_the_volts_rule_out_are_not_written_over_a_file_that_is_there(
    make_broker: Callable[..., Broker],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    blocks: str,
    each: str,
) -> None:
    broker = make_broker()
    file = written(tmp_path, broker.port)
    before = file.read_text()
    again = ["setup", "--output", str(file)]
    with shed(broker.port, meters=MONITOR):
        assert main([*again, "--blocks", blocks]) == 2
        told = " ".join(capsys.readouterr().err.split())
        assert each in told and f"--blocks '{blocks}'" in told and file.read_text() == before
        # what a dead bank may show is said, and taken
        assert main([*again, "--blocks", "6"]) == 0
        assert "18 cells, 1.76 V each by the 31.6 V heard" in " ".join(capsys.readouterr().err.split())
    assert config.load(file).cabin.banks["north"].cells == 18
    # where nothing is heard, that is said
    assert main([*again, "--seconds", "1", "--block", "4 V 300 Ah", "--blocks", "6"]) == 0
    assert "not held against the volts of north: its meter said nothing" in " ".join(capsys.readouterr().err.split())


PART = """
[[bank.meter]]
topic = "hut/part"
quantity = "{quantity}"
index = "{index}"
unit = "V"
"""


@pytest.mark.parametrize(
    ("quantity", "index", "volts", "code", "said"),
    [
        (
            "block_voltage",
            "A1",
            "12.70",
            78,
            "block A1 of north: FAILED, hut/part shows 12.7 V: for 3 cells 4.23 V each",
        ),
        (
            "cell_voltage",
            "A1.2",
            "6.30",
            78,
            "cell A1.2 of north: FAILED, hut/part shows 6.3 V, and no cell shows more",
        ),
        ("block_voltage", "A1", "2.10", 0, "look again: block A1 of north: hut/part shows 2.1 V, 0.70 V for each of 3"),
        ("block_voltage", "A1", "6.35", 0, "The file can be run."),
        ("cell_voltage", "A1.2", "-0.90", 0, "The file can be run."),
    ],
    ids=["two blocks as one", "a block as a cell", "a cell as a block", "a block", "a reversed cell"],
)
def test_volts_that_no_such_block_or_cell_shows_are_named_with_their_key_and_what_corrects_them(
    broker: Broker,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    quantity: str,
    index: str,
    volts: str,
    code: int,
    said: str,
) -> None:
    file = written(tmp_path, broker.port)
    file.write_text(file.read_text() + PART.format(quantity=quantity, index=index))
    with shed(broker.port, meters={**MONITOR, "hut/part": lambda _volts, _amps: volts}):
        ended, told = checked(file, capsys)
    assert (ended, said in told) == (code, True), told
    wrong = "can be run." not in told
    assert wrong == (code != 0 or "look again: block" in said)
    if code:
        assert f'[[bank.meter]] topic = "hut/part", index = "{index}" correct quantity' in told
