"""A bridge that comes back after a month, or by a clock that is a month ahead; and what a broker sends again."""

from __future__ import annotations

import json
import sqlite3
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

import bridge.mqtt.bus
import bridge.mqtt.session
import bridge.runtime.engine
import rules.step
from bridge.app import running
from bridge.clock import Clock
from bridge.config import load
from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.snapshot import to_text
from bridge.journal.writer import Journal
from bridge.message import Message
from rules.events import Incoming, Tick
from rules.step import initial
from tests.support.brokers import free_port, wait_until
from tests.support.cabin import write_cabin
from tests.support.fault_rig import Rig

MONTH = 30 * 86400.0
MakeRig = Callable[..., Rig]


@pytest.fixture
def ticks(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[float]]:
    """The seconds that the rules were told of."""
    told: list[float] = []
    real = rules.step.fold

    def fold(bank: Any, memory: Any, event: Incoming) -> Any:
        if type(event) is Tick:
            told.append(event.at)
        return real(bank, memory, event)

    monkeypatch.setattr(bridge.runtime.engine, "fold", fold)
    yield told


def written(folder: Path, remembered_at: float, arrivals: list[float]) -> Path:
    """A cabin file whose journal has a memory of this moment, and messages that arrived at these."""
    path = write_cabin(folder, free_port())
    loaded = load(path)
    journal = Journal.open(loaded.cabin.journal, {bank.id: bank.meters for bank in loaded.cabin.banks.values()})
    memory = initial()._replace(judged_at=remembered_at)
    messages: list[tuple[Message, float | None]] = [(Message("cabin/probe", b"77", at), None) for at in arrivals]
    journal.submit(Batch(messages=messages, snapshots={"north": to_text(memory)}))
    assert journal.close(20.0)
    return path


@pytest.mark.parametrize(
    ("remembered", "arrivals"),
    [
        (-MONTH, []),
        (-MONTH, [-MONTH + 1.0, -MONTH + 5.0]),
        (-MONTH, [-MONTH + 1.0, -20.0, -10.0]),  # started again today, and killed before it kept a memory
        (-60.0, [MONTH, MONTH + 5.0, -50.0, -10.0]),  # its clock was a month ahead until it was set
        (-60.0, [MONTH, MONTH + 5.0, -70.0]),  # and killed when the memory was kept, with nothing new
    ],
)
def test_f81_seconds_in_which_nothing_was_known_are_skipped_at_a_start(
    remembered: float, arrivals: list[float], ticks: list[float], tmp_path: Path
) -> None:
    now = time.time()
    path = written(tmp_path, now + remembered, [now + at for at in arrivals])
    with running(load(path), Clock()) as service:
        assert len(ticks) < 200, "a month has 2,592,000 seconds"
        assert abs(service.clock.now() - time.time()) < 60.0, "nobody is led into the future by old rows"
        service.turn(0.0)
        assert len(ticks) < 300


def test_f81_a_clock_a_month_ahead_comes_up_and_goes_back_to_the_true_time(ticks: list[float], tmp_path: Path) -> None:
    now = time.time()
    with running(load(written(tmp_path, now + MONTH, [])), Clock()) as service:
        service.turn(0.0)
        assert service.clock.now() > now + MONTH - 1.0, "never before its own journal, while nobody has looked"
        service._keep_well()
        service.turn(0.0)
        assert abs(service.clock.now() - time.time()) < 60.0
        assert len(ticks) < 200


def test_f81_a_memory_of_a_month_ago_beside_one_of_today_reads_no_month_of_messages(
    ticks: list[float], tmp_path: Path
) -> None:
    now = time.time()
    path = written(tmp_path, now - 60.0, [now - MONTH + 3600.0 * hour for hour in range(720)] + [now - 30.0])
    path.write_text(
        path.read_text().replace(
            "\n[journal]",
            '\n[[bank]]\nid = "south"\nblocks = { per_string = 1, cells = 6, capacity = "100 Ah" }\n[journal]',
        )
    )
    loaded = load(path)
    journal = Journal.open(loaded.cabin.journal, {})
    journal.submit(Batch(snapshots={"south": to_text(initial()._replace(judged_at=now - MONTH))}))
    assert journal.close(20.0)
    with running(loaded, Clock()):
        assert len(ticks) < 2000


def test_f81_a_host_that_slept_for_a_month_goes_on_with_the_present_second(ticks: list[float], tmp_path: Path) -> None:
    with running(load(write_cabin(tmp_path, free_port())), Clock()) as service:
        service.turn(0.0)
        before = len(ticks)
        service.engine.advance(service.engine.at + MONTH)
        assert 1 <= len(ticks) - before <= 2


def test_f82_messages_whose_clock_is_not_believed_are_stored_once_however_often_they_come(
    make_rig: MakeRig, monkeypatch: pytest.MonkeyPatch
) -> None:
    for wait in ("FIRST_WAIT", "SUSPECT_WAIT", "LONGEST_WAIT"):
        monkeypatch.setattr(bridge.mqtt.session, wait, 0.01)
    monkeypatch.setattr(bridge.mqtt.bus.Bus, "ack", lambda bus, message: None)
    rig = make_rig()
    rig.meters.shunt_speaks = rig.meters.probe_speaks = False
    payloads = [json.dumps({"dc": {"mv": 26000 + number, "a": 1.0}, "t": 1000}) for number in range(5)]
    for run in range(2):  # the second time as a bridge that was ended before it could acknowledge anything
        with rig.bridge() as service:
            history = service.bus.history
            assert history is not None
            heard: Counter[str] = Counter()
            receive = service._receive
            monkeypatch.setattr(
                service,
                "_receive",
                lambda message: (receive(message), heard.update([message.topic])),
            )
            if run == 0:
                for payload in payloads:
                    rig.meters.publish("cabin/shunt", payload)
                wait_until(lambda: heard["cabin/shunt"] >= len(payloads), 10)
            for _ in range(40):
                before, came = history.generation, heard["cabin/shunt"]
                history.drop("for the test")
                wait_until(lambda: history.generation > before and history.connected, 10)
                wait_until(lambda: heard["cabin/shunt"] >= came + len(payloads), 10)
            assert service.engine.duplicates >= 40 * len(payloads)
    with JournalReader(rig.journal) as reader:
        kept = [message.payload.decode() for message, _ in reader.messages(0.0, 1e11) if message.topic == "cabin/shunt"]
    assert sorted(kept) == sorted(payloads)
    with closing(sqlite3.connect(rig.journal)) as connection:
        assert connection.execute("SELECT count(*) FROM message WHERE stamp IS NOT NULL").fetchone() == (0,)


def test_f82_a_meter_whose_clock_stands_still_may_say_the_same_twice(make_rig: MakeRig) -> None:
    rig = make_rig()
    rig.meters.shunt_speaks = rig.meters.probe_speaks = False
    payload = json.dumps({"dc": {"mv": 26000, "a": 1.0}, "t": 0})
    with rig.bridge() as service:
        for _ in range(3):
            rig.meters.publish("cabin/shunt", payload)
        rig.meters.publish("cabin/shunt", payload.replace("26000", "26500"))
        north = service.engine.memories
        wait_until(lambda: (trace := north["north"].meters.get("voltage")) and trace.value == 26.5, 10, "the last")
        assert service.engine.duplicates == 0
    with JournalReader(rig.journal) as reader:
        assert [message.topic for message, _ in reader.messages(0.0, 1e11)].count("cabin/shunt") == 4
