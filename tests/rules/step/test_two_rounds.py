"""Two rounds as a person would tell them, second by second through the one door, relay and restarts included."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from typing import NamedTuple

import pytest

from bridge.journal.snapshot import freeze, thaw
from rules.bank.model import Bank, Block, ChargerSetting, Meter, Relay
from rules.events import Command, Derived, Event, HandReading, Incoming, Order, Reading, Tick
from rules.step import step
from rules.step.memory import Memory, initial

HOUR = 3600.0
#: Midnight of the first day.
DAY = 1_795_564_800.0
METERS = (
    Meter("voltage", "voltage", period=30.0),
    Meter("current", "current", period=30.0, resolution=0.1),
    Meter("electrolyte_temperature", "electrolyte_temperature", period=60.0, placed="cell"),
)
STRING = tuple(Block(f"N{number}", 3, 225.0) for number in range(1, 5))


def between(hours: float, *points: tuple[float, float]) -> float:
    """Straight lines through (hour, value)."""
    before = points[0]
    for after in points[1:]:
        if hours <= after[0]:
            return before[1] + (hours - before[0]) / (after[0] - before[0]) * (after[1] - before[1])
        before = after
    return before[1]


def warmth(hours: float) -> float:
    """Of the electrolyte in a cold shed; a probe that never moved would not be believed [degC]."""
    return round(10.0 + abs(hours % 2.0 - 1.0), 1)


class Told(NamedTuple):
    """What came out: states by second, events and orders in order."""

    states: dict[float, Derived]
    events: list[Event]
    orders: list[Order]
    memory: Memory

    def at(self, hours: float) -> Derived:
        """The newest state at an hour of the first day."""
        return self.states[max(at for at in self.states if at <= DAY + hours * HOUR)]

    def first(self, what: Callable[[Derived], bool]) -> float:
        """Hour of the first day at which something first was so."""
        return (min(at for at, state in self.states.items() if what(state)) - DAY) / HOUR


def names(state: Derived) -> set[str]:
    return {flag.name for flag in state.flags}


class Walk:
    """A bank and its meters, second by second."""

    def __init__(self, bank: Bank, hours: float) -> None:
        self.bank, self.memory, self.at = bank, initial(), DAY + hours * HOUR
        self.told = Told({}, [], [], self.memory)
        self.closed = bank.relay is None
        self.obeyed = False

    @property
    def hours(self) -> float:
        return (self.at - DAY) / HOUR

    def give(self, event: Incoming) -> None:
        self.memory, outcomes = step(self.bank, self.memory, event)
        for outcome in outcomes:
            if isinstance(outcome, Derived):
                self.told.states[outcome.at] = outcome
            elif isinstance(outcome, Order):
                self.told.orders.append(outcome)
                self.closed = outcome.action == "allow"
                self.obeyed = True
            else:
                self.told.events.append(outcome)

    def act(self, name: str, /, **argument: object) -> None:
        self.give(Command(self.bank.id, name, self.at, "keeper", argument))

    def until(self, hours: float, volts: Callable[[Walk], float], amps: Callable[[Walk], float]) -> None:
        """Let time pass; the meters speak every half minute, the relay as often and after every order."""
        while self.at < DAY + hours * HOUR:
            self.at += 1.0
            if self.obeyed:  # the relay reports a second after it was told
                self.obeyed = False
                self.give(Reading(self.bank.id, "relay_state", float(self.closed), self.at, self.at))
            if self.at % 30.0 == 0.0:
                say = [
                    ("voltage", volts(self)),
                    ("current", amps(self)),
                    ("electrolyte_temperature", warmth(self.hours)),
                ]
                if self.bank.relay is not None:
                    say.append(("relay_state", float(self.closed)))
                for meter, value in say:
                    self.give(Reading(self.bank.id, meter, value, self.at, self.at))
            self.give(Tick(self.at))

    def done(self) -> Told:
        return self.told._replace(memory=self.memory)


# ------------------------------------------------------------------------------------------- wake

WATCHED = Bank("north", (STRING,), chargers=(ChargerSetting(28.8, 45.0),), meters=METERS)


@cache
def wake() -> Told:
    walk = Walk(WATCHED, 0.0)
    walk.until(
        23.0,
        lambda now: between(now.hours, (0, 28.8), (11, 28.8), (12, 28.6), (16, 27.2), (20, 26.0), (23, 26.0)),
        lambda now: between(now.hours, (0, 0.0), (10, 0.4), (12, 12.0), (16, 38.0), (20, 45.0), (23, 45.0)),
    )
    return walk.done()


def test_a_blocking_string_is_waking_and_has_no_hours_but_a_reason() -> None:
    for hours in (1.0, 5.0, 9.5):
        state = wake().at(hours)
        assert (state.phase, state.interrupted, state.remaining_hours) == ("waking", False, None)
        assert state.remaining_reason


def test_it_is_reviving_by_a_quarter_past_twelve_and_falling_volts_are_called_encouraging() -> None:
    assert 10.0 < wake().first(lambda state: state.phase == "reviving") <= 12.25
    assert "falling volts are encouraging" in wake().at(12.25).then[-1]
    assert "falling volts are encouraging" in wake().at(14.0).then[-1]


def test_it_is_in_bulk_by_a_quarter_past_eight_in_the_evening_and_was_never_called_not_reviving() -> None:
    assert 16.0 < wake().first(lambda state: state.phase == "bulk") <= 20.25
    assert wake().at(20.25).phase == "bulk"
    assert not any(names(state) & {"not-reviving", "hopeless"} for state in wake().states.values())


def test_over_current_is_raised_from_hour_sixteen_on_and_a_person_must_switch_off() -> None:
    # 29 A is 0.13 x 225 Ah, common practice, no source; judged at 1.25 times for half a minute.
    assert WATCHED.string_current_limit == pytest.approx(29.25)
    first = wake().first(lambda state: "over-current" in names(state))
    assert first == pytest.approx(12.0 + 4.0 * (36.5625 - 12.0) / 26.0, abs=0.03)
    assert "over-current" in names(wake().at(16.0))
    assert "over-current" in names(wake().at(23.0))
    assert wake().at(16.0).next_step == "No relay here: switch the charger off now, at the wall."
    assert wake().orders == []


# ---------------------------------------------------------------------------------- hold and stop

RELAYED = Bank(
    "south",
    (STRING,),
    chargers=(ChargerSetting(32.0, 30.0),),
    meters=(*METERS, Meter("relay_state", "relay_state", period=30.0)),
    relay=Relay(reports_state=True),
)
FOURTEEN_TEN, TEN_AT_NIGHT, HALF_PAST_SEVEN, FIVE_PAST_EIGHT = 14.0 + 1 / 6, 22.0, 31.5, 32.0 + 1 / 12
QUARTER_PAST_FOUR = 40.25
CELLS = tuple(f"N{block}.{cell}" for block in range(1, 5) for cell in range(1, 4))


def hold_volts(now: Walk) -> float:
    hours = now.hours
    if not now.closed:
        after = hours - QUARTER_PAST_FOUR
        return between(after, (0, 30.6), (0.05, 28.2), (1, 26.4)) if after > 0.0 else 24.6
    if hours < FOURTEEN_TEN:
        return between(hours, (0, 25.2), (12, 28.2), (FOURTEEN_TEN, 31.64))
    if TEN_AT_NIGHT < hours < HALF_PAST_SEVEN:
        return between(hours, (22, 30.0), (23, 26.4), (31.5, 25.56))
    if HALF_PAST_SEVEN <= hours < FIVE_PAST_EIGHT:
        return between(hours, (31.5, 27.6), (FIVE_PAST_EIGHT, 31.6))
    return 32.0


def hold_amps(now: Walk) -> float:
    hours = now.hours
    if not now.closed or TEN_AT_NIGHT < hours < HALF_PAST_SEVEN:
        return 0.0
    if hours < FOURTEEN_TEN or HALF_PAST_SEVEN <= hours < FIVE_PAST_EIGHT:
        return 30.0
    return between(hours, (14, 30.0), (18, 9.0), (22, 6.0), (32, 9.0), (36, 5.2), (48, 5.1))


@cache
def hold(restarts: tuple[float, ...] = ()) -> Told:
    """Started the evening before; gravity hourly from one o'clock of the second day."""
    walk = Walk(RELAYED, -2.0)
    walk.until(-1.9, hold_volts, hold_amps)
    walk.act("checklist", name="the keeper")
    walk.act("prove")
    walk.until(-1.8, hold_volts, hold_amps)
    walk.act("start")
    gravities = [37.0, 38.0, 39.0, 40.0]
    for hours in sorted([*restarts, *gravities, 48.0]):
        walk.until(hours, hold_volts, hold_amps)
        if hours in gravities:
            values: dict[str, float | str] = dict.fromkeys(CELLS, 1.262)
            walk.give(HandReading("south", "gravity", walk.at, walk.at, values, 10.0, "the keeper"))
        if hours in restarts:
            walk.memory = thaw(Memory, json.loads(json.dumps(freeze(walk.memory))))
    return walk.done()


