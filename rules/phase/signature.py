"""Which phase volts, amps, trend and history look like."""

from __future__ import annotations

from rules.bank import Bank
from rules.phase.charger import expected_current
from rules.phase.memory import PhaseMemory, Track


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
    track, phase = memory.track, memory.phase
    volts, amps = track.volts, track.amps
    reference = expected_current(bank, memory)
    ceiling = memory.ceiling or 2.36
    equalise = bank.equalise_at(track.temperature) - 0.03
    if phase in ("holding", "finishing"):
        below = volts < equalise - 0.03
        if below and amps >= 0.6 * reference:
            return "bulk"
        return "absorbing" if below and track.below_seconds == 0.0 else phase
    at_top = volts >= ceiling - 0.03
    if not memory.woken and at_top and ceiling < equalise and _filling(track, reference, bank.capacity):
        return "absorbing"
    if not memory.woken and at_top and amps < 0.8 * reference and phase != "absorbing":
        # Blocked, or on its way; a judgement of 'bulk' made in the first minutes is taken back.
        if phase == "reviving":
            lost = amps < 0.05 * reference or (amps < 0.15 * reference and memory.stuck_seconds >= 10800.0)
            return "waking" if lost else "reviving"
        return "reviving" if _climbing(track, reference, ceiling) else "waking"
    if phase in ("waking", "reviving"):
        full = memory.set_current > 0.0 and amps >= 0.95 * memory.set_current
        if full or (memory.woken and _rising_volts(track) and not at_top and amps >= 0.8 * reference):
            blocked = phase == "reviving" or track.blocked_seconds >= 900.0
            return "reviving" if blocked and _sagging(track) else "bulk"
        if memory.woken and volts < ceiling - 0.1 and not _sagging(track) and not _growing(track):
            return "bulk"
        if memory.woken and at_top and amps < 0.9 * track.peak:
            return "absorbing" if ceiling < equalise else phase
        if phase == "reviving":
            return "reviving"
        if track.blocked_seconds < 1800.0 and 0.5 < volts < ceiling - 0.06 and amps >= 0.01 * bank.capacity:
            return "bulk"
        return "reviving" if _climbing(track, reference, ceiling) else "waking"
    tapering = not memory.set_current or amps < 0.95 * memory.set_current
    if ceiling < equalise and at_top and tapering and (volts >= ceiling - 0.012 or amps < 0.93 * reference):
        return "absorbing"
    return "bulk" if volts < ceiling - 0.04 else phase


def may_be_full(track: Track, capacity: float) -> bool:
    """Whether a current that tapers can mean a bank that was nearly full, rather than a dead one's first fill and gas.

    A bank that rested below 2.05 V per cell was under half charged (acid of 1.19). Such a one is filling only if it
    once took a tenth of its rating.

    Parameters
    ----------
    track : Track
        Slow memory.
    capacity : float
        Rating [Ah].

    Returns
    -------
    bool
        It can.

    Examples
    --------
    >>> may_be_full(Track(rested=1.90, highest=12.0), 200.0), may_be_full(Track(rested=2.11, highest=12.0), 200.0)
    (False, True)
    """
    return not 0.0 < track.rested < 2.05 or track.highest >= 0.1 * capacity


def _filling(track: Track, reference: float, capacity: float) -> bool:
    """It took a good current once and tapers: it was nearly full, and never blocked."""
    recent = [piece.amps for piece in track.bins[-4:]]
    falling = len(recent) == 4 and recent[-1] < 0.97 * recent[0] and may_be_full(track, capacity)
    return falling and track.highest >= max(0.2 * reference, 0.035 * capacity) and track.amps < 0.75 * track.highest


def _growing(track: Track) -> bool:
    """The current still climbs although the voltage has given way."""
    return len(track.bins) < 5 or (track.amps > 1.02 * track.bins[-5].amps and not _rising_volts(track))


def _sagging(track: Track) -> bool:
    """The voltage still falls steeply although the charger gives its all: the bank is still coming round."""
    return len(track.bins) >= 2 and track.volts < track.bins[-2].volts - 0.008


def _climbing(track: Track, reference: float, ceiling: float) -> bool:
    """The current has left its blocked level, or the voltage sags away from the ceiling because it does."""
    amps = track.amps
    if track.volts < ceiling - 0.02 and amps >= max(0.05 * reference, 1.5 * track.floor):
        return True
    if amps < 0.1 * reference:
        return False
    recent = [piece.amps for piece in track.bins[-7:]]
    if len(recent) >= 2 and amps >= 0.2 * reference:
        # Far from blocked; unless it falls, as in a bank that was nearly full.
        return amps >= 0.98 * recent[-2]
    if len(recent) == 7 and recent[-1] < 0.97 * recent[0]:
        return False
    growing = len(recent) == 7 and sum(recent[-2:]) > 1.1 * sum(recent[:2])
    return growing if not track.floor or amps < 1.2 * track.floor else True


def _rising_volts(track: Track) -> bool:
    bins = track.bins
    return len(bins) >= 4 and bins[-1].volts > bins[-4].volts + 0.002
