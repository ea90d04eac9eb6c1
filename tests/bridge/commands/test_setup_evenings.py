"""`revival setup` over the evenings of one shed: the first, the one after something was bought, the slips between."""

from __future__ import annotations

import re
import shlex
import socket
from collections.abc import Callable
from pathlib import Path

import pytest
from paho.mqtt import publish

from bridge import config
from bridge.cli import main
from bridge.settings import PageSettings
from bridge.words.page_address import reachable
from tests.support.brokers import Broker
from tests.support.running_bridge import turning
from tests.support.small_shed import shed
from tests.support.terminal import typed_into

HASTE = ["--seconds", "4", "--judge", "0", "--no-rehearse"]
#: Prompts of a whole setup, in their order: flooded, site, block, strings, blocks in series, charger.
BANK = ["", "", "12 V 100 Ah", "", ""]


def first(port: int, *words: str) -> list[str]:
    return ["setup", "--broker", f"127.0.0.1:{port}", *HASTE, *words]


def asked(shown: str) -> list[str]:
    """Every prompt that was answered, until the file is written."""
    return re.findall(r"\[[^\]\n]*\]: ", shown.partition("cabin.toml written")[0])


def prompts(shown: str) -> list[str]:
    """Every prompt of a change."""
    return re.findall(r"\? \[[^\]]*\]:", " ".join(shown.split()))


@pytest.fixture
def first_evening(make_broker: Callable[..., Broker], tmp_path: Path) -> Broker:
    """A broker, and the file of its first evening, without thermometer, with something written by hand."""
    broker = make_broker()
    with shed(broker.port):
        assert (
            main([*first(broker.port), "--yes", "--block", "12 V 100 Ah", "--output", str(tmp_path / "cabin.toml")])
            == 0
        )
    file = tmp_path / "cabin.toml"
    edited = (
        file.read_text().replace("[broker]", "# mine\n[broker]").replace('every = "1 s"', 'every = "2 s"   # measured')
    )
    file.write_text(edited + '\n[journal]\nkeep = "30 days"\n')
    return broker


def test_a_thermometer_that_was_bought_later_is_offered_asked_about_and_written(
    first_evening: Broker, tmp_path: Path
) -> None:
    file = tmp_path / "cabin.toml"
    before = file.read_text()
    with shed(first_evening.port, probe="acid_temp"):
        code, shown = typed_into(["setup", *HASTE], ["", "", *[""] * 12], tmp_path)
    assert code == 0, shown
    told = " ".join(shown.split())
    assert len(prompts(shown)) == 2, "that a meter is new, which Enter says, and where it sits"
    assert "new: shed/battery/acid_temp: 17" in told
    asked_where = "does it sit: cell, case, air (around it), or no (elsewhere, none of the bank's)? [cell]"
    assert asked_where in told, "as its name says"
    assert "is now the electrolyte temperature of battery, cell" in told
    assert [line for line in before.splitlines() if line not in file.read_text().splitlines()] == [], "the rest is kept"
    (bank,) = config.load(file).cabin.banks.values()
    assert [meter.placed for meter in bank.by_quantity["electrolyte_temperature"]] == ["cell"]
    # Heard once more it is nothing new.
    before = file.read_text()
    with shed(first_evening.port, probe="acid_temp"):
        code, shown = typed_into(["setup", *HASTE], [""] * 14, tmp_path)
    assert code == 0 and "everything that was heard of a bank is in the file" in " ".join(shown.split())
    assert file.read_text() == before


