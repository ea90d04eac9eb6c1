"""What was so before it was known: a bank never blocked, growth before a raise, a stop that comes every evening.

Currents, gas that grows 6 % a kelvin and days of a generator are common practice, no source; both sides of each.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from rules.bank.model import Bank, Block, ChargerSetting, HoldRule
from rules.phase.machine import PhaseMemory, initial, observe
from rules.phase.observation import Observation

BLOCKS = tuple(Block(f"N{number}", 3, 225.0) for number in range(1, 5))
CHARGER = (ChargerSetting(32.0, 30.0),)
TOP = 32.0 / 12
AT_VOLTAGE = Bank("north", (BLOCKS,), chargers=CHARGER, hold=HoldRule(16.0, 16.0, "at-voltage"))
AT_TAIL = Bank("north", (BLOCKS,), chargers=CHARGER, hold=HoldRule(16.0, 16.0, "at-current", tail=6.0))
TWO_STEPS = Bank(
    "north", (BLOCKS,), chargers=(ChargerSetting(28.8, 30.0), ChargerSetting(32.0, 30.0)),
    hold=HoldRule(16.0, 16.0, "at-voltage"),
)  # fmt: skip

#: Hours -> volts per cell, amps, electrolyte.
Signal = Callable[[float], tuple[float, float, float]]


def follow(bank: Bank, signal: Signal, hours: float) -> PhaseMemory:
    """Feed a signal minute by minute."""
    memory, charge = initial(), 0.0
    for minute in range(int(hours * 60.0)):
        volts, amps, warmth = signal(minute / 60.0)
        charge += max(amps, 0.0) / 60.0
        memory = observe(bank, memory, Observation(1e9 + 60.0 * minute, volts, amps, temperature=warmth, charge=charge))
    return memory


def gassing(rested: float, amps: float, afternoon: float = 1.5) -> Signal:
    """Half an hour at rest, then nothing but a gassing current that goes with the warmth of a day."""

    def signal(hour: float) -> tuple[float, float, float]:
        if hour < 0.5:
            return rested, 0.0, 20.0
        warmer = -afternoon * math.sin(hour / 24.0 * 2.0 * math.pi)
        return TOP, amps * math.exp(0.06 * warmer), 20.0 + warmer

    return signal


@pytest.mark.parametrize(
    ("rested", "amps", "afternoon", "held"),
    [
        (2.12, 4.5, 1.5, True),  # acid of a full bank, 2 % of the rating, and it never grows: gas
        (2.06, 4.5, 1.5, False),  # two thirds full by its acid: it may be one that blocks
        (2.12, 0.9, 1.5, False),  # so little flows through a bank that has dried out, too
        (2.12, 4.5, -5.0, False),  # it grows, be it by the warmth alone: nobody knows yet
    ],
)
def test_a_bank_that_rested_full_and_does_not_grow_is_held_from_its_first_half_hour_on(
    rested: float, amps: float, afternoon: float, held: bool
) -> None:
    memory = follow(AT_VOLTAGE, gassing(rested, amps, afternoon), 4.5)
    assert (memory.phase == "holding") is held
    assert memory.hold_seconds / 3600.0 == pytest.approx(3.4 if held else 0.0, abs=0.15)


@pytest.mark.parametrize(("first", "credited"), [(5.0, 2.2), (7.5, 1.75)])
def test_a_hold_that_waits_for_its_current_has_run_since_that_was_under_the_tail(first: float, credited: float) -> None:
    """It falls from `first` by a quarter an hour, rested full; under 6 A for a quarter of an hour the hold begins."""

    def signal(hour: float) -> tuple[float, float, float]:
        return (2.11, 0.0, 20.0) if hour < 0.5 else (TOP, first * math.exp(-0.25 * (hour - 0.5)), 20.0)

    memory = follow(AT_TAIL, signal, 3.5)
    assert memory.phase == "holding"
    assert memory.hold_seconds / 3600.0 == pytest.approx(credited, abs=0.35)


def test_a_bank_that_woke_has_held_nothing_while_it_woke() -> None:
    """It grows from 0.8 to 5 A in ten hours, under the tail all the time, and falls again: its hold begins then."""

    def signal(hour: float) -> tuple[float, float, float]:
        if hour < 0.5:
            return 1.97, 0.0, 20.0
        grown = 0.8 * math.exp(0.183 * (min(hour, 10.5) - 0.5))
        return TOP, grown * math.exp(-0.15 * max(0.0, hour - 10.5)), 20.0

    memory = follow(AT_TAIL, signal, 13.0)
    assert memory.woken
    assert memory.hold_seconds / 3600.0 < 2.6


def raised(before: Callable[[float], float], after: Callable[[float], float]) -> Signal:
    """Rested empty, eight hours at 2.40 V per cell, then at 2.667; amps by hours since each began."""

    def signal(hour: float) -> tuple[float, float, float]:
        if hour < 0.5:
            return 1.96, 0.0, 20.0
        if hour < 8.5:
            return 2.40, before(hour - 0.5), 20.0
        return TOP, after(hour - 8.5), 20.0

    return signal


@pytest.mark.parametrize(
    ("grows", "then", "woken"),
    [
        (2.0, lambda h: 9.0 * math.exp(-0.2 * h), True),  # grew sevenfold, was raised, and falls: it had woken
        (0.0, lambda h: 9.0 * math.exp(-0.2 * h), False),  # it never grew: what the raise drove through it dies away
        (
            2.0,
            lambda h: 9.0 - 1.5 * min(h, 1.0) + 0.3 * h,
            False,
        ),  # a surface fills for an hour, then it goes on growing
    ],
)
def test_growth_before_a_charger_was_raised_counts(grows: float, then: Callable[[float], float], woken: bool) -> None:
    assert follow(TWO_STEPS, raised(lambda h: 0.9 * math.exp(grows * h / 8.0), then), 12.0).woken is woken


def evenings(days: int, runs: float, last: float) -> Signal:
    """A bulk of ten hours and a fall on the first day; `days` whole days of `runs` hours, then one of `last` hours."""

    def signal(hour: float) -> tuple[float, float, float]:
        day, of_day = int(hour // 24.0), hour % 24.0
        on = of_day < (runs if day < days else last if day == days else 0.0)
        if not on:
            return 2.10, 0.0, 20.0
        if day == 0 and of_day < 8.0:
            return 2.06 + 0.07 * of_day, 30.0, 20.0
        return TOP, 3.0 + (27.0 * math.exp(-(of_day - 8.0) / 0.4) if day == 0 else 0.0), 20.0

    return signal


@pytest.mark.parametrize(
    ("days", "last", "wanted"),
    [
        (2, 11.0, "holding"),  # the third evening, as long a day as those before: half an hour is left
        (2, 5.4, "resting"),  # in the middle of the third day: somebody switched it off
    ],
)
def test_a_stop_that_comes_every_evening_ends_no_hold(days: int, last: float, wanted: str) -> None:
    runs = 11.0
    held = runs - 8.0 + (days - 1) * runs + last
    bank = Bank("north", (BLOCKS,), chargers=CHARGER, hold=HoldRule(held + 0.6, held + 0.6, "at-voltage"))
    memory = follow(bank, evenings(days, runs, last), 24.0 * days + last + 3.0)
    assert memory.hold_seconds >= 0.95 * bank.hold.minimum * 3600.0
    assert memory.phase == wanted


@pytest.mark.parametrize(
    ("falls", "least", "most"),
    [
        (0.0, 0.0, 1.3),  # all that the charger gives, and the voltage hangs below its ceiling by a night's cold alone
        (0.5, 2.5, 4.5),  # it takes less within the hour: the charger regulates
    ],
)
def test_a_bank_that_takes_all_for_hours_just_below_the_ceiling_is_not_held(
    falls: float, least: float, most: float
) -> None:
    """It blocks at 2.667 V, takes 30 A for ten hours; a night then lifts the voltage to 1 mV per cell below that."""

    def signal(hour: float) -> tuple[float, float, float]:
        if hour < 0.5:
            return 1.97, 0.0, 20.0
        if hour < 8.5:
            return TOP, 0.8 * math.exp(0.25 * (hour - 0.5)), 20.0
        if hour < 18.5:
            return 2.20 + 0.416 * (hour - 8.5) / 10.0, 30.0, 20.0
        night = math.sin((hour - 18.5) / 14.0 * math.pi)
        return TOP - 0.001 - 0.05 * (1.0 - night), 30.0 * math.exp(-falls * max(0.0, hour - 23.5)), 20.0

    memory = follow(AT_VOLTAGE, signal, 27.5)
    assert memory.woken
    assert least <= memory.hold_seconds / 3600.0 <= most
