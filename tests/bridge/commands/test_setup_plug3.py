"""`revival setup` and a plug that switches and measures: every slip is told where it was made, and nothing is lost."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bridge import config
from bridge.cli import main
from tests.support.brokers import Broker
from tests.support.small_shed import shed
from tests.support.terminal import typed_into

HASTE = ["--seconds", "4", "--judge", "0", "--no-rehearse"]
STATE, ORDERS = "barn/plug3/state", "barn/plug3/set"
#: A bank without amps, and the plug that its charger hangs on.
METERS: dict[str, Callable[[float, float], str]] = {
    "barn/battery/voltage": lambda volts, amps: f"{volts:.2f}",
    "barn/battery/acid_temp": lambda volts, amps: f"{17.0 + 0.1 * round(amps):.1f} degC",
    STATE: lambda volts, amps: (
        f'{{"state": "ON", "power": {volts * amps / 0.85 + 2:.1f}, "voltage": {231.6 + amps / 20:.1f}}}'
    ),
}


@pytest.fixture
def port(make_broker: Callable[..., Broker]) -> Iterator[int]:
    broker = make_broker()
    with shed(broker.port, meters=METERS):
        yield broker.port


def first(port: int, *words: str) -> list[str]:
    return ["setup", "--broker", f"127.0.0.1:{port}", *HASTE, "--block", "12 V 100 Ah", *words]


#: flooded, site, strings, blocks in series, charger, probe.
BANK = ["", "", "", "", "", ""]


def test_volts_that_no_outlet_has_are_refused_at_their_own_question_and_those_heard_at_the_plug_are_offered(
    port: int, tmp_path: Path
) -> None:
    #: no relay for now; the outlet twice; page
    code, shown = typed_into(first(port), [*BANK, "none", "31", "", "none"], tmp_path)
    told = " ".join(shown.split())
    assert code == 0, shown
    assert "31 V is no outlet, which has 80 to 500 V" in told
    assert re.search(rf"outlet \(unknown: not said\)\? \(23\d V was heard at {STATE} /voltage\) \[230 V\]: 31 ", told)
    assert told.index("31 V is no outlet") < told.index("The live page")
    ((_, bank),) = config.load(tmp_path / "cabin.toml").cabin.banks.items()
    assert bank.ac_voltage == 230.0


def test_the_relay_that_was_heard_is_what_enter_takes_and_where_it_takes_orders_is_asked(
    port: int, tmp_path: Path
) -> None:
    #: the relay; its orders; auto-off; power; page
    code, shown = typed_into(first(port), [*BANK, "", "", "90 s", "open", "none"], tmp_path)
    told = " ".join(shown.split())
    assert code == 0, shown
    before = told.partition("hearing everything")[0]
    assert "nothing is asked for about 4 s now" in before and "to look up meanwhile: volts and ampere-hours" in before
    assert "Enter takes what stands in [ ]; none where it switches anything else" in told
    assert f"[{STATE}]: " in told and f"[{ORDERS}]: " in told
    (relay,) = config.load(tmp_path / "cabin.toml").cabin.relays
    assert (relay.topic, relay.state_topic, relay.cut, relay.allow) == (ORDERS, STATE, "OFF", "ON")
    assert "the charger's outlet is one of 230 V: 23" in told


def test_the_line_that_goes_on_after_a_break_runs_as_it_stands(port: int, tmp_path: Path) -> None:
    answers = ["y", "my-barn", *BANK[2:], "", "", "90 s", "open", "\x04"]
    code, shown = typed_into(first(port), answers, tmp_path)
    assert code != 0
    (line,) = re.findall(r"(?m)^  revival (setup .*)$", shown)
    assert "--flooded yes" in line and f"--relay {ORDERS} --relay-state {STATE} --auto-off '90 s'" in line, line
    file = tmp_path / "cabin.toml"
    assert not file.exists()
    assert main([*shlex.split(line), "--yes", "--output", str(file)]) == 0
    loaded = config.load(file)
    (relay,) = loaded.cabin.relays
    assert (relay.topic, relay.state_topic, relay.auto_off) == (ORDERS, STATE, 90.0)
    assert loaded.cabin.site == "my-barn"


def test_what_only_led_on_after_a_refusal_is_not_in_the_line_that_goes_on(port: int, tmp_path: Path) -> None:
    # a relay that takes its orders where it tells its state is refused; none leads on
    code, shown = typed_into(first(port), [*BANK, "barn plug", "none", "", "\x04"], tmp_path)
    (line,) = re.findall(r"(?m)^  revival (setup .*)$", shown)
    assert code != 0 and "--relay" not in line and "--ac-voltage '230 V'" in line, line


def test_y_and_n_are_yes_and_no_as_options(port: int, tmp_path: Path) -> None:
    file = tmp_path / "cabin.toml"
    assert main([*first(port), "--yes", "--flooded", "y", "--token", "n", "--output", str(file)]) == 0
    page = config.load(file).model.page
    assert page is not None and page.token_file is None


def test_a_relay_that_comes_later_is_heard_and_a_state_that_is_misspelt_is_asked_once_more(
    port: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    assert main([*first(port), "--yes", "--output", str(file)]) == 0
    before = file.read_text()
    again = ["setup", *HASTE, "--relay", ORDERS]
    answers = ["barn/plug3/stat", STATE, "90 s", "open"]
    code, shown = typed_into(again, answers, tmp_path)
    told = " ".join(shown.split())
    assert code == 0, shown
    assert f"Where does it tell its state? [{STATE}]: barn/plug3/stat" in told
    assert f"nothing was heard at barn/plug3/stat; heard beside it: {STATE}" in told
    (relay,) = config.load(file).cabin.relays
    assert (relay.topic, relay.state_topic) == (ORDERS, STATE)
    # as options, and of the relay that is there
    for words in (["--relay", ORDERS, "--relay-state", "barn/plug3/stat"], ["--relay-state", "barn/plug3/stat"]):
        file.write_text(before if "--relay" in words else file.read_text())
        capsys.readouterr()
        assert main(["setup", *HASTE, "--yes", "--output", str(file), *words]) == 0
        said = " ".join(capsys.readouterr().err.split())
        assert f"nothing was heard at barn/plug3/stat; heard beside it: {STATE}" in said, said
    # what was taken all the same is found by the check
    assert main(["check", "--connect", "--wait", "4", "--config", str(file)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"Beside it speaks {STATE}: `revival setup --relay-state {STATE}` takes it" in said, said


@pytest.mark.parametrize("said", ["31.6 V", "2.63 V", "15.8"])
def test_volts_to_equalise_at_come_back_as_they_were_said(
    said: str, port: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, volts = tmp_path / "cabin.toml", float(said.split(maxsplit=1)[0])
    assert main([*first(port), "--yes", "--output", str(file)]) == 0
    if volts > 30.0:
        file.write_text(file.read_text().replace("cells = 6,", "cells = 12,"))
    capsys.readouterr()
    assert main(["setup", "--output", str(file), "--equalise", said]) == 0
    of_bank = volts if volts > 3.0 else 6 * volts
    assert f"equalise at {of_bank:g} V" in capsys.readouterr().out
    (table,) = config.load(file).model.bank
    assert round(table.equalise * (12 if volts > 30.0 else 6), 3) == of_bank


def test_the_openings_for_air_are_said_in_the_first_evening_or_later_and_taken_out_again(
    port: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    assert main([*first(port), "--yes", "--output", str(file), "--openings", "100 sq in"]) == 0
    assert config.load(file).cabin.openings == pytest.approx(645.16)
    assert main(["setup", "--output", str(file), "--openings", "600 cm^2"]) == 0
    assert config.load(file).cabin.openings == pytest.approx(600.0) and 'openings = "600 cm^2"' in file.read_text()
    capsys.readouterr()
    assert main(["setup", "--output", str(file), "--openings", "100 in"]) == 2
    assert 'such as "600 cm^2" or "100 sq in"' in capsys.readouterr().err
    assert main(["setup", "--output", str(file), "--openings", "none"]) == 0
    assert config.load(file).cabin.openings is None and "openings" not in file.read_text()


def test_a_relay_of_two_banks_is_described_once(make_broker: Callable[..., Broker], tmp_path: Path) -> None:
    broker = make_broker()
    shed_bank = {topic.replace("barn/battery", "shed/battery"): says for topic, says in METERS.items()}
    with shed(broker.port, meters={**METERS, **shed_bank}):
        # Flooded each, site; strings, blocks, charger, probe, relay, orders, auto-off, power of one; of the
        # other strings, blocks, charger, probe, relay; page
        answers = [*[""] * 10, "90 s", "open", "", "", "", "", ORDERS, "none"]
        code, shown = typed_into(first(broker.port), answers, tmp_path)
    assert code == 0, shown
    assert f"{ORDERS} is the relay of a bank before as well" in " ".join(shown.split())
    (relay,) = config.load(tmp_path / "cabin.toml").cabin.relays
    assert len(relay.banks) == 2 and relay.auto_off == 90.0


#: A farm: a plug whose document calls its state after its relay, and what else says ON, OFF or degrees there.
FARM: dict[str, Callable[[float, float], str]] = {
    "barn/shunt": lambda volts, amps: f'{{"U": {volts:.2f}, "I": {amps:.2f}}}',
    "barn/probe_cell4/temperature": lambda volts, amps: f"{17.0 + 0.1 * round(amps):.1f}",
    STATE: lambda volts, amps: f'{{"relay": "ON", "watts": {volts * amps / 0.85 + 2:.1f}}}',
    "barn/milktank/temp": lambda volts, amps: f"{4.2 + 0.1 * (round(amps) % 2):.1f}",
    "yard/weather": lambda volts, amps: f'{{"temperature": {9.0 + 0.1 * (round(amps) % 2):.1f}, "wind": 3.1}}',
    "well/pump/state": lambda volts, amps: "OFF",
}


def asked(shown: str) -> list[str]:
    """Return the questions: what the terminal showed before a usual answer in brackets and a colon."""
    return re.findall(r"[^\n]*\[[^\]\n]*\]: ", shown.replace("\r", "").partition("cabin.toml written")[0])


def test_on_a_farm_enter_takes_neither_the_pump_nor_the_milk_and_a_relay_costs_three_questions(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    before, behind = tmp_path / "watch", tmp_path / "relay"
    before.mkdir()
    behind.mkdir()
    with shed(broker.port, meters=FARM):
        code, shown = typed_into([*first(broker.port), "--relay", "none"], [""] * 30, before)
        assert code == 0, shown
        watch_only = len(asked(shown)) + 1  # and the one that --relay none answered
        # Enter takes relay and orders as they were heard
        code, shown = typed_into(first(broker.port), [*BANK, "", "", "none", "open", "", ""], behind)
        assert code == 0, shown
        (relay,) = config.load(behind / "cabin.toml").cabin.relays
        assert (relay.topic, relay.state_topic, relay.uncovered) == (ORDERS, STATE, False)
        assert 'state_pointer = "/relay"' in (behind / "cabin.toml").read_text()
        assert main(["check", "--config", str(behind / "cabin.toml"), "--connect", "--wait", "5"]) == 0
    # where it takes its orders, its auto-off, and how it is when its power comes back
    assert len(asked(shown)) - watch_only == 3, "\n".join(asked(shown))
    for folder in (before, behind):
        mapped = config.load(folder / "cabin.toml").routes.mappings
        assert not any("milk" in one.topic or "weather" in one.topic for one in mapped)


def test_an_owner_of_a_plug_without_auto_off_is_told_what_it_is_where_it_is_set_and_what_none_means(
    port: int, tmp_path: Path
) -> None:
    code, shown = typed_into(first(port), [*BANK, "", "", "none", "open", "none"], tmp_path)
    told = " ".join(shown.split())
    assert code == 0, shown
    assert "in its own menu often called auto off, timer, countdown or inching" in told
    assert "`revival prove --auto-off` measures it later, in about as long as it lasts" in told
    assert "none: the bank may be charged, and nothing opens the relay when broker" in told
    (relay,) = config.load(tmp_path / "cabin.toml").cabin.relays
    assert relay.auto_off is None and not relay.uncovered and "auto_off is missing" not in told


#: The same plug calls its state a relay; a pump's beside it has nothing to do with the bank.
OTHER_PLUG: dict[str, Callable[[float, float], str]] = {
    **{topic: says for topic, says in METERS.items() if topic != STATE},
    STATE: lambda volts, amps: f'{{"relay": "OFF", "watts": {volts * amps / 0.85 + 2:.1f}}}',
    "well/pump/state": lambda volts, amps: "OFF",
}


def pointer_of(loaded: config.Loaded) -> str | None:
    """Return where the file reads the relay's state in its document."""
    relay = loaded.model.bank[0].relay
    return None if relay is None else relay.state_pointer


