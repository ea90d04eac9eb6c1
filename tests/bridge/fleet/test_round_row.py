"""One row says what a round was: found, foretold, needed, advised, tripped, judged."""

from __future__ import annotations

import json
from typing import Any

import pytest

from bridge.fleet.round_row import COLUMNS, MOST_TOLD, Known, Notes, note, rows, so_far
from bridge.journal.snapshot import freeze, thaw
from tests.support.round_lines import BEGIN, Line, Stage, event, played

BANK = Known("tarn-hut", "north", 12, 400.0, "at-voltage", 16.0, (("N1", "N2"), ("N3", "N4")), 2010)
ROUND = (
    Stage("waking", 4.0, amps=4.0),
    Stage("waking", 2.0, amps=0.0, interrupted=True),
    Stage("reviving", 2.0, 20.0, 40.0, reason="about 1.0 h reviving, 2.0 h bulk before the 10 h hold"),
    Stage("bulk", 3.0, 13.0, 50.0, advice="Wait until 2026-11-25T07:00Z. Then measure."),
    Stage("absorbing", 1.0, 30.0, 40.0, advice="Turn the charger up to 32 V now. Then wait."),
    Stage("holding", 10.0, 10.0, 9.0),
    Stage("resting", 1.0, amps=0.0),
)


def _row(states: list[Line], events: list[Line]) -> dict[str, Any]:
    (row,) = rows(BANK, states, sorted(events, key=lambda line: line["t"]))
    return row


@pytest.fixture(scope="module")
def whole() -> dict[str, Any]:
    """The row of a round with a trip, a turn of the charger, a test and a verdict."""
    states, events, end = played(ROUND)
    hour = BEGIN + 3600.0
    events += [
        event("trip", hour + 60.0, hazard="over-temperature", value=43.4, limit=43.3, unit="degC"),
        event("command", hour + 7260.0, name="reset", by="owner", argument={}),
        event("hand", BEGIN + 11.5 * 3600.0, kind="charger", values={"": "on"}),
        event("test-end", end - 60.0, reason="end voltage", delivered=300.0),
        event(
            "command",
            end,
            name="verdict",
            argument={"words": {"N1": "keep"}, "capacities": {"N1": 150.0, "N2": 160.0, "N3": 90.0, "N4": 95.0}},
        ),
    ]
    return _row(states, events)


def test_columns_are_those_documented(whole: dict[str, Any]) -> None:
    assert list(whole) == [name for name, _, _ in COLUMNS]


def test_what_was_found_and_what_it_took(whole: dict[str, Any]) -> None:
    # The made year is 2010; its middle lies 16.4 years before 25 November 2026.
    assert (whole["volts_found"], whole["amps_hour"], round(whole["age"], 1)) == (1.95, 4.0, 16.4)
    assert whole["amps_hour_share"] == 0.01
    assert (whole["finished"], whole["outcome"], whole["whole"]) == (True, "held", True)
    hours = [whole[f"hours_{name}"] for name in ("waking", "reviving", "bulk", "absorbing", "finishing", "holding")]
    assert hours == pytest.approx([4.0, 2.0, 3.0, 1.0, 0.0, 10.0])
    assert whole["hours_still"] == pytest.approx(2.0)
    assert whole["hours_charging"] == pytest.approx(20.0)
    assert whole["ended"] == BEGIN + 22.0 * 3600.0


def test_foretold_against_needed(whole: dict[str, Any]) -> None:
    moments = {moment["moment"]: moment for moment in json.loads(whole["moments"])}
    entry = moments["entry of bulk"]
    assert (entry["hours"], entry["needed"], entry["covered"]) == (13.0, pytest.approx(14.0), True)
    assert moments["entry of absorbing"]["covered"] is False  # 24 to 36 h foretold, 11 h needed
    assert moments["half"]["needed"] == pytest.approx(10.0, abs=0.15)
    assert moments["three-quarters"]["stage"] == "holding"
    assert entry["left"]["bulk"] == pytest.approx(3.0)
    # Nothing was foretold while the bank was blocking: no number is made up for a tenth of the round.
    assert "tenth" not in moments


def test_advice_and_what_followed(whole: dict[str, Any]) -> None:
    advice = {entry["words"]: entry for entry in json.loads(whole["advice"])}
    assert advice["Wait until ...."]["befell"] == "absorbing"
    turned = advice["Turn the charger up to ... V now."]
    assert (turned["act"], turned["act_after"], turned["befell"]) == ("record charger", 0.5, "holding")


