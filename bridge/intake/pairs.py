"""Text of keys and values, as small boards write it: ``V=26.31 A=9.2``, ``u:26,31; i:9,2``, a line for a database.

Text of values alone, ``26.31;9.2;27.1``, has their places for keys, counted from nought.
"""

from __future__ import annotations

import re

from bridge.intake.mapping import RejectError
from bridge.intake.value import text_of

#: What stands between two pairs; a comma, as a decimal sign, as well inside a value.
_BETWEEN = " \t\r\n,;&|"
#: Texts of more pairs are refused unread, as documents of as many values are [1].
MOST_PAIRS = 4000
#: The stamp that a line of a time-series database ends in.
_STAMP = re.compile(r"[ \t]+[0-9]{10,19}\s*\Z")
_QUOTES = "\"'"
#: What stands between values without keys, the plainest first; a number among them, with its unit or without.
_GAPS = (";", "|", "\t", " ", ",")
_A_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:\s*[A-Za-zµμΩ°℃℉%/]{1,15})?", re.ASCII)
#: A key before its sign; thousands, which are one number.
_KEY = re.compile(r"(?:^|[\s,;&|])[\"']?[^\W\d]\w*[\"']?\s*[:=]|=")
_THOUSANDS = re.compile(r"\s*[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]*)?\s*")
#: So many numbers make a list: one may stand in any sentence [1] (assumed).
_FEWEST = 2


def pairs_of(payload: bytes) -> dict[str, str]:
    """Return key -> value, as text. The sign between them is ``=``, or ``:`` in a text that has none.

    A value reaches to the last gap before the next key, so it may have a unit, or gaps of its own; what stands before
    the first key names the whole and is passed over, though not before a ``:``, which prose has too.

    A text without keys is a list: of it the places are the keys.

    Raises
    ------
    RejectError
        Neither pairs nor a list, a key twice, too many pairs, and what `text_of` refuses.

    Examples
    --------
    >>> pairs_of(b"V=26.31 A=9.20 MODE=bulk charge")
    {'V': '26.31', 'A': '9.20', 'MODE': 'bulk charge'}
    >>> pairs_of(b"u: 26,31 V, i: 9,2 A; at: 08:20:00"), pairs_of(b"bank,at=shed volts=26.31,amps=9.2 1795590000")
    ({'u': '26,31 V', 'i': '9,2 A', 'at': '08:20:00'}, {'at': 'shed', 'volts': '26.31', 'amps': '9.2'})
    >>> pairs_of(b"26.31;9.2;27.1 C"), pairs_of(b"26.31, 9.2"), pairs_of(b"26,31 9,2")
    ({'0': '26.31', '1': '9.2', '2': '27.1 C'}, {'0': '26.31', '1': '9.2'}, {'0': '26,31', '1': '9,2'})
    """
    text = text_of(payload)
    if listed := _in_order(text):
        return {str(place): value for place, value in enumerate(listed)}
    sign = "=" if "=" in text else ":"
    if text.count(sign) > MOST_PAIRS:
        raise RejectError("too many values")
    first, *rest = _STAMP.sub("", text).split(sign) if sign == "=" else text.split(sign)
    before, key = _last_word(first)
    if not rest or not _is_key(key, sign) or (before and sign == ":"):
        raise RejectError("not key=value")
    found: dict[str, str] = {}
    said: list[str] = []
    for part in rest[:-1]:
        value, following = _last_word(part)
        gap = len(following) < len(part.rstrip())
        if not gap or not _is_key(following, sign):
            # the sign is one of the value's own, as a clock's is
            said.append(part)
            continue
        _keep(found, key, sign.join([*said, value]))
        key, said = following, []
    _keep(found, key, sign.join([*said, rest[-1]]))
    return found


def _in_order(text: str) -> list[str]:
    """Return the values of a text that has no keys; none where it is prose, or one number with a decimal comma.

    >>> _in_order("2026-11-25T08:20:00;bulk;26.31;9.2;"), _in_order("26,31"), _in_order("u: 3; 4")
    (['2026-11-25T08:20:00', 'bulk', '26.31', '9.2', ''], [], [])
    """
    if _KEY.search(text) or _THOUSANDS.fullmatch(text):
        return []
    for gap in _GAPS:
        parts = [part.strip().strip(_QUOTES) for part in text.strip().split(gap)]
        numbers = sum(bool(_A_NUMBER.fullmatch(part)) for part in parts)
        if len(parts) > MOST_PAIRS:
            raise RejectError("too many values")
        # a blank is as often between words, or the parts of an address, and a comma as often a decimal sign
        sure = {
            " ": numbers == len(parts) and not all(part.isdigit() for part in parts),
            ",": any("." in part for part in parts),
        }
        if numbers >= _FEWEST and sure.get(gap, True):
            return parts
    return []


def _last_word(part: str) -> tuple[str, str]:
    """Return what stands before the last gap, and what behind it."""
    trimmed = part.rstrip()
    gap = max(trimmed.rfind(one) for one in _BETWEEN)
    return trimmed[: gap + 1].strip(_BETWEEN), trimmed[gap + 1 :].strip(_QUOTES)


def _is_key(word: str, sign: str) -> bool:
    """Tell whether a word may be a key; before a ``:`` figures are a clock's."""
    return bool(word) and (word[0].isalpha() or word[0] == "_" or (sign == "=" and word[0].isdigit()))


def _keep(found: dict[str, str], key: str, value: str) -> None:
    if key in found:
        raise RejectError("duplicate key")
    found[key] = value.strip(_BETWEEN).strip(_QUOTES)
