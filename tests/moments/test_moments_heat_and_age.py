"""m30 and m35: warmth is that of the electrolyte itself, and a figure has an age."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.events import Reading, Tick
from tests.moments.test_moments_fire_and_smoke import charged
from tests.support.moments import USUAL, Moment, bank_of, labels

PROBE = "electrolyte_temperature"
AIR = ("ambient_temperature", 'unit = "degC"')


@pytest.mark.parametrize("fall", [5.0, 10.0, 15.0])
@pytest.mark.parametrize("minutes", [2.0, 10.0, 40.0])
@pytest.mark.parametrize("volts", [2.40, 2.67])
def test_m30_air_that_falls_around_an_even_electrolyte_is_no_runaway(fall: float, minutes: float, volts: float) -> None:
    bank = bank_of(AIR)
    moment = Moment(bank)
    moment.begin(voltage=2.05 * bank.cells, current=0.0, ambient_temperature=20.0, **{PROBE: 30.0})
    moment.pass_time(2 * 3600.0, every=30.0, voltage=volts * bank.cells, current=8.0)
    for minute in range(120):
        air = 20.0 - fall * min(1.0, minute / minutes)
        moment.pass_time(60.0, every=30.0, ambient_temperature=air)
        assert not moment.now.latched and "temperature-rising-fast" not in moment.now.flags
    assert moment.now.allowed


@pytest.mark.parametrize("air", [None, 10.0, 45.0])
def test_m30_the_electrolyte_itself_warming_eight_kelvin_an_hour_trips_whatever_the_air_does(air: float | None) -> None:
    bank = bank_of(*([AIR] if air is not None else []))
    moment = Moment(bank)
    also = {} if air is None else {"ambient_temperature": air}
    moment.begin(voltage=2.05 * bank.cells, current=0.0, **{PROBE: 15.0}, **also)
    for minute in range(90):
        moment.pass_time(
            60.0, every=30.0, voltage=2.4 * bank.cells, current=10.0, **{PROBE: 15.0 + 10.0 * minute / 60.0}
        )
    assert moment.now.latched == {"thermal-runaway"}
    assert moment.lock.latched["thermal-runaway"].unit == "K/h"


def test_m30_a_probe_that_was_moved_to_a_warmer_cell_steps_once_and_does_not_run_away() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.6, current=0.0, **{PROBE: 20.0})
    moment.pass_time(3600.0, every=30.0, voltage=28.8, current=10.0)
    moment.pass_time(3600.0, every=30.0, **{PROBE: 24.8})
    assert not moment.now.latched


IN_A_CELL = (PROBE, 'unit = "degC"\nplaced = "cell"')
SECOND = f"{PROBE}#2"


@pytest.mark.parametrize("after", [5.0, 120.0, 600.0])
@pytest.mark.parametrize("how", ["a second probe", "another topic", "the first taken away"])
@pytest.mark.parametrize("truly", [0.0, 12.0])
def test_a_thermometer_more_or_another_one_is_no_warming_and_hides_none(how: str, after: float, truly: float) -> None:
    one, two = bank_of(), bank_of(IN_A_CELL)
    another = replace(one.meters[2], source="cabin/another")
    other = {
        "a second probe": two,
        "another topic": replace(one, meters=(*one.meters[:2], another, *one.meters[3:])),
        "the first taken away": one,
    }[how]
    moment = Moment(two if how == "the first taken away" else one)
    moment.flicker = {}
    first = {PROBE: 17.8, SECOND: 22.0} if how == "the first taken away" else {PROBE: 17.8}
    moment.begin(voltage=2.05 * one.cells, current=0.0, **first)
    moment.pass_time(1800.0, every=30.0, voltage=2.4 * one.cells, current=10.0)
    moment.bank, moment.feed = other, {name: value for name, value in moment.feed.items() if name != SECOND}
    moment.later(after)
    now = {"a second probe": {PROBE: 17.8, SECOND: 22.0}, "another topic": {PROBE: 22.0}}.get(how, {PROBE: 17.8})
    told: set[str] = set()
    began = moment.at
    for minute in range(60):
        risen = truly * (moment.at - began) / 3600.0
        moment.pass_time(60.0, every=30.0, **{name: value + risen for name, value in now.items()})
        told |= moment.now.flags
        assert truly or not moment.now.latched, minute
    assert ("temperature-rising-fast" in told) is bool(truly)
    assert ("thermal-runaway" in moment.lock.latched) is bool(truly)


@pytest.mark.parametrize("truly", [0.0, 12.0])
def test_a_hot_probe_that_comes_and_goes_neither_makes_a_rise_nor_hides_its_own(truly: float) -> None:
    moment = Moment(bank_of(IN_A_CELL))
    moment.flicker = {}
    moment.begin(voltage=27.0, current=0.0, **{PROBE: 18.0, SECOND: 23.0})
    told: set[str] = set()
    for minute in range(90):
        hot = 23.0 + truly * minute / 60.0
        gone = minute % 20 in (10, 11, 12, 13)
        if gone:
            moment.feed.pop(SECOND, None)
        moment.pass_time(60.0, every=10.0, voltage=28.0, current=10.0, **({} if gone else {SECOND: hot}))
        told |= moment.now.flags
    assert ("temperature-rising-fast" in told) is bool(truly)


@pytest.mark.parametrize("days", [0.1, 2.0, 20.0])
@pytest.mark.parametrize("value", [44.0, 61.0])
@pytest.mark.parametrize("relay", [True, False])
def test_m35_a_kept_temperature_with_its_own_old_stamp_trips_nothing(days: float, value: float, relay: bool) -> None:
    stamped = (*USUAL[:2], ("electrolyte_temperature", 'style = "json"\npointer = "/c"\ntime = "/t"\nunit = "degC"'))
    moment = Moment(bank_of(meters=stamped, relay=relay))
    moment.feed = {"voltage": 24.6, "current": 0.0}
    for _ in range(2):
        moment.fold(Reading("north", PROBE, value, moment.at, moment.at - days * 86400.0))
        moment.fold(Tick(moment.at))
        moment.pass_time(120.0)
    whole = moment.now
    assert not whole.latched and "over-temperature" not in whole.flags
    assert moment.derived is not None and moment.derived.temperature is None
    assert moment.derived.freshness[PROBE] >= days * 86400.0, "shown as old"
    assert "meter-silent" in whole.flags and not whole.allowed
    moment.pass_time(60.0, **{PROBE: value})
    assert moment.now.latched == {"over-temperature"}, "a fresh one of the same height does"


@pytest.mark.parametrize("on_a_case", [False, True])
@pytest.mark.parametrize("relay", [True, False])
def test_a_thermometer_in_a_persons_hand_warns_though_a_live_probe_reads_lower(on_a_case: bool, relay: bool) -> None:
    moment = Moment(bank_of(relay=relay))
    place = labels(moment.bank)[1] if on_a_case else ""
    moment.begin(voltage=27.5, current=12.0, **{PROBE: 26.0})
    assert "temperature-high" not in moment.now.flags
    moment.hand("temperature", {place: 38.9})
    told = next(flag for flag in moment.derived.flags if flag.name == "temperature-high") if moment.derived else None
    assert told is not None and told.value == 38.9 and told.reason.startswith("warm (by hand)")
    assert moment.derived is not None and moment.derived.temperature == pytest.approx(26.0, abs=0.2), "the probe's own"
    assert not moment.now.latched and moment.derived.safe in ("warm", "not-yet")
    moment.pass_time(3600.0)
    assert "temperature-high" in moment.now.flags, "nobody has read it anew"
    moment.hand("temperature", {place: 36.5})
    assert "temperature-high" not in moment.now.flags


def test_the_hottest_of_one_walk_counts_and_a_block_that_is_read_again_is_as_warm_as_it_is_now() -> None:
    moment = Moment(bank_of(relay=False))
    first, second = labels(moment.bank)[:2]
    moment.pass_time(60.0, voltage=25.2, current=0.0, **{PROBE: 26.0})
    moment.hand("temperature", {first: 39.5})
    moment.hand("temperature", {second: 30.0})
    assert "temperature-high" in moment.now.flags, "another block is cool"
    moment.hand("temperature", {first: 31.0})
    assert "temperature-high" not in moment.now.flags


def test_a_warm_reading_by_hand_that_is_taken_back_or_a_day_old_warns_no_more() -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(60.0, voltage=25.2, current=0.0, **{PROBE: 26.0})
    moment.hand("temperature", {"": 39.5})
    assert "temperature-high" in moment.now.flags
    moment.hand("temperature", {"": 39.5}, undo=True)
    assert "temperature-high" not in moment.now.flags
    moment.hand("temperature", {"": 39.5})
    moment.pass_time(23.5 * 3600.0, every=60.0)
    assert "temperature-high" in moment.now.flags
    moment.pass_time(3600.0, every=60.0)
    assert "temperature-high" not in moment.now.flags


def test_a_doubtful_heat_by_hand_in_another_cell_cuts_first_and_asks_afterwards() -> None:
    moment = charged()
    moment.pass_time(30.0, electrolyte_temperature=15.4)
    moment.hand("temperature", {"A2.1": 60.0})
    moment.pass_time(10.0)
    assert "over-temperature" in moment.now.latched and not moment.now.allowed
    noted = next(event.detail for event in reversed(moment.events) if event.kind == "hand")
    assert str(noted["beside"]).startswith("over the limit, so switch the charger off at the wall first")
    assert "did you mean 60 degF?" in str(noted["beside"])
    assert "unsure" in moment.hand("temperature", {"A2.1": 20.0})
    assert "no cell cools so fast" in str(moment.events[-1].detail["why"]) and moment.act("reset") != ""
    moment.hand("temperature", {}, undo=True)
    assert moment.act("reset") == ""
