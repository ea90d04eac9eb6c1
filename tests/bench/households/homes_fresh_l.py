"""Eight ordinary households with one flooded bank on its equalising round, written by a hand that saw no rule.

Four are in English, one each in Dutch, Italian, Swedish and Portuguese. What a place is was told beside its signal, as
the owner would tell it. What nothing in the traffic tells (no name, no kept list, no physics) has its Truth too, and
stands in `ONLY_THE_OWNER_KNOWS`. A repeat of a place (a wall display, a hub's echo, a second instrument's look at the
same terminals) has no Truth and stands in `COPIES`. Two houses have a second lead-acid bank, which only floats.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import NamedTuple

from tests.bench.households.things import coin_cells, homie, homie_thermostat, phone, plug, router, starter
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
        # Chips on one wire by their serial numbers; what hangs where was never written on the broker.
        ("mill house", "molenhuis/onewire", "/28_a1f0"),
        ("mill house", "molenhuis/onewire", "/28_b77c"),
        # A board of four relays, all of them quiet all the while.
        ("hen farm", "node-barn/rly3", ""),
        # A radio thermometer that was never given a name.
        ("hill farm", "radio/thp_5c21", "/temperature"),
    }
)
#: House, topic, place: what is only said once more.
COPIES: frozenset[tuple[str, str, str]] = frozenset(
    {
        ("kingfisher cottage", "hallTablet/shed/volts", ""),
        ("kingfisher cottage", "hallTablet/shed/amps", ""),
        ("kingfisher cottage", "hallTablet/shed/acid", ""),
        ("mill house", "hub/toestand/accu_bank_spanning", ""),
        ("mill house", "hub/toestand/accu_bank_stroom", ""),
        ("mill house", "hub/toestand/accu_lader", ""),
        ("olive press", "pannello/ufficio", "/batterie/v"),
        ("olive press", "pannello/ufficio", "/batterie/a"),
        ("olive press", "pannello/ufficio", "/batterie/acido"),
        ("hen farm", "node-house/lcd", "/l1"),
        ("hen farm", "node-house/lcd", "/l2"),
        ("power house", "gatehouse/annunciator", "/main_v"),
        ("power house", "gatehouse/annunciator", "/h2_ppm"),
        ("hill farm", "hill_farm/inverter/battery_voltage_v", ""),
        ("hill farm", "hill_farm/solar/battery_voltage_v", ""),
    }
)


class Flooded(NamedTuple):
    """A flooded bank: volts, amperes into it, what its charger gives, acid, watts, ampere-hours given since 0."""

    volts: Signal
    amps: Signal
    given: Signal
    acid: Signal
    watts: Signal
    returned: Signal


#: What a charger would give [A]: at a second, the cell's inner volts, its ohms and the amperes that loads take.
Charger = Callable[[float, float, float, float], float]


def steady(amps: Signal | float) -> Charger:
    """Give the amperes that were set, at whatever volts."""
    return lambda t, _inner, _ohms, _drawn: amps(t) if callable(amps) else amps


def regulated(limit: float, per_cell: float) -> Charger:
    """Give at most `limit`, and less as soon as a cell would come above its volts."""
    return lambda _t, inner, ohms, drawn: max(0.0, min(limit, (per_cell - inner) / ohms + drawn))


def sloping(open_per_cell: float, fall: float) -> Charger:
    """Be a bare transformer and its bridge: the volts fall with the amperes by `fall` ohms a cell."""
    return lambda _t, inner, ohms, _drawn: max(0.0, (open_per_cell - inner) / (ohms + fall))


def let_on(charger: Charger, on: Callable[[float], bool]) -> Charger:
    """Put a charger behind its relay."""
    return lambda t, inner, ohms, drawn: charger(t, inner, ohms, drawn) if on(t) else 0.0


def until(end: float) -> Callable[[float], bool]:
    """Tell whether it is earlier than a second."""
    return lambda t: t < end


def flooded(
    house: House,
    cells: int,
    amp_hours: float,
    charger: Charger,
    *,
    drawn: Signal = lambda _t: 0.0,
    full: float,
    acid: float,
    air: float,
    antimony: float = 1.0,
    worn: float = 1.0,
) -> Flooded:
    """Reckon a bank from forty minutes before the first second.

    The amperes of a cell go three ways: into its double layer, into the plates (through a resistance that grows as
    they fill), and into gas, which grows tenfold with every 0.21 V and with the warmth. The terminals see the layer
    and the drop over grids and acid. The plates are warmed by what neither charges nor splits water; the acid around
    the probe follows them after some minutes, and the air cools it. `full` is the charge at the beginning (of 1).
    """
    size, step, before = amp_hours / 100.0, 0.5, 2400.0
    ohms = 0.0017 * worn / size
    plates, probe, given = acid, acid, 0.0
    layer, back = 1.98 + 0.15 * full, 0.0
    table: list[tuple[float, float, float, float, float]] = []
    for n in range(round(-before / step), 2 * house.seconds + 4):
        t = n * step
        load = drawn(t)
        # No charger jumps: its choke and its regulator take a second or two.
        given += (charger(t, layer, ohms, load) - given) * min(1.0, step / 1.4)
        now = given - load
        if n >= 0 and n % 2 == 0:
            table.append((cells * (layer + ohms * now), now, given, probe, back))
        rest = 1.98 + 0.15 * full
        filling = layer >= rest
        taken_up = 0.0025 + 0.0026 * worn / (1.005 - full) if filling else 0.0045 / (0.1 + full)
        charging = (layer - rest) * size / taken_up
        gas = 0.02 * antimony * size * math.exp(min(9.0, 11.0 * (layer - 2.23)) + 0.06 * (plates - 20.0))
        layer += (now - charging - gas) * step / (2300.0 * size)
        full = min(1.0, full + charging * step / 3600.0 / amp_hours)
        heat = abs(now * now * ohms + charging * (layer - 2.06) + gas * (layer - 1.48))
        if n >= 0:
            plates += step * (heat / (7600.0 * size) - (plates - air) / 46000.0)
            probe += (plates - probe) * step / 340.0
            back += max(0.0, now) * step / 3600.0

    def column(which: int) -> Signal:
        def value(t: float) -> float:
            at = min(max(t, 0.0), float(house.seconds))
            here, there = table[int(at)][which], table[int(at) + 1][which]
            return here + (at - int(at)) * (there - here)

        return value

    volts, amps = column(0), column(1)
    return Flooded(volts, amps, column(2), column(3), product(volts, amps), column(4))


def product(one: Signal, other: Signal) -> Signal:
    """Volts and amperes make watts."""
    return lambda t: one(t) * other(t)


def times(signal: Signal, by: float, plus: float = 0.0) -> Signal:
    """Put a signal on another scale."""
    return lambda t: by * signal(t) + plus


def hissing(house: House, signal: Signal, sigma: float) -> Signal:
    """See a signal as an instrument does."""
    hiss = house.noise(sigma)
    return lambda t: signal(t) + hiss(t)


def sampled(signal: Signal, every: float) -> Signal:
    """Hold a signal as a slow instrument last took it."""
    return lambda t: signal(every * math.floor(t / every))


def fahrenheit(signal: Signal) -> Signal:
    """Degrees Celsius told in degrees Fahrenheit."""
    return times(signal, 1.8, 32.0)


def split(house: House, volts: Signal, number: int, uneven: float, sigma: float) -> list[Signal]:
    """Part the bank's volts, unlike each other; together they are the bank's again."""
    leans = [house.chance.uniform(-uneven, uneven) for _ in range(number)]
    mean = sum(leans) / number
    return [
        hissing(house, lambda t, share=(1.0 + lean - mean) / number: volts(t) * share, sigma)  # type: ignore[misc]
        for lean in leans
    ]


def text(signal: Signal, digits: int = 1, unit: str = "", mark: str = ".") -> Callable[[float], str]:
    """Say a number as text."""

    def say(t: float) -> str:
        said = f"{signal(t):.{digits}f}"
        said = said.removeprefix("-") if float(said) == 0.0 else said
        return said.replace(".", mark) + unit

    return say


def told(shape: object, t: float) -> object:
    """Put numbers into a shape of objects and lists: a pair is a signal and its digits."""
    if isinstance(shape, dict):
        return {key: told(part, t) for key, part in shape.items()}
    if isinstance(shape, list):
        return [told(part, t) for part in shape]
    if isinstance(shape, tuple):
        signal, digits = shape
        return round(signal(t), digits) if digits else round(signal(t))
    return shape(t) if callable(shape) else shape


def bundle(shape: dict[str, object]) -> Callable[[float], object]:
    """Say a whole object."""
    return lambda t: told(shape, t)


def stamp(t: float) -> int:
    """Count the epoch seconds."""
    return int(START + t)


Middles = dict[str, tuple[float, float, int]]


def crowd(house: House, base: str, every: float, middles: Middles, unit: str = "", mark: str = ".") -> None:
    """Other things' numbers, a topic each: the middle, how far it wanders, and its digits; `base` ends in its mark."""
    for name, (middle, swing, digits) in middles.items():
        value = house.around(middle, swing, house.chance.uniform(400, 2600), 0.07 * swing)
        house.say(f"{base}{name}", every, text(value, digits, unit, mark))


