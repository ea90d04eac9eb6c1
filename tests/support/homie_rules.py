"""The published rules of the Homie convention, version 5 (homieiot.github.io/specification), as a validator.

Written from the convention's sections Topic IDs, Payload, Device attributes, Device hierarchy, Lifecycle, Nodes,
Properties, Formats and Alerts; independent of the bridge, it only sees retained topics as a controller would.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

ID = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")
FLOAT = re.compile(r"-?(\d+\.?\d*|\.\d+)([eE]-?\d+)?")
INTEGER = re.compile(r"-?\d+")
STATES = {"init", "ready", "disconnected", "sleeping", "lost"}
DATATYPES = {"integer", "float", "boolean", "string", "enum", "color", "datetime", "duration", "json"}
DEVICE_KEYS = {"homie", "version", "nodes", "name", "type", "children", "root", "parent", "extensions"}
NODE_KEYS = {"name", "type", "properties"}
PROPERTY_KEYS = {"name", "datatype", "format", "settable", "retained", "unit"}


def violations(retained: Mapping[str, str], domain: str = "homie") -> list[str]:
    """Everything in these retained topics (topic -> payload) that the convention forbids."""
    return list(_violations(retained, f"{domain}/5/"))


def _violations(retained: Mapping[str, str], base: str) -> Iterator[str]:
    devices: dict[str, dict[str, str]] = {}
    for topic, payload in retained.items():
        if not topic.startswith(base):
            yield f"{topic}: outside {base}"
            continue
        device, _, rest = topic.removeprefix(base).partition("/")
        devices.setdefault(device, {})[rest] = payload
    described: dict[str, dict[str, Any]] = {}
    for device, topics in devices.items():
        if not ID.fullmatch(device):
            yield f"{device}: not a device id"
        if topics.get("$state") not in STATES:
            yield f"{device}: $state {topics.get('$state')!r}"
        try:
            described[device] = json.loads(topics["$description"])
        except (KeyError, ValueError) as error:
            yield f"{device}: $description {error!r}"
            continue
        yield from _description(device, described[device])
        yield from _topics(device, topics, described[device])
    for device, document in described.items():
        for child in document.get("children", []):
            if child not in described:
                yield f"{device}: child {child} does not exist"
            elif described[child].get("root") != device:
                yield f"{child}: root is not {device}"
        root = document.get("root")
        if root is not None and device not in described.get(document.get("parent", root), {}).get("children", []):
            yield f"{device}: its parent does not list it"


def _description(device: str, document: dict[str, Any]) -> Iterator[str]:
    if unknown := set(document) - DEVICE_KEYS:
        yield f"{device}: unknown attributes {unknown}"
    if not re.fullmatch(r"5\.\d+", str(document.get("homie"))):
        yield f"{device}: homie {document.get('homie')!r} is not 5.x"
    version = document.get("version")
    if type(version) is not int or not -(2**63) <= version < 2**63:
        yield f"{device}: version {version!r} is no integer"
    for name in ("name", "type", "root", "parent"):
        if name in document and not isinstance(document[name], str):
            yield f"{device}: {name} is no string"
    for node, body in document.get("nodes", {}).items():
        if not ID.fullmatch(node):
            yield f"{device}/{node}: not a node id"
        if unknown := set(body) - NODE_KEYS:
            yield f"{device}/{node}: unknown attributes {unknown}"
        for name, attributes in body.get("properties", {}).items():
            yield from (f"{device}/{node}/{name}: {why}" for why in _property(name, attributes))


def _property(name: str, attributes: dict[str, Any]) -> Iterator[str]:
    if not ID.fullmatch(name):
        yield "not a property id"
    if unknown := set(attributes) - PROPERTY_KEYS:
        yield f"unknown attributes {unknown}"
    datatype, layout = attributes.get("datatype"), attributes.get("format")
    if datatype not in DATATYPES:
        yield f"datatype {datatype!r}"
    for flag in ("settable", "retained"):
        if not isinstance(attributes.get(flag, True), bool):
            yield f"{flag} is no boolean"
    if datatype in ("enum", "color") and not layout:
        yield f"{datatype} needs a format"
    if datatype in ("enum", "boolean") and layout is not None:
        entries = layout.split(",")
        if not all(entries) or len(set(entries)) != len(entries) or any(e != e.strip() for e in entries):
            yield f"format {layout!r}"
        if datatype == "boolean" and len(entries) != 2:
            yield f"format {layout!r} needs two entries"
    if datatype in ("float", "integer") and layout is not None:
        kind = FLOAT if datatype == "float" else INTEGER
        parts = layout.split(":")
        if len(parts) not in (2, 3) or not all(not part or kind.fullmatch(part) for part in parts):
            yield f"format {layout!r}"


def _topics(device: str, topics: Mapping[str, str], document: dict[str, Any]) -> Iterator[str]:
    for rest, payload in topics.items():
        if rest in ("$state", "$description"):
            continue
        if payload == "":
            yield f"{device}/{rest}: an empty payload is not a value"
        levels = rest.split("/")
        if levels[0] == "$alert":
            if len(levels) != 2 or not ID.fullmatch(levels[1]):
                yield f"{device}/{rest}: not an alert id"
            continue
        if levels[-1] == "set":
            yield f"{device}/{rest}: set topics are never retained"
            continue
        if levels[-1] == "$target":
            levels.pop()
        properties = document.get("nodes", {}).get(levels[0], {}).get("properties", {})
        if len(levels) != 2 or levels[1] not in properties:
            yield f"{device}/{rest}: not described"
            continue
        attributes = properties[levels[1]]
        if attributes.get("retained") is False:
            yield f"{device}/{rest}: retained although described as not retained"
        elif not valid(payload, attributes["datatype"], attributes.get("format", "")):
            yield f"{device}/{rest}: {payload!r} is no {attributes['datatype']} {attributes.get('format', '')}"


def valid(payload: str, datatype: str, layout: str = "") -> bool:
    """Whether the payload is one of this datatype."""
    if datatype == "string":
        return bool(payload)
    if datatype == "boolean":
        return payload in ("true", "false")
    if datatype == "enum":
        return payload in layout.split(",")
    if datatype in ("float", "integer"):
        kind = FLOAT if datatype == "float" else INTEGER
        if not kind.fullmatch(payload) or not math.isfinite(float(payload)):
            return False
        low, high, *_ = (*layout.split(":"), "", "")
        return (not low or float(payload) >= float(low)) and (not high or float(payload) <= float(high))
    if datatype == "datetime":
        try:
            return datetime.fromisoformat(payload).tzinfo is not None
        except ValueError:
            return False
    if datatype == "json":
        try:
            return isinstance(json.loads(payload), dict | list)
        except ValueError:
            return False
    return False
