"""What is asked through the control socket and the page: one JSON object, with numbers that are numbers."""

from __future__ import annotations

import json
from math import isfinite
from typing import Any, NoReturn


def parse_request(line: bytes) -> dict[str, Any]:
    """Read one request.

    Raises
    ------
    ValueError
        With what is wrong, in words.

    Examples
    --------
    >>> parse_request(b'{"ask": "status"}')
    {'ask': 'status'}
    >>> parse_request(b"[]")
    Traceback (most recent call last):
    ...
    ValueError: a request is a JSON object
    """
    if not line.strip():
        raise ValueError("nothing was asked")
    try:
        plain = json.loads(line.decode(), parse_float=_finite, parse_constant=_no_number)
    except UnicodeDecodeError as error:
        raise ValueError("not UTF-8") from error
    except RecursionError as error:
        raise ValueError("nested too deep") from error
    except json.JSONDecodeError as error:
        raise ValueError(f"not JSON: {error.msg} at character {error.pos}") from error
    if not isinstance(plain, dict):
        raise ValueError("a request is a JSON object")
    return plain


def _finite(digits: str) -> float:
    number = float(digits)
    if not isfinite(number):
        raise ValueError(f"{digits[:20]} is too large for a number")
    return number


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")
