"""What the charger can do: its present ceiling and its current, learned from what stands while something moves.

Meters are one to three per cent off and cables drop 20 to 80 mV per cell. The voltage in the owner's file is therefore
where the search begins, never what a phase is compared with.
"""

from __future__ import annotations

import math

from rules.bank import Bank
from rules.phase.memory import CHARGING, MINUTE, TEN_MINUTES, Bin, PhaseMemory, Track
from rules.phase.thresholds import THRESHOLDS as T

Setting = tuple[float, float]


def expected_current(bank: Bank, memory: PhaseMemory) -> float:
    """Return charger current known by configuration or learning, else what the strings should be given.

    Parameters
    ----------
    bank : Bank
        As arranged.
    memory : PhaseMemory
        Phase memory.

    Returns
    -------
    float
        Current [A].
    """
    return memory.set_current or max(memory.track.peak, len(bank.strings) * bank.string_current_limit)


def equalise_seen(bank: Bank, track: Track) -> float:
    """Return the equalising voltage per cell [V] as this meter shows it: the file's, times what ceilings have taught.

    Examples
    --------
    A meter that shows 1.5 % too little:

    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 6, 200.0),),), equalise=2.60)
    >>> round(equalise_seen(bank, Track(ratio=0.985)), 3), equalise_seen(bank, Track())
    (2.561, 2.6)
    """
    volts = bank.equalise_at(track.temperature)
    return volts * track.ratio if track.ratio else volts


def tail_current(bank: Bank) -> float:
    """Return the current under which a hold that waits for its current begins [A]: the owner's, or a share of rating.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> tail_current(Bank("north", ((Block("N1", 6, 200.0),),)))
    6.0
    """
    return bank.hold.tail if bank.hold.tail is not None else T.tail_share.value * bank.capacity


def hold_band(bank: Bank) -> float:
    """Return how far below the equalising voltage a bank is still held [V]: nearer to it than to the setting before.

    Examples
    --------
    >>> from rules.bank.model import Block, ChargerSetting
    >>> one = Bank("north", ((Block("N1", 6, 200.0),),), equalise=2.53)
    >>> two = Bank("north", one.strings, chargers=(ChargerSetting(14.94, 30.0),), equalise=2.53)
    >>> hold_band(one), round(hold_band(two), 3)
    (0.03, 0.02)
    """
    return min(T.hold_band.value, bank.below_equalise)


def held_within(bank: Bank, memory: PhaseMemory, step: float) -> float:
    """Return how far below the equalising voltage a sample still is one of the hold [V per cell].

    Once the ceiling has been seen, what lies below it by more than the meter's noise is a weak sun's, not the
    charger's; what a cable takes of more current is learned with the ceiling it then shows.

    Parameters
    ----------
    bank : Bank
        As arranged.
    memory : PhaseMemory
        Phase memory.
    step : float
        Smallest step of the voltmeter [V per cell].

    Returns
    -------
    float
        [V per cell].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 6, 200.0),),), equalise=2.60)
    >>> held_within(bank, PhaseMemory(), 0.0), held_within(bank, PhaseMemory(track=Track(learned=True)), 0.0)
    (0.03, 0.012)
    """
    if not memory.track.learned:
        return hold_band(bank)
    noise = T.stands_noise.value * memory.live.noise + T.stands_steps.value * step
    return min(hold_band(bank), T.stands_below.value + noise)


def held_from(bank: Bank, track: Track) -> float:
    """Return the lowest volts per cell [V], as this meter shows them, at which the hold counts.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 6, 200.0),),), equalise=2.60)
    >>> round(held_from(bank, Track()), 3), round(held_from(bank, Track(ratio=0.985)), 3)
    (2.57, 2.531)
    """
    return equalise_seen(bank, track) - hold_band(bank)


def past_equalise(bank: Bank, memory: PhaseMemory) -> bool:
    """Tell whether a bank above the equalising voltage takes all that its charger gives.

    The current is what stands there, and the voltage the bank's own: the charger was turned up, or has lost its
    setting, and holds nothing.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 6, 200.0),),), equalise=2.60)
    >>> full = PhaseMemory(set_current=17.0, track=Track(volts=2.65, amps=16.8))
    >>> past_equalise(bank, full), past_equalise(bank, full._replace(ceiling=2.65))
    (True, False)
    """
    track = memory.track
    limited = track.amps >= T.limited.value * memory.set_current > 0.0
    stands = memory.ceiling > 0.0 and track.volts <= memory.ceiling + T.raised.value
    return limited and not stands and track.volts > equalise_seen(bank, track) + T.raised.value


