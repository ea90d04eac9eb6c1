"""m11 to m15: what people see, smell and note at the posts never stays without consequence."""

from __future__ import annotations

from math import ceil
from typing import Any

import pytest

from rules.advice import ChargerNow
from rules.advice.flag_words import lines
from rules.events import Command
from rules.events import moment as clock
from tests.support.moments import Moment, bank_of, cells_of, labels

PROBE = "electrolyte_temperature"
BANKS = [(4, 3, 200.0), (2, 6, 100.0)]


def charging(*more: tuple[str, str], shape: Any = (4, 3, 200.0), relay: bool = True, **also: float) -> Moment:
    """A bank under charge; its relay, where it has one, is closed."""
    bank = bank_of(*more, blocks=shape[0], cells=shape[1], capacity=shape[2], relay=relay)
    moment = Moment(bank)
    moment.begin(voltage=2.05 * bank.cells, current=0.0, **{PROBE: 25.0}, **also)
    moment.pass_time(60.0, voltage=2.35 * bank.cells, current=0.05 * shape[2])
    assert moment.now.allowed is relay
    return moment


def stopped(moment: Moment, flag: str) -> None:
    """The permit is gone, the relay was told so, and the first words say stop."""
    whole = moment.now
    assert flag in whole.flags and not whole.allowed
    assert [order for order in moment.orders if order.action == "cut"][-1].reason == flag
    assert whole.advice.startswith(
        (
            "Switch the charger off at the wall, air the room for an hour, then ",
            "Keep the charger off and air the room until ",
            "Keep the charger off: pull its plug, for the relay may close by itself at ",
        )
    )


@pytest.mark.parametrize("shape", BANKS)
@pytest.mark.parametrize("level", ["below-plates", -3.0])
def test_m11_plates_noted_bare_under_charge_stop_it_until_the_level_is_noted_back(shape: Any, level: Any) -> None:
    moment = charging(shape=shape)
    cell = cells_of(moment.bank)[-1]
    moment.hand("level", {cell: level})
    stopped(moment, "plates-bare")
    assert cell in moment.now.texts and not moment.now.latched
    moment.pass_time(400.0)
    assert not moment.now.allowed
    assert f"bare plates at {cell}" in moment.act("resume"), "mended first"
    moment.hand("level", {cell: "between"})
    moment.pass_time(400.0)
    assert not moment.now.allowed and "resume-due" in moment.now.flags, "whoever notes it is at the posts"
    assert moment.act("resume") == ""
    moment.pass_time(10.0)
    assert moment.now.allowed and "plates-bare" not in moment.now.flags


def test_m11_bare_plates_before_the_start_forbid_it() -> None:
    moment = Moment(bank_of())
    moment.prepare(voltage=24.6, current=0.0, **{PROBE: 25.0})
    moment.hand("level", {labels(moment.bank)[0]: "below-plates"})
    assert "below the plates at A1" in moment.act("start")
    assert "below the plates" in moment.act("prove")
    assert "arc inside" in moment.now.advice
    assert moment.hand("level", {"": "between"}) == ["unsure"]
    assert "A1 was noted bare" in str(moment.events[-1].detail["why"]) and moment.act("start") != ""
    moment.hand("level", {"A1": "between"})
    assert moment.act("start") == ""


def test_m11_a_level_meter_under_the_plates_stops_it_and_lets_it_go_on_by_itself() -> None:
    moment = charging(("level", 'unit = "mm"\nindex = "A2"'), level__A2=6.0)
    moment.pass_time(30.0, **{"level__A2": -1.0})
    stopped(moment, "plates-bare")
    assert "A2 (-1 mm" in moment.now.texts
    moment.pass_time(400.0, **{"level__A2": 4.0})
    assert moment.now.allowed


def test_m11_without_a_relay_a_person_is_told_to_switch_it_off() -> None:
    moment = charging(relay=False)
    moment.hand("level", {"A1": "below-plates"})
    assert (
        moment.now.advice.startswith("No relay here: switch the charger off now") and "plates-bare" in moment.now.flags
    )


