"""`revival fleet board`: every bank with what it needs, worst first, from what `follow` keeps up to date."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from bridge.fleet import board


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("--out", required=True, type=Path, metavar="FOLDER", help="where `revival fleet follow` writes")
    parser.add_argument("--json", action="store_true", help="the same for machines")


def run(arguments: argparse.Namespace) -> int:
    """Write the page anew and say where it lies and what the banks need."""
    now = time.time()
    text = board.again(arguments.out, now)
    if arguments.json:
        print(text)
        return 0
    page = board.write(arguments.out, text)
    print(board.summary(text, now))
    print(f"{page.absolute()} (open it in a browser, or put the folder on any web server)", file=sys.stderr)
    return 0
