"""A stream faster than the disk waits in the broker, not in our memory, and nothing of it is lost."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from paho.mqtt.client import Client, MQTTMessage

from bridge.journal.reader import JournalReader
from bridge.journal.store import Store
from bridge.mqtt.session import Session
from bridge.runtime.commits import MOST_OWED, Storing
from bridge.settings import BrokerSettings
from tests.support.brokers import Broker, need, wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.running_bridge import turning

ROOMY = ["max_inflight_messages 1000", "max_queued_messages 0"]


def publish(broker: Broker, topic: str, lines: list[str]) -> None:
    subprocess.run(
        [need("mosquitto_pub"), "-h", broker.host, "-p", str(broker.port), "-t", topic, "-q", "1", "-l"],
        input="\n".join(lines).encode(), check=True, timeout=60, capture_output=True,
    )  # fmt: skip


def test_a_session_that_holds_reads_nothing_and_loses_nothing(make_broker: Callable[..., Broker]) -> None:
    broker = make_broker(ROOMY)
    came: list[bytes] = []
    granted: list[int] = []

    def take(client: Client, _data: object, message: MQTTMessage) -> None:
        came.append(bytes(message.payload))
        client.ack(message.mid, 1)

    session = Session(
        BrokerSettings(host=broker.host, port=broker.port),
        "holding",
        persistent=60,
        opened=lambda session, _present: session.link and session.link[0].subscribe("flood", 1),
        received=take,
        answered=lambda _mid, codes: granted.extend(codes),
    )
    session.start()
    wait_until(lambda: granted)
    session.hold(True)
    publish(broker, "flood", ["late"])
    with pytest.raises(AssertionError, match="in vain"):
        wait_until(lambda: came, 1.0)
    assert session.connected
    session.hold(False)
    wait_until(lambda: came == [b"late"])
    session.stop()


def test_a_journal_slower_than_the_stream_stores_every_message_and_the_memory_stays_bounded(
    make_broker: Callable[..., Broker], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broker = make_broker(ROOMY)
    path = write_cabin(tmp_path, broker.port, relay=False)
    count, start = 8_000, time.time() - 9_000.0
    write, acknowledging, most_owed = Store.write, Storing.commit, 0

    def slowly(self: Store, *args: object, **options: object) -> None:
        time.sleep(0.3)
        write(self, *args, **options)  # type: ignore[arg-type]

    def watched(self: Storing, moment: float) -> None:
        nonlocal most_owed
        most_owed = max(most_owed, len(self.batch.acks))
        acknowledging(self, moment)

    monkeypatch.setattr(Store, "write", slowly)
    monkeypatch.setattr(Storing, "commit", watched)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        publish(broker, "cabin/shunt", [shunt(round(start + n, 3), 26.0, n / 1000) for n in range(count)])
        wait_until(lambda: service.messages >= count, 60)
        wait_until(lambda: service.journal.lag == 0 and not service.storing.batch.messages, 60)
        assert service.storing.unstored == 0
    with JournalReader(tmp_path / "revival.db") as reader:
        stored = [one for one, _ in reader.messages(0.0, time.time() + 60.0) if one.topic == "cabin/shunt"]
    assert len(stored) == count
    # What lay in the mailbox and on the wire when the hold came is owed as well: how much depends on who is faster.
    assert most_owed < 6 * MOST_OWED < count, "what was under way when the hold came, and no more"
