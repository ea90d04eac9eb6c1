"""From the meters of the cabin file to what the rules know of them and what the intake compiles."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from bridge import units
from bridge.config.models import BankTable, CabinTable, MeterTable, RelayTable
from bridge.intake import Mapping
from bridge.intake.document import compile_pointer
from bridge.intake.homie import description_topic
from rules.bank import QUANTITIES, Meter

#: Air, gas, fan and door are the room's: one top-level meter without ``{bank}`` serves every bank in it.
_SHARED = frozenset({"ambient_temperature", "hydrogen", "fan", "door", "ac_voltage"})
_INDEX_NEEDED = {
    "block_voltage": "a block label",
    "cell_voltage": 'a block label and cell, such as "A1.2"',
    "string_current": 'the string\'s number, such as "1"',
}


@dataclass
class Findings:
    """What is wrong (`errors`) and what deserves a second look (`warnings`), in words that name key and fix."""

    errors: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def expand(model: CabinTable, table: BankTable) -> Iterator[tuple[MeterTable, str]]:
    """Yield the bank's own meters, then the top-level ones, with ``{bank}`` replaced."""
    places = [(meter, f'[[bank]] "{table.id}", [[bank.meter]] {number}') for number, meter in enumerate(table.meter, 1)]
    places += [(meter, f"[[meter]] {number}") for number, meter in enumerate(model.meter, 1)]
    for meter, place in places:
        changed = {
            key: value.replace("{bank}", table.id)
            for key in ("topic", "pointer", "name", "time", "index")
            if isinstance(value := getattr(meter, key), str)
        }
        yield meter.model_copy(update=changed), place


def check_shared(model: CabinTable, found: Findings) -> None:
    """Find top-level meters that are neither the room's nor tell the banks apart by ``{bank}``."""
    for number, meter in enumerate(model.meter, 1):
        placed = any("{bank}" in (getattr(meter, key) or "") for key in ("topic", "pointer", "name"))
        if not placed and meter.quantity not in _SHARED and len(model.bank) > 1:
            found.errors.append(
                f"[[meter]] {number}: {meter.quantity} belongs to one bank: write {{bank}} into the topic, "
                "or move it under its bank as [[bank.meter]]"
            )


def build_meters(
    model: CabinTable, table: BankTable, labels: list[str], where: str, found: Findings
) -> tuple[list[Mapping], list[Meter]]:
    """Return the mappings and the meters of a bank, and add to `found` what is wrong with them."""
    mappings: list[Mapping] = []
    meters: list[Meter] = []
    used: dict[str, int] = {}
    spots: set[tuple[str, str | None, str | None]] = set()
    for meter, place in expand(model, table):
        index = _index(meter, table, labels, place, found)
        base = f"{meter.quantity}:{index}" if index else meter.quantity
        used[base] = used.get(base, 0) + 1
        name = base if used[base] == 1 else f"{base}#{used[base]}"
        placed = meter.placed or ""
        if meter.quantity == "electrolyte_temperature" and not placed:
            placed = "case"
            found.warnings.append(
                f"{place}: placed is not given; the stricter limit of a probe on the case is used. "
                'Write placed = "cell" for a probe in the electrolyte, or placed = "case"'
            )
        own = f"{model.site.root}/{model.site.id}"
        ordered = {bank.relay.topic for bank in model.bank if bank.relay is not None}
        if meter.topic in ordered or meter.topic.startswith((f"{own}/", f"{own}-{table.id}/")):
            found.errors.append(f"{place}: topic \"{meter.topic}\" is the bridge's own: name the meter's topic")
        spot = (meter.topic, meter.pointer, meter.name)
        if spot in spots:
            found.errors.append(f"{place}: {' '.join(filter(None, spot))} is mapped already: one number is one meter")
        spots.add(spot)
        resolution = 0.0
        try:
            mapping, resolution = _mapping(meter, table.id, name)
            mappings.append(mapping)
        except ValueError as error:
            found.errors.append(f'{place}: {error} (topic "{meter.topic}", quantity {meter.quantity})')
        meters.append(Meter(name, meter.quantity, index, meter.topic, meter.every, resolution, placed))
    if table.relay is not None and table.relay.state_topic is not None:
        try:
            mappings.append(_relay_mapping(table.id, table.relay))
        except ValueError as error:
            found.errors.append(f"{where}, [bank.relay]: {error}")
        meters.append(Meter("relay_state", "relay_state", "", table.relay.state_topic))
    return mappings, meters


