"""Of two places that say the same the one that measures is taken, and where that cannot be told neither goes live."""

from __future__ import annotations

import json
import random

import pytest

from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.relays import relays
from bridge.listen.write import OFFERED, recognise
from bridge.message import Message
from tests.bridge.listen.test_listen_company import FLOWS, bank, late, live
from tests.bridge.listen.test_listen_strange import by_place, say

VOLTS = late(FLOWS)
ACID = [35.0 + 0.004 * place for place in range(len(FLOWS))]


def every(topic: str, step: int, *payloads: object) -> list[Message]:
    """What is told each so many steps of two seconds."""
    return [one for place, one in enumerate(say(topic, *payloads)) if place % step == 0]


def rounded(seed: str, values: list[float], digits: int, sigma: float) -> list[float]:
    """What another instrument on the same wires reads."""
    rng = random.Random(seed)
    return [round(value + rng.gauss(0.0, sigma), digits) for value in values]


def charger_and(display: str) -> list[Message]:
    """A charger whose registers a legend names, and what repeats them in whole tenths a fifteenth as often."""
    rows = zip(rounded("v", VOLTS, 1, 0.01), rounded("i", FLOWS, 3, 0.01), rounded("t", ACID, 0, 0.1), strict=True)
    messages = say("hut/charger/registers", *([round(10 * u), round(1000 * i), round(t)] for u, i, t in rows))
    legend = ["battery voltage x0.1 V", "charging current mA", "temperature electrolyte C"]
    messages += say("hut/charger/registers/legend", legend, retain=True)
    shown = zip(rounded("V", VOLTS, 1, 0.01), rounded("I", FLOWS, 1, 0.01), rounded("T", ACID, 0, 0.1), strict=True)
    told = [{"U": f"{u:.1f} V", "I": f"{i:.1f} A", "acid": f"{t:.0f} °C"} for u, i, t in shown]
    blocks = [rounded(str(n), [volt / 4.0 for volt in VOLTS], 3, 0.002) for n in range(4)]
    messages += say(
        "hut/sweeper/blocks",
        *({f"b{n + 1}": one for n, one in enumerate(row)} for row in zip(*blocks, strict=True)),
    )
    return messages + every(display, 15, *told)


@pytest.mark.parametrize("display", ["house/display/hut", "house/afisaj/hut", "casa/pantalla/hut", "spiti/othoni"])
def test_a_display_is_no_meter_though_its_charger_is_named_a_charger(display: str) -> None:
    messages = charger_and(display)
    found = live(messages)
    assert found["hut/charger/registers /0"] == "voltage"
    assert found["hut/charger/registers /2"] == "electrolyte_temperature"
    assert [f"hut/sweeper/blocks /b{n}" in found for n in range(1, 5)] == [True] * 4
    assert not [place for place in found if place.startswith(display)]


def test_what_repeats_a_charger_and_has_no_telling_name_never_goes_live_with_it() -> None:
    messages = [one for one in charger_and("house/things/hut") if "sweeper" not in one.topic]
    found = by_place(messages)
    assert found["hut/charger/registers /0"].sure >= OFFERED
    assert found["house/things/hut /U"].sure >= OFFERED
    assert not [place for place, quantity in live(messages).items() if quantity == "voltage"]


@pytest.mark.parametrize("step", [1, 2])
def test_a_bank_with_its_own_amps_stays_live_beside_a_coarser_look_that_is_told_as_often(step: int) -> None:
    rows = zip(rounded("w", VOLTS, 1, 0.02), rounded("j", FLOWS, 1, 0.05), strict=True)
    again = every("house/things/hut", step, *({"U": u, "I": i} for u, i in rows))
    messages = bank("hut/battery/volts", "hut/battery/amps") + again
    assert live(messages)["hut/battery/volts"] == "voltage"
    assert "house/things/hut /U" not in live(messages)


@pytest.mark.parametrize("machine", ["truck", "moped"])
def test_an_inverters_look_at_a_machines_battery_with_amps_of_its_own_is_not_the_banks(machine: str) -> None:
    messages = bank(f"hut/{machine}_battery_volts", f"hut/{machine}_battery_amps")
    seen = rounded("inverter", VOLTS, 1, 0.03)
    messages += every("hut/inverter_battery_volts", 5, *(f"{volt:.1f} V" for volt in seen))
    assert "voltage" not in live(messages).values()
    found = by_place(messages)
    assert all(found[f"hut/{one}_battery_volts"].sure >= OFFERED for one in (machine, "inverter"))
    alone = [one for one in messages if machine not in one.topic]
    assert "hut/inverter_battery_volts" in live(alone), "where nothing else tells it, it is the bank's"


@pytest.mark.parametrize("machine", ["moped", "truck", "tractor"])
@pytest.mark.parametrize("part", ["midpoint", "acid", ""])
def test_a_machines_battery_is_a_bank_where_somebody_watches_it_as_one(machine: str, part: str) -> None:
    """Whoever equalises a fork lift's or a golf cart's battery watches more of it than a starter's owner does."""
    name = f"hut/{machine}_battery"
    messages = bank(f"{name}/volts", f"{name}/amps")
    messages += say(f"{name}/watts", *(f"{volt * flow:.1f} W" for volt, flow in zip(VOLTS, FLOWS, strict=True)))
    told = {
        "midpoint": [f"{0.499 * volt:.2f} V" for volt in VOLTS],
        "acid": [f"{warm:.1f} °C" for warm in ACID],
    }
    messages += say(f"{name}/{part}", *told[part]) if part else []
    found = live(messages)
    assert ({f"{name}/volts", f"{name}/amps", f"{name}/watts", f"{name}/{part}"} <= found.keys()) == bool(part)
    assert part or not found


