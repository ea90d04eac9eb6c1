"""Eight more ordinary households with one flooded bank on its equalising round, written by a hand that saw no rule.

Three are in English, one each in Dutch, Polish, Italian, Norwegian and Portuguese. The truth of a place stands beside
its signal, as the owner would tell it. What no name, no kept note and no physics tells has its Truth as well and stands
in `ONLY_THE_OWNER_KNOWS`. What only says a place once more (a display, another instrument on the same terminals) has no
Truth and stands in `COPIES`. One bank is blocked, one wakes, two are in bulk, two taper, two are held.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable

from tests.bench.households.homes_fresh_p import (
    ACID,
    AIR,
    AMPS,
    BLOCK,
    DOOR,
    DRAWN,
    FAN,
    MIDDLE,
    RELAY,
    STRING,
    VOLTS,
    WATTS,
    Span,
    Wet,
    body,
    clock,
    drifting,
    meter,
    parts,
    read,
    scaled,
    states,
    stranger,
    strangers,
    wet,
    word,
)
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
from tests.bench.households.world import House, Signal, Truth

#: House, topic, and the place in the payload ("" for all of it) that no one can tell from what is on the broker.
ONLY_THE_OWNER_KNOWS: frozenset[tuple[str, str, str]] = frozenset(
    {
        # The fourth of six sockets of one kind; the charger is plugged in there.
        ("light keeper's cottage", "hass/switch/smart_plug_4/state", ""),
        # Probes along one wire through the boathouse, counted as they were soldered.
        ("boathouse", "naust/føler/2", ""),
        ("boathouse", "naust/føler/5", ""),
        # One output of a board of eight.
        ("hill farm", "quinta/reles/r5", ""),
    }
)
#: House, topic, place: what is only said once more.
COPIES: frozenset[tuple[str, str, str]] = frozenset(
    {
        ("sheep station", "homestead/solar/north", "/bat_v"),
        ("sheep station", "homestead/solar/east", "/bat_v"),
        ("sheep station", "homestead/inverter", "/dc_v"),
        ("sheep station", "homestead/kitchen/display", "/bank"),
        ("allotment lock-up", "lockup/supply/out_volts", ""),
        ("allotment lock-up", "lockup/supply/out_amps", ""),
        ("allotment lock-up", "noticeboard/line2", ""),
        ("light keeper's cottage", "hass/sensor/inverter_dc_voltage/state", ""),
        ("light keeper's cottage", "hass/sensor/charge_controller_battery/state", ""),
        ("polder house", "accu/lader", "/uit_V"),
        ("polder house", "paneel/gang", "/accu_V"),
        ("polder house", "paneel/gang", "/accu_zuur"),
        ("forester's lodge", "lesniczowka/przetwornica/napiecie_aku", ""),
        ("forester's lodge", "lesniczowka/tablica", "/aku"),
        ("vineyard", "azienda/carica/muletto", "/uscita_V"),
        ("vineyard", "azienda/carica/muletto", "/uscita_A"),
        ("boathouse", "naust/sol/batteri", ""),
        ("boathouse", "naust/skjerm", "/volt"),
        ("boathouse", "naust/skjerm", "/ampere"),
        ("hill farm", "quinta/inversor/bateria_v", ""),
        ("hill farm", "quinta/solar/bateria", ""),
    }
)


def sulphated(
    house: House,
    cells: int,
    amp_hours: float,
    *,
    ceiling: float,
    ohms: float,
    easing: float = 0.0,
    acid: float,
    air: float,
    load: Signal = lambda _t: 0.0,
) -> Wet:
    """Reckon a bank whose charger stands at its ceiling, for the crusts resist.

    `ceiling` is volts a cell, `ohms` what a cell resists at first, `easing` the share of it that goes in an hour.
    The charger's regulator wanders a little and sags a little under the load.
    """
    regulator = house.around(ceiling, 0.003, 430.0)

    def cell(t: float) -> float:
        return regulator(t) - 0.0006 * load(t)

    def amps(t: float) -> float:
        return (cell(t) - 2.13) / (ohms * math.exp(-easing * t / 3600.0))

    def warmth(t: float) -> float:
        return air + (acid - air) * math.exp(-t / 43000.0) + 0.45 * amps(t) * t / (65.0 * amp_hours)

    def volts(t: float) -> float:
        return cells * cell(t)

    return Wet(volts, amps, lambda t: volts(t) * amps(t), warmth, lambda t: amps(t) + load(t))


def line(said: dict[str, tuple[Signal, int]], form: str = "{}={}", gap: str = " ") -> Callable[[float], str]:
    """Say many numbers in one line of text, as a board prints them."""
    ways = {name: word(signal, digits) for name, (signal, digits) in said.items()}
    return lambda t: gap.join(form.format(name, way(t)) for name, way in ways.items())


def sheep_station() -> House:
    """English, down under in spring: 24 big cells held in the heat by two solar controllers; objects in objects."""
    h = House("sheep station", 7201, "homestead", {"homestead": 24})
    draw = h.steps(6.0, 8.5, 14.0, dwell=90)
    b = wet(h, 24, 900, limit=80, ceiling=2.6, inner=2.14, gassing=0.97, acid=38.5, air=31.0, load=draw)
    u, i, p = meter(h, b, 0.02, 0.15)
    told = {
        "n": (h.counter(48211, 0.2), 0),
        "dc": {"v": (u, 2), "i": (i, 1), "p": (p, 0)},
        "mid_v": (read(h, scaled(b.volts, 0.5007), 0.02), 2),
        "temp": {"pilot_cell": (read(h, b.acid, 0.05), 1), "room": (h.around(31.4, 0.3, 2600, 0.05), 1)},
        "fw": "0.9b",
    }
    true = {
        "/dc/v": Truth("homestead", VOLTS, "V"),
        "/dc/i": Truth("homestead", AMPS, "A"),
        "/dc/p": Truth("homestead", WATTS, "W"),
        "/mid_v": Truth("homestead", MIDDLE, "V"),
        "/temp/pilot_cell": Truth("homestead", ACID, "degC"),
        "/temp/room": Truth("homestead", AIR, "degC"),
    }
    h.say("homestead/powerroom/bank", 5, body(told), true)
    h.say("homestead/powerroom/charge_contactor", 30, "closed", Truth("homestead", RELAY))
    h.say("homestead/powerroom/extractor_fan", 30, "on", Truth("homestead", FAN))
    h.say("homestead/powerroom/last_watered", 600, "2026-11-02", retain=True)
    h.say("homestead/powerroom/old_monitor/volts", 600, "50.3", retain=True)
    for name, share, panel in (("north", 0.62, 138.0), ("east", 0.38, 121.0)):
        fed, at = scaled(b.fed, share), read(h, scaled(b.volts, 1.0, 0.08), 0.03)
        array = drifting(h, panel, 2.5)
        controller = {
            "stage": "equalise",
            "pv_v": (array, 1),
            "pv_a": (lambda t, f=fed, a=array: f(t) * b.volts(t) / a(t) / 0.97, 1),
            "bat_v": (at, 1),
            "out_a": (read(h, fed, 0.1), 1),
            "kwh": (h.counter(5.1, 5e-4), 2),
            "hs_c": (drifting(h, 52.0, 0.8), 0),
        }
        h.say(f"homestead/solar/{name}", 10, body(controller))
    ac = drifting(h, 241.0, 0.8)
    inverter = {
        "state": "inverting",
        "dc_v": (read(h, scaled(b.volts, 1.0, -0.1), 0.05), 1),
        "dc_a": (read(h, draw, 0.1), 1),
        "ac": {"v": (ac, 1), "hz": 50.0, "w": (lambda t: 0.91 * draw(t) * b.volts(t), 0)},
        "fault": 0,
    }
    h.say("homestead/inverter", 10, body(inverter))
    h.say("homestead/kitchen/display", 30, body({"bank": (u, 1), "tank": 71, "text": "equalising, leave it be"}))
    states(h, "genset", 60, {"run": "0", "fuel_pct": "62", "hours": "2207.4", "lwt": "online"})
    starter(h, "genset/start_batt")
    starter(h, "ute/battery")
    strangers(h, "fence", 60, {"north/kv": (7.1, 0.3, 1), "south/kv": (6.4, 0.4, 1), "energiser_batt": (12.9, 0.03, 2)})
    for bore, level in (("house", 21.4), ("river", 8.2), ("top_paddock", 33.0)):
        stranger(
            h, f"bores/{bore}", 60, {"level_m": (level, 0.2, 1), "kpa": (310, 12, 0), "batt": (3.7, 0.0, 2)}, rf=-101
        )
    strangers(h, "tanks", 120, {"house_pct": (71, 0.2, 0), "garden_pct": (34, 0.2, 0), "stock_pct": (88, 0.1, 0)})
    lithium(h, "quarters/pack", 16, ("volts", "amps", "soc", "temp", "cell{:02d}"))
    strangers(h, "coolroom", 30, {"air": (3.1, 0.7, 1), "evap": (-6.2, 1.2, 1), "compressor_a": (4.4, 0.3, 1)})
    for room in ("lounge", "office", "meathouse"):
        climate(h, f"homestead/{room}", ("temp", "rh", "cell"))
    weather(h, "wx", ("out_temp", "out_rh", "qnh", "wind_ms", "gust_ms", "rain_mm"))
    lights(h, "homestead/lights", ("verandah", "yard", "kitchen", "shed"))
    coin_cells(h, "zb", ("Gun safe", "Fuel store", "Front gate"))
    router(h, "sat/dish", ("temp_c", "cpu", "uptime_s", "down_kbps"))
    plug(h, "tele/washing_machine/SENSOR", 241.0)
    plug(h, "tele/bench_freezer/SENSOR", 241.0)
    phone(h, "tracks/ute")
    phone(h, "tracks/mum")
    return h


def allotment_lockup() -> House:
    """English: a club's twelve volts of two old blocks that take next to nothing yet; plain numbers, cold."""
    h = House("allotment lock-up", 7202, "lockup", {"lockup": 6})
    b = sulphated(h, 6, 225, ceiling=2.65, ohms=1.9, acid=7.9, air=5.6)
    u, i, _ = meter(h, b, 0.004, 0.004)
    h.say("lockup/battery/volts", 5, word(u, 3), Truth("lockup", VOLTS, "V"))
    h.say("lockup/battery/amps", 5, word(i, 3), Truth("lockup", AMPS, "A"))
    for n, one in enumerate(parts(h, b.volts, 2, 0.03, 0.004), 1):
        h.say(f"lockup/battery/block{n}_volts", 10, word(one, 3), Truth("lockup", BLOCK, "V"))
    h.say("lockup/battery/acid_temp", 30, word(read(h, b.acid, 0.05), 2), Truth("lockup", ACID, "degC"))
    h.say("lockup/air_temp", 30, word(h.around(5.6, 0.2, 2400, 0.05), 2), Truth("lockup", AIR, "degC"))
    relay(h, "lockup/charger_socket", "state", "lockup")
    h.say("lockup/door", 60, "closed", Truth("lockup", DOOR))
    strangers(h, "lockup/supply", 30, {"set_volts": (15.9, 0.0, 2), "limit_amps": (10.0, 0.0, 1)})
    h.say("lockup/supply/out_volts", 10, word(read(h, scaled(b.volts, 1.0, 0.01), 0.01), 2))
    h.say("lockup/supply/out_amps", 10, word(read(h, b.fed, 0.01), 2))
    states(h, "lockup/node", 60, {"rssi": "-71", "heap": "31280", "uptime": "91220", "ip": "192.0.2.41"})
    h.say("lockup/node/lwt", 600, "online", retain=True)
    states(h, "old_shed", 600, {"battery/volts": "12.31", "battery/amps": "-0.42", "lwt": "offline"}, retain=True)
    strangers(h, "lockup", 60, {"humidity": (81, 1.5, 0), "lux": (14, 6, 0)})
    h.say("noticeboard/line1", 60, "Hosepipe ban lifted. Work party Sat 10am")
    h.say("noticeboard/line2", 60, word(u, 1, "Battery {} V - on repair charge"))
    for n in range(1, 7):
        moist = {"moist": (30.0 + 4 * n, 0.4, 0), "soil_c": (7.0 + 0.2 * n, 0.1, 1), "batt_mv": (2890.0 - 20 * n, 4, 0)}
        stranger(h, f"soil/bed{n:02d}", 60, moist, snr=7)
    for name in ("big", "small"):
        climate(h, f"greenhouse/{name}", ("temp", "rh", "batt"))
    strangers(h, "greenhouse/big", 30, {"heater_watts": (0, 0, 0), "vent_pct": (5, 1, 0), "soil_temp": (9.1, 0.1, 1)})
    strangers(h, "pump", 20, {"pressure_bar": (1.9, 0.2, 2), "flow_lpm": (0.0, 0.0, 1)})
    strangers(h, "pump", 30, {"batt_volts": (12.82, 0.01, 2), "solar_volts": (17.6, 0.7, 1), "solar_ma": (212, 30, 0)})
    strangers(h, "butts", 120, {"north": (84, 0.1, 0), "south": (67, 0.1, 0), "road": (91, 0.1, 0)}, "{} %")
    weather(h, "wx", ("temp", "rh", "hpa", "wind", "gust", "rain"))
    strangers(h, "bees", 120, {"hive1_kg": (29.3, 0.02, 2), "hive2_kg": (26.8, 0.02, 2), "brood_c": (21.9, 0.2, 1)})
    starter(h, "strimmer_van/battery")
    strangers(h, "mower", 30, {"pack_volts": (20.4, 0.01, 1), "pack_pct": (93, 0.0, 0)})
    strangers(h, "cctv", 60, {"batt_v": (13.1, 0.02, 2), "sd_free_gb": (21.3, 0.1, 1)})
    coin_cells(h, "zb", ("Main gate", "Toolstore", "Hut window"))
    router(h, "gateway", ("cpu_c", "load1", "uptime", "rx"))
    lights(h, "hut", ("strip",))
    return h


