"""Eight invented households on eight brokers, each wired by a different person in a different country.

In each of them exactly one flooded lead-acid bank is being equalised during the ten minutes played. Everything else
(other banks, mains, solar, lithium, starters, phones, coin cells) is company. All names are invented.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from tests.bench.households.world import START, House, Signal, Truth

#: A second device that looks at a quantity whose primary source is told in the house itself.
SECOND_C: dict[str, dict[str, Truth]] = {}

#: The part of a gassing bank's answer to a change of current that comes at once; the rest lags.
PROMPT = 0.3
#: Time constant of the lagging part [s].
LAG = 35.0


class Wet(NamedTuple):
    """One flooded bank as it is, before any meter: charging is positive."""

    volts: Signal
    amps: Signal
    acid: Signal
    blocks: tuple[Signal, ...]


def wet(
    house: House,
    *,
    volts: float,
    flow: Signal,
    ohm: float,
    acid: float,
    warming: float = 0.9,
    spread: Sequence[float] = (0.0,),
    rise: float = 0.0,
) -> Wet:
    """A bank whose volts answer its amps, partly at once and partly late.

    Parameters
    ----------
    house : House
        Who plays it.
    volts : float
        Terminal volts at the mean of the current [V].
    flow : Signal
        Charging current [A].
    ohm : float
        Slope of volts against amps once all has settled [ohm].
    acid : float
        Electrolyte at the first second [degC].
    warming : float
        Its rise [K/h].
    spread : sequence of float
        What each block has above the mean of the blocks [V]; its length is the number of blocks.
    rise : float
        Drift of the terminal volts [V/h].
    """
    seconds = house.seconds + 2
    first = sum(flow(float(s)) for s in range(0, seconds, 10)) / len(range(0, seconds, 10))
    lagging = [flow(0.0) - first]
    for s in range(1, seconds + 1):
        lagging.append(lagging[-1] + (flow(float(s)) - first - lagging[-1]) / LAG)

    def late(t: float) -> float:
        at = min(int(t), seconds - 1)
        return lagging[at] + (lagging[at + 1] - lagging[at]) * (t - at)

    def terminal(t: float) -> float:
        return volts + rise * t / 3600.0 + ohm * (PROMPT * (flow(t) - first) + (1.0 - PROMPT) * late(t))

    mean = sum(spread) / len(spread)
    count = len(spread)

    def block(extra: float) -> Signal:
        return lambda t: terminal(t) / count + extra - mean

    sway = house.around(0.0, 0.015, 500.0)
    return Wet(
        terminal, flow, lambda t: acid + warming * t / 3600.0 + sway(t) - sway(0.0), tuple(block(s) for s in spread)
    )


def off_for(level: Signal, begin: float, length: float, idle: float) -> Signal:
    """A current that is `idle` [A] from `begin` for `length` [s], and `level` otherwise."""
    return lambda t: idle if begin <= t < begin + length else level(t)


def smooth(rough: Signal, width: float) -> Signal:
    """The mean of a jumping signal over the last `width` [s]."""
    return lambda t: sum(rough(max(0.0, t - width * k / 7.0)) for k in range(8)) / 8.0


def seen(house: House, signal: Signal, sigma: float, digits: int = 2, gain: float = 1.0, offset: float = 0.0) -> Signal:
    """What a meter says of a signal: with a gain, an offset, a noise and so many digits."""
    noise = house.noise(sigma)
    return lambda t: round(signal(t) * gain + offset + noise(t), digits)


def whole(house: House, signal: Signal, sigma: float, gain: float) -> Callable[[float], int]:
    """What a meter says that counts in integers; `sigma` is in its own counts."""
    noise = house.noise(sigma)
    return lambda t: round(signal(t) * gain + noise(t))


def sixteenths(house: House, signal: Signal, sigma: float = 0.01) -> Signal:
    """A thermometer with steps of a sixteenth of a kelvin."""
    noise = house.noise(sigma)
    return lambda t: round((signal(t) + noise(t)) * 16.0) / 16.0


def text(signal: Signal, form: str, comma: bool = False) -> Callable[[float], str]:
    """A number written out, with a point or a comma."""
    if comma:
        return lambda t: form.format(signal(t)).replace(".", ",")
    return lambda t: form.format(signal(t))


def fahrenheit(signal: Signal) -> Signal:
    """A temperature in [degF] from one in [degC]."""
    return lambda t: signal(t) * 1.8 + 32.0


def stamp(t: float, back: float = 0.0) -> int:
    """Epoch seconds of a second of play, or of some time before it."""
    return int(START + t - back)


def hvidmose() -> House:
    """Play Denmark: a retired ship's engineer; a hub writes each attribute of an entity to its topic."""
    house = House("hvidmose", 3101, "bank", {"bank": 12})
    flow = off_for(house.around(10.4, 0.12, 700.0), 322.0, 64.0, -0.2)
    lead = wet(house, volts=31.1, flow=flow, ohm=0.21, acid=27.4, warming=1.1, rise=0.12)
    room = house.around(14.2, 0.3, 1500.0, 0.02)

    def entity(
        domain: str,
        name: str,
        every: float,
        state: Callable[[float], object],
        friendly: str,
        unit: str = "",
        kind: str = "",
        truth: Truth | None = None,
    ) -> None:
        root = f"stream/{domain}/{name}"
        house.say(f"{root}/state", every, lambda t: str(state(t)), truth)
        house.say(f"{root}/friendly_name", 600.0, json.dumps(friendly, ensure_ascii=False), retain=True)
        if unit:
            house.say(f"{root}/unit_of_measurement", 600.0, json.dumps(unit, ensure_ascii=False), retain=True)
        if kind:
            house.say(f"{root}/device_class", 600.0, json.dumps(kind), retain=True)

    volts, amps = seen(house, lead.volts, 0.008), seen(house, lead.amps, 0.03, 1)
    entity("sensor", "bank_spaending", 10, volts, "Bank spænding", "V", "voltage", Truth("bank", "voltage", "V"))
    entity("sensor", "bank_stroem", 10, amps, "Bank strøm", "A", "current", Truth("bank", "current", "A"))
    entity("sensor", "bank_effekt", 10, lambda t: round(volts(t) * amps(t)), "Bank effekt", "W", "power")
    entity("sensor", "lader_udgang_v", 15, seen(house, lambda t: lead.volts(t) + 0.011 * flow(t), 0.03, 1), "Lader ud",
           "V", "voltage")  # fmt: skip
    entity("sensor", "lader_udgang_a", 15, seen(house, lambda t: max(0.0, flow(t)), 0.05, 1), "Lader strøm", "A",
           "current")  # fmt: skip
    entity("sensor", "inverter_dc", 30, seen(house, lead.volts, 0.05, 1), "Inverter DC-side", "V", "voltage")
    entity("sensor", "celle_7_syre", 30, sixteenths(house, lead.acid), "Syre celle 7", "°C", "temperature",
           Truth("bank", "electrolyte_temperature", "degC"))  # fmt: skip
    entity("sensor", "batterirum_luft", 30, seen(house, room, 0.03, 1), "Batterirum", "°C", "temperature",
           Truth("bank", "ambient_temperature", "degC"))  # fmt: skip
    entity("sensor", "lader_koeleplade", 30, seen(house, house.around(41.5, 1.2, 800.0), 0.1, 1), "Lader køleplade",
           "°C", "temperature")  # fmt: skip
    entity("sensor", "stue", 60, seen(house, house.around(21.1, 0.3), 0.04, 1), "Stue", "°C", "temperature")
    entity("sensor", "ude_nord", 60, seen(house, house.around(4.6, 0.4), 0.05, 1), "Ude nord", "°C", "temperature")
    entity("sensor", "traktor_startbatteri", 20, seen(house, house.around(12.68, 0.01), 0.01), "Traktor", "V",
           "voltage")  # fmt: skip
    for phase in (1, 2, 3):
        entity("sensor", f"elmaaler_l{phase}", 10, seen(house, house.around(230.8, 1.1, 400.0), 0.3, 1),
               f"Elmåler L{phase}", "V", "voltage")  # fmt: skip
    entity("sensor", "elmaaler_effekt", 10, seen(house, house.steps(420, 655, 2380), 12, 0), "Forbrug", "W", "power")
    entity("sensor", "tag_syd_v", 20, seen(house, house.around(96.0, 9.0, 300.0), 0.5, 1), "Tag syd", "V", "voltage")
    entity("sensor", "tag_syd_a", 20, seen(house, house.around(1.2, 0.5, 300.0), 0.03, 1), "Tag syd", "A", "current")
    entity("sensor", "broend_pumpe", 20, seen(house, house.steps(12.1, 11.7), 0.02, 1), "Brøndpumpe", "V", "voltage")
    entity("sensor", "gammel_shunt", 30, lambda _t: "-3.7", "Gammel shunt (død)", "A", "current")
    entity("sensor", "gammel_syrefoeler", 60, lambda _t: "unavailable", "Syreføler 1", "°C", "temperature")
    entity("sensor", "telefon_batteri", 120, house.counter(71, -0.0), "Telefon", "%", "battery")
    entity("sensor", "telefon_temperatur", 120, seen(house, house.around(28.8, 0.4), 0.1, 1), "Telefon", "°C",
           "temperature")  # fmt: skip
    for door, percent in (("hoveddoer", 84), ("vaerksted", 37)):
        entity("sensor", f"{door}_batteri", 300, lambda _t, p=percent: p, f"{door} batteri", "%", "battery")  # type: ignore[misc]
        entity("binary_sensor", door, 200, lambda _t: "off", door, "", "door")
    entity("switch", "lader_relae", 120, lambda t: "off" if 322.0 <= t < 386.0 else "on", "Lader relæ")
    entity("sun", "sun", 300, lambda _t: "below_horizon", "Sol")
    SECOND_C[house.name] = {
        "stream/sensor/lader_udgang_v/state": Truth("bank", "voltage", "V"),
        "stream/sensor/lader_udgang_a/state": Truth("bank", "current", "A"),
        "stream/sensor/inverter_dc/state": Truth("bank", "voltage", "V"),
    }
    return house


