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


def beside(bank: Bank) -> str:
    """Return how the charger's highest setting counts where it is another voltage than the equalising one.

    >>> from rules.bank import Block, ChargerSetting
    >>> def said(volts):
    ...     return beside(Bank("b", ((Block("N1", 24, 225.0),),), chargers=(ChargerSetting(volts, 30.0),)))
    >>> said(64.0), said(64.1), said(66.0), said(60.0)
    (", as which the charger's 64 V count", '', ', and the charger goes up to 66 V: set it no higher in the hold', '')
    """
    wanted, own = bank.equalise * bank.cells, max((charger.volts for charger in bank.chargers), default=0.0)
    if not own or bank.out_of_reach or f"{own:.1f}" == f"{wanted:.1f}":
        return ""
    if own < wanted:
        return f", as which the charger's {own:g} V count"
    return f", and the charger goes up to {own:g} V: set it no higher in the hold"


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
