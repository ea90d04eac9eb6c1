"""Eight more ordinary households with one flooded bank on its equalising round, written by a hand that saw no rule.

Three are in English, one each in German, French, Norwegian, Polish and Spanish. The truth of a place stands beside its
signal, as the owner would tell it. What no name, no kept note and no physics tells has its Truth as well and stands in
`ONLY_THE_OWNER_KNOWS`. What only says a place once more (a display, another instrument on the same terminals) has no
Truth and stands in `COPIES`. Two houses keep a second lead-acid bank, which floats.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import NamedTuple

from tests.bench.households.things import coin_cells, homie_thermostat, lithium, phone, plug, router, starter
from tests.bench.households.world import START, House, Signal, Truth

# What the quantities are called; each name stands only here.
VOLTS, AMPS, WATTS = "voltage", "current", "power"
ACID, AIR = "electrolyte_temperature", "ambient_temperature"
MIDDLE, BLOCK, CELL, STRING = "midpoint_voltage", "block_voltage", "cell_voltage", "string_current"
RELAY, FAN, DOOR, HYDROGEN = "relay_state", "fan", "door", "hydrogen"
DRAWN = "discharging"

#: House, topic, and the place in the payload ("" for all of it) that no one can tell from what is on the broker.
ONLY_THE_OWNER_KNOWS: frozenset[tuple[str, str, str]] = frozenset(
    {
        # One of five radio probes that were only ever numbered.
        ("forester's house", "heim/zustand/sensor/funkfuehler_4/state", ""),
        # A chip on the wire, called by the end of its serial number.
        ("fjord cabin", "hytte/temp/28_31c4", ""),
        # An output of the controller, quiet like its neighbours.
        ("sawmill", "plc/tartak/wyjscia", "/Q0_5"),
        # A weather-station probe of the cheap kind, by its channel.
        ("goat dairy", "rf/canal_6/temperatura", ""),
        # Two of the board's three probes, soldered in the order of the day.
        ("clock workshop", "esp-7c2f/t0", ""),
        ("clock workshop", "esp-7c2f/t1", ""),
    }
)
#: House, topic, place: what is only said once more.
COPIES: frozenset[tuple[str, str, str]] = frozenset(
    {
        ("forester's house", "heim/zustand/sensor/wechselrichter_batteriespannung/state", ""),
        ("forester's house", "heim/zustand/sensor/solarregler_batteriespannung/state", ""),
        ("vineyard", "ecran/accueil", "/batterie/v"),
        ("vineyard", "ecran/accueil", "/batterie/a"),
        ("vineyard", "domaine/onduleur", "/entree_dc_V"),
        ("fjord cabin", "hytte/solregulator/batteri", ""),
        ("fjord cabin", "sms/sist/spenning", ""),
        ("sawmill", "biuro/tablica", "/wozek/U"),
        ("sawmill", "biuro/tablica", "/wozek/I"),
        ("sawmill", "biuro/tablica", "/wozek/kwas"),
        ("goat dairy", "tablero/cuadra/carro_tension", ""),
        ("goat dairy", "tablero/cuadra/carro_corriente", ""),
        ("clock workshop", "esp-oled/l", "/a"),
        ("clock workshop", "esp-oled/l", "/b"),
        ("lock house", "wallPanel/state", "/bank/volts"),
        ("lock house", "wallPanel/state", "/bank/amps"),
        ("tide station", "tide.modem.report.bank", ""),
        ("tide station", "tide.modem.report.acid", ""),
        ("tide station", "tide.power.solar.out_v", ""),
    }
)


class Wet(NamedTuple):
    """A flooded bank as its wires tell it: volts, amperes into it, watts, the acid's warmth, the charger's amperes."""

    volts: Signal
    amps: Signal
    watts: Signal
    acid: Signal
    fed: Signal


def until(end: float) -> Callable[[float], bool]:
    """Tell whether it is earlier than a second."""
    return lambda t: t < end


class Feed(NamedTuple):
    """A charger: its most amperes, the volts a cell that it does not pass, and whether it is let on."""

    limit: Signal
    ceiling: float = 9.0
    on: Callable[[float], bool] = lambda _t: True


def overvoltage(amps: float, full: float, hundreds: float, warmth: float) -> tuple[float, float]:
    """Say where a cell's overvoltage would settle [V], and which share of the amperes makes gas.

    Far from full the plates take all and the law is flat; near full nearly all splits water, at a quarter of a volt
    more for every tenfold, a little less in warm acid. Drawn amperes pull the other way, gently.
    """
    if amps <= 0.0:
        return -0.035 * math.asinh(-amps / (3.0 * hundreds)), 0.0
    fullness = full + 0.04 * math.log10(max(amps, 0.01) / (5.0 * hundreds))
    gassing = 1.0 / (1.0 + math.exp(-(fullness - 0.93) / 0.02))
    taking = 0.05 * (1.0 + 1.2 * full) * math.asinh(amps / (2.0 * hundreds))
    splitting = 0.24 * math.log10(1.0 + amps / (0.04 * hundreds)) * (1.0 - 0.008 * (warmth - 25.0))
    return (1.0 - gassing) * taking + gassing * splitting, gassing


def wet(
    house: House,
    cells: int,
    amp_hours: float,
    feed: Feed,
    *,
    load: Signal = lambda _t: 0.0,
    full: float,
    acid: float,
    air: float,
    sulphate: float = 0.0,
) -> Wet:
    """Reckon a bank second by second, from half an hour before anybody listens.

    The overvoltage follows its law through three lags (the surface, the pores, the depth of the plates). Crust on the
    plates is `sulphate` ohms a cell more per 100 Ah, and dissolves. The heat goes into the plates at once, and into
    the probe's acid some minutes later.
    """
    step, ticks, before = 0.2, 5, 1800
    hundreds = amp_hours / 100.0
    shares, lags = (0.5, 0.3, 0.2), (18.0, 240.0, 2600.0)
    plates = probe = acid
    fed, crust = 0.0, sulphate / hundreds
    first = feed.limit(-before) if feed.on(-before) else 0.0
    start = min(overvoltage(first, full, hundreds, acid)[0], feed.ceiling - 1.97 - 0.16 * full)
    over = [share * start for share in shares]
    heard: list[tuple[float, float, float, float]] = []
    for n in range(-before * ticks, (house.seconds + 2) * ticks):
        t = n * step
        ohms = 0.0011 / hundreds + crust
        inner = 1.97 + 0.16 * full + sum(over)
        drawn = load(t)
        asked = min(feed.limit(t), (feed.ceiling - inner) / ohms + drawn) if feed.on(t) else 0.0
        fed += (max(0.0, asked) - fed) * step / 1.1
        amps = fed - drawn
        if n >= 0 and n % ticks == 0:
            heard.append((cells * (inner + ohms * amps), amps, probe, fed))
        settled, gassing = overvoltage(amps, full, hundreds, plates)
        over = [
            part + (share * settled - part) * step / lag for part, share, lag in zip(over, shares, lags, strict=True)
        ]
        full = min(1.0, full + amps * (1.0 - gassing) * step / 3600.0 / amp_hours)
        crust *= 1.0 - step / 3600.0
        spent = abs(amps) * (abs(sum(over)) + ohms * abs(amps)) + max(0.0, amps) * gassing * 0.65
        plates += step * (spent / (6500.0 * hundreds) - (plates - air) / 43000.0)
        probe += step * (plates - probe) / 380.0

    def wire(which: int) -> Signal:
        def at(t: float) -> float:
            second = min(max(t, 0.0), float(house.seconds))
            low = int(second)
            return heard[low][which] + (second - low) * (heard[low + 1][which] - heard[low][which])

        return at

    # The acid was under way already; `acid` is what the probe shows when one begins to listen.
    volts, amps_in, since = wire(0), wire(1), heard[0][2]
    return Wet(volts, amps_in, multiplied(volts, amps_in), scaled(wire(2), 1.0, acid - since), wire(3))


def scaled(signal: Signal, by: float, plus: float = 0.0) -> Signal:
    """Read a signal on another scale."""
    return lambda t: by * signal(t) + plus


def multiplied(one: Signal, other: Signal) -> Signal:
    """Make watts of volts and amperes."""
    return lambda t: one(t) * other(t)


def read(house: House, signal: Signal, sigma: float, hold: float = 0.0) -> Signal:
    """Read a signal by an instrument that hisses, and that may look only every `hold` seconds."""
    hiss = house.noise(sigma)
    if hold <= 0.0:
        return lambda t: signal(t) + hiss(t)
    return lambda t: signal(hold * (t // hold)) + hiss(hold * (t // hold))


def fahrenheit(signal: Signal) -> Signal:
    """Degrees Celsius told in degrees Fahrenheit."""
    return scaled(signal, 1.8, 32.0)


def parts(house: House, volts: Signal, number: int, of: int, uneven: float, sigma: float) -> list[Signal]:
    """Part a bank of `of` equal pieces, no two alike; where all are told their sum is the bank's volts."""
    leans = [house.chance.uniform(-uneven, uneven) for _ in range(number)]
    if number == of:
        leans = [lean - sum(leans) / number for lean in leans]
    return [read(house, scaled(volts, (1.0 + lean) / of), sigma) for lean in leans]


