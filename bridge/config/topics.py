"""One topic, one speaker: a relay that listened where somebody else speaks would take a reading for an order."""

from __future__ import annotations

from bridge.config.meters import Findings, expand
from bridge.config.models import CabinTable


def check_topics(model: CabinTable, found: Findings) -> None:
    """Refuse relays whose topics are the bridge's own, a meter's, or another relay's."""
    speakers = _meters(model)
    orders = {bank.relay.topic: bank.id for bank in model.bank if bank.relay is not None}
    states: dict[str, str] = {}
    for bank in model.bank:
        if bank.load_relay is not None:
            where = f'[[bank]] "{bank.id}", [bank.load_relay]'
            _order(model, where, bank.load_relay.topic, speakers, found)
        if bank.relay is None:
            continue
        where, relay = f'[[bank]] "{bank.id}", [bank.relay]', bank.relay
        _order(model, where, relay.topic, speakers, found)
        state = relay.state_topic
        if state is None:
            continue
        _own(model, where, "state_topic", state, found)
        if state in orders:
            found.errors.append(
                f'{where}: state_topic "{state}" is where the relay of "{orders[state]}" takes orders: name the topic '
                "on which this relay reports its state"
            )
        if states.setdefault(state, relay.topic) != relay.topic:
            found.errors.append(
                f'{where}: state_topic "{state}" is also that of the relay on "{states[state]}": each relay reports '
                "on a topic of its own"
            )
        # A relay that also measures may say both in one document: its state then stands at another place of it.
        pointers = speakers.get(state, set())
        if pointers and (relay.state_pointer is None or None in pointers or relay.state_pointer in pointers):
            found.errors.append(
                f'{where}: state_topic "{state}" is a meter\'s: name the topic on which the relay reports, or '
                "give state_pointer where one document carries both"
            )


def _meters(model: CabinTable) -> dict[str, set[str | None]]:
    """Return topic of every meter -> where in its payloads values are read; None = the payload is the value."""
    speakers: dict[str, set[str | None]] = {}
    for bank in model.bank:
        for meter, _ in expand(model, bank):
            speakers.setdefault(meter.topic, set()).add(meter.pointer if meter.style == "json" else None)
    return speakers


def _order(model: CabinTable, where: str, topic: str, speakers: dict[str, set[str | None]], found: Findings) -> None:
    _own(model, where, "topic", topic, found)
    if topic in speakers:
        found.errors.append(
            f'{where}: topic "{topic}" is a meter\'s: its readings would reach the relay as orders; name the topic on '
            "which the relay takes its orders"
        )


def _own(model: CabinTable, where: str, key: str, topic: str, found: Findings) -> None:
    """Find topics on which the bridge itself speaks or listens."""
    site = f"{model.site.root}/{model.site.id}"
    trees = [site, *(f"{site}-{bank.id}" for bank in model.bank), "revival", "rehearsal"]
    if model.hub is not None:
        trees.append(model.hub.discovery)
    if topic == model.site.time_source or any(topic == tree or topic.startswith(f"{tree}/") for tree in trees):
        found.errors.append(f"{where}: {key} \"{topic}\" is one of the bridge's own topics: name the relay's")
