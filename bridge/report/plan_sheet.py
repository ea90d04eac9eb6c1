"""The plan as one HTML page to print and take along: boxes to tick, lines to write on, nothing fetched."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape

from rules.bank import Bank
from rules.plan_input import BankPlan, Figure, Plan

_STYLE = """
@page { margin: 14mm; }
body { font: 11pt/1.4 Georgia, serif; color: #000; background: #fff; max-width: 180mm; margin: 0 auto; padding: 4mm; }
h1 { font-size: 18pt; margin: 0 0 2mm; } h2 { font-size: 14pt; margin: 7mm 0 2mm; border-bottom: 1px solid #000; }
h3 { font-size: 11pt; margin: 4mm 0 1mm; }
ul, ol { margin: 0; padding-left: 6mm; } li { margin: 1mm 0; break-inside: avoid; }
ul.boxes { list-style: none; padding: 0; } ul.boxes li { padding-left: 8mm; position: relative; }
ul.boxes li::before { content: ""; position: absolute; left: 0; top: .15em; width: 4mm; height: 4mm;
  border: 1px solid; }
table { border-collapse: collapse; width: 100%; font-size: 9.5pt; } th { text-align: left; }
td, th { border: 1px solid #888; padding: 1mm 2mm; vertical-align: top; } tr { break-inside: avoid; }
table.write td { height: 7mm; } .stop { border: 2px solid #000; padding: 2mm; font-weight: bold; }
.why { font-size: 8.5pt; color: #333; } section.page { break-before: page; }
"""


def sheet(made: Plan, site: str, banks: Mapping[str, Bank]) -> str:
    """The whole page.

    Parameters
    ----------
    made : Plan
        From `rules.plan.plan`.
    site : str
        Of the cabin file.
    banks : dict
        Id -> bank, for the lines on which every block is written down.

    Returns
    -------
    str
        HTML with everything in it; prints on A4 and on Letter.
    """
    parts = [
        f"<h1>Plan for {escape(site)}</h1>",
        "<p>Date ____________________ &nbsp; Name ______________________________</p>",
        "<h2>Cautions, before anything else</h2>",
        _list("ul", made.cautions),
        "<h2>Which bank first</h2>",
        *(f"<p>{escape(line)}</p>" for line in made.queue),
    ]
    for made_bank in made.banks:
        parts += ['<section class="page">', *_bank(made_bank, banks[made_bank.bank]), "</section>"]
    parts += [
        '<section class="page"><h2>Lay out</h2>',
        _list("boxes", made.lay_out),
        "<h2>Start checklist</h2>",
        "<p>For each bank; every box before the charger goes on.</p>",
        _list("boxes", (text for _, text in made.checklist)),
        "<p>Checked by ______________________________ &nbsp; at ____________</p></section>",
    ]
    head = (
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        f"<title>Plan for {escape(site)}</title><style>{_STYLE}</style>"
    )
    body = "\n".join(parts)
    return f'<!doctype html>\n<html lang="en"><head>{head}</head><body>\n{body}\n</body></html>\n'


def _bank(made: BankPlan, bank: Bank) -> list[str]:
    stops = [f'<p class="stop">STOP: {escape(reason)}</p>' for reason in made.stop]
    parts = [f"<h2>Bank {escape(made.bank)}</h2>", *stops, _list("ol", made.steps)]
    if made.missing:
        parts += ["<h3>Still to find out</h3>", _list("boxes", made.missing)]
    rows = "".join(
        f"<tr><td>{escape(block.label)}</td><td>{number}</td><td>{block.cells}</td><td></td><td></td><td></td></tr>"
        for number, string in enumerate(bank.strings, start=1)
        for block in string
    )
    heads = "".join(f"<th>{name}</th>" for name in ("block", "string", "cells", "volts, + or -", "level", "seen"))
    parts += ["<h3>Every block as found</h3>", f'<table class="write"><tr>{heads}</tr>{rows}</table>']
    parts += ["<h3>Figures</h3>", f"<table>{''.join(_row(figure) for figure in made.figures)}</table>"]
    return parts


def _row(figure: Figure) -> str:
    why = "; ".join(text for text in (figure.formula, inputs_of(figure), figure.source) if text)
    return f'<tr><td>{escape(figure.name)}</td><td>{escape(amount(figure))}</td><td class="why">{escape(why)}</td></tr>'


def amount(figure: Figure) -> str:
    """Value, or range, with its unit, as short as it stays true."""
    ends = [figure.value] if figure.high is None else [figure.value, figure.high]
    largest = max(abs(end) for end in ends)
    digits = 2 if largest < 10 else 1 if largest < 100 else 0
    return f"{' to '.join(f'{end:.{digits}f}' for end in ends)} {figure.unit}"


def inputs_of(figure: Figure) -> str:
    """What went into a figure, in one line."""
    return ", ".join(
        f"{name} = {value if isinstance(value, str) else format(value, '.4g')}" for name, value in figure.inputs.items()
    )


def _list(kind: str, texts: Iterable[str]) -> str:
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f'<ul class="boxes">{items}</ul>' if kind == "boxes" else f"<{kind}>{items}</{kind}>"
