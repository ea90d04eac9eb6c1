"""Six invented households, each wired by somebody else, each with one flooded bank being equalised.

Written without sight of any program that reads them. Names, places and devices are invented. A battery without a
current of its own is nobody's bank, so it is in no truth.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from tests.bench.households.world import START, House, Signal, Truth

#: Open-circuit volts of a charged flooded cell, shortly after charge (common value, from memory).
REST = 2.16
#: Kilojoules per kelvin and ampere-hour of one cell, plates, acid and case together (estimate).
HEAT = 0.055


class Wired(House):
    """A house whose messages get lost, whose devices restart, and whose hub speaks only on change."""

    def __init__(self, name: str, seed: int, equalised: str, shapes: dict[str, int], loss: float = 0.0) -> None:
        super().__init__(name, seed, equalised, shapes)
        self.loss = loss
        self.silences: list[tuple[str, float, float]] = []
        self.on_change: list[str] = []
        self.once: list[tuple[float, str, object]] = []

    def kept(self, topic: str, every: float, says: object, truth: dict[str, Truth] | Truth | None = None) -> None:
        """Add a topic whose last message the broker kept, and which goes on speaking."""
        self.say(topic, 1.0, says, truth, retain=True)
        self.say(topic, every, says, truth)

    def messages(self) -> Iterator[dict[str, object]]:
        """Traffic after losses, restarts, and the hub's habit of saying only what changed."""
        kept: list[tuple[float, dict[str, object]]] = []
        last: dict[str, object] = {}
        for message in super().messages():
            topic, t = str(message["topic"]), float(str(message["t"])) - START
            if not message["retain"]:
                if any(topic.startswith(head) and a <= t < b for head, a, b in self.silences):
                    continue
                if self.chance.random() < self.loss:
                    continue
                if any(topic.startswith(head) for head in self.on_change) and last.get(topic) == message["payload"]:
                    continue
            last[topic] = message["payload"]
            kept.append((t, message))
        for t, topic, said in self.once:
            payload = said if isinstance(said, str) else json.dumps(said)
            kept.append((t, {"t": round(START + t, 3), "topic": topic, "payload": payload, "retain": False}))
        kept.sort(key=lambda entry: entry[0])
        for _t, message in kept:
            yield message


class Lead(NamedTuple):
    """What really happens in a bank: its signals, and those of its blocks."""

    volts: Signal
    amps: Signal
    acid: Signal
    watts: Signal
    blocks: list[Signal]


def lead(
    house: House,
    cells: int,
    ah: float,
    per_cell: tuple[float, float],
    amps: tuple[float, float],
    acid: float,
    *,
    air: float = 12.0,
    off: tuple[float, float] | None = None,
    limit: float = 0.0,
    ripple: float = 0.008,
    blocks: int = 0,
    spread: float = 0.006,
) -> Lead:
    """A flooded bank under charge, second by second.

    Volts per cell and amps go from the first to the second of each pair over the ten minutes; amps flutter by
    `ripple` and volts answer through the ohms of the cell; between `off` the charger is away, and the overvoltage
    dies in a fast and a slow part and comes back as it went.
    """
    ohm = 0.35 / ah
    seconds = house.seconds + 3
    v: list[float] = []
    i: list[float] = []
    warmth: list[float] = []
    flutter, fast, slow, temperature = 0.0, 1.0, 1.0, acid
    for k in range(seconds):
        part = min(1.0, k / house.seconds)
        cell = per_cell[0] + (per_cell[1] - per_cell[0]) * part
        nominal = amps[0] + (amps[1] - amps[0]) * part
        over = cell - REST - ohm * nominal
        flutter = 0.85 * flutter + house.chance.gauss(0.0, ripple * 0.53)
        on = off is None or not off[0] <= k < off[1]
        if on:
            fast += (1.0 - fast) / 7.0
            slow += (1.0 - slow) / 60.0
        else:
            fast -= fast / 6.0
            slow -= slow / 420.0
        lacking = over * (0.35 * (1.0 - fast) + 0.65 * (1.0 - slow))
        flow = 0.0
        if on:
            flow = nominal * (1.0 + flutter)
            if limit:
                flow = min(limit, flow + lacking / (6.0 * ohm))
            v.append(cells * (cell - lacking + ohm * (flow - nominal)))
        else:
            v.append(cells * (REST + over - lacking))
        i.append(flow)
        temperature += (flow * max(0.0, v[-1] / cells - 2.0) / (HEAT * ah * 1000.0)) - (temperature - air) / 160000.0
        warmth.append(temperature)

    def along(row: list[float]) -> Signal:
        def at(t: float) -> float:
            k = min(int(t), len(row) - 2)
            return row[k] + (row[k + 1] - row[k]) * (t - k)

        return at

    volts, flows = along(v), along(i)
    weights = [1.0 + house.chance.gauss(0.0, spread) for _ in range(blocks)]
    total = sum(weights)

    def block(weight: float) -> Signal:
        return lambda t: volts(t) * weight / total

    return Lead(volts, flows, along(warmth), lambda t: volts(t) * flows(t), [block(w) for w in weights])


def meter(house: House, signal: Signal, gain: float = 1.0, zero: float = 0.0, sigma: float = 0.0) -> Signal:
    """What a meter with its own faults reads."""
    noise = house.noise(sigma)
    return lambda t: signal(t) * gain + zero + noise(t)


def r(signal: Signal, digits: int = 2) -> Signal:
    """Rounded."""
    return lambda t: round(signal(t), digits)


def whole(signal: Signal, times: float = 1.0) -> Callable[[float], int]:
    """As a whole number, after scaling."""
    return lambda t: round(signal(t) * times)


def text(signal: Signal, pattern: str = "{:.2f}") -> Callable[[float], str]:
    """In a line of text."""
    return lambda t: pattern.format(signal(t))


def comma(signal: Signal, pattern: str = "{:.1f}") -> Callable[[float], str]:
    """In a line of text with a decimal comma."""
    return lambda t: pattern.format(signal(t)).replace(".", ",")


def fahrenheit(signal: Signal) -> Signal:
    """From degrees Celsius."""
    return lambda t: signal(t) * 1.8 + 32.0


def switch(
    off: tuple[float, float] | None, on_word: object = "ON", off_word: object = "OFF"
) -> Callable[[float], object]:
    """State of a relay that opens between two seconds."""
    return lambda t: off_word if off is not None and off[0] <= t < off[1] else on_word


def product(a: Signal, b: Signal, gain: float = 1.0, zero: float = 0.0) -> Signal:
    """Watts of a meter's own volts and amps."""
    return lambda t: a(t) * b(t) * gain + zero


def stamp(t: float) -> int:
    """Epoch second."""
    return int(START + t)


# ------------------------------------------------------------------------------------------------ first house


