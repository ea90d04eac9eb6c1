"""Numbers without a telling name right beside a bank's volts: what they could be, to be asked and never to go live."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise
from statistics import median

from bridge.listen.guess import MILLI_FROM, Guess, cells_of, lags, not_ours, proved, settle_degrees, told
from bridge.listen.physics import ratio
from bridge.listen.shape import family_names
from bridge.listen.source import Source

#: So many unnamed numbers beside a voltage may be asked about; more are no board of a bank's [1] (assumed).
_MOST = 8
#: So many values show whether a number is alive [1] (assumed).
_ENOUGH = 8
#: What stands so near to half of the bank's volts and strays from it as rounding does may be its midpoint; a
#: thermometer that stands there by chance flickers more [1] (assumed).
_HALF, _STRAYS = 0.015, 0.0003
#: No bank of these sizes takes more [A] (assumed).
_AMPS = 1000.0


def unnamed_beside(bank: Guess, heard: Iterable[Source], known: Iterable[Guess]) -> list[Guess]:
    """Return guesses for what stands beside a bank's voltage and is neither named nor told by its unit.

    What is half of it all the time is offered as its midpoint, what is as slow and as warm as acid as its temperature,
    what lives otherwise as amps.
    """
    taken = {id(one.source) for one in known}
    beside = [
        source
        for source in heard
        if source.place == bank.source.place and id(source) not in taken and source.unit is None and _alive(source)
    ]
    return list(_offered(beside, bank)) if len(beside) <= _MOST else []


def called_alike(own: Iterable[Guess], heard: Iterable[Source], known: Iterable[Guess]) -> Iterator[Guess]:
    """Yield guesses for what is called as a bank's voltage or temperature is, but for a number, and is nothing by name.

    Whoever wired a second bank called it so. It is asked about, and never goes live.
    """
    taken = {id(one.source) for one in known}
    some = [source for source in heard if id(source) not in taken and _alive(source)]
    for one in own:
        if one.quantity not in {"voltage", "electrolyte_temperature"}:
            continue
        name, why = family_names(one.source)[0], f"called as {told(one)} is, but for a number"
        for source in some:
            alike = source.unit == one.source.unit and family_names(source)[0] == name and id(source) not in taken
            found = proved(source, one.quantity, one.unit, why, "called alike") if alike else None
            if found is not None and (one.quantity != "voltage" or cells_of(found.value) == cells_of(one.value)):
                taken.add(id(source))
                yield found


def _alive(source: Source) -> bool:
    steps = {round(later - sooner, 6) for sooner, later in pairwise(source.values)}
    return not source.contact and len(source.times) >= _ENOUGH and len(steps) > 1 and not not_ours(source)


def _offered(beside: list[Source], bank: Guess) -> Iterator[Guess]:
    why = "no name tells: it stands beside the volts"
    for source in beside:
        half = proved(source, "midpoint_voltage", bank.unit, why, "no name")
        share = ratio(half.series, bank.series)
        if share is not None and abs(share[0] - 1.0 / 2.0) <= _HALF and share[1] <= _STRAYS:
            yield half
            continue
        if lags(source):
            yield settle_degrees(proved(source, "electrolyte_temperature", "degC", why, "no name"))
            continue
        middle = abs(median(source.values))
        whole = all(value == int(value) for value in source.values)
        unit = "mA" if whole and middle > MILLI_FROM else "A"
        if middle < (_AMPS if unit == "A" else _AMPS / 0.001):
            yield proved(source, "current", unit, why, "no name")