def crowd_bundle(house: House, topic: str, every: float, middles: Middles, **fixed: object) -> None:
    """Other things' numbers in one object."""
    shape: dict[str, object] = dict(fixed)
    for name, (middle, swing, digits) in middles.items():
        shape[name] = (house.around(middle, swing, house.chance.uniform(400, 2600), 0.07 * swing), digits)
    house.say(topic, every, bundle(shape))


def words(house: House, base: str, every: float, said: dict[str, object]) -> None:
    """Things that say a word, mostly the same one."""
    for name, word in said.items():
        house.say(f"{base}{name}", every, word)


def kept(house: House, base: str, said: dict[str, object]) -> None:
    """Leave on the broker what is kept there."""
    for name, word in said.items():
        house.say(f"{base}{name}", 600, word, retain=True)


def announce(house: House, device: str, entries: dict[str, tuple[str, str, str, str]]) -> None:
    """Keep a hub's discovery: of each key the name, the unit, the class and where its state is said."""
    for key, (name, unit, kind, topic) in entries.items():
        body = {"name": name, "state_topic": topic, "unique_id": f"{device}_{key}", "device_class": kind}
        body |= {"unit_of_measurement": unit, "state_class": "measurement"} if unit else {}
        house.say(
            f"homeassistant/{'sensor' if unit else 'binary_sensor'}/{device}/{key}/config",
            600,
            json.dumps(body | {"device": {"identifiers": [device], "name": device}}),
            retain=True,
        )


def at_wall(house: House, dc_watts: Signal, on: bool, mains: float) -> dict[str, object]:
    """Tell of the charger what the measuring socket before it tells."""
    volts = house.around(mains, 1.4, 800, 0.3)
    watts = hissing(house, times(dc_watts, 1 / 0.84, 5.0), 1.0) if on else (lambda _t: 0.0)
    return {
        "power": (watts, 1),
        "voltage": (volts, 1),
        "current": (lambda t: watts(t) / 0.93 / volts(t), 2),
        "energy": (house.counter(house.chance.uniform(20, 200), 1e-5), 2),
        "linkquality": (house.around(130, 20, 300, 6), 0),
    }


def relay(bank: str) -> Truth:
    """Name the state of a charger's relay."""
    return Truth(bank, RELAY)


def kingfisher_cottage() -> House:
    """12 V in a shed, held at steady amperes; camel case, a hub's discovery, a tablet in the hall that repeats."""
    bank = "shed"
    h = House("kingfisher cottage", 8101, bank, {bank: 6})
    b = flooded(h, 6, 230, steady(h.around(9.2, 0.03, 900, 0.0)), full=0.995, acid=33.4, air=15.0, antimony=1.4)
    volts, amps = sampled(hissing(h, b.volts, 0.005), 3), sampled(hissing(h, b.amps, 0.02), 3)
    acid, air = hissing(h, b.acid, 0.03), h.around(15.3, 0.3, 2800, 0.03)
    h.say("shedMonitor/busVoltage", 3, text(volts, 3), Truth(bank, VOLTS, "V"))
    h.say("shedMonitor/shuntCurrent", 3, text(amps, 2), Truth(bank, AMPS, "A"))
    h.say("shedMonitor/loadPower", 3, text(product(volts, amps), 1), Truth(bank, WATTS, "W"))
    h.say("shedMonitor/cellTemp", 30, text(acid, 2), Truth(bank, ACID, "degC"))
    h.say("shedMonitor/boxTemp", 30, text(air, 2), Truth(bank, AIR, "degC"))
    h.say("shedMonitor/returnedAh", 30, text(times(b.returned, 1.0, 61.8), 2))
    h.say("shedMonitor/uptime", 60, text(h.counter(310442, 1.0), 0))
    h.say("shedMonitor/rssi", 60, text(h.around(-67, 2, 300, 1), 0))
    announce(
        h,
        "shedMonitor",
        {
            "busVoltage": ("Shed battery voltage", "V", "voltage", "shedMonitor/busVoltage"),
            "shuntCurrent": ("Shed battery current", "A", "current", "shedMonitor/shuntCurrent"),
            "loadPower": ("Shed battery power", "W", "power", "shedMonitor/loadPower"),
            "cellTemp": ("Shed battery acid, cell 3", "°C", "temperature", "shedMonitor/cellTemp"),
            "boxTemp": ("Shed battery box air", "°C", "temperature", "shedMonitor/boxTemp"),
            "rssi": ("Shed monitor signal", "dBm", "signal_strength", "shedMonitor/rssi"),
        },
    )
    h.say(
        "plugs/batteryCharger", 20, bundle({"state": "ON"} | at_wall(h, b.watts, True, 239.0)), {"/state": relay(bank)}
    )
    h.say("plugs/batteryCharger/set", 290, {"state": "ON"})
    h.say("hallTablet/shed/volts", 15, text(sampled(volts, 3), 1))
    h.say("hallTablet/shed/amps", 15, text(sampled(amps, 3), 1))
    h.say("hallTablet/shed/acid", 30, text(acid, 0))
    h.say("hallTablet/brightness", 120, "60")
    h.say("hallTablet/battery", 90, "100")
    for name, mains in {"washingMachine": 238.0, "kettle": 239.5, "freezer": 240.1}.items():
        plug(h, f"plugs/{name}", mains)
    pv = h.around(17.9, 0.5, 500, 0.05)
    sun = h.around(1.1, 0.5, 420, 0.03)
    h.say("gardenSolar/panelVoltage", 10, text(pv, 2))
    h.say("gardenSolar/panelCurrent", 10, text(sun, 2))
    h.say("gardenSolar/panelPower", 10, text(product(pv, sun), 1))
    crowd(h, "gardenSolar/", 10, {"packVoltage": (13.28, 0.01, 2), "packCurrent": (1.31, 0.4, 2)})
    crowd(h, "gardenSolar/", 60, {"packSoc": (82, 0.4, 0), "packTemp": (12.6, 0.2, 1)})
    announce(
        h,
        "gardenSolar",
        {
            "panelVoltage": ("Garden panel voltage", "V", "voltage", "gardenSolar/panelVoltage"),
            "packVoltage": ("Garden lithium pack voltage", "V", "voltage", "gardenSolar/packVoltage"),
            "packCurrent": ("Garden lithium pack current", "A", "current", "gardenSolar/packCurrent"),
            "packTemp": ("Garden lithium pack temperature", "°C", "temperature", "gardenSolar/packTemp"),
            "packSoc": ("Garden lithium pack charge", "%", "battery", "gardenSolar/packSoc"),
        },
    )
    starter(h, "drive/car/auxBattery")
    crowd(h, "drive/car/", 120, {"fuelLevel": (44, 0.1, 0), "cabinTemp": (8.7, 0.2, 1)})
    crowd(
        h,
        "studyUps/",
        30,
        {"inputVoltage": (239, 1.2, 1), "batteryVoltage": (27.2, 0.02, 1), "load": (14, 2, 0), "runtime": (41, 1, 0)},
    )
    words(h, "studyUps/", 90, {"status": "online"})
    for room, middle in {"livingRoom": 20.6, "kitchen": 21.2, "bedroom": 18.4, "porch": 9.6}.items():
        crowd(h, f"{room}/", 90, {"temperature": (middle, 0.3, 1), "humidity": (55, 2, 0)})
        words(h, f"{room}/", 200, {"light": "OFF"})
    crowd(h, "outdoorStation/", 60, {"airTemp": (6.9, 0.3, 1), "airPressure": (1008.2, 0.2, 1), "windSpeed": (3, 1, 1)})
    crowd(h, "boiler/", 30, {"flowTemp": (51.7, 1.2, 1), "returnTemp": (43.0, 0.9, 1), "pressure": (1.5, 0.01, 2)})
    words(h, "boiler/", 120, {"burner": "ON", "fault": "none"})
    router(h, "router", ("cpuTemp", "load", "uptime", "downRate"))
    coin_cells(h, "contacts", ("frontDoor", "shedDoor", "backDoor"))
    phone(h, "phones/first")
    kept(h, "caravan/", {"batteryVoltage": "12.61", "batteryCurrent": "-0.35", "status": "laid up"})
    return h


