"""What is said of a bank: gas, air, water and when it is safe, against numbers worked by hand from Faraday's law."""

from __future__ import annotations

import pytest

from rules.bank.model import Bank, Block
from rules.bank_view import View
from rules.events import Derived
from rules.hand.log import HandLog
from rules.meters.counters import Counters
from rules.phase.memory import PhaseMemory, Track
from rules.step.derived_state import derive
from rules.step.memory import Memory, initial

T = 1_795_590_000.0
HOUR = 3600.0
SINGLE = Bank("north", (tuple(Block(f"N{n}", 3, 200.0) for n in range(1, 5)),))
TWIN = Bank("south", tuple(tuple(Block(f"{s}{n}", 3, 200.0) for n in range(1, 5)) for s in "AB"))


#: At the charger's equalising voltage.
STANDS = PhaseMemory(phase="holding", ceiling=2.67, track=Track(volts=2.67))


def said(bank: Bank, volts: float | None, amps: float | None, warmth: float | None = 25.0, **memory: object) -> Derived:
    view = View(volts, None if volts is None else volts / bank.cells, amps, False, warmth, None, None, (), None, 0.0)
    return derive(bank, initial()._replace(**memory), view, T)  # type: ignore[arg-type]


def test_below_the_gassing_voltage_next_to_nothing_gasses() -> None:
    state = said(SINGLE, 25.2, 25.0)
    assert state.gassing_share is not None
    assert state.gassing_share < 0.05
    assert state.hydrogen_rate is not None
    assert state.hydrogen_rate < 6.0


def test_fully_gassing_at_equalising_volts_hydrogen_and_air_are_faradays() -> None:
    # 6 A into 12 cells, all of it gas at 2.67 V per cell and 45 degC. By hand: 0.41815 L/Ah at 0 degC (101.325 kPa) is
    # 0.45642 L at 25 degC, so 6 x 12 x 0.4564 = 32.9 L/h; air 0.05 x 12 x 6 = 3.6 m3/h (EN 50272-2: 0.0504 x n x I).
    state = said(SINGLE, 32.04, 6.0, 45.0)
    assert state.gassing_share == pytest.approx(1.0)
    assert state.hydrogen_rate == pytest.approx(32.9, abs=0.1)
    assert state.ventilation_needed == pytest.approx(3.6, abs=0.05)


def test_two_strings_share_the_current_and_their_gas_adds_up() -> None:
    one, two = said(SINGLE, 32.04, 6.0, 45.0), said(TWIN, 32.04, 12.0, 45.0)
    assert one.hydrogen_rate is not None
    assert two.hydrogen_rate == pytest.approx(2.0 * one.hydrogen_rate)


def test_gas_is_reckoned_at_zero_degrees_too() -> None:
    cold, mild = said(SINGLE, 29.6, 20.0, 0.0), said(SINGLE, 29.6, 20.0, 25.0)
    assert cold.gassing_share is not None and mild.gassing_share is not None
    assert cold.gassing_share < mild.gassing_share


def test_water_used_is_told_against_the_reserve_with_the_time_to_top_up() -> None:
    # By hand: 100 Ah of gas cost 33.6 g a cell (0.33609 g/Ah); 0.6 g x 200 Ah stand above the plates; half is 60 g.
    # At 6 A of gas 2.0165 g go in an hour, so the other 26.4 g last 13.1 h.
    state = said(SINGLE, 32.04, 6.0, 45.0, counters=Counters(gassing=100.0), phase=STANDS)
    assert state.water_used == pytest.approx(33.609, abs=0.01)
    assert state.water_reserve == pytest.approx(120.0)
    assert state.top_up_at == pytest.approx(T + 13.087 * HOUR, abs=60.0)


def test_when_to_top_up_is_not_told_before_the_voltage_stands_nor_for_after_the_round() -> None:
    # What a rising voltage gasses now it will not gas in an hour.
    rising = PhaseMemory(phase="bulk", track=Track(volts=2.4))
    for volts in (26.4, 28.8, 30.0, 32.04):
        assert said(SINGLE, volts, 20.0, 25.0, counters=Counters(gassing=50.0), phase=rising).top_up_at is None
    # By hand: 0.2 A of gas take 0.067 g an hour, so that 43 g of water would last four weeks.
    assert said(SINGLE, 32.04, 0.2, 45.0, counters=Counters(gassing=50.0), phase=STANDS).top_up_at is None


def test_top_up_is_now_where_half_is_gone_and_unknown_where_nothing_gasses() -> None:
    assert said(SINGLE, 32.04, 6.0, 45.0, counters=Counters(gassing=200.0)).top_up_at == T
    assert said(SINGLE, 25.0, 0.0, counters=Counters(gassing=10.0)).top_up_at is None
    assert said(SINGLE, None, None, counters=Counters(gassing=10.0)).top_up_at is None


def test_after_a_top_up_only_what_was_lost_since_counts() -> None:
    state = said(SINGLE, 25.0, 0.0, counters=Counters(gassing=100.0), hand=HandLog(topped_up=80.0))
    assert state.water_used == pytest.approx(20 * 0.33609, abs=0.01)


def test_it_is_safe_to_approach_an_hour_after_the_last_charge() -> None:
    assert said(SINGLE, 28.0, 10.0).safe_to_approach_at == T + HOUR
    assert said(SINGLE, 25.0, 0.0, charged_at=T - 1800.0).safe_to_approach_at == T + 1800.0
    assert said(SINGLE, 25.0, 0.0).safe_to_approach_at is None


def test_overcharge_is_what_was_returned_beyond_the_rated_capacity() -> None:
    assert said(SINGLE, 25.0, 0.0, counters=Counters(charge=190.0, current_at=T)).overcharge == 0.0
    assert said(SINGLE, 25.0, 0.0, counters=Counters(charge=260.0, current_at=T)).overcharge == 60.0


def test_there_is_no_verdict_while_the_bank_charges_and_one_with_reasons_at_rest() -> None:
    def in_phase(name: str) -> Memory:
        return initial()._replace(phase=PhaseMemory(name, T))

    assert said(SINGLE, 32.0, 5.0, phase=in_phase("holding").phase).verdict == ()
    at_rest = said(SINGLE, 25.6, 0.0, phase=in_phase("resting").phase).verdict
    assert [row["label"] for row in at_rest] == ["north", "N1", "N2", "N3", "N4"]
    assert "nothing was measured since the round" in str(at_rest[0]["reasons"])
    assert {row["word"] for row in at_rest} == {"not-judged"}
