"""What a person measured, as it comes over the bus: JSON in, a `HandReading` out, or a reason in words."""

from __future__ import annotations

import json
import math
from datetime import datetime

from bridge.intake.hand_words import UNITS, quantity
from rules.events import HandReading
from rules.laws import parse_gravity

#: As `rules.events.HandReading` lists them.
KINDS = frozenset(
    ["gravity", "level", "voltage", "amps", "ac_amps", "temperature", "string_amps", "water", "seen", "charger", "note"]
)
#: Unit of each kind's numbers; a number may also come as a string with the unit it was read in, "84 degF".
_UNITS = {**UNITS, "ac_amps": "A", "string_amps": "A"}
_OF_CHARGER = {"volts": "V", "amps": "A"}
KEYS = frozenset({"kind", "values", "temperature", "taken_at", "by", "note", "undo", "key", "sure"})
LONGEST = 16_384  #: bytes of one record
LONGEST_TEXT = 500
_BEGINS = frozenset("+-.0123456789")  #: a number
AHEAD = 300.0  #: a reading may be taken so much after it arrived, by the sender's clock [s]


def parse_record(bank: str, at: float, payload: bytes) -> HandReading:
    """Read one record.

    Parameters
    ----------
    bank : str
        Bank id.
    at : float
        When it arrived [s since the epoch].
    payload : bytes
        JSON object: `kind`; `values` (where -> number or word); `temperature` [degC]; `taken_at` (epoch seconds or
        ISO 8601 with its offset); `by`; `note`; `undo`; `key` (what comes twice with one key counts once); `sure` (a
        strange value was asked about and confirmed). Gravities as people write them: 1.265, 1265, "30.4 Be", "low";
        other numbers also with their unit: "84 degF", "0.3 l".

    Raises
    ------
    ValueError
        With what is wrong, in words.

    Examples
    --------
    >>> parse_record("north", 100.0, b'{"kind": "gravity", "values": {"N1.2": 1265}, "temperature": 25}').values
    {'N1.2': 1.265}
    >>> parse_record("north", 100.0, b'{"kind": "temperature", "values": {"": "86 degF"}}').values
    {'': 30.0}
    """
    document = _document(payload)
    unknown = sorted(set(document) - KEYS)
    if unknown:
        raise ValueError(f"unknown key {unknown[0]!r}: known are {', '.join(sorted(KEYS))}")
    kind = document.get("kind")
    if kind not in KINDS or not isinstance(kind, str):
        raise ValueError(f"kind {kind!r} is none of {', '.join(sorted(KINDS))}")
    undo, sure = document.get("undo", False), document.get("sure", False)
    if not isinstance(undo, bool) or not isinstance(sure, bool):
        raise ValueError("undo and sure are true or false")
    temperature = document.get("temperature")
    return HandReading(
        bank,
        kind,
        at,
        _taken_at(document.get("taken_at", at), at),
        _values(kind, document.get("values", {})),
        None if temperature is None else _number("temperature", temperature, "degC"),
        _one_line("by", document.get("by", "")),
        _words("note", document.get("note", "")),
        undo,
        _one_line("key", document.get("key", "")),
        sure,
    )


def arrangement(text: str) -> dict[str, object]:
    """An act on the arrangement: ``{"act": "isolate", "number": 2}``, ``{"act": "rejoin", "volts": [25.2, 25.1]}``.

    Raises
    ------
    ValueError
        It is no such object.
    """
    try:
        plain = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise ValueError("not JSON") from error
    if not isinstance(plain, dict) or not isinstance(plain.get("act"), str):
        raise ValueError('say {"act": "split"}, with "number" where it matters')
    number = plain.get("number", 1)
    if type(number) is not int:
        raise ValueError("number is a whole number")
    volts = plain.get("volts", [])
    if not isinstance(volts, list):
        raise ValueError("volts is a list of numbers, one for each string that will be in parallel")
    return {"act": plain["act"], "number": number, "volts": [_finite("volts", each) for each in volts]}


def _document(payload: bytes) -> dict[str, object]:
    if len(payload) > LONGEST:
        raise ValueError(f"a record has at most {LONGEST} bytes")
    try:
        document = json.loads(payload.decode(), object_pairs_hook=_no_twice, parse_constant=_no_constant)
    except UnicodeDecodeError as error:
        raise ValueError("not UTF-8") from error
    except RecursionError as error:
        raise ValueError("nested too deep") from error
    except json.JSONDecodeError as error:
        raise ValueError(f"not JSON: {error.msg} at character {error.pos}") from error
    if not isinstance(document, dict):
        raise ValueError("a record is a JSON object")
    return document


def _no_twice(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands there twice")
    return found


def _no_constant(word: str) -> float:
    raise ValueError(f"{word} is not a number")


def _values(kind: str, values: object) -> dict[str, float | str]:
    if not isinstance(values, dict):
        raise ValueError("values is an object: where -> what")
    result: dict[str, float | str] = {}
    for where, value in values.items():
        if len(where) > 40 or not where.isprintable():
            raise ValueError("a place is a block, block.cell, string number or empty")
        if kind == "gravity" and isinstance(value, str | int | float) and not isinstance(value, bool):
            result[where] = parse_gravity(value)
        elif isinstance(value, str):
            unit = _OF_CHARGER.get(where) if kind == "charger" else _UNITS.get(kind)
            words = _words(where, value)
            result[where] = _number(where, words, unit) if unit and words[:1] in _BEGINS else words
        else:
            result[where] = _finite(where or "value", value)
    return result


def _number(what: str, value: object, unit: str) -> float:
    return quantity(value, unit) if isinstance(value, str) and len(value) <= LONGEST_TEXT else _finite(what, value)


def _finite(what: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{what} is a number")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(f"{what} is too large")
    return number


def _words(what: str, value: object) -> str:
    if not isinstance(value, str) or len(value) > LONGEST_TEXT:
        raise ValueError(f"{what} is text of at most {LONGEST_TEXT} characters")
    return value.strip()


def _one_line(what: str, value: object) -> str:
    words = _words(what, value)
    if not words.isprintable():
        raise ValueError(f"{what} stands on one line")
    return words


def _taken_at(value: object, at: float) -> float:
    if isinstance(value, str):
        moment = datetime.fromisoformat(value)  # Python says what is wrong with it
        if moment.tzinfo is None:
            raise ValueError("taken_at needs its offset from UTC, such as 2026-11-25T09:00:00+01:00")
        taken = moment.timestamp()
    else:
        taken = _finite("taken_at", value)
    if taken > at + AHEAD:
        raise ValueError("taken_at lies in the future")
    return min(taken, at)
