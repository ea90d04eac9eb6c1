"""The report carries everything in itself, in the owner's units, and shows hostile text as text."""

from __future__ import annotations

import json
import re
from html import escape, unescape
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.report.owner import Units
from rules.phase.memory import PhaseMemory
from rules.plan.words import CAUTIONS, RELAY
from rules.step.memory import initial
from rules.verdict.judgement import Given
from tests.support.made_round import (
    ACTS,
    END,
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
    whole_round,
    write,
)

HOSTILE = "<script>alert(1)</script>\"'&</td>"


def test_temperatures_are_in_the_owner_s_units_and_everything_else_stays(tmp_path: Path) -> None:
    page = Page(report(whole_round(tmp_path), "--units", "degF"))
    # 43.9 degC are 111.02 degF; 38 are 100, as the cautions say it; 26.7 are 80.0.
    assert page.row("hottest electrolyte")[0].startswith("111.0 °F")
    assert page.row("at 100 °F and above, the warning") == ["3 min"]
    assert "Corrected to 80.0 °F" in page.text
    assert "over-temperature: 111.0 °F measured, limit 110.0 °F" in page.text
    assert "100 °F is a warning, 110 °F the end for today" in page.text
    assert "°C" not in page.text and "degC" not in page.text and "degF" not in page.text
    assert page.row("in all") == ["48.0 h", "", "190.0 Ah", "5.60 kWh"]


def test_the_plan_to_take_along_is_in_the_owner_s_units_and_fetches_nothing(tmp_path: Path) -> None:
    path = whole_round(tmp_path)
    path.write_text(path.read_text().replace('temperature = "degC"', 'temperature = "degF"'))
    sheet = tmp_path / "plan.html"
    assert main(["plan", "--config", str(path), "--html", str(sheet)]) == 0
    text = sheet.read_text(encoding="utf-8")
    page = Page(text)
    assert "100 °F is a warning, 110 °F the end for today" in page.text
    assert "degC" not in page.text and "degF" not in page.text
    assert page.row("coldest for charging")[0].endswith("°F")
    assert "(25 °C)" in page.row("hydrogen")[1], "a formula keeps the scale that its numbers are for"
    assert not re.search(r"https?:|src=|href=|url\(|@import|<script", text)


@pytest.mark.parametrize(
    ("told", "shown"),
    [
        ("38 degC (100 degF) is a warning", "100 °F is a warning"),
        ("43.5 degC measured", "110.3 °F measured"),
        ("30 to 45 degC, limit 43 degC", "86 to 113 °F, limit 109 °F"),
        ("weak acid freezes a little below 0 degC", "weak acid freezes a little below 32 °F"),
        ("-4.0 degC", "24.8 °F"),
        ("electrolyte warms 5.0 K/h faster than the air", "electrolyte warms 9.0 °F/h faster than the air"),
        ("30 m3/h through 847 cm2, 4 % at most", "18 cfm through 132 sq in, 4 % at most"),
    ],
)
def test_a_sentence_of_the_rules_is_told_in_the_owner_s_scale(told: str, shown: str) -> None:
    assert Units("degF").words(told).replace("\xa0", " ") == shown
    assert "degC" not in Units("degC").words(told)


def test_the_cabin_file_chooses_the_units(tmp_path: Path) -> None:
    path = whole_round(tmp_path)
    path.write_text(path.read_text().replace('temperature = "degC"', 'temperature = "degF"'))
    assert "111.0 °F" in Page(report(path)).text
    assert "43.9 °C" in Page(report(path, "--units", "degC")).text


