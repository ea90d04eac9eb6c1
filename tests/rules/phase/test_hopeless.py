"""What will not revive: when and why it is said, and no hours are promised; and the slow, of which it is not said."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable

import pytest

from bridge.journal.snapshot import freeze, thaw
from rules.bank.model import Bank, Block, ChargerSetting
from rules.laws.rest_voltage import rest_voltage
from rules.phase import machine as phases
from rules.phase.machine import PhaseMemory
from rules.phase.observation import Observation
from rules.remaining.estimate import Estimate, RemainingMemory, initial, observe

HOUR = 3600.0
BEGIN = 1e9
BLOCKS = tuple(Block(f"N{number}", 3, 200.0) for number in range(1, 5))
BANK = Bank("north", (BLOCKS,), chargers=(ChargerSetting(28.8, 25.0), ChargerSetting(32.0, 25.0)))
FIRST, SECOND = Bank("north", (BLOCKS[:2],)), Bank("north", (BLOCKS[2:],))

#: Hours -> volts per cell, amps, electrolyte or None.
Signal = Callable[[float], tuple[float, float, float | None]]


class Story:
    """Phase and estimate along a signal, with the hours at which flags first stood."""

    def __init__(self) -> None:
        self.machine, self.remaining = phases.initial(), initial()
        self.charge = self.hour = 0.0
        self.not_reviving = self.hopeless = math.nan
        self.seen: list[tuple[float, PhaseMemory, Estimate]] = []

    def follow(
        self,
        signal: Signal,
        hours: float,
        bank: Bank = BANK,
        period: float = 300.0,
        resolution: tuple[float, float] = (0.0, 0.0),
        restart: bool = False,
    ) -> Story:
        """Go on for so many hours; `restart` takes the memories through JSON after every observation."""
        for _ in range(round(hours * HOUR / period)):
            self.hour += period / HOUR
            volts, amps, warm = signal(self.hour)
            self.charge += max(amps, 0.0) * period / HOUR
            observation = Observation(
                BEGIN + self.hour * HOUR, volts, amps, temperature=warm, charge=self.charge, resolution=resolution
            )
            self.machine = phases.observe(bank, self.machine, observation)
            self.remaining = observe(bank, self.machine, self.remaining, observation)
            if restart:
                self.machine = thaw(PhaseMemory, json.loads(json.dumps(freeze(self.machine))))
                self.remaining = thaw(RemainingMemory, json.loads(json.dumps(freeze(self.remaining))))
            if self.machine.not_reviving and math.isnan(self.not_reviving):
                self.not_reviving = self.hour
            if self.machine.hopeless and math.isnan(self.hopeless):
                self.hopeless = self.hour
            self.seen.append((self.hour, self.machine, self.remaining.estimate))
        return self

    def hours_given(self, after: float = 0.0) -> list[float]:
        """When a number was given."""
        return [hour for hour, _, estimate in self.seen if hour > after and estimate.hours is not None]


# ------------------------------------------------------------------------------------ dead in many ways


def warm(hour: float, swing: float) -> float:
    return 20.0 - swing * math.cos(2.0 * math.pi * hour / 24.0)


def leak(hour: float, share: float, swing: float) -> float:
    """0.6 A that follow the electrolyte by `share` per kelvin."""
    return 0.6 * math.exp(share * (warm(hour, swing) - 20.0))


DEAD: dict[str, Signal] = {
    "constant": lambda hour: (2.40, 0.6, 20.0),
    "falls for days": lambda hour: (2.40, 0.1 + 0.9 * math.exp(-hour / 20.0), 20.0),
    "poisoned, a tenth more every day": lambda hour: (2.40, 0.6 * 1.10 ** (hour / 24.0), 20.0),
    "follows the electrolyte as gas does": lambda hour: (2.40, leak(hour, 0.06, 6.0), warm(hour, 6.0)),
    "follows it half as much": lambda hour: (2.40, leak(hour, 0.03, 5.0), warm(hour, 5.0)),
    "follows it not at all": lambda hour: (2.40, 0.6, warm(hour, 3.0)),
    "warm days and no probe": lambda hour: (2.40, leak(hour, 0.06, 5.0), None),
    "at the equalising voltage": lambda hour: (32.0 / 12.0, 2.0, 20.0),
}


@pytest.mark.parametrize("signal", DEAD.values(), ids=DEAD.keys())
def test_a_dead_bank_is_not_reviving_after_a_day_hopeless_after_four_and_never_given_hours(signal: Signal) -> None:
    story = Story().follow(signal, 100.0)
    assert 24.0 <= story.not_reviving <= 26.5
    assert 96.0 <= story.hopeless <= 98.5
    assert story.hours_given() == []
    assert story.machine.finding.startswith("since 2001-09-09T")
    assert "charging hours, and the current stays at" in story.machine.finding
    assert story.remaining.estimate.reason == f"no hours: {story.machine.finding}"


@pytest.mark.parametrize("period", [30.0, 300.0])
@pytest.mark.parametrize("seed", range(3))
def test_meters_that_cannot_show_four_tenths_of_an_ampere_neither_hide_nor_feign_growth(
    seed: int, period: float
) -> None:
    """Steps of 1 A and 0.1 V: most samples read 0 A, some 1 A."""
    dice = random.Random(seed)

    def coarse(hour: float) -> tuple[float, float, None]:
        volts = round(28.8 + dice.gauss(0.0, 0.03), 1) / 12.0
        return volts, float(round(0.4 + dice.gauss(0.0, 0.3))), None

    story = Story().follow(coarse, 100.0, period=period, resolution=(0.1 / 12.0, 1.0))
    assert 24.0 <= story.not_reviving <= 27.0
    assert 96.0 <= story.hopeless <= 99.0
    assert story.hours_given() == []


def test_one_that_takes_some_ampere_hours_and_stalls_is_dated_from_the_stall() -> None:
    def stalls(hour: float) -> tuple[float, float, float]:
        # To 0.8 % of the rating an hour: blocking banks take 0.2 to 2 % (common practice, no source).
        amps = 0.5 * math.exp(0.07 * min(hour, 16.0))
        return 2.40, amps if hour < 16.0 else 0.5 + (amps - 0.5) * math.exp(-(hour - 16.0) / 8.0), 20.0

    story = Story().follow(stalls, 125.0)
    assert 16.0 + 23.5 <= story.not_reviving <= 16.0 + 27.0
    assert 16.0 + 95.5 <= story.hopeless <= 16.0 + 99.0
    assert {machine.phase for hour, machine, _ in story.seen if hour > 1.0} == {"waking"}
    assert story.hours_given(after=22.0) == []


def blocked_half(hour: float) -> tuple[float, float, float]:
    """Takes half of what its charger gives at once, a quarter more after three hours, and is charged after twelve."""
    return 2.40, 12.0 + 3.0 * hour / 3.0 if hour < 3.0 else 2.0 + 13.0 * math.exp(-(hour - 3.0) / 3.0), 20.0


def small_peak(hour: float) -> tuple[float, float, float]:
    """Grows tenfold, but only to 2.5 % of its rating an hour, and falls from that peak."""
    return 2.40, min(0.5 * math.exp(0.23 * hour), 5.0 * math.exp(-(hour - 10.0) / 9.0)), 20.0


def first_fill(hour: float) -> tuple[float, float, float]:
    """Dead: the plates' surface takes 4 % of the rating an hour for a while, then a leak is left, warmer in the day."""
    if hour < 0.5:
        return 1.90, 0.0, 20.0
    return 2.40, (0.8 + 8.0 * math.exp(-hour / 0.7)) * math.exp(0.06 * 4.0 * math.sin(hour / 3.8)), 20.0


