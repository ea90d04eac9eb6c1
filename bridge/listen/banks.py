"""From single guesses to banks: whose each number is, told by its own company and by physics, never by a path's number.

A bank is a voltage that could be one and has amps of its own. What stands beside mains, a lithium pack or a machine is
theirs; what tracks a bank without amps of its own is a second look at it (an inverter's or a solar controller's
terminals); what does neither is a stranger (a starter battery).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import pairwise
from statistics import median
from typing import NamedTuple

from bridge.listen.charge import counts_charge, is_sum_of
from bridge.listen.copies import without_copies
from bridge.listen.counts import counted
from bridge.listen.evidence import HALF_BELIEVED, SURE_ENOUGH
from bridge.listen.guess import (
    LEAD_CELL,
    LITHIUM_CELL,
    MAINS,
    Guess,
    all_words,
    cells_of,
    digit_of,
    guess,
    may_be_tenths,
    settle_scale,
    told,
)
from bridge.listen.members import settled, singled
from bridge.listen.names import words_of
from bridge.listen.offer import worth_asking
from bridge.listen.physics import answers, moves_together, ratio, watts_agree
from bridge.listen.places import nearness, path, shared, strange
from bridge.listen.settle import CHARGING_ABOVE, is_half
from bridge.listen.shape import Shape, family_names
from bridge.listen.source import Source
from bridge.listen.sums import with_parts
from bridge.listen.triples import told_by_watts
from bridge.listen.unnamed import called_alike, listed_cells, unnamed_beside
from bridge.listen.vocabulary import (
    AC,
    ACID_ITSELF,
    BATTERY,
    CIRCUITS,
    DC,
    DISPLAYS,
    ELECTROLYTE,
    EMPTY,
    FULLNESS,
    GUARDS,
    MACHINES,
    MEASURED,
    STORES,
    TARGETS,
    THINGS,
)
from rules.bank import QUANTITIES

#: Two meters on one bank agree within this share: cables drop up to 80 mV a cell (assumed).
_SAME_BANK = 0.04
#: Larger numbers are millivolts of a cell [V]; so many cells in one place make a pack [1] (assumed).
_MILLIVOLTS, _LITHIUM_CELLS = 1000.0, 3
#: A ratio is a whole number from two and a half on, within this share [1] (assumed).
_SEVERAL, _WHOLE_WITHIN = 2.5, 0.02
#: A voltage moves as its amps do from this correlation on [1] (assumed: of invented houses' banks 0.78 and more, of
#: converters and panels, which go their own way, 0.52 at most).
_TOGETHER = 0.7
#: So many banks that are called alike make another one called so a bank as well [1] (assumed: of one alone a board's
#: other channel could be a panel's).
_FELLOWS = 2
#: What a display shows of a bank; it shows it so many times less often than it is told [1]; rounding (assumed).
_REPEATED, _OFTENER, _NOTHING = frozenset({"voltage", "current", "power", "electrolyte_temperature"}), 3.0, 1e-9
#: So many steps that the volts answered are no chance [1] (assumed).
_ANSWERED = 2
#: Full [%]; volts of a lithium cell of the kind that vehicles and tools have by how full it is, standing or nearly so,
#: within so much [%], [V] (a textbook's curve, from memory), and their cells in series.
_FULL, _NEAR_IT = 100.0, 0.06
_BY_LEVEL = ((0.0, 3.2), (10.0, 3.5), (20.0, 3.59), (50.0, 3.72), (70.0, 3.88), (90.0, 4.07), (100.0, 4.19))
_PACKS = (7, 10, 13, 14, 16, 17, 20)
#: What stands at a bank's terminals as a rule.
_AT_A_BANK = frozenset({"shunt"})
#: What a bank is called whose topics give it no name.
UNNAMED = "bank"
FAHRENHEIT = {"degF", "F", "°F", "℉", "fahrenheit", "Fahrenheit"}


class Found(NamedTuple):
    """A bank as it was overheard: its name, its guesses, and how it is built where its parts tell."""

    name: str
    guesses: tuple[Guess, ...]
    shape: Shape = Shape()

    @property
    def voltage(self) -> Guess | None:
        """The bank's own voltage."""
        return max((one for one in self.guesses if one.quantity == "voltage"), key=lambda one: one.sure, default=None)

    @property
    def cells(self) -> int | None:
        """In series, by the voltage."""
        possible = () if self.voltage is None else cells_of(self.voltage.value)
        return possible[0] if possible else None


