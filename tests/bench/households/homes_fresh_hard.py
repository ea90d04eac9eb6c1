"""Six invented households, each wired by a different person, each with one flooded bank being equalised.

The persons: a retired radio amateur in a hut on a point (Fahrenheit, home-made boards, E and I for volts and amps); a
farmer whose nephew set up a hub and went back to the city; a Swedish boatyard; the engineer of a telecom hut with a
gateway of registers (Portuguese abbreviations); a Spanish hobbyist who draws flows; a French village workshop that
takes three banks in turn. Nothing here is anybody's; every name is invented.

A battery without a current of its own (a car's starter) is nobody's bank, so it is in no truth. The first score, before
anything was mended for them: live right 25 of 26, found 42 of 60, the bank being equalised in 3 of 6. From then on they
are houses to develop on, and tell nothing about strangers' houses any more.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from typing import NamedTuple

from tests.bench.households.world import START, House, Signal, Truth

Says = Callable[[float], object]


class Leaky(House):
    """A house whose radio loses messages and whose boards fall silent now and then.

    Attributes
    ----------
    lose : float
        Share of the live messages that never arrive [1].
    silent : list of (str, float, float)
        Beginning of a topic, and between which seconds nothing under it speaks [s].
    """

    lose: float = 0.0
    silent: list[tuple[str, float, float]]

    def __init__(self, name: str, seed: int, equalised: str, shapes: dict[str, int], seconds: int = 600) -> None:
        super().__init__(name, seed, equalised, shapes, seconds)
        self.silent = []
        self.luck = seed + 7001

    def messages(self) -> Iterator[dict[str, object]]:
        """Traffic as recorded, without what was lost."""
        luck = random.Random(self.luck)
        for said in super().messages():
            t, topic = float(str(said["t"])) - START, str(said["topic"])
            if any(topic.startswith(begins) and since <= t < until for begins, since, until in self.silent):
                continue
            if not said["retain"] and luck.random() < self.lose:
                continue
            yield said


class Lead(NamedTuple):
    """The signals of one lead-acid bank; `blocks` sum to `volts`."""

    volts: Signal
    amps: Signal
    acid: Signal
    watts: Signal
    blocks: list[Signal]


def _nothing(_t: float) -> float:
    return 0.0


def lead(
    house: House,
    cells: int,
    per_cell: float,
    amps: Signal,
    usual: float,
    *,
    climb: float = 0.0,
    ohms: float = 0.0006,
    sag: Signal = _nothing,
    acid: float = 20.0,
    heat: float = 0.4,
    sigma: float = 0.003,
    apart: tuple[float, ...] = (),
) -> Lead:
    """Make a bank whose volts answer its own amps.

    `per_cell` [V] holds at `usual` amps [A]; `climb` [V per cell and hour]; `ohms` per cell; `sag` [V per cell] for
    an interruption; `acid` [degC] warming by `heat` [K/h]; `apart` [V] is how far each block stands off the mean.
    """
    noise, warm = house.noise(sigma), house.noise(0.02)

    def volts(t: float) -> float:
        return cells * (per_cell + climb * t / 3600.0 + ohms * (amps(t) - usual) + sag(t)) + noise(t)

    middle = sum(apart) / max(1, len(apart))

    def block(off: float) -> Signal:
        return lambda t: volts(t) / len(apart) + off - middle

    return Lead(
        volts,
        amps,
        lambda t: acid + heat * t / 3600.0 + warm(t),
        lambda t: volts(t) * amps(t),
        [block(off) for off in apart],
    )


def rd(signal: Signal, digits: int = 1) -> Signal:
    """Round, as a number."""
    return lambda t: round(signal(t), digits)


def whole(signal: Signal, times: float = 1.0) -> Says:
    """Tell a whole number, after multiplying."""
    return lambda t: round(signal(t) * times)


def txt(signal: Signal, digits: int = 1, unit: str = "") -> Says:
    """Write text with fixed decimals, and the unit if the person wrote one."""
    return lambda t: f"{signal(t):.{digits}f}{unit}"


def fahr(signal: Signal) -> Signal:
    """Tell degrees Celsius in Fahrenheit."""
    return lambda t: 32.0 + 1.8 * signal(t)


def grid(signal: Signal, step: float) -> Signal:
    """Show what a coarse converter makes of a signal."""
    return lambda t: round(signal(t) / step) * step


def neg(signal: Signal) -> Signal:
    """Count the other way."""
    return lambda t: -signal(t)


def _fill(shape: object, t: float) -> object:
    if callable(shape):
        return shape(t)
    if isinstance(shape, dict):
        return {key: _fill(inner, t) for key, inner in shape.items()}
    if isinstance(shape, list):
        return [_fill(inner, t) for inner in shape]
    return shape


def form(shape: object) -> Says:
    """Make a JSON shape whose leaves may be functions of the second."""
    return lambda t: _fill(shape, t)


def kept(house: House, topic: str, every: float, says: object, truth: dict[str, Truth] | Truth | None = None) -> None:
    """Add a topic that is retained on the broker and also speaks while one listens."""
    house.say(topic, every, says, truth, retain=True)
    house.say(topic, every, says, truth)


def since(start: float, again: float | None = None) -> Says:
    """Count seconds since a device started; from second `again` on it counts anew."""
    return lambda t: round(start + t) if again is None or t < again else round(t - again)


def hut_on_the_point() -> House:
    """Wire a retired radio amateur's hut: seven home-made boards, E and I, Fahrenheit, the unit in the payload.

    The old six cells (12 V) are blocked at the ceiling with few amps. His shunt is wired the other way round, so
    charging reads negative. The second board restarts in the middle.
    """
    house = Leaky("b_hut_on_the_point", 4101, "old_six", {"old_six": 6, "station": 6, "genset_starter": 6})
    house.silent.append(("hut/brd2/", 331.0, 352.0))
    say = house.say
    old = lead(
        house,
        6,
        2.605,
        house.around(1.42, 0.05, 420.0, 0.015),
        1.42,
        climb=0.004,
        ohms=0.004,
        acid=22.4,
        heat=0.35,
        apart=(0.031, -0.012, 0.006, -0.044, 0.022, -0.003),
    )
    drawn = house.steps(-0.9, -0.9, -0.9, -4.6, dwell=45.0, sigma=0.02)
    station = lead(house, 6, 2.262, lambda t: drawn(t) + 1.05, 0.15, ohms=0.004, acid=19.0, heat=0.0)
    air = house.around(16.9, 0.4, 1300.0, 0.03)

    say("hut/brd1/E1", 10, txt(station.volts, 2, " V"), Truth("station", "voltage", "V"))
    say("hut/brd1/I1", 10, txt(neg(station.amps), 2, " A"), Truth("station", "current", "A", "discharging"))
    say("hut/brd1/E2", 10, txt(house.around(13.55, 0.03, 300, 0.01), 2, " V"))
    say("hut/brd1/E3", 10, txt(house.around(5.03, 0.0, 300, 0.004), 2, " V"))
    say("hut/brd1/T1", 30, txt(fahr(house.around(20.4, 0.5, 900, 0.05)), 1, " F"))
    say("hut/brd1/T2", 30, txt(fahr(house.around(31.5, 2.0, 700, 0.1)), 1, " F"))
    say("hut/brd1/RH", 60, txt(house.around(61, 2, 1200, 0.3), 0, " %"))

    say("hut/brd2/E1", 4, txt(grid(old.volts, 0.0195), 2, " V"), Truth("old_six", "voltage", "V"))
    say("hut/brd2/I1", 4, txt(neg(old.amps), 2, " A"), Truth("old_six", "current", "A", "discharging"))
    say("hut/brd2/T1", 20, txt(fahr(old.acid), 1, " F"), Truth("old_six", "electrolyte_temperature", "degF"))
    say("hut/brd2/T2", 20, txt(fahr(air), 1, " F"), Truth("old_six", "ambient_temperature", "degF"))
    say("hut/brd2/AH", 60, txt(lambda t: 38.61 + 1.42 * t / 3600.0, 2, " Ah"))
    for at, cell in enumerate(old.blocks, start=1):
        say(f"hut/brd3/E{at}", 15, txt(grid(cell, 0.0049), 3, " V"), Truth("old_six", "block_voltage", "V"))
    say("hut/brd3/REF", 60, "2.495 V")
    say("hut/brd4/E1", 30, txt(house.around(12.71, 0.01, 900, 0.004), 2, " V"))
    say("hut/brd4/T1", 30, txt(fahr(house.around(9.5, 0.3, 900, 0.05)), 1, " F"))
    say("hut/brd4/RPM", 30, "0")
    say("hut/brd4/FUEL", 60, txt(house.around(63, 0, 1, 0.5), 0, " %"))
    say("hut/brd4/HRS", 60, "1184.2 h")
    say("hut/brd5/E1", 12, txt(lambda t: old.volts(t) + 0.07, 1, " V"))
    say("hut/brd5/E2", 12, txt(house.around(121.3, 0.8, 500, 0.2), 1, " V"))
    say("hut/brd5/I2", 12, txt(house.around(0.34, 0.01, 500, 0.01), 2, " A"))
    say("hut/brd5/T1", 30, txt(fahr(house.around(38.2, 1.0, 800, 0.1)), 1, " F"))
    kept(house, "hut/brd5/K1", 60, "1")
    kept(house, "hut/brd5/K2", 60, "0")
    kept(house, "hut/brd5/K3", 60, "0")
    say("hut/brd5/FAN", 30, txt(house.around(1420, 30, 200, 9), 0, " rpm"))
    for letter, middle in (("T1", 8.1), ("T2", 7.7), ("T3", 11.2)):
        say(f"hut/brd6/{letter}", 60, txt(fahr(house.around(middle, 0.4, 1500, 0.05)), 1, " F"))
    say("hut/brd6/BARO", 60, txt(house.around(30.02, 0.01, 2000, 0.002), 2, " inHg"))
    say("hut/brd6/WIND", 5, txt(house.around(14, 5, 60, 1.5), 0, " mph"))
    say("hut/brd6/WDIR", 5, txt(house.around(247, 20, 90, 5), 0, " deg"))
    say("hut/brd6/RAIN", 60, "0.00 in")
    say("hut/brd6/LUX", 20, txt(house.around(5400, 900, 300, 60), 0))
    say("hut/brd6/STRIKES", 60, "0")
    say("hut/brd7/EPV", 10, txt(house.around(17.9, 0.6, 200, 0.05), 2, " V"))
    say("hut/brd7/IPV", 10, txt(house.around(1.05, 0.2, 200, 0.02), 2, " A"))
    say("hut/brd7/SEAWATER", 60, txt(fahr(house.around(10.3, 0.1, 2000, 0.02)), 1, " F"))
    for number in range(1, 8):
        say(f"hut/brd{number}/UP", 60, since(90_000.0 * number, 352.0 if number == 2 else None))
        say(f"hut/brd{number}/RSSI", 60, txt(house.around(-52 - 4 * number, 2, 300, 1.0), 0, " dBm"))
        say(f"hut/brd{number}/FW", 60, f"v{number}.{(number * 5) % 4} home brew", retain=True)
    say("hut/rig/band", 60, "40m", retain=True)
    say("hut/rig/freq", 5, whole(house.steps(7_030_000, 7_032_400, 7_014_000, dwell=150)))
    say("hut/rig/swr", 5, txt(house.around(1.35, 0.1, 300, 0.02), 2))
    say("hut/rig/fwd", 5, txt(house.steps(0, 0, 0, 42, dwell=45, sigma=0.2), 1, " W"))
    say("hut/rig/refl", 5, txt(house.steps(0, 0, 1, dwell=45, sigma=0.05), 1, " W"))
    say("hut/rig/pa", 15, txt(fahr(house.around(33, 3, 200, 0.2)), 0, " F"))
    say("hut/rotor/az", 15, "62")
    say("hut/wx/kindex", 60, "2", retain=True)
    say("hut/wx/flux", 60, "148", retain=True)
    say("hut/heard/count", 60, whole(house.counter(40_211, 0.05)))
    say("hut/heard/last", 30, "OLD FIST 559 QSB")
    say("hut/door", 60, "shut", retain=True)
    say("hut/kettle", 20, txt(house.steps(0, 0, 1450, dwell=120, sigma=1), 0, " W"))
    say("hut/clock", 10, lambda t: f"{int(START + t) // 3600 % 24:02d}{int(START + t) // 60 % 60:02d}Z")
    say("hut/notes", 60, "OLD SIX ON SINCE TUES. TOP UP CELL 4. DONT LEAN ON BRD3", retain=True)
    return house


def oberer_hof() -> House:
    """Wire a farmer's yard, a hub set up by the nephew: state streams, some entities renamed, some not.

    The shed bank (24 V, four blocks of 6 V) tapers at 2.50 V per cell. The acid's sensor kept its default name. A
    tractor's and a fence's battery, a lithium store in the house.
    """
    shapes = {"stallbatterie": 12, "traktor": 6, "weidezaun": 6}
    house = Leaky("b_oberer_hof", 4202, "stallbatterie", shapes)
    house.lose = 0.04
    ripple = house.noise(0.05)
    bank = lead(
        house,
        12,
        2.503,
        lambda t: 10.8 * math.exp(-t / 4700.0) + ripple(t),
        10.0,
        climb=0.003,
        ohms=0.00002,
        acid=26.8,
        heat=0.7,
        sigma=0.008,
        apart=(0.06, -0.09, 0.02, 0.01),
    )

    def entity(
        kind: str,
        name: str,
        every: float,
        says: object,
        friendly: str = "",
        unit: str = "",
        truth: Truth | None = None,
    ) -> None:
        house.say(f"hub/{kind}/{name}/state", every, says, truth)
        if friendly:
            house.say(f"hub/{kind}/{name}/friendly_name", 60, f'"{friendly}"', retain=True)
        if unit:
            house.say(f"hub/{kind}/{name}/unit_of_measurement", 60, f'"{unit}"', retain=True)

    stall = "stallbatterie"
    volt, amp = Truth(stall, "voltage", "V"), Truth(stall, "current", "A", "charging")
    entity("sensor", "scheune_shunt_voltage", 5, txt(bank.volts, 2), "Scheune Shunt Spannung", "V", volt)
    entity("sensor", "scheune_shunt_current", 5, txt(bank.amps, 2), "Scheune Shunt Strom", "A", amp)
    entity("sensor", "scheune_shunt_power", 5, txt(bank.watts, 0), "Scheune Shunt Leistung", "W")
    entity("sensor", "scheune_shunt_energy", 60, txt(lambda t: 412.3 + 0.00008 * t, 2), "", "kWh")
    entity(
        "sensor",
        "temperatur_3",
        30,
        txt(bank.acid, 1),
        "Säure Zelle 7",
        "°C",
        Truth(stall, "electrolyte_temperature", "degC"),
    )
    entity(
        "sensor",
        "batterieraum_klima_temperature",
        60,
        txt(house.around(14.2, 0.3, 1500, 0.04), 1),
        "Batterieraum Temperatur",
        "°C",
        Truth(stall, "ambient_temperature", "degC"),
    )
    entity("sensor", "batterieraum_klima_humidity", 60, txt(house.around(66, 1, 1500, 0.3), 0), "", "%")
    for at, block in enumerate(bank.blocks, start=1):
        entity("sensor", f"block_{at}", 20, txt(block, 2), f"6V Block {at}", "V", Truth(stall, "block_voltage", "V"))
    house.say("hub/input_number/saeuredichte/state", 60, "1.243", Truth(stall, "gravity"), retain=True)
    house.say("hub/input_number/saeuredichte/friendly_name", 60, '"Säuredichte letzte Messung"', retain=True)
    house.say("hub/input_number/saeuredichte/last_changed", 60, '"2026-11-24T17:12:08+00:00"', retain=True)
    kept(house, "hub/switch/schuetz_lader/state", 60, "on")
    house.say("hub/switch/schuetz_lader/friendly_name", 60, '"Schütz Lader Scheune"', retain=True)
    house.say("hub/switch/schuetz_lader/last_changed", 60, '"2026-11-25T06:31:44+00:00"', retain=True)
    entity("sensor", "lader_ausgangsspannung", 15, txt(lambda t: bank.volts(t) + 0.12, 1), "", "V")
    entity("sensor", "lader_ausgangsstrom", 15, txt(bank.amps, 1), "", "A")
    entity("sensor", "lader_temperatur", 30, txt(house.around(47, 1.5, 600, 0.2), 0), "", "°C")
    entity("sensor", "traktor_batterie", 60, txt(house.around(12.58, 0.01, 900, 0.006), 2), "Traktor Akku", "V")
    entity("sensor", "weidezaun_akku_spannung", 60, txt(house.around(12.34, 0.02, 600, 0.01), 2), "", "V")
    entity("sensor", "weidezaun_impulse", 30, whole(house.counter(883_120, 0.8)))
    entity("sensor", "weidezaun_hochspannung", 30, txt(house.around(6.8, 0.3, 200, 0.1), 1), "", "kV")
    store = house.around(-14.0, 6.0, 400, 0.2)
    entity("sensor", "speicher_haus_spannung", 10, txt(lambda t: 52.6 + 0.01 * store(t), 2), "", "V")
    entity("sensor", "speicher_haus_strom", 10, txt(store, 1), "Speicher Haus Strom", "A")
    entity("sensor", "speicher_haus_ladestand", 60, txt(lambda t: 71.0 - t / 900.0, 0), "", "%")
    entity("sensor", "wechselrichter_dc_spannung", 10, txt(house.around(418, 12, 500, 2), 1), "", "V")
    entity("sensor", "wechselrichter_dc_strom", 10, txt(house.around(3.9, 0.8, 300, 0.1), 2), "", "A")
    entity("sensor", "wechselrichter_leistung", 10, txt(house.around(1630, 300, 300, 20), 0), "", "W")
    entity("sensor", "hauszaehler_bezug", 30, txt(house.counter(28_411.2, 0.0003), 1), "", "kWh")
    for phase in (1, 2, 3):
        entity("sensor", f"netz_l{phase}", 15, txt(house.around(229 + phase, 1.5, 300, 0.5), 1), "", "V")
    entity("sensor", "milchtank_temperatur", 30, txt(house.around(4.1, 0.3, 800, 0.05), 1), "Milchtank", "°C")
    entity("sensor", "heustock_temperatur", 60, txt(house.around(38.6, 0.1, 3000, 0.05), 1), "Heustock Mitte", "°C")
    entity("sensor", "stall_temperatur", 60, txt(house.around(12.7, 0.5, 1200, 0.05), 1), "", "°C")
    entity("sensor", "temperatur_1", 30, txt(house.around(41.2, 0.8, 700, 0.1), 1), "Boiler oben", "°C")
    entity("sensor", "temperatur_2", 30, txt(house.around(29.8, 0.8, 900, 0.1), 1), "Boiler unten", "°C")
    entity("sensor", "temperatur_4", 30, txt(house.around(24.9, 0.4, 900, 0.05), 1))
    entity("sensor", "waermepumpe_vorlauf", 30, txt(house.around(33.4, 1.2, 600, 0.1), 1), "", "°C")
    entity("sensor", "waermepumpe_leistung", 15, txt(house.steps(38, 2150, 2210, dwell=200, sigma=8), 0), "", "W")
    entity("sensor", "wetter_temperatur", 60, txt(house.around(5.1, 0.4, 1800, 0.05), 1), "", "°C")
    entity("sensor", "brunnen_pegel", 60, txt(house.around(2.31, 0.01, 2000, 0.003), 2), "", "m")
    entity("sensor", "handy_opa_battery_level", 60, "64")
    entity("sensor", "tuer_stall_batterie", 60, "2.94", "", "V")
    entity("sensor", "melkstand_vakuum", 10, txt(house.around(42.0, 0.4, 90, 0.1), 1), "", "kPa")
    for name, state in (
        ("tuer_stall", "off"),
        ("tuer_milchkammer", "on"),
        ("tor_scheune", "off"),
        ("bewegung_hof", "off"),
        ("tankwagen_da", "off"),
    ):
        house.say(f"hub/binary_sensor/{name}/state", 60, state, retain=True)
    house.say("hub/person/opa/state", 60, "home", retain=True)
    house.say("hub/person/neffe/state", 60, "not_home", retain=True)
    house.say("hub/sun/sun/state", 60, "above_horizon", retain=True)
    house.say("hub/light/hoflampe/state", 60, "off", retain=True)
    house.say("hub/automation/lader_nachts_aus/state", 60, "on", retain=True)
    house.say("hub/sensor/hub_cpu/state", 30, txt(house.around(9, 4, 100, 1), 0))
    house.say("hub/status", 60, "online", retain=True)
    return house


def varvet() -> House:
    """Wire a Swedish boatyard: nested JSON from a man who likes order, and radio sensors named by their addresses.

    The yard crane's bank (48 V, four blocks of 12 V) stands near 2.67 V per cell when the contactor drops out for a
    minute and a half. A launch with a lithium pack, a starter battery at berth 4.
    """
    house = Leaky("b_varvet", 4303, "kranbatteri", {"kranbatteri": 24, "plats04_start": 6})
    house.lose = 0.02
    say = house.say
    out, back = 268.0, 356.0
    flow, ripple = house.around(12.3, 0.12, 260, 0.04), house.noise(0.02)

    def amps(t: float) -> float:
        return -0.55 + ripple(t) if out <= t < back else flow(t)

    def sag(t: float) -> float:
        if t < out:
            return 0.0
        if t < back:
            return -0.21 * (1.0 - math.exp(-(t - out) / 14.0)) - 0.0003 * (t - out)
        return -0.23 * math.exp(-(t - back) / 11.0)

    bank = lead(
        house,
        24,
        2.664,
        amps,
        12.3,
        ohms=0.0012,
        sag=sag,
        acid=33.1,
        heat=0.9,
        sigma=0.012,
        apart=(0.11, -0.07, -0.13, 0.05),
    )
    kran = "kranbatteri"
    say(
        "varvet/kranen/laddning",
        6,
        form(
            {
                "tid": lambda t: round(START + t),
                "bank": {"u": rd(bank.volts, 2), "i": rd(bank.amps, 2), "p": rd(bank.watts, 0)},
                "block": [rd(block, 2) for block in bank.blocks],
                "syra": {"temp": rd(bank.acid, 1), "nivå": "ok"},
                "räknare": {"Ah_in": rd(lambda t: 118.4 + 12.3 * t / 3600.0, 1), "varv": 31},
            }
        ),
        {
            "/bank/u": Truth(kran, "voltage", "V"),
            "/bank/i": Truth(kran, "current", "A", "charging"),
            "/syra/temp": Truth(kran, "electrolyte_temperature", "degC"),
            **{f"/block/{at}": Truth(kran, "block_voltage", "V") for at in range(4)},
        },
    )
    say(
        "varvet/kranen/laddare",
        10,
        form(
            {
                "ut": {"V": rd(lambda t: bank.volts(t) + (0.0 if out <= t < back else 0.15), 1), "A": rd(amps, 1)},
                "nät": {"V": rd(house.around(231, 1, 300, 0.4), 0), "A": rd(house.around(4.0, 0.1, 300, 0.02), 1)},
                "kylfläns": rd(house.around(52, 2, 500, 0.2), 0),
                "fel": 0,
            }
        ),
    )
    closed: Says = lambda t: {"till": not out <= t < back, "orsak": "hand" if out <= t < back else ""}  # noqa: E731
    kept(house, "varvet/kranen/kontaktor", 20, closed)
    say(
        "varvet/kranen/skjul",
        30,
        form({"luft": rd(house.around(11.8, 0.5, 900, 0.05), 1), "fukt": rd(house.around(71, 2, 900, 0.4), 0)}),
        {"/luft": Truth(kran, "ambient_temperature", "degC")},
    )
    say("varvet/kranen/last", 5, form({"kg": whole(house.steps(0, 0, 0, 2140, dwell=200, sigma=6)), "vinkel": 41}))
    say("varvet/kranen/hydraulik", 15, form({"bar": rd(house.around(12, 1, 200, 0.2), 1), "olja": 19.5}))
    pack = house.around(-6.5, 1.5, 200, 0.1)
    say(
        "varvet/elbåt/pack",
        5,
        form(
            {
                "u": rd(lambda t: 53.1 + 0.02 * pack(t), 2),
                "i": rd(pack, 1),
                "soc": rd(lambda t: 83.0 - t / 500.0, 0),
                "celler": [rd(house.around(3.318, 0.001, 300, 0.001), 3) for _ in range(16)],
                "temp": [18.2, 18.6, 18.3],
            }
        ),
    )
    say("varvet/elbåt/motor", 10, form({"rpm": 0, "temp": rd(house.around(16, 0.2, 500, 0.05), 1)}))
    for berth in range(1, 13):
        shape: dict[str, object] = {
            "landström": {"A": rd(house.around(0.3 * berth, 0.1, 300, 0.02), 2), "kWh": 12.5 * berth},
            "länspump": whole(house.steps(0, 0, 0, 1, dwell=60)),
        }
        if berth == 4:
            shape["start"] = {"u": rd(house.around(13.24, 0.03, 500, 0.01), 2)}
        say(f"varvet/brygga/plats{berth:02d}", 30, form(shape))
    say("varvet/brygga/vattenstånd", 60, form({"cm": rd(house.around(14, 3, 3000, 0.5), 0)}))
    say("varvet/brygga/vatten", 60, form({"temp": rd(house.around(7.4, 0.1, 2000, 0.02), 1)}))
    say(
        "varvet/väder",
        20,
        form(
            {
                "luft": rd(house.around(6.2, 0.3, 1500, 0.05), 1),
                "vind": {"ms": rd(house.around(7.5, 2, 60, 0.6), 1), "från": whole(house.around(215, 15, 90, 4))},
                "hPa": rd(house.around(1009.4, 0.4, 2000, 0.1), 1),
            }
        ),
    )
    for hall, middle in (("målarhall", 21.5), ("mastskjul", 8.9), ("snickeri", 17.8), ("kontor", 20.9)):
        say(
            f"varvet/{hall}/klimat",
            60,
            form({"luft": rd(house.around(middle, 0.4, 900, 0.05), 1), "fukt": rd(house.around(55, 3, 900, 0.4), 0)}),
        )
        kept(house, f"varvet/{hall}/belysning", 60, form({"till": hall in {"kontor", "snickeri"}}))
    say(
        "varvet/el/central",
        10,
        form(
            {
                f"L{at}": {
                    "V": rd(house.around(230 + at, 1, 300, 0.4), 1),
                    "A": rd(house.around(9 * at, 2, 90, 0.3), 1),
                }
                for at in (1, 2, 3)
            }
        ),
    )
    say("varvet/sol/växelriktare", 15, form({"dc": {"V": rd(house.around(382, 8, 200, 1), 0), "A": 1.9}, "W": 702}))
    say("varvet/värmepump", 30, form({"fram": rd(house.around(41, 1, 500, 0.1), 1), "retur": 35.2, "läge": "värme"}))
    addresses = ["0x7c31a0", "0x7c31b4", "0x7c3202", "0x7c3219", "0x7c34ee", "0x7c3511", "0x7c3560", "0x7c35c7"]
    for at, address in enumerate(addresses):
        say(
            f"rf/{address}",
            45,
            form(
                {
                    "batt_mv": whole(house.around(2890 + 17 * at, 0, 1, 3)),
                    "lqi": whole(house.around(90 + 9 * at, 8, 200, 3)),
                    "t": rd(house.around(5.0 + 2.1 * at, 0.3, 900, 0.05), 1),
                    "contact": at % 2 == 0,
                }
            ),
        )
        say(f"rf/{address}/availability", 60, "online", retain=True)
    for phone in ("lasse", "birgitta", "lärling"):
        say(f"varvet/telefon/{phone}", 60, form({"batteri": whole(house.around(60, 0, 1, 1)), "hemma": True}))
    say("varvet/truck/status", 20, form({"timmar": 4410.2, "batteri_pct": 58, "laddar": False}))
    say("varvet/kompressor", 15, form({"bar": rd(house.around(7.6, 0.5, 120, 0.05), 1), "går": False}))
    say("varvet/port/gps", 30, form({"lat": 0.0, "lon": 0.0, "sat": whole(house.around(9, 1, 90, 0.3))}))
    say("varvet/kylskåp", 60, form({"temp": rd(house.around(4.8, 0.8, 700, 0.05), 1), "dörr": "stängd"}))
    for box in ("nod1", "nod2", "nod3", "nod4"):
        say(f"varvet/system/{box}", 60, form({"up": since(400_000.0), "rssi": -61, "fw": "2.8.1", "heap": 31_744}))
        say(f"varvet/system/{box}/lwt", 60, "här", retain=True)
    return house


def estacao_sete() -> House:
    """Wire a telecom hut: the engineer's abbreviated tags beside the gateway's raw registers.

    String BA1 (48 V) was taken off the plant and is in bulk from rectifier 4; string BA2 floats and carries the hut.
    BA2's amps exist only as a register in mA. The generator starts from 24 V.
    """
    house = Leaky("b_estacao_sete", 4404, "BA1", {"BA1": 24, "BA2": 24, "GMG": 12})
    house.lose = 0.01
    house.silent.append(("EST07/GW/HR/", 410.0, 447.0))
    say = house.say
    one = lead(
        house,
        24,
        2.418,
        house.around(27.6, 0.1, 330, 0.05),
        27.6,
        climb=0.13,
        ohms=0.0007,
        acid=29.4,
        heat=1.1,
        sigma=0.01,
        apart=(0.16, -0.16),
    )
    two = lead(house, 24, 2.252, house.around(0.21, 0.03, 400, 0.01), 0.21, ohms=0.0007, sigma=0.008, acid=23.0, heat=0)
    cc = "EST07/CC"
    say(f"{cc}/BA1/VT", 15, txt(one.volts, 2), Truth("BA1", "voltage", "V"))
    say(f"{cc}/BA1/IB", 15, txt(one.amps, 1), Truth("BA1", "current", "A", "charging"))
    say(f"{cc}/BA1/VS1", 15, txt(one.blocks[0], 2), Truth("BA1", "block_voltage", "V"))
    say(f"{cc}/BA1/VS2", 15, txt(one.blocks[1], 2), Truth("BA1", "block_voltage", "V"))
    say(f"{cc}/BA1/TEP", 30, txt(one.acid, 1), Truth("BA1", "electrolyte_temperature", "degC"))
    say(f"{cc}/BA1/EST", 60, "EQ-MANUAL", retain=True)
    say(f"{cc}/BA2/VT", 15, txt(two.volts, 2), Truth("BA2", "voltage", "V"))
    say(f"{cc}/BA2/TEP", 30, txt(two.acid, 1), Truth("BA2", "electrolyte_temperature", "degC"))
    say(f"{cc}/BA2/EST", 60, "FLUT", retain=True)
    load = house.around(18.4, 0.9, 120, 0.2)
    say(f"{cc}/BARRA/VC", 15, txt(lambda t: two.volts(t) - 0.05, 2))
    say(f"{cc}/BARRA/IC", 15, txt(load, 1))

    def carried(share: Signal) -> Signal:
        return lambda t: (load(t) + two.amps(t)) * share(t)

    for unit in (1, 2, 3):
        share = house.around(0.333, 0.01, 200, 0.004)
        say(f"{cc}/UR{unit}/VS", 15, txt(lambda t: two.volts(t) + 0.03, 1))
        say(f"{cc}/UR{unit}/IS", 15, txt(carried(share), 1))
        say(f"{cc}/UR{unit}/TD", 30, txt(house.around(41 + unit, 1, 500, 0.2), 0))
    say(f"{cc}/UR4/VS", 15, txt(lambda t: one.volts(t) + 0.2, 1))
    say(f"{cc}/UR4/IS", 15, txt(one.amps, 1))
    say(f"{cc}/UR4/TD", 30, txt(house.around(58, 1, 500, 0.2), 0))
    kept(house, f"{cc}/K7/EST", 60, "FECHADO")
    kept(house, f"{cc}/K6/EST", 60, "ABERTO")
    room = house.around(22.7, 0.5, 800, 0.05)
    say("EST07/SALA/BAT/TA", 30, txt(room, 1), Truth("BA1", "ambient_temperature", "degC"))
    say("EST07/SALA/EQP/TA", 30, txt(house.around(25.6, 0.6, 600, 0.05), 1))
    say("EST07/SALA/BAT/H2", 30, txt(house.around(0.12, 0.03, 500, 0.01), 2))
    say("EST07/SALA/EXA/RPM", 30, txt(house.around(1310, 20, 200, 8), 0))
    say("EST07/SALA/AC1/ST", 60, "1")
    say("EST07/SALA/AC2/ST", 60, "0")
    say("EST07/SALA/PORTA", 60, "FECHADA", retain=True)
    for phase in "RST":
        say(f"EST07/CA/V{phase}", 15, txt(house.around(219, 2, 300, 0.5), 1))
        say(f"EST07/CA/I{phase}", 15, txt(house.around(7.5, 1, 200, 0.2), 1))
    say("EST07/CA/FREQ", 15, txt(house.around(59.99, 0.02, 100, 0.005), 2))
    say("EST07/CA/KWH", 60, txt(house.counter(88_412.0, 0.0012), 1))
    say("EST07/GMG/VBAT", 30, txt(house.around(26.9, 0.03, 400, 0.01), 1))
    say("EST07/GMG/COMB", 60, txt(house.around(78, 0, 1, 0.3), 0))
    say("EST07/GMG/TAG", 60, txt(house.around(36, 1, 900, 0.2), 0))
    say("EST07/GMG/HR", 60, "612.4")
    say("EST07/GMG/MODO", 60, "AUTO", retain=True)
    for link, level in (("MW1", -41.0), ("MW2", -44.5)):
        say(f"EST07/RF/{link}/RSL", 10, txt(house.around(level, 0.8, 120, 0.2), 1))
        say(f"EST07/RF/{link}/BER", 30, "0")
        say(f"EST07/RF/{link}/PTX", 60, "22.0")
        say(f"EST07/RF/{link}/TMP", 60, txt(house.around(38, 1, 600, 0.2), 1))
    say("EST07/TORRE/LUZ", 60, "OK")
    say("EST07/TORRE/VENTO", 10, txt(house.around(5.4, 2, 60, 0.5), 1))
    registers: list[tuple[int, Says, Truth | None]] = [
        (40101, whole(one.volts, 1000), None),
        (40102, whole(one.amps, 1000), None),
        (40103, whole(one.acid, 10), None),
        (40104, whole(lambda t: 4120 + 27.6 * t / 36.0), None),
        (40105, lambda _t: 3, None),
        (40111, whole(two.volts, 1000), None),
        (40112, whole(two.amps, 1000), Truth("BA2", "current", "mA", "charging")),
        (40113, whole(two.acid, 10), None),
        (40115, lambda _t: 1, None),
        (40121, whole(load, 100), None),
        (40122, whole(room, 10), None),
        (40131, whole(house.around(219, 2, 300, 0.5), 10), None),
        (40132, whole(house.around(59.99, 0.02, 100, 0.005), 100), None),
        (40140, lambda _t: 0, None),
        (40141, lambda _t: 65_535, None),
        (40142, lambda _t: 4096, None),
        (40150, whole(lambda t: one.volts(t) + 0.2, 1000), None),
        (40151, whole(one.amps, 1000), None),
        (40160, whole(house.counter(17_201, 0.1)), None),
        (40161, lambda _t: 2, None),
    ]
    for number, says, truth in registers:
        say(f"EST07/GW/HR/{number}", 15, says, truth)
    for number in range(1, 13):
        kept(house, f"EST07/GW/DI/{number}", 60, 1 if number in {3, 7} else 0)
    for name in ("FALTA_CA", "BAT_BAIXA", "UR_FALHA", "INCENDIO", "INTRUSAO", "TEMP_ALTA", "BA1_FORA"):
        say(f"EST07/ALM/{name}", 60, "1" if name == "BA1_FORA" else "0", retain=True)
    say("EST07/GW/UP", 60, since(7_100_000.0))
    say("EST07/GW/FW", 60, "4.11", retain=True)
    say("EST07/GW/ERR", 60, whole(house.counter(311, 0.01)))
    say("EST07/GW/4G/DBM", 60, txt(house.around(-87, 2, 200, 1), 0))
    return house


def trastero() -> House:
    """Wire a Spanish hobbyist's flows, camel case: whole flow messages, and triples of name, value and unit.

    The golf cart's bank (36 V, six blocks of 6 V) is held at 2.58 V per cell; its amps are told in mA. Lithium at the
    inverter's DC side, the car's starter battery over the air.
    """
    house = Leaky("b_trastero", 4505, "carrito", {"carrito": 18, "coche": 6})
    house.lose = 0.015
    say = house.say
    bank = lead(
        house,
        18,
        2.581,
        house.around(5.15, 0.06, 500, 0.03),
        5.15,
        ohms=0.0001,
        acid=30.6,
        heat=0.5,
        sigma=0.01,
        apart=(0.04, -0.02, 0.07, -0.11, 0.01, 0.01),
    )
    tags = house.noise(1e6)

    def flow(payload: object, name: str) -> Says:
        def told(t: float) -> object:
            return {"_msgid": f"{abs(int(tags(t) * 1e3)):012x}"[-12:], "payload": _fill(payload, t), "topic": name}

        return told

    def at_payload(truth: Truth) -> dict[str, Truth]:
        return {"/payload": truth}

    cart = "casa/carrito"
    volt, amp = Truth("carrito", "voltage", "V"), Truth("carrito", "current", "mA", "charging")
    say(f"{cart}/tensionTotal", 3, flow(rd(bank.volts, 2), "tensionTotal"), at_payload(volt))
    say(f"{cart}/corriente", 3, flow(whole(bank.amps, 1000), "corriente"), at_payload(amp))
    say(f"{cart}/potencia", 3, flow(rd(bank.watts, 1), "potencia"))
    acid = Truth("carrito", "electrolyte_temperature", "degC")
    say(f"{cart}/tempElectrolito", 20, flow(rd(bank.acid, 2), "tempElectrolito"), at_payload(acid))
    for at, block in enumerate(bank.blocks, start=1):
        say(
            f"{cart}/bloque/{at}",
            12,
            form({"nombre": f"bloque {at}", "valor": rd(block, 3), "unidad": "V"}),
            {"/valor": Truth("carrito", "block_voltage", "V")},
        )
    say(
        f"{cart}/cargador/estado",
        15,
        form(
            {
                "modo": "igualacion",
                "salida": {"v": rd(lambda t: bank.volts(t) + 0.1, 1), "a": rd(bank.amps, 1)},
                "minutos": whole(lambda t: 214 + t / 60.0),
            }
        ),
    )
    kept(house, f"{cart}/releCargador", 60, "ON")
    say(f"{cart}/releCargador/set", 60, "ON", retain=True)
    say(f"{cart}/amperiosHora", 60, flow(rd(lambda t: 18.3 + 5.15 * t / 3600, 2), "amperiosHora"))
    air = Truth("carrito", "ambient_temperature", "degC")
    say(
        "casa/trastero/tempAire",
        30,
        form({"nombre": "aire trastero", "valor": rd(house.around(17.3, 0.3, 900, 0.05), 1), "unidad": "°C"}),
        {"/valor": air},
    )
    say("casa/trastero/humedad", 60, form({"nombre": "humedad", "valor": 58, "unidad": "%"}))
    say(
        "casa/trastero/hidrogeno",
        15,
        form({"nombre": "gas", "valor": whole(house.around(212, 9, 200, 3)), "unidad": ""}),
    )
    say("casa/trastero/extractor", 60, "ON", retain=True)
    drain = house.around(-22.0, 9.0, 300, 0.5)
    say("casa/inversor/entradaCC/tension", 5, txt(lambda t: 52.2 + 0.012 * drain(t), 2))
    say("casa/inversor/entradaCC/corriente", 5, txt(neg(drain), 1))
    say("casa/inversor/salidaCA/potencia", 5, txt(lambda t: -52.0 * drain(t) * 0.93, 0))
    say("casa/inversor/temperatura", 30, txt(house.around(39, 1, 500, 0.2), 1))
    say(
        "casa/bateriaLitio/bms",
        5,
        form(
            {
                "tension": rd(lambda t: 52.2 + 0.012 * drain(t), 2),
                "corriente": rd(drain, 2),
                "carga": rd(lambda t: 66 - t / 300, 1),
                "celdas_mV": [whole(house.around(3262, 1, 300, 1)) for _ in range(16)],
                "temps": [19, 20, 19, 20],
            }
        ),
    )
    say("casa/bateriaLitio/ciclos", 60, "412", retain=True)
    for panel, middle in (("tejadoSur", 36.2), ("tejadoOeste", 33.8)):
        say(f"casa/solar/{panel}/tension", 10, txt(house.around(middle, 1.5, 200, 0.1), 1))
        say(f"casa/solar/{panel}/corriente", 10, txt(house.around(6.1, 1.5, 200, 0.1), 2))
        say(f"casa/solar/{panel}/energiaHoy", 60, txt(house.counter(1.9, 0.00006), 2))
    say("coche/tension12V", 60, txt(house.around(12.49, 0.01, 900, 0.004), 2))
    say("coche/combustible", 60, "41")
    say("coche/odometro", 60, "128406", retain=True)
    say("coche/tempMotor", 60, txt(house.around(19, 0.2, 900, 0.05), 0))
    for room, middle in (("salon", 21.4), ("cocina", 22.3), ("dormitorio", 19.6), ("bano", 22.8), ("estudio", 21.9)):
        triple = {"nombre": f"temp {room}", "valor": rd(house.around(middle, 0.3, 900, 0.05), 1), "unidad": "°C"}
        say(f"casa/{room}/temp", 30, form(triple))
        say(f"casa/{room}/hum", 60, form({"nombre": f"hum {room}", "valor": 47, "unidad": "%"}))
        say(f"casa/{room}/luz", 60, "OFF", retain=True)
    say("casa/cocina/nevera", 20, flow(rd(house.around(4.2, 0.8, 700, 0.05), 1), "nevera"))
    say("casa/cocina/congelador", 20, flow(rd(house.around(-18.6, 0.9, 800, 0.05), 1), "congelador"))
    say("casa/cocina/horno", 20, txt(house.steps(0, 0, 1900, dwell=100, sigma=2), 0))
    say("casa/lavadora/potencia", 5, txt(house.steps(4, 210, 1980, dwell=70, sigma=3), 1))
    say("casa/lavadora/fase", 60, "aclarado", retain=True)
    say("casa/contador/tension", 5, txt(house.around(233.1, 1.2, 300, 0.3), 1))
    say("casa/contador/corriente", 5, txt(house.around(4.4, 1.0, 90, 0.1), 2))
    say("casa/contador/potencia", 5, txt(house.around(1010, 230, 90, 15), 0))
    say("casa/contador/kwh", 60, txt(house.counter(40_122.6, 0.0003), 2))
    say("casa/aerotermia/impulsion", 20, flow(rd(house.around(36.5, 1.5, 500, 0.1), 1), "impulsion"))
    say("casa/aerotermia/retorno", 20, flow(rd(house.around(31.9, 1.2, 500, 0.1), 1), "retorno"))
    say("casa/aerotermia/modo", 60, "calor", retain=True)
    say("casa/piscina/ph", 60, txt(house.around(7.31, 0.02, 900, 0.01), 2))
    say("casa/piscina/redox", 60, txt(house.around(671, 5, 900, 2), 0, " mV"))
    say("casa/piscina/bomba", 60, "OFF", retain=True)
    say("casa/pozo/nivel", 60, txt(house.around(3.42, 0.02, 900, 0.01), 2))
    say(
        "casa/jardin/estacion",
        20,
        form({"t": rd(house.around(13.2, 0.4, 900, 0.05)), "h": 64, "lluvia": 0.0, "viento": 2.1}),
    )
    for door in ("puertaPrincipal", "puertaGaraje", "ventanaBano"):
        say(f"casa/{door}/estado", 60, "cerrada", retain=True)
        say(f"casa/{door}/pila", 60, form({"nombre": "pila", "valor": 2.97, "unidad": "V"}))
    for who in ("movilPepa", "movilAbuelo"):
        say(f"casa/{who}", 60, form({"bateria": 73, "en_casa": True, "cargando": False}))
    for device in ("placaTrastero", "placaTejado", "placaCocina"):
        say(f"nodos/{device}/latido", 30, form({"uptime": since(51_000.0), "rssi": -66, "ip": "", "heap": 28_400}))
        say(f"nodos/{device}/lwt", 60, "Online", retain=True)
        say(f"nodos/{device}/version", 60, "0.9.4-mia", retain=True)
    say("prueba", 20, "hola")
    say("prueba/num", 20, whole(house.around(500, 300, 60, 20)))
    return house


def la_forge() -> House:
    """Wire a village workshop with three flooded banks: SenML from the posts, thermometers by their ids only.

    Post 1, a 6 V bank, is coming round (volts give a little while amps rise); post 2, 12 V, rests and waits; post 3,
    24 V, has an ordinary charge. Which thermometer stands in which cell is on a slip of paper.
    """
    house = Leaky("b_la_forge", 4606, "poste1", {"poste1": 3, "poste2": 6, "poste3": 12})
    house.lose = 0.03
    house.silent.append(("atelier/poste3", 505.0, 540.0))
    say = house.say
    rise, rest, push = house.noise(0.015), house.noise(0.004), house.around(17.8, 0.1, 300, 0.06)
    one = lead(
        house,
        3,
        2.655,
        lambda t: 2.15 + 1.1 * t / 600.0 + rise(t),
        2.15,
        climb=-0.12,
        ohms=0.0003,
        acid=24.2,
        heat=0.6,
        sigma=0.003,
    )
    two = lead(house, 6, 2.102, rest, 0.0, acid=15.6, heat=0.0, sigma=0.003)
    three = lead(house, 12, 2.361, push, 17.8, climb=0.06, ohms=0.0008, acid=21.7, heat=0.8, sigma=0.006)

    def senml(name: str, *measured: tuple[str, str, Says]) -> Says:
        def told(t: float) -> object:
            return [{"n": f"{name}:{what}", "u": unit, "v": value(t)} for what, unit, value in measured]

        return told

    for name, bank, fine in (("poste1", one, 3), ("poste2", two, 3), ("poste3", three, 2)):
        truth = {
            f"{name}:U": Truth(name, "voltage", "V"),
            f"{name}:I": Truth(name, "current", "A", "charging"),
        }
        measured = [("U", "V", rd(bank.volts, fine)), ("I", "A", rd(bank.amps, 2)), ("P", "W", rd(bank.watts, 1))]
        say(f"atelier/{name}", 8, senml(name, *measured), truth)
    for number, state in ((1, "fermé"), (2, "ouvert"), (3, "fermé")):
        kept(house, f"atelier/contacteur/{number}", 60, state)
        say(f"atelier/poste{number}/fiche", 60, f"client {chr(64 + number)}, reçu lundi", retain=True)
    say("atelier/poste1/Ah", 60, rd(lambda t: 9.4 + 2.7 * t / 3600, 2))
    say("atelier/poste3/Ah", 60, rd(lambda t: 61.2 + 17.8 * t / 3600, 1))
    say("atelier/pince", 6, txt(lambda t: one.amps(t) * 1.02, 1, " A"))
    densities = (("1", 1.196), ("2", 1.262), ("3", 1.214))
    for post, density in densities:
        told = Truth(f"poste{post}", "gravity")
        say(f"atelier/densite/{post}", 60, f"{density:.3f}", told, retain=True)

    acid_one, acid_three = (Truth(name, "electrolyte_temperature", "degC") for name in ("poste1", "poste3"))
    probes: list[tuple[str, Signal, Truth | None]] = [
        ("28-00a1f3", house.around(48.1, 1.5, 600, 0.1), None),
        ("28-00a20c", one.acid, acid_one),
        ("28-00a277", house.around(3.9, 0.7, 700, 0.05), None),
        ("28-00b003", three.acid, acid_three),
        ("28-00b19e", house.around(61.4, 0.8, 900, 0.1), None),
        ("28-00b1d2", house.around(13.3, 0.4, 900, 0.05), None),
        ("28-00c440", house.around(26.2, 0.5, 800, 0.05), None),
        ("28-00c4f8", house.around(85.0, 0.0, 900, 0.0), None),
    ]
    for number_of, signal, truth_of in probes:
        say(f"w1/{number_of}", 15, txt(grid(signal, 0.0625), 2), truth_of)
    say(
        "atelier/air",
        30,
        senml("air", ("temp", "Cel", rd(house.around(14.4, 0.4, 900, 0.05), 1)), ("hum", "%RH", lambda _t: 62)),
        {"air:temp": Truth("poste1", "ambient_temperature", "degC")},
    )
    say(
        "atelier/compresseur",
        10,
        senml("comp", ("P", "W", whole(house.steps(0, 0, 2150, dwell=80, sigma=9))), ("p", "Pa", lambda _t: 780_000)),
    )
    say("atelier/poste_soudure", 10, senml("arc", ("U", "V", rd(house.steps(0, 0, 24.5, dwell=40, sigma=0.4), 1))))
    for phase in ("L1", "L2", "L3"):
        tension, courant = rd(house.around(232, 2, 300, 0.5), 1), rd(house.around(6, 2, 60, 0.3), 2)
        say(f"atelier/tableau/{phase}", 10, senml(phase, ("U", "V", tension), ("I", "A", courant)))
    say("atelier/tableau/index", 60, whole(house.counter(9_120_331, 0.4)))
    say("atelier/forge/foyer", 15, txt(house.around(742, 40, 200, 4), 0, " °C"))
    say("atelier/forge/soufflerie", 15, txt(house.around(48, 5, 200, 1), 0, " %"))
    say("atelier/tour/vitesse", 5, txt(house.steps(0, 0, 640, dwell=60, sigma=2), 0, " tr/min"))
    say("atelier/tour/broche", 20, txt(house.around(27, 1, 300, 0.1), 1, " °C"))
    say("atelier/perceuse", 20, txt(house.steps(0, 0, 410, dwell=50, sigma=3), 0, " W"))
    say("atelier/aspiration", 60, "arrêt", retain=True)
    say("atelier/portail", 60, "ouvert", retain=True)
    say("atelier/radio", 60, "marche", retain=True)
    say("atelier/cafetiere", 20, txt(house.steps(0, 0, 820, dwell=120, sigma=2), 0, " W"))
    say("atelier/tablette/batterie", 60, "77")
    say("atelier/tablette/charge", 60, "0")
    say("atelier/caisse/tickets", 60, whole(house.counter(214, 0.002)))
    say("atelier/compteur/poste1", 60, since(30_500.0))
    say("atelier/compteur/poste3", 60, since(12_200.0))
    say("maison/salon/temp", 60, txt(house.around(19.8, 0.2, 900, 0.05), 1, " °C"))
    say("maison/chambre/temp", 60, txt(house.around(17.9, 0.2, 900, 0.05), 1, " °C"))
    say("maison/chaudiere/depart", 30, txt(house.around(54, 2, 500, 0.1), 1, " °C"))
    say("maison/chaudiere/retour", 30, txt(house.around(43, 2, 500, 0.1), 1, " °C"))
    say("maison/chaudiere/pression", 60, txt(house.around(1.52, 0.01, 900, 0.004), 2, " bar"))
    say("maison/chaudiere/etat", 60, "marche", retain=True)
    say("maison/cuve/niveau", 60, txt(house.around(1180, 2, 900, 1), 0, " l"))
    say("maison/eau/index", 60, txt(house.counter(804.213, 0.00003), 3, " m3"))
    say("maison/frigo", 30, txt(house.around(5.1, 0.7, 700, 0.05), 1, " °C"))
    say("maison/porte", 60, "fermée", retain=True)
    say("maison/boite_aux_lettres", 60, "vide", retain=True)
    say("maison/boite_aux_lettres/pile", 60, "3.02 V", retain=True)
    say("maison/poulailler/porte", 60, "ouverte", retain=True)
    say("maison/poulailler/pile", 60, txt(house.around(6.12, 0.01, 900, 0.005), 2, " V"))
    say("maison/poulailler/oeufs", 60, "4", retain=True)
    say(
        "maison/solaire/onduleur",
        15,
        senml("ond", ("Udc", "V", rd(house.around(291, 6, 200, 1), 0)), ("P", "W", lambda _t: 640)),
    )
    say(
        "meteo/mairie",
        60,
        senml("mto", ("temp", "Cel", rd(house.around(9.3, 0.2, 900, 0.05), 1)), ("vent", "m/s", lambda _t: 3.2)),
    )
    say("meteo/pluie", 60, "0.0 mm")
    say("meteo/barometre", 60, txt(house.around(1016.8, 0.3, 900, 0.1), 1, " hPa"))
    for box in ("boitier1", "boitier2", "boitier3"):
        say(f"sys/{box}/rssi", 60, txt(house.around(-63, 3, 200, 1), 0))
        say(f"sys/{box}/depuis", 60, since(220_000.0))
        say(f"sys/{box}/version", 60, "mars-b", retain=True)
    return house


FRESH_B: tuple[Callable[[], House], ...] = (hut_on_the_point, oberer_hof, varvet, estacao_sete, trastero, la_forge)
