"""The report says what the journal says: hours, charge, gravities, trips, reckoned by hand from a made-up round."""

from __future__ import annotations

import json
import re
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from bridge.cli import main
from bridge.config import load
from bridge.journal.batch import Batch
from bridge.journal.reader import Bucket, JournalReader
from bridge.journal.writer import Journal
from bridge.page.view import site_view
from bridge.report.drawing import LEFT, RIGHT, WIDTH, draw, panels
from bridge.report.owner import Units, day, moment
from bridge.report.round import gather
from bridge.settings import PageSettings
from rules.events import HandReading
from rules.hand.log import HandLog
from rules.hand.log import record as note
from rules.phase.memory import Track
from rules.plan.words import CAUTIONS
from tests.support.made_round import (
    ACTS,
    CELLS,
    HAND,
    HOUR,
    PHASES,
    STATES,
    T0,
    TRIP,
    Page,
    event,
    hand,
    phase,
    remembered,
    report,
    state,
    whole_round,
    write,
)


def test_hours_charge_and_energy_of_each_phase_are_those_of_the_journal(tmp_path: Path) -> None:
    page = Page(report(whole_round(tmp_path)))
    assert page.row("waking") == ["10.0 h", "0.0 h", "20.0 Ah", "0.50 kWh"]
    assert page.row("bulk") == ["10.0 h", "2.0 h", "130.0 Ah", "3.70 kWh"]
    assert page.row("holding") == ["16.0 h", "0.0 h", "40.0 Ah", "1.40 kWh"]
    assert page.row("resting") == ["12.0 h", "", "0.0 Ah", "0.00 kWh"]
    assert page.row("in all") == ["48.0 h", "", "190.0 Ah", "5.60 kWh"]
    assert page.row("hours of charging") == ["34.0 h"]
    assert page.row("held at the equalising voltage") == ["16.0 of 16 h"]
    assert page.row("time nobody measured") == ["30 min"]


def test_water_and_warmth_are_those_of_the_journal(tmp_path: Path) -> None:
    page = Page(report(whole_round(tmp_path)))
    assert page.row("distilled water added, as noted") == ["900 mL"], "what was taken back does not count"
    assert page.row("water split since the last top-up, reckoned") == ["41 g per cell"]
    hottest = moment(T0 + 30 * HOUR + 180.0).replace("\xa0", " ")
    assert page.row("hottest electrolyte") == [f"43.9 °C, {hottest} (limit 43.3 °C)"]
    # Three minutes: 38.2, 43.9 and 41.0 degC.
    assert page.row("at 38 °C and above, the warning") == ["3 min"]


@pytest.mark.parametrize(("hours", "counted"), [((-0.5, 0.1, 9.0), True), ((-9.0, 9.0), False)])
def test_the_plan_is_printed_with_the_air_of_the_room_as_it_was_when_the_round_began(
    tmp_path: Path, hours: tuple[float, ...], counted: bool
) -> None:
    warmth = {-9.0: 1.0, -0.5: 12.0, 0.1: 20.0, 9.0: 31.0}
    air = [state(hour, "idle", 0.0, 0.0, ambient=warmth[hour]) for hour in hours]
    path = write(tmp_path, PHASES + ACTS + HAND, remembered(), states=sorted([*STATES, *air], key=lambda s: s.at))
    text = " ".join(Page(report(path)).text.split())
    said = "the air at the bank is counted as 20.0 °C, as its thermometer showed it when the round began"
    assert (said in text) is counted
    assert ("tell it with --ambient" in text) is not counted
    assert ("get too warm" in text and "cap it at" in text) is counted
    assert json.loads(report(path, "--json"))["plan_air"] == (20.0 if counted else None)


def test_what_came_in_is_told_with_its_units(tmp_path: Path) -> None:
    page = Page(report(whole_round(tmp_path)))
    assert page.row("arrangement") == ["1 string of 4 blocks, 12 cells in series, 200 Ah at the 20-hour rate"]
    volts = moment(T0 - 2 * HOUR).replace("\xa0", " ")
    assert page.row(f"voltage, {volts}") == ["N1 4.1 V, N2 4 V, N3 4.2 V, N4 3.9 V, by Ann"]
    gravity = moment(T0 - 1.5 * HOUR).replace("\xa0", " ")
    assert page.row(f"gravity, {gravity}")[0].startswith("N1 1.240 1.120 1.120, N2 1.120")
    assert "N4 1.120 1.120 low, acid at 36.7 °C, by Ann" in page.row(f"gravity, {gravity}")[0]