@pytest.mark.parametrize(
    ("signal", "woken"), [(blocked_half, True), (small_peak, True), (first_fill, False)], ids=lambda v: str(v)[:20]
)
def test_a_peak_that_came_late_and_was_left_at_one_ceiling_is_a_waking_however_small(
    signal: Signal, woken: bool
) -> None:
    """Whatever share of the charger that peak was (common practice, no source)."""
    story = Story().follow(signal, 30.0)
    assert story.machine.woken is woken
    assert (story.machine.phase == "absorbing") is woken


@pytest.mark.parametrize(("rested", "phases_later"), [(1.90, {"waking"}), (2.12, {"absorbing"})])
def test_a_first_fill_and_gas_is_a_taper_only_if_the_bank_rested_as_a_full_one_does(
    rested: float, phases_later: set[str]
) -> None:
    """8 A of first fill fall to 2 A of gas, in a dead bank and in one that was full."""

    def taper(hour: float) -> tuple[float, float, float]:
        return (rested, 0.0, 20.0) if hour < 0.5 else (2.40, 2.0 + 7.5 * math.exp(-(hour - 0.5) / 1.5), 20.0)

    story = Story().follow(taper, 110.0)
    assert {machine.phase for hour, machine, _ in story.seen if hour > 8.0} == phases_later
    assert story.machine.hopeless is (rested < 2.0)


