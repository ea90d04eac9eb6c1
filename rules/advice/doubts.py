"""Why nobody may be told to turn anything up or to wait: something is warm, suspect, or not seen."""

from __future__ import annotations

from collections.abc import Collection

from rules.advice.charger_now import ChargerNow
from rules.bank import Bank
from rules.bank_view import View

#: Flags that say warm, and those that say that a meter cannot be believed.
WARM = frozenset({"temperature-high", "temperature-rising-fast"})
SUSPECT = frozenset({"meter-suspect", "mapping-suspect", "sensors-disagree"})


def doubts(bank: Bank, view: View, now: ChargerNow, flags: Collection[str]) -> tuple[str, tuple[str, ...]]:
    """Return the worst doubt (warm, suspect, unseen or nothing), and the quantities that nobody sees.

    Parameters
    ----------
    bank : Bank
        Where warm begins.
    view : View
        Fresh readings.
    now : ChargerNow
        Whether a current is known.
    flags : collection of str
        Raised flags.
    """
    unseen = []
    if view.hottest is None:
        unseen.append("electrolyte_temperature")
    if view.voltage is None:
        unseen.append("voltage")
    if not now.metered:
        unseen.append("current")
    warm = view.hottest is not None and view.hottest >= bank.limits.temperature_warning
    if warm or not WARM.isdisjoint(flags):
        return "warm", tuple(unseen)
    if not SUSPECT.isdisjoint(flags):
        return "suspect", tuple(unseen)
    return ("unseen" if unseen else ""), tuple(unseen)
