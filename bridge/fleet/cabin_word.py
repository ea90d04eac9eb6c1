"""What the bridges in the cabins say of their banks: the board believes them before what is worked out from afar.

A fold over messages knows nothing of a reset at the page or a checklist confirmed at the keyboard, which are no
messages; the cabin's own state does. It comes as parcels of the table `state`, the newest of each bank counts, and
where none come the fold speaks alone. It has names of flags and no sentences: those are made here from the same tables,
with what the cabin file says of the bank, and with what its parcels of events say of trips and of why a flag is up.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from bridge.fleet import read
from bridge.fleet.board import TRIPS_KEPT, bank_told, put
from bridge.fleet.fold import cabin
from bridge.outlets.parcel_file import Store
from bridge.outlets.parcel_schema import Name
from rules.advice import FLAGS, HELD_UP, ChargerNow, Situation, advice, blocks, charger_words, is_it_safe
from rules.events import Derived, Flag
from rules.meters import charging_threshold
from rules.phase import CHARGING, PHASES

#: A cabin's word that is older than what was worked out by more than this is none any more [s]: a parcel's hour, twice.
OLDER = 2 * 3600.0
#: A trip worked out from afar is the cabin's own if they lie no further apart [s]: a meter's slowest beat, and some.
SAME_TRIP = 120.0
UNTOLD = (
    "Ask at the cabin and look at the bank: its bridge told of a trip, and nothing that came since says that a person "
    "reset it."
)
#: Tables of which rows are kept here; of others it is only looked whether their parcels are what they say.
_HEARD = ("state", "event")
#: Of the file in which it is kept.
_FORMAT = 2
#: Columns of a parcel that a state takes as they are.
_FIGURES = (
    *("phase", "relay", "charge_allowed", "tripped", "interrupted", "current", "temperature"),
    *("remaining_hours", "remaining_low", "remaining_high"),
)


class Watched(NamedTuple):
    """What a cabin file says of a bank, as far as its state is read by it.

    Attributes
    ----------
    cells : int
        In series.
    relay : bool
        There is one.
    capacity : float
        Rated, of the whole bank [Ah].
    scale : str
        In which people read there, "degC" or "degF".
    """

    cells: int
    relay: bool
    capacity: float
    scale: str


def watched(text: str) -> dict[str, Watched]:
    """Return what the text of a cabin file says of its banks."""
    found = cabin(text).cabin
    return {
        name: Watched(bank.cells, bank.relay is not None, bank.capacity, found.degrees)
        for name, bank in found.banks.items()
    }


class CabinWord:
    """The newest state of each bank as its cabin told it, kept in a file that is made again from parcels if lost.

    Attributes
    ----------
    asides : dict of str
        Parcels of states, events and acts that could not be used: place and why.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._watched: Mapping[str, Mapping[str, Watched]] = {}
        self._through: dict[str, list[int]] = {}
        self._rows: dict[str, dict[str, Any]] = {}
        self._trips: dict[str, list[float]] = {}
        self._raised: dict[str, dict[str, dict[str, Any]]] = {}
        self.asides: dict[str, str] = {}
        try:
            kept = json.loads(path.read_text("utf-8"))
            if kept["format"] == _FORMAT:
                self._through, self._rows = kept["through"], kept["rows"]
                self._trips, self._raised, self.asides = kept["trips"], kept["raised"], kept["asides"]
        except (OSError, ValueError, KeyError, TypeError):
            pass

    def hear(self, store: Store, names: Iterable[Name], banks: Mapping[str, Mapping[str, Watched]]) -> int:
        """Take in parcels of sites whose cabin file is known, and return how many; the last row of a bank counts.

        Parameters
        ----------
        banks : mapping
            Site -> bank -> what its cabin file says of it.
        """
        self._watched = banks
        before, taken = dict(self.asides), 0
        listed = sorted(names, key=lambda one: (one.site, one.table, one.journal, one.last))
        there = {name.place for name in listed}
        self.asides = {place: why for place, why in self.asides.items() if place in there}
        for name in listed:
            key, place = f"{name.site} {name.table}", [name.journal, name.last]
            new = place > self._through.get(key, [0, 0])
            if name.site not in banks or not (new or name.place in self.asides):
                continue
            why = self._take(store, name, banks[name.site])
            if why:
                self.asides[name.place] = why
            else:
                self.asides.pop(name.place, None)
                taken += 1
            self._through[key] = max(place, self._through.get(key, [0, 0]))
        if taken or self.asides != before:
            kept = {"format": _FORMAT, "through": self._through, "rows": self._rows, "trips": self._trips}
            kept |= {"raised": self._raised, "asides": self.asides}
            put(self._path, json.dumps(kept, separators=(",", ":")))
        return taken

    def _take(self, store: Store, name: Name, banks: Mapping[str, Watched]) -> str:
        """Take one parcel in; why not, where all of it is left aside."""
        parcel = read.look(store, name.place, 0)
        if not isinstance(parcel, read.Parcel):
            return "" if parcel is None else parcel.why
        if name.table not in _HEARD:
            return ""
        asides: list[read.Aside] = []
        rows = [row for row in read.read(store, parcel, asides) if not row["undated"]]
        if asides:
            return asides[0].why
        for row in rows:
            if row["bank"] not in banks:
                return f"its cabin file has no bank {row['bank'][:40]!r}"
            if name.table == "state" and row["phase"] not in PHASES:
                return f"its phase {row['phase'][:40]!r} is none that this version knows"
        for row in rows:
            key = f"{name.site}/{row['bank']}"
            if name.table == "event":
                self._event(key, row)
            elif row["at"].timestamp() >= self._rows.get(key, {"at": 0.0})["at"]:
                self._rows[key] = _kept(row)
        return ""

    def _event(self, key: str, row: Mapping[str, Any]) -> None:
        """Note a trip, and why a flag is up."""
        kind, at, detail = row["kind"], row["at"].timestamp(), read.detail(row["detail"])
        name = "" if detail is None else str(detail.get("flag") or detail.get("hazard") or "")
        if detail is None or name not in FLAGS:
            return
        raised = self._raised.setdefault(key, {})
        if kind == "trip":
            self._trips[key] = sorted({*self._trips.get(key, []), at})[-TRIPS_KEPT:]
        if kind in ("trip", "flag-raised"):
            unit = str(detail.get("unit") or raised.get(name, {}).get("unit", ""))
            raised[name] = {
                "since": at,
                "value": _number(detail.get("value")),
                "limit": _number(detail.get("limit")),
                "unit": unit,
                "reason": str(detail.get("reason") or ""),
            }

    def over(self, banks: Mapping[str, dict[str, Any]]) -> list[dict[str, Any]]:
        """Return banks as the board takes them: worked out here, and where a cabin's own word is as new, by that."""
        found = []
        for key in sorted({*banks, *self._rows}):
            site, _, bank = key.partition("/")
            here, facts = banks.get(key), self._watched.get(site, {}).get(bank)
            there = self._rows.get(key) if facts is not None else None
            if there is None or facts is None:
                shown = here
            elif here is None or there["at"] >= here["at"] - OLDER:
                alone = {"heard_at": there["at"], "arrived_at": there["at"], "trips": [], "waits": None}
                kept = {name: here[name] for name in alone} if here is not None else alone
                told = bank_told(_advised(self._derived(key, bank, there, facts), facts), facts.scale)
                shown = {"site": site, "bank": bank, **told, **kept}
            else:
                shown = here
            if shown is here and here is not None and facts is not None:
                shown = self._still_tripped(key, here)
            if shown is not None:
                found.append({**shown, "trips": self._all_trips(key, shown["trips"])})
        return found

    def _still_tripped(self, key: str, here: dict[str, Any]) -> dict[str, Any]:
        """Return a bank as worked out from afar, tripped where the last thing that its cabin told of it is a trip."""
        row, trip = self._rows.get(key), max(self._trips.get(key, [0.0]))
        tripped = bool(trip) if row is None or trip > row["at"] else bool(row["tripped"])
        if not tripped or here["tripped"]:
            return here
        why = [f"{name.replace('-', ' ')}: {one['reason']}" for name, one in self._raised.get(key, {}).items()
               if one["since"] == trip]  # fmt: skip
        told = {"level": "hazard", "safe": "no", "tripped": True, "standing": UNTOLD, "need": UNTOLD}
        return {**here, **told, "causes": why or here["causes"]}

    def _all_trips(self, key: str, afar: list[float]) -> list[float]:
        """Return trips as the cabin noted them, and those worked out from afar that it did not."""
        own = self._trips.get(key, [])
        return sorted([*own, *(trip for trip in afar if all(abs(trip - one) > SAME_TRIP for one in own))])

    def _derived(self, key: str, bank: str, row: Mapping[str, Any], facts: Watched) -> Derived:
        """Return a state as its row tells it, its flags with what was seen."""
        raised = self._raised.get(key, {})
        flags = [Flag(name, FLAGS[name].kind, **(raised.get(name) or {"since": row["at"]})) for name in row["flags"]]
        volts = row["voltage"]
        derived = Derived(bank, row["at"], voltage=volts, flags=tuple(flags))
        figures: dict[str, Any] = {name: row[name] for name in _FIGURES}
        return derived._replace(volts_per_cell=None if volts is None else volts / facts.cells, **figures)