def word(signal: Signal, digits: int = 1, form: str = "{}") -> Callable[[float], str]:
    """Say a number as text, in a form that may hold its unit."""
    return lambda t: form.format(f"{round(signal(t), digits) + 0.0:.{digits}f}")


def fill(shape: object, t: float) -> object:
    """Fill a shape of objects and lists: a pair is a signal and its digits, a function is asked for the second."""
    if isinstance(shape, dict):
        return {key: fill(part, t) for key, part in shape.items()}
    if isinstance(shape, list):
        return [fill(part, t) for part in shape]
    if isinstance(shape, tuple):
        signal, digits = shape
        return round(signal(t), digits) + 0.0 if digits else round(signal(t))
    return shape(t) if callable(shape) else shape


def body(shape: dict[str, object]) -> Callable[[float], object]:
    """Say one object."""
    return lambda t: fill(shape, t)


def clock(t: float) -> int:
    """Epoch seconds, as a device stamps them."""
    return int(START + t)


Spans = dict[str, tuple[float, float, int]]


def drifting(house: House, middle: float, swing: float) -> Signal:
    """Let a number of somebody else's wander by `swing` about its middle."""
    return house.around(middle, swing, house.chance.uniform(500, 3000), 0.06 * swing)


def strangers(house: House, every: float, spans: Spans, form: str = "{}") -> None:
    """Say numbers that have nothing to do with a bank, a topic each: the middle, the swing, the digits."""
    for topic, (middle, swing, digits) in spans.items():
        house.say(topic, every, word(drifting(house, middle, swing), digits, form))


def stranger(house: House, topic: str, every: float, spans: Spans, **fixed: object) -> None:
    """Say a thing that has nothing to do with a bank, all in one object."""
    shape: dict[str, object] = dict(fixed)
    for key, (middle, swing, digits) in spans.items():
        shape[key] = (drifting(house, middle, swing), digits)
    house.say(topic, every, body(shape))


def states(house: House, every: float, said: dict[str, object]) -> None:
    """Let things keep saying one word."""
    for topic, what in said.items():
        house.say(topic, every, what)


def kept(house: House, said: dict[str, object]) -> None:
    """Leave on the broker what lies there before anybody listens."""
    for topic, what in said.items():
        house.say(topic, 600, what, retain=True)


def before_charger(house: House, dc: Signal, mains: float, *, standby: float = 2.0) -> tuple[Signal, Signal, Signal]:
    """Reckon volts, amperes and watts of the socket that the charger hangs on."""
    volts = house.around(mains, 1.1, 700, 0.25)
    watts = read(house, lambda t: max(0.0, dc(t)) / 0.86 + standby, 0.6)
    return volts, lambda t: watts(t) / 0.95 / volts(t), watts


def foresters_house() -> House:
    """24 V in a German cellar, bulk in two strings; a hub's stream of states, each with its unit in a sibling."""
    bank = "keller"
    h = House("forester's house", 9201, bank, {bank: 12})
    load = h.steps(2.6, 2.6, 6.1, 17.5, dwell=85, sigma=0.08)
    b = wet(h, 12, 430, Feed(h.around(46, 0.25, 800, 0.03), 2.62), load=load, full=0.74, acid=22.8, air=16.0)
    volts, amps = read(h, b.volts, 0.01, 5), read(h, b.amps, 0.07, 5)
    share = h.around(0.487, 0.006, 1700)
    root = "heim/zustand"

    def sensor(name: str, every: float, signal: Signal, digits: int, unit: str, truth: Truth | None = None) -> None:
        h.say(f"{root}/sensor/{name}/state", every, word(signal, digits), truth)
        kept(h, {f"{root}/sensor/{name}/unit_of_measurement": unit})

    def switch(name: str, state: str, truth: Truth | None = None) -> None:
        h.say(f"{root}/{name}/state", 60, state, truth)

    sensor("batterie_spannung", 5, volts, 2, "V", Truth(bank, VOLTS, "V"))
    sensor("batterie_strom", 5, amps, 1, "A", Truth(bank, AMPS, "A"))
    sensor("batterie_leistung", 5, multiplied(volts, amps), 0, "W", Truth(bank, WATTS, "W"))
    sensor("batterie_strang_a", 10, lambda t: share(t) * b.amps(t), 1, "A", Truth(bank, STRING, "A"))
    sensor("batterie_strang_b", 10, lambda t: (1 - share(t)) * b.amps(t), 1, "A", Truth(bank, STRING, "A"))
    sensor("batterie_saeuretemperatur", 30, read(h, b.acid, 0.03), 1, "°C", Truth(bank, ACID, "degC"))
    switch("switch/batterie_lader", "on", Truth(bank, RELAY))
    h.say("heim/befehl/switch/batterie_lader", 260, "on")
    switch("fan/batterieraum_abluft", "on", Truth(bank, FAN))
    h.say("heim/befehl/fan/batterieraum_abluft", 290, "on")
    switch("binary_sensor/batterieraum_tuer", "off", Truth(bank, DOOR))
    # The inverter and the panels' controller look at the same terminals over their own wires.
    sensor("wechselrichter_batteriespannung", 15, lambda t: b.volts(t) - 0.003 * load(t) + 0.04, 1, "V")
    sensor("wechselrichter_ausgang", 15, lambda t: 0.91 * b.volts(t) * load(t), 0, "W")
    sensor("wechselrichter_kuehlkoerper", 30, drifting(h, 37.2, 0.8), 0, "°C")
    panel, sun = drifting(h, 84.1, 2.0), drifting(h, 2.3, 0.7)
    sensor("solarregler_batteriespannung", 15, scaled(b.volts, 1.0, 0.06), 1, "V")
    sensor("solarregler_modulspannung", 15, panel, 1, "V")
    sensor("solarregler_modulstrom", 15, sun, 1, "A")
    sensor("solarregler_leistung", 15, multiplied(panel, sun), 0, "W")
    beside = Truth(bank, AIR, "degC")
    for n, (middle, truth) in {
        1: (20.8, None),
        2: (9.1, None),
        3: (18.2, None),
        4: (16.1, beside),
        5: (13.0, None),
    }.items():
        sensor(f"funkfuehler_{n}", 60, h.around(middle, 0.2, 2600, 0.03), 1, "°C", truth)
    for phase, middle in {"l1": 232.1, "l2": 230.6, "l3": 231.9}.items():
        sensor(f"zaehler_{phase}_spannung", 10, drifting(h, middle, 1.3), 1, "V")
    sensor("zaehler_leistung", 10, h.steps(340, 890, 2410, dwell=75, sigma=9), 0, "W")
    sensor("gefrierschrank_leistung", 30, h.steps(1.4, 78, dwell=160, sigma=0.4), 1, "W")
    sensor("waschmaschine_leistung", 30, h.steps(60, 210, 2050, dwell=95, sigma=4), 0, "W")
    sensor("handy_forstamt_akku", 90, h.counter(57, -0.002), 0, "%")
    others: dict[str, tuple[float, float, float, int, str]] = {
        "pelletkessel_vorlauf": (30, 61.5, 1.5, 1, "°C"),
        "pelletkessel_abgas": (30, 118, 6, 0, "°C"),
        "warmwasser_oben": (60, 53.4, 0.3, 1, "°C"),
        "gefrierschrank_temperatur": (60, -18.4, 0.5, 1, "°C"),
        "wohnzimmer_temperatur": (90, 21.1, 0.2, 1, "°C"),
        "wohnzimmer_feuchte": (90, 47, 1, 0, "%"),
        "wetter_aussentemperatur": (60, 4.3, 0.3, 1, "°C"),
        "wetter_luftdruck": (60, 1011.4, 0.2, 1, "hPa"),
        "gelaendewagen_starterbatterie": (60, 12.66, 0.01, 2, "V"),
        "motorsaege_akku": (60, 41.3, 0.02, 1, "V"),
        "usv_batteriespannung": (30, 13.6, 0.02, 1, "V"),
        "router_cpu": (30, 52, 1.5, 0, "°C"),
    }
    for name, (every, middle, swing, digits, unit) in others.items():
        sensor(name, every, drifting(h, middle, swing), digits, unit)
    for name, state in {
        "light/flur": "off",
        "light/hof": "on",
        "switch/kaffeemaschine": "off",
        "binary_sensor/haustuer": "off",
        "binary_sensor/wildkamera_bewegung": "off",
        "climate/wohnzimmer": "heat",
        "lock/jagdschrank": "locked",
    }.items():
        switch(name, state)
    kept(h, {"heim/zustand/sensor/alte_batterie/state": "unavailable", "heim/status": "online"})
    return h


