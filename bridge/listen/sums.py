"""Parts of a bank that no name tells: numbers called alike that add up, at every moment, to one voltage.

Cells and blocks in series share the bank's volts among them, whatever they are called and whichever of them is called
anything; and a number to which lead cells add up is a bank's voltage, though it has no name itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations
from statistics import correlation, mean, median, pstdev
from typing import NamedTuple

from bridge.listen.guess import LEAD_CELL, Guess, all_words, cells_of, digit_of, not_ours, proved, settle_scale
from bridge.listen.physics import Series, at, ratio
from bridge.listen.places import nearness, path, shared
from bridge.listen.shape import CELLS_OF_A_BLOCK, family_names, natural, under_parts
from bridge.listen.source import Source
from bridge.listen.vocabulary import AC, ACID_ITSELF, BATTERY, CIRCUITS, DISPLAYS, SIDES, THINGS

#: Blocks of one bank differ by no more than this share of their mean; a bad cell in a block of three shows a third less
#: (assumed).
_ALIKE = 0.12
#: They add up within this share on the whole, for each meter has its own error, and stray by no more than the other
#: from moment to moment [1] (assumed).
_ADDS_UP, _STRAYS = 0.03, 0.01
#: Sums of two or three unnamed numbers are found by chance; so many are not [1] (assumed).
_NO_CHANCE = 4
#: Six cells of lead, which nothing else shows, that add up so closely to a number make it a bank's [1] (assumed).
_SIX, _CLOSELY = 6, 0.005
#: Cells of the smallest bank; with their acid beside them they are no chance either [1] (assumed).
_A_BLOCK = 3
#: What a part of a bank is when its name says so.
_CALLED_PARTS = frozenset({"block_voltage", "cell_voltage"})
#: What is hit by a sum this many times closer than another number is the one [1] (assumed).
_MUCH_CLOSER = 0.5
#: A string of a bank carries no less than this share of what another carries [1] (assumed).
_SHARE = 0.3
#: So few currents of one place, and so many, can be a whole and its strings; those move with it from this correlation
#: on [1] (assumed).
_FEWEST, _MOST_CURRENTS, _STEADILY = 3, 6, 0.95
#: What flows there is no string's.
_ELSEWHERE = CIRCUITS | THINGS | AC
_FLOWS = frozenset({"current", "string_current"})
#: The sum moves as the whole does from this correlation on [1], as `bridge.listen.banks` has it.
_TOGETHER = 0.7
#: Neither moves by more than so many times what the other does [1] (assumed: meters round, and each has its noise).
_AS_MUCH = 2.0
#: So many moments show whether they do, and so near to each other two values are of one moment [1], [s] (assumed).
_ENOUGH, _BESIDE = 8, 15.0
#: Volts of one bus differ by no more than this from meter to meter [1] (assumed).
_ONE_VOLTAGE = 0.02
#: More parts than any bank of the usual sizes has cells, and the volts in which the units' factors are tried.
_MOST = 36
_UNITS = {"V": 1.0, "dV": 0.1, "cV": 0.01, "mV": 0.001}


class _Family(NamedTuple):
    """Sources called alike, the factor that makes volts of them, and their sum [V] at the moments of the first."""

    members: tuple[Source, ...]
    unit: str
    sums: Series


def with_parts(guesses: list[Guess], heard: Iterable[Source]) -> list[Guess]:
    """Return the guesses with every family that adds up to a voltage named as its parts, and that voltage as proved."""
    sources = [source for source in heard if not source.contact and source.values]
    known = {id(one.source): one for one in guesses}
    taken: set[int] = set()
    for members in _alike(sources):
        if taken & {id(source) for source in members}:
            continue
        for family in _in_volts(members, known):
            whole = _whole(family, sources, known)
            if whole is None:
                continue
            count = len(family.members)
            told = f"{count} numbers called alike add up to it: {family.members[0].topic}".strip()
            cells = cells_of(whole.value)[0]
            quantity = "cell_voltage" if count == cells and cells % CELLS_OF_A_BLOCK == 0 else "block_voltage"
            parts = [_part(source, quantity, family.unit, known.get(id(source))) for source in family.members]
            shown = _as_one(family, whole) or _to_the_point(family, whole, known)
            if not shown:
                if not shared(whole.source, family.members[0]):
                    continue
                why = "they add up, but nothing moved that would show more than chance"
                parts = [one if id(one.source) in known else one.because("by chance", why) for one in parts]
            doubted = any(e.name == "by chance" for e in whole.evidence)
            named = _above(whole, family) and all(id(source) in known for source in family.members)
            with_acid = count >= _A_BLOCK and _beside_acid(family, known.values())
            if not doubted and (count >= _NO_CHANCE or named or with_acid) and shown:
                whole = settle_scale(_at_its_terminals(whole, family).because("sums agree", told))
            known[id(whole.source)] = whole
            known |= {id(one.source): one for one in parts}
            taken |= {id(one.source) for one in parts}
            break
    _with_strings(known, sources)
    _with_named_strings(known)
    return [_not_alone(one, known.values()) for one in known.values()]


def _not_alone(one: Guess, all_of_them: Iterable[Guess]) -> Guess:
    """Return a string's current as the bank's where no other string is told, or where it has volts of its own."""
    if one.quantity != "string_current":
        return one
    if _has_own_volts(one, all_of_them):
        return one._replace(quantity="current")
    own = set(family_names(one.source, of_string=False))
    others = [other for other in all_of_them if other.quantity == "string_current" and other is not one]
    alone = not any(
        own & set(family_names(other.source, of_string=False)) or other.source.place == one.source.place
        for other in others
    )
    return one._replace(quantity="current") if alone else one


def _has_own_volts(one: Guess, all_of_them: Iterable[Guess]) -> bool:
    """Tell whether volts are called just as a string's current is, and stand elsewhere than another string's do.

    Rows side by side have one voltage among them; a row that is charged by itself has its own.
    """
    volts = [other for other in all_of_them if other.quantity == "voltage" and cells_of(other.value)]
    mine = [other for other in volts if path(other.source) == path(one.source)]
    name = family_names(one.source, of_string=False)[0]
    fellows = [
        path(other.source)
        for other in all_of_them
        if other.quantity == "string_current"
        and other is not one
        and family_names(other.source, of_string=False)[0] == name
    ]
    theirs = [other for other in volts if path(other.source) in fellows]
    return bool(mine and theirs) and not any(_in_parallel(mine[0], other) for other in theirs)


def _in_parallel(one: Guess, other: Guess) -> bool:
    found = ratio(one.series, other.series)
    return found is None or abs(found[0] - 1.0) <= _ONE_VOLTAGE


def _with_strings(known: dict[int, Guess], sources: list[Source]) -> None:
    """Name the currents that are called alike and add up, as they come and go, to another one: of strings beside it.

    One of them tells what they are, by its own name or as a string; the others need no name.
    """
    families: dict[str, list[Source]] = {}
    for source in sources:
        for name in family_names(source, of_string=False):
            families.setdefault(name, []).append(source)
    wholes = [one for one in known.values() if one.quantity == "current"]
    for name, members in families.items():
        told = [known[id(source)] for source in members if id(source) in known]
        unnamed = [source for source in members if id(source) not in known]
        if len(members) == 1 or any(one.quantity not in _FLOWS for one in told):
            continue
        if any(source.unit is not None or not_ours(source) for source in unnamed):
            continue
        for whole in wholes:
            amps = told + [_amps(source, whole) for source in unnamed]
            largest = max(abs(one.value) for one in amps)
            if whole in amps or any(abs(one.value) < _SHARE * largest or one.source.contact for one in amps):
                continue
            pairs = [
                (total, beside)
                for when, _ in amps[0].series
                if (total := _total(amps, when)) is not None and (beside := at(whole.series, when, _BESIDE)) is not None
            ]
            sums, flows = [abs(total) for total, _ in pairs], [abs(beside) for _, beside in pairs]
            by_name = "string#" in name and _stands_over(whole, amps) and _steadily_the_sum(sums, flows)
            able = bool(told) or "string#" in name or _stands_over(whole, amps)
            if by_name or (able and _add_up(sums, flows)):
                known |= {id(one.source): one._replace(quantity="string_current") for one in amps}
                break


def _with_named_strings(known: dict[int, Guess]) -> None:
    """Name the currents of one place, each with a name of its own, that share one there or above all the time.

    What a load takes is no steady share of the whole, nor does it rise and fall with it.
    """
    places: dict[tuple[str, ...], list[Guess]] = {}
    for one in known.values():
        if one.quantity == "current" and not one.words & _ELSEWHERE and len(one.series) >= _ENOUGH:
            places.setdefault(one.source.place, []).append(one)
    for place, beside in places.items():
        above = [one for own, others in places.items() if own and own == place[:-1] for one in others]
        some = [*beside, *above]
        if not _FEWEST <= len(some) <= _MOST_CURRENTS:
            continue
        tried = (
            (whole, parts)
            for whole in some
            for count in range(2, len(some))
            for parts in combinations([one for one in beside if one is not whole], count)
        )
        for whole, parts in tried:
            if _share_it(whole, parts):
                known |= {id(one.source): one._replace(quantity="string_current") for one in parts}
                break


def _share_it(whole: Guess, parts: Sequence[Guess]) -> bool:
    """Tell whether currents add up to another, each a steady share of it, and none of them the bank's by name."""
    if min(abs(one.value) for one in parts) < _SHARE * max(abs(one.value) for one in parts):
        return False
    if any(one.words & BATTERY for one in parts) and not whole.words & BATTERY:
        return False
    rows = [
        (beside, *(at(one.series, when, _BESIDE) for one in parts))
        for when, _ in parts[0].series
        if (beside := at(whole.series, when, _BESIDE)) is not None
    ]
    full = [[value for value in row if value is not None] for row in rows if None not in row]
    if not _add_up([abs(sum(row[1:])) for row in full], [abs(row[0]) for row in full]):
        return False
    wholes, *shares = zip(*full, strict=True)
    # two halves that are called the two sides need not move alike: a lamp beside the charger makes them flicker
    return _two_sides(parts) or all(len(set(one)) > 1 and correlation(one, wholes) >= _STEADILY for one in shares)


