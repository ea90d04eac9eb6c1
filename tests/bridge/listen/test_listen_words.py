"""What is named in any language, cut short or not at all: found by its words, its company and what it does."""

from __future__ import annotations

import pytest

from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess
from bridge.listen.names import part_of, words_of
from bridge.listen.relays import relays
from bridge.listen.write import OFFERED, recognise
from bridge.message import Message
from tests.bridge.listen.test_listen_company import FLOWS, bank, late, live
from tests.bridge.listen.test_listen_strange import by_place, say, wander

VOLTS = late(FLOWS)
WATTS = [volt * flow for volt, flow in zip(VOLTS, FLOWS, strict=True)]


def told(volts: str, amps: str, watts: str, midpoint: str = "", *, unit: bool = False) -> list[Message]:
    """A bank's numbers under these names; only its volts and its midpoint say a unit, or nothing does."""
    sign = " V" if unit else ""
    messages = say(volts, *(f"{volt:.2f}{sign}" for volt in VOLTS)) + say(amps, *(f"{flow:.2f}" for flow in FLOWS))
    messages += say(watts, *(f"{watt:.1f}" for watt in WATTS))
    return messages + (say(midpoint, *(f"{0.498 * volt:.2f}{sign}" for volt in VOLTS)) if midpoint else [])


@pytest.mark.parametrize(
    "names",
    [
        ("BAT_SPG", "BAT_STR", "BAT_LEIST", "BAT_MITTELPUNKT"),
        ("BATT_TENS", "BATT_CORR", "BATT_POT", "BATT_P_MEDIO"),
        ("bat/tens", "bat/cour", "bat/puiss", "bat/point_milieu"),
        ("banco/tensao", "banco/corr", "banco/pot", "banco/ponto_medio"),
        ("accu/span", "accu/strm", "accu/verm", "accu/middelpunt"),
        ("BATT/SPÄNN", "BATT/STRÖM", "BATT/EFF", "BATT/MITT"),
        ("BATT/SPÆND", "BATT/STRØM", "BATT/EFF", "BATT/MIDT"),
        ("AKU/NAP", "AKU/PRAD", "AKU/MOC", "AKU/SRODEK"),
        ("AKU/NAP", "AKU/PROUD", "AKU/VYK", "AKU/STRED"),
        ("AKKU/JANN", "AKKU/VIRTA", "AKKU/TEHO", "AKKU/KESKIPISTE"),
        ("node/ubat", "node/ibat", "node/pbat", "node/ubat_half"),
        ("node/vbank", "node/ibank", "node/wbank", "node/midpoint"),
    ],
    ids=lambda names: names[1],
)
def test_a_bank_is_found_by_words_cut_short_in_any_language(names: tuple[str, ...]) -> None:
    found = by_place(told(*(f"hut/{name}" for name in names)))
    volts, amps, watts, half = (found[f"hut/{name}"] for name in names)
    assert [one.quantity for one in (volts, amps, watts)] == ["voltage", "current", "power"]
    assert min(one.sure for one in (volts, amps, watts)) >= SURE_ENOUGH
    assert (half.quantity, half.sure >= OFFERED) == ("midpoint_voltage", True)


@pytest.mark.parametrize(
    ("topic", "middle"), [("hut/bank/lamp", 31.0), ("hut/bank/ping", 26.1), ("hut/bank/home", 9.0)]
)
def test_what_begins_as_a_word_and_is_another_is_no_cut_word(topic: str, middle: float) -> None:
    found = by_place(bank("hut/bank/volts", "hut/bank/amps") + say(topic, *wander(middle)))
    assert topic not in found or found[topic].sure <= 0.5


def test_capitals_with_accents_are_one_word() -> None:
    assert words_of("STRØM/SPÄNN/zellenTemp") == ["strom", "spann", "zellen", "temp"]


def test_two_words_name_a_midpoint_and_an_average_is_none() -> None:
    assert (part_of(words_of("banco/ponto_medio")), part_of(words_of("banco/tensao_media"))) == (
        "midpoint_voltage",
        None,
    )


def test_a_half_that_nothing_names_never_goes_live_as_a_bank() -> None:
    messages = say("hut/bat/k7", *(f"{0.498 * volt:.2f} V" for volt in VOLTS))
    messages += say("hut/bat/k8", *(f"{flow:.2f} A" for flow in FLOWS))
    found = by_place(messages + say("hut/bat/k9", *(f"{volt:.2f} V" for volt in VOLTS)))
    assert (found["hut/bat/k9"].quantity, found["hut/bat/k9"].sure >= SURE_ENOUGH) == ("voltage", True)
    half = found["hut/bat/k7"]
    assert (half.quantity, OFFERED <= half.sure < SURE_ENOUGH) == ("midpoint_voltage", True)


