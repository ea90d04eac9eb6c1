"""A danger of before the round stands on paper as long as it stands at the bank, and the next owner learns which."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from rules.events import Flag
from rules.safety import Interlock, Latch
from tests.support.made_round import ACTS, HAND, HOUR, PHASES, STATES, T0, Page, event, hand, remembered, report, write

SMELL = [
    event(-1.0, "hand", kind="seen", taken_at=T0 - HOUR, values={"N2": "smells of rotten eggs"}, by="Ann", note=""),
    event(-1.0, "trip", hazard="danger-noted", value=None, limit=None, unit="", reason="smell of rotten eggs at N2"),
]
RESET = event(-0.2, "command", name="reset", by="Ann", argument={})
LATCH = {"danger-noted": Latch(T0 - HOUR, None, None, "", "smell of rotten eggs at N2")}
SHEETS = pytest.mark.parametrize("options", [(), ("--handover",)])


@SHEETS
def test_a_trip_that_came_before_the_round_and_stands_is_told_with_its_reason(
    tmp_path: Path, options: tuple[str, ...]
) -> None:
    path = write(tmp_path, PHASES + ACTS + SMELL, remembered(interlock=Interlock(latched=LATCH)), states=STATES)
    text = Page(report(path, *options)).text
    assert "TRIPPED, not reset: danger-noted: smell of rotten eggs at N2" in text
    assert "N2 smells of rotten eggs, by Ann" in text, "what was noted by hand"
    assert "Nothing tripped" not in text and "etorque" not in text.partition("Danger")[2].partition("What was done")[0]


@SHEETS
def test_a_trip_of_a_week_before_stands_until_it_is_reset(tmp_path: Path, options: tuple[str, ...]) -> None:
    week = 7 * 24.0
    old = [each._replace(at=each.at - week * HOUR) for each in SMELL]
    path = write(tmp_path, PHASES + ACTS + old, remembered(interlock=Interlock(latched=LATCH)), states=STATES)
    assert "not reset" in Page(report(path, *options)).text
    lifted = event(-week, "command", name="reset", by="Ann", argument={})
    path.with_name("revival.db").unlink()
    path = write(tmp_path, PHASES + ACTS + [*old, lifted], remembered(), states=STATES)
    assert "Nothing tripped." in Page(report(path, *options)).text


@SHEETS
def test_a_danger_of_the_days_before_the_start_is_told_though_it_was_reset(
    tmp_path: Path, options: tuple[str, ...]
) -> None:
    path = write(tmp_path, PHASES + ACTS + [*SMELL, RESET], remembered(), states=STATES)
    text = Page(report(path, *options)).text
    assert "danger-noted: smell of rotten eggs at N2" in text and "by Ann" in text and "TRIPPED" not in text


def test_a_second_danger_that_trips_nothing_any_more_is_told(tmp_path: Path) -> None:
    hot = hand(20.0, "seen", {"N3": "boiling hot"})
    made = write(tmp_path, PHASES + ACTS + [*SMELL, hot], remembered(interlock=Interlock(latched=LATCH)), states=STATES)
    assert "N3 boiling hot" in Page(report(made, "--handover")).text
    told = json.loads(report(made, "--json"))
    assert told["standing_trips"] == ["danger-noted: smell of rotten eggs at N2"] and len(told["dangers_noted"]) == 2


def test_a_trip_that_is_remembered_without_an_event_stands_on_paper(tmp_path: Path) -> None:
    lost = Interlock(latched={"journal-lost": Latch(T0, None, None, "", "the journal was damaged")})
    path = write(tmp_path, PHASES + ACTS + HAND, remembered(interlock=lost), states=STATES)
    assert "journal-lost: the journal was damaged" in Page(report(path)).text


def test_what_is_typed_stands_without_backticks_on_paper(tmp_path: Path) -> None:
    sheet = report(write(tmp_path, PHASES + ACTS, remembered(), states=STATES), "--handover")
    assert "`" not in sheet and "<code>revival" in sheet


def test_a_danger_that_tripped_nothing_any_more_is_counted_beside_the_trips(tmp_path: Path) -> None:
    smell = [each._replace(at=T0 + HOUR) for each in SMELL]
    more = [hand(20.0, "seen", {"N3": "boiling hot"}), hand(21.0, "seen", {"N3": "sparks inside"})]
    text = Page(report(write(tmp_path, PHASES + ACTS + smell + more, remembered(), states=STATES, relay=False))).text
    assert "danger was seen once, and only a person could stop the charger" in text
    assert "danger was noted by hand 2 times more, without another trip" in text


def test_an_entry_that_tripped_and_was_taken_back_stands_beside_its_trip(tmp_path: Path) -> None:
    hot = hand(20.0, "temperature", {"N2.1": 61.0})
    why = "N2.1 at 61.0 degC (by hand)"
    trip = event(20.0, "trip", hazard="over-temperature", value=61.0, limit=43.3, unit="degC", reason=why)
    back = hand(20.1, "temperature", {}, undo=True)
    smelled = [each._replace(at=T0 + 30 * HOUR) for each in SMELL]
    gone = hand(30.5, "seen", {}, undo=True)
    idle = [hand(10.0, "level", {"N1": 12.0}), hand(10.1, "level", {}, undo=True)]
    told = [*PHASES, *ACTS, hot, trip, back, *smelled, gone, *idle]
    text = Page(report(write(tmp_path, told, remembered(), states=STATES), "--handover")).text
    assert "61.0" in text.partition("noted by hand")[2], "what was entered is on paper still"
    assert len(re.findall(r"taken back \d+\sNov", text)) == 4, (
        "beside each of the two trips, and each of the two entries"
    )
    assert "smells of rotten eggs" in text and "by Ann; what tripped by it ends by a reset alone" in text


def test_a_danger_is_not_called_taken_back_for_another_entry_that_was_undone_before_it(tmp_path: Path) -> None:
    slip, back = hand(29.99, "voltage", {"N2": 8.0}), hand(29.995, "voltage", {}, undo=True)
    smelled = [each._replace(at=T0 + 30 * HOUR) for each in SMELL]
    told = [*PHASES, *ACTS, slip, back, *smelled]
    text = Page(report(write(tmp_path, told, remembered(), states=STATES), "--handover")).text
    assert "smell of rotten eggs" in text and "taken back" not in text


def test_what_is_broken_at_the_posts_stands_on_both_sheets_until_it_is_noted_gone(tmp_path: Path) -> None:
    whole = remembered()
    path = write(
        tmp_path, PHASES + ACTS, whole._replace(hand=whole.hand._replace(damaged={"N3": "leak"})), states=STATES
    )
    for sheet in (report(path), report(path, "--handover")):
        assert "leak at N3: noted, and not noted gone. Nothing charges before it is put right." in Page(sheet).text


def test_what_stands_and_what_was_noted_as_seen_is_on_the_sheet_for_the_next_owner(tmp_path: Path) -> None:
    flags = {
        "case-damaged": Flag("case-damaged", "permit", T0, reason="leak at N2"),
        "water-due": Flag("water-due", "chore", T0, reason="half of it is gone"),
        "hold-complete": Flag("hold-complete", "permit", T0, reason="16 h held"),
    }
    looked = hand(22.0, "note", {"": "looked in"})
    seen = [hand(20.0, "seen", {"N2": "leaks"}), hand(21.0, "seen", {"N3": "loose warm post"}), looked, *HAND]
    text = Page(
        report(write(tmp_path, PHASES + ACTS + seen, remembered(flags=flags), states=STATES), "--handover")
    ).text
    danger = text.partition("Danger")[2].partition("How to keep it")[0]
    assert "Stands now: case-damaged: leak at N2" in danger
    assert "N2 leaks, by Ann" in danger and "N3 loose warm post, by Ann" in danger
    assert "looked in" in danger.partition("Seen and noted")[2] and "looked in" not in danger.partition("Seen and")[0]
    assert "water-due" not in danger and "hold-complete" not in danger, "chores and the normal course are no danger"


def test_where_nothing_stands_and_nothing_was_seen_the_sheet_says_only_that_nothing_tripped(tmp_path: Path) -> None:
    text = Page(report(write(tmp_path, PHASES + ACTS + HAND, remembered(), states=STATES), "--handover")).text
    assert "Nothing tripped." in text and "Stands now" not in text and "Seen and noted" not in text


@SHEETS
@pytest.mark.parametrize("what", ["leak", "loose connection"])
def test_what_stands_at_the_posts_stands_once_on_paper(tmp_path: Path, options: tuple[str, ...], what: str) -> None:
    whole = remembered()
    name = "case-damaged" if what == "leak" else "connection-bad"
    flags = {
        name: Flag(name, "permit", T0, reason=f"somebody noted: {what} at N3"),
        "meter-silent": Flag("meter-silent", "permit", T0, reason="cabin/volts: silent for 5 min"),
    }
    memory = whole._replace(hand=whole.hand._replace(damaged={"N3": what}), flags=flags)
    text = Page(report(write(tmp_path, PHASES + ACTS, memory, states=STATES), *options)).text
    assert f"{what} at N3: noted, and not noted gone" in text and text.count(f"{what} at N3") == 1
    assert "Stands now: meter-silent" in text, "what a meter says stands beside it"
