"""What is said beside the meters: it never claims what they deny."""

from __future__ import annotations

import pytest

from rules.events import Derived
from rules.phase.memory import PhaseMemory
from tests.support.fold import PROBE, START, Fold, make_bank, ready


def waking(volts: float, amps: float) -> Derived:
    """The state of a bank without a relay, minutes into a round, that stands so."""
    fold = Fold(make_bank(relay=None))
    checked = fold.memory.interlock._replace(checklist_by="the keeper")
    fold.memory = fold.memory._replace(phase=PhaseMemory("waking", START, started_at=START), interlock=checked)
    fold.wait(70, every=10, voltage=volts, current=amps, **{PROBE: 25.0})
    assert fold.derived is not None and fold.derived.phase == "waking"
    return fold.derived


@pytest.mark.parametrize(("volts", "amps"), [(27.1, 12.7), (27.5, 22.0), (28.8, 12.7), (26.8, 2.0)])
def test_covered_plates_are_not_spoken_of_where_amps_flow_or_volts_are_not_full(volts: float, amps: float) -> None:
    words = waking(volts, amps).next_step
    assert words.startswith("Let it charge, turn nothing up") and "hardly any" not in words


def test_they_are_spoken_of_at_full_volts_with_hardly_any_amps() -> None:
    assert "hardly any amps are normal now" in waking(29.4, 2.0).next_step


def hours_why(fold: Fold) -> str:
    assert fold.derived is not None and fold.derived.remaining_hours is None
    return fold.derived.remaining_reason


def test_who_has_started_is_not_told_that_there_is_no_round() -> None:
    fold = ready(amps=0.0)
    fold.wait(20, every=5, voltage=25.4, current=0.0, **{PROBE: 25.0})
    assert fold.derived is not None and fold.derived.phase == "idle"
    assert hours_why(fold) == "the round is started, and charging has not begun"


def test_after_finish_and_in_a_tripped_bank_the_charger_has_not_only_just_begun() -> None:
    fold = ready()
    fold.wait(120, every=10, voltage=28.0, current=20.0, **{PROBE: 25.0})
    assert hours_why(fold).startswith("the charger has only just begun")
    fold.wait(20, every=5, voltage=28.0, current=20.0, **{PROBE: 45.0})
    fold.read("relay_state", 0.0)
    fold.wait(130, every=10, voltage=25.6, current=0.0, **{PROBE: 45.0})
    assert fold.derived is not None and fold.derived.tripped
    assert hours_why(fold) == "charging stands still before a first estimate could be made"
    assert fold.act("finish", sure=True) == ""
    fold.wait(2)
    assert hours_why(fold) == "the bank rests; the hold was not completed"


def test_amps_that_flow_no_more_and_a_chore_that_does_not_come_nearer_are_not_told_of_a_charge_that_stands_still() -> (
    None
):
    fold = Fold(make_bank(relay=None, strings=2))
    charging = {"voltage": 28.8, PROBE: 25.0}
    fold.wait(3600, every=20, current=1.5, **charging)
    assert hours_why(fold).startswith("still blocking: ")
    assert fold.derived is not None
    fold.note("string_amps", **{"1": 0.7, "2": 0.8})
    fold.wait(30, every=10, current=1.5, **charging)
    clamp = [row["due_at"] for row in fold.derived.chores if row["chore"] == "string-currents-due"]
    fold.wait(300, every=20, voltage=25.4, current=0.0, **{PROBE: 25.0})
    assert hours_why(fold) == "charging stands still before a first estimate could be made"
    assert clamp and isinstance(clamp[0], int) and clamp[0] > fold.at
    assert "string-currents-due" not in [row["chore"] for row in fold.derived.chores]
