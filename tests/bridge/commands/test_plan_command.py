"""`revival plan`: what a person types, what they get, and what is refused in words."""

from __future__ import annotations

import html
import json
import re
import time
from pathlib import Path
from typing import Any

import pytest

from bridge.cli import main
from bridge.config import load
from bridge.config.text import starting_file
from bridge.journal.batch import Batch
from bridge.journal.snapshot import to_text
from bridge.journal.writer import Journal
from bridge.report.owner import Units
from bridge.words.spoken import spoken
from rules.bank import as_configured, halves
from rules.events import Derived, Event, Reading
from rules.meters import Trace
from rules.plan.words import CAUTIONS, CHECKLIST
from rules.safety import Interlock, Latch
from rules.step.memory import Memory, initial

CABIN = """
[site]
id = "tarn-hut"

[[bank]]
id = "north"
strings = 1
blocks = { per_string = 4, cells = 3, capacity = "225 Ah", labels = ["N1", "N2", "N3", "N4"] }
chargers = [ { volts = "29.4 V", amps = "45 A" }, { volts = "32 V", amps = "14 A" } ]

[[bank.meter]]
topic = "north/volts"
style = "plain"
quantity = "voltage"
unit = "V"

[[bank.meter]]
topic = "north/probe"
style = "plain"
quantity = "electrolyte_temperature"
unit = "degC"
placed = "cell"

[[bank]]
id = "south"
strings = 2
blocks = { per_string = 4, cells = 3, capacity = "225 Ah", labels = ["S1","S2","S3","S4","S5","S6","S7","S8<b>"] }

[[bank.meter]]
topic = "south/volts"
style = "plain"
quantity = "voltage"
unit = "V"
"""
CHARGERS = ["--charger", "32 V 50 A from 20 V", "--charger", "small: 16 V 20 A from 2 V plain"]


@pytest.fixture
def cabin(tmp_path: Path) -> Path:
    path = tmp_path / "cabin.toml"
    path.write_text(CABIN, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("name", "heading"), [("north", "Bank north"), ("bank", "The bank"), ("house-bank", "House-bank")]
)
def test_no_heading_says_bank_twice(cabin: Path, capsys: pytest.CaptureFixture[str], name: str, heading: str) -> None:
    cabin.write_text(CABIN.replace('id = "north"', f'id = "{name}"'), encoding="utf-8")
    assert main(["plan", "--config", str(cabin), *CHARGERS]) == 0
    said = capsys.readouterr().out
    assert heading in said.splitlines()
    assert "bank bank" not in said.lower() and "bank house-bank" not in said.lower()


