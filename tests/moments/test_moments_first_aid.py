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
