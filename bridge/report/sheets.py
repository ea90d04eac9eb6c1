"""A round on paper: the whole report, and a shorter sheet for the next owner. Nothing in them is fetched."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from html import escape
from typing import NamedTuple

from bridge.report.drawing import draw, panels
from bridge.report.plan_sheet import amount
from bridge.report.round import HOUR, Episode, Round
from rules.advice import FLAGS
from rules.gravity import GravityReading
from rules.phase import HOLD_BAND
from rules.verdict import Verdict

_STYLE = """
@page { margin: 14mm; }
* { box-sizing: border-box; }
body { font: 10.5pt/1.4 Georgia, "Times New Roman", serif; color: #111; background: #fff; max-width: 190mm;
  margin: 0 auto; padding: 4mm; }
h1 { font-size: 19pt; margin: 0 0 1mm; } h2 { font-size: 13.5pt; margin: 7mm 0 2mm; border-bottom: 1px solid #111; }
h3 { font-size: 11pt; margin: 4mm 0 1mm; } h1, h2, h3 { break-after: avoid; }
p { margin: 0 0 2mm; } ul, ol { margin: 0 0 2mm; padding-left: 6mm; } li { break-inside: avoid; margin: .6mm 0; }
table { border-collapse: collapse; width: 100%; font-size: 9.5pt; margin-bottom: 3mm; }
th, td { border: 1px solid #999; padding: .8mm 1.8mm; text-align: left; vertical-align: top; }
thead { display: table-header-group; } tr, svg, figure { break-inside: avoid; }
td.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.head { display: flex; justify-content: space-between; gap: 6mm; flex-wrap: wrap; }
.word { font-size: 15pt; font-weight: bold; border: 2px solid #111; padding: 1mm 3mm; display: inline-block; }
.small { font-size: 8.5pt; color: #333; } .wide { overflow-x: auto; }
svg.curve { width: 100%; height: auto; font: 14px sans-serif; } svg text { fill: #111; }
svg .title { font-weight: bold; } svg .frame { fill: none; stroke: #777; } svg .grid { stroke: #bbb; stroke-width: .6; }
svg .band { fill: none; stroke: #00694d; stroke-dasharray: 5 4; } figure { margin: 0; }
.lines td { height: 8mm; }
"""


class Units(NamedTuple):
    """How the owner reads temperatures: "degC" or "degF"."""

    temperature: str = "degC"

    @property
    def sign(self) -> str:
        """As it is written behind a number."""
        return "°F" if self.temperature == "degF" else "°C"

    def degrees(self, celsius: float) -> float:
        """From [degC]."""
        return celsius * 1.8 + 32.0 if self.temperature == "degF" else celsius

    def warmth(self, celsius: float | None) -> str:
        """With its unit."""
        return "not known" if celsius is None else f"{self.degrees(celsius):.1f} {self.sign}"

    def measured(self, value: float | None, unit: str) -> str:
        """Any value of a flag or trip."""
        if value is None:
            return "not known"
        return self.warmth(value) if unit == "degC" else f"{value:.4g} {'' if unit == '1' else unit}".strip()


def report(made: Round, units: Units) -> str:
    """The whole report as one HTML page that prints on A4 and on Letter."""
    return _page(
        f"Revival of bank {made.bank.id}",
        made,
        [
            *_verdict(made),
            *_came_in(made, units),
            *_plan(made, units),
            *_curve(made, units),
            *_figures(made, units),
            *_gravities(made),
            *_safety(made, units),
            *_capacity(made, units),
            *_blocks(made),
            *_notes(made, units),
            *_cautions(made),
        ],
    )


def handover(made: Round, units: Units) -> str:
    """What the next owner needs: the verdict, what each block gives, how to charge it, what to look after."""
    bank = made.bank
    equalise = bank.equalise * bank.cells
    care = [
        "Charge it soon after every discharge; sulfate grows in every hour spent empty.",
        f"Equalise about monthly, or where gravities drift apart: {equalise:.1f} V at the bank "
        f"({bank.equalise:.2f} V per cell), with air, with loads off, and only with somebody near.",
        "Distilled water only, to between plates and mark, after charging; never acid, never additives.",
        f"Stop at {units.warmth(bank.limits.temperature)} in the acid. Full is a gravity of {bank.full_gravity:.3f} "
        f"at {units.warmth(26.667)}.",
        FLAGS["after-round"].action,
    ]
    return _page(
        f"Bank {bank.id}, handed over",
        made,
        [
            *_verdict(made),
            *_blocks(made),
            "<h2>How to keep it</h2>",
            _list(care),
            "<h2>Gravity sheet, monthly</h2>",
            _blank_sheet(made),
            "<h2>What was done</h2>",
            f"<p>{escape(_in_words(made))}</p>",
            *_cautions(made),
        ],
    )


def _page(title: str, made: Round, parts: Sequence[str]) -> str:
    head = (
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}, {escape(made.site)}</title><style>{_STYLE}</style>"
    )
    dates = f"{_day(made.since)} to {_day(made.until)}"
    top = f'<div class="head"><h1>{escape(title)}</h1><p>{escape(made.site)}<br>{dates}</p></div>'
    body = "\n".join([top, *parts])
    return f'<!doctype html>\n<html lang="en"><head>{head}</head><body>\n{body}\n</body></html>\n'


# ------------------------------------------------------------------------------------- sections


def _verdict(made: Round) -> list[str]:
    whole = made.verdicts[0]
    given = "given" if made.memory.phase.phase == "finished" else "as things stand, not given yet"
    return [
        f"<h2>Verdict on the bank, {given}</h2>",
        f'<p><span class="word">{escape(_word(whole))}</span></p>',
        _list(whole.reasons),
    ]


def _came_in(made: Round, units: Units) -> list[str]:
    bank = made.bank
    labels = (f"{block.label} ({block.cells} cells, {block.capacity:g} Ah)" for row in bank.strings for block in row)
    strings = f"{len(bank.strings)} string(s) of {len(bank.strings[0])} blocks, {bank.cells} cells in series"
    rows = [
        ("arrangement", strings),
        ("rated", f"{bank.capacity:g} Ah at the 20-hour rate"),
        ("blocks", ", ".join(labels)),
    ]
    rows += [
        (f"{_when(event.at)}, {event.detail.get('kind')}", _entry(event.detail, units))
        for event in made.hand
        if event.at <= made.since
    ]
    return ["<h2>What came in</h2>", _table((), rows)]


def _plan(made: Round, units: Units) -> list[str]:
    rows = [
        (figure.name, units.warmth(figure.value) if figure.unit == "degC" else amount(figure), figure.source)
        for figure in made.plan.figures
    ]
    stops = [f"<p><b>Stop: {escape(reason)}</b></p>" for reason in made.plan.stop]
    return [
        "<h2>The plan</h2>",
        *stops,
        _list(made.plan.steps, "ol"),
        _table(("figure", "value", "source"), rows),
        '<p class="small">Worked out from the cabin file and from what was noted before the start.</p>',
    ]


def _curve(made: Round, units: Units) -> list[str]:
    bank = made.bank
    band = (bank.equalise - HOLD_BAND, bank.equalise + HOLD_BAND)
    strips = panels(made.curve, bank.cells, band, units.degrees, units.sign)
    drawing = draw(strips, made.phases, [episode.at for episode in made.episodes], made.since, made.until)
    return [
        "<h2>The curve</h2>",
        f"<figure>{drawing}<figcaption class='small'>Lines are means, shading around them least to greatest; "
        "hatching: charging stood still.</figcaption></figure>",
    ]


def _figures(made: Round, units: Units) -> list[str]:
    phases = [
        (name, f"{made.charging.get(name, 0.0):.1f} h", f"{made.standing.get(name, 0.0):.1f} h")
        for name in dict.fromkeys(stretch["phase"] for stretch in made.phases)
    ]
    state = made.last
    rows: list[tuple[str, str]] = []
    if state is not None:
        rows = [
            ("charge returned", f"{state.charge_returned:.0f} Ah"),
            ("of it beyond the rated capacity", f"{state.overcharge:.0f} Ah"),
            ("energy at the bank", f"{state.energy:.1f} kWh"),
            ("hold at the equalising voltage", f"{state.hold_hours:.1f} of {state.hold_needed:.0f} h"),
            ("water split since the last top-up, reckoned", f"{state.water_used:.0f} g per cell"),
        ]
    rows += [
        ("distilled water added, as noted", f"{made.water_added:.0f} mL"),
        (
            "hottest electrolyte",
            units.warmth(made.hottest) + (f", {_when(made.hottest_at)}" if made.hottest_at else ""),
        ),
        ("above the warning temperature", f"{made.warm_hours:.1f} h"),
        ("time nobody measured", f"{made.memory.counters.unknown_seconds / HOUR:.1f} h"),
    ]
    return [
        "<h2>Hours, ampere-hours, energy, water</h2>",
        _table(("phase", "charging", "standing still"), phases),
        _table((), rows),
    ]


def _gravities(made: Round) -> list[str]:
    if not made.gravities:
        return ["<h2>Gravity</h2>", "<p>No cell was read.</p>"]
    rows = []
    for string in made.bank.strings:
        for block in string:
            for number in range(1, block.cells + 1):
                readings = made.gravities.get(f"{block.label}.{number}", [])
                first, last = (readings[0], readings[-1]) if readings else (None, None)
                rows.append(
                    (
                        f"{block.label}, cell {number}",
                        _gravity(first),
                        _gravity(last),
                        _gain(first, last),
                        len(readings),
                    )
                )
    numbers = [
        [g for readings in made.gravities.values() if (g := readings[place].gravity_corrected)] for place in (0, -1)
    ]
    spreads = [f"{max(each) - min(each):.3f}" if len(each) > 1 else "not known" for each in numbers]
    return [
        "<h2>Gravity, first and last reading of each cell</h2>",
        _table(("cell", "first", "last", "gain", "readings"), rows, numbers=(1, 2, 3, 4)),
        f"<p>Spread between cells: {spreads[0]} at first, {spreads[1]} at last. Corrected to 80 °F (26.7 °C); * taken "
        "under charge or without its temperature, and of no weight for a verdict.</p>",
    ]  # fmt: skip


def _safety(made: Round, units: Units) -> list[str]:
    parts = ["<h2>Temperature and safety</h2>"]
    if made.episodes:
        heads = ("when", "what", "relay", "let go on")
        parts.append(_table(heads, [_episode(episode, made, units) for episode in made.episodes]))
    else:
        parts.append("<p>Nothing tripped.</p>")
    if made.bank.relay is None:
        parts.append("<p>No relay: this bank was only watched, a person switched the charger.</p>")
    for proof in made.proofs:
        told = proof.detail
        words = "passed" if told.get("passed") else "FAILED"
        parts.append(
            f"<p>Proof test of the relay, {_when(proof.at)}: {words}, {escape(str(told.get('note', '')))}.</p>"
        )
    if made.withdrawn:
        counts = ", ".join(f"{reason or 'no reason given'} {count}×" for reason, count in made.withdrawn.items())
        parts.append(f"<p>Permit withdrawn: {escape(counts)}.</p>")
    return parts


def _episode(episode: Episode, made: Round, units: Units) -> tuple[str, str, str, str]:
    value = units.measured(episode.value, episode.unit)
    limit = units.measured(episode.limit, episode.unit)
    what = (
        f"{episode.hazard}: {value}, limit {limit}"
        if episode.value is not None
        else f"{episode.hazard}: {episode.reason}"
    )
    relay = "none to cut" if made.bank.relay is None else "no order in the journal"
    if episode.cut_at is not None:
        relay = f"told to open after {max(0.0, episode.cut_at - episode.at):.1f} s; "
        relay += (
            "never seen open" if episode.cut_seen_after is None
            else f"seen open {episode.cut_seen_after:.1f} s later, by {episode.cut_seen_by}"
        )  # fmt: skip
    on = (
        "not reset"
        if episode.reset_at is None
        else f"reset {_when(episode.reset_at)} by {episode.reset_by or 'unknown'}"
    )
    if episode.resumed_at is not None:
        on += f", resumed {_when(episode.resumed_at)}"
    return _when(episode.at), what, relay, on


def _capacity(made: Round, units: Units) -> list[str]:
    test, found = made.test, made.capacity
    if test is None or found is None:
        return ["<h2>Capacity test</h2>", "<p>Not done in this round.</p>"]
    ended = f"ended {_when(test.ended_at)}: {test.reason}" if test.ended_at else "not run to its end: a lower bound"
    rows = [
        ("begun", f"{_when(test.started_at)}, at {units.warmth(test.temperature)}; {ended}"),
        ("delivered", f"{found.delivered:.1f} Ah in {test.hours:.1f} h"),
        ("at 25 °C" if units.temperature == "degC" else "at 77 °F", f"{found.corrected:.1f} Ah"),
        ("rated at this current", f"{found.rated_at_rate:.1f} Ah"),
        ("that is", f"{found.percent:.0f} %"),
    ]
    if test.fell_first:
        rows.append(("fell first", ", ".join(test.fell_first)))
    return ["<h2>Capacity test</h2>", _table((), rows)]


def _blocks(made: Round) -> list[str]:
    rows = []
    for verdict in made.verdicts[1:]:
        counted = "" if verdict.capacity is None else f"{verdict.capacity:.0f} Ah"
        rows.append((verdict.label, _word(verdict), counted, "; ".join(verdict.reasons)))
    strings = [f"String {number}: {' '.join(labels)}" for number, labels in enumerate(made.matching.strings, 1)]
    spare = [f"Left over: {' '.join(made.matching.spare)}"] if made.matching.spare else []
    return [
        "<h2>Verdict on each block</h2>",
        _table(("block", "verdict", "count on", "why"), rows),
        "<h3>What belongs together</h3>",
        _list([*strings, *spare, *made.matching.notes] or ["Nothing to put together."]),
    ]


def _notes(made: Round, units: Units) -> list[str]:
    entries = [event for event in made.hand if event.detail.get("kind") not in ("gravity",) and event.at > made.since]
    rows = [(_when(event.at), str(event.detail.get("kind")), _entry(event.detail, units)) for event in entries]
    return ["<h2>Noted by hand</h2>", _table(("when", "what", ""), rows) if rows else "<p>Nothing.</p>"]


def _cautions(made: Round) -> list[str]:
    return ["<h2>Cautions</h2>", _list(made.cautions)]


def _blank_sheet(made: Round) -> str:
    blocks = [block for string in made.bank.strings for block in string]
    cells = max(block.cells for block in blocks)
    heads = ("block", "date", *(f"cell {number}" for number in range(1, cells + 1)), "temperature")
    return _table(heads, [(block.label, *[""] * (cells + 2)) for block in blocks], kind="lines")


def _in_words(made: Round) -> str:
    hours = sum(made.charging.values())
    returned = "" if made.last is None else f", {made.last.charge_returned:.0f} Ah went back in"
    held = "" if made.last is None else f", held {made.last.hold_hours:.0f} h at the equalising voltage"
    trips = f"; charging was stopped {len(made.episodes)} time(s) for safety" if made.episodes else ""
    return f"{hours:.0f} hours of charging between {_day(made.since)} and {_day(made.until)}{returned}{held}{trips}."


# ---------------------------------------------------------------------------------------- words


def _word(verdict: Verdict) -> str:
    return verdict.word.replace("-", ", ").upper()


def _gravity(entry: GravityReading | None) -> str:
    if entry is None:
        return "–"
    return entry.mark or f"{entry.gravity_corrected:.3f}{'' if entry.trusted else '*'}"


def _gain(first: GravityReading | None, last: GravityReading | None) -> str:
    if first is None or last is None or first is last or not (first.gravity_corrected and last.gravity_corrected):
        return ""
    return f"{last.gravity_corrected - first.gravity_corrected:+.3f}"


def _entry(detail: object, units: Units) -> str:
    assert isinstance(detail, dict)
    values = detail.get("values") or {}
    shown = units.warmth if detail.get("kind") == "temperature" else (lambda value: f"{value:g}")
    words = [
        f"{where} {shown(value) if isinstance(value, int | float) else value}".strip()
        for where, value in values.items()
    ]
    words += [str(detail["note"])] if detail.get("note") else []
    words += [f"by {detail['by']}"] if detail.get("by") else []
    return ", ".join(words)


def _day(at: float) -> str:
    return f"{datetime.fromtimestamp(at).astimezone():%d %B %Y}"


def _when(at: float) -> str:
    return f"{datetime.fromtimestamp(at).astimezone():%d %b %H:%M}"


def _list(texts: Iterable[str], kind: str = "ul") -> str:
    return f"<{kind}>{''.join(f'<li>{escape(text)}</li>' for text in texts)}</{kind}>"


def _table(heads: Sequence[str], rows: Iterable[Sequence[object]], numbers: Sequence[int] = (), kind: str = "") -> str:
    top = f"<thead><tr>{''.join(f'<th>{escape(head)}</th>' for head in heads)}</tr></thead>" if heads else ""
    cell: Callable[[int, object], str] = lambda place, value: (  # noqa: E731
        f"<td{' class=n' if place in numbers else ''}>{escape(str(value))}</td>"
    )
    body = "".join(f"<tr>{''.join(cell(place, value) for place, value in enumerate(row))}</tr>" for row in rows)
    return f'<div class="wide {kind}"><table>{top}<tbody>{body}</tbody></table></div>'
