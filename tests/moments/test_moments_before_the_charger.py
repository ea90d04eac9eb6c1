"""m15, m22 and m56: what plan, checklist and page say before the charger is switched on."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.cli import main
from bridge.config import load
from bridge.page.view import site_view
from bridge.settings import PageSettings
from tests.support.moments import HEAD


def cabin(folder: Path, *, blocks: int = 4, cells: int = 3, keys: str = "") -> Path:
    """A cabin file of one bank."""
    path = folder / "cabin.toml"
    path.write_text(HEAD.format(strings=1, blocks=blocks, cells=cells, capacity=200, keys=keys))
    return path


def planned(path: Path, capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """What `revival plan` prints, on one line."""
    main(["plan", "--config", str(path), *words])
    captured = capsys.readouterr()
    return " ".join((captured.out + captured.err).split())


@pytest.mark.parametrize(("blocks", "cells", "high"), [(4, 3, False), (2, 6, False), (8, 3, True), (4, 6, True)])
def test_m15_above_60_volts_plan_checklist_and_page_warn_of_the_shock(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], blocks: int, cells: int, high: bool
) -> None:
    path = cabin(tmp_path, blocks=blocks, cells=cells)
    said = planned(path, capsys)
    assert ("Above 60 V DC" in said) is high and ("rated for that DC voltage" in said) is high
    page = site_view(load(path).cabin, PageSettings("127.0.0.1", 8080))
    assert any("60 V DC" in line for line in page["cautions"]) is high
    assert any(key == "shock" and "fuses" in line for key, line in page["checklist"]) is high


@pytest.mark.parametrize("under", [1, 5, 12])
def test_m22_plates_above_the_level_stop_the_plan_and_no_time_is_negative(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], under: int
) -> None:
    said = planned(cabin(tmp_path), capsys, "--reserve", f"-{under} mm")
    assert f"the level lies {under} mm under the plates: cover the plates with distilled water first" in said
    assert "fill to the mark only at the end" in said
    assert "after -" not in said and " -1 h" not in said


@pytest.mark.parametrize(("cells", "usual", "flat"), [(3, 6.2, 0.1), (6, 12.4, 9.0)])
def test_m56_a_flat_block_among_sound_ones_is_taken_out_or_charged_alone_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], cells: int, usual: float, flat: float
) -> None:
    charger = f'chargers = [ {{ volts = "{32 * cells // 3} V", amps = "25 A" }} ]'
    path = cabin(tmp_path, cells=cells, keys=charger)
    measured = [f"A{n}={usual} V" for n in (1, 2, 3)] + [f"A4={flat} V"]
    said = planned(path, capsys, *[word for each in measured for word in ("--resting", each)])
    assert "one piece" not in said
    assert f"Take A4 ({flat:.2f} V) out of its string, or charge it alone first" in said