def _two_sides(parts: Sequence[Guess]) -> bool:
    """Tell whether two currents are called the two sides of a thing."""
    sides = [one.words & SIDES for one in parts]
    return len(parts) == len(("port", "starboard")) and all(sides) and sides[0] != sides[1]


def _amps(source: Source, whole: Guess) -> Guess:
    """Return a number without a name as one of the currents that add up to another, in its unit."""
    return proved(source, "string_current", whole.unit, "one of several called alike", "place alone")


def _total(some: list[Guess], when: float) -> float | None:
    values = [value for one in some if (value := at(one.series, when, _BESIDE)) is not None]
    return sum(values) if len(values) == len(some) else None


def _stands_over(whole: Guess, parts: Iterable[Guess]) -> bool:
    """Tell whether a current stands right above its parts, as ``bank/total_amps`` does above ``bank/string_a/amps``."""
    place = whole.source.place
    return bool(place) and all(path(one.source)[: len(place)] == place for one in parts)


def _steadily_the_sum(totals: list[float], wholes: list[float]) -> bool:
    """Tell whether totals are the wholes at every moment: of what is called strings that is no chance, though all rest.

    A charger that holds its amps moves nothing that could rise or fall together.
    """
    if len(totals) < _ENOUGH or min(len(set(totals)), len(set(wholes))) == 1 or min(wholes) <= 0.0:
        return False
    return all(abs(total - whole) <= _ADDS_UP * whole for total, whole in zip(totals, wholes, strict=True))


