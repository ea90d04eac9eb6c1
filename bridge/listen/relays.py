"""Relays that were heard: an order topic and its read-back, as a template that a person completes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from bridge.listen.names import CHARGER, ORDERS, STATES, words_of
from bridge.listen.source import Source

#: What a contact says when it is closed -> what it says when it is open.
_OPPOSITE = {"ON": "OFF", "on": "off", "On": "Off", "1": "0", "true": "false", "TRUE": "FALSE", "closed": "open"}


#: What is named so beside a charger tells whether it is fed, wherever it takes its orders.
_SWITCHES = frozenset({"switch", "relay", "contactor", "relais", "rele", "schuetz", "schütz"})


class HeardRelay(NamedTuple):
    """A relay's topics, and its words.

    Attributes
    ----------
    topic, state_topic : str
        Where it takes orders, where it tells its state; empty where not heard.
    cut, allow : str
        As it says them.
    charger : bool
        Whether its name says charger.
    """

    topic: str
    state_topic: str
    cut: str
    allow: str
    charger: bool


def relays(sources: Iterable[Source]) -> list[HeardRelay]:
    """Return every relay heard, those named after a charger first; one that only tells its state has no order topic."""
    switches = {source.topic: source for source in sources if source.style == "plain" and _switches(source)}
    orders = [topic for topic in switches if set(words_of(topic.rpartition("/")[2])) & ORDERS]
    found, paired = [], set()
    for order in orders:
        state = _state_of(order, switches)
        paired |= {order, state}
        found.append(_relay(order, state, switches))
    for topic in switches:
        if topic not in paired and set(words_of(topic.rpartition("/")[2])) & STATES:
            paired.add(topic)
            found.append(_relay("", topic, switches))
    for topic in switches:
        words = set(words_of(topic))
        if topic not in paired and words & CHARGER and words & _SWITCHES:
            found.append(_relay("", topic, switches))
    return sorted(found, key=lambda one: (not one.charger, not (one.topic and one.state_topic)))


def _switches(source: Source) -> bool:
    return source.contact or (bool(source.values) and set(source.values) <= {0.0, 1.0} and not source.unit)


def _state_of(order: str, switches: dict[str, Source]) -> str:
    parent = order.rpartition("/")[0]
    near = [topic for topic in switches if topic != order and topic.rpartition("/")[0] in {parent, order}]
    near = [topic for topic in near if set(words_of(topic.rpartition("/")[2])) & STATES]
    return near[0] if near else ""


def _relay(order: str, state: str, switches: dict[str, Source]) -> HeardRelay:
    source = switches[state or order]
    said = next(iter(sorted(source.words)), "1" if 1.0 in source.values else "0")
    closed = said if said in _OPPOSITE else next((on for on, off in _OPPOSITE.items() if off == said), "ON")
    charger = bool(set(words_of(state or order)) & CHARGER)
    return HeardRelay(order, state, _OPPOSITE[closed], closed, charger)
