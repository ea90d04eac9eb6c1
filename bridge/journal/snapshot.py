"""A bank's memory to text and back, by the names of its fields, so that a restart goes on where it stopped.

A restart may be an upgrade in the middle of a hold. What an older version did not know yet begins with its default,
and what this version does not know any more is left out and counted. Only what nobody may guess refuses the whole
text: a missing field without a default, one of `NEEDED`, or a value that its field cannot hold.
"""

from __future__ import annotations

import json
import types
import typing
from collections.abc import Callable, Mapping
from functools import cache
from typing import Annotated, Any, NamedTuple, get_args, get_origin, get_type_hints

from bridge.errors import JournalError
from bridge.journal.positional import by_name
from bridge.journal.reader import JournalReader
from bridge.words.bank_name import called
from rules.advice import FLAGS
from rules.hand import HandLog
from rules.meters import Counters
from rules.phase import PhaseMemory
from rules.safety import Interlock, Latch
from rules.step import Memory

#: Of the text. 1 was a list of values in the order of the fields; `bridge.journal.positional` still reads it.
FORMAT = 2
#: Fields that every version has written. Their defaults are those of a bank nothing is known of: taken for one that is
#: missing, they would lose a trip, a hold or the charge without a word.
NEEDED: Mapping[type, frozenset[str]] = {
    Memory: frozenset(("counters", "phase", "interlock", "hand")),
    Counters: frozenset(("charge", "gassing", "charging_seconds")),
    PhaseMemory: frozenset(("phase", "woken", "started_at", "hold_seconds", "hold_complete")),
    Interlock: frozenset(("latched", "started", "needs_resume", "exhausted")),
    HandLog: frozenset(("entries",)),
}
#: Fields that were given another name: record -> old name -> new name.
RENAMED: Mapping[type, Mapping[str, str]] = {}

Read = Callable[[Any, list[str]], Any]


class Restored(NamedTuple):
    """A bank's memory, and the names in its text that this version does not know."""

    memory: Memory
    ignored: tuple[str, ...]


def to_text(memory: Memory) -> str:
    """Return a bank's memory as the JSON text that the journal keeps."""
    return json.dumps({"format": FORMAT, "memory": freeze(memory)}, separators=(",", ":"))


def from_text(text: str) -> Restored:
    """Return the memory that `to_text`, of this version or an earlier one, made this text of.

    Raises
    ------
    JournalError
        A newer version wrote it.
    ValueError
        It is damaged, or lacks what nobody may guess.

    Examples
    --------
    >>> from rules.step import initial
    >>> from_text(to_text(initial())) == (initial(), ())
    True
    """
    ignored: list[str] = []
    try:
        plain = json.loads(text)
        if isinstance(plain, dict):
            written = plain.get("format")
            if type(written) is not int:
                raise ValueError("it does not say its format")
            if written > FORMAT:
                raise JournalError(
                    f"a newer version wrote what is remembered (format {written}, known here: {FORMAT}). "
                    "Install that version again, or go back to the copy of the journal made before the upgrade."
                )
            plain = plain.get("memory")
        else:
            plain = by_name(plain)
        memory = _known(thaw(Memory, plain, ignored), ignored)
    except (OverflowError, RecursionError) as error:
        raise ValueError(str(error)) from error
    return Restored(memory, tuple(ignored))


def freeze(value: object) -> object:
    """Return plain JSON values of any memory: named tuples become objects, other tuples lists.

    Raises
    ------
    TypeError
        A memory holds something that JSON has no form for.

    Examples
    --------
    >>> from rules.safety.interlock import Proof
    >>> freeze(Proof(1.0, True))["passed"]
    True
    """
    if type(value) in _PLAIN:
        return value
    if isinstance(value, tuple):
        items = [freeze(item) for item in value]
        return dict(zip(value._fields, items, strict=True)) if hasattr(value, "_fields") else items
    if isinstance(value, dict):
        return {name: freeze(item) for name, item in value.items()}
    raise TypeError(f"cannot keep a {type(value).__name__} in a snapshot")


def thaw(kind: Any, plain: object, ignored: list[str] | None = None) -> Any:
    """Return the record of this class that `freeze` made these plain values of, perhaps through JSON text.

    Parameters
    ----------
    kind : type
        A memory, or a record in one.
    plain : object
        From `freeze`.
    ignored : list of str, optional
        Takes the names of fields that this version does not know.

    Raises
    ------
    ValueError
        A field without a default is missing, or a value is none that its field can hold.

    Examples
    --------
    >>> from rules.safety.interlock import Proof
    >>> thaw(Proof, {"at": 1, "passed": True, "note": "open", "of_a_later_version": 3})
    Proof(at=1.0, passed=True, seconds=0.0, current_proved=False, note='open', kind='', by='', not_shown='', \
own=OwnOff(at=0.0, seconds=0.0, written=0.0, why=''))
    >>> thaw(Proof, {"passed": "yes"})
    Traceback (most recent call last):
    ...
    ValueError: passed: 'yes' is no bool
    """
    return _reader(kind)(plain, [] if ignored is None else ignored)


_PLAIN = frozenset((float, int, str, bool, type(None)))


@cache
def _reader(kind: Any) -> Read:
    """Compile the reader of an annotation; called once for each, however many banks there are.

    Raises
    ------
    TypeError
        A memory has a field of a kind that none had so far.
    """
    origin, arguments = get_origin(kind), get_args(kind)
    if origin is Annotated:
        return _word(arguments[1])
    if origin in (typing.Union, types.UnionType):
        return _union(arguments)
    if origin is tuple and arguments[1:] == (Ellipsis,):
        return _list(_reader(arguments[0]))
    if origin is tuple and arguments:
        return _row(tuple([_reader(each) for each in arguments]))
    if origin is dict and arguments[0] is str:
        return _mapping(_reader(arguments[1]))
    if kind in _PLAIN:
        return _plain(kind)
    if isinstance(kind, type) and hasattr(kind, "_fields"):
        return _record(kind)
    raise TypeError(f"no snapshot can hold {kind}")


