"""`revival config`: a commented cabin file to start from, the three questions, and the schema for editors."""

from __future__ import annotations

import argparse
import json
import sys

from bridge.config import json_schema
from bridge.config.text import ask, starting_file
from bridge.errors import UsageError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add `--ask` and `--schema`."""
    choice = parser.add_mutually_exclusive_group()
    choice.add_argument("--ask", action="store_true", help="ask for bank, charger and probe first (needs a terminal)")
    choice.add_argument("--schema", action="store_true", help="print the JSON Schema of the cabin file, for editors")


def run(arguments: argparse.Namespace) -> int:
    """Print the file on standard output; questions go to standard error, so that `> cabin.toml` holds only the file."""
    if arguments.schema:
        print(json.dumps(json_schema(), indent=2))
        return 0
    answers = None
    if arguments.ask:
        if not sys.stdin.isatty():
            raise UsageError("--ask needs a terminal to ask on: leave it out to get the example file")
        answers = ask(_typed, lambda remark: print(remark, file=sys.stderr))
    print(starting_file(answers), end="")
    return 0


def _typed(question: str) -> str:
    print(question, end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    if not line:
        raise UsageError("the answers ended before the questions did")
    return line
