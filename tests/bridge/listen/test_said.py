"""What kept texts, lists and announcements say of a number counts as its words, and proves nothing alone."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import partial

import pytest

from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess
from bridge.listen.said import path_of
from bridge.listen.write import OFFERED
from bridge.message import Message
from tests.bench.households.homes_dev import DEVELOPMENT
from tests.bench.households.homes_fresh_e import FRESH_E
from tests.bench.households.homes_fresh_f import FRESH_F
from tests.bench.households.homes_fresh_g import FRESH_G
from tests.bench.households.homes_fresh_h import FRESH_H
from tests.bench.households.measure import score
from tests.bench.households.variants import Change, described, listed, named_apart
from tests.bench.households.world import House
from tests.bridge.listen.test_listen_strange import by_place, say, wander

NAMES = ("tension bank north", "courant bank north", "acid bank north", "panneau")
VALUES = (31.6, 9.4, 24.2, 66.0)


def kept(topic: str, said: object) -> list[Message]:
    payload = said if isinstance(said, str) else json.dumps(said)
    return [Message(topic, payload.encode(), 1795590000.0, retain=True)]


def channels(form: str) -> list[Message]:
    """Four numbers under ids 4 to 7; the current steps, and the volts follow."""
    messages: list[Message] = []
    for number, value in enumerate(VALUES, 4):
        step = {4: 0.4, 5: 6.0}.get(number, 0.0)
        values = [value + step * (place // 15 % 2) + 0.01 * (place % 3) for place in range(60)]
        messages += say(form.format(number), *(f"{one:.2f}" for one in values))
    return messages


def said_of(messages: list[Message]) -> dict[str, str]:
    collector = Collector()
    for message in messages:
        collector.take(message)
    return {"/".join(path_of(source)): source.said for source in collector.sources}


def sure(one: Guess) -> bool:
    return one.sure >= SURE_ENOUGH


BESIDE = [one for number, name in enumerate(NAMES, 4) for one in kept(f"log/c/{number}/what", name)]
APART = [one for number, name in enumerate(NAMES, 4) for one in kept(f"log/text/{number}", name)]
ONE_BY_ID = kept("log/names", {f"ch0{number}": name for number, name in enumerate(NAMES, 4)})
A_LIST = kept(
    "log/about", {"fw": "1.2", "in": [{"nr": number, "bezeichner": name} for number, name in enumerate(NAMES, 4)]}
)
BY_TOPIC = kept("about", [{"topic": f"log/c/{number}", "name": name} for number, name in enumerate(NAMES, 4)])
HUB = [
    one
    for number, name in enumerate(NAMES, 4)
    for one in kept(f"hub/sensor/x{number}/config", {"state_topic": f"log/c/{number}", "name": name})
]


@pytest.mark.parametrize(
    "texts", [BESIDE, APART, ONE_BY_ID, A_LIST, BY_TOPIC, HUB], ids=["beside", "apart", "ids", "list", "topics", "hub"]
)
def test_numbered_channels_are_told_by_what_is_said_of_them_wherever_it_is_said(texts: list[Message]) -> None:
    assert list(said_of(texts + channels("log/c/{}")).values())[-4:] == list(NAMES)
    found = by_place(texts + channels("log/c/{}"))
    assert [found[f"log/c/{number}"].quantity for number in (4, 5, 6)] == [
        "voltage",
        "current",
        "electrolyte_temperature",
    ]
    assert sure(found["log/c/4"]) and sure(found["log/c/5"])
    assert "log/c/7" not in found or not sure(found["log/c/7"])


def test_numbers_of_one_document_are_told_by_another_that_names_their_keys() -> None:
    rows = [{"c4": 31.6 + 0.4 * (n // 15 % 2), "c5": 9.4 + 6.0 * (n // 15 % 2), "c7": 0.01 * n} for n in range(60)]
    texts = kept("log/labels", {"c4": "tension bank", "c5": "courant bank", "c7": "lux"})
    found = by_place(texts + say("log/now", *(json.dumps(row) for row in rows)))
    assert [found[f"log/now /c{key}"].quantity for key in (4, 5)] == ["voltage", "current"]


def test_a_text_that_changes_is_a_state_and_says_nothing() -> None:
    states = kept("log/c/4/what", "tension bank north") + kept("log/c/4/what", "courant bank north")
    assert said_of(states + channels("log/c/{}"))["log/c/4"] == ""


def test_a_list_met_by_one_short_id_alone_says_nothing() -> None:
    assert not any(said_of(kept("house/lamps", {"4": "battery lamp", "99": "hall"}) + channels("log/c/{}")).values())


def test_a_description_that_physics_denies_does_not_go_live() -> None:
    """Somebody wired the panel to the channel that is described as the bank's volts: 12.7 V of nothing that fits."""
    texts = kept("log/c/4/what", "bank volts") + kept("log/c/5/what", "bank amps")
    found = by_place(texts + say("log/c/4", *wander(412.0)) + say("log/c/5", *wander(9.0)))
    assert not any(sure(one) for one in found.values())


