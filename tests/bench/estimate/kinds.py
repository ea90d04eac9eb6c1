"""The kinds of round. The second half is held out: it runs only on request and nobody tunes on it."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from tests.bench.simulated_bank.charger import Setting, Supply
from tests.bench.simulated_bank.sensors import Sensors
from tests.bench.simulated_bank.simulate import Scenario


class Kind(NamedTuple):
    """One kind of round: its bank, its meters, and whether it can come back at all."""

    name: str
    scenario: Scenario
    sensors: Sensors = Sensors()
    hopeless: bool = False
    dead_after: float = 0.0  # what looked like life is over by then [h]
    known: bool = True  # the owner has told the charger's settings
    restart: float = 0.0  # the bridge is started anew so often [h]
    second: float = 0.0  # when the meters are silent others take over, which show so much more [V] and 8 % less [A]


def volts12(**changes: Any) -> Scenario:
    """Two 6 V blocks of 220 Ah."""
    return Scenario(
        blocks=2,
        capacity=220.0,
        settings=(Setting(16.0, 25.0),),
        equalise=2.667,
        free=0.00012,
        wake_rate=0.25,
        hard=0.2,
    )._replace(**changes)


def volts24(**changes: Any) -> Scenario:
    """Two strings of four 6 V blocks of 200 Ah, charger turned up by hand."""
    return Scenario(
        strings=2,
        settings=(Setting(28.8, 50.0), Setting(32.0, 50.0)),
        equalise=2.667,
        free=0.00012,
        wake_rate=0.25,
        hard=0.2,
        laggard=1.1,
    )._replace(**changes)


def volts48(**changes: Any) -> Scenario:
    """One string of eight 6 V blocks of 225 Ah."""
    return Scenario(
        blocks=8,
        capacity=225.0,
        settings=(Setting(57.6, 28.0), Setting(64.0, 28.0)),
        equalise=2.667,
        free=0.00015,
        wake_rate=0.3,
        hard=0.15,
    )._replace(**changes)


#: Sealed for good, but for a leak.
DEAD = {"free": 0.0003, "free_most": 0.00036, "hard": 0.6, "lost": 0.2, "longest": 150.0}
SHORTED = {
    "strings": 1,
    "shorted": True,
    "settings": (Setting(28.8, 12.0), Setting(32.0, 12.0)),
    "longest": 130.0,
}
NO_PROBE = Sensors(temperature=False)
GENERATOR = Supply("generator", 7.0, 22.0)
SOLAR = Supply("solar", 6.5, 19.5)
COARSE = Sensors(period=60.0, volts_noise=0.03, volts_step=0.1, amps_noise=0.3, amps_step=1.0)
SLOW = Sensors(period=300.0, volts_noise=0.01, volts_step=0.01, amps_noise=0.1, amps_step=0.1)
ROUGH = Sensors(period=20.0, lost=0.1, late=0.05, twice=0.05, outages=1.0, amps_step=0.1, volts_step=0.01)

KINDS: tuple[Kind, ...] = (
    Kind("24 V, two strings, turned up", volts24()),
    Kind("24 V, one string, hold at current", Scenario(at_current=6.0, free=0.0001, wake_rate=0.35, hard=0.12)),
    Kind("12 V, coarse meters", volts12(), COARSE),
    Kind("48 V, generator nights", volts48(supply=GENERATOR)),
    Kind("24 V, healthy but empty", volts24(free=1.0, hard=0.04, laggard=1.0)),
    Kind("24 V, three strings, five minutes", volts24(strings=3, laggard=1.3), SLOW),
    Kind("12 V, solar", volts12(supply=SOLAR, wake_rate=0.35, longest=400.0, hold=10.0)),
    Kind(
        "24 V, beyond recovery",
        volts24(free=0.0003, free_most=0.00036, hard=0.6, lost=0.2, longest=150.0),
        hopeless=True,
    ),
    Kind("24 V, cool shed, mild", volts24(ambient=9.0, swing=3.0, free=0.003, wake_rate=0.3)),
    Kind(
        "24 V, small charger, watts, no probe",
        volts24(strings=1, settings=(Setting(28.8, 15.0), Setting(32.0, 15.0)), hard=0.1),
        Sensors(power=True, temperature=False),
    ),
    Kind(
        "12 V, every second, noisy",
        volts12(free=0.0006),
        Sensors(period=1.0, volts_noise=0.05, volts_step=0.01, amps_noise=0.4, amps_step=0.1),
    ),
    Kind("24 V, generator, inverter draws", volts24(supply=GENERATOR._replace(load=2.5), free=0.0003)),
    # ------------------------------------------------------------------------------------------- held out
    Kind("48 V, solar", volts48(supply=SOLAR, free=0.0008, longest=400.0, hold=10.0)),
    Kind("12 V, two strings, hold at current", volts12(strings=2, settings=(Setting(16.0, 50.0),), at_current=14.0)),
    Kind(
        "24 V, shorted cell",
        volts24(strings=1, shorted=True, settings=(Setting(28.8, 8.0), Setting(32.0, 8.0)), longest=150.0),
        hopeless=True,
    ),
    Kind("24 V, one string dead", volts24(dead_string=True, settings=(Setting(28.8, 50.0), Setting(32.0, 40.0)))),
    Kind("48 V, three strings, rough meters", volts48(strings=3, settings=(Setting(64.0, 75.0),), laggard=1.2), ROUGH),
    Kind(
        "12 V, beyond recovery, coarse",
        volts12(free=0.00012, free_most=0.00014, hard=0.7, longest=150.0),
        COARSE,
        hopeless=True,
    ),
    Kind("24 V, heavy, slow to wake", volts24(free=0.00006, wake_rate=0.17, hard=0.35)),
    Kind("24 V, compensated charger, hot", volts24(compensation=-0.005, ambient=31.0, free=0.0003)),
    Kind("48 V, power cuts, late samples", volts48(supply=Supply("cuts")), ROUGH._replace(outages=0.3)),
    Kind(
        "24 V, five minutes, coarse, no probe", volts24(free=0.0005), COARSE._replace(period=300.0, temperature=False)
    ),
    Kind(
        "12 V, large 2 V cells, offset meter",
        volts12(
            blocks=6,
            block_cells=1,
            capacity=500.0,
            settings=(Setting(14.4, 60.0), Setting(16.0, 60.0)),
            free=0.0002,
            packed=0.9,
        ),
        Sensors(amps_offset=0.3, amps_step=0.1),
    ),
    Kind("24 V, hot shed, heat pauses", volts24(ambient=30.0, swing=7.0, gas=0.012, packed=1.3)),
    # ---------------------------------------------------------------- open again: dead in other ways, or only slow
    Kind("24 V, dead, gas grows by poison", volts24(**DEAD, gas=0.3, poison=0.0025, swing=9.0), hopeless=True),
    Kind("24 V, dead, no probe, warm days", volts24(**DEAD, gas=0.5, swing=12.0), NO_PROBE, hopeless=True),
    Kind("24 V, beyond recovery, coarse", volts24(**DEAD, strings=1, gas=0.2), COARSE, hopeless=True),
    Kind(
        "12 V, beyond recovery, coarse, slow",
        volts12(**DEAD, gas=0.05),
        COARSE._replace(period=300.0, temperature=False),
        hopeless=True,
    ),
    Kind(
        "24 V, takes some and stalls",
        volts24(free=0.0015, free_most=0.012, hard=0.75, lost=0.1, charged=0.02, longest=170.0),
        hopeless=True,
        dead_after=40.0,
    ),
    Kind(
        "24 V, dead, gas looks like a taper",
        volts24(
            free=0.005, free_most=0.0051, hard=0.6, lost=0.3, gas=0.04, settings=(Setting(32.0, 50.0),), longest=150.0
        ),
        hopeless=True,
    ),
    Kind(
        "24 V, a cell shorted",
        volts24(**SHORTED, free=0.001),
        hopeless=True,
        dead_after=12.0,
    ),
    Kind(
        "12 V, a cell shorted, coarse",
        volts12(shorted=True, free=1.0, hard=0.05, settings=(Setting(16.0, 12.0),), longest=120.0),
        COARSE,
        hopeless=True,
        dead_after=8.0,
    ),
    Kind(
        "24 V, a string takes everything",
        volts24(**SHORTED, free=0.003)._replace(strings=2),
        hopeless=True,
        dead_after=12.0,
    ),
    Kind(
        "24 V, a cell half shorted",
        volts24(**SHORTED, short=0.03, free=1.0)._replace(settings=(Setting(28.8, 7.0), Setting(32.0, 7.0))),
        hopeless=True,
        dead_after=48.0,
    ),
    Kind("24 V, slow but living", volts24(free=0.000005, wake_rate=0.75, hard=0.3, longest=300.0)),
    Kind("12 V, slow but living, coarse", volts12(free=0.000005, wake_rate=0.4, hard=0.3, longest=300.0), COARSE),
    Kind("24 V, a string dead, the other wakes", volts24(dead_string=True, free=0.0003)),
    # ------------------------------------------------------------------------- open: what else befalls a round
    Kind("24 V, strings wake one by one", volts24(strings=3, laggard=6.0, free=0.002)),
    Kind("24 V, woken in halves, rejoined", volts24(halves=18.0, free=0.0004)),
    Kind("24 V, meters disagree", volts24(free=0.0006), Sensors(outages=8.0), second=0.2),
    Kind("24 V, watts, late and twice", volts24(free=0.0006), ROUGH._replace(power=True, amps_step=1.0), restart=7.0),
    Kind("24 V, charger unknown, reprogrammed", volts24(free=0.0004), known=False),
    Kind("48 V, generator, cuts and restarts", volts48(supply=GENERATOR), ROUGH, restart=3.3),
)
#: Nobody tunes on these.
HELD_OUT = range(12, 24)


def varied(scenario: Scenario, seed: int) -> Scenario:
    """The same kind, another bank: its chemistry, its charger and its hold differ, so nothing is learned by heart."""
    random = np.random.default_rng((seed, 5))

    def times(value: float, spread: float) -> float:
        return float(value * np.exp(random.normal(0.0, spread)))

    sealed = scenario.free < 0.5
    free = times(scenario.free, 0.25) if sealed else scenario.free
    amps = float(random.uniform(0.75, 1.1))
    return scenario._replace(
        overrun=0.5,  # the rules' own clock is to end the hold, not ours
        free=free,
        free_most=scenario.free_most / scenario.free * free if scenario.free_most < 0.5 else scenario.free_most,
        wake_rate=times(scenario.wake_rate, 0.12),
        push=times(scenario.push, 0.5),
        feed=times(scenario.feed, 0.5),
        acceptance=times(scenario.acceptance, 0.4),
        dissolve_rate=times(scenario.dissolve_rate, 0.5),
        hard=times(scenario.hard, 0.3),
        charged=times(scenario.charged, 0.4),
        gas=times(scenario.gas, 0.3),
        ambient=scenario.ambient + float(random.normal(0.0, 2.0)),
        hold=float(random.choice([1.0, 1.0, 1.25, 1.5])) * scenario.hold,
        raise_after=float(random.uniform(2.0, 10.0)),
        settings=tuple(setting._replace(amps=round(setting.amps * amps, 1)) for setting in scenario.settings),
    )
