"""The one table of everything that is said about a bank: a row carries name, unit, scale and field.

Bus, hub documents, database fields, the journal's columns and the export are rendered from it; a new field of
`rules.events.Derived` needs one row here.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from bridge.clock import iso
from rules.advice import ANSWERS, FLAGS
from rules.bank import Bank
from rules.events import Derived
from rules.phase import PHASES
from rules.verdict import NOT_JUDGED, WORDS

Render = Callable[[Any], str]
UNKNOWN = ""  #: an empty payload clears the topic: not known


class Property(NamedTuple):
    """One property of one node.

    Attributes
    ----------
    field : str
        Field of `rules.events.Derived` it follows; empty for what a person sets.
    render : callable
        Field value -> payload; `UNKNOWN` clears.
    datatype, unit, format : str
        As the Homie convention names them.
    entity : str
        Kind of hub entity (sensor, binary_sensor, button, text); empty = none.
    device_class, state_class : str
        As hubs with MQTT discovery know them.
    scale : float
        Steps per unit in the field's own column of the journal, one step finer than any meter shows; 1 for flags and
        words; 0 = no column, kept with the seldom changing words. A new column is a migration of the journal.
    """

    node: str
    id: str
    name: str
    field: str
    datatype: str
    render: Render
    unit: str = ""
    format: str = ""
    settable: bool = False
    retained: bool = True
    entity: str = "sensor"
    device_class: str = ""
    state_class: str = ""
    scale: float = 0.0

    @property
    def path(self) -> str:
        """Topic below the device."""
        return f"{self.node}/{self.id}"

    @property
    def database_field(self) -> str:
        """Name in a time-series database, with the unit behind it."""
        return self.field + ("_s" if self.datatype == "datetime" else SUFFIXES[self.unit])


#: Unit on the bus -> what stands behind a name in a database; shares and gravities have none.
SUFFIXES = {
    "V": "_v", "A": "_a", "W": "_w", "°C": "_c", "K/h": "_k_per_h", "h": "_h", "Ah": "_ah", "kWh": "_kwh",
    "L/h": "_l_per_h", "m³/h": "_m3_per_h", "g": "_g_per_cell", "1/h": "_per_h", "%": "", "": "",
}  # fmt: skip


def number(digits: int) -> Render:
    """Make a render of so many decimal digits, plain: the convention's floats know no plus sign in an exponent."""

    def render(value: float | None) -> str:
        if value is None or not math.isfinite(value):
            return UNKNOWN
        text = f"{value:.{digits}f}"
        return text if text.strip("-0.") else text.lstrip("-")

    return render


def boolean(value: bool | None) -> str:
    """Return the convention's literals."""
    return UNKNOWN if value is None else "true" if value else "false"


def text(value: str) -> str:
    """Return an empty string is one byte of zero: an empty payload would delete the topic."""
    return value or "\0"


def moment(step: int, up: bool = False) -> Render:
    """Make a render of ISO 8601 in UTC, in whole steps [s], so that not every second publishes; `up` never early."""

    def render(at: float | None) -> str:
        if at is None or not math.isfinite(at):
            return UNKNOWN
        steps = math.ceil(at / step) if up else round(at / step)
        return iso(steps * step)

    return render


def flags_json(flags: tuple[Any, ...]) -> str:
    """Return every raised flag, worst first, with what was seen, the limit and what to do."""
    raised = [
        {
            "name": flag.name,
            "kind": flag.kind,
            "since": moment(1)(flag.since),
            "value": None if flag.value is None else round(flag.value, 2),
            "limit": None if flag.limit is None else round(flag.limit, 2),
            "unit": flag.unit,
            "reason": flag.reason,
            "action": flag.action,
        }
        for flag in flags
    ]
    return json.dumps(raised, ensure_ascii=False, separators=(",", ":"))


def cells_json(cells: tuple[Mapping[str, object], ...]) -> str:
    """Return the hydrometer table, a row per cell, to a tenth of the point that a hydrometer shows."""
    rows = [
        {**row, "gravity": round(gravity, 4)} if isinstance(gravity := row.get("gravity"), float) else row
        for row in cells
    ]
    return json.dumps(rows, ensure_ascii=False, separators=(",", ":"))


def blocks_json(blocks: tuple[Mapping[str, Any], ...]) -> str:
    """Return what went through each block, in whole ampere-hours, so that it is not published every second."""
    rows = [{**row, "charge": round(row["charge"]), "hours": round(row["hours"], 1)} for row in blocks]
    return json.dumps(rows, ensure_ascii=False, separators=(",", ":"))


def chores_json(chores: tuple[Mapping[str, Any], ...]) -> str:
    """Return what falls due and when, to ten minutes, so that a foretold time does not publish every second."""
    rows = [{"chore": row["chore"], "due_at": moment(600)(row["due_at"])} for row in chores]
    return json.dumps(rows, ensure_ascii=False, separators=(",", ":"))


