"""Which phase volts, amps, trend and history look like: a table of (phases, predicate, next), read from the top."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from rules.bank import Bank
from rules.phase.charger import expected_current, held_from, past_equalise
from rules.phase.memory import PhaseMemory, Track
from rules.phase.thresholds import THRESHOLDS as T
from rules.phase.woken import left_floor

#: Where a bank that shows no ceiling yet would find one [V] (common practice, no source).
USUAL_CEILING = 2.36


class Look(NamedTuple):
    """One minute as the table sees it.

    Attributes
    ----------
    memory, track : PhaseMemory, Track
        What is remembered.
    volts, amps, reference, ceiling, equalise : float
        Smoothed, the charger's current, and its ceilings as this meter shows them [V per cell, A].
    share : float
        Current over the charger's [1].
    at_top, low_top : bool
        At the ceiling; the ceiling is below the equalising voltage.
    past_equalise : bool
        It takes all the charger gives above the equalising voltage: turned up, it is not held.
    capacity : float
        Rating [Ah].
    left_floor : bool
        Its current has left its floor by a factor.
    """

    memory: PhaseMemory
    track: Track
    volts: float
    amps: float
    reference: float
    ceiling: float
    equalise: float
    share: float
    at_top: bool
    low_top: bool
    past_equalise: bool
    capacity: float
    left_floor: bool


Predicate = Callable[[Look], bool]


def see(bank: Bank, memory: PhaseMemory) -> Look:
    """Gather what the table asks for."""
    track = memory.track
    ceiling = memory.ceiling or USUAL_CEILING
    equalise = held_from(bank, track)
    reference = expected_current(bank, memory)
    share = track.amps / reference
    at_top = track.volts >= ceiling - T.below_ceiling.value
    return Look(
        memory, track, track.volts, track.amps, reference, ceiling, equalise, share, at_top, ceiling < equalise,
        past_equalise(bank, memory), bank.capacity, left_floor(memory),
    )  # fmt: skip


def signature(bank: Bank, memory: PhaseMemory) -> str:
    """Name the phase that the bank looks like now; the start of the hold is judged elsewhere.

    Parameters
    ----------
    bank : Bank
        As arranged.
    memory : PhaseMemory
        With this minute in its track, charger learned, `woken` judged.

    Returns
    -------
    str
        A phase, often the present one.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 6, 200.0),),))
    >>> track = Track(volts=2.15, amps=25.0, on_seconds=3600.0)
    >>> signature(bank, PhaseMemory(phase="waking", ceiling=2.4, set_current=25.0, track=track))
    'bulk'
    """
    look = see(bank, memory)
    for phases, holds, wanted in TABLE:
        if memory.phase in phases and holds(look):
            return wanted or memory.phase
    return memory.phase


def _fell_out(look: Look) -> bool:
    """Tell whether it is far below the equalising voltage and takes most of what the charger gives, or all of it."""
    limited = look.amps >= T.limited.value * look.memory.set_current > 0.0
    far = look.volts < look.equalise - T.below_ceiling.value and look.share >= FELL_OUT
    return far or (look.volts < look.equalise and limited)


def _turned_down(look: Look) -> bool:
    """Tell whether it stands at a lower ceiling, and still takes a current: the charger was turned down."""
    below = look.volts < look.equalise - T.below_ceiling.value and look.track.below_seconds == 0.0
    return below and look.volts > look.equalise - T.folded.value


def _blocked(look: Look) -> bool:
    """Tell whether it has not woken, stands at the ceiling, and is far from what the charger gives."""
    return not look.memory.woken and look.at_top and look.share < T.strong.value


def _lost(look: Look) -> bool:
    """Tell whether it is back at its blocked current; not what would be called reviving again at once."""
    stuck = look.share < LOST_SLOWLY and look.memory.stuck_seconds >= LOST_AFTER
    return look.share < LOST or (stuck and not look.left_floor and not _climbing(look))


def _full_current(look: Look) -> bool:
    """Tell whether the charger is the limit."""
    memory = look.memory
    full = memory.set_current > 0.0 and look.amps >= T.limited.value * memory.set_current
    rising = memory.woken and not look.at_top and look.share >= T.strong.value
    return full or (rising and _rising_volts(look.track))


def _still_sags(look: Look) -> bool:
    was_blocked = look.memory.phase == "reviving" or look.track.blocked_seconds >= WAS_BLOCKED
    return _full_current(look) and was_blocked and _sagging(look.track)


def _free_of_top(look: Look) -> bool:
    """Tell whether it has woken, is well below the ceiling, and neither volts nor amps still change their course."""
    free = look.memory.woken and look.volts < look.ceiling - WELL_BELOW
    return free and not _sagging(look.track) and not _growing(look.track)


def _past_peak(look: Look) -> bool:
    return look.memory.woken and look.at_top and look.amps < T.fallen.value * look.track.peak


def _never_blocked(look: Look) -> bool:
    """Tell whether it was below any ceiling from the first minutes on, and its voltage does not stand."""
    track = look.track
    below = track.blocked_seconds < NEVER_BLOCKED and look.volts < look.ceiling - NOT_AT_IT * T.below_ceiling.value
    return below and look.volts > EMPTY and look.amps >= TAKES * look.capacity and not _stands(look)


def _stands(look: Look) -> bool:
    """Tell whether a voltage stands that needs a charger, with little current: perhaps a ceiling seen too low."""
    bins = look.track.bins[-2:]
    high = look.volts >= T.least_ceiling.value and look.share < T.low_current.value
    return high and (len(bins) <= 1 or abs(bins[0].volts - bins[1].volts) <= T.stands.value)


def _tapers_low(look: Look) -> bool:
    """Tell whether it is at a ceiling below the equalising voltage, and the charger is no longer the limit."""
    if _climbs_freely(look):
        return False
    tapering = not look.memory.set_current or look.amps < T.limited.value * look.memory.set_current
    near = look.volts >= look.ceiling - ABSORBS or look.share < TAPERS
    return look.low_top and look.at_top and tapering and near


def _climbs_freely(look: Look) -> bool:
    """Tell whether no ceiling was ever seen or written and the voltage rises: at constant power the current falls."""
    return not look.memory.ceiling and _rising_volts(look.track)


#: Shares of the charger's current [1], seconds, volts per cell that only this table uses; all assumed.
FELL_OUT, LOST, LOST_SLOWLY, LOST_AFTER, TAPERS = 0.6, 0.05, 0.15, 10800.0, 0.93
WAS_BLOCKED, NEVER_BLOCKED = 900.0, 1800.0
WELL_BELOW, BELOW, ABSORBS, EMPTY, TAKES = 0.10, 0.04, 0.012, 0.5, 0.01
#: Times the band of a ceiling below it, from where a bank that was never blocked is free of it [1] (assumed).
NOT_AT_IT = 2.0
#: A current that grows: over so many ten-minute pieces, by this factor [1]; all assumed.
GROWS_OVER, GROWS_BY = 5, 1.02
#: A voltage that sags by so much in twenty minutes, or rises by so much over so many pieces [V per cell]; all assumed.
SAGS, RISES, RISES_OVER = 0.008, 0.002, 4
#: A current that climbs from its blocked level. Below its ceiling by `GIVES_WAY` [V per cell] it takes a share of the
#: charger's current and so many times its floor. At its ceiling it is looked at from the first share on; from the
#: second on it is far from blocked unless it falls below `KEEPS` of twenty minutes ago; in between an hour must show it
#: grow by `CLIMBS`, or it must be `OFF_FLOOR` times its floor [1]; all assumed.
GIVES_WAY, TAKES_SHARE, TAKES_FLOORS = 0.02, 0.05, 1.5
LOOKED_AT, FAR_FROM_BLOCKED, KEEPS, CLIMBS, OFF_FLOOR = 0.1, 0.2, 0.98, 1.1, 1.2


def _growing(track: Track) -> bool:
    """Tell whether the current still climbs although the voltage has given way."""
    return len(track.bins) < GROWS_OVER or (
        track.amps > GROWS_BY * track.bins[-GROWS_OVER].amps and not _rising_volts(track)
    )


def _sagging(track: Track) -> bool:
    """Tell whether the voltage still falls steeply although the charger gives its all: the bank is coming round."""
    return len(track.bins) > 1 and track.volts < track.bins[-2].volts - SAGS


def _climbing(look: Look) -> bool:
    """Tell whether the current has left its blocked level, or the voltage sags from the ceiling because it does."""
    track, amps = look.track, look.amps
    if look.volts < look.ceiling - GIVES_WAY and amps >= max(TAKES_SHARE * look.reference, TAKES_FLOORS * track.floor):
        return True
    if look.left_floor and look.share >= T.comes_round.value and amps >= T.keeps.value * track.peak:
        return True
    if look.share < LOOKED_AT:
        return False
    hour = int(T.hour_pieces.value)
    recent = [piece.amps for piece in track.bins[-hour:]]
    if len(recent) > 1 and look.share >= FAR_FROM_BLOCKED:
        # Far from blocked; unless it falls, as in a bank that was nearly full.
        return amps >= KEEPS * recent[-2]
    if len(recent) == hour and recent[-1] < T.keeps.value * recent[0]:
        return False
    growing = len(recent) == hour and sum(recent[-2:]) > CLIMBS * sum(recent[:2])
    return growing if not track.floor or amps < OFF_FLOOR * track.floor else True


def _rising_volts(track: Track) -> bool:
    bins = track.bins
    return len(bins) >= RISES_OVER and bins[-1].volts > bins[-RISES_OVER].volts + RISES


BLOCKING = ("waking", "reviving")
HELD = ("holding", "finishing")
FREE = ("bulk", "absorbing", "idle")
#: Phases, what is seen, and the phase that it means ("" = the present one). The first line that fits decides.
TABLE: tuple[tuple[tuple[str, ...], Predicate, str], ...] = (
    (HELD, _fell_out, "bulk"),
    (HELD, _turned_down, "absorbing"),
    (HELD, lambda look: look.past_equalise, "bulk"),
    (HELD, lambda _: True, ""),
    (("reviving",), lambda look: _blocked(look) and _lost(look), "waking"),
    (("reviving",), _blocked, ""),
    (("waking", "bulk"), lambda look: _blocked(look) and _climbing(look), "reviving"),
    (("waking", "bulk"), _blocked, "waking"),
    (BLOCKING, _still_sags, "reviving"),
    (BLOCKING, _full_current, "bulk"),
    (BLOCKING, _free_of_top, "bulk"),
    (BLOCKING, lambda look: _past_peak(look) and look.low_top, "absorbing"),
    (("reviving",), lambda _: True, ""),
    (("waking",), _never_blocked, "bulk"),
    (("waking",), _climbing, "reviving"),
    (("waking",), lambda _: True, ""),
    (FREE, _tapers_low, "absorbing"),
    (FREE, lambda look: _climbs_freely(look) and _full_current(look), "bulk"),
    (FREE, lambda look: look.volts < look.ceiling - BELOW, "bulk"),
)
