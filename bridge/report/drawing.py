"""The revival curve as one SVG: volts per cell, amps and temperature over time, phases shaded and named."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from html import escape
from typing import Any, NamedTuple

from bridge.journal.reader import Bucket
from bridge.words import palette

WIDTH, LEFT, RIGHT, GAP = 1000, 74, 8, 10
#: Names of phases stand in so many rows above the strips, each so high; a letter is about so wide.
ROWS, ROW, LETTER = 3, 17, 8.5
TOP = ROWS * ROW + 4
#: Longer than this between two points and the line is broken, in stretches.
BROKEN = 3.5
#: A band lower than this has its words below it and not inside [px].
NARROW = 24.0


class Panel(NamedTuple):
    """One strip of the drawing.

    Attributes
    ----------
    name, title : str
        Colour's name in `bridge.words.palette.CURVES`, and what stands beside it.
    height : int
        In the drawing's own units.
    lines : sequence of tuple
        Moment [s since the epoch], least, mean, greatest; None = not known.
    least : float
        The scale spans at least so much: a steady value is drawn as a steady line.
    band : tuple or None
        Low, high, words: a stretch of values that is worth marking.
    pattern : str
        Dashes, so that the lines differ without colour.
    """

    name: str
    title: str
    height: int
    lines: Sequence[tuple[float, float | None, float | None, float | None]]
    least: float
    band: tuple[float, float, str] | None = None
    pattern: str = ""


def panels(
    curve: Sequence[Bucket], cells: int, band: tuple[float, float], degrees: Callable[[float], float], unit: str
) -> list[Panel]:
    """Return the three strips of a round."""

    def each(name: str, convert: Callable[[float], float]) -> list[tuple[float, Any, Any, Any]]:
        rows = []
        for bucket in curve:
            least, mean, greatest = (
                None if value is None else convert(value)
                for value in (getattr(bucket, f"{name}_{what}") for what in ("min", "mean", "max"))
            )
            rows.append((bucket.at, least, mean, greatest))
        return rows

    return [
        # Its lower end as the page writes it.
        Panel(
            "voltage",
            "V per cell",
            170,
            each("voltage", lambda value: value / cells),
            0.2,
            (*band, f"hold band from {band[0]:.2f}"),
        ),
        Panel("current", "A", 110, each("current", lambda value: value), 2.0, pattern="7 3"),
        Panel("temperature", unit, 110, each("temperature", degrees), 5.0, pattern="2 3"),
    ]


def draw(strips: Sequence[Panel], phases: Sequence[dict[str, Any]], trips: Sequence[float], since: float,
         until: float) -> str:  # fmt: skip
    """Return the whole drawing, ready to stand in a page."""
    height = TOP + sum(strip.height + GAP for strip in strips) + 20
    scale = (WIDTH - LEFT - RIGHT) / max(1.0, until - since)

    def x(at: float) -> float:
        # A stretch of readings, or a phase, may begin before the round does: it is drawn from the frame on.
        return round(LEFT + (min(max(at, since), until) - since) * scale, 1)

    parts = [
        f'<svg class="curve" viewBox="0 0 {WIDTH} {height}" role="img" aria-label="Revival curve">',
        '<defs><pattern id="still" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<path d="M0 0V6" stroke="#51565b" stroke-width="1"/></pattern></defs>',
    ]
    bottom = height - 20 - GAP
    names = _names(phases, x)
    for stretch in phases:
        left, right = x(stretch["from"]), x(stretch["to"])
        shape = f'x="{left}" y="{TOP}" width="{max(0.0, round(right - left, 1))}" height="{bottom - TOP}"'
        parts.append(f'<rect {shape} fill="{palette.PHASES[stretch["phase"]].light}" fill-opacity=".2"/>')
        if stretch["interrupted"]:
            parts.append(f'<rect {shape} fill="url(#still)" fill-opacity=".5"/>')
    top = TOP
    for strip in strips:
        parts += _strip(strip, top, x, (until - since) / max(1, len(strip.lines)))
        top += strip.height + GAP
    parts += [f'<path d="M{left} {row * ROW}V{bottom}" class="edge"/>' for left, row, _ in names]
    parts += [f'<text x="{left + 3}" y="{(row + 1) * ROW - 4}">{escape(name)}</text>' for left, row, name in names]
    for trip in trips:
        place, ink = x(trip), palette.LEVELS["hazard"].light
        parts.append(f'<path d="M{place} {TOP}V{bottom}" stroke="{ink}" stroke-width="2.5" stroke-dasharray="9 3"/>')
        parts.append(_text(place, 4.0, bottom - 6, "trip"))
    parts += _days(since, until, x, bottom)
    return "".join([*parts, "</svg>"])


def _names(phases: Sequence[dict[str, Any]], x: Callable[[float], float]) -> list[tuple[float, int, str]]:
    """Return where each phase begins, its row and its name: below the rows whose names its line would run through."""
    found, free = [], [0.0] * ROWS
    before = ""
    for stretch in phases:
        name, left = stretch["phase"], x(stretch["from"])
        row = max((row + 1 for row in range(ROWS) if left < free[row]), default=0)
        if name != before and row < ROWS:
            found.append((left, row, name))
            free[row] = left + LETTER * len(name) + 6.0
        before = name
    return found


def _text(place: float, beside: float, y: float, words: str) -> str:
    """Return words to the right of a place, or to its left where they would leave the drawing."""
    if place + beside + LETTER * len(words) > WIDTH - RIGHT:
        return f'<text x="{place - beside}" y="{y}" text-anchor="end">{escape(words)}</text>'
    return f'<text x="{place + beside}" y="{y}">{escape(words)}</text>'


def _strip(strip: Panel, top: int, x: Callable[[float], float], step: float) -> list[str]:
    values = [value for line in strip.lines for value in line[1:] if value is not None]
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    if strip.band is not None:
        high = max(high, strip.band[1])
    room = max((high - low) * 0.06, (strip.least - (high - low)) / 2)
    low, high = low - room, high + room

    def y(value: float) -> float:
        return round(top + (high - value) / (high - low) * strip.height, 1)

    ink = palette.CURVES[strip.name].light
    parts = [f'<rect x="{LEFT}" y="{top}" width="{WIDTH - LEFT - RIGHT}" height="{strip.height}" class="frame"/>']
    for tick in ticks(low, high):
        parts.append(f'<path d="M{LEFT} {y(tick)}H{WIDTH - RIGHT}" class="grid"/>')
        parts.append(f'<text x="{LEFT - 5}" y="{y(tick) + 4}" text-anchor="end">{tick:g}</text>')
    if strip.band is not None:
        first, last, words = strip.band
        shape = f'x="{LEFT}" y="{y(last)}" width="{WIDTH - LEFT - RIGHT}" height="{round(y(first) - y(last), 1)}"'
        below = y(first) if y(first) - y(last) < NARROW else y(last)
        parts.append(f'<rect {shape} class="band"/><text x="{LEFT + 4}" y="{below + 17}">{escape(words)}</text>')
    for run in _runs(strip.lines, BROKEN * step):
        around = [f"{x(at)},{y(greatest)}" for at, _, _, greatest in run]
        around += [f"{x(at)},{y(least)}" for at, least, _, _ in reversed(run)]
        parts.append(f'<polygon points="{" ".join(around)}" fill="{ink}" fill-opacity=".25"/>')
        middle = " ".join(f"{x(at)},{y(mean)}" for at, _, mean, _ in run)
        dashes = f' stroke-dasharray="{strip.pattern}"' if strip.pattern else ""
        parts.append(f'<polyline points="{middle}" fill="none" stroke="{ink}" stroke-width="1.6"{dashes}/>')
    middle_of = top + strip.height / 2
    turned = f'transform="rotate(-90 16 {middle_of:g})"'
    parts.append(f'<text x="16" y="{middle_of:g}" text-anchor="middle" {turned}>{escape(strip.title)}</text>')
    return parts


def _runs(
    lines: Sequence[tuple[float, Any, Any, Any]], longest: float
) -> list[list[tuple[float, float, float, float]]]:
    runs: list[list[tuple[float, float, float, float]]] = []
    before = -math.inf
    for at, least, mean, greatest in lines:
        if mean is None or least is None or greatest is None:
            continue
        if at - before > longest:
            runs.append([])
        runs[-1].append((at, least, mean, greatest))
        before = at
    return runs


def ticks(low: float, high: float, about: int = 4) -> list[float]:
    """Return round values between two, about so many of them."""
    rough = (high - low) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough)
    first = math.ceil(low / step)
    return [round((first + number) * step, 6) for number in range(int((high - first * step) / step) + 1)]


#: Steps of the time axis, the least of which there are at most so many marks is taken [s]; up to a day they divide it.
STEPS = tuple(60.0 * minutes for minutes in (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 1440))
MARKS = 10.0


def _days(since: float, until: float, x: Callable[[float], float], bottom: float) -> list[str]:
    """Return midnights, or hours and minutes where it was short, by the clock of the place."""
    begin = datetime.fromtimestamp(since).astimezone()
    long = until - since > 2 * 86400.0
    least = (until - since) / MARKS
    days, short = max(1, round(least / 86400.0)), next((each for each in STEPS if each >= least), STEPS[-1])
    step = timedelta(days=days) if long else timedelta(seconds=short)
    at = begin.replace(hour=0, minute=0, second=0, microsecond=0) + (timedelta(days=1) if long else timedelta())
    parts = []
    while at.timestamp() < until:
        if at.timestamp() >= since:
            place = x(at.timestamp())
            words = f"{at:%d %b}" if long or (at.hour, at.minute) == (0, 0) else f"{at:%H:%M}"
            parts.append(f'<path d="M{place} {TOP}V{bottom}" class="grid"/>')
            half = LETTER * len(words) / 2
            side = "end" if place + half > WIDTH else "middle"
            parts.append(f'<text x="{min(place, float(WIDTH))}" y="{bottom + 17}" text-anchor="{side}">{words}</text>')
        at += step
    return parts