def relay_of(messages: list[Message]) -> str:
    collector = Collector()
    for message in sorted(messages, key=lambda one: one.at):
        collector.take(message)
    first = relays(collector.switches, recognise(collector.sources))[0]
    return f"{first.state_topic} {first.state_pointer}".strip()


@pytest.mark.parametrize(
    ("topic", "said", "at"),
    [
        ("hut/CARICABATT_RITORNO", {"val": True}, " /val"),
        ("hut/LADEGER_RUECKMELDUNG", {"wert": True}, " /wert"),
        ("hut/laddare/läge", "till", ""),
        ("hut/lader/stand", "aan", ""),
        ("hut/ladowarka/stan", "załączony", ""),
        ("hut/chargeur/retour", "marche", ""),
    ],
)
def test_what_comes_back_from_a_chargers_relay_is_its_state(topic: str, said: object, at: str) -> None:
    others = say("hut/POMPA_RITORNO", *[{"val": True}] * 9) + say("hut/port/läge", *["till"] * 9)
    messages = bank("hut/bank/volts", "hut/bank/amps") + others + say(topic, *[said] * 9)
    assert relay_of(messages) == f"{topic}{at}"


def test_a_relay_that_is_open_while_amps_flow_is_not_the_chargers() -> None:
    messages = bank("hut/bank/volts", "hut/bank/amps")
    for number, state in {1: "0", 2: "0", 3: "1"}.items():
        messages += say(f"hut/bank/rly{number}", *[state] * 9) + say(f"hut/bank/rly{number}/set", state)
    assert relay_of(messages) == "hut/bank/rly3"


@pytest.mark.parametrize(
    ("topic", "said", "quantity"),
    [
        ("hut/accu_ruimte/ventilator", "aan", "fan"),
        ("hut/batterieraum/tür", "zu", "door"),
        ("hut/battery_room/door", "shut", "door"),
        ("hut/batterirum/blæser", "kører", "fan"),
        ("hut/sala_baterias/puerta", "cerrada", "door"),
    ],
)
def test_a_fan_or_a_door_that_says_words_no_mapping_reads_is_asked_about(topic: str, said: str, quantity: str) -> None:
    messages = bank("hut/bank/volts", "hut/bank/amps") + say(topic, *[said] * 9)
    found = by_place(messages)[topic]
    assert (found.quantity, OFFERED <= found.sure < SURE_ENOUGH) == (quantity, True)
    assert any(said in reason and "on and off" in reason for reason in found.reasons)


def test_of_many_doors_the_battery_rooms_is_asked_about_and_without_one_none() -> None:
    doors = [message for room in "abcd" for message in say(f"hut/{room}/door", *["shut"] * 9)]
    own = say("hut/battery_room/door", *["shut"] * 9)
    for messages, asked in ((doors, set()), (doors + own, {"hut/battery_room/door"})):
        found = by_place(bank("hut/bank/volts", "hut/bank/amps") + messages)
        assert {place for place, one in found.items() if one.quantity == "door" and one.sure >= OFFERED} == asked


def thousandths(watts: float) -> dict[str, Guess]:
    messages = say("hut/n/vbat", *(round(250.0 * volt) for volt in VOLTS))
    messages += say("hut/n/ibat", *(round(1000.0 * flow) for flow in FLOWS))
    return by_place(messages + say("hut/n/pbat", *(round(watts * watt / 4.0) for watt in WATTS)))


def test_watts_tell_that_all_three_are_thousandths_where_nothing_else_fits() -> None:
    """6.9 V or 69 V by its size alone; only in mV, mA and mW are the watts their product."""
    found = thousandths(1000.0)
    three = [found[f"hut/n/{name}"] for name in ("vbat", "ibat", "pbat")]
    assert [(one.unit, one.sure >= SURE_ENOUGH) for one in three] == [("mV", True), ("mA", True), ("mW", True)]
    assert all(one.sure < SURE_ENOUGH for one in thousandths(37.0).values())