def streamed(
    h: House, entity: str, title: str, unit: str, says: object, every: float, truth: Truth | None = None
) -> None:
    """Say a hub's entity as its stream does: the state, and beside it the kept attributes, each a JSON text."""
    base = f"hass/{entity}"
    h.say(f"{base}/state", every, says, truth)
    h.say(f"{base}/friendly_name", 600, json.dumps(title), retain=True)
    if unit:
        h.say(f"{base}/unit_of_measurement", 600, json.dumps(unit), retain=True)


def light_keepers_cottage() -> House:
    """English, a cold coast: two strings of twelve cells in bulk, streamed by a hub with names and units beside."""
    h = House("light keeper's cottage", 7203, "bank", {"bank": 12})
    draw = h.steps(3.0, 5.2, 12.0, dwell=100)
    b = wet(h, 12, 800, limit=62, inner=2.08, gassing=0.28, rise=0.09, acid=13.5, air=4.0, load=draw)
    u, i, p = meter(h, b, 0.012, 0.12)
    for entity, title, unit, says, every, quantity, told in (
        ("battery_bank_voltage", "Battery bank voltage", "V", word(u, 2), 10, VOLTS, "V"),
        ("battery_bank_current", "Battery bank current", "A", word(i, 2), 10, AMPS, "A"),
        ("battery_bank_power", "Battery bank power", "W", word(p, 0), 10, WATTS, "W"),
        ("string_a", "String A", "A", word(read(h, scaled(b.amps, 0.54), 0.1), 1), 15, STRING, "A"),
        ("string_b", "String B", "A", word(read(h, scaled(b.amps, 0.46), 0.1), 1), 15, STRING, "A"),
        ("bank_mid", "Bank midpoint", "V", word(read(h, scaled(b.volts, 0.4993), 0.01), 2), 20, MIDDLE, "V"),
        ("cell_probe", "Cell 7 probe", "°C", word(read(h, b.acid, 0.05), 1), 30, ACID, "degC"),
        ("box_air", "Battery box air", "°C", word(h.around(4.6, 0.3, 2500, 0.05), 1), 30, AIR, "degC"),
    ):
        streamed(h, f"sensor/{entity}", title, unit, says, every, Truth("bank", quantity, told))
    for n in range(1, 7):
        truth = Truth("bank", RELAY) if n == 4 else None
        state = "on" if n == 4 else h.chance.choice(("on", "off"))
        streamed(h, f"switch/smart_plug_{n}", f"Smart Plug {n}", "", state, 60, truth)
    streamed(h, "fan/battery_box_vent", "Battery box vent", "", "on", 60, Truth("bank", FAN))
    streamed(h, "binary_sensor/battery_box_lid", "Battery box lid", "", "off", 60, Truth("bank", DOOR))
    dc, at = read(h, scaled(b.volts, 1.0, -0.06), 0.04), read(h, scaled(b.volts, 1.0, 0.05), 0.04)
    streamed(h, "sensor/inverter_dc_voltage", "Inverter DC voltage", "V", word(dc, 1), 10)
    streamed(h, "sensor/charge_controller_battery", "Charge controller battery", "V", word(at, 1), 10)
    streamed(h, "sensor/inverter_dc_current", "Inverter DC current", "A", word(read(h, draw, 0.1), 1), 10)
    watts = word(lambda t: 0.9 * draw(t) * dc(t), 0)
    streamed(h, "sensor/inverter_load", "Inverter load", "W", watts, 10)
    for entity, title, unit, every, (middle, swing, digits) in (
        ("inverter_ac_voltage", "Inverter AC voltage", "V", 15, (119.8, 0.5, 1)),
        ("solar_array_voltage", "Array voltage", "V", 10, (58.4, 1.8, 1)),
        ("solar_array_current", "Array current", "A", 10, (1.9, 0.5, 1)),
        ("generator_output", "Generator output", "W", 10, (2480, 60, 0)),
        ("generator_start_battery", "Generator start battery", "V", 30, (13.7, 0.03, 2)),
        ("truck_battery", "Truck battery", "V", 60, (12.6, 0.01, 2)),
        ("radio_backup_battery", "Radio backup battery", "V", 30, (27.3, 0.02, 2)),
        ("kitchen_temperature", "Kitchen temperature", "°C", 60, (20.4, 0.4, 1)),
        ("loft_temperature", "Loft temperature", "°C", 60, (15.2, 0.3, 1)),
        ("pantry_humidity", "Pantry humidity", "%", 60, (58, 1.0, 0)),
        ("woodstove_flue", "Woodstove flue", "°C", 30, (211, 15.0, 0)),
        ("hot_water_tank", "Hot water tank", "°C", 60, (52.0, 0.3, 1)),
        ("cistern_level", "Cistern level", "%", 120, (66, 0.2, 0)),
        ("pump_pressure", "Pump pressure", "psi", 30, (44, 4.0, 0)),
        ("outdoor_temperature", "Outdoor temperature", "°C", 60, (1.8, 0.2, 1)),
        ("outdoor_wind", "Wind", "km/h", 30, (38, 9.0, 0)),
        ("barometer", "Barometer", "hPa", 60, (998.2, 0.4, 1)),
        ("hallway_remote_battery", "Hallway remote battery", "%", 120, (74, 0.0, 0)),
        ("scooter_battery", "Scooter battery", "V", 60, (41.2, 0.02, 1)),
        ("sat_modem_down", "Modem down", "Mbit/s", 30, (11.2, 4.0, 1)),
    ):
        streamed(h, f"sensor/{entity}", title, unit, word(drifting(h, middle, swing), digits), every)
    for entity, title, state in (
        ("light/kitchen", "Kitchen light", "on"),
        ("light/porch", "Porch", "off"),
        ("sensor/charger_mode", "Charger mode", "equalize"),
        ("sun/sun", "Sun", "above_horizon"),
        ("person/agnes", "Agnes", "home"),
        ("sensor/old_bank_monitor", "Old bank monitor", "unavailable"),
    ):
        streamed(h, entity, title, "", state, 120)
    coin_cells(h, "zb", ("porch door", "lamp room hatch"))
    return h