def hof_lindenau() -> House:
    """German farm on a hub that streams states: 48 V bank tapering near the end, lithium store with inverter beside."""
    h = Wired("hof_lindenau", 7101, "altbatterie", {"altbatterie": 24}, loss=0.004)
    h.on_change.append("hub/")
    b = lead(h, 24, 420.0, (2.664, 2.671), (13.1, 11.6), 33.4, air=11.0, ripple=0.012, blocks=4, spread=0.004)
    me = "altbatterie"

    def st(
        kind: str, name: str, every: float, says: object, unit: str = "", label: str = "", truth: Truth | None = None
    ) -> None:
        h.kept(f"hub/{kind}/{name}/state", every, says, truth)
        if unit:
            h.say(f"hub/{kind}/{name}/unit_of_measurement", 1.0, json.dumps(unit), retain=True)
        if label:
            h.say(f"hub/{kind}/{name}/friendly_name", 1.0, json.dumps(label, ensure_ascii=False), retain=True)

    u = meter(h, b.volts, sigma=0.012)
    i = meter(h, b.amps, sigma=0.03)
    st("sensor", "altbatterie_spannung", 2.0, text(u), "V", "Altbatterie Spannung", Truth(me, "voltage", "V"))
    st("sensor", "altbatterie_strom", 2.0, text(i), "A", "Altbatterie Strom", Truth(me, "current", "A"))
    st("sensor", "altbatterie_leistung", 2.0, text(product(u, i), "{:.0f}"), "W", "", Truth(me, "power", "W"))
    for n, one in enumerate(b.blocks, 1):
        says = text(meter(h, one, h.chance.uniform(0.9985, 1.0015), sigma=0.008))
        st("sensor", f"altbatterie_block_{n}", 10.0, says, "V", "", Truth(me, "block_voltage", "V"))
    acid = meter(h, b.acid, sigma=0.03)
    room = h.around(11.6, 0.3, 1400.0, 0.04)
    label = "Säuretemperatur Zelle 12"
    st(
        "sensor",
        "saeuretemperatur",
        20.0,
        text(acid, "{:.1f}"),
        "°C",
        label,
        Truth(me, "electrolyte_temperature", "degC"),
    )
    says = text(room, "{:.1f}")
    st("sensor", "batterieraum_temperatur", 30.0, says, "°C", "", Truth(me, "ambient_temperature", "degC"))
    st("sensor", "batterieraum_luftfeuchte", 30.0, text(h.around(63.0, 1.0, 900, 0.2), "{:.0f}"), "%")
    st("sensor", "altbatterie_ladung", 15.0, text(h.counter(71.4, 12.4 / 3600.0)), "Ah")
    st("switch", "ladegeraet_altbatterie", 5.0, "on", "", "Ladegerät Altbatterie (Schütz)")
    st("sensor", "ladegeraet_ausgangsspannung", 5.0, text(meter(h, b.volts, 1.004, 0.11, 0.02), "{:.1f}"), "V")
    st("sensor", "ladegeraet_ausgangsstrom", 5.0, text(meter(h, b.amps, 1.01, 0.15, 0.06), "{:.1f}"), "A")
    st("sensor", "ladegeraet_steckdose_leistung", 4.0, text(meter(h, b.watts, 1 / 0.87, 9.0, 3.0), "{:.1f}"), "W")
    st("sensor", "ladegeraet_steckdose_energie", 30.0, text(h.counter(411.83, 0.000245), "{:.3f}"), "kWh")
    st("binary_sensor", "batterieraum_wasserstoff", 20.0, "off")
    st("binary_sensor", "batterieraum_luefter", 20.0, "on")
    # Lithium store, sixteen in series, on the inverter's DC side.
    load = h.steps(-9.0, -14.5, -31.0, -11.0, dwell=47, sigma=0.2)
    lithium = product(load, lambda _t: 0.018, 1.0, 53.35)
    st("sensor", "speicher_spannung", 5.0, text(lithium), "V", "Speicher Spannung")
    st("sensor", "speicher_strom", 5.0, text(load, "{:.1f}"), "A", "Speicher Strom")
    st("sensor", "speicher_leistung", 5.0, text(product(lithium, load), "{:.0f}"), "W")
    st("sensor", "speicher_ladezustand", 60.0, text(h.counter(71.0, -0.0012), "{:.0f}"), "%")
    st("sensor", "speicher_temperatur", 60.0, text(h.around(18.4, 0.2, 3000), "{:.1f}"), "°C")
    st("sensor", "speicher_zelle_min", 30.0, text(lambda t: lithium(t) / 16 - 0.006, "{:.3f}"), "V")
    st("sensor", "speicher_zelle_max", 30.0, text(lambda t: lithium(t) / 16 + 0.005, "{:.3f}"), "V")
    st("sensor", "wechselrichter_dc_spannung", 5.0, text(meter(h, lithium, 0.997, -0.1, 0.03), "{:.1f}"), "V")
    st("sensor", "wechselrichter_ac_leistung", 5.0, text(lambda t: -0.93 * lithium(t) * load(t), "{:.0f}"), "W")
    st("sensor", "wechselrichter_temperatur", 30.0, text(h.around(34.0, 0.6, 1500, 0.1), "{:.0f}"), "°C")
    for n, middle in ((1, 231.4), (2, 229.9), (3, 232.6)):
        st("sensor", f"netz_spannung_l{n}", 5.0, text(h.around(middle, 0.8, 600, 0.3), "{:.1f}"), "V")
        st("sensor", f"netz_strom_l{n}", 5.0, text(h.steps(0.6, 1.9, 4.2, dwell=61, sigma=0.03)), "A")
    st("sensor", "netz_frequenz", 5.0, text(h.around(50.0, 0.015, 200, 0.004)), "Hz")
    st("sensor", "zaehler_bezug", 10.0, text(h.counter(18233.41, 0.0003), "{:.3f}"), "kWh")
    st("sensor", "zaehler_einspeisung", 60.0, "7120.118", "kWh")
    st("sensor", "pv_spannung", 10.0, text(h.around(212.0, 18.0, 1700, 1.5), "{:.0f}"), "V")
    st("sensor", "pv_strom", 10.0, text(h.around(0.42, 0.1, 1700, 0.02)), "A")
    st("sensor", "waermepumpe_vorlauf", 15.0, text(h.around(34.6, 1.1, 800, 0.1), "{:.1f}"), "°C")
    st("sensor", "waermepumpe_ruecklauf", 15.0, text(h.around(29.8, 0.7, 800, 0.1), "{:.1f}"), "°C")
    st("sensor", "waermepumpe_leistung", 15.0, text(h.around(1380, 60, 500, 12), "{:.0f}"), "W")
    st("climate", "waermepumpe", 60.0, "heat")
    st("sensor", "warmwasser", 60.0, text(h.counter(47.9, -0.0004), "{:.1f}"), "°C")
    st("sensor", "aussen_temperatur", 60.0, text(h.around(3.2, 0.3, 2600, 0.05), "{:.1f}"), "°C")
    st("sensor", "luftdruck", 60.0, text(h.around(1008.4, 0.4, 3000), "{:.1f}"), "hPa")
    st("sensor", "zisterne_fuellstand", 60.0, text(h.around(1.83, 0.01, 900)), "m")
    st("sensor", "milchkuehlung", 30.0, text(h.around(4.3, 0.5, 700, 0.05), "{:.1f}"), "°C")
    st("sensor", "gefriertruhe", 60.0, text(h.around(-19.1, 0.8, 1300, 0.1), "{:.1f}"), "°C")
    st("sensor", "wallbox_leistung", 10.0, text(h.around(3.62, 0.02, 400, 0.005)), "kW")
    st("sensor", "wallbox_strom", 10.0, text(h.around(15.8, 0.1, 400, 0.04), "{:.1f}"), "A")
    for name in ("tuer_stall", "tuer_batterieraum", "fenster_kueche"):
        st("binary_sensor", name, 60.0, "off")
        st("sensor", f"{name}_batterie", 60.0, text(h.around(2.97, 0.01, 900)), "V")
    st("sensor", "telefon_oma_akku", 60.0, text(h.counter(64.0, -0.003), "{:.0f}"), "%")
    st("device_tracker", "telefon_jan", 60.0, "home")
    st("sun", "sun", 60.0, "below_horizon")
    return h


