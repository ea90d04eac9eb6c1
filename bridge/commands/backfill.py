"""`revival backfill`: a stretch of the journal into the database once more; points that are there are overwritten."""

from __future__ import annotations

import argparse
import sys
import time

from rich.console import Console
from rich.progress import Progress, TaskID

from bridge.commands.export import add_range
from bridge.commands.files import add_config
from bridge.config import load
from bridge.errors import CannotReachError, ConfigError
from bridge.journal.reader import JournalReader
from bridge.outlets.influx import LINES, STREAMS
from bridge.outlets.influx_writer import Answer, InfluxWriter, Point, point
from bridge.settings import Cabin

#: How often, and at first how long [s], a database that is busy or away is waited for.
TRIES, WAIT = 5, 2.0
#: So many refused lines are shown; the rest is counted.
REFUSALS_SHOWN = 5


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add which stretch is filled."""
    add_config(parser)
    parser.add_argument("--bank", metavar="ID", help="only this bank")
    add_range(parser)


class Backfill:
    """A stretch of the journal on its way to the database; what was written and refused is counted."""

    def __init__(self, cabin: Cabin, progress: Progress, task: TaskID) -> None:
        if cabin.influx is None:
            raise ConfigError(f"{cabin.source}: no [influxdb] table, so there is no database to fill: add one")
        self.sent = self.rejected = 0
        self._url = cabin.influx.url
        self._writer = InfluxWriter(cabin.influx)
        self._progress, self._task = progress, task

    def write(self, points: list[Point]) -> None:
        """Write all of them, waiting a bounded time for a database that is busy or away."""
        tries = 0
        while points:
            done, answer = self._writer.deliver(points, self._reject)
            points = points[done:]
            self.sent += done
            self._progress.advance(self._task, done)
            if answer.kind == "accepted":
                continue
            tries = 1 if done else tries + 1
            if answer.kind == "refused" or tries >= TRIES:
                raise CannotReachError(
                    f"{self._url}: {answer.words} ({self.sent} points written; run it again to go on)"
                )
            self._wait(answer, tries)

    def _wait(self, answer: Answer, tries: int) -> None:
        time.sleep(max(answer.wait, WAIT * 2.0 ** (tries - 1)))

    def _reject(self, bad: Point, words: str, count: int) -> None:
        self.rejected += count
        if self.rejected <= REFUSALS_SHOWN:
            print(f"refused: {words}: {bad.line}", file=sys.stderr)

    def close(self) -> None:
        """Let the connections go."""
        self._writer.let_go()


def run(arguments: argparse.Namespace) -> int:
    """Fill."""
    cabin = load(arguments.config).cabin
    console = Console(stderr=True)
    with (
        JournalReader(cabin.journal.path) as reader,
        Progress(console=console, disable=not console.is_terminal) as progress,
    ):
        total = sum(reader.count(stream, arguments.since, arguments.until) for stream in STREAMS)
        backfill = Backfill(cabin, progress, progress.add_task("backfill", total=total))
        try:
            for stream in STREAMS:
                after = 0
                while rows := reader.between(stream, arguments.since, arguments.until, after, LINES):
                    after = rows[-1].id
                    backfill.write(
                        [
                            point(stream, row, cabin.site, cabin.degrees)
                            for row in rows
                            if arguments.bank in (None, row.bank)
                        ]
                    )
        finally:
            backfill.close()
    print(f"{backfill.sent - backfill.rejected} points written, {backfill.rejected} refused", file=sys.stderr)
    return 0
