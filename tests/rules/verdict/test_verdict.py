"""The order of the verdict and its edges."""

from __future__ import annotations

from typing import Any

import pytest

from rules.verdict.judgement import CellReading, Evidence, cell_faults, judge, resting_fault

EVEN = (1.262, 1.265, 1.260)


def block(**known: Any) -> Any:
    return Evidence(**{"label": "N1", "cells": 3, "rated": 200.0, "gravities": EVEN, **known})


def test_the_four_bad_cells_of_the_1922_farm_lighting_battery_are_found() -> None:
    # O. A. Witte, The Automobile Storage Battery, 3rd ed. 1922: on a 10 A discharge sound cells 1.180-1.205 and
    # 1.95-1.98 V, three low ones as below and one reversed. The sound cells here are ours, inside those ranges.
    table = """1.190/1.97 1.205/1.98 1.180/1.95 1.150/1.75 1.195/1.96 1.200/1.97 1.185/1.95 1.130/1.70
               1.190/1.96 1.205/1.98 1.100/1.40 1.180/1.95 1.200/1.97 1.195/1.97 1.185/1.96 1.100/-0.4"""
    pairs = [pair.split("/") for pair in table.split()]
    cells = {str(n): CellReading(float(gravity), float(volts)) for n, (gravity, volts) in enumerate(pairs, start=1)}
    found = cell_faults(cells)
    assert list(found) == ["4", "8", "11", "16"]
    assert found["16"] == "reversed"
    assert found["4"] == "low: gravity 1.150 against 1.188, 1.75 V against 1.96 V"


def test_three_cells_are_needed_to_say_which_one_is_odd() -> None:
    with pytest.raises(ValueError, match="too few"):
        cell_faults({"1": CellReading(1.2), "2": CellReading(1.1)})


# Replace under 80 percent: US Bureau of Reclamation FIST 3-6; US Army TM 10-6140-200-14. The other edges: common
# practice, no source.
@pytest.mark.parametrize(
    ("known", "word"),
    [
        ({"capacity": 160.0}, "keep"),
        ({"capacity": 159.9}, "repeat"),
        ({"capacity": 159.9, "previous": 158.0}, "keep-derated"),
        ({"capacity": 100.0, "previous": 98.0}, "keep-derated"),
        ({"capacity": 99.9, "previous": 98.0}, "scrap"),
        ({"capacity": 120.0, "previous": 110.0}, "repeat"),
        ({"capacity": 120.0, "previous": 110.1}, "keep-derated"),
        ({"capacity": 120.0, "previous": 119.0, "gravity_rising": True}, "repeat"),
        ({"capacity": 190.0, "gravities": (1.265, 1.235, 1.260)}, "keep"),
        ({"capacity": 190.0, "gravities": (1.265, 1.234, 1.260)}, "repeat"),
        ({"capacity": 190.0, "gravities": (1.265, 1.215, 1.260)}, "repeat"),
        ({"capacity": 190.0, "gravities": (1.265, 1.214, 1.260)}, "scrap"),
        ({"capacity": 190.0, "faults": ("shorted cell 2",)}, "scrap"),
        ({"capacity": 190.0, "flagged": ("joint found hot",)}, "repeat"),
        ({"capacity": 190.0, "gravities": ()}, "repeat"),
        ({"capacity": 190.0, "resting": 4.2}, "scrap"),
        ({"capacity": 190.0, "resting": -6.1, "gravities": ()}, "scrap"),
        ({"capacity": None}, "repeat"),
        ({"capacity": 90.0, "at_least": True}, "repeat"),
        ({"capacity": 170.0, "at_least": True}, "keep"),
    ],
)
def test_scrap_then_keep_then_derated_then_repeat(known: Any, word: Any) -> None:
    verdict = judge(block(**known))
    assert verdict.word == word
    assert verdict.reasons and all(verdict.reasons)


def test_a_cold_test_is_judged_by_its_corrected_capacity() -> None:
    # IEC 60896-11, 0.006 per kelvin: 154 Ah at 15 degC counts as 81.9 percent of 200 Ah: the verdict flips.
    assert judge(block(capacity=154.0)).word == "repeat"
    assert judge(block(capacity=154.0 / (1 + 0.006 * (15 - 25)))).word == "keep"


def test_every_fault_is_told_not_only_the_first() -> None:
    verdict = judge(block(capacity=80.0, faults=("reversed cell 1",), gravities=(1.1, 1.26, 1.26)))
    assert len(verdict.reasons) == 3


def test_a_block_with_a_shorted_cell_rests_two_volts_low() -> None:
    # Workshop practice: a 12 V block with a shorted cell reads 10-10.8 V at rest, a 6 V block 4-4.3 V; no source.
    for cells, volts in ((6, 10.0), (6, 10.8), (3, 4.0), (3, 4.3)):
        assert "shorted" in (resting_fault(cells, volts, EVEN) or "")
    assert resting_fault(6, 12.3, EVEN) is None
    assert resting_fault(6, 10.0, ()) is None


def test_without_a_rated_capacity_there_is_no_verdict() -> None:
    with pytest.raises(ValueError, match="rated capacity"):
        judge(block(rated=0.0))
