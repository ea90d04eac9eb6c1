"""Too cold to charge: weak acid freezes a little below 0 degC, and a gravity counts only while it is surely true."""

from __future__ import annotations

from typing import NamedTuple

from rules.bank import Bank
from rules.bank_view import View, draws
from rules.hand import HandLog, latest_of_each
from rules.laws import freezing_point, rest_voltage
from rules.meters import Counters
from rules.safety.state import Finding

#: Weak acid is assumed where no gravity is known [1]; and so far above its freezing point it must be [K].
UNKNOWN_GRAVITY, FROST_MARGIN, STRONGEST_KNOWN = 1.05, 3.0, 1.28
#: Colder than this no bank is charged, however strong its acid [degC]; common practice, no source.
COLDEST_CHARGED = -20.0
#: A gravity tells how cold a cell may be for so long [s]: a warm flat cell loses some points a week by itself
#: (source 23: 0.001 a day at 80 degF).
GRAVITY_GOOD_FOR = 7 * 86400.0
#: Charge drawn after the reading that makes it untrue, as a share of the rating [1]: a tenth takes some 15 points.
DRAWN = 0.10
#: Volts per cell under what the acid would give at rest that contradict its gravity [V]: as much as 0.05 of gravity
#: make, more than meter, hydrometer and temperature are wrong together (common practice, no source).
CONTRADICTS = 0.05
#: Where the rest-voltage formula begins [1]; it goes on beyond the strongest acid that counts here.
WEAKEST = 1.035


class Acid(NamedTuple):
    """Gravity by which frost is judged [1], ``None`` where weak acid must be assumed, and why."""

    gravity: float | None
    why: str


def known_acid(bank: Bank, hand: HandLog, counters: Counters, view: View, rested: float, at: float) -> Acid:
    """Return the weakest gravity of the bank, if every cell has one that is young and that nothing since contradicts.

    Parameters
    ----------
    bank : Bank
        As joined now.
    hand : HandLog
        Hydrometer readings, and water added since.
    counters : Counters
        Charge drawn since.
    view : View
        The bank now.
    rested : float
        Volts per cell before the charger came on [V]; 0 where nobody saw it.
    at : float
        Now [s since the epoch].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0),),))
    >>> nothing = View(None, None, None, False, None, None, None, (), None, 0.0)
    >>> known_acid(bank, HandLog(), Counters(), nothing, 0.0, 0.0)
    Acid(gravity=None, why='no gravity of N1.1')
    """
    newest = latest_of_each(hand.gravities)
    weakest = STRONGEST_KNOWN
    for cell in bank.every_cell:
        reading = newest.get(cell)
        why = ""
        if reading is None:
            why = f"no gravity of {cell}"
        elif reading.gravity_corrected is None:
            why = f"{cell} could not be read"
        elif not reading.corrected:
            why = f"gravity of {cell} was read without its temperature"
        elif reading.why:  # doubted: under charge, too soon after it, or under unmixed water
            why = f"gravity of {cell} does not count yet: {reading.why}"
        elif at - reading.taken_at > GRAVITY_GOOD_FOR:
            why = f"gravity of {cell} is {(at - reading.taken_at) / 86400.0:.0f} days old"
        elif hand.watered.get(cell, 0.0) > reading.taken_at:
            why = f"water was added to {cell} after its gravity was read"
        elif counters.discharge - reading.discharge > DRAWN * bank.capacity:
            why = f"{counters.discharge - reading.discharge:.0f} Ah were drawn since the gravity of {cell} was read"
        if why or reading is None or reading.gravity_corrected is None:
            return Acid(None, why)
        weakest = min(weakest, reading.gravity_corrected)
    expected = at_rest(weakest)
    for volts in (_undisturbed(bank, view), rested or None):
        if volts is not None and volts < expected - CONTRADICTS:
            return Acid(None, f"{volts:.2f} V per cell contradict a gravity of {weakest:.3f}, {expected:.2f} V at rest")
    return Acid(weakest, f"gravity {weakest:.3f}")


def at_rest(gravity: float) -> float:
    """Return volts per cell that such acid [1] makes at rest [V]; acid too weak for the formula counts as its weakest.

    Examples
    --------
    >>> round(at_rest(1.265), 2)
    2.11
    """
    return rest_voltage(max(gravity, WEAKEST))


def _undisturbed(bank: Bank, view: View) -> float | None:
    """Return volts per cell that no load pulls down [V]; a charger can only lift them."""
    if draws(bank, view):
        return None
    return view.volts_per_cell


def coldest_to_charge(weakest_gravity: float | None) -> float:
    """Return the warmth from which a bank may be charged [degC]: freezing point of its weakest cell and a margin.

    Never under -20 degC: however strong its acid, so cold a bank is not charged.

    Examples
    --------
    >>> [round(coldest_to_charge(gravity), 1) for gravity in (None, 1.15, 1.265)]
    [0.2, -12.0, -20.0]
    """
    return max(COLDEST_CHARGED, freezes_at(weakest_gravity) + FROST_MARGIN)


def freezes_at(weakest_gravity: float | None) -> float:
    """Return where the acid of the weakest cell begins to freeze [degC]; unknown counts as weak acid.

    Examples
    --------
    >>> round(freezes_at(None), 1), round(freezes_at(1.15), 1)
    (-2.8, -15.0)
    """
    # Strong acid freezes far below any shed; the published points end at 1.280.
    gravity = UNKNOWN_GRAVITY if weakest_gravity is None else min(max(weakest_gravity, 1.0), STRONGEST_KNOWN)
    return freezing_point(gravity)


#: From here on no bank freezes, whatever its acid: water does not, and the margin is kept [degC].
WARM = coldest_to_charge(1.0)


def may_freeze(view: View) -> bool:
    """Tell whether the bank is so cold that its acid decides: warmer than this not even water freezes."""
    coldest = min([each for each in (view.temperature, view.temperature_case) if each is not None], default=WARM)
    return coldest < WARM


def frozen_risk(view: View, acid: Acid) -> Finding | None:
    """Find a bank colder than the freezing point of its weakest cell and a margin; unknown counts as weak acid."""
    if view.hottest is None:
        return None
    limit = coldest_to_charge(acid.gravity)
    coldest = min(each for each in (view.temperature, view.temperature_case) if each is not None)
    if coldest >= limit:
        return None
    known = acid.why if acid.gravity is not None else f"{acid.why}, so weak acid is assumed"
    return Finding(coldest, limit, "degC", known)
