"""`revival setup`: from a broker full of strangers to one checked file, every answer an option, one changed later."""

from __future__ import annotations

import os
import pty
import select
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge import config
from bridge.cli import main
from bridge.commands.setup_first import free
from bridge.config.edit import add_table, set_key, set_table
from bridge.errors import UsageError
from bridge.mqtt.ear import spoken
from bridge.settings import BrokerSettings
from tests.bench.households.homes_dev import hillside
from tests.support.brokers import Broker, password_file
from tests.support.cabin import write_cabin
from tests.support.household import household
from tests.support.terminal import typed_into

SECRET = "hunter2-planted"


def setup(port: int, file: Path, *words: str) -> int:
    hear = ["--broker", f"127.0.0.1:{port}", "--seconds", "4", "--judge", "1"]
    return main(["setup", "--output", str(file), "--no-rehearse", *hear, *words])


def test_a_crowded_broker_becomes_a_file_that_watches_without_one_answer(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    with household(broker.port):
        assert setup(broker.port, file, "--yes") == 0
    loaded = config.load(file)
    ((_, bank),) = loaded.cabin.banks.items()
    assert (bank.cells, bank.relay) == (12, None)
    assert loaded.cabin.page is not None and loaded.cabin.degrees == "degF", (
        "as every thermometer of the hillside says it"
    )
    assert "marked <-" not in file.read_text() and "<-" not in file.read_text(), "nothing is left to fill in"
    truths = hillside().truths()
    for mapping in loaded.routes.mappings:
        truth = truths[f"{mapping.topic} {mapping.pointer}".strip()]
        assert mapping.quantity == truth.quantity
    assert {"voltage", "current", "electrolyte_temperature"} <= {mapping.quantity for mapping in loaded.routes.mappings}
    kept = tmp_path / "page-token"
    assert loaded.cabin.page.token is not None and kept.stat().st_mode & 0o777 == 0o600
    said = capsys.readouterr()
    assert kept.read_text().strip() not in said.out + said.err
    assert "revival run" in said.out and "http://127.0.0.1:8170/" in said.out
    heard = " ".join(said.err.split())
    told = said.out.partition("assumed, for nobody was asked")[2]
    assert "one block is printed 6 V 200 Ah (--block)" in told and "string in parallel (--strings)" in told
    assert "4 blocks in series in one string, by the volts heard (--blocks)" in told
    assert "# assumed, for nobody said it: blocks of 6 V" in file.read_text()
    assert main(["setup", "--output", str(file), "--block", "6 V 220 Ah"]) == 0
    assert "for nobody said it" not in file.read_text(), "somebody has said it now"
    assert "judged: bank voltage" in said.err and " in Fahrenheit, so page, plan and paper will" in heard


def test_a_bank_that_its_owner_named_is_called_so_from_the_first_word(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    with household(broker.port):
        assert setup(broker.port, file, "--yes", "--bank", "barn") == 0
    said = capsys.readouterr()
    assert list(config.load(file).cabin.banks) == ["barn"] and "judged: barn voltage" in said.err
    assert "north" not in said.err + said.out + file.read_text()


def test_every_answer_is_an_option_and_a_later_one_changes_one_line(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    words = ["--site", "tarn-hut", "--block", "12 V 155 Ah", "--strings", "2", "--flooded", "yes", "--probe", "cell"]
    words += ["--charger", "28.8 V 50 A from 20 V, 32 V 50 A", "--relay", "cabin/charger/set", "--auto-off", "90 s"]
    words += ["--power-on", "open", "--degrees", "degC"]
    with household(broker.port):
        assert setup(broker.port, file, *words, "--page", "127.0.0.1:8171") == 0
    loaded = config.load(file)
    ((_, bank),) = loaded.cabin.banks.items()
    assert loaded.cabin.page is not None and loaded.cabin.degrees == "degC"
    assert (loaded.cabin.site, bank.cells, bank.capacity, len(bank.strings)) == ("tarn-hut", 12, 310.0, 2)
    assert [(one.volts, one.amps, one.starts_at) for one in bank.chargers] == [(28.8, 50.0, 20.0), (32.0, 50.0, 0.0)]
    (relay,) = loaded.cabin.relays
    assert (relay.topic, relay.state_topic, relay.auto_off) == ("cabin/charger/set", "cabin/charger/state", 90.0)
    assert relay.opens_on_power and not relay.uncovered
    assert {meter.placed for meter in bank.meters if meter.quantity == "electrolyte_temperature"} == {"cell"}
    before = file.read_text()
    file.write_text(before := before.replace("[broker]", "# my own remark\n[broker]"))
    assert main(["setup", "--output", str(file), "--charger", "31.5 V 45 A"]) == 0
    changed = [
        pair for pair in zip(before.splitlines(), file.read_text().splitlines(), strict=True) if pair[0] != pair[1]
    ]
    assert [now for _, now in changed] == ['chargers = [{ volts = "31.5 V", amps = "45 A" }]']
    assert main(["setup", "--output", str(file)]) == 2
    assert "nothing is asked to change" in capsys.readouterr().err
    assert main(["setup", "--output", str(file), "--block", "10 V 100 Ah"]) == 2
    assert "12 cells cannot be made of blocks of 5" in capsys.readouterr().err
    assert main(["setup", "--output", str(file), "--relay", "shed/plug/set", "--auto-off", "2 min"]) == 0
    assert config.load(file).cabin.relays[0].topic == "shed/plug/set"
    capsys.readouterr()
    # Nobody accepts a loss for the owner: what was not answered is not written, and said.
    assert main(["setup", "--output", str(file), "--relay", "shed/other/set"]) == 0
    (relay,) = config.load(file).cabin.relays
    said = capsys.readouterr()
    assert relay.uncovered and not relay.opens_on_power and "auto_off is missing" in said.out
    words_said = " ".join(said.err.split())
    assert "nothing that was said of shed/plug/set is taken for true of shed/other/set; dropped: cut" in words_said
    assert "auto_off = 120 s; not said yet: --relay-state" in words_said
    assert 'orders to shed/other/set: "ON" lets it close, "OFF" opens it (assumed' in words_said
    # Of the relay that stays, one thing is said at a time, and the rest is kept.
    assert main(["setup", "--output", str(file), "--auto-off", "none"]) == 0
    assert main(["setup", "--output", str(file), "--power-on", "open"]) == 0
    assert main(["setup", "--output", str(file), "--seconds", "1", "--relay-state", "shed/other/state"]) == 0
    (relay,) = config.load(file).cabin.relays
    assert (relay.topic, relay.state_topic, relay.opens_on_power) == ("shed/other/set", "shed/other/state", True)
    assert not relay.uncovered
    assert main(["setup", "--output", str(file), "--auto-off", "unknown"]) == 2
    assert "take the line auto_off out by hand" in " ".join(capsys.readouterr().err.split())
    closes = ["--relay", "shed/other/set", "--power-on", "closed"]
    assert main(["setup", "--output", str(file), *closes]) == 2
    assert "set the relay itself to be open" in capsys.readouterr().err


OFFER = """
# 60 % sure: a number that could be. Doubtful, so commented out:
# [[bank.meter]]
# topic = "cabin/env"
# style = "json"
# pointer = "/acid"
# quantity = "ambient_temperature"
# unit = "degF"
"""


@pytest.fixture
def there(tmp_path: Path) -> Path:
    """A file of two banks that is there, with an offered value in the second."""
    file = write_cabin(tmp_path, 1)
    text = file.read_text()
    begin = text.index("[[bank]]")
    whole, bank = text[:begin], text[begin : text.index("[journal]")]
    second = bank.replace('"north"', '"house"').replace("cabin/", "house/").replace("N", "H").replace('"OH"', '"ON"')
    file.write_text(f'{whole}{bank}{second}{OFFER}\n[journal]\npath = "revival.db"\n')
    config.load(file)
    return file


def test_what_was_heard_leaves_open_is_never_assumed_where_voltages_hang_on_it(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    with household(broker.port):
        assert setup(broker.port, file, "--yes", "--block", "10 V 100 Ah") == 2  # 12 cells are no whole number of them
        told = " ".join(capsys.readouterr().err.split())
        assert "how many blocks of 10 V stand in series in one string is not certain" in told
        assert "give --blocks N" in told and not file.exists()
        words = ["--yes", "--block", "4 V 400 Ah", "--blocks", "6", "--strings", "1"]
        assert setup(broker.port, file, *words) == 0
    assert "for nobody said it" not in " ".join(capsys.readouterr().err.split()) + file.read_text()
    ((_, bank),) = config.load(file).cabin.banks.items()
    assert (bank.cells, len(bank.strings[0])) == (12, 6)
    assert main(["setup", "--output", str(file), "--blocks", "3"]) == 0
    assert main(["setup", "--output", str(file), "--block", "8 V 170 Ah", "--blocks", "3"]) == 0
    ((_, bank),) = config.load(file).cabin.banks.items()
    assert (bank.cells, bank.capacity) == (12, 170.0)


def test_run_again_in_a_terminal_only_what_the_change_needs_is_asked(tmp_path: Path) -> None:
    file = write_cabin(tmp_path, 1, relay=False)
    words = ["setup", "--output", str(file)]
    code, shown = typed_into([*words, "--charger", "31 V 20 A"], [], tmp_path)
    assert code == 0 and "?" not in shown.split("changed")[0] and "overheating bank" not in shown
    before = file.read_text()
    answers = ["cabin/charger/state", "90 s", "open"]
    code, shown = typed_into([*words, "--relay", "cabin/charger/set"], answers, tmp_path)
    assert code == 0 and shown.split("cabin.toml")[0].count("]:") == 3, shown
    assert file.read_text().startswith(before[: before.index("[journal]")].rstrip()), "the rest is kept"
    (relay,) = config.load(file).cabin.relays
    assert (relay.topic, relay.state_topic, relay.auto_off) == ("cabin/charger/set", "cabin/charger/state", 90.0)
    # Whoever wants it is asked everything, and Return keeps what is there.
    before = file.read_text()
    code, shown = typed_into([*words, "--no-rehearse"], ["all", *[""] * 15], tmp_path)
    assert code == 0 and "Strings in parallel? [1]:" in shown and "says so already" in " ".join(shown.split())
    assert file.read_text() == before


def again(file: Path, *words: str) -> int:
    return main(["setup", "--output", str(file), "--no-rehearse", *words])


def changed(before: str, file: Path) -> list[str]:
    return [line for line in file.read_text().splitlines() if line not in before.splitlines()]


def test_run_again_the_probe_of_one_bank_is_said_anew(there: Path) -> None:
    before = there.read_text()
    assert again(there, "--bank", "house", "--probe", "case") == 0
    assert changed(before, there) == ['placed = "case"']
    placed = {
        name: {meter.placed for meter in bank.by_quantity["electrolyte_temperature"]}
        for name, bank in config.load(there).cabin.banks.items()
    }
    assert placed == {"north": {"cell"}, "house": {"case"}}


def test_run_again_an_offered_value_is_taken_and_one_that_is_not_there_is_named(
    there: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = there.read_text()
    assert again(there, "--bank", "north", "--take", "cabin/env /acid") == 2
    assert "nothing is offered for this bank" in capsys.readouterr().err
    assert again(there, "--bank", "house", "--take", "cabin/env /other") == 2
    assert "offered are cabin/env /acid" in capsys.readouterr().err
    assert there.read_text() == before
    assert again(there, "--bank", "house", "--take", "cabin/env  /acid") == 0
    assert "ambient_temperature" in config.load(there).cabin.banks["house"].by_quantity
    taken = there.read_text()
    assert again(there, "--bank", "house", "--take", "cabin/env /acid") == 0
    assert there.read_text() == taken and "nothing is changed" in capsys.readouterr().err


def test_run_again_a_bank_that_is_not_flooded_is_a_loud_stop(there: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = there.read_text()
    assert again(there, "--bank", "house", "--flooded", "no") == 5
    assert "may vent or burn" in capsys.readouterr().err and there.read_text() == before
    assert again(there, "--bank", "house", "--flooded", "yes") == 0
    assert there.read_text() == before


@pytest.mark.parametrize(
    ("topic", "why"),
    [
        ("12 V 100 Ah", "a topic has no spaces"),
        ("2", "hardly a topic"),
        ("yes", "hardly a topic"),
        ("house/+/set", "without + and #"),
        ("$SYS/relay", "not below $"),
        ("house/charger/state", "there it tells its state; house/charger/set takes its orders"),
    ],
)
def test_what_is_no_topic_for_orders_is_refused_with_the_reason(
    there: Path, capsys: pytest.CaptureFixture[str], topic: str, why: str
) -> None:
    before = there.read_text()
    assert again(there, "--bank", "house", "--relay", topic) == 2
    assert why in " ".join(capsys.readouterr().err.split()) and there.read_text() == before


def test_of_the_same_relay_what_was_said_is_kept(there: Path) -> None:
    assert again(there, "--bank", "house", "--power-on", "open") == 0
    assert again(there, "--bank", "house", "--relay", "house/charger/set", "--auto-off", "2 min") == 0
    (relay,) = [one for one in config.load(there).cabin.relays if one.topic == "house/charger/set"]
    assert (relay.opens_on_power, relay.auto_off) == (True, 120.0)


def test_page_and_paper_take_another_scale(there: Path) -> None:
    assert again(there, "--bank", "house", "--degrees", "degF") == 0
    assert config.load(there).cabin.degrees == "degF"
    assert again(there, "--bank", "house", "--page", "127.0.0.1:8170", "--degrees", "degC") == 0
    cabin = config.load(there).cabin
    assert cabin.page is not None and cabin.degrees == "degC"


def test_a_bank_without_a_thermometer_is_told_so_before_a_rehearsal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = write_cabin(tmp_path, 1, relay=False)
    text = file.read_text()
    begin = text.index('[[bank.meter]]\ntopic = "cabin/probe"')
    file.write_text(text[:begin] + text[text.index("[journal]") :])
    assert main(["rehearse", "--config", str(file), "--embedded"]) == 2
    said = capsys.readouterr()
    assert "north has no electrolyte thermometer" in said.err and said.out == ""


def test_a_secret_that_lies_beside_the_file_is_never_written_over(tmp_path: Path) -> None:
    kept = tmp_path / "broker-password"
    assert free(kept, []) == kept
    kept.write_text("somebody else's")
    assert free(kept, []) == tmp_path / "broker-password-2"
    assert free(kept, [kept]) == kept, "the one that was refused just now"


def test_sealed_batteries_are_refused_before_anything_is_heard(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    assert main(["setup", "--output", str(file), "--yes", "--flooded", "no"]) == 5
    assert not file.exists() and "may vent or burn" in capsys.readouterr().err


def test_a_login_is_asked_for_when_refused_and_kept_where_only_its_owner_reads(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    guarded = make_broker([f"password_file {password_file(tmp_path / 'users', revival=SECRET)}"], anonymous=False)
    file = tmp_path / "cabin.toml"
    assert setup(guarded.port, file, "--yes") == 4
    assert "give --username and --password-file" in capsys.readouterr().err
    near, far = pty.openpty()

    words = ["--broker", f"127.0.0.1:{guarded.port}", "--seconds", "3", "--judge", "0", "--no-rehearse"]
    with household(guarded.port, "revival", SECRET):
        process = subprocess.Popen(
            [sys.executable, "-m", "bridge", "setup", "--output", str(file), *words],
            stdin=far, stdout=far, stderr=far, start_new_session=True,
        )  # fmt: skip
        os.close(far)
        shown = answered = ""
        questions = [("User name", "revival\n"), ("password", f"{SECRET}\n"), ("flooded", "yes\n")]
        deadline = time.monotonic() + 90.0
        while time.monotonic() < deadline and (process.poll() is None or select.select([near], [], [], 0)[0]):
            if not select.select([near], [], [], 0.5)[0]:
                continue
            try:
                shown += os.read(near, 4096).decode(errors="replace")
            except OSError:
                break
            fresh = shown[len(answered) :]
            if questions and questions[0][0] in fresh and fresh.rstrip().endswith(":"):
                os.write(near, questions.pop(0)[1].encode())
                answered = shown
            elif not questions and fresh.rstrip().endswith("]:"):
                os.write(near, b"\n")  # the usual answer
                answered = shown
        if process.poll() is None and time.monotonic() >= deadline:
            process.kill()
        code = process.wait(60)
    os.close(near)
    assert code == 0, shown
    kept = tmp_path / "broker-password"
    assert kept.stat().st_mode & 0o777 == 0o600 and kept.read_text() == SECRET
    assert SECRET not in shown and SECRET not in file.read_text()
    assert config.load(file).cabin.broker.username == "revival"


class OldBroker:
    """In front of a real broker: refuses MQTT 5 as a server that has never heard of it, passes the rest."""

    def __init__(self, port: int) -> None:
        self._target, self._listener = port, socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            first = near.recv(4096)
            # OASIS MQTT 3.1.1, 3.1.2.2 and 3.2.2.3: protocol level 5 is answered by return code 1, then closed.
            level = first[first.index(b"MQTT") + 4]
            if level == 5:
                near.sendall(b"\x20\x02\x00\x01")
                near.close()
                continue
            far = socket.create_connection(("127.0.0.1", self._target))
            far.sendall(first)
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self._pipe, args=(one, other), daemon=True).start()

    @staticmethod
    def _pipe(one: socket.socket, other: socket.socket) -> None:
        while True:
            try:
                data = one.recv(65536)
                if data:
                    other.sendall(data)
            except OSError:
                data = b""
            if not data:
                one.close()
                other.close()
                return

    def stop(self) -> None:
        self._listener.close()


def test_a_broker_without_mqtt_5_is_spoken_to_in_3_1_1_and_it_is_said(
    broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old = OldBroker(broker.port)
    try:
        assert spoken(BrokerSettings("127.0.0.1", old.port)).protocol == "3.1.1"
        broker.publish("elder/hut/volts", "25.9 V", "-r")
        words = ["--broker", f"127.0.0.1:{old.port}", "--topics", "elder/#", "--seconds", "1"]
        assert main(["listen", *words, "--output", str(tmp_path / "cabin.toml")]) == 0
    finally:
        old.stop()
        broker.clear("elder/hut/volts")
    assert "no MQTT 5" in capsys.readouterr().err
    assert config.load(tmp_path / "cabin.toml").cabin.broker.protocol == "3.1.1"


TEXT = """[site]
id = "a"   # home # and more

[[bank]]
id = "one"
strings = 1     # <- strings in parallel
note = "# no comment"

[bank.relay]
topic = "x/set"

[[bank]]
id = "two"

[journal]
path = "b"
"""


def test_one_key_or_table_changes_and_the_text_around_it_stays() -> None:
    assert set_key(TEXT, "[site]", 0, 'id = "b"') == TEXT.replace('"a" ', '"b" ')
    assert set_key(TEXT, "[[bank]]", 0, "strings = 3") == TEXT.replace(
        "strings = 1     # <- strings in parallel", "strings = 3"
    )
    assert set_key(TEXT, "[[bank]]", 1, "strings = 3") == TEXT.replace(
        '[[bank]]\nid = "two"', '[[bank]]\nstrings = 3\nid = "two"'
    )
    moved = set_table(TEXT, 0, "[bank.relay]", ['topic = "y/set"'])
    assert '"x/set"' not in moved and moved.index('"y/set"') < moved.index('id = "two"')
    added = set_table(TEXT, 1, "[bank.relay]", ['topic = "y/set"'])
    assert added.index('id = "two"') < added.index('"y/set"') < added.index("[journal]")
    assert add_table(TEXT, "[page]", ['listen = "h:1"']).endswith('[page]\nlisten = "h:1"\n')
    with pytest.raises(UsageError, match="write by hand: strings = 3"):
        set_key('bank = [ { id = "one" } ]\n', "[[bank]]", 0, "strings = 3")