def mill_house() -> House:
    """24 V in a Dutch mill, bulk while the house draws; one object a device, units in keys, plus is what is drawn."""
    bank = "accu_bank"
    h = House("mill house", 8102, bank, {bank: 12})
    house_load = h.steps(3.1, 5.4, 14.0, dwell=110, sigma=0.1)
    b = flooded(
        h, 12, 440, steady(h.around(58, 0.3, 700, 0.05)), drawn=house_load, full=0.70, acid=21.3, air=14.0, worn=1.2
    )
    volts, amps = sampled(hissing(h, b.volts, 0.012), 20), sampled(hissing(h, b.amps, 0.08), 20)
    h.say(
        "molenhuis/accu_bank",
        20,
        bundle(
            {
                "tijd": stamp,
                "spanning_v": (volts, 2),
                "stroom_a": (times(amps, -1.0), 1),
                "vermogen_w": (times(product(volts, amps), -1.0), 0),
                "midden_v": (times(volts, 0.5, 0.06), 2),
                "geladen_ah": (times(b.returned, 1.0, 33.4), 1),
            }
        ),
        {
            "/spanning_v": Truth(bank, VOLTS, "V"),
            "/stroom_a": Truth(bank, AMPS, "A", DRAWN),
            "/vermogen_w": Truth(bank, WATTS, "W", DRAWN),
            "/midden_v": Truth(bank, MIDDLE, "V"),
        },
    )
    # The first hangs in cell 7, the second in the air of the battery room; the rest is pipes, a barrel and a shaft.
    h.say(
        "molenhuis/onewire",
        30,
        bundle(
            {
                "28_a1f0": (hissing(h, b.acid, 0.03), 2),
                "28_a9d3": (h.around(38.4, 0.8, 900, 0.05), 2),
                "28_b02e": (h.around(21.9, 0.2, 1500, 0.03), 2),
                "28_b77c": (h.around(14.2, 0.2, 2600, 0.03), 2),
                "28_c410": (h.around(15.0, 0.3, 1900, 0.03), 2),
                "28_d8e5": (h.around(8.8, 0.3, 1300, 0.03), 2),
            }
        ),
        {"/28_a1f0": Truth(bank, ACID, "degC"), "/28_b77c": Truth(bank, AIR, "degC")},
    )
    h.say("molenhuis/accu_lader/relais", 30, "aan", relay(bank))
    h.say("molenhuis/accu_lader/relais/opdracht", 250, "aan")
    h.say("molenhuis/accu_ruimte/ventilator", 60, "aan", Truth(bank, FAN))
    h.say("molenhuis/accu_ruimte/ventilator/opdracht", 290, "aan")
    # The hub says once more what it heard.
    h.say("hub/toestand/accu_bank_spanning", 20, text(sampled(volts, 20), 2))
    h.say("hub/toestand/accu_bank_stroom", 20, text(sampled(times(amps, -1.0), 20), 1))
    h.say("hub/toestand/accu_lader", 60, "on")
    crowd(h, "hub/toestand/", 60, {"woonkamer_temperatuur": (20.6, 0.2, 1), "buiten_temperatuur": (7.4, 0.2, 1)})
    out = times(product(b.volts, house_load), 0.9)
    h.say(
        "molenhuis/omvormer",
        15,
        bundle(
            {
                "stand": "eiland",
                "uitgang_v": (h.around(230.2, 0.5, 700, 0.1), 1),
                "uitgang_a": (times(out, 1 / 225.0), 2),
                "belasting_w": (out, 0),
                "koelplaat_c": (h.around(36.0, 1.0, 900, 0.1), 1),
            }
        ),
    )
    crowd_bundle(
        h,
        "molenhuis/zonnepanelen",
        10,
        {"paneel_v": (71.5, 2.0, 1), "paneel_a": (4.1, 1.2, 1), "opbrengst_kwh": (1.12, 0.01, 2)},
    )
    crowd_bundle(
        h,
        "molenhuis/schuur/elektrische_fiets",
        30,
        {
            "spanning_v": (39.9, 0.05, 2),
            "stroom_a": (1.92, 0.02, 2),
            "temperatuur_c": (19.1, 0.2, 1),
            "lading_pct": (71, 0.5, 0),
        },
    )
    crowd_bundle(
        h, "molenhuis/schuur/bus_startaccu", 60, {"spanning_v": (12.69, 0.01, 2), "temperatuur_c": (9, 0.2, 1)}
    )
    for fase in ("l1", "l2", "l3"):
        crowd_bundle(
            h,
            f"molenhuis/meterkast/{fase}",
            10,
            {"spanning_v": (231.7, 1.2, 1), "stroom_a": (2.2, 1.3, 2), "vermogen_w": (480, 260, 0)},
        )
    crowd(h, "molenhuis/meterkast/", 30, {"gas_m3": (4812.331, 0, 3), "water_l": (91820, 0, 0)})
    for room in ("woonkamer", "keuken", "slaapkamer", "zolder", "bijkeuken", "werkplaats"):
        middle = h.chance.uniform(12, 22)
        crowd_bundle(
            h,
            f"molenhuis/{room}/klimaat",
            90,
            {"temperatuur_c": (middle, 0.3, 1), "vocht_pct": (54, 2, 0), "batterij_pct": (87, 0, 0)},
        )
        words(h, f"molenhuis/{room}/", 180, {"lamp": "uit", "beweging": "nee"})
    crowd(h, "molenhuis/thermostaat/", 60, {"gemeten": (20.5, 0.2, 1), "gewenst": (20.5, 0, 1)})
    crowd(
        h,
        "molenhuis/weerstation/",
        60,
        {
            "temperatuur": (7.3, 0.3, 1),
            "luchtdruk": (1004.9, 0.3, 1),
            "wind_ms": (7.6, 2.4, 1),
            "regen_mm": (0.2, 0, 1),
        },
    )
    crowd(h, "molenhuis/molen/", 20, {"wieken_per_min": (58, 9, 0), "as_temperatuur": (17.8, 0.4, 1)})
    words(h, "molenhuis/molen/", 120, {"vang": "los", "storing": "geen"})
    crowd(h, "molenhuis/vriezer/", 60, {"temperatuur": (-18.8, 0.5, 1), "vermogen": (66, 5, 0)})
    words(h, "molenhuis/wasmachine/", 60, {"programma": "katoen_40", "resterend_min": 47, "deur": "dicht"})
    crowd(h, "molenhuis/wasmachine/", 30, {"vermogen": (310, 140, 0), "water_temperatuur": (39.0, 0.8, 0)})
    for name in ("kas", "moestuin", "boomgaard"):
        crowd(h, f"molenhuis/{name}/", 150, {"bodemvocht": (37, 1, 0), "bodem_temperatuur": (9.4, 0.1, 1)})
    router(h, "netwerk/router", ("temperatuur", "belasting", "looptijd", "snelheid"))
    coin_cells(h, "molenhuis/deuren", ("voordeur", "achterdeur", "molendeur"))
    phone(h, "telefoon/een")
    kept(h, "molenhuis/oud/accu_bank", {"": '{"spanning_v": 25.3, "stroom_a": 0.0, "stand": "vervangen"}'})
    return h


