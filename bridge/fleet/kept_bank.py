"""One bank as `follow` keeps it between two parcels: its fold, its place in the journal, and parcels that came early.

A bank's parcels are folded strictly in the order of their rows, whatever the order in which they came:

- What is known already is passed over: a parcel sent twice changes nothing.
- A parcel behind a gap waits for the rows before it, as long as `WAIT`. Only its name waits, not its rows, so that a
  cabin may be ahead of itself by months.
- A cabin that lost its journal begins a new one. Its first parcel waits `SETTLED`, so that what was still on its way of
  the old one is not left out.
- A gap that stays is given up: the fold goes on behind it, as `revival replay` would over a recording with a hole,
  and the table `link` says so. What comes later still is too late; it is told there and changes nothing.

Hours count from arrival by the centre's clock as the waybill wrote it down, never from the clock of whoever folds it:
folded again after a fault, it comes out the same.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from bridge.fleet.board import SILENT_AFTER, TRIPS_KEPT, bank_told
from bridge.fleet.fold import BankFold, InRow, OutRow, topics

#: So long a gap in a cabin's rows is waited for [s]: a memory card that is carried home has a weekend.
WAIT = 3 * 86400.0
#: So long the first parcel of a new journal waits [s]: parcels come once an hour, and overtake each other by less.
SETTLED = 3 * 3600.0


class Offer(NamedTuple):
    """One parcel of messages, as a waybill offers it to one bank.

    Attributes
    ----------
    journal, first, last : int
        When the journal was begun [s since the epoch], and its first and last row.
    after : int
        Last row of the parcel before it in this journal; 0 = it is the first.
    path : str
        Below the store.
    cabins : tuple of tuple
        Row from which a cabin file is in force, and the path of its parcel, in order; at least one.
    arrived : float
        Written down by the centre [s since the epoch].
    """

    journal: int
    first: int
    last: int
    after: int
    path: str
    cabins: tuple[tuple[int, str], ...]
    arrived: float


def as_offer(plain: list[Any]) -> Offer:
    """Return an offer as JSON keeps it: a list, its cabin files lists too.

    >>> offer = Offer(1, 5, 6, 4, "a", ((1, "b"),), 9.0)
    >>> as_offer(json.loads(json.dumps(offer))) == offer
    True
    """
    offer = Offer(*plain)
    return offer._replace(cabins=tuple([(row, path) for row, path in offer.cabins]))


class Kept(NamedTuple):
    """What is kept of a bank; all of it goes through JSON by the names of its fields.

    Attributes
    ----------
    fold : str
        From `BankFold.snapshot`; empty before the first row.
    journal, row : int
        Folded up to here.
    early : tuple of Offer
        Parcels behind a gap.
    waits_since : float
        When the next of them was first looked for in vain [s since the epoch]; 0 = none waits.
    arrived_at, heard_at : float
        Last parcel, and last message of the bank in one [s since the epoch].
    silent_since : float
        When nobody had heard from it for too long [s since the epoch]; 0 = it is heard from.
    links : int
        Lines told of the link so far.
    trips : tuple of float
        Latest ones [s since the epoch].
    told : dict
        As the board shows it.
    """

    fold: str = ""
    journal: int = 0
    row: int = 0
    early: tuple[Offer, ...] = ()
    waits_since: float = 0.0
    arrived_at: float = 0.0
    heard_at: float = 0.0
    silent_since: float = 0.0
    links: int = 0
    trips: tuple[float, ...] = ()
    told: dict[str, Any] = {}


class Parcels(NamedTuple):
    """How parcels are read.

    Attributes
    ----------
    rows : callable
        When the site's first message came [s since the epoch], and the rows of a parcel on some topics; a last row
        without a topic lets time pass to its end.
    cabin : callable
        The text of a cabin file.
    """

    rows: Callable[[Offer, frozenset[str]], tuple[float, Iterable[InRow]]]
    cabin: Callable[[str], str]


def to_text(kept: Kept) -> str:
    """Return what is kept as JSON."""
    plain = kept._asdict() | {"early": [list(offer) for offer in kept.early]}
    return json.dumps(plain, separators=(",", ":"))


def from_text(text: str) -> Kept:
    """Return what `to_text` made this text of; what an earlier version did not know begins with its default.

    Examples
    --------
    >>> kept = Kept(row=3, early=(Offer(1, 5, 6, 4, "a", ((1, "b"),), 9.0),))
    >>> from_text(to_text(kept)) == kept
    True
    """
    plain = json.loads(text)
    early = tuple([as_offer(each) for each in plain["early"]])
    known_fields = {name: value for name, value in plain.items() if name in Kept._fields}
    return Kept(**known_fields)._replace(early=early, trips=tuple(plain["trips"]))


class Bank:
    """One bank while its parcels are taken in.

    Parameters
    ----------
    site, bank : str
        Which.
    kept : Kept
        As it was.
    parcels : Parcels
        Where parcels are read from.
    """

    def __init__(self, site: str, bank: str, kept: Kept, parcels: Parcels) -> None:
        self.site, self.bank, self.kept = site, bank, kept
        self._parcels = parcels
        self._fold: BankFold | None = None
        self.out: list[OutRow] = []

    def take(self, offers: Iterable[Offer], arrived: float) -> None:
        """Take parcels in that came at one moment [s since the epoch], and fold whatever is next."""
        if self.kept.arrived_at:
            self._look_at_silence(arrived)
        if self.kept.silent_since:
            silent = arrived - self.kept.arrived_at
            self._link("heard-again", arrived, {"silent_hours": round(silent / 3600.0, 2)})
        new = [offer for offer in offers if not self._known(offer)]
        early = tuple(sorted({*self.kept.early, *new}))
        self.kept = self.kept._replace(early=early, arrived_at=arrived, silent_since=0.0)
        self._fold_next(arrived)

    def pass_time(self, at: float) -> None:
        """Look at the time that passed without a parcel [s since the epoch]: silence, and what need not wait more."""
        self._look_at_silence(at)
        self._fold_next(at)

    def due(self) -> float | None:
        """Return when time alone changes something [s since the epoch]; None = never."""
        moments = [] if self.kept.silent_since else [self.kept.arrived_at + SILENT_AFTER]
        if self.kept.early:
            moments.append(self._waits_until())
        return min(moments, default=None)

    # ------------------------------------------------------------------------------------------------- order and gaps

    def _known(self, offer: Offer) -> bool:
        """Tell whether a parcel has been folded; one whose rows were given up is told."""
        if (offer.journal, offer.last) > (self.kept.journal, self.kept.row):
            return False
        self._link("too-late", offer.arrived, {"journal": offer.journal, "first": offer.first, "last": offer.last})
        return True

    def _fold_next(self, at: float) -> None:
        """Fold parcels as long as the next one is there, or has waited long enough."""
        while self.kept.early:
            offer, *later = self.kept.early
            if not self._joins(offer):
                if not self.kept.waits_since:
                    self.kept = self.kept._replace(waits_since=at)
                if at < self._waits_until():
                    return
                if not self._begins_anew(offer):
                    self._link("given-up", self._waits_until(), self._gap())
            self._fold_in(offer)
            self.kept = self.kept._replace(
                early=tuple(later), journal=offer.journal, row=max(offer.last, self._row_in(offer)), waits_since=0.0
            )

    def _row_in(self, offer: Offer) -> int:
        return self.kept.row if self.kept.journal == offer.journal else 0

    def _joins(self, offer: Offer) -> bool:
        """Tell whether nothing lies between what was folded and this parcel."""
        if not self.kept.journal:
            return offer.after == 0
        return offer.journal == self.kept.journal and offer.after <= self.kept.row

    def _begins_anew(self, offer: Offer) -> bool:
        return bool(self.kept.journal) and offer.journal > self.kept.journal and offer.after == 0

    def _waits_until(self) -> float:
        return self.kept.waits_since + (SETTLED if self._begins_anew(self.kept.early[0]) else WAIT)

    def _gap(self) -> dict[str, Any]:
        offer = self.kept.early[0]
        return {"journal": offer.journal, "first": self._row_in(offer) + 1, "last": offer.after}

    def _look_at_silence(self, at: float) -> None:
        since = self.kept.arrived_at + SILENT_AFTER
        if not self.kept.silent_since and at >= since:
            self._link("silent", since, {"last_parcel": self.kept.arrived_at, "last_heard": self.kept.heard_at})
            self.kept = self.kept._replace(silent_since=since)

    # ------------------------------------------------------------------------------------------------------- the fold

    def _fold_in(self, offer: Offer) -> None:
        if self._fold is None:
            self._fold = BankFold(self.site, self.bank, self.kept.fold or None)
        fold, waiting = self._fold, list(offer.cabins)
        own = {topic for _, path in waiting for topic in topics(self._parcels.cabin(path)).get(self.bank, ())}
        begins, rows = self._parcels.rows(offer, frozenset(own))
        for row in rows:
            while waiting and waiting[0][0] <= row.row:
                self._configure(fold, waiting.pop(0)[1])
                self._note(fold.passes(begins))
            if row.topic:
                self.kept = self.kept._replace(heard_at=row.at)
                self._note(fold.feed(row))
            else:
                self._note(fold.passes(row.clock))

    def _configure(self, fold: BankFold, path: str) -> None:
        """Judge by the cabin file of this parcel, unless it is the one in force."""
        text = self._parcels.cabin(path)
        if text != fold.cabin_text:
            fold.configure(text)

    def _note(self, rows: list[OutRow]) -> None:
        """Pass lines on, and keep when it tripped."""
        self.out += rows
        trips = [row.at for row in rows if row.table == "event" and json.loads(row.line)["kind"] == "trip"]
        if trips:
            self.kept = self.kept._replace(trips=(*self.kept.trips, *trips)[-TRIPS_KEPT:])

    def _link(self, kind: str, at: float, detail: dict[str, Any]) -> None:
        links = self.kept.links + 1
        line = {"t": at, "bank": self.bank, "kind": kind, "detail": detail}
        self.kept = self.kept._replace(links=links)
        self.out.append(OutRow("link", self.site, self.bank, links, at, json.dumps(line, separators=(",", ":"))))

    def close(self) -> Kept:
        """Return what is to be kept, the fold and what the board shows in it."""
        if self._fold is not None:
            told = self.kept.told if self._fold.latest is None else bank_told(self._fold.latest, self._fold.scale)
            self.kept = self.kept._replace(fold=self._fold.snapshot(), told=told)
        return self.kept

    def shown(self) -> dict[str, Any] | None:
        """Return the bank as the board's document takes it; None before it said anything."""
        kept = self.kept
        if not kept.told:
            return None
        waits = None
        if kept.early and not self._begins_anew(kept.early[0]):
            waits = {**self._gap(), "until": self._waits_until()}
        return {
            "site": self.site,
            "bank": self.bank,
            "heard_at": kept.heard_at,
            "arrived_at": kept.arrived_at,
            "trips": list(kept.trips),
            "waits": waits,
            **kept.told,
        }
