"""Every numeric value in every topic, with what the traffic itself says about it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from math import isfinite
from types import MappingProxyType
from typing import TypeGuard

from bridge.intake.document import document
from bridge.intake.mapping import RejectError
from bridge.intake.pairs import pairs_of
from bridge.intake.senml import RELATIVE_BELOW, resolved
from bridge.intake.stamp import own_time
from bridge.intake.value import text_of, why_not_a_number
from bridge.listen.names import in_levels, words_of
from bridge.listen.on_off import is_closed
from bridge.listen.places import introduce
from bridge.listen.said import FACTOR_KEYS, LABEL_KEYS, REGISTER_KEYS, UNIT_KEYS, Texts, beside, counted_unit
from bridge.listen.source import Source
from bridge.listen.vocabulary import WORDS, folded
from bridge.message import Message

#: Kept per source; enough to see a range and a trend.
VALUES_KEPT = 500
#: Different units and labels kept of one source: more than one is already suspect.
SPELLINGS_KEPT = 9
#: Longest text that is a unit, and longest that is a label; shortest text that is a time.
LONGEST_UNIT, LONGEST_LABEL, SHORTEST_TIME = 11, 39, 10
#: A time this close to arrival is a clock's [s].
IS_NOW = 600.0
#: Looked at in one document, and sources in all: a stranger's broker may carry anything.
LEAVES_READ, SOURCES_KEPT = 200, 5000

_NUMBER = re.compile(
    r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*([A-Za-zµΩ°℃℉%/][^\d]{0,15}?)?\s*", re.ASCII
)
#: A decimal comma; three digits behind it may be thousands.
_COMMA = re.compile(r"(\s*[+-]?\d+),(\d{1,2}|\d{4,})(?![\d.,])")
#: A property of the Homie convention, ROOT/5/DEVICE/NODE/PROPERTY.
_HOMIE = re.compile(r"/5/[^/]*/[^/]*/[^/]*\Z")
#: Digits that are no number.
_DIGITS = re.compile(r"\s*[+-]?\d[\d.,;: eE+-]*\s*", re.ASCII)
#: A scaled value is its raw count times the factor within so many units of the factor [1] (assumed: rounding).
_ROUNDED = 0.51
#: A number and its unit beside it.
_PAIR = 2
#: So many names make the first line of a table [1]; one of them, with its unit (assumed).
_COLUMNS, _A_NAME = 3, re.compile(r"[^\W\d][^;|,()]{0,30}(?:\([^()]{1,6}\))?")
#: Every bridge of this kind tells its phase here, whatever its root: what it says are no meters.
_OUR_PHASE = "/revival/phase"
_CONTACT = {"on", "off", "true", "false", "open", "closed", "running", "stopped"}
_CLOSED = {"on", "true", "open", "running"}
#: What a contact is asked about for, in whatever words it says what it is.
_ASKED_ABOUT = frozenset(word for word, kind in WORDS.items() if kind in {"fan", "door"})


class Collector:
    """A listener that takes messages as they come; `sources` is what was found."""

    def __init__(self) -> None:
        self.messages = 0
        self.topics: set[str] = set()
        self.unread: dict[str, str] = {}
        self._sources: dict[tuple[str, str], Source] = {}
        self._clocks: dict[str, dict[str, list[object]]] = {}
        self._texts = Texts()
        self._worded: dict[tuple[str, str], Source] = {}
        self._booleans: set[str] = set()
        self._ours: set[str] = set()

    def take(self, message: Message) -> None:
        """Look at one message; never raises for what a payload contains."""
        topic = message.topic
        if topic.startswith("$"):
            return
        self.messages += 1
        self.topics.add(topic)
        if topic.endswith(_OUR_PHASE):
            self._ours.add(topic.removesuffix(_OUR_PHASE))
        if topic.endswith("/$description"):
            self._describe(topic.removesuffix("/$description"), message.payload)
            return
        try:
            text = text_of(message.payload)
            if "/$" in topic:
                self._texts.keep(topic, "", text)
                return
            number = _reading(in_levels(topic).rpartition("/")[2], text)
            quoted = None if number is not None else _reading("", _unquoted(text.strip()))
            if quoted is not None:
                # a hub that says every state as JSON puts a number's digits into quotes
                self._keep_number(message, "json", "", quoted, None)
            elif number is not None or text[0] not in "{[":
                self._plain(message, text, number)
            else:
                self._document(message, document(message.payload))
        except RejectError:
            return

    @property
    def sources(self) -> list[Source]:
        """What was found, with what is said about it elsewhere; without the bridge's own states."""
        found = [source for source in self._sources.values() if source.topic.rsplit("/", 2)[0] not in self._ours]
        found += [one for one in self._of_others() if set(words_of(f"{one.topic} {one.at}")) & _ASKED_ABOUT]
        for source in found:
            source.contact = source.contact or source.topic in self._booleans
            source.time = source.time or self._clock(source.topic)
        self._texts.describe(found, ((topic, at) for topic, seen in self._clocks.items() for at in seen))
        introduce(found)
        return found

    @property
    def switches(self) -> list[Source]:
        """What may be a switch's state or an order to it, in the words of any language; and every number."""
        found = self.sources
        return found + [one for one in self._of_others() if one not in found]

    def _of_others(self) -> list[Source]:
        """Return what says words that no mapping reads, without the bridge's own states."""
        return [one for one in self._worded.values() if one.topic.rsplit("/", 2)[0] not in self._ours]

    def _clock(self, topic: str) -> str | None:
        """Return the pointer to the message's own time: the first leaf that goes on; when it booted is no time."""
        for pointer, seen in self._clocks.get(topic, {}).items():
            if seen[0] != seen[1] or seen[2] == 1:
                return pointer
        return None

    def _keep(self, message: Message, style: str, at: str, value: float, unit: str | None) -> Source | None:
        key = (message.topic, at)
        source = self._sources.get(key)
        if not isfinite(value) or (source is None and len(self._sources) >= SOURCES_KEPT):
            # a number beyond all bounds is refused by every mapping, too
            return None
        if source is None:
            source = self._sources[key] = Source(message.topic, style, at)
        # a wrong key of the keyboard: the sign of an ordinal for that of a degree
        unit = unit.replace("º", "°") if unit else None
        source.unit = unit or source.unit
        if unit and len(source.units) < SPELLINGS_KEPT:
            source.units.add(unit)
        if len(source.values) < VALUES_KEPT:
            source.values.append(value)
            if not message.retain:
                source.times.append(message.at)
        return source

    def _plain(self, message: Message, text: str, number: tuple[float, str | None, str] | None) -> None:
        style = "homie" if _HOMIE.search(message.topic) else "plain"
        if number is not None:
            # A bare clock is no measurement; a number that looks like one by chance does not look so for long.
            if not _is_time(text.strip(), message.at):
                self._keep_number(message, style, "", number, None)
        elif (word := text.strip().lower()) in _CONTACT:
            source = self._keep(message, style, "", float(word in _CLOSED), None)
            if source is not None:
                source.contact = True
                source.words.add(text.strip())
        elif told := _pairs(message):
            for key, leaf in told.items():
                self._take_leaf(message, f"/{escaped(key)}", leaf, None, "pairs")
        else:
            self._texts.keep(message.topic, "", _unquoted(text.strip()))
            for place, name in enumerate(_legend(text) if message.retain else ()):
                self._texts.keep(message.topic, f"/{place}", name)
            self._unreadable(message.topic, text)
            self._keep_word(message, "plain", "", _unquoted(text.strip()))

    def _keep_word(self, message: Message, style: str, at: str, word: str) -> None:
        """Keep a switch's word that no mapping reads: of a relay's table its owner writes the words."""
        closed = is_closed(word)
        if closed is None or len(self._worded) >= SOURCES_KEPT:
            return
        source = self._worded.setdefault(
            (message.topic, at), Source(message.topic, style, at, contact=True, foreign=True)
        )
        if len(source.values) < VALUES_KEPT:
            source.values.append(float(closed))
            source.words.add(word)
            if not message.retain:
                source.times.append(message.at)

    def _keep_number(
        self, message: Message, style: str, at: str, number: tuple[float, str | None, str], unit: str | None
    ) -> Source | None:
        """Keep a number that was written as text."""
        source = self._keep(message, style, at, number[0], number[1] or unit)
        if source is not None and number[2] == ",":
            source.decimal = ","
        return source

    def _unreadable(self, place: str, text: str) -> None:
        """Say why digits cannot be read, so that nobody looks for them in vain."""
        if _DIGITS.fullmatch(text) and len(self.unread) < SOURCES_KEPT:
            why = why_not_a_number(text)
            self.unread[place] = f"{text.strip()[:20]}: " + (why if why != "not a number" else "not one number")

    def _document(self, message: Message, root: object) -> None:
        if message.topic.endswith("/config") and isinstance(root, dict) and {"state_topic", "stat_t"} & root.keys():
            self._texts.announce(root)
            return
        if isinstance(root, list) and root and all(isinstance(entry, dict) for entry in root) and _is_pack(root):
            self._pack(message, root)
            return
        for count, (pointer, leaf, unit, label) in enumerate(_leaves(root, "", message.at)):
            if count >= LEAVES_READ:
                break
            source = self._take_leaf(message, pointer, leaf, unit, "json")
            if source is not None and label and len(source.labels) < SPELLINGS_KEPT:
                source.labels.add(label)

    def _take_leaf(self, message: Message, pointer: str, leaf: object, unit: str | None, style: str) -> Source | None:
        """Keep one leaf, or the stamp that it is."""
        if _is_time(leaf, message.at):
            seen = self._clocks.setdefault(message.topic, {}).setdefault(pointer, [leaf, leaf, 0])
            seen[1:] = [leaf, int(str(seen[2])) + 1]
            return None
        return self._leaf(message, pointer, leaf, unit, style)

    def _pack(self, message: Message, root: list[object]) -> None:
        """Keep the numbers of a SenML pack (RFC 8428)."""
        try:
            records = resolved(root)
        except RejectError:
            return
        for record in records:
            if isinstance(record.value, float):
                source = self._keep(message, "senml", record.name, record.value, record.unit or None)
                if source is not None and record.time >= RELATIVE_BELOW:
                    source.time = "t"

    def _leaf(self, message: Message, pointer: str, leaf: object, unit: str | None, style: str) -> Source | None:
        """Keep one leaf of a document if it is a number or a contact's word; say why digits cannot be read."""
        if isinstance(leaf, int | float) and not isinstance(leaf, bool):
            return self._keep(message, style, pointer, float(leaf), unit)
        if isinstance(leaf, str) and (number := _reading(pointer.rpartition("/")[2], leaf)) is not None:
            return self._keep_number(message, style, pointer, number, unit)
        word = leaf.strip() if isinstance(leaf, str) else ""
        if isinstance(leaf, bool) or word.lower() in _CONTACT:
            source = self._keep(message, style, pointer, float(leaf is True or word.lower() in _CLOSED), None)
            if source is not None:
                source.contact = True
                source.words |= {word} - {""}
            return source
        if isinstance(leaf, str):
            self._texts.keep(message.topic, pointer, leaf)
            self._keep_word(message, style, pointer, word)
            self._unreadable(f"{message.topic} {pointer}", leaf)
        return None

    def _describe(self, device: str, payload: bytes) -> None:
        """Keep what a Homie device says of its nodes; the bridge's own devices are known by theirs."""
        try:
            description = document(payload)
        except RejectError:
            return
        nodes = description.get("nodes") if isinstance(description, dict) else None
        if not isinstance(nodes, dict):
            return
        if {"revival", "safety"} <= nodes.keys() or nodes.keys() == {"health"}:
            self._ours.add(device)
        for node, body in nodes.items():
            properties = body.get("properties") if isinstance(body, dict) else None
            self._named(f"{device}/{node}", body)
            for name, entry in properties.items() if isinstance(properties, dict) else ():
                self._named(f"{device}/{node}/{name}", entry)
                if isinstance(entry, dict) and entry.get("datatype") == "boolean":
                    self._booleans.add(f"{device}/{node}/{name}")

    def _named(self, topic: str, entry: object) -> None:
        """Keep the name and unit of a Homie node or property."""
        for key in ("name", "unit"):
            if isinstance(entry, dict) and isinstance(text := entry.get(key), str):
                self._texts.keep(f"{topic}/${key}", "", text)


