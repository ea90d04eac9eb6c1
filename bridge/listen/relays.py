"""Relays that were heard: an order topic and its read-back, as a template that a person completes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from itertools import pairwise
from typing import NamedTuple

from bridge.listen.banks import Found
from bridge.listen.evidence import HALF_BELIEVED
from bridge.listen.guess import Guess
from bridge.listen.names import in_levels, words_of
from bridge.listen.on_off import both_words
from bridge.listen.physics import Series
from bridge.listen.places import shared
from bridge.listen.source import Source
from bridge.listen.vocabulary import (
    AC,
    CHARGER,
    CHARGES,
    EMPTY,
    ENGAGED,
    ORDERS,
    OTHER_LOADS,
    RELAYS,
    STATES,
    THINGS,
    WORDS,
)

#: A topic that ends so carries an order or a state: what is kept by the broker, or said so often, is a state.
_EITHER, _SAID_OFTEN = frozenset({"switch"}), 3
#: Amps flow from this share of the most on, and from so much; below the other share they do not [1], [A] (assumed).
_FLOWS, _LEAST, _NOT = 0.3, 0.5, 0.1
#: A state is the charger's at this share of moments; of each kind so many have to be heard [1] (assumed).
_FOLLOWS, _MOMENTS = 0.95, 3


#: What a switch is called that feeds a charger, beside its own words.
_FED = AC | CHARGER


class HeardRelay(NamedTuple):
    """A relay's topics, and its words.

    Attributes
    ----------
    topic, state_topic : str
        Where it takes orders, where it tells its state; empty where not heard.
    cut, allow : str
        As its orders say them; as it says its state where no order was heard.
    charger : bool
        Whether its name, or what is said of it elsewhere, says charger.
    state_pointer : str
        Where its state stands in a document; empty where the state is the whole payload.
    state_open, state_closed : str
        As it says its state where that is not as its orders say it, else empty.
    near : int
        How many words its place has in common with that of a bank's volts.
    """

    topic: str
    state_topic: str
    cut: str
    allow: str
    charger: bool
    state_pointer: str = ""
    state_open: str = ""
    state_closed: str = ""
    near: int = 0

    @property
    def elsewhere(self) -> bool:
        """Whether its name says that it switches something else than a charger: a pump, a lamp, a fan.

        >>> HeardRelay("", "well/pump/state", "OFF", "ON", False).elsewhere
        True
        >>> HeardRelay("", "barn/plug3/state", "OFF", "ON", False).elsewhere
        False
        """
        called = set(words_of(f"{self.topic} {self.state_topic} {self.state_pointer}"))
        other = called & (THINGS | OTHER_LOADS) or any(WORDS.get(word) in {"fan", "door"} for word in called)
        return bool(other) and not self.charger


def relays(sources: Iterable[Source], banks: Iterable[Found] = ()) -> list[HeardRelay]:
    """Return every relay heard, the charger's likeliest first; one that only tells its state has no order topic.

    The charger's is on while amps flow into the bank, and off while none do; else its name tells, and what stands
    nearest to the bank's volts comes first.

    Parameters
    ----------
    sources : iterable of Source
        What was heard, with switches' words in any language.
    banks : iterable of Found
        The banks that were found.
    """
    heard, found_banks = list(sources), list(banks)
    flows = [one for bank in found_banks for one in bank.guesses if one.quantity == "current"]
    flows = [one for one in flows if one.sure > HALF_BELIEVED]
    two_states = [source for source in heard if _switches(source)]
    steps = {_key(source) for source in two_states if any(_follows(source, _into(one)) for one in flows)}
    # in a document only what is called a state is one: a lamp's colour switches as well
    switches = {source.topic: source for source in _of_plugs(two_states)}
    switches |= {source.topic: source for source in two_states if _tells_its_state(source)}
    switches |= {source.topic: source for source in two_states if source.style == "plain"}
    switches |= {source.topic: source for source in two_states if _key(source) in steps}
    orders = [topic for topic, source in switches.items() if _takes_orders(topic, source)]
    found, paired = [], set()
    for order in orders:
        state = _state_of(order, switches)
        paired |= {order, state}
        found.append(_relay(order, state, switches))
    alone = [topic for topic in switches if topic not in paired]
    found += [_relay("", topic, switches) for topic in alone if _is_a_state(switches[topic], steps)]
    sure_flows = [one for one in flows if not any(e.name.startswith("sign ") and e.weight < 0 for e in one.evidence)]
    volts = [bank.voltage for bank in found_banks if bank.voltage is not None]

    def placed(one: HeardRelay) -> HeardRelay:
        source = switches[one.state_topic or one.topic]
        near = max((shared(source, volt.source) for volt in volts), default=0)
        return one._replace(near=near, charger=one.charger or _key(source) in steps)

    def likely(one: HeardRelay) -> tuple[bool, bool, bool, bool, bool, bool, bool, int, bool, bool]:
        source = switches[one.state_topic or one.topic]
        named = bool(_called(source) & RELAYS)
        against = any(_against(source, _into(flow)) for flow in sure_flows)
        mapped = bool(one.topic and one.state_topic)
        # of one device that tells it twice the plain word is nearer to its switch than a document about all of it
        document = source.style != "plain"
        measured = _measured(source, heard)
        return (
            *(_key(source) not in steps, against, not one.charger, one.elsewhere, not one.near, not mapped, not named),
            *(-one.near, not measured, document),
        )

    return sorted(map(placed, found), key=likely)


def _of_plugs(two_states: list[Source]) -> list[Source]:
    """Return what in a document tells a plug's state: called a relay, and the only one there.

    >>> some = [("hut/p3", "/relay"), ("hut/p4", "/blink"), ("hut/p5", "/relay1"), ("hut/p5", "/relay2")]
    >>> told = [Source(topic, "json", at, contact=True) for topic, at in some]
    >>> [f"{one.topic} {one.at}" for one in _of_plugs(told)]
    ['hut/p3 /relay']
    """
    said = [source for source in two_states if source.style == "json" and source.contact]
    told = [source for source in said if _last(source) & RELAYS]
    topics = Counter(source.topic for source in told)
    return [source for source in told if topics[source.topic] == 1]


def _measured(source: Source, heard: list[Source]) -> bool:
    """Tell whether power is told in the same document: so does a plug that measures."""
    beside = (one for one in heard if one.topic == source.topic and one.at and not one.contact)
    return any(WORDS.get(word) == "power" for one in beside for word in words_of(one.at))


def told_at(sources: Iterable[Source], topic: str) -> list[HeardRelay]:
    """Return everything in the documents of a topic that says one of two states: its owner says it is a relay's.

    >>> told = [Source("hut/p3", "json", "/out", contact=True), Source("hut/p3", "json", "/alarm", values=[0.0])]
    >>> [(one.state_pointer, one.cut) for one in told_at(told, "hut/p3")]
    [('/out', 'false')]
    """
    here = [one for one in sources if one.topic == topic and one.style == "json" and one.at and _switches(one)]
    here = [one for one in here if one.contact] or here
    by_name = [one for one in here if _last(one) & (STATES | RELAYS)]
    return [_relay("", topic, {topic: one}) for one in (by_name if len(by_name) == 1 else here)]


def _key(source: Source) -> tuple[str, str]:
    return source.topic, source.at


def _is_a_state(source: Source, steps: set[tuple[str, str]]) -> bool:
    """Tell whether a switch that takes no orders tells a relay's state: by its steps, its name, or its charger's."""
    last = _last(source)
    beside_a_charger = _of_a_charger(source) and bool(_called(source) & RELAYS or last & ENGAGED)
    by_name = bool(last & STATES) or (_of_a_charger(source) and (state_by_name(source.topic) or _feeds(source)))
    return _key(source) in steps or bool(source.at) or by_name or beside_a_charger


def _called(source: Source) -> set[str]:
    """Return the words of a switch's topic, of its own among a list of relays, and of what it is called elsewhere."""
    return set(words_of(f"{source.topic} {source.said} {source.at if _of_a_list(source) else ''}"))


