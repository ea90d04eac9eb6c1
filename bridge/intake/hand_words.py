"""Readings as a person types them -> places and canonical numbers: forgiving about notation, never about meaning."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple
from unicodedata import normalize

from bridge import units
from bridge.clock import instant
from bridge.errors import UsageError
from rules.bank import Bank, Block
from rules.hand import FULL, KINDS, LEVELS, cells_there, deposits, spelled_out
from rules.laws import MARKS, parse_gravity

#: What `revival record` takes, and the unit of its numbers. Amps of each string and at the charger's outlet are amps,
#: told apart by options.
UNITS = {kind: unit for kind, unit in KINDS.items() if kind not in ("ac_amps", "string_amps")}
#: What people measure in one of two units, and which these are: a bare number of it is nobody's. 0 is 0 in both, but a
#: temperature.
TWO_UNITS = {"degC": ("degC", "degF"), "mm": ("mm", "in"), "g": ("mL", "fl oz")}
_VOLTS_AND_AMPS = re.compile(r"(\d+(?:[.,]\d+)?) ?V[ ,/]+(\d+(?:[.,]\d+)?) ?A", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+")
_UNIT = re.compile(r"(?:°|deg)?\s*[A-Za-zé℃℉]{1,7}\.?")
#: Parts of a unit, with whole ones in front or without; an inch's mark; a fraction of one sign behind a number.
_FRACTION = re.compile(
    r"(?P<sign>-?)(?:(?P<whole>\d+)[\s-]+)?(?P<parts>\d+)\s*/\s*(?P<of>\d+)\s*(?P<unit>[A-Za-z]*\.?(?: ?oz)?)"
)
_INCH_MARK = re.compile(r"\s*(?:\"|''|\u2033|\u201d)$")
_BESIDE = re.compile(r"(?<=\d)(?=[\u00bc-\u00be\u2150-\u215e])")
#: Between gravities of one block, and what is one of them: no decimal comma beside others.
_LISTED = re.compile(r"[,;/\s]+")
_A_GRAVITY = re.compile(r"1\.\d+|1\d{3}|low|high|none", re.IGNORECASE)
#: A level in words, as it is spoken.
_IN_FRONT, _BEHIND = {"below", "under", "at", "over", "above", "the"}, {"the", "plate", "plates", "mark"}
_LEVEL = re.compile(r"(below|under|at|over|above)[\s-]+(?:the[\s-]+)?(plate|mark)s?", re.IGNORECASE)
_SPOKEN_LEVELS = {
    "below plate": "below-plates", "under plate": "below-plates", "at plate": "at-plates", "at mark": "mark",
    "over mark": "over-mark", "above mark": "over-mark",
}  # fmt: skip
#: A place in front of its value.
_AT_PLACE = re.compile(r"([^=:]*?)\s*[=:]\s*(.*)")
#: A name in front of values, and words that may stand there and are none.
_A_NAME = re.compile(r"[^\W\d_][\w-]*")
_NO_NAMES = {*MARKS, FULL, *LEVELS, "sg"}
_HOLDS_VALUE = re.compile(r"=|^[-+]?[\d.,]")
_WHOLE = re.compile(r"-?\d+")
_FLUID = re.compile(r"(.*\d)\s*(fl\.?|fluid)", re.IGNORECASE)
_WATER = re.compile(r"(.*\d)\s*([a-z][a-z. ]*?)\.?", re.IGNORECASE)
_DEGREES = re.compile(r"(?<=\d)\s*(?:°|deg)?\s*([CF])$", re.IGNORECASE)
_AGO = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(min(?=(?:utes?|s)?\b)|h(?=(?:ours?|rs?)?\b)|d(?=(?:ays?)?\b))[a-z]*(?:\s+ago)?",
    re.IGNORECASE,
)
_SECONDS = {"min": 60.0, "h": 3600.0, "d": 86400.0}
_LABEL = re.compile(r"\b([A-Za-z]+)\d+(?:\.\d+)?\b")
_CLOCK = re.compile(r"(\d{1,2})[:.](\d{2})")
#: A clock of twelve hours, with minutes or without.
_HALF_DAY = re.compile(r"(1[0-2]|0?[1-9])(?:[:.](\d{2}))?\s*([ap])\.?m\.?", re.IGNORECASE)
_DAY = re.compile(r"(?:(today|yesterday),? +(\d{1,2}):(\d{2})|(\d{1,2}):(\d{2}) +(today|yesterday))", re.IGNORECASE)
_NO_HOUR = re.compile(r"(?:today|yesterday)\D*", re.IGNORECASE)


class Understood(NamedTuple):
    """What was typed: `kind` as the bus knows it, where -> value, and words."""

    kind: str
    values: dict[str, float | str]
    note: str = ""


def understand(
    bank: Bank,
    what: str,
    words: Sequence[str],
    *,
    string: int | None = None,
    block: str | None = None,
    ac: bool = False,
) -> Understood:
    """Return the readings of one kind from the words behind it.

    Parameters
    ----------
    bank : Bank
        As configured.
    what : str
        A key of `UNITS`.
    words : sequence of str
        Values in the order of the cells, blocks or strings they belong to, or ``N1.2=1.265``.
    string : int, optional
        Which string, counted from 1.
    block : str, optional
        Which block, by its label.
    ac : bool
        Amps at the charger's outlet.

    Raises
    ------
    UsageError
        What cannot be read, and how many values there should be.

    Examples
    --------
    >>> bank = Bank("north", ((Block("N1", 3, 200.0), Block("N2", 3, 200.0)),))
    >>> understand(bank, "gravity", ["1.265", "1250", "low"], block="N1").values
    {'N1.1': 1.265, 'N1.2': 1.25, 'N1.3': 'low'}
    """
    if what == "note":
        return Understood("note", {}, " ".join(words))
    if what == "seen":
        return Understood("seen", _seen(bank, words, string, block))
    if what == "charger":  # in quotes or without
        return Understood("charger", _charger(_joined(what, re.split(r"[\s/;]+", " ".join(words).strip()))))
    if what in ("voltage", "amps") and (both := _VOLTS_AND_AMPS.fullmatch(" ".join(words).strip())):
        raise UsageError(
            f"{what}: volts and amps together are what the charger is set to: `revival record charger {both[1]} V "
            f"{both[2]} A`; what was measured goes in one by one, `revival record voltage {both[1]}` and "
            f"`revival record amps {both[2]}`"
        )
    known = bank.places
    joined = [_as_labelled(word, known) for word in _joined(what, _counted(words, known))]
    values: dict[str, float | str] = {}
    if what == "amps" and (strings := _of_strings(bank, joined)):
        return Understood("string_amps", strings)
    bare = []
    for word in joined:
        where, equals, value = word.partition("=")
        if not equals:
            _see_no_place(what, word, known)
            _see_no_name(bank, what, joined)
            bare.append(_value(what, word))
        elif what == "gravity" and (cells := _of_block(bank, where.strip(), value)):
            values.update(cells)
        elif where.strip() in known:
            values[where.strip()] = _value(what, value)
        else:
            raise UsageError(f"{word!r}: {_no_place(bank, where.strip())}")
    kind = what
    if bare:
        kind, where_list = _targets(bank, what, len(bare), string, block, ac)
        values.update(zip(where_list, bare, strict=True))
    return Understood("ac_amps" if ac and what == "amps" else kind, values)


def _counted(words: Sequence[str], known: Collection[str]) -> Sequence[str]:
    """Write the labels of blocks and cells that are told by their number: ``block 1=7.05``, ``cell 2 of block 1``.

    Examples
    --------
    >>> _counted(["block", "1=7.05", "V"], ["", "N1", "N1.1"]), _counted(["N1=10 mm"], ["", "N1", "N1.1"])
    (['N1=7.05', 'V'], ['N1=10 mm'])
    """
    said = " ".join(words)
    told = spelled_out(said, known)[0]
    return words if told == said else re.sub(r"\s*[=:]\s*", "=", told).split()


def _as_labelled(word: str, known: Collection[str]) -> str:
    """Write ``N1.1=`` for ``n1.1=`` and ``N1.1:``, where that is one place of this bank and no other.

    Examples
    --------
    >>> [_as_labelled(word, {"", "N1", "N1.1"}) for word in ("n1.1:1240", "N1 = 7.05 V", "n2=7", "1.265", "14:10")]
    ['N1.1=1240', 'N1=7.05 V', 'n2=7', '1.265', '14:10']
    """
    parts = _AT_PLACE.fullmatch(word)
    if parts is None:
        return word
    meant = [place for place in known if place and place.lower() == parts[1].lower()]
    exact = [place for place in meant if place == parts[1]] or meant
    return f"{exact[0]}={parts[2]}" if len(exact) == 1 else word


def _of_block(bank: Bank, label: str, written: str) -> dict[str, float | str]:
    """Return the gravities of a block's cells in their order, as in ``A2=1240,1235,1230``; none where it is one value.

    Raises
    ------
    UsageError
        More or fewer than it has cells, or one that is none.
    """
    parts = _LISTED.split(written.strip())
    cells = bank.places.get(label, 0)
    if "." in label or not cells or len(parts) == 1 or not all(_A_GRAVITY.fullmatch(part) for part in parts):
        return {}
    if len(parts) != cells:
        raise UsageError(
            f"gravity: {label} has {cells} cells and {len(parts)} values are given: write as many, as in "
            f"{label}={','.join(['1240'] * cells)}, or one cell as {label}.1=1240"
        )
    return {f"{label}.{number}": _value("gravity", part) for number, part in enumerate(parts, 1)}


def _see_no_place(what: str, word: str, known: Collection[str]) -> None:
    """Refuse a place that stands where a value should, and say how a place is given."""
    if word not in known or word.isdecimal():
        return
    cell = f"{word}.1" if what == "gravity" and "." not in word else word
    block = word.partition(".")[0]
    raise UsageError(f"{what}: {word!r} is a place, no value: name it with --block {block}, or write {cell}=VALUE")


def _see_no_name(bank: Bank, what: str, words: Sequence[str]) -> None:
    """Refuse a name that stands in front of values and is none of this bank: it is no bad value."""
    first, *others = words
    if (
        _A_NAME.fullmatch(first)
        and first.lower() not in _NO_NAMES
        and any(_HOLDS_VALUE.search(each) for each in others)
    ):
        raise UsageError(
            f"{what}: {first!r} is no value, and no bank, block or cell is called so: the bank is {bank.id}, and "
            f"{blocks(bank)}"
        )


def string_letters(bank: Bank) -> list[str]:
    """Return what the labels of each string's blocks begin with, where every string has letters of its own; else none.

    Examples
    --------
    >>> string_letters(Bank("twin", ((Block("A1", 6, 200.0),), (Block("B1", 6, 200.0),))))
    ['A', 'B']
    """
    letters = [{re.sub(r"[\W\d_]+$", "", block.label) for block in string} for string in bank.strings]
    named = [next(iter(each)) for each in letters if len(each) == 1]
    return named if len(set(named)) == len(bank.strings) and all(named) else []


def string_named(bank: Bank, where: str) -> str:
    """Return the number of a string that is named by it or by the letters of its blocks; empty where none is."""
    letters = [each.lower() for each in string_letters(bank)]
    if where.lower() in letters:
        return str(letters.index(where.lower()) + 1)
    return where if where.isdecimal() and 1 <= int(where) <= len(bank.strings) else ""


def _of_strings(bank: Bank, words: Sequence[str]) -> dict[str, float | str]:
    """Return amps by the number of the string, where each word names one as in ``A=12`` or ``2=14``; else none."""
    given = [word.partition("=") for word in words]
    numbers = [string_named(bank, where.strip()) if equals else "" for where, equals, _ in given]
    if not any(numbers):
        return {}
    if not all(numbers):
        raise UsageError("amps: give those of strings alone, as in A=12 B=14, and those of the bank apart")
    return {number: _value("amps", value) for number, (_, _, value) in zip(numbers, given, strict=True)}


def nowhere(bank: Bank, words: str) -> list[str]:
    """Return labels in a sentence that look like this bank's and are not, such as A9 where the blocks end at A4.

    Examples
    --------
    >>> nowhere(Bank("twin", ((Block("A1", 6, 200.0),),)), "A9=crack, A1 and 2 others are well")
    ['A9']
    """
    begins = {re.sub(r"[\W\d_]+$", "", place).lower() for place in bank.places if place}
    known = {place.lower() for place in bank.places}
    found = [each for each in _LABEL.finditer(words) if each[1].lower() in begins and each[0].lower() not in known]
    return list(dict.fromkeys(each[0] for each in found))


def moment(text: str, now: float, option: str = "--at") -> float:
    """Return when [s since the epoch]: ``14:10`` (the last time it was so late), ``20 min ago``, or a date and time.

    Raises
    ------
    UsageError
        None of these.

    Examples
    --------
    >>> moment("20 min ago", 1795590000.0)
    1795588800.0
    """
    written = text.strip()
    ago = _AGO.fullmatch(written)
    if ago:
        return now - float(ago[1].replace(",", ".")) * _SECONDS[ago[2].lower()]
    here = datetime.fromtimestamp(now).astimezone()
    try:
        if day := _DAY.fullmatch(written):
            hour, minute = int(day[2] or day[4]), int(day[3] or day[5])
            back = timedelta(days=(day[1] or day[6]).lower() == "yesterday")
            return (here - back).replace(hour=hour, minute=minute, second=0, microsecond=0).timestamp()
        if half := _HALF_DAY.fullmatch(written):
            written = f"{int(half[1]) % 12 + 12 * (half[3].lower() == 'p')}:{half[2] or '00'}"
        clock = _CLOCK.fullmatch(written)
        if clock:
            then = here.replace(hour=int(clock[1]), minute=int(clock[2]), second=0, microsecond=0)
            return (then if then <= here else then - timedelta(days=1)).timestamp()
        return instant(written, "here")
    except ValueError:
        lacks = " does not say at which time of day" if _NO_HOUR.fullmatch(written) else ""
        raise UsageError(
            f'{option} "{text}"{lacks}: write 14:10, "yesterday 23:59", "20 min ago", or 2026-11-25T14:10'
        ) from None


def _joined(what: str, words: Sequence[str]) -> list[str]:
    """Join a unit typed as a word of its own to the number before it, and parts of an inch to whole ones."""
    result: list[str] = []
    marks = {"low", "high", "none", FULL, *LEVELS}
    for word in words:
        unit = _UNIT.fullmatch(word) is not None and word.lower() not in marks
        before = result[-1].rpartition("=")[2].strip() if result else ""
        by_parts = what in ("level", "water")
        parts = _FRACTION.fullmatch(_in_marks(before)) if by_parts else None
        number = _NUMBER.fullmatch(before) or (parts is not None and not parts["unit"])
        inches = by_parts and _WHOLE.fullmatch(before) and _FRACTION.fullmatch(_in_marks(word))
        phrase = what == "level" and word.lower() in _BEHIND and before.lower().rpartition(" ")[2] in _IN_FRONT
        listed = what == "gravity" and before.endswith((",", ";"))
        if phrase or listed or inches or (unit and (number or (what == "water" and _FLUID.fullmatch(before)))):
            result[-1] = f"{result[-1]} {word}"
        else:
            result.append(word)
    return result


def _value(what: str, written: str) -> float | str:
    text = written.strip()
    try:
        if what == "gravity":
            return parse_gravity(text)
        if what == "level" and (said := _level_in_words(text)):
            return said
        if (what == "level" and text in LEVELS) or (what == "water" and text == FULL):
            return text
        return quantity(text, UNITS[what])
    except (ValueError, units.UnitError) as error:
        hint = f" or one of {', '.join(LEVELS)}" if what == "level" else ""
        raise UsageError(f"{what}: {error}{hint}") from None


def _level_in_words(text: str) -> str:
    """Return the word of a level that was spoken otherwise; empty for any other.

    Raises
    ------
    ValueError
        It may be above the plates or below them.

    Examples
    --------
    >>> [_level_in_words(said) for said in ("below the plates", "At the mark", "12 mm")]
    ['below-plates', 'mark', '']
    """
    if text.lower() == "low":
        raise ValueError(
            '"low" may be above the plates or below them: write how far above them, as in "12 mm" or "0.5 in",'
        )
    found = _LEVEL.fullmatch(text)
    return _SPOKEN_LEVELS.get(f"{found[1]} {found[2]}".lower(), "") if found else ""


def quantity(text: str, unit: str) -> float:
    """Read a number with or without its unit; decimal comma or point; water as it is poured.

    Warmth, level and water are read in two measures, and say which.

    Examples
    --------
    >>> round(quantity("84F", "degC"), 1), quantity("30,5 °C", "degC"), quantity("0.5 l", "g")
    (28.9, 30.5, 500.0)
    >>> [round(quantity(water, "g"), 1) for water in ("12 fl oz", "2 cups", "0.5 gal", "1 qt")]
    [354.9, 473.2, 1892.7, 946.4]
    >>> [round(quantity(water, "g"), 1) for water in ("1/2 cup", "1 1/2 qt", "½ l", "1/2 fl oz")]
    [118.3, 1419.5, 500.0, 14.8]
    >>> [round(quantity(level, "mm"), 1) for level in ("3/8 in", '1/2"', "1 1/4 inch", "½ in", "10mm")]
    [9.5, 12.7, 31.8, 12.7, 10.0]
    """
    written = re.sub(r"(?<=\d),(?=\d)", ".", text)
    if unit in ("mm", "g"):  # levels are read off a rule, water is poured by the half cup
        written = _in_inches(written)
    if unit == "degC":  # nobody holds a thermometer in farads
        written = _DEGREES.sub(lambda found: f" deg{found[1].upper()}", written.strip())
    water = _WATER.fullmatch(written) if unit == "g" else None
    if water and (poured := units.POURED.get(" ".join(water[2].lower().split()))) and _NUMBER.fullmatch(water[1]):
        return float(water[1]) * poured  # a millilitre of it is a gram
    if _NUMBER.fullmatch(written.strip()):
        if unit in TWO_UNITS and (unit == "degC" or float(written) != 0.0):
            one, other = [f'"{text.strip()} {each}"' for each in TWO_UNITS[unit]]
            raise units.UnitError(f"{text.strip()} does not say its unit: write {one} or {other}")
        return float(written)
    try:
        return units.parse(written, unit)
    except units.UnitError as error:
        if unit != "g":
            raise
        raise units.UnitError(str(error).replace('write "g" or "kg"', 'write "mL" or "fl oz"')) from None


def _in_inches(text: str) -> str:
    """Write a fraction of a unit as a number of them, and the inch's mark as its name; anything else stays.

    Examples
    --------
    >>> _in_inches("3/8 in"), _in_inches('1 1/2"'), _in_inches("-1/4in"), _in_inches("12 mm"), _in_inches("3/0 in")
    ('0.375 in', '1.5 in', '-0.25 in', '12 mm', '3/0 in')
    """
    written = _in_marks(text)
    found = _FRACTION.fullmatch(written)
    if found is None or not int(found["of"]):
        return written
    inches = int(found["whole"] or 0) + int(found["parts"]) / int(found["of"])
    return f"{found['sign']}{inches:g} {found['unit']}".strip()


def _in_marks(text: str) -> str:
    """Write an inch's mark and a fraction of one sign in plain letters and digits."""
    return _INCH_MARK.sub(" in", normalize("NFKC", _BESIDE.sub(" ", text.strip())).replace("\u2044", "/"))


