"""How a bank stands, in the words that page, report and terminal share."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import accumulate
from typing import Any, NamedTuple

from bridge.words.spoken import spoken
from rules.advice import NORMAL_COURSE, PAPERWORK
from rules.events import Derived, Event, Flag, moment
from rules.hand import KINDS
from rules.laws import GAS_AFTER_CHARGE

#: Hubs keep no longer state than this [characters]; some room for what a conversion adds.
TEXT_OF_A_HUB = 240

#: A moment that lies a whole hour of air ahead, but for so much, belongs to a bank that charges [s].
STILL_CHARGES = 60.0
#: Less air than this is not a figure to rely on [m3/h].
LEAST_AIR = 0.1
#: Below this a rate of hydrogen would be shown as nought [L/h].
LEAST_HYDROGEN = 0.05
#: A line tells so many values of one entry; a sheet has 24 and more.
SAID = 4


class Standing(NamedTuple):
    """Level (a key of `bridge.words.palette.LEVELS`) and the answer to "is it safe?" in one line."""

    level: str
    words: str


#: Answer to "is it safe?" -> level, and the sentence behind it; a missing precaution is no danger that was seen.
SENTENCES = {
    "no": ("hazard", "Danger: act now."),
    "unknown": ("unknown", "Not known: {why}."),
    "not-yet": ("permit", "{why}."),
    "warm": ("chore", "No danger seen; something waits to be done."),
    "yes": ("safe", "No danger seen."),
}


def standing(derived: Derived | None) -> Standing:
    """Return the worst thing known of a bank and what is known of its charger; the rules' answer decides."""
    if derived is None or (derived.safe == "unknown" and not derived.safe_why):
        return _standing("unknown", "Not known: nothing was heard.", derived)
    level, words = SENTENCES[derived.safe]
    if derived.tripped:
        words = "Danger was seen; the trip stays until a person resets."
    elif derived.safe == "no" and not any(flag.kind == "hazard" for flag in derived.flags):
        words = "Not safe at the moment."
    elif derived.safe == "yes" and any(flag.name not in NORMAL_COURSE for flag in derived.flags):
        level, words = SENTENCES["warm"]
    words = words.format(why=derived.safe_why.rstrip("."))
    return _standing(level, words[0].upper() + words[1:], derived)


def _standing(level: str, words: str, derived: Derived | None) -> Standing:
    return Standing(level, words if derived is None else f"{words} {derived.charger}".rstrip())


def gas_goes_on(at: float, approach_at: float | None) -> bool:
    """Tell whether the moment from which the posts are safe still moves on: it charges, or nobody saw it end [s]."""
    return approach_at is not None and approach_at - at > 3600.0 * GAS_AFTER_CHARGE - STILL_CHARGES


def gas(derived: Derived) -> str:
    """Say until when nobody works at the posts, and the air that the gas needs now; empty where there is none."""
    approach = derived.safe_to_approach_at
    if approach is None or approach <= derived.at or any(flag.name == "fire-noted" for flag in derived.flags):
        return ""  # beside a fire nobody airs anything, nor goes to the posts
    goes_on = gas_goes_on(derived.at, approach)
    until = "until an hour after charging has ended" if goes_on else f"before {moment(approach, up=True)}"
    said = f"Gas: no tools or sparks at the posts {until}."
    if not goes_on:
        return said
    if derived.ventilation_needed is not None and not derived.charging:
        return f"{said} Keep the air moving until then: what was made is still about."
    return f"{said} {air(derived.ventilation_needed, derived.gas_assumed_at)}."


def air(needed: float | None, assumed: float | None) -> str:
    """Say how much air the gas needs [m3/h], and at which warmth [degC] that is reckoned where nobody measured it.

    Examples
    --------
    >>> air(5.24, None), air(0.02, None)
    ('5.2 m3/h of air needed now', 'Hardly any air needed now; leave the openings open')
    >>> air(5.24, 43.333)
    '5.2 m3/h of air needed now (its gas reckoned for acid at 43.3 degC, for nobody measures it)'
    """
    if needed is None:
        return "How much is not known, for no current is seen: give it the air of the charger's full current"
    taken = "" if assumed is None else f" (its gas reckoned for acid at {assumed:.1f} degC, for nobody measures it)"
    if needed < LEAST_AIR:
        return f"Hardly any air needed now{taken}; leave the openings open"
    return f"{needed:.1f} m3/h of air needed now{taken}"


