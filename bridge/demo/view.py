"""What the demo shows in the terminal: where the bank is, how long it takes, whether it is safe, and the curves."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.panel import Panel
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn
from rich.table import Table
from rich.text import Text

from bridge.words.bank_name import called
from bridge.words.bank_status import place, told_to
from bridge.words.estimated import between, digits_of
from bridge.words.spoken import SIGNS, spoken
from rules.events import Derived


def amount(value: float | None, unit: str, digits: int = 1) -> str:
    """Return a number with its unit, or a question mark."""
    return f"?  {unit}" if value is None else f"{value:.{digits}f} {unit}"


class View:
    """The live picture: a progress bar and one table of the bank."""

    def __init__(self, total: float, scale: str) -> None:
        self.scale = scale
        self.progress = Progress(
            TextColumn("recorded hours"), BarColumn(40), TaskProgressColumn(), TextColumn("{task.description}")
        )
        self.task = self.progress.add_task("", total=total)

    def render(self, done: float, latest: Sequence[Derived], speed: float) -> RenderableType:
        """Return the picture at this moment; `done` in recorded hours [h]."""
        self.progress.update(self.task, completed=done, description=f"{done:6.1f} h at {speed:,.0f} x")
        return Group(self.progress, *(bank_table(derived, self.scale) for derived in latest or (None,)))


def bank_table(derived: Derived | None, scale: str) -> RenderableType:
    """Draw one bank: is it safe, where is it, how long, what now; in the owner's scale."""
    if derived is None:
        return Text("waiting for the first reading")
    derived = told_to(derived, scale)
    table = Table.grid(padding=(0, 2))
    table.add_column(style="dim", justify="right", min_width=12)
    table.add_column()
    safe = Text(f"{derived.safe.replace('-', ' ')}{f': {derived.safe_why}' if derived.safe_why else ''}")
    safe = Text("TRIPPED by " + derived.trip_reason, style="bold reverse") if derived.tripped else safe
    allowed = "charging allowed" if derived.charge_allowed else "charging not allowed"
    table.add_row("safe?", Text.assemble(safe, f", {allowed}, relay {derived.relay}"))
    phase = place(derived.phase, derived.interrupted, derived.charging)
    table.add_row("where?", Text(phase, style="bold"))
    warmth = spoken(amount(derived.temperature, "degC"), scale).replace("degC", SIGNS[scale])
    table.add_row(
        "",
        f"{amount(derived.volts_per_cell, 'V per cell', 3)}   {amount(derived.current, 'A')}   "
        f"{warmth}   {amount(derived.charge_returned, 'Ah', 0)} returned   "
        f"held {derived.hold_hours:.1f} of {derived.hold_needed:.0f} h",
    )
    if derived.remaining_hours is None:
        table.add_row("how long?", f"not known: {derived.remaining_reason}")
    else:
        low, high = derived.remaining_low or 0.0, derived.remaining_high or 0.0
        middle = f"{derived.remaining_hours:.{digits_of(low, high)}f}"
        table.add_row("how long?", f"{middle} h of charging (likely {between(low, high)} h)")
    names = ", ".join(flag.name for flag in derived.flags) or "none"
    table.add_row("flags", names)
    table.add_row("next", derived.next_step)
    return Panel(table, title=called(derived.bank), title_align="left", width=110)
