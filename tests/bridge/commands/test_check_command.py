"""`revival check` and `revival config`: what they print, and the exit codes they end with."""

from __future__ import annotations

import contextlib
import json
import os
import pty
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from bridge import config
from bridge.cli import main
from bridge.commands.prove import words
from bridge.config.text import Answers, ask, starting_file
from bridge.config.time_budget import losses, time_budget, worked_example
from bridge.settings import BrokerSettings, RelaySettings
from rules.safety import OwnOff
from tests.support.brokers import Broker, free_port, password_file

SECRET = "hunter2-planted-here"
RELAY = '[bank.relay]\ntopic = "cabin/charger/set"\nstate_topic = "cabin/charger/state"\nauto_off = "90 s"\n'


@pytest.fixture
def cabin(tmp_path: Path) -> Path:
    """The starting file, with a relay and the usual port out of the way."""
    file = tmp_path / "cabin.toml"
    text = starting_file().replace("# [bank.relay]", RELAY + "# ", 1)
    file.write_text(text.replace("port = 1883", f"port = {free_port()}"))
    return file


def check(capsys: pytest.CaptureFixture[str], file: Path, *options: str) -> tuple[int, str]:
    code = main(["check", "--config", str(file), *options])
    shown = capsys.readouterr()
    assert SECRET not in shown.out + shown.err
    return code, shown.out + shown.err


