"""Six invented households, each wired by another hand; in each of them one flooded bank is being equalised.

Four ordinary, one sloppy, one of numbered channels whose meanings stand in kept descriptions alone; written without
sight of any program that reads them. The first score, on 29 November 2026, on which nothing has been mended: 31 of 31
live mappings right, 41 of 53 quantities found (none of the eleven behind the descriptions), the bank in five.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence

from tests.bench.households.world import START, Bank, House, Signal, Truth, bank

Says = Callable[[float], object]
#: What a topic says when nothing but a wandering number is behind it: middle, swing, noise, decimals.
Wander = tuple[float, float, float, int]

#: By house: places that look at a flooded bank a second time, from further off or coarser than the primary source.
SECOND_F: dict[str, dict[str, Truth]] = {}


def _fixed(signal: Signal, digits: int = 1) -> Says:
    """Return the number with so many decimals."""
    return lambda t: round(signal(t), digits)


def _whole(signal: Signal, scale: float = 1.0) -> Says:
    """Return the number times a scale, without decimals."""
    return lambda t: round(signal(t) * scale)


def _worded(signal: Signal, digits: int, tail: str, *, comma: bool = False) -> Says:
    """Return the number as text with something behind it."""

    def says(t: float) -> str:
        text = f"{signal(t):.{digits}f}"
        return (text.replace(".", ",") if comma else text) + tail

    return says


def _record(signals: Mapping[str, tuple[Signal, int]], **constant: object) -> Says:
    """Return a flat JSON object of rounded signals and constants."""
    return lambda t: {**constant, **{key: round(signal(t), digits) for key, (signal, digits) in signals.items()}}


def _senml(records: Sequence[tuple[str, str, Signal, int]]) -> Says:
    """Return a SenML pack: name, unit, signal, decimals."""
    return lambda t: [
        {"n": name, "u": unit, "v": round(signal(t), digits), "t": round(START + t, 1)}
        for name, unit, signal, digits in records
    ]


def _flips(house: House, on: str, off: str, dwell: float = 120.0) -> Says:
    """Return a switch that now and then changes."""
    level = house.steps(0.0, 1.0, 1.0, dwell=dwell)
    return lambda t: on if level(t) else off


def _wandering(house: House, every: float, table: Mapping[str, Wander]) -> None:
    """Add topics with a plain wandering number."""
    for topic, (middle, swing, sigma, digits) in table.items():
        house.say(topic, every, _fixed(house.around(middle, swing, 1100.0, sigma), digits))


def _states(house: House, every: float, topics: Sequence[str], on: str, off: str) -> None:
    """Add topics which say one of two words."""
    for topic in topics:
        house.say(topic, every, _flips(house, on, off, dwell=170.0))


def _retained(house: House, table: Mapping[str, object]) -> None:
    """Add retained constants."""
    for topic, value in table.items():
        house.say(topic, 600.0, value, retain=True)


def _blocks(volts: Signal, leanings: Sequence[float]) -> list[Signal]:
    """Share the volts of a bank among its blocks; leanings are [V] from the mean and sum to zero."""
    count = len(leanings)

    def one(leaning: float) -> Signal:
        return lambda t: volts(t) / count + leaning

    return [one(leaning) for leaning in leanings]


def _times(first: Signal, second: Signal) -> Signal:
    """Multiply two signals."""
    return lambda t: first(t) * second(t)


def _plus(first: Signal, second: Signal, weight: float = 1.0) -> Signal:
    """Add a weighted second signal to the first."""
    return lambda t: first(t) + weight * second(t)


def _fahrenheit(celsius: Signal) -> Signal:
    """Turn [degC] into [degF]."""
    return lambda t: celsius(t) * 1.8 + 32.0


def _upside_down(signal: Signal) -> Signal:
    """Turn the sign over."""
    return lambda t: -signal(t)


def lock_cottage() -> House:
    """English, ordinary: a cottage at a canal lock, 24 V of four six-volt blocks, the equalisation has just begun."""
    house = House("lock_cottage", 6101, "shed bank", {"shed bank": 12})
    shed: Bank = bank(house, 12, 2.49, 14.2, 21.4, way="rising")
    air = house.around(9.6, 0.5, 1400.0, 0.05)
    name = "shed bank"
    base = "cottage/shed/battery"
    house.say(f"{base}/voltage", 5.0, _fixed(shed.volts, 2), Truth(name, "voltage", "V"))
    house.say(f"{base}/current", 5.0, _fixed(shed.amps, 2), Truth(name, "current", "A"))
    house.say(f"{base}/power", 10.0, _fixed(shed.watts, 0))
    house.say(f"{base}/acid_temp", 30.0, _fixed(shed.acid, 1), Truth(name, "electrolyte_temperature", "degC"))
    house.say("cottage/shed/air_temp", 30.0, _fixed(air, 1), Truth(name, "ambient_temperature", "degC"))
    house.say("cottage/shed/air_humidity", 30.0, _fixed(house.around(81.0, 2.0, 1300.0, 0.3), 0))
    for number, block in enumerate(_blocks(shed.volts, (0.06, -0.13, 0.03, 0.04)), 1):
        house.say(f"{base}/block{number}", 15.0, _fixed(block, 3), Truth(name, "block_voltage", "V"))
    house.say(
        f"{base}/pilot_cell_sg", 120.0, _fixed(house.around(1.231, 0.0, 900.0, 0.0004), 3), Truth(name, "gravity")
    )
    house.say(f"{base}/ah_in_today", 30.0, _fixed(house.counter(31.7, 14.2 / 3600.0), 2))
    _retained(house, {f"{base}/note": "off the boards, own charger until Sunday", f"{base}/watered_on": "2026-11-21"})
    # The shed's charger sees the bank at the far side of five metres of cable.
    sees = _plus(shed.volts, shed.amps, 0.018)
    house.say("cottage/shed/charger/out_v", 10.0, _fixed(sees, 1))
    house.say("cottage/shed/charger/out_a", 10.0, _fixed(shed.amps, 1))
    house.say("cottage/shed/charger/heatsink", 30.0, _fixed(house.around(46.0, 2.0, 1000.0, 0.2), 0))
    house.say("cottage/shed/charger/mode", 60.0, "manual")
    house.say("cottage/shed/charger/fan_rpm", 30.0, _whole(house.around(1840.0, 60.0, 500.0, 15.0)))
    SECOND_F[house.name] = {
        "cottage/shed/charger/out_v": Truth(name, "voltage", "V"),
        "cottage/shed/charger/out_a": Truth(name, "current", "A"),
    }
    boat_v, boat_a = house.around(12.71, 0.02, 1200.0, 0.006), house.around(-0.31, 0.05, 700.0, 0.02)
    house.say("boat/starter/voltage", 20.0, _fixed(boat_v, 2))
    house.say("boat/cabin/current", 20.0, _fixed(boat_a, 2))
    _wandering(
        house,
        30.0,
        {
            "boat/cabin/temp": (7.8, 0.3, 0.05, 1),
            "boat/engine/coolant_temp": (8.3, 0.2, 0.05, 1),
            "boat/bilge/level_mm": (22.0, 1.0, 0.4, 0),
            "boat/tank/diesel_pct": (63.0, 0.2, 0.3, 0),
            "boat/tank/water_pct": (41.0, 0.2, 0.3, 0),
        },
    )
    _states(house, 60.0, ["boat/bilge/pump", "boat/hatch", "boat/gas_alarm"], "on", "off")
    pv_v, pv_a = house.around(61.0, 2.5, 800.0, 0.2), house.steps(1.1, 2.4, 3.2, dwell=110.0, sigma=0.03)
    house.say("cottage/solar/panel_voltage", 10.0, _fixed(pv_v, 1))
    house.say("cottage/solar/panel_current", 10.0, _fixed(pv_a, 2))
    house.say("cottage/solar/panel_power", 10.0, _fixed(_times(pv_v, pv_a), 0))
    house.say("cottage/solar/kwh_today", 60.0, _fixed(house.counter(0.62, 0.00004), 3))
    mains, draws = house.around(238.6, 1.5, 600.0, 0.4), house.steps(1.2, 3.3, 9.8, dwell=75.0, sigma=0.04)
    house.say("cottage/meter/volts", 10.0, _fixed(mains, 1))
    house.say("cottage/meter/amps", 10.0, _fixed(draws, 2))
    house.say("cottage/meter/watts", 10.0, _fixed(_times(mains, draws), 0))
    house.say("cottage/meter/hz", 10.0, _fixed(house.around(50.0, 0.03, 300.0, 0.01), 2))
    house.say("cottage/meter/kwh", 60.0, _fixed(house.counter(18231.4, 0.0003), 2))
    for room, warm in {"kitchen": 19.4, "parlour": 20.3, "bedroom": 16.8, "landing": 17.2, "bathroom": 18.1}.items():
        _wandering(
            house,
            60.0,
            {
                f"cottage/{room}/temp": (warm, 0.3, 0.05, 1),
                f"cottage/{room}/humidity": (57.0, 2.0, 0.4, 0),
                f"cottage/{room}/sensor_battery_v": (2.94, 0.01, 0.004, 2),
            },
        )
    _wandering(
        house,
        45.0,
        {
            "weather/temp": (6.2, 0.3, 0.06, 1),
            "weather/humidity": (90.0, 1.0, 0.4, 0),
            "weather/pressure": (1009.3, 0.3, 0.05, 1),
            "weather/wind_mph": (7.0, 3.0, 1.0, 1),
            "weather/gust_mph": (13.0, 3.0, 1.0, 1),
            "weather/rain_mm": (0.4, 0.0, 0.0, 1),
            "canal/level_above": (1.632, 0.004, 0.001, 3),
            "canal/level_below": (0.914, 0.004, 0.001, 3),
            "canal/water_temp": (7.1, 0.1, 0.03, 1),
            "cottage/fridge/inside": (4.6, 0.8, 0.05, 1),
            "cottage/fridge/watts": (41.0, 30.0, 2.0, 0),
            "cottage/boiler/flow_temp": (58.0, 4.0, 0.3, 1),
            "cottage/boiler/return_temp": (44.0, 3.0, 0.3, 1),
        },
    )
    _states(house, 50.0, [f"cottage/{door}" for door in ("front_door", "back_door", "shed/door")], "open", "closed")
    _states(house, 50.0, [f"cottage/{lamp}" for lamp in ("porch_light", "hall_light", "shed/light")], "ON", "OFF")
    _states(house, 90.0, ["phone/maud", "phone/tobin"], "home", "not_home")
    _retained(house, {"hub/status": "online", "hub/version": "14", "cottage/shed/node/status": "online"})
    house.say("hub/uptime", 60.0, _whole(house.counter(918_220.0, 1.0)))
    house.say("cottage/shed/node/rssi", 60.0, _whole(house.around(-71.0, 2.0, 400.0, 1.0)))
    return house


def mesa_homestead() -> House:
    """English, ordinary: a homestead on lithium that nurses an old 48 V flooded bank in the barn, late in the tail."""
    house = House("mesa_homestead", 6202, "barn_bank", {"barn_bank": 24})
    name = "barn_bank"
    barn: Bank = bank(house, 24, 2.63, 6.4, 31.2, way="tapering")
    air = house.around(12.4, 0.8, 1500.0, 0.06)
    house.say(
        "homestead/barn_bank/shunt",
        4.0,
        _record({"volts": (barn.volts, 2), "amps": (barn.amps, 2), "watts": (barn.watts, 1)}, seq=4),
        {"/volts": Truth(name, "voltage", "V"), "/amps": Truth(name, "current", "A")},
    )
    house.say(
        "homestead/barn_bank/temps",
        20.0,
        _record({"electrolyte_f": (_fahrenheit(barn.acid), 1), "barn_air_f": (_fahrenheit(air), 1)}),
        {
            "/electrolyte_f": Truth(name, "electrolyte_temperature", "degF"),
            "/barn_air_f": Truth(name, "ambient_temperature", "degF"),
        },
    )
    blocks = _blocks(barn.volts, (0.04, 0.02, -0.17, 0.05, -0.02, 0.03, 0.01, 0.04))
    house.say(
        "homestead/barn_bank/jars",
        15.0,
        lambda t: {"v": [round(block(t), 2) for block in blocks], "count": len(blocks)},
        {f"/v/{number}": Truth(name, "block_voltage", "V") for number in range(len(blocks))},
    )
    sees = _plus(barn.volts, barn.amps, 0.03)
    house.say(
        "homestead/barn_charger/state",
        10.0,
        _record(
            {"dc_v": (sees, 1), "dc_a": (barn.amps, 1), "fet_f": (house.around(118.0, 3.0, 900.0, 0.4), 0)}, on=True
        ),
    )
    house.say("homestead/barn_charger/plug_w", 10.0, _fixed(lambda t: barn.watts(t) / 0.87 + 9.0, 0))
    house.say("homestead/barn_charger/setpoint_v", 60.0, 64.0)
    SECOND_F[house.name] = {
        "homestead/barn_charger/state /dc_v": Truth(name, "voltage", "V"),
        "homestead/barn_charger/state /dc_a": Truth(name, "current", "A"),
    }
    store_v = house.around(53.1, 0.1, 1000.0, 0.01)
    store_a = house.steps(-21.0, -14.5, -33.0, dwell=80.0, sigma=0.1)
    house.say(
        "homestead/lithium/pack",
        5.0,
        _record(
            {
                "volts": (store_v, 2),
                "amps": (store_a, 1),
                "watts": (_times(store_v, store_a), 0),
                "soc": (house.counter(71.0, -0.0011), 1),
                "temp_f": (house.around(68.2, 0.3, 1200.0, 0.05), 1),
            },
            cycles=318,
        ),
    )
    for number in range(1, 17):
        lean = house.chance.uniform(-0.006, 0.006)
        cell: Signal = lambda t, lean=lean: store_v(t) / 16.0 + lean  # type: ignore[misc]  # noqa: E731
        house.say(f"homestead/lithium/cell/{number:02d}", 30.0, _fixed(cell, 3))
    _states(house, 60.0, ["homestead/lithium/charge_fet", "homestead/lithium/discharge_fet"], "on", "on")
    into = _upside_down(store_a)
    house.say("homestead/inverter/dc_volts", 5.0, _fixed(_plus(store_v, into, -0.004), 1))
    house.say("homestead/inverter/dc_amps", 5.0, _fixed(into, 1))
    ac_v = house.around(120.4, 0.5, 500.0, 0.1)
    ac_w: Signal = lambda t: store_v(t) * into(t) * 0.92  # noqa: E731
    house.say("homestead/inverter/ac_volts", 10.0, _fixed(ac_v, 1))
    house.say("homestead/inverter/ac_watts", 10.0, _fixed(ac_w, 0))
    house.say("homestead/inverter/ac_amps", 10.0, _fixed(lambda t: ac_w(t) / ac_v(t), 2))
    house.say("homestead/inverter/ac_hz", 10.0, _fixed(house.around(60.0, 0.01, 400.0, 0.01), 2))
    _wandering(
        house,
        45.0,
        {
            "homestead/weather/outdoor_f": (44.2, 0.8, 0.1, 1),
            "homestead/weather/rh": (31.0, 1.0, 0.3, 0),
            "homestead/weather/baro_inhg": (24.12, 0.02, 0.005, 2),
            "homestead/weather/wind_mph": (11.0, 4.0, 1.4, 1),
            "homestead/weather/solar_wm2": (0.0, 0.0, 0.0, 0),
            "homestead/well/pressure_psi": (47.0, 6.0, 0.4, 1),
            "homestead/well/depth_ft": (118.4, 0.6, 0.05, 1),
            "homestead/cistern/gallons": (1710.0, 4.0, 1.0, 0),
            "homestead/freezer/temp_f": (-2.4, 1.3, 0.1, 1),
            "homestead/fridge/temp_f": (37.2, 1.1, 0.1, 1),
            "homestead/house/living_f": (67.4, 0.5, 0.1, 1),
            "homestead/house/bed_f": (62.8, 0.4, 0.1, 1),
            "homestead/house/loft_f": (70.9, 0.5, 0.1, 1),
            "homestead/greenhouse/temp_f": (51.7, 0.6, 0.1, 1),
            "homestead/greenhouse/soil_f": (54.6, 0.1, 0.05, 1),
            "homestead/greenhouse/rh": (74.0, 2.0, 0.5, 0),
            "homestead/coop/temp_f": (46.3, 0.5, 0.1, 1),
            "homestead/stove/flue_f": (388.0, 30.0, 3.0, 0),
            "homestead/truck/starter_v": (12.58, 0.01, 0.005, 2),
            "homestead/tractor/starter_v": (12.41, 0.01, 0.005, 2),
            "homestead/generator/starter_v": (13.27, 0.01, 0.004, 2),
            "homestead/generator/hours": (1104.6, 0.0, 0.0, 1),
            "homestead/propane/percent": (58.0, 0.1, 0.2, 0),
        },
    )
    for string in ("east", "west"):
        _wandering(
            house,
            20.0,
            {
                f"homestead/pv/{string}/volts": (3.1, 0.4, 0.1, 1),
                f"homestead/pv/{string}/amps": (0.0, 0.0, 0.0, 1),
                f"homestead/pv/{string}/kwh_today": (6.42, 0.0, 0.0, 2),
            },
        )
    _states(house, 70.0, ["homestead/coop/door", "homestead/gate", "homestead/barn/door"], "OPEN", "SHUT")
    _states(house, 70.0, ["homestead/barn/fan", "homestead/well/pump", "homestead/porch/light"], "ON", "OFF")
    _states(house, 90.0, ["homestead/people/ada", "homestead/people/lyle"], "here", "away")
    _retained(house, {"homestead/hub/lwt": "online", "homestead/hub/site": "mesa", "homestead/barn_node/lwt": "online"})
    return house


def kranichhof() -> House:
    """German, ordinary: a small farm, 12 V of two six-volt blocks in the hut; the charger drops out for a while."""
    house = House("kranichhof", 6303, "Hüttenbatterie", {"Hüttenbatterie": 6})
    name = "Hüttenbatterie"
    hut: Bank = bank(house, 6, 2.58, 7.8, 24.6, way="cut")
    air = house.around(11.2, 0.6, 1300.0, 0.05)
    base = "kranichhof/huette/batterie"
    house.say(f"{base}/spannung", 3.0, _worded(hut.volts, 2, " V"), Truth(name, "voltage", "V"))
    house.say(f"{base}/strom", 3.0, _worded(hut.amps, 2, " A"), Truth(name, "current", "A"))
    house.say(f"{base}/leistung", 6.0, _worded(hut.watts, 1, " W"))
    house.say(
        f"{base}/saeuretemperatur", 20.0, _worded(hut.acid, 1, " °C"), Truth(name, "electrolyte_temperature", "degC")
    )
    house.say(
        "kranichhof/huette/raumtemperatur", 20.0, _worded(air, 1, " °C"), Truth(name, "ambient_temperature", "degC")
    )
    house.say("kranichhof/huette/luftfeuchte", 20.0, _worded(house.around(68.0, 2.0, 1000.0, 0.3), 0, " %"))
    house.say("kranichhof/huette/wasserstoff", 20.0, _worded(house.around(0.09, 0.03, 700.0, 0.01), 2, " %"))
    for side, block in zip(("links", "rechts"), _blocks(hut.volts, (0.09, -0.09)), strict=True):
        house.say(f"{base}/block_{side}", 10.0, _worded(block, 2, " V"), Truth(name, "block_voltage", "V"))
    house.say(f"{base}/saeuredichte", 100.0, _fixed(house.around(1.247, 0.0, 900.0, 0.0003), 3), Truth(name, "gravity"))
    house.say("kranichhof/huette/ladegeraet/relais", 30.0, lambda t: "ein" if hut.amps(t) > 0.0 else "aus")
    house.say("kranichhof/huette/ladegeraet/ausgang", 15.0, _worded(_plus(hut.volts, hut.amps, 0.02), 1, " V"))
    house.say(
        "kranichhof/huette/ladegeraet/netzleistung",
        15.0,
        _worded(lambda t: max(0.0, hut.watts(t)) / 0.82 + 6.0, 0, " W"),
    )
    SECOND_F[house.name] = {"kranichhof/huette/ladegeraet/ausgang": Truth(name, "voltage", "V")}
    _retained(
        house,
        {
            f"{base}/baujahr": "2014",
            f"{base}/saeurestand": "ok",
            f"{base}/nennspannung": "12 V",
            f"{base}/nennkapazitaet": "240 Ah",
        },
    )
    traktor = house.around(12.83, 0.02, 900.0, 0.01)
    house.say("kranichhof/scheune/traktor/starterbatterie", 30.0, _worded(traktor, 2, " V"))
    house.say("kranichhof/weide/zaungeraet/akku", 30.0, _worded(house.around(12.34, 0.01, 900.0, 0.01), 2, " V"))
    house.say("kranichhof/weide/zaungeraet/impuls", 30.0, _worded(house.around(6.8, 0.3, 500.0, 0.1), 1, " kV"))
    pv_v, pv_a = house.around(37.4, 1.2, 700.0, 0.1), house.steps(2.2, 4.1, 5.3, dwell=90.0, sigma=0.04)
    house.say("kranichhof/dach/solar/spannung", 10.0, _worded(pv_v, 1, " V"))
    house.say("kranichhof/dach/solar/strom", 10.0, _worded(pv_a, 2, " A"))
    house.say("kranichhof/dach/solar/leistung", 10.0, _worded(_times(pv_v, pv_a), 0, " W"))
    house.say("kranichhof/dach/solar/tagesertrag", 60.0, _worded(house.counter(1.12, 0.00005), 2, " kWh"))
    for phase in ("l1", "l2", "l3"):
        volts, amps = house.around(231.0, 1.2, 500.0, 0.3), house.steps(0.7, 2.6, 5.9, dwell=100.0, sigma=0.03)
        house.say(f"kranichhof/zaehler/{phase}/spannung", 10.0, _worded(volts, 1, " V"))
        house.say(f"kranichhof/zaehler/{phase}/strom", 10.0, _worded(amps, 2, " A"))
        house.say(f"kranichhof/zaehler/{phase}/leistung", 10.0, _worded(_times(volts, amps), 0, " W"))
    house.say("kranichhof/zaehler/frequenz", 10.0, _worded(house.around(50.0, 0.02, 300.0, 0.01), 2, " Hz"))
    house.say("kranichhof/zaehler/bezug", 60.0, _worded(house.counter(40211.8, 0.0004), 1, " kWh"))
    rooms = {"kueche": 20.6, "stube": 21.3, "schlafzimmer": 17.4, "bad": 22.1, "flur": 18.0, "keller": 12.6}
    for room, warm in rooms.items():
        house.say(f"kranichhof/haus/{room}/temperatur", 60.0, _worded(house.around(warm, 0.3, 1200.0, 0.05), 1, " °C"))
        house.say(f"kranichhof/haus/{room}/feuchte", 60.0, _worded(house.around(52.0, 2.0, 1200.0, 0.3), 0, " %"))
    for window in ("kueche", "bad", "schlafzimmer"):
        house.say(f"kranichhof/haus/{window}/fenster", 60.0, _flips(house, "offen", "zu"))
        house.say(
            f"kranichhof/haus/{window}/fenster/zelle", 90.0, _worded(house.around(3.02, 0.01, 900.0, 0.004), 2, " V")
        )
    for what, (warm, swing) in {
        "vorlauf": (52.3, 2.0),
        "ruecklauf": (41.8, 1.5),
        "kessel": (66.1, 2.5),
        "puffer_oben": (61.0, 0.4),
        "puffer_unten": (38.2, 0.3),
        "abgas": (148.0, 12.0),
    }.items():
        house.say(f"kranichhof/heizung/{what}", 30.0, _worded(house.around(warm, swing, 900.0, 0.1), 1, " °C"))
    for what, middle, swing, tail in (
        ("temperatur", 4.3, 0.3, " °C"),
        ("feuchte", 88.0, 1.0, " %"),
        ("luftdruck", 1016.2, 0.2, " hPa"),
        ("wind", 3.4, 1.5, " m/s"),
        ("regen", 0.2, 0.0, " mm"),
        ("helligkeit", 5400.0, 900.0, " lx"),
    ):
        house.say(f"kranichhof/wetter/{what}", 40.0, _worded(house.around(middle, swing, 900.0, 0.05), 1, tail))
    house.say("kranichhof/haus/kuehlschrank/innen", 60.0, _worded(house.around(5.2, 0.9, 900.0, 0.05), 1, " °C"))
    house.say("kranichhof/haus/gefriertruhe/innen", 60.0, _worded(house.around(-18.7, 0.8, 900.0, 0.05), 1, " °C"))
    house.say("kranichhof/brunnen/pegel", 60.0, _worded(house.around(3.41, 0.03, 900.0, 0.005), 2, " m"))
    _states(house, 60.0, [f"kranichhof/{what}" for what in ("brunnen/pumpe", "hof/licht", "stall/licht")], "ein", "aus")
    _states(house, 90.0, ["kranichhof/handy/gerda", "kranichhof/handy/ole"], "da", "weg")
    _states(house, 60.0, ["kranichhof/haus/haustuer", "kranichhof/scheune/tor"], "offen", "zu")
    _retained(house, {"kranichhof/zentrale/status": "bereit", "kranichhof/huette/knoten/status": "bereit"})
    house.say("kranichhof/zentrale/laufzeit", 60.0, _worded(house.counter(411_300.0, 1.0), 0, " s"))
    return house


def les_aulnes() -> House:
    """French, ordinary: a mill house, 24 V in a SenML pack, the last quiet hour of the equalisation."""
    house = House("les_aulnes", 6404, "parc plomb", {"parc plomb": 12})
    name = "parc plomb"
    lead: Bank = bank(house, 12, 2.61, 5.1, 33.8)
    air = house.around(15.3, 0.5, 1500.0, 0.05)
    blocks = _blocks(lead.volts, (0.05, 0.01, -0.1, 0.04))
    block_names = [f"element_{number}" for number in range(1, 5)]
    house.say(
        "aulnes/local_technique/parc_plomb/mesures",
        5.0,
        _senml(
            [
                ("tension", "V", lead.volts, 2),
                ("intensite", "A", lead.amps, 2),
                ("puissance", "W", lead.watts, 1),
                ("temp_electrolyte", "Cel", lead.acid, 1),
            ]
        ),
        {
            "tension": Truth(name, "voltage", "V"),
            "intensite": Truth(name, "current", "A"),
            "temp_electrolyte": Truth(name, "electrolyte_temperature", "degC"),
        },
    )
    house.say(
        "aulnes/local_technique/parc_plomb/blocs",
        15.0,
        _senml([(label, "V", block, 3) for label, block in zip(block_names, blocks, strict=True)]),
        {label: Truth(name, "block_voltage", "V") for label in block_names},
    )
    house.say(
        "aulnes/local_technique/air",
        30.0,
        _senml([("temperature", "Cel", air, 1), ("humidite", "%RH", house.around(61.0, 2.0, 900.0, 0.3), 0)]),
        {"temperature": Truth(name, "ambient_temperature", "degC")},
    )
    house.say("aulnes/local_technique/chargeur/tension_sortie", 10.0, _fixed(_plus(lead.volts, lead.amps, 0.025), 1))
    house.say("aulnes/local_technique/chargeur/courant_sortie", 10.0, _fixed(lead.amps, 1))
    house.say("aulnes/local_technique/chargeur/etat", 30.0, "egalisation")
    house.say("aulnes/local_technique/extracteur", 30.0, "marche")
    SECOND_F[house.name] = {
        "aulnes/local_technique/chargeur/tension_sortie": Truth(name, "voltage", "V"),
        "aulnes/local_technique/chargeur/courant_sortie": Truth(name, "current", "A"),
    }
    # The mill wheel feeds a lithium store, from which the house lives meanwhile.
    store_v, store_a = house.around(26.4, 0.08, 900.0, 0.008), house.steps(-2.2, -6.1, -11.8, dwell=70.0, sigma=0.06)
    house.say(
        "aulnes/local_technique/parc_lithium/mesures",
        5.0,
        _senml(
            [
                ("tension", "V", store_v, 2),
                ("intensite", "A", store_a, 2),
                ("puissance", "W", _times(store_v, store_a), 1),
                ("temp_cellules", "Cel", house.around(17.1, 0.2, 900.0, 0.05), 1),
                ("charge", "%EL", house.around(64.0, 0.3, 1200.0, 0.05), 1),
            ]
        ),
    )
    wheel_v, wheel_a = house.around(38.6, 0.7, 400.0, 0.1), house.around(5.9, 0.3, 500.0, 0.05)
    house.say("aulnes/moulin/turbine/tension", 10.0, _fixed(wheel_v, 1))
    house.say("aulnes/moulin/turbine/intensite", 10.0, _fixed(wheel_a, 2))
    house.say("aulnes/moulin/turbine/puissance", 10.0, _fixed(_times(wheel_v, wheel_a), 0))
    draw: Signal = lambda t: max(0.8, wheel_a(t) * wheel_v(t) / store_v(t) - store_a(t))  # noqa: E731
    house.say("aulnes/onduleur/dc/tension", 10.0, _fixed(store_v, 1))
    house.say("aulnes/onduleur/dc/intensite", 10.0, _fixed(draw, 1))
    house.say("aulnes/onduleur/ac/tension", 10.0, _fixed(house.around(229.8, 0.6, 500.0, 0.1), 1))
    house.say("aulnes/onduleur/ac/puissance", 10.0, _fixed(lambda t: draw(t) * store_v(t) * 0.91, 0))
    _wandering(
        house,
        40.0,
        {
            "aulnes/moulin/turbine/regime": (612.0, 14.0, 3.0, 0),
            "aulnes/moulin/palier/temperature": (28.4, 0.5, 0.1, 1),
            "aulnes/moulin/bief/niveau": (1.274, 0.01, 0.002, 3),
            "aulnes/moulin/bief/temperature": (8.9, 0.1, 0.03, 1),
            "aulnes/moulin/vanne/ouverture": (42.0, 0.0, 0.0, 0),
            "aulnes/onduleur/ac/frequence": (50.0, 0.01, 0.005, 2),
            "aulnes/onduleur/temperature": (34.6, 1.0, 0.1, 1),
            "aulnes/meteo/temperature": (8.1, 0.4, 0.05, 1),
            "aulnes/meteo/humidite": (86.0, 1.0, 0.3, 0),
            "aulnes/meteo/pression": (1003.4, 0.2, 0.05, 1),
            "aulnes/meteo/vent_kmh": (12.0, 5.0, 1.5, 0),
            "aulnes/meteo/pluie_mm": (1.8, 0.0, 0.0, 1),
            "aulnes/solaire/tension": (66.3, 2.0, 0.2, 1),
            "aulnes/solaire/puissance": (112.0, 40.0, 3.0, 0),
            "aulnes/cuisine/frigo/temperature": (4.1, 0.9, 0.05, 1),
            "aulnes/cuisine/congelateur/temperature": (-19.3, 0.7, 0.05, 1),
            "aulnes/ballon/haut": (56.2, 0.3, 0.05, 1),
            "aulnes/ballon/milieu": (47.7, 0.3, 0.05, 1),
            "aulnes/ballon/bas": (29.4, 0.2, 0.05, 1),
            "aulnes/poele/fumees": (212.0, 14.0, 1.0, 0),
            "aulnes/citerne/litres": (3120.0, 6.0, 2.0, 0),
            "aulnes/potager/sol_humidite": (44.0, 0.5, 0.2, 0),
            "aulnes/serre/temperature": (11.8, 0.5, 0.05, 1),
            "aulnes/camionnette/batterie_demarrage": (12.66, 0.01, 0.005, 2),
            "aulnes/tondeuse/batterie": (12.19, 0.01, 0.005, 2),
        },
    )
    for room, warm in {"salon": 19.8, "cuisine": 20.4, "chambre": 17.1, "bureau": 18.9, "grenier": 12.2}.items():
        house.say(f"aulnes/{room}/temperature", 60.0, _fixed(house.around(warm, 0.3, 1000.0, 0.04), 1))
        house.say(f"aulnes/{room}/humidite", 60.0, _fixed(house.around(55.0, 2.0, 1000.0, 0.3), 0))
        house.say(f"aulnes/{room}/pile_mv", 90.0, _whole(house.around(2.96, 0.01, 1000.0, 0.003), 1000.0))
    doors = ["aulnes/porte_entree", "aulnes/porte_cave", "aulnes/portail", "aulnes/local_technique/porte"]
    _states(house, 60.0, doors, "ouvert", "ferme")
    _states(house, 60.0, ["aulnes/lampe_cour", "aulnes/lampe_escalier", "aulnes/pompe_citerne"], "marche", "arret")
    _states(house, 90.0, ["aulnes/telephone/lise", "aulnes/telephone/bastien"], "present", "absent")
    _retained(house, {"aulnes/centrale/etat": "en ligne", "aulnes/centrale/version": "3.2", "aulnes/mode": "hiver"})
    return house


def tin_shed() -> House:
    """English, sloppy: letters for names, millivolts without saying so; the shunt sits the wrong way round."""
    house = House("tin_shed", 6505, "b2", {"b2": 12})
    name = "b2"
    cells: Bank = bank(house, 12, 2.55, 9.3, 27.9, way="cut", sigma=0.006)
    air = house.around(13.7, 0.7, 1100.0, 0.08)
    house.say("e1/b2/u", 4.0, _whole(cells.volts, 1000.0), Truth(name, "voltage", "mV"))
    house.say("e1/b2/i", 4.0, _whole(_upside_down(cells.amps), 1000.0), Truth(name, "current", "mA", "discharging"))
    house.say("e1/b2/t", 15.0, _fixed(cells.acid, 2), Truth(name, "electrolyte_temperature", "degC"))
    house.say("e1/ta", 15.0, _fixed(air, 2), Truth(name, "ambient_temperature", "degC"))
    for letter, block in zip("ab", _blocks(cells.volts, (0.11, -0.11)), strict=True):
        house.say(f"e1/b2/u{letter}", 10.0, _whole(block, 1000.0), Truth(name, "block_voltage", "mV"))
    house.say("e1/ch/u", 10.0, _fixed(_plus(cells.volts, cells.amps, 0.02), 1))
    house.say("e1/ch/r", 10.0, lambda t: 1 if cells.amps(t) > 0.0 else 0)
    SECOND_F[house.name] = {"e1/ch/u": Truth(name, "voltage", "V")}
    # The store the shed lives on: eight lithium cells.
    # Sun in, inverter out; the inverter feeds the charger of b2 beside everything else.
    store_v, house_a = house.around(26.61, 0.06, 900.0, 0.008), house.steps(2.4, 5.8, 9.6, dwell=65.0, sigma=0.05)
    pv_v, pv_a = house.around(41.2, 1.4, 600.0, 0.1), house.steps(4.9, 9.4, 14.2, dwell=80.0, sigma=0.05)
    inv_a: Signal = lambda t: house_a(t) + max(0.0, cells.watts(t)) / 0.78 / store_v(t)  # noqa: E731
    store_a: Signal = lambda t: 0.96 * pv_v(t) * pv_a(t) / store_v(t) - inv_a(t)  # noqa: E731
    house.say("e1/b1/u", 4.0, _whole(store_v, 1000.0))
    house.say("e1/b1/i", 4.0, _whole(_upside_down(store_a), 1000.0))
    house.say("e1/b1/t", 15.0, _fixed(house.around(15.9, 0.2, 900.0, 0.03), 2))
    house.say("e1/b1/soc", 30.0, _whole(house.around(77.0, 0.2, 900.0, 0.1)))
    for number in range(8):
        lean = house.chance.uniform(-0.005, 0.005)
        cell: Signal = lambda t, lean=lean: store_v(t) / 8.0 + lean  # type: ignore[misc]  # noqa: E731
        house.say(f"e1/b1/c{number}", 20.0, _whole(cell, 1000.0))
    house.say("e1/b3/u", 10.0, _whole(house.around(12.63, 0.01, 900.0, 0.005), 1000.0))
    house.say("e2/pv/u", 5.0, _whole(pv_v, 1000.0))
    house.say("e2/pv/i", 5.0, _whole(pv_a, 1000.0))
    house.say("e2/pv/p", 5.0, _fixed(_times(pv_v, pv_a), 0))
    house.say("e2/inv/u", 5.0, _fixed(store_v, 1))
    house.say("e2/inv/i", 5.0, _fixed(inv_a, 1))
    house.say("e2/inv/p", 5.0, _fixed(lambda t: store_v(t) * inv_a(t) * 0.9, 0))
    house.say("e2/inv/ac", 10.0, _fixed(house.around(230.2, 0.4, 500.0, 0.1), 1))
    house.say("e2/inv/f", 10.0, _fixed(house.around(50.0, 0.01, 500.0, 0.01), 2))
    _wandering(
        house,
        25.0,
        {
            "e3/t1": (18.62, 0.3, 0.03, 2),
            "e3/t2": (16.31, 0.3, 0.03, 2),
            "e3/t3": (4.87, 0.8, 0.03, 2),
            "e3/t4": (-17.43, 0.6, 0.03, 2),
            "e3/t5": (48.2, 1.5, 0.1, 2),
            "e3/t6": (31.7, 0.9, 0.1, 2),
            "e3/h1": (56.0, 1.5, 0.3, 0),
            "e3/h2": (63.0, 1.5, 0.3, 0),
            "e3/l1": (612.0, 30.0, 5.0, 0),
            "e3/l2": (44.0, 3.0, 1.0, 0),
            "wx/t": (7.94, 0.4, 0.04, 2),
            "wx/h": (84.0, 1.0, 0.3, 0),
            "wx/p": (1011.2, 0.2, 0.05, 1),
            "wx/w": (4.1, 1.6, 0.5, 1),
            "wx/g": (7.6, 2.0, 0.6, 1),
            "wx/r": (0.0, 0.0, 0.0, 1),
            "wx/vb": (3.91, 0.01, 0.004, 2),
            "tk/1": (71.0, 0.2, 0.2, 0),
            "tk/2": (38.0, 0.2, 0.2, 0),
            "tk/ph": (7.12, 0.02, 0.01, 2),
        },
    )
    for node in ("e1", "e2", "e3", "wx", "tk"):
        house.say(f"{node}/up", 60.0, _whole(house.counter(house.chance.uniform(3000.0, 900_000.0), 1.0)))
        house.say(f"{node}/rs", 60.0, _whole(house.around(-66.0, 3.0, 500.0, 1.0)))
        house.say(f"{node}/hp", 60.0, _whole(house.around(28_400.0, 300.0, 400.0, 80.0)))
        house.say(f"{node}/vcc", 60.0, _whole(house.around(3.31, 0.004, 500.0, 0.002), 1000.0))
    _states(house, 45.0, ["sw/1", "sw/2", "sw/3", "sw/4", "sw/5", "d/1", "d/2", "ph/k", "ph/j"], "1", "0")
    _retained(house, {"e1/v": "0.9b", "e2/v": "0.9b", "e3/v": "0.7", "wx/v": "1.1", "lwt/e1": "1", "lwt/e3": "0"})
    return house


def monte_da_giesta() -> House:
    """Portuguese, difficult: numbered logger channels, two like strings at 48 V of which one is equalised."""
    house = House("monte_da_giesta", 6606, "serie A", {"serie A": 24, "serie B": 24})
    first: Bank = bank(house, 24, 2.57, 8.6, 30.1, way="tapering", sigma=0.005)
    other: Bank = bank(house, 24, 2.26, 0.9, 19.8, sigma=0.005)
    air = house.around(16.2, 0.6, 1500.0, 0.06)
    a_blocks = _blocks(first.volts, (0.1, -0.26, 0.09, 0.07))
    store_v = house.around(53.4, 0.08, 900.0, 0.01)
    pv_v, pv_a = house.around(139.0, 4.0, 700.0, 0.4), house.steps(2.1, 4.6, 6.0, dwell=95.0, sigma=0.04)
    inv_a = house.steps(9.8, 13.1, 21.0, dwell=85.0, sigma=0.08)
    store_a: Signal = lambda t: 0.96 * pv_v(t) * pv_a(t) / store_v(t) - inv_a(t)  # noqa: E731
    channels: list[tuple[str, Signal, int, Truth | None]] = [
        ("tensão série A", first.volts, 2, Truth("serie A", "voltage", "V")),
        ("tensão série B", other.volts, 2, Truth("serie B", "voltage", "V")),
        ("tensão lítio", store_v, 2, None),
        ("corrente série A", _upside_down(first.amps), 2, Truth("serie A", "current", "A", "discharging")),
        ("corrente série B", _upside_down(other.amps), 2, Truth("serie B", "current", "A", "discharging")),
        ("corrente lítio", _upside_down(store_a), 2, None),
        ("ácido A, vaso piloto", first.acid, 1, Truth("serie A", "electrolyte_temperature", "degC")),
        ("ácido B, vaso piloto", other.acid, 1, Truth("serie B", "electrolyte_temperature", "degC")),
        ("ar da casa das baterias", air, 1, Truth("serie A", "ambient_temperature", "degC")),
        ("A bloco 1", a_blocks[0], 2, Truth("serie A", "block_voltage", "V")),
        ("A bloco 2", a_blocks[1], 2, Truth("serie A", "block_voltage", "V")),
        ("A bloco 3", a_blocks[2], 2, Truth("serie A", "block_voltage", "V")),
        ("A bloco 4", a_blocks[3], 2, Truth("serie A", "block_voltage", "V")),
        ("arranque do gerador", house.around(13.42, 0.01, 900.0, 0.006), 2, None),
        ("arranque da carrinha", house.around(12.55, 0.01, 900.0, 0.006), 2, None),
        ("painéis, tensão", pv_v, 1, None),
        ("painéis, corrente", pv_a, 2, None),
        ("inversor, lado DC, tensão", _plus(store_v, inv_a, -0.005), 1, None),
        ("inversor, lado DC, corrente", inv_a, 1, None),
        ("dissipador do inversor", house.around(37.9, 1.0, 900.0, 0.1), 1, None),
        ("depósito de água, termoacumulador", house.around(51.7, 0.4, 900.0, 0.05), 1, None),
        ("frigorífico", house.around(5.4, 0.9, 900.0, 0.05), 1, None),
        ("arca", house.around(-18.1, 0.6, 900.0, 0.05), 1, None),
        ("reserva", house.around(0.013, 0.004, 300.0, 0.003), 3, None),
    ]
    order = list(range(len(channels)))
    house.chance.shuffle(order)
    for number, index in enumerate(order, 1):
        label, signal, digits, truth = channels[index]
        house.say(f"monte/reg/c/{number:02d}", 6.0, _fixed(signal, digits), truth)
        house.say(f"monte/reg/c/{number:02d}/desc", 600.0, label, retain=True)
    # The control panel of the charger and a display by the door tell some of it again.
    charger_v = _plus(first.volts, first.amps, 0.03)
    mains = house.around(231.7, 1.0, 600.0, 0.2)
    house.say(
        "monte/quadro/carregador",
        10.0,
        lambda t: {
            "saida": {"u": round(charger_v(t), 1), "i": round(first.amps(t), 1)},
            "modo": "manual",
            "rede": {"u": round(mains(t), 1)},
        },
    )
    house.say("monte/visor/linha1", 20.0, lambda t: f"A {first.volts(t):.1f}V B {other.volts(t):.1f}V")
    house.say("monte/visor/linha2", 20.0, lambda t: f"Li {store_v(t):.1f}V FV {pv_v(t) * pv_a(t):.0f}W")
    SECOND_F[house.name] = {
        "monte/quadro/carregador /saida/u": Truth("serie A", "voltage", "V"),
        "monte/quadro/carregador /saida/i": Truth("serie A", "current", "A"),
    }
    house.say(
        "monte/litio/bms",
        10.0,
        lambda t: {
            "u_mv": round(store_v(t) * 1000.0),
            "i_ma": round(store_a(t) * 1000.0),
            "soc": 58,
            "celulas": [round(store_v(t) / 16.0 * 1000.0 + lean) for lean in (0, 2, -3, 1) * 4],
            "t": [17, 17, 18],
        },
    )
    _wandering(
        house,
        40.0,
        {
            "monte/tempo/temperatura": (13.1, 0.5, 0.05, 1),
            "monte/tempo/humidade": (70.0, 1.5, 0.3, 0),
            "monte/tempo/pressao": (1018.7, 0.2, 0.05, 1),
            "monte/tempo/vento": (9.0, 4.0, 1.0, 0),
            "monte/tempo/radiacao": (402.0, 90.0, 8.0, 0),
            "monte/furo/nivel": (14.62, 0.05, 0.01, 2),
            "monte/furo/caudal": (18.0, 6.0, 0.5, 1),
            "monte/cisterna/litros": (8420.0, 20.0, 5.0, 0),
            "monte/casa/sala/temperatura": (18.6, 0.3, 0.05, 1),
            "monte/casa/quarto/temperatura": (16.4, 0.3, 0.05, 1),
            "monte/casa/cozinha/temperatura": (19.9, 0.3, 0.05, 1),
            "monte/casa/sala/humidade": (58.0, 1.5, 0.3, 0),
            "monte/horta/solo": (33.0, 0.4, 0.2, 0),
            "monte/galinheiro/temperatura": (12.8, 0.4, 0.05, 1),
            "monte/casa/gas/balanca_kg": (21.34, 0.0, 0.01, 2),
        },
    )
    house.say("monte/quadro/potencia_fv", 10.0, _fixed(_times(pv_v, pv_a), 0))
    house.say("monte/quadro/energia_fv_hoje", 60.0, _fixed(house.counter(3.28, 0.00017), 2))
    house.say("monte/quadro/gerador/horas", 60.0, 2207.4)
    doors = ["monte/portao", "monte/casa/porta", "monte/baterias/porta", "monte/galinheiro/porta"]
    _states(house, 60.0, doors, "aberta", "fechada")
    _states(house, 60.0, ["monte/furo/bomba", "monte/patio/luz", "monte/baterias/ventilador"], "ligado", "desligado")
    _states(house, 90.0, ["monte/telemovel/ines", "monte/telemovel/rui"], "casa", "fora")
    _retained(
        house,
        {
            "monte/reg/estado": "vivo",
            "monte/central/estado": "vivo",
            "monte/reg/config": json.dumps({"canais": len(channels), "periodo": 6}),
        },
    )
    return house


FRESH_F: tuple[Callable[[], House], ...] = (
    lock_cottage,
    mesa_homestead,
    kranichhof,
    les_aulnes,
    tin_shed,
    monte_da_giesta,
)
