"""A shorter sheet for the next owner: what each block gives, how to charge it, what to look after."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from bridge.report import cells
from bridge.report.owner import Units, day, moment
from bridge.report.paper import render
from bridge.report.round import Round
from bridge.report.sections import shared
from bridge.report.told import taken_at
from bridge.report.whole import dangers, entry_words
from bridge.words.bank_name import headed
from rules.advice import on_paper
from rules.hand import GravityReading

#: Of a year: so many lines has every table.
MONTHS = 12


def handover(made: Round, units: Units) -> str:
    """Return one HTML page that prints on A4 and on Letter."""
    return render(
        "handover.html",
        title=f"{headed(made.bank.id)}, handed over",
        hold_hours=f"{made.bank.hold.maximum:g}",
        after_round=on_paper("after-round"),
        monthly=_year(made),
        seen=[(moment(taken_at(event)), entry_words(event, units)) for event in made.seen],
        **dangers(made, units),
        **shared(made, units),
    )


def _year(made: Round) -> list[dict[str, Any]]:
    """Return tables of whole blocks: the last readings to compare with, then a line to write on for each month."""
    found = []
    for group in cells.groups(made.bank):
        readings = [made.gravities.get(cell, []) for cell in group]
        last = [entries[-1] for entries in readings if entries]
        rows: list[tuple[str, ...]] = []
        if last:
            shown = ["–" if not entries else _last(entries[-1]) for entries in readings]
            rows.append((day(max(entry.taken_at for entry in last)), *shown, "as read" if _bare(last) else "corrected"))
        rows += [(month, *[""] * len(group), "") for month in _months(made.until)]
        found.append({"heads": ("month", *group, "acid at"), "rows": rows})
    return found


def _last(entry: GravityReading) -> str:
    number = entry.mark if entry.gravity_corrected is None else f"{entry.gravity_corrected:.3f}"
    return number if entry.trusted else f"{number}*"


def _bare(last: Sequence[GravityReading]) -> bool:
    return not all(entry.corrected for entry in last)


def _months(at: float) -> list[str]:
    """Return the twelve months that come, by the clock of the place."""
    here = datetime.fromtimestamp(at).astimezone()
    first = here.year * MONTHS + here.month  # of the month after, counted from nought
    return [f"{date(number // MONTHS, number % MONTHS + 1, 1):%b %Y}" for number in range(first, first + MONTHS)]
