"""Phases against the trade's check values, and against bad meters, stops, clouds and splits."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable

import pytest

from rules.bank.model import Bank, Block, ChargerSetting, HoldRule, Relay
from rules.phase.machine import PHASES, PhaseMemory, command, initial, observe
from rules.phase.observation import Observation

HOUR = 3600.0
Signal = Callable[[float], tuple[float | None, float | None]]


def string(name: str, blocks: int, capacity: float) -> tuple[Block, ...]:
    return tuple(Block(f"{name}{number}", 3, capacity) for number in range(1, blocks + 1))


ONE = Bank("north", (string("N", 4, 225.0),), chargers=(ChargerSetting(28.8, 30.0), ChargerSetting(32.0, 30.0)))


def follow(
    bank: Bank,
    signal: Signal,
    hours: float,
    *,
    period: float = 60.0,
    phase: PhaseMemory | None = None,
    begin: float = 0.0,
    temperature: float | None = 20.0,
    resolution: tuple[float, float] = (0.0, 0.0),
    strings: tuple[float, ...] = (),
    charge: float = 0.0,
) -> list[tuple[float, PhaseMemory]]:
    """Feed a signal of hours -> (volts per cell, amps)."""
    memory = phase or initial()
    seen = []
    for number in range(int(hours * HOUR / period) + 1):
        hour = begin + number * period / HOUR
        volts, amps = signal(hour)
        charge += max(amps or 0.0, 0.0) * period / HOUR
        memory = observe(
            bank,
            memory,
            Observation(
                1e9 + hour * HOUR,
                volts,
                amps,
                temperature=temperature,
                charge=charge,
                resolution=resolution,
                strings=strings,
            ),
        )
        seen.append((hour, memory))
    return seen


def order(seen: list[tuple[float, PhaseMemory]]) -> list[str]:
    """The phases in the order in which they came."""
    names = [seen[0][1].phase]
    for _, memory in seen:
        if memory.phase != names[-1]:
            names.append(memory.phase)
    return names


# ------------------------------------------------ check values (common practice, no source)


def test_six_cells_at_14_7_volts_taking_4_amps_of_50_are_waking() -> None:
    bank = Bank("half", (string("H", 2, 225.0),), chargers=(ChargerSetting(14.7, 50.0),))
    seen = follow(bank, lambda hour: (14.7 / 6, 4.0), 3.0)
    assert seen[-1][1].phase == "waking"
    assert not seen[-1][1].woken


@pytest.mark.parametrize("chargers", [(), (ChargerSetting(28.8, 50.0),)], ids=["unknown charger", "known charger"])
def test_four_strings_at_28_8_with_nothing_measurable_wake_and_twelve_hours_later_revive(
    chargers: tuple[ChargerSetting, ...],
) -> None:
    bank = Bank("four", tuple(string(name, 4, 225.0) for name in "ABCD"), chargers=chargers)

    def signal(hour: float) -> tuple[float, float]:
        if hour < 9.0:
            return 28.8 / 12, 0.0
        part = min(1.0, (hour - 9.0) / 3.0)
        return (28.8 - 0.7 * part**2) / 12, 42.0 * part

    seen = dict(follow(bank, signal, 12.3))
    assert {memory.phase for hour, memory in seen.items() if 0.3 < hour < 9.0} == {"waking"}
    assert {memory.phase for hour, memory in seen.items() if hour > 11.9} == {"reviving"}


def test_two_strings_at_25_9_volts_taking_50_amps_are_in_bulk() -> None:
    bank = Bank("two", (string("A", 4, 225.0), string("B", 4, 225.0)), chargers=(ChargerSetting(28.8, 50.0),))
    seen = follow(bank, lambda hour: ((25.6 + 0.1 * hour) / 12, 50.0), 3.0)
    assert order(seen)[-1] == "bulk"
    assert seen[-1][1].woken


def whole_round(hour: float) -> tuple[float, float]:
    """Wake 8 h, revive 3 h, bulk 7 h, absorb 4 h at 28.8 V, then 32 V."""
    if hour < 8:
        return 2.40, 0.6 + 0.1 * hour
    if hour < 11:
        return 2.40 - 0.002 * (hour - 8), 1.4 * (30.0 / 1.4) ** ((hour - 8) / 3)
    if hour < 18:
        return max(2.40 - 0.5 * (hour - 11), 2.12 + 0.28 * ((hour - 11) / 7) ** 2), 30.0
    if hour < 22:
        return 2.40, 2.0 + 28.0 * math.exp(-(hour - 18) / 1.2)
    if hour < 23:
        return 2.45 + 0.2 * (hour - 22), 30.0
    return 32.0 / 12, 4.0 + 26.0 * math.exp(-(hour - 23) / 2.0)


def test_32_volts_and_a_few_amps_after_days_are_holding() -> None:
    seen = follow(ONE, whole_round, 30.0)
    assert seen[-1][1].phase == "holding"
    assert order(seen) == ["idle", "waking", "reviving", "bulk", "absorbing", "bulk", "holding"]


# ----------------------------------------------------------------------------------- bad meters


@pytest.mark.parametrize("period", [1.0, 10.0, 60.0, 300.0])
def test_the_phases_do_not_depend_on_how_often_the_meters_report(period: float) -> None:
    seen = dict(follow(ONE, whole_round, 30.0, period=period))
    wanted = {5.0: "waking", 14.0: "bulk", 20.0: "absorbing", 24.0: "holding", 30.0: "holding"}
    assert {hour: seen[hour].phase for hour in wanted} == wanted


@pytest.mark.parametrize("seed", range(3))
def test_noise_and_steps_of_a_tenth_of_a_volt_and_an_ampere_move_no_phase(seed: int) -> None:
    dice = random.Random(seed)

    def coarse(hour: float) -> tuple[float, float]:
        volts, amps = whole_round(hour)
        return round(volts * 12 + dice.gauss(0, 0.05), 1) / 12, float(round(amps + dice.gauss(0, 0.4)))

    seen = follow(ONE, coarse, 30.0, period=20.0, resolution=(0.1 / 12, 1.0))
    assert order(seen) == ["idle", "waking", "reviving", "bulk", "absorbing", "bulk", "holding"]
    held = seen[-1][1].hold_seconds / HOUR
    assert held == pytest.approx(7.05, abs=0.2)


def test_half_an_ampere_of_offset_hides_no_waking_bank_and_no_stop() -> None:
    def offset(hour: float) -> tuple[float, float]:
        volts, amps = whole_round(hour)
        if 25.0 <= hour < 27.0:
            return 2.13 + 0.2 * math.exp(-(hour - 25.0) * 6), 0.5
        return volts, amps + 0.5

    seen = dict(follow(ONE, offset, 30.0))
    assert seen[5.0].phase == "waking"
    assert not seen[24.9].interrupted
    assert seen[26.0].interrupted
    assert seen[26.0].phase == "holding"
    assert not seen[27.5].interrupted


def test_without_temperature_and_with_estimated_current_the_order_stays() -> None:
    seen = follow(ONE, lambda hour: (whole_round(hour)[0], 0.88 * whole_round(hour)[1]), 30.0, temperature=None)
    assert seen[-1][1].phase == "holding"
    assert seen[-1][1].set_current == pytest.approx(0.88 * 30.0, rel=0.15)


def test_silence_interrupts_and_adds_nothing_to_the_hold() -> None:
    def silent(hour: float) -> tuple[float | None, float | None]:
        return (None, None) if 26.0 < hour < 27.0 else whole_round(hour)

    seen = dict(follow(ONE, silent, 30.0))
    assert seen[26.5].interrupted
    assert seen[26.5].phase == "holding"
    assert seen[28.0].hold_seconds == pytest.approx(
        dict(follow(ONE, whole_round, 30.0))[28.0].hold_seconds - HOUR, abs=130
    )


def test_without_a_current_meter_the_voltage_alone_holds_the_clock() -> None:
    blind = dict(follow(ONE, lambda hour: (whole_round(hour)[0], None if hour > 24.0 else whole_round(hour)[1]), 30.0))
    clear = dict(follow(ONE, whole_round, 30.0))
    assert blind[30.0].hold_seconds == pytest.approx(clear[30.0].hold_seconds, abs=61.0)


def test_a_repeated_or_late_observation_changes_nothing() -> None:
    memory = follow(ONE, whole_round, 25.0)[-1][1]
    again = Observation(1e9 + 25.0 * HOUR, 2.0, 0.0)
    assert observe(ONE, memory, again) == memory


# -------------------------------------------------------------------------------- what happens


def test_an_open_relay_interrupts_at_once_and_the_phase_is_remembered() -> None:
    memory = follow(ONE, whole_round, 14.0)[-1][1]
    cut = observe(ONE, memory, Observation(1e9 + 14.0 * HOUR + 1.0, 2.15, 0.0, cut=True))
    assert cut.interrupted
    assert cut.phase == "bulk"


def test_nights_without_generator_leave_the_phase_and_stop_the_clock() -> None:
    """Sixteen hours on, eight off: the round's own time runs only while the generator does."""

    def nights(hour: float) -> tuple[float, float]:
        day, clock = divmod(hour, 24.0)
        running = day * 16.0 + min(clock, 16.0)
        if clock >= 16.0:
            return 2.10 + 0.2 * math.exp(-4.0 * (clock - 16.0)), 0.0
        return whole_round(running)

    seen = dict(follow(ONE, nights, 46.0))
    assert seen[20.0].phase == seen[15.5].phase == "bulk"
    assert seen[20.0].interrupted
    assert seen[45.0].phase == seen[39.9].phase == "holding"
    assert seen[45.0].hold_seconds == pytest.approx(seen[40.0].hold_seconds, abs=61.0)


