"""A shorter sheet for the next owner: what each block gives, how to charge it, what to look after."""

from __future__ import annotations

from typing import Any

from bridge.report import cells
from bridge.report.owner import Units, day
from bridge.report.paper import render
from bridge.report.round import Round
from bridge.report.sections import shared
from rules.advice import on_paper


def handover(made: Round, units: Units) -> str:
    """Return one HTML page that prints on A4 and on Letter."""
    return render(
        "handover.html",
        title=f"Bank {made.bank.id}, handed over",
        hold_hours=f"{made.bank.hold.maximum:g}",
        after_round=on_paper("after-round"),
        monthly=_monthly(made),
        **shared(made, units),
    )


def _monthly(made: Round) -> dict[str, Any]:
    """Return the last readings to compare with, and lines to write on."""
    heads = ("block", "date", *cells.heads(made.bank), "temperature")
    rows: list[tuple[str, ...]] = []
    for row in cells.rows(made.bank):
        found = [made.gravities.get(cell, []) for cell in row.cells]
        last = [readings[-1] for readings in found if readings]
        if last:
            shown = [
                "–" if not readings else readings[-1].mark or f"{readings[-1].gravity_corrected:.3f}"
                for readings in found
            ]
            at = day(max(entry.taken_at for entry in last))
            how = "corrected" if all(entry.corrected for entry in last) else "not corrected"
            rows.append((row.label, at, *shown, *["–"] * row.empty, how))
        rows.append((row.label, *[""] * (len(heads) - 1)))
    return {"heads": heads, "rows": rows}