def polder_house() -> House:
    """Dutch: two strings of 24 cells that taper behind a workshop's inverter; flat objects, drawing counts up."""
    h = House("polder house", 7204, "accu", {"accu": 24})
    draw = h.steps(1.5, 2.4, 8.8, dwell=80)
    b = wet(h, 24, 640, limit=60, ceiling=2.58, inner=2.17, gassing=0.94, rise=0.1, acid=27.0, air=14.0, load=draw)
    u, i, _ = meter(h, b, 0.015, 0.07)
    out = scaled(i, -1.0)
    h.say(
        "accu/bank",
        5,
        body({"spanning": (u, 2), "stroom": (out, 2), "vermogen": (lambda t: u(t) * out(t), 0), "tijd": clock}),
        {
            "/spanning": Truth("accu", VOLTS, "V"),
            "/stroom": Truth("accu", AMPS, "A", DRAWN),
            "/vermogen": Truth("accu", WATTS, "W", DRAWN),
        },
    )
    for n, share, middle in ((1, 0.51, 0.4986), (2, 0.49, 0.5019)):
        branch = {
            "stroom": (read(h, scaled(b.amps, -share), 0.06), 2),
            "midden": (read(h, scaled(b.volts, middle), 0.012), 2),
        }
        true = {"/stroom": Truth("accu", STRING, "A", DRAWN), "/midden": Truth("accu", MIDDLE, "V")}
        h.say(f"accu/streng{n}", 10, body(branch), true)
    warm = {"zuur": (read(h, b.acid, 0.05), 1), "ruimte": (h.around(14.3, 0.2, 2700, 0.04), 1)}
    h.say("accu/temp", 30, body(warm), {"/zuur": Truth("accu", ACID, "degC"), "/ruimte": Truth("accu", AIR, "degC")})
    h.say("accu/lader/relais", 30, "AAN", Truth("accu", RELAY))
    h.say("accu/lader/relais/set", 600, "AAN", retain=True)
    h.say("accu/ventilator", 60, "AAN", Truth("accu", FAN))
    charger = {
        "stand": "egaliseren",
        "uit_V": (read(h, scaled(b.volts, 1.0, 0.12), 0.04), 1),
        "uit_A": (read(h, b.fed, 0.2), 1),
        "koelplaat": (drifting(h, 44.0, 0.7), 0),
    }
    h.say("accu/lader", 15, body(charger))
    h.say("accu/bijgevuld", 600, "3,5 l op 8 november", retain=True)
    h.say("paneel/gang", 30, body({"accu_V": (u, 1), "accu_zuur": (b.acid, 0), "buiten": 6, "melding": "geen"}))
    stranger(h, "werkplaats/omvormer", 15, {"ac_V": (230.1, 0.4, 1), "temp": (36.0, 0.6, 0)}, toestand="aan")
    dsmr = {
        "energie_laag_kwh": (8213.4, 0.0, 3),
        "energie_hoog_kwh": (7401.9, 0.0, 3),
        "teruglevering_kwh": (3320.6, 0.0, 3),
        "vermogen_kw": (1.62, 0.4, 3),
        "spanning_l1": (231.2, 1.0, 1),
        "spanning_l2": (232.9, 1.0, 1),
        "spanning_l3": (230.4, 1.0, 1),
        "stroom_l1": (3.1, 0.9, 0),
        "stroom_l2": (1.4, 0.4, 0),
        "stroom_l3": (4.2, 1.2, 0),
        "gas_m3": (5120.7, 0.0, 2),
    }
    strangers(h, "slimmemeter", 10, dsmr)
    stranger(h, "zon/dak", 15, {"ac_W": (640, 180, 0), "dc_V": (391, 8, 0), "dc_A": (1.7, 0.5, 1)}, dag_kwh=3.2)
    lithium(h, "bakfiets", 13, ("spanning", "stroom", "lading", "temp", "cel{}"))
    stranger(h, "laadpaal", 30, {"L1_A": (0.0, 0.0, 1), "temp": (17, 0.3, 0)}, status="vrij")
    starter(h, "boot/startaccu")
    starter(h, "aggregaat/startaccu")
    strangers(h, "ups/zolder", 30, {"accuspanning": (13.6, 0.02, 1), "belasting": (21, 3, 0), "ingang": (231, 1, 0)})
    strangers(h, "cv", 30, {"aanvoer": (48.0, 2.0, 1), "retour": (39.5, 1.2, 1), "druk": (1.6, 0.01, 2)})
    for room in ("woonkamer", "slaapkamer", "bijkeuken", "serre"):
        climate(h, f"huis/{room}", ("temperatuur", "vocht", "batterij"))
    states(h, "huis/rolluik", 120, {"voor": "100", "achter": "100", "serre": "35"})
    lights(h, "huis/lamp", ("tafel", "gang", "buiten"))
    strangers(h, "gemaal", 60, {"peil_cm": (-212, 1.0, 0), "pomp_A": (5.9, 0.3, 1)})
    weather(h, "weer", ("temperatuur", "vochtigheid", "luchtdruk", "wind", "windstoot", "regen"))
    coin_cells(h, "zb", ("Achterdeur", "Schuurdeur", "Brievenbus"))
    router(h, "nas", ("temp", "belasting", "uptime", "netwerk"))
    plug(h, "stekker/droger", 231.0)
    plug(h, "stekker/vriezer", 231.0)
    homie_thermostat(h, "homie/5/badkamer")
    phone(h, "telefoon/anke")
    return h


