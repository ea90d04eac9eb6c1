"""What the bridge publishes against the Homie convention 5 (homieiot.github.io/specification, released 11 May 2025)."""

from __future__ import annotations

import json
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.mqtt.session import Session
from bridge.outlets.homie import HomieOutlet
from bridge.settings import BrokerSettings, Cabin
from bridge.words import catalogue
from rules.advice.flag_words import FLAGS
from rules.bank.model import Bank, Block, Meter, Relay
from rules.events import Derived, Flag
from tests.support.brokers import Broker, wait_until
from tests.support.homie_rules import valid, violations

BLOCKS = (tuple(Block(f"N{n}", 3, 200.0) for n in range(1, 5)),)
METERS = (Meter("voltage", "voltage"), Meter("electrolyte_temperature", "electrolyte_temperature", placed="cell"))
CABIN = Cabin(
    "tarn-hut",
    {"north": Bank("north", BLOCKS, meters=METERS, relay=Relay()), "south": Bank("south", BLOCKS, meters=METERS)},
)
HOT = Flag("over-temperature", "hazard", 1795590000.0, 44.2, 43.333, "degC", "two samples", "let it cool")
FULL = Derived(
    "north", 1795590060.0, 28.81, 2.4008, -0.004, True, (12.5, 13.25), 1234.5, 44.2, 18.0, 3.25, "finishing",
    1795580000.0, True, 12.34, 10.0, 15.5, 20.25, "the hold is a clock", 1795662900.0, 3.5, 16.0, 251.24, 7.123, 51.2,
    11.8, 0.66, 102.4, 1795594500.0, 1.18, 0.035, -0.0004,
    ({"cell": "N1.2", "gravity": 1.18, "mark": "", "taken_at": 1795580000.0, "under_charge": True},),
    False, True, "over-temperature", "open", (HOT,), "let it cool", ("open the door",),
    "the relay is open", {"voltage": 1.0, "electrolyte_temperature": 12.0},
)  # fmt: skip


class Tree:
    """Retained topics as a broker would keep them, and the order in which everything was published."""

    def __init__(self) -> None:
        self.retained: dict[str, str] = {}
        self.sent: list[tuple[str, str, bool]] = []

    def publish(self, topic: str, payload: bytes | str, retain: bool = True, qos: int = 1) -> None:
        text = payload.decode() if isinstance(payload, bytes) else payload
        self.sent.append((topic, text, retain))
        if retain and text:
            self.retained[topic] = text
        elif retain:
            self.retained.pop(topic, None)


@pytest.fixture
def tree() -> Tree:
    return Tree()


@pytest.fixture
def outlet(tree: Tree) -> HomieOutlet:
    return HomieOutlet(CABIN, tree.publish)


def test_a_tree_without_values_follows_the_convention(outlet: HomieOutlet, tree: Tree) -> None:
    outlet.announce()
    assert violations(tree.retained) == []


def test_a_full_tree_follows_the_convention(outlet: HomieOutlet, tree: Tree) -> None:
    outlet.announce()
    outlet.update(FULL)
    outlet.update(Derived("south", 1795590060.0))
    outlet.health(1795590060.0, 3.2, False)
    assert violations(tree.retained) == []
    values = {t.removeprefix("homie/5/tarn-hut-north/"): p for t, p in tree.retained.items() if "north" in t}
    assert values["electrical/volts-per-cell"] == "2.401"
    assert values["electrical/current"] == "0.00"  # never a minus in front of zero
    assert values["electrical/string-current"] == "13.25"
    assert values["revival/phase-since"] == "2026-11-25T04:13:20Z"
    assert values["safety/over-temperature"] == "true" and values["safety/gas"] == "false"
    assert values["$alert/over-temperature"] == "let it cool"
    assert json.loads(values["safety/flags"])[0]["limit"] == 43.33


def test_the_lifecycle_is_init_description_values_ready_and_the_root_comes_last(
    outlet: HomieOutlet, tree: Tree
) -> None:
    outlet.announce()
    outlet.update(FULL)
    assert tree.retained["homie/5/tarn-hut-north/$state"] == "ready"
    assert tree.retained["homie/5/tarn-hut-south/$state"] == "init"  # it has no values yet
    outlet.update(FULL._replace(bank="south"))
    tree.sent.clear()
    outlet.announce()
    for device in ("tarn-hut-north", "tarn-hut-south"):
        own = [topic.removeprefix(f"homie/5/{device}/") for topic, _, _ in tree.sent if f"/{device}/" in topic]
        states = [payload for topic, payload, _ in tree.sent if topic == f"homie/5/{device}/$state"]
        assert own[:2] == ["$state", "$description"] and own[-1] == "$state"
        assert states == ["init", "ready"]
    assert tree.sent[0] == ("homie/5/tarn-hut/$state", "init", True)
    assert tree.sent[-1] == ("homie/5/tarn-hut/$state", "ready", True)
    outlet.disconnect()
    assert {tree.retained[f"homie/5/{d}/$state"] for d in ("tarn-hut", "tarn-hut-north", "tarn-hut-south")} == {
        "disconnected"
    }


