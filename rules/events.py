"""What comes in through the one door, and what goes out of it.

Everything is a plain tuple: cheap to make a few thousand times a second, impossible to change afterwards,
and readable as JSON.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from math import ceil
from typing import NamedTuple

# ---------------------------------------------------------------------------------------------- in


class Reading(NamedTuple):
    """A meter's value in its canonical unit.

    Attributes
    ----------
    bank, meter : str
        Bank id and `rules.bank.model.Meter.name`.
    value : float
        In the canonical unit of the meter's quantity; contacts are 1.0 or 0.0 (relay: 1.0 closed, 0.0 open).
    at : float
        Arrival by the bridge's own clock [s since the epoch]. Never runs backward.
    measured_at : float
        The meter's own time where trusted, else `at` [s since the epoch].
    retained : bool
        Delivered as a retained message without a trusted time of its own: shown, but its age is unknown.
    stamp_off : float
        How far the meter's own time was off, where it could not be believed and arrival was taken [s]; a message that
        should tell its time and does not counts as one of 1970.
    """

    bank: str
    meter: str
    value: float
    at: float
    measured_at: float
    retained: bool = False
    stamp_off: float = 0.0


class Unreadable(NamedTuple):
    """A message of a meter that cannot be read, though it says something: in words, with the key that mends it."""

    bank: str
    meter: str
    at: float
    why: str


class Tick(NamedTuple):
    """A whole second of the bridge's clock has passed: drives silence and timers."""

    at: float


class Command(NamedTuple):
    """A person's act: start, resume, finish, abandon, reset, test, checklist, bypass, arrange, proof ...

    Attributes
    ----------
    name : str
        What.
    by : str
        Who or where from, for the journal.
    argument : dict
        Details, plain JSON values.
    """

    bank: str
    name: str
    at: float
    by: str = ""
    argument: Mapping[str, object] = {}


class HandReading(NamedTuple):
    """Something a person measured or saw.

    Attributes
    ----------
    kind : str
        A key of `rules.hand.KINDS`.
    at, taken_at : float
        When it arrived, and when it was taken [s since the epoch].
    values : dict
        Where -> what. Keys: ``"N1.2"`` (block N1, cell 2), a block label, a string number, or ``""`` for the bank.
        Values: canonical units, or the words ``low``, ``high``, ``none`` for a gravity that is no number.
    temperature : float or None
        Electrolyte temperature taken with it [degC].
    by, note : str
        Who, and anything in words.
    undo : bool
        Takes back the last entry of this kind.
    entry : float
        With `undo`: when the entry was taken that is meant [s since the epoch]; 0 = the last.
    key : str
        Chosen by the sender; what comes twice with the same key counts once. Empty = no such promise asked.
    sure : bool
        The person was asked about a strange value and confirmed it. A strange value without it is answered with an
        event ``unsure`` that says why, and leaves no trace; sent again with it, it counts.
    """

    bank: str
    kind: str
    at: float
    taken_at: float
    values: Mapping[str, float | str] = {}
    temperature: float | None = None
    by: str = ""
    note: str = ""
    undo: bool = False
    key: str = ""
    sure: bool = False
    entry: float = 0.0


Incoming = Reading | Unreadable | Tick | Command | HandReading

# --------------------------------------------------------------------------------------------- out


class Order(NamedTuple):
    """An order to the charger's relay, ``cut``, ``allow`` or ``allow-once``, or the load's, ``load-cut``.

    Nothing is stored before it leaves. What is allowed once is not repeated, so that the relay's own auto-off opens it.
    """

    bank: str
    action: str
    at: float
    reason: str


class Event(NamedTuple):
    """Something worth a line in the journal: trip, reset, phase, flag, command, hand, refused ...

    `detail` holds plain JSON values only.
    """

    bank: str
    kind: str
    at: float
    detail: Mapping[str, object] = {}


class Flag(NamedTuple):
    """A raised flag.

    Attributes
    ----------
    name : str
        A name of `rules.advice.FLAGS`.
    kind : str
        hazard (latches), permit (comes back by itself), start (blocks a start), chore (never opens the relay).
    since : float
        [s since the epoch].
    value, limit : float or None
        What was seen and where the limit lies, in `unit`.
    reason, action : str
        Why it is up; what a person should do.
    """

    name: str
    kind: str
    since: float
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    reason: str = ""
    action: str = ""


