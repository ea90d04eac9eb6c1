"""The running bridge: one loop that takes messages, folds them, carries orders out first, and stores the rest."""

from __future__ import annotations

import json
import logging
import threading
from typing import Any

from bridge import clock as time_source
from bridge.bus import Bus
from bridge.clock import Clock, PacedClock, ToldClock
from bridge.control import Asked
from bridge.engine import Engine
from bridge.errors import BridgeError
from bridge.intake import Decoded
from bridge.journal.batch import Batch
from bridge.journal.writer import Journal
from bridge.mailbox import Mailbox, SessionChange
from bridge.message import Message
from bridge.notify import notify
from bridge.outlets.homie import HomieOutlet
from bridge.outlets.record import KEYS as RECORD_KEYS
from bridge.outlets.record import parse_record
from bridge.outlets.relay import RelayOutlet
from rules.acts import INTERNAL
from rules.reading import Command, Derived, Event, HandReading, Order, Outcome

log = logging.getLogger("revival")

#: Commit when so many acknowledgements wait, or the oldest is so old [s]; else every so often [s] or so many rows.
ACKS, ACK_AGE, COMMIT_EVERY, ROWS = 10, 1.0, 10.0, 500
#: While the journal does not answer at most so many raw messages are kept; then the oldest batch goes unstored.
MOST_WAITING = 50_000
#: A snapshot of each bank at least so often [s].
SNAPSHOT_EVERY = 60.0
#: A journal so far behind is degraded [s].
LONGEST_LAG = 30.0
#: A state is published at most so often, unless something happened [s].
SAY_EVERY = 1.0
#: The disk has so long to answer before `history` messages are acknowledged anyway, and counted as unstored [s].
DISK_PATIENCE = 5.0
#: A message may have arrived so much later than the engine's present moment before it is taken as that [s].
AHEAD = 1.0
#: Stopping takes at most so long in all, whatever hangs [s].
STOP_WITHIN = 4.5
#: A watched process that has not turned for so long is started again by its supervisor [s].
HEALTH_EVERY = 10.0


