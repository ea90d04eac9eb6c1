"""How right phase and hours were in a round whose owner wrote down what happened when: a table and a picture.

The notebook is a CSV file with the header `when,bank,what`: a moment (ISO 8601, by this computer's clock where it names
no offset), the bank, and a phase that began then, or `off` and `on` where the charger stopped and came back. The first
`resting` is the end that hours are counted to. `sample_messages/rounds/` holds one.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from html import escape
from pathlib import Path
from statistics import median
from typing import NamedTuple

from bridge.errors import UsageError
from bridge.report.drawing import LETTER, ticks
from bridge.words import palette
from rules.events import Derived
from rules.phase import PHASES

HEADER = ("when", "bank", "what")
OFF, ON = "off", "on"
#: Either side of a transition both phases are right [s] (common practice, no source).
NEAR = 1800.0
#: With less than this to go a relative error says nothing [h].
LEAST = 0.25
#: One look stands for the time until the next, at most so much [s].
STANDS = 120.0
#: The picture, its margins, the strip of phases and the strip of hours [px]; hours are drawn up to so many times the
#: longest that was truly left [1].
WIDTH, LEFT, RIGHT, ROW, TALL, FOOT, HEADROOM = 1000, 74, 8, 26, 330, 40, 2.0


class Note(NamedTuple):
    """What began when [s since the epoch], in which bank."""

    at: float
    bank: str
    what: str


class Look(NamedTuple):
    """What was said of a bank at one moment; hours of charging and by the clock, low, middle, high [h]."""

    at: float
    phase: str
    charging: tuple[float | None, float | None, float | None]
    clock: tuple[float | None, float | None, float | None]


class Told(NamedTuple):
    """One bank's notebook: phases and when they began, stretches without the charger, and the end of the hold."""

    phases: tuple[tuple[float, str], ...]
    off: tuple[tuple[float, float], ...]
    end: float | None


class Stage(NamedTuple):
    """How right it was in one stage; None where nothing could be asked.

    Attributes
    ----------
    name : str
        Phase of the notebook, or "all".
    hours : float
        How long it lasted [h].
    right : float
        Share of that time with the right phase [1].
    error, clock_error : float or None
        Median error of the middle over what was left [1].
    inside, clock_inside : float or None
        Share of the time in which the band held what was left [1].
    width : float or None
        Median width of the band over what was left [1].
    """

    name: str
    hours: float
    right: float
    error: float | None
    inside: float | None
    width: float | None
    clock_error: float | None
    clock_inside: float | None


def read_notebook(path: Path, banks: Iterable[str]) -> tuple[Note, ...]:
    """Return the notes of a file, in order of time.

    Raises
    ------
    UsageError
        The file cannot be read, or a line of it; names file, line, value and the fix.
    """
    known, words = sorted(banks), (*PHASES, OFF, ON)
    try:
        with path.open(encoding="utf-8", newline="") as lines:
            rows = list(csv.reader(line for line in lines if not line.startswith("#")))
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"{path}: cannot be read: {error}") from None
    if not rows or tuple(cell.strip() for cell in rows[0][:3]) != HEADER:
        raise UsageError(f"{path}: the first line must be {','.join(HEADER)}")
    notes = []
    for number, row in enumerate(rows[1:], 2):
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        when, bank, what = (*cells, "", "", "")[:3]
        try:
            at = datetime.fromisoformat(when).timestamp()
        except ValueError:
            raise UsageError(f"{path}, row {number}: when = {when!r}: write 2026-06-15T08:16, or with +00:00") from None
        if bank not in known:
            raise UsageError(f"{path}, row {number}: bank = {bank!r}: the cabin file knows {', '.join(known)}")
        if what not in words:
            raise UsageError(f"{path}, row {number}: what = {what!r}: write one of {', '.join(words)}")
        notes.append(Note(at, bank, what))
    return tuple(sorted(notes))


def told(notes: Sequence[Note], bank: str) -> Told:
    """Return what the notes tell of one bank.

    Examples
    --------
    >>> notes = (Note(0.0, "n", "waking"), Note(60.0, "n", "off"), Note(90.0, "n", "on"), Note(200.0, "n", "resting"))
    >>> told(notes, "n")
    Told(phases=((0.0, 'waking'), (200.0, 'resting')), off=((60.0, 90.0),), end=200.0)
    """
    own = [note for note in notes if note.bank == bank]
    phases = tuple([(note.at, note.what) for note in own if note.what not in (OFF, ON)])
    off, since = [], None
    for note in own:
        if note.what == OFF and since is None:
            since = note.at
        elif note.what == ON and since is not None:
            off.append((since, note.at))
            since = None
    ends = [at for at, phase in phases if phase == "resting"]
    if since is not None:
        off.append((since, max(since, *ends, own[-1].at) if ends else own[-1].at))
    return Told(phases, tuple(off), ends[0] if ends else None)


