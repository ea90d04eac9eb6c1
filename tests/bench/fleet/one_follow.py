"""`revival fleet follow` with few partitions, as a process that a campaign may kill."""

from __future__ import annotations

import sys
from pathlib import Path

from bridge.fleet import session
from bridge.fleet.follow import CONFIGURATION, follow


def main() -> None:
    """Follow a store until killed, or once where the fourth word says so: store, output, engine, once."""
    store, out, engine, once = sys.argv[1:5]
    with session.started(engine, {**CONFIGURATION, "spark.sql.shuffle.partitions": "2"}) as spark:
        for turn in follow(spark, store, Path(out), 1.0, None if once == "once" else lambda _: False):
            print(turn.files, flush=True)


if __name__ == "__main__":
    main()
