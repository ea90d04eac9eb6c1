"""What is still to be told to people, and what was: a ledger that events are folded into, pure, with time as argument.

A trip is due at once, and again until a person has reset it or noted a look after it. What withholds the permit is
told once, when it has lasted a minute; chores go into a digest once a day. In quiet hours only trips are due.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from bridge.settings import NotifySettings, within
from bridge.words.notice import AT_ONCE
from rules.advice import FLAGS, WARM
from rules.events import Derived, Event, Flag

#: What withholds the permit for less is not told: a start, or a meter that missed a beat [s].
LASTS = 60.0
#: A flag that comes and goes is told again only after it was gone for so long [s].
GONE_FOR = 3600.0
#: A look that was taken so soon after the trip is what tripped it, and no look after it [s].
A_LOOK_AFTER = 1.0
#: So many things at most wait to be told once; the oldest go first when it is full.
MOST_WAITING = 500


class Item(NamedTuple):
    """Something to tell.

    Attributes
    ----------
    kind : str
        trip, permit (withholds it), soon (cannot wait for the digest), event, or digest.
    bank : str
        Its id; empty for the digest.
    flag : Flag
        As it was raised; of an event the reason, of a digest the day as name.
    over : float
        When it went [s since the epoch]; 0 while it is up.
    """

    kind: str
    bank: str
    flag: Flag
    over: float = 0.0


class Trip(NamedTuple):
    """A trip that was not reset. `told_at` [s since the epoch], None before the first time."""

    item: Item
    told_at: float | None = None
    acknowledged: bool = False


class Ledger(NamedTuple):
    """What one service was told, and what it is still to be told.

    Attributes
    ----------
    row : int
        The last event of the journal that is in it.
    trips : dict of Trip
        By bank and flag.
    told : dict of float
        Bank and flag -> 0 while it is up, else when it went [s since the epoch].
    waiting : tuple of Item
        To be told once, the oldest first.
    digest : str
        The day of the last digest.
    """

    row: int = 0
    trips: Mapping[str, Trip] = {}
    told: Mapping[str, float] = {}
    waiting: tuple[Item, ...] = ()
    digest: str = ""


def digest_day(at: float, minute: int) -> str:
    """Return the day of the last digest that was due [s since the epoch, minutes after midnight]."""
    now = datetime.fromtimestamp(at)
    day = now.date() if 60 * now.hour + now.minute >= minute else now.date() - timedelta(days=1)
    return day.isoformat()


def quiet(at: float, settings: NotifySettings) -> bool:
    """Tell whether this moment [s since the epoch] lies in the quiet hours."""
    now = datetime.fromtimestamp(at)
    return settings.quiet is not None and within(60 * now.hour + now.minute, settings.quiet)


def begun(row: int, states: Iterable[Derived], at: float, settings: NotifySettings) -> Ledger:
    """Return a new service's ledger: it is told what is up now, and nothing of what was before [s since the epoch]."""
    return seen(Ledger(row=row, digest=digest_day(at, settings.digest)), states)


def seen(ledger: Ledger, states: Iterable[Derived]) -> Ledger:
    """Add what the banks' states show and the ledger does not know: the journal may not store, or be of later."""
    for state in states:
        for flag in state.flags:
            if flag.kind != "hazard":
                ledger = _raised(ledger, state.bank, flag)
            elif state.tripped:
                ledger = _tripped(ledger, state.bank, flag)
    return ledger


def folded(ledger: Ledger, event: Event) -> Ledger:
    """Add one event of the journal, in its order there."""
    detail = event.detail
    if event.kind == "trip":
        return _tripped(ledger, event.bank, _flag(str(detail.get("hazard")), event), journaled=True)
    if event.kind == "flag-raised":
        return _raised(ledger, event.bank, _flag(str(detail.get("flag")), event))
    if event.kind in ("flag-cleared", "permit-given"):
        return _cleared(ledger, event.bank, str(detail.get("flag", _UNFLAGGED)), event.at)
    if event.kind == "permit-withdrawn" and detail.get("reason") not in FLAGS:
        flag = Flag(_UNFLAGGED, event.kind, event.at, reason=str(detail.get("reason")))
        return _once(ledger, Item("event", event.bank, flag))
    if event.kind == "automatic-resume":
        flag = Flag(event.kind, event.kind, event.at)
        ledger = _over(ledger, event.bank, event.at)
        return ledger._replace(waiting=_queued(ledger, Item("event", event.bank, flag)))
    if event.kind == "command" and detail.get("name") == "reset":
        return _over(ledger, event.bank, event.at)
    if event.kind == "hand" and not detail.get("undo"):
        return _looked(ledger, event.bank, float(str(detail.get("taken_at", event.at))))
    return ledger


