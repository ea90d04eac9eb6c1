"""What belongs to a bank: its current and power by physics, its parts by their sums, the rest by its company."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from statistics import median

from bridge.listen.evidence import HALF_BELIEVED, OUTDOORS, SURE_ENOUGH
from bridge.listen.guess import HOTTEST, Guess, may_be_tenths, settle_scale, told
from bridge.listen.physics import answers, ratio, watts_agree, watts_agree_in_the_middle
from bridge.listen.places import path, shared
from bridge.listen.settle import settle_midpoint, settle_share, settle_sign
from bridge.listen.shape import Shape, family_names, settle_parts
from bridge.listen.vocabulary import AIR, BATTERY, CHARGER, ELECTROLYTE, PROBES, WEATHER

#: So few thermometers of one place can be a bank's; acid on charge is so much warmer than air [1], [K]; what is higher
#: is a boiler's in either scale [degree] (assumed).
_FEW, _WARMER, _BOILER = 8, 3.0, 140.0
#: Two strings carry no less than so much of each other, and stray by no more from that share; so many values show that
#: they moved [1] (assumed: both have the age of one bank).
_LEAST_SHARE, _STEADY, _MOVED = 0.3, 0.05, 8
#: One of each, and more of it is another bank's or a mistake.
_SINGLE = frozenset({"voltage", "current", "power", "ambient_temperature", "ac_voltage", "ac_current", "ac_power"})


def settled(bank: Guess, group: list[Guess]) -> tuple[list[Guess], Shape]:
    """Return a bank's own and its shape: current by physics, parts by their sums, the rest by its company."""
    currents = [one for one in group if one.quantity == "current"]
    if any(one.sure > HALF_BELIEVED for one in currents):
        currents = [one for one in currents if not any(e.name == "no name" for e in one.evidence)]
    powers = [one for one in group if one.quantity == "power"]
    bank, currents, powers = _by_watts(bank, currents, powers)
    blocks = max(1, sum(one.quantity == "block_voltage" for one in group))
    currents = [_moving(settle_sign(one, bank, blocks), bank) for one in currents]
    currents = _alike(currents)
    current = max(currents, key=lambda one: one.sure, default=None)
    shown = [one for one in currents if any(e.name == "watts agree" for e in one.evidence)]
    powers = [_signed(one, max(shown, key=lambda one: one.sure, default=current)) for one in powers]
    rest = [one for one in group if one.quantity not in {"current", "power"}]
    rest = _one_probe([_of_the_weather(_of_the_air(one, bank), bank) for one in _by_warmth(rest)])
    rest = [settle_share(one, bank) for one in rest]
    rest = [settle_midpoint(one, bank) if one.quantity == "midpoint_voltage" else one for one in rest]
    rest = _nearest_air(rest, bank)
    parts, shape = settle_parts(rest, bank, current)
    rest = [parts.get(id(one), one) for one in rest]
    return list(singled([bank, *currents, *powers, *rest], bank)), shape


def _alike(currents: list[Guess]) -> list[Guess]:
    """Doubt each of several currents that are called alike but for a letter or a number, or are steady shares.

    Each may be one string's. That watts prove another of them makes it none the surer.
    """
    believed = [one for one in currents if one.sure > HALF_BELIEVED]
    counts = Counter(family_names(one.source, of_string=False)[0] for one in believed)
    called = "called as others beside it are, but for a letter or number: one string's, or the whole?"
    shared_out = "a steady share of another one beside it: one string's, or the whole?"
    told = []
    for one in currents:
        if one not in believed or any(e.name == "watts agree" for e in one.evidence):
            told.append(one)
        elif counts[family_names(one.source, of_string=False)[0]] > 1:
            told.append(one.because("a share", called))
        elif any(_in_step(one, other) for other in believed if other is not one):
            told.append(one.because("a share", shared_out))
        else:
            told.append(one)
    return told


def _in_step(one: Guess, other: Guess) -> bool:
    """Tell whether two currents of one place keep their share of each other while they move, as strings do."""
    if one.source.place != other.source.place or min(len(set(some.source.values)) for some in (one, other)) < _MOVED:
        return False
    found = ratio(one.series, other.series)
    return found is not None and _LEAST_SHARE <= abs(found[0]) <= 1.0 / _LEAST_SHARE and found[1] <= _STEADY


def _of_the_air(one: Guess, bank: Guess) -> Guess:
    """Take a temperature that no word calls the acid's for air's, unless it stands right beside the bank's volts."""
    place = bank.source.place
    beside = bool(place) and path(one.source)[: len(place)] == place
    told = any(e.name == "by warmth" for e in one.evidence)
    return (
        one if not _wide(one) or told or beside or one.words & PROBES else one._replace(quantity="ambient_temperature")
    )


def outdoors(one: Guess, bank: Guess) -> bool:
    """Tell whether a thermometer hangs outside by its name, and the bank does not: a yard may hold both."""
    told_so = one.words & (WEATHER - bank.words)
    return bool(told_so) and not one.words & (ELECTROLYTE | PROBES | BATTERY | _BATTERY_PLACES)


