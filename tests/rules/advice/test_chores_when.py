"""When each chore falls due, to the second, and what it says. Times: common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.advice.chores import Chore, due, schedule
from rules.bank.model import Bank, Block, Meter
from rules.hand.log import HandLog
from rules.meters.counters import Counters
from rules.phase.memory import PhaseMemory
from rules.safety.state import Finding

T = 1_795_590_000.0
MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0
PROBE = (Meter("probe", "electrolyte_temperature"),)
SINGLE = Bank("north", (tuple(Block(f"N{n}", 3, 200.0) for n in range(1, 5)),), meters=PROBE)
TWIN = Bank("south", tuple(tuple(Block(f"{s}{n}", 3, 200.0) for n in range(1, 5)) for s in "AB"), meters=PROBE)


def plan(
    after: float,
    *,
    bank: Bank = SINGLE,
    phase: str = "bulk",
    since: float = T,
    hand: HandLog | None = None,
    charging: float = 0.0,
    gassing: float = 0.0,
) -> dict[str, Chore]:
    """The chores of a round that began at T, so many seconds after."""
    counters = Counters(charging_seconds=charging, gassing=gassing)
    return schedule(bank, counters, PhaseMemory(phase, since, started_at=T), hand or HandLog(), T + after)


def looked(after: float) -> HandLog:
    return HandLog(last_at=T + after)


@pytest.mark.parametrize(
    ("looked_after", "due_after", "value", "limit", "unit", "why"),
    [
        (None, 15 * MINUTE, 30.0, 15.0, "min", "first look"),
        (-HOUR, 15 * MINUTE, 30.0, 15.0, "min", "first look"),
        (7 * MINUTE, 15 * MINUTE, 30.0, 15.0, "min", "first look"),
        (7.5 * MINUTE, 60 * MINUTE, 30.0, 60.0, "min", "second look"),
        (29 * MINUTE, 60 * MINUTE, 30.0, 60.0, "min", "second look"),
        (30 * MINUTE, 12.5 * HOUR, 0.0, 12.0, "h", "nobody has noted a look for 12 h"),
    ],
)
def test_the_first_two_looks_are_due_unless_one_came_that_was_not_much_too_early(
    looked_after: float | None, due_after: float, value: float, limit: float, unit: str, why: str
) -> None:
    hand = HandLog() if looked_after is None else looked(looked_after)
    assert plan(30 * MINUTE, hand=hand)["presence-due"] == Chore(T + due_after, Finding(value, limit, unit, why))


def test_an_owner_who_asks_for_more_looks_than_the_trade_gets_them() -> None:
    often = replace(SINGLE, presence=0.2)
    assert plan(60.0, bank=often)["presence-due"].due_at == T + 12 * MINUTE
    assert plan(60.0, bank=often)["presence-due"].finding.reason == "nobody has noted a look for 0.2 h"
    hourly = replace(SINGLE, presence=0.4)
    assert plan(20 * MINUTE, bank=hourly, hand=looked(16 * MINUTE))["presence-due"].due_at == T + 40 * MINUTE


def test_levels_are_asked_for_a_day_after_they_were_noted_or_the_round_began() -> None:
    day = Finding(2.0, 24.0, "h", "nobody has noted the levels for 24 h")
    assert plan(2 * HOUR)["level-due"] == Chore(T + DAY, day)
    assert plan(2 * HOUR, hand=HandLog(level_at=T - DAY))["level-due"].due_at == T + DAY
    assert plan(5 * HOUR, hand=HandLog(level_at=T + 3 * HOUR))["level-due"] == Chore(T + 3 * HOUR + DAY, day)


def test_gravity_is_asked_for_every_four_hours_of_the_hold_alone() -> None:
    began = T + 20 * HOUR
    assert plan(22 * HOUR, phase="holding", since=began)["gravity-due"] == Chore(
        began + 4 * HOUR, Finding(2.0, 4.0, "h", "in the hold")
    )
    noted = HandLog(gravity_at=began + HOUR)
    assert plan(22 * HOUR, phase="holding", since=began, hand=noted)["gravity-due"].due_at == began + 5 * HOUR
    old = HandLog(gravity_at=T)
    assert plan(22 * HOUR, phase="holding", since=began, hand=old)["gravity-due"].due_at == began + 4 * HOUR
    assert "gravity-due" not in plan(22 * HOUR, phase="finishing", since=began)


@pytest.mark.parametrize(
    ("charging", "taken_at", "taken_after", "next_after", "limit"),
    [
        # Nothing clamped yet: at the first minute, then at once what is missing.
        (0.0, 0.0, -1.0, 60.0, 60.0),
        (59.0, 0.0, -1.0, 1.0, 60.0),
        (60.0, 0.0, -1.0, 0.0, 60.0),
        (1800.0, 0.0, -1.0, -1740.0, 60.0),
        # Clamped as the charger came on: the next is after an hour.
        (60.0, T + 5.0, 0.0, 3540.0, HOUR),
        (HOUR, T + 5.0, 0.0, 0.0, HOUR),
        (2 * HOUR, T + 5.0, 1799.0, -HOUR, HOUR),
        (2 * HOUR, T + 5.0, 1800.0, 10 * HOUR, 12 * HOUR),
        (12 * HOUR, T + 5.0, 6 * HOUR - 1.0, 0.0, 12 * HOUR),
        (13 * HOUR, T + 5.0, 5 * HOUR, -HOUR, 12 * HOUR),
        # Of the round before: as if nothing was clamped.
        (60.0, T - 1.0, 20 * HOUR, 0.0, 60.0),
        (HOUR, T - 1.0, 20 * HOUR, 0.0, HOUR),
        (60.0, T, 0.0, 3540.0, HOUR),
    ],
)
def test_strings_are_clamped_after_a_minute_an_hour_and_twelve_hours_of_charging(
    charging: float, taken_at: float, taken_after: float, next_after: float, limit: float
) -> None:
    hand = HandLog(string_amps=(1.0, 1.0), string_amps_at=taken_at, string_amps_after=taken_after)
    at = 14 * HOUR
    assert plan(at, bank=TWIN, hand=hand, charging=charging)["string-currents-due"] == Chore(
        T + at + next_after, Finding(charging / HOUR, limit / HOUR, "h", "strings are not measured")
    )


def test_nothing_is_clamped_after_the_third_time_with_meters_or_in_one_string() -> None:
    done = HandLog(string_amps_at=T + 5.0, string_amps_after=6 * HOUR)
    assert "string-currents-due" not in plan(14 * HOUR, bank=TWIN, hand=done, charging=13 * HOUR)
    assert "string-currents-due" not in plan(HOUR, charging=HOUR)
    metered = replace(TWIN, meters=(Meter("a", "string_current", "1"), Meter("b", "string_current", "2")))
    assert "string-currents-due" not in plan(HOUR, bank=metered, charging=HOUR)


def test_water_is_asked_for_at_half_of_the_reserve_and_says_how_much_is_gone() -> None:
    # 0.33609 g/Ah (Faraday); 120 g above the plates of a cell of 200 Ah.
    said = plan(HOUR, gassing=200.0)["water-due"]
    assert said.due_at == T + HOUR
    assert said.finding == Finding(pytest.approx(67.2, abs=0.05), 60.0, "g", "computed from the gassing current")  # type: ignore[arg-type]
    assert "water-due" not in plan(HOUR, gassing=200.0, hand=HandLog(topped_up=100.0))
    own = replace(SINGLE, water_reserve=200.0)
    assert "water-due" not in plan(HOUR, bank=own, gassing=200.0) and "water-due" in plan(HOUR, bank=own, gassing=300.0)


def test_a_sulfated_cell_is_looked_at_again_a_day_after_it_was_seen() -> None:
    hand = HandLog(sulfated_at=T + HOUR, sulfated_where="N2.1")
    assert plan(3 * HOUR, hand=hand)["look-again"] == Chore(T + 25 * HOUR, Finding(2.0, 24.0, "h", "N2.1"))
    assert "look-again" not in plan(3 * HOUR)


def test_a_chore_is_due_from_the_second_it_is_due_and_only_while_the_bank_is_charged() -> None:
    def raised(after: float, phase: str = "bulk", started: float | None = T) -> set[str]:
        return set(due(SINGLE, Counters(), PhaseMemory(phase, T, started_at=started), HandLog(), T + after))

    assert raised(899.0) == set() and raised(900.0) == {"presence-due"}
    for phase in ("waking", "reviving", "absorbing", "finishing", "holding"):
        assert "presence-due" in raised(900.0, phase)
    assert raised(900.0, "resting") == raised(900.0, "idle") == raised(900.0, started=None) == set()


@pytest.mark.parametrize(
    ("noted", "gravity", "chore"),
    [
        (0.0, 0.0, Chore(T, Finding(2.0, None, "d", "the round is over: nobody noted that the posts were seen to"))),
        (T, 0.0, Chore(T, Finding(2.0, None, "d", "the round is over: nobody noted that the posts were seen to"))),
        (T + 1.0, 0.0, Chore(T + 30 * DAY, Finding(2.0, 30.0, "d", "time for another look and gravities"))),
        (T + 1.0, T + DAY, Chore(T + 30 * DAY, Finding(2.0, 30.0, "d", "time for another look and gravities"))),
        (T + 30 * DAY, T + 30 * DAY, None),
    ],
)
def test_after_the_round_posts_at_once_and_gravities_a_month_later(
    noted: float, gravity: float, chore: Chore | None
) -> None:
    hand = HandLog(last_at=noted, gravity_at=gravity)
    coming = schedule(SINGLE, Counters(), PhaseMemory("finished", T, started_at=T - DAY), hand, T + 2 * DAY)
    assert coming == ({} if chore is None else {"after-round": chore})
