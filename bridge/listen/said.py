"""What is said about a number elsewhere than in its own name: by texts beside it, by lists, by announcements.

A text that stays the same describes what stands where it stands; a text that changes is a state. Which number it is
about is told by where both stand (``7/now`` and ``7/desc``), or by an id that both carry (``names/07`` and ``c/07``, or
a document ``{"07": ...}``), and then only where several ids agree: one may be met by chance.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import NamedTuple, TypeVar

from bridge.listen.names import in_levels, words_of
from bridge.listen.source import Source
from bridge.listen.vocabulary import (
    AC,
    AIR,
    BATTERY,
    CIRCUITS,
    ELECTROLYTE,
    EMPTY,
    NOT_OURS,
    PARTS,
    THINGS,
    WEAK,
    WORDS,
    folded,
)
from bridge.units import UnitError, compile_unit

#: Keys that say a unit, a name, and the kind of a quantity as hubs call it.
UNIT_KEYS = (
    *("unit", "units", "uom", "unit_of_measurement", "unit_of_meas", "einheit", "eh", "unidad", "unite", "unita"),
    *("unidade", "jednostka", "jednotka", "enhet", "enhed", "eenheid", "yksikko", "um", "uds", "unid", "einh", "jedn"),
    *("jm", "eenh", "enh", "eu", "engunit", "engunits", "unitofmeasure"),
)
LABEL_KEYS = (
    *("friendly_name", "name", "label", "desc", "description", "title", "bezeichnung", "bez", "beschreibung", "nombre"),
    *("nom", "nome", "nazwa", "nazev", "namn", "navn", "naam", "nimi", "descripcion", "descricao", "descrizione"),
    *("opis", "popis", "omschrijving", "beskrivelse", "beskrivning", "kuvaus"),
    *("sensor", "type", "quantity", "key", "id", "n", "nm", "tag", "item", "param", "parameter", "signal", "point"),
)
KIND_KEYS = ("device_class", "dev_cla")
#: What number a register has is no reading; what its raw count is multiplied by is none either.
REGISTER_KEYS = frozenset({"reg", "register", "addr", "address", "adr", "nr"})
FACTOR_KEYS = frozenset({"factor", "faktor", "fak", "scale", "multiplier", "mult"})
#: A raw count times this is in the unit -> the prefix with which the count itself is a unit; units that take one.
PREFIXES = {1.0: "", 0.1: "d", 0.01: "c", 0.001: "m"}
PREFIXED = frozenset({"V", "A", "W", "degC"})
#: Factor of a count that can be written in no unit.
_UNWRITTEN = -1.0
#: Longer is prose; so many texts are kept of a stranger's broker [1] (assumed).
LONGEST, KEPT = 80, 10_000
#: Longest text that is a unit, or an id.
_LONGEST_UNIT, _LONGEST_ID = 11, 40
#: Longest sign of a unit.
_LONGEST_SYMBOL = 5
#: A unit behind a name, ``Spannung [V]`` or ``amps, mA``.
_UNIT_AT_END = re.compile(r"[\[(,]\s*([^\s\[\](),]{1,5})\s*[\])]?\s*\Z")
#: Tenths, hundredths and thousandths, which no other word is written like, ``I string 1 dA charging``.
_COUNTED = re.compile(r"(?<!\S)([dcm][VAWK])(?!\S)")
#: What one count is, ``battery voltage x0.1 V`` or ``[0,01 A]``: no rating is so small.
_A_COUNT = re.compile(r"[\[(]?\s*[x×*]?\s*0[.,](0{0,2}1)\s*(V|A|W|K|°?[CF]|deg[CF])(?!\w)\s*[\])]?")
#: A unit in a list of keys, ``t acid C/10``: by ten, hundred or thousand what one count is.
_LISTED = re.compile(r"(mV|mA|kW|V|A|W|K|°?[CF]|deg[CF])(?:/(10{1,3}))?")
#: What stands behind a number is a rating, ``12V 200Ah``, and names nothing.
_RATING = re.compile(r"\d+(?:[.,]\d+)?\s*(?:[mk]?V|[mk]?A|[mk]?Ah|k?Wh?|Hz|°?[CF])\b")
#: What is a unit wherever a name ends in it; what is one behind the name of what it measures -> that.
_ALWAYS_A_UNIT = frozenset({"°C", "°F", "degC", "degF", "mV", "mA", "kW"})
_LAST = {"V": "voltage", "W": "power", "C": "temperature", "F": "temperature"}
#: Canonical units of what a bank is measured by.
_CANONICAL = ("V", "A", "W", "degC")
#: Words of which any says something to this program.
_KNOWN = frozenset(WORDS) | BATTERY | ELECTROLYTE | AIR | AC | CIRCUITS | THINGS | NOT_OURS | frozenset(PARTS)
#: So many ids have to be met, and so many where nothing else is shared; so long is an id that nothing meets by chance
#: [1] (assumed).
_MET, _MET_FAR, _DISTINCTIVE = 2, 4, 4
#: A list stands so many parts below what it numbers, ``7/map/ch`` [1] (assumed).
_WITHIN = 2
#: A language's code, with its country or without (BCP 47's usual forms); a name above it has a place of its own.
_LANGUAGE, _PAIR = re.compile(r"[a-z]{2,3}(?:[-_][A-Za-z]{2,4})?"), 2
#: A name's end that says how many times too large a count is: ``volts_x100``.
_TIMES = re.compile(r"(?:[ _-]?\*|[ _-][xX])(10{1,3})\Z")
_DIGITS_LAST = re.compile(r"(\d+)\Z")

Path = tuple[str, ...]
_Kind = TypeVar("_Kind")


class Told(NamedTuple):
    """What is said of one number: its name, unit, kind, and what its raw count is multiplied by."""

    label: str = ""
    unit: str | None = None
    kind: str | None = None
    factor: float | None = None


class _List(NamedTuple):
    """What one list says of its ids: where it stands, and whether the ids are places in an order only."""

    scope: Path
    told: dict[str, Told]
    ordered: bool


class Texts:
    """Every text that was heard, by where it stands; `describe` gives sources what is said of them."""

    def __init__(self) -> None:
        self._heard: dict[Path, str | None] = {}
        self._announced: dict[str, list[tuple[str, Told]]] = {}

    def keep(self, topic: str, pointer: str, text: str) -> None:
        """Keep one text; what changes is a state and describes nothing."""
        path = _path(topic, pointer)
        if path not in self._heard:
            if len(self._heard) < KEPT:
                self._heard[path] = text.strip().replace("º", "°") if len(text) <= LONGEST else None
        elif self._heard[path] != text.strip().replace("º", "°"):
            self._heard[path] = None

    def announce(self, root: Mapping[str, object]) -> None:
        """Keep what a hub's discovery document says of its state topic, and the place that its template reads."""
        state, base = root.get("state_topic", root.get("stat_t")), root.get("~")
        if not isinstance(state, str):
            return
        state = state.replace("~", base) if isinstance(base, str) else state
        device = root.get("device", root.get("dev"))
        names = (device.get("name") if isinstance(device, dict) else None, root.get("name"))
        said = {key: value for key, value in root.items() if isinstance(value, str)}
        told = Told(
            " ".join(name for name in names if isinstance(name, str) and len(name) <= LONGEST),
            beside(said, UNIT_KEYS),
            beside(said, KIND_KEYS),
        )
        template = root.get("value_template", root.get("val_tpl", ""))
        if len(self._announced) < KEPT:
            self._announced.setdefault(state, []).append((str(template), told))

    def describe(self, sources: list[Source], stamps: Iterable[tuple[str, str]] = ()) -> None:
        """Give every source the unit, kind and name that are said of it elsewhere.

        `stamps` are topic and pointer of the times, which a list of numbers may have among them.
        """
        places = _Places(sources, {*self._heard, *(_path(*stamp) for stamp in stamps)})
        for source in sources:
            source.said = ""
            source.around.clear()
        for source in sources:
            if source.factor is None and all(value.is_integer() for value in source.values):
                source.factor = _times_in_the_name(path_of(source)[-1])
        for source in sources:
            for told in self._announcements(source, places):
                _tell(source, told)
        nodes: dict[Path, dict[str, str]] = {}
        for heard_at, text in self._heard.items():
            if text:
                path = heard_at[:-1] if _by_language(heard_at) else heard_at
                texts, key = nodes.setdefault(path[:-1], {}), path[-1].removeprefix("$")
                texts[key] = f"{texts[key]} {text}" if key in texts else text
        speaking = _speaking_keys(nodes)
        left = {}
        for node, texts in nodes.items():
            keys = speaking.get(node[:-1], {})
            numbers, factor = places.of(node), places.factor(node)
            if len(numbers) == 1:
                _tell(numbers[0], _told(texts, keys, factor))
                continue
            # of a node alone no key but the known ones tells apart what it is called from what it lists
            left[node] = (texts, _told(texts, [key for key, nodes_of_it in keys.items() if nodes_of_it > 1], factor))
            _tell_around(texts, places.below(node))
        for source, told, alone in _by_ids(list(_lists(left, places)), places):
            if alone:
                _tell(source, told)
            elif told.label:
                source.around.add(told.label)

    def _announcements(self, source: Source, places: _Places) -> Iterator[Told]:
        """Yield what is announced of a source: of its topic where that is one number, else of its own place."""
        for template, told in self._announced.get(source.topic, ()):
            names = re.findall(r"[\w-]+", template)
            if places.numbers_of(source.topic) == 1 or (source.at and names[-1:] == [_path("", source.at)[-1]]):
                yield told


