"""The fold around the rules: messages and seconds in, outcomes out, the same live and in replay."""

from __future__ import annotations

import logging
import math
from collections import Counter, OrderedDict
from collections.abc import Callable, Iterable
from zlib import crc32

from bridge.intake import Decoded, Routes
from bridge.journal.snapshot import shifted, to_text
from bridge.message import Message
from rules.bank import Bank
from rules.events import Command, HandReading, Incoming, Outcome, Reading, Tick, Unreadable
from rules.step import Memory, Standing, derived, fold, initial, quiet_until

log = logging.getLogger("revival.engine")

Carry = Callable[[Outcome], None]
#: Messages of the kept session remembered, to know a redelivery when it comes.
REMEMBERED = 50_000
#: Stands for the stamp of a message whose own time is not believed.
UNBELIEVED = -1
#: A running bridge keeps every bank's memory once a minute. No message and no memory for longer than this means that it
#: was off, or that its clock was set: seconds in which nothing was known are skipped, not walked [s].
LONGEST_GAP = 180.0


class Engine:
    """One writer, no locks: whoever owns it calls it from one thread.

    Parameters
    ----------
    banks : dict of Bank
        By id.
    routes : Routes
        Compiled intake.
    carry : callable
        Called with every outcome in order; orders come first and must be carried out before anything is stored.
    longest_walk : float
        More seconds than this in one go are skipped [s]; a recording, which may be silent for days, is walked.
    wanted : callable, optional
        Tells whether a state that is due is to be put together and carried; all are where nothing is said.

    Attributes
    ----------
    memories : dict of Memory
        By bank id.
    rejected : Counter
        ``(topic, reason)`` -> how often.
    duplicates : int
        Redelivered messages left out.
    """

    def __init__(
        self,
        banks: dict[str, Bank],
        routes: Routes,
        carry: Carry,
        longest_walk: float = math.inf,
        wanted: Callable[[Standing], bool] = lambda due: True,
    ) -> None:
        self.banks = banks
        self.routes = routes
        self.carry = carry
        self.memories: dict[str, Memory] = {bank: initial() for bank in banks}
        self.rejected: Counter[tuple[str, str]] = Counter()
        self.duplicates = 0
        self.at = 0.0
        self._longest_walk, self._wanted = longest_walk, wanted
        self._second = 0
        self._stamps: OrderedDict[tuple[str, int, int], None] = OrderedDict()

    # ------------------------------------------------------------------------------------ time

    def advance(self, at: float) -> None:
        """Let every whole second up to `at` pass [s since the epoch], in one step those in which nothing is due."""
        if self._second == 0:
            self._second = math.ceil(at)
        elif at - self._second > self._longest_walk:
            self._second = math.floor(at)  # judged at once: whatever was fresh before is old now
        while self._second <= at:
            tick = Tick(float(self._second))
            self._second += 1
            for bank_id in self.banks:
                self._fold(bank_id, tick)
            if self._second <= at:
                due_at = min([quiet_until(memory) for memory in self.memories.values()], default=math.inf)
                self._second = max(self._second, math.floor(min(due_at, at)))
        self.at = max(self.at, at)

    def skip(self, at: float) -> None:
        """Go on from `at` without the seconds before it [s since the epoch]: in them nothing was known."""
        self.at, self._second = at, math.ceil(at)

    def resume(self, at: float) -> None:
        """Go on where another engine stopped: every second up to `at` has passed there [s since the epoch]."""
        self.at, self._second = at, math.floor(at) + 1

    def move(self, seconds: float) -> None:
        """Move everything remembered by as much as the clock was set, so that ages stay what they are [s]."""
        self.memories = {bank: shifted(memory, seconds) for bank, memory in self.memories.items()}
        self.at += seconds
        self._second = math.ceil(self.at)

    def catch_up(self, messages: Iterable[Message], now: float) -> None:
        """Fold what was journaled after each bank's snapshot, after a restart, then go on from `now`.

        The time in which the bridge was down had no seconds: nothing was judged, and none of it is made up for. Nor do
        hours between two messages, when the clock was set or the bridge was started twice.
        """
        since = {bank: memory.judged_at for bank, memory in self.memories.items()}
        for message in messages:
            if self._second == 0 or message.at - self._second > LONGEST_GAP:
                self._second = math.ceil(message.at)
            while self._second <= message.at:
                for bank, judged in since.items():
                    if self._second > judged:
                        self._fold(bank, Tick(float(self._second)))
                self._second += 1
            for reading in self.routes.decode(message).readings:
                if reading.at > since[reading.bank]:
                    try:
                        self._fold(reading.bank, reading)
                    except Exception:  # what once ended the bridge must not end it at every start
                        log.exception("%s: a journaled message cannot be folded", message.topic)
        self.skip(now)

    # --------------------------------------------------------------------------------- messages

    def accept(self, message: Message) -> Decoded | None:
        """Fold one message in; what it said, or None for a redelivery.

        Never raises for what a message contains.
        """
        at = message.at
        if at < self.at:
            message = message._replace(at=self.at)
            at = self.at
        elif at >= self._second:
            self.advance(at)
        decoded = self.routes.decode(message)
        kept = decoded.stamp is not None or message.session == "history"
        if kept and not self._first_time(message, decoded.stamp):
            self.duplicates += 1
            return None
        if decoded.rejected:
            for refused in decoded.rejected:
                self.rejected[refused] += 1
        for reading in decoded.readings:
            self.fold(reading)
        for lost in decoded.unreadable:
            self.fold(lost)
        return decoded

    def fold(self, event: Reading | Unreadable | Command | HandReading) -> None:
        """Fold one event of one bank."""
        self._fold(event.bank, event)

    def _fold(self, bank_id: str, event: Incoming) -> None:
        memory, outcomes = fold(self.banks[bank_id], self.memories[bank_id], event)
        self.memories[bank_id] = memory
        for outcome in outcomes:
            if not isinstance(outcome, Standing):
                self.carry(outcome)
            elif self._wanted(outcome):
                self.carry(derived(outcome))

    def _first_time(self, message: Message, stamp: float | None) -> bool:
        """Tell whether this is no redelivery.

        A sample is known by its own time. Where that is not believed (a clock that stands at zero says the same with
        every sample) it is known by its content, and only where the broker says that it sends it again.
        """
        checksum = crc32(message.payload)
        unbelieved = (message.topic, UNBELIEVED, checksum)
        if message.dup and unbelieved in self._stamps:
            return False
        key = unbelieved if stamp is None else (message.topic, round(stamp * 1000.0), checksum)
        if stamp is not None and key in self._stamps:
            return False
        self._stamps[key] = None
        if len(self._stamps) > REMEMBERED:
            self._stamps.popitem(last=False)
        return True

    def remember(self, stamps: Iterable[tuple[str, float | None, int]]) -> None:
        """Remember what was journaled before: topic, stamp [s since the epoch; None = not believed], CRC-32."""
        for topic, stamp, checksum in stamps:
            self._stamps[(topic, UNBELIEVED if stamp is None else round(stamp * 1000.0), checksum)] = None

    # -------------------------------------------------------------------------------- snapshots

    def snapshot(self, bank_id: str) -> str:
        """Return a bank's memory as JSON."""
        return to_text(self.memories[bank_id])
