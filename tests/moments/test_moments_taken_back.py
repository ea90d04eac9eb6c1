"""What was noted and is gone, or was taken back: what stands all the same is said in one place, with what is next."""

from __future__ import annotations

import re

import pytest

from rules.events import moment as written
from rules.safety import out_until
from rules.step import trip_kept
from tests.moments.test_moments_fire_and_smoke import charged
from tests.support.moments import Moment


def heard(moment: Moment) -> str:
    """What whoever noted something last has heard at once."""
    last = [event.detail for event in moment.events if event.kind == "hand"][-1]
    return " ".join(str(each) for each in last.get("cautions", ()))  # type: ignore[attr-defined]


@pytest.mark.parametrize("how", ["gone", "undo"])
def test_a_crack_that_was_dirt_leaves_a_resume_to_be_given_and_says_so(how: str) -> None:
    moment = charged()
    moment.hand("seen", {"A2": "cracked"})
    moment.pass_time(60.0)
    moment.hand("seen", {"A2": "crack gone, it was only dirt"}) if how == "gone" else moment.hand("seen", {}, undo=True)
    assert "the charger stays off until somebody gives `revival resume`" in heard(moment)
    moment.pass_time(10.0)
    assert "crack at A2 was noted and stands no longer" in moment.now.texts and "`revival resume`" in moment.now.advice


def test_of_two_cracks_the_one_that_is_left_is_named_with_how_it_is_put_right() -> None:
    moment = charged()
    moment.hand("seen", {"A2": "cracked"})
    moment.hand("seen", {"A3": "leaks"})
    moment.hand("seen", {"A2": "crack gone"})
    said = heard(moment)
    assert "leak at A3 still stands, and nothing charges while it does" in said and '"A3 leak gone"' in said


def test_without_a_relay_who_finds_no_crack_is_told_before_the_charger_comes_on() -> None:
    moment = charged(relay=False)
    moment.hand("seen", {"A2": "cracked"})
    moment.hand("seen", {"A2": "crack gone"})
    assert "nothing that was noted at the posts stands any more: come away from them" in heard(moment)


@pytest.mark.parametrize("relay", [True, False])
def test_nobody_goes_in_before_one_moment_and_every_surface_names_the_same(relay: bool) -> None:
    # The hour of air counts from the note, or from the last current where that flowed on after it.
    moment = charged(relay)
    moment.hand("seen", {"A2": "stinks of rotten eggs"})
    moment.pass_time(180.0, every=10.0)
    moment.pass_time(60.0, every=10.0, current=0.0, voltage=25.4)
    until = written(out_until(moment.lock), up=True)
    assert out_until(moment.lock) >= moment.memory.charged_at + 3600.0
    refused = moment.act("reset")
    moment.hand("seen", {}, undo=True)
    said = f"{moment.now.advice} {refused} {heard(moment)} {trip_kept(moment.memory)}"
    told = {each for each in re.findall(r"\d{4}-\d\d-\d\dT\d\d:\d\dZ", said) if each > written(moment.at)}
    assert told == {until}, said


@pytest.mark.parametrize("relay", [True, False])
@pytest.mark.parametrize("how", ["undo", "all well"])
def test_a_false_alarm_costs_its_hour_and_says_what_to_do_meanwhile(relay: bool, how: str) -> None:
    moment = charged(relay)
    moment.hand("seen", {"A2": "stinks of rotten eggs"})
    moment.pass_time(60.0, every=30.0, current=0.0, voltage=25.4)
    moment.hand("seen", {}, undo=True) if how == "undo" else moment.hand("seen", {"": "all well, no smell"})
    said = heard(moment)
    assert "the trip stands all the same (danger-noted: somebody noted: smell of rotten eggs at A2)" in said
    assert "only `revival reset` does, from 20" in said and ("`revival resume` after it" in said) is relay
    assert "until then nobody goes in, false alarm or not: air the room from outside" in said
    if how == "undo":
        assert "Stay out, touch no switch in the room" in moment.now.texts
        assert "was taken back, but nobody here knows which of the two is true" in moment.now.texts
        assert "never goes back on charge" not in moment.now.texts, "no block is blamed for a word that was taken back"
    moment.pass_time(3700.0, every=60.0)
    if how == "undo" and relay:
        assert moment.now.advice.startswith("Look from the door first, and where nothing smells")
    assert moment.act("reset") == ""


