"""From rows of the journal back to what they were."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from typing import Any, NamedTuple

from bridge.journal.schema import READING_COLUMNS, STATE_FLAGS, STATE_SCALES, STATE_WORDS
from rules.events import Derived, Event, Flag


class Row(NamedTuple):
    """One row of a stream as an outlet sees it.

    `at` [s since the epoch]; `undated` rows were written by a clock nobody ever trusted; `values` are floats in
    canonical units by column or meter name for readings, a `Derived`, an `Event`, or a dict of numbers for health.
    """

    id: int
    at: float
    bank: str
    undated: bool
    values: Any


_STATE = (*STATE_SCALES, *STATE_FLAGS, *STATE_WORDS)
EVENT_SQL = (
    "SELECT event.id, event.at, bank.name, event.boot, kind, detail FROM event JOIN bank ON bank.id = event.bank "
)
READING_SQL = (
    f"SELECT reading.id, second, bank.name, boot, {', '.join(column for column, _ in READING_COLUMNS.values())}, extra "
    "FROM reading JOIN bank ON bank.id = reading.bank "
)


def state_sql(columns: Collection[str]) -> str:
    """Return the query for states; what an older journal has no column for is not known."""
    kept = ", ".join(name if name in columns else "NULL" for name in _STATE)
    return (
        f"SELECT state.id, state.at, bank.name, state.boot, {kept}, varying, detail.json FROM state "
        "JOIN bank ON bank.id = state.bank LEFT JOIN detail ON detail.id = state.detail "
    )


def as_reading(row: Sequence[Any]) -> Row:
    """Return values of one second by quantity, or by the name of the meter."""
    values = {
        quantity: value / scale
        for (quantity, (_, scale)), value in zip(READING_COLUMNS.items(), row[4:-1], strict=True)
        if value is not None
    }
    if row[-1]:
        values.update(json.loads(row[-1]))
    return Row(row[0], float(row[1]), row[2], row[3] is not None, values)


def as_event(row: Sequence[Any]) -> Event:
    """Return the event as it was."""
    return Event(row[2], row[4], row[1] / 1000.0, json.loads(row[5]))


def as_state(row: Sequence[Any]) -> Derived:
    """Return the state as it was, to the resolution it is kept in."""
    values: dict[str, Any] = {}
    numbers = row[4 : 4 + len(STATE_SCALES)]
    for (name, scale), number in zip(STATE_SCALES.items(), numbers, strict=True):
        values[name] = None if number is None else number / scale
    place = 4 + len(STATE_SCALES)
    for name in STATE_FLAGS:
        values[name] = bool(row[place])
        place += 1
    for name in STATE_WORDS:
        values[name] = row[place]
        place += 1
    varying = json.loads(row[-2]) if row[-2] else {}
    values["string_currents"] = tuple(varying.get("s", ()))
    values["freshness"] = varying.get("f", {})
    detail = json.loads(row[-1]) if row[-1] else {}
    values.update((name, value) for name, value in detail.items() if name in Derived._fields)
    values["flags"] = tuple(Flag(*flag) for flag in detail.get("flags", ()))
    for name in ("cells", "fell_first", "then", "unsafe", "verdict"):
        values[name] = tuple(detail.get(name, ()))
    values["matching"] = tuple(tuple(string) for string in detail.get("matching", ()))
    return Derived(bank=row[2], at=row[1] / 1000.0, **values)