def _seen(bank: Bank, words: Sequence[str], string: int | None, block: str | None) -> dict[str, float | str]:
    """Give words behind ``N1.2=`` to that place, up to the next one; those in front of it to what is meant at all."""
    known = bank.places
    said: dict[str, list[str]] = {}
    rest: list[str] = []
    into = rest
    for number, word in enumerate(words):
        where, equals, what = word.partition("=")
        # A danger is taken wherever it was seen, and its words keep the place; a grade of deposits is nothing without.
        if equals and where not in known and deposits(" ".join([what, *words[number + 1 :]])) is not None:
            raise UsageError(f"{word!r}: {_no_place(bank, where)}")
        if equals and where in known:
            into = said.setdefault(where, [])
        into.append(what.strip() if equals and where in known else word)
    values: dict[str, float | str] = {where: " ".join(each) for where, each in said.items()}
    if rest:
        where = rest.pop(0) if len(rest) > 1 and rest[0] in known else ""
        targets = [where] if where else _blocks_meant(bank, string, block)
        values.update(dict.fromkeys(targets, " ".join(rest)))
    return values


def _no_place(bank: Bank, where: str) -> str:
    """Say that there is no such place, and which there are."""
    if cells := cells_there(bank, where):
        return f"there is no {where!r}: {cells}"
    return f"there is no {where!r}{units.near(where, bank.places) or f'; {blocks(bank)}'}"