def test_gravity_before_and_after_is_corrected_and_untrusted_readings_are_marked(tmp_path: Path) -> None:
    page = Page(report(whole_round(tmp_path)))
    cells = next(row for row in page.rows if row[0] == "N1" and "→" in row[1])
    assert cells[1] == "1.247 → 1.262\n+0.015"
    assert cells[2] == "1.127 → 1.262\n+0.135"
    assert next(row for row in page.rows if row[0] == "N4" and "→" in row[1])[3] == "low → 1.262"
    # A cell that does not float the hydrometer has at most 1.100 (common practice, no source): 0.147 below 1.247.
    assert "Spread between cells: at first 0.147, at last 0.012." in page.text
    assert f"{remembered().hand.spread:.3f}" == "0.012", "as status and page say it"


def test_where_the_rules_know_no_spread_the_report_says_none(tmp_path: Path) -> None:
    one = [hand(47.0, "gravity", {"N2.1": 1.250}, temperature=26.6667, rested_hours=11.0)]
    page = Page(report(write(tmp_path, PHASES + ACTS + one, remembered(), states=STATES)))
    assert "Spread between cells: at first not known, at last not known." in page.text


def test_a_reading_within_six_hours_of_charging_is_marked_as_of_no_weight(tmp_path: Path) -> None:
    fresh = [*HAND[:-1], hand(38.0, "gravity", {"N1.2": 1.250}, temperature=26.6667, rested_hours=2.0)]
    page = Page(report(write(tmp_path, PHASES + ACTS + fresh, remembered(), states=STATES)))
    assert next(row for row in page.rows if row[0] == "N1" and "→" in row[1])[2].startswith("1.127 → 1.250*")


@pytest.mark.parametrize("options", [(), ("--handover",)])
def test_every_cell_is_drawn_where_it_was_read_first_and_last(tmp_path: Path, options: tuple[str, ...]) -> None:
    drawing = re.search(r'<svg class="curve gravities".*?</svg>', report(whole_round(tmp_path), *options), re.DOTALL)
    assert drawing is not None
    dots = re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="4.5" fill="(#\w+)"', drawing[0])
    first = [(float(x), float(y)) for x, y, fill in dots if fill == "#fff"]
    last = [(float(x), float(y)) for x, y, fill in dots if fill != "#fff"]
    assert [x for x, _ in first] == [x for x, _ in last] == sorted({x for x, _ in last}), "each cell its place"
    assert len(last) == len(CELLS)
    # Up is more: 1.247 at first in N1.1, 1.127 in the others, nothing but "low" in N4.3, which lies on the ground.
    heights = [y for _, y in first]
    assert heights[0] < min(heights[1:11]) and len(set(heights[1:11])) == 1 and heights[11] > heights[10]
    # Last 1.262 everywhere but 1.250 in N2.1; the scale is straight.
    scale = (heights[1] - heights[0]) / 0.120
    assert last[3][1] - last[0][1] == pytest.approx(0.012 * scale, abs=0.2)
    assert [heights[1] - y for _, y in last[4:]] == pytest.approx([0.135 * scale] * 8, abs=0.3)
    assert re.findall(r'<text x="[\d.]+" y="[\d.]+">', drawing[0]) == [], "1.250 is within what the verdict lets pass"


def test_a_cell_that_stands_out_has_its_value_in_the_drawing(tmp_path: Path) -> None:
    odd = [*HAND, hand(47.5, "gravity", {"N3.2": 1.228}, temperature=26.6667, rested_hours=11.5)]
    drawing = report(write(tmp_path, PHASES + ACTS + odd, remembered(), states=STATES)).partition("gravities")[2]
    drawing = drawing.partition("</svg>")[0]
    assert "stands out below this" in drawing
    assert re.findall(r'<text x="[\d.]+" y="[\d.]+">([\d.]+)<', drawing) == ["1.228"], "and no other cell"


