"""What people measured and saw: kept in order, taken back by undo, and summed up for the rest of the rules."""

from __future__ import annotations

from typing import NamedTuple

from rules import gravity
from rules.reading import HandReading

#: So many entries are remembered; all of them stay in the journal.
KEPT = 200


class Entry(NamedTuple):
    """One thing noted, as it came in.

    Attributes
    ----------
    charging_seconds, gassing : float
        Counters at that moment [s], [Ah per string].
    under_charge : bool
        Taken while charging, or within the first hours after.
    """

    kind: str
    taken_at: float
    values: dict[str, float | str]
    temperature: float | None
    by: str
    note: str
    charging_seconds: float
    gassing: float
    under_charge: bool
    rested_hours: float | None


class HandLog(NamedTuple):
    """The log and what follows from it; the derived fields are made anew with every entry.

    Attributes
    ----------
    entries : tuple of Entry
        Newest last.
    gravities : tuple of gravity.GravityReading
        Corrected hydrometer log.
    lowest, spread, trend : float or None
        Corrected gravity of the weakest cell, spread [1], rise [1/h].
    rising : bool or None
        Gravity still rises; None = unknown.
    gravity_at, level_at, last_at : float
        Last entry of the kind, of any kind [s since the epoch]; 0 = never.
    topped_up : float
        Gassing charge per string at the last top-up [Ah].
    string_amps : tuple of float
        Clamp readings of all strings [A], empty if none.
    string_amps_after : float
        Charging seconds at which they were taken [s]; -1 = never.
    sulfated_at, sulfated_where : float, str
        A cell noted with white deposits.
    level_wrong, reversed_block : str
        Where a level or a polarity forbids a start; empty = nowhere.
    keys : tuple of str
        Keys of the newest readings that carried one, so that a resent one is known.
    """

    entries: tuple[Entry, ...] = ()
    gravities: tuple[gravity.GravityReading, ...] = ()
    lowest: float | None = None
    spread: float | None = None
    trend: float | None = None
    rising: bool | None = None
    gravity_at: float = 0.0
    level_at: float = 0.0
    last_at: float = 0.0
    topped_up: float = 0.0
    string_amps: tuple[float, ...] = ()
    string_amps_after: float = -1.0
    sulfated_at: float = 0.0
    sulfated_where: str = ""
    level_wrong: str = ""
    reversed_block: str = ""
    keys: tuple[str, ...] = ()


def record(
    log: HandLog,
    reading: HandReading,
    charging_seconds: float,
    gassing: float,
    under_charge: bool,
    rested_hours: float | None,
) -> HandLog:
    """The log with one more entry, or with the last of this kind taken back.

    Parameters
    ----------
    log : HandLog
        So far.
    reading : HandReading
        The new entry.
    charging_seconds, gassing : float
        Counters now [s], [Ah per string].
    under_charge : bool
        Whether the bank is charging.
    rested_hours : float or None
        Since charging ended [h].

    Raises
    ------
    ValueError
        When there is nothing to take back, or a value is out of its range.
    """
    keys = (*log.keys, reading.key)[-KEPT:] if reading.key else log.keys
    if reading.undo:
        for position in range(len(log.entries) - 1, -1, -1):
            if log.entries[position].kind == reading.kind:
                return _summed(log.entries[:position] + log.entries[position + 1 :])._replace(keys=keys)
        raise ValueError(f"no {reading.kind} entry to take back")
    entry = Entry(
        reading.kind,
        reading.taken_at,
        dict(reading.values),
        reading.temperature,
        reading.by,
        reading.note,
        charging_seconds,
        gassing,
        under_charge,
        rested_hours,
    )
    if reading.kind == "gravity":
        _gravities(entry)
    return _summed((*log.entries, entry)[-KEPT:])._replace(keys=keys)


def _gravities(entry: Entry) -> list[gravity.GravityReading]:
    return [
        gravity.reading(
            entry.taken_at,
            cell,
            value,
            temperature=entry.temperature,
            under_charge=entry.under_charge,
            rested_hours=entry.rested_hours,
        )
        for cell, value in entry.values.items()
    ]


def _summed(entries: tuple[Entry, ...]) -> HandLog:
    log: gravity.Log = ()
    facts = HandLog()
    for entry in entries:
        if entry.kind == "gravity":
            log = gravity.add(log, _gravities(entry))
            facts = facts._replace(gravity_at=entry.taken_at)
        elif entry.kind == "water":
            facts = facts._replace(topped_up=entry.gassing)
        elif entry.kind == "level":
            facts = facts._replace(level_at=entry.taken_at, level_wrong=_wrong_level(entry.values))
        elif entry.kind == "voltage":
            backward = [where for where, value in entry.values.items() if isinstance(value, float) and value < -0.5]
            facts = facts._replace(reversed_block=", ".join(backward))
        elif entry.kind == "string_amps":
            amps = [value for _, value in sorted(entry.values.items()) if isinstance(value, float)]
            facts = facts._replace(string_amps=tuple(amps), string_amps_after=entry.charging_seconds)
        elif entry.kind == "seen":
            white = [where for where, value in entry.values.items() if str(value).startswith("sulfate")]
            if white:
                facts = facts._replace(sulfated_at=entry.taken_at, sulfated_where=", ".join(white))
    weakest = gravity.lowest(log)
    last = max((entry.taken_at for entry in entries), default=0.0)
    return facts._replace(
        entries=entries,
        gravities=log,
        lowest=None if weakest is None else weakest.gravity_corrected,
        spread=gravity.spread(log),
        trend=gravity.trend_per_hour(log, last) if log else None,
        rising=gravity.still_rising(log, last) if log else None,
        last_at=last,
    )


def _wrong_level(values: dict[str, float | str]) -> str:
    """Cells whose level forbids charging: below the plates, or over the mark."""
    wrong = [where for where, value in values.items() if value in ("below-plates", "over-mark") or _under(value)]
    return ", ".join(wrong)


def _under(value: float | str) -> bool:
    # A level in millimetres is measured from the top of the plates upward.
    return isinstance(value, float) and value < 0.0