def hold_stretch(bank: Bank, memory: PhaseMemory) -> tuple[float, float]:
    """Return the volts per cell [V] around the equalising voltage that are worth marking on a curve.

    The hold counts from the lower end, nearer to the ceiling once that has been seen. The upper one lies as far above
    what the charger regulates to and decides nothing. A compensated charger regulates by the electrolyte of the moment;
    once it no longer charges, the temperature at which the hold began is the one that it was held at.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 6, 200.0),),), equalise=2.60, compensation=-0.004)
    >>> low, high = hold_stretch(bank, PhaseMemory(phase="bulk", track=Track(temperature=35.0)))
    >>> round(low, 3), round(high, 3)
    (2.53, 2.59)
    """
    track = memory.track
    if memory.phase not in CHARGING:
        track = track._replace(temperature=track.entry_temperature)
    meters = bank.by_quantity.get("voltage", ())
    wide = held_within(bank, memory, meters[0].resolution / bank.cells if meters else 0.0)
    wanted = equalise_seen(bank, track)
    return wanted - wide, wanted + wide


def at_ceiling(memory: PhaseMemory) -> bool:
    """Tell whether the voltage stands at a ceiling of the charger, in whatever phase.

    Examples
    --------
    >>> at_ceiling(PhaseMemory(phase="holding", ceiling=2.63, track=Track(volts=2.62)))
    True
    """
    charging = memory.phase in CHARGING and memory.track.off_seconds == 0.0
    return charging and 0.0 < memory.ceiling <= memory.track.volts + T.below_ceiling.value


def learn_charger(bank: Bank, memory: PhaseMemory, resolution: tuple[float, float]) -> PhaseMemory:
    """Keep ceiling and current up to date.

    The owner's settings are taken in their order: a voltage above the present one means the charger was raised.
    A voltage that stands while the current moves, or is far under the charger's, is a ceiling; a current that stays
    flat below the ceiling is the charger's current.

    Parameters
    ----------
    bank : Bank
        As arranged.
    memory : PhaseMemory
        Phase memory, this minute already in its track.
    resolution : tuple of float
        Smallest step of voltage per cell [V] and current [A].

    Returns
    -------
    PhaseMemory
        With `ceiling` and `set_current`.
    """
    track = memory.track
    settings = _settings(bank, track)
    if settings and not memory.ceiling:
        volts, amps = settings[track.setting]
        memory = memory._replace(ceiling=volts * (track.ratio or 1.0), set_current=amps)
    memory = _turned_up(memory, settings)
    flat = _standing(bank, memory, resolution[0])
    if flat is not None:
        memory = _learn_ceiling(bank, memory, settings, flat, resolution[0])
    amps = _learn_current(memory, memory.ceiling, memory.set_current, resolution[1])
    track = memory.track
    at_ceiling = memory.ceiling and track.volts >= memory.ceiling - T.below_ceiling.value
    below = 0.0 if at_ceiling else track.below_seconds + MINUTE
    return memory._replace(set_current=amps, track=track._replace(below_seconds=below))


def _settings(bank: Bank, track: Track) -> tuple[Setting, ...]:
    """Return the owner's settings as the charger regulates to them at this warmth: volts per cell [V], amps [A]."""
    shift = bank.equalise_at(track.temperature) - bank.equalise
    return tuple([(charger.volts / bank.cells + shift, charger.amps) for charger in bank.chargers])


def _turned_up(memory: PhaseMemory, settings: tuple[Setting, ...]) -> PhaseMemory:
    """Take a voltage above the present ceiling for the next setting, where a meter's gain cannot explain it."""
    track, ceiling, amps = memory.track, memory.ceiling, memory.set_current
    if not ceiling:
        return memory
    doubt = 0.0 if track.learned or track.ratio else T.meter_gain.value * ceiling
    if track.volts <= ceiling + T.raised.value + doubt:
        return memory
    ratio = track.ratio or 1.0
    higher = [k for k, (volts, _) in enumerate(settings) if volts * ratio > track.volts - T.raised.value - doubt]
    setting = higher[0] if higher else track.setting
    if higher:
        ceiling, amps = settings[setting][0] * ratio, settings[setting][1]
    else:
        ceiling = 0.0
    # What a higher voltage drives through a bank is no growth: floor and late peak begin anew.
    track = track._replace(
        setting=setting,
        peak=0.0,
        grown=_grown(track),
        learned=False,
        lowest=0.0,
        late_peak=0.0,
        settled_charge=0.0,
        settled_hours=0.0,
    )
    return memory._replace(ceiling=ceiling, set_current=amps, track=track)


