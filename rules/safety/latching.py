"""What a latch tells when the same hazard is seen again: the worst of it, and each other danger that joined it."""

from __future__ import annotations

import re
from collections.abc import Mapping

from rules.hand import FIRE, HURT, ILL, PUSHED_OUT, SMOKE, SPRAYS, connections
from rules.safety.state import Finding, Latch

#: So much farther beyond its limit a hazard is worse than what its latch tells, and no mere flicker [1] (common
#: practice, no source).
WORSE = 0.01
#: Before what was seen earlier of the same hazard.
BEFORE = "; before: "
#: How a note of a danger begins.
SOMEBODY_NOTED = "somebody noted: "
#: Hazards that a person smelled, saw, heard or felt: nobody goes in for an hour, or before the fire service says so.
FIRE_NOTED = "fire-noted"
NOTED_BY_A_PERSON = (FIRE_NOTED, "danger-noted")
#: What may burst, burn or poison soonest stands first (common practice, no source).
GRAVEST_FIRST = (
    FIRE, HURT, SMOKE, "bang", SPRAYS, "smell of rotten eggs", "spark", ILL, "hissing",
    PUSHED_OUT, connections.SPARKING, "hot block", connections.HOT, connections.HOT_CHARGER,
)  # fmt: skip
#: So many dangers are told in one line; of more only the gravest.
SAID_AT_ONCE = 2
#: Behind what was noted, once all of it was taken back; older versions named the last entry.
TAKEN_BACK = "; what was noted was taken back since"
_TAKEN_BACK = re.compile("; (?:what was noted|the entry of [^;]*) was taken back since")
#: What is outside the blocks, and how a danger at it is noted.
_OUTSIDE_THE_BLOCKS = {
    "connection": tuple([f"{what} at " for what in (connections.HOT, connections.SPARKING)]),
    "charger": (f"{connections.HOT_CHARGER} at ",),
    "vents": (f"{PUSHED_OUT} at ", f"{SPRAYS} at "),
}


def burning(latched: Mapping[str, Latch]) -> str:
    """Return whether ``fire`` or ``smoke`` was noted and is not reset yet; else empty.

    Examples
    --------
    >>> burning({"danger-noted": Latch(1795590000.0, reason="somebody noted: smoke at A2")}), burning({})
    ('smoke', '')
    """
    if FIRE_NOTED in latched:
        return "fire"
    return "smoke" if "danger-noted" in latched and f"{SMOKE} at " in latched["danger-noted"].reason else ""


def hurt(latched: Mapping[str, Latch]) -> bool:
    """Tell whether it was noted that somebody is hurt or feels ill, and not reset yet.

    Examples
    --------
    >>> hurt({"danger-noted": Latch(1795590000.0, reason="somebody noted: somebody who is hurt at A2")}), hurt({})
    (True, False)
    """
    return "danger-noted" in latched and any(f"{who} at " in latched["danger-noted"].reason for who in (HURT, ILL))


def outside_the_blocks(latched: Mapping[str, Latch]) -> str:
    """Return connection, charger or vents where all that was noted as a danger, and is not reset, is of it; or none.

    Examples
    --------
    >>> hot = Latch(1795590000.0, reason="somebody noted: hot connection at A2")
    >>> outside_the_blocks({"danger-noted": hot}), outside_the_blocks({})
    ('connection', '')
    >>> outside_the_blocks({"danger-noted": hot._replace(reason="somebody noted: smoke at A2, hot connection at A2")})
    ''
    """
    if "danger-noted" not in latched or not (each := noted_each(latched["danger-noted"].reason)):
        return ""
    found = (part for part, begins in _OUTSIDE_THE_BLOCKS.items() if all(one.startswith(begins) for one in each))
    return next(found, "")


def taken_back(latched: Mapping[str, Latch]) -> bool:
    """Tell whether everything that was noted as a danger and is not reset yet was taken back.

    Examples
    --------
    >>> reason = "somebody noted: smoke at A2" + TAKEN_BACK
    >>> taken_back({"danger-noted": Latch(1795590000.0, reason=reason)}), taken_back({})
    (True, False)
    """
    return "danger-noted" in latched and _TAKEN_BACK.search(latched["danger-noted"].reason) is not None


