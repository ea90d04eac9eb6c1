"""Why nobody may be told to turn anything up or to wait: something is warm, suspect, not seen or not so."""

from __future__ import annotations

from collections.abc import Collection

from rules.advice.charger_now import HELD_UP, ChargerNow
from rules.bank import Bank
from rules.bank_view import View
from rules.phase import THRESHOLDS

#: Flags that say warm, and those that say that a meter cannot be believed.
WARM = frozenset({"temperature-high", "temperature-rising-fast"})
SUSPECT = frozenset({"meter-suspect", "mapping-suspect", "sensors-disagree"})


def blocks(volts: float | None, amps: float | None, ceiling: float, capacity: float) -> bool:
    """Tell whether the meters show covered plates: a charger's full volts, and hardly any amps.

    Parameters
    ----------
    volts, amps : float or None
        Voltage per cell and current, as seen now [V, A].
    ceiling : float
        Of the charger [V per cell]; 0 = not known.
    capacity : float
        Rated, of the whole bank [Ah].

    Examples
    --------
    A bank of 200 Ah takes 4 A at 2.45 V per cell, and 12.7 A at 2.26 V:

    >>> blocks(2.45, 4.0, 2.45, 200.0), blocks(2.26, 12.7, 0.0, 200.0)
    (True, False)
    """
    if volts is None or amps is None or volts < max(HELD_UP, ceiling - THRESHOLDS.below_ceiling.value):
        return False
    return amps < THRESHOLDS.peak_least.value * capacity


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
