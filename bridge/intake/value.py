"""One value: strict numbers, units written behind them, and the words of contacts."""

from __future__ import annotations

import re
from collections.abc import Callable
from math import isfinite

from bridge.intake.mapping import CONTACT_WORDS, LARGEST_PAYLOAD, Mapping, RejectError
from bridge.units import ALIASES, Linear, UnitError

#: Python's own float() takes `1_2.6`, `nan` and `infinity`; a meter's number is digits, a point and an exponent.
_VALUE = re.compile(
    r"[ \t\r\n]*([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?)"
    r"[ \t]*([A-Za-zµμΩ°℃℉%/][A-Za-zµμΩ°℃℉%/ ]{0,15}?)?[ \t\r\n\0]*"
)
_ABSENT = frozenset({"unavailable", "unknown", "none", "null", "n/a", "na", "-", "--", "offline"})
_NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity)", re.IGNORECASE)

#: What a lone letter behind a temperature stands for.
SCALES = {"C": "degC", "F": "degF"}
#: So many different unit spellings may arrive in the text of one meter before new ones are refused unread.
_SPELLINGS_KEPT = 16

Extract = Callable[[object], float]


def text_of(payload: bytes) -> str:
    """Return payload as text.

    Raises
    ------
    RejectError
        Too large, not UTF-8, a byte order mark, or empty.
    """
    if len(payload) > LARGEST_PAYLOAD:
        raise RejectError("too large")
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError:
        raise RejectError("not UTF-8") from None
    if not text or text.isspace():
        raise RejectError("empty")
    if text[0] == "\ufeff":
        raise RejectError("byte order mark")
    return text


def why_not_a_number(text: str) -> str:
    """Return the short reason for a text that is no number."""
    word = text.strip(" \t\r\n\0")
    lower = word.lower()
    if lower in _ABSENT:
        return "unavailable"
    if lower in {"true", "false"}:
        return "boolean"
    if _NOT_FINITE.fullmatch(word):
        return "not finite"
    if re.match(r"[+-]?[0-9]+,[0-9]", word):
        return "decimal comma"
    if re.match(r"[+-]?[0-9]+_[0-9]", word):
        return "digit grouping"
    return "not a number"


def _spellings(mapping: Mapping, letters: dict[str, str]) -> Callable[[str], Linear]:
    """Compile the function that turns the unit written behind a number into its factor; each spelling is asked once."""
    factors: dict[str, Linear | None] = {}

    def written_in(spelling: str) -> Linear:
        try:
            linear = factors[spelling]
        except KeyError:
            linear = None
            if len(factors) < _SPELLINGS_KEPT:
                try:
                    linear = mapping.factor(letters.get(spelling, spelling), "text")
                except UnitError:
                    linear = None
                factors[spelling] = linear
        if linear is None:
            raise RejectError("wrong unit")
        return linear

    return written_in


def number(mapping: Mapping, unit: str | None, dialect: str) -> Extract:
    """Compile the function that turns a raw value (text, or a JSON leaf) into the canonical unit.

    A unit in the text wins over `unit`; with neither the value is refused.
    """
    known = unit is not None
    scale, offset = mapping.factor(unit, dialect) if known else (1.0, 0.0)
    match = _VALUE.fullmatch
    comma = mapping.decimal == ","
    # A lone C or F is never guessed, but behind the number of a thermometer whose cabin file says degC or degF it can
    # only be one of these two, and a meter that goes over to the other goes on being read.
    thermometer = mapping.canonical == "degC" and ALIASES.get(unit or "", unit) in SCALES.values()
    written_in = _spellings(mapping, SCALES if thermometer else {})

    def extract(raw: object) -> float:
        if type(raw) is str:
            found = match(raw.replace(",", ".") if comma and "." not in raw else raw)
            if found is None:
                raise RejectError(why_not_a_number(raw))
            digits, spelling = found.groups()
            value = float(digits)
            if spelling is not None:
                linear = written_in(spelling)
                value = value * linear.scale + linear.offset
                if not isfinite(value):
                    raise RejectError("not finite")
                return value
        elif type(raw) is float:
            value = raw
        elif type(raw) is int:
            try:
                value = float(raw)
            except OverflowError:
                raise RejectError("not finite") from None
        elif type(raw) is bool:
            raise RejectError("boolean")
        else:
            raise RejectError("unavailable" if raw is None else "not a number")
        if not known:
            raise RejectError("no unit")
        value = value * scale + offset
        if not isfinite(value):
            raise RejectError("not finite")
        return value

    return extract


def contact(mapping: Mapping) -> Extract:
    """Compile the function that turns the words of a contact into 1.0 or 0.0."""
    words = {word.lower(): value for word, value in mapping.words} or CONTACT_WORDS

    def extract(raw: object) -> float:
        if raw is None or isinstance(raw, dict | list):
            raise RejectError("unavailable" if raw is None else "unknown word")
        if type(raw) is float and raw in {0.0, 1.0}:
            raw = int(raw)
        word = str(raw).strip(" \t\r\n\0").lower()
        value = words.get(word)
        if value is None:
            raise RejectError("unavailable" if word in _ABSENT else "unknown word")
        return value

    return extract


def extractor(mapping: Mapping, unit: str | None, dialect: str = "cabin") -> Extract:
    """Return `contact` or `number`, as the quantity asks."""
    return contact(mapping) if mapping.is_contact else number(mapping, unit, dialect)
