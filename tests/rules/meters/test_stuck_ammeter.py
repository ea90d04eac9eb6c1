"""An ammeter that stands although the current must have changed is named; one that stands by rights never is.

By situation, through `rules.step`. 0.42 ohm Ah for a cell and an e-fold of its gas in 90 mV (Schiffer and others, J.
Power Sources 168 (2007) 66): 24 A into 200 Ah are 50 mV of ohmic drop. The limits are common practice, no source.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import NamedTuple

import pytest

from rules.events import Reading, Tick
from rules.meters import Thermal
from rules.meters.plausible import NEVER
from rules.meters.stuck import stuck_current
from tests.support.fold import PROBE
from tests.support.moments import Moment, bank_of

CHARGER = 'chargers = [ { volts = "32 V", amps = "24 A" } ]'
HOUR = 3600.0
Course = Callable[[float], float]


class Household(Moment):
    """A bank whose meters have noise and steps; its ammeter may stop at a moment, and shows that whatever happens."""

    def __init__(
        self, *, step: float = 0.1, noise: float = 0.2, share: float = 0.0, every: float = 20.0, seed: int = 1
    ) -> None:
        super().__init__(bank_of(keys=CHARGER))
        self.step, self.noise, self.share, self.every = step, noise, share, every
        self.random = random.Random(seed)
        self.stands: float | None = None
        self.suspected: list[float] = []
        self.begin(voltage=24.5, current=0.0, **{PROBE: 25.0})

    def shows(self, amps: float) -> float:
        """The ammeter's own idea of a current [A]."""
        if self.stands is None:
            told = amps + self.random.gauss(0.0, self.noise + self.share * abs(amps))
            return round(round(told / self.step) * self.step, 3)
        return self.stands

    def lives(self, hours: float, volts: Course, amps: Course) -> None:
        """Let hours pass, in which volts and amps go as they are drawn; an open relay lets nothing through."""
        begin = self.at
        while self.at < begin + hours * HOUR:
            self.at += self.every
            hour, closed = (self.at - begin) / HOUR, self.lock.allowed
            self.fold(Reading("north", "relay_state", float(closed), self.at, self.at))
            off = 0.0 if closed else self.at - self.lock.order_at
            told = volts(hour) if closed else 25.4 + 6.0 * math.exp(-off / 300.0)
            self.turn = 0.1 - self.turn
            for name, value in (
                ("voltage", round(told + self.random.gauss(0.0, 0.01), 2)),
                ("current", self.shows(amps(hour) if closed else 0.0)),
                (PROBE, 25.0 + self.turn),
            ):
                self.fold(Reading("north", name, value, self.at, self.at))
            self.fold(Tick(self.at))
            if "meter-suspect" in self.flags:
                self.suspected.append(hour)

    def charged(self) -> Household:
        """Through bulk and half of the taper: it has woken, and its voltage stands at the ceiling."""
        self.lives(5.0, lambda h: 25.6 + 0.8 * h, lambda _: 24.0)
        self.lives(4.0, lambda _: 32.0, taper)
        assert self.memory.phase.woken and not self.suspected
        return self


def taper(hour: float) -> float:
    """From 24 A towards 4 A in hours."""
    return 4.0 + 20.0 * math.exp(-hour / 1.5)


def settled(hour: float) -> float:
    """What is left of it: 5.4 A at first, 4 A in the end."""
    return 4.0 + 1.4 * math.exp(-hour / 1.5)


def ceiling(_: float) -> float:
    """The charger's [V]."""
    return 32.0


def test_at_a_ceiling_a_digit_that_never_rested_before_is_named_within_an_hour_and_a_half() -> None:
    house = Household().charged()
    house.lives(1.5, ceiling, settled)
    house.stands = house.shows(settled(1.5))
    house.lives(1.6, ceiling, lambda h: settled(1.5 + h))
    assert house.suspected and 1.0 <= house.suspected[0] <= 1.5
    assert not house.lock.allowed and house.orders[-1].reason == "meter-suspect"
    reason = house.memory.flags["meter-suspect"].reason
    assert reason.startswith(f"current: stuck: cabin/current/1 used to flicker and has told {house.stands:g} A to the")


