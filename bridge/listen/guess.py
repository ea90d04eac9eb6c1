"""What a number probably is: from its unit, its name, its range, and how it behaves beside the others.

A guess is written into the cabin file only above `SURE_ENOUGH`; below it stays a comment with its reason. A wrong guess
that looks right is the danger here: a temperature that could be Celsius or Fahrenheit is never decided by range alone.
"""

from __future__ import annotations

from itertools import pairwise
from statistics import median
from typing import NamedTuple

from bridge.listen.collect import Source
from bridge.listen.names import AC, ACID, AIR, CIRCUITS, EMPTY, NOT_OURS, THINGS, WORDS, named, unit_named, words_of
from bridge.units import ALIASES, SHARES, Linear, UnitError, compile_unit
from rules.bank import QUANTITIES

SURE_ENOUGH = 0.6


class Guess(NamedTuple):
    """What a source probably is.

    Attributes
    ----------
    quantity, unit : str
        As the cabin file writes them; unit is empty for contacts and for Homie, which brings its own.
    sure : float
        0 to 1.
    reasons : tuple of str
        Why, and what to compare.
    sign : str
        ``charging`` or ``discharging``.
    """

    source: Source
    quantity: str
    unit: str
    sure: float
    reasons: tuple[str, ...]
    sign: str = "charging"

    @property
    def value(self) -> float:
        """Median in the canonical unit."""
        return self.linear(median(self.source.values))

    @property
    def linear(self) -> Linear:
        """Conversion to the canonical unit, without sign."""
        if not self.unit:
            return Linear(1.0)
        return compile_unit(self.unit, QUANTITIES[self.quantity].unit, _dialect(self.source))


_KINDS = {"voltage": "voltage", "current": "current", "power": "power", "temperature": "temperature"}
_CANONICAL = {"V": "voltage", "A": "current", "W": "power", "degC": "temperature"}
#: So many values tell whether a number lives, and whether it only counts.
_ALIVE, _COUNTS = 20, 8
#: A number called milliamperes below this, or kilowatts above, may be called wrongly.
_MILLI, _KILO = 300.0, 100.0
#: Mains of any country, with room [V] (common practice, no source).
_MAINS = (80.0, 280.0)


def guess(source: Source) -> Guess | None:
    """The best guess for one source by itself, or None where it is nothing we could use."""
    words = words_of(f"{source.topic} {source.label} {source.at}")
    telling = [part for part in source.topic.split("/") if part.lower() not in EMPTY]
    last = [word for word in words_of(f"{source.label} {source.at}") if word not in EMPTY and not word.isdigit()]
    last = last or words_of(telling[-1] if telling else "") or words
    if not source.values or NOT_OURS & set(last):
        return None
    if source.contact:
        return _contact(source, words)
    kind, sure, reasons = _kind(source, words, last)
    if kind is None:
        return None
    found = _with_unit(source, _quantity(kind, words), sure, reasons, words)
    return None if found is None else _doubted(found, kind, set(words))


def _doubted(found: Guess, kind: str, names: set[str]) -> Guess:
    """What speaks against a guess, whatever its name and unit say."""
    source = found.source
    quantity = QUANTITIES[found.quantity]
    steps = {round(later - sooner, 6) for sooner, later in pairwise(source.values)}
    other = names & THINGS or (names & CIRCUITS if not names & ACID and found.quantity[:3] != "ac_" else set())
    doubts = []
    if other:
        doubts.append((0.5, f"named {sorted(other)[0]}: is it the bank's?"))
    elif kind == "temperature" and not names & (AIR | ACID):
        doubts.append((0.5, "of the electrolyte, or of the air? no name says"))
    if len(source.labels) > 1:
        doubts.append((0.3, f"several things speak through this place: {_few(source.labels)}"))
    if len(source.units) > 1:
        doubts.append((0.3, f"its unit changes: {_few(source.units)}"))
    if not source.times:
        doubts.append((0.5, "only a kept message was heard, of unknown age: does it still report?"))
    if len(source.values) >= _COUNTS and len(steps) == 1 and steps != {0.0}:
        doubts.append((0.3, "it goes on by equal steps: a counter or a clock?"))
    if len(source.values) >= _ALIVE and steps == {0.0}:
        doubts.append((found.sure - 0.15, f"the same in all {len(source.values)} messages: does it live?"))
    if not quantity.per_cell and not quantity.low <= found.value <= quantity.high:
        doubts.append((0.3, f"{found.value:g} {quantity.unit} cannot be"))
    if found.quantity == "ac_voltage" and not _MAINS[0] <= found.value <= _MAINS[1]:
        doubts.append((0.5, f"{found.value:g} V is no mains, or it was off"))
    sure = min([found.sure, *(limit for limit, _ in doubts)])
    return found._replace(sure=sure, reasons=(*found.reasons, *(why for _, why in doubts)))


