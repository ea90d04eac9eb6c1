"""Six more ordinary households with one flooded bank on its equalising round, written by a hand that saw no rule.

Two are in English, one each in German, Croatian, Estonian and Slovak. The truth of a place stands beside its signal,
as the owner would tell it. What no name, no kept note and no physics tells has its Truth as well and stands in
`ONLY_THE_OWNER_KNOWS`. What only says a place once more (a display, another instrument on the same terminals) has no
Truth and stands in `COPIES`. One bank is blocked and rests, two are in bulk, one tapers, two are held.
"""

from __future__ import annotations

import math
from collections.abc import Callable
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
    relay,
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
RELAY, FAN, DOOR = "relay_state", "fan", "door"
DRAWN = "discharging"

#: House, topic, and the place in the payload ("" for all of it) that no one can tell from what is on the broker.
ONLY_THE_OWNER_KNOWS: frozenset[tuple[str, str, str]] = frozenset(
    {
        # Probes on one wire in the cellar, called by their serial numbers.
        ("stone house", "kuca/1w/28ff6a0316/temp", ""),
        ("stone house", "kuca/1w/28ff91c205/temp", ""),
        # The same on the farm, where nobody gave this one a name.
        ("forklift farm", "seadmed/w1/kanalid/28-0a41c7", ""),
        # The third output of a relay board; the charger hangs on it.
        ("forklift farm", "seadmed/rele_1/kanalid/K3", ""),
        # A radio socket that carries only its number.
        ("mountain hut", "radio/zasuvka3/stav", ""),
    }
)
#: House, topic, place: what is only said once more.
COPIES: frozenset[tuple[str, str, str]] = frozenset(
    {
        ("narrowboat", "boat/charger/out_v", ""),
        ("narrowboat", "boat/solar/batt_v", ""),
        ("narrowboat", "boat/display/page1", "/v"),
        ("narrowboat", "boat/display/page1", "/a"),
        ("orchard barn", "tele/cart_charger/STATE", "/POWER"),
        ("orchard barn", "kitchen/tablet/cart", "/volts"),
        ("orchard barn", "kitchen/tablet/cart", "/amps"),
        ("joiner's shop", "hub/0/wechselrichter/DC_Spannung", "/val"),
        ("joiner's shop", "hub/0/anzeige/flur/Batterie_V", "/val"),
        ("joiner's shop", "hub/0/anzeige/flur/Saeure", "/val"),
        ("stone house", "kuca/solar/baterija_napon", ""),
        ("stone house", "kuca/inverter/stanje", "/bat_u"),
        ("forklift farm", "kontor/ekraan", "/tostuk/pinge"),
        ("forklift farm", "kontor/ekraan", "/tostuk/vool"),
        ("mountain hut", "chata/solar/bateria", ""),
        ("mountain hut", "chata/suhrn", "/bat"),
        ("mountain hut", "chata/suhrn", "/elektrolyt"),
    }
)


class Wet(NamedTuple):
    """A flooded bank as its wires tell it: volts, amperes into it, watts, the acid's warmth, the charger's amperes."""

    volts: Signal
    amps: Signal
    watts: Signal
    acid: Signal
    fed: Signal


def wet(
    house: House,
    cells: int,
    amp_hours: float,
    *,
    limit: float,
    ceiling: float = 9.0,
    inner: float = 2.1,
    gassing: float = 0.9,
    rise: float = 0.02,
    acid: float,
    air: float,
    load: Signal = lambda _t: 0.0,
) -> Wet:
    """Reckon a bank second by second, from a quarter of an hour before anybody listens.

    `limit` is the charger's most amperes, `ceiling` the volts a cell it does not pass, `rise` what the cell's inner
    volts gain an hour; `gassing` is the share of the amperes that splits water.
    """
    hundreds, step, before = amp_hours / 100.0, 0.5, 900
    ohms = 0.0012 / hundreds

    def settled(amps: float) -> float:
        if amps <= 0.0:
            return -0.03 * math.asinh(-amps / (3.0 * hundreds))
        split, take = math.log10(1.0 + amps / (0.04 * hundreds)), math.asinh(amps / (2.0 * hundreds))
        return 0.24 * gassing * split + 0.09 * (1.0 - gassing) * take

    goal = min(settled(limit), ceiling - inner) if limit else 0.0
    quick, slow, fed, warmth = 0.6 * goal, 0.4 * goal, limit, acid
    heard: list[tuple[float, float, float, float]] = []
    for n in range(-2 * before, 2 * house.seconds + 4):
        t = n * step
        drawn = load(t)
        stand = inner + rise * t / 3600.0 + quick + slow
        fed += (max(0.0, min(limit, (ceiling - stand) / ohms + drawn)) - fed) * 0.3
        amps = fed - drawn
        if n >= 0 and n % 2 == 0:
            heard.append((cells * (stand + ohms * amps), amps, warmth, fed))
        aim = settled(amps)
        quick += (0.6 * aim - quick) * step / 30.0
        slow += (0.4 * aim - slow) * step / 700.0
        if n >= 0:
            warmth += step * (abs(amps * (quick + slow)) / (6500.0 * hundreds) - (warmth - air) / 43000.0)

    def wire(which: int) -> Signal:
        def at(t: float) -> float:
            second = min(max(t, 0.0), float(house.seconds))
            low = int(second)
            return heard[low][which] + (second - low) * (heard[low + 1][which] - heard[low][which])

        return at

    volts, current = wire(0), wire(1)
    return Wet(volts, current, lambda t: volts(t) * current(t), wire(2), wire(3))


