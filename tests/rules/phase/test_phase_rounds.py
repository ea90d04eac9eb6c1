"""Two rounds as a person would tell them, driven sample by sample."""

from __future__ import annotations

import json

import pytest

from bridge.journal.snapshot import freeze, thaw
from rules.bank.model import Bank, Block, ChargerSetting, HoldRule, Relay
from rules.phase.machine import PhaseMemory, command, initial, observe
from rules.phase.observation import Observation
from rules.remaining.estimate import RemainingMemory
from rules.remaining.estimate import initial as no_estimate
from rules.remaining.estimate import observe as estimate

HOUR = 3600.0
STRING = tuple(Block(f"N{number}", 3, 225.0) for number in range(1, 5))


def between(hours: float, *points: tuple[float, float]) -> float:
    """Straight lines through (hour, value)."""
    before = points[0]
    for after in points[1:]:
        if hours <= after[0]:
            return before[1] + (hours - before[0]) / (after[0] - before[0]) * (after[1] - before[1])
        before = after
    return before[1]


# ------------------------------------------------------------------------------------------- wake

WATCHED = Bank("north", (STRING,), chargers=(ChargerSetting(28.8, 45.0),))


def wake_volts(hours: float) -> float:
    return between(hours, (0, 28.8), (11, 28.8), (12, 28.6), (16, 27.2), (20, 26.0), (23, 26.0)) / 12.0


def wake_amps(hours: float) -> float:
    return between(hours, (0, 0.0), (10, 0.4), (12, 12.0), (16, 38.0), (20, 45.0), (23, 45.0))


def wake(period: float) -> list[tuple[float, PhaseMemory, RemainingMemory]]:
    phase, remaining, charge, seen = initial(), no_estimate(), 0.0, []
    for number in range(int(23 * HOUR / period) + 1):
        hours = number * period / HOUR
        amps = wake_amps(hours)
        charge += amps * period / HOUR
        observation = Observation(1e9 + number * period, wake_volts(hours), amps, charge=charge)
        phase = observe(WATCHED, phase, observation)
        remaining = estimate(WATCHED, phase, remaining, observation)
        seen.append((hours, phase, remaining))
    return seen


@pytest.mark.parametrize("period", [10.0, 60.0, 300.0])
def test_a_watched_bank_wakes_and_is_never_called_not_reviving(period: float) -> None:
    seen = wake(period)
    phases = {round(hours, 3): phase.phase for hours, phase, _ in seen}
    assert {phases[round(hours, 3)] for hours in (0.5, 5.0, 9.5)} == {"waking"}
    assert phases[12.25] == "reviving"
    assert phases[20.25] == "bulk"
    assert not any(phase.not_reviving or phase.hopeless for _, phase, _ in seen)


def test_the_round_of_a_watched_bank_is_dated_back_to_the_first_charging() -> None:
    (_, phase, _) = wake(60.0)[-1]
    assert phase.started_at == pytest.approx(1e9, abs=60.0)


def test_a_blocking_bank_has_no_hours_but_a_reason() -> None:
    for hours, _, remaining in wake(60.0):
        if 0.5 < hours < 9.0:
            assert remaining.estimate.hours is None
            assert "blocking" in remaining.estimate.reason or "begun" in remaining.estimate.reason


# ---------------------------------------------------------------------------------- hold and stop

RELAYED = Bank("south", (STRING,), chargers=(ChargerSetting(32.0, 30.0),), relay=Relay())
FOURTEEN_TEN, TEN_AT_NIGHT, HALF_PAST_SEVEN, FIVE_PAST_EIGHT = 14.0 + 1 / 6, 22.0, 31.5, 32.0 + 1 / 12


def hold_volts(hours: float) -> float:
    if hours < FOURTEEN_TEN:
        return between(hours, (0, 2.10), (12, 2.35), (FOURTEEN_TEN, 2.63))
    if TEN_AT_NIGHT < hours < HALF_PAST_SEVEN:
        return between(hours, (22, 2.50), (23, 2.20), (31.5, 2.13))
    if HALF_PAST_SEVEN <= hours < FIVE_PAST_EIGHT:
        return between(hours, (31.5, 2.30), (FIVE_PAST_EIGHT, 2.63))
    return 32.0 / 12.0


def hold_amps(hours: float) -> float:
    if hours < FOURTEEN_TEN:
        return 30.0
    if TEN_AT_NIGHT < hours < HALF_PAST_SEVEN:
        return 0.0
    if HALF_PAST_SEVEN <= hours < FIVE_PAST_EIGHT:
        return 30.0
    return between(hours, (14, 30.0), (18, 9.0), (22, 6.0), (32, 9.0), (36, 5.2), (48, 5.1))


