"""One bank folded through the rules of the bridge, in pieces that may be far apart: the core of `judge` and `follow`.

Plain Python without an engine around it: whatever distributes the work hands over rows in order and takes lines back.
What comes out are the lines of `revival replay`, byte for byte.
"""

from __future__ import annotations

import base64
import binascii
import json
import logging
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from bridge.config import Loaded, compiled
from bridge.errors import BridgeError
from bridge.intake import Mapping, Routes
from bridge.intake.homie import description_topic
from bridge.journal.snapshot import from_text, to_text
from bridge.message import Message
from bridge.outlets.homie import HomieOutlet
from bridge.runtime.engine import Engine
from bridge.runtime.replayed import StateLines, event_line
from bridge.settings import Cabin
from rules.events import Command, Derived, HandReading, Outcome
from rules.step import Memory, initial

log = logging.getLogger("revival.fleet")
#: Of the text that `BankFold.snapshot` makes; a reader refuses a newer one.
FORMAT = 1
#: Cabin files kept compiled in a process: compiling costs tens of milliseconds, folding an hour of a bank as much.
COMPILED = 256


class FoldError(BridgeError):
    """What a fold was to go on from, or with, cannot be used; the text says what and why."""


class OutRow(NamedTuple):
    """One line that came out of a fold.

    Attributes
    ----------
    table : str
        ``state`` or ``event``.
    site, bank : str
        Whose.
    number : int
        Counts the lines of this bank in this table from 1: with site, bank and table it names the line for ever.
    at : float
        Of the line [s since the epoch].
    line : str
        JSON as `revival replay` writes it, without the end of the line.
    """

    table: str
    site: str
    bank: str
    number: int
    at: float
    line: str


class InRow(NamedTuple):
    """One message of a site, as its parcels hold it.

    Attributes
    ----------
    journal, row : int
        When the journal was begun [s since the epoch], and the row's number in it: the order of a site's messages.
    at : float
        Arrival by the bridge's clock, never before `clock` [s since the epoch].
    clock : float
        Up to here every second of this site has passed when the message is folded in [s since the epoch]. It is the
        site's, not the bank's: banks of one bridge share one clock.
    """

    journal: int
    row: int
    topic: str
    payload: bytes
    at: float
    clock: float
    retained: bool = False


@lru_cache(maxsize=COMPILED)
def cabin(text: str) -> Loaded:
    """Return the compiled cabin of a cabin parcel's text.

    Raises
    ------
    FoldError
        It is no cabin file that this version can use; says why.
    """
    try:
        tables = json.loads(text)
        if not isinstance(tables, dict):
            raise FoldError("a cabin file in the parcels is no table")
        return compiled(tables, Path("cabin parcel"))
    except FoldError:
        raise
    except (ValueError, RecursionError, BridgeError) as error:
        raise FoldError(f"a cabin file in the parcels cannot be used: {error}") from None


def topics(text: str) -> dict[str, tuple[str, ...]]:
    """Return bank id -> topics whose messages its fold needs, descriptions of devices among them."""
    found = cabin(text)
    return {bank: tuple(sorted(_routes(found, bank).topics)) for bank in found.cabin.banks}


class _Routed(NamedTuple):
    """One bank of a cabin file; `mappings` are compiled anew for each fold, because routes learn."""

    cabin: Cabin
    mappings: tuple[Mapping, ...]
    topics: frozenset[str]
    devices: frozenset[str]
    acts: frozenset[str]


@lru_cache(maxsize=COMPILED)
def _of_bank(text: str, bank: str) -> _Routed | None:
    """Compile what one bank needs of a cabin file; None where the file does not have it."""
    loaded = cabin(text)
    return _routes(loaded, bank) if bank in loaded.cabin.banks else None


def _routes(loaded: Loaded, bank: str) -> _Routed:
    mappings = tuple(mapping for mapping in loaded.routes.mappings if mapping.bank == bank)
    devices = frozenset(description_topic(mapping.topic) for mapping in mappings if mapping.style == "homie")
    alone = replace(loaded.cabin, banks={bank: loaded.cabin.banks[bank]})
    acts = frozenset(HomieOutlet(alone, _nobody).command_topics())
    topics = frozenset(mapping.topic for mapping in mappings) | devices | acts
    return _Routed(alone, mappings, topics, devices, acts)


def _nobody(*_: object, **__: object) -> None:
    """Publish to nobody: what is folded here is over, and nothing is told or ordered."""


