"""What a person is asked to do, when it falls due, and when it is done."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.advice.chores import due, schedule
from rules.advice.findings import findings
from rules.advice.flag_words import FLAGS
from rules.bank.model import Bank, Block, Meter, Relay
from rules.bank_view import View, look
from rules.hand.log import HandLog
from rules.meters.counters import Counters
from rules.meters.plausible import Trace
from rules.meters.warming import Thermal
from rules.phase.memory import PhaseMemory

T = 1_795_590_000.0
HOUR, DAY = 3600.0, 86400.0
PROBE = (Meter("probe", "electrolyte_temperature"),)
SINGLE = Bank("north", (tuple(Block(f"N{n}", 3, 200.0) for n in range(1, 5)),), meters=PROBE)
TWIN = Bank("south", tuple(tuple(Block(f"{s}{n}", 3, 200.0) for n in range(1, 5)) for s in "AB"), meters=PROBE)


def chores(
    hours: float, *, bank: Bank = SINGLE, phase: str = "bulk", hand: HandLog | None = None, **counters: float
) -> set[str]:
    """Names of what is due so many hours after a round began."""
    machine = PhaseMemory(phase, T, started_at=T)
    return set(due(bank, Counters(**counters), machine, hand or HandLog(level_at=T + hours * HOUR), T + hours * HOUR))  # type: ignore[arg-type]


def shown(
    volts: float | None = 2.2,
    amps: float | None = 10.0,
    *,
    bank: Bank = SINGLE,
    phase: PhaseMemory | None = None,
    hand: HandLog | None = None,
    up: frozenset[str] = frozenset(),
    traces: dict[str, Trace] | None = None,
    warmth: float | None = 20.0,
    strings: tuple[float, ...] = (),
    by_hand: bool = False,
) -> set[str]:
    """Names of what the readings show."""
    view = View(
        None if volts is None else volts * bank.cells,
        volts,
        amps,
        False,
        warmth,
        None,
        None,
        strings,
        None,
        0.0,
        by_hand,
        living=look(bank, traces or {}, Counters(), T).living,
    )
    machine = phase or PhaseMemory("bulk", T, started_at=T)
    return set(findings(bank, traces or {}, view, Thermal(), machine, hand or HandLog(), up, T))


def test_somebody_looks_in_after_a_quarter_of_an_hour_after_one_hour_and_twice_a_day() -> None:
    # Common practice, no source.
    assert "presence-due" not in chores(0.2)
    assert "presence-due" in chores(0.3)
    seen = HandLog(last_at=T + 0.25 * HOUR, level_at=T + 40 * HOUR)
    assert "presence-due" not in chores(0.9, hand=seen)
    assert "presence-due" in chores(1.1, hand=seen)
    again = seen._replace(last_at=T + 1.1 * HOUR)
    assert "presence-due" not in chores(12.0, hand=again)
    assert "presence-due" in chores(13.2, hand=again)


def test_after_that_somebody_looks_in_as_often_as_the_owner_set_it() -> None:
    often, seldom = replace(SINGLE, presence=2.0), replace(SINGLE, presence=24.0)
    seen = HandLog(last_at=T + 1.1 * HOUR, level_at=T + 40 * HOUR)
    assert "presence-due" not in chores(3.0, bank=often, hand=seen)
    assert "presence-due" in chores(3.2, bank=often, hand=seen)
    assert "presence-due" not in chores(25.0, bank=seldom, hand=seen)
    assert "presence-due" in chores(25.2, bank=seldom, hand=seen)


def test_every_chore_says_when_it_falls_due() -> None:
    def times(hours: float, phase: str, hand: HandLog, bank: Bank = SINGLE, **counters: float) -> dict[str, float]:
        machine = PhaseMemory(phase, T, started_at=T)
        at = T + hours * HOUR
        coming = schedule(bank, Counters(**counters), machine, hand, at)  # type: ignore[arg-type]
        assert {name for name, chore in coming.items() if chore.due_at <= at} == set(
            due(bank, Counters(**counters), machine, hand, at)  # type: ignore[arg-type]
        )
        return {name: round((chore.due_at - T) / HOUR, 2) for name, chore in coming.items()}

    assert times(0.1, "waking", HandLog()) == {"presence-due": 0.25, "level-due": 24.0}
    seen = HandLog(last_at=T + 0.3 * HOUR)
    assert times(0.5, "waking", seen)["presence-due"] == 1.0
    assert times(2.0, "bulk", seen._replace(last_at=T + 1.0 * HOUR))["presence-due"] == 13.0
    assert times(2.0, "holding", HandLog(gravity_at=T + 1.5 * HOUR))["gravity-due"] == 5.5
    assert times(2.0, "bulk", HandLog(sulfated_at=T + HOUR))["look-again"] == 25.0
    twin = times(
        0.5, "waking", HandLog(string_amps_at=T + 300.0, string_amps_after=120.0), TWIN, charging_seconds=900.0
    )
    assert twin["string-currents-due"] == 1.25, "three quarters of an hour of charging from now"
    done = HandLog(string_amps_at=T + 13 * HOUR, string_amps_after=13 * HOUR)
    assert "string-currents-due" not in times(14.0, "bulk", done, TWIN, charging_seconds=14 * HOUR)
    assert times(1.0, "finished", HandLog(last_at=T + HOUR))["after-round"] == 30 * 24.0


def test_strings_without_meters_are_clamped_at_waking_after_one_hour_and_after_twelve() -> None:
    assert "string-currents-due" in chores(1.0, bank=TWIN, charging_seconds=120.0)
    first = HandLog(string_amps_at=T + 300.0, string_amps_after=300.0)
    assert "string-currents-due" not in chores(0.9, bank=TWIN, hand=first, charging_seconds=3000.0)
    assert "string-currents-due" in chores(1.1, bank=TWIN, hand=first, charging_seconds=3700.0)
    second = HandLog(string_amps_at=T + 4000.0, string_amps_after=4000.0)
    assert "string-currents-due" not in chores(11.0, bank=TWIN, hand=second, charging_seconds=11 * HOUR)
    assert "string-currents-due" in chores(13.0, bank=TWIN, hand=second, charging_seconds=13 * HOUR)
    assert "string-currents-due" not in chores(13.0, charging_seconds=13 * HOUR), "one string needs no clamp"


def test_a_clamp_reading_taken_as_the_charger_comes_on_is_the_first_one() -> None:
    at_once = HandLog(string_amps_at=T + 5.0, string_amps_after=0.0)
    assert "string-currents-due" not in chores(0.1, bank=TWIN, hand=at_once, charging_seconds=300.0)
    assert "string-currents-due" in chores(1.1, bank=TWIN, hand=at_once, charging_seconds=3700.0)
    early = HandLog(string_amps_at=T + 3000.0, string_amps_after=3000.0)
    assert "string-currents-due" not in chores(1.1, bank=TWIN, hand=early, charging_seconds=3700.0)


def test_clamp_readings_of_the_round_before_say_nothing_of_this_one() -> None:
    old = HandLog(string_amps_at=T - DAY, string_amps_after=20 * HOUR)
    assert "string-currents-due" in chores(1.0, bank=TWIN, hand=old, charging_seconds=HOUR)


def test_gravity_is_asked_for_in_the_hold_and_levels_once_a_day() -> None:
    assert "gravity-due" in chores(5.0, phase="holding")
    assert "gravity-due" not in chores(5.0, phase="bulk")
    assert "gravity-due" not in chores(5.0, phase="holding", hand=HandLog(gravity_at=T + 4 * HOUR))
    assert "level-due" in chores(25.0, hand=HandLog())


def test_water_is_asked_for_when_half_of_the_reserve_is_gone() -> None:
    # By hand: 0.6 g x 200 Ah = 120 g above the plates; half of it are 60 g = 178.5 Ah of gas (0.33609 g/Ah).
    assert "water-due" not in chores(1.0, gassing=178.0)
    assert "water-due" in chores(1.0, gassing=179.0)
    assert "water-due" not in chores(1.0, hand=HandLog(topped_up=150.0), gassing=179.0)


def test_a_sulfated_cell_is_looked_at_again_after_a_day() -> None:
    hand = HandLog(sulfated_at=T, sulfated_where="N2.1")
    assert "look-again" not in chores(20.0, hand=hand)
    assert "look-again" in chores(25.0, hand=hand)


def test_nothing_is_asked_for_before_and_after_charging() -> None:
    assert chores(30.0, phase="idle") == chores(30.0, phase="resting") == set()


def test_after_the_round_the_posts_are_seen_to_and_a_month_later_the_gravities() -> None:
    def after(days: float, hand: HandLog) -> set[str]:
        return set(due(SINGLE, Counters(), PhaseMemory("finished", T), hand, T + days * DAY))

    assert after(0.01, HandLog()) == {"after-round"}
    done = HandLog(last_at=T + HOUR)
    assert after(1.0, done) == set()
    assert after(30.5, done) == {"after-round"}
    assert after(30.6, done._replace(gravity_at=T + 30.5 * DAY)) == set()
    assert "30 days" in FLAGS["after-round"].action


# ---------------------------------------------------------------------------------------- findings

OVER = PhaseMemory("resting", T, hold_complete=True)
RELAYED = Bank("north", SINGLE.strings, relay=Relay())


@pytest.mark.parametrize(
    ("volts", "amps", "bank", "up", "expected"),
    [
        (2.66, 5.0, SINGLE, False, True),
        (2.66, None, SINGLE, False, True),
        (2.66, 0.0, SINGLE, True, False),
        (2.40, 5.0, SINGLE, True, False),
        (2.66, 0.0, RELAYED, False, True),
        (2.46, 0.0, RELAYED, True, False),
        (None, None, SINGLE, True, True),
        (None, None, RELAYED, True, True),
        (None, None, RELAYED, False, False),
    ],
)
def test_the_charger_counts_as_still_high_until_it_is_seen_down_or_off(
    volts: float | None, amps: float | None, bank: Bank, up: bool, expected: bool
) -> None:
    flags = frozenset({"charger-still-high"}) if up else frozenset()
    assert ("charger-still-high" in shown(volts, amps, bank=bank, phase=OVER, up=flags)) is expected


def test_an_unseen_charger_is_still_called_high_when_the_test_begins() -> None:
    testing = PhaseMemory("testing", T, hold_complete=True)
    assert "charger-still-high" in shown(None, None, phase=testing, up=frozenset({"charger-still-high"}))
    assert "charger-still-high" not in shown(2.1, -10.0, phase=testing, up=frozenset({"charger-still-high"}))


def test_unequal_strings_and_gravities_apart_are_an_imbalance() -> None:
    assert "imbalance" not in shown(bank=TWIN, strings=(10.0, 14.0))
    assert "imbalance" in shown(bank=TWIN, strings=(4.0, 14.0))
    assert "imbalance" in shown(bank=TWIN, hand=HandLog(string_amps=(4.0, 14.0), string_amps_at=T - HOUR))
    assert "imbalance" not in shown(bank=TWIN, hand=HandLog(string_amps=(4.0, 14.0), string_amps_at=T - DAY))
    assert "imbalance" not in shown(bank=TWIN, hand=HandLog(string_amps=(14.0,), string_amps_at=T))
    assert "imbalance" in shown(hand=HandLog(spread=0.031))
    assert "imbalance" not in shown(hand=HandLog(spread=0.030))


def test_a_midpoint_is_held_against_a_meter_and_never_against_yesterdays_multimeter() -> None:
    bank = Bank("north", SINGLE.strings, meters=(Meter("midpoint_voltage", "midpoint_voltage"),))
    off = {"midpoint_voltage": Trace(12.0, T)}
    assert "imbalance" in shown(2.2, bank=bank, traces=off)
    assert "imbalance" not in shown(2.2, bank=bank, traces=off, by_hand=True)


def test_warm_is_told_before_hot_and_does_not_flicker() -> None:
    assert "temperature-high" in shown(warmth=38.0)
    assert "temperature-high" not in shown(warmth=37.5)
    assert "temperature-high" in shown(warmth=37.5, up=frozenset({"temperature-high"}))
