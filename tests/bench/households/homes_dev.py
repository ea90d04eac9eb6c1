"""Invented houses to work with: a hub's house, a workshop of many dialects, a mill with Homie devices, an orchard."""

from __future__ import annotations

from tests.bench.households import things
from tests.bench.households.world import House, Truth, bank


def hillside() -> House:
    """A 24 V bank under 32 V beside a lithium pack, a hub's announcements and its crowd of plugs and sensors."""
    h = House("hillside", 11, "north", {"north": 12})
    b = bank(h, 12, 2.663, 7.4, 24.0, way="tapering")
    air = h.around(11.0, 0.4, sigma=0.03)
    h.say(
        "cabin/shunt",
        2,
        lambda t: {"dc": {"mv": round(1000 * b.volts(t)), "ma": round(1000 * b.amps(t))}, "t": 1795590000 + int(t)},
        {"/dc/mv": Truth("north", "voltage", "mV"), "/dc/ma": Truth("north", "current", "mA")},
    )
    h.say(
        "cabin/battery/acid_temp",
        20,
        lambda t: f"{b.acid(t) * 1.8 + 32:.1f} degF",
        Truth("north", "electrolyte_temperature", "degF"),
    )
    h.say(
        "cabin/shed/air_temp",
        30,
        lambda t: f"{air(t) * 1.8 + 32:.1f} degF",
        Truth("north", "ambient_temperature", "degF"),
    )
    h.say("cabin/shed/fan/running", 30, "ON", Truth("north", "fan"))
    h_ppm = h.around(240.0, 30.0, sigma=4.0)
    h.say("cabin/shed/hydrogen_ppm", 15, lambda t: f"{h_ppm(t):.0f}", Truth("north", "hydrogen", "ppm"))
    things.relay(h, "cabin/charger", "state", "north")
    things.lithium(h, "house/pack", cells=4, names=("voltage", "current", "soc", "temperature", "cell{}"))
    things.starter(h, "generator/starter_battery/voltage")
    things.solar(h, "house/solar", ("pv_voltage", "pv_current", "pv_power", "yield_today", "battery_voltage"), b.volts)
    things.mains(h, "house/grid", ("voltage", "frequency", "power"), 230.0, 50.0)
    for room in ("kitchen", "hall", "loft", "bath", "cellar"):
        things.climate(h, f"home/{room}", ("temperature", "humidity", "battery"))
    for plug in ("kettle", "fridge", "freezer", "desk", "tv", "pump"):
        things.plug(h, f"plugs/{plug}/SENSOR", 230.0)
    things.weather(h, "weather/station", ("temperature", "humidity", "pressure", "wind_speed", "rain_today", "uv"))
    things.lights(h, "lights", ("porch", "stairs", "yard", "bed"))
    things.router(h, "net/router", ("cpu_temp", "load", "uptime", "rx_rate"))
    things.coin_cells(h, "doors", ("front", "back", "garage"))
    announce(h, "cabin/battery/acid_temp", "Acid temperature", "temperature", "°F")
    announce(h, "house/grid/voltage", "Grid voltage", "voltage", "V")
    announce(h, "generator/starter_battery/voltage", "Starter battery", "voltage", "V")
    for room in ("kitchen", "hall", "loft"):
        announce(h, f"home/{room}/temperature", f"{room} temperature", "temperature", "°C")
    h.say("house/pressure_tank/bar", 20, lambda t: f"{3 + 0.1 * (t % 7):.2f}")
    h.say("house/oil/level_mm", 60, "842")
    things.homie_thermostat(h, "homie/5/thermo-hall")
    things.phone(h, "phones/anna")
    return h