def degrees_of(found: Iterable[Found]) -> str:
    """Return the scale of every thermometer that is surely one: "degF", or empty for the usual."""
    live = [one for bank in found for one in bank.guesses if one.sure >= SURE_ENOUGH]
    said = {one.unit or one.source.unit for one in live if QUANTITIES[one.quantity].unit == "degC"}
    return "degF" if said and said <= FAHRENHEIT else ""


def recognise(sources: Iterable[Source]) -> list[Found]:
    """Guess every source, find the banks, and give each what is its own, the surest first."""
    every = list(sources)
    guesses, heard = without_copies([one for source in every if (one := guess(source)) is not None], every)
    guesses = counted(_in_this_house(guesses + told_by_watts(heard, guesses), heard))
    guesses = _as_watched(with_parts(guesses, heard))
    volts = _bank_volts(guesses, heard)
    banks = [one for one in volts if one.sure >= SURE_ENOUGH]
    # without a sure one the likeliest is asked about, if it can be a bank at all: a drive's hundreds of volts cannot
    banks = banks or [one for one in volts[:1] if cells_of(one.value)]
    others = [one for one in guesses if one.source not in [bank.source for bank in banks]]
    others = [next((one for one in volts if one.source is other.source), other) for other in others]
    if not banks:
        return [Found(UNNAMED, tuple(_without_volts(list(singled(others, None)))))]
    owned: list[list[Guess]] = [unnamed_beside(bank, heard, guesses) for bank in banks]
    for one in (*others, *listed_cells(banks, heard, guesses)):
        place, claimed = _owner(one, banks, guesses, volts)
        owned[place].append(claimed)
    names = _names(banks)
    found: list[Found] = []
    placed: list[Guess] = []
    for name, bank, group in zip(names, banks, owned, strict=True):
        own, shape = settled(bank, group)
        own += called_alike(own, heard, [*guesses, *own, *placed])
        placed += own
        asked = worth_asking(_without_volts(own), bank)
        found.append(Found(name, tuple(sorted(asked, key=lambda one: -one.sure)), shape))
    return found


def _without_volts(own: list[Guess]) -> list[Guess]:
    """Doubt what belongs to a bank whose voltage nobody is sure of: nothing proves whose it is.

    Where no voltage is heard at all, a temperature called the acid's is a bank's all the same.
    """
    volts = [one for one in own if one.quantity == "voltage"]
    if any(one.sure >= SURE_ENOUGH and cells_of(one.value) for one in volts):
        return own
    why = "no voltage of its bank is known: of which bank, or of another thing?"
    doubted = {"current", "power", "string_current"} | (set(QUANTITIES) - {"voltage"} if volts else set())
    return [one.because("no volts", why) if one.quantity in doubted else one for one in own]


def _nearest(one: Guess, volts: list[Guess]) -> list[Guess]:
    """Return the voltages that stand nearest to it."""
    beside = [other for other in volts if other.source is not one.source and not strange(one.source, other.source)]
    most = max((nearness(one.source, other.source) for other in beside), default=(0, 0))
    return [other for other in beside if nearness(one.source, other.source) == most]


def _all_volts(guesses: list[Guess]) -> list[Guess]:
    return [one for one in guesses if one.quantity in {"voltage", "ac_voltage"}]


