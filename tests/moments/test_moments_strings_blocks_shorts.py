"""m50 to m57: strings that do not share, blocks that lose a cell, and what is judged of those that stand aside."""

from __future__ import annotations

from typing import Any

import pytest

from bridge.words.bank_status import event_words
from tests.support.moments import Moment, bank_of, cells_of, labels

PROBE = "electrolyte_temperature"
HOUR = 3600.0


def charging(bank: Any, volts: float, amps: float, **also: float) -> Moment:
    """Under charge at this voltage per cell."""
    moment = Moment(bank)
    moment.begin(voltage=2.0 * bank.cells, current=0.0, **{PROBE: 25.0}, **also)
    moment.pass_time(120.0, voltage=volts * bank.cells, current=amps)
    return moment


@pytest.mark.parametrize(
    ("amps", "limit", "worst"),
    [((-1.0, -1.0, 32.0), 29.0, 3), ((0.0, 33.0, 0.2), 29.0, 2), ((27.0, 2.0, 1.0), 25.0, 1)],
)
def test_m50_the_string_over_its_limit_is_named_first_and_those_that_give_nothing_are_not(
    amps: tuple[float, ...], limit: float, worst: int
) -> None:
    moment = charging(bank_of(strings=3, keys=f'limits = {{ string_current = "{limit} A" }}'), 2.2, 30.0)
    moment.hand("string_amps", {str(n): value for n, value in enumerate(amps, 1)})
    whole = moment.now
    assert "string-over-limit" in whole.flags and "imbalance" not in whole.flags
    assert moment.memory.flags["string-over-limit"].reason.startswith(f"string {worst} takes {max(amps):.1f} A")
    assert moment.memory.flags["string-over-limit"].limit == limit
    for other in {1, 2, 3} - {worst}:
        assert f"string {other} takes" not in whole.texts
    assert "Let it take its amps" not in whole.advice and "Leave it alone" not in whole.advice
    assert whole.advice.startswith("Lower the charger's amps now")
    assert ("others feed it" in whole.texts) is (min(amps) < -0.8)
    assert not whole.latched


def test_m50_a_clamp_a_quarter_over_the_limit_trips_as_a_meter_would() -> None:
    moment = charging(bank_of(strings=3, keys='limits = { string_current = "29 A" }'), 2.2, 35.0)
    moment.hand("string_amps", {"1": -1.0, "2": -1.0, "3": 37.0})
    assert moment.now.latched == {"over-current"} and not moment.now.allowed
    assert "string 3 takes 37.0 A" in moment.now.texts
    assert "still there" in moment.act("reset")
    moment.pass_time(60.0)  # the relay is open: the shunt shows it, and a clamp says the same
    moment.hand("string_amps", {"1": 0.0, "2": 0.0, "3": 0.0})
    assert moment.act("reset") == ""


def test_m50_amps_by_hand_that_are_a_danger_are_not_asked_back_first_though_the_shunt_shows_less() -> None:
    moment = charging(bank_of(strings=3, keys='limits = { string_current = "29 A" }'), 2.2, 35.0)
    moment.hand("string_amps", {"1": 10.0, "2": 10.0, "3": 37.0})
    assert moment.now.latched == {"over-current"} and not moment.now.allowed


def test_m50_strings_within_their_limit_that_differ_are_still_an_imbalance() -> None:
    moment = charging(bank_of(strings=3), 2.2, 24.0)
    moment.hand("string_amps", {"1": 2.0, "2": 11.0, "3": 11.0})
    assert "imbalance" in moment.now.flags and "string-over-limit" not in moment.now.flags


@pytest.mark.parametrize("cells", [3, 6])
@pytest.mark.parametrize("blocks", [2, 4])
@pytest.mark.parametrize("odd", [0, 1])
def test_m51_a_block_by_hand_a_cell_under_its_mates_is_suspected_of_a_short(cells: int, blocks: int, odd: int) -> None:
    moment = charging(bank_of(blocks=blocks, cells=cells), 2.3, 10.0)
    names = labels(moment.bank)
    volts: dict[str, float | str] = {name: 2.3 * cells - 0.02 * n for n, name in enumerate(names)}
    moment.hand("voltage", {**volts, names[odd]: 2.3 * cells - 2.3})
    whole = moment.now
    assert whole.latched == {"cell-short-suspected"} and not whole.allowed
    assert f"block {names[odd]} stands at {2.3 * cells - 2.3:.2f} V and the others at " in whole.texts
    assert "take that block out of its string" in whole.advice