def takes_back(track: Track) -> bool:
    """Tell whether it was charged before it rested, and takes back what leaked away: no peak, and no growth.

    Examples
    --------
    Three hours of charging before a night, and half an hour or two hours after it:

    >>> [takes_back(Track(bins=(Bin(0.0, 2.4, 3.0),) * 18, on_seconds=on)) for on in (1800.0, 7200.0)]
    [True, False]
    """
    before = len(track.bins) * TEN_MINUTES - track.on_seconds
    return before >= TEN_MINUTES and track.on_seconds < T.settles.value


def _grown(track: Track) -> float:
    """Return how many times over the current has grown at the ceilings so far, this one included [1]."""
    if not track.bins or track.lowest <= 0.0 or takes_back(track):
        return track.grown
    # In the last ten minutes the charger may have been raised already.
    before = track.bins[-2:][0].amps
    return track.grown * max(1.0, (before - track.zero) / max(track.lowest - track.zero, T.zero_hides.value))


def _standing(bank: Bank, memory: PhaseMemory, step: float) -> float | None:
    """Return volts per cell that stand [V] while the current moves or is far from the charger's; else ``None``."""
    track, amps = memory.track, memory.set_current
    bins = track.bins
    count = int(T.pieces.value)
    if len(bins) < count or (amps and bins[-2].amps + bins[-1].amps >= 2.0 * T.limited.value * amps):
        return None
    recent = bins[-count:]
    volts = [piece.volts for piece in recent]
    spread = max(volts) - min(volts)
    first, last = recent[0], recent[-1]
    moved = abs(math.log(max(last.amps, 1e-3) / max(first.amps, 1e-3)))
    if moved >= T.moved.value and _with_the_current(recent, step):
        return None
    if spread > max(T.stands.value, T.stands_steps.value * step):
        creeping = abs(math.log(last.volts / first.volts)) if min(volts) > 0.0 else 1.0
        # Pieces of an evening and a morning tell nothing of a cable: the first of the morning is half a climb.
        one_run = track.on_seconds >= count * TEN_MINUTES
        moves = moved >= max(T.moved.value, T.current_moves.value * creeping)
        behind_cable = one_run and spread <= T.creeps.value and moves
        return last.volts if behind_cable and min(volts) >= T.least_ceiling.value else None
    mean = sum(volts) / count
    low = last.amps < T.low_current.value * max(expected_current(bank, memory), track.highest)
    far = (
        moved >= T.moved.value or low or _flat(bins, max(T.stands.value, T.stands_steps.value * step), T.strange_pieces)
    )
    return mean if far and mean >= T.least_ceiling.value else None


def _with_the_current(recent: tuple[Bin, ...], step: float) -> bool:
    """Tell whether volts rise and fall with the current: a weak sun's do, a charger's stand, and a cable turns them."""
    half = len(recent) // 2
    before, after = recent[:half], recent[-half:]
    volts = sum(b.volts - a.volts for a, b in zip(before, after, strict=True)) / half
    amps = sum(b.amps - a.amps for a, b in zip(before, after, strict=True)) / half
    return volts * amps > 0.0 and abs(volts) > max(T.with_current.value, T.with_current_steps.value * step)


def _flat(bins: tuple[Bin, ...], step: float, count: object) -> bool:
    pieces = int(T.strange_pieces.value)
    volts = [piece.volts for piece in bins[-pieces:]]
    return len(volts) == pieces and max(volts) - min(volts) <= step


