"""What the phase machine remembers of a bank from one observation to the next."""

from __future__ import annotations

from typing import Annotated, NamedTuple

#: In the order of a round.
PHASES = (
    "idle", "waking", "reviving", "bulk", "absorbing", "finishing", "holding", "resting", "testing", "finished",
)  # fmt: skip

#: A leak and gas follow the electrolyte, by anything up to this [1/K] (Schiffer and others, J. Power Sources 168 (2007)
#: 66).
WARMTH = 0.06
#: The pace at which phases are judged [s].
MINUTE = 60.0
#: Length of one piece of charging [s]: shorter is a cloud, longer hides a turn (assumed).
TEN_MINUTES = 600.0
#: Ten-minute pieces of charging kept in `Track.bins`: six hours.
BINS = 36
#: Phases in which a round wants the charger on.
CHARGING = frozenset(("waking", "reviving", "bulk", "absorbing", "finishing", "holding"))
#: Phases in which the equalising voltage is held.
HELD = frozenset(("finishing", "holding"))


class Live(NamedTuple):
    """Sample by sample: the hold clock's edges and the minute being averaged.

    Attributes
    ----------
    at : float or None
        Previous observation [s].
    period : float
        Learned time between observations [s].
    noise : float
        Learned step between successive voltages [V per cell].
    volts, moved : float
        Last known voltage per cell, and its latest step [V].
    smooth : float
        The same with the learned noise taken out; follows a jump at once [V per cell].
    good_at : float or None
        Last sample that certainly held the bank at the equalising voltage [s].
    good_volts : float
        Its voltage per cell [V].
    good_last : float
        The same, kept after the bank has left that voltage [s].
    pending : float
        Time at the equalising voltage in this stay, the dwell of `holding` and `finishing` [s].
    owed : float
        Time there since the current first showed a woken bank; counts once that is sure [s].
    opened : float
        When the present minute began [s].
    volt_seconds, volt_time, amp_seconds, amp_time : float
        Sums of the present minute [V s, s, A s, s].
    amps, amp_moved, amp_noise : float
        Last known current, its latest step, and the learned step between successive currents that is noise [A].
    amp_step : float
        Largest of the latest changes of the current shown while it charges: digits that stand are no coarser [A].
    amp_stood, amp_period : float
        Since the current shown last changed, and the learned time between its changes [s].
    """

    at: float | None = None
    period: float = 0.0
    noise: float = 0.0
    volts: float = 0.0
    moved: float = 0.0
    smooth: float = 0.0
    good_at: float | None = None
    good_volts: float = 0.0
    good_last: float = 0.0
    pending: float = 0.0
    owed: float = 0.0
    opened: float = 0.0
    volt_seconds: float = 0.0
    volt_time: float = 0.0
    amp_seconds: float = 0.0
    amp_time: float = 0.0
    amps: float = 0.0
    amp_moved: float = 0.0
    amp_noise: float = 0.0
    amp_step: float = 0.0
    amp_stood: float = 0.0
    amp_period: float = 0.0


class Bin(NamedTuple):
    """Ten charging minutes: end [s], mean volts per cell [V], mean current [A], electrolyte at the end [degC]."""

    at: float
    volts: float
    amps: float
    temperature: float = 25.0


