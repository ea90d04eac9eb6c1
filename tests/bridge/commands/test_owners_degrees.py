"""An owner whose file says Fahrenheit reads Fahrenheit, from every command and in the log; machines read SI."""

from __future__ import annotations

import json
import logging
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bridge.cli import COMMANDS, main
from bridge.config import load
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.running_bridge import turning

#: A value in Celsius, as a sentence of the rules, a screen or paper writes it; a rate in kelvin; water, a level, air or
#: an opening in metric units, but for what a formula says.
CELSIUS = re.compile(
    r"[-−\d.]+(?:\s*(?:degC|°C|K/h)|\s(?:mm|mL|L|L/h|m[3³^]\S*|cm[2²^]\S*|g of|g per cell)(?!\w|/| per Ah))"
)
#: Commands that show no temperature of this bank, and why.
NONE_HERE = {
    "demo": "another cabin's round, which is invented and says its own scale",
    "config": "a cabin file to start from, which explains both",
    "run": "ends with a signal; its log is heard here",
    "service": "a unit of the host",
    "page": "an address",
    "notify": "who is told",
    "export": "for machines, in SI as documented",
    "backfill": "to a database, in SI as documented",
    "replay": "states for machines, in SI as documented",
    "fleet": "many cabins, each with a scale of its own",
    "listen": "heard by test_setup_command, before there is a file",
    "setup": "heard by test_setup_command, before there is a file",
}
#: A number without its unit is given back with both.
BOTH = re.compile(r'write "[\d.]+ (mm|mL)" or "[\d.]+ (in|fl oz)"')
#: Lines typed in this order while a bridge runs; what is refused speaks as well.
TYPED = (
    "check",
    "status",
    "watch --once",
    "plan --explain",
    'plan --ambient "-40 degF" --gravity 1.100',
    'plan --ambient "300 degF"',
    'plan --shed "1000 cu ft" --reserve "0.5 in" --outlet "15 A 120 V"',
    "checklist",
    "checklist --name Ann --read all",
    "prove",
    "witness --name Ann",
    "start",
    "bypass current --minutes 5",
    "zero",
    "arrange split",
    "record temperature 104F",
    'record temperature "N1=95 degF"',
    "record temperature 400F",
    'record gravity N1=1.250 N2=1.240 --temperature "400 degF"',
    'record gravity N1.1=1.250 N1.2=1.240 --temperature "50 degF"',
    'record gravity N1.1=1.250 --temperature "84 degF" --note "a note says 40 degC and stays"',
    "record water N1=12 fl oz",
    "record water 0.5 gal",
    "record water 1 qt",
    "record water N2=1.5 cups",
    'record level "0.5 in"',
    "record level N1=1/4in N2=3/4in",
    'record seen "N1 topped up, plates covered"',
    "record level 300",
    "record level 300 mm",
    "record water N2.2=12",
    "record voltage 25.1",
    'record seen "N2 smoke"',
    "reset",
    "resume",
    "test",
    "verdict",
    "verdict --capacity N1=150Ah",
    "verdict --give Ann",
    "report",
    "report --handover",
    "finish",
    "abandon",
    "report",
    "status",
)


@pytest.fixture
def fahrenheit(make_broker: Callable[..., Broker], tmp_path: Path) -> Iterator[tuple[Path, Broker]]:
    """A file without a [page] whose only thermometer says degF."""
    broker = make_broker()
    yield write_cabin(tmp_path, broker.port), broker


def words_of(line: str) -> list[str]:
    return [part.strip('"') for part in re.findall(r'"[^"]*"|\S+', line)]


def test_every_command_is_typed_or_shows_no_temperature() -> None:
    assert {line.split()[0] for line in TYPED} | NONE_HERE.keys() | {"rehearse"} == COMMANDS.keys()


def test_a_file_in_fahrenheit_is_read_in_fahrenheit_by_every_command(
    fahrenheit: tuple[Path, Broker], capsys: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    path, broker = fahrenheit
    caplog.set_level(logging.INFO, "revival")
    monkeypatch.chdir(path.parent)
    said: dict[str, str] = {}
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        broker.publish("cabin/shunt", shunt(time.time(), 25.3, 0.0), "-q", "1")
        broker.publish("cabin/probe", "93.2", "-q", "1")
        wait_until(lambda: service.latest["north"].temperature is not None, 20.0)
        for line in TYPED:
            main([*words_of(line), "--config", str(path)])
            said[line] = "".join(capsys.readouterr())
        assert main([]) == 0
        said["next step"] = "".join(capsys.readouterr())
        for _ in range(2):
            broker.publish("cabin/probe", "118.4", "-q", "1")
            time.sleep(0.3)
        wait_until(lambda: "over-temperature" in {flag.name for flag in service.latest["north"].flags}, 90.0)
        main(["status", "--config", str(path)])
        said["hot"] = "".join(capsys.readouterr())
        main(["status", "--json", "--config", str(path)])
        bank = json.loads(capsys.readouterr().out)["banks"]["north"]
    said["log"] = "\n".join(record.getMessage() for record in caplog.records if record.name.startswith("revival"))
    wrong = {
        line: [match[0] for match in CELSIUS.finditer(BOTH.sub("", text.replace("40 degC and stays", "")))]
        for line, text in said.items()
    }
    assert {line: found for line, found in wrong.items() if found} == {}
    assert bank["temperature"] == pytest.approx(48.0), "machines are told in Celsius"
    assert "118.4 °F" in said["hot"] and "118.4 °F" in said["log"] and "°F" in said["report"]
    assert "bank 104.0 °F" in said["record temperature 104F"]
    assert "N1 12.0 fl oz" in said["record water N1=12 fl oz"] and "bank 2.0 qt" in said["record water 0.5 gal"]
    topped = said['record seen "N1 topped up, plates covered"']
    assert "`revival record level north N1=3/8in`" in topped and "`revival record water north N1=10floz`" in topped
    assert "N1 0.25 in, N2 0.75 in" in said["record level N1=1/4in N2=3/4in"]
    assert 'write "300 mm" or "300 in"' in said["record level 300"]
    assert 'write "12 mL" or "12 fl oz"' in said["record water N2.2=12"], said["record water N2.2=12"]
    assert "bank 1.0 qt" in said["record water 1 qt"] and "N2 12.0 fl oz" in said["record water N2=1.5 cups"]
    plan = " ".join(said['plan --shed "1000 cu ft" --reserve "0.5 in" --outlet "15 A 120 V"'].split())
    assert all(unit in plan for unit in (" cfm", " sq in", " fl oz", " cu ft/h", "0.5 in stand above")), plan
    assert "a note says 40 degC and stays" in said["log"], "what a person wrote is not touched"
    assert "93.2 °F" in said["status"] or "104.0 °F" in said["status"]


def test_the_page_table_decides_where_it_says_a_scale(tmp_path: Path) -> None:
    said = {}
    for scale in ("degC", "degF", ""):
        extra = '\n[page]\nlisten = "127.0.0.1:8170"\n' + (f'temperature = "{scale}"\n' if scale else "")
        said[scale] = load(write_cabin(tmp_path, 1, extra=extra)).cabin.degrees
    assert said == {"degC": "degC", "degF": "degF", "": "degF"}
    path = write_cabin(tmp_path, 1)
    more = '[[bank.meter]]\ntopic = "cabin/air"\nquantity = "ambient_temperature"\nunit = "degC"\n\n[journal]'
    path.write_text(path.read_text().replace("[journal]", more))
    assert load(path).cabin.degrees == "degC", "thermometers that disagree are shown as the rules think"