def test_a_trip_is_told_with_the_relay_s_evidence_and_who_let_it_go_on(tmp_path: Path) -> None:
    page = Page(report(whole_round(tmp_path)))
    at, reset, resumed = (moment(T0 + hours * HOUR).replace("\xa0", " ") for hours in (30.0, 33.0, 33.5))
    assert page.row(at) == [
        "over-temperature: 43.9 °C measured, limit 43.3 °C",
        "told to open at once; seen open after 1.4 s, by its own report",
        f"reset {reset} by Ann, resumed {resumed}",
    ]
    first = moment(T0 + 30 * HOUR).replace("\xa0", " ")
    assert page.row("over-temperature") == ["1 ×", first, "2.5 h", "43.9 °C in the acid"]
    assert "Charging paused by: over-temperature 1 ×." in page.text, "the end of the hold is no pause"
    assert "passed, the relay opened" in page.text
    assert "charging was stopped for safety once" in page.text


def test_a_cut_that_nobody_saw_is_told_loudly(tmp_path: Path) -> None:
    unseen = [told for told in TRIP if told.kind != "cut-confirmed"]
    page = Page(report(write(tmp_path, PHASES + unseen + ACTS, remembered(), states=STATES)))
    assert "told to open at once; NEVER SEEN OPEN" in page.text


def test_two_trips_have_their_own_evidence(tmp_path: Path) -> None:
    second = [
        event(34.0, "trip", hazard="over-voltage", value=33.2, limit=33.0, unit="V", reason="33.2 V measured"),
        event(34.001, "order", action="cut", reason="over-voltage"),
    ]
    path = write(tmp_path, PHASES + TRIP + second + ACTS, remembered(), states=STATES)
    first, other = json.loads(report(path, "--json"))["episodes"]
    assert (first["cut_seen_after"], first["reset_by"]) == (1.4, "Ann")
    assert (other["hazard"], other["value"], other["cut_seen_after"], other["reset_at"]) == (
        "over-voltage", 33.2, None, None,
    )  # fmt: skip
    page = Page(report(path))
    assert "over-voltage: 33.2 V measured, limit 33 V" in page.text
    assert "danger was seen 2 times, and once the relay was not seen to open for it" in page.text
    assert "told to open after 3.6 s" in page.text and "not reset" in page.text


def test_evidence_of_a_later_trip_does_not_count_for_an_earlier_one(tmp_path: Path) -> None:
    early = [
        event(28.0, "trip", hazard="over-voltage", value=33.2, limit=33.0, unit="V", reason="33.2 V measured"),
        event(28.0, "order", action="cut", reason="over-voltage"),
    ]
    path = write(tmp_path, PHASES + early + TRIP + ACTS, remembered(), states=STATES)
    first, other = json.loads(report(path, "--json"))["episodes"]
    assert (first["cut_seen_after"], first["cut_seen_by"]) == (None, "")
    assert first["reset_at"] == T0 + 33 * HOUR, "one reset lifts whatever stands"
    assert (other["cut_seen_after"], other["cut_seen_by"]) == (1.4, "relay")


def test_hazards_of_one_moment_share_order_evidence_and_reset(tmp_path: Path) -> None:
    both = event(30.0, "trip", hazard="thermal-runaway", value=None, limit=None, unit="", reason="current and heat")
    path = write(tmp_path, [*PHASES, both, *TRIP, *ACTS], remembered(), states=STATES)
    first, other = json.loads(report(path, "--json"))["episodes"]
    assert {first["hazard"], other["hazard"]} == {"thermal-runaway", "over-temperature"}
    assert first["cut_seen_after"] == other["cut_seen_after"] == 1.4
    assert "stopped for safety once" in Page(report(path)).text


def test_gravities_are_corrected_to_the_temperature_that_the_hydrometer_is_made_for(tmp_path: Path) -> None:
    path = whole_round(tmp_path)
    path.write_text(path.read_text().replace("strings = 1", 'strings = 1\nhydrometer_reference = "20 degC"'))
    page = Page(report(path))
    # 16.67 K over 20 degC, 0.004 per 10 degF: 1.240 + 0.0120; at 26.67 degC 1.262 + 0.0048.
    assert next(row for row in page.rows if row[0] == "N1" and "→" in row[1])[1] == "1.252 → 1.267\n+0.015"
    assert "Corrected to 20.0 °C" in page.text
    assert "at 68 °F" in Page(report(path, "--handover", "--units", "degF")).text