def scaled(signal: Signal, by: float, plus: float = 0.0) -> Signal:
    """Read a signal on another scale."""
    return lambda t: by * signal(t) + plus


def read(house: House, signal: Signal, sigma: float) -> Signal:
    """Read a signal by an instrument that hisses."""
    hiss = house.noise(sigma)
    return lambda t: signal(t) + hiss(t)


def meter(house: House, source: Wet, volts: float, amps: float) -> tuple[Signal, Signal, Signal]:
    """Read volts and amperes, and multiply what was read."""
    u, i = read(house, source.volts, volts), read(house, source.amps, amps)
    return u, i, lambda t: u(t) * i(t)


def parts(house: House, volts: Signal, number: int, uneven: float, sigma: float) -> list[Signal]:
    """Part a bank in pieces, no two alike, whose sum is the bank's volts."""
    leans = [house.chance.uniform(-uneven, uneven) for _ in range(number)]
    middle = sum(leans) / number
    return [read(house, scaled(volts, (1.0 + lean - middle) / number), sigma) for lean in leans]


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


def body(shape: object) -> Callable[[float], object]:
    """Say one object or list."""
    return lambda t: fill(shape, t)


def clock(t: float) -> int:
    """Epoch seconds, as a device stamps them."""
    return int(START + t)


Span = tuple[float, float, int]


def drifting(house: House, middle: float, swing: float) -> Signal:
    """Let a number of somebody else's wander by `swing` about its middle."""
    return house.around(middle, swing, house.chance.uniform(500, 3000), 0.08 * swing)


def strangers(house: House, base: str, every: float, spans: dict[str, Span], form: str = "{}") -> None:
    """Say numbers that have nothing to do with the bank, a topic each: the middle, the swing, the digits."""
    for name, (middle, swing, digits) in spans.items():
        house.say(f"{base}/{name}", every, word(drifting(house, middle, swing), digits, form))


def stranger(house: House, topic: str, every: float, spans: dict[str, Span], **fixed: object) -> None:
    """Say a thing that has nothing to do with the bank, all in one object."""
    shape: dict[str, object] = dict(fixed)
    for key, (middle, swing, digits) in spans.items():
        shape[key] = (drifting(house, middle, swing), digits)
    house.say(topic, every, body(shape))


def states(house: House, base: str, every: float, said: dict[str, object], *, retain: bool = False) -> None:
    """Let things keep saying one word."""
    for name, what in said.items():
        house.say(f"{base}/{name}", every, what, retain=retain)