def beside(node: Mapping[str, object], keys: tuple[str, ...]) -> str | None:
    """Return the text that a node says under the first of these keys, however its keys are written."""
    named = {folded(key): value for key, value in node.items()}
    return next((value for key in keys if isinstance(value := named.get(key), str) and 0 < len(value) <= LONGEST), None)


def _tell_around(texts: Mapping[str, str], below: list[Source]) -> None:
    """Give what stands below a place what its texts call the place, and the units that they list."""
    label = beside(texts, LABEL_KEYS)
    units = [listed for text in texts.values() if (listed := _keyed(text))]
    for source in below:
        if label:
            source.around.add(label)
        for listed in units:
            _tell(source, Told(unit=listed.get(path_of(source)[-1].lower())))


def _times_in_the_name(name: str) -> float | None:
    """Return what a raw count is multiplied by, where its name says how many times too large it is.

    >>> [_times_in_the_name(name) for name in ("volts_x100", "V*1000", "v_x7", "box10", "x10")]
    [0.01, 0.001, None, None, None]
    """
    found = _TIMES.search(name)
    return 1.0 / float(found[1]) if found else None


def _by_language(path: Path) -> bool:
    """Tell whether a text is a name in one of several languages, as in ``{"title": {"en": "acid", "uk": "..."}}``.

    >>> _by_language(("hut", "t", "meta", "title", "uk")), _by_language(("hut", "t", "meta", "title"))
    (True, False)
    """
    return len(path) > _PAIR and folded(path[-2]) in LABEL_KEYS and bool(_LANGUAGE.fullmatch(path[-1]))