def test_the_json_form_has_everything_in_canonical_units(tmp_path: Path) -> None:
    text = report(whole_round(tmp_path), "--json", "--units", "degF")
    told = json.loads(text, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))
    assert (told["site"], told["bank"], told["since"], told["until"]) == ("tarn-hut", "north", T0, END)
    assert told["phase_totals"][1] == {
        "phase": "bulk",
        "hours": 10.0,
        "still": 2.0,
        "charge": 130.0,
        "energy": pytest.approx(3.7),
    }
    assert (told["charge_returned"], told["energy"], told["charging_hours"]) == (190.0, 5.6, 34.0)
    assert (told["hottest"], told["hottest_at"]) == (43.9, T0 + 30 * HOUR + 180.0)
    assert told["hours_above_warning"] == pytest.approx(0.05)
    assert (told["water_added"], told["water_used"], told["hours_nobody_measured"]) == (900.0, 41.0, 0.5)
    first, *_, last = told["gravities"]["N1.1"]
    assert first["gravity_corrected"] == pytest.approx(1.2472) and first["trusted"] is True
    assert last["gravity_corrected"] == pytest.approx(1.262)
    assert [entry["kind"] for entry in told["noted_before"]] == ["voltage", "gravity"]
    assert [entry["kind"] for entry in told["noted"]] == ["water", "gravity", "gravity"]
    assert [act["name"] for act in told["acts"]] == ["checklist", "start", "reset", "resume"]
    assert [(entry["flag"], entry["times"], entry["hours"]) for entry in told["raised"]] == [
        ("over-temperature", 1, 2.5)
    ], "chores and the end of the hold are no hazards"
    assert told["plan"]["figures"] and told["plan"]["steps"]
    assert told["curve"][0]["voltage_mean"] == pytest.approx(32.04)
    assert told["units"]["temperature"] == "degC"
    assert told["cautions"] == [*CAUTIONS, RELAY]
    assert {"bank", "blocks", "matching", "given_at", "given_by", "ready"} <= set(told["verdict"])


@pytest.mark.parametrize("options", [(), ("--handover",)])
def test_the_page_carries_everything_in_itself_and_needs_no_script(tmp_path: Path, options: tuple[str, ...]) -> None:
    text = report(whole_round(tmp_path), *options)
    page = Page(text)
    assert not re.search(r"https?:|//[a-z]|url\((?!#)|@import|@font-face", text)
    tags = {tag for tag, _ in page.tags}
    assert not tags & {"script", "link", "img", "iframe", "object", "embed", "base", "form", "use", "image"}
    for _, attributes in page.tags:
        assert not {"src", "href", "xlink:href", "srcset", "action", "style"} & set(attributes)
        assert not any(name.startswith("on") for name in attributes)
    ids = re.findall(r"url\(#(\w+)\)", text)
    assert all(f'id="{name}"' in text for name in ids)


@pytest.mark.parametrize("options", [(), ("--handover",), ("--units", "degF")])
def test_hostile_text_in_names_notes_and_reasons_is_shown_as_text(tmp_path: Path, options: tuple[str, ...]) -> None:
    hostile = [
        hand(12.0, "note", {}, note=HOSTILE, by=HOSTILE),
        hand(12.1, "seen", {HOSTILE: HOSTILE}),
        hand(-1.0, "charger", {"volts": 32.0}, by=HOSTILE),
        event(30.0, "trip", hazard=HOSTILE, value=None, limit=None, unit="", reason=HOSTILE),
        event(30.1, "cut-confirmed", seconds=1.0, by=HOSTILE),
        event(30.0, "order", action="cut", reason=HOSTILE),
        event(31.0, "command", name=HOSTILE, by=HOSTILE, argument={HOSTILE: HOSTILE}),
        event(31.0, "refused", name=HOSTILE, by=HOSTILE, why=HOSTILE),
        event(32.0, "command", name="reset", by=HOSTILE, argument={}),
        event(33.0, "proof", passed=False, note=HOSTILE),
        event(34.0, "permit-withdrawn", reason=HOSTILE),
        event(34.0, "flag-raised", flag="meter-silent", reason=HOSTILE),
    ]
    given = Given(END, HOSTILE, {"north": "keep"}, {})
    memory = remembered(given=given, test=TEST._replace(reason=HOSTILE, fell_first=(HOSTILE,)))
    text = report(write(tmp_path, PHASES + ACTS + hostile, memory, states=STATES), *options)
    page = Page(text)
    assert "<script" not in text
    assert not any(tag == "script" for tag, _ in page.tags)
    assert unescape(escape(HOSTILE)) in "".join(page.words)