def test_m11_a_level_over_the_mark_never_stops_a_charge() -> None:
    moment = charging()
    moment.hand("level", {"A1": "over-mark"})
    assert moment.now.allowed and {"level-wrong"} <= moment.now.flags


def test_m11_a_level_over_the_mark_is_drawn_down_before_a_resume() -> None:
    moment = charging()
    moment.hand("seen", {"A1": "crack"})
    moment.hand("level", {"A2": "over-mark"})
    moment.pass_time(4000.0, every=60.0)
    moment.hand("seen", {"A1": "crack gone"})
    moment.pass_time(60.0)
    assert {"resume-due", "level-wrong"} <= moment.now.flags
    derived = moment.derived
    assert (
        derived is not None and "raw the level down" in derived.next_step and "revival resume" not in derived.next_step
    )
    assert "level over the mark at A2" in moment.act("resume") and not moment.now.allowed
    moment.hand("level", {"A2": "mark"})
    moment.pass_time(60.0)
    assert "`revival resume`" in moment.now.advice and moment.act("resume") == ""


def test_m11_after_a_lost_journal_no_resume_is_named_that_would_be_refused() -> None:
    moment = charging()
    moment.hand("level", {"A2": "over-mark"})
    moment.fold(Command("north", "journal-lost", moment.at))
    moment.pass_time(60.0)
    assert "journal-lost" in moment.now.flags and moment.act("resume")
    assert "then give `revival resume`" not in moment.now.advice


@pytest.mark.parametrize("shape", BANKS)
@pytest.mark.parametrize("under_charge", [True, False])
def test_m12_a_block_that_reads_backwards_is_out_before_anything_else(shape: Any, under_charge: bool) -> None:
    moment = charging(shape=shape) if under_charge else Moment(bank_of(blocks=shape[0], cells=shape[1]))
    if not under_charge:
        moment.prepare(voltage=1.5 * moment.bank.cells, current=0.0, **{PROBE: 25.0})
    block = labels(moment.bank)[1]
    moment.hand("voltage", {block: -0.7 * shape[1]}, sure=True)
    assert "polarity-reversed" in moment.now.flags and not moment.now.allowed
    assert f"polarity of {block}" in moment.now.texts and "before anything else" in moment.now.advice
    assert "polarity" in moment.act("start")
    if under_charge:
        stopped(moment, "polarity-reversed")


def test_m12_a_block_meter_that_reads_backwards_does_the_same() -> None:
    moment = charging(("block_voltage", 'unit = "V"\nindex = "A3"'), block_voltage__A3=7.1)
    moment.pass_time(30.0, **{"block_voltage__A3": -1.2})
    stopped(moment, "polarity-reversed")


def test_m12_once_the_string_with_that_block_is_out_the_others_may_be_charged() -> None:
    bank = bank_of(strings=2, blocks=2)
    moment = Moment(bank)
    moment.begin(voltage=2.05 * bank.cells, current=0.0, **{PROBE: 25.0})
    moment.hand("voltage", {"B1": -4.0}, sure=True)
    assert not moment.now.allowed
    assert moment.act("arrange", act="isolate", number=2, sure=True) == ""
    assert "polarity-reversed" not in moment.now.flags
    assert "checklist" in moment.act("resume"), "joined anew, asked anew"
    assert moment.act("checklist", name="the keeper") == "" and moment.act("resume") == ""
    moment.pass_time(400.0)
    assert moment.now.allowed


DANGERS = [
    "it smells of rotten eggs",
    "Rotten egg smell",
    "smell of sulphur at the door",
    "saw a spark inside cell 2",
    "arcing inside",
    "a bang from the box",
    "smoke over the middle block",
    "boiling hot block",
    "too hot to touch",
]


