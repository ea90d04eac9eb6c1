"""Which files a command reads and writes: the usual cabin file, and outputs that never overwrite silently."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

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