def test_the_foot_of_the_page_cannot_end_the_style(tmp_path: Path) -> None:
    style = re.findall(r"<style>(.*?)</style>", report(whole_round(tmp_path)), re.DOTALL)
    assert len(style) == 1
    assert 'content: "tarn-hut, Revival of bank north"' in style[0]


def test_a_round_that_has_just_begun_makes_a_whole_report(tmp_path: Path) -> None:
    memory = initial()._replace(phase=PhaseMemory("idle", started_at=T0))
    path = write(tmp_path, [event(0.0, "command", name="start", by="", argument={})], memory, states=[])
    for options in ((), ("--handover",), ("--units", "degF")):
        text = report(path, *options)
        page = Page(text)
        assert all(str(caution)[:20] in page.text for caution in CAUTIONS)
        assert "nan" not in page.text.lower().split() and "None" not in page.text
    assert "No cell was read." in Page(report(path)).text


def test_cells_read_before_a_round_that_was_finished_early_are_how_the_next_one_found_them(tmp_path: Path) -> None:
    memory = initial()._replace(phase=PhaseMemory("waking", started_at=T0))
    cells = {f"N1.{n}": 1.200 for n in (1, 2, 3)}
    early = "held 0.0 of at least 16 h: the hold is not complete"
    events = [
        hand(-3.0, "gravity", cells),
        event(-2.0, "command", name="finish", by="Ann", argument={"sure": True}, early=early),
        event(0.0, "command", name="start", by="Ann", argument={}),
        event(1.0, "command", name="finish", by="Ann", argument={"sure": True}, early=early),
    ]
    path = write(tmp_path, events, memory, states=[])
    page = Page(report(path))
    assert "No cell was read." not in page.text and "1.200" in page.text
    assert f"early: {early}" in page.text


def test_a_report_of_what_is_still_to_come_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path, [hand(-3.0, "note", {"": "looked in"})], initial(), states=[])
    assert main(["report", "--config", str(path), "--since", "2999-01-01"]) == 2
    assert '--since "2999-01-01" lies in the future' in capsys.readouterr().err
    assert json.loads(report(path, "--json"))["curve"] == []


def test_a_bank_that_nothing_is_known_of_has_no_report_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write(tmp_path, [], initial(), states=[])
    assert main(["report", "--config", str(path)]) != 0
    assert "nothing was measured or noted of bank north yet" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--bank", "west"], "no bank 'west': there are north"),
        (["--since", "yesterday"], "write a date, as in"),
        (["--since", "2026-06-16", "--until", "2026-06-15"], "--until must lie after --since"),
        (["--out", "/nowhere/report.html"], "cannot write /nowhere/report.html"),
    ],
)
def test_a_wrong_option_is_answered_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], options: list[str], words: str
) -> None:
    assert main(["report", "--config", str(whole_round(tmp_path)), *options]) == 2
    assert words in capsys.readouterr().err


def test_without_a_file_the_report_goes_to_standard_output(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = whole_round(tmp_path)
    assert main(["report", "--config", str(path)]) == 0
    assert capsys.readouterr().out == report(path)


def test_the_checklist_stands_in_words_on_paper(tmp_path: Path) -> None:
    against = "meters: 9.0 A flow into the bank"
    checked = event(-0.3, "command", name="checklist", by="page", argument={"name": "Ann"}, lines=15, against=against)
    text = Page(report(write(tmp_path, [*PHASES, *ACTS, checked], remembered(), states=STATES))).text
    assert "start checklistevery line confirmed by Ann" in text
    assert f"start checklist15 lines confirmed by Ann; yet seen or noted was: {against}" in text
    assert "name Ann" not in text
