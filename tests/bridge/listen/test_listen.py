"""`revival listen`: from recorded and live traffic to a cabin file that loads and never maps a value wrongly."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge import config
from bridge.cli import main
from bridge.listen.collect import Collector
from bridge.listen.guess import SURE_ENOUGH, Guess
from bridge.listen.names import words_of
from bridge.listen.write import Found, cabin_file, recognise, unrecognised
from bridge.message import Message
from bridge.settings import BrokerSettings
from tests.support.brokers import Broker, free_port, password_file

SAMPLES = Path(__file__).parents[3] / "sample_messages"
STYLES = sorted(path.parent.name for path in SAMPLES.glob("*/cabin.toml"))
NOW = 1795590000.0
SECRET = "hunter2-planted"

#: Written commented out on purpose: no traffic tells Fahrenheit from a hot cell, or electrolyte from air.
DOUBTFUL = {
    "json-with-time": {"electrolyte_temperature"},
    "misleading-fahrenheit": {"electrolyte_temperature"},
    "misleading-sign": {"electrolyte_temperature"},
    "json-nested": {"electrolyte_temperature"},
    "two-banks": {"ambient_temperature"},
    "homie": {"fan"},
    "hub-states": {"fan"},
}


def recorded(style: str) -> list[Message]:
    rows = map(json.loads, (SAMPLES / style / "messages.jsonl").read_text("utf-8").splitlines())
    return [Message(row["topic"], row["payload"].encode(), row["t"], row["retain"]) for row in rows]


def heard(messages: list[Message]) -> list[Found]:
    collector = Collector()
    for message in messages:
        collector.take(message)
    return recognise(collector.sources)


def say(topic: str, *payloads: object) -> list[Message]:
    return [
        Message(topic, payload if isinstance(payload, bytes) else str(payload).encode(), NOW + 10.0 * number)
        for number, payload in enumerate(payloads)
    ]


def only(messages: list[Message]) -> Guess:
    (bank,) = heard(messages)
    (one,) = bank.guesses
    return one


@pytest.mark.parametrize("style", STYLES)
def test_every_style_gives_a_file_that_loads_and_maps_like_the_owners_own(style: str, tmp_path: Path) -> None:
    file = tmp_path / "cabin.toml"
    file.write_text(cabin_file(heard(recorded(style)), BrokerSettings()), "utf-8")
    ours, owners = config.load(file), config.load(SAMPLES / style / "cabin.toml", {})
    # what a bank that is alone is called its topics say, or nobody does
    called = dict(zip(ours.cabin.banks, owners.cabin.banks, strict=True))
    assert style == "two-banks" or set(called) <= {"bank", "battery"}
    assert all(bank.cells == 12 for bank in ours.cabin.banks.values())
    truth = {(m.bank, m.topic, m.pointer or m.name): m for m in owners.routes.mappings}
    for mapping in ours.routes.mappings:
        owner = truth.pop((called[mapping.bank], mapping.topic, mapping.pointer or mapping.name))
        assert (mapping.quantity, mapping.sign, mapping.time) == (owner.quantity, owner.sign, owner.time)
        if mapping.unit is not None and owner.unit is not None:
            assert mapping.factor(mapping.unit) == owner.factor(owner.unit)
    assert {mapping.quantity for mapping in truth.values()} == DOUBTFUL.get(style, set())


@pytest.mark.parametrize("style", sorted(DOUBTFUL))
def test_the_doubtful_stand_commented_out_with_their_reason(style: str) -> None:
    text = cabin_file(heard(recorded(style)), BrokerSettings())
    for quantity in DOUBTFUL[style]:
        assert f'# quantity = "{quantity}"' in text
    assert "Doubtful, so commented out:" in text


def test_a_number_called_volts_that_no_bank_can_show_is_read_as_millivolts() -> None:
    one = only(say("hut/battery/volts", 26010, 26020))
    assert (one.quantity, one.unit) == ("voltage", "mV")
    assert "cannot be a bank" in one.reasons[-1]


def test_a_temperature_that_could_be_hot_or_fahrenheit_is_never_decided() -> None:
    for value in (80, 95, 110, 45, 50):
        assert only(say("hut/cell/temperature", value)).sure < 0.6
    assert only(say("hut/cell/temperature", 21)).unit == "degC"
    assert only(say("hut/cell/temp_fahrenheit", 95)).unit == "degF"
    assert only(say("hut/cell/temperature", "95 °F")).sure > 0.9
    assert only(say("hut/cell/temperature", "26 C")).unit == "degC"


def test_a_current_that_is_negative_while_the_bank_gasses_counts_discharge_as_positive() -> None:
    (bank,) = heard(say("hut/volts", 31.0) + say("hut/amps", -42.0))
    current = next(one for one in bank.guesses if one.quantity == "current")
    assert current.sign == "discharging"
    (bank,) = heard(say("hut/volts", 24.6) + say("hut/amps", -9.0))
    current = next(one for one in bank.guesses if one.quantity == "current")
    assert current.sign == "charging" and "look again under charge" in current.reasons[-1]


def test_what_is_no_battery_meter_is_left_alone() -> None:
    noise = (
        say("hut/wifi/rssi", -61)
        + say("hut/battery/soc", "87 %")
        + say("hut/room/humidity", 55)
        + say("hut/door/battery", "low")
        + say("hut/text", "hello")
        + say("hut/broken", b"\xff\xfe", b'{"a":', b"[" * 5000)
        + say("$SYS/broker/load", 12.5)
        + say("hut/energy", "12.4 kWh")
    )
    assert heard(noise) == [Found("bank", ())]


def test_the_bridges_own_states_are_not_heard_back() -> None:
    description = {"nodes": {"revival": {}, "safety": {}, "electrical": {"properties": {"voltage": {"unit": "V"}}}}}
    messages = say("homie/5/tarn-hut-north/$description", json.dumps(description))
    assert heard(messages + say("homie/5/tarn-hut-north/electrical/voltage", 25.9)) == [Found("bank", ())]


def test_a_hubs_announcement_brings_the_unit_of_another_topic() -> None:
    announced = {"~": "hut/x", "stat_t": "~/state", "unit_of_meas": "mV", "dev_cla": "voltage"}
    one = only(say("hub/sensor/x/config", json.dumps(announced)) + say("hut/x/state", 26010))
    assert (one.source.topic, one.quantity, one.unit) == ("hut/x/state", "voltage", "mV")


def test_a_second_voltage_without_a_bank_of_its_own_is_doubtful() -> None:
    (bank,) = heard(say("hut/shunt/volts", 25.9) + say("charger", json.dumps({"out": {"voltage": 26.3}})))
    assert sorted(one.sure >= SURE_ENOUGH for one in bank.guesses) == [False, True]


@pytest.mark.parametrize(("watts", "sure"), [(1290, True), (1.29e3, True), (640, False)])
def test_a_power_is_the_banks_when_volts_times_amps_agree(watts: float, sure: bool) -> None:
    (bank,) = heard(say("hut/volts", 26.0) + say("hut/amps", 49.5) + say("hut/watts", watts))
    power = next(one for one in bank.guesses if one.quantity == "power")
    assert (power.sure >= SURE_ENOUGH) == sure and "volts times amps" in "; ".join(power.reasons)


def test_a_power_counts_the_same_way_as_the_current_beside_it() -> None:
    (bank,) = heard(say("hut/volts", 31.0) + say("hut/amps", -40.0) + say("hut/watts", -1240))
    assert {one.sign for one in bank.guesses if one.quantity in {"current", "power"}} == {"discharging"}


def test_what_is_not_recognised_is_listed_at_the_end(tmp_path: Path) -> None:
    collector = Collector()
    for message in say("hut/thing", 3, 7) + say("hut/volts", 25.9) + say("a/\n[broker]", 1):
        collector.take(message)
    found = recognise(collector.sources)
    text = cabin_file(found, BrokerSettings(), "", unrecognised(collector.sources, found))
    assert "#   hut/thing: 3 to 7" in text.splitlines()
    file = tmp_path / "cabin.toml"
    file.write_text(text)
    assert config.load(file).routes.live_topics == ("hut/volts",)


def test_odd_topics_are_escaped_and_the_file_still_loads(tmp_path: Path) -> None:
    file = tmp_path / "cabin.toml"
    file.write_text(cabin_file(heard(say('hut/"shunt"\\1/volts', 25.9)), BrokerSettings()), "utf-8")
    assert config.load(file).routes.live_topics == ('hut/"shunt"\\1/volts',)


def test_names_are_split_as_people_write_them() -> None:
    assert words_of("hut/cellTemp_1/dc-mV") == ["hut", "cell", "temp", "1", "dc", "mv"]


def publish_for_a_while(broker: Broker, process: subprocess.Popen[str]) -> None:
    while process.poll() is None:
        for message in recorded("plain")[:6] + recorded("misleading-sign")[:2]:
            if process.poll() is None:
                broker.publish("listening/" + message.topic, message.payload.decode())


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_real_broker_is_overheard_and_the_file_written(broker: Broker, tmp_path: Path, protocol: str) -> None:
    file = tmp_path / "cabin.toml"
    words = ["listen", "--broker", f"127.0.0.1:{broker.port}", "--seconds", "2", "--output", str(file)]
    words += ["--topics", "listening/#", "--protocol", protocol]
    with subprocess.Popen(
        [sys.executable, "-m", "bridge", *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        publish_for_a_while(broker, process)
        out, err = process.communicate()
    assert (process.returncode, out) == (0, ""), err
    assert "electrolyte_temperature" in err and "written" in err
    loaded = config.load(file)
    assert loaded.cabin.broker.port == broker.port
    assert "listening/hut/shunt/voltage" in loaded.routes.live_topics
    assert loaded.cabin.page is not None and loaded.cabin.page.host == "127.0.0.1"
    assert main(["check", "--config", str(file)]) == 0
    assert main([*words[:-4]]) == 2, "an existing file is not overwritten"


def test_a_silent_or_closed_broker_is_a_sentence_and_code_4(
    broker: Broker, tmp_path: Path, make_broker: Callable[..., Broker], capsys: pytest.CaptureFixture[str]
) -> None:
    silent = ["listen", "--seconds", "1", "--topics", "nobody/#"]
    assert main([*silent, "--broker", f"127.0.0.1:{broker.port}"]) == 4
    assert "nothing was heard on nobody/#" in capsys.readouterr().err
    assert main([*silent, "--broker", f"127.0.0.1:{free_port()}"]) == 4
    assert "refused" in capsys.readouterr().err
    guarded = make_broker([f"password_file {password_file(tmp_path / 'users', revival='right')}"], anonymous=False)
    (tmp_path / "secret").write_text(SECRET)
    words = ["--username", "revival", "--password-file", str(tmp_path / "secret")]
    assert main([*silent, "--broker", f"127.0.0.1:{guarded.port}", *words]) == 4
    shown = capsys.readouterr().err
    assert "not authorised" in shown and SECRET not in shown


@pytest.mark.parametrize(
    "words", [["--broker", ":1883"], ["--broker", "a:b"], ["--seconds", "0"], ["--password-env", "NOT_SET_ANYWHERE"]]
)
def test_a_command_line_that_cannot_be_ends_with_2(words: list[str]) -> None:
    assert main(["listen", *words]) == 2