def noted_each(reason: str) -> tuple[str, ...]:
    """Return each danger that a latch tells was noted, the gravest first, each once.

    Examples
    --------
    >>> noted_each("somebody noted: hissing at A2, hot block at A2; before: smoke at A3; before: hissing at A2")
    ('smoke at A3', 'hissing at A2', 'hot block at A2')
    """
    if not reason.startswith(SOMEBODY_NOTED):
        return ()
    told = _TAKEN_BACK.sub("", reason.removeprefix(SOMEBODY_NOTED))
    each = dict.fromkeys(one for some in told.split(BEFORE) for one in some.split(", "))
    return tuple(sorted(each, key=_gravity))


def headline(reason: str) -> str:
    """Return what a latch tells in one short line: of many dangers the gravest, and how many more there are.

    Examples
    --------
    >>> headline("somebody noted: hissing at A2, hot block at A2; before: smoke at A3")
    'somebody noted: smoke at A3, and 2 more dangers'
    >>> headline("somebody noted: smoke at A2; before: rotten eggs at A1")
    'somebody noted: smoke at A2; before: rotten eggs at A1'
    """
    each = noted_each(reason)
    if len(each) <= SAID_AT_ONCE:
        return reason
    back = "".join(found[0] for found in _TAKEN_BACK.finditer(reason))
    return f"{SOMEBODY_NOTED}{each[0]}, and {len(each) - 1} more dangers{back}"


def _gravity(noted: str) -> int:
    return next((n for n, what in enumerate(GRAVEST_FIRST) if noted.startswith(f"{what} at ")), len(GRAVEST_FIRST))


def beyond(value: float | None, limit: float | None) -> float:
    """Return how far a value lies beyond its limit, as a share of it [1]; nought where either is not known.

    Examples
    --------
    >>> round(beyond(44.0, 40.0), 3), beyond(44.0, None)
    (0.1, 0.0)
    """
    return 0.0 if value is None or not limit else abs(value - limit) / abs(limit)


def joined(latch: Latch, finding: Finding, at: float) -> Latch:
    """Return a latch that stands, with what is seen of the same hazard now [s since the epoch]; itself if nothing new.

    Examples
    --------
    Who looks at the bank reads of the smoke too, and that it became hotter:

    >>> eggs = Latch(1795590000.0, reason="somebody noted: rotten eggs at A1")
    >>> joined(eggs, Finding(reason="somebody noted: smoke at A2"), 1795590300.0).reason
    'somebody noted: smoke at A2; before: rotten eggs at A1'
    >>> hot = Latch(1795590000.0, 44.0, 43.3, "degC", "44.0 degC")
    >>> [joined(hot, Finding(now, 43.3, "degC", f"{now} degC"), 1795590300.0).reason for now in (58.0, 44.1, 43.4)]
    ['58.0 degC', '44.0 degC', '44.0 degC']
    """
    if finding.value is None:
        if finding.reason.startswith(SOMEBODY_NOTED):  # noted once more: not all of it is taken back now
            latch = latch._replace(reason=_TAKEN_BACK.sub("", latch.reason))
        if finding.reason and finding.reason.removeprefix(SOMEBODY_NOTED) not in latch.reason:
            latch = latch._replace(reason=_in_front(finding.reason, latch.reason))
        return latch._replace(again_at=at) if finding.reason.startswith(SOMEBODY_NOTED) else latch
    if latch.value is None:
        return Latch(latch.at, *finding._replace(reason=_in_front(finding.reason, latch.reason)))
    worse = beyond(finding.value, finding.limit) >= beyond(latch.value, latch.limit) + WORSE
    if latch.unit != finding.unit or not worse:
        return latch
    _, before, earlier = latch.reason.partition(BEFORE)
    return Latch(latch.at, *finding._replace(reason=f"{finding.reason}{before}{earlier}"))


def _in_front(new: str, old: str) -> str:
    """Put what is seen now in front of what was seen before."""
    return f"{new}{BEFORE}{old.removeprefix(SOMEBODY_NOTED)}" if old else new
