"""Which lines of the start checklist the meters, or what people noted, contradict."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from rules.advice import HELD_UP
from rules.bank import Bank
from rules.meters import LARGEST_ZERO, charging_threshold

#: A flag of what was noted -> the line that it contradicts.
_NOTED = {
    "level-wrong": "levels",
    "plates-bare": "levels",
    "polarity-reversed": "polarity",
    "case-damaged": "whole",
    "connection-bad": "joints",
}


#: Where no relay is and the list is caught up with: what it cannot show now, and what keeps hands off the posts.
LATE = "its zero cannot be seen while it charges, and until the charger is off nobody touches the posts"


class Doubt(NamedTuple):
    """A line of the checklist that is contradicted: its key, by what, and whether it cannot be confirmed so.

    What is unseen cannot be looked at now: it counts by who saw it before the charger came on.
    """

    line: str
    why: str
    forbids: bool
    unseen: bool = False


def checklist_doubts(
    bank: Bank, current: float | None, volts_per_cell: float | None, relay_open: bool, raised: Mapping[str, str]
) -> tuple[Doubt, ...]:
    """Return which lines of the start checklist cannot be true, or are doubtful, by what is seen now.

    Parameters
    ----------
    bank : Bank
        As joined now.
    current : float or None
        Into the bank [A].
    volts_per_cell : float or None
        [V].
    relay_open : bool
        The relay reports open: then even high volts are only the surface charge of a while ago.
    raised : mapping
        Flag name -> why it is up.

    Returns
    -------
    tuple of Doubt
        Those that forbid a confirmation in front. A current that may be an error of the meter's zero forbids none.

    Examples
    --------
    >>> from rules.bank.model import Block, Relay
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),), relay=Relay())
    >>> checklist_doubts(bank, 8.0, 2.2, False, {})[0].why
    '8.0 A flow into the bank: switch the charger off at the wall, then walk round'
    >>> [(doubt.line, doubt.forbids) for doubt in checklist_doubts(bank, -3.0, 2.1, False, {})]
    [('loads', False)]
    """
    found = [Doubt(line, raised[flag], True) for flag, line in _NOTED.items() if flag in raised]
    least = charging_threshold(bank.capacity)
    # Without a relay a round begins by itself, and its list is caught up with while it charges: said, not refused.
    switched = bank.relay is not None
    # Volts that a person noted may be hours old.
    held_up = "voltage" in bank.by_quantity and volts_per_cell is not None and volts_per_cell >= HELD_UP
    off = "switch the charger off at the wall, then walk round" if switched else LATE
    if current is not None and current > LARGEST_ZERO * bank.capacity:
        found.append(Doubt("meters", f"{current:.1f} A flow into the bank: {off}", switched, not switched))
    elif held_up and not relay_open:
        found.append(
            Doubt(
                "meters", f"{volts_per_cell:.2f} V per cell, which only a charger holds: {off}", switched, not switched
            )
        )
    elif current is not None and current >= least:
        found.append(Doubt("meters", f"it shows {current:.1f} A into the bank", False))
    elif current is not None and current <= -least:
        found.append(Doubt("loads", f"{-current:.1f} A flow out of the bank", False))
    return tuple(found)