def test_what_a_stuck_ammeter_says_of_a_cut_accuses_no_relay_and_it_is_believed_once_it_moves() -> None:
    house = Household().charged()
    house.lives(1.5, ceiling, settled)
    house.stands = 5.0
    house.lives(9.0, ceiling, settled)
    assert not house.lock.latched and not house.lock.allowed, "4 A after the cut are the meter's, not the relay's"
    assert house.suspected[-1] == pytest.approx(9.0), "what showed it is long forgotten, and it has not moved"
    house.stands = None
    house.suspected.clear()
    house.lives(0.5, ceiling, settled)
    assert house.lock.allowed and not house.suspected


def test_a_quieter_meter_is_named_after_it_has_crept_through_a_whole_digit_without_a_rest() -> None:
    house = Household(step=0.5, noise=0.2).charged()
    house.lives(4.0, ceiling, lambda h: 5.4 - 0.3 * h)
    house.stands = 4.0
    house.lives(4.0, ceiling, lambda _: 4.0)
    assert house.suspected and 2.0 <= house.suspected[0] <= 3.0


class Mean(NamedTuple):
    """Ten minutes of charging."""

    at: float
    volts: float
    amps: float


def heard_every_five_minutes(share: float, hours: float, *, lifts: float = 0.0, seed: int = 1) -> bool:
    """A taper of six hours from 8 A to 4 A, and the last digit of it for so many hours since; volts lift on the way."""
    draw, step = random.Random(seed), 0.01

    def shown(hour: float) -> float:
        amps = 4.0 + 4.0 * math.exp(-hour / 2.0)
        return round(round(amps * (1.0 + draw.gauss(0.0, share)) / step) * step, 2)

    means = [
        Mean(600.0 * n, 2.66 + lifts * (n > 30), 0.5 * (shown((n - 0.75) / 6.0) + shown((n - 0.25) / 6.0)))
        for n in range(1, 37)
    ]
    value, since = shown(6.0), 36 * 600.0
    means += [Mean(since + 600.0 * n, 2.66 + lifts, value) for n in range(1, round(6.0 * hours) + 1)]
    bank = bank_of(keys=CHARGER)
    (meter,) = bank.by_quantity["current"]
    trace = NEVER._replace(at=since + hours * HOUR, value=value, changed_at=since, step=step, usual=480.0, period=300.0)
    return stuck_current(bank, meter, {meter.name: trace}, Thermal(), True, 4.0 * share, means)


@pytest.mark.parametrize(
    ("share", "hours", "lifts", "named"),
    [
        (0.02, 2.0, 0.0, True),
        (0.02, 1.5, 0.0, False),  # twelve of its usual turns are 1.6 h
        (0.02, 2.0, 0.04, False),  # the charger was raised since: what it did before says nothing
        (0.0, 2.0, 0.0, False),  # so quiet that it may rest on a digit
        (0.0005, 2.0, 0.0, False),  # and one that dithers between two
    ],
)
def test_an_ammeter_heard_every_five_minutes_is_named_by_how_its_ten_minutes_strayed(
    share: float, hours: float, lifts: float, named: bool
) -> None:
    assert {heard_every_five_minutes(share, hours, lifts=lifts, seed=seed) for seed in range(5)} == {named}


@pytest.mark.parametrize("noise", [0.03, 0.2])
def test_a_charger_that_goes_off_while_the_amps_stand_is_named_within_half_an_hour(noise: float) -> None:
    house = Household(noise=noise)
    house.lives(6.0, lambda h: 25.6 + 0.8 * h, lambda h: 24.0 + 0.1 * math.sin(40.0 * h) - 2.0 * (h > 5.9))
    assert house.memory.phase.woken and not house.suspected
    house.stands = 22.0
    house.lives(0.5, lambda h: 30.0 + h, lambda _: 22.0)
    assert not house.suspected, "so far nothing says that it does not flow"
    house.lives(0.6, lambda h: 25.4 + 5.0 * math.exp(-h / 0.08), lambda _: 0.0)
    assert house.suspected and house.suspected[0] <= 0.5
    assert not house.lock.latched