def narrowboat() -> House:
    """English: a boat at its winter mooring, two strings of leisure batteries held at sixteen volts."""
    h = House("narrowboat", 7101, "leisure", {"leisure": 6})
    lamps = h.steps(1.4, 2.1, 4.6, dwell=110)
    b = wet(h, 6, 440, limit=40, ceiling=2.67, inner=2.17, gassing=0.96, acid=29.5, air=13.0, load=lamps)
    u, i, p = meter(h, b, 0.004, 0.04)
    base = "boat/batt/leisure"
    h.say(f"{base}/volts", 2, word(u, 2), Truth("leisure", VOLTS, "V"))
    h.say(f"{base}/amps", 2, word(i, 2), Truth("leisure", AMPS, "A"))
    h.say(f"{base}/watts", 2, word(p, 0), Truth("leisure", WATTS, "W"))
    for name, share in (("amps_bank_port", 0.53), ("amps_bank_stbd", 0.47)):
        h.say(f"{base}/{name}", 5, word(read(h, scaled(b.amps, share), 0.05), 1), Truth("leisure", STRING, "A"))
    h.say(f"{base}/acid_temp", 20, word(read(h, b.acid, 0.04), 1), Truth("leisure", ACID, "degC"))
    box = h.around(13.2, 0.2, 2400, 0.05)
    h.say("boat/batt/box/air_temp", 20, word(box, 1), Truth("leisure", AIR, "degC"))
    h.say("boat/batt/box/vent_fan", 30, "on", Truth("leisure", FAN))
    states(h, base, 60, {"soc": "100", "time_to_go": "--", "ah_used": "0.0", "last_full": "0"})
    h.say(f"{base}/watering_due", 600, "2026-12-04", retain=True)
    starter(h, "boat/batt/engine/volts")
    starter(h, "boat/batt/bow_thruster/volts")
    relay(h, "boat/charger/relay", "state", "leisure")
    h.say("boat/charger/mode", 30, "equalise")
    h.say("boat/charger/out_v", 5, word(read(h, scaled(b.volts, 1.0, 0.06), 0.02), 1))
    h.say("boat/charger/out_a", 5, word(read(h, b.fed, 0.15), 1))
    strangers(h, "boat/charger", 15, {"heatsink": (41.0, 0.6, 1), "mains_v": (229.0, 1.5, 0)})
    solar(h, "boat/solar", ("pv_v", "pv_a", "pv_w", "kwh_today", "batt_v"), read(h, b.volts, 0.05))
    mains(h, "boat/shore", ("volts", "hz", "watts"), 231.0, 50.0)
    strangers(h, "boat/tank", 60, {"water_pct": (62, 0.3, 0), "diesel_l": (118, 0.2, 0), "waste_pct": (35, 0.1, 0)})
    strangers(h, "boat/engine", 30, {"coolant": (14.5, 0.2, 1), "hours": (3311.4, 0.0, 1), "rpm": (0.0, 0.0, 0)})
    strangers(h, "boat/heating", 20, {"flow": (58.0, 3.0, 1), "return": (47.0, 2.0, 1), "stove_flue": (164.0, 14, 0)})
    states(h, "boat/bilge", 30, {"pump": "off", "water": "dry", "pump_count": "14"})
    for room in ("saloon", "cabin"):
        climate(h, f"boat/{room}", ("temp", "humidity", "batt"))
    weather(h, "boat/weather", ("temp", "humidity", "pressure", "wind", "gust"))
    router(h, "boat/modem", ("temp", "load", "uptime", "rx_kbps"))
    coin_cells(h, "zb", ("side hatch", "stern door"))
    lights(h, "zb", ("saloon strip",))
    h.say("boat/display/page1", 10, body({"v": (u, 1), "a": (i, 0), "water": 62, "msg": "EQ RUNNING"}))
    phone(h, "tracks/jo/phone")
    return h


def discovered(
    h: House, node: str, entity: str, name: str, unit: str, kind: str, says: object, every: float, truth: Truth | None
) -> None:
    """Say a board's sensor, and keep its discovery document on the broker."""
    topic = f"{node}/sensor/{entity}/state"
    about = {"name": name, "stat_t": topic, "uniq_id": f"{node}-{entity}", "dev": {"name": node, "ids": "c45bbe01"}}
    if unit:
        about |= {"unit_of_meas": unit, "stat_cla": "measurement"}
    if kind:
        about["dev_cla"] = kind
    h.say(f"homeassistant/sensor/{node}/{entity}/config", 600, about, retain=True)
    h.say(topic, every, says, truth)


