"""`revival fleet follow`: parcels as they arrive, every bank kept up to date, and the board of all of them."""

from __future__ import annotations

import argparse
import signal
import sys
import threading
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from bridge.commands.fleet_judge import NAMED, count, plain
from bridge.errors import UsageError

if TYPE_CHECKING:
    from bridge.fleet.follow import Turn

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
    files, named = 0, set[str]()
    with session.started(arguments.engine, CONFIGURATION) as spark:
        try:
            for turn in follow(spark, where, out, arguments.every, stop):
                files += turn.files
                fresh = [place for place in sorted(turn.refused) if place not in named]
                named.update(fresh)
                for place in fresh[:NAMED]:
                    print(plain(f"left aside: {place}: {turn.refused[place]}"), file=sys.stderr)
                if len(fresh) > NAMED:
                    print(f"and {len(fresh) - NAMED} more: the board names all", file=sys.stderr)
                if stop is not None and (turn.files or fresh):
                    _say(turn, turn.files)
        except KeyboardInterrupt:
            return 0
    if stop is None:
        _say(turn, files)
    return 0


def _say(turn: Turn, files: int) -> None:
    aside = f", {len(turn.refused)} left aside" if turn.refused else ""
    taken, banks = count(files, "new file"), count(turn.banks, "bank")
    print(f"{datetime.now():%H:%M:%S} {taken} taken, {banks} on the board{aside}; {turn.page}", file=sys.stderr)