def olive_press() -> House:
    """48 V at an Italian press, tapering below its ceiling; a controller's tags, units and quality beside the value."""
    bank = "BAT01"
    h = House("olive press", 8103, bank, {bank: 24})
    b = flooded(h, 24, 350, regulated(45.0, 2.58), full=0.90, acid=32.8, air=19.0, antimony=1.2)
    volts, amps = sampled(hissing(h, b.volts, 0.02), 10), sampled(hissing(h, b.amps, 0.06), 10)
    acid, air = hissing(h, b.acid, 0.04), h.around(19.2, 0.3, 2600, 0.03)

    def tag(name: str, every: float, signal: Signal, digits: int, unit: str, truth: Truth | None = None) -> None:
        shape = {"val": (signal, digits), "um": unit, "q": "GOOD", "ts": stamp}
        h.say(f"plc/frantoio/{name}", every, bundle(shape), {"/val": truth} if truth else None)

    def contact(name: str, closed: bool, truth: Truth | None = None) -> None:
        shape = {"val": closed, "um": "", "q": "GOOD", "ts": stamp}
        h.say(f"plc/frantoio/{name}", 30, bundle(shape), {"/val": truth} if truth else None)

    tag("BAT01_TENS", 10, volts, 2, "V", Truth(bank, VOLTS, "V"))
    tag("BAT01_CORR", 10, amps, 2, "A", Truth(bank, AMPS, "A"))
    tag("BAT01_POT", 10, product(volts, amps), 0, "W", Truth(bank, WATTS, "W"))
    tag("BAT01_TEMP_ACIDO", 30, acid, 1, "°C", Truth(bank, ACID, "degC"))
    tag("BAT01_TEMP_LOCALE", 30, air, 1, "°C", Truth(bank, AIR, "degC"))
    for n, block in enumerate(split(h, b.volts, 4, 0.006, 0.006), 1):
        tag(f"BAT01_BLOCCO{n}", 20, block, 2, "V", Truth(bank, BLOCK, "V"))
    tag("BAT01_AH_RESI", 60, times(b.returned, 1.0, 128.5), 1, "Ah")
    contact("CARICABATT_RITORNO", True, relay(bank))
    h.say("plc/frantoio/CARICABATT_COMANDO", 280, bundle({"val": True, "ts": stamp}))
    contact("BAT01_LIVELLO_BASSO", False)
    contact("POMPA_OLIO_RITORNO", False)
    contact("GRAMOLA_RITORNO", True)
    contact("COCLEA_RITORNO", True)
    contact("EMERGENZA", False)
    h.say("plc/frantoio/GRAMOLA_COMANDO", 280, bundle({"val": True, "ts": stamp}))
    others: dict[str, tuple[float, float, int, str]] = {
        "GRAMOLA_TEMP": (27.1, 0.3, 1, "°C"),
        "GRAMOLA_CORR": (7.4, 0.4, 2, "A"),
        "GRAMOLA_GIRI": (18.2, 0.4, 1, "rpm"),
        "COCLEA_CORR": (3.1, 0.3, 2, "A"),
        "DECANTER_TEMP": (29.4, 0.3, 1, "°C"),
        "DECANTER_VIBR": (2.1, 0.3, 2, "mm/s"),
        "ACQUA_TEMP": (31.0, 0.5, 1, "°C"),
        "ACQUA_PRESS": (2.6, 0.1, 2, "bar"),
        "OLIO_LIVELLO": (61.0, 0.4, 1, "%"),
        "RETE_L1_TENS": (229.4, 1.4, 1, "V"),
        "RETE_L2_TENS": (230.8, 1.4, 1, "V"),
        "RETE_L3_TENS": (228.7, 1.4, 1, "V"),
        "RETE_L1_CORR": (14.2, 3.0, 1, "A"),
        "RETE_L2_CORR": (11.7, 3.0, 1, "A"),
        "RETE_L3_CORR": (12.9, 3.0, 1, "A"),
        "RETE_POT": (8300, 900, 0, "W"),
        "RETE_FREQ": (50.0, 0.02, 2, "Hz"),
        "QUADRO_TEMP": (33.7, 0.5, 1, "°C"),
        "QUADRO_24VDC": (24.1, 0.02, 2, "V"),
    }
    for name, (middle, swing, digits, unit) in others.items():
        tag(name, 10, h.around(middle, swing, h.chance.uniform(300, 1500), 0.1 * swing), digits, unit)
    kept(h, "plc/frantoio/", {"stato": "RUN", "versione": "progetto 14"})
    h.say("plc/frantoio/battito", 5, text(h.counter(4410, 1.0), 0))
    h.say(
        "pannello/ufficio",
        30,
        bundle(
            {
                "batterie": {"v": (sampled(volts, 10), 1), "a": (sampled(amps, 10), 1), "acido": (acid, 0)},
                "olio": (h.around(61, 0.4), 0),
                "messaggio": "equalizzazione in corso",
            }
        ),
    )
    # The house beside the press: a lithium store, panels, and the usual.
    crowd_bundle(
        h,
        "casa/accumulo",
        10,
        {"tensione": (52.9, 0.08, 2), "corrente": (-14.2, 5.0, 1), "soc": (77, 0.4, 0), "temp_max": (21.2, 0.2, 1)},
        celle=16,
    )
    cell = h.around(3.306, 0.004, 700, 0.001)
    lean = [h.chance.uniform(-0.004, 0.004) for _ in range(16)]
    h.say("casa/accumulo/celle", 30, lambda t: {"mV": [round(1000 * (cell(t) + one)) for one in lean]})
    crowd_bundle(
        h,
        "casa/fotovoltaico",
        10,
        {
            "stringa1_v": (344, 8, 0),
            "stringa1_a": (5.2, 1.1, 1),
            "stringa2_v": (338, 8, 0),
            "stringa2_a": (5.0, 1.1, 1),
        },
    )
    for room, middle in {"soggiorno": 20.3, "cucina": 21.4, "camera": 18.7, "cantina": 14.4, "bagno": 22.0}.items():
        crowd(h, f"casa/{room}/", 120, {"temperatura": (middle, 0.3, 1), "umidita": (56, 2, 0)})
        words(h, f"casa/{room}/", 200, {"luce": "spenta"})
    crowd(h, "casa/meteo/", 60, {"temperatura": (11.7, 0.3, 1), "pressione": (1013.6, 0.2, 1), "vento": (2.4, 1, 1)})
    crowd(h, "casa/congelatore/", 90, {"temperatura": (-18.1, 0.5, 1), "potenza": (71, 6, 0)})
    words(h, "casa/lavatrice/", 60, {"fase": "risciacquo", "minuti": 22})
    starter(h, "rimessa/trattore/batteria")
    crowd(h, "rimessa/trattore/", 120, {"gasolio": (53, 0.1, 0), "ore": (3118, 0, 0)})
    words(h, "casa/cancello/", 120, {"stato": "chiuso", "fotocellula": "libera"})
    router(h, "rete/router", ("temperatura", "carico", "attivo_da", "traffico"))
    phone(h, "telefoni/nonna")
    return h


