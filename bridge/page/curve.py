"""The revival curve for the page: down-sampled readings, phases, what happened, and how the estimate went."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.journal.reader import Bucket, JournalReader
from bridge.words.bank_status import event_words, spans
from bridge.words.spoken import measured
from rules.bank import Bank
from rules.events import Event

if TYPE_CHECKING:
    from bridge.runtime.service import Service

#: At most so many stretches over the whole width; their lengths [s] are those that divide an hour or a day.
STRETCHES = 600
WIDTHS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200, 86400)
#: Looked at where no round was begun yet [s].
DAY = 86400.0
LONGEST = 400 * DAY
#: No time lies beyond this [s since the epoch].
EVER = 1e11
#: So many moments of the estimate's past.
MOMENTS = 120
#: Nothing for so many stretches [1], and for so long [s], and the line is broken.
GAP_STRETCHES, SHORTEST_GAP = 3.0, 90.0
#: A state stands for a moment this much later [s], or so many steps later [1].
STATE_HOLDS, STATE_STEPS = 600.0, 2.0
#: The small line on a bank's tile: so long, in stretches so wide [s].
SPARK_LENGTH, SPARK_WIDTH = 2 * DAY, 1800
#: What is drawn on the curve as a mark.
MARKED = ("trip", "command", "hand", "proof", "permit-withdrawn", "cut-confirmed", "closed-without-permit")


def curve(path: Path, service: Service, bank: str, query: dict[str, str]) -> dict[str, Any]:
    """Return everything between ``since`` and ``until`` [s since the epoch]; the present round where they are left out.

    Raises
    ------
    ValueError
        They are no times, or lie too far apart.
    """
    now, scale = service.clock.now(), service.homie.cabin.degrees
    began = service.engine.memories[bank].phase.started_at
    start = began - 600.0 if began else now - DAY
    until = _time(query, "until", now)
    since = _time(query, "since", min(start, until - 600.0))
    if not 0 < until - since <= LONGEST:
        raise ValueError("until must lie after since, and at most 400 days after it")
    with JournalReader(path) as reader:
        return of_journal(reader, service.engine.banks[bank], since, until, scale) | {"began": began}


def of_journal(reader: JournalReader, bank: Bank, since: float, until: float, scale: str) -> dict[str, Any]:
    """Return the same from a journal alone, amounts as who reads this scale ("degC" or "degF") measures them."""
    width = next((width for width in WIDTHS if (until - since) / width <= STRETCHES), WIDTHS[-1])
    buckets = reader.readings(bank.id, since, until, width)
    events = reader.events(bank.id, 0.0, until)
    return {
        "since": since,
        "until": until,
        "width": width,
        "first": min([since, *(event.at for event in events[:1])]),
        "points": [_point(bucket, width, bank.cells) for bucket in _with_gaps(buckets, width)],
        "phases": spans(events, since, until),
        "marks": [
            {"at": event.at, "kind": event.kind, "words": _words(event, scale)}
            for event in events
            if event.kind in MARKED and event.at >= since and event.detail.get("name") != "boot"
        ][-400:],
        "estimates": _estimates(reader, bank.id, since, until),
    }


def _words(event: Event, scale: str) -> str:
    """Return a mark in words; what a person wrote stays, and moments go by the browser's clock."""
    if event.kind == "hand":
        return event_words(event, scale) or event.kind
    return measured(event_words(event) or event.kind, scale)


def days(path: Path, service: Service, bank: str, query: dict[str, str]) -> dict[str, Any]:
    """Return the last seven days at a glance: least and greatest of each, and the phases they saw."""
    now = service.clock.now()
    # The reader's minutes from UTC: days begin at their midnight.
    zone = _number(query, "offset", 0.0, 900.0, "offset is in minutes from UTC")
    today = math.floor((now + 60 * zone) / DAY) * DAY - 60 * zone
    found = []
    cells = service.engine.banks[bank].cells
    with JournalReader(path) as reader:
        events = reader.events(bank, 0.0, now)
        for number in range(7):
            begin = today - number * DAY
            hours = reader.readings(bank, begin, min(begin + DAY, now), 3600)
            if not hours:
                continue
            whole: dict[str, float | None] = {}
            for name, scale in (("voltage", 1.0 / cells), ("current", 1.0), ("temperature", 1.0)):
                for what, pick in (("min", min), ("max", max)):
                    values = [value for hour in hours if (value := getattr(hour, f"{name}_{what}")) is not None]
                    whole[f"{name}_{what}"] = _rounded(pick(values) * scale, 4) if values else None
            words = list(dict.fromkeys(span["phase"] for span in spans(events, begin, min(begin + DAY, now))))
            trips = sum(event.kind == "trip" and begin <= event.at < begin + DAY for event in events)
            found.append({"at": begin, "phases": words, "trips": trips, **whole})
    return {"days": found}


def sparks(path: Path, service: Service) -> dict[str, Any]:
    """Return volts per cell of every bank over the last two days, coarse: the small line on its tile."""
    now = service.clock.now()
    found = {}
    with JournalReader(path) as reader:
        for name, bank in service.engine.banks.items():
            buckets = reader.readings(name, now - SPARK_LENGTH, now, SPARK_WIDTH)
            found[name] = [
                [bucket.at, round(bucket.voltage_mean / bank.cells, 3)]
                for bucket in buckets
                if bucket.voltage_mean is not None
            ]
    return {"since": now - SPARK_LENGTH, "until": now, "banks": found}


def _time(query: dict[str, str], name: str, default: float) -> float:
    return _number(query, name, default, EVER, f"{name} is seconds since the epoch")


def _number(query: dict[str, str], name: str, default: float, most: float, wrong: str) -> float:
    try:
        value = float(query.get(name, default))
    except ValueError:
        raise ValueError(wrong) from None
    if not abs(value) <= most:  # nor is what is no number
        raise ValueError(wrong)
    return value


def _with_gaps(buckets: list[Bucket], width: int) -> list[Bucket]:
    """Put an empty stretch where nothing was measured for a while, so that no line is drawn across."""
    found: list[Bucket] = []
    for bucket in buckets:
        if found and bucket.at - found[-1].at > max(GAP_STRETCHES * width, SHORTEST_GAP):
            found.append(Bucket(found[-1].at + width, *[None] * 9))
        found.append(bucket)
    return found


def _point(bucket: Bucket, width: int, cells: int) -> list[Any]:
    """Return middle of the stretch, then least, mean and greatest of volts per cell, amps, degC."""
    volts = [
        None if value is None else _rounded(value / cells, 4)
        for value in (bucket.voltage_min, bucket.voltage_mean, bucket.voltage_max)
    ]
    amps = [_rounded(value, 2) for value in (bucket.current_min, bucket.current_mean, bucket.current_max)]
    heat = [_rounded(value, 2) for value in (bucket.temperature_min, bucket.temperature_mean, bucket.temperature_max)]
    return [bucket.at + width / 2, volts, amps, heat]


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _estimates(reader: JournalReader, bank: str, since: float, until: float) -> list[list[float | None]]:
    """Return hours left as they were given at the time: moment, low, middle, high."""
    step = (until - since) / MOMENTS
    moments = [since + (number + 1) * step for number in range(MOMENTS)]
    return [
        [
            round(at),
            *(_rounded(hours, 2) for hours in (state.remaining_low, state.remaining_hours, state.remaining_high)),
        ]
        for at, state in zip(moments, reader.states_at(bank, moments), strict=True)
        if state is not None and at - state.at < max(STATE_HOLDS, STATE_STEPS * step)
    ]
