"""A board to look at: invented cabins with invented banks, and a page of them in a folder."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from bridge.fleet import board
from rules.events import Derived, Flag

HOUR = 3600.0
#: A name that would like to be markup, as a cabin could write it.
HOSTILE = "<img src=x onerror=alert(1)>&\"'"


def invented(now: float) -> list[dict[str, Any]]:
    """Return a valley's banks as the README shows them."""
    gravity = Flag("imbalance", "chore", now, 0.062, 0.03, "1", "N6.2 lies 0.062 behind the others")
    fan = Flag("fan-unseen", "permit", now, None, None, "", "nothing shows that the fan runs")
    return [
        hot(now),
        _bank("ridge-chapel", "aisle", now, 74.0, Derived("aisle", now, phase="holding", remaining_hours=4.1,
            remaining_low=3.9, remaining_high=4.4, temperature=29.4, volts_per_cell=2.67, next_step="Leave it alone.")),
        _bank("lake-school", "cellar", now, 0.6, Derived("cellar", now, phase="reviving", remaining_hours=41.0,
            remaining_low=28.0, remaining_high=58.0, temperature=24.0, volts_per_cell=2.31, flags=(fan,),
            next_step="Switch the fan on and see that it blows out.")),
        _bank("tarn-hut", "north", now, 0.2, Derived("north", now, phase="finishing", remaining_hours=12.4,
            remaining_low=9.8, remaining_high=16.2, temperature=31.2, volts_per_cell=2.63, flags=(gravity,),
            next_step="Measure the gravity of every cell.", then=("Note the water added.",))),
        _bank("ford-house", "attic", now, 0.9, Derived("attic", now, phase="bulk", remaining_hours=33.0,
            remaining_low=27.0, remaining_high=41.0, temperature=26.5, volts_per_cell=2.38,
            next_step="Nothing to do now; look at the water in the evening.")),
        _bank("high-dairy", "hall", now, 0.3, Derived("hall", now, phase="holding", remaining_hours=7.5,
            remaining_low=7.2, remaining_high=7.8, temperature=33.0, volts_per_cell=2.67,
            next_step="Nothing to do now; the hold is complete at about half past eight.")),
    ]  # fmt: skip


def _bank(site: str, bank: str, now: float, heard: float, derived: Derived) -> dict[str, Any]:
    at = now - heard * HOUR
    unsafe = tuple(flag.name for flag in derived.flags if flag.kind == "permit")
    answered = derived._replace(safe="not-yet" if unsafe else "yes", unsafe=unsafe, safe_why="a precaution is missing")
    told = board.bank_told(answered._replace(voltage=30.0), "degF")
    return {"site": site, "bank": bank, "heard_at": at, "arrived_at": at, "trips": [], "waits": None, **told}


def hot(now: float, **more: Any) -> dict[str, Any]:
    """Return a bank that tripped, of which only the named fields differ."""
    flags = (Flag("temperature-limit", "hazard", now - 900.0, 49.5, 43.3, "degC", "N5 at 49.5 degC"),)
    derived = Derived(
        *("rack-1", now - 300.0),
        voltage=29.1,
        volts_per_cell=2.43,
        temperature=49.5,
        phase="bulk",
        tripped=True,
        flags=flags,
        safe="no",
        unsafe=("temperature-limit",),
        next_step="Leave the charger off until the electrolyte is below 38 degC (100 degF), then reset.",
        then=("Look for a hot post or a blocked vent.",),
    )
    place = {"site": "mill-yard", "bank": "rack-1", "heard_at": now - 300.0, "arrived_at": now - 300.0}
    return {**place, "trips": [now - 900.0], "waits": None, **board.bank_told(derived, "degF"), **more}


def plain(site: str, bank: str, now: float, **more: Any) -> dict[str, Any]:
    """Return a bank that is well, of which only the named fields differ."""
    derived = Derived(
        bank, now - 60.0, voltage=26.0, volts_per_cell=2.17, phase="idle", safe="yes", next_step="Nothing to do."
    )
    place = {"site": site, "bank": bank, "heard_at": now - 60.0, "arrived_at": now - 60.0, "trips": [], "waits": None}
    return {**place, **board.bank_told(derived, "degF"), **more}


def write(folder: Path, banks: list[dict[str, Any]], now: float, refused: list[dict[str, Any]] | None = None) -> Path:
    """Write page and document; return the page."""
    return board.write(folder, board.document(banks, refused or [], now, 600.0))