def test_a_bank_without_relay_says_that_a_person_switched(tmp_path: Path) -> None:
    page = Page(report(write(tmp_path, PHASES + ACTS, remembered(), states=STATES, relay=False)))
    assert "No relay: this bank was only watched, a person switched the charger." in page.text
    assert "Nothing tripped." in page.text


def test_a_journal_whose_memory_another_version_wrote_still_tells_the_round(tmp_path: Path) -> None:
    path = write(tmp_path, PHASES + TRIP + ACTS + HAND, remembered(), states=STATES)
    cabin = load(path).cabin
    journal = Journal.open(cabin.journal, {"north": cabin.banks["north"].meters})
    journal.submit(Batch(snapshots={"north": '{"unknown": 1}'}))
    journal.close(30.0)
    text = report(path)
    page = Page(text)
    assert page.row("bulk") == ["10.0 h", "2.0 h", "130.0 Ah", "3.70 kWh"]
    assert page.row("time nobody measured") == ["not known"]


def test_the_curve_marks_the_hold_band_as_the_rules_learned_it(tmp_path: Path) -> None:
    memory = remembered()
    learned = memory._replace(phase=memory.phase._replace(track=Track(ratio=0.985)))
    drawn = []
    for name, kept in (("learned", learned), ("plain", memory)):
        (tmp_path / name).mkdir()
        cabin = load(write(tmp_path / name, PHASES, kept, states=STATES)).cabin
        with JournalReader(cabin.journal.path) as reader:
            drawn.append(gather(cabin, reader, "north").hold_band)
            earlier = gather(cabin, reader, "north", until=T0 + 20 * HOUR).hold_band
    wanted = cabin.banks["north"].equalise
    assert drawn[0] == pytest.approx((0.985 * wanted - 0.03, 0.985 * wanted + 0.03))
    assert drawn[1] == pytest.approx((wanted - 0.03, wanted + 0.03)) == earlier


def test_ranges_of_the_plan_are_as_fine_as_they_are_known(tmp_path: Path) -> None:
    page = Page(report(whole_round(tmp_path)))
    assert re.fullmatch(r"\d+ to \d+ days", page.row("days until it can be tested")[0])
    assert re.fullmatch(r"\d+ to \d+ h", page.row("hours with the charger on")[0])


def test_what_was_noted_after_the_last_state_is_in_the_report(tmp_path: Path) -> None:
    late = hand(48.001, "note", {}, note="fan moved to the door")
    page = Page(report(write(tmp_path, [*PHASES, *ACTS, *HAND, late], remembered(), states=STATES)))
    assert page.row(moment(late.at).replace("\xa0", " ")) == ["note", "fan moved to the door, by Ann"]
    assert page.row("bulk") == ["10.0 h", "2.0 h", "130.0 Ah", "3.70 kWh"]
    assert page.row("time nobody measured") == ["30 min"], "it is the round under way all the same"


def test_the_last_reading_of_every_cell_counts_also_where_the_bridge_stopped_right_after_it(tmp_path: Path) -> None:
    path = whole_round(tmp_path)
    cabin = load(path).cabin
    journal = Journal.open(cabin.journal, {"north": cabin.banks["north"].meters})
    journal.submit(Batch(events=[hand(48.002, "gravity", {"N2.1": 1.259}, temperature=26.6667, rested_hours=12.0)]))
    assert journal.close(30.0)
    page = Page(report(path))
    assert next(row for row in page.rows if row[0] == "N2" and "→" in row[1])[1] == "1.127 → 1.259\n+0.132"
    assert "1.259" in Page(report(path, "--handover")).text
    told = json.loads(report(path, "--json"))
    assert told["until"] == round(T0 + 48.002 * HOUR, 3)
    assert told["noted"][-1]["values"] == {"N2.1": 1.259}


