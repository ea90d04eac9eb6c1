"""Guesses into a starter cabin file: the sure are mappings, the doubtful are offered with their reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from statistics import median
from types import MappingProxyType
from typing import NamedTuple

from bridge.listen.banks import Found, recognise
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess, all_words, cells_of, told
from bridge.listen.relays import HeardRelay
from bridge.listen.source import Source
from bridge.listen.vocabulary import ELECTROLYTE
from bridge.settings import BrokerSettings

__all__ = ["Found", "cabin_file", "recognise", "unrecognised"]

#: Numbers nobody recognised, listed at the end of the file; more would bury the rest.
UNKNOWN_LISTED = 40
#: Less likely than this is not offered: it would bury what is.
OFFERED = 0.02
_ORDER = ("voltage", "current", "power", "electrolyte_temperature", "ambient_temperature")


#: Where something is left to fill in.
MARKS = "# Fill in what no traffic can tell (marked <-). Then: revival check --config FILE"


class RelayWords(NamedTuple):
    """What no traffic tells of a relay, as the file writes it; empty where its owner does not know.

    `auto_off`: after which time it opens by itself, or none. `power_on`: what it is when its own power comes back.
    """

    auto_off: str = ""
    power_on: str = ""


class Printed(NamedTuple):
    """What no traffic tells of a bank, as its owner answered.

    Attributes
    ----------
    strings : int or None
        In parallel; None where the parts that were heard tell it.
    block_volts, capacity : float
        What one block is called [V], rated at the 20-hour rate [Ah].
    chargers : tuple of (float, float, float)
        Settings in the order of use: volts [V], amps [A], the lowest bank volts at which it starts [V] or 0.
    placed : mapping
        Thermometer, as `told` names it -> ``cell`` or ``case``: where it sits.
    relay : HeardRelay or None
        The relay that switches the charger's AC feed.
    words : RelayWords
        What its owner says of that relay.
    per_string : int
        Blocks in series in one string.
    equalise : float
        To which voltage it is equalised [V per cell]; 0 for the usual.
    limits : str
        The file's line with its owner's own limits; empty for the usual.
    ac_voltage : str
        Of the charger's outlet, as the file writes it; empty where nobody said it.
    assumed : str
        What of it nobody answered, for a comment in the file; empty where everything was.
    """

    strings: int | None = None
    block_volts: float = 6.0
    capacity: float = 200.0
    chargers: tuple[tuple[float, float, float], ...] = ()
    placed: Mapping[str, str] = MappingProxyType({})
    relay: HeardRelay | None = None
    words: RelayWords = RelayWords()
    per_string: int = 1
    equalise: float = 0.0
    limits: str = ""
    ac_voltage: str = ""
    assumed: str = ""


def unrecognised(sources: Iterable[Source], found: list[Found]) -> list[Source]:
    """Return numbers that no guess took."""
    taken = {(one.source.topic, one.source.at) for bank in found for one in bank.guesses if one.sure >= OFFERED}
    return [source for source in sources if (source.topic, source.at) not in taken and not source.contact]


def cabin_file(
    found: list[Found],
    broker: BrokerSettings,
    secret: str = "",
    unknown: Iterable[Source] = (),
    unread: Mapping[str, str] = MappingProxyType({}),
    relays: Iterable[HeardRelay] = (),
    printed: Mapping[str, Printed] = MappingProxyType({}),
    site: str = "",
) -> str:
    """Return the starter file as text; it loads as it stands, watch only.

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
    printed : mapping
        Bank -> what its owner answered; what nobody answered is marked in the file.
    site : str
        What the place is called.
    """
    lines = [
        "# Made by listening: compare every value with a multimeter and a thermometer before you trust it.",
        MARKS,
        "[site]",
        f'id = "{site}"' if site else 'id = "cabin"                     # <- your site',
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
    heard_relays, heard_as_well = list(relays), list(unknown)
    for bank in found:
        said = printed.get(bank.name)
        lines += _bank(bank, said)
        live = [one for one in bank.guesses if one.sure >= SURE_ENOUGH]
        for one in sorted(live, key=lambda one: (_rank(one.quantity), one.part, -one.sure)):
            lines += ["", *mapping_lines(one, None if said is None else said.placed)]
        offered = [one for one in bank.guesses if OFFERED <= one.sure < SURE_ENOUGH]
        if offered:
            lines += ["", "# Less than 90 % sure, so not read until you take the # away; the likeliest first."]
        for one in sorted(offered, key=lambda one: -one.sure):
            lines += ["", *mapping_lines(one, None if said is None else said.placed)]
        lines += relay_lines(said.relay, said.words) if said and said.relay else _relay(heard_relays)
    taken = {_at(one.source) for bank in found for one in bank.guesses if one.sure >= OFFERED}
    twice = [source for source in heard_as_well if source.repeats in taken]
    if twice:
        lines += ["", "# Heard twice, and read where it is finer or sooner:"]
        lines += [f"#   {escaped(_at(source))} repeats {escaped(source.repeats)}" for source in twice[:UNKNOWN_LISTED]]
    rest = [
        f"#   {escaped(_at(source))}: {min(source.values):g} to {max(source.values):g}"
        for source in heard_as_well
        if source.repeats not in taken
    ]
    rest += [f"#   {escaped(topic)}: {why}" for topic, why in unread.items()]
    if rest:
        lines += ["", "# Heard as well, and not recognised:", *rest[:UNKNOWN_LISTED]]
    if len(rest) > UNKNOWN_LISTED:
        lines.append(f"#   and {len(rest) - UNKNOWN_LISTED} more")
    marked = any("<-" in line for line in lines if line != MARKS)
    lines[1] = MARKS if marked else "# Then: revival check --config FILE"
    return "\n".join(lines) + "\n"


def _at(source: Source) -> str:
    return f"{source.topic} {source.at}".strip()


def cells_heard(bank: Found) -> tuple[int, ...]:
    """Return the numbers of cells in series that the voltage which was heard may come from, the likeliest first."""
    return () if bank.voltage is None else cells_of(bank.voltage.value)


def _bank(bank: Found, said: Printed | None) -> list[str]:
    """Write the bank's own keys; mark what no traffic tells and nobody answered."""
    possible = cells_heard(bank)
    cells = possible[0] if possible else 6
    heard = (
        f"# {' or '.join(map(str, possible))} cells in series, by the voltage that was heard"
        if possible
        else f"# {cells} cells in series: nothing was heard that tells; correct it"
    )
    strings, per_string, each = bank.shape
    head = ["", "[[bank]]", f'id = "{bank.name}"']
    if said is not None:
        each = round(said.block_volts / VOLTS_PER_CELL)
        return [
            *head,
            *([f"# {said.assumed}"] if said.assumed else []),
            f"strings = {said.strings or strings or 1}",
            blocks_line(said.per_string, each, said.capacity),
            chargers_line(said.chargers),
            *([equalise_line(said.equalise)] if said.equalise else []),
            *([said.limits] if said.limits else []),
            *([f'ac_voltage = "{said.ac_voltage}"'] if said.ac_voltage else []),
        ]
    each = each or 3
    return [
        *head,
        f"strings = {strings or 1}                      # {'heard' if strings else '<- strings in parallel'}",
        heard,
        f"{blocks_line(per_string or cells // each, each, 200.0)}      # <- {2 * each} V blocks of 200 Ah?",
    ]


