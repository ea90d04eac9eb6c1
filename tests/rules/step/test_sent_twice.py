"""A sheet of hydrometer readings that comes twice counts once; whatever differs is noted."""

from __future__ import annotations

import pytest

from rules.events import HandReading
from tests.rules.step.test_acts import NORTH, Site

SHEET: dict[str, float | str] = {"N1.1": 1.240, "N1.2": 1.235, "N1.3": "low"}
READ = HandReading("north", "gravity", 0.0, 0.0, SHEET, 25.0, "keeper", "before charging", key="first")


def _sent(site: Site, reading: HandReading, after: float = 0.0) -> list[str]:
    """Send it so long after [s]; the kinds of what was said."""
    site.at += after
    before = len(site.events)
    site.give(reading._replace(at=site.at, taken_at=site.at))
    return [event.kind for event in site.events[before:] if event.kind in ("hand", "hand-again", "unsure", "refused")]


def _sheets(site: Site) -> int:
    return sum(entry.kind == "gravity" for entry in site.memory.hand.entries)


@pytest.mark.parametrize("key", ["second", ""])
def test_the_same_sheet_within_minutes_is_answered_with_when_it_was_noted(key: str) -> None:
    site = Site(NORTH)
    assert _sent(site, READ) == ["hand"]
    noted = site.at
    again = READ._replace(key=key)
    assert _sent(site, again, 120.0) == ["hand-again"]
    assert site.events[-1].detail["noted_at"] == noted
    assert _sheets(site) == 1 and len(site.memory.hand.gravities) == 3
    # Sent once more with its key it is known, as any other.
    assert _sent(site, again, 5.0) == ([] if key else ["hand-again"])


@pytest.mark.parametrize(
    "other",
    [
        READ._replace(values={**SHEET, "N1.2": 1.236}),
        READ._replace(values={"N1.1": 1.240, "N1.2": 1.235}),
        READ._replace(temperature=26.0),
        READ._replace(temperature=None),
        READ._replace(by="another"),
        READ._replace(note="after charging"),
    ],
)
def test_a_sheet_that_differs_in_anything_is_noted(other: HandReading) -> None:
    site = Site(NORTH)
    _sent(site, READ)
    assert _sent(site, other._replace(key="second"), 120.0) == ["hand"]
    assert _sheets(site) == 2


def test_a_later_walk_a_sheet_after_water_and_one_that_was_taken_back_are_noted() -> None:
    site = Site(NORTH)
    _sent(site, READ)
    assert _sent(site, READ._replace(key="second"), 3600.0) == ["hand"]
    site.note("water", {"N1.1": 20.0})
    assert _sent(site, READ._replace(key="third"), 60.0) == ["hand"]
    assert _sent(site, READ._replace(undo=True, key="fourth")) == ["hand"]
    site.give(HandReading("north", "water", site.at, site.at, undo=True))
    assert _sheets(site) == 2
    assert _sent(site, READ._replace(key="fifth")) == ["hand-again"]


def test_other_readings_that_are_alike_are_two_and_so_is_one_cell_read_again() -> None:
    site = Site(NORTH)
    for key in ("c", "d"):
        assert _sent(site, READ._replace(values={"N1.1": 1.240}, key=key), 30.0) == ["hand"]
    poured = HandReading("north", "water", 0.0, 0.0, {"N1.1": 20.0}, None, "keeper", key="a")
    assert _sent(site, poured, 30.0) == ["hand"]
    assert _sent(site, poured._replace(key="b"), 30.0) == ["unsure"], "a second pour, or one that was sent twice"
    assert str(site.events[-1].detail["why"]).endswith("was noted a moment before: is it a second pour?")
    assert _sent(site, poured._replace(key="b", sure=True), 5.0) == ["hand"]
    assert _sent(site, poured._replace(key="z"), 90.0) == ["hand"], "so much later nobody asks"