def test_one_thing_that_changed_is_asked_for_alone_and_with_what_hangs_on_it(
    first_evening: Broker, tmp_path: Path
) -> None:
    file = tmp_path / "cabin.toml"
    # which bank is no question where there is one
    code, shown = typed_into(["setup"], ["a charger", "14.4 V 12 A, 16 V 12 A", ""], tmp_path)
    assert code == 0 and len(prompts(shown)) == 3, shown
    assert "From which bank volts does it start at all?" in " ".join(shown.split())
    before = file.read_text()
    # twice the blocks: the charger no longer fits, so it is asked for as well
    code, shown = typed_into(["setup"], ["blocks", "2", "28.8 V 12 A, 32 V 12 A", ""], tmp_path)
    assert code == 0 and len(prompts(shown)) == 4, shown
    ((_, bank),) = config.load(file).cabin.banks.items()
    assert (bank.cells, [one.volts for one in bank.chargers]) == (12, [28.8, 32.0])
    assert len(set(before.splitlines()) - set(file.read_text().splitlines())) == 2, "blocks and chargers"
    before = file.read_text()
    code, shown = typed_into(["setup"], ["degress", "degrees", "F", ""], tmp_path)
    assert code == 0
    assert "'degress' is none of them" in " ".join(shown.split()) and 'did you mean "degrees"' in " ".join(
        shown.split()
    )
    code, shown = typed_into(["setup"], ["nothing"], tmp_path)
    assert code == 0 and len(prompts(shown)) == 1 and "nothing is changed" in " ".join(shown.split())


def test_of_several_that_are_new_it_is_asked_once_which_are_the_banks(first_evening: Broker, tmp_path: Path) -> None:
    more = {
        "shed/battery/voltage": lambda volts, amps: f"{volts:.2f}",
        "shed/battery/current": lambda volts, amps: f"{amps:.2f}",
        "shed/battery/acid_temp": lambda volts, amps: f"{17.0 + 0.1 * round(amps):.1f} degC",
        "shed/battery/case_temp": lambda volts, amps: f"{19.0 + 0.1 * round(amps):.1f} degC",
        "shed/battery/power": lambda volts, amps: f"{volts * amps:.2f} W",
    }
    with shed(first_evening.port, meters=more):
        code, shown = typed_into(["setup", *HASTE], ["", "9", "1 2", *[""] * 6], tmp_path)
    told = " ".join(shown.split())
    assert code == 0 and "Which of these are a bank's: their numbers, or none? [" in told, shown
    assert "numbers from 1 to 3, such as 1 3; or none" in told
    assert len(config.load(tmp_path / "cabin.toml").routes.mappings) == 4


TWO_PROBES = {
    "shed/battery/voltage": lambda volts, amps: f"{volts:.2f}",
    "shed/battery/current": lambda volts, amps: f"{amps:.2f}",
    "shed/acid/probe": lambda volts, amps: f"{70.0 + 0.1 * round(amps):.1f} F",
    "shed/case/probe": lambda volts, amps: "71.6",
}


def placed_in(file: Path) -> dict[str, tuple[str, str]]:
    """Topic -> unit and place of every electrolyte thermometer of the file's only bank."""
    (table,) = config.load(file).model.bank
    probes = [meter for meter in table.meter if meter.quantity == "electrolyte_temperature"]
    return {meter.topic: (meter.unit or "", meter.placed or "") for meter in probes}


@pytest.fixture
def probed(make_broker: Callable[..., Broker], tmp_path: Path) -> Broker:
    """A broker, and the file of an evening with one thermometer, in the acid."""
    broker = make_broker()
    bank = ["--yes", "--block", "12 V 100 Ah", "--output", str(tmp_path / "cabin.toml")]
    with shed(broker.port, meters={k: v for k, v in TWO_PROBES.items() if "case" not in k}):
        assert main([*first(broker.port), *bank]) == 0
    assert placed_in(tmp_path / "cabin.toml") == {"shed/acid/probe": ("degF", "cell")}
    return broker


def test_a_plain_number_that_stands_still_is_offered_where_its_topic_says_probe(probed: Broker, tmp_path: Path) -> None:
    with shed(probed.port, meters=TWO_PROBES):
        # hear; where it sits; its degrees, in which the other thermometer counts
        code, shown = typed_into(["setup", *HASTE], ["", "case", "", *[""] * 14], tmp_path)
    assert code == 0, shown
    told = " ".join(shown.split())
    assert "new: shed/case/probe: 71.6 °F" in told and "says 71.6: in degC or degF? [degF]" in told
    assert placed_in(tmp_path / "cabin.toml") == {
        "shed/acid/probe": ("degF", "cell"),
        "shed/case/probe": ("degF", "case"),
    }


