"""How a bank stands, in the words that page, report and terminal share."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from bridge.words.spoken import spoken
from rules.advice import NOT_SAFE
from rules.events import Derived, Event, Flag
from rules.hand import KINDS
from rules.laws import GAS_AFTER_CHARGE

#: Permits that are withheld in the normal course of a round: before it, and after its hold.
NORMAL = frozenset(("not-started", "hold-complete"))
#: Hubs keep no longer state than this [characters]; some room for what a conversion adds.
TEXT_OF_A_HUB = 240

#: Flags that only say that paper work is open; they make nothing unsafe.
PAPERWORK = frozenset(("checklist-open", "proof-test-missing"))
#: A moment that lies a whole hour of air ahead, but for so much, belongs to a bank that charges [s].
STILL_CHARGES = 60.0
#: A line tells so many values of one entry; a sheet has 24 and more.
SAID = 4
#: Flags that say warm, which is neither yes nor no.
WARM = frozenset(("temperature-high", "temperature-rising-fast"))


class Standing(NamedTuple):
    """Level (a key of `bridge.words.palette.LEVELS`) and the answer to "is it safe?" in one line."""

    level: str
    words: str


def standing(derived: Derived | None) -> Standing:
    """Return the worst thing known of a bank and what is known of its charger; the flags decide."""
    if derived is None or (derived.voltage is None and derived.temperature is None and not derived.tripped):
        return _standing("unknown", "Not known: no meter has spoken, or none that can be believed.", derived)
    kinds = {flag.kind for flag in derived.flags if flag.name not in NORMAL}
    if derived.tripped:
        return _standing("hazard", "Danger was seen; the trip stays until a person resets.", derived)
    if "hazard" in kinds:
        return _standing("hazard", "Danger: act now.", derived)
    if "permit" in kinds:
        return _standing("permit", "Not safe to charge at the moment.", derived)
    if unsafe(derived.flags):
        return _standing("permit", "Not safe at the moment.", derived)
    if kinds:
        return _standing("chore", "No danger seen; something waits to be done.", derived)
    return _standing("safe", "No danger seen.", derived)


def _standing(level: str, words: str, derived: Derived | None) -> Standing:
    return Standing(level, words if derived is None else f"{words} {derived.charger}".rstrip())


def gas_goes_on(at: float, approach_at: float | None) -> bool:
    """Tell whether it still charges, so that the moment from which the posts are safe moves on with the clock [s]."""
    return approach_at is not None and approach_at - at > 3600.0 * GAS_AFTER_CHARGE - STILL_CHARGES


def unsafe(flags: Iterable[Flag]) -> list[Flag]:
    """Return the flags for which a bank is not safe, worst first: its dangers, else why nobody may call it safe."""
    flags = list(flags)
    dangers = [flag for flag in flags if flag.kind == "hazard"]
    return dangers or [
        flag
        for flag in flags
        if flag.name in NOT_SAFE or (flag.kind in ("permit", "start") and flag.name not in NORMAL | PAPERWORK)
    ]


def causes(flags: Iterable[Flag]) -> list[str]:
    """Say what is wrong, worst first: name, what was seen and where, and the limit; else what a start waits for."""
    flags = list(flags)
    return [cause(flag) for flag in unsafe(flags) or [flag for flag in flags if flag.name in PAPERWORK]]


def cause(flag: Flag) -> str:
    """Say of one flag its name, what was seen and where, and the limit."""
    seen = flag.reason
    if not any(digit.isdigit() for digit in seen) and flag.value is not None:
        seen = ", ".join(part for part in (seen, _measured(flag.value, flag.unit)) if part)
    limit = "" if flag.limit is None else f", limit {_measured(flag.limit, flag.unit)}"
    return f"{flag.name}: {seen or 'seen'}{limit}"


def _measured(value: float, unit: str) -> str:
    return f"{value:.1f} degC" if unit == "degC" else f"{value:.4g} {'' if unit == '1' else unit}".rstrip()


def told_to(derived: Derived, scale: str) -> Derived:
    """Write the same state with each sentence in the owner's scale ("degC" or "degF") and by the clock of the place."""
    flags = tuple(
        [flag._replace(reason=spoken(flag.reason, scale), action=spoken(flag.action, scale)) for flag in derived.flags]
    )
    return derived._replace(
        next_step=spoken(derived.next_step, scale),
        then=tuple([spoken(line, scale) for line in derived.then]),
        charger=spoken(derived.charger, scale),
        trip_reason=spoken("; ".join(causes(derived.flags))[:TEXT_OF_A_HUB], scale) if derived.tripped else "",
        flags=flags,
    )