def test_what_a_dead_bank_takes_back_every_morning_is_no_growth() -> None:
    """Twelve hours on, twelve off: 1.2 A fall to 0.7 A each day, as what leaked away at night is put back."""

    def days(hour: float) -> tuple[float, float, float]:
        since = hour % 24.0
        return (2.40, 0.7 + 0.5 * math.exp(-since / 2.0), 20.0) if since < 12.0 else (1.5, 0.0, 20.0)

    story = Story().follow(days, 8.0 * 24.0 + 6.0)
    assert 36.0 <= story.not_reviving <= 36.0 + 15.0
    assert story.hopeless >= 7.0 * 24.0 + 12.0
    assert story.machine.hopeless
    assert story.hours_given() == []


def test_a_stall_before_the_charger_is_turned_up_does_not_count_after_it() -> None:
    """28.8 V for 20 h, then 32 V: the current jumps, and the day begins anew."""
    story = Story().follow(lambda hour: (2.40, 0.6, 20.0) if hour < 20.0 else (32.0 / 12.0, 2.5, 20.0), 120.0)
    assert 20.0 + 24.0 <= story.not_reviving <= 20.0 + 27.0
    assert 20.0 + 96.0 <= story.hopeless <= 20.0 + 99.0
    assert story.hours_given() == []


# ------------------------------------------------------------------------------------------ a short


def charging_cell(hour: float, capacity: float = 200.0, amps: float = 25.0) -> float:
    """Volts of a sound cell on its way from empty: its acid, and 0.42 ohm Ah (Schiffer and others 2007)."""
    gravity = 1.05 + 0.215 * min(1.0, amps * hour / capacity / 1.1)
    return rest_voltage(gravity) + 0.42 * amps / capacity


@pytest.mark.parametrize(("blocks", "within"), [(2, 3.0), (4, 6.0)], ids=["6 cells", "12 cells"])
def test_a_shorted_cell_is_told_by_a_voltage_below_what_the_acid_makes(blocks: int, within: float) -> None:
    bank = Bank("north", (BLOCKS[:blocks],), chargers=(ChargerSetting(7.2 * blocks, 25.0),))
    share = (bank.cells - 1) / bank.cells
    story = Story().follow(lambda hour: (share * charging_cell(hour), 25.0, 20.0), 7.0, bank)
    assert story.hopeless <= within
    assert "shorted or reversed cell is likely: measure every block" in story.machine.finding
    assert story.hours_given(after=1.5) == []
    # At the ceiling it looks like any other; it is not forgotten.
    story.follow(lambda hour: (2.40, 8.0, 25.0), 6.0, bank)
    assert story.machine.hopeless
    assert story.remaining.estimate.hours is None


