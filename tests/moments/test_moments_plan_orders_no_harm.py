"""Moments m82 and m84, and a plan that cannot order harm: through `revival plan` and a cabin file, as people use it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bridge.cli import main

CABIN = """
[site]
id = "tarn-hut"
[broker]
host = "127.0.0.1"
[[bank]]
id = "north"
strings = {strings}
blocks = {{ per_string = {blocks}, cells = 3, capacity = "200 Ah" }}
chargers = [ {chargers} ]
equalise = "{equalise} V"
limits = {{ cell_voltage = "{limit} V" }}
[[bank.meter]]
topic = "north/volts"
style = "plain"
quantity = "voltage"
unit = "V"
"""


def planned(
    folder: Path, capsys: pytest.CaptureFixture[str], chargers: str, *options: str,
    limit: float = 2.75, blocks: int = 4, strings: int = 1,
) -> tuple[int, str]:  # fmt: skip
    """Exit code and everything printed, in one line."""
    path = folder / "cabin.toml"
    equalise = min(2.67, round(limit - 0.005, 3))  # closer to the limit than the plan may go
    path.write_text(CABIN.format(chargers=chargers, limit=limit, blocks=blocks, strings=strings, equalise=equalise))
    code = main(["plan", "--config", str(path), *options])
    captured = capsys.readouterr()
    return code, " ".join((captured.out + captured.err).split())


@pytest.mark.parametrize(("volts", "limit", "blocks"), [(36, 2.75, 4), (18, 2.75, 2), (66.1, 2.70, 8)])
def test_a_charger_whose_lowest_setting_harms_is_refused_with_its_key(
    volts: float, limit: float, blocks: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = planned(tmp_path, capsys, f'{{ volts = "{volts} V", amps = "20 A" }}', limit=limit, blocks=blocks)
    assert code == 78
    assert "chargers: the lowest setting" in said and "limits.cell_voltage" in said


@pytest.mark.parametrize(("limit", "blocks"), [(2.75, 4), (2.50, 4), (2.45, 2), (2.60, 8)])
def test_no_set_point_is_ordered_above_the_limit_that_the_plan_knows(
    limit: float, blocks: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cells = 3 * blocks
    chargers = f'{{ volts = "{2.40 * cells} V", amps = "20 A" }}, {{ volts = "{2.70 * cells} V", amps = "10 A" }}'
    options = ("--resting-bank", f"{1.95 * cells} V", "--charger-start", "1 V", "--ambient", "20 degC")
    code, said = planned(tmp_path, capsys, chargers, *options, limit=limit, blocks=blocks)
    assert code == 0
    ordered = [float(found) for found in re.findall(r"(?:Set|raise to) (\d+\.\d) V", said)]
    assert len(ordered) == 2
    assert max(ordered) <= (limit - 0.01) * cells + 0.05


@pytest.mark.parametrize(
    ("charger", "why"),
    [
        ("old: 36 V 20 A from 2 V fixed", "cannot be set below 36 V"),
        ("big: 31 V 90 A from 2 V fixed", "cannot be set below 90 A"),
    ],
)
def test_a_charger_that_cannot_be_capped_stops_the_plan(
    charger: str, why: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    chargers = '{ volts = "29 V", amps = "20 A" }'
    code, said = planned(tmp_path, capsys, chargers, "--charger", charger, "--resting-bank", "23 V")
    assert code == 0 and "STOP: " in said and why in said
    assert not re.search(r"Set \d", said), "nothing is ordered of it"


@pytest.mark.parametrize("told", ["", "from 20 V"])
def test_m82_a_charger_without_a_start_voltage_is_asked_about_and_never_counted_as_0_v(
    told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = ("--charger", f"32 V 25 A {told}".strip(), "--resting-bank", "14 V")
    _, said = planned(tmp_path, capsys, '{ volts = "32 V", amps = "25 A" }', *options)
    asked = "the lowest bank voltage at which the charger starts, from its leaflet" in said
    assert asked == (not told)
    if told:
        assert "starts only at 20 V" in said
    assert "starts only at 0 V" not in said and "against 0 V" not in said


def test_m82_the_cabin_files_charger_is_asked_about_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ask = "the lowest bank voltage at which the charger starts"
    chargers = '{{ volts = "32 V", amps = "25 A"{} }}'
    assert ask in planned(tmp_path, capsys, chargers.format(""), "--resting-bank", "23 V")[1]
    with_start = chargers.format(', starts_at = "20 V"')
    assert ask not in planned(tmp_path, capsys, with_start, "--resting-bank", "23 V")[1]


@pytest.mark.parametrize(
    # Freezing points: US Army TM 5-1185 and OD1002 (1.150 at -15 degC, 1.200 at about -27 degC); 1.050 counts where no
    # gravity is known, about -3 degC by a printed maker's sheet.
    ("gravity", "freezes", "start"),
    # Under -20 degC nothing is charged, however strong its acid (common practice, no source).
    [(None, -3, 0), ("1.150", -15, -12), ("1.200", -27, -20), ("1.250", -52, -20)],
)
def test_m84_the_freezing_point_of_this_bank_is_said_in_words_with_the_start_temperature(
    gravity: str | None, freezes: int, start: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = ("--gravity", gravity) if gravity else ()
    _, said = planned(
        tmp_path, capsys, '{ volts = "32 V", amps = "25 A" }', "--resting-bank", "23 V", "--ambient", "5 degC", *options
    )
    found = re.search(r"freezes at about (-?\d+) °C .*?start it only from (-?\d+\.\d) °C on", said)
    assert found is not None
    assert int(found[1]) == pytest.approx(freezes, abs=1) and float(found[2]) == pytest.approx(start, abs=1)
    # The sheet and the step name one figure.
    assert re.search(rf"coldest for charging +{float(found[2]):g}(\.0+)? °C", said) is not None
    assert "thaws slowly in a warm room" in said


def test_the_plan_begins_with_its_cautions_and_says_once_what_is_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, said = planned(tmp_path, capsys, '{ volts = "32 V", amps = "25 A" }', "--resting-bank", "23 V", strings=2)
    assert said.index("Hydrogen: keep air moving") < said.index("Which bank first") < said.index("Bank north")
    assert said.count("Look in after 15 minutes") == 1 and said.count("Earth the charger's case") == 1
    # 0.336 g/Ah (Faraday) x 0.06 x 200 Ah x 24 h x 12 cells x 2 strings = 2.323 L, rounded up.
    assert "Have 2.33 L of distilled water at hand" in said
    assert "draw 20 A, about 480 W" in said, "C20 / 20 h of 400 Ah, at 2 V per cell"
