"""A bank without a relay whose round begins by itself: how many of the ten minutes have passed, or why it does not."""

from __future__ import annotations

from tests.support.moments import Moment, bank_of

WARMTH = {"electrolyte_temperature": 20.0}


def watched() -> Moment:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(60.0, voltage=25.0, current=0.0, **WARMTH)
    assert moment.act("checklist", name="the keeper") == ""
    return moment


def test_it_says_how_many_of_the_ten_minutes_have_passed() -> None:
    moment = watched()
    moment.pass_time(120.0, voltage=27.0, current=8.0)
    assert "(2 of 10 minutes so far)" in moment.now.advice
    moment.pass_time(240.0)
    assert "(6 of 10 minutes so far)" in moment.now.advice
    moment.pass_time(300.0)
    assert moment.now.phase == "waking" and "of 10 minutes" not in moment.now.texts


def test_after_a_round_was_given_up_nobody_is_told_that_the_next_begins_after_ten_minutes() -> None:
    moment = watched()
    moment.pass_time(900.0, voltage=27.0, current=8.0)
    assert moment.act("abandon", sure=True) == ""
    assert moment.act("checklist", name="the keeper") == ""
    moment.pass_time(900.0)
    assert moment.now.phase == "idle", "the charge that goes on after it is meant"
    assert "the round before was given up" in moment.now.advice and "of 10 minutes" not in moment.now.texts
    moment.pass_time(660.0, voltage=25.4, current=0.0)
    moment.pass_time(130.0, voltage=27.0, current=8.0)
    assert "given up" not in moment.now.texts