def test_a_name_and_a_description_that_disagree_are_asked_about() -> None:
    texts = kept("hut/bank/volts/what", "amps of the bank")
    with_it, without = (
        by_place(texts + say("hut/bank/volts", *wander(25.9))),
        by_place(say("hut/bank/volts", *wander(25.9))),
    )
    assert sure(without["hut/bank/volts"]) and not sure(with_it["hut/bank/volts"])


def test_a_counter_stays_one_however_it_is_described() -> None:
    texts = kept("log/c/4/what", "energy of the bank, total in volts")
    found = by_place(texts + say("log/c/4", *wander(25.9)))
    assert not any(sure(one) for one in found.values())


def test_channels_of_one_list_stand_beside_each_other_only_by_their_words() -> None:
    texts = kept("log/c/4/what", "bank volts") + kept("log/c/5/what", "leg 1 amps")
    found = by_place(texts + say("log/c/4", *wander(25.9)) + say("log/c/5", *wander(9.0)))
    assert not sure(found["log/c/5"])


def test_a_rating_is_no_unit_and_a_unit_behind_a_name_is_one() -> None:
    texts = kept("log/c/4/desc", "12V 200Ah bank, mV") + kept("log/c/5/desc", "bank current [A]")
    found = by_place(texts + say("log/c/4", *wander(12_900.0)) + say("log/c/5", *wander(9.0)))
    assert (found["log/c/4"].quantity, found["log/c/4"].unit) == ("voltage", "mV")
    assert (found["log/c/5"].quantity, found["log/c/5"].unit) == ("current", "A")


def test_a_factor_in_a_list_makes_the_count_a_unit() -> None:
    texts = kept("map/4", {"what": "bank volts", "scale": 0.01}) + kept("map/5", {"what": "bank amps", "scale": 0.1})
    found = by_place(texts + say("map/in/4", *wander(2590.0)) + say("map/in/5", *wander(94.0)))
    assert [found[f"map/in/{number}"].unit for number in (4, 5)] == ["cV", "dA"]


LEAN_TO = (("east bank volts", "V", 0.01, 2590.0), ("east bank amps", "A", 0.1, 94.0), ("acid", "degC", 0.1, 214.0))


def mapped(*channels: tuple[str, str, float, float]) -> dict[str, Guess]:
    """A box whose channels are counts, and its kept map: words, unit, and what one count is, under keys of its own."""
    said = {str(n): {"is": words, "each": each, "unit": unit} for n, (words, unit, each, _) in enumerate(channels)}
    messages = kept("yard/3/map", {"box": "lean-to", "ch": said}) + say("yard/3/alive", *range(20))
    for number, (*_, value) in enumerate(channels):
        messages += say(f"yard/3/{number}", *(f"{value + place % 3:.0f}" for place in range(40)))
    return by_place(messages)


def test_a_kept_map_numbers_the_channels_above_it_and_its_lone_number_is_what_one_count_is() -> None:
    found = mapped(*LEAN_TO)
    assert [found[f"yard/3/{number}"].unit for number in range(3)] == ["cV", "dA", "ddegC"]
    assert found["yard/3/2"].quantity == "electrolyte_temperature"
    assert found["yard/3/2"].value == pytest.approx(21.5)


def test_a_count_that_no_unit_tells_is_nothing() -> None:
    assert "yard/3/2" not in mapped(*LEAN_TO[:2], ("acid", "degC", 0.5, 43.0))


