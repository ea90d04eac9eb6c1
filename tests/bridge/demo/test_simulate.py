"""The simulated bank behaves as the trade and published electrochemistry say, and as nothing in the rules assumes."""

from __future__ import annotations

import gzip
import json
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.bench.simulated_bank import record
from tests.bench.simulated_bank.charger import Setting, Supply, available
from tests.bench.simulated_bank.chemistry import advance, bode
from tests.bench.simulated_bank.sensors import Sensors, sample
from tests.bench.simulated_bank.simulate import Run, Scenario, build, simulate

PACKAGED = Path(str(files("bridge.demo"))) / "round.jsonl.gz"
SULFATED = Scenario(at_current=8.0, free=0.0001, wake_rate=0.3, hard=0.12)


@pytest.fixture(scope="module")
def sulfated() -> Run:
    return simulate(SULFATED, 3, dt=30.0)


def resting(**changes: Any) -> tuple[Any, ...]:
    scenario = Scenario(spread=0.0)._replace(**changes)
    return scenario, build(scenario, np.random.default_rng(1), 25.0)


def full(**changes: Any) -> tuple[Any, ...]:
    scenario, cells = resting(free=1.0, hard=0.0, lost=0.0, charged=1.0, **changes)
    cells.soft[:] = 0.0
    return scenario, cells


# Bode, Lead-Acid Batteries, 1977: cell voltage at 25 degC against molality.
@pytest.mark.parametrize(("molality", "volts"), [(1.0, 1.9220), (2.0, 1.9746), (4.0, 2.0546), (6.0, 2.1226)])
def test_rest_voltage_is_bodes(molality: float, volts: float) -> None:
    assert bode(np.array([molality]))[0] == pytest.approx(volts, abs=0.001)


def test_a_full_cell_rests_at_2_11_volts() -> None:
    """Gravity 1.265 rests at 2.110 V (Bode)."""
    _, cells = full()
    for _ in range(120):
        volts, _ = advance(cells, 0.0, 0.0, 25.0, 30.0)
    assert volts / 12 == pytest.approx(2.110, abs=0.006)


@pytest.mark.parametrize(("volts", "amps"), [(2.40, 0.130), (2.58, 0.940), (2.65, 2.030)])
def test_a_full_bank_takes_schiffers_gassing_current(volts: float, amps: float) -> None:
    """Per 100 Ah with 20 mA at 2.23 V and 25 degC (Schiffer et al. 2007: 11 per volt); the rest is ohmic drop."""
    _, cells = full(gas=0.02)
    for _ in range(240):
        cells.temperature[:] = 25.0
        _, current = advance(cells, volts * 12, 20.0, 25.0, 30.0)
    assert current[0] / 2.0 == pytest.approx(amps, rel=0.1)


def test_gassing_heats_a_block_by_two_kelvin_an_hour_at_five_amps() -> None:
    """5 A at 2.58 V into three cells of 200 Ah: 16.5 W into 30.3 kJ/K is 1.98 K/h (worked from Faraday)."""
    _, cells = full(gas=0.054, packed=0.0)
    advance(cells, 2.58 * 12, 20.0, 25.0, 30.0)
    before = cells.temperature.mean()
    currents = [advance(cells, 2.58 * 12, 20.0, 25.0, 30.0)[1][0] for _ in range(20)]
    rate = (cells.temperature.mean() - before) * 6.0
    assert rate / np.mean(currents) == pytest.approx(1.98 / 5.0, rel=0.1)


def test_nothing_is_lost_or_made_in_a_cell() -> None:
    scenario, cells = resting()
    before = cells.active + cells.soft + cells.hard
    for _ in range(500):
        advance(cells, 32.0, 20.0, 20.0, 30.0)
    assert np.allclose(cells.active + cells.soft + cells.hard, before, atol=0.05 * scenario.capacity / 100)


