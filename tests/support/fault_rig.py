"""A whole cabin for fault tests: a real broker, meters that report all the time, a relay, and the bridge on top."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from bridge.clock import Clock
from bridge.config import load
from bridge.errors import CannotReachError
from bridge.journal.reader import JournalReader
from bridge.runtime.control_socket import ask
from bridge.runtime.service import Service
from rules.events import Event
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import RelayStandIn, shunt, write_cabin
from tests.support.running_bridge import turning

ROOT = Path(__file__).parents[2]
NUMBER = iter(range(1_000_000))


class Meters:
    """The shunt and the probe of the test cabin, five times a second; current flows while the relay is closed."""

    def __init__(
        self, port: int, relay: RelayStandIn, *, every: float = 0.2, login: tuple[str, str] | None = None
    ) -> None:
        self.relay, self.every = relay, every
        self.amps, self.celsius, self.volts = 20.0, 25.0, 26.0
        self.shunt_speaks = self.probe_speaks = True
        self.stamp: Any = time.time
        self.client = Client(CallbackAPIVersion.VERSION2, client_id=f"meters{next(NUMBER)}")
        if login is not None:
            self.client.username_pw_set(*login)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._ending.wait(self.every):
            self.report()

    def report(self) -> None:
        """Every meter once, now."""
        amps = self.amps if self.relay.closed else 0.0
        if self.shunt_speaks:
            self.client.publish("cabin/shunt", shunt(self.stamp(), self.volts, amps), qos=1)
        if self.probe_speaks:
            self.client.publish("cabin/probe", f"{self.celsius * 1.8 + 32.0:.3f}", qos=1)

    def heat(self, celsius: float) -> None:
        """Warm up in steps that are believed."""
        while abs(self.celsius - celsius) > 0.01:
            self.celsius += max(-4.0, min(4.0, celsius - self.celsius))
            time.sleep(1.5 * self.every)

    def publish(self, topic: str, payload: str | bytes, **options: Any) -> None:
        """Anything else; returns when the broker has it."""
        self.client.publish(topic, payload, **{"qos": 1, **options}).wait_for_publish(10.0)

    def close(self) -> None:
        """Off the bus."""
        self._ending.set()
        self._thread.join(5.0)
        self.client.disconnect()
        self.client.loop_stop()


class Rig:
    """Broker, relay and meters; the bridge runs inside `bridge()` or as a process of its own inside `process()`."""

    def __init__(
        self,
        broker: Broker,
        folder: Path,
        *,
        extra: str = "",
        port: int = 0,
        auto_off: float = 90.0,
        login: tuple[str, str] | None = None,
    ) -> None:
        self.broker = broker
        self.path = write_cabin(folder, port or broker.port, extra=extra)
        self.edit('"90 s"', f'"{auto_off:g} s"')
        self.relay = RelayStandIn(broker.port, auto_off=auto_off, login=login)
        self.meters = Meters(broker.port, self.relay, login=login)

    def edit(self, old: str, new: str) -> None:
        """Change the cabin file."""
        text = self.path.read_text()
        assert old in text
        self.path.write_text(text.replace(old, new))

    @property
    def journal(self) -> Path:
        """Where the bridge keeps everything."""
        return load(self.path).cabin.journal.path

    @contextmanager
    def bridge(self, *, subscribed: bool = True, clock: Clock | None = None) -> Iterator[Service]:
        """The bridge in this process."""
        with turning(self.path, clock) as service:
            if subscribed:
                wait_until(lambda: service.bus.subscribed, 20)
            yield service

    @contextmanager
    def process(self, **environment: str) -> Iterator[Bridge]:
        """`revival run` as a process that answers; ended at the end of the block, whatever its state."""
        # A preloaded clock sometimes hangs a process in its first wait, before any of our code is at fault.
        for last in (False, False, True) if "LD_PRELOAD" in environment else (True,):
            bridge = Bridge(self.path, environment)
            try:
                wait_until(bridge.answers(self.bank), 60 if last else 25)
            except AssertionError as error:
                told = bridge.log.read_text()
                bridge.end()
                if last:
                    raise AssertionError(told) from error
                continue
            break
        try:
            yield bridge
        finally:
            bridge.end()

    def act(self, what: str, /, **argument: object) -> list[str]:
        """What a person does; why it was refused."""
        answer = ask(self.journal, {"ask": "act", "bank": "north", "name": what, "by": "test", "argument": argument})
        assert "error" not in answer, answer
        return list(answer["refused"])

    def bank(self) -> dict[str, Any]:
        """The bank's state as `revival status` tells it; empty while there is none."""
        try:
            return dict(ask(self.journal, {"ask": "status"})["banks"].get("north", {}))
        except (CannotReachError, KeyError):
            return {}

    def flags(self) -> set[str]:
        """Names of raised flags."""
        return {flag["name"] for flag in self.bank().get("flags", ())}

    def charge(self) -> None:
        """Checklist, proof, start: the relay closes and current flows."""
        wait_until(lambda: self.bank().get("temperature") is not None, 20, "readings")
        assert self.act("checklist", name="the keeper") == []
        assert self.act("prove") == []
        wait_until(lambda: not ask(self.journal, {"ask": "proof", "bank": "north"})["proving"], 60, "proof")
        assert ask(self.journal, {"ask": "proof", "bank": "north"})["proof"]["passed"]
        assert self.act("start") == []
        assert self.relay.wait_for(True)
        time.sleep(1.5)  # the meters have told of the current

    def events(self, *kinds: str) -> list[Event]:
        """Journaled events, in order of time."""
        with JournalReader(self.journal) as reader:
            return reader.events("north", 0.0, 1e11, kinds or None)

    def close(self) -> None:
        """Everything off."""
        self.meters.close()
        self.relay.close()


class Bridge:
    """`revival run` in a process of its own; its output in a file beside the cabin file."""

    def __init__(self, path: Path, environment: dict[str, str]) -> None:
        self.log = path.parent / f"bridge{next(NUMBER)}.log"
        with self.log.open("wb") as out:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "bridge", "run", "--config", str(path)],
                stdout=out, stderr=subprocess.STDOUT, cwd=ROOT, env={**os.environ, **environment},
            )  # fmt: skip

    def answers(self, bank: Callable[[], dict[str, Any]]) -> Callable[[], bool]:
        """Whether it has heard the probe; it may not have ended by itself."""

        def heard() -> bool:
            assert self.process.poll() is None, "it ended by itself"
            return bank().get("temperature") is not None

        return heard

    def kill(self) -> None:
        """As a power cut would end it."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(10)

    def end(self, timeout: float = 15.0) -> float:
        """In good order; how long it took [s]."""
        began = time.monotonic()
        self.process.send_signal(signal.SIGCONT)
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(timeout)
            except subprocess.TimeoutExpired:
                self.kill()
                raise
        return time.monotonic() - began
