"""Volts, amps and watts told in whole counts of nobody knows what: their product holds but for a power of ten.

That they are volts, amps and watts is shown by it; of how much each count is, only the volts tell something, by what a
bank can show. So all three are asked about.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product
from math import log10
from statistics import median, pstdev

from bridge.listen.evidence import Evidence
from bridge.listen.guess import Guess, cells_of, settle_scale
from bridge.listen.physics import at

#: Evidence that a voltage's unit is guessed from its size alone.
_ONLY_A_COUNT, _POWER_OF_TEN = "only as a count", "power of ten"
#: The logarithm of volts times amps over watts is a whole number within so much, at so many moments, and strays by no
#: more [1] (assumed: of numbers taken by chance three of a hundred hit it, and they do not stay there).
_WHOLE, _ENOUGH, _STRAYS = 0.015, 12, 0.03
#: Amps so small are mostly noise, in counts [1] (assumed).
_LEAST_COUNTS = 20.0
#: No household's bank takes or gives more [A] (assumed).
_MOST_AMPS = 300.0
#: Power of ten -> prefix of a unit.
_PREFIX = {0: "", -1: "d", -2: "c", -3: "m"}
_POWER = {prefix: power for power, prefix in _PREFIX.items()}


def counted(guesses: Iterable[Guess]) -> list[Guess]:
    """Return the guesses; volts, amps and watts of one place that agree but for a power of ten as counts to ask about.

    A meter that counts hundredths of a volt most often counts hundredths of an ampere too; the watts then tell theirs.
    """
    known = list(guesses)
    told: dict[int, Guess] = {}
    for volts in known:
        asked = {e.name for e in volts.evidence} & {_ONLY_A_COUNT, _POWER_OF_TEN}
        if volts.quantity != "voltage" or not asked:
            continue
        beside = [one for one in known if one.source.place == volts.source.place and _is_a_bare_count(one)]
        amps = [one for one in beside if one.quantity == "current"]
        watts = [one for one in beside if one.quantity == "power"]
        if len(amps) != 1 or len(watts) != 1:
            continue
        if found := (_settled if _ONLY_A_COUNT in asked else _in_thousandths)(volts, amps[0], watts[0]):
            told |= {id(one): new for one, new in zip((volts, amps[0], watts[0]), found, strict=True)}
    return [told.get(id(one), one) for one in known]


def _is_a_bare_count(one: Guess) -> bool:
    source = one.source
    return source.unit is None and source.factor is None and all(value == int(value) for value in source.values)


def _in_thousandths(volts: Guess, amps: Guess, watts: Guess) -> tuple[Guess, Guess, Guess] | None:
    """Return all three in thousandths, where of the powers of ten that a household's bank can show only those fit."""
    tens = _tens(volts, amps, watts)
    fitting = [
        (of_volts, of_amps, of_watts)
        for of_volts, of_amps in product(_POWER.values(), repeat=2)
        for of_watts in (_POWER[""], _POWER["m"])
        if tens is not None
        and tens + of_volts + of_amps == of_watts
        and cells_of(10.0**of_volts * median(volts.source.values))
        and 10.0**of_amps * abs(median(amps.source.values)) <= _MOST_AMPS
    ]
    if fitting != [(_POWER["m"],) * 3]:
        return None
    why = "the only units in which volts times amps are the watts of a bank of any usual size: thousandths"
    kept = settle_scale(volts._replace(unit="mV"))
    told = [
        one._replace(unit=unit, evidence=_without_assumption(one))
        for one, unit in ((kept, "mV"), (amps, "mA"), (watts, "mW"))
    ]
    return told[0].because("product holds", why), told[1].because("product holds", why), told[2]


def _tens(volts: Guess, amps: Guess, watts: Guess) -> int | None:
    """Return the power of ten by which counts of volts times counts of amps are those of watts, where it holds."""
    ratios = []
    for when, power in watts.source.series:
        volt, amp = at(volts.source.series, when), at(amps.source.series, when)
        if volt and amp and power and abs(amp) >= _LEAST_COUNTS:
            ratios.append(log10(abs(volt * amp / power)))
    if len(ratios) < _ENOUGH or pstdev(ratios) > _STRAYS:
        return None
    tens = round(median(ratios))
    return None if abs(median(ratios) - tens) > _WHOLE else tens


def _settled(volts: Guess, amps: Guess, watts: Guess) -> tuple[Guess, Guess, Guess] | None:
    prefix = volts.unit.removesuffix("V")
    tens = _tens(volts, amps, watts)
    # counts of volts times counts of amps are ten to this times those of watts
    of_watts = None if tens is None else _PREFIX.get(tens + 2 * _POWER.get(prefix, 1))
    if of_watts is None:
        return None
    why = f"volts times amps are the watts but for a power of ten: {prefix}V, {prefix}A and {of_watts}W? use a clamp"
    told = [
        one._replace(unit=f"{pre}{letter}", evidence=_without_assumption(one)).because("size of a count", why)
        for one, pre, letter in ((volts, prefix, "V"), (amps, prefix, "A"), (watts, of_watts, "W"))
    ]
    return told[0].because("product holds", "and their product"), told[1], told[2]


def _without_assumption(one: Guess) -> tuple[Evidence, ...]:
    assumed = {"unit assumed", "only as milliamperes", _ONLY_A_COUNT}
    return tuple(e for e in one.evidence if e.name not in assumed)
