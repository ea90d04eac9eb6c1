"""Eight ordinary households, each with one flooded bank on, before or after its equalising round.

Two are in English (a cider orchard, a cattle station), one each in Italian, Dutch, Czech, Ukrainian, Finnish and
Brazilian Portuguese; the Ukrainian one says some of its topics and all its kept notes in Cyrillic. The banks have 3,
6, 12, 18, 24 and 60 cells in series. Four are held at about 2.67 V a cell (one with a pause of its timer), two take
bulk charge, one stands at rest because the mains are out, and one is blocked since its gas alarm.

The truth of a place stands beside its signal, as the owner would tell it. What no name, no kept note and no physics
tells has its Truth as well and stands in `ONLY_THE_OWNER_KNOWS`. What only says a place once more (a display, another
instrument on the same terminals) has no Truth and stands in `COPIES`. A place in key=value text is written like a
place in an object: ``/key``.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from functools import partial
from typing import NamedTuple

from tests.bench.households.things import (
    climate,
    coin_cells,
    homie_thermostat,
    lights,
    lithium,
    mains,
    phone,
    plug,
    router,
    solar,
    starter,
    weather,
)
from tests.bench.households.world import START, House, Signal, Truth

# What the quantities are called; each name stands only here.
VOLTS, AMPS, WATTS = "voltage", "current", "power"
ACID, AIR = "electrolyte_temperature", "ambient_temperature"
MIDDLE, BLOCK, CELL, STRING = "midpoint_voltage", "block_voltage", "cell_voltage", "string_current"
RELAY, FAN, DOOR, HYDROGEN = "relay_state", "fan", "door", "hydrogen"
DRAWN = "discharging"
# The units of whole-number registers: tenths of a volt, of an ampere, of a degree; hundredths of a volt.
TENTH_V, TENTH_A, TENTH_C, HUNDREDTH_V = "dV", "dA", "d°C", "cV"

#: House, topic, and the place in the payload ("" for all of it) that no one can tell from what is on the broker.
ONLY_THE_OWNER_KNOWS: frozenset[tuple[str, str, str]] = frozenset(
    {
        # A probe on the wire that never got into the list of names.
        ("woonark", "ark/1w/28ff6be2", ""),
        # A radio thermometer that lay about and was put on the battery shelf; the list still says "spare".
        ("cider orchard", "rf433/ch5/temp_F", ""),
        # The second probe of the board; the title says only which input it hangs on.
        ("khutir", "/devices/wall_adc/controls/ain4", ""),
        # Two registers behind the end of the written map.
        ("cattle station", "rtu/3/30021", ""),
        ("cattle station", "rtu/3/30022", ""),
        # An output of the switchboard's module, quiet like its neighbours.
        ("sitio", "casa/itens/Modulo2_Saida5/state", ""),
    }
)
#: House, topic, place: what is only said once more.
COPIES: frozenset[tuple[str, str, str]] = frozenset(
    {
        ("cider orchard", "shed/bench/node", "/posts"),
        ("rifugio", "casa/sensor/inverter_tensione_cc/state", ""),
        ("rifugio", "casa/sensor/regolatore_fv_tensione_batteria/state", ""),
        ("woonark", "ark/lader", "/uitgang/V"),
        ("woonark", "ark/omvormer", "/dc/V"),
        ("woonark", "ark/zon/accu", ""),
        ("woonark", "ark/scherm/stuurhut", "/accu"),
        ("chalupa", "tele/nabijecka_vozik/STATE", "/POWER"),
        ("chalupa", "prehled/vozik", "/napeti"),
        ("chalupa", "prehled/vozik", "/proud"),
        ("chalupa", "prehled/vozik", "/kyselina"),
        ("khutir", "дім/табло/акумулятор", ""),
        ("mökki", "mokki/aurinko/akkupuoli", ""),
        ("mökki", "mokki/laturi/ajastin", ""),
        ("mökki", "mokki/naytto/rivi2", "/V"),
        ("mökki", "mokki/naytto/rivi2", "/A"),
        ("cattle station", "rtu/1/30003", ""),
        ("cattle station", "kitchen/tablet/bank_volts", ""),
        ("cattle station", "kitchen/tablet/bank_amps", ""),
        ("sitio", "casa/itens/Inversor_TensaoCC/state", ""),
        ("sitio", "casa/itens/ControladorSolar_TensaoBateria/state", ""),
    }
)


class Flooded(NamedTuple):
    """A bank as its wires tell it: volts, amperes into it, watts, the acid's warmth, the charger's own amperes."""

    volts: Signal
    amps: Signal
    watts: Signal
    acid: Signal
    fed: Signal


def never(_t: float) -> float:
    """Give nothing, at any second."""
    return 0.0


def always(_t: float) -> bool:
    """Let it on, at any second."""
    return True


def flooded(
    house: House,
    cells: int,
    amp_hours: float,
    *,
    limit: Signal,
    gassing: float,
    acid: float,
    air: float,
    ceiling: float = 9.0,
    on: Callable[[float], bool] = always,
    load: Signal = never,
    open_cell: float = 2.13,
) -> Flooded:
    """Reckon a bank from an hour before anybody listens.

    The charger gives `limit` amperes at most and stops at `ceiling` volts a cell. `gassing` is the share of the
    amperes that splits water: these want a fifth of a volt more for every tenfold; the others want little. The
    plates answer in a minute, and in their depth in twenty.
    """
    step, before = 0.25, 3600
    hundreds = amp_hours / 100.0
    ohms = 0.0012 / hundreds

    def settles(amps: float, share: float) -> float:
        if amps <= 0.0:
            return -0.03 * math.asinh(-amps / (3.0 * hundreds))
        taking = 0.045 * math.asinh(amps / (2.0 * hundreds))
        return (1.0 - share) * taking + share * 0.2 * math.log10(1.0 + amps / (0.01 * hundreds))

    first = limit(-before) - load(-before) if on(-before) else -load(-before)
    whole = min(settles(first, gassing), ceiling - open_cell)
    quick, deep, fed, warm, share = 0.6 * whole, 0.4 * whole, 0.0, acid, gassing
    heard: list[tuple[float, float, float, float]] = []
    ticks = round(1 / step)
    for n in range(-before * ticks, (house.seconds + 2) * ticks):
        t = n * step
        inner = open_cell + quick + deep
        drawn = load(t)
        asked = max(0.0, min(limit(t), (ceiling - inner) / ohms + drawn)) if on(t) else 0.0
        fed += (asked - fed) * step / 1.2
        amps = fed - drawn
        if n == 0:
            warm = acid
        if n >= 0 and n % ticks == 0:
            heard.append((cells * (inner + ohms * amps), amps, warm, fed))
        goal = settles(amps, share)
        quick += (0.6 * goal - quick) * step / 60.0
        deep += (0.4 * goal - deep) * step / 1200.0
        share = min(1.0, share + max(0.0, amps) / hundreds * step / 250_000.0)
        heat = max(0.0, amps) * (share * max(0.0, inner - 1.48) + (1.0 - share) * 0.15)
        warm += step * (heat / (6800.0 * hundreds) - (warm - air) / 45_000.0)

    def wire(which: int) -> Signal:
        def at(t: float) -> float:
            second = min(max(t, 0.0), float(house.seconds))
            low = int(second)
            return heard[low][which] + (second - low) * (heard[low + 1][which] - heard[low][which])

        return at

    volts, into = wire(0), wire(1)
    return Flooded(volts, into, lambda t: volts(t) * into(t), wire(2), wire(3))


def times(signal: Signal, by: float, plus: float = 0.0) -> Signal:
    """Read a signal on another scale."""
    return lambda t: by * signal(t) + plus


def less(one: Signal, other: Signal) -> Signal:
    """Take one signal from another."""
    return lambda t: one(t) - other(t)


def product(one: Signal, other: Signal) -> Signal:
    """Make watts of volts and amperes."""
    return lambda t: one(t) * other(t)


def fahrenheit(signal: Signal) -> Signal:
    """Degrees Celsius told in degrees Fahrenheit."""
    return times(signal, 1.8, 32.0)


def seen(house: House, signal: Signal, sigma: float) -> Signal:
    """Read a signal by an instrument that hisses a little."""
    hiss = house.noise(sigma)
    return lambda t: signal(t) + hiss(t)


def shares(house: House, signal: Signal, leans: tuple[float, ...], sigma: float) -> list[Signal]:
    """Part a signal in pieces that are nearly alike and add up; a lean is how far a piece is off, in parts of one."""
    number, mean = len(leans), sum(leans) / len(leans)
    return [seen(house, times(signal, (1.0 + lean - mean) / number), sigma) for lean in leans]


def text(signal: Signal, digits: int = 1, form: str = "{}") -> Callable[[float], str]:
    """Say a number as text, in a form that may hold its unit."""
    return lambda t: form.format(f"{round(signal(t), digits) + 0.0:.{digits}f}")


class Leaf(NamedTuple):
    """A number in an object: its signal, its digits, and what is true of it."""

    signal: Signal
    digits: int = 1
    truth: Truth | None = None


class Told(NamedTuple):
    """A word in an object of which something is true."""

    what: object
    truth: Truth


def fill(shape: object, t: float) -> object:
    """Fill a shape of objects and lists for one second."""
    if isinstance(shape, Leaf):
        return round(shape.signal(t), shape.digits) + 0.0 if shape.digits else round(shape.signal(t))
    if isinstance(shape, Told):
        return fill(shape.what, t)
    if isinstance(shape, dict):
        return {key: fill(part, t) for key, part in shape.items()}
    if isinstance(shape, list):
        return [fill(part, t) for part in shape]
    return shape(t) if callable(shape) else shape


def truths_in(shape: object, at: str = "") -> dict[str, Truth]:
    """Gather what a shape tells, by the place."""
    if isinstance(shape, Leaf | Told):
        return {at: shape.truth} if shape.truth else {}
    if isinstance(shape, dict):
        entries = list(shape.items())
    elif isinstance(shape, list):
        entries = list(enumerate(shape))
    else:
        entries = []
    return {place: truth for key, part in entries for place, truth in truths_in(part, f"{at}/{key}").items()}


def body(house: House, topic: str, every: float, shape: dict[str, object] | list[object]) -> None:
    """Say one object or list."""
    house.say(topic, every, lambda t: fill(shape, t), truths_in(shape))


def pairs(house: House, topic: str, every: float, shape: dict[str, object], between: str = " ") -> None:
    """Say key=value text."""

    def says(t: float) -> str:
        parts = []
        for key, part in shape.items():
            value = f"{round(part.signal(t), part.digits) + 0.0:.{part.digits}f}" if isinstance(part, Leaf) else part
            parts.append(f"{key}={value}")
        return between.join(parts)

    house.say(topic, every, says, truths_in(shape))


Spans = dict[str, tuple[float, float, int]]


def wanders(house: House, middle: float, swing: float) -> Signal:
    """Let a number wander by `swing` about its middle."""
    return house.around(middle, swing, house.chance.uniform(400, 3200), 0.05 * swing)


def loose(house: House, every: float, spans: Spans, form: str = "{}") -> None:
    """Say numbers that have nothing to do with a bank, a topic each: the middle, the swing, the digits."""
    for topic, (middle, swing, digits) in spans.items():
        house.say(topic, every, text(wanders(house, middle, swing), digits, form))


def thing(house: House, topic: str, every: float, spans: Spans, **fixed: object) -> None:
    """Say a thing that has nothing to do with a bank, all in one object."""
    shape: dict[str, object] = dict(fixed)
    for key, (middle, swing, digits) in spans.items():
        shape[key] = Leaf(wanders(house, middle, swing), digits)
    body(house, topic, every, shape)


def words(house: House, every: float, said: dict[str, object]) -> None:
    """Let things keep saying one word."""
    for topic, what in said.items():
        house.say(topic, every, what)


def kept(house: House, notes: dict[str, object]) -> None:
    """Leave notes on the broker; what is no text is kept as JSON in its own script."""
    for topic, note in notes.items():
        house.say(topic, 600, note if isinstance(note, str) else json.dumps(note, ensure_ascii=False), retain=True)


def clock(t: float) -> int:
    """Epoch seconds, as a device stamps them."""
    return int(START + t)


def cider_orchard() -> House:
    """English, 6 V: an old tractor's battery with open straps, on a bench supply in the shed, held.

    The supply has its sense wires on the posts. A small board of the owner's own says its readings as key=value.
    """
    h = House("cider orchard", 2101, "tractor", {"tractor": 3})
    of = partial(Truth, "tractor")
    shed = h.around(11.4, 0.3, 2600, 0.02)
    b = flooded(h, 3, 110, limit=lambda _t: 6.0, ceiling=2.67, gassing=1.0, acid=29.4, air=11.4)
    volts, amps = seen(h, b.volts, 0.003), seen(h, b.amps, 0.008)
    pairs(
        h,
        "shed/bench/psu",
        2,
        {
            "V": Leaf(volts, 3, of(VOLTS, "V")),
            "A": Leaf(amps, 3, of(AMPS, "A")),
            "W": Leaf(product(volts, amps), 2, of(WATTS, "W")),
            "MODE": "CV",
            "FANRPM": Leaf(wanders(h, 2140, 30), 0),
        },
    )
    one, two, three = shares(h, b.volts, (0.003, -0.005, 0.002), 0.002)
    pairs(
        h,
        "shed/bench/node",
        10,
        {
            "posts": Leaf(seen(h, b.volts, 0.006), 2),
            "c1": Leaf(one, 3, of(CELL, "V")),
            "c2": Leaf(two, 3, of(CELL, "V")),
            "c3": Leaf(three, 3, of(CELL, "V")),
            "acid_F": Leaf(fahrenheit(seen(h, b.acid, 0.03)), 1, of(ACID, "°F")),
            "rssi": Leaf(wanders(h, -63, 2), 0),
        },
    )
    h.say("shed/plugs/bench_charger/state", 60, "on", of(RELAY))
    h.say("shed/plugs/bench_charger/watts", 15, text(times(product(volts, amps), 1.16, 7.0), 1))
    kept(h, {"shed/bench/note": "eq on the '52 since breakfast, hydrometer again at 4"})
    # The cheap radio thermometers; one lies beside the battery.
    h.say("rf433/ch5/temp_F", 45, text(fahrenheit(seen(h, shed, 0.04)), 1), of(AIR, "°F"))
    loose(h, 45, {"rf433/ch5/hum": (71, 1, 0), "rf433/ch5/batt_ok": (1, 0, 0)})
    for channel, middle in ((1, 68.4), (2, 38.2), (3, 51.0), (6, 49.7)):
        loose(h, 45, {f"rf433/ch{channel}/temp_F": (middle, 0.4, 1), f"rf433/ch{channel}/hum": (55, 3, 0)})
    kept(
        h,
        {
            "rf433/channels": {"1": "hall", "2": "walk-in", "3": "cellar", "5": "spare", "6": "hen house"},
            "rf433/status": "online",
        },
    )
    loose(
        h,
        20,
        {
            "cellar/tank1/temp_F": (54.2, 0.2, 1),
            "cellar/tank2/temp_F": (55.0, 0.2, 1),
            "cellar/tank3/temp_F": (53.1, 0.2, 1),
            "cellar/tank1/airlock_bpm": (11, 2, 0),
            "cellar/tank2/airlock_bpm": (4, 1, 0),
            "cellar/co2_ppm": (1420, 60, 0),
            "well/pressure_psi": (47, 4, 1),
            "well/pump_amps": (4.3, 0.2, 2),
            "well/level_ft": (31.6, 0.1, 1),
        },
    )
    words(h, 60, {"well/pump": "running", "cellar/fan/state": "off", "gate/lock": "locked", "house/alarm": "disarmed"})
    for hive, weight in (("hive_a", 84.1), ("hive_b", 77.9)):
        pairs(
            h,
            f"bees/{hive}",
            60,
            {
                "lb": Leaf(wanders(h, weight, 0.1), 1),
                "brood_F": Leaf(wanders(h, 81.5, 0.3), 1),
                "lipo": Leaf(wanders(h, 3.93, 0.01), 2),
                "snr": Leaf(wanders(h, 8, 2), 0),
            },
        )
    starter(h, "truck/obd/battery")
    loose(
        h, 30, {"truck/obd/fuel_pct": (63, 0, 0), "truck/obd/coolant_F": (48, 1, 0), "truck/block_heater_W": (0, 0, 0)}
    )
    thing(h, "house/ups", 20, {"in_v": (121.4, 0.8, 1), "load_pct": (18, 2, 0), "bat_v": (27.2, 0.05, 1)}, status="OL")
    lithium(h, "mower/pack", 4, ("volts", "amps", "soc", "temp", "cell{}"))
    weather(h, "wx", ("temp_C", "hum", "hPa", "wind_ms", "gust_ms", "rain_mm"))
    for name in ("tele/freezer/SENSOR", "tele/dehumidifier/SENSOR"):
        plug(h, name, 121)
    router(h, "house/router", ("cpu_temp", "load", "uptime", "rx_kbps"))
    coin_cells(h, "zb", ("front door", "press house door", "mail box"))
    lights(h, "zb", ("porch", "shed strip"))
    phone(h, "where/jo/phone")
    kept(h, {"zb/bridge/info": {"version": "1.9.2", "channel": 20, "permit_join": False}, "house/motd": "eggs!"})
    return h


def entity(house: House, ident: str, every: float, says: object, unit: str = "", truth: Truth | None = None) -> None:
    """Say one entity of a hub that streams all its states, with its kept unit."""
    house.say(f"casa/{ident}/state", every, says, truth)
    if unit:
        house.say(f"casa/{ident}/unit_of_measurement", 600, json.dumps(unit, ensure_ascii=False), retain=True)


def rifugio() -> House:
    """Italian, 48 V: a mountain hut, two strings of 24 cells, held; all comes from the hub's state stream."""
    h = House("rifugio", 2202, "accumulatori", {"accumulatori": 24})
    of = partial(Truth, "accumulatori")
    room = h.around(8.6, 0.2, 2800, 0.02)
    lamps = h.steps(4.0, 7.5, 11.0, dwell=110)
    b = flooded(
        h, 24, 1100, limit=lambda _t: 70.0, ceiling=2.67, gassing=1.0, acid=27.2, air=8.6, load=lamps, open_cell=2.14
    )
    volts, amps = seen(h, b.volts, 0.02), seen(h, b.amps, 0.08)
    first, second = shares(h, b.amps, (0.045, -0.045), 0.05)
    gas, pressure = h.around(2600, 180, 700, 25), h.around(811.0, 0.3, 3000, 0.05)
    said: tuple[tuple[str, float, object, str, Truth | None], ...] = (
        ("sensor/accumulatori_tensione", 5, text(volts, 2), "V", of(VOLTS, "V")),
        ("sensor/accumulatori_corrente", 5, text(amps, 1), "A", of(AMPS, "A")),
        ("sensor/accumulatori_potenza", 5, text(product(volts, amps), 0), "W", of(WATTS, "W")),
        ("sensor/accumulatori_corrente_fila_a", 10, text(first, 1), "A", of(STRING, "A")),
        ("sensor/accumulatori_corrente_fila_b", 10, text(second, 1), "A", of(STRING, "A")),
        (
            "sensor/accumulatori_presa_centrale",
            10,
            text(seen(h, times(b.volts, 0.4985), 0.015), 2),
            "V",
            of(MIDDLE, "V"),
        ),
        ("sensor/accumulatori_temperatura_acido", 30, text(seen(h, b.acid, 0.03), 1), "°C", of(ACID, "°C")),
        ("sensor/locale_batterie_temperatura", 60, text(seen(h, room, 0.04), 1), "°C", of(AIR, "°C")),
        ("sensor/locale_batterie_umidita", 60, text(wanders(h, 52, 1), 0), "%", None),
        ("sensor/locale_batterie_idrogeno", 15, text(gas, 0), "ppm", of(HYDROGEN, "ppm")),
        ("fan/aspiratore_locale_batterie", 30, "on", "", of(FAN)),
        ("binary_sensor/locale_batterie_porta", 60, "off", "", of(DOOR)),
        ("switch/caricabatterie_gruppo", 60, "on", "", of(RELAY)),
        ("sensor/accumulatori_stato_di_carica", 30, "100", "%", None),
        ("sensor/accumulatori_ah_restituiti", 30, text(h.counter(1283.0, 0.012), 1), "Ah", None),
        ("sensor/inverter_tensione_cc", 10, text(seen(h, b.volts, 0.08), 1), "V", None),
        ("sensor/inverter_potenza_ca", 10, text(product(lamps, times(b.volts, 0.92)), 0), "W", None),
        ("sensor/inverter_frequenza", 10, text(wanders(h, 50.0, 0.01), 2), "Hz", None),
        ("sensor/inverter_temperatura", 30, text(wanders(h, 36, 0.6), 1), "°C", None),
        ("sensor/regolatore_fv_tensione_batteria", 10, text(seen(h, b.volts, 0.09), 1), "V", None),
        ("sensor/regolatore_fv_tensione_pannelli", 10, text(wanders(h, 104, 3), 1), "V", None),
        ("sensor/regolatore_fv_corrente_pannelli", 10, text(wanders(h, 5.2, 1.2), 1), "A", None),
        ("sensor/regolatore_fv_energia_oggi", 60, text(h.counter(1.92, 1.5e-4), 2), "kWh", None),
        ("sensor/gruppo_elettrogeno_giri", 10, text(wanders(h, 1512, 4), 0), "rpm", None),
        ("sensor/gruppo_elettrogeno_tensione", 10, text(wanders(h, 231, 1.2), 1), "V", None),
        ("sensor/gruppo_elettrogeno_corrente", 10, text(wanders(h, 15.6, 0.2), 1), "A", None),
        ("sensor/gruppo_elettrogeno_batteria_avviamento", 30, text(wanders(h, 13.9, 0.02), 2), "V", None),
        ("sensor/gruppo_elettrogeno_temperatura_acqua", 30, text(wanders(h, 81, 0.8), 0), "°C", None),
        ("sensor/gasolio_livello", 120, text(wanders(h, 61, 0.2), 0), "%", None),
        ("sensor/meteo_temperatura", 60, text(wanders(h, -4.2, 0.3), 1), "°C", None),
        ("sensor/meteo_vento", 30, text(wanders(h, 7.1, 2.5), 1), "m/s", None),
        ("sensor/meteo_pressione", 60, text(pressure, 1), "hPa", None),
        ("sensor/neve_altezza", 120, "112", "cm", None),
        ("sensor/stufa_temperatura_fumi", 30, text(wanders(h, 164, 8), 0), "°C", None),
        ("sensor/acqua_serbatoio", 60, text(wanders(h, 2840, 5), 0), "L", None),
        ("sensor/sala_temperatura", 60, text(wanders(h, 18.3, 0.3), 1), "°C", None),
        ("sensor/camerata_temperatura", 60, text(wanders(h, 12.9, 0.2), 1), "°C", None),
        ("sensor/congelatore_temperatura", 60, text(wanders(h, -19.1, 0.6), 1), "°C", None),
        ("sensor/tensione_ponte_radio", 30, text(wanders(h, 13.6, 0.01), 2), "V", None),
        ("sensor/ponte_radio_segnale", 60, text(wanders(h, -71, 2), 0), "dBm", None),
        ("sensor/motoslitta_batteria", 60, text(wanders(h, 12.7, 0.01), 1), "V", None),
        ("sensor/telefono_gestore_batteria", 120, "58", "%", None),
        ("sensor/centralina_cpu", 30, text(wanders(h, 51, 1), 1), "°C", None),
        ("binary_sensor/ingresso_porta", 120, "on", "", None),
        ("binary_sensor/bivacco_porta", 120, "off", "", None),
        ("switch/pompa_sorgente", 60, "off", "", None),
        ("switch/scaldacavo_tubi", 60, "on", "", None),
        ("fan/cappa_cucina", 60, "off", "", None),
        ("light/sala", 120, "on", "", None),
        ("light/cucina", 120, "on", "", None),
        ("sun/sun", 120, "above_horizon", "", None),
        ("person/gestore", 120, "home", "", None),
    )
    for ident, every, says, unit, truth in said:
        entity(h, ident, every, says, unit, truth)
    kept(h, {"casa/stato": "online"})
    return h