def counted_unit(unit: str, factor: float) -> str | None:
    """Return the unit of a raw count, of which so many make the unit that is told; None where none is written so.

    >>> counted_unit("V", 0.1), counted_unit("C", 0.1), counted_unit("°F", 0.1), counted_unit("%", 1.0)
    ('dV', 'ddegC', None, '%')
    """
    if factor == 1.0:
        return unit
    # a lone letter that is counted in parts is a degree's
    plain = "degC" if unit in {"C", "°C", "℃", "Cel"} else unit
    return f"{PREFIXES[factor]}{plain}" if factor in PREFIXES and plain in PREFIXED else None


def _path(topic: str, pointer: str) -> Path:
    return (*in_levels(topic).split("/"), *(part for part in pointer.split("/") if part))


def path_of(source: Source) -> Path:
    """Return the parts of a topic and of the place in its payload.

    >>> path_of(Source("hut/7", "json", "/dc/volts"))
    ('hut', '7', 'dc', 'volts')
    """
    return _path(source.topic, source.at)


class _Places:
    """Where the numbers stand."""

    def __init__(self, sources: list[Source], others: set[Path]) -> None:
        self._at = {path_of(source): source for source in sources}
        self._others = others
        self._under: dict[Path, list[Source]] = {}
        self._topics = Counter(source.topic for source in sources)
        for path, source in self._at.items():
            for length in range(1, len(path)):
                self._under.setdefault(path[:length], []).append(source)

    def numbers_of(self, topic: str) -> int:
        return self._topics[topic]

    def below(self, node: Path) -> list[Source]:
        """Return every number below a place that is more than the house."""
        return self._under.get(node, []) if len(node) > 1 else []

    def children(self, node: Path) -> list[Source]:
        return [one for one in self._under.get(node, []) if len(path_of(one)) == len(node) + 1]

    def of(self, node: Path) -> list[Source]:
        """Return the numbers that a text standing in a place is about: its own, or those right below, or beside it."""
        if node in self._at:
            return [self._at[node]]
        found = self._readings(node)
        if not found and node[:-1] in self._at:
            return [self._at[node[:-1]]]
        if node in self._under:
            return found
        return some if len(some := self._readings(node[:-1])) == 1 else []

    def _readings(self, node: Path) -> list[Source]:
        """Return the numbers right below a place, without factors; of several the one that is called a value."""
        some = [
            one
            for one in self.children(node)
            if folded(path_of(one)[-1]) not in FACTOR_KEYS | REGISTER_KEYS and one.times
        ]
        values = [one for one in some if path_of(one)[-1].lower() in EMPTY]
        return values if len(values) == 1 else some

    def factor(self, node: Path) -> float | None:
        """Return what a raw count is multiplied by, where a place says so: beside words a lone part of one is it."""
        kept = [one for one in self.children(node) if set(one.values) == {one.values[0]}]
        said = [one.values[0] for one in kept if folded(path_of(one)[-1]) in FACTOR_KEYS]
        alone = [one.values[0] for one in kept if not one.times and path_of(one)[-1].lower() not in EMPTY]
        said = said or [value for value in alone if len(alone) == 1 and 0.0 < value < 1.0]
        return said[0] if len(said) == 1 else None

    def numbered(self, node: Path) -> Iterator[tuple[str, str]]:
        """Yield key and value of whole numbers right below a place that never change: they may be ids."""
        for one in self.children(node):
            if set(one.values) == {one.values[0]} and one.values[0] == int(one.values[0]):
                yield path_of(one)[-1], f"{one.values[0]:.0f}"

    def no_numbers(self, pattern: Path, ids: Iterable[str]) -> set[str]:
        """Return those of some ids that stand in a pattern's place and are texts or times, counted from nought."""
        spot = pattern.index("*")
        return {one for one in ids if (*pattern[:spot], one, *pattern[spot + 1 :]) in self._others}

    def living(self) -> dict[Path, dict[str, Source]]:
        """Return pattern -> what stands in its place (``hut/*/volts`` -> 1, 2): of those of which most move."""
        patterns: dict[Path, dict[str, Source]] = {}
        for path, source in self._at.items():
            if source.times:
                for spot, part in enumerate(path):
                    patterns.setdefault((*path[:spot], "*", *path[spot + 1 :]), {})[part] = source
        return {
            pattern: some
            for pattern, some in patterns.items()
            if 2 * sum(len(set(one.values)) > 1 or one.contact for one in some.values()) >= len(some)
        }


