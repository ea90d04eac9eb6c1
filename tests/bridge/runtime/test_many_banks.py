"""Two hundred watch-only banks behind one bridge on a real broker."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from bridge.config import load
from bridge.journal.reader import JournalReader
from bridge.mailbox import Mailbox, SessionChange
from bridge.mqtt.bus import Bus
from bridge.outlets.homie import HomieOutlet
from tests.support.brokers import Broker, wait_until
from tests.support.running_bridge import turning
from tests.support.two_hundred_banks import BANKS, many_banks

ROUNDS = 3


@pytest.fixture
def own_broker(make_broker: Callable[..., Broker]) -> Broker:
    return make_broker()


class Onlooker:
    """Keeps the last payload of every topic below a filter, and counts what is gone."""

    def __init__(self, broker: Broker, topic: str) -> None:
        self.seen: dict[str, bytes] = {}
        self.client = Client(CallbackAPIVersion.VERSION2)
        self.client.on_message = self._take
        self.client.connect(broker.host, broker.port)
        self.client.subscribe(topic, 0)
        self.client.loop_start()

    def _take(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        if message.payload:
            self.seen[message.topic] = bytes(message.payload)
        else:
            self.seen.pop(message.topic, None)

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


def test_every_reading_of_two_hundred_banks_is_journaled_once_and_every_state_is_its_own(
    own_broker: Broker, tmp_path: Path
) -> None:
    path = many_banks(tmp_path, own_broker.port)
    onlooker = Onlooker(own_broker, "homie/5/+/electrical/voltage")
    meters = Client(CallbackAPIVersion.VERSION2)
    meters.max_inflight_messages_set(100)
    meters.connect(own_broker.host, own_broker.port)
    meters.loop_start()
    begun = time.time()
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed, 30)
        for turn in range(ROUNDS):
            for bank in range(BANKS):
                volts = 24.0 + bank / 100
                meters.publish(f"yard/b{bank:03}/shunt", json.dumps({"v": volts, "a": 5.0, "t": begun + turn}), 1)
            time.sleep(0.5)
        expected = {
            f"homie/5/tarn-hut-b{n:03}/electrical/voltage": f"{24.0 + n / 100:.2f}".encode() for n in range(BANKS)
        }
        wait_until(lambda: onlooker.seen == expected, 60, "every bank shows its own voltage")
        assert service.bus.outgoing.dropped == {}
        assert service.storing.unstored == 0
    onlooker.close()
    meters.disconnect()
    meters.loop_stop()
    with JournalReader(tmp_path / "revival.db") as reader:
        stored = [(message.topic, stamp) for message, stamp in reader.messages(0.0, time.time() + 60.0)]
    assert len(stored) == len(set(stored)) == BANKS * ROUNDS


def test_the_whole_tree_with_its_discovery_documents_comes_out_and_is_cleared_again(
    own_broker: Broker, tmp_path: Path
) -> None:
    cabin = load(many_banks(tmp_path, own_broker.port, hub=True)).cabin
    bus = Bus(cabin.broker, Mailbox(), time.time, "revival-many")
    homie = HomieOutlet(cabin, bus.publish)
    documents = homie.discovery.documents if homie.discovery else {}
    assert len(documents) > 80 * BANKS
    onlooker = Onlooker(own_broker, "homeassistant/#")
    bus.start()
    try:
        wait_until(lambda: bus.subscribed)
        wait_until(lambda: any(isinstance(item, SessionChange) for item in bus.mailbox.take(10, 0.1)))
        announcing = threading.Thread(target=homie.announce)
        announcing.start()
        announcing.join(60)
        wait_until(lambda: bus.outgoing.outstanding == 0, 60, "everything is acknowledged")
        wait_until(lambda: len(onlooker.seen) == len(documents), 30, "every document is there")
        for topic in homie.announced():
            bus.publish(topic, "")
        wait_until(lambda: bus.outgoing.outstanding == 0 and not onlooker.seen, 60, "and gone again")
        assert bus.outgoing.dropped == {}
    finally:
        bus.stop(1.0)
        onlooker.close()