# ----------------------------------------------------------------------------------------------- second house


def quarry_cabin() -> House:
    """American cabin, flat names: two 6 V blocks stuck at the ceiling, charger drops out once, truck beside."""
    h = Wired("quarry_cabin", 7202, "shed", {"shed": 6, "truck": 6, "genset": 6}, loss=0.012)
    off = (284.0, 371.0)
    b = lead(h, 6, 225.0, (2.672, 2.668), (1.85, 2.05), 18.2, air=13.0, off=off, limit=6.5, blocks=2, spread=0.006)
    me = "shed"
    # The shunt sits the other way round: what goes into the bank counts negative.
    amps = meter(h, b.amps, -1.0, 0.01, 0.012)
    h.say("shedBattV", 3.0, text(meter(h, b.volts, 1.0, 0.0, 0.006), "{:.2f} V"), Truth(me, "voltage", "V"))
    h.say("shedBattA", 3.0, text(amps, "{:.2f} A"), Truth(me, "current", "A", "discharging"))
    h.say(
        "shedBattMid",
        15.0,
        text(meter(h, b.blocks[0], 1.0, 0.0, 0.005), "{:.2f} V"),
        Truth(me, "midpoint_voltage", "V"),
    )
    acid = fahrenheit(meter(h, b.acid, sigma=0.04))
    air = h.around(55.6, 0.6, 1300, 0.08)
    h.say("shedBattTemp", 30.0, text(acid, "{:.1f} F"), Truth(me, "electrolyte_temperature", "degF"))
    h.say("shedAirTemp", 30.0, text(air, "{:.1f} F"), Truth(me, "ambient_temperature", "degF"))
    h.say("shedHum", 30.0, text(h.around(48, 1, 900, 0.3), "{:.0f} %"))
    h.say("shedBattAh", 20.0, text(h.counter(-3.11, -1.95 / 3600), "{:.2f} Ah"))
    h.say("shedVent", 20.0, "ON")
    h.say("chgRelay", 5.0, switch(off))
    h.say("chgRelay/cmd", 1.0, "ON", retain=True)
    h.once += [(284.2, "chgRelay/cmd", "OFF"), (371.1, "chgRelay/cmd", "ON")]
    plug = meter(h, b.watts, 1 / 0.78, 4.1, 0.3)
    h.say("chgPlugWatts", 5.0, text(lambda t: 0.0 if off[0] <= t < off[1] else plug(t), "{:.1f}"))
    h.say("chgPlugVac", 10.0, text(h.around(121.3, 0.7, 700, 0.15), "{:.1f}"))
    h.say("chgPlugKwh", 60.0, text(h.counter(12.107, 0.00001), "{:.3f}"))
    truck = h.around(12.66, 0.005, 1500, 0.004)
    h.say("truckBattV", 30.0, text(truck, "{:.2f} V"))
    h.say("truckBlockHeater", 60.0, "OFF")
    h.say("truckCabTemp", 60.0, text(h.around(28.4, 0.3, 1800, 0.05), "{:.1f} F"))
    for name, middle, swing in (
        ("porch", 24.8, 0.4),
        ("loft", 66.9, 0.5),
        ("kitchen", 68.1, 0.6),
        ("crawlspace", 44.0, 0.1),
        ("wellhouse", 41.3, 0.3),
        ("woodstoveTop", 412.0, 20.0),
        ("woodstoveFlue", 287.0, 15.0),
        ("fridge", 37.4, 1.1),
        ("chestFreezer", -2.4, 1.2),
        ("waterHeater", 122.7, 1.3),
    ):
        h.say(f"{name}Temp", 30.0, text(h.around(middle, swing, 1100, 0.05), "{:.1f} F"))
    for name in ("porch", "loft", "kitchen", "crawlspace", "wellhouse"):
        h.say(f"{name}Hum", 60.0, text(h.around(44, 2, 1500, 0.3), "{:.0f} %"))
        h.say(f"{name}Rssi", 60.0, whole(h.around(-66, 3, 500, 2)))
        h.say(f"{name}Cell", 60.0, text(h.around(3.04, 0.004, 900, 0.002), "{:.2f} V"))
    h.say("wellPumpAmps", 5.0, text(h.steps(0.0, 0.0, 7.3, dwell=70, sigma=0.02), "{:.2f} A"))
    h.say("wellPressure", 5.0, text(h.around(49, 8, 280, 0.3), "{:.1f} psi"))
    h.say("wellGallons", 30.0, whole(h.counter(88120, 0.03)))
    h.say("propaneTank", 60.0, "61 %")
    h.say("genset/state", 60.0, "standby", retain=True)
    starter = text(h.around(13.52, 0.01, 800, 0.01), "{:.1f}")
    h.say("genset/battV", 30.0, starter)
    h.say("genset/hours", 1.0, "811.4", retain=True)
    h.say("genset/fault", 1.0, "none", retain=True)
    h.say("mainsV/L1", 5.0, text(h.around(121.2, 0.6, 700, 0.2), "{:.1f} V"))
    h.say("mainsV/L2", 5.0, text(h.around(120.4, 0.6, 700, 0.2), "{:.1f} V"))
    h.say("mainsA/L1", 5.0, text(h.steps(2.1, 3.3, 11.8, dwell=80, sigma=0.05), "{:.2f} A"))
    h.say("mainsA/L2", 5.0, text(h.steps(0.9, 1.4, dwell=100, sigma=0.03), "{:.2f} A"))
    h.say("mainsKwh", 60.0, text(h.counter(40877.2, 0.0004), "{:.2f}"))
    wind, hum = h.around(4.1, 2.0, 300, 0.7), h.around(81, 2, 1500, 0.3)
    h.say("wx/csv", 10.0, lambda t: f"{air(t) - 31.0:.1f},{hum(t):.0f},{abs(wind(t)):.1f},NNW,30.02,0.00")
    h.say("wx/csv/header", 1.0, "tempF,hum,windMph,dir,baroInHg,rainIn", retain=True)
    h.say("wx/lightning", 60.0, '{"strikes":0,"dist_mi":null}')
    h.say("wx/battery", 60.0, '{"volts":2.78,"ok":true}')
    h.say("septic/level", 60.0, text(h.around(31.2, 0.1, 600, 0.05), "{:.1f} in"))
    for n in range(1, 5):
        h.say(f"trailCam{n}/bat", 60.0, text(h.around(8.3 + 0.2 * n, 0.01, 900, 0.01), "{:.1f} V"))
        h.say(f"trailCam{n}/shots", 60.0, str(31 * n + 4))
    h.say("gateOpen", 60.0, "0")
    h.say("doorFront", 1.0, "closed", retain=True)
    h.say("doorShed", 1.0, "closed", retain=True)
    h.say("mailbox", 1.0, "empty", retain=True)
    h.say("phoneDad", 60.0, '{"batt":58,"charging":false,"acc_m":14}')
    h.say("phoneKid", 60.0, '{"batt":91,"charging":true,"acc_m":40}')
    h.say("pi/uptime", 30.0, whole(h.counter(1882011, 1.0)))
    h.say("pi/cpuTemp", 30.0, text(h.around(118.4, 2.0, 400, 0.5), "{:.1f} F"))
    h.say("pi/coreV", 30.0, "0.8625V")
    h.say("shedNode/uptime", 30.0, whole(h.counter(90312, 1.0)))
    h.say("shedNode/rssi", 30.0, whole(h.around(-73, 2, 400, 2)))
    h.say("shedNode/fw", 1.0, "shednode-0.9.14 built apr 3", retain=True)
    h.say("shedNode/LWT", 1.0, "Online", retain=True)
    return h