def due(ledger: Ledger, settings: NotifySettings, at: float, settled: bool) -> Item | None:
    """Return what is to be told next; None while there is nothing.

    Parameters
    ----------
    ledger : Ledger
        Of one service.
    settings : NotifySettings
        Repetition, digest and quiet hours.
    at : float
        Now [s since the epoch].
    settled : bool
        The clock is trusted and every bank has said how it is; before that only trips are due.
    """
    for trip in ledger.trips.values():
        if trip.told_at is None or not (trip.acknowledged or 0.0 <= at - trip.told_at < settings.repeat):
            return trip.item
    if not settled or quiet(at, settings):
        return None
    for item in ledger.waiting:
        if item.kind not in ("permit", "event") or item.over or not 0.0 <= at - item.flag.since < LASTS:
            return item
    day = digest_day(at, settings.digest)
    return Item("digest", "", Flag(day, "chore", at)) if day > ledger.digest else None


def told(ledger: Ledger, item: Item, at: float) -> Ledger:
    """Take note that it was told, or that there was nothing to tell in the digest [s since the epoch]."""
    if item.kind == "digest":
        return ledger._replace(digest=item.flag.name)
    key = _key(item.bank, item.flag.name)
    trip = ledger.trips.get(key)
    if trip is not None and trip.item == item:
        return ledger._replace(trips={**ledger.trips, key: trip._replace(told_at=at)})
    return ledger._replace(waiting=tuple(one for one in ledger.waiting if one != item))


def again(ledger: Ledger, item: Item) -> bool:
    """Tell whether this trip was told before."""
    trip = ledger.trips.get(_key(item.bank, item.flag.name))
    return trip is not None and trip.item == item and trip.told_at is not None


def only_of(ledger: Ledger, banks: Iterable[str]) -> Ledger:
    """Return the ledger without banks that are not watched any more."""
    watched = frozenset(banks)
    return ledger._replace(
        trips={key: trip for key, trip in ledger.trips.items() if trip.item.bank in watched},
        waiting=tuple(item for item in ledger.waiting if item.bank in watched),
    )


def plain(ledger: Ledger) -> dict[str, Any]:
    """Return it as plain values for the journal."""
    return {
        **ledger._asdict(),
        "trips": [[_plain_item(item), at, acknowledged] for item, at, acknowledged in ledger.trips.values()],
        "waiting": [_plain_item(item) for item in ledger.waiting],
    }


def from_plain(kept: Mapping[str, Any]) -> Ledger:
    """Return a ledger as `plain` wrote it."""
    trips = [Trip(_item(item), at, acknowledged) for item, at, acknowledged in kept["trips"]]
    return Ledger(
        row=kept["row"],
        trips={_key(trip.item.bank, trip.item.flag.name): trip for trip in trips},
        told=kept["told"],
        waiting=tuple(_item(item) for item in kept["waiting"]),
        digest=kept["digest"],
    )


#: What withdrew the permit is no flag, a restart for example: by this name it is told once until the permit is back.
_UNFLAGGED = "permit-withdrawn"


def _key(bank: str, name: str) -> str:
    return f"{bank}|{name}"


def _plain_item(item: Item) -> list[Any]:
    return [item.kind, item.bank, list(item.flag), item.over]


def _item(kept: list[Any]) -> Item:
    kind, bank, flag, over = kept
    return Item(kind, bank, Flag(*flag), over)