def _of_a_list(source: Source) -> bool:
    """Tell whether a switch is one of several that a document lists under a word for relays: ``relays`` ``/charger``.

    >>> some = [("hut/relays", "/charger"), ("hut/charger", "/fan"), ("hut/relays/set", "/charger")]
    >>> [_of_a_list(Source(topic, "json", at, contact=True)) for topic, at in some]
    [True, False, False]
    """
    return bool(source.at) and bool(set(words_of(_end(source.topic))) & RELAYS) and not orders_by_name(source.topic)


def _of_a_charger(source: Source) -> bool:
    spoken = _called(source) | set(words_of(" ".join(source.around)))
    # a telephone that charges has no contactor
    by_its_end = spoken & CHARGES and spoken & RELAYS and not spoken & THINGS
    return bool(spoken & CHARGER or by_its_end)


def _feeds(source: Source) -> bool:
    """Tell whether what switches is called the charger itself, its outlet or its power: ``plugs/charger``.

    >>> some = [Source(topic, "plain", contact=True) for topic in ("plugs/charger", "charger/socket", "charger/fan")]
    >>> [_feeds(one) for one in some]
    [True, True, False]
    """
    last = _last(source)
    return source.contact and bool(last & _FED or any(WORDS.get(word) in {"power", "current"} for word in last))


