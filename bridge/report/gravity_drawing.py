"""The gravities of every cell as one SVG: where each stood at first, and where it stands now."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from statistics import median

from bridge.report.drawing import LEFT, LETTER, RIGHT, WIDTH, ticks
from bridge.words import palette
from rules.hand import GravityReading
from rules.verdict import FEWEST_COMPARED, GRAVITY_BELOW

#: Height of the field, and room below it for cells and blocks [px].
FIELD, TOP, BELOW = 210, 8, 40
#: The scale spans at least so much [1], with so much room at both ends.
LEAST, ROOM = 0.040, 0.008
#: Cells closer together than this have no number of their own below them [px].
CLOSE = 14.0
RADIUS = 4.5
#: Lines across the field, about.
TICKS = 7


def draw_gravities(blocks: Sequence[tuple[str, Sequence[Sequence[GravityReading]]]]) -> str:
    """Return the drawing, ready to stand in a page; nothing where no cell was read with a number.

    Parameters
    ----------
    blocks : sequence of (str, sequence of sequence of GravityReading)
        Label of each block as it stands, then the readings of each of its cells in order of time.
    """
    cells = [readings for _, block in blocks for readings in block]
    known = [one.gravity_corrected for readings in cells for one in (*readings[:1], *readings[-1:])]
    values = [value for value in known if value is not None]
    if not values:
        return ""
    middle = (min(values) + max(values)) / 2
    half = max(max(values) - min(values), LEAST) / 2 + ROOM
    low, high = middle - half, middle + half
    step = (WIDTH - LEFT - RIGHT) / len(cells)
    bottom = TOP + FIELD

    def y(gravity: float) -> float:
        return round(TOP + (high - gravity) / (high - low) * FIELD, 1)

    parts = [
        f'<svg class="curve gravities" viewBox="0 0 {WIDTH} {bottom + BELOW}" role="img" '
        'aria-label="Gravity of every cell, first and last">',
        f'<rect x="{LEFT}" y="{TOP}" width="{WIDTH - LEFT - RIGHT}" height="{FIELD}" class="frame"/>',
    ]
    for tick in ticks(low, high, TICKS):
        parts.append(f'<path d="M{LEFT} {y(tick)}H{WIDTH - RIGHT}" class="grid"/>')
        parts.append(f'<text x="{LEFT - 5}" y="{y(tick) + 4}" text-anchor="end">{tick:.3f}</text>')
    last = [value for readings in cells if readings and (value := readings[-1].gravity_corrected) is not None]
    limit = median(last) - GRAVITY_BELOW if len(last) >= FEWEST_COMPARED else low
    parts += _behind(limit, y) if limit > low else []
    place = float(LEFT)
    for label, block in blocks:
        width = step * len(block)
        parts.append(f'<path d="M{place:.1f} {TOP}V{bottom + BELOW}" class="edge"/>')
        parts.append(f'<text x="{place + width / 2:.1f}" y="{bottom + 34}" text-anchor="middle">{escape(label)}</text>')
        for number, readings in enumerate(block, 1):
            x = round(place + (number - 0.5) * step, 1)
            if step >= CLOSE and len(block) > 1:
                parts.append(f'<text x="{x}" y="{bottom + 16}" text-anchor="middle">{number}</text>')
            parts += _cell(readings, x, y, bottom, limit)
        place += width
    return "".join([*parts, "</svg>"])


def _behind(limit: float, y: Callable[[float], float]) -> list[str]:
    """Return the line under which a cell stands out from its neighbours, as the verdict counts it."""
    ink, words = palette.LEVELS["hazard"].light, "stands out below this"
    return [
        f'<path d="M{LEFT} {y(limit)}H{WIDTH - RIGHT}" stroke="{ink}" stroke-width="1.6" stroke-dasharray="9 3"/>',
        f'<text x="{WIDTH - RIGHT - LETTER}" y="{y(limit) - 5}" text-anchor="end">{words}</text>',
    ]


def _cell(
    readings: Sequence[GravityReading], x: float, y: Callable[[float], float], bottom: int, limit: float
) -> list[str]:
    """Return one cell: a ring for its first reading, a full dot for its last; its value where it stands out."""
    if not readings:
        return [f'<text x="{x}" y="{bottom - 6}" text-anchor="middle">–</text>']
    ink = palette.CURVES["voltage"].light
    first, last = readings[0], readings[-1]
    ends = [_height(one, y, bottom) for one in (first, last)]
    parts = []
    if len(readings) > 1:
        parts.append(f'<path d="M{x} {ends[0]}V{ends[1]}" stroke="{ink}" stroke-width="1.6"/>')
        parts.append(f'<circle cx="{x}" cy="{ends[0]}" r="{RADIUS}" fill="#fff" stroke="{ink}" stroke-width="1.6"/>')
    if last.gravity_corrected is None:  # off the hydrometer's scale, or nothing to read: a word at that end
        parts.append(f'<text x="{x}" y="{ends[1] + (14 if last.mark == "high" else -6)}" text-anchor="middle">'
                     f"{escape(last.mark)}</text>")  # fmt: skip
    else:
        parts.append(f'<circle cx="{x}" cy="{ends[1]}" r="{RADIUS}" fill="{ink}"/>')
        if last.gravity_corrected < limit:
            parts.append(f'<text x="{x + 2 * RADIUS}" y="{ends[1] + 5}">{last.gravity_corrected:.3f}</text>')
    return parts


def _height(one: GravityReading, y: Callable[[float], float], bottom: int) -> float:
    if one.gravity_corrected is not None:
        return y(one.gravity_corrected)
    return float(TOP if one.mark == "high" else bottom)