#: Batteries are named by 2 V for each cell: a 6 V block has three.
VOLTS_PER_CELL = 2.0


def blocks_line(per_string: int, cells: int, capacity: float, labels: Iterable[str] = ()) -> str:
    """Return the key that says what one string is made of."""
    named = ", ".join(f'"{escaped(label)}"' for label in labels)
    also = f", labels = [{named}]" if named else ""
    return f'blocks = {{ per_string = {per_string}, cells = {cells}, capacity = "{capacity:g} Ah"{also} }}'


def chargers_line(chargers: Iterable[tuple[float, float, float]]) -> str:
    """Return the key with the charger's settings in the order of use.

    >>> chargers_line([(28.8, 50.0, 20.0), (32.0, 50.0, 0.0)])
    'chargers = [{ volts = "28.8 V", amps = "50 A", starts_at = "20 V" }, { volts = "32 V", amps = "50 A" }]'
    """
    settings = (
        f'{{ volts = "{volts:g} V", amps = "{amps:g} A"' + (f', starts_at = "{start:g} V"' if start else "") + " }"
        for volts, amps, start in chargers
    )
    return f"chargers = [{', '.join(settings)}]"


def equalise_line(volts: float) -> str:
    """Return the key with the volts of one cell [V] to which the bank is equalised.

    >>> equalise_line(2.6)
    'equalise = "2.6 V"'
    """
    # so many digits that the bank's volts, which somebody may have said, come back as they were said
    return f'equalise = "{volts:.7g} V"'


def relay_lines(relay: HeardRelay, words: RelayWords) -> list[str]:
    """Return the table of the relay in the charger's AC feed."""
    lines = [
        "",
        "[bank.relay]",
        f'topic = "{escaped(relay.topic)}"',
        f'cut = "{escaped(relay.cut)}"',
        f'allow = "{escaped(relay.allow)}"',
    ]
    lines += [f'state_topic = "{escaped(relay.state_topic)}"'] if relay.state_topic else []
    lines += [f'state_pointer = "{escaped(relay.state_pointer)}"'] if relay.state_pointer else []
    lines += _state_words(relay)
    lines += [f'auto_off = "{escaped(words.auto_off)}"'] if words.auto_off else []
    return lines + ([f'power_on = "{escaped(words.power_on)}"'] if words.power_on else [])


