"""When the charger runs: learned by the time of day, and the hours that each new start costs."""

from __future__ import annotations

import math
from typing import NamedTuple

#: Half hours in a day, and their length [s].
SLOTS, SLOT = 48, 1800.0
#: An off time this long makes a new climb back to the ceiling necessary [s].
LONG_OFF = 2700.0


class Pattern(NamedTuple):
    """On and off, learned.

    Attributes
    ----------
    on, known : tuple of float
        Per half hour of the day: recent share of time charging [1], and how much of it was seen [1].
    on_seconds, off_seconds : float
        Present run of charging or of not charging [s].
    stops : int
        Long interruptions so far.
    lost : float
        Charging time per start that did not count for the hold, learned [h].
    outside : float
        Charging time of the present run away from the equalising voltage [h].
    """

    on: tuple[float, ...] = (0.0,) * SLOTS
    known: tuple[float, ...] = (0.0,) * SLOTS
    on_seconds: float = 0.0
    off_seconds: float = 0.0
    stops: int = 0
    lost: float = 0.35
    outside: float = 0.0


def learn(pattern: Pattern, at: float, seconds: float, charging: bool, outside: bool) -> Pattern:
    """Add a stretch of time.

    Parameters
    ----------
    pattern : Pattern
        So far.
    at : float
        End of the stretch [s].
    seconds : float
        Its length [s].
    charging : bool
        Whether current flowed in.
    outside : bool
        Whether the hold has begun and the bank was not at the equalising voltage.

    Returns
    -------
    Pattern
        With the stretch in it.

    Examples
    --------
    >>> learn(Pattern(), 1800.0, 60.0, True, False).on_seconds
    60.0
    """
    slot = int(at // SLOT) % SLOTS
    share = min(1.0, seconds / SLOT)
    known = pattern.known[slot]
    # A first sight counts fully, later ones fade the older days out.
    weight = share / min(1.6, known + share)
    on = (*pattern.on[:slot], pattern.on[slot] + weight * (charging - pattern.on[slot]), *pattern.on[slot + 1 :])
    seen = (*pattern.known[:slot], min(1.6, known + share), *pattern.known[slot + 1 :])
    stops, lost, away = pattern.stops, pattern.lost, pattern.outside
    if charging:
        run, off = pattern.on_seconds + seconds, 0.0
        away += seconds / 3600.0 if outside else 0.0
    else:
        run, off = 0.0, pattern.off_seconds + seconds
        if pattern.off_seconds < LONG_OFF <= off:
            stops += 1
            lost = lost + 0.6 * (away - lost) if away else lost
            away = 0.0
    return Pattern(
        on, seen, run if charging else (pattern.on_seconds if off < LONG_OFF else 0.0), off, stops, lost, away
    )


def clock(pattern: Pattern, at: float, before: float, hold: float, lost: float) -> tuple[float, float]:
    """Walk through the coming days until the work is done.

    Parameters
    ----------
    pattern : Pattern
        Learned.
    at : float
        Now [s].
    before, hold : float
        Charging still needed before the hold and in it, if nothing interrupted it [h].
    lost : float
        Charging that each start during the hold costs [h].

    Returns
    -------
    tuple of float
        Charging hours with those of the starts [h], clock hours [h].

    Examples
    --------
    >>> clock(Pattern(), 0.0, 2.0, 5.0, 0.5)
    (7.0, 7.0)
    """
    needed = before + hold
    if not pattern.stops:
        return needed, needed
    duty = [on if known > 0.1 else 1.0 for on, known in zip(pattern.on, pattern.known, strict=True)]
    if sum(duty) < 0.5:
        return needed, math.inf
    done, passed = 0.0, 0.0
    off = pattern.off_seconds / 3600.0
    length = (SLOT - at % SLOT) / 3600.0
    slot = int(at // SLOT) % SLOTS
    while done < needed and passed < 960.0:
        share = duty[slot]
        if share > 0.5 and off * 3600.0 >= LONG_OFF:
            needed += lost if done >= before else 0.0
        off = off + length if share < 0.5 else 0.0
        gain = share * length
        if done + gain >= needed:
            return needed, passed + length * (needed - done) / gain
        done, passed = done + gain, passed + length
        slot, length = (slot + 1) % SLOTS, SLOT / 3600.0
    return needed, math.inf
