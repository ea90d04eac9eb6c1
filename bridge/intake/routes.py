"""The routing table: exact topic -> compiled decoder, one dict lookup per message."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from bridge.intake.homie import HomieDevice, description_topic
from bridge.intake.mapping import Decoded, Mapping
from bridge.intake.senml import senml
from bridge.intake.styles import Decode, json, pairs, plain
from bridge.message import Message

_NOTHING = Decoded()
_STYLES: dict[str, Callable[[list[Mapping]], Decode]] = {
    "plain": plain,
    "json": json,
    "pairs": pairs,
    "senml": senml,
}


class Routes:
    """All mappings of a cabin, compiled.

    Attributes
    ----------
    mappings : tuple of Mapping
        As configured, relay states included.
    live_topics, history_topics : tuple of str
        What each broker session subscribes to. A topic whose messages carry their own time belongs to `history`:
        its messages may wait in the broker and arrive late without being mistaken for fresh ones.

    Raises
    ------
    ValueError
        A topic is read in two styles, or a pointer, unit or topic cannot be.
    """

    def __init__(self, mappings: Iterable[Mapping]) -> None:
        self.mappings = tuple(mappings)
        by_topic: dict[str, list[Mapping]] = {}
        devices: dict[str, list[Mapping]] = {}
        for mapping in self.mappings:
            if mapping.style == "homie":
                devices.setdefault(description_topic(mapping.topic), []).append(mapping)
            else:
                by_topic.setdefault(mapping.topic, []).append(mapping)
        self._decode: dict[str, Decode] = {}
        for topic, group in by_topic.items():
            styles = sorted({mapping.style for mapping in group})
            if len(styles) > 1:
                raise ValueError(f'topic "{topic}" is read as {" and as ".join(styles)}: use one style per topic')
            self._decode[topic] = _STYLES[styles[0]](group)
        for topic, group in devices.items():
            self._decode |= HomieDevice(topic, group).routes()
        stamped = dict.fromkeys(mapping.topic for mapping in self.mappings if mapping.time is not None)
        self.history_topics = tuple(stamped)
        self.live_topics = tuple(topic for topic in self._decode if topic not in stamped)

    def decode(self, message: Message) -> Decoded:
        """Decode into readings, and what was rejected and why; never raise for what a payload contains."""
        decode = self._decode.get(message.topic)
        return _NOTHING if decode is None else decode(message)