def orchard_barn() -> House:
    """English, overseas: a golf cart of six six-volt batteries in bulk, in Fahrenheit, with discovery documents."""
    h = House("orchard barn", 7102, "cart", {"cart": 18})
    b = wet(h, 18, 225, limit=21, inner=2.11, gassing=0.3, rise=0.12, acid=24.0, air=9.0)
    u, i, p = meter(h, b, 0.015, 0.06)
    acid, air = scaled(read(h, b.acid, 0.05), 1.8, 32.0), h.around(48.4, 0.4, 2000, 0.1)
    node = "barn-node"
    for entity, name, unit, kind, says, every, truth in (
        ("pack_voltage", "Pack Voltage", "V", VOLTS, word(u, 2), 10, Truth("cart", VOLTS, "V")),
        ("pack_current", "Pack Current", "A", AMPS, word(i, 2), 10, Truth("cart", AMPS, "A")),
        ("pack_power", "Pack Power", "W", WATTS, word(p, 1), 10, Truth("cart", WATTS, "W")),
        ("battery_3_temp", "Battery 3 Acid Temp", "°F", "temperature", word(acid, 1), 30, Truth("cart", ACID, "degF")),
        ("barn_temp", "Barn Temp", "°F", "temperature", word(air, 1), 30, Truth("cart", AIR, "degF")),
        ("wifi_signal", "WiFi Signal", "dBm", "signal_strength", word(h.around(-67, 2, 700), 0), 60, None),
        ("uptime", "Uptime", "s", "duration", word(h.counter(88120, 1.0), 0), 60, None),
    ):
        discovered(h, node, entity, name, unit, kind, says, every, truth)
    for n, one in enumerate(parts(h, b.volts, 6, 0.006, 0.006), 1):
        discovered(h, node, f"batt_{n}", f"Battery {n}", "V", VOLTS, word(one, 2), 30, Truth("cart", BLOCK, "V"))
    h.say(f"{node}/status", 600, "online", retain=True)
    h.say("stat/cart_charger/POWER", 60, "ON", Truth("cart", RELAY))
    h.say("tele/cart_charger/STATE", 60, {"Uptime": "3T02:11:40", "POWER": "ON", "Wifi": {"RSSI": 58, "Signal": -71}})
    wall, line = scaled(b.watts, 1.0 / 0.86), h.around(121.4, 0.6, 800, 0.2)
    drawn = {
        "Total": (h.counter(412.3, 3e-4), 3),
        "Power": (wall, 0),
        "Factor": 0.97,
        "Voltage": (line, 0),
        "Current": (lambda t: wall(t) / line(t) / 0.97, 2),
    }
    h.say("tele/cart_charger/SENSOR", 30, body({"Time": "2026-11-25T08:20:00", "ENERGY": drawn}))
    h.say("stat/barn_exhaust_fan/POWER", 60, "ON", Truth("cart", FAN))
    for name in ("freezer", "well_pump", "incubator"):
        plug(h, f"tele/{name}/SENSOR", 121.0)
        h.say(f"stat/{name}/POWER", 120, "ON")
    starter(h, "tractor/battery")
    starter(h, "gate/opener/battery")
    strangers(h, "kids/scooter", 30, {"volts": (26.9, 0.03, 1), "charge_amps": (1.6, 0.05, 1)})
    office = {"input.voltage": (121, 0.5, 1), "battery.voltage": (27.2, 0.05, 1), "load": (18, 4, 0)}
    stranger(h, "ups/office", 20, office)
    strangers(h, "fence", 60, {"kv": (6.8, 0.3, 1), "battery": (12.7, 0.02, 2)})
    strangers(h, "freezers", 60, {"chest": (-2.1, 0.6, 1), "upright": (1.4, 0.7, 1)}, "{} F")
    strangers(h, "greenhouse", 45, {"temp": (58.3, 0.8, 1), "humidity": (71, 2, 0), "soil": (43, 0.2, 0)})
    strangers(h, "well", 30, {"psi": (48, 5, 1), "gpm": (2.1, 1.4, 1)})
    weather(h, "weather/pole", ("wind_mph", "humidity", "baro_mb", "gust_mph"))
    coin_cells(h, "zb/doors", ("barn side", "coop", "mailbox"))
    h.say("kitchen/tablet/cart", 30, body({"volts": (u, 1), "amps": (i, 0), "note": "EQ till noon"}))
    homie_thermostat(h, "thermo/5/hallway")
    strangers(h, "propane", 300, {"percent": (54, 0.1, 0)})
    phone(h, "phones/dad")
    return h


