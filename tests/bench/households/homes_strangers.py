"""Six more houses, written by somebody who had seen neither `listen` nor the other houses: a test, not to be tuned by.

Each is written as a different person would: a hub's stream of states, cheap boards with telemetry of clipped names, a
plant with registers and factors in German, a boat, a solar yard in degrees Fahrenheit, a telecom hut. In each exactly
one flooded lead-acid bank is being equalised. All names are invented.

What is the same bank's quantity seen once more elsewhere (an inverter's DC side, a raw register beside its value)
stands in `SECOND`, for who wants to tell that from a plain mistake; it is no truth.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta, timezone

from tests.bench.households.world import House, Truth

Signal = Callable[[float], float]

SECOND: dict[str, dict[str, Truth]] = {}
"""By house and place: true, but a second look at what is in the truth already."""


class Clock:
    """The meters' own clocks: which epoch second 0 is, and how many seconds of the house pass in one of theirs."""

    origin = 1_795_590_000.0
    pace = 1.0

    @classmethod
    def at(cls, t: float) -> float:
        """Epoch seconds at second `t` of the house."""
        return cls.origin + t / cls.pace

    @classmethod
    def iso(cls, t: float, hours: int = 0) -> str:
        """ISO 8601, with the zone's offset."""
        return datetime.fromtimestamp(cls.at(t), timezone(timedelta(hours=hours))).isoformat(timespec="seconds")


class Flooded:
    """A flooded bank on a charger, second by second: volts follow amps, heat follows both and lags.

    Parameters
    ----------
    cells : int
        In series.
    hours : float
        Rated ampere-hours.
    amps : tuple of float
        The charger's steps, each held for `dwell` seconds.
    celsius, air : float
        Electrolyte at the start, and the air about it.
    """

    def __init__(
        self,
        seed: int,
        cells: int,
        hours: float,
        amps: tuple[float, ...],
        celsius: float,
        air: float,
        dwell: float = 110.0,
    ) -> None:
        chance = random.Random(seed)
        self.cells = cells
        self._amps, self._cell, self._celsius = [], [], []
        flow, gassing, warm = amps[0], amps[0], celsius
        for second in range(2400):
            flow += (amps[int(second / dwell) % len(amps)] - flow) / 4.0
            gassing += (flow - gassing) / 25.0
            shown = max(flow + chance.gauss(0, 0.012 * flow + 0.02), 0.0)
            cell = 2.17 + 0.10 * math.log1p(gassing / (0.004 * hours)) + 1.3 * flow / hours * 0.5 + second * 4e-6
            cell = min(cell, 2.67)
            warm += (shown * cell * cells * 0.55 / (hours * cells * 65.0)) - (warm - air) / 40_000.0
            self._amps.append(shown)
            self._cell.append(cell + chance.gauss(0, 0.0008))
            self._celsius.append(warm)

    def amps(self, t: float) -> float:
        """Charging is positive."""
        return self._amps[min(int(t), 2399)]

    def volts(self, t: float, share: float = 1.0) -> float:
        """Of the bank, or of a share of it."""
        return self._cell[min(int(t), 2399)] * self.cells * share

    def part(self, share: float, lean: float) -> Signal:
        """Volts of a share of the bank that stands so much above its due."""
        return lambda t: self.volts(t, share) + lean

    def celsius(self, t: float, above: float = 0.0) -> float:
        """In the electrolyte."""
        return self._celsius[min(int(t), 2399)] + above


def _as_text(value: Signal, digits: int) -> Callable[[float], str]:
    return lambda t: f"{value(t):.{digits}f}"


def _swing(middle: float, swing: float, period: float, phase: float = 0.0) -> Signal:
    """A sine about its middle."""
    return lambda t: middle + swing * math.sin(t / period + phase)


def _drawn(bank: Flooded, efficiency: float, idle: float = 0.0) -> Signal:
    """Watts a charger takes from the mains."""
    return lambda t: bank.volts(t) * bank.amps(t) / efficiency + idle


def _fahrenheit(celsius: float) -> float:
    return celsius * 9 / 5 + 32


