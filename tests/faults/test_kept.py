"""Nothing charges that is not kept: F61, F62, F64 and F79, on a small disk that is really full or really read-only."""

from __future__ import annotations

import json
import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest

from bridge.errors import JournalError, UnsafeStateError
from bridge.journal.lock import only_one
from bridge.journal.reader import JournalReader
from bridge.journal.reserve import Reserve
from bridge.runtime.control_socket import ask
from rules.safety import Latch
from tests.support.brokers import wait_until
from tests.support.cards import Card
from tests.support.fault_rig import Rig

MakeRig = Callable[..., Rig]
#: How often a disk is filled until the journal cannot take what comes then.
TRIES = 3


@pytest.fixture
def card(tmp_path: Path) -> Iterator[Card]:
    made = Card(tmp_path / "card")
    yield made
    made.close()


def on(card: Card, rig: Rig) -> Rig:
    rig.edit('path = "revival.db"', f'path = "{card.path}/revival.db"')
    return rig


def begun(rig: Rig, **lock: Any) -> None:
    """A round that was started and let charge, as a bridge that ended in good order keeps it."""
    with rig.bridge() as service:
        memory = service.engine.memories["north"]
        proof = memory.interlock.proof._replace(at=memory.began_at, passed=True, current_proved=True)
        whole = memory.interlock._replace(started=True, checklist_by="the keeper", proof=proof, **lock)
        service.engine.memories["north"] = memory._replace(interlock=whole)


def full(card: Card, rig: Rig) -> None:
    """Not a byte is left, nor room in what the journal has already been given: it says so itself."""
    card.fill()
    note = {"ask": "record", "bank": "north", "kind": "note", "values": {}, "note": "x" * 200}
    wait_until(lambda: ask(rig.journal, note)["stored"] is False, 60, "a note that could not be stored")
    card.fill()


def kept(rig: Rig) -> dict[str, Any]:
    """The interlock as the journal on the disk has it now."""
    from bridge.journal.snapshot import remembered

    with JournalReader(rig.journal) as reader:
        return remembered(reader, "north").interlock._asdict()


def test_f61_a_trip_on_a_full_disk_is_remembered_by_the_next_start_whether_the_disk_was_freed_or_not(
    make_rig: MakeRig, card: Card
) -> None:
    rig, reserve = on(card, make_rig()), card.path / "revival.db.reserve"
    begun(rig)
    with rig.process() as bridge:
        full(card, rig)
        rig.meters.heat(44.0)
        wait_until(lambda: rig.bank()["tripped"], 20)
        wait_until(lambda: "over-temperature" in Reserve(reserve, 1).read().get("north", ""), 20)
        assert kept(rig)["latched"] == {}, "the journal itself could not take it"
        bridge.kill()
    rig.meters.heat(25.0)
    with rig.process() as bridge:  # still full
        assert rig.bank()["tripped"] and rig.bank()["trip_reason"] == "over-temperature"
        assert not rig.bank()["charge_allowed"]
        bridge.kill()
    card.free()
    with rig.process():
        assert rig.bank()["tripped"] and rig.bank()["trip_reason"] == "over-temperature"
        wait_until(lambda: "over-temperature" in kept(rig)["latched"], 10)
    assert Reserve(reserve, 1).read() == {}, "what the journal has is not kept twice"
    assert "ON" not in rig.relay.told


