"""The same houses told otherwise: what is true stays true, so a score may lose live mappings, and gain no wrong one.

Each change takes a house and returns one with the same signals and other words, units, signs or payloads.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

from tests.bench.households.world import START, House, Truth

#: Keys and last parts that say what stands beside them; renamed as well they would say nothing to anybody.
_KEPT = frozenset({"unit", "units", "eh", "uom", "TempUnit", "fak", "factor", "config", "homie", "5", "m"})
_UNITS_AS_KEYS = frozenset({"unit", "eh", "uom", "TempUnit"})
_WITH_UNIT = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*[A-Za-z°%℃℉/]+\s*")
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?")
_FLOWS = frozenset({"current", "power", "string_current"})
_OTHER_SIGN = {"charging": "discharging", "discharging": "charging"}

Change = Callable[[House], House]


class Told(House):
    """A house whose messages and truths pass through a change."""

    def __init__(
        self,
        house: House,
        name: str,
        row: Callable[[str, str, dict[str, Truth]], tuple[str, str]],
        place: Callable[[str, Truth], tuple[str, Truth]],
        kept: Mapping[str, object] = MappingProxyType({}),
    ) -> None:
        super().__init__(f"{house.name}, {name}", 0, house.equalised, house.shapes, house.seconds)
        self._house, self._row, self._place, self._kept = house, row, place, kept

    def messages(self) -> Iterator[dict[str, object]]:
        """Traffic, changed message by message, behind what is kept."""
        truths = self._house.truths()
        for topic, said in self._kept.items():
            payload = said if isinstance(said, str) else json.dumps(said)
            yield {"t": START, "topic": topic, "payload": payload, "retain": True}
        for message in self._house.messages():
            topic, payload = self._row(str(message["topic"]), str(message["payload"]), truths)
            yield message | {"topic": topic, "payload": payload}

    def truths(self) -> dict[str, Truth]:
        """Truths at their new places."""
        return dict(self._place(place, truth) for place, truth in self._house.truths().items())


def _coded(word: str) -> str:
    """Return a word that says nothing, the same each time; digits at its end stay, for they tell who is one of many."""
    stem = word.rstrip("0123456789")
    if not stem or word in _KEPT or word.startswith("$"):
        return word
    return (
        "q"
        + hashlib.sha256(stem.encode()).hexdigest()[:4].translate(str.maketrans("abcdef", "xkzqjy"))
        + word[len(stem) :]
    )


def _coded_path(path: str) -> str:
    return "/".join(_coded(part) for part in path.split("/"))


def _walk(node: object, key: Callable[[str], str], leaf: Callable[[str, object], object], at: str = "") -> object:
    if isinstance(node, dict):
        return {key(str(name)): _walk(value, key, leaf, f"{at}/{name}") for name, value in node.items()}
    if isinstance(node, list):
        return [_walk(value, key, leaf, f"{at}/{index}") for index, value in enumerate(node)]
    return leaf(at, node)


def _tree(payload: str) -> object | None:
    if not payload.lstrip().startswith(("{", "[")):
        return None
    return json.loads(payload)


def nameless(house: House) -> House:
    """Every word of topics and keys replaced by a meaningless one; units beside the numbers stay."""

    def row(topic: str, payload: str, truths: dict[str, Truth]) -> tuple[str, str]:
        tree = _tree(payload)
        if tree is None or topic.startswith("homie/") or topic.endswith("/config"):
            return topic if topic.startswith("homie/") else _coded_path(topic), payload
        keep = isinstance(tree, list)
        return _coded_path(topic), json.dumps(_walk(tree, (lambda k: k) if keep else _coded, lambda _at, v: v))

    def place(where: str, truth: Truth) -> tuple[str, Truth]:
        topic, _, at = where.partition(" ")
        if topic.startswith("homie/"):
            return where, truth
        return f"{_coded_path(topic)} {_coded_path(at) if at.startswith('/') else at}".strip(), truth

    return Told(house, "nameless", row, place)


def unitless(house: House) -> House:
    """No unit written anywhere beside a number."""

    def bare(text: str) -> str:
        found = _WITH_UNIT.fullmatch(text)
        return found[1] if found else text

    def row(topic: str, payload: str, truths: dict[str, Truth]) -> tuple[str, str]:
        tree = _tree(payload)
        if tree is None:
            return (topic + "/x", "-") if topic.endswith("/unit") else (topic, bare(payload))
        if topic.endswith(("/config", "/$description")) or isinstance(tree, list):
            return topic, payload
        tree = _walk(
            tree, lambda k: "note" if k in _UNITS_AS_KEYS else k, lambda _at, v: bare(v) if isinstance(v, str) else v
        )
        assert isinstance(tree, dict)
        return topic, json.dumps(tree)

    return Told(house, "unitless", row, lambda where, truth: (where, truth))


def turned(house: House) -> House:
    """Every current and power of a bank counts the other way."""

    def row(topic: str, payload: str, truths: dict[str, Truth]) -> tuple[str, str]:
        if (one := truths.get(topic)) is not None and one.quantity in _FLOWS and _NUMBER.match(payload):
            return topic, payload[1:] if payload.startswith("-") else f"-{payload}"
        tree = _tree(payload)
        if tree is None:
            return topic, payload

        def leaf(at: str, value: object) -> object:
            one = truths.get(f"{topic} {at}")
            flows = one is not None and one.quantity in _FLOWS
            return -value if flows and isinstance(value, int | float) else value

        return topic, json.dumps(_walk(tree, lambda k: k, leaf))

    def place(where: str, truth: Truth) -> tuple[str, Truth]:
        senml = " " in where and not where.partition(" ")[2].startswith("/")
        turns = truth.quantity in _FLOWS and not senml
        return where, truth._replace(sign=_OTHER_SIGN[truth.sign]) if turns else truth

    return Told(house, "turned", row, place)


def flat(house: House) -> House:
    """Topics of one level, words joined by a dash: nothing stands beside anything."""

    def joined(topic: str) -> str:
        kept = topic.startswith("homie/") or topic.endswith(("/unit", "/config"))
        return topic if kept else topic.replace("/", "-")

    return Told(
        house,
        "flat",
        lambda topic, payload, _truths: (joined(topic), payload),
        lambda where, truth: (f"{joined(where.partition(' ')[0])} {where.partition(' ')[2]}".strip(), truth),
    )


def commas(house: House) -> House:
    """Numbers as text with a decimal comma."""

    def row(topic: str, payload: str, truths: dict[str, Truth]) -> tuple[str, str]:
        return topic, payload.replace(".", ",") if re.match(r"\s*[+-]?\d+\.\d+(?![\d.])", payload) else payload

    return Told(house, "commas", row, lambda where, truth: (where, truth))


def wrapped(house: House) -> House:
    """Every bare number becomes an object with a value and a stamp."""

    def bare(topic: str, payload: str) -> bool:
        return bool(_NUMBER.fullmatch(payload)) and not topic.startswith("homie/")

    plain = {
        str(message["topic"]) for message in house.messages() if bare(str(message["topic"]), str(message["payload"]))
    }

    def row(topic: str, payload: str, truths: dict[str, Truth]) -> tuple[str, str]:
        if topic not in plain or not bare(topic, payload):
            return topic, payload
        return topic, json.dumps({"data": {"v": float(payload), "ok": True}})

    def place(where: str, truth: Truth) -> tuple[str, Truth]:
        return f"{where} /data/v" if where in plain else where, truth

    return Told(house, "wrapped", row, place)


def renumbered(house: House) -> House:
    """The last part of every bare topic is a number that means nothing: ``dc/17``."""

    def last(topic: str) -> str:
        if topic.startswith("homie/") or "/" not in topic or topic.endswith(("/unit", "/config", "/now")):
            return topic
        head, _, tail = topic.rpartition("/")
        return f"{head}/{int(hashlib.sha256(tail.encode()).hexdigest()[:4], 16)}"

    return Told(
        house,
        "renumbered",
        lambda topic, payload, _truths: (last(topic), payload),
        lambda where, truth: (f"{last(where.partition(' ')[0])} {where.partition(' ')[2]}".strip(), truth),
    )


def _channels(house: House) -> dict[str, int]:
    """Return a number for every topic that carries bare numbers and has nothing below it."""
    said = {str(message["topic"]): str(message["payload"]) for message in house.messages()}
    bare = [
        topic
        for topic, payload in said.items()
        if (_NUMBER.fullmatch(payload) or _WITH_UNIT.fullmatch(payload))
        and not topic.startswith("homie/")
        and not any(other.startswith((f"{topic}/", f"{topic.rpartition('/')[0]}/unit")) for other in said)
    ]
    order = sorted(bare, key=lambda topic: hashlib.sha256(topic.encode()).hexdigest())
    return {topic: number for number, topic in enumerate(order, 1)}


def _words(topic: str) -> str:
    """Return a topic's words as somebody would write them beside a channel's number, without the house."""
    return topic.partition("/")[2].replace("/", " ").replace("_", " ") or topic


def _numbered(house: House, name: str, form: str, kept: Callable[[dict[str, int]], dict[str, object]]) -> Told:
    numbers = _channels(house)

    def told(topic: str) -> str:
        return form.format(numbers[topic]) if topic in numbers else topic

    def place(where: str, truth: Truth) -> tuple[str, Truth]:
        topic, _, at = where.partition(" ")
        return f"{told(topic)} {at}".strip(), truth

    return Told(house, name, lambda topic, payload, _truths: (told(topic), payload), place, kept(numbers))


def described(house: House) -> House:
    """Every bare topic a numbered channel, and its words in a kept text below it: ``log/c/07/desc``."""
    return _numbered(
        house,
        "described",
        "log/c/{:02d}",
        lambda numbers: {f"log/c/{number:02d}/desc": _words(topic) for topic, number in numbers.items()},
    )


def named_apart(house: House) -> House:
    """Every bare topic a numbered channel, and its words kept among others' elsewhere: ``log/text/7``."""
    return _numbered(
        house,
        "named apart",
        "log/in/{}/val",
        lambda numbers: {f"log/text/{number}": _words(topic) for topic, number in numbers.items()},
    )


def listed(house: House) -> House:
    """Every bare topic a numbered channel, and one kept document that lists them all."""
    return _numbered(
        house,
        "listed",
        "log/ch{}",
        lambda numbers: {
            "log/about": {
                "fw": "1.2",
                "channels": [{"ch": number, "name": _words(topic)} for topic, number in numbers.items()],
            }
        },
    )


CHANGES: tuple[Change, ...] = (
    nameless,
    unitless,
    turned,
    flat,
    commas,
    wrapped,
    renumbered,
    described,
    named_apart,
    listed,
)
