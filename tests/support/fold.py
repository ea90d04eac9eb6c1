"""A bank whose events are folded one by one, for tests of the rules: readings, seconds and acts in, outcomes kept."""

from __future__ import annotations

from rules.bank.model import AutomaticResume, Bank, Block, Limits, Meter, Relay
from rules.events import Command, Derived, Event, HandReading, Incoming, Order, Reading, Tick
from rules.safety import PROVED
from rules.safety.interlock import Interlock
from rules.step import step
from rules.step.memory import Memory, initial

START = 1_795_590_000.0
REPORTING, BY_HAND, USUAL = Relay(reports_state=True, auto_off=90.0), AutomaticResume(), Limits()
PROBE, CASE = "electrolyte_temperature", "electrolyte_temperature#2"


def make_bank(
    *,
    relay: Relay | None = REPORTING,
    automatic: AutomaticResume = BY_HAND,
    limits: Limits = USUAL,
    more: tuple[Meter, ...] = (),
    strings: int = 1,
) -> Bank:
    """Four 6 V blocks of 200 Ah in series; voltage, current, one probe in a cell, and the relay's report."""
    meters: tuple[Meter, ...] = (
        Meter("voltage", "voltage", source="cabin/shunt", period=10.0, resolution=0.001),
        Meter("current", "current", source="cabin/shunt", period=10.0, resolution=0.1),
        Meter(PROBE, "electrolyte_temperature", source="cabin/probe", period=10.0, placed="cell"),
    )
    if relay is not None and relay.reports_state:
        meters += (Meter("relay_state", "relay_state", source="cabin/charger/state"),)
    blocks = tuple(tuple(Block(f"N{s}{b}", 3, 200.0) for b in range(4)) for s in range(strings))
    return Bank("north", blocks, relay=relay, automatic=automatic, limits=limits, meters=meters + more)


class Fold:
    """One bank's memory and everything that came out of it."""

    def __init__(self, bank: Bank | None = None, memory: Memory | None = None, at: float = START) -> None:
        self.bank = make_bank() if bank is None else bank
        self._memory = initial() if memory is None else memory
        self.at = at
        self.orders: list[Order] = []
        self.events: list[Event] = []
        self.derived: Derived | None = None

    @property
    def memory(self) -> Memory:
        """The bank's memory; a test that puts another in its place has it looked at with the next second."""
        return self._memory

    @memory.setter
    def memory(self, memory: Memory) -> None:
        self._memory = memory._replace(due_at=0.0)

    def fold(self, event: Incoming) -> list[Order]:
        """Through the only door; the orders that it caused. The journal stores, unless the test says otherwise."""
        if isinstance(event, Command) and event.name in ("boot", "health"):
            event = event._replace(argument={"storage": PROVED, **event.argument})
        self._memory, outcomes = step(self.bank, self._memory, event)
        new = [outcome for outcome in outcomes if isinstance(outcome, Order)]
        assert list(outcomes[: len(new)]) == new, "orders come first"
        self.orders += new
        self.events += [outcome for outcome in outcomes if isinstance(outcome, Event)]
        for outcome in outcomes:
            if isinstance(outcome, Derived):
                self.derived = outcome
        return new

    def read(
        self, meter: str, value: float, *, measured_at: float | None = None, retained: bool = False
    ) -> list[Order]:
        """One reading, now."""
        return self.fold(
            Reading("north", meter, value, self.at, self.at if measured_at is None else measured_at, retained)
        )

    def wait(self, seconds: float, every: float = 0.0, **values: float) -> list[Order]:
        """Let seconds pass; every so often [s] each of these meters reports its value."""
        orders: list[Order] = []
        for second in range(1, round(seconds) + 1):
            self.at += 1.0
            if every and second % every == 0:
                for meter, value in values.items():
                    orders += self.read(meter, value)
            orders += self.fold(Tick(self.at))
        return orders

    def act(self, what: str, /, **argument: object) -> str:
        """A person's act; why it was refused or asked back, or an empty string."""
        before = len(self.events)
        self.fold(Command("north", what, self.at, "the keeper", argument))
        return "; ".join(
            str(event.detail["why"]) for event in self.events[before:] if event.kind in ("refused", "unsure")
        )

    def note(self, kind: str, **values: float | str) -> None:
        """A hand reading."""
        self.fold(HandReading("north", kind, self.at, self.at, values))

    @property
    def lock(self) -> Interlock:
        """The interlock's state."""
        return self.memory.interlock

    @property
    def flags(self) -> set[str]:
        """Names of raised flags."""
        return set(self.memory.flags)

    def kinds(self) -> list[str]:
        """Kinds of the events so far."""
        return [event.kind for event in self.events]


def ready(bank: Bank | None = None, *, temperature: float = 25.0, amps: float = 20.0, **also: float) -> Fold:
    """A started, proved bank that is being charged: the relay is closed and has said so."""
    fold = Fold(bank)
    fold.fold(Command("north", "boot", fold.at))
    feed = {"voltage": 25.4, "current": 0.0, PROBE: temperature, **also}
    fold.wait(1, every=1, **feed)
    if fold.bank.relay is not None and fold.bank.relay.reports_state:
        fold.read("relay_state", 0.0)
    assert fold.act("checklist", name="the keeper") == ""
    fold.memory = fold.memory._replace(
        interlock=fold.lock._replace(proof=fold.lock.proof._replace(at=fold.at, passed=True, current_proved=True))
    )
    assert fold.act("start") == ""
    assert fold.lock.allowed or fold.bank.relay is None
    fold.wait(1)
    if fold.bank.relay is not None and fold.bank.relay.reports_state:
        fold.read("relay_state", 1.0)
    fold.wait(20, every=5, voltage=28.0, current=amps, **{PROBE: temperature}, **also)
    return fold