def joiners_shop() -> House:
    """German: a joiner's island supply of 24 single cells that tapers, in a hub's tree of states."""
    h = House("joiner's shop", 7103, "speicher", {"speicher": 24})
    draw = h.steps(2.2, 3.0, 6.4, dwell=75)
    b = wet(h, 24, 600, limit=70, ceiling=2.67, inner=2.12, gassing=0.93, rise=0.1, acid=31.0, air=15.0, load=draw)
    u, i, _ = meter(h, b, 0.012, 0.08)

    def state(name: str, every: float, what: object, truth: Truth | None = None) -> None:
        told = {"val": what, "ack": True, "ts": lambda t: 1000 * clock(t), "q": 0, "from": "system.adapter.0"}
        h.say(f"hub/0/{name}", every, body(told), {"/val": truth} if truth else None)

    room = "batterieraum"
    out = scaled(i, -1.0)
    state(f"{room}/Batteriespannung", 5, (u, 2), Truth("speicher", VOLTS, "V"))
    state(f"{room}/Batteriestrom", 5, (out, 1), Truth("speicher", AMPS, "A", DRAWN))
    state(f"{room}/Batterieleistung", 5, (lambda t: u(t) * out(t), 0), Truth("speicher", WATTS, "W", DRAWN))
    h.say(f"hub/0/{room}/Hinweis", 600, "Strom: Laden negativ, Entladen positiv", retain=True)
    state(f"{room}/Mittelabgriff", 10, (read(h, scaled(b.volts, 0.4988), 0.01), 2), Truth("speicher", MIDDLE, "V"))
    state(f"{room}/Saeuretemperatur", 30, (read(h, b.acid, 0.04), 1), Truth("speicher", ACID, "degC"))
    state(f"{room}/Raumtemperatur", 30, (h.around(15.3, 0.2, 2500, 0.04), 1), Truth("speicher", AIR, "degC"))
    state(f"{room}/Luefter", 30, True, Truth("speicher", FAN))
    state(f"{room}/Tuer_offen", 60, False, Truth("speicher", DOOR))
    state(f"{room}/Ladeschuetz", 30, True, Truth("speicher", RELAY))
    cells = parts(h, scaled(b.volts, 1000.0), 24, 0.008, 2.0)
    h.say(
        "zellwaechter/werte",
        20,
        body({"n": 24, "mV": [(cell, 0) for cell in cells], "zeit": clock}),
        {f"/mV/{n}": Truth("speicher", CELL, "mV") for n in range(24)},
    )
    h.say("zellwaechter/version", 600, "1.4", retain=True)
    seen = read(h, scaled(b.volts, 1.0, -0.15), 0.05)
    state("wechselrichter/DC_Spannung", 10, (seen, 1))
    state("anzeige/flur/Batterie_V", 30, (u, 1))
    state("anzeige/flur/Saeure", 60, (b.acid, 0))
    for name, every, (middle, swing, digits) in (
        ("wechselrichter/AC_Spannung", 10, (230.4, 0.6, 1)),
        ("wechselrichter/AC_Leistung", 10, (196.0, 70.0, 0)),
        ("wechselrichter/Frequenz", 10, (50.0, 0.01, 2)),
        ("wechselrichter/Temperatur", 30, (37.5, 0.6, 1)),
        ("generator/Drehzahl", 10, (1503.0, 4.0, 0)),
        ("generator/Kuehlwasser", 30, (81.0, 1.0, 1)),
        ("generator/Starterbatterie", 30, (14.1, 0.05, 2)),
        ("generator/Leistung_kW", 10, (4.3, 0.4, 2)),
        ("pv/dach_sued/Spannung", 10, (118.0, 4.0, 1)),
        ("pv/dach_sued/Strom", 10, (2.4, 0.8, 2)),
        ("pv/dach_sued/Tagesertrag", 60, (0.62, 0.01, 2)),
        ("heizung/Vorlauf", 30, (52.0, 1.2, 1)),
        ("heizung/Ruecklauf", 30, (41.0, 0.8, 1)),
        ("heizung/Puffer_oben", 60, (68.4, 0.3, 1)),
        ("heizung/Puffer_unten", 60, (39.1, 0.3, 1)),
        ("werkstatt/Temperatur", 60, (17.8, 0.3, 1)),
        ("werkstatt/Luftfeuchte", 60, (46.0, 1.0, 0)),
        ("werkstatt/Absaugung_Druck", 10, (1840.0, 60.0, 0)),
        ("werkstatt/Absaugung_Strom", 10, (6.1, 0.4, 1)),
        ("stapler/Akku_Prozent", 60, (78.0, 0.1, 0)),
        ("alarm/Akkuspannung", 60, (13.62, 0.01, 2)),
        ("usv/Batterie_V", 30, (54.4, 0.05, 1)),
        ("usv/Last_Prozent", 30, (22.0, 3.0, 0)),
        ("haus/Wohnzimmer/Temperatur", 60, (21.2, 0.2, 1)),
        ("haus/Bad/Temperatur", 60, (22.9, 0.2, 1)),
        ("haus/Keller/Luftfeuchte", 60, (64.0, 0.5, 0)),
        ("haus/Kueche/Temperatur", 60, (20.6, 0.2, 1)),
        ("haus/Kueche/CO2", 60, (740.0, 40.0, 0)),
        ("haus/Fernbedienung/Batterie_Prozent", 120, (83.0, 0.0, 0)),
        ("zisterne/Pumpendruck", 30, (3.4, 0.2, 1)),
        ("zisterne/Fuellstand_cm", 60, (143.0, 0.1, 0)),
        ("wetter/Aussentemperatur", 60, (3.8, 0.2, 1)),
        ("wetter/Luftdruck", 60, (1011.3, 0.3, 1)),
        ("wetter/Wind", 30, (3.2, 1.1, 1)),
    ):
        state(name, every, (drifting(h, middle, swing), digits))
    state("generator/laeuft", 30, True)
    state("haus/Haustuer_offen", 120, False)
    state("system/Sonnenuntergang", 300, "16:31")
    for n in range(3):
        plug(h, f"dosen/{('saege', 'kompressor', 'kaffee')[n]}/SENSOR", 230.0)
    coin_cells(h, "zb", ("Fenster Lager", "Tor Hof"))
    router(h, "server/mini", ("cpu_temp", "last", "laufzeit", "netz_kbit"))
    phone(h, "handy/werner")
    return h