def _few(words: set[str]) -> str:
    shown = sorted(words)
    return ", ".join(shown[:4]) + (" ..." if len(shown) > 4 else "")


def _contact(source: Source, words: list[str]) -> Guess | None:
    quantity = next((WORDS[word] for word in words if WORDS.get(word) in {"fan", "door"}), None)
    if quantity is None:
        return None
    why = f"named {quantity}, a contact: see that on means running or open, and that it reports regularly"
    return Guess(source, quantity, "", 0.5, (why,))


def _kind(source: Source, words: list[str], last: list[str]) -> tuple[str | None, float, tuple[str, ...]]:
    """Voltage, current, power, temperature ... and how sure: the unit first, then the hub's kind, then the name."""
    if source.unit in {"C", "F"} and any(WORDS.get(word) == "temperature" for word in words):
        return "temperature", 0.75, (f"named a temperature, says {source.unit}",)
    if source.unit is not None:
        for canonical, kind in _CANONICAL.items():
            try:
                compile_unit(source.unit, canonical, _dialect(source))
            except UnitError:
                continue
            return kind, 0.95, (f"says {source.unit}",)
        if "hydrogen" in words or "h2" in words:
            return "hydrogen", 0.85, (f"named hydrogen, says {source.unit}",)
        return None, 0.0, ()
    if source.kind in _KINDS:
        return _KINDS[source.kind], 0.85, (f"announced as {source.kind}",)
    for scope, strong, weak in ((last, 0.85, 0.65), (words, 0.75, 0.5)):
        name = named(scope)
        if name is not None:
            word, full = name
            sure = strong if full else 0.5 if word == "current" else weak
            return WORDS[word], sure, (f'named "{word}"',)
    return None, 0.0, ()


def _quantity(kind: str, words: list[str]) -> str:
    """The trade's quantity for a kind, from the other words of the name."""
    names = set(words)
    if kind == "temperature":
        return "ambient_temperature" if names & AIR and not names & ACID else ("electrolyte_temperature")
    if kind in {"voltage", "current", "power"} and names & AC:
        return f"ac_{kind}"
    if kind == "voltage":
        for word in ("block", "cell", "midpoint"):
            if names & {word, f"{word}s"}:
                return f"{word}_voltage"
    return "string_current" if kind == "current" and names & {"string", "strings"} else kind


def _with_unit(source: Source, quantity: str, sure: float, reasons: tuple[str, ...], words: list[str]) -> Guess | None:
    """Settle the unit: said, named, or by range; the range also confirms or denies."""
    canonical = QUANTITIES[quantity].unit
    if source.unit is not None and canonical != "1":
        unit = {"C": "degC", "F": "degF"}.get(source.unit, source.unit) if canonical == "degC" else source.unit
        return Guess(source, quantity, ALIASES.get(unit, unit), sure, reasons)
    middle = median(source.values)
    said = unit_named(words, canonical)
    if canonical == "degC":
        return _temperature(source, quantity, sure, reasons, said)
    if canonical == "1":
        return _share(source, quantity, sure, reasons)
    if canonical in {"mm", "boolean"}:
        return None
    if said is not None:
        return _as_named(source, quantity, said, sure, reasons)
    if quantity == "voltage":
        if nominal_cells(middle) is not None:
            return Guess(source, quantity, "V", min(0.9, sure + 0.05), (*reasons, f"{middle:g} V fits a bank"))
        if nominal_cells(middle / 1000.0) is not None:
            why = f"{middle:g} V cannot be a bank, {middle / 1000.0:g} V can: the number is millivolts"
            return Guess(source, quantity, "mV", max(0.7, sure - 0.1) if sure > 0.5 else sure, (*reasons, why))
        return Guess(source, quantity, "V", 0.3, (*reasons, f"{middle:g} fits no bank, in V or in mV"))
    if quantity.endswith("current") and abs(middle) > 1000.0:
        return Guess(source, quantity, "mA", sure - 0.15, (*reasons, f"{middle:g} A is too much: milliamperes"))
    return Guess(source, quantity, canonical, sure, (*reasons, f"no unit: {canonical} assumed"))