def mill() -> House:
    """A hub mirrors its entities, one topic each with a unit beside it; 24 V bank of the old mill, one thermometer."""
    house = House("mill", 9101, "annex", {"annex": 12})
    bank = Flooded(9101, 12, 420.0, (21.0, 16.0, 9.0, 18.0), 29.4, 14.0)
    SECOND.setdefault("mill", {})

    def entity(name: str, every: float, says: object, unit: str = "", truth: Truth | None = None) -> str:
        topic = f"mirror/{name}/now"
        house.say(topic, every, says, truth)
        if unit:
            house.say(f"mirror/{name}/unit", 60, unit, retain=True)
        return topic

    def bank_is(quantity: str, unit: str) -> Truth:
        return Truth("annex", quantity, unit)

    entity("sensor.annex_battery_voltage", 5, _as_text(bank.volts, 2), "V", bank_is("voltage", "V"))
    entity("sensor.annex_battery_current", 5, _as_text(bank.amps, 2), "A", bank_is("current", "A"))
    watts = _as_text(lambda t: bank.volts(t) * bank.amps(t), 0)
    entity("sensor.annex_battery_power", 10, watts, "W", bank_is("power", "W"))
    acid = _as_text(bank.celsius, 1)
    entity("sensor.annex_battery_acid_temperature", 20, acid, "°C", bank_is("electrolyte_temperature", "degC"))
    entity(
        "sensor.annex_air_temperature",
        30,
        _as_text(house.around(15.2, 0.4, 900, 0.04), 1),
        "°C",
        bank_is("ambient_temperature", "degC"),
    )
    mains = house.around(229.4, 1.8, 300, 0.3)
    drawn = _drawn(bank, 0.86, 9)
    entity("sensor.annex_charger_plug_power", 10, _as_text(drawn, 1), "W", bank_is("ac_power", "W"))
    entity("sensor.annex_charger_plug_voltage", 10, _as_text(mains, 1), "V", bank_is("ac_voltage", "V"))
    entity(
        "sensor.annex_charger_plug_current",
        10,
        _as_text(lambda t: drawn(t) / mains(t) / 0.8, 2),
        "A",
        bank_is("ac_current", "A"),
    )
    entity("sensor.annex_charger_plug_energy", 60, _as_text(house.counter(311.2, 0.00018), 3), "kWh")
    entity("switch.annex_charger_plug", 60, "on")
    entity("binary_sensor.annex_fan_running", 30, "on", truth=bank_is("fan", ""))
    entity("binary_sensor.annex_door", 60, "off", truth=bank_is("door", ""))
    entity("sensor.annex_battery_state_of_charge", 60, "100", "%")

    rooms = {"kitchen": 21.3, "parlour": 20.4, "attic": 12.8, "bath": 22.9, "cellar": 11.6, "hall": 18.2}
    for room, warm in rooms.items():
        entity(f"sensor.{room}_temperature", 40, _as_text(house.around(warm, 0.5, 800, 0.05), 1), "°C")
        entity(f"sensor.{room}_humidity", 40, _as_text(house.around(52, 5, 700, 0.4), 0), "%")
        entity(f"sensor.{room}_thermometer_battery", 60, str(60 + len(room) * 5), "%")
    for plug, levels in {"washer": (2.1, 1980.0, 310.0), "fridge": (1.2, 78.0), "kiln": (0.0, 2890.0)}.items():
        entity(f"sensor.{plug}_plug_power", 10, _as_text(house.steps(*levels, dwell=140, sigma=0.4), 1), "W")
        entity(f"sensor.{plug}_plug_voltage", 20, _as_text(house.around(229.0, 1.8, 300, 0.3), 1), "V")
        entity(f"switch.{plug}_plug", 60, "on")
    entity("sensor.alarm_panel_battery_voltage", 60, _as_text(house.around(13.62, 0.02, 900, 0.01), 2), "V")
    entity("sensor.gate_remote_battery_voltage", 60, "2.94", "V")
    entity("sensor.phone_of_ida_battery_level", 60, _as_text(house.around(63, 2, 1200), 0), "%")
    entity("sensor.phone_of_ida_battery_temperature", 60, _as_text(house.around(28.8, 0.7, 500, 0.1), 1), "°C")
    entity("sensor.boiler_flow_temperature", 20, _as_text(house.around(47.0, 6, 400, 0.1), 1), "°C")
    entity("sensor.boiler_return_temperature", 20, _as_text(house.around(38.0, 5, 400, 0.1), 1), "°C")
    entity("sensor.millrace_level", 60, _as_text(house.around(0.83, 0.02, 600, 0.002), 3), "m")
    entity("sensor.outdoor_temperature", 60, _as_text(house.around(6.3, 0.6, 1500, 0.05), 1), "°C")
    entity("sensor.outdoor_pressure", 60, _as_text(house.around(1009.3, 0.4, 1500, 0.05), 1), "hPa")
    entity("sun.sun", 60, "below_horizon")
    entity("person.ida", 60, "home")
    entity("light.hall", 60, "off")
    entity("update.hub_core", 60, "off")
    return house


