"""What a curve marks as the hold band begins where the hold begins to count."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.bank.model import Bank, ChargerSetting
from rules.phase import Observation, PhaseMemory, hold_stretch
from rules.phase.machine import _held
from rules.phase.memory import Live, Track
from tests.rules.phase.test_phase import ONE

#: The setting before lies 0.04 V per cell below the equalising voltage: a band of half of that.
NEAR = replace(ONE, chargers=(ChargerSetting(12 * (ONE.equalise - 0.04), 30.0), ONE.chargers[-1]))
AT = 1e9


@pytest.mark.parametrize("ratio", [0.0, 0.985])
@pytest.mark.parametrize(("bank", "wide"), [(ONE, 0.03), (NEAR, 0.02)])
def test_a_minute_counts_above_the_lower_edge_of_what_is_marked_and_not_below_it(
    bank: Bank, wide: float, ratio: float
) -> None:
    memory = PhaseMemory("holding", live=Live(at=AT - 60.0, good_at=AT - 60.0), track=Track(ratio=ratio, amps=8.0))
    low, high = hold_stretch(bank, memory)
    assert low == pytest.approx(bank.equalise * (ratio or 1.0) - wide) and high - low == pytest.approx(2.0 * wide)

    def counts(volts: float) -> bool:
        good_at, _, _ = _held(bank, memory, Observation(AT, volts, 8.0), True, volts)
        return good_at == AT

    assert counts(low + 0.001) and counts(high + 0.1) and not counts(low - 0.001)


def test_a_compensated_band_goes_with_the_electrolyte_and_stays_where_the_hold_began() -> None:
    bank = replace(ONE, compensation=-0.004)
    warm = PhaseMemory("holding", track=Track(temperature=35.0, entry_temperature=30.0))
    assert hold_stretch(bank, warm)[0] == pytest.approx(bank.equalise - 0.04 - 0.03)
    cold = warm._replace(phase="resting", track=warm.track._replace(temperature=5.0))
    assert hold_stretch(bank, cold)[0] == pytest.approx(bank.equalise - 0.02 - 0.03)


def test_once_the_ceiling_is_seen_a_curve_marks_the_nearer_edge_from_which_the_hold_then_counts() -> None:
    track = Track(ratio=0.985, amps=8.0, learned=True)
    memory = PhaseMemory("holding", live=Live(at=AT - 60.0, good_at=AT - 60.0, noise=0.001), track=track)
    low, high = hold_stretch(ONE, memory)
    assert low == pytest.approx(ONE.equalise * 0.985 - 0.012 - 0.002) and high - low == pytest.approx(2.0 * 0.014)

    def counts(volts: float) -> bool:
        good_at, _, _ = _held(ONE, memory, Observation(AT, volts, 8.0), True, volts)
        return good_at == AT

    assert counts(low + 0.001) and not counts(low - 0.001)