def _as_named(source: Source, quantity: str, unit: str, sure: float, reasons: tuple[str, ...]) -> Guess:
    """A name that says mV, mA or kW, held against the size of the number."""
    middle = median(source.values)
    reasons = (*reasons, f"and {unit} in the name")
    if unit == "mV" and quantity == "voltage" and nominal_cells(middle / 1000.0) is None:
        volts = nominal_cells(middle) is not None
        why = f"but {middle:g} " + ("fits a bank in volts" if volts else "fits no bank, in V or in mV")
        return Guess(source, quantity, "V" if volts else unit, 0.4, (*reasons, why))
    if abs(middle) < _MILLI if unit in ("mV", "mA") else abs(middle) > _KILO:
        why = f"but is {middle:g} not {unit[1]}?"
        return Guess(source, quantity, unit, 0.5, (*reasons, why))
    return Guess(source, quantity, unit, min(0.95, sure + 0.1), reasons)


def _temperature(
    source: Source, quantity: str, sure: float, reasons: tuple[str, ...], said: str | None
) -> Guess | None:
    middle = median(source.values)
    if said is not None:
        return _temperature_named(source, quantity, said, sure, (*reasons, f"and {said} in the name"))
    if 250.0 < middle < 350.0:
        return Guess(source, quantity, "K", sure, (*reasons, f"{middle:g} can only be kelvin"))
    in_fahrenheit = (middle - 32.0) / 1.8
    if -20.0 <= middle <= 36.0:
        why = f"no unit: {middle:.1f} degC, or {in_fahrenheit:.1f} degC if it is degF: compare with a thermometer"
        return Guess(source, quantity, "degC", sure - 0.2, (*reasons, why))
    why = (
        f"no unit: as degF it is {in_fahrenheit:.1f} degC, as degC it is {middle:.1f} and HOT: "
        "compare with a thermometer before you decide"
    )
    return Guess(source, quantity, "degF", 0.4, (*reasons, why))


def _temperature_named(source: Source, quantity: str, unit: str, sure: float, reasons: tuple[str, ...]) -> Guess:
    """Celsius above any electrolyte's heat is doubted, and Fahrenheit below any hut's cold."""
    middle = median(source.values)
    if (unit == "degC" and middle > 65.0) or (unit == "degF" and middle < 0.0):
        return Guess(source, quantity, unit, 0.5, (*reasons, f"but can {middle:g} {unit} be?"))
    return Guess(source, quantity, unit, min(0.95, sure + 0.1), reasons)


def _share(source: Source, quantity: str, sure: float, reasons: tuple[str, ...]) -> Guess | None:
    middle = median(source.values)
    if quantity == "gravity":
        fits = 1.0 <= middle <= 1.4
        return Guess(source, quantity, "1", sure if fits else 0.3, (*reasons, f"{middle:g}"))
    unit = "percent" if source.unit == "%" and source.style != "senml" else source.unit
    if unit in SHARES:
        return Guess(source, quantity, unit, sure, reasons)
    return Guess(
        source, quantity, "ppm" if middle > 100 else "percent", 0.4, (*reasons, "no unit: ppm, percent or %LEL?")
    )


def nominal_cells(volts: float) -> int | None:
    """Cells of a 12, 24 or 48 V bank that could show this voltage [V]."""
    for cells, low, high in ((6, 9.0, 17.4), (12, 17.4, 34.8), (24, 36.0, 69.6)):
        if low <= volts < high:
            return cells
    return None


def _dialect(source: Source) -> str:
    return "senml" if source.style == "senml" else "text"
