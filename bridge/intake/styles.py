"""Plain and JSON payloads: the two that nearly every meter speaks."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from bridge.intake.document import compile_pointer, document, resolve
from bridge.intake.mapping import Decoded, Mapping, Rejected, RejectError
from bridge.intake.stamp import own_time
from bridge.intake.value import extractor, text_of
from bridge.message import Message
from rules.events import Reading

Decode = Callable[[Message], Decoded]


def plain(mappings: Sequence[Mapping]) -> Decode:
    """``26.31``, ``26.31 V``, ``ON``: the payload is the value."""
    topic = mappings[0].topic
    parts = tuple((mapping.bank, mapping.meter, extractor(mapping, mapping.unit)) for mapping in mappings)

    def decode(message: Message) -> Decoded:
        _, payload, at, retained, *_ = message
        readings: list[Reading] = []
        rejected: tuple[Rejected, ...] = ()
        try:
            text = text_of(payload)
        except RejectError as error:
            return Decoded((), (Rejected(topic, error.args[0]),))
        for bank, meter, extract in parts:
            try:
                readings.append(Reading(bank, meter, extract(text), at, at, retained))
            except RejectError as error:
                rejected += (Rejected(topic, error.args[0]),)
        return Decoded(tuple(readings), rejected)

    return decode


def json(mappings: Sequence[Mapping]) -> Decode:
    """Values inside one JSON document, decoded once for all mappings that share the topic."""
    topic = mappings[0].topic
    times = tuple(dict.fromkeys(mapping.time for mapping in mappings if mapping.time is not None))
    time_tokens = tuple(compile_pointer(time) for time in times)
    parts = tuple(
        (
            mapping.bank,
            mapping.meter,
            compile_pointer(mapping.pointer),
            extractor(mapping, mapping.unit),
            times.index(mapping.time) if mapping.time is not None else -1,
        )
        for mapping in mappings
    )

    def decode(message: Message) -> Decoded:
        _, payload, at, retained, *_ = message
        try:
            root = document(payload)
        except RejectError as error:
            return Decoded((), (Rejected(topic, error.args[0]),))
        clocks: list[float | None] = []
        for tokens in time_tokens:
            try:
                clocks.append(own_time(resolve(tokens, root), at))
            except RejectError:
                clocks.append(None)
        readings: list[Reading] = []
        rejected: tuple[Rejected, ...] = ()
        for bank, meter, tokens, extract, which in parts:
            try:
                value = extract(resolve(tokens, root))
            except RejectError as error:
                rejected += (Rejected(topic, error.args[0]),)
                continue
            measured = clocks[which] if which >= 0 else None
            if measured is None:
                readings.append(Reading(bank, meter, value, at, at, retained))
            else:
                readings.append(Reading(bank, meter, value, at, measured))
        return Decoded(tuple(readings), rejected, clocks[0] if clocks else None, None in clocks)

    return decode
