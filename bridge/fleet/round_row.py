"""One row a round, from what `revival replay` writes of one bank: its states, its events, its hand records.

A fold over lines in order of time, with a memory of plain tuples that stays small however long the round: a judgement
over recorded months and one that follows the present make the same rows.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from heapq import merge
from typing import Any, NamedTuple

from rules.bank import Bank
from rules.phase import CHARGING
from rules.step import INTERNAL

HOUR, DAY = 3600.0, 86400.0
#: Stages of a round, in its order.
STAGES = ("waking", "reviving", "bulk", "absorbing", "finishing", "holding")
#: Shares of the charging hours of a round at which what was foretold is held against what was needed [1].
SHARES = {"tenth": 0.1, "quarter": 0.25, "half": 0.5, "three-quarters": 0.75}
#: Lines farther apart than this leave hours that nobody saw [s]; a bridge that runs writes one a minute.
UNSEEN = 900.0
#: Volts as found, and a capacity, noted so long before a round belong to it [s].
BEFORE = 3 * DAY
#: A bank rests below this [V per cell]: only a charger holds a cell above it (`rules.phase`, from Bode 1977).
RESTS_BELOW = 2.22
#: And takes less than this share of its rating [C20/h]: a leak or a meter's offset (`rules.phase`).
RESTS_UNDER = 0.004
#: Charging hours after which the amps are taken [h], and how late they may be [h].
AFTER_AN_HOUR, LATE = 1.0, 0.25
#: At most so many predictions are remembered of a round; then every second one is dropped.
MOST_TOLD = 400
#: And the first ones lie so far apart [h of charging].
TOLD_EVERY = 0.1
#: Advice is followed by what comes until so long after it has gone [s].
FOLLOWS = 600.0
#: At most so many pieces of advice are kept of a round.
MOST_ADVICE = 300

#: Names of the parts of an estimate in its sentence, and the stages in which each passes.
PART_STAGES = {
    "waking": ("waking", "reviving"),
    "reviving": ("reviving",),
    "bulk": ("bulk",),
    "until the charger is raised": ("absorbing",),
    "climb": ("absorbing",),
    "finishing": ("finishing",),
}
_PARTS = re.compile(rf"([0-9]+\.[0-9]) h ({'|'.join(PART_STAGES)})\b")
#: Where a sentence ends, and what differs in it from one time to the next: moments, numbers, labels of blocks.
_FIRST = re.compile(r"(?<=[.!]) +(?=[A-Z])")
_VARIES = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]+Z|\b[A-Z]{0,2}[0-9]+(?:[.,:][0-9]+)*\b")

#: Name, type and meaning of each column, in their order. Lists and tables stand in a row as JSON text.
COLUMNS: tuple[tuple[str, str, str], ...] = (
    ("site", "string", "Site of the cabin file."),
    ("bank", "string", "Bank of the cabin file; site, bank and begun name a row."),
    ("begun", "double", "Charging was first seen [s since the epoch]."),
    ("ended", "double", "Hold complete, or ended by a person [s since the epoch]; null before."),
    ("finished", "boolean", "The round is over; what is noted afterwards (a test, a verdict) may still be added."),
    ("outcome", "string", "held (hold complete), ended-early, abandoned or under-way."),
    ("whole", "boolean", "Its begin was seen; else hours and amps are those of a part."),
    ("seen_until", "double", "Last line of this round [s since the epoch]."),
    ("cells", "int", "Cells in series."),
    ("capacity", "double", "Rated 20-hour capacity [Ah]."),
    ("starts", "string", "When the hold begins: at-voltage or at-current."),
    ("hold_needed", "double", "Least hold [h]."),
    ("made", "int", "Year in which the blocks were made, if the owner gave it."),
    ("age", "double", "Years from the middle of that year to the begin of the round."),
    ("volts_found", "double", "Volts per cell before the charger was switched on, as noted or measured [V]."),
    ("amps_hour", "double", "Current after one charging hour [A]."),
    ("amps_hour_share", "double", "The same over the rated capacity [C20/h]."),
    ("temperature_found", "double", "Electrolyte at the begin [degC]."),
    ("temperature_mean", "double", "Electrolyte, mean over charging hours [degC]."),
    ("temperature_most", "double", "Hottest electrolyte of the round [degC]."),
    ("charge", "double", "Charge returned until the hold ended, or so far [Ah]."),
    *((f"hours_{stage}", "double", f"Charging hours in {stage} [h].") for stage in STAGES),
    ("hours_charging", "double", "The sum of them [h]."),
    ("hours_still", "double", "Hours in which charging was interrupted [h]."),
    ("hours_unseen", "double", "Hours that nobody saw: no line for a quarter of an hour and more [h]."),
    ("not_reviving", "double", "Charging hours at which it was first said not to revive; null = never [h]."),
    ("hopeless", "double", "The same for beyond recovery [h]."),
    ("moments", "json", "A list, see below: what was foretold at each moment against what was needed."),
    ("advice", "json", "A list, see below: each piece of advice and what followed."),
    ("trips", "json", "A list: at, hazard, value, limit, unit, stage, reset_after [h]."),
    ("capacity_before", "double", "Capacity given with the verdict of the round before [Ah]."),
    ("capacity_after", "double", "Capacity given with the verdict of this round [Ah]."),
    ("test_delivered", "double", "What a capacity test of this round gave, uncorrected [Ah]."),
    ("verdicts", "json", "A table: bank or block, and the word a person gave."),
)  # fmt: skip


class Known(NamedTuple):
    """What the cabin file says of a bank and a row repeats; `strings` are the labels of its blocks."""

    site: str
    bank: str
    cells: int
    capacity: float
    starts: str
    hold_needed: float
    strings: tuple[tuple[str, ...], ...]
    made: int | None = None


class Told(NamedTuple):
    """An estimate as it stood: middle, 10 % and 90 % [h], its sentence, and the hours passed by then in each stage."""

    at: float
    stage: str
    hours: float
    low: float
    high: float
    reason: str
    passed: tuple[float, ...]


class Shown(NamedTuple):
    """Advice: its first sentence, from when until when [s], what a person did and what befell, and when [s]."""

    words: str
    since: float
    until: float | None = None
    act: str = ""
    act_at: float | None = None
    befell: str = ""


class Tripped(NamedTuple):
    """A trip, and when it was reset [s since the epoch]."""

    at: float
    hazard: str
    value: float | None
    limit: float | None
    unit: str
    stage: str
    reset_at: float | None = None


class Notes(NamedTuple):
    """What is remembered of a bank between two lines.

    Attributes
    ----------
    at : float or None
        Last line [s since the epoch].
    phase, interrupted : str, bool
        As that line left them.
    found, found_at : float or None, float
        Volts per cell of the bank at rest [V], and when they were seen [s since the epoch].
    warm : float or None
        Electrolyte, latest [degC].
    begun : float or None
        Begin of the round [s since the epoch]; None = there is none yet.
    whole : bool
        That begin was seen.
    warm_hours, warm_sum : float
        Charging hours with a known temperature [h], and the temperature summed over them [degC h].
    hours : tuple of float
        Charging hours in each of `STAGES` [h].
    told, apart : tuple of Told, float
        Estimates, some of them, and how far they lie from each other [h of charging].
    entries : tuple of Told
        The first estimate of each stage.
    """

    at: float | None = None
    phase: str = "idle"
    interrupted: bool = False
    found: float | None = None
    found_at: float = 0.0
    warm: float | None = None
    begun: float | None = None
    whole: bool = True
    ended: float | None = None
    outcome: str = "under-way"
    volts_found: float | None = None
    amps_hour: float | None = None
    warm_found: float | None = None
    warm_most: float | None = None
    warm_hours: float = 0.0
    warm_sum: float = 0.0
    charge: float | None = None
    hours: tuple[float, ...] = (0.0,) * len(STAGES)
    still: float = 0.0
    unseen: float = 0.0
    not_reviving: float | None = None
    hopeless: float | None = None
    told: tuple[Told, ...] = ()
    apart: float = TOLD_EVERY
    entries: tuple[Told, ...] = ()
    advice: tuple[Shown, ...] = ()
    trips: tuple[Tripped, ...] = ()
    capacity_before: float | None = None
    capacity_after: float | None = None
    delivered: float | None = None
    verdicts: dict[str, str] = {}


Line = Mapping[str, Any]
Row = dict[str, Any]


def known(site: str, bank: Bank, made: int | None = None) -> Known:
    """Return what rows of this bank repeat."""
    labels = tuple(tuple(block.label for block in string) for string in bank.strings)
    return Known(site, bank.id, bank.cells, bank.capacity, bank.hold.starts, bank.hold.minimum, labels, made)


def rows(bank: Known, states: Iterable[Line], events: Iterable[Line]) -> Iterator[Row]:
    """Yield one row a round, the last one perhaps unfinished.

    Parameters
    ----------
    bank : Known
        From `known`.
    states, events : iterable of dict
        Lines as `revival replay` writes them, each in order of time; those of other banks are passed over.
    """
    notes = Notes()
    for line in merge(events, states, key=lambda line: float(line["t"])):
        notes, row = note(bank, notes, line)
        if row is not None:
            yield row
    last = so_far(bank, notes)
    if last is not None:
        yield last


def note(bank: Known, notes: Notes, line: Line) -> tuple[Notes, Row | None]:
    """Fold one line, a state or an event; beside the new memory stands the row of a round when the next one begins."""
    if line.get("bank") != bank.bank:
        return notes, None
    at, kind, detail = float(line["t"]), line.get("kind"), line.get("detail") or {}
    first = notes.at is None
    notes = _passed(notes, at)
    if kind is None:
        notes, row = _moved(bank, notes, at, str(line["phase"]), bool(line["interrupted"]), first=first)
        return _state(bank, notes, at, line), row
    if kind == "phase":
        return _moved(bank, notes, at, str(detail["phase"]), bool(detail["interrupted"]), first=first)
    if kind == "command" and detail.get("name") not in INTERNAL:
        return _command(bank, _acted(notes, at, str(detail.get("name"))), at, detail), None
    if kind == "hand":
        return _hand(bank, _acted(notes, at, f"record {detail.get('kind')}"), detail), None
    if kind == "trip":
        return _trip(notes, at, detail), None
    if kind == "test-end":
        return notes._replace(delivered=_number(detail.get("delivered"))), None
    return notes, None


def so_far(bank: Known, notes: Notes) -> Row | None:
    """Return the row of the present round as it stands, marked unfinished where it is; None before any charging."""
    if notes.begun is None or notes.at is None:
        return None
    charging = sum(notes.hours)
    age = None if bank.made is None else _year(notes.begun) - bank.made - 0.5
    numbers = {f"hours_{stage}": hours for stage, hours in zip(STAGES, notes.hours, strict=True)}
    row: Row = {
        "site": bank.site,
        "bank": bank.bank,
        "begun": notes.begun,
        "ended": notes.ended,
        "finished": notes.ended is not None,
        "outcome": notes.outcome,
        "whole": notes.whole,
        "seen_until": notes.at,
        "cells": bank.cells,
        "capacity": bank.capacity,
        "starts": bank.starts,
        "hold_needed": bank.hold_needed,
        "made": bank.made,
        "age": age,
        "volts_found": notes.volts_found,
        "amps_hour": notes.amps_hour,
        "amps_hour_share": None if notes.amps_hour is None else notes.amps_hour / bank.capacity,
        "temperature_found": notes.warm_found,
        "temperature_mean": notes.warm_sum / notes.warm_hours if notes.warm_hours else None,
        "temperature_most": notes.warm_most,
        "charge": notes.charge,
        **numbers,
        "hours_charging": charging,
        "hours_still": notes.still,
        "hours_unseen": notes.unseen,
        "not_reviving": notes.not_reviving,
        "hopeless": notes.hopeless,
        "moments": _json(_moments(notes, charging)),
        "advice": _json([_of_advice(shown, notes.at) for shown in notes.advice]),
        "trips": _json([_of_trip(trip) for trip in notes.trips]),
        "capacity_before": notes.capacity_before,
        "capacity_after": notes.capacity_after,
        "test_delivered": notes.delivered,
        "verdicts": _json(notes.verdicts),
    }
    return {name: round(value, 6) if isinstance(value, float) else value for name, value in row.items()}


def _passed(notes: Notes, at: float) -> Notes:
    """Count the time since the last line as what that line left."""
    seconds = 0.0 if notes.at is None else max(0.0, at - notes.at)
    hours = seconds / HOUR
    notes = notes._replace(at=at if notes.at is None else max(at, notes.at))
    if notes.begun is None or notes.ended is not None or not hours:
        return notes
    if seconds > UNSEEN:
        return notes._replace(unseen=notes.unseen + hours)
    if notes.interrupted or notes.phase not in STAGES:
        return notes._replace(still=notes.still + hours)
    counted = list(notes.hours)
    counted[STAGES.index(notes.phase)] += hours
    notes = notes._replace(hours=tuple(counted))
    if notes.warm is None:
        return notes
    return notes._replace(warm_hours=notes.warm_hours + hours, warm_sum=notes.warm_sum + hours * notes.warm)


def _moved(
    bank: Known, notes: Notes, at: float, phase: str, interrupted: bool, *, first: bool
) -> tuple[Notes, Row | None]:
    """Take the phase: one that charges begins a round where none is open; rest or idleness ends an open one."""
    before, row = notes.phase, None
    notes = notes._replace(phase=phase, interrupted=interrupted)
    if phase in CHARGING and (notes.begun is None or notes.ended is not None):
        row = so_far(bank, notes)
        notes = _begun(notes, at, whole=not first)
    elif notes.begun is not None and notes.ended is None and before in CHARGING and phase not in CHARGING:
        # What a person ended was marked by the command; a machine that comes to rest has completed its hold.
        notes = notes._replace(ended=at, outcome="held" if phase == "resting" else "abandoned")
    if phase != before and notes.begun is not None:
        notes = _befell(notes, at, phase)
    return notes, row


def _begun(notes: Notes, at: float, *, whole: bool) -> Notes:
    seen = notes.found is not None and at - notes.found_at <= BEFORE
    return Notes(
        at=notes.at, phase=notes.phase, interrupted=notes.interrupted, found=notes.found, found_at=notes.found_at,
        warm=notes.warm, begun=at, whole=whole, volts_found=notes.found if seen else None, warm_found=notes.warm,
        warm_most=notes.warm, capacity_before=notes.capacity_after or notes.capacity_before,
    )  # fmt: skip


def _state(bank: Known, notes: Notes, at: float, line: Line) -> Notes:
    volts, amps, warm = (_number(line.get(name)) for name in ("volts_per_cell", "current_a", "temperature_c"))
    notes = notes._replace(warm=warm)
    at_rest = notes.phase not in CHARGING and volts is not None and volts < RESTS_BELOW
    if at_rest and (amps is None or abs(amps) <= RESTS_UNDER * bank.capacity):
        notes = notes._replace(found=volts, found_at=at)
    if notes.begun is None:
        return notes
    notes = _advised(notes, at, str(line.get("advice", "")))
    if notes.ended is not None:
        return notes
    if warm is not None:
        most = warm if notes.warm_most is None else max(warm, notes.warm_most)
        notes = notes._replace(warm_most=most, warm_found=warm if notes.warm_found is None else notes.warm_found)
    charge, flags = _number(line.get("charge_returned_ah")), line.get("flags") or ()
    passed = sum(notes.hours)
    if charge is not None:
        notes = notes._replace(charge=charge)
    if notes.not_reviving is None and "not-reviving" in flags:
        notes = notes._replace(not_reviving=passed)
    if notes.hopeless is None and "hopeless" in flags:
        notes = notes._replace(hopeless=passed)
    if notes.interrupted or notes.phase not in STAGES:
        return notes
    if notes.whole and notes.amps_hour is None and AFTER_AN_HOUR <= passed <= AFTER_AN_HOUR + LATE:
        notes = notes._replace(amps_hour=amps)
    return _foretold(notes, at, line)


def _foretold(notes: Notes, at: float, line: Line) -> Notes:
    """Keep the estimate where it is the first of its stage, or far enough from the last one kept."""
    span = [_number(line.get(f"remaining_{name}")) for name in ("hours", "low", "high")]
    hours, low, high = span
    if hours is None or low is None or high is None:
        return notes
    told = Told(at, notes.phase, hours, low, high, str(line.get("remaining_reason", "")), notes.hours)
    if all(entry.stage != told.stage for entry in notes.entries):
        notes = notes._replace(entries=(*notes.entries, told))
    if notes.told and sum(notes.hours) - sum(notes.told[-1].passed) < notes.apart:
        return notes
    notes = notes._replace(told=(*notes.told, told))
    return notes if len(notes.told) < MOST_TOLD else notes._replace(told=notes.told[::2], apart=2.0 * notes.apart)


def _moments(notes: Notes, charging: float) -> list[dict[str, Any]]:
    """Return what was foretold at the entry of each stage, and at `SHARES` of a held round, against what it took."""
    held = notes.outcome == "held"
    found = [_moment(f"entry of {told.stage}", told, notes, charging if held else None) for told in notes.entries]
    for name, share in SHARES.items():
        before = [told for told in notes.told if sum(told.passed) <= share * charging]
        near = before and share * charging - sum(before[-1].passed) <= max(notes.apart, 0.5 * share * charging)
        if held and near:
            found.append(_moment(name, before[-1], notes, charging))
    return found


def _moment(name: str, told: Told, notes: Notes, charging: float | None) -> dict[str, Any]:
    passed = sum(told.passed)
    needed = None if charging is None else round(charging - passed, 4)
    left = {stage: notes.hours[n] - told.passed[n] for n, stage in enumerate(STAGES)}
    return {
        "moment": name,
        "stage": told.stage,
        "at": told.at,
        "passed": round(passed, 4),
        "hours": told.hours,
        "low": told.low,
        "high": told.high,
        "needed": needed,
        "covered": None if needed is None else told.low <= needed <= told.high,
        "reason": told.reason,
        "left": {stage: round(hours, 4) for stage, hours in left.items()},
    }


def foretold_parts(reason: str) -> dict[str, float]:
    """Return the hours of each part that an estimate's sentence names [h].

    Examples
    --------
    >>> foretold_parts("about 1.5 h reviving, 3.0 h bulk before the 16 h hold, from charge returned, voltage and trend")
    {'reviving': 1.5, 'bulk': 3.0}
    """
    return {name: float(hours) for hours, name in _PARTS.findall(reason)}


def _advised(notes: Notes, at: float, advice: str) -> Notes:
    words = advice_words(advice)
    if notes.advice and notes.advice[-1].until is None:
        if notes.advice[-1].words == words:
            return notes
        notes = notes._replace(advice=(*notes.advice[:-1], notes.advice[-1]._replace(until=at)))
    if not words or len(notes.advice) >= MOST_ADVICE:
        return notes
    for place in range(len(notes.advice) - 1, -1, -1):
        before = notes.advice[place]
        if before.until is None or at - before.until > FOLLOWS:
            break
        if before.words == words and not before.act:
            # It had only made room for another line: one piece of advice, not two.
            rest = notes.advice[:place] + notes.advice[place + 1 :]
            return notes._replace(advice=(*rest, before._replace(until=None)))
    return notes._replace(advice=(*notes.advice, Shown(words, at)))


def advice_words(advice: str) -> str:
    """Return the first sentence of an advice without what varies in it: moments, numbers, labels.

    Examples
    --------
    >>> advice_words("Wait: the bank rests until 2026-11-25T07:00Z. Then measure N1 at 2.10 V.")
    'Wait: the bank rests until ....'
    """
    return _VARIES.sub("...", _FIRST.split(advice, maxsplit=1)[0]).strip()


def _acted(notes: Notes, at: float, act: str) -> Notes:
    """Write a person's act beside every advice that was to be seen then, or a little before."""
    if notes.begun is None:
        return notes
    return notes._replace(
        advice=tuple(
            [
                shown._replace(act=act, act_at=at)
                if not shown.act and (shown.until is None or at - shown.until <= FOLLOWS)
                else shown
                for shown in notes.advice
            ]
        )
    )


