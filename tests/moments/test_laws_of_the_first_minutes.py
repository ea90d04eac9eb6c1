"""Every second of the first five minutes, however a round comes to be charged: all surfaces tell one story.

Looked at in the second itself, not only when a state goes out. What is true is what the plant did: whether the relay
is closed, and whether the last amps that the meter told flow.
"""

from __future__ import annotations

import itertools
import json
import re
import types
from collections.abc import Callable, Iterator
from typing import Any, cast

import pytest

from bridge.commands.status import words
from bridge.page.view import bank_view
from bridge.runtime.service import Service
from bridge.words.bank_status import told_to
from bridge.words.catalogue import BANK
from rules.bank.model import Relay
from rules.bank_view import look
from rules.events import Command, Reading, Tick
from rules.step.derived_state import derive
from tests.support.fold import PROBE, make_bank
from tests.support.next_steps import BRIDGE, House

MINUTES = 300
#: What a sentence claims, and which claims cannot stand together.
CLAIMS = {
    "on": re.compile(r"charger is on:|only just begun|charging, phase", re.I),
    "may": re.compile(r"charger may be on", re.I),
    "cut": re.compile(r"charger is cut off", re.I),
    "flows": re.compile(r"current flows into the bank"),
    "nothing-flows": re.compile(r"no current is seen to flow|none are seen yet"),
    "still": re.compile(r"interrupted|st(?:ands|anding) still"),
    "not-begun": re.compile(r"charging has not begun|^idle\b|no round\b"),
    "goes-on": re.compile(r"^(?:Let it charge|Leave it alone|Let it take)"),
    "switch-on": re.compile(
        r"charger is switched on at the wall|see that charging goes on|when charging can go on", re.I
    ),
    "open": re.compile(r"reports open|stay open"),
    "closed": re.compile(r"reports closed"),
    "held": re.compile(r"stay open"),
    "told": re.compile(r"told to close"),
    "climbs": re.compile(r"\b(?:amps|volts) (?:climb|fall|creep|rise)\b(?<!where amps climb)(?<!and volts fall)"),
}
#: How a surface says that nothing is against it.
CALLED_SAFE = re.compile(r"safe, no danger|WARM, no danger|No danger seen|is it safe: (?:yes|warm)")
AGAINST = (
    ("on", "cut"), ("on", "may"), ("on", "nothing-flows"), ("on", "still"), ("on", "not-begun"), ("on", "switch-on"),
    ("on", "open"), ("cut", "closed"), ("cut", "flows"), ("cut", "goes-on"), ("flows", "nothing-flows"),
    ("flows", "still"), ("flows", "not-begun"), ("flows", "switch-on"), ("flows", "open"), ("still", "goes-on"),
    ("still", "not-begun"), ("nothing-flows", "goes-on"), ("open", "closed"), ("held", "told"),
    ("not-begun", "goes-on"),
)  # fmt: skip


class Plant(House):
    """A house whose relay takes its time, whose charger comes up by its own curve, and whose shunt speaks seldom."""

    def __init__(self, reports: bool, lag: float, comes: Callable[[float], float], every: int) -> None:
        super().__init__(make_bank(relay=Relay(reports_state=reports, auto_off=90.0)))
        self.lag, self.comes, self.every = lag, comes, every
        self.wanted_since: float | None = None
        self.told, self.said = 0.0, False

    def pass_time(self, seconds: float, every: float = 1.0) -> None:
        """Second by second; the relay reports when it changes and every ten seconds."""
        for _ in range(round(seconds)):
            self.at += 1.0
            wanted = self.lock.allowed or self.lock.proving == "closing"
            self.wanted_since = (self.wanted_since or self.at) if wanted else None
            before, on = self.closed, self.at - (self.wanted_since or self.at) - self.lag
            self.closed = wanted and on >= 0.0
            amps = self.comes(on) if self.closed and self.wall else 0.0
            if self.at % self.every == 0.0:
                for meter, value in {"voltage": 25.4 + 0.13 * amps, "current": amps, **self.feed}.items():
                    self.read(meter, value)
                self.told = amps
            relay = self.bank.relay
            if relay is not None and relay.reports_state and (self.closed != before or self.at % 10.0 == 0.0):
                self.fold(Reading("north", "relay_state", float(self.closed), self.at, self.at))
            self.fold(Tick(self.at))


def ready(reports: bool, lag: float, comes: Callable[[float], float], every: int) -> Plant:
    """Checklist done and proof passed, at a charger that answers at once."""
    plant = Plant(reports, 0.0, lambda _: 20.0, every)
    plant.wall = False
    plant.pass_time(60)
    assert plant.act("checklist", name="Ann") == ""
    plant.wall = True
    assert plant.act("prove") == ""
    plant.pass_time(90)
    if plant.lock.proving:
        plant.act("witness", name="Ann")
    assert plant.lock.proof.passed
    plant.pass_time(90)
    plant.lag, plant.comes = lag, comes
    return plant


def started(plant: Plant) -> None:
    """A person gives start."""
    assert plant.act("start") == ""


def came_back(plant: Plant) -> None:
    """The bridge started anew in a round; the five minutes in which it holds the relay open are nearly over."""
    started(plant)
    plant.pass_time(900)
    plant.fold(Command("north", "boot", plant.at))
    plant.pass_time(290)


