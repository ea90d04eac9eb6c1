"""A relay that is a plug which measures: what it tells of its outlet is the charger's, which hangs on it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from bridge.commands.setup_answers import UNKNOWN, Asker, seen
from bridge.commands.setup_heard import valued
from bridge.commands.setup_limits import ASKED, MAINS, read_mains
from bridge.config import Loaded
from bridge.listen.banks import Found
from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH, TAKEN
from bridge.listen.guess import Guess, guess, told
from bridge.listen.places import path
from bridge.listen.relays import HeardRelay, orders_by_name
from bridge.listen.source import Source
from rules.bank import QUANTITIES

#: What a plug measures of its outlet -> what it is of the charger.
_OF_THE_OUTLET = {
    "power": "ac_power", "voltage": "ac_voltage", "current": "ac_current",
    "ac_power": "ac_power", "ac_voltage": "ac_voltage", "ac_current": "ac_current",
}  # fmt: skip
#: No outlet has less [V].
_LEAST_MAINS = 80.0
#: Nominal mains, and how far from it an outlet may be [V] (ANSI C84.1 and IEC 60038 name both; the span: common
#: practice, no source).
_NOMINAL, _SPAN = (100.0, 120.0, 230.0, 240.0), 0.1
#: What flows into a bank, more directly than by what its charger draws.
_DIRECT = frozenset({"current", "string_current"})


def plug_meters(collector: Collector, topics: Iterable[str]) -> list[Guess]:
    """Return what is measured where a relay takes its orders or tells its state: of each kind one.

    Parameters
    ----------
    topics : iterable of str
        Its order topic and its state topic; an empty one is none.
    """
    own = set(topics) - {""}
    places = {source.place for source in collector.switches if source.topic in own}
    # orders are rarely heard: they go to a topic below the relay's own
    places |= {path(Source(topic.rpartition("/")[0], "plain")) for topic in own if orders_by_name(topic)}
    found: dict[str, Guess] = {}
    for source in sorted(collector.sources, key=lambda source: len(f"{source.topic} {source.at}")):
        if not source.place or source.place not in places or source.contact or source.repeats:
            continue
        one = guess(source)
        kind = _OF_THE_OUTLET.get(one.quantity) if one is not None else None
        if one is None or kind is None or kind in found:
            continue
        outlet = one._replace(quantity=kind, sign="charging")
        limits = QUANTITIES[kind]
        least = _LEAST_MAINS if kind == "ac_voltage" else limits.low
        if least <= outlet.value <= limits.high:
            found[kind] = outlet._replace(evidence=()).because(TAKEN, "told where the charger's relay is")
    return list(found.values())


def called(one: Guess) -> str:
    """Return what a quantity is called in a sentence."""
    return "power that the charger draws" if one.quantity == "ac_power" else one.quantity.replace("_", " ")


def of_its_plug(loaded: Loaded, bank: str, collector: Collector) -> list[Guess]:
    """Return what the plug measures that is the relay of a bank in the file."""
    relay = next((table.relay for table in loaded.model.bank if table.id == bank), None)
    return [] if relay is None else plug_meters(collector, (relay.topic, relay.state_topic or ""))


def with_plug(asker: Asker, name: str, bank: Found, plug: Sequence[Guess]) -> Found:
    """Return the bank with what its charger draws as the plug tells it, where its owner does not say otherwise."""
    kinds = {one.quantity: one for one in plug}
    power = kinds.get("ac_power") or kinds.get("ac_current")
    live = {one.quantity for one in bank.guesses if one.sure >= SURE_ENOUGH}
    if power is None or "ac_power" in live:
        return bank
    use = (
        "it stands in where the bank's own amps are silent"
        if live & _DIRECT
        else "it tells how much the charger gives, and whether that goes when the relay opens, which nothing else does"
    )
    # no question: whoever says that this relay feeds the charger has said whose power is measured in it
    asker.console.print(
        f"{name}: its relay measures too: {told(power)} tells {valued(power)}, which is taken for what the charger "
        f"draws: {use}. Where something else hangs on it as well, take its [[bank.meter]] out of the file",
        markup=False,
    )
    if not asker.asks:
        asker.assume("plug", told(power))
    # amps at the outlet tell nothing without its volts
    taken = [power, *(one for one in plug if one.quantity == "ac_voltage" and power.quantity == "ac_current")]
    places = {told(one) for one in taken}
    return bank._replace(guesses=(*(one for one in bank.guesses if told(one) not in places), *taken))


def heard_outlet(collector: Collector, heard: Iterable[HeardRelay]) -> Guess | None:
    """Return volts that were heard at an outlet, of the likeliest relay that tells them; another's are as good."""
    told = (one for relay in heard for one in plug_meters(collector, (relay.topic, relay.state_topic)))
    return next((one for one in told if one.quantity == "ac_voltage"), None)


def _nominal(heard: float) -> float:
    """Return which mains an outlet of so many volts is one of [V].

    >>> _nominal(232.0), _nominal(117.4), _nominal(191.6)
    (230.0, 120.0, 192)
    """
    volts = min(_NOMINAL, key=lambda nominal: abs(nominal - heard))
    return volts if abs(volts - heard) <= _SPAN * volts else round(heard)


def mains(
    asker: Asker,
    name: str,
    bank: Found,
    plug: Sequence[Guess],
    charged: bool,
    tried: Callable[[str], None],
    beside: Guess | None = None,
) -> str:
    """Return the volts of the charger's outlet, as the file writes them; empty where they are not known.

    They are asked where something hangs on them: on amps that have to be read at the outlet, for none are heard, and on
    what a charger that is known draws there.

    Parameters
    ----------
    tried : callable
        Raises a `ValueError` where the file would not load with them.
    beside : Guess, optional
        What was heard at another outlet: offered, and never taken unasked.
    """
    live = {one.quantity for one in bank.guesses if one.sure >= SURE_ENOUGH}
    heard = next((one.value for one in plug if one.quantity == "ac_voltage"), None)
    if asker.arguments.ac_voltage is None and heard is not None:
        volts = _nominal(heard)
        asker.console.print(
            f"{name}: the charger's outlet is one of {volts:g} V: {heard:.0f} V was heard", markup=False
        )
        return f"{volts:g} V"
    if asker.arguments.ac_voltage is None and live & _DIRECT and not charged:
        return ""
    offered = beside is not None and asker.asks
    by = f" ({beside.value:.0f} V was heard at {told(beside)})" if beside is not None and offered else ""
    answer: str = asker.answer(
        MAINS,
        f"{name}: {ASKED[MAINS][0].lower()}{ASKED[MAINS][1:]}{by}",
        f"{_nominal(beside.value):g} V" if beside is not None and offered else UNKNOWN,
        seen(read_mains, tried),
    )
    return answer
