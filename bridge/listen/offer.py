"""What is worth asking about: of what nobody is sure of, less of what cannot be the bank's.

A bank has one voltage, one current, one air around it. Where these are known, another's is no question any more; nor is
a door or a fan in another house where one stands by the bank, or air that no acid beside it could have.
"""

from __future__ import annotations

from bridge.listen.evidence import ANOTHER_KNOWN, SURE_ENOUGH
from bridge.listen.guess import Guess, told
from bridge.listen.members import outdoors
from bridge.listen.places import path, shared
from bridge.listen.vocabulary import AIR, BATTERY, CHARGER, ELECTROLYTE, PROBES

#: Of what a bank has one.
_ONE = frozenset({"voltage", "current", "power", "ambient_temperature"})
#: What is said of a number of another circuit, or of another look at the same one.
_ANOTHERS = frozenset({"a stranger's", "another circuit", "no amps of its own", "seen again", "mains", "whose"})
#: A battery of its own: it may be another bank, and its owner may want it watched.
_BATTERYS = frozenset({"another machine's battery", "watts beside", "called alike"})
_NO_BATTERY = frozenset({"mains", "lithium"})
#: Air is colder than the acid in it by no more than the one, and warmer by no more than the other [K] (assumed).
_COLDER, _WARMER = 25.0, 15.0
#: And by no more than this where it stands over the bank: acid that was too warm to go on is asked about too [K]
#: (assumed).
_COLDEST = 40.0
#: What is so many times likelier leaves no question [1] (assumed).
_MUCH_LIKELIER = 5.0
#: So many numbers of mains may be asked about where none is called the charger's [1] (assumed).
_OUTLETS = 4
#: A thermometer that no name tells.
_BY_ITS_WAYS = frozenset({"place alone", "sixteenths"})
_NO_PRODUCT = frozenset({"watts disagree"})
_WHERE = frozenset({"door", "fan"})
#: So many doors or fans as near may be asked about [1] (assumed).
_AS_NEAR = 3


def worth_asking(own: list[Guess], bank: Guess) -> list[Guess]:
    """Return a bank's guesses; of those that are not sure what cannot be the bank's is no longer offered."""
    known = {one.quantity: one for one in own if one.sure >= SURE_ENOUGH}
    flows = {one.source.place for one in own if one.quantity == "current"}
    batteries = {
        one.source.place
        for one in own
        if one.quantity == "voltage"
        and one.source.place != bank.source.place
        and not _has(one, _NO_BATTERY)
        and (_has(one, _BATTERYS) or (one.source.place in flows and (one.words & BATTERY or _fellow(one, bank))))
    }
    chargers = any(one.quantity.startswith("ac_") and one.words & CHARGER for one in own)
    outlets = sum(one.quantity.startswith("ac_") for one in own)
    nearest = {
        quantity: max((shared(one.source, bank.source) for one in own if one.quantity == quantity), default=0)
        for quantity in _WHERE
    }
    doors = {
        quantity: [
            one for one in own if one.quantity == quantity and shared(one.source, bank.source) == nearest[quantity]
        ]
        for quantity in _WHERE
    }
    left = []
    for one in own:
        why = ""
        if one.sure >= SURE_ENOUGH or one.source.place in batteries:
            pass
        elif one.quantity in _WHERE and shared(one.source, bank.source) < nearest[one.quantity]:
            why = f"another {one.quantity} stands nearer to the bank"
        elif one.quantity in _WHERE and _one_of_many(one, doors[one.quantity]):
            why = f"one of many, of which another is the battery's by name, or none: {one.quantity}"
        elif one.quantity.startswith("ac_") and not one.words & CHARGER and (chargers or outlets > _OUTLETS):
            why = "a charger's is told here" if chargers else "one of many outlets, and none is named the charger's"
        elif one.quantity.endswith("temperature"):
            over = _stands_over(one, bank)
            why = _of_other_air(one, known, _COLDEST if over else _COLDER)
            if not why and not over and (another := _known_kind(one, known) or _further(one, own, bank)):
                left.append(one.because(ANOTHER_KNOWN, another))
                continue
        elif one.quantity == "power" and "current" in known and _has(one, _NO_PRODUCT):
            why = "not the volts times amps of the bank"
        elif one.quantity in _ONE and one.quantity in known and _has(one, _ANOTHERS):
            why = "" if _has(one, _BATTERYS) else f"the bank's own {one.quantity} is known"
        left.append(one.because("not the bank's", why) if why else one)
    return left


def _one_of_many(one: Guess, as_near: list[Guess]) -> bool:
    """Tell whether a door or a fan is one of too many as near, or another one of them is called the battery's."""
    called = [other for other in as_near if other.words & BATTERY]
    return one not in called and bool(called or len(as_near) > _AS_NEAR)


def _further(one: Guess, own: list[Guess], bank: Guess) -> str:
    """Return why a thermometer hangs elsewhere: one of its kind as near is much likelier, or a nearer one as likely.

    What stands where the bank's volts do, or is told by the way it moves alone, is asked about, as is what a word
    calls air, acid or a battery's while nothing is much likelier. The weather's air is no bank's.
    """
    depth, place = shared(one.source, bank.source), bank.source.place
    if (place and path(one.source)[: len(place)] == place) or _has(one, _BY_ITS_WAYS):
        return ""
    called = bool(one.words & (AIR | BATTERY | ELECTROLYTE | PROBES))
    for other in own:
        if other.quantity != one.quantity or other.source.topic == one.source.topic or outdoors(other, bank):
            continue
        nearer = shared(other.source, bank.source) - depth
        likelier = nearer >= 0 and other.sure >= _MUCH_LIKELIER * one.sure
        if likelier or (not called and nearer > 0 and other.sure >= one.sure):
            return f"{told(other)} is more likely the thermometer of this bank, so it is left out"
    return ""


def _has(one: Guess, names: frozenset[str]) -> bool:
    return any(e.name in names for e in one.evidence)


def _fellow(one: Guess, bank: Guess) -> bool:
    """Tell whether a voltage is told as the bank's is, but for one part of its topic."""
    parts, others = one.source.levels.split("/"), bank.source.levels.split("/")
    return len(parts) == len(others) and sum(map(str.__ne__, parts, others)) == 1


def _known_kind(one: Guess, known: dict[str, Guess]) -> str:
    """Return that the bank's own thermometer of the kind is known, unless the name says that it may have two."""
    if one.quantity in known and not (
        one.quantity == "electrolyte_temperature" and one.words & (ELECTROLYTE | PROBES | BATTERY)
    ):
        return f"the bank's own {one.quantity.replace('_', ' ')} is known"
    return ""


def _stands_over(one: Guess, bank: Guess) -> bool:
    """Tell whether a thermometer stands right in the folder that the bank's folder stands in: ``shed/temperature``."""
    place, folder = bank.source.place, path(one.source)
    return 0 < len(folder) < len(place) and place[: len(folder)] == folder


def _of_other_air(one: Guess, known: dict[str, Guess], colder: float) -> str:
    """Return why a temperature cannot be the bank's, or nothing."""
    acid = known.get("electrolyte_temperature")
    if acid is not None and one.quantity == "ambient_temperature":
        above = one.value - acid.value
        if not -colder <= above <= _WARMER:
            return f"no air around acid of {acid.value:.1f} degC"
    return ""
