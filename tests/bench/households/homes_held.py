"""Five invented houses that are only ever looked at as totals."""

from __future__ import annotations

from tests.bench.households import things
from tests.bench.households.homes_dev import announce
from tests.bench.households.world import House, Truth, bank


def two_barns() -> House:
    """Two banks of different shapes (24 V being equalised, 12 V at rest), numbered paths, glued words."""
    h = House("two barns", 101, "big", {"big": 12, "small": 6})
    big = bank(h, 12, 2.40, 38.0, 26.0, way="cut")
    small = bank(h, 6, 2.09, 0.25, 12.0, way="steady", sigma=0.002)
    air = h.around(8.0, 0.2, sigma=0.03)
    h.say("barn/1/battvolt", 4, lambda t: f"{big.volts(t):.2f}", Truth("big", "voltage", "V"))
    h.say("barn/1/battamps", 4, lambda t: f"{big.amps(t):.1f}", Truth("big", "current", "A"))
    h.say("barn/1/acidtemp", 20, lambda t: f"{big.acid(t):.1f}°C", Truth("big", "electrolyte_temperature", "degC"))
    h.say("barn/2/battvolt", 4, lambda t: f"{small.volts(t):.3f}", Truth("small", "voltage", "V"))
    h.say("barn/2/battamps", 4, lambda t: f"{small.amps(t):.2f}", Truth("small", "current", "A"))
    h.say("barn/2/acidtemp", 20, lambda t: f"{small.acid(t):.1f}°C", Truth("small", "electrolyte_temperature", "degC"))
    h.say("barn/airtemp", 30, lambda t: f"{air(t):.1f}°C", Truth("big", "ambient_temperature", "degC"))
    for n, part in enumerate((0.28, 0.25, 0.24, 0.23)):
        h.say(
            f"barn/1/string{n + 1}amps",
            6,
            lambda t, p=part: f"{p * big.amps(t):.2f}",
            Truth("big", "string_current", "A"),
        )
    h.say("barn/3/battvolt", 6, "12.61")
    things.starter(h, "barn/tractor/battvolt")
    things.lithium(h, "barn/4", 8, ("packvolt", "packamps", "soc", "packtemp", "cellvolt{}"))
    things.mains(h, "barn/feed", ("volt", "hz", "watt"), 238.0, 50.0)
    h.say("barn/well/probe_a", 20, lambda t: f"{612 + (t % 9):.0f}")
    h.say("barn/well/probe_b", 20, lambda t: f"{409 + (t % 7):.0f}")
    for n in range(1, 13):
        h.say(f"barn/stall/{n}", 60, {"temp": 14.0 + n / 10, "nh3": 4 + n % 3, "door": "closed" if n % 2 else "open"})
    for plug in ("milk", "cooler", "wash", "fence", "feeder"):
        things.plug(h, f"barn/plug/{plug}", 238.0)
    for room in ("parlour", "tack", "office"):
        things.climate(h, f"barn/{room}", ("temp", "hum", "batt"))
    things.weather(h, "barn/roof", ("outtemp", "outhum", "baro", "wind", "rain", "sun"))
    things.router(h, "barn/gw", ("cputemp", "load", "uptime", "rx"))
    things.coin_cells(h, "barn/gates", ("north", "south"))
    things.lights(h, "barn/lamps", ("aisle", "yard", "loft"))
    h.say("barn/fuel/level", 60, "318")
    h.say("barn/silo/weight", 30, "12.84 t")
    h.say("barn/charger/relay/cmnd", 300, "ON")
    h.say("barn/charger/relay/stat", 30, "ON", Truth("big", "relay_state"))
    return h


