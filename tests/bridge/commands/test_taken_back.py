"""What was noted, confirmed or judged by mistake is listed with its number and taken back by it, by time, by name."""

from __future__ import annotations

import csv
import io
import json
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.runtime.service import Service
from rules.safety import Interlock
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import RelayStandIn, shunt, write_cabin
from tests.support.running_bridge import turning

Said = Callable[..., tuple[int, str]]


@pytest.fixture
def cabin(make_broker: Callable[..., Broker], tmp_path: Path) -> Path:
    return write_cabin(tmp_path, make_broker().port, relay=False)


@pytest.fixture
def service(cabin: Path) -> Iterator[Service]:
    with turning(cabin) as running:
        wait_until(lambda: running.bus.subscribed)
        yield running


@pytest.fixture
def say(cabin: Path, capsys: pytest.CaptureFixture[str]) -> Said:
    def run(*words: str) -> tuple[int, str]:
        capsys.readouterr()
        code = main([*words, "--config", str(cabin)])
        told = capsys.readouterr()
        return code, told.out + told.err

    return run


def test_the_last_entries_stand_with_numbers_and_one_goes_by_its_number(service: Service, say: Said) -> None:
    assert say("record", "--list") == (0, "north: nothing noted yet\n")
    for words in (("water", "300 ml"), ("voltage", "25.1"), ("water", "500 ml"), ("temperature", "77 degF")):
        assert say("record", *words, "--by", "Ann")[0] == 0
    code, said = say("record", "--list", "3")
    assert code == 0 and said.startswith("north: the last 3 of 4 noted, the newest first\n")
    lines = said.splitlines()
    assert [line.split()[0] for line in lines[1:4]] == ["4", "3", "2"]
    assert "temperature: 77.0 °F, by Ann" in lines[1] and "water: 16.9 fl oz" in lines[2]
    assert "--take-back NUMBER" in lines[-1]
    code, said = say("record", "--take-back", "1")
    assert code == 0 and "the water entry is taken back" in said and said.endswith(": 10.1 fl oz\n")
    kept = service.engine.memories["north"].hand.entries
    assert [dict(entry.values) for entry in kept if entry.kind == "water"] == [{"": 500.0}]
    said = say("record", "--list", "--json", "water")[1]
    rows = json.loads(said)["entries"]
    assert [row["number"] for row in rows] == [3, 1], "what is gone keeps its number"
    assert rows[0]["taken_back_at"] is None and rows[1]["taken_back_at"] is not None
    assert "water: 10.1 fl oz, by Ann (taken back " in say("record", "--list")[1]
    code, said = say("record", "--take-back", "1")
    assert code == 2 and "taken back already" in said
    assert say("record", "--take-back", "9") == (
        2, "revival record: there is no entry 9: `revival record --list` shows them with their numbers\n",
    )  # fmt: skip


def test_an_entry_goes_by_its_time_and_several_of_one_minute_are_asked_about(service: Service, say: Said) -> None:
    ago = time.time() - 3600.0
    clock = f"{datetime.fromtimestamp(ago).astimezone():%H:%M}"
    assert say("record", "voltage", "N1=6.3", "--at", clock)[0] == 0
    code, said = say("record", "--take-back", clock, "--json")
    assert code == 0 and json.loads(said)["number"] == 1
    code, said = say("record", "--take-back", clock)
    assert code == 2 and "nothing noted at" in said and "stands" in said
    assert say("record", "voltage", "N1=6.3", "--at", clock)[0] == 0
    assert say("record", "voltage", "N2=6.2", "--at", clock)[0] == 0
    code, said = say("record", "--take-back", clock)
    assert code == 2 and "several are of that minute: 2 (voltage), 3 (voltage)" in said
    assert say("record", "--take-back", "2")[0] == 0
    assert [dict(entry.values) for entry in service.engine.memories["north"].hand.entries] == [{"N2": 6.2}]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--list", "north"), "a bank is named by --bank"),
        (("--list", "0"), "is no number"),
        (("voltage", "25.1", "--list"), "stand without values"),
        (("voltage", "--undo", "--take-back", "1"), "without --undo"),
        (("--take-back", "soon"), '--take-back "soon": write 14:10'),
        ((), "say what was measured or seen: amps"),
    ],
)
def test_what_cannot_be_listed_or_taken_back_is_told(
    service: Service, say: Said, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str
) -> None:
    try:
        code, said = say("record", *words)
    except SystemExit as error:
        code, said = int(str(error.code)), capsys.readouterr().err
    assert code == 2 and why in " ".join(said.split())


def test_a_kind_stands_in_front_of_list_or_behind_it(service: Service, say: Said) -> None:
    assert say("record", "water", "N1.1=300 ml", "--by", "Ann")[0] == 0
    assert say("record", "level", "12 mm", "--by", "Ann")[0] == 0
    told = [say("record", *words)[1] for words in (("--list", "water"), ("water", "--list"), ("--list", "9"))]
    assert told[0] == told[1] and "water: N1.1" in told[0] and "level" not in told[0]
    assert "level" in told[2] and "water" in told[2]
    assert "no checklist noted yet" in say("record", "--list", "checklist")[1]
    with pytest.raises(SystemExit):
        say("record", "--list", "nonsense")


def test_a_list_is_read_without_a_running_bridge_but_nothing_is_taken_back(cabin: Path, say: Said) -> None:
    with turning(cabin) as running:
        wait_until(lambda: running.bus.subscribed)
        assert say("record", "voltage", "25.1")[0] == 0
    assert "voltage: 25.1 V" in say("record", "--list")[1]
    assert say("record", "--take-back", "1")[0] == 4


# ------------------------------------------------------------------------- the checklist and the permit