def workshop() -> House:
    """A 12 V bank in bulk, plain text with units, SenML, camelCase with unit siblings, and German words."""
    h = House("workshop", 23, "werkbank", {"werkbank": 6})
    b = bank(h, 6, 2.38, 31.0, 19.5, way="rising")
    room = h.around(14.0, 0.3, sigma=0.04)
    h.say("werkstatt/batterie/spannung", 3, lambda t: f"{b.volts(t):.2f} V", Truth("werkbank", "voltage", "V"))
    h.say("werkstatt/batterie/strom", 3, lambda t: f"{b.amps(t):.1f} A", Truth("werkbank", "current", "A"))
    h.say("werkstatt/batterie/leistung", 3, lambda t: f"{b.watts(t):.0f} W", Truth("werkbank", "power", "W"))
    h.say(
        "tele/saeure/SENSOR",
        10,
        lambda t: {
            "Time": "2026-11-25T08:20:00",
            "DS18B20": {"Id": "0316A2", "Temperature": round(b.acid(t) * 1.8 + 32, 1)},
            "TempUnit": "F",
        },
        {"/DS18B20/Temperature": Truth("werkbank", "electrolyte_temperature", "degF")},
    )
    mid = h.around(0.0, sigma=0.004)
    h.say(
        "werkstatt/senml",
        5,
        lambda t: [
            {"bn": "lab/", "bt": 1795590000 + int(t), "n": "mitte", "u": "V", "v": round(b.volts(t) / 2 + mid(t), 3)},
            {"n": "raum", "u": "Cel", "v": round(room(t), 2)},
            {"n": "feuchte", "u": "%RH", "v": 61.0},
        ],
        {
            "lab/mitte": Truth("werkbank", "midpoint_voltage", "V"),
            "lab/raum": Truth("werkbank", "ambient_temperature", "degC"),
        },
    )
    things.mains(h, "hausanschluss", ("L1_V", "Hz", "P_ges"), 231.0, 50.0)
    for n in range(1, 4):
        h.say(f"hausanschluss/L{n}", 5, lambda t, n=n: f"{228 + n + (t % 5) / 5:.1f} V")
        h.say(f"hausanschluss/I{n}", 5, lambda t, n=n: f"{0.4 * n + (t % 11) / 10:.2f} A")
    things.lithium(h, "bohrer/akku", cells=5, names=("spannung", "strom", "ladung", "temp", "z{}"))
    things.starter(h, "stapler/starterbatterie")
    h.say("druckluft/kompressor/bar", 8, lambda t: f"{7.0 + (t % 60) / 60:.2f} bar")
    h.say(
        "cnc/spindel", 4, lambda t: {"rpm": 12000 + int(t) % 40, "loadPct": 31, "motorTemp": 41.2, "busVoltage": 48.1}
    )
    h.say(
        "drucker3d/status", 6, lambda t: {"nozzleTemp": 210.2, "bedTemp": 60.1, "fanSpeed": 255, "progress": int(t / 9)}
    )
    for name in ("saege", "lampe", "radio", "lader", "schweissgeraet"):
        things.plug(h, f"tele/{name}/SENSOR", 231.0)
        h.say(f"stat/{name}/POWER", 60, "ON")
        h.say(
            f"tele/{name}/STATE",
            60,
            lambda t: {
                "Time": "2026-11-25T08:20:00",
                "Uptime": "3T11:02:31",
                "Vcc": 3.412,
                "Wifi": {"RSSI": 72, "Signal": -64},
            },
        )
    for name in ("buero", "lager", "tor"):
        things.climate(h, f"klima/{name}", ("temperatur", "feuchte", "batterie"))
    things.weather(h, "wetter", ("aussentemperatur", "luftdruck", "wind", "regen"))
    things.router(h, "netz/router", ("cpuTemp", "loadAvg", "uptime", "rxRate"))
    h.say(
        "pv/wr1",
        5,
        lambda t: {"Udc": 331.2 + (t % 9) / 10, "Idc": 2.31, "Pac": 742 + int(t) % 13, "Uac": 231.4, "Fac": 50.01},
    )
    things.lights(h, "licht", ("werkbank", "tor", "hof"))
    things.coin_cells(h, "kontakt", ("tor", "fenster1", "fenster2"))
    h.say("relais/ladegeraet/set", 300, "ON")
    h.say("relais/ladegeraet/state", 30, "ON", Truth("werkbank", "relay_state"))
    h.say("zaehler/strom", 10, lambda t: f"{18422.31 + t / 3600:.2f} kWh")
    h.say("zaehler/wasser", 10, "411.2 m3")
    h.say("teich/temp", 60, "6.4")
    return h


