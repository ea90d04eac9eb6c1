"""MQTT discovery documents for home-automation hubs, an entity each, pointing at the Homie tree's own topics."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator, Mapping
from importlib.metadata import PackageNotFoundError, version

from bridge.intake.strict_model import LONGEST_NAME
from bridge.settings import Cabin
from bridge.words.bank_name import headed
from bridge.words.catalogue import Property, of_bank, of_bridge
from bridge.words.page_address import link
from rules.bank import Bank

#: A hub that comes up asks every device at once; the answers spread over so long [s].
SPREAD = 10.0
#: A broker that comes back from a power cut with what its disk kept still says `ready` of a bridge that does not come
#: back (measured). So every value is said again each `REPEAT` [s], and a hub that misses three calls it unavailable.
REPEAT, EXPIRES = 300.0, 1000
#: The tree's state as availability: everything but ready (and the moment of announcing) is not available.
_AVAILABLE = "{{ 'online' if value in ('ready', 'init') else 'offline' }}"
#: An emptied topic is an unknown value; hubs write that as the word None.
_KNOWN = "{{ value if value else 'None' }}"
#: A hub keeps no state above 255 characters: a longer sentence would not be shown at all.
_TEXT = "{{ (value | replace('\\x00', ''))[:255] }}"
#: A moment knows no None in older hubs, they log a warning: the entity is not available while its topic is empty,
#: and the date that stands in is never seen.
_MOMENT = "{{ value if value else '1970-01-01T00:00:00Z' }}"
_PRESENT = "{{ 'online' if value else 'offline' }}"
#: The same for words from a list: releases of early 2024 would show the word None as if it were one of them.
_ABSENT_WHILE_EMPTY = frozenset(("timestamp", "enum"))
_REFUSAL = "{{ (value_json.what ~ ': ' ~ value_json.why)[:255] }}"


def release() -> str:
    """Return the version of the installed program, or ``unknown`` where it runs without being installed."""
    try:
        return version("revival-bridge")
    except PackageNotFoundError:
        return "unknown"


class DiscoveryOutlet:
    """Documents of every entity, retained under the hub's discovery prefix; announced again when the hub comes up.

    Parameters
    ----------
    prefix : str
        The hub's discovery prefix.
    publish : callable
        ``publish(topic, payload, retain=True)``.
    """

    def __init__(self, cabin: Cabin, prefix: str, publish: Callable[..., object]) -> None:
        self.birth_topic = f"{prefix}/status"
        self._publish = publish
        self._due: float | None = None
        self._devices = ("", *cabin.banks)
        self._next: dict[str, float] = {}
        self._origin = {"name": "revival-bridge", "sw_version": release()}
        self.documents: dict[str, str] = dict(self._all(cabin, prefix))

    def announce(self) -> None:
        """Publish every document; their values are said again soon, since an emptied topic is not kept for a hub."""
        for topic, document in self.documents.items():
            self._publish(topic, document)
        self._next.clear()

    def birth(self, payload: bytes, at: float) -> None:
        """Answer a hub that said it is there [s since the epoch], after a random delay."""
        if payload == b"online":
            self._due = at + random.uniform(0.1, 1.0) * SPREAD

    def due(self, at: float) -> bool:
        """Tell whether the delay has passed; once for each birth."""
        if self._due is None or at < self._due:
            return False
        self._due = None
        return True

    def again(self, at: float) -> list[str]:
        """Return whose values are to be said again now [s since the epoch]: bank ids, the empty one for the bridge.

        One device a second, so that many banks do not come in one burst.
        """
        if not self._next:
            self._next = {name: at + SPREAD + place for place, name in enumerate(self._devices)}
        over = [name for name, due in self._next.items() if not at < due < at + 2.0 * REPEAT + len(self._devices)]
        self._next |= dict.fromkeys(over, at + REPEAT)
        return over

    # ---------------------------------------------------------------------------------- documents

    def _all(self, cabin: Cabin, prefix: str) -> Iterator[tuple[str, str]]:
        site = cabin.site
        root = f"{cabin.root}/{site}"
        bridge = {"identifiers": [site], "name": f"Revival of {site}", "model": "revival-bridge"}
        bridge["sw_version"] = self._origin["sw_version"]
        page = {} if cabin.page is None else {"configuration_url": link(cabin.page)}
        page = {key: address for key, address in page.items() if address}
        bridge |= page
        yield from self._entities(prefix, site, root, of_bridge(cabin.influx is not None), bridge, [root])
        for name, bank in cabin.banks.items():
            device = f"{site}-{name}"
            base = f"{cabin.root}/{device}"
            about = {"identifiers": [device], "name": headed(name), "model": _model(bank), "via_device": site} | page
            yield from self._entities(prefix, device, base, of_bank(bank), about, [root, base])

    def _entities(
        self,
        prefix: str,
        device: str,
        base: str,
        properties: tuple[Property, ...],
        about: Mapping[str, object],
        states: list[str],
    ) -> Iterator[tuple[str, str]]:
        availability = [{"topic": f"{one}/$state", "value_template": _AVAILABLE} for one in states]
        common = {
            "availability": availability,
            "availability_mode": "all",
            "device": about,
            "origin": self._origin,
        }
        for one in properties:
            if not one.entity:
                continue
            for suffix, document in _documents(one, base):
                ident = f"{device}-{one.node}-{one.id}{suffix}"
                name = ident.replace("-", "_")
                # Releases up to 2025 take the wanted id from the first, later ones from the second; neither minds both.
                wanted = {"object_id": name, "default_entity_id": f"{one.entity}.{name}"}
                body = {"unique_id": ident, **wanted, **document, **common}
                if one.device_class in _ABSENT_WHILE_EMPTY:
                    own = {"topic": f"{base}/{one.path}", "value_template": _PRESENT}
                    body["availability"] = [*availability, own]
                topic = f"{prefix}/{one.entity}/{device}/{one.node}-{one.id}{suffix}/config"
                yield topic, json.dumps(body, ensure_ascii=False, separators=(",", ":"))


def _model(bank: Bank) -> str:
    return f"{bank.cells} cells, {len(bank.strings)} strings, {bank.capacity:g} Ah"


def _documents(one: Property, base: str) -> Iterator[tuple[str, dict[str, object]]]:
    """Write what is particular to one property; a settable enum makes a button for every value."""
    if one.entity == "button":
        for word in one.format.split(",") if one.format else ("true",):
            suffix = f"-{word}" if one.format else ""
            name = word.capitalize().replace("-", " ") if one.format else one.name
            yield suffix, {"name": name, "command_topic": f"{base}/{one.path}/set", "payload_press": word, "qos": 1}
        return
    document: dict[str, object] = {"name": one.name, "state_topic": f"{base}/{one.path}", "qos": 1}
    if one.entity == "text":
        yield "", document | {"command_topic": f"{base}/{one.path}/set", "value_template": _TEXT, "max": LONGEST_NAME}
        return
    if one.datatype == "json":  # a refusal: what and why to be read, all of it as attributes; said once, so it stays
        yield "", document | {"value_template": _REFUSAL, "json_attributes_topic": f"{base}/{one.path}"}
        return
    document["expire_after"] = EXPIRES
    if one.device_class:
        document["device_class"] = one.device_class
    if one.entity == "binary_sensor":
        document |= {"payload_on": "true", "payload_off": "false", "value_template": _KNOWN}
    else:
        document["value_template"] = {"string": _TEXT, "datetime": _MOMENT}.get(one.datatype, _KNOWN)
        if one.unit:
            document["unit_of_measurement"] = one.unit
        if one.state_class:
            document["state_class"] = one.state_class
        if one.device_class == "enum":
            document["options"] = one.format.split(",")
    if one.node == "health":
        document["entity_category"] = "diagnostic"
    yield "", document
