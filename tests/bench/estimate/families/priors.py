"""What is drawn for a round, from where: one table, wide on purpose.

`PRIORS` holds every number that a round is drawn from, with its unit and its source or the word "assumed"; `draw` turns
a seed into a `Round`. Nothing here was chosen by looking at what the rules do with it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .wire import Make


class Prior(NamedTuple):
    """A range [low, high] or weighted choices, in `unit`, and where it comes from."""

    low: float
    high: float
    unit: str
    source: str
    kind: str = "uniform"


def _log(low: float, high: float, unit: str, source: str) -> Prior:
    return Prior(low, high, unit, source, "log")


#: Ranges, by name.
PRIORS: dict[str, Prior] = {
    # the bank
    "capacity": _log(60.0, 450.0, "Ah", "common deep-cycle cases; common practice, no source"),
    "blocked": Prior(0.4, 1.0, "1", "currents of 0.2 to 2 % C20 at first: common practice, no source"),
    "pace": _log(0.25, 3.0, "1", "1 to 48 h of waking: common practice, no source; spread assumed"),
    "soft": Prior(0.35, 0.75, "1", "assumed"),
    "hard": Prior(0.05, 0.45, "1", "60 to 80 % capacity after one round is reported for heavy sulfation; assumed"),
    "lost": Prior(0.0, 0.35, "1", "assumed"),
    "dissolve": _log(0.3, 3.0, "1", "finishing lasts 3 to 60 h in this trade; assumed"),
    "gas": _log(0.008, 0.06, "A/100Ah", "10 to 20 mA new, up to five times aged (Schiffer 2007)"),
    "spread": Prior(0.02, 0.18, "1", "assumed"),
    "apart": Prior(0.4, 1.0, "1", "assumed"),
    "resistance": _log(0.6, 1.8, "1", "about 0.42 ohm Ah (Schiffer 2007), spread assumed"),
    "critical": Prior(0.1, 0.7, "1", "gas heat over what the cooling can take; 1 runs away (derived from 0.06/K)"),
    "air": Prior(6.0, 28.0, "degC", "sheds and cabins, assumed"),
    "swing": Prior(0.5, 7.0, "K", "assumed"),
    # charger
    "amps": _log(0.06, 0.16, "C20/h", "C/8 to C/16: common practice, no source"),
    "amps-weak": _log(0.025, 0.05, "C20/h", "finishing rate used as the whole charge, Navy: 3 to 6 % of C20"),
    "equalise": Prior(2.50, 2.67, "V/cell", "2.50 to 2.67: trade range"),
    "absorb": Prior(2.37, 2.47, "V/cell", "type test range of data sheets"),
    "ceiling-error": Prior(-0.010, 0.010, "1", "assumed"),
    "cable": Prior(0.0, 0.045, "V/cell", "drop at full current: 3 m of 16 mm2 at 20 A is 0.13 V; assumed range"),
    "compensation": Prior(-0.005, -0.003, "V/K/cell", "3 to 5 mV per kelvin: common practice"),
    "power": Prior(0.5, 0.95, "1", "of volts times amps at the highest setting, assumed"),
    "sun": Prior(0.6, 1.4, "1", "noon current over the charger's, assumed"),
    "begin": Prior(6.0, 17.0, "h", "hour of the day, assumed"),
    "raise-after": Prior(1.0, 14.0, "h", "hours at the ceiling until somebody turns it up, assumed"),
    "hold": Prior(12.0, 24.0, "h", "16 to 24 h wanted, 12 for weak ones, assumed"),
    "tail": _log(1.05, 2.5, "1", "over the current it settles at; assumed"),
    "tail-least": Prior(0.006, 0.012, "C20/h", "0.5 to 3 % of C20 at the end, stable: common practice"),
    # the household's meters
    "volts-gain": Prior(-0.012, 0.012, "1", "cheap meters 1 to 1.5 %, assumed"),
    "amps-gain": Prior(-0.03, 0.03, "1", "0.97 to 1.03, assumed"),
    "amps-offset": Prior(-0.5, 0.5, "A", "Hall sensors, assumed"),
    "amps-noise": Prior(0.0, 0.05, "1", "of the current, assumed"),
    "volts-noise": _log(0.0003, 0.004, "V/cell", "assumed"),
    "loss": Prior(0.0, 0.10, "1", "lost messages, assumed"),
    "probe-lag": _log(120.0, 3600.0, "s", "from a probe in the acid to one on a case, assumed"),
    "own-hours": Prior(6.0, 14.0, "h", "a charger's own timer at its ceiling, assumed"),
    "restart": Prior(0.3, 12.0, "h", "until somebody starts it again, assumed"),
}
#: Weighted choices, by name.
CHOICES: dict[str, dict[str, float]] = {
    "class": {"12": 0.3, "24": 0.45, "48": 0.25},
    "strings": {"1": 0.5, "2": 0.35, "3": 0.15},
    "condition": {"sound-empty": 0.10, "sound-full": 0.08, "sulfated": 0.74, "dead": 0.08},
    "charger": {
        "constant-voltage": 0.28,
        "stepped": 0.22,
        "constant-current": 0.08,
        "solar": 0.10,
        "generator": 0.12,
        "power-limited": 0.12,
        "shuts-off": 0.08,
    },
    "period": {
        "1": 0.03,
        "5": 0.12,
        "10": 0.2,
        "20": 0.1,
        "30": 0.15,
        "60": 0.2,
        "120": 0.08,
        "300": 0.08,
        "600": 0.04,
    },
    "ending": {"off": 0.4, "float": 0.25, "on": 0.2, "by-itself": 0.15},
    "hazard": {
        "none": 0.62,
        "runaway-fast": 0.05,
        "runaway-slow": 0.04,
        "short": 0.10,
        "over-temperature": 0.05,
        "stuck": 0.05,
        "swapped": 0.03,
        "drifting": 0.03,
        "over-voltage": 0.03,
    },
}


#: A slower probe sits on a case [s]; what it shows of the difference between acid and air there [1]. Assumed.
CASE_LAG, CASE_SHOWS = 1500.0, 0.88


class Charger(NamedTuple):
    """What feeds the bank.

    Attributes
    ----------
    kind : str
        See `CHOICES`.
    settings : tuple of (float, float)
        Volts per cell that it truly regulates to at its own terminals at 25 degC, amps.
    said : tuple of (float, float)
        Volts per cell and amps as the owner wrote them down; empty = not written.
    compensation, said_compensation : float
        [V/K per cell].
    watts : float
        [W].
    cable : float
        [ohm]; 0 = senses at the posts.
    raise_after : float
        Charging hours at a ceiling until somebody turns it up [h].
    hours : tuple of (float, float)
        When it has power [h of the day]; empty = always.
    sun : float
        0 = no panels.
    cuts : float
        Per day.
    load : float
        What draws while there is no power [A].
    own_hours, restart : float
        It shuts off by itself after so long at its ceiling [h], until somebody starts it again [h]; inf = never.
    ending : str
        What it does once the hold is complete.
    """

    kind: str
    settings: tuple[tuple[float, float], ...]
    said: tuple[tuple[float, float], ...]
    compensation: float
    said_compensation: float
    watts: float
    cable: float
    raise_after: float
    hours: tuple[tuple[float, float], ...]
    sun: float
    cuts: float
    load: float
    own_hours: float
    restart: float
    ending: str


class Meters(NamedTuple):
    """What the household sees through: gains [1], offsets [A], noise, steps, seconds."""

    period: float
    loss: float
    volts_gain: float
    volts_noise: float
    volts_step: float
    at_charger: bool
    amps_gain: float
    amps_offset: float
    amps_noise: float
    amps_step: float
    probe: bool
    probe_lag: float
    probe_step: float
    ambient: bool
    blocks: bool
    midpoint: bool
    strings: bool
    power: bool
    outages: float
    late: float

    @property
    def on_case(self) -> bool:
        """A probe as slow as this sits on the outside of a block."""
        return self.probe_lag > CASE_LAG


class Hazard(NamedTuple):
    """What goes wrong, where, how much, and when: `after` [h] of the `stage`."""

    kind: str = "none"
    stage: str = "finishing"
    after: float = 3.0
    size: float = 1.0
    string: int = 0
    cell: int = 0
    quantity: str = ""


class Round(NamedTuple):
    """One round as drawn; the family is applied afterwards, so that every family gets the same households."""

    seed: int
    make: Make
    condition: str
    charger: Charger
    meters: Meters
    hazard: Hazard
    air: float
    swing: float
    begin: float
    equalise: float
    hold: float
    tail: float | None
    relay: bool
    hands: tuple[tuple[float, str, float], ...]
    longest: float


def pick(random: np.random.Generator, name: str) -> str:
    """One of the weighted choices."""
    names = list(CHOICES[name])
    weights = np.array(list(CHOICES[name].values()))
    return str(random.choice(names, p=weights / weights.sum()))


def value(random: np.random.Generator, name: str) -> float:
    """From a range."""
    low, high, _, _, kind = PRIORS[name]
    return float(np.exp(random.uniform(np.log(low), np.log(high))) if kind == "log" else random.uniform(low, high))


def _make(random: np.random.Generator, condition: str, equalise: float) -> Make:
    classes = {"12": ((2, 3), (1, 6)), "24": ((4, 3), (2, 6)), "48": ((8, 3), (4, 6))}
    pair = classes[pick(random, "class")]
    blocks, cells = pair[int(random.integers(len(pair)))]
    soft, hard, lost = (value(random, name) for name in ("soft", "hard", "lost"))
    blocked = value(random, "blocked")
    if condition == "sound-empty":
        blocked, hard, lost, soft = 0.0, 0.02, 0.5 * lost, random.uniform(0.4, 0.9)
    elif condition == "sound-full":
        blocked, hard, lost, soft = 0.0, 0.02, 0.5 * lost, random.uniform(0.0, 0.08)
    elif condition == "dead":
        blocked = random.uniform(0.8, 1.0)
    soft = min(soft, 0.93 - hard - lost)
    gas, critical = value(random, "gas"), value(random, "critical")
    # Volts over 2.23 at 11 per volt, 1.19 V of heat an ampere: what the gas makes of heat in 25 degC, per Ah.
    heat = gas / 100.0 * float(np.exp(11.0 * (equalise - 2.23))) * (equalise - 1.481)
    cooling = float(np.clip(heat / (6.13 * critical), 0.0018, 0.012))
    gas *= min(1.0, cooling * 6.13 * critical / heat)
    return Make(
        strings=int(pick(random, "strings")),
        blocks=blocks,
        block_cells=cells,
        capacity=round(value(random, "capacity"), 0),
        blocked=float(blocked),
        pace=value(random, "pace"),
        soft=float(soft),
        hard=float(hard),
        lost=float(lost),
        dissolve=value(random, "dissolve"),
        gas=gas,
        spread=value(random, "spread"),
        apart=value(random, "apart"),
        cooling=cooling,
        resistance=value(random, "resistance"),
        dead=condition == "dead",
    )


def _charger(random: np.random.Generator, make: Make, equalise: float) -> Charger:
    kind = pick(random, "charger")
    rated = make.capacity * make.strings
    amps = rated * value(random, "amps-weak" if kind == "constant-current" else "amps")
    amps = round(min(amps, 30.0 * make.strings), 0) or 1.0
    error = value(random, "ceiling-error")
    last = (equalise, amps)
    said: tuple[tuple[float, float], ...] = (last,)
    if kind == "stepped" or (kind in ("generator", "shuts-off") and random.uniform() < 0.4):
        said = ((round(value(random, "absorb"), 3), amps), last)
        if random.uniform() < 0.25:
            said = (said[0], (round(0.5 * (said[0][0] + equalise), 3), amps), last)
    settings = tuple((volts * (1.0 + error), most) for volts, most in said)
    compensation = value(random, "compensation") if random.uniform() < 0.2 else 0.0
    hours: tuple[tuple[float, float], ...] = ()
    if kind == "generator":
        first = random.uniform(6.0, 9.0)
        hours = ((first, first + random.uniform(8.0, 15.0)),)
        if random.uniform() < 0.3:
            hours = ((first, first + random.uniform(3.5, 6.0)), (first + 8.5, first + random.uniform(11.5, 14.0)))
    drop = value(random, "cable") if random.uniform() < 0.7 else 0.0
    own = kind == "shuts-off"
    return Charger(
        kind=kind,
        settings=settings,
        said=said if random.uniform() < 0.85 else (),
        compensation=compensation,
        said_compensation=compensation if random.uniform() < 0.7 else 0.0,
        watts=value(random, "power") * equalise * make.cells * amps if kind == "power-limited" else float("inf"),
        cable=drop * make.cells / amps,
        raise_after=value(random, "raise-after"),
        hours=hours,
        sun=value(random, "sun") if kind == "solar" else 0.0,
        cuts=random.uniform(0.2, 1.5) if random.uniform() < 0.2 else 0.0,
        load=random.uniform(0.1, 1.5) if kind in ("solar", "generator") and random.uniform() < 0.5 else 0.0,
        own_hours=value(random, "own-hours") if own else float("inf"),
        restart=value(random, "restart") if own else 0.0,
        ending=pick(random, "ending"),
    )


def _meters(random: np.random.Generator, make: Make) -> Meters:
    period = float(pick(random, "period"))
    coarse = random.uniform() < 0.35
    return Meters(
        period=period,
        loss=value(random, "loss") if random.uniform() < 0.5 else 0.0,
        volts_gain=1.0 + value(random, "volts-gain"),
        volts_noise=value(random, "volts-noise") * make.cells,
        volts_step=float(random.choice([0.05, 0.1])) if coarse else float(random.choice([0.001, 0.01])),
        at_charger=bool(random.uniform() < 0.2),
        amps_gain=1.0 + value(random, "amps-gain"),
        amps_offset=value(random, "amps-offset") if random.uniform() < 0.5 else 0.0,
        amps_noise=value(random, "amps-noise") if random.uniform() < 0.6 else 0.005,
        amps_step=float(random.choice([0.5, 1.0]))
        if coarse and random.uniform() < 0.5
        else float(random.choice([0.01, 0.1])),
        probe=bool(random.uniform() < 0.88),
        probe_lag=value(random, "probe-lag"),
        probe_step=float(random.choice([0.0625, 0.1, 0.5, 1.0])),
        ambient=bool(random.uniform() < 0.5),
        blocks=bool(random.uniform() < 0.2),
        midpoint=bool(random.uniform() < 0.15),
        strings=bool(make.strings > 1 and random.uniform() < 0.35),
        power=bool(random.uniform() < 0.08),
        outages=random.uniform(0.2, 1.5) if random.uniform() < 0.25 else 0.0,
        late=random.uniform(0.0, 0.05) if random.uniform() < 0.3 else 0.0,
    )


def _hazard(random: np.random.Generator, make: Make, meters: Meters) -> Hazard:
    kind = pick(random, "hazard")
    stage = str(random.choice(["finishing", "holding"]))
    size, quantity = 1.0, ""
    if kind == "runaway-fast":
        size = random.uniform(3.0, 6.0)
    elif kind == "runaway-slow":
        size = random.uniform(1.8, 2.6)
    elif kind == "short":
        # A metal bridge, or moss that takes some amps or a fraction of one [S/Ah].
        size = float(random.choice([4.0, 0.05, 0.01, 0.003]))
        stage = str(random.choice(["reviving", "finishing", "holding"]))
    elif kind == "over-temperature":
        size = random.uniform(14.0, 26.0)
    elif kind == "stuck":
        quantity = str(random.choice(["voltage", "current", *(["temperature"] if meters.probe else [])]))
    elif kind in ("swapped", "drifting"):
        quantity = "current"
        size = random.uniform(0.06, 0.15)
    elif kind == "over-voltage":
        size = random.uniform(0.09, 0.25)
    place = int(random.integers(make.strings)), int(random.integers(make.cells))
    return Hazard(kind, stage, random.uniform(0.5, 8.0), float(size), *place, quantity)


def _tail(random: np.random.Generator, make: Make, equalise: float, charger: Charger) -> float:
    """What an owner would write: some way over what such a bank settles at [A]; one in eight writes too little."""
    settles = make.gas / 100.0 * float(np.exp(11.0 * (equalise - 2.23)))
    times = value(random, "tail") if random.uniform() < 0.88 else random.uniform(0.6, 1.0)
    wanted = make.capacity * make.strings * max(times * settles, value(random, "tail-least"))
    return round(min(wanted, 0.6 * charger.settings[-1][1]), 1)


def draw(seed: int) -> Round:
    """Draw one round; the same seed draws the same."""
    random = np.random.default_rng((seed, 20_261))
    condition = pick(random, "condition")
    equalise = round(value(random, "equalise"), 2)
    make = _make(random, condition, equalise)
    charger = _charger(random, make, equalise)
    meters = _meters(random, make)
    hazard = _hazard(random, make, meters)
    hands: list[tuple[float, str, float]] = []
    for _ in range(int(random.poisson(1.0))):
        act = str(random.choice(["off", "raise", "lower-amps", "restore-amps"], p=[0.45, 0.2, 0.2, 0.15]))
        hands.append(
            (random.uniform(2.0, 60.0), act, random.uniform(0.2, 3.0) if act == "off" else random.uniform(0.4, 0.9))
        )
    weak = charger.kind in ("solar", "generator")
    return Round(
        seed=seed,
        make=make,
        condition=condition,
        charger=charger,
        meters=meters,
        hazard=hazard,
        air=value(random, "air"),
        swing=value(random, "swing"),
        begin=random.uniform(7.0, 9.0) if weak else value(random, "begin"),
        equalise=equalise,
        hold=round(value(random, "hold"), 0),
        tail=_tail(random, make, equalise, charger) if random.uniform() < 0.45 else None,
        relay=bool(meters.probe and random.uniform() < 0.7),
        hands=tuple(sorted(hands)),
        longest=80.0 if condition == "dead" else (190.0 if weak else 140.0),
    )
