"""What is taken, refused or asked about, at each limit and just beside it. Limits: common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from rules.bank.model import Bank, Block
from rules.events import HandReading
from rules.hand.checks import cells_at, check, doubt
from rules.hand.slips import strange_gravity

T = 1_795_590_000.0
HOUR = 3600.0
DAY = 86400.0
NORTH = Bank("north", (tuple(Block(f"N{n}", 3, 225.0) for n in range(1, 5)),), ac_voltage=120.0)
TWIN = Bank("south", tuple((Block(f"{name}1", 6, 150.0), Block(f"{name}2", 6, 150.0)) for name in "AB"))


def refused(kind: str, values: dict[str, Any], bank: Bank = NORTH, **more: Any) -> str:
    """In which words it is refused; empty where it is taken."""
    at = more.pop("at", T)
    try:
        check(bank, HandReading(bank.id, kind, at, T, values, **more))
    except ValueError as error:
        return str(error)
    return ""


@pytest.mark.parametrize(
    ("kind", "where", "lowest", "highest", "step"),
    [
        ("gravity", "N1.1", 1.0, 1.4, 0.001),
        ("voltage", "N1.1", -2.7, 3.5, 0.01),
        ("voltage", "N1", -8.1, 10.5, 0.01),
        ("voltage", "", -32.4, 42.0, 0.01),
        ("amps", "", -225.0, 225.0, 0.1),
        ("ac_amps", "", 0.0, 100.0, 0.1),
        ("temperature", "N1", -40.0, 80.0, 0.1),
        ("level", "N1.1", -100.0, 100.0, 0.1),
        # 15 g of acid for each rated Ah and cell.
        ("water", "N1.1", 0.0, 3375.0, 0.5),
        ("water", "N1", 0.0, 10125.0, 0.5),
        ("water", "", 0.0, 40500.0, 0.5),
        ("string_amps", "1", -225.0, 225.0, 0.1),
        ("charger", "volts", 0.0, 42.0, 0.1),
        ("charger", "amps", 0.0, 225.0, 0.1),
    ],
)
def test_a_number_is_taken_at_either_end_of_what_can_be_and_refused_beyond(
    kind: str, where: str, lowest: float, highest: float, step: float
) -> None:
    # Half a thousandth of slack: the product of limit and cells is no round number.
    inside = 1e-9
    assert refused(kind, {where: lowest + inside}) == refused(kind, {where: highest - inside}) == ""
    for value in (lowest - step, highest + step):
        why = refused(kind, {where: value})
        what = kind if kind == "charger" else f"{kind} of {where or 'the bank'}"
        assert why.startswith(f"{what}: ") and "is not between" in why


def test_in_parallel_each_string_has_its_own_capacity_and_the_bank_that_of_all() -> None:
    assert refused("amps", {"": 299.0}, TWIN) == "" and "300" in refused("amps", {"": 301.0}, TWIN)
    assert refused("string_amps", {"2": 149.0}, TWIN) == ""
    assert "between -150 A and 150 A" in refused("string_amps", {"2": 151.0}, TWIN)
    assert refused("water", {"": 2 * 12 * 2250.0}, TWIN) == "" and refused("water", {"": 2 * 12 * 2250.0 + 1.0}, TWIN)
    assert refused("water", {"A1": 6 * 2250.0}, TWIN) == "" and refused("water", {"A1": 6 * 2250.0 + 1.0}, TWIN)
    uneven = replace(TWIN, strings=(TWIN.strings[0], (Block("B1", 6, 100.0), Block("B2", 6, 100.0))))
    assert "between -100 A and 100 A" in refused("string_amps", {"1": 101.0}, uneven)


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"1": 10.0, "2": 12.0}, ""),
        ({"0": 10.0}, "no string '0': there are 1 to 2"),
        ({"3": 10.0}, "no string '3': there are 1 to 2"),
        ({"": 10.0}, "no string ''"),
        ({"A": 10.0}, "no string 'A'"),
        ({"1": "much"}, "neither a number nor one of no words"),
    ],
)
def test_clamp_readings_belong_to_a_string_that_there_is(values: dict[str, Any], why: str) -> None:
    said = refused("string_amps", values, TWIN)
    assert said.startswith(why) if why.startswith("no") else (why in said and bool(said) is bool(why))


def test_a_reading_may_be_sixty_days_old_and_no_older() -> None:
    assert refused("amps", {"": 1.0}, at=T + 60 * DAY) == ""
    assert refused("amps", {"": 1.0}, at=T + 60 * DAY + 1.0) == "taken 60 days ago: at most 60 days are accepted"
    assert refused("amps", {"": 1.0}, at=T + 400.503 * DAY).startswith("taken 401 days ago")


@pytest.mark.parametrize(
    ("degrees", "taken"), [(-40.0, True), (-40.1, False), (80.0, True), (80.1, False), (None, True)]
)
def test_the_temperature_beside_a_reading_must_be_possible_too(degrees: float | None, taken: bool) -> None:
    why = refused("gravity", {"N1.1": 1.25}, temperature=degrees)
    assert (why == "") is taken
    if not taken:
        assert why.startswith("temperature of the bank: ") and "degC" in why


def test_an_entry_says_something_or_is_refused_and_what_is_taken_back_says_nothing() -> None:
    assert refused("note", {}, note="looked in") == ""
    assert refused("note", {}) == "a note entry says nothing: give a value"
    assert refused("seen", {}, note="looked in") == "a seen entry says nothing: give a value"
    assert refused("gravity", {}, undo=True) == "" and refused("gravity", {"": 9.0}, undo=True) == ""


@pytest.mark.parametrize(
    ("kind", "words", "taken"),
    [
        ("gravity", "low", True), ("gravity", "high", True), ("gravity", "none", True), ("gravity", "full", False),
        ("level", "at-plates", True), ("level", "low", False),
        ("water", "full", True), ("water", "some", False),
        ("seen", "whatever I saw", True), ("note", "anything", True), ("voltage", "high", False),
        ("seen", "sulfated 4", True), ("seen", "sulfated 5", False), ("seen", "clean", True),
    ],
)  # fmt: skip
def test_each_kind_has_its_own_words(kind: str, words: str, taken: bool) -> None:
    assert (refused(kind, {"N1.1": words}) == "") is taken


def test_a_place_that_there_is_not_is_refused_with_the_nearest_that_there_is() -> None:
    assert refused("voltage", {"N1.7": 2.0}) == "there is no 'N1.7': N1 has cells 1 to 3, N1.1 to N1.3"
    assert refused("voltage", {"zzzz": 2.0}) == "no block or cell 'zzzz'"
    assert refused("voltage", {"X1": 2.0}) == "no block or cell 'X1': did you mean 'N1'?"
    assert refused("gravity", {"": 1.25}) == "a gravity belongs to a cell, such as N1.1"
    for where, value, named in (("ohms", 1.0, "ohms"), ("", 1.0, "value"), ("volts", "many", "volts")):
        assert refused("charger", {where: value}) == f"charger: {named} is neither volts nor amps with a number"
    assert refused("voltage", {"N1": 6.0, "N2": 60.0}).startswith("voltage of N2: 60 V")


KNOWN = {"N1.1": 1.260, "N1.2": 1.262, "N1.3": 1.258}


def asked(values: dict[str, Any], newest: dict[str, float] | None = None, kind: str = "gravity", **more: Any) -> str:
    read = HandReading("north", kind, T, T, values, **more)
    before = {cell: (gravity, T - HOUR) for cell, gravity in (KNOWN if newest is None else newest).items()}
    return doubt(NORTH, read) or strange_gravity(NORTH, read, before)


@pytest.mark.parametrize(
    ("value", "why"),
    [
        (1.262, ""),
        (1.310, ""),
        (1.316, "N2.1 at 1.316 is stronger than a full cell, 1.265"),
        (1.210, ""),
        (1.209, "N2.1 at 1.209 is far from its neighbours at 1.260"),
        (1.010, "N2.1 at 1.010 is far from its neighbours at 1.260"),
        ("low", ""),
    ],
)
def test_a_gravity_far_from_its_neighbours_or_above_a_full_cell_is_asked_about(value: float | str, why: str) -> None:
    assert asked({"N2.1": value}) == why


def test_two_neighbours_are_enough_to_ask_and_one_is_not() -> None:
    assert asked({"N2.1": 1.010}, {"N1.1": 1.26}) == ""
    assert asked({"N2.1": 1.010}, {"N1.1": 1.26, "N1.2": 1.26}) != ""
    # A cell is no neighbour of itself, and those read with it are.
    assert asked({"N2.1": 1.150}, {"N2.1": 1.16, "N1.1": 1.26}) == ""
    assert asked({"N2.1": 1.150}, {**KNOWN, "N2.1": 1.16}) == "", "it read so before"
    jump = "N2.1 at 1.010 read 1.260, and that was 1 h before: no cell changes so fast"
    assert asked({"N2.1": 1.010}, {"N2.1": 1.26, "N1.1": 1.26}) == jump, "the pilot cell, read alone"
    risen = dict.fromkeys(("N2.1", "N2.2", "N2.3"), 1.27)
    assert asked(dict(risen), dict.fromkeys(risen, 1.24)) == "", "a whole bank that rose"
    walk = asked({"N2.1": 1.010, "N2.2": 1.26, "N2.3": 1.262}, {})
    assert walk == "N2.1 at 1.010 is far from its neighbours at 1.261"
    assert asked({"N2.1": 1.010, "N2.2": "low", "N2.3": 1.262}, {}) == ""
    assert asked({"N1.1": 1.40, "N1.2": 1.0}).count("; ") == 1
    # Stronger than its neighbours is strange too: a bank that was found flat.
    assert "far from its neighbours" in asked({"N2.1": 1.27}, {"N1.1": 1.08, "N1.2": 1.08})


def test_only_a_gravity_is_asked_about_and_nothing_that_is_taken_back() -> None:
    assert asked({"N2.1": 1.010}, undo=True) == ""
    assert asked({"N2.1": 1.010}, kind="voltage") == ""


def test_a_place_means_a_cell_those_of_a_block_or_all() -> None:
    every = [f"N{block}.{cell}" for block in range(1, 5) for cell in range(1, 4)]
    assert cells_at(NORTH.places, "") == every
    assert cells_at(NORTH.places, "N2") == ["N2.1", "N2.2", "N2.3"]
    assert cells_at(NORTH.places, "N2.3") == ["N2.3"]
    assert cells_at(NORTH.places, "N9") == []