def test_the_sheet_for_the_next_owner_is_shorter_and_tells_how_to_keep_the_bank(tmp_path: Path) -> None:
    path = whole_round(tmp_path)
    whole, sheet = report(path), report(path, "--handover")
    page = Page(sheet)
    assert len(sheet) < len(whole)
    assert "32.0 V at the bank (2.67 V per cell)" in page.text
    assert "Stop at 43 °C where the probe sits. Full is a gravity of 1.265 at 27 °C." in page.text
    assert "34 hours of charging" in page.text and "190 Ah went back in, held 16 h" in page.text
    last = page.row(day(T0 + 47 * HOUR))
    assert last == [*["1.262"] * 3, "1.250", *["1.262"] * 8, "corrected"], "what the next owner compares with"
    months = [row[0] for row in page.rows if row[1:] == [""] * 13]
    end = datetime.fromtimestamp(T0 + 48 * HOUR).astimezone()
    assert len(months) == 12, "a year to write on"
    assert datetime.strptime(months[0], "%b %Y").month == end.month % 12 + 1
    assert datetime.strptime(months[-1], "%b %Y").date() == date(end.year + 1, end.month, 1)
    for caution in CAUTIONS[:6]:
        assert caution.split(":")[0] in page.text


def test_a_curve_that_begins_before_the_round_stays_in_its_frame() -> None:
    since, until = T0, T0 + 10 * HOUR
    curve = [
        Bucket(T0 + hour * HOUR, *(25.0, 26.0, 25.5), *(4.0, 5.0, 4.5), *(25.0, 26.0, 25.5)) for hour in range(-3, 11)
    ]
    phases = [{"phase": "waking", "from": T0 - 2 * HOUR, "to": until, "interrupted": False}]
    drawn = draw(panels(curve, 12, (2.6, 2.7), float, "degC"), phases, [], since, until)
    places = [float(x) for path in re.findall(r' d="([^"]+)"', drawn) for x in re.findall(r"[ML](-?[\d.]+)", path)]
    places += [float(x) for x in re.findall(r'<rect x="(-?[\d.]+)"', drawn)]
    assert len(places) > len(curve)
    assert min(place for place in places if place) >= LEFT and max(places) <= WIDTH - RIGHT


@pytest.mark.parametrize(
    ("minutes", "wanted"), [(18, 9), (90, 9), (600, 10), (30 * 60, 10), (5 * 24 * 60, 5)], ids="{}".format
)
def test_however_short_a_round_was_its_curve_has_times_on_its_axis(minutes: int, wanted: int) -> None:
    until = T0 + minutes * 60.0
    curve = [Bucket(T0 + 60.0 * n, *(25.0, 26.0, 25.5), *(4.0, 5.0, 4.5), *(25.0, 26.0, 25.5)) for n in range(minutes)]
    drawn = draw(panels(curve, 12, (2.6, 2.7), float, "degC"), [], [], T0, until)
    foot = max(float(y) for y in re.findall(r'<text x="[\d.]+" y="([\d.]+)"', drawn))
    told = re.findall(rf'y="{foot:g}[.0]*" text-anchor="\w+">([^<]+)<', drawn)
    clock = r"\d\d:\d\d|\d\d \w{3}" if minutes < 2 * 24 * 60 else r"\d\d \w{3}"
    assert all(re.fullmatch(clock, each) for each in told)
    assert wanted - 3 <= len(told) <= wanted + 1, told


def test_who_writes_it_to_a_file_is_told_what_was_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "round.html"
    assert main(["report", "--config", str(whole_round(tmp_path)), "--output", str(out)]) == 0
    assert f"{out} written: the report of north, {day(T0)} to " in capsys.readouterr().err