# ------------------------------------------------------------------------------------------------ third house


def moulin_des_brumes() -> House:
    """French mill, nested JSON and SenML: old 24 V bank in bulk, a second flooded bank on float beside it."""
    h = Wired("moulin_des_brumes", 7303, "vieille", {"vieille": 12, "neuve": 12, "voiture": 6}, loss=0.006)
    old = lead(h, 12, 500.0, (2.352, 2.387), (41.6, 41.2), 21.3, air=14.0, ripple=0.004)
    new = lead(h, 12, 600.0, (2.262, 2.263), (0.9, 0.85), 15.2, air=14.0, ripple=0.03)
    uo, io = meter(h, old.volts, sigma=0.008), meter(h, old.amps, sigma=0.08)
    un, i_n = meter(h, new.volts, sigma=0.006), meter(h, new.amps, sigma=0.03)
    air = h.around(14.1, 0.3, 1500, 0.05)

    def parc(t: float) -> object:
        return {
            "ts": stamp(t),
            "vieille": {"u": round(uo(t), 2), "i": round(io(t), 1), "p": round(uo(t) * io(t)), "mode": "charge"},
            "neuve": {"u": round(un(t), 2), "i": round(i_n(t), 2), "p": round(un(t) * i_n(t)), "mode": "entretien"},
            "air": {"t": round(air(t), 1), "hr": 58},
        }

    h.say(
        "moulin/atelier/parc_batteries",
        5.0,
        parc,
        {
            "/vieille/u": Truth("vieille", "voltage", "V"),
            "/vieille/i": Truth("vieille", "current", "A"),
            "/vieille/p": Truth("vieille", "power", "W"),
            "/neuve/p": Truth("neuve", "power", "W"),
            "/neuve/u": Truth("neuve", "voltage", "V"),
            "/neuve/i": Truth("neuve", "current", "A"),
            "/air/t": Truth("vieille", "ambient_temperature", "degC"),
        },
    )
    bath, bath_new = meter(h, old.acid, sigma=0.04), meter(h, new.acid, sigma=0.04)
    h.say(
        "moulin/capteurs/senml/local_batteries",
        30.0,
        lambda t: [
            {"bn": "local/", "bt": stamp(t), "n": "bain_vieille", "u": "Cel", "v": round(bath(t), 2)},
            {"n": "bain_neuve", "u": "Cel", "v": round(bath_new(t), 2)},
            {"n": "h2", "u": "ppm", "v": 40},
            {"n": "pile", "u": "V", "v": 3.58},
        ],
        {
            "local/bain_vieille": Truth("vieille", "electrolyte_temperature", "degC"),
            "local/bain_neuve": Truth("neuve", "electrolyte_temperature", "degC"),
        },
    )
    h.say(
        "moulin/atelier/chargeur",
        10.0,
        lambda t: {
            "sortie": {"tension_mV": round(old.volts(t) * 1006 + 60), "courant_mA": round(old.amps(t) * 990)},
            "entree": {"tension": 233.1, "puissance": round(old.watts(t) / 0.88 + 14)},
            "radiateur": 47,
            "consigne": {"tension": 32.04, "courant": 42.0},
        },
    )
    h.kept("moulin/atelier/contacteur_chargeur", 60.0, '{"etat":"ferme","depuis":1795583120}')
    h.say("moulin/atelier/extracteur", 60.0, {"etat": "marche", "tr_min": 1320})
    h.say("moulin/atelier/densite_releve", 1.0, {"vieille": 1.214, "neuve": 1.271, "date": "2026-11-22"}, retain=True)
    h.say("moulin/atelier/poele", 30.0, lambda t: {"t_fumees": round(air(t) * 10.2), "ventilo": 2})
    turbine = h.around(11.8, 0.6, 800, 0.2)
    h.say(
        "moulin/turbine",
        5.0,
        lambda t: {
            "vanne": 38,
            "tr_min": round(turbine(t) * 61),
            "dc": {"u": round(turbine(t) * 0.1 + 55.7, 2), "i": round(turbine(t), 2)},
            "paliers": [31.2, round(33.0 + 0.1 * turbine(t), 1)],
        },
    )
    h.say("moulin/turbine/grille", 60.0, {"perte_charge_mm": 41, "degrilleur": "repos"})
    h.say("moulin/bief/niveau", 20.0, r(h.around(1.412, 0.01, 900, 0.002), 3))
    h.say("moulin/bief/temperature", 60.0, r(h.around(7.8, 0.05, 3000, 0.02), 1))
    onde = h.around(26.9, 0.1, 500, 0.03)
    h.say(
        "moulin/onduleur",
        5.0,
        lambda t: {
            "dc": {"tension": round(un(t) - 0.05, 1), "courant": 0.0, "ondulation_mV": 38},
            "ac": {"tension": 230.4, "frequence": 50.01, "puissance": 0},
            "temp": round(onde(t), 1),
            "etat": "attente",
        },
    )
    for phase, middle in (("L1", 234.2), ("L2", 231.8), ("L3", 235.0)):
        h.say(f"moulin/tableau/{phase}/tension", 10.0, r(h.around(middle, 1.0, 600, 0.3), 1))
        h.say(f"moulin/tableau/{phase}/intensite", 10.0, r(h.steps(0.8, 3.4, 6.1, dwell=66, sigma=0.05), 2))
        h.say(f"moulin/tableau/{phase}/cosphi", 30.0, r(h.around(0.93, 0.03, 700, 0.01), 2))
    h.say("moulin/tableau/compteur", 30.0, lambda t: {"base": 30411822 + int(t * 0.6), "papp": 1640, "iinst": 7})
    rooms = ("salle", "cuisine", "chambre_nord", "chambre_sud", "grenier", "cave", "bureau", "salle_de_bain")
    for n, room in enumerate(rooms):
        warm, wet = h.around(15.0 + 0.7 * n, 0.3, 1300, 0.04), h.around(57 - n, 1.5, 1100, 0.3)
        h.say(f"moulin/maison/{room}/temperature", 30.0, r(warm, 1))
        h.say(f"moulin/maison/{room}/humidite", 60.0, whole(wet))
        h.say(f"moulin/maison/{room}/pile_mV", 60.0, whole(h.around(2980 - 20 * n, 3, 600, 2)))
        h.say(f"moulin/maison/{room}/lqi", 60.0, whole(h.around(120 + 9 * n, 9, 300, 5)))
    for door in ("entree", "atelier", "roue", "garage"):
        h.kept(f"moulin/portes/{door}", 60.0, {"ouvert": False, "piles": 2.91, "rssi": -71})
    h.say("moulin/chauffage/chaudiere", 15.0, lambda t: {"depart": 52.1, "retour": round(41 + t / 300, 1), "bar": 1.4})
    h.say("moulin/chauffage/consigne", 1.0, "18.5", retain=True)
    h.say("moulin/chauffage/bois_kg", 60.0, whole(h.counter(412, -0.004)))
    h.say("moulin/frigo", 60.0, {"t": 4.1, "congel": -18.6})
    h.say("moulin/eau/compteur_l", 30.0, whole(h.counter(512344, 0.02)))
    h.say("moulin/eau/cuve", 60.0, {"niveau_pct": 83, "litres": 4150})
    wind = h.around(2.9, 1.2, 260, 0.5)
    h.say(
        "moulin/meteo", 30.0, lambda t: {"t": 5.2, "hr": 93, "p": 1002.7, "vent": round(abs(wind(t)), 1), "pluie": 0.2}
    )
    h.say(
        "moulin/meteo/senml", 60.0, [{"bn": "toit/", "n": "t", "u": "Cel", "v": 5.3}, {"n": "lux", "u": "lx", "v": 310}]
    )
    for n in (1, 2):
        h.say(f"moulin/pv/chaine{n}", 10.0, lambda t: {"u": round(61 + t / 40, 1), "i": round(0.1 + t / 6000, 2)})
    car = {"soc": 77, "branchee": False, "autonomie_km": 243, "batterie12": 12.71}
    h.say("moulin/voiture", 60.0, car)
    h.say("moulin/velo/accu", 60.0, {"u": 39.8, "soc": 88})
    h.say("moulin/telephones/camille", 60.0, {"batterie": 43, "lieu": "maison"})
    h.say("moulin/telephones/loic", 60.0, {"batterie": 80, "lieu": "absent"})
    for node, since in (("enregistreur", 730122), ("passerelle", 90233), ("serveur", 5120077)):
        h.say(f"moulin/systeme/{node}/uptime", 60.0, whole(h.counter(since, 1.0)))
        h.say(f"moulin/systeme/{node}/version", 1.0, f"{node} 1.{since % 7}.2", retain=True)
        h.say(f"moulin/systeme/{node}/statut", 1.0, "en ligne", retain=True)
        h.say(f"moulin/systeme/{node}/rssi", 60.0, whole(h.around(-58, 3, 400, 1)))
    return h


