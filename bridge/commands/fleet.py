"""`revival fleet`: many cabins at once, from their parcels. Nothing of it reaches a relay, or goes back to a cabin."""

from __future__ import annotations

import argparse
from importlib import import_module

#: Sub-command -> what it does; each has a module of its own beside this one.
SUBCOMMANDS = {
    "judge": "fold every bank of every site from its parcels, on Apache Spark, and write states, events and rounds",
    "follow": "the same as parcels arrive: every bank kept up to date, each row written once, and the board",
    "learn": "what the finished rounds teach, as a report, and as experience that a cabin may take",
    "board": "every bank of every cabin with what it needs, worst first, on one page or as JSON",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the sub-commands."""
    words = parser.add_subparsers(dest="fleet", metavar="WHAT", required=True)
    for name, summary in SUBCOMMANDS.items():
        module = import_module(f"bridge.commands.fleet_{name}")
        subparser = words.add_parser(name, help=summary, description=summary)
        module.add_arguments(subparser)
        subparser.set_defaults(act=module.run)


def run(arguments: argparse.Namespace) -> int:
    """Run the sub-command that was asked for."""
    return int(arguments.act(arguments))
