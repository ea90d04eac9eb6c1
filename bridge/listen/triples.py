"""Volts, amps and watts that no name tells: three numbers of one place of which one is the product of the others."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import permutations
from statistics import median

from bridge.listen.guess import MILLI_FROM, Guess, cells_of, proved
from bridge.listen.physics import moves_together, watts_agree
from bridge.listen.settle import CHARGING_ABOVE
from bridge.listen.source import Source

#: So many values of each, in a place of so few numbers, before a product is no accident [1] (assumed).
_ENOUGH, _MOST = 20, 12
#: Volts move with the amps from this correlation on [1], as `bridge.listen.banks` has it.
_TOGETHER = 0.7


def told_by_watts(heard: Iterable[Source], guesses: list[Guess]) -> list[Guess]:
    """Return guesses for numbers without a telling name: a bank on charge, its amps, and their product."""
    taken = {id(one.source) for one in guesses}
    places: dict[tuple[str, ...], list[Source]] = {}
    for source in heard:
        if id(source) not in taken and source.unit is None and not source.contact and len(source.times) >= _ENOUGH:
            places.setdefault(source.place, []).append(source)
    return [one for sources in places.values() if len(sources) <= _MOST for one in _triple(sources)]


def _triple(sources: list[Source]) -> Iterator[Guess]:
    """Yield the volts, amps and watts of one place, if exactly one choice of three fits."""
    found = [three for three in permutations(sources, 3) if _fits(*three)]
    if len(found) == 1:
        for source, quantity, unit in zip(found[0], ("voltage", "current", "power"), ("V", "A", "W"), strict=True):
            milli = unit != "W" and abs(median(source.values)) > MILLI_FROM
            yield proved(source, quantity, f"m{unit}" if milli else unit, "one is the product of the other two")


def _fits(volts: Source, amps: Source, watts: Source) -> bool:
    """Tell whether three numbers are a bank's on charge: of its size, moving with the amps, and with a product."""
    v, a = _whole(volts), _whole(amps)
    middle = median(value for _, value in v)
    cells = cells_of(middle)
    if not cells or middle / cells[0] < CHARGING_ABOVE or not watts_agree(v, a, watts.series):
        return False
    together = moves_together(v, a)
    return (together if median(value for _, value in a) > 0.0 else -together) >= _TOGETHER


def _whole(source: Source) -> list[tuple[float, float]]:
    """Return a series in volts or amps, whose thousandths are told by their size."""
    milli = abs(median(source.values)) > MILLI_FROM
    return [(when, value / 1000.0 if milli else value) for when, value in source.series]