# ----------------------------------------------------------------------------------------------- fourth house


def finca_el_tejo() -> House:
    """Spanish finca, sensors by number, name/value/unit in topics of their own: 6 V bank coming round, tractor."""
    h = Wired("finca_el_tejo", 7404, "bateria_seis", {"bateria_seis": 3, "tractor": 6, "pastor": 6}, loss=0.01)
    b = lead(h, 3, 110.0, (2.71, 2.585), (2.1, 3.6), 19.4, air=15.0, ripple=0.01)
    me = "bateria_seis"

    def sensor(n: int, name: str, unit: str, every: float, says: object, truth: Truth | None = None) -> None:
        h.say(f"sensores/{n:02d}/nombre", 1.0, name, retain=True)
        h.say(f"sensores/{n:02d}/unidad", 1.0, unit, retain=True)
        h.kept(f"sensores/{n:02d}/valor", every, says, truth)

    volts, amps = meter(h, b.volts, 1000.0, 0.0, 4.0), meter(h, b.amps, sigma=0.015)
    air = h.around(15.2, 0.4, 1600, 0.05)
    sensor(1, "Temp patio", "ºC", 30.0, text(h.around(8.7, 0.3, 1500, 0.05), "{:.1f}"))
    sensor(2, "Temp taller", "ºC", 30.0, text(air, "{:.1f}"), Truth(me, "ambient_temperature", "degC"))
    sensor(3, "Humedad taller", "%", 60.0, text(h.around(61, 1, 900, 0.3), "{:.0f}"))
    sensor(4, "Nivel aljibe", "cm", 60.0, text(h.around(187, 0.5, 900, 0.3), "{:.0f}"))
    sensor(5, "Bomba pozo corriente", "A", 5.0, text(h.steps(0.0, 5.4, dwell=110, sigma=0.03)))
    sensor(6, "Bomba pozo potencia", "W", 5.0, text(h.steps(0.0, 1190.0, dwell=110, sigma=4), "{:.0f}"))
    sensor(7, "Bat 6V antigua tension", "mV", 2.0, whole(volts), Truth(me, "voltage", "mV"))
    sensor(8, "Bat 6V antigua corriente", "A", 2.0, text(amps), Truth(me, "current", "A"))
    acid = text(meter(h, b.acid, sigma=0.03), "{:.2f}")
    sensor(9, "Bat 6V antigua electrolito", "ºC", 15.0, acid, Truth(me, "electrolyte_temperature", "degC"))
    gravity = text(h.around(1.231, 0.0005, 1200, 0.0004), "{:.3f}")
    sensor(10, "Densidad vaso 2", "g/cm3", 60.0, gravity, Truth(me, "gravity", ""))
    sensor(11, "Cargador (enchufe) potencia", "W", 5.0, text(meter(h, b.watts, 1.31, 2.2, 0.2), "{:.1f}"))
    sensor(12, "Cargador (enchufe) rele", "", 30.0, "1")
    tractor = h.around(13.34, 0.04, 1400, 0.006)
    sensor(13, "Tractor bateria", "V", 10.0, text(tractor), Truth("tractor", "voltage", "V"))
    trickle = h.around(0.31, 0.06, 1400, 0.01)
    sensor(14, "Tractor placa solar", "A", 10.0, text(trickle), Truth("tractor", "current", "A"))
    sensor(15, "Nevera", "ºC", 60.0, text(h.around(5.1, 0.8, 1100, 0.05), "{:.1f}"))
    sensor(16, "Arcon", "ºC", 60.0, text(h.around(-17.4, 0.6, 1100, 0.05), "{:.1f}"))
    sensor(17, "Red tension", "V", 5.0, text(h.around(226.3, 1.8, 500, 0.5), "{:.1f}"))
    sensor(18, "Red corriente", "A", 5.0, text(h.steps(1.1, 2.8, 7.9, dwell=73, sigma=0.04)))
    sensor(19, "Red contador", "kWh", 60.0, text(h.counter(9021.44, 0.0002)))
    sensor(20, "Acumulador agua", "ºC", 60.0, text(h.counter(54.2, -0.0007), "{:.1f}"))
    sensor(21, "Suelo radiante ida", "ºC", 30.0, text(h.around(33.2, 0.8, 900, 0.1), "{:.1f}"))
    sensor(22, "Suelo radiante vuelta", "ºC", 30.0, text(h.around(28.7, 0.5, 900, 0.1), "{:.1f}"))
    sensor(23, "Viento", "km/h", 10.0, text(h.around(11, 5, 200, 2), "{:.0f}"))
    sensor(24, "Lluvia hoy", "mm", 60.0, "0.0")
    sensor(25, "Presion", "hPa", 60.0, text(h.around(1019.2, 0.2, 2000, 0.05), "{:.1f}"))
    sensor(26, "Puerta corral", "", 60.0, "0")
    fence = text(h.around(12.42, 0.02, 600, 0.01))
    sensor(27, "Pastor electrico", "V", 30.0, fence)
    sensor(28, "Pastor electrico pulso", "kV", 30.0, text(h.around(6.1, 0.3, 300, 0.1), "{:.1f}"))
    sensor(29, "Estanque pH", "", 60.0, text(h.around(7.4, 0.02, 900, 0.01)))
    sensor(30, "Riego caudal", "l/min", 10.0, "0")
    sensor(31, "Estanque temp", "ºC", 60.0, text(h.around(10.9, 0.05, 3000, 0.02), "{:.1f}"))
    for n in range(1, 8):
        h.say(f"nodos/n{n}/pila", 60.0, whole(h.around(3010 - 31 * n, 4, 900, 2)))
        h.say(f"nodos/n{n}/rssi", 60.0, whole(h.around(-60 - 3 * n, 3, 300, 2)))
        h.say(f"nodos/n{n}/estado", 1.0, "online", retain=True)
    # The plug speaks JSON of its own besides; the laboratory multimeter on the bench writes lines of text.
    plug = meter(h, b.watts, 1.31, 2.2, 0.2)
    h.say(
        "enchufes/taller2/tele",
        20.0,
        lambda t: {
            "hora": stamp(t),
            "vac": 226,
            "w": round(plug(t), 1),
            "a": round(plug(t) / 226 / 0.62, 3),
            "fp": 0.62,
        },
    )
    h.say("enchufes/taller2/estado", 1.0, "ON", retain=True)
    h.say("banco/multimetro", 4.0, text(meter(h, b.volts, 1.0008, 0.0, 0.001), "{:+.4f} VDC AUTO"))
    h.say("movil/abuela", 60.0, '{"bat":37,"wifi":"finca"}')
    h.say("movil/tomas", 60.0, '{"bat":96,"wifi":"finca"}')
    h.say("servidor/temp", 30.0, text(h.around(51.2, 1.5, 300, 0.4), "{:.1f}"))
    h.say("servidor/arranque", 1.0, "2026-10-02T06:11:40Z", retain=True)
    return h


