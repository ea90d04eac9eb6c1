"""The revival curve as one SVG: volts per cell, amps and temperature over time, phases shaded and named."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from html import escape
from typing import Any, NamedTuple

from bridge import palette
from bridge.journal.reader import Bucket

WIDTH, LEFT, RIGHT, TOP, GAP = 1000, 58, 8, 26, 10
#: Longer than this between two points and the line is broken, in stretches.
BROKEN = 3.5


class Panel(NamedTuple):
    """One strip of the drawing.

    Attributes
    ----------
    name, title : str
        Colour's name in `bridge.palette.CURVES`, and what stands beside it.
    height : int
        In the drawing's own units.
    lines : sequence of tuple
        Moment [s since the epoch], least, mean, greatest; None = not known.
    band : tuple or None
        Low, high, words: a stretch of values that is worth marking.
    pattern : str
        Dashes, so that the lines differ without colour.
    """

    name: str
    title: str
    height: int
    lines: Sequence[tuple[float, float | None, float | None, float | None]]
    band: tuple[float, float, str] | None = None
    pattern: str = ""


def panels(curve: Sequence[Bucket], cells: int, band: tuple[float, float], degrees: Callable[[float], float],
           unit: str) -> list[Panel]:  # fmt: skip
    """The three strips of a round."""

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
        Panel("voltage", "V per cell", 200, each("voltage", lambda value: value / cells), (*band, "hold band")),
        Panel("current", "A", 130, each("current", lambda value: value), pattern="7 3"),
        Panel("temperature", unit, 130, each("temperature", degrees), pattern="2 3"),
    ]


def draw(strips: Sequence[Panel], phases: Sequence[dict[str, Any]], trips: Sequence[float], since: float,
         until: float) -> str:  # fmt: skip
    """The whole drawing, ready to stand in a page."""
    height = TOP + sum(strip.height + GAP for strip in strips) + 20
    scale = (WIDTH - LEFT - RIGHT) / max(1.0, until - since)

    def x(at: float) -> float:
        return round(LEFT + (at - since) * scale, 1)

    parts = [
        f'<svg class="curve" viewBox="0 0 {WIDTH} {height}" role="img" aria-label="Revival curve">',
        '<defs><pattern id="still" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<path d="M0 0V6" stroke="#51565b" stroke-width="1"/></pattern></defs>',
    ]
    bottom = height - 20 - GAP
    for stretch in phases:
        left, right = x(stretch["from"]), x(stretch["to"])
        shape = f'x="{left}" y="{TOP}" width="{max(0.0, round(right - left, 1))}" height="{bottom - TOP}"'
        parts.append(f'<rect {shape} fill="{palette.PHASES[stretch["phase"]].light}" fill-opacity=".2"/>')
        if stretch["interrupted"]:
            parts.append(f'<rect {shape} fill="url(#still)" fill-opacity=".5"/>')
    parts += _names(phases, x)
    top = TOP
    for strip in strips:
        parts += _strip(strip, top, x, (until - since) / max(1, len(strip.lines)))
        top += strip.height + GAP
    for trip in trips:
        parts.append(
            f'<path d="M{x(trip)} {TOP}V{bottom}" stroke="{palette.LEVELS["hazard"].light}" stroke-width="2"/>'
        )
        parts.append(f'<text x="{x(trip) + 3}" y="{bottom - 4}">trip</text>')
    parts += _days(since, until, x, bottom)
    return "".join([*parts, "</svg>"])


def _names(phases: Sequence[dict[str, Any]], x: Callable[[float], float]) -> list[str]:
    """Each phase's name over its first stretch that is wide enough."""
    parts, free = [], 0.0
    before = ""
    for stretch in phases:
        left = x(stretch["from"])
        if stretch["phase"] != before and left >= free:
            parts.append(f'<text x="{left + 2}" y="{TOP - 7}">{escape(stretch["phase"])}</text>')
            free = left + 9.0 * len(stretch["phase"])
            before = stretch["phase"]
    return parts


def _strip(strip: Panel, top: int, x: Callable[[float], float], step: float) -> list[str]:
    values = [value for line in strip.lines for value in line[1:] if value is not None]
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    if strip.band is not None:
        high = max(high, strip.band[1])
    room = max(high - low, 1e-3) * 0.06
    low, high = low - room, high + room

    def y(value: float) -> float:
        return round(top + (high - value) / (high - low) * strip.height, 1)

    ink = palette.CURVES[strip.name].light
    parts = [f'<rect x="{LEFT}" y="{top}" width="{WIDTH - LEFT - RIGHT}" height="{strip.height}" class="frame"/>']
    for tick in _ticks(low, high):
        parts.append(f'<path d="M{LEFT} {y(tick)}H{WIDTH - RIGHT}" class="grid"/>')
        parts.append(f'<text x="{LEFT - 5}" y="{y(tick) + 4}" text-anchor="end">{tick:g}</text>')
    if strip.band is not None:
        first, last, words = strip.band
        shape = f'x="{LEFT}" y="{y(last)}" width="{WIDTH - LEFT - RIGHT}" height="{round(y(first) - y(last), 1)}"'
        parts.append(f'<rect {shape} class="band"/><text x="{LEFT + 4}" y="{y(first) + 16}">{escape(words)}</text>')
    for run in _runs(strip.lines, BROKEN * step):
        around = [f"{x(at)},{y(greatest)}" for at, _, _, greatest in run]
        around += [f"{x(at)},{y(least)}" for at, least, _, _ in reversed(run)]
        parts.append(f'<polygon points="{" ".join(around)}" fill="{ink}" fill-opacity=".25"/>')
        middle = " ".join(f"{x(at)},{y(mean)}" for at, _, mean, _ in run)
        dashes = f' stroke-dasharray="{strip.pattern}"' if strip.pattern else ""
        parts.append(f'<polyline points="{middle}" fill="none" stroke="{ink}" stroke-width="1.6"{dashes}/>')
    parts.append(
        f'<text x="{WIDTH - RIGHT - 5}" y="{top + 17}" text-anchor="end" class="title">{escape(strip.title)}</text>'
    )
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


def _ticks(low: float, high: float) -> list[float]:
    rough = (high - low) / 4
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough)
    first = math.ceil(low / step)
    return [round((first + number) * step, 6) for number in range(int((high - first * step) / step) + 1)]


def _days(since: float, until: float, x: Callable[[float], float], bottom: float) -> list[str]:
    """Midnights, or hours where it was short, by the clock of the place."""
    begin = datetime.fromtimestamp(since).astimezone()
    long = until - since > 2 * 86400.0
    step = timedelta(days=max(1, round((until - since) / 86400.0 / 10))) if long else timedelta(hours=6)
    at = begin.replace(hour=0, minute=0, second=0, microsecond=0) + (timedelta(days=1) if long else timedelta())
    parts = []
    while at.timestamp() < until:
        if at.timestamp() >= since:
            place = x(at.timestamp())
            words = f"{at:%d %b}" if long or at.hour == 0 else f"{at:%H:%M}"
            parts.append(f'<path d="M{place} {TOP}V{bottom}" class="grid"/>')
            parts.append(f'<text x="{place}" y="{bottom + 16}" text-anchor="middle">{words}</text>')
        at += step
    return parts