def woonark() -> House:
    """Dutch, 24 V: a houseboat on shore power in bulk, with the pumps and the fridge on the same bank.

    The shunt tells millivolts and milliamperes, drawn ones positive. The probes on the wire have a kept list of names
    which is not complete.
    """
    h = House("woonark", 2303, "accubank", {"accubank": 12})
    of = partial(Truth, "accubank")
    hold = h.around(13.6, 0.3, 2400, 0.02)
    used = h.steps(3.1, 9.4, 14.2, 5.0, dwell=75)
    b = flooded(h, 12, 460, limit=lambda _t: 48.0, ceiling=2.67, gassing=0.42, acid=22.8, air=13.6, load=used)
    volts, drawn = seen(h, b.volts, 0.006), seen(h, times(b.amps, -1.0), 0.05)
    body(
        h,
        "ark/dc/shunt",
        1,
        {
            "u_mV": Leaf(times(volts, 1000), 0, of(VOLTS, "mV")),
            "i_mA": Leaf(times(drawn, 1000), 0, of(AMPS, "mA", DRAWN)),
            "p_W": Leaf(product(volts, drawn), 0, of(WATTS, "W", DRAWN)),
            "mid_mV": Leaf(times(seen(h, b.volts, 0.008), 502.0), 0, of(MIDDLE, "mV")),
            "ah": Leaf(h.counter(-96.4, 0.0105), 1),
            "soc": Leaf(h.counter(79.0, 0.002), 0),
            "n": clock,
        },
    )
    body(
        h,
        "ark/lader",
        5,
        {
            "fase": "bulk",
            "uitgang": {"V": Leaf(seen(h, times(b.volts, 1.0, 0.11), 0.02), 1), "A": Leaf(seen(h, b.fed, 0.1), 1)},
            "net": {"V": Leaf(wanders(h, 229.4, 0.8), 0), "A": Leaf(wanders(h, 7.1, 0.1), 1)},
            "koelplaat": Leaf(wanders(h, 47, 0.6), 0),
        },
    )
    h.say("ark/schakelaars/lader/zet", 240, "aan")
    h.say("ark/schakelaars/lader/toestand", 30, "aan", of(RELAY))
    for name, state in (("walstroom", "aan"), ("boiler", "uit"), ("dekverlichting", "uit"), ("lenspomp", "auto")):
        h.say(f"ark/schakelaars/{name}/toestand", 60, state)
    body(h, "ark/accukist/afzuiging", 30, {"draait": Told(True, of(FAN)), "uren": Leaf(h.counter(412.3, 0.0003), 1)})
    body(h, "ark/accukist/luik", 60, {"open": Told(False, of(DOOR)), "batterij": 88})
    h.say("ark/1w/28ff41c0", 20, text(seen(h, b.acid, 0.04), 2), of(ACID, "°C"))
    h.say("ark/1w/28ff6be2", 20, text(seen(h, hold, 0.04), 2), of(AIR, "°C"))
    loose(
        h,
        20,
        {
            "ark/1w/28ff0a17": (18.9, 0.3, 2),
            "ark/1w/28ff2d93": (52.1, 1.1, 2),
            "ark/1w/28ff5506": (9.2, 0.1, 2),
            "ark/1w/28ffc8e4": (16.2, 0.2, 2),
        },
    )
    kept(
        h,
        {
            "ark/1w/lijst": {
                "28ff0a17": "roef",
                "28ff2d93": "boiler",
                "28ff5506": "buitenwater",
                "28ff41c0": "accuzuur",
            },
            "ark/1w/versie": "0.3",
        },
    )
    body(
        h,
        "ark/omvormer",
        5,
        {
            "stand": "doorvoer",
            "dc": {"V": Leaf(seen(h, b.volts, 0.05), 1), "rimpel": Leaf(wanders(h, 0.12, 0.02), 2)},
            "ac": {"V": Leaf(wanders(h, 229, 0.8), 0), "W": Leaf(h.steps(180, 420, 950, sigma=5), 0)},
        },
    )
    solar(h, "ark/zon", ("paneel_v", "paneel_a", "watt", "vandaag_kwh", "accu"), seen(h, b.volts, 0.05))
    body(
        h,
        "ark/scherm/stuurhut",
        15,
        {"accu": Leaf(seen(h, b.volts, 0.01), 1), "diesel": 64, "water": 71, "tijd": clock, "melding": "walstroom"},
    )
    starter(h, "ark/motor/startaccu")
    starter(h, "ark/boegschroef/accu")
    loose(
        h,
        30,
        {
            "ark/motor/olietemp": (14.1, 0.1, 1),
            "ark/motor/uren": (3121.4, 0.0, 1),
            "ark/tank/diesel": (64, 0.2, 0),
            "ark/tank/schoon": (71, 0.4, 0),
            "ark/tank/vuil": (38, 0.4, 0),
            "ark/bilge/hoogte_mm": (21, 1, 0),
            "ark/diepte": (2.31, 0.03, 2),
            "ark/helling/dwars": (-0.4, 0.2, 1),
            "ark/gps/sog": (0.0, 0.0, 1),
            "ark/roef/co": (0, 0, 0),
        },
    )
    for kamer in ("kombuis", "hut", "salon"):
        climate(h, f"ark/klimaat/{kamer}", ("temperatuur", "vocht", "batterij"))
    mains(h, "ark/wal", ("spanning", "frequentie", "vermogen"), 230, 50)
    weather(h, "ark/weer", ("temp", "vocht", "druk", "wind", "regen"))
    thing(h, "ark/koelkast", 30, {"temp": (4.6, 0.5, 1), "compressor_rpm": (2600, 200, 0), "V": (24.8, 0.0, 1)})
    thing(h, "ark/kachel", 30, {"kamer": (19.4, 0.3, 1), "pellets": (62, 0.1, 0), "rook": (141, 4, 0)}, stand=3)
    thing(h, "fiets/accu", 60, {"V": (39.8, 0.05, 1), "A": (1.9, 0.05, 1), "procent": (83, 0.4, 0)}, laadt=True)
    homie_thermostat(h, "homie/5/thermostaat-hut")
    coin_cells(h, "zig", ("loopplank", "dakluik"))
    lights(h, "zig", ("salonlamp", "leeslamp", "gangboord"))
    router(h, "ark/4g", ("temp", "load", "uptime", "rx"))
    plug(h, "ark/stekker/wasmachine", 230)
    phone(h, "plaats/marijke/telefoon")
    kept(h, {"ark/status": "online", "ark/wal/tarief": "0.34", "ark/oud/gaslek": "0"})
    return h