def foresters_lodge() -> House:
    """Polish: four blocks for twenty-four volts that begin to take again; a board prints lines of key and value."""
    h = House("forester's lodge", 7205, "akumulatory", {"akumulatory": 12})
    draw = h.steps(0.6, 1.1, 3.4, dwell=85)
    b = sulphated(h, 12, 400, ceiling=2.6, ohms=0.15, easing=1.2, acid=12.5, air=6.0, load=draw)
    u, i, p = meter(h, b, 0.01, 0.015)
    acid, air = read(h, b.acid, 0.05), h.around(6.2, 0.2, 2600, 0.05)
    h.say(
        "lesniczowka/akumulatory",
        5,
        line({"U": (u, 2), "I": (i, 2), "P": (p, 1), "T_elektrolit": (acid, 1), "T_powietrze": (air, 1)}),
        {
            "/U": Truth("akumulatory", VOLTS, "V"),
            "/I": Truth("akumulatory", AMPS, "A"),
            "/P": Truth("akumulatory", WATTS, "W"),
            "/T_elektrolit": Truth("akumulatory", ACID, "degC"),
            "/T_powietrze": Truth("akumulatory", AIR, "degC"),
        },
    )
    blocks = {f"blok{n}": (one, 2) for n, one in enumerate(parts(h, b.volts, 4, 0.02, 0.006), 1)}
    true = {f"/{name}": Truth("akumulatory", BLOCK, "V") for name in blocks}
    h.say("lesniczowka/akumulatory/bloki", 20, line(blocks), true)
    h.say("lesniczowka/piec", 15, line({"kociol": (drifting(h, 61, 1.5), 1), "powrot": (drifting(h, 46, 1), 1)}))
    well = {"cisnienie": (drifting(h, 3.2, 0.3), 1), "poziom": (drifting(h, 12.4, 0.05), 2)}
    h.say("lesniczowka/studnia", 30, line(well))
    h.say("lesniczowka/plytka", 60, line({"rssi": (drifting(h, -64, 2), 0), "czas": (h.counter(71002, 1.0), 0)}))
    h.say("lesniczowka/prostownik/przekaznik", 30, "zal", Truth("akumulatory", RELAY))
    h.say("lesniczowka/prostownik/tryb", 60, "wyrównywanie")
    h.say("lesniczowka/wentylator_aku", 60, "zal", Truth("akumulatory", FAN))
    h.say("lesniczowka/akumulatory/notatka", 600, "dolane 2 l wody 14.11", retain=True)
    seen = read(h, scaled(b.volts, 1.0, -0.05), 0.04)
    h.say("lesniczowka/przetwornica/napiecie_aku", 15, word(seen, 1))
    h.say("lesniczowka/przetwornica/prad_dc", 15, word(read(h, draw, 0.05), 1))
    h.say("lesniczowka/przetwornica/moc", 15, word(lambda t: 0.88 * draw(t) * seen(t), 0))
    strangers(h, "lesniczowka/przetwornica", 15, {"napiecie_ac": (229.8, 0.5, 1), "temperatura": (29.0, 0.5, 1)})
    h.say("lesniczowka/tablica", 30, body({"aku": (u, 1), "piec": 61, "studnia": "ok", "tekst": "budzi się"}))
    strangers(h, "lesniczowka/agregat", 15, {"U": (228, 2.5, 0), "I": (3.4, 0.2, 1), "rozruch": (14.0, 0.04, 2)})
    strangers(h, "lesniczowka/agregat", 60, {"paliwo_proc": (71, 0.2, 0), "motogodziny": (1460.2, 0.0, 1)})
    strangers(h, "lesniczowka/panele", 10, {"U": (36.1, 1.2, 1), "I": (0.4, 0.2, 2), "dzis_kwh": (0.12, 0.0, 2)})
    starter(h, "terenowka/akumulator")
    starter(h, "traktor/akumulator")
    lithium(h, "rower", 10, ("napiecie", "prad", "procent", "temp", "ogniwo{}"))
    for name in ("paśnik", "bagno", "wieza"):
        shape = {"temp": (4.1, 0.4, 1), "zdjec": (14, 0.0, 0), "bateria": (5.8, 0.01, 2)}
        stranger(h, f"fotopulapka/{name}", 120, shape, sd="ok")
    strangers(h, "alarm", 60, {"akumulator": (13.66, 0.01, 2), "zasilanie": (14.2, 0.02, 1)})
    strangers(h, "wedzarnia", 20, {"komora": (58.0, 3.0, 1), "mieso": (44.0, 0.4, 1)})
    for room in ("kuchnia", "salon", "poddasze", "kancelaria"):
        climate(h, f"dom/{room}", ("temperatura", "wilgotnosc", "bateria"))
    weather(h, "pogoda", ("temperatura", "wilgotnosc", "cisnienie", "wiatr", "poryw", "opad"))
    states(h, "dom/swiatlo", 120, {"ganek": "wyl", "kuchnia": "zal", "podworze": "wyl"})
    states(h, "stary_sterownik", 600, {"U": "25.1", "I": "0.0", "status": "offline"}, retain=True)
    coin_cells(h, "zb", ("drzwi frontowe", "magazyn broni", "brama"))
    router(h, "modem_lte", ("temperatura", "obciazenie", "czas_pracy", "kbps"))
    plug(h, "gniazdka/lodowka", 230.0)
    phone(h, "telefon/marek")
    return h


