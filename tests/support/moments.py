"""Moments: a bank read from cabin-file text, hours that pass in a few ticks, and everything that is said of it."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import NamedTuple

from bridge.commands.status import words
from bridge.config import load
from bridge.words.bank_status import standing
from rules.bank import Bank
from rules.events import Command, HandReading, Reading, Tick
from rules.safety import TOLD_CLOSED
from tests.support.fold import Fold

HEAD = """
[site]
id = "tarn-hut"

[[bank]]
id = "north"
strings = {strings}
blocks = {{ per_string = {blocks}, cells = {cells}, capacity = "{capacity} Ah" }}
hold = {{ minimum = "16 h", maximum = "24 h", starts = "at-voltage" }}
{keys}
"""
METER = """
[[bank.meter]]
topic = "cabin/{topic}"
quantity = "{quantity}"
{more}
"""
RELAY = """
[bank.relay]
topic = "cabin/charger/set"
state_topic = "cabin/charger/state"
auto_off = "90 s"
"""
#: What a usual bank has: a shunt and one probe in a cell.
USUAL = (
    ("voltage", 'unit = "V"'),
    ("current", 'unit = "A"'),
    ("electrolyte_temperature", 'unit = "degC"\nplaced = "cell"'),
)


def bank_of(
    *more: tuple[str, str],
    strings: int = 1,
    blocks: int = 4,
    cells: int = 3,
    capacity: float = 200.0,
    relay: bool = True,
    keys: str = "",
    meters: tuple[tuple[str, str], ...] = USUAL,
) -> Bank:
    """The bank of a cabin file: so many strings of so many blocks, the usual meters and some more, and its keys."""
    text = HEAD.format(strings=strings, blocks=blocks, cells=cells, capacity=capacity, keys=keys)
    for number, (quantity, said) in enumerate((*meters, *more)):
        text += METER.format(topic=f"{quantity}/{number}", quantity=quantity, more=said)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cabin.toml"
        path.write_text(text + (RELAY if relay else ""))
        return load(path).cabin.banks["north"]


def labels(bank: Bank) -> list[str]:
    """Every block of the bank in the order of the cabin file."""
    return [block.label for string in bank.strings for block in string]


def cells_of(bank: Bank) -> list[str]:
    """Every cell of the bank."""
    return [f"{block.label}.{n}" for string in bank.strings for block in string for n in range(1, block.cells + 1)]


#: Meters that show nothing while the relay is open.
CHARGING = ("current", "string_current:1", "string_current:2", "string_current:3")


class Whole(NamedTuple):
    """Everything that is said of a bank at one moment; `texts` is all that people read."""

    flags: frozenset[str]
    allowed: bool
    latched: frozenset[str]
    phase: str
    advice: str
    texts: str


class Moment(Fold):
    """A bank in a situation: readings by meter name, ticks as coarse as they may be, hand readings and acts."""

    def __init__(self, bank: Bank) -> None:
        super().__init__(bank)
        self.feed: dict[str, float] = {}
        self.turn = 0.0
        self.flicker = {"electrolyte_temperature": 0.1}  #: last digit of a meter that goes to and fro
        self.offset: dict[str, float] = {}  #: what a meter always shows too much
        self.heard = False  #: the relay reports, and what the charger gives stops when it opens
        self.fold(Command("north", "boot", self.at))

    def show(self, **values: float) -> None:
        """From now on the meters show this."""
        self.feed = {name.replace("__", ":"): value for name, value in {**self.feed, **values}.items()}

    def pass_time(self, seconds: float, every: float = 10.0, **values: float) -> None:
        """Let time pass; every so often [s] each meter reports and the bank is looked at."""
        self.show(**values)
        until = self.at + seconds
        while self.at < until - 1e-6:
            self.at += every
            closed = self.bank.relay is None or self.lock.allowed or self.lock.proving in TOLD_CLOSED
            if self.bank.relay is not None and self.heard:
                self.fold(Reading("north", "relay_state", float(closed), self.at, self.at))
            self.turn = 1.0 - self.turn
            for meter, shown in self.feed.items():
                value = 0.0 if not closed and meter in CHARGING and shown > 0.0 else shown
                value += self.turn * self.flicker.get(meter, 0.0) + self.offset.get(meter, 0.0)
                self.fold(Reading("north", meter, value, self.at, self.at))
            self.fold(Tick(self.at))

    def begin(self, **values: float) -> None:
        """A proved bank, its checklist confirmed, whose round a person starts; the relay closes if nothing forbids."""
        self.prepare(**values)
        assert self.act("start") == ""
        self.pass_time(40.0)

    def prepare(self, **values: float) -> None:
        """Up to the start: meters heard, relay proved and open, checklist confirmed."""
        self.heard = True
        self.pass_time(30.0, **values)
        assert self.act("checklist", name="the keeper") == ""
        proof = self.lock.proof._replace(at=self.at, passed=True, current_proved=True)
        self.memory = self.memory._replace(interlock=self.lock._replace(proof=proof))

    def later(self, seconds: float) -> None:
        """So much later, after a time in which nobody listened."""
        self.at += seconds
        self.fold(Command("north", "boot", self.at))

    def hand(
        self,
        kind: str,
        values: dict[str, float | str],
        temperature: float | None = None,
        note: str = "",
        **more: object,
    ) -> list[str]:
        """A hand reading; kinds of the events that it caused. A gravity is meant, unless the test says otherwise."""
        before = len(self.events)
        more.setdefault("sure", kind == "gravity")
        self.fold(HandReading("north", kind, self.at, self.at, values, temperature, "Ann", note, **more))  # type: ignore[arg-type]
        return [event.kind for event in self.events[before:]]

    @property
    def now(self) -> Whole:
        """Everything that is said now."""
        derived = self.derived
        assert derived is not None
        plain = derived._asdict() | {"flags": [flag._asdict() for flag in derived.flags]}
        bridge = {
            "connected": True, "messages": 0, "journal_lag": 0.0, "journal_degraded": "", "unstored": 0, "dropped": 0,
            "rejected": {},
        }  # fmt: skip
        lines = words({"bridge": bridge, "banks": {"north": plain}})
        lines += [standing(derived).words, *(flag.action for flag in derived.flags)]
        return Whole(
            frozenset(flag.name for flag in derived.flags),
            derived.charge_allowed,
            frozenset(self.lock.latched),
            derived.phase,
            " ".join([derived.next_step, *derived.then]),
            "\n".join(lines),
        )
