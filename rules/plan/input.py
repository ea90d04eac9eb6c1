"""What a plan is made from and what it is made of."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from rules.bank import Bank
from rules.laws import CORRECTED

#: Where a figure rests on what the trade does and nothing printed.
COMMON = "common practice, no source"


#: Mains of a household outlet [V]: nominal in North America (ANSI C84.1) and in most other countries (IEC 60038).
MAINS = (120.0, 230.0)
#: A room counts as so warm while the thermometer of its air has not spoken [degC]: the shade of a hot summer day;
#: common practice, no source.
WARM_ROOM = 30.0


class Charger(NamedTuple):
    """A charger at hand.

    Attributes
    ----------
    name : str
        For the steps.
    volts : float
        Highest setting [V].
    amps : float
        What it can give [A].
    starts_at : float or None
        Lowest bank voltage at which it begins to charge [V]; None = nobody has said, and the plan asks.
    power_factor, efficiency : float
        Of its AC side [1].
    fixed : bool
        Volts and amps cannot be set: it gives what it gives.
    """

    name: str
    volts: float
    amps: float
    starts_at: float | None = None
    power_factor: float = CORRECTED.power_factor
    efficiency: float = CORRECTED.efficiency
    fixed: bool = False

    def starts_on(self, volts: float) -> bool:
        """Tell whether it may start on a bank at rest at so many volts [V]; not ruled out where nobody has said."""
        return self.starts_at is None or self.starts_at <= volts


class Found(NamedTuple):
    """A bank as it was found.

    Attributes
    ----------
    bank : Bank
        As configured.
    chargers : tuple of Charger
        That may be used on it.
    blocks : dict
        Block label -> resting volts, negative where it reads backwards [V].
    volts : float or None
        Resting volts of the whole bank, where blocks were not measured [V].
    gravity : float or None
        Lowest corrected gravity of any cell [1].
    reserve : float or None
        Lowest level above the plates [mm].
    sealed : bool
        Sealed, gel or AGM.
    probe : str
        ``cell`` or ``case``: where the temperature probe sits.
    tripped : str
        The trip that stands, in words; nothing is ordered for the bank before it is reset. Empty where none does.
    """

    bank: Bank
    chargers: tuple[Charger, ...] = ()
    blocks: Mapping[str, float] = {}
    volts: float | None = None
    gravity: float | None = None
    reserve: float | None = None
    sealed: bool = False
    probe: str = "case"
    tripped: str = ""


class PlanInput(NamedTuple):
    """Everything a plan may know; what is ``None`` is asked for instead of guessed.

    Attributes
    ----------
    found : tuple of Found
        One per bank.
    outlet_amps : float or None
        Breaker of the AC outlet [A].
    outlet_volts : float or None
        Mains there [V]; where nobody said it the plan is made for both that are usual, `MAINS`.
    shed_volume : float or None
        Free volume of the room [m^3].
    ambient : float or None
        Air in the room [degC].
    hours_a_day : float
        How long power is there each day [h].
    opening : float or None
        Of the openings that the owner has, one low and one high, each [cm^2].
    unheard : bool
        The air has a thermometer that has not spoken: where `ambient` is unknown the hold is reckoned for a warm room.
    """

    found: tuple[Found, ...]
    outlet_amps: float | None = None
    outlet_volts: float | None = None
    shed_volume: float | None = None
    ambient: float | None = None
    hours_a_day: float = 24.0
    opening: float | None = None
    unheard: bool = False


class Figure(NamedTuple):
    """One number of a plan and why it is what it is.

    Attributes
    ----------
    name : str
        For people.
    value : float
        In `unit`.
    unit : str
        Canonical.
    formula : str
        In words and symbols.
    inputs : dict
        What went in, with units in the names.
    source : str
        Published source, or common practice.
    high : float or None
        Upper end where the figure is a range, in `unit`.
    """

    name: str
    value: float
    unit: str
    formula: str
    inputs: Mapping[str, float | str]
    source: str
    high: float | None = None


class BankPlan(NamedTuple):
    """The plan of one bank.

    Attributes
    ----------
    bank : str
        Id.
    stop : tuple of str
        Why it must not be charged as it is; empty when it may.
    missing : tuple of str
        What to measure or tell, so that the plan can say more.
    figures : tuple of Figure
        Every number.
    steps : tuple of str
        What to do with this bank, in order.
    """

    bank: str
    stop: tuple[str, ...]
    missing: tuple[str, ...]
    figures: tuple[Figure, ...]
    steps: tuple[str, ...]

    def figure(self, name: str) -> Figure:
        """Return the figure of that name; KeyError where the plan could not work it out."""
        for figure in self.figures:
            if figure.name == name:
                return figure
        raise KeyError(name)


class Plan(NamedTuple):
    """The plan for the whole cabin.

    Attributes
    ----------
    order : tuple of str
        Bank ids, the one to wake first at the front.
    queue : tuple of str
        The same in words, with days.
    banks : tuple of BankPlan
        In that order.
    common : tuple of str
        Steps that are the same for every bank.
    lay_out : tuple of str
        What to have ready.
    checklist : tuple of (str, str)
        Key and line; all of them are confirmed before a start.
    cautions : tuple of str
        Read before the charger is switched on.
    """

    order: tuple[str, ...]
    queue: tuple[str, ...]
    banks: tuple[BankPlan, ...]
    common: tuple[str, ...]
    lay_out: tuple[str, ...]
    checklist: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