@pytest.fixture
def planned(cabin: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    def run(*options: Any) -> Any:
        code = main(["plan", "--config", str(cabin), *options])
        out, err = capsys.readouterr()
        return code, out, err

    return run


def test_the_plan_is_readable_and_carries_its_cautions(planned: Any) -> None:
    code, out, _ = planned("--resting-bank", "north=23 V", "--resting-bank", "south=18 V", *CHARGERS)
    assert code == 0
    assert "1. north (1.92 V per cell at rest, most life left): begins day 1" in out
    assert max(len(line) for line in out.splitlines()) <= 100
    flat = " ".join(out.split())
    assert "Split it into halves, S1 S2 S5 S6 and S3 S4 S7 S8<b>, fuses in" in flat
    for text in (*CAUTIONS, *(text for _, text in CHECKLIST)):
        assert " ".join(spoken(text).split()) in flat.replace(" ! ", " ")


def test_the_plan_is_in_the_scale_of_the_page(planned: Any, tmp_path: Path) -> None:
    assert "38 °C is a warning" in " ".join(planned(*CHARGERS)[1].split())
    with (tmp_path / "cabin.toml").open("a") as file:
        file.write('\n[page]\nlisten = "127.0.0.1:8170"\ntemperature = "degF"\n')
    told = " ".join(planned(*CHARGERS)[1].split())
    assert "100 °F is a warning, 110 °F the end for today" in told and "°C" not in told


def test_explain_prints_formula_inputs_and_source_of_every_figure(planned: Any) -> None:
    plain = planned("--bank", "north", *CHARGERS)[1]
    why = planned("--bank", "north", *CHARGERS, "--explain")[1]
    assert "0.0504 x cells x amps" in why
    assert "amps [A] = 29.25, cells in series = 12, charger [A] = 50" in why
    assert "EN 50272-2 / IEC 62485-2" in why
    assert "0.0504" not in plain


def test_json_holds_every_figure_with_its_reason(planned: Any) -> None:
    code, out, _ = planned(
        "--bank", "north", "--resting", "N1=-6100 mV", "--ambient", "50 degF", "--outlet", "15 A", "--json"
    )
    assert code == 0
    made = json.loads(out)
    north = made["banks"][0]
    figures = {figure["name"]: figure for figure in north["figures"]}
    assert made["order"] == ["north"]
    assert "N1 reads backwards" in north["stop"][0]
    assert figures["outlet limit"]["value"] == pytest.approx(12.0)
    assert figures["equalising volts"]["inputs"]["T [degC]"] == pytest.approx(10.0)
    assert all(figure["formula"] and figure["source"] for figure in north["figures"])
    assert [line["key"] for line in made["checklist"]] == [key for key, _ in CHECKLIST]


def test_nobody_is_told_amps_of_mains_that_he_may_not_have(planned: Any) -> None:
    def drawn(*words: str) -> dict[str, float]:
        made = json.loads(planned("--bank", "north", *CHARGERS, *words, "--json")[1])
        return {row["name"]: row["value"] for row in made["banks"][0]["figures"] if "AC draw" in row["name"]}

    both = drawn()
    assert set(both) == {"AC draw on 120 V mains", "AC draw on 230 V mains"}
    # conservation of energy: the same watts at other volts
    assert 120.0 * both["AC draw on 120 V mains"] == pytest.approx(230.0 * both["AC draw on 230 V mains"])
    told = both["AC draw on 230 V mains"]
    assert drawn("--outlet", "230 V") == drawn("--outlet", "13 A 230 V") == {"AC draw": pytest.approx(told)}
    out = " ".join(planned("--bank", "north", *CHARGERS, "--resting-bank", "23 V", "--outlet", "5 A")[1].split())
    assert "on 120 V mains, which is assumed while nobody says which it is, the outlet carries 4.0 A" in out
    assert 'the mains at the outlet, without which its amps are given for both that are usual (--outlet "120 V"' in out


def test_the_mains_of_the_cabin_file_are_taken(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "cabin.toml"
    path.write_text(starting_file().replace('# ac_voltage = "120 V"', 'ac_voltage = "230 V"'))
    assert main(["plan", "--config", str(path), "--outlet", "13 A"]) == 0
    said = capsys.readouterr().out
    assert "AC draw" in said and "120 V" not in said and "230 V mains" not in said and "the mains at" not in said


def test_the_charger_of_the_cabin_file_is_used_unless_others_are_named(planned: Any) -> None:
    out = planned("--bank", "north", "--resting-bank", "18 V", "--charger-start", "20 V")[1]
    assert "the charger starts only at 20 V" in out
    assert "find a charger made for 6 cells" in out


def test_the_probe_is_where_the_cabin_file_says_and_on_the_case_where_it_does_not(planned: Any) -> None:
    out = planned(*CHARGERS, "--ambient", "10 degC", "--json")[1]
    limits = {
        bank["bank"]: figure["value"]
        for bank in json.loads(out)["banks"]
        for figure in bank["figures"]
        if figure["name"] == "temperature limit"
    }
    assert limits == pytest.approx({"north": 43.333, "south": 40.0})


@pytest.mark.parametrize("typed", ["50 F", "50F", "10 C", "10°C"])
def test_f_and_c_behind_a_typed_temperature_are_degrees(planned: Any, typed: str) -> None:
    assert (
        planned(*CHARGERS, "--ambient", typed, "--json")[1] == planned(*CHARGERS, "--ambient", "50 degF", "--json")[1]
    )


def test_the_sheet_prints_alone_escapes_everything_and_has_boxes_to_tick(planned: Any, tmp_path: Path) -> None:
    sheet = tmp_path / "plan.html"
    code, _, _ = planned(*CHARGERS, "--resting-bank", "north=23 V", "--html", str(sheet))
    text = sheet.read_text(encoding="utf-8").replace(
        "&#39;", "&#x27;"
    )  # the same apostrophe, as `html.escape` writes it
    assert code == 0
    assert "S8&lt;b&gt;" in text and "S8<b>" not in text
    assert not re.search(r"https?:|src=|href=|url\(|@import|<script", text)
    assert "@page" in text
    for _, line in CHECKLIST:
        assert f"<li>{html.escape(line)}</li>" in text
    for caution in CAUTIONS:
        assert html.escape(Units().words(caution)) in text
    assert text.count("<td>N") == 4


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--bank", "west"], "no bank 'west'"),
        (["--resting-bank", "18 V"], "which bank? write north=18 V"),
        (["--resting-bank", "west=18 V"], "no bank 'west' here"),
        (["--resting", "N1"], 'as in "N1=4.1 V"'),
        (["--resting", "X9=4.1 V"], "no bank here has it"),
        (["--resting", "N1=4.1"], "does not say its unit"),
        (["--resting", "N1=4.1 A"], "unit"),
        (["--charger", "strong"], "small: 16 V 20 A from 4 V"),
        (["--outlet", "big"], "15 A 120 V"),
        (["--gravity", "north=low"], "counts as 1.05"),
        (["--gravity", "north=2.5"], "2.5"),
        (["--sealed", "west"], "no such bank"),
        (["--power", "30 h"], '--power "30 h": cannot be: it lies between 0.1 and 24 h'),
        (["--power", "6"], "--power"),
        (["--ambient", "300 degF"], '--ambient "300 degF": cannot be: it lies between -60 °C and 60 °C'),
        (["--ambient", "95"], '--ambient "95" does not say its unit: write "95 degF"'),
        (["--shed", "-3 m^3"], '--shed "-3 m^3"'),
        (["--resting-bank", "north=1800 V"], '--resting-bank "1800 V": cannot be: it lies between -32.4 and 42 V'),
        (["--resting", "N1=41 V"], '--resting N1= "41 V": cannot be'),
        (["--reserve", "north=3 m"], '--reserve "3 m"'),
        (["--charger", "small: 16 V 90000 A"], '--charger amps "90000 A"'),
        (["--charger-start", "-2 V"], '--charger-start "-2 V"'),
        (["--outlet", "15 A 12 V"], '--outlet volts "12 V": cannot be: it lies between 80 and 500 V'),
        (["--outlet", "13A230V"], 'write it as in "15 A 120 V"'),
        (["--outlet", "15000 A"], '--outlet amps "15000 A"'),
        (["--html", "/nowhere/plan.html"], "cannot write /nowhere/plan.html"),
    ],
)
def test_what_cannot_be_understood_is_refused_with_the_right_spelling(
    planned: Any, options: tuple[str, ...], words: str
) -> None:
    code, out, err = planned(*CHARGERS, *options)
    assert (code, out) == (2, "")
    assert words in err


