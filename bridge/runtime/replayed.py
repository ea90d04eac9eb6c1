"""What a replay writes: one JSON line of a state or an event, the same wherever messages are folded again."""

from __future__ import annotations

import json
from typing import Any

from rules.events import Derived, Event, Order
from rules.step import Standing, flags_in_order

#: A line of a state at least so often, in recorded time [s].
LINE_EVERY = 60.0


class StateLines:
    """Lines of banks: one when phase, flag or relay changed, and one a minute at least."""

    def __init__(self) -> None:
        self.last: dict[str, tuple[float, tuple[Any, ...]]] = {}

    def wanted(self, due: Standing) -> bool:
        """Tell whether a state that is due gets a line: one that gets none need not be put together."""
        phase, lock, closed = due.memory.phase, due.memory.interlock, due.view.relay_closed
        state = (
            phase.phase,
            phase.interrupted,
            flags_in_order(due.memory),
            lock.allowed and due.of.relay is not None,
            bool(lock.latched),
            "unknown" if closed is None else "closed" if closed else "open",
        )
        written_at, before = self.last.get(due.of.id, (0.0, ()))
        return state != before or due.at - written_at >= LINE_EVERY

    def line(self, derived: Derived) -> str | None:
        """Return the line of one state; None where nothing changed within the minute."""
        names = tuple(flag.name for flag in derived.flags)
        state = (derived.phase, derived.interrupted, names, derived.charge_allowed, derived.tripped, derived.relay)
        written_at, before = self.last.get(derived.bank, (0.0, ()))
        if state == before and derived.at - written_at < LINE_EVERY:
            return None
        self.last[derived.bank] = (derived.at, state)
        return json.dumps(_plain(derived, list(names)), separators=(",", ":"))


def event_line(outcome: Event | Order) -> str:
    """Return the line of one event, or of an order to the relay."""
    kind = outcome.kind if isinstance(outcome, Event) else "order"
    plain = {"t": outcome.at, "bank": outcome.bank, "kind": kind, **outcome._asdict()}
    plain.pop("at")
    return json.dumps(plain, separators=(",", ":"))


def _plain(derived: Derived, names: list[str]) -> dict[str, Any]:
    """Return one state in the words of the recording format."""
    return {
        "t": derived.at,
        "bank": derived.bank,
        "phase": derived.phase,
        "interrupted": derived.interrupted,
        "remaining_hours": _rounded(derived.remaining_hours),
        "remaining_low": _rounded(derived.remaining_low),
        "remaining_high": _rounded(derived.remaining_high),
        "remaining_clock_hours": _rounded(derived.remaining_clock_hours),
        "remaining_clock_low": _rounded(derived.remaining_clock_low),
        "remaining_clock_high": _rounded(derived.remaining_clock_high),
        "remaining_reason": derived.remaining_reason,
        "flags": names,
        "charge_allowed": derived.charge_allowed,
        "tripped": derived.tripped,
        "relay": derived.relay,
        "hold_hours": _rounded(derived.hold_hours),
        "charge_returned_ah": _rounded(derived.charge_returned),
        "volts_per_cell": _rounded(derived.volts_per_cell),
        "current_a": _rounded(derived.current),
        "temperature_c": _rounded(derived.temperature),
        "advice": " ".join((derived.next_step, *derived.then)),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)