def vineyard() -> House:
    """Italian: a cellar's lift truck, eighteen cells in bulk; a gateway nests each value with its unit."""
    h = House("vineyard", 7206, "muletto", {"muletto": 18})
    b = wet(h, 18, 320, limit=34, inner=2.12, gassing=0.35, rise=0.13, acid=29.0, air=16.0)
    u, i, _ = meter(h, b, 0.02, 0.06)

    def machine(name: str, every: float, said: dict[str, tuple[Signal, int, str]], true: dict[str, Truth]) -> None:
        values = {key: {"val": (signal, digits), "um": unit} for key, (signal, digits, unit) in said.items()}
        told = {f"/misure/{key}/val": truth for key, truth in true.items()}
        h.say(f"azienda/{name}", every, body({"id": name, "ts": clock, "misure": values}), told)

    def other(name: str, every: float, said: dict[str, tuple[float, float, int, str]]) -> None:
        machine(name, every, {key: (drifting(h, m, s), d, unit) for key, (m, s, d, unit) in said.items()}, {})

    cart = {
        "tensione": (u, 2, "V"),
        "corrente": (i, 1, "A"),
        "temp_elettrolito": (read(h, b.acid, 0.06), 1, "°C"),
        "temp_locale": (h.around(16.2, 0.2, 2300, 0.05), 1, "°C"),
    }
    true = {
        "tensione": Truth("muletto", VOLTS, "V"),
        "corrente": Truth("muletto", AMPS, "A"),
        "temp_elettrolito": Truth("muletto", ACID, "degC"),
        "temp_locale": Truth("muletto", AIR, "degC"),
    }
    machine("batteria_muletto", 10, cart, true)
    blocks = {f"monoblocco_{n}": (one, 2, "V") for n, one in enumerate(parts(h, b.volts, 6, 0.008, 0.008), 1)}
    machine("monoblocchi_muletto", 30, blocks, {name: Truth("muletto", BLOCK, "V") for name in blocks})
    wall, line_volts = scaled(b.watts, 1.0 / 0.87, 9.0), drifting(h, 229.0, 1.2)
    socket = {
        "state": "ON",
        "power": (wall, 0),
        "voltage": (line_volts, 0),
        "current": (lambda t: wall(t) / line_volts(t) / 0.96, 2),
        "energy": (h.counter(811.4, 4e-4), 2),
        "linkquality": 118,
    }
    h.say("zigbee/presa carica muletto", 20, body(socket), {"/state": Truth("muletto", RELAY)})
    vent = {"state": "ON", "linkquality": 96}
    h.say("zigbee/aspiratore carica", 60, vent, {"/state": Truth("muletto", FAN)})
    out = {"stato": "equalizzazione", "uscita_V": (scaled(b.volts, 1.0, 0.1), 1), "uscita_A": (b.fed, 0), "errore": 0}
    h.say("azienda/carica/muletto", 15, body(out))
    for n, (must, wine) in enumerate(((17.2, "bianco"), (24.8, "rosso"), (22.1, "rosso"), (12.4, "vuoto")), 1):
        other(f"serbatoio_{n}", 30, {"temp": (must, 0.3, 1, "°C"), "livello": (60.0 + 7 * n, 0.1, 0, "%")})
        h.say(f"azienda/serbatoio_{n}/contenuto", 600, wine, retain=True)
    other("pressa", 20, {"pressione": (1.4, 0.2, 2, "bar"), "corrente": (0.2, 0.02, 1, "A")})
    other("gruppo_frigo", 20, {"mandata": (6.2, 0.5, 1, "°C"), "potenza": (3.1, 0.5, 2, "kW")})
    other("quadro", 10, {"V_L1": (229, 1, 1, "V"), "V_L2": (231, 1, 1, "V"), "V_L3": (230, 1, 1, "V")})
    other("quadro_correnti", 10, {"I_L1": (14, 2, 1, "A"), "I_L2": (9, 2, 1, "A"), "I_L3": (11, 2, 1, "A")})
    other("fotovoltaico", 15, {"dc_V": (512, 9, 0, "V"), "dc_A": (6.1, 1.2, 1, "A"), "ac_kW": (3.0, 0.6, 2, "kW")})
    other("trattore", 60, {"batteria": (12.71, 0.01, 2, "V"), "ore": (4120.5, 0.0, 1, "h")})
    other("allarme", 60, {"tampone": (27.4, 0.02, 2, "V")})
    other("cancello", 60, {"batteria": (26.8, 0.03, 1, "V"), "cicli": (20411, 0.0, 0, "")})
    gone = {"id": "muletto_vecchio", "ts": 1741000000, "misure": {"tensione": {"val": 23.9, "um": "V"}}}
    h.say("azienda/batteria_muletto_vecchio", 600, gone, retain=True)
    lithium(h, "robot/filare", 7, ("tensione", "corrente", "carica", "temp", "cella{}"))
    for field in ("alto", "fiume", "strada"):
        probe = {"umidita": (31, 0.3, 0), "temp_suolo": (9.8, 0.1, 1), "bagnatura": (40, 3, 0), "batt": (3.61, 0.0, 2)}
        stranger(h, f"lora/vigna/{field}", 60, probe, rssi=-108)
    weather(h, "meteo", ("temperatura", "umidita", "pressione", "vento", "raffica", "pioggia"))
    for room in ("cantina", "barricaia", "ufficio", "agriturismo"):
        climate(h, f"casa/{room}", ("temperatura", "umidita", "batteria"))
    strangers(h, "casa/caldaia", 30, {"mandata": (55.0, 2.0, 1), "acs": (47.0, 0.5, 1), "pressione": (1.5, 0.01, 1)})
    states(h, "casa/luci", 120, {"cortile": "OFF", "cantina": "ON", "insegna": "OFF"})
    states(h, "irrigazione", 60, {"valvola1": "0", "valvola2": "0", "pompa": "0"})
    coin_cells(h, "zigbee", ("porta cantina", "finestra ufficio"))
    router(h, "server/rack", ("temp", "carico", "uptime", "kbit"))
    plug(h, "tele/tappatrice/SENSOR", 230.0)
    plug(h, "tele/etichettatrice/SENSOR", 230.0)
    phone(h, "cellulare/gianni")
    return h


