"""`revival run`: the service."""

from __future__ import annotations

import argparse

from bridge.app import log_to_stdout, serve
from bridge.clock import clock_of
from bridge.commands.files import add_config
from bridge.config import load


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_config(parser)


def run(arguments: argparse.Namespace) -> int:
    """Run until told to end."""
    log_to_stdout()
    loaded = load(arguments.config)
    return serve(loaded, clock_of(loaded.cabin.time_source))
