"""Guesses into a starter cabin file: the sure are mappings, the doubtful are offered with their reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from statistics import median
from types import MappingProxyType

from bridge.listen.banks import Found, recognise
from bridge.listen.collect import Source
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess, cells_of
from bridge.listen.relays import HeardRelay
from bridge.settings import BrokerSettings

__all__ = ["Found", "cabin_file", "recognise", "unrecognised"]

#: Numbers nobody recognised, listed at the end of the file; more would bury the rest.
UNKNOWN_LISTED = 40
#: Less likely than this is not offered: it would bury what is.
OFFERED = 0.02
_ORDER = ("voltage", "current", "power", "electrolyte_temperature", "ambient_temperature")


def unrecognised(sources: Iterable[Source], found: list[Found]) -> list[Source]:
    """Numbers that no guess took."""
    taken = {(one.source.topic, one.source.at) for bank in found for one in bank.guesses if one.sure >= OFFERED}
    return [source for source in sources if (source.topic, source.at) not in taken and not source.contact]


def cabin_file(
    found: list[Found],
    broker: BrokerSettings,
    secret: str = "",
    unknown: Iterable[Source] = (),
    unread: Mapping[str, str] = MappingProxyType({}),
    relays: Iterable[HeardRelay] = (),
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
    relays : iterable of HeardRelay
        What was heard that switches; offered as a template.
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
    heard_relays = list(relays)
    for bank in found:
        lines += _bank(bank)
        live = [one for one in bank.guesses if one.sure >= SURE_ENOUGH]
        for one in sorted(live, key=lambda one: (_rank(one.quantity), one.part, -one.sure)):
            lines += ["", *_mapping(one)]
        offered = [one for one in bank.guesses if OFFERED <= one.sure < SURE_ENOUGH]
        if offered:
            lines += ["", "# Less than 90 % sure, so not read until you take the # away; the likeliest first."]
        for one in sorted(offered, key=lambda one: -one.sure):
            lines += ["", *_mapping(one)]
        lines += _relay(heard_relays)
    rest = [
        f"#   {escaped(f'{source.topic} {source.at}'.strip())}: {min(source.values):g} to {max(source.values):g}"
        for source in unknown
    ]
    rest += [f"#   {escaped(topic)}: {why}" for topic, why in unread.items()]
    if rest:
        lines += ["", "# Heard as well, and not recognised:", *rest[:UNKNOWN_LISTED]]
    if len(rest) > UNKNOWN_LISTED:
        lines.append(f"#   and {len(rest) - UNKNOWN_LISTED} more")
    return "\n".join(lines) + "\n"


def _bank(bank: Found) -> list[str]:
    """The bank's own keys; what no traffic tells is marked."""
    possible = () if bank.voltage is None else cells_of(bank.voltage.value)
    cells = possible[0] if possible else 6
    told = (
        f"# {' or '.join(map(str, possible))} cells in series, by the voltage that was heard"
        if possible
        else f"# {cells} cells in series: nothing was heard that tells; correct it"
    )
    strings, per_string, each = bank.shape
    each = each or 3
    per_string = per_string or cells // each
    heard = "heard" if strings else "<- strings in parallel"
    return [
        "",
        "[[bank]]",
        f'id = "{bank.name}"',
        f"strings = {strings or 1}                      # {heard}",
        told,
        f'blocks = {{ per_string = {per_string}, cells = {each}, capacity = "200 Ah" }}      '
        f"# <- {2 * each} V blocks of 200 Ah?",
    ]


def _rank(quantity: str) -> int:
    return _ORDER.index(quantity) if quantity in _ORDER else len(_ORDER)


def _mapping(one: Guess) -> list[str]:
    """One `[[bank.meter]]`, commented out where it is doubtful."""
    source = one.source
    keys = ["[[bank.meter]]", f'topic = "{escaped(source.topic)}"']
    if source.style != "plain":
        keys.append(f'style = "{source.style}"')
    if source.style in {"json", "senml"}:
        keys.append(f'{"pointer" if source.style == "json" else "name"} = "{escaped(source.at)}"')
    keys.append(f'quantity = "{one.quantity}"')
    if one.part:
        keys.append(f'index = "{one.part}"')
    if one.unit and source.style in {"plain", "json"}:
        keys.append(f'unit = "{one.unit}"')
    if one.sign == "discharging":
        keys.append('sign = "discharging"')
    if source.time:
        keys.append(f'time = "{escaped(source.time)}"')
    if one.quantity == "electrolyte_temperature":
        keys.append('placed = "case"                  # <- "cell" if it sits in the electrolyte; case is stricter')
    if source.period and source.period >= 1.0 and not source.contact:
        keys.append(f'every = "{round(source.period)} s"')
    remark = f"# {round(100 * one.sure)} % sure: {'; '.join(one.reasons)}, {median(source.values):g} heard"
    remark = _one_line(remark)
    if one.sure >= SURE_ENOUGH:
        return [remark, *keys]
    return [remark + ". Doubtful, so commented out:", *(f"# {key}" for key in keys)]


def _relay(heard: list[HeardRelay]) -> list[str]:
    """The likeliest relay as a template; nobody but a person connects a relay."""
    if not heard:
        return []
    one = heard[0]
    topic = escaped(one.topic) or "<- where it takes orders"
    lines = [
        "",
        "# A relay was heard. If it switches the charger's AC feed, take the # away, see that cut and allow are its",
        "# words, and give auto_off if it opens by itself; then: revival prove",
        "# [bank.relay]",
        f'# topic = "{topic}"',
        f'# cut = "{escaped(one.cut)}"',
        f'# allow = "{escaped(one.allow)}"',
    ]
    if one.state_topic:
        lines.append(f'# state_topic = "{escaped(one.state_topic)}"')
    lines.append('# auto_off = "90 s"')
    return lines


def _one_line(text: str) -> str:
    """A comment may not end early, whatever a topic holds."""
    return "".join(c if c.isprintable() else "?" for c in text)


def escaped(text: str) -> str:
    """Return text as it stands inside a TOML string."""
    return "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else f"\\{c}" if c in '"\\' else c for c in text)