def vale_seco() -> House:
    """Play Portugal: a physics teacher; home-made boards publish bare numbers under channel ids, names on paper."""
    house = House("vale_seco", 3202, "barn", {"barn": 12})
    flow = smooth(house.steps(8.7, 9.1, 9.6, dwell=75.0), 6.0)
    lead = wet(house, volts=31.6, flow=flow, ohm=0.24, acid=33.1, warming=0.8, spread=(0.05, -0.11, 0.02, 0.04))
    air = house.around(18.7, 0.5, 1300.0, 0.02)

    for channel, block in enumerate(lead.blocks):
        house.say(f"n/3c71/{channel}", 6, whole(house, block, 3.0, 1000.0), Truth("barn", "block_voltage", "mV"))
    for channel in (4, 5, 6):
        house.say(f"n/3c71/{channel}", 6, whole(house, house.around(3.0), 2.0, 1.0))
    house.say("n/3c71/7", 6, whole(house, house.around(3301.0), 1.5, 1.0))
    house.say("n/a05e/0", 5, seen(house, lead.volts, 0.01), Truth("barn", "voltage", "V"))
    house.say("n/a05e/1", 5, whole(house, lead.amps, 14.0, 1000.0), Truth("barn", "current", "mA"))
    house.say("n/a05e/2", 5, seen(house, house.around(13.31, 0.02), 0.008))
    house.say("n/a05e/3", 5, whole(house, house.around(-610.0, 40.0, 200.0), 9.0, 1.0))
    house.say("n/a05e/4", 5, seen(house, house.around(12.04, 0.0), 0.01))
    house.say("n/a05e/5", 5, whole(house, house.steps(380.0, 545.0), 6.0, 1.0))

    # Ten cells of an electric bicycle's pack on charge, and the pack.
    step = house.counter(3.912, 0.00002)
    for channel, extra in enumerate((0.0, 0.004, -0.003, 0.001, 0.006, -0.011, 0.002, 0.0, 0.003, -0.002)):
        house.say(f"n/b713/{channel}", 12, seen(house, step, 0.001, 3, 1.0, extra))
    house.say("n/b713/10", 12, seen(house, step, 0.004, 2, 10.0))
    house.say("n/b713/11", 12, seen(house, house.around(1.98), 0.01))
    house.say("n/b713/12", 30, seen(house, house.around(24.4, 0.3), 0.05, 1))

    probes: tuple[tuple[str, Signal, str], ...] = (
        ("28a1", house.around(5.2, 0.6, 1100.0), ""),
        ("28c9", lead.acid, "electrolyte_temperature"),
        ("2817", house.around(46.8, 0.9, 1400.0), ""),
        ("28e4", air, "ambient_temperature"),
        ("2870", house.around(15.3, 0.5, 1700.0), ""),
        ("28bb", house.around(21.4, 0.3, 1700.0), ""),
    )
    for rom, signal, quantity in probes:
        house.say(f"n/19d2/{rom}", 20, sixteenths(house, signal), Truth("barn", quantity, "degC") if quantity else None)
    house.say("n/19d2/28ff", 20, 85.0)
    house.say("n/19d2/2803", 20, -127.0)

    for channel, (middle, swing, sigma) in enumerate(
        ((231.4, 1.6, 0.3), (3.4, 1.9, 0.05), (49.99, 0.02, 0.01), (0.93, 0.03, 0.01), (742.0, 390.0, 8.0))
    ):
        house.say(f"n/66f0/{channel}", 5, seen(house, house.around(middle, swing, 350.0), sigma))
    house.say("n/66f0/5", 30, seen(house, house.counter(18222.31, 0.0002), 0.0))
    for channel, (middle, swing) in enumerate(((38.6, 2.0), (4.1, 1.2), (158.0, 50.0), (0.0, 0.0), (14.4, 0.3))):
        house.say(f"n/8d24/{channel}", 7, seen(house, house.around(middle, swing, 280.0), 0.03))
    for channel, (middle, swing) in enumerate(((62.0, 2.0), (1016.4, 0.3), (412.0, 30.0), (0.0, 0.0), (3.02, 0.0))):
        house.say(f"n/e5c8/{channel}", 30, seen(house, house.around(middle, swing, 900.0), 0.05, 1))
    for board in ("3c71", "a05e", "b713", "19d2", "66f0", "8d24", "e5c8"):
        house.say(f"n/{board}/up", 30, whole(house, house.counter(51000.0 + 7 * int(board[1], 16), 1.0), 0.0, 1.0))
        house.say(f"n/{board}/rssi", 30, whole(house, house.around(-63.0, 4.0), 1.0, 1.0))
        house.say(f"n/{board}/ok", 60, "1", retain=True)
    SECOND_C[house.name] = {}
    return house