def _into(current: Guess) -> Series:
    """Return what flows into the bank [A]."""
    way = -1.0 if current.sign == "discharging" else 1.0
    return [(when, way * value) for when, value in current.series]


def _follows(source: Source, amps: Series) -> bool:
    """Tell whether a switch is closed while amps flow into a bank, and open while none do: both were heard.

    >>> flows = [(float(t), 9.0 if t < 60 or t > 120 else -0.4) for t in range(180)]
    >>> told = [(float(t), float(t < 60 or t > 120)) for t in range(0, 180, 10)]
    >>> plug = Source("hut/p1", "plain", values=[v for _, v in told], times=[t for t, _ in told])
    >>> lamp = Source("hut/p2", "plain", values=[1.0] * 18, times=[t for t, _ in told])
    >>> _follows(plug, flows), _follows(lamp, flows)
    (True, False)
    """
    states = source.series
    if len({value for _, value in states}) == 1 or not amps:
        return False
    turned = bool(source.words) and source.words <= {"open", "closed", "OPEN", "CLOSED", "Open", "Closed"}
    most = max(value for _, value in amps)
    agree = {True: 0, False: 0}
    against = 0
    for (when, state), (then, following) in pairwise(states):
        between = [value for moment, value in amps if when <= moment <= then]
        if state != following or not between:
            continue
        flowing = min(between) >= max(_LEAST, _FLOWS * most)
        if not flowing and max(between) > _NOT * most:
            continue
        if flowing == ((state == 0.0) if turned else (state == 1.0)):
            agree[flowing] += 1
        else:
            against += 1
    total = sum(agree.values())
    return min(agree.values()) >= _MOMENTS and total >= _FOLLOWS * (total + against)


def _against(source: Source, amps: Series) -> bool:
    """Tell whether a switch is open all the while that amps flow into a bank: it is no relay of its charger.

    >>> flows = [(float(t), 9.0) for t in range(180)]
    >>> told = [float(t) for t in range(0, 180, 10)]
    >>> some = [Source("hut/r1", "plain", values=[each] * 18, times=told) for each in (0.0, 1.0)]
    >>> [_against(one, flows) for one in some]
    [True, False]
    """
    turned = bool(source.words) and source.words <= {"open", "closed", "OPEN", "CLOSED", "Open", "Closed"}
    open_all_along = len(source.times) >= _MOMENTS and set(source.values) == {1.0 if turned else 0.0}
    return open_all_along and bool(amps) and min(value for _, value in amps) >= _LEAST


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
    return bool(set(words_of(_end(topic))) & _EITHER) and not state


def _end(topic: str) -> str:
    """Return a topic's last level."""
    return in_levels(topic).rpartition("/")[2]


def orders_by_name(topic: str) -> bool:
    """Tell whether a topic ends in a word that only orders have.

    >>> orders_by_name("shed/charger/set"), orders_by_name("shed/charger/switch"), orders_by_name("cmnd/plug/POWER")
    (True, False, True)
    """
    words = set(words_of(_end(topic))) | {in_levels(topic).partition("/")[0]} & {"cmnd"}
    return bool(words & (ORDERS - _EITHER))


