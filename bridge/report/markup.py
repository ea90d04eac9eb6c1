"""HTML to print: one look for every sheet. Everything that is told goes in escaped, and nothing is fetched."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

#: A table up to this many rows stays on one page; a longer one may be parted, and then repeats its head.
SHORT = 16

_STYLE = """
@page { margin: 14mm 14mm 16mm; @bottom-left { content: "NAME"; font: 8pt sans-serif; }
  @bottom-right { content: "page " counter(page) " of " counter(pages); font: 8pt sans-serif; } }
:root { color-scheme: only light; }
* { box-sizing: border-box; }
body { font: 10.5pt/1.4 Georgia, "Times New Roman", serif; color: #111; background: #fff; max-width: 190mm;
  margin: 0 auto; padding: 4mm; }
h1 { font-size: 19pt; margin: 0 0 1mm; } h2 { font-size: 13.5pt; margin: 5mm 0 2mm; border-bottom: 1px solid #111; }
h3 { font-size: 11pt; margin: 4mm 0 1mm; } h1, h2, h3 { break-after: avoid; }
p { margin: 0 0 2mm; orphans: 3; widows: 3; } ul, ol { margin: 0 0 2mm; padding-left: 6mm; }
li { break-inside: avoid; margin: .6mm 0; }
ul.boxes { list-style: none; padding: 0; } ul.boxes li { padding-left: 8mm; position: relative; }
ul.boxes li::before { content: ""; position: absolute; left: 0; top: .15em;
  width: 4mm; height: 4mm; border: 1px solid; }
table { border-collapse: collapse; width: calc(100% - 1px); font-size: 9.5pt; margin-bottom: 3mm; }
th, td { border: 1px solid #888; padding: .5mm 1.8mm; text-align: left; vertical-align: top; }
li, p { overflow-wrap: break-word; } td:last-child { overflow-wrap: anywhere; }
thead { display: table-header-group; } tr, svg, figure, .whole { break-inside: avoid; }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
tr.write td { height: 8mm; } section.page { break-before: page; }
.head { display: flex; justify-content: space-between; gap: 6mm; flex-wrap: wrap; }
.word { font-size: 15pt; font-weight: bold; border: 2px solid #111; padding: 1mm 3mm; display: inline-block; }
.stop { border: 2px solid #000; padding: 2mm; font-weight: bold; break-inside: avoid; }
.small { font-size: 8.5pt; color: #333; } .wide { overflow-x: auto; } figure { margin: 0; }
@media print { body { padding: 0; max-width: none; } .wide { overflow: visible; } section.page > h2 { margin-top: 0; } }
svg.curve { width: 100%; height: auto; font: 15px sans-serif; }
svg text { fill: #111; paint-order: stroke; stroke: #fff; stroke-width: 3px; stroke-linejoin: round; }
svg .frame { fill: none; stroke: #777; } svg .grid { stroke: #999; stroke-width: .6; }
svg .edge { stroke: #444; stroke-width: .8; } svg .band { fill: none; stroke: #00694d; stroke-dasharray: 5 4; }
"""


def page(title: str, site: str, top: str, parts: Iterable[str]) -> str:
    """Return A whole page; site and title stand at the foot of every sheet of paper.

    Parameters
    ----------
    title, site : str
        Plain text, escaped here.
    top : str
        What stands beside the title, ready to stand in the page.
    parts : iterable of str
        Ready to stand in the page.
    """
    foot = f"{site}, {title}".replace("\\", "").replace('"', "'").replace("<", "").replace("\n", " ")
    head = (
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}, {escape(site)}</title><style>{_STYLE.replace('NAME', foot)}</style>"
    )
    body = "\n".join([f'<div class="head"><h1>{escape(title)}</h1><p>{escape(site)}<br>{top}</p></div>', *parts])
    return f'<!doctype html>\n<html lang="en"><head>{head}</head><body>\n{body}\n</body></html>\n'


def section(title: str, *parts: str) -> str:
    """Return A heading and what belongs to it; its beginning is not left alone at the foot of a page."""
    return f"<h2>{escape(title)}</h2>{''.join(parts)}"


def paragraph(text: str, kind: str = "") -> str:
    """Plain text."""
    return f"<p{f' class={kind}' if kind else ''}>{escape(text)}</p>"


def listed(texts: Iterable[str], kind: str = "ul") -> str:
    """Return A list of plain texts: "ul", "ol", or "boxes" to tick."""
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f'<ul class="boxes">{items}</ul>' if kind == "boxes" else f"<{kind}>{items}</{kind}>"


def table(heads: Sequence[str], rows: Iterable[Sequence[object]], numbers: Sequence[int] = (), kind: str = "") -> str:
    """Return A table of plain texts.

    Parameters
    ----------
    heads : sequence of str
        Empty = none.
    rows : iterable of sequence
        Line breaks in a cell are kept.
    numbers : sequence of int
        Columns that stand to the right.
    kind : str
        "write" leaves room for a hand in every row that has an empty cell.
    """
    made = list(rows)

    def cell(tag: str, place: int, value: object) -> str:
        text = escape(str(value)).replace("\n", "<br>")
        return f"<{tag}{' class=n' if place in numbers else ''}>{text}</{tag}>"

    def row(values: Sequence[object]) -> str:
        mark = ' class="write"' if kind == "write" and "" in values else ""
        return f"<tr{mark}>{''.join(cell('td', place, value) for place, value in enumerate(values))}</tr>"

    top = f"<thead><tr>{''.join(cell('th', place, head) for place, head in enumerate(heads))}</tr></thead>"
    body = f"<table>{top if heads else ''}<tbody>{''.join(map(row, made))}</tbody></table>"
    return f'<div class="wide{" whole" if len(made) <= SHORT else ""}">{body}</div>'
