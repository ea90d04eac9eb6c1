"""The simulated families of banks against published numbers, and against themselves: nothing comes from nowhere.

Values: HANDBOOK-type sources are named beside each check; 'common practice, no source' where there is none.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from tests.bench.estimate.families import door, fit, meters, targets, truth, world
from tests.bench.estimate.families.campaign import FAMILIES
from tests.bench.estimate.families.marks import mark
from tests.bench.estimate.families.priors import CHOICES, PRIORS, Charger, Round, draw
from tests.bench.estimate.families.wire import Make

SOUND = Make(blocked=0.0, soft=0.6, hard=0.0, lost=0.0, gas=0.02, spread=0.0, cooling=0.006)
FULL = SOUND._replace(soft=0.01)
SEALED = Make(blocked=0.85, soft=0.5, hard=0.25, lost=0.05, gas=0.02, spread=0.05, cooling=0.006)
EVERY = pytest.mark.parametrize("family", list(FAMILIES))
#: A full bank gasses steadily after so long at 2.58 V [h].
LONG = 36


def cells_of(family: str, make: Make, air: float = 25.0) -> Any:
    return FAMILIES[family](make, air, np.random.default_rng(7))


@cache
def gassing_steadily(family: str) -> tuple[Any, dict[str, float]]:
    """A full bank at the end of a long hold; nobody charges it on."""
    cells = cells_of(family, FULL)
    return cells, charge(cells, LONG, 2.58, 25.0)


def charge(cells: Any, hours: float, volts: float, amps: float, air: float = 25.0) -> dict[str, float]:
    """Live for so long; ampere-hours through all cells, gassed, leaked, and the last volts and amps."""
    total = {"through": 0.0, "gas": 0.0, "leak": 0.0}
    step = cells.longest
    for _ in range(int(hours * 3600.0 / step)):
        total["volts"], strings = cells.live(volts * cells.make.cells, amps, air, step)
        total["amps"] = float(strings.sum())
        total["through"] += total["amps"] * cells.make.cells * step / 3600.0
        total["gas"] += float(cells.gassing().sum()) * step / 3600.0
        total["leak"] += float(cells.leaking().sum()) * step / 3600.0
    return total


@EVERY
def test_every_ampere_hour_is_charge_or_gas_or_leak(family: str) -> None:
    """Faraday: what flows is stored, gassed or leaked; 1 % of it may stand in double layers."""
    cells = cells_of(family, SEALED)
    before, flowed = float(cells.charged().sum()), 0.0
    account = 0.0
    for hours, volts, amps in ((8.0, 2.60, 25.0), (2.0, 2.60, 0.0), (1.0, 2.60, -0.3), (8.0, 2.60, 25.0)):
        part = charge(cells, hours, volts, amps)
        flowed += abs(part["through"])
        account += part["through"] - part["gas"] - part["leak"]
    stored = float(cells.charged().sum()) - before
    assert stored == pytest.approx(account, abs=0.01 * flowed + 0.3)


@EVERY
def test_a_sound_bank_ends_at_the_trades_current(family: str) -> None:
    """0.5 to 3 % of C20, stable, at 2.4 to 2.6 V per cell at the end (common practice, no source)."""
    _, end = gassing_steadily(family)
    assert 0.004 <= end["amps"] / 200.0 <= 0.03


@EVERY
def test_gassing_is_the_published_one(family: str) -> None:
    """0.94 A per 100 Ah at 2.58 V and 25 degC with 20 mA at 2.23 V (Schiffer et al., J. Power Sources 168 (2007) 66).

    The photovoltaic model has a gassing law of its own (Copetti et al. 1993): within a factor of two.
    """
    cells, _ = gassing_steadily(family)
    warmth = float(cells.warmth.mean())
    published = 2.0 * 0.94 * float(np.exp(0.06 * (warmth - 25.0)))
    tolerance = 1.0 if family == "overcharge" else 0.25
    assert float(cells.gassing().mean()) == pytest.approx(published, rel=tolerance)


@EVERY
def test_the_heat_of_gassing_warms_as_derived(family: str) -> None:
    """I (V - 1.481 V) per cell is heat: 5 A at 2.58 V are 16.5 W in three cells (formation enthalpy of water)."""
    cells, end = gassing_steadily(family)
    watts = end["amps"] * (2.58 - 1.481)
    rise = watts / (0.006 * 200.0)
    assert float(cells.warmth.mean()) - 25.0 == pytest.approx(rise, rel=0.15)


@EVERY
def test_a_block_holds_the_heat_of_its_parts(family: str) -> None:
    """28 to 38 kJ/K for three cells of 200 Ah (acid 2.99, lead 0.16, plastic 1.9 kJ/(kg K), masses common practice)."""
    cells = cells_of(family, FULL, air=40.0)
    charge(cells, 5.0, 2.0, 0.0, air=20.0)
    left = (float(cells.warmth.mean()) - 20.0) / 20.0
    held = -0.006 * 200.0 * 5.0 * 3600.0 / np.log(left) * 3.0
    assert 28_000.0 <= held <= 38_000.0


@EVERY
@pytest.mark.parametrize(("soft", "published"), [(0.01, 2.12), (0.5, 2.03), (0.97, 1.98)])
def test_rest_volts_follow_the_deep_cycle_chart(family: str, soft: float, published: float) -> None:
    """12.70, 12.20, 11.90 V for six cells at 100, 50, 0 % (two texts read): within 0.08 V per cell after a rest."""
    cells = cells_of(family, SOUND._replace(soft=soft))
    rest = charge(cells, 6.0, 2.4, 0.0)
    assert rest["volts"] / cells.make.cells == pytest.approx(published, abs=0.08)


@EVERY
def test_a_sound_empty_bank_takes_everything_at_once(family: str) -> None:
    """A healthy empty bank never blocks; at C/8 it stands between 2.0 and 2.37 V, the gassing point, half charged."""
    cells = cells_of(family, SOUND)
    first = charge(cells, 1.0, 2.58, 25.0)
    assert first["amps"] == pytest.approx(25.0, rel=0.01)
    assert 2.0 < first["volts"] / cells.make.cells < 2.37
    assert cells.open_share() > 0.7


@EVERY
def test_a_sealed_bank_blocks_then_opens(family: str) -> None:
    """0.2 to 2 % of C20 at the limit at first, four times as much later (common practice, no source)."""
    cells = cells_of(family, SEALED)
    first = charge(cells, 1.0, 2.60, 25.0)
    assert first["volts"] / cells.make.cells == pytest.approx(2.60, abs=0.01)
    assert 0.001 < first["amps"] / 200.0 < 0.025
    assert cells.open_share() < 0.3
    most = 0.0
    for _ in range(36):
        most = max(most, charge(cells, 1.0, 2.60, 25.0)["amps"])
        if most > 4.0 * first["amps"]:
            break
    assert most > 4.0 * first["amps"]


@EVERY
def test_a_dead_bank_stays_shut(family: str) -> None:
    cells = cells_of(family, SEALED._replace(dead=True))
    end = charge(cells, 20.0, 2.60, 25.0)
    assert end["amps"] / 200.0 < 0.03
    assert cells.open_share() < 0.3


@EVERY
def test_a_shorted_cell_hangs_back(family: str) -> None:
    """On charge under 2.2 V while others pass 2.4 V (common practice, no source)."""
    cells = cells_of(family, FULL)
    charge(cells, 4.0, 2.58, 25.0)
    cells.short(0, 4, 4.0 * 200.0)
    charge(cells, 2.0, 2.58, 25.0)
    volts = cells.volts()[0]
    others = np.delete(volts, 4)
    assert volts[4] < 2.2
    assert float(np.median(others)) > 2.4


def test_water_is_lost_by_faraday() -> None:
    """0.33609 g per Ah and cell, in the family that keeps its water (Faraday's constant)."""
    cells = cells_of("two-plates", FULL)
    before = float(cells.inner.water.mean())
    gassed = charge(cells, 12.0, 2.60, 25.0)["gas"] / cells.make.cells
    assert 1000.0 * (before - float(cells.inner.water.mean())) == pytest.approx(0.33609 * gassed, rel=0.01)


def plain_round(make: Make, tail: float | None = None, hold: float = 4.0) -> Round:
    """No hazard, no people, a charger at 2.55 V per cell."""
    setting = ((2.55, 25.0),)
    charger = Charger(
        "constant-voltage", setting, setting, 0.0, 0.0, np.inf, 0.0, 5.0, (), 0.0, 0.0, 0.0, np.inf, 0.0, "off"
    )
    drawn = draw(2)
    return drawn._replace(
        make=make,
        charger=charger,
        hazard=drawn.hazard._replace(kind="none"),
        hands=(),
        equalise=2.55,
        hold=hold,
        tail=tail,
        longest=60.0,
    )


def phases_of(drawn: Round) -> tuple[truth.Truth, list[str]]:
    told = truth.label(world.play(drawn, FAMILIES["kinetic"]))
    changes = np.r_[0, np.flatnonzero(np.diff(told.phase)) + 1]
    return told, [truth.PHASES[number] for number in told.phase[changes]]


def test_the_truth_of_a_full_sound_bank_never_wakes() -> None:
    """'A bank that takes full current within minutes and then falls monotonously was never blocked' (RULES 3)."""
    told, names = phases_of(plain_round(FULL))
    assert names == ["idle", "holding", "resting"]
    assert told.finite


def test_the_truth_of_a_sealed_bank_goes_through_every_phase() -> None:
    told, names = phases_of(plain_round(SEALED._replace(pace=2.0), tail=4.0))
    for name in ("waking", "reviving", "finishing", "holding", "resting"):
        assert name in names
    left = told.remaining[told.start : told.end + 1]
    assert np.all(np.diff(left) <= 1e-9)
    assert left[-1] == pytest.approx(0.0)


def test_the_truth_of_a_dead_bank_is_waking_for_ever() -> None:
    told, names = phases_of(plain_round(SEALED._replace(dead=True))._replace(longest=30.0))
    assert names == ["idle", "waking"]
    assert not told.finite
    assert told.dead_from > 0


def test_a_cut_is_wrong_before_the_end_of_the_hold_and_right_after_it() -> None:
    told, _ = phases_of(plain_round(SOUND))
    assert told.cut[told.end - 60] == truth.FORBIDDEN
    assert np.all(told.cut[told.end :] == truth.ALLOWED)


def test_meters_show_what_is_so_within_their_own_errors() -> None:
    drawn = plain_round(SOUND)
    drawn = drawn._replace(
        meters=drawn.meters._replace(period=30.0, loss=0.05, amps_noise=0.0, at_charger=False, outages=0.0)
    )
    run = world.play(drawn, FAMILIES["kinetic"])
    seen = meters.look(run)
    row = np.searchsorted(run.at, seen.measured, side="right") - 1
    shown = seen.values["voltage"] / drawn.meters.volts_gain
    steady = run.mode[row] == 1
    allowed = 6.0 * drawn.meters.volts_noise + drawn.meters.volts_step
    assert np.max(np.abs(shown - run.volts[row])[steady]) < allowed
    assert len(seen.at) == pytest.approx(0.95 * (run.at[-1] - run.at[0]) / 30.0, rel=0.05)


def test_a_seed_draws_and_plays_the_same_twice() -> None:
    drawn = plain_round(SOUND)
    first, second = (world.play(drawn, FAMILIES["kinetic"]) for _ in range(2))
    assert draw(5) == draw(5)
    assert draw(5) != draw(6)
    assert np.array_equal(first.volts, second.volts)


def test_a_round_goes_through_the_door_and_is_marked() -> None:
    """A full sound bank with a relay: a hold of two hours, then the permit goes."""
    drawn = plain_round(FULL, hold=2.0)._replace(relay=True, longest=8.0)
    good: dict[str, Any] = {
        "period": 60.0,
        "probe": True,
        "probe_lag": 120.0,
        "loss": 0.0,
        "late": 0.0,
        "outages": 0.0,
        "power": False,
    }
    exact: dict[str, Any] = {
        "volts_gain": 1.0,
        "amps_gain": 1.0,
        "amps_offset": 0.0,
        "amps_noise": 0.0,
        "at_charger": False,
    }
    drawn = drawn._replace(meters=drawn.meters._replace(**good, **exact))
    run = world.play(drawn, FAMILIES["kinetic"])
    told, seen = truth.label(run), meters.look(run)
    said = door.hear(run, seen, told)
    marks = mark("kinetic", run, seen, told, said)
    assert [reason for _, reason, _ in said.cuts][-1:] == ["hold-complete"]
    assert run.hold_end - 60.0 <= said.cuts[-1][0] < run.hold_end + 3.0 * 3600.0
    assert marks["false cuts"] == {}
    assert 0.3 < marks["phase"] <= 1.0
    table = targets.markdown({"kinetic": targets.summary([marks])})
    assert "| phase right, mean | 95 % |" in table
    assert fit.fit([marks])[fit.OURS]["holding"]["rounds"] == 1


def test_every_prior_says_where_it_comes_from() -> None:
    for name, prior in PRIORS.items():
        assert prior.low < prior.high, name
        assert prior.source, name
    for name, choices in CHOICES.items():
        assert sum(choices.values()) == pytest.approx(1.0), name