def _in_this_house(guesses: list[Guess], heard: list[Source]) -> list[Guess]:
    """Weigh what the rest of the broker says: where it says Fahrenheit a bare 27.4 is no Celsius.

    Air beside which a target stands is what a thermostat holds, and a bank's only if its owner says so.
    """
    held = {one.place for one in heard if one.place and _is_a_target(one)}
    guesses = [
        one.because("whose", "a target stands beside it: what a thermostat holds, or the bank's air?")
        if one.quantity == "ambient_temperature" and one.source.place in held
        else one
        for one in guesses
    ]
    fahrenheit = any(source.units & FAHRENHEIT or source.unit in FAHRENHEIT for source in heard)
    if not fahrenheit:
        return guesses
    why = "other thermometers on this broker say Fahrenheit"
    return [
        one.because("others say Fahrenheit", why) if any(e.name == "Celsius by size" for e in one.evidence) else one
        for one in guesses
    ]


def _as_watched(guesses: list[Guess]) -> list[Guess]:
    """Return the guesses without the doubt of a machine's battery where somebody watches it as a bank.

    A starter's volts are told alone; amps of its own, their product, and a half, acid or parts make it a bank.
    """
    watched: set[int] = set()
    for volts in guesses:
        if volts.quantity != "voltage" or not _is_a_machines(volts) or not cells_of(volts.value):
            continue
        beside = [one for one in guesses if one.source.place and one.source.place == volts.source.place]
        amps = [one for one in beside if one.quantity == "current"]
        watts = [one for one in beside if one.quantity == "power"]
        parts = any(
            one.quantity in {"block_voltage", "cell_voltage", "midpoint_voltage"} or one.words & ACID_ITSELF
            for one in beside
        )
        if parts and any(watts_agree(volts.series, one.series, power.series) for one in amps for power in watts):
            watched |= {id(one) for one in beside if not one.words & (THINGS - MACHINES)}
    return [_without_machine(one) if id(one) in watched else one for one in guesses]


def _is_a_machines(one: Guess) -> bool:
    return any(e.name == "another machine's battery" for e in one.evidence)


def _without_machine(one: Guess) -> Guess:
    doubts = {"another machine's battery", "another thing"}
    return one._replace(evidence=tuple(e for e in one.evidence if e.name not in doubts))


def _is_a_target(source: Source) -> bool:
    """Tell whether a number is called what a controller holds another one at."""
    spoken = [word for word in words_of(f"{source.levels} {source.at}") if word not in EMPTY]
    return bool(TARGETS & set(spoken[-1:]))


def _bank_volts(guesses: list[Guess], heard: list[Source]) -> list[Guess]:
    """Return every voltage that could be a bank's, with what its company says, the likeliest first."""
    volts = _all_volts(guesses)
    lithium = _lithium_places(heard)
    marked = [_kind_of_volts(one, lithium) for one in volts if one.quantity == "voltage"]
    marked = [_as_half(one, marked) for one in marked]
    amps = [one for one in guesses if one.quantity == "current" and one.sure > HALF_BELIEVED]
    likely = [one for one in marked if one.sure >= HALF_BELIEVED and cells_of(one.value)]
    acid = [one for one in guesses if one.quantity == "electrolyte_temperature" and one.words & ELECTROLYTE]
    cells = [one for one in guesses if one.quantity == "cell_voltage" and LEAD_CELL[0] <= one.value <= LEAD_CELL[1]]
    halves = volts + [one for one in guesses if one.quantity == "midpoint_voltage"]
    powers = [one for one in guesses if one.quantity == "power"]
    charges = [(source, each) for source in heard if (each := counts_charge(source)) is not None]
    machines = [one for one in marked if one not in likely and cells_of(one.value)]
    machines = [one for one in machines if _is_a_machines(one)]
    flows = {one.source.place for one in guesses if one.quantity == "current"}
    machines = [one for one in machines if one.source.place in flows]
    company: dict[int, Company] = {}
    for one in likely:
        mine = _own_amps(one, amps, volts)
        shown = _has_beside(one, likely, acid) or _has_beside(one, likely, cells)
        company[id(one)] = Company(
            one,
            mine,
            named=bool(one.words & (BATTERY | STORES)),
            shown=shown or (mine is not None and _follows_a_battery(one, mine)),
            charged=mine is not None and _charged(one, mine),
            parts=any(e.name == "sums agree" for e in one.evidence),
            halved=any(is_half(other, one) for other in halves),
            watts=mine is not None and any(_product(one, mine, power, volts) for power in powers),
            counted=mine is not None and _counted(one, mine, likely, charges),
            finer=_told_elsewhere(one, guesses),
            machine=next((other for other in machines if _through_another(one) and _tracks(one, other)), None),
            pack=next((f"{level:g} %" for level in _levels(one, heard) if _as_lithium(one.value, level)), ""),
        )
    company = {key: one._replace(fellows=_among_banks(one, company.values())) for key, one in company.items()}
    banks = [one for one in company.values() if one.amps is not None and one.is_a_banks]
    several = bool(banks) or len(_apart([one.volts for one in company.values() if one.amps is not None])) > 1
    several = several or _others_battery([one for one in marked if one not in likely], guesses)
    watched = [_called(_with_company(company[id(one)], company), company[id(one)], several) for one in likely]
    rest = [one for one in marked if one not in likely]
    return sorted(watched + rest, key=lambda one: (-one.sure, -sum(e.weight for e in one.evidence)))


