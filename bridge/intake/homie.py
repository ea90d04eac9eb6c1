"""Homie convention 5: the value is bare, its unit and datatype stand in the device's ``$description``."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from bridge.intake.document import document
from bridge.intake.mapping import Decoded, Mapping, Rejected, RejectError
from bridge.intake.value import Extract, extractor, text_of
from bridge.message import Message
from bridge.units import UnitError
from rules.events import Reading

_NUMERIC = frozenset({"float", "integer"})

#: Levels of a property's topic, ROOT/5/DEVICE/NODE/PROPERTY; the root may have more.
_LEVELS = 5


def description_topic(topic: str) -> str:
    """Return where the device that owns this property describes itself.

    Raises
    ------
    ValueError
        The topic is no Homie 5 property.

    Examples
    --------
    >>> description_topic("homie/5/shunt/dc/voltage")
    'homie/5/shunt/$description'
    """
    parts = topic.split("/")
    if len(parts) < _LEVELS or parts[-4] != "5" or not all(parts):
        raise ValueError(f'topic "{topic}" is no Homie 5 property: it reads homie/5/DEVICE/NODE/PROPERTY')
    return "/".join((*parts[:-2], "$description"))


class HomieDevice:
    """One device of the bus: its description, and the mapped properties.

    Properties are published only when they change, and the broker delivers retained ones in any order; a value that
    arrives before the description therefore waits for it instead of being lost until the next change.
    """

    def __init__(self, description: str, mappings: Sequence[Mapping]) -> None:
        self.topic = description
        self._by_topic: dict[str, list[Mapping]] = {}
        for mapping in mappings:
            self._by_topic.setdefault(mapping.topic, []).append(mapping)
        self._compiled: dict[str, list[tuple[str, str, Extract]] | str] = {}
        self._waiting: dict[str, Message] = {}
        self._described = False

    def routes(self) -> dict[str, Callable[[Message], Decoded]]:
        """Return topic -> decoder, for the routing table."""
        return {self.topic: self.describe, **dict.fromkeys(self._by_topic, self.value)}

    def describe(self, message: Message) -> Decoded:
        """Learn units and datatypes; decode what has been waiting for them."""
        try:
            description = document(message.payload)
            nodes = description.get("nodes", {}) if isinstance(description, dict) else None
            if not isinstance(nodes, dict):
                raise RejectError("not a Homie description")
        except RejectError as error:
            return Decoded((), (Rejected(self.topic, error.args[0]),))
        rejected: tuple[Rejected, ...] = ()
        for topic, mappings in self._by_topic.items():
            try:
                self._compiled[topic] = _compile(nodes, topic, mappings)
            except (RejectError, UnitError) as error:
                reason = "wrong unit" if isinstance(error, UnitError) else str(error.args[0])
                self._compiled[topic] = reason
                rejected += (Rejected(topic, reason),)
        self._described = True
        readings: list[Reading] = []
        for waiting in self._waiting.values():
            decoded = self.value(waiting)
            rejected += decoded.rejected
            # The bridge's clock never runs backward: what waited enters now, dated to when it came.
            readings.extend(reading._replace(at=message.at) for reading in decoded.readings)
        self._waiting.clear()
        return Decoded(tuple(readings), rejected)

    def value(self, message: Message) -> Decoded:
        """Decode a property's value."""
        topic, payload, at, retained, *_ = message
        if not self._described:
            self._waiting[topic] = message
            return Decoded((), (Rejected(topic, "no description yet"),))
        compiled = self._compiled[topic]
        if isinstance(compiled, str):
            return Decoded((), (Rejected(topic, compiled),))
        readings: list[Reading] = []
        rejected: tuple[Rejected, ...] = ()
        try:
            text = text_of(payload)
        except RejectError as error:
            return Decoded((), (Rejected(topic, error.args[0]),))
        for bank, meter, extract in compiled:
            try:
                readings.append(Reading(bank, meter, extract(text), at, at, retained))
            except RejectError as error:
                rejected += (Rejected(topic, error.args[0]),)
        return Decoded(tuple(readings), rejected)


def _compile(nodes: dict[str, object], topic: str, mappings: Sequence[Mapping]) -> list[tuple[str, str, Extract]]:
    """Return conversions of one property from its description.

    Raises
    ------
    RejectError, UnitError
        Not described, a datatype that is no number, or a unit that does not fit the quantity.
    """
    node_id, property_id = topic.split("/")[-2:]
    found: object = nodes
    for key in (node_id, "properties", property_id):
        found = found.get(key) if isinstance(found, dict) else None
    if not isinstance(found, dict):
        raise RejectError("not in the description")
    unit, datatype = found.get("unit"), found.get("datatype")
    compiled = []
    for mapping in mappings:
        if not mapping.is_contact and datatype not in _NUMERIC:
            raise RejectError("wrong datatype")
        spelled = str(unit) if unit is not None else mapping.unit
        if spelled is None and not mapping.is_contact:
            raise RejectError("no unit")
        compiled.append((mapping.bank, mapping.meter, extractor(mapping, spelled, "text")))
    return compiled