def _record(kind: Any) -> Read:
    hints = get_type_hints(kind, include_extras=True)
    renamed, defaults = RENAMED.get(kind, {}), kind._field_defaults
    fields = {name: (place, _reader(hints[name])) for place, name in enumerate(kind._fields)}
    needed = frozenset(kind._fields) - frozenset(defaults) | NEEDED.get(kind, frozenset())
    start = [defaults.get(name) for name in kind._fields]

    def read(plain: Any, ignored: list[str]) -> Any:
        if type(plain) is not dict:
            raise ValueError(f"{plain!r:.40} is no {kind.__name__}")
        if renamed:
            plain = {renamed.get(name, name): item for name, item in plain.items()}
        missing = needed.difference(plain)
        if missing:
            raise ValueError(f"{', '.join(sorted(missing))} missing in {kind.__name__}")
        values = start.copy()
        name = ""
        try:
            for name, item in plain.items():
                if name in fields:
                    place, reader = fields[name]
                    values[place] = reader(item, ignored)
                else:
                    ignored.append(f"{kind.__name__}.{name}")
        except ValueError as error:
            raise ValueError(f"{name}: {error}") from None
        return kind._make(values)

    return read


def _plain(kind: Any) -> Read:
    # JSON has one kind of number; an int stands for the float of the same value, but True is no 1.
    fitting = (float, int) if kind is float else (kind,)

    def read(plain: Any, ignored: list[str]) -> Any:
        if type(plain) not in fitting:
            raise ValueError(f"{plain!r:.40} is no {kind.__name__}")
        return float(plain) if kind is float else plain

    return read


def _word(words: tuple[str, ...]) -> Read:
    def read(plain: Any, ignored: list[str]) -> Any:
        if plain not in words:
            raise ValueError(f"{plain!r:.40} is none of {', '.join(words)}")
        return plain

    return read


def _union(kinds: tuple[Any, ...]) -> Read:
    readers = [_reader(kind) for kind in kinds if kind is not type(None)]
    may_be_none = len(readers) < len(kinds)

    def read(plain: Any, ignored: list[str]) -> Any:
        if plain is None and may_be_none:
            return None
        reasons = []
        for reader in readers:
            try:
                return reader(plain, ignored)
            except ValueError as error:
                reasons.append(str(error))
        raise ValueError(", or ".join(reasons))

    return read


def _list(item: Read) -> Read:
    def read(plain: Any, ignored: list[str]) -> Any:
        if type(plain) is not list:
            raise ValueError(f"{plain!r:.40} is no list")
        return tuple([item(each, ignored) for each in plain])

    return read


def _row(items: tuple[Read, ...]) -> Read:
    def read(plain: Any, ignored: list[str]) -> Any:
        if type(plain) is not list or len(plain) != len(items):
            raise ValueError(f"{plain!r:.40} is no row of {len(items)}")
        return tuple([item(each, ignored) for item, each in zip(items, plain, strict=True)])

    return read


def _mapping(item: Read) -> Read:
    def read(plain: Any, ignored: list[str]) -> Any:
        if type(plain) is not dict:
            raise ValueError(f"{plain!r:.40} is no mapping")
        return {name: item(each, ignored) for name, each in plain.items()}

    return read


def _known(memory: Memory, ignored: list[str]) -> Memory:
    """Name flags and hazards as this version does; a latch stays a latch, whatever it was called.

    Flags are judged anew with the next second, so one of another version is left out. A latched hazard that nobody
    here can name keeps the bank tripped under the name of a memory that could not be read.
    """
    flags = {name: flag for name, flag in memory.flags.items() if name in FLAGS}
    pending = {key: entry for key, entry in memory.pending.items() if key.split("|", 1)[0] in FLAGS}
    ignored += [f"flag {name}" for name in memory.flags if name not in flags]
    ignored += [f"hazard {key}" for key in memory.pending if key not in pending]
    latched: dict[str, Latch] = {}
    for name, latch in memory.interlock.latched.items():
        if name in FLAGS:
            latched[name] = latch
        else:
            reason = f"tripped by another version for {name}: {latch.reason}"
            latched["journal-lost"] = latch._replace(reason=reason)
            ignored.append(f"hazard {name}")
    return memory._replace(flags=flags, pending=pending, interlock=memory.interlock._replace(latched=latched))


#: Any number above this is a moment in seconds since the epoch; no battery has so many of anything [s].
MOMENT = 1e9


def shifted(value: Any, seconds: float) -> Any:
    """Return the same memory with every moment moved: the clock was set, and ages must stay what they are.

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
    return value


def remembered(journal: JournalReader, bank: str) -> Memory:
    """Return the bank's memory from its newest snapshot.

    Raises
    ------
    JournalError
        There is none, it is damaged, or a newer version wrote it.
    """
    text = journal.snapshots().get(bank)
    if text is None:
        raise JournalError(f"{journal.path}: nothing is known of {called(bank)} yet; let `revival run` watch it first")
    try:
        return from_text(text).memory
    except ValueError as error:
        raise JournalError(f"{journal.path}: what it remembers of {bank} cannot be read ({error})") from None
    except JournalError as error:
        raise JournalError(f"{journal.path}: {bank}: {error}") from None
