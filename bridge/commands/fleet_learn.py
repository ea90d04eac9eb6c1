"""`revival fleet learn`: what the finished rounds of many cabins teach, as a report and as an experience file."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from bridge.commands.files import add_force, fresh
from bridge.commands.fleet_judge import count
from bridge.config.experience import text_of
from bridge.errors import UsageError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "--rounds", type=Path, required=True, metavar="WHERE", help="folder that `revival fleet judge --out` wrote"
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="the report, one HTML page")
    parser.add_argument(
        "--experience", type=Path, metavar="FILE", help="write what a cabin may take into its file for better hours"
    )
    parser.add_argument("--json", action="store_true", help="print the same as JSON")
    add_force(parser)


def run(arguments: argparse.Namespace) -> int:
    """Read rounds, write what they teach."""
    from bridge.fleet.learn import page, plain  # noqa: PLC0415  (the core carries no template engine)
    from bridge.fleet.read_rounds import read  # noqa: PLC0415
    from bridge.fleet.taught import taught  # noqa: PLC0415

    if arguments.out is None and arguments.experience is None and not arguments.json:
        raise UsageError("nothing to write: give --out report.html, --experience experience.toml or --json")
    for path in (arguments.out, arguments.experience):
        fresh(path, arguments.force)
    found = read(arguments.rounds)
    told = taught(found.rows)
    if arguments.out is not None:
        arguments.out.write_text(page(told, found.refused), encoding="utf-8")
    if arguments.experience is not None:
        if not told.experience.rounds:
            raise UsageError(f"{arguments.rounds}: no round held to its end yet: there is nothing to learn hours from")
        arguments.experience.write_text(text_of(told.experience, told.sites), encoding="utf-8")
    if arguments.json:
        print(json.dumps(plain(told), indent=1, ensure_ascii=False))
    others = f", {told.under_way} under way" if told.under_way else ""
    rounds, banks = count(told.rounds, "finished round"), count(told.banks, "bank")
    print(f"{rounds} of {banks} at {count(told.sites, 'site')}{others}", file=sys.stderr)
    if found.refused:
        print(f"left out, because they are no rounds: {count(found.refused, 'row')}", file=sys.stderr)
    return 0
