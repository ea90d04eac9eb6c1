"""Guesses into a starter cabin file: the sure are mappings, the doubtful are commented out with their reason."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from statistics import median
from types import MappingProxyType
from typing import NamedTuple

from bridge.listen.collect import Source
from bridge.listen.guess import SURE_ENOUGH, Guess, guess, nominal_cells
from bridge.listen.names import CIRCUITS, THINGS, WORDS, words_of
from bridge.listen.settle import settle_midpoint, settle_power, settle_sign
from bridge.settings import BrokerSettings

#: Numbers nobody recognised, listed at the end of the file; more would bury the rest.
UNKNOWN_LISTED = 40
#: One of each, and more of it is another bank's or a mistake.
_SINGLE = frozenset({"voltage", "current", "power", "ambient_temperature", "ac_voltage", "ac_current", "ac_power"})
_ORDER = ("voltage", "current", "electrolyte_temperature", "ambient_temperature")


class Found(NamedTuple):
    """A bank as it was overheard: its name, the placeholder's segment, and its guesses, the surest first."""

    name: str
    guesses: tuple[Guess, ...]

    @property
    def cells(self) -> int | None:
        """In series, by the voltage."""
        voltage = next((one for one in self.guesses if one.quantity == "voltage"), None)
        return None if voltage is None else nominal_cells(voltage.value)


def recognise(sources: Iterable[Source]) -> list[Found]:
    """Guess every source, tell banks apart by their topics, and settle which way currents count."""
    guesses = [one for source in sources if (one := guess(source)) is not None]
    names = _bank_names(guesses)
    groups: dict[str, list[Guess]] = {name: [] for name in names.values()} or {"north": []}
    first = next(iter(groups))
    for one in guesses:
        owner = next((name for segment, name in names.items() if segment in _path(one.source)), first)
        groups[owner].append(one)
    return [Found(name, tuple(_settled(group))) for name, group in groups.items()]


def _path(source: Source) -> list[str]:
    """Every segment on the way to a value, through the topic and into its document."""
    return source.topic.split("/") + source.at.split("/")


def _bank_names(guesses: list[Guess]) -> dict[str, str]:
    """Path's segment -> bank id, where two bank voltages differ in exactly one segment, and that one names a place."""
    volts = [one.source for one in guesses if one.quantity == "voltage" and one.sure >= SURE_ENOUGH]
    names: dict[str, str] = {}
    for one, other in combinations(volts, 2):
        left, right = _path(one), _path(other)
        differing = [pair for pair in zip(left, right, strict=False) if pair[0] != pair[1]]
        if len(left) == len(right) and len(differing) == 1 and all(map(_is_place, differing[0])):
            for segment in differing[0]:
                names[segment] = "".join(c if c.isalnum() else "-" for c in segment.lower()).strip("-") or "bank"
    return names


def _is_place(segment: str) -> bool:
    """No other circuit's name, and no quantity: ``voltage_mv`` beside ``voltage_v`` is one bank twice."""
    words = set(words_of(segment))
    return not words & (CIRCUITS | THINGS) and not any(WORDS.get(word) == "voltage" for word in words)


def _settled(group: list[Guess]) -> Iterator[Guess]:
    """Signs settled, second sources of what there is once made doubtful, in the order people read."""
    voltage, current = (
        max((one for one in group if one.quantity == quantity), key=lambda one: one.sure, default=None)
        for quantity in ("voltage", "current")
    )
    seen: set[str] = set()
    for one in sorted(group, key=lambda one: -one.sure):
        settled = settle_sign(one, voltage) if one.quantity in {"current", "string_current"} else one
        if one.quantity == "power" and voltage is not None and current is not None:
            settled = settle_power(one, voltage, current)
        if one.quantity == "midpoint_voltage":
            settled = settle_midpoint(one, voltage)
        if one.quantity in _SINGLE and one.quantity in seen:
            why = f"a second {one.quantity}: whose is it?"
            settled = settled._replace(sure=min(0.5, settled.sure), reasons=(*settled.reasons, why))
        if one.quantity in {"block_voltage", "cell_voltage", "string_current", "gravity"}:
            why = "which one? write its index"
            settled = settled._replace(sure=min(0.5, settled.sure), reasons=(*settled.reasons, why))
        seen.add(one.quantity)
        yield settled


