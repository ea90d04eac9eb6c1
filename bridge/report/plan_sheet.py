"""The plan as one HTML page to print and take along: boxes to tick, lines to write on, nothing fetched."""

from __future__ import annotations

from collections.abc import Mapping

from bridge.report.markup import listed, page, paragraph, section, table
from bridge.report.owner import Units, inputs_of, typeset
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
    parts = [
        section("Cautions, before anything else", listed(map(units.words, made.cautions))),
        section("Which bank first", *(paragraph(units.words(line)) for line in made.queue)),
    ]
    for made_bank in made.banks:
        parts.append(f'<section class="page">{_bank(made_bank, banks[made_bank.bank], units)}</section>')
    check = [
        paragraph("For each bank; every box before the charger goes on."),
        listed((units.words(text) for _, text in made.checklist), "boxes"),
        paragraph("Checked by ______________________________   at ____________"),
    ]
    parts += [
        f'<section class="page">{section("Lay out", listed(map(units.words, made.lay_out), "boxes"))}',
        f"{section('Start checklist', *check)}</section>",
    ]
    return page("Plan", site, "Date ________________<br>Name ________________", parts)


def _bank(made: BankPlan, bank: Bank, units: Units) -> str:
    missing = ["<h3>Still to find out</h3>", listed(map(units.words, made.missing), "boxes")] if made.missing else []
    heads = ("block", "string", "cells", "volts, + or -", "level", "seen")
    rows = [
        (block.label, number, block.cells, "", "", "")
        for number, string in enumerate(bank.strings, start=1)
        for block in string
    ]
    return section(
        f"Bank {made.bank}",
        *(paragraph(f"STOP: {units.words(reason)}", "stop") for reason in made.stop),
        listed(map(units.words, made.steps), "ol"),
        *missing,
        "<h3>Every block as found</h3>",
        table(heads, rows, kind="write"),
        "<h3>Figures</h3>",
        table(
            (), [(figure.name, units.figure(figure), typeset(_why(figure))) for figure in made.figures], numbers=(1,)
        ),
    )


def _why(figure: Figure) -> str:
    return "; ".join(text for text in (figure.formula, inputs_of(figure), figure.source) if text)
