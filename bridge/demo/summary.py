"""The demo's last word: hours per phase, ampere-hours, the hot episode and how fast the relay was cut, the curves."""

from __future__ import annotations

from pathlib import Path

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from bridge.journal.reader import JournalReader
from bridge.runtime.service import Service
from bridge.words.bank_name import called
from bridge.words.sparkline import sparkline
from bridge.words.spoken import spoken
from rules.events import Event
from rules.safety import water_used


class Episode:
    """One trip: from the reading that confirmed it to the relay that opened [s, monotonic]."""

    def __init__(self, trip: Event, read_at: float) -> None:
        self.trip = trip
        self.read_at = read_at
        self.confirmed: Event | None = None
        self.cut_seconds: float | None = None

    def confirm(self, event: Event, opened_at: float) -> None:
        """Note that the relay has shown that it opened."""
        if self.confirmed is None:
            self.confirmed = event
            self.cut_seconds = opened_at - self.read_at if opened_at > self.read_at else None


def summary(service: Service, journal: Path, episodes: list[Episode], seconds: float, scale: str) -> RenderableType:
    """Return everything worth knowing at the end."""
    parts: list[RenderableType] = []
    for bank, memory in service.engine.memories.items():
        counters = memory.counters
        table = Table(title=f"{called(bank)}: hours per phase", title_justify="left", min_width=44)
        table.add_column("phase")
        table.add_column("hours", justify="right")
        for phase, spent in counters.phase_seconds.items():
            table.add_row(phase, f"{spent / 3600.0:.1f}")
        parts += [curves(journal, bank, scale), table]
        parts.append(
            Text(
                f"{counters.charge:.0f} Ah returned, {counters.energy:.1f} kWh, held "
                f"{memory.phase.hold_seconds / 3600.0:.2f} h, "
                f"about {water_used(counters):.0f} g of water used per cell"
            )
        )
    for episode in episodes:
        limit = episode.trip.detail
        words = f"tripped by {limit['hazard']}: {limit['reason']}"
        if episode.cut_seconds is not None:
            words += f"; hot reading published to relay told: {1000.0 * episode.cut_seconds:.1f} ms"
        parts.append(Text(spoken(words, scale)))
    if not episodes:
        parts.append(Text("no hazard was seen"))
    parts.append(
        Text(
            f"{service.messages} messages in {seconds:.0f} s, {service.engine.duplicates} duplicates, "
            f"{sum(service.engine.rejected.values())} values rejected, {service.storing.unstored} unstored"
        )
    )
    return Group(*parts)


def curves(journal: Path, bank: str, scale: str) -> RenderableType:
    """Return volts per cell, amps and temperature over the whole round, from the journal."""
    with JournalReader(journal) as reader:
        states = reader.states(bank, 0.0, 4e9)
    grid = Table.grid(padding=(0, 2))
    for name, unit, values in (
        ("volts per cell", "V", [state.volts_per_cell for state in states]),
        ("current", "A", [state.current for state in states]),
        ("electrolyte", "degC", [state.temperature for state in states]),
    ):
        known = [value for value in values if value is not None]
        span = spoken(f"{min(known):.2f} to {max(known):.2f} {unit}", scale) if known else ""
        grid.add_row(name, Text(sparkline(values)), span)
    return grid