def resumed(plant: Plant) -> None:
    """A trip by heat, put right, reset and resumed."""
    started(plant)
    plant.pass_time(900)
    plant.feed[PROBE] = 50.0
    plant.pass_time(90)
    plant.feed[PROBE] = 25.0
    plant.pass_time(400)
    assert plant.act("reset") == ""
    plant.pass_time(5)
    assert plant.act("resume") == ""


def screens(plant: House) -> Iterator[tuple[str, list[str]]]:
    """Surface, and what it says in this second."""
    view = look(plant.bank, plant.memory.meters, plant.memory.counters, plant.at, plant.memory.hand)
    derived = derive(plant.bank, plant.memory, view, plant.at)
    state = derived._asdict() | {"flags": [flag._asdict() for flag in derived.flags]}
    yield "status", [line.strip().removeprefix("next: ").removeprefix("then: ") for line in words(
        {"bridge": BRIDGE, "banks": {"north": state}}) if "heard:" not in line]  # fmt: skip
    engine = types.SimpleNamespace(memories={"north": plant.memory}, banks={"north": plant.bank})
    page: dict[str, Any] = bank_view(cast(Service, types.SimpleNamespace(engine=engine)), "north", derived, "degC")
    yield "page", [page["where"], page["standing"], page["next_step"], *page["then"], page["remaining_reason"]]
    told = told_to(derived, "degC")
    sent = {one.path: one.render(getattr(told, one.field)) for one in BANK if one.field}
    hub = [sent["revival/phase"], sent["advice/charger"], sent["advice/next-step"], sent["revival/remaining-reason"]]
    hub += json.loads(sent["advice/then"] or "[]")
    hub += ["interrupted"] if sent["revival/interrupted"] == "true" else []
    hub += ["The charger is on: so the hub."] if sent["revival/charging"] == "true" else []
    hub += [f"the relay reports {sent['safety/relay']}", f"is it safe: {sent['safety/answer']}"]
    yield "hub", hub


CHARGERS: dict[str, Callable[[float], float]] = {
    "at once": lambda _: 20.0,
    "after 25 s": lambda on: 20.0 if on > 25.0 else 0.0,
    "climbs for a minute": lambda on: min(20.0, max(0.0, on / 3.0)),
    "tries, stops, comes": lambda on: 20.0 if on < 15.0 or on > 190.0 else 0.0,
    "next to nothing": lambda _: 1.2,
}


@pytest.mark.parametrize("begins", [started, came_back, resumed])
@pytest.mark.parametrize("charger", CHARGERS)
@pytest.mark.parametrize(("reports", "lag", "every"), [(True, 0.0, 5), (True, 6.0, 30), (False, 2.0, 10)])
def test_in_each_second_no_surface_contradicts_another(
    begins: Callable[[Plant], None], charger: str, reports: bool, lag: float, every: int
) -> None:
    plant = ready(reports, lag, CHARGERS[charger] if begins is started else lambda _: 20.0, every)
    begins(plant)
    plant.comes = CHARGERS[charger]
    found: dict[str, str] = {}
    charged = False
    for second in range(MINUTES):
        plant.pass_time(1)
        shown = list(screens(plant))
        claimed = [(surface, text, {name for name, claim in CLAIMS.items() if claim.search(text)})
                   for surface, texts in shown for text in texts]  # fmt: skip
        charged = charged or any("on" in claims for _, _, claims in claimed)
        for (one, text, first), (other, beside, second_claims) in itertools.permutations(claimed, 2):
            for left, right in AGAINST:
                if left in first and right in second_claims:
                    found.setdefault(
                        f"{left}/{right} {text}|{beside}", f"+{second} s {one}: {text} || {other}: {beside}"
                    )
        for surface, text, claims in claimed:
            if "climbs" in claims:
                found.setdefault(text, f"+{second} s {surface} states a movement: {text}")
    assert not found, "\n".join(list(found.values())[:8])
    assert charged or charger == "next to nothing"


@pytest.mark.parametrize("restarted", [False, True])
@pytest.mark.parametrize("amps", [None, 0.0, 20.0])
def test_in_no_second_before_the_thermometer_is_heard_a_surface_calls_a_bank_safe_that_may_charge(
    restarted: bool, amps: float | None
) -> None:
    house = House(make_bank(relay=None))
    house.pass_time(60)
    assert house.act("checklist", name="Ann") == ""
    house.pass_time(900, every=5.0)
    house.at += 600.0 if restarted else 90.0
    if not restarted:
        house.memory = House(make_bank(relay=None)).memory
        assert house.act("checklist", name="Ann") == ""
    house.fold(Command("north", "boot", house.at))
    answers = []
    for second in range(MINUTES):
        house.at += 1.0
        shown = {"voltage": 26.5 if amps is None else 25.4 + 0.13 * amps} | ({} if amps is None else {"current": amps})
        for meter, value in shown.items() if second % 5 == 4 else ():
            house.read(meter, value)
        house.fold(Tick(house.at))
        texts = [text for _, said in screens(house) for text in said]
        answers.append(any(CALLED_SAFE.search(text) for text in texts))
    assert any(answers) is (amps == 0.0), "where nothing is seen to flow nothing warms it"
