"""What carries the current outside the cases is understood as that: cooled and tightened, and no block taken out."""

from __future__ import annotations

import pytest

from tests.moments.test_moments_fire_and_smoke import charged
from tests.moments.test_moments_taken_back import heard


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("A4 post is hot", "hot connection at A4"),
        ("the terminal of A4 is too hot to touch", "hot connection at A4"),
        ("spark at the post of A4", "sparking connection at A4"),
        ("cable at A4 glows", "hot connection at A4"),
    ],
)
def test_a_hot_or_sparking_connection_trips_and_is_tightened_and_no_block_goes(words: str, what: str) -> None:
    # A bad joint heats and sparks under current: common practice, no source.
    moment = charged()
    moment.hand("note", {}, note=words)
    whole = moment.now
    assert whole.latched == {"danger-noted"} and not whole.allowed and f"somebody noted: {what}" in whole.texts
    assert "inside" not in whole.texts and "hot block" not in whole.texts and "case-damaged" not in whole.flags
    assert (
        "with the charger off, clean and tighten it" in whole.advice and "never goes back on charge" not in whole.texts
    )
    moment.pass_time(3700.0, every=60.0, current=0.0, voltage=25.4)
    assert moment.now.advice.startswith("Keep the charger off and see that the connection has cooled")
    assert moment.act("reset") == ""
    assert "connection-bad" in moment.now.flags and "A4 tightened" in moment.act("resume"), (
        "nobody has tightened it yet"
    )
    moment.hand("seen", {"": "A4 post must be tightened"})
    assert "connection-bad" in moment.now.flags, "that is still to be done"
    moment.hand("seen", {"": "A4 tightened"})
    assert "connection-bad" not in moment.now.flags and moment.act("resume") == ""


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("A4 terminal is loose", "loose connection at A4"),
        ("the post of A4 is warm", "warm connection at A4"),
        ("cracked cable at A4", "damaged connection at A4"),
        ("A4 post is broken", "damaged connection at A4"),
    ],
)
@pytest.mark.parametrize("relay", [True, False])
def test_a_bad_connection_stops_the_charge_until_it_is_put_right_and_is_no_case(
    words: str, what: str, relay: bool
) -> None:
    moment = charged(relay)
    moment.hand("seen", {"": words})
    whole = moment.now
    assert (
        "connection-bad" in whole.flags
        and not whole.latched
        and f"connection-bad: somebody noted: {what}" in whole.texts
    )
    assert "case-damaged" not in whole.flags and "never charged again" not in whole.texts
    off = "Switch the charger off at the wall" if relay else "No relay here: switch the charger off now, at the wall"
    assert off in whole.advice and "let the connection cool, then clean and tighten it" in whole.advice
    moment.pass_time(3700.0, every=60.0, current=0.0, voltage=25.4)
    moment.hand("seen", {"": "A4 post not warm"})
    assert "connection-bad" in moment.now.flags, "cool while nothing flows says nothing"
    assert "puts nothing right, for it heats only while much current flows" in heard(moment)
    assert 'revival record seen north "A4 tightened"' in heard(moment)
    moment.hand("seen", {"": "all well"})
    assert "connection-bad" in moment.now.flags
    moment.hand("seen", {"": "A4 cable replaced"})
    assert "connection-bad" not in moment.now.flags


@pytest.mark.parametrize(
    "words", ["A2 tightened", "A2 terminal tightened", "A2 post not loose any more", "A2 cable replaced"]
)
@pytest.mark.parametrize("amps", [3.0, 17.0])
def test_no_joint_is_put_right_while_current_flows(words: str, amps: float) -> None:
    # Nobody may touch a post while current flows: a joint that is opened then sparks in the gas (common practice, no
    # source).
    moment = charged(relay=False)
    moment.hand("seen", {"": "A2 terminal loose"})
    moment.pass_time(600.0, current=amps)
    moment.hand("seen", {"": words})
    assert "connection-bad" in moment.now.flags
    assert "the charger is on and was on, and nobody may touch a post while current flows" in heard(moment)
    assert "Switch the charger off at the wall and let the gas clear" in heard(moment)
    assert 'then note `revival record seen north "A2 tightened"`' in heard(moment)
    assert "switches the charger on again" not in heard(moment)
    moment.pass_time(4000.0, every=60.0, current=0.0, voltage=25.4)
    assert "connection-bad" in moment.now.flags, "nobody has noted it again"
    moment.hand("seen", {"": words})
    assert "connection-bad" not in moment.now.flags
    assert "before somebody switches the charger on again" in heard(moment)


def test_what_is_gone_while_the_charger_is_on_sends_nobody_to_switch_it_on() -> None:
    moment = charged(relay=False)
    moment.hand("seen", {"A2": "cracked"})
    moment.hand("seen", {"A2": "no crack, no leak"})
    assert "case-damaged" not in moment.now.flags
    assert "come away from them and look at `revival status`, for the charger is on" in heard(moment)
    assert "on again" not in heard(moment)


def test_a_crack_beside_a_post_is_one_of_the_case_and_a_cable_that_is_replaced_mends_none() -> None:
    moment = charged()
    moment.hand("seen", {"": "a crack at the post of A2"})
    assert "case-damaged" in moment.now.flags and "connection-bad" not in moment.now.flags
    moment.hand("seen", {"": "A2 cable replaced"})
    moment.hand("seen", {"": "A2 is not replaced yet"})
    moment.hand("seen", {"": "A2 must be replaced"})
    assert "case-damaged" in moment.now.flags
    moment.hand("seen", {"": "A2 replaced"})
    assert "case-damaged" not in moment.now.flags


@pytest.mark.parametrize(
    ("words", "asked"),
    [
        ("a crak in A2", 'do you mean "a crack in A2"? If you do, say it so'),
        ("A2 craked, all well", 'do you mean "A2 cracked, all well"? If you do, say it so'),
        ("smoek at A1", 'do you mean "smoke at A1"? If you do, say it so'),
        ("cracked vent hose", "is not understood"),
        ("nobody smells gas", "may say that it is there or that it is not"),
        ("nobody noticed a crack", "may say that it is there or that it is not"),
        ("not sure whether A2 leaks", "may say that it is there or that it is not"),
    ],
)
def test_what_is_unclear_is_asked_and_neither_trips_nor_counts_as_clear(words: str, asked: str) -> None:
    moment = charged()
    moment.hand("seen", {"A2": "cracked"})
    before = moment.now.flags
    assert moment.hand("seen", {"": words}) == ["unsure"]
    why = str(moment.events[-1].detail["why"])
    assert asked in why and "where it may be a danger switch the charger off" in why
    assert moment.now.flags == before and not moment.now.latched


@pytest.mark.parametrize(
    "words",
    [
        "A1 hot and a crak in A2",
        "no doubt it smokes",
        "plus smoke at A2",
        "nobody can touch it, A2 is hot",
        "Explosion!",
    ],
)
def test_a_clear_danger_waits_for_no_question(words: str) -> None:
    moment = charged()
    moment.hand("note", {}, note=words)
    assert moment.now.latched


@pytest.mark.parametrize(
    "words",
    ["moved the rack, small spare lead", "posts greased", "all posts tight and cool", "no loose posts",
     "terminals clean", "took the hose away", "warm in here", "A2 is warm", "nobody was hurt",
     "sensor cable broken", "loose wire on the voltmeter", "posts warm as usual"],
)  # fmt: skip
def test_ordinary_words_about_posts_and_cables_stay_notes(words: str) -> None:
    moment = charged()
    assert "hand" in moment.hand("note", {}, note=words)
    assert moment.now.allowed and not moment.now.latched
