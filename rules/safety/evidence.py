"""How much must be seen before a hazard counts, and before it counts as gone: so many of so many, never one sample.

Two kinds of evidence come in. A *reading* over a limit is confirmed by a second one in a row, by as many as its table
row says within a minute whatever stands between them, or by a minute in which nothing better came. A *state* of the
bank (current over its limit, a fan that stands) is looked at once a second and counts when it was so for more than the
first number of seconds out of the second; an interruption of one second in thirty neither starts it anew nor ends it.
One good sample clears nothing.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.meters import CONFIRM_WINDOW
from rules.safety.latching import beyond
from rules.safety.state import Finding

#: Readings over the limit within `CONFIRM_WINDOW` that confirm each other although better ones stand between them [1].
#: Two warm ones of a probe are enough, because acid does not jump; a voltmeter that catches a spike now and then needs
#: three. The rate of false trips is reckoned in `tests/rules/safety/test_evidence.py`.
READINGS = {"over-temperature": 2, "gas": 2, "over-voltage": 3}
#: Good readings in a row after which a confirmed hazard is no longer there [1].
CLEARED_BY = 3


class Window(NamedTuple):
    """A state counts once it was so for more than `need` of the last `of` seconds; it is gone after `clear` without."""

    need: int
    of: int
    clear: int = 3


#: What is looked at like a hazard and is only said: volts and amps that contradict each other, and amps over what the
#: strings should take.
MAPPING_SUSPECT, STRING_OVER = "mapping-suspect", "string-over-limit"
ONLY_SAID = frozenset({MAPPING_SUSPECT, STRING_OVER})
#: What must be so for more than two thirds of its window; a state that is not named here counts after the time its
#: finder gives it, and without one at once, because what shows it has its own memory of hours.
STATES = {
    "over-current": Window(30, 60),
    "gas": Window(30, 60),
    "cell-short-suspected": Window(60, 90),
    # No hazard, and no permit waits for it: one wild reading raises nothing, and a steady current tells one story.
    STRING_OVER: Window(20, 30, 30),
}
SHARE, AT_ONCE = 1.5, Window(0, 10)


class Pending(NamedTuple):
    """A hazard seen and waiting for more, or confirmed and still there.

    Attributes
    ----------
    since : float
        First sample that showed it [s since the epoch].
    window : float
        So long without a better sample confirms it [s].
    confirmed : bool
        Whether it counts.
    finding : Finding
        What was seen last.
    hits : tuple of float
        When readings showed it, within the window [s since the epoch].
    good : int
        Readings in a row since then that did not.
    marks : int
        Of a state: one bit for each second, the newest lowest.
    marked_at : float
        The second of the newest bit [s since the epoch].
    """

    since: float
    window: float
    confirmed: bool
    finding: Finding
    hits: tuple[float, ...] = ()
    good: int = 0
    marks: int = 0
    marked_at: float = 0.0

    @property
    def last(self) -> float:
        """When a reading last showed it [s since the epoch]."""
        return self.hits[-1] if self.hits else self.since


def note(
    pending: dict[str, Pending], key: str, found: tuple[str, Finding, bool] | None, at: float
) -> dict[str, Pending]:
    """Take one reading as evidence for or against a hazard [s since the epoch].

    Parameters
    ----------
    pending : dict of Pending
        So far; keys are ``hazard|meter``.
    key : str
        Which hazard, by which meter.
    found : tuple or None
        Hazard, what the reading shows, and whether it is certain by itself; None where it shows nothing.

    Examples
    --------
    A cool reading between two hot ones does not hold up the trip:

    >>> hot = ("over-temperature", Finding(44.0, 43.3, "degC"), False)
    >>> pending = note({}, "over-temperature|probe", hot, 1000.0)
    >>> pending = note(pending, "over-temperature|probe", None, 1010.0)
    >>> note(pending, "over-temperature|probe", hot, 1020.0)["over-temperature|probe"].confirmed
    True
    """
    before = pending.get(key)
    if found is None:
        if before is None:
            return pending
        good = before.good + 1
        over = good >= CLEARED_BY if before.confirmed else at - before.last > CONFIRM_WINDOW
        if over:
            return {name: entry for name, entry in pending.items() if name != key}
        return {**pending, key: before._replace(good=good)}
    hazard, finding, certain = found
    if before is None:
        return {**pending, key: Pending(at, CONFIRM_WINDOW, certain, finding, (at,))}
    most = READINGS.get(hazard, 2)
    hits = (*[hit for hit in before.hits if 0.0 < at - hit <= CONFIRM_WINDOW], at)[-most:]
    in_a_row = before.good == 0 and at > before.since
    counts = before.confirmed or certain or in_a_row or len(hits) >= most
    return {**pending, key: Pending(before.since, before.window, counts, finding, hits)}


def forget(pending: dict[str, Pending], key: str) -> dict[str, Pending]:
    """Forget at once what a person saw, and has seen better since."""
    return {name: entry for name, entry in pending.items() if name != key} if key in pending else pending


def lasting(pending: dict[str, Pending], found: dict[str, tuple[Finding, float]], at: float) -> dict[str, Pending]:
    """Fold what stands now [s since the epoch] into what is pending; entries with a ``|`` confirm by waiting."""
    result: dict[str, Pending] = {}
    for key, entry in pending.items():
        if "|" in key:
            silent = entry.good == 0 and at - entry.last >= entry.window
            if silent and not entry.confirmed:
                result[key] = entry._replace(confirmed=True)
            elif entry.confirmed or entry.good == 0 or at - entry.last <= CONFIRM_WINDOW:
                result[key] = entry
        elif key not in found:
            left = _without(key, entry, at)
            if left is not None:
                result[key] = left
    for name, (finding, duration) in found.items():
        before = pending.get(name)
        window = _window(name, duration)
        marks = _marks(before, window, at, True)
        counts = window.need == 0 or (before is not None and before.confirmed) or marks.bit_count() > window.need
        result[name] = Pending(at if before is None else before.since, duration, counts, finding, (), 0, marks, at)
    return result


def _window(name: str, duration: float) -> Window:
    named = STATES.get(name)
    if named is not None or duration <= 0.0:
        return named or AT_ONCE
    return Window(round(duration), round(SHARE * duration))


def _without(name: str, entry: Pending, at: float) -> Pending | None:
    """Return what remains of a state that is not so at this second: still pending, or gone."""
    window = _window(name, entry.window)
    marks = _marks(entry, window, at, False)
    lately = marks & ((1 << window.clear) - 1)
    if not (lately if entry.confirmed else marks):
        return None
    return entry._replace(marks=marks, marked_at=at)


def _marks(entry: Pending | None, window: Window, at: float, so: bool) -> int:
    """Return one bit a second; seconds in which nobody looked are as they were before and after."""
    if entry is None:
        return int(so)
    passed = min(window.of, int(at) - int(entry.marked_at))
    if passed <= 0:
        return entry.marks | int(so)
    steady = so and entry.marks & 1
    new = (1 << passed) - 1 if steady else int(so)
    return (entry.marks << passed | new) & ((1 << window.of) - 1)


def confirmed(pending: dict[str, Pending]) -> dict[str, Finding]:
    """Return hazards that count now, by name; of several that show the same one, what is farthest beyond its limit.

    Examples
    --------
    >>> warm, hot = (Pending(0.0, 0.0, True, Finding(shown, 43.3)) for shown in (44.0, 58.0))
    >>> confirmed({"over-temperature|A": hot, "over-temperature|B": warm})["over-temperature"].value
    58.0
    """
    found: dict[str, Finding] = {}
    for key, entry in pending.items():
        name, shown = key.split("|", 1)[0], entry.finding
        worst = found.get(name)
        if entry.confirmed and (worst is None or beyond(shown.value, shown.limit) > beyond(worst.value, worst.limit)):
            found[name] = shown
    return found


def still_missing(pending: dict[str, Pending], name: str) -> str:
    """Say which readings are missing until a confirmed hazard is no longer there; empty where no reading shows it.

    Examples
    --------
    >>> hot = Pending(0.0, 0.0, True, Finding(45.0, 43.3, "degC"), good=2)
    >>> still_missing({"over-temperature|A": hot}, "over-temperature")
    '1 more reading in a row within the limit of 43.3 degC is missing (45.0 degC was the last over it)'
    """
    shown = [(key, entry) for key, entry in pending.items() if key.startswith(f"{name}|") and entry.confirmed]
    told = [(key, entry) for key, entry in shown if entry.finding.value is not None and entry.finding.limit is not None]
    if not told:
        return ""
    key, entry = min(told, key=lambda each: each[1].good)
    finding, digits = entry.finding, 1 if entry.finding.unit == "degC" else 3
    if finding.unit not in ("degC", "V", "A"):
        limit, last = "its limit", ""
    else:
        limit = f"the limit of {finding.limit:.{digits}f} {finding.unit}"
        last = f" ({finding.value:.{digits}f} {finding.unit} was the last over it)"
    if "|by hand" in key:
        return f"a reading by hand within {limit} is missing{last}"
    left = max(1, CLEARED_BY - entry.good)
    more = "1 more reading" if left == 1 else f"{left} more readings"
    return f"{more} in a row within {limit} {'is' if left == 1 else 'are'} missing{last}"
