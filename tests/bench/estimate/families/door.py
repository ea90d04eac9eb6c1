"""The rules, told what a household's meters show, through the only door: `rules.step`, a bank read from a cabin file.

Where the round has a relay it is proved, the checklist is confirmed and the round started before the record begins, as
a person would; the relay obeys. While it is open the samples show no current and a voltage that sinks to rest; what is
charged meanwhile in the record is not taken back (a permit that is away for minutes changes little). A trip that the
truth did not allow is reset and resumed by a person half an hour later, so that one false cut does not hide another.
"""

from __future__ import annotations

import math
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np

from bridge.config import load
from rules.bank.model import Bank
from rules.events import Command, Derived, Order, Reading, Tick
from rules.step import judge as judging
from rules.step import step
from rules.step.memory import initial

from .meters import Seen
from .truth import ALLOWED, PHASES, REQUIRED, Truth, string_limit
from .wire import Array
from .world import Lived

#: The relay is proved and the round started so long before the record [s]; volts per cell and amps then.
BEFORE, RESTED = 1500, 2.06
#: The rules' word for an exercised cut.
PROOF = "proof test"
#: A person resets a trip for which there was no reason after so long [s].
RESETS = 1800.0
UNITS = {"voltage": "V", "current": "A", "power": "W", "electrolyte_temperature": "degC", "ambient_temperature": "degC"}


class Said(NamedTuple):
    """What the rules said, minute by minute of the truth (the newest word at that minute; nan = none).

    `phase` index or -1; `low`, `middle`, `high` charging hours; `clock` hours; as shown: `volts` per cell, `amps`,
    `charge` [Ah], `hold` [h]; `open`: the relay is ordered open. `cuts`: when, reason, latched. `raised`: first time of
    every flag [s since the epoch]. `seconds` of work, `events` folded.
    """

    phase: Array
    low: Array
    middle: Array
    high: Array
    clock: Array
    volts: Array
    amps: Array
    charge: Array
    hold: Array
    open: Array
    cuts: tuple[tuple[float, str, bool], ...]
    raised: dict[str, tuple[float, ...]]
    reasons: tuple[str, ...]
    seconds: float
    folded: int


def cabin(lived: Lived, seen: Seen) -> str:
    """Write the cabin file that this household would."""
    r, make, c = lived.round, lived.round.make, lived.round.charger
    lines = ["[site]", 'id = "tarn-hut"', "", "[[bank]]", 'id = "north"', f"strings = {make.strings}"]
    lines.append(
        f'blocks = {{ per_string = {make.blocks}, cells = {make.block_cells}, capacity = "{make.capacity:g} Ah" }}'
    )
    if c.said:
        said = ", ".join(f'{{ volts = "{v * make.cells:.2f} V", amps = "{a:g} A" }}' for v, a in c.said)
        lines.append(f"chargers = [ {said} ]")
    lines.append(f'equalise = "{r.equalise:g} V"')
    if c.said_compensation:
        lines.append(f'charger_compensation = "{1000.0 * c.said_compensation:.2f} mV/K"')
    starts = 'starts = "at-voltage"' if r.tail is None else f'starts = "at-current", tail = "{r.tail:g} A"'
    lines.append(f'hold = {{ minimum = "{r.hold:g} h", maximum = "{r.hold:g} h", {starts} }}')
    lines.append(f'limits = {{ string_current = "{string_limit(r):.1f} A" }}')
    lines.append('water_reserve = "10 kg"')  # somebody tops up
    for name in seen.values:
        quantity, _, index = name.partition(":")
        lines += ["", "[[bank.meter]]", f'topic = "cabin/{name.replace(":", "/")}"', f'quantity = "{quantity}"']
        lines.append(f'unit = "{UNITS.get(quantity, "A" if "current" in quantity else "V")}"')
        if index:
            lines.append(f'index = "{index}"')
        if quantity == "electrolyte_temperature":
            lines.append(f'placed = "{"case" if r.meters.on_case else "cell"}"')
    if r.relay:
        lines += ["", "[bank.relay]", 'topic = "cabin/charger/set"', 'state_topic = "cabin/charger/state"']
    return "\n".join(lines) + "\n"


