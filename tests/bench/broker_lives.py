"""Many banks in a closed loop over a real broker, faults drawn at random; the sentence of `closed_loop.py` is held.

*Whenever the cell was over its limit for longer than the budget that `revival check` prints, the charger was off.*

``PYTHONPATH=. python tests/bench/broker_lives.py [--runs 1] [--bridges 4] [--seconds 3000] [--speed 30] [--seed 1]``
lets so many bridges, processes of their own on a clock that runs fast, watch eight banks each, as many as one guards,
through one real mosquitto on loopback. Each bank lives `seconds` with faults from its own seed; deaths and frosts of a
bridge are shared by its banks, those of the broker by all. The last line is JSON, the lines before it tell every
stretch in which the sentence was false.

Judged by two sums of seconds, from the moment a cell is over its limit with the charger on until either ends. While the
way from the meters over the bridge to the relay stands: at most the budget. While it does not (broker or bridge dead or
frozen, relay deaf, until the relay has been told something again): at most the relay's own auto-off, which the stand-in
keeps. Both may be longer by 0.3 s of this machine's own time. Not drawn is what `README.md` does not promise: a welded
contact, a probe that is wrong but plausible, another source.
"""

from __future__ import annotations

import argparse
import json
import queue
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter, deque
from collections.abc import Callable
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

import bridge.clock
import bridge.outlets.relay
from bridge.config import load
from bridge.config.time_budget import RELAY_SECONDS
from bridge.errors import BridgeError
from bridge.runtime.control_socket import ask
from rules.bank import Bank
from tests.bench.bad_week import child as paced_bridge
from tests.bench.closed_loop import KINDS, START, Found, Trouble, World
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import CABIN, RELAY

#: What is drawn for each bank: all of `closed_loop.py` but what the banks share, and a hub that means well [s].
OWN_KINDS = {kind: span for kind, span in KINDS.items() if not kind.startswith(("bridge", "broker"))} | {
    "hub sends ON": (1, 120)
}
#: What is drawn for the run, and for each bridge [s].
BROKER_KINDS = {"broker killed": (20, 200), "broker frozen": (2, 200)}
BRIDGE_KINDS = {"bridge killed": (2, 200), "bridge frozen": (2, 200)}
#: So many relays one bridge guards.
BANKS = 8
#: This machine's own time, in seconds of its own: samples that wait for a processor, sockets, the harness itself [s].
OWN_TIME = 0.3
#: Broker and bridge are whole again so long after their return at the latest: a start, a session's next attempt [s].
BACK_WITHIN = 15.0
#: Nothing is drawn before everybody had time to begin [s]; a hub that sees the charger off asks again so often [s].
QUIET, HUB_EVERY = 200, 5
#: What a person writes, and where.
ACTS = {
    "reset": ("safety/reset", "true"), "prove": ("safety/prove", "true"), "start": ("revival/command", "start"),
    "resume": ("revival/command", "resume"), "checklist": ("revival/checklist", "the keeper"),
}  # fmt: skip
#: The broker keeps what the bridge has not yet taken, and sends on while acknowledgements are on their way, as the
#: README has it.
BROKER_LINES = ["persistence true", "max_inflight_messages 1000", "set_tcp_nodelay true"]


def write_cabins(folder: Path, port: int, number: int) -> Path:
    """The small cabin eight times behind one bridge; the banks of the first are called b0x0, b0x1 and so on."""
    text = CABIN.format(port=port, relay=RELAY, journal="revival.db")
    head, _, rest = text.partition("[[bank]]")
    one, _, journal = rest.partition("[journal]")
    one = one.replace('placed = "cell"', 'placed = "cell"\nevery = "10 s"')
    head = head.replace("tarn-hut", f"tarn-hut-{number}")
    names = [f"b{number}x{each}" for each in range(BANKS)]
    tables = ["[[bank]]" + one.replace('"north"', f'"{name}"').replace('"cabin/', f'"{name}/') for name in names]
    folder.mkdir()
    path = folder / "cabin.toml"
    path.write_text(head.rstrip() + "\nin_flight = 1000\n\n" + "".join(tables) + "[journal]" + journal)
    return path


def child(path: Path, began: float, speed: float) -> int:
    """The bridge on its fast clock; a relay's auto-off passes by the same clock, the network by the machine's."""
    bridge.clock.steady = lambda: time.monotonic() * speed
    bridge.outlets.relay.LOOK_EVERY *= speed
    return paced_bridge(path, began, speed)


