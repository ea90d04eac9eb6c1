"""JSON read strictly, one way for meters and for people: no key twice, no NaN, no number beyond a float."""

from __future__ import annotations

import json
from math import isfinite
from typing import NoReturn

from bridge.errors import RequestError


class StrictJsonError(ValueError):
    """What JSON allows and we do not.

    Attributes
    ----------
    reason : str
        From a small fixed set, to be counted; the error's own text is for whoever wrote it.
    """

    def __init__(self, reason: str, words: str) -> None:
        super().__init__(words)
        self.reason = reason


def _unique(pairs: list[tuple[str, object]]) -> dict[str, object]:
    table = dict(pairs)
    if len(table) != len(pairs):
        seen: set[str] = set()
        for key, _ in pairs:
            if key in seen:
                raise StrictJsonError("duplicate key", f"the key {key[:40]!r} stands there twice")
            seen.add(key)
    return table


def _no_constant(word: str) -> NoReturn:
    raise StrictJsonError("not finite", f"{word} is not a number")


def _finite(digits: str) -> float:
    number = float(digits)
    if not isfinite(number):
        raise StrictJsonError("not finite", f"{digits[:20]} is too large for a number")
    return number


#: For meters, thousands of times a second: a number beyond a float comes back as infinity.
decode = json.JSONDecoder(object_pairs_hook=_unique, parse_constant=_no_constant).decode
_decode_finite = json.JSONDecoder(object_pairs_hook=_unique, parse_constant=_no_constant, parse_float=_finite).decode


def read_object(payload: bytes, what: str, longest: int) -> dict[str, object]:
    """Read what a person or a program of theirs has sent.

    Parameters
    ----------
    payload : bytes
        UTF-8.
    what : str
        What it should be, for the error: ``a record``.
    longest : int
        Most that is read [bytes].

    Raises
    ------
    RequestError
        It is no such object, in words.

    Examples
    --------
    >>> read_object(b'{"kind": "note"}', "a record", 100)
    {'kind': 'note'}
    >>> read_object(b'{"kind": "note", "kind": "level"}', "a record", 100)
    Traceback (most recent call last):
    ...
    bridge.errors.RequestError: the key 'kind' stands there twice
    """
    if len(payload) > longest:
        raise RequestError(f"{what} has at most {longest} bytes")
    if not payload.strip():
        raise RequestError(f"not JSON: nothing stands where {what} should")
    try:
        read = _decode_finite(payload.decode())
    except UnicodeDecodeError:
        raise RequestError("not UTF-8") from None
    except RecursionError:
        raise RequestError("nested too deep") from None
    except json.JSONDecodeError as error:
        raise RequestError(f"not JSON: {error.msg} at character {error.pos}") from None
    except StrictJsonError as error:
        raise RequestError(str(error)) from None
    except ValueError:  # an integer with more digits than Python converts
        raise RequestError("a number has too many digits") from None
    if not isinstance(read, dict):
        raise RequestError(f"{what} is a JSON object")
    return read