def test_m51_the_example_of_the_trade_and_blocks_noted_one_by_one() -> None:
    moment = charging(bank_of(), 2.27, 10.0)
    for label, volts in zip(labels(moment.bank), (6.9, 6.9, 6.8, 4.6), strict=True):
        moment.pass_time(60.0)
        moment.hand("voltage", {label: volts})
    assert moment.now.latched == {"cell-short-suspected"}


@pytest.mark.parametrize("volts", [(6.9, 6.9, 6.8, 5.6), (6.9, 6.8, 6.9, 6.9)])
def test_m51_blocks_that_differ_by_less_than_a_cell_do_not(volts: tuple[float, ...]) -> None:
    moment = charging(bank_of(), 2.27, 10.0)
    moment.hand("voltage", dict(zip(labels(moment.bank), volts, strict=True)))
    assert not moment.now.latched and moment.now.allowed


def test_m51_a_flat_block_at_rest_is_not_a_short_under_charge() -> None:
    moment = Moment(bank_of())
    moment.prepare(voltage=20.0, current=0.0, **{PROBE: 25.0})
    moment.hand("voltage", dict(zip(labels(moment.bank), (6.2, 6.2, 6.2, 1.1), strict=True)))
    assert "cell-short-suspected" not in moment.now.flags


def test_m51_once_its_string_is_out_the_trip_can_be_reset() -> None:
    moment = charging(bank_of(strings=2, blocks=2, cells=6), 2.3, 20.0)
    moment.hand("voltage", {"A1": 13.8, "A2": 13.8, "B1": 13.8, "B2": 11.5})
    assert "block B2" in moment.now.texts
    assert "still there" in moment.act("reset")
    assert moment.act("arrange", act="isolate", number=2, sure=True) == ""
    assert "reset first" in moment.act("checklist", name="the keeper"), "nobody walks round while a trip stands"
    assert moment.act("reset") == ""
    assert "20.0 A flow into the bank" in moment.act("checklist", name="the keeper"), "as read before the relay opened"
    moment.pass_time(20.0)
    assert moment.act("checklist", name="the keeper") == "", "joined anew, asked anew"
    assert moment.act("resume") == ""
    moment.pass_time(400.0)
    assert moment.now.allowed


def metered(count: int, cells: int) -> Moment:
    """Every block has its own meter."""
    more = [("block_voltage", f'unit = "V"\nindex = "A{n}"') for n in range(1, count + 1)]
    bank = bank_of(*more, blocks=count, cells=cells)
    return charging(bank, 2.45, 8.0, **{f"block_voltage__A{n}": 2.45 * cells for n in range(1, count + 1)})


@pytest.mark.parametrize(("count", "cells"), [(4, 3), (2, 6)])
@pytest.mark.parametrize("fall", [0.55, 0.9])
def test_m52_a_block_that_falls_while_its_mates_rise_is_losing_a_cell(count: int, cells: int, fall: float) -> None:
    moment = metered(count, cells)
    for step in range(12):
        share = fall * (step + 1) / 12
        values = {f"block_voltage__A{n}": 2.45 * cells + share / (count - 1) for n in range(1, count + 1)}
        moment.pass_time(500.0, every=20.0, **{**values, "block_voltage__A2": 2.45 * cells - share})
    assert moment.now.latched == {"cell-short-suspected"}
    assert "block A2 fell by" in moment.now.texts and not moment.now.allowed


def test_m52_a_charger_turned_down_lets_all_blocks_fall_and_none_is_suspected() -> None:
    moment = metered(4, 3)
    moment.pass_time(HOUR, every=20.0)
    moment.pass_time(HOUR, every=20.0, voltage=27.0, **{f"block_voltage__A{n}": 6.75 for n in range(1, 5)})
    assert not moment.now.latched and moment.now.allowed