def boat_club() -> House:
    """36 V of a Swedish club's cart, blocked because the acid is warm, and sinking; text with commas and units."""
    bank = "golfbil"
    h = House("boat club", 8104, bank, {bank: 18})
    b = flooded(
        h,
        18,
        220,
        let_on(steady(9.5), until(-260.0)),
        drawn=h.steps(0.35, 0.35, 1.4, dwell=80, sigma=0.01),
        full=0.995,
        acid=46.3,
        air=17.0,
        antimony=1.3,
    )
    volts, amps = hissing(h, b.volts, 0.01), hissing(h, b.amps, 0.01)
    base = "garage/golfbil/batteri/"
    h.say(f"{base}spänning", 15, text(volts, 2, " V", ","), Truth(bank, VOLTS, "V"))
    h.say(f"{base}ström", 15, text(amps, 2, " A", ","), Truth(bank, AMPS, "A"))
    h.say(f"{base}effekt", 15, text(product(volts, amps), 0, " W", ","), Truth(bank, WATTS, "W"))
    h.say(f"{base}syra", 60, text(hissing(h, b.acid, 0.03), 1, " °C", ","), Truth(bank, ACID, "degC"))
    for n, block in enumerate(split(h, b.volts, 6, 0.008, 0.003), 1):
        h.say(f"{base}block_{n}", 30, text(block, 2, " V", ","), Truth(bank, BLOCK, "V"))
    h.say("garage/temperatur", 60, text(h.around(17.2, 0.2, 2500, 0.03), 1, " °C", ","), Truth(bank, AIR, "degC"))
    crowd(h, "garage/", 90, {"fukt": (58, 2, 0)}, " %", ",")
    h.say("garage/laddare/läge", 30, "från", relay(bank))
    h.say("garage/laddare/order", 240, "från")
    h.say("garage/laddare/orsak", 60, "väntar, syran för varm")
    crowd(h, "garage/laddare/", 60, {"nätspänning": (231.8, 1.2, 1)}, " V", ",")
    crowd(h, "garage/laddare/", 60, {"kylfläns": (27.4, 1.5, 1)}, " °C", ",")
    # The mower's lithium pack is full and has the same nominal volts; the outboard's starter battery stands beside.
    crowd(h, "garage/gräsklippare/batteri/", 30, {"spänning": (40.9, 0.02, 2)}, " V", ",")
    crowd(h, "garage/gräsklippare/batteri/", 30, {"ström": (0.02, 0.01, 2)}, " A", ",")
    crowd(h, "garage/gräsklippare/batteri/", 60, {"temperatur": (18.3, 0.2, 1)}, " °C", ",")
    crowd(h, "garage/gräsklippare/batteri/", 60, {"laddning": (98, 0.2, 0)}, " %", ",")
    words(h, "garage/", 120, {"port": "stängd", "lampa": "från", "kompressor": "från"})
    crowd(h, "brygga/motorbåt/", 60, {"startbatteri": (12.74, 0.01, 2)}, " V", ",")
    crowd(h, "brygga/", 60, {"vattentemperatur": (6.2, 0.1, 1), "lufttemperatur": (3.8, 0.3, 1)}, " °C", ",")
    crowd(h, "brygga/", 60, {"vattenstånd": (-12, 1, 0)}, " cm", ",")
    crowd(h, "brygga/", 30, {"vind": (5.4, 2.0, 1)}, " m/s", ",")
    crowd(h, "brygga/landström/", 20, {"spänning": (229.5, 1.5, 1)}, " V", ",")
    crowd(h, "brygga/landström/", 20, {"ström": (3.2, 1.2, 2)}, " A", ",")
    crowd(h, "brygga/landström/", 20, {"effekt": (705, 260, 0)}, " W", ",")
    for fas in ("l1", "l2", "l3"):
        crowd(h, f"klubbhus/elmätare/{fas}/", 10, {"spänning": (232.2, 1.3, 1)}, " V", ",")
        crowd(h, f"klubbhus/elmätare/{fas}/", 10, {"ström": (4.0, 1.8, 2)}, " A", ",")
    crowd(h, "klubbhus/elmätare/", 10, {"effekt": (2720, 600, 0)}, " W", ",")
    crowd(
        h,
        "klubbhus/bastu/",
        20,
        {"temperatur_uppe": (71.5, 2.0, 1), "temperatur_nere": (44.0, 1.5, 1), "aggregat": (96, 3, 0)},
        " °C",
        ",",
    )
    words(h, "klubbhus/bastu/", 60, {"dörr": "stängd", "timer": "00:41"})
    crowd(
        h,
        "klubbhus/värmepump/",
        30,
        {
            "framledning": (36.6, 0.6, 1),
            "retur": (31.5, 0.5, 1),
            "varmvatten": (49.8, 0.3, 1),
            "brine_in": (5.1, 0.1, 1),
        },
        " °C",
        ",",
    )
    for room, middle in {"sal": 20.2, "kök": 20.9, "kontor": 19.8, "förråd": 9.1}.items():
        crowd(h, f"klubbhus/{room}/", 120, {"temperatur": (middle, 0.2, 1)}, " °C", ",")
        crowd(h, f"klubbhus/{room}/", 120, {"fukt": (48, 2, 0)}, " %", ",")
        words(h, f"klubbhus/{room}/", 180, {"lampa": "från", "rörelse": "nej"})
    crowd(h, "klubbhus/frys/", 60, {"temperatur": (-19.4, 0.5, 1)}, " °C", ",")
    crowd(h, "klubbhus/frys/", 60, {"effekt": (88, 6, 0)}, " W", ",")
    words(h, "klubbhus/torktumlare/", 90, {"program": "bomull", "kvar": "18 min", "lucka": "stängd"})
    crowd(h, "klubbhus/tak/solceller/", 20, {"spänning": (188.0, 6.0, 1)}, " V", ",")
    crowd(h, "klubbhus/tak/solceller/", 20, {"ström": (1.3, 0.4, 2)}, " A", ",")
    coin_cells(h, "klubbhus/dörrar", ("entré", "altan"))
    router(h, "klubbhus/nätverk", ("temperatur", "last", "upptid", "trafik"))
    phone(h, "telefon/hamnvakt")
    kept(h, "klubbhus/gammalt/batteri/", {"spänning": "24,80 V", "ström": "0,00 A", "temperatur": "11,0 °C"})
    return h