@pytest.mark.parametrize("amps", [8.0, 15.0, 25.0], ids=["C/25", "C/13", "C/8"])
def test_a_sound_bank_charged_from_empty_has_no_shorted_cell(amps: float) -> None:
    bank = Bank("north", (BLOCKS,), chargers=(ChargerSetting(28.8, amps),))
    story = Story().follow(lambda hour: (charging_cell(hour, amps=amps), amps, 20.0), 150.0 / amps, bank)
    assert not any(machine.hopeless for _, machine, _ in story.seen)
    assert len(story.hours_given()) > 0.8 * len(story.seen)


# -------------------------------------------------------------------------------------- slow, not dead


@pytest.mark.parametrize("wakes", [60.0, 75.0, 90.0])
@pytest.mark.parametrize("first", [0.4, 1.0], ids=["0.4 A", "1 A"])
def test_one_that_needs_days_to_wake_is_never_hopeless(wakes: float, first: float) -> None:
    """A current that grows as fast as its own square: nothing for days, then all at once."""

    def slow(hour: float) -> tuple[float, float, float]:
        return 2.40, min(25.0, first / max(0.01, 1.0 - hour / wakes)), 20.0

    story = Story().follow(slow, wakes)
    assert not any(machine.hopeless for _, machine, _ in story.seen)
    assert not any(machine.not_reviving for hour, machine, _ in story.seen if hour > 0.5 * wakes)
    assert story.hours_given()


def test_one_that_first_falls_and_then_grows_is_growing() -> None:
    def dips(hour: float) -> tuple[float, float, float]:
        return 2.40, 1.2 * math.exp(-hour / 4.0) + 0.2 * math.exp(hour / 18.0), 20.0

    story = Story().follow(dips, 70.0)
    assert not any(machine.hopeless or machine.not_reviving for _, machine, _ in story.seen)


# ------------------------------------------------------------------------------- halves, and joined again


def half(begin: float) -> Signal:
    """Blocks for 6 h, wakes within 2, bulk for 4, then tapers at 2.40 V per cell."""

    def signal(hour: float) -> tuple[float, float, float]:
        since = hour - begin
        if since < 6.0:
            return 2.40, 0.5, 20.0
        if since < 8.0:
            return 2.40 - 0.1 * (since - 6.0), 0.5 * (25.0 / 0.5) ** ((since - 6.0) / 2.0), 20.0
        if since < 12.0:
            return 2.12 + 0.07 * (since - 8.0), 25.0, 20.0
        return 2.40, 2.0 + 23.0 * math.exp(-(since - 12.0) / 1.5), 20.0

    return signal


def halves(restart: bool = False) -> Story:
    story = Story().follow(half(0.0), 16.0, FIRST, restart=restart)
    assert story.machine.woken
    return story.follow(half(16.0), 5.0, SECOND, restart=restart)


def test_the_other_half_is_judged_by_what_it_does_itself() -> None:
    story = halves()
    assert story.machine.phase == "waking"
    assert not story.machine.woken
    assert story.remaining.estimate.hours is None


def test_a_bank_joined_from_halves_that_woke_is_awake() -> None:
    story = halves().follow(half(16.0), 11.0, SECOND)
    assert story.machine.woken
    story.follow(lambda hour: (2.40, 3.0, 20.0), 1.0, BANK)
    assert story.machine.woken
    assert story.machine.phase == "absorbing"
    story.follow(lambda hour: (32.0 / 12.0, 6.0, 20.0), 2.0, BANK)
    assert story.machine.phase == "holding"


def test_a_bank_joined_while_one_half_sleeps_is_waking() -> None:
    story = halves().follow(lambda hour: (2.40, 0.6, 20.0), 2.0, BANK)
    assert story.machine.phase == "waking"
    assert not story.machine.woken


def test_charge_given_to_the_halves_counts_half_for_the_whole() -> None:
    story = halves().follow(half(16.0), 11.0, SECOND).follow(lambda hour: (2.40, 3.0, 20.0), 1.0, BANK)
    whole = story.charge - story.machine.track.base
    assert whole == pytest.approx(0.5 * (story.charge - 3.0) + 3.0, rel=0.01)


def test_restarts_change_nothing_of_it() -> None:
    assert halves(restart=True).seen[-1] == halves().seen[-1]
