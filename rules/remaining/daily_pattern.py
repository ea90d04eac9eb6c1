"""When the charger runs: learned by the time of day, with what each start and each end of a run costs."""

from __future__ import annotations

import math
from typing import NamedTuple

#: Half hours in a day, and their length [s].
SLOTS, SLOT = 48, 1800.0
#: An off time this long makes a new climb back to the ceiling necessary [s].
LONG_OFF = 2700.0
#: Share of a half hour known from which its own pattern is taken, share of a day with sun below which no end is seen,
#: and share of a half hour from which the charger counts as running in it [1] (assumed).
KNOWN, SUNLESS, RUNS = 0.1, 0.5, 0.5
#: Farther ahead nobody looks [h].
HORIZON = 960.0


class Pattern(NamedTuple):
    """On and off, learned.

    Attributes
    ----------
    on, known : tuple of float
        Per half hour of the day: recent share of time charging [1], and how much of it was seen [1].
    off_seconds : float
        Present run of not charging [s].
    stops : int
        Long interruptions so far.
    climb, fade : float
        Charging time of a run before it is first, and after it was last, of use to a hold [h].
    seen : int
        Runs from which these two were learned.
    useless : float
        Charging time of the present run since it was last of use [h].
    of_use : bool
        Whether the present run has been of use.
    """

    on: tuple[float, ...] = (0.0,) * SLOTS
    known: tuple[float, ...] = (0.0,) * SLOTS
    off_seconds: float = 0.0
    stops: int = 0
    climb: float = 0.25
    fade: float = 0.0
    seen: int = 0
    useless: float = 0.0
    of_use: bool = False


def learn(pattern: Pattern, at: float, seconds: float, charging: bool, of_use: bool | None) -> Pattern:
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
    of_use : bool or None
        Whether it reached the voltage at which a hold counts; ``None`` where the phase cannot tell.

    Returns
    -------
    Pattern
        With the stretch in it.

    Examples
    --------
    >>> learn(Pattern(), 1800.0, 900.0, False, None).off_seconds
    900.0
    """
    slot = int(at // SLOT) % SLOTS
    share = min(1.0, seconds / SLOT)
    known = pattern.known[slot]
    # A first sight counts fully, later ones fade the older days out.
    weight = share / min(1.6, known + share)
    on = (*pattern.on[:slot], pattern.on[slot] + weight * (charging - pattern.on[slot]), *pattern.on[slot + 1 :])
    known_now = (*pattern.known[:slot], min(1.6, known + share), *pattern.known[slot + 1 :])
    pattern = pattern._replace(on=on, known=known_now)
    if not charging:
        off = pattern.off_seconds + seconds
        if not pattern.off_seconds < LONG_OFF <= off:
            return pattern._replace(off_seconds=off)
        fade = pattern.fade
        if pattern.of_use:
            fade += (0.6 if fade else 1.0) * (pattern.useless - fade)
        return pattern._replace(off_seconds=off, stops=pattern.stops + 1, fade=fade, useless=0.0, of_use=False)
    if of_use:
        climb, seen = pattern.climb, pattern.seen
        if not pattern.of_use and pattern.stops:
            climb, seen = climb + (0.6 if seen else 0.9) * (pattern.useless - climb), seen + 1
        return pattern._replace(off_seconds=0.0, climb=climb, seen=seen, useless=0.0, of_use=True)
    useless = 0.0 if of_use is None else pattern.useless + seconds / 3600.0
    return pattern._replace(off_seconds=0.0, useless=useless)


def runs(pattern: Pattern) -> float:
    """Return the share of the day in which the charger runs, as far as it is known [1]; 1 where it has never stopped.

    Examples
    --------
    >>> runs(Pattern())
    1.0
    """
    if not pattern.stops:
        return 1.0
    seen = [on for on, known in zip(pattern.on, pattern.known, strict=True) if known > KNOWN]
    return sum(seen) / len(seen) if seen else 1.0


def clock(pattern: Pattern, at: float, before: float, hold: float, doubt: float) -> tuple[float, float]:
    """Walk through the coming days until the work is done.

    Parameters
    ----------
    pattern : Pattern
        Learned.
    at : float
        Now [s].
    before, hold : float
        Charging still needed before the hold and in it, if nothing interrupted it [h].
    doubt : float
        Factor on what starts and ends of runs cost [1].

    Returns
    -------
    tuple of float
        Charging hours with those of the starts and ends [h], clock hours [h].

    Examples
    --------
    >>> clock(Pattern(), 0.0, 2.0, 5.0, 1.0)
    (7.0, 7.0)
    """
    needed = before + hold
    if not pattern.stops:
        return needed, needed
    duty = [on if known > KNOWN else 1.0 for on, known in zip(pattern.on, pattern.known, strict=True)]
    if sum(duty) < SUNLESS:
        return needed, math.inf
    climb, fade = doubt * pattern.climb, doubt * pattern.fade
    done, passed = 0.0, 0.0
    off = pattern.off_seconds / 3600.0
    length = (SLOT - at % SLOT) / 3600.0
    slot = int(at // SLOT) % SLOTS
    running = pattern.off_seconds == 0.0
    while passed < HORIZON:
        share = duty[slot]
        if share > RUNS:
            if not running and off * 3600.0 >= LONG_OFF and done >= before:
                needed += climb
            running, off = True, 0.0
        elif share < RUNS:
            if running and before <= done < needed:
                # The end of the run did not count after all.
                needed += min(fade, done - before)
            running, off = False, off + length
        gain = share * length
        if gain and done + gain >= needed:
            return needed, passed + length * (needed - done) / gain
        done, passed = done + gain, passed + length
        slot, length = (slot + 1) % SLOTS, SLOT / 3600.0
    return needed, math.inf