def _add_up(totals: list[float], wholes: list[float]) -> bool:
    """Tell whether totals are the wholes nearly always, and move as they do."""
    if len(totals) < _ENOUGH or min(len(set(totals)), len(set(wholes))) == 1 or min(wholes) <= 0.0:
        return False
    ratios = [total / whole for total, whole in zip(totals, wholes, strict=True)]
    return abs(median(ratios) - 1.0) <= _ADDS_UP and _rise_alike(totals, wholes)


def _to_the_point(family: _Family, whole: Guess, known: dict[int, Guess]) -> bool:
    """Tell whether cells, or what is called blocks or a battery's, add up so closely that no other number would.

    Six cells, or six numbers called a battery's at a lead block's volts, do so by no chance; nor do fewer cells in one
    place with their acid's warmth.
    """
    close = abs(median(value for _, value in family.sums) / whole.value - 1.0) <= _CLOSELY
    count = len(family.members)
    enough = count >= _SIX or (count >= _A_BLOCK and _beside_acid(family, known.values()))
    cells = enough and count == cells_of(whole.value)[0]
    blocks = count >= _SIX and bool(cells_of(whole.value / count)) and all(_of_a_battery(one) for one in family.members)
    called = all(id(one) in known and known[id(one)].quantity in _CALLED_PARTS for one in family.members)
    return close and (cells or blocks or called)


