"""How the relay in the charger's AC feed is asked for: what was heard of it is offered, the rest is its owner's."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from bridge import units
from bridge.commands.setup_answers import UNKNOWN, Asker, doubted, seen
from bridge.commands.spoke_beside import spoke_beside
from bridge.config.models import AUTO_OFF as SPAN
from bridge.listen.relays import HeardRelay, of_order, order_beside, orders_by_name, state_by_name, told_at
from bridge.listen.write import RelayWords

#: Said of a place that is neither a meter nor a relay.
NO_METER = "nothing there was heard that could be a bank's"
#: How a relay's own ways are asked for.
STATE = "Where does it tell its state?"
AUTO_OFF = "Its auto-off: so long after the last order it opens by itself (90 s suits most; none: it has none)?"
#: What is said before, for most people have never looked for it.
OF_AUTO_OFF = (
    "auto-off is a timer in the relay itself, in its own menu often called auto off, timer, countdown or inching: it "
    "alone opens it when broker, network or this computer are gone. `revival prove --auto-off` measures it later, in "
    "about as long as it lasts"
)
#: What follows from the answers that leave it out.
WITHOUT_AUTO_OFF = {
    "none": "none: the bank may be charged, and nothing opens the relay when broker, network or this computer are gone",
    "": "unknown: nothing is permitted to charge until `revival setup --auto-off` says how long it is, or none",
}
POWER_ON = "And when its own power comes back, is it open or closed (it must be open)?"
#: So many of what was heard are named in the question.
SHOWN = 4


#: What is no topic but an answer to another question.
_NO_TOPICS = frozenset({"yes", "y", "on", "off", "open", "closed", "unknown"})


def read_topic(text: str) -> str:
    """Return an exact topic, or `none`.

    >>> read_topic("barn/plug3/set"), read_topic("no")
    ('barn/plug3/set', 'none')
    """
    if text.lower() in {"no", "n", "none"}:
        return "none"
    if re.search(r"\s", text):
        raise ValueError("a topic has no spaces: write it as the broker carries it, such as cabin/charger/set")
    if set("+#") & set(text) or text.startswith("$"):
        raise ValueError("one exact topic, without + and # and not below $: an order goes to one place")
    if text.lower() in _NO_TOPICS or not re.search(r"[^\W\d]{2}", text):
        raise ValueError(f"{text!r} is hardly a topic: write it whole, such as cabin/charger/set, or none")
    return text


def read_place(text: str) -> str:
    """Return where a relay tells its state: an exact topic, a document's with the place in it, or `none`.

    >>> read_place("barn/plug3/state  /relay"), read_place("barn/plug3/state"), read_place("none")
    ('barn/plug3/state /relay', 'barn/plug3/state', 'none')
    """
    topic, pointer = _split(text.strip())
    return f"{read_topic(topic)} {pointer}".strip()


def _split(place: str) -> tuple[str, str]:
    """Return a topic, and where in its document; empty where the payload is the state."""
    found = re.fullmatch(r"(\S+)\s+(/\S*)", place)
    return (place, "") if found is None else (found[1], found[2])


def read_auto_off(text: str) -> str:
    """Return what can be written: nothing where it is unknown."""
    text = text.strip(" .")
    if text.lower() in {UNKNOWN, "none"}:
        return "" if text.lower() == UNKNOWN else "none"
    seconds = units.parse(text, "s")
    if not SPAN[0] <= seconds <= SPAN[1]:
        raise ValueError('between "15 s" and "1 h"; "90 s" suits most')
    return text


def read_power_on(text: str) -> str:
    """Return what can be written: only open, since closed is mended at the relay, not in the file."""
    text = text.strip(" .").lower()
    text = {"off": "open", "on": "closed"}.get(text, text)
    if text == "closed":
        raise ValueError("set the relay itself to be open when its power comes back, then answer open")
    if text not in {"open", UNKNOWN}:
        raise ValueError("open or unknown, please: it is a setting of the relay itself")
    return "" if text == UNKNOWN else text


#: Raises a `ValueError` where the file would not load with such a relay, and what its owner says of it.
Tried = Callable[[HeardRelay, RelayWords], None]
#: Said where Enter takes a relay: whoever switches something else with it has to know what that means.
ENTER_TAKES = (
    " Enter takes what stands in [ ]; none where it switches anything else: the bridge opens its relay as it starts."
)


def likely_one(heard: Sequence[HeardRelay]) -> str:
    """Return the topic that Enter takes: the likeliest if it is a charger's, or alone nearest to the bank's meters.

    One that is called after a pump or a lamp is never taken so: the bridge opens its relay as it starts.

    >>> plug = HeardRelay("", "barn/plug3/state", "OFF", "ON", False, near=1)
    >>> likely_one([plug]), likely_one([plug, plug]), likely_one([plug._replace(charger=True), plug])
    ('barn/plug3/state', 'none', 'barn/plug3/state')
    >>> pump = HeardRelay("", "well/pump/state", "OFF", "ON", False)
    >>> likely_one([pump]), likely_one([plug, pump])
    ('none', 'barn/plug3/state')
    """
    able = [one for one in heard if not one.elsewhere]
    if not able:
        return "none"
    first, second = able[0], able[1].near if len(able) > 1 else 0
    return (first.topic or first.state_topic) if first.charger or first.near > second else "none"


def read_order(asker: Asker, heard: Sequence[HeardRelay], tried: Callable[[HeardRelay], None]) -> Callable[[str], str]:
    """Return what reads the topic of a relay's orders.

    One that was heard to tell a state is refused; in a terminal its order topic is asked for instead.

    Parameters
    ----------
    tried : callable
        Raises a `ValueError` where the file would not load with such a relay.
    """

    def order(text: str) -> str:
        if (state := _state_at(text, heard)) is not None:
            raise ValueError(f"{text} is where a relay tells its state; {_fix(state)}")
        topic = read_topic(text)
        if state_by_name(topic):
            raise ValueError(
                f"{topic} is by its name where a relay tells its state; it takes its orders elsewhere, often at "
                f"{order_beside(topic)}: its own settings say where"
            )
        if topic != "none":
            tried(HeardRelay(topic, "", "OFF", "ON", True))
        return topic

    def answer(text: str) -> str:
        text = _split(text.strip())[0]
        state = _state_at(text, heard) or _in_a_document(text, heard)
        if state is None or state.topic or not asker.asks or asker.arguments.relay is not None:
            return order(text)
        asker.console.print(
            f"{text} is where it tells its state. Where it takes orders was not heard: orders are rarely heard, nobody "
            "sends any now; its own settings say where",
            markup=False,
        )
        topic = asker.asked("Where does it take its orders (none for no relay)?", order_beside(text), order)
        asker.instead("relay", topic)
        asker.states[topic] = text
        return topic

    return answer


def taken_as_meter(place: str, heard: Sequence[HeardRelay], own: str = "") -> str:
    """Return by which option a relay's topic is said that was named as a meter; empty where it is no relay's.

    Parameters
    ----------
    place : str
        Topic, and where in the payload.
    own : str
        The order topic of the bank's relay in the file; empty where there is none.
    """
    topic = place.partition(" ")[0]
    one = next((one for one in heard if topic in {one.topic, one.state_topic}), None)
    if one is None and not state_by_name(topic):
        return ""
    if one is not None and topic == one.topic:
        return f"takes a relay's orders and is no meter: --relay {topic}, if it switches the charger's AC feed"
    if own:
        return f"is where a relay tells its state and is no meter: --relay-state {topic}, if it is that of {own}"
    order = (one.topic if one is not None else "") or order_beside(topic)
    known = "" if one is not None and one.topic else ", if that is where it takes its orders, as its own settings say"
    return f"is where a relay tells its state and is no meter: --relay {order} --relay-state {topic}{known}"


def _state_at(topic: str, heard: Sequence[HeardRelay]) -> HeardRelay | None:
    """Return the relay that was heard to tell its state there, by the whole payload."""
    return next((one for one in heard if one.state_topic == topic != one.topic and not one.state_pointer), None)


def _in_a_document(topic: str, heard: Sequence[HeardRelay]) -> HeardRelay | None:
    """Return the relay that was heard to tell its state in a document there; orders may go there as well."""
    return next((one for one in heard if one.state_topic == topic != one.topic and one.state_pointer), None)


def _fix(one: HeardRelay) -> str:
    """Return where else orders go, for an answer that named a relay's state."""
    if one.topic:
        return f"{one.topic} takes its orders"
    return (
        f"where it takes its orders was not heard, for nobody sends any now: often {order_beside(one.state_topic)}, "
        "as its own settings say"
    )