def vineyard() -> House:
    """48 V at a French vineyard, tapering; one object a device with units in the keys, plus is what is drawn."""
    bank, spare = "batterie", "secours"
    h = House("vineyard", 9202, bank, {bank: 24, spare: 12})
    load = h.steps(4.0, 4.0, 9.2, 21.0, dwell=110, sigma=0.1)
    b = wet(h, 24, 610, Feed(lambda _t: 75.0, 2.60), load=load, full=0.918, acid=31.2, air=15.0)
    volts, amps = read(h, b.volts, 0.02), read(h, b.amps, 0.1)
    h.say(
        "domaine/chai/batterie",
        5,
        body(
            {
                "horodatage": clock,
                "tension_V": (volts, 2),
                "courant_A": (scaled(amps, -1.0), 1),
                "puissance_W": (scaled(multiplied(volts, amps), -1.0), 0),
                "electrolyte_C": (read(h, b.acid, 0.04), 1),
                "local_C": (h.around(15.2, 0.2, 2600, 0.03), 1),
            }
        ),
        {
            "/tension_V": Truth(bank, VOLTS, "V"),
            "/courant_A": Truth(bank, AMPS, "A", DRAWN),
            "/puissance_W": Truth(bank, WATTS, "W", DRAWN),
            "/electrolyte_C": Truth(bank, ACID, "degC"),
            "/local_C": Truth(bank, AIR, "degC"),
        },
    )
    blocks = parts(h, b.volts, 8, 8, 0.008, 0.004)
    h.say(
        "domaine/chai/batterie/blocs",
        20,
        body({f"bloc{n}_V": (block, 3) for n, block in enumerate(blocks, 1)}),
        {f"/bloc{n}_V": Truth(bank, BLOCK, "V") for n in range(1, 9)},
    )
    h.say(
        "domaine/chai/air",
        30,
        body({"hydrogene_ppm": (h.around(1350, 160, 800, 25), 0), "extracteur": "marche"}),
        {"/hydrogene_ppm": Truth(bank, HYDROGEN, "ppm"), "/extracteur": Truth(bank, FAN)},
    )
    mains_v, mains_a, mains_w = before_charger(h, lambda t: b.volts(t) * b.fed(t), 233.0)
    h.say(
        "domaine/prises/chargeur",
        15,
        body({"etat": "marche", "tension_V": (mains_v, 0), "courant_A": (mains_a, 2), "puissance_W": (mains_w, 0)}),
        {"/etat": Truth(bank, RELAY)},
    )
    h.say("domaine/prises/chargeur/ordre", 270, "marche")
    # The emergency lamps of the vat house: their bank only floats.
    s = wet(h, 12, 65, Feed(lambda _t: 4.0, 2.26), load=h.around(0.3, 0.03, 500, 0.01), full=0.99, acid=14.6, air=14.5)
    h.say(
        "domaine/cuverie/secours",
        30,
        body({"tension_V": (read(h, s.volts, 0.005), 2), "courant_A": (scaled(read(h, s.amps, 0.005), -1.0), 2)}),
        {"/tension_V": Truth(spare, VOLTS, "V"), "/courant_A": Truth(spare, AMPS, "A", DRAWN)},
    )
    h.say(
        "domaine/onduleur",
        10,
        body(
            {
                "entree_dc_V": (lambda t: b.volts(t) - 0.004 * load(t) - 0.05, 1),
                "sortie_V": (drifting(h, 230.0, 0.4), 1),
                "charge_W": (lambda t: 0.92 * b.volts(t) * load(t), 0),
                "radiateur_C": (drifting(h, 35.0, 1.0), 0),
                "mode": "autonome",
            }
        ),
    )
    h.say(
        "ecran/accueil",
        30,
        body(
            {"batterie": {"v": (read(h, volts, 0.0, 5), 1), "a": (read(h, scaled(amps, -1.0), 0.0, 5), 0)}, "page": 2}
        ),
    )
    for n in range(1, 9):
        stranger(
            h,
            f"domaine/cuverie/cuve{n}",
            60,
            {"mout_C": (h.chance.uniform(15, 24), 0.2, 1), "densite": (h.chance.uniform(994, 1040), 0.5, 0)},
            vanne="fermee",
        )
    for n in (1, 2):
        stranger(
            h,
            f"domaine/toit/chaine{n}",
            15,
            {"tension_V": (128.0 + 3 * n, 3.0, 1), "courant_A": (3.1, 0.9, 1), "production_kWh": (1.9, 0.0, 2)},
        )
    for name, (volt, amp) in {"pressoir": (398.0, 6.1), "groupe_froid": (399.0, 8.8), "pompe": (232.0, 2.4)}.items():
        stranger(
            h, f"domaine/machines/{name}", 20, {"tension_V": (volt, 2.0, 0), "courant_A": (amp, 0.7, 1)}, defaut=False
        )
    for n in range(1, 4):
        stranger(
            h,
            f"domaine/compteur/phase{n}",
            10,
            {"tension_V": (232.5, 1.4, 1), "courant_A": (6.3, 2.4, 1), "puissance_W": (1400, 520, 0)},
        )
    stranger(
        h,
        "domaine/enjambeur",
        20,
        {
            "pack_V": (51.9, 0.1, 1),
            "pack_A": (-8.1, 2.0, 1),
            "cellules_max_C": (23.0, 0.3, 0),
            "charge_pct": (58, 1, 0),
        },
        chimie="LFP",
    )
    stranger(h, "domaine/tracteur", 60, {"demarrage_V": (12.71, 0.01, 2), "gazole_pct": (44, 0.1, 0)})
    for n in range(1, 6):
        stranger(
            h,
            f"domaine/parcelles/{n}",
            120,
            {"sol_C": (9.0 + n / 5, 0.1, 1), "sol_pct": (31, 1, 0), "pile_V": (3.58, 0, 2)},
        )
    stranger(
        h, "domaine/meteo", 60, {"air_C": (8.8, 0.3, 1), "pression_hPa": (1006.2, 0.2, 1), "vent_ms": (3.2, 1.2, 1)}
    )
    for room, middle in {"salon": 20.4, "cuisine": 21.2, "bureau": 19.6, "caveau": 13.1, "chambre": 18.3}.items():
        stranger(h, f"maison/{room}", 120, {"temperature_C": (middle, 0.2, 1), "humidite_pct": (55, 1, 0)})
        states(h, 200, {f"maison/{room}/lampe": "eteinte", f"maison/{room}/volet": "ouvert"})
    stranger(h, "maison/thermostat", 60, {"mesure_C": (20.3, 0.2, 1), "consigne_C": (20.5, 0, 1)}, chauffe="oui")
    stranger(h, "maison/congelateur", 60, {"temperature_C": (-19.2, 0.5, 1), "puissance_W": (81, 6, 0)})
    stranger(h, "maison/lave_linge", 30, {"puissance_W": (290, 120, 0), "eau_C": (40, 1, 0)}, reste_min=38)
    stranger(h, "maison/onduleur_bureau", 30, {"secteur_V": (232, 1.2, 0), "batterie_V": (27.3, 0.02, 1)}, etat="ligne")
    states(h, 150, {"domaine/portail": "ferme", "domaine/portail/ordre": "rien", "domaine/barriere": "levee"})
    for name in ("lave_vaisselle", "cave_a_vin", "pompe_piscine", "atelier"):
        plug(h, f"domaine/prises/{name}", 232.0)
    coin_cells(h, "maison/ouvertures", ("entree", "garage", "chai"))
    router(h, "reseau/box", ("temperature", "charge", "duree", "debit"))
    phone(h, "telephones/maitre_de_chai")
    kept(h, {"domaine/chai/ancienne_batterie": {"tension_V": 50.2, "courant_A": 0.0, "note": "deposee"}})
    return h


