"""Can this be? What a person noted is held against the bank before it counts: places, words and ranges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from types import MappingProxyType

from rules.bank import Bank, Block
from rules.events import HandReading
from rules.hand.seen_words import WORST, deposits
from rules.laws import MARKS, STRONGEST, WEAKEST

#: Electrolyte of one cell for each rated Ah [g], from 7 to 11 kg in a 6 V block of 200 Ah; common practice, no source.
ELECTROLYTE = 15.0
#: A block or cell noted by hand may be joined backwards; a charger may overshoot [V per cell].
LOWEST, HIGHEST = -2.7, 3.5
#: A cell that lives shows from the first to the second, at rest or on charge [V] (common practice, no source).
A_CELL = (1.75, 2.8)
#: Electrolyte, case or charger room [degC]; level over the plates [mm]; charger's outlet [A].
COLDEST, HOTTEST, LEVEL, OUTLET = -40.0, 80.0, 100.0, 100.0
#: Every kind of hand reading, and the canonical unit of its numbers; empty where it is said in words, or by name.
KINDS = {
    "gravity": "1", "level": "mm", "voltage": "V", "amps": "A", "ac_amps": "A", "temperature": "degC",
    "string_amps": "A", "water": "g", "seen": "", "charger": "", "note": "",
}  # fmt: skip
LEVELS = ("below-plates", "at-plates", "between", "mark", "over-mark")
#: Water added until the level was right, without measuring it.
FULL = "full"
#: Water above one cell's plates for each rated Ah [g] (common practice, no source).
ABOVE_PLATES = 0.6
#: Water for one cell of more than so many times what stands above its plates is asked about [1] (assumed): a cell with
#: bare plates takes up to twice that.
MUCH_WATER = 3.0
#: A cell with bare plates lacks at most this share of all its acid, whatever the owner's reserve says [1] (common
#: practice, no source).
MOST_LACKING = 0.5
#: No cell of this trade holds more acid above its plates, whose mark lies 10 to 20 mm over them [mm]; more is asked
#: about (common practice, no source).
HIGH_LEVEL = 40.0
#: Acid less than this above the plates covers nothing once the bank gasses [mm] (common practice, no source).
BARELY_COVERED = 1.0
#: A block below this reads backwards, and is not merely flat [V].
BACKWARD = -0.5
#: Volts by hand and on the meter of the same block, or of the whole bank, agree up to so much [V], and up to this share
#: of the larger [1]: each may be off by a hundredth, and a charger moves a little between two looks (common practice,
#: no source).
VOLTS_APART, VOLTS_APART_SHARE = 0.2, 0.03
#: Amps by hand and on a meter of the same minutes agree up to so much [A], and up to this share of the larger [1]: a
#: clip-on meter and a shunt of this trade differ by less (common practice, no source).
AMPS_APART, AMPS_APART_SHARE = 1.0, 0.25
#: From so much on they differ by more than a good clip-on meter is off, which is remarked on [A], [1] (common practice,
#: no source).
AMPS_DIFFER, AMPS_DIFFER_SHARE = 0.5, 0.1
#: A reading taken no longer ago than this is of the same minutes as what the meters show now [s] (common practice).
SAME_MINUTES = 300.0
#: Readings older than this belong to another time [s].
OLDEST = 60 * 86400.0


def check(bank: Bank, reading: HandReading) -> None:
    """Refuse what cannot be: an unknown place, a word that means nothing here, a number out of its range.

    Parameters
    ----------
    bank : Bank
        As configured: a block that stands aside may be measured too.
    reading : HandReading
        Canonical units.

    Raises
    ------
    ValueError
        What is wrong, and what would be right.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0), Block("N2", 3, 200.0)),))
    >>> check(bank, HandReading("north", "amps", 0.0, 0.0, {"": 450.0}))
    Traceback (most recent call last):
        ...
    ValueError: amps of the bank: 450 A is not between -200 A and 200 A
    """
    if reading.undo:
        return
    if reading.at - reading.taken_at > OLDEST:
        raise ValueError(
            f"taken {(reading.at - reading.taken_at) / 86400.0:.0f} days ago: at most 60 days are accepted"
        )
    if reading.temperature is not None:
        _within("temperature", "", reading.temperature, COLDEST, HOTTEST, "degC")
    if not reading.values:
        if reading.kind != "note" or not reading.note:
            raise ValueError(f"a {reading.kind} entry says nothing: give a value")
        return
    spans = bank.places
    for where, value in reading.values.items():
        if reading.kind == "charger":
            _charger(bank, where, value)
        elif reading.kind == "string_amps":
            if not (where.isdecimal() and 1 <= int(where) <= len(bank.strings)):
                raise ValueError(f"no string {where!r}: there are 1 to {len(bank.strings)}")
            _number(bank, "string_amps", where, value, 1)
        else:
            if where not in spans and (cells := cells_there(bank, where)):
                raise ValueError(f"there is no {where!r}: {cells}")
            if where not in spans:
                near = get_close_matches(where, spans, n=1, cutoff=0.3)
                raise ValueError(f"no block or cell {where!r}" + (f": did you mean {near[0]!r}?" if near else ""))
            _number(bank, reading.kind, where, value, spans[where])


def cells_there(bank: Bank, where: str) -> str:
    """Return which cells the block has of which a cell was named that is none; empty where no block is named.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> cells_there(Bank("north", ((Block("N1", 3, 200.0),),)), "N1.4")
    'N1 has cells 1 to 3, N1.1 to N1.3'
    """
    label, point, _ = where.partition(".")
    cells = bank.places.get(label, 0) if point and label else 0
    if cells == 1:
        return f"{label} has one cell, {label}.1"
    return f"{label} has cells 1 to {cells}, {label}.1 to {label}.{cells}" if cells else ""


def doubt(
    bank: Bank,
    reading: HandReading,
    bare: str = "",
    poured: Mapping[str, float] = MappingProxyType({}),
) -> str:
    """Return why a person should be asked "sure?" before a reading is taken; empty where nothing is strange.

    The contract of every door (bench, `revival record`, bus): a reading of which this says something, and that does not
    carry `sure`, is answered ``{"unsure": why}`` and leaves no trace; the same one with ``"sure": true`` is taken.
    Slips of a gravity, a scale and a charger's setting are asked about in `rules.hand.slips`.

    Parameters
    ----------
    bank : Bank
        As configured.
    reading : HandReading
        Canonical units, already checked.
    bare : str
        Where plates were noted bare, in words; empty = nowhere.
    poured : dict
        Water poured into each cell within the hour before, as noted [g].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0),),))
    >>> doubt(bank, HandReading("north", "level", 0.0, 0.0, {"": 12.0}), "N1.2")
    'N1.2 was noted bare, and one figure for the bank does not tell that its plates are covered: note N1.2 by itself'
    """
    if reading.undo:
        return ""
    if reading.kind == "water":
        return _much_water(bank, reading, poured)
    if reading.kind == "level":
        return _strange_level(reading, bare)
    return _backward_lead(reading) if reading.kind == "voltage" else ""


def _strange_level(reading: HandReading, bare: str) -> str:
    """Ask about acid higher than a case is, and about one figure for many cells of which one was noted bare."""
    strange = []
    for where, value in reading.values.items():
        if below_plates(value):
            continue
        if not isinstance(value, str) and value > HIGH_LEVEL:
            strange.append(f"{where or 'the bank'}: {value:.0f} mm above the plates is more than a case has room for")
        inside = [
            place
            for place in bare.split(", ")
            if place and place not in (*reading.values, "the bank") and (not where or place.startswith(f"{where}."))
        ]
        if inside:
            strange.append(
                f"{', '.join(inside)} was noted bare, and one figure for {where or 'the bank'} does not tell that its "
                f"plates are covered: note {inside[0]} by itself"
            )
    return "; ".join(strange)


def _backward_lead(reading: HandReading) -> str:
    """Ask about volts that read backwards: the leads are swapped more often than a block is."""
    return "; ".join(
        f"{where or 'the bank'} at {value:.2f} V reads backwards: hold red to plus and black to minus"
        for where, value in reading.values.items()
        if not isinstance(value, str) and backward(value)
    )


def below_plates(value: float | str) -> bool:
    """Tell whether it is at the plates or below, where they are bare as soon as it gasses; from their top upward [mm].

    Examples
    --------
    >>> [below_plates(level) for level in ("below-plates", "at-plates", "between", -3.0, 0.0, 2.0)]
    [True, True, False, True, True, False]
    """
    return value in ("below-plates", "at-plates") if isinstance(value, str) else value < BARELY_COVERED


def backward(value: float | str) -> bool:
    """Tell whether a reading [V] is backwards, and not merely flat."""
    return not isinstance(value, str) and value < BACKWARD


def reserve(bank: Bank) -> float:
    """Return water above one cell's plates [g]: the owner's, else by its capacity."""
    return bank.water_reserve if bank.water_reserve is not None else ABOVE_PLATES * min(bank.string_capacities)


def _much_water(bank: Bank, reading: HandReading, poured: Mapping[str, float]) -> str:
    """Ask about more water than a cell of that block takes: a unit or a place is likelier mistaken."""
    spans = bank.places
    strange = []
    for where, value in reading.values.items():
        if isinstance(value, str):
            continue
        cells = cells_at(spans, where)
        each = value / len(cells)
        before = max([poured.get(cell, 0.0) for cell in cells])
        capacity = min(_ratings(bank, where))
        above = bank.water_reserve if bank.water_reserve is not None else ABOVE_PLATES * capacity
        most = min(MUCH_WATER * above, MOST_LACKING * ELECTROLYTE * capacity)
        # Whoever was sure of more than that is not asked about each drop behind it.
        if each <= most and (before > most or each + before <= most):
            continue
        much = f"{each:.0f} mL in each of {len(cells)} cells" if len(cells) > 1 else f"{each:.0f} mL"
        much += f", and {before:.0f} mL were noted within the hour before" if before and each <= most else ""
        strange.append(
            f"{where or 'the bank'}: {much}, and about {above:.0f} mL stand above the plates; even a cell with bare "
            f"plates takes no more than about {most:.0f} mL"
        )
    return "; ".join(strange)


def _ratings(bank: Bank, where: str) -> list[float]:
    """Return the rated Ah of the blocks that a place means [Ah]."""
    blocks = [block for string in bank.strings for block in string]
    return [block.capacity for block in blocks if not where or block.label in (where, where.rpartition(".")[0])]


def beside_the_meter(bank: Bank, reading: HandReading, metered: float | None) -> str:
    """Return how amps by hand contradict what the ammeter shows in the same minutes; empty where they do not.

    Parameters
    ----------
    bank : Bank
        Its strings, whose amps make the bank's together.
    reading : HandReading
        Canonical units, already checked.
    metered : float or None
        What a meter shows now [A]; None where none tells it.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0),),))
    >>> beside_the_meter(bank, HandReading("north", "amps", 0.0, 0.0, {"": 2.0}), 18.0)
    '2.0 A by hand stand beside 18.0 A on the ammeter'
    >>> beside_the_meter(bank, HandReading("north", "amps", 0.0, 0.0, {"": 16.5}), 18.0)
    ''
    """
    read = _whole_amps(bank, reading)
    if metered is None or read is None:
        return ""
    if abs(read - metered) <= max(AMPS_APART, AMPS_APART_SHARE * max(abs(read), abs(metered))):
        return ""
    return f"{read:.1f} A by hand stand beside {metered:.1f} A on the ammeter"


def differs_from_the_meter(bank: Bank, reading: HandReading, metered: float | None) -> str:
    """Return by how much amps by hand differ from an ammeter that they do not contradict; empty where they agree.

    Parameters
    ----------
    bank, reading, metered
        As for `beside_the_meter` [A].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0),),))
    >>> differs_from_the_meter(bank, HandReading("north", "amps", 0.0, 0.0, {"": 3.9}), 3.0)
    '3.9 A by hand differs by 0.9 A from the ammeter, which shows 3.0 A'
    """
    read = _whole_amps(bank, reading)
    if metered is None or read is None or beside_the_meter(bank, reading, metered):
        return ""
    off = abs(read - metered)
    if off <= max(AMPS_DIFFER, AMPS_DIFFER_SHARE * max(abs(read), abs(metered))):
        return ""
    return f"{read:.1f} A by hand differs by {off:.1f} A from the ammeter, which shows {metered:.1f} A"


def _whole_amps(bank: Bank, reading: HandReading) -> float | None:
    """Return the amps of the whole bank that a reading of these minutes tells [A]; None where it tells none."""
    values = [value for value in reading.values.values() if not isinstance(value, str)]
    whole = len(values) == (len(bank.strings) if reading.kind == "string_amps" else 1)
    late = reading.at - reading.taken_at > SAME_MINUTES
    if late or reading.undo or not whole or reading.kind not in ("amps", "string_amps"):
        return None
    return sum(values)


def beside_the_block_meters(reading: HandReading, metered: Mapping[str, float]) -> str:
    """Return how volts by hand contradict the meters of the same blocks or cells; empty where they do not.

    Parameters
    ----------
    reading : HandReading
        Canonical units, already checked.
    metered : dict
        What fresh meters show now, by block or cell [V].

    Examples
    --------
    >>> two = HandReading("north", "voltage", 0.0, 0.0, {"N1": 7.1, "N2": 6.0})
    >>> beside_the_block_meters(two, {"N1": 7.12, "N2": 7.12})
    '6.00 V by hand at N2 stand beside 7.12 V on its own meter'
    """
    if reading.kind != "voltage" or reading.undo or reading.at - reading.taken_at > SAME_MINUTES:
        return ""
    apart = []
    for where, value in reading.values.items():
        meter = metered.get(where)
        if meter is None or isinstance(value, str):
            continue
        if _volts_apart(value, meter):
            apart.append(f"{value:.2f} V by hand at {where} stand beside {meter:.2f} V on its own meter")
    return "; ".join(apart)


def beside_the_whole(
    bank: Bank, reading: HandReading, metered: float | None, noted: Mapping[str, float] = MappingProxyType({})
) -> str:
    """Return how volts by hand contradict those of the whole bank; empty where they do not.

    Parameters
    ----------
    bank : Bank
        As joined now: the blocks of a string together stand at the bank's volts.
    reading : HandReading
        Canonical units, already checked.
    metered : float or None
        What the bank's own meter shows now [V]; None where none tells it, and volts of the bank in the same reading
        stand for it.
    noted : dict
        What was noted of blocks on the same walk [V]: where it made the bank's volts, one other reading cannot.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0), Block("N2", 3, 200.0)),))
    >>> beside_the_whole(bank, HandReading("north", "voltage", 0.0, 0.0, {"": 12.4}), 14.2)
    '12.40 V of the bank by hand stand beside 14.20 V on its own meter'
    >>> beside_the_whole(bank, HandReading("north", "voltage", 0.0, 0.0, {"N1": 7.1, "N2": 6.2}), 14.2)
    'N1 and N2 by hand make 13.30 V together, and the bank stands at 14.20 V on its own meter'
    >>> beside_the_whole(bank, HandReading("north", "voltage", 0.0, 0.0, {"N1": 1.4}), 14.2, {"N1": 7.1, "N2": 7.1})
    'N1 by hand and the others as noted before make 8.50 V together, and the bank stands at 14.20 V on its own meter'
    >>> beside_the_whole(bank, HandReading("north", "voltage", 0.0, 0.0, {"N1": 1.4}), 14.2)
    'N1 by hand leaves 12.80 V for N2, 4.27 V per cell, for the bank stands at 14.20 V on its own meter'
    """
    if reading.kind != "voltage" or reading.undo or reading.at - reading.taken_at > SAME_MINUTES:
        return ""
    volts = {where: value for where, value in reading.values.items() if not isinstance(value, str)}
    told, by = volts.get(""), "on its own meter"
    apart = []
    if told is not None and metered is not None and _volts_apart(told, metered):
        apart.append(f"{told:.2f} V of the bank by hand stand beside {metered:.2f} V {by}")
    whole = metered
    if whole is None and told is not None:
        whole, by = told, "by hand"
    for string in bank.strings if whole is not None else ():
        said = "" if whole is None else _string_apart(string, volts, noted, whole)
        apart += [f"{said} the bank stands at {whole:.2f} V {by}"] if said else []
    return "; ".join(apart)


def _string_apart(string: Sequence[Block], volts: Mapping[str, float], noted: Mapping[str, float], whole: float) -> str:
    """Say how volts of a string's blocks do not make the bank's; empty where they do, or may."""
    read = [block.label for block in string if block.label in volts]
    left = [block for block in string if block.label not in volts]
    named = " and ".join([", ".join(read[:-1]), read[-1]] if read[:-1] else read)
    together = sum(volts[label] for label in read)
    if not read or not left:
        return f"{named} by hand make {together:.2f} V together, and" if read and _volts_apart(together, whole) else ""
    if all(block.label in noted for block in string):
        changed = together + sum(noted[block.label] for block in left)
        fitted = not _volts_apart(sum(noted[block.label] for block in string), whole)
        others = "by hand and the others as noted before make"
        return f"{named} {others} {changed:.2f} V together, and" if fitted and _volts_apart(changed, whole) else ""
    rest = whole - together
    per_cell = rest / sum(block.cells for block in left)
    if BACKWARD <= per_cell <= HIGHEST:
        return ""
    leaves = f"leave{'s' if len(read) == 1 else ''} {rest:.2f} V for {', '.join(block.label for block in left)}"
    return f"{named} by hand {leaves}, {per_cell:.2f} V per cell, for"


def _volts_apart(one: float, other: float) -> bool:
    """Tell whether two readings of the same volts are farther apart than both may be wrong [V]."""
    return abs(one - other) > max(VOLTS_APART, VOLTS_APART_SHARE * max(abs(one), abs(other)))


def measured_at(where: str) -> str:
    """Tell where a thermometer that was noted at a place is held: in the acid of the bank or of a cell, or on a case.

    Examples
    --------
    >>> measured_at(""), measured_at("N1.1"), measured_at("N1")
    ('cell', 'cell', 'case')
    """
    return "case" if where and "." not in where else "cell"


def cells_at(spans: Mapping[str, int], where: str) -> list[str]:
    """Return the cells that a place means: a cell itself, those of a block, or all."""
    return [cell for cell in spans if "." in cell and (not where or where in (cell, cell.rpartition(".")[0]))]


def _number(bank: Bank, kind: str, where: str, value: float | str, cells: int) -> None:
    if kind == "gravity":
        _see_one_cell(bank, where, value, cells)
    if isinstance(value, str):
        known = {"gravity": MARKS, "level": LEVELS, "water": (FULL,)}.get(kind, ())
        if kind not in ("seen", "note") and value not in known:
            raise ValueError(f"{kind}: {value!r} is neither a number nor one of {', '.join(known) or 'no words'}")
        if kind == "seen" and (deposits(value) or 0) > WORST:
            raise ValueError(f"seen: {value!r}: white deposits are graded from 0, clean, to {WORST}")
        return
    capacity = bank.capacity if not where else min(bank.string_capacities)
    if kind == "gravity":
        _within(kind, where, value, WEAKEST, STRONGEST, "")
    elif kind == "voltage":
        _within(kind, where, value, LOWEST * cells, HIGHEST * cells, "V", _of_more_cells(bank, where, value))
    elif kind in ("amps", "string_amps"):
        # More than the capacity in one hour is a slip of the pen, not a charge.
        _within(kind, where, value, -capacity, capacity, "A")
    elif kind == "ac_amps":
        _see_mains(bank)
        _within(kind, where, value, 0.0, OUTLET, "A")
    elif kind == "temperature":
        _within(kind, where, value, COLDEST, HOTTEST, "degC")
    elif kind == "level":
        _within(kind, where, value, -LEVEL, LEVEL, "mm")
    elif kind == "water":
        cells_in_all = cells if where else cells * len(bank.strings)
        # A gram of it is a millilitre, which is what people pour by.
        _within(kind, where, value, 0.0, ELECTROLYTE * max(bank.string_capacities) * cells_in_all, "mL")
    else:
        raise ValueError(f"{kind}: what was seen is said in words, not as {value:g}")


def _see_one_cell(bank: Bank, where: str, value: float | str, cells: int) -> None:
    """Refuse a gravity of many cells: each has its own, and one figure would count for all of them."""
    if not where and not isinstance(value, str):
        cell = next(place for place in bank.places if "." in place)
        raise ValueError(f"a gravity belongs to a cell, such as {cell}")
    if where and cells > 1:
        each = " ".join(f"{where}.{number}={value}" for number in range(1, cells + 1))
        raise ValueError(f"{where} has {cells} cells, and each has a gravity of its own: say of which, as in {each}")


def _see_mains(bank: Bank) -> None:
    if bank.ac_voltage is None:
        raise ValueError(
            "ac_amps: amps at the outlet say nothing while its volts are not known: write them in the cabin file, "
            'ac_voltage = "120 V" or "230 V" below [[bank]], and restart the bridge'
        )


def _charger(bank: Bank, where: str, value: float | str) -> None:
    limits = {"volts": (0.0, HIGHEST * bank.cells, "V"), "amps": (0.0, bank.capacity, "A")}
    if where not in limits or isinstance(value, str):
        raise ValueError(f"charger: {where or 'value'} is neither volts nor amps with a number")
    low, high, unit = limits[where]
    _within("charger", where, value, low, high, unit)


def _of_more_cells(bank: Bank, where: str, value: float) -> str:
    """Ask whether volts are those of the block or of the bank to which a place belongs; empty where of neither."""
    block = where.partition(".")[0] if "." in where else ""
    spans = {**({f"the block {block}": bank.places.get(block, 0)} if block else {}), "the bank": bank.cells}
    meant = [what for what, cells in spans.items() if cells and A_CELL[0] <= value / cells <= A_CELL[1]]
    return f": did you mean {' or '.join(meant)}?" if where and meant else ""


def _within(kind: str, where: str, value: float, low: float, high: float, unit: str, asks: str = "") -> None:
    if not low <= value <= high:
        of = "" if kind == "charger" else f" of {where or 'the bank'}"
        behind = f" {unit}" if unit else ""
        ends = f"{low:.7g}{behind} and {high:.7g}{behind}"
        # No power of ten: who slipped by a unit must know the number again.
        number = f"{value:.0f}" if "e+" in f"{value:g}" else f"{value:g}"
        raise ValueError(f"{kind}{of}: {number}{behind} is not between {ends}{asks}")