def stone_house() -> House:
    """Croatian: a house by the sea whose charger is blocked; the bank of two blocks feeds a little and waits."""
    h = House("stone house", 7104, "aku", {"aku": 12})
    b = wet(h, 12, 230, limit=0, inner=2.135, rise=-0.03, acid=23.5, air=16.0, load=h.steps(0.4, 0.9, 2.3, dwell=80))
    u, i, p = meter(h, b, 0.006, 0.02)
    base = "kuca/podrum/aku"
    h.say(f"{base}/napon", 15, word(u, 2), Truth("aku", VOLTS, "V"))
    h.say(f"{base}/struja", 15, word(i, 2), Truth("aku", AMPS, "A"))
    h.say(f"{base}/snaga", 15, word(p, 1), Truth("aku", WATTS, "W"))
    for name, one in zip("ab", parts(h, b.volts, 2, 0.003, 0.005), strict=True):
        h.say(f"{base}/blok_{name}", 30, word(one, 2), Truth("aku", BLOCK, "V"))
    h.say("kuca/podrum/punjac/relej", 60, "OFF", Truth("aku", RELAY))
    h.say("kuca/podrum/punjac/relej/set", 600, "OFF", retain=True)
    h.say("kuca/podrum/punjac/poruka", 60, "blokada - ventilator ne radi")
    h.say("kuca/podrum/ventilator", 60, "OFF", Truth("aku", FAN))
    h.say("kuca/podrum/vrata", 60, "zatvoreno", Truth("aku", DOOR))
    h.say("kuca/1w/28ff6a0316/temp", 60, word(read(h, b.acid, 0.06), 2), Truth("aku", ACID, "degC"))
    h.say("kuca/1w/28ff91c205/temp", 60, word(h.around(16.2, 0.1, 2500, 0.05), 2), Truth("aku", AIR, "degC"))
    strangers(
        h,
        "kuca/1w",
        60,
        {"28ff07be11/temp": (24.4, 0.3, 2), "28ffd3a920/temp": (17.1, 0.2, 2), "28ff550c8e/temp": (38.2, 0.5, 2)},
    )
    solar(h, "kuca/solar", ("panel_napon", "panel_struja", "panel_snaga", "danas_kwh", "baterija_napon"), b.volts)
    inverter = {
        "rezim": "mreza",
        "bat_u": (lambda t: 10.0 * u(t), 0),
        "mreza_u": (h.around(2341, 9, 600, 2), 0),
        "f": 5001,
        "snaga": (h.steps(180, 420, 1310, dwell=60, sigma=6), 0),
        "t": (h.around(312, 3, 900, 1), 0),
    }
    h.say("kuca/inverter/stanje", 20, body(inverter))
    mains(h, "kuca/brojilo", ("napon", "frekvencija", "snaga"), 234.0, 50.0)
    strangers(h, "kuca/brojilo", 60, {"kwh_vt": (18231.4, 0.0, 1), "kwh_nt": (9120.7, 0.0, 1)})
    lithium(h, "kuca/garaza/bicikl", 10, ("napon", "struja", "postotak", "temp", "celija{}"))
    starter(h, "kuca/barka/akumulator")
    starter(h, "kuca/alarm/akumulator")
    strangers(h, "kuca/bojler", 30, {"temp": (54.0, 0.4, 1), "snaga": (0.0, 0.0, 0)})
    strangers(h, "kuca/cisterna", 60, {"razina": (71.0, 0.1, 0), "tlak": (2.8, 0.2, 1)})
    strangers(h, "kuca/klima", 30, {"zadano": (22.0, 0.0, 1), "soba": (21.6, 0.3, 1), "vani": (13.9, 0.2, 1)})
    climate(h, "kuca/kuhinja", ("temperatura", "vlaga", "baterija"))
    climate(h, "kuca/spavaca", ("temperatura", "vlaga", "baterija"))
    weather(h, "kuca/postaja", ("temperatura", "vlaga", "tlak", "bura", "kisa"))
    states(h, "kuca/svjetla", 120, {"terasa": "OFF", "hodnik": "ON", "konoba": "OFF"})
    states(h, "kuca/rolete", 120, {"dnevna": "100", "jug": "40"})
    coin_cells(h, "zb", ("ulazna vrata", "prozor kupaona"))
    router(h, "kuca/usmjernik", ("temp", "opterecenje", "uptime", "kbps"))
    plug(h, "kuca/uticnica/perilica", 234.0)
    plug(h, "kuca/uticnica/zamrzivac", 234.0)
    phone(h, "mobitel/ivana")
    return h