def test_a_sulfated_bank_goes_through_the_trades_phases(sulfated: Run) -> None:
    """Blocked at the limit, sag to 25-27 V at full current, slow rise, taper to 0.5-5 % of C20, rest at 25.2-25.5 V."""
    volts, amps = sulfated.volts, sulfated.current
    on = np.flatnonzero(sulfated.amps > 0)
    early = on[: 60 * 2]
    assert np.all(volts[early[2:]] > 30.9)
    assert amps[early].min() > 0.3
    assert amps[early].max() < 4.0
    assert amps[early[-1]] >= amps[early[10]] - 0.05
    full = np.flatnonzero(amps > 19.9)
    assert 2.0 < (full[-1] - full[0]) / 120 < 24.0
    assert 25.0 < volts[full].min() < 27.0
    bottom = full[np.argmin(volts[full])]
    middle = (bottom + full[-1]) // 2
    rise = (volts[middle] - volts[bottom]) / 12 / ((middle - bottom) / 120)
    assert 0.005 < rise < 0.15
    held = np.flatnonzero((sulfated.hold > 0) & (sulfated.amps > 0))
    assert 0.005 < amps[held[-1] - 10] / 200 < 0.05
    assert 25.1 < volts[-1] < 25.6


def test_little_is_returned_while_the_bank_still_blocks(sulfated: Run) -> None:
    """A tenth of C20 at most before a tenth of the charger's current (common practice, no source)."""
    awake = np.argmax(sulfated.current > 2.0)
    assert sulfated.charge[awake] < 20.0
    assert sulfated.charge[-1] > 180.0


def test_it_warms_slowly_and_never_in_steps(sulfated: Run) -> None:
    assert np.abs(np.diff(sulfated.temperature)).max() < 0.2
    assert sulfated.temperature.max() - sulfated.ambient.mean() < 20.0


def test_a_small_sulfated_unit_climbs_to_seven_percent_within_a_day() -> None:
    """2.6 V per cell for 24 h on 7 Ah units: current climbs slowly to 7 % of C20 (Energies 16(4), 1598, retold)."""
    scenario = Scenario(
        blocks=1, block_cells=6, capacity=7.0, settings=(Setting(15.6, 1.0),), equalise=2.6, free=0.0001
    )
    run = simulate(scenario._replace(wake_rate=0.3, longest=24.0), 5, dt=30.0)
    assert run.current[100] < 0.07 * 7.0 < run.current.max()


def test_a_healthy_empty_bank_never_blocks() -> None:
    run = simulate(Scenario(free=1.0, hard=0.03, longest=2.0), 1, dt=30.0)
    assert run.current[run.amps > 0].min() > 19.0


def test_what_is_beyond_recovery_never_takes_more() -> None:
    run = simulate(Scenario(free=0.0003, free_most=0.00036, hard=0.6, lost=0.2, longest=100.0), 1, dt=30.0)
    assert run.current.max() < 2.0
    assert run.hold[-1] == 0.0


def test_equal_strings_share_and_a_dead_one_takes_nothing() -> None:
    equal = simulate(Scenario(strings=2, free=1.0, spread=0.0, longest=3.0), 1, dt=30.0)
    assert np.allclose(equal.strings[:, 0], equal.strings[:, 1])
    dead = simulate(Scenario(strings=2, free=1.0, spread=0.0, dead_string=True, longest=3.0), 1, dt=30.0)
    assert np.abs(dead.strings[:, 1]).max() < 0.01


def test_a_string_with_a_shorted_cell_drains_its_neighbour_at_rest() -> None:
    """About 2 V low, so the sound string feeds it (parallel network arithmetic)."""
    run = simulate(
        Scenario(strings=2, free=1.0, charged=0.6, hard=0.1, shorted=True, wait=2.0, longest=1.0), 1, dt=30.0
    )
    assert run.strings[-1, 0] > 1.0
    assert run.strings[-1, 1] == pytest.approx(-run.strings[-1, 0], abs=1e-6)


def test_an_open_relay_means_no_current(sulfated: Run) -> None:
    assert np.abs(sulfated.current[sulfated.amps == 0]).max() < 1e-6


def test_a_load_at_night_draws_and_recharges() -> None:
    scenario = Scenario(free=1.0, hard=0.05, supply=Supply("generator", 7.0, 12.0, load=2.0), longest=10.0)
    run = simulate(scenario, 2, dt=30.0)
    night = run.current < -0.1
    assert night.any() and np.allclose(run.current[night], -2.0)
    assert run.volts[night].min() > 22.0


