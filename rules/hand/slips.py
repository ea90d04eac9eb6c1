"""A slip of the pen, the eye or the unit: what is asked about before it is taken, at whatever door it comes in."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from statistics import median
from types import MappingProxyType
from typing import NamedTuple

from rules.bank import Bank
from rules.events import HandReading
from rules.hand.checks import A_CELL, SAME_MINUTES, beside_the_meter
from rules.hand.memory import Entry
from rules.laws import GRAVITY_WORDS, LEAST_DIGITS, LIKELY, PLAIN, SLOPE, corrected_gravity

#: A gravity so far above that of a full cell, or so far from the middle of at least so many neighbours, is asked about
#: (common practice, no source) [1].
STRANGE, NEIGHBOURS = 0.050, 2
#: One cell read twice at once agrees up to so much, and by charge or discharge it moves by at most so much an hour
#: (common practice, no source) [1], [1/h].
READ_TWICE, AN_HOUR = 0.015, 0.030
#: A cell that read so before is no slip: up to here it is the same reading [1] (assumed).
AS_BEFORE = 0.030
#: Shorter than this is said as a moment [h].
MOMENT = 0.5 / 60.0
#: What is asked about a gravity, by what stands against it.
SLIPS = {
    "full": "{written} is stronger than a full cell, {full}",
    "fast": "{written} read {before}, and that was {ago} before: no cell changes so fast",
    "apart": "{written} is far from its neighbours at {middle}",
    "watered": "{written} read {before}, and that was {ago} before; water was added to it, and makes no acid stronger",
    "stronger": "{written} is stronger than its neighbours at {middle} although water was added to it",
}
#: The same figures and sentences for a bench that has no connection.
GRAVITY_SLIPS = {
    "strange": STRANGE,
    "neighbours": NEIGHBOURS,
    "twice": READ_TWICE,
    "hour": AN_HOUR,
    "before": AS_BEFORE,
    "kelvin": SLOPE,
    "moment": MOMENT,
    "likely": LIKELY,
    "digits": LEAST_DIGITS,
    "words": {**GRAVITY_WORDS, **SLIPS},
}
#: A thermometer in the hand and a probe agree up to so much in the scale that was meant [K], and stand so far apart in
#: the one that was written (common practice, no source).
SAME_WARMTH, OTHER_SCALE = 3.0, 10.0
#: A warmth that somebody may have meant [degC], and closer than this to a tenth it was written as one [K] (common
#: practice, no source).
LEAST_MEANT, MOST_MEANT, TENTH = 4.0, 50.0, 0.005
#: One cell read twice differs by no more than this, and it cools by no more than so much in an hour [K], [K/h] (common
#: practice, no source).
COOLS_AT_ONCE, COOLS = 20.0, 10.0
#: Volts of a charger's dial and of a meter at the bank, and amps likewise, agree up to this share [1] (assumed).
VOLTS_SHARE, AMPS_SHARE = 0.03, 0.25
#: A charger passes on at least this share of what it takes [1], and one that gives next to nothing still takes up to so
#: much [W] (common practice, no source).
LEAST_PASSED, IDLES = 0.5, 50.0
#: Volts over what cells take by less than this share are a slip of a digit, and no swap with the amps [1] (assumed).
NEARLY = 0.1
#: A place below this is no place of living cells [V per cell] (common practice, no source).
NO_CELL = 1.45
#: Volts of the same place read so before, or the bank stands at so much per cell, up to this share [1] (assumed).
AS_LOW = 0.1
#: The same water within this is likelier one pour noted twice than two [s] (assumed).
POURED_TWICE = 60.0
#: Under this a charger charges nothing [V per cell] (common practice, no source).
CHARGES_NOTHING = 2.1
#: Words of what must not be done while a bank wakes.
WAKES = "the bank still wakes, and its voltage is not raised then: covered plates take almost nothing for hours or days"


class Shown(NamedTuple):
    """What is known beside a charger's setting.

    Attributes
    ----------
    volts, amps : float or None
        On the meters, while current flows in [V], [A]: without it a bank stands at its own volts, no setting.
    set_before : float
        Volts of the setting noted last [V]; 0 = none.
    wakes : bool
        The bank's phase is waking.
    """

    volts: float | None = None
    amps: float | None = None
    set_before: float = 0.0
    wakes: bool = False


def strange_gravity(
    bank: Bank,
    reading: HandReading,
    newest: Mapping[str, tuple[float, float]],
    watered: Collection[str] = (),
    typed: Mapping[str, float] = MappingProxyType({}),
) -> str:
    """Ask about what no cell of this bank would show: by its neighbours, by itself, by a full cell, by its unit.

    Parameters
    ----------
    bank : Bank
        As configured.
    reading : HandReading
        Canonical units, already checked.
    newest : dict
        Cell -> its last gravity within a day, corrected [1], and when it was read [s since the epoch].
    watered : collection of str
        Cells into which water was poured since: they read low, and may.
    typed : dict
        Cell -> what was read off the hydrometer then, before it was corrected [1].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0),),))
    >>> slip = HandReading("north", "gravity", 60.0, 60.0, {"N1.1": 1.265})
    >>> strange_gravity(bank, slip, {"N1.1": (1.230, 0.0)})
    'N1.1 at 1.265 read 1.230, and that was 1 min before: no cell changes so fast'
    >>> strange_gravity(bank, slip, {"N1.1": (1.230, 0.0)}, typed={"N1.1": 1.237})[:43]
    'N1.1 at 1.265 read 1.237 (corrected 1.230),'
    >>> strange_gravity(bank, slip._replace(values={"N1.1": 1.12}), {"N1.2": (1.25, 0.0), "N1.3": (1.25, 0.0)})
    'N1.1 at 1.120 is far from its neighbours at 1.250'
    """
    if reading.kind != "gravity" or reading.undo:
        return ""
    raw = {cell: float(value) for cell, value in reading.values.items() if not isinstance(value, str)}
    read = {cell: _corrected(bank, reading, value) for cell, value in raw.items()}
    known = {**{cell: gravity for cell, (gravity, _) in newest.items()}, **read}
    strange = []
    for cell, value in read.items():
        written = f"{cell} at {raw[cell]:.3f}"
        others = [gravity for other, gravity in known.items() if other != cell]
        before, at = newest.get(cell, (None, 0.0))
        since = abs(reading.taken_at - at) / 3600.0
        then = "" if before is None else _as_typed(typed.get(cell, before), before)
        if raw[cell] > bank.full_gravity + STRANGE:
            strange.append(SLIPS["full"].format(written=written, full=f"{bank.full_gravity:.3f}"))
        elif cell in watered:
            if before is not None and value - before > READ_TWICE + AN_HOUR * since:
                strange.append(SLIPS["watered"].format(written=written, before=then, ago=_ago(since)))
            elif before is None and _agree(others) and value - median(others) > STRANGE:
                strange.append(SLIPS["stronger"].format(written=written, middle=f"{median(others):.3f}"))
        elif before is not None and _apart(value, before) > READ_TWICE + AN_HOUR * since:
            strange.append(SLIPS["fast"].format(written=written, before=then, ago=_ago(since)))
        elif before is not None and _apart(value, before) <= AS_BEFORE:
            continue
        elif _agree(others) and _apart(value, median(others)) > STRANGE:
            strange.append(SLIPS["apart"].format(written=written, middle=f"{median(others):.3f}"))
    return "; ".join(strange)


def other_scale(reading: HandReading, probes: Collection[float]) -> str:
    """Ask about a warmth whose digits are those of the probe in the other scale.

    Parameters
    ----------
    reading : HandReading
        Canonical units.
    probes : collection of float
        What probes in the electrolyte show now [degC].

    Examples
    --------
    >>> slip = HandReading("north", "gravity", 0.0, 0.0, {"N1.1": 1.25}, 63.0)
    >>> other_scale(slip, [17.2]), other_scale(slip._replace(temperature=17.5), [17.2])
    ('the acid at 63.0 degC stands beside 17.2 degC on the probe: did you mean 63 degF?', '')
    """
    if reading.undo or reading.at - reading.taken_at > SAME_MINUTES or reading.kind not in ("gravity", "temperature"):
        return ""
    warmths = dict(reading.values) if reading.kind == "temperature" else {"": reading.temperature}
    asked = []
    for where, value in warmths.items():
        if not isinstance(value, float | int) or not probes:
            continue
        probe = min(probes, key=lambda each: abs(value - each))
        if abs(value - probe) <= OTHER_SCALE:
            continue
        hot, cold = value, value * 1.8 + 32.0
        meant = ""
        if min(abs((hot - 32.0) / 1.8 - each) for each in probes) <= SAME_WARMTH:
            meant = f"{hot:.4g} degF"
        elif min(abs(cold - each) for each in probes) <= SAME_WARMTH:
            meant = f"{cold:.4g} °C"
        if meant:
            beside = f"{where or 'the acid'} at {value:.1f} degC stands beside {probe:.1f} degC on the probe"
            asked.append(f"{beside}: did you mean {meant}?")
    return "; ".join(asked)


def cooled_fast(reading: HandReading, entries: Collection[Entry], limit: float) -> str:
    """Ask about a place that was read over its limit and is cool at once: acid of some litres keeps its heat for hours.

    Parameters
    ----------
    reading : HandReading
        Canonical units.
    entries : collection of Entry
        What was noted before.
    limit : float
        Of the electrolyte [degC].

    Examples
    --------
    >>> hot = Entry("temperature", 0.0, {"N1.2": 60.0})
    >>> cool = HandReading("north", "temperature", 60.0, 60.0, {"N1.2": 20.0})
    >>> cooled_fast(cool, [hot], 43.3)[:76]
    'N1.2 at 20.0 degC was read at 60.0 degC, and that was 1 min before: no cell '
    >>> cooled_fast(cool._replace(taken_at=5 * 3600.0, at=5 * 3600.0), [hot], 43.3)
    ''
    """
    if reading.undo or reading.kind != "temperature":
        return ""
    asked = []
    for where, value in reading.values.items():
        before = [each for each in entries if each.kind == "temperature" and where in each.values]
        if not before or isinstance(value, str):
            continue
        last = max(before, key=lambda each: each.taken_at)
        was, hours = last.values[where], (reading.taken_at - last.taken_at) / 3600.0
        if isinstance(was, str) or was < limit or was - value <= COOLS_AT_ONCE + COOLS * max(0.0, hours):
            continue
        asked.append(
            f"{where or 'the acid'} at {value:.1f} degC was read at {was:.1f} degC, and that was {_ago(hours)} before: "
            "no cell cools so fast; leave the charger off and read it again, in the same cell"
        )
    return "; ".join(asked)


def of_this_scale(number: float, scale: str) -> bool:
    """Tell whether a bare number is a warmth of acid in the place's own scale, and hardly one in the other.

    Parameters
    ----------
    number : float
        As it was written, [degC] or [degF].
    scale : str
        The place's own, "degC" or "degF".

    Examples
    --------
    >>> [of_this_scale(17.0, scale) for scale in ("degC", "degF")], of_this_scale(77.0, "degF")
    ([True, False], True)
    >>> of_this_scale(45.0, "degC"), of_this_scale(110.0, "degC")
    (False, False)
    """
    celsius, fahrenheit = number, (number - 32.0) / 1.8
    own, other = (celsius, fahrenheit) if scale == "degC" else (fahrenheit, celsius)
    return 0.0 <= own <= MOST_MEANT and not LEAST_MEANT <= other <= MOST_MEANT


def frozen_solid(reading: HandReading, freezes: float, beside: Collection[float]) -> str:
    """Ask about a warmth at which the acid would be ice: the point was put wrong, or the scale or the sign.

    Parameters
    ----------
    reading : HandReading
        Canonical units.
    freezes : float
        Where the bank's weakest acid begins to freeze [degC].
    beside : collection of float
        What probes, the room and a thermometer noted before show [degC]: as cold as one of these is no slip.

    Examples
    --------
    >>> slip = HandReading("north", "temperature", 0.0, 0.0, {"": (6.3 - 32.0) / 1.8})
    >>> frozen_solid(slip, -2.8, [17.0])
    'the acid at -14.3 degC would be freezing, from -2.8 degC on: did you mean 63 degF or 6.3 °C?'
    >>> frozen_solid(slip, -2.8, [-13.0]), frozen_solid(slip, -60.0, [17.0])
    ('', '')
    """
    if reading.undo or reading.kind not in ("gravity", "temperature"):
        return ""
    warmths = dict(reading.values) if reading.kind == "temperature" else {"": reading.temperature}
    asked = []
    for where, value in warmths.items():
        if not isinstance(value, float | int) or value > freezes:
            continue
        if any(each - value <= SAME_WARMTH for each in beside):
            continue
        cold = f"{where or 'the acid'} at {value:.1f} degC would be freezing, from {freezes:.1f} degC on"
        asked.append(f"{cold}: did you mean {' or '.join(_warmer(value))}?")
    return "; ".join(asked)


def _warmer(value: float) -> list[str]:
    """Return what may have been meant by a warmth [degC] that acid hardly has, by the digits that were written.

    Examples
    --------
    >>> _warmer(-14.277777), _warmer(-8.0)
    (['63 degF', '6.3 °C'], ['17.6 °C', '8 °C'])
    """
    written = value * 1.8 + 32.0
    meant = []
    if LEAST_MEANT <= (10.0 * written - 32.0) / 1.8 <= MOST_MEANT:
        meant.append(f"{10.0 * written:.4g} degF")
    if 0.0 <= written <= MOST_MEANT:
        meant.append(f"{written:.4g} °C")
    if abs(round(value, 1) - value) < TENTH and -value <= MOST_MEANT:
        meant.append(f"{-value:.4g} °C")
    return meant or ["another scale"]


def strange_volts(bank: Bank, reading: HandReading, whole: float | None, known: Mapping[str, float]) -> str:
    """Ask about volts that are those of a cell, of its block or of the bank, and were noted for another of them.

    Parameters
    ----------
    bank : Bank
        Its blocks and their cells.
    reading : HandReading
        Canonical units, already checked.
    whole : float or None
        What the bank stands at [V].
    known : dict
        What blocks and cells showed last, by hand or on their own meter [V]: one that showed so before is no slip.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", (tuple(Block(f"N{n}", 3, 200.0) for n in range(1, 9)),))
    >>> strange_volts(bank, HandReading("north", "voltage", 0.0, 0.0, {"N8": 2.05}), 63.8, {"N8": 6.21})[:54]
    'N8 at 2.05 V is 0.68 V per cell, it read 6.21 V before'
    >>> [strange_volts(bank, HandReading("north", "voltage", 0.0, 0.0, {"N8": v}), 63.8, {}) for v in (0.3, 4.2, 7.9)]
    ['', '', '']
    """
    if reading.kind != "voltage" or reading.undo:
        return ""
    late = reading.at - reading.taken_at > SAME_MINUTES
    now = None if whole is None or late else whole / bank.cells
    asked = []
    for where, value in reading.values.items():
        cells = bank.places.get(where, 1)
        if isinstance(value, str) or value < A_CELL[0] or value / cells >= NO_CELL:
            continue
        before = known.get(where)
        usual = [each for each in (before, None if now is None else now * cells) if each is not None]
        if any(abs(value - each) <= AS_LOW * abs(each) for each in usual):
            continue
        meant = _of_what(bank, where, value)
        if not meant:
            continue
        said = [f"{where or 'the bank'} at {value:.2f} V is {value / cells:.2f} V per cell"]
        said += [f"it read {before:.2f} V before"] if before is not None else []
        said += [f"the bank stands at {now:.2f} V per cell"] if now is not None and where else []
        beside = f"{', '.join(said[:-1])} and {said[-1]}" if len(said) > 1 else said[0]
        asked.append(f"{beside}: did you mean {meant}?")
    return "; ".join(asked)


def _of_what(bank: Bank, where: str, value: float) -> str:
    """Return of what part of a place volts would be those of living cells; empty where of none."""
    spans = {f"a cell of {where}": 1}
    if not where:
        one = bank.strings[0][0]
        spans = {f"a block, such as {one.label}": one.cells, "a cell": 1}
    inside = {what: cells for what, cells in spans.items() if cells < bank.places.get(where, 1)}
    return " or ".join(what for what, cells in inside.items() if A_CELL[0] <= value / cells <= A_CELL[1])


def poured_again(reading: HandReading, entries: Collection[Entry]) -> str:
    """Ask whether the same water within a minute is a second pour.

    Parameters
    ----------
    reading : HandReading
        Canonical units, already checked.
    entries : collection of Entry
        What was noted before.

    Examples
    --------
    >>> pour = HandReading("north", "water", 60.0, 60.0, {"N1.1": 60.0})
    >>> poured_again(pour, [Entry("water", 30.0, {"N1.1": 60.0})])
    'the same water, 60 mL at N1.1, was noted a moment before: is it a second pour?'
    >>> poured_again(pour, [Entry("water", 30.0, {"N1.2": 60.0})])
    ''
    """
    if reading.kind != "water" or reading.undo or not reading.values:
        return ""
    near = [each for each in entries if each.kind == "water" and abs(reading.taken_at - each.taken_at) <= POURED_TWICE]
    if not any(dict(reading.values) == each.values for each in near):
        return ""
    poured = ", ".join(
        f"{value if isinstance(value, str) else f'{value:.0f} mL'} at {where or 'the bank'}"
        for where, value in reading.values.items()
    )
    return f"the same water, {poured}, was noted a moment before: is it a second pour?"


def strange_amps(bank: Bank, reading: HandReading, metered: float | None, danger: float) -> str:
    """Ask about amps that the ammeter contradicts, and say what to do where they flow all the same.

    Parameters
    ----------
    bank : Bank
        As joined now, and what its charger gives.
    reading : HandReading
        Canonical units, already checked.
    metered : float or None
        What a meter shows now [A]; None where none tells it.
    danger : float
        Amps of one string from which they are a danger [A].

    Examples
    --------
    >>> from rules.bank.model import Block, ChargerSetting
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),), chargers=(ChargerSetting(32.0, 25.0),))
    >>> strange_amps(bank, HandReading("north", "amps", 0.0, 0.0, {"": 12.0}), 18.0, 62.5)
    '12.0 A by hand stand beside 18.0 A on the ammeter'
    >>> strange_amps(bank, HandReading("north", "amps", 0.0, 0.0, {"": 95.0}), 9.5, 62.5)[48:]
    ', and the charger gives 25 A: one of the two is wrong, or the charger runs away; if these amps flow they are a \
danger, so switch the charger off at the wall at once'
    """
    why = beside_the_meter(bank, reading, metered)
    amps = [value for value in reading.values.values() if not isinstance(value, str)]
    strings = len(bank.strings) if reading.kind == "amps" else 1
    if not why or max(amps) <= danger * strings:
        return why
    most = max([setting.amps for setting in bank.chargers if setting.amps], default=0.0)
    gives = f", and the charger gives {most:g} A" if 0.0 < most * (1.0 + AMPS_SHARE) < sum(amps) else ""
    return (
        f"{why}{gives}: one of the two is wrong, or the charger runs away; if these amps flow they are a danger, so "
        "switch the charger off at the wall at once"
    )


def strange_outlet(bank: Bank, reading: HandReading, volts: float | None, amps: float | None) -> str:
    """Ask about amps at the charger's outlet of which hardly anything, or more than all, reaches the bank.

    Parameters
    ----------
    bank : Bank
        Its outlet's volts.
    reading : HandReading
        Canonical units, already checked.
    volts, amps : float or None
        What meters at the bank show now [V], [A].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),), ac_voltage=230.0)
    >>> outlet = HandReading("north", "ac_amps", 0.0, 0.0, {"": 2.4})
    >>> strange_outlet(bank, outlet, 27.1, 3.5)[:91]
    '2.4 A at 230 V are 552 W at the outlet, and 95 W reach the bank by its meters, 17 % of them'
    >>> strange_outlet(bank, outlet, 27.1, 15.0), strange_outlet(bank, outlet, None, 3.5)
    ('', '')
    """
    told = reading.values.get("")
    if reading.kind != "ac_amps" or reading.undo or reading.at - reading.taken_at > SAME_MINUTES:
        return ""
    if isinstance(told, str) or not told or volts is None or amps is None or bank.ac_voltage is None:
        return ""
    drawn, given = bank.ac_voltage * told, volts * amps
    # What a plain charger draws by its amps is more than it takes: its power factor counts against it.
    least = LEAST_PASSED * min(bank.power_factor, PLAIN.power_factor) * drawn
    if given <= drawn * (1.0 + AMPS_SHARE) and (given >= least or drawn - given <= IDLES):
        return ""
    return (
        f"{told:g} A at {bank.ac_voltage:g} V are {drawn:.0f} W at the outlet, and {given:.0f} W reach the bank by its "
        f"meters, {100.0 * given / drawn:.0f} % of them: a charger passes on 50 to 100 %; was another figure meant, or "
        "does something else hang on that outlet?"
    )


def strange_charger(bank: Bank, reading: HandReading, shown: Shown) -> str:
    """Ask about a setting of the charger that cannot be, or must not be now.

    Parameters
    ----------
    bank : Bank
        Its settings in the cabin file, its cells, and what a string takes.
    reading : HandReading
        Canonical units, already checked.
    shown : Shown
        What the meters and the phase say.

    Examples
    --------
    >>> from rules.bank.model import Block, ChargerSetting
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),), chargers=(ChargerSetting(32.0, 25.0),))
    >>> swapped = HandReading("north", "charger", 0.0, 0.0, {"volts": 25.0, "amps": 32.0})
    >>> strange_charger(bank, swapped, Shown())
    '25 V and 32 A: did you mean 32 V and 25 A?'
    >>> strange_charger(bank, swapped._replace(values={"volts": 32.0, "amps": 25.0}), Shown())
    ''
    """
    if reading.kind != "charger" or reading.undo:
        return ""
    told = {name: value for name, value in reading.values.items() if isinstance(value, float | int)}
    volts, amps = told.get("volts"), told.get("amps")
    if volts == 0.0:
        return ""
    if volts is not None and amps is not None and _swapped(bank, volts, amps, shown):
        return f"{volts:g} V and {amps:g} A: did you mean {amps:g} V and {volts:g} A?"
    known = any(volts in (None, setting.volts) and amps in (None, setting.amps) for setting in bank.chargers)
    now = reading.at - reading.taken_at <= SAME_MINUTES
    strange = []
    if volts is not None:
        cell = volts / bank.cells
        if cell > bank.limits.cell_voltage:
            over = f"{volts:g} V are {cell:.2f} V per cell, over the limit of {bank.limits.cell_voltage:.2f} V"
            strange.append(over + _set_in_file(bank, volts, amps))
        elif cell < CHARGES_NOTHING:
            strange.append(f"{volts:g} V are {cell:.2f} V per cell, which charges nothing")
        if now and shown.volts is not None and shown.volts > volts * (1.0 + VOLTS_SHARE):
            strange.append(f"{volts:g} V stand beside {shown.volts:.1f} V on the meter while current flows in")
    most = bank.string_current_limit * len(bank.strings)
    if amps is not None and amps > most and not known:
        strange.append(f"{amps:g} A are more than the {most:.0f} A that the bank's strings take")
    if now and amps is not None and shown.amps is not None and shown.amps > amps * (1.0 + AMPS_SHARE) + 1.0:
        strange.append(f"{amps:g} A stand beside {shown.amps:.1f} A on the meter")
    if raised := raised_early(reading, shown):
        strange.append(raised)
    return "; ".join(strange)


def raised_early(reading: HandReading, shown: Shown) -> str:
    """Say that the voltage was raised while the bank wakes, and to what it goes back; empty where it was not."""
    volts = reading.values.get("volts")
    before = shown.set_before or shown.volts or 0.0
    if reading.kind != "charger" or reading.undo or not shown.wakes or not before or not isinstance(volts, float | int):
        return ""
    if reading.at - reading.taken_at > SAME_MINUTES or volts <= before * (1.0 + VOLTS_SHARE):
        return ""
    return f"{WAKES}; leave it at {before:.4g} V"


def _set_in_file(bank: Bank, volts: float, amps: float | None) -> str:
    """Ask whether a setting of the cabin file is meant where the volts are none of it; empty where they are."""
    if any(setting.volts == volts for setting in bank.chargers):
        return ""
    same = [setting.volts for setting in bank.chargers if amps in (None, setting.amps) and setting.volts < volts]
    return f": did you mean {max(same):g} V, as in the cabin file?" if same else ""


def _swapped(bank: Bank, volts: float, amps: float, shown: Shown) -> bool:
    """Tell whether volts and amps fit only the other way round: the file's settings first, else what cells take."""
    if bank.chargers:
        as_volts, as_told = (
            [abs(each - setting.volts) <= VOLTS_SHARE * setting.volts for setting in bank.chargers]
            for each in (amps, volts)
        )
        if any(as_told) or any(as_volts):
            return any(as_volts) and not any(as_told)
        if any(setting.amps and abs(amps - setting.amps) <= AMPS_SHARE * setting.amps for setting in bank.chargers):
            return False
    if shown.volts is not None and shown.volts > amps * (1.0 + VOLTS_SHARE):
        return False
    low, high = CHARGES_NOTHING * bank.cells, bank.limits.cell_voltage * bank.cells
    return low <= amps <= high and not low <= volts <= high * (1.0 + NEARLY)


def _corrected(bank: Bank, reading: HandReading, value: float) -> float:
    """Return the gravity as it is kept, beside which it is held."""
    if reading.temperature is None:
        return value
    return corrected_gravity(value, reading.temperature, bank.hydrometer_reference)


def _as_typed(typed: float, corrected: float) -> str:
    """Write a gravity as whoever read it knows it, and as it is kept where that differs."""
    kept = f"{corrected:.3f}"
    return kept if f"{typed:.3f}" == kept else f"{typed:.3f} (corrected {kept})"


def _agree(others: Collection[float]) -> bool:
    """Tell whether there are neighbours enough to compare with, and most of them read alike."""
    if len(others) < NEIGHBOURS:
        return False
    middle = median(others)
    return 2 * sum(_apart(other, middle) <= STRANGE for other in others) > len(others)


def _apart(one: float, other: float) -> float:
    return round(abs(one - other), 4)


def _ago(hours: float) -> str:
    if hours >= 1.0:
        return f"{hours:.0f} h"
    return f"{60.0 * hours:.0f} min" if hours > MOMENT else "a moment"