@pytest.mark.parametrize("named", ["", ORDERS, f"{STATE} /relay"])
def test_a_plug_that_calls_its_state_a_relay_beside_its_watts_is_found_and_comes_first(
    named: str, make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    with shed(broker.port, meters=OTHER_PLUG):
        #: where it takes orders, or where it tells its state; auto-off; power; draws; outlet; page
        answers = [*BANK, named, "", "90 s", "open", "", "230", "none"]
        code, shown = typed_into(first(broker.port), answers, tmp_path)
    told = " ".join(shown.split())
    assert code == 0, shown
    assert f"[{STATE}]: " in told and "assumed, for no" not in told
    assert f'its state stands at /relay in the document at {STATE}: "OFF" is open, "ON" is closed' in told
    loaded = config.load(tmp_path / "cabin.toml")
    (relay,) = loaded.cabin.relays
    assert (relay.topic, relay.state_topic, relay.cut, relay.allow) == (ORDERS, STATE, "OFF", "ON")
    assert pointer_of(loaded) == "/relay"
    assert [one.pointer for one in loaded.model.bank[0].meter if one.quantity == "ac_power"] == ["/watts"]


@pytest.mark.parametrize("state", [STATE, f"{STATE} /relay"])
def test_where_a_relay_tells_its_state_in_a_document_is_taken_as_an_option(
    state: str, make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    relay = ["--relay", "garage/p9/set", "--relay-state", state, "--auto-off", "none", "--power-on", "open"]
    with shed(broker.port, meters=OTHER_PLUG):
        words = [*first(broker.port), "--yes", "--ac-voltage", "230", *relay]
        assert main([*words, "--output", str(file)]) == 0
    loaded = config.load(file)
    assert pointer_of(loaded) == "/relay"
    # and of a file that is there
    assert main(["setup", *HASTE, "--output", str(file), "--yes", "--relay-state", f"{STATE} /other"]) == 0
    loaded = config.load(file)
    assert pointer_of(loaded) == "/other"