class Company(NamedTuple):
    """What stands beside a voltage that could be a bank's, and what that proves.

    Attributes
    ----------
    volts, amps : Guess
        The voltage, and its own current.
    named, shown, charged, parts, halved, watts, counted, fellows : bool
        Called a battery's; beside acid or a cell of lead, or following a battery's amps; moving as its amps do on
        charge; the sum of parts; with a midpoint beside it; with its amps a power; of amps whose hours are counted;
        called as several banks are, but for a number.
    pack : str
        How full it is told to be, where a lithium pack that is so full has its volts; else empty.
    finer : frozenset of str
        Topics that tell all that stands beside it as finely, and much more often.
    machine : Guess, optional
        The volts of a machine's battery with amps of its own, at which this looks through another thing.
    """

    volts: Guess
    amps: Guess | None
    named: bool
    shown: bool
    charged: bool
    parts: bool
    halved: bool
    watts: bool
    counted: bool
    pack: str = ""
    fellows: bool = False
    finer: frozenset[str] = frozenset()
    machine: Guess | None = None

    @property
    def is_a_banks(self) -> bool:
        """Whether more speaks for a bank than that it could be one."""
        return self.named or self.proved

    @property
    def proved(self) -> bool:
        """Whether more than a name speaks for a bank."""
        return self.shown or self.charged or self.parts or self.halved or self.counted or self.fellows

    @property
    def rank(self) -> tuple[bool, bool, bool, bool, float]:
        """The higher, the more of several looks at one bank this is the bank's own."""
        return not _through_another(self.volts), self.parts, self.watts, self.amps is not None, self.volts.sure

    @property
    def displayed(self) -> bool:
        """Whether it is called what only shows what others measure."""
        return bool(self.volts.words & DISPLAYS)

    def repeats(self, other: Company) -> bool:
        """Tell whether this is only the other once more: on a display, or coarser and less often with all beside it."""
        return self.displayed > other.displayed or (
            self.displayed == other.displayed and other.volts.source.topic in self.finer
        )


def _through_another(one: Guess) -> bool:
    """Tell whether a voltage is told by what hangs at a bank: a charger, an inverter, a machine."""
    return bool(one.words & (CIRCUITS | THINGS))


def _told_elsewhere(one: Guess, guesses: list[Guess]) -> frozenset[str]:
    """Return the topics that tell all that a voltage's own document tells, no coarser and so many times as often."""
    mine = [other for other in guesses if other.source.topic == one.source.topic and other.source.style == "json"]
    mine = [other for other in mine if other.quantity in _REPEATED and other.source.times]
    if len(mine) < _FELLOWS:
        return frozenset()
    told_by = [
        {other.source.topic for other in guesses if other.source.topic != one.source.topic and _finer(other, own)}
        for own in mine
    ]
    return frozenset.intersection(*(frozenset(topics) for topics in told_by))


def _finer(other: Guess, own: Guess) -> bool:
    """Tell whether another place tells the same, no coarser and much more often."""
    if other.quantity != own.quantity or not other.source.times:
        return False
    often, seldom = other.source.period, own.source.period
    if not often or not seldom or _OFTENER * often > seldom or digit_of(other) > digit_of(own) + _NOTHING:
        return False
    return _tracks(own, other)