def test_the_hold_clock_stands_at_seven_fifty_when_the_generator_stops() -> None:
    assert hold().at(FOURTEEN_TEN + 0.1).phase == "holding"
    state = hold().at(22.5)
    assert (state.phase, state.interrupted) == ("holding", True)
    assert state.hold_hours == pytest.approx(7 + 50 / 60, abs=31 / HOUR)


def test_the_hold_is_complete_at_a_quarter_past_four_and_the_relay_opens_then() -> None:
    done = hold().first(lambda state: state.phase == "resting")
    assert done == pytest.approx(QUARTER_PAST_FOUR, abs=31 / HOUR)
    last = hold().orders[-1]
    assert (last.action, last.reason) == ("cut", "hold-complete")
    assert (last.at - DAY) / HOUR == pytest.approx(done, abs=2 / HOUR)
    state = hold().at(QUARTER_PAST_FOUR + 0.1)
    assert (state.charge_allowed, state.relay, state.tripped) == (False, "open", False)
    assert "keep the charger off" in state.next_step.lower() or "switch the charger off" in state.next_step.lower()


def test_the_charger_counts_as_still_high_until_it_is_seen_down() -> None:
    high = [at for at, state in hold().states.items() if "charger-still-high" in names(state)]
    assert (min(high) - DAY) / HOUR == pytest.approx(QUARTER_PAST_FOUR, abs=31 / HOUR)
    # 2.47 V per cell is 29.64 V: passed about a minute and a half after the relay opened.
    assert max(high) < DAY + (QUARTER_PAST_FOUR + 0.05) * HOUR
    assert {state.phase for at, state in hold().states.items() if at > min(high)} == {"resting"}


