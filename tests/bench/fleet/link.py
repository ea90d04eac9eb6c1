"""What a link carries: bytes of each table of one bank's day, in parcels of an hour and of six.

    python -m tests.bench.fleet.link

One bank of the demo's round from its second day on: volts and amps every 10 s in one message, three temperatures every
30 s in messages of their own. Counts alone, so that a busy machine gives the same.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from itertools import groupby
from pathlib import Path

from bridge.commands.replay import recorded
from bridge.message import Message
from tests.support.parcel_house import Cabin

DEMO, ROUND = Path("bridge/demo/cabin.toml"), Path("bridge/demo/round.jsonl.gz")
DAY, HOUR = 86400.0, 3600.0
#: Rows of `readings` are derived from messages and can be left out of `[parcels] tables`.
DERIVED = "reading"


def day() -> list[Message]:
    """Return 24 hours of the round, its wakening left out."""
    messages = [message for message in recorded(ROUND) if not message.topic.endswith("/set")]
    begin = messages[0].at + DAY
    return [message for message in messages if begin <= message.at < begin + DAY]


def sent(messages: list[Message], hours: float) -> tuple[Counter[str], Counter[str]]:
    """Return bytes and files of each table."""
    with tempfile.TemporaryDirectory() as folder:
        cabin = Cabin(DEMO, Path(folder))
        parcels = Path(folder) / "parcels"
        for _, piece in groupby(messages, key=lambda message: int(message.at // (hours * HOUR))):
            cabin.live(piece)
            cabin.send(parcels)
        cabin.journal.close()
        size, files = Counter[str](), Counter[str]()
        for path in parcels.rglob("*.parquet"):
            table = path.parts[-3].removeprefix("table=")
            size[table] += path.stat().st_size
            files[table] += 1
        return size, files


def main() -> None:
    """Print a table."""
    messages = day()
    bare = sum(len(message.payload) + len(message.topic) for message in messages)
    print(f"{len(messages)} messages, {bare / 1000:.0f} kB of topics and payloads")
    for hours in (1.0, 6.0):
        size, files = sent(messages, hours)
        total = sum(size.values())
        print(f"every {hours:g} h: {total / 1000:.0f} kB, without {DERIVED}s {(total - size[DERIVED]) / 1000:.0f} kB")
        for table, count in size.most_common():
            print(f"  {table}: {count / 1000:.1f} kB in {files[table]} files")


if __name__ == "__main__":
    main()