def _levels(one: Guess, heard: list[Source]) -> list[float]:
    """Return how full something is told to be, right beside a voltage [%]."""
    beside = [source for source in heard if source.place == one.source.place and source.values and not source.contact]
    told = [source for source in beside if source.unit == "%" or set(all_words(source)) & FULLNESS]
    return [level for source in told if 0.0 < (level := median(source.values)) <= _FULL]


def _as_lithium(volts: float, level: float) -> bool:
    """Tell whether a pack of a vehicle or a tool shows these volts while it is so full [%].

    >>> _as_lithium(39.8, 83.0), _as_lithium(39.8, 40.0), _as_lithium(25.4, 100.0)
    (True, False, False)
    """
    (low, below), (high, above) = next(pair for pair in pairwise(_BY_LEVEL) if level <= pair[1][0])
    each = below + (above - below) * (level - low) / (high - low)
    return any(abs(volts / cells - each) <= _NEAR_IT for cells in _PACKS)


def _counted(one: Guess, amps: Guess, likely: list[Guess], charges: list[tuple[Source, float]]) -> bool:
    """Tell whether somebody counts the hours of its amps, and no nearer to another voltage: two may flow alike."""
    return any(
        shared(one.source, source) == max(shared(other.source, source) for other in likely)
        and is_sum_of(source.series, each, amps.series)
        for source, each in charges
    )


def _among_banks(one: Company, company: Iterable[Company]) -> bool:
    """Tell whether a voltage with amps is called as those of several banks, and told by the same kind of meter."""
    own = family_names(one.volts.source)[0]
    alike = [other for other in company if other is not one and family_names(other.volts.source)[0] == own]
    return one.amps is not None and sum(other.amps is not None and other.is_a_banks for other in alike) >= _FELLOWS


def _product(one: Guess, amps: Guess, power: Guess, volts: list[Guess]) -> bool:
    """Tell whether a power that stands right beside a voltage is the product of it and its amps."""
    beside = any(other.source is one.source for other in _nearest(power, volts))
    return beside and watts_agree(one.series, amps.series, power.series) is True


def _kind_of_volts(one: Guess, lithium: list[tuple[tuple[str, ...], float]]) -> Guess:
    """Mark what is no lead: lithium by its cells, mains by their size."""
    if any(e.name == "sums agree" for e in one.evidence):
        return one
    if any(_within(one.source.place, place) and _whole(one.value / cell) for place, cell in lithium):
        return one.because("lithium", "its cells stand where only lithium cells do")
    direct = bool(one.words & DC) and not one.words & (AC | CIRCUITS | THINGS)
    if MAINS[0] <= one.value <= MAINS[1] and not one.words & BATTERY and not direct:
        return one.because("mains", f"{one.value:.0f} V is mains in any country")
    return one


def _as_half(one: Guess, volts: list[Guess]) -> Guess:
    """Doubt a voltage that is half of another one right beside it and moves as it does: it is no bank of its own."""
    whole = next((other for other in volts if cells_of(other.value) and is_half(one, other)), None)
    why = "" if whole is None else f"half of {told(whole)}, and moves as it does: its midpoint?"
    return one.because("a half", why) if why else one


def _has_beside(one: Guess, likely: list[Guess], parts: list[Guess]) -> bool:
    """Tell whether a cell's volts, or its acid's warmth, stand nearer to this voltage than to the others.

    Without others they have to stand in its own place: the only volts that are heard may be an alarm's.
    """
    others = [other for other in likely if other is not one]
    if not others:
        places = [probe.source.place for probe in parts]
        return any(path(one.source)[: len(place)] == place for place in places)
    return any(
        shared(one.source, probe.source) > max((shared(other.source, probe.source) for other in others), default=-1)
        for probe in parts
    )


