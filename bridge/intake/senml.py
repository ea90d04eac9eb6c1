"""SenML packs (RFC 8428, JSON form): base fields resolved, names matched, units from the record."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import NamedTuple

from bridge.intake.document import document
from bridge.intake.mapping import Decoded, Mapping, Rejected, RejectError
from bridge.intake.stamp import off_by, own_time
from bridge.intake.value import Extract, extractor
from bridge.message import Message
from bridge.units import UnitError
from rules.events import Reading

#: Times below this are relative to now (RFC 8428, section 4.5.3).
RELATIVE_BELOW = 2.0**28
#: The version of the format that RFC 8428 defines; a pack that claims a later one must not be read.
VERSION = 10
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9:./_-]*")
#: Spellings of units kept per mapping; RFC 8428 units come from a short registered list.
_UNITS_KEPT = 16
#: Integers of more bits than this are larger than any float.
_MOST_BITS = 1000


class Record(NamedTuple):
    """A resolved record. `time` is as in the pack: absolute, or relative to now when below 2**28 [s]."""

    name: str
    value: object
    unit: str
    time: float


def resolved(pack: object) -> list[Record]:
    """Apply the base fields; records without a value (sums, data) are left out.

    Raises
    ------
    RejectError
        Not a pack, a later version, a field that must be understood, or a bad name.
    """
    if type(pack) is not list or not pack:
        raise RejectError("not a SenML pack")
    base_name, base_unit, base_time, base_value = "", "", 0.0, 0.0
    records: list[Record] = []
    for entry in pack:
        if type(entry) is not dict:
            raise RejectError("not a SenML pack")
        for label in entry:
            if label.endswith("_"):
                raise RejectError("SenML field that must be understood")
        if "bver" in entry:
            version = entry["bver"]
            if type(version) is not int or version > VERSION:
                raise RejectError("SenML version")
        base_name = _text(entry, "bn", base_name)
        base_unit = _text(entry, "bu", base_unit)
        base_time = _number(entry, "bt", base_time)
        base_value = _number(entry, "bv", base_value)
        if "vb" in entry:
            value: object = entry["vb"]
        elif "vs" in entry:
            value = entry["vs"]
        elif "v" in entry or ("bv" in entry and "vd" not in entry):
            value = base_value + _number(entry, "v", 0.0)  # a missing one of the two counts as zero
        else:
            continue
        name = base_name + _text(entry, "n", "")
        if not _NAME.fullmatch(name):
            raise RejectError("SenML name")
        records.append(Record(name, value, _text(entry, "u", base_unit), base_time + _number(entry, "t", 0.0)))
    return records


def _text(entry: dict[str, object], label: str, default: str) -> str:
    value = entry.get(label, default)
    if type(value) is not str:
        raise RejectError("not a SenML pack")
    return value


def _number(entry: dict[str, object], label: str, default: float) -> float:
    value = entry.get(label, default)
    if type(value) is float:
        return value
    if type(value) is not int or value.bit_length() > _MOST_BITS:
        raise RejectError("boolean" if value is True or value is False else "not a number")
    return float(value)


def _by_unit(mapping: Mapping) -> Callable[[str], Extract]:
    """Find the compiled conversion for a record's unit; each spelling is compiled once, at its first appearance."""
    compiled: dict[str, Extract | None] = {}

    def choose(unit: str) -> Extract:
        try:
            extract = compiled[unit]
        except KeyError:
            extract = None
            if len(compiled) < _UNITS_KEPT:
                try:
                    extract = extractor(mapping, unit or mapping.unit, "senml")
                except UnitError:
                    extract = None
                compiled[unit] = extract
        if extract is None:
            raise RejectError("wrong unit" if unit else "no unit")
        return extract

    return choose


def senml(mappings: Sequence[Mapping]) -> Callable[[Message], Decoded]:
    """Turn the records of one pack into readings; several of one name are several readings, in order of time."""
    topic = mappings[0].topic
    wanted: dict[str, list[tuple[str, str, Callable[[str], Extract]]]] = {}
    for mapping in mappings:
        wanted.setdefault(mapping.name, []).append((mapping.bank, mapping.meter, _by_unit(mapping)))

    def decode(message: Message) -> Decoded:
        at = message.at
        try:
            records = resolved(document(message.payload))
        except RejectError as error:
            return Decoded((), (Rejected(topic, error.args[0]),))
        readings: list[Reading] = []
        rejected: tuple[Rejected, ...] = ()
        stamp: float | None = None
        seen = set()
        for name, value, unit, time in records:
            targets = wanted.get(name)
            if targets is None:
                continue
            seen.add(name)
            absolute = time >= RELATIVE_BELOW
            own = own_time(time if absolute else at + time, at) if time else None
            off = off_by(time if absolute else at + time, at) if time and own is None else 0.0
            if own is not None and absolute and (stamp is None or own > stamp):
                stamp = own
            for bank, meter, choose in targets:
                try:
                    converted = choose(unit)(value)
                except RejectError as error:
                    rejected += (Rejected(topic, error.args[0]),)
                    continue
                measured = at if own is None else own
                readings.append(Reading(bank, meter, converted, at, measured, message.retain and not absolute, off))
        if len(seen) < len(wanted):
            rejected += (Rejected(topic, "missing"),) * sum(len(wanted[name]) for name in wanted.keys() - seen)
        readings.sort(key=lambda reading: reading.measured_at)
        return Decoded(tuple(readings), rejected, stamp)

    return decode
