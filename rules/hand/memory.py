"""What is remembered of hand readings: the entries, and what follows from them."""

from __future__ import annotations

from typing import NamedTuple

from rules.hand import gravity
from rules.meters import HAND_GAP, Counters


class Entry(NamedTuple):
    """One thing noted, as it came in.

    Attributes
    ----------
    charging_seconds, gassing, discharge, gassing_seconds : float
        Counters at that moment [s], [Ah per string], [Ah], [s].
    under_charge : bool
        Taken while charging, or within the first hours after.
    """

    kind: str
    taken_at: float
    values: dict[str, float | str]
    temperature: float | None = None
    by: str = ""
    note: str = ""
    charging_seconds: float = 0.0
    gassing: float = 0.0
    under_charge: bool = False
    rested_hours: float | None = None
    discharge: float = 0.0
    gassing_seconds: float = 0.0

    @property
    def charging(self) -> bool:
        """Whether it was taken while current flowed in."""
        return self.under_charge and self.rested_hours is None


class HandLog(NamedTuple):
    """The log and what follows from it; the derived fields are made anew with every entry.

    Attributes
    ----------
    entries : tuple of Entry
        In order of entry, newest last.
    gravities : tuple of gravity.GravityReading
        Corrected hydrometer log.
    lowest, spread, trend : float or None
        Corrected gravity of the weakest cell, spread [1], rise [1/h].
    rising : bool or None
        Gravity still rises; None = unknown.
    gravity_at, level_at, last_at : float
        Last entry of the kind, of any kind [s since the epoch]; 0 = never.
    topped_up : float
        Gassing charge per string at the last top-up of the cell that needs water most [Ah].
    string_amps : tuple of float
        Clamp readings of the strings in order [A], empty if none.
    string_amps_after, string_amps_at : float
        Charging seconds at which they were taken [s]; -1 = never; and when [s since the epoch].
    sulfated_at, sulfated_where : float, str
        Cells noted with white deposits and not clean since; the one longest not looked at.
    level_wrong, plates_bare, reversed_block : str
        Where a level over the mark forbids a start, where a level at the plates or below, or a polarity, forbids
        charging; empty = nowhere.
    damaged : dict of str
        Where somebody saw a case cracked, leaking, bulging or frozen, and what.
    apart : str
        Which cells make the spread, in words.
    apart_doubt : str
        Why that spread tells nothing for a verdict; empty where each of its readings can be trusted.
    watered : dict of float
        When water was last added to a cell [s since the epoch].
    keys : tuple of str
        Keys of the newest readings that carried one, so that a resent one is known.
    plateau : bool
        Four hourly readings of every cell in the circuit agree under charge, and none was seen not to gas.
    rise, rise_by_water : float or None
        Middle rise of gravity since each cell's first reading, and what of it lost water explains [1].
    voltage, voltage_at : float
        Bank voltage read by hand [V], and when [s since the epoch]; 0 = never.
    temperature, temperature_at : float
        Electrolyte temperature read by hand [degC], and when; 0 = never.
    case, case_at : float
        Hottest case of one look round [degC], and when; 0 = never.
    counted : Counters or None
        Counters before the newest amps read by hand went into them, for undo.
    amps_apart : str
        Amps by hand that somebody was sure of beside other amps on the ammeter, in words; empty where they agree.
    joined_at : float
        Since when the blocks are joined as now [s since the epoch]; bank volts and string amps of before say nothing.
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
    string_amps_at: float = 0.0
    plateau: bool = False
    rise: float | None = None
    rise_by_water: float | None = None
    voltage: float = 0.0
    voltage_at: float = 0.0
    temperature: float = 0.0
    temperature_at: float = 0.0
    case: float = 0.0
    case_at: float = 0.0
    counted: Counters | None = None
    joined_at: float = 0.0
    apart_doubt: str = ""
    plates_bare: str = ""
    damaged: dict[str, str] = {}
    watered: dict[str, float] = {}
    apart: str = ""
    amps_apart: str = ""

    def voltage_now(self, at: float) -> float | None:
        """Return the bank voltage read by hand [V] while it still stands for the bank now [s since the epoch]."""
        return self.voltage if self.voltage_at and at - self.voltage_at <= HAND_GAP else None

    def temperature_now(self, at: float) -> float | None:
        """Return the same of the electrolyte [degC]."""
        return self.temperature if self.temperature_at and at - self.temperature_at <= HAND_GAP else None

    def case_now(self, at: float) -> float | None:
        """Return the same of the hottest case [degC]."""
        return self.case if self.case_at and at - self.case_at <= HAND_GAP else None
