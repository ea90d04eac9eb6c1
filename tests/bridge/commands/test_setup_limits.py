"""`revival setup` takes the owner's own limits and the volts of the mains; `check` shows them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from bridge import config
from bridge.cli import main
from tests.support.brokers import Broker
from tests.support.cabin import write_cabin
from tests.support.small_shed import shed
from tests.support.terminal import typed_into

HASTE = ["--seconds", "2", "--judge", "0", "--no-rehearse"]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """The file of a bank of twelve cells, without relay."""
    return write_cabin(tmp_path, 1, relay=False)


def again(file: Path, *words: str) -> int:
    return main(["setup", "--output", str(file), *words])


def test_own_limits_are_options_and_check_shows_them(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert again(file, "--temperature-limit", "105F", "--voltage-limit", "32.7 V", "--ac-voltage", "120") == 0
    (bank,) = config.load(file).cabin.banks.values()
    assert (round(bank.limits.temperature, 2), bank.limits.cell_voltage, bank.ac_voltage) == (40.56, 2.725, 120.0)
    capsys.readouterr()
    assert main(["check", "--config", str(file)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "limits of your own: acid 105.0 °F, 2.725 V per cell" in told and "the charger's outlet: 120 V" in told
    assert again(file, "--case-limit", "38 degC") == 0
    (bank,) = config.load(file).cabin.banks.values()
    assert (bank.limits.temperature_case, round(bank.limits.temperature, 2)) == (38.0, 40.56), "what was said stays"


def test_the_amps_of_one_string_are_an_option_and_what_check_shows(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (usual,) = config.load(file).cabin.banks.values()
    assert usual.limits.string_current is None
    assert again(file, "--current-limit", "18 A per string") == 0
    (bank,) = config.load(file).cabin.banks.values()
    assert (bank.limits.string_current, bank.string_current_limit) == (18.0, 18.0)
    capsys.readouterr()
    assert main(["check", "--config", str(file)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "limits of your own: 18 A per string" in told and "at most 18 A per string" in told
    assert "over 22.5 A for 30 s it is a danger" in told


def test_what_has_to_stay_below_the_acids_limit_goes_down_with_it(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert again(file, "--temperature-limit", "37 degC") == 0
    assert "temperature_warning goes down with it, to 34 degC" in " ".join(capsys.readouterr().err.split())
    (bank,) = config.load(file).cabin.banks.values()
    assert (bank.limits.temperature_warning, bank.limits.temperature_case) == (34.0, 37.0)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--temperature-limit", "110"], 'a temperature with its scale, such as "110 degF"'),
        (["--temperature-limit", "110 C"], "limits.temperature"),
        (["--voltage-limit", "44 V"], "3.67 V for each of 12 cells: a limit lies above 2.3 V and up to 3.5 V per cell"),
        (["--current-limit", "25 V"], 'amps of one string, such as "25 A"'),
        (["--current-limit", "9000"], "limits.string_current"),
        (["--ac-voltage", "mains"], 'volts of the outlet, such as "120 V" or "230 V"'),
        (["--ac-voltage", "12 V"], "12 V is no outlet, which has 80 to 500 V"),
    ],
)
def test_a_limit_that_cannot_be_is_refused(
    file: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    before = file.read_text()
    assert again(file, *words) in {2, 78}
    assert told in " ".join(capsys.readouterr().err.split()) and file.read_text() == before


def test_limits_are_asked_for_by_their_name_and_where_they_are_the_owners_own(file: Path, tmp_path: Path) -> None:
    code, shown = typed_into(["setup"], ["limits", "104 °F", "", ""], tmp_path)
    told = " ".join(shown.split())
    assert code == 0 and "At which temperature of the acid is the charger cut? [110.0 degF]" in told, shown
    assert "How many amps may one string take? [26 A]" in told, shown
    assert "of a case" not in told, "no thermometer sits on one"
    (bank,) = config.load(file).cabin.banks.values()
    assert bank.limits.temperature == pytest.approx(40.0) and bank.limits.cell_voltage == 2.75
    code, shown = typed_into(["setup"], ["mains", "230"], tmp_path)
    assert config.load(file).model.bank[0].ac_voltage == 230.0, shown


def test_in_the_first_evening_the_mains_are_asked_for_where_no_amps_are_heard(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    first = ["setup", "--broker", f"127.0.0.1:{broker.port}", *HASTE, "--output", str(file)]
    with shed(broker.port):
        words = ["--yes", "--block", "12 V 100 Ah", "--temperature-limit", "42 degC", "--voltage-limit", "16.2 V"]
        words += ["--current-limit", "12"]
        assert main([*first, *words, "--ac-voltage", "230 V"]) == 0
    (bank,) = config.load(file).cabin.banks.values()
    assert (bank.limits.temperature, bank.limits.cell_voltage, bank.ac_voltage) == (42.0, 2.7, 230.0)
    assert bank.limits.string_current == 12.0
    file.unlink()
    meters = {"shed/battery/voltage": lambda volts, amps: f"{volts:.2f}"}
    with shed(broker.port, meters=meters):
        code, shown = typed_into(first, ["", "", "12 V 100 Ah", "", "1", "", "", "120 V", *[""] * 5], tmp_path)
    assert code == 0 and "how many volts has the charger's outlet" in " ".join(shown.split()), shown
    assert config.load(file).model.bank[0].ac_voltage == 120.0


def test_every_value_that_was_judged_has_its_unit_and_warmth_is_in_the_owners_degrees(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    meters = {
        "shed/battery/voltage": lambda volts, amps: f"{volts:.2f}",
        "shed/battery/current": lambda volts, amps: f"{amps:.2f}",
        "shed/air": lambda volts, amps: f'{{"temp_F": {55.0 + 0.1 * round(amps):.1f}}}',
    }
    words = ["--seconds", "2", "--judge", "1", "--no-rehearse", "--yes", "--block", "12 V 100 Ah"]
    with shed(broker.port, meters=meters):
        assert main(["setup", "--broker", f"127.0.0.1:{broker.port}", *words, "--output", str(file)]) == 0
    (told,) = [line for line in capsys.readouterr().err.splitlines() if "judged: battery ambient_temperature" in line]
    assert told.endswith("°F"), told
