"""The file as a whole on live traffic: whether the mappings together describe a battery that can be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from statistics import median
from typing import NamedTuple

from bridge.intake import Mapping, Routes
from bridge.listen.banks import Found
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess, cells_of
from bridge.listen.physics import answers, watts_agree
from bridge.message import Message
from rules.bank import QUANTITIES

#: How long live traffic is heard for the judgement [s].
JUDGED = 60.0
#: No flooded cell is discharged above the one, and none takes a charge far below the other [V] (common practice).
_CHARGING_ABOVE = 2.13
#: An electrolyte that is watched stands between these [degC] (assumed: colder is frozen, hotter has tripped).
_ACID = (-25.0, 60.0)
#: Less than this is nothing [A].
_FLOWS = 0.5


class Verdict(NamedTuple):
    """What live traffic says about one mapping of the file.

    Attributes
    ----------
    bank, meter : str
        Whose mapping.
    possible : bool
        False where it contradicts what a battery can do.
    words : str
        What was seen.
    """

    bank: str
    meter: str
    possible: bool
    words: str


def live_mappings(found: Iterable[Found]) -> dict[tuple[str, str], tuple[Mapping, Guess]]:
    """Return the mappings of everything that goes live, by (bank, meter)."""
    made: dict[tuple[str, str], tuple[Mapping, Guess]] = {}
    for bank in found:
        for one in bank.guesses:
            if one.sure < SURE_ENOUGH:
                continue
            meter = f"{one.quantity}:{one.part}" if one.part else one.quantity
            while (bank.name, meter) in made:
                meter += "#"
            source = one.source
            mapping = Mapping(
                bank=bank.name,
                meter=meter,
                quantity=one.quantity,
                topic=source.topic,
                style=source.style,
                pointer=source.at if source.style in {"json", "pairs"} else "",
                name=source.at if source.style == "senml" else "",
                unit=one.unit or None,
                sign=-1.0 if one.sign == "discharging" else 1.0,
                decimal=source.decimal,
            )
            made[bank.name, meter] = (mapping, one)
    return made


def judge(found: list[Found], heard: Iterable[Message]) -> list[Verdict]:
    """Return a verdict on every live mapping, from a minute of messages decoded as the bridge itself will."""
    mapped = live_mappings(found)
    routes = Routes(mapping for mapping, _ in mapped.values())
    series: dict[tuple[str, str], list[tuple[float, float]]] = {key: [] for key in mapped}
    for message in heard:
        for reading in routes.decode(message).readings:
            series[reading.bank, reading.meter].append((reading.at, reading.value))
    verdicts = []
    for (bank, meter), (mapping, _) in mapped.items():
        values = series[bank, meter]
        if not values:
            verdicts.append(Verdict(bank, meter, True, "said nothing in this time: slow, or off?"))
            continue
        volts = series.get((bank, "voltage"), [])
        possible, words = _judged(mapping.quantity, values, volts, series.get((bank, "current"), []))
        verdicts.append(Verdict(bank, meter, possible, words))
    return verdicts


#: So many values of volts and amps show whether one follows the other, and so few whether another meter lives [1]
#: (assumed).
_SHOW, _ALIVE = 12, 2


class Enough:
    """Whether every mapping that goes live has said enough to be judged: nobody waits longer than that.

    Parameters
    ----------
    found : list of Found
        The banks as they were heard.
    """

    def __init__(self, found: list[Found]) -> None:
        self._left = Counter[str]()
        for mapping, _ in live_mappings(found).values():
            wanted = _SHOW if mapping.quantity in {"voltage", "current"} else _ALIVE
            self._left[mapping.topic] = max(wanted, self._left[mapping.topic])

    def take(self, message: Message) -> None:
        """Count one message; what the broker kept says nothing of now."""
        if message.topic in self._left and not message.retain:
            self._left[message.topic] -= 1

    def reached(self) -> bool:
        """Tell whether all have."""
        return all(left <= 0 for left in self._left.values())


_Series = list[tuple[float, float]]


def _judged(quantity: str, values: _Series, volts: _Series, amps: _Series) -> tuple[bool, str]:
    middle = median(value for _, value in values)
    moves = len({value for _, value in values}) > 1
    if quantity == "voltage":
        cells = cells_of(middle)
        if not cells:
            return False, f"{middle:.2f} V is no lead-acid bank of any usual size"
        return True, f"{middle:.2f} V, {middle / cells[0]:.2f} V per cell of {cells[0]}"
    if quantity == "current":
        return _judged_current(values, volts, middle)
    if quantity == "power" and volts and amps:
        agree = watts_agree(volts, amps, values)
        return agree is not False, f"{middle:.0f} W, " + (
            "volts times amps" if agree else "too little flows to tell" if agree is None else "NOT volts times amps"
        )
    if quantity == "electrolyte_temperature":
        if not _ACID[0] <= middle <= _ACID[1]:
            return False, f"{middle:.1f} degC is no acid that is watched: degC or degF?"
        return True, f"{middle:.1f} degC" + (", alive" if moves else ", has not moved yet")
    unit = QUANTITIES[quantity].unit
    if unit == "degC":
        return True, f"{middle:.1f} degC"
    return True, f"{middle:.4g}" + ("" if unit in {"1", "boolean"} else f" {unit}")


def _judged_current(values: _Series, volts: _Series, middle: float) -> tuple[bool, str]:
    cells = cells_of(median(value for _, value in volts)) if volts else ()
    if not cells:
        return True, f"{middle:.2f} A"
    per_cell = median(value for _, value in volts) / cells[0]
    followed, against = answers(volts, values)
    if against > followed:
        return False, f"{middle:.2f} A: the volts went against {against} of its steps: turn its sign"
    if middle < -_FLOWS and per_cell > _CHARGING_ABOVE:
        return False, f"{middle:.2f} A at {per_cell:.2f} V per cell can only be charging: turn its sign"
    return True, f"{middle:.2f} A" + (f", the volts followed {followed} of its steps" if followed else "")


def with_verdicts(found: list[Found], verdicts: Iterable[Verdict]) -> list[Found]:
    """Return the banks with every impossible mapping taken out of the live ones."""
    mapped = live_mappings(found)
    wrong = {id(mapped[one.bank, one.meter][1]): one.words for one in verdicts if not one.possible}
    return [
        bank._replace(
            guesses=tuple(
                one.because("cannot be", f"on live traffic: {wrong[id(one)]}") if id(one) in wrong else one
                for one in bank.guesses
            )
        )
        for bank in found
    ]