def desert_site() -> House:
    """A 36 V bank, 120 V mains of 60 Hz, Fahrenheit by sibling, discharge counted positive, contacts in JSON."""
    h = House("desert site", 211, "carts", {"carts": 18})
    b = bank(h, 18, 2.52, 14.5, 34.0, way="cut")
    room = h.around(31.0, 0.4, sigma=0.05)
    h.say(
        "site/dcMonitor",
        3,
        lambda t: {
            "packVoltage": round(b.volts(t), 2),
            "packCurrent": round(-b.amps(t), 2),
            "packPower": round(-b.watts(t)),
            "stateOfCharge": 88,
            "ts": 1795590000 + int(t),
        },
        {
            "/packVoltage": Truth("carts", "voltage", "V"),
            "/packCurrent": Truth("carts", "current", "A", "discharging"),
            "/packPower": Truth("carts", "power", "W", "discharging"),
        },
    )
    h.say(
        "site/probes",
        15,
        lambda t: {
            "ElectrolyteTemp": round(b.acid(t) * 1.8 + 32, 1),
            "RoomTemp": round(room(t) * 1.8 + 32, 1),
            "TempUnit": "F",
        },
        {
            "/ElectrolyteTemp": Truth("carts", "electrolyte_temperature", "degF"),
            "/RoomTemp": Truth("carts", "ambient_temperature", "degF"),
        },
    )
    h.say(
        "site/ventilation",
        20,
        lambda t: {"fanRunning": True, "doorOpen": False, "h2Percent": round(0.08 + (t % 60) / 6000, 3)},
        {
            "/fanRunning": Truth("carts", "fan"),
            "/doorOpen": Truth("carts", "door"),
            "/h2Percent": Truth("carts", "hydrogen", "percent"),
        },
    )
    things.mains(h, "site/utility", ("acVoltage", "acFrequency", "acPower"), 121.0, 60.0)
    things.lithium(h, "site/ups", 13, ("packVoltage", "packCurrent", "stateOfCharge", "packTemp", "cell{}V"))
    things.starter(h, "site/truck/accessoryVoltage")
    things.solar(
        h, "site/array", ("arrayVoltage", "arrayCurrent", "arrayPower", "dailyYield", "outputVoltage"), b.volts
    )
    for n in range(1, 7):
        h.say(
            f"site/pump{n}",
            20,
            lambda t, n=n: {
                "inletPsi": 42 + n,
                "outletPsi": 61 + n,
                "motorAmps": 4.1 + (t % 6) / 10,
                "casingTemp": 118 + n,
            },
        )
    for plug in ("ac1", "ac2", "icemaker", "shop"):
        things.plug(h, f"tele/{plug}/SENSOR", 121.0)
    for room_name in ("bunk", "mess", "lab", "store", "garage"):
        things.climate(h, f"site/{room_name}", ("tempF", "rh", "cellMv"))
    things.weather(h, "site/met", ("airTemp", "rh", "stationPressure", "windMps", "rainMm", "uvIndex"))
    things.coin_cells(h, "site/doors", ("bunk", "mess", "lab"))
    things.router(h, "site/modem", ("boardTemp", "load", "uptime", "rxRate"))
    h.say("site/tank/depthFt", 60, "11.2")
    h.say("site/chargerFeed/command", 300, "1")
    h.say("site/chargerFeed/relayState", 30, "1", Truth("carts", "relay_state"))
    things.phone(h, "site/phone/lead")
    return h


def small_hut() -> House:
    """A 6 V bank that hardly takes anything, terse names, beside a 48 V lithium pack."""
    h = House("small hut", 307, "six", {"six": 3})
    b = bank(h, 3, 2.45, 1.1, 9.0, way="rising", sigma=0.003)
    air = h.around(4.0, 0.3, sigma=0.04)
    h.say("hut/pb/u", 2, lambda t: f"{b.volts(t):.3f} V", Truth("six", "voltage", "V"))
    h.say("hut/pb/i", 2, lambda t: f"{b.amps(t):.3f} A", Truth("six", "current", "A"))
    h.say("hut/pb/p", 2, lambda t: f"{b.watts(t):.2f} W", Truth("six", "power", "W"))
    h.say("hut/pb/electrolyte", 20, lambda t: f"{b.acid(t):.2f} °C", Truth("six", "electrolyte_temperature", "degC"))
    h.say("hut/air", 20, lambda t: f"{air(t):.2f} °C", Truth("six", "ambient_temperature", "degC"))
    for n in range(3):
        h.say(
            f"hut/pb/cell{n + 1}",
            10,
            lambda t, n=n: f"{b.volts(t) / 3 + 0.01 * (n - 1):.3f} V",
            Truth("six", "cell_voltage", "V"),
        )
    things.lithium(h, "hut/li", 16, ("u", "i", "soc", "t", "c{}"))
    things.mains(h, "hut/gen", ("u", "f", "p"), 229.0, 50.0)
    things.starter(h, "hut/gen/starter_u")
    things.solar(h, "hut/pv", ("u", "i", "p", "e", "u_out"), lambda t: 52.9)
    for room in ("stube", "kammer", "keller", "speicher"):
        things.climate(h, f"hut/{room}", ("t", "h", "bat"))
    things.weather(h, "hut/met", ("t", "h", "p", "w", "r"))
    for plug in ("stove", "light", "radio", "freezer", "water"):
        things.plug(h, f"hut/plug/{plug}", 229.0)
    things.lights(h, "hut/lamp", ("a", "b", "c"))
    things.coin_cells(h, "hut/contact", ("a", "b"))
    things.router(h, "hut/lte", ("t", "load", "up", "rx"))
    h.say("hut/snow", 60, lambda t: f"{41 + (t % 3):.0f} cm")
    h.say("hut/spring", 60, lambda t: f"{6.2 + (t % 5) / 10:.1f} l/min")
    h.say("hut/charger/switch", 300, "on")
    h.say("hut/charger/switch/state", 30, "on", Truth("six", "relay_state"))
    announce(h, "hut/air", "Air", "temperature", "°C")
    announce(h, "hut/gen/u", "Generator", "voltage", "V")
    return h