def test_compensation_lowers_the_ceiling_of_a_warm_bank() -> None:
    """-5 mV/K and cell on twelve cells: 30.96 V at 25 degC is 30.06 V at 40 degC (deep-cycle data sheet)."""
    run = simulate(Scenario(compensation=-0.005, ambient=40.0, swing=0.0, longest=1.0), 1, dt=30.0)
    warm = run.limit + 0.06 * (run.temperature - 25.0)
    assert np.allclose(warm, 30.96)


def test_the_same_seed_gives_the_same_round_and_another_another() -> None:
    once, again, other = (simulate(Scenario(longest=2.0), seed, dt=30.0) for seed in (7, 7, 8))
    assert np.array_equal(once.volts, again.volts)
    assert not np.array_equal(once.current, other.current)


@pytest.mark.parametrize("kind", ["generator", "solar", "cuts"])
def test_power_comes_and_goes(kind: str) -> None:
    at = 1_781_510_400.0 + 60.0 * np.arange(3 * 1440, dtype=np.float64)
    share = available(Supply(kind), at, np.random.default_rng(3))
    assert share.min() == 0.0 and 0.9 < share.max() <= 1.0


def test_meters_round_lose_delay_and_repeat(sulfated: Run) -> None:
    poor = Sensors(period=60.0, volts_step=0.1, amps_step=1.0, lost=0.2, late=0.1, twice=0.1, outages=2.0)
    samples = sample(sulfated, poor, 1)
    assert np.allclose(samples.volts * 10, np.round(samples.volts * 10))
    assert np.allclose(samples.amps, np.round(samples.amps))
    assert np.all(np.diff(samples.at) >= 0.0)
    assert np.any(np.diff(samples.measured_at) < 0.0)
    assert len(np.unique(samples.measured_at)) < len(samples.measured_at)
    assert np.diff(np.unique(samples.measured_at)).max() > 300.0


def test_a_watt_meter_shows_watts_and_a_missing_probe_shows_nothing(sulfated: Run) -> None:
    samples = sample(sulfated, Sensors(period=60.0, power=True, temperature=False), 1)
    assert samples.amps.max() == pytest.approx(20.0 * samples.volts[np.argmax(samples.amps)], rel=0.02)
    assert np.isnan(samples.temperature).all()


def lines(path: Path) -> list[dict[str, Any]]:
    with gzip.open(path, "rt") as file:
        return [json.loads(line) for line in file]


def test_the_packaged_recording_is_what_the_script_makes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its first two hours, start and proof of the relay included, come out again to the byte."""
    monkeypatch.setattr(record, "NORTH", record.NORTH._replace(longest=2.0))
    hut = record.Hut(PACKAGED.with_name("cabin.toml"), record.LATE)
    made = [m for m in record.round_of_north(4, hut) if m.topic != record.RELAY_STATE]
    packaged = lines(PACKAGED)[: len(made)]
    assert [(m.t, m.topic, m.payload) for m in made] == [(m["t"], m["topic"], m["payload"]) for m in packaged]


def test_the_packaged_recording_holds_a_whole_round() -> None:
    packaged = lines(PACKAGED)
    assert PACKAGED.stat().st_size < 3_000_000
    times = [message["t"] for message in packaged]
    assert times == sorted(times)
    acts = [m["payload"] for m in packaged if m["topic"].startswith("homie/")]
    assert acts == ["keeper of the hut", "true", "start", "true", "resume"]
    shunt = np.array(
        [
            (m["t"], p["dc"]["mv"], p["dc"]["a"])
            for m in packaged
            if m["topic"] == "cabin/shunt"
            for p in [json.loads(m["payload"])]
        ]
    )
    hours = np.diff(shunt[:, 0], append=shunt[-1, 0]) / 3600.0
    assert hours[shunt[:, 1] > 31_680].sum() == pytest.approx(16.0, abs=0.03)
    probe = [(m["t"], float(m["payload"])) for m in packaged if m["topic"] == "cabin/probe1"]
    twice = next(now for (_, before), (now, value) in pairwise(probe) if min(before, value) >= 110.0)
    soon = (shunt[:, 0] > twice) & (shunt[:, 0] < twice + 30.0)
    assert shunt[soon, 2].min() < 1.0
    assert abs(shunt[-1, 2]) < 0.3
