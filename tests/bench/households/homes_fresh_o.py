"""Eight more ordinary households ("set o"), each with one flooded bank at a controlled overcharge.

Two are in English, one each in Danish, Hungarian, Greek, Turkish, Romanian and Catalan; their banks have 6, 12, 24, 36,
48 and 72 volts. One rests between two rounds, the others are in bulk, taper, or are held near 2.67 V a cell. The truth
of a place stands beside its signal, as the owner would tell it. What no name, no kept note and no physics tells has its
Truth as well and stands in `ONLY_THE_OWNER_KNOWS`. What only says a place once more (a panel, another instrument on the
same terminals) has no Truth and stands in `COPIES`. No house has a second bank: the other batteries are strangers.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import NamedTuple

from tests.bench.households.things import (
    climate,
    coin_cells,
    homie,
    homie_thermostat,
    lights,
    lithium,
    mains,
    phone,
    plug,
    router,
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

#: House, topic, and the place in the payload ("" for all of it) that no one can tell from what is on the broker.
ONLY_THE_OWNER_KNOWS: frozenset[tuple[str, str, str]] = frozenset(
    {
        # The second of four relays on a board that nobody labelled; all four are on or off for hours.
        ("smithy", "hjem/tilstand/switch/relaekort_2/state", ""),
        # Four probes on one wire in the order of their numbers.
        ("farmstead", "tanya/szenzor/onewire", "/2"),
        # An output of the small controller.
        ("sweeper garage", "casa/automat/iesiri", "/Q3"),
        # Probes called by their numbers; a third of the same kind hangs at the boiler.
        ("milk float barn", "1w/28-3c01f0961a5e/temp", ""),
        ("milk float barn", "1w/28-3c01f096c207/temp", ""),
    }
)
#: House, topic, place: what is only said once more.
COPIES: frozenset[tuple[str, str, str]] = frozenset(
    {
        ("smithy", "hjem/tilstand/sensor/inverter_batterispaending/state", ""),
        ("farmstead", "tanya/inverter", "/dc/feszultseg"),
        ("farmstead", "tanya/napelem/toltesvezerlo", "/akku_U"),
        ("island house", "spiti/othoni/grammi1", ""),
        ("vineyard cottage", "bagevi/inverter", "/aku_v"),
        ("sweeper garage", "casa/tablou/garaj", "/U"),
        ("sweeper garage", "casa/tablou/garaj", "/I"),
        ("sweeper garage", "casa/tablou/garaj", "/acid"),
        ("clock mill", "moli/pantalla", "/bateria"),
        ("hilltop station", "site/energy/state", "/inv/dc_v"),
        ("hilltop station", "site/energy/state", "/pv/batt_v"),
        ("hilltop station", "display/kitchen", "/batt"),
        ("milk float barn", "float/charger/out_volts", ""),
        ("milk float barn", "float/charger/out_amps", ""),
    }
)

Switch = Callable[[float], bool]


class Flooded(NamedTuple):
    """A bank as its wires tell it: volts, net amperes into it, watts, warmth of the acid, amperes of the charger."""

    volts: Signal
    amps: Signal
    watts: Signal
    acid: Signal
    charger: Signal


class Charge(NamedTuple):
    """How a bank is charged: amperes at most, volts a cell at most, and whether the charger is let on."""

    limit: Signal
    ceiling: float = 3.0
    on: Switch = lambda _t: True


class State(NamedTuple):
    """How a bank is when one begins to listen: how far it gasses (0 to 1), how much further each hour, its warmth."""

    gassing: float
    hourly: float
    acid: float
    air: float


def above_rest(per_hundred: float, gassing: float, warmth: float) -> float:
    """Say how far a cell would settle from its rest [V] at amperes for each 100 Ah."""
    if per_hundred <= 0.0:
        return -0.05 * math.log10(1.0 - per_hundred)
    taking = 0.09 * math.log10(1.0 + per_hundred / 0.3)
    splitting = 0.24 * math.log10(1.0 + per_hundred / 0.025) * (1.0 - 0.006 * (warmth - 25.0))
    return (1.0 - gassing) * taking + gassing * splitting


def flooded(
    h: House, cells: int, amp_hours: float, charge: Charge, state: State, load: Signal = lambda _t: 0.0
) -> Flooded:
    """Step a bank through an hour that nobody heard, and then through what is heard."""
    step, each, silent = 0.2, 5, 3600
    hundreds = amp_hours / 100.0
    lags = ((0.35, 6.0), (0.35, 70.0), (0.30, 1200.0))
    ohms, rest = 0.0013 / hundreds, 2.12
    over = [0.0, 0.0, 0.0]
    warm, given = state.acid, 0.0
    log: list[tuple[float, float, float, float]] = []
    for n in range(-silent * each, (h.seconds + 3) * each):
        t = n * step
        used, inner = load(t), rest + sum(over)
        wanted = min(charge.limit(t), (charge.ceiling - inner) / ohms + used) if charge.on(t) else 0.0
        given += (max(0.0, wanted) - given) * step / 1.5
        amps = given - used
        if n >= 0 and n % each == 0:
            log.append((cells * (inner + ohms * amps), amps, warm, given))
        gassing = min(1.0, max(0.0, state.gassing + state.hourly * t / 3600.0))
        target = above_rest(amps / hundreds, gassing, warm)
        over = [part + (share * target - part) * step / lag for part, (share, lag) in zip(over, lags, strict=True)]
        heat = abs(amps) * abs(sum(over)) + max(0.0, amps) * gassing * 0.6
        warm += step * (heat / (6400.0 * hundreds) - (warm - state.air) / 45000.0)

    def heard(which: int) -> Signal:
        def at(t: float) -> float:
            second = min(max(t, 0.0), h.seconds + 1.0)
            low = int(second)
            return log[low][which] + (second - low) * (log[low + 1][which] - log[low][which])

        return at

    volts, amps_in, first = heard(0), heard(1), log[0][2]
    return Flooded(volts, amps_in, product(volts, amps_in), line(heard(2), 1.0, state.acid - first), heard(3))


def line(signal: Signal, by: float = 1.0, plus: float = 0.0) -> Signal:
    """Tell a signal on another scale."""
    return lambda t: by * signal(t) + plus


def product(one: Signal, other: Signal) -> Signal:
    """Multiply two signals."""
    return lambda t: one(t) * other(t)


def sixteenths(signal: Signal) -> Signal:
    """Read a signal as a probe on one wire does."""
    return lambda t: round(16.0 * signal(t)) / 16.0


def minus(one: Signal, other: Signal) -> Signal:
    """Subtract a signal from another."""
    return lambda t: one(t) - other(t)


def meter(h: House, signal: Signal, sigma: float, by: float = 1.0, plus: float = 0.0) -> Signal:
    """Read a signal by an instrument with a hiss and, if it has one, an error of its own."""
    hiss = h.noise(sigma)
    return lambda t: by * signal(t) + plus + hiss(t)


def pieces(h: House, volts: Signal, number: int, uneven: float, sigma: float) -> list[Signal]:
    """Part a bank into equal pieces of which no two are quite alike; together they are the bank."""
    leans = [h.chance.gauss(0.0, uneven) for _ in range(number)]
    middle = sum(leans) / number
    return [meter(h, volts, sigma, (1.0 + lean - middle) / number) for lean in leans]


def say_it(signal: Signal, digits: int = 1, form: str = "{}") -> Callable[[float], str]:
    """Write a number as text, in a form that may hold its unit."""
    return lambda t: form.format(f"{round(signal(t), digits) + 0.0:.{digits}f}")


def poured(shape: object, t: float) -> object:
    """Pour a second into a shape: a pair is a signal and its digits, a function is asked, the rest stays."""
    if isinstance(shape, dict):
        return {key: poured(part, t) for key, part in shape.items()}
    if isinstance(shape, list):
        return [poured(part, t) for part in shape]
    if isinstance(shape, tuple):
        signal, digits = shape
        return round(signal(t), digits) + 0.0 if digits else round(signal(t))
    return shape(t) if callable(shape) else shape


def shaped(shape: object) -> Callable[[float], object]:
    """Say one object or list."""
    return lambda t: poured(shape, t)


def stamp(t: float) -> int:
    """Tell the epoch second."""
    return int(START + t)


def charger_socket(h: House, topic: str, watts: Signal, wall: float) -> None:
    """Let the measuring socket of the charger say what it takes from the wall."""
    volts, taken = h.around(wall, 1.1, 500, 0.3), meter(h, watts, 0.8, 1.17, 4.0)
    power_factor = 0.68
    energy = h.counter(h.chance.uniform(20, 300), 1.17 * watts(0.0) / 3.6e6)

    def says(t: float) -> object:
        told = {
            "Total": round(energy(t), 3),
            "Power": round(taken(t)),
            "Factor": power_factor,
            "Voltage": round(volts(t)),
            "Current": round(taken(t) / power_factor / volts(t), 3),
        }
        return {"Time": "2026-11-25T10:20:00", "ENERGY": told}

    h.say(topic, 30, says)


def many(h: House, every: float, told: dict[str, tuple[float, float, int]], form: str = "{}") -> None:
    """Let strangers speak, a topic each: the middle, the swing, the digits."""
    for topic, (middle, swing, digits) in told.items():
        value = h.around(middle, swing, h.chance.uniform(400, 2500), 0.08 * swing)
        h.say(topic, every, say_it(value, digits, form))


def fixed(h: House, every: float, told: dict[str, object]) -> None:
    """Let things say the same word again and again."""
    for topic, what in told.items():
        h.say(topic, every, what)


def kept(h: House, told: dict[str, object]) -> None:
    """Leave things on the broker."""
    for topic, what in told.items():
        h.say(topic, h.seconds, what, retain=True)


# ---------------------------------------------------------------------------------------------------------------------


class Entity(NamedTuple):
    """A thing of the hub: its id, what the owner called it, its unit and kind."""

    name: str
    friendly: str
    unit: str = ""
    kind: str = ""


def hub_sensor(h: House, base: str, entity: Entity, every: float, says: object, truth: Truth | None = None) -> None:
    """Tell an entity as a hub's state stream does: its state, and its attributes as kept JSON strings."""
    at = f"{base}/{entity.name}"
    h.say(f"{at}/state", every, says, truth)
    kept(h, {f"{at}/friendly_name": json.dumps(entity.friendly, ensure_ascii=False)})
    if entity.unit:
        kept(h, {f"{at}/unit_of_measurement": json.dumps(entity.unit, ensure_ascii=False)})
    if entity.kind:
        kept(h, {f"{at}/device_class": json.dumps(entity.kind)})


