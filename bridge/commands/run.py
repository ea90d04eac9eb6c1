"""`revival run`: the service; with `--fast` a recorded round through the owner's own file, in minutes."""

from __future__ import annotations

import argparse
from pathlib import Path

from bridge.app import log_to_stdout, serve
from bridge.clock import clock_of
from bridge.commands.files import add_config
from bridge.config import load
from bridge.errors import UsageError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_config(parser)
    parser.add_argument(
        "--fast",
        type=Path,
        metavar="FILE",
        help="a whole round in minutes: this recorded traffic (JSON Lines, may be gzipped; see export) through your "
        "own file, time compressed by its stamps; on a broker of its own: no meter, relay, database or person hears it",
    )
    parser.add_argument("--speed", type=float, metavar="X", help="with --fast: recorded seconds per second")


def run(arguments: argparse.Namespace) -> int:
    """Run until told to end, or play what was recorded."""
    if arguments.fast is not None:
        # Player, broker and terminal view are wanted for a rehearsal only.
        from bridge.commands.run_fast import run_fast  # noqa: PLC0415  (a service never imports them)

        return run_fast(arguments.config, arguments.fast, arguments.speed)
    if arguments.speed is not None:
        raise UsageError("--speed belongs to --fast: a bank that is really there has its own pace")
    log_to_stdout()
    loaded = load(arguments.config)
    return serve(loaded, clock_of(loaded.cabin.time_source))
