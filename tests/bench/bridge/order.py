"""Order latency: from publishing the hot reading that confirms to the relay being told, with other traffic about.

Measured outside the bridge, so the broker's two passages are in it. `python -m tests.bench.bridge.order 200 packs` puts
another load behind it: `voltages` (2,000 a second), `packs` (bursts of 3,900 packs of 60 kB from one meter) or
`brackets` (nested 60,000 deep, 100 a second).
"""

from __future__ import annotations

import json
import os
import signal
import socket
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion

from bridge.errors import CannotReachError
from bridge.runtime.control_socket import ask
from tests.bench.bridge.cabin import BANK, HEAD, RELAY, meter
from tests.bench.bridge.drain import mosquitto, start

RATE = 2000.0  #: other messages a second
PACK_METER = """
[[bank.meter]]
topic = "bench/packs"
style = "senml"
name = "air"
quantity = "ambient_temperature"
"""
PACK = json.dumps([{"bn": "air", "bu": "Cel", "v": 12.5}, *({"v": 12.5, "t": -n} for n in range(1900))]).encode()
BRACKETS = b"[" * 60_000


def cabin(folder: Path, port: int, others: int) -> Path:
    """One bank with a relay, and watch-only banks that make the traffic."""
    text = HEAD.format(port=port) + BANK.format(bank="hot")
    text += meter("hot", "volts", "voltage", "V") + meter("hot", "probe", "electrolyte_temperature", "degC")
    text += PACK_METER + RELAY.format(bank="hot")
    for number in range(others):
        text += BANK.format(bank=f"b{number}") + meter(f"b{number}", "volts", "voltage", "V")
    path = folder / "cabin.toml"
    path.write_text(text)
    return path


def no_delay(client: Client, userdata: object, held: Any) -> None:
    """Else the second of two publishes waits for the first one's TCP acknowledgement, and that would be measured."""
    held.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


class Bench:
    """Plays meter and relay of the hot bank."""

    def __init__(self, port: int, journal: Path) -> None:
        self.journal = journal
        self.closed = False
        self.cut_at = 0.0
        self.changed = threading.Condition()
        self.client = Client(CallbackAPIVersion.VERSION2, client_id="bench", protocol=MQTTv5)
        self.client.on_message = self._told
        self.client.on_socket_open = no_delay
        self.client.connect("127.0.0.1", port)
        self.client.subscribe("bench/hot/relay/set", 1)
        self.client.loop_start()

    def _told(self, client: Client, userdata: object, message: MQTTMessage) -> None:
        with self.changed:
            closed = message.payload == b"ON"
            if self.closed and not closed:
                self.cut_at = time.perf_counter()
            self.closed = closed
            client.publish("bench/hot/relay/state", "ON" if closed else "OFF", qos=1)
            self.changed.notify_all()

    def until(self, closed: bool) -> None:
        """Wait for the contact."""
        with self.changed:
            if not self.changed.wait_for(lambda: self.closed is closed, 30.0):
                raise TimeoutError(f"relay never {'closed' if closed else 'opened'}")

    def act(self, what: str, **argument: Any) -> list[str]:
        """As the command line does."""
        answer = ask(self.journal, {"ask": "act", "bank": "hot", "name": what, "argument": argument})
        return list(answer.get("refused", [answer.get("error")]))

    def read(self, degrees: float, volts: float = 26.0) -> float:
        """One round of readings; when the temperature was published."""
        self.client.publish("bench/hot/volts", f"{volts}", qos=1)
        moment = time.perf_counter()
        self.client.publish("bench/hot/probe", f"{degrees}", qos=1).wait_for_publish(5.0)
        return moment


def traffic(port: int, others: int, stop: threading.Event) -> None:
    """Other banks' voltages at a steady rate."""
    client = Client(CallbackAPIVersion.VERSION2, client_id="traffic")
    client.max_inflight_messages_set(1000)
    client.connect("127.0.0.1", port)
    client.loop_start()
    began, sent = time.perf_counter(), 0
    while not stop.is_set():
        due = int((time.perf_counter() - began) * RATE)
        while sent < due:
            client.publish(f"bench/b{sent % others}/volts", f"{24 + sent % 50 / 25:.2f}", qos=1)
            sent += 1
        time.sleep(0.002)
    client.disconnect()
    client.loop_stop()


def bursts(port: int, load: str, stop: threading.Event) -> None:
    """One meter that costs too much: 3,900 packs as fast as they go and a pause, or brackets at a steady rate."""
    client = Client(CallbackAPIVersion.VERSION2, client_id="costly")
    client.connect("127.0.0.1", port)
    client.loop_start()
    while not stop.is_set():
        if load == "brackets":
            client.publish("bench/packs", BRACKETS, qos=0)
            time.sleep(0.01)
            continue
        for _ in range(3900):
            if stop.is_set():
                break
            client.publish("bench/packs", PACK, qos=0).wait_for_publish(5.0)
        stop.wait(1.0)
    client.disconnect()
    client.loop_stop()


def busy(process: int) -> float:
    """Processor time that a process has taken so far [s]."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def measure(
    trials: int, load: str = "voltages", extra: str = "", first: Callable[[], object] = bool
) -> dict[str, object]:
    """Latencies of so many trips [ms] under this load; with `extra` in the cabin file, and `first` done before them."""
    others = 50
    with tempfile.TemporaryDirectory() as name, mosquitto(Path(name)) as port:
        folder = Path(name)
        config = cabin(folder, port, others)
        config.write_text(config.read_text() + extra)
        process = start(config)
        bench = Bench(port, folder / "bench.db")
        stop = threading.Event()
        try:
            while True:
                try:
                    if not bench.act("checklist", name="bench"):
                        break
                except CannotReachError:  # not up yet
                    time.sleep(0.1)
            time.sleep(1.0)
            bench.read(25.0)
            time.sleep(1.5)
            bench.act("prove")
            time.sleep(6.0)
            assert not (why := bench.act("start")), why
            other = (traffic, (port, others, stop)) if load == "voltages" else (bursts, (port, load, stop))
            threading.Thread(target=other[0], args=other[1], daemon=True).start()
            delays = []
            first()
            began, worked = time.perf_counter(), busy(process.pid)
            for _ in range(trials):
                bench.until(True)
                bench.read(60.0)
                moment = bench.read(60.0)
                bench.until(False)
                delays.append(1000.0 * (bench.cut_at - moment))
                while bench.act("reset"):
                    bench.read(25.0)
                    time.sleep(0.01)
                time.sleep(0.02)
                bench.act("resume")
            share = (busy(process.pid) - worked) / (time.perf_counter() - began)
        finally:
            stop.set()
            process.send_signal(signal.SIGTERM)
            process.wait(20)
    delays.sort()
    return {
        "load": load,
        "trials": trials,
        "median_ms": round(statistics.median(delays), 2),
        "p99_ms": round(delays[int(0.99 * len(delays))], 2),
        "max_ms": round(delays[-1], 2),
        "bridge_percent_of_a_core": round(100.0 * share, 1),
    }


if __name__ == "__main__":
    print(json.dumps(measure(int((sys.argv[1:] or ["200"])[0]), (sys.argv[2:] or ["voltages"])[0]), indent=2))