def bank_of(lived: Lived, seen: Seen) -> Bank:
    """The bank, as the bridge would read it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cabin.toml"
        path.write_text(cabin(lived, seen), encoding="utf-8")
        return load(path).cabin.banks["north"]


class Listener:
    """One bank behind the door, with a relay that obeys and a person who resets."""

    def __init__(self, bank: Bank) -> None:
        self.bank, self.memory = bank, initial()
        self.derived: Derived | None = None
        self.open, self.opened_at = bank.relay is not None, -math.inf
        self.told: list[tuple[float, str]] = []
        self.cuts: list[tuple[float, str, bool]] = []
        self.raised: dict[str, list[float]] = {}
        self.up: frozenset[str] = frozenset()
        self.begun = False
        self.folded = 0
        self.at = 0.0

    def fold(self, event: Reading | Tick | Command) -> None:
        """Through the door."""
        self.folded += 1
        self.memory, outcomes = step(self.bank, self.memory, event)
        for outcome in outcomes:
            if isinstance(outcome, Derived):
                self._shown(outcome)
            elif isinstance(outcome, Order) and outcome.action in ("cut", "allow"):
                self.told.append((outcome.at + 0.2, outcome.action))
                if outcome.action == "cut" and not self.open and self.begun:
                    self.cuts.append((outcome.at, outcome.reason, bool(self.memory.interlock.latched)))
                if outcome.action == "allow" and self.cuts and self.cuts[-1][1] == PROOF:
                    # A proof that passes is over in seconds, or when a slow meter has shown the fall: no cut.
                    self.cuts.pop()
                if (outcome.action == "cut") != self.open:
                    self.open, self.opened_at = outcome.action == "cut", outcome.at

    def _shown(self, derived: Derived) -> None:
        self.derived = derived
        names = frozenset(flag.name for flag in derived.flags)
        if names != self.up:
            for name in names - self.up:
                self.raised.setdefault(name, []).append(derived.at)
            self.up = names

    def tick(self, at: float) -> None:
        """A second has passed; what the relay was told before it has been answered."""
        self.answer(at - 0.001)
        self.at = at
        self.fold(Tick(at))

    def answer(self, at: float) -> None:
        """The relay reports what it was told, a fifth of a second later but not after `at`."""
        while self.told:
            told, action = self.told.pop(0)
            self.at = max(self.at, min(told, at))
            if "relay_state" in self.bank.by_name:
                self.fold(Reading(self.bank.id, "relay_state", float(action == "allow"), self.at, self.at))


def begin(listener: Listener, lived: Lived, seen: Seen) -> None:
    """Rest, proof, checklist, start: before the record."""
    bank, start = listener.bank, float(lived.at[0])
    first = math.ceil(start) - BEFORE
    pace = max(1, round(min(lived.round.meters.period, 300.0)))
    warm = {name: float(shown[0]) for name, shown in seen.values.items() if "temperature" in name and len(shown)}
    for second in range(first, math.ceil(start)):
        listener.tick(float(second))
        if (second - first) % pace == 0:
            for name in seen.values:
                at_rest = RESTED * bank.spans[name] if "voltage" in name else warm.get(name, 0.0)
                listener.fold(Reading(bank.id, name, at_rest, float(second), float(second)))
        since = second - first
        if bank.relay is None:
            if since == 1450:
                listener.fold(Command(bank.id, "start", float(second), "owner"))
        elif since in (1290, 1300, 1450):
            name = {1290: "checklist", 1300: "prove", 1450: "start"}[since]
            argument = {"name": "owner"} if name == "checklist" else {}
            listener.fold(Command(bank.id, name, float(second), "owner", argument))
        listener.answer(float(second) + 0.2)
    listener.begun = True


def quietly() -> None:
    """Let a state go out once a minute, not every ten seconds: nothing is decided by it, and it is half the work."""
    judging.SHOW_EVERY = 60.0


def hear(lived: Lived, seen: Seen, truth: Truth) -> Said:
    """Let the rules follow the whole round."""
    bank = bank_of(lived, seen)
    listener = Listener(bank)
    begin(listener, lived, seen)
    started = time.process_time()
    rest = RESTED * bank.cells
    names = list(seen.values)
    columns = [shown.tolist() for shown in seen.values.values()]
    second = math.ceil(float(lived.at[0]))
    minutes: list[tuple[float, ...]] = []
    reasons: list[str] = []
    cut_true = truth.cut
    number, count = 0, len(seen.at)
    arrivals, taken = seen.at.tolist(), seen.measured.tolist()
    last = 0.0
    # A meter that is stuck shows no relay that opens.
    stands = lived.round.hazard.quantity if lived.round.hazard.kind == "stuck" else ""
    stands_from = next((event[1] for event in lived.events if event[0] == "stuck"), math.inf)
    for minute, when in enumerate(truth.at.tolist()):
        while number < count and arrivals[number] <= when:
            at = max(arrivals[number], last)
            while second <= at:
                listener.tick(float(second))
                second += 1
            at = last = max(at, listener.at)
            opened = at - listener.opened_at if listener.open and bank.relay is not None else -1.0
            for name, column in zip(names, columns, strict=True):
                shown = column[number]
                if opened >= 0.0 and not (name == stands and at >= stands_from):
                    if name in ("current", "power") or name.startswith("string"):
                        shown = 0.0
                    elif "voltage" in name:
                        spans = bank.spans[name]
                        shown = min(
                            shown,
                            rest / bank.cells * spans + (shown - rest / bank.cells * spans) * math.exp(-opened / 900.0),
                        )
                listener.fold(Reading(bank.id, name, shown, at, min(taken[number], at)))
            listener.answer(at)
            number += 1
        while second <= when:
            listener.tick(float(second))
            second += 1
        last = max(last, when)
        listener.answer(when)
        _person(listener, when, int(cut_true[minute]))
        minutes.append(_row(listener, when))
        reasons.append("" if listener.derived is None else listener.derived.remaining_reason)
    spent = time.process_time() - started
    raised = {name: tuple(times) for name, times in listener.raised.items()}
    return Said._make((*np.array(minutes).T, tuple(listener.cuts), raised, tuple(reasons), spent, listener.folded))


def _person(listener: Listener, at: float, cut: int) -> None:
    """Reset what had no reason."""
    lock = listener.memory.interlock
    if listener.bank.relay is None or cut == REQUIRED or at - listener.opened_at < RESETS:
        return
    if lock.latched or lock.needs_resume or lock.exhausted:
        if cut == ALLOWED and lock.latched:
            return
        listener.fold(Command(listener.bank.id, "reset", at, "owner"))
        listener.fold(Command(listener.bank.id, "resume", at, "owner"))
        listener.opened_at = max(listener.opened_at, at - RESETS + 600.0)  # not every minute
        listener.answer(at)


def _row(listener: Listener, when: float) -> tuple[float, ...]:
    said = listener.derived
    nan = math.nan
    if said is None or when - said.at > 900.0:
        return (-1.0, nan, nan, nan, nan, nan, nan, nan, nan, float(listener.open))
    hours = (said.remaining_low, said.remaining_hours, said.remaining_high, said.remaining_clock_hours)
    shown = (said.volts_per_cell, said.current, said.charge_returned, said.hold_hours)
    numbers = [nan if value is None else float(value) for value in (*hours, *shown)]
    phase = PHASES.index(said.phase) if said.phase in PHASES else PHASES.index("resting")
    return (float(phase), *numbers, float(listener.open and listener.bank.relay is not None))