def state_by_name(topic: str) -> bool:
    """Tell whether a topic is called as only a state is.

    >>> state_by_name("shed/charger/state"), state_by_name("stat/plug/POWER"), state_by_name("shed/charger/switch")
    (True, True, False)
    """
    first, slash, _ = in_levels(topic).partition("/")
    words = set(words_of(_end(topic)))
    return (first == "stat" and bool(slash)) or bool(words & (STATES - ORDERS) and not words & (ORDERS - _EITHER))


def order_beside(state: str) -> str:
    """Return where a relay that tells its state here usually takes its orders; nobody has heard it do so.

    >>> order_beside("shed/charger/switch"), order_beside("shed/plug/state"), order_beside("stat/plug/POWER")
    ('shed/charger/switch/set', 'shed/plug/set', 'cmnd/plug/POWER')
    >>> order_beside("shed.plug.state")
    'shed.plug.set'
    """
    if in_levels(state) != state:
        folder, stroke, own = state.rpartition("/")
        return f"{folder}{stroke}{order_beside(own.replace('.', '/')).replace('/', '.')}"
    first, slash, rest = state.partition("/")
    if first == "stat" and slash:
        return f"cmnd/{rest}"
    above, _, last = state.rpartition("/")
    return f"{above}/set" if above and set(words_of(last)) & STATES else f"{state}/set"


def _switches(source: Source) -> bool:
    return source.contact or (bool(source.values) and set(source.values) <= {0.0, 1.0} and not source.unit)


def _last(source: Source) -> set[str]:
    """Return the last words of a name that say anything: of a place called a value its topic's."""
    spoken = [part for part in (*source.levels.split("/"), *source.at.split("/")) if part]
    telling = [part for part in spoken if part.lower() not in EMPTY - STATES]
    return set(words_of((telling or spoken)[-1]))


def _tells_its_state(source: Source) -> bool:
    last = _last(source)
    # a plug's own document calls it after its relay: {"relay": "ON", "watts": 4.2}
    charges = _of_a_charger(source) and (last & (ENGAGED | RELAYS) or _feeds(source))
    called = last & (STATES | RELAYS - _EITHER) or charges
    return source.style == "json" and source.contact and bool(called)


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
    """Tell whether a topic is called a state or a relay, or differs from its orders' by such a word alone."""
    last = set(words_of(_end(topic)))
    return bool(last & (STATES | RELAYS - _EITHER | ENGAGED)) or not _below(order, topic)


def _below(order: str, topic: str) -> bool:
    order, above = in_levels(order), in_levels(topic).rpartition("/")[0]
    return above in {order.rpartition("/")[0], order}


def _beside(order: str, topic: str) -> bool:
    """Tell whether a state may be that of orders: in the same place, right above, or the same but for such a word.

    >>> _beside("shed/plug/set", "shed/plug/state"), _beside("shed/plug/set", "shed/plug")
    (True, True)
    >>> _beside("cmnd/plug/POWER", "stat/plug/POWER"), _beside("shed/plug/set", "shed/lamp")
    (True, False)
    """
    order, topic = in_levels(order), in_levels(topic)
    parent = order.rpartition("/")[0]
    if _below(order, topic) or topic == parent:
        return True
    pairs = list(zip(order.split("/"), topic.split("/"), strict=False))
    other = [(ours, theirs) for ours, theirs in pairs if ours != theirs]
    alike = order.count("/") == topic.count("/") and len(other) == 1
    return alike and bool(set(words_of(other[0][0])) & ORDERS) and bool(set(words_of(other[0][1])) & (STATES | EMPTY))


def _relay(order: str, state: str, switches: dict[str, Source]) -> HeardRelay:
    """Return a relay with the words that its orders and its state were heard to say."""
    source = switches[state or order]
    words = _words(source)
    ordered = _words(switches[order]) if order and switches[order].words else words
    told = words if state and ordered != words else ("", "")
    return HeardRelay(order, state, *ordered, _of_a_charger(source), source.at if state else "", *told)


def _words(source: Source) -> tuple[str, str]:
    """Return what a switch says while open and while closed, as it was heard to say one of them."""
    said = next(iter(sorted(source.words)), "true" if source.contact else "1")
    return both_words(said)