def stamped(h: House, base: str, every: float, shape: dict[str, object]) -> None:
    """Say the readings of a small board under its telemetry prefix."""
    body(h, f"tele/{base}/SENSOR", every, {"Time": "2026-11-25T08:20:00", **shape})
    kept(h, {f"tele/{base}/LWT": "Online"})


def chalupa() -> House:
    """Czech, 36 V: an old golf cart with six blocks, near the end of its round at constant amperes, then held."""
    h = House("chalupa", 2404, "vozik", {"vozik": 18})
    of = partial(Truth, "vozik")
    garage = h.around(7.8, 0.2, 3000, 0.02)
    b = flooded(h, 18, 210, limit=lambda _t: 8.4, ceiling=2.67, gassing=0.955, acid=26.1, air=7.8, open_cell=2.12)
    volts, amps = seen(h, b.volts, 0.012), seen(h, b.amps, 0.02)
    stamped(
        h,
        "vozik",
        10,
        {
            "Bocnik": {
                "Voltage": Leaf(volts, 2, of(VOLTS, "V")),
                "Current": Leaf(amps, 2, of(AMPS, "A")),
                "Power": Leaf(product(volts, amps), 1, of(WATTS, "W")),
            },
            "Sonda1": {"Id": "0417C2A4B6FF", "Temperature": Leaf(seen(h, b.acid, 0.04), 1, of(ACID, "°C"))},
            "TempUnit": "C",
        },
    )
    blocks = shares(h, b.volts, (0.004, -0.009, 0.001, 0.003, -0.002, 0.005), 0.006)
    stamped(
        h, "vozik_bloky", 20, {"Baterie": {f"B{n + 1}": Leaf(one, 2, of(BLOCK, "V")) for n, one in enumerate(blocks)}}
    )
    stamped(
        h,
        "garaz_vozik",
        60,
        {
            "Vzduch": {
                "Temperature": Leaf(seen(h, garage, 0.05), 1, of(AIR, "°C")),
                "Humidity": Leaf(wanders(h, 68, 1), 1),
                "DewPoint": Leaf(wanders(h, 2.3, 0.1), 1),
            },
            "TempUnit": "C",
        },
    )
    h.say("stat/nabijecka_vozik/POWER", 60, "ON", of(RELAY))
    taken, line = times(product(volts, amps), 1.19, 9.0), wanders(h, 233, 0.8)
    stamped(
        h,
        "nabijecka_vozik",
        30,
        {
            "ENERGY": {
                "Total": Leaf(h.counter(214.61, 1.2e-4), 3),
                "Power": Leaf(taken, 0),
                "Factor": 0.97,
                "Voltage": Leaf(line, 0),
                "Current": Leaf(lambda t: taken(t) / line(t) / 0.97, 3),
            }
        },
    )
    body(
        h,
        "tele/nabijecka_vozik/STATE",
        60,
        {"Time": "2026-11-25T08:20:00", "Uptime": "3T02:11:40", "Vcc": 3.1, "POWER": "ON", "Wifi": {"RSSI": 74}},
    )
    body(
        h,
        "prehled/vozik",
        30,
        {
            "napeti": Leaf(volts, 1),
            "proud": Leaf(amps, 1),
            "kyselina": Leaf(b.acid, 0),
            "popis": "vyrovnávací nabíjení",
        },
    )
    for name in ("pracka", "mrazak", "lednice", "televize"):
        plug(h, f"tele/{name}/SENSOR", 232)
        kept(h, {f"tele/{name}/LWT": "Online"})
        h.say(f"stat/{name}/POWER", 90, "ON")
    kept(h, {"tele/vanocni_retez/LWT": "Offline", "stat/vanocni_retez/POWER": "OFF"})
    stamped(h, "kotel", 30, {"Kotel": {"Voda": Leaf(wanders(h, 61, 2), 1), "Spaliny": Leaf(wanders(h, 148, 6), 0)}})
    stamped(
        h,
        "studna",
        30,
        {"Hladina": Leaf(wanders(h, 3.42, 0.02), 2), "Tlak": Leaf(wanders(h, 2.9, 0.3), 1), "Cerpadlo": "OFF"},
    )
    stamped(
        h,
        "alarm_zdroj",
        60,
        {"Zaloha": {"Voltage": Leaf(wanders(h, 13.62, 0.01), 2), "Current": Leaf(wanders(h, 0.08, 0.01), 2)}},
    )
    stamped(h, "traktor", 60, {"ANALOG": {"A0": Leaf(wanders(h, 12.61, 0.01), 2)}})
    lithium(h, "kolobezka", 10, ("napeti", "proud", "nabito", "teplota", "clanek{}"))
    loose(
        h,
        60,
        {
            "fve/dnes_kwh": (2.4, 0.0, 1),
            "fve/vykon": (640, 120, 0),
            "fve/stridac/teplota": (33, 0.6, 1),
            "fve/retezec1/napeti": (312, 6, 0),
            "fve/retezec1/proud": (2.05, 0.4, 2),
            "elektromer/L1/napeti": (233, 0.9, 1),
            "elektromer/L2/napeti": (231, 0.9, 1),
            "elektromer/L3/napeti": (234, 0.9, 1),
        },
    )
    weather(h, "meteo", ("teplota", "vlhkost", "tlak", "vitr", "naraz", "srazky"))
    for room in ("kuchyn", "loznice"):
        climate(h, f"pokoje/{room}", ("teplota", "vlhkost", "baterie"))
    coin_cells(h, "zigbee", ("vrata_garaz", "vchod"))
    lights(h, "zigbee", ("dvur", "obyvak"))
    router(h, "server", ("teplota", "zatez", "uptime", "prijem"))
    phone(h, "telefon/tomas")
    return h