def smithy() -> House:
    """Danish: an old smithy with truck cells, 24 V, held; all that the hub knows is streamed to the broker."""
    h = House("smithy", 7101, "trækbatteri", {"trækbatteri": 12})
    own = "trækbatteri"
    mains_dip = h.around(1.0, 0.004, 300, 0.001)
    b = flooded(h, 12, 620, Charge(line(mains_dip, 60.0), 2.67), State(0.97, 0.02, 33.2, 15.0))
    volts, amps = meter(h, b.volts, 0.006), meter(h, b.amps, 0.06)
    air = h.around(14.8, 0.25, 1500, 0.03)
    hydrogen = h.around(640, 60, 500, 9)
    base = "hjem/tilstand"
    for entity, every, says, truth in (
        (
            Entity("sensor/truckbatteri_spaending", "Truckbatteri spænding", "V"),
            10,
            say_it(volts, 2),
            Truth(own, VOLTS, "V"),
        ),
        (Entity("sensor/truckbatteri_stroem", "Truckbatteri strøm", "A"), 10, say_it(amps, 1), Truth(own, AMPS, "A")),
        (
            Entity("sensor/truckbatteri_effekt", "Truckbatteri effekt", "W"),
            10,
            say_it(product(volts, amps), 0),
            Truth(own, WATTS, "W"),
        ),
        (
            Entity("sensor/truckbatteri_midtpunkt", "Truckbatteri midtpunkt", "V"),
            30,
            say_it(meter(h, b.volts, 0.005, 0.4986), 2),
            Truth(own, MIDDLE, "V"),
        ),
        (
            Entity("sensor/syretemperatur", "Syretemperatur celle 7", "°C"),
            60,
            say_it(meter(h, b.acid, 0.03), 1),
            Truth(own, ACID, "degC"),
        ),
        (Entity("sensor/smedje_temperatur", "Smedje ved batteriet", "°C"), 60, say_it(air, 1), Truth(own, AIR, "degC")),
        (
            Entity("sensor/smedje_brint", "Brint under loftet", "ppm"),
            20,
            say_it(hydrogen, 0),
            Truth(own, HYDROGEN, "ppm"),
        ),
        (Entity("switch/smedje_udsugning", "Udsugning smedje"), 60, "on", Truth(own, FAN)),
        (Entity("binary_sensor/smedje_port", "Smedjeport", kind="door"), 120, "off", Truth(own, DOOR)),
        (Entity("switch/relaekort_1", "Relækort 1"), 60, "off", None),
        (Entity("switch/relaekort_2", "Relækort 2"), 60, "on", Truth(own, RELAY)),
        (Entity("switch/relaekort_3", "Relækort 3"), 60, "on", None),
        (Entity("switch/relaekort_4", "Relækort 4"), 60, "off", None),
        (
            Entity("sensor/inverter_batterispaending", "Inverter batterispænding", "V"),
            30,
            say_it(meter(h, b.volts, 0.03, 0.997), 1),
            None,
        ),
        (Entity("sensor/inverter_ac_effekt", "Inverter AC-effekt", "W"), 30, "0", None),
    ):
        hub_sensor(h, base, entity, every, says, truth)
    crowd = {
        Entity("sensor/elmaaler_effekt", "Elmåler effekt", "W"): (2310, 240, 0),
        Entity("sensor/elmaaler_spaending_l1", "Elmåler L1", "V"): (231.4, 1.2, 1),
        Entity("sensor/varmepumpe_fremloeb", "Varmepumpe fremløb", "°C"): (34.6, 0.8, 1),
        Entity("sensor/varmepumpe_retur", "Varmepumpe retur", "°C"): (29.8, 0.5, 1),
        Entity("sensor/ude_temperatur", "Udetemperatur", "°C"): (4.3, 0.2, 1),
        Entity("sensor/stue_temperatur", "Stue", "°C"): (21.3, 0.2, 1),
        Entity("sensor/stue_luftfugtighed", "Stue fugt", "%"): (46, 1, 0),
        Entity("sensor/elcykel_batteri", "Elcykel batteri", "%"): (83, 0.3, 0),
        Entity("sensor/robotklipper_batterispaending", "Robotklipper batteri", "V"): (19.9, 0.02, 2),
        Entity("sensor/traktor_startbatteri", "Traktor startbatteri", "V"): (12.71, 0.01, 2),
        Entity("sensor/ups_batterispaending", "UPS batteri", "V"): (27.3, 0.03, 1),
        Entity("sensor/fryser_effekt", "Fryser", "W"): (71, 4, 0),
    }
    for entity, (middle, swing, digits) in crowd.items():
        hub_sensor(h, base, entity, 60, say_it(h.around(middle, swing, 1300, 0.05 * swing), digits))
    hub_sensor(h, base, Entity("light/vaerksted", "Værksted lys"), 120, "off")
    hub_sensor(h, base, Entity("sun/sun", "Sol"), 120, "below_horizon")
    hub_sensor(h, base, Entity("person/far", "Far"), 120, "home")
    kept(h, {"hjem/status": "online"})
    return h


