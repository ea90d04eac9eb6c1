"""Workers and drivers of `follow` are killed while parcels come late, twice, torn, foreign and from a newer version.

`python -m tests.bench.fleet.kills --workers 20 --drivers 10` prints what was lost, doubled or wrong: rows are held
against the fold alone, and against an undisturbed `follow` over the same store. Only processes that it started are
killed, each by its number.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pyarrow.dataset as datasets

from bridge.fleet.fold import InRow
from tests.support.made_parcels import (
    Made,
    cabin_parcel,
    cabin_text,
    folded,
    message_parcels,
    newer,
    put,
    round_messages,
    rows_of,
)

SITES = ("alm", "beck", "carn")
#: The site whose cabin file changes in mid-round.
CHANGES = "beck"
#: The last life, which takes in all that is left, has so long [s].
PATIENCE = 900.0

#: Of one parcel [h]: small, so that many batches can be killed.
HOURS = 0.03
#: Parcels come so far apart while something is waited for [s].
AGAIN = 2.0
#: Workers killed in one batch at most; Spark itself gives a task up after four.
A_BATCH = 2

Cabins = dict[str, list[tuple[int, str]]]


def plan(messages: int, seed: int) -> tuple[list[Made], list[InRow], Cabins]:
    """Return parcels in the order in which they come, the rows of each site, and its cabin files."""
    rows = rows_of(round_messages(messages))
    made: list[Made] = []
    cabins: Cabins = {}
    for site in SITES:
        text = cabin_text(site)
        cabins[site] = [(1, text)]
        made.append(cabin_parcel(site, text, 1, rows[0].at))
        if site == CHANGES:
            turn, other = len(rows) // 2, text.replace('"cabin/shunt"', '"cabin/other"')
            cabins[site].append((turn, other))
            made.append(cabin_parcel(site, other, turn, rows[turn].at, before=text))
        made += message_parcels(site, rows, cabins[site], HOURS)
    random.Random(seed).shuffle(made)
    return made, rows, cabins


class Feeder:
    """Lays parcels into the store, some of them badly."""

    def __init__(self, store: Path, made: list[Made], seed: int) -> None:
        self._store, self._waiting, self._laid = store, list(made), list[Made]()
        self._torn: list[Made] = []
        self._chance = random.Random(seed)
        self.done: Counter[str] = Counter()

    def next(self) -> None:
        """One thing that happens to a store."""
        turn = self._chance.random()
        if self._laid and turn < 0.25:
            put(self._store, self._chance.choice(self._laid))
            self.done["twice"] += 1
        elif turn < 0.35:
            self._foreign()
        elif (self._torn and turn < 0.5) or not self._waiting:
            if self._torn:
                self._lay(self._torn.pop())
        elif turn < 0.65:
            whole = self._waiting.pop()
            put(self._store, Made(whole.name, whole.data[: self._chance.randrange(1, len(whole.data))]))
            self._torn.append(whole)
            self.done["torn"] += 1
        else:
            self._lay(self._waiting.pop())

    @property
    def left(self) -> int:
        """Parcels that are not whole in the store yet."""
        return len(self._waiting) + len(self._torn)

    def _lay(self, made: Made) -> None:
        put(self._store, made)
        self._laid.append(made)
        self.done["laid"] += 1

    def _foreign(self) -> None:
        if self._chance.random() < 0.5 and self._laid:
            put(self._store, newer(self._chance.choice(self._laid), self.done["newer"]))
            self.done["newer"] += 1
            return
        folder = self._store / "site=alm" / "table=message" / "day=2026-06-15"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"holiday-{self.done['foreign']}.parquet").write_bytes(self._chance.randbytes(900))
        self.done["foreign"] += 1


def begin(store: Path, out: Path, engine: str, once: str, log: Path) -> subprocess.Popen[bytes]:
    """Start one life of `follow`."""
    words = [sys.executable, "-m", "tests.bench.fleet.one_follow", str(store), str(out), engine, once]
    with log.open("ab") as said:
        return subprocess.Popen(words, stdout=said, stderr=said, start_new_session=True)


def below(parent: int) -> list[tuple[int, str]]:
    """Return number and command of every process below one."""
    children: dict[int, list[tuple[int, str]]] = {}
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            try:
                status = (folder / "stat").read_text().rpartition(")")[2].split()
                words = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode()
            except (OSError, IndexError):
                continue
            children.setdefault(int(status[1]), []).append((int(folder.name), words))
    found, open_ = [], [parent]
    while open_:
        for number, words in children.get(open_.pop(), []):
            found.append((number, words))
            open_.append(number)
    return found


def kill(number: int) -> None:
    """Kill one process of ours, if it is still there."""
    try:
        os.kill(number, signal.SIGKILL)
    except ProcessLookupError:
        return


def end(life: subprocess.Popen[bytes]) -> None:
    """Kill a driver and everything below it, as a power cut would."""
    numbers = [number for number, _ in below(life.pid)]
    for number in (life.pid, *numbers):
        kill(number)
    life.wait()


def newest(out: Path, kind: str) -> int:
    """Return the newest batch that is begun (``offsets``) or done (``commits``); -1 = none."""
    found = (out / "follow/checkpoint" / kind).glob("[0-9]*")
    return max((int(path.name) for path in found), default=-1)


def in_batch(out: Path) -> bool:
    """Tell whether a batch is begun and not done."""
    return newest(out, "offsets") > newest(out, "commits")


def works(life: subprocess.Popen[bytes]) -> bool:
    """Tell whether a driver has workers: a batch that an earlier life left is under way again."""
    return any("pyspark.daemon" in words for _, words in below(life.pid))


def reach(out: Path, feeder: Feeder, life: subprocess.Popen[bytes], there: Callable[[], bool]) -> bool:
    """Wait until a life is somewhere, laying parcels now and then; False where it ends before."""
    laid = time.monotonic()
    while not there():
        if life.poll() is not None:
            return False
        time.sleep(0.05)
        if time.monotonic() - laid > AGAIN and not in_batch(out) and works(life):
            feeder.next()
            laid = time.monotonic()
    return True


def workers_die(store: Path, out: Path, engine: str, feeder: Feeder, kills: int, log: Path, seed: int) -> Counter[str]:
    """Kill workers of one driver, at most two in a batch; a driver that gives up is begun again."""
    chance, killed = random.Random(seed), Counter[str]()
    life = begin(store, out, engine, "on", log)
    batch, in_this = -1, 0
    while killed["workers"] + killed["executors"] < kills:
        if not reach(out, feeder, life, lambda: in_batch(out) and works(life)):
            killed["drivers that gave up"] += 1
            life = begin(store, out, engine, "on", log)
            continue
        now = newest(out, "offsets")
        batch, in_this = now, in_this + 1 if now == batch else 1
        if in_this > A_BATCH:
            reach(out, feeder, life, lambda: newest(out, "commits") >= now)
            continue
        time.sleep(chance.uniform(0.0, 1.0))
        there = below(life.pid)
        executors = [number for number, words in there if "CoarseGrainedExecutorBackend" in words]
        workers = [number for number, words in there if "pyspark.daemon" in words]
        chosen = executors if executors and chance.random() < 0.3 else workers
        if chosen:
            kill(chance.choice(chosen))
            killed["executors" if chosen is executors else "workers"] += 1
            print(f"{time.strftime('%H:%M:%S')} batch {now}, killed {dict(killed)}, {feeder.left} to come", flush=True)
    end(life)
    return killed


def drivers_die(store: Path, out: Path, feeder: Feeder, kills: int, log: Path, seed: int) -> int:
    """Kill the whole driver in the middle of a batch, every second time after it has got on by one."""
    chance = random.Random(seed)
    for number in range(kills):
        feeder.next()
        life = begin(store, out, "local[2]", "on", log)
        if number % 2:
            before = newest(out, "commits")
            reach(out, feeder, life, lambda: newest(out, "commits") > before)
        reach(out, feeder, life, lambda: in_batch(out) and works(life))
        time.sleep(chance.choice((0.0, 0.3, 0.6, 1.0, 2.0)))
        batches = newest(out, "offsets"), newest(out, "commits")
        end(life)
        print(f"{time.strftime('%H:%M:%S')} driver killed in {batches}, {feeder.left} to come", flush=True)
    return kills


def found(out: Path) -> dict[str, Counter[tuple[str, str, int, str]]]:
    """Return every row of states and events, as anybody reads the folder."""
    tables = {}
    for table in ("state", "event"):
        rows = datasets.dataset(out / f"table={table}", partitioning="hive").to_table().to_pylist()
        tables[table] = Counter((row["site"], row["bank"], row["number"], row["line"]) for row in rows)
    return tables


def judge(name: str, have: Counter[tuple[str, str, int, str]], want: Counter[tuple[str, str, int, str]]) -> bool:
    """Say what was lost, doubled or wrong."""
    places = Counter({row[:3]: count for row, count in have.items()})
    lost = sum(1 for row in want if row[:3] not in places)
    doubled = sum(count - 1 for count in have.values() if count > 1)
    wrong = sum(1 for row in have if row not in want)
    print(f"{name}: {want.total()} rows wanted, {lost} lost, {doubled} doubled, {wrong} wrong", flush=True)
    return not (lost or doubled or wrong)


def main() -> int:
    """Run the campaign; 1 where a row was lost, doubled or wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--workers", type=int, default=20)
    parser.add_argument("--drivers", type=int, default=10)
    parser.add_argument("--messages", type=int, default=1500, help="of each of three cabins")
    parser.add_argument("--engine", default="local-cluster[2,1,1024]", help="where workers die")
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="revival-kills-"))
    store, out, log = folder / "store", folder / "out", folder / "log"
    made, rows, cabins = plan(arguments.messages, arguments.seed)
    feeder = Feeder(store, made, arguments.seed)
    print(f"{len(made)} parcels of {len(SITES)} cabins; {folder}", flush=True)
    drivers_die(store, out, feeder, arguments.drivers, log, arguments.seed)
    killed: Counter[str] = Counter()
    if arguments.workers:
        killed = workers_die(store, out, arguments.engine, feeder, arguments.workers, log, arguments.seed)
    while feeder.left:
        feeder.next()
    lose_a_version(out)
    for target in (out, folder / "undisturbed"):
        life = begin(store, target, "local[2]", "once", log)
        if life.wait(PATIENCE) != 0:
            print(f"{target}: the last life ended with {life.returncode}: {log}")
            return 1
    print(f"drivers killed {arguments.drivers} times, {dict(killed)}, {dict(feeder.done)}")
    have, undisturbed = found(out), found(folder / "undisturbed")
    well = True
    for table in ("state", "event"):
        wanted = Counter(
            (row.site, row.bank, row.number, row.line)
            for site in SITES
            for row in folded(site, "north", rows, cabins[site])
            if row.table == table
        )
        well &= judge(f"{table}, against the fold", have[table], wanted)
        well &= judge(f"{table}, against an undisturbed run", have[table], undisturbed[table])
    aside = json.loads((out / "board" / "board.json").read_text())["refused"]
    print(f"left aside: {Counter(one['why'].split('(')[0].strip() for one in aside)}")
    if well:
        shutil.rmtree(folder)
    return 0 if well else 1


def lose_a_version(out: Path) -> None:
    """Remove the newest version of one partition of the state, and the changes that led to it."""
    states = [path for path in (out / "follow/checkpoint/state/0/0").glob("*") if path.suffix in (".changelog", ".zip")]
    last = max(int(path.stem.split("_")[0]) for path in states)
    for path in states:
        if int(path.stem.split("_")[0]) == last:
            path.unlink()


if __name__ == "__main__":
    sys.exit(main())