def as_heard(heard: Sequence[HeardRelay], own: str = "none") -> str:
    """Return what is said of the relays that were heard, behind the question for one.

    Parameters
    ----------
    own : str
        The order topic in the file, which may be where a relay was heard to tell its state.
    """
    orders = [one.topic for one in heard if one.topic][:SHOWN]
    states = [one.state_topic for one in heard if not one.topic][:SHOWN]
    said = f" Heard as taking orders: {', '.join(orders)}." if orders else ""
    alone = (
        f" Heard to tell a relay's state: {', '.join(states)}; where orders go was not heard, for nobody sends any "
        "now. If it is the charger's, name it, and its order topic is asked for."
    )
    return said + (alone if states else "") + named_wrongly(heard, own)


def named_wrongly(heard: Sequence[HeardRelay], own: str) -> str:
    """Return that the order topic in the file is where a relay was heard to tell its state; empty where it is not."""
    wrong = _state_at(own, heard)
    return "" if wrong is None else f" The file's own, {own}, is where a relay tells its state; {_fix(wrong)}."


def asked_of(
    asker: Asker, topic: str, heard: Sequence[HeardRelay] | None, tried: Tried
) -> tuple[HeardRelay, RelayWords]:
    """Return what is said of the relay that takes its orders there: its words and state as heard, the rest as asked.

    Parameters
    ----------
    heard : sequence of HeardRelay or None
        None where the broker was not listened to.
    tried : callable
        Raises a `ValueError` where the file would not load with such a relay.
    """
    known = of_order(topic, heard or ())
    relay = known or HeardRelay(topic, "", "OFF", "ON", True)
    if known is None:
        how = "assumed, for no order to it was heard" if heard is not None else "assumed: nothing of it is known yet"
    elif any(one.topic == topic for one in heard or ()):
        how = "as it was heard to say"
    else:
        how = f"as {relay.state_topic} was heard to say"
    asker.console.print(
        f'orders to {relay.topic}: "{relay.allow}" lets it close, "{relay.cut}" opens it ({how}); other words are '
        "written as allow and cut in the file",
        markup=False,
    )
    if how.startswith("assumed") and not orders_by_name(topic):
        asker.console.print(
            f"{topic} ends in no word for orders, such as set: if the relay tells its state there, orders go "
            f"elsewhere, often to {order_beside(topic)}; its own settings say where",
            markup=False,
        )

    def read_state(text: str) -> str:
        if text == topic:
            raise ValueError(
                f"{topic} cannot be both: where it takes its orders it says nothing of itself. Where does it tell its "
                "state? none where it tells nobody"
            )
        state = read_place(text)
        tried(_telling(asker, relay, state), RelayWords())
        return state

    if asker.arguments.relay_state is None and topic != "none" and asker.states.get(topic) == relay.state_topic:
        state = relay.state_topic  # named by its owner just now, and heard
        asker.remember("relay-state", state)
    else:
        state = asker.answer(
            "relay-state",
            STATE,
            relay.state_topic or "none",
            doubted(asker, "relay_state", read_state, lambda state: unheard(asker, state, topic)),
        )
    relay = _telling(asker, relay, state)
    if relay.state_pointer:
        opened, closed = relay.state_open or relay.cut, relay.state_closed or relay.allow
        asker.console.print(
            f'its state stands at {relay.state_pointer} in the document at {relay.state_topic}: "{opened}" is open, '
            f'"{closed}" is closed',
            markup=False,
        )
    if asker.asks and asker.arguments.auto_off is None:
        asker.console.print(OF_AUTO_OFF, markup=False)
    auto_off = asker.answer(
        "auto-off", AUTO_OFF, UNKNOWN, seen(read_auto_off, lambda said: tried(relay, RelayWords(said)))
    )
    if auto_off in WITHOUT_AUTO_OFF and asker.asks:
        asker.console.print(WITHOUT_AUTO_OFF[auto_off], markup=False)
    power_on = asker.answer(
        "power-on", POWER_ON, UNKNOWN, seen(read_power_on, lambda said: tried(relay, RelayWords(auto_off, said)))
    )
    return relay, RelayWords(auto_off, power_on)


