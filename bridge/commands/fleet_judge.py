"""`revival fleet judge`: every bank of every site, folded from its parcels by the rules of the bridge."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from bridge.errors import UsageError

#: Left aside or waiting, of which so many are named; all of them with --json.
NAMED = 20


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("--parcels", required=True, metavar="WHERE", help="folder or store that [parcels] where names")
    parser.add_argument("--out", required=True, metavar="WHERE", help="folder for states, events and rounds (Parquet)")
    parser.add_argument(
        "--engine", default="local[*]", metavar="ENGINE", help="local[*], local[2], or spark://host:7077 (%(default)s)"
    )
    parser.add_argument("--site", action="append", default=[], metavar="ID", help="only this site; may be repeated")
    parser.add_argument("--force", action="store_true", help="replace what an earlier judgement wrote there")
    parser.add_argument("--json", action="store_true", help="say what came of it as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Judge, and say what came of it and what was left aside."""
    from bridge.fleet import session  # noqa: PLC0415  (only fleet commands need any of it)

    where, out = _here(arguments.parcels), _here(arguments.out)
    if out.startswith(f"{where.rstrip('/')}/") or out == where:
        raise UsageError(f"--out {arguments.out} lies among the parcels: name a folder of its own")
    if "://" not in out and not arguments.force and any(Path(out).glob("table=*")):
        raise UsageError(f"{out} holds a judgement already: name another folder, or say --force to replace it")
    session.ready(arguments.engine)
    from bridge.fleet.judge import judge, sites_of  # noqa: PLC0415  (needs the extra)

    names = sites_of(where, arguments.site)  # before Spark takes its time to come up
    with session.started(arguments.engine) as spark:
        judged = judge(spark, where, out, names)
    if arguments.json:
        print(json.dumps({"ok": True, "out": out, **judged._asdict()}, indent=1, ensure_ascii=False))
        return 0
    for line in judged.told[:NAMED]:
        print(plain(line), file=sys.stderr)
    if len(judged.told) > NAMED:
        print(f"and {len(judged.told) - NAMED} more: --json names all", file=sys.stderr)
    rows = ", ".join(count(number, table) for table, number in judged.rows.items())
    where = f"{count(judged.banks, 'bank')} at {count(judged.sites, 'site')}"
    print(f"{where} judged: {rows}, in {out}", file=sys.stderr)
    return 0


def count(number: int, what: str) -> str:
    """Say how many.

    >>> count(1, "bank"), count(2, "bank")
    ('1 bank', '2 banks')
    """
    return f"{number} {what}{'' if number == 1 else 's'}"


def plain(line: str) -> str:
    r"""Return a line in which names from elsewhere order no terminal.

    >>> plain("site=\x1b[2J: torn")
    'site=?[2J: torn'
    """
    return "".join(letter if letter.isprintable() else "?" for letter in line)


def _here(where: str) -> str:
    """Return a folder by its whole name, which a worker understands as well; a URL as it is."""
    return where if "://" in where else str(Path(where).absolute())