class Service:
    """Everything that runs, already wired; `run` turns the loop until `stop`.

    Parameters
    ----------
    engine : Engine
        Its `carry` is set to this service's.
    clock : Clock or PacedClock
        The bridge's time.
    mailbox, bus, journal, homie : ...
        In and out.
    relays : dict of RelayOutlet
        By bank id.
    """

    def __init__(
        self,
        engine: Engine,
        clock: Clock | PacedClock,
        mailbox: Mailbox,
        bus: Bus,
        journal: Journal,
        homie: HomieOutlet,
        relays: dict[str, RelayOutlet],
    ) -> None:
        self.engine, self.clock, self.mailbox, self.bus = engine, clock, mailbox, bus
        self.journal, self.homie, self.relays = journal, homie, relays
        self.latest: dict[str, Derived] = {}
        self.unstored = 0
        self.messages = 0
        self.cut_seconds: dict[str, float] = {}
        self.time_topic = ""
        self._received_at = 0.0
        self._said_at: dict[str, float] = {}
        self._batch = Batch()
        self._opened_at = time_source.monotonic()
        self._acks_since = 0.0
        self._snapshots_at = 0.0
        self._health_at = 0.0
        self._health: dict[str, object] = {}
        self._dated = clock.trusted
        self._refused: dict[str, str] = {}
        self._live = not isinstance(clock, PacedClock)
        self._command_topics = frozenset(homie.command_topics())
        self._stop = threading.Event()
        self._closed = False
        engine.carry = self.carry
        journal.on_done = self._stored

    # ---------------------------------------------------------------------------------- the loop

    def run(self) -> int:
        """Turn until `stop`; the exit code: 0, or 70 when a network thread died and only a restart helps."""
        notify("READY=1")
        while not self._stop.is_set():
            self.turn(self._patience())
            moment = time_source.monotonic()
            if moment - self._health_at >= HEALTH_EVERY:
                self._health_at = moment
                self._keep_well()
                if not self.bus.healthy(moment):
                    log.error("a network thread has died: ending, so that the supervisor starts the bridge again")
                    self.close()
                    return 70
        self.close()
        return 0

    def turn(self, timeout: float) -> int:
        """Take what waits, let time pass, store what is due; how many items were taken."""
        items = self.mailbox.take(1000, timeout)
        for item in items:
            if type(item) is Message:
                self._receive(item)
            elif type(item) is SessionChange:
                self._changed(item)
            elif type(item) is Asked:
                self._asked(item)
        now = self.clock.now()
        if now < self.engine.at - AHEAD and self._live:
            # Should never be: but an engine that is ahead of its clock judges nothing until the clock has caught up.
            log.error("the engine was %.1f s ahead of its clock", self.engine.at - now)
            self._move(now - self.engine.at)
        self.engine.advance(now)
        for relay in set(self.relays.values()):
            relay.refresh(now)
        moment = time_source.monotonic()
        self._commit(moment)
        self._acknowledge_anyway(moment)
        return len(items)

    def keep_fact(self, name: str, text: str | None) -> None:
        """Keep something for the next start, with the next commit."""
        self._batch.facts[name] = text

    def stop(self) -> None:
        """Let `run` end; callable from a signal handler."""
        self._stop.set()
        self.mailbox.wake()

    def _patience(self) -> float:
        now = self.clock.now()
        if isinstance(self.clock, PacedClock):
            return 0.005
        until_second = 1.0 - now % 1.0
        return min(until_second + 0.001, 0.2 if self._batch.acks else 1.0)

    # ------------------------------------------------------------------------------ what comes in

    def _receive(self, message: Message) -> None:
        self.messages += 1
        self._received_at = message.at
        if message.topic in self._command_topics:
            self._obey(message)
            return
        if message.at < self.engine.at:
            message = message._replace(at=self.engine.at)
        elif self._live and message.at > self.engine.at + AHEAD:
            # Stamped before the clock was set back, it would drag the engine into the future.
            message = message._replace(at=min(message.at, self.clock.now()))
        if message.topic == self.time_topic:
            self._tell_time(message)
        try:
            decoded = self.engine.accept(message)
        except Exception:
            # A defect in one reading may not end the watch over all; what it should have said is silence now.
            log.exception("%s: cannot be folded", message.topic)
            self.engine.rejected[(message.topic, "internal error")] += 1
            decoded = Decoded()
        if decoded is not None and (decoded.rejected or message.topic in self._refused):
            self._tell_refusal(message.topic, decoded)
        batch = self._batch
        if decoded is not None:
            batch.messages.append((message, decoded.stamp))
            batch.readings.extend(decoded.readings)
        if message.session == "history":
            if not batch.acks:
                self._acks_since = time_source.monotonic()
            batch.acks.append(message)

    def _tell_refusal(self, topic: str, decoded: Decoded) -> None:
        """A line when a topic begins to give nothing or gives another reason, and one when it is well again."""
        reason = decoded.rejected[0].reason if decoded.rejected else ""
        if reason and self._refused.get(topic) != reason:
            log.warning("%s: %s; left out and counted", topic, reason)
            self._refused[topic] = reason
        elif not reason:
            log.info("%s: understood again", topic)
            del self._refused[topic]

    def _tell_time(self, message: Message) -> None:
        if isinstance(self.clock, ToldClock) and not message.retain:
            self.clock.tell(message.payload.decode("utf-8", "replace"))

    def _obey(self, message: Message) -> None:
        told = self.homie.command(message, self.clock.now())
        if isinstance(told, Event):
            self._batch.events.append(told)
        elif told is not None:
            self.do(told)

    def do(self, what: Command | HandReading) -> list[Event]:
        """Fold a person's act in; what the rules said of it. Stored at once."""
        self.engine.advance(what.at)
        before = len(self._batch.events)
        self._batch.urgent = True
        self.engine.fold(what)
        return self._batch.events[before:]

    def _changed(self, change: SessionChange) -> None:
        if change.connected:
            log.info("broker session %s is up", change.session)
            if change.session == "live":
                self.homie.announce()
                self._batch.facts["announced"] = json.dumps(self.homie.announced())
                for derived in self.latest.values():
                    self.homie.update(derived)
        else:
            log.warning("broker session %s is down: %s", change.session, change.reason)

    # ----------------------------------------------------------------------------- what goes out

    def carry(self, outcome: Outcome) -> None:
        """Orders leave at once; everything else is collected."""
        kind = type(outcome)
        if kind is Order:
            self._order(outcome)  # type: ignore[arg-type]
        elif kind is Derived:
            self._say(outcome)  # type: ignore[arg-type]
        else:
            event: Event = outcome  # type: ignore[assignment]
            self._batch.events.append(event)
            self._batch.urgent = True
            log.info("%s: %s %s", event.bank, event.kind, _short(event))

    def _order(self, order: Order) -> None:
        if order.action == "load-cut":
            load = self.homie.cabin.load_relays[order.bank]
            self.bus.publish(load.topic, load.cut, retain=False)
            log.warning("%s: the load is told to come off: %s", order.bank, order.reason)
        relay = None if order.action == "load-cut" else self.relays.get(order.bank)
        if relay is not None:
            relay.order(order)
        self._batch.events.append(
            Event(order.bank, "order", order.at, {"action": order.action, "reason": order.reason})
        )
        self._batch.urgent = True

    def _say(self, derived: Derived) -> None:
        before = self.latest.get(derived.bank)
        self.latest[derived.bank] = derived
        self._batch.derived.append(derived)
        moment = time_source.monotonic()
        changed = before is None or (before.phase, before.relay, before.charge_allowed, before.tripped) != (
            derived.phase,
            derived.relay,
            derived.charge_allowed,
            derived.tripped,
        )
        if changed or moment - self._said_at.get(derived.bank, 0.0) >= SAY_EVERY:
            self._said_at[derived.bank] = moment
            self.homie.update(derived)

    # --------------------------------------------------------------------------------- the journal

    def _commit(self, moment: float) -> None:
        batch = self._batch
        if not len(batch):
            self._opened_at = moment
            return
        idle = self.journal.backlog == 0
        due = (
            (len(batch.acks) >= ACKS and idle)
            or (bool(batch.acks) and moment - self._acks_since >= ACK_AGE and idle)
            or (moment - self._opened_at >= COMMIT_EVERY and idle)
            or (len(batch.messages) + len(batch.derived) >= ROWS and idle)
        )
        if not (due or batch.urgent):
            if len(batch.messages) > MOST_WAITING:
                self._give_up(batch)
            return
        if batch.urgent or moment - self._snapshots_at >= SNAPSHOT_EVERY:
            changed = {event.bank for event in batch.events} if batch.urgent else set()
            if moment - self._snapshots_at >= SNAPSHOT_EVERY:
                changed = set(self.engine.banks)
                self._snapshots_at = moment
            batch.snapshots.update({bank: self.engine.snapshot(bank) for bank in changed & set(self.engine.banks)})
        self._submit(moment)

    def _submit(self, moment: float) -> None:
        batch, self._batch = self._batch, Batch()
        if not self._dated:
            batch.boot, batch.anchor = time_source.BOOT, self.clock.anchor
        self._opened_at = moment
        self.journal.submit(batch)

    def _acknowledge_anyway(self, moment: float) -> None:
        """A disk that stands still says nothing: the broker may not wait for it, or no newer message would come."""
        if self.journal.backlog == 0:
            return
        late = self.journal.overdue(DISK_PATIENCE)
        batch = self._batch
        if batch.acks and moment - self._acks_since > DISK_PATIENCE:
            late += batch.acks
            batch.acks = []
        self.unstored += len(late)
        for message in late:
            self.bus.ack(message)

    def _give_up(self, batch: Batch) -> None:
        """The disk does not answer: messages are acknowledged anyway and counted, so that the broker goes on."""
        self.unstored += len(batch.messages)
        for message in batch.acks:
            self.bus.ack(message)
        batch.messages.clear()
        batch.readings.clear()
        batch.acks.clear()

    def _stored(self, batch: Batch, error: Exception | None) -> None:
        """From the journal's thread: committed, or given up after a bounded wait; either way acknowledged."""
        if error is not None:
            self.unstored += len(batch.messages)
        for message in batch.acks:
            self.bus.ack(message)

    # -------------------------------------------------------------------------------------- health

    def _keep_well(self) -> None:
        notify("WATCHDOG=1")
        trusted = self.clock.trusted
        if trusted and not self._dated and len(self._batch):
            self._submit(time_source.monotonic())  # its times are still those of the clock that nobody vouched for
        step = self.clock.follow()
        if step:
            log.warning("the clock was set by %.1f s; everything remembered moves along", step)
            self._move(step)
        if trusted and (step or not self._dated):
            self.journal.restamp(time_source.BOOT, self.clock.anchor)
        self._dated = trusted
        lag = self.journal.lag
        degraded = self.journal.degraded
        if not degraded and lag > LONGEST_LAG:
            degraded = f"the disk has not answered for {LONGEST_LAG:.0f} s or longer"
        health: dict[str, object] = {
            "clock-untrusted": "" if trusted else "nothing has set this host's clock yet",
            "journal-degraded": degraded,
        }
        if health != self._health:
            self._health = health
            for bank in self.engine.banks:
                self.engine.fold(Command(bank, "health", max(self.clock.now(), self.engine.at), argument=health))
        self.homie.health(self.clock.now(), lag, trusted)

    def _move(self, seconds: float) -> None:
        self.engine.move(seconds)
        for relay in set(self.relays.values()):
            relay.clock_moved()

    def status(self) -> dict[str, Any]:
        """How the bridge is, for `revival status` and the health node."""
        return {
            "at": self.clock.now(),
            "connected": self.bus.connected,
            "clock_trusted": self.clock.trusted,
            "journal_lag": round(self.journal.lag, 3),
            "journal_degraded": self.journal.degraded,
            "unstored": self.unstored,
            "messages": self.messages,
            "dropped": sum(self.mailbox.dropped.values()),
            "duplicates": self.engine.duplicates,
            "rejected": {
                f"{topic}: {reason}": count for (topic, reason), count in self.engine.rejected.most_common(20)
            },
            "bus": self.bus.status(),
        }

    def _asked(self, asked: Asked) -> None:
        try:
            asked.reply.put(self._answer(asked.request))
        except (BridgeError, ValueError, KeyError, TypeError) as error:
            asked.reply.put({"error": str(error)})

    def _answer(self, request: dict[str, Any]) -> dict[str, Any]:
        what = request.get("ask")
        if what == "status":
            banks = {bank: _plain(derived) for bank, derived in self.latest.items()}
            return {"bridge": self.status(), "banks": banks}
        bank = request.get("bank")
        if bank not in self.engine.banks:
            raise ValueError(f"no bank {bank!r}: there are {', '.join(sorted(self.engine.banks))}")
        now = self.clock.now()
        if what == "act":
            name, argument = str(request["name"]), dict(request.get("argument") or {})
            if name in INTERNAL:
                raise ValueError(f"{name} is no command")
            events = []
            for each in self._together(str(bank), name):
                events += self.do(Command(each, name, now, str(request.get("by", "")), argument))
        elif what == "record":
            told = {key: request[key] for key in RECORD_KEYS if request.get(key) is not None}
            events = self.do(parse_record(str(bank), now, json.dumps(told).encode()))
        elif what == "proof":
            lock = self.engine.memories[str(bank)].interlock
            return {"proving": lock.proving, "proof": lock.proof._asdict()}
        else:
            raise ValueError(f"cannot answer {what!r}")
        refused = [str(event.detail.get("why")) for event in events if event.kind == "refused"]
        return {"refused": refused, "events": [{"kind": event.kind, **event.detail} for event in events]}

    def _together(self, bank: str, name: str) -> list[str]:
        """Whom an act concerns: several banks behind one relay can only be proved together."""
        outlet = self.relays.get(bank) if name == "prove" else None
        return [bank] if outlet is None else list(outlet.relay.banks)

    def close(self) -> None:
        """Cut first, then finish what is under way: within five seconds, whatever hangs."""
        if self._closed:
            return
        self._closed = True
        notify("STOPPING=1")
        end = time_source.monotonic() + STOP_WITHIN
        relays = set(self.relays.values())
        for relay in relays:
            relay.guard.order("cut")
        until = time_source.monotonic() + 2.0
        for relay in relays:
            relay.guard.wait_acknowledged(max(0.0, until - time_source.monotonic()))
        self._batch.snapshots.update({bank: self.engine.snapshot(bank) for bank in self.engine.banks})
        self._submit(time_source.monotonic())
        self.homie.disconnect()
        # Each of these waits for something that may hang; they wait side by side, and the process ends without them.
        threads = [
            threading.Thread(target=work, args=(1.0,), daemon=True)
            for work in (self.bus.stop, *(relay.guard.close_with_will for relay in relays))
        ]
        for thread in threads:
            thread.start()
        self.journal.close(max(0.5, end - 1.5 - time_source.monotonic()))
        for thread in threads:
            thread.join(max(0.0, end - time_source.monotonic()))


def _short(event: Event) -> str:
    return " ".join(f"{name}={value}" for name, value in event.detail.items() if value not in (None, ""))


def _plain(derived: Derived) -> dict[str, Any]:
    plain = derived._asdict()
    plain["flags"] = [flag._asdict() for flag in derived.flags]
    return plain
