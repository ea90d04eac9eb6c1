"""Numbers without a telling name right beside a bank's volts: what they could be, to be asked and never to go live."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import pairwise, permutations
from statistics import correlation, median, pstdev

from bridge.listen.guess import MILLI_FROM, Guess, cells_of, lags, not_ours, proved, settle_degrees, told
from bridge.listen.names import words_of
from bridge.listen.physics import Series, at, moves_together, ratio, watts_agree
from bridge.listen.places import nearness
from bridge.listen.shape import family_names
from bridge.listen.source import Source
from bridge.listen.vocabulary import EMPTY, PARTS

#: So many unnamed numbers beside a voltage may be asked about; more are no board of a bank's [1] (assumed).
_MOST = 8
#: So many values show whether a number is alive [1] (assumed).
_ENOUGH = 8
#: What stands so near to half of the bank's volts and strays from it as rounding does may be its midpoint; a
#: thermometer that stands there by chance flickers more [1] (assumed).
_HALF, _STRAYS = 0.015, 0.0003
#: So many values of a register show that it moves, and so many of a product that it holds: within this share, and
#: moving as one from this correlation on [1] (assumed: of twenty registers 380 pairs are tried).
_MOVES, _SHOWN, _AGREES, _AS_ONE = 8, 20, 0.01, 0.98
#: Prefix of the amps' unit -> watts for each count of amps and volt.
_OF_AMPS = {"": 1.0, "d": 0.1, "c": 0.01, "m": 0.001}
#: What is less likely than this is no current [0-1] (assumed).
_BELIEVED = 0.1
#: The volts move with a current from this correlation on [1], as `bridge.listen.banks` has it.
_MOVES_THEM = 0.7
#: Air is so much cooler than acid on charge [K] (assumed).
_COOLER = 3.0
#: No bank of these sizes takes more [A] (assumed).
_AMPS = 1000.0
#: What a lead cell shows from nearly flat to equalised [V], and so many in a list are no chance [1] (assumed).
_CELL, _FEWEST_CELLS = (1.8, 2.8), 3


def unnamed_beside(bank: Guess, heard: Iterable[Source], known: Iterable[Guess]) -> list[Guess]:
    """Return guesses for what stands beside a bank's voltage and is neither named nor told by its unit.

    What is half of it all the time is offered as its midpoint, what is as slow and as warm as acid as its temperature,
    what lives otherwise as amps.
    """
    guesses = list(known)
    taken = {id(one.source) for one in guesses}
    beside = [
        source
        for source in heard
        if source.place == bank.source.place and id(source) not in taken and source.unit is None and _alive(source)
    ]
    if len(beside) <= _MOST:
        amps = [
            one
            for one in guesses
            if one.quantity == "current" and one.source.place == bank.source.place and one.sure > _BELIEVED
        ]
        return list(_offered(beside, bank, amps))
    return _by_their_product(beside, bank) if any(e.name == "sums agree" for e in bank.evidence) else []


def _by_their_product(beside: list[Source], bank: Guess) -> list[Guess]:
    """Return the amps and watts of a board with many registers, where exactly two are so by the bank's volts.

    They may be a load's or the charger's at the same volts, so they are asked about.
    """
    moving = [source for source in beside if len(set(source.values)) >= _MOVES]
    found = []
    for amps, watts in permutations(moving, 2):
        product = [
            (v * i, p) for when, i in amps.series if (v := at(bank.series, when)) and (p := at(watts.series, when))
        ]
        if len(product) < _SHOWN or min(abs(one) for one, _ in product) == 0.0:
            continue
        share = [p / one for one, p in product]
        units = [prefix for prefix, each in _OF_AMPS.items() if abs(median(share) / each - 1.0) <= _AGREES]
        if (
            units
            and pstdev(share) <= _AGREES * abs(median(share))
            and correlation(*zip(*product, strict=True)) >= _AS_ONE
        ):
            found.append((amps, watts, units[0]))
    if len(found) != 1:
        return []
    amps, watts, prefix = found[0]
    why = "times the bank's volts one is the other: the bank's own, or a load's?"
    return [proved(amps, "current", f"{prefix}A", why, "no name"), proved(watts, "power", "W", why, "no name")]


def called_alike(own: Iterable[Guess], heard: Iterable[Source], known: Iterable[Guess]) -> Iterator[Guess]:
    """Yield guesses for what is called as a bank's voltage or temperature is, but for a number, and is nothing by name.

    Whoever wired a second bank called it so. It is asked about, and never goes live.
    """
    taken = {id(one.source) for one in known}
    some = [source for source in heard if id(source) not in taken and _alive(source)]
    for one in own:
        if one.quantity not in {"voltage", "electrolyte_temperature"}:
            continue
        name, why = _own_name(one.source), f"called as {told(one)} is, but for a number"
        for source in some:
            alike = source.unit == one.source.unit and _own_name(source) == name and id(source) not in taken
            found = proved(source, _of_the_two(source, one), one.unit, why, "called alike") if alike else None
            if found is not None and (one.quantity != "voltage" or cells_of(found.value) == cells_of(one.value)):
                taken.add(id(source))
                yield found


def listed_cells(banks: Iterable[Guess], heard: Iterable[Source], known: Iterable[Guess]) -> Iterator[Guess]:
    """Yield guesses for numbers that one document lists under a word for cells, all of them volts of lead cells.

    A word for cells alone may be said of their acid, or of anything else that has cells; a whole list at such volts, on
    the device that tells a bank's, is hardly that. They are asked about: some of a bank's cells add up to nothing.
    """
    guesses, of_banks = list(known), [bank.source for bank in banks]
    taken = {id(one.source) for one in guesses}
    volts = [one.source for one in guesses if one.quantity in {"voltage", "ac_voltage"}]
    lists: dict[tuple[str, str], list[Source]] = {}
    for source in heard:
        above, _, number = source.at.rpartition("/")
        if source.style == "json" and number.isdigit() and not source.contact and source.values:
            lists.setdefault((source.topic, above), []).append(source)
    for listed in lists.values():
        unit = _unit_of_cells(listed)
        if unit is None or any(id(source) in taken or not_ours(source) for source in listed):
            continue
        most = max((nearness(one, listed[0]) for one in volts), default=(0, 0))
        nearest = [one for one in of_banks if nearness(one, listed[0]) == most]
        if not any(_on_one_device(one.levels, listed[0].levels) for one in nearest):
            continue
        for source in listed:
            why = f"number {source.at.rpartition('/')[2]} of {len(listed)} listed as cells, all at a lead cell's volts"
            yield proved(source, "cell_voltage", unit, why, "listed cells")


def _unit_of_cells(listed: list[Source]) -> str | None:
    """Return the unit in which all of a list are volts of lead cells, where it is called cells, else None.

    >>> some = [Source("hut/dc", "json", f"/ogniwa/{n}", values=[2.59 + 0.01 * n]) for n in range(4)]
    >>> _unit_of_cells(some), _unit_of_cells(some[:2]), _unit_of_cells([*some, replace(some[0], values=[21.4])])
    ('V', None, None)
    """
    spoken = [word for word in words_of(f"{listed[0].levels} {listed[0].at}") if not word.isdigit()]
    called = next((word for word in reversed(spoken) if word not in EMPTY), "")
    if len(listed) < _FEWEST_CELLS or PARTS.get(called) != "cell_voltage" or any(one.unit for one in listed):
        return None
    middles = [median(one.values) for one in listed]
    scales = (("V", 1.0), ("mV", 0.001))
    return next(
        (unit for unit, each in scales if all(_CELL[0] <= each * middle <= _CELL[1] for middle in middles)), None
    )


def _on_one_device(one: str, other: str) -> bool:
    """Tell whether two topics are one, stand in one folder, or one of them below the folder of the other.

    >>> _on_one_device("hut/plc/db1", "hut/plc/db2/cells"), _on_one_device("hut/plc/db1", "hut/toy/db1")
    (True, False)
    """
    folders = [topic.rpartition("/")[0] for topic in (one, other)]
    shorter, longer = sorted(folders, key=len)
    return one == other or (bool(shorter) and f"{longer}/".startswith(f"{shorter}/"))


def _is_their_product(volts: Series, amps: Series, watts: Series) -> bool:
    """Tell whether a number is volts times amps at every moment, and moves as they do: by chance another one is so."""
    if watts_agree(volts, amps, watts) is not True:
        return False
    pairs = [
        (v * i, power)
        for when, power in watts
        if (v := at(volts, when)) is not None and (i := at(amps, when)) is not None
    ]
    if len(pairs) < _ENOUGH or min(len(set(side)) for side in zip(*pairs, strict=True)) < _MOVES:
        return False
    return correlation(*zip(*pairs, strict=True)) >= _MOVES_THEM


def _unit_of_amps(source: Source) -> str:
    whole = all(value == int(value) for value in source.values)
    return "mA" if whole and abs(median(source.values)) > MILLI_FROM else "A"


def _own_name(source: Source) -> str:
    """Return what a source is called but for its number, by its own name: what is said of it elsewhere differs."""
    return family_names(replace(source, said=""))[0]


def _of_the_two(source: Source, one: Guess) -> str:
    """Return what a number called as another one is: right beside acid that is so much warmer it is the air's."""
    cooler = source.place == one.source.place and one.value - one.linear(median(source.values)) >= _COOLER
    return "ambient_temperature" if cooler and one.quantity == "electrolyte_temperature" else one.quantity