# ---------------------------------------------------------------------------------------------------------------------


def farmstead() -> House:
    """Hungarian: a farm off the grid, 48 V of eight six-volt blocks in bulk from the generator; flows that say JSON."""
    h = House("farmstead", 7202, "akkutelep", {"akkutelep": 24})
    own = "akkutelep"
    used = h.steps(4.2, 6.8, 19.5, 11.3, dwell=75, sigma=0.15)
    b = flooded(h, 24, 225, Charge(h.around(41.0, 0.4, 200, 0.15), 2.67), State(0.22, 0.18, 24.4, 12.0), used)
    volts, amps = meter(h, b.volts, 0.012), meter(h, b.amps, 0.05)
    h.say(
        "tanya/akkutelep",
        5,
        shaped({"feszultseg": (volts, 2), "aram": (amps, 2), "teljesitmeny": (product(volts, amps), 0), "ido": stamp}),
        {
            "/feszultseg": Truth(own, VOLTS, "V"),
            "/aram": Truth(own, AMPS, "A"),
            "/teljesitmeny": Truth(own, WATTS, "W"),
        },
    )
    h.say(
        "tanya/akkutelep/blokkok",
        30,
        shaped([(piece, 2) for piece in pieces(h, b.volts, 8, 0.006, 0.006)]),
        {f"/{n}": Truth(own, BLOCK, "V") for n in range(8)},
    )
    h.say(
        "tanya/akkutelep/homerseklet",
        60,
        shaped({"sav": (meter(h, b.acid, 0.03), 1)}),
        {"/sav": Truth(own, ACID, "degC")},
    )
    kept(h, {"tanya/akkutelep/leiras": "8 db 6 V-os savas blokk sorban, 225 Ah, sorrend a plusz felol, csere 2019"})
    h.say("tanya/tolto/rele/parancs", 300, "BE")
    h.say("tanya/tolto/rele/allapot", 30, "BE", Truth(own, RELAY))
    beside = h.around(12.1, 0.2, 1700, 0.03)
    probes = [h.around(41.6, 0.8, 700, 0.05), h.around(3.1, 0.2, 900, 0.03), beside, h.around(8.7, 0.2, 1200, 0.03)]
    h.say("tanya/szenzor/onewire", 30, shaped([(one, 2) for one in probes]), {"/2": Truth(own, AIR, "degC")})
    terminals = meter(h, b.volts, 0.05, 0.996)
    h.say(
        "tanya/inverter",
        5,
        shaped(
            {
                "dc": {"feszultseg": (terminals, 1), "aram": (line(used, 0.98), 1)},
                "ac": {"feszultseg": (h.around(230.2, 0.4, 300, 0.1), 1), "frekvencia": 50.0},
                "teljesitmeny": (product(line(b.volts, 0.92), used), 0),
                "homerseklet": (h.around(38.0, 0.7, 600, 0.1), 0),
                "hiba": 0,
            }
        ),
    )
    sun_v, sun_a = h.around(88.0, 1.5, 500, 0.2), h.around(1.4, 0.3, 350, 0.03)
    h.say(
        "tanya/napelem/toltesvezerlo",
        10,
        shaped(
            {
                "panel_U": (sun_v, 1),
                "panel_I": (sun_a, 2),
                "panel_P": (product(sun_v, sun_a), 0),
                "akku_U": (meter(h, b.volts, 0.04, 1.001), 1),
                "mai_kWh": (h.counter(0.61, 2e-5), 2),
            }
        ),
    )
    h.say(
        "tanya/aggregator",
        10,
        shaped(
            {
                "fut": True,
                "fordulat": (h.around(3010, 12, 90, 4), 0),
                "feszultseg": (h.around(228, 1.5, 70, 0.4), 1),
                "frekvencia": (h.around(50.2, 0.15, 90, 0.03), 2),
                "uzemora": (h.counter(1421.3, 1 / 3600), 2),
                "indito_akku": (h.around(13.9, 0.05, 300, 0.01), 2),
            }
        ),
    )
    h.say("tanya/aggregator/gazolaj", 60, say_it(h.counter(61.0, -0.0008), 1))
    starter(h, "tanya/traktor/akku")
    many(
        h,
        60,
        {
            "tanya/villanypasztor/akku": (12.48, 0.01, 2),
            "tanya/villanypasztor/impulzus_kV": (7.9, 0.3, 1),
            "tanya/riaszto/akku": (13.62, 0.01, 2),
            "tanya/kapu/akku": (26.9, 0.03, 1),
            "tanya/robogo/toltottseg": (64, 0.3, 0),
            "tanya/kut/nyomas": (2.8, 0.3, 1),
            "tanya/kut/vizszint": (11.42, 0.05, 2),
            "tanya/kemence/fustgaz": (183, 14, 0),
            "tanya/puffer/felso": (68.4, 0.4, 1),
            "tanya/puffer/also": (47.1, 0.3, 1),
            "tanya/tyukol/homerseklet": (9.3, 0.2, 1),
            "tanya/tyukol/para": (74, 1.5, 0),
            "tanya/pince/homerseklet": (11.2, 0.05, 1),
            "tanya/foliasator/homerseklet": (10.6, 0.3, 1),
            "tanya/foliasator/talajnedvesseg": (41, 0.5, 0),
        },
    )
    fixed(
        h,
        90,
        {
            "tanya/kut/szivattyu": "KI",
            "tanya/tyukol/ajto": "zarva",
            "tanya/kapu/allapot": "zarva",
            "tanya/foliasator/ontozes": "KI",
            "tanya/riaszto/allapot": "kikapcsolva",
        },
    )
    climate(h, "tanya/haz/nappali", ("homerseklet", "para", "elem"))
    climate(h, "tanya/haz/halo", ("homerseklet", "para", "elem"))
    climate(h, "tanya/haz/konyha", ("homerseklet", "para", "elem"))
    weather(h, "tanya/idojaras", ("homerseklet", "para", "legnyomas", "szel", "uv", "eso"))
    plug(h, "tele/mosogep/SENSOR", 230.2)
    plug(h, "tele/huto/SENSOR", 230.2)
    router(h, "tanya/router", ("cpu_fok", "terheles", "uptime", "forgalom"))
    coin_cells(h, "zb", ("bejarati_ajto", "pince_ablak", "postalada"))
    lights(h, "zb", ("udvar_lampa", "konyha_lampa"))
    phone(h, "gps/gazda/mobil")
    kept(h, {"tele/mosogep/LWT": "Online", "tele/huto/LWT": "Online", "tanya/flow/verzio": "14"})
    return h