class Track(NamedTuple):
    """Minute by minute: smoothed values, trends and the counters behind each decision.

    Attributes
    ----------
    blocks, cells, capacity : tuple of str, int, float
        Labels of the blocks in the circuit, how many cells in series, rating [1, Ah]: these values were learned so.
    awake : tuple of str
        Blocks that have woken in this round, wherever they are wired.
    base : float
        Charge returned in this round that went elsewhere [Ah].
    rested, rests : float
        Voltage per cell before the charger was switched on, a minute before that and at last [V]; 0 = nobody saw it.
    temperature : float
        Last known electrolyte temperature [degC].
    volts, amps : float
        Smoothed over five charging minutes [V per cell, A].
    bins : tuple of Bin
        The last six charging hours.
    volt_seconds, amp_seconds, seconds : float
        Sums of the bin being filled [V s, A s, s].
    hold_bins : tuple of float
        Mean currents of the last ten-minute pieces at the equalising voltage [A].
    faint_seconds : float
        While off: current that may be no more than the meter's noise [s].
    on_seconds, off_seconds : float
        Charging since the last interruption; not charging since [s].
    run_seconds, earlier_run, runs : float, float, int
        Charging since the last stop of an hour or more, and between the two before it [s]; runs that are over [1].
    setting : int
        Which of the owner's charger settings is in use.
    learned : bool
        The ceiling was seen, not only configured.
    ceiling_amps, ceiling_temperature : float
        Current at which it was [A], and electrolyte [degC].
    cool_ratio, cool_amps, cool_temperature : float
        `ratio` when this setting's ceiling was seen with the coolest electrolyte [1], 0 = never; current [A] and
        electrolyte then [degC].
    strong_amps : float
        80 % of the charger's current [A].
    strong_seconds : float
        Uninterrupted time at or above 80 % of the charger's current [s].
    blocked_seconds : float
        Time at the ceiling with next to no current, in this round [s].
    peak : float
        Highest current kept up for twenty minutes since the ceiling was last moved [A].
    highest : float
        The same of the whole round [A].
    floor : float
        Lowest ten-minute current at the ceiling before waking [A].
    growth, growth_cool : float
        What the blocked current has to grow from, as it is and as it would be at 25 degC [A].
    stuck_since : float or None
        When the growth stopped [s].
    low_seconds, shorted : float, str
        Voltage under charge lower than sound cells could have [s]; since when and why that means a short.
    hog_seconds : float
        Time in which one string took everything and the others discharged [s].
    entered : float
        Charge returned when the phase began [Ah].
    candidate, candidate_seconds : str, float
        Phase that the signature asks for, and for how long [s].
    below_seconds : float
        Charging time since the bank was last at its ceiling [s].
    tail_seconds, flat_seconds, finishing_seconds : float
        Under the tail current; flat; at the equalising voltage before the hold, without an interruption [s].
    slow : float
        Current over ten charging minutes, for the tail [A].
    lowest, peak_floor : float
        Lowest ten-minute current at the ceiling before waking, and what it was before the peak [A].
    grown : float
        How many times over it had grown at the ceilings before this one [1].
    lowest_temperature, peak_floor_temperature : float
        Electrolyte at those two [degC].
    past_peak : bool
        Woken, and its current has fallen from its peak at a ceiling, or half the rating went in: it can be held.
    late_peak, late_peak_temperature : float
        Highest current kept after an hour and a half at the present ceiling, before waking [A]; warmth then [degC].
    settled_charge, settled_hours, settled_temperature : float
        What went in there since [Ah], in how many hours [h], and the warmest electrolyte meanwhile [degC].
    zero, zero_seen : float, bool
        What the current meter shows while nothing flows [A]; whether it was seen.
    ratio : float
        Voltage of the charger's ceilings as this meter shows it over what the owner wrote [1]; 0 = not yet learned.
    free_charge : float
        Taken below the ceiling in this run [Ah].
    current_seen : bool
        A current was read in this round.
    reversed_seconds : float
        Current below zero at a voltage that only a charger holds [s]; beyond a limit its sign is taken for reversed.
    entry, entry_temperature, entry_seconds : float
        Mean current at which a hold began because it was flat [A], 0 = it began otherwise; electrolyte then [degC];
        time above that current [s].
    folded_seconds : float
        Time in which the charger, by itself, stands at a lower voltage than the hold's [s].
    still_volts, still_amps, still_gravity, still_seconds : float
        Volts per cell [V], current [A] and gain of gravity [1] that have not moved for so much charging [s].
    """

    blocks: tuple[str, ...] = ()
    cells: int = 0
    capacity: float = 0.0
    awake: tuple[str, ...] = ()
    base: float = 0.0
    rested: float = 0.0
    rests: float = 0.0
    temperature: float = 25.0
    volts: float = 0.0
    amps: float = 0.0
    bins: tuple[Bin, ...] = ()
    volt_seconds: float = 0.0
    amp_seconds: float = 0.0
    seconds: float = 0.0
    hold_bins: tuple[float, ...] = ()
    hold_amp_seconds: float = 0.0
    hold_bin_seconds: float = 0.0
    faint_seconds: float = 0.0
    on_seconds: float = 0.0
    off_seconds: float = 0.0
    run_seconds: float = 0.0
    earlier_run: float = 0.0
    runs: int = 0
    setting: int = 0
    learned: bool = False
    ceiling_amps: float = 0.0
    ceiling_temperature: float = 25.0
    cool_ratio: float = 0.0
    cool_amps: float = 0.0
    cool_temperature: float = 25.0
    strong_amps: float = 0.0
    strong_seconds: float = 0.0
    blocked_seconds: float = 0.0
    peak: float = 0.0
    highest: float = 0.0
    floor: float = 0.0
    growth: float = 0.0
    growth_cool: float = 0.0
    stuck_since: float | None = None
    low_seconds: float = 0.0
    shorted: str = ""
    hog_seconds: float = 0.0
    entered: float = 0.0
    candidate: str = ""
    candidate_seconds: float = 0.0
    below_seconds: float = 0.0
    tail_seconds: float = 0.0
    flat_seconds: float = 0.0
    finishing_seconds: float = 0.0
    slow: float = 0.0
    lowest: float = 0.0
    lowest_temperature: float = 25.0
    peak_floor_temperature: float = 25.0
    peak_floor: float = 0.0
    grown: float = 1.0
    zero: float = 0.0
    zero_seen: bool = False
    ratio: float = 0.0
    free_charge: float = 0.0
    current_seen: bool = False
    reversed_seconds: float = 0.0
    entry: float = 0.0
    entry_temperature: float = 25.0
    entry_seconds: float = 0.0
    folded_seconds: float = 0.0
    past_peak: bool = False
    late_peak: float = 0.0
    late_peak_temperature: float = 25.0
    settled_charge: float = 0.0
    settled_hours: float = 0.0
    settled_temperature: float = -100.0
    still_volts: float = 0.0
    still_amps: float = 0.0
    still_seconds: float = 0.0
    still_gravity: float = 0.0