def holding() -> Moment:
    """A bank without block meters in its hold: 32 V and an even 5 A."""
    bank = bank_of(keys='chargers = [ { volts = "32 V", amps = "25 A" } ]')
    moment = charging(bank, 2.1, 25.0)
    moment.pass_time(4.5 * HOUR, every=30.0)
    moment.pass_time(2.0 * HOUR, every=30.0, voltage=32.0, current=5.0)
    assert moment.now.phase == "holding"
    assert "current-step" not in moment.now.flags
    return moment


@pytest.mark.parametrize("after", [7.0, 12.0])
def test_m52_a_step_of_the_current_at_a_standing_voltage_says_so_without_block_meters(after: float) -> None:
    moment = holding()
    moment.pass_time(0.5 * HOUR, every=30.0, current=after)
    whole = moment.now
    assert "current-step" in whole.flags and "measure every block" in whole.texts
    assert moment.memory.flags["current-step"].reason.startswith("the current jumped from 5.0")


def test_m52_a_slow_climb_or_a_charger_raised_is_no_step() -> None:
    moment = holding()
    for minute in range(120):
        moment.pass_time(60.0, every=30.0, current=5.0 + 2.0 * minute / 120.0)
    assert "current-step" not in moment.now.flags
    moment = holding()
    moment.pass_time(0.5 * HOUR, every=30.0, voltage=32.4, current=8.0)
    assert "current-step" not in moment.now.flags


def test_m53_a_string_taken_out_in_mid_round_is_still_judged_and_its_mates_are_offered() -> None:
    bank = bank_of(strings=2, blocks=2, cells=6)
    moment = charging(bank, 2.3, 20.0)
    gravities: dict[str, float | str] = dict.fromkeys(cells_of(bank), 1.255)
    moment.hand("gravity", {**gravities, "B2.3": 1.150}, temperature=26.7)
    assert moment.now.flags & {"gravities-doubted"}
    assert moment.act("arrange", act="isolate", number=2, sure=True) == ""
    moment.pass_time(60.0)
    assert not moment.now.flags & {"imbalance", "gravities-doubted"}, "its cells no longer count for the bank"
    assert moment.derived is not None and moment.derived.lowest_gravity == pytest.approx(1.255, abs=0.001)
    assert moment.act("checklist", name="the keeper") == "" and moment.act("resume") == ""
    moment.pass_time(400.0)
    moment.memory = moment.memory._replace(phase=moment.memory.phase._replace(phase="resting", since=moment.at))
    moment.pass_time(8 * HOUR, every=60.0, current=0.0, voltage=25.2)
    moment.hand("gravity", {**gravities, "B2.3": 1.150}, temperature=26.7)
    moment.hand("voltage", {"B2.3": 1.2})
    moment.pass_time(60.0)
    rows = {str(row["label"]): row for row in moment.derived.verdict}
    assert set(rows) == {"north", "A1", "A2", "B1", "B2"}
    assert rows["B2"]["word"] == "scrap" and rows["B1"]["word"] != "scrap"
    assert rows["north"]["word"] != "scrap", "the bank as it stands no longer holds it"
    assert "B2" not in {label for string in moment.derived.matching for label in string}
    offered = {label for string in moment.derived.matching for label in string}
    assert {"A1", "A2"} <= offered or {"A1", "B1"} <= offered or {"A2", "B1"} <= offered


def rested(bank: Any) -> Moment:
    """After the round and its hold, rested for half a day, every cell read and sound."""
    moment = charging(bank, 2.3, 10.0)
    held = moment.memory.phase._replace(phase="resting", since=moment.at, hold_complete=True)
    moment.memory = moment.memory._replace(phase=held)
    moment.pass_time(12 * HOUR, every=60.0, current=0.0, voltage=2.1 * bank.cells)
    moment.hand("gravity", dict.fromkeys(cells_of(bank), 1.262), temperature=26.7)
    return moment