def test_a_cloud_does_not_end_the_hold() -> None:
    def cloud(hour: float) -> tuple[float, float]:
        return (2.45, 3.0) if 26.0 < hour < 26.7 else whole_round(hour)

    assert set(order(follow(ONE, cloud, 30.0))[-1:]) == {"holding"}


def test_one_spike_at_the_start_does_not_make_a_blocking_bank_woken() -> None:
    seen = follow(ONE, lambda hour: (2.40, 30.0 if hour < 0.06 else 0.5), 12.0)
    assert seen[-1][1].phase == "waking"
    assert not seen[-1][1].woken


def test_a_healthy_empty_bank_never_wakes_but_charges() -> None:
    seen = follow(ONE, lambda hour: (2.05 + 0.03 * hour, 30.0), 8.0)
    assert "waking" not in order(seen[20:])
    assert seen[-1][1].phase == "bulk"


def test_a_nearly_full_bank_is_neither_waking_nor_hopeless() -> None:
    bank = Bank("full", (string("F", 4, 225.0),), chargers=(ChargerSetting(28.8, 30.0),))
    seen = follow(bank, lambda hour: (2.40, 0.8 + 20.0 * math.exp(-hour / 1.5)), 120.0, period=300.0)
    assert seen[-1][1].phase == "absorbing"
    assert not any(memory.not_reviving or memory.hopeless for _, memory in seen)