@pytest.mark.parametrize("words", DANGERS)
@pytest.mark.parametrize("door", ["seen", "note"])
def test_m13_a_danger_that_somebody_notes_trips(words: str, door: str) -> None:
    moment = charging()
    moment.hand("seen", {"A2": words}) if door == "seen" else moment.hand("note", {}, note=words)
    whole = moment.now
    assert whole.latched == {"danger-noted"} and not whole.allowed
    assert moment.orders[-1].action == "cut"
    assert "Leave the room" in whole.advice and "touch no switch" in whole.advice
    assert ("A2" in whole.texts) is (door == "seen")
    moment.pass_time(400.0, current=0.0)
    assert moment.now.latched, "a trip waits for a person"
    assert "air the room from outside until" in moment.act("reset"), "nobody is sent in while gas may hang there"
    assert "`revival reset`: what tripped it is no longer seen" not in moment.now.advice
    moment.pass_time(3600.0)
    aired = moment.now.advice
    assert aired.startswith("Look from the door first") and "`revival reset`" in aired
    assert "Leave the room" not in aired, "who is sent in is not sent out beside it"
    assert moment.act("reset") == ""
    assert not moment.now.allowed and moment.act("resume") == ""
    moment.pass_time(400.0)
    assert moment.now.allowed


@pytest.mark.parametrize(
    "words",
    ["crack in the lid", "acid leaks at the corner", "the case bulges", "swollen case", "case cracked, no leak"],
)
@pytest.mark.parametrize("door", ["seen", "note"])
def test_m13_a_damaged_case_stops_the_charge_until_it_is_out_or_mended(words: str, door: str) -> None:
    moment = charging()
    moment.hand("seen", {"A2": words}) if door == "seen" else moment.hand("note", {}, note=words)
    stopped(moment, "case-damaged")
    assert not moment.now.latched and "never charged again" in moment.now.advice
    moment.hand("seen", {"": "all well"})
    moment.pass_time(400.0)
    assert not moment.now.allowed, "all well mends no case"
    texts = moment.now.texts
    assert "close by itself" not in texts and "told to stay open" not in texts, "no time brings it back"
    moment.hand("seen", {"": "block replaced, all well"})
    moment.pass_time(400.0)
    assert not moment.now.allowed and "resume-due" in moment.now.flags, "whoever notes it is at the posts"
    (told,) = [event.detail for event in moment.events if event.kind == "hand"][-1:]
    assert "the charger stays off until somebody gives `revival resume`" in str(told["cautions"])
    assert "come away from the posts" in moment.now.advice and "may stand at the posts" in moment.now.texts
    assert moment.act("resume") == ""
    moment.pass_time(10.0)
    assert moment.now.allowed


def test_m13_whoever_pours_water_beside_a_relay_that_comes_back_by_itself_hears_when() -> None:
    moment = charging(("level", 'unit = "mm"\nindex = "A2"'), level__A2=6.0)
    moment.pass_time(30.0, **{"level__A2": -1.0})
    assert not moment.now.allowed
    moment.hand("water", {"A2": 100.0})
    (told,) = [event.detail for event in moment.events if event.kind == "hand"]
    assert "the charger may come on by itself from " in str(told["cautions"])


def test_m13_a_noted_danger_sends_nobody_back_to_a_switch_in_the_room() -> None:
    moment = charging(relay=False)
    moment.hand("level", {"A1": "over-mark"})
    moment.hand("seen", {"A1": "smells of rotten eggs"})
    moment.hand("seen", {"A2": "crack"})
    said = f"{moment.now.advice} {moment.now.texts}"
    assert "touch no switch in it" in said and "at the wall" not in said, said
    assert "from outside the room at the panel, or leave it on where that cannot be" in said


def test_m11_a_sheet_of_every_cell_replaces_what_was_read_of_the_block() -> None:
    moment = charging()
    moment.hand("level", {"A2": -5.0})
    moment.hand("level", {"A2.1": 12.0, "A2.2": 12.0})
    assert "plates-bare" in moment.now.flags, "a cell is not read yet"
    moment.hand("level", {"A2.3": 12.0})
    assert "plates-bare" not in moment.now.flags