def koivuranta() -> House:
    """Play Finland: a carpenter's cottage; flat Finnish names, two flooded banks, meters that count discharge up."""
    house = House("koivuranta", 3303, "akku", {"akku": 6, "vara": 6})
    # The charger's own thermostat takes it off for half a minute in every two and a half.
    on = house.around(8.2, 0.1, 500.0)

    def flow(t: float) -> float:
        return on(t) if (t + 40.0) % 150.0 < 118.0 else -0.7

    lead = wet(house, volts=15.3, flow=flow, ohm=0.16, acid=19.6, warming=0.6, spread=(0.06, -0.06), rise=0.05)
    spare = wet(house, volts=13.52, flow=house.around(0.31, 0.03, 600.0), ohm=0.2, acid=9.0, warming=0.0)
    hut = house.around(8.4, 0.4, 1200.0, 0.02)

    volts, amps = seen(house, lead.volts, 0.006), seen(house, flow, 0.02, 2, -1.0)
    spare_volts, spare_amps = seen(house, spare.volts, 0.006), seen(house, spare.amps, 0.01, 2, -1.0)
    house.say("akku_jannite", 8, volts, Truth("akku", "voltage", "V"))
    house.say("akku_virta", 8, amps, Truth("akku", "current", "A", "discharging"))
    house.say("akku_teho", 8, lambda t: round(volts(t) * amps(t), 1))
    house.say("akku_puoli1", 20, seen(house, lead.blocks[0], 0.005), Truth("akku", "block_voltage", "V"))
    house.say("akku_puoli2", 20, seen(house, lead.blocks[1], 0.005), Truth("akku", "block_voltage", "V"))
    house.say("happo_lampo", 25, sixteenths(house, lead.acid), Truth("akku", "electrolyte_temperature", "degC"))
    house.say("akkukoppi_lampo", 25, sixteenths(house, hut), Truth("akku", "ambient_temperature", "degC"))
    house.say("vara_jannite", 8, spare_volts, Truth("vara", "voltage", "V"))
    house.say("vara_virta", 8, spare_amps, Truth("vara", "current", "A", "discharging"))
    house.say("vara_teho", 8, lambda t: round(spare_volts(t) * spare_amps(t), 1))
    house.say("laturi_jannite", 15, seen(house, lambda t: lead.volts(t) + 0.012 * max(0.0, flow(t)), 0.03, 1))
    house.say("laturi_virta", 15, seen(house, lambda t: max(0.0, flow(t)), 0.04, 1))
    house.say("laturi_lampo", 25, seen(house, house.around(52.0, 6.0, 150.0), 0.3, 0))
    house.say("laturi_tila", 60, "päällä", retain=True)
    house.say("vene_kaynnistys_jannite", 20, seen(house, house.around(12.54, 0.0), 0.01))
    house.say("traktori_jannite", 20, seen(house, house.around(12.81, 0.0), 0.01))
    house.say("monkija_jannite", 3600, "12.33", retain=True)
    for phase in (1, 2, 3):
        house.say(f"verkko_l{phase}_jannite", 10, seen(house, house.around(233.0, 2.0, 380.0), 0.3, 1))
        house.say(f"verkko_l{phase}_virta", 10, seen(house, house.steps(0.4, 2.1, 8.8), 0.03))
        house.say(f"verkko_l{phase}_teho", 10, seen(house, house.steps(92.0, 480.0, 2010.0), 4.0, 0))
    house.say("verkko_energia", 60, seen(house, house.counter(41877.2, 0.0004), 0.0))
    house.say("aurinko_jannite", 15, seen(house, house.around(17.6, 0.5), 0.05))
    house.say("aurinko_virta", 15, seen(house, house.around(0.22, 0.1), 0.01))
    for place, middle in (
        ("tupa", 20.6), ("sauna", 31.2), ("loyly", 74.0), ("ulko_pohjoinen", -3.4), ("ulko_etela", -2.1),
        ("kaivo", 4.1), ("jaakaappi", 4.8), ("pakastin", -18.6), ("varaaja_yla", 61.0), ("varaaja_ala", 38.5),
        ("lattia", 24.2), ("puuvaja", -0.8), ("savupiippu", 141.0), ("kuisti", 3.3), ("ullakko", 6.0),
    ):  # fmt: skip
        house.say(f"{place}_lampo", 40, seen(house, house.around(middle, 0.4, 1300.0), 0.05, 1))
    for place, middle in (("tupa", 41.0), ("sauna", 33.0), ("ulko", 88.0), ("kellari", 79.0)):
        house.say(f"{place}_kosteus", 60, seen(house, house.around(middle, 1.5), 0.3, 0))
    for place, volts_of in (("ovi", 2.97), ("ikkuna", 3.04), ("postilaatikko", 2.71), ("palovaroitin", 2.88)):
        house.say(f"{place}_paristo", 200, volts_of, retain=place == "postilaatikko")
    for who, percent in (("isanta", 58), ("emanta", 93), ("tabletti", 20)):
        house.say(f"puhelin_{who}_akku", 120, percent)
        house.say(f"puhelin_{who}_akku_lampo", 120, seen(house, house.around(26.0, 1.0), 0.2, 1))
    house.say("reititin_jannite", 20, seen(house, house.around(12.12, 0.0), 0.01))
    house.say("pumppu_jannite", 20, seen(house, house.steps(12.3, 11.8, 12.3), 0.02))
    house.say("pumppu_virta", 20, seen(house, house.steps(0.0, 4.3, 0.0), 0.02))
    house.say("ilmanpaine", 60, seen(house, house.around(1003.8, 0.2), 0.05, 1))
    house.say("tuuli", 15, seen(house, house.around(3.1, 1.4, 200.0), 0.3, 1))
    for lamp in ("tupa", "sauna", "piha", "laituri"):
        house.say(f"{lamp}_valo", 120, "0" if lamp != "tupa" else "1", retain=True)
    house.say("vanha_akku_virta", 30, "-0.02")
    house.say("vanha_akku_jannite", 3600, "24.71", retain=True)
    SECOND_C[house.name] = {
        "laturi_jannite": Truth("akku", "voltage", "V"),
        "laturi_virta": Truth("akku", "current", "A"),
    }
    return house