def _kept(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is kept of a row of states."""
    millivolts = row.get("voltage_mv")
    return {
        "at": row["at"].timestamp(),
        "voltage": None if millivolts is None else millivolts / 1000.0,
        "flags": [name for name in row["flags"].split() if name in FLAGS],
        **{name: row.get(name) for name in _FIGURES},
    }


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _advised(derived: Derived, facts: Watched) -> Derived:
    """Add what a person does next, and what is known of the charger: what people noted of it stays in the cabin."""
    now = _charger(derived, facts)
    woken = derived.phase in CHARGING
    seen = {
        "electrolyte_temperature": derived.temperature,
        "voltage": derived.volts_per_cell,
        "current": derived.current,
    }
    situation = Situation(
        derived.phase,
        derived.interrupted,
        woken=woken,
        started=woken,
        now=now,
        at=derived.at,
        blocks=blocks(derived.volts_per_cell, derived.current, 0.0, facts.capacity),
        unseen=tuple([name for name, value in seen.items() if value is None]),
    )
    steps, safe = advice(situation, [flag.name for flag in derived.flags]), is_it_safe(situation, derived.flags)
    return derived._replace(
        next_step=steps.first,
        then=steps.then,
        charger=charger_words(now),
        safe="no" if derived.tripped else safe.word,
        unsafe=safe.flags,
        safe_why=safe.why,
        charging=now.flows or now.state == "on",
    )


def _charger(derived: Derived, facts: Watched) -> ChargerNow:
    """Look at the charger by what the cabin sent: relay, current, and a voltage that only a charger holds."""
    amps, volts = derived.current, derived.volts_per_cell
    flows = amps is not None and amps >= charging_threshold(facts.capacity)
    now = ChargerNow("none", flows=flows, metered=amps is not None)
    if facts.relay:
        now = now._replace(relay=derived.relay, told="allow" if derived.charge_allowed else "")
    if now.relay == "open":
        return now._replace(state="off", by="relay")
    if flows:
        return now._replace(state="on", by="current")
    return now._replace(state="on", by="voltage") if volts is not None and volts >= HELD_UP else now
