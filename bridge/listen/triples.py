"""Volts, amps and watts that no name tells: three numbers of one place of which one is the product of the others."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import permutations, product
from statistics import median

from bridge.listen.guess import Guess, cells_of, proved
from bridge.listen.physics import Series, moves_together, watts_agree
from bridge.listen.settle import CHARGING_ABOVE
from bridge.listen.source import Source

#: So many values of each, in a place of so few numbers, before a product is no accident [1] (assumed).
_ENOUGH, _MOST = 20, 12
#: Volts move with the amps from this correlation on [1], as `bridge.listen.banks` has it.
_TOGETHER = 0.7
#: Medians of volts times amps and of watts differ by no more, or the moments need not be compared [1] (assumed).
_NEAR = 0.2


def told_by_watts(heard: Iterable[Source], guesses: list[Guess]) -> list[Guess]:
    """Return guesses for numbers without a telling name: a bank on charge, its amps, and their product."""
    taken = {id(one.source) for one in guesses}
    places: dict[tuple[str, ...], list[Source]] = {}
    for source in heard:
        if id(source) not in taken and source.unit is None and not source.contact and len(source.times) >= _ENOUGH:
            places.setdefault(source.place, []).append(source)
    return [one for sources in places.values() if len(sources) <= _MOST for one in _triple(sources)]


def _triple(sources: list[Source]) -> Iterator[Guess]:
    """Yield the volts, amps and watts of one place, if exactly one choice of three and of their units fits."""
    found = [
        list(zip(three, units, strict=True))
        for three in permutations(sources, 3)
        for units in product(*(_units(source) for source in three[:2]), ("W",))
        if _fits(*(_scaled(source, unit) for source, unit in zip(three, units, strict=True)))
    ]
    if len(found) == 1:
        for (source, unit), quantity in zip(found[0], ("voltage", "current", "power"), strict=True):
            letter = {"voltage": "V", "current": "A", "power": "W"}[quantity]
            yield proved(source, quantity, f"{unit}{letter}".replace("WW", "W"), "one is the product of the other two")


#: Prefix of a unit -> what the number is multiplied by; whole numbers may be counts of any of these.
_PREFIXES = {"": 1.0, "d": 0.1, "c": 0.01, "m": 0.001, "W": 1.0}


def _units(source: Source) -> tuple[str, ...]:
    """Return the prefixes that a number's unit may have: one with decimals is no count."""
    return ("", "d", "c", "m") if all(value == int(value) for value in source.values) else ("",)


def _scaled(source: Source, prefix: str) -> list[tuple[float, float]]:
    return [(when, _PREFIXES[prefix] * value) for when, value in source.series]


def _fits(volts: Series, amps: Series, watts: Series) -> bool:
    """Tell whether three numbers are a bank's on charge: of its size, moving with the amps, and with a product."""
    middle, flow, told = (median(value for _, value in one) for one in (volts, amps, watts))
    cells = cells_of(middle)
    if not cells or middle / cells[0] < CHARGING_ABOVE or abs(middle * abs(flow) - abs(told)) > _NEAR * abs(told):
        return False
    together = moves_together(volts, amps)
    return watts_agree(volts, amps, watts) is True and (together if flow > 0.0 else -together) >= _TOGETHER