def hydrogen(rate: float) -> str:
    """Say how much hydrogen is made [L/h]; what flows is never nought.

    Examples
    --------
    >>> hydrogen(27.61), hydrogen(0.02)
    ('27.6 L/h', 'less than 0.1 L/h')
    """
    return f"{rate:.1f} L/h" if rate >= LEAST_HYDROGEN else "less than 0.1 L/h"


def causes(flags: Iterable[Flag], unsafe: Collection[str]) -> list[str]:
    """Say what is wrong, worst first: name, what was seen and where, and the limit; else what a start waits for."""
    flags = list(flags)
    wrong = [flag for flag in flags if flag.name in unsafe]
    return [cause(flag) for flag in wrong or [flag for flag in flags if flag.name in PAPERWORK]]


def in_one_line(found: Sequence[str]) -> str:
    """Return causes as far as a hub keeps them, each whole but the first; the gravest first, and how many are left out.

    Examples
    --------
    >>> in_one_line(["gas: 4.1 % hydrogen", "over-temperature: 61.0 degC"])
    'gas: 4.1 % hydrogen; over-temperature: 61.0 degC'
    >>> in_one_line(["x" * 230, "gas: 4.1 % hydrogen", "over-temperature: 61.0 degC"])[227:]
    'x; and 2 more'
    """
    for kept in range(len(found), 0, -1):
        left = f"; and {len(found) - kept} more" if kept < len(found) else ""
        if kept == 1:
            return found[0][: TEXT_OF_A_HUB - len(left)] + left
        if len(said := "; ".join(found[:kept]) + left) <= TEXT_OF_A_HUB:
            return said
    return ""


def place(phase: str, interrupted: bool, charging: bool, still: str = ", interrupted") -> str:
    """Say where a bank is: what charges without a round is not idle, and what is still charged after it rests not.

    Examples
    --------
    >>> place("idle", False, True), place("idle", False, False), place("bulk", True, False)
    ('charging, phase not known yet', 'idle', 'bulk, interrupted')
    >>> place("resting", False, True), place("resting", False, False)
    ('round over, still on charge', 'resting')
    """
    if phase == "resting" and charging:
        return "round over, still on charge"
    if phase == "idle" and charging:
        return "charging, phase not known yet"
    return phase + (still if interrupted else "")


def cause(flag: Flag) -> str:
    """Say of one flag its name, what was seen and where, and the limit."""
    seen, comes_after, rest = flag.reason, "", ""
    if any(digit.isdigit() for digit in seen):
        seen, comes_after, rest = seen.partition("; ")  # the limit stands beside what was seen
    elif flag.value is not None:
        seen = ", ".join(part for part in (seen, _measured(flag.value, flag.unit)) if part)
    limit = "" if flag.limit is None else f", limit {_measured(flag.limit, flag.unit)}"
    return f"{flag.name}: {seen or 'seen'}{limit}{comes_after}{rest}"


def _measured(value: float, unit: str) -> str:
    if unit == "A":  # an ammeter is read to a tenth
        return f"{value:.1f}".removesuffix(".0") + " A"
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
        trip_reason=spoken(in_one_line(causes(derived.flags, derived.unsafe)), scale) if derived.tripped else "",
        safe_why=spoken(derived.safe_why, scale),
        remaining_reason=spoken(derived.remaining_reason, scale),
        not_live={figure: spoken(how, scale) for figure, how in derived.not_live.items()},
        late={meter: spoken(how, scale) for meter, how in derived.late.items()},
        verdict=tuple([{**row, "reasons": _all_spoken(row.get("reasons"), scale)} for row in derived.verdict]),
        flags=flags,
    )


def _all_spoken(reasons: object, scale: str) -> list[str]:
    return [spoken(str(reason), scale) for reason in reasons] if isinstance(reasons, list | tuple) else []