def smallholding() -> House:
    """Cheap boards: nested telemetry in whole millivolts and milliamps, names clipped, discharge counted positive."""
    house = House("smallholding", 9202, "barn", {"barn": 12, "fence": 6})
    bank = Flooded(9202, 12, 260.0, (14.0, 11.0, 6.5, 12.5), 31.2, 9.0, 95.0)
    fence = house.around(12.68, 0.02, 900, 0.004)
    SECOND.setdefault("smallholding", {})

    def frame(t: float, seed: float, **more: object) -> dict[str, object]:
        return {"up": int(81_000 + seed * 977 + t), "hp": 21_300 + int(seed * 311 + t * 7) % 900, "sns": more}

    def board(
        name: str, every: float, says: Callable[[float], Mapping[str, object]], truth: dict[str, Truth] | None = None
    ) -> None:
        index = float(sum(map(ord, name)) % 23)
        house.say(f"sh/{name}/dat", every, lambda t: frame(t, index, **says(t)), truth)
        rssi = house.around(-67 + index / 2, 3, 200, 1.2)
        link = {"ch": 6, "ip": f"10.7.0.{int(index) + 20}", "vcc": 3.28}
        house.say(f"sh/{name}/net", 60, lambda t: {"rs": round(rssi(t))} | link)
        house.say(f"sh/{name}/lwt", 60, "up", retain=True)
        house.say(f"sh/{name}/fw", 60, {"v": "0.9.4", "bd": "2026-03-02", "rst": "pwr"}, retain=True)

    def true(quantity: str, unit: str, sign: str = "charging", of: str = "barn") -> Truth:
        return Truth(of, quantity, unit, sign)

    split = house.around(0.52, 0.01, 500, 0.002)

    def shunt(t: float) -> dict[str, object]:
        volts, amps = bank.volts(t), -bank.amps(t)
        shown = {"ub": int(volts * 1000), "ib": int(amps * 1000), "pb": round(volts * amps, 1)}
        return {"sh1": shown, "ms": int(Clock.at(t) * 1000)}

    board(
        "brn-pwr",
        3,
        shunt,
        {
            "/sns/sh1/ub": true("voltage", "mV"),
            "/sns/sh1/ib": true("current", "mA", "discharging"),
            "/sns/sh1/pb": true("power", "W", "discharging"),
        },
    )

    def strings(t: float) -> dict[str, object]:
        amps = bank.amps(t)
        shares = {"i1": round(-amps * split(t), 2), "i2": round(-amps * (1 - split(t)), 2)}
        return {"st": shares, "mid": round(bank.volts(t, 0.5) - 0.06, 2)}

    board(
        "brn-str",
        6,
        strings,
        {
            "/sns/st/i1": true("string_current", "A", "discharging"),
            "/sns/st/i2": true("string_current", "A", "discharging"),
            "/sns/mid": true("midpoint_voltage", "V"),
        },
    )

    def probes(t: float) -> dict[str, object]:
        acid = {"el1": round(bank.celsius(t), 2), "el2": round(bank.celsius(t, -0.7), 2)}
        return {"ds": acid | {"rm": round(12.4 + 0.4 * math.sin(t / 400), 2)}}

    board(
        "brn-tmp",
        15,
        probes,
        {
            "/sns/ds/el1": true("electrolyte_temperature", "degC"),
            "/sns/ds/el2": true("electrolyte_temperature", "degC"),
            "/sns/ds/rm": true("ambient_temperature", "degC"),
        },
    )
    board(
        "brn-gas",
        10,
        lambda t: {"h2": round(2100 + 90 * bank.amps(t) + 40 * math.sin(t / 31)), "hum": 61},
        {
            "/sns/h2": true("hydrogen", "ppm"),
        },
    )
    house.say("sh/brn-chg/rly", 30, {"rl": 1, "pw": "on"})
    board(
        "brn-chg",
        8,
        lambda t: {
            "ac": {
                "u": round(231.2 + math.sin(t / 70), 1),
                "i": round(bank.volts(t) * bank.amps(t) / 0.84 / 231 / 0.7, 2),
                "p": round(bank.volts(t) * bank.amps(t) / 0.84, 1),
                "pf": 0.7,
                "hz": 50.0,
            }
        },
        {
            "/sns/ac/u": true("ac_voltage", "V"),
            "/sns/ac/i": true("ac_current", "A"),
            "/sns/ac/p": true("ac_power", "W"),
        },
    )
    board(
        "fnc",
        20,
        lambda t: {"bt": {"ub": int(fence(t) * 1000)}, "hv": round(7.9 + 0.2 * math.sin(t / 17), 1)},
        {
            "/sns/bt/ub": true("voltage", "mV", of="fence"),
        },
    )

    def weather(warm: Signal) -> Callable[[float], Mapping[str, object]]:
        return lambda t: {"bme": {"t": round(warm(t), 2), "h": round(58 + 4 * math.sin(t / 300), 1), "p": 1007.6}}

    def echo(level: Signal) -> Callable[[float], Mapping[str, object]]:
        return lambda t: {"us": {"mm": round(level(t)), "ok": 1}}

    for name, warm in {"hen": 16.2, "grn": 24.1, "cid": 13.3, "dry": 33.6, "inc": 37.7, "out": 5.5}.items():
        board(name, 20, weather(_swing(warm, 0.3, 210, warm)))
    for name, level in {"tnk1": 1410.0, "tnk2": 388.0}.items():
        board(name, 30, echo(_swing(level, 3, 40)))
    for name in ("soil1", "soil2", "soil3"):
        board(name, 60, lambda t: {"cap": 512 + int(6 * math.sin(t / 90)), "bt": {"ub": 3912 - int(t / 60)}})
    board(
        "pmp",
        10,
        lambda t: {
            "ac": {
                "u": round(230.3 + math.sin(t / 61), 1),
                "i": [0.0, 3.4][int(t / 150) % 2],
                "p": [0.4, 742.0][int(t / 150) % 2],
                "pf": 0.95,
            },
            "bar": round(3.1 + 0.4 * math.sin(t / 44), 2),
        },
    )
    return house