# ---------------------------------------------------------------------------------------------------------------------


def island_house() -> House:
    """Greek, in Latin letters: 12 V of two six-volt blocks in the store room, held; units stand in the text."""
    h = House("island house", 7303, "mpataria", {"mpataria": 6})
    own = "mpataria"
    b = flooded(h, 6, 240, Charge(h.around(20.0, 0.1, 400, 0.02), 2.665), State(0.94, 0.03, 29.6, 18.0))
    volts, amps = meter(h, b.volts, 0.008), meter(h, b.amps, 0.04)
    base = "spiti/apothiki/mpataria"
    h.say(f"{base}/tasi", 15, say_it(volts, 2, "{} V"), Truth(own, VOLTS, "V"))
    h.say(f"{base}/revma", 15, say_it(amps, 2, "{} A"), Truth(own, AMPS, "A"))
    h.say(f"{base}/isxys", 15, say_it(product(volts, amps), 0, "{} W"), Truth(own, WATTS, "W"))
    h.say(f"{base}/tasi_mesi", 15, say_it(meter(h, b.volts, 0.006, 0.5021), 2, "{} V"), Truth(own, MIDDLE, "V"))
    h.say(f"{base}/thermokrasia_ygron", 60, say_it(meter(h, b.acid, 0.04), 1, "{} °C"), Truth(own, ACID, "degC"))
    air = h.around(18.2, 0.15, 1600, 0.03)
    h.say("spiti/apothiki/thermokrasia", 60, say_it(air, 1, "{} °C"), Truth(own, AIR, "degC"))
    h.say("spiti/apothiki/ygrasia", 60, say_it(h.around(61, 1, 1100, 0.2), 0, "{} %"))
    kept(h, {f"{base}/perigrafi": "Δύο μπαταρίες 6V υγρού τύπου σε σειρά, 240Ah. Εξίσωση κάθε μήνα."})
    h.say("prizes/fortistis/cmnd/POWER", 300, "ON")
    h.say("prizes/fortistis/stat/POWER", 60, "ON", Truth(own, RELAY))
    charger_socket(h, "prizes/fortistis/tele/SENSOR", b.watts, 233.0)
    shown = meter(h, b.volts, 0.008)
    h.say("spiti/othoni/grammi1", 30, say_it(shown, 1, "Mpat. {}V"))
    h.say("spiti/othoni/grammi2", 30, say_it(h.around(16.9, 0.3, 900, 0.05), 1, "Exo {}C"))
    many(
        h,
        30,
        {
            "spiti/iliakos/thermokrasia_panel": (31.4, 1.5, 1),
            "spiti/iliakos/thermokrasia_neroy": (48.2, 0.4, 1),
            "spiti/saloni/thermokrasia": (20.6, 0.2, 1),
            "spiti/ypnodomatio/thermokrasia": (19.4, 0.2, 1),
            "spiti/kouzina/thermokrasia": (21.8, 0.4, 1),
            "spiti/kouzina/psygeio": (4.4, 0.5, 1),
        },
        "{} °C",
    )
    many(
        h,
        60,
        {
            "varka/mpataria_ekkinisis/tasi": (12.74, 0.01, 2),
            "varka/mpataria_ypiresias/tasi": (13.21, 0.02, 2),
            "spiti/synagermos/mpataria": (13.58, 0.01, 2),
            "spiti/exo/iliako_fotistiko/mpataria": (3.87, 0.01, 2),
            "spiti/fotovoltaiko/tasi": (21.3, 0.6, 1),
            "spiti/porta_garaz/mpataria": (26.8, 0.03, 1),
        },
        "{} V",
    )
    many(h, 60, {"spiti/sterna/stathmi": (62, 0.3, 0), "spiti/patini/fortisi": (71, 0.4, 0)}, "{} %")
    many(h, 60, {"spiti/sterna/piesi": (2.6, 0.2, 1), "spiti/nero/piesi_diktyou": (3.1, 0.1, 1)}, "{} bar")
    many(h, 20, {"spiti/fotovoltaiko/revma": (2.1, 0.5, 1)}, "{} A")
    fixed(
        h,
        120,
        {
            "varka/antlia_sentinas": "OFF",
            "varka/kleidoma": "kleisto",
            "spiti/porta_garaz/katastasi": "kleisti",
            "spiti/sterna/antlia": "OFF",
            "spiti/potisma/zoni1": "OFF",
            "spiti/potisma/zoni2": "OFF",
            "spiti/thermosifonas": "OFF",
            "spiti/synagermos/katastasi": "afoplismenos",
        },
    )
    mains(h, "spiti/dei", ("tasi", "syxnotita", "isxys"), 233.0, 50.0)
    weather(h, "spiti/kairos", ("thermokrasia", "ygrasia", "piesi", "anemos", "uv", "vroxi"))
    plug(h, "prizes/plyntirio/tele/SENSOR", 233.0)
    coin_cells(h, "zigbee", ("porta_eisodou", "parathyro_kouzinas"))
    lights(h, "zigbee", ("fos_avlis", "fos_saloniou", "fos_veranta"))
    router(h, "spiti/diktyo", ("thermokrasia_cpu", "fortos", "uptime", "taxytita"))
    phone(h, "gps/nisi/kinito")
    kept(
        h,
        {
            "prizes/fortistis/tele/LWT": "Online",
            "prizes/plyntirio/tele/LWT": "Online",
            "spiti/dokimi": "test 123",
            "spiti/apothiki/palio/tasi": "12.41 V",
        },
    )
    return h


# ---------------------------------------------------------------------------------------------------------------------


class Card(NamedTuple):
    """A discovery card: the kind of thing, its id, its name, its unit and class, and where its value stands."""

    kind: str
    object_id: str
    name: str
    unit: str
    device_class: str
    topic: str
    template: str = ""


def announce(h: House, node: str, device: str, card: Card) -> None:
    """Leave the discovery card of one thing."""
    told: dict[str, object] = {
        "name": card.name,
        "unique_id": f"{node}_{card.object_id}",
        "state_topic": card.topic,
        "device": {"identifiers": [node], "name": device},
    }
    if card.unit:
        told |= {"unit_of_measurement": card.unit, "state_class": "measurement"}
    if card.device_class:
        told["device_class"] = card.device_class
    if card.template:
        told["value_template"] = card.template
    if card.kind == "switch":
        told["command_topic"] = card.topic.removesuffix("state") + "command"
    kept(h, {f"homeassistant/{card.kind}/{node}/{card.object_id}/config": json.dumps(told, ensure_ascii=False)})