def control(
    house: House,
    device: str,
    name: str,
    says: object,
    title: str,
    *,
    every: float = 10,
    unit: str = "",
    truth: Truth | None = None,
) -> None:
    """Say one control of a controller, with its kept description."""
    topic = f"/devices/{device}/controls/{name}"
    house.say(topic, every, says, truth)
    about: dict[str, object] = {"title": {"uk": title}, "type": "value" if unit else "switch", "readonly": bool(unit)}
    if unit:
        about["units"] = unit
    kept(house, {f"{topic}/meta": about})


def khutir() -> House:
    """Ukrainian, 12 V: six big cells from a loader, at rest since the mains went out; the house runs on lithium."""
    h = House("khutir", 2505, "tyahova", {"tyahova": 6})
    of = partial(Truth, "tyahova")
    shed = h.around(6.1, 0.2, 2700, 0.02)
    leak = h.around(0.34, 0.02, 500, 0.0)
    b = flooded(h, 6, 375, limit=lambda _t: 11.0, gassing=0.9, acid=17.4, air=6.1, on=lambda t: t < -2700.0, load=leak)
    volts, amps = seen(h, b.volts, 0.003), seen(h, b.amps, 0.01)
    say = partial(control, h, "akb_tyaha")
    say("u", text(volts, 3), "Напруга АКБ", every=5, unit="V", truth=of(VOLTS, "V"))
    say("i", text(amps, 2), "Струм АКБ (+ заряд)", every=5, unit="A", truth=of(AMPS, "A"))
    say("p", text(product(volts, amps), 1), "Потужність АКБ", every=5, unit="W", truth=of(WATTS, "W"))
    for n, one in enumerate(shares(h, b.volts, (0.001, 0.002, -0.004, 0.0, 0.002, -0.001), 0.001)):
        say(f"b{n + 1}", text(one, 3), f"Банка {n + 1}", every=30, unit="V", truth=of(CELL, "V"))
    say("t", text(seen(h, b.acid, 0.03), 1), "Електроліт", every=30, unit="°C", truth=of(ACID, "°C"))
    say("k1", "0", "Реле зарядного", every=60, truth=of(RELAY))
    say("витяжка", "0", "Витяжка над АКБ", every=60, truth=of(FAN))
    # The controller's own inputs.
    wall = partial(control, h, "wall_adc")
    wall("ain1", text(wanders(h, 12.63, 0.01), 2), "Вхід 1: мотоблок", every=20, unit="V")
    wall("ain2", text(wanders(h, 4.1, 0.05), 2), "Вхід 2", every=20, unit="V")
    wall("ain3", text(wanders(h, 21.4, 0.3), 1), "Вхід 3: підлога", every=20, unit="°C")
    wall("ain4", text(seen(h, shed, 0.05), 1), "Вхід 4", every=20, unit="°C", truth=of(AIR, "°C"))
    wall("ain5", text(wanders(h, 44.2, 0.6), 1), "Вхід 5: бойлер", every=20, unit="°C")
    grid = partial(control, h, "merezha")
    grid("u", "0.0", "Напруга мережі", unit="V")
    grid("f", "0.00", "Частота", unit="Hz")
    grid("p", "0", "Споживання з мережі", unit="W")
    plc = partial(control, h, "invertor")
    use = h.steps(240, 310, 820, dwell=80, sigma=6)
    plc("u_out", text(wanders(h, 229.8, 0.3), 1), "Вихід", unit="V")
    plc("p_out", text(use, 0), "Навантаження", unit="W")
    plc("u_dc", text(wanders(h, 52.6, 0.06), 1), "Шина 48", unit="V")
    plc("t", text(wanders(h, 41, 0.5), 0), "Радіатор", unit="°C")
    lithium(h, "літій/збірка", 16, ("напруга", "струм", "заряд", "температура", "комірка_{}"))
    h.say("дім/табло/акумулятор", 30, text(volts, 1, "{} В"))
    loose(
        h,
        45,
        {
            "дім/кухня/температура": (20.6, 0.3, 1),
            "дім/кухня/вологість": (47, 1, 0),
            "дім/спальня/температура": (18.9, 0.2, 1),
            "дім/льох/температура": (7.4, 0.1, 1),
            "дім/льох/вологість": (83, 1, 0),
            "дім/котел/подача": (54.2, 1.3, 1),
            "дім/котел/зворотка": (43.7, 1.0, 1),
            "двір/криниця/рівень": (412, 2, 0),
        },
    )
    weather(h, "погода", ("температура", "вологість", "тиск", "вітер", "опади"))
    words(h, 60, {"дім/світло/вітальня": "увімк", "дім/тривога": "відбій", "дім/мережа": "немає"})
    thing(h, "ups/router", 30, {"vin": (0, 0, 0), "vbat": (12.2, 0.05, 2), "load": (9, 1, 0)}, state="OB")
    thing(h, "samokat", 60, {"v": (38.9, 0.02, 1), "pct": (71, 0, 0)})
    coin_cells(h, "zigbee", ("хвіртка", "двері"))
    phone(h, "де/олена/телефон")
    kept(h, {"дім/графік_відключень": "08-12, 16-20", "/devices/akb_tyaha/meta/name": "Тягова АКБ (сарай)"})
    return h