def test_f61_a_trip_that_comes_while_a_full_disk_is_tried_again_is_in_the_reserve_at_once(
    make_rig: MakeRig, card: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bridge.journal.writer.PATIENCE", 300.0)
    monkeypatch.setattr("bridge.journal.writer.TRY_AGAIN", 120.0)  # nothing is tried again by itself before the end
    rig, reserve = on(card, make_rig()), card.path / "revival.db.reserve"
    begun(rig)
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        card.fill()
        wait_until(lambda: service.journal.degraded, 20, "a batch is being tried")
        rig.meters.heat(44.0)
        wait_until(lambda: "over-temperature" in Reserve(reserve, 1).read().get("north", ""), 15)
        card.free()


@pytest.mark.parametrize("act", ["abandon", "finish"])
def test_f62_a_round_that_a_person_ended_on_a_full_disk_stays_ended(make_rig: MakeRig, card: Card, act: str) -> None:
    rig = on(card, make_rig())
    # A full disk is made room on by giving up old rows: once in many times the journal takes it after all before the
    # kill, and nothing is shown by that.
    for _ in range(TRIES):
        begun(rig)
        with rig.process() as bridge:
            full(card, rig)
            answer = ask(
                rig.journal, {"ask": "act", "bank": "north", "name": act, "by": "test", "argument": {"sure": True}}
            )
            assert answer["refused"] == [] and answer["stored"] is False and "journal" in answer["warning"]
            bridge.kill()
        if kept(rig)["started"]:
            break
        card.free()
    else:
        pytest.fail(f"the journal itself could take it, {TRIES} times of {TRIES}")
    card.free()
    with rig.process():
        assert rig.act("resume") == ["no round was started: start first"]
        wait_until(lambda: not kept(rig)["started"], 10)
    assert "ON" not in rig.relay.told


def test_f61_a_journal_that_is_deleted_under_a_running_bridge_is_noticed_begun_anew_and_has_the_trip(
    make_rig: MakeRig,
) -> None:
    rig = make_rig()
    begun(rig)
    with rig.process() as bridge:
        for name in ("", "-wal", "-shm"):
            rig.journal.with_name(rig.journal.name + name).unlink(missing_ok=True)
        rig.meters.heat(44.0)
        wait_until(lambda: rig.bank().get("tripped"), 20)
        wait_until(lambda: "its file was deleted" in bridge.log.read_text(), 20)
        wait_until(lambda: "journal stores again" in bridge.log.read_text(), 20)

        def keeps_the_trip() -> bool:
            with suppress(JournalError):  # begun anew, and the first memory not yet in it
                return rig.journal.exists() and "over-temperature" in kept(rig)["latched"]
            return False

        wait_until(keeps_the_trip, 90)
        bridge.kill()
    rig.meters.heat(25.0)
    with rig.process():
        assert rig.bank()["tripped"] and rig.bank()["trip_reason"] == "over-temperature"


@pytest.mark.parametrize("gone", ["deleted", "emptied"])
def test_f61_a_journal_that_is_gone_at_the_start_is_told_and_leaves_the_bank_tripped(
    make_rig: MakeRig, gone: str
) -> None:
    rig = make_rig()
    begun(rig)
    for name in ("-wal", "-shm"):
        rig.journal.with_name(rig.journal.name + name).unlink(missing_ok=True)
    rig.journal.unlink() if gone == "deleted" else rig.journal.write_bytes(b"")
    with rig.process():
        wait_until(lambda: "journal-lost" in rig.flags(), 20)
        assert rig.bank()["tripped"] and "there was another" in str(rig.bank()["flags"])


def test_f64_two_bridges_do_not_run_on_one_read_only_disk(make_rig: MakeRig, card: Card) -> None:
    rig = on(card, make_rig())
    begun(rig)
    lock = rig.journal.with_name(f"{rig.journal.name}.lock")
    assert lock.exists()
    card.read_only(True)
    try:
        with only_one(rig.journal), pytest.raises(UnsafeStateError, match="runs on"), only_one(rig.journal):
            pass
    finally:
        card.read_only(False)


def test_f61_nothing_is_permitted_while_storing_is_degraded_and_the_permit_returns_once_it_is_proved(
    make_rig: MakeRig, card: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bridge.journal.writer.PATIENCE", 0.5)
    rig = on(card, make_rig())
    with rig.bridge() as service:
        rig.charge()
        card.fill()
        assert rig.relay.wait_for(False), "the permit goes when nothing can be kept"
        assert service.engine.memories["north"].interlock.withdrawn_for == "journal-degraded"
        assert rig.act("resume") == []
        time.sleep(1.0)
        assert not rig.relay.closed
        card.free()
        assert rig.relay.wait_for(True), "a person's resume still stands"


def test_f64_on_a_read_only_disk_the_cut_goes_first_and_the_bridge_runs_without_a_journal(
    make_rig: MakeRig, card: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bridge.runtime.control_socket.AGAIN", 0.2)
    rig = on(card, make_rig())
    begun(rig)
    rig.meters.publish("cabin/charger/set", "ON")
    assert rig.relay.wait_for(True)
    card.read_only(True)
    try:
        with rig.bridge() as service:
            assert rig.relay.wait_for(False), "the cut"
            wait_until(lambda: "journal-degraded" in service.engine.memories["north"].flags, 20)
            wait_until(lambda: service.latest["north"].temperature is not None, 20)
            assert not service.latest["north"].charge_allowed
            assert "journal-lost" in service.engine.memories["north"].flags
            card.read_only(False)
            wait_until(lambda: "journal-degraded" not in rig.flags(), 20, "commands reach it again, and it stores")
            assert not rig.relay.closed
    finally:
        card.read_only(False)


def test_f64_a_journal_that_cannot_be_used_at_all_cuts_before_it_is_refused(make_rig: MakeRig) -> None:
    rig = make_rig()
    begun(rig)
    with closing(sqlite3.connect(rig.journal)) as connection:
        connection.execute("PRAGMA user_version = 999")
    rig.meters.publish("cabin/charger/set", "ON")
    assert rig.relay.wait_for(True)
    with pytest.raises(Exception, match="newer version"), rig.bridge():
        pass
    assert rig.relay.wait_for(False)


@pytest.mark.parametrize("act", ["abandon", "finish", "reset"])
def test_f79_what_was_answered_is_on_the_disk(make_rig: MakeRig, act: str) -> None:
    rig = make_rig()
    tripped = {"over-temperature": Latch(time.time(), 44.0, 43.3, "degC", "hot")}
    begun(rig, latched=tripped if act == "reset" else {})
    with rig.process() as bridge:
        answer = ask(
            rig.journal, {"ask": "act", "bank": "north", "name": act, "by": "test", "argument": {"sure": True}}
        )
        bridge.process.kill()  # within 2 ms
        assert answer["refused"] == [] and answer["stored"] is True
        bridge.process.wait(10)
    lock = kept(rig)
    if act == "reset":
        assert lock["latched"] == {} and lock["needs_resume"]
    else:
        assert lock["started"] is False
    assert json.dumps(act) in json.dumps([event.detail.get("name") for event in rig.events("command")])


def test_f61_the_reserve_survives_a_kill_in_the_middle_of_writing(tmp_path: Path) -> None:
    path = tmp_path / "revival.db.reserve"
    reserve = Reserve(path, 2)
    reserve.prepare()
    size = path.stat().st_size
    for number in range(5):
        reserve.keep({"north": f"memory {number}"})
    reserve.keep({"south": "another"})
    assert path.stat().st_size == size, "it never needs more room than it took"
    again = Reserve(path, 3)
    assert again.read() == {"north": "memory 4", "south": "another"}
    again.prepare()
    assert again.read() == {"north": "memory 4", "south": "another"}, "also when a bank was added"
    again.keep({"south": "newer"})
    whole = bytearray(path.read_bytes())
    newest = max((0, len(whole) // 2), key=lambda start: int.from_bytes(whole[start + 8 : start + 16], "little"))
    whole[newest + 30] ^= 1
    path.write_bytes(whole)
    assert Reserve(path, 3).read() == {"north": "memory 4", "south": "another"}, "a torn turn leaves the one before"
    with pytest.raises(OSError, match="room"):
        again.keep({"south": os.urandom(200_000).hex()})