def forklift_farm() -> House:
    """Estonian: the forklift of a farm, forty cells in bulk, in a tree of devices and channels with kept notes."""
    h = House("forklift farm", 7105, "tostuk", {"tostuk": 40})
    b = wet(h, 40, 500, limit=62, inner=2.13, gassing=0.3, rise=0.1, acid=27.5, air=11.0)
    u, i, p = meter(h, b, 0.03, 0.12)

    def channel(
        device: str, name: str, title: str, unit: str, says: object, every: float, truth: Truth | None = None
    ) -> None:
        topic = f"seadmed/{device}/kanalid/{name}"
        h.say(topic, every, says, truth)
        if title or unit:
            h.say(f"{topic}/meta", 600, {"nimi": title, "ühik": unit, "readonly": True}, retain=True)

    def other(device: str, name: str, title: str, unit: str, span: Span, every: float = 20) -> None:
        channel(device, name, title, unit, word(drifting(h, span[0], span[1]), span[2]), every)

    channel("dc_1", "u", "Tõstuki aku pinge", "V", word(u, 2), 1, Truth("tostuk", VOLTS, "V"))
    channel("dc_1", "i", "Tõstuki laadimisvool", "A", word(i, 2), 1, Truth("tostuk", AMPS, "A"))
    kilo = scaled(p, 0.001)
    channel("dc_1", "p", "Tõstuki laadimisvõimsus", "kW", word(kilo, 3), 1, Truth("tostuk", WATTS, "kW"))
    half = read(h, scaled(b.volts, 0.5012), 0.02)
    channel("dc_1", "u2", "Tõstuki aku keskpunkt", "V", word(half, 2), 5, Truth("tostuk", MIDDLE, "V"))
    acid = word(read(h, b.acid, 0.05), 2)
    channel("w1", "28-0a3f12", "Tõstuki aku elektrolüüt", "°C", acid, 30, Truth("tostuk", ACID, "degC"))
    channel("w1", "28-0a41c7", "", "", word(h.around(11.3, 0.2, 2600, 0.04), 2), 30, Truth("tostuk", AIR, "degC"))
    channel("rele_1", "K3", "", "", "1", 30, Truth("tostuk", RELAY))
    channel("rele_1", "K4", "Laadimisruumi ventilaator", "", "1", 30, Truth("tostuk", FAN))
    for name in ("K1", "K2", "K5"):
        channel("rele_1", name, "", "", h.chance.choice(("0", "1")), 30)
    other("w1", "28-0a2299", "Lauda õhk", "°C", (9.4, 0.2, 2), 30)
    other("w1", "28-0a7d03", "", "", (4.1, 0.1, 2), 30)
    other("w1", "28-0ab8e5", "Piimajahuti", "°C", (3.6, 0.3, 2), 30)
    for n in (1, 2, 3):
        other("ac_1", f"u{n}", f"Peakilp L{n}", "V", (232.0 + n, 1.2, 1), 5)
        other("ac_1", f"i{n}", f"Peakilp L{n} vool", "A", (7.0 + 2 * n, 1.5, 2), 5)
    other("ac_1", "p", "Peakilp koguvõimsus", "kW", (7.9, 1.1, 2), 5)
    other("ac_1", "f", "Sagedus", "Hz", (50.0, 0.01, 2), 5)
    other("adc_2", "a1", "Traktori aku", "V", (12.74, 0.01, 2))
    other("adc_2", "a2", "Valvesignalisatsiooni aku", "V", (13.65, 0.01, 2))
    other("adc_2", "a3", "", "", (0.42, 0.02, 3))
    other("adc_2", "a4", "Veesurve", "bar", (3.1, 0.3, 2))
    other("kyte", "peale", "Küte pealevool", "°C", (46.0, 1.0, 1))
    other("kyte", "tagasi", "Küte tagasivool", "°C", (37.5, 0.7, 1))
    other("ilm", "temp", "Välistemperatuur", "°C", (1.9, 0.2, 1), 60)
    other("ilm", "tuul", "Tuul", "m/s", (4.2, 1.0, 1), 60)
    h.say(
        "kontor/ekraan",
        20,
        body({"tostuk": {"pinge": (u, 1), "vool": (i, 0)}, "piim": {"temp": 3.6, "liitrit": 2140}, "kell": clock}),
    )
    stranger(h, "ups/kontor", 30, {"sisend": (233, 1, 0), "aku": (27.3, 0.04, 1), "koormus": (14, 2, 0)}, olek="OL")
    coin_cells(h, "zb", ("Lauda uks", "Kontori aken"))
    states(h, "lypsirobot", 60, {"olek": "ootel", "loendur": "61"})
    phone(h, "telefon/mart")
    return h