def blocks(bank: Bank) -> str:
    """Say which blocks a bank has."""
    labels = [block.label for string in bank.strings for block in string]
    return f"the blocks are {labels[0]} to {labels[-1]}"


def _blocks_meant(bank: Bank, string: int | None, block: str | None) -> list[str]:
    if block is not None:
        return [_block(bank, block).label]
    return [""] if string is None else [each.label for each in _string(bank, string)]


def _charger(words: Sequence[str]) -> dict[str, float | str]:
    values: dict[str, float | str] = {}
    if [word.lower() for word in words] == ["off"]:
        return {"volts": 0.0}  # said by a person: it is off
    for word in words:
        for name, unit in (("volts", "V"), ("amps", "A")):
            if name in values:
                continue
            try:
                values[name] = quantity(word.removeprefix(f"{name}="), unit)
            except units.UnitError:
                continue
            break
        else:
            raise UsageError(f'charger: "{word}" is neither volts nor amps: write 32 V 50 A, or off')
    return values


def _targets(
    bank: Bank, what: str, count: int, string: int | None, block: str | None, ac: bool
) -> tuple[str, list[str]]:
    """Return which places so many values belong to."""
    choices: list[tuple[str, list[str]]] = []
    if block is not None:
        one = _block(bank, block)
        choices = [(what, _cells([one])), (what, [one.label])]
    elif string is not None and what == "amps":
        _string(bank, string)
        choices = [("string_amps", [str(string)])]
    elif string is not None:
        blocks = _string(bank, string)
        choices = [(what, _cells(blocks)), (what, [each.label for each in blocks])]
    elif what == "amps":
        strings = [str(number) for number in range(1, len(bank.strings) + 1)]
        choices = [(what, [""])] if ac else [(what, [""]), ("string_amps", strings)]
    else:
        blocks = tuple(each for each_string in bank.strings for each in each_string)
        choices = [(what, [""]), (what, _cells(blocks)), (what, [each.label for each in blocks])]
    if what == "gravity":
        choices = [(kind, where) for kind, where in choices if all("." in each for each in where)]
    for kind, where in choices:
        if len(where) == count:
            return kind, where
    expected = " or ".join(f"{len(where)} ({_range(where)})" for _, where in choices)
    raise UsageError(
        f"{count} {what} value{'' if count == 1 else 's'}, but there are {expected} places: give as many, name them as "
        f"in {choices[0][1][0] or bank.strings[0][0].label}=..., or say --string or --block"
    )


def _range(where: list[str]) -> str:
    if where == [""]:
        return "the bank"
    return where[0] if len(where) == 1 else f"{where[0]} to {where[-1]}"


def _cells(blocks: Sequence[Block]) -> list[str]:
    return [f"{block.label}.{number}" for block in blocks for number in range(1, block.cells + 1)]


def _string(bank: Bank, number: int) -> tuple[Block, ...]:
    if not 1 <= number <= len(bank.strings):
        raise UsageError(f"--string {number}: bank {bank.id} has strings 1 to {len(bank.strings)}")
    return bank.strings[number - 1]


def _block(bank: Bank, label: str) -> Block:
    known = {block.label: block for string in bank.strings for block in string}
    if label not in known:
        raise UsageError(f"--block {label}: bank {bank.id} has no such block{units.near(label, known)}")
    return known[label]
