"""Pictures of what rounds teach, as SVG in the page's own colours: no script, legible without colour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from bridge.fleet.round_row import STAGES
from bridge.fleet.taught import Gain, Point, Share

#: Width of a picture of shares, of its words at the left and its counts at the right, and height of a line [px].
WIDTH, WORDS, COUNTS, LINE = 460, 142, 92, 26
#: Height of what stands above and below the lines [px].
ABOVE, BELOW = 8, 40
#: Side of one panel, its margins and the gap between panels [px].
SIDE, MARGIN, GAP, COLUMNS = 250, 60, 26, 3
#: Numbers that an hours axis may bear [h]; where fewer than so many of the first would be seen, the second.
HOURS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
FINER, FEWEST = (0.5, 0.7, 1, 1.5, 2, 3, 5, 7, 10, 12, 15, 20, 25, 30, 40, 50, 70, 100, 150, 200), 3
#: How far an axis reaches beyond the hours that it shows [1].
BEYOND = 1.2
#: Side of the picture of capacities [px], and what it shows at least [1].
SQUARE, LEAST = 380, 1.0


def shares(told: Sequence[Share], title: str) -> str:
    """Return one picture of shares with their intervals, a line for each class; classes without a round stay empty."""
    height = ABOVE + LINE * len(told) + BELOW
    scale = WIDTH - WORDS - COUNTS

    def x(share: float) -> float:
        return round(WORDS + share * scale, 1)

    bottom = ABOVE + LINE * len(told)
    parts = [f'<svg class="plot" viewBox="0 0 {WIDTH} {height}" role="img" aria-label="{escape(title, quote=True)}">']
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        parts.append(f'<path class="grid" d="M{x(share)} {ABOVE}V{bottom}"/>')
        parts.append(f'<text x="{x(share)}" y="{bottom + 15}" text-anchor="middle">{round(100 * share)}</text>')
    parts.append(f'<text x="{x(0.5)}" y="{height - 8}" text-anchor="middle">% of rounds, 95 % interval</text>')
    for number, one in enumerate(told):
        middle = ABOVE + LINE * number + LINE / 2
        quiet = "" if one.of else ' class="quiet"'
        parts.append(f'<text{quiet} x="{WORDS - 8}" y="{middle + 4}" text-anchor="end">{escape(one.label)}</text>')
        counts = f"{one.seen} of {one.of}" if one.of else "no round"
        parts.append(f'<text{quiet} x="{WIDTH - COUNTS + 16}" y="{middle + 4}">{counts}</text>')
        if one.of:
            ends = f"M{x(one.low)} {middle - 4}v8m0-4H{x(one.high)}m0-4v8"
            parts.append(f'<path class="span" d="{ends}"/>')
            parts.append(f'<circle class="dot" cx="{x(one.seen / one.of)}" cy="{middle}" r="4.5"/>')
    return "".join([*parts, "</svg>"])


def predictions(points: Sequence[Point]) -> str:
    """Return hours foretold at the entry of each stage against hours needed, a panel for each stage."""
    rows = math.ceil(len(STAGES) / COLUMNS)
    width = COLUMNS * (SIDE + GAP) + MARGIN - GAP
    height = rows * (SIDE + 2 * GAP) + MARGIN
    parts = [
        f'<svg class="plot" viewBox="0 0 {width} {height}" role="img" '
        'aria-label="Hours foretold at the entry of each stage against hours needed">'
    ]
    for number, stage in enumerate(STAGES):
        left = MARGIN + (number % COLUMNS) * (SIDE + GAP)
        top = GAP + (number // COLUMNS) * (SIDE + 2 * GAP)
        parts += _panel([point for point in points if point.stage == stage], stage, left, top, _reach(points))
    parts.append(f'<text x="{width / 2}" y="{height - 8}" text-anchor="middle">hours foretold, with their band</text>')
    turned = f'transform="rotate(-90 14 {height / 2})"'
    parts.append(f'<text x="14" y="{height / 2}" text-anchor="middle" {turned}>hours needed</text>')
    return "".join([*parts, "</svg>"])


def _reach(points: Sequence[Point]) -> tuple[float, float]:
    """Return from which hours to which the axes go, the same in every panel [h]."""
    hours = [hours for point in points for hours in (point.low, point.high, point.needed)]
    return max(HOURS[0], min(hours, default=1.0) / BEYOND), max(HOURS[-1] / 100.0, max(hours, default=1.0) * BEYOND)


def _numbers(short: float, long: float) -> list[float]:
    """Return the numbers of an axis between two hours [h]."""
    coarse = [hours for hours in HOURS if short <= hours <= long]
    return coarse if len(coarse) >= FEWEST else [hours for hours in FINER if short <= hours <= long]


def _panel(points: Sequence[Point], stage: str, left: float, top: float, reach: tuple[float, float]) -> list[str]:
    """Draw one panel; both axes are logarithms of hours."""
    short, long = reach
    span = math.log(long / short)

    def along(hours: float) -> float:
        return math.log(min(long, max(short, hours)) / short) / span * SIDE

    def x(hours: float) -> float:
        return round(left + along(hours), 1)

    def y(hours: float) -> float:
        return round(top + SIDE - along(hours), 1)

    rounds = f"{len(points)} round{'' if len(points) == 1 else 's'}"
    inside = sum(point.low <= point.needed <= point.high for point in points)
    parts = [
        f'<rect class="frame" x="{left}" y="{top}" width="{SIDE}" height="{SIDE}"/>',
        f'<text class="name" x="{left}" y="{top - 7}">{stage}: {rounds}{f", {inside} inside" if points else ""}</text>',
    ]
    for hours in _numbers(short, long):
        parts.append(f'<path class="grid" d="M{x(hours)} {top}V{top + SIDE}M{left} {y(hours)}H{left + SIDE}"/>')
        parts.append(f'<text x="{x(hours)}" y="{top + SIDE + 15}" text-anchor="middle">{hours:g}</text>')
        if left == MARGIN:
            parts.append(f'<text x="{left - 5}" y="{y(hours) + 4}" text-anchor="end">{hours:g}</text>')
    parts.append(f'<path class="right" d="M{left} {top + SIDE}L{left + SIDE} {top}"/>')
    for point in points:
        missed = "" if point.low <= point.needed <= point.high else " missed"
        across = f"M{x(point.low)} {y(point.needed)}H{x(point.high)}"
        parts.append(f'<path class="span{missed}" d="{across}"/>')
        place = f"{x(point.hours)} {y(point.needed)}"
        # A miss is a cross, not only another colour.
        mark = (
            f'd="M{place}m-4-4l8 8m0-8l-8 8"' if missed else f'd="M{place}m-3.5 0a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0-7 0"'
        )
        parts.append(f'<path class="{"cross" if missed else "dot"}" {mark}/>')
    return parts


def capacities(gains: Sequence[Gain]) -> str:
    """Return capacity after a round against capacity before it, both over the rating; above the line a round helped."""
    most = max([LEAST, *(max(gain.before, gain.after) for gain in gains)]) * 1.05
    size = SQUARE + 2 * MARGIN

    def along(share: float) -> float:
        return share / most * SQUARE

    left, bottom = MARGIN + 10, GAP + SQUARE
    parts = [
        f'<svg class="plot square" viewBox="0 0 {size} {size}" role="img" '
        'aria-label="Capacity after a round against capacity before it">',
        f'<rect class="frame" x="{left}" y="{GAP}" width="{SQUARE}" height="{SQUARE}"/>',
        f'<path class="right" d="M{left} {bottom}L{left + SQUARE} {GAP}"/>',
    ]
    for percent in range(0, math.floor(100 * most) + 1, 20):
        place = round(along(percent / 100), 1)
        parts.append(f'<path class="grid" d="M{left + place} {GAP}V{bottom}M{left} {bottom - place}h{SQUARE}"/>')
        parts.append(f'<text x="{left + place}" y="{bottom + 16}" text-anchor="middle">{percent}</text>')
        parts.append(f'<text x="{left - 6}" y="{bottom - place + 4}" text-anchor="end">{percent}</text>')
    for gain in gains:
        at = f'cx="{left + along(gain.before):.1f}" cy="{bottom - along(gain.after):.1f}"'
        told = escape(f"{gain.site}, {gain.bank}: {100 * gain.before:.0f} to {100 * gain.after:.0f} %")
        parts.append(f'<circle class="dot" {at} r="4.5"><title>{told}</title></circle>')
    middle = GAP + SQUARE / 2
    parts.append(f'<text x="{left + SQUARE / 2}" y="{bottom + 36}" text-anchor="middle">before, % of the rating</text>')
    parts.append(f'<text x="14" y="{middle}" text-anchor="middle" transform="rotate(-90 14 {middle})">after</text>')
    return "".join([*parts, "</svg>"])
