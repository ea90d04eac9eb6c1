"""What is said to whoever notes a level follows what flows and what tripped, and so does the relay."""

from __future__ import annotations

import pytest

from rules.events import HandReading
from tests.support.fold import PROBE, Fold, make_bank, ready


def cautioned(fold: Fold, **levels: float | str) -> str:
    """What the answer to a sheet of levels says beside it."""
    fold.fold(HandReading("north", "level", fold.at, fold.at, {k.replace("_", "."): v for k, v in levels.items()}))
    told = next(event for event in reversed(fold.events) if event.kind == "hand")
    said = told.detail.get("cautions", ())
    return "; ".join(map(str, said if isinstance(said, tuple | list) else ()))


def test_while_it_charges_the_charger_is_to_be_switched_off_before_a_cell_is_opened() -> None:
    assert "it charges: switch the charger off at the wall" in cautioned(ready(), N00_1=12.0)


def test_beside_an_open_relay_and_no_amps_nobody_is_told_that_it_charges() -> None:
    fold = ready()
    fold.act("abandon")
    fold.read("relay_state", 0.0)
    fold.wait(20, every=1, voltage=25.4, current=0.0, **{PROBE: 25.0})
    said = cautioned(fold, N00_1="below-plates")
    assert "it charges" not in said and "switch" not in said
    assert "the charger is off, its gas may still be about: air the room until" in said


def test_nobody_is_sent_to_a_switch_in_a_room_that_was_left_for_a_smell() -> None:
    fold = ready()
    fold.note("seen", N00="stinks of rotten eggs")
    fold.wait(1)
    said = cautioned(fold, N00_1=12.0)
    assert "at the wall" not in said and "no switch in the room touched" in said


@pytest.mark.parametrize("level", ["at-plates", "below-plates", 0.0, -3.0])
def test_acid_at_the_plates_or_below_opens_the_relay_and_is_said_in_flag_and_next_step(level: float | str) -> None:
    fold = ready()
    cautioned(fold, N00_1=level)
    fold.wait(1)
    assert not fold.lock.allowed and fold.orders[-1].action == "cut"
    assert fold.memory.flags["plates-bare"].reason == "level at or below the plates at N00.1"
    assert fold.derived is not None and "cover the plates of every cell" in fold.derived.next_step
    cautioned(fold, N00_1=12.0)
    fold.wait(1)
    assert "plates-bare" not in fold.flags and "resume-due" in fold.flags and not fold.lock.allowed


def test_a_watched_bank_with_acid_at_the_plates_is_not_safe_and_its_charger_is_to_be_switched_off() -> None:
    fold = ready(make_bank(relay=None))
    cautioned(fold, N00_1="at-plates")
    fold.wait(1)
    assert fold.derived is not None and fold.derived.safe == "no"
    assert fold.derived.next_step.startswith("No relay here: switch the charger off now, at the wall")


@pytest.mark.parametrize(("level", "said"), [(2.0, "hardly covered"), (4.9, "hardly covered"), (40.0, "add nothing")])
def test_plates_that_are_nearly_bare_and_acid_above_any_mark_are_said_with_the_trade_s_figures(
    level: float, said: str
) -> None:
    told = cautioned(ready(), N00_1=level, N00_2=12.0)
    assert f"N00.1 at {level:g} mm" in told and said in told and "N00.2 at" not in told
    assert "the mark mostly lies 10 mm to 20 mm above the plates" in told


@pytest.mark.parametrize("level", [5.0, 12.0, 20.0, "mark", 0.0])
def test_of_a_level_that_is_well_or_that_raises_a_flag_nothing_is_said_beside(level: float | str) -> None:
    assert "mostly lies" not in cautioned(ready(), N00_1=level)
