"""A made-up round in a journal, whose hours, charge and gravities are reckoned by hand, and its report read again."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from bridge.cli import main
from bridge.config import load
from bridge.journal.batch import Batch
from bridge.journal.snapshot import to_text
from bridge.journal.writer import Journal
from rules.events import Derived, Event, HandReading, Reading
from rules.hand.log import HandLog
from rules.hand.log import record as note
from rules.meters.counters import Counters
from rules.phase.memory import PhaseMemory
from rules.step.memory import Memory, initial
from rules.verdict.capacity_test import CapacityTest
from tests.support.cabin import write_cabin

HOUR = 3600.0
#: Begin of the round [s since the epoch].
T0 = 1_795_000_020.0
END = T0 + 48 * HOUR
CELLS = [f"N{block}.{cell}" for block in range(1, 5) for cell in range(1, 4)]


def event(hours: float, what: str, **detail: object) -> Event:
    """Of the made-up round, so many hours after its begin."""
    return Event("north", what, T0 + hours * HOUR, detail)


def phase(hours: float, name: str, *, interrupted: bool = False) -> Event:
    """A change of phase."""
    return event(hours, "phase", phase=name, before="", interrupted=interrupted)


def hand(hours: float, kind: str, values: dict[str, Any], **more: object) -> Event:
    """A hand reading as the journal keeps it."""
    at = T0 + hours * HOUR
    told: dict[str, object] = {"kind": kind, "taken_at": at, "values": values, "by": "Ann", "note": "", "undo": False}
    return event(hours, "hand", **{**told, "temperature": None, "under_charge": False, "rested_hours": None, **more})


def state(hours: float, name: str, charge: float, energy: float, **more: Any) -> Derived:
    """What was said of the bank."""
    at = T0 + hours * HOUR
    return Derived("north", at, voltage=26.0, phase=name, charge_returned=charge, energy=energy, **more)


#: 10 h waking, 10 h bulk of which 2 h stand still, 16 h holding with a trip in them, 12 h of rest.
PHASES = [
    phase(0.0, "waking"),
    phase(10.0, "bulk"),
    phase(14.0, "bulk", interrupted=True),
    phase(16.0, "bulk"),
    phase(20.0, "holding"),
    phase(36.0, "resting"),
]
#: Six minutes of the hold with three above the warning of 38 degC, the greatest 43.9.
WARMTHS = tuple((30.0 + minute / 60.0, warmth) for minute, warmth in enumerate((30.0, 37.9, 38.2, 43.9, 41.0, 33.0)))
STATES = [
    state(-1.0, "finished", 77.0, 2.2),  # of the round before: it counts for nothing here
    state(10.0, "waking", 20.0, 0.5),
    state(20.0, "bulk", 150.0, 4.2),
    *[state(hour, "holding", 170.0, 4.9, temperature=warmth) for hour, warmth in WARMTHS],
    state(36.0, "holding", 190.0, 5.6, hold_hours=16.0, hold_needed=16.0),
    state(48.0, "resting", 190.0, 5.6, hold_hours=16.0, hold_needed=16.0, water_used=41.0, overcharge=0.0),
]
TRIP = [
    event(30.0, "trip", hazard="over-temperature", value=43.9, limit=43.3333, unit="degC", reason="43.9 degC measured"),
    event(30.0, "order", action="cut", reason="over-temperature"),
    event(30.001, "cut-confirmed", seconds=1.4, by="relay"),
    event(33.0, "command", name="reset", by="Ann", argument={}),
    event(33.5, "command", name="resume", by="Ann", argument={}),
    event(30.0, "permit-withdrawn", reason="over-temperature"),
    event(36.0, "permit-withdrawn", reason="hold-complete"),
    event(30.0, "flag-raised", flag="over-temperature", value=43.9, limit=43.3333, reason="43.9 degC in the acid"),
    event(32.5, "flag-cleared", flag="over-temperature", after=9000.0),
    event(36.0, "flag-raised", flag="hold-complete", reason="16 h held"),
    event(13.0, "flag-raised", flag="water-due", reason="half of it is gone"),
]
ACTS = [
    event(-0.5, "command", name="checklist", by="Ann", argument={"name": "Ann"}),
    event(-0.4, "proof", passed=True, seconds=1.2, current_proved=True, note="the relay opened"),
    event(0.0, "command", name="boot", by="", argument={}),
    event(0.0, "command", name="start", by="Ann", argument={}),
]
HAND = [
    hand(-2.0, "voltage", {"N1": 4.1, "N2": 4.0, "N3": 4.2, "N4": 3.9}),
    # 1.240 at 36.67 degC is ten kelvin over the hydrometer's 80 degF: 0.004 per 10 degF make 1.2472 of it.
    hand(-1.5, "gravity", {**dict.fromkeys(CELLS, 1.120), "N1.1": 1.240, "N4.3": "low"}, temperature=36.6667),
    hand(12.0, "water", {"": 900.0}),
    hand(13.0, "water", {"": 300.0}),
    hand(13.1, "water", {}, undo=True),
    hand(25.0, "gravity", dict.fromkeys(CELLS, 1.200), temperature=26.6667, under_charge=True),
    hand(47.0, "gravity", {**dict.fromkeys(CELLS, 1.262), "N2.1": 1.250}, temperature=26.6667, rested_hours=11.0),
]


def readings() -> list[Reading]:
    """Volts and amps of these minutes, and the cooler one of two thermometers."""
    found = []
    for hour, warmth in WARMTHS:
        at = T0 + HOUR * hour
        found += [
            Reading("north", "electrolyte_temperature", warmth - 5.0, at, at),
            Reading("north", "voltage", 32.04, at, at),
            Reading("north", "current", 6.0, at, at),
        ]
    return found


def remembered(**more: Any) -> Memory:
    """The bank's memory at the end of the round."""
    log = HandLog()
    for entry in HAND:
        if entry.detail["kind"] == "gravity":
            told: dict[str, Any] = dict(entry.detail)
            reading = HandReading("north", "gravity", entry.at, entry.at, told["values"], told["temperature"], "Ann")
            log = note(log, reading, 0.0, 0.0, told["under_charge"], told["rested_hours"])
    counters = Counters(
        charge=190.0, energy=5.6, unknown_seconds=1800.0, charging_seconds=34 * HOUR, string_charge=(190.0,)
    )
    machine = PhaseMemory("resting", T0 + 36 * HOUR, woken=True, started_at=T0, hold_complete=True)
    return initial()._replace(phase=machine, counters=counters, hand=log, **more)