def unrecognised(sources: Iterable[Source], found: list[Found]) -> list[Source]:
    """Numbers that no guess took."""
    taken = {(one.source.topic, one.source.at) for bank in found for one in bank.guesses}
    return [source for source in sources if (source.topic, source.at) not in taken and not source.contact]


def cabin_file(
    found: list[Found],
    broker: BrokerSettings,
    secret: str = "",
    unknown: Iterable[Source] = (),
    unread: Mapping[str, str] = MappingProxyType({}),
) -> str:
    """The starter file as text; it loads as it stands, watch only.

    Parameters
    ----------
    found : list of Found
        What `recognise` made of the traffic.
    broker : BrokerSettings
        Where it was heard; the password itself is never written.
    secret : str
        The line that says where the password is kept.
    unknown : iterable of Source
        Numbers that were heard and not recognised, for the comments at the end.
    unread : mapping
        Topic -> why its text, which looks like numbers, cannot be read by any mapping.
    """
    lines = [
        "# Made by listening: compare every value with a multimeter and a thermometer before you trust it, and fill in",
        "# what no traffic can tell (marked <-). Then: revival check --config FILE",
        "[site]",
        'id = "tarn-hut"                  # <- your site',
        "",
        "[broker]",
        f'host = "{broker.host}"',
        f"port = {broker.port}",
    ]
    lines += [] if broker.protocol == "5" else [f'protocol = "{broker.protocol}"']
    lines += [f'username = "{broker.username}"'] if broker.username else []
    lines += [secret] if secret else []
    lines += ["tls = true"] if broker.tls else []
    lines += [f'ca_file = "{broker.ca_file}"'] if broker.ca_file else []
    for bank in found:
        cells = bank.cells or 6
        lines += [
            "",
            "[[bank]]",
            f'id = "{bank.name}"',
            "strings = 1                      # <- strings in parallel",
            f"# {cells} cells in series"
            + (", by the voltage that was heard" if bank.cells else ": nothing was heard that tells; correct it"),
            f'blocks = {{ per_string = {cells // 3}, cells = 3, capacity = "200 Ah" }}      # <- 6 V blocks of 200 Ah?',
        ]
        ordered = sorted(bank.guesses, key=lambda one: (_rank(one.quantity), -one.sure))
        for one in ordered:
            lines += ["", *_mapping(one)]
    rest = [
        f"#   {_escaped(f'{source.topic} {source.at}'.strip())}: {min(source.values):g} to {max(source.values):g}"
        for source in unknown
    ]
    rest += [f"#   {_escaped(topic)}: {why}" for topic, why in unread.items()]
    if rest:
        lines += ["", "# Heard as well, and not recognised:", *rest[:UNKNOWN_LISTED]]
    if len(rest) > UNKNOWN_LISTED:
        lines.append(f"#   and {len(rest) - UNKNOWN_LISTED} more")
    return "\n".join(lines) + "\n"


def _rank(quantity: str) -> int:
    return _ORDER.index(quantity) if quantity in _ORDER else len(_ORDER)


def _mapping(one: Guess) -> list[str]:
    """One `[[bank.meter]]`, commented out where it is doubtful."""
    source = one.source
    keys = ["[[bank.meter]]", f'topic = "{_escaped(source.topic)}"']
    if source.style != "plain":
        keys.append(f'style = "{source.style}"')
    if source.style in {"json", "senml"}:
        keys.append(f'{"pointer" if source.style == "json" else "name"} = "{_escaped(source.at)}"')
    keys.append(f'quantity = "{one.quantity}"')
    if one.unit and source.style in {"plain", "json"}:
        keys.append(f'unit = "{one.unit}"')
    if one.sign == "discharging":
        keys.append('sign = "discharging"')
    if source.time:
        keys.append(f'time = "{_escaped(source.time)}"')
    if one.quantity == "electrolyte_temperature":
        keys.append('placed = "case"                  # <- "cell" if it sits in the electrolyte; case is stricter')
    if source.period and source.period >= 1.0 and not source.contact:
        keys.append(f'every = "{round(source.period)} s"')
    middle = f", {median(source.values):g} heard"
    remark = f"# {round(100 * one.sure)} % sure: {'; '.join(one.reasons)}{middle}"
    if one.sure >= SURE_ENOUGH:
        return [remark, *keys]
    return [remark + ". Doubtful, so commented out:", *(f"# {key}" for key in keys)]


def _escaped(text: str) -> str:
    return "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else f"\\{c}" if c in '"\\' else c for c in text)
