"""From a broker nobody knows to the first phase, watch only, with the commands that a person types.

Listening, checking and running are live, with the recorded round of the tarn hut played fast enough to last seconds.
A phase takes ten minutes of charging on the bridge's own clock; that last stretch is replayed with the very same cabin
file, and the recorded minutes are counted into the quarter of an hour.
"""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from bridge.commands.replay import recorded
from bridge.message import Message
from tests.support.brokers import Broker, wait_until

ROOT = Path(__file__).parents[2]
ROUND = ROOT / "sample_messages/rounds/tarn-hut-north-with-relay.jsonl.gz"
METERS = {"cabin/shunt", "cabin/probe1", "cabin/probe2", "cabin/air"}
LISTENING = 60.0  #: what `revival listen` takes unless told otherwise [s]
QUARTER = 900.0


def charging() -> list[Message]:
    """An hour of the meters' traffic, beginning with the first current."""
    found: list[Message] = []
    for message in recorded(ROUND):
        if message.topic not in METERS:
            continue
        if not found and not (message.topic == "cabin/shunt" and json.loads(message.payload)["dc"]["a"] > 0.3):
            continue
        if found and message.at > found[0].at + 3600.0:
            return found
        found.append(message)
    raise AssertionError("the recording holds no charging")


class Meters:
    """Plays messages over and over, stamped with the time at which they are sent."""

    def __init__(self, port: int, messages: list[Message]) -> None:
        self.messages, self.on = messages, True
        self.client = Client(CallbackAPIVersion.VERSION2)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        self.thread = threading.Thread(target=self._play, daemon=True)
        self.thread.start()

    def _play(self) -> None:
        while self.on:
            for message in self.messages:
                payload = message.payload
                if message.topic == "cabin/shunt":
                    payload = json.dumps({**json.loads(payload), "t": round(time.time(), 3)}).encode()
                self.client.publish(message.topic, payload, 1)
                time.sleep(0.02)
                if not self.on:
                    return

    def stop(self) -> None:
        self.on = False
        self.thread.join(5)
        self.client.disconnect()
        self.client.loop_stop()


def revival(*words: str) -> subprocess.CompletedProcess[str]:
    """A command as a person gives it."""
    return subprocess.run(
        [sys.executable, "-m", "bridge", *words], cwd=ROOT, capture_output=True, text=True, timeout=60, check=False
    )


def test_from_an_unknown_broker_to_the_first_phase_within_a_quarter_of_an_hour(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker, messages, cabin = make_broker(), charging(), tmp_path / "cabin.toml"
    meters = Meters(broker.port, messages)
    bridge: subprocess.Popen[bytes] | None = None
    try:
        heard = revival("listen", "--broker", f"127.0.0.1:{broker.port}", "--seconds", "5", "--output", str(cabin))
        assert heard.returncode == 0, heard.stderr
        checked = revival("check", "--config", str(cabin), "--connect", "--json")
        assert checked.returncode == 0, checked.stdout + checked.stderr
        (bank,) = json.loads(checked.stdout)["banks"]
        assert bank["watch_only"]
        assert {"cabin/shunt"} <= {meter["topic"] for meter in bank["meters"]}
        with (tmp_path / "bridge.log").open("wb") as log:
            bridge = subprocess.Popen(
                [sys.executable, "-m", "bridge", "run", "--config", str(cabin)], cwd=ROOT, stdout=log, stderr=log
            )

        def state() -> dict[str, object]:
            answer = revival("status", "--config", str(cabin), "--json")
            return dict(json.loads(answer.stdout)["banks"].get(bank["bank"], {})) if answer.returncode == 0 else {}

        wait_until(lambda: state().get("volts_per_cell") and state().get("current"), 30, "volts and amperes are seen")
        shown = state()
        assert shown["volts_per_cell"] == pytest.approx(26.0 / 12, abs=0.4)
        assert shown["phase"] == "idle", "nothing is called a phase before ten minutes of charging"
    finally:
        meters.stop()
        if bridge is not None:
            bridge.terminate()
            bridge.wait(20)
    hour, derived = tmp_path / "hour.jsonl", tmp_path / "derived.jsonl"
    rows = [{"t": m.at, "topic": m.topic, "payload": m.payload.decode(), "retain": False} for m in messages]
    hour.write_text("".join(json.dumps(row) + "\n" for row in rows))
    replayed = revival("replay", "--config", str(cabin), "--messages", str(hour), "--derived", str(derived))
    assert replayed.returncode == 0, replayed.stderr
    lines = [json.loads(line) for line in derived.read_text().splitlines()]
    first = next(line for line in lines if line["phase"] not in ("idle", "resting"))
    assert first["phase"] in ("waking", "bulk")
    assert LISTENING + (first["t"] - messages[0].at) < QUARTER