def werk() -> House:
    """A forklift's 48 V battery in a works: registers with factors, glued German names, local time in the stamp."""
    house = House("werk", 9303, "stapler", {"stapler": 24, "notlicht": 12})
    bank = Flooded(9303, 24, 620.0, (31.0, 24.0, 14.0, 28.0), 33.8, 19.0, 130.0)
    reserve = house.around(25.46, 0.01, 900, 0.003)
    second = SECOND.setdefault("werk", {})

    def true(quantity: str, unit: str, of: str = "stapler") -> Truth:
        return Truth(of, quantity, unit)

    def register(
        number: int,
        name: str,
        every: float,
        value: Signal,
        factor: float,
        unit: str,
        truth: Truth | None = None,
        shown: bool = False,
    ) -> None:
        """A register; with its scaled value only where `shown`, otherwise whoever reads it multiplies by ``fak``."""
        topic = f"halle3/sps1/hr/{number}"

        def says(t: float) -> dict[str, object]:
            raw = round(value(t) / factor)
            said: dict[str, object] = {"reg": number, "bez": name, "roh": raw, "fak": factor, "eh": unit}
            if shown:
                said["wert"] = round(raw * factor, 4)
            return said | {"zeit": Clock.iso(t, 1)}

        house.say(topic, every, says, {"/wert" if shown else "/roh": truth} if truth else None)
        if truth and shown:
            second[f"{topic} /roh"] = truth

    air = house.around(19.4, 0.5, 900, 0.05)
    register(40101, "STAPLERBATTSPANNUNG", 2, bank.volts, 0.01, "V", true("voltage", "V"), shown=True)
    register(40102, "STAPLERBATTLADESTROM", 2, bank.amps, 0.1, "A", true("current", "dA"))
    register(40103, "STAPLERBATTLEISTUNG", 5, lambda t: bank.volts(t) * bank.amps(t), 1, "W", true("power", "W"))
    register(
        40104, "STAPLERBATTSAEURETEMP", 15, bank.celsius, 0.1, "°C", true("electrolyte_temperature", "degC"), shown=True
    )
    register(40105, "LADERAUMLUFTTEMP", 30, air, 0.1, "°C", true("ambient_temperature", "degC"), shown=True)
    register(
        40106,
        "LADERAUMWASSERSTOFF",
        10,
        lambda t: 0.21 + 0.008 * bank.amps(t),
        0.01,
        "Vol%",
        true("hydrogen", "percent"),
        shown=True,
    )
    register(
        40107,
        "STAPLERBATTMITTENSPANNUNG",
        5,
        lambda t: bank.volts(t, 0.5) + 0.05,
        0.01,
        "V",
        true("midpoint_voltage", "cV"),
    )
    register(40108, "LADERAUMTUERZU", 60, lambda t: 1, 1, "", true("door", ""))
    register(40109, "LADERAUMLUEFTEREIN", 30, lambda t: 1, 1, "", true("fan", ""))
    ac = _drawn(bank, 0.9)
    register(40121, "LADEGERNETZSPANNUNG", 10, house.around(398.0, 2.0, 400, 0.4), 0.1, "V")
    register(40122, "LADEGERNETZLEISTUNG", 10, ac, 1, "W", true("ac_power", "W"))
    register(40123, "NETZFREQUENZ", 10, house.around(50.0, 0.02, 100, 0.004), 0.01, "Hz")
    register(40131, "NOTLICHTBATTSPANNUNG", 20, reserve, 0.01, "V", true("voltage", "V", "notlicht"), shown=True)
    register(
        40132, "NOTLICHTBATTSTROM", 20, house.around(0.0, 0.02, 300, 0.01), 0.01, "A", true("current", "cA", "notlicht")
    )

    def hundredths(value: Signal) -> Callable[[float], str]:
        return lambda t: str(round(value(t) * 100))

    for block in range(1, 5):
        lean = (block - 2.5) * 0.035
        topic = f"halle3/sps1/db7/BlockSpg{block}_x100"
        house.say(topic, 10, hundredths(bank.part(0.25, lean)), true("block_voltage", "cV"))
    house.say("halle3/sps1/db7/Schuetz_Ladegeraet", 30, "EIN")
    for line in range(1, 5):
        start = 40200 + 20 * line
        load = house.steps(1.2 * line, 8.4 * line, 3.3 * line, dwell=70 + 9 * line, sigma=0.1)
        register(start + 1, f"LINIE{line}MOTORSTROM", 3, load, 0.1, "A")
        register(start + 2, f"LINIE{line}MOTORTEMP", 30, house.around(44.0 + 3 * line, 2, 600, 0.1), 0.1, "°C")
        register(start + 3, f"LINIE{line}DREHZAHL", 3, house.around(1440, 22, 90, 3), 1, "1/min")
        register(start + 4, f"LINIE{line}STUECKZAHL", 10, house.counter(18_200 * line, 0.3), 1, "")
        register(start + 5, f"LINIE{line}STEUERSPANNUNG", 20, house.around(24.1, 0.1, 300, 0.03), 0.01, "V")
    for drive in range(1, 6):
        base = f"halle3/umr{drive}/ist"
        house.say(f"{base}/Zwischenkreis_V", 5, _as_text(house.around(561.0, 6, 120, 1), 0))
        house.say(f"{base}/Ausgang_A", 5, _as_text(house.steps(2.0, 6.0, 4.0, dwell=60 + drive, sigma=0.1), 1))
        house.say(f"{base}/Kuehlkoerper_C", 30, _as_text(house.around(38.0 + drive, 2, 500, 0.1), 1))
        house.say(f"{base}/Stoerung", 60, "0")
    for tank in ("Kuehlwasser", "Hydraulikoel", "Druckluft"):
        house.say(f"halle3/medien/{tank}/Temp", 30, _as_text(house.around(27.0 + len(tank), 1, 500, 0.1), 1))
        house.say(f"halle3/medien/{tank}/Druck_mbar", 10, _as_text(house.around(3200 + 90 * len(tank), 40, 200, 5), 0))
    house.say("halle3/uhr", 10, lambda t: Clock.iso(t, 1))
    house.say("halle3/sps1/lebt", 1, lambda t: int(t) % 256)
    return house


