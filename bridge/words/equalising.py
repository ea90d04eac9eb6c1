"""What is said where no charger reaches the voltage of the hold, or the bank is equalised at a low one."""

from __future__ import annotations

from rules.bank import HARD_SULFATE, LEAST_EQUALISE, Bank


def mild(volts: float) -> str:
    """Return what a low equalising voltage [V per cell] leaves undone; empty where it is not low.

    >>> mild(2.5)
    '2.5 V per cell is low: below about 2.55 V at 25 degC the hard sulfate may stay, however long it is held'
    >>> mild(2.6)
    ''
    """
    if volts >= HARD_SULFATE:
        return ""
    return (
        f"{volts:.3g} V per cell is low: below about {HARD_SULFATE:g} V at 25 degC the hard sulfate may stay, however "
        "long it is held"
    )


def out_of_reach(bank: Bank) -> str:
    """Return that the hold cannot begin with these charger settings, and what to type; empty where it can."""
    if not bank.out_of_reach:
        return ""
    highest = max(charger.volts for charger in bank.chargers)
    each = highest / bank.cells
    lower = ""
    if each >= LEAST_EQUALISE:
        but = ", at which the hard sulfate may stay" if each < HARD_SULFATE else ""
        lower = f', or equalise at its own voltage by `revival setup --equalise "{highest:g} V"`{but}'
    return (
        f"the hold cannot begin: no charger setting reaches the equalising voltage, {bank.equalise * bank.cells:.1f} V "
        f"({bank.equalise:g} V per cell); the highest is {highest:g} V ({each:.2f} V per cell). List the setting that "
        f"reaches it by `revival setup --charger`{lower}"
    )