@pytest.mark.parametrize("rises", [False, True])
def test_a_nearly_full_bank_whose_charger_is_raised_is_charged_too_unless_its_current_climbs(rises: bool) -> None:
    """A finishing current that falls at the first setting for an hour, and anew, from more, at the second."""

    def raised(hour: float) -> tuple[float, float]:
        if hour < 1.1:
            return (2.40, 2.4 + 2.1 * math.exp(-hour)) if hour < 1.05 else (2.42, 20.0)
        return 2.61, (2.0 + 0.25 * (hour - 1.1) if rises else 2.0 + 2.0 * math.exp(-(hour - 1.1) / 2.0))

    settings = (ChargerSetting(28.8, 29.0), ChargerSetting(31.32, 29.0))
    bank = Bank(
        "full", (string("F", 4, 200.0),), chargers=settings, equalise=2.61, hold=HoldRule(16.0, 16.0, "at-current", 4.4)
    )
    seen = dict(follow(bank, raised, 4.0))
    assert seen[3.0].woken is not rises
    assert (seen[4.0].phase == "holding") is not rises


def test_a_first_fill_at_two_settings_is_no_charge() -> None:
    """A blocked bank takes something at each setting, falls back within the hour, and leaves it at that."""

    def fills(hour: float) -> tuple[float, float]:
        return (
            (2.40, 0.4 + 2.0 * math.exp(-hour / 0.3))
            if hour < 1.1
            else (2.61, 0.8 + 2.0 * math.exp(-(hour - 1.1) / 0.3))
        )

    settings = (ChargerSetting(28.8, 29.0), ChargerSetting(31.32, 29.0))
    bank = Bank("blocked", (string("B", 4, 200.0),), chargers=settings, equalise=2.61)
    assert not follow(bank, fills, 12.0)[-1][1].woken


