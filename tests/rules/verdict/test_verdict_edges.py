"""The verdict at its edges and just beside them, and the words in which it is given.

Replace under 80 percent: US Bureau of Reclamation FIST 3-6; a spread over 0.050 after equalising is a bad cell: US Army
TM 5-3895-349-14&P. The other edges: common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from rules.laws import rest_voltage
from rules.verdict.judgement import NOT_JUDGED, NOTHING_COUNTS, CellReading, Evidence, cell_faults, judge, resting_fault

EVEN = (1.262, 1.265, 1.260)


def block(**known: Any) -> Evidence:
    return Evidence(**{"label": "N1", "cells": 3, "rated": 200.0, "gravities": EVEN, **known})


def said(**known: Any) -> tuple[str, float | None, tuple[str, ...]]:
    verdict = judge(block(**known))
    return verdict.word, verdict.capacity, verdict.reasons


@pytest.mark.parametrize(
    ("gravity", "low"),
    [(1.270, False), (1.240, False), (1.230, False), (1.22996, False), (1.2299, True), (1.229, True), (1.150, True)],
)
def test_a_cell_thirty_points_under_the_middle_of_three_is_sound_and_one_below_that_stands_out(
    gravity: float, low: bool
) -> None:
    # A hydrometer is read to 0.001: what is less than a tenth of that is no difference.
    found = cell_faults({"1": CellReading(1.260), "2": CellReading(1.260), "3": CellReading(gravity)})
    assert found == ({"3": f"low: gravity {gravity:.3f} against 1.260"} if low else {})


@pytest.mark.parametrize(
    ("volts", "found"),
    [
        (1.97, ""),
        (1.77, ""),
        (1.76996, ""),
        (1.7699, "low: 1.77 V against 1.97 V"),
        (0.5, "low: 0.50 V against 1.97 V"),
        (0.0, "low: 0.00 V against 1.97 V"),
        (-0.01, "reversed"),
        (-1.9, "reversed"),
    ],
)
def test_a_cell_two_tenths_of_a_volt_under_the_middle_stands_out_and_a_negative_one_is_reversed(
    volts: float, found: str
) -> None:
    cells = {"1": CellReading(volts=1.97), "2": CellReading(volts=1.97), "3": CellReading(volts=volts)}
    assert cell_faults(cells) == ({"3": found} if found else {})


def test_a_cell_of_which_one_thing_was_read_is_compared_by_that_alone() -> None:
    cells = {"1": CellReading(1.26, 1.97), "2": CellReading(None, 1.50), "3": CellReading(1.20, None)}
    cells |= {"4": CellReading(1.26, 1.97), "5": CellReading(1.26, 1.97)}
    assert cell_faults(cells) == {"2": "low: 1.50 V against 1.97 V", "3": "low: gravity 1.200 against 1.260"}


@pytest.mark.parametrize(
    ("resting", "gravities", "what"),
    [
        (-0.01, (), "reversed: reads -0.01 V"),
        (-6.1, EVEN, "reversed: reads -6.10 V"),
        (0.0, (), None),
        (0.5, (), None),
        (0.5, EVEN, "shorted cell: rests at 0.50 V where its acid would give 6.32 V"),
    ],
)
def test_a_rested_block_is_reversed_below_nothing_and_shorted_below_what_its_acid_gives(
    resting: float, gravities: tuple[float, ...], what: str | None
) -> None:
    fault = resting_fault(3, resting, gravities)
    assert fault == what


@pytest.mark.parametrize(("cells", "gravity"), [(3, 1.26), (6, 1.26), (3, 1.15)])
def test_a_volt_and_a_half_is_missing_where_a_cell_gives_nothing(cells: int, gravity: float) -> None:
    expected = cells * rest_voltage(gravity)
    assert resting_fault(cells, expected - 1.5, [gravity] * cells) is None
    assert resting_fault(cells, expected - 1.51, [gravity] * cells) is not None
    assert resting_fault(cells, expected + 0.3, [gravity] * cells) is None


def test_acid_that_is_nearly_water_is_held_against_the_weakest_published() -> None:
    weakest = 3 * rest_voltage(1.035)
    assert resting_fault(3, weakest - 1.4, (1.0, 1.01, 1.02)) is None
    assert resting_fault(3, weakest - 1.6, (1.0, 1.01, 1.02)) is not None


def test_a_sound_block_is_kept_for_what_it_gave() -> None:
    assert said(capacity=162.0) == ("keep", 162.0, ("81 % of its rated 200 Ah, sound",))
    assert said(capacity=84.0, rated=105.5, cells=6) == ("repeat", 84.0, (
        "80 % of its rated 105.5 Ah: another round shows whether it gains",
    ))  # fmt: skip
    assert said(capacity=0.9, rated=1.0) == ("keep", 0.9, ("90 % of its rated 1 Ah, sound",))
    assert said(capacity=0.45, rated=0.5)[0] == "keep", "a small battery is judged like a large one"


def test_sound_capacity_with_a_doubt_is_a_reason_to_go_on_and_the_doubt_comes_first() -> None:
    assert said(capacity=190.0, flagged=("joint found hot",)) == (
        "repeat", 190.0, ("joint found hot", "95 % of its rated 200 Ah"),
    )  # fmt: skip
    assert said(capacity=190.0, gravities=()) == (
        "repeat", 190.0, ("no rested gravity of its cells yet", "95 % of its rated 200 Ah"),
    )  # fmt: skip
    assert said(capacity=190.0, gravities=(1.26, 1.225))[2][0] == (
        "gravity differs by 0.035 between its cells: equalise once more"
    )
    # A tenth of a point is nothing that anybody can read.
    assert said(capacity=190.0, gravities=(1.26004, 1.23))[0] == "keep"
    assert said(capacity=190.0, gravities=(1.2601, 1.23))[0] == "repeat"
    assert said(capacity=190.0, gravities=(1.26504, 1.215))[0] == "repeat"
    assert said(capacity=190.0, gravities=(1.2651, 1.215))[0] == "scrap"


def test_where_nothing_was_measured_nothing_is_judged_and_any_reading_is_a_beginning() -> None:
    assert said(gravities=())[:2] == (NOT_JUDGED, None)
    begun = ("repeat", None)
    assert said(gravities=EVEN)[:2] == begun
    assert said(gravities=(), resting=6.3)[:2] == begun
    assert said(gravities=(), resting=0.0)[:2] == begun
    assert said(gravities=(), flagged=("joint found hot",)) == (
        NOT_JUDGED, None, (NOTHING_COUNTS, "joint found hot"),
    )  # fmt: skip
    assert said(gravities=(), capacity=170.0)[:2] == ("repeat", 170.0)


@pytest.mark.parametrize(
    ("now", "before", "word", "reason"),
    [
        (120.0, 90.0, "repeat", "still gaining: 45 % before, 60 % of its rated 200 Ah now"),
        (120.0, 110.0, "repeat", "still gaining: 55 % before, 60 % of its rated 200 Ah now"),
        (120.0, 111.0, "keep-derated", "60 % of its rated 200 Ah and no longer gaining (56 % before): count on 120 Ah"),
        (150.0, 155.0, "keep-derated", "75 % of its rated 200 Ah and no longer gaining (78 % before): count on 150 Ah"),
        (150.0, 178.0, "keep-derated", "75 % of its rated 200 Ah and no longer gaining (89 % before): count on 150 Ah"),
    ],
)
def test_five_points_gained_in_a_round_ask_for_another_and_less_is_what_it_gives(
    now: float, before: float, word: str, reason: str
) -> None:
    assert said(capacity=now, previous=before) == (word, now, (reason,))


def test_what_no_longer_gains_is_not_kept_while_something_is_in_doubt() -> None:
    assert said(capacity=120.0, previous=119.0, flagged=("joint found hot",)) == (
        "repeat", 120.0, ("joint found hot", "60 % of its rated 200 Ah"),
    )  # fmt: skip
    assert said(capacity=120.0, previous=90.0, flagged=("joint found hot",))[2][1:] == ("joint found hot",)
    rising = said(capacity=120.0, previous=119.0, gravity_rising=True)
    assert rising == ("repeat", 120.0, ("still gaining: 60 % before, 60 % of its rated 200 Ah now",))


def test_a_lower_bound_says_why_and_counts_for_nothing() -> None:
    word, counts, reasons = said(capacity=90.0, at_least=True, because="until another block fell: test it alone")
    assert (word, counts) == ("repeat", None)
    assert reasons == ("gave 45 % of its rated 200 Ah until another block fell: test it alone",)
    assert said(capacity=30.0, at_least=True)[0] == "repeat", "it may have given more"
    assert said(capacity=98.8)[2] == ("gives 49 % of its rated 200 Ah, less than half",)
    assert said(capacity=120.0)[0] == "repeat" and "gave" not in said(capacity=120.0)[2][0], "tested to its end"
    assert said(capacity=60.0) == ("scrap", None, ("gives 30 % of its rated 200 Ah, less than half",))
