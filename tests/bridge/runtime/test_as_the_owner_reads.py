"""Log, answers, bus and database say warmth in the owner's scale and times by the clock of the place, all of them."""

from __future__ import annotations

import json
import logging
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.journal.reader import JournalReader
from bridge.outlets.line_protocol import line
from tests.faults.test_remote_site import listening
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.running_bridge import turning

#: What nobody in a cabin with a Fahrenheit file reads: other scales and measures, and times of another place.
FOREIGN = re.compile(r"degC|degF|°C|\d K\b|K/h|\bmm\b|\bmL\b|\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d(?:\.\d+)?)?Z")


@pytest.fixture
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The host stands ten and a half hours east of the time that is kept."""
    monkeypatch.setenv("TZ", "XXX-10:30")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("elsewhere")
def test_nothing_that_a_person_reads_of_a_fahrenheit_cabin_is_in_another_scale_or_time(
    make_broker: Callable[..., Broker],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    caplog: pytest.LogCaptureFixture,
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)
    base = "homie/5/tarn-hut-north"
    refused: list[str] = []

    def say(*words: str) -> str:
        capsys.readouterr()
        main([*words, "--config", str(path)])
        told = capsys.readouterr()
        return told.out + told.err

    def feed(fahrenheit: float) -> None:
        broker.publish("cabin/shunt", shunt(time.time(), 28.4, 5.0), "-q", "1")
        broker.publish("cabin/probe", f"{fahrenheit}", "-q", "1")

    said = []
    caplog.set_level(logging.INFO, "revival")
    with turning(path) as service, listening(broker, f"{base}/revival/refused") as heard:
        wait_until(lambda: service.bus.subscribed)
        feed(90.0)
        wait_until(lambda: service.latest.get("north") is not None and service.latest["north"].temperature is not None)
        said.append(say("start"))
        broker.publish(f"{base}/revival/command/set", "start", "-q", "1")
        wait_until(lambda: heard)
        said.append(say("start"))
        said.append(say("record", "temperature", "N1=97 degF"))
        said.append(say("record", "level", "N1=0.5 in"))
        said.append(say("record", "gravity", "N1.1=1.240", "--temperature", "104 degF", "--sure"))
        said.append(say("record", "water", "12 fl oz"))
        said.append(say("bypass", "voltage", "--minutes", "5"))
        said.append(say("bypass", "current", "--minutes", "5"))
        said.append(say("record", "seen", "a bang at N2"))
        said.append(say("reset"))
        said.append(say("record", "--take-back", "1"))
        for _ in range(3):
            feed(116.0)
        wait_until(lambda: "over-temperature" in service.engine.memories["north"].interlock.latched)
        said.append(say("status"))
        said.append(say("record", "--list"))
        refused += [json.loads(payload)["why"] for _, payload, _ in heard]
    assert "the round is under way since" in said[1] and "under way since" in refused[0]
    log = [record.getMessage() for record in caplog.records]
    assert any("116.0 °F" in each for each in log), "the trip is in the log"
    assert any("97.0 °F" in each for each in log), "so is what was read by hand"
    with JournalReader(tmp_path / "revival.db") as reader:
        rows = [row for stream in ("event", "state") for row in reader.after(stream, 0, 1000)]
    points = [line("event" if hasattr(row.values, "kind") else "state", row, "tarn-hut", "degF") or "" for row in rows]
    for told in (*said, *log, *refused, *points):
        assert not FOREIGN.search(told), told
