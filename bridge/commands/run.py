"""`revival run`: the service."""

from __future__ import annotations

import argparse
from pathlib import Path

from bridge.app import log_to_stdout, serve
from bridge.clock import clock_of
from bridge.config import load


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the command."""
    parser.add_argument("--config", type=Path, required=True, metavar="FILE", help="the cabin file (TOML)")


def run(arguments: argparse.Namespace) -> int:
    """Run until told to end."""
    log_to_stdout()
    loaded = load(arguments.config)
    return serve(loaded, clock_of(loaded.cabin.time_source))