def mountain_hut() -> House:
    """Slovak: a hut with four six-volt blocks held; bare arrays with a kept note, elsewhere units in the text."""
    h = House("mountain hut", 7106, "bateria", {"bateria": 12})
    load = h.steps(0.8, 1.5, 3.9, dwell=100)
    b = wet(h, 12, 240, limit=30, ceiling=2.67, inner=2.18, gassing=0.97, acid=26.8, air=8.0, load=load)
    u, i, p = meter(h, b, 0.02, 0.03)
    h.say(
        "chata/bateria",
        10,
        body([(scaled(u, 10.0), 0), (scaled(i, 1000.0), 0), (p, 0), clock]),
        {
            "/0": Truth("bateria", VOLTS, "dV"),
            "/1": Truth("bateria", AMPS, "mA"),
            "/2": Truth("bateria", WATTS, "W"),
        },
    )
    h.say("chata/bateria/popis", 600, ["napätie x0.1 V", "prúd mA (+ nabíjanie)", "výkon W", "čas"], retain=True)
    blocks = parts(h, b.volts, 4, 0.005, 0.006)
    told = {f"/{n}": Truth("bateria", BLOCK, "V") for n in range(4)}
    h.say("chata/bateria/bloky", 30, body([(block, 2) for block in blocks]), told)
    h.say("chata/bateria/elektrolyt", 60, word(read(h, b.acid, 0.05), 1, "{} °C"), Truth("bateria", ACID, "degC"))
    h.say("chata/bateria/okolie", 60, word(h.around(8.1, 0.2, 2400, 0.05), 1, "{} °C"), Truth("bateria", AIR, "degC"))
    h.say("radio/zasuvka3/stav", 60, "zap", Truth("bateria", RELAY))
    for n in (1, 2, 4):
        h.say(f"radio/zasuvka{n}/stav", 60, h.chance.choice(("zap", "vyp")))
    h.say("chata/bateria/ventilator", 60, "beží", Truth("bateria", FAN))
    h.say("chata/bateria/doliate", 600, "12.10. 1,5 l", retain=True)
    h.say("chata/nabijacka/rezim", 60, "vyrovnávacie nabíjanie")
    solar(h, "chata/solar", ("panel_U", "panel_I", "panel_P", "dnes_kWh", "bateria"), read(h, b.volts, 0.04))
    strangers(h, "chata/menic", 20, {"vystup": (229.6, 0.6, 1), "bez_zataze": (231.0, 0.2, 1)}, "{} V")
    strangers(h, "chata/menic", 20, {"odber": (64.0, 18.0, 0)}, "{} W")
    strangers(h, "chata/centrala", 20, {"napatie": (227.0, 3.0, 0), "starter": (13.9, 0.04, 2)}, "{} V")
    strangers(h, "chata/centrala", 20, {"prud": (6.2, 0.3, 1)}, "{} A")
    strangers(h, "chata/centrala", 60, {"motohodiny": (811.3, 0.0, 1)}, "{} h")
    strangers(
        h,
        "chata/teplota",
        60,
        {"izba": (19.2, 0.4, 1), "kuchyna": (21.0, 0.5, 1), "podkrovie": (14.7, 0.2, 1), "pivnica": (8.8, 0.1, 1)},
        "{} °C",
    )
    strangers(h, "chata/vlhkost", 60, {"izba": (44, 1, 0), "pivnica": (78, 1, 0)}, "{} %")
    strangers(h, "chata/kachle", 30, {"spaliny": (182, 15, 0), "voda": (61, 1.5, 0), "spiatocka": (48, 1, 0)}, "{} °C")
    strangers(h, "chata/voda", 60, {"nadrz": (420, 0.5, 0)}, "{} l")
    strangers(h, "chata/voda", 60, {"tlak": (2.6, 0.2, 1)}, "{} bar")
    strangers(h, "chata/skuter", 60, {"bateria": (51.8, 0.05, 1)}, "{} V")
    strangers(h, "chata/snezny_skuter", 60, {"bateria": (12.62, 0.01, 2)}, "{} V")
    strangers(h, "chata/zabezpecenie", 60, {"zaloha": (13.58, 0.01, 2)}, "{} V")
    weather(h, "meteo", ("teplota", "vlhkost", "tlak", "vietor", "naraz", "zrazky"))
    states(h, "chata/svetlo", 120, {"izba": "vyp", "schody": "zap", "vonku": "vyp", "sklad": "vyp"})
    states(h, "chata/dvere", 120, {"hlavne": "zatvorené", "sklad": "zatvorené"})
    shape = {"bat": (u, 1), "elektrolyt": (b.acid, 0), "izba": 19, "voda_l": 420, "sprava": "vyrovnávanie do 15:00"}
    h.say("chata/suhrn", 60, body(shape))
    stranger(h, "lora/brana", 60, {"rssi": (-97, 3, 0), "snr": (6.2, 1.0, 1), "teplota": (31, 0.5, 1)}, id="0af3")
    stranger(h, "lora/vcely/ul1", 60, {"hmotnost": (31.4, 0.02, 2), "teplota": (22.8, 0.2, 1), "bat": (3.91, 0.0, 2)})
    stranger(h, "lora/vcely/ul2", 60, {"hmotnost": (28.9, 0.02, 2), "teplota": (21.5, 0.2, 1), "bat": (3.87, 0.0, 2)})
    router(h, "chata/modem", ("teplota", "zataz", "bezi_s", "kbit"))
    coin_cells(h, "zb", ("okno izba", "kurín"))
    phone(h, "telefon/peter")
    return h


#: The households, in no particular order.
FRESH_P: tuple[Callable[[], House], ...] = (
    narrowboat,
    orchard_barn,
    joiners_shop,
    stone_house,
    forklift_farm,
    mountain_hut,
)