def _flag(name: str, event: Event) -> Flag:
    """Return what was raised as an event tells it; what is to be done is asked when it is told."""
    told = event.detail
    kind = FLAGS[name].kind if name in FLAGS else ""
    value, limit = (told.get(key) for key in ("value", "limit"))
    return Flag(
        name,
        kind,
        event.at,
        float(value) if isinstance(value, int | float) else None,
        float(limit) if isinstance(limit, int | float) else None,
        str(told.get("unit", "")),
        str(told.get("reason", "")),
    )


def _tripped(ledger: Ledger, bank: str, flag: Flag, journaled: bool = False) -> Ledger:
    key = _key(bank, flag.name)
    known = ledger.trips.get(key)
    if known is not None and journaled and flag.value is None and flag.reason not in known.item.flag.reason:
        known = None  # another danger of the same name joined it
    if known is not None and not (known.acknowledged and flag.since > known.item.flag.since + A_LOOK_AFTER):
        return ledger  # latched, and told already
    return ledger._replace(trips={**ledger.trips, key: Trip(Item("trip", bank, flag._replace(action="")))})


def _raised(ledger: Ledger, bank: str, flag: Flag) -> Ledger:
    if flag.kind == "permit" and flag.name != "not-started":
        return _once(ledger, Item("permit", bank, flag._replace(action="")))
    warm_in_a_trip = flag.name in WARM and any(trip.item.bank == bank for trip in ledger.trips.values())
    if flag.name in AT_ONCE and not warm_in_a_trip:
        return _once(ledger, Item("soon", bank, flag._replace(action="")))
    return ledger


def _once(ledger: Ledger, item: Item) -> Ledger:
    """Queue it, unless it is up already, or comes and goes."""
    key, at = _key(item.bank, item.flag.name), item.flag.since
    gone = ledger.told.get(key)
    if gone == 0.0:
        return ledger
    up = {name: went for name, went in ledger.told.items() if not went or at - went < GONE_FOR} | {key: 0.0}
    if gone is not None and 0.0 <= at - gone < GONE_FOR:
        return ledger._replace(told=up)
    return ledger._replace(told=up, waiting=_queued(ledger, item))


def _queued(ledger: Ledger, item: Item) -> tuple[Item, ...]:
    return (*ledger.waiting, item)[-MOST_WAITING:]


def _cleared(ledger: Ledger, bank: str, name: str, at: float) -> Ledger:
    """Take note that a flag went; what was up for a moment only is not told at all."""
    key = _key(bank, name)
    if key in ledger.trips:
        return _over(ledger, bank, at, name)
    if ledger.told.get(key) != 0.0:
        return ledger
    waiting, went = [], at
    for item in ledger.waiting:
        if (item.bank, item.flag.name, item.over) != (bank, name, 0.0):
            waiting.append(item)
        elif item.kind == "soon" or not 0.0 <= at - item.flag.since < LASTS:
            waiting.append(item._replace(over=at))
        else:
            went = 0.0
    told = {**ledger.told, key: went}
    if not went:
        del told[key]  # nobody heard of it: the next time counts as the first
    return ledger._replace(told=told, waiting=tuple(waiting))


def _over(ledger: Ledger, bank: str, at: float, name: str = "") -> Ledger:
    """End the trips of a bank, or one of them; one that was not told yet is told once."""
    ended = {
        key: trip for key, trip in ledger.trips.items() if trip.item.bank == bank and name in ("", trip.item.flag.name)
    }
    for trip in ended.values():
        if trip.told_at is None:
            ledger = ledger._replace(waiting=_queued(ledger, trip.item._replace(over=at)))
    return ledger._replace(trips={key: trip for key, trip in ledger.trips.items() if key not in ended})


def _looked(ledger: Ledger, bank: str, taken_at: float) -> Ledger:
    """Take note that somebody looked [s since the epoch]: what tripped before is acknowledged."""
    return ledger._replace(
        trips={
            key: trip._replace(acknowledged=True)
            if trip.item.bank == bank and taken_at > trip.item.flag.since + A_LOOK_AFTER
            else trip
            for key, trip in ledger.trips.items()
        }
    )
