"""A newest value over its limit, before it is a trip: nothing closes the relay, nothing that runs is cut, no calm word.

Limits as the cabin file has them; that one reading is no evidence of a trip, and one is enough to keep a charger off,
is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.support.moments import Moment, bank_of

BLOCK = ("block_voltage", 'unit = "V"\nindex = "A1"')
GAS = ("hydrogen", 'unit = "ratio"')
DOOR = ("door", "")
#: How a meter passes its limit: its name, what it shows beyond it, and within it.
BEYOND = {
    "acid": ("electrolyte_temperature", 45.4, 30.0),
    "acid in one jump": ("electrolyte_temperature", 61.0, 30.0),
    "volts": ("voltage", 12 * 2.8, 25.4),
    "volts of a block": ("block_voltage:A1", 3 * 2.8, 6.3),
    "hydrogen": ("hydrogen", 0.014, 0.001),
}
CALM = {"voltage": 25.4, "current": 0.0, "electrolyte_temperature": 30.0}
TAKES = {"voltage": 28.2, "current": 9.0}


def bank_with(case: str) -> Moment:
    """A bank whose meters show nothing unusual; one of a block or of gas where the case asks for it."""
    more = {"volts of a block": (BLOCK,), "hydrogen": (GAS,)}.get(case, ())
    moment = Moment(bank_of(*more))
    moment.show(**CALM, **({BEYOND[case][0]: BEYOND[case][2]} if more else {}))
    return moment


def one(moment: Moment, meter: str, value: float) -> None:
    """One reading, and the second after it."""
    moment.at += 10.0
    moment.read(meter, value)
    moment.wait(1)


def headline(moment: Moment) -> str:
    """The line of status that answers "is it safe?"."""
    return moment.now.texts.splitlines()[1]


@pytest.mark.parametrize("case", BEYOND)
def test_neither_start_nor_proof_is_taken_on_one_reading_over_a_limit_and_both_are_on_the_next_good_one(
    case: str,
) -> None:
    moment = bank_with(case)
    meter, beyond, within = BEYOND[case]
    moment.prepare()
    one(moment, meter, beyond)
    assert "over the limit of" in moment.act("prove")
    assert "over the limit of" in moment.act("start")
    assert not moment.lock.latched and not moment.lock.started
    assert "reading-over-limit" in moment.now.flags and "no danger seen" not in moment.now.texts
    assert ("DANGER" if case == "hydrogen" else "NOT YET SAFE") in headline(moment)
    one(moment, meter, within)
    one(moment, meter, within)
    assert "reading-over-limit" not in moment.now.flags
    assert moment.act("start") == "" and moment.lock.allowed


@pytest.mark.parametrize("case", BEYOND)
def test_one_wild_value_cuts_no_charge_that_runs_and_is_told(case: str) -> None:
    moment = bank_with(case)
    meter, beyond, within = BEYOND[case]
    moment.begin()
    moment.pass_time(60.0, **TAKES)
    orders = len(moment.orders)
    one(moment, meter, beyond)
    assert "reading-over-limit" in moment.now.flags and "no danger seen" not in moment.now.texts
    one(moment, meter, {"voltage": 28.2}.get(meter, within))
    moment.pass_time(120.0)
    assert moment.lock.allowed and not moment.lock.latched and "reading-over-limit" not in moment.now.flags
    assert [order.action for order in moment.orders[orders:] if order.action == "cut"] == []


@pytest.mark.parametrize("case", BEYOND)
def test_a_second_one_trips_as_it_always_did(case: str) -> None:
    moment = bank_with(case)
    meter, beyond, _ = BEYOND[case]
    moment.begin()
    moment.pass_time(60.0, **TAKES)
    one(moment, meter, beyond)
    one(moment, meter, beyond)
    assert moment.lock.latched and not moment.lock.allowed
    assert "reading-over-limit" not in moment.now.flags, "the trip says it"


def test_a_relay_that_a_fault_opened_comes_back_only_on_a_newest_value_within_its_limit() -> None:
    moment = bank_with("volts")
    moment.begin()
    moment.pass_time(120.0, **TAKES)
    del moment.feed["electrolyte_temperature"]
    moment.pass_time(400.0, voltage=25.4)
    assert not moment.lock.allowed and moment.lock.withdrawn_for == "meter-silent"
    closings = moment.lock.closings
    one(moment, "electrolyte_temperature", 30.0)
    one(moment, "electrolyte_temperature", 30.0)
    assert moment.lock.allowed and moment.lock.closings == closings + 1, "it comes back where all is well"
    moment.pass_time(400.0)
    one(moment, "electrolyte_temperature", 45.4)
    moment.pass_time(40.0, every=1.0)
    assert not moment.lock.allowed and not moment.lock.latched
    assert moment.act("resume") != ""
    one(moment, "electrolyte_temperature", 43.0)
    one(moment, "electrolyte_temperature", 43.0)
    assert moment.lock.allowed, "and is given back by the next one under it"
    assert moment.lock.closings == closings + 2, "one closing, however often the value was over it before"


def test_a_value_that_goes_to_and_fro_about_the_limit_closes_and_opens_nothing() -> None:
    moment = bank_with("hydrogen")
    moment.begin()
    moment.pass_time(120.0, **TAKES)
    orders, closings = len(moment.orders), moment.lock.closings
    for turn in range(8):
        moment.pass_time(70.0, hydrogen=0.0099)
        one(moment, "hydrogen", (0.0101, 0.0099)[turn % 2])
    assert moment.lock.allowed and moment.lock.closings == closings
    assert not [order for order in moment.orders[orders:] if order.action == "cut"]


def test_nobody_resets_nor_resumes_on_a_newest_value_over_a_limit() -> None:
    moment = bank_with("acid")
    moment.begin()
    moment.pass_time(60.0, **TAKES)
    for _ in range(2):
        one(moment, "electrolyte_temperature", 45.4)
    assert "still there" in moment.act("reset")
    for _ in range(4):
        one(moment, "electrolyte_temperature", 42.0)
    one(moment, "electrolyte_temperature", 43.9)
    assert (
        moment.act("reset")
        == "43.9 degC in the electrolyte is over the limit of 43.3 degC: wait for a newer reading within it"
    )
    one(moment, "electrolyte_temperature", 42.0)
    assert moment.act("reset") == ""
    moment.pass_time(70.0, electrolyte_temperature=42.0)
    one(moment, "electrolyte_temperature", 43.9)
    assert "over the limit of 43.3 degC" in moment.act("resume") and not moment.lock.allowed
    one(moment, "electrolyte_temperature", 42.0)
    assert moment.act("resume") == "" and moment.lock.allowed


def test_a_proof_test_is_stopped_by_one_value_over_a_limit_while_the_relay_is_told_closed() -> None:
    moment = bank_with("acid")
    moment.prepare()
    assert moment.act("prove") == ""
    assert moment.lock.proving == "closing"
    moment.at += 1.0
    moment.read("electrolyte_temperature", 45.4)
    moment.wait(1)
    assert not moment.lock.proving and not moment.lock.proof.passed and moment.orders[-1].action == "cut"
    assert "over its limit" in moment.lock.proof.note


def test_a_door_that_is_closed_is_opened_before_the_start_and_not_found_by_a_trip_after_it() -> None:
    moment = Moment(bank_of(DOOR))
    moment.prepare(**CALM, door=0.0)
    assert "door or vent reports closed" in moment.act("start") and "door or vent" in moment.act("prove")
    assert "reading-over-limit" not in moment.now.flags, "a door may be closed as long as nobody charges"
    moment.pass_time(20.0, door=1.0)
    assert moment.act("start") == "" and moment.lock.allowed


def test_a_bank_that_is_only_watched_hears_of_it_and_is_never_called_calm() -> None:
    moment = Moment(bank_of(relay=False))
    moment.show(
        **CALM,
    )
    moment.pass_time(60.0, **TAKES)
    one(moment, "electrolyte_temperature", 45.4)
    said = moment.now
    assert "reading-over-limit" in said.flags and "no danger seen" not in said.texts
    assert "switch the charger off now" in said.texts


def test_a_limit_that_was_lowered_while_the_bridge_was_away_holds_for_the_last_value_too() -> None:
    moment = bank_with("acid")
    moment.prepare()
    limits = moment.bank.limits
    moment.bank = replace(moment.bank, limits=replace(limits, temperature=29.0))
    assert "over the limit of 29.0 degC" in moment.act("start")
