"""What rounds teach: revival by what was found, hours foretold against hours needed, advice, capacity.

Shares are told as counts with an interval, never as a bare percentage: three of five is anything from a fifth to nearly
all. Rounds count as if they were independent; where many are of one site, the truth is less sure than it looks.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from statistics import median
from typing import Any, NamedTuple

from bridge.fleet.lessons import experience_of
from bridge.fleet.round_row import SHARES, STAGES
from rules.bank import Experience

Row = Mapping[str, Any]
#: 95 % of a normal distribution lie within so many standard deviations [1].
NORMAL_95 = 1.959964
#: Share of needed hours that a band of 10 to 90 % should hold [1].
BAND = 0.8
#: Fewer values give no quartiles.
FEWEST = 4
#: Edges of the classes by which revival is told: volts per cell [V], amps over the rating [% of C20], years, degC.
VOLTS, AMPS, YEARS, DEGREES = (1.5, 1.8, 1.9, 2.0), (0.2, 0.5, 1.0, 2.0, 5.0), (5.0, 10.0, 15.0), (5.0, 15.0, 25.0)
#: So many lines of advice are told.
MOST_LINES = 25


class Share(NamedTuple):
    """So many of so many, and the bounds of the share that they leave likely (95 %) [1]."""

    label: str
    seen: int
    of: int
    low: float
    high: float


class Foretold(NamedTuple):
    """Hours at one moment of a round: needed over foretold, 10 %, middle, 90 % [1], and the share inside the band."""

    moment: str
    rounds: int
    low: float | None
    middle: float | None
    high: float | None
    inside: Share


class Advice(NamedTuple):
    """Advice: rounds and times it was shown, hours in all [h], what people did, after how long [h], what befell."""

    words: str
    rounds: int
    times: int
    hours: float
    acts: tuple[tuple[str, int], ...]
    after: float | None
    befell: tuple[tuple[str, int], ...]


class Gain(NamedTuple):
    """Capacity of one round before and after, over the rating [1]."""

    site: str
    bank: str
    before: float
    after: float


class Point(NamedTuple):
    """One prediction: its stage, hours foretold with their band, and hours needed [h]."""

    stage: str
    hours: float
    low: float
    high: float
    needed: float


class Taught(NamedTuple):
    """Everything that the report says."""

    sites: int
    banks: int
    rounds: int
    under_way: int
    parts: int
    outcomes: tuple[tuple[str, int], ...]
    revival: tuple[tuple[str, tuple[Share, ...]], ...]
    foretold: tuple[Foretold, ...]
    points: tuple[Point, ...]
    advice: tuple[Advice, ...]
    more_advice: int
    trips: tuple[tuple[str, str, int], ...]
    gains: tuple[Gain, ...]
    verdicts: tuple[tuple[str, int], ...]
    experience: Experience


def wilson(count: int, of: int, label: str = "") -> Share:
    """Return the score interval of a share at 95 %: Wilson, J. American Statistical Association 22 (1927) 209.

    Examples
    --------
    >>> share = wilson(3, 5)
    >>> round(share.low, 2), round(share.high, 2)
    (0.23, 0.88)
    """
    if not of:
        return Share(label, 0, 0, 0.0, 1.0)
    share, square = count / of, NORMAL_95 * NORMAL_95
    middle = share + square / (2.0 * of)
    half = NORMAL_95 * math.sqrt(share * (1.0 - share) / of + square / (4.0 * of * of))
    whole = 1.0 + square / of
    low, high = (middle - half) / whole, (middle + half) / whole
    return Share(label, count, of, max(0.0, low) if count else 0.0, min(1.0, high) if count < of else 1.0)


def taught(rows: Sequence[Row]) -> Taught:
    """Return what these rounds teach; only finished ones whose begin was seen are counted."""
    finished = [row for row in rows if row["finished"]]
    whole = [row for row in finished if row["whole"]]
    moments = [told for row in whole if row["outcome"] == "held" for told in row["moments"]]
    advice = _advice(finished)
    trips = Counter((trip["hazard"], trip["stage"]) for row in finished for trip in row["trips"])
    return Taught(
        sites=len({row["site"] for row in rows}),
        banks=len({(row["site"], row["bank"]) for row in rows}),
        rounds=len(whole),
        under_way=len(rows) - len(finished),
        parts=len(finished) - len(whole),
        outcomes=tuple(Counter(row["outcome"] for row in whole).most_common()),
        revival=(
            ("Volts per cell as found", by_class(whole, lambda row: row["volts_found"], VOLTS, "V")),
            ("Amps after one charging hour, of the rating", by_class(whole, _amps, AMPS, "%")),
            ("Age", by_class(whole, lambda row: row["age"], YEARS, "years")),
            ("Electrolyte at the begin", by_class(whole, lambda row: row["temperature_found"], DEGREES, "°C")),
        ),
        foretold=_foretold(moments),
        points=tuple(
            Point(told["stage"], told["hours"], told["low"], told["high"], told["needed"])
            for told in moments
            if told["moment"].startswith("entry") and told["needed"] is not None
        ),
        advice=advice[:MOST_LINES],
        more_advice=max(0, len(advice) - MOST_LINES),
        trips=tuple((hazard, stage, count) for (hazard, stage), count in trips.most_common()),
        gains=_gains(finished),
        verdicts=tuple(Counter(word for row in finished for word in _words(row)).most_common()),
        experience=experience_of(whole),
    )


def _amps(row: Row) -> float | None:
    share = row["amps_hour_share"]
    return None if share is None else 100.0 * float(share)


def by_class(
    rows: Iterable[Row], value: Callable[[Row], float | None], edges: Sequence[float], unit: str
) -> tuple[Share, ...]:
    """Return how many rounds held their charge to the end, class by class; what is not known is a class of its own."""
    names = [f"under {edges[0]:g} {unit}"]
    names += [f"{low:g} to {high:g} {unit}" for low, high in pairwise(edges)]
    names += [f"{edges[-1]:g} {unit} and more", "not known"]
    held, of = [0] * len(names), [0] * len(names)
    for row in rows:
        known = value(row)
        place = len(names) - 1 if known is None else sum(known >= edge for edge in edges)
        of[place] += 1
        held[place] += row["outcome"] == "held"
    return tuple(wilson(count, total, name) for name, count, total in zip(names, held, of, strict=True))


def _foretold(moments: Sequence[Mapping[str, Any]]) -> tuple[Foretold, ...]:
    found = []
    for name in (*SHARES, *(f"entry of {stage}" for stage in STAGES)):
        told = [m for m in moments if m["moment"] == name and m["needed"] is not None and m["hours"] > 0.0]
        ratios = sorted(m["needed"] / m["hours"] for m in told)
        low, middle, high = (quantile(ratios, share) for share in (0.1, 0.5, 0.9))
        inside = wilson(sum(bool(m["covered"]) for m in told), len(told))
        found.append(Foretold(name, len(told), low, middle, high, inside))
    return tuple(found)


def quantile(ordered: Sequence[float], share: float) -> float | None:
    """Return where this share [1] of ordered values lies, between neighbours; None of too few but for the middle."""
    if not ordered:
        return None
    if len(ordered) < FEWEST:
        return median(ordered) if share == median((0.0, 1.0)) else None
    place = share * (len(ordered) - 1)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])


def _advice(rows: Sequence[Row]) -> tuple[Advice, ...]:
    shown: dict[str, list[Mapping[str, Any]]] = {}
    rounds: Counter[str] = Counter()
    for row in rows:
        for entry in row["advice"]:
            shown.setdefault(entry["words"], []).append(entry)
        rounds.update({entry["words"] for entry in row["advice"]})
    found = []
    for words, entries in shown.items():
        acts = Counter(entry["act"] or "nothing noted" for entry in entries)
        befell = Counter(entry["befell"] for entry in entries if entry["befell"])
        after = sorted(entry["act_after"] for entry in entries if entry["act_after"] is not None)
        hours = sum(entry["hours"] for entry in entries)
        middle = quantile(after, 0.5)
        found.append(Advice(words, rounds[words], len(entries), hours, _most(acts), middle, _most(befell)))
    return tuple(sorted(found, key=lambda advice: (-advice.rounds, -advice.times, advice.words)))


def _most(counted: Counter[str]) -> tuple[tuple[str, int], ...]:
    return tuple(counted.most_common(3))


def _gains(rows: Sequence[Row]) -> tuple[Gain, ...]:
    return tuple(
        Gain(
            row["site"], row["bank"], row["capacity_before"] / row["capacity"], row["capacity_after"] / row["capacity"]
        )
        for row in rows
        if row["capacity_before"] is not None and row["capacity_after"] is not None
    )


def _words(row: Row) -> list[str]:
    return [str(word) for word in (row["verdicts"] or {}).values()]
