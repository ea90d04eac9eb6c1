"""A bank, its charger, its relay and the people around it: what is named as next is done as it is said.

What a sentence asks hands to do is done on the plant (the charger is switched off, the hour of air passes); what it
asks to be typed is given to the rules, in the order in which it stands there.
"""

from __future__ import annotations

import copy
import re
import shlex
from typing import Any

from bridge.commands.status import WITH, words
from rules.bank.model import Bank
from rules.events import Command, HandReading, Reading, Tick
from tests.support.fold import PROBE, Fold

BRIDGE = {
    "connected": True, "messages": 0, "journal_lag": 0.0, "journal_degraded": "", "unstored": 0, "dropped": 0,
    "rejected": {},
}  # fmt: skip
TYPED = re.compile(r"`revival ([^`]*)`")
#: What hands do before anything is typed.
SWITCHES_OFF = re.compile(
    r"switch (?:the charger|it) off|pull (?:the charger's|its) plug|charger was switched off", re.I
)
AIRS = re.compile(r"for an hour|air the room until")
#: What a person writes where a command says only what kind of value goes there.
HAND: dict[str, dict[str, float | str]] = {
    "gravity": {"N00.1": 1.262},
    "level": {"N00": "between"},
    "water": {"": 300.0},
    "amps": {"": 0.0},
    "voltage": {"": 25.4},
    "temperature": {"": 25.0},
    "seen": {"": "all well"},
    "note": {},
    "charger": {"volts": 0.0},
}


class House(Fold):
    """One bank with what feeds it; `wall` is the charger's switch, `obeys` whether the relay does as it is told."""

    def __init__(self, bank: Bank) -> None:
        super().__init__(bank)
        self.wall, self.obeys, self.closed = True, True, False
        self.feed = {PROBE: 25.0}
        self.speaks, self.draws, self.offset, self.sun = True, 0.0, 0.0, 0.0
        self.fold(Command("north", "boot", self.at))

    def pass_time(self, seconds: float, every: float = 1.0) -> None:
        """Let time pass; every so often [s] the meters speak and the bank is looked at."""
        until = self.at + seconds
        while self.at < until - 1e-6:
            self.at = min(until, self.at + every)
            relay = self.bank.relay
            if self.obeys:
                self.closed = self.lock.allowed or self.lock.proving == "closing"
            charging = self.wall and (self.closed or relay is None)
            if self.speaks:
                shown = {
                    "voltage": 28.0 if charging else 25.4,
                    "current": (20.0 if charging else 0.0) - self.draws + self.offset + self.sun,
                }
                for meter, value in {**shown, **self.feed}.items():
                    self.read(meter, value)
                if relay is not None and relay.reports_state:
                    self.fold(Reading("north", "relay_state", float(self.closed), self.at, self.at))
            self.fold(Tick(self.at))

    def status(self) -> dict[str, Any]:
        """What `revival status --json` tells."""
        derived = self.derived
        assert derived is not None
        return {
            "bridge": BRIDGE,
            "banks": {"north": derived._asdict() | {"flags": [flag._asdict() for flag in derived.flags]}},
        }

    def refused(self, typed: str) -> str:
        """Type one command; why it is refused, or an empty string."""
        act, *rest = shlex.split(typed)
        if act in ("plan", "verdict", "check"):
            return ""  # it reads, and asks nobody
        if act == "record":
            kind = rest[0]
            before = len(self.events)
            # A clip-on meter shows what the ammeter shows: other amps would be asked back.
            flows = self.derived.current if self.derived is not None else None
            values = {"": flows} if kind == "amps" and flows is not None else HAND[kind]
            self.fold(HandReading("north", kind, self.at, self.at, values, None, "Ann"))
            told = [event for event in self.events[before:] if event.kind in ("refused", "unsure")]
            return "; ".join(str(event.detail["why"]) for event in told)
        argument: dict[str, object] = {"name": "Ann"} if act in ("checklist", "witness") else {}
        if act == "finish":  # asked back before its time, and meant
            argument = {"sure": True}
        return self.act(act, **argument)


def refusals(house: House) -> list[str]:
    """What of all that is named as next is refused; the house itself stays as it is."""
    told = house.status()
    bank = told["banks"]["north"]
    found = []
    for line in words(told):
        if line.startswith(WITH):
            typed = line.removeprefix(WITH).removeprefix("revival ").partition(" --config")[0]
            why = copy.copy(house).refused(typed)
            found += [f"with: {typed}: {why}"] if why else []
    step = bank["next_step"]
    hands = copy.copy(house)
    first = TYPED.search(step)
    before = step[: first.start()] if first else ""
    if SWITCHES_OFF.search(before):
        hands.wall = False
        hands.pass_time(20.0)
    if AIRS.search(before):
        hands.pass_time(3660.0, 60.0)
    for typed in TYPED.findall(step):
        why = hands.refused(typed)
        hands.pass_time(1.0)
        found += [f"next: {typed}: {why} <- {step}"] if why else []
    return found