# ------------------------------------------------------------------------------------------------ fifth house


def stara_gorzelnia() -> House:
    """Polish distillery, meter registers beside readable values, JSON arrays and triples: 36 V traction bank."""
    h = Wired("stara_gorzelnia", 7505, "trakcyjna", {"trakcyjna": 18, "alarm": 6}, loss=0.008)
    b = lead(h, 18, 315.0, (2.612, 2.641), (18.9, 17.6), 29.0, air=9.0, ripple=0.01, blocks=6, spread=0.009)
    me = "trakcyjna"
    volts, amps = meter(h, b.volts, sigma=0.01), meter(h, b.amps, sigma=0.04)
    acid, air = meter(h, b.acid, sigma=0.05), h.around(9.3, 0.4, 1700, 0.05)

    def triple(name: str, signal: Signal, unit: str, digits: int) -> Callable[[float], str]:
        return lambda t: json.dumps(
            {"name": name, "value": round(signal(t), digits), "unit": unit, "ts": stamp(t)}, ensure_ascii=False
        )

    root = "dom/akumulatornia"
    says: Callable[[float], str] = triple("Napięcie baterii trakcyjnej", volts, "V", 2)
    h.say(f"{root}/p1", 4.0, says, {"/value": Truth(me, "voltage", "V")})
    h.say(f"{root}/p2", 4.0, triple("Prąd ładowania", amps, "A", 1), {"/value": Truth(me, "current", "A")})
    says = triple("Moc ładowania", product(volts, amps), "W", 0)
    h.say(f"{root}/p3", 4.0, says, {"/value": Truth(me, "power", "W")})
    says = triple("Temp. elektrolitu ogniwo 9", acid, "°C", 1)
    h.say(f"{root}/p4", 20.0, says, {"/value": Truth(me, "electrolyte_temperature", "degC")})
    says = triple("Temp. pomieszczenia", air, "°C", 1)
    h.say(f"{root}/p5", 60.0, says, {"/value": Truth(me, "ambient_temperature", "degC")})
    h.say(f"{root}/p6", 60.0, triple("Ładunek od rozładowania", h.counter(288.2, 18.2 / 3600), "Ah", 1))
    blocks = [meter(h, one, h.chance.uniform(0.999, 1.001), sigma=0.005) for one in b.blocks]
    h.say(
        f"{root}/bloki",
        12.0,
        lambda t: [round(one(t), 2) for one in blocks],
        {f"/{n}": Truth(me, "block_voltage", "V") for n in range(6)},
    )
    h.kept(f"{root}/stycznik", 30.0, '{"name":"Stycznik prostownika","value":1,"unit":""}')
    h.say(f"{root}/wentylator", 30.0, '{"name":"Wentylator","value":1,"unit":""}')
    h.say(f"{root}/wodor", 30.0, triple("Wodór", h.around(0.31, 0.03, 500, 0.01), "%LEL", 2))
    # Slave 7 is the meter of the bank; the gateway also publishes what its registers hold.
    bus = "dom/rs485/7/rejestry"
    h.say(f"{bus}/30001", 4.0, whole(volts, 1000.0))
    h.say(f"{bus}/30003", 4.0, whole(amps, 100.0))
    h.say(f"{bus}/30005", 4.0, whole(product(volts, amps), 1.0))
    h.say(f"{bus}/30007", 20.0, whole(acid, 10.0))
    h.say(f"{bus}/30009", 60.0, whole(h.counter(2882, 182 / 3600)))
    h.say(f"{bus}/40001", 60.0, 7)
    h.say(f"{bus}/40002", 60.0, 9600)
    h.say(f"{bus}/40010", 60.0, 4806)
    # Slave 3: three-phase meter, readable and raw.
    for n, middle in ((1, 233.0), (2, 230.1), (3, 231.7)):
        u, a = h.around(middle, 1.0, 600, 0.3), h.steps(2.2, 4.9, 8.1, dwell=55, sigma=0.05)
        h.say(f"dom/rs485/3/rejestry/{30000 + n}", 5.0, whole(u, 10.0))
        h.say(f"dom/rs485/3/rejestry/{30010 + n}", 5.0, whole(a, 100.0))
        h.say(f"dom/licznik/L{n}", 5.0, lambda t, u=u, a=a: [round(u(t), 1), round(a(t), 2), round(u(t) * a(t) * 0.94)])
    h.say("dom/licznik/energia", 30.0, triple("Energia pobrana", h.counter(61200.4, 0.0009), "kWh", 2))
    h.say("dom/rs485/3/rejestry/30021", 30.0, whole(h.counter(612004, 0.009)))
    h.say("dom/rs485/3/rejestry/30030", 5.0, whole(h.around(4999, 2, 200, 1)))
    # Slave 12: solar inverter, raw only.
    for register, middle, swing in (
        (33022, 3120, 240.0),
        (33023, 41, 9.0),
        (33035, 262, 4.0),
        (33049, 2331, 8.0),
        (33057, 118, 22.0),
        (33093, 214, 2.0),
        (33094, 5001, 1.0),
        (33133, 487, 3.0),
    ):
        h.say(f"dom/rs485/12/rejestry/{register}", 15.0, whole(h.around(middle, swing, 1500, 0.8)))
    # Slave 21: heat pump, raw and readable.
    for name, register, middle, swing in (
        ("zasilanie", 30101, 36.2, 1.2),
        ("powrót", 30102, 31.0, 0.8),
        ("dolne źródło", 30103, 4.4, 0.3),
        ("ciepła woda", 30104, 48.9, 0.2),
    ):
        heat = h.around(middle, swing, 900, 0.1)
        h.say(f"dom/rs485/21/rejestry/{register}", 20.0, whole(heat, 10.0))
        h.say(f"dom/pompa_ciepla/{register - 30100}", 20.0, triple(f"Pompa ciepła {name}", heat, "°C", 1))
    h.say("dom/pompa_ciepla/sprezarka", 20.0, triple("Prąd sprężarki", h.around(17.9, 0.5, 500, 0.1), "A", 1))
    h.say("dom/pompa_ciepla/cop", 60.0, triple("COP", h.around(3.9, 0.1, 600, 0.03), "", 2))
    for n, room in enumerate(("kuchnia", "salon", "sypialnia", "łazienka", "strych", "piwnica", "zacier", "magazyn")):
        warm, wet = h.around(21.3 - 1.4 * n, 0.3, 1200, 0.04), h.around(46 + 3 * n, 1.0, 900, 0.3)
        cell = h.around(2.99 - 0.02 * n, 0.003, 900, 0.001)
        h.say(
            f"dom/pokoje/{room}",
            45.0,
            lambda t, warm=warm, wet=wet, cell=cell: [round(warm(t), 1), round(wet(t)), round(cell(t), 3)],
        )
        h.say(f"dom/pokoje/{room}/rssi", 60.0, whole(h.around(-55 - 3 * n, 3, 300, 2)))
    h.say("dom/pokoje/_opis", 1.0, '["temperatura","wilgotność","bateria"]', retain=True)
    h.say("dom/wozek/hamulec", 60.0, "1")
    h.say("dom/wozek/motogodziny", 1.0, '{"name":"Motogodziny wózka","value":8127.3,"unit":"h"}', retain=True)
    says = triple("Akumulator alarmu", h.around(13.62, 0.01, 900, 0.005), "V", 2)
    h.say("dom/alarm/akumulator", 60.0, says)
    h.say("dom/alarm/stan", 1.0, "rozbrojony", retain=True)
    for door in ("brama", "wejście", "akumulatornia"):
        h.kept(f"dom/drzwi/{door}", 60.0, '{"name":"kontakt","value":0,"unit":""}')
    h.say("dom/pogoda", 60.0, lambda t: [2.1, 88, 1011.3, round(3.0 + math.sin(t / 50), 1), 0])
    h.say("dom/woda/licznik", 30.0, triple("Woda", h.counter(1204.331, 0.00002), "m3", 3))
    h.say("dom/kadź/temp", 20.0, triple("Kadź zacierna", h.around(64.4, 0.6, 800, 0.1), "°C", 1))
    h.say("dom/kadź/gestosc", 60.0, triple("Gęstość brzeczki", h.around(1.048, 0.0004, 900, 0.0002), "g/cm3", 3))
    h.say("dom/auto/ladowarka", 10.0, lambda t: [230.2, round(9.97 + 0.02 * math.sin(t), 2), 2290, "ładuje"])
    h.say("dom/lodowka", 60.0, '{"name":"Lodówka","value":4.6,"unit":"°C"}')
    h.say("dom/telefony", 60.0, '{"ola":55,"piotr":23}')
    for node in ("brama485", "serwer", "bramka"):
        h.say(f"dom/sys/{node}/czas_pracy", 30.0, whole(h.counter(h.chance.randrange(10**5, 10**7), 1.0)))
        h.say(f"dom/sys/{node}/wersja", 1.0, f"{node}-fw 3.{len(node)}", retain=True)
        h.say(f"dom/sys/{node}/stan", 1.0, "online", retain=True)
    return h


