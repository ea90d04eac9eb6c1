"""The electrical numbers of a plan: what to set, what each string gets, what halves give when joined."""

from __future__ import annotations

from math import exp, log

from rules.bank import REACHES, Bank
from rules.laws import end_voltage, finishing_current
from rules.plan.input import COMMON, Charger, Figure, Found
from rules.plan.strings import string_volts

#: First setting for a bank that blocks: 14.7 V on 6 cells [V]; common practice, no source.
WAKING_VOLTS = 2.45
#: No set-point is ordered closer to the limit that trips than this [V per cell]; common practice, no source.
UNDER_THE_LIMIT = 0.01
#: A half that has begun to wake rests at least here per cell [V]; common practice, no source.
WOKEN_REST = 2.05
#: What a barely woken half was given fades with this time constant [h]; cautious guess, no source.
FADING = 6.0


def resting_volts(found: Found) -> float | None:
    """Return resting volts of the bank: as measured, else the lowest string whose blocks were all measured.

    Parameters
    ----------
    found : Found
        The bank as found.

    Returns
    -------
    float or None
        [V].

    Examples
    --------
    >>> from rules.bank.model import Bank, Block
    >>> resting_volts(Found(Bank("n", ((Block("N1", 3, 225.0), Block("N2", 3, 225.0)),)), blocks={"N1": 4.1, "N2": 5}))
    9.1
    """
    if found.volts is not None:
        return found.volts
    return min(string_volts(found), default=None)


def hold_words(bank: Bank) -> str:
    """Return how long the bank is to be held, in words.

    Parameters
    ----------
    bank : Bank
        As configured.

    Returns
    -------
    str
        Range, or one number where it is a plain clock.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> hold_words(Bank("n", ((Block("N1", 6, 225.0),),)))
    '16 to 24 h'
    """
    least, most = bank.hold.minimum, bank.hold.maximum
    return f"{least:g} h" if least == most else f"{least:g} to {most:g} h"


def voltages(bank: Bank, found: Found, temperature: float | None) -> list[Figure]:
    """Return resting volts, today's volts, equalising volts, and where the capacity test ends.

    Parameters
    ----------
    bank : Bank
        As configured.
    found : Found
        The bank as found.
    temperature : float or None
        Of the electrolyte; 25 is taken where unknown [degC].

    Returns
    -------
    list of Figure
        In [V].

    Raises
    ------
    ValueError
        Never for a valid bank.
    """
    figures = []
    resting = resting_volts(found)
    if resting is not None:
        figures.append(
            Figure(
                "resting volts per cell",
                resting / bank.cells,
                "V",
                "resting volts / cells",
                {"resting [V]": resting, "cells": bank.cells},
                "measured",
            )
        )
    owner = bank.chargers[0].volts if bank.chargers else None
    most = (bank.limits.cell_voltage - UNDER_THE_LIMIT) * bank.cells
    # Where a charger ends as little below as chargers regulate, its own voltage is the one that is held.
    near = [each.volts for each in found.chargers if 0.0 < bank.equalise - each.volts / bank.cells <= REACHES]
    if any(each.volts >= bank.equalise * bank.cells for each in found.chargers):
        near = []
    hold = max(near, default=bank.equalise * bank.cells)
    figures.append(
        Figure(
            "volts to set today",
            min(owner if owner is not None else WAKING_VOLTS * bank.cells, hold, most),
            "V",
            ("the owner's first charger setting" if owner is not None else "2.45 V x cells (14.7 V on 6 cells)")
            + ", never above the equalising volts",
            {"cells": bank.cells},
            "the cabin file" if owner is not None else COMMON,
        )
    )
    at = 25.0 if temperature is None else temperature
    figures.append(
        Figure(
            "equalising volts",
            min(hold + (bank.equalise_at(at) - bank.equalise) * bank.cells, most),
            "V",
            "(equalise + compensation x (T - 25)) x cells, raised by cold at most to 2.72 V per cell, under the limit; "
            "where the charger ends within 0.01 V per cell below it, as the charger",
            {
                "equalise [V/cell]": bank.equalise,
                **({"charger [V]": hold} if near else {}),
                "compensation [V/K]": bank.compensation,
                "T [degC]": at,
                "cells": bank.cells,
            },
            "the cabin file; default 2.67 V per cell is " + COMMON,
        )
    )
    figures.append(
        Figure(
            "amps enough for equalising",
            finishing_current(min(bank.string_capacities)) * len(bank.strings),
            "A",
            "0.06 x C20 x strings, above 2.40 V per cell",
            {"C20 [Ah]": min(bank.string_capacities), "strings": len(bank.strings)},
            COMMON,
        )
    )
    figures.append(
        Figure(
            "amps of the capacity test",
            bank.capacity / 20.0,
            "A",
            "C20 / 20 h",
            {"C20 [Ah]": bank.capacity},
            "the rating's own current",
        )
    )
    figures.append(
        Figure(
            "end of the capacity test",
            end_voltage(bank.cells),
            "V",
            "1.75 V x cells, or the first cell at 1.65 V",
            {"cells": bank.cells},
            "US Navy NAVEDTRA 14113; US Bureau of Reclamation FIST 3-6",
        )
    )
    return figures


def rejoining(bank: Bank, charger: Charger, resting: float) -> list[Figure]:
    """Return volts after two separately woken halves are joined, and how long they hold above the charger's threshold.

    The worst case: the first half barely woke and fades while the second charges for 24 h.

    Parameters
    ----------
    bank : Bank
        As configured.
    charger : Charger
        For the whole bank.
    resting : float
        As found [V].

    Returns
    -------
    list of Figure
        In [V] and [h].

    Raises
    ------
    ValueError
        Never for a valid bank.
    """
    found = min(resting / bank.cells, WOKEN_REST)
    half = bank.cells / 2
    faded = found + (WOKEN_REST - found) * exp(-24.0 / FADING)
    worst, best = half * (faded + WOKEN_REST), bank.cells * WOKEN_REST
    joined = Figure(
        "volts after rejoining",
        worst,
        "V",
        "cells/2 x (faded + 2.05), faded = found + (2.05 - found) x exp(-24 h / 6 h); up to cells x 2.05 if both woke",
        {"found [V/cell]": found, "cells": bank.cells},
        "cautious guess; " + COMMON,
        best,
    )
    floor, starts = found * bank.cells, charger.starts_at or 0.0
    hours = [
        FADING * log((volts - floor) / (starts - floor)) if volts > starts > floor else 0.0 for volts in (worst, best)
    ]
    lasts = Figure(
        "hours above the start threshold",
        hours[0],
        "h",
        "6 h x ln((joined - found) / (threshold - found))",
        {"joined [V]": worst, "found [V]": floor, "threshold [V]": starts},
        "cautious guess; " + COMMON,
        hours[1],
    )
    return [joined, lasts]
