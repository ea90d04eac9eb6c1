"""Sustained throughput through a real mosquitto: a queue of QoS 1 messages drained by a bare client and by the bridge.

The messages wait in the broker's queue for a persistent session, so that nothing but the subscriber sets the pace.
"""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from bridge.errors import CannotReachError
from bridge.runtime.control_socket import ask
from tests.bench.bridge.cabin import stamped_cabin

BROKER = """
listener {port} 127.0.0.1
allow_anonymous true
max_inflight_messages 1000
max_queued_messages 0
persistence false
set_tcp_nodelay true
"""


def free_port() -> int:
    """A loopback port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def mosquitto(folder: Path) -> Iterator[int]:
    """A broker of our own, ended by its id."""
    port = free_port()
    settings = folder / "mosquitto.conf"
    settings.write_text(BROKER.format(port=port))
    process = subprocess.Popen(
        ["mosquitto", "-c", str(settings)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=_with_sbin()
    )
    try:
        _wait(lambda: _listens(port), 10.0)
        yield port
    finally:
        process.terminate()
        process.wait(10)


def _with_sbin() -> dict[str, str]:
    return {**os.environ, "PATH": os.environ.get("PATH", "") + ":/usr/sbin"}


def _listens(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), 0.2).close()
    except OSError:
        return False
    return True


def _wait(condition: Any, timeout: float) -> None:
    deadline = time.monotonic() + timeout
    while not condition():
        if time.monotonic() > deadline:
            raise TimeoutError("waited in vain")
        time.sleep(0.02)


def persistent(client_id: str, port: int) -> Client:
    """A client with a session that the broker keeps, acknowledging by hand."""
    client = Client(CallbackAPIVersion.VERSION2, client_id=client_id, protocol=MQTTv5, manual_ack=True)
    properties = Properties(PacketTypes.CONNECT)
    properties.SessionExpiryInterval = 3600
    client.connect("127.0.0.1", port, clean_start=False, properties=properties)
    return client


def fill(port: int, count: int, banks: int, values: int) -> None:
    """Publish the stream from a process of its own."""
    code = (
        "import sys,time\n"
        "from paho.mqtt.client import Client,MQTTv311\n"
        "from paho.mqtt.enums import CallbackAPIVersion\n"
        "from tests.bench.bridge.cabin import stamped_message\n"
        f"c=Client(CallbackAPIVersion.VERSION2,client_id='filler'); c.max_inflight_messages_set(500)\n"
        f"c.connect('127.0.0.1',{port}); c.loop_start(); start=time.time()-3600*24*2\n"
        f"for n in range({count}):\n"
        f"    i=c.publish(*stamped_message(n,{banks},{values},start),qos=1)\n"
        "    if n%500==499: i.wait_for_publish(30)\n"
        "i.wait_for_publish(60); c.disconnect(); c.loop_stop()\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def bare(count: int, banks: int, values: int) -> float:
    """Messages per second of a subscriber that only acknowledges [1/s]."""
    with tempfile.TemporaryDirectory() as name, mosquitto(Path(name)) as port:
        first = persistent("bare", port)
        first.loop_start()
        first.subscribe([("bench/#", SubscribeOptions(qos=1))])
        time.sleep(0.5)
        first.disconnect()
        first.loop_stop()
        fill(port, count, banks, values)
        seen, began, ended = 0, 0.0, 0.0

        def on_message(client: Client, userdata: object, message: Any) -> None:
            nonlocal seen, began, ended
            if seen == 0:
                began = time.perf_counter()
            seen += 1
            client.ack(message.mid, message.qos)
            if seen == count:
                ended = time.perf_counter()

        client = persistent("bare", port)
        client.on_message = on_message
        client.loop_start()
        _wait(lambda: ended, 300.0)
        client.disconnect()
        client.loop_stop()
        return count / (ended - began)


def resident(pid: int) -> int:
    """Resident memory of a process [bytes]."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) * 1024
    return 0


def bridged(count: int, banks: int, values: int) -> dict[str, Any]:
    """Messages per second through the whole bridge, and its memory while it works."""
    with tempfile.TemporaryDirectory() as name, mosquitto(Path(name)) as port:
        folder = Path(name)
        config = stamped_cabin(folder, port, banks, values)
        journal = folder / "bench.db"
        _once(config, journal)
        fill(port, count, banks, values)
        process = start(config)
        try:
            samples: list[tuple[float, int, int]] = []
            deadline = time.monotonic() + 600.0
            while time.monotonic() < deadline:
                try:
                    status = ask(journal, {"ask": "status"})["bridge"]
                except CannotReachError:  # not up yet
                    time.sleep(0.05)
                    continue
                samples.append((time.perf_counter(), status["messages"], resident(process.pid)))
                if status["messages"] >= count and status["journal_lag"] == 0:
                    break
                time.sleep(0.1)
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(20)
        working = [sample for sample in samples if 0.05 * count <= sample[1] <= count]
        rate = (working[-1][1] - working[0][1]) / (working[-1][0] - working[0][0])
        tenths = [next(memory for _, seen, memory in samples if seen >= count * n / 10) for n in range(1, 11)]
        return {
            "rate": round(rate),
            "memory_by_tenth_MB": [round(memory / 1e6) for memory in tenths],
            "unstored": status["unstored"],
        }


def start(config: Path) -> subprocess.Popen[bytes]:
    """The service, in its own process."""
    return subprocess.Popen(
        [sys.executable, "-m", "bridge", "run", "--config", str(config)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def _once(config: Path, journal: Path) -> None:
    """Let the bridge make its session on the broker, then end it."""
    process = start(config)
    _wait(lambda: _subscribed(journal), 30.0)
    time.sleep(1.0)
    process.send_signal(signal.SIGTERM)
    process.wait(20)


def _subscribed(journal: Path) -> bool:
    try:
        sessions = ask(journal, {"ask": "status"})["bridge"]["bus"]["sessions"]
    except CannotReachError:  # not up yet
        return False
    return bool(sessions["history"]["connected"])


if __name__ == "__main__":
    messages = int(sys.argv[1]) if len(sys.argv) > 1 else 60_000
    result = {}
    for values in (1, 3):
        reference = bare(messages, 100, values)
        whole = bridged(messages, 100, values)
        result[f"{values} value(s)"] = {"bare": round(reference), **whole, "ratio": round(whole["rate"] / reference, 3)}
    print(json.dumps(result, indent=2))
