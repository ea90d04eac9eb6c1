"""Phase and remaining hours against what the trade says, fed as readings."""

from __future__ import annotations

from rules.bank.model import Bank, Block, ChargerSetting, HoldRule
from rules.phase import machine as phase
from rules.phase.memory import PhaseMemory
from rules.phase.observation import Observation
from rules.remaining import estimate as remaining
from rules.remaining.estimate import RemainingMemory

START = 1_781_510_400.0


def bank(
    cells: int, strings: int, *settings: tuple[float, float], capacity: float = 200.0, equalise: float = 2.667
) -> Bank:
    """Strings of 6 V blocks and a charger with these settings [V, A]."""
    rows = tuple(tuple(Block(f"{s}.{b}", 3, capacity) for b in range(cells // 3)) for s in range(strings))
    chargers = tuple(ChargerSetting(volts, amps) for volts, amps in settings)
    return Bank("outside", rows, chargers, equalise=equalise, hold=HoldRule(16.0, 16.0))


class Watched:
    """Feeds volts and amps by the minute, as a person reading meters would."""

    def __init__(self, watched: Bank) -> None:
        self.bank = watched
        self.at = START
        self.charge = self.charging = 0.0
        self.phase: PhaseMemory = phase.command(watched, phase.initial(), "start", START)
        self.remaining: RemainingMemory = remaining.initial()

    def read(self, hours: float, volts: tuple[float, float], amps: tuple[float, float]) -> Watched:
        """Bank volts and amps go evenly from the first to the second value."""
        steps = round(hours * 60)
        for step in range(1, steps + 1):
            share = step / steps
            current = amps[0] + share * (amps[1] - amps[0])
            self.at += 60.0
            self.charge += current / 60.0
            self.charging += 60.0 if current > 0.1 else 0.0
            per_cell = (volts[0] + share * (volts[1] - volts[0])) / self.bank.cells
            seen = Observation(
                self.at,
                per_cell,
                current,
                temperature=25.0,
                ambient=20.0,
                charge=self.charge,
                charging_seconds=self.charging,
            )
            self.phase = phase.observe(self.bank, self.phase, seen)
            self.remaining = remaining.observe(self.bank, self.phase, self.remaining, seen)
        return self


def test_six_cells_at_14_7_volts_that_take_4_of_50_amps_are_waking() -> None:
    """Common practice, no source."""
    seen = Watched(bank(6, 1, (14.7, 50.0), (16.0, 50.0))).read(2.0, (14.7, 14.7), (4.0, 4.0))
    assert seen.phase.phase == "waking"


def test_four_strings_at_28_8_volts_with_nothing_measurable_wake_and_twelve_hours_later_revive() -> None:
    """28.8 V and nothing; twelve hours later 28.1 V and about 42 A (common practice, no source)."""
    seen = Watched(bank(12, 4, (28.8, 50.0), (32.0, 50.0))).read(8.0, (28.8, 28.8), (0.3, 1.5))
    assert seen.phase.phase == "waking"
    seen.read(3.5, (28.8, 28.8), (1.5, 41.0)).read(0.5, (28.8, 28.1), (41.0, 42.0))
    assert seen.phase.phase == "reviving"


def test_two_strings_at_25_9_volts_that_take_50_amps_are_in_bulk() -> None:
    """Common practice, no source."""
    seen = Watched(bank(12, 2, (28.8, 50.0), (32.0, 50.0))).read(1.5, (25.6, 25.9), (50.0, 50.0))
    assert seen.phase.phase == "bulk"


def test_32_volts_and_a_few_amps_after_days_is_holding_and_the_same_at_the_start_is_waking() -> None:
    """Common practice, no source; the same pair means two things."""
    settings = ((28.8, 50.0), (32.0, 50.0))
    late = Watched(bank(12, 2, *settings))
    late.read(9.0, (25.0, 28.8), (50.0, 50.0)).read(10.0, (28.8, 28.8), (50.0, 5.0)).read(6.0, (32.0, 32.0), (9.0, 4.0))
    assert late.phase.phase == "holding"
    assert Watched(bank(12, 2, (32.0, 50.0))).read(6.0, (32.0, 32.0), (3.0, 3.0)).phase.phase == "waking"


def test_a_heavily_sulfated_battery_is_not_given_up_in_two_days() -> None:
    """Two days or more on a charger before it takes current (automotive workshop texts, US Army)."""
    seen = Watched(bank(6, 1, (14.4, 20.0), (16.0, 20.0), capacity=100.0)).read(48.0, (14.4, 14.4), (0.5, 1.2))
    assert seen.phase.phase == "waking"
    assert not seen.phase.hopeless


def test_four_days_at_the_ceiling_without_growth_are_hopeless_and_have_no_finite_end() -> None:
    """24 charging hours without growth are not reviving, 96 hopeless (common practice, no source)."""
    seen = Watched(bank(12, 1, (28.8, 25.0), (32.0, 25.0))).read(1.0, (28.8, 28.8), (0.8, 0.8))
    seen.read(30.0, (28.8, 28.8), (0.8, 0.8))
    assert seen.phase.not_reviving and not seen.phase.hopeless
    seen.read(70.0, (28.8, 28.8), (0.8, 0.8))
    assert seen.phase.hopeless
    assert seen.remaining.estimate.hours is None


def hours_to_the_hold(seen: Watched) -> float:
    """Middle estimate before the hold [h]."""
    said = seen.remaining.estimate
    assert said.hours is not None
    return said.hours - 16.0


#: The trade's rules end at a full charge; the climb to the equalising voltage and what sulfate takes come on top.
ON_TOP = 2.5


def test_the_ampere_hour_rule_bounds_the_estimate_from_below() -> None:
    """100 Ah to go at 20 A and 85 % are 5.9 h (trade rule); a 200 Ah bank half charged, one setting of the charger."""
    rule = 100.0 / 0.85 / 20.0
    seen = Watched(bank(12, 1, (32.0, 20.0))).read(5.0, (24.6, 25.6), (20.0, 20.0))
    assert rule <= hours_to_the_hold(seen) <= ON_TOP * rule


def test_the_navys_rule_of_points_bounds_the_estimate_from_below() -> None:
    """Points to go over points per Ah and amps: the formula is the US Navy's, the numbers (40, 0.4, 10 A) are ours."""
    capacity, rule = 500.0, 40.0 / 0.4 / 10.0
    seen = Watched(bank(12, 1, (32.0, 10.0), capacity=capacity))
    seen.read((capacity - 100.0) / 10.0, (24.6, 27.0), (10.0, 10.0))
    assert rule <= hours_to_the_hold(seen) <= ON_TOP * rule


def test_half_the_current_takes_about_twice_as_long() -> None:
    """Charge over current (any charging manual): the time left in bulk is about inverse to the current."""
    slow, fast = (
        hours_to_the_hold(Watched(bank(12, 1, (32.0, amps))).read(100.0 / amps, (24.6, 25.6), (amps, amps)))
        for amps in (10.0, 20.0)
    )
    assert 1.4 <= slow / fast <= 2.6
