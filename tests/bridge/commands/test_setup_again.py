"""`revival setup` on a file that is there: no option is passed over, and a second bank gets its own block."""

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

HASTE = ["--seconds", "4", "--judge", "0", "--no-rehearse"]
BARN = {
    "shed/battery/voltage": lambda volts, amps: f"{volts:.2f}",
    "shed/battery/current": lambda volts, amps: f"{amps:.2f}",
    "barn/battery/voltage": lambda volts, amps: f"{2 * volts + 0.4 * amps:.2f}",
    "barn/battery/current": lambda volts, amps: f"{3.0 + 0.5 * amps:.2f}",
}


def again(file: Path, *words: str) -> int:
    return main(["setup", "--output", str(file), *words])


def said(capsys: pytest.CaptureFixture[str]) -> str:
    return " ".join(capsys.readouterr().err.split())


@pytest.fixture
def file(make_broker: Callable[..., Broker], tmp_path: Path) -> Path:
    """The file of a bank on a broker that is there, without relay and page."""
    return write_cabin(tmp_path, make_broker().port, relay=False)


def test_another_broker_is_shown_asked_about_and_written(
    file: Path, make_broker: Callable[..., Broker], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    other, before = make_broker(), file.read_text()
    port = config.load(file).cabin.broker.port
    code, shown = typed_into(["setup", "--broker", f"127.0.0.1:{other.port}"], ["no"], tmp_path)
    assert code == 0 and file.read_text() == before
    told = " ".join(shown.split())
    assert f"port {port} becomes {other.port}" in told and "Change it? [yes]" in told and "stays as it was" in told
    code, shown = typed_into(["setup", "--broker", f"127.0.0.1:{other.port}"], [""], tmp_path)
    assert code == 0 and config.load(file).cabin.broker.port == other.port
    assert [line for line in before.splitlines() if line not in file.read_text().splitlines()] == [f"port = {port}"]
    assert again(file, "--broker", f"127.0.0.1:{port}", "--yes") == 0
    assert f"port {other.port} becomes {port}" in said(capsys)
    assert config.load(file).cabin.broker.port == port


def test_how_to_be_let_in_is_changed_too_and_a_broker_that_is_away_is_told(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "secret").write_text("hunter2-planted")
    assert again(file, "--username", "me", "--password-file", str(tmp_path / "secret"), "--yes") == 0
    broker = config.load(file).cabin.broker
    assert broker.username == "me" and broker.password is not None
    monkeypatch.setenv("PASS", "hunter2-planted")
    assert again(file, "--password-env", "PASS", "--yes") == 0
    assert config.load(file).model.broker.password_file is None
    said(capsys)
    before = file.read_text()
    assert again(file, "--broker", "127.0.0.1:1") == 4
    told = said(capsys)
    assert f"{file} stays as it was" in told and "say --yes to write it all the same" in told
    assert file.read_text() == before
    code, shown = typed_into(["setup", "--output", str(file), "--broker", "127.0.0.1:1"], ["", ""], tmp_path)
    assert code == 0 and "Write it all the same? [no]" in " ".join(shown.split()), shown
    assert file.read_text() == before
    assert again(file, "--broker", "127.0.0.1:1", "--yes") == 0
    told = said(capsys)
    assert "the login of me goes there from now on" in told and "does not let us in now" in told
    assert config.load(file).cabin.broker.port == 1
    assert "hunter2" not in file.read_text() + told
    assert again(file, "--broker", "127.0.0.1", "--tls", "--protocol", "3.1.1", "--yes") == 0
    broker = config.load(file).cabin.broker
    assert (broker.port, broker.tls, broker.protocol) == (1883, True, "3.1.1")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--auto-off", "90 s"], "north has no relay then: name its order topic as well, --relay TOPIC"),
        (["--relay", "none", "--relay-state", "a/b"], "north has no relay then"),
        (["--site", "hut", "--seconds", "-3"], "--seconds -3: must lie above 0"),
        (["--site", "hut", "--judge", "nan"], "--judge nan: must lie between 0"),
        (["--bank", "nort", "--strings", "2"], 'did you mean "north"?'),
    ],
)
def test_an_option_that_would_do_nothing_is_refused(
    file: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    before = file.read_text()
    assert again(file, *words) == 2
    assert told in said(capsys) and file.read_text() == before


def test_a_filter_that_hears_nothing_is_named(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert again(file, "--site", "hut", "--topics", "shed/#") == 0
    assert "--topics shed/#: nothing is heard for this change" in said(capsys)


def test_the_first_time_what_is_said_of_no_relay_and_no_thermometer_is_not_passed_over(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    first = ["--broker", f"127.0.0.1:{broker.port}", *HASTE, "--yes", "--block", "12 V 100 Ah"]
    assert again(file, *first, "--power-on", "open") == 2
    assert "--power-on: is said of a relay" in said(capsys)
    with shed(broker.port):
        assert again(file, *first, "--probe", "shed/nothing=cell") == 2
        assert "no electrolyte thermometer of a bank is taken there" in said(capsys) and not file.exists()
        assert again(file, *first, "--probe", "cell") == 0
    assert "--probe cell counts for nothing" in said(capsys)


def test_the_page_is_taken_out_and_degrees_have_a_place_without_it(
    file: Path, make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    assert again(file, "--page", "127.0.0.1:8170") == 0 and config.load(file).cabin.page is not None
    assert again(file, "--page", "none") == 0 and config.load(file).cabin.page is None
    assert config.load(file).cabin.degrees == "degF", "as its only thermometer says"
    assert again(file, "--degrees", "degC") == 0 and config.load(file).cabin.degrees == "degC"
    assert again(file, "--degrees", "degF") == 0 and config.load(file).model.site.temperature == "degF"
    broker, other = make_broker(), tmp_path / "other.toml"
    words = ["--broker", f"127.0.0.1:{broker.port}", *HASTE, "--yes", "--block", "12 V 100 Ah"]
    with shed(broker.port):
        assert again(other, *words, "--page", "none", "--degrees", "degF") == 0
    loaded = config.load(other)
    assert loaded.cabin.page is None and loaded.cabin.degrees == "degF"
    # a file of an earlier version says it below [page]; then it is said once, in the new place
    old = tmp_path / "old.toml"
    old.write_text(file.read_text().replace('temperature = "degF"\n', "") + '\n[page]\ntemperature = "degC"\n')
    assert config.load(old).cabin.degrees == "degC"
    assert again(old, "--degrees", "degF") == 0
    assert config.load(old).cabin.degrees == "degF" and old.read_text().count("temperature = ") == 1


def test_a_page_that_is_new_gets_its_token_in_a_file_that_only_its_owner_reads(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert again(file, "--token", "yes") == 2
    assert "there is no page: name its address as well" in said(capsys)
    assert again(file, "--page", "127.0.0.1:8170") == 0
    page, kept = config.load(file).cabin.page, tmp_path / "page-token"
    assert page is not None and page.token is not None and kept.stat().st_mode & 0o777 == 0o600
    token = page.token.get_secret_value()
    shown = capsys.readouterr()
    assert "each device that enters readings or acts asks for it once" in " ".join(shown.err.split())
    assert token not in shown.out + shown.err + file.read_text()
    # taken away it is no part of the file; given again it is the one that phones know
    assert again(file, "--token", "no") == 0
    page = config.load(file).cabin.page
    assert page is not None and page.token is None
    said(capsys)
    assert again(file, "--page", "127.0.0.1:8171") == 0
    page = config.load(file).cabin.page
    assert page is not None and page.token is None, "said no before"
    code, shown_again = typed_into(["setup"], ["page", "", ""], tmp_path)
    assert code == 0 and "after typing its token once" in " ".join(shown_again.split()), shown_again
    page = config.load(file).cabin.page
    assert page is not None and page.token is not None and page.token.get_secret_value() == token
    assert "kept as it lies there" in " ".join(shown_again.split())


def test_two_scales_in_one_file_are_refused_with_the_line_to_take_out(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file.write_text(
        file.read_text().replace("[site]", '[site]\ntemperature = "degF"') + '[page]\ntemperature = "degC"\n'
    )
    assert main(["check", "--config", str(file)]) == 78
    assert "take the line below [page] out" in said(capsys)


def test_a_celsius_meter_that_comes_later_is_shown_in_the_owners_fahrenheit_and_changes_no_scale(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    meters = {
        "shed/battery/voltage": lambda volts, amps: f"{volts:.2f}",
        "shed/battery/current": lambda volts, amps: f"{amps:.2f}",
        "shed/acid/probe": lambda volts, amps: f"{70.0 + 0.1 * round(amps):.1f} F",
    }
    with shed(broker.port, meters=meters):
        first = ["--broker", f"127.0.0.1:{broker.port}", *HASTE, "--yes", "--block", "12 V 100 Ah", "--page", "none"]
        assert again(file, *first) == 0
    file.write_text(file.read_text().replace('temperature = "degF"\n', ""))
    assert config.load(file).cabin.degrees == "degF"
    meters["shed/case/probe"] = lambda volts, amps: f"{21.0 + 0.1 * round(amps):.1f} C"
    with shed(broker.port, meters=meters):
        code, shown = typed_into(["setup", *HASTE], ["", "case", *[""] * 12], tmp_path)
    told = " ".join(shown.split())
    assert code == 0 and "new: shed/case/probe: 7" in told and "°C" not in told, shown
    assert "temperatures stay in °F; --degrees changes that" in told
    loaded = config.load(file)
    assert loaded.cabin.degrees == "degF" and {one.topic for one in loaded.routes.mappings} >= {"shed/case/probe"}


@pytest.fixture
def shed_file(make_broker: Callable[..., Broker], tmp_path: Path) -> tuple[Broker, Path]:
    """A broker, and the file of one bank on it."""
    broker, file = make_broker(), tmp_path / "cabin.toml"
    with shed(broker.port):
        words = ["--broker", f"127.0.0.1:{broker.port}", *HASTE, "--yes", "--block", "12 V 100 Ah"]
        assert again(file, *words) == 0
    return broker, file


def test_a_second_bank_is_offered_and_gets_its_own_block(shed_file: tuple[Broker, Path], tmp_path: Path) -> None:
    broker, file = shed_file
    before = file.read_text()
    with shed(broker.port, meters=BARN):
        # hear; watch it as well: no; then what is asked of the file
        code, shown = typed_into(["setup", *HASTE], ["", "", *[""] * 12], tmp_path)
        assert code == 0 and file.read_text() == before
        told = " ".join(shown.split())
        assert "heard as well: barn" in told and "Watch it as well? [no]" in told, shown
        # is it flooded, block, strings, blocks in series, charger, relay
        answers = ["", "yes", "", "6 V 200 Ah", "", "", "28.8 V 20 A", "", *[""] * 12]
        code, shown = typed_into(["setup", *HASTE], answers, tmp_path)
    assert code == 0, shown
    told = " ".join(shown.split())
    assert "barn: has every cell of it a cap for water (flooded)? [yes]" in told
    assert "barn: what is printed on one block?" in told and "The bank:" not in told
    banks = list(config.load(file).cabin.banks.values())
    assert [(bank.id, bank.cells) for bank in banks][1:] == [("barn", 12)]
    assert [one.volts for one in banks[1].chargers] == [28.8] and banks[0].chargers == ()
    assert file.read_text().startswith(before.rstrip())
    # the next time it is asked which bank the questions are about
    with shed(broker.port, meters=BARN):
        code, shown = typed_into(["setup", *HASTE], ["charger", "barn", "", ""], tmp_path)
    told = " ".join(shown.split())
    assert code == 0 and "Which bank are the next questions about?" in told and "such as 28.8 V 25 A" in told, shown


def test_by_option_a_second_bank_is_named_and_taken_in(
    shed_file: tuple[Broker, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = shed_file
    (own,) = config.load(file).cabin.banks
    before = file.read_text()
    with shed(broker.port, meters=BARN):
        assert again(file, *HASTE, "--yes") == 0
        assert "revival setup --bank barn takes it in" in said(capsys) and file.read_text() == before
        words = ["--bank", "barn", "--block", "6 V 200 Ah", "--blocks", "4", "--charger", "28.8 V 20 A", "--yes"]
        assert again(file, *HASTE, *words) == 0
    told = said(capsys)
    assert "barn is watched as well, with its own [[bank]] in the file" in told
    banks = config.load(file).cabin.banks
    assert list(banks) == [own, "barn"] and banks["barn"].cells == 12
    assert {one.topic for one in config.load(file).routes.mappings if one.bank == "barn"} == {
        "barn/battery/voltage",
        "barn/battery/current",
    }
    assert file.read_text().startswith(before.rstrip())
    # it can be changed by its name like the first
    assert again(file, "--bank", "barn", "--strings", "2") == 0
    assert len(config.load(file).cabin.banks["barn"].strings) == 2


def test_a_second_bank_that_is_sealed_is_not_watched_and_the_first_is_kept(
    shed_file: tuple[Broker, Path], tmp_path: Path
) -> None:
    broker, file = shed_file
    before = file.read_text()
    with shed(broker.port, meters=BARN):
        code, shown = typed_into(["setup", *HASTE, "--bank", "barn"], ["", "no"], tmp_path)
        assert code == 5 and "barn: sealed, gel and AGM batteries are refused" in " ".join(shown.split()), shown
        code, shown = typed_into(["setup", *HASTE], ["", "yes", "no", *[""] * 12], tmp_path)
    assert code == 0 and "not watched: barn: sealed, gel and AGM" in " ".join(shown.split()), shown
    assert file.read_text() == before


def test_what_is_assumed_of_a_second_bank_is_listed_by_its_name_the_caps_first(
    shed_file: tuple[Broker, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = shed_file
    probed = {**BARN, "barn/battery/acid_temp": lambda volts, amps: f"{17.0 + 0.1 * round(amps):.1f} degC"}
    with shed(broker.port, meters=probed):
        capsys.readouterr()
        assert again(file, *HASTE, "--bank", "barn", "--yes") == 0
    told = " ".join(capsys.readouterr().out.split()).partition("assumed, for nobody was asked")[2]
    assert told.index("barn: every cell has a cap for water") < told.index("barn: one block is printed 6 V 200 Ah")
    assert "barn: it is equalised at 2.67 V per cell, 32.04 V (--equalise)" in told
    assert "barn: barn/battery/acid_temp sits in a cell's acid, by its name (--probe \"" in told, told


def test_of_two_banks_each_is_asked_whether_it_is_flooded_the_first_evening_too(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    two = {
        place.format(bank): words
        for bank in ("barn", "mill")
        for place, words in {
            "{}/battery/voltage": lambda volts, amps: f"{2 * volts:.2f}",
            "{}/battery/current": lambda volts, amps: f"{amps:.2f}",
        }.items()
    }
    with shed(broker.port, meters=two):
        assert again(file, "--broker", f"127.0.0.1:{broker.port}", *HASTE, "--yes") == 0
    assert len(config.load(file).cabin.banks) == 2
    first = " ".join(capsys.readouterr().out.split()).partition("assumed, for nobody was asked")[2]
    for name in config.load(file).cabin.banks:
        assert f"{name}: every cell has a cap for water" in first, first
    assert "whoever reads it reads °C, millimetres and litres (--degrees degF)" in first, first


def test_a_name_that_was_not_heard_is_told_in_a_sentence(
    shed_file: tuple[Broker, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    broker, file = shed_file
    (own,) = config.load(file).cabin.banks
    with shed(broker.port):
        assert again(file, *HASTE, "--bank", "cellar", "--yes") == 2
        assert f"--bank cellar: the file has {own}, and no other bank was heard on its broker" in said(capsys)


def charged_by(file: Path) -> list[tuple[float, float, float]]:
    """Charger settings of the file's only bank."""
    (bank,) = config.load(file).cabin.banks.values()
    return [(one.volts, one.amps, one.starts_at or 0.0) for one in bank.chargers]


def test_amps_alone_change_the_amps_of_every_setting_and_nothing_else(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    two = "28.8 V 25 A from 20 V, 32 V 25 A from 20 V"
    assert again(file, "--charger", two) == 0
    assert again(file, "--charger", "30 A") == 0
    assert charged_by(file) == [(28.8, 30.0, 20.0), (32.0, 30.0, 20.0)]
    # nothing is heard; place, strings, block, blocks in series, mains, charger
    code, shown = typed_into(["setup"], ["all", "no", "", "", "", "", "", "35 A", *[""] * 8], tmp_path)
    assert code == 0 and charged_by(file) == [(28.8, 35.0, 20.0), (32.0, 35.0, 20.0)], shown
    assert "at how many volts" not in shown and "does it start at all" not in shown
    assert again(file, "--charger", "28.8 V 50 A, 32 V 25 A") == 0
    said(capsys)
    assert again(file, "--charger", "30 A") == 2
    assert "the amps differ from setting to setting: say each, as in 28.8 V 50 A, 32 V 25 A" in said(capsys)
    assert [amps for _, amps, _ in charged_by(file)] == [50.0, 25.0]


def test_whoever_types_another_charger_is_asked_where_it_starts_and_enter_keeps_what_is_known(
    file: Path, tmp_path: Path
) -> None:
    assert again(file, "--charger", "32 V 25 A from 20 V") == 0
    code, shown = typed_into(["setup"], ["all", "no", "", "", "", "", "", "32.4 V 30 A", "", *[""] * 8], tmp_path)
    assert code == 0 and charged_by(file) == [(32.4, 30.0, 20.0)], shown
    assert "From which bank volts does it start at all? [20 V]" in " ".join(shown.split())
    code, shown = typed_into(["setup"], ["all", "no", "", "", "", "", "", "32 V", "25 A", "18 V", *[""] * 8], tmp_path)
    assert code == 0 and charged_by(file) == [(32.0, 25.0, 18.0)], shown


#: A 24 V string of four blocks, each with its own meter.
METERED = {
    "barn/battery/voltage": lambda volts, amps: f"{2.0 * volts:.2f}",
    "barn/battery/current": lambda volts, amps: f"{amps:.2f}",
    **{f"barn/battery/block{number}/voltage": lambda volts, amps: f"{volts / 2:.3f}" for number in (1, 2, 3, 4)},
}


def test_a_count_of_cells_that_what_is_heard_rules_out_is_not_taken_as_an_option(
    make_broker: Callable[..., Broker], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    line = ["setup", "--broker", f"127.0.0.1:{broker.port}", *HASTE, "--output", str(file), "--block", "6 V 200 Ah"]
    with shed(broker.port, meters=METERED):
        assert main([*line, "--yes", "--blocks", "5"]) == 2
        told = said(capsys)
        assert "--blocks '5': 5 blocks in a string, but meters of 4 blocks were heard" in told, told
        assert "leave --blocks out and say so in a terminal" in told and not file.exists()
        assert main([*line, "--yes", "--blocks", "4"]) == 0
        # in a terminal its owner is asked, and is right where he says it twice
        answers = ["", "", "6 V 200 Ah", "1", "5", "4", *[""] * 9]
        code, shown = typed_into([*line[:-4], "--output", "asked.toml"], answers, tmp_path)
    assert code == 0 and "5 once more if it is so" in " ".join(shown.split()), shown
    ((_, bank),) = config.load(tmp_path / "asked.toml").cabin.banks.items()
    assert bank.cells == 12
    said(capsys)
    before = file.read_text()
    assert again(file, "--blocks", "5", "--yes") == 2
    assert "the file maps meters of 4 blocks in a string, not of 5" in said(capsys)
    assert file.read_text() == before


@pytest.mark.parametrize(("blocks", "each"), [("1", "4."), ("20", "0.")])
def test_volts_that_no_cell_has_rule_a_count_out_and_a_dead_bank_is_taken(
    make_broker: Callable[..., Broker], capsys: pytest.CaptureFixture[str], tmp_path: Path, blocks: str, each: str
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    line = ["setup", "--broker", f"127.0.0.1:{broker.port}", *HASTE, "--output", str(file), "--block", "6 V 200 Ah"]
    with shed(broker.port):
        assert main([*line, "--yes", "--blocks", blocks]) == 2
        assert f"cells, {each}" in said(capsys) and not file.exists()
        assert main([*line, "--yes", "--blocks", "4"]) == 0, "13 V on 12 cells is a dead bank, and may be one"
    assert "V each by the 13" in said(capsys)


PLUG = {
    "shed/battery/voltage": lambda volts, amps: f"{volts:.2f}",
    "shed/battery/current": lambda volts, amps: f"{amps:.2f}",
    "shed/battery/acid_temp": lambda volts, amps: f"{17.0 + 0.1 * round(amps):.1f} degC",
    "barn/plug-charger/state": lambda volts, amps: '{"state": "on", "uptime": 412}',
}


def test_an_order_topic_that_was_wrong_is_put_right_and_what_was_said_of_the_relay_stays(
    make_broker: Callable[..., Broker], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    broker, file = make_broker(), tmp_path / "cabin.toml"
    line = ["setup", "--broker", f"127.0.0.1:{broker.port}", *HASTE, "--output", str(file), "--yes"]
    relay = ["--relay", "barn/plug-charger", "--relay-state", "barn/plug-charger/state"]
    with shed(broker.port, meters=PLUG):
        assert main([*line, "--block", "12 V 100 Ah", *relay, "--auto-off", "90 s", "--power-on", "open"]) == 0
        wrong = file.read_text()
        assert 'state_pointer = "/state"' in wrong and 'topic = "barn/plug-charger"' in wrong
        said(capsys)
        assert again(file, "--relay", "barn/plug-charger/set", "--yes") == 0
        told = said(capsys)
        assert "barn/plug-charger/set is taken for the same relay as barn/plug-charger" in told, told
        assert file.read_text() == wrong.replace('topic = "barn/plug-charger"', 'topic = "barn/plug-charger/set"')
        # a file that has lost where the state stands in its document hears it again
        right = file.read_text()
        file.write_text(right.replace('state_pointer = "/state"\n', ""))
        said(capsys)
        assert main(["check", "--config", str(file), "--connect", "--wait", "3"]) == 4
        checked = " ".join(capsys.readouterr().out.split())
        assert "relay of battery: FAILED, barn/plug-charger/state cannot be read" in checked, checked
        state = ["--relay", "barn/plug-charger/set", "--relay-state", "barn/plug-charger/state"]
        assert again(file, *state, "--seconds", "2", "--yes") == 0
        assert sorted(file.read_text().splitlines()) == sorted(right.splitlines()), said(capsys)
        assert main(["check", "--config", str(file), "--connect", "--wait", "3"]) == 0


@pytest.mark.parametrize(
    "typed", ['"28.8 V 30 A, 32 V 30 A"', "28.8 volts and 32 volts equalise, 30 amps", "28.8 V later 32 V, 30 A"]
)
def test_charger_settings_are_taken_in_the_words_in_which_people_say_them(file: Path, typed: str) -> None:
    assert again(file, "--charger", typed) == 0
    assert charged_by(file) == [(28.8, 30.0, 0.0), (32.0, 30.0, 0.0)]


@pytest.mark.parametrize("printed", ["6V225Ah", "6V 225Ah 20HR", "6 volts 225"])
def test_a_block_is_taken_as_its_case_prints_it_at_the_20_hour_rate(
    file: Path, printed: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert again(file, "--block", printed) == 0
    ((_, bank),) = config.load(file).cabin.banks.items()
    assert (bank.cells, bank.capacity) == (12, 225.0)
    assert again(file, "--block", "6V 225Ah 5HR") == 2, "at another rate it is another number"
    assert "6 V 200 Ah" in said(capsys)


def test_a_relay_that_comes_back_off_is_one_that_comes_back_open(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = write_cabin(tmp_path, make_broker().port)
    assert again(file, "--power-on", "off") == 0
    assert config.load(file).cabin.relays[0].opens_on_power
    assert again(file, "--power-on", "on") == 2
    assert "set the relay itself to be open when its power comes back" in said(capsys)
    assert again(file, "--power-on", "sometimes") == 2 and "open or unknown, please" in said(capsys)


def test_what_enter_takes_after_a_refusal_is_said_and_a_charger_that_is_missing_comes_next(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    with shed(broker.port):
        # flooded, site, block refused and Enter, strings, blocks in series, charger refused and Enter
        answers = ["", "", "12V 100Ah 5HR", "12 V 100 Ah", "", "", "14 or so", "", *[""] * 5]
        code, shown = typed_into(["setup", "--broker", f"127.0.0.1:{broker.port}", *HASTE], answers, tmp_path)
        told = " ".join(shown.split())
        assert (
            code == 0
            and "the answer that could not be read is not used; Enter took what stood in [ ]: not known" in told
        ), shown
        assert told.count("Enter took") == 1, "what was typed anew is no surprise"
        behind = told.partition("next, in this order:")[2]
        assert (
            'the charger of battery is not known: `revival setup --charger`, such as "14.4 V 12 A, 16 V 12 A"' in behind
        )
        (tmp_path / "cabin.toml").unlink()
        answers = ["", "", "12V 100Ah 5HR", "", *[""] * 9]
        code, shown = typed_into(["setup", "--broker", f"127.0.0.1:{broker.port}", *HASTE], answers, tmp_path)
    taken = "the answer that could not be read is not used; Enter took what stood in [ ]: 6 V 200 Ah"
    assert taken in " ".join(shown.split()), shown


def test_a_charger_that_gives_more_than_the_strings_take_is_warned_of_by_setup_and_check(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert again(file, "--charger", "31 V 60 A") == 0
    warned = "look again: north: its charger is set to 60 A and its 1 string takes 26 A at most: set its amps lower"
    assert warned in " ".join(capsys.readouterr().out.split())
    assert main(["check", "--config", str(file)]) == 0
    assert warned in " ".join(capsys.readouterr().out.split())
    assert again(file, "--charger", "31 V 26 A") == 0
    assert "its charger is set to" not in capsys.readouterr().out
