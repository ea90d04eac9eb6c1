"""The bridge's whole cycle over general brokers, each with its own settings: what works, what a broker does not give.

On demand: ``python tests/bench/brokers.py --folder FOLDER`` (README.md beside this says what to install where). Each
broker is started as a process of its own on free loopback ports, and `revival run` as another one; meters and a relay
that answers do the rest. Ends with 1 when a broker is not installed or a step did not come out.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sqlite3
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from paho.mqtt.client import Client, MQTTMessage
from pydantic import SecretStr

from bridge.mqtt.ear import spoken
from bridge.runtime.control_socket import ask
from bridge.settings import BrokerSettings
from tests.support.brokers import wait_until
from tests.support.cabin import shunt
from tests.support.fault_rig import Rig
from tests.support.other_brokers import KINDS, Kind, OtherBroker, client_of, kept

SET = "cabin/charger/set"
HOT, WARM, COOL = 44.0, 42.0, 25.0  #: [degC] above the limit, below it, usual
BEFORE, AWAY = 200, 500  #: stamped messages right before the kill, and while the bridge is away


class Stamps:
    """Moments of which no two share a millisecond, remembered [ms]."""

    def __init__(self) -> None:
        self.given: list[int] = []
        self._lock = threading.Lock()

    def __call__(self) -> float:
        with self._lock:
            self.given.append(max(int(time.time() * 1000.0), self.given[-1] + 1 if self.given else 0))
            return self.given[-1] / 1000.0


class Cycle:
    """All steps over one broker; what came of each."""

    def __init__(self, broker: OtherBroker, folder: Path, protocol: str) -> None:
        self.broker, self.steps, self.missing = broker, dict[str, str](), dict[str, str]()
        self.rig = Rig(broker, folder, login=broker.login)
        (folder / "password").write_text(broker.login[1])
        (folder / "password").chmod(0o600)
        login = f'username = "{broker.login[0]}"\npassword_file = "password"'
        self.rig.edit("[broker]", f'[broker]\nprotocol = "{protocol}"\nin_flight = {broker.kind.in_flight}\n{login}')
        self.told: set[str] = set()  #: topics that the bridge publishes retained
        self.ear = client_of(broker)
        self.ear.on_message = self._hear
        self.ear.subscribe("homie/#", 1)
        self.ear.loop_start()
        self.stamps = Stamps()

    def _hear(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        (self.told.add if message.payload else self.told.discard)(message.topic)

    def step(self, name: str, do: Callable[[], object]) -> None:
        """Do it; `yes` or what it measured, or `no` and why."""
        try:
            told = do()
            self.steps[name] = str(told) if told else "yes"
        except Exception as error:  # whatever a broker does, the next step is tried too
            self.steps[name], self.missing[name] = "no", " ".join(str(error).split())[-400:] or repr(error)

    def run(self) -> None:
        """From the first reading to the last count."""
        rig = self.rig
        with rig.process() as bridge:
            self.step("readings", lambda: wait_until(lambda: rig.bank().get("temperature") is not None, 10))
            rig.meters.stamp = self.stamps  # what came before there was a session nobody keeps
            self.step("checklist", lambda: self._taken("checklist", name="the keeper"))
            self.step("proof", self._prove)
            self.step("start, relay closes", lambda: self._closes("start"))
            self.step("current flows", lambda: wait_until(lambda: (rig.bank().get("current") or 0.0) > 19.0, 10))
            self.step("hot opens it [ms]", self._heat)
            self.step("reset", self._reset)
            self.step("resume, relay closes", lambda: self._closes("resume"))
            self._burst(BEFORE)
            began, before = time.monotonic(), len(self.stamps.given)
            bridge.kill()
            self.step("kill: a will opens it [ms]", lambda: self._opened(began))
            self.step("kill: the tree says lost", lambda: wait_until(self._lost, 10, "no retained lost"))
        self.step("messages meanwhile taken", lambda: self._burst(AWAY, 60.0))
        rig.meters.publish(SET, "ON", retain=True)
        with rig.process():
            self.step("kept ON cleared at start", self._cleared)
            self.step("each stamp once", lambda: self._counted(before))
            self.step("late # gets what is kept", lambda: self._late("#"))
            self.step("late homie/# gets it", lambda: self._late("homie/#"))

    def _taken(self, act: str, /, **argument: object) -> None:
        refused = self.rig.act(act, **argument)
        assert not refused, refused

    def _prove(self) -> None:
        self._taken("prove")
        wait_until(lambda: not self._proof()["proving"], 30, "proof goes on")
        assert self._proof()["proof"]["passed"], self._proof()["proof"]

    def _proof(self) -> dict[str, Any]:
        return ask(self.rig.journal, {"ask": "proof", "bank": "north"})

    def _closes(self, name: str) -> None:
        self._taken(name)
        assert self.rig.relay.wait_for(True), f"open after {name}"

    def _heat(self) -> str:
        """Two readings above the limit; the time from the second one's publish to the relay's being told."""
        meters, relay = self.rig.meters, self.rig.relay
        meters.heat(WARM)
        meters.probe_speaks = False
        time.sleep(1.0)
        payload = f"{HOT * 1.8 + 32.0:.1f}"
        meters.publish("cabin/probe", payload)
        time.sleep(0.5)
        assert relay.closed, "open before"
        began = time.monotonic()
        meters.client.publish("cabin/probe", payload, qos=1)
        try:
            return self._opened(began)
        finally:
            meters.probe_speaks = True

    def _opened(self, began: float) -> str:
        assert self.rig.relay.wait_for(False), "the relay stays closed"
        return f"{1000.0 * (time.monotonic() - began):.1f}"

    def _reset(self) -> None:
        self.rig.meters.heat(COOL)
        wait_until(lambda: not self.rig.act("reset"), 10, "refused")

    def _burst(self, count: int, wait: float = 0.0) -> None:
        """Numbered messages beside those of the meters; whether the broker took them in time [s]."""
        client, amps = self.rig.meters.client, 20.0 * self.rig.relay.closed
        sent = [client.publish("cabin/shunt", shunt(self.stamps(), 26.0, amps), qos=1) for _ in range(count)]
        if wait:
            wait_until(lambda: all(one.is_published() for one in sent), wait, "the broker acknowledges")

    def _lost(self) -> bool:
        states = [topic for topic in self.told if topic.endswith("/$state")]
        return b"lost" in kept(self.broker, *states).values()

    def _cleared(self) -> None:
        assert self.rig.relay.wait_for(False, 5.0), "it stays closed"
        wait_until(lambda: not kept(self.broker, SET), 20, "still kept")
        wait_until(lambda: self.rig.events("retained-order"), 5, "not told")

    def _stored(self) -> list[int]:
        with closing(sqlite3.connect(f"file:{self.rig.journal}?mode=ro", uri=True)) as connection:
            asked = "SELECT stamp FROM message JOIN topic ON topic.id = topic WHERE name = 'cabin/shunt'"
            return [row[0] for row in connection.execute(asked)]

    def _counted(self, before: int) -> str:
        self.rig.meters.shunt_speaks = False
        time.sleep(0.5)
        sent = set(self.stamps.given)
        try:
            wait_until(lambda: sent <= set(self._stored()), 15)
        except AssertionError:
            missing = sorted(sent - set(self._stored()))
            early = sum(stamp < self.stamps.given[before] for stamp in missing)
            raise AssertionError(f"{len(missing)} of {len(sent)} missing, {early} of them of before the kill") from None
        twice = len(self._stored()) - len(set(self._stored()))
        assert not twice, f"{twice} twice"
        return str(len(sent))

    def _late(self, pattern: str) -> str:
        found = self.told & kept(self.broker, pattern).keys()
        assert len(found) == len(self.told), f"{len(found)} of {len(self.told)}"
        return str(len(found))

    def close(self) -> None:
        """Everybody off."""
        self.ear.disconnect()
        self.ear.loop_stop()
        self.rig.close()


def found(broker: OtherBroker) -> str:
    """The protocol that the bridge's own commands find out."""
    user, password = broker.login
    return spoken(BrokerSettings(broker.host, broker.port, username=user, password=SecretStr(password))).protocol


