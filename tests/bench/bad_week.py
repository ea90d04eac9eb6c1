"""A bad week: seven days at 500 times their speed through a real broker, with random faults all along.

On demand, as root since a small disk is mounted: ``python tests/bench/bad_week.py`` (about 20 minutes); the last line
is JSON. A pretended bank, relay,
database and person live here; the bridge is a process of its own that is killed, starved and misled. The seed decides
which faults come when. Judged afterwards: was anything lost that was promised, was there an unsafe minute, did memory
grow.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from bridge.app import log_to_stdout, running
from bridge.clock import PacedClock
from bridge.config import load
from bridge.errors import BridgeError
from bridge.journal.reader import JournalReader
from bridge.runtime.control_socket import ask
from rules.events import Reading
from rules.meters import GOOD, NEVER, remember, silence_limit
from rules.safety.read_back import REPEAT_SLOWLY
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import RelayStandIn, shunt, write_cabin
from tests.support.cards import Card
from tests.support.http_faults import FaultyDatabase, Reply

START, DAY, PERIOD = 1_795_590_000.0, 86_400.0, 60.0
LIMIT = 43.333
OWN_TIME = 150.0  #: 0.3 s of this machine at full speed [recorded s]
#: From harm to the open relay [recorded s]: two samples, the confirm window, and the machine's own time;
#: and from the last believable sample to the cut, beside the silence limit: a period, ten seconds, and the same.
HOT_BUDGET, BLIND_BUDGET = 2 * PERIOD + 60.0 + OWN_TIME, PERIOD + 10.0 + OWN_TIME
DISK_FAULTS = {"disk full", "disk read-only"}
#: What came so shortly before a disk took nothing had not been stored yet, and one that is back is tried again within
#: so long: what comes meanwhile is given up and counted [s of the machine].
BEFORE_DISK, DISK_BACK = 1.5, 2.0
#: What a broker was given so shortly before it was killed it may not have saved: that is not promised [s].
UNSAVED = 1.2
#: Kinds of faults and how often each comes in a day.
FAULTS = {
    "probe silent": 1.0, "shunt silent": 1.0, "probe garbage": 1.5, "probe in Fahrenheit": 0.7, "probe at 85": 1.5,
    "shunt in volts for millivolts": 0.7, "duplicates": 2.0, "late samples": 2.0, "flood": 1.0, "real heat": 1.5,
    "relay deaf": 0.7, "relay welded": 0.4, "hub closes the relay": 1.5, "broker killed": 0.7, "broker frozen": 0.7,
    "bridge killed": 1.5, "bridge frozen": 0.5, "journal locked": 1.0, "database down": 1.5, "retained reset": 1.0,
    "disk full": 0.7, "disk read-only": 0.5, "opened at the relay": 0.7, "hub opens the relay": 0.7, "retained ON": 0.7,
    "packs of one meter": 0.5, "nested brackets": 0.7, "stamps of tomorrow": 0.7, "a second bridge": 0.5,
    "a sheet sent twice": 1.0,
}  # fmt: skip


#: A meter that sends its whole day at once, 60 kB.
PACK = json.dumps([{"bn": "shunt", "bu": "V", "v": 26.0}, *({"v": 26.0, "t": -n} for n in range(2000))])


def child(path: Path, began: float, speed: float) -> int:
    """The bridge, on a clock that all its lives share."""
    log_to_stdout()
    clock = PacedClock(START + (time.time() - began) * speed, speed)
    clock.limit = float("inf")
    with running(load(path), clock) as service:
        signal.signal(signal.SIGTERM, lambda *_: service.stop())
        threading.Thread(target=service.end_when_hung, daemon=True).start()  # as in `bridge.app.serve`
        return service.run()


class Week:
    """The world around the bridge."""

    def __init__(self, folder: Path, days: float, speed: float, seed: int) -> None:
        self.folder, self.days, self.speed = folder, days, speed
        self.choose = random.Random(seed)
        lines = ["persistence true", "autosave_on_changes true", "autosave_interval 1", "max_queued_messages 1000000"]
        self.broker = Broker(folder / "broker", [*lines, f"persistence_location {folder}/broker/"]).start()
        self.database = FaultyDatabase()
        (folder / "token").write_text("token")
        extra = f'\n[influxdb]\nurl = "{self.database.url}"\norg = "o"\nbucket = "b"\ntoken_file = "token"\n'
        self.path = write_cabin(folder, self.broker.port, extra=extra)
        text = self.path.read_text().replace('"90 s"', '"1 h"').replace('time = "/t"', 'time = "/t"\nevery = "60 s"')
        self.card = Card(folder / "card", "256m")
        text = text.replace('path = "revival.db"', f'path = "{self.card.path}/revival.db"')
        self.path.write_text(text.replace('placed = "cell"', 'placed = "cell"\nevery = "60 s"'))
        self.journal = load(self.path).cabin.journal.path
        self.relay = RelayStandIn(self.broker.port, auto_off=3600.0 / speed)
        self.client = Client(CallbackAPIVersion.VERSION2, client_id="week")
        self.client.max_inflight_messages_set(1000)
        self.client.connect("127.0.0.1", self.broker.port)
        self.client.loop_start()
        self.active: dict[str, float] = {}  # fault -> until, recorded
        self.injected: Counter[str] = Counter()
        self.seen: Counter[str] = Counter()
        self.stamps: dict[float, float] = {}  # -> when it was sent [s, monotonic]
        self.sent_during: dict[float, list[str]] = {}  # stamp -> what was wrong just then
        self.broker_kills: list[float] = []
        self.unstored: dict[int, int] = {}  # life -> acknowledged without being stored, as far as was asked
        self.celsius, self.believable_at, self.hot_since = 22.0, START, 0.0
        self.probe, self.heard = load(self.path).cabin.banks["north"].by_name["electrolyte_temperature"], NEVER
        self.disk_faults: list[list[float]] = []  # from, to [s, monotonic]
        self.thawed_at = self.deaf_until = 0.0
        self.unsafe: list[dict[str, Any]] = []
        self.closed_minutes = self.lives = self.late = 0
        self.memory: list[tuple[int, int, int]] = []  # life, recorded hour, kB
        self.began = time.time()
        self.bridge: subprocess.Popen[bytes] | None = None
        self.log = (folder / "bridge.log").open("ab")

    def now(self) -> float:
        """Recorded time."""
        return START + (time.time() - self.began) * self.speed

    # ------------------------------------------------------------------------------- the bridge

    def start_bridge(self) -> None:
        self.lives += 1
        words = [
            sys.executable,
            __file__,
            "--child",
            str(self.path),
            "--began",
            str(self.began),
            "--speed",
            str(self.speed),
        ]
        self.bridge = subprocess.Popen(words, stdout=self.log, stderr=self.log)

    def ask(self, **request: Any) -> dict[str, Any]:
        with contextlib.suppress(BridgeError):
            return ask(self.journal, request)
        return {}

    def act(self, what: str, **argument: object) -> list[str]:
        return list(self.ask(ask="act", bank="north", name=what, argument=argument).get("refused", ["no bridge"]))

    def person(self) -> None:
        """Comes by: looks, resets what is over, and lets it go on."""
        status = self.ask(ask="status")
        bank = status.get("banks", {}).get("north")
        if not bank:
            return
        self.unstored[self.lives] = status["bridge"]["unstored"]
        for flag in bank["flags"]:
            self.seen[flag["name"]] += 1
        flags = {flag["name"] for flag in bank["flags"]}
        proof = self.ask(ask="proof", bank="north")
        if bank["tripped"] and not self.act("reset"):
            self.seen["a person reset"] += 1
        if not proof.get("proof", {}).get("passed") and not proof.get("proving"):
            self.act("checklist", name="the keeper")
            self.act("prove")
        elif not bank["charge_allowed"]:
            # What waits goes on; where nothing does, as after a journal that was lost, a round begins anew.
            acts = ("start",) if bank["phase"] in ("idle", "resting") else ("resume", "start")
            if any(not self.act(act) for act in acts):
                self.seen["a person let it go on"] += 1
        if "charge-limit" in flags and not self.act("abandon"):
            self.act("start")  # another round
        if "water-reserve" in flags:
            self.ask(ask="record", bank="north", kind="water", values={"": 2000.0})
        if self.bridge is not None and self.bridge.poll() is None:
            process = Path(f"/proc/{self.bridge.pid}/status").read_text()
            kilobytes = int(process.split("VmRSS:")[1].split()[0])
            self.memory.append((self.lives, int((self.now() - START) / 3600.0), kilobytes))

    # --------------------------------------------------------------------------------- the meters

    def report(self, at: float) -> None:
        """One round of samples, as the active faults let them be."""
        active, closed = self.active, self.relay.closed
        amps = 20.0 if closed else 0.0
        volts = 12 * (2.35 if closed else 2.10) + self.choose.gauss(0.0, 0.02)
        if "shunt silent" not in active:
            shown = volts / 1000.0 if "shunt in volts for millivolts" in active else volts
            payload = shunt(at, shown, amps)
            if "stamps of tomorrow" in active:
                self.client.publish("cabin/shunt", shunt(at + DAY, shown, amps), qos=1)
            elif "late samples" in active and self.choose.random() < 0.3:
                threading.Timer(self.choose.uniform(0.05, 0.3), self.send, ("cabin/shunt", payload, at)).start()
                self.late += 1
            else:
                self.send("cabin/shunt", payload, at)
                if "duplicates" in active:
                    self.client.publish("cabin/shunt", payload, qos=1)
        if "probe silent" in active:
            return
        fahrenheit = self.celsius * 1.8 + 32.0
        if "probe garbage" in active:
            payload = self.choose.choice(["unavailable", "", "nan", "7_7", "\ufeff25"])
        elif "probe in Fahrenheit" in active:
            payload = f"{fahrenheit * 1.8 + 32.0:.2f}"  # converted twice
        elif "probe at 85" in active and self.choose.random() < 0.3:
            payload = "185"
        else:
            payload = f"{fahrenheit:.2f}"
            self.believe(at)
        self.client.publish("cabin/probe", payload, qos=1)

    def believe(self, at: float) -> None:
        """Take note that something believable was sent; what gets lost now and then is known to be lost."""
        self.believable_at = at
        self.heard = remember(self.heard, Reading("north", self.probe.name, self.celsius, at, at), GOOD, "")

    def send(self, topic: str, payload: str, stamp: float) -> None:
        # As the journal rounds: `round(stamp, 3)` differs from it for one stamp in eight thousand.
        kept = round(stamp * 1000.0) / 1000.0
        self.stamps[kept] = time.monotonic()
        self.sent_during[kept] = sorted(self.active)
        self.client.publish(topic, payload, qos=1)

    def nature(self, elapsed: float) -> None:
        """Electrolyte warms while charging, and more where the fault says so; the truth that safety is judged by."""
        ambient = 18.0
        gain = 8.0 if self.relay.closed else 0.0
        if "real heat" in self.active:
            gain += 40.0
        self.celsius += (ambient + gain - self.celsius) * min(1.0, elapsed / (3600.0 if gain < 40.0 else 2400.0))

    def judge(self, at: float) -> None:
        """Was this minute unsafe?"""
        if self.celsius < LIMIT:
            self.hot_since = 0.0
        elif not self.hot_since:
            self.hot_since = at
        if not self.relay.closed:
            return
        self.closed_minutes += 1
        # Nothing in software opens a welded or deaf relay; without broker or bridge only its own auto-off does, an hour
        # after the last ON, and they stand still for less.
        excused = {"relay welded", "relay deaf", "broker frozen", "bridge frozen"} & self.active.keys()
        if at - self.deaf_until < REPEAT_SLOWLY + OWN_TIME:
            excused |= {"relay that hears again, and was not told again yet"}
        if at - self.thawed_at < OWN_TIME:
            excused |= {"broker or bridge just thawed"}
        hot = self.hot_since and at - self.hot_since > HOT_BUDGET
        blind = at - self.believable_at > silence_limit(self.probe, self.heard) + BLIND_BUDGET
        if hot or blind:
            why = "hot" if hot else "blind"
            if excused:
                self.seen[f"{why} with a {min(excused)}"] += 1
            else:
                told = self.relay.told[-1] if self.relay.told else ""
                self.unsafe.append({"hour": round((at - START) / 3600.0, 2), "why": why, "told": told,
                                    "active": sorted(self.active), "celsius": round(self.celsius, 1)})  # fmt: skip
                print(self.unsafe[-1], flush=True)

    # --------------------------------------------------------------------------------- the faults

    def faults(self, at: float, elapsed: float) -> None:
        """Begin some, end those whose time is over."""
        for name in [name for name, until in self.active.items() if until <= at]:
            del self.active[name]
            self.end(name)
        for name, daily in FAULTS.items():
            if name in DISK_FAULTS and DISK_FAULTS & self.active.keys():
                continue  # a disk has one at a time
            if name not in self.active and self.choose.random() < daily * elapsed / DAY:
                self.injected[name] += 1
                self.active[name] = at + self.choose.uniform(5.0, 60.0) * 60.0
                self.begin(name, at)

    def begin(self, name: str, at: float) -> None:
        if name in DISK_FAULTS:
            self.disk_faults.append([time.monotonic(), float("inf")])
        if name == "flood":
            self.believe(at + self.speed)  # each of them can be believed, and the last is on its way for a second
            for _ in range(5000):
                self.client.publish("cabin/probe", f"{self.celsius * 1.8 + 32.0:.2f}", qos=0)
        elif name in ("relay deaf", "relay welded"):
            self.relay.obeys = False
        elif name == "hub closes the relay":
            self.client.publish("cabin/charger/set", "ON", qos=1)
        elif name == "retained reset":
            for topic, payload in (("safety/reset", "true"), ("revival/command", "resume")):
                self.client.publish(f"homie/5/tarn-hut-north/{topic}/set", payload, qos=1, retain=True)
        elif name == "broker killed":
            time.sleep(UNSAVED)
            self.broker_kills.append(time.monotonic())
            self.broker.stop(signal.SIGKILL)
            self.broker.start()
        elif name == "broker frozen":
            self.broker.freeze()
            self.active[name] = at + 2.0 * self.speed
        elif name == "bridge killed":
            self.bridge_killed(lambda: None)
        elif name == "bridge frozen" and self.bridge is not None:
            self.bridge.send_signal(signal.SIGSTOP)
            self.active[name] = at + 3.0 * self.speed
        elif name == "journal locked":
            threading.Thread(target=self.lock_journal, daemon=True).start()
        elif name == "disk full":
            self.card.fill()
        elif name == "disk read-only":
            # Nobody can make a disk read-only while somebody writes to it: the bridge finds it so when it comes back.
            self.bridge_killed(lambda: self.card.read_only(True))
        elif name == "opened at the relay":
            self.relay.push(False)
        elif name == "hub opens the relay":
            self.client.publish("cabin/charger/set", "OFF", qos=1)
        elif name == "retained ON":
            self.client.publish("cabin/charger/set", "ON", qos=1, retain=True)
        elif name == "packs of one meter":
            for _ in range(100):
                self.client.publish("cabin/shunt", PACK, qos=0)
        elif name == "nested brackets":
            for _ in range(20):
                self.client.publish("cabin/shunt", "[" * 60_000, qos=0)
        elif name == "a second bridge":
            threading.Thread(target=self.second_bridge, daemon=True).start()
        elif name == "a sheet sent twice":
            for _ in range(2):
                self.ask(ask="record", bank="north", kind="gravity", values={"N1.1": 1.265}, temperature=25.0,
                         key=f"walk-{at:.0f}")  # fmt: skip
        elif name == "database down":
            self.database.script = lambda lines: Reply(self.choose.choice((503, 500, 429)), "busy")

    def end(self, name: str) -> None:
        if name in ("relay deaf", "relay welded"):
            self.relay.obeys = True
            self.deaf_until = self.now()
        elif name == "broker frozen":
            self.broker.thaw()
            self.thawed_at = self.now()
        elif name == "bridge frozen" and self.bridge is not None:
            self.bridge.send_signal(signal.SIGCONT)
            self.thawed_at = self.now()
        elif name == "disk full":
            self.card.free()
            self.disk_faults[-1][1] = time.monotonic()
        elif name == "disk read-only":
            self.card.read_only(False)
            self.disk_faults[-1][1] = time.monotonic()
        elif name == "retained ON":
            self.client.publish("cabin/charger/set", "", qos=1, retain=True)
        elif name == "database down":
            self.database.script = lambda lines: Reply()

    def bridge_killed(self, meanwhile: Callable[[], None]) -> None:
        """As a power cut ends it; it comes back at once."""
        assert self.bridge is not None
        self.bridge.kill()
        self.bridge.wait(10)
        meanwhile()
        self.start_bridge()

    def second_bridge(self) -> None:
        """Somebody starts it again; it must end by itself, because one runs on this journal already."""
        words = [sys.executable, __file__, "--child", str(self.path), "--began", str(self.began), "--speed"]
        with (self.folder / "second.log").open("ab") as log:
            second = subprocess.Popen([*words, str(self.speed)], stdout=log, stderr=log)
        try:
            self.seen[f"a second bridge ended with {second.wait(30)}"] += 1
        except subprocess.TimeoutExpired:
            second.kill()
            second.wait(10)
            self.seen["a second bridge ran on"] += 1

    def lock_journal(self) -> None:
        with contextlib.suppress(sqlite3.Error), closing(sqlite3.connect(self.journal, timeout=5)) as connection:
            connection.execute("BEGIN EXCLUSIVE")
            time.sleep(3.0)  # within the patience of the journal: nothing may be given up
            connection.rollback()

    # --------------------------------------------------------------------------------------- run

    def run(self) -> dict[str, Any]:
        """The whole week; the report."""
        self.start_bridge()
        # What is published before the broker knows of the bridge's session is kept for nobody.
        wait_until(lambda: self.ask(ask="status").get("bridge", {}).get("connected"), 60, "the bridge is connected")
        time.sleep(2.0)
        before, next_person, next_word = self.now(), 0.0, 0.0
        end = START + self.days * DAY
        while (at := self.now()) < end:
            elapsed = at - before
            before = at
            self.nature(elapsed)
            self.report(at)
            self.judge(at)
            self.faults(at, elapsed)
            if at >= next_person:
                next_person = at + 3600.0
                self.person()
            if at >= next_word:
                next_word = at + DAY / 4
                print(f"day {(at - START) / DAY:.2f}: {sum(self.injected.values())} faults, {len(self.unsafe)} unsafe, "
                      f"{self.lives} lives, {self.memory[-1][2] if self.memory else 0} kB", flush=True)  # fmt: skip
            if self.bridge is not None and self.bridge.poll() is not None:
                self.seen[f"bridge ended by itself with {self.bridge.returncode}"] += 1
                self.start_bridge()
            time.sleep(PERIOD / self.speed)
        for name in list(self.active):
            self.end(name)
        return self.finish()

    def finish(self) -> dict[str, Any]:
        """Let everything drain, stop, and compare."""
        deadline = time.monotonic() + 90.0
        while time.monotonic() < deadline and len(self.stored()) < len(self.stamps):
            time.sleep(0.5)
        wait_until(lambda: self.ask(ask="status"), 60, "still answers")
        status = self.ask(ask="status")["bridge"]
        assert self.bridge is not None
        self.bridge.terminate()
        code = self.bridge.wait(20)
        stored = self.stored()
        missing = set(self.stamps) - set(stored)
        unsaved = {
            stamp for stamp in missing
            if any(0.0 <= kill - self.stamps[stamp] <= UNSAVED for kill in self.broker_kills)
        }  # fmt: skip
        untold = sorted(missing - unsaved)
        full = {
            stamp
            for stamp in untold
            if any(begin - BEFORE_DISK <= self.stamps[stamp] <= end + DISK_BACK for begin, end in self.disk_faults)
        }
        oldest, thinned = self.thinned()
        given_up = {stamp for stamp in untold if stamp < oldest} - full
        with JournalReader(self.journal) as reader:
            kinds = Counter(event.kind for event in reader.events("north", 0.0, 1e11))
        growth = [rows[-1][2] - rows[len(rows) // 3][2] for rows in self.by_life() if len(rows) >= 6]
        self.relay.close()
        self.client.disconnect()
        self.client.loop_stop()
        self.broker.stop()
        self.database.close()
        return {
            "days": self.days, "speed": self.speed, "lives": self.lives, "exit": code,
            "injected": dict(sorted(self.injected.items())), "seen by the person": dict(sorted(self.seen.items())),
            "events": dict(sorted(kinds.items())), "minutes with the relay closed": self.closed_minutes,
            "unsafe minutes": len(self.unsafe), "unsafe": self.unsafe[:10],
            "stamped messages": len(self.stamps), "missing": len(missing - unsaved - full - given_up),
            "given up, oldest first, for what was newer": len(given_up), "rows of all meters so given up": thinned,
            "not stored while the disk took nothing": len(full),
            "not saved by a killed broker": len(unsaved), "twice": len(stored) - len(set(stored)),
            "missing, when": [
                {"hour": round((stamp - START) / 3600.0, 2), "active": self.sent_during[stamp]}
                for stamp in sorted(missing - unsaved - full - given_up)[:10]
            ],
            "unstored, counted": sum({**self.unstored, self.lives: status["unstored"]}.values()), "late": self.late,
            "points in the database": len(self.database.points),
            "memory kB": [self.memory[0][2], max(row[2] for row in self.memory)],
            "memory by quarter of a day kB": [row[2] for row in self.memory[::6]],
            "growth within a life after its first third kB": max(growth, default=0),
        }  # fmt: skip

    def leave(self) -> None:
        """Nothing that it started or mounted outlives it."""
        if self.bridge is not None and self.bridge.poll() is None:
            self.bridge.kill()
            self.bridge.wait(10)
        self.broker.stop()
        self.card.close()

    def by_life(self) -> Iterator[list[tuple[int, int, int]]]:
        """Memory samples of each life of the bridge."""
        for life in range(1, self.lives + 1):
            yield [row for row in self.memory if row[0] == life]

    def thinned(self) -> tuple[float, int]:
        """Return when the oldest raw message still in the journal came [s], and how many before it were given up.

        Rows are numbered one after the other and the newest is never removed: what is below the first is what went.
        """
        with closing(sqlite3.connect(f"file:{self.journal}?mode=ro", uri=True, timeout=10)) as connection:
            row = connection.execute("SELECT at, id FROM message ORDER BY id LIMIT 1").fetchone()
        return (row[0] / 1000.0, row[1] - 1) if row else (0.0, 0)

    def stored(self) -> list[float]:
        """Stamps in the journal."""
        sql = (
            "SELECT stamp FROM message JOIN topic ON topic.id = message.topic "
            "WHERE topic.name = 'cabin/shunt' AND stamp IS NOT NULL"
        )
        with (
            contextlib.suppress(sqlite3.Error),
            closing(sqlite3.connect(f"file:{self.journal}?mode=ro", uri=True, timeout=10)) as connection,
        ):
            return [row[0] / 1000.0 for row in connection.execute(sql)]
        return []


def main() -> int:
    """Parse, run, print the report; 0 when nothing was lost and no minute was unsafe."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=float, default=7.0)
    parser.add_argument("--speed", type=float, default=500.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--calm", action="store_true", help="no faults: what memory does by itself")
    parser.add_argument("--child", type=Path)
    parser.add_argument("--began", type=float, default=0.0)
    options = parser.parse_args()
    if options.child:
        return child(options.child, options.began, options.speed)
    if options.calm:
        FAULTS.clear()
    with tempfile.TemporaryDirectory() as folder:
        week = Week(Path(folder), options.days, options.speed, options.seed)
        try:
            report = week.run()
        finally:
            week.leave()
    print(json.dumps(report))
    too_many = report["given up, oldest first, for what was newer"] > report["rows of all meters so given up"]
    return int(bool(report["missing"] or report["twice"] or report["unsafe minutes"] or too_many))


if __name__ == "__main__":
    sys.exit(main())