def look(derived: Derived) -> Look:
    """Return what is scored of a state."""
    d = derived
    return Look(
        d.at,
        d.phase,
        (d.remaining_low, d.remaining_hours, d.remaining_high),
        (d.remaining_clock_low, d.remaining_clock_hours, d.remaining_clock_high),
    )


def left(truth: Told, at: float) -> tuple[float, float] | None:
    """Return what was left at a moment: charging hours, clock hours [h]; None where the end is not known or over.

    Examples
    --------
    >>> left(Told(((0.0, "waking"), (7200.0, "resting")), ((1800.0, 3600.0),), 7200.0), 0.0)
    (1.5, 2.0)
    """
    if truth.end is None or at >= truth.end:
        return None
    stood = sum(max(0.0, min(end, truth.end) - max(begin, at)) for begin, end in truth.off)
    return (truth.end - at - stood) / 3600.0, (truth.end - at) / 3600.0


def score(truth: Told, looks: Sequence[Look]) -> list[Stage]:
    """Return a row for each stage of the notebook, in its order, and one for all of it."""
    stages = list(dict.fromkeys(phase for _, phase in truth.phases))
    seen: dict[str, list[tuple[float, bool, Look]]] = {name: [] for name in (*stages, "all")}
    for now, after in zip(looks, (*looks[1:], None), strict=True):
        begun = [phase for at, phase in truth.phases if at <= now.at]
        if not begun:
            continue
        near = {phase for at, phase in truth.phases if now.at < at <= now.at + NEAR}
        near |= {
            before for (_, before), (at, _) in zip(truth.phases, truth.phases[1:], strict=False)
            if at <= now.at <= at + NEAR
        }  # fmt: skip
        seconds = min(STANDS, after.at - now.at) if after is not None else 0.0
        for name in (begun[-1], "all"):
            seen[name].append((seconds, now.phase in {begun[-1], *near}, now))
    return [_stage(name, truth, rows) for name, rows in seen.items() if rows]


def _stage(name: str, truth: Told, rows: list[tuple[float, bool, Look]]) -> Stage:
    whole = sum(seconds for seconds, _, _ in rows)
    right = sum(seconds for seconds, good, _ in rows if good)
    errors: tuple[list[float], list[float]] = ([], [])
    widths: list[float] = []
    inside, asked = [0.0, 0.0], [0.0, 0.0]
    for seconds, _, now in rows:
        truly = left(truth, now.at)
        for number, band in enumerate((now.charging, now.clock)):
            low, middle, high = band
            if truly is None or low is None or middle is None or high is None or truly[number] < LEAST:
                continue
            errors[number].append(abs(middle - truly[number]) / truly[number])
            asked[number] += seconds
            inside[number] += seconds if low <= truly[number] <= high else 0.0
            if number == 0:
                widths.append((high - low) / truly[number])
    return Stage(
        name, whole / 3600.0, right / whole if whole else 0.0,
        _middle(errors[0]), inside[0] / asked[0] if asked[0] else None, _middle(widths),
        _middle(errors[1]), inside[1] / asked[1] if asked[1] else None,
    )  # fmt: skip


def _middle(values: list[float]) -> float | None:
    return median(values) if values else None


def table(bank: str, stages: Sequence[Stage]) -> str:
    """Return the score of a bank as text."""
    head = ("stage", "hours", "phase right", "error", "in band", "width", "clock error", "in clock band")
    rows = [head]
    for each in stages:
        shares = (
            each.right, each.error, each.inside, each.width, each.clock_error, each.clock_inside,
        )  # fmt: skip
        rows.append((each.name, f"{each.hours:.1f}", *[_percent(share) for share in shares]))  # type: ignore[arg-type]
    wide = [max(len(row[column]) for row in rows) for column in range(len(head))]
    lines = [
        "  ".join([row[0].ljust(wide[0]), *[cell.rjust(room) for cell, room in zip(row[1:], wide[1:], strict=True)]])
        for row in rows
    ]
    return "\n".join([f"bank {bank}", *lines])


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{100.0 * share:.0f} %"