def _alive(source: Source) -> bool:
    steps = {round(later - sooner, 6) for sooner, later in pairwise(source.values)}
    return not source.contact and len(source.times) >= _ENOUGH and len(steps) > 1 and not not_ours(source)


def _offered(beside: list[Source], bank: Guess, known_amps: list[Guess]) -> Iterator[Guess]:
    why = "no name tells: it stands beside the volts"
    amps = [one.series for one in known_amps]
    if not amps:
        # what moves the volts is the bank's current
        moving = [one for one in beside if abs(moves_together(bank.series, one.series)) >= _MOVES_THEM]
        amps = [one.series for one in moving]
        for source in moving:
            yield proved(source, "current", _unit_of_amps(source), "no name tells: the volts move with it", "no name")
        beside = [one for one in beside if one not in moving]
    for source in beside:
        watts = any(_is_their_product(bank.series, flow, source.series) for flow in amps)
        if watts and not any(e.name == "fits no bank" for e in bank.evidence):
            yield proved(source, "power", "W", "no name tells: it is the bank's volts times amps", "no name")
            continue
        half = proved(source, "midpoint_voltage", bank.unit, why, "no name")
        share = ratio(half.series, bank.series)
        if share is not None and abs(share[0] - 1.0 / 2.0) <= _HALF and share[1] <= _STRAYS:
            yield half
            continue
        if lags(source):
            yield settle_degrees(proved(source, "electrolyte_temperature", "degC", why, "no name"))
            continue
        middle, unit = abs(median(source.values)), _unit_of_amps(source)
        if middle < (_AMPS if unit == "A" else _AMPS / 0.001):
            yield proved(source, "current", unit, why, "no name")