def test_m13_a_second_danger_hides_no_crack_and_no_resume_is_taken_over_it() -> None:
    moment = charging()
    moment.hand("seen", {"A1": "crack"})
    moment.pass_time(120.0, **{PROBE: 45.0})
    assert moment.derived is not None and {"over-temperature", "case-damaged"} <= set(moment.derived.unsafe)
    assert "over-temperature" in moment.now.latched and "crack at A1" in moment.now.texts.splitlines()[1]
    moment.pass_time(3600.0, **{PROBE: 35.0})
    assert moment.act("reset") == ""
    assert "crack at A1 is noted" in moment.act("resume")
    moment.pass_time(400.0)
    assert not moment.now.allowed and "crack at A1" in moment.now.texts.splitlines()[1]


@pytest.mark.parametrize(
    "words",
    [
        "all well",
        "no smell of eggs, no sparks, not hot",
        "warm, gassing evenly",
        "no cracks or leaks",
        "clean, sparkling",
        "sulfated 2 of 4",
        "nice and even",
    ],
)
def test_m13_notes_that_all_is_well_do_nothing(words: str) -> None:
    moment = charging()
    before = moment.now.flags
    moment.hand("seen", {"A2": words})
    moment.hand("note", {}, note=words)
    assert moment.now.allowed and not moment.now.latched
    assert moment.now.flags - before <= {"look-again"}


def test_m13_two_hundred_looks_later_the_crack_is_still_known() -> None:
    moment = charging()
    moment.hand("seen", {"A2": "cracked"})
    for _ in range(220):
        moment.hand("seen", {"A1": "clean"})
    assert "case-damaged" in moment.now.flags and not moment.now.allowed


def test_m13_a_weak_block_waits_until_it_suits_and_a_cracked_one_does_not() -> None:
    now = ChargerNow(state="on", relay="closed")
    assert lines("imbalance", now)[0].startswith("When nothing charges any more, air the room for an hour, then")
    assert lines("case-damaged", now)[0].startswith("Switch the charger off at the wall, air the room")
    opens = ChargerNow(state="off", relay="open", open_until=1_795_590_123.0)
    assert lines("imbalance", opens)[0].startswith("Keep the charger off: pull its plug, for the relay may close by")


def test_m13_without_a_relay_the_first_words_say_who_must_switch_it_off() -> None:
    moment = charging(relay=False)
    moment.hand("seen", {"A1": "smells of rotten eggs"})
    assert moment.now.advice.startswith("No relay here: switch the charger off now, from outside the room")


@pytest.mark.parametrize("limit", [0.01, 0.005])
def test_m14_hydrogen_near_its_limit_warns_and_the_trip_stays_where_it_is(limit: float) -> None:
    bank = bank_of(("hydrogen", 'unit = "percent"'), keys=f'limits = {{ hydrogen = "{100 * limit} percent" }}')
    moment = Moment(bank)
    moment.begin(voltage=24.6, current=0.0, hydrogen=0.3 * limit, **{PROBE: 25.0})
    moment.pass_time(60.0, voltage=28.2, current=10.0)
    assert "hydrogen-high" not in moment.now.flags
    moment.pass_time(2 * 3600.0, every=30.0, hydrogen=0.9 * limit)
    whole = moment.now
    assert "hydrogen-high" in whole.flags and whole.allowed and not whole.latched
    assert "Open more" in whole.advice and "fan" in whole.advice
    assert moment.memory.flags["hydrogen-high"].limit == limit
    moment.pass_time(60.0, hydrogen=1.01 * limit)
    assert moment.now.latched == {"gas"}


@pytest.mark.parametrize("rested_hours", [7.0, 20.0])
def test_a_bank_that_has_rested_six_hours_is_to_be_read_and_then_tested_and_not_to_wait_on(rested_hours: float) -> None:
    # 6 h at least, better 24 h: common practice, no source.
    moment = charging()
    assert moment.act("finish", sure=True) == ""
    moment.pass_time(3600.0, every=60.0, voltage=2.12 * moment.bank.cells, current=0.0)
    assert "wait 6 h at least" in moment.now.advice
    moment.pass_time(3600.0 * (rested_hours - 1.0), every=120.0)
    assert moment.now.advice.startswith("Read the gravity of every cell") and "wait 6 h" not in moment.now.advice
    moment.hand("gravity", dict.fromkeys(cells_of(moment.bank), 1.25), temperature=25.0)
    moment.pass_time(60.0)
    assert moment.now.advice.startswith("Test the capacity with `revival test`, or give the verdict")
    assert moment.act("test") == ""


