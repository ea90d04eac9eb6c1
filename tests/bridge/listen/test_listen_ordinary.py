"""Ordinary ways of telling a bank, each small and none of them a name alone: lists with a legend, halves, one word."""

from __future__ import annotations

import json
import random

import pytest

from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess
from bridge.listen.names import words_of
from bridge.message import Message
from tests.bridge.listen.test_listen_company import FLOWS, late
from tests.bridge.listen.test_listen_strange import NOW, by_place, say, wander
from tests.bridge.listen.test_listen_tongues import STILL, WHOLE, likeliest_relay
from tests.bridge.listen.test_listen_words import told

VOLTS = late(FLOWS)


def live(one: Guess | None) -> bool:
    return one is not None and one.sure >= SURE_ENOUGH


def kept(topic: str, said: object) -> list[Message]:
    return [Message(topic, json.dumps(said).encode(), NOW, retain=True)]


@pytest.mark.parametrize(
    "blocks", [True, False], ids=["four blocks in a list below", "nothing else is told in a list there"]
)
@pytest.mark.parametrize("clock", [True, False], ids=["with a time in it", "with the charger's mode in it"])
def test_a_list_of_numbers_is_read_by_its_legend_though_a_time_or_a_text_stands_among_them(
    *, blocks: bool, clock: bool
) -> None:
    rng = random.Random(3)
    rows = [
        [round(10.0 * volt), round(1000.0 * flow), round(volt * flow), NOW + 2.0 * n if clock else "bulk"]
        for n, (volt, flow) in enumerate(zip(VOLTS, FLOWS, strict=True))
    ]
    parts = [[round(volt / 4.0 + rng.uniform(-0.01, 0.01), 2) for _ in range(4)] for volt in VOLTS]
    legend = ["napätie x0.1 V", "prúd mA (+ nabíjanie)", "výkon W", "čas" if clock else "režim"]
    found = by_place(
        [
            *kept("hut/akku/legend", legend),
            *say("hut/akku", *rows),
            *(say("hut/akku/list", *parts) if blocks else []),
        ]
    )
    told_as = [(found[f"hut/akku /{n}"].quantity, found[f"hut/akku /{n}"].unit) for n in range(3)]
    assert told_as == [("voltage", "dV"), ("current", "mA"), ("power", "W")]
    assert all(live(found[f"hut/akku /{n}"]) for n in range(3))
    if blocks:
        assert {found[f"hut/akku/list /{n}"].quantity for n in range(4)} == {"block_voltage"}


@pytest.mark.parametrize(
    ("topic", "goes_live"),
    [("hut/spare/dc", False), ("hut/alarm/battery", False), ("hut/cellar/battery", True), ("hut/shunt/dc", True)],
    ids=["of nobody knows what", "an alarm's battery", "called a battery's", "at a shunt"],
)
def test_volts_that_are_the_only_ones_go_live_only_where_something_more_than_their_size_says_a_bank(
    topic: str, *, goes_live: bool
) -> None:
    (one,) = by_place(say(topic, *(f"{value} V" for value in wander(13.58)))).values()
    assert (one.quantity, live(one)) == ("voltage", goes_live)


@pytest.mark.parametrize("sides", [("port", "starboard"), ("babord", "styrbord"), ("links", "rechts")])
@pytest.mark.parametrize("halves", [True, False], ids=["two halves", "one of them is a lamp's"])
def test_two_sides_of_a_bank_are_its_strings_where_they_are_the_whole_together(
    sides: tuple[str, str], *, halves: bool
) -> None:
    rng = random.Random(11)
    lamp = [rng.choice((1.4, 2.1, 4.6)) for _ in WHOLE]
    flows = [flow - each for flow, each in zip(WHOLE, lamp, strict=True)]
    one = [0.53 * flow + rng.gauss(0.0, 0.3) for flow in flows]
    other = [flow - each for flow, each in zip(flows, one, strict=True)] if halves else lamp
    base = "boat/batt/house"
    found = by_place(
        [
            *say(f"{base}/volts", *(f"{volt:.2f} V" for volt in STILL)),
            *say(f"{base}/amps", *(f"{flow:.2f} A" for flow in flows)),
            *say(f"{base}/watts", *(f"{v * i:.0f} W" for v, i in zip(STILL, flows, strict=True))),
            *say(f"{base}/amps_bank_{sides[0]}", *(f"{flow:.2f} A" for flow in one)),
            *say(f"{base}/amps_bank_{sides[1]}", *(f"{flow:.2f} A" for flow in other)),
        ]
    )
    assert (found[f"{base}/amps"].quantity, live(found[f"{base}/amps"])) == ("current", True)
    names = [f"{base}/amps_bank_{side}" for side in sides]
    assert [(found[name].quantity == "string_current", live(found[name])) for name in names] == [(halves, halves)] * 2


