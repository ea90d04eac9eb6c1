"""How many banks a core judges: bank-hours a second for `replay`, and for `judge` on one worker process and on two.

    python -m tests.bench.fleet.capacity [BANKS] [HOURS]

One journal of the demo's round is sent as parcels and written anew for as many sites as there are to be. Seconds are
CPU seconds of every process that took part, so that a busy machine gives nearly the same; the clock's stand beside.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import pyarrow as pa
import pyarrow.parquet as pq

from bridge.commands.replay import recorded
from bridge.message import Message
from bridge.outlets.parcel_file import Store, content
from bridge.outlets.parcel_schema import TABLES, parse
from tests.support.parcel_house import Cabin

DEMO, ROUND = Path("bridge/demo/cabin.toml"), Path("bridge/demo/round.jsonl.gz")
HOUR = 3600.0
#: Processes are looked at so often [s].
LOOK = 0.25
TICKS = os.sysconf("SC_CLK_TCK")
REVIVAL = [sys.executable, "-m", "bridge"]


class Spent(NamedTuple):
    """Seconds by the clock, CPU seconds of all processes, and those of Python alone."""

    wall: float
    cpu: float
    python: float


def messages(hours: float) -> list[Message]:
    """Return so many hours of the round, from its second day on."""
    kept = [message for message in recorded(ROUND) if not message.topic.endswith("/set")]
    begin = kept[0].at + 24 * HOUR
    return [message for message in kept if begin <= message.at < begin + hours * HOUR]


def again(parcels: Path, site: str, other: str) -> None:
    """Write a site's parcels anew under another name."""
    store = Store(str(parcels))
    hashes: dict[str, str] = {}
    places = [place for place, _ in store.below(f"site={site}")]
    for place in sorted(places, key=lambda place: "table=cabin" not in place):
        name = parse(place)
        assert name is not None
        file = pq.ParquetFile(parcels / place)
        rows = file.read()
        told = {key.decode().removeprefix("revival."): value.decode() for key, value in file.metadata.metadata.items()}
        times = [column for column, kind in TABLES[name.table].items() if kind.startswith("time")]
        columns = {key: rows[key].cast(pa.int64()) if key in times else rows[key] for key in rows.column_names}
        if name.table == "cabin":
            tables = json.loads(rows["text"][0].as_py())
            tables["site"]["id"] = other
            text = json.dumps(tables, sort_keys=True)
            hashes[rows["sha256"][0].as_py()] = digest = hashlib.sha256(text.encode()).hexdigest()
            columns |= {"text": [text], "sha256": [digest]}
        notes = {key: told[key] for key in ("bridge", "begins", "clock", "after", "cabin") if key in told}
        notes["cabin"] = hashes.get(notes.get("cabin", ""), "")
        target = name._replace(site=other)
        store.put(target.folder, target.file, content(target, columns, dict(notes)))


def cpu_of(root: int) -> dict[int, tuple[bool, float]]:
    """Return of a process and all that it started: whether it is Python, and its CPU seconds."""
    parents: dict[int, int] = {}
    spent: dict[int, tuple[bool, float]] = {}
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        try:
            name, _, rest = (entry / "stat").read_text().partition("(")[2].rpartition(")")
        except OSError:
            continue
        fields = rest.split()
        parents[int(entry.name)] = int(fields[1])
        spent[int(entry.name)] = ("python" in name, (int(fields[11]) + int(fields[12])) / TICKS)
    family = {root}
    while more := {child for child, parent in parents.items() if parent in family} - family:
        family |= more
    return {process: spent[process] for process in family if process in spent}


def logged(folder: Path) -> dict[str, str]:
    """Return the environment in which Spark writes down what each task moved."""
    settings = {"enabled": "true", "compress": "false", "rolling.enabled": "false", "dir": f"file://{folder}"}
    options = [f"--conf spark.eventLog.{key}={value}" for key, value in settings.items()]
    return {**os.environ, "PYSPARK_SUBMIT_ARGS": " ".join((*options, "pyspark-shell"))}


def shuffled(folder: Path) -> int:
    """Return the bytes that all tasks shuffled [bytes]."""
    lines = [json.loads(line) for path in folder.iterdir() for line in path.read_text().splitlines()]
    tasks = [line["Task Metrics"] for line in lines if line["Event"] == "SparkListenerTaskEnd"]
    return sum(task["Shuffle Write Metrics"]["Shuffle Bytes Written"] for task in tasks if task)


def run(words: list[str], environment: dict[str, str] | None = None) -> Spent:
    """Run a command and return what it took."""
    began = time.monotonic()
    seen: dict[int, tuple[bool, float]] = {}
    process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=environment)
    while process.poll() is None:
        seen |= cpu_of(process.pid)
        time.sleep(LOOK)
    if process.returncode:
        assert process.stderr is not None
        raise SystemExit(process.stderr.read().decode()[-2000:])
    wall = time.monotonic() - began
    return Spent(wall, sum(cpu for _, cpu in seen.values()), sum(cpu for python, cpu in seen.values() if python))


def main() -> None:
    """Print a table."""
    banks, hours = int(sys.argv[1]) if len(sys.argv) > 1 else 4, float(sys.argv[2]) if len(sys.argv) > 2 else 6.0
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        cabin = Cabin(DEMO, folder)
        taken = messages(hours)
        cabin.live(taken)
        cabin.send(folder / "parcels")
        cabin.journal.close()
        for number in range(1, banks):
            again(folder / "parcels", cabin.site, f"hut-{number}")
        size = sum(path.stat().st_size for path in (folder / "parcels").rglob("*.parquet"))
        print(f"{banks} banks of {hours:g} h, {banks * len(taken)} messages, {size / 1000:.0f} kB of parcels")
        words = ["export", "--journal", str(folder / f"{cabin.site}.db"), "--format", "messages"]
        run([*REVIVAL, *words, "--output", str(folder / "messages.jsonl")])
        words = ["replay", "--config", str(DEMO), "--messages", str(folder / "messages.jsonl")]
        spent = run([*REVIVAL, *words, "--output", str(folder / "s"), "--events", str(folder / "e")])
        print(f"replay: {hours:.0f} bank-hours, {spent.wall:.1f} s, CPU {spent.cpu:.1f} s: {hours / spent.cpu:.2f} a s")
        for engine in ("local-cluster[1,1,1024]", "local-cluster[2,1,1024]"):
            (log := folder / f"log{engine[14]}").mkdir()
            words = ["fleet", "judge", "--parcels", str(folder / "parcels"), "--out", str(folder / "out"), "--force"]
            spent = run([*REVIVAL, *words, "--engine", engine], logged(log))
            print(
                f"judge {engine}: {banks * hours:.0f} bank-hours, {spent.wall:.1f} s, CPU {spent.cpu:.1f} s, "
                f"of it Python {spent.python:.1f} s: {banks * hours / spent.python:.2f} a s of Python, "
                f"{shuffled(log) / 1000:.1f} kB shuffled"
            )


if __name__ == "__main__":
    main()