def _unquoted(text: str) -> str:
    """Return what a text in quotes says, as JSON has it."""
    try:
        said = document(text.encode()) if text.startswith('"') else text
    except RejectError:
        return text
    return said if isinstance(said, str) else text


def _pairs(message: Message) -> dict[str, str]:
    """Return the keys and values of a text that has some, and a number among them; of prose nothing."""
    try:
        told = pairs_of(message.payload)
    except RejectError:
        return {}
    return told if len(told) <= LEAVES_READ and any(_number(value) is not None for value in told.values()) else {}


def _legend(text: str) -> list[str]:
    """Return the names that a text lists as the first line of a table does; none of a sentence.

    >>> _legend("volts;amps;acid C"), _legend("time,volts,amps"), _legend("box room, lead (u mV, i mA)")
    (['volts', 'amps', 'acid C'], ['time', 'volts', 'amps'], [])
    """
    for gap in (";", "|", "\t", ","):
        names = [name.strip() for name in text.split(gap)]
        if len(names) >= _COLUMNS and all(_A_NAME.fullmatch(name) for name in names):
            return names
    return []


def escaped(key: str) -> str:
    """Return a key as it stands in a JSON Pointer (RFC 6901)."""
    return key.replace("~", "~0").replace("/", "~1")


def _is_pack(root: list[object]) -> bool:
    return any(isinstance(entry, dict) and "n" in entry and ("v" in entry or "vb" in entry) for entry in root)


