"""What numbers show about each other where their words say nothing, too little, or something else."""

from __future__ import annotations

import random

import pytest

from bridge.listen.evidence import SURE_ENOUGH
from bridge.message import Message
from tests.bench.households.homes_fresh_i import FRESH_I
from tests.bench.households.homes_fresh_j import FRESH_J
from tests.bench.households.measure import score
from tests.bridge.listen.test_listen_strange import by_place, say, wander

#: A charger that steps every 30 s: its amps, and volts of 24 V that answer each step as late as acid does.
FLOWS = [(9.0 if place // 50 % 2 else 3.0) + 0.02 * (place % 5) for place in range(250)]


def late(amps: list[float], cells: int = 12, *, per_amp: float = 0.012, low: float = 2.3) -> list[float]:
    volts, now = [], amps[0]
    for flow in amps:
        now += (flow - now) / 25.0
        volts.append(cells * (low + per_amp * now))
    return volts


def bank(volts: str, amps: str, *, per_amp: float = 0.012) -> list[Message]:
    return say(volts, *(f"{volt:.2f} V" for volt in late(FLOWS, per_amp=per_amp))) + say(
        amps, *(f"{flow:.2f} A" for flow in FLOWS)
    )


def rival() -> list[Message]:
    """Volts and amps of another size, as a supply's, that nothing calls a bank's."""
    return say("shop/gear/volts", *(f"{one} V" for one in wander(13.6, count=250))) + say(
        "shop/gear/amps", *(f"{one} A" for one in wander(4.0, count=250))
    )


def live(messages: list[Message]) -> dict[str, str]:
    return {place: one.quantity for place, one in by_place(messages).items() if one.sure >= SURE_ENOUGH}


@pytest.mark.parametrize(
    ("volts", "amps", "per_amp", "is_a_bank"),
    [
        ("hut/dc/bus", "hut/dc/battery", 0.012, True),
        ("hut/dc/bus", "hut/dc/shunt", 0.012, False),
        ("hut/pv/bus", "hut/pv/battery", 0.012, False),
        ("hut/inverter/bus", "hut/inverter/battery", 0.012, False),
        ("hut/dc/bus", "hut/dc/battery", -0.003, False),
    ],
    ids=["amps of a battery", "amps of nobody", "at the panels", "at an inverter", "a supply that sags"],
)
def test_volts_that_answer_a_batterys_amps_are_its_volts(
    volts: str, amps: str, per_amp: float, *, is_a_bank: bool
) -> None:
    assert (live(bank(volts, amps, per_amp=per_amp) + rival()).get(volts) == "voltage") is is_a_bank


@pytest.mark.parametrize(
    ("each", "decimals", "quantity"),
    [(15.53, 2, "voltage"), (2.53, 2, "cell_voltage"), (3.33, 2, "cell_voltage"), (25, 0, "cell_voltage")],
    ids=["a bank", "a cell", "a lithium cell", "tenths of a cell's volts"],
)
def test_volts_called_cells_are_a_banks_only_where_no_cell_shows_them(
    each: float, decimals: int, quantity: str
) -> None:
    rng = random.Random(5)
    swing = [each * (1.0 + rng.uniform(-0.02, 0.02)) for _ in range(40)]
    said = [
        {"volt": round(volt, decimals) if decimals else round(volt), "amp": 4.5 + n % 3} for n, volt in enumerate(swing)
    ]
    found = by_place(say("loft/cellar/cells", *said))["loft/cellar/cells /volt"]
    assert found.quantity == quantity
    assert quantity == "voltage" or found.sure < SURE_ENOUGH


def test_a_store_of_charge_is_a_battery_and_a_store_of_heat_is_none() -> None:
    volts, warmth = "casa/accumulo/tensione", "casa/accumulo/temperatura"
    assert live(bank(volts, "casa/accumulo/corrente") + rival())[volts] == "voltage"
    heat = say(warmth, *(f"{one} °C" for one in wander(41.0, 1)))
    assert warmth not in live(bank("hut/battery/volts", "hut/battery/amps") + heat)


@pytest.mark.parametrize("moves", [True, False], ids=["moves with it", "stands"])
def test_a_half_beside_volts_makes_them_a_banks_only_while_it_moves_as_they_do(*, moves: bool) -> None:
    whole = late(FLOWS)
    half = [0.497 * volt for volt in whole] if moves else [14.4 + 0.01 * (n % 7) for n in range(250)]
    messages = bank("hut/rig/volts", "hut/rig/amps") + say("hut/rig/half/volts", *(f"{one:.2f} V" for one in half))
    assert ("hut/rig/volts" in live(messages + rival())) is moves


def test_a_half_that_no_name_tells_is_asked_about_as_a_midpoint() -> None:
    messages = bank("hut/battery/u", "hut/battery/i")
    for name, share in (("um", 0.498), ("ux", 0.46)):
        messages += say(f"hut/battery/{name}", *(f"{share * volt:.2f}" for volt in late(FLOWS)))
    warmth = (round(14.4 + 0.1 * random.Random(n).random(), 1) for n in range(250))
    messages += say("hut/battery/x", *(f"{one:.1f}" for one in warmth))
    found = by_place(messages)
    assert found["hut/battery/x"].quantity == "electrolyte_temperature"
    assert (found["hut/battery/um"].quantity, found["hut/battery/um"].sure < SURE_ENOUGH) == ("midpoint_voltage", True)
    assert found["hut/battery/ux"].quantity != "midpoint_voltage"


def board(name: str) -> list[Message]:
    said = [
        {"u": round(1000 * volt), "i": round(1000 * flow), "t": 262 + n // 90}
        for n, (volt, flow) in enumerate(zip(late(FLOWS), FLOWS, strict=True))
    ]
    return say("rs/7", *said) + say("rs/7/name", name, retain=True)


def test_a_kept_text_that_lists_keys_with_their_units_tells_how_they_are_counted() -> None:
    found = by_place(board("battery room, lead (u mV, i mA in +, t acid C/10)"))
    assert [(found[f"rs/7 /{key}"].unit, found[f"rs/7 /{key}"].sure >= SURE_ENOUGH) for key in "uit"] == [
        ("mV", True),
        ("mA", True),
        ("ddegC", True),
    ]


def test_a_whole_number_is_kelvin_or_tenths_and_asked_about_while_nothing_tells() -> None:
    assert by_place(board("battery room, lead, acid"))["rs/7 /t"].sure < SURE_ENOUGH
    kelvin = say("hut/battery/acid_temp", *wander(299.4, 2))
    assert by_place(bank("hut/battery/volts", "hut/battery/amps") + kelvin)["hut/battery/acid_temp"].unit == "K"


def test_seconds_that_begin_again_are_no_temperature() -> None:
    clock = say("hut/acid/temp_s", *(2 * (n % 14) for n in range(60)))
    warm = say("hut/acid/temp", *(24 + (n // 20) for n in range(60)))
    messages = bank("hut/battery/volts", "hut/battery/amps")
    assert "hut/acid/temp" in live(messages + warm)
    assert "hut/acid/temp_s" not in live(messages + clock)
    assert "hut/acid/age" not in by_place(messages + say("hut/acid/age", *wander(3.0, 0)))


@pytest.mark.parametrize("strings", [True, False], ids=["strings", "a load beside a bank"])
def test_currents_with_names_of_their_own_that_share_another_all_the_time_are_its_strings(*, strings: bool) -> None:
    rng = random.Random(3)
    west = [0.53 * flow if strings else 2.4 + rng.uniform(-0.9, 0.9) for flow in FLOWS]
    messages = bank("hut/dc/volts", "hut/dc/battery")
    messages += say("hut/dc/west", *(f"{one:.2f} A" for one in west))
    messages += say("hut/dc/east", *(f"{flow - one:.2f} A" for flow, one in zip(FLOWS, west, strict=True)))
    found = by_place(messages)
    assert {found[f"hut/dc/{name}"].quantity for name in ("west", "east")} == {
        "string_current" if strings else "current"
    }
    assert found["hut/dc/battery"].quantity == "current"
    assert strings or found["hut/dc/west"].sure < SURE_ENOUGH > found["hut/dc/east"].sure


def test_the_houses_heard_last_have_their_bank_and_nothing_wrong_is_live() -> None:
    scores = [score(make) for make in (*FRESH_I, *FRESH_J)]
    assert not [one.wrong for one in scores if one.wrong]
    assert all(one.equalised for one in scores)