def _charged(one: Guess, amps: Guess) -> bool:
    """Tell whether a voltage is a bank's on charge by its own amps, whatever it is called: both move as one.

    A power supply moves with its load too, sagging: no cell stands so high unless what flows goes into it.
    """
    together = moves_together(one.series, amps.series)
    into = together if amps.value > 0.0 else -together
    return one.value / cells_of(one.value)[0] > CHARGING_ABOVE and into >= _TOGETHER


def _follows_a_battery(one: Guess, amps: Guess) -> bool:
    """Tell whether a voltage on charge answers the amps beside it that are called a battery's, and is no other's."""
    follows, against = answers(one.series, amps.series)
    able = bool(amps.words & BATTERY) and not (one.words | amps.words) & (CIRCUITS | THINGS)
    into = follows - against if amps.value > 0.0 else against - follows
    return able and into >= _ANSWERED and one.value / cells_of(one.value)[0] > CHARGING_ABOVE


def _others_battery(unlikely: list[Guess], guesses: list[Guess]) -> bool:
    """Tell whether another machine's battery is told here with amps of its own: then there are several things here."""
    flows = {one.source.place for one in guesses if one.quantity == "current"}
    return any(one.words & (BATTERY | GUARDS) and cells_of(one.value) and one.source.place in flows for one in unlikely)


def _apart(some: list[Guess]) -> list[Guess]:
    """Return one of each thing that is looked at: meters of the same bank once."""
    found: list[Guess] = []
    for one in some:
        if not any(_tracks(one, other) for other in found):
            found.append(one)
    return found


def _called(one: Guess, company: Company, several: bool) -> Guess:
    """Doubt a voltage with neither name nor acid nor charge nor parts where another has one of them."""
    if company.is_a_banks or not several:
        return one
    return one.because("a stranger's", "no battery's by name, acid, charge or parts, and not the only one here")


def _own_amps(one: Guess, amps: list[Guess], volts: list[Guess]) -> Guess | None:
    """Return the current that stands nearer to this voltage than to any other place's, or of several moves with it."""
    mine = []
    for current in amps:
        near = _nearest(current, volts)
        if not any(other.source is one.source for other in near):
            continue
        moving = [other for other in near if len(near) > 1 and cells_of(other.value) and _charged(other, current)]
        if len(moving) == 1:
            mine += [current] if moving[0].source is one.source else []
        elif len({other.source.place for other in near}) == 1:
            mine.append(current)
    return max(mine, key=lambda current: (shared(one.source, current.source), current.sure), default=None)


def _told_again(own: Company, rivals: list[Company]) -> tuple[tuple[str, str] | None, list[Company]]:
    """Return why a voltage is another one told once more, or may be; and its rivals without what repeats it.

    Where the one is told oftener and the other nearer to the bank, as by its name, nothing tells which is measured.
    """
    if own.machine is not None:
        return ("seen again", f"through another thing, the same as {told(own.machine)}"), rivals
    again = [other for other in rivals if _tracks(own.volts, other.volts)]
    of = next((other for other in again if own.repeats(other)), None)
    if of is not None and (own.displayed or _through_another(own.volts) or not _through_another(of.volts)):
        return ("seen again", f"repeats {told(of.volts)}, later or coarser"), rivals
    if of is not None:
        why = f"as {told(of.volts)} says more often, and all beside it: which of the two is measured?"
        return ("which of several", why), rivals
    nearer = not _through_another(own.volts)
    shown = [
        other for other in again if other.repeats(own) and (other.displayed or nearer or _through_another(other.volts))
    ]
    return None, [other for other in rivals if not any(other is one for one in shown)]


