"""Kill the journal's process at random moments under load; count what was acknowledged and what is there.

On demand: ``python tests/bench/journal_crash.py --kills 200``. The last line is JSON. A child writes numbered stamped
messages and latches and says on its standard output what it would acknowledge; it is killed with SIGKILL (by its own
process id), and the next child is given everything again that was not acknowledged, as a broker would.
"""

from __future__ import annotations

import argparse
import json
import random
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.settings import JournalSettings
from rules.bank.model import Meter
from rules.events import Event, Reading

START = 1_795_590_000.0
METERS = {"north": (Meter("voltage", "voltage"),)}


def child(path: Path, first: int) -> None:
    """Journal numbered messages from `first` on for as long as it lives; print what has been committed."""
    journal = Journal.open(JournalSettings(path=path), METERS)
    returned = threading.Semaphore(0)

    def done(batch: Batch, error: Exception | None) -> None:
        if error is None:
            last = int(batch.acks[-1].payload)
            print(last, len(batch.snapshots) and int(batch.snapshots["north"]), flush=True)
        returned.release()

    journal.on_done = done
    number = first
    while True:
        batch = Batch()
        for _ in range(50):
            at = START + number / 100.0
            one = Message("cabin/shunt", b"%d" % number, at, session="history", mid=1, qos=1)
            batch.messages.append((one, at))
            batch.readings.append(Reading("north", "voltage", 26.0, at, at))
            batch.acks.append(one)
            number += 1
        if number % 500 < 50:
            batch.urgent = True
            batch.events.append(Event("north", "trip", at, {"n": number}))
            batch.snapshots["north"] = str(number)
        journal.submit(batch)
        returned.acquire()


def campaign(path: Path, kills: int, seed: int) -> dict[str, object]:
    """Kill `kills` children and compare the file with what they said."""
    choose = random.Random(seed)
    acknowledged, latch = -1, 0
    latches_lost = 0
    began = time.monotonic()
    for _ in range(kills):
        # A broker redelivers some of what it has had acknowledged as well (the acknowledgement was lost on the way).
        first = max(0, acknowledged + 1 - choose.randrange(0, 100))
        process = subprocess.Popen(
            [sys.executable, __file__, "--child", str(path), "--first", str(first)], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        process.stdout.readline()  # it has begun to commit
        timer = threading.Timer(choose.uniform(0.0, 0.4), process.kill)
        timer.start()
        text = process.stdout.read()
        process.wait()
        timer.join()
        process.stdout.close()
        for line in text.splitlines(keepends=True):
            if line.endswith("\n"):
                last, snapshot = map(int, line.split())
                acknowledged, latch = max(acknowledged, last), max(latch, snapshot)
        with closing(JournalReader(path)) as reader:
            latches_lost += int(reader.snapshots().get("north", "0")) < latch
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA integrity_check").fetchone()
        numbers = [int(payload) for (payload,) in connection.execute("SELECT payload FROM message")]
    return {
        "kills": kills,
        "acknowledged": acknowledged + 1,
        "missing": len(set(range(acknowledged + 1)) - set(numbers)),
        "twice": len(numbers) - len(set(numbers)),
        "latches_lost": latches_lost,
        "seconds": round(time.monotonic() - began, 1),
    }


def main() -> int:
    """Parse, run, print one line of JSON; 0 when nothing was lost or doubled."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--child", type=Path)
    parser.add_argument("--first", type=int, default=0)
    options = parser.parse_args()
    if options.child:
        child(options.child, options.first)
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        report = campaign(Path(folder) / "revival.db", options.kills, options.seed)
    print(json.dumps(report))
    return int(any(report[name] for name in ("missing", "twice", "latches_lost")))


if __name__ == "__main__":
    sys.exit(main())