def boathouse() -> House:
    """Norwegian: two strings of two blocks held above sixteen volts in the cold; every number carries its unit."""
    h = House("boathouse", 7207, "naust", {"naust": 6})
    draw = h.steps(0.5, 0.9, 2.8, dwell=95)
    b = wet(h, 6, 450, limit=40, ceiling=2.69, inner=2.2, gassing=0.96, acid=19.5, air=2.5, load=draw)
    u, i, p = meter(h, b, 0.005, 0.05)
    base = "naust/batteri"
    h.say(f"{base}/spenning", 2, word(u, 2, "{} V"), Truth("naust", VOLTS, "V"))
    h.say(f"{base}/strøm", 2, word(i, 1, "{} A"), Truth("naust", AMPS, "A"))
    h.say(f"{base}/effekt", 2, word(p, 0, "{} W"), Truth("naust", WATTS, "W"))
    for n, share in ((1, 0.48), (2, 0.52)):
        branch = read(h, scaled(b.amps, share), 0.06)
        h.say(f"{base}/streng{n}", 10, word(branch, 1, "{} A"), Truth("naust", STRING, "A"))
    h.say("naust/føler/2", 30, word(read(h, b.acid, 0.05), 1, "{} °C"), Truth("naust", ACID, "degC"))
    h.say("naust/føler/5", 30, word(h.around(2.7, 0.2, 2500, 0.05), 1, "{} °C"), Truth("naust", AIR, "degC"))
    probes: dict[str, Span] = {"1": (6.4, 0.1, 1), "3": (11.8, 0.4, 1), "4": (3.9, 0.2, 1), "6": (20.9, 0.3, 1)}
    strangers(h, "naust/føler", 30, probes, "{} °C")
    h.say("naust/lader/rele", 30, "på", Truth("naust", RELAY))
    h.say("naust/lader/modus", 60, "utjevning")
    h.say("naust/vifte", 60, "på", Truth("naust", FAN))
    h.say("naust/dør", 60, "lukket", Truth("naust", DOOR))
    h.say("naust/lader/ut", 10, word(read(h, b.fed, 0.2), 1, "{} A"))
    solar(h, "naust/sol", ("panel_volt", "panel_ampere", "panel_watt", "i_dag", "batteri"), read(h, b.volts, 0.04))
    h.say("naust/skjerm", 20, body({"volt": (u, 1), "ampere": (i, 0), "sjø": 7, "melding": "utjevner til kl 15"}))
    h.say("naust/batteri/etterfylt", 600, "1,2 l 9. november", retain=True)
    states(h, "naust/gammel", 600, {"spenning": "12.4 V", "status": "borte"}, retain=True)
    strangers(h, "naust/lensepumpe", 60, {"strøm": (0.0, 0.0, 1)}, "{} A")
    lithium(h, "sjark/litium", 8, ("spenning", "strøm", "ladenivå", "temperatur", "celle{}"))
    starter(h, "sjark/startbatteri")
    starter(h, "snøfreser/batteri")
    strangers(h, "sjark", 60, {"hekk": (12.8, 0.01, 2), "baug": (12.9, 0.01, 2)}, "{} V")
    strangers(h, "sjark/tank", 120, {"diesel": (212, 0.3, 0), "vann": (90, 0.2, 0)}, "{} l")
    mains(h, "hus/måler", ("spenning", "frekvens", "effekt"), 233.0, 50.0)
    strangers(h, "hus/måler", 60, {"kwh": (61220.4, 0.0, 1), "pris_øre": (81.4, 0.0, 1)})
    strangers(h, "hus/varmepumpe", 30, {"tur": (36.5, 1.0, 1), "retur": (31.2, 0.8, 1), "ute": (1.4, 0.2, 1)}, "{} °C")
    strangers(h, "hus/varmepumpe", 30, {"effekt": (1180, 120, 0)}, "{} W")
    strangers(h, "hus/bereder", 60, {"topp": (68.0, 0.4, 1), "bunn": (41.0, 0.6, 1)}, "{} °C")
    strangers(h, "elbil", 60, {"ladenivå": (82, 0.0, 0)}, "{} %")
    strangers(h, "elbil", 60, {"hovedbatteri": (388, 0.4, 0), "12v": (12.9, 0.02, 2)}, "{} V")
    strangers(h, "elbil", 30, {"ladestrøm": (0.0, 0.0, 1)}, "{} A")
    for room in ("stue", "kjøkken", "bad"):
        climate(h, f"hus/{room}", ("temperatur", "fukt", "batteri"))
    weather(h, "vær", ("temperatur", "fukt", "trykk", "vind", "kast", "nedbør"))
    lights(h, "hus/lys", ("stue", "trapp", "kai"))
    coin_cells(h, "zb", ("ytterdør", "bod", "kjellervindu"))
    router(h, "hus/ruter", ("temp", "last", "oppetid", "kbps"))
    plug(h, "hus/plugg/fryser", 233.0)
    phone(h, "mobil/solveig")
    return h


