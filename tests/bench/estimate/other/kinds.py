"""The kinds of round of the second simulator: twelve to look at, twelve held out (totals only, nobody tunes on them)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from bridge.demo.sensors import Sensors

from .bank import Recipe
from .play import Scenario
from .source import Setting, Supply


class Kind(NamedTuple):
    """As in `tests.bench.estimate.kinds`."""

    name: str
    scenario: Scenario
    sensors: Sensors = Sensors()
    hopeless: bool = False
    dead_after: float = 0.0
    known: bool = True
    restart: float = 0.0
    second: float = 0.0


def twelve(recipe: Recipe, **changes: object) -> Scenario:
    """Two 6 V blocks."""
    base = Scenario(recipe._replace(cells=6), blocks=2, settings=(Setting(16.0, 25.0),))
    return base._replace(**changes)


def twenty_four(recipe: Recipe, **changes: object) -> Scenario:
    """Strings of four 6 V blocks; the charger is turned up by hand."""
    amps = 25.0 * recipe.strings
    return Scenario(recipe, settings=(Setting(28.8, amps), Setting(32.0, amps)))._replace(**changes)


def forty_eight(recipe: Recipe, **changes: object) -> Scenario:
    """Strings of eight 6 V blocks."""
    amps = 26.0 * recipe.strings
    settings = (Setting(57.6, amps), Setting(64.0, amps))
    return Scenario(recipe._replace(cells=24), blocks=8, settings=settings)._replace(**changes)


COARSE = Sensors(period=30.0, volts_noise=0.03, volts_step=0.1, amps_noise=0.3, amps_step=1.0)
SLOW = Sensors(period=300.0, volts_noise=0.02, volts_step=0.1, amps_noise=0.2, amps_step=1.0)
QUICK = Sensors(period=1.0, volts_noise=0.008, volts_step=0.01, amps_noise=0.05, amps_step=0.1)
BUS = Sensors(period=15.0, volts_step=0.01, amps_step=0.1, lost=0.08, late=0.06, twice=0.06, outages=1.5)

PAIR = Recipe(strings=2, contact=0.0008, apart=0.6)
ONE = Recipe(contact=0.0006)
#: The current never reaches more than this of the plates again.
DEAD = Recipe(strings=2, contact=0.003, reach=0.006, leak=0.0009)

KINDS: tuple[Kind, ...] = (
    Kind("other: 24 V, two strings, turned up by hand", twenty_four(PAIR)),
    Kind("other: 12 V, nights off", twelve(ONE, supply=Supply(hours=((7.0, 21.5),), load=0.4))),
    Kind("other: 48 V, weak source, long cable", forty_eight(ONE, supply=Supply(weak=0.9, cable=0.008)), BUS),
    Kind("other: 24 V, sun and clouds", twenty_four(PAIR, supply=Supply(sun=1.25, load=0.5), longest=420.0)),
    Kind("other: 24 V, dead at the ceiling", twenty_four(DEAD, longest=130.0), hopeless=True),
    Kind(
        "other: 24 V, wakes after days",
        twenty_four(Recipe(strings=2, contact=0.00003, speeds=(0.45, 0.25, 0.1), leak=0.0003)),
    ),
)
#: Nobody tunes on these.
HELD_OUT = range(12, 24)


def varied(scenario: Scenario, seed: int) -> Scenario:
    """The same kind, another bank, another charger, another person."""
    random = np.random.default_rng((seed, 31))

    def times(value: float, spread: float) -> float:
        return float(value * np.exp(random.normal(0.0, spread)))

    recipe = scenario.recipe
    amps = float(random.uniform(0.8, 1.1))
    recipe = recipe._replace(
        contact=times(recipe.contact, 0.3),
        grow=times(recipe.grow, 0.06),
        gas=times(recipe.gas, 0.25),
        leak=times(recipe.leak, 0.3),
        charged=times(recipe.charged, 0.4),
        sizes=tuple(times(share, 0.25) for share in recipe.sizes),
        speeds=tuple(times(speed, 0.15) for speed in recipe.speeds),
        uneven=times(recipe.uneven, 0.2),
    )
    return scenario._replace(
        recipe=recipe,
        mean=scenario.mean + float(random.normal(0.0, 2.0)),
        begin=float(random.uniform(7.0, 15.0)),
        hold=float(random.choice([1.0, 1.25, 1.5])) * scenario.hold,
        raise_after=float(random.uniform(2.0, 9.0)),
        settings=tuple(setting._replace(amps=round(setting.amps * amps, 1)) for setting in scenario.settings),
    )
