"""A meter that costs too much: its mail is bounded, it is named, and what safety rests on comes first."""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable
from pathlib import Path

import pytest

import bridge.mailbox
import bridge.runtime.floods
import bridge.runtime.service
from bridge.app import running
from bridge.clock import Clock
from bridge.config import load
from bridge.intake import Mapping, Routes
from bridge.intake import document as document_room
from bridge.intake.request import StatusAsked
from bridge.mailbox import HEAVY, HEAVY_AT_ONCE, MOST_BYTES, MOST_OF_KEPT, MOST_OF_TOPIC, Asked, Mailbox
from bridge.message import Message
from tests.support.brokers import free_port, wait_until
from tests.support.cabin import write_cabin
from tests.support.fault_rig import Rig

MakeRig = Callable[..., Rig]
PACK = json.dumps([{"bn": "air", "u": "Cel", "v": 12.5, "t": -number} for number in range(1500)]).encode()
SMALL = b"84.2"
AIR = '\n[[bank.meter]]\ntopic = "cabin/pack"\nstyle = "senml"\nname = "air"\nquantity = "ambient_temperature"\n'


def mail(topic: str, payload: bytes = SMALL, session: str = "live", number: int = 0) -> Message:
    return Message(topic, payload, 1795590000.0, session=session, mid=number)


def topics(items: list[bridge.mailbox.Item]) -> list[str]:
    return [item.topic if isinstance(item, Message) else type(item).__name__ for item in items]


def test_f70_what_safety_rests_on_overtakes_everything_and_packs_come_last_a_little_at_a_time() -> None:
    box = Mailbox(first_topics=["probe"])
    for number in range(10):
        box.put(mail("packs", b"x" * 60_000, number=number))
    box.put(mail("air"))
    box.put(mail("probe"))
    box.put(Asked(StatusAsked(), None))  # type: ignore[arg-type]
    assert topics(box.take(1000, 0)) == ["probe", "Asked", "air", "packs"]
    box.put(mail("probe"))
    assert topics(box.take(1000, 0)) == ["probe", "packs"], "what comes meanwhile waits for one pack"
    rest = [item for _ in range(8) for item in box.take(1000, 0)]
    assert [item.mid for item in rest if isinstance(item, Message)] == list(range(2, 10))
    assert (box.waiting, box._bytes, box.laden) == (0, 0, False)


def test_f70_after_a_pack_the_next_waits_so_that_the_network_is_read_meanwhile() -> None:
    box = Mailbox(first_topics=["probe"])
    for number in range(3):
        box.put(mail("packs", b"x" * 60_000, number=number))
    assert topics(box.take(1000, 0)) == ["packs"]
    box.rest(0.2)
    assert box.take(1000, 0) == []
    box.put(mail("probe"))
    assert topics(box.take(1000, 0)) == ["probe"]
    began = time.monotonic()
    assert topics(box.take(1000, 10.0) or box.take(1000, 0)) == ["packs"]
    assert time.monotonic() - began < 5.0, "the reader is not kept waiting for a message that is there"


def test_f70_a_topic_that_sends_packs_delays_itself_alone_and_keeps_its_order() -> None:
    box = Mailbox(first_topics=["shunt", "probe"])
    box.put(mail("shunt", b"x" * (HEAVY + 1), number=1))
    box.put(mail("shunt", number=2))
    box.put(mail("probe", number=3))
    assert [item.mid for item in box.take(1000, 0) if isinstance(item, Message)] == [3, 1, 2]
    box.put(mail("shunt", number=4))
    box.put(mail("probe", number=5))
    assert [item.mid for item in box.take(1000, 0) if isinstance(item, Message)] == [4, 5], "and is forgiven"


