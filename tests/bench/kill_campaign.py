"""Kill the whole bridge again and again under load; count what was lost, doubled or forgotten.

On demand: ``python tests/bench/kill_campaign.py --kills 200``; the last line is JSON. A client publishes numbered,
stamped messages (QoS 1) and hot readings to a real broker; the bridge is killed with SIGKILL (by its own process id) at
random moments, every second time just after a trip reached the journal, and started again. Afterwards every number must
be in the journal exactly once, and no start may have forgotten a trip.
"""

from __future__ import annotations

import argparse
import json
import random
import sqlite3
import sys
import tempfile
import threading
import time
from contextlib import closing
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from bridge.config import load
from bridge.errors import BridgeError
from bridge.journal.reader import JournalReader
from bridge.runtime.control_socket import ask
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.fault_rig import Bridge

#: What the broker must keep for a bridge that is away; the documented settings.
LINES = ("max_queued_messages 1000000", "max_inflight_messages 20")


class Numbers:
    """Publishes messages whose stamp is their number: no two share a millisecond.

    No current flows in them: after a trip it would rightly be a relay that does not obey, and no reset would be taken.
    """

    def __init__(self, port: int, rate: float) -> None:
        self.sent = 0
        self._rate = rate
        self._ending = threading.Event()
        self.client = Client(CallbackAPIVersion.VERSION2, client_id="numbers")
        self.client.max_inflight_messages_set(200)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        self._base = time.time()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        last = 0
        while not self._ending.wait(0.02):
            for _ in range(max(1, round(self._rate * 0.02))):
                last = max(int(time.time() * 1000.0), last + 1)  # a stamp of its own, whole milliseconds
                self.client.publish("cabin/shunt", shunt(last / 1000.0, 26.0, 0.0), qos=1)
                self.sent += 1

    def stop(self) -> None:
        """No more; returns when the broker has them all."""
        self._ending.set()
        self._thread.join()
        wait_until(lambda: not self.client.want_write() and not len(self.client._out_messages), 60)
        self.client.disconnect()
        self.client.loop_stop()


def running(path: Path, started: Bridge) -> None:
    """Wait until a bridge answers."""

    def answers() -> bool:
        assert started.process.poll() is None, started.log.read_text()
        try:
            return bool(ask(load(path).cabin.journal.path, {"ask": "status"})["bridge"]["connected"])
        except (BridgeError, KeyError):
            return False

    wait_until(answers, 90, "the bridge answers")


def journaled_trips(journal: Path) -> int:
    """Trips that are on the disk."""
    with JournalReader(journal) as reader:
        return len(reader.events("north", 0.0, 1e11, ["trip"]))


def more_trips(journal: Path, before: int) -> bool:
    """Whether another trip is on the disk."""
    return journaled_trips(journal) > before


def act(journal: Path, what: str) -> list[str]:
    """A person's act; why it was refused."""
    return list(ask(journal, {"ask": "act", "bank": "north", "name": what})["refused"])


def campaign(folder: Path, kills: int, seed: int, rate: float = 300.0) -> dict[str, object]:
    """Run it; what came out. Nothing it started outlives it."""
    broker = Broker(folder / "broker", LINES).start()
    started: list[Bridge] = []
    try:
        return _run(folder, broker, started, kills, seed, rate)
    finally:
        for bridge in started:
            if bridge.process.poll() is None:
                bridge.kill()
        broker.stop()


def _run(folder: Path, broker: Broker, started: list[Bridge], kills: int, seed: int, rate: float) -> dict[str, object]:
    choose = random.Random(seed)
    path = write_cabin(folder, broker.port)
    journal = load(path).cabin.journal.path
    began = time.monotonic()
    started.append(bridge := Bridge(path, {}))
    running(path, bridge)
    numbers = Numbers(broker.port, rate)
    trips = forgotten = 0

    def heat(payload: str) -> None:
        for _ in range(3):
            broker.publish("cabin/probe", payload, "-q", "1")

    def cooled_and_reset() -> bool:
        heat("77")
        return not act(journal, "reset")

    def tripped() -> bool:
        return bool(ask(journal, {"ask": "status"})["banks"].get("north", {}).get("tripped"))

    for number in range(kills):
        trip = number % 2 == 1
        if trip:
            heat("130")
            wait_until(partial(more_trips, journal, trips), 30, "a trip is journaled")
            trips = journaled_trips(journal)
        else:
            time.sleep(choose.uniform(0.0, 0.6))
        bridge.kill()
        started.append(bridge := Bridge(path, {}))
        running(path, bridge)
        if trip:
            wait_until(lambda: ask(journal, {"ask": "status"})["banks"].get("north"), 30)
            forgotten += not tripped()
            wait_until(cooled_and_reset, 30, "reset")
    numbers.stop()

    def stored() -> list[int]:
        with closing(sqlite3.connect(f"file:{journal}?mode=ro", uri=True)) as connection:
            return [
                row[0] for row in connection.execute(
                    "SELECT stamp FROM message JOIN topic ON topic.id = message.topic WHERE topic.name = 'cabin/shunt'"
                )
            ]  # fmt: skip

    deadline = time.monotonic() + 120.0
    while len(stored()) < numbers.sent and time.monotonic() < deadline:
        time.sleep(0.2)
    bridge.end()
    stamps = stored()
    return {
        "kills": kills,
        "sent": numbers.sent,
        "missing": numbers.sent - len(set(stamps)),
        "twice": len(stamps) - len(set(stamps)),
        "trips": trips,
        "latches_lost": forgotten,
        "seconds": round(time.monotonic() - began, 1),
    }


def main() -> int:
    """Parse, run, print one line of JSON; 0 when nothing was lost, doubled or forgotten."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rate", type=float, default=300.0, help="messages per second")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        report = campaign(Path(folder), options.kills, options.seed, options.rate)
    print(json.dumps(report))
    return int(any(report[name] for name in ("missing", "twice", "latches_lost")))


if __name__ == "__main__":
    sys.exit(main())