def hand_value(kind: str, where: str, value: float | str, scale: str = "") -> str:
    """Write what was measured by hand as it was understood, with its unit; warmth in a scale, where one is named.

    Examples
    --------
    >>> hand_value("gravity", "N1.1", 1.26), hand_value("charger", "volts", 28.8), hand_value("level", "N1", "low")
    ('1.260', '28.8 V', 'low')
    >>> hand_value("temperature", "N1", 30.0, "degF")
    '86.0 °F'
    >>> hand_value("water", "N1", 355.0, "degF"), hand_value("water", "N1", 355.0)
    ('12.0 fl oz', '355 mL')
    """
    if isinstance(value, str):
        return value
    if kind == "gravity":
        return f"{value:.3f}"
    if kind == "temperature" and scale:
        return spoken(f"{value:.1f} degC", scale)
    if kind == "water":  # a gram of it is a millilitre, which is what people pour by
        return spoken(f"{figure(value)} mL", scale or "degC")
    if kind == "level":
        return spoken(f"{figure(value)} mm", scale or "degC")
    if kind == "charger" and where == "volts" and not value:
        return "off"  # how a person said it
    unit = {"volts": "V", "amps": "A"}.get(where) if kind == "charger" else KINDS[kind]
    return f"{figure(value)} {unit}".rstrip()


def figure(value: float) -> str:
    """Write a number as people do: four digits, and no power of ten.

    Examples
    --------
    >>> figure(18927.06), figure(0.5), figure(12.345)
    ('18927', '0.5', '12.35')
    """
    short = f"{value:.4g}"
    return f"{value:.0f}" if "e+" in short else short


def event_words(event: Event, scale: str = "") -> str | None:
    """Return an event as a line for people; nothing for those that only fill the record.

    Parameters
    ----------
    scale : str
        The owner's, "degC" or "degF"; empty where whoever shows the line converts it. What a person wrote stays.
    """
    words = _noted(event.detail, scale) if event.kind == "hand" else _happened(event)
    return spoken(words, scale) if scale and words is not None and event.kind != "hand" else words


def _noted(told: Mapping[str, object], scale: str) -> str:
    """Return what a person noted as a line."""
    kind = str(told.get("kind"))
    given = told.get("values")
    if told.get("undo"):
        last = f"the {kind}" if told.get("entry") else f"the last {kind}"
        of = f"{kind} of {', '.join(given)}" if isinstance(given, Mapping) and given else last
        entry = told.get("entry")
        when = f", taken {spoken(moment(entry))}" if isinstance(entry, float) else ""
        return f"took back {of}{when}"
    values = given if isinstance(given, Mapping) else {}
    said = [at_place(where, hand_value(kind, where, value, scale)) for where, value in list(values.items())[:SAID]]
    said += [f"{len(values) - SAID} more"] if len(values) > SAID else []
    said += [str(told["note"])] if told.get("note") else []
    return f"{kind} by hand" + (f": {', '.join(said)}" if said else "")


def at_place(where: str, said: str) -> str:
    """Write a place in front of what was said of it, once; a charger that is off is off, and no number of volts.

    Examples
    --------
    >>> at_place("A2", "A2 crack gone"), at_place("A2", "crack gone"), at_place("", "all well")
    ('A2 crack gone', 'A2 crack gone', 'all well')
    >>> at_place("volts", "off")
    'off'
    """
    return said if not where or (where, said) == ("volts", "off") or said.startswith(f"{where} ") else f"{where} {said}"


def _happened(event: Event) -> str | None:
    told = event.detail
    if event.kind == "command":
        if told.get("name") in ("boot", "journal-lost"):
            since = told.get("away_since")
            started = "bridge started" + (f", away since {moment(since)}" if isinstance(since, float) else "")
            return started if told.get("name") == "boot" else "the journal was lost"
        by = f" by {told['by']}" if told.get("by") else ""
        gone = told.get("gone")
        return f"{told.get('name')}{by}{_back(told, gone) if isinstance(gone, Mapping) else _of_command(told)}"
    if event.kind == "hand-again":
        return noted_already(told)
    if (event.kind, told.get("reason")) == ("permit-withdrawn", "restart"):
        return "charging not allowed yet since the bridge came up"
    wording = {
        "trip": "tripped by {hazard}: {reason}",
        "refused": "refused {name}: {why}",
        "permit-given": "charging allowed",
        "permit-withdrawn": "charging no longer allowed: {reason}",
        "permit-exhausted": "the permit was withdrawn too often today; a person must act",
        "cut-confirmed": "relay seen open after {seconds} s, by {by}",
        "closed-without-permit": "the relay closed without a permit",
        "automatic-resume": "resumed by itself after cooling",
        "proof": f"proof test {'passed' if told.get('passed') else 'FAILED'}: {{note}}",
        "auto-off": "the relay opened by itself after {seconds} s"
        if told.get("opened")
        else "the relay's own auto-off, tried: {note}",
        "limit-changed": "limit {limit} changed from {before} to {after}",
        "session-lost": "broker session {session}: {why}; what was sent meanwhile is missing",
        "order": "relay told to {action}: {reason}",
    }.get(event.kind)
    if wording is not None:
        degrees = event.kind == "limit-changed" and "temperature" in str(told.get("limit"))
        ends = {end: f"{told[end]} degC" for end in ("before", "after") if end in told} if degrees else {}
        return wording.format_map(_Missing({**told, **ends}))
    if event.kind == "phase":
        stopped = ", charging stands still" if told.get("interrupted") else ""
        return f"{told.get('phase')}{stopped}"
    if event.kind in ("flag-raised", "flag-cleared"):
        why = f": {told['reason']}" if told.get("reason") else ""
        return f"{told.get('flag')} {'raised' if event.kind == 'flag-raised' else 'cleared'}{why}"
    return None