def _learn_ceiling(
    bank: Bank, memory: PhaseMemory, settings: tuple[Setting, ...], flat: float, step: float
) -> PhaseMemory:
    """Keep the voltage that stands as the ceiling, and what it says about the meter."""
    track, ceiling = memory.track, memory.ceiling
    if track.learned and _sinks(bank, memory, settings, flat):
        return memory
    share = min(1.0, track.bins[-1].amps / expected_current(bank, memory))
    setting = belongs(flat, settings, track.ratio, track.setting)
    if setting is None:
        wide = max(T.stands.value, T.stands_steps.value * step)
        if settings and not _flat(track.bins, wide, T.strange_pieces):
            return memory
        eq = bank.equalise_at(track.temperature)
        ratio = track.ratio
        if not settings and _within(flat, eq, 0.0, share):
            ratio = flat / eq
            if _was_a_step(bank, memory, eq, flat):
                memory = _take_back(memory)
        elif not settings and abs(flat - ratio * eq) <= T.raised.value:
            # It taught the ratio while more flowed: now no cable explains it. A float voltage far below says nothing.
            ratio = 0.0
            memory = _take_back(memory)
        track = memory.track._replace(ratio=ratio)
    else:
        if setting != track.setting:
            memory = memory._replace(set_current=settings[setting][1])
        track = track._replace(setting=setting, ratio=flat / settings[setting][0])
    latest = track.bins[-1]
    raised = abs(flat - ceiling) > T.raised.value and ceiling and flat > ceiling
    if raised:
        track = track._replace(peak=latest.amps)
    if raised or setting != memory.track.setting or not track.cool_ratio or latest.temperature < track.cool_temperature:
        track = track._replace(
            cool_ratio=track.ratio, cool_amps=latest.amps, cool_temperature=latest.temperature
        )  # fmt: skip
    track = track._replace(learned=True, ceiling_amps=latest.amps, ceiling_temperature=latest.temperature)
    return memory._replace(ceiling=flat, track=track)


def _sinks(bank: Bank, memory: PhaseMemory, settings: tuple[Setting, ...], flat: float) -> bool:
    """Tell whether a voltage that stands lies below a ceiling already learned, further than that can have moved.

    A weak sun, a charger at its limit: much holds a voltage up for an hour that is no ceiling. Gain does not change,
    a cable drops more only where more flows than when that ceiling was learned, and a charger that compensates, though
    nobody said so, goes lower only as the electrolyte warms.
    """
    track = memory.track
    lower = track.ratio * _wanted(bank, track, settings) - flat
    more = track.bins[-1].amps - track.ceiling_amps
    cable = T.cable_drop.value * min(1.0, max(0.0, more) / expected_current(bank, memory))
    warmth = _compensates(bank, memory, settings) * max(0.0, track.temperature - track.ceiling_temperature)
    if not track.ratio or lower <= T.stands_below.value + cable + warmth:
        return False
    others = [volts for k, (volts, _) in enumerate(settings) if k != track.setting]
    if any(abs(flat - track.ratio * volts) <= T.ceiling_band.value for volts in others):
        return False
    return not _flat(track.bins, T.stands.value, T.strange_pieces)


def _compensates(bank: Bank, memory: PhaseMemory, settings: tuple[Setting, ...]) -> float:
    """Return by how much the charger may go lower as the electrolyte warms, though nobody said so [V/K].

    One that stood at the same ceiling over many kelvin compensates no more than that: less current behind a cable
    alone may have hidden some of it.
    """
    track = memory.track
    warmer = track.ceiling_temperature - track.cool_temperature
    if not track.cool_ratio or warmer < T.compensation_seen.value:
        return T.compensates.value
    less = max(0.0, track.cool_amps - track.ceiling_amps) / expected_current(bank, memory)
    lower = (track.cool_ratio - track.ratio) * _wanted(bank, track, settings) + T.cable_drop.value * min(1.0, less)
    return min(T.compensates.value, max(0.0, lower) / warmer)


def _wanted(bank: Bank, track: Track, settings: tuple[Setting, ...]) -> float:
    """Return volts per cell of the setting in use, as the owner wrote it [V]."""
    return settings[track.setting][0] if settings else bank.equalise_at(track.temperature)


def _within(flat: float, volts: float, ratio: float, share: float = 1.0) -> bool:
    """Tell whether meter, charger and cable explain a voltage by another; a cable drops in proportion to what flows."""
    if ratio:
        return abs(flat - volts * ratio) <= T.ceiling_band.value
    gain = T.meter_gain.value
    return volts * (1.0 - gain) - T.cable_drop.value * share <= flat <= volts * (1.0 + gain)