def mokki() -> House:
    """Finnish, 12 V: a cottage; one board says lists, and a kept note says what stands where in the first.

    The bank is held; the timer of the charger pauses once for a minute and a half.
    """
    h = House("mökki", 2606, "akusto", {"akusto": 6})
    of = partial(Truth, "akusto")
    box = h.around(4.2, 0.2, 2500, 0.02)

    def running(t: float) -> bool:
        return not 284.0 <= t % 1200.0 < 374.0

    small = h.steps(0.6, 0.9, 1.4, dwell=100)
    b = flooded(h, 6, 240, limit=lambda _t: 14.0, ceiling=2.67, gassing=1.0, acid=21.6, air=4.2, on=running, load=small)
    volts, amps = seen(h, b.volts, 0.005), seen(h, b.amps, 0.02)
    body(
        h,
        "mokki/akku/mittaus",
        3,
        [
            Leaf(volts, 2, of(VOLTS, "V")),
            Leaf(amps, 2, of(AMPS, "A")),
            Leaf(product(volts, amps), 1, of(WATTS, "W")),
            Leaf(seen(h, b.acid, 0.04), 1, of(ACID, "°C")),
            Leaf(seen(h, box, 0.04), 1, of(AIR, "°C")),
        ],
    )
    kept(h, {"mokki/akku/mittaus/selite": ["jännite V", "virta A", "teho W", "akkuhappo °C", "akkukoppi °C"]})
    cells = shares(h, b.volts, (0.002, 0.004, -0.011, 0.001, 0.003, 0.001), 0.002)
    body(h, "mokki/akku/kennot", 15, [Leaf(one, 3, of(CELL, "V")) for one in cells])
    h.say("mokki/laturi/rele", 5, lambda t: "1" if running(t) else "0", of(RELAY))
    h.say("mokki/laturi/ajastin", 30, lambda t: "lataa" if running(t) else "tauko")
    h.say("mokki/laturi/teho_230", 5, lambda t: f"{1.18 * b.volts(t) * b.fed(t) + 4.0:.0f}")
    h.say("mokki/akkukoppi/tuuletin", 30, "1", of(FAN))
    solar(h, "mokki/aurinko", ("paneeli_v", "paneeli_a", "teho", "tuotto_tanaan", "akkupuoli"), seen(h, b.volts, 0.04))
    body(h, "mokki/naytto/rivi2", 20, {"V": Leaf(volts, 1), "A": Leaf(amps, 1), "klo": clock})
    kept(h, {"mokki/naytto/rivi1": "tasauslataus 3 h jäljellä", "mokki/naytto/kirkkaus": "40"})
    body(
        h,
        "mokki/lammot",
        30,
        [Leaf(wanders(h, middle, 0.3), 1) for middle in (15.2, 12.8, 5.6, -2.4, 61.0)],
    )
    kept(h, {"mokki/lammot/selite": ["tupa", "kamari", "kellari", "ulko", "sauna"]})
    body(h, "mokki/kosteudet", 30, [Leaf(wanders(h, middle, 1.0), 0) for middle in (41, 46, 78, 88)])
    loose(
        h,
        30,
        {
            "mokki/takka/savukaasu": (188, 9, 0),
            "mokki/vesi/paine": (2.6, 0.2, 1),
            "mokki/vesi/sailio": (640, 3, 0),
            "mokki/vesi/lammitysnauha_w": (38, 1, 0),
            "mokki/kaivo/pinta": (2.18, 0.01, 2),
            "mokki/jarvi/vesi": (1.9, 0.1, 1),
            "mokki/jarvi/jaa_cm": (6, 0, 0),
            "mokki/4g/rsrp": (-103, 2, 0),
            "mokki/4g/sinr": (7, 2, 0),
            "mokki/aggregaatti/startti": (12.6, 0.02, 2),
            "mokki/aggregaatti/tunnit": (418.2, 0, 1),
            "mokki/aggregaatti/bensa": (72, 0, 0),
            "mokki/moottorikelkka/akku": (12.8, 0.01, 2),
        },
    )
    thing(
        h, "vene/vahti", 60, {"akku": (12.9, 0.01, 2), "pilssi": (0, 0, 0), "kallistus": (1.2, 0.3, 1)}, sijainti="vaja"
    )
    thing(h, "riistakamera/1", 120, {"akku_mV": (8120, 10, 0), "lampo": (-3, 0.4, 0)}, kuvia=41)
    thing(h, "riistakamera/2", 120, {"akku_mV": (7740, 10, 0), "lampo": (-3, 0.4, 0)}, kuvia=12)
    mains(h, "mokki/sahko", ("jannite", "taajuus", "teho"), 231, 50)
    weather(h, "saa", ("lampotila", "kosteus", "paine", "tuuli", "puuska", "sade"))
    for name in ("jaakaappi", "ilmalampopumppu"):
        plug(h, f"mokki/pistoke/{name}", 230)
    words(
        h,
        60,
        {
            "mokki/ulkovalo": "0",
            "mokki/sauna/kiuas": "0",
            "mokki/pumppu/rele": "1",
            "mokki/halytys": "päällä",
            "mokki/ovi": "kiinni",
            "mokki/ilmanvaihto/tuuletin": "1",
        },
    )
    climate(h, "koti/eteinen", ("lampotila", "kosteus", "paristo"))
    climate(h, "koti/olohuone", ("lampotila", "kosteus", "paristo"))
    coin_cells(h, "koti/zb", ("ulko-ovi", "parvekkeen ovi"))
    lights(h, "koti/zb", ("keittiö", "työpöytä"))
    router(h, "koti/palvelin", ("lampo", "kuorma", "uptime", "rx"))
    phone(h, "sijainti/aino/puhelin")
    kept(h, {"mokki/solmu/versio": "2.4", "mokki/solmu/tila": "online", "koti/sahko/hinta": "4.81"})
    return h