def quebrada_honda() -> House:
    """Play Chile: a mining electrician; all is nested JSON with arrays, two flooded banks in one message."""
    house = House("quebrada_honda", 3404, "norte", {"norte": 24, "sur": 24})
    flow = smooth(house.steps(19.0, 24.0, 26.5, 27.5, dwell=55.0), 8.0)
    lead = wet(house, volts=61.9, flow=flow, ohm=0.11, acid=38.3, warming=1.6, spread=(0.10, -0.17, 0.02, 0.05))
    load = house.around(-6.2, 0.8, 240.0)
    other = wet(house, volts=49.3, flow=load, ohm=0.035, acid=22.8, warming=-0.1, spread=(0.0, 0.01, -0.02, 0.01),
                rise=-0.3)  # fmt: skip
    room = house.around(24.9, 0.5, 1400.0, 0.03)

    def of(name: str, it: Wet, air: Signal | None) -> Callable[[float], dict[str, object]]:
        volts, amps = seen(house, it.volts, 0.015), seen(house, it.amps, 0.06, 1)
        blocks, acid = [seen(house, b, 0.008) for b in it.blocks], seen(house, it.acid, 0.04, 1)

        def says(t: float) -> dict[str, object]:
            told: dict[str, object] = {
                "id": name,
                "med": {"v": volts(t), "i": amps(t), "p": round(volts(t) * amps(t))},
                "bloques": [b(t) for b in blocks],
                "temp": [acid(t)] if air is None else [round(air(t), 1), acid(t), round(air(t) + 9.4, 1)],
            }
            return told

        return says

    north, south = of("N", lead, room), of("S", other, None)
    house.say(
        "qh/energia/bancos",
        10,
        lambda t: {"ts": stamp(t), "n": 2, "bancos": [north(t), south(t)]},
        {
            "/bancos/0/med/v": Truth("norte", "voltage", "V"),
            "/bancos/0/med/i": Truth("norte", "current", "A"),
            **{f"/bancos/0/bloques/{k}": Truth("norte", "block_voltage", "V") for k in range(4)},
            "/bancos/0/temp/0": Truth("norte", "ambient_temperature", "degC"),
            "/bancos/0/temp/1": Truth("norte", "electrolyte_temperature", "degC"),
            "/bancos/1/med/v": Truth("sur", "voltage", "V"),
            "/bancos/1/med/i": Truth("sur", "current", "A"),
            "/bancos/1/temp/0": Truth("sur", "electrolyte_temperature", "degC"),
        },
    )
    out_volts = seen(house, lambda t: lead.volts(t) + 0.006 * flow(t), 0.05, 1)
    out_amps, strings = seen(house, flow, 0.1, 1), [house.around(118.0, 4.0, 200.0, 0.5) for _ in range(2)]
    house.say(
        "qh/energia/regulador/1",
        10,
        lambda t: {
            "ts": stamp(t),
            "fv": {"v": [round(s(t), 1) for s in strings], "w": round(out_volts(t) * out_amps(t) / 0.96)},
            "sal": {"v": out_volts(t), "i": out_amps(t)},
            "disipador": round(49.0 + 0.2 * flow(t), 0),
            "modo": 4,
        },
    )
    idle = house.around(0.4, 0.05)
    house.say(
        "qh/energia/regulador/2",
        10,
        lambda t: {
            "ts": stamp(t),
            "fv": {"v": [21.3, 0.0], "w": 0},
            "sal": {"v": 0.0, "i": 0.0},
            "disipador": 23 + round(idle(t)),
            "modo": 0,
        },
    )
    mains = house.around(221.0, 1.5, 300.0, 0.3)
    house.say(
        "qh/energia/inversor",
        10,
        lambda t: {
            "dc": {"v": round(other.volts(t) - 0.1, 1), "i": round(-load(t), 1)},
            "ac": {"v": round(mains(t), 1), "hz": 50.0, "w": round(-load(t) * other.volts(t) * 0.9)},
            "alarmas": [],
        },
    )
    house.say("qh/energia/config", 600, {"bancos": [{"id": "N", "ah": 420}, {"id": "S", "ah": 420}]}, retain=True)
    cell = house.around(3.328, 0.003)
    mode = [0.001, -0.002, 0.0, 0.003, -0.001, 0.002, 0.0, -0.004, 0.001, 0.0, 0.002, -0.001, 0.0, 0.001, -0.001, 0.0]
    house.say(
        "qh/taller/litio",
        15,
        lambda t: {
            "celdas": [round(cell(t) + m, 3) for m in mode],
            "pack": {"v": round(16 * cell(t), 2), "i": 2.1, "soc": 64},
            "ntc": [23, 24, 23],
        },
    )
    for place, middle in (
        ("living", 21.0), ("cocina", 22.4), ("dormitorio1", 19.6), ("dormitorio2", 19.2), ("bodega", 15.8),
        ("gallinero", 12.1), ("patio", 11.4), ("invernadero", 26.7), ("bano", 22.0), ("galpon", 16.9),
        ("refrigerador", 4.2), ("congelador", -17.4), ("camara", 2.9), ("entretecho", 29.5), ("pozo", 13.3),
    ):  # fmt: skip
        warm, moist = house.around(middle, 0.4, 1200.0, 0.04), house.around(48.0, 4.0, 900.0)
        coin = house.chance.choice((2905, 2985, 3010, 2760))
        house.say(
            f"qh/sensores/{place}",
            45,
            lambda t, w=warm, m=moist, c=coin: {
                "datos": [{"k": "temp", "x": round(w(t), 1)}, {"k": "hum", "x": round(m(t))}],
                "pila": {"mv": c, "pct": (c - 2500) // 5},
                "rf": [-71, 118],
            },
        )
    for plug, watts in (
        ("lavadora", 480.0), ("tele", 92.0), ("hervidor", 0.0), ("router", 9.0), ("freezer", 74.0),
        ("compresor", 0.0), ("taladro", 0.0), ("pc", 131.0), ("estufa", 1200.0), ("cargador_bici", 95.0),
    ):  # fmt: skip
        draw, line = house.steps(watts, watts * 0.97, sigma=0.4), house.around(220.4, 1.2, 300.0)
        house.say(
            f"qh/enchufes/{plug}/estado",
            20,
            lambda t, d=draw, n=line: {
                "on": True,
                "ac": {"v": round(n(t), 1), "i": round(max(0.0, d(t)) / n(t), 3), "w": round(max(0.0, d(t)), 1)},
                "wh": [12.1, 0.4, 33.0],
            },
        )
        house.say(f"qh/enchufes/{plug}/lwt", 600, "online", retain=True)
    for car, rest in (("camioneta", 12.61), ("moto", 12.84), ("generador", 13.02)):
        start = seen(house, house.around(rest, 0.01), 0.01)
        house.say(f"qh/vehiculos/{car}", 30, lambda t, s=start: {"bat": [s(t), None], "km": 88211})
    for phone in ("a", "b", "c"):
        house.say(f"qh/fonos/{phone}", 120, {"bat": {"pct": 66, "t": 30.2, "mv": 3987}, "pos": [0.0, 0.0]})
    tank = house.around(1.61, 0.02)
    house.say("qh/agua/estanque", 30, lambda t: {"nivel": [round(tank(t), 2), 2.4], "bomba": {"v": 12.2, "i": 0.0}})
    for valve in range(1, 9):
        house.say(f"qh/riego/{valve}", 90, {"abierta": valve == 3, "lpm": [4.1 if valve == 3 else 0.0, 6.0]})
    house.say("qh/meteo", 30, {"t": 11.6, "hr": 52, "viento": [2.2, 4.0], "rad": 611})
    house.say("qh/energia/bancos_viejo", 600, {"bancos": [{"id": "V", "med": {"v": 25.9, "i": 4.0}}]}, retain=True)
    for node in ("nodo1", "nodo2", "nodo3", "nodo4"):
        house.say(f"qh/red/{node}", 60, lambda t: {"up": stamp(t) - 1795000000, "heap": [38112, 35200], "vcc": 3.29})
    SECOND_C[house.name] = {
        "qh/energia/regulador/1 /sal/v": Truth("norte", "voltage", "V"),
        "qh/energia/regulador/1 /sal/i": Truth("norte", "current", "A"),
        "qh/energia/inversor /dc/v": Truth("sur", "voltage", "V"),
        "qh/energia/inversor /dc/i": Truth("sur", "current", "A", "discharging"),
    }
    return house


def kavungal() -> House:
    """Play India: a schoolmaster's home inverter; each point is a name, a value, a unit; some packed as SenML."""
    house = House("kavungal", 3505, "tubular", {"tubular": 12})
    creep = house.around(0.0, 0.04, 400.0)

    # Held at a fixed voltage: the current falls off by itself, and the volts stand.
    def flow(t: float) -> float:
        return 4.6 + 1.3 * math.exp(-t / 1900.0) + creep(t)

    lead = wet(house, volts=31.2, flow=flow, ohm=0.012, acid=39.2, warming=0.7, spread=(0.12, -0.12))
    room = house.around(31.3, 0.3, 1500.0, 0.03)

    def point(topic: str, every: float, name: str, value: Callable[[float], object], unit: str,
              truth: Truth | None = None) -> None:  # fmt: skip
        house.say(
            topic,
            every,
            lambda t: {"name": name, "value": value(t), "unit": unit},
            {"/value": truth} if truth else None,
        )

    volts, amps = seen(house, lead.volts, 0.012), seen(house, flow, 0.02)
    names = {
        "bat/string/u": volts,
        "bat/string/i": amps,
        "bat/b1/u": seen(house, lead.blocks[0], 0.006),
        "bat/b2/u": seen(house, lead.blocks[1], 0.006),
    }
    house.say(
        "kv/pack/power",
        10,
        lambda t: (
            [
                {"n": name, "u": "A" if name.endswith("/i") else "V", "v": told(t), "t": stamp(t)}
                for name, told in names.items()
            ]
            + [{"n": "bat/string/p", "u": "W", "v": round(volts(t) * amps(t), 1), "t": stamp(t)}]
        ),
        {
            "bat/string/u": Truth("tubular", "voltage", "V"),
            "bat/string/i": Truth("tubular", "current", "A"),
            "bat/b1/u": Truth("tubular", "block_voltage", "V"),
            "bat/b2/u": Truth("tubular", "block_voltage", "V"),
        },
    )
    point("kv/pt/014", 30, "B1 cell 3 acid", seen(house, lead.acid, 0.05, 1), "degC",
          Truth("tubular", "electrolyte_temperature", "degC"))  # fmt: skip
    point("kv/pt/015", 30, "batt shelf air", seen(house, room, 0.04, 1), "degC",
          Truth("tubular", "ambient_temperature", "degC"))  # fmt: skip
    point("kv/pt/016", 60, "B1 hydrometer", seen(house, house.counter(1.2514, 0.0000004), 0.0003, 4), "",
          Truth("tubular", "gravity", ""))  # fmt: skip
    point("kv/pt/017", 30, "inverter transformer", seen(house, house.around(48.0, 0.6), 0.2, 1), "degC")
    point("kv/pt/018", 30, "inverter DC", seen(house, lead.volts, 0.06, 1, 1.0, -0.1), "V")
    point("kv/pt/019", 30, "inverter charge amps", seen(house, flow, 0.06, 1), "A")
    point("kv/pt/020", 10, "mains in", seen(house, house.around(228.0, 5.0, 300.0), 0.6, 1), "V")
    point("kv/pt/021", 10, "mains freq", seen(house, house.around(49.97, 0.03, 200.0), 0.01), "Hz")
    point("kv/pt/022", 10, "load", seen(house, house.steps(212.0, 340.0, 1480.0), 4.0, 0), "W")
    point("kv/pt/023", 10, "load amps", seen(house, house.steps(0.9, 1.5, 6.4), 0.03), "A")
    point("kv/pt/024", 20, "roof panel", seen(house, house.around(36.4, 0.7, 250.0), 0.1, 1), "V")
    point("kv/pt/025", 20, "roof panel amps", seen(house, house.around(5.6, 0.9, 250.0), 0.05), "A")
    point("kv/pt/026", 20, "scooter", seen(house, house.around(12.71, 0.0), 0.01), "V")
    point("kv/pt/027", 20, "car", seen(house, house.around(12.48, 0.0), 0.01), "V")
    point("kv/pt/028", 20, "ONT supply", seen(house, house.around(12.06, 0.0), 0.01), "V")
    point("kv/pt/029", 20, "sump pump", seen(house, house.steps(0.0, 12.2), 0.03), "V")
    point("kv/pt/030", 20, "torch cell", seen(house, house.around(4.09, 0.0), 0.003, 3), "V")
    point("kv/pt/031", 20, "cordless drill", seen(house, house.around(19.7, 0.0), 0.01), "V")
    point("kv/pt/032", 60, "acid probe 2 (broken)", lambda _t: None, "degC")
    point("kv/pt/033", 60, "old clamp", lambda _t: 32.767, "A")
    for number, (name, middle, unit) in enumerate(
        (
            ("hall", 29.4, "degC"), ("kitchen", 31.0, "degC"), ("terrace", 33.8, "degC"), ("well water", 26.1, "degC"),
            ("fridge", 5.6, "degC"), ("freezer", -15.0, "degC"), ("study", 29.0, "degC"), ("cowshed", 30.9, "degC"),
            ("solar water", 58.0, "degC"), ("hall rh", 71.0, "%"), ("kitchen rh", 74.0, "%"), ("terrace rh", 66.0, "%"),
            ("tank level", 63.0, "%"), ("rain", 0.0, "mm"), ("pressure", 1009.2, "hPa"), ("soil 1", 41.0, "%"),
            ("soil 2", 38.0, "%"), ("lux", 8800.0, "lx"), ("gas", 212.0, "ppm"), ("PM", 38.0, "ug/m3"),
        ),
        start=41,
    ):  # fmt: skip
        point(f"kv/pt/0{number}", 45, name, seen(house, house.around(middle, 0.01 * abs(middle)), 0.05, 1), unit)
    for room_name in ("hall", "kitchen", "gate", "pooja", "stairs", "store"):
        coin = seen(house, house.around(2.96, 0.0), 0.004, 3)
        house.say(
            f"kv/pack/{room_name}",
            60,
            lambda t, r=room_name, c=coin: [
                {"bn": f"kv/{r}/", "bt": stamp(t), "n": "cell", "u": "V", "v": c(t)},
                {"n": "lamp", "vb": r == "hall"},
                {"n": "motion", "v": 0},
            ],
        )
    for appliance in ("fan1", "fan2", "fan3", "mixer", "iron", "tv", "geyser", "washer"):
        point(f"kv/plug/{appliance}/w", 20, f"{appliance} power", seen(house, house.steps(0.0, 61.0), 0.4, 1), "W")
        point(f"kv/plug/{appliance}/v", 20, f"{appliance} volt", seen(house, house.around(227.0, 4.0), 0.5, 1), "V")
    for phone, percent in (("amma", 44), ("teacher", 81)):
        point(f"kv/phone/{phone}", 120, "battery", lambda _t, p=percent: p, "%")  # type: ignore[misc]
        point(f"kv/phone/{phone}/temp", 120, "battery temp", seen(house, house.around(33.5, 0.4), 0.1, 1), "degC")
    house.say("kv/note", 600, "equalise from 9 till 1, top up after", retain=True)
    house.say("kv/pt/099", 600, {"name": "yesterday peak", "value": 28.9, "unit": "V"}, retain=True)
    SECOND_C[house.name] = {
        "kv/pt/018 /value": Truth("tubular", "voltage", "V"),
        "kv/pt/019 /value": Truth("tubular", "current", "A"),
    }
    return house


def drygulch() -> House:
    """Play the western plains of the USA: a rancher's son; registers, scaled integers, a bare shunt, Fahrenheit."""
    house = House("drygulch", 3606, "shed", {"shed": 24})
    # A generator that hunts feeds the charger.
    hunt = house.around(0.0, 1.6, 43.0)
    flow: Signal = lambda t: 43.5 + hunt(t)  # noqa: E731
    lead = wet(house, volts=62.6, flow=flow, ohm=0.045, acid=36.6, warming=2.0, rise=0.3,
               spread=(0.03, -0.05, 0.01, 0.02, -0.09, 0.04, 0.02, 0.02))  # fmt: skip
    air = house.around(11.0, 0.5, 1300.0, 0.03)

    def register(number: int, every: float, says: Callable[[float], object], note: str = "", scale: float = 0.0,
                 truth: Truth | None = None) -> None:  # fmt: skip
        house.say(f"dg/r/{number}", every, says, truth)
        if note:
            house.say(f"dg/map/{number}", 600, {"what": note, "scale": scale} if scale else {"what": note}, retain=True)

    register(4001, 5, whole(house, lead.volts, 1.2, 100.0), "main bus", 0.01, Truth("shed", "voltage", "cV"))
    # A shunt of 500 A / 50 mV in the negative lead, read the way that makes a draw positive.
    house.say("dg/shunt", 5, seen(house, flow, 0.006, 3, -0.1), Truth("shed", "current", "mV", "discharging"))
    house.say("dg/shunt/plate", 600, "500A 50mV", retain=True)
    for number, block in enumerate(lead.blocks):
        register(4010 + number, 15, whole(house, block, 4.0, 1000.0), "", 0.0, Truth("shed", "block_voltage", "mV"))
    house.say("dg/temp/1", 30, seen(house, fahrenheit(air), 0.08, 1), Truth("shed", "ambient_temperature", "degF"))
    house.say("dg/temp/2", 30, seen(house, fahrenheit(house.around(3.5, 0.5)), 0.08, 1))
    house.say("dg/temp/3", 30, seen(house, fahrenheit(lead.acid), 0.06, 1),
              Truth("shed", "electrolyte_temperature", "degF"))  # fmt: skip
    house.say("dg/temp/4", 30, seen(house, fahrenheit(house.around(78.0, 2.0)), 0.2, 1))
    house.say("dg/temp/5", 30, seen(house, fahrenheit(house.around(20.5, 0.3)), 0.08, 1))
    house.say("dg/temp/6", 30, 32.0)
    register(4031, 10, whole(house, lead.volts, 3.0, 10.0), "charger dc", 0.1)
    register(4032, 10, whole(house, flow, 0.6, 1.0), "charger amps", 1.0)
    register(4033, 10, whole(house, house.around(118.0, 2.0, 43.0), 0.5, 1.0), "gen ac", 1.0)
    register(4034, 10, whole(house, house.around(601.0, 7.0, 43.0), 1.0, 1.0), "gen hz", 0.1)
    register(4035, 10, whole(house, house.around(26.4, 1.2, 43.0), 0.3, 10.0), "gen amps", 0.1)
    register(4036, 60, whole(house, house.counter(88120.0, 1.0 / 36.0), 0.0, 1.0), "gen hours", 0.01)
    register(4041, 15, whole(house, house.around(1284.0, 2.0), 1.0, 1.0), "gen crank batt", 0.01)
    register(4042, 15, whole(house, house.around(1262.0, 0.0), 1.0, 1.0), "pickup", 0.01)
    register(4043, 15, whole(house, house.around(1337.0, 2.0), 1.0, 1.0))
    register(4044, 15, whole(house, house.around(1208.0, 0.0), 1.0, 1.0), "barn router", 0.01)
    register(4045, 15, whole(house, house.steps(1231.0, 1190.0), 1.0, 1.0), "stock pump", 0.01)
    register(4046, 15, whole(house, house.steps(0.0, 71.0), 0.5, 1.0))
    register(4047, 15, lambda _t: 65535)
    register(4048, 15, lambda _t: 0)
    for number in range(16):
        register(4100 + number, 20, whole(house, house.around(3312.0 + number % 5, 2.0), 1.0, 1.0))
    register(4116, 20, whole(house, house.around(5302.0, 3.0), 1.0, 1.0), "house pack", 0.01)
    register(4117, 20, whole(house, house.around(-184.0, 30.0), 3.0, 1.0), "house pack amps", 0.1)
    register(4118, 60, lambda _t: 71, "house pack soc")
    for number in range(2):
        register(4201 + number, 10, whole(house, house.around(1213.0, 9.0), 2.0, 1.0), f"leg {number + 1}", 0.1)
        register(4203 + number, 10, whole(house, house.steps(31.0, 88.0), 1.0, 1.0), f"leg {number + 1} amps", 0.1)
    register(4205, 10, whole(house, house.around(6000.0, 2.0), 1.0, 1.0))
    for number, middle in enumerate((14110.0, 312.0, 4380.0, 14090.0, 298.0, 4170.0)):
        register(4300 + number, 12, whole(house, house.around(middle, 0.05 * middle, 300.0), 3.0, 1.0))
    for place, middle in (("kitchen", 69.8), ("porch", 37.2), ("calf barn", 44.1), ("freezer", -1.2), ("well", 50.9)):
        house.say(f"dg/room/{place.replace(' ', '_')}", 60, seen(house, house.around(middle, 0.6), 0.1, 1))
    for gate in ("north", "south", "creek"):
        house.say(f"dg/gate/{gate}", 600, "closed", retain=True)
        house.say(f"dg/gate/{gate}/mv", 300, whole(house, house.around(2890.0), 4.0, 1.0))
    house.say("dg/phone/dad", 120, 52)
    house.say("dg/phone/ma", 120, 97)
    house.say("dg/tank/north", 45, whole(house, house.around(6120.0, 12.0), 3.0, 1.0))
    house.say("dg/tank/south", 45, whole(house, house.around(2210.0, 4.0), 3.0, 1.0))
    house.say("dg/fence/kv", 30, seen(house, house.around(6.8, 0.3), 0.1, 1))
    house.say("dg/old/volts", 600, "4.98e1", retain=True)
    SECOND_C[house.name] = {
        # In tenths of a volt and in whole amps, as the map beside them tells.
        "dg/r/4031": Truth("shed", "voltage", "dV"),
        "dg/r/4032": Truth("shed", "current", "A"),
    }
    return house


def wilgenlust() -> House:
    """Play the Netherlands: a couple on a barge; plain text with units, lithium and lead side by side, a dead meter."""
    house = House("wilgenlust", 3707, "boeg", {"boeg": 6})
    flow = off_for(house.around(7.3, 0.15, 300.0), 214.0, 82.0, -0.3)
    lead = wet(house, volts=15.62, flow=flow, ohm=0.19, acid=24.8, warming=0.9, spread=(-0.09, 0.09), rise=0.06)
    hold = house.around(12.6, 0.3, 1500.0, 0.03)

    volts, amps = seen(house, lead.volts, 0.007), seen(house, flow, 0.02)
    house.say("schip/voorpiek/spanning", 7, text(volts, "{:.2f} V"), Truth("boeg", "voltage", "V"))
    house.say("schip/voorpiek/stroom", 7, text(amps, "{:.2f} A"), Truth("boeg", "current", "A"))
    house.say("schip/voorpiek/vermogen", 7, lambda t: f"{volts(t) * amps(t):.0f} W")
    for side, block in zip(("sb", "bb"), lead.blocks, strict=True):
        house.say(f"schip/voorpiek/blok_{side}", 20, text(seen(house, block, 0.006), "{:.2f} V"),
                  Truth("boeg", "block_voltage", "V"))  # fmt: skip
    # The thermometers hang on a board of his own, which writes a decimal comma.
    thermometers: tuple[tuple[str, Signal, Truth | None], ...] = (
        ("1", house.around(17.9, 0.4), None),
        ("2", lead.acid, Truth("boeg", "electrolyte_temperature", "degC")),
        ("3", hold, Truth("boeg", "ambient_temperature", "degC")),
        ("4", house.around(9.1, 0.2), None),
        ("5", house.around(34.7, 1.3), None),
    )
    for number, signal, truth in thermometers:
        house.say(f"schip/temp/{number}", 30, text(seen(house, signal, 0.04, 1), "{:.1f} °C", comma=True), truth)
    house.say("schip/voorpiek/oude_meter", 10, "0.00 A")
    house.say("schip/acculader/uit1/u", 15, text(seen(house, lead.volts, 0.03, 1, 1.0, 0.1), "{:.1f} V"))
    house.say("schip/acculader/uit1/i", 15, text(seen(house, lambda t: max(0.0, flow(t)), 0.06, 1), "{:.1f} A"))
    house.say("schip/acculader/uit2/u", 15, text(seen(house, house.around(13.4, 0.0), 0.03, 1), "{:.1f} V"))
    house.say("schip/acculader/uit2/i", 15, text(seen(house, house.around(0.2, 0.1), 0.03, 1), "{:.1f} A"))
    house.say("schip/acculader/temp", 30, text(seen(house, house.around(44.0, 2.0), 0.4, 0), "{:.0f} °C"))
    house.say("schip/acculader/stand", 60, "conditioneren", retain=True)
    drain = house.around(-11.4, 3.0, 180.0)
    for pack in ("a", "b"):
        level = house.around(3.297, 0.004)
        for piece in range(1, 5):
            house.say(f"schip/lifepo/{pack}/cel{piece}", 15,
                      text(seen(house, level, 0.001, 3, 1.0, 0.001 * (piece - 2)), "{:.3f} V"))  # fmt: skip
        house.say(f"schip/lifepo/{pack}/totaal", 15, text(seen(house, level, 0.004, 2, 4.0), "{:.2f} V"))
        house.say(f"schip/lifepo/{pack}/stroom", 15, text(seen(house, drain, 0.05, 2, 0.5), "{:.2f} A"))
        house.say(f"schip/lifepo/{pack}/temp", 60, text(house.around(16.0, 0.2), "{:.0f} °C"))
        house.say(f"schip/lifepo/{pack}/soc", 60, "68 %" if pack == "a" else "70 %")
    house.say("schip/omvormer/dc", 15, text(house.around(13.1, 0.05), "{:.1f} V"))
    house.say("schip/omvormer/dc_stroom", 15, text(seen(house, drain, 0.2, 1, -0.9), "{:.1f} A"))
    house.say("schip/omvormer/ac", 15, text(house.around(230.0, 0.4), "{:.0f} V"))
    house.say("schip/omvormer/last", 15, text(seen(house, drain, 2.0, 0, -11.0), "{:.0f} W"))
    house.say("schip/motor/startaccu", 20, text(house.around(12.83, 0.01, 900.0, 0.01), "{:.2f} V"))
    house.say("schip/motor/toeren", 20, "0 rpm")
    house.say("schip/motor/koelwater", 60, text(house.around(11.0, 0.2), "{:.0f} °C"))
    house.say("schip/walstroom/spanning", 10, text(house.around(226.0, 3.0, 300.0, 0.4), "{:.1f} V"))
    house.say("schip/walstroom/stroom", 10, text(house.steps(1.2, 1.9, 7.7, sigma=0.03), "{:.2f} A"))
    house.say("schip/walstroom/teller", 60, text(house.counter(5512.2, 0.0001), "{:.2f} kWh"))
    house.say("schip/zon/spanning", 15, text(house.around(31.6, 1.9, 260.0, 0.1), "{:.1f} V"))
    house.say("schip/zon/stroom", 15, text(house.around(2.1, 0.7, 260.0, 0.03), "{:.2f} A"))
    house.say("schip/router/voeding", 20, text(house.around(12.08, 0.0, 900.0, 0.01), "{:.2f} V"))
    house.say("schip/lenspomp/spanning", 20, text(house.steps(12.9, 12.4, sigma=0.02), "{:.1f} V"))
    house.say("schip/lenspomp/stroom", 20, text(house.steps(0.0, 3.8), "{:.1f} A"))
    house.say("schip/drinkwaterpomp/stroom", 20, text(house.steps(0.0, 5.1, 0.0), "{:.1f} A"))
    house.say("schip/koelkast/stroom", 20, text(house.steps(0.1, 4.2, dwell=180.0), "{:.1f} A"))
    for tank, level_of in (("water", 412), ("diesel", 233), ("vuilwater", 98)):
        house.say(f"schip/tank/{tank}", 60, f"{level_of} L")
    for place, middle in (
        ("stuurhut", 14.1), ("roef", 20.3), ("hut", 18.2), ("machinekamer", 15.5), ("dek", 7.9), ("vriezer", -17.8),
        ("boiler", 55.0), ("kachel", 118.0),
    ):  # fmt: skip
        house.say(f"huis/{place}/temp", 45, text(house.around(middle, 0.3, 1200.0, 0.04), "{:.1f} °C"))
        house.say(f"huis/{place}/batterij", 300, text(house.around(2.94, 0.0), "{:.2f} V"), retain=place == "vriezer")
    for place, wet_of in (("roef", 55), ("hut", 61), ("voorpiek", 83)):
        house.say(f"huis/{place}/vocht", 60, f"{wet_of} %")
    for who in ("hij", "zij"):
        house.say(f"telefoon/{who}/accu", 120, "77 %" if who == "zij" else "18 %")
        house.say(f"telefoon/{who}/accuspanning", 120, "4.11 V" if who == "zij" else "3.62 V")
    for lamp in ("roef", "hut", "dek", "toplicht"):
        house.say(f"huis/lamp/{lamp}", 90, "uit" if lamp != "roef" else "aan", retain=True)
    house.say("schip/barometer", 60, text(house.around(1021.0, 0.2), "{:.0f} hPa"))
    house.say("schip/wind", 15, text(house.around(9.0, 4.0, 200.0, 0.8), "{:.0f} kn"))
    house.say("schip/fiets/accu", 600, "36.9 V", retain=True)
    SECOND_C[house.name] = {
        "schip/acculader/uit1/u": Truth("boeg", "voltage", "V"),
        "schip/acculader/uit1/i": Truth("boeg", "current", "A"),
    }
    return house


def mlimani() -> House:
    """Play Kenya: a clinic's caretaker; terse Swahili JSON, integers nobody explains, old values kept, the mains go."""
    house = House("mlimani", 3808, "kliniki", {"kliniki": 12})
    outage, back = 371.0, 468.0
    flow = off_for(house.around(12.2, 0.2, 350.0), outage, back - outage, -1.6)
    lead = wet(house, volts=30.6, flow=flow, ohm=0.2, acid=31.8, warming=1.2, spread=(0.04, 0.03, -0.14, 0.07))
    room = house.around(25.4, 0.4, 1500.0, 0.03)

    def powered(level: Signal) -> Signal:
        return lambda t: 0.0 if outage <= t < back else level(t)

    volts, amps = whole(house, lead.volts, 1.0, 100.0), whole(house, flow, 0.4, 10.0)
    house.say(
        "mlm/b1",
        10,
        lambda t: {"w": stamp(t), "vo": volts(t), "am": amps(t), "wt": round(volts(t) * amps(t) / 1000.0)},
        {"/vo": Truth("kliniki", "voltage", "cV"), "/am": Truth("kliniki", "current", "dA")},
    )
    pieces = [whole(house, block, 3.0, 1000.0) for block in lead.blocks]
    house.say(
        "mlm/b1/vipande",
        20,
        lambda t: {"w": stamp(t), **{f"k{k}": piece(t) for k, piece in enumerate(pieces, start=1)}},
        {f"/k{k}": Truth("kliniki", "block_voltage", "mV") for k in range(1, 5)},
    )
    acid, air, roof = sixteenths(house, lead.acid), sixteenths(house, room), house.around(38.4, 0.8, 1300.0, 0.03)
    house.say(
        "mlm/joto",
        30,
        lambda t: {"w": stamp(t), "t0": round(roof(t), 2), "t1": air(t), "t2": acid(t), "t3": -127},
        {
            "/t1": Truth("kliniki", "ambient_temperature", "degC"),
            "/t2": Truth("kliniki", "electrolyte_temperature", "degC"),
        },
    )
    # The charger counts in millivolts and milliamps; without mains it is silent on what it gives.
    out_volts, out_amps = whole(house, lead.volts, 20.0, 1000.0), whole(house, powered(flow), 30.0, 1000.0)
    line = powered(house.around(238.0, 4.0, 250.0, 0.8))
    house.say(
        "mlm/chaja",
        15,
        lambda t: {"ac": round(line(t)), "mv": out_volts(t), "ma": max(0, out_amps(t)), "hali": 3 if line(t) else 0},
    )
    house.say("mlm/umeme", 10, lambda t: {"v": round(line(t) * 10), "f": 500 if line(t) else 0, "kwh": 771230})
    # A sealed pair for the vaccine refrigerator, on float, and a lithium lamp store.
    float_volts, float_amps = house.around(27.31, 0.02), house.around(0.2, 0.03)
    house.say(
        "mlm/b2", 10, lambda t: {"w": stamp(t), "vo": round(float_volts(t) * 100), "am": round(float_amps(t) * 10)}
    )
    cells = [house.around(3341.0 + k, 2.0, 500.0, 0.8) for k in range(4)]
    house.say(
        "mlm/taa", 20, lambda t: {"c": [round(c(t)) for c in cells], "vo": round(sum(c(t) for c in cells) / 10.0)}
    )
    house.say("mlm/b1/zamani", 600, {"w": stamp(0.0, 7.9e6), "vo": 2466, "am": -31}, retain=True)
    house.say("mlm/b0", 600, {"w": stamp(0.0, 2.2e7), "vo": 1229, "am": 0}, retain=True)
    house.say("mlm/b3", 10, lambda t: {"w": stamp(t), "vo": 0, "am": -4})
    for number, (middle, swing) in enumerate(((365.0, 14.0), (371.0, 12.0)), start=1):
        panel, strength = house.around(middle, swing, 280.0, 1.0), house.around(61.0, 14.0, 280.0, 0.6)
        house.say(f"mlm/jua/{number}", 12, lambda t, p=panel, s=strength: {"vo": round(p(t)), "am": round(s(t))})
    crank = house.around(1257.0, 0.0, 900.0, 1.0)
    house.say("mlm/jenereta", 30, lambda t: {"vo": round(crank(t)), "saa": 41230, "joto": 27})
    house.say("mlm/gari", 30, lambda t: {"vo": round(crank(t) + 17), "km": 144020})
    pump, router = house.steps(0.0, 62.0, sigma=0.5), house.around(1203.0, 0.0, 900.0, 1.0)
    house.say("mlm/pampu", 20, lambda t: {"vo": 1218 - round(pump(t) / 3.0), "am": max(0, round(pump(t)))})
    house.say("mlm/ruta", 30, lambda t: {"vo": round(router(t)), "am": 7})
    chilled = house.around(4.6, 0.5, 900.0, 0.05)
    house.say("mlm/chanjo/friji", 30, lambda t: {"t": round(chilled(t) * 10), "mlango": 0, "mv": 2990})
    for place in (
        "mapokezi", "maabara", "wodi1", "wodi2", "stoo", "jiko", "ofisi", "dawa", "choo", "lango", "kisima", "bustani",
    ):  # fmt: skip
        warm, moist = house.around(house.chance.uniform(20.0, 29.0), 0.4, 1100.0, 0.05), house.around(58.0, 4.0)
        coin = house.chance.choice((2840, 2960, 3015))
        house.say(
            f"mlm/chumba/{place}",
            45,
            lambda t, h=warm, m=moist, c=coin: {"t": round(h(t) * 10), "u": round(m(t)), "mv": c},
        )
        house.say(f"mlm/chumba/{place}/taa", 120, {"on": int(place == "maabara")}, retain=True)
    for load in ("darubini", "sterilaiza", "kompyuta", "printa", "feni", "friji2", "tv", "birika"):
        draw = powered(house.steps(0.0, 118.0, 119.0, sigma=0.5))
        house.say(f"mlm/plagi/{load}", 20, lambda t, d=draw: {"v": round(line(t)), "w": max(0, round(d(t)))})
        house.say(f"mlm/plagi/{load}/jina", 600, {"jina": load}, retain=True)
    for phone, percent in (("daktari", 64), ("nesi", 29), ("mlinzi", 88)):
        house.say(f"mlm/simu/{phone}", 120, {"b": percent, "bt": 301, "mv": 3700 + 5 * percent})
    house.say("mlm/tangi", 60, {"cm": 143, "mv": 2875})
    house.say("mlm/mvua", 60, {"mm": 0})
    for node in ("n1", "n2", "n3", "n4", "n5"):
        seconds = house.counter(house.chance.uniform(1e4, 9e5), 1.0)
        house.say(f"mlm/{node}/hai", 60, lambda t, s=seconds: {"s": round(s(t)), "db": -67, "vcc": 3287})
    house.say("mlm/mtandao", 60, "sawa", retain=True)
    SECOND_C[house.name] = {
        "mlm/chaja /mv": Truth("kliniki", "voltage", "mV"),
        "mlm/chaja /ma": Truth("kliniki", "current", "mA"),
    }
    return house


#: The eight houses.
FRESH_C: tuple[Callable[[], House], ...] = (
    hvidmose,
    vale_seco,
    koivuranta,
    quebrada_honda,
    kavungal,
    drygulch,
    wilgenlust,
    mlimani,
)