def _was_a_step(bank: Bank, memory: PhaseMemory, equalise: float, flat: float) -> bool:
    """Tell whether what was taken for the equalising voltage was a step below it.

    Nobody wrote the charger's steps down, and a meter's gain and a cable together explain much. A charger that then
    goes up by more than a cable gives back, nearer to the owner's voltage, had not been there before: gain does not
    change, and a cable gives back no more than what flowed took.
    """
    track = memory.track
    before = track.ratio * equalise
    cable = T.cable_drop.value * min(1.0, track.ceiling_amps / expected_current(bank, memory))
    higher = flat - before > max(hold_band(bank), cable)
    return track.ratio > 0.0 and higher and abs(flat - equalise) < abs(before - equalise)


def _take_back(memory: PhaseMemory) -> PhaseMemory:
    """Take back what was held at a step below the equalising voltage."""
    track = memory.track._replace(
        entry=0.0, entry_seconds=0.0, tail_seconds=0.0, finishing_seconds=0.0, hold_bins=(), hold_amp_seconds=0.0,
        hold_bin_seconds=0.0,
    )  # fmt: skip
    phase = "absorbing" if memory.phase in ("holding", "finishing") else memory.phase
    return memory._replace(phase=phase, hold_seconds=0.0, track=track)


def belongs(flat: float, settings: tuple[Setting, ...], ratio: float, present: int) -> int | None:
    """Return which of the owner's settings a voltage that stands is, or None.

    Parameters
    ----------
    flat : float
        Voltage per cell that stands [V].
    settings : tuple of (float, float)
        The owner's: volts per cell [V], amps [A].
    ratio : float
        Seen over written, as an earlier ceiling taught [1]; 0 = not known.
    present : int
        The setting in use, as far as known.

    Returns
    -------
    int or None
        Its place in the list.

    Examples
    --------
    A meter 1.4 % low behind a cable of 40 mV:

    >>> belongs(2.593, ((2.40, 30.0), (2.67, 30.0)), 0.0, 0)
    1
    >>> belongs(2.20, ((2.40, 30.0), (2.67, 30.0)), 0.0, 0) is None
    True

    The first of three that lie close together, through a meter that shows 1.5 % too much:

    >>> belongs(2.485, ((2.448, 35.0), (2.489, 35.0), (2.53, 35.0)), 0.0, 0)
    0
    """
    if settings and not ratio and _within(flat, settings[present][0], 0.0):
        # Settings closer together than meters are off: they are taken in the owner's order.
        return present
    near = [
        (abs(flat - volts * (ratio or 1.0)) - (T.raised.value if k == present else 0.0), k)
        for k, (volts, _) in enumerate(settings)
        if _within(flat, volts, ratio) or _within(flat, volts, 0.0)
    ]
    return min(near)[1] if near else None


def _learn_current(memory: PhaseMemory, ceiling: float, amps: float, step: float) -> float:
    """Return the charger's current [A]: one that stays put below the ceiling."""
    bins = memory.track.bins
    # One piece more is a meter's noise, two are the charger's.
    if (more := min([piece.amps for piece in bins[-2:]], default=0.0)) > T.current_fallen.value * amps > 0.0:
        return more
    count = int((T.current_pieces if amps else T.current_first).value)
    if len(bins) < count:
        return amps
    # The first piece of a run is half a climb to where its voltage then stands.
    began = bins[-1].at + memory.track.seconds - memory.track.on_seconds
    if not amps and bins[-count].at < began + 1.5 * TEN_MINUTES:
        return amps
    recent = [piece.amps for piece in bins[-count:]]
    mean = sum(recent) / count
    drift = abs(sum(recent[-2:]) - sum(recent[:2])) / 2.0
    volts = [piece.volts for piece in bins[-count:]]
    below = max(volts) < (ceiling - T.current_free.value if ceiling else T.no_ceiling.value)
    free = below and (ceiling or max(volts) - min(volts) > T.volts_move.value)
    still = drift <= max(T.current_flat.value * mean, T.current_half_step.value * step)
    if free and still and max(recent) - min(recent) <= max(T.current_range.value * mean, step):
        return mean if mean >= T.current_kept.value * amps and mean > T.current_least.value else amps
    return amps
