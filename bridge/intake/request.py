"""What people ask of the running bridge, one type from every edge: the control socket, the page and the bus.

Each edge parses once, in the thread that received it; the engine dispatches by type and never sees JSON.
"""

from __future__ import annotations

from typing import Annotated, Literal, NamedTuple

from pydantic import AfterValidator, Field, JsonValue, TypeAdapter

from bridge.errors import RequestError
from bridge.intake.hand_record import LONGEST, HandRecord, hand_reading
from bridge.intake.strict_json import read_object
from bridge.intake.strict_model import LONGEST_TEXT, Line, Name, StrictModel, validated
from rules.events import Command, HandReading
from rules.step import INTERNAL

LONGEST_REQUEST = 100_000  #: bytes of one line to the control socket


class StatusAsked(NamedTuple):
    """How the bridge and every bank is."""


class ProofAsked(NamedTuple):
    """How the proof test of a bank's relay goes."""

    bank: str


Request = Command | HandReading | StatusAsked | ProofAsked


def _details(argument: dict[str, JsonValue]) -> dict[str, JsonValue]:
    for word in argument.values():
        if isinstance(word, str) and not (word.isprintable() and len(word) <= LONGEST_TEXT):
            raise ValueError(f"has a word that does not stand on one line with at most {LONGEST_TEXT} characters")
    return argument


class _Act(StrictModel):
    name: Line
    by: Name = ""
    argument: Annotated[dict[str, JsonValue], AfterValidator(_details)] = {}


class _ActAsked(_Act):
    ask: Literal["act"]
    bank: Line


class _RecordAsked(HandRecord):
    ask: Literal["record"]
    bank: Line


class _ProofAsked(StrictModel):
    ask: Literal["proof"]
    bank: Line


class _StatusAsked(StrictModel):
    ask: Literal["status"]


_ACT = TypeAdapter(_Act)
_ASKED: TypeAdapter[_ActAsked | _RecordAsked | _ProofAsked | _StatusAsked] = TypeAdapter(
    Annotated[_ActAsked | _RecordAsked | _ProofAsked | _StatusAsked, Field(discriminator="ask")]
)


def parse_request(line: bytes, at: float) -> Request:
    """Read one line of the control socket; `at` is when it came [s since the epoch].

    Raises
    ------
    RequestError
        With what is wrong, in words.

    Examples
    --------
    >>> parse_request(b'{"ask": "act", "bank": "north", "name": "start"}', 100.0)
    Command(bank='north', name='start', at=100.0, by='', argument={})
    >>> parse_request(b'{"ask": "statuss"}', 100.0)
    Traceback (most recent call last):
    ...
    bridge.errors.RequestError: cannot answer 'statuss': "ask" is "act", "record", "proof", "status"
    """
    asked = validated(_ASKED, read_object(line, "a request", LONGEST_REQUEST))
    if isinstance(asked, _StatusAsked):
        return StatusAsked()
    if isinstance(asked, _ProofAsked):
        return ProofAsked(asked.bank)
    if isinstance(asked, _RecordAsked):
        if len(line) > LONGEST:
            raise RequestError(f"a record has at most {LONGEST} bytes")
        return hand_reading(asked.bank, at, asked)
    if asked.name in INTERNAL:
        raise RequestError(f"{asked.name} is no command")
    return Command(asked.bank, asked.name, at, asked.by, dict(asked.argument))


def parse_act(bank: str, at: float, body: bytes, allowed: frozenset[str]) -> Command:
    """Read an act from the page: one of those `allowed` there, by whoever stands in front of it.

    Raises
    ------
    RequestError
        With what is wrong, in words.
    """
    act = validated(_ACT, read_object(body, "an act", LONGEST))
    if act.name not in allowed:
        raise RequestError(f"{act.name[:40]!r} is no act of this page")
    return Command(bank, act.name, at, act.by or "page", dict(act.argument))