def verdict_json(verdicts: tuple[Mapping[str, object], ...]) -> str:
    """Return a row for the bank and one for each block, with reasons; not known before there is something to judge."""
    return json.dumps(list(verdicts), ensure_ascii=False, separators=(",", ":")) if verdicts else UNKNOWN


def words_json(words: Mapping[str, str]) -> str:
    """Return sentences by name; unknown where there are none."""
    return json.dumps(dict(words), ensure_ascii=False, separators=(",", ":")) if words else UNKNOWN


def strings_json(strings: tuple[str, ...] | tuple[tuple[str, ...], ...]) -> str:
    """Return which blocks belong together, or which fell first."""
    return json.dumps(strings, ensure_ascii=False, separators=(",", ":")) if strings else UNKNOWN


def first_word(verdicts: tuple[Mapping[str, object], ...]) -> str:
    """Return the bank's own verdict."""
    return str(verdicts[0]["word"]) if verdicts else UNKNOWN


def percent(share: float | None) -> str:
    """Return a share of one in percent."""
    return UNKNOWN if share is None else number(0)(100.0 * share)


def highest(values: tuple[float, ...]) -> str:
    """Return the string that takes most [A]."""
    return number(2)(max(values)) if values else UNKNOWN


def _float(
    node: str, id: str, name: str, field: str, digits: int, unit: str, *hub: str, scale: float = 0.0
) -> Property:
    device_class, state_class = (*hub, "", "")[:2]
    render = number(digits)
    return Property(
        node, id, name, field, "float", render, unit, device_class=device_class, state_class=state_class, scale=scale
    )


def _binary(node: str, id: str, name: str, field: str, device_class: str = "", scale: float = 0.0) -> Property:
    return Property(
        node, id, name, field, "boolean", boolean, entity="binary_sensor", device_class=device_class, scale=scale
    )


def _flag(name: str) -> Property:
    device_class = "problem" if FLAGS[name].kind == "hazard" else ""
    return _binary("safety", name, name.replace("-", " ").capitalize(), "", device_class)


def _act(node: str, id: str, name: str, datatype: str, render: Render, format: str = "", entity: str = "") -> Property:
    return Property(node, id, name, "", datatype, render, "", format, True, False, entity)


#: Finishes a round whose hold is not complete, which `finish` alone asks back.
FINISH_EARLY = "finish-early"
#: A proof test in which the relay's own auto-off is tried as well.
OWN_TOO = "prove-auto-off"
#: The start checklist was confirmed by mistake.
CHECKLIST_BACK = "checklist-back"
COMMANDS = ("start", "resume", "finish", FINISH_EARLY, "abandon", "test", CHECKLIST_BACK)
_MEASURED = "measurement"
#: Only ever rises within a round and begins at 0 with the next. A hub takes the fall as a new beginning; as a `total`
#: it would book it as minus everything so far. What a top-up may lower by a part is `_MEASURED`: as a counter what is
#: left after it would be booked twice.
_COUNTER = "total_increasing"
_FLOW = ("volume_flow_rate", _MEASURED)

#: Names of the nodes, in the order in which they are described.
NODES = {
    "electrical": "Electrical",
    "thermal": "Temperature",
    "revival": "Revival",
    "gas": "Gas and water",
    "cells": "Cells",
    "verdict": "Test and verdict",
    "safety": "Safety",
    "advice": "Advice",
    "health": "Health",
}

