"""On demand: what 200 watch-only banks cost one bridge: processor, memory, how far behind, journal.

    PYTHONPATH=tests:. python tests/bench/many_banks.py [banks] [seconds] [--hub]

Every bank's shunt publishes stamped volts and amperes, its probe a temperature, each every 10 s: 40 messages a second
from 200 banks. The bridge is `revival run` in a process of its own, on a mosquitto on the loopback address.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from bridge.errors import BridgeError
from bridge.journal.reader import JournalReader
from bridge.runtime.control_socket import ask
from tests.support.brokers import Broker, wait_until
from tests.support.two_hundred_banks import many_banks

EVERY = 10.0


class Usage(NamedTuple):
    """Processor time [s] and resident memory [MB] of a process."""

    cpu: float
    rss: float


def usage(number: int) -> Usage:
    """From the kernel's own books."""
    words = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()
    ticks = os.sysconf("SC_CLK_TCK")
    return Usage((int(words[11]) + int(words[12])) / ticks, int(words[21]) * os.sysconf("SC_PAGE_SIZE") / 1e6)


def answers(journal: Path) -> bool:
    """Whether the bridge is up and connected."""
    try:
        return bool(ask(journal, {"ask": "status"})["bridge"]["connected"])
    except BridgeError:
        return False


def measure(banks: int, seconds: float, hub: bool) -> None:
    """Run, and print what it took."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        broker = Broker(folder / "broker").start()
        path = many_banks(folder, broker.port, banks=banks, hub=hub)
        said: list[str] = []
        meters = Client(CallbackAPIVersion.VERSION2)

        def heard(_client: Client, _data: object, message: MQTTMessage) -> None:
            said.append(message.topic)

        meters.on_message = heard
        meters.max_queued_messages_set(0)
        meters.max_inflight_messages_set(200)
        meters.connect(broker.host, broker.port)
        meters.subscribe("homie/5/#", 0)
        meters.loop_start()
        with (folder / "bridge.log").open("wb") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "bridge", "run", "--config", str(path)], stdout=log, stderr=log
            )
        try:
            begun = time.monotonic()
            wait_until(lambda: answers(folder / "revival.db"), 60, "the bridge is up")
            wait_until(lambda: len(set(said)) > 10 * banks, 60, "the tree is out")
            print(f"up after {time.monotonic() - begun:.1f} s, {usage(process.pid).cpu:.1f} s of processor time")
            time.sleep(5.0)
            said.clear()
            start, moment, sent = usage(process.pid), time.monotonic(), 0
            while time.monotonic() - moment < seconds:
                for bank in range(banks):
                    at = moment + (sent // banks) * EVERY + bank * EVERY / banks
                    time.sleep(max(0.0, at - time.monotonic()))
                    reading = {"v": round(25.0 + bank / 100 + sent % 7 / 50, 3), "a": 5.0, "t": round(time.time(), 3)}
                    meters.publish(f"yard/b{bank:03}/shunt", json.dumps(reading), 1)
                    meters.publish(f"yard/b{bank:03}/probe", f"{20 + sent % 5 / 10:.1f}", 1)
                    sent += 1
            passed, end = time.monotonic() - moment, usage(process.pid)
            status = ask(folder / "revival.db", {"ask": "status"})["bridge"]
            published = len(said)
            time.sleep(3.0)
        finally:
            process.terminate()
            process.wait(20)
            meters.disconnect()
            meters.loop_stop()
            broker.stop()
        with JournalReader(folder / "revival.db") as reader:
            stored = sum(
                1 for message, _ in reader.messages(0.0, time.time() + 60.0) if message.topic.endswith("shunt")
            )
        size = sum(one.stat().st_size for one in folder.glob("revival.db*")) / 1e6
        print(
            f"{banks} banks{', documents for a hub' if hub else ''}, {2 * sent / passed:.0f} messages a second in, "
            f"{published / passed:.0f} a second out, {passed:.0f} s\n"
            f"processor {100 * (end.cpu - start.cpu) / passed:.0f} % of one core, memory {end.rss:.0f} MB\n"
            f"journal {size:.1f} MB, {stored} of {sent} stamped messages stored once, lag {status['journal_lag']} s, "
            f"dropped {status['dropped']}, unstored {status['unstored']}"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("banks", type=int, nargs="?", default=200)
    parser.add_argument("seconds", type=float, nargs="?", default=60.0)
    parser.add_argument("--hub", action="store_true")
    given = parser.parse_args()
    measure(given.banks, given.seconds, given.hub)