def harbour() -> House:
    """SenML from a boat with a 12 V bank held at 16 V, engine and thruster batteries, a pontoon's mains."""
    h = House("harbour", 401, "house", {"house": 6})
    b = bank(h, 6, 2.66, 5.2, 27.0, way="tapering")
    cabin = h.around(16.0, 0.2, sigma=0.03)
    engine, thruster = h.around(12.71, 0.004, sigma=0.004), h.around(25.42, 0.01, sigma=0.006)
    h.say(
        "boat/senml/dc",
        3,
        lambda t: [
            {"bn": "dc/house/", "bt": 1795590000 + round(t, 1), "n": "voltage", "u": "V", "v": round(b.volts(t), 3)},
            {"n": "current", "u": "A", "v": round(b.amps(t), 2)},
            {"n": "power", "u": "W", "v": round(b.watts(t), 1)},
            {"bn": "dc/engine/", "n": "voltage", "u": "V", "v": round(engine(t), 3)},
            {"bn": "dc/thruster/", "n": "voltage", "u": "V", "v": round(thruster(t), 3)},
        ],
        {
            "dc/house/voltage": Truth("house", "voltage", "V"),
            "dc/house/current": Truth("house", "current", "A"),
            "dc/house/power": Truth("house", "power", "W"),
        },
    )
    h.say(
        "boat/senml/temps",
        15,
        lambda t: [
            {"bn": "temp/", "n": "house-battery-electrolyte", "u": "Cel", "v": round(b.acid(t), 2)},
            {"n": "battery-compartment-air", "u": "Cel", "v": round(cabin(t), 2)},
            {"n": "engine-block", "u": "Cel", "v": 14.0},
            {"n": "sea", "u": "Cel", "v": 9.31},
            {"n": "fridge", "u": "Cel", "v": 4.2},
        ],
        {
            "temp/house-battery-electrolyte": Truth("house", "electrolyte_temperature", "degC"),
            "temp/battery-compartment-air": Truth("house", "ambient_temperature", "degC"),
        },
    )
    for name, middle in (
        ("depth", 6.4),
        ("stw", 0.02),
        ("aws", 7.1),
        ("awa", 41.0),
        ("cog", 211.0),
        ("sog", 0.1),
        ("rudder", 0.4),
    ):
        value = h.around(middle, 0.05 * middle, sigma=0.01 * middle)
        h.say(f"boat/instruments/{name}", 2, lambda t, value=value: f"{value(t):.2f}")
    for tank in ("water1", "water2", "diesel1", "diesel2", "waste"):
        h.say(f"boat/tanks/{tank}", 30, {"levelRatio": 0.62, "capacityL": 240})
    things.mains(h, "pontoon/7", ("volts", "hertz", "watts"), 233.0, 50.0)
    h.say("pontoon/7/amps", 5, lambda t: f"{1.1 + (t % 13) / 10:.1f}")
    h.say("pontoon/7/kwh", 60, lambda t: f"{811.2 + t / 3600:.1f}")
    things.lithium(h, "boat/bow/ebike", 10, ("v", "a", "soc", "t", "cell_{}"))
    things.solar(h, "boat/solar", ("panelV", "panelA", "panelW", "yieldKwh", "battV"), b.volts)
    for name in ("saloon", "fwd", "aft"):
        things.climate(h, f"boat/{name}", ("airTemp", "humidity", "battery"))
    for name in ("kettle", "heater", "dehumidifier", "charger"):
        things.plug(h, f"boat/plugs/{name}", 233.0)
    things.weather(h, "boat/baro", ("t", "rh", "hpa"))
    things.router(h, "boat/router", ("temp", "load", "uptime", "rx"))
    things.coin_cells(h, "boat/hatches", ("fwd", "main"))
    things.lights(h, "boat/lights", ("anchor", "cockpit"))
    things.phone(h, "phones/skipper")
    h.say("boat/bilge/pump", 30, "OFF")
    h.say("boat/blower/running", 30, "ON", Truth("house", "fan"))
    return h