BANK: tuple[Property, ...] = (
    _float("electrical", "voltage", "Bank voltage", "voltage", 2, "V", "voltage", _MEASURED, scale=1e3),
    _float("electrical", "volts-per-cell", "Volts per cell", "volts_per_cell", 3, "V", "voltage", _MEASURED, scale=1e5),
    _float("electrical", "current", "Current", "current", 2, "A", "current", _MEASURED, scale=1e3),
    Property(
        "electrical",
        "string-current",
        "Highest string current",
        "string_currents",
        "float",
        highest,
        "A",
        device_class="current",
        state_class=_MEASURED,
    ),
    _float("electrical", "power", "Power", "power", 0, "W", "power", _MEASURED, scale=1e1),
    _binary("electrical", "current-estimated", "Current is estimated", "current_estimated", scale=1.0),
    _float(
        "thermal", "temperature", "Electrolyte temperature", "temperature", 1, "°C", "temperature", _MEASURED, scale=1e2
    ),
    _float("thermal", "ambient", "Air temperature", "ambient", 1, "°C", "temperature", _MEASURED, scale=1e2),
    _float("thermal", "rise-rate", "Warming", "rise_rate", 1, "K/h", "", _MEASURED, scale=1e3),
    Property(
        "revival", "phase", "Phase", "phase", "enum", str, format=",".join(PHASES), device_class="enum", scale=1.0
    ),
    Property(
        "revival",
        "phase-since",
        "In this phase since",
        "phase_since",
        "datetime",
        moment(1),
        device_class="timestamp",
        scale=1e3,
    ),
    _binary("revival", "interrupted", "Interrupted", "interrupted", scale=1.0),
    _binary("revival", "charging", "Charger seen on", "charging"),
    _float(
        "revival", "remaining-hours", "Charging hours left", "remaining_hours", 1, "h", "duration", _MEASURED, scale=1e3
    ),
    _float(
        "revival",
        "remaining-low",
        "Charging hours left, least",
        "remaining_low",
        1,
        "h",
        "duration",
        _MEASURED,
        scale=1e3,
    ),
    _float(
        "revival",
        "remaining-high",
        "Charging hours left, most",
        "remaining_high",
        1,
        "h",
        "duration",
        _MEASURED,
        scale=1e3,
    ),
    _float(
        "revival",
        "remaining-clock-hours",
        "Clock hours left",
        "remaining_clock_hours",
        1,
        "h",
        "duration",
        _MEASURED,
        scale=1e3,
    ),
    _float(
        "revival",
        "remaining-clock-low",
        "Clock hours left, least",
        "remaining_clock_low",
        1,
        "h",
        "duration",
        _MEASURED,
    ),
    _float(
        "revival",
        "remaining-clock-high",
        "Clock hours left, most",
        "remaining_clock_high",
        1,
        "h",
        "duration",
        _MEASURED,
    ),
    Property("revival", "remaining-reason", "What the estimate rests on", "remaining_reason", "string", text),
    Property(
        "revival",
        "finish-at",
        "Finished about",
        "finish_at",
        "datetime",
        moment(600),
        device_class="timestamp",
        scale=1e3,
    ),
    _float("revival", "hold-hours", "Held so far", "hold_hours", 2, "h", "duration", _MEASURED, scale=1e4),
    _float("revival", "hold-needed", "Hold needed", "hold_needed", 2, "h", "duration", _MEASURED, scale=1e4),
    _float("revival", "charge-returned", "Charge returned", "charge_returned", 1, "Ah", "", _COUNTER, scale=1e4),
    _float("revival", "energy", "Energy", "energy", 2, "kWh", "energy", _COUNTER, scale=1e5),
    _float("revival", "overcharge", "Overcharge", "overcharge", 1, "Ah", "", _COUNTER, scale=1e4),
    _act("revival", "command", "Command", "enum", str, ",".join(COMMANDS), "button"),
    _act("revival", "checklist", "Start checklist confirmed by", "string", str),
    _act("revival", "checklist-by", "Name for the start checklist", "string", text, entity="text"),
    _act("revival", "checklist-confirm", "Confirm the start checklist", "boolean", boolean, entity="button"),
    # An event, not a state: whoever comes later must not take an old refusal for a standing one.
    Property("revival", "refused", "Refused", "", "json", str, retained=False),
    _act("revival", "arrange", "Join the blocks anew", "json", str),
    _float("gas", "hydrogen-rate", "Hydrogen", "hydrogen_rate", 1, "L/h", "", _MEASURED, scale=1e3),
    _float("gas", "ventilation-needed", "Ventilation needed", "ventilation_needed", 2, "m³/h", *_FLOW, scale=1e3),
    _float(
        "gas",
        "assumed-temperature",
        "Electrolyte assumed for the gas",
        "gas_assumed_at",
        1,
        "°C",
        "temperature",
        _MEASURED,
    ),
    _float("gas", "water-used", "Water used per cell", "water_used", 1, "g", "", _MEASURED, scale=1e3),
    Property(
        "gas",
        "safe-to-approach-at",
        "Safe to approach from",
        "safe_to_approach_at",
        "datetime",
        moment(600, up=True),
        device_class="timestamp",
        scale=1e3,
    ),
    Property(
        "gas",
        "gassing-share",
        "Share of the current that gasses",
        "gassing_share",
        "float",
        percent,
        "%",
        state_class=_MEASURED,
        scale=1e4,
    ),
    _float("gas", "water-reserve", "Water above the plates per cell", "water_reserve", 0, "g", "weight", _MEASURED),
    Property(
        "gas", "top-up-at", "Top up at about", "top_up_at", "datetime", moment(600), device_class="timestamp", scale=1e3
    ),
    _float("cells", "lowest-gravity", "Lowest gravity", "lowest_gravity", 3, "", "", _MEASURED, scale=1e4),
    _float("cells", "gravity-spread", "Gravity spread", "gravity_spread", 3, "", "", _MEASURED, scale=1e4),
    _float("cells", "gravity-trend", "Gravity trend per hour", "gravity_trend", 4, "1/h", "", _MEASURED, scale=1e6),
    _float("cells", "gravity-rise", "Gravity rise", "gravity_rise", 3, ""),
    _float("cells", "gravity-rise-by-water", "Of it by lost water alone", "gravity_rise_by_water", 3, ""),
    _binary("cells", "plateau", "Gravity at a plateau", "gravity_plateau"),
    Property("cells", "table", "Hydrometer table", "cells", "json", cells_json, entity=""),
    Property("cells", "blocks", "Charge and hours by block", "blocks", "json", blocks_json, entity=""),
    _act("cells", "record", "Record a reading", "json", str),
    _binary("safety", "charge-allowed", "Charging allowed", "charge_allowed", scale=1.0),
    _binary("safety", "tripped", "Tripped", "tripped", "problem", scale=1.0),
    Property("safety", "trip-reason", "Tripped by", "trip_reason", "string", text),
    Property(
        "safety", "relay", "Relay", "relay", "enum", str, format="open,closed,unknown", device_class="enum", scale=1.0
    ),
    Property("safety", "answer", "Is it safe", "safe", "enum", str, format=",".join(ANSWERS), device_class="enum"),
    Property("safety", "answer-reason", "Why it is not simply safe", "safe_why", "string", text),
    Property("safety", "answer-flags", "Flags that make it unsafe", "unsafe", "json", strings_json, entity=""),
    Property("safety", "flags", "Raised flags", "flags", "json", flags_json, entity=""),
    _act("safety", "reset", "Reset a trip", "boolean", boolean, entity="button"),
    _act("safety", "prove", "Prove the relay", "boolean", boolean, entity="button"),
    _act("safety", OWN_TOO, "Prove the relay and its auto-off", "boolean", boolean, entity="button"),
    *(_flag(name) for name in sorted(FLAGS)),
    _float(
        "verdict",
        "capacity-delivered",
        "Discharged in the test",
        "capacity_delivered",
        1,
        "Ah",
        "",
        _COUNTER,
        scale=1e4,
    ),
    _float(
        "verdict", "capacity-percent", "Capacity of what is rated", "capacity_percent", 1, "%", "", _MEASURED, scale=1e3
    ),
    Property("verdict", "fell-first", "Blocks as they fell", "fell_first", "json", strings_json, entity=""),
    Property(
        "verdict",
        "word",
        "Verdict",
        "verdict",
        "enum",
        first_word,
        format=",".join((*WORDS, NOT_JUDGED)),
        device_class="enum",
    ),
    Property("verdict", "table", "Verdict per bank and block", "verdict", "json", verdict_json, entity=""),
    Property("verdict", "strings", "Blocks that belong together", "matching", "json", strings_json, entity=""),
    Property("advice", "next-step", "Next step", "next_step", "string", text),
    Property("advice", "then", "What comes after it", "then", "json", strings_json, entity=""),
    Property("advice", "charger", "What is known of the charger", "charger", "string", text),
    Property("health", "not-live", "Figures that no living meter tells", "not_live", "json", words_json, entity=""),
    Property("health", "late", "Meters that are late, or not heard yet", "late", "json", words_json, entity=""),
    Property("advice", "chores", "Chores and when they fall due", "chores", "json", chores_json, entity=""),
)

