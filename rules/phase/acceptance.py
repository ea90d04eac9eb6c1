"""What of a current the bank still takes as charge, by what it has shown: a fall at a standing voltage."""

from __future__ import annotations

from rules.phase.memory import PhaseMemory

#: Ten-minute pieces over which the fall is taken: one hour, so that a current that goes on falling as slowly as this
#: trade's do (time constants of 3 to 60 h) is credited with less than what it still has to fall.
PIECES = 7
#: A voltage that stands, over that hour [V per cell].
STANDS = 0.03


def still_accepted(memory: PhaseMemory) -> float:
    """Return the current that goes into charge and not into gas [A]: what has fallen away at this voltage in an hour.

    At the equalising voltage (finishing, holding) nothing is credited, and nothing where no fall was measured.

    Examples
    --------
    >>> from rules.phase.memory import Bin, Track
    >>> bins = tuple(Bin(600.0 * n, 2.45, 20.0 - n) for n in range(8))
    >>> still_accepted(PhaseMemory("absorbing", track=Track(bins=bins, on_seconds=4800.0)))
    6.0
    >>> still_accepted(PhaseMemory("holding", track=Track(bins=bins, on_seconds=4800.0)))
    0.0
    """
    pieces = memory.track.bins[-PIECES:]
    if memory.phase in ("finishing", "holding") or len(pieces) < PIECES:
        return 0.0
    volts = [piece.volts for piece in pieces]
    # An hour in which the charger stood still in between shows no fall.
    if memory.track.on_seconds < pieces[-1].at - pieces[0].at or max(volts) - min(volts) > STANDS:
        return 0.0
    return max(0.0, pieces[0].amps - pieces[-1].amps)