def test_a_sealed_bank_is_refused_with_the_reason(planned: Any) -> None:
    out = planned("--bank", "north", "--sealed", "north", *CHARGERS)[1]
    assert "STOP: sealed, gel or AGM" in out


def test_a_file_with_neither_charger_nor_relay_is_told_what_is_missing_and_of_nothing_that_is_not_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare = tmp_path / "bare.toml"
    bare.write_text(
        '[site]\nid = "hut"\n[[bank]]\nid = "north"\nblocks = { per_string = 4, cells = 3, capacity = "200 Ah" }\n'
    )
    sheet = tmp_path / "plan.html"
    assert main(["plan", "--config", str(bare), "--html", str(sheet)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for text in (said, sheet.read_text()):
        assert "No charger is known" in text and "Frost: its acid freezes" in text and "Capacity test" in text
        assert "A relay behind" not in text and "this program switches nothing off, a person does" in text
    assert "Bank north 1. No charger is known" in said
    assert main(["plan", "--config", str(bare), "--charger", "small: 32 V 20 A"]) == 0
    assert "No charger is known" not in capsys.readouterr().out


def test_gravities_that_were_noted_are_known_to_the_plan(cabin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def noted(ago: float, **values: float | str) -> Event:
        at = time.time() - ago
        cells = {cell.replace("_", "."): value for cell, value in values.items()}
        return Event("north", "hand", at, {"kind": "gravity", "taken_at": at, "values": cells, "temperature": 26.6667})

    def told(*options: str) -> str:
        assert main(["plan", "--config", str(cabin), "--bank", "north", *options]) == 0
        return " ".join(capsys.readouterr().out.split())

    def note(*events: Event) -> None:
        journal = Journal.open(load(cabin).cabin.journal, {"north": ()})
        journal.submit(Batch(events=list(events)))
        journal.close(10.0)

    assert "no gravity of its weakest cell is known" in told()
    every = {f"N{block}_{cell}": 1.200 for block in range(1, 5) for cell in range(1, 4)}
    note(noted(20 * 86400.0, N1_1=1.100), noted(3600.0, N1_1=1.150, N1_2=1.200))
    assert "no gravity of its weakest cell is known" in told(), "a cell that nobody read may be the weakest"
    note(noted(3000.0, **{**every, "N1_1": 1.150}))
    said = told()
    assert "as its gravity says" in said and "no gravity of its weakest cell" not in said
    # 1.150 freezes at -15 degC (US Army TM 5-1185), and 3 K above that it may be charged.
    start = re.search(r"start it only from (\S+ °[CF]) on", said)
    assert start is not None and start[1] in ("-12.0 °C", "10.4 °F")
    table = re.search(r"coldest for charging (\S+ °[CF])", said)
    assert table is not None and float(table[1].split()[0]) == float(start[1].split()[0]), "one figure"
    assert start[1] not in told("--gravity", "1.200"), "what is typed counts before what was noted"
    doubted = noted(600.0, N1_1=1.190)
    note(doubted._replace(detail={**doubted.detail, "under_charge": True}))
    assert "no gravity of its weakest cell is known" in told(), "read under charge it says nothing"
    note(noted(300.0, N1_1=1.190))
    assert "as its gravity says" in told()
    note(noted(60.0, N1_3="low"))
    assert "no gravity of its weakest cell is known" in told()


def test_no_room_is_so_cold_that_the_plan_charges_in_it_and_none_so_warm_that_it_says_0_amps(planned: Any) -> None:
    # Common practice, no source: nothing is charged under -20 degC, whatever its acid.
    strong = " ".join(planned("--bank", "north", "--gravity", "1.265", "--ambient", "-25 degC", *CHARGERS)[1].split())
    assert re.search(r"STOP: -(25 °C|13 °F) is too cold", strong)
    assert re.search(r"start it only from (-20\.0 °C|-4\.0 °F) on", strong)
    hot = " ".join(planned("--bank", "north", "--ambient", "120 degF", *CHARGERS)[1].split())
    assert "STOP: the room at" in hot and "Do not begin" in hot and "0.0 A" not in hot and "begins day 1" not in hot
    assert "at night" not in hot and not re.search(r"\b(\d+) to \1\b", hot)
    unsaid = " ".join(planned("--bank", "north", *CHARGERS)[1].split())
    warm = re.search(r"From about (\d+) °C in it the hold may get too warm", unsaid)
    assert warm is not None
    told = [
        " ".join(planned("--bank", "north", "--ambient", f"{int(warm[1]) + more} degC", *CHARGERS)[1].split())
        for more in (-1, 0)
    ]
    assert ["get too warm" in one for one in told] == [False, True]


def test_the_amps_that_are_a_danger_are_told_beside_those_that_a_string_may_take(planned: Any) -> None:
    # 0.13 x 225 Ah are 29.25 A (common practice); 1.25 times that are 36.6 A.
    said = " ".join(planned("--bank", "north", *CHARGERS)[1].split())
    assert "A string may take 29 A." in said and "over 36.6 A for 30 s it is a danger" in said
    assert re.search(r"over-current in a string, from +36\.6 A|over-current in a string, from +37 A", said)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--reserve", "north=0 in"], "STOP: the level stands at the plates"),
        (["--resting-bank", "north=26.4 V"], "2.20 V per cell, more than any cell rests at"),
        (["--resting-bank", "north=5 V"], "0.42 V per cell: look for a shorted cell"),
        (["--resting", "N1=0.2 V"], "N1 at 0.2 V is 0.07 V per cell: look for a shorted cell"),
    ],
)
def test_plates_at_the_level_stop_the_plan_and_volts_that_no_cell_rests_at_are_not_passed_over(
    planned: Any, options: list[str], words: str
) -> None:
    code, out, _ = planned("--bank", "north", *options, *CHARGERS)
    assert code == 0 and words in " ".join(out.split())
    usual = " ".join(planned("--bank", "north", "--reserve", "north=12 mm", "--resting-bank", "north=24 V")[1].split())
    assert "STOP" not in usual and "rests at" not in usual and "look for a shorted" not in usual


def test_a_charger_that_reaches_the_volts_and_gives_too_many_amps_is_refused_for_its_amps(
    cabin: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", "--config", str(cabin), "--bank", "north", "--charger", "big: 32 V 60 A fixed"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "STOP: big cannot be set below 60 A and this bank takes" in said
    assert "STOP: no other charger here reaches 28.8 V: find one" in said and "no charger reaches" not in said


def test_a_room_whose_thermometer_the_bridge_hears_is_planned_with_as_if_it_were_typed(
    cabin: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def told(*words: str) -> str:
        assert main(["plan", "--config", str(cabin), "--bank", "north", *CHARGERS, *words]) == 0
        return " ".join(capsys.readouterr().out.split())

    def heard(ago: float, ambient: float) -> None:
        journal = Journal.open(load(cabin).cabin.journal, {"north": ()})
        journal.submit(Batch(derived=[Derived("north", time.time() - ago, voltage=25.0, ambient=ambient)]))
        journal.close(10.0)

    heard(2 * 86400.0, 16.1)
    assert "nobody said how warm the room is" in told(), "the day before yesterday is not now"
    heard(60.0, 16.1)
    now = told()
    assert "nobody said how warm the room is" not in now
    assert "the air at the bank is counted as 16.1 °C, as its thermometer shows it now" in now
    (typed,) = re.findall(r"The hold \w+ get too warm.*?: cap it at \S+ A", told("--ambient", "16.1 degC"))
    assert typed in now, "as if it were typed"
    assert "as its thermometer shows" not in told("--ambient", "30 degC"), "what is typed counts"
    heard(30.0, 41.0)
    assert "STOP: the room at 41 °C is too warm" in told()


def test_a_plan_in_the_first_minute_of_a_run_knows_the_air_that_its_thermometer_just_told(
    cabin: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    now = time.time()
    journal = Journal.open(load(cabin).cabin.journal, {"north": ()})
    state = Derived("north", now - 20.0, voltage=25.0)  # of before anything was heard of the air
    air = [Reading("north", "ambient_temperature", 13.6, now - ago, now - ago) for ago in (12.0, 2.0)]
    journal.submit(Batch(readings=[*air, Reading("north", "voltage", 25.0, now, now)], derived=[state]))
    journal.close(10.0)
    assert main(["plan", "--config", str(cabin), "--bank", "north", *CHARGERS]) == 0
    assert "the air at the bank is counted as 13.6 °C" in " ".join(capsys.readouterr().out.split())


def test_the_amps_of_the_hold_are_those_at_which_it_stays_cool_wherever_they_are_said(
    cabin: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def told(air: str) -> str:
        assert main(["plan", "--config", str(cabin), "--bank", "north", *CHARGERS, "--ambient", air]) == 0
        return " ".join(capsys.readouterr().out.split())

    warm = told("16 degC")
    (capped,) = re.findall(r"get too warm.*?: cap it at (\S+) A per string", warm)
    (raised,) = re.findall(r"per cell\), (.*?), and hold it", warm)
    strings = len(load(cabin).cabin.banks["north"].strings)
    assert raised.startswith(f"no more than {float(capped) * strings:.1f} A"), (raised, capped)
    assert "A is enough, and hold it" in told("-10 degC"), "cold air cools whatever is enough"


def remembering(cabin: Path, memory: Memory, *events: Event) -> None:
    journal = Journal.open(load(cabin).cabin.journal, {"north": ()})
    journal.submit(Batch(events=list(events), snapshots={"north": to_text(memory)}))
    journal.close(10.0)


def with_volts(now: float, *, charged_at: float = 0.0, **volts: float) -> Memory:
    """A memory whose meters told these volts half a minute ago."""
    told = {name.replace("__", ":"): Trace(value=value, at=now - 30.0, quality="good") for name, value in volts.items()}
    return initial()._replace(meters=told, charged_at=charged_at)


BLOCKS = "".join(
    f'\n[[bank.meter]]\ntopic = "north/n{n}"\nquantity = "block_voltage"\nunit = "V"\nindex = "N{n}"\n'
    for n in range(1, 5)
)
SOUTH = '\n[[bank]]\nid = "south"'


def test_volts_at_rest_that_the_meters_just_told_are_not_asked_for_again(planned: Any, cabin: Path) -> None:
    cabin.write_text(CABIN.replace(SOUTH, BLOCKS + SOUTH), encoding="utf-8")
    words, now = ("--bank", "north", *CHARGERS), time.time()
    asked = "resting volts of the bank, or of every block"
    assert asked in " ".join(planned(*words)[1].split()), "nothing was heard"
    each = {"block_voltage__N1": 5.9, "block_voltage__N2": 5.8, "block_voltage__N3": 6.0, "block_voltage__N4": 5.9}
    remembering(cabin, with_volts(now, **each))
    said = " ".join(planned(*words)[1].split())
    assert asked not in said and "Volts: of N1, N2, N3 and N4 as the meters showed them just now" in said
    assert "on the charger today" in said
    typed = " ".join(planned(*words, "--resting-bank", "23 V")[1].split())
    assert "as the meters showed them" not in typed


@pytest.mark.parametrize(
    ("volts", "charged"), [({"voltage": 27.9}, None), ({"voltage": 24.4}, 3600.0)], ids=["on charge", "an hour ago"]
)
def test_volts_of_a_bank_that_is_charged_or_was_of_late_are_no_volts_at_rest(
    planned: Any, cabin: Path, volts: dict[str, float], charged: float | None
) -> None:
    now = time.time()
    remembering(cabin, with_volts(now, charged_at=0.0 if charged is None else now - charged, **volts))
    assert "resting volts of the bank, or of every block" in " ".join(planned("--bank", "north", *CHARGERS)[1].split())


def test_air_and_openings_are_written_in_one_way(planned: Any) -> None:
    out = planned("--bank", "north", "--resting-bank", "23 V", "--shed", "30 m^3", *CHARGERS, "--explain")[1]
    assert "m3/h" in out and "m^3/h" not in out and "cm^2" not in out


def test_while_a_trip_stands_the_plan_says_it_first_and_orders_nothing_set(planned: Any, cabin: Path) -> None:
    latch = Latch(time.time() - 600.0, None, None, "", "somebody noted: smell of rotten eggs")
    remembering(cabin, initial()._replace(interlock=Interlock(latched={"danger-noted": latch})))
    code, out, _ = planned("--bank", "north", "--resting-bank", "23 V", *CHARGERS)
    said = " ".join(out.split())
    assert code == 0 and "on the charger today" not in said
    first = said.partition("Cautions, before you touch anything ! ")[2]
    assert first.startswith("north: TRIPPED by danger-noted: ") and "Nobody goes in before" in first[:200]
    assert "1. north" in said and "not as it is" in said
    rows = json.loads(planned("--bank", "north", *CHARGERS, "--json")[1])
    assert rows["cautions"][0].startswith("north: TRIPPED") and rows["banks"][0]["steps"] == []
    sheet = cabin.with_name("plan.html")
    assert planned("--bank", "north", *CHARGERS, "--html", str(sheet))[0] == 0
    assert "on the charger today" not in sheet.read_text() and "TRIPPED by danger-noted" in sheet.read_text()
    remembering(cabin, initial())
    assert "on the charger today" in " ".join(
        planned("--bank", "north", "--resting-bank", "23 V", *CHARGERS)[1].split()
    )


def test_after_a_split_the_plan_is_for_the_half_in_the_circuit(planned: Any, cabin: Path) -> None:
    bank = load(cabin).cabin.banks["north"]
    half = halves(bank, as_configured(bank))[0]
    now = time.time()
    noted = Event("north", "hand", now - 60.0, {"kind": "voltage", "values": {"": 24.8}, "taken_at": now - 60.0})
    split = Event("north", "command", now - 30.0, {"name": "arrange", "argument": {"act": "split"}})
    remembering(cabin, initial()._replace(arrangement=half), noted, split)
    said = " ".join(planned("--bank", "north", "--charger", "16 V 20 A from 4 V")[1].split())
    assert "Set 14.7 V" in said and "29.4" not in said and "4.13 V per cell" not in said
    assert "Charge what is in the circuit now and nothing else: N1 N2; aside: N3 N4." in said
    assert "in one piece" not in said
    alone = " ".join(planned("--bank", "north")[1].split())  # the charger of the cabin file: 29.4 V is its lowest
    assert "STOP: the charger cannot be set below 29.4 V" in alone and "do not connect it" in alone
    assert "on the charger today" not in alone


AIR = '\n[[bank.meter]]\ntopic = "shed/air"\nstyle = "plain"\nquantity = "ambient_temperature"\nunit = "degC"\n\n'


def amps_of_the_hold(said: str) -> float:
    (most, enough) = re.findall(r"per cell\), (?:no more than ([\d.]+) A|(\d+) A is enough)", said)[0]
    return float(most or enough)


def test_a_thermometer_of_the_air_that_has_not_spoken_is_told_and_a_warm_room_reckoned_with(
    cabin: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def told(*words: str) -> str:
        assert main(["plan", "--config", str(cabin), "--bank", "north", *CHARGERS, *words]) == 0
        return " ".join(capsys.readouterr().out.split())

    nobody = told()
    assert "nobody said how warm the room is" in nobody and "has a thermometer of the air" not in nobody
    cabin.write_text(CABIN.replace('[[bank]]\nid = "south"', f'{AIR}[[bank]]\nid = "south"'))
    silent, cool = told(), told("--ambient", "12 degC")
    assert "nobody said how warm the room is" not in silent and "STOP" not in silent
    assert "nothing was heard of it in the last hour" in silent and "ask for the plan again in a minute" in silent
    assert amps_of_the_hold(silent) == amps_of_the_hold(told("--ambient", "30 degC")) < amps_of_the_hold(cool)
    assert "has a thermometer of the air" not in cool, "what is typed counts"


def test_a_plan_waits_for_the_air_while_a_bridge_listens_to_its_thermometer(
    cabin: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    cabin.write_text(CABIN.replace('[[bank]]\nid = "south"', f'{AIR}[[bank]]\nid = "south"'))
    asked: list[object] = []

    def bridge(path: Path, request: object) -> dict[str, Any]:
        asked.append(request)
        if len(asked) == 2:
            now = time.time()
            journal = Journal.open(load(cabin).cabin.journal, {"north": ()})
            journal.submit(Batch(readings=[Reading("north", "ambient_temperature", 19.4, now, now)]))
            journal.close(10.0)
        return {}

    remembering(cabin, initial())
    monkeypatch.setattr("bridge.commands.plan.ask", bridge)
    assert main(["plan", "--config", str(cabin), "--bank", "north", *CHARGERS]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert len(asked) == 2 and "the air at the bank is counted as 19.4 °C" in said
    assert "has a thermometer of the air" not in said


@pytest.mark.parametrize(
    ("charging", "ago", "told"),
    [(True, 300.0, True), (False, 300.0, False), (True, 7200.0, False)],
    ids=["on charge minutes ago", "at rest", "on charge hours ago"],
)
def test_a_bank_that_was_on_charge_when_it_was_last_heard_is_named_first(
    cabin: Path, capsys: pytest.CaptureFixture[str], charging: bool, ago: float, told: bool
) -> None:
    journal = Journal.open(load(cabin).cabin.journal, {"north": ()})
    state = Derived("north", time.time() - ago, voltage=26.2, current=14.12, charging=charging)
    journal.submit(Batch(derived=[state]))
    journal.close(10.0)
    assert main(["plan", "--config", str(cabin)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    first = "! north was being charged when it was last heard, 5 min ago: 14.1 A flow into it at 26.2 V, and no bridge"
    assert (first in said.partition("Cautions")[0]) is told
    assert ("Switch it off at the wall, or start `revival run` and stay with it" in said) is told
    assert main(["plan", "--config", str(cabin), "--json"]) == 0
    assert bool(json.loads(capsys.readouterr().out)["now"]) is told


#: Eight blocks of 6 V, a charger of 64 V, the equalising voltage as usual, Fahrenheit.
LOFT = """
[site]
id = "loft"
temperature = "degF"
openings = "100 sq in"

[[bank]]
id = "house"
strings = 1
blocks = { per_string = 8, cells = 3, capacity = "225 Ah" }
chargers = [ { volts = "64 V", amps = "30 A", starts_at = "40 V" } ]

[[bank.meter]]
topic = "house/volts"
style = "plain"
quantity = "voltage"
unit = "V"
"""


@pytest.fixture
def loft(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    path = tmp_path / "loft.toml"

    def run(*options: str, command: str = "plan", text: str = LOFT) -> str:
        path.write_text(text, encoding="utf-8")
        assert main([command, "--config", str(path), *options]) == 0
        return " ".join(capsys.readouterr().out.split())

    return run


def test_a_charger_hardly_below_the_usual_equalising_voltage_finishes_the_work_at_its_own(loft: Any) -> None:
    told = loft("--resting-bank", "47 V")
    assert "stay at 64.0 V (2.67 V per cell)" in told and "cannot begin" not in told
    assert "as which the charger's 64 V count" in loft(command="check")
    low = LOFT.replace('"64 V"', '"60 V"')
    assert "reaches only 60 V, equalising needs 64.1 V" in loft("--resting-bank", "47 V", text=low)
    high = LOFT.replace('"64 V"', '"65.5 V"')
    told = loft("--resting-bank", "47 V", text=high)
    assert "Set 64.1 V and" in told and "stay at 64.1 V" in told
    assert "the charger goes up to 65.5 V: set it no higher in the hold" in loft(command="check", text=high)


def test_the_owners_openings_cap_the_charger_in_his_own_measures(loft: Any) -> None:
    told = loft("--resting-bank", "47 V")
    assert "Your openings of 100 sq in each carry about 19 A: cap the charger there, or open the door, or add" in told
    assert "Set 64.0 V and 19 A on the charger today." in told
    wide = loft("--resting-bank", "47 V", "--openings", "2 ft^2")
    assert "Your openings of 288 sq in each carry about 54 A" in wide and "Set 64.0 V and 29 A" in wide
    none = loft("--resting-bank", "47 V", text=LOFT.replace('openings = "100 sq in"', ""))
    assert "Your openings" not in none and "the openings for air, how large each is" in none
    assert "for 29 A it takes" in told and "at 29 A" in none, "what is set counts, not what the charger could give"


def test_text_and_figures_round_water_and_levels_alike_and_what_must_be_at_hand_is_rounded_up(loft: Any) -> None:
    for scale, litres, inches in (("degF", r"([\d.]+) qt", r"([\d.]+) in"), ("degC", r"([\d.]+) L", r"([\d.]+) mm")):
        told = loft("--resting-bank", "47 V", "--reserve", "0.4 in", text=LOFT.replace('"degF"', f'"{scale}"'))
        have = re.search(f"Have {litres} of distilled water", told)
        falls = re.search(f"the level may fall {inches}", told)
        figure = re.search(f"distilled water for the hold {litres}", told)
        level = re.search(f"level falls over the hold {inches}", told)
        assert have and falls and figure and level
        assert have[1] == figure[1] and falls[1] == level[1]
        if scale == "degF":
            assert have[1] == "2.8" and "0.4 in stand above the plates" in told  # 24 cells of 3.7 fl oz
    assert spoken("3785 mL", "degF") == "1.0 gal" and spoken("946 mL", "degF") == "1.0 qt"
