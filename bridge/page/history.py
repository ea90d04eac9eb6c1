"""What lies behind the present round: the bank's earlier rounds, and its gravity and capacity over the years."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Any, NamedTuple

from bridge.journal.reader import JournalReader
from bridge.page.curve import WIDTHS
from bridge.report.told import gravities, hand_readings
from rules.events import Event
from rules.phase import CHARGING

if TYPE_CHECKING:
    from bridge.runtime.service import Service

#: So many earlier rounds are laid over the present one, the newest first, each in at most so many stretches.
ROUNDS, STRETCHES = 4, 240
#: A start by command and the phase that follows it are one beginning within this; two rounds are never so close [s].
ONE_BEGINNING = 3600.0
#: Gravities taken within this [s] are one sheet.
ONE_SHEET = 3600.0
#: A capacity is judged at once when the test ends; its state is stored within this [s].
JUDGED_WITHIN = 120.0
#: What ends a round: an act, or the bank going to sleep.
ENDING_ACTS, ASLEEP = ("finish", "abandon"), ("idle", "finished")


class Stretch(NamedTuple):
    """A round from its beginning to its end [s since the epoch]."""

    begin: float
    end: float


def rounds(path: Path, service: Service, bank: str, query: dict[str, str]) -> dict[str, Any]:
    """Return the newest earlier rounds: when each began, then hours since and mean volts per cell, amps, degC."""
    now, cells = service.clock.now(), service.engine.banks[bank].cells
    present = service.engine.memories[bank].phase.started_at
    with JournalReader(path) as reader:
        earlier = [one for one in found_rounds(reader.events(bank, 0.0, now), now) if not _is_present(one, present)]
        return {"rounds": [_drawn(reader, bank, one, cells) for one in reversed(earlier[-ROUNDS:])]}


def years(path: Path, service: Service, bank: str, query: dict[str, str]) -> dict[str, Any]:
    """Return every sheet of gravities (lowest, middle, greatest), every capacity test, and every round, ever."""
    now, reference = service.clock.now(), service.engine.banks[bank].hydrometer_reference
    with JournalReader(path) as reader:
        events = reader.events(bank, 0.0, now)
        ends = [event for event in events if event.kind == "test-end"]
        states = reader.states_at(bank, [event.at + JUDGED_WITHIN for event in ends])
    tests = [
        [event.at, event.detail.get("delivered"), None if state is None else state.capacity_percent]
        for event, state in zip(ends, states, strict=True)
    ]
    stretches = [[one.begin, one.end] for one in found_rounds(events, now)]
    return {"sheets": _sheets(events, reference), "tests": tests, "rounds": stretches, "now": now}


def found_rounds(events: Sequence[Event], now: float) -> list[Stretch]:
    """Return the rounds that these events tell of; the last one may still go on.

    Examples
    --------
    >>> woke = Event("north", "phase", 5.0, {"phase": "waking", "before": "idle"})
    >>> found_rounds([woke, Event("north", "command", 9.0, {"name": "finish"})], 20.0)
    [Stretch(begin=5.0, end=9.0)]
    """
    found: list[Stretch] = []
    open_since: float | None = None
    for event in events:
        begins = _begins(event, asleep=open_since is None)
        if open_since is not None and (_ends(event) or (begins and event.at - open_since > ONE_BEGINNING)):
            found.append(Stretch(open_since, event.at))
            open_since = None
        if begins and open_since is None:
            open_since = event.at
    return found if open_since is None else [*found, Stretch(open_since, now)]


def _begins(event: Event, *, asleep: bool) -> bool:
    """Tell whether a round begins here: by command, or, where nobody commands, by the phase that wakes the bank."""
    if event.kind == "command":
        return event.detail.get("name") == "start"
    return event.kind == "phase" and asleep and event.detail.get("phase") in CHARGING


def _ends(event: Event) -> bool:
    if event.kind == "command":
        return event.detail.get("name") in ENDING_ACTS
    return event.kind == "phase" and event.detail.get("phase") in ASLEEP


def _is_present(one: Stretch, started_at: float | None) -> bool:
    return started_at is not None and one.end > started_at


def _drawn(reader: JournalReader, bank: str, one: Stretch, cells: int) -> dict[str, Any]:
    # Whole minutes come from the roll-up, which outlives the readings.
    width = next(
        (width for width in WIDTHS if width % 60 == 0 and (one.end - one.begin) / width <= STRETCHES), WIDTHS[-1]
    )
    buckets = reader.readings(bank, one.begin, one.end, width)
    return {
        "began": one.begin,
        "ended": one.end,
        "points": [
            [
                round(max(0.0, bucket.at + width / 2 - one.begin)),
                None if bucket.voltage_mean is None else round(bucket.voltage_mean / cells, 3),
                None if bucket.current_mean is None else round(bucket.current_mean, 2),
                None if bucket.temperature_mean is None else round(bucket.temperature_mean, 1),
            ]
            for bucket in buckets
        ],
    }


def _sheets(events: Sequence[Event], reference: float) -> list[list[Any]]:
    """Return moment, lowest, middle and greatest corrected gravity, cells read, and whether all were corrected."""
    read = sorted(
        (one.taken_at, one.gravity_corrected, one.corrected)
        for readings in gravities(hand_readings(events), reference).values()
        for one in readings
        if one.gravity_corrected is not None
    )
    sheets: list[list[tuple[float, float, bool]]] = []
    for one in read:
        if sheets and one[0] - sheets[-1][0][0] < ONE_SHEET:
            sheets[-1].append(one)
        else:
            sheets.append([one])
    told = []
    for sheet in sheets:
        values = [gravity for _, gravity, _ in sheet]
        corrected = all(known for _, _, known in sheet)
        low, middle, high = (round(pick(values), 4) for pick in (min, median, max))
        told.append([sheet[0][0], low, middle, high, len(values), corrected])
    return told
