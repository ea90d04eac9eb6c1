"""Before all else: every discovery document through the hub's own schema, its classes against the hub's own tables."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from outlets import BANKS, PREFIX

from bridge.outlets.discovery import DiscoveryOutlet
from bridge.settings import Cabin

#: What a release may drop without a word: `options` and the id of later ones, the id of earlier ones.
ANOTHERS = {"options", "default_entity_id", "object_id"}
#: Runs in the hub's environment: what its integration would accept, and the tables that it only warns by.
IN_THE_HUB = """
import asyncio, json, sys, tempfile
from homeassistant.components.mqtt import binary_sensor, button, sensor, text
from homeassistant.components.sensor.const import DEVICE_CLASS_STATE_CLASSES, DEVICE_CLASS_UNITS
from homeassistant.core import HomeAssistant
schemas = {"sensor": sensor, "binary_sensor": binary_sensor, "button": button, "text": text}
bad, ANOTHERS = [], set(sys.argv[1:])

async def main():
    hub = HomeAssistant(tempfile.mkdtemp())  # later releases read templates inside a running hub alone
    for topic, document in json.load(sys.stdin).items():
        kind = topic.split("/")[1]
        try:
            made = schemas[kind].DISCOVERY_SCHEMA(dict(document))
        except Exception as error:  # the class that says it is another in 2026
            bad.append(f"{topic}: {error}")
            continue
        lost = set(document) - {str(key) for key in made} - ANOTHERS
        if lost:
            bad.append(f"{topic}: the hub does not know {sorted(lost)}")
        known, unit, state = made.get("device_class"), made.get("unit_of_measurement"), made.get("state_class")
        if kind == "sensor" and known is not None:
            if known in DEVICE_CLASS_UNITS and unit not in DEVICE_CLASS_UNITS[known]:
                bad.append(f"{topic}: {known} in {unit}")
            if state is not None and state not in DEVICE_CLASS_STATE_CLASSES.get(known, {state}):
                bad.append(f"{topic}: {known} as {state}")

asyncio.run(main())
print(json.dumps(bad))
"""


def campaign(program: str) -> None:
    """Every document of a bank with a relay; raises with what the hub says."""
    found = DiscoveryOutlet(Cabin("tarn-hut", BANKS, discovery_prefix=PREFIX), PREFIX, print).documents
    documents = {topic: json.loads(document) for topic, document in found.items()}
    answer = subprocess.run(
        [str(Path(program).parent / "python"), "-c", IN_THE_HUB, *ANOTHERS],
        input=json.dumps(documents), check=False, timeout=120, capture_output=True, text=True,
    )  # fmt: skip
    assert answer.returncode == 0, answer.stderr
    bad = json.loads(answer.stdout.splitlines()[-1])
    assert not bad, "\n".join(bad)
    print(f"ok    {len(documents)} documents pass the hub's own schema, unit and class tables")


if __name__ == "__main__":
    campaign(sys.argv[1])
