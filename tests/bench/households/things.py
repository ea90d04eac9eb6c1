"""The crowd: what else speaks on a house's broker."""

from __future__ import annotations

import json
from collections.abc import Callable

from tests.bench.households.world import House, Signal, Truth


def plug(h: House, topic: str, mains: float) -> None:
    """A measuring socket: mains volts, amps, watts, energy."""
    volts, amps = h.around(mains, 1.2, sigma=0.3), h.steps(0.0, 0.31, 1.9, dwell=120, sigma=0.01)
    energy = h.counter(h.chance.uniform(3, 900), 1e-5)
    h.say(
        topic,
        h.chance.choice((10, 30)),
        lambda t: {
            "Time": "2026-11-25T08:20:00",
            "ENERGY": {
                "Total": round(energy(t), 3),
                "Power": round(abs(volts(t) * amps(t))),
                "Factor": 0.93,
                "Voltage": round(volts(t)),
                "Current": round(abs(amps(t)), 3),
            },
        },
    )


def climate(h: House, base: str, names: tuple[str, str, str]) -> None:
    """A room sensor on a coin cell."""
    warm, damp = h.around(h.chance.uniform(9, 23), 0.4, sigma=0.04), h.around(h.chance.uniform(40, 70), 2, sigma=0.2)
    charge = h.chance.choice((100, 87, 2950))
    h.say(f"{base}/{names[0]}", 40, lambda t: f"{warm(t):.1f}")
    h.say(f"{base}/{names[1]}", 40, lambda t: f"{damp(t):.0f}")
    h.say(f"{base}/{names[2]}", 120, str(charge))


def lithium(h: House, base: str, cells: int, names: tuple[str, str, str, str, str]) -> None:
    """A lithium pack that tells its cells."""
    one, amps = (
        h.around(h.chance.uniform(3.26, 3.36), 0.01, sigma=0.002),
        h.steps(-3.2, -11.5, 4.4, dwell=70, sigma=0.1),
    )
    warm = h.around(17.0, 0.2, sigma=0.05)
    h.say(f"{base}/{names[0]}", 5, lambda t: f"{cells * one(t):.2f}")
    h.say(f"{base}/{names[1]}", 5, lambda t: f"{amps(t):.1f}")
    h.say(f"{base}/{names[2]}", 30, lambda t: f"{71 + t / 900:.0f}")
    h.say(f"{base}/{names[3]}", 30, lambda t: f"{warm(t):.1f}")
    for n in range(cells):
        h.say(f"{base}/{names[4].format(n + 1)}", 10, lambda t, n=n: f"{one(t) + 0.003 * n:.3f}")


def starter(h: House, topic: str) -> None:
    """A 12 V battery that stands alone."""
    volts = h.around(h.chance.uniform(12.5, 13.6), 0.02, sigma=0.008)
    h.say(topic, 15, lambda t: f"{volts(t):.2f}")


def solar(h: House, base: str, names: tuple[str, str, str, str, str], at_bank: Signal) -> None:
    """A solar controller: array side, yield, and its own look at the bank's terminals."""
    volts, amps = h.around(h.chance.uniform(62, 96), 2.5, 400, 0.3), h.around(3.2, 1.1, 350, 0.05)
    h.say(f"{base}/{names[0]}", 5, lambda t: f"{volts(t):.1f}")
    h.say(f"{base}/{names[1]}", 5, lambda t: f"{amps(t):.1f}")
    h.say(f"{base}/{names[2]}", 5, lambda t: f"{volts(t) * amps(t):.0f}")
    h.say(f"{base}/{names[3]}", 60, lambda t: f"{0.41 + t / 20000:.2f}")
    h.say(f"{base}/{names[4]}", 5, lambda t: f"{at_bank(t):.1f}")


def mains(h: House, base: str, names: tuple[str, str, str], volts: float, hertz: float) -> None:
    """The grid."""
    u, f, p = h.around(volts, 1.0, sigma=0.3), h.around(hertz, 0.02, sigma=0.01), h.steps(310, 1450, 2210, sigma=12)
    h.say(f"{base}/{names[0]}", 5, lambda t: f"{u(t):.1f}")
    h.say(f"{base}/{names[1]}", 5, lambda t: f"{f(t):.2f}")
    h.say(f"{base}/{names[2]}", 5, lambda t: f"{p(t):.0f}")


def weather(h: House, base: str, names: tuple[str, ...]) -> None:
    """A weather station."""
    middles = (6.0, 71.0, 1009.0, 4.0, 1.2, 0.4)
    for name, middle in zip(names, middles, strict=False):
        value = h.around(middle, 0.02 * middle, sigma=0.004 * middle)
        h.say(f"{base}/{name}", 30, lambda t, value=value: f"{value(t):.1f}")