def write(folder: Path, events: list[Event], memory: Memory, *, states: list[Derived], relay: bool = True) -> Path:
    """A cabin file with this in its journal."""
    path = write_cabin(folder, 1883, relay=relay, extra='\n[page]\ntemperature = "degC"\n')
    cabin = load(path).cabin
    journal = Journal.open(cabin.journal, {"north": cabin.banks["north"].meters})
    events = sorted(events, key=lambda each: each.at)
    journal.submit(Batch(readings=readings() if states else [], events=events, derived=states))
    journal.submit(Batch(snapshots={"north": to_text(memory)}))
    journal.close(30.0)
    return path


def whole_round(folder: Path) -> Path:
    """The whole round, resting and not judged yet."""
    return write(folder, PHASES + TRIP + ACTS + HAND, remembered(), states=STATES)


def report(path: Path, *options: str) -> str:
    """What `revival report` writes for this cabin file."""
    target = path.with_name("report")
    assert main(["report", "--config", str(path), *options, "--output", str(target), "--force"]) == 0
    return target.read_text(encoding="utf-8")


class Page(HTMLParser):
    """Tables as rows of text, and everything else that a test asks for."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == [], "every tag that opens is closed"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "br"):
            self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
        if tag == "br":
            self.handle_data("\n")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)
        if "td" in self.open or "th" in self.open:
            self.rows[-1][-1] += data.replace("\xa0", " ")

    @property
    def text(self) -> str:
        """All words, with plain spaces."""
        return " ".join("".join(self.words).replace("\xa0", " ").split())

    def row(self, first: str) -> list[str]:
        """The rest of the row that begins so."""
        found = [row[1:] for row in self.rows if row[0] == first]
        assert len(found) == 1, first
        return found[0]


#: 16.42 h at 10 A, the 20-hour current of 200 Ah: 164.2 Ah are 82.1 % (IEEE 450 divides by the rating at this current).
TEST = CapacityTest(
    T0 + 43 * HOUR, 25.0, delivered=164.2, hours=16.42, ended_at=END - 60.0, reason="bank at 1.75 V per cell",
    fell_first=("N2",),
)  # fmt: skip