def _befell(notes: Notes, at: float, what: str) -> Notes:
    return notes._replace(
        advice=tuple(
            [
                shown._replace(befell=what)
                if not shown.befell and (shown.until is None or at - shown.until <= FOLLOWS)
                else shown
                for shown in notes.advice
            ]
        )
    )


def _of_advice(shown: Shown, until: float) -> dict[str, Any]:
    return {
        "words": shown.words,
        "since": shown.since,
        "hours": round(((shown.until or until) - shown.since) / HOUR, 3),
        "act": shown.act,
        "act_after": None if shown.act_at is None else round((shown.act_at - shown.since) / HOUR, 3),
        "befell": shown.befell,
    }


def _trip(notes: Notes, at: float, detail: Line) -> Notes:
    if notes.begun is None:
        return notes
    hazard = str(detail.get("hazard"))
    value, limit = _number(detail.get("value")), _number(detail.get("limit"))
    tripped = Tripped(at, hazard, value, limit, str(detail.get("unit", "")), notes.phase)
    return _befell(notes._replace(trips=(*notes.trips, tripped)), at, f"trip: {hazard}")


def _of_trip(trip: Tripped) -> dict[str, Any]:
    after = None if trip.reset_at is None else round((trip.reset_at - trip.at) / HOUR, 3)
    told = trip._asdict()
    del told["reset_at"]
    return {**told, "reset_after": after}


