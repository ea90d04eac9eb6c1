"""Which readings count for which block, which for the bank, and which for none. Limits: common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from rules.bank.model import Bank, Block
from rules.events import HandReading
from rules.hand.log import HandLog, record
from rules.verdict.capacity_test import CapacityTest
from rules.verdict.evidence import evidence_of
from rules.verdict.judgement import Evidence

DAY, HOUR = 86400.0, 3600.0
WHOLE = (Block("N1", 3, 200.0), Block("N2", 3, 200.0))
NORTH = Bank("north", (WHOLE,))
#: N2 was taken out of the circuit, and N3 stands in its place.
ASIDE = Bank("north", ((Block("N1", 3, 200.0), Block("N3", 3, 100.0)),), aside=((Block("N2", 3, 200.0),),))
TESTED = CapacityTest(0.0, 25.0, delivered=80.0, hours=16.0, ended_at=1.0, reason="bank", fell_first=("N3",))


def noted(*entries: tuple[str, float, dict[str, Any]], rested: float | None = 12.0, charging: bool = False) -> HandLog:
    """A log of (kind, hour of the second day, values) in the order in which they were entered."""
    log = HandLog()
    for kind, hour, values in entries:
        at = DAY + hour * HOUR
        reading = HandReading("north", kind, DAY + 100 * HOUR, at, values, temperature=25.0)
        log = record(log, reading, 0.0, 0.0, charging, rested, NORTH)
    return log


def judged(log: HandLog, *, bank: Bank = NORTH, test: CapacityTest | None = None, **known: Any) -> dict[str, Evidence]:
    whole, blocks = evidence_of(bank, log, test, known.pop("measured", {}), known.pop("previous", {}), **known)
    return {each.label: each for each in (whole, *blocks)}


def cells(value: Any = 1.262, **odd: Any) -> dict[str, Any]:
    every = {f"N{block}.{cell}": value for block in (1, 2) for cell in (1, 2, 3)}
    return {**every, **{place.replace("_", "."): value for place, value in odd.items()}}


@pytest.mark.parametrize(
    ("volts", "fault"),
    [
        (2.1, ""),
        (1.80, ""),
        (1.79, "cell N1.2 shorted or dead: rests at 1.79 V"),
        (0.5, "cell N1.2 shorted or dead: rests at 0.50 V"),
        (0.0, "cell N1.2 shorted or dead: rests at 0.00 V"),
        (-0.01, "cell N1.2 reversed: reads -0.01 V"),
        (-1.2, "cell N1.2 reversed: reads -1.20 V"),
    ],
)
def test_a_cell_that_rests_under_one_point_eight_volts_is_dead_and_one_under_nothing_is_reversed(
    volts: float, fault: str
) -> None:
    known = judged(noted(("voltage", 0.0, {"N1.2": volts})))
    assert known["N1"].faults == ((fault,) if fault else ())
    assert known["north"].faults == ((f"N1: {fault}",) if fault else ())
    assert known["N2"].faults == ()


def test_under_charge_a_low_cell_is_not_dead_yet_but_a_reversed_one_is_reversed() -> None:
    assert judged(noted(("voltage", 0.0, {"N1.2": 1.5}), charging=True))["N1"].faults == ()
    assert judged(noted(("voltage", 0.0, {"N1.2": -1.5}), charging=True))["N1"].faults != ()


def test_the_newest_reading_of_a_cell_counts_whenever_it_was_entered() -> None:
    dead, well = {"N1.2": 0.4}, {"N1.2": 2.1}
    assert judged(noted(("voltage", 0.0, dead), ("voltage", 2.0, well)))["N1"].faults == ()
    assert judged(noted(("voltage", 0.0, well), ("voltage", 2.0, dead)))["N1"].faults != ()
    # Written down at noon and typed in after the one of two o'clock.
    assert judged(noted(("voltage", 2.0, dead), ("voltage", 0.0, well)))["N1"].faults != ()
    assert judged(noted(("voltage", 2.0, well), ("voltage", 0.0, dead)))["N1"].faults == ()
    assert judged(noted(("voltage", 2.0, {"N1": 4.2}), ("voltage", 0.0, {"N1": 6.3})))["N1"].resting == 4.2
    # Another cell, or another kind of entry, clears nothing.
    assert judged(noted(("voltage", 0.0, dead), ("voltage", 2.0, {"N1.1": 2.1})))["N1"].faults != ()
    assert judged(noted(("temperature", 0.0, {"N1.2": 1.0})))["N1"].faults == ()


@pytest.mark.parametrize(
    ("rested", "charging", "counts"),
    [(6.0, False, True), (5.9, False, False), (None, False, False), (9.0, True, False)],
)
def test_resting_volts_count_after_six_hours_of_rest(rested: float | None, charging: bool, counts: bool) -> None:
    log = noted(("voltage", 0.0, {"": 12.6, "N2": 6.2}), ("level", 1.0, {"N1": 5.0}), rested=rested, charging=charging)
    known = judged(log)
    assert (known["north"].resting, known["N1"].resting, known["N2"].resting) == (
        (12.6, None, 6.2) if counts else (None, None, None)
    )


def test_what_was_read_before_the_round_ended_says_how_it_was_found() -> None:
    log = noted(("voltage", 0.0, {"N1.2": 0.4, "N1": 4.2}), ("gravity", 0.0, cells()))
    before, after = judged(log, since=DAY), judged(log, since=DAY + 1.0)
    assert before["N1"].faults and before["N1"].resting == 4.2 and len(before["N1"].gravities) == 3
    assert not after["N1"].faults and after["N1"].resting is None and after["N1"].gravities == ()


def test_two_cells_are_not_compared_and_three_are() -> None:
    two = judged(noted(("gravity", 0.0, {"N1.1": 1.262, "N1.2": 1.200})))
    assert two["N1"].flagged == () and two["N1"].gravities == pytest.approx((1.262, 1.200), abs=0.002)
    three = judged(noted(("gravity", 0.0, {"N1.1": 1.262, "N1.2": 1.200, "N1.3": 1.262})))
    assert len(three["N1"].flagged) == 1 and three["N1"].flagged[0].startswith("cell N1.2 low: gravity")
    assert three["north"].flagged == (*three["N1"].flagged, "N1 has to go") and three["N2"].flagged == ()


@pytest.mark.parametrize(
    ("mark", "what"), [("low", "is too weak to float the hydrometer"), ("high", "is off the top of the scale")]
)
def test_a_cell_off_the_scale_is_named_and_its_last_number_left_out(mark: str, what: str) -> None:
    log = noted(("gravity", 0.0, cells()), ("gravity", 1.0, {"N2.3": mark}))
    known = judged(log)
    assert known["N2"].flagged == (f"cell N2.3 {what} and left out of the spread",) == known["north"].flagged
    assert (len(known["N1"].gravities), len(known["N2"].gravities), len(known["north"].gravities)) == (3, 2, 5)
    # Not read at all is another matter, and so is a number that was read after it.
    assert judged(noted(("gravity", 0.0, cells()), ("gravity", 1.0, {"N2.3": "none"})))["N2"].flagged == ()
    assert judged(noted(("gravity", 0.0, {"N2.3": mark}), ("gravity", 1.0, cells())))["N2"].flagged == ()


def test_unmixed_water_is_told_once_for_all_the_cells_it_lies_on() -> None:
    one = judged(noted(("water", 0.0, {"N1.1": 50.0}), ("gravity", 1.0, cells())))
    assert len(one["N1"].flagged) == 1 and one["N1"].flagged[0].startswith("cell N1.1: water was added 1 h before")
    assert one["N2"].flagged == () and one["north"].flagged == one["N1"].flagged
    assert len(one["N1"].gravities) == 2, "what was read in unmixed water says nothing of the acid"
    two = judged(noted(("water", 0.0, {"N1.1": 50.0, "N1.3": 50.0}), ("gravity", 1.0, cells())))
    assert two["N1"].flagged[0].startswith("cells N1.1, N1.3: water was added 1 h before")
    many = judged(noted(("water", 0.0, {"": "full"}), ("gravity", 1.0, cells())))
    assert many["N2"].flagged[0].startswith("cells N2.1, N2.2, N2.3: water was added")
    assert many["north"].flagged[0].startswith("cells N1.1, N1.2, N1.3, N2.1, N2.2, N2.3: water was added")


def test_a_test_of_the_bank_says_the_same_share_of_every_block_in_it_and_nothing_of_one_aside() -> None:
    # 5 A is the 20-hour rate of a string of 100 Ah: 80 Ah at 25 degC are 80 %.
    known = judged(HandLog(), bank=ASIDE, test=TESTED)
    share = known["north"].capacity
    assert share == pytest.approx(80.0)
    assert known["N3"].capacity == share and known["N1"].capacity == pytest.approx(160.0)
    assert (known["N1"].at_least, known["N3"].at_least, known["north"].at_least) == (True, False, False)
    assert known["N2"].capacity is None and not known["N2"].at_least
    assert known["N1"].because == "until another block fell: test it alone"
    unwatched = judged(HandLog(), bank=ASIDE, test=TESTED._replace(fell_first=()))
    assert unwatched["N3"].because == "until the bank was empty, and nobody watched its blocks: test it alone"
    assert unwatched["N3"].at_least


def test_what_stood_aside_is_judged_for_itself_and_not_held_against_the_bank() -> None:
    log = noted(
        ("water", 0.0, {"N2.3": 50.0}),
        ("gravity", 1.0, cells(N2_1=1.150)),
        ("voltage", 1.0, {"N2.1": 0.3, "N2": 4.2}),
    )
    known = judged(log, bank=ASIDE)
    assert known["N2"].faults and len(known["N2"].flagged) == 2
    assert (known["north"].faults, known["north"].flagged) == ((), ())
    assert len(known["north"].gravities) == 3 and len(known["N2"].gravities) == 2


def test_a_capacity_that_was_measured_alone_is_no_lower_bound() -> None:
    known = judged(HandLog(), test=TESTED._replace(ended_at=None), measured={"N1": 150.0, "north": 140.0})
    assert (known["N1"].capacity, known["N1"].at_least) == (150.0, False)
    assert (known["north"].capacity, known["north"].at_least) == (140.0, False)
    untested = judged(HandLog(), measured={"N1": 150.0}, previous={"N1": 140.0, "north": 130.0})
    assert (untested["N1"].capacity, untested["N1"].previous, untested["north"].previous) == (150.0, 140.0, 130.0)
    assert (untested["north"].capacity, untested["N2"].capacity, untested["N2"].at_least) == (None, None, False)
    assert not untested["north"].at_least


@pytest.mark.parametrize(
    ("hours", "unknown", "missed"),
    [(16.0, 0.0, ""), (9.8, 0.2, ""), (9.79, 0.21, "0.2 h"), (16.0, 0.5, "0.5 h"), (8.0, 6.0, "6.0 h")],
)
def test_more_than_a_fiftieth_of_a_test_unmeasured_makes_it_a_lower_bound(
    hours: float, unknown: float, missed: str
) -> None:
    test = TESTED._replace(hours=hours, unknown_hours=unknown)
    known = judged(HandLog(), bank=ASIDE, test=test)
    assert known["north"].at_least is known["N3"].at_least is bool(missed)
    if missed:
        assert known["north"].because == f"while {missed} of the test were not measured: test it again"
    else:
        assert known["north"].because == "until the test was stopped: test it to the end"


@pytest.mark.parametrize(("hours", "delivered"), [(0.0, 0.0), (1.0, 0.0), (0.0, 5.0)])
def test_a_test_that_has_not_discharged_anything_says_nothing(hours: float, delivered: float) -> None:
    known = judged(HandLog(), test=CapacityTest(0.0, 25.0, hours=hours, delivered=delivered))
    assert known["north"].capacity is None and known["N1"].capacity is None
    lamp = Bank("north", ((Block("N1", 3, 2.0),),))
    told = judged(HandLog(), bank=lamp, test=CapacityTest(0.0, 25.0, hours=0.9, delivered=0.9))
    assert told["north"].capacity is not None and 0.9 < told["north"].capacity < 2.0


def test_a_block_that_has_to_go_and_an_open_finding_stand_against_the_bank() -> None:
    known = judged(noted(("voltage", 0.0, {"N2.1": -0.5})), flagged=["joint found hot"])
    assert known["north"].flagged == ("joint found hot", "N2 has to go")
    assert known["N1"].flagged == known["N2"].flagged == ()
    # A block that its rest betrays beside its own acid is a fault of the bank, by name.
    short = judged(noted(("gravity", 0.0, cells()), ("voltage", 0.0, {"N1": 4.2})))
    assert short["north"].faults == ("N1: shorted cell: rests at 4.20 V where its acid would give 6.32 V",)
    assert short["north"].flagged == ("N1 has to go",)