HEALTH: tuple[Property, ...] = (
    _float("health", "journal-lag", "Journal lag", "", 0, "s", "duration", _MEASURED),
    _binary("health", "clock-trusted", "Clock trusted", ""),
)

#: How a time-series database is, where the cabin has one: said of the bridge alone.
DATABASE: tuple[Property, ...] = (
    Property("health", "database", "Database", "", "string", text),
    _float("health", "database-backlog", "Rows the database does not have yet", "", 0, "", "", _MEASURED),
)

FLAG_IDS = frozenset(FLAGS)
FIELD = {name: position for position, name in enumerate(Derived._fields)}


def freshness(bank: Bank) -> dict[str, Property]:
    """Return age of each quantity that the bank's meters report, by quantity."""
    return {
        quantity: _float(
            "health", f"freshness-{quantity.replace('_', '-')}", f"Age of {quantity.replace('_', ' ')}", "", 0, "s",
            "duration", _MEASURED,
        )
        for quantity in sorted({meter.quantity for meter in bank.meters})
    }  # fmt: skip


def of_bridge(database: bool) -> tuple[Property, ...]:
    """Return every property of the bridge itself; `database` where the cabin file names one."""
    return (*HEALTH, *(DATABASE if database else ()))


def of_bank(bank: Bank) -> tuple[Property, ...]:
    """Return every property of this bank; what needs a relay is left out where there is none."""
    without = ("prove", OWN_TOO) if bank.relay is None else () if bank.relay.auto_off else (OWN_TOO,)
    return (*(one for one in BANK if one.id not in without), *freshness(bank).values(), *HEALTH)
