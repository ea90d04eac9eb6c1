"""A fire is a fire everywhere: out, call, no air to it; smoke says when it is one (common practice, no source)."""

from __future__ import annotations

import pytest

from bridge.words.bank_status import gas
from rules.hand import dangers
from tests.support.moments import Moment, bank_of

WARMTH = {"electrolyte_temperature": 25.0}
#: What may not be said to anybody while a fire stands noted.
NOT_BESIDE_A_FIRE = ("air it from outside", "air the room", "look for the block", "of air needed", "in the room at the")


def charged(relay: bool = True) -> Moment:
    moment = Moment(bank_of(relay=relay))
    moment.begin(voltage=25.0, current=0.0, **WARMTH)
    moment.pass_time(900.0, voltage=28.2, current=10.0)
    return moment


@pytest.mark.parametrize("words", ["fire!", "A2 is burning", "flames at A2", "A2 caught fire", "A2 ablaze", "it burns"])
@pytest.mark.parametrize("relay", [True, False])
def test_a_fire_gets_everybody_out_and_the_fire_service_called_and_is_given_no_air(words: str, relay: bool) -> None:
    moment = charged(relay)
    moment.hand("note", {}, note=words)
    now, derived = moment.now, moment.derived
    assert derived is not None and "fire-noted" in now.latched and not now.allowed
    assert "somebody noted: fire at " in derived.safe_why and "smoke" not in now.texts
    first = derived.next_step
    assert first.startswith(
        "Get everybody out and call the fire service from outside: open no door or window on a fire"
    )
    assert "do not air it" in first and "only where that is safe" in first and "until the fire service says so" in first
    for wrong in NOT_BESIDE_A_FIRE:
        assert wrong not in now.texts, wrong
    assert gas(derived) == ""
    moment.pass_time(600.0, every=60.0, current=0.0, voltage=25.4)
    assert "the fire service says so" in moment.act("reset"), "not before"
    moment.pass_time(4000.0, every=60.0)
    assert moment.now.advice.startswith("Get everybody out"), "nobody is sent in by the clock alone"
    assert "look for the block" not in moment.now.texts and "Once the fire service has let you in" in moment.now.texts
    assert moment.act("reset") == ""
    assert "fire" not in moment.now.texts


def test_what_else_stands_waits_for_the_fire_service() -> None:
    moment = charged()
    moment.hand("seen", {"A2": "cracked"})
    moment.hand("seen", {"A1": "stinks"})
    moment.hand("seen", {"A1": "fire, and it smokes"})
    assert {"fire-noted", "danger-noted"} <= moment.now.latched and "case-damaged" in moment.now.flags
    for wrong in NOT_BESIDE_A_FIRE:
        assert wrong not in moment.now.texts, wrong
    assert moment.now.texts.splitlines()[1].startswith("north: TRIPPED: fire-noted: somebody noted: fire at A1")


def test_smoke_says_when_the_fire_service_is_called_and_a_smell_does_not() -> None:
    moment = charged()
    moment.hand("seen", {"A3": "bulging and smokes"}, sure=True)
    assert "fire-noted" not in moment.now.latched and "danger-noted" in moment.now.latched
    said = moment.now.texts
    assert "call the fire service from outside and open nothing" in said and "the block that smoked" in said
    assert "the block that smells" not in said
    other = charged()
    other.hand("seen", {"A3": "smells of rotten eggs"}, sure=True)
    assert "fire service" not in other.now.texts and "look for the block that smells" in other.now.texts


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("no fire, no flames", ()),
        ("fire extinguisher stands at the door", ()),
        ("fire brigade was called for the neighbour", ()),
        ("the generator fires up", ()),
        ("burning smell at A2", ("smoke",)),
        ("it smells of burning plastic", ("bad smell", "smoke")),
        ("A2 burnt", ("smoke",)),
        ("my throat burns", ("somebody who feels ill",)),
        ("acid burns on my hand", ("somebody who is hurt",)),
        ("flames and smoke", ("fire", "smoke")),
        ("the case burns and smells", ("fire", "bad smell")),
    ],
)
def test_what_burns_and_is_no_fire_is_told_apart(words: str, what: tuple[str, ...]) -> None:
    assert dangers(words) == what


def test_a_fire_noted_and_taken_back_is_said_of_the_fire_alone() -> None:
    moment = charged()
    moment.hand("note", {}, note="fire!")
    moment.hand("note", {}, undo=True)
    assert "was taken back since" in moment.lock.latched["fire-noted"].reason and "fire-noted" in moment.now.flags


def test_every_line_names_the_later_moment_for_going_back_in() -> None:
    moment = charged()
    moment.hand("seen", {"A2": "cracked"})
    moment.pass_time(300.0, every=60.0, current=0.0, voltage=25.4)
    moment.hand("seen", {"A1": "stinks"})
    moment.pass_time(60.0)
    derived = moment.derived
    assert derived is not None
    until = {word for line in moment.now.texts.splitlines() for word in _moments_behind(line, "until ")}
    assert len(until) == 1, until


def _moments_behind(line: str, word: str) -> list[str]:
    return [part[:17] for part in line.split(word)[1:] if part[:2] == "20"]