def lights(h: House, base: str, names: tuple[str, ...]) -> None:
    """Lamps."""
    for name in names:
        state = {"state": h.chance.choice(("ON", "OFF")), "brightness": h.chance.randrange(255), "color_temp": 370}
        h.say(f"{base}/{name}", 120, state)


def router(h: House, base: str, names: tuple[str, str, str, str]) -> None:
    """A machine that tells how it is."""
    warm, load, rate = h.around(48, 1.5, sigma=0.4), h.around(0.4, 0.2, sigma=0.05), h.steps(12, 900, 4100, sigma=30)
    h.say(f"{base}/{names[0]}", 15, lambda t: f"{warm(t):.1f}")
    h.say(f"{base}/{names[1]}", 15, lambda t: f"{abs(load(t)):.2f}")
    h.say(f"{base}/{names[2]}", 15, lambda t: str(912331 + int(t)))
    h.say(f"{base}/{names[3]}", 15, lambda t: f"{abs(rate(t)):.0f}")


def coin_cells(h: House, base: str, names: tuple[str, ...]) -> None:
    """Door contacts on a coin cell: a contact inside JSON."""
    for name in names:
        body = {"contact": True, "battery": h.chance.randrange(40, 100), "voltage": h.chance.choice((2.9, 2950, 3.0))}
        h.say(f"{base}/{name}", 120, body | {"linkquality": h.chance.randrange(30, 220)})


def phone(h: House, base: str) -> None:
    """A telephone that reports its own battery."""
    h.say(
        base,
        90,
        lambda t: {"batt": 64 - int(t / 300), "lat": 0.0, "lon": 0.0, "acc": 12, "vel": 0, "tst": 1795590000 + int(t)},
    )


def relay(h: House, base: str, state: str, bank: str) -> None:
    """The charger's relay: an order topic and its read-back."""
    h.say(f"{base}/set", 240, "ON")
    h.say(f"{base}/{state}", 30, "ON", Truth(bank, "relay_state"))


Property = tuple[str, Callable[[float], str], Truth | None]


def homie(h: House, base: str, nodes: dict[str, dict[str, Property]], every: float) -> None:
    """A Homie 5 device with its description."""
    described = {
        node: {
            "name": node,
            "properties": {
                name: {"name": name, "datatype": "float", "unit": unit} for name, (unit, _, _) in entries.items()
            },
        }
        for node, entries in nodes.items()
    }
    h.say(f"{base}/$description", 600, json.dumps({"homie": "5.0", "version": 1, "nodes": described}), retain=True)
    h.say(f"{base}/$state", 600, "ready", retain=True)
    for node, entries in nodes.items():
        for name, (_, says, truth) in entries.items():
            h.say(f"{base}/{node}/{name}", every, says, truth)


def homie_thermostat(h: House, base: str) -> None:
    """A thermostat."""
    warm = h.around(19.5, 0.5, sigma=0.05)
    homie(
        h,
        base,
        {"room": {"temperature": ("°C", lambda t: f"{warm(t):.1f}", None), "target": ("°C", lambda _t: "20.0", None)}},
        every=45,
    )


def other_bridge(h: House, base: str, bank: str) -> None:
    """Another bridge of our own kind: its states are no meters."""
    nodes = {
        "electrical": {"voltage": "V", "volts-per-cell": "V", "current": "A", "power": "W"},
        "thermal": {"temperature": "°C", "ambient": "°C"},
        "revival": {"phase": "", "charge-returned": "Ah", "remaining-hours": "h"},
        "safety": {"charge-allowed": "", "relay": ""},
    }
    body = {
        node: {"name": node, "properties": {n: {"datatype": "float", "unit": u} for n, u in entries.items()}}
        for node, entries in nodes.items()
    }
    h.say(f"{base}-{bank}/$description", 600, json.dumps({"homie": "5.0", "version": 1, "nodes": body}), retain=True)
    volts, amps = h.around(31.9, 0.02, sigma=0.01), h.around(6.0, 0.1, sigma=0.02)
    says = {
        "voltage": lambda t: f"{volts(t):.3f}",
        "volts-per-cell": lambda t: f"{volts(t) / 12:.4f}",
        "current": lambda t: f"{amps(t):.2f}",
        "power": lambda t: f"{volts(t) * amps(t):.1f}",
        "temperature": lambda _t: "27.4",
        "ambient": lambda _t: "12.0",
        "phase": lambda _t: "holding",
        "charge-returned": lambda t: f"{412 + t / 600:.1f}",
        "remaining-hours": lambda _t: "7.4",
        "charge-allowed": lambda _t: "true",
        "relay": lambda _t: "closed",
    }
    for node, entries in nodes.items():
        for name in entries:
            h.say(f"{base}-{bank}/{node}/{name}", 10, says[name])
