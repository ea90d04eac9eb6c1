"""Discovery documents for hubs: the same topics as the Homie tree, classes and units that a hub accepts, no orphans."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from itertools import pairwise
from typing import Any

import jinja2
import pytest

from bridge.message import Message
from bridge.outlets.discovery import EXPIRES, SPREAD
from bridge.outlets.homie import HomieOutlet
from bridge.settings import Cabin, PageSettings
from bridge.words.catalogue import COMMANDS
from rules.bank.model import Bank, Block, Meter, Relay
from rules.events import Derived

BANK = Bank(
    "north", ((Block("N1", 3, 200.0),),), meters=(Meter("voltage", "voltage"),), relay=Relay(reports_state=True)
)
CABIN = Cabin("tarn-hut", {"north": BANK}, discovery_prefix="hub")
AT = 1795590000.0

#: Device class -> units and state classes that a hub accepts, read from the sensor constants of an installed
#: Home Assistant 2024.3 (`DEVICE_CLASS_UNITS`, `DEVICE_CLASS_STATE_CLASSES`); `None`: takes no unit.
ACCEPTED: dict[str, tuple[set[str | None], set[str | None]]] = {
    "voltage": ({"V", "mV"}, {"measurement"}),
    "current": ({"A", "mA"}, {"measurement"}),
    "power": ({"W", "kW"}, {"measurement"}),
    "temperature": ({"K", "°C", "°F"}, {"measurement"}),
    "duration": ({"d", "h", "min", "ms", "s"}, {"measurement", "total", "total_increasing"}),
    "energy": ({"GJ", "MJ", "MWh", "Wh", "kWh"}, {"total", "total_increasing"}),
    "volume_flow_rate": ({"m³/h", "ft³/min", "L/min", "gal/min"}, {"measurement"}),
    "weight": ({"kg", "g", "mg", "µg", "oz", "lb", "st"}, {"measurement"}),
    "enum": ({None}, {None}),
    "timestamp": ({None}, {None}),
}


class Sent(list[tuple[str, str, bool]]):
    def publish(self, topic: str, payload: bytes | str, retain: bool = True, qos: int = 1) -> None:
        self.append((topic, payload.decode() if isinstance(payload, bytes) else payload, retain))


@pytest.fixture
def sent() -> Sent:
    return Sent()


@pytest.fixture
def outlet(sent: Sent) -> HomieOutlet:
    made = HomieOutlet(CABIN, sent.publish)
    made.announce()
    made.update(Derived("north", AT, voltage=26.31))
    return made


@pytest.fixture
def documents(outlet: HomieOutlet, sent: Sent) -> dict[str, dict[str, Any]]:
    return {topic: json.loads(payload) for topic, payload, _ in sent if topic.startswith("hub/")}


def test_documents_are_published_only_where_the_cabin_asks_for_them(sent: Sent) -> None:
    HomieOutlet(Cabin("tarn-hut", {"north": BANK}), sent.publish).announce()
    assert not [topic for topic, _, _ in sent if "config" in topic]


def test_f57_classes_units_and_topics_are_what_a_hub_accepts(
    documents: dict[str, dict[str, Any]], outlet: HomieOutlet, sent: Sent
) -> None:
    retained = set(outlet.announced())
    events = {f"{outlet.banks['north'].base}/revival/{name}" for name in ("refused", "checklist-by")}
    assert len(documents) > 80
    assert len({document["unique_id"] for document in documents.values()}) == len(documents)
    for topic, document in documents.items():
        assert re.fullmatch(r"hub/(sensor|binary_sensor|button|text)/[a-zA-Z0-9_-]+/[a-zA-Z0-9_-]+/config", topic)
        if "state_topic" in document:
            assert document["state_topic"] in retained | events
        if "command_topic" in document:
            assert document["command_topic"] in outlet.command_topics()
        device_class = document.get("device_class")
        if device_class is not None and topic.startswith("hub/sensor/"):
            units, states = ACCEPTED[device_class]
            assert document.get("unit_of_measurement") in units, topic
            assert document.get("state_class") in states, topic
        assert {entry["topic"] for entry in document["availability"]} <= retained
        assert document["device"]["identifiers"]


def test_a_bank_is_a_device_behind_the_bridge_and_follows_both_states(documents: dict[str, dict[str, Any]]) -> None:
    voltage = documents["hub/sensor/tarn-hut-north/electrical-voltage/config"]
    assert voltage["device"]["via_device"] == "tarn-hut"
    assert [entry["topic"] for entry in voltage["availability"]] == [
        "homie/5/tarn-hut/$state",
        "homie/5/tarn-hut-north/$state",
    ]
    assert documents["hub/sensor/tarn-hut-north/revival-phase/config"]["options"][0] == "idle"


def test_every_shown_value_expires_and_is_said_again_three_times_before(
    documents: dict[str, dict[str, Any]], outlet: HomieOutlet, sent: Sent
) -> None:
    shown = {document["state_topic"]: document for document in documents.values() if "state_topic" in document}
    del shown["homie/5/tarn-hut-north/revival/checklist-by"]  # the hub's text fields know no expiry
    # An event that is said once: with an expiry the hub would call it unavailable as if it were broken.
    assert "expire_after" not in shown.pop("homie/5/tarn-hut-north/revival/refused")
    assert {document["expire_after"] for document in shown.values()} == {EXPIRES}
    assert not [
        document for document in documents.values() if "command_topic" in document and "expire_after" in document
    ]
    said: dict[str, list[float]] = {}
    for second in range(EXPIRES):
        sent.clear()
        outlet.health(AT + second, 1.0, True)
        for topic, _, retain in sent:
            assert retain
            said.setdefault(topic, []).append(second)
    for topic in shown:
        assert len(said[topic]) >= 3, topic
        assert max(later - sooner for sooner, later in pairwise([0, *said[topic], EXPIRES])) < EXPIRES / 3 + SPREAD


def test_many_banks_are_said_again_one_a_second_and_a_clock_that_jumps_stops_nothing(sent: Sent) -> None:
    banks = {name: replace(BANK, id=name) for name in ("a", "b", "c")}
    outlet = HomieOutlet(Cabin("tarn-hut", banks, discovery_prefix="hub"), sent.publish)
    for name in banks:
        outlet.update(Derived(name, AT, voltage=26.31))
    outlet.announce()

    def said(at: float) -> set[str]:
        sent.clear()
        outlet.health(at, 1.0, True)
        return {topic.split("/")[2] for topic, _, _ in sent if topic.endswith("/electrical/voltage")}

    assert said(AT) == set()
    assert [said(AT + SPREAD + second) for second in range(5)] == [set(), *({f"tarn-hut-{n}"} for n in "abc"), set()]
    everyone = {f"tarn-hut-{name}" for name in banks}
    assert said(AT + 86400.0) == everyone and said(AT + 86401.0) == set()
    assert said(AT) == everyone and said(AT + 1.0) == set()


def test_without_a_hub_only_what_changed_is_said(sent: Sent) -> None:
    outlet = HomieOutlet(Cabin("tarn-hut", {"north": BANK}), sent.publish)
    outlet.update(Derived("north", AT, voltage=26.31))
    outlet.announce()
    outlet.health(AT, 1.0, True)
    sent.clear()
    for second in range(1, 400):
        outlet.health(AT + second, 1.0, True)
    assert sent == []


def test_every_command_is_a_button(documents: dict[str, dict[str, Any]]) -> None:
    buttons: dict[str, list[str]] = {}
    for document in documents.values():
        if "payload_press" in document:
            buttons.setdefault(document["command_topic"].split("/")[-2], []).append(document["payload_press"])
    once = {"reset": ["true"], "prove": ["true"], "checklist-confirm": ["true"]}
    assert buttons == {"command": list(COMMANDS), **once}


def test_the_wanted_id_is_said_in_the_way_of_old_and_of_new_releases(documents: dict[str, dict[str, Any]]) -> None:
    """Releases up to 2025.4 obey `object_id`, 2026.11 only `default_entity_id`: seen with both."""
    for topic, document in documents.items():
        assert re.fullmatch(r"[a-z0-9_]+", document["object_id"])
        assert document["default_entity_id"] == f"{topic.split('/')[1]}.{document['object_id']}"


def test_what_falls_to_0_with_a_round_is_a_counter_that_begins_anew(documents: dict[str, dict[str, Any]]) -> None:
    """Hub developer documentation, "Sensor entity": a `total` that falls books a minus, `total_increasing` does not."""
    classes = {topic.split("/")[-2]: document.get("state_class") for topic, document in documents.items()}
    counters = {"revival-energy", "revival-charge-returned", "revival-overcharge", "verdict-capacity-delivered"}
    assert {name for name, known in classes.items() if known == "total_increasing"} == counters
    assert "total" not in classes.values()
    assert classes["gas-water-used"] == "measurement"


def test_no_safety_flag_is_hidden_among_the_diagnostics(documents: dict[str, dict[str, Any]]) -> None:
    hidden = {topic.split("/")[-2].partition("-")[0] for topic, one in documents.items() if "entity_category" in one}
    assert hidden == {"health"}


def test_the_devices_link_to_a_page_that_others_can_reach(sent: Sent) -> None:
    def links(host: str) -> set[str | None]:
        cabin = replace(CABIN, page=PageSettings(host=host))
        made = HomieOutlet(cabin, sent.publish).discovery
        assert made is not None
        return {json.loads(one)["device"].get("configuration_url") for one in made.documents.values()}

    assert links("192.0.2.7") == {"http://192.0.2.7:8170/"}
    assert links("127.0.0.1") == {None}


def test_a_word_that_is_not_known_is_not_available_rather_than_the_word_none(
    documents: dict[str, dict[str, Any]],
) -> None:
    verdict = documents["hub/sensor/tarn-hut-north/verdict-word/config"]
    assert verdict["availability"][-1]["topic"] == verdict["state_topic"]
    assert documents["hub/sensor/tarn-hut-north/advice-next-step/config"]["value_template"].endswith("[:255] }}")


def rendered(document: dict[str, Any], payload: str) -> str:
    """What the hub makes of a payload, by the template language that it uses."""
    text = jinja2.Environment().from_string(document["value_template"])
    parsed = json.loads(payload) if payload.startswith("{") else None
    return text.render(value=payload, value_json=parsed)


def test_a_refusal_stands_beside_the_buttons_with_its_reason(documents: dict[str, dict[str, Any]]) -> None:
    refused = documents["hub/sensor/tarn-hut-north/revival-refused/config"]
    told = json.dumps({"what": "start", "why": "the start checklist is not confirmed", "when": "2026-11-25T07:00:00Z"})
    assert rendered(refused, told) == "start: the start checklist is not confirmed"
    assert refused["json_attributes_topic"] == refused["state_topic"]
    name = documents["hub/text/tarn-hut-north/revival-checklist-by/config"]
    assert (rendered(name, "Ada"), rendered(name, "\0")) == ("Ada", "")


def test_f56_a_hub_that_comes_up_gets_documents_then_states_after_a_random_delay(
    outlet: HomieOutlet, sent: Sent
) -> None:
    sent.clear()
    outlet.command(Message("hub/status", b"online", AT))
    outlet.health(AT + 0.5, 1.0, True)
    assert not [topic for topic, _, _ in sent if topic.startswith("hub/")]
    sent.clear()
    outlet.health(AT + 10.5, 1.0, True)
    assert sent[0][0].startswith("hub/") and sent[-1][0].startswith("homie/")
    assert ("homie/5/tarn-hut-north/electrical/voltage", "26.31", True) in sent
    sent.clear()
    outlet.health(AT + 11.5, 1.0, True)
    assert sent == []


def test_f56_a_hub_going_down_or_a_retained_birth_is_not_answered(outlet: HomieOutlet, sent: Sent) -> None:
    outlet.command(Message("hub/status", b"offline", AT))
    outlet.command(Message("hub/status", b"online", AT, retain=True))
    outlet.health(AT, 1.0, True)
    sent.clear()
    outlet.health(AT + 20, 1.0, True)
    assert not [topic for topic, _, _ in sent if topic.startswith("hub/")]


def test_f55_another_prefix_leaves_no_document_behind(outlet: HomieOutlet, sent: Sent) -> None:
    record = outlet.announced()
    sent.clear()
    HomieOutlet(Cabin("tarn-hut", {"north": BANK}, discovery_prefix="other"), sent.publish).retire(record)
    assert {topic for topic, payload, _ in sent if not payload} == {one for one in record if one.startswith("hub/")}


def test_two_bridges_on_one_broker_share_no_topic_and_no_entity(sent: Sent) -> None:
    here, there = (
        HomieOutlet(Cabin(s, {"north": BANK}, discovery_prefix="hub"), sent.publish) for s in ("fell", "tarn")
    )
    assert not set(here.announced()) & set(there.announced())
    assert here.discovery is not None and there.discovery is not None
    outlets = (here.discovery, there.discovery)
    ids = [{json.loads(d)["unique_id"] for d in one.documents.values()} for one in outlets]
    assert not ids[0] & ids[1]
    assert set(here.command_topics()) & set(there.command_topics()) == {"hub/status"}