def ketch() -> House:
    """A wooden boat laid up: starter at rest, the 36 V traction bank on a charger, lithium by its cells; no stamps."""
    house = House("ketch", 9404, "traction", {"traction": 18, "starter": 6})
    bank = Flooded(9404, 18, 320.0, (16.0, 12.5, 8.0, 15.0), 27.6, 11.0, 100.0)
    starter = house.around(12.74, 0.015, 900, 0.004)
    second = SECOND.setdefault("ketch", {})

    def true(quantity: str, unit: str, of: str = "traction", sign: str = "charging") -> Truth:
        return Truth(of, quantity, unit, sign)

    def say(where: str, every: float, says: object, truth: Truth | None = None) -> None:
        house.say(f"orlanda/{where}", every, says, truth)

    say("dc/traction/volts", 2, _as_text(bank.volts, 2), true("voltage", "V"))
    say("dc/traction/amps", 2, _as_text(bank.amps, 1), true("current", "A"))
    say("dc/traction/acid/port", 20, _as_text(bank.celsius, 1), true("electrolyte_temperature", "degC"))
    say(
        "dc/traction/acid/starboard",
        20,
        _as_text(lambda t: bank.celsius(t, 0.9), 1),
        true("electrolyte_temperature", "degC"),
    )
    say(
        "dc/traction/locker/air",
        30,
        _as_text(house.around(13.1, 0.5, 700, 0.04), 1),
        true("ambient_temperature", "degC"),
    )
    say("dc/traction/locker/h2", 10, _as_text(lambda t: 0.08 + 0.012 * bank.amps(t), 2), true("hydrogen", "percent"))
    say("dc/traction/locker/blower", 30, "RUN", true("fan", ""))
    for block in range(1, 7):
        lean = (block - 3.5) * 0.02
        say(f"dc/traction/monobloc/{block}", 8, _as_text(bank.part(1 / 6, lean), 2), true("block_voltage", "V"))
    say("dc/starter/volts", 10, _as_text(starter, 2), true("voltage", "V", "starter"))
    say("dc/starter/amps", 10, _as_text(house.around(-0.15, 0.04, 300, 0.02), 2), true("current", "A", "starter"))
    for cell in range(1, 9):
        say(f"dc/bow/cell/{cell}/mv", 6, _as_text(house.around(3321 + cell % 3, 4, 400, 0.6), 0))
    say("dc/bow/pack/volts", 6, _as_text(house.around(26.58, 0.03, 400, 0.005), 2))
    say("dc/bow/pack/amps", 6, _as_text(house.steps(-2.1, -8.7, -0.4, dwell=130, sigma=0.05), 1))
    say("dc/bow/pack/soc", 30, "81")
    say("dc/bow/pack/temp", 30, _as_text(house.around(14.4, 0.3, 600, 0.05), 1))
    say("shore/volts", 5, _as_text(house.around(232.6, 2.5, 250, 0.3), 1))
    say("shore/amps", 5, _as_text(house.steps(2.1, 5.9, 3.3, dwell=80, sigma=0.05), 2))
    say("shore/hertz", 5, _as_text(house.around(50.0, 0.03, 100, 0.01), 2))
    say("charger/ac/watts", 5, _as_text(lambda t: bank.volts(t) * bank.amps(t) / 0.87, 0), true("ac_power", "W"))
    say("charger/dc/volts", 5, _as_text(lambda t: bank.volts(t) + 0.02 * bank.amps(t), 2))
    second["orlanda/charger/dc/volts"] = true("voltage", "V")
    say("charger/relay", 30, "closed")
    say("charger/mode", 60, "equalize")
    for engine in ("main", "genset"):
        say(f"engine/{engine}/rpm", 2, "0")
        say(f"engine/{engine}/coolant", 20, _as_text(house.around(12.0, 0.3, 900, 0.05), 1))
        say(f"engine/{engine}/oilbar", 20, "0.0")
        say(f"engine/{engine}/alternator/volts", 10, _as_text(house.around(12.71, 0.02, 900, 0.01), 2))
        say(f"engine/{engine}/hours", 60, "2411.6")
    for tank, level in {
        "diesel/port": 61.0,
        "diesel/stb": 58.0,
        "water/fore": 33.0,
        "water/aft": 87.0,
        "black": 12.0,
    }.items():
        say(f"tank/{tank}/pct", 30, _as_text(house.around(level, 0.6, 200, 0.2), 0))
    for where, warm in {
        "saloon": 16.9,
        "forepeak": 11.2,
        "galley": 18.0,
        "wheelhouse": 9.4,
        "fridge": 4.1,
        "freezer": -17.2,
        "sea": 7.9,
    }.items():
        say(f"temp/{where}", 20, _as_text(house.around(warm, 0.4, 500, 0.06), 1))
    say("wind/speed", 1, _as_text(house.around(7.4, 3, 60, 0.8), 1))
    say("wind/angle", 1, _as_text(house.around(210, 25, 80, 5), 0))
    say("nav/depth", 2, _as_text(house.around(4.2, 0.2, 600, 0.03), 1))
    say("nav/heading", 2, _as_text(house.around(87, 1.2, 100, 0.3), 0))
    say("nav/fix", 5, lambda t: {"lat": 54.90213, "lon": 10.41177, "sog": 0.0, "sat": 11, "utc": Clock.iso(t)})
    say("baro", 30, _as_text(house.around(1004.1, 0.3, 1500, 0.03), 1))
    for pump in ("fore", "mid", "aft"):
        say(f"bilge/{pump}/float", 30, "0")
        say(f"bilge/{pump}/count", 60, "3")
    for light in ("anchor", "nav", "deck", "cabin1", "cabin2"):
        say(f"light/{light}", 60, "OFF")
    say("hatch/engine", 60, "shut")
    return house