def _is_time(leaf: object, at: float) -> bool:
    """Tell whether a value is a clock's: within ten minutes of arrival."""
    if isinstance(leaf, bool) or (isinstance(leaf, str) and len(leaf) < SHORTEST_TIME):
        return False
    seconds = own_time(leaf, at)
    return seconds is not None and abs(seconds - at) < IS_NOW


def _leaves(
    node: object,
    pointer: str,
    at: float,
    unit: str | None = None,
    label: str = "",
    units: Mapping[str, str] = MappingProxyType({}),
) -> Iterator[_Leaf]:
    """Yield every leaf, with the unit and the name that stand beside it.

    `units` are those that the document says for a whole kind (``TempUnit``): they hold for everything below.
    """
    if isinstance(node, dict):
        label = beside(node, LABEL_KEYS) or label
        reading, unit, passed = _one_reading(node, at)
        units = {**units, **_units_by_kind(node)}
        for key, value in node.items():
            if key in passed:
                continue
            place = f"{pointer}/{escaped(str(key))}"
            own = (unit if reading in {key, None} else None) or next(
                (units[kind] for kind in _kinds(str(key)) if kind in units), None
            )
            yield from _leaves(value, place, at, own, label, units)
    elif isinstance(node, list):
        pair = len(node) == _PAIR and _numbers(node) == 1 and isinstance(node[1], str)
        for index, value in enumerate(node):
            yield from _leaves(value, f"{pointer}/{index}", at, node[1] if pair else None, label, units)
    elif pointer:
        yield pointer, node, unit, label