def noted_already(told: Mapping[str, object]) -> str:
    """Say that what was sent is there already, and since when."""
    at = told.get("noted_at")
    when = f" at {moment(at)}" if isinstance(at, float) else ""
    return f"{told.get('kind')} already noted{when}, with the same values: kept once"


def _of_command(told: Mapping[str, object]) -> str:
    """Say what an act took, where a person must see it."""
    if told.get("early") or told.get("excused"):
        return (
            f", early: {told['early']}" if told.get("early") else f": {told['excused']}; stay with the bank until then"
        )
    cleared = told.get("cleared")
    if isinstance(cleared, list | tuple):
        anew = ": what was proved of the relay before it disobeyed no longer counts, so `revival prove` comes next"
        return anew if "relay-disobeys" in cleared else ""
    if told.get("extended_until"):
        return ": the round may go on for a day more"
    if told.get("name") == "checklist":
        argument = told.get("argument")
        name = argument.get("name") if isinstance(argument, Mapping) else ""
        against = f"; yet seen or noted is: {told['against']}" if told.get("against") else ""
        return f", confirmed: {told.get('lines', '')} lines by {name or told.get('by')}{against}"
    if told.get("name") == "arrange":
        return f": {told['against']}" if told.get("against") else ""
    if told.get("name") != "zero" or "zero" not in told:
        return ""
    if told.get("undone"):
        return f": taken back, {told['zero']} A counts as zero again (`revival zero` takes it anew)"
    taken = f"the {told.get('shown')} A that it showed count as zero, {told['zero']} A in all"
    return f": {taken}; `revival zero --undo` takes it back"


def _back(told: Mapping[str, object], gone: Mapping[str, object]) -> str:
    """Say which checklist or verdict was taken back, and what that means."""
    at = gone.get("at")
    of = f"that of {gone.get('by') or 'somebody'}" + (f", {moment(at)}," if isinstance(at, float) and at else "")
    if told.get("name") == "checklist":
        return f": {of} is taken back; no relay closes before it is confirmed anew"
    before = told.get("stands")
    left = (
        f"that of {before.get('by') or 'somebody'} before it stands again"
        if isinstance(before, Mapping)
        else "none stands"
    )
    return f": {of} is taken back with its capacities; {left}, and the round stays over"


def spans(events: list[Event], since: float, until: float) -> list[dict[str, Any]]:
    """Return stretches of one phase, each charging or standing still, from when the page says that it is so.

    A phase is known some minutes after it began; an event of an older version tells only when it was known.
    """
    changes = [event for event in events if event.kind == "phase"]
    # None begins before the one in front of it.
    starts = list(accumulate([_began(event) for event in changes], max))
    first = max(0, bisect_right(starts, since) - 1)
    found = []
    for number, change in enumerate(changes[first:], first):
        end = starts[number + 1] if number + 1 < len(changes) else until
        if end > since and starts[number] < until:
            found.append(
                {
                    "from": max(since, starts[number]),
                    "to": min(until, end),
                    "phase": change.detail["phase"],
                    "interrupted": bool(change.detail.get("interrupted")),
                }
            )
    return found


def _began(change: Event) -> float:
    """Return since when a change of phase is so [s since the epoch]."""
    since = change.detail.get("since")
    return min(change.at, since) if isinstance(since, float | int) else change.at


class _Missing(dict[str, object]):
    def __missing__(self, key: str) -> str:
        return "?"
