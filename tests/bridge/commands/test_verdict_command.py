"""`revival verdict` on a real journal: it reads, it judges, and with a name it tells the running bridge."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from bridge.cli import main
from bridge.journal.batch import Batch
from bridge.journal.snapshot import to_text
from bridge.journal.writer import Journal
from bridge.runtime.control_socket import Control, socket_path
from bridge.settings import JournalSettings
from rules.events import Event, Flag, HandReading
from rules.hand.log import HandLog, record
from rules.safety import Finding, Interlock, Latch
from rules.safety.evidence import Pending
from rules.step.memory import initial
from rules.verdict import Given
from rules.verdict.capacity_test import CapacityTest

CABIN = """
[site]
id = "tarn-hut"

[[bank]]
id = "north"
strings = 1
blocks = { per_string = 2, cells = 3, capacity = "200 Ah", labels = ["N1", "N2"] }

[[bank.meter]]
topic = "north/volts"
style = "plain"
quantity = "voltage"
unit = "V"

[journal]
path = "revival.db"
"""
T = 1_795_590_000.0


@pytest.fixture
def cabin(tmp_path: Path) -> Any:
    path = tmp_path / "cabin.toml"
    path.write_text(CABIN, encoding="utf-8")
    return path


@pytest.fixture
def judged(cabin: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    def run(*options: Any) -> Any:
        code = main(["verdict", "--config", str(cabin), *options])
        out, err = capsys.readouterr()
        return code, out, err

    return run


@pytest.fixture
def tested(cabin: Path) -> None:
    """A journal after a round: 130 of 200 Ah, N2 came down first, gravities even; 128 Ah the round before."""
    cells = {f"{block}.{cell}": 1.262 for block in ("N1", "N2") for cell in (1, 2, 3)}
    hand = record(HandLog(), HandReading("north", "gravity", T, T, cells, 25.0), 0.0, 0.0, False, 12.0)
    test = CapacityTest(T, 25.0, delivered=130.0, hours=13.0, ended_at=T + 46800.0, reason="bank", fell_first=("N2",))
    memory = initial()._replace(hand=hand, test=test)
    capacities = {"north": 128.0, "N1": 150.0, "N2": 128.0}
    before = {"name": "verdict", "by": "Ann", "argument": {"capacities": capacities}}
    journal = Journal.open(JournalSettings(path=cabin.with_name("revival.db")), {"north": ()})
    journal.submit(
        Batch(
            events=[Event("north", "command", T - 86400.0, before)],
            snapshots={"north": to_text(memory)},
        )
    )
    journal.close(10.0)


@pytest.mark.usefixtures("tested")
def test_the_verdict_of_bank_and_blocks_is_told_with_reasons_and_what_comes_after(judged: Any) -> None:
    code, out, _ = judged()
    assert code == 0
    assert "Bank north as it stands: KEEP, DERATED: 65 % of its rated 200 Ah and no longer gaining" in out
    assert "N1  REPEAT: gave 65 % of its rated 200 Ah until another block fell: test it alone" in out
    assert "N2  KEEP, DERATED" in out
    assert "then retorque" in out


@pytest.mark.usefixtures("tested")
def test_a_capacity_tested_alone_and_an_earlier_one_come_from_the_command_line(judged: Any) -> None:
    made = json.loads(judged("--capacity", "N1=170 Ah", "--previous", "N2=100 Ah", "--json")[1])
    assert [block["word"] for block in made["blocks"]] == ["keep", "repeat"]
    assert made["bank"]["word"] == "keep-derated"
    assert made["matching"]["strings"] == [["N1", "N2"]]


@pytest.mark.usefixtures("tested")
def test_a_verdict_that_is_given_goes_to_the_running_bridge_by_name(judged: Any, cabin: Path) -> None:
    asked = []

    def deliver(question: Any) -> None:
        asked.append(question.request)
        question.reply.put({"refused": [], "events": []})

    control = Control(socket_path(cabin.with_name("revival.db")), deliver, lambda: T)
    try:
        code = judged("--give", "Ann")[0]
    finally:
        control.close()
    assert code == 0
    assert (asked[0].name, asked[0].by, asked[0].bank) == ("verdict", "Ann", "north")
    assert asked[0].argument["words"] == {"north": "keep-derated", "N1": "repeat", "N2": "keep-derated"}
    assert asked[0].argument["capacities"] == pytest.approx({"north": 130.0, "N2": 130.0}, rel=0.1)


@pytest.mark.usefixtures("tested")
def test_giving_a_verdict_without_a_running_bridge_says_so(judged: Any) -> None:
    code, _, err = judged("--give", "Ann")
    assert code == 4
    assert "revival run" in err


@pytest.mark.usefixtures("tested")
@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (["--bank", "west"], 2, "no bank 'west': there are north"),
        (["--capacity", "X1=100 Ah"], 2, 'as in "N1=162 Ah"'),
        (["--capacity", "N1=100"], 2, "does not say its unit"),
    ],
)
def test_what_cannot_be_understood_is_refused(judged: Any, options: tuple[str, ...], code: Any, words: str) -> None:
    got, _, err = judged(*options)
    assert got == code
    assert words in err


def test_without_a_journal_there_is_no_verdict(judged: Any) -> None:
    code, _, err = judged()
    assert code == 4
    assert "revival.db" in err


@pytest.fixture
def read_while_charging(cabin: Path) -> None:
    """A journal in which gravities were read under charge alone, and one cell is far below the others."""
    cells = {f"{block}.{cell}": 1.250 for block in ("N1", "N2") for cell in (1, 2, 3)} | {"N1.3": 1.180}
    hand = record(HandLog(), HandReading("north", "gravity", T, T, cells, 25.0), 0.0, 0.0, True, None)
    phase = initial().phase._replace(phase="resting", started_at=T - 86400.0, since=T + 600.0)
    memory = initial()._replace(hand=hand, phase=phase, charged_at=T + 600.0)
    journal = Journal.open(JournalSettings(path=cabin.with_name("revival.db")), {"north": ()})
    journal.submit(Batch(events=[], snapshots={"north": to_text(memory)}))
    journal.close(10.0)


@pytest.mark.usefixtures("read_while_charging")
def test_what_was_read_under_charge_is_named_as_no_figure_with_the_cell_that_stands_out(judged: Any) -> None:
    code, out, _ = judged()
    assert code == 0 and "nothing was measured" not in out.split("N2")[0]
    whole, block = (line for line in out.splitlines() if "N1.3" in line)
    assert "6 cells were read, but under charge, or within 6 h after it, which is no figure for a verdict" in whole
    assert (
        "N1.3 stands out (low: gravity 1.179 against 1.249)" in whole
        and "read every cell again 6 h after charging" in whole
    )
    assert block.startswith("  N1  NOT JUDGED: 3 cells were read") and "N1.3 stands out" in block
    assert "no cell of these stands out, the lowest is N2.1" in out
    rested = datetime.fromtimestamp(T + 600.0 + 6 * 3600.0).astimezone()
    assert f"Still to be measured: the gravity of every cell with its temperature, from {rested.day} " in out
    assert f"{rested:%H:%M} on, better from" in out and "the capacity of the rested bank, by `revival test`." in out
    bank = json.loads(judged("--json")[1])["bank"]
    assert bank["word"] == "not-judged" and "N1.3 stands out" in bank["reasons"][0]


def test_in_a_round_under_way_nobody_is_told_what_comes_after_it(cabin: Path, judged: Any) -> None:
    cells = {f"{block}.{cell}": 1.250 for block in ("N1", "N2") for cell in (1, 2, 3)}
    hand = record(HandLog(), HandReading("north", "gravity", T, T, cells, 25.0), 0.0, 0.0, False, 12.0)
    phase = initial().phase._replace(phase="waking", started_at=T - 3600.0)
    journal = Journal.open(JournalSettings(path=cabin.with_name("revival.db")), {"north": ()})
    journal.submit(Batch(events=[], snapshots={"north": to_text(initial()._replace(hand=hand, phase=phase))}))
    journal.close(10.0)
    out = judged()[1]
    assert (
        out.startswith("The round is under way")
        and "NOT JUDGED" in out
        and "REPEAT" not in out
        and "etorque" not in out
    )


@pytest.mark.usefixtures("tested")
def test_a_bank_of_which_everything_was_measured_lacks_nothing(judged: Any) -> None:
    assert "Still to be measured" not in judged()[1]


def _journaled(cabin: Path, memory: Any) -> None:
    journal = Journal.open(JournalSettings(path=cabin.with_name("revival.db")), {"north": ()})
    journal.submit(Batch(events=[], snapshots={"north": to_text(memory)}))
    journal.close(10.0)


@pytest.mark.parametrize("charging", [False, True])
def test_while_a_trip_stands_nobody_is_sent_in_and_the_trip_comes_first(
    cabin: Path, judged: Any, charging: bool
) -> None:
    cells = {f"{block}.{cell}": 1.262 for block in ("N1", "N2") for cell in (1, 2, 3)}
    hand = record(HandLog(), HandReading("north", "gravity", T, T, cells, 25.0), 0.0, 0.0, False, 12.0)
    test = CapacityTest(T, 25.0, delivered=190.0, hours=19.0, ended_at=T + 46800.0, reason="bank", fell_first=("N2",))
    lock = Interlock(latched={"danger-noted": Latch(T + 600.0, None, None, "", "somebody noted: smell of rotten eggs")})
    charged: dict[str, Any] = {"charged_at": T + 590.0, "observed_at": T + 600.0} if charging else {}
    _journaled(cabin, initial()._replace(hand=hand, test=test, interlock=lock, **charged))
    out = judged()[1]
    assert out.startswith("TRIPPED by danger-noted: somebody noted: smell of rotten eggs. Nobody goes in before ")
    first = datetime.fromtimestamp(T + 600.0 + 3600.0).astimezone()
    assert f"{first:%H:%M}" in out.splitlines()[0]
    assert ("before an hour after charging has ended" in out.splitlines()[0]) == charging
    assert "revival reset" in out.splitlines()[0]
    assert "etorque" not in out and "air the room" not in out and "Still to be measured" not in out


def test_a_trip_whose_hazard_is_there_keeps_people_out_as_long(cabin: Path, judged: Any) -> None:
    lock = Interlock(latched={"over-temperature": Latch(T, 45.0, 43.3, "degC", "45.0 degC measured")})
    there = {"over-temperature|probe": Pending(T, 0.0, True, Finding(45.0, 43.3, "degC", "45.0 degC measured"))}
    _journaled(cabin, initial()._replace(interlock=lock, pending=there))
    assert "Nobody goes in while over-temperature is still there." in judged()[1]


@pytest.mark.usefixtures("tested")
def test_what_nobody_began_has_one_word_in_verdict_and_report(
    cabin: Path, judged: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    hand = record(HandLog(), HandReading("north", "gravity", T, T, {"N1.1": 1.144}, 25.0), 0.0, 0.0, False, 12.0)
    _journaled(cabin, initial()._replace(hand=hand))
    out = judged()[1]
    assert out.startswith("No round has begun") and "NOT JUDGED" in out and "REPEAT" not in out
    assert main(["report", "--config", str(cabin)]) == 0
    page = capsys.readouterr().out
    assert "NOT JUDGED" in page and ">REPEAT<" not in page and "No verdict yet" in page


def test_after_an_abandon_the_round_is_said_to_be_abandoned_and_when(cabin: Path, judged: Any) -> None:
    _journaled(cabin, initial())
    assert judged()[1].startswith("No round has begun")
    journal = Journal.open(JournalSettings(path=cabin.with_name("revival.db")), {"north": ()})
    acts = [Event("north", "command", T, {"name": "start"}), Event("north", "command", T + 60.0, {"name": "abandon"})]
    journal.submit(Batch(events=acts, snapshots={"north": to_text(initial())}))
    journal.close(10.0)
    out = judged()[1]
    assert out.startswith("The last round was abandoned at ") and "and none has begun since" in out.partition(":")[2]
    assert "no verdict" in out and "No round has begun" not in out
    phase = initial().phase._replace(phase="reviving", started_at=T + 120.0)
    _journaled(cabin, initial()._replace(phase=phase))
    assert judged()[1].startswith("The round is under way"), "the next one is another"


def test_two_reasons_of_which_one_is_shared_are_each_said_once(cabin: Path, judged: Any) -> None:
    hand = record(
        HandLog(), HandReading("north", "gravity", T, T, {"N1.1": 1.25, "N1.2": 1.25}, 25.0), 0.0, 0.0, True, None
    )
    hand = record(hand, HandReading("north", "gravity", T + 1.0, T + 1.0, {"N1.3": 1.25}), 0.0, 0.0, True, None)
    phase = initial().phase._replace(phase="resting", started_at=T - 86400.0, since=T + 600.0)
    _journaled(cabin, initial()._replace(hand=hand, phase=phase, charged_at=T + 600.0))
    (line,) = (line for line in judged()[1].splitlines() if "3 cells were read" in line and line.startswith("  N1"))
    assert line.count("under charge, or within 6 h after it") == 1 and line.count("not corrected") == 1, line


def test_a_cell_that_a_finding_names_is_not_said_to_stand_in_line(cabin: Path, judged: Any) -> None:
    cells = {f"{block}.{cell}": 1.165 for block in ("N1", "N2") for cell in (1, 2, 3)} | {"N2.3": 1.144}
    hand = record(HandLog(), HandReading("north", "gravity", T, T, cells, 25.0), 0.0, 0.0, True, None)
    found = Flag("imbalance", "chore", T, reason="gravity spread between cells 0.021: N2.3 at 1.144")
    _journaled(cabin, initial()._replace(hand=hand, flags={"imbalance": found}))
    out = judged()[1]
    whole, block = (line for line in out.splitlines() if "the lowest is N2.3" in line)
    assert "imbalance" in whole and "no cell of these stands out" not in whole + block
    assert "no cell of these stands out, the lowest is N1.1" in out


@pytest.mark.usefixtures("tested")
@pytest.mark.parametrize("phase", ["idle", "resting"])
def test_where_no_hold_was_done_no_block_is_scrapped_for_cells_that_differ(
    cabin: Path, judged: Any, capsys: pytest.CaptureFixture[str], phase: str
) -> None:
    cells = {f"{block}.{cell}": 1.240 for block in ("N1", "N2") for cell in (1, 2, 3)} | {"N2.2": 1.180}
    hand = record(HandLog(), HandReading("north", "gravity", T, T, cells, 25.0), 0.0, 0.0, False, 12.0)
    began = None if phase == "idle" else T - 86400.0
    machine = initial().phase._replace(phase=phase, started_at=began)
    _journaled(cabin, initial()._replace(hand=hand, phase=machine))
    out = judged()[1]
    block = next(line for line in out.splitlines() if line.startswith("  N2"))
    assert "SCRAP" not in out and "after equalising" not in out
    assert block.startswith("  N2  NOT JUDGED: gravity differs by 0.060 between its cells, and no hold was done")
    assert "equalise first" in block
    assert main(["report", "--config", str(cabin)]) == 0
    page = capsys.readouterr().out
    assert "SCRAP" not in page and "after equalising" not in page
    _journaled(cabin, initial()._replace(hand=hand, phase=machine._replace(phase="resting", hold_complete=True)))
    assert "N2  SCRAP: gravity still differs by 0.060 between its cells after equalising" in judged()[1]
    dead = HandReading("north", "voltage", T + 60.0, T + 60.0, {"N2.2": 0.4})
    shorted = record(hand, dead, 0.0, 0.0, False, 12.0)
    _journaled(cabin, initial()._replace(hand=shorted, phase=machine))
    assert "N2  SCRAP: cell N2.2 shorted or dead" in judged()[1]


@pytest.mark.usefixtures("tested")
def test_a_capacity_that_no_battery_gives_is_asked_about_and_a_verdict_is_given_by_a_name(judged: Any) -> None:
    code, _, err = judged("--capacity", "N2=1800 Ah")
    assert code == 5 and "N2: 1800 Ah are 900 % of its rated 200 Ah" in err and "--sure" in err
    assert "900 %" in judged("--capacity", "N2=1800 Ah", "--sure")[1]
    code, _, err = judged("--give", "")
    assert code == 2 and "a verdict is given by name, as in --give Ann" in err


@pytest.mark.usefixtures("tested")
def test_a_verdict_given_again_keeps_the_capacities_and_says_whose_it_replaces(cabin: Path, judged: Any) -> None:
    asked = []

    def deliver(question: Any) -> None:
        asked.append(question.request)
        question.reply.put({"refused": [], "events": []})

    control = Control(socket_path(cabin.with_name("revival.db")), deliver, lambda: T)
    try:
        out = judged("--capacity", "N2=80 Ah", "--give", "Ann")[1]
        assert "N2  SCRAP: gives 40 % of its rated 200 Ah" in out
        argument = asked[0].argument
        assert argument["capacities"]["N2"] == 80.0
        given = Given(T, "Ann", dict(argument["words"]), dict(argument["capacities"]))
        _journaled(cabin, initial()._replace(given=given))
        out = judged("--give", "Ben")[1]
    finally:
        control.close()
    assert "gives 40 % of its rated 200 Ah" in out, "the reason stands"
    assert "in place of the verdict that Ann gave" in out
    assert asked[1].argument["capacities"]["N2"] == 80.0