def registers(h: House, unit: int, every: float, said: dict[int, tuple[str, str, float, Signal, Truth | None]]) -> None:
    """Say a device's registers as whole numbers, and keep the map: name, unit, how much one step is."""
    about = {}
    for number, (name, measure, one, signal, truth) in said.items():
        h.say(f"rtu/{unit}/{number}", every, text(times(signal, 1.0 / one), 0), truth)
        if name:
            about[str(number)] = {"name": name, "unit": measure, "scale": one}
    kept(h, {f"rtu/{unit}/map": about})


def cattle_station() -> House:
    """English, 120 V: sixty 2 V cells of an old remote-area system, in bulk from the diesel; all is registers."""
    h = House("cattle station", 2707, "bank", {"bank": 60})
    of = partial(Truth, "bank")
    shed = h.around(31.2, 0.3, 2600, 0.03)
    used = h.steps(4.0, 6.5, 13.0, dwell=90)
    b = flooded(h, 60, 820, limit=lambda _t: 66.0, ceiling=2.67, gassing=0.2, acid=38.6, air=31.2, load=used)
    volts, amps, cell = seen(h, b.volts, 0.05), seen(h, b.amps, 0.15), times(b.volts, 1 / 60)
    registers(
        h,
        3,
        5,
        {
            30001: ("Battery voltage", "V", 0.1, volts, of(VOLTS, TENTH_V)),
            30002: ("Battery current", "A", 0.1, amps, of(AMPS, TENTH_A)),
            30003: ("Battery power", "W", 1.0, product(volts, amps), of(WATTS, "W")),
            30004: ("Midpoint", "V", 0.1, seen(h, times(b.volts, 0.4992), 0.05), of(MIDDLE, TENTH_V)),
            30005: ("Pilot cell 7", "V", 0.01, seen(h, times(cell, 1.003), 0.004), of(CELL, HUNDREDTH_V)),
            30006: ("Pilot cell 22", "V", 0.01, seen(h, times(cell, 0.993), 0.004), of(CELL, HUNDREDTH_V)),
            30007: ("Pilot cell 41", "V", 0.01, seen(h, times(cell, 1.001), 0.004), of(CELL, HUNDREDTH_V)),
            30008: ("Pilot cell 58", "V", 0.01, seen(h, times(cell, 0.998), 0.004), of(CELL, HUNDREDTH_V)),
            30009: ("Electrolyte temp", "C", 0.1, seen(h, b.acid, 0.04), of(ACID, TENTH_C)),
            30010: ("State of charge", "%", 1.0, h.counter(74.0, 0.0015), None),
            30011: ("Ah since full", "Ah", 1.0, h.counter(-231.0, 0.016), None),
            30012: ("Charge contactor", "", 1.0, lambda _t: 1.0, of(RELAY)),
            30013: ("Alarm word", "", 1.0, never, None),
            30014: ("Firmware", "", 1.0, lambda _t: 217.0, None),
            30021: ("", "", 0.1, seen(h, shed, 0.05), of(AIR, TENTH_C)),
            30022: ("", "", 1.0, lambda _t: 1.0, of(FAN)),
            30023: ("", "", 1.0, lambda _t: 0.0, None),
        },
    )
    registers(
        h,
        1,
        10,
        {
            30001: ("AC output", "V", 0.1, wanders(h, 240.6, 0.5), None),
            30002: ("AC load", "W", 10.0, times(used, 128.0), None),
            30003: ("DC input", "V", 0.1, seen(h, b.volts, 0.1), None),
            30004: ("Heatsink", "C", 0.1, wanders(h, 52.5, 0.7), None),
            30005: ("Frequency", "Hz", 0.01, wanders(h, 50.02, 0.02), None),
        },
    )
    registers(
        h,
        5,
        10,
        {
            30001: ("Gen L-N", "V", 0.1, wanders(h, 241.2, 0.9), None),
            30002: ("Gen current", "A", 0.1, wanders(h, 46.0, 0.6), None),
            30003: ("Gen Hz", "Hz", 0.01, wanders(h, 50.3, 0.05), None),
            30004: ("Engine rpm", "rpm", 1.0, wanders(h, 1509, 4), None),
            30005: ("Coolant", "C", 1.0, wanders(h, 84, 0.8), None),
            30006: ("Oil", "kPa", 1.0, wanders(h, 372, 5), None),
            30007: ("Crank battery", "V", 0.1, wanders(h, 27.7, 0.04), None),
            30008: ("Hours", "h", 0.1, lambda _t: 11204.6, None),
        },
    )
    body(
        h,
        "sheds/battery/gas",
        20,
        {"h2_pct": Leaf(h.around(0.11, 0.02, 800, 0.005), 2, of(HYDROGEN, "%")), "warm": True, "up": clock},
    )
    body(h, "sheds/battery/roller_door", 120, {"contact": Told(False, of(DOOR)), "battery": 71, "voltage": 2900})
    h.say("kitchen/tablet/bank_volts", 30, text(volts, 0))
    h.say("kitchen/tablet/bank_amps", 30, text(amps, 0))
    h.say("kitchen/tablet/gen", 30, "RUN")
    for bore, head in (("house bore", 14.2), ("ten mile", 22.9)):
        thing(
            h,
            f"bores/{bore}",
            60,
            {"head_m": (head, 0.05, 1), "flow_lpm": (31, 2, 0), "panel_v": (71.5, 2.0, 1), "batt": (13.1, 0.02, 2)},
            pump="on",
        )
    for trough in ("horse paddock", "creek", "south yard"):
        thing(h, f"lora/trough/{trough}", 120, {"level_pct": (88, 2, 0), "bat_mv": (3610, 5, 0), "rssi": (-108, 4, 0)})
    loose(
        h,
        30,
        {
            "tanks/rain_1": (61, 0.2, 0),
            "tanks/rain_2": (44, 0.2, 0),
            "tanks/diesel": (5210, 1, 0),
            "coolroom/temp": (3.2, 0.4, 1),
            "coolroom/comp_amps": (6.1, 0.2, 1),
            "house/lounge/temp": (25.8, 0.3, 1),
            "house/bed/temp": (26.4, 0.3, 1),
            "hot_water/top": (63.0, 0.5, 1),
            "sat/snr": (9.1, 0.4, 1),
            "sat/down_mbps": (41, 12, 1),
            "fence/kv": (6.8, 0.2, 1),
            "fence/energiser_batt": (12.9, 0.02, 1),
        },
    )
    loose(
        h,
        30,
        {"wx/temp": (33.8, 0.3, 1), "wx/rh": (19, 1, 0), "wx/qnh": (1011.2, 0.2, 1), "wx/wind": (5.1, 1.5, 1)},
    )
    starter(h, "utes/white/batt")
    plug(h, "plugs/washing machine", 240)
    coin_cells(h, "zb", ("gun safe", "front gate"))
    phone(h, "where/deb/phone")
    kept(h, {"sheds/battery/gas/last_cal": "2025-03-02", "lora/gw/status": "online", "wx/station": "homestead"})
    return h


