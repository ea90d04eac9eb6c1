"""`revival fleet follow`: parcels as they arrive, every bank kept up to date, and the board of all of them."""

from __future__ import annotations

import argparse
import signal
import sys
import threading
from datetime import datetime
from pathlib import Path

from bridge.errors import UsageError

#: Parcels leave a cabin once an hour [s].
EVERY = 600.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("--parcels", required=True, metavar="WHERE", help="folder or store that [parcels] where names")
    parser.add_argument(
        "--out", required=True, type=Path, metavar="FOLDER", help="states, events, the board, and what is kept to go on"
    )
    parser.add_argument(
        "--engine", default="local[*]", metavar="ENGINE", help="local[*], local[2], or spark://host:7077 (%(default)s)"
    )
    parser.add_argument("--once", action="store_true", help="take in what is there, then end")
    parser.add_argument(
        "--every", type=float, default=EVERY, metavar="SECONDS", help="look for new parcels so often (%(default)g)"
    )


def run(arguments: argparse.Namespace) -> int:
    """Follow until somebody ends it, or once."""
    from bridge.fleet import session  # noqa: PLC0415  (only fleet commands need any of it)

    where = arguments.parcels if "://" in arguments.parcels else str(Path(arguments.parcels).absolute())
    out = arguments.out.absolute()
    if "://" not in where and Path(where) in (out, *out.parents):
        raise UsageError(f"--out {arguments.out} lies among the parcels: name a folder of its own")
    if arguments.every <= 0:
        raise UsageError(f"--every {arguments.every:g}: give seconds above 0")
    session.extra()
    from bridge.fleet.follow import CONFIGURATION, follow  # noqa: PLC0415  (needs the extra)

    ended = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: ended.set())
    stop = None if arguments.once else ended.wait
    with session.started(arguments.engine, CONFIGURATION) as spark:
        try:
            for turn in follow(spark, where, out, arguments.every, stop):
                if turn.offers or arguments.once:
                    aside = f", {turn.refused} left aside" if turn.refused else ""
                    print(
                        f"{datetime.now():%H:%M:%S} {turn.offers} parcels for {turn.banks} banks{aside}; {turn.page}",
                        file=sys.stderr,
                    )
        except KeyboardInterrupt:
            return 0
    return 0
