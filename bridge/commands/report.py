"""`revival report`: a round on paper, from the journal alone; a running bridge is not disturbed."""

from __future__ import annotations

import argparse
import json
from datetime import datetime
from pathlib import Path
from typing import Any

from bridge.commands.verdict import as_json as verdict_json
from bridge.config import load
from bridge.errors import UsageError
from bridge.journal.reader import JournalReader
from bridge.report.round import Round, gather
from bridge.report.sheets import Units, handover, report


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare which round, for whom, and in which form."""
    parser.add_argument("--config", type=Path, required=True, metavar="FILE", help="the cabin file")
    parser.add_argument("--bank", metavar="ID", help="which bank; may be left out where there is one")
    parser.add_argument(
        "--since", metavar="WHEN", help="begin of another stretch, as in 2026-06-15 or 2026-06-15T08:00"
    )
    parser.add_argument("--until", metavar="WHEN", help="its end")
    parser.add_argument("--handover", action="store_true", help="the shorter sheet for the next owner")
    parser.add_argument(
        "--units", choices=("degC", "degF"), help="temperatures; otherwise as [page] in the cabin file says"
    )
    parser.add_argument("--json", action="store_true", help="for machines, in canonical units, instead of HTML")
    parser.add_argument("--out", type=Path, metavar="FILE", help="write here; otherwise to standard output")


def run(arguments: argparse.Namespace) -> int:
    """Gather the round and write it."""
    cabin = load(arguments.config).cabin
    name = arguments.bank or (next(iter(cabin.banks)) if len(cabin.banks) == 1 else None)
    if name not in cabin.banks:
        raise UsageError(f"--bank: say which one, {', '.join(cabin.banks)}")
    since, until = _moment(arguments.since, "--since"), _moment(arguments.until, "--until")
    if since is not None and until is not None and since >= until:
        raise UsageError("--until must lie after --since")
    with JournalReader(cabin.journal.path) as journal:
        made = gather(cabin, journal, name, since, until)
    units = Units(arguments.units or (cabin.page.temperature if cabin.page is not None else "degC"))
    if arguments.json:
        text = json.dumps(as_json(made), indent=2) + "\n"
    else:
        text = handover(made, units) if arguments.handover else report(made, units)
    if arguments.out is None:
        print(text, end="")
        return 0
    try:
        arguments.out.write_text(text, encoding="utf-8")
    except OSError as error:
        raise UsageError(f"cannot write {arguments.out}: {error.strerror}") from None
    return 0


def as_json(made: Round) -> dict[str, Any]:
    """Plain values; [s since the epoch], V, A, degC, Ah, kWh, h, mL."""
    state = made.last
    return {
        "site": made.site,
        "bank": made.bank.id,
        "since": made.since,
        "until": made.until,
        "arrangement": [[block.__dict__ for block in string] for string in made.bank.strings],
        "plan": {**made.plan._asdict(), "figures": [figure._asdict() for figure in made.plan.figures]},
        "curve": [bucket._asdict() for bucket in made.curve],
        "phases": made.phases,
        "hours": {"charging": made.charging, "standing_still": made.standing},
        "charge_returned_ah": None if state is None else state.charge_returned,
        "overcharge_ah": None if state is None else state.overcharge,
        "energy_kwh": None if state is None else state.energy,
        "hold_hours": None if state is None else state.hold_hours,
        "water_added_ml": made.water_added,
        "hottest_degc": made.hottest,
        "hottest_at": made.hottest_at,
        "hours_above_warning": made.warm_hours,
        "gravities": {cell: [one._asdict() for one in readings] for cell, readings in made.gravities.items()},
        "by_hand": [{"at": event.at, **event.detail} for event in made.hand],
        "episodes": [episode._asdict() for episode in made.episodes],
        "proof_tests": [{"at": event.at, **event.detail} for event in made.proofs],
        "permit_withdrawn": made.withdrawn,
        "capacity_test": None if made.test is None else made.test._asdict(),
        "capacity": None if made.capacity is None else made.capacity._asdict(),
        "verdict": verdict_json(made.verdicts, made.matching),
        "cautions": list(made.cautions),
    }


def _moment(text: str | None, option: str) -> float | None:
    if text is None:
        return None
    try:
        return datetime.fromisoformat(text).astimezone().timestamp()
    except ValueError:
        raise UsageError(f"{option} {text}: write a date, as in 2026-06-15 or 2026-06-15T08:00") from None
