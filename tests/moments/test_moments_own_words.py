"""What this program calls a danger anywhere is understood as that danger when somebody types it back.

Words: those of its own prints, help, checklist, cautions and README, collected by hand; what each is taken as is common
practice, no source.
"""

from __future__ import annotations

import pytest

from tests.moments.test_moments_fire_and_smoke import charged
from tests.support.moments import Moment

#: Flag or hazard that follows -> what the program itself says of it, and what people make of it.
FOLLOWS = {
    "plates-bare": (
        "I can see the plates in A3", "plates visible A3", "level is below the plates in A3", "A3 below-plates",
        "A3 at-plates", "level at or below the plates at A3", "acid too low in A3", "A3.1 plates dry",
        "plates bare in A3",
        "are plates bare in A3?", "looks like bare plates in A3", "plates stick out of the acid in A3",
        "dry battery A3",
        "the plates of A3 were bare", "plates are not covered in A3", "A3 and A4 are dry",
        "plates hardly covered in A3",
        "no acid over the plates in A3", "plates fell dry in A3",
    ),
    "case-damaged": (
        "A2 cracked", "A2 leaking", "A2 leaks", "A2 bulging", "A2 frozen", "ice in A2",
        "a cracked, leaking or bulging A2",
        "looks like a crack in A2", "is A2 bulging?", "A2 and A3 are swollen", "A2 was leaking", "acid on the floor",
        "acid spills out of A2", "a block is cracked", "does A2 leak?", "acid all over the floor under A2",
        "a bulge in A2",
        "a leak at A2", "a crack in A1", "could A2 be frozen", "acid is dripping from A2",
    ),
    "connection-bad": ("A2 terminal loose", "A2 cable cracked", "loose connection at A2", "is the post of A2 loose?",
                       "posts of A2 are loose", "warm connection at A2"),
    "fire-noted": ("fire", "A2 is on fire", "a flame is seen", "flames at A2", "is that a fire?", "A2 burns",
    "A2 caught fire"),
    "danger-noted": (
        "stinks", "rotten eggs", "smell of rotten eggs", "A2 hot", "hot block at A2", "sparks", "A2 sparks", "smoke",
        "A2 smokes", "a bang", "A2 hissing", "acid sprays from A2", "post hot", "A2 post hot", "hot connection at A2",
        "a block that smells", "one block hotter than the rest", "A2 hotter than the rest",
        "A2 much hotter than the rest",
        "A2 is the hottest block", "A2 too hot to touch", "A2 looks hot", "is A2 hot?", "blocks are hot", "A2 was hot",
        "the charger is hot", "the charger was too hot to touch", "somebody who is hurt", "somebody who feels ill",
        "sparking connection at A2", "bad smell", "spark at A2", "an arc at A2", "it smelled of eggs",
        "it looks like smoke",
        "boiling hot block", "scorched plug", "A2 melted",
    ),
}  # fmt: skip
#: What may be a danger and is asked back, with a word of the answer.
ASKED = {
    "A2 is very warm": "hotter than the rest",
    "A2 warmer than the others": "hotter than the rest",
    "the case is warmer than the others": "revival record temperature",
    "A2 runs warm": "revival record temperature",
    "A2 does not gas and runs warm": "revival record temperature",
    "all well but A2 is warmer than the rest": "revival record temperature",
    "the bank warms faster than charging explains": "revival record temperature",
    "ventilation blocked": "does not carry the gas away",
    "the fan stopped": "does not carry the gas away",
    "the fan reports off": "does not carry the gas away",
    "the fan does not run": "does not carry the gas away",
    "the door or vent reports closed": "does not carry the gas away",
    "no fresh air in there": "does not carry the gas away",
    "hydrogen alarm": "does not carry the gas away",
    "child came in and lit a cigarette": "a flame or a spark where the gas is",
    "a heater in the room": "a flame or a spark where the gas is",
    "acid low in A3": "covers the plates",
    "A3 needs water": "covers the plates",
    "A2 reads backwards": "revival record voltage",
    "A2 is reversed": "revival record voltage",
    "A2 shorted": "revival record voltage",
    "frost on A2": "say it as one of",
    "the barn cat smells of eggs": "taken so it trips",
    "hot water bottle": "not understood",
    "fire drill": "not understood",
    "smoke free": "not understood",
    "smoke-free shed": "not understood",
}
#: Nobody is asked about these, and nothing follows.
WELL = (
    "all well", "fan runs", "window open", "ventilation good", "no plates visible", "plates covered",
    "not hotter than the rest",
    "A2 not very warm", "plates are white in A2", "water ok", "the case is warm", "no heat, no smell", "nothing hot",
)  # fmt: skip


def cautions(moment: Moment) -> tuple[str, ...]:
    """What whoever noted something last heard at once."""
    detail = next(event.detail for event in reversed(moment.events) if event.kind == "hand")
    said = detail.get("cautions", ())
    assert isinstance(said, tuple)
    return said


