"""The kinds of round of the second simulator: fourteen open, twelve held out (totals only, nobody tunes on them)."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from tests.bench.simulated_bank.sensors import Sensors

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


def twelve(recipe: Recipe, **changes: Any) -> Scenario:
    """Two 6 V blocks."""
    base = Scenario(recipe._replace(cells=6), blocks=2, settings=(Setting(16.0, 25.0),))
    return base._replace(**changes)


def twenty_four(recipe: Recipe, **changes: Any) -> Scenario:
    """Strings of four 6 V blocks; the charger is turned up by hand."""
    amps = 25.0 * recipe.strings
    return Scenario(recipe, settings=(Setting(28.8, amps), Setting(32.0, amps)))._replace(**changes)


def forty_eight(recipe: Recipe, **changes: Any) -> Scenario:
    """Strings of eight 6 V blocks."""
    amps = 26.0 * recipe.strings
    settings = (Setting(57.6, amps), Setting(64.0, amps))
    return Scenario(recipe._replace(cells=24), blocks=8, settings=settings)._replace(**changes)


COARSE = Sensors(period=30.0, volts_noise=0.03, volts_step=0.1, amps_noise=0.3, amps_step=1.0)
SLOW = Sensors(period=300.0, volts_noise=0.02, volts_step=0.1, amps_noise=0.2, amps_step=1.0)
QUICK = Sensors(period=1.0, volts_noise=0.008, volts_step=0.01, amps_noise=0.05, amps_step=0.1)
BUS = Sensors(period=15.0, volts_step=0.01, amps_step=0.1, lost=0.08, late=0.06, twice=0.06, outages=0.7)
BIASED = Sensors(period=20.0, volts_step=0.01, amps_step=0.1, amps_offset=0.4, temperature=False)

PAIR = Recipe(strings=2, contact=0.0006, apart=0.5, crust=4.0)
ONE = Recipe(contact=0.0006, crust=4.0)
#: Current will never reach more of the plates than this.
DEAD = Recipe(strings=2, contact=0.003, reach=0.006, leak=0.0009)
#: Spots under a thick crust: days until they meet.
SLOWLY = Recipe(strings=2, contact=0.0004, crust=60.0, leak=0.0003)
NIGHTS = Supply(hours=((7.0, 21.5),), load=0.4)
TWICE_A_DAY = Supply(hours=((6.5, 11.0), (16.0, 22.0)), load=0.8)
NEVER = float("inf")


def once(volts: float, amps: float) -> tuple[Setting, ...]:
    """A charger that stands at one setting."""
    return (Setting(volts, amps),)


KINDS: tuple[Kind, ...] = (
    Kind("other: 24 V, two strings, turned up by hand", twenty_four(PAIR)),
    Kind("other: 12 V, nights off", twelve(ONE, supply=NIGHTS)),
    Kind(
        "other: 48 V, weak source, long cable", forty_eight(ONE, supply=Supply(weak=0.9, cable=0.008), overrun=3.0), BUS
    ),
    Kind("other: 24 V, sun and clouds", twenty_four(PAIR, supply=Supply(sun=1.3, load=0.5), longest=420.0)),
    Kind("other: 24 V, dead at the ceiling", twenty_four(DEAD, longest=125.0), hopeless=True),
    Kind("other: 24 V, wakes after days", twenty_four(SLOWLY)),
    Kind(
        "other: 24 V, halves in the middle, restarts",
        twenty_four(PAIR._replace(crust=12.0), halves_at=((5.0, 17.0, 0), (17.5, 29.0, 1))),
        restart=5.3,
    ),
    Kind(
        "other: 24 V, turned up while it blocks, five minutes, coarse",
        twenty_four(ONE._replace(crust=20.0), raise_after=NEVER, raise_at=14.0),
        SLOW,
        known=False,
    ),
    Kind(
        "other: 48 V, three strings one by one, watts",
        forty_eight(Recipe(strings=3, contact=0.002, apart=0.25, crust=3.0), overrun=3.0),
        BUS._replace(power=True, amps_step=1.0),
    ),
    Kind(
        "other: 12 V, a cell shorted",
        twelve(ONE._replace(contact=0.01, shorts=((0, 3, 400.0),)), longest=120.0),
        hopeless=True,
        dead_after=14.0,
    ),
    Kind(
        "other: 24 V, grows and stalls",
        twenty_four(Recipe(strings=2, contact=0.002, reach=0.03, leak=0.0005, crust=8.0), longest=135.0),
        COARSE,
        hopeless=True,
        dead_after=30.0,
    ),
    Kind(
        "other: 24 V, cold shed, compensated, a second's meter",
        twenty_four(ONE, compensation=-0.004, mean=8.0, swing=4.0),
        QUICK._replace(temperature=False),
    ),
    # ------------------------------------------------------------------------------------------------- held out
    Kind(
        "other: 24 V, generator twice a day, meters disagree",
        twenty_four(PAIR, supply=TWICE_A_DAY, longest=420.0, overrun=3.0),
        Sensors(outages=4.0),
        second=0.15,
    ),
    Kind(
        "other: 48 V, one of three strings dead",
        forty_eight(Recipe(strings=3, contact=0.001, dead_strings=(1,), crust=5.0)),
    ),
    Kind(
        "other: 12 V, held at current",
        twelve(ONE._replace(strings=2), settings=once(16.0, 45.0), at_current=14.0),
    ),
    Kind("other: 24 V, hot shed, heat pauses", twenty_four(PAIR._replace(gas=1.6, loss=0.0028), mean=29.0, swing=7.0)),
    Kind(
        "other: 24 V, halves first",
        twenty_four(PAIR._replace(crust=8.0), halves_at=((0.0, 15.0, 0), (15.5, 30.0, 1))),
        restart=9.1,
    ),
    Kind("other: 48 V, sun, weak, coarse", forty_eight(ONE, supply=Supply(sun=1.0, weak=0.95), longest=420.0), COARSE),
    Kind(
        "other: 24 V, dead, aged grids, nights off",
        twenty_four(DEAD._replace(gas=4.0, leak=0.0004), supply=Supply(hours=((6.0, 23.0),)), longest=180.0),
        hopeless=True,
    ),
    Kind(
        "other: 12 V, a cell half shorted",
        twelve(ONE._replace(contact=0.01, shorts=((0, 2, 15.0),)), settings=once(16.0, 12.0), longest=125.0),
        hopeless=True,
        dead_after=30.0,
    ),
    Kind(
        "other: 24 V, slow but living, cuts, coarse",
        twenty_four(SLOWLY._replace(crust=45.0), supply=Supply(cuts=1.2), longest=320.0),
        COARSE,
    ),
    Kind("other: 12 V, mild, five minutes", twelve(ONE._replace(contact=0.25, crust=1.0, charged=0.25)), SLOW),
    Kind(
        "other: 24 V, turned up in bulk, charger unknown, restarts",
        twenty_four(PAIR, raise_after=NEVER, raise_at=13.0),
        BUS._replace(outages=0.0),
        known=False,
        restart=3.7,
    ),
    Kind("other: 48 V, uneven, biased meters", forty_eight(ONE._replace(uneven=0.9, gas=1.2)), BIASED),
    # ---------------------------------------------------------------------------------------------- open again
    Kind(
        "other: 24 V, dead, generator by day",
        twenty_four(DEAD._replace(leak=0.0006), supply=Supply(hours=((8.0, 20.0),)), longest=240.0),
        hopeless=True,
    ),
    Kind(
        "other: 24 V, slow but living, generator by day",
        twenty_four(SLOWLY._replace(crust=35.0), supply=Supply(hours=((7.0, 22.0),)), longest=320.0),
    ),
)
#: Nobody tunes on these.
HELD_OUT = range(12, 24)


def varied(scenario: Scenario, seed: int) -> Scenario:
    """The same kind, another bank, another charger, another person."""
    random = np.random.default_rng((seed, 31))

    recipe = scenario.recipe
    # A bank that sleeps for days would sleep for weeks on the same spread.
    calm = 0.35 if recipe.crust > 30.0 else 1.0

    def times(value: float, spread: float) -> float:
        return float(value * np.exp(random.normal(0.0, calm * spread)))

    amps = float(random.uniform(0.8, 1.1))
    recipe = recipe._replace(
        contact=times(recipe.contact, 0.4),
        grow=times(recipe.grow, 0.06),
        crust=times(recipe.crust, 0.35),
        gas=times(recipe.gas, 0.35),
        leak=times(recipe.leak, 0.3),
        charged=times(recipe.charged, 0.4),
        sizes=tuple(times(share, 0.35) for share in recipe.sizes),
        speeds=tuple(times(speed, 0.25) for speed in recipe.speeds),
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
