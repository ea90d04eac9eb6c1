"""The plan as one HTML page to print and take along: boxes to tick, lines to write on, nothing fetched."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bridge.report.owner import Units, inputs_of, typeset
from bridge.report.paper import render
from rules.bank import Bank
from rules.plan import BankPlan, Figure, Plan


def sheet(made: Plan, site: str, banks: Mapping[str, Bank], units: Units) -> str:
    """Return the whole page.

    Parameters
    ----------
    made : Plan
        From `rules.plan.make.plan`.
    site : str
        Of the cabin file.
    banks : dict
        Id -> bank, for the lines on which every block is written down.
    units : Units
        Of whoever takes it along.

    Returns
    -------
    str
        HTML with everything in it; prints on A4 and on Letter.
    """
    each = [_bank(made_bank, banks[made_bank.bank], units) for made_bank in made.banks]
    return render("plan.html", title="Plan", site=site, made=made, banks=each, units=units)


def _bank(made: BankPlan, bank: Bank, units: Units) -> dict[str, Any]:
    return {
        "plan": made,
        "blocks": [
            (block.label, number, block.cells, "", "", "")
            for number, string in enumerate(bank.strings, start=1)
            for block in string
        ],
        "figures": [(figure.name, units.figure(figure), typeset(_why(figure))) for figure in made.figures],
    }


def _why(figure: Figure) -> str:
    return "; ".join(text for text in (figure.formula, inputs_of(figure), figure.source) if text)