def yard() -> House:
    """A solar yard: one 24 V bank on the charger, one at rest; value-and-unit pairs, Fahrenheit, stamps in seconds."""
    house = House("yard", 9505, "east", {"east": 12, "west": 12})
    bank = Flooded(9505, 12, 510.0, (27.0, 20.0, 12.0, 24.0), 30.6, 17.0, 120.0)
    rest = house.around(25.52, 0.015, 1200, 0.004)
    idle = house.around(-0.3, 0.05, 300, 0.03)
    second = SECOND.setdefault("yard", {})

    def true(quantity: str, unit: str, of: str = "east", sign: str = "charging") -> Truth:
        return Truth(of, quantity, unit, sign)

    def pair(where: str, every: float, value: Signal, unit: str, digits: int, truth: Truth | None = None) -> None:
        house.say(
            f"solyard/{where}",
            every,
            lambda t: {"val": round(value(t), digits), "unit": unit, "t": int(Clock.at(t))},
            {"/val": truth} if truth else None,
        )

    def warmth(celsius: Signal) -> Signal:
        return lambda t: _fahrenheit(celsius(t))

    pair("bank/east/v", 4, bank.volts, "V", 2, true("voltage", "V"))
    pair("bank/east/i", 4, bank.amps, "A", 1, true("current", "A"))
    pair(
        "bank/east/cell3-acid",
        20,
        lambda t: _fahrenheit(bank.celsius(t)),
        "F",
        1,
        true("electrolyte_temperature", "degF"),
    )
    pair(
        "bank/east/cell9-acid",
        20,
        lambda t: _fahrenheit(bank.celsius(t, 0.6)),
        "F",
        1,
        true("electrolyte_temperature", "degF"),
    )
    pair("bank/west/v", 8, rest, "V", 2, true("voltage", "V", "west"))
    pair("bank/west/i", 8, idle, "A", 1, true("current", "A", "west"))
    pair(
        "bank/west/cell5-acid",
        30,
        lambda t: _fahrenheit(19.2 + 0.05 * math.sin(t / 500)),
        "F",
        1,
        true("electrolyte_temperature", "degF", "west"),
    )
    pair(
        "shed/air",
        30,
        lambda t: _fahrenheit(18.1 + 0.3 * math.sin(t / 300)),
        "F",
        1,
        true("ambient_temperature", "degF"),
    )
    house.say("solyard/shed/door", 60, lambda t: {"open": False, "t": int(Clock.at(t))}, {"/open": true("door", "")})
    house.say("solyard/shed/exhaust", 30, lambda t: {"on": True, "t": int(Clock.at(t))}, {"/on": true("fan", "")})
    mains = house.around(230.8, 2.0, 280, 0.3)
    drawn = _drawn(bank, 0.88, 7)
    house.say(
        "solyard/charger/feed",
        5,
        lambda t: {
            "volts": round(mains(t), 1),
            "amps": round(drawn(t) / mains(t) / 0.9, 2),
            "watts": round(drawn(t), 1),
            "kwh": round(871.2 + t * 0.0002, 3),
            "t": int(Clock.at(t)),
        },
        {"/volts": true("ac_voltage", "V"), "/amps": true("ac_current", "A"), "/watts": true("ac_power", "W")},
    )
    house.say("solyard/charger/switch", 30, lambda t: {"state": "ON", "t": int(Clock.at(t))})
    load = house.steps(310.0, 1240.0, 540.0, dwell=90, sigma=4)

    def sagging(t: float) -> float:
        return rest(t) - 0.03

    def inverter(dc: Signal) -> Callable[[float], Mapping[str, object]]:
        return lambda t: {
            "dc": {"v": round(dc(t), 2), "i": round(0.3 if dc(t) < 30 else load(t) / dc(t) / 0.92, 1)},
            "ac": {"v": round(mains(t) - 0.6, 1), "hz": round(49.99 + 0.02 * math.sin(t / 33), 2), "w": round(load(t))},
            "heatsink": {"val": round(_fahrenheit(36 + load(t) / 300), 1), "unit": "F"},
            "t": int(Clock.at(t)),
        }

    for name, link in {"inv1": "west", "inv2": ""}.items():
        dc = sagging if link else house.around(52.3, 0.5, 300, 0.05)
        house.say(f"solyard/{name}/live", 5, inverter(dc))
    second["solyard/inv1/live /dc/v"] = true("voltage", "V", "west")
    for string in range(1, 7):
        sun = house.steps(5.8, 3.1, 6.6, 1.9, dwell=75 + 7 * string, sigma=0.1)
        pair(f"pv/{string}/v", 4, house.around(74.0 + string, 3, 200, 0.3), "V", 1)
        pair(f"pv/{string}/i", 4, sun, "A", 2)
        pair(f"pv/{string}/backsheet", 30, lambda t: _fahrenheit(33 + 3 * math.sin(t / 150)), "F", 1)
    for cable in range(1, 4):
        pair(f"mppt/{cable}/out-v", 5, house.around(52.4 + 0.1 * cable, 0.5, 300, 0.05), "V", 2)
        pair(f"mppt/{cable}/out-i", 5, house.steps(11.0, 5.0, 13.0, dwell=80 + cable, sigma=0.2), "A", 1)
        pair(f"mppt/{cable}/today", 60, house.counter(2.4, 0.0003), "kWh", 3)
    pair("grid/v", 3, mains, "V", 1)
    pair("grid/hz", 3, house.around(50.0, 0.02, 90, 0.005), "Hz", 2)
    pair("grid/w", 3, house.around(-420, 300, 200, 15), "W", 0)
    for where, warm in {
        "office": 21.0,
        "workshop": 16.4,
        "pumphouse": 12.2,
        "greenhouse": 27.4,
        "outside": 9.9,
        "well": 10.8,
        "attic": 24.0,
    }.items():
        pair(f"temp/{where}", 25, warmth(_swing(warm, 0.4, 280, warm)), "F", 1)
        pair(f"rh/{where}", 25, house.around(55, 5, 400, 0.5), "%", 0)
    pair("irradiance", 5, house.steps(610.0, 340.0, 720.0, dwell=85, sigma=5), "W/m2", 0)
    pair("anemometer", 2, house.around(6.0, 3, 50, 0.8), "mph", 1)
    for gate in ("north", "south", "barn"):
        house.say(f"solyard/gate/{gate}", 60, lambda t: {"open": False, "cell": 3.02, "t": int(Clock.at(t))})
    house.say(
        "solyard/logger/status",
        30,
        lambda t: {"up": int(t), "cpu": {"val": 113.2, "unit": "F"}, "disk": 41, "t": int(Clock.at(t))},
    )
    return house