@pytest.mark.parametrize("relay", [True, False])
def test_no_chore_asks_anybody_in_before_the_hour_of_a_noted_danger_is_over(relay: bool) -> None:
    moment = Moment(bank_of(relay=relay))
    if relay:
        moment.begin(voltage=25.2, current=0.0, electrolyte_temperature=24.0)
    else:
        moment.pass_time(60.0, voltage=25.2, current=0.0, electrolyte_temperature=24.0)
        assert moment.act("start") == ""
    moment.pass_time(600.0, voltage=27.0, current=12.0)
    moment.hand("note", {}, note="it smells of rotten eggs")
    noted = moment.at
    while moment.at < noted + 3580.0:
        moment.pass_time(60.0 if moment.at < noted + 3500.0 else 10.0)
        assert moment.derived is not None and moment.derived.chores == (), moment.at - noted
        assert not moment.now.flags & {"presence-due", "level-due", "gravity-due", "string-currents-due"}
    moment.pass_time(60.0)
    assert "presence-due" in moment.now.flags, "then somebody looks in"
    assert moment.derived is not None and "presence-due" in {str(row["chore"]) for row in moment.derived.chores}


@pytest.mark.parametrize("relay", [True, False])
def test_after_a_noted_danger_and_a_finish_nobody_is_sent_round_the_bank_and_a_start_names_the_trip(
    relay: bool,
) -> None:
    moment = charging(relay=relay)
    moment.hand("seen", {"A1": "stinks of rotten eggs"})
    noted = moment.at
    if relay:
        assert moment.act("finish", sure=True) == ""
    moment.pass_time(60.0, current=0.0, voltage=25.0)
    until = f"nobody goes in before {clock(60.0 * ceil((noted + 3600.0) / 60.0))}"
    for act in ("start", "checklist", *(("prove",) if relay else ())):
        why = moment.act(act, name="Hank") if act == "checklist" else moment.act(act)
        assert why.startswith("tripped by danger-noted: ") and until in why, act
    moment.pass_time(3600.0, every=60.0)
    assert "reset first" in moment.act("checklist", name="Hank") and "reset first" in moment.act("start")
    assert moment.act("reset") == ""
    assert moment.act("checklist", name="Hank") == ""


@pytest.mark.parametrize("words", ["A2 is dry", "no acid left in A2", "plates showing in A2"])
def test_m11_plates_that_are_seen_dry_forbid_charging_until_the_level_is_noted(words: str) -> None:
    moment = charging()
    moment.hand("seen", {"": words})
    stopped(moment, "plates-bare")
    assert "plates at A2" in moment.now.texts
    moment.hand("seen", {"": "no crack in A2"})
    assert "plates-bare" in moment.now.flags, "what says nothing of acid covers no plate"
    moment.hand("level", {"A2": "between"})
    assert "plates-bare" not in moment.now.flags


@pytest.mark.parametrize("words", ["A2 is wet", "a strange noise in A2", "something is wrong in there"])
def test_m11_worried_words_that_are_not_understood_are_asked_back_with_what_to_do(words: str) -> None:
    moment = charging()
    assert moment.hand("seen", {"": words}) == ["unsure"]
    why = str(moment.events[-1].detail["why"])
    assert words in why and "switch the charger off at the wall" in why and "plates dry" in why
    assert "hand" in moment.hand("seen", {"": words}, sure=True)


@pytest.mark.parametrize("words", ["all well", "A2 gasses evenly", "moved the table", "crack in A2"])
def test_m11_what_is_understood_or_no_worry_is_not_asked_back(words: str) -> None:
    assert "unsure" not in charging().hand("seen", {"": words})
