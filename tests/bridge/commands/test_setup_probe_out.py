"""A thermometer that is dead or gone is taken out of the file by one answer."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from bridge.cli import main

FILE = """
[site]
id = "shed"

[broker]
host = "127.0.0.1"
port = 1

[[bank]]
id = "north"
blocks = { per_string = 2, cells = 3, capacity = "200 Ah" }

[[bank.meter]]
topic = "shed/volts"
style = "plain"
quantity = "voltage"
unit = "V"

# the old one
[[bank.meter]]
topic = "shed/dead"
style = "plain"
quantity = "electrolyte_temperature"
unit = "degC"
placed = "cell"

# the new one
[[bank.meter]]
topic = "shed/new"
style = "plain"
quantity = "electrolyte_temperature"
unit = "degC"
placed = "case"
"""


def test_a_thermometer_is_taken_out_by_its_topic_and_the_others_stay(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    file.write_text(FILE)
    change = ["setup", "--output", str(file), "--yes", "--probe"]
    assert main([*change, "shed/none=no"]) == 2
    assert "no thermometer of north in the file; its own: shed/dead, shed/new" in capsys.readouterr().err
    assert main([*change, "shed/dead=no", "--probe", "shed/new=cell"]) == 0
    told = " ".join(capsys.readouterr().err.split())
    assert "shed/dead is taken out of the file: it counts no more" in told
    meters = tomllib.loads(file.read_text())["bank"][0]["meter"]
    assert [(meter["topic"], meter.get("placed")) for meter in meters] == [("shed/volts", None), ("shed/new", "cell")]
    assert "# the new one" in file.read_text()