def fjord_cabin() -> House:
    """12 V in a Norwegian cabin, crusted plates that wake at the ceiling; one value a topic, slow, no unit anywhere."""
    bank = "batteribank"
    h = House("fjord cabin", 9203, bank, {bank: 6})
    load = h.steps(0.4, 0.4, 0.9, 2.1, dwell=130, sigma=0.01)
    b = wet(h, 6, 190, Feed(lambda _t: 9.5, 2.58), load=load, full=0.46, acid=9.8, air=7.0, sulphate=0.28)
    volts, amps = read(h, b.volts, 0.004), read(h, b.amps, 0.012)
    root = "hytte/batteribank"
    h.say(f"{root}/spenning", 30, word(volts, 2), Truth(bank, VOLTS, "V"))
    h.say(f"{root}/strom", 30, word(amps, 2), Truth(bank, AMPS, "A"))
    h.say(f"{root}/effekt", 30, word(multiplied(volts, amps), 1), Truth(bank, WATTS, "W"))
    h.say(f"{root}/midtpunkt", 60, word(scaled(volts, 0.5, -0.07), 2), Truth(bank, MIDDLE, "V"))
    h.say(f"{root}/syretemperatur", 60, word(read(h, b.acid, 0.03), 1), Truth(bank, ACID, "degC"))
    h.say(f"{root}/fase", 60, "vekking")
    mains_v, mains_a, mains_w = before_charger(h, lambda t: b.volts(t) * b.fed(t), 228.0)
    h.say("hytte/batterilader/status", 60, "på", Truth(bank, RELAY))
    h.say("hytte/batterilader/kommando", 290, "på")
    h.say("hytte/batterilader/spenning", 60, word(mains_v, 0))
    h.say("hytte/batterilader/strom", 60, word(mains_a, 2))
    h.say("hytte/batterilader/effekt", 60, word(mains_w, 0))
    # Chips on one wire; 31c4 hangs in the battery shed's air.
    for chip, middle in {"28_0b7e": 11.9, "28_31c4": 7.1, "28_44d0": 24.5, "28_9a12": 5.2, "28_c80f": 14.8}.items():
        truth = Truth(bank, AIR, "degC") if chip == "28_31c4" else None
        h.say(f"hytte/temp/{chip}", 60, word(h.around(middle, 0.2, 2700, 0.03), 2), truth)
    h.say("hytte/solregulator/batteri", 60, word(scaled(b.volts, 1.0, -0.03), 1))
    h.say("sms/sist/spenning", 60, word(read(h, volts, 0.0, 60), 1))
    states(h, 120, {"sms/sist/mottaker": "naust", "sms/sist/status": "sendt"})
    strangers(
        h,
        60,
        {
            "hytte/solregulator/panel": (19.8, 0.8, 1),
            "hytte/solregulator/panelstrom": (0.3, 0.1, 2),
            "hytte/solregulator/dagens": (0.06, 0.0, 2),
            "hytte/solregulator/intern": (13.2, 0.4, 0),
            "hytte/aggregat/startbatteri": (12.81, 0.01, 2),
            "hytte/aggregat/frekvens": (49.7, 0.2, 1),
            "hytte/aggregat/kjolevann": (78, 1.2, 0),
            "hytte/aggregat/diesel": (63, 0.2, 0),
            "hytte/aggregat/timer": (1182.4, 0, 1),
            "hytte/vedovn/royk": (204, 14, 0),
            "hytte/vedovn/vann": (58.4, 1, 1),
            "hytte/vanntank/niva": (71, 0.3, 0),
            "hytte/vanntank/temperatur": (6.1, 0.1, 1),
            "hytte/vannpumpe/trykk": (2.4, 0.2, 1),
            "hytte/kjoleskap/temperatur": (4.3, 0.4, 1),
            "hytte/fryseboks/temperatur": (-15.9, 0.5, 1),
            "hytte/stue/temperatur": (19.7, 0.3, 1),
            "hytte/stue/fukt": (41, 1, 0),
            "hytte/sovehems/temperatur": (17.2, 0.2, 1),
            "hytte/gang/temperatur": (10.6, 0.2, 1),
            "hytte/bad/temperatur": (21.0, 0.2, 1),
            "hytte/bad/fukt": (63, 2, 0),
            "hytte/termostat/malt": (19.6, 0.2, 1),
            "hytte/termostat/settpunkt": (20.0, 0, 1),
            "hytte/termostat/pille": (2.91, 0, 2),
        },
    )
    strangers(
        h,
        45,
        {
            "brygge/flo/niva": (112, 2, 0),
            "brygge/sjo/temperatur": (7.4, 0.1, 1),
            "brygge/varstasjon/luft": (3.1, 0.3, 1),
            "brygge/varstasjon/trykk": (998.2, 0.2, 1),
            "brygge/varstasjon/vind": (6.7, 2, 1),
            "brygge/varstasjon/kast": (10.4, 2, 1),
            "brygge/varstasjon/nedbor": (1.4, 0, 1),
            "brygge/sjark/startbatteri": (12.58, 0.01, 2),
            "brygge/sjark/lensepumpe": (0, 0, 0),
        },
    )
    lithium(h, "brygge/elbat", 8, ("spenning", "strom", "ladning", "temperatur", "celle_{}"))
    states(
        h,
        120,
        {
            "hytte/dor/hoved": "lukket",
            "hytte/dor/bod": "lukket",
            "hytte/lys/stue": "på",
            "hytte/lys/tun": "av",
            "hytte/panelovn/bad": "av",
            "hytte/panelovn/bad/kommando": "av",
            "hytte/vannpumpe/status": "av",
            "hytte/aggregat/status": "går",
            "hytte/alarm": "hjemme",
        },
    )
    router(h, "hytte/ruter", ("temp", "last", "oppetid", "fart"))
    phone(h, "telefon/hytteeier")
    kept(h, {"hytte/gammel_bank/spenning": "11.90", "hytte/gammel_bank/strom": "0.00", "hytte/status": "tilkoblet"})
    return h


