"""JSON as meters send it, read strictly: no duplicate keys, no NaN, bounded nesting; and JSON Pointers into it.

Pointers are followed by hand: they are compiled once, and a miss is a counted reason instead of a traceback; a library
would bring a dependency for these thirty lines.
"""

from __future__ import annotations

import re

from bridge.intake.mapping import RejectError
from bridge.intake.strict_json import StrictJsonError, decode
from bridge.intake.value import text_of, why_not_a_number

#: Deeper documents are refused; the deepest honest payload we know of has five levels.
DEEPEST = 32
#: Documents with more commas are refused undecoded: each costs a value to make, and each record of a pack a judgement.
#: A pack of an hour, a sample every four seconds, has 3,600 [1].
MOST_COMMAS = 4000
#: Digits in a row. Python itself refuses integers beyond 4,300, but fractions of any length are worked through.
MOST_DIGITS = 5000
_BRACKETS = re.compile(r'"(?:[^"\\]|\\.)*"|[\[\]{}]')
_DIGITS = re.compile("[0-9]+")
_INDEX = re.compile(r"0|[1-9][0-9]*")

Tokens = tuple[str, ...]


def document(payload: bytes) -> object:
    """Decode a JSON payload.

    Numbers beyond a float's range come back as infinity and are refused where they are used.

    Raises
    ------
    RejectError
        Not JSON, duplicate key, not finite, nested too deeply, too many values, a number too long, and what `text_of`
        refuses. Depth, values and length are counted before anything is decoded.
    """
    text = text_of(payload)
    if text.count("{") + text.count("[") > DEEPEST and _depth(text) > DEEPEST:
        raise RejectError("nested too deeply")
    if text.count(",") > MOST_COMMAS:
        raise RejectError("too many values")
    if len(text) > MOST_DIGITS and any(len(digits[0]) > MOST_DIGITS for digits in _DIGITS.finditer(text)):
        raise RejectError("number too long")
    try:
        return decode(text)
    except StrictJsonError as error:
        raise RejectError(error.reason) from None
    except ValueError:  # JSONDecodeError, and integers with more digits than Python converts
        reason = why_not_a_number(text)
        raise RejectError("not JSON" if reason == "not a number" else reason) from None
    except RecursionError:
        raise RejectError("nested too deeply") from None


def _depth(text: str) -> int:
    """Return deepest nesting of brackets outside strings; stops at the first that is too deep."""
    depth = 0
    for bracket in _BRACKETS.finditer(text):
        character = bracket[0]
        if character in "[{":
            depth += 1
            if depth > DEEPEST:
                break
        elif character in "]}":
            depth -= 1
    return depth


def compile_pointer(pointer: str) -> Tokens:
    """Split a JSON Pointer (RFC 6901) into its reference tokens, unescaped.

    Raises
    ------
    ValueError
        Neither empty nor starting with ``/``, or a stray ``~``.

    Examples
    --------
    >>> compile_pointer("/dc/a~1b/m~0n")
    ('dc', 'a/b', 'm~n')
    """
    if not pointer:
        return ()
    if pointer[0] != "/":
        raise ValueError(f'JSON Pointer "{pointer}" must start with "/"')
    if re.search(r"~(?![01])", pointer):
        raise ValueError(f'JSON Pointer "{pointer}": "~" is written "~0", and "/" inside a name "~1"')
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in pointer[1:].split("/"))


def resolve(tokens: Tokens, root: object) -> object:
    """Return the value that compiled tokens point to.

    Raises
    ------
    RejectError
        There is none.
    """
    here = root
    for token in tokens:
        if type(here) is dict:
            if token not in here:
                raise RejectError("missing")
            here = here[token]
        elif type(here) is list:
            if not _INDEX.fullmatch(token) or int(token) >= len(here):
                raise RejectError("missing")
            here = here[int(token)]
        else:
            raise RejectError("missing")
    return here