@pytest.mark.parametrize("block", ["blok_{}", "bloc_{}", "bloque_{}", "blokk-{}", "block_{}"])
def test_blocks_with_letters_are_blocks_though_a_bank_rests(block: str) -> None:
    rng = random.Random(2)
    resting = [25.62 + rng.uniform(-0.02, 0.02) for _ in range(60)]
    names = [f"hut/aku/{block.format(letter)}" for letter in "ab"]
    found = by_place(
        [
            *say("hut/aku/volts", *(f"{volt:.2f}" for volt in resting)),
            *say("hut/aku/amps", *(f"{rng.uniform(-0.9, -0.4):.2f}" for _ in resting)),
            *say(names[0], *(f"{0.503 * volt:.2f}" for volt in resting)),
            *say(names[1], *(f"{0.497 * volt:.2f}" for volt in resting)),
        ]
    )
    assert [found[name].quantity for name in names] == ["block_voltage", "block_voltage"]
    assert [found[name].part for name in names] == ["A1", "A2"]


@pytest.mark.parametrize(
    ("topic", "words"),
    [
        ("hut/Ladeschuetz", ["lade", "schuetz"]),
        ("hut/Ladeschütz", ["lade", "schutz"]),
        ("hut/laadrelais", ["laad", "relais"]),
        ("hut/laderelé", ["lade", "rele"]),
        ("hut/laddrelä", ["ladd", "rela"]),
        ("hut/latausrele", ["lataus", "rele"]),
        ("hut/töltőrelé", ["tolto", "rele"]),
        ("hut/laadimisrelee", ["laadimis", "relee"]),
    ],
)
def test_a_chargers_contactor_in_one_word_is_a_relay(topic: str, words: list[str]) -> None:
    assert words_of(topic)[1:] == words
    names = ("hut/akku/volts", "hut/akku/amps", "hut/akku/watts")
    assert likeliest_relay(told(*names) + say(topic, *["ON"] * 60) + say("hut/lamp", *["ON"] * 60)) == topic


def test_a_hold_of_a_ship_is_not_taken_apart_as_if_it_charged() -> None:
    assert words_of("Laderaum") == ["laderaum"]


ACID = [34.1 + 0.002 * n for n in range(len(VOLTS))]


@pytest.mark.parametrize("gap", [";", ",", "|", "\t", ", "])
@pytest.mark.parametrize("retained", [True, False], ids=["with its header kept", "nothing says what is what"])
def test_values_without_keys_are_read_by_the_header_that_is_kept(gap: str, *, retained: bool) -> None:
    rows = [
        gap.join((f"{volt:.2f}", f"{flow:.2f}", f"{volt * flow:.1f}", f"{acid:.1f}"))
        for volt, flow, acid in zip(VOLTS, FLOWS, ACID, strict=True)
    ]
    header = [Message("barn/bank/columns", b"volts;amps;watts;acid C", NOW, retain=True)] if retained else []
    found = by_place(header + say("barn/bank", *rows))
    heard_as = [(one.quantity, live(one)) for n in range(3) if (one := found.get(f"barn/bank /{n}"))]
    assert heard_as == ([("voltage", True), ("current", True), ("power", True)] if retained else [])
    assert not retained or found["barn/bank /3"].quantity == "electrolyte_temperature"


