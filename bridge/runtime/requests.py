"""What is asked of a running bridge through the socket on this host, and what it answers."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from bridge.intake.hand_record import KEYS as RECORD_KEYS
from bridge.intake.hand_record import parse_record
from rules.events import Command, Derived, Event
from rules.step import INTERNAL

if TYPE_CHECKING:
    from bridge.runtime.service import Service

LONGEST_NAME = 500  #: characters of a name, or of any word that goes with an act


def answer(service: Service, request: dict[str, Any]) -> dict[str, Any]:
    """Carry one request out.

    A record that is strange and does not say that somebody is sure is answered ``{"unsure": why}`` and not taken.

    Raises
    ------
    ValueError, KeyError, TypeError
        It cannot be understood; the asker is told in words.
    """
    what = request.get("ask")
    if what == "status":
        banks = {bank: _plain(derived) for bank, derived in service.latest.items()}
        return {"bridge": service.status(), "banks": banks}
    bank = str(request.get("bank"))
    if bank not in service.engine.banks:
        raise ValueError(f"no bank {bank!r}: there are {', '.join(sorted(service.engine.banks))}")
    now = service.clock.now()
    events: list[Event] = []
    if what == "act":
        name, argument = str(request["name"]), dict(request.get("argument") or {})
        if name in INTERNAL:
            raise ValueError(f"{name} is no command")
        for word in (request.get("by", ""), *argument.values()):
            if isinstance(word, str) and not (word.isprintable() and len(word) <= LONGEST_NAME):
                raise ValueError(f"a name stands on one line and has at most {LONGEST_NAME} characters")
        events = service.do(Command(bank, name, now, str(request.get("by", "")), argument))
    elif what == "record":
        told = {key: request[key] for key in RECORD_KEYS if request.get(key) is not None}
        events = service.do(parse_record(bank, now, json.dumps(told).encode()))
    elif what == "proof":
        lock = service.engine.memories[bank].interlock
        return {"proving": lock.proving, "proof": lock.proof._asdict()}
    else:
        raise ValueError(f"cannot answer {what!r}")
    unsure = [str(event.detail["why"]) for event in events if event.kind == "unsure"]
    if unsure:
        return {"unsure": "; ".join(unsure), "refused": [], "events": []}
    refused = [str(event.detail.get("why")) for event in events if event.kind == "refused"]
    return {"refused": refused, "events": [{"kind": event.kind, **event.detail} for event in events]}


def _plain(derived: Derived) -> dict[str, Any]:
    plain = derived._asdict()
    plain["flags"] = [flag._asdict() for flag in derived.flags]
    return plain
