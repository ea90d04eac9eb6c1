"""Memory to plain JSON values and back, by its annotations, so that a restart continues exactly where it stopped."""

from __future__ import annotations

import json
import types
import typing
from collections.abc import Callable
from functools import cache
from typing import Any, get_args, get_origin, get_type_hints

import numpy

from bridge.errors import JournalError
from bridge.journal.reader import JournalReader
from rules.step import Memory

Read = Callable[[Any], Any]


def freeze(value: object) -> object:
    """Plain JSON values of any memory: named tuples become lists, arrays become lists of floats.

    Examples
    --------
    >>> from rules.safety.interlock import Proof
    >>> freeze(Proof(1.0, True))
    [1.0, True, 0.0, False, '']
    """
    if isinstance(value, float | int | str | bool) or value is None:
        return value
    if isinstance(value, numpy.ndarray):
        return [freeze(item) for item in value.tolist()] if value.ndim else value.item()
    if isinstance(value, tuple | list):
        return [freeze(item) for item in value]
    if isinstance(value, dict):
        return {str(key): freeze(item) for key, item in value.items()}
    raise TypeError(f"cannot keep a {type(value).__name__} in a snapshot")


def thaw(kind: type, plain: object) -> Any:
    """Rebuild a value of this annotated type from plain JSON values.

    Parameters
    ----------
    kind : type
        A NamedTuple class or any annotation used in one.
    plain : object
        What `freeze` gave, perhaps through JSON text.

    Raises
    ------
    ValueError
        When the fields do not fit: the snapshot was written by another version.

    Examples
    --------
    >>> from rules.safety.interlock import Proof
    >>> thaw(Proof, [1.0, True, 0.5, False, 'open']).seconds
    0.5
    """
    return _reader(kind)(plain)


@cache
def _reader(kind: Any) -> Read:
    origin, arguments = get_origin(kind), get_args(kind)
    if origin in (typing.Union, types.UnionType):
        return _union(arguments)
    if origin is tuple:
        return _tuple(arguments)
    if origin is dict:
        item = _reader(arguments[1])
        return lambda plain: {key: item(value) for key, value in plain.items()}
    if kind is numpy.ndarray or origin is numpy.ndarray:
        return lambda plain: numpy.array(plain, dtype=float)
    if isinstance(kind, type) and hasattr(kind, "_fields"):
        return _record(kind)
    if kind is float:
        return float
    return lambda plain: plain


def _record(kind: Any) -> Read:
    hints = get_type_hints(kind)
    readers = [_reader(hints[name]) for name in kind._fields]

    def read(plain: Any) -> Any:
        if len(plain) != len(readers):
            raise ValueError(f"{kind.__name__}: {len(plain)} fields kept, {len(readers)} expected")
        return kind(*[reader(item) for reader, item in zip(readers, plain, strict=True)])

    return read


def _union(arguments: tuple[Any, ...]) -> Read:
    real = [each for each in arguments if each is not type(None)]
    if len(real) == 1:
        reader = _reader(real[0])
        return lambda plain: None if plain is None else reader(plain)
    # float | str and the like: JSON keeps the difference by itself.
    return lambda plain: plain


def _tuple(arguments: tuple[Any, ...]) -> Read:
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        item = _reader(arguments[0])
        return lambda plain: tuple([item(value) for value in plain])
    readers = [_reader(each) for each in arguments]
    return lambda plain: tuple([reader(value) for reader, value in zip(readers, plain, strict=True)])


#: Any number above this is a moment in seconds since the epoch; no battery has so many of anything [s].
MOMENT = 1e9


def shifted(value: Any, seconds: float) -> Any:
    """The same memory with every moment moved: the clock was set, and ages must stay what they are.

    Parameters
    ----------
    value : object
        Any memory.
    seconds : float
        How far [s].

    Examples
    --------
    >>> from rules.safety.interlock import Proof
    >>> shifted(Proof(1767225600.0, True, 0.5), 10.0)[:3]
    (1767225610.0, True, 0.5)
    """
    if isinstance(value, float):
        return value + seconds if value > MOMENT else value
    if isinstance(value, tuple):
        items = [shifted(item, seconds) for item in value]
        return type(value)(*items) if hasattr(value, "_fields") else tuple(items)
    if isinstance(value, dict):
        return {key: shifted(item, seconds) for key, item in value.items()}
    if isinstance(value, numpy.ndarray):
        return numpy.where(value > MOMENT, value + seconds, value)
    return value


def remembered(journal: JournalReader, bank: str) -> Memory:
    """The bank's memory from its newest snapshot."""
    text = journal.snapshots().get(bank)
    if text is None:
        raise JournalError(f"{journal.path}: nothing is known of bank {bank} yet; let `revival run` watch it first")
    try:
        memory: Memory = thaw(Memory, json.loads(text))
    except (ValueError, TypeError) as error:
        raise JournalError(f"{journal.path}: what it remembers of {bank} is from another version ({error})") from None
    return memory