def waterwheel_farm() -> House:
    """24 V on a Portuguese farm, resting between two rounds; dotted names, no unit, and a gate's 12 V that floats."""
    bank, gate = "armazem", "portao"
    h = House("waterwheel farm", 8105, bank, {bank: 12, gate: 6})
    b = flooded(
        h,
        12,
        300,
        let_on(regulated(12.0, 2.62), until(-900.0)),
        drawn=h.steps(0.6, 0.6, 2.2, 7.5, dwell=120, sigma=0.02),
        full=0.99,
        acid=29.7,
        air=18.0,
        antimony=1.3,
    )
    volts, amps = hissing(h, b.volts, 0.008), hissing(h, b.amps, 0.02)
    base = "quinta.armazem."
    h.say(f"{base}banco.tensao", 30, text(volts, 2), Truth(bank, VOLTS, "V"))
    h.say(f"{base}banco.corrente", 30, text(amps, 2), Truth(bank, AMPS, "A"))
    h.say(f"{base}banco.potencia", 30, text(product(volts, amps), 1), Truth(bank, WATTS, "W"))
    h.say(f"{base}banco.eletrolito", 60, text(hissing(h, b.acid, 0.03), 1), Truth(bank, ACID, "degC"))
    h.say(f"{base}banco.ponto_medio", 60, text(times(volts, 0.5, -0.04), 2), Truth(bank, MIDDLE, "V"))
    h.say(f"{base}ambiente", 60, text(h.around(18.1, 0.2, 2500, 0.03), 1), Truth(bank, AIR, "degC"))
    crowd(h, base, 90, {"humidade": (61, 1, 0)})
    h.say(f"{base}carregador.estado", 60, "desligado", relay(bank))
    h.say(f"{base}carregador.ordem", 280, "desligar")
    h.say(f"{base}banco.fase", 60, "repouso")
    # The second lead bank opens the gate and is only kept full.
    g = flooded(
        h,
        6,
        70,
        regulated(3.0, 2.26),
        drawn=h.steps(0.05, 0.05, 0.05, 2.4, dwell=60, sigma=0.005),
        full=0.99,
        acid=14.0,
        air=13.5,
    )
    h.say("quinta.portao.bateria.tensao", 30, text(hissing(h, g.volts, 0.004), 2), Truth(gate, VOLTS, "V"))
    h.say("quinta.portao.bateria.corrente", 30, text(hissing(h, g.amps, 0.01), 2), Truth(gate, AMPS, "A"))
    words(h, "quinta.portao.", 60, {"posicao": "fechado", "carregador": "ligado", "celula": "livre"})
    pv, sun = h.around(58.7, 1.5, 450, 0.1), h.around(6.6, 1.4, 400, 0.05)
    h.say("quinta.telhado.paineis.tensao", 20, text(pv, 1))
    h.say("quinta.telhado.paineis.corrente", 20, text(sun, 1))
    h.say("quinta.telhado.paineis.potencia", 20, text(product(pv, sun), 0))
    crowd(h, "quinta.casa.litio.", 20, {"tensao": (26.61, 0.03, 2), "corrente": (11.2, 3.0, 1), "carga": (74, 0.5, 0)})
    crowd(h, "quinta.casa.litio.", 60, {"temperatura": (19.8, 0.2, 1), "ciclos": (311, 0, 0)})
    for n in range(1, 9):
        crowd(h, "quinta.casa.litio.", 60, {f"celula_{n}": (3.326 + h.chance.uniform(-0.004, 0.004), 0.002, 3)})
    crowd(
        h, "quinta.casa.quadro.", 20, {"tensao": (231.1, 1.5, 1), "corrente": (5.8, 2.0, 2), "potencia": (1300, 420, 0)}
    )
    crowd(h, "quinta.casa.ups.", 60, {"entrada": (231, 1.4, 0), "bateria": (13.7, 0.02, 1), "carga": (21, 2, 0)})
    crowd(h, "quinta.poco.bomba.", 30, {"pressao": (2.8, 0.2, 2), "caudal": (0, 0, 1), "corrente": (0, 0, 2)})
    words(h, "quinta.poco.bomba.", 90, {"estado": "parada", "avaria": "nenhuma"})
    for n in range(1, 7):
        words(h, f"quinta.rega.setor{n}.", 150, {"valvula": "fechada"})
        crowd(h, f"quinta.rega.setor{n}.", 150, {"solo": (29 + n, 0.5, 1)})
    for room, middle in {"sala": 20.5, "cozinha": 21.6, "quarto": 18.9, "adega": 14.6, "forno": 23.0}.items():
        crowd(
            h, f"quinta.{room}.", 120, {"temperatura": (middle, 0.3, 1), "humidade": (57, 2, 0), "pilha": (2.96, 0, 2)}
        )
    crowd(h, "quinta.arca.", 90, {"temperatura": (-18.6, 0.5, 1), "potencia": (74, 5, 0)})
    crowd(h, "quinta.termoacumulador.", 60, {"cima": (57.0, 0.5, 1), "baixo": (39.2, 0.6, 1), "potencia": (1490, 8, 0)})
    crowd(h, "quinta.carrinha.", 120, {"bateria": (12.63, 0.01, 2), "gasoleo": (58, 0.1, 0)})
    crowd(h, "quinta.meteo.", 60, {"temperatura": (13.8, 0.3, 1), "pressao": (1015.2, 0.2, 1), "vento": (2.9, 1, 1)})
    words(h, "quinta.maquina_lavar.", 90, {"programa": "algodao", "minutos": 31})
    words(h, "quinta.luz.", 200, {"patio": "apagada", "alpendre": "acesa", "armazem": "apagada"})
    router(h, "quinta.router", ("temp", "carga", "ligado", "trafego"))
    phone(h, "quinta.telemovel")
    kept(h, "quinta.antigo.banco.", {"tensao": "12.72", "corrente": "-0.30", "temperatura": "16.5"})
    return h


def hen_farm() -> House:
    """6 V of an old tractor, filling; boards with home-made firmware and thousandths, no unit, a relay by number."""
    bank = "barn"
    h = House("hen farm", 8106, bank, {bank: 3})
    b = flooded(h, 3, 130, sloping(2.72, 0.022), full=0.80, acid=22.6, air=11.0, worn=1.3, antimony=1.3)
    volts, amps = sampled(hissing(h, b.volts, 0.004), 5), sampled(hissing(h, b.amps, 0.03), 5)

    def board(name: str, told_by: dict[str, tuple[Signal, int, Truth | None]], every: float) -> None:
        for key, (signal, digits, truth) in told_by.items():
            h.say(f"{name}/{key}", every, text(signal, digits), truth)
        h.say(f"{name}/up", 60, text(h.counter(h.chance.randrange(900000), 1.0), 0))
        h.say(f"{name}/rssi", 60, text(h.around(h.chance.uniform(-82, -50), 2, 300, 1), 0))
        h.say(f"{name}/vcc", 60, text(h.around(3295, 4, 500, 2), 0))
        h.say(f"{name}/fw", 600, "homebrew 0.41", retain=True)
        h.say(f"{name}/lwt", 600, "up", retain=True)

    board(
        "node-barn",
        {
            "vbat": (times(volts, 1000.0), 0, Truth(bank, VOLTS, "mV")),
            "ibat": (times(amps, 1000.0), 0, Truth(bank, AMPS, "mA")),
            "pbat": (times(product(volts, amps), 1000.0), 0, Truth(bank, WATTS, "mW")),
        },
        5,
    )
    h.say("node-barn/t_acid", 20, text(hissing(h, b.acid, 0.04), 2), Truth(bank, ACID, "degC"))
    h.say("node-barn/t_air", 20, text(h.around(11.1, 0.2, 2700, 0.04), 2), Truth(bank, AIR, "degC"))
    h.say("node-barn/mah", 30, text(times(b.returned, 1000.0, 21840.0), 0))
    for n, (state, truth) in {1: ("0", None), 2: ("1", None), 3: ("1", relay(bank)), 4: ("0", None)}.items():
        h.say(f"node-barn/rly{n}", 30, state, truth)
        h.say(f"node-barn/rly{n}/set", 290, state)
    h.say("node-barn/log", 45, lambda t: f"loop {int(8800 + 20 * t)} ok, heap {31000 + int(t) % 90}")
    # The hen house runs on a panel and one small lithium cell, the well on dry cells, the electric fence on its own.
    board(
        "node-hens",
        {
            "vbat": (h.around(3962, 4, 900, 2), 0, None),
            "ibat": (h.around(64, 25, 300, 3), 0, None),
            "vpanel": (h.around(5410, 90, 400, 8), 0, None),
            "t_nest": (h.around(16.3, 0.3, 900, 0.04), 2, None),
            "t_air": (h.around(9.2, 0.3, 900, 0.04), 2, None),
            "rh_air": (h.around(71, 2, 900, 0.2), 1, None),
        },
        20,
    )
    words(h, "node-hens/", 120, {"hatch": "shut", "lamp": "1", "eggs": 6})
    board(
        "node-well",
        {
            "vbat": (h.around(4480, 3, 900, 2), 0, None),
            "depth": (h.around(612, 1, 900, 0.5), 0, None),
            "t_water": (h.around(9.9, 0.1, 900, 0.02), 2, None),
        },
        60,
    )
    board(
        "node-fence",
        {"vbat": (h.around(12710, 8, 900, 3), 0, None), "kv": (h.around(6.8, 0.2, 400, 0.05), 1, None)},
        30,
    )
    board(
        "node-house",
        {
            "t_hall": (h.around(19.3, 0.2, 900, 0.03), 2, None),
            "t_attic": (h.around(11.8, 0.3, 900, 0.03), 2, None),
            "rh_hall": (h.around(55, 1, 900, 0.1), 1, None),
            "lux": (h.around(140, 30, 400, 4), 0, None),
        },
        30,
    )
    h.say("node-house/lcd", 20, bundle({"l1": (sampled(volts, 5), 2), "l2": (sampled(amps, 5), 1), "l3": "equalise"}))
    crowd(
        h,
        "meter/",
        10,
        {"u": (236.4, 1.3, 1), "i": (3.3, 1.4, 2), "p": (760, 310, 0), "f": (50.0, 0.02, 2), "kwh": (18221.4, 0, 1)},
    )
    for name, mains in {"incubator": 236.0, "washer": 236.5, "brooder": 235.8}.items():
        plug(h, f"sockets/{name}/tele", mains)
        h.say(f"sockets/{name}/state", 120, "ON")
    crowd(h, "incubator/", 30, {"t": (37.6, 0.1, 2), "rh": (52, 0.6, 1), "days": (11, 0, 0)})
    crowd(h, "freezer/", 60, {"t": (-20.3, 0.5, 1), "p": (69, 5, 0)})
    crowd(h, "stove/", 30, {"flue": (171, 12, 0), "water": (63.4, 1, 1)})
    crowd(h, "weather/", 60, {"t": (7.7, 0.3, 1), "p": (1001.3, 0.2, 1), "wind": (4.9, 2, 1), "rain": (0, 0, 1)})
    starter(h, "pickup/battery")
    crowd(h, "ups/", 60, {"line": (236, 1.2, 0), "batt": (13.5, 0.02, 1), "load": (9, 1, 0)})
    coin_cells(h, "contacts", ("front", "barn"))
    phone(h, "phone/me")
    kept(h, "node-test/", {"vbat": "6390", "ibat": "0", "t_acid": "20.06", "lwt": "down"})
    return h