def _beside_acid(family: _Family, known: Iterable[Guess]) -> bool:
    """Tell whether acid's warmth is told in the one place in which all of a family are."""
    acids = [one.source.place for one in known if one.quantity == "electrolyte_temperature" and one.words & ACID_ITSELF]
    return any(place and all(one.place == place for one in family.members) for place in acids)


def _at_its_terminals(whole: Guess, family: _Family) -> Guess:
    """Return volts without the doubt of their circuit, where cells leave no room for a cable: it ends at the bank."""
    close = abs(median(value for _, value in family.sums) / whole.value - 1.0) <= _CLOSELY
    kept = tuple(one for one in whole.evidence if one.name != "another circuit")
    return whole._replace(evidence=kept) if close and len(family.members) == cells_of(whole.value)[0] else whole


def _of_a_battery(source: Source) -> bool:
    return bool(set(all_words(source)) & BATTERY)


def _as_one(family: _Family, whole: Guess) -> bool:
    """Tell whether the sum and the whole rise and fall together, as they do by chance hardly ever."""
    pairs = [(value, beside) for when, value in family.sums if (beside := at(whole.series, when, _BESIDE)) is not None]
    if len(pairs) < _ENOUGH or min(len({one for one, _ in pairs}), len({one for _, one in pairs})) == 1:
        return False
    return _rise_alike(*zip(*pairs, strict=True))


def _rise_alike(some: Sequence[float], others: Sequence[float]) -> bool:
    """Tell whether two rise and fall together, and by as much: what only drifts does so together by chance."""
    moved = (pstdev(some), pstdev(others))
    return correlation(some, others) >= _TOGETHER and max(moved) <= _AS_MUCH * min(moved)


def _alike(sources: list[Source]) -> list[tuple[Source, ...]]:
    """Return runs of like values among what is called alike but for a number, or stands in one place, longest first.

    A board's channels are called alike and only some of them are blocks: those stand in a row.
    """
    families: dict[object, list[Source]] = {}
    for source in sources:
        for name in family_names(source):
            families.setdefault(name, []).append(source)
        families.setdefault(source.place, []).append(source)
        if (under := under_parts(source)) != source.place and under:
            families.setdefault(under, []).append(source)
    runs: list[tuple[Source, ...]] = []
    for key, family in families.items():
        row = sorted(family, key=_middle if isinstance(key, tuple) else natural)
        runs += [run for run in _runs(row) if 1 < len(run) <= _MOST]
    return sorted(runs, key=len, reverse=True)


def _middle(source: Source) -> float:
    return median(source.values)


def _runs(row: list[Source]) -> Iterator[tuple[Source, ...]]:
    """Yield the longest stretches of neighbours that differ from the first of them by no more than blocks do."""
    run: list[Source] = []
    for source in row:
        if run and abs(_middle(source) - _middle(run[0])) > _ALIKE * abs(_middle(run[0])):
            yield tuple(run)
            run = []
        run.append(source)
    yield tuple(run)


def _in_volts(members: tuple[Source, ...], known: dict[int, Guess]) -> list[_Family]:
    """Return the family in every unit in which it could be cells or blocks; none where it is something else."""
    middles = [median(source.values) for source in members]
    guessed = [known[id(source)] for source in members if id(source) in known]
    if any(one.quantity not in {"voltage", "block_voltage", "cell_voltage", "ac_voltage"} for one in guessed):
        return []
    middle = mean(middles)
    if middle <= 0.0 or max(abs(one - middle) for one in middles) > _ALIKE * middle:
        return []
    if any(set(all_words(source)) & THINGS or not_ours(source) for source in members):
        return []
    said = {source.unit for source in members}
    whole_numbers = all(value == int(value) for source in members for value in source.values)
    open_units = _UNITS if whole_numbers else {"V": 1.0}
    units = open_units if said == {None} else {unit: _UNITS[unit] for unit in said if unit in _UNITS}
    first = members[0]
    found = []
    for unit, factor in units.items():
        if factor * middle < LEAD_CELL[0] or len(said) > 1:
            continue
        sums = [
            (when, factor * sum(values))
            for when, value in first.series or [(0.0, median(first.values))]
            if len(values := [value, *(one for other in members[1:] if (one := _beside(other, when)) is not None)])
            == len(members)
        ]
        if sums:
            found.append(_Family(members, unit, sums))
    return found