def sawmill() -> House:
    """80 V of a Polish sawmill's lift truck, held; a controller's data blocks with short names and a kept unit list."""
    bank = "wozek"
    h = House("sawmill", 9204, bank, {bank: 40})
    b = wet(h, 40, 480, Feed(h.around(21.5, 0.07, 900, 0.02)), full=0.995, acid=37.9, air=13.0)
    volts, amps, acid = read(h, b.volts, 0.03, 2), read(h, b.amps, 0.05, 2), read(h, b.acid, 0.04)
    root = "plc/tartak"
    h.say(
        f"{root}/db12",
        2,
        body(
            {
                "U_bat": (volts, 2),
                "I_bat": (amps, 2),
                "P_bat": (scaled(multiplied(volts, amps), 0.001), 3),
                "T_kwas": (acid, 1),
                "T_pom": (h.around(13.4, 0.2, 2800, 0.03), 1),
                "H2": (h.around(2900, 300, 800, 45), 0),
                "licznik": lambda t: int(81200 + t // 2),
            }
        ),
        {
            "/U_bat": Truth(bank, VOLTS, "V"),
            "/I_bat": Truth(bank, AMPS, "A"),
            "/P_bat": Truth(bank, WATTS, "kW"),
            "/T_kwas": Truth(bank, ACID, "degC"),
            "/T_pom": Truth(bank, AIR, "degC"),
            "/H2": Truth(bank, HYDROGEN, "ppm"),
        },
    )
    kept(
        h,
        {
            f"{root}/db12/opis": {
                "U_bat": "napięcie baterii wózka [V]",
                "I_bat": "prąd ładowania [A]",
                "P_bat": "moc [kW]",
                "T_kwas": "temperatura elektrolitu [°C]",
                "T_pom": "temperatura ładowni [°C]",
                "H2": "wodór w ładowni [ppm]",
            },
            f"{root}/db13/opis": "ogniwa kontrolne 4, 11, 18, 25, 32, 39 [V]",
        },
    )
    cells = parts(h, b.volts, 6, 40, 0.015, 0.002)
    h.say(
        f"{root}/db13",
        20,
        body({"ogniwa": [(cell, 3) for cell in cells]}),
        {f"/ogniwa/{n}": Truth(bank, CELL, "V") for n in range(6)},
    )
    # The charger's contactor hangs on output 0.5; which output does what stands on paper in the cabinet.
    outputs = {
        f"Q{byte}_{bit}": int((byte, bit) in {(0, 0), (0, 5), (0, 6), (1, 2)}) for byte in (0, 1) for bit in range(8)
    }
    h.say(f"{root}/wyjscia", 10, body(dict(outputs)), {"/Q0_5": Truth(bank, RELAY)})
    h.say(f"{root}/wyjscia/rozkaz", 270, {"Q0_5": 1})
    h.say(f"{root}/ladownia/wentylator", 30, "praca", Truth(bank, FAN))
    h.say(f"{root}/ladownia/brama", 30, "zamknięta", Truth(bank, DOOR))
    h.say(
        "biuro/tablica",
        30,
        body(
            {
                "wozek": {"U": (read(h, volts, 0.0, 10), 1), "I": (read(h, amps, 0.0, 10), 0), "kwas": (acid, 0)},
                "zmiana": 2,
                "komunikat": "ładowanie wyrównawcze",
            }
        ),
    )
    stranger(
        h,
        f"{root}/db20",
        5,
        {"n_pily": (2840, 12, 0), "I_pily": (38.1, 6.0, 1), "T_loz": (51.2, 1.0, 1), "posuw": (22.4, 3.0, 1)},
        tryb="auto",
    )
    stranger(h, f"{root}/db21", 5, {"I_odciag": (14.4, 0.6, 1), "dp_filtr": (8.1, 0.5, 1), "T_silnik": (63, 1, 1)})
    stranger(
        h,
        f"{root}/db22",
        10,
        {"T_susz_1": (58.3, 0.5, 1), "T_susz_2": (57.6, 0.5, 1), "wilg": (44, 1, 1), "T_tarcica": (41.9, 0.3, 1)},
    )
    stranger(h, f"{root}/db23", 10, {"P_hydr": (162, 4, 0), "T_olej": (46.8, 0.7, 1), "poziom": (78, 0.2, 0)})
    stranger(
        h,
        f"{root}/db30",
        5,
        {
            "U_L1": (231.4, 1.5, 1),
            "U_L2": (229.8, 1.5, 1),
            "U_L3": (232.6, 1.5, 1),
            "I_L1": (61.0, 8.0, 1),
            "I_L2": (58.2, 8.0, 1),
            "I_L3": (64.7, 8.0, 1),
            "P": (38.4, 5.0, 2),
            "f": (50.0, 0.02, 2),
        },
    )
    kept(h, {f"{root}/db30/opis": "rozdzielnia główna, U [V], I [A], P [kW], f [Hz]"})
    stranger(h, f"{root}/db31", 10, {"U_24": (24.2, 0.02, 2), "I_24": (3.3, 0.2, 2), "T_szafy": (31.5, 0.5, 1)})
    strangers(
        h,
        30,
        {
            f"{root}/kompresor/cisnienie": (7.6, 0.3, 2),
            f"{root}/kompresor/temperatura": (71, 2, 0),
            f"{root}/kotlownia/zasilanie": (72.4, 1.4, 1),
            f"{root}/kotlownia/powrot": (55.9, 1.1, 1),
            f"{root}/kotlownia/spaliny": (163, 8, 0),
            f"{root}/silos/trociny": (52, 0.4, 0),
            f"{root}/waga/masa": (0, 0, 0),
            f"{root}/ladownia/prostownik/siec": (400.2, 2, 0),
            f"{root}/ladownia/prostownik/radiator": (48.5, 1.2, 1),
            f"{root}/koparka/akumulator": (25.6, 0.02, 1),
            f"{root}/koparka/paliwo": (61, 0.1, 0),
        },
    )
    # The second truck runs on lithium and is out in the yard.
    stranger(
        h,
        "plac/wozek_litowy",
        10,
        {
            "U": (83.1, 0.3, 1),
            "I": (-44.0, 18.0, 0),
            "SOC": (69, 1, 0),
            "T": (24.6, 0.3, 1),
            "ogniwo_min": (3.291, 0.004, 3),
        },
        stan="jazda",
    )
    for room, middle in {"salon": 21.0, "kuchnia": 21.8, "sypialnia": 18.9, "lazienka": 22.7, "piwnica": 12.2}.items():
        strangers(h, 120, {f"dom/{room}/temperatura": (middle, 0.2, 1), f"dom/{room}/wilgotnosc": (51, 1, 0)})
        states(h, 180, {f"dom/{room}/swiatlo": "wyl"})
    for name in ("pralka", "zmywarka", "zamrazarka"):
        plug(h, f"dom/gniazdka/{name}", 230.0)
        states(h, 120, {f"dom/gniazdka/{name}/stan": "ON"})
    strangers(
        h,
        60,
        {
            "dom/pogoda/temperatura": (2.2, 0.3, 1),
            "dom/pogoda/cisnienie": (1018.3, 0.2, 1),
            "dom/pogoda/wiatr": (3.3, 1, 1),
            "dom/zamrazarka/temperatura": (-20.1, 0.5, 1),
            "dom/fotowoltaika/napiecie": (412, 9, 0),
            "dom/fotowoltaika/prad": (2.1, 0.6, 1),
            "dom/fotowoltaika/moc": (870, 240, 0),
            "dom/ups/akumulator": (13.62, 0.02, 2),
            "dom/ups/obciazenie": (17, 1, 0),
            "dom/rower/bateria": (39.4, 0.03, 1),
        },
    )
    homie_thermostat(h, "homie/5/termostat-salon")
    states(h, 150, {"brama/stan": "zamknieta", "brama/rozkaz": "brak", "dom/alarm": "rozbrojony"})
    starter(h, "garaz/auto/akumulator")
    coin_cells(h, "dom/czujki", ("wejscie", "taras", "garaz"))
    router(h, "siec/router", ("temperatura", "obciazenie", "czas", "ruch"))
    phone(h, "telefon/kierownik")
    return h


def goat_dairy() -> House:
    """36 V of a Spanish dairy's feed cart, the charger cut while one listens; text with units, one value a topic."""
    bank = "carro"
    h = House("goat dairy", 9205, bank, {bank: 18})
    cut = 264.0
    b = wet(
        h,
        18,
        240,
        Feed(h.around(13.2, 0.05, 900, 0.01), on=until(cut)),
        load=h.steps(0.2, 0.2, 0.9, dwell=100, sigma=0.01),
        full=0.985,
        acid=41.8,
        air=19.0,
    )
    volts, amps = read(h, b.volts, 0.01), read(h, b.amps, 0.02)
    root = "granja/carro/bateria"
    h.say(f"{root}/tension", 5, word(volts, 2, "{} V"), Truth(bank, VOLTS, "V"))
    h.say(f"{root}/corriente", 5, word(amps, 2, "{} A"), Truth(bank, AMPS, "A"))
    h.say(f"{root}/potencia", 5, word(multiplied(volts, amps), 0, "{} W"), Truth(bank, WATTS, "W"))
    h.say(f"{root}/acido", 30, word(read(h, b.acid, 0.03), 1, "{} °C"), Truth(bank, ACID, "degC"))
    for n, block in enumerate(parts(h, b.volts, 3, 3, 0.007, 0.005), 1):
        h.say(f"{root}/bloque{n}", 15, word(block, 2, "{} V"), Truth(bank, BLOCK, "V"))
    mains_v, mains_a, mains_w = before_charger(h, lambda t: b.volts(t) * b.fed(t), 229.0)
    h.say("granja/enchufe_cargador/estado", 15, lambda t: "encendido" if t < cut else "apagado", Truth(bank, RELAY))
    h.say("granja/enchufe_cargador/orden", 130, lambda t: "encender" if t < cut else "apagar")
    h.say("granja/enchufe_cargador/tension", 15, word(mains_v, 1, "{} V"))
    h.say("granja/enchufe_cargador/corriente", 15, word(mains_a, 2, "{} A"))
    h.say("granja/enchufe_cargador/potencia", 15, word(mains_w, 1, "{} W"))
    h.say("granja/cobertizo/extractor", 60, "encendido", Truth(bank, FAN))
    h.say("tablero/cuadra/carro_tension", 20, word(read(h, volts, 0.0, 5), 1, "{} V"))
    h.say("tablero/cuadra/carro_corriente", 20, word(read(h, amps, 0.0, 5), 1, "{} A"))
    states(h, 60, {"tablero/cuadra/turno": "tarde", "tablero/cuadra/aviso": "ninguno"})
    # Probes of a cheap weather station, by channel; the sixth was put on the shelf over the cart.
    above = Truth(bank, AIR, "degC")
    for channel, (middle, truth) in {
        1: (12.4, None),
        2: (17.1, None),
        3: (4.1, None),
        5: (22.3, None),
        6: (19.1, above),
    }.items():
        warm = h.around(middle, 0.2, 2500, 0.04)
        h.say(f"rf/canal_{channel}/temperatura", 50, word(warm, 1, "{} °C"), truth)
        h.say(f"rf/canal_{channel}/pila", 120, "bien")
    strangers(
        h,
        20,
        {
            "granja/ordeño/vacio": (42.1, 0.6, 1),
        },
        "{} kPa",
    )
    strangers(
        h,
        30,
        {
            "granja/tanque_leche/temperatura": (3.8, 0.2, 1),
            "granja/ordeño/agua_lavado": (61.0, 1.5, 1),
            "granja/quesera/temperatura": (11.9, 0.2, 1),
            "granja/cuba/temperatura": (32.4, 0.2, 1),
            "granja/paridera/suelo": (24.0, 0.3, 1),
            "casa/salon/temperatura": (20.6, 0.2, 1),
            "casa/cocina/temperatura": (21.5, 0.3, 1),
            "casa/dormitorio/temperatura": (18.0, 0.2, 1),
            "casa/caldera/ida": (58.2, 1.2, 1),
            "casa/caldera/retorno": (49.0, 1.0, 1),
            "casa/congelador/temperatura": (-18.7, 0.5, 1),
            "casa/termostato/medida": (20.5, 0.2, 1),
            "casa/termostato/consigna": (20.5, 0.0, 1),
            "casa/tejado/agua_solar": (37.0, 0.8, 1),
            "exterior/aire": (9.9, 0.3, 1),
        },
        "{} °C",
    )
    strangers(
        h,
        60,
        {
            "casa/salon/humedad": (44, 1, 0),
            "granja/quesera/humedad": (86, 1, 0),
            "granja/tanque_leche/llenado": (57, 0.5, 0),
            "casa/patinete/carga": (83, 0.3, 0),
            "casa/movil_abuelo/carga": (48, 0.2, 0),
            "casa/deposito_gasoil/nivel": (39, 0.1, 0),
        },
        "{} %",
    )
    strangers(
        h,
        20,
        {
            "casa/contador/tension": (230.9, 1.4, 1),
            "casa/tejado/placas_tension": (311.0, 8.0, 1),
            "casa/patinete/tension": (40.6, 0.05, 2),
            "granja/pastor_electrico/bateria": (12.38, 0.01, 2),
            "granja/tractor/arranque": (12.74, 0.01, 2),
            "casa/sai/bateria": (13.7, 0.02, 1),
            "granja/dron/pila": (15.92, 0.02, 2),
        },
        "{} V",
    )
    strangers(
        h,
        20,
        {
            "casa/contador/corriente": (7.2, 2.6, 2),
            "casa/tejado/placas_corriente": (3.4, 1.0, 2),
            "casa/patinete/corriente": (1.8, 0.05, 2),
            "granja/ordeño/bomba_corriente": (9.1, 0.5, 2),
        },
        "{} A",
    )
    strangers(
        h,
        20,
        {
            "casa/contador/potencia": (1610, 540, 0),
            "casa/tejado/placas_potencia": (1050, 300, 0),
            "casa/lavadora/potencia": (330, 140, 0),
            "casa/congelador/potencia": (74, 6, 0),
        },
        "{} W",
    )
    strangers(h, 60, {"exterior/presion": (1016.6, 0.2, 1)}, "{} hPa")
    strangers(h, 60, {"exterior/viento": (11, 4, 0)}, "{} km/h")
    states(
        h,
        120,
        {
            "casa/lavadora/fase": "aclarado",
            "casa/puerta/entrada": "cerrada",
            "granja/puerta/paridera": "cerrada",
            "granja/ordeño/estado": "lavado",
            "granja/luz/patio": "apagada",
            "granja/luz/nave": "encendida",
            "granja/bomba_pozo/estado": "parada",
            "granja/bomba_pozo/orden": "parar",
            "casa/alarma": "desarmada",
        },
    )
    router(h, "red/router", ("temperatura", "carga", "activo", "trafico"))
    kept(h, {"granja/carro_viejo/bateria/tension": "23.90 V", "granja/carro_viejo/bateria/corriente": "0.00 A"})
    return h


def clock_workshop() -> House:
    """6 V that drives a tower clock's winder, resting; home-made boards that say single letters, no unit."""
    bank = "winder"
    h = House("clock workshop", 9206, bank, {bank: 3})
    b = wet(
        h,
        3,
        150,
        Feed(lambda _t: 7.0, 2.62, until(-720.0)),
        load=h.steps(0.15, 0.15, 0.15, 3.8, dwell=45, sigma=0.004),
        full=0.985,
        acid=30.6,
        air=14.0,
    )
    volts, amps = read(h, b.volts, 0.003), read(h, b.amps, 0.006)

    def board(name: str, every: float, letters: dict[str, tuple[Signal, int]]) -> None:
        for letter, (signal, digits) in letters.items():
            h.say(f"{name}/{letter}", every, word(signal, digits))
        beat = h.counter(h.chance.randrange(500000), 1.0)
        alive: dict[str, object] = {"up": (beat, 0), "rs": (drifting(h, h.chance.uniform(-80, -52), 2), 0)}
        h.say(f"{name}/s", 30, body(alive | {"hp": (drifting(h, 182000, 900), 0), "v": "0.9"}))
        h.say(f"{name}/on", 600, "1", retain=True)

    h.say("esp-7c2f/u", 2, word(volts, 3), Truth(bank, VOLTS, "V"))
    h.say("esp-7c2f/i", 2, word(amps, 3), Truth(bank, AMPS, "A"))
    h.say("esp-7c2f/p", 2, word(multiplied(volts, amps), 2), Truth(bank, WATTS, "W"))
    h.say("esp-7c2f/t0", 20, word(read(h, b.acid, 0.03), 2), Truth(bank, ACID, "degC"))
    h.say("esp-7c2f/t1", 20, word(h.around(14.3, 0.2, 2600, 0.03), 2), Truth(bank, AIR, "degC"))
    h.say("esp-7c2f/t2", 20, word(h.around(26.9, 0.3, 1400, 0.04), 2))
    h.say("esp-7c2f/q", 30, word(drifting(h, 164.2, 0.0), 1))
    h.say("esp-7c2f/r1", 30, "0")
    h.say("esp-7c2f/r1/w", 290, "0")
    h.say("esp-7c2f/r2", 30, "0", Truth(bank, RELAY))
    h.say("esp-7c2f/r2/w", 290, "0")
    kept(
        h,
        {
            "esp-7c2f/about": {"board": "winder battery", "u": "battery", "r1": "bell lamp", "r2": "charger"},
            "esp-12aa/about": {"board": "bench supply"},
            "esp-91d0/about": {"board": "lathe"},
            "esp-3e07/about": {"board": "allotment pump, lithium"},
            "esp-c4b8/about": {"board": "house"},
        },
    )
    board("esp-7c2f", 30, {})
    supply_v, supply_a = drifting(h, 6.02, 0.01), h.steps(0.1, 0.45, dwell=70, sigma=0.004)
    board("esp-12aa", 5, {"u": (supply_v, 3), "i": (supply_a, 3), "p": (multiplied(supply_v, supply_a), 2)})
    board(
        "esp-91d0",
        10,
        {
            "n": (h.steps(0, 620, 900, dwell=100, sigma=2), 0),
            "i": (drifting(h, 2.8, 0.6), 2),
            "t": (drifting(h, 33, 1), 1),
        },
    )
    board(
        "esp-3e07",
        20,
        {
            "u": (drifting(h, 13.21, 0.02), 2),
            "i": (h.steps(0.02, -2.9, dwell=120, sigma=0.02), 2),
            "a": (drifting(h, 18.6, 0.6), 2),
            "h": (drifting(h, 44, 0.5), 1),
        },
    )
    board(
        "esp-c4b8",
        30,
        {
            "t0": (drifting(h, 20.4, 0.2), 2),
            "t1": (drifting(h, 17.8, 0.2), 2),
            "t2": (drifting(h, 12.6, 0.2), 2),
            "h0": (drifting(h, 52, 1), 1),
            "lx": (drifting(h, 210, 30), 0),
        },
    )
    board("esp-oled", 60, {"k": (drifting(h, 4.0, 0.0), 0)})
    h.say(
        "esp-oled/l",
        10,
        body({"a": (read(h, volts, 0.0, 4), 2), "b": (read(h, amps, 0.0, 4), 1), "c": "resting", "d": "14:06"}),
    )
    strangers(h, 1, {"clock/pendulum/period": (1.9998, 0.0002, 5)})
    strangers(h, 10, {"clock/pendulum/amplitude": (3.41, 0.02, 3), "clock/pendulum/case": (13.9, 0.1, 2)})
    states(h, 60, {"clock/strike": "idle", "clock/hands": "running", "clock/drift": "+0.4"})
    strangers(
        h,
        10,
        {"mtr/u": (241.2, 1.3, 1), "mtr/i": (2.1, 1.0, 2), "mtr/p": (470, 220, 0), "mtr/f": (50.0, 0.02, 2)},
    )
    strangers(
        h,
        60,
        {
            "wx/t": (6.6, 0.3, 1),
            "wx/h": (82, 1, 0),
            "wx/b": (1002.9, 0.2, 1),
            "wx/w": (4.1, 1.5, 1),
            "frz/t": (-18.9, 0.5, 1),
            "frz/p": (63, 5, 0),
            "boil/f": (55.1, 1, 1),
            "boil/r": (46.7, 1, 1),
            "stat/t": (20.1, 0.2, 1),
            "stat/s": (20.0, 0, 1),
            "van/b": (12.69, 0.01, 2),
            "bike/b": (38.2, 0.02, 1),
            "ups/b": (13.61, 0.02, 2),
            "ups/l": (11, 1, 0),
            "ups/m": (241, 1, 0),
        },
    )
    for name in ("wash", "kettle", "drier"):
        plug(h, f"skt/{name}", 241.0)
        states(h, 120, {f"skt/{name}/st": "1", f"skt/{name}/cm": "1"})
    states(h, 150, {"lamp/shop": "1", "lamp/hall": "0", "lamp/yard": "0", "door/shop": "shut", "door/tower": "shut"})
    coin_cells(h, "pir", ("shop", "stair"))
    router(h, "rtr", ("t", "l", "u", "r"))
    phone(h, "ph/1")
    kept(h, {"esp-0000/u": "4.981", "esp-0000/i": "0.000"})
    return h


def lock_house() -> House:
    """12 V at a canal lock, blocked since its fan stands; camel case, a hub's discovery, plus is what is drawn."""
    bank, gates = "batteryBank", "gateBank"
    h = House("lock house", 9207, bank, {bank: 6, gates: 12})
    load = h.steps(1.8, 1.8, 3.4, 8.6, dwell=75, sigma=0.03)
    off = Feed(lambda _t: 18.0, 2.6, until(-1500.0))
    b = wet(h, 6, 330, off, load=load, full=0.88, acid=21.9, air=12.0)
    volts, amps = read(h, b.volts, 0.005, 10), read(h, b.amps, 0.02, 10)
    h.say(
        "lockHouse/batteryBank",
        10,
        body(
            {
                "busVolts": (volts, 2),
                "netAmps": (scaled(amps, -1.0), 2),
                "netWatts": (scaled(multiplied(volts, amps), -1.0), 1),
                "midVolts": (scaled(volts, 0.5, 0.03), 2),
                "acidTemp": (read(h, b.acid, 0.03), 1),
                "stage": "blocked",
                "reason": "fanStopped",
            }
        ),
        {
            "/busVolts": Truth(bank, VOLTS, "V"),
            "/netAmps": Truth(bank, AMPS, "A", DRAWN),
            "/netWatts": Truth(bank, WATTS, "W", DRAWN),
            "/midVolts": Truth(bank, MIDDLE, "V"),
            "/acidTemp": Truth(bank, ACID, "degC"),
        },
    )
    h.say(
        "lockHouse/batteryCupboard",
        30,
        body(
            {"airTemp": (h.around(12.3, 0.2, 2600, 0.03), 1), "hydrogen": (h.around(120, 14, 700, 4), 0), "lamp": False}
        ),
        {"/airTemp": Truth(bank, AIR, "degC"), "/hydrogen": Truth(bank, HYDROGEN, "ppm")},
    )
    h.say("lockHouse/batteryCupboard/fanState", 30, "OFF", Truth(bank, FAN))
    h.say("lockHouse/batteryCupboard/fanCommand", 140, "ON")
    h.say("lockHouse/batteryCupboard/doorState", 60, "CLOSED", Truth(bank, DOOR))
    h.say("lockHouse/chargerContactor/state", 30, "OFF", Truth(bank, RELAY))
    h.say("lockHouse/chargerContactor/command", 270, "OFF")
    for key, (name, unit, kind, topic) in {
        "busVolts": ("Battery bank voltage", "V", "voltage", "batteryBank"),
        "netAmps": ("Battery bank current, plus is drawn", "A", "current", "batteryBank"),
        "netWatts": ("Battery bank power, plus is drawn", "W", "power", "batteryBank"),
        "acidTemp": ("Battery bank electrolyte", "°C", "temperature", "batteryBank"),
        "airTemp": ("Battery cupboard air", "°C", "temperature", "batteryCupboard"),
        "hydrogen": ("Battery cupboard hydrogen", "ppm", "", "batteryCupboard"),
    }.items():
        entry = {
            "name": name,
            "state_topic": f"lockHouse/{topic}",
            "value_template": f"{{{{ value_json.{key} }}}}",
            "unit_of_measurement": unit,
            "unique_id": f"lockHouse_{key}",
        } | ({"device_class": kind} if kind else {})
        kept(h, {f"homeassistant/sensor/lockHouse/{key}/config": json.dumps(entry)})
    # The gates' hydraulic pumps have 24 V of their own, which its charger floats.
    g = wet(
        h,
        12,
        200,
        Feed(lambda _t: 15.0, 2.25),
        load=h.steps(0.4, 0.4, 0.4, 6.0, dwell=60, sigma=0.02),
        full=0.99,
        acid=11.2,
        air=11.0,
    )
    h.say(
        "lockHouse/gateBank",
        20,
        body({"busVolts": (read(h, g.volts, 0.008), 2), "netAmps": (scaled(read(h, g.amps, 0.02), -1.0), 2)}),
        {"/busVolts": Truth(gates, VOLTS, "V"), "/netAmps": Truth(gates, AMPS, "A", DRAWN)},
    )
    h.say(
        "wallPanel/state",
        30,
        body(
            {
                "bank": {"volts": (read(h, volts, 0.0, 10), 1), "amps": (read(h, scaled(amps, -1.0), 0.0, 10), 1)},
                "page": "home",
                "backlight": 40,
            }
        ),
    )
    for gate in ("upperGate", "lowerGate"):
        stranger(
            h,
            f"lock/{gate}",
            15,
            {"oilPressure": (61, 4, 0), "oilTemp": (17.4, 0.3, 1), "opening": (0, 0, 0)},
            moving=False,
        )
        states(h, 120, {f"lock/{gate}/order": "hold", f"lock/{gate}/lamp": "RED"})
    strangers(
        h,
        20,
        {
            "lock/upperLevel": (2.413, 0.01, 3),
            "lock/lowerLevel": (0.872, 0.01, 3),
            "lock/chamberLevel": (0.880, 0.01, 3),
            "lock/flowRate": (3.1, 0.3, 2),
            "lock/waterTemp": (7.3, 0.1, 1),
        },
    )
    states(h, 60, {"lock/traffic": "none", "lock/paddles": "down", "lock/boatsToday": 4})
    panel, sun = drifting(h, 37.4, 0.8), drifting(h, 0.6, 0.2)
    h.say(
        "jettySolar/controller",
        15,
        body(
            {
                "panelVolts": (panel, 1),
                "panelAmps": (sun, 2),
                "panelWatts": (multiplied(panel, sun), 1),
                "packVolts": (drifting(h, 26.5, 0.02), 2),
                "packAmps": (drifting(h, 0.8, 0.2), 2),
                "packSoc": (drifting(h, 91, 0.2), 0),
            }
        ),
    )
    cell = drifting(h, 3.312, 0.002)
    h.say("jettySolar/packCells", 30, body({f"cell{n}": (scaled(cell, 1.0, 0.001 * (n % 3)), 3) for n in range(1, 9)}))
    stranger(
        h,
        "workBoat/engine",
        60,
        {"starterVolts": (12.82, 0.01, 2), "coolantTemp": (11.0, 0.3, 1), "fuelLevel": (57, 0.1, 0)},
        running=False,
    )
    for name, watts in {"fridge": 64.0, "freezer": 82.0, "washer": 1900.0, "dehumidifier": 240.0}.items():
        volts_here, watts_here = drifting(h, 240.3, 1.3), h.steps(0.0, watts, dwell=115, sigma=0.5)
        h.say(
            f"sockets/{name}",
            20,
            body(
                {
                    "state": "ON",
                    "volts": (volts_here, 1),
                    "amps": (scaled(watts_here, 1 / 236.0), 2),
                    "watts": (watts_here, 1),
                }
            ),
        )
        states(h, 280, {f"sockets/{name}/set": "ON"})
    stranger(
        h,
        "gridMeter",
        10,
        {"lineVolts": (240.6, 1.4, 1), "lineAmps": (4.2, 1.8, 2), "lineWatts": (930, 380, 0)},
        tariff="day",
    )
    for room, middle in {"parlour": 20.2, "kitchen": 21.1, "bedroom": 17.9, "office": 19.4, "scullery": 14.2}.items():
        stranger(h, f"rooms/{room}", 90, {"airTemp": (middle, 0.2, 1), "humidity": (56, 1, 0), "cell": (2.94, 0, 2)})
        states(h, 180, {f"rooms/{room}/lamp": "OFF", f"rooms/{room}/motion": "NO"})
    stranger(h, "heating/thermostat", 60, {"measured": (20.1, 0.2, 1), "target": (20.0, 0, 1)}, calling=True)
    stranger(
        h, "heating/boiler", 30, {"flowTemp": (57.2, 1, 1), "returnTemp": (48.1, 1, 1), "pressure": (1.4, 0.01, 2)}
    )
    stranger(
        h,
        "weatherMast",
        30,
        {"airTemp": (5.8, 0.3, 1), "pressure": (1009.7, 0.2, 1), "windSpeed": (4.4, 1.6, 1)},
        rain=0.0,
    )
    stranger(h, "officeUps", 30, {"inputVolts": (240, 1.2, 0), "batteryVolts": (13.65, 0.02, 2), "load": (18, 1, 0)})
    stranger(h, "scooter", 60, {"packVolts": (48.9, 0.03, 1), "packAmps": (2.0, 0.05, 2), "soc": (74, 0.4, 0)})
    coin_cells(h, "contacts", ("frontDoor", "pumpShed", "towpathGate"))
    router(h, "router", ("cpuTemp", "load", "uptime", "downRate"))
    phone(h, "phones/keeper")
    phone(h, "phones/relief")
    kept(h, {"lockHouse/oldBank": {"busVolts": 12.44, "netAmps": 0.0}, "lockHouse/hub": "online"})
    return h


def tide_station() -> House:
    """24 V at a tide gauge, held; dotted names, quick, degrees Fahrenheit in the names, every cell told."""
    bank = "bank"
    h = House("tide station", 9208, bank, {bank: 12})
    b = wet(
        h,
        12,
        280,
        Feed(h.around(15.0, 0.05, 700, 0.02)),
        load=h.steps(1.1, 1.1, 1.9, dwell=70, sigma=0.01),
        full=0.99,
        acid=28.8,
        air=11.0,
    )
    volts, amps, acid = read(h, b.volts, 0.008), read(h, b.amps, 0.02), fahrenheit(read(h, b.acid, 0.03))
    root = "tide.power.bank"
    h.say(f"{root}.volts", 1, word(volts, 3), Truth(bank, VOLTS, "V"))
    h.say(f"{root}.amps", 1, word(amps, 2), Truth(bank, AMPS, "A"))
    h.say(f"{root}.watts", 1, word(multiplied(volts, amps), 1), Truth(bank, WATTS, "W"))
    h.say(f"{root}.half", 5, word(scaled(volts, 0.5, 0.05), 3), Truth(bank, MIDDLE, "V"))
    h.say(f"{root}.acid_f", 20, word(acid, 1), Truth(bank, ACID, "degF"))
    h.say(f"{root}.hut_air_f", 20, word(fahrenheit(h.around(11.2, 0.2, 2700, 0.03)), 1), Truth(bank, AIR, "degF"))
    for n, cell in enumerate(parts(h, b.volts, 12, 12, 0.012, 0.002), 1):
        h.say(f"{root}.cell.{n:02d}", 15, word(cell, 3), Truth(bank, CELL, "V"))
    h.say("tide.power.charger.relay", 30, "closed", Truth(bank, RELAY))
    h.say("tide.power.charger.relay.order", 240, "close")
    mains_v, mains_a, mains_w = before_charger(h, lambda t: b.volts(t) * b.fed(t), 119.0)
    h.say("tide.power.charger.line_v", 10, word(mains_v, 1))
    h.say("tide.power.charger.line_a", 10, word(mains_a, 2))
    h.say("tide.power.charger.line_w", 10, word(mains_w, 0))
    h.say("tide.power.hut.vent", 30, "running", Truth(bank, FAN))
    h.say("tide.power.hut.door", 30, "shut", Truth(bank, DOOR))
    # The panels are idle at this hour; their controller still sees the bank. The modem reports by the minute.
    h.say("tide.power.solar.out_v", 15, word(scaled(b.volts, 1.0, 0.09), 1))
    h.say("tide.modem.report.bank", 60, word(read(h, volts, 0.0, 60), 1))
    h.say("tide.modem.report.acid", 60, word(read(h, acid, 0.0, 60), 0))
    strangers(
        h,
        15,
        {
            "tide.power.solar.array_v": (21.3, 0.9, 1),
            "tide.power.solar.array_a": (0.0, 0.0, 2),
            "tide.power.solar.case_f": (58, 1, 0),
            "tide.modem.signal": (-81, 2, 0),
            "tide.modem.supply_v": (12.06, 0.01, 2),
            "tide.modem.case_f": (77, 1, 0),
        },
    )
    strangers(
        h,
        1,
        {"tide.gauge.level": (3.182, 0.06, 3), "tide.gauge.swell": (0.41, 0.15, 2)},
    )
    strangers(
        h,
        10,
        {
            "tide.gauge.water_f": (49.8, 0.1, 1),
            "tide.gauge.salinity": (31.4, 0.2, 1),
            "tide.gauge.backup_cell": (3.61, 0.0, 2),
            "tide.mast.air_f": (46.3, 0.4, 1),
            "tide.mast.inhg": (29.83, 0.01, 2),
            "tide.mast.knots": (13, 4, 0),
            "tide.mast.gust": (19, 4, 0),
            "tide.buoy.pack_v": (14.1, 0.02, 2),
            "tide.buoy.pack_a": (-0.22, 0.05, 2),
            "tide.buoy.lamp_ma": (310, 40, 0),
            "tide.launch.starter_v": (12.88, 0.01, 2),
            "tide.launch.lithium_v": (26.4, 0.04, 2),
            "tide.launch.lithium_a": (-3.1, 1.2, 1),
            "tide.launch.lithium_f": (61, 0.4, 0),
        },
    )
    strangers(
        h,
        15,
        {
            "cottage.panel.line_v": (119.6, 0.8, 1),
            "cottage.panel.line_a": (11.2, 4.0, 1),
            "cottage.panel.watts": (1290, 420, 0),
            "cottage.panel.hz": (60.0, 0.02, 2),
            "cottage.freezer.f": (-1.2, 0.8, 1),
            "cottage.freezer.watts": (92, 7, 0),
            "cottage.washer.watts": (380, 150, 0),
            "cottage.stat.f": (68.4, 0.3, 1),
            "cottage.stat.set_f": (68.0, 0.0, 1),
            "cottage.furnace.supply_f": (131, 2, 0),
            "cottage.furnace.return_f": (112, 2, 0),
            "cottage.well.psi": (48, 3, 0),
            "cottage.ups.line_v": (119, 1, 0),
            "cottage.ups.batt_v": (27.2, 0.02, 1),
            "cottage.ups.load": (22, 1, 0),
        },
    )
    for room, middle in {"kitchen": 69.8, "den": 68.2, "bunk": 63.1, "porch": 50.6}.items():
        strangers(h, 90, {f"cottage.{room}.f": (middle, 0.4, 1), f"cottage.{room}.rh": (51, 1, 0)})
        states(h, 180, {f"cottage.{room}.lamp": "off"})
    states(
        h,
        120,
        {
            "cottage.door.front": "shut",
            "cottage.door.back": "shut",
            "cottage.washer.stage": "spin",
            "cottage.pump.relay": "open",
            "cottage.pump.relay.order": "open",
            "tide.mast.lamp": "on",
            "tide.siren": "off",
            "tide.power.phase": "holding",
        },
    )
    homie_thermostat(h, "homie/5/bunk-stat")
    starter(h, "cottage.truck.battery")
    plug(h, "cottage.plug.coffee", 119.0)
    router(h, "cottage.net", ("f", "load", "uptime", "kbit"))
    phone(h, "phone.observer")
    kept(h, {"tide.spare.bank.volts": "25.31", "tide.spare.bank.amps": "0.00", "tide.status": "up"})
    return h


FRESH_M = (
    foresters_house,
    vineyard,
    fjord_cabin,
    sawmill,
    goat_dairy,
    clock_workshop,
    lock_house,
    tide_station,
)