def vineyard_cottage() -> House:
    """Turkish: 24 V in two strings that taper; small radio boards that announce themselves to the hub."""
    h = House("vineyard cottage", 7404, "akü", {"akü": 12})
    own = "akü"
    used = h.steps(0.9, 1.3, 3.6, dwell=110, sigma=0.03)
    b = flooded(h, 12, 400, Charge(h.around(48.0, 0.5, 260, 0.1), 2.6), State(0.84, 0.24, 27.8, 13.0), used)
    volts = meter(h, b.volts, 0.007)
    left, right = meter(h, b.amps, 0.03, 0.536), meter(h, b.amps, 0.03, 0.464)
    both = minus(left, line(right, -1.0))
    air = h.around(13.6, 0.2, 1800, 0.03)
    node, device = "aku-dolabi", "Akü dolabı"
    board = (
        ("aku_voltaji", "Akü voltajı", "V", "voltage", 10, say_it(volts, 2), Truth(own, VOLTS, "V")),
        ("aku_akimi", "Akü akımı", "A", "current", 10, say_it(both, 2), Truth(own, AMPS, "A")),
        ("aku_gucu", "Akü gücü", "W", "power", 10, say_it(product(volts, both), 1), Truth(own, WATTS, "W")),
        ("kol_1_akimi", "Kol 1 akımı", "A", "current", 10, say_it(left, 2), Truth(own, STRING, "A")),
        ("kol_2_akimi", "Kol 2 akımı", "A", "current", 10, say_it(right, 2), Truth(own, STRING, "A")),
        (
            "asit_sicakligi",
            "Asit sıcaklığı",
            "°C",
            "temperature",
            60,
            say_it(meter(h, b.acid, 0.03), 1),
            Truth(own, ACID, "degC"),
        ),
        ("dolap_sicakligi", "Dolap sıcaklığı", "°C", "temperature", 60, say_it(air, 1), Truth(own, AIR, "degC")),
        ("hidrojen", "Hidrojen", "ppm", "", 15, say_it(h.around(410, 45, 420, 8), 0), Truth(own, HYDROGEN, "ppm")),
        ("wifi_sinyali", "WiFi sinyali", "dBm", "signal_strength", 60, say_it(h.around(-67, 2, 400, 0.8), 0), None),
        ("calisma_suresi", "Çalışma süresi", "s", "duration", 60, say_it(h.counter(803112, 1.0), 0), None),
    )
    for object_id, name, unit, kind, every, says, truth in board:
        topic = f"{node}/sensor/{object_id}/state"
        announce(h, node, device, Card("sensor", object_id, name, unit, kind, topic))
        h.say(topic, every, says, truth)
    for object_id, name, truth in (
        ("sarj_rolesi", "Şarj rölesi", Truth(own, RELAY)),
        ("havalandirma_fani", "Havalandırma fanı", Truth(own, FAN)),
    ):
        topic = f"{node}/switch/{object_id}/state"
        announce(h, node, device, Card("switch", object_id, name, "", "", topic))
        h.say(topic, 60, "ON", truth)
    door = f"{node}/binary_sensor/dolap_kapagi/state"
    announce(h, node, device, Card("binary_sensor", "dolap_kapagi", "Dolap kapağı", "", "door", door))
    h.say(door, 60, "OFF", Truth(own, DOOR))
    kept(h, {f"{node}/status": "online"})

    terminals = meter(h, b.volts, 0.04, 0.998)
    sun_v, sun_w = h.around(71.5, 1.6, 420, 0.2), meter(h, product(b.volts, b.charger), 3.0, 1.05)
    h.say(
        "bagevi/inverter",
        10,
        shaped(
            {
                "aku_v": (terminals, 1),
                "cikis_v": (h.around(229.8, 0.4, 300, 0.1), 1),
                "cikis_w": (product(line(b.volts, 0.9), used), 0),
                "pv_v": (sun_v, 1),
                "pv_w": (sun_w, 0),
                "sicaklik": (h.around(36, 0.5, 700, 0.1), 0),
            }
        ),
    )
    for key, name, unit, kind in (
        ("aku_v", "İnverter akü", "V", "voltage"),
        ("cikis_v", "İnverter çıkış", "V", "voltage"),
        ("cikis_w", "İnverter yük", "W", "power"),
        ("pv_v", "Panel voltajı", "V", "voltage"),
        ("pv_w", "Panel gücü", "W", "power"),
        ("sicaklik", "İnverter sıcaklığı", "°C", "temperature"),
    ):
        card = Card("sensor", key, name, unit, kind, "bagevi/inverter", f"{{{{ value_json.{key} }}}}")
        announce(h, "inverter", "İnverter", card)
    for object_id, name, unit, kind, (middle, swing, digits) in (
        ("su_deposu", "Su deposu", "%", "", (58, 0.4, 0)),
        ("kuyu_basinci", "Kuyu basıncı", "bar", "pressure", (2.4, 0.2, 1)),
        ("dis_sicaklik", "Dış sıcaklık", "°C", "temperature", (7.2, 0.2, 1)),
        ("sera_sicakligi", "Sera sıcaklığı", "°C", "temperature", (16.3, 0.4, 1)),
        ("sera_nemi", "Sera nemi", "%", "humidity", (77, 1, 0)),
        ("pompa_akusu", "Pompa aküsü", "V", "voltage", (12.66, 0.02, 2)),
    ):
        topic = f"bahce/sensor/{object_id}/state"
        announce(h, "bahce", "Bahçe kartı", Card("sensor", object_id, name, unit, kind, topic))
        h.say(topic, 60, say_it(h.around(middle, swing, 900, 0.06 * swing), digits))
    announce(h, "bahce", "Bahçe kartı", Card("switch", "sulama", "Sulama", "", "", "bahce/switch/sulama/state"))
    h.say("bahce/switch/sulama/state", 60, "OFF")
    kept(h, {"bahce/status": "online"})
    starter(h, "traktor/aku")
    many(h, 60, {"alarm/aku": (13.61, 0.01, 2), "scooter/sarj": (92, 0.2, 0), "scooter/pil_v": (41.2, 0.02, 1)})
    climate(h, "ev/salon", ("sicaklik", "nem", "pil"))
    climate(h, "ev/yatak_odasi", ("sicaklik", "nem", "pil"))
    coin_cells(h, "zigbee", ("giris_kapisi", "mutfak_penceresi"))
    lights(h, "zigbee", ("veranda", "salon_lambasi"))
    plug(h, "tele/buzdolabi/SENSOR", 229.8)
    phone(h, "gps/ev/telefon")
    return h


# ---------------------------------------------------------------------------------------------------------------------