def test_every_mapping_is_shown_with_a_worked_example(cabin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, text = check(capsys, cabin)
    assert code == 0
    assert "25200 mV → 25.2 V" in text
    assert "9.5 A → 9.5 A" in text
    assert "87.8 degF → 87.8 °F" in text
    assert "ON → 1, OFF → 0" in text


def test_an_example_keeps_the_unit_and_the_number_that_the_meter_sends(
    cabin: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    celsius = cabin.read_text().replace('unit = "degF"', 'unit = "degC"')
    for scale, read in (("degF", "87.8 °F"), ("degC", "31.0 °C")):
        cabin.write_text(celsius.replace("[page]\n", f'[page]\ntemperature = "{scale}"\n'))
        text = check(capsys, cabin)[1]
        assert f"31 degC → {read}" in text and "88 °F" not in text


def test_whether_anybody_takes_the_relays_orders_is_said_to_be_seen_by_prove_alone(
    cabin: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = " ".join(check(capsys, cabin)[1].split())
    assert "whether anybody takes the orders on cabin/charger/set is not tried here" in told
    assert "`revival prove` shows it" in told
    cabin.write_text(cabin.read_text().replace(RELAY, ""))
    assert "is not tried here" not in check(capsys, cabin)[1]


def test_a_journal_whose_folder_is_missing_is_not_called_fit_to_run(
    cabin: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "The file can be run." in check(capsys, cabin)[1]
    cabin.write_text(cabin.read_text().replace('path = "revival.db"', 'path = "nowhere/revival.db"'))
    code, text = check(capsys, cabin)
    assert code == 0
    assert "can be run" not in text and f"the folder {cabin.parent / 'nowhere'} is missing here: create it" in text


def test_the_examples_are_the_compiled_factors(cabin: Path) -> None:
    cabin.write_text(cabin.read_text().replace('sign = "charging"', 'sign = "discharging"\noffset = "0.5 A"'))
    loaded = config.load(cabin)
    bank = loaded.cabin.banks["north"]
    shown = {mapping.meter: worked_example(mapping, bank) for mapping in loaded.routes.mappings}
    assert shown["current"] == "-9 A → 9.5 A charging"


def test_the_time_budget_is_added_up_by_hand(cabin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cabin.write_text(cabin.read_text().replace('placed = "cell"', 'placed = "cell"\nevery = "10 s"'))
    bank = config.load(cabin).cabin.banks["north"]
    budget = time_budget(bank)
    assert budget is not None
    # 10 s period + 60 s confirm window + 1 s broker + 1 s command + 1 s relay; silence is at least 60 s
    assert budget.needed == 73.0
    assert budget.silence == 60.0
    # from 110 degF (43.33 degC) to 51.7 degC at 8 K/h
    assert budget.available == pytest.approx((51.7 - 43.3333) / 8.0 * 3600.0, abs=1.0)
    assert "sensor 10 s + confirm 60 s + broker 1 s + command 1 s + relay 1 s = 73 s" in check(capsys, cabin)[1]


def test_a_sensor_too_slow_for_the_limit_is_not_enough(cabin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = cabin.read_text().replace('"110 degF",', '"123 degF", temperature_case = "40 degC",')
    cabin.write_text(text.replace('placed = "cell"', 'placed = "cell"\nevery = "10 min"'))
    assert "NOT ENOUGH" in check(capsys, cabin)[1]


def test_losses_that_only_an_auto_off_covers_are_named_when_it_is_missing() -> None:
    relay = RelaySettings("north", ("north",), "cabin/charger/set")
    bare = {loss.lost: loss for loss in losses(BrokerSettings(), relay)}
    assert bare["bridge killed"].after is not None
    for lost in ("broker lost", "network to the relay lost", "power of broker or network lost"):
        assert bare[lost].after is None
        assert bare[lost].covered_by.startswith("NOTHING: ")
    timed = RelaySettings("north", ("north",), "cabin/charger/set", auto_off=90.0)
    assert {loss.after for loss in losses(BrokerSettings(), timed) if "broker" in loss.lost} == {90.0}
    assert {loss.after for loss in losses(BrokerSettings(), timed) if "own power" in loss.lost} == {None}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("", ["broker lost: NOTHING: nothing is permitted", "auto_off is missing", "back: NOT KNOWN", "power_on ="]),
        ('auto_off = "none"\n', ["broker lost: NOTHING: as you wrote", "back: NOT KNOWN", "power_on ="]),
        ('auto_off = "90 s"\npower_on = "open"\n', ["broker lost: the relay's own", "open as you wrote (within 0 s)"]),
    ],
)
def test_check_names_what_the_relay_itself_still_lacks(
    cabin: Path, capsys: pytest.CaptureFixture[str], words: str, said: list[str]
) -> None:
    cabin.write_text(cabin.read_text().replace('auto_off = "90 s"\n', words, 1))
    code, text = check(capsys, cabin)
    assert code == 0
    assert [each for each in said if each not in text] == []
    assert ("auto_off is missing" in text, "look again: [[bank]]" in text) == (not words, "power_on" not in words)


def test_check_names_what_broker_and_files_still_lack(
    cabin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, text = check(capsys, cabin)
    assert code == 0 and "names on the broker are no secret" in text and "cannot expire" not in text
    secret = tmp_path / "broker"
    secret.write_text(SECRET)
    broker = 'protocol = "3.1.1"\nusername = "revival"\npassword_file = "broker"'
    cabin.write_text(cabin.read_text().replace("[broker]", f"[broker]\n{broker}"))
    for folder in (tmp_path, *tmp_path.parents[:-1]):
        if folder.stat().st_uid == os.getuid() and folder.name.startswith(("pytest", "popen", tmp_path.name)):
            folder.chmod(0o711)
    for mode, told in ((0o600, False), (0o640, True), (0o604, True)):
        secret.chmod(mode)
        code, text = check(capsys, cabin)
        assert code == 0 and "no secret" not in text and "let the relay connect with a clean session" in text
        assert (f"chmod 600 {secret}" in text) is told, oct(mode)
    tmp_path.chmod(0o700)  # nobody else gets as far as the file
    assert "chmod" not in check(capsys, cabin)[1]


def test_a_wrong_file_ends_with_78_and_counts_what_is_wrong(cabin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cabin.write_text(cabin.read_text().replace('unit = "mV"', 'unit = "MV"').replace('unit = "degF"', 'unit = "F"'))
    code, text = check(capsys, cabin)
    assert code == 78
    assert "2 things are wrong." in text and 'write "mV"' in text and 'write "degF"' in text
    code, text = check(capsys, cabin, "--json")
    assert (code, json.loads(text)["ok"], len(json.loads(text)["errors"])) == (78, False, 2)


def test_the_json_report_says_the_same(cabin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    report = json.loads(check(capsys, cabin, "--json")[1])
    (bank,) = report["banks"]
    assert (report["ok"], bank["cells"], bank["watch_only"]) == (True, 12, False)
    assert bank["meters"][0]["example"] == "25200 mV → 25.2 V"
    assert bank["meters"][0]["session"] == "history"
    assert len(report["cannot_be_seen"]) == 3


def connected(capsys: pytest.CaptureFixture[str], file: Path) -> tuple[int, dict[str, str]]:
    code, text = check(capsys, file, "--connect", "--wait", "1", "--json")
    return code, {step["what"]: step["words"] for step in json.loads(text)["connect"]}


def test_connect_reaches_a_real_broker_and_leaves_no_journal(
    cabin: Path, broker: Broker, capsys: pytest.CaptureFixture[str]
) -> None:
    port = config.load(cabin).cabin.broker.port
    cabin.write_text(cabin.read_text().replace(str(port), str(broker.port)))
    code, steps = connected(capsys, cabin)
    assert code == 0
    assert "lets us in" in steps["broker"] and "can be created" in steps["journal"]
    assert not (cabin.parent / "revival.db").exists()


def test_F26_connect_tells_a_broker_that_is_down_from_a_wrong_password(
    cabin: Path, tmp_path: Path, make_broker: Callable[..., Broker], capsys: pytest.CaptureFixture[str]
) -> None:
    code, steps = connected(capsys, cabin)
    assert (code, "refused: nothing listens" in steps["broker"]) == (4, True)
    guarded = make_broker([f"password_file {password_file(tmp_path / 'users', revival='right')}"], anonymous=False)
    (tmp_path / "secret").write_text(SECRET)
    port = config.load(cabin).cabin.broker.port
    text = cabin.read_text().replace(str(port), f'{guarded.port}\nusername = "revival"\npassword_file = "secret"')
    cabin.write_text(text)
    code, steps = connected(capsys, cabin)
    assert code == 4
    assert "not authorised" in steps["broker"] or "wrong user name" in steps["broker"]


@contextlib.contextmanager
def database(status: int) -> Iterator[int]:
    """A write interface that always answers alike."""

    class Answer(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            self.rfile.read(int(self.headers.get("Content-Length", 0)))
            self.send_response(status)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            """Quiet."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Answer)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    yield server.server_address[1]
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (204, "lets us write"),
        (400, "lets us write"),
        (401, "does not accept the token"),
        (403, "that right"),
        (404, 'no bucket "revival"'),
        (503, "answers 503"),
        (None, "no database answers"),
    ],
)
def test_F44_connect_tells_the_database_that_is_down_from_a_token_or_bucket_that_is_wrong(
    cabin: Path, tmp_path: Path, status: int | None, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "token").write_text(SECRET)
    with contextlib.ExitStack() as stack:
        port = stack.enter_context(database(status)) if status is not None else free_port()
        table = f'[influxdb]\nurl = "http://127.0.0.1:{port}"\norg = "hut"\nbucket = "revival"\ntoken_file = "token"\n'
        cabin.write_text(cabin.read_text() + table)
        code, steps = connected(capsys, cabin)
    assert words in steps["database"]
    assert code == 4  # nothing listens where the broker should be


def test_connect_names_a_journal_folder_that_is_not_there(cabin: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cabin.write_text(cabin.read_text().replace('path = "revival.db"', 'path = "nowhere/revival.db"'))
    code, steps = connected(capsys, cabin)
    assert (code, "create it" in steps["journal"]) == (4, True)


# ------------------------------------------------------------------------------------ revival config


@pytest.mark.parametrize("placed", ["cell", "case"])
@pytest.mark.parametrize("chargers", [(), ((14.8, 40.0, 9.0), (16.05, 40.0, 0.0))])
def test_the_starting_file_loads_as_it_stands_without_a_second_look(
    tmp_path: Path, placed: str, chargers: tuple[tuple[float, float, float], ...]
) -> None:
    file = tmp_path / "cabin.toml"
    file.write_text(starting_file(Answers(12.0, 3, 6.0, 225.0, chargers, placed)))
    loaded = config.load(file)
    bank = loaded.cabin.banks["north"]
    assert (bank.cells, len(bank.strings), bank.capacity, bank.relay) == (6, 3, 675.0, None)
    assert len(bank.chargers) == len(chargers)
    assert bank.by_name["electrolyte_temperature"].placed == placed
    assert loaded.warnings == ()


def test_every_line_that_is_commented_out_loads_too(tmp_path: Path) -> None:
    for secret in ("broker", "influx", "page-token", "ca.pem"):
        (tmp_path / secret).write_text(SECRET)
    (tmp_path / "client.pem").write_text("")
    (tmp_path / "experience.toml").write_text("[experience]\nformat = 1\nrounds = 3\n")
    (tmp_path / "notify").write_text("ntfy://example.org/cabin\n")
    (tmp_path / "alive").write_text("https://example.org/alive\n")
    lines = []
    for line in starting_file().replace("/run/secrets/", "").splitlines():
        bare = line.removeprefix("# ")
        is_key = line.startswith("# ") and (bare.startswith("[") or bare.partition(" = ")[0].isidentifier())
        lines.append(bare if is_key else line)
    file = tmp_path / "cabin.toml"

    def without(*keys: str) -> str:
        return "\n".join(line for line in lines if line.partition(" = ")[0] not in keys)

    # A database is one of two kinds, and the file shows both.
    file.write_text(without("org", "bucket", "token_file"))
    older = config.load(file).cabin.influx
    assert older is not None and older.before_1_8
    file.write_text(without("database"))
    loaded = config.load(file)
    assert loaded.cabin.relays and loaded.cabin.influx is not None and loaded.cabin.broker.tls
    assert loaded.cabin.notify is not None and len(loaded.cabin.notify.urls) == 1
    model = loaded.model
    shown = {*model.bank[0].model_fields_set, *model.broker.model_fields_set, *model.site.model_fields_set}
    known = {*type(model.bank[0]).model_fields, *type(model.broker).model_fields, *type(model.site).model_fields}
    assert known - shown == {"password_env"}


def test_the_three_questions_are_asked_again_until_they_make_sense() -> None:
    typed = iter(
        ["36 V", "36 V, 1, 8 V, 100", "12 V, 1 string, 6 V, 220 Ah", "14.8", "14.8 V 40 A, 16 40", "air", "case"]
    )
    asked: list[str] = []
    said: list[str] = []

    def answer(question: str) -> str:
        asked.append(question)
        return next(typed)

    answers = ask(answer, said.append)
    assert answers == Answers(12.0, 1, 6.0, 220.0, ((14.8, 40.0, 0.0), (16.0, 40.0, 0.0)), "case")
    assert (len(asked), len(said)) == (7, 4)


def test_config_prints_the_file_and_the_schema_and_asks_only_on_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["config"]) == 0
    assert capsys.readouterr().out == starting_file()
    assert main(["config", "--schema"]) == 0
    assert json.loads(capsys.readouterr().out)["properties"]["bank"]
    command = [sys.executable, "-m", "bridge", "config", "--ask"]
    done = subprocess.run(command, input="", capture_output=True, text=True, check=False)
    assert done.returncode == 2 and "needs a terminal" in done.stderr


def test_on_a_terminal_the_questions_go_to_the_terminal_and_the_file_to_the_output() -> None:
    near, far = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "bridge", "config", "--ask"], stdin=far, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        os.write(near, b"12 V, 1 string, 6 V, 220 Ah\n-\ncase\n")
        out, err = process.communicate(timeout=30)
    os.close(near)
    os.close(far)
    assert out.decode() == starting_file(Answers(12.0, 1, 6.0, 220.0, (), "case"))
    assert b"1. The bank" in err and b"3. The temperature probe" in err


def test_where_parcels_go_and_what_earlier_rounds_weigh_is_said_and_the_store_is_asked(
    cabin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "store" / "site=tarn-hut").mkdir(parents=True)
    parcels = f'\n[parcels]\nwhere = "{tmp_path / "store"}"\nevery = "6 h"\n'
    learned = "\n[experience]\nformat = 1\nrounds = 41\n"
    cabin.write_text(cabin.read_text() + parcels + learned)
    code, text = check(capsys, cabin)
    assert code == 0
    assert f"to {tmp_path / 'store'} every 360 min" in text
    assert "hours are weighed against 41 earlier rounds" in text
    _, text = check(capsys, cabin, "--connect", "--wait", "0")
    assert f"parcels: ok, {tmp_path / 'store'} answers, parcels of 1 site lie there" in text


def test_an_auto_off_is_said_to_be_as_written_and_how_a_person_tries_it(
    capsys: pytest.CaptureFixture[str], cabin: Path
) -> None:
    said = " ".join(check(capsys, cabin)[1].split())
    assert "broker lost: the relay's own auto-off, as you wrote it, not tested (within 90 s)" in said
    assert "to try the auto-off: with the charger on and somebody beside the relay stop the broker" in said
    assert "if the relay has not opened after 90 s, switch the charger off at the wall" in said
    proof = {"passed": True, "seconds": 0.4, "note": "the relay opened and the current fell", "not_shown": ""}
    assert "its own auto-off is not tested by this" in words("north", proof, auto_off=90.0)
    assert "auto-off" not in words("north", proof)
    measured = {**proof, "own": {"at": 1795590000.0, "seconds": 88.2, "written": 90.0, "why": ""}}
    assert "opens by itself after 88 s, measured on 2026-11-25" in words("north", measured, auto_off=90.0)
    assert "is not tested by this" in words("north", measured, auto_off=60.0), "that was another setting"


def test_an_auto_off_that_was_tried_is_told_by_what_was_seen_of_it() -> None:
    timed = RelaySettings("charger", ("north",), "cabin/charger/set", auto_off=90.0)
    tried = losses(BrokerSettings(), timed, OwnOff(1795590000.0, 92.4, 90.0))
    lost = next(loss for loss in tried if loss.lost == "broker lost")
    assert (
        lost.covered_by.endswith("auto-off, opens by itself after 92 s, measured on 2026-11-25") and lost.after == 92.4
    )
    stuck = losses(BrokerSettings(), timed, OwnOff(1795590000.0, 0.0, 90.0, "it hung"))
    for loss in stuck:
        if loss.lost in ("broker lost", "network to the relay lost", "power of broker or network lost"):
            assert loss.covered_by == "NOTHING: it was NOT seen to open by itself on 2026-11-25" and loss.after is None
    other = losses(BrokerSettings(), timed, OwnOff(1795590000.0, 60.0, 60.0))
    assert next(loss for loss in other if loss.lost == "broker lost").covered_by.endswith("as you wrote it, not tested")


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_the_meters_stand_whole_on_a_screen_of_so_many_columns(
    cabin: Path, columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    near, far = pty.openpty()
    words = [sys.executable, "-m", "bridge", "check", "--config", str(cabin)]
    with subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=far) as process:
        os.close(far)
        told = b""
        with contextlib.suppress(OSError):  # the other end is closed
            while piece := os.read(near, 4096):
                told += piece
        assert process.wait(30) == 0
    os.close(near)
    lines = told.decode().replace("\r", "").splitlines()
    own = [line for line in lines if not line.startswith(str(cabin.parent))]
    assert max(map(len, own)) <= columns
    meters = own[own.index(next(line for line in own if "meters, each with" in line)) :]
    row = next(line for line in meters if "electrolyte_temperature" in line)
    assert row.endswith("87.8 degF → 87.8 °F"), "the example stays beside its meter"
    if columns == 60:
        assert "  current: 9.5 A → 9.5 A  (own time)" in own and "    from cabin/shunt /dc/a" in own
    else:
        assert row.split()[:2] == ["electrolyte_temperature", "cabin/probe1"]