def hut() -> House:
    """A telecom hut of 48 V: strings, blocks, midpoints and hydrogen about one bank, and thermometers everywhere."""
    house = House("hut", 9606, "plant", {"plant": 24})
    bank = Flooded(9606, 24, 800.0, (38.0, 30.0, 19.0, 35.0), 28.9, 20.0, 105.0)
    split = house.around(0.485, 0.008, 500, 0.002)
    load = house.steps(14.2, 16.8, 15.1, dwell=70, sigma=0.1)
    second = SECOND.setdefault("hut", {})

    def true(quantity: str, unit: str, sign: str = "charging") -> Truth:
        return Truth("plant", quantity, unit, sign)

    def say(where: str, every: float, name: str, value: Callable[[float], object], truth: Truth | None = None) -> None:
        house.say(
            f"site/K0417/{where}",
            every,
            lambda t: {name: value(t), "at": Clock.iso(t)},
            {f"/{name}": truth} if truth else None,
        )

    def near(signal: Signal, digits: int) -> Callable[[float], object]:
        return lambda t: round(signal(t), digits)

    say("dcplant/bus", 5, "volts", near(lambda t: bank.volts(t) + 0.012 * bank.amps(t), 2))
    second["site/K0417/dcplant/bus /volts"] = true("voltage", "V")
    say("dcplant/battery/terminal", 5, "volts", near(bank.volts, 2), true("voltage", "V"))
    say("dcplant/battery/total", 5, "amps", near(bank.amps, 1), true("current", "A"))
    say("dcplant/battery/power", 10, "kw", near(lambda t: bank.volts(t) * bank.amps(t) / 1000, 3), true("power", "kW"))
    say("dcplant/load", 5, "amps", near(load, 1))

    def of_string(share: Signal) -> Signal:
        return lambda t: bank.amps(t) * share(t)

    def of_rectifier(share: Signal) -> Signal:
        return lambda t: (bank.amps(t) + load(t)) * share(t)

    def acid(above: float) -> Signal:
        return lambda t: bank.celsius(t, above)

    for letter, share in (("A", split), ("B", lambda t: 1 - split(t))):
        say(
            f"dcplant/battery/string{letter}/current", 5, "amps", near(of_string(share), 2), true("string_current", "A")
        )
        lean = 0.07 if letter == "A" else -0.04
        say(
            f"dcplant/battery/string{letter}/midpoint",
            10,
            "volts",
            near(bank.part(0.5, lean), 2),
            true("midpoint_voltage", "V"),
        )
        for block in range(1, 5):
            off = (block - 2.5) * (0.03 if letter == "A" else -0.025) + lean / (2 if block < 3 else -2)
            say(
                f"dcplant/battery/string{letter}/block{block}",
                15,
                "volts",
                near(bank.part(0.25, off), 2),
                true("block_voltage", "V"),
            )
        say(
            f"dcplant/battery/string{letter}/electrolyte",
            20,
            "degc",
            near(acid(5 * lean), 1),
            true("electrolyte_temperature", "degC"),
        )
    say("battroom/hydrogen", 10, "pct_lel", near(lambda t: 2.0 + 0.16 * bank.amps(t), 1))
    say("battroom/h2", 10, "ppm", near(lambda t: 800 + 64 * bank.amps(t), 0), true("hydrogen", "ppm"))
    second["site/K0417/battroom/hydrogen /pct_lel"] = true("hydrogen", "percent")
    say("battroom/air", 20, "degc", near(house.around(21.7, 0.4, 500, 0.05), 1), true("ambient_temperature", "degC"))
    say("battroom/extractor", 30, "running", lambda t: True, true("fan", ""))
    say("battroom/door", 60, "closed", lambda t: True, true("door", ""))
    say("dcplant/charger/contactor", 30, "state", lambda t: "closed")
    for unit in range(1, 5):
        share = house.around(0.25, 0.01, 300 + unit, 0.003)
        say(f"rectifier/{unit}/out", 5, "volts", near(lambda t: bank.volts(t) + 0.02 * bank.amps(t), 2))
        second[f"site/K0417/rectifier/{unit}/out /volts"] = true("voltage", "V")
        say(f"rectifier/{unit}/current", 5, "amps", near(of_rectifier(share), 1))
        say(f"rectifier/{unit}/input", 10, "volts", near(house.around(228.0 + unit / 2, 2, 300, 0.3), 1))
        say(f"rectifier/{unit}/heatsink", 30, "degc", near(house.around(46.0 + unit, 2, 400, 0.2), 1))
        say(f"rectifier/{unit}/fan", 30, "rpm", near(house.around(3100, 60, 100, 15), 0))
    for rack in range(1, 7):
        say(f"air/rack{rack}/top", 20, "degc", near(house.around(26.0 + rack / 3, 0.7, 300, 0.08), 1))
        say(f"air/rack{rack}/bottom", 20, "degc", near(house.around(21.5 + rack / 4, 0.5, 300, 0.08), 1))
        say(f"feed/rack{rack}", 10, "amps", near(house.around(2.5, 0.3, 150, 0.05), 2))
    for where, warm in {
        "inlet": 14.1,
        "outlet": 25.9,
        "ceiling": 27.2,
        "floor": 18.6,
        "outdoor": 6.4,
        "cableduct": 16.0,
    }.items():
        say(f"air/{where}", 20, "degc", near(house.around(warm, 0.6, 350, 0.06), 1))
    say("mains/l1", 5, "volts", near(house.around(229.7, 2, 300, 0.3), 1))
    say("mains/l2", 5, "volts", near(house.around(231.2, 2, 280, 0.3), 1))
    say("mains/l3", 5, "volts", near(house.around(228.3, 2, 260, 0.3), 1))
    say("mains/freq", 5, "hz", near(house.around(50.0, 0.02, 90, 0.004), 2))
    say("genset/starter", 20, "volts", near(house.around(13.38, 0.02, 600, 0.01), 2))
    say("genset/fuel", 60, "litres", near(house.around(412, 1, 900, 0.3), 0))
    say("aircon/1", 20, "watts", near(house.steps(80.0, 1120.0, 640.0, dwell=95, sigma=5), 0))
    say("mast/light", 60, "lit", lambda t: False)
    say("microwave/rsl", 10, "dbm", near(house.around(-41.3, 0.6, 80, 0.2), 1))
    say("alarm/summary", 60, "active", lambda t: 0)
    house.say("site/K0417/heartbeat", 5, lambda t: json.dumps({"seq": int(t / 5), "at": Clock.iso(t)}))
    return house


STRANGERS: tuple[Callable[[], House], ...] = (mill, smallholding, werk, ketch, yard, hut)