def mill() -> House:
    """A 48 V bank held at equalising voltage, Homie devices, another bridge's own output, inverter and solar sides."""
    h = House("mill", 37, "wheel", {"wheel": 24})
    b = bank(h, 24, 2.64, 9.0, 29.0, way="cut")
    shed = h.around(9.0, 0.3, sigma=0.03)
    things.homie(
        h,
        "homie/5/bank-shunt",
        {
            "dc": {
                "voltage": ("V", lambda t: f"{b.volts(t):.2f}", Truth("wheel", "voltage")),
                "current": ("A", lambda t: f"{-b.amps(t):.2f}", Truth("wheel", "current", "", "discharging")),
                "power": ("W", lambda t: f"{-b.watts(t):.0f}", Truth("wheel", "power", "", "discharging")),
            },
            "probes": {
                "electrolyte": ("°C", lambda t: f"{b.acid(t):.2f}", Truth("wheel", "electrolyte_temperature")),
                "battery-room": ("°C", lambda t: f"{shed(t):.2f}", Truth("wheel", "ambient_temperature")),
            },
        },
        every=4,
    )
    share = {"a": 0.54, "b": 0.46}
    for name, part in share.items():
        h.say(
            f"mill/string_{name}/amps",
            5,
            lambda t, part=part: f"{part * b.amps(t):.2f}",
            Truth("wheel", "string_current", "A"),
        )
    for n in range(8):
        h.say(
            f"mill/blocks/b{n + 1}/volts",
            15,
            lambda t, n=n: f"{b.volts(t) / 8 + 0.03 * (n % 3 - 1):.3f}",
            Truth("wheel", "block_voltage", "V"),
        )
    things.homie_thermostat(h, "homie/5/thermo-office")
    things.homie_thermostat(h, "homie/5/thermo-flat")
    things.other_bridge(h, "homie/5/tarn-hut-bridge", "north")
    h.say("mill/inverter/dc_volts", 5, lambda t: f"{b.volts(t) - 0.35:.1f}")
    h.say("mill/inverter/dc_amps", 5, lambda t: f"{14.2 + (t % 8) / 4:.1f}")
    h.say("mill/inverter/ac_volts", 5, lambda t: f"{229.5 + (t % 4) / 4:.1f}")
    h.say("mill/inverter/ac_watts", 5, lambda t: f"{690 + (t % 40):.0f}")
    h.say("mill/inverter/heatsink", 20, lambda t: f"{38 + t / 400:.1f}")
    things.solar(h, "mill/solar", ("array_v", "array_a", "array_w", "kwh_today", "out_v"), lambda t: b.volts(t) + 0.2)
    h.say(
        "mill/turbine",
        4,
        lambda t: {
            "rpm": 412 + int(t) % 9,
            "flow_lps": 31.2,
            "bearingTemp": 33.1,
            "volts": 402.0 + (t % 6) / 3,
            "amps": 3.1,
        },
    )
    things.starter(h, "mill/genset/start_batt_volts")
    h.say("mill/genset/hours", 60, "1281.4")
    h.say("mill/genset/coolant", 20, "71.5 °C")
    for plug in ("oven", "boiler", "hoist", "lathe"):
        things.plug(h, f"mill/plugs/{plug}", 229.0)
    for room in ("office", "flat", "store", "attic"):
        things.climate(h, f"mill/{room}", ("temp", "rh", "bat"))
    things.weather(h, "mill/weather", ("temp_out", "rh_out", "baro", "gust", "rain"))
    things.coin_cells(h, "mill/contacts", ("gate", "hatch", "loft"))
    things.lights(h, "mill/light", ("yard", "wheelpit"))
    h.say("mill/river/level_cm", 60, "112")
    h.say("mill/river/temp", 60, "5.1")
    things.relay(h, "mill/charger_feed", "status", "wheel")
    h.say("mill/watercounter", 30, lambda t: str(80112 + int(t / 20)))
    things.phone(h, "phones/miller")
    return h


