"""Of many dangers the gravest stands in the headline and the others are counted; all of them stand below it."""

from __future__ import annotations

from bridge.commands.status import safe
from bridge.words.bank_status import TEXT_OF_A_HUB, told_to
from tests.moments.test_moments_fire_and_smoke import charged

NOTED = (
    "A1 smells of rotten eggs", "A2 is hot and hisses", "smoke at A3", "A1 sparks", "my eyes sting", "A4 post is hot",
    "acid sprays from A2",
)  # fmt: skip


def test_the_headline_names_the_gravest_of_many_dangers_and_counts_the_others() -> None:
    moment = charged()
    for words in NOTED:
        moment.hand("note", {}, note=words)
        moment.pass_time(60.0, every=30.0)
    moment.hand("temperature", {"": 61.0}, sure=True)
    moment.pass_time(60.0)
    derived, whole = moment.derived, moment.now
    assert derived is not None
    plain = derived._asdict() | {"flags": [flag._asdict() for flag in derived.flags]}
    headline, *below = safe("north", plain)
    assert headline == "north: TRIPPED: danger-noted: somebody noted: smoke at A3, and 7 more dangers; and 2 more"
    assert below[:2] == [
        "  and over-temperature: 61.0 degC in the electrolyte (by hand), limit 43.3 degC",
        "  and connection-bad: somebody noted: hot connection at A4",
    ]
    every = (
        "Noted and not reset, the gravest first: smoke at A3; acid that sprays at A2; smell of rotten eggs at A1; "
        "spark at A1; somebody who feels ill at the bank; hissing at A2; hot block at A2; hot connection at A4."
    )
    assert every in derived.then and every in derived.flags[0].action and "before: " not in whole.texts
    told = told_to(derived, "degC").trip_reason
    assert told.startswith("danger-noted: somebody noted: smoke at A3") and len(told) <= TEXT_OF_A_HUB


def test_a_danger_that_joins_one_that_is_graver_does_not_take_its_place_in_the_headline() -> None:
    moment = charged()
    for words in ("smoke at A3", "A1 smells of rotten eggs", "A2 hisses"):
        moment.hand("note", {}, note=words)
    assert moment.derived is not None and moment.derived.safe_why.startswith("somebody noted: smoke at A3, and 2 more")


def test_a_reset_is_refused_with_all_that_stands_against_it_and_the_hour_until_which() -> None:
    moment = charged()
    moment.pass_time(120.0, electrolyte_temperature=45.0)
    moment.hand("seen", {"": "A2 smokes"})
    moment.pass_time(60.0)
    assert moment.now.latched == {"over-temperature", "danger-noted"}
    against = moment.act("reset")
    assert against.startswith("a danger was noted: air the room from outside until 2026-11-25T")
    assert "; and over-temperature is still there" in against
    moment.pass_time(3700.0, every=60.0, current=0.0, voltage=25.4)
    assert moment.act("reset").startswith("over-temperature is still there"), "the hour is over, the heat is not"
    moment.pass_time(120.0, electrolyte_temperature=41.0)
    assert moment.act("reset") == ""


def test_what_is_said_of_cooling_and_when_a_reset_is_taken_are_one_story() -> None:
    moment = charged()
    moment.pass_time(120.0, electrolyte_temperature=45.0)
    assert "before anything charges again: a reset is taken as soon as it is under its limit" in moment.now.texts
    assert "over-temperature is still there" in moment.act("reset")
    moment.pass_time(120.0, electrolyte_temperature=41.0)
    assert moment.act("reset") == ""
