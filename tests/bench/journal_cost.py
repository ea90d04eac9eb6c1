"""What the journal costs: time per message, bytes written to the card per day, and a chart of seven days.

On demand: ``python tests/bench/journal_cost.py``; prints one line of JSON per measurement.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.settings import JournalSettings
from rules.bank.model import Meter
from rules.events import Derived, Reading

START = 1_795_590_000.0
QUANTITIES = ("voltage", "current", "power", "electrolyte_temperature", "ambient_temperature")


def meters(banks: int) -> dict[str, tuple[Meter, ...]]:
    """Five meters for each bank."""
    return {f"bank-{number}": tuple(Meter(name, name) for name in QUANTITIES) for number in range(banks)}


class Run:
    """A journal that is given one batch after the other."""

    def __init__(self, path: Path, banks: int) -> None:
        self.journal = Journal.open(JournalSettings(path=path), meters(banks))
        self._returned = threading.Semaphore(0)
        self.journal.on_done = lambda batch, error: self._returned.release()

    def commit(self, batch: Batch) -> None:
        self.journal.submit(batch)
        self._returned.acquire()

    def close(self) -> None:
        if not self.journal.close(60.0):
            raise SystemExit("the journal did not close")


def seconds(banks: int, first: int, count: int, *, raw: bool = True) -> Batch:
    """So many seconds of every meter of every bank, with a derived state each."""
    batch = Batch()
    for second in range(first, first + count):
        at = START + second
        for bank in meters(banks):
            for number, quantity in enumerate(QUANTITIES):
                value = 26.0 + number + second % 100 / 100
                if raw:
                    batch.messages.append((Message(f"cabin/{bank}/{quantity}", b"%.2f" % value, at), None))
                batch.readings.append(Reading(bank, quantity, value, at, at))
            batch.derived.append(Derived(bank, at, voltage=26.0, current=9.0, phase="absorption"))
    return batch


def throughput(folder: Path, messages: int) -> dict[str, object]:
    """Processor time of one message with its reading, from 100 banks, in batches of 500."""
    run = Run(folder / "throughput.db", 100)
    batches = [seconds(100, second, 1) for second in range(messages // 500)]
    for batch in batches:
        batch.derived.clear()
    before, began = time.process_time(), time.perf_counter()
    for batch in batches:
        run.commit(batch)
    processor, wall = time.process_time() - before, time.perf_counter() - began
    run.close()
    return {
        "what": "messages with readings",
        "processor_us_each": round(processor / messages * 1e6, 2),
        "wall_us_each": round(wall / messages * 1e6, 2),
    }


def wear(folder: Path, hours: float) -> Iterator[dict[str, object]]:
    """Bytes that reach the storage layer with five banks of five meters at 1 Hz, by time between commits."""
    for every in (1, 10):
        run = Run(folder / f"wear{every}.db", 5)
        before = _written()
        for second in range(0, round(hours * 3600.0), every):
            run.commit(seconds(5, second, every))
        run.close()
        scale = 24.0 / hours
        size = (folder / f"wear{every}.db").stat().st_size
        yield {
            "what": f"5 banks x 5 meters at 1 Hz, commit every {every} s",
            "written_gb_per_day": round((_written() - before) * scale / 1e9, 3),
            "file_gb_per_day": round(size * scale / 1e9, 3),
        }


def chart(folder: Path, days: int) -> Iterator[dict[str, object]]:
    """Reading one bank's chart out of five banks' seconds."""
    path = folder / "chart.db"
    run = Run(path, 5)
    for second in range(0, days * 86400, 600):
        run.commit(seconds(5, second, 600, raw=False))
    run.close()
    with JournalReader(path) as reader:
        for bucket in (600, 60, 10):
            length = days * 86400 if bucket >= 60 else 86400
            began = time.perf_counter()
            buckets = reader.readings("bank-0", START, START + length, bucket)
            yield {
                "what": f"chart of {length // 86400} days in steps of {bucket} s",
                "buckets": len(buckets),
                "seconds": round(time.perf_counter() - began, 3),
            }


def _written() -> int:
    for line in Path("/proc/self/io").read_text().splitlines():
        if line.startswith("write_bytes"):
            return int(line.split()[1])
    raise SystemExit("this system does not count written bytes")


def main() -> int:
    """Measure all three."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--messages", type=int, default=200_000)
    parser.add_argument("--hours", type=float, default=1.0)
    parser.add_argument("--days", type=int, default=7)
    parser.add_argument("--folder", type=Path, help="on the card to be measured")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=options.folder) as name:
        folder = Path(name)
        print(json.dumps(throughput(folder, options.messages)), flush=True)
        for line in wear(folder, options.hours):
            print(json.dumps(line), flush=True)
        for line in chart(folder, options.days):
            print(json.dumps(line), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