def _told(texts: Mapping[str, str], speaking: Iterable[str], factor: float | None) -> Told:
    """Return what the texts of one place say together."""
    unit = beside(texts, UNIT_KEYS) or next((text for key in speaking if _is_unit(text := texts.get(key, ""))), None)
    label = beside(texts, LABEL_KEYS)
    said = [text for key in speaking if (text := texts.get(key, "")) and not _is_unit(text) and text != label]
    whole = " ".join((*said, *([label] if label else [])))
    counts = {counted_unit(one, float(f"0.{part}")) for part, one in _A_COUNT.findall(whole)} - {None}
    if unit is None and len(counts) == 1:
        (unit,), whole = counts, _A_COUNT.sub(" ", whole)
    label = " ".join(_RATING.sub(" ", whole).split())
    behind = _UNIT_AT_END.search(label)
    if unit is None and behind is not None and _is_unit(behind[1]):
        unit, label = behind[1], label[: behind.start()]
    head, _, last = label.rpartition(" ")
    if unit is None and _measures(head, last):
        unit, label = last, head
    counted = _COUNTED.findall(label)
    if unit is None and len(counted) == 1:
        unit, label = counted[0], " ".join(_COUNTED.sub(" ", label).split())
    return Told(label, unit if unit and len(unit) <= _LONGEST_UNIT else None, beside(texts, KIND_KEYS), factor)


def _measures(head: str, last: str) -> bool:
    """Tell whether the last word of a name is its unit: what is so called is measured in it, or nothing else is.

    An A is as often the first of several.

    >>> [_measures(*pair) for pair in (("akkuhappo", "°C"), ("jännite", "V"), ("probe", "C"), ("string amps", "A"))]
    [True, True, False, False]
    """
    if last in _ALWAYS_A_UNIT:
        return bool(head)
    kinds = {WORDS[word] for word in words_of(head) if word in WORDS and word not in WEAK}
    return last in _LAST and _LAST[last] in kinds