@pytest.mark.parametrize(("cells", "blocks"), [(3, 4), (6, 2)])
@pytest.mark.parametrize(("volts", "what"), [(-0.8, "reversed"), (1.2, "shorted or dead")])
def test_m54_a_cell_that_reads_backwards_or_next_to_nothing_makes_its_block_scrap(
    cells: int, blocks: int, volts: float, what: str
) -> None:
    moment = rested(bank_of(cells=cells, blocks=blocks))
    moment.hand("voltage", {"A2.1": volts}, sure=True)
    assert moment.derived is not None
    rows = {str(row["label"]): row for row in moment.derived.verdict}
    assert rows["A2"]["word"] == rows["north"]["word"] == "scrap"
    assert f"cell A2.1 {what}" in str(rows["A2"]["reasons"])
    assert rows["A1"]["word"] != "scrap"
    assert not [string for string in moment.derived.matching if "A2" in string]


@pytest.mark.parametrize("mark", ["low", "high"])
def test_m55_a_cell_off_the_instruments_scale_condemns_nothing_and_is_named(mark: str) -> None:
    moment = rested(bank_of())
    # An earlier number of that cell would be a bad cell; the newer mark says that it cannot be told.
    moment.hand("gravity", {"A2.1": 1.150}, temperature=26.7)
    assert moment.derived is not None
    assert {row["label"]: row["word"] for row in moment.derived.verdict}["A2"] == "scrap"
    moment.pass_time(600.0)
    moment.hand("gravity", {"A2.1": mark}, temperature=26.7)
    rows = {str(row["label"]): row for row in moment.derived.verdict}
    assert rows["A2"]["word"] == "repeat" and "A2.1 is" in str(rows["A2"]["reasons"])
    assert "left out of the spread" in str(rows["A2"]["reasons"])


@pytest.mark.parametrize("shape", [(2, 6, 200.0), (4, 3, 100.0), (8, 3, 225.0)])
@pytest.mark.parametrize(("apart", "joins"), [(0.01, True), (0.30, False)])
def test_m57_a_string_is_added_only_when_both_voltages_are_known_and_near(
    shape: Any, apart: float, joins: bool
) -> None:
    blocks, cells, capacity = shape
    bank = bank_of(strings=2, blocks=blocks, cells=cells, capacity=capacity)
    moment = Moment(bank)
    moment.prepare(voltage=2.1 * bank.cells, current=0.0, **{PROBE: 25.0})
    assert moment.act("arrange", act="isolate", number=2, sure=True) == ""
    assert "measure at rest and say the volts of every string" in moment.act("arrange", act="add", number=1)
    low = (2.1 - apart) * bank.cells
    why = moment.act("arrange", act="add", number=1, volts=[2.1 * bank.cells, low])
    joined = moment.memory.arrangement
    assert joined is not None
    if joins:
        assert why == "" and len(joined.strings) == 2
        return
    # By hand: two strings of n cells of 0.42 ohm Ah / C20 each; the difference over both of them.
    amps = apart * capacity / (2 * 0.42)
    assert f"about {amps:.0f} A would flow between the strings" in why and "alone first" in why
    assert len(joined.strings) == 1


def test_m57_halves_of_two_strings_are_rejoined_with_the_volts_of_both() -> None:
    bank = bank_of(strings=2, blocks=2, cells=6)
    moment = Moment(bank)
    moment.prepare(voltage=25.2, current=0.0, **{PROBE: 25.0})
    assert moment.act("arrange", act="split", sure=True) == ""
    assert "A1 A2, B1 B2" in moment.act("arrange", act="rejoin")
    assert "would flow" in moment.act("arrange", act="rejoin", volts=[25.2, 21.0])
    assert moment.act("arrange", act="rejoin", volts=[25.2, 25.1]) == ""


def test_m57_halves_of_one_string_have_nothing_in_parallel() -> None:
    moment = Moment(bank_of(blocks=2, cells=6))
    moment.prepare(voltage=25.2, current=0.0, **{PROBE: 25.0})
    assert moment.act("arrange", act="split", sure=True) == ""
    assert moment.act("arrange", act="rejoin") == ""