# ------------------------------------------------------------------------------------------------ sixth house


def torpet_norrmyra() -> House:
    """Swedish croft, boards with numbers only: twelve 2 V cells held near the end; the board restarts, lithium by."""
    h = Wired("torpet_norrmyra", 7606, "bod", {"bod": 12, "start": 6}, loss=0.015)
    b = lead(h, 12, 350.0, (2.667, 2.669), (9.4, 9.1), 36.8, air=8.0, ripple=0.011, blocks=12, spread=0.007)
    me = "bod"
    h.silences.append(("n/7/", 402.0, 431.0))
    h.once += [
        (418.0, "n/7/lwt", "0"),
        (431.2, "n/7/lwt", "1"),
        (431.3, "n/7/info", '{"fw":"2.3.1","rst":"brownout","loc":"bod"}'),
    ]
    # Board 7: shunt and probes of the bank. Out of the bank counts positive; milliamps.
    h.say("n/7/0", 1.0, text(meter(h, b.volts, 1.0, 0.0, 0.012), "{:.3f}"), Truth(me, "voltage", "V"))
    h.say("n/7/1", 1.0, whole(meter(h, b.amps, -1000.0, 15.0, 35.0)), Truth(me, "current", "mA", "discharging"))
    h.say("n/7/2", 20.0, text(meter(h, b.acid, sigma=0.02), "{:.4f}"), Truth(me, "electrolyte_temperature", "degC"))
    h.say("n/7/3", 20.0, text(h.around(8.4, 0.3, 1500, 0.03), "{:.4f}"), Truth(me, "ambient_temperature", "degC"))
    h.say("n/7/4", 5.0, "1")
    h.say("n/7/up", 10.0, lambda t: int(t - 429) if t > 429 else int(t + 64021))
    h.say("n/7/rssi", 10.0, whole(h.around(-74, 2, 300, 2)))
    h.say("n/7/vcc", 10.0, text(h.around(3.291, 0.004, 300, 0.003), "{:.3f}"))
    h.say("n/7/lwt", 1.0, "1", retain=True)
    h.say("n/7/info", 1.0, '{"fw":"2.3.1","rst":"power","loc":"bod"}', retain=True)
    # Board 9: one wire to each post.
    cells = [meter(h, one, 1000.0 * h.chance.uniform(0.9992, 1.0008), 0.0, 1.5) for one in b.blocks]
    h.say(
        "n/9/c",
        10.0,
        lambda t: {"s": int(t / 10) + 902, "mv": [round(one(t)) for one in cells]},
        {f"/mv/{n}": Truth(me, "cell_voltage", "mV") for n in range(12)},
    )
    h.say("n/9/up", 30.0, whole(h.counter(811220, 1.0)))
    h.say("n/9/rssi", 30.0, whole(h.around(-69, 2, 300, 2)))
    h.say("n/9/info", 1.0, '{"fw":"2.1.0","rst":"power","loc":"bod"}', retain=True)
    # Board 12: lithium, eight in series, feeding board 15, the inverter.
    load = h.steps(4.2, 6.9, 21.0, dwell=58, sigma=0.08)

    def lithium(t: float) -> float:
        return 26.52 - 0.009 * load(t)

    h.say("n/12/0", 2.0, text(meter(h, lithium, sigma=0.005), "{:.3f}"))
    h.say("n/12/1", 2.0, whole(meter(h, load, 1000.0, 0.0, 20.0)))
    h.say("n/12/2", 20.0, text(h.around(16.3, 0.1, 2000, 0.02), "{:.4f}"))
    h.say("n/12/c", 10.0, lambda t: {"mv": [round(lithium(t) * 125 + k) for k in (-3, 1, 0, 2, -1, 4, -2, -1)]})
    h.say("n/12/soc", 30.0, text(h.counter(68.4, -0.0016), "{:.1f}"))
    h.say("n/12/up", 30.0, whole(h.counter(2200412, 1.0)))
    h.say("n/15/0", 5.0, text(meter(h, lithium, 0.996, 0.0, 0.02), "{:.1f}"))
    h.say("n/15/1", 5.0, text(lambda t: 0.92 * lithium(t) * load(t), "{:.0f}"))
    h.say("n/15/2", 5.0, text(h.around(230.0, 0.4, 400, 0.1), "{:.1f}"))
    h.say("n/15/3", 5.0, "50.00")
    h.say("n/15/4", 20.0, text(h.around(31.0, 0.7, 700, 0.1), "{:.0f}"))
    # Board 18: clamp on the charger's mains side, and its relay.
    h.say("n/18/0", 5.0, text(h.around(231.3, 0.9, 600, 0.2), "{:.1f}"))
    h.say("n/18/1", 5.0, text(meter(h, b.watts, 1 / 0.85 / 231.0, 0.05, 0.01), "{:.2f}"))
    h.say("n/18/2", 5.0, text(meter(h, b.watts, 1 / 0.85, 6.0, 1.5), "{:.0f}"))
    h.kept("n/18/r", 30.0, "1")
    h.say("n/18/up", 30.0, whole(h.counter(300412, 1.0)))
    h.say("n/18/info", 1.0, '{"fw":"1.8.0","rst":"power","loc":"bod"}', retain=True)
    # Boards of the house: four numbers each.
    for board, place, middle in (
        (21, "kok", 20.4),
        (22, "kammare", 18.1),
        (23, "vind", 6.2),
        (24, "kallare", 7.9),
        (25, "bastu", 11.4),
        (26, "vaxthus", 3.7),
    ):
        h.say(f"n/{board}/2", 30.0, text(h.around(middle, 0.4, 1400, 0.03), "{:.4f}"))
        h.say(f"n/{board}/5", 30.0, text(h.around(52, 2, 1100, 0.3), "{:.0f}"))
        h.say(f"n/{board}/vcc", 60.0, text(h.around(3.02, 0.01, 700, 0.004), "{:.3f}"))
        h.say(f"n/{board}/rssi", 60.0, whole(h.around(-64, 3, 300, 2)))
        h.say(f"n/{board}/info", 1.0, json.dumps({"fw": "2.0.4", "rst": "power", "loc": place}), retain=True)
    # One-wire probes on the old gateway, by their number; SenML from the weather mast.
    for number, middle, swing in (
        ("28a1f40c", 41.7, 1.5),
        ("28b0093e", 34.9, 1.0),
        ("28c7712d", 62.3, 0.4),
        ("28d41e88", 4.2, 0.6),
        ("28e90a51", -18.8, 0.7),
        ("28f3bb07", 36.1, 0.2),
    ):
        h.say(f"w1/{number}", 20.0, text(h.around(middle, swing, 1100, 0.02), "{:.3f}"))
    wind = h.around(3.3, 1.4, 240, 0.5)
    h.say(
        "mast",
        15.0,
        lambda t: [
            {"bn": "urn:dev:ow:10e2073a01080063:", "n": "t", "u": "Cel", "v": -2.4},
            {"n": "ws", "u": "m/s", "v": round(abs(wind(t)), 1)},
            {"n": "ub", "u": "V", "v": 5.02},
            {"n": "rh", "u": "%RH", "v": 91},
        ],
    )
    # The outboard's starter battery is indoors for the winter on a float charger; nobody measures more than volts here.
    h.say("bat/start", 60.0, '{"u":13.41}')
    for k, middle in (("p1", 228.9), ("p2", 231.0), ("p3", 230.2)):
        h.say(f"el/{k}/u", 10.0, text(h.around(middle, 0.9, 500, 0.2), "{:.1f}"))
        h.say(f"el/{k}/i", 10.0, text(h.steps(0.4, 2.2, 9.6, dwell=71, sigma=0.03)))
    h.say("el/kwh", 10.0, text(h.counter(33120.551, 0.0006), "{:.3f}"))
    h.say("el/pris", 1.0, '{"ore":118.4,"zon":3}', retain=True)
    h.say(
        "vp/tele",
        20.0,
        lambda t: f"VB={38.1 + math.sin(t / 90):.1f};RET=32.4;BRINE=1.9;KOMP=1;EL=0;H={int(20411 + t / 3600)}",
    )
    h.say("ved/pump", 20.0, "on")
    h.say("vatten/l", 30.0, whole(h.counter(71844, 0.01)))
    h.say("dorr/fram", 60.0, '{"open":0,"bat":2.88}')
    h.say("dorr/bod", 60.0, '{"open":0,"bat":3.01}')
    h.say("tel/maja", 60.0, '{"batt":71,"home":1}')
    h.say("gw/up", 30.0, whole(h.counter(910022, 1.0)))
    h.say("gw/heap", 30.0, whole(h.around(143200, 900, 200, 300)))
    h.say("gw/ver", 1.0, "gw 4.1-rc2", retain=True)
    return h