def test_a_cloud_that_the_voltage_shows_and_the_amps_do_not_is_remembered_when_it_has_passed() -> None:
    house = Household()
    house.lives(6.0, lambda h: 25.6 + 0.5 * h, lambda h: 24.0 - 2.0 * (h > 5.9))
    house.stands = 22.0
    house.lives(1.0, lambda h: 28.6 - 0.8 * (0.5 < h < 0.8), lambda h: 22.0 - 16.0 * (0.5 < h < 0.8))
    assert house.suspected and house.suspected[0] < 0.8 and house.suspected[-1] == pytest.approx(1.0)


def test_a_shunt_whose_wire_broke_tells_nothing_at_a_gassing_voltage() -> None:
    house = Household().charged()
    house.stands = 0.0
    house.lives(0.5, ceiling, settled)
    assert house.suspected and house.suspected[0] <= 0.4


# -------------------------------------------------------------------------------------------------- it stands by rights


def test_in_current_limit_a_charger_really_gives_the_same_while_the_voltage_rises() -> None:
    house = Household(noise=0.0)
    house.lives(1.0, lambda h: 25.6 + 0.5 * h, lambda h: 20.0 + 0.3 * math.sin(400.0 * h))
    house.lives(9.0, lambda h: 26.1 + 0.6 * h, lambda _: 24.0)
    assert not house.suspected


def test_a_second_string_that_wakes_pulls_the_voltage_down_at_an_even_current() -> None:
    house = Household(noise=0.0)
    house.lives(5.5, lambda h: 25.6 + 0.8 * h, lambda h: 24.0 + 0.3 * math.sin(400.0 * h) * (h < 5.4))
    assert house.memory.phase.woken
    house.lives(2.0, lambda h: 30.0 - 1.2 * h, lambda _: 24.0)
    assert not house.suspected, "600 mV an hour are 8 mV per cell in ten minutes"


def test_a_meter_whose_voltmeter_fell_silent_for_a_while_is_not_blamed() -> None:
    house = Household()
    house.lives(6.0, lambda h: 25.6 + 0.8 * h, lambda h: 24.0 - 2.0 * (h > 5.9))
    house.stands = 22.0
    for minute in range(60):
        for second in range(20, 61, 20):
            if minute % 10 > 1:
                house.read("voltage", 30.0 + 0.01 * (second // 20 % 2))
            house.read("current", 22.0)
            house.read(PROBE, 25.0 + 0.1 * (second // 20 % 2))
            house.read("relay_state", 1.0)
            house.at += 20.0
            house.fold(Tick(house.at))
    assert "meter-suspect" not in {event.detail.get("flag") for event in house.events}


@pytest.mark.parametrize(
    ("step", "noise", "share"),
    [(1.0, 0.0, 0.0), (1.0, 0.1, 0.0), (0.5, 0.05, 0.0), (0.1, 0.0, 0.0), (0.1, 0.01, 0.0), (0.1, 0.0, 0.01)],
    ids=str,
)
def test_a_clamp_with_coarse_steps_and_a_quiet_meter_may_stand_through_a_whole_hold(
    step: float, noise: float, share: float
) -> None:
    house = Household(step=step, noise=noise, share=share, every=30.0).charged()
    house.lives(16.0, ceiling, lambda h: settled(h) + 0.15 * math.sin(0.4 * h))
    assert not house.suspected


@pytest.mark.parametrize("seed", range(6))
def test_on_a_bank_that_is_well_no_meter_of_any_make_is_named(seed: int) -> None:
    draw = random.Random(seed)
    step = draw.choice([0.01, 0.1, 0.5, 1.0])
    house = Household(
        step=step, noise=step * draw.choice([0.0, 0.1, 0.3, 1.0]), share=draw.choice([0.0, 0.005, 0.03]),
        every=draw.choice([20.0, 60.0, 300.0]), seed=seed,
    )  # fmt: skip
    pace, floor = draw.uniform(0.2, 4.0), draw.uniform(1.0, 6.0)
    house.lives(4.0, lambda h: 25.6 + 0.8 * h, lambda _: 24.0)
    for _ in range(2):
        house.lives(8.0, ceiling, lambda h: min(24.0, floor + 18.0 * math.exp(-h / pace)))
        house.lives(1.0, lambda h: 25.4 + 6.0 * math.exp(-h / 0.1), lambda _: 0.0)
        house.lives(1.0, lambda h: min(32.0, 28.0 + 5.0 * h), lambda _: 24.0)
    assert not house.suspected