def _command(bank: Known, notes: Notes, at: float, detail: Line) -> Notes:
    """Take what a person's act ends, resets or judges."""
    name, argument = detail.get("name"), detail.get("argument") or {}
    if name == "reset":
        again = [trip._replace(reset_at=at) if trip.reset_at is None else trip for trip in notes.trips]
        return notes._replace(trips=tuple(again))
    if name == "verdict" and "gone" in detail:  # the one before it stands again
        argument = detail.get("stands") or {}
        notes = notes._replace(capacity_after=None, verdicts={})
    if name == "verdict":
        given = argument.get("capacities") or {}
        words = {str(label): str(word) for label, word in (argument.get("words") or {}).items()}
        capacity = _capacity(bank, {str(label): float(value) for label, value in given.items()})
        return notes._replace(capacity_after=capacity or notes.capacity_after, verdicts={**notes.verdicts, **words})
    if notes.begun is None or notes.ended is not None or name not in ("finish", "abandon"):
        return notes
    if name == "abandon":
        return notes._replace(ended=at, outcome="abandoned", phase="idle")
    return notes._replace(ended=at, outcome="ended-early" if detail.get("early") else "held", phase="resting")


def _capacity(bank: Known, given: Mapping[str, float]) -> float | None:
    """Return the bank's capacity as a verdict gives it, else that of its blocks: the least of each string, summed."""
    if bank.bank in given:
        return given[bank.bank]
    strings = [[given[label] for label in string if label in given] for string in bank.strings]
    whole = all(len(found) == len(string) for found, string in zip(strings, bank.strings, strict=True))
    return sum(min(found) for found in strings) if whole else None


def _hand(bank: Known, notes: Notes, detail: Line) -> Notes:
    """Take the volts of the bank as somebody found it."""
    values = detail.get("values") or {}
    volts = _number(values.get(""))
    if detail.get("kind") != "voltage" or detail.get("under_charge") or detail.get("undo") or volts is None:
        return notes
    at = _number(detail.get("taken_at")) or notes.at or 0.0
    notes = notes._replace(found=volts / bank.cells, found_at=at)
    early = notes.begun is not None and notes.begun - BEFORE <= at < notes.begun
    return notes._replace(volts_found=notes.found) if early and notes.volts_found is None else notes


def _year(at: float) -> float:
    """Return a moment [s since the epoch] in years, with its fraction."""
    when = datetime.fromtimestamp(at, UTC)
    begin = datetime(when.year, 1, 1, tzinfo=UTC)
    return when.year + (when - begin).total_seconds() / (365.25 * DAY)


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _json(value: object) -> str:
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False)