def test_a_bank_at_the_equalising_voltage_that_still_blocks_is_waking() -> None:
    bank = Bank("blocked", (string("B", 4, 225.0),), chargers=(ChargerSetting(32.0, 30.0),))
    seen = follow(bank, lambda hour: (32.0 / 12, 1.0), 20.0)
    assert seen[-1][1].phase == "waking"
    assert seen[-1][1].hold_seconds == 0.0


def test_when_a_second_string_wakes_in_the_hold_the_bank_is_in_bulk_again_and_the_clock_is_kept() -> None:
    def second(hour: float) -> tuple[float, float]:
        if 26.0 <= hour < 29.0:
            return max(2.2, 32.0 / 12 - 0.6 * (hour - 26.0)), 30.0
        return whole_round(hour)

    seen = dict(follow(ONE, second, 29.0))
    assert seen[25.9].phase == "holding"
    assert seen[28.5].phase == "bulk"
    assert seen[28.5].hold_seconds == pytest.approx(seen[26.1].hold_seconds, abs=61.0)


def test_the_ceiling_of_an_unknown_charger_is_learned_and_follows_when_it_is_turned_up() -> None:
    bank = Bank("unknown", ONE.strings)
    seen = dict(follow(bank, whole_round, 30.0))
    assert seen[6.0].ceiling == pytest.approx(2.40, abs=0.005)
    assert seen[15.0].set_current == pytest.approx(30.0, rel=0.03)
    assert seen[30.0].ceiling == pytest.approx(32.0 / 12, abs=0.005)
    assert seen[30.0].phase == "holding"


def test_a_bank_rejoined_from_its_halves_is_judged_anew() -> None:
    half = Bank("north", (string("N", 2, 225.0),), chargers=(ChargerSetting(14.4, 30.0),))
    woken = follow(half, lambda hour: (2.1 + 0.02 * hour, 30.0), 3.0)[-1][1]
    assert woken.woken
    joined = follow(ONE, lambda hour: (2.40, 0.8), 4.0, phase=woken, begin=3.1)[-1][1]
    assert joined.phase == "waking"
    assert not joined.woken


def test_the_hold_at_current_waits_for_the_tail() -> None:
    rule = HoldRule(16.0, 16.0, "at-current", tail=6.0)
    bank = Bank("tail", ONE.strings, chargers=ONE.chargers, hold=rule)
    seen = follow(bank, whole_round, 34.0)
    assert order(seen)[-2:] == ["finishing", "holding"]
    begun = next(hour for hour, memory in seen if memory.phase == "holding")
    low = 23.0 + 2.0 * math.log(26.0 / 2.0)  # when 4 + 26 exp(-t/2) passes 6 A
    assert low < begun < low + 0.6


def test_a_compensated_charger_is_judged_by_what_it_regulates_to() -> None:
    bank = Bank("warm", ONE.strings, chargers=(ChargerSetting(32.0, 30.0),), compensation=-0.005)

    def warm(hour: float) -> tuple[float, float]:
        return (2.1 + 0.05 * hour, 30.0) if hour < 9.9 else (32.0 / 12 - 0.005 * 15.0, 5.0)

    seen = follow(bank, warm, 14.0, temperature=40.0)
    assert seen[-1][1].phase == "holding"


# ---------------------------------------------------------------------------------- will not revive


def test_24_hours_without_growth_are_not_reviving_and_96_are_hopeless() -> None:
    dead = dict(follow(ONE, lambda hour: (2.40, 0.4 + 0.05 * math.sin(hour)), 100.0, period=300.0))
    assert not dead[23.0].not_reviving
    assert dead[26.0].not_reviving
    assert not dead[95.0].hopeless
    assert dead[98.0].hopeless
    assert "2.40 V per cell" in dead[98.0].finding
    assert re.search(r"since \d{4}-\d\d-\d\dT\d\d:\d\dZ", dead[98.0].finding)