def _keyed(text: str) -> dict[str, str]:
    """Return key -> unit, from a text that lists the numbers beside it each with its unit, or how it is counted.

    >>> _keyed("box room, lead (u mV, i mA in +, t acid C/10)"), _keyed("i + = into cells, 24V")
    ({'u': 'mV', 'i': 'mA', 't': 'ddegC'}, {})
    """
    found: dict[str, str] = {}
    for entry in re.split(r"[(),;]", text):
        key, *rest = entry.split() or [""]
        for word in rest[:2]:
            if listed := _LISTED.fullmatch(word):
                unit = {"C": "degC", "°C": "degC", "F": "degF", "°F": "degF"}.get(listed[1], listed[1])
                unit = f"{PREFIXES[1.0 / float(listed[2])]}{unit}" if listed[2] else unit
                if _is_unit(unit):
                    found.setdefault(key.lower(), unit)
    return found


def _is_unit(text: str) -> bool:
    """Tell whether a text is a unit of what a bank is measured by."""
    for canonical in _CANONICAL:
        try:
            compile_unit(text, canonical, "text")
        except UnitError:
            continue
        return True
    return text in {"C", "F"}


def _speaking_keys(nodes: Mapping[Path, Mapping[str, str]]) -> dict[Path, dict[str, int]]:
    """Return by collection the keys whose texts describe, and in how many of its nodes each stands.

    They differ from place to place, and some say what is known; a key of one place alone describes if what it says is
    known. What is the same everywhere is a state or a version.
    """
    texts: dict[Path, dict[str, list[str]]] = {}
    for node, said in nodes.items():
        for key, text in said.items():
            if folded(key) not in (*UNIT_KEYS, *LABEL_KEYS, *KIND_KEYS):
                texts.setdefault(node[:-1], {}).setdefault(key, []).append(text)
    return {
        collection: {key: len(some) for key, some in keys.items() if _describe(some)}
        for collection, keys in texts.items()
    }


def _describe(some: list[str]) -> bool:
    several = set(some)
    units = {text for text in several if _is_unit(text)}
    if len(units) > 1 and units & {"V", "mV"} and all(len(text) <= _LONGEST_SYMBOL for text in several):
        # what other things are measured in stands there too
        return True
    if all(_is_unit(text) for text in several):
        return len(several) > 1
    told_apart = len(some) == 1 or (len(several) > 1 and 2 * len(several) >= len(some))
    return told_apart and any(_KNOWN & set(words_of(text)) for text in several)


def _lists(left: Mapping[Path, tuple[Mapping[str, str], Told]], places: _Places) -> Iterator[_List]:
    """Yield every list that the texts make: by the keys of a node, by what else stands in each of its entries."""
    found: dict[tuple[Path, str], dict[str, Told]] = {}
    for node, (texts, told) in left.items():
        if told.label or told.unit or told.kind:
            found.setdefault((node[:-1], ""), {})[node[-1]] = told
            for key, text in (*texts.items(), *places.numbered(node)):
                if text not in {told.label, told.unit} and len(text) <= _LONGEST_ID and " " not in text:
                    found.setdefault((node[:-1], key), {})[text] = told
        if not told.label:
            for key, text in texts.items():
                if folded(key) not in (*UNIT_KEYS, *LABEL_KEYS, *KIND_KEYS):
                    one = _told({"label": text}, (), None)
                    found.setdefault((node, "="), {})[key] = Told(unit=text) if _is_unit(text) else one
    for (scope, _), entries in found.items():
        labels = [told.label for told in entries.values() if told.label]
        if labels and not _describe(labels):
            continue
        ordered = entries.keys() == {str(number) for number in range(len(entries))}
        yield _List(scope, entries, ordered)
        if ordered:
            yield _List(scope, {str(int(key) + 1): told for key, told in entries.items()}, ordered)


