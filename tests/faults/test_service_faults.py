"""Faults that only the whole loop can answer: a disk that stands still, a defect in the rules, a dead thread."""

from __future__ import annotations

import sqlite3
import threading
import time
import zlib
from collections.abc import Callable
from contextlib import closing

import pytest

import bridge.runtime.commits
import bridge.runtime.engine
import bridge.runtime.service
from bridge.app import running
from bridge.clock import Clock
from bridge.config import load
from rules.events import Reading
from tests.support.brokers import wait_until
from tests.support.cabin import shunt
from tests.support.fault_rig import Rig

MakeRig = Callable[..., Rig]


def test_f46_while_the_disk_gives_no_answer_messages_go_on_the_interlock_cuts_and_what_is_lost_is_counted(
    make_rig: MakeRig, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bridge.runtime.commits, "DISK_PATIENCE", 1.0)
    monkeypatch.setattr(bridge.runtime.commits, "LONGEST_LAG", 2.0)
    monkeypatch.setattr(bridge.runtime.service, "HEALTH_EVERY", 0.3)
    rig = make_rig()
    with rig.bridge() as service:
        rig.charge()
        answering = threading.Event()
        store = service.journal._store
        assert store is not None
        write = store.write
        monkeypatch.setattr(store, "write", lambda *args, **options: (answering.wait(60), write(*args, **options))[1])
        before = service.engine.memories["north"].meters["current"].at
        wait_until(lambda: "journal-degraded" in rig.flags(), 30)
        wait_until(lambda: service.storing.unstored > 0, 30, "acknowledged anyway, and counted")
        after = service.engine.memories["north"].meters["current"].at
        assert after > before + 1.0, "the broker goes on delivering"
        rig.meters.celsius = 52.0
        wait_until(lambda: rig.bank()["tripped"], 30)
        assert rig.relay.wait_for(False, 30.0)
        answering.set()
        wait_until(lambda: "journal-degraded" not in rig.flags(), 60)
    assert [event.detail["hazard"] for event in rig.events("trip")] == ["over-temperature"]


def test_f47_a_snapshot_of_another_version_comes_up_tripped_with_the_reason(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge():
        rig.charge()
    with closing(sqlite3.connect(rig.journal)) as connection:
        connection.execute("UPDATE snapshot SET memory = ?", (zlib.compress(b"[1, 2, 3]"),))
        connection.commit()
    with rig.bridge() as service:
        latch = service.engine.memories["north"].interlock.latched["journal-lost"]
        assert "cannot be read by this version" in latch.reason
        assert not rig.relay.closed


def test_f18_a_defect_in_the_rules_costs_one_reading_and_not_the_watch(
    make_rig: MakeRig, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    fold = bridge.runtime.engine.fold  # type: ignore[attr-defined]

    def defective(bank: object, memory: object, event: object) -> object:
        if isinstance(event, Reading) and abs(event.value - 29.999) < 1e-6:
            raise ZeroDivisionError("a defect")
        return fold(bank, memory, event)  # type: ignore[arg-type]

    monkeypatch.setattr(bridge.runtime.engine, "fold", defective)
    rig = make_rig()
    with rig.bridge() as service:
        rig.charge()
        rig.meters.publish("cabin/shunt", shunt(time.time(), 29.999, 20.0))
        wait_until(lambda: service.engine.rejected[("cabin/shunt", "internal error")] == 1, 10)
        rig.meters.celsius = 52.0
        assert rig.relay.wait_for(False, 30.0)
    with rig.bridge() as service:  # journaled, and folded again after the start: it must not end it
        assert "over-temperature" in service.engine.memories["north"].interlock.latched
    assert "cannot be folded" in caplog.text


def test_f18_a_dead_network_thread_ends_the_bridge_with_70_and_the_relay_open(
    make_rig: MakeRig, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bridge.runtime.service, "HEALTH_EVERY", 0.3)
    rig = make_rig()
    with running(load(rig.path), Clock()) as service:
        codes: list[int] = []
        thread = threading.Thread(target=lambda: codes.append(service.run()), daemon=True)
        thread.start()
        rig.charge()
        monkeypatch.setattr(service.bus, "healthy", lambda moment=0.0: False)
        assert rig.relay.wait_for(False, 30.0)
        thread.join(20.0)
        assert codes == [70]