def _with_company(own: Company, company: dict[int, Company]) -> Guess:
    """Weigh what its own amps, and the other voltages that could be banks, say about a voltage."""
    one = own.volts
    rivals = [other for other in company.values() if other is not own]
    why, rivals = _told_again(own, rivals)
    if why is not None:
        return one.because(*why)
    if own.pack and not (own.proved or own.watts):
        doubt = (
            f"at {own.pack} beside it a lithium pack shows as much, and nothing but its name says lead: which is it?"
        )
        one = one.because("only by name", doubt)
    tracking = [other for other in rivals if _tracks(one, other.volts)]
    better = [other for other in tracking if other.rank > own.rank]
    if own.amps is not None:
        twins = [other for other in better if other.amps is not None and _tracks(own.amps, other.amps)]
        unproved = not (own.parts or own.watts)
        if twins or (unproved and any(other.parts or other.watts for other in better)):
            return one.because("seen again", f"the same as {told((twins or better)[0].volts)}")
        one = one.because("own amps", f"amps of its own beside it: {told(own.amps)}")
        if not own.watts:
            return one
        one = one.because("watts beside", "and their product")
        return one if may_be_tenths(own.amps) else settle_scale(one)
    if own.parts and not better:
        return one
    return one.because(*_without_amps(own, rivals, tracking, better))


def _without_amps(
    own: Company, rivals: list[Company], tracking: list[Company], better: list[Company]
) -> tuple[str, str]:
    """Return what the others say about a voltage without amps of its own."""
    if better:
        return "seen again", f"follows {told(better[0].volts)} without amps of its own: a second look at it"
    if not own.is_a_banks and not rivals and not own.volts.words & _AT_A_BANK:
        return "only by its size", "the only voltage here that could be a bank's, and nothing calls it a battery's"
    if not rivals or tracking == rivals:
        return "only one of its kind", "the only voltage here that could be a bank's"
    if any(other.amps is not None for other in rivals):
        return "no amps of its own", "no amps beside it, while another voltage here has some: whose is it?"
    return "which of several", "several voltages here could be the bank's, none with amps beside it"


def _tracks(one: Guess, other: Guess) -> bool:
    """Tell whether two meters look at the same thing: within a few percent at every moment."""
    found = ratio(one.series or [(0.0, one.value)], other.series or [(0.0, other.value)])
    return found is not None and abs(abs(found[0]) - 1.0) < _SAME_BANK and found[1] < _SAME_BANK


def _lithium_places(heard: list[Source]) -> list[tuple[tuple[str, ...], float]]:
    """Return places where three numbers or more, whatever their names, are a lithium cell's volts; their median [V]."""
    by_place: dict[tuple[str, ...], list[float]] = {}
    for source in heard:
        if source.contact or source.unit not in {None, "V", "mV"} or not source.values:
            continue
        middle = median(source.values)
        volts = middle / 1000.0 if middle > _MILLIVOLTS else middle
        if LITHIUM_CELL[0] <= volts <= LITHIUM_CELL[1]:
            by_place.setdefault(source.place, []).append(volts)
    return [(place, median(values)) for place, values in by_place.items() if len(values) >= _LITHIUM_CELLS]


def _within(place: tuple[str, ...], cells: tuple[str, ...]) -> bool:
    """Tell whether a voltage stands where cells do, or right above them (``pack/volts`` beside ``pack/cell/1``)."""
    return place[: len(cells)] == cells or (len(cells) > 1 and place == cells[:-1])


def _whole(number: float) -> bool:
    return number >= _SEVERAL and abs(number - round(number)) < _WHOLE_WITHIN * number