def _by_ids(lists: list[_List], places: _Places) -> list[tuple[Source, Told, bool]]:
    """Return what the nearest lists say of the numbers whose ids they name, and whether of one number alone."""
    living = places.living()
    found: dict[int, list[tuple[tuple[tuple[int, int], int], Source, Told, bool]]] = {}
    settled: set[Path] = set()
    for norm in (_exact, _last_number):
        named = {pattern: ids for pattern, some in living.items() if (ids := _normed(some, norm))}
        by_id: dict[str, list[Path]] = {}
        for pattern, ids in named.items():
            for one in ids:
                by_id.setdefault(one, []).append(pattern)
        for entries in lists:
            told = _normed(entries.told, norm)
            if not told or (entries.ordered and norm is not _exact and entries.scope in settled):
                # a list of places in an order is about one other list
                continue
            met = Counter(pattern for one in told for pattern in by_id.get(one, ()))
            able = [
                ((_near(entries.scope, pattern), -_beyond(entries, pattern)), count, pattern)
                for pattern, count in met.items()
                if _meets(entries, told, named[pattern], pattern, count, by_id, places)
            ]
            if not able:
                continue
            most = max((near, count) for near, count, _ in able)
            best = [pattern for near, count, pattern in able if (near, count) == most]
            spots = {(pattern.index("*"), pattern[: pattern.index("*")]) for pattern in best}
            if len(best) > 1 and len(spots) > 1 and not entries.ordered:
                continue
            alone = len(best) == 1 or entries.ordered
            settled |= {entries.scope} if entries.ordered else set()
            for pattern in best:
                for one in told.keys() & named[pattern].keys():
                    source = named[pattern][one]
                    found.setdefault(id(source), []).append((most, source, told[one], alone))
    return [
        (source, told, alone)
        for some in found.values()
        for near, source, told, alone in some
        if near == max(one[0] for one in some)
    ]


def _near(scope: Path, pattern: Path) -> int:
    return sum(part in pattern for part in scope)


def _beyond(entries: _List, pattern: Path) -> int:
    """Return how many parts of a pattern are not where a list of places in an order stands: it is about the nearest."""
    return sum(part not in (*entries.scope, "*") for part in pattern) if entries.ordered else 0


def _meets(
    entries: _List,
    told: Mapping[str, Told],
    named: Mapping[str, Source],
    pattern: Path,
    count: int,
    by_id: Mapping[str, list[Path]],
    places: _Places,
) -> bool:
    """Tell whether a list is about the numbers of a pattern, and not met by chance."""
    if entries.ordered:
        # what else stands there has a name and no number
        numbered = {one for one in named if one.isdecimal()}
        left = len(entries.scope) - _near(entries.scope, pattern)
        told_of_numbers = told.keys() - places.no_numbers(pattern, told.keys() - numbered)
        return told_of_numbers == numbered and (
            left <= 1 or (left == _WITHIN and _numbers_above(entries, pattern, named))
        )
    far = len(entries.scope) - _near(entries.scope, pattern)
    if count < _MET:
        (met,) = told.keys() & named.keys()
        return len(met) >= _DISTINCTIVE and any(c.isdigit() for c in met) and len(by_id[met]) == 1
    if far > 1:
        return count >= _MET_FAR and 2 * count >= max(len(told), len(named))
    return 2 * count >= min(len(told), len(named))


def _numbers_above(entries: _List, pattern: Path, named: Mapping[str, Source]) -> bool:
    """Tell whether a list stands below what is numbered, by bare numbers and in no whole house."""
    spot = pattern.index("*")
    bare = all(path_of(source)[spot].isdecimal() for one, source in named.items() if one.isdecimal())
    return bare and spot > 1 and entries.scope[:spot] == pattern[:spot]


def _exact(part: str) -> str | None:
    return str(int(part)) if part.isdecimal() else part.lower()


def _last_number(part: str) -> str | None:
    found = _DIGITS_LAST.search(part)
    return str(int(found[1])) if found else None


def _normed(some: Mapping[str, _Kind], norm: Callable[[str], str | None]) -> dict[str, _Kind]:
    """Return the same by the ids as they are compared; nothing where an id has no such form, or two are one."""
    found = {as_compared: one for key, one in some.items() if (as_compared := norm(key)) is not None}
    return {} if len(found) < len(some) else found


def _tell(source: Source, told: Told) -> None:
    """Give a source what is said of it elsewhere; what its own payload says comes first."""
    unit = told.unit
    factor = told.factor
    if unit is not None and factor is not None:
        unit = counted_unit(unit, factor)
        # what can be written in no unit is nothing that a mapping reads
        factor = factor if unit is not None else _UNWRITTEN
    source.unit = source.unit or unit
    source.factor = source.factor or factor
    source.kind = source.kind or told.kind
    if source.labels and told.label:
        source.around.add(told.label)
    elif told.label not in source.said:
        source.said = f"{source.said} {told.label}".strip()