@pytest.mark.parametrize("name", ["truckbatteri", "staplerbatterie", "tractiebatterij"])
def test_a_fork_lifts_battery_is_a_bank(name: str) -> None:
    messages = bank(f"hut/{name}_volts", f"hut/{name}_amps")
    assert live(messages)[f"hut/{name}_volts"] == "voltage"


@pytest.mark.parametrize("beside", ["target", "setpoint", "soll", ""])
def test_air_that_a_thermostat_holds_is_asked_about(beside: str) -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps")
    messages += say("hut/room/temperature", *(f"{19.4 + 0.1 * (n % 3):.1f} °C" for n in range(60)))
    if beside:
        messages += say(f"hut/room/{beside}", *["20.0 °C"] * 60)
    assert ("hut/room/temperature" in live(messages)) == (not beside)
    assert by_place(messages)["hut/room/temperature"].sure >= OFFERED


@pytest.mark.parametrize("word", ["thermostat", "termostat", "termostato", "θερμοστάτης"])
def test_a_thermostat_is_another_thing(word: str) -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps")
    messages += say(f"hut/{word}/room/temperature", *(f"{19.4 + 0.1 * (n % 3):.1f} °C" for n in range(60)))
    assert f"hut/{word}/room/temperature" not in live(messages)


@pytest.mark.parametrize(
    ("called", "quantity"),
    [
        ("Smedje ved batteriet", "ambient_temperature"),
        ("next to the battery", "ambient_temperature"),
        ("akku mellett", "ambient_temperature"),
        ("batterie", "electrolyte_temperature"),
    ],
)
def test_what_is_by_a_battery_is_not_in_it(called: str, quantity: str) -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps")
    messages += say("hut/t7/state", *(f"{14.8 + 0.1 * (n % 3):.1f} °C" for n in range(60)))
    messages += say("hut/t7/friendly_name", called, retain=True)
    assert by_place(messages)["hut/t7/state"].quantity == quantity


def opening(kind: str) -> list[Message]:
    card = {"name": "Smedjeport", "state_topic": "hut/battery/x4/state", "device_class": kind}
    messages = say("homeassistant/binary_sensor/x4/config", json.dumps(card), retain=True)
    return messages + bank("hut/battery/volts", "hut/battery/amps") + say("hut/battery/x4/state", *["OFF"] * 30)


@pytest.mark.parametrize(("kind", "is_a_door"), [("door", True), ("opening", True), ("motion", False)])
def test_what_is_announced_as_a_door_is_one(kind: str, *, is_a_door: bool) -> None:
    found = by_place(opening(kind))
    assert ("hut/battery/x4/state" in found) == is_a_door
    assert not is_a_door or found["hut/battery/x4/state"].quantity == "door"


@pytest.mark.parametrize(
    ("name", "quantity"),
    [
        *(
            ("dolap_kapagi", "door"),
            ("kannen_luukku", "door"),
            ("capac", "door"),
            ("deksel", "door"),
            ("tampa", "door"),
        ),
        *(("havalandirma", "fan"), ("aerisire", "fan"), ("szelloztetes", "fan"), ("vytiazhka", "fan")),
    ],
)
def test_lids_and_fans_are_known_in_more_tongues(name: str, quantity: str) -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps") + say(f"hut/battery/{name}/state", *["ON"] * 30)
    assert by_place(messages)[f"hut/battery/{name}/state"].quantity == quantity


def relay_of(topic: str) -> list[tuple[str, str, str]]:
    messages = bank("hut/battery/volts", "hut/battery/amps")
    messages += say(topic, *[{"generator": "on", "charger": "on", "lamp": "off"}] * 30)
    messages += say(f"{topic}/set", {"charger": "on"})
    collector = Collector()
    for message in messages:
        collector.take(message)
    found = relays(collector.switches, recognise(collector.sources))
    return [(one.topic, one.state_topic, one.state_pointer) for one in found if one.charger]


@pytest.mark.parametrize(("topic", "heard"), [("hut/relays", True), ("hut/relais", True), ("hut/rooms", False)])
def test_a_charger_among_a_list_of_relays_is_its_relay(topic: str, *, heard: bool) -> None:
    """An order to a document is none that a relay's table could give: only the state is told."""
    assert relay_of(topic) == ([("", topic, "/charger")] if heard else [])


@pytest.mark.parametrize(("legend", "unit"), [("battery voltage x0.1 V", "dV"), ("battery voltage [0,01 V]", "cV")])
def test_a_legend_says_how_a_register_counts(legend: str, unit: str) -> None:
    scale = 10 if unit == "dV" else 100
    messages = say(
        "hut/box/r", *([round(scale * u), round(1000 * i)] for u, i in zip(VOLTS, FLOWS, strict=True))
    ) + say("hut/box/r/legend", [legend, "battery current mA"], retain=True)
    found = by_place(messages)["hut/box/r /0"]
    assert (found.quantity, found.unit, found.sure >= SURE_ENOUGH) == ("voltage", unit, True)