def power_house() -> House:
    """110 V on an estate, 54 cells in two strings, held; nested objects, Fahrenheit, pilot cells, a floating 24 V."""
    bank, control = "main", "control"
    h = House("power house", 8107, bank, {bank: 54, control: 12})
    b = flooded(
        h,
        54,
        600,
        steady(h.around(22.4, 0.08, 800, 0.02)),
        drawn=h.steps(1.2, 1.2, 2.6, dwell=140, sigma=0.02),
        full=0.995,
        acid=34.6,
        air=16.0,
        antimony=1.5,
    )
    volts, amps = hissing(h, b.volts, 0.04), hissing(h, b.amps, 0.06)
    share = h.around(0.515, 0.004, 1500)
    acid, air = fahrenheit(hissing(h, b.acid, 0.04)), fahrenheit(h.around(16.3, 0.2, 2600, 0.03))
    pilots = [hissing(h, times(b.volts, 1 / 54, lean), 0.002) for lean in (0.021, -0.034, 0.006)]
    h.say(
        "powerhouse/dc/main",
        2,
        bundle(
            {
                "ts": stamp,
                "bus": {
                    "volts": (volts, 1),
                    "amps": (times(amps, -1.0), 1),
                    "watts": (times(product(volts, amps), -1), 0),
                },
                "strings": {
                    "a": (lambda t: -share(t) * amps(t), 2),
                    "b": (lambda t: -(1 - share(t)) * amps(t), 2),
                },
            }
        ),
        {
            "/bus/volts": Truth(bank, VOLTS, "V"),
            "/bus/amps": Truth(bank, AMPS, "A", DRAWN),
            "/bus/watts": Truth(bank, WATTS, "W", DRAWN),
            "/strings/a": Truth(bank, STRING, "A", DRAWN),
            "/strings/b": Truth(bank, STRING, "A", DRAWN),
        },
    )
    h.say(
        "powerhouse/dc/main/pilots",
        15,
        bundle({"ts": stamp, "pilot_cells_v": {"07": (pilots[0], 3), "23": (pilots[1], 3), "41": (pilots[2], 3)}}),
        {f"/pilot_cells_v/{n}": Truth(bank, CELL, "V") for n in ("07", "23", "41")},
    )
    # Four probes in degrees Fahrenheit; a kept note says which is which.
    h.say(
        "powerhouse/probes",
        30,
        bundle(
            {
                "t1": (air, 1),
                "t2": (h.around(104.2, 2.0, 900, 0.1), 1),
                "t3": (acid, 1),
                "t4": (h.around(61.1, 0.8, 1700, 0.05), 1),
            }
        ),
        {"/t1": Truth(bank, AIR, "degF"), "/t3": Truth(bank, ACID, "degF")},
    )
    kept(
        h,
        "powerhouse/probes/",
        {
            "about": {
                "t1": "battery room air",
                "t2": "rectifier sink",
                "t3": "main cell 23 acid",
                "t4": "turbine hall",
                "unit": "F",
            }
        },
    )
    h.say("powerhouse/rectifier/contactor/state", 30, "closed", relay(bank))
    h.say("powerhouse/rectifier/contactor/order", 270, "close")
    rectifier = h.around(243.0, 1.6, 900, 0.4)
    h.say(
        "powerhouse/rectifier/ac",
        10,
        bundle({"volts": (rectifier, 1), "amps": (lambda t: b.given(t) * volts(t) / 0.86 / 0.9 / rectifier(t), 2)}),
    )
    gas = h.around(2300, 260, 700, 40)
    h.say(
        "powerhouse/battery_room",
        20,
        bundle({"h2_ppm": (gas, 0), "fan": "running", "door": "shut", "lamp": "off"}),
        {
            "/h2_ppm": Truth(bank, HYDROGEN, "ppm"),
            "/fan": Truth(bank, FAN),
            "/door": Truth(bank, DOOR),
        },
    )
    # Closed for the breakers, the control battery floats in the same room.
    c = flooded(h, 12, 80, regulated(6.0, 2.255), drawn=h.around(1.4, 0.05, 500, 0.01), full=0.995, acid=17.0, air=16.3)
    control_volts, control_amps = hissing(h, c.volts, 0.006), hissing(h, c.amps, 0.01)
    h.say(
        "powerhouse/dc/control",
        5,
        bundle({"ts": stamp, "bus": {"volts": (control_volts, 2), "amps": (times(control_amps, -1.0), 2)}}),
        {"/bus/volts": Truth(control, VOLTS, "V"), "/bus/amps": Truth(control, AMPS, "A", DRAWN)},
    )
    h.say(
        "gatehouse/annunciator",
        30,
        bundle({"main_v": (sampled(volts, 10), 0), "h2_ppm": (sampled(gas, 20), 0), "text": "CHARGING", "alarms": 0}),
    )
    crowd_bundle(
        h,
        "powerhouse/turbine",
        5,
        {"rpm": (748, 3, 0), "gate_pct": (41, 2, 0), "head_ft": (63.2, 0.2, 1), "bearing_f": (118, 2, 1)},
        state="run",
    )
    crowd_bundle(
        h,
        "powerhouse/alternator",
        5,
        {"volts": (243.4, 1.5, 1), "amps": (31.0, 4.0, 1), "hz": (50.0, 0.08, 2), "kw": (7.2, 0.9, 2)},
    )
    crowd_bundle(
        h, "powerhouse/excitation", 10, {"volts": (61.3, 1.0, 1), "amps": (2.9, 0.1, 2), "winding_f": (139, 2, 1)}
    )
    crowd_bundle(
        h, "powerhouse/diesel", 30, {"starter_v": (26.1, 0.02, 2), "coolant_f": (96, 1, 1), "fuel_pct": (82, 0.1, 0)}
    )
    crowd_bundle(
        h, "river/gauge", 60, {"level_ft": (3.41, 0.02, 2), "water_f": (46.3, 0.1, 1), "batt_v": (3.61, 0.0, 2)}
    )
    for n in range(1, 7):
        watts = h.steps(80, 640, 1500, dwell=140, sigma=4)
        h.say(f"house/feeders/{n}", 10, bundle({"volts": (rectifier, 1), "watts": (watts, 0)}))
    rooms = ("hall", "library", "kitchen", "nursery", "dairy", "gun_room", "laundry")
    for room in rooms:
        crowd_bundle(
            h,
            f"house/rooms/{room}",
            90,
            {"temp_f": (h.chance.uniform(55, 71), 0.5, 1), "rh": (56, 2, 0), "batt": (88, 0, 0)},
        )
        words(h, f"house/rooms/{room}/", 180, {"lamps": "off", "radiator": "auto"})
    crowd_bundle(
        h, "house/ups", 30, {"in_v": (242, 1.3, 0), "batt_v": (54.3, 0.04, 1), "load_pct": (27, 2, 0)}, state="line"
    )
    crowd_bundle(
        h,
        "stable/floor_scrubber",
        30,
        {"pack_v": (25.9, 0.05, 2), "pack_a": (3.9, 0.1, 2), "soc": (66, 0.5, 0)},
        chemistry="LFP",
    )
    crowd_bundle(h, "dairy/cold_room", 60, {"temp_f": (38.1, 0.8, 1), "watts": (640, 30, 0)}, door="shut")
    crowd_bundle(h, "dairy/freezer", 60, {"temp_f": (-1.5, 0.8, 1), "watts": (105, 7, 0)}, door="shut")
    crowd_bundle(h, "laundry/washer", 60, {"water_f": (103, 2, 0), "watts": (420, 160, 0)}, phase="wash", minutes=36)
    crowd_bundle(
        h,
        "roof/weather",
        60,
        {"temp_f": (44.8, 0.5, 1), "inhg": (29.71, 0.01, 2), "mph": (8, 3, 0), "rain_in": (0, 0, 2)},
    )
    crowd_bundle(
        h, "house/boiler", 30, {"flow_f": (141, 2, 0), "return_f": (122, 2, 0), "psi": (21.0, 0.2, 1)}, pump="on"
    )
    for name in ("front", "yard", "powerhouse"):
        words(h, f"house/bells/{name}/", 240, {"rung": "no"})
    for name in ("avenue", "weir"):
        words(h, f"gates/{name}/", 120, {"state": "shut", "order": "shut"})
    words(h, "gatehouse/", 120, {"barrier": "down", "lamp": "on", "intercom": "idle"})
    crowd(h, "gatehouse/", 120, {"temp_f": (61.0, 0.5, 1), "visitors": (2, 0, 0)})
    router(h, "gatehouse/router", ("temp", "load", "uptime", "rate"))
    coin_cells(h, "house/windows", ("pantry", "cellar"))
    phone(h, "phones/steward")
    kept(h, "powerhouse/old_shunt", {"": '{"volts": 111.4, "amps": 0.0, "note": "removed"}'})
    return h


