"""What the engine collects between two commits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from bridge.message import Message
from rules.events import Derived, Event, Reading


@dataclass(slots=True)
class Batch:
    """A plain collector: the engine appends, hands the whole batch over, and starts a new one.

    Handing over whole batches costs half of what a queue of single messages does.

    Attributes
    ----------
    size : int
        Payloads of its messages [bytes].
    messages : list of tuple
        Raw message and the meter's own time [s since the epoch] where it carries one.
    readings, derived, events : list
        As they left intake and rules; hand readings are events of kind ``hand``.
    snapshots : dict
        Bank id -> JSON of the rules' memory; a later one replaces an earlier one.
    facts : dict
        Name -> JSON text to keep (announcement record, last proof test, ...); ``None`` forgets it.
    urgent : bool
        Reach the disk's surface before going on: trips, latches, orders.
    acks : list of Message
        Handed back after the commit, to be acknowledged to the broker.
    after : list of callable
        Called from the journal's thread after the commit with ``None``, or with the error that kept the batch out:
        answers to people, who are told that something is done when it is kept.
    boot : str
        Empty while the clock is trusted, else the boot id under which the times in this batch were read.
    anchor : float
        With `boot`: what the untrusted clock adds to the monotonic clock [s].
    """

    messages: list[tuple[Message, float | None]] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    derived: list[Derived] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    snapshots: dict[str, str] = field(default_factory=dict)
    facts: dict[str, str | None] = field(default_factory=dict)
    urgent: bool = False
    acks: list[Message] = field(default_factory=list)
    after: list[Callable[[Exception | None], None]] = field(default_factory=list)
    boot: str = ""
    anchor: float = 0.0
    size: int = 0

    def __len__(self) -> int:
        """Return rows, acknowledgements and answers waiting in it; 0 means nothing to commit."""
        return (
            len(self.messages)
            + len(self.readings)
            + len(self.derived)
            + len(self.events)
            + len(self.snapshots)
            + len(self.facts)
            + len(self.acks)
            + len(self.after)
        )


def not_yet_counted(batch: Batch) -> int:
    """Return messages of a batch that is not stored, without those acknowledged, and counted, before it failed."""
    owed = {id(message) for message in batch.acks}
    return sum(message.session != "history" or id(message) in owed for message, _ in batch.messages)
