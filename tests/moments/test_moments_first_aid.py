"""Somebody is hurt, or acid reached an eye or skin: first aid is said before the rest (common practice, no source)."""

from __future__ import annotations

import pytest

from rules.hand import HURT, dangers
from rules.plan.words import CAUTIONS
from tests.moments.test_moments_fire_and_smoke import charged

FIRST = "First aid before anything else"


@pytest.mark.parametrize(
    "words",
    [
        "A3 exploded, acid in my eye", "acid on my leg", "Ann is hurt", "somebody hurt", "he is badly injured",
        "splashed my face", "the keeper lies unconscious",
    ],
)  # fmt: skip
@pytest.mark.parametrize("relay", [True, False])
def test_who_is_hurt_is_helped_before_anything_else_is_said(words: str, relay: bool) -> None:
    moment = charged(relay)
    moment.hand("note", {}, note=words)
    now, derived = moment.now, moment.derived
    assert derived is not None and "danger-noted" in now.latched and not now.allowed
    assert derived.next_step.startswith(FIRST) and "Leave the room" in " ".join(derived.then)
    for said in ("much clean water", "at least 15 minutes", "lids held open", "clothes", "emergency service"):
        assert said in derived.next_step
    flag = next(flag for flag in derived.flags if flag.name == "danger-noted")
    assert flag.action.startswith(FIRST)
    moment.pass_time(4000.0, every=60.0, current=0.0, voltage=25.4)
    assert FIRST not in moment.now.texts, "nobody needs it an hour later"


def test_beside_a_fire_first_aid_comes_first_and_the_fire_right_behind_it() -> None:
    moment = charged()
    moment.hand("note", {}, note="A2 burns, acid in my eyes")
    derived = moment.derived
    assert derived is not None and {"fire-noted", "danger-noted"} <= moment.now.latched
    assert derived.next_step.startswith(FIRST) and derived.then[0].startswith("Get everybody out")


@pytest.mark.parametrize("words", ["A3 exploded", "smoke at A2", "nobody is hurt, A3 exploded", "a bang, none hurt"])
def test_a_danger_in_which_nobody_is_hurt_asks_for_no_first_aid(words: str) -> None:
    moment = charged()
    moment.hand("note", {}, note=words)
    assert "danger-noted" in moment.now.latched and FIRST not in moment.now.texts


@pytest.mark.parametrize("words", ["it does not hurt", "nobody was hurt", "acid bought", "nobody injured"])
def test_no_harm_is_no_danger(words: str) -> None:
    assert HURT not in dangers(words)


def test_the_minutes_are_those_of_the_cautions() -> None:
    assert any("rinse for 15 minutes" in caution for caution in CAUTIONS)


@pytest.mark.parametrize(
    "words",
    [
        "my dad is lying on the floor", "he lies on the floor beside the bank", "she fainted", "dad collapsed in there",
        "he is unconcious", "he's not breathing", "he does not breathe", "my neighbour is lying on the floor",
        "my father has fallen", "he does not wake up", "I am dizzy", "I feel faint", "got an electric shock",
        "she is burned by acid", "he burned himself", "the dog fainted beside the charger", "acid got in his eye",
        "my head hurts", "I don't feel well", "call an ambulance", "child drank battery acid",
        "mein Vater liegt auf dem Boden", "er atmet nicht mehr", "mir ist schwindlig", "er ist bewusstlos",
        "mon père est par terre", "il ne respire plus", "mi papá está en el suelo", "no respira", "se desmayó",
        "mio padre è a terra", "è svenuto", "meu pai está no chão", "não respira", "hij ademt niet",
        "mijn vader ligt op de grond", "han andas inte", "hon svimmade", "han trækker ikke vejret", "han puster ikke",
        "nie oddycha", "ojciec leży na podłodze", "nedýchá", "omdlel",
    ],
)  # fmt: skip
def test_somebody_who_is_down_or_dizzy_trips_and_is_helped_without_a_second_one_going_in(words: str) -> None:
    moment = charged()
    moment.hand("note", {}, note=words)
    derived = moment.derived
    assert derived is not None and "danger-noted" in moment.now.latched and not moment.now.allowed
    assert derived.next_step.startswith(FIRST)
    for said in ("call the emergency service", "fresh air", "go in after nobody where gas or smoke may be"):
        assert said in derived.next_step


@pytest.mark.parametrize(
    "words",
    [
        "the spanner is lying on the floor", "a cable lies on the ground", "I put the block on the floor",
        "the voltage collapsed", "A2 is dead", "the needle does not move", "das Kabel liegt am Boden",
        "dad is not lying on the floor", "the bank does not wake up", "I cannot see the plates",
    ],
)  # fmt: skip
def test_a_thing_that_lies_there_is_nobody(words: str) -> None:
    moment = charged()
    moment.hand("note", {}, note=words)
    assert not moment.now.latched


@pytest.mark.parametrize("words", ["dad sleeps in the battery room", "someone screams", "nobody fainted", "help!"])
def test_who_may_be_down_is_asked_about(words: str) -> None:
    moment = charged()
    assert "unsure" in moment.hand("note", {}, note=words)
    assert moment.now.allowed