def tried(kind: Kind, tools: Path, protocol: str | None) -> dict[str, Any]:
    """One row: the broker, the protocol the bridge finds (or is told), and every step."""
    with tempfile.TemporaryDirectory() as folder:
        broker = OtherBroker(kind, Path(folder, "broker"), tools)
        row: dict[str, Any] = {"broker": kind.name, "version": broker.version()}
        if not row["version"] or not shutil.which(kind.command[0].format(**broker.words)):
            return row | {"missing": {"installed": "not installed"}}
        try:
            broker.start()
            row["protocol"] = protocol or found(broker)
            cycle = Cycle(broker, Path(folder), row["protocol"])
            try:
                cycle.run()
            except Exception as error:
                cycle.missing["bridge"] = " ".join(str(error).split())[-400:]
            finally:
                cycle.close()
            return row | {"steps": cycle.steps, "missing": cycle.missing}
        except Exception as error:
            return row | {"missing": {"broker": " ".join(str(error).split())[-400:]}}
        finally:
            broker.stop()


def table(rows: list[dict[str, Any]]) -> str:
    """Steps down, brokers across; below it what is missing and why."""
    names = list(dict.fromkeys(step for row in rows for step in row.get("steps", ())))
    heads = [f"{row['broker']} {row['version'] or 'not installed'}, {row.get('protocol', '-')}" for row in rows]
    lines = [f"| step | {' | '.join(heads)} |", "|---" * (len(rows) + 1) + "|"]
    lines += [f"| {name} | {' | '.join(row.get('steps', {}).get(name, '-') for row in rows)} |" for name in names]
    lines += [f"{row['broker']}: {step}: {why}" for row in rows for step, why in row["missing"].items()]
    return "\n".join(lines)


def main() -> int:
    """Parse, try each, print the table; 0 when every broker is there and every step came out."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, default=Path(), help="where amqtt (bin/) and aedes (node_modules/) are")
    parser.add_argument("--only", choices=[kind.name for kind in KINDS], action="append", help="these brokers alone")
    parser.add_argument("--protocol", choices=("5", "3.1.1"), help="instead of the one that is found out")
    parser.add_argument("--json", action="store_true", help="rows for machines")
    options = parser.parse_args()
    rows = [
        tried(kind, options.folder.absolute(), options.protocol)
        for kind in KINDS if not options.only or kind.name in options.only
    ]  # fmt: skip
    print(json.dumps(rows) if options.json else table(rows))
    return int(any(row["missing"] for row in rows))


if __name__ == "__main__":
    sys.exit(main())
