"""docker/hub/revival.yaml names only topics and entities that the bridge really announces.

That a hub runs it is proved on demand, by tests/bench/hub_campaign.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from types import SimpleNamespace

import pytest
import yaml
from jinja2 import Environment
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
    named = re.findall(r"(?:now|said)\('([a-z_]+)'", text)
    ends = re.findall(r"'(_[a-z_]+)'\)", text) + [f"_{name}" for name in named]
    assert len(ends) >= 7
    for end in ends:
        assert [one for one in entities() if one.endswith(f"_north{end}")] or end == "_", end


class HubStates:
    """What a hub's templates ask: a sensor's state and its unit, as the hub shows them, and every sensor in turn."""

    def __init__(self, shown: dict[str, tuple[str, str | None]]) -> None:
        self.shown = {f"sensor.tarn_hut_north_{name}": both for name, both in shown.items()}
        self.sensor = [SimpleNamespace(entity_id=entity) for entity in self.shown]

    def __call__(self, entity: str) -> str:
        return self.shown.get(entity, ("unknown", None))[0]

    def attribute(self, entity: str, name: str) -> str | None:
        assert name == "unit_of_measurement"
        return self.shown.get(entity, ("unknown", None))[1]


def daily_word(**shown: tuple[str, str | None]) -> str:
    """The evening's text as a hub that shows these makes it."""
    package = yaml.safe_load(FILE.read_text())
    (summary,) = (one for one in package["automation"] if one["id"] == "revival_summary")
    states = HubStates(shown)
    template = Environment().from_string(summary["action"][0]["data"]["message"])
    said = template.render(states=states, state_attr=states.attribute, is_state=lambda *_: False)
    return " ".join(said.split())


@pytest.mark.parametrize(("degrees", "unit"), [("43.3", "°C"), ("110.0", "°F")])
def test_the_daily_word_says_each_number_in_the_unit_that_the_hub_shows_it_in(degrees: str, unit: str) -> None:
    # A hub that is set to Fahrenheit turns the state of every temperature into degrees Fahrenheit by itself.
    word = daily_word(
        revival_phase=("holding", None), revival_remaining_hours=("12.3", "h"), revival_hold_hours=("unknown", "h"),
        thermal_temperature=(degrees, unit), electrical_volts_per_cell=("2.401", "V"), advice_next_step=("Wait.", None),
    )  # fmt: skip
    assert word == (
        f"tarn_hut_north: holding. Left: 12.3 h. Held: not known. Electrolyte: {degrees} {unit}. Per cell: 2.401 V."
        " Next: Wait."
    )


def test_the_daily_word_says_no_number_and_no_degrees_of_a_silent_thermometer() -> None:
    word = daily_word(revival_phase=("holding", None), thermal_temperature=("unavailable", "°C"))
    assert "Electrolyte: not known. Per cell: not known. Next: not known" in word


def test_everything_said_goes_through_the_one_place_that_is_the_owners() -> None:
    package = yaml.safe_load(FILE.read_text())
    services = [step["service"] for each in package["automation"] for step in each["action"] if "service" in step]
    assert services == ["script.revival_tell"] * 4


def test_what_is_told_again_takes_the_place_of_its_card_and_of_no_other() -> None:
    # The bridge says a trip that stands again every five minutes: a card each time would be 144 in a night.
    (card,) = yaml.safe_load(FILE.read_text())["script"]["revival_tell"]["sequence"]
    hub = Environment()
    hub.filters["slugify"] = lambda words: re.sub(r"[^a-z0-9]+", "_", words.lower())  # as a hub has it
    name = hub.from_string(card["data"]["notification_id"])
    titles = ["tarn-hut-north has tripped", "tarn-hut-south has tripped", "tarn-hut-north: start was refused"]
    assert len({name.render(title=title) for title in titles}) == 3
    assert name.render(title=titles[0]) == name.render(title=titles[0], message="another reason")
