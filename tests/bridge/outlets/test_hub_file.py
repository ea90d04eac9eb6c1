"""docker/hub/revival.yaml names only topics and entities that the bridge really announces.

That a hub runs it is proved on demand, by tests/bench/hub_campaign.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import yaml
from paho.mqtt.client import topic_matches_sub

from bridge.outlets.homie import HomieOutlet
from bridge.settings import Cabin
from rules.bank.model import Bank, Block, Meter, Relay

FILE = Path(__file__).parents[3] / "docker/hub/revival.yaml"
METERS = (Meter("voltage", "voltage"), Meter("temperature", "electrolyte_temperature", placed="cell"))
BANK = Bank("north", ((Block("N1", 3, 200.0),),), meters=METERS, relay=Relay(reports_state=True))
OUTLET = HomieOutlet(Cabin("tarn-hut", {"north": BANK}, discovery_prefix="homeassistant"), print)


def entities() -> set[str]:
    assert OUTLET.discovery
    documents = OUTLET.discovery.documents
    found = {f"{topic.split('/')[1]}.{json.loads(text)['object_id']}" for topic, text in documents.items()}
    assert found == {json.loads(text)["default_entity_id"] for text in documents.values()}
    return found


def test_every_topic_of_a_trigger_is_one_that_the_bridge_says() -> None:
    package = yaml.safe_load(FILE.read_text())
    filters = [one["topic"] for each in package["automation"] for one in each["trigger"] if "topic" in one]
    events = [f"{device.base}/{one.path}" for device in OUTLET.banks.values() for one in device.properties]
    assert len(filters) == 2
    for pattern in filters:
        assert [topic for topic in (*OUTLET.announced(), *events) if topic_matches_sub(pattern, topic)]


def test_every_entity_written_out_or_put_together_exists() -> None:
    text = FILE.read_text()
    whole = set(re.findall(r"entity_id: (\S+)", text))
    assert whole
    assert whole <= entities()
    named = re.findall(r"(?:now|said)\('([a-z_]+)', '", text)
    ends = re.findall(r"'(_[a-z_]+)'\)", text) + [f"_{name}" for name in named]
    assert len(ends) >= 7
    for end in ends:
        assert [one for one in entities() if one.endswith(f"_north{end}")] or end == "_", end


def test_everything_said_goes_through_the_one_place_that_is_the_owners() -> None:
    package = yaml.safe_load(FILE.read_text())
    services = [step["service"] for each in package["automation"] for step in each["action"] if "service" in step]
    assert services == ["script.revival_tell"] * 4