def hill_farm() -> House:
    """48 V on a hill, tapering with some sun; a described device with units, snake case with units in the names."""
    bank = "yard"
    h = House("hill farm", 8108, bank, {bank: 24})
    load = h.steps(2.2, 3.5, 7.8, dwell=100, sigma=0.1)
    b = flooded(h, 24, 525, regulated(60.0, 2.60), drawn=load, full=0.93, acid=30.1, air=12.0, antimony=1.1)
    volts, amps = hissing(h, b.volts, 0.015), hissing(h, b.amps, 0.08)
    homie(
        h,
        "homie/5/yard-bank",
        {
            "electrical": {
                "voltage": ("V", text(volts, 2), Truth(bank, VOLTS, "V")),
                "current": ("A", text(amps, 2), Truth(bank, AMPS, "A")),
                "power": ("W", text(product(volts, amps), 0), Truth(bank, WATTS, "W")),
                "midpoint": ("V", text(times(volts, 0.5, 0.09), 2), Truth(bank, MIDDLE, "V")),
            },
            "cell": {"acid-temperature": ("°C", text(hissing(h, b.acid, 0.04), 2), Truth(bank, ACID, "degC"))},
        },
        every=1,
    )
    # An unnamed radio thermometer hangs beside the bank; three more hang elsewhere.
    for key, (middle, truth) in {
        "thp_31aa": (20.4, None),
        "thp_5c21": (12.2, Truth(bank, AIR, "degC")),
        "thp_77b0": (10.8, None),
        "thp_90fe": (17.9, None),
    }.items():
        h.say(
            f"radio/{key}",
            60,
            bundle(
                {
                    "temperature": (h.around(middle, 0.2, 2500, 0.03), 2),
                    "humidity": (h.around(61, 2, 1800, 0.1), 1),
                    "battery": h.chance.randrange(60, 100),
                    "linkquality": (h.around(90, 14, 300, 5), 0),
                }
            ),
            {"/temperature": truth} if truth else None,
        )
    pv, sun = h.around(118.0, 3.0, 450, 0.2), h.around(1.9, 0.6, 400, 0.03)
    # What the sun gives the charger need not.
    socket = {"state": "ON"} | at_wall(h, lambda t: b.volts(t) * b.given(t) - 0.95 * pv(t) * sun(t), True, 235.0)
    h.say("radio/plug_bank_charger", 15, bundle(socket), {"/state": relay(bank)})
    h.say("radio/plug_bank_charger/set", 260, {"state": "ON"})
    for name, high in {"plug_freezer": 90.0, "plug_milk_pump": 610.0, "plug_washing_machine": 1900.0}.items():
        watts, mains = h.steps(0.0, high, dwell=130, sigma=0.5), h.around(235.0, 1.4, 800, 0.3)
        shape: dict[str, object] = {"state": "ON", "power": (watts, 1), "voltage": (mains, 1)}
        shape["current"] = (times(watts, 1 / 230.0), 2)
        h.say(f"radio/{name}", 30, bundle(shape))
    # The inverter and the panels' controller hang on the same bank and tell its volts as they see them.
    h.say("hill_farm/inverter/battery_voltage_v", 10, text(lambda t: b.volts(t) - 0.02 * load(t) + 0.07, 1))
    h.say("hill_farm/inverter/dc_draw_a", 10, text(load, 1))
    h.say("hill_farm/inverter/output_power_w", 10, text(lambda t: 0.9 * b.volts(t) * load(t), 0))
    crowd(h, "hill_farm/inverter/", 20, {"output_voltage_v": (230.1, 0.4, 1), "heatsink_temperature_c": (34.8, 1, 1)})
    h.say("hill_farm/solar/battery_voltage_v", 10, text(lambda t: b.volts(t) + 0.05, 1))
    h.say("hill_farm/solar/array_voltage_v", 10, text(pv, 1))
    h.say("hill_farm/solar/array_current_a", 10, text(sun, 2))
    h.say("hill_farm/solar/array_power_w", 10, text(product(pv, sun), 0))
    h.say("hill_farm/solar/yield_today_kwh", 60, text(h.counter(0.84, 6e-5), 2))
    one = h.around(3.333, 0.003, 800, 0.001)
    drawn = h.steps(-4.0, 6.5, 12.0, dwell=90, sigma=0.1)
    pack = "hill_farm/quad_bike/"
    h.say(f"{pack}pack_voltage_v", 10, text(times(one, 16.0), 2))
    h.say(f"{pack}pack_current_a", 10, text(drawn, 1))
    crowd(h, pack, 60, {"pack_temperature_c": (14.1, 0.2, 1), "state_of_charge_pct": (63, 0.5, 0)})
    for n in range(1, 17):
        h.say(f"{pack}cell_{n:02d}_v", 30, text(times(one, 1.0, h.chance.uniform(-0.004, 0.004)), 3))
    crowd(h, "hill_farm/tractor/", 60, {"starter_battery_v": (12.77, 0.01, 2), "fuel_level_pct": (49, 0.1, 0)})
    crowd(
        h,
        "hill_farm/grid/",
        10,
        {
            "voltage_v": (235.2, 1.5, 1),
            "current_a": (6.1, 2.2, 2),
            "power_w": (1390, 500, 0),
            "frequency_hz": (50, 0.02, 2),
        },
    )
    crowd(h, "hill_farm/office_ups/", 60, {"battery_voltage_v": (13.6, 0.02, 1), "load_pct": (12, 1, 0)})
    crowd(h, "hill_farm/milk_tank/", 60, {"temperature_c": (3.7, 0.3, 1), "level_l": (812, 1, 0)})
    crowd(h, "hill_farm/cold_store/", 60, {"temperature_c": (-17.7, 0.5, 1), "humidity_pct": (71, 2, 0)})
    crowd(
        h,
        "hill_farm/weather/",
        60,
        {
            "temperature_c": (5.2, 0.3, 1),
            "pressure_hpa": (968.4, 0.2, 1),
            "wind_speed_ms": (8.8, 3, 1),
            "rain_mm": (0.6, 0, 1),
        },
    )
    for room, middle in {"parlour": 19.9, "kitchen": 21.0, "boot_room": 13.4}.items():
        crowd(h, f"hill_farm/{room}/", 120, {"temperature_c": (middle, 0.3, 1), "humidity_pct": (58, 2, 0)})
    homie_thermostat(h, "homie/5/stove-room")
    words(h, "hill_farm/gates/", 120, {"lane": "shut", "top_field": "open"})
    router(h, "hill_farm/router", ("temperature_c", "load", "uptime_s", "rate_kbit"))
    coin_cells(h, "radio/contacts", ("front_door", "byre"))
    phone(h, "phones/shepherd")
    return h


FRESH_L = (
    kingfisher_cottage,
    mill_house,
    olive_press,
    boat_club,
    waterwheel_farm,
    hen_farm,
    power_house,
    hill_farm,
)