def hill_farm() -> House:
    """Portuguese: eight blocks for forty-eight volts that taper; plain numbers, the blocks in one comma line."""
    h = House("hill farm", 7208, "baterias", {"baterias": 24})
    draw = h.steps(2.0, 4.2, 9.5, dwell=70)
    b = wet(h, 24, 430, limit=45, ceiling=2.6, inner=2.19, gassing=0.95, rise=0.13, acid=30.5, air=19.0, load=draw)
    u, i, p = meter(h, b, 0.02, 0.05)
    base = "quinta/baterias"
    h.say(f"{base}/tensao", 5, word(u, 2), Truth("baterias", VOLTS, "V"))
    h.say(f"{base}/corrente", 5, word(i, 2), Truth("baterias", AMPS, "A"))
    h.say(f"{base}/potencia_kw", 5, word(scaled(p, 0.001), 3), Truth("baterias", WATTS, "kW"))
    h.say(f"{base}/temp_acido", 30, word(read(h, b.acid, 0.05), 1), Truth("baterias", ACID, "degC"))
    h.say(f"{base}/temp_casa", 30, word(h.around(19.3, 0.3, 2600, 0.05), 1), Truth("baterias", AIR, "degC"))
    blocks = {f"b{n}": (one, 2) for n, one in enumerate(parts(h, b.volts, 8, 0.007, 0.008), 1)}
    true = {f"/{n}": Truth("baterias", BLOCK, "V") for n in range(8)}
    h.say(f"{base}/blocos", 15, line(blocks, "{1}", ","), true)
    h.say(f"{base}/ventilador", 60, "1", Truth("baterias", FAN))
    h.say(f"{base}/nota", 600, "agua destilada em 3/11, 4 litros", retain=True)
    for n in range(1, 9):
        on = "1" if n == 5 else h.chance.choice(("0", "1"))
        h.say(f"quinta/reles/r{n}", 30, on, Truth("baterias", RELAY) if n == 5 else None)
    seen = read(h, scaled(b.volts, 1.0, -0.12), 0.05)
    h.say("quinta/inversor/bateria_v", 10, word(seen, 1))
    h.say("quinta/inversor/dc_a", 10, word(read(h, draw, 0.1), 1))
    h.say("quinta/inversor/saida_w", 10, word(lambda t: 0.9 * draw(t) * seen(t), 0))
    strangers(h, "quinta/inversor", 15, {"saida_v": (230.2, 0.4, 1), "temp": (41.0, 0.7, 1), "erro": (0.0, 0.0, 0)})
    solar(h, "quinta/solar", ("painel_v", "painel_a", "painel_w", "kwh_hoje", "bateria"), read(h, b.volts, 0.05))
    h.say("quinta/solar/modo", 60, "EQ")
    strangers(h, "quinta/gerador", 30, {"arranque": (13.2, 0.02, 2), "gasoleo": (44, 0.1, 0), "horas": (903.6, 0, 1)})
    starter(h, "carrinha/bateria")
    starter(h, "trator/bateria")
    strangers(h, "portao", 60, {"bateria": (26.9, 0.02, 1), "painel": (31.4, 1.0, 1)})
    for n in range(1, 7):
        h.say(f"rega/valvula{n}", 60, "0")
    strangers(h, "rega", 30, {"caudal": (0.0, 0.0, 1), "pressao": (2.4, 0.1, 1), "tanque_cm": (188, 0.2, 0)})
    for plot in ("olival", "horta", "pomar", "laranjal"):
        shape = {"hum": (28, 0.3, 0), "t": (14.2, 0.1, 1), "vbat": (3.94, 0.0, 2)}
        stranger(h, f"solo/{plot}", 90, shape, seq=int(h.chance.uniform(100, 9000)))
    strangers(h, "piscina", 60, {"temp": (15.8, 0.1, 1), "ph": (7.3, 0.02, 2), "bomba_w": (412, 6, 0)})
    strangers(h, "lagar", 30, {"massa": (27.1, 0.3, 1), "agua": (33.0, 0.5, 1), "motor_a": (0.0, 0.0, 1)})
    for room in ("sala", "cozinha", "quarto", "adega"):
        climate(h, f"casa/{room}", ("temp", "hum", "pilha"))
    strangers(h, "casa/termo", 60, {"solar": (58.0, 0.6, 1), "retorno": (44.0, 0.5, 1)})
    weather(h, "tempo", ("temperatura", "humidade", "pressao", "vento", "rajada", "chuva"))
    states(h, "casa/estores", 120, {"sala": "0", "quarto": "60", "cozinha": "100"})
    lights(h, "casa/luz", ("alpendre", "patio", "adega"))
    states(h, "antigo/baterias", 600, {"tensao": "49.2", "corrente": "-1.8", "estado": "offline"}, retain=True)
    strangers(h, "nobreak", 30, {"bateria": (54.1, 0.03, 1), "carga": (17, 2, 0), "entrada": (230, 0.6, 0)})
    lithium(h, "trotinete", 10, ("tensao", "corrente", "carga", "temp", "celula{}"))
    coin_cells(h, "zb", ("porta da rua", "galinheiro", "portão"))
    router(h, "router4g", ("temp", "carga", "uptime", "kbps"))
    plug(h, "tomada/arca", 230.0)
    plug(h, "tomada/maquina", 230.0)
    phone(h, "telemovel/rita")
    return h


#: The households, in no particular order.
FRESH_Q: tuple[Callable[[], House], ...] = (
    sheep_station,
    allotment_lockup,
    light_keepers_cottage,
    polder_house,
    foresters_lodge,
    vineyard,
    boathouse,
    hill_farm,
)