@pytest.mark.parametrize(("offset", "due"), [(0.5, True), (-0.5, True), (0.1, False), (5.0, False)])
def test_m47_an_hour_of_the_same_little_current_at_rest_is_the_meters_zero(offset: float, due: bool) -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(5400.0, every=30.0, voltage=25.0, current=offset, electrolyte_temperature=20.0)
    assert ("zero-due" in moment.now.flags) is due
    # A current that comes and goes is none.
    uneven = Moment(bank_of(relay=False))
    for turn in range(18):
        uneven.pass_time(300.0, every=30.0, voltage=25.0, current=offset * (1.6 if turn % 2 else 0.4),
                         electrolyte_temperature=20.0)  # fmt: skip
    assert "zero-due" not in uneven.now.flags


@pytest.mark.parametrize("strings", [2, 3])
def test_m50_amps_of_every_string_noted_late_enough_are_not_asked_for_again(strings: int) -> None:
    bank = bank_of(strings=strings, keys='chargers = [{ volts = "32 V", amps = "30 A" }]')
    moment = Moment(bank)
    moment.begin(voltage=25.2, current=0.0, electrolyte_temperature=20.0)
    moment.pass_time(13 * 3600.0, every=60.0, voltage=27.0, current=20.0, electrolyte_temperature=22.0)
    assert "string-currents-due" in moment.now.flags
    moment.hand("string_amps", {str(number): 20.0 / strings for number in range(1, strings + 1)})
    moment.pass_time(3600.0, every=60.0)
    assert "string-currents-due" not in moment.now.flags
    # Taken back, they are due again.
    moment.hand("string_amps", {}, undo=True)
    moment.pass_time(60.0, every=10.0)
    assert "string-currents-due" in moment.now.flags


@pytest.mark.parametrize("act", ["split", "isolate"])
@pytest.mark.parametrize("relay", [True, False])
def test_an_hour_of_air_comes_before_blocks_are_joined_anew_whoever_switched_the_charger_off(
    act: str, relay: bool
) -> None:
    moment = Moment(bank_of(strings=2, relay=relay))
    moment.begin(voltage=27.5, current=20.0, electrolyte_temperature=20.0)
    moment.pass_time(600.0)
    assert "A flow: switch the charger off at the wall" in moment.act("arrange", act=act, number=2)
    if relay:
        assert moment.act("abandon") == ""
    moment.pass_time(60.0, voltage=25.6, current=0.0)
    off_at = moment.memory.charged_at
    for _ in range(5):
        why = moment.act("arrange", act=act, number=2)
        assert "gas may still be about: air the room until " in why and moment.memory.arrangement is None
        moment.pass_time(600.0)
    moment.pass_time(off_at + 3601.0 - moment.at)
    assert moment.act("arrange", act=act, number=2) == "", "the hour is over"


def test_whoever_is_sure_that_the_gas_is_gone_or_has_joined_the_blocks_already_is_taken_at_their_word() -> None:
    moment = Moment(bank_of(strings=2, relay=False))
    moment.pass_time(600.0, voltage=27.5, current=20.0, electrolyte_temperature=20.0)
    moment.pass_time(60.0, voltage=25.6, current=0.0)
    assert "air the room until" in moment.act("arrange", act="split")
    assert moment.act("arrange", act="split", sure=True) == "" and moment.memory.arrangement is not None


def test_after_a_split_the_charger_of_the_whole_bank_is_warned_of_and_the_walk_round_comes_before_the_resume() -> None:
    bank = bank_of(blocks=4, cells=3, keys='chargers = [ { volts = "28.8 V", amps = "29 A" } ]')
    moment = charging(bank, 2.3, 20.0)
    assert moment.act("arrange", act="split", sure=True) == ""
    said = [event for event in moment.events if event.detail.get("name") == "arrange"][-1]
    told = event_words(said)
    assert told is not None and "28.8 V, is 4.80 V per cell for the 6 cells in the circuit" in told
    moment.pass_time(30.0)
    texts = moment.now.advice
    before, found, _ = texts.partition("alk round with the start checklist")
    assert found and "revival resume" not in before
    assert moment.act("arrange", act="rejoin", sure=True) == ""
    whole = event_words([event for event in moment.events if event.detail.get("name") == "arrange"][-1])
    assert whole == "arrange by the keeper"
