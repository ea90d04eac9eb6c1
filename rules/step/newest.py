"""What the newest values say against an act that lets the relay close."""

from __future__ import annotations

from rules.bank import Bank
from rules.bank_view import View
from rules.safety import against_closing, over_now
from rules.step.memory import Memory, view_of


def over_words(bank: Bank, memory: Memory, at: float, *, closing: bool = True, view: View | None = None) -> str:
    """Say which newest value passes its limit at this moment [s since the epoch]; empty where none does.

    Parameters
    ----------
    bank : Bank
        As joined now.
    memory : Memory
        So far.
    at : float
        [s since the epoch].
    closing : bool
        The relay may close by this act; a reset alone closes none.
    view : View or None
        What the meters show, where it was looked at already.
    """
    seen = view_of(bank, memory, at) if view is None else view
    over = over_now(bank, memory.meters, seen, memory.pending, at, closing=closing)
    return "" if over is None else against_closing(over[1])