Publish = Callable[[str, bytes], None]


class BrokerLife(World):
    """A world that speaks and is told over the bus."""

    def __init__(self, seed: int, bank: Bank, auto_off: float, length: int, device: str, publish: Publish) -> None:
        super().__init__(seed, bank, auto_off, OWN_KINDS, length)
        self.device, self.publish = device, publish
        self.waiting: list[tuple[float, str, bytes]] = []
        self.tripped, self.phase, self.asked = False, "", 0
        self.broken_until = 0.0  #: the way to the relay counts as whole again from here, or when it is told something
        self.seen, self.unseen = 0, 0  # over its limit with the charger on: while the way stood, and while not [s]
        self.longest_unseen, self.false_seconds = 0, 0
        self.found: list[Found] = []
        self.base = 0.0  #: when its first second was, recorded
        self.history: deque[str] = deque(maxlen=20)

    def act(self, what: str, /, **argument: object) -> None:
        """A person's act, on the bus."""
        path, payload = ACTS[what]
        self.publish(f"homie/5/{self.device}/{path}/set", payload.encode())

    def reset_or_resume(self) -> None:
        """Whatever is taken next: a reset, a resume, or all that a start needs."""
        if self.tripped:
            self.act("reset")
        elif self.phase in ("idle", "resting"):
            self.asked += 1
            for what in ("start",) if self.asked % 2 else ("checklist", "prove"):
                self.act(what)
        else:
            self.act("resume")

    def _say(self, topic: str, payload: bytes, late: float) -> None:
        self.waiting.append((self.at + late, topic.replace("cabin/", f"{self.bank.id}/"), payload))

    def told(self, payload: str) -> None:
        """An order has come to the relay."""
        if self.has("relay deaf"):
            return
        self.broken_until = 0.0
        self._turn(payload == "ON", "told")
        self._report()

    def _turn(self, closed: bool, why: str) -> None:
        if closed:
            self.told_at = self.at
        if closed != self.closed:
            self.seen = self.unseen = 0  # a stretch ends where the charger goes off, and begins where it comes on
            self.history.append(f"{why} {'ON' if closed else 'OFF'} {self.at - self.base:.0f}")
        self.closed = closed

    def second(self, second: int, at: float, broken: bool, back: float) -> None:
        """One second; `broken`: no bridge or no broker just now; `back` is how long until both surely are again [s]."""
        self.at, self.base = at, self.base or at
        before, self.now = self.now, self.wrong(second)
        was = self.closed
        self._nature(second)
        self._meters(second)
        self._hands(second, before)
        if self.closed != was:
            now_closed, self.closed = self.closed, was
            self._turn(now_closed, "by hand or auto-off")
        if self.has("hub sends ON") and second % HUB_EVERY == 0 and not self.closed:
            self.publish(f"{self.bank.id}/charger/set", b"ON")
        if broken or self.has("relay deaf"):
            self.broken_until = at + back
        due = sorted((each for each in self.waiting if each[0] <= at), key=lambda each: each[0])
        self.waiting = [each for each in self.waiting if each[0] > at]
        for _, topic, payload in due:
            self.publish(topic, payload)

    def judge(self, second: int, own: float) -> None:
        """Is the sentence true in this second?"""
        self.over += self.is_over
        if not (self.is_over and self.closed):
            self.seen = self.unseen = 0
            return
        if self.at < self.broken_until:
            self.unseen += 1
        else:
            self.seen += 1
        self.longest, self.longest_unseen = max(self.longest, self.seen), max(self.longest_unseen, self.unseen)
        covered = self.auto_off + RELAY_SECONDS
        for lasted, allowed in ((self.seen, self.budget + own), (self.unseen, covered + own)):
            if lasted > allowed:
                self.false_seconds += 1
                if lasted - 1 <= allowed:
                    way = "the way stood" if lasted == self.seen else "the way was broken"
                    self.found.append(Found(self.seed, second, lasted, allowed, f"{way}; {self.drawn}; {self._past}"))

    @property
    def _past(self) -> str:
        return (
            f"now {self.at - self.base:.0f}, {self.temperature:.2f} degC, {self.cell:.3f} V: {', '.join(self.history)}"
        )


def draw(dice: random.Random, kinds: dict[str, tuple[int, int]], number: range, seconds: int) -> list[Trouble]:
    """So many troubles of these kinds."""
    found = []
    for kind in dice.choices(list(kinds), k=dice.choice(number)):
        begins = dice.randrange(QUIET, seconds)
        found.append(Trouble(kind, begins, begins + dice.randrange(*kinds[kind])))
    return sorted(found, key=lambda each: each.begins)