def test_every_flag_has_its_boolean_and_every_hazard_can_raise_an_alert(outlet: HomieOutlet, tree: Tree) -> None:
    outlet.announce()
    document = json.loads(tree.retained["homie/5/tarn-hut-north/$description"])
    assert set(FLAGS) <= set(document["nodes"]["safety"]["properties"])
    # The convention lets the parent be left out where it is the root; written, every controller finds it.
    assert document["root"] == document["parent"] == "tarn-hut"
    for name, text in FLAGS.items():
        outlet.update(FULL._replace(flags=(HOT._replace(name=name, kind=text.kind),)))
        assert violations(tree.retained) == []
        alerts = {t.rpartition("/")[2] for t in tree.retained if "$alert" in t}
        assert alerts == ({name} if text.kind == "hazard" else set())


def test_the_version_of_the_description_rises_with_the_document_and_only_then(tree: Tree) -> None:
    known: dict[str, tuple[int, int]] = {}

    def version(cabin: Cabin, now: float) -> int:
        outlet = HomieOutlet(cabin, tree.publish)
        known.update(outlet.number(known, now))
        outlet.announce()
        return int(json.loads(tree.retained["homie/5/tarn-hut/$description"])["version"])

    first = version(CABIN, 1795590000.0)
    assert version(CABIN, 1795590600.0) == first
    changed = version(Cabin("tarn-hut", {"north": CABIN.banks["north"]}), 1795590000.0)  # a clock that fell back
    assert changed > first
    assert version(CABIN, 1700000000.0) > changed


@given(st.floats(), st.integers(0, 4))
def test_every_float_is_published_as_the_convention_wants_it(value: float, digits: int) -> None:
    payload = catalogue.number(digits)(value)
    assert payload == "" or valid(payload, "float")


@given(st.floats(0, 4e9), st.sampled_from([1, 300, 600]), st.booleans())
def test_every_moment_is_iso_8601_and_one_that_rounds_up_is_never_early(at: float, step: int, up: bool) -> None:
    payload = catalogue.moment(step, up)(at)
    assert valid(payload, "datetime")


def test_an_empty_string_is_one_byte_of_zero() -> None:
    assert catalogue.text("") == "\0"


def test_a_real_broker_keeps_exactly_the_tree(broker: Broker) -> None:
    site = f"hut{time.monotonic_ns()}"
    kept: dict[str, str] = {}
    reader = Session(
        BrokerSettings(broker.host, broker.port),
        f"reader-{site}",
        opened=lambda s, _: s.link and s.link[0].subscribe(f"homie/5/+/{'#'}", 1),
        received=lambda c, d, m: (
            kept.__setitem__(m.topic, m.payload.decode()) if m.retain and site in m.topic else None
        ),
    )
    writer = Session(BrokerSettings(broker.host, broker.port), f"writer-{site}")
    writer.start()
    wait_until(lambda: writer.connected)
    outlet = HomieOutlet(
        Cabin(site, CABIN.banks),
        lambda topic, payload, retain=True: writer.publish(
            topic, payload.encode() if isinstance(payload, str) else payload, 1, retain
        ),
    )
    outlet.announce()
    outlet.update(FULL)
    time.sleep(0.3)
    reader.start()
    wait_until(lambda: kept.get(f"homie/5/{site}/$state") == "ready" and len(kept) > 80, 10, "the tree")
    wait_until(
        lambda: violations(dict(kept)) == [], 10, "the tree follows the convention"
    )  # its last values come later
    outlet.disconnect()
    for topic in outlet.announced():
        writer.publish(topic, b"", 1, True)
    time.sleep(0.2)
    writer.stop()
    reader.stop()


BAD: dict[str, dict[str, str | None]] = {
    "an unknown state": {"$state": "alert"},
    "a missing description": {"$description": None},
    "an undescribed topic": {"electrical/volt": "1"},
    "a comma for the decimal point": {"electrical/voltage": "12,6"},
    "a boolean in capitals": {"safety/tripped": "True"},
    "an enum value that is not listed": {"revival/phase": "dreaming"},
    "a retained command": {"revival/command/set": "start"},
    "a retained event": {"revival/command": "start"},
    "a date without its offset": {"revival/phase-since": "2026-11-25T04:13:20"},
    "an alert with a bad id": {"$alert/Over": "x"},
}


@pytest.mark.parametrize("what", BAD)
def test_the_validator_finds(what: str, outlet: HomieOutlet, tree: Tree) -> None:
    outlet.announce()
    outlet.update(FULL)
    for rest, payload in BAD[what].items():
        topic = f"homie/5/tarn-hut-north/{rest}"
        if payload is None:
            del tree.retained[topic]
        else:
            tree.retained[topic] = payload
    assert violations(tree.retained) != []