def test_a_checklist_taken_back_opens_the_relay_that_it_let_close(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port)
    relay = RelayStandIn(broker.port)

    def say(*words: str) -> tuple[int, str]:
        capsys.readouterr()
        code = main([*words, "--config", str(path)])
        told = capsys.readouterr()
        return code, told.out + told.err

    def feed() -> None:
        broker.publish("cabin/shunt", shunt(time.time(), 26.4, 20.0 if relay.closed else 0.0), "-q", "1")
        broker.publish("cabin/probe", "77", "-q", "1")

    try:
        with turning(path) as service:
            wait_until(lambda: service.bus.subscribed)

            def lock() -> Interlock:
                return service.engine.memories["north"].interlock

            feed()
            wait_until(lambda: service.latest.get("north") is not None and service.latest["north"].current == 0.0)
            wait_until(lambda: service.latest["north"].temperature is not None)
            assert "no checklist is confirmed" in say("checklist", "--take-back")[1]
            assert say("checklist", "--name", "Anna", "--read", "all")[0] == 0
            assert say("prove", "--sure")[0] == 0, "the relay reports its state"
            feed()
            assert say("start")[0] == 0
            wait_until(lambda: lock().allowed and relay.closed)
            code, said = say("checklist", "--take-back", "--name", "Ben")
            assert code == 0 and "that of Anna, " in said and "no relay closes before it is confirmed anew" in said
            assert "charging no longer allowed: checklist-open" in said
            assert not lock().allowed and not lock().checklist_by
            wait_until(lambda: not relay.closed)
            said = say("record", "--list")[1]
            assert "checklist by " in said and "(taken back " in said
            # By its number it goes as well.
            assert say("checklist", "--name", "Anna", "--read", "all")[0] == 0
            code, said = say("record", "--take-back", "2")
            assert code == 0 and "is taken back; no relay closes" in said
            assert not lock().checklist_by
            # And over the bus, where it replays so as well.
            assert say("checklist", "--name", "Anna", "--read", "all")[0] == 0
            broker.publish("homie/5/tarn-hut-north/revival/command/set", "checklist-back", "-q", "1")
            wait_until(lambda: not lock().checklist_by)
            out = tmp_path / "round.jsonl"
            assert say("report", "--output", str(tmp_path / "report.html"))[0] == 0
            assert say("export", "--format", "messages", "--output", str(out))[0] == 0
    finally:
        relay.close()
    told = [json.loads(line) for line in out.read_text().splitlines()]
    acts = [line["payload"] for line in told if "/revival/" in line["topic"]]
    assert acts == ["Anna", "start", "checklist-back", "Anna", "checklist-back", "Anna", "checklist-back"]
    paper = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "is taken back; no relay closes before it is confirmed anew" in " ".join(paper.split())


def test_a_sheet_that_is_sent_twice_is_noted_once_and_says_when(service: Service, say: Said, cabin: Path) -> None:
    sheet = ("record", "gravity", "1.240", "1.235", "low", "--block", "N1", "--temperature", "77 degF", "--by", "Ann")
    assert "gravity noted" in say(*sheet)[1]
    code, said = say(*sheet)
    now = datetime.now().astimezone()
    assert code == 0 and said.startswith(f"north: gravity already noted at {now.day} {now:%b} ")
    assert said.endswith(", with the same values: kept once\n")
    assert "all 1 noted" in say("record", "--list")[1]
    changed = ["1.236" if word == "1.235" else word for word in sheet]
    assert "gravity noted" in say(*changed)[1] and "all 2 noted" in say("record", "--list")[1]


def test_what_people_read_is_a_table_without_what_was_taken_back_and_replays_so(
    service: Service, say: Said, cabin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert say("record", "water", "300 ml", "--by", "Ann")[0] == 0
    assert say("record", "gravity", "1.240", "low", "1.235", "--block", "N1", "--temperature", "77 degF")[0] == 0
    assert say("record", "charger", "28.8 V 25 A")[0] == 0
    assert say("record", "note", "new caps ordered, at last")[0] == 0
    assert say("record", "water", "500 ml")[0] == 0
    assert say("record", "gravity", "--undo", "N1.3")[0] == 0
    assert say("record", "--take-back", "1")[0] == 0
    capsys.readouterr()
    assert main(["export", "--config", str(cabin), "--table", "hand"]) == 0
    table = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    assert table[0] == ["time", "bank", "kind", "where", "value", "unit", "temperature_c", "by", "note", "entered"]
    assert [row[1:7] for row in table[1:]] == [
        ["north", "gravity", "N1.1", "1.24", "", "25.0"],
        ["north", "gravity", "N1.2", "low", "", "25.0"],
        ["north", "charger", "volts", "28.8", "V", ""],
        ["north", "charger", "amps", "25.0", "A", ""],
        ["north", "note", "", "", "", ""],
        ["north", "water", "", "500.0", "g", ""],
    ]
    assert table[5][8] == "new caps ordered, at last" and table[1][0].endswith("Z")
    assert main(["export", "--config", str(cabin)]) == 0
    assert "readings by hand have a table of their own, 4 here: --table hand" in capsys.readouterr().err
    recording, events = tmp_path / "round.jsonl", tmp_path / "events.jsonl"
    assert say("export", "--format", "messages", "--output", str(recording))[0] == 0
    assert say("replay", "--messages", str(recording), "--events", str(events), "--output", str(tmp_path / "o"))[0] == 0
    told = [json.loads(line) for line in events.read_text().splitlines()]
    gone = [each["detail"]["gone"]["values"] for each in told if each["kind"] == "hand" and "gone" in each["detail"]]
    assert gone == [{"N1.3": 1.235}, {"": 300.0}], "the same entries go in a replay"
