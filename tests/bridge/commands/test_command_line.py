"""The command line as people expect it: usual file, next step, examples that parse, completion, outputs kept."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.cli import COMMANDS, ELSEWHERE, build_parser, main
from bridge.commands.examples import EXAMPLES
from bridge.config import load
from bridge.journal.batch import Batch
from bridge.journal.snapshot import to_text
from bridge.journal.writer import Journal
from rules.events import Derived
from rules.safety import Interlock, Latch
from rules.step.memory import initial
from tests.support.brokers import Broker
from tests.support.terminal import typed_into

CABIN = """[site]
id = "tarn-hut"
[broker]
host = "127.0.0.1"
port = {port}
[page]
temperature = "degF"
[[bank]]
id = "north"
blocks = {{ per_string = 4, cells = 3, capacity = "200 Ah" }}
[[bank.meter]]
topic = "cmdline/volts"
quantity = "voltage"
unit = "mV"
[[bank.meter]]
topic = "cmdline/probe"
quantity = "electrolyte_temperature"
unit = "degC"
placed = "cell"
[[bank.meter]]
topic = "cmdline/amps"
quantity = "current"
unit = "A"
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to stand in, without a cabin file of the environment's."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("REVIVAL_CONFIG", raising=False)
    return tmp_path


def cabin(folder: Path, name: str = "cabin.toml", port: int = 1) -> Path:
    file = folder / name
    file.write_text(CABIN.format(port=port))
    return file