@pytest.mark.parametrize(("flag", "words"), [(flag, words) for flag, each in FOLLOWS.items() for words in each])
@pytest.mark.parametrize("kind", ["seen", "note"])
def test_what_the_program_calls_a_danger_is_one_when_it_is_typed_back(kind: str, flag: str, words: str) -> None:
    moment = charged()
    moment.hand(kind, {"": words} if kind == "seen" else {}, note=words if kind == "note" else "")
    moment.pass_time(20.0)
    assert flag in moment.now.flags and not moment.now.allowed, moment.now.flags


@pytest.mark.parametrize(("words", "why"), ASKED.items())
def test_what_may_be_a_danger_is_asked_back_with_what_is_done_and_said(words: str, why: str) -> None:
    moment = charged()
    assert "unsure" in moment.hand("seen", {"": words})
    assert why in str(moment.events[-1].detail["why"])
    assert moment.now.allowed and not moment.now.latched


@pytest.mark.parametrize("words", WELL)
def test_what_is_well_is_neither_asked_about_nor_a_danger(words: str) -> None:
    moment = charged()
    assert "unsure" not in moment.hand("seen", {"": words})
    moment.pass_time(20.0)
    assert moment.now.allowed and not moment.now.latched


@pytest.mark.parametrize(
    "words", ["smoke-free shed but A2 smokes", "fire drill, and A2 is hot", "hot day, rotten eggs"]
)
def test_harmless_words_hide_no_danger_beside_them(words: str) -> None:
    moment = charged()
    moment.hand("note", {}, note=words)
    assert "danger-noted" in moment.now.latched


def test_a_hot_charger_is_no_hot_block_and_is_not_sought_among_the_blocks() -> None:
    moment = charged()
    moment.hand("seen", {"": "the charger is hot"})
    whole = moment.now
    assert "hot charger at the bank" in whole.texts and "hot block" not in whole.texts
    assert "while the charger cools" in whole.texts and "look for the block" not in whole.texts
    moment.pass_time(4000.0, every=60.0, current=0.0, voltage=25.4)
    assert "its plug pulled until it has cooled" in moment.now.advice and "take it out" not in moment.now.advice
    assert moment.act("reset") == ""


@pytest.mark.parametrize(
    ("before", "words", "what"),
    [
        ("A2 leaks", "A3 is swollen", "bulge at A3"),
        ("A2 leaks", "acid on the floor", "leak at the bank"),
        ("A2 leaks", "A2 cracked", "crack at A2"),
        ("plates dry in A2", "plates dry in A3", "bare plates at A3"),
        ("A1 terminal loose", "A4 terminal loose", "loose connection at A4"),
    ],
)
@pytest.mark.parametrize("trip", ["A2 smokes", ""])
def test_damage_that_joins_another_is_said_before_the_trip_that_stands(
    trip: str, before: str, words: str, what: str
) -> None:
    moment = charged()
    for told in (trip, before) if trip else (before,):
        moment.hand("seen", {"": told})
    moment.pass_time(20.0)
    moment.hand("seen", {"": words})
    first, *others = cautions(moment)
    assert first == f"noted: {what}; nothing charges while it stands, whatever is reset"
    assert any("the trip stands: nobody goes in before " in each for each in others) is bool(trip)


def test_damage_whose_flag_says_it_is_not_said_twice() -> None:
    moment = charged()
    moment.hand("seen", {"": "A2 smokes"})
    moment.hand("seen", {"": "A3 is swollen"})
    assert not any(each.startswith("noted: ") for each in cautions(moment))
    assert moment.events[-1].detail["reason"] == "somebody noted: bulge at A3"


def test_water_and_level_in_words_are_pointed_to_where_they_count() -> None:
    moment = charged()
    moment.hand("seen", {"": "plates dry in A3.1"})
    moment.pass_time(20.0)
    moment.hand("seen", {"": "A3.1 topped up, plates covered"})
    said = "\n".join(cautions(moment))
    assert "`revival record level north A3.1=10mm` and `revival record water north A3.1=300ml`" in said
    moment.pass_time(20.0)
    assert "plates-bare" in moment.now.flags, "no word lifts it"


@pytest.mark.parametrize(
    "words",
    [
        "cell 2 of A3 boils over", "A3 is bubbling over", "acid comes out of the caps", "A3 is spraying",
        "A3 foaming over", "acid on the tops", "A3 overflows", "die Säure kocht über",
    ],
)  # fmt: skip
def test_acid_that_gas_pushes_out_is_a_matter_of_level_and_amps_and_of_no_case(words: str) -> None:
    moment = charged()
    moment.hand("seen", {"": words})
    moment.pass_time(20.0)
    now = moment.now
    assert "danger-noted" in now.latched and not now.allowed and "case-damaged" not in now.flags
    for said in ("read the level of every cell", "fewer amps"):
        assert said in now.texts
    assert "never goes back on charge" not in now.advice and "never mended" not in now.texts
    moment.pass_time(4000.0, every=60.0, current=0.0, voltage=25.4)
    assert "wipe the acid off the tops" in moment.now.advice and moment.act("reset") == ""


@pytest.mark.parametrize("words", ["smel of roten egs", "rottn eggs", "smells of egs", "rotten egss"])
def test_a_smell_of_rotten_eggs_trips_in_any_spelling(words: str) -> None:
    moment = charged()
    moment.hand("note", {}, note=words)
    assert "danger-noted" in moment.now.latched and "smell of rotten eggs" in moment.now.texts
