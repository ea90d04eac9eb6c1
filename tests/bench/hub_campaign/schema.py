"""Before all else: every discovery document through the hub's own schema, its classes against the hub's own tables."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from outlets import BANKS, PREFIX

from bridge.outlets.discovery import DiscoveryOutlet
from bridge.settings import Cabin

#: What an enum may be: hubs since the end of 2024 read it and use it, this one drops it without a word.
LATER = {"options", "default_entity_id"}
#: Runs in the hub's environment: what its integration would accept, and the tables that it only warns by.
IN_THE_HUB = """
import json, sys
import voluptuous as vol
from homeassistant.components.mqtt import binary_sensor, button, sensor, text
from homeassistant.components.sensor.const import DEVICE_CLASS_STATE_CLASSES, DEVICE_CLASS_UNITS
schemas = {"sensor": sensor, "binary_sensor": binary_sensor, "button": button, "text": text}
bad, LATER = [], set(sys.argv[1:])
for topic, document in json.load(sys.stdin).items():
    kind = topic.split("/")[1]
    try:
        made = schemas[kind].DISCOVERY_SCHEMA(dict(document))
    except vol.Invalid as error:
        bad.append(f"{topic}: {error}")
        continue
    lost = set(document) - {str(key) for key in made} - LATER
    if lost:
        bad.append(f"{topic}: the hub does not know {sorted(lost)}")
    known, unit, state = made.get("device_class"), made.get("unit_of_measurement"), made.get("state_class")
    if kind == "sensor" and known is not None:
        if known in DEVICE_CLASS_UNITS and unit not in DEVICE_CLASS_UNITS[known]:
            bad.append(f"{topic}: {known} in {unit}")
        if known in DEVICE_CLASS_STATE_CLASSES and state is not None and state not in DEVICE_CLASS_STATE_CLASSES[known]:
            bad.append(f"{topic}: {known} as {state}")
print(json.dumps(bad))
"""


def campaign(program: str) -> None:
    """Every document of a bank with a relay; raises with what the hub says."""
    found = DiscoveryOutlet(Cabin("tarn-hut", BANKS, discovery_prefix=PREFIX), PREFIX, print).documents
    documents = {topic: json.loads(document) for topic, document in found.items()}
    answer = subprocess.run(
        [str(Path(program).parent / "python"), "-c", IN_THE_HUB, *LATER],
        input=json.dumps(documents), check=True, timeout=120, capture_output=True, text=True,
    )  # fmt: skip
    bad = json.loads(answer.stdout.splitlines()[-1])
    assert not bad, "\n".join(bad)
    print(f"ok    {len(documents)} documents pass the hub's own schema, unit and class tables")


if __name__ == "__main__":
    campaign(sys.argv[1])
