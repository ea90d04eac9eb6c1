"""Which files a command reads and writes: the usual cabin file, and outputs that never overwrite silently."""

from __future__ import annotations

import argparse
import gzip
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from bridge.errors import UsageError

#: Where the cabin file is looked for, in this order, when nobody names it.
VARIABLE = "REVIVAL_CONFIG"
PLACES = (Path("cabin.toml"), Path("/etc/revival/cabin.toml"))


def usual_config() -> Path:
    """Return the cabin file that is meant when none is named: the variable's, else the first place that has one."""
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named)
    return next((place for place in PLACES if place.exists()), PLACES[0])


def add_config(parser: argparse.ArgumentParser) -> None:
    """Declare ``--config``, with the usual place where it is left out."""
    parser.add_argument(
        "--config",
        type=Path,
        default=usual_config(),
        metavar="FILE",
        help=f"the cabin file (TOML); left out: {VARIABLE}, then {', then '.join(map(str, PLACES))}",
    )


def add_force(parser: argparse.ArgumentParser) -> None:
    """Declare ``--force`` beside an output."""
    parser.add_argument("--force", action="store_true", help="overwrite an output file that exists")


def fresh(path: Path | None, force: bool) -> Path | None:
    """Return the output's path, unless something is there that nobody said to overwrite.

    Raises
    ------
    UsageError
        It exists.
    """
    if path is not None and path.is_file() and not force:
        raise UsageError(f"{path} exists already: name another file, or say --force to overwrite it")
    return path


@contextmanager
def output(path: Path | None) -> Iterator[IO[str]]:
    """Open an output, gzipped where its name ends in .gz; it takes its name only once it is whole. None = the terminal.

    Raises
    ------
    UsageError
        It cannot be written.
    """
    if path is None:
        yield sys.stdout
        return
    part = path.with_name(f".{path.name}.part")
    try:
        opener = gzip.open if path.suffix == ".gz" else open
        with opener(part, "wt", encoding="utf-8", newline="") as out:
            yield out
        part.replace(path)
    except OSError as error:
        raise UsageError(f"cannot write {path}: {error.strerror or error}") from None
    finally:
        part.unlink(missing_ok=True)
