"""What a running bridge answers to whoever asks on this host or the page: plain values that become JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rules.events import Derived, Event
from rules.safety import Interlock


def status_answer(bridge: dict[str, Any], latest: Mapping[str, Derived]) -> dict[str, Any]:
    """Return how the bridge and every bank is."""
    return {"bridge": bridge, "banks": {bank: plain_state(derived) for bank, derived in latest.items()}}


def proof_answer(lock: Interlock) -> dict[str, Any]:
    """Return how the proof test of a bank's relay goes."""
    return {"proving": lock.proving, "proof": lock.proof._asdict()}


def act_answer(events: Sequence[Event]) -> dict[str, Any]:
    """Return what the rules said of an act or a hand reading.

    A reading that is strange and does not say that somebody is sure is answered ``{"unsure": why}`` and not taken.
    """
    unsure = [str(event.detail["why"]) for event in events if event.kind == "unsure"]
    if unsure:
        return {"unsure": "; ".join(unsure), "refused": [], "events": []}
    refused = [str(event.detail.get("why")) for event in events if event.kind == "refused"]
    return {"refused": refused, "events": [{"kind": event.kind, **event.detail} for event in events]}


def plain_state(derived: Derived) -> dict[str, Any]:
    """Return a bank's state as plain values."""
    plain = derived._asdict()
    plain["flags"] = [flag._asdict() for flag in derived.flags]
    return plain
