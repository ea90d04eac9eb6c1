"""What the bridges in the cabins say of their banks: the board believes them before what is worked out from afar.

A fold over messages knows nothing of a reset at the page or a checklist confirmed at the keyboard, which are no
messages; the cabin's own state does. It comes as parcels of the table `state`, the newest of each bank counts, and
where none come the fold speaks alone. It has names of flags and no sentences: those are made here from the same tables.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from bridge.fleet import read
from bridge.fleet.board import bank_told, put
from bridge.outlets.parcel_file import Store
from bridge.outlets.parcel_schema import Name
from rules.advice import FLAGS, ChargerNow, Situation, advice
from rules.events import Derived, Flag
from rules.phase import CHARGING

#: A cabin's word that is older than what was worked out by more than this is none any more [s]: a parcel's hour, twice.
OLDER = 2 * 3600.0
#: Columns of a parcel that a state takes as they are.
_FIGURES = (
    *("phase", "relay", "charge_allowed", "tripped", "interrupted", "voltage", "volts_per_cell", "current"),
    *("temperature", "remaining_hours", "remaining_low", "remaining_high"),
)


class CabinWord:
    """The newest state of each bank as its cabin told it, kept in a file that is made again from parcels if lost."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._through: dict[str, list[int]] = {}
        self._told: dict[str, dict[str, Any]] = {}
        try:
            kept = json.loads(path.read_text("utf-8"))
            self._through, self._told = kept["through"], kept["told"]
        except (OSError, ValueError, KeyError, TypeError):
            pass

    def hear(self, store: Store, names: Iterable[Name]) -> None:
        """Take in parcels of states; of each bank the last row counts, and one that is damaged is passed over."""
        changed = False
        for name in sorted(names, key=lambda one: (one.site, one.journal, one.last)):
            if [name.journal, name.last] <= self._through.get(name.site, [0, 0]):
                continue
            parcel = read.look(store, name.place, 0)
            if not isinstance(parcel, read.Parcel):
                continue
            for batch in read.batches(store, parcel, []):
                for row in batch.to_pylist():
                    if not row["undated"]:
                        self._told[f"{name.site}/{row['bank']}"] = _told(name.site, row)
            self._through[name.site], changed = [name.journal, name.last], True
        if changed:
            put(self._path, json.dumps({"through": self._through, "told": self._told}, separators=(",", ":")))

    def over(self, banks: Mapping[str, dict[str, Any]]) -> list[dict[str, Any]]:
        """Return banks as the board takes them: worked out here, and where a cabin's own word is as new, by that."""
        found = []
        for key in sorted({*banks, *self._told}):
            here, there = banks.get(key), self._told.get(key)
            if here is None or (there is not None and there["at"] >= here["at"] - OLDER):
                assert there is not None
                alone = {"heard_at": there["at"], "arrived_at": there["at"], "trips": [], "waits": None}
                kept = {name: here[name] for name in alone} if here is not None else alone
                found.append({**there, **kept})
            else:
                found.append(here)
        return found


def _told(site: str, row: Mapping[str, Any]) -> dict[str, Any]:
    at = row["at"].timestamp()
    names = [name for name in row["flags"].split() if name in FLAGS]
    flags = tuple([Flag(name, FLAGS[name].kind, at) for name in names])
    figures: dict[str, Any] = {name: row.get(name) for name in _FIGURES}
    derived = Derived(row["bank"], at, flags=flags)._replace(**figures)
    return {"site": site, "bank": row["bank"], **bank_told(_advised(derived, names))}


def _advised(derived: Derived, names: list[str]) -> Derived:
    """Add what a person does next; what is known of the charger beyond its relay stays in the cabin."""
    now = ChargerNow(derived.relay, told="allow" if derived.charge_allowed else "")
    woken = derived.phase in CHARGING
    try:
        steps = advice(Situation(derived.phase, derived.interrupted, woken=woken, started=woken, now=now), names)
    except KeyError:  # a phase of a newer version
        return derived
    return derived._replace(next_step=steps.first, then=steps.then)
