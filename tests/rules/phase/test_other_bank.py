"""The benchmark's second simulated bank keeps its books, and meets published check points it was not fitted to."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.estimate.other import plates
from tests.bench.estimate.other.bank import Cells, Recipe
from tests.bench.estimate.other.play import Scenario, play
from tests.bench.estimate.other.source import Setting

CHARGED = Recipe(cells=6, contact=0.9, reach=0.98, charged=0.995, gas=1.0, leak=0.0, uneven=0.01)


def held(volts: float, warmth: float, hours: float = 6.0) -> float:
    """Amps into a charged 200 Ah string held so long at so many volts per cell, its acid kept at one temperature."""
    cells = Cells(CHARGED, warmth, np.random.default_rng(0))
    current = 0.0
    for _ in range(int(hours * 60)):
        cells.warmth[:] = warmth
        _, strings = cells.step(6 * volts, 40.0, 0.0, warmth, 60.0)
        current = float(strings[0])
    return current


def test_rest_potentials_are_bodes() -> None:
    # Bode, Lead-Acid Batteries, 1977: 2.1226 V at 6 mol/kg, 1.9220 V at 1 mol/kg.
    assert plates.equilibrium(np.array([6.0, 6.0])).sum() == pytest.approx(2.1226, abs=0.001)
    assert plates.equilibrium(np.array([1.0, 1.0])).sum() == pytest.approx(1.9220, abs=0.001)


def test_gassing_doubles_in_about_eleven_kelvin_and_grows_eleven_per_volt() -> None:
    # Schiffer et al., J. Power Sources 168 (2007) 66: 0.06 per kelvin, 11 per volt; here it comes out of two plates.
    warm, hot = held(2.40, 25.0, 30.0), held(2.40, 36.6, 30.0)
    assert hot / warm == pytest.approx(2.0, rel=0.12)
    assert held(2.60, 25.0, 12.0) / held(2.50, 25.0, 24.0) == pytest.approx(np.exp(1.1), rel=0.12)


def test_a_charged_bank_at_the_equalising_voltage_takes_a_finishing_current() -> None:
    # NAVEDTRA 14113 and trade: 1 to 5 % of the 20-hour capacity at 2.6 to 2.7 V per cell.
    assert 0.01 * 200.0 < held(2.667, 25.0) < 0.05 * 200.0


def test_ampere_hours_and_acid_are_kept() -> None:
    cells = Cells(Recipe(cells=6, leak=0.0, contact=0.01, crust=1.0), 20.0, np.random.default_rng(1))
    sulfate = cells.sulfate()
    acid = 0.15 * (cells.pores * cells.water).sum(axis=0) + 0.35 * (cells.top + cells.bottom) * cells.water
    given, gas = 0.0, np.zeros(sulfate.shape)
    for _ in range(12 * 60):
        _, strings = cells.step(15.0, 25.0, 0.0, 20.0, 60.0)
        given += float(strings[0]) / 60.0
        gas = gas + cells.gassing / 60.0
    assert given > 100.0
    layer = plates.LAYER * cells.capacity * (0.05 + cells.contact) * cells.over
    assert sulfate - cells.sulfate() + gas + layer == pytest.approx(np.full(sulfate.shape, given), rel=0.01)
    now = 0.15 * (cells.pores * cells.water).sum(axis=0) + 0.35 * (cells.top + cells.bottom) * cells.water
    # One mole of acid per faraday over both plates.
    made = plates.ACID * 0.5 * (sulfate - cells.sulfate()).sum(axis=0)
    assert now - acid == pytest.approx(made, rel=0.03)


def test_a_round_blocks_then_sags_at_full_power_then_tapers() -> None:
    # The trade's own order (common practice, no source): ceiling and little, full current below the ceiling, ceiling.
    recipe = Recipe(strings=1, cells=6, contact=0.001)
    run = play(Scenario(recipe, blocks=2, settings=(Setting(14.7, 25.0), Setting(16.0, 25.0)), longest=80.0), 3)
    on = run.amps > 0.0
    first = int(np.argmax(on)) + 20
    assert run.volts[first] == pytest.approx(14.7, abs=0.05)
    assert run.current[first] < 0.05 * 25.0
    bulk = np.flatnonzero(run.current > 24.9)
    assert len(bulk) > 2 * 120
    assert 2.1 < run.volts[bulk].min() / 6.0 < 2.3
    assert run.hold[-1] >= 16 * 3600.0
    end = int(np.argmax(run.hold >= 16 * 3600.0))
    assert 0.005 * 200.0 < run.current[end] < 0.06 * 200.0
    assert run.volts[-1] / 6.0 == pytest.approx(2.1, abs=0.08)
