"""Two bridges on one broker: each its own sessions, device tree, wills, commands and discovery documents."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from bridge.journal.reader import JournalReader
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.running_bridge import turning

HUB = '\n[hub]\ndiscovery = "hub"\n'


@contextmanager
def kept(broker: Broker, topic: str = "#") -> Iterator[dict[str, str]]:
    """What the broker keeps, and what changes in it: topic -> payload, as somebody sees it who looks on."""
    seen: dict[str, str] = {}

    def take(_client: Client, _data: object, message: MQTTMessage) -> None:
        if message.payload:
            seen[message.topic] = message.payload.decode()
        else:
            seen.pop(message.topic, None)

    client = Client(CallbackAPIVersion.VERSION2)
    client.on_message = take
    client.connect(broker.host, broker.port)
    client.subscribe(topic, 1)
    client.loop_start()
    try:
        yield seen
    finally:
        client.disconnect()
        client.loop_stop()


@contextmanager
def commands(broker: Broker) -> Iterator[set[str]]:
    """Topics of the answers that bridges give to commands; they are never kept."""
    heard: set[str] = set()
    client = Client(CallbackAPIVersion.VERSION2)
    client.on_message = lambda _client, _data, message: heard.add(message.topic)
    client.connect(broker.host, broker.port)
    client.subscribe(
        [("homie/5/+/revival/command", 1), ("homie/5/+/safety/reset", 1), ("homie/5/+/revival/refused", 1)]
    )
    client.loop_start()
    try:
        yield heard
    finally:
        client.disconnect()
        client.loop_stop()


def cabin(folder: Path, broker: Broker, site: str, *, extra: str = HUB, discovery: str = "hub") -> Path:
    """A cabin of this name: its meters publish below a branch of its own."""
    folder.mkdir(exist_ok=True)
    path = write_cabin(folder, broker.port, relay=False, extra=extra.replace("hub", discovery))
    text = path.read_text().replace('"tarn-hut"', f'"{site}"').replace('"cabin/', f'"{site}/')
    path.write_text(text)
    return path


def feed(broker: Broker, site: str, volts: float) -> None:
    broker.publish(f"{site}/shunt", shunt(time.time(), volts, 10.0), "-q", "1")
    broker.publish(f"{site}/probe", "77.0")


@pytest.fixture
def shared(make_broker: Callable[..., Broker]) -> Broker:
    return make_broker()


def topics_of(seen: dict[str, str], site: str) -> set[str]:
    """What belongs to a site, in the tree and among the documents."""
    return {topic for topic in seen if f"/{site}/" in topic or f"/{site}-north/" in topic}


def test_two_sites_share_a_broker_and_neither_hears_or_touches_the_other(shared: Broker, tmp_path: Path) -> None:
    paths = {site: cabin(tmp_path / site, shared, site) for site in ("tarn-hut", "boat-house")}
    with (
        kept(shared) as seen,
        commands(shared) as heard,
        turning(paths["tarn-hut"]) as tarn,
        turning(paths["boat-house"]) as boat,
    ):
        wait_until(lambda: tarn.bus.subscribed and boat.bus.subscribed)
        feed(shared, "tarn-hut", 26.0)
        feed(shared, "boat-house", 28.0)
        wait_until(lambda: seen.get("homie/5/tarn-hut-north/electrical/voltage") == "26.00", 25.0)
        wait_until(lambda: seen.get("homie/5/boat-house-north/electrical/voltage") == "28.00", 25.0)
        documents = [json.loads(text) for topic, text in seen.items() if topic.startswith("hub/")]
        assert len({one["unique_id"] for one in documents}) == len(documents) > 160
        shared.publish("homie/5/tarn-hut-north/revival/command/set", "start", "-q", "1")
        shared.publish("homie/5/boat-house-north/safety/reset/set", "true", "-q", "1")
        # What cannot be done is answered by why, what is done by itself; either way by the bridge that was told.
        for site, done in (("tarn-hut", "revival/command"), ("boat-house", "safety/reset")):
            answers = {f"homie/5/{site}-north/{done}", f"homie/5/{site}-north/revival/refused"}
            wait_until(partial(answers.intersection, heard), what=f"the bridge of {site} answers what it was told")
        assert tarn.bus.live.generation == boat.bus.live.generation == 1, "neither takes the other's session"
    for site, path in paths.items():
        with JournalReader(path.parent / "revival.db") as reader:
            stored = {message.topic for message, _ in reader.messages(0.0, time.time() + 60.0)}
        assert stored == {f"{site}/shunt", f"{site}/probe"}


def test_the_will_of_one_bridge_does_not_call_the_other_lost(shared: Broker, tmp_path: Path) -> None:
    paths = [cabin(tmp_path / site, shared, site) for site in ("tarn-hut", "boat-house")]
    with kept(shared, "homie/5/+/$state") as seen, turning(paths[0]) as tarn:
        with turning(paths[1]) as boat:
            wait_until(lambda: tarn.bus.subscribed and boat.bus.subscribed)
            wait_until(lambda: seen.get("homie/5/boat-house/$state") == seen.get("homie/5/tarn-hut/$state") == "ready")
            boat.bus.live.drop("pulled cable")
            wait_until(lambda: boat.bus.live.generation == 2, 30)
            wait_until(lambda: boat.bus.subscribed, 30)
            assert tarn.bus.live.generation == 1
        wait_until(lambda: seen.get("homie/5/boat-house/$state") == "disconnected")
        assert seen["homie/5/tarn-hut/$state"] == "ready"


def test_f55_a_bridge_that_drops_its_hub_clears_its_own_documents_only(shared: Broker, tmp_path: Path) -> None:
    tarn, boat = (cabin(tmp_path / site, shared, site) for site in ("tarn-hut", "boat-house"))
    with kept(shared, "hub/#") as seen, turning(boat) as other:
        wait_until(lambda: other.bus.subscribed)
        with turning(tarn) as service:
            wait_until(lambda: service.bus.subscribed)
            wait_until(lambda: len(topics_of(seen, "tarn-hut")) == len(topics_of(seen, "boat-house")) > 80)
            wait_until(lambda: service.bus.outgoing.outstanding == 0)
        of_boat = topics_of(seen, "boat-house")
        tarn.write_text(tarn.read_text().replace(HUB, ""))
        with turning(tarn):
            wait_until(lambda: not topics_of(seen, "tarn-hut"), 20, "its documents are gone")
        assert topics_of(seen, "boat-house") == of_boat


def test_two_bridges_of_one_site_are_told_that_they_fight_over_a_session(
    shared: Broker, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    first, twin = (cabin(tmp_path / name, shared, "tarn-hut") for name in ("first", "twin"))
    with turning(first) as service, turning(twin):
        wait_until(lambda: service.bus.live.generation >= 2, 30, "one is thrown out")
        wait_until(lambda: "another client uses the same identifier" in caplog.text, 30, caplog.text)
