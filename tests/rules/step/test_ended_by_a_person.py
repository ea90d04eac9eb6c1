"""A round that a person ended stays ended, and none begins by itself while a trip stands."""

from __future__ import annotations

import pytest

from bridge.journal.snapshot import from_text, to_text
from tests.support.fold import PROBE, Fold, make_bank

CHARGING = {"voltage": 28.4, "current": 3.4, PROBE: 25.0}
OFF = {"voltage": 25.4, "current": 0.0, PROBE: 25.0}


def watched() -> Fold:
    fold = Fold(make_bank(relay=None))
    fold.wait(900, every=10, **CHARGING)
    assert phase(fold) == "waking"
    return fold


def phase(fold: Fold) -> str:
    assert fold.derived is not None
    return fold.derived.phase


def restarted(fold: Fold) -> None:
    """The same memory, through the text that the journal keeps."""
    fold.memory = from_text(to_text(fold.memory)).memory


def test_a_round_given_up_does_not_begin_anew_on_the_charge_that_goes_on() -> None:
    fold = watched()
    assert fold.act("abandon") == ""
    fold.wait(1800, every=10, **CHARGING)
    restarted(fold)
    fold.wait(1800, every=10, **CHARGING)
    assert phase(fold) == "idle"
    fold.wait(300, every=10, **OFF)
    fold.wait(1200, every=10, **CHARGING)
    assert phase(fold) == "idle", "five minutes are no stop"
    fold.wait(1000, every=10, **OFF)
    fold.wait(900, every=10, **CHARGING)
    assert phase(fold) == "waking", "charged again after a stop, a watched bank is in a new round"


def test_meters_that_fall_silent_have_not_shown_a_stop() -> None:
    fold = watched()
    assert fold.act("abandon") == ""
    fold.wait(3600)
    fold.wait(900, every=10, **CHARGING)
    assert phase(fold) == "idle"


def test_who_starts_after_giving_up_has_a_round_at_once() -> None:
    fold = watched()
    assert fold.act("abandon") == ""
    fold.wait(120, every=10, **CHARGING)
    assert fold.act("start") == ""
    fold.wait(180, every=10, **CHARGING)
    assert phase(fold) == "waking"


def test_a_finished_round_rests_whatever_still_flows() -> None:
    fold = watched()
    assert fold.act("finish", sure=True) == ""
    fold.wait(1800, every=10, **CHARGING)
    assert phase(fold) == "resting"
    assert fold.derived is not None
    assert fold.derived.remaining_reason == "the round is over, and the charger is still on"


def test_no_round_begins_by_itself_while_a_trip_stands() -> None:
    fold = Fold(make_bank(relay=None))
    fold.wait(60, every=10, **OFF)
    fold.note("seen", **{"": "smells of rotten eggs"})
    assert fold.derived is not None and fold.derived.tripped
    fold.wait(1800, every=10, **CHARGING)
    restarted(fold)
    fold.wait(600, every=10, **CHARGING)
    assert fold.derived.tripped and phase(fold) == "idle"


@pytest.mark.parametrize("act", ["finish", "abandon"])
def test_without_a_round_nothing_is_ended_and_the_checklist_stays(act: str) -> None:
    fold = Fold(make_bank())
    fold.wait(60, every=10, **OFF)
    assert fold.act("checklist", name="the keeper") == ""
    assert fold.act(act) == "no round runs"
    assert fold.memory.interlock.checklist_by == "the keeper"