def _telling(asker: Asker, relay: HeardRelay, state: str) -> HeardRelay:
    """Return the relay as it tells its state at a place, or at `none`; as heard where it was heard there."""
    topic, pointer = _split(state)
    if topic == relay.state_topic and pointer in {"", relay.state_pointer}:
        return relay
    silent = relay._replace(state_topic="", state_pointer="", state_open="", state_closed="")
    if topic == "none":
        return silent
    told = document_at(asker, state)
    if told is None:
        return silent._replace(state_topic=topic, state_pointer=pointer)
    words = (told.cut, told.allow)
    differ = [word.lower() for word in words] != [relay.cut.lower(), relay.allow.lower()]
    return silent._replace(
        state_topic=topic,
        state_pointer=told.state_pointer,
        state_open=words[0] if differ else "",
        state_closed=words[1] if differ else "",
    )


def document_at(asker: Asker, state: str) -> HeardRelay | None:
    """Return what was heard to say a relay's state in a document at a place; None where no such document was heard.

    Raises
    ------
    ValueError
        A document was heard at the topic, and which of its places is the state is not certain.
    """
    topic, pointer = _split(state)
    sources = asker.heard.switches if asker.heard is not None else []
    told = told_at(sources, topic)
    if pointer:
        return next((one for one in told if one.state_pointer == pointer), None)
    here = [source for source in sources if source.topic == topic]
    if not any(source.at for source in here) or not all(source.at for source in here):
        return None
    if len(told) != 1:
        says = ", ".join(one.state_pointer for one in told[:SHOWN])
        raise ValueError(
            f"{topic} carries a document, and {f'several things in it say on or off: {says}' if told else _NO_STATE}; "
            f"name the place behind the topic, such as: {topic} {told[0].state_pointer if told else '/relay'}"
        )
    return told[0]


#: Said of a document in which a relay's state is looked for.
_NO_STATE = "nothing was heard in it that says on or off"


def unheard(asker: Asker, state: str, order: str) -> str:
    """Return that nothing was heard where a relay is said to tell its state, and what was heard beside it."""
    topic, pointer = _split(state)
    if asker.heard is None or state == "none":
        return ""
    if topic in asker.heard.topics:
        told = [one.state_pointer for one in told_at(asker.heard.switches, topic)]
        if not pointer or pointer in told:
            return ""
        also = f"; it stands there at: {', '.join(told[:SHOWN])}" if told else ""
        return f"nothing that says on or off was heard at {state}{also}"
    near = spoke_beside(topic, asker.heard.topics - {order})
    return f"nothing was heard at {state}{f'; heard beside it: {near}' if near else ''}"
