"""What a person measured, as it comes over the bus, from the page and the terminal: JSON in, a `HandReading` out."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, TypeAdapter

from bridge.clock import instant
from bridge.errors import RequestError
from bridge.intake.hand_words import quantity
from bridge.intake.strict_json import read_object
from bridge.intake.strict_model import Line, StrictModel, Text, validated
from bridge.units import UnitError
from rules.events import HandReading
from rules.hand import KINDS
from rules.laws import parse_gravity

_OF_CHARGER = {"volts": "V", "amps": "A"}
LONGEST = 16_384  #: bytes of one record
_LONGEST_PLACE = 40  #: characters of a block and cell
_BEGINS = frozenset("+-.0123456789")  #: a number
AHEAD = 300.0  #: a reading may be taken so much after it arrived, by the sender's clock [s]


def _kind(word: str) -> str:
    if word not in KINDS:
        raise ValueError(f"{word[:40]!r} is none of {', '.join(sorted(KINDS))}")
    return word


def _place(where: str) -> str:
    if len(where) > _LONGEST_PLACE or not where.isprintable():
        raise ValueError("is no place: write a block, block.cell, a string's number, or nothing for the bank")
    return where


class HandRecord(StrictModel):
    """A record as it is sent; `hand_reading` reads what its numbers mean.

    Attributes
    ----------
    kind : str
        A key of `rules.hand.KINDS`.
    values : dict
        Where -> number or word.
    temperature : float or str, optional
        [degC], or with its unit.
    taken_at : float or str, optional
        Epoch seconds, or ISO 8601 with its offset.
    by, note, key : str
        Who; anything in words; what comes twice with one key counts once.
    undo, sure : bool
        Takes back the last of its kind, or of the places in `values`; a strange value was asked about and confirmed.
    entry : float or str, optional
        With `undo`: `taken_at` of the entry that is taken back.
    """

    kind: Annotated[str, AfterValidator(_kind)]
    values: dict[Annotated[str, AfterValidator(_place)], float | Text] = {}
    temperature: float | Text | None = None
    taken_at: float | Line | None = None
    by: Line = ""
    note: Text = ""
    undo: bool = False
    key: Line = ""
    sure: bool = False
    entry: float | Line | None = None


_RECORD = TypeAdapter(HandRecord)


def parse_record(bank: str, at: float, payload: bytes) -> HandReading:
    """Read one record.

    Parameters
    ----------
    bank : str
        Bank id.
    at : float
        When it arrived [s since the epoch].
    payload : bytes
        JSON object with the keys of `HandRecord`. Gravities as people write them: 1.265, 1265, "30.4 Be", "low"; other
        numbers also with their unit: "84 degF", "0.3 l".

    Raises
    ------
    RequestError
        With what is wrong, in words.

    Examples
    --------
    >>> parse_record("north", 100.0, b'{"kind": "gravity", "values": {"N1.2": 1265}, "temperature": 25}').values
    {'N1.2': 1.265}
    >>> parse_record("north", 100.0, b'{"kind": "temperature", "values": {"": "86 degF"}}').values
    {'': 30.0}
    """
    return hand_reading(bank, at, validated(_RECORD, read_object(payload, "a record", LONGEST)))


def hand_reading(bank: str, at: float, record: HandRecord) -> HandReading:
    """Return what a record means in canonical units.

    Raises
    ------
    RequestError
        With what is wrong, in words.
    """
    try:
        return HandReading(
            bank,
            record.kind,
            at,
            _taken_at(record.taken_at, at),
            # Of what is taken back only the place counts.
            {where: "" if record.undo else _value(record.kind, where, value) for where, value in record.values.items()},
            None if record.temperature is None else _number(record.temperature, "degC"),
            record.by,
            record.note,
            record.undo,
            record.key,
            record.sure,
            0.0 if record.entry is None else _moment("entry", record.entry),
        )
    except (ValueError, UnitError) as error:
        raise RequestError(str(error)) from None


def _value(kind: str, where: str, value: float | str) -> float | str:
    if kind == "gravity":
        return parse_gravity(value)
    if isinstance(value, str):
        unit = _OF_CHARGER.get(where) if kind == "charger" else KINDS[kind]
        return _number(value, unit) if unit and value[:1] in _BEGINS else value
    return float(value)


def _number(value: float | str, unit: str) -> float:
    return quantity(value, unit) if isinstance(value, str) else float(value)


def _taken_at(value: float | str | None, at: float) -> float:
    if value is None:
        return at
    told = _moment("taken_at", value)
    if told > at + AHEAD:
        raise ValueError("taken_at lies in the future")
    return min(told, at)


def _moment(name: str, value: float | str) -> float:
    if not isinstance(value, str):
        return float(value)
    try:
        return instant(value)
    except ValueError as error:
        raise ValueError(f"{name}: {error}") from None