class Derived(NamedTuple):
    """What the bridge says of a bank; ``None`` where it does not know.

    Charge is not known before a current was ever seen.

    Units: volts [V], amps [A], watts [W], temperatures [degC], hours [h], charge [Ah], energy [kWh], gas [L/h] and
    [m^3/h], water [g per cell], times [s since the epoch].
    """

    bank: str
    at: float
    # electrical
    voltage: float | None = None
    volts_per_cell: float | None = None
    current: float | None = None
    current_estimated: bool = False
    string_currents: tuple[float, ...] = ()
    power: float | None = None
    # thermal
    temperature: float | None = None
    ambient: float | None = None
    rise_rate: float | None = None
    # revival
    phase: str = "idle"
    phase_since: float | None = None
    interrupted: bool = False
    remaining_hours: float | None = None
    remaining_low: float | None = None
    remaining_high: float | None = None
    remaining_clock_hours: float | None = None
    remaining_reason: str = ""
    finish_at: float | None = None
    hold_hours: float = 0.0
    hold_needed: float = 0.0
    charge_returned: float | None = None
    energy: float | None = None
    overcharge: float | None = None
    # gas
    hydrogen_rate: float | None = None
    ventilation_needed: float | None = None
    water_used: float = 0.0
    safe_to_approach_at: float | None = None
    # cells
    lowest_gravity: float | None = None
    gravity_spread: float | None = None
    gravity_trend: float | None = None
    cells: tuple[Mapping[str, object], ...] = ()
    # safety
    charge_allowed: bool = False
    tripped: bool = False
    trip_reason: str = ""
    relay: str = "unknown"
    flags: tuple[Flag, ...] = ()
    # advice: one imperative line, what comes after it, and what is known of the charger, as sentences
    next_step: str = ""
    then: tuple[str, ...] = ()
    charger: str = ""
    # health: age of each quantity [s]
    freshness: Mapping[str, float] = {}
    # gas: share of the current that splits water [1]; water above the plates [g per cell]; when half of it is used
    gassing_share: float | None = None
    water_reserve: float | None = None
    top_up_at: float | None = None
    # cells: middle rise since the first reading [1], and what of it lost water explains without any recovery [1]
    gravity_rise: float | None = None
    gravity_rise_by_water: float | None = None
    gravity_plateau: bool = False
    # blocks: label, string (0 = aside), charge [Ah] and charging hours [h] in this round
    blocks: tuple[Mapping[str, object], ...] = ()
    # test: [Ah], [percent] of the rated capacity at 25 degC and this rate, blocks in the order in which they fell
    capacity_delivered: float | None = None
    capacity_percent: float | None = None
    fell_first: tuple[str, ...] = ()
    # verdict: the bank first, then every block, and which blocks belong together in one string
    verdict: tuple[Mapping[str, object], ...] = ()
    matching: tuple[tuple[str, ...], ...] = ()
    # chores: flag name and when it falls due [s since the epoch], the next one first
    chores: tuple[Mapping[str, object], ...] = ()
    # the band by the clock
    remaining_clock_low: float | None = None
    remaining_clock_high: float | None = None
    # "is it safe?": one of `rules.advice.ANSWERS`, the flags for which it is not simply yes, and why in words
    safe: str = "unknown"
    unsafe: tuple[str, ...] = ()
    safe_why: str = ""
    # gas: electrolyte that the figures take for granted because nobody measured it [degC]
    gas_assumed_at: float | None = None
    # the charger is seen to be on: by current, by hand, or by volts that only a charger holds
    charging: bool = False
    # of voltage, current or temperature that no living meter tells: by hand and when, what a meter told last and when
    not_live: Mapping[str, str] = {}
    # meters in words that are late, since when and when they count as silent; and those not heard since a start
    late: Mapping[str, str] = {}


Outcome = Order | Event | Derived


def moment(at: float, up: bool = False) -> str:
    """Write a moment [s since the epoch] as it stands in sentences, to the minute; whoever shows them puts local time.

    Examples
    --------
    >>> moment(1795590030.0), moment(1795590030.0, up=True)
    ('2026-11-25T07:00Z', '2026-11-25T07:01Z')
    """
    minute = ceil(at / 60.0) if up else int(at // 60.0)
    return datetime.fromtimestamp(60 * minute, UTC).strftime("%Y-%m-%dT%H:%MZ")