def _state_words(relay: HeardRelay) -> list[str]:
    """Return the words in which a relay tells its state, where its orders use others."""
    if not relay.state_open:
        return []
    return [f'state_open = "{escaped(relay.state_open)}"', f'state_closed = "{escaped(relay.state_closed)}"']


#: What says of a thermometer that it sits on something.
_ON_A_CASE = frozenset({"case", "casing", "pole", "post", "terminal", "lug", "skin", "surface", "gehaeuse", "pol"})


def placed_by_name(one: Guess) -> str:
    """Return where a thermometer sits by its own name: in a cell where that says acid, else on the case.

    >>> [placed_by_name(Guess(Source(name, "plain"), "", "", ())) for name in ("hut/acid", "hut/cell_case", "hut/t")]
    ['cell', 'case', 'case']
    """
    words = set(all_words(one.source))
    return "cell" if words & ELECTROLYTE and not words & _ON_A_CASE else "case"


def _rank(quantity: str) -> int:
    return _ORDER.index(quantity) if quantity in _ORDER else len(_ORDER)


def mapping_lines(one: Guess, placed: Mapping[str, str] | None = None) -> list[str]:
    """Return one `[[bank.meter]]`, commented out where it is doubtful.

    Parameters
    ----------
    placed : mapping, optional
        Thermometer, as `told` names it -> where it sits; marked in the file where nobody was asked.
    """
    source = one.source
    keys = ["[[bank.meter]]", f'topic = "{escaped(source.topic)}"']
    if source.style != "plain":
        keys.append(f'style = "{source.style}"')
    if source.style in {"json", "pairs", "senml"}:
        keys.append(f'{"name" if source.style == "senml" else "pointer"} = "{escaped(source.at)}"')
    keys.append(f'quantity = "{one.quantity}"')
    if one.part:
        keys.append(f'index = "{one.part}"')
    if one.unit and source.style in {"plain", "json", "pairs"}:
        keys.append(f'unit = "{one.unit}"')
    if one.sign == "discharging":
        keys.append('sign = "discharging"')
    if source.decimal != ".":
        keys.append(f'decimal = "{source.decimal}"')
    if source.time:
        keys.append(f'time = "{escaped(source.time)}"')
    if one.quantity == "electrolyte_temperature":
        where = placed_by_name(one)
        unknown = 'placed = "case"                  # <- "cell" if it sits in the electrolyte; case is stricter'
        if where == "cell":
            unknown = 'placed = "cell"                  # <- by its name; "case", which is stricter, if it sits on one'
        keys.append(unknown if placed is None else f'placed = "{placed.get(told(one), where)}"')
    if source.period and source.period >= 1.0 and not source.contact:
        keys.append(f'every = "{round(source.period)} s"')
    remark = f"# {round(100 * one.sure)} % sure: {'; '.join(one.reasons)}, {median(source.values):g} heard"
    remark = _one_line(remark)
    if one.sure >= SURE_ENOUGH:
        return [remark, *keys]
    return [remark + ". Doubtful, so commented out:", *(f"# {key}" for key in keys)]


def _relay(heard: list[HeardRelay]) -> list[str]:
    """Write the likeliest relay as a template; nobody but a person connects a relay."""
    if not heard:
        return []
    one = heard[0]
    topic = escaped(one.topic) or "<- where it takes orders"
    lines = [
        "",
        "# A relay was heard. If it switches the charger's AC feed, take the # away, see that cut and allow are its",
        '# words, and after what time it opens by itself ("none" where it cannot); then: revival prove',
        "# [bank.relay]",
        f'# topic = "{topic}"',
        f'# cut = "{escaped(one.cut)}"',
        f'# allow = "{escaped(one.allow)}"',
    ]
    if one.state_topic:
        lines.append(f'# state_topic = "{escaped(one.state_topic)}"')
    if one.state_pointer:
        lines.append(f'# state_pointer = "{escaped(one.state_pointer)}"')
    lines += [f"# {line}" for line in _state_words(one)]
    lines += ['# auto_off = "90 s"', '# power_on = "open"']
    return lines


def _one_line(text: str) -> str:
    """Return a text on one line: a comment may not end early, whatever a topic holds."""
    return "".join(c if c.isprintable() else "?" for c in text)


def escaped(text: str) -> str:
    """Return text as it stands inside a TOML string."""
    return "".join(f"\\u{ord(c):04x}" if c < " " or c == "\x7f" else f"\\{c}" if c in '"\\' else c for c in text)