def _beside(source: Source, when: float) -> float | None:
    return at(source.series, when) if source.times else median(source.values)


def _whole(family: _Family, sources: list[Source], known: dict[int, Guess]) -> Guess | None:
    """Return the voltage that the family adds up to, proved by that where no name told it."""
    count = len(family.members)
    total = median(value for _, value in family.sums)
    each = total / count
    able = []
    for source in sources:
        guess = known.get(id(source))
        if source in family.members or (guess is not None and guess.quantity != "voltage"):
            continue
        if guess is not None and any(e.name == "another thing" for e in guess.evidence):
            # a bicycle's volts are no sum of a house's batteries
            continue
        one = guess or _unnamed(source, total, count, each)
        if one is None or not any(cells % count == 0 for cells in cells_of(one.value)):
            continue
        ratios = [
            value / whole
            for when, value in family.sums
            if (whole := at(one.series, when) if one.series else one.value) is not None and whole > 0.0
        ]
        if ratios and abs(median(ratios) - 1.0) <= _ADDS_UP and pstdev(ratios) <= _STRAYS:
            able.append(one)
    able.sort(key=lambda one: (_above(one, family), id(one.source) in known, _near(one, family)), reverse=True)
    best = able[0] if able else None
    if best is None or len(able) == 1 or _above(best, family):
        return best
    # of several the one that the parts hit much closer than they hit the others, wherever it stands
    able = [one for one in able if not one.words & DISPLAYS] or able
    off = sorted((abs(median(value for _, value in family.sums) / one.value - 1.0), id(one), one) for one in able)
    if len(off) == 1 or off[0][0] <= _MUCH_CLOSER * max(0.0, off[1][0] - digit_of(off[1][2]) / off[1][2].value):
        return off[0][2]
    best = able[0]
    if id(best.source) in known:
        return best
    return best.because("by chance", "several voltages here are the sum of the same parts")


def _above(one: Guess, family: _Family) -> bool:
    """Tell whether the parts stand right under a voltage, as ``bank/cells/1`` does under ``bank/volts``."""
    place, whole = one.source.place, path(one.source)
    common = shared(one.source, family.members[0])
    return common == len(whole) > 0 or common == len(place) > 1


def _near(one: Guess, family: _Family) -> tuple[tuple[int, int], float]:
    return nearness(one.source, family.members[0]), one.sure


def _unnamed(source: Source, total: float, count: int, each: float) -> Guess | None:
    """Return a number without a name as a voltage, where so many cells add up to it that it is no chance."""
    if source.unit is not None or count < _NO_CHANCE or not LEAD_CELL[0] <= each or not_ours(source):
        return None
    for unit, factor in _UNITS.items():
        if abs(factor * median(source.values) - total) <= _ADDS_UP * total:
            return proved(source, "voltage", unit, "what its parts add up to", "place alone")
    return None


def _part(source: Source, quantity: str, unit: str, guess: Guess | None) -> Guess:
    """Return a member of the family as a part of the bank, with what its name said about it."""
    if guess is None:
        return proved(source, quantity, unit, "one of several called alike", "place alone")
    kept = tuple(one for one in guess.evidence if one.name not in _OF_A_BANK)
    assumed = any(one.name == "unit assumed" for one in guess.evidence)
    return guess._replace(quantity=quantity, unit=unit if assumed else guess.unit or unit, evidence=kept)


#: What is said of a number taken for a whole bank, and means nothing for its part.
_OF_A_BANK = frozenset(
    {
        "fits a bank",
        "fits no bank",
        "only as millivolts",
        "power of ten",
        "only as a count",
        "unit in doubt",
        "mains",
        "unit assumed",
    }
)