def safe_answer(derived: Derived | None) -> str:
    """Return the one word for "is it safe?": yes, warm, no or unknown; what only waits to be done is left apart."""
    level, _ = standing(derived)
    if derived is None or level == "unknown":
        return "unknown"
    if level == "hazard" or unsafe(derived.flags):
        return "no"
    return "yes" if WARM.isdisjoint(flag.name for flag in derived.flags) else "warm"


def hand_value(kind: str, where: str, value: float | str) -> str:
    """Write what was measured by hand as it was understood, with its unit.

    Examples
    --------
    >>> hand_value("gravity", "N1.1", 1.26), hand_value("charger", "volts", 28.8), hand_value("level", "N1", "low")
    ('1.260', '28.8 V', 'low')
    """
    if isinstance(value, str):
        return value
    if kind == "gravity":
        return f"{value:.3f}"
    unit = {"volts": "V", "amps": "A"}.get(where) if kind == "charger" else KINDS[kind]
    return f"{value:.4g} {unit}".rstrip()


def event_words(event: Event) -> str | None:
    """Return an event as a line for people; nothing for those that only fill the record."""
    told = event.detail
    if event.kind == "command":
        if told.get("name") in ("boot", "journal-lost"):
            return "bridge started" if told.get("name") == "boot" else "the journal was lost"
        by = f" by {told['by']}" if told.get("by") else ""
        return f"{told.get('name')}{by}{_of_command(told)}"
    if event.kind == "hand":
        kind = str(told.get("kind"))
        if told.get("undo"):
            return f"took back the last {kind}"
        given = told.get("values")
        values = given if isinstance(given, Mapping) else {}
        said = [f"{where} {hand_value(kind, where, value)}".strip() for where, value in list(values.items())[:SAID]]
        said += [f"{len(values) - SAID} more"] if len(values) > SAID else []
        said += [str(told["note"])] if told.get("note") else []
        return f"{kind} by hand" + (f": {', '.join(said)}" if said else "")
    wording = {
        "trip": "tripped by {hazard}: {reason}",
        "refused": "refused {name}: {why}",
        "permit-given": "charging allowed",
        "permit-withdrawn": "charging no longer allowed: {reason}",
        "permit-exhausted": "the permit was withdrawn too often today; a person must act",
        "cut-confirmed": "relay seen open after {seconds} s, by {by}",
        "closed-without-permit": "the relay closed without a permit",
        "automatic-resume": "resumed by itself after cooling",
        "proof": "proof test: {note}",
        "limit-changed": "limit {limit} changed from {before} to {after}",
        "session-lost": "broker session {session}: {why}; what was sent meanwhile is missing",
        "order": "relay told to {action}: {reason}",
    }.get(event.kind)
    if wording is not None:
        return wording.format_map(_Missing(told))
    if event.kind == "phase":
        stopped = ", charging stands still" if told.get("interrupted") else ""
        return f"{told.get('phase')}{stopped}"
    if event.kind in ("flag-raised", "flag-cleared"):
        why = f": {told['reason']}" if told.get("reason") else ""
        return f"{told.get('flag')} {'raised' if event.kind == 'flag-raised' else 'cleared'}{why}"
    return None


def _of_command(told: Mapping[str, object]) -> str:
    """Say what an act took, where a person must see it."""
    if told.get("early"):
        return f", early: {told['early']}"
    if told.get("extended_until"):
        return ": the round may go on for a day more"
    if told.get("name") == "checklist":
        argument = told.get("argument")
        name = argument.get("name") if isinstance(argument, Mapping) else ""
        return f", confirmed: {told.get('lines', '')} lines by {name or told.get('by')}"
    if told.get("name") != "zero" or "zero" not in told:
        return ""
    if told.get("undone"):
        return f": taken back, {told['zero']} A counts as zero again (`revival zero` takes it anew)"
    taken = f"the {told.get('shown')} A that it showed count as zero, {told['zero']} A in all"
    return f": {taken}; `revival zero --undo` takes it back"


def spans(events: list[Event], since: float, until: float) -> list[dict[str, Any]]:
    """Return stretches of one phase, each charging or standing still."""
    changes = [event for event in events if event.kind == "phase"]
    first = max(0, bisect_left([event.at for event in changes], since) - 1)
    found = []
    for number, change in enumerate(changes[first:], first):
        end = changes[number + 1].at if number + 1 < len(changes) else until
        if end > since and change.at < until:
            found.append(
                {
                    "from": max(since, change.at),
                    "to": min(until, end),
                    "phase": change.detail["phase"],
                    "interrupted": bool(change.detail.get("interrupted")),
                }
            )
    return found


class _Missing(dict[str, object]):
    def __missing__(self, key: str) -> str:
        return "?"
