"""Plain and JSON payloads, the two that nearly every meter speaks; and text of keys and values, read as JSON is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress

from bridge.intake.document import compile_pointer, document, resolve
from bridge.intake.mapping import Decoded, Mapping, Rejected, RejectError, unreadable
from bridge.intake.pairs import pairs_of
from bridge.intake.stamp import off_by, own_time
from bridge.intake.value import extractor, text_of
from bridge.message import Message
from rules.events import Reading, Unreadable

Decode = Callable[[Message], Decoded]


def plain(mappings: Sequence[Mapping]) -> Decode:
    """Decode ``26.31``, ``26.31 V``, ``ON``: the payload is the value."""
    topic = mappings[0].topic
    parts = tuple((mapping.bank, mapping.meter, extractor(mapping, mapping.unit), mapping) for mapping in mappings)

    def decode(message: Message) -> Decoded:
        _, payload, at, retained, *_ = message
        readings: list[Reading] = []
        rejected: tuple[Rejected, ...] = ()
        try:
            text = text_of(payload)
        except RejectError as error:
            return Decoded((), (Rejected(topic, error.args[0]),))
        lost: tuple[Unreadable, ...] = ()
        for bank, meter, extract, mapping in parts:
            try:
                readings.append(Reading(bank, meter, extract(text), at, at, retained))
            except RejectError as error:
                rejected += (Rejected(topic, error.args[0]),)
                lost += unreadable(mapping, at, error.args[0], text)
        return Decoded(tuple(readings), rejected, unreadable=lost)

    return decode


def json(mappings: Sequence[Mapping]) -> Decode:
    """Decode values inside one JSON document, once for all mappings that share the topic."""
    return _inside(mappings, document)


def pairs(mappings: Sequence[Mapping]) -> Decode:
    """Decode values of ``V=26.31 A=9.2``, once for all mappings that share the topic."""
    return _inside(mappings, pairs_of)


def _inside(mappings: Sequence[Mapping], read: Callable[[bytes], object]) -> Decode:
    """Decode values inside what `read` makes of a payload."""
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
            mapping,
        )
        for mapping in mappings
    )

    def decode(message: Message) -> Decoded:
        _, payload, at, retained, *_ = message
        lost: tuple[Unreadable, ...]
        try:
            root = read(payload)
        except RejectError as error:
            said = payload[:40].decode("utf-8", "replace")
            lost = tuple([each for part in parts for each in unreadable(part[-1], at, error.args[0], said)])
            return Decoded((), (Rejected(topic, error.args[0]),), unreadable=lost)
        lost = ()
        clocks: list[float | None] = []
        off: list[float] = []
        for tokens in time_tokens:
            raw: object = None
            with suppress(RejectError):
                raw = resolve(tokens, root)
            clocks.append(own_time(raw, at))
            off.append(0.0 if clocks[-1] is not None else off_by(raw, at))
        readings: list[Reading] = []
        rejected: tuple[Rejected, ...] = ()
        for bank, meter, tokens, extract, which, mapping in parts:
            raw = None
            try:
                raw = resolve(tokens, root)
                value = extract(raw)
            except RejectError as error:
                rejected += (Rejected(topic, error.args[0]),)
                lost += unreadable(mapping, at, error.args[0], raw)
                continue
            measured = clocks[which] if which >= 0 else None
            if measured is None:
                readings.append(Reading(bank, meter, value, at, at, retained, off[which] if which >= 0 else 0.0))
            else:
                readings.append(Reading(bank, meter, value, at, measured))
        return Decoded(tuple(readings), rejected, clocks[0] if clocks else None, lost)

    return decode