class House:
    """One bridge and its eight banks."""

    def __init__(self, folder: Path, port: int, seed: int, number: int, seconds: int, publish: Publish) -> None:
        self.path = write_cabins(folder, port, number)
        cabin = load(self.path).cabin
        self.journal = cabin.journal.path
        self.log = (folder / "bridge.log").open("ab")
        self.troubles = draw(random.Random(seed * 100 + number), BRIDGE_KINDS, range(3), seconds)
        self.lives = {
            relay.banks[0]: BrokerLife(seed * 1000 + number * BANKS + each, cabin.banks[relay.banks[0]],
                                       relay.auto_off or 0.0, seconds, f"{cabin.site}-{relay.banks[0]}", publish)
            for each, relay in enumerate(cabin.relays)
        }  # fmt: skip
        self.process: subprocess.Popen[bytes] | None = None
        self.now: frozenset[str] = frozenset()

    def start(self, began: float, speed: float) -> None:
        words = [sys.executable, __file__, "--child", str(self.path), "--began", str(began), "--speed", str(speed)]
        self.process = subprocess.Popen(words, stdout=self.log, stderr=self.log)

    def connected(self) -> bool:
        """Whether the bridge answers and has its broker."""
        try:
            return bool(ask(self.journal, {"ask": "status"})["bridge"]["connected"])
        except BridgeError:
            return False

    def fail(self, second: int, began: float, speed: float) -> None:
        """Kill, freeze, thaw and start as drawn."""
        before, self.now = self.now, frozenset(each.kind for each in self.troubles if each.begins <= second < each.ends)
        if "bridge killed" in before - self.now:
            self.start(began, speed)
        if self.process is None:
            return
        if "bridge frozen" in before - self.now:
            self.process.send_signal(signal.SIGCONT)
        if "bridge killed" in self.now - before:
            self.process.kill()
            self.process.wait(10)
            self.process = None
        elif "bridge frozen" in self.now - before:
            self.process.send_signal(signal.SIGSTOP)
        elif (code := self.process.poll()) is not None:
            raise RuntimeError(f"a bridge ended by itself with {code}")

    def leave(self) -> None:
        """Nothing that it started outlives it."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGCONT)
            self.process.terminate()
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait(10)
        self.log.close()


class Run:
    """One broker, some bridges, many lives."""

    def __init__(self, folder: Path, bridges: int, seconds: int, speed: float, seed: int) -> None:
        self.seconds, self.speed = seconds, speed
        self.troubles = draw(random.Random(seed), BROKER_KINDS, range(1, 4), seconds)
        self.broker = Broker(folder / "broker", [*BROKER_LINES, f"persistence_location {folder}/broker/"]).start()
        self.houses = [
            House(folder / str(each), self.broker.port, seed, each, seconds, self.publish) for each in range(bridges)
        ]
        self.lives = {name: life for house in self.houses for name, life in house.lives.items()}
        self.heard: queue.SimpleQueue[tuple[str, str]] = queue.SimpleQueue()
        self.late: list[float] = []  # so late was each second of the harness [s]
        self.began = time.time()
        self.client: Client | None = self._client()

    def _client(self) -> Client:
        """Meters, relays, hub and person, on one connection."""
        client = Client(CallbackAPIVersion.VERSION2, client_id="lives")
        client.max_inflight_messages_set(1000)

        def came(_client: Client, _data: object, message: MQTTMessage) -> None:
            self.heard.put((message.topic, message.payload.decode()))

        client.on_message = came
        client.connect("127.0.0.1", self.broker.port)
        topics = ("+/charger/set", "homie/5/+/safety/tripped", "homie/5/+/revival/phase")
        client.subscribe([(topic, 1) for topic in topics])
        client.loop_start()
        return client

    def publish(self, topic: str, payload: bytes) -> None:
        """Say something, where there is a broker."""
        if self.client is not None:
            self.client.publish(topic, payload, qos=1)

    def now(self) -> float:
        """Recorded time."""
        return START + (time.time() - self.began) * self.speed

    def fail(self, before: frozenset[str], now: frozenset[str]) -> None:
        """What goes wrong with the broker, and is well again."""
        if "broker killed" in before - now:
            self.broker.start()
            self.client = self._client()
        if self.broker.process is None:
            return
        if "broker frozen" in before - now:
            self.broker.thaw()
        if "broker killed" in now - before:
            assert self.client is not None
            self.client.disconnect()
            self.client.loop_stop()
            self.client = None
            self.broker.stop(signal.SIGKILL)
        elif "broker frozen" in now - before:
            self.broker.freeze()

    def run(self) -> None:
        """All lives, second by second."""
        for house in self.houses:
            house.start(self.began, self.speed)
        for house in self.houses:
            wait_until(house.connected, 60, "the bridge is connected")
        base = self.now()
        now: frozenset[str] = frozenset()
        for second in range(self.seconds):
            at = base + second
            while (left := (at - self.now()) / self.speed) > 0.0:
                self._take(left)
            self._take(0.0)
            self.late.append(-left)
            before, now = now, frozenset(each.kind for each in self.troubles if each.begins <= second < each.ends)
            self.fail(before, now)
            for house in self.houses:
                house.fail(second, self.began, self.speed)
                for life in house.lives.values():
                    life.second(second, at, bool(now | house.now), BACK_WITHIN * self.speed)
            self._take(0.0)
            for life in self.lives.values():
                life.judge(second, OWN_TIME * self.speed)

    def _take(self, patience: float) -> None:
        """What was told to the relays and is told of the banks; waits so long for the first of it [s]."""
        while True:
            try:
                topic, payload = self.heard.get(timeout=patience) if patience else self.heard.get_nowait()
            except queue.Empty:
                return
            patience = 0.0
            name = topic.partition("/")[0]
            if name in self.lives:
                self.lives[name].told(payload)
                continue
            life = self.lives[topic.split("/")[2].rpartition("-")[2]]
            if topic.endswith("tripped"):
                life.tripped = payload == "true"
            else:
                life.phase = payload

    def leave(self) -> None:
        """Nothing that it started outlives it."""
        if self.client is not None:
            self.client.disconnect()
            self.client.loop_stop()
        for house in self.houses:
            house.leave()
        self.broker.stop()


def report(runs: list[Run]) -> dict[str, Any]:
    """What came of them."""
    lives = [life for run in runs for life in run.lives.values()]
    drawn = Counter(each.kind for life in lives for each in life.troubles)
    drawn.update(each.kind for run in runs for each in run.troubles)
    drawn.update(each.kind for run in runs for house in run.houses for each in house.troubles)
    late = [each for run in runs for each in run.late]
    return {
        "lives": len(lives), "hours": round(sum(life.length for life in lives) / 3600.0, 1),
        "drawn": dict(sorted(drawn.items())),
        "over": sum(life.over > 0 for life in lives),
        "over with the charger on": sum(max(life.longest, life.longest_unseen) > 0 for life in lives),
        "budget": max(life.budget for life in lives), "own time": OWN_TIME * runs[0].speed,
        "longest": max(life.longest for life in lives),
        "longest while the way was broken": max(life.longest_unseen for life in lives),
        "longest excess": max(0.0, *(life.longest - life.budget for life in lives)),
        "harness late": {"median": round(statistics.median(late), 3), "most": round(max(late), 3)},
        "false seconds": sum(life.false_seconds for life in lives),
    }  # fmt: skip


def main() -> int:
    """Print the counter-examples, and one JSON line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--runs", type=int, default=1)
    parser.add_argument("--bridges", type=int, default=4)
    parser.add_argument("--seconds", type=int, default=3000)
    parser.add_argument("--speed", type=float, default=30.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--log", type=Path, help="keep what the bridges say, a file for each run")
    parser.add_argument("--child", type=Path)
    parser.add_argument("--began", type=float, default=0.0)
    options = parser.parse_args()
    if options.child:
        return child(options.child, options.began, options.speed)
    runs: list[Run] = []
    for seed in range(options.seed, options.seed + options.runs):
        with tempfile.TemporaryDirectory() as folder:
            run = Run(Path(folder), options.bridges, options.seconds, options.speed, seed)
            try:
                run.run()
            finally:
                run.leave()
                if options.log:
                    logs = sorted(Path(folder).glob("*/bridge.log"))
                    options.log.with_suffix(f".{seed}.log").write_text("".join(log.read_text() for log in logs))
        runs.append(run)
        for life in run.lives.values():
            for found in life.found:
                print(found, flush=True)
    told = report(runs)
    print(json.dumps(told))
    return 1 if told["false seconds"] else 0


if __name__ == "__main__":
    sys.exit(main())
