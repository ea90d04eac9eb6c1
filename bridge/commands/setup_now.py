"""What flows into a bank while it is heard: a bank that is charged already is charged unwatched until a bridge runs."""

from __future__ import annotations

from collections.abc import Iterable
from statistics import median

from rich.console import Console

from bridge.config import Loaded
from bridge.errors import BridgeError
from bridge.listen.banks import Found
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess
from bridge.runtime.control_socket import ask

#: The last values of a meter that say what is so now [1].
_LAST = 5
#: Less than this is nothing [A] (assumed).
_FLOWS = 0.5
#: Volts of a cell that no bank at rest shows for long, though it was charged just now [V] (common practice, no source).
_ABOVE_REST = 2.25


def flows_in(bank: Found) -> str:
    """Return what flows into a bank that was heard, in words; empty where nothing is seen to."""
    volts = bank.voltage if bank.voltage is not None and bank.voltage.sure >= SURE_ENOUGH else None
    at = "" if volts is None else f" at {_now(volts):.1f} V{_of_a_cell(bank, volts)}"
    for quantity in ("current", "string_current"):
        amps = [_now(one) for one in bank.guesses if one.quantity == quantity and one.sure >= SURE_ENOUGH]
        if amps:
            return f"{sum(amps):.1f} A flow into it{at}" if sum(amps) >= _FLOWS else ""
    cells = bank.cells
    if volts is None or not cells or _now(volts) < _ABOVE_REST * cells:
        return ""
    return f"it stands{at}, more than a bank at rest: something charges it, or did so just now"


def _of_a_cell(bank: Found, volts: Guess) -> str:
    return f" ({_now(volts) / bank.cells:.2f} V per cell)" if bank.cells else ""


def _now(one: Guess) -> float:
    """Return what a meter shows now, positive into the bank."""
    last = median(value for _, value in one.series[-_LAST:])
    return -last if one.sign == "discharging" else last


def tell_flows(console: Console, banks: Iterable[Found]) -> dict[str, str]:
    """Say which banks are charged now, that nobody watches it, and what to do; return what flows, by bank."""
    flowing = {bank.name: words for bank in banks if (words := flows_in(bank))}
    for name, words in flowing.items():
        console.print(f"{name} NOW: {words}. {UNWATCHED}", markup=False)
    return flowing


#: What is so while no bridge runs.
UNWATCHED = (
    "Until `revival run` runs nobody here watches that: no limit is looked at, nothing is told, nothing is cut. Stay "
    "with it, or switch the charger off until then"
)


def runs(loaded: Loaded) -> bool:
    """Tell whether a bridge runs on the file's journal."""
    try:
        ask(loaded.cabin.journal.path, {"ask": "status"})
    except BridgeError:
        return False
    return True
