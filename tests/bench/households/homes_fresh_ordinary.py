"""Six ordinary households with a flooded bank on equalisation: three English, one German, one French, one Italian.

The first score, before anything was mended for them: live right 38 of 38, found 44 of 47, the bank being equalised in 6
of 6. From then on they are houses to develop on, and tell nothing about strangers' houses any more.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping, Sequence

from tests.bench.households.world import START, Bank, House, Signal, Truth

#: Current as a function of time, relative to the first second, and drift of a cell's volts [V/s], by stage.
STAGES: dict[str, tuple[Callable[[float], float], float]] = {
    "blocked": (lambda t: 1.0 + t / 6000.0, -0.00003),
    "coming round": (lambda t: 1.0 + t / 1500.0, -0.00009),
    "bulk": (lambda _t: 1.0, 0.00006),
    "taper": (lambda t: math.exp(-t / 4200.0), 0.0),
    "hold": (lambda _t: 1.0, 0.0),
    "float": (lambda _t: 1.0, 0.0),
}

#: When the charger of the Italian house rests [s].
PAUSE = (265.0, 350.0)


def charged(
    house: House,
    cells: int,
    per_cell: float,
    amps: float,
    acid: float,
    stage: str,
    pause: tuple[float, float] | None = None,
) -> Bank:
    """A bank on charge as it truly is, before any meter reads it; during `pause` [s] the charger is off."""
    shape, drift = STAGES[stage]
    wander = house.around(0.0, 0.02 * amps, 210.0)
    ohms = cells * (0.012 if stage in {"blocked", "coming round"} else 0.0015)
    follows = 0.0 if stage in {"taper", "hold", "float"} else ohms
    begin, end = pause or (math.inf, math.inf)
    drop = per_cell - 2.2

    def current(t: float) -> float:
        return -0.3 if begin <= t < end else amps * shape(t) + wander(t)

    def sag(t: float) -> float:
        if t < begin:
            return 0.0
        if t < end:
            return drop * (0.35 + 0.5 * (1.0 - math.exp(-(t - begin) / 25.0)))
        return drop * 0.6 * math.exp(-(t - end) / 18.0)

    def volts(t: float) -> float:
        ripple = 0.0 if begin <= t < end else follows * wander(t)
        return cells * (per_cell + drift * t - sag(t)) + ripple

    warming = 0.9 / 3600.0 * min(3.0, max(0.3, amps / 6.0))
    return Bank(volts, current, lambda t: acid + warming * t, lambda t: volts(t) * current(t))


def shown(value: float, digits: int) -> float:
    """A value rounded as a display rounds it; without digits it is a whole number."""
    return round(value, digits) if digits else round(value)


def meter(
    house: House, signal: Signal, digits: int, sigma: float = 0.0, gain: float = 1.0, offset: float = 0.0
) -> Signal:
    """What an instrument with a little noise and its own error shows of a signal."""
    noise = house.noise(sigma)
    return lambda t: shown(signal(t) * gain + offset + noise(t), digits)


def probe(house: House, signal: Signal) -> Signal:
    """A digital thermometer with steps of a sixteenth of a degree."""
    noise = house.noise(0.03)
    return lambda t: round(round((signal(t) + noise(t)) * 16.0) / 16.0, 2)


def shares(house: House, signal: Signal, parts: int, spread: float) -> list[Signal]:
    """The signals of the blocks of a bank; they sum to the bank."""
    raw = [house.chance.uniform(-spread, spread) for _ in range(parts)]
    mean = sum(raw) / parts

    def part(weight: float) -> Signal:
        return lambda t: signal(t) * weight

    return [part((1.0 + one - mean) / parts) for one in raw]


def fahrenheit(signal: Signal) -> Signal:
    """Degrees Celsius told in Fahrenheit."""
    return lambda t: signal(t) * 1.8 + 32.0


def product(*signals: Signal, digits: int = 0) -> Signal:
    """Watts out of volts and amps as shown."""
    return lambda t: shown(math.prod(one(t) for one in signals), digits)


def words(house: House, *choices: str, dwell: float = 200.0) -> Callable[[float], str]:
    """A state in words that changes now and then."""
    salt = house.chance.random()
    return lambda t: random.Random(f"{salt}{int(t // dwell)}").choice(choices)


def spell(signal: Signal, form: str) -> Callable[[float], str]:
    """A value as text, e.g. with its unit behind."""
    return lambda t: form.format(signal(t))


def pack(tree: Mapping[str, object]) -> Callable[[float], object]:
    """A JSON object whose leaves are constants or functions of the second."""

    def told(node: object, t: float) -> object:
        if callable(node):
            return node(t)
        if isinstance(node, Mapping):
            return {key: told(value, t) for key, value in node.items()}
        if isinstance(node, Sequence) and not isinstance(node, str):
            return [told(value, t) for value in node]
        return node

    return lambda t: told(tree, t)


def slow(house: House, middle: float, digits: int = 1, swing: float = 0.0, sigma: float = 0.0) -> Signal:
    """Anything that wanders about a middle, as shown."""
    return meter(house, house.around(middle, swing, 1400.0), digits, sigma)


def count(house: House, start: float, per_second: float, digits: int = 0) -> Signal:
    """A counter as shown."""
    return meter(house, house.counter(start, per_second), digits)


def stamp(t: float) -> int:
    """Epoch seconds."""
    return int(START + t)


def tern_bothy() -> House:
    """English; a cabin with a generator; one 24 V bank, tapering; tidy plain topics."""
    h = House("tern_bothy", 4101, "main", {"main": 12})
    b = charged(h, 12, 2.585, 11.2, 31.4, "taper")
    loads = h.steps(0.9, 1.4, 2.3, dwell=120.0, sigma=0.02)
    sun = h.around(1.1, 0.4, 700.0, 0.02)
    volts, amps = meter(h, b.volts, 2, 0.008), meter(h, b.amps, 2, 0.03)
    h.say("bothy/battery/voltage", 5, volts, Truth("main", "voltage", "V"))
    h.say("bothy/battery/current", 5, amps, Truth("main", "current", "A"))
    h.say("bothy/battery/power", 5, product(volts, amps))
    h.say("bothy/battery/soc", 60, meter(h, h.counter(98.2, 0.0004), 1))
    h.say("bothy/battery/ah_in", 30, meter(h, h.counter(61.3, 10.4 / 3600), 2))
    h.say("bothy/battery/acid_temp", 20, probe(h, b.acid), Truth("main", "electrolyte_temperature", "degC"))
    h.say("bothy/shed/air_temp", 30, slow(h, 8.7, 2, 0.3, 0.03), Truth("main", "ambient_temperature", "degC"))
    h.say("bothy/shed/humidity", 30, slow(h, 71, 1, 1.5, 0.2))
    h.say("bothy/shed/hydrogen_ppm", 15, slow(h, 310, 0, 60, 12))
    h.say("bothy/shed/fan", 60, "ON")
    h.say("bothy/shed/door", 300, "closed", retain=True)
    h.say(
        "bothy/log/hydrometer",
        600,
        {"cell": 4, "sg": 1.243, "note": "topped up cells 2 and 9 yesterday"},
        {"/sg": Truth("main", "gravity")},
        retain=True,
    )
    out = meter(h, b.volts, 1, 0.02, offset=0.16)
    h.say("bothy/charger/state", 30, "equalise")
    h.say("bothy/charger/out_volts", 10, out)
    h.say("bothy/charger/out_amps", 10, meter(h, lambda t: b.amps(t) + loads(t) - sun(t), 1, 0.05))
    h.say("bothy/charger/ac_watts", 10, meter(h, lambda t: (b.amps(t) + loads(t) - sun(t)) * b.volts(t) / 0.87, 0, 2.0))
    h.say("bothy/charger/heatsink_temp", 30, slow(h, 46, 1, 1.2, 0.1))
    h.say("bothy/charger/minutes_left", 60, lambda t: int(118 - t // 60))
    h.say("bothy/inverter/dc_volts", 10, meter(h, b.volts, 1, 0.03, offset=-0.08))
    h.say("bothy/inverter/dc_amps", 10, meter(h, loads, 1))
    h.say("bothy/inverter/ac_volts", 10, slow(h, 230.4, 1, 0.3, 0.2))
    h.say("bothy/inverter/ac_watts", 10, meter(h, lambda t: loads(t) * b.volts(t) * 0.9, 0, 0.5))
    h.say("bothy/inverter/temp", 30, slow(h, 27.5, 1, 0.4, 0.1))
    h.say("bothy/inverter/alarm", 60, "none", retain=True)
    pv_volts = slow(h, 58.2, 1, 1.5, 0.2)
    h.say("bothy/solar/pv_volts", 10, pv_volts)
    h.say("bothy/solar/pv_amps", 10, meter(h, lambda t: sun(t) * b.volts(t) / 58.2 / 0.95, 2))
    h.say("bothy/solar/pv_watts", 10, meter(h, lambda t: sun(t) * b.volts(t) / 0.95, 0))
    h.say("bothy/solar/batt_volts", 10, meter(h, b.volts, 2, 0.015, offset=0.05))
    h.say("bothy/solar/charge_amps", 10, meter(h, sun, 2))
    h.say("bothy/solar/kwh_today", 60, meter(h, h.counter(0.04, 0.00001), 2))
    h.say("bothy/solar/state", 60, "bulk")
    h.say("bothy/genset/running", 30, "true")
    h.say("bothy/genset/rpm", 5, slow(h, 1502, 0, 4, 5))
    h.say("bothy/genset/oil_temp", 20, slow(h, 88, 1, 1, 0.2))
    h.say("bothy/genset/coolant_temp", 20, slow(h, 81.5, 1, 1, 0.2))
    h.say("bothy/genset/oil_pressure", 20, slow(h, 3.4, 2, 0.05, 0.02))
    h.say("bothy/genset/fuel_pct", 60, meter(h, h.counter(64.0, -0.0008), 1))
    h.say("bothy/genset/hours", 60, meter(h, h.counter(2213.4, 1 / 3600), 1))
    h.say("bothy/genset/ac_volts", 10, slow(h, 236.1, 1, 1, 0.4))
    h.say("bothy/genset/ac_watts", 10, slow(h, 812, 0, 20, 6))
    h.say("bothy/genset/frequency", 10, slow(h, 50.1, 2, 0.04, 0.02))
    for name, middle, digits, swing in (
        ("temperature", 4.2, 1, 0.2),
        ("humidity", 88, 0, 1),
        ("pressure", 1004.6, 1, 0.2),
        ("wind_ms", 6.1, 1, 2.0),
        ("gust_ms", 9.8, 1, 3.0),
        ("wind_dir", 235, 0, 20),
    ):
        h.say(f"bothy/weather/{name}", 30, slow(h, middle, digits, swing, swing / 10))
    h.say("bothy/weather/rain_today_mm", 120, 2.4)
    h.say("bothy/weather/battery", 300, 2.87)
    for room, warm in (("kitchen", 17.8), ("loft", 15.2), ("porch", 6.9)):
        h.say(f"bothy/{room}/temperature", 60, slow(h, warm, 1, 0.3, 0.05))
        h.say(f"bothy/{room}/humidity", 60, slow(h, 60, 0, 3))
        h.say(f"bothy/{room}/light", 120, words(h, "ON", "OFF", dwell=300))
        h.say(f"bothy/{room}/sensor_battery_pct", 300, round(h.chance.uniform(45, 100)))
    h.say("bothy/stove/flue_temp", 20, slow(h, 164, 0, 25, 2))
    h.say("bothy/stove/back_boiler_temp", 20, slow(h, 57.4, 1, 1.5, 0.1))
    h.say("bothy/fridge/temperature", 60, slow(h, 4.6, 1, 0.8))
    h.say("bothy/freezer/temperature", 60, slow(h, -17.2, 1, 0.8))
    h.say("bothy/fridge/door", 600, "closed", retain=True)
    h.say("bothy/water/tank_pct", 120, 71)
    h.say("bothy/water/pump", 60, words(h, "OFF", "OFF", "ON", dwell=60))
    h.say("bothy/water/pressure_bar", 30, slow(h, 2.3, 2, 0.3))
    h.say("bothy/door/front", 600, "closed", retain=True)
    h.say("bothy/gas/bottle_kg", 300, 11.6)
    h.say("bothy/hub/status", 600, "online", retain=True)
    h.say("bothy/hub/uptime", 60, count(h, 912_044, 1))
    h.say("bothy/hub/cpu_temp", 60, slow(h, 48.3, 1, 0.8, 0.3))
    h.say("bothy/hub/wan_rssi", 60, slow(h, -91, 0, 3))
    return h


def heron_boat() -> House:
    """English; a narrowboat on shore power; 12 V leisure bank coming round, a starter battery; short JSON names."""
    h = House("heron_boat", 4202, "leisure", {"leisure": 6})
    b = charged(h, 6, 2.69, 2.3, 19.6, "coming round")
    lower = shares(h, b.volts, 2, 0.015)[0]
    volts, amps = meter(h, b.volts, 2, 0.006), meter(h, lambda t: -b.amps(t), 2, 0.015)
    h.say(
        "nb/bm",
        4,
        pack(
            {
                "V": volts,
                "I": amps,
                "P": product(volts, amps, digits=1),
                "mid": meter(h, lower, 2, 0.005),
                "Ah": meter(h, lambda t: -37.4 + (2.3 * t + 2.3 * t * t / 3000.0) / 3600.0, 1),
                "soc": 83,
                "up": count(h, 220_112, 1),
            }
        ),
        {
            "/V": Truth("leisure", "voltage", "V"),
            "/I": Truth("leisure", "current", "A", "discharging"),
            "/mid": Truth("leisure", "block_voltage", "V"),
        },
    )
    h.say("nb/temps/batt_acid", 30, probe(h, b.acid), Truth("leisure", "electrolyte_temperature", "degC"))
    h.say("nb/temps/batt_box", 30, probe(h, h.around(12.4, 0.2)), Truth("leisure", "ambient_temperature", "degC"))
    h.say("nb/temps/engine_block", 30, probe(h, h.around(11.1, 0.1)))
    h.say("nb/temps/calorifier", 30, probe(h, h.around(52.3, 0.4)))
    h.say("nb/temps/saloon", 30, probe(h, h.around(19.8, 0.3)))
    h.say("nb/temps/cabin", 30, probe(h, h.around(16.4, 0.2)))
    h.say("nb/temps/outside", 30, probe(h, h.around(5.9, 0.2)))
    h.say("nb/temps/canal", 60, probe(h, h.around(7.2, 0.02)))
    h.say("nb/temps/fridge", 60, probe(h, h.around(5.1, 0.7)))
    h.say("nb/temps/stove_pipe", 30, probe(h, h.around(141.0, 18.0)))
    h.say(
        "nb/chg",
        10,
        pack(
            {
                "mode": "EQ",
                "u": meter(h, b.volts, 1, 0.02, offset=0.07),
                "i": meter(h, b.amps, 1, 0.03),
                "ac": meter(h, lambda t: b.watts(t) / 0.82 + 6.0, 0, 0.5),
                "hs": slow(h, 31, 0, 1),
                "fan": 0,
            }
        ),
    )
    h.say("nb/start", 15, pack({"V": meter(h, h.around(12.78, 0.01), 2, 0.005), "ok": True}))
    psu_v, psu_a = slow(h, 13.18, 2, 0.01, 0.008), meter(h, h.steps(1.8, 3.1, 5.4, dwell=75, sigma=0.03), 2)
    h.say("nb/psu", 5, pack({"V": psu_v, "A": psu_a, "W": product(psu_v, psu_a, digits=1)}))
    pv_v, pv_a = slow(h, 17.9, 1, 0.6, 0.05), slow(h, 0.42, 2, 0.1, 0.01)
    h.say("nb/pv", 10, pack({"v": pv_v, "a": pv_a, "w": product(pv_v, pv_a, digits=1), "to": "off"}))
    mains_v, mains_a = slow(h, 233.2, 1, 1.2, 0.3), slow(h, 1.62, 2, 0.3, 0.02)
    h.say(
        "nb/shore",
        10,
        pack(
            {
                "V": mains_v,
                "A": mains_a,
                "W": product(mains_v, mains_a),
                "Hz": slow(h, 50.0, 2, 0.02, 0.01),
                "kWh": count(h, 1418.2, 0.0001, 2),
                "credit": 12.85,
            }
        ),
    )
    for tank, level in (("water", 62), ("diesel", 78), ("waste", 35)):
        h.say(f"nb/tank/{tank}", 60, slow(h, level, 0, 0.6))
    h.say("nb/bilge/stern", 60, "dry")
    h.say("nb/bilge/bow", 60, "dry")
    h.say("nb/bilge/pump_runs", 300, 214, retain=True)
    h.say("nb/gas/locker", 60, 0)
    h.say("nb/gas/bottle", 300, "B in use", retain=True)
    h.say("nb/co", 60, 0)
    h.say("nb/smoke", 600, "ok", retain=True)
    h.say("nb/engine/state", 60, "stopped")
    h.say("nb/engine/hours", 300, 4417.2, retain=True)
    h.say("nb/engine/rpm", 30, 0)
    h.say("nb/engine/alt_A", 30, 0.0)
    h.say("nb/gps", 30, pack({"lat": 52.311, "lon": -1.204, "sog": slow(h, 0.0, 1), "sats": slow(h, 9, 0, 1)}))
    h.say("nb/baro", 60, slow(h, 1011.8, 1, 0.1))
    h.say("nb/hum/saloon", 60, slow(h, 58, 0, 2))
    h.say("nb/hum/cabin", 60, slow(h, 66, 0, 2))
    h.say("nb/door/bow", 600, "shut", retain=True)
    h.say("nb/door/stern", 600, "shut", retain=True)
    h.say("nb/hatch/side", 600, "shut", retain=True)
    for lamp in ("saloon", "galley", "bed", "tunnel", "nav"):
        h.say(f"nb/lamp/{lamp}", 120, words(h, "0", "1", dwell=400) if lamp != "tunnel" else "0")
    h.say("nb/pump/water", 30, words(h, "0", "0", "1", dwell=45))
    h.say("nb/pump/shower", 60, "0")
    h.say("nb/heater/state", 30, "run")
    h.say("nb/heater/water_temp", 30, slow(h, 66.0, 1, 2.0, 0.2))
    h.say("nb/heater/supply_V", 30, meter(h, psu_v, 1, 0.03, offset=-0.2))
    h.say("nb/heater/glow_A", 30, 0.0)
    h.say("nb/fridge/compressor", 30, words(h, "on", "off", dwell=240))
    h.say("nb/fridge/A", 15, meter(h, h.steps(0.05, 3.4, dwell=240, sigma=0.02), 2))
    h.say("nb/kettle/W", 15, meter(h, h.steps(0.0, 0.0, 1480.0, dwell=130), 0))
    h.say("nb/washer/W", 15, 0)
    h.say("nb/inv/state", 60, "off")
    h.say("nb/galley/gas_hob", 60, "off")
    h.say("nb/telly/W", 30, slow(h, 0.4, 1))
    h.say("nb/router/rssi", 60, slow(h, -77, 0, 4))
    h.say("nb/router/data_gb", 120, 41.2)
    h.say("nb/pi/load", 60, slow(h, 0.31, 2, 0.1, 0.05))
    h.say("nb/pi/temp", 60, slow(h, 51.2, 1, 0.8, 0.3))
    h.say("nb/pi/alive", 30, stamp)
    h.say("nb/keyfob/batt", 600, 2.96, retain=True)
    h.say("nb/bike/charge", 60, slow(h, 88, 0, 0.3))
    h.say("nb/notes", 600, "leisure bank off the boat circuits till Thursday, do NOT switch over", retain=True)
    return h


def juniper_flat() -> House:
    """English, Fahrenheit; a homestead: old 48 V bank in the barn in bulk, a lithium store for the house."""
    h = House("juniper_flat", 4303, "barn", {"barn": 24})
    b = charged(h, 24, 2.395, 21.5, 27.2, "bulk")
    taps = [meter(h, one, 3, 0.003) for one in shares(h, b.volts, 4, 0.012)]
    volts, amps = meter(h, b.volts, 2, 0.015), meter(h, b.amps, 2, 0.06)
    h.say(
        "farm/barn/flooded_bank/meter",
        5,
        pack({"volts": volts, "amps": amps, "watts": product(volts, amps), "kwh_in": count(h, 7.31, 0.00034, 2)}),
        {"/volts": Truth("barn", "voltage", "V"), "/amps": Truth("barn", "current", "A")},
    )
    h.say(
        "farm/barn/flooded_bank/pairs",
        15,
        pack({"unit": "V", "pair": taps}),
        {f"/pair/{n}": Truth("barn", "block_voltage", "V") for n in range(4)},
    )
    h.say(
        "farm/barn/flooded_bank/acid_temp_f",
        30,
        meter(h, fahrenheit(b.acid), 1, 0.06),
        Truth("barn", "electrolyte_temperature", "degF"),
    )
    h.say(
        "farm/barn/battery_room/temp_f",
        30,
        slow(h, 58.3, 1, 0.5, 0.06),
        Truth("barn", "ambient_temperature", "degF"),
    )
    h.say("farm/barn/battery_room/humidity", 30, slow(h, 39, 0, 1))
    h.say("farm/barn/battery_room/exhaust_fan", 60, "on")
    h.say("farm/barn/battery_room/h2_alarm", 60, "clear")
    h.say("farm/barn/charger/status", 20, pack({"stage": "BULK", "setpoint_v": 62.4, "limit_a": 22, "elapsed_min": 74}))
    h.say("farm/barn/charger/dc_volts", 10, meter(h, b.volts, 1, 0.03, offset=0.2))
    h.say("farm/barn/charger/dc_amps", 10, meter(h, b.amps, 1, 0.08))
    h.say("farm/barn/charger/temp_f", 30, slow(h, 118, 0, 2, 0.4))
    h.say("farm/barn/lights", 120, "off")
    h.say("farm/barn/door_big", 600, "closed", retain=True)
    h.say("farm/barn/door_side", 600, "open", retain=True)
    h.say("farm/barn/trough_temp_f", 60, slow(h, 44.1, 1, 0.2))
    h.say("farm/barn/trough_heater", 60, "off")
    li_v, li_a = slow(h, 53.31, 2, 0.06, 0.01), meter(h, h.around(14.0, 5.0, 500.0, 0.1), 1)
    cells = [meter(h, h.around(3.332, 0.004), 3, 0.001, offset=h.chance.uniform(-0.004, 0.004)) for _ in range(16)]
    h.say(
        "farm/house/li_store/pack",
        5,
        pack({"volts": li_v, "amps": li_a, "watts": product(li_v, li_a), "soc": slow(h, 76, 0), "soh": 98}),
    )
    h.say("farm/house/li_store/cells", 15, pack({"cell_v": cells, "delta_mv": slow(h, 7, 0, 1)}))
    h.say("farm/house/li_store/temps", 30, pack({"t1_f": slow(h, 69.8, 1, 0.2), "t2_f": slow(h, 70.3, 1, 0.2)}))
    h.say("farm/house/li_store/mosfet", 60, pack({"chg": True, "dsg": True, "bal": False}))
    h.say("farm/house/li_store/cycles", 600, 312, retain=True)
    h.say("farm/house/li_store/ah_left", 60, count(h, 212.4, 0.0039, 1))
    load = h.steps(620.0, 940.0, 1800.0, dwell=80.0, sigma=9.0)
    h.say("farm/house/inverter/dc_volts", 10, meter(h, li_v, 1, 0.03, offset=-0.1))
    h.say("farm/house/inverter/load_watts", 5, meter(h, load, 0))
    h.say("farm/house/inverter/l1_volts", 10, slow(h, 120.3, 1, 0.4, 0.1))
    h.say("farm/house/inverter/l2_volts", 10, slow(h, 120.1, 1, 0.4, 0.1))
    h.say("farm/house/inverter/temp_f", 30, slow(h, 104, 0, 2))
    h.say("farm/house/inverter/mode", 60, "invert")
    for string in ("east", "south"):
        pv_v, pv_a = slow(h, 142.0, 1, 4.0, 0.4), slow(h, 6.1, 2, 1.2, 0.05)
        h.say(f"farm/solar/{string}/volts", 10, pv_v)
        h.say(f"farm/solar/{string}/amps", 10, pv_a)
        h.say(f"farm/solar/{string}/watts", 10, product(pv_v, pv_a))
        h.say(f"farm/solar/{string}/kwh_today", 120, count(h, h.chance.uniform(1, 3), 0.0002, 2))
    h.say("farm/solar/controller/out_amps", 10, slow(h, 30.5, 1, 5.0, 0.3))
    h.say("farm/solar/controller/out_volts", 10, meter(h, li_v, 1, 0.03, offset=0.1))
    h.say("farm/solar/controller/stage", 60, "absorb")
    h.say("farm/generator/state", 30, "running")
    h.say("farm/generator/volts", 10, slow(h, 242.1, 1, 1.0, 0.5))
    h.say("farm/generator/hz", 10, slow(h, 60.2, 2, 0.1, 0.04))
    h.say("farm/generator/load_kw", 10, slow(h, 1.61, 2, 0.05, 0.02))
    h.say("farm/generator/propane_pct", 120, 58)
    h.say("farm/generator/run_hours", 120, 684.3)
    h.say("farm/well/pump", 30, words(h, "off", "on", dwell=150))
    h.say("farm/well/amps", 15, meter(h, h.steps(0.0, 7.9, dwell=150), 1))
    h.say("farm/well/psi", 20, slow(h, 52, 0, 6))
    h.say("farm/well/tank_gal", 120, slow(h, 1140, 0, 8))
    for what, middle, digits, swing in (
        ("temp_f", 41.7, 1, 0.6),
        ("humidity", 34, 0, 2),
        ("baro_inhg", 29.94, 2, 0.01),
        ("wind_mph", 8.2, 1, 3),
        ("gust_mph", 14.0, 1, 4),
        ("solar_wm2", 512, 0, 90),
        ("uv", 2.1, 1, 0.2),
    ):
        h.say(f"farm/weather/{what}", 30, slow(h, middle, digits, swing, swing / 12))
    for room, warm in (("kitchen", 69.4), ("living", 70.6), ("bed1", 66.2), ("mudroom", 61.0)):
        h.say(f"farm/house/{room}/temp_f", 60, slow(h, warm, 1, 0.4))
        h.say(f"farm/house/{room}/rh", 60, slow(h, 37, 0, 2))
    h.say("farm/house/fridge/temp_f", 60, slow(h, 38.1, 1, 1.2))
    h.say("farm/house/chest_freezer/temp_f", 60, slow(h, -1.5, 1, 1.0))
    h.say("farm/house/front_door", 600, "closed", retain=True)
    h.say("farm/house/front_door/batt_v", 600, 2.94, retain=True)
    h.say("farm/house/woodstove_f", 30, slow(h, 388, 0, 30, 3))
    h.say("farm/coop/door", 300, "open", retain=True)
    h.say("farm/coop/temp_f", 60, slow(h, 47.7, 1, 0.4))
    h.say("farm/coop/lamp", 120, "off")
    h.say("farm/coop/eggs_today", 600, 7, retain=True)
    h.say("farm/greenhouse/temp_f", 60, slow(h, 63.9, 1, 2.0))
    h.say("farm/greenhouse/soil_pct", 120, slow(h, 41, 0, 1))
    h.say("farm/gate/state", 600, "closed", retain=True)
    h.say("farm/gate/battery", 300, 12.9)
    h.say("farm/fence/kv", 30, slow(h, 6.8, 1, 0.2, 0.1))
    h.say("farm/hub/online", 600, "1", retain=True)
    h.say("farm/hub/disk_pct", 300, 43)
    return h


def laubenhof() -> House:
    """German; a workshop with an old 24 V bank in the hold, a newer flooded 12 V one on float; units in payloads."""
    h = House("laubenhof", 4404, "alt", {"alt": 12, "neu": 6})
    old = charged(h, 12, 2.605, 4.3, 36.8, "hold")
    new = charged(h, 6, 2.255, 0.45, 15.9, "float")
    volts, amps = meter(h, old.volts, 2, 0.008), meter(h, old.amps, 2, 0.012)
    at = "hof/werkstatt/batterie_alt"
    h.say(f"{at}/spannung", 5, spell(volts, "{:.2f} V"), Truth("alt", "voltage", "V"))
    h.say(f"{at}/strom", 5, spell(amps, "{:.2f} A"), Truth("alt", "current", "A"))
    h.say(f"{at}/leistung", 10, spell(product(volts, amps), "{:.0f} W"))
    h.say(
        f"{at}/saeuretemperatur",
        30,
        spell(probe(h, old.acid), "{:.1f} °C"),
        Truth("alt", "electrolyte_temperature", "degC"),
    )
    for n, one in enumerate(shares(h, old.volts, 2, 0.012), 1):
        h.say(f"{at}/block{n}", 20, spell(meter(h, one, 2, 0.006), "{:.2f} V"), Truth("alt", "block_voltage", "V"))
    h.say(
        f"{at}/saeuredichte",
        600,
        {"zelle": 7, "dichte": 1.251, "einheit": "kg/l", "von": "Hand"},
        {"/dichte": Truth("alt", "gravity")},
        retain=True,
    )
    h.say(f"{at}/bemerkung", 600, "Ausgleichsladung seit Montag, Stopfen offen, Lüfter an lassen", retain=True)
    at = "hof/werkstatt/batterie_neu"
    volts, amps = meter(h, new.volts, 2, 0.006), meter(h, new.amps, 2, 0.008)
    h.say(f"{at}/spannung", 5, spell(volts, "{:.2f} V"), Truth("neu", "voltage", "V"))
    h.say(f"{at}/strom", 5, spell(amps, "{:.2f} A"), Truth("neu", "current", "A"))
    h.say(f"{at}/leistung", 10, spell(product(volts, amps, digits=1), "{:.1f} W"))
    h.say(
        f"{at}/saeuretemperatur",
        30,
        spell(probe(h, new.acid), "{:.1f} °C"),
        Truth("neu", "electrolyte_temperature", "degC"),
    )
    h.say(f"{at}/ladezustand", 60, "100 %")
    air = h.around(15.2, 0.3)
    h.say(
        "hof/werkstatt/luft/temperatur",
        30,
        spell(meter(h, air, 1, 0.05), "{:.1f} °C"),
        Truth("alt", "ambient_temperature", "degC"),
    )
    h.say("hof/werkstatt/luft/feuchte", 30, spell(slow(h, 54, 0, 2), "{:.0f} %"))
    h.say("hof/werkstatt/luefter", 60, "EIN")
    h.say("hof/werkstatt/tor", 600, "zu", retain=True)
    h.say("hof/werkstatt/licht", 120, "AUS")
    h.say("hof/werkstatt/kompressor/druck", 30, spell(slow(h, 7.4, 1, 0.1), "{:.1f} bar"))
    h.say("hof/werkstatt/kompressor/leistung", 15, spell(h.steps(1.0, 1480.0, dwell=110), "{:.0f} W"))
    out_v, out_a = meter(h, old.volts, 1, 0.02, offset=0.1), meter(h, old.amps, 1, 0.02)
    h.say(
        "hof/ladegeraet",
        10,
        pack(
            {
                "Betriebsart": "Ausgleich",
                "Ausgangsspannung": out_v,
                "Ausgangsstrom": out_a,
                "Kuehlkoerper": slow(h, 41.5, 1, 0.6, 0.1),
                "Restzeit_min": lambda t: int(95 - t // 60),
                "Fehler": 0,
            }
        ),
    )
    socket_v = slow(h, 231.8, 1, 0.8, 0.2)
    h.say(
        "hof/steckdose/ladegeraet",
        15,
        pack(
            {
                "ein": True,
                "U": socket_v,
                "P": meter(h, lambda t: old.watts(t) / 0.86 + 4, 1, 0.6),
                "kWh": count(h, 88.31, 0.00004, 3),
            }
        ),
    )
    h.say(
        "hof/steckdose/waschmaschine",
        15,
        pack({"ein": True, "U": socket_v, "P": meter(h, h.steps(4.0, 210.0, 2050.0, dwell=100, sigma=2), 1)}),
    )
    h.say(
        "hof/steckdose/kuehltruhe",
        15,
        pack({"ein": True, "U": socket_v, "P": meter(h, h.steps(0.8, 74.0, dwell=180, sigma=0.5), 1)}),
    )
    for phase in ("L1", "L2", "L3"):
        u, i = slow(h, 231.5, 1, 0.9, 0.2), slow(h, h.chance.uniform(0.7, 4.0), 2, 0.4, 0.03)
        h.say(f"hof/zaehler/{phase}/spannung", 10, spell(u, "{:.1f} V"))
        h.say(f"hof/zaehler/{phase}/strom", 10, spell(i, "{:.2f} A"))
        h.say(f"hof/zaehler/{phase}/leistung", 10, spell(product(u, i), "{:.0f} W"))
    h.say("hof/zaehler/bezug", 60, spell(count(h, 18_442.1, 0.0004, 2), "{:.2f} kWh"))
    h.say("hof/zaehler/einspeisung", 60, "2208.45 kWh")
    h.say("hof/zaehler/netzfrequenz", 10, spell(slow(h, 50.0, 2, 0.02, 0.01), "{:.2f} Hz"))
    sun_v, sun_a = slow(h, 34.6, 1, 0.8, 0.1), slow(h, 0.27, 2, 0.06, 0.01)
    h.say("hof/solar/modulspannung", 15, spell(sun_v, "{:.1f} V"))
    h.say("hof/solar/modulstrom", 15, spell(sun_a, "{:.2f} A"))
    h.say("hof/solar/leistung", 15, spell(product(sun_v, sun_a, digits=1), "{:.1f} W"))
    h.say("hof/solar/batteriespannung", 15, spell(meter(h, new.volts, 1, 0.02, offset=0.04), "{:.1f} V"))
    h.say("hof/solar/ertrag_heute", 120, "0.02 kWh")
    h.say("hof/solar/stufe", 60, "Erhaltung")
    for what, middle, form, swing in (
        ("temperatur", 3.4, "{:.1f} °C", 0.2),
        ("feuchte", 86.0, "{:.0f} %", 1.0),
        ("luftdruck", 1016.2, "{:.1f} hPa", 0.1),
        ("wind", 11.0, "{:.1f} km/h", 4.0),
        ("helligkeit", 2100.0, "{:.0f} lx", 300.0),
    ):
        h.say(f"hof/wetter/{what}", 30, spell(slow(h, middle, 2, swing, swing / 10), form))
    h.say("hof/wetter/regen", 120, "0.0 mm")
    for room, warm in (("kueche", 20.9), ("wohnzimmer", 21.4), ("bad", 22.3), ("schlafzimmer", 17.6), ("keller", 12.8)):
        h.say(f"hof/haus/{room}/temperatur", 60, spell(slow(h, warm, 1, 0.2), "{:.1f} °C"))
        h.say(f"hof/haus/{room}/feuchte", 60, spell(slow(h, 51, 0, 2), "{:.0f} %"))
        h.say(f"hof/haus/{room}/fenster", 600, h.chance.choice(("zu", "zu", "gekippt")), retain=True)
    h.say("hof/haus/kuehlschrank/temperatur", 60, spell(slow(h, 5.3, 1, 0.8), "{:.1f} °C"))
    h.say("hof/haus/haustuer", 600, "zu", retain=True)
    h.say("hof/haus/haustuer/batterie", 600, "2.91 V", retain=True)
    for name, middle in (
        ("vorlauf", 44.2),
        ("ruecklauf", 36.1),
        ("kessel", 61.7),
        ("warmwasser", 52.0),
        ("aussen", 3.9),
    ):
        h.say(f"hof/heizung/{name}", 30, spell(slow(h, middle, 1, 0.6, 0.1), "{:.1f} °C"))
    h.say("hof/heizung/brenner", 30, words(h, "EIN", "AUS", dwell=220))
    h.say("hof/zisterne/fuellstand", 120, "68 %")
    h.say("hof/huehner/klappe", 600, "offen", retain=True)
    h.say("hof/zentrale/status", 600, "online", retain=True)
    h.say("hof/zentrale/laufzeit", 60, spell(count(h, 1_204_771, 1), "{:.0f} s"))
    return h


def les_genets() -> House:
    """French; a house with a rescued 12 V bank of six 2 V cells, still blocked; a self-made board in mV and mA."""
    h = House("les_genets", 4505, "parc", {"parc": 6})
    b = charged(h, 6, 2.735, 1.38, 14.1, "blocked")
    cells = [meter(h, one, 0, 2.0, gain=1000.0) for one in shares(h, b.volts, 6, 0.02)]
    volts, amps = meter(h, b.volts, 0, 4.0, gain=1000.0), meter(h, b.amps, 0, 8.0, gain=1000.0)
    h.say(
        "maison/atelier/parc_plomb/mesures",
        5,
        pack({"ts": stamp, "tension_mV": volts, "courant_mA": amps, "n": count(h, 51_200, 0.2)}),
        {"/tension_mV": Truth("parc", "voltage", "mV"), "/courant_mA": Truth("parc", "current", "mA")},
    )
    h.say(
        "maison/atelier/parc_plomb/elements",
        20,
        pack({"ts": stamp, "mV": {f"e{n}": one for n, one in enumerate(cells, 1)}}),
        {f"/mV/e{n}": Truth("parc", "block_voltage", "mV") for n in range(1, 7)},
    )
    h.say(
        "maison/atelier/parc_plomb/temp",
        30,
        pack({"acide": probe(h, b.acid), "air": probe(h, h.around(11.3, 0.2))}),
        {
            "/acide": Truth("parc", "electrolyte_temperature", "degC"),
            "/air": Truth("parc", "ambient_temperature", "degC"),
        },
    )
    h.say("maison/atelier/parc_plomb/niveau", 300, "ok", retain=True)
    h.say("maison/atelier/alim_labo/U", 10, meter(h, b.volts, 2, 0.01, offset=0.03))
    h.say("maison/atelier/alim_labo/I", 10, meter(h, b.amps, 2, 0.006))
    h.say("maison/atelier/alim_labo/P", 10, meter(h, b.watts, 1, 0.1))
    h.say("maison/atelier/alim_labo/sortie", 60, "ON")
    h.say("maison/atelier/alim_labo/consigne_U", 600, 17.2, retain=True)
    h.say("maison/atelier/alim_labo/consigne_I", 600, 4.0, retain=True)
    h.say("maison/atelier/ventilateur", 60, "ON")
    h.say("maison/atelier/porte", 600, "fermée", retain=True)
    h.say("maison/atelier/lumiere", 120, "OFF")
    h.say("maison/atelier/imprimante3d/buse", 10, slow(h, 210.1, 1, 0.4, 0.2))
    h.say("maison/atelier/imprimante3d/plateau", 10, slow(h, 60.0, 1, 0.2, 0.1))
    h.say("maison/atelier/imprimante3d/avancement", 30, count(h, 34, 0.004, 1))
    h.say("maison/atelier/onduleur_pc/batterie_V", 30, slow(h, 13.62, 2, 0.01, 0.01))
    h.say("maison/atelier/onduleur_pc/charge_pct", 60, 100)
    h.say("maison/atelier/onduleur_pc/secteur", 60, "present")
    h.say("maison/atelier/onduleur_pc/sortie_W", 30, slow(h, 96, 0, 8, 2))
    line_v, line_a = slow(h, 234.6, 1, 1.2, 0.3), slow(h, 3.7, 2, 1.0, 0.05)
    h.say("maison/compteur/tension", 10, line_v)
    h.say("maison/compteur/intensite", 10, line_a)
    h.say("maison/compteur/puissance_VA", 10, product(line_v, line_a))
    h.say("maison/compteur/index_HP", 60, count(h, 20_114_220, 0.2))
    h.say("maison/compteur/index_HC", 60, 15_330_418)
    h.say("maison/compteur/periode", 300, "HP", retain=True)
    h.say("maison/compteur/couleur_demain", 600, "bleu", retain=True)
    pv_v, pv_a = slow(h, 312.0, 1, 8.0, 1.0), slow(h, 0.9, 2, 0.2, 0.02)
    h.say("maison/solaire/dc", 10, pack({"U": pv_v, "I": pv_a, "P": product(pv_v, pv_a)}))
    h.say("maison/solaire/ac", 10, pack({"U": line_v, "P": slow(h, 266, 0, 50, 3), "f": slow(h, 50.0, 2, 0.02, 0.01)}))
    h.say("maison/solaire/jour_kWh", 120, count(h, 0.21, 0.00007, 2))
    h.say("maison/solaire/temp_onduleur", 60, slow(h, 29.4, 1, 0.6))
    for what, middle, digits, swing in (
        ("temperature", 7.6, 1, 0.3),
        ("humidite", 79, 0, 2),
        ("pression", 1019.3, 1, 0.1),
        ("vent", 14, 0, 6),
        ("rafales", 24, 0, 8),
        ("luminosite", 5400, 0, 900),
    ):
        h.say(f"maison/meteo/{what}", 60, slow(h, middle, digits, swing, swing / 10))
    h.say("maison/meteo/pluie", 120, 0.2)
    h.say("maison/meteo/pile", 600, 2.71, retain=True)
    for room, warm in (("cuisine", 19.9), ("salon", 20.6), ("chambre", 17.8), ("bureau", 19.2), ("sdb", 21.7)):
        h.say(
            f"maison/{room}/climat",
            60,
            pack({"t": slow(h, warm, 1, 0.3), "h": slow(h, 52, 0, 3), "bat": h.chance.randint(40, 100)}),
        )
        h.say(f"maison/{room}/volet", 600, h.chance.choice(("ouvert", "fermé")), retain=True)
        h.say(f"maison/{room}/lampe", 120, words(h, "ON", "OFF", dwell=350))
    h.say("maison/cuisine/frigo", 60, slow(h, 4.4, 1, 0.8))
    h.say("maison/cuisine/congelateur", 60, slow(h, -18.3, 1, 0.7))
    h.say("maison/cuisine/four_W", 15, meter(h, h.steps(0.0, 0.0, 2240.0, dwell=120), 0))
    h.say("maison/chauffe_eau/W", 15, 0)
    h.say("maison/chauffe_eau/temp", 60, slow(h, 55.8, 1, 0.1))
    h.say("maison/poele/fumees", 30, slow(h, 131, 0, 12, 1))
    h.say("maison/poele/etat", 60, "marche")
    h.say("maison/poele/pellets_kg", 300, 9.5)
    h.say("maison/eau/compteur_l", 60, count(h, 402_118, 0.02))
    h.say("maison/eau/cuve_pluie_cm", 120, slow(h, 141, 0, 1))
    h.say("maison/entree/porte", 600, "fermée", retain=True)
    h.say("maison/garage/porte", 600, "fermée", retain=True)
    h.say("maison/garage/temperature", 60, slow(h, 9.8, 1, 0.2))
    h.say("maison/garage/velo_charge_A", 15, slow(h, 1.94, 2, 0.02, 0.01))
    h.say("maison/garage/velo_charge_V", 15, slow(h, 40.6, 1, 0.05, 0.03))
    h.say("maison/jardin/serre_temp", 60, slow(h, 12.9, 1, 0.8))
    h.say("maison/jardin/sol_humidite", 120, slow(h, 37, 0, 1))
    h.say("maison/jardin/portail", 600, "fermé", retain=True)
    h.say("maison/jardin/arrosage", 120, "OFF")
    h.say("maison/boite_aux_lettres", 600, "vide", retain=True)
    h.say("maison/box/debit_Mbps", 60, slow(h, 88, 0, 30, 5))
    h.say("maison/domo/etat", 600, "en ligne", retain=True)
    h.say("maison/domo/cpu_temp", 60, slow(h, 49.6, 1, 1.0, 0.3))
    h.say("maison/domo/memoire_pct", 60, slow(h, 41, 0, 2))
    return h


def casale_ginestra() -> House:
    """Italian; a farmhouse; a 48 V bank, tapering, whose charger pauses once; abbreviations, amps positive outwards."""
    h = House("casale_ginestra", 4606, "cantina", {"cantina": 24})
    b = charged(h, 24, 2.575, 9.4, 34.7, "taper", pause=PAUSE)
    volts, amps = meter(h, b.volts, 2, 0.02), meter(h, lambda t: -b.amps(t), 2, 0.03)
    h.say("casale/cantina/batt/v", 5, volts, Truth("cantina", "voltage", "V"))
    h.say("casale/cantina/batt/a", 5, amps, Truth("cantina", "current", "A", "discharging"))
    h.say("casale/cantina/batt/w", 5, product(volts, amps))
    h.say("casale/cantina/batt/t_acido", 20, probe(h, b.acid), Truth("cantina", "electrolyte_temperature", "degC"))
    h.say("casale/cantina/batt/densita", 600, 1.238, Truth("cantina", "gravity"), retain=True)
    h.say("casale/cantina/batt/acqua", 600, "rabboccata 22/11", retain=True)
    for n, one in enumerate(shares(h, b.volts, 4, 0.01), 1):
        h.say(f"casale/cantina/batt/mono{n}", 30, meter(h, one, 2, 0.01), Truth("cantina", "block_voltage", "V"))
    h.say("casale/cantina/t_aria", 30, slow(h, 13.6, 1, 0.2, 0.04), Truth("cantina", "ambient_temperature", "degC"))
    h.say("casale/cantina/umid", 30, slow(h, 74, 0, 1))
    h.say("casale/cantina/aspiratore", 60, "acceso")
    h.say("casale/cantina/porta", 600, "chiusa", retain=True)
    h.say("casale/cantina/luce", 120, "spenta")
    h.say("casale/cantina/vino_t", 60, slow(h, 13.1, 1, 0.05))
    h.say(
        "casale/caricab",
        10,
        pack(
            {
                "fase": lambda t: "pausa" if PAUSE[0] <= t < PAUSE[1] else "equalizz",
                "vout": meter(h, b.volts, 1, 0.04, offset=0.15),
                "iout": meter(h, lambda t: max(0.0, b.amps(t)), 1, 0.04),
                "tdiss": slow(h, 43, 0, 2),
            }
        ),
    )
    line = slow(h, 228.7, 1, 1.5, 0.4)
    draw = meter(h, h.steps(340.0, 610.0, 1450.0, dwell=70, sigma=6), 0)
    h.say("casale/rete/v", 10, line)
    h.say("casale/rete/w", 10, draw)
    h.say("casale/rete/a", 10, lambda t: round(draw(t) / line(t) / 0.96, 2))
    h.say("casale/rete/hz", 10, slow(h, 50.0, 2, 0.02, 0.01))
    h.say("casale/rete/kwh", 60, count(h, 31_207.4, 0.0002, 2))
    h.say("casale/rete/fascia", 300, "F1", retain=True)
    for falda in ("est", "ovest"):
        pv_v, pv_a = slow(h, 188.0, 1, 6.0, 0.6), slow(h, 0.8 if falda == "est" else 0.2, 2, 0.05, 0.01)
        h.say(f"casale/fv/{falda}/v", 10, pv_v)
        h.say(f"casale/fv/{falda}/a", 10, pv_a)
        h.say(f"casale/fv/{falda}/w", 10, product(pv_v, pv_a))
    h.say("casale/fv/kwh_oggi", 120, count(h, 0.11, 0.00005, 2))
    h.say("casale/fv/inv_t", 60, slow(h, 26.8, 1, 0.4))
    h.say("casale/fv/inv_stato", 60, "ok")
    for what, middle, digits, swing in (
        ("temp", 8.9, 1, 0.4),
        ("umid", 81, 0, 2),
        ("press", 1013.9, 1, 0.1),
        ("vento", 2.4, 1, 1.0),
        ("raffica", 4.1, 1, 1.4),
        ("lux", 3900, 0, 500),
    ):
        h.say(f"casale/meteo/{what}", 60, slow(h, middle, digits, swing, swing / 10))
    h.say("casale/meteo/pioggia", 120, 0.0)
    for room, warm in (("cucina", 20.3), ("sala", 19.7), ("camera1", 17.9), ("camera2", 17.2), ("bagno", 21.1)):
        h.say(f"casale/{room}/t", 60, slow(h, warm, 1, 0.3))
        h.say(f"casale/{room}/ur", 60, slow(h, 55, 0, 2))
        h.say(f"casale/{room}/luce", 120, words(h, "accesa", "spenta", dwell=330))
    h.say("casale/cucina/frigo_t", 60, slow(h, 4.9, 1, 0.8))
    h.say("casale/cucina/forno_w", 20, 0)
    h.say("casale/portone", 600, "chiuso", retain=True)
    h.say("casale/cancello/stato", 600, "chiuso", retain=True)
    h.say("casale/cancello/batt", 120, slow(h, 27.1, 1, 0.02, 0.02))
    h.say("casale/pozzo/pompa", 30, words(h, "off", "off", "on", dwell=90))
    h.say("casale/pozzo/livello", 120, slow(h, 6.4, 2, 0.02))
    h.say("casale/pozzo/pompa_a", 15, meter(h, h.steps(0.0, 0.0, 4.7, dwell=90), 1))
    h.say("casale/autoclave/bar", 20, slow(h, 2.8, 1, 0.3))
    h.say("casale/camino/fumi_t", 30, slow(h, 148, 0, 20, 2))
    h.say("casale/termo/mandata", 30, slow(h, 58.2, 1, 1.0, 0.1))
    h.say("casale/termo/ritorno", 30, slow(h, 47.7, 1, 1.0, 0.1))
    h.say("casale/termo/puffer_alto", 60, slow(h, 68.4, 1, 0.3))
    h.say("casale/termo/puffer_basso", 60, slow(h, 42.0, 1, 0.3))
    h.say("casale/termo/circolatore", 60, "on")
    h.say("casale/orto/suolo", 120, slow(h, 33, 0, 1))
    h.say("casale/orto/sens_batt", 300, 3.31)
    h.say("casale/orto/valvola", 120, "chiusa")
    h.say("casale/frantoio/t", 60, slow(h, 11.4, 1, 0.2))
    h.say("casale/frantoio/porta", 600, "chiusa", retain=True)
    h.say("casale/pollaio/porta", 600, "aperta", retain=True)
    h.say("casale/server/stato", 600, "online", retain=True)
    h.say("casale/server/cpu_t", 60, slow(h, 52.1, 1, 1.0, 0.4))
    h.say("casale/server/uptime", 60, count(h, 3_310_912, 1))
    return h


#: The six houses.
FRESH_D: tuple[Callable[[], House], ...] = (
    tern_bothy,
    heron_boat,
    juniper_flat,
    laubenhof,
    les_genets,
    casale_ginestra,
)
