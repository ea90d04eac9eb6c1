"""The report tells the capacity test and the verdict that was given, or the one that stands."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from bridge.report.owner import day
from rules.bank.arrangement import Arrangement
from rules.bank.ledger import BlockLedger
from rules.events import HandReading
from rules.hand.log import record
from rules.plan.words import CAUTIONS
from rules.verdict.judgement import Given
from tests.support.made_round import (
    ACTS,
    CELLS,
    HAND,
    HOUR,
    PHASES,
    STATES,
    T0,
    TEST,
    Page,
    event,
    hand,
    remembered,
    report,
    state,
    write,
)


def test_a_capacity_test_is_told_as_measured_and_as_corrected(tmp_path: Path) -> None:
    page = Page(report(write(tmp_path, PHASES + ACTS, remembered(test=TEST), states=STATES)))
    assert page.row("delivered") == ["164.2 Ah in 16.4 h"]
    assert page.row("rated at this current") == ["200.0 Ah"]
    assert page.row("of its rated capacity") == ["82 %"]
    assert page.row("fell first") == ["N2"]
    assert page.row("ended")[0].endswith("bank at 1.75 V per cell")
    assert page.row("N2")[:2] == ["KEEP", "164 Ah"]


def test_a_cold_capacity_test_is_corrected_to_25_degrees(tmp_path: Path) -> None:
    path = write(tmp_path, PHASES + ACTS, remembered(test=TEST._replace(temperature=15.0)), states=STATES)
    # 0.6 % per kelvin: 164.2 / (1 - 0.06) = 174.68 Ah.
    assert Page(report(path)).row("as it would be at 25 °C") == ["174.7 Ah"]
    assert Page(report(path, "--units", "degF")).row("as it would be at 77 °F") == ["174.7 Ah"]
    assert json.loads(report(path, "--json"))["capacity_test"]["percent"] == pytest.approx(87.34, abs=0.01)


def test_a_capacity_test_that_cannot_be_corrected_says_why_and_the_report_is_whole(tmp_path: Path) -> None:
    path = write(tmp_path, PHASES + ACTS, remembered(test=TEST._replace(temperature=-3.0)), states=STATES)
    text = report(path)
    assert "cannot be corrected; only 0 to 45 °C can" in Page(text).text
    assert CAUTIONS[1] in Page(text).text


def test_the_verdict_that_a_person_gave_is_the_one_that_is_told(tmp_path: Path) -> None:
    words = {"north": "keep-derated", **{f"N{n}": "keep-derated" for n in range(1, 4)}, "N4": "scrap"}
    given = Given(T0 + 47.5 * HOUR, "Ann", words, {"north": 150.0})
    memory = remembered(test=TEST, given=given)
    path = write(tmp_path, PHASES + ACTS, memory._replace(phase=memory.phase._replace(phase="finished")), states=STATES)
    page = Page(report(path))
    assert f"Verdict on the bank, given by Ann on {day(given.at)}" in page.text
    assert "KEEP, DERATED" in page.text
    assert page.row("N4")[0] == "SCRAP"
    assert page.row("N4")[-1].startswith("given by Ann")
    told = json.loads(report(path, "--json"))["verdict"]
    assert (told["given_by"], told["bank"]["word"], told["blocks"][3]["word"]) == ("Ann", "keep-derated", "scrap")


def test_before_the_rest_there_is_no_verdict(tmp_path: Path) -> None:
    memory = remembered()
    running = memory._replace(phase=memory.phase._replace(phase="holding", hold_complete=False))
    page = Page(report(write(tmp_path, PHASES[:5] + ACTS, running, states=STATES[:4])))
    assert "No verdict yet: the round is holding" in page.text
    assert page.row("N1")[0] == "NOT JUDGED" and "NOT JUDGED" in page.text.partition("No verdict yet")[2]


def test_rested_gravities_without_a_capacity_test_are_no_verdict_and_say_what_is_missing(tmp_path: Path) -> None:
    differs = hand(47.5, "gravity", {**dict.fromkeys(CELLS, 1.262), "N2.1": 1.200}, temperature=26.6667)
    told: dict[str, Any] = dict(differs.detail)
    memory = remembered()
    reading = HandReading("north", "gravity", differs.at, differs.at, told["values"], told["temperature"], "Ann")
    memory = memory._replace(hand=record(memory.hand, reading, 0.0, 0.0, False, 11.5))
    path = write(tmp_path, PHASES + ACTS + HAND + [differs], memory, states=STATES)
    for options in ((), ("--handover",)):
        page = Page(report(path, *options))
        assert "No verdict yet: the round is resting NOT JUDGED" in page.text, "nothing decides before it is decided"
        assert "not given yet" not in page.text and "Verdict on the bank" not in page.text
        assert "Each block so far, no verdict yet" in page.text
        box = page.text.partition("NOT JUDGED")[2].partition("bad cell")[0]
        assert "still to be measured: the capacity of the rested bank, by revival test" in box
        assert "found so far: gravity still differs by 0.062 between its cells after equalising: a " in box
        assert "SCRAP" not in box and "REPEAT" not in page.text
        assert ["N1", "NOT JUDGED"] in [row[:2] for row in page.rows]
    verdict = json.loads(report(path, "--json"))["verdict"]
    assert verdict["still_to_measure"] == ["the capacity of the rested bank, by `revival test`"]
    tested = Page(report(write(tmp_path, [], memory._replace(test=TEST), states=[])))
    assert "Verdict on the bank, as things stand, not given yet" in tested.text, "all is measured"


def test_each_block_has_the_charge_that_went_through_it(tmp_path: Path) -> None:
    ledger = {"N1": BlockLedger(100.0, 10.0), "N2": BlockLedger(100.0, 10.0)}
    halves = Arrangement((("N1", "N2"),), (("N3", "N4"),))
    memory = remembered(ledger=ledger, arrangement=halves)
    memory = memory._replace(counters=memory.counters._replace(string_charge=(50.0,)))
    page = Page(report(write(tmp_path, PHASES + ACTS, memory, states=STATES)))
    assert [page.row(f"N{number}")[2] for number in (1, 2)] == ["150 Ah", "150 Ah"]


def test_an_earlier_stretch_is_judged_as_it_stood_then(tmp_path: Path) -> None:
    row = {"label": "north", "word": "scrap", "capacity": None, "reasons": ["N4: shorted"]}
    then = state(40.0, "resting", 190.0, 5.6, verdict=(row,), capacity_delivered=88.0, capacity_percent=44.0)
    verdict = event(39.0, "command", name="verdict", by="Ben", argument={"words": {"north": "scrap"}})
    path = write(tmp_path, [*PHASES, *ACTS, verdict], remembered(test=TEST), states=[*STATES[:-1], then, STATES[-1]])
    begin, end = (datetime.fromtimestamp(T0 + hours * HOUR).isoformat() for hours in (9.0, 41.0))
    told = json.loads(report(path, "--json", "--since", begin, "--until", end))
    assert told["verdict"]["bank"]["word"] == "scrap"
    assert told["verdict"]["given_by"] == "Ben"
    assert told["capacity_test"]["percent"] == 44.0
    assert told["hours_nobody_measured"] is None
    assert told["until"] == T0 + 41.0 * HOUR