def sweeper_garage() -> House:
    """Romanian: a yard sweeper of 36 V, held; the charger is a row of registers with a legend that is kept."""
    h = House("sweeper garage", 7505, "matura", {"matura": 18})
    own = "matura"
    b = flooded(h, 18, 210, Charge(h.around(12.6, 0.07, 350, 0.03), 2.68), State(0.985, 0.02, 35.1, 11.0))
    volts, amps = meter(h, b.volts, 0.015), meter(h, b.amps, 0.02)
    h.say(
        "garaj/incarcator/registre",
        2,
        shaped(
            [
                (line(volts, 10.0), 0),
                (line(amps, 1000.0), 0),
                (meter(h, b.acid, 0.1), 0),
                (h.around(44.0, 0.8, 700, 0.2), 0),
                (h.counter(318.0, 0.035), 0),
                (h.counter(212.0, 1 / 60), 0),
                4,
                0,
            ]
        ),
        {"/0": Truth(own, VOLTS, "dV"), "/1": Truth(own, AMPS, "mA"), "/2": Truth(own, ACID, "degC")},
    )
    kept(
        h,
        {
            "garaj/incarcator/registre/legenda": json.dumps(
                [
                    "tensiune baterie x0.1 V",
                    "curent incarcare mA",
                    "temperatura electrolit C",
                    "temperatura radiator C",
                    "Ah x0.1",
                    "minute",
                    "faza",
                    "eroare",
                ]
            ),
            "garaj/incarcator/versiune": "2.11",
            "garaj/matura/nota": "6 x 6V 210Ah, apa distilata completata 02.11",
        },
    )
    h.say(
        "garaj/matura/blocuri",
        20,
        shaped({f"b{n + 1}": (piece, 3) for n, piece in enumerate(pieces(h, b.volts, 6, 0.005, 0.004))}),
        {f"/b{n + 1}": Truth(own, BLOCK, "V") for n in range(6)},
    )
    air = h.around(11.3, 0.2, 1500, 0.03)
    h.say(
        "garaj/mediu",
        60,
        shaped({"temperatura": (air, 1), "umiditate": (h.around(68, 1, 900, 0.2), 0), "baterie": 91}),
        {"/temperatura": Truth(own, AIR, "degC")},
    )
    h.say("garaj/ventilator/stare", 60, "pornit", Truth(own, FAN))
    h.say("garaj/usa", 60, "inchisa", Truth(own, DOOR))
    h.say(
        "casa/automat/iesiri",
        10,
        {"Q1": False, "Q2": True, "Q3": True, "Q4": False, "Q5": True, "Q6": False},
        {"/Q3": Truth(own, RELAY)},
    )
    h.say("casa/automat/intrari", 10, {"I1": True, "I2": False, "I3": False, "I4": True})
    h.say("casa/automat/analog", 10, shaped([(h.around(512, 6, 300, 2), 0), (h.around(207, 3, 500, 1), 0), 0, 0]))
    shown_v, shown_a, shown_t = meter(h, b.volts, 0.015), meter(h, b.amps, 0.02), meter(h, b.acid, 0.1)
    h.say(
        "casa/tablou/garaj",
        30,
        shaped(
            {
                "U": say_it(shown_v, 1, "{} V"),
                "I": say_it(shown_a, 1, "{} A"),
                "acid": say_it(shown_t, 0, "{} °C"),
                "mesaj": "egalizare",
            }
        ),
    )
    sun_v, sun_a = h.around(412.0, 6.0, 500, 0.8), h.around(2.3, 0.3, 300, 0.03)
    h.say(
        "casa/fotovoltaic",
        10,
        shaped(
            {
                "dc": {"tensiune": (sun_v, 1), "curent": (sun_a, 2)},
                "ac": {"putere": (product(line(sun_v, 0.96), sun_a), 0), "tensiune": (h.around(236, 1, 400, 0.2), 1)},
                "azi_kWh": (h.counter(2.1, 2.5e-4), 2),
            }
        ),
    )
    lithium(h, "casa/stocare", 15, ("tensiune", "curent", "soc", "temperatura", "celula_{:02d}"))
    many(
        h,
        60,
        {
            "casa/centrala/tur": (52.3, 1.2, 1),
            "casa/centrala/retur": (41.0, 0.8, 1),
            "casa/centrala/presiune": (1.6, 0.02, 2),
            "casa/boiler/temperatura": (55.4, 0.5, 1),
            "casa/pivnita/temperatura": (10.1, 0.1, 1),
            "casa/alarma/acumulator": (13.65, 0.01, 2),
            "casa/poarta/acumulator": (27.2, 0.03, 1),
            "casa/trotineta/baterie": (78, 0.3, 0),
            "casa/ups/baterie_v": (13.5, 0.01, 1),
            "casa/ups/sarcina": (17, 1.5, 0),
            "masina/baterie": (12.58, 0.01, 2),
        },
    )
    fixed(h, 120, {"casa/alarma/stare": "dezarmat", "casa/poarta/stare": "inchisa", "casa/centrala/flacara": "ON"})
    climate(h, "casa/sufragerie", ("temperatura", "umiditate", "baterie"))
    climate(h, "casa/dormitor", ("temperatura", "umiditate", "baterie"))
    mains(h, "casa/contor", ("tensiune", "frecventa", "putere"), 236.0, 50.0)
    weather(h, "casa/meteo", ("temperatura", "umiditate", "presiune", "vant"))
    plug(h, "prize/masina_spalat/SENSOR", 236.0)
    charger_socket(h, "prize/incarcator_matura/SENSOR", b.watts, 236.0)
    coin_cells(h, "zb", ("usa_intrare", "geam_baie"))
    lights(h, "zb", ("lampa_curte",))
    router(h, "casa/router", ("temp", "load", "uptime", "trafic"))
    phone(h, "gps/familie/telefon1")
    return h


# ---------------------------------------------------------------------------------------------------------------------