def rising(hours: float) -> bool | None:
    """Hourly gravities from 13:00 of the second day; equal, so at a plateau once there are four."""
    return None if hours < 40.0 else False


def hold(
    bank: Bank, period: float, until: float, restart_at: float = -1.0
) -> tuple[PhaseMemory, list[tuple[float, PhaseMemory]]]:
    phase = command(bank, initial(), "start", 1e9)
    charge, seen = 0.0, []
    for number in range(int(until * HOUR / period) + 1):
        hours = number * period / HOUR
        if phase.hold_complete:
            amps, volts = 0.0, 2.3
        else:
            amps, volts = hold_amps(hours), hold_volts(hours)
        charge += amps * period / HOUR
        seconds = 1e9 + number * period
        observation = Observation(seconds, volts, amps, temperature=10.0, charge=charge, gravity_rising=rising(hours))
        phase = observe(bank, phase, observation)
        if abs(hours - restart_at) < period / HOUR / 2:
            phase = thaw(PhaseMemory, json.loads(json.dumps(freeze(phase))))
        seen.append((hours, phase))
    return phase, seen


@pytest.mark.parametrize("period", [1.0, 10.0, 60.0, 300.0])
def test_the_hold_clock_stands_at_seven_fifty_when_the_generator_stops(period: float) -> None:
    phase, _ = hold(RELAYED, period, 22.5)
    assert phase.phase == "holding"
    assert phase.interrupted
    assert phase.hold_seconds == pytest.approx((7 + 50 / 60) * HOUR, abs=period)


@pytest.mark.parametrize("period", [10.0, 60.0, 300.0])
def test_the_hold_is_complete_at_a_quarter_past_four(period: float) -> None:
    phase, seen = hold(RELAYED, period, 44.0)
    done = next(hours for hours, phase in seen if phase.hold_complete)
    assert done == pytest.approx(40.25, abs=1.01 * period / HOUR)
    assert phase.phase == "resting"
    assert not phase.interrupted
    assert phase.hold_completed_at == pytest.approx(1e9 + done * HOUR)


@pytest.mark.parametrize("restart", [15.0, 23.0, 32.0, 38.0])
def test_a_restart_in_between_changes_nothing(restart: float) -> None:
    assert hold(RELAYED, 60.0, 42.0, restart) == hold(RELAYED, 60.0, 42.0)


def test_it_holds_through_the_night_and_the_climb_back() -> None:
    _, seen = hold(RELAYED, 60.0, 40.0)
    assert {phase.phase for hours, phase in seen if hours > 14.5} == {"holding"}
    assert [phase.interrupted for hours, phase in seen if hours in (23.0, 31.0, 31.75, 33.0)] == [
        True,
        True,
        False,
        False,
    ]


def test_a_hold_whose_current_still_falls_goes_on_to_its_maximum() -> None:
    phase = command(RELAYED, initial(), "start", 0.0)
    charge = 0.0
    done = None
    for number in range(40 * 60):
        hours = number / 60.0
        amps = 30.0 if hours < 10 else 20.0 * 0.93 ** (hours - 10)
        volts = 2.2 + 0.04 * hours if hours < 10 else 32.0 / 12.0
        charge += amps / 60.0
        phase = observe(RELAYED, phase, Observation(60.0 * number, volts, amps, charge=charge))
        if done is None and phase.hold_complete:
            done = hours
    assert done == pytest.approx(34.0, abs=0.05)


def test_gravity_that_still_rises_keeps_the_hold_going() -> None:
    phase = command(RELAYED, initial(), "start", 0.0)
    charge = 0.0
    for number in range(30 * 60):
        hours = number / 60.0
        amps, volts = (30.0, 2.2 + 0.04 * hours) if hours < 10 else (5.0, 32.0 / 12.0)
        charge += amps / 60.0
        seen = Observation(60.0 * number, volts, amps, charge=charge, gravity_rising=hours < 28.0)
        phase = observe(RELAYED, phase, seen)
        if phase.hold_complete:
            break
    assert phase.hold_seconds / HOUR == pytest.approx(18.0, abs=0.1)


def test_equal_minimum_and_maximum_are_a_plain_clock() -> None:
    bank = Bank("south", (STRING,), chargers=RELAYED.chargers, hold=HoldRule(10.0, 10.0), relay=Relay())
    phase, _ = hold(bank, 60.0, 36.0)
    assert phase.hold_complete
    assert phase.hold_seconds == pytest.approx(10 * HOUR, abs=60.0)