def test_a_page_is_not_written_into_a_file_that_promises_text(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = whole_round(tmp_path)
    for words, named, better in (([], "report.txt", "report.html"), (["--json"], "report.html", "report.json")):
        out = tmp_path / named
        assert main(["report", "--config", str(path), *words, "--output", str(out)]) == 2
        assert f"name it {better}" in capsys.readouterr().err and not out.exists()


def test_a_round_of_one_day_is_dated_once(tmp_path: Path) -> None:
    short = [phase(0.0, "waking"), event(0.1, "command", name="finish", by="Ann", argument={})]
    page = Page(report(write(tmp_path, short, remembered(), states=[])))
    assert day(T0) in page.text and f"{day(T0)} to {day(T0)}" not in page.text


def test_the_hottest_is_what_a_hand_read_where_that_was_hotter_or_no_probe_is_there(tmp_path: Path) -> None:
    read = [hand(31.0, "temperature", {"": 46.0}), hand(-1.0, "temperature", {"": 60.0})]
    page = Page(report(write(tmp_path, PHASES + read, remembered(), states=STATES)))
    at = moment(T0 + 31 * HOUR).replace("\xa0", " ")
    assert page.row("hottest electrolyte") == [f"46.0 °C, {at}, by hand (limit 43.3 °C)"], "what came before counts not"


def test_without_a_probe_the_hottest_case_that_was_felt_with_a_thermometer_is_told(tmp_path: Path) -> None:
    read = [hand(0.05, "temperature", {"N2": 31.0}), hand(0.1, "gravity", {"N1.1": 1.25}, temperature=30.0)]
    short = [phase(0.0, "waking"), event(0.1, "command", name="finish", by="Ann", argument={})]
    page = Page(report(write(tmp_path, short + read, remembered(), states=[])))
    at = moment(T0 + 0.05 * HOUR).replace("\xa0", " ")
    assert page.row("hottest") == [f"31.0 °C, {at}, by hand on N2 (limit 43.3 °C)"]
    assert page.row("hours of charging") == ["6 min"] and "6 min of charging on " in page.text


def test_what_was_noted_of_a_cell_or_tripped_there_keeps_its_cell(tmp_path: Path) -> None:
    told = [
        hand(20.0, "gravity", {"N3.2": "low", "N4.1": 1.25, "N4.3": 1.24}),
        hand(21.0, "level", {"N3.1": 12.0}),
        hand(32.0, "temperature", {"N1.1": 44.4}),
        hand(32.5, "amps", {"": 36.5625}),
        event(
            32.0, "trip", hazard="over-temperature", value=44.4, limit=43.3333, unit="degC",
            reason="44.4 degC in the electrolyte of N1.1 (by hand)",
        ),
        event(32.5, "trip", hazard="over-current", value=36.5625, limit=31.25, unit="A", reason="string 1 takes all"),
    ]  # fmt: skip
    page = Page(report(write(tmp_path, PHASES + ACTS + told, remembered(), states=STATES)))
    for words in ("N3.2 low, N4.1 1.250, N4.3 1.240", "N3.1 12 mm", "N1.1 44.4 °C", "36.6 A", "by hand in N1.1"):
        assert words in page.text, words
    assert "over-temperature: 44.4 °C in the electrolyte of N1.1 (by hand), limit 43.3 °C" in page.text
    assert "over-current: string 1 takes all, 36.6 A, limit 31.2 A" in page.text


def test_a_bypass_stands_with_the_dangers_and_an_act_is_told_as_people_say_it(tmp_path: Path) -> None:
    excused = "silence of fan excused until 2026-11-25T07:00Z; where it is silent nobody watches for gas"
    told = [
        event(20.0, "command", name="bypass", by="Ann", argument={"quantity": "fan", "minutes": 30.0}, excused=excused),
        event(21.0, "command", name="arrange", by="Ann", argument={"act": "split", "number": 1, "sure": True}),
        event(22.0, "command", name="finish", by="Ann", argument={"sure": True}),
    ]
    page = Page(report(write(tmp_path, PHASES + ACTS + told, remembered(), states=STATES)))
    before = page.text.partition("Done and noted by hand")[0]
    assert "silence of fan excused until" in before and "where it is silent nobody watches for gas, by Ann" in before
    rows = [row[1:] for row in page.rows]
    assert ["split", "string 1, by Ann"] in rows and ["finish", "by Ann"] in rows, "nobody reads that it was sure"


SHEETS = pytest.mark.parametrize("options", [(), ("--handover",)])


@SHEETS
def test_a_relay_that_opens_late_is_told_so_for_every_trip_that_stood_by_then(
    tmp_path: Path, options: tuple[str, ...]
) -> None:
    second = 1.0 / HOUR
    late = [
        event(30.0, "trip", hazard="over-temperature", value=43.9, limit=43.3, unit="degC", reason="43.9 degC"),
        event(30.0, "order", action="cut", reason="over-temperature"),
        event(30 + 10 * second, "order", action="cut", reason="no evidence that the relay opened"),
        event(30 + 10 * second, "trip", hazard="relay-disobeys", value=10.0, limit=10.0, unit="s", reason="not seen"),
        event(30 + 40 * second, "trip", hazard="over-voltage", value=33.2, limit=33.0, unit="V", reason="33.2 V"),
        event(30 + 80.5 * second, "cut-confirmed", seconds=80.3, by="relay"),
    ]
    text = Page(report(write(tmp_path, PHASES + late + ACTS, remembered(), states=STATES), *options)).text
    assert "NEVER SEEN OPEN" not in text
    assert text.count("seen open LATE, after 80.3 s, by its own report") == 3
    assert text.count("told to open before it") == 2


@SHEETS
def test_a_relay_that_opens_for_the_next_trip_alone_was_never_seen_open_for_the_one_before(
    tmp_path: Path, options: tuple[str, ...]
) -> None:
    unseen = [told for told in TRIP if told.kind != "cut-confirmed"]
    again = [
        event(34.0, "trip", hazard="over-voltage", value=33.2, limit=33.0, unit="V", reason="33.2 V measured"),
        event(34.0, "order", action="cut", reason="over-voltage"),
        event(34.001, "cut-confirmed", seconds=2.1, by="relay"),
    ]
    text = Page(report(write(tmp_path, PHASES + unseen + again + ACTS, remembered(), states=STATES), *options)).text
    assert text.count("NEVER SEEN OPEN") == 1 and text.count("seen open after 2.1 s") == 1 and "LATE" not in text


def test_water_that_was_poured_in_fluid_ounces_is_told_in_whole_millilitres(tmp_path: Path) -> None:
    poured = [hand(12.0, "water", {"N1.1": 354.882, "N1.2": 473.176}), hand(12.1, "level", {"N1.1": 12.7})]
    text = Page(report(write(tmp_path, PHASES + ACTS + poured, remembered(), states=STATES))).text
    assert "355 mL" in text and "473 mL" in text and "354.8" not in text and "12.7 mm" in text


@pytest.mark.parametrize(
    ("limit", "said", "shown"),
    [
        ("108 degF", "100 °F is a warning, 108 °F the end for today", "Stop at 108 °F"),
        ("112 degF", "100 °F is a warning, 110 °F the end for today", "Stop at 112 °F"),
    ],
)
def test_the_cautions_take_the_owner_s_limit_where_it_is_lower(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], limit: str, said: str, shown: str
) -> None:
    path = whole_round(tmp_path)
    text = path.read_text().replace('temperature = "degC"', 'temperature = "degF"')
    path.write_text(text.replace("[[bank.meter]]", f'[bank.limits]\ntemperature = "{limit}"\n\n[[bank.meter]]', 1))
    for options in ((), ("--handover",)):
        text = Page(report(path, *options)).text
        assert said in text
    assert shown in text
    assert main(["plan", "--config", str(path)]) == 0
    assert said in " ".join(capsys.readouterr().out.split())
    cabin = load(path).cabin
    page = [Units.of(cabin).words(line).replace("\xa0", " ") for line in site_view(cabin, PageSettings())["cautions"]]
    assert any(said in line for line in page)


def test_each_reason_why_gravities_tell_nothing_is_said_once_on_paper(tmp_path: Path) -> None:
    cells = dict.fromkeys(CELLS[:6], 1.2)
    early = [
        hand(25.0, "gravity", dict(list(cells.items())[:3]), under_charge=True),
        hand(25.0, "gravity", dict(list(cells.items())[3:]), temperature=26.0, under_charge=True),
    ]
    memory = remembered()
    log = HandLog()
    for entry in early:
        told: dict[str, Any] = dict(entry.detail)
        reading = HandReading("north", "gravity", entry.at, entry.at, told["values"], told["temperature"], "Ann")
        log = note(log, reading, 0.0, 0.0, True, None)
    path = write(tmp_path, PHASES + ACTS + early, memory._replace(hand=log), states=STATES)
    text = Page(report(path)).text
    assert "6 cells were read, but under charge, or within 6 h after it, and without the temperature" in text
    whole = text.partition("6 cells were read")[2].partition("no figure for a verdict")[0]
    assert whole.count("under charge") == 1
