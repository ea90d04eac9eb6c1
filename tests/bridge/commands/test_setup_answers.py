"""`revival setup` takes what people type, asks back what cannot be, and says before the work what would not begin."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest
from paho.mqtt import publish

from bridge import config
from bridge.cli import main
from bridge.commands.setup_heard import shown
from bridge.listen.guess import Guess, settle_degrees
from bridge.listen.source import Source
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import write_cabin
from tests.support.running_bridge import turning
from tests.support.small_shed import shed
from tests.support.terminal import typed_into

HASTE = ["--seconds", "4", "--judge", "0", "--no-rehearse"]


def first(port: int, *words: str) -> list[str]:
    return ["setup", "--broker", f"127.0.0.1:{port}", *HASTE, *words]


def test_what_people_type_is_taken_and_what_cannot_be_is_asked_back(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    answers = ["", "Miller's barn", ""]  # flooded; the place, and Enter takes the name that was suggested
    answers += ["6V x 4", "6 V 4 Ah", "6 V 400 Ah"]
    answers += ["12", "two", "2 blocks"]
    answers += ["30 A", "15.6", "10 V", ""]  # the charger, its volts, from which it starts; equalised at its own volts
    answers += ["In the acid.", "", "", "yes", ""]  # the probe; no relay; mains not known; the page and its token
    with shed(broker.port, probe="acid_temp"):
        code, shown = typed_into(first(broker.port), answers, tmp_path)
    assert code == 0, shown
    told = " ".join(shown.split())
    assert "that is 4 blocks of 6 V, which is asked next" in told
    assert "4 Ah is very little for a flooded block of 6 V" in told
    assert "12 strings of blocks of 6 V 400 Ah are a bank of 4800 Ah" in told
    assert "30 A at how many volts?" in told and "From which bank volts does it start at all? [not known]" in told
    assert "the highest setting, 15.6 V, is 2.60 V per cell" in told and "the hold cannot begin" in told
    loaded = config.load(file)
    ((_, bank),) = loaded.cabin.banks.items()
    assert (loaded.cabin.site, bank.cells, bank.capacity, bank.equalise) == ("millers-barn", 6, 800.0, 2.6)
    assert [(one.volts, one.amps, one.starts_at) for one in bank.chargers] == [(15.6, 30.0, 10.0)]
    assert {meter.placed for meter in bank.meters if meter.quantity == "electrolyte_temperature"} == {"cell"}
    assert loaded.model.page is not None and loaded.model.page.listen == "127.0.0.1:8170"
    # What one option changes later is held against the rest, too.
    again = ["setup", "--output", str(file)]
    assert main([*again, "--charger", "14.7 V 500 A"]) == 0
    said = " ".join("".join(capsys.readouterr()).split())
    assert "500 A is more than half of the bank's 800 Ah in an hour" in said
    assert "the hold cannot begin: no charger setting reaches the equalising voltage" in said
    assert '`revival setup --equalise "14.7 V"`, at which the hard sulfate may stay' in said
    assert main([*again, "--equalise", "14.7 V"]) == 0
    said = " ".join("".join(capsys.readouterr()).split())
    assert "2.45 V per cell is low: below about 2.55 V at 25 degC the hard sulfate may stay" in said
    assert "cannot begin" not in said and config.load(file).model.bank[0].equalise == 2.45
    assert main([*again, "--equalise", "12 V"]) == 2
    assert "12 V is 2.00 V for each of 6 cells" in capsys.readouterr().err
    assert main([*again, "--block", "6 V 4 Ah"]) == 0
    assert "4 Ah is very little" in " ".join(capsys.readouterr().err.split())


def test_a_relay_named_by_its_state_is_refused_before_anybody_is_asked(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    begun = time.monotonic()
    words = ["--seconds", "300", "--yes", "--relay", "shed/charger/state", "--output", str(file)]
    assert main(["setup", "--broker", f"127.0.0.1:{broker.port}", *words]) == 2
    assert time.monotonic() - begun < 60.0, "its name tells it: nothing is heard first"
    assert "is by its name where a relay tells its state" in " ".join(capsys.readouterr().err.split())
    publish.single("barn/charger/switch", "OFF", retain=True, port=broker.port)
    with shed(broker.port, probe="acid_temp"):
        code, shown = typed_into(first(broker.port, "--relay", "barn/charger/switch"), [""], tmp_path)
    assert code == 2 and "barn/charger/switch is where a relay tells its state" in " ".join(shown.split())
    assert "What is this place called?" not in shown


def test_the_way_on_carries_what_was_given_and_what_was_answered(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    given = ["--relay", "shed/charger/set", "--username", "Joe Miller"]
    with shed(broker.port, probe="acid_temp"):
        code, shown = typed_into(first(broker.port, *given), ["", "my-shed", "\x04"], tmp_path)
    assert code != 0
    told = " ".join(shown.split())
    assert f"from there: revival setup --broker 127.0.0.1:{broker.port} --username 'Joe Miller' " in told, told
    assert " --relay shed/charger/set --no-rehearse --flooded yes --site my-shed" in told, told


SECOND = {
    "barn/shunt/voltage": lambda volts, amps: f"{volts:.2f}",
    "barn/shunt/current": lambda volts, amps: f"{amps:.2f}",
    "barn/acid/temp": lambda volts, amps: f"{70.0 + 0.1 * round(amps):.1f} F",
    "barn/air/temp": lambda volts, amps: f"{50.0 + 0.1 * round(amps):.1f} F",
}


def placed_in(file: Path) -> dict[str, tuple[str, str]]:
    """Topic -> quantity and place of every thermometer of the file's only bank."""
    (table,) = config.load(file).model.bank
    return {
        meter.topic: (meter.quantity, meter.placed or "")
        for meter in table.meter
        if meter.quantity is not None and meter.quantity.endswith("temperature")
    }


