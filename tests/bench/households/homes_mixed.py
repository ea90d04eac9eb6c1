"""Houses composed by lot: banks, dialects and crowd in combinations that nobody chose, for totals over many."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from tests.bench.households import things
from tests.bench.households.world import House, Truth, bank

#: Where a bank's values stand, and what they are called: volts, amps, watts, acid, air.
NAMES = (
    ("solarhut/battery", ("voltage", "current", "power", "electrolyte_temp", "room_temp")),
    ("ferme/batterie", ("tension", "courant", "puissance", "temp_acide", "temp_air")),
    ("finca/bateria", ("voltaje", "intensidad", "potencia", "temperatura_acido", "temperatura_ambiente")),
    ("hof/bleiakku", ("Spannung", "Strom", "Leistung", "ElektrolytTemperatur", "LuftTemperatur")),
    ("shop/leadbank", ("busV", "busA", "busW", "acidTempC", "airTempC")),
    ("cabin2/batt", ("dc_volts", "dc_amps", "dc_watts", "cell_temperature_c", "ambient_temperature_c")),
    ("node7/shunt", ("V", "I", "P", "T_cell", "T_air")),
    (
        "garage/forklift-battery",
        ("batteryVoltage", "batteryCurrent", "batteryPower", "electrolyteTemperature", "ambientTemperature"),
    ),
    ("huis/accu", ("spanning", "stroom", "vermogen", "temp_zuur", "temp_lucht")),
    ("stationA/bankmeter", ("u_batt", "i_batt", "p_batt", "t_batt", "t_air")),
)
CROWD = (
    "plug",
    "climate",
    "lithium",
    "starter",
    "solar",
    "mains",
    "weather",
    "lights",
    "router",
    "coin",
    "thermo",
    "bridge",
)


def mixed(seed: int) -> Callable[[], House]:
    """Return a maker of one house by lot."""

    def make() -> House:
        h = House(f"mixed {seed}", 7000 + seed, "bank0", {})
        c = h.chance
        for number in range(1 if c.random() < 0.7 else 2):
            _bank(h, number, *c.choice(NAMES))
        for _ in range(c.randrange(14, 24)):
            _crowd(h, c.choice(CROWD))
        return h

    return make


def _bank(h: House, number: int, base: str, names: tuple[str, ...]) -> None:
    c = h.chance
    name, cells = f"bank{number}", c.choice((3, 6, 6, 12, 12, 12, 24, 24))
    per_cell = c.uniform(2.16, 2.68)
    b = bank(
        h,
        cells,
        per_cell,
        c.choice((0.9, 4.2, 11.0, 36.0)),
        c.uniform(8.0, 38.0),
        way=c.choice(("steady", "rising", "tapering", "cut")),
    )
    h.shapes[name] = cells
    turned = c.random() < 0.25
    way, sign = (-1.0, "discharging") if turned else (1.0, "charging")
    air = h.around(c.uniform(2.0, 24.0), 0.3, sigma=0.04)
    fahrenheit = c.random() < 0.2 and not names[3].lower().endswith("c")
    scale: Callable[[float], float] = (lambda x: x * 1.8 + 32.0) if fahrenheit else (lambda x: x)
    unit = "degF" if fahrenheit else "degC"
    base = f"{base}{number or ''}"
    volts, amps, watts, acid, room = names
    style = c.choice(("plain", "units", "json", "nested", "senml", "homie"))
    truth = {
        volts: Truth(name, "voltage", "V"),
        amps: Truth(name, "current", "A", sign),
        watts: Truth(name, "power", "W", sign),
        acid: Truth(name, "electrolyte_temperature", unit),
        room: Truth(name, "ambient_temperature", unit),
    }
    signal: dict[str, tuple[Callable[[float], float], str]] = {
        volts: (lambda t: round(b.volts(t), 2), "V"),
        amps: (lambda t: round(way * b.amps(t), 2), "A"),
        watts: (lambda t: round(way * b.watts(t), 1), "W"),
        acid: (lambda t: round(scale(b.acid(t)), 2), "°F" if fahrenheit else "°C"),
        room: (lambda t: round(scale(air(t)), 2), "°F" if fahrenheit else "°C"),
    }
    without = {watts} if c.random() < 0.5 else set()
    told = {key: pair for key, pair in signal.items() if key not in without}
    if style == "plain" and not fahrenheit:
        for key, (says, _) in told.items():
            h.say(f"{base}/{key}", 5, lambda t, says=says: f"{says(t)}", truth[key])
    elif style in {"plain", "units"}:
        for key, (says, said) in told.items():
            h.say(f"{base}/{key}", 5, lambda t, says=says, said=said: f"{says(t)} {said}", truth[key])
    elif style == "json":
        extra = {"TempUnit": "F" if fahrenheit else "C"}
        h.say(
            base,
            5,
            lambda t: {key: says(t) for key, (says, _) in told.items()} | extra,
            {f"/{key}": truth[key] for key in told},
        )
    elif style == "nested":
        h.say(
            base,
            5,
            lambda t: {"data": {key: {"value": says(t), "unit": said} for key, (says, said) in told.items()}},
            {f"/data/{key}/value": truth[key] for key in told},
        )
    elif style == "senml":
        iana = {"V": "V", "A": "A", "W": "W"}
        h.say(
            base,
            5,
            lambda t: [
                {"bn": "m/"}
                | {
                    "n": key,
                    "u": iana.get(said, "Cel"),
                    "v": says(t) if said in iana or not fahrenheit else round((says(t) - 32) / 1.8, 2),
                }
                for key, (says, said) in told.items()
            ],
            {f"m/{key}": truth[key]._replace(unit="") for key in told},
        )
    else:
        device = f"homie/5/{base.replace('/', '-').lower()}"
        things.homie(
            h,
            device,
            {
                "dc": {
                    key.lower().replace("_", "-"): (
                        said,
                        partial(lambda says, t: str(says(t)), says),
                        truth[key]._replace(unit=""),
                    )
                    for key, (says, said) in told.items()
                }
            },
            every=5,
        )


def _crowd(h: House, kind: str) -> None:
    c, n = h.chance, h.chance.randrange(1000)
    if kind == "plug":
        things.plug(h, f"{c.choice(('tele', 'plugs', 'steckdose'))}/p{n}/SENSOR", 230.0)
    elif kind == "climate":
        things.climate(
            h,
            f"{c.choice(('home', 'rooms', 'zigbee'))}/r{n}",
            c.choice((("temperature", "humidity", "battery"), ("t", "h", "bat"))),
        )
    elif kind == "lithium":
        names = c.choice((("voltage", "current", "soc", "temperature", "cell{}"), ("v", "a", "soc", "t", "c{}")))
        things.lithium(h, f"pack{n}", c.choice((4, 8, 16)), names)
    elif kind == "starter":
        things.starter(
            h, c.choice((f"boat{n}/engine/voltage", f"car{n}/battery/voltage", f"aux{n}/batt_v", f"tractor{n}/volts"))
        )
    elif kind == "solar":
        at = h.around(26.4, 0.05, sigma=0.02)
        things.solar(
            h,
            f"mppt{n}",
            c.choice((("pv_v", "pv_a", "pv_w", "yield", "out_v"), ("Vpv", "Ipv", "Ppv", "Eday", "Vbat"))),
            at,
        )
    elif kind == "mains":
        things.mains(
            h,
            f"meter{n}",
            c.choice((("voltage", "frequency", "power"), ("U", "F", "P"))),
            c.choice((121.0, 231.0)),
            50.0,
        )
    elif kind == "weather":
        things.weather(h, f"weather{n}", ("temperature", "humidity", "pressure", "wind", "rain"))
    elif kind == "lights":
        things.lights(h, f"lights{n}", ("a", "b", "c"))
    elif kind == "router":
        things.router(h, f"router{n}", ("cpu_temp", "load", "uptime", "rx"))
    elif kind == "coin":
        things.coin_cells(h, f"contacts{n}", ("x", "y", "z"))
    elif kind == "thermo":
        things.homie_thermostat(h, f"homie/5/thermo-{n}")
    else:
        things.other_bridge(h, f"homie/5/site{n}", "east")


MIXED_DEVELOPMENT = tuple(mixed(seed) for seed in range(20))
MIXED_HELD = tuple(mixed(seed) for seed in range(100, 120))