FRESH_A: tuple[Callable[[], House], ...] = (
    hof_lindenau,
    quarry_cabin,
    moulin_des_brumes,
    finca_el_tejo,
    stara_gorzelnia,
    torpet_norrmyra,
)

#: The same quantities seen by a second device: house name, then ``topic pointer``.
SECOND_A: dict[str, dict[str, Truth]] = {
    "hof_lindenau": {
        "hub/sensor/ladegeraet_ausgangsspannung/state": Truth("altbatterie", "voltage", "V"),
        "hub/sensor/ladegeraet_ausgangsstrom/state": Truth("altbatterie", "current", "A"),
    },
    "quarry_cabin": {},
    "moulin_des_brumes": {
        "moulin/atelier/chargeur /sortie/tension_mV": Truth("vieille", "voltage", "mV"),
        "moulin/atelier/chargeur /sortie/courant_mA": Truth("vieille", "current", "mA"),
        "moulin/onduleur /dc/tension": Truth("neuve", "voltage", "V"),
    },
    "finca_el_tejo": {"banco/multimetro": Truth("bateria_seis", "voltage", "V")},
    "stara_gorzelnia": {"dom/rs485/7/rejestry/30001": Truth("trakcyjna", "voltage", "mV")},
    "torpet_norrmyra": {},
}
