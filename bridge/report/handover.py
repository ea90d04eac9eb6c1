"""A shorter sheet for the next owner: what each block gives, how to charge it, what to look after."""

from __future__ import annotations

from bridge.report import cells
from bridge.report.markup import listed, page, paragraph, section, table
from bridge.report.owner import Units, day
from bridge.report.round import Round
from bridge.report.sections import bank_verdict, blocks_verdict, cautions, dates, in_words
from rules.advice import on_paper


def handover(made: Round, units: Units) -> str:
    """One HTML page that prints on A4 and on Letter."""
    bank = made.bank
    volts = f"{bank.equalise * bank.cells:.1f} V at the bank ({bank.equalise:.2f} V per cell)"
    care = [
        "Charge it soon after every discharge; sulfate grows in every hour spent empty.",
        "The battery maker's sheet comes first: where it gives other volts, other hours or forbids equalising, it is "
        "right.",
        f"Equalise about monthly, or where gravities drift apart: {volts}, until gravity has stopped rising for three "
        f"hourly readings, usually 2 to 4 h and never over {bank.hold.maximum:g} h, with air, with loads off, and only "
        "with somebody near.",
        "Distilled water only, to between plates and mark, after charging; never acid, never additives.",
        f"Stop at {units.warmth(bank.temperature_limit, 0)} where the probe sits. Full is a gravity of "
        f"{bank.full_gravity:.3f} at {units.warmth(bank.hydrometer_reference, 0)}.",
        units.words(on_paper("after-round")),
    ]
    return page(
        f"Bank {bank.id}, handed over",
        made.site,
        dates(made),
        [
            bank_verdict(made, units),
            blocks_verdict(made, units),
            f'<div class="whole">{section("How to keep it", listed(care))}</div>',
            section("What was done", paragraph(in_words(made))),
            cautions(made, units),
            _sheet(made),
        ],
    )


def _sheet(made: Round) -> str:
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
    return section("Gravity sheet, monthly", table(heads, rows, kind="write"))
