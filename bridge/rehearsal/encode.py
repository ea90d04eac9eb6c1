"""Values as the owner's meters would publish them: the inverse of the intake, style by style."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from bridge.intake.document import compile_pointer
from bridge.intake.homie import description_topic
from bridge.intake.mapping import CONTACT_WORDS
from bridge.intake.mapping import Mapping as Mapped


def payloads(mappings: Iterable[Mapped], values: Mapping[str, float], at: float) -> dict[str, str]:
    """Return topic -> payload for all mappings whose meter has a value.

    Parameters
    ----------
    values : mapping
        Meter name -> value in its canonical unit.
    at : float
        For meters that tell their own time [s since the epoch].
    """
    result: dict[str, str] = {}
    by_topic: dict[str, list[Mapped]] = {}
    for mapping in mappings:
        if mapping.meter in values:
            by_topic.setdefault(mapping.topic, []).append(mapping)
    for topic, group in by_topic.items():
        style = group[0].style
        if style == "json":
            result[topic] = json.dumps(_document(group, values, at))
        elif style == "pairs":
            result[topic] = " ".join(f"{key}={value}" for key, value in _pairs(group, values, at))
        elif style == "senml":
            result[topic] = json.dumps([_record(mapping, values[mapping.meter], at) for mapping in group])
        else:
            result[topic] = str(raw(group[0], values[group[0].meter]))
    return result


def raw(mapping: Mapped, value: float) -> float | str:
    """Return what the meter shows for a value in the canonical unit."""
    if mapping.is_contact:
        words = mapping.words or tuple(CONTACT_WORDS.items())
        return next(word for word, meaning in words if meaning == value)
    dialect = "senml" if mapping.style == "senml" and mapping.unit is not None else "cabin"
    scale, offset = mapping.factor(mapping.unit or mapping.canonical, dialect)
    return round((value - offset) / scale, 6)


def _pairs(group: list[Mapped], values: Mapping[str, float], at: float) -> Iterable[tuple[str, object]]:
    stamps = dict.fromkeys(mapping.time for mapping in group if mapping.time is not None)
    said = [(mapping.pointer, raw(mapping, values[mapping.meter])) for mapping in group]
    return [(compile_pointer(pointer)[0], value) for pointer, value in [*said, *((stamp, at) for stamp in stamps)]]


def _document(group: list[Mapped], values: Mapping[str, float], at: float) -> Any:
    pieces = [(compile_pointer(mapping.pointer), raw(mapping, values[mapping.meter])) for mapping in group]
    pieces += [(compile_pointer(mapping.time), at) for mapping in group if mapping.time is not None]
    root: Any = None
    for tokens, value in pieces:
        root = _placed(root, tokens, value)
    return root


def _placed(node: Any, tokens: tuple[str, ...], value: object) -> Any:
    """Return a document with one value put where a pointer points; a number as a token stands for a place in a list."""
    if not tokens:
        return value
    token, rest = tokens[0], tokens[1:]
    if token.isdecimal() and not isinstance(node, dict):
        items = list(node or [])
        place = int(token)
        items += [None] * (place + 1 - len(items))
        items[place] = _placed(items[place], rest, value)
        return items
    table = dict(node or {})
    table[token] = _placed(table.get(token), rest, value)
    return table


def _record(mapping: Mapped, value: float, at: float) -> dict[str, object]:
    shown = raw(mapping, value)
    record: dict[str, object] = {"n": mapping.name, "vs" if isinstance(shown, str) else "v": shown}
    if mapping.unit is None and not mapping.is_contact:
        record["u"] = {"degC": "Cel", "1": "/"}.get(mapping.canonical, mapping.canonical)
    if mapping.time is not None:
        record["t"] = at
    return record


def descriptions(mappings: Iterable[Mapped]) -> dict[str, str]:
    """Return topic -> `$description` of every Homie device that is mapped."""
    devices: dict[str, dict[str, Any]] = {}
    for mapping in mappings:
        if mapping.style == "homie":
            node, name = mapping.topic.split("/")[-2:]
            nodes = devices.setdefault(description_topic(mapping.topic), {})
            entry = {"datatype": "boolean"} if mapping.is_contact else {"datatype": "float", "unit": unit_of(mapping)}
            nodes.setdefault(node, {"properties": {}})["properties"][name] = entry
    return {topic: json.dumps({"homie": "5.0", "version": 1, "nodes": nodes}) for topic, nodes in devices.items()}


def unit_of(mapping: Mapped) -> str:
    """Return the unit a Homie property is described with."""
    return mapping.unit or {"degC": "°C", "1": "ratio"}.get(mapping.canonical, mapping.canonical)