def test_several_dangers_that_were_taken_back_are_told_as_several() -> None:
    moment = charged()
    for where in ("A1", "A2", "A3", "A4"):
        moment.hand("seen", {where: "stinks of rotten eggs"})
        moment.pass_time(30.0)
    for _ in range(4):
        moment.hand("seen", {}, undo=True)
    moment.pass_time(10.0)
    assert "what was noted was taken back since" in moment.now.texts
    assert "the entry of" not in moment.now.texts


def test_the_limit_of_a_trip_by_hand_stands_beside_what_was_read_after_that_was_taken_back() -> None:
    moment = charged(relay=False)
    moment.hand("temperature", {"A2": 55.0}, sure=True)
    moment.hand("temperature", {}, undo=True)
    moment.pass_time(10.0)
    said = next(line for line in moment.now.texts.splitlines() if line.startswith("north: TRIPPED"))
    assert said.endswith("that reading was taken back: the trip stays until a person resets it"), said
    assert re.search(r"by hand[^;]*, limit 4\d\.\d °C; yet at ", said), said


@pytest.mark.parametrize("again", ["smokes", "stinks of rotten eggs"], ids=["another", "the same"])
def test_a_danger_that_is_noted_after_one_was_taken_back_is_no_false_alarm(again: str) -> None:
    moment = charged()
    moment.hand("seen", {"A2": "stinks of rotten eggs"})
    moment.pass_time(60.0, every=30.0, current=0.0, voltage=25.4)
    moment.hand("seen", {}, undo=True)
    moment.pass_time(60.0, every=30.0)
    moment.hand("seen", {"A3": again} if again == "smokes" else {"A2": again})
    assert "taken back" not in moment.now.texts and "a false alarm or not" not in moment.now.texts
    assert ("call the fire service" in moment.now.texts) is (again == "smokes")


def test_smoke_taken_back_is_not_aired_while_any_shows_and_a_fire_is_the_fire_service_s() -> None:
    moment = charged()
    moment.hand("seen", {"A2": "smokes"})
    moment.hand("seen", {}, undo=True)
    assert "its door stays closed as long as anything smokes" in heard(moment)
    assert "keep its door closed: smoke was noted and taken back" in moment.now.texts
    other = charged()
    other.hand("note", {}, note="fire!")
    other.hand("note", {}, undo=True)
    assert "nobody goes in before the fire service says so" in heard(other) and "air the room" not in heard(other)


@pytest.mark.parametrize("words", ["thunderstorm tonight", "loose terminal on A2", "A3 bulges", "A1.1 sulfated 2"])
def test_what_has_nothing_to_do_with_a_trip_is_told_in_one_short_line_that_it_stands(words: str) -> None:
    moment = charged()
    moment.hand("seen", {"A2": "stinks of rotten eggs"})
    moment.pass_time(60.0)
    moment.hand("seen", {"": words})
    assert "the trip stands: nobody goes in before 20" in heard(moment)
    assert "all the same" not in heard(moment) and "no note" not in heard(moment)


def test_who_sees_a_cell_boil_after_a_danger_is_sent_nowhere() -> None:
    moment = charged()
    moment.hand("seen", {"A2": "spark"})
    moment.hand("seen", {"": "A2 is boiling"})
    assert "boiling at A2: violent gassing, or acid that is hot: nobody goes in to look before 20" in heard(moment)
    assert "read that cell" not in heard(moment)


def test_a_cell_by_its_number_alone_is_asked_about_by_its_block() -> None:
    moment = charged()
    assert moment.hand("seen", {"": "cell 3 bubbling hard"}) == ["unsure"]
    assert "which block is meant by cell 3? Name it by its label" in str(moment.events[-1].detail["why"])
    assert "hand" in moment.hand("seen", {"": "A2 cell 3 bubbling hard"})
