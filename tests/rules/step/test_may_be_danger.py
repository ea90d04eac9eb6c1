"""Words that only may mean a danger are asked back with what would follow; what surely is one trips at once."""

from __future__ import annotations

import pytest

from bridge.report.told import episodes, latched
from rules.events import HandReading
from tests.support.fold import Fold, ready


def say(fold: Fold, words: str, *, sure: bool = False, undo: bool = False) -> str:
    """What is asked back when somebody notes these words."""
    before = len(fold.events)
    values: dict[str, float | str] = {} if undo else {"": words}
    fold.fold(HandReading("north", "seen", fold.at, fold.at, values, undo=undo, sure=sure))
    fold.wait(1)
    return "; ".join(str(event.detail["why"]) for event in fold.events[before:] if event.kind == "unsure")


@pytest.mark.parametrize("words", ["the barn cat smells of eggs", "eggs for breakfast", "smoke from the stove"])
def test_what_may_be_of_something_else_is_asked_back_with_its_hour(words: str) -> None:
    fold = ready()
    why = say(fold, words)
    assert "taken so it trips, nobody goes in for an hour" in why and not fold.lock.latched and fold.lock.allowed
    assert say(fold, words, sure=True) == "" and "danger-noted" in fold.lock.latched


def test_a_cracked_window_is_asked_back_with_what_it_would_forbid() -> None:
    fold = ready()
    assert "nothing may charge until it is noted gone" in say(fold, "I fixed the cracked window")
    assert "case-damaged" not in fold.flags and fold.lock.allowed
    say(fold, "crack in N01")
    assert "case-damaged" in fold.flags


@pytest.mark.parametrize(
    "words", ["rotten eggs", "it stinks", "N01 smells of eggs", "smoke at the battery by the stove"]
)
def test_what_surely_is_a_danger_trips_at_once(words: str) -> None:
    fold = ready()
    assert say(fold, words) == "" and "danger-noted" in fold.lock.latched


def test_a_trip_whose_entries_were_all_taken_back_says_so_and_stands() -> None:
    fold = ready()
    say(fold, "rotten eggs")
    say(fold, "it stinks")
    say(fold, "", undo=True)
    assert "taken back" not in fold.lock.latched["danger-noted"].reason
    say(fold, "", undo=True)
    latch = fold.lock.latched["danger-noted"]
    both = "somebody noted: bad smell at the bank; before: smell of rotten eggs at the bank; what was noted"
    assert latch.reason.startswith(both)
    (episode,) = latched(episodes([event for event in fold.events if event.kind == "trip"]), fold.lock)
    assert episode.reason == latch.reason, "and so the report"
    assert latch.reason.endswith("was taken back since") and fold.memory.flags["danger-noted"].reason == latch.reason


def test_boiling_is_understood_and_says_what_to_look_at() -> None:
    fold = ready()
    fold.note("seen", N01="boiling")
    told = next(event for event in reversed(fold.events) if event.kind == "hand")
    assert "boiling at N01: violent gassing, or acid that is hot" in str(told.detail["cautions"])


def test_boiling_in_a_sentence_is_understood_as_well_as_seen() -> None:
    fold = ready()
    fold.fold(HandReading("north", "note", fold.at, fold.at, {}, note="the water in N01 is boiling"))
    fold.wait(1)
    told = next(event for event in reversed(fold.events) if event.kind == "hand")
    assert "boiling at N01: violent gassing" in str(told.detail["cautions"])
