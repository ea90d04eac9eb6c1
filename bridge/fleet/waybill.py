"""What has arrived, written down in order: numbered files, one for each look at the store that found something new.

A parcel is offered once it is whole, and so is the cabin file that it is judged by. Half a file is left for the next
look: a copy that is under way ends some time. What can never be used is named with its reason and offered to nobody.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from bridge.fleet import read
from bridge.fleet.board import put
from bridge.fleet.cabin_word import Watched, watched
from bridge.fleet.kept_bank import Offer, as_offer
from bridge.outlets.parcel_file import Store
from bridge.outlets.parcel_schema import Name, parse

#: A waybill is written at least so often, even an empty one: its moment is the clock by which silence is told [s].
TICK = 600.0
#: Parcels offered to a bank on one waybill, at most: a backlog of months goes through in pieces.
MOST = 200
#: Moments of two waybills differ by this at least [s]; Spark keeps milliseconds.
LEAST_APART = 0.001


class Offered:
    """Which parcels of a site a bank was offered: an unbroken chain as one number a journal, others one by one."""

    def __init__(self) -> None:
        self._through: dict[int, int] = {}
        self._beyond: dict[int, dict[int, int]] = defaultdict(dict)

    def __contains__(self, parcel: tuple[int, int]) -> bool:
        """Tell it of a journal and the last row of the parcel."""
        journal, last = parcel
        return last <= self._through.get(journal, 0) or last in self._beyond[journal].values()

    def add(self, journal: int, after: int, last: int) -> None:
        """Note a parcel, and join the chain where it closes a hole."""
        beyond = self._beyond[journal]
        beyond[after] = max(last, beyond.get(after, 0))
        through = self._through.get(journal, 0)
        while through in beyond:
            through = beyond.pop(through)
        self._through[journal] = through


class _Cabin(NamedTuple):
    """A cabin file: where it lies, its hash and that of the one sent before it, and its banks."""

    place: str
    sha256: str
    before: str
    banks: dict[str, Watched]


def stamp(at: float) -> str:
    """Return a moment as Spark reads it [s since the epoch].

    >>> stamp(1781510400.25)
    '2026-06-15T08:00:00.250+00:00'
    """
    return datetime.fromtimestamp(at, UTC).isoformat(timespec="milliseconds")


class Desk:
    """Where parcels are seen to arrive.

    Parameters
    ----------
    store : Store
        Where they are.
    folder : Path
        Of the waybills.

    Attributes
    ----------
    refused : dict of str
        Parcels, and sites, that cannot be used at present: path and why.
    told : list of Name
        Parcels of what cabins say themselves (states, events, acts), as they were seen with the last look.
    watched : dict
        Site -> bank -> what the newest of its cabin files says of it.
    taken : int
        Parcels of messages and cabin files that the last look found new and whole.
    """

    def __init__(self, store: Store, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._store, self._folder = store, folder
        self._offered: dict[tuple[str, str], Offered] = defaultdict(Offered)
        self._number, self._at = -1, 0.0
        self._sizes: dict[str, int] = {}
        self._cabins: dict[str, _Cabin] = {}
        self.refused: dict[str, str] = {}
        self.told: list[Name] = []
        self.watched: dict[str, dict[str, Watched]] = {}
        self.taken = 0
        for path in sorted(folder.glob("*.jsonl")):
            self._number = int(path.stem)
            for line in path.read_text("utf-8").splitlines():
                told = json.loads(line)
                self._at = datetime.fromisoformat(told["arrived"]).timestamp()
                if told["site"]:
                    offer = as_offer(json.loads(told["offer"]))
                    self._offered[told["site"], told["bank"]].add(offer.journal, offer.after, offer.last)

    def look(self, now: float) -> int:
        """Write a waybill of what has come since the last look [s since the epoch], if anything or if it is time.

        Returns
        -------
        int
            Offers on it.
        """
        at = round(max(now, self._at + LEAST_APART), 3)
        lines = [
            {"site": site, "bank": bank, "offer": json.dumps(offer), "arrived": stamp(at)}
            for site, bank, offer in self._new(at)
        ]
        if not lines and at - self._at < TICK:
            return 0
        number = self._number + 1
        path = self._folder / f"{number:08d}.jsonl"
        tick = {"site": "", "bank": "", "offer": "", "arrived": stamp(at)}
        put(path, "".join(json.dumps(line) + "\n" for line in lines or [tick]), at)  # read in the order of dates
        self._number, self._at = number, at
        return len(lines)

    def _new(self, at: float) -> Iterator[tuple[str, str, Offer]]:
        """Yield site, bank and offer of what can be offered now, each once."""
        self.refused, self.watched, self.taken = {}, {}, 0
        for site, (messages, files) in sorted(self._found().items()):
            cabins = [name for name in files if self._cabin(name) is not None]
            if not cabins:
                self.refused[f"site={site}"] = read.NO_CABIN
                continue
            self.watched[site] = {bank: of for one in cabins for bank, of in self._cabins[one.place].banks.items()}
            banks = self._banks(cabins)
            offered: Counter[str] = Counter()
            for name in messages:
                wanting = [bank for bank in banks if (name.journal, name.last) not in self._offered[site, bank]]
                wanting = [bank for bank in wanting if offered[bank] < MOST]
                offer = self._offer(name, cabins, at) if wanting else None
                if offer is None:
                    continue
                self.taken += 1
                offered.update(wanting)
                for bank in wanting:
                    self._offered[site, bank].add(offer.journal, offer.after, offer.last)
                    yield site, bank, offer

    def _offer(self, name: Name, cabins: list[Name], at: float) -> Offer | None:
        """Return the offer of a parcel; None, and why, where it or its cabin file is not there whole."""
        parcel = self._whole(name)
        if parcel is None:
            return None
        before = [one for one in cabins if (one.journal, one.first) <= (name.journal, name.first)][-1:]
        within = [one for one in cabins if one.journal == name.journal and name.first < one.first <= name.last]
        used = [*before, *within]
        if not before or parcel.cabin not in {"", *(self._cabins[one.place].sha256 for one in cabins)}:
            self.refused[name.place] = "the cabin file that it is judged by has not come"
            return None
        return Offer(
            *(name.journal, name.first, name.last, parcel.after, name.place),
            tuple([(one.first if one.journal == name.journal else 0, one.place) for one in used]),
            at,
        )

    def _whole(self, name: Name) -> read.Parcel | None:
        """Return a parcel of which every row can be read; whoever folds it may rely on that."""
        parcel = read.look(self._store, name.place, self._sizes[name.place])
        asides = [parcel] if isinstance(parcel, read.Aside) else []
        if isinstance(parcel, read.Parcel) and any(True for _ in read.batches(self._store, parcel, asides)):
            return parcel
        self.refused.update((aside.place, aside.why) for aside in asides)
        return None

    def _banks(self, cabins: list[Name]) -> list[str]:
        """Return the banks of a site's cabin files; none while one that another was sent after is missing."""
        files = [self._cabins[name.place] for name in cabins]
        known = {file.sha256 for file in files}
        for file in files:
            if file.before and file.before not in known:
                self.refused[file.place] = "the cabin file before it has not come"
                return []
        return sorted({bank for file in files for bank in file.banks})

    def _cabin(self, name: Name) -> _Cabin | None:
        """Return a cabin file; each is read once."""
        if name.place not in self._cabins:
            parcel = read.look(self._store, name.place, self._sizes[name.place])
            found = read.cabin_file(self._store, name.place, self._sizes[name.place])
            if isinstance(found, read.Aside):
                self.refused[found.place] = found.why
                return None
            self.taken += 1
            before = parcel.cabin if isinstance(parcel, read.Parcel) else ""
            self._cabins[name.place] = _Cabin(name.place, found.sha256, before, watched(found.text))
        return self._cabins[name.place]

    def _found(self) -> dict[str, tuple[list[Name], list[Name]]]:
        """Return site -> parcels of messages, and of cabin files, each in their order."""
        found: dict[str, tuple[list[Name], list[Name]]] = defaultdict(lambda: ([], []))
        self._sizes, self.told = dict(self._store.below()), []
        for place, size in self._sizes.items():
            name = parse(place)
            if name is None:
                aside = read.look(self._store, place, size)
                if isinstance(aside, read.Aside):
                    self.refused[place] = aside.why
            elif name.table in ("message", "cabin"):
                found[name.site][name.table == "cabin"].append(name)
            else:
                found.setdefault(name.site, ([], []))  # a site that has no more than these is one too
                self.told.append(name)
        for parcels in found.values():
            for names in parcels:
                names.sort(key=lambda name: (name.journal, name.first, name.last))
        return found
