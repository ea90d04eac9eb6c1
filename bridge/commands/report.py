"""`revival report`: a round on paper, from the journal alone; a running bridge is not disturbed."""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path
from typing import Any

from bridge.clock import instant
from bridge.commands.files import add_config, add_force, fresh
from bridge.commands.verdict import as_json as verdict_json
from bridge.commands.which_bank import which_bank
from bridge.config import load
from bridge.errors import UsageError
from bridge.journal.reader import JournalReader
from bridge.report.handover import handover
from bridge.report.owner import Units, days
from bridge.report.round import Round, gather
from bridge.report.whole import report

#: Endings of a page for a browser.
PAGES = (".html", ".htm")
#: Of the values in the JSON form.
UNITS = {
    "times": "s since the epoch",
    "voltage": "V",
    "current": "A",
    "temperature": "degC",
    "charge": "Ah",
    "energy": "kWh",
    "hours": "h",
    "water_added": "mL",
    "water_used": "g per cell",
    "gravity": "1",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare which round, for whom, and in which form."""
    add_config(parser)
    parser.add_argument("--bank", metavar="ID", help="which bank; may be left out where there is one")
    parser.add_argument(
        "--since", metavar="WHEN", help="begin of another stretch, as in 2026-06-15 or 2026-06-15T08:00"
    )
    parser.add_argument("--until", metavar="WHEN", help="its end")
    parser.add_argument("--handover", action="store_true", help="the shorter sheet for the next owner")
    parser.add_argument(
        "--units", choices=("degC", "degF"), help="degF: US units, water and air too; otherwise as the cabin file says"
    )
    parser.add_argument("--json", action="store_true", help="for machines, in canonical units, instead of HTML")
    parser.add_argument("--output", "--out", type=Path, metavar="FILE", help="write here; otherwise to standard output")
    add_force(parser)


def run(arguments: argparse.Namespace) -> int:
    """Gather the round and write it."""
    fresh(arguments.output, arguments.force)
    cabin = load(arguments.config).cabin
    name = which_bank(cabin.banks, arguments.bank)
    since, until = _moment(arguments.since, "--since"), _moment(arguments.until, "--until")
    if since is not None and until is not None and since >= until:
        raise UsageError("--until must lie after --since")
    if since is not None and since > time.time():
        raise UsageError(f'--since "{arguments.since}" lies in the future: a report tells what was')
    _fitting(arguments.output, arguments.json)
    if arguments.output is None and not arguments.json and sys.stdout.isatty():
        raise UsageError(
            "it is a page for a browser and for paper, not for a terminal: --output report.html writes it into a file"
        )
    with JournalReader(cabin.journal.path) as journal:
        made = gather(cabin, journal, name, since, until)
    units = Units(arguments.units) if arguments.units else Units.of(cabin)
    if arguments.json:
        text = json.dumps(as_json(made), indent=2) + "\n"
    else:
        text = handover(made, units) if arguments.handover else report(made, units)
    if arguments.output is None:
        print(text, end="")
        return 0
    try:
        arguments.output.write_text(text, encoding="utf-8")
    except OSError as error:
        raise UsageError(f"cannot write {arguments.output}: {error.strerror}") from None
    what = "figures" if arguments.json else "the sheet for the next owner" if arguments.handover else "the report"
    print(f"{arguments.output} written: {what} of {name}, {days(made.since, made.until)}", file=sys.stderr)
    return 0


def _fitting(path: Path | None, as_figures: bool) -> None:
    """Refuse an ending that promises something else than what is written.

    Raises
    ------
    UsageError
        Names the ending to write instead.
    """
    if path is None or not path.suffix:
        return
    ending = path.suffix.lower()
    if as_figures and ending in PAGES:
        raise UsageError(f"{path}: --json writes figures and no page: name it {path.with_suffix('.json').name}")
    if not as_figures and ending not in PAGES:
        instead = f"name it {path.with_suffix('.html').name}, a browser prints it or saves it as PDF"
        raise UsageError(f"{path}: the report is a page (HTML): {instead}; --json writes figures for machines")


def as_json(made: Round) -> dict[str, Any]:
    """Return plain values in canonical units; where a key does not say its own, `units` does."""
    state, judged = made.last, made.judged
    return {
        "site": made.site,
        "bank": made.bank.id,
        "since": made.since,
        "until": made.until,
        "units": UNITS,
        "arrangement": [[block.__dict__ for block in string] for string in made.bank.strings],
        "plan": {**made.plan._asdict(), "figures": [figure._asdict() for figure in made.plan.figures]},
        "plan_air": made.air,
        "curve": [bucket._asdict() for bucket in made.curve],
        "phases": made.phases,
        "phase_totals": [total._asdict() for total in made.totals],
        "charging_hours": made.charging,
        "charge_returned": made.charge,
        "overcharge": None if state is None else state.overcharge,
        "energy": made.energy,
        "hold_hours": None if state is None else state.hold_hours,
        "hold_needed": None if state is None else state.hold_needed,
        "water_used": None if state is None else state.water_used,
        "water_added": made.water_added,
        "hours_nobody_measured": made.unknown,
        "hottest": made.hottest,
        "hottest_at": made.hottest_at,
        "hours_above_warning": made.warm_hours,
        "gravities": {cell: [one._asdict() for one in readings] for cell, readings in made.gravities.items()},
        "gravity_rise": None if state is None else state.gravity_rise,
        "gravity_rise_by_water": None if state is None else state.gravity_rise_by_water,
        "noted_before": [{"at": event.at, **event.detail} for event in made.came],
        "noted": [{"at": event.at, **event.detail} for event in made.noted],
        "acts": [{"at": event.at, "kind": event.kind, **event.detail} for event in made.acts],
        "episodes": [episode._asdict() for episode in made.episodes],
        "standing_trips": list(made.standing),
        "dangers_noted": [{"at": event.at, **event.detail} for event in made.dangers],
        "raised": [entry._asdict() for entry in made.raised],
        "proof_tests": [{"at": event.at, **event.detail} for event in made.proofs],
        "charging_paused": made.withdrawn,
        "capacity_test": None if judged.tested is None else judged.tested._asdict(),
        "block_charges": judged.charges,
        "verdict": {
            "given_at": judged.given_at,
            "given_by": judged.given_by,
            "ready": judged.ready,
            "still_to_measure": list(judged.missing),
            **verdict_json(judged.verdicts, judged.matching),
        },
        "cautions": list(made.cautions),
    }


def _moment(text: str | None, option: str) -> float | None:
    if text is None:
        return None
    try:
        return instant(text, "here")
    except ValueError:
        raise UsageError(f"{option} {text}: write a date, as in 2026-06-15 or 2026-06-15T08:00") from None