_Leaf = tuple[str, object, str | None, str]


def _one_reading(node: dict[str, object], at: float) -> tuple[str | None, str | None, frozenset[str]]:
    """Return the key of the one reading in an object, its unit, and the keys that are none where the unit tells.

    A stamp is no reading, nor are a register's number and factor; of a raw count and its scaled value the value is
    the one, and a count alone is in the unit that its factor makes of the unit beside it.

    >>> _one_reading({"val": 87.1, "unit": "F", "t": 1795590000}, 1795590000.0)
    ('val', 'F', frozenset())
    >>> key, unit, passed = _one_reading({"reg": 40101, "raw": 5760, "factor": 0.01, "value": 57.6, "unit": "V"}, 0.0)
    >>> key, unit, sorted(passed)
    ('value', 'V', ['factor', 'raw', 'reg'])
    >>> _one_reading({"raw": 214, "factor": 0.1, "unit": "A"}, 0.0)
    ('raw', 'dA', frozenset({'factor'}))
    """
    unit = beside(node, UNIT_KEYS)
    numbers = {key: float(value) for key, value in node.items() if _is_number(value) and not _is_time(value, at)}
    named = {key for key in numbers if key.lower() in REGISTER_KEYS | FACTOR_KEYS}
    factor = next((numbers[key] for key in named if key.lower() in FACTOR_KEYS), None)
    rest = {key: value for key, value in numbers.items() if key not in named}
    if not rest:
        return None, None, frozenset()
    if factor is not None and len(rest) == _PAIR:
        for raw, scaled in (tuple(rest), tuple(rest)[::-1]):
            if factor != 1.0 and abs(rest[raw] * factor - rest[scaled]) <= _ROUNDED * abs(factor):
                return scaled, unit, frozenset(named | {raw})
    if len(rest) != 1:
        return None, None, frozenset(named)
    (only,) = rest
    if factor is not None and unit is not None:
        counted = counted_unit(unit, factor)
        return only, counted, frozenset(named if counted else named | {only})
    return only, unit, frozenset(named)


def _units_by_kind(node: dict[str, object]) -> dict[str, str]:
    """Return kind of quantity -> unit, from keys such as ``TempUnit`` or ``voltage_unit``."""
    found: dict[str, str] = {}
    for key, value in node.items():
        if isinstance(value, str) and 0 < len(value) <= LONGEST_UNIT and "unit" in key.lower():
            found |= dict.fromkeys(_kinds(key), value)
    return found


def _kinds(key: str) -> list[str]:
    return [WORDS[word] for word in words_of(key) if word in WORDS]


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _numbers(values: Iterable[object]) -> int:
    return sum(_is_number(value) for value in values)


def _reading(key: str, text: str) -> tuple[float, str | None, str] | None:
    """Return the number that is written as text under a key; in a name digits and a unit are no reading.

    >>> _reading("volts", "25.1 V"), _reading("name", "12 V bank")
    ((25.1, 'V', '.'), None)
    """
    number = _number(text)
    return None if number is not None and number[1] and folded(key) in LABEL_KEYS else number


def _number(text: str) -> tuple[float, str | None, str] | None:
    """Return a number that is written as text, its unit and its decimal sign.

    >>> _number("21,5 °C"), _number("1,234"), _number("-3.1")
    ((21.5, '°C', ','), None, (-3.1, None, '.'))
    """
    comma = _COMMA.match(text)
    found = _NUMBER.fullmatch(f"{comma[1]}.{comma[2]}{text[comma.end() :]}" if comma else text)
    return None if found is None else (float(found[1]), found[2], "," if comma else ".")