def clock_mill() -> House:
    """Catalan: 6 V of three big cells for the clocks of a mill, at rest; the device describes itself."""
    h = House("clock mill", 7606, "bateria", {"bateria": 3})
    own = "bateria"
    ticks = h.steps(0.18, 0.18, 0.42, dwell=30, sigma=0.004)
    b = flooded(h, 3, 300, Charge(h.around(15.0, 0.1), 2.67, lambda t: t < -260.0), State(0.95, 0.0, 30.9, 16.0), ticks)
    volts, amps = meter(h, b.volts, 0.002), meter(h, b.amps, 0.006)
    cells = pieces(h, b.volts, 3, 0.003, 0.001)
    air = h.around(16.3, 0.15, 1700, 0.03)
    homie(
        h,
        "homie/5/rellotges",
        {
            "bateria": {
                "tensio": ("V", say_it(volts, 3), Truth(own, VOLTS, "V")),
                "corrent": ("A", say_it(amps, 2), Truth(own, AMPS, "A")),
                "potencia": ("W", say_it(product(volts, amps), 2), Truth(own, WATTS, "W")),
            },
            "vasos": {
                f"vas-{n + 1}": ("mV", say_it(line(cell, 1000.0), 0), Truth(own, CELL, "mV"))
                for n, cell in enumerate(cells)
            },
            "temperatura": {
                "electrolit": ("°C", say_it(meter(h, b.acid, 0.03), 2), Truth(own, ACID, "degC")),
                "sala": ("°C", say_it(air, 2), Truth(own, AIR, "degC")),
            },
            "rellotge-mestre": {
                "desviacio": ("s", say_it(h.around(0.31, 0.02, 800, 0.003), 2), None),
                "amplitud": ("°", say_it(h.around(1.8, 0.02, 500, 0.005), 2), None),
            },
        },
        every=20,
    )
    h.say("moli/carregador/ordre", 300, "OFF")
    h.say("moli/carregador/rele", 30, "OFF", Truth(own, RELAY))
    kept(h, {"moli/carregador/motiu": "descans fins les 13:00"})
    h.say("moli/sala/extractor", 60, "ON", Truth(own, FAN))
    h.say("moli/pantalla", 30, shaped({"bateria": say_it(meter(h, b.volts, 0.002), 2), "hora": "11:40", "pag": 1}))
    sun_v, sun_a = h.around(34.2, 0.5, 400, 0.08), h.around(3.9, 0.6, 300, 0.05)
    h.say("moli/solar/tensio", 10, say_it(sun_v, 1))
    h.say("moli/solar/corrent", 10, say_it(sun_a, 2))
    h.say("moli/solar/potencia", 10, say_it(product(sun_v, sun_a), 0))
    lithium(h, "moli/liti", 8, ("tensio", "corrent", "carrega", "temperatura", "cel_la_{}"))
    many(
        h,
        45,
        {
            "moli/resclosa/nivell": (1.42, 0.01, 2),
            "moli/resclosa/cabal": (310, 12, 0),
            "moli/turbina/rpm": (412, 6, 0),
            "moli/turbina/tensio": (57.3, 0.8, 1),
            "moli/turbina/coixinet": (39.2, 0.4, 1),
            "moli/estufa/fum": (164, 12, 0),
            "moli/aigua_calenta": (51.7, 0.4, 1),
            "moli/soterrani/temperatura": (12.4, 0.1, 1),
            "moli/alarma/bateria": (13.57, 0.01, 2),
            "moli/moto/bateria": (6.31, 0.004, 2),
            "moli/cotxe/bateria": (12.63, 0.01, 2),
            "moli/patinet/carrega": (55, 0.3, 0),
            "moli/tallagespa/bateria": (25.2, 0.02, 1),
        },
    )
    fixed(
        h,
        120,
        {
            "moli/resclosa/comporta": "oberta",
            "moli/alarma/estat": "desarmada",
            "moli/reg/vàlvula_1": "OFF",
            "moli/reg/vàlvula_2": "OFF",
        },
    )
    climate(h, "moli/menjador", ("temperatura", "humitat", "pila"))
    climate(h, "moli/habitacio", ("temperatura", "humitat", "pila"))
    homie_thermostat(h, "homie/5/termostat")
    mains(h, "moli/xarxa", ("tensio", "frequencia", "potencia"), 228.0, 50.0)
    weather(h, "moli/meteo", ("temperatura", "humitat", "pressio", "vent", "uv", "pluja"))
    coin_cells(h, "zigbee", ("porta_principal", "finestra_cuina"))
    lights(h, "zigbee", ("llum_pati",))
    phone(h, "gps/moli/mobil")
    return h


# ---------------------------------------------------------------------------------------------------------------------


def hilltop_station() -> House:
    """English, American: radio off the grid, 48 V in two strings, held under loads; drawn amperes are positive."""
    h = House("hilltop station", 7707, "main", {"main": 24})
    own = "main"
    used = h.steps(6.1, 8.4, 22.5, 13.0, dwell=48, sigma=0.2)
    b = flooded(h, 24, 740, Charge(h.around(55.0, 0.5, 180, 0.15), 2.67), State(0.95, 0.05, 30.8, 17.5), used)
    volts, drawn = meter(h, b.volts, 0.02), meter(h, b.amps, 0.08, -1.0)
    east = meter(h, b.amps, 0.05, -0.512)
    west = minus(drawn, east)
    sun_v, sun_a = h.around(128.0, 2.4, 420, 0.4), h.around(11.6, 1.4, 300, 0.1)
    h.say(
        "site/energy/state",
        1,
        shaped(
            {
                "ts": stamp,
                "batt": {
                    "v": (volts, 2),
                    "a": (drawn, 1),
                    "kw": (line(product(volts, drawn), 0.001), 3),
                    "strings": {"east_a": (east, 1), "west_a": (west, 1)},
                },
                "pv": {
                    "v": (sun_v, 1),
                    "a": (sun_a, 1),
                    "w": (product(sun_v, sun_a), 0),
                    "batt_v": (meter(h, b.volts, 0.05), 1),
                },
                "inv": {
                    "dc_v": (meter(h, b.volts, 0.06, 0.998), 1),
                    "dc_a": (used, 1),
                    "ac_v": (h.around(120.3, 0.3, 300, 0.1), 1),
                    "hz": 60.0,
                },
                "chg": {"mode": "EQ", "setpoint_v": 64.1, "left_min": lambda t: 94 - int(t / 60)},
            }
        ),
        {
            "/batt/v": Truth(own, VOLTS, "V"),
            "/batt/a": Truth(own, AMPS, "A", DRAWN),
            "/batt/kw": Truth(own, WATTS, "kW", DRAWN),
            "/batt/strings/east_a": Truth(own, STRING, "A", DRAWN),
            "/batt/strings/west_a": Truth(own, STRING, "A", DRAWN),
        },
    )
    h.say(
        "site/battroom",
        30,
        shaped(
            {
                "acid_F": (meter(h, line(b.acid, 1.8, 32.0), 0.06), 1),
                "room_F": (line(h.around(17.4, 0.2, 1500, 0.03), 1.8, 32.0), 1),
                "h2_ppm": (h.around(1180, 110, 380, 15), 0),
                "exhaust_fan": "on",
                "door": "closed",
            }
        ),
        {
            "/acid_F": Truth(own, ACID, "degF"),
            "/room_F": Truth(own, AIR, "degF"),
            "/h2_ppm": Truth(own, HYDROGEN, "ppm"),
            "/exhaust_fan": Truth(own, FAN),
            "/door": Truth(own, DOOR),
        },
    )
    h.say(
        "site/relays",
        20,
        {"generator": "on", "charger": "on", "dump_load": "off", "tower_light": "off"},
        {"/charger": Truth(own, RELAY)},
    )
    h.say("site/relays/set", 300, {"charger": "on"})
    kept(h, {"site/notes": "bank: 24 x 2V flooded, two strings 370Ah, shunt reads + on discharge"})
    h.say("display/kitchen", 15, shaped({"batt": say_it(meter(h, b.volts, 0.02), 1, "{}V"), "msg": "EQ running"}))
    many(
        h,
        20,
        {
            "radio/repeater/supply_v": (13.78, 0.02, 2),
            "radio/repeater/supply_a": (1.4, 0.3, 2),
            "radio/repeater/pa_temp_F": (96.4, 1.5, 1),
            "radio/repeater/fwd_w": (38.0, 1.0, 1),
            "radio/repeater/swr": (1.2, 0.03, 2),
            "radio/link/rssi": (-71, 1.5, 0),
            "radio/backup_agm/volts": (13.52, 0.01, 2),
        },
    )
    many(
        h,
        60,
        {
            "generator/starter_v": (14.1, 0.02, 2),
            "generator/rpm": (1804, 6, 0),
            "generator/block_temp_F": (178.5, 1.2, 1),
            "propane/main_pct": (63, 0.1, 0),
            "water/tank_pct": (81, 0.4, 0),
            "water/pump_psi": (47, 4, 0),
            "house/woodstove_F": (412, 18, 0),
            "house/fridge_F": (37.5, 0.6, 1),
            "house/freezer_F": (-1.2, 0.8, 1),
            "house/living_F": (68.4, 0.4, 1),
            "house/bedroom_F": (63.9, 0.4, 1),
            "truck/batt_v": (12.69, 0.01, 2),
            "atv/tender_v": (13.4, 0.02, 2),
            "ebike/soc": (88, 0.2, 0),
        },
    )
    fixed(
        h,
        120,
        {
            "generator/status": "running",
            "gate/status": "closed",
            "gate/batt": "ok",
            "house/alarm": "disarmed",
            "house/smoke/kitchen": "clear",
            "house/co/bedroom": "clear",
        },
    )
    weather(h, "wx", ("temp_c", "humidity", "baro_mb", "wind_mph", "uv", "rain_in"))
    plug(h, "tele/washer/SENSOR", 120.3)
    plug(h, "tele/freezer/SENSOR", 120.3)
    coin_cells(h, "zb", ("front_door", "shed_door", "mailbox"))
    lights(h, "zb", ("porch", "shop", "den"))
    router(h, "net/gateway", ("temp", "load", "uptime", "kbps"))
    router(h, "net/nas", ("temp", "load", "uptime", "kbps"))
    phone(h, "gps/hill/phone")
    kept(
        h, {"tele/washer/LWT": "Online", "tele/freezer/LWT": "Online", "site/energy/status": "online", "test": "hello"}
    )
    return h


