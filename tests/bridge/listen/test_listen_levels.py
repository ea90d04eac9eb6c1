"""Topics whose levels are divided by dots, and parts of a bank that one document lists, are heard as any others."""

from __future__ import annotations

import random

import pytest

from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.relays import relays
from bridge.listen.write import OFFERED
from bridge.message import Message
from tests.bridge.listen.test_listen_company import FLOWS, late
from tests.bridge.listen.test_listen_strange import by_place, say, wander

VOLTS = late(FLOWS)


def bank(folder: str, divider: str) -> list[Message]:
    """A bank's volts, amps, watts, its half and its twelve cells, a level each."""
    rng = random.Random(11)
    root = divider.join((*folder.split(), ""))
    cells = [
        say(f"{root}cell{divider}{n:02d}", *(f"{volt / 12 + lean + rng.uniform(-0.002, 0.002):.3f}" for volt in VOLTS))
        for n, lean in enumerate(2 * (-0.02, 0.01, 0.0, 0.02, -0.02, 0.01), 1)
    ]
    return [
        *say(f"{root}volts", *(f"{volt:.3f}" for volt in VOLTS)),
        *say(f"{root}amps", *(f"{flow:.2f}" for flow in FLOWS)),
        *say(f"{root}watts", *(f"{v * i:.1f}" for v, i in zip(VOLTS, FLOWS, strict=True))),
        *say(f"{root}half", *(f"{volt / 2 + 0.02:.3f}" for volt in VOLTS)),
        *say(f"{root}acid_f", *wander(84.2, 1, count=60)),
        *(message for cell in cells for message in cell),
    ]


@pytest.mark.parametrize("folder", ["mole light power bank", "mole light bank"])
@pytest.mark.parametrize("divider", [".", "/"])
def test_levels_are_levels_whatever_divides_them(folder: str, divider: str) -> None:
    """A folder may be called "power" that holds all about it: a half, a cell or acid in it is none."""
    root = divider.join((*folder.split(), ""))
    found = {place.removeprefix(root): one for place, one in by_place(bank(folder, divider)).items()}
    cells = {f"cell{divider}{n:02d}": ("cell_voltage", f"A{(n + 2) // 3}.{(n - 1) % 3 + 1}") for n in range(1, 13)}
    assert {place: (one.quantity, one.part) for place, one in found.items() if one.sure >= OFFERED} == {
        "volts": ("voltage", ""),
        "amps": ("current", ""),
        "watts": ("power", ""),
        "half": ("midpoint_voltage", ""),
        "acid_f": ("electrolyte_temperature", ""),
        **cells,
    }
    assert all(found[place].sure >= SURE_ENOUGH for place in ("volts", "amps", "watts"))


def test_a_relays_order_is_found_beside_its_state_between_dots() -> None:
    collector = Collector()
    for message in say("mole.light.charger.state", *["on"] * 5) + say("mole.light.charger.set", "on", "off"):
        collector.take(message)
    (one,) = relays(collector.switches)
    assert (one.topic, one.state_topic) == ("mole.light.charger.set", "mole.light.charger.state")


def test_what_is_said_of_a_number_between_dots_is_found_beside_it() -> None:
    messages = bank("mole light bank", ".") + say("mole.light.k7.now", *wander(21.4, 1, count=60))
    told = say("mole.light.k7.unit", "°C", retain=True) + say("mole.light.k7.name", "electrolyte", retain=True)
    found = by_place(told + messages)["mole.light.k7.now"]
    assert (found.quantity, found.unit) == ("electrolyte_temperature", "degC")


def listed(word: str, middle: float, *, topic: str = "yard/plc/db2", digits: int = 3) -> dict[str, tuple[str, bool]]:
    """What is guessed of five of a bank's cells, told in one list beside the bank's volts and amps."""
    rng = random.Random(7)
    rows = [{word: [round(middle * (1 + rng.uniform(-0.004, 0.004)), digits) for _ in range(5)]} for _ in FLOWS]
    volts = [{"u_bat": round(volt, 2), "i_bat": round(flow, 2)} for volt, flow in zip(VOLTS, FLOWS, strict=True)]
    found = by_place(say("yard/plc/db1", *volts) + say(topic, *rows))
    assert found["yard/plc/db1 /u_bat"].sure >= SURE_ENOUGH
    return {
        place.removeprefix(f"{topic} /{word}/"): (one.quantity, one.sure >= SURE_ENOUGH)
        for place, one in found.items()
        if place.startswith(f"{topic} ") and one.sure >= OFFERED
    }


@pytest.mark.parametrize("word", ["cells", "Zellen", "cellules", "ogniwa", "celdas", "články", "kennot"])
def test_some_of_a_banks_cells_told_in_a_list_are_asked_about(word: str) -> None:
    expected = {str(n): ("cell_voltage", False) for n in range(5)}
    assert listed(word, 2.43) == expected
    assert listed(word, 2430.0, digits=0) == expected


@pytest.mark.parametrize(
    ("word", "middle", "topic"),
    [
        ("cells", 3.31, "yard/plc/db2"),
        ("cells", 1.25, "yard/plc/db2"),
        ("levels", 2.43, "yard/plc/db2"),
        ("cells", 2.43, "garage/toy/pack"),
    ],
    ids=["lithium", "no lead", "nothing called cells", "another device"],
)
def test_a_list_of_something_else_is_not_offered_as_cells(word: str, middle: float, topic: str) -> None:
    assert not listed(word, middle, topic=topic)