def test_a_slow_bank_is_never_called_dead() -> None:
    slow = follow(ONE, lambda hour: (2.40, 0.4 * 1.012**hour), 120.0, period=300.0)
    assert not any(memory.hopeless for _, memory in slow)


def test_a_cold_bank_is_not_called_dead() -> None:
    cold = follow(ONE, lambda hour: (2.40, 0.2), 120.0, period=300.0, temperature=5.0)
    assert not any(memory.not_reviving or memory.hopeless for _, memory in cold)


def test_hours_without_generator_do_not_count_as_stuck() -> None:
    seen = follow(ONE, lambda hour: (2.40, 0.4) if hour % 24 < 8 else (2.0, 0.0), 60.0, period=300.0)
    assert not seen[-1][1].not_reviving


def test_a_bank_that_swallows_everything_is_hopeless() -> None:
    seen = follow(ONE, lambda hour: (2.14, 30.0), 20.0)
    assert seen[-1][1].hopeless
    assert "shorted" in seen[-1][1].finding


def test_a_string_that_the_others_feed_is_named() -> None:
    """String currents of HANDBOOK-style parallel strings, one with a shorted cell: V = (I + sum E/R) / sum 1/R."""
    bank = Bank("three", tuple(string(name, 4, 225.0) for name in "ABC"), chargers=(ChargerSetting(28.8, 30.0),))
    volts = (30.0 + (25.2 + 25.2 + 23.2) / 0.06) / (3 / 0.06)
    shares = tuple((volts - rest) / 0.06 for rest in (25.2, 25.2, 23.2))
    assert shares == pytest.approx((-1.11, -1.11, 32.2), abs=0.05)
    seen = follow(bank, lambda hour: (volts / 12, 30.0), 3.0, strings=(-1.2, -1.2, 32.4))
    assert seen[-1][1].hopeless
    assert "string 3" in seen[-1][1].finding


# --------------------------------------------------------------------------------------- commands


def test_with_a_relay_nothing_starts_before_a_person_starts_it() -> None:
    bank = Bank("relayed", ONE.strings, chargers=ONE.chargers, relay=Relay())
    assert follow(bank, whole_round, 3.0)[-1][1].phase == "idle"
    started = command(bank, initial(), "start", 1e9)
    assert follow(bank, whole_round, 3.0, phase=started)[-1][1].phase == "waking"


def test_commands_lead_through_the_end_of_a_round() -> None:
    memory = follow(ONE, whole_round, 25.0)[-1][1]
    rested = command(ONE, memory, "finish", 1.0)
    tested = command(ONE, rested, "test", 2.0)
    finished = command(ONE, tested, "verdict", 3.0)
    again = command(ONE, finished, "start", 4.0)
    assert [rested.phase, tested.phase, finished.phase, again.phase] == ["resting", "testing", "finished", "idle"]
    assert again.hold_seconds == 0.0
    assert again.started_at == 4.0
    assert command(ONE, memory, "abandon", 1.0).phase == "idle"
    assert command(ONE, memory, "start", 1.0) == memory


def test_an_inverter_that_draws_while_the_generator_is_off_is_no_capacity_test() -> None:
    seen = follow(ONE, lambda hour: (2.02, -8.0) if 14.0 < hour < 20.0 else whole_round(hour), 19.9)
    assert seen[-1][1].phase == "bulk"
    assert seen[-1][1].interrupted


@pytest.mark.parametrize(("blocks", "strings"), [(2, 1), (4, 2), (8, 3)])
def test_12_24_and_48_volts_and_any_number_of_strings_behave_alike(blocks: int, strings: int) -> None:
    scaled = Bank(
        "scaled",
        tuple(string(name, blocks, 225.0) for name in "ABC"[:strings]),
        chargers=tuple(ChargerSetting(volts * blocks * 3, 30.0 * strings) for volts in (2.40, 32.0 / 12)),
    )
    seen = follow(scaled, lambda hour: (whole_round(hour)[0], strings * whole_round(hour)[1]), 30.0)
    one = follow(ONE, whole_round, 30.0)
    assert [memory.phase for _, memory in seen] == [memory.phase for _, memory in one]


def test_every_phase_that_can_appear_is_in_the_enum() -> None:
    assert set(order(follow(ONE, whole_round, 44.0))) <= set(PHASES)