def orchard() -> House:
    """Two banks (48 V on charge in a nested list, 6 V at rest), rectifiers, an electric fence, glued and cut names."""
    h = House("orchard", 53, "press", {"press": 24, "gate": 3})
    b = bank(h, 24, 2.21, 27.0, 21.0, way="rising")
    g = bank(h, 3, 2.1, -0.1, 9.0, way="steady", sigma=0.002)
    hall, cellar = h.around(12.0, 0.3, sigma=0.03), h.around(8.5, 0.1, sigma=0.02)
    dc = h.around(54.1, 0.03, sigma=0.01)
    h.say(
        "orchard/dc",
        4,
        lambda t: {
            "stamp": 1795590000 + int(t),
            "systems": [
                {
                    "label": "press bank",
                    "u": {"val": round(b.volts(t), 2), "unit": "V"},
                    "i": {"val": round(-b.amps(t), 1), "unit": "A"},
                },
                {
                    "label": "telecom",
                    "u": {"val": round(dc(t), 2), "unit": "V"},
                    "i": {"val": round(3.1 + (t % 9) / 10, 1), "unit": "A"},
                },
            ],
        },
        {
            "/systems/0/u/val": Truth("press", "voltage", "V"),
            "/systems/0/i/val": Truth("press", "current", "A", "discharging"),
        },
    )
    for n in (1, 2):
        h.say(
            f"orchard/rectifier{n}",
            6,
            lambda t, n=n: {"outV": round(dc(t) + n / 50, 2), "outA": round(1.5 + (t % 7) / 10, 1), "tempC": 38 + n},
        )
    h.say("orchard/gate/batt/volts", 10, lambda t: f"{g.volts(t):.3f}", Truth("gate", "voltage", "V"))
    h.say("orchard/gate/batt/amps", 10, lambda t: f"{g.amps(t):.2f}", Truth("gate", "current", "A"))
    h.say(
        "orchard/press/cellthermometer",
        20,
        lambda t: f"{b.acid(t):.1f} °C",
        Truth("press", "electrolyte_temperature", "degC"),
    )
    h.say("orchard/press/hallair", 20, lambda t: f"{hall(t):.1f} °C", Truth("press", "ambient_temperature", "degC"))
    h.say("orchard/cider/cellartemp", 20, lambda t: f"{cellar(t):.1f} °C")
    h.say("orchard/cider/tank1/temp", 20, lambda t: f"{cellar(t) + 2:.1f} °C")
    h.say("orchard/fence/kilovolts", 10, lambda t: f"{7.1 + (t % 5) / 10:.1f}")
    h.say("orchard/fence/battery", 30, "12.71")
    h.say(
        "orchard/press/vent",
        30,
        lambda t: {"blower": "running", "hatch": "closed", "h2": round(0.11 + (t % 20) / 1000, 3), "h2Unit": "%vol"},
        {"/blower": Truth("press", "fan"), "/hatch": Truth("press", "door"), "/h2": Truth("press", "hydrogen", "%vol")},
    )
    things.mains(h, "orchard/supply", ("volts", "hz", "kw"), 229.0, 50.0)
    things.lithium(h, "orchard/mower", 7, ("volts", "amps", "soc", "temp", "c{}"))
    things.starter(h, "orchard/quadbike/voltage")
    things.solar(h, "orchard/pv", ("volts", "amps", "watts", "kwh", "batt_volts"), b.volts)
    for plug in ("press", "pump", "mill", "bottler"):
        things.plug(h, f"tele/{plug}/SENSOR", 229.0)
    for room in ("kitchen", "barn", "loft", "shop"):
        things.climate(h, f"orchard/{room}", ("temperature", "humidity", "battery"))
    things.weather(h, "orchard/mast", ("tempout", "humout", "baro", "gust", "rain"))
    things.coin_cells(h, "orchard/traps", ("a", "b", "c"))
    things.lights(h, "orchard/lights", ("yard", "press"))
    things.router(h, "orchard/router", ("temp", "load", "uptime", "rx"))
    things.relay(h, "orchard/press/chargerrelay", "status", "press")
    return h


def announce(h: House, state: str, name: str, kind: str, unit: str) -> None:
    """A hub's announcement."""
    key = state.replace("/", "_")
    body = {"name": name, "state_topic": state, "device_class": kind, "unit_of_measurement": unit, "unique_id": key}
    h.say(f"homeassistant/sensor/{key}/config", 600, body, retain=True)


DEVELOPMENT = (hillside, workshop, mill, orchard)