def picture(bank: str, truth: Told, looks: Sequence[Look]) -> str:
    """Return an SVG of phases, written and said, and of the hours left, true and foretold with their band."""
    since, until = looks[0].at, max(looks[-1].at, looks[0].at + 1.0)
    scale = (WIDTH - LEFT - RIGHT) / (until - since)
    top = 2 * ROW + 12
    true = [(now.at, hours[0]) for now in looks if (hours := left(truth, now.at)) is not None]
    known = [(now.at, now.charging[0], now.charging[1], now.charging[2]) for now in looks]
    fan = [(at, low, mid, high) for at, low, mid, high in known if None not in (low, mid, high)]
    longest = max([hours for _, hours in true] + [mid for _, _, mid, _ in fan if mid is not None] + [1.0])
    most = HEADROOM * longest

    def x(at: float) -> str:
        return f"{LEFT + (at - since) * scale:.1f}"

    def y(hours: float | None) -> str:
        return f"{top + TALL * (1.0 - min(hours or 0.0, most) / most):.1f}"

    ink, faint, line = (palette.GROUND[name].light for name in ("ink", "faint", "line"))
    ground, colour = palette.GROUND["panel"].light, palette.CURVES["voltage"].light
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {top + TALL + FOOT}" '
        f'font-family="sans-serif" font-size="12" fill="{ink}" role="img" aria-label="Score of bank {escape(bank)}">',
        f'<rect width="{WIDTH}" height="{top + TALL + FOOT}" fill="{ground}"/>',
    ]
    said = [
        (now.at, now.phase) for number, now in enumerate(looks) if not number or looks[number - 1].phase != now.phase
    ]
    for row, (name, phases) in enumerate((("written", list(truth.phases)), ("said", said))):
        parts.append(f'<text x="{LEFT - 6}" y="{row * ROW + 18}" text-anchor="end">{name}</text>')
        parts += _phases(phases, since, until, x, row * ROW)
    for tick in ticks(0.0, most):
        parts.append(f'<path d="M{LEFT} {y(tick)}H{WIDTH - RIGHT}" stroke="{line}" stroke-opacity=".4"/>')
        parts.append(
            f'<text x="{LEFT - 6}" y="{float(y(tick)) + 4:.1f}" text-anchor="end" fill="{faint}">{tick:g}</text>'
        )
    for begin, end in truth.off:
        wide = max(0.0, (min(end, until) - max(begin, since)) * scale)
        parts.append(f'<rect x="{x(max(begin, since))}" y="{top}" width="{wide:.1f}" height="{TALL}" fill="{line}" '
                     'fill-opacity=".15"/>')  # fmt: skip
    for run in _runs(fan):
        around = [f"{x(at)},{y(high)}" for at, _, _, high in run]
        around += [f"{x(at)},{y(low)}" for at, low, _, _ in reversed(run)]
        parts.append(f'<polygon points="{" ".join(around)}" fill="{colour}" fill-opacity=".25"/>')
        middles = " ".join(f"{x(at)},{y(mid)}" for at, _, mid, _ in run)
        parts.append(f'<polyline points="{middles}" fill="none" stroke="{colour}" stroke-width="1.6"/>')
    if true:
        points = " ".join(f"{x(at)},{y(hours)}" for at, hours in true)
        parts.append(
            f'<polyline points="{points}" fill="none" stroke="{ink}" stroke-width="1.4" stroke-dasharray="6 4"/>'
        )
    for tick in ticks(0.0, (until - since) / 3600.0, 10):
        parts.append(f'<text x="{x(since + 3600.0 * tick)}" y="{top + TALL + 16}" text-anchor="middle" '
                     f'fill="{faint}">{tick:g} h</text>')  # fmt: skip
    words = f"bank {bank}: charging hours left; dashed what was true, line and band what was said; grey: charger off"
    parts.append(f'<text x="{LEFT}" y="{top + TALL + 34}">{escape(words)}</text>')
    return "".join([*parts, "</svg>\n"])


def _phases(
    phases: Sequence[tuple[float, str]], since: float, until: float, x: Callable[[float], str], top: int
) -> list[str]:
    """Return a bar of phases, each in its colour and by its name where it has room."""
    parts = []
    for (at, phase), after in zip(phases, (*[begun for begun, _ in phases[1:]], until), strict=True):
        begin, end = max(at, since), min(after, until)
        room = float(x(end)) - float(x(begin))
        if room <= 0.0:
            continue
        parts.append(
            f'<rect x="{x(begin)}" y="{top + 3}" width="{room:.1f}" height="{ROW - 5}" '
            f'fill="{palette.PHASES[phase].light}" fill-opacity=".3"/>'
        )
        if room > LETTER * len(phase):
            parts.append(f'<text x="{float(x(begin)) + 3.0:.1f}" y="{top + 18}">{phase}</text>')
    return parts


def _runs(
    fan: Sequence[tuple[float, float | None, float | None, float | None]],
) -> list[list[tuple[float, float | None, float | None, float | None]]]:
    """Return the stretches without a gap."""
    runs: list[list[tuple[float, float | None, float | None, float | None]]] = []
    before = float("-inf")
    for row in fan:
        if row[0] - before > 3.0 * STANDS:
            runs.append([])
        runs[-1].append(row)
        before = row[0]
    return runs