def test_without_a_command_the_next_step_in_this_folder_is_said(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([]) == 0
    assert "revival setup" in capsys.readouterr().out
    cabin(folder).write_text("nonsense = 1\n")
    assert main([]) == 0
    said = capsys.readouterr().out
    assert "nonsense" in said or "site" in said
    assert "revival check" in said
    cabin(folder)
    assert main([]) == 0
    assert "No bridge runs on it." in capsys.readouterr().out


def test_without_a_command_a_tripped_bank_is_said_before_anything_else(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    cabin(folder)
    bank = Derived("north", 1_795_590_000.0, tripped=True, trip_reason="gas", phase="holding")._asdict()
    monkeypatch.setattr("bridge.runtime.control_socket.ask", lambda *_: {"banks": {"north": bank}})
    assert main([]) == 0
    first, second, *rest = capsys.readouterr().out.splitlines()
    assert first == "cabin.toml: site tarn-hut, north"
    assert second.startswith("  north: TRIPPED") and any("next: " in line for line in rest)


def test_with_the_bridge_stopped_the_trip_that_the_journal_knows_is_said_first(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = cabin(folder)
    latch = Latch(1_795_590_000.0, None, None, "", "somebody noted: smell of rotten eggs")
    memory = initial()._replace(interlock=Interlock(latched={"danger-noted": latch}))
    journal = Journal.open(load(path).cabin.journal, {"north": ()})
    journal.submit(Batch(snapshots={"north": to_text(memory)}))
    journal.close(10.0)
    assert main([]) == 0
    _, tripped, stopped, *_ = capsys.readouterr().out.splitlines()
    assert tripped.startswith("  north: TRIPPED by danger-noted: ") and "Nobody goes in before" in tripped
    assert stopped == "No bridge runs on it."
    assert main(["status"]) == 4
    said = capsys.readouterr().err
    assert said.startswith("revival status: north: TRIPPED by danger-noted: ") and "no bridge runs" in said


def test_the_cabin_file_is_found_by_option_then_variable_then_folder(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["check"]) == 78
    assert "or make one: revival setup" in capsys.readouterr().err
    cabin(folder)
    assert main(["check"]) == 0
    assert capsys.readouterr().out.startswith("cabin.toml: site tarn-hut")
    other = cabin(folder, "other.toml")
    monkeypatch.setenv("REVIVAL_CONFIG", str(other))
    assert main(["check"]) == 0
    assert capsys.readouterr().out.startswith(f"{other}: ")
    assert main(["check", "--config", "cabin.toml"]) == 0
    assert capsys.readouterr().out.startswith("cabin.toml: ")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_help_ends_with_examples_that_the_program_takes(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    shown = capsys.readouterr().out
    assert ended.value.code == 0
    for example in EXAMPLES[command]:
        assert f"  {example}\n" in shown
        words = shlex.split(example.removeprefix("sudo "))
        assert words[:2] == ["revival", command]
        build_parser(command).parse_args(words[1:])


def offered(line: str, folder: Path) -> set[str]:
    """Return what a shell is told through the protocol of the completion library itself."""
    answer = folder.with_name(f"{folder.name}-offered")
    environment = {
        **_at_home(), "_ARGCOMPLETE": "1", "_ARGCOMPLETE_IFS": "\n", "_ARGCOMPLETE_SUPPRESS_SPACE": "1",
        "COMP_LINE": line, "COMP_POINT": str(len(line)), "_ARGCOMPLETE_STDOUT_FILENAME": str(answer),
    }  # fmt: skip
    asked = [sys.executable, "-m", "bridge"]
    subprocess.run(asked, env=environment, cwd=folder, check=False, capture_output=True, timeout=60)
    return {word.strip() for word in answer.read_text().split("\n")} - {""}


def test_a_shell_is_told_what_could_be_typed_next(tmp_path: Path) -> None:
    assert {"setup", "start", "status"} <= offered("revival s", tmp_path)
    assert "--connect" in offered("revival check --c", tmp_path)


@pytest.mark.parametrize(
    ("line", "names"),
    [
        ("status --bank ", {"north"}),
        ("plan --sealed ", {"north"}),
        ("bypass ", {"voltage", "current", "electrolyte_temperature"}),
        ("arrange ", {"split", "swap", "rejoin", "isolate", "add"}),
        ("record level A", {"A1=", "A2=", "A3=", "A4="}),
        ("record level b", {"below-plates", "between"}),
        ("record gravity --block ", {"A1", "A2", "A3", "A4"}),
        ("checklist --read me", {"meters"}),
        ("setup --take ", {"cmdline/volts", "cmdline/probe", "cmdline/amps"}),
        # what nobody can know is no file either
        ("setup --charger ", set()),
        ("setup --block ", set()),
        ("witness --name ", set()),
        ("check --config ", {"cabin.toml", "notes.txt"}),
        ("run --fast ", {"cabin.toml", "notes.txt"}),
    ],
)
def test_names_are_offered_where_a_name_is_meant_and_files_only_where_a_file_is(
    folder: Path, line: str, names: set[str]
) -> None:
    cabin(folder)
    (folder / "notes.txt").touch()
    assert {word for word in offered(f"revival {line}", folder) if not word.startswith("-")} == names


def test_the_shell_is_set_up_as_the_guide_of_setup_says_to_add_no_files_by_itself() -> None:
    (line,) = re.findall(r'eval "\$\((register-python-argcomplete [^)]*)\)"', ELSEWHERE["completion"])
    made = subprocess.run(shlex.split(line), check=True, capture_output=True, text=True).stdout
    shell = subprocess.run(["bash", "-c", f"{made}\ncomplete -p revival"], check=True, capture_output=True, text=True)
    assert "-o default" not in shell.stdout and "_python_argcomplete revival" in shell.stdout
    assert line in " ".join((Path(__file__).parents[3] / "bridge/config/SETUP.md").read_text().split())


def test_an_output_that_exists_is_kept_unless_told_otherwise(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cabin(folder)
    (folder / "traffic.jsonl").write_text('{"t": 1795590000, "topic": "cmdline/volts", "payload": "25900"}\n')
    (folder / "states.jsonl").write_text("mine\n")
    words = ["replay", "--messages", "traffic.jsonl", "--output", "states.jsonl"]
    assert main(words) == 2
    assert "say --force" in capsys.readouterr().err and (folder / "states.jsonl").read_text() == "mine\n"
    assert main([*words, "--force"]) == 0
    assert (folder / "states.jsonl").read_text() != "mine\n"
    for command in ("export", "report"):
        (folder / "kept").write_text("mine\n")
        assert main([command, "--output", "kept"]) == 2
        assert (folder / "kept").read_text() == "mine\n"


def test_a_refusal_is_a_document_too_where_one_was_asked_for(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cabin(folder)
    assert main(["status", "--json"]) == 4
    refused = json.loads(capsys.readouterr().out)
    assert refused["ok"] is False and refused["exit_code"] == 4 and refused["errors"]


def test_check_hears_each_topic_once_and_shows_it_through_its_mapping_in_the_owners_scale(
    folder: Path, broker: Broker, capsys: pytest.CaptureFixture[str]
) -> None:
    cabin(folder, port=broker.port)
    topics = {"cmdline/volts": "25910", "cmdline/probe": "25.0"}
    try:
        for topic, payload in topics.items():
            broker.publish(topic, payload, "-r")
        assert main(["check", "--connect", "--wait", "1"]) == 0
    finally:
        for topic in topics:
            broker.clear(topic)
    said = capsys.readouterr().out
    assert "25910 → 25.91 V" in said
    assert "25.0 → 77.0 °F" in said
    assert "SILENT north current" in said and "said nothing in 1 s" in said


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("chek", "there is no command 'chek'; did you mean \"check\"?"),
        ("backup", "cabin file, secrets and journal are all there is"),
        ("uninstall", "`revival service uninstall` takes the service away"),
        ("completion", "register-python-argcomplete --no-defaults revival"),
        (
            "setup --borker here",
            'revival setup: error: unrecognized arguments: --borker here; did you mean "--broker"?',
        ),
        ("record gravty 1.250", "there is no 'gravty'; did you mean \"gravity\"?"),
        ("service instal", 'did you mean "install"?'),
        ("service remove", "there are install, uninstall"),
        ("--json status", "an option stands behind its command"),
    ],
)
def test_a_mistyped_line_is_told_what_was_probably_meant(
    typed: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(typed.split())
    assert ended.value.code == 2 and told in capsys.readouterr().err


#: Every command that takes `--json`, with what it needs to be asked; without a running bridge or parcels all but some
#: are refused, and a refusal is a document as well.
ASKED_FOR_JSON = (
    "check", "check --connect", "status", "checklist", "checklist --name Ann", "checklist --read nothing",
    "start", "reset", "resume", "finish", "abandon", "test", "zero", "arrange split", "bypass fan --minutes 5",
    "witness --name Ann", "prove", "record voltage 25", "record voltage", "verdict", "report", "plan", "plan --power",
    "plan --ambient warm", "notify", "status --jsn", "status --bank north", "fleet judge --parcels nowhere --out out",
    "fleet board nowhere", "fleet learn --rounds nowhere", "status --config nowhere.toml",
)  # fmt: skip


@pytest.mark.parametrize("line", ASKED_FOR_JSON)
def test_who_asks_for_json_gets_one_json_document_also_for_a_refusal(
    folder: Path, line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    cabin(folder)
    try:
        code = main([*line.split(), "--json"])
    except SystemExit as ended:
        code = int(str(ended.code))
    said = capsys.readouterr().out
    document = json.loads(said)
    if code in (2, 4, 78) and line != "check --connect":  # which says of each topic how it is
        assert document["ok"] is False and document["errors"] and document["exit_code"] == code


def test_the_lines_of_the_checklist_are_json_where_that_is_asked(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cabin(folder)
    assert main(["checklist", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["bank"] == "north" and "flooded" in {row["key"] for row in document["lines"]}


@pytest.mark.parametrize("words", [[], ["--help"], ["config"]])
def test_whoever_reads_only_the_first_lines_sees_no_traceback(tmp_path: Path, words: list[str]) -> None:
    reads, writes = os.pipe()
    os.close(reads)  # nobody reads any more
    line = [sys.executable, "-m", "bridge", *words]
    ended = subprocess.run(line, stdout=writes, stderr=subprocess.PIPE, cwd=tmp_path, env=_at_home(), check=False)
    os.close(writes)
    assert ended.stderr == b"" and ended.returncode == 0


def _at_home() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(Path(__file__).parents[3])}


#: Blocks and banks of the invented cabin: whoever types what a help shows would name what is not there.
OF_ANOTHER = re.compile(r"\bN\d+(?:\.\d+)?=|\bA\d+(?:\.\d+)?=|--bank north|--bank south")


@pytest.mark.parametrize("command", COMMANDS)
def test_no_help_names_a_block_or_bank_of_another_cabin(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main([command, "--help"])
    assert not OF_ANOTHER.search(capsys.readouterr().out)


def test_a_report_is_not_poured_into_a_terminal_and_a_pipe_still_takes_it(folder: Path) -> None:
    file = cabin(folder)
    journal = Journal.open(load(file).cabin.journal, {"north": ()})
    journal.submit(Batch(derived=[Derived("north", 1795590000.0, voltage=25.2, phase="idle")]))
    journal.close(10.0)
    code, shown = typed_into(["report"], [], folder)
    assert code == 2 and "--output report.html writes it into a file" in " ".join(shown.split()) and "<" not in shown
    line = [sys.executable, "-m", "bridge", "report"]
    piped = subprocess.run(line, cwd=folder, env=_at_home(), check=True, capture_output=True, text=True)
    assert piped.stdout.startswith("<!doctype html>")