@pytest.mark.parametrize("size", [100, 60_000, 900_000])
def test_f70_the_box_is_bounded_in_bytes_for_each_topic_and_in_all(size: int) -> None:
    box = Mailbox()
    for number in range(3900):
        box.put(mail("packs", b"x" * size))
        box.put(mail(f"many/{number}", b"x" * size))
        box.put(mail("kept", b"x" * size, "history"))
    assert box._bytes <= MOST_BYTES
    assert box._bytes_of["packs"] <= MOST_OF_TOPIC and box._bytes_of["kept"] <= MOST_OF_KEPT
    assert box.laden == (size > HEAVY), "the broker keeps the rest of what it keeps"
    if size > HEAVY:
        assert box.dropped["packs"] > 3000
    while box.take(1000, 0):
        assert box._bytes >= 0
    assert (box.waiting, box._bytes, box._heavy_bytes, dict(box._heavy_of)) == (0, 0, 0, {})
    assert box.put(mail("packs", b"x" * size)), "and there is room again"
    assert HEAVY_AT_ONCE < MOST_OF_TOPIC


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"[" * 60_000, "nested too deeply"),
        (b'{"a":' * 10_000 + b"1" + b"}" * 10_000, "nested too deeply"),
        (b"[" + b"1," * 30_000 + b"1]", "too many values"),
        (b"[" + b'{"v":1},' * 7_000 + b'{"v":1}]', "too many values"),
        (b'{"dc": ' + b"9" * 60_000 + b"}", "number too long"),
        (b'{"dc": 0.' + b"1" * 60_000 + b"}", "number too long"),
        (b" " * 70_000, "too large"),
    ],
)
def test_f70_depth_number_and_length_are_refused_before_anything_is_decoded(
    payload: bytes, reason: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def decode(_text: str) -> object:
        raise AssertionError("decoded")

    monkeypatch.setattr(document_room, "decode", decode)
    routes = Routes([Mapping("north", "voltage", "voltage", "t", "json", "/dc", unit="V")])
    assert [rejected.reason for rejected in routes.decode(mail("t", payload)).rejected] == [reason]


def test_f70_a_pack_of_an_hour_is_still_read() -> None:
    routes = Routes([Mapping("north", "air", "ambient_temperature", "t", "senml", name="air")])
    hour = [{"bn": "air", "bu": "Cel", "v": 12.5, "t": -3600}, *({"v": 12.0, "t": -4 * n} for n in range(899))]
    assert len(routes.decode(mail("t", json.dumps(hour).encode())).readings) == 900


def test_f70_the_safety_topics_of_a_cabin_come_first(tmp_path: Path) -> None:
    path = write_cabin(tmp_path, free_port())
    path.write_text(path.read_text().replace("\n[bank.relay]", f"{AIR}\n[bank.relay]"))
    with running(load(path), Clock()) as service:
        assert service.mailbox._first_topics == {"cabin/shunt", "cabin/probe", "cabin/charger/state"}


def test_f70_behind_3900_packs_and_deep_brackets_the_cut_leaves_and_the_meter_is_named(
    make_rig: MakeRig, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(bridge.runtime.service, "HEALTH_EVERY", 0.3)
    monkeypatch.setattr(bridge.runtime.floods, "SHED_FOR", 5.0)
    caplog.set_level(logging.INFO)
    rig = make_rig()
    rig.path.write_text(rig.path.read_text().replace("\n[bank.relay]", f"{AIR}\n[bank.relay]"))
    with rig.bridge() as service:
        rig.charge()
        pack = PACK[:60_000]
        most = 0
        for number in range(3900):
            rig.meters.client.publish("cabin/pack", pack if number % 2 else b"[" * 60_000, qos=0)
            if number % 100 == 0:
                most = max(most, service.mailbox._bytes)
                time.sleep(0.01)
        rig.meters.celsius = 52.0
        rig.meters.report()
        rig.meters.report()
        assert rig.relay.wait_for(False, 30.0)
        wait_until(lambda: "meter-floods raised" in caplog.text, 10)
        assert service.mailbox.dropped.keys() == {"cabin/pack"}
        assert max(most, service.mailbox._bytes) <= MOST_BYTES
        told = [line for line in caplog.messages if "sends more than can be read" in line]
        assert told == ["cabin/pack: sends more than can be read; not listened to for 5 s"]
        wait_until(lambda: "meter-floods" not in rig.flags(), 20, "and it is forgiven")
        assert caplog.text.count("cabin/pack: listened to again") == 1
        rig.meters.publish("cabin/pack", '[{"n": "air", "u": "Cel", "v": 7.5}]')
        wait_until(lambda: rig.bank().get("ambient") == 7.5, 20, "one small pack is welcome")
        assert service.status()["floods"] == []
    assert [event.detail["hazard"] for event in rig.events("trip")] == ["over-temperature"]