def test_watts_that_scatter_about_the_product_are_asked_about() -> None:
    scattered = [watt * (1.0 + 0.15 * (n % 3 - 1)) for n, watt in enumerate(WATTS)]
    messages = bank("hut/bank/volts", "hut/bank/amps")
    found = by_place(messages + say("hut/bank/watts", *(f"{one:.1f}" for one in scattered)))["hut/bank/watts"]
    assert (found.quantity, OFFERED <= found.sure < SURE_ENOUGH) == ("power", True)
    other = by_place(messages + say("hut/bank/watts", *(f"{1.4 * one:.1f}" for one in scattered)))["hut/bank/watts"]
    assert other.sure < OFFERED


def test_the_thermometer_of_the_folder_that_holds_the_bank_is_asked_about_however_warm_the_acid() -> None:
    messages = bank("garage/cart/bank/volts", "garage/cart/bank/amps")
    messages += say("garage/cart/bank/acid", *(f"{46.0 + 0.1 * (n % 3):.1f} °C" for n in range(30)))
    messages += [
        message
        for place in ("garage", "attic")
        for message in say(f"{place}/temperature", *(["17.1 °C", "17.2 °C"] * 9))
    ]
    found = by_place(messages)
    assert OFFERED <= found["garage/temperature"].sure < SURE_ENOUGH
    assert "attic/temperature" not in found or found["attic/temperature"].sure < OFFERED


def parted(topic: str, *, cells: bool) -> list[Message]:
    said = [
        {
            "bus": {"volts": round(4.7 * volt, 1), "amps": round(-flow, 2)},
            "strings": {"a": -0.51 * flow, "b": -0.49 * flow},
        }
        for volt, flow in zip(VOLTS, FLOWS, strict=True)
    ]
    pilots = [{"07": 2.55 + 0.001 * (n % 5), "23": 2.52 + 0.001 * (n % 4)} for n in range(40)]
    return say(topic, *said) + (say(f"{topic}/pilots", *({"pilot_cells_v": one} for one in pilots)) if cells else [])


def test_a_direct_current_bank_of_mains_height_is_told_by_its_pilot_cells_and_its_strings() -> None:
    found = live(parted("house/dc/main", cells=True) + rival_supply())
    assert found["house/dc/main /bus/volts"] == "voltage"
    assert [found[f"house/dc/main /strings/{string}"] for string in "ab"] == ["string_current"] * 2
    assert "house/ac/main /bus/volts" not in live(parted("house/ac/main", cells=False))


def rival_supply() -> list[Message]:
    return say("house/gear/volts", *(f"{one} V" for one in wander(61.3))) + say(
        "house/gear/amps", *(f"{one} A" for one in wander(2.9))
    )


def test_what_is_the_banks_volts_times_amps_is_its_power_and_what_is_so_by_chance_proves_nothing() -> None:
    messages = bank("hut/bank/volts", "hut/bank/amps") + say("hut/bank/x7", *(f"{watt:.1f}" for watt in WATTS))
    found = by_place(messages)["hut/bank/x7"]
    assert (found.quantity, found.sure < SURE_ENOUGH) == ("power", True)
    still = say("hut/7c/v", *(f"{volt:.2f}" for volt in VOLTS)) + say("hut/7c/s", *([3.31] * 250))
    chance = by_place(still + say("hut/7c/r", *(round(-91 + n % 3) for n in range(250))))
    assert "hut/7c/r" not in chance or chance["hut/7c/r"].quantity != "power"


def test_a_key_is_a_unit_where_volts_and_others_stand_under_it() -> None:
    messages: list[Message] = []
    things = [("battery1", "V", VOLTS), ("battery2", "A", FLOWS), *((f"pump{n}", "bar", FLOWS[n:]) for n in range(6))]
    for name, unit, values in things:
        messages += say(f"plc/{name}", *({"val": round(value, 2), "em": unit, "q": "GOOD"} for value in values))
    found = live(messages)
    assert [found.get(f"plc/{name} /val") for name in ("battery1", "battery2", "pump1")] == ["voltage", "current", None]


def test_a_room_called_after_its_batteries_makes_no_air_of_its_blocks() -> None:
    messages = say("dom-akumulatornia-u", *(f"{volt:.2f}" for volt in VOLTS))
    messages += say("dom-akumulatornia-i", *(f"{flow:.2f}" for flow in FLOWS))
    blocks = say(
        "dom-akumulatornia-bloki", *([round(volt / 4.0 + 0.01 * n, 2) for n in (-1, 1, 0, 0)] for volt in VOLTS)
    )
    found = by_place(messages + blocks)
    assert {found[f"dom-akumulatornia-bloki /{n}"].quantity for n in range(4)} == {"block_voltage"}