def test_hundredths_and_tenths_are_heard_within_a_list_of_words() -> None:
    texts = kept("mill/q1/columns", ["count", "U bank cV", "I bank dA charging", "T acid dK"])
    rows = ([n, 6132 + n % 3, 223 + n % 2, 3028 + n % 2] for n in range(40))
    found = by_place(texts + say("mill/q1", *(json.dumps(row) for row in rows)))
    assert [found[f"mill/q1 /{number}"].unit for number in (1, 2, 3)] == ["cV", "dA", "dK"]
    assert found["mill/q1 /1"].value == pytest.approx(61.33)


def test_a_hubs_template_says_which_number_of_a_document_is_meant() -> None:
    announced = kept(
        "hub/sensor/a/config",
        {"state_topic": "log/now", "name": "Bank", "unit_of_meas": "mV", "value_template": "{{ value_json.x }}"},
    )
    rows = (json.dumps({"x": 25_900 + n, "y": 11.0 + 0.1 * n}) for n in range(20))
    found = by_place(announced + say("log/now", *rows))
    assert (found["log/now /x"].quantity, found["log/now /x"].unit) == ("voltage", "mV")
    assert "log/now /y" not in found or found["log/now /y"].source.unit is None


def test_a_homie_device_of_the_older_convention_names_its_properties() -> None:
    texts = kept("homie/shed/in1/$name", "Bank voltage") + kept("homie/shed/in1/$unit", "V")
    assert said_of([*texts, *say("homie/shed/in1", *wander(25.9))]) == {"homie/shed/in1": "Bank voltage"}


def test_thermometers_under_the_ids_of_a_one_wire_bus_are_asked_about_and_the_warm_one_is_the_acid() -> None:
    probes = {"28a01f00": 29.8, "28a07b00": 12.2}
    messages = say("hut/bank/volts", *wander(12.9)) + say("hut/bank/amps", *wander(9.0))
    rows = ({key: round(value + 0.01 * (n % 3), 2) for key, value in probes.items()} for n in range(30))
    found = by_place(messages + say("b/19e0/w", *(json.dumps(row) for row in rows)))
    assert found["b/19e0/w /28a01f00"].quantity == "electrolyte_temperature"
    assert found["b/19e0/w /28a07b00"].quantity == "ambient_temperature"
    assert not any(sure(found[f"b/19e0/w /{key}"]) for key in probes)


def test_a_lithium_cell_is_not_asked_about_nor_mains_that_nobody_calls_the_chargers() -> None:
    messages = say("hut/bank/volts", *wander(25.9)) + say("hut/x/cell_volts", *wander(3.31))
    found = by_place(messages + say("hut/grid/volts", *wander(231.0)) + say("hut/charger/mains_volts", *wander(231.0)))
    assert found["hut/x/cell_volts"].sure < OFFERED and found["hut/grid/volts"].sure < OFFERED
    assert OFFERED <= found["hut/charger/mains_volts"].sure < SURE_ENOUGH


@pytest.mark.parametrize("change", [described, named_apart, listed], ids=lambda change: change.__name__)
def test_a_house_of_numbered_channels_that_texts_describe_is_understood_as_well(change: Change) -> None:
    scores = [score(partial(_told_otherwise, make, change)) for make in DEVELOPMENT]
    assert not [one.wrong for one in scores if one.wrong]
    assert all(one.equalised for one in scores)
    assert sum(one.found for one in scores) >= 0.9 * sum(one.true for one in scores)


@pytest.mark.parametrize("makes", [FRESH_E, FRESH_F, FRESH_G], ids=["fresh e", "fresh f", "fresh g"])
def test_the_houses_that_were_fresh_last_are_understood(makes: tuple[Callable[[], House], ...]) -> None:
    scores = [score(make) for make in makes]
    assert not [one.wrong for one in scores if one.wrong]
    assert all(one.equalised for one in scores)
    assert sum(one.found for one in scores) >= 0.9 * sum(one.true for one in scores)


def test_of_houses_half_of_which_are_difficult_the_ordinary_are_understood_and_nothing_wrong_is_live() -> None:
    scores = [score(make) for make in FRESH_H]
    assert not [one.wrong for one in scores if one.wrong]
    assert [one.equalised for one in scores] == [True, True, True, True, True, False]
    assert all(one.found >= 0.9 * one.true for one in scores[:4])


def _told_otherwise(make: Callable[[], House], change: Change) -> House:
    return change(make())