def _mapping(meter: MeterTable, bank: str, name: str) -> tuple[Mapping, float]:
    """Compile one meter; ValueError says what cannot be. Also returns its resolution in the canonical unit."""
    canonical = QUANTITIES[meter.quantity].unit
    scale = _scale(meter.scale, canonical) if meter.scale else None
    unit = meter.unit or (scale[0] if scale else None)
    if canonical != "boolean" and unit is None and meter.style in {"plain", "json", "pairs"}:
        if canonical != "1" or meter.quantity == "hydrogen":
            raise ValueError(f"unit is missing: write unit = {units.SPELLINGS[canonical]}")
        unit = "1"
    compile_pointer(meter.pointer or "")
    if meter.style in {"json", "pairs"} and meter.time is not None:
        compile_pointer(meter.time)
    if meter.style == "homie":
        description_topic(meter.topic)
    mapping = Mapping(
        bank=bank,
        meter=name,
        quantity=meter.quantity,
        topic=meter.topic,
        style=meter.style,
        pointer=meter.pointer or "",
        name=meter.name or "",
        unit=unit,
        sign=-1.0 if meter.sign == "discharging" else 1.0,
        offset=units.parse(meter.offset, canonical, difference=True) if meter.offset else 0.0,
        time=meter.time,
        words=((meter.on, 1.0), (meter.off, 0.0)) if meter.on and meter.off else (),
        scale=scale,
        decimal=meter.decimal,
    )
    if unit is not None:
        mapping.factor(unit)
    resolution = units.parse(meter.resolution, canonical, difference=True) if meter.resolution else 0.0
    if resolution < 0:
        raise ValueError("resolution must be above zero")
    return mapping, resolution


#: A number that counts steps of a converter has no unit.
_COUNTS = "1"


def _scale(written: str, canonical: str) -> tuple[str, float]:
    """Return the raw number's unit, and canonical units for each one of it: ``50 mV = 100 A``.

    >>> _scale("50 mV = 100 A", "A"), _scale("4000 = 200 A", "A")
    (('mV', 2.0), ('1', 0.05))
    """
    left, sign, right = written.partition("=")
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*([^\d\s].*?)?\s*", left)
    if not sign or found is None or not float(found[1]):
        raise ValueError(f'scale = "{written}" cannot be read: write it as it is printed, "50 mV = 100 A"')
    value = units.parse(right, canonical, difference=True)
    if not value:
        raise ValueError(f'scale = "{written}": nothing cannot stand for {found[1]} {found[2] or ""}'.rstrip())
    return found[2] or _COUNTS, value / float(found[1])


def _relay_mapping(bank: str, relay: RelayTable) -> Mapping:
    compile_pointer(relay.state_pointer or "")
    return Mapping(
        bank=bank,
        meter="relay_state",
        quantity="relay_state",
        topic=relay.state_topic or "",
        style="plain" if relay.state_pointer is None else "json",
        pointer=relay.state_pointer or "",
        words=((relay.state_closed or relay.allow, 1.0), (relay.state_open or relay.cut, 0.0)),
    )


def _index(meter: MeterTable, table: BankTable, labels: list[str], place: str, found: Findings) -> str:
    """Return which block, cell or string; checked against the bank."""
    index = meter.index or ""
    needed = _INDEX_NEEDED.get(meter.quantity)
    if not index:
        if meter.quantity == "string_current" and table.strings == 1:
            return "1"
        if needed:
            found.errors.append(f"{place}: {meter.quantity} needs index = {needed}")
        return ""
    block, _, cell = index.partition(".")
    if meter.quantity in {"string_current", "midpoint_voltage"}:
        good = index.isdecimal() and 1 <= int(index) <= table.strings
        want = f'a string number from "1" to "{table.strings}"'
    else:
        known = block in labels
        good_cell = cell.isdecimal() and 1 <= int(cell) <= table.blocks.cells
        good = known and (good_cell if meter.quantity in {"cell_voltage", "gravity"} else not cell or good_cell)
        want = f"one of the labels {', '.join(labels[:8])}" + (" with .cell behind it" if known else "")
    if not good:
        found.errors.append(f'{place}: index = "{index}" is not in the bank: write {want}')
    return index


def share_times(mappings: list[Mapping]) -> list[Mapping]:
    """Give a message one time: mappings without their own take that of a neighbour on the same topic.

    Otherwise a current that shares its message with a stamped voltage would be dated to its arrival after an outage.
    """
    times: dict[str, str] = {}
    for mapping in mappings:
        if mapping.time is not None:
            times.setdefault(mapping.topic, mapping.time)
    return [
        replace(mapping, time=times[mapping.topic]) if mapping.time is None and mapping.topic in times else mapping
        for mapping in mappings
    ]
