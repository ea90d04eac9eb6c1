"""Journal rows as InfluxDB line protocol: every field carries its unit in its name, every number is a float.

A number once written without a decimal point makes its field an integer for ever, and a point without a time gets the
server's: a retry would then be a second point. Both are ruled out here. Written by hand, because the client's own
writer takes whole numbers as integers, and its import would cost 20 MB where a journal is only exported.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from bridge.journal.rows import Row
from bridge.journal.store import compact
from bridge.words.bank_status import event_words
from bridge.words.catalogue import BANK, first_word
from bridge.words.spoken import spoken
from rules.advice import FLAGS
from rules.bank import QUANTITIES
from rules.events import Derived, Event
from rules.phase import PHASES

#: Stream of the journal -> measurement.
MEASUREMENTS = {"reading": "bank_reading", "state": "bank_state", "event": "bank_event", "health": "bridge_health"}
SUFFIXES = {"V": "_v", "A": "_a", "W": "_w", "degC": "_c", "mm": "_mm", "1": "", "boolean": ""}
#: Numbers and flags of a state -> field.
STATE_FIELDS = {
    row.field: row.database_field for row in BANK if row.field and row.datatype in ("float", "datetime", "boolean")
}
del STATE_FIELDS["string_currents"]  # a field for each string
#: Words of a state, under their own name.
STATE_WORDS = tuple(row.field for row in BANK if row.field and row.datatype in ("enum", "string"))
#: Metric stores keep no words: a phase has its place in the list of phases, and each hazard and permit its own number.
PHASE_NUMBER = {name: float(number) for number, name in enumerate(PHASES)}
NUMBERED_FLAGS = {
    name: f"flag_{name.replace('-', '_')}" for name, flag in FLAGS.items() if flag.kind in ("hazard", "permit")
}

_UNCLEAN = re.compile(r"[^\w.]", re.ASCII)
#: A line in three, and its fields one by one: a blank or comma counts unless it is escaped or inside quotes.
_LINE = re.compile(r'((?:\\.|[^\\ ])+) ((?:"(?:\\.|[^"\\])*"|\\.|[^" \\])+) (-?\d+)', re.DOTALL)
_FIELD = re.compile(r'((?:\\.|[^\\,=])+)=("(?:\\.|[^"\\])*"|[^,"]+)', re.DOTALL)
#: Backslashes and line ends have no safe spelling in a key or tag, and a quotation mark there is hard to read.
_KEY = str.maketrans({",": r"\,", "=": r"\=", " ": r"\ ", "\\": "_", '"': "_", "\n": "_", "\r": "_", "\t": "_"})
_TEXT = str.maketrans({'"': r"\"", "\\": r"\\", "\n": " ", "\r": " "})


def field_name(meter: str) -> str:
    """Return field of a meter: its name with the unit behind it.

    Letters, digits, points and underscores alone, since each database has its own quarrel with the rest:

    >>> field_name("voltage"), field_name("block_voltage:N 1"), field_name("electrolyte_temperature#2")
    ('voltage_v', 'block_voltage_N_1_v', 'electrolyte_temperature_meter2_c')
    """
    quantity = QUANTITIES.get(meter.partition(":")[0].partition("#")[0])
    name = _UNCLEAN.sub("_", meter.replace("#", "_meter"))
    return name + (SUFFIXES[quantity.unit] if quantity else "")


def line(stream: str, row: Row, site: str, scale: str = "degC") -> str | None:
    """Return one journal row as a line with its time in microseconds, or None where it holds nothing to write.

    Words are written as the owner reads them: in this scale, and by the clock of the place.

    >>> line("reading", Row(1, 1795590000.0, "north", False, {"voltage": 26}), "tarn-hut")
    'bank_reading,site=tarn-hut,bank=north,source=meter voltage_v=26.0 1795590000000000'
    """
    tags = {"site": site, "bank": row.bank}
    time = round(row.at * 1000.0) * 1000
    fields: dict[str, object]
    if stream == "reading":
        tags["source"] = "meter"
        fields = {field_name(meter): value for meter, value in row.values.items()}
    elif stream == "state":
        tags["source"] = "rules"
        fields = _state_fields(row.values, scale)
    elif stream == "event":
        event: Event = row.values
        tags["source"] = "hand" if event.kind == "hand" else "rules"
        tags["kind"] = event.kind
        # Two events of one kind in one millisecond are two points: the row's number decides, the same at each retry.
        time += row.id % 1000
        fields = _event_fields(event, scale)
    else:
        tags["source"] = "bridge"
        fields = row.values
    return format_line(MEASUREMENTS[stream], tags, fields, time)


def format_line(measurement: str, tags: Mapping[str, str], fields: Mapping[str, object], time: int) -> str | None:
    """Write line protocol; numbers become floats, what is not finite is left out, None when nothing is left."""
    parts = []
    for name, value in fields.items():
        if isinstance(value, str):
            parts.append(f'{name.translate(_KEY)}="{value.translate(_TEXT)}"')
        elif isinstance(value, (int, float)) and math.isfinite(value):
            parts.append(f"{name.translate(_KEY)}={float(value)!r}")
    if not parts:
        return None
    labels = "".join(f",{name}={value.translate(_KEY)}" for name, value in tags.items() if value)
    return f"{measurement}{labels} {','.join(parts)} {time}"


class Parts(NamedTuple):
    """A line taken apart: measurement and tags, field -> value as written, time."""

    head: str
    fields: dict[str, str]
    time: str

    def line(self, names: Iterable[str]) -> str:
        """Write the same point with these fields only: a database joins points of one time and one set of tags."""
        return f"{self.head} {','.join(f'{name}={self.fields[name]}' for name in names)} {self.time}"


def parts(line: str) -> Parts:
    r"""Take a line of ours apart.

    Raises
    ------
    ValueError
        It is none.

    Examples
    --------
    >>> parts(r'bank_event,site=a\ b x\ y=1.0,words="a, b=\"c\" d" 5').fields
    {'x\\ y': '1.0', 'words': '"a, b=\\"c\\" d"'}
    """
    found = _LINE.fullmatch(line)
    if found is None:
        raise ValueError(f"no line protocol: {line[:80]!r}")
    return Parts(found[1], dict(_FIELD.findall(found[2])), found[3])


def _state_fields(state: Derived, scale: str) -> dict[str, object]:
    fields: dict[str, object] = {field: getattr(state, name) for name, field in STATE_FIELDS.items()}
    words = {name: getattr(state, name) for name in STATE_WORDS}
    fields.update((name, spoken(said, scale)) for name, said in words.items() if isinstance(said, str))
    fields["verdict"] = first_word(state.verdict)
    fields["phase_number"] = PHASE_NUMBER.get(state.phase)
    fields["relay_closed"] = {"closed": 1.0, "open": 0.0}.get(state.relay)
    fields.update((f"string_current_{number}_a", amps) for number, amps in enumerate(state.string_currents, 1))
    fields["flags"] = ",".join(flag.name for flag in state.flags)
    fields["flag_count"] = len(state.flags)
    raised = {flag.name for flag in state.flags}
    fields.update((field, float(name in raised)) for name, field in NUMBERED_FLAGS.items())
    return fields


def _event_fields(event: Event, scale: str) -> dict[str, object]:
    """Return `count`, always there to be added up, numbers of the detail as they are, and what happened in words."""
    fields: dict[str, object] = {"count": 1.0}
    fields.update((name, value) for name, value in event.detail.items() if isinstance(value, (int, float)))
    values = event.detail.get("values")
    if event.kind == "hand" and isinstance(values, Mapping):
        quantity = event.detail.get("kind", "value")
        fields.update((_UNCLEAN.sub("_", f"{quantity}_{where}".rstrip("_")), value) for where, value in values.items())
    fields["text"] = event_words(event, scale) or ", ".join(
        f"{name} {spoken(_say(value), scale)}" for name, value in event.detail.items() if value not in ("", None)
    )
    return fields


def _say(value: object) -> str:
    return value if isinstance(value, str) else compact(value)
