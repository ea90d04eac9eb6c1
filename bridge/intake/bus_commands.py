"""What people ask over the bus: a payload on a settable topic in, a command or a hand reading out."""

from __future__ import annotations

from typing import NamedTuple

from pydantic import TypeAdapter

from bridge.errors import RequestError
from bridge.intake.hand_record import LONGEST, parse_record
from bridge.intake.strict_json import read_object
from bridge.intake.strict_model import LONGEST_NAME, Line, StrictModel, validated
from bridge.message import Message
from bridge.words.catalogue import CHECKLIST_BACK, COMMANDS, FINISH_EARLY, OWN_TOO
from rules.events import Command, HandReading

#: A name written so long ago is not taken for a checklist any more: somebody else may stand there [s].
NAME_LASTS = 600.0
#: Words of a command that is an act with something to it.
MEANT: dict[str, tuple[str, dict[str, object]]] = {
    FINISH_EARLY: ("finish", {"sure": True}),
    CHECKLIST_BACK: ("checklist", {"undo": True}),
    OWN_TOO: ("prove", {"auto_off": True}),
}


class WrittenName(NamedTuple):
    """Who is about to confirm a checklist, and since when [s since the epoch]."""

    name: str = ""
    at: float = 0.0


class _Arrangement(StrictModel):
    act: Line
    number: int = 1
    volts: list[float] = []
    sure: bool = False


_ARRANGEMENT = TypeAdapter(_Arrangement)


def parse_name(payload: bytes) -> str:
    """Read who goes through the checklist; a hub writes an empty name as a NUL.

    Raises
    ------
    RequestError
        Too long, or not on one line.
    """
    name = payload.decode("utf-8", "replace").strip("\0 \t\r\n")
    if len(name) > LONGEST_NAME or (name and not name.isprintable()):
        raise RequestError(f"a name has at most {LONGEST_NAME} printable characters")
    return name


def parse_arrangement(payload: bytes) -> dict[str, object]:
    """Read an act on the arrangement: ``{"act": "isolate", "number": 2}``, or ``rejoin`` with the ``volts`` at rest.

    Raises
    ------
    RequestError
        It is no such object.

    Examples
    --------
    >>> parse_arrangement(b'{"act": "isolate", "number": 2}')
    {'act': 'isolate', 'number': 2, 'volts': [], 'sure': False}
    """
    return validated(_ARRANGEMENT, read_object(payload, "an arrangement", LONGEST)).model_dump()


def parse_act(bank: str, path: str, message: Message, written: WrittenName, protocol: str) -> Command | HandReading:
    """Read what was written on a settable property of a bank.

    Parameters
    ----------
    path : str
        Node and property, as in the catalogue.
    written : WrittenName
        Who is about to confirm the checklist.
    protocol : str
        MQTT version. Before 5 a retained message cannot be told from a fresh one once subscribed, so that ``reset`` and
        ``resume`` are not taken from there.

    Raises
    ------
    RequestError
        With what is wrong, in words.
    """
    if path == "cells/record":
        return parse_record(bank, message.at, message.payload)
    argument: dict[str, object] = {}
    word = message.payload.decode("utf-8", "replace")
    if path == "revival/command":
        if word not in COMMANDS:
            raise RequestError(f"command {word[:40]!r} is none of {', '.join(COMMANDS)}")
        name, argument = MEANT.get(word, (word, {}))
    elif path == "revival/checklist":
        name, argument = "checklist", {"name": parse_name(message.payload)}
    elif path == "revival/arrange":
        name, argument = "arrange", parse_arrangement(message.payload)
    elif word != "true":
        raise RequestError(f"only true is understood, not {word[:40]!r}")
    elif path == "revival/checklist-confirm":
        if not written.name or message.at - written.at > NAME_LASTS:
            raise RequestError("write into the name field who went through the checklist, then confirm it")
        name, argument = "checklist", {"name": written.name}
    else:
        word = path.removeprefix("safety/")
        name, argument = MEANT.get(word, (word, {}))
    if protocol != "5" and name in ("reset", "resume"):
        raise RequestError(f"{name} comes from the command line or the page: this broker is spoken to in MQTT 3.1.1")
    return Command(bank, name, message.at, "bus", argument)
