"""The strings of a plan: what each may take, what each gets, and what flows between them when they are joined."""

from __future__ import annotations

from rules.bank import Bank
from rules.laws import string_shares
from rules.plan.input import COMMON, Charger, Figure, Found
from rules.safety import OVER_CURRENT_FACTOR, OVER_CURRENT_SECONDS

#: Resistance of a sound cell while it charges, times its capacity [ohm Ah]; source 9.
RESISTANCE = 0.42


def string_limits(bank: Bank, charger: Charger, amps: float) -> list[Figure]:
    """Return amps that the strings may take, what to set, and what each string then gets.

    Parameters
    ----------
    bank : Bank
        As wired.
    charger : Charger
        That will be used.
    amps : float
        To set today [A].

    Returns
    -------
    list of Figure
        In [A].

    Raises
    ------
    ValueError
        Never for a valid bank.
    """
    count = len(bank.strings)
    own = bank.limits.string_current is not None
    limit = Figure(
        "string limit",
        bank.string_current_limit,
        "A",
        "as the owner set it" if own else "min(30 A, 0.13 x C20 of the smallest string)",
        {"C20 [Ah]": min(bank.string_capacities)},
        "the cabin file" if own else COMMON,
    )
    today = Figure(
        "amps to set today",
        amps,
        "A",
        "least of: what the charger gives, string limit x strings, the owner's setting, what outlet and openings carry",
        {"charger [A]": charger.amps, "string limit [A]": bank.string_current_limit, "strings": count},
        COMMON,
    )
    share = Figure(
        "amps per string",
        amps / count,
        "A",
        "amps / strings, if they share evenly; while waking they do not, so measure each with a clip-on meter",
        {"amps [A]": amps, "strings": count},
        "Kirchhoff's law",
    )
    trip = Figure(
        "over-current in a string, from",
        OVER_CURRENT_FACTOR * bank.string_current_limit,
        "A",
        f"1.25 x string limit for {OVER_CURRENT_SECONDS:.0f} s; between the two it is flagged",
        {"string limit [A]": bank.string_current_limit},
        COMMON,
    )
    return [limit, trip, today, share]


def half_amps(bank: Bank, small: Charger, carried: float) -> Figure:
    """Return amps for one half alone: once it wakes it takes all that it is offered.

    Parameters
    ----------
    bank : Bank
        As configured.
    small : Charger
        For a half.
    carried : float
        What the outlet allows it to give [A].

    Returns
    -------
    Figure
        In [A].
    """
    limit = bank.string_current_limit * len(bank.strings)
    return Figure(
        "amps for a half",
        min(small.amps, limit, carried),
        "A",
        "least of: what the small charger gives, string limit x strings, what the outlet carries",
        {"charger [A]": small.amps, "string limit [A]": bank.string_current_limit, "outlet carries [A]": carried},
        COMMON,
    )


def string_volts(found: Found) -> list[float]:
    """Return resting volts of each string whose blocks were all measured, in the order of the bank.

    Parameters
    ----------
    found : Found
        The bank as found.

    Returns
    -------
    list of float
        [V].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> string_volts(Found(Bank("n", ((Block("N1", 3, 225.0),), (Block("N2", 3, 225.0),))), blocks={"N1": 6.1}))
    [6.1]
    """
    return [
        sum(found.blocks[block.label] for block in string)
        for string in found.bank.strings
        if all(block.label in found.blocks for block in string)
    ]


def joining(found: Found) -> list[Figure]:
    """Return amps that flow between parallel strings when they are joined, before any charger runs.

    Parameters
    ----------
    found : Found
        The bank as found.

    Returns
    -------
    list of Figure
        In [A] and [V]; none for a single string, or where a block was not measured or reads backwards.

    Raises
    ------
    ValueError
        Never for a valid bank.

    Notes
    -----
    Sound cells are taken, source 9; hard sulfate lets less through.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> twin = Bank("n", tuple(tuple(Block(f"{s}{n}", 3, 225.0) for n in range(4)) for s in "AB"))
    >>> volts = {f"{s}{n}": v for s, v in (("A", 6.2), ("B", 5.7)) for n in range(4)}
    >>> [round(figure.value, 1) for figure in joining(Found(twin, blocks=volts))]
    [44.6, 1.3]
    """
    bank = found.bank
    volts = string_volts(found)
    if len(bank.strings) <= 1 or len(volts) < len(bank.strings) or min(found.blocks.values()) < 0.0:
        return []
    ohms = [bank.cells * RESISTANCE / capacity for capacity in bank.string_capacities]
    most = max(abs(amps) for amps in string_shares(0.0, volts, ohms).currents)
    apart = 2.0 * min(ohms) * bank.string_current_limit
    inputs: dict[str, float | str] = {
        "strings rest at [V]": ", ".join(f"{each:.2f}" for each in volts),
        "R [ohm]": ", ".join(f"{each:.4f}" for each in ohms),
    }
    law = "Kirchhoff's law; resistance of sound cells as in J. Schiffer et al. 2007"
    return [
        Figure(
            "amps between strings when joined",
            most,
            "A",
            "(V - E) / R of each string, V = sum(E / R) / sum(1 / R), R = 0.42 ohm Ah x cells / C20",
            inputs,
            law,
        ),
        Figure(
            "volts that strings may rest apart",
            apart,
            "V",
            "string limit x 2 R",
            {"string limit [A]": bank.string_current_limit, "R [ohm]": min(ohms)},
            law,
        ),
    ]