class BankFold:
    """One bank, from its first message or from a snapshot onward.

    Rows come in order; one that was folded is not folded again.

    Parameters
    ----------
    site, bank : str
        Which.
    snapshot : str, optional
        From `snapshot`, of this version or an earlier one.

    Raises
    ------
    FoldError
        The snapshot is damaged, of another bank, or of a newer version.
    """

    def __init__(self, site: str, bank: str, snapshot: str | None = None) -> None:
        self.site, self.bank = site, bank
        self.last = (0, 0)  #: journal and row folded last
        self.cabin_text = ""
        self.latest: Derived | None = None  #: what was derived last since this object was made
        self._memory: Memory = initial()
        self._engine: Engine | None = None
        self._routed: _Routed | None = None
        self._homie: HomieOutlet | None = None
        self._clock = 0.0
        self._numbers = {"state": 0, "event": 0}
        self._lines = StateLines()
        self._described: dict[str, Message] = {}
        self._waiting: dict[str, Message] = {}
        self._named: dict[str, Message] = {}
        self._out: list[OutRow] = []
        if snapshot is not None:
            self._restore(snapshot)

    @property
    def scale(self) -> str:
        """In which people read at the cabin, "degC" or "degF"."""
        return "degC" if self._routed is None else self._routed.cabin.degrees

    # ------------------------------------------------------------------------------------- what goes in

    def configure(self, text: str) -> None:
        """Judge by this cabin file from here on; what is remembered of the bank stays, as after a restart.

        Raises
        ------
        FoldError
            It cannot be used; the file in force stays.
        """
        routed = _of_bank(text, self.bank)
        if self._engine is not None:
            self._memory = self._engine.memories[self.bank]
        self.cabin_text, self._routed, self._engine = text, routed, None
        if routed is None:  # not watched any more; it may come back
            return
        engine = Engine(routed.cabin.banks, Routes(routed.mappings), self._carry)
        engine.memories[self.bank] = self._memory
        if self._clock:
            engine.resume(self._clock)
        for message in (*self._waiting.values(), *self._described.values()):
            engine.routes.decode(message)  # learned anew; what was in it was folded then
        self._engine, self._homie = engine, HomieOutlet(routed.cabin, _nobody)
        for message in self._named.values():
            self._homie.command(message, message.at)

    def passes(self, clock: float) -> list[OutRow]:
        """Let every second of the site up to here pass [s since the epoch]; return what came out."""
        if clock > self._clock:
            self._clock = clock
            if self._engine is not None:
                self._engine.advance(clock)
        out, self._out = self._out, []
        return out

    def feed(self, row: InRow) -> list[OutRow]:
        """Fold one message in and return what came out; nothing for a row that was folded before."""
        if (row.journal, row.row) <= self.last:
            return []
        self.last = (row.journal, row.row)
        if row.clock > self._clock:
            self._clock = row.clock
            if self._engine is not None:
                self._engine.advance(row.clock)
        if self._engine is not None and self._routed is not None and row.topic in self._routed.topics:
            message = Message(row.topic, row.payload, row.at, row.retained)
            try:
                self._take(self._engine, self._routed, message)
            except Exception:  # what a bridge survives may not end the work on all other banks
                log.exception("%s/%s, row %d: cannot be folded", self.site, self.bank, row.row)
        out, self._out = self._out, []
        return out

    def _take(self, engine: Engine, routed: _Routed, message: Message) -> None:
        if message.topic in routed.acts:
            self._act(engine, message)
            return
        decoded = engine.accept(message)
        if routed.devices:
            self._keep(message, decoded is None or any(lost.topic == message.topic for lost in decoded.rejected))

    def _act(self, engine: Engine, message: Message) -> None:
        """Fold what a person asked over the bus; a journal holds none of these, a recording may."""
        told = None if self._homie is None else self._homie.command(message, message.at)
        if isinstance(told, Command | HandReading):
            engine.advance(told.at)
            engine.fold(told)
        elif told is None:
            self._named[message.topic] = message

    def _keep(self, message: Message, refused: bool) -> None:
        """Remember what a device said of itself, and values that wait for it: routes have no memory of their own."""
        assert self._routed is not None
        if message.topic in self._routed.devices:
            if not refused:
                self._described[message.topic] = message
                prefix = message.topic.removesuffix("$description")
                self._waiting = {topic: kept for topic, kept in self._waiting.items() if not topic.startswith(prefix)}
        elif refused and any(
            message.topic.startswith(device.removesuffix("$description"))
            for device in self._routed.devices - self._described.keys()
        ):
            self._waiting[message.topic] = message

    def _carry(self, outcome: Outcome) -> None:
        if isinstance(outcome, Derived):
            self.latest = outcome
            line = self._lines.line(outcome)
            if line is not None:
                self._say("state", outcome.at, line)
        else:
            self._say("event", outcome.at, event_line(outcome))

    def _say(self, table: str, at: float, line: str) -> None:
        self._numbers[table] += 1
        self._out.append(OutRow(table, self.site, self.bank, self._numbers[table], at, line))

    # ------------------------------------------------------------------------------------- what is kept

    def snapshot(self) -> str:
        """Return what is needed to go on, as JSON: the bank's memory by the names of its fields, and where it was."""
        memory = self._memory if self._engine is None else self._engine.memories[self.bank]
        written_at, state = self._lines.last.get(self.bank, (0.0, ()))
        return json.dumps(
            {
                "format": FORMAT,
                "site": self.site,
                "bank": self.bank,
                "last": self.last,
                "clock": self._clock,
                "cabin": self.cabin_text,
                "numbers": self._numbers,
                "line": [written_at, state],
                "described": [_plain(message) for message in self._described.values()],
                "waiting": [_plain(message) for message in self._waiting.values()],
                "named": [_plain(message) for message in self._named.values()],
                "memory": to_text(memory),
            },
            separators=(",", ":"),
        )

    def _restore(self, text: str) -> None:
        try:
            kept: dict[str, Any] = json.loads(text)
            if kept["format"] > FORMAT:
                raise FoldError(
                    f"{self.site}/{self.bank}: a newer version kept this state (format {kept['format']}, known here: "
                    f"{FORMAT}); use that version, or begin the output anew"
                )
            if (kept["site"], kept["bank"]) != (self.site, self.bank):
                raise ValueError(f"it is of {kept['site']}/{kept['bank']}")
            self.last = (int(kept["last"][0]), int(kept["last"][1]))
            self._clock = float(kept["clock"])
            self._numbers = {table: int(kept["numbers"][table]) for table in self._numbers}
            written_at, state = kept["line"]
            if state:
                self._lines.last[self.bank] = float(written_at), _state(state)
            self._described = {message.topic: message for message in map(_message, kept["described"])}
            self._waiting = {message.topic: message for message in map(_message, kept["waiting"])}
            self._named = {message.topic: message for message in map(_message, kept["named"])}
            self._memory = from_text(kept["memory"]).memory
            if kept["cabin"]:
                self.configure(kept["cabin"])
        except (ValueError, KeyError, TypeError, IndexError, binascii.Error) as error:
            raise FoldError(f"{self.site}/{self.bank}: the state that was kept cannot be read ({error})") from None


