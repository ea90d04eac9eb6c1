"""What `revival setup` says of what it hears: a bank on charge, a plug that measures, all that it assumed, how long."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge import config
from bridge.cli import main
from tests.support.brokers import Broker, wait_until
from tests.support.running_bridge import turning
from tests.support.small_shed import shed
from tests.support.terminal import typed_into

HASTE = ["--seconds", "4", "--judge", "0", "--no-rehearse"]
METERS: dict[str, Callable[[float, float], str]] = {
    "shed/battery/voltage": lambda volts, amps: f"{volts:.2f}",
    "shed/battery/current": lambda volts, amps: f"{amps:.2f}",
    "shed/battery/acid_temp": lambda volts, amps: f"{17.0 + 0.1 * round(amps):.1f} degC",
}
#: A plug that measures what hangs on it, and one elsewhere in the house.
PLUG: dict[str, Callable[[float, float], str]] = {
    "plugs/charger/state": lambda volts, amps: "ON",
    "plugs/charger/power": lambda volts, amps: f"{volts * amps / 0.85 + 2.0:.1f}",
    "plugs/kettle/state": lambda volts, amps: "ON",
    "plugs/kettle/power": lambda volts, amps: f"{3.0 + 0.1 * round(amps):.1f}",
}
MAINS: dict[str, Callable[[float, float], str]] = {
    "plugs/charger/voltage": lambda volts, amps: f"{231.0 + amps / 9:.1f}"
}
TO_A_PLUG = ["--relay", "plugs/charger/set", "--auto-off", "90 s", "--power-on", "open"]


def first(port: int, *words: str) -> list[str]:
    return ["setup", "--broker", f"127.0.0.1:{port}", *HASTE, "--block", "12 V 100 Ah", *words]


def drawn(file: Path) -> list[str]:
    """Topics of what the charger draws, by the file."""
    return [one.topic for one in config.load(file).routes.mappings if one.quantity == "ac_power"]


@pytest.fixture
def broker(make_broker: Callable[..., Broker]) -> Broker:
    return make_broker()


def test_what_the_chargers_plug_measures_is_taken_and_told_and_its_outlet_is_asked_for(
    broker: Broker, tmp_path: Path
) -> None:
    words = first(broker.port, "--charger", "14.4 V 12 A, 16 V 12 A", *TO_A_PLUG)
    with shed(broker.port, meters={**METERS, **PLUG}):
        #: flooded, site, strings, blocks, probe, start of the charger, state, outlet, page, token
        code, shown = typed_into(words, ["", "", "", "", "", "", "230", "none"], tmp_path)
    told = " ".join(shown.split())
    assert code == 0, shown
    assert "its relay measures too: plugs/charger/power tells" in told and "taken for what the charger draws" in told
    assert "it stands in where the bank's own amps are silent" in told
    assert "how many volts has the charger's outlet (unknown: not said)? [unknown]: 230" in told
    file = tmp_path / "cabin.toml"
    assert drawn(file) == ["plugs/charger/power"]
    ((_, bank),) = config.load(file).cabin.banks.items()
    assert bank.ac_voltage == 230.0


def test_volts_that_the_plug_tells_are_not_asked_for(broker: Broker, tmp_path: Path) -> None:
    with shed(broker.port, meters={**METERS, **PLUG, **MAINS}):
        code, shown = typed_into(first(broker.port, *TO_A_PLUG, "--charger", "-"), [""] * 8, tmp_path)
    told = " ".join(shown.split())
    assert code == 0 and "how many volts has the charger's outlet" not in told, shown
    assert "the charger's outlet is one of 230 V: 23" in told
    ((_, bank),) = config.load(tmp_path / "cabin.toml").cabin.banks.items()
    assert bank.ac_voltage == 230.0


def test_a_plug_is_taken_without_a_terminal_and_later_and_one_elsewhere_never(
    broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    with shed(broker.port, meters={**METERS, **PLUG}):
        assert main([*first(broker.port, *TO_A_PLUG), "--yes", "--output", str(file)]) == 0
        said = capsys.readouterr().out
        assert drawn(file) == ["plugs/charger/power"]
        assert "which opens its relay first, or the charger off: battery is charged unwatched" in said
        assert "plugs/charger/power is what the charger draws, for it is told where its relay is" in said
        # watch only first, the relay later: then what it measures is new
        file.unlink()
        assert main([*first(broker.port), "--yes", "--output", str(file)]) == 0
        assert drawn(file) == []
        assert main(["setup", "--output", str(file), *HASTE, *TO_A_PLUG]) == 0
        capsys.readouterr()
        assert main(["setup", "--output", str(file), *HASTE, "--take", "plugs/charger/power"]) == 0
    told = " ".join(capsys.readouterr().err.split())
    assert "plugs/charger/power is now the power that the charger draws of battery" in told, told
    assert drawn(file) == ["plugs/charger/power"]


def test_a_bank_that_is_charged_now_is_told_at_once_and_first_of_what_comes_next(
    broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    with shed(broker.port, meters=METERS):
        assert main([*first(broker.port), "--yes", "--output", str(file)]) == 0
        said = capsys.readouterr()
        heard = " ".join(said.err.split())
        assert re.search(
            r"battery NOW: [\d.]+ A flow into it at 13\.\d V \(2\.\d+ V per cell\)\. Until `revival run`", heard
        )
        assert "nothing is cut. Stay with it, or switch the charger off until then" in heard
        after = said.out.partition("next, in this order:\n")[2]
        assert after.startswith("  at once `revival run --config")
        # a later evening says it as well, by the file's own meters; a bridge that runs watches it
        assert main(["setup", "--output", str(file), *HASTE, "--yes"]) == 0
        assert "battery NOW: " in capsys.readouterr().err
        with turning(file):
            assert main(["setup", "--output", str(file), *HASTE, "--yes"]) == 0
            said = capsys.readouterr()
            assert " NOW: " not in said.err and "unwatched" not in said.out
            wait_until(lambda: "battery is being charged now: " in _planned(file, capsys), 30.0)
        assert "no bridge runs now" in _planned(file, capsys)


def _planned(file: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """Return what the plan says before its cautions."""
    assert main(["plan", "--config", str(file)]) == 0
    return " ".join(capsys.readouterr().out.partition("Cautions")[0].split())


def test_of_a_bank_at_rest_nothing_is_said_to_flow(
    broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rests = {**METERS, "shed/battery/current": lambda volts, amps: f"{-0.3 - 0.1 * (volts * 100 % 3):.2f}"}
    rests["shed/battery/voltage"] = lambda volts, amps: f"{12.5 + 0.01 * (volts * 100 % 3):.2f}"
    with shed(broker.port, flowing=False, meters=rests):
        assert main([*first(broker.port), "--yes", "--output", str(tmp_path / "cabin.toml")]) == 0
    said = capsys.readouterr()
    assert " NOW: " not in said.err and "unwatched" not in said.out


def assumed(said: str) -> list[str]:
    return [
        line.strip() for line in said.partition("assumed, for nobody was asked")[2].split("\nnext,")[0].split("\n")[1:]
    ]


def test_without_a_terminal_all_that_was_assumed_is_listed_with_how_it_is_changed(
    broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    words = ["setup", "--broker", f"127.0.0.1:{broker.port}", *HASTE, "--yes", "--output", str(file)]
    told = {
        "--flooded": "yes", "--site": "hut", "--block": "12 V 100 Ah", "--strings": "1", "--blocks": "1",
        "--charger": "14.4 V 12 A, 16 V 12 A", "--ac-voltage": "120 V", "--relay": "none", "--page": "127.0.0.1:8170",
        "--token": "yes", "--probe": "case", "--equalise": "2.6 V", "--temperature-limit": "42 degC",
        "--case-limit": "39 degC", "--voltage-limit": "2.7 V", "--current-limit": "13 A", "--degrees": "degC",
    }  # fmt: skip
    with shed(broker.port, meters=METERS):
        assert main(words) == 0
        lines = assumed(capsys.readouterr().out)
        named = {option for line in lines for option in re.findall(r"--[a-z-]+", line)}
        # the charger's settings decide whether the outlet's volts matter
        assert named == told.keys() - {"--ac-voltage"}, lines
        assert any("hydrometer_reference" in line and "presence" in line for line in lines)
        file.unlink()
        assert main([*words, *(word for pair in told.items() for word in pair)]) == 0
        left = assumed(capsys.readouterr().out)
    assert {option for line in left for option in re.findall(r"--[a-z-]+", line)} == set(), left
    # what no option says stands in the file, and is named there
    assert len(left) == 3 and [line for line in left if line.endswith(("file", "file)"))] == left


def test_before_it_is_heard_it_is_said_what_is_heard_how_long_and_how_that_is_ended(
    broker: Broker, tmp_path: Path
) -> None:
    with shed(broker.port, meters=METERS):
        assert main([*first(broker.port), "--yes", "--output", str(tmp_path / "cabin.toml")]) == 0
        code, shown = typed_into(["setup", *HASTE], ["thermometer"], tmp_path)
    told = " ".join(shown.split())
    assert code == 0, shown
    before, _, after = told.partition("hearing everything at 127.0.0.1:")
    assert "listening" not in before and "listening" in after
    assert after.startswith(
        f"{broker.port} for 4 s, for meters that are new; Ctrl-C ends it sooner, and what was heard"
    )


def test_how_far_the_hearing_is_stands_in_lines_where_no_terminal_shows_a_bar(
    broker: Broker, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bridge.commands.listen.EACH", 1.0)
    with shed(broker.port, meters=METERS):
        assert main([*first(broker.port), "--yes", "--output", str(tmp_path / "cabin.toml")]) == 0
        lines = capsys.readouterr().err.splitlines()
        code, shown = typed_into([*first(broker.port), "--output", "other.toml"], [""] * 20, tmp_path)
    assert any(re.fullmatch(r"listening: \d s left, 4 topics, \d+ messages", line) for line in lines), lines
    assert any(re.fullmatch(r"listening: done, 4 topics, \d+ messages", line) for line in lines), lines
    assert code == 0 and re.search(r"listening .*\d s left, 4 topics, \d+ messages", shown), shown


@pytest.mark.parametrize(
    ("language", "asks", "scale"), [("C.UTF-8", True, "degF"), ("en_US.UTF-8", False, "degF"), ("de_DE", False, "degC")]
)
def test_the_scale_is_asked_only_where_no_thermometer_was_heard_and_the_language_names_no_country(
    broker: Broker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, language: str, asks: bool, scale: str
) -> None:
    monkeypatch.setenv("LC_ALL", language)
    meters = {topic: says for topic, says in METERS.items() if "temp" not in topic}
    # flooded, site, the scale where it is asked
    answers = ["", "", *(["F"] if asks else []), *[""] * 12]
    with shed(broker.port, meters=meters):
        code, shown = typed_into([*first(broker.port), "--topics", "shed/#"], answers, tmp_path)
    told = " ".join(shown.split())
    assert code == 0 and ("Temperatures for people:" in told) == asks, shown
    assert ("(by this computer's language)" in told) == (not asks)
    assert config.load(tmp_path / "cabin.toml").cabin.degrees == scale


def test_a_number_that_says_no_scale_is_taken_by_its_size_and_that_is_said_in_one_line_before_the_bank_is_asked_for(
    broker: Broker, tmp_path: Path
) -> None:
    bare = {**METERS, "shed/battery/acid_temp": lambda volts, amps: f"{17.0 + 0.1 * round(amps):.1f}"}
    with shed(broker.port, meters=bare):
        code, shown = typed_into(first(broker.port), [""] * 14, tmp_path)
    told = " ".join(shown.split())
    assert code == 0 and "Temperatures for people" not in told, shown
    line = "--degrees degF says °F, inches and quarts (no thermometer says its scale, and shed/battery/acid_temp is"
    assert line in told and told.index(line) < told.index("strings in parallel?")