# ---------------------------------------------------------------------------------------------------------------------


def milk_float_barn() -> House:
    """English, British: an old milk float of 72 V in bulk, twelve blocks; a topic for each number."""
    h = House("milk float barn", 7808, "float", {"float": 36})
    own = "float"
    b = flooded(h, 36, 258, Charge(h.around(24.5, 0.3, 240, 0.08), 2.67), State(0.34, 0.25, 21.6, 9.0))
    volts, amps = meter(h, b.volts, 0.03), meter(h, b.amps, 0.05)
    h.say("float/pack/volts", 5, say_it(volts, 1), Truth(own, VOLTS, "V"))
    h.say("float/pack/amps", 5, say_it(amps, 1), Truth(own, AMPS, "A"))
    h.say("float/pack/kw", 5, say_it(line(product(volts, amps), 0.001), 2), Truth(own, WATTS, "kW"))
    for n, piece in enumerate(pieces(h, b.volts, 12, 0.006, 0.005)):
        h.say(f"float/pack/block/{n + 1:02d}", 30, say_it(piece, 2), Truth(own, BLOCK, "V"))
    h.say("float/charger/contactor", 20, "closed", Truth(own, RELAY))
    h.say("float/charger/out_volts", 10, say_it(meter(h, b.volts, 0.05, 1.003), 1))
    h.say("float/charger/out_amps", 10, say_it(meter(h, b.charger, 0.1), 1))
    h.say("float/charger/heatsink", 30, say_it(h.around(51.0, 1.0, 600, 0.2), 0))
    h.say("float/charger/ah_in", 30, say_it(h.counter(96.2, 24.5 / 3600), 1))
    h.say("float/charger/stage", 30, "bulk")
    h.say("float/aux/volts", 20, say_it(h.around(12.84, 0.01, 800, 0.004), 2))
    kept(h, {"float/odometer": "41873", "float/mot_due": "exempt", "float/last_watered": "2 Nov"})
    for serial, reads, truth in (
        ("28-3c01f0961a5e", meter(h, b.acid, 0.03), Truth(own, ACID, "degC")),
        ("28-3c01f096c207", h.around(9.2, 0.15, 1600, 0.03), Truth(own, AIR, "degC")),
        ("28-3c01f096e4b8", h.around(43.8, 0.9, 800, 0.05), None),
        ("28-3c01f0967d31", h.around(4.9, 0.15, 1300, 0.03), None),
        ("28-3c01f096083c", h.around(18.9, 0.3, 1100, 0.04), None),
    ):
        h.say(f"1w/{serial}/temp", 45, say_it(sixteenths(reads), 4), truth)
    h.say("barn/door/main", 90, "shut", Truth(own, DOOR))
    h.say("barn/extractor", 90, "on", Truth(own, FAN))
    sun_v, sun_a = h.around(342.0, 5.0, 400, 0.6), h.around(1.9, 0.4, 300, 0.03)
    h.say("solar/string/volts", 10, say_it(sun_v, 0))
    h.say("solar/string/amps", 10, say_it(sun_a, 2))
    sun_w, house_w = product(line(sun_v, 0.96), sun_a), h.steps(310, 480, 2350, dwell=100, sigma=9)
    h.say("solar/watts", 10, say_it(sun_w, 0))
    h.say("meter/volts", 10, say_it(h.around(242.0, 0.9, 500, 0.2), 1))
    h.say("meter/hz", 10, say_it(h.around(50.0, 0.02, 300, 0.01), 2))
    h.say("meter/watts", 10, say_it(lambda t: 1.14 * b.watts(t) + house_w(t) - sun_w(t), 0))
    h.say("solar/today", 60, say_it(h.counter(1.32, 1.8e-4), 2))
    many(
        h,
        60,
        {
            "house/boiler/flow": (56.1, 1.4, 1),
            "house/boiler/return": (44.3, 0.9, 1),
            "house/oil_tank": (612, 0.5, 0),
            "house/ups/battery_volts": (27.3, 0.03, 1),
            "house/ups/load": (22, 2, 0),
            "house/alarm/aux_battery": (13.7, 0.01, 1),
            "pickup/battery": (12.44, 0.01, 2),
            "tractor/battery": (12.71, 0.01, 2),
            "mower/battery_pct": (97, 0.2, 0),
            "scooter/battery_volts": (25.9, 0.01, 1),
            "sheep/fencer/battery": (12.31, 0.01, 2),
            "sheep/fencer/kv": (6.4, 0.3, 1),
            "greenhouse/temp": (11.7, 0.4, 1),
            "greenhouse/soil": (38, 0.4, 0),
        },
    )
    fixed(h, 120, {"house/alarm/state": "unset", "sheep/gate": "shut", "mower/state": "docked", "barn/lights": "on"})
    climate(h, "house/lounge", ("temp", "rh", "batt"))
    climate(h, "house/landing", ("temp", "rh", "batt"))
    weather(h, "wx", ("temp", "rh", "mb", "mph", "uv", "rain"))
    plug(h, "tele/kettle/SENSOR", 242.0)
    coin_cells(h, "zb", ("back_door", "larder"))
    lights(h, "zb", ("kitchen", "yard"))
    router(h, "server", ("temp", "load", "uptime", "kbit"))
    phone(h, "gps/farm/phone")
    return h


FRESH_O = (
    smithy,
    farmstead,
    island_house,
    vineyard_cottage,
    sweeper_garage,
    clock_mill,
    hilltop_station,
    milk_float_barn,
)