@pytest.mark.parametrize("key", ["n", "name", "tag", "label"])
@pytest.mark.parametrize("names", [("U", "I", "acid"), ("volts", "amps", "acid"), ("tension", "courant", "air")])
def test_a_v_beside_a_name_is_a_value_and_no_volts(key: str, names: tuple[str, str, str]) -> None:
    rows = [
        {str(n): {key: name, "v": round(value, 2)} for n, (name, value) in enumerate(zip(names, values, strict=True))}
        for values in zip(VOLTS, FLOWS, [each - 8.0 for each in ACID], strict=True)
    ]
    found = by_place(say("barn/bank", *rows))
    quantity = "ambient_temperature" if names[2] == "air" else "electrolyte_temperature"
    assert [found[f"barn/bank /{n}/v"].quantity for n in range(3)] == ["voltage", "current", quantity]
    assert all(live(found[f"barn/bank /{n}/v"]) for n in range(2))


def test_amps_in_danish_letters_spelled_out_are_amps() -> None:
    found = by_place(told("skur/batteribank/spaending", "skur/batteribank/stroem", "skur/batteribank/effekt"))
    assert (found["skur/batteribank/stroem"].quantity, live(found["skur/batteribank/stroem"])) == ("current", True)


@pytest.mark.parametrize("folder", ["blocks", "bloki", "Bloecke"])
@pytest.mark.parametrize("whole", [True, False], ids=["they are the bank", "they are something else's"])
def test_blocks_that_have_names_of_their_own_are_blocks_where_they_add_up(folder: str, *, whole: bool) -> None:
    rng = random.Random(6)
    names = [f"hut/battery/{folder}/{name}" for name in ("left_front", "left_rear", "right_front", "right_rear")]
    shares = (0.2510, 0.2492, 0.2506, 0.2492) if whole else (0.29, 0.28, 0.3, 0.29)
    parts = [
        one
        for name, share in zip(names, shares, strict=True)
        for one in say(name, *(f"{share * volt + rng.uniform(-0.005, 0.005):.2f}" for volt in VOLTS))
    ]
    found = by_place(told("hut/battery/volts", "hut/battery/amps", "hut/battery/watts") + parts)
    assert [name in found and live(found[name]) for name in names] == [whole] * 4
    assert not whole or {found[name].quantity for name in names} == {"block_voltage"}


@pytest.mark.parametrize(
    ("topic", "word"),
    [
        ("hut/eq_relay", "closed"),
        ("hut/equalise/contactor", "ON"),
        ("hut/stycznik_ladowania", "zał"),
        ("hut/nabijeni/stykac", "sepnuto"),
        ("hut/rele_ricarica", "chiuso"),
        ("hut/sarj/role", "1"),
        ("hut/ausgleich/schuetz", "ein"),
    ],
)
def test_a_relay_that_is_called_after_what_it_lets_happen_is_the_chargers(topic: str, word: str) -> None:
    bank_told = told("hut/battery/volts", "hut/battery/amps", "hut/battery/watts")
    others = say("hut/lamp/relay", *["ON"] * 60) + say("hut/phone/charging/relay", *["ON"] * 60)
    assert likeliest_relay(bank_told + others + say(topic, *[word] * 60)) == topic


@pytest.mark.parametrize(
    ("topic", "goes_live"),
    [("hut/attic/spare", False), ("hut/cellar/dc", True)],
    ids=["elsewhere", "where the acid is"],
)
def test_acid_makes_the_only_volts_a_banks_only_where_they_stand_together(topic: str, *, goes_live: bool) -> None:
    found = by_place(
        [
            *say(topic, *(f"{value} V" for value in wander(26.58))),
            *say("hut/cellar/acid", *(f"{value} °C" for value in wander(26.0, digits=1))),
            *say("hut/cellar/air", *(f"{value} °C" for value in wander(9.0, digits=1))),
        ]
    )
    assert (found[topic].quantity, live(found[topic])) == ("voltage", goes_live)