def telephone_exchange() -> House:
    """A 48 V bank told in millivolts inside deep JSON, Spanish words, rectifiers, a second 48 V system."""
    h = House("telephone exchange", 503, "sala", {"sala": 24})
    b = bank(h, 24, 2.36, 22.0, 23.0, way="cut")
    hall = h.around(18.0, 0.2, sigma=0.03)
    other = h.around(53.9, 0.02, sigma=0.01)
    h.say(
        "central/medidor",
        4,
        lambda t: {
            "ts": 1795590000 + int(t),
            "grupos": [
                {
                    "nombre": "plomo",
                    "tension": {"valor": round(1000 * b.volts(t)), "unidad": "mV", "unit": "mV"},
                    "corriente": {"valor": round(1000 * b.amps(t)), "unit": "mA"},
                },
                {"nombre": "rectificador", "tension": {"valor": round(1000 * other(t)), "unit": "mV"}},
            ],
        },
        {
            "/grupos/0/tension/valor": Truth("sala", "voltage", "mV"),
            "/grupos/0/corriente/valor": Truth("sala", "current", "mA"),
        },
    )
    h.say(
        "central/bateria/temperatura_electrolito",
        20,
        lambda t: f"{b.acid(t):.1f} °C",
        Truth("sala", "electrolyte_temperature", "degC"),
    )
    h.say(
        "central/sala/temperatura_ambiente",
        20,
        lambda t: f"{hall(t):.1f} °C",
        Truth("sala", "ambient_temperature", "degC"),
    )
    h.say("central/sala/hidrogeno", 20, lambda t: f"{410 + (t % 30):.0f} ppm", Truth("sala", "hydrogen", "ppm"))
    h.say("central/sala/extractor", 30, "ON", Truth("sala", "fan"))
    for n in range(1, 5):
        h.say(
            f"central/rect/{n}",
            10,
            lambda t, n=n: {
                "vdc": round(other(t) + n / 100, 2),
                "idc": round(7.7 + n / 5 + (t % 6) / 10, 1),
                "tempC": 41 + n,
                "vac": 229,
            },
        )
    things.mains(h, "central/red", ("tension", "frecuencia", "potencia"), 229.0, 50.0)
    things.starter(h, "central/grupo/arranque_v")
    h.say("central/grupo/refrigerante", 30, "38.2 °C")
    things.lithium(h, "central/reserva", 15, ("tension", "corriente", "carga", "temp", "celda{}"))
    things.other_bridge(h, "homie/5/exchange", "sala")
    for rack in range(1, 9):
        h.say(
            f"central/rack/{rack}",
            30,
            {"inlet": 21.0 + rack / 10, "outlet": 29.0 + rack / 7, "fanRpm": 3100 + rack, "psuV": 12.04},
        )
    for room in ("oficina", "pasillo", "taller", "almacen"):
        things.climate(h, f"central/{room}", ("temperatura", "humedad", "pila"))
    for plug in ("cafetera", "nevera", "luz"):
        things.plug(h, f"tele/{plug}/SENSOR", 229.0)
    things.weather(h, "central/meteo", ("temp", "hum", "pres", "viento", "lluvia"))
    things.coin_cells(h, "central/puerta", ("calle", "patio"))
    things.lights(h, "central/luces", ("sala", "patio"))
    things.router(h, "central/nodo", ("temp_cpu", "carga", "activo", "rx"))
    h.say("central/cargador/orden", 300, "ON")
    h.say("central/cargador/estado", 30, "ON", Truth("sala", "relay_state"))
    return h


HELD = (two_barns, desert_site, small_hut, harbour, telephone_exchange)