def _state(kept: list[Any]) -> tuple[Any, ...]:
    """Return what a line is compared with; names of flags were a tuple before they were JSON."""
    return tuple(tuple(item) if isinstance(item, list) else item for item in kept)


def _plain(message: Message) -> list[object]:
    return [message.topic, base64.b64encode(message.payload).decode(), message.at, message.retain]


def _message(kept: list[Any]) -> Message:
    topic, payload, at, retained = kept
    return Message(topic, base64.b64decode(payload), at, retained)


def fold(
    rows: Iterable[InRow],
    cabins: Iterable[tuple[tuple[int, int], str]],
    site: str,
    bank: str,
    take: Callable[[list[OutRow]], None],
    begins: float = 0.0,
) -> BankFold:
    """Fold one bank over rows in order, each judged by the cabin file in force from its place on.

    Parameters
    ----------
    rows : iterable of InRow
        In order.
    cabins : iterable of tuple
        ``(journal, row)`` from which a cabin file is in force, and its text, in order.
    take : callable
        Called with what came out.
    begins : float
        When the site's first message came [s since the epoch]: seconds are counted from there; 0 = with the first row.

    Returns
    -------
    BankFold
        As it is after the last row; `BankFold.passes` may let the rest of the site's time pass.
    """
    folded = BankFold(site, bank)
    waiting = list(cabins)
    for row in rows:
        while waiting and waiting[0][0] <= (row.journal, row.row):
            folded.configure(waiting.pop(0)[1])
            if begins:
                take(folded.passes(begins))
        take(folded.feed(row))
    return folded