def test_nothing_was_cut_in_between_and_nothing_tripped() -> None:
    started = next(event.at for event in hold().events if event.kind == "permit-given")
    orders = [(order.action, order.reason) for order in hold().orders if order.at >= started]
    # The relay was proved with no current flowing: that is made up for once, at the first amperes.
    assert [action for action, _ in orders] == ["allow", "cut", "allow", "cut"]
    assert orders[1] == ("cut", "proof test")
    assert not [event for event in hold().events if event.kind in ("trip", "permit-exhausted")]


def test_a_restart_in_between_changes_nothing() -> None:
    again = hold((15.0, 23.0, 31.8, 38.5, 40.26))
    assert again.memory == hold().memory
    assert again.orders == hold().orders
    assert again.events == hold().events


def test_the_permit_comes_back_by_itself_only_after_a_bridge_that_really_went_down() -> None:
    walk = Walk(RELAYED, -2.0)
    walk.until(-1.9, hold_volts, hold_amps)
    walk.act("checklist", name="the keeper")
    walk.act("prove")
    walk.until(-1.8, hold_volts, hold_amps)
    walk.act("start")
    walk.until(-1.0, hold_volts, hold_amps)
    walk.memory = thaw(Memory, json.loads(json.dumps(freeze(walk.memory))))
    walk.closed = False  # its guard has cut meanwhile
    walk.act("boot", storage="proved")
    walk.until(-0.8, hold_volts, hold_amps)
    assert walk.memory.interlock.allowed
    assert walk.memory.phase.started_at == DAY - 1.8 * HOUR