def _of_the_weather(one: Guess, bank: Guess) -> Guess:
    """Doubt a thermometer that hangs outside so much that nobody is asked about it: it stays a comment in the file."""
    if not one.quantity.endswith("temperature") or not outdoors(one, bank):
        return one
    word = sorted(one.words & (WEATHER - bank.words))[0]
    return one._replace(quantity="ambient_temperature").because(
        OUTDOORS, f"named {word}: the weather's, not the air around the bank; --take takes it all the same"
    )


def _nearest_air(rest: list[Guess], bank: Guess) -> list[Guess]:
    """Doubt air where other air stands nearer to the bank's volts, which is the bank's sooner."""
    airs = [one for one in rest if one.quantity == "ambient_temperature" and one.words & AIR]
    most = max((shared(one.source, bank.source) for one in airs), default=0)
    further = [one for one in airs if shared(one.source, bank.source) < most and not one.words & BATTERY]
    return [one.because("whose", "other air stands nearer to the bank") if one in further else one for one in rest]


def _wide(one: Guess) -> bool:
    return one.quantity == "electrolyte_temperature" and any(e.name == "wide name" for e in one.evidence)


def _by_warmth(rest: list[Guess]) -> list[Guess]:
    """Tell acid from air where a few thermometers of one place have no telling name: on charge acid is the warmer."""
    told: dict[int, Guess] = {}
    for place in {_board(one) for one in rest if _open(one)}:
        some = [one for one in rest if _board(one) == place and one.quantity.endswith("temperature")]
        some = [one for one in some if len(set(one.source.values)) > 1 and median(one.source.values) < _BOILER]
        if not 1 < len(some) <= _FEW:
            continue
        if all(one.source.unit is None for one in some):
            # of one board all have one scale, and that of the coolest is the likelier for all
            some = [one._replace(unit=min(some, key=lambda other: median(other.source.values)).unit) for one in some]
        some = [one for one in some if one.value < HOTTEST]
        coolest, warmest = min(one.value for one in some), max(one.value for one in some)
        if warmest - coolest < _WARMER:
            continue
        for one in some:
            if _open(one):
                acid = one.value > (coolest + warmest) / 2.0
                why = f"{one.value:.1f} degC where {coolest if acid else warmest:.1f} stands beside it"
                quantity = "electrolyte_temperature" if acid else "ambient_temperature"
                told[id(one.source)] = one._replace(quantity=quantity).because("by warmth", why)
    return [told.get(id(one.source), one) for one in rest]


def _board(one: Guess) -> tuple[str, ...]:
    """Return the place of a thermometer without its own number, which it may share with another quantity's."""
    place = one.source.place
    return place[:-1] if place and place[-1].isdigit() and place == path(one.source) else place


def _open(one: Guess) -> bool:
    """Tell whether no word says of a temperature that it is the acid's, or that it is not."""
    return one.quantity == "electrolyte_temperature" and not one.words & ELECTROLYTE


def _one_probe(rest: list[Guess]) -> list[Guess]:
    """Take of several temperatures only those called acid for acid's; one of the others may be air."""
    probes = [one for one in rest if one.quantity == "electrolyte_temperature" and one.sure > HALF_BELIEVED]
    if len(probes) <= 1:
        return rest
    why = "of the acid, or of something beside it? several temperatures stand here"
    return [one.because("whose", why) if one in probes and not one.words & ELECTROLYTE else one for one in rest]


def _by_watts(bank: Guess, currents: list[Guess], powers: list[Guess]) -> tuple[Guess, list[Guess], list[Guess]]:
    """Take all three for this bank's where volts times amps are the watts, whatever their names say."""
    told_powers = []
    for power in powers:
        if any(one.name == "no name" for one in power.evidence):
            # what is a product by chance proves nothing of what it would be the product of
            told_powers.append(power)
            continue
        proved, place = _proved(power, bank, currents)
        if place is not None:
            why = "volts times amps agree" + (" if it is kW" if proved.unit == "kW" else "")
            proved = proved.because("watts agree", f"{why}: {told(currents[place])}")
            currents[place] = currents[place].because("watts agree", f"{why}: {told(proved)}")
            if (
                proved.unit == "kW"
                and currents[place].source.unit is None
                and abs(currents[place].value) >= _MILLI_FROM
            ):
                doubt = "no unit: A and kW, or mA and W? compare with a clamp"
                proved, currents[place] = proved.because("scale", doubt), currents[place].because("scale", doubt)
            bank = bank.because("watts agree", f"{why}: {told(proved)}")
            bank = bank if may_be_tenths(currents[place]) else settle_scale(bank)
        told_powers.append(proved)
    return bank, currents, told_powers