def test_a_second_thermometer_beside_the_banks_own_is_offered_and_sits_where_its_owner_says(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    own = {"barn/acid/temp": ("electrolyte_temperature", "cell"), "barn/air/temp": ("ambient_temperature", "")}
    with shed(broker.port, meters=SECOND):
        assert main([*first(broker.port), "--yes", "--block", "12 V 100 Ah", "--output", str(file)]) == 0
    assert placed_in(file) == own
    before = file.read_text()
    with shed(broker.port, meters={**SECOND, "barn/second/temp": lambda volts, amps: f"{68.5 + amps / 20.0:.1f}"}):
        capsys.readouterr()
        assert main(["setup", "--output", str(file), *HASTE, "--yes"]) == 0
        said = " ".join(capsys.readouterr().err.split())
        assert "barn/second/temp" in said and "everything that was heard of a bank is in the file" not in said
        assert file.read_text() == before
        probe = ["--take", "barn/second/temp as degF", "--probe", "barn/second/temp=case"]
        assert main(["setup", "--output", str(file), *HASTE, *probe]) == 0
        assert placed_in(file) == own | {"barn/second/temp": ("electrolyte_temperature", "case")}
        file.write_text(before)
        # hear; where it sits; its degrees
        code, shown = typed_into(["setup", *HASTE], ["", "in the cell", "Fahrenheit", *[""] * 14], tmp_path)
    assert code == 0, shown
    told = " ".join(shown.split())
    assert "new: barn/second/temp: 6" in told and "does it sit: cell, case, air" in told
    assert placed_in(file) == own | {"barn/second/temp": ("electrolyte_temperature", "cell")}


def test_one_reading_without_a_unit_is_one_number_wherever_it_is_said() -> None:
    source = Source("barn/acid/temp", "plain", values=[60.9, 60.9])
    guess = settle_degrees(Guess(source, "electrolyte_temperature", "degC", ()))
    assert shown(guess).startswith("barn/acid/temp: 60.9 °F; no unit: as degF it is 60.9 °F"), "not 61.0"


def test_of_several_enter_takes_the_likeliest(make_broker: Callable[..., Broker], tmp_path: Path) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    with shed(broker.port, flowing=False):
        code, shown = typed_into(first(broker.port), ["", "", "", "", "12 V 100 Ah", *[""] * 7], tmp_path)
    assert code == 0 and "Which one is its current? [1; 0 = none]" in " ".join(shown.split()), shown
    assert "current" in {one.quantity for one in config.load(file).routes.mappings}


@pytest.mark.parametrize("named", ["shed/battery/current", "battery/current", "Current"])
def test_of_several_one_is_named_by_its_topic_or_a_part_of_it(
    make_broker: Callable[..., Broker], tmp_path: Path, named: str
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    with shed(broker.port, flowing=False):
        answers = ["", "", "none of these", named, "", "12 V 100 Ah", *[""] * 7]
        code, shown = typed_into(first(broker.port), answers, tmp_path)
    assert code == 0 and "or its topic, please" in shown, shown
    taken = [one.topic for one in config.load(file).routes.mappings if one.quantity == "current"]
    assert taken == ["shed/battery/current"]


def test_where_no_charger_reaches_the_hold_plan_start_and_status_say_what_to_type(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)
    text = path.read_text()
    cells = next(iter(config.load(path).cabin.banks.values())).cells
    path.write_text(text.replace('volts = "32 V"', f'volts = "{2.6 * cells:g} V"'))
    typed = f'`revival setup --equalise "{2.6 * cells:g} V"`'
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        for command in ("start", "status", "plan"):
            capsys.readouterr()
            assert main([command, "--config", str(path)]) == 0
            said = " ".join(capsys.readouterr().out.split())
            assert "the hold cannot begin" in said and typed in said, (command, said)