class PhaseMemory(NamedTuple):
    """Where a bank is in its revival.

    Attributes
    ----------
    phase : str
        One of `PHASES`.
    since : float
        When it began [s].
    interrupted : bool
        The phase stands but nothing flows: generator off, relay open, charger refusing, meters silent.
    woken : bool
        Its current has left its floor and fallen from a peak, or the charger was its limit, or half its capacity went
        in, or it was never blocked.
    started_at : float or None
        Start of the round [s].
    hold_seconds, hold_needed : float
        Hold clock, and where it ends as things stand [s].
    hold_complete : bool
        The hold is over.
    hold_completed_at : float or None
        When [s].
    ceiling : float
        Charger's present ceiling per cell [V]; 0 where unknown.
    set_current : float
        What the charger can give [A]; 0 where unknown.
    stuck_seconds : float
        Charging time at the ceiling without growth [s].
    not_reviving, hopeless : bool
        24 and 96 charging hours of that, or a bank that swallows everything.
    finding : str
        Since when and why, for those two.
    stop_awaited : float
        A person gave a round up: no other begins by itself before the charger has been seen off for so long [s].
    """

    phase: Annotated[str, PHASES] = "idle"
    since: float = 0.0
    interrupted: bool = False
    woken: bool = False
    started_at: float | None = None
    hold_seconds: float = 0.0
    hold_needed: float = 0.0
    hold_complete: bool = False
    hold_completed_at: float | None = None
    ceiling: float = 0.0
    set_current: float = 0.0
    stuck_seconds: float = 0.0
    not_reviving: bool = False
    hopeless: bool = False
    finding: str = ""
    stop_awaited: float = 0.0
    live: Live = Live()
    track: Track = Track()


def initial() -> PhaseMemory:
    """Return a memory that has seen nothing yet.

    Examples
    --------
    >>> initial().phase
    'idle'
    """
    return PhaseMemory()