def _owner(one: Guess, banks: list[Guess], guesses: list[Guess], judged: list[Guess]) -> tuple[int, Guess]:
    """Return which bank's it is, and the guess with what speaks about that; `judged` are volts with what was found."""
    depth = [shared(one.source, bank.source) for bank in banks]
    if depth.count(max(depth)) > 1:
        common = frozenset.intersection(*(bank.words for bank in banks))
        # a channel's number is no word where its words stand elsewhere
        own = {word for word in one.words if not word.isdigit()} | set(path(one.source))
        depth = [spot + len(own & (bank.words - common)) for spot, bank in zip(depth, banks, strict=True)]
    if one.quantity == "current" and depth.count(max(depth)) > 1:
        moving = [spot for spot, bank in enumerate(banks) if depth[spot] == max(depth) and _charged(bank, one)]
        depth = [spot + (moving == [number]) for number, spot in enumerate(depth)]
    place = depth.index(max(depth))
    alone = depth.count(max(depth)) == 1
    volts = _all_volts(guesses)
    if one.quantity in {"current", "power"}:
        known = {id(other.source): other for other in judged}
        volts = [known.get(id(other.source), other) for other in volts]
        return place, _beside_volts(one, banks[place], banks, volts, depth[place], alone=alone)
    if one.quantity.endswith("temperature"):
        beside = [other for other in volts if nearness(one.source, other.source)[1] >= -1]
        if beside and not _any_of(beside, banks) and not one.words & ELECTROLYTE:
            return place, one.because("a stranger's", f"stands beside {told(beside[0])}, which is no bank's")
        again = [other for other in judged if other.source.place == one.source.place and not _any_of([other], banks)]
        shown = [other for other in again if any(e.name == "seen again" for e in other.evidence)]
        if shown and one.words & DISPLAYS:
            return place, one.because("seen again", f"stands beside {told(shown[0])}, which is only shown there")
        able = [other for other in volts if other.quantity == "voltage" and other.sure >= HALF_BELIEVED]
        rivals = [other for other in able if not _any_of([other], banks)]
        alone = alone and not any(shared(one.source, other.source) >= max(depth) for other in rivals)
        if not alone:
            doubt = "which of several" if one.quantity == "electrolyte_temperature" else "of which bank"
            return place, one.because(doubt, "of which bank? nothing tells")
    return place, one


def _beside_volts(one: Guess, bank: Guess, banks: list[Guess], volts: list[Guess], depth: int, *, alone: bool) -> Guess:
    """Return a current or a power with what the voltages nearest to it say about whose it is.

    `depth` tells how much it shares with its likeliest bank, and `alone` whether with none other as much.
    """
    near = _nearest(one, volts)
    if _any_of(near, banks) and len({other.source.place for other in near}) > 1:
        return one.because("whose", "other voltages stand as near to it as the bank's")
    if _any_of(near, banks):
        return one.because("beside the volts", f"stands beside {told(bank)}") if alone else one
    nearer = bool(near) and depth < shared(one.source, near[0].source)
    if nearer and all(_is_no_lead(other) for other in near):
        return one.because("not the bank's", f"stands beside mains or lithium: {told(near[0])}")
    if nearer and len({other.source.place for other in near}) == 1:
        return one.because("a stranger's", f"stands beside {told(near[0])}, which is no bank's")
    if strange(one.source, bank.source):
        return one.because("whose", "not described as the bank's volts are")
    return one


def _is_no_lead(one: Guess) -> bool:
    """Tell whether a voltage is surely none of a bank: mains, or of a place where lithium cells are."""
    return one.quantity == "ac_voltage" or any(e.name in {"mains", "lithium"} for e in one.evidence)


def _any_of(some: list[Guess], banks: list[Guess]) -> bool:
    return any(other.source is bank.source for other in some for bank in banks)


def _names(banks: list[Guess]) -> list[str]:
    """Return an id for each bank: the first part of the path in which all differ, as an identifier."""
    if len(banks) == 1:
        return [_own_name(banks[0])]
    paths = [bank.source.levels.split("/") + bank.source.at.split("/") for bank in banks]
    for parts in zip(*paths, strict=False):
        slugs = ["".join(c if c.isascii() and c.isalnum() else "-" for c in part.lower()).strip("-") for part in parts]
        slugs = [f"bank-{slug}" if slug.isdigit() else slug for slug in slugs]
        if all(slugs) and len(set(slugs)) == len(banks):
            return slugs
    return [f"bank-{number}" for number in range(1, len(banks) + 1)]


def _own_name(bank: Guess) -> str:
    """Return what the topics call a bank that is alone, without what they measure; else that it is a bank.

    >>> [_own_name(Guess(Source(topic, "plain"), "voltage", "V", ())) for topic in ("hut/house_batt/volts", "hut/v")]
    ['house-batt', 'bank']
    """
    for part in reversed([*bank.source.levels.split("/"), *bank.source.at.split("/")]):
        words = words_of(part)
        slug = "-".join(word for word in words if word not in MEASURED | EMPTY and re.fullmatch("[a-z0-9]+", word))
        if BATTERY & set(slug.split("-")):
            return slug
    return UNNAMED
