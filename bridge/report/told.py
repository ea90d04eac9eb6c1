"""What the journal's events tell of a round: trips with their evidence, hand readings, gravities, what was raised."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from rules.advice import FLAGS, NORMAL_COURSE
from rules.events import Event, Flag
from rules.hand import GravityReading, dangers, measured_at, reading
from rules.safety import NOTED_BY_A_PERSON, Interlock
from rules.step import INTERNAL

HOUR = 3600.0
#: Kinds of flags that are worth a line on paper; chores were for the day.
TOLD = ("hazard", "permit")
#: A trip that finds the relay closed cuts it within this [s].
AT_ONCE = 10.0
#: A hand reading trips at once, or with its confirmation [s].
ANSWERED = 90.0
#: An entry is told by the moment at which it was taken, as exactly [s].
SAME_MOMENT = 0.001
#: Ends of a round before: what was noted until then is not of this one.
ENDS = ("finish", "abandon", "verdict")
#: Acts of the bridge itself; people did the others.
ITS_OWN = tuple(sorted(INTERNAL))


class Episode(NamedTuple):
    """A trip and what followed; times [s since the epoch], None = not in the journal."""

    at: float
    hazard: str
    value: float | None
    limit: float | None
    unit: str
    reason: str
    cut_at: float | None
    cut_seen_after: float | None
    cut_seen_by: str
    reset_at: float | None
    reset_by: str
    resumed_at: float | None


class TakenBack(NamedTuple):
    """A hand reading, and the act that took it back."""

    entry: Event
    undo: Event


class Raised(NamedTuple):
    """A flag of a round: how often, since when [s since the epoch], how long in all [h], and why the first time."""

    flag: str
    times: int
    first_at: float
    hours: float
    reason: str


def kind_of(event: Event) -> str:
    """Return what a hand reading is of."""
    return str(event.detail.get("kind", ""))


def taken_at(event: Event) -> float:
    """Return when it was measured, which may be long before it was entered [s since the epoch]."""
    value = event.detail.get("taken_at", event.at)
    return float(value) if isinstance(value, int | float) else event.at


def hand_readings(events: Sequence[Event]) -> list[Event]:
    """Return hand readings in order of time, without those that were taken back."""
    return _kept_and_gone(events)[0]


def _kept_and_gone(events: Sequence[Event]) -> tuple[list[Event], list[TakenBack]]:
    kept: list[Event] = []
    gone: list[TakenBack] = []
    for event in (event for event in events if event.kind == "hand"):
        if not event.detail.get("undo"):
            kept.append(event)
            continue
        place = meant(kept, event)
        if place is not None:
            entry = kept.pop(place)
            gone.append(TakenBack(entry, event))
            if (stays := left_of(entry, event)) is not None:
                kept.insert(place, stays)
    return sorted(kept, key=taken_at), gone


def meant(entries: Sequence[Event], undo: Event) -> int | None:
    """Return at which position the entry stands that was taken back, looked for from the last; None where none is."""
    places, of = _places(undo), _number(undo.detail.get("entry"))
    for position in range(len(entries) - 1, -1, -1):
        entry = entries[position]
        alike = kind_of(entry) == kind_of(undo) and not (places and places.isdisjoint(_places(entry)))
        if alike and (of is None or abs(taken_at(entry) - of) < SAME_MOMENT):
            return position
    return None


def left_of(entry: Event, undo: Event) -> Event | None:
    """Return what stays of an entry of which only some places were taken back; None where nothing does."""
    places, values = _places(undo), entry.detail.get("values")
    stays = (
        {where: value for where, value in values.items() if where not in places} if isinstance(values, Mapping) else {}
    )
    return entry._replace(detail={**entry.detail, "values": stays}) if places and stays else None


def verdict_given(events: Iterable[Event]) -> Mapping[str, object]:
    """Return when, by whom and with what the verdict was given that stands after these events; empty for none."""
    given: Mapping[str, object] = {}
    for event in events:
        if event.kind != "command" or event.detail.get("name") != "verdict":
            continue
        if "gone" in event.detail:
            before = event.detail.get("stands")
            given = before if isinstance(before, Mapping) else {}
        else:
            argument = event.detail.get("argument")
            told = argument if isinstance(argument, Mapping) else {}
            given = {"at": event.at, "by": event.detail.get("by", ""), **told}
    return given


def _places(event: Event) -> set[str]:
    """Return the places that a hand reading names."""
    values = event.detail.get("values")
    return set(values) if isinstance(values, Mapping) else set()


def tripped_and_taken_back(events: Sequence[Event], trips: Sequence[Episode]) -> list[TakenBack]:
    """Return hand readings that tripped the bank and were taken back afterwards: the trip stood all the same."""
    return [each for each in _kept_and_gone(events)[1] if any(undone_after(trip, each) for trip in trips)]


def caused(trip: Episode, entry: Event) -> bool:
    """Tell whether this trip is the answer to this hand reading: words to a danger noted, numbers to another hazard."""
    words = kind_of(entry) in ("seen", "note")
    if words != (trip.hazard in NOTED_BY_A_PERSON):
        return False
    by_hand = words or "by hand" in trip.reason or kind_of(entry) in ("string_amps", "voltage")
    return by_hand and 0.0 <= trip.at - entry.at <= ANSWERED


def undone_after(trip: Episode, gone: TakenBack) -> bool:
    """Tell whether a trip is the answer to a reading that was taken back after it."""
    return caused(trip, gone.entry) and gone.undo.at >= trip.at


def numbers(event: Event) -> dict[str, float]:
    """Return where -> number; words are left out."""
    values = event.detail.get("values")
    return {str(k): float(v) for k, v in values.items() if _is_number(v)} if isinstance(values, Mapping) else {}


def warmths(hand: Sequence[Event]) -> list[tuple[float, float, str]]:
    """Return every temperature that a hand took [degC], when, and on what; that of a walk with the hydrometer too."""
    found = []
    for event in hand:
        if kind_of(event) == "temperature":
            for where, value in numbers(event).items():
                what = "on" if measured_at(where) == "case" else "in"
                found.append((value, taken_at(event), f"by hand {what} {where}" if where else "by hand"))
        elif (warmth := _number(event.detail.get("temperature"))) is not None:
            found.append((warmth, taken_at(event), "by hand, with the gravities"))
    return found


def gravities(hand: Sequence[Event], reference: float) -> dict[str, list[GravityReading]]:
    """Return gravities corrected to the hydrometer's reference [degC]; also what has left the rules' own memory."""
    found: dict[str, list[GravityReading]] = {}
    for event in hand:
        values = event.detail.get("values")
        if kind_of(event) != "gravity" or not isinstance(values, Mapping):
            continue
        for cell, value in values.items():
            entry = reading(
                taken_at(event),
                cell,
                value,
                temperature=_number(event.detail.get("temperature")),
                under_charge=bool(event.detail.get("under_charge")),
                rested_hours=_number(event.detail.get("rested_hours")),
                reference=reference,
            )
            if isinstance(unmixed := event.detail.get("unmixed"), Mapping) and cell in unmixed:
                entry = entry._replace(mixed=False, trusted=False, why=str(unmixed[cell]))
            found.setdefault(cell, []).append(entry)
    return {cell: sorted(readings) for cell, readings in sorted(found.items())}


def tripped_since(events: Sequence[Event], begin: float) -> float:
    """Return since when a trip stood that nothing had lifted by `begin`; `begin` itself where none stood."""
    since = begin
    for event in (event for event in events if event.at < begin):
        if event.kind == "trip":
            since = min(since, event.at)
        elif event.kind == "automatic-resume" or (event.kind == "command" and event.detail.get("name") == "reset"):
            since = begin
    return since


def dangers_noted(hand: Sequence[Event]) -> list[Event]:
    """Return what people saw, smelled or heard that is a danger; the second one of a day trips nothing any more."""
    found = []
    for event in (event for event in hand if kind_of(event) in ("seen", "note")):
        values = event.detail.get("values")
        said = [*(values.values() if isinstance(values, Mapping) else ()), event.detail.get("note", "")]
        if any(dangers(str(words)) for words in said):
            found.append(event)
    return found


def latched(found: Sequence[Episode], lock: Interlock) -> list[Episode]:
    """Return trips with those that are remembered to stand and have no event, as after a journal was lost."""
    # What stands says what was learned of it since: that the entries it stands for were taken back.
    now = {hazard: latch.reason for hazard, latch in lock.latched.items()}
    found = [
        each._replace(reason=now.get(each.hazard, each.reason)) if each.reset_at is None else each for each in found
    ]
    known = {episode.hazard for episode in found if episode.reset_at is None}
    more = [
        Episode(latch.at, hazard, latch.value, latch.limit, latch.unit, latch.reason, None, None, "", None, "", None)
        for hazard, latch in lock.latched.items()
        if hazard not in known
    ]
    return sorted([*found, *more], key=lambda episode: episode.at)


def episodes(events: Sequence[Event]) -> list[Episode]:
    """Return every trip with the evidence that the relay obeyed, and who let it go on."""
    trips = _apart(events)
    found = []
    for number, trip in enumerate(trips):
        # Up to the next trip that stands for itself; hazards of one moment share order, evidence and reset.
        later = next((other.at for other in trips[number + 1 :] if other.at > trip.at), float("inf"))
        lifted = next((event.at for event in events if event.at > trip.at and _lifts(event)), float("inf"))
        after = [event for event in events if trip.at <= event.at < later]
        cut = _first(after, "order", "action", "cut")
        orders = [event for event in events if event.kind == "order" and event.at < trip.at]
        if orders and orders[-1].detail.get("action") == "cut" and (cut is None or cut.at - trip.at > AT_ONCE):
            cut = orders[-1]  # it had been told already; what came later repeats it
        cut = _unanswered(events, trip) or cut
        since = trip.at if cut is None else min(trip.at, cut.at)
        seen = _seen_open(events, since, later, lifted, cut)
        # A reset lifts every trip that stands.
        on = [event for event in events if event.at >= trip.at]
        reset = _first(on, "command", "name", "reset")
        resumed = _first(on, "command", "name", "resume")
        told = trip.detail
        found.append(
            Episode(
                trip.at,
                str(told.get("hazard")),
                _number(told.get("value")),
                _number(told.get("limit")),
                str(told.get("unit", "")),
                str(told.get("reason", "")),
                None if cut is None else cut.at,
                None if seen is None else _number(seen.detail.get("seconds")),
                "" if seen is None else str(seen.detail.get("by", "")),
                None if reset is None else reset.at,
                "" if reset is None else str(reset.detail.get("by", "")),
                None if resumed is None else resumed.at,
            )
        )
    return found


def _lifts(event: Event) -> bool:
    """Tell whether what tripped before it stands no longer, or the relay was told to close since."""
    if event.kind == "order":
        return event.detail.get("action") != "cut"
    return event.kind == "automatic-resume" or (event.kind == "command" and event.detail.get("name") == "reset")


def _unanswered(events: Sequence[Event], trip: Event) -> Event | None:
    """Return the first cut for a trip that stood before this one, where nothing had shown it obeyed by then."""
    stands, cut = False, None
    for event in (event for event in events if event.at < trip.at):
        if _lifts(event) or event.kind == "cut-confirmed":
            stands, cut = False, None
        elif event.kind == "trip":
            stands = True
        elif event.kind == "order" and stands and cut is None:
            cut = event
    return cut


def _seen_open(events: Sequence[Event], since: float, later: float, lifted: float, cut: Event | None) -> Event | None:
    """Return what showed the relay open before the next trip, or after it by the order that this one gave."""
    for seen in (event for event in events if event.kind == "cut-confirmed" and since <= event.at < lifted):
        ordered = seen.at - (_number(seen.detail.get("seconds")) or 0.0)
        if seen.at < later or (cut is not None and ordered - cut.at < AT_ONCE):
            return seen
    return None


def _apart(events: Sequence[Event]) -> list[Event]:
    """Return each trip once: a danger that joined one that stood is told with it."""
    trips: list[Event] = []
    stands: dict[str, int] = {}
    for event in events:
        hazard = str(event.detail.get("hazard"))
        if event.kind == "automatic-resume" or (event.kind == "command" and event.detail.get("name") == "reset"):
            stands = {}
        elif event.kind == "trip" and hazard in stands and event.detail.get("value") is None:
            first = trips[stands[hazard]]
            trips[stands[hazard]] = first._replace(detail={**first.detail, "reason": event.detail.get("reason", "")})
        elif event.kind == "trip":
            stands[hazard] = len(trips)
            trips.append(event)
    return trips


def raised(events: Sequence[Event], until: float) -> list[Raised]:
    """Return hazards and reasons to pause that were raised, worst first; one still up counts until `until`."""
    found: dict[str, Raised] = {}
    up: dict[str, float] = {}
    for event in events:
        flag = str(event.detail.get("flag", ""))
        if event.kind not in ("flag-raised", "flag-cleared") or flag in NORMAL_COURSE or flag not in FLAGS:
            continue
        if FLAGS[flag].kind not in TOLD:
            continue
        if event.kind == "flag-raised":
            up[flag] = event.at
            before = found.get(flag, Raised(flag, 0, event.at, 0.0, str(event.detail.get("reason", ""))))
            found[flag] = before._replace(times=before.times + 1)
        elif flag in up:
            found[flag] = _longer(found[flag], event.at - up.pop(flag))
    for flag, since in up.items():
        found[flag] = _longer(found[flag], until - since)
    return sorted(found.values(), key=lambda entry: FLAGS[entry.flag].severity_rank)


def standing_flags(flags: Iterable[Flag], lock: Interlock) -> tuple[Flag, ...]:
    """Return hazards and reasons to pause that are up, worst first, without those that are told as trips."""
    up = [flag for flag in flags if flag.kind in TOLD and flag.name not in (*NORMAL_COURSE, *lock.latched)]
    return tuple(sorted(up, key=lambda flag: FLAGS[flag.name].severity_rank))


def acts(events: Sequence[Event]) -> list[Event]:
    """Return what people did, and limits that they moved."""
    return [
        event
        for event in events
        if event.kind in ("limit-changed", "automatic-resume", "refused")
        or (event.kind == "command" and event.detail.get("name") not in ITS_OWN)
    ]


def withdrawn(events: Iterable[Event]) -> dict[str, int]:
    """Return why charging was paused -> how often; what is normal before and after a round is no pause."""
    counted: dict[str, int] = {}
    for event in events:
        reason = str(event.detail.get("reason", ""))
        if event.kind == "permit-withdrawn" and reason not in NORMAL_COURSE:
            counted[reason] = counted.get(reason, 0) + 1
    return counted


def began_to_note(events: Sequence[Event], begin: float, longest: float) -> float:
    """Return since when notes belong to a round that began at `begin`: after the round before, and not for ever."""
    ends = [
        event.at
        for event in events
        if event.kind == "command" and event.detail.get("name") in ENDS and begin - longest < event.at < begin
    ]
    return max(ends, default=begin - longest)


def _first(events: Sequence[Event], kind: str, key: str = "", value: object = None) -> Event | None:
    return next((event for event in events if event.kind == kind and (not key or event.detail.get(key) == value)), None)


def _longer(entry: Raised, seconds: float) -> Raised:
    return entry._replace(hours=entry.hours + seconds / HOUR)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
