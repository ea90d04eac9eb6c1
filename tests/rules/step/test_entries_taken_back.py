"""What people took back: an entry by its moment, a checklist, a verdict; always to the safe side."""

from __future__ import annotations

import pytest

from rules.events import HandReading
from tests.rules.step.test_acts import HOUR, NORTH, Site
from tests.support.fold import PROBE, Fold, ready


def _back(site: Site, kind: str, entry: float = 0.0, *places: str) -> str:
    """Take an entry back; why it was refused, or nothing."""
    before = len(site.events)
    values = dict.fromkeys(places, "")
    site.give(HandReading(site.bank.id, kind, site.at, site.at, values, undo=True, entry=entry))
    return "; ".join(str(event.detail["why"]) for event in site.events[before:] if event.kind == "refused")


def _kept(site: Site, kind: str) -> list[float]:
    return [entry.taken_at for entry in site.memory.hand.entries if entry.kind == kind]


def test_an_entry_is_taken_back_by_its_moment_behind_later_ones_of_its_kind() -> None:
    site = Site(NORTH)
    moments = []
    for litres in (100.0, 200.0, 300.0):
        site.at += HOUR
        moments.append(site.at)
        site.note("water", {"": litres})
    assert _back(site, "water", moments[1]) == ""
    assert _kept(site, "water") == [moments[0], moments[2]]
    gone = site.events[-1].detail["gone"]
    assert gone == {"taken_at": moments[1], "values": {"": 200.0}, "note": ""}
    assert "no water entry taken at" in _back(site, "water", moments[1])
    assert "no level entry taken at" in _back(site, "level", moments[0])
    assert _kept(site, "water") == [moments[0], moments[2]]


def test_a_moment_of_two_entries_takes_the_places_that_are_named() -> None:
    site = Site(NORTH)
    at = site.at
    site.note("voltage", {"N1": 6.3})
    site.note("voltage", {"N2": 6.2})
    assert _back(site, "voltage", at, "N1") == ""
    assert [dict(entry.values) for entry in site.memory.hand.entries] == [{"N2": 6.2}]


def test_heat_of_now_stays_a_danger_when_an_earlier_reading_is_taken_back() -> None:
    site = Site(NORTH)
    early = site.at
    site.note("temperature", {"": 30.0})
    site.at += 600.0
    site.note("temperature", {"": 49.0})
    assert "over-temperature" in site.memory.interlock.latched
    assert _back(site, "temperature", early) == ""
    assert "over-temperature is still there" in site.act("reset")
    assert "taken back" not in site.memory.interlock.latched["over-temperature"].reason


def test_heat_that_was_a_slip_and_is_taken_back_leaves_the_trip_to_a_reset() -> None:
    site = Site(NORTH)
    site.note("temperature", {"": 49.0})
    assert _back(site, "temperature") == ""
    assert "taken back" in site.memory.interlock.latched["over-temperature"].reason
    assert site.act("reset") == ""


def test_a_cool_reading_that_is_taken_back_leaves_the_heat_read_before_it() -> None:
    site = Site(NORTH)
    site.note("temperature", {"": 49.0})
    site.at += 600.0
    site.note("temperature", {"": 30.0})
    assert _back(site, "temperature") == ""
    assert "over-temperature is still there" in site.act("reset")


def test_heat_of_one_cell_does_not_go_with_the_reading_of_another() -> None:
    site = Site(NORTH)
    site.note("temperature", {"N1": 49.0})
    site.at += 60.0
    site.note("temperature", {"N2": 31.0})
    assert _back(site, "temperature") == ""
    assert "over-temperature is still there" in site.act("reset")


# --------------------------------------------------------------------------------- the checklist


def test_a_checklist_that_is_taken_back_ends_charging_until_it_is_confirmed_anew() -> None:
    fold = ready()
    assert fold.lock.allowed and fold.lock.checklist_by
    by, confirmed = fold.lock.checklist_by, fold.lock.checklist_at
    before = len(fold.orders)
    assert fold.act("checklist", undo=True) == ""
    assert not fold.lock.allowed and not fold.lock.checklist_by
    assert [order.action for order in fold.orders[before:]] == ["cut"]
    assert "checklist-open" in fold.memory.flags
    told = [event for event in fold.events if event.kind == "command"][-1]
    assert told.detail["gone"] == {"at": confirmed, "by": by}
    _wait(fold, 600)
    assert not fold.lock.allowed
    assert fold.act("checklist", name="the keeper") == ""
    _wait(fold, 600)
    assert fold.lock.allowed


def test_a_checklist_that_nobody_confirmed_is_not_taken_back() -> None:
    site = Site(NORTH)
    assert "no checklist is confirmed" in site.act("checklist", undo=True)


def test_a_checklist_is_taken_back_while_a_trip_stands() -> None:
    fold = ready()
    fold.note("seen", N00="hot, cannot be touched")
    assert fold.lock.latched
    assert fold.act("checklist", undo=True) == ""
    assert not fold.lock.checklist_by


def test_a_proof_test_ends_with_the_checklist_that_allowed_it() -> None:
    fold = ready()
    fold.act("abandon")
    _wait(fold, 30, 0.0)
    assert fold.act("checklist", name="the keeper") == ""
    assert fold.act("prove") == "" and fold.lock.proving
    assert fold.orders[-1].action == "allow"
    assert fold.act("checklist", undo=True) == ""
    assert not fold.lock.proving and not fold.lock.proof.passed
    assert fold.orders[-1].action == "cut"
    assert "taken back" in fold.lock.proof.note


def _wait(fold: Fold, seconds: int, amps: float = 20.0) -> None:
    closed = 1.0 if fold.lock.allowed else 0.0
    fold.wait(seconds, every=1, voltage=26.0, current=amps * closed, relay_state=closed, **{PROBE: 25.0})


# --------------------------------------------------------------------------------- the verdict


def test_a_verdict_that_is_taken_back_leaves_the_one_before_it_and_begins_no_round() -> None:
    site = Site(NORTH)
    site.rested()
    assert "no verdict" in site.act("verdict", undo=True)
    assert site.act("verdict", words={"north": "keep"}, capacities={"north": 170.0}) == ""
    site.at += 60.0
    assert site.act("verdict", words={"north": "scrap"}, capacities={"north": 70.0}) == ""
    assert site.act("verdict", undo=True) == ""
    assert site.memory.given is not None and site.memory.given.capacities == {"north": 170.0}
    stands = site.events[-1].detail["stands"]
    assert isinstance(stands, dict) and stands["capacities"] == {"north": 170.0}
    assert site.act("verdict", undo=True) == ""
    assert site.memory.given is None and site.memory.phase.phase == "finished"
    assert not site.memory.interlock.started
    assert "no verdict" in site.act("verdict", undo=True)


@pytest.mark.parametrize("back", [True, False])
def test_a_capacity_that_was_taken_back_is_compared_with_no_later_one(back: bool) -> None:
    site = Site(NORTH)
    site.rested()
    assert site.act("verdict", words={"north": "keep"}, capacities={"north": 170.0}) == ""
    if back:
        assert site.act("verdict", undo=True) == ""
    assert site.act("start") == ""
    assert site.memory.previous == ({} if back else {"north": 170.0})