def item(h: House, name: str, every: float, says: object, truth: Truth | None = None) -> None:
    """Say the state of one item of a hub."""
    h.say(f"casa/itens/{name}/state", every, says, truth)


def sitio() -> House:
    """Brazilian Portuguese, 24 V: a smallholding; the charge is blocked since the gas alarm half an hour ago.

    The hub says every item with its unit in the text. The four blocks slowly come down to rest.
    """
    h = House("sitio", 2808, "banco", {"banco": 12})
    of = partial(Truth, "banco")
    room = h.around(26.3, 0.3, 2600, 0.03)
    b = flooded(
        h,
        12,
        225,
        limit=lambda _t: 9.0,
        ceiling=2.67,
        gassing=1.0,
        acid=36.2,
        air=26.3,
        on=lambda t: t < -1900.0,
        load=h.around(0.22, 0.01, 600, 0.0),
    )
    volts, amps = seen(h, b.volts, 0.006), seen(h, b.amps, 0.01)
    item(h, "Banco_Tensao", 10, text(volts, 2, "{} V"), of(VOLTS, "V"))
    item(h, "Banco_Corrente", 10, text(amps, 2, "{} A"), of(AMPS, "A"))
    item(h, "Banco_Potencia", 10, text(product(volts, amps), 1, "{} W"), of(WATTS, "W"))
    for n, one in enumerate(shares(h, b.volts, (0.003, -0.006, 0.002, 0.001), 0.004)):
        item(h, f"Banco_Bateria{n + 1}", 30, text(one, 2, "{} V"), of(BLOCK, "V"))
    item(h, "Banco_TempEletrolito", 30, text(seen(h, b.acid, 0.04), 1, "{} °C"), of(ACID, "°C"))
    item(h, "CasaBaterias_Temperatura", 60, text(seen(h, room, 0.05), 1, "{} °C"), of(AIR, "°C"))
    item(h, "CasaBaterias_Umidade", 60, text(wanders(h, 66, 1.5), 0, "{} %"))
    fading = seen(h, lambda t: 0.31 + 0.55 * math.exp(-(t + 1500.0) / 1400.0), 0.006)
    item(h, "CasaBaterias_Hidrogenio", 15, text(fading, 2, "{} %"), of(HYDROGEN, "%"))
    item(h, "CasaBaterias_Porta", 60, "OPEN", of(DOOR))
    item(h, "Carregador_Rele", 30, "OFF", of(RELAY))
    item(h, "Carregador_Motivo", 60, "bloqueado: gás")
    # A module of the switchboard; the fifth output drives the extractor over the batteries.
    for n in range(8):
        item(h, f"Modulo2_Saida{n + 1}", 60, "ON" if n in {1, 4, 6} else "OFF", of(FAN) if n == 4 else None)
    item(h, "Inversor_TensaoCC", 15, text(seen(h, b.volts, 0.04), 1, "{} V"))
    item(h, "Inversor_Estado", 60, "ESPERA")
    item(h, "ControladorSolar_TensaoBateria", 15, text(seen(h, b.volts, 0.04), 1, "{} V"))
    item(h, "ControladorSolar_TensaoPaineis", 15, text(wanders(h, 88, 2), 1, "{} V"))
    item(h, "ControladorSolar_CorrentePaineis", 15, "0.0 A")
    item(h, "ControladorSolar_EnergiaHoje", 60, "1.27 kWh")
    for name, (middle, swing, digits, unit) in {
        "Rede_Tensao": (218.6, 1.2, 1, "V"),
        "Rede_Frequencia": (60.0, 0.02, 2, "Hz"),
        "Rede_Potencia": (860, 90, 0, "W"),
        "Poco_Pressao": (2.8, 0.2, 1, "bar"),
        "Poco_CorrenteBomba": (5.9, 0.1, 1, "A"),
        "CaixaDagua_Nivel": (78, 1, 0, "%"),
        "Piscina_Temperatura": (24.9, 0.2, 1, "°C"),
        "Piscina_pH": (7.4, 0.02, 2, ""),
        "Boiler_Temperatura": (57.3, 0.6, 1, "°C"),
        "Estufa_Temperatura": (31.2, 0.6, 1, "°C"),
        "Estufa_UmidadeSolo": (43, 1, 0, "%"),
        "Galinheiro_Temperatura": (27.8, 0.3, 1, "°C"),
        "Galinheiro_Amonia": (6, 1, 0, "ppm"),
        "Sala_Temperatura": (25.1, 0.2, 1, "°C"),
        "Quarto_Temperatura": (24.7, 0.2, 1, "°C"),
        "Freezer_Temperatura": (-17.8, 0.6, 1, "°C"),
        "Cerca_Tensao": (7.2, 0.2, 1, "kV"),
        "Cerca_Bateria": (12.9, 0.01, 1, "V"),
        "Portao_Bateria": (13.6, 0.02, 1, "V"),
        "Trator_Bateria": (12.5, 0.01, 1, "V"),
        "Alarme_Bateria": (13.7, 0.01, 1, "V"),
        "Nobreak_Bateria": (27.3, 0.03, 1, "V"),
        "Nobreak_Carga": (23, 2, 0, "%"),
        "Internet_Latencia": (34, 6, 0, "ms"),
    }.items():
        item(h, name, 30, text(wanders(h, middle, swing), digits, f"{{}} {unit}".strip()))
    for name, state in {
        "Portao_Contato": "CLOSED",
        "Cozinha_Porta": "CLOSED",
        "Varanda_Luz": "OFF",
        "Curral_Luz": "ON",
        "Bomba_Poco": "ON",
        "Ventilador_Sala": "ON",
        "Irrigacao_Setor1": "OFF",
        "Alarme_Estado": "DESARMADO",
        "Presenca_Casa": "ON",
    }.items():
        item(h, name, 90, state)
    lithium(h, "patinete", 4, ("tensao", "corrente", "carga", "temp", "celula{}"))
    loose(
        h,
        30,
        {
            "estacao/temp": (25.6, 0.3, 1),
            "estacao/umidade": (64, 1, 0),
            "estacao/pressao": (927.4, 0.2, 1),
            "estacao/vento": (1.8, 0.8, 1),
        },
    )
    for name in ("maquina_lavar", "geladeira"):
        plug(h, f"tomadas/{name}", 219)
    coin_cells(h, "zigbee", ("janela", "despensa"))
    phone(h, "rastreio/bia/celular")
    kept(h, {"casa/hub/estado": "online", "casa/hub/versao": "4.1", "tomadas/antiga": {"state": "OFF"}})
    return h


FRESH_N: tuple[Callable[[], House], ...] = (
    cider_orchard,
    rifugio,
    woonark,
    chalupa,
    khutir,
    mokki,
    cattle_station,
    sitio,
)
