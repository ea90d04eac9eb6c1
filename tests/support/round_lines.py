"""Lines as `revival replay` writes them, of a round that a test makes up stage by stage."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

Line = dict[str, Any]
#: Begin of every made-up round [s since the epoch]: 25 November 2026.
BEGIN = 1795590000.0


class Stage(NamedTuple):
    """A stretch: its phase, hours [h], the estimate at its entry [h] or None, amps [A], and whether nothing flows."""

    phase: str
    hours: float
    foretold: float | None = None
    amps: float = 10.0
    interrupted: bool = False
    reason: str = ""
    advice: str = ""


def event(kind: str, at: float, /, **detail: object) -> Line:
    """Return one event line."""
    return {"t": at, "bank": "north", "kind": kind, "detail": detail}


def played(stages: Sequence[Stage], begin: float = BEGIN, found: float = 1.95) -> tuple[list[Line], list[Line], float]:
    """Return states, events, and the moment after the last stage; the bank rested before."""
    states = list(_minutes(Stage("idle", 0.2, amps=0.0), "idle", begin - 720.0, found))
    events: list[Line] = []
    at, before = begin, ("idle", False)
    for stage in stages:
        now = (stage.phase, stage.interrupted)
        if now != before:
            events.append(event("phase", at, phase=stage.phase, before=before[0], interrupted=stage.interrupted))
        states += _minutes(stage, stage.phase, at, 2.4)
        at, before = at + 3600.0 * stage.hours, now
    return states, events, at


def _minutes(stage: Stage, phase: str, begin: float, volts: float) -> Iterator[Line]:
    for minute in range(round(60 * stage.hours)):
        left = None if stage.foretold is None else stage.foretold - minute / 60.0
        yield {
            "t": begin + 60.0 * minute,
            "bank": "north",
            "phase": phase,
            "interrupted": stage.interrupted,
            "remaining_hours": left,
            "remaining_low": None if left is None else 0.8 * left,
            "remaining_high": None if left is None else 1.2 * left,
            "remaining_reason": stage.reason,
            "flags": [],
            "charge_returned_ah": 100.0,
            "volts_per_cell": volts,
            "current_a": stage.amps,
            "temperature_c": 25.0 + minute / 600.0,
            "advice": stage.advice,
        }
