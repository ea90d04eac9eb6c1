"""Relays that were heard: an order topic and its read-back, as a template that a person completes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from bridge.listen.names import CHARGER, EMPTY, ORDERS, STATES, words_of
from bridge.listen.source import Source

#: What a contact says when it is closed -> what it says when it is open.
_OPPOSITE = {"ON": "OFF", "on": "off", "On": "Off", "1": "0", "true": "false", "TRUE": "FALSE", "closed": "open"}


#: What is named so beside a charger tells whether it is fed, wherever it takes its orders.
_SWITCHES = frozenset({"switch", "relay", "contactor", "relais", "rele", "schuetz", "schütz"})
#: A topic that ends so carries an order or a state: what is kept by the broker, or said so often, is a state.
_EITHER, _SAID_OFTEN = frozenset({"switch"}), 3


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
    state_pointer : str
        Where its state stands in a document; empty where the state is the whole payload.
    """

    topic: str
    state_topic: str
    cut: str
    allow: str
    charger: bool
    state_pointer: str = ""


def relays(sources: Iterable[Source]) -> list[HeardRelay]:
    """Return every relay heard, those named after a charger first; one that only tells its state has no order topic."""
    heard = list(sources)
    # in a document only what is called a state is one: a lamp's colour switches as well
    switches = {source.topic: source for source in heard if _tells_its_state(source)}
    switches |= {source.topic: source for source in heard if source.style == "plain" and _switches(source)}
    orders = [topic for topic, source in switches.items() if _takes_orders(topic, source)]
    found, paired = [], set()
    for order in orders:
        state = _state_of(order, switches)
        paired |= {order, state}
        found.append(_relay(order, state, switches))
    for topic in switches:
        if topic not in paired and (switches[topic].at or set(words_of(topic.rpartition("/")[2])) & STATES):
            paired.add(topic)
            found.append(_relay("", topic, switches))
    for topic in switches:
        words = set(words_of(topic))
        if topic not in paired and words & CHARGER and words & _SWITCHES:
            found.append(_relay("", topic, switches))
    return sorted(found, key=lambda one: (not one.charger, not (one.topic and one.state_topic)))


def _takes_orders(topic: str, source: Source) -> bool:
    """Tell whether what was said there are orders: the topic ends in such a word, and no relay tells its state there.

    >>> told = Source("shed/charger/switch", "plain", values=[0.0])
    >>> _takes_orders("shed/charger/switch", told), _takes_orders("shed/charger/set", told)
    (False, True)
    """
    if orders_by_name(topic):
        return True
    kept = len(source.values) > len(source.times)
    state = kept or len(source.values) >= _SAID_OFTEN
    return bool(set(words_of(topic.rpartition("/")[2])) & _EITHER) and not state


def orders_by_name(topic: str) -> bool:
    """Tell whether a topic ends in a word that only orders have.

    >>> orders_by_name("shed/charger/set"), orders_by_name("shed/charger/switch"), orders_by_name("cmnd/plug/POWER")
    (True, False, True)
    """
    words = set(words_of(topic.rpartition("/")[2])) | {topic.partition("/")[0]} & {"cmnd"}
    return bool(words & (ORDERS - _EITHER))


def order_beside(state: str) -> str:
    """Return where a relay that tells its state here usually takes its orders; nobody has heard it do so.

    >>> order_beside("shed/charger/switch"), order_beside("shed/plug/state"), order_beside("stat/plug/POWER")
    ('shed/charger/switch/set', 'shed/plug/set', 'cmnd/plug/POWER')
    """
    first, slash, rest = state.partition("/")
    if first == "stat" and slash:
        return f"cmnd/{rest}"
    above, _, last = state.rpartition("/")
    return f"{above}/set" if above and set(words_of(last)) & STATES else f"{state}/set"


def _switches(source: Source) -> bool:
    return source.contact or (bool(source.values) and set(source.values) <= {0.0, 1.0} and not source.unit)


def _tells_its_state(source: Source) -> bool:
    last = set(words_of(source.at.rpartition("/")[2]))
    return source.style == "json" and source.contact and bool(source.words & _OPPOSITE.keys()) and bool(last & STATES)


def of_order(order: str, heard: Iterable[HeardRelay]) -> HeardRelay | None:
    """Return what was heard of the relay that takes its orders here: by its orders, else by a state that is beside it.

    >>> told = HeardRelay("", "shed/relay/state", "off", "on", False)
    >>> of_order("shed/relay/set", [told]).state_topic, of_order("barn/relay/set", [told])
    ('shed/relay/state', None)
    """
    some = list(heard)
    known = next((one for one in some if one.topic == order), None)
    if known is not None and known.state_topic:
        return known
    state = next((one for one in some if not one.topic and _beside(order, one.state_topic)), None)
    return known if state is None else state._replace(topic=order)


def _state_of(order: str, switches: dict[str, Source]) -> str:
    near = [topic for topic in switches if topic != order and _beside(order, topic)]
    near = [topic for topic in near if switches[topic].at or _own_state(order, topic)]
    return near[0] if near else ""


def _own_state(order: str, topic: str) -> bool:
    """Tell whether a topic is called a state, or differs from its orders' by such a word alone."""
    return bool(set(words_of(topic.rpartition("/")[2])) & STATES) or not _below(order, topic)


def _below(order: str, topic: str) -> bool:
    return topic.rpartition("/")[0] in {order.rpartition("/")[0], order}


def _beside(order: str, topic: str) -> bool:
    """Tell whether a state may be that of orders: in the same place, right above, or the same but for such a word.

    >>> _beside("shed/plug/set", "shed/plug/state"), _beside("shed/plug/set", "shed/plug")
    (True, True)
    >>> _beside("cmnd/plug/POWER", "stat/plug/POWER"), _beside("shed/plug/set", "shed/lamp")
    (True, False)
    """
    parent = order.rpartition("/")[0]
    if _below(order, topic) or topic == parent:
        return True
    pairs = list(zip(order.split("/"), topic.split("/"), strict=False))
    other = [(ours, theirs) for ours, theirs in pairs if ours != theirs]
    alike = order.count("/") == topic.count("/") and len(other) == 1
    return alike and bool(set(words_of(other[0][0])) & ORDERS) and bool(set(words_of(other[0][1])) & (STATES | EMPTY))


def _relay(order: str, state: str, switches: dict[str, Source]) -> HeardRelay:
    source = switches[state or order]
    said = next(iter(sorted(source.words)), "1" if 1.0 in source.values else "0")
    closed = said if said in _OPPOSITE else next((on for on, off in _OPPOSITE.items() if off == said), "ON")
    charger = bool(set(words_of(state or order)) & CHARGER)
    return HeardRelay(order, state, _OPPOSITE[closed], closed, charger, source.at if state else "")