def test_a_place_is_said_of_what_is_taken_alone_or_of_the_thermometer_that_is_named(
    probed: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    change = ["setup", "--output", str(file), *HASTE]
    with shed(probed.port, meters=TWO_PROBES):
        assert main([*change, "--yes"]) == 0
        said = " ".join(capsys.readouterr().err.split())
        assert '--take "shed/case/probe as degF" --probe "shed/case/probe=case" takes it' in said
        assert main([*change, "--take", "shed/case/probe as degF", "--probe", "case"]) == 0
    said = " ".join(capsys.readouterr().err.split())
    assert placed_in(file) == {"shed/acid/probe": ("degF", "cell"), "shed/case/probe": ("degF", "case")}
    assert "shed/acid/probe" not in said
    assert main([*change, "--probe", "shed/acid/probe=case"]) == 0
    assert "shed/acid/probe sits now: case (was cell)" in " ".join(capsys.readouterr().err.split())
    assert {placed for _, placed in placed_in(file).values()} == {"case"}
    assert main([*change, "--probe", "cell"]) == 0
    said = " ".join(capsys.readouterr().err.split())
    assert all(f"{topic} sits now: cell (was case)" in said for topic in placed_in(file))
    assert main([*change, "--probe", "shed/nothing=cell"]) == 2
    assert "its own: shed/acid/probe, shed/case/probe" in " ".join(capsys.readouterr().err.split())
    assert main([*change, "--probe", "shelf"]) == 2
    assert "cell or case, please" in capsys.readouterr().err


def test_without_a_terminal_what_is_new_and_surely_the_banks_is_taken(
    first_evening: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    with shed(first_evening.port, probe="acid_temp"):
        assert main(["setup", "--yes", "--output", str(file), *HASTE]) == 0
    (bank,) = config.load(file).cabin.banks.values()
    assert [meter.placed for meter in bank.by_quantity["electrolyte_temperature"]] == ["cell"]
    assert "is now the electrolyte temperature of battery, cell" in " ".join(capsys.readouterr().err.split())


def test_a_value_that_is_new_on_the_broker_is_taken_by_its_name(first_evening: Broker, tmp_path: Path) -> None:
    file = tmp_path / "cabin.toml"
    take = ["setup", "--output", str(file), *HASTE, "--take"]
    with shed(first_evening.port, probe="case_temp"):
        assert main([*take, "shed/battery/nothing"]) == 2
        assert main([*take, "shed/battery/case_temp as degF"]) == 0
    loaded = config.load(file)
    (mapping,) = [one for one in loaded.routes.mappings if one.quantity == "electrolyte_temperature"]
    assert (mapping.topic, mapping.unit) == ("shed/battery/case_temp", "degF")
    (bank,) = loaded.cabin.banks.values()
    assert [meter.placed for meter in bank.by_quantity["electrolyte_temperature"]] == ["case"], "as its name says"


def test_a_current_of_which_only_the_way_is_open_is_live_once_it_was_answered(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    with shed(broker.port, flowing=False):
        code, shown = typed_into(first(broker.port), ["", "", "1", "discharging", *BANK[2:], "", "", "", ""], tmp_path)
    assert code == 0, shown
    assert "Which one is its current?" in shown and "a positive number means [charging]:" in " ".join(shown.split())
    (current,) = [one for one in config.load(file).routes.mappings if one.quantity == "current"]
    assert current.sign < 0.0
    assert "commented out" not in file.read_text()


def test_a_current_whose_way_nobody_knows_waits_commented_out_for_the_first_charge(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    with shed(broker.port, flowing=False):
        code, shown = typed_into(first(broker.port), ["", "", "1", "don't know", *BANK[2:], *[""] * 6], tmp_path)
    told = " ".join(shown.split())
    assert code == 0, shown
    assert "charging, discharging or don't know: a positive number means [charging]:" in told
    assert "left out for now: it stands commented out in the file" in told and 'as charging"`' in told
    assert not [one for one in config.load(file).routes.mappings if one.quantity == "current"]
    assert "Doubtful, so commented out" in file.read_text()
    # and the last that is said names what is missing, and the one command that adds it
    last = told.partition("next, in this order:")[2]
    assert "the AMPS of battery are MISSING: shed/battery/current is not read" in last
    (command,) = re.findall(r'`revival (setup --take "shed/battery/current as charging")`', last)
    assert main([*shlex.split(command), "--output", str(file)]) == 0
    assert [one.sign for one in config.load(file).routes.mappings if one.quantity == "current"] == [1.0]


def test_a_current_that_nobody_took_is_offered_again_and_then_stands_once(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    with shed(broker.port, flowing=False):
        assert main([*first(broker.port), "--yes", "--block", "12 V 100 Ah", "--output", str(file)]) == 0
    assert '# topic = "shed/battery/current"' in file.read_text()
    with shed(broker.port):
        assert main(["setup", "--yes", "--output", str(file), *HASTE]) == 0
    assert file.read_text().count("shed/battery/current") == 2, "the topic, and what the volts say of it; no comment"
    assert '# topic = "shed/battery/current"' not in file.read_text()
    assert "current" in {one.quantity for one in config.load(file).routes.mappings}


def test_a_setting_that_is_another_banks_is_refused_where_it_was_typed(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    answers = [*BANK, "28.8 V 50 A", "6 V 5 A", "14.4 V 12 A, 16 V 12 A", "", "", "", "", ""]
    with shed(broker.port):
        code, shown = typed_into(first(broker.port), answers, tmp_path)
    assert code == 0, shown
    told = " ".join(shown.split())
    assert "such as 14.4 V 12 A, 16 V 12 A (- where not known)?" in told, "an example for 12 V and 100 Ah"
    assert "28.8 V is 4.80 V for each of the bank's 6 cells, and harm begins at 2.75 V" in told
    assert "6 V is 1.00 V for each of the bank's 6 cells, at which none takes a charge" in told
    assert "a bank of 6 cells is charged at 14.4 to 16 V" in told
    (bank,) = config.load(file).cabin.banks.values()
    assert [one.volts for one in bank.chargers] == [14.4, 16.0]
    code, shown = typed_into(["setup", "--charger", "28.8 V 50 A"], [], tmp_path)
    assert code == 2 and "harm begins at 2.75 V" in " ".join(shown.split())


def test_run_again_on_other_blocks_the_charger_is_held_against_them(first_evening: Broker, tmp_path: Path) -> None:
    file = tmp_path / "cabin.toml"
    assert main(["setup", "--output", str(file), "--charger", "14.4 V 12 A", "--no-rehearse"]) == 0
    # all; hear: no; site, strings, block, blocks, mains; what the charger was set to is too little for two blocks
    answers = ["all", "no", "", "", "", "2", "", "", "28.8 V 12 A", *[""] * 5]
    code, shown = typed_into(["setup", *HASTE], answers, tmp_path)
    assert code == 0, shown
    told = " ".join(shown.split())
    assert "14.4 V is 1.20 V for each of the bank's 12 cells" in told, shown
    assert "such as 28.8 V 12 A, 32 V 12 A" in told
    (bank,) = config.load(file).cabin.banks.values()
    assert (bank.cells, [one.volts for one in bank.chargers]) == (12, [28.8])


def test_a_relay_that_only_told_its_state_takes_three_answers_more_than_watching(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker, state = make_broker(), "shed/charger/relay/state"
    folders = [tmp_path / "watched", tmp_path / "cut"]
    prompts = []
    for folder, answers in zip(folders, (["none"], ["shed/charger/relay/set", "", "90 s", "open"]), strict=True):
        folder.mkdir()
        with shed(broker.port, probe="acid_temp", relay=state):
            code, shown = typed_into(first(broker.port), [*BANK, "", "", *answers, "", ""], folder)
        assert code == 0, shown
        prompts.append(asked(shown))
    assert len(prompts[1]) - len(prompts[0]) == 3, shown
    told = " ".join(shown.split())
    assert f"Heard to tell a relay's state: {state}; where orders go was not heard" in told
    assert f'"on" lets it close, "off" opens it (as {state} was heard to say)' in told
    assert "nothing of it was heard" not in told
    (relay,) = config.load(folders[1] / "cabin.toml").cabin.relays
    assert (relay.topic, relay.state_topic, relay.auto_off) == ("shed/charger/relay/set", state, 90.0)
    assert "# [bank.relay]" not in (folders[1] / "cabin.toml").read_text()


def test_a_relay_of_which_only_the_kept_state_is_heard_is_asked_where_it_takes_orders(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, state = make_broker(), "barn/charger/switch"
    publish.single(state, "OFF", retain=True, port=broker.port)
    with shed(broker.port, probe="acid_temp"):
        code, shown = typed_into(first(broker.port), [*BANK, "", "", state, "", "90 s", "open", "", ""], tmp_path)
        assert code == 0, shown
        told = " ".join(shown.split())
        assert f"Heard to tell a relay's state: {state}" in told and "taking orders" not in told
        assert "orders are rarely heard, nobody sends any now" in told
        assert f"[{state}/set]: " in told and "tell its state? [" not in told, "it was heard, and named just now"
        (relay,) = config.load(tmp_path / "cabin.toml").cabin.relays
        assert (relay.topic, relay.state_topic, relay.cut) == (f"{state}/set", state, "OFF")
        # given as an option nobody can be asked: refused, with where orders go instead
        bank = ["--yes", "--block", "12 V 100 Ah", "--output", str(tmp_path / "other.toml")]
        assert main([*first(broker.port, *bank), "--relay", state]) == 2
        assert f"often {state}/set" in " ".join(capsys.readouterr().err.split())
        both = ["--relay", f"{state}/set", "--relay-state", f"{state}/set"]
        assert main([*first(broker.port, *bank), *both]) == 2
        assert "cannot be both" in " ".join(capsys.readouterr().err.split())


def test_an_order_topic_in_the_file_that_was_heard_to_tell_a_state_is_named_as_wrong(
    first_evening: Broker, tmp_path: Path
) -> None:
    state, file = "barn/charger/switch", tmp_path / "cabin.toml"
    publish.single(state, "OFF", retain=True, port=first_evening.port)
    with shed(first_evening.port, probe="acid_temp"):
        assert main(["setup", "--yes", "--output", str(file), *HASTE]) == 0
        assert main(["setup", "--output", str(file), "--relay", state]) == 0
        code, shown = typed_into(["setup", *HASTE], [""] * 16, tmp_path)
    assert code == 0 and f"The file's own, {state}, is where a relay tells its state" in " ".join(shown.split()), shown


def test_a_relay_without_thermometer_is_refused_where_it_was_typed(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    with shed(broker.port):
        code, shown = typed_into(first(broker.port), [*BANK, "", "shed/charger/set", "none", "", ""], tmp_path)
    assert code == 0 and "a relay never closes without a thermometer" in " ".join(shown.split())
    assert config.load(tmp_path / "cabin.toml").cabin.relays == ()


def test_relay_none_is_watch_only_first_and_later_with_and_without_terminal(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    bank = ["--block", "12 V 100 Ah", "--output", str(file)]
    with shed(broker.port, probe="acid_temp"):
        assert main([*first(broker.port, *bank), "--relay", "none"]) == 0
        assert config.load(file).cabin.relays == ()
        assert main(["setup", "--output", str(file), "--relay", "shed/charger/set"]) == 0
        assert len(config.load(file).cabin.relays) == 1
        assert main(["setup", "--output", str(file), "--relay", "none"]) == 0
    assert config.load(file).cabin.relays == ()
    assert "battery is only watched from now on: nothing cuts its charger" in " ".join(capsys.readouterr().err.split())
    assert main(["setup", "--output", str(file), "--relay", "shed/charger/set"]) == 0
    before = file.read_text()
    code, shown = typed_into(["setup", "--relay", "none"], [], tmp_path)
    assert code == 0 and config.load(file).cabin.relays == (), shown
    kept = [line for line in before.splitlines() if line in file.read_text().splitlines()]
    assert len(kept) >= len(before.splitlines()) - 6, "but for the relay's table all of it"


def test_what_comes_next_is_said_in_the_order_in_which_it_is_done(
    first_evening: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"

    def following() -> list[str]:
        return re.findall(
            r"^  (?:revival |http)([a-z]*)", capsys.readouterr().out.partition("next, in this order")[2], re.M
        )

    capsys.readouterr()
    assert main(["setup", "--output", str(file), "--site", "my-shed"]) == 0
    assert following() == ["check", "run", "", "plan", "checklist"]
    with shed(first_evening.port, probe="acid_temp"):
        assert main(["setup", "--yes", "--output", str(file), *HASTE]) == 0
    capsys.readouterr()
    assert main(["setup", "--output", str(file), "--relay", "shed/charger/set"]) == 0
    assert following() == ["check", "rehearse", "run", "", "plan", "checklist", "prove", "start"]


def test_whatever_ends_the_questions_what_was_answered_is_told_as_options(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    with shed(broker.port):
        # Ctrl-D: nobody answers any more
        code, shown = typed_into(first(broker.port), ["", "my-shed", "12 V 100 Ah", "\x04"], tmp_path)
    assert code != 0
    told = " ".join(shown.split())
    assert f"from there: revival setup --broker 127.0.0.1:{broker.port} --seconds 4 --judge 0 --no-rehearse" in told
    assert "--no-rehearse --flooded yes --site my-shed --block '12 V 100 Ah'" in told
    nowhere = tmp_path / "no" / "cabin.toml"
    assert main([*first(broker.port), "--yes", "--output", str(nowhere)]) == 2


@pytest.mark.parametrize("names", [("string1/current", "string2/current"), ("amps_a", "amps_b")])
def test_currents_of_strings_without_one_of_the_whole_are_asked_about_and_none_is_taken_for_the_whole(
    make_broker: Callable[..., Broker], tmp_path: Path, names: tuple[str, str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    meters = {
        "shed/battery/voltage": lambda volts, amps: f"{volts:.2f}",
        f"shed/battery/{names[0]}": lambda volts, amps: f"{0.52 * amps:.2f}",
        f"shed/battery/{names[1]}": lambda volts, amps: f"{0.48 * amps:.2f}",
    }
    with shed(broker.port, meters=meters):
        code, shown = typed_into(first(broker.port), ["", "", "yes", "12 V 100 Ah", *[""] * 6], tmp_path)
    assert code == 0, shown
    told = " ".join(shown.split())
    assert "no current of the whole was heard, but of what may be its strings" in told
    assert "strings in parallel? [2]" in told
    mapped = {one.topic: one.meter for one in config.load(file).routes.mappings if "current" in one.quantity}
    assert mapped == {f"shed/battery/{name}": f"string_current:{n}" for n, name in enumerate(names, 1)}


def test_a_bare_count_of_hundredths_of_a_high_bank_is_read_by_the_cells_that_its_owner_counts(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    meters = {
        "shed/battery/voltage": lambda volts, amps: f"{1000.0 * volts:.0f}",
        "shed/battery/current": lambda volts, amps: f"{amps:.2f}",
    }
    with shed(broker.port, meters=meters):
        code, shown = typed_into(first(broker.port), ["", "", "12 V 100 Ah", "", "10", *[""] * 5], tmp_path)
    assert code == 0, shown
    assert "shed/battery/voltage counts cV: 13" in " ".join(shown.split())
    (volts,) = [one for one in config.load(file).routes.mappings if one.quantity == "voltage"]
    assert volts.unit == "cV"
    with shed(broker.port, meters=meters):
        assert (
            main([*first(broker.port), "--yes", "--block", "12 V 100 Ah", "--output", str(tmp_path / "low.toml")]) == 0
        )
    (volts,) = [one for one in config.load(tmp_path / "low.toml").routes.mappings if one.quantity == "voltage"]
    assert volts.unit == "mV", "what nobody corrects stays what most people have"
    told = " ".join(capsys.readouterr().err.split())
    assert "but should shed/battery/voltage count cV, it is 13" in told, told
    assert "V of 60 cells, which can kill: measure it, and then make a new file with --blocks 10" in told
    assert "of 60 cells" in (tmp_path / "low.toml").read_text()
    with shed(broker.port, meters=meters):
        words = ["--yes", "--block", "12 V 100 Ah", "--blocks", "10", "--output", str(tmp_path / "high.toml")]
        assert main([*first(broker.port), *words]) == 0
    (volts,) = [one for one in config.load(tmp_path / "high.toml").routes.mappings if one.quantity == "voltage"]
    assert volts.unit == "cV" and "which can kill" not in capsys.readouterr().err


def test_thermometers_that_stand_in_a_list_of_probes_are_heard_as_such(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    meters = {
        "hut/shunt/volts": lambda volts, amps: f"{volts:.2f}",
        "hut/shunt/amps": lambda volts, amps: f"{amps:.2f}",
        "hut/probes/1": lambda volts, amps: f"{70.0 + 0.1 * round(amps):.1f} F",
        "hut/probes/2": lambda volts, amps: f"{60.0 + 0.1 * round(amps):.1f} F",
    }
    # the volts and amps are sure; of two thermometers somebody says which is the acid's, and where the other one sits
    answers = ["", "", "1", "no", "12 V 100 Ah", "", "", "", "cell", "", "", ""]
    with shed(broker.port, meters=meters):
        code, shown = typed_into(first(broker.port), answers, tmp_path)
    assert code == 0 and "Which one is its electrolyte temperature?" in " ".join(shown.split()), shown
    mapped = {one.topic: one.quantity for one in config.load(tmp_path / "cabin.toml").routes.mappings}
    assert mapped["hut/probes/1"] == "electrolyte_temperature", shown


def test_a_charger_setting_may_be_written_with_a_comma_before_its_amps(first_evening: Broker, tmp_path: Path) -> None:
    file = tmp_path / "cabin.toml"
    assert main(["setup", "--output", str(file), "--charger", "14.4 V, 12 A, 16 V,12 A"]) == 0
    (bank,) = config.load(file).cabin.banks.values()
    assert [(one.volts, one.amps) for one in bank.chargers] == [(14.4, 12.0), (16.0, 12.0)]


def test_a_broker_that_is_not_there_is_told_before_anything_is_asked(make_broker: object, tmp_path: Path) -> None:
    with socket.socket() as nobody:  # bound and never listening: who connects is refused
        nobody.bind(("127.0.0.1", 0))
        code, shown = typed_into(first(nobody.getsockname()[1]), ["", "my-shed"], tmp_path)
    assert code == 4 and "]: " not in shown, shown


def test_the_page_is_named_by_an_address_that_opens(
    first_evening: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    assert main(["setup", "--output", str(tmp_path / "cabin.toml"), "--page", "0.0.0.0:8170"]) == 0
    said = capsys.readouterr().out
    (address,) = re.findall(r"https?://\S+", said)
    assert address in reachable(PageSettings(host="0.0.0.0")) and "0.0.0.0" not in said


def test_thermometers_in_fahrenheit_are_shown_in_fahrenheit_though_none_is_sure(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    meters = {
        **{topic: says for topic, says in TWO_PROBES.items() if "probe" not in topic},
        "shed/battery/temp": lambda volts, amps: f"{71.0 + 0.2 * round(amps):.1f}",
    }
    words = ["--yes", "--block", "12 V 100 Ah", "--output", str(tmp_path / "cabin.toml")]
    with shed(broker.port, meters=meters):
        assert main([*first(broker.port), *words]) == 0
    table, _, rest = capsys.readouterr().err.partition("page, plan and paper say °C")
    assert " °F" in table and "°C" not in table, table
    assert "--degrees degF says °F" in rest, "none is sure, so the scale of the file is said, and how it is changed"


def test_while_a_bridge_runs_its_restart_comes_first_and_only_where_the_file_changed(
    first_evening: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    change = ["setup", "--output", str(file), "--site", "my-shed"]
    with turning(file):
        capsys.readouterr()
        assert main(change) == 0
        steps = capsys.readouterr().out.partition("next, in this order:\n")[2].splitlines()
        assert steps[0].startswith("  restart the running bridge") and "revival run" in steps[0]
        assert not any(line.startswith("  revival run") for line in steps)
        assert main(change) == 0
        assert "restart the running bridge" not in capsys.readouterr().out


def test_in_a_terminal_no_line_is_wider_than_it_and_no_word_is_cut(first_evening: Broker, tmp_path: Path) -> None:
    code, shown = typed_into(["setup", "--site", "my-shed"], [], tmp_path)
    assert code == 0
    closing = shown[shown.index("cabin.toml: site my-shed") :].splitlines()
    assert max(map(len, closing)) <= 80, "as wide as a terminal that says no width"
    told = " ".join(shown.split())
    assert "a meter that is bought later: `revival setup` again hears it" in told
    assert "the usual 1000 silently drops what comes while the bridge is away" in told


def test_a_thermometer_that_may_be_the_airs_is_asked_about_and_degrees_are_said_of_those_that_count_so(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    meters = {**TWO_PROBES, "shed/ambient": lambda volts, amps: "57.2"}
    meters["cellar/temperature"] = lambda volts, amps: f"{14.0 + 0.1 * round(amps):.1f} C"
    del meters["shed/case/probe"]
    # flooded, site, which one, where it sits, its degrees; the bank
    answers = ["", "", "2", "air", "F", *BANK[2:], *[""] * 6]
    with shed(broker.port, meters=meters):
        code, shown = typed_into(first(broker.port), answers, tmp_path)
    told = " ".join(shown.split())
    assert code == 0 and "nothing is surely the air around it. Heard: 1 cellar/temperature: 5" in told, shown
    assert "2 shed/ambient: 57.2 °F" in told, "in the owner's degrees"
    assert "Where of battery does shed/ambient sit: cell, case, air (around it), or no" in told
    (air,) = [one for one in config.load(file).routes.mappings if one.quantity == "ambient_temperature"]
    assert (air.topic, air.unit) == ("shed/ambient", "degF")
    assert "every thermometer" not in told
    assert "shed/ambient, shed/acid/probe count in Fahrenheit, so page, plan and paper will" in told, shown


def test_a_relays_topic_that_is_taken_as_a_meter_is_refused_with_the_option_for_it(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, state = make_broker(), "shed/charger/relay/state"
    haste = ["--seconds", "2", "--judge", "0", "--no-rehearse", "--output", str(tmp_path / "cabin.toml")]
    line = ["setup", "--broker", f"127.0.0.1:{broker.port}", *haste, "--yes", "--block", "12 V 100 Ah"]
    with shed(broker.port, probe="acid_temp", relay=state):
        assert main([*line, "--take", state]) == 2
        told = " ".join(capsys.readouterr().err.split())
        assert f"is no meter: --relay shed/charger/relay/set --relay-state {state}, if that is where" in told, told
        assert main([*line, "--relay", "shed/charger/relay/set"]) == 0
        assert main(["setup", *haste, "--take", state]) == 2
    told = " ".join(capsys.readouterr().err.split())
    assert f"is no meter: --relay-state {state}, if it is that of shed/charger/relay/set" in told, told