def _proved(power: Guess, bank: Guess, currents: list[Guess]) -> tuple[Guess, int | None]:
    """Return the power, and the place of the current with which it is the bank's; else what speaks against it."""
    disagrees = False
    # a station that says all once more has the same amps: its own are nearer
    nearest = sorted(enumerate(currents), key=lambda each: -shared(each[1].source, power.source))
    for place, current in nearest:
        if current.sure < _WORTH_TRYING:
            continue
        for tried in (power, power._replace(unit="kW")) if _unit_open(power) else (power,):
            agree = watts_agree(series_of(bank), series_of(current), series_of(tried))
            if agree:
                return tried, place
            disagrees = disagrees or agree is False
    if not disagrees:
        return power.because("whose", "no current beside it to prove it by"), None
    for _, current in nearest:
        scatters = current.sure >= _WORTH_TRYING and current.source.place == power.source.place
        if scatters and watts_agree_in_the_middle(series_of(bank), series_of(current), series_of(power)):
            why = f"about volts times amps, though each moment differs: {told(current)}"
            return power.because("whose", why), None
    product = abs(bank.value * max(currents, key=lambda one: one.sure).value)
    why = f"volts times amps are {product:.0f} W, this says {power.value:.0f} W: another circuit's?"
    return power.because("watts disagree", why), None


#: A current less likely than this is not held against a power [0-1].
_WORTH_TRYING = 0.1
#: A number so large that nobody gave a unit may be milliamperes: a tenth of an ampere is a bank's, too [A].
_MILLI_FROM = 100.0


def _unit_open(power: Guess) -> bool:
    return power.unit == "W" and power.source.unit is None


def series_of(one: Guess) -> list[tuple[float, float]]:
    """Return what was heard of it over time [s]; its median at zero where nothing has a time."""
    return one.series or [(0.0, one.value)]


def _moving(current: Guess, bank: Guess) -> Guess:
    """Prove by what the bank's volts do when the current steps whose it is, and which way it counts."""
    followed, against = answers(bank.series, current.series)
    if followed == against:
        return current
    told = _sign_known(current._replace(sign="charging" if followed > against else "discharging"))
    why = (
        f"the volts followed {followed} of its steps" if followed else f"the volts went against {against} of its steps"
    )
    return told.because("moves with the amps" if max(followed, against) > 1 else "moved once with the amps", why)


def _sign_known(current: Guess) -> Guess:
    """Drop what was in doubt about the sign before the volts told."""
    return current._replace(evidence=tuple(one for one in current.evidence if not one.name.startswith("sign ")))


def _signed(power: Guess, current: Guess | None) -> Guess:
    """Give a power the sign of the current beside it, or the opposite one."""
    if current is None:
        return power
    if not any(one.name == "watts agree" for one in power.evidence):
        open_sign = any(one.name in {"sign not known", "sign in doubt"} for one in current.evidence)
        why = "which way it counts is not shown, nor is the current's"
        return power.because("sign not known", why) if open_sign and power.sure >= SURE_ENOUGH else power
    if any(one.name in {"sign not known", "sign in doubt"} for one in current.evidence):
        return power.because("sign not known", "counts as the current does, and that is not known yet")
    same = power.value * current.value >= 0
    turned = current.sign == "discharging"
    return power._replace(sign="discharging" if turned == same else "charging")


def singled(group: list[Guess], bank: Guess | None) -> Iterator[Guess]:
    """Yield what is a bank's, second sources of what there is once made doubtful, the surest first."""
    taken: set[str] = set()
    asked = [_asked(one, bank) for one in group]
    for one in sorted(asked, key=lambda one: (-one.sure, -sum(e.weight for e in one.evidence))):
        other = any(e.name == "another machine's battery" for e in one.evidence)
        again = one.quantity in _SINGLE and one.quantity in taken and not other
        taken |= {one.quantity} if one.sure >= SURE_ENOUGH else set()
        yield one.because("a second one", f"a second {one.quantity}: whose is it?") if again else one


def _asked(one: Guess, bank: Guess | None) -> Guess:
    """Mark what no traffic tells, so that it is asked once."""
    if any(e.name in {"whose", "which of several", "of which bank", OUTDOORS} for e in one.evidence):
        return one
    if one.quantity.startswith("ac_"):
        asked = one.because("mains", "of the charger's own outlet? then write it in")
        return asked if one.words & CHARGER else asked.because("another circuit", "not named a charger's")
    if one.quantity == "hydrogen":
        return one.because("whose", "of the air above the bank, with a sensor that was tried?")
    if one.quantity == "ambient_temperature" and not _near_the_bank(one, bank):
        return one.because("whose", "of the air around the bank?")
    if one.quantity == "gravity":
        return one.because("which of several", "which cell? write its index")
    return one


#: Places that hold a bank: air there is its air.
_BATTERY_PLACES = frozenset({"shed", "compartment", "batteryroom"})


def _near_the_bank(one: Guess, bank: Guess | None) -> bool:
    """Tell whether air is called the bank's, or told in the same place, or under the same roof as the bank."""
    if one.words & (BATTERY | _BATTERY_PLACES):
        return True
    if one.words & WEATHER:
        return False
    return bank is not None and bool(one.words & AIR) and shared(one.source, bank.source) >= 1