def test_trip_capacities_and_verdict(whole: dict[str, Any]) -> None:
    (trip,) = json.loads(whole["trips"])
    assert (trip["hazard"], trip["stage"], trip["reset_after"]) == ("over-temperature", "waking", 2.0)
    # The least block of each string, summed: 150 and 90.
    assert (whole["capacity_after"], whole["test_delivered"]) == (240.0, 300.0)
    assert json.loads(whole["verdicts"]) == {"N1": "keep"}


def test_a_verdict_that_was_taken_back_counts_for_nothing_and_the_one_before_it_again() -> None:
    states, events, end = played(ROUND)
    first = {"words": {"N1": "keep"}, "capacities": {"north": 210.0}}
    given = [
        event("command", end, name="verdict", argument=first),
        event("command", end + 60.0, name="verdict", argument={"words": {"N1": "scrap"}, "capacities": {"north": 9.0}}),
    ]
    back = {"name": "verdict", "argument": {"undo": True}, "gone": {"at": end + 60.0, "by": "Ben"}}
    again = _row(states, [*events, *given, event("command", end + 90.0, **back, stands={"at": end, **first})])
    assert (again["capacity_after"], json.loads(again["verdicts"])) == (210.0, {"N1": "keep"})
    none = _row(states, [*events, *given, event("command", end + 90.0, **back)])
    assert (none["capacity_after"], json.loads(none["verdicts"])) == (None, {})


def test_a_round_under_way_is_marked_and_counts_nothing_as_needed() -> None:
    row = _row(*played(ROUND[:4])[:2])
    assert (row["finished"], row["outcome"], row["ended"]) == (False, "under-way", None)
    assert {moment["needed"] for moment in json.loads(row["moments"])} == {None}


@pytest.mark.parametrize(("detail", "outcome"), [({"early": "held 4 of 16 h"}, "ended-early"), ({}, "held")])
def test_a_person_ends_a_round(detail: dict[str, str], outcome: str) -> None:
    states, events, end = played(ROUND[:6])
    row = _row(states, [*events, event("command", end, name="finish", argument={}, **detail)])
    assert (row["outcome"], row["ended"]) == (outcome, end)


def test_abandoned_and_nothing_before_any_charging() -> None:
    states, events, end = played(ROUND[:3])
    row = _row(states, [*events, event("command", end, name="abandon", argument={})])
    assert (row["outcome"], row["ended"]) == ("abandoned", end)
    assert list(rows(BANK, *played(())[:2])) == []


def test_two_rounds_are_two_rows_and_the_second_knows_the_first_capacity() -> None:
    states, events, end = played(ROUND)
    given = event("command", end, name="verdict", argument={"words": {}, "capacities": {"north": 210.0}})
    later, more, _ = played(ROUND, begin=end + 4 * 3600.0, found=2.05)
    first, second = rows(BANK, states + later, [*events, given, *more])
    assert (first["capacity_after"], second["capacity_before"], second["volts_found"]) == (210.0, 210.0, 2.05)
    assert second["hours_charging"] == pytest.approx(first["hours_charging"])


def test_a_recording_that_begins_in_mid_round_says_so() -> None:
    states, _, _ = played(ROUND)
    row = _row([line for line in states if line["t"] > BEGIN + 7200.0], [])
    assert (row["whole"], row["volts_found"], row["amps_hour"]) == (False, None, None)


def test_hours_that_nobody_saw_are_no_charging() -> None:
    states, events, _ = played(ROUND)
    gap = [line for line in states if not BEGIN + 3600.0 < line["t"] < BEGIN + 3 * 3600.0]
    row = _row(gap, events)
    assert row["hours_unseen"] == pytest.approx(2.0)
    assert row["hours_waking"] == pytest.approx(2.0)


def test_the_memory_outlives_a_restart_and_stays_small() -> None:
    states, events, _ = played([Stage("waking", 60.0, 90.0), *ROUND[3:]])
    lines = sorted([*events, *states], key=lambda line: (line["t"], "kind" not in line))
    notes = Notes()
    for number, line in enumerate(lines):
        notes, _ = note(BANK, notes, line)
        if number % 1000 == 0:
            notes = thaw(Notes, json.loads(json.dumps(freeze(notes))))
    assert len(notes.told) < MOST_TOLD
    assert so_far(BANK, notes) == _row(states, events)
