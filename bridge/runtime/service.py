"""The running bridge: one loop that takes messages, folds them, carries orders out first, and stores the rest."""

from __future__ import annotations

import json
import logging
import math
import os
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from bridge import clock as time_source
from bridge.clock import Clock, PacedClock, ToldClock
from bridge.config.time_budget import HUNG_AFTER
from bridge.intake import Decoded, Routes
from bridge.journal.writer import Journal
from bridge.mailbox import HEAVY, Asked, Mailbox, SessionChange
from bridge.message import Message
from bridge.mqtt.bus import Bus
from bridge.outlets.homie import HomieOutlet
from bridge.outlets.relay import RelayOutlet
from bridge.runtime.commits import Storing
from bridge.runtime.engine import Engine
from bridge.runtime.floods import Floods
from bridge.runtime.log_limit import one_line
from bridge.runtime.lost_sessions import LostSessions
from bridge.runtime.newer_file import NewerFile
from bridge.runtime.requests import Requests, status_answer
from bridge.runtime.state_publisher import Saying
from bridge.runtime.systemd import notify
from bridge.words.bank_status import event_words
from bridge.words.spoken import spoken
from rules.bank import Bank
from rules.events import Command, Derived, Event, Order, Outcome
from rules.safety import NOTHING_TO_SEE, as_far_as, own_off_words
from rules.step import measured

if TYPE_CHECKING:
    from bridge.outlets.notify import NotifyOutlet

log = logging.getLogger("revival")

#: After a turn that brought something the next waits a little, the longer the more there was, so that what comes in the
#: meantime is taken together: waking for each message costs more than the message [s].
BREATH, BREATH_EACH, LONGEST_BREATH = 0.0005, 0.00005, 0.004
#: A message may have arrived so much later than the engine's present moment before it is taken as that [s].
AHEAD = 1.0
#: So long without a turn the host slept, or stood still: the seconds in between are skipped, for nothing was known. As
#: long as the longest silence limit, so that the second after it finds every meter silent [s].
SLEPT = 900.0
#: After a heavy message none other for so many times what it took [1].
HEAVY_REST = 4.0
#: A watched process that has not turned for so long is started again by its supervisor [s].
HEALTH_EVERY = 10.0

#: What the meters show is compared with what was published so often at most [s]: a turn comes with every second, and a
#: reading is on the bus two seconds later at the latest. States come seldom, so that the journal's card is spared.
MEASURE_EVERY = 0.9
#: While an engine stands still it is looked at so often before its process is ended [1].
HUNG_LOOKS = 6
#: Stopping takes at most so long in all [s].
STOP_WITHIN = 4.5


class Service:
    """Everything that runs, already wired; `run` turns the loop until `stop`.

    Parameters
    ----------
    banks : dict of Bank
        By id.
    routes : Routes
        Compiled intake.
    clock : Clock or PacedClock
        The bridge's time.
    mailbox, bus, journal, homie : ...
        In and out.
    relays : dict of RelayOutlet
        By bank id.
    time_topic : str
        Where something on the bus tells the time; empty where nothing does.
    database : callable, optional
        How a time-series database is, where there is one.
    to_people : NotifyOutlet, optional
        Who tells people, where somebody is told; it is told in turn that the bridge ends.
    parcels : callable, optional
        How the sending of parcels is, where they are sent.
    file : NewerFile, optional
        The cabin file that it was started from.
    """

    def __init__(
        self,
        banks: dict[str, Bank],
        routes: Routes,
        clock: Clock | PacedClock,
        mailbox: Mailbox,
        bus: Bus,
        journal: Journal,
        homie: HomieOutlet,
        relays: dict[str, RelayOutlet],
        time_topic: str = "",
        database: Callable[[], dict[str, object]] | None = None,
        to_people: NotifyOutlet | None = None,
        parcels: Callable[[], dict[str, object]] | None = None,
        file: NewerFile | None = None,
    ) -> None:
        self._live = not isinstance(clock, PacedClock)
        self.engine = Engine(banks, routes, self.carry, SLEPT if self._live else math.inf)
        self.clock, self.mailbox, self.bus = clock, mailbox, bus
        self.journal, self.homie, self.relays = journal, homie, relays
        self.saying = Saying(homie.update)
        self.storing = Storing(self.engine, journal, clock, bus.ack, bus.settings.in_flight)
        self.messages = 0
        self.time_topic = time_topic
        self.database, self.to_people = database, to_people
        self.parcels = parcels
        self.file = file
        self.floods = Floods(mailbox, bus)
        self.sessions = LostSessions(banks, clock, set(relays.values()), self.carry)
        old_protocol = bus.settings.protocol != "5"
        self.requests = Requests(self.engine, clock, self.storing, homie, relays, old_protocol, self._whole_status)
        self._health_at = self._measured_at = 0.0
        self._health: dict[str, object] = {}
        self._refused: dict[str, str] = {}
        self._held: dict[str, str] = {}
        self._seen_beside: list[Event] = []  # how a relay's own auto-off was seen to end, for the banks beside
        self._turns = 0
        self._turned_at = -math.inf
        self._command_topics = frozenset(homie.command_topics())
        self._stop = threading.Event()
        self._closed = False
        self.untold: list[str] = []

    @property
    def latest(self) -> dict[str, Derived]:
        """The last state of each bank, by id."""
        return self.saying.latest

    @property
    def well(self) -> bool:
        """Whether the loop turns, the broker is there and the journal stores: what an outside watcher is told."""
        turning = time_source.monotonic() - self._turned_at < HEALTH_EVERY
        return turning and self.bus.connected and not self.journal.degraded

    @property
    def newer_file(self) -> str:
        """What to do because the cabin file is not the one that runs any more; empty where it is."""
        return "" if self.file is None else self.file.words

    # ---------------------------------------------------------------------------------- the loop

    def run(self) -> int:
        """Turn until `stop`; the exit code: 0, or 70 when a network thread died and only a restart helps."""
        notify("READY=1")
        while not self._stop.is_set():
            taken = self.turn(self._patience())
            if taken:
                time_source.sleep(min(LONGEST_BREATH, BREATH + taken * BREATH_EACH))
            moment = time_source.monotonic()
            if moment - self._health_at >= HEALTH_EVERY:
                self._health_at = moment
                self._keep_well()
                if not self.bus.healthy():
                    log.error("a network thread has died: ending, so that the supervisor starts the bridge again")
                    self.close()
                    return 70
        self.close()
        return 0

    def end_when_hung(self) -> None:
        """End the process when the loop stands still: the broker then publishes the will, and a supervisor starts anew.

        For a thread of a process that does nothing else.
        Counted in looks of its own, so that a host that slept, or a process that was frozen, is not taken for it.
        """
        turns, still = -1, 0
        while not self._stop.wait(HUNG_AFTER / HUNG_LOOKS):
            still = still + 1 if turns == self._turns else 0
            turns = self._turns
            if still >= HUNG_LOOKS:
                log.critical("the engine has stood still for %.0f s: ending the process, which cuts", HUNG_AFTER)
                os._exit(70)
        time_source.sleep(HUNG_AFTER)
        log.critical("told to end %.0f s ago and still here: ending the process, which cuts", HUNG_AFTER)
        os._exit(70)

    def turn(self, timeout: float) -> int:
        """Take what waits, let time pass, store what is due; how many items were taken."""
        # Taken before the mailbox is emptied: no later message may have arrived before the second it is folded into.
        self._turns += 1
        self._turned_at = time_source.monotonic()
        before = self.clock.now()
        self._watch_relays(before)
        items = self.mailbox.take(1000, timeout)
        for item in items:
            if type(item) is Message:
                if len(item.payload) > HEAVY:
                    self._receive_heavy(item)
                else:
                    self._receive(item)
            elif type(item) is SessionChange:
                self._changed(item)
            elif type(item) is Asked:
                self.requests.answer(item)
        now = max(before, self.engine.at) if items else self.clock.now()
        if now < self.engine.at - AHEAD and self._live:
            # Should never be: but an engine that is ahead of its clock judges nothing until the clock has caught up.
            log.error("the engine was %.1f s ahead of its clock", self.engine.at - now)
            self._move(now - self.engine.at)
        self.engine.advance(now)
        for relay in set(self.relays.values()):
            relay.refresh(now)
        moment = time_source.monotonic()
        self.saying.late(moment)
        if moment - self._measured_at >= MEASURE_EVERY:
            self._measured_at = moment
            for name, bank in self.engine.banks.items():
                self.homie.measured(name, measured(bank, self.engine.memories[name], self.engine.at))
        storage = self.storing.storage
        if storage[0] != self._health.get("storage"):
            self._tell_health(storage, self.clock.trusted)
        self.storing.commit(moment)
        self.storing.acknowledge_anyway(moment)
        self.floods.shed(moment)
        self.bus.hold(self.storing.behind or self.mailbox.laden)
        return len(items)

    def keep_fact(self, name: str, text: str | None) -> None:
        """Keep something for the next start, with the next commit."""
        self.storing.batch.facts[name] = text

    def stop(self) -> None:
        """Let `run` end; callable from a signal handler."""
        self._stop.set()
        self.mailbox.wake()

    def _patience(self) -> float:
        now = self.clock.now()
        if isinstance(self.clock, PacedClock) or self.storing.behind:
            return 0.005
        until_second = 1.0 - now % 1.0
        return min(until_second + 0.001, 0.2 if self.storing.batch.acks else 1.0)

    # ------------------------------------------------------------------------------ what comes in

    def _receive_heavy(self, message: Message) -> None:
        """Receive a pack: at most a fifth of the time goes into these, or the network would not be read meanwhile."""
        began = time_source.monotonic()
        self._receive(message)
        self.mailbox.rest(HEAVY_REST * (time_source.monotonic() - began))

    def _receive(self, message: Message) -> None:
        self.messages += 1
        if message.topic in self._command_topics:
            self.requests.obey(message)
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
        batch = self.storing.batch
        if decoded is not None:
            if len(message.payload) > HEAVY and not decoded.readings:
                # What is refused for its weight is not written to the card by the megabyte; its beginning tells enough.
                message = message._replace(payload=message.payload[:HEAVY])
            batch.messages.append((message, decoded.stamp))
            batch.size += len(message.payload)
            batch.readings.extend(decoded.readings)
        if message.session == "history":
            self.storing.owe(message)

    def _tell_refusal(self, topic: str, decoded: Decoded) -> None:
        """Log a line when a topic begins to give nothing or gives another reason, and one when it is well again."""
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

    def _changed(self, change: SessionChange) -> None:
        if change.session == "history":
            self.sessions.changed(change)
        if change.connected and change.session == "live":
            self.homie.announce()
            self.storing.batch.facts["announced"] = json.dumps(self.homie.announced())
            self.saying.again()

    # ----------------------------------------------------------------------------- what goes out

    def carry(self, outcome: Outcome) -> None:
        """Carry an outcome: orders leave at once, everything else is collected."""
        if isinstance(outcome, Order):
            self._order(outcome)
        elif isinstance(outcome, Derived):
            self.storing.batch.derived.append(outcome)
            self.saying.say(outcome)
        elif outcome.kind == "unsure":
            # Asked back, and not taken: it leaves no trace but the answer.
            self.requests.unsure.append(outcome)
        else:
            self.storing.batch.events.append(outcome)
            self.storing.batch.urgent = True
            if outcome.kind == "auto-off":
                self._seen_beside.append(outcome)
            words = event_words(outcome, self.homie.cabin.degrees)
            if words is not None:
                log.info("%s: %s", outcome.bank, one_line(words))

    def _watch_relays(self, now: float) -> None:
        """Tell the rules what happened to the relays without them: they alone close a relay again."""
        at = max(now, self.engine.at)
        self._tell_beside(at)
        for relay in set(self.relays.values()):
            told = [Command("", "relay-link", at, argument=change) for change in relay.changes()]
            told += [
                Command("", "retained-order", at, argument={"payload": kept, "closes": closes})
                for kept, closes in relay.take_kept()
            ]
            for bank in relay.relay.banks:
                held = relay.held_by(bank)
                if held != self._held.get(bank, ""):
                    self._held[bank] = held
                    self.engine.fold(Command(bank, "relay-held", at, argument={"by": held}))
                for command in told:
                    self.engine.fold(command._replace(bank=bank))

    def _tell_beside(self, at: float) -> None:
        """Tell the other banks behind a relay how its own auto-off was seen to end: the relay is one."""
        seen, self._seen_beside = self._seen_beside, []
        for event in seen:
            relay = self.relays.get(event.bank)
            told = event.detail
            if relay is None or told["note"] == NOTHING_TO_SEE:
                continue
            argument = {"seconds": told["seconds"], "why": told["note"], "stuck": told.get("stuck", False)}
            for bank in relay.relay.banks:
                if bank != event.bank:
                    self.engine.fold(Command(bank, "auto-off-seen", at, argument=argument))

    def _order(self, order: Order) -> None:
        if order.action == "load-cut":
            load = self.homie.cabin.load_relays[order.bank]
            self.bus.publish(load.topic, load.cut, retain=False)
            log.warning(
                "%s: the load is told to come off: %s", order.bank, spoken(order.reason, self.homie.cabin.degrees)
            )
        relay = None if order.action == "load-cut" else self.relays.get(order.bank)
        if relay is not None:
            relay.order(order)
        self.storing.batch.events.append(
            Event(order.bank, "order", order.at, {"action": order.action, "reason": order.reason})
        )
        self.storing.batch.urgent = True

    # -------------------------------------------------------------------------------------- health

    def _keep_well(self) -> None:
        notify("WATCHDOG=1")
        trusted = self.clock.trusted
        if trusted and not self.storing.dated and len(self.storing.batch):
            self.storing.submit(
                time_source.monotonic(), set()
            )  # its times are still those of the clock that nobody vouched for
        step = self.clock.follow()
        if step:
            log.warning("the clock was set by %.1f s; everything remembered moves along", step)
            self._move(step)
        if trusted and (step or not self.storing.dated):
            self.journal.restamp(time_source.BOOT, self.clock.anchor)
        self.storing.dated = trusted
        if self.file is not None and (news := self.file.look()):
            log.warning("%s", news)
        self.floods.look()
        self.sessions.look_at_guards()
        self._tell_health(self.storing.storage, trusted)
        database = None if self.database is None else self.database()
        self.homie.health(self.clock.now(), self.journal.lag, trusted, database)

    def _tell_health(self, storage: tuple[str, str], trusted: bool) -> None:
        """Tell the rules what the bridge knows of itself: the permit of every bank rests on it."""
        health: dict[str, object] = {
            "storage": storage[0],
            "why": storage[1],
            "clock-untrusted": "" if trusted else "nothing has set this host's clock yet",
            "meter-floods": self.floods.words,
            "session-lost": self.sessions.words,
        }
        if health != self._health:
            self._health = health
            for bank in self.engine.banks:
                self.engine.fold(Command(bank, "health", max(self.clock.now(), self.engine.at), argument=health))

    def _move(self, seconds: float) -> None:
        self.engine.move(seconds)
        for relay in set(self.relays.values()):
            relay.clock_moved()

    def status(self) -> dict[str, Any]:
        """Return how the bridge is, for `revival status` and the health node."""
        return {
            "at": self.clock.now(),
            "connected": self.bus.connected,
            "clock_trusted": self.clock.trusted,
            "journal_lag": round(self.journal.lag, 3),
            "journal_degraded": self.journal.degraded,
            "newer_file": self.newer_file,
            "unstored": self.storing.unstored,
            "messages": self.messages,
            "dropped": self.mailbox.dropped.total(),
            "floods": sorted(self.floods.topics),
            "duplicates": self.engine.duplicates,
            "rejected": {
                f"{topic}: {reason}": count for (topic, reason), count in self.engine.rejected.most_common(20)
            },
            "bus": self.bus.status(),
            "database": None if self.database is None else self.database(),
            "parcels": None if self.parcels is None else self.parcels(),
            "messages_to_people": None if self.to_people is None else self.to_people.status(),
        }

    def _whole_status(self) -> dict[str, Any]:
        told = status_answer(self.status(), self.latest)
        for bank, state in told["banks"].items():
            relay, lock = self.engine.banks[bank].relay, self.engine.memories[bank].interlock
            state["own_off"] = own_off_words(None if relay is None else relay.auto_off, lock.proof.own)
            state["proved"] = as_far_as(lock.proof)
        return told

    def close(self) -> None:
        """Cut first, then finish what is under way: within five seconds, whatever hangs."""
        if self._closed:
            return
        self._closed = True
        notify("STOPPING=1")
        if self.to_people is not None:
            self.to_people.leave()
        relays = set(self.relays.values())
        self.untold = end(self.engine, self.storing, self.journal, self.bus, self.homie, relays)


def end(
    engine: Engine, storing: Storing, journal: Journal, bus: Bus, homie: HomieOutlet, relays: set[RelayOutlet]
) -> list[str]:
    """Cut every relay, store every bank's memory, take leave of the broker: within five seconds.

    Returns
    -------
    list of str
        Topics of relays whose order to open no broker has taken.
    """
    limit = time_source.monotonic() + STOP_WITHIN
    for relay in relays:
        relay.guard.order("cut")
    until = time_source.monotonic() + 2.0
    untold = [
        relay.guard.relay.topic
        for relay in relays
        if not relay.guard.wait_acknowledged(max(0.0, until - time_source.monotonic()))
    ]
    storing.submit(time_source.monotonic(), set(engine.banks))
    homie.disconnect()
    # Each of these waits for something that may hang; they wait side by side, and the process ends without them.
    threads = [
        threading.Thread(target=work, args=(1.0,), daemon=True)
        for work in (bus.stop, *(relay.guard.close_with_will for relay in relays))
    ]
    for thread in threads:
        thread.start()
    journal.close(max(0.5, limit - 1.5 - time_source.monotonic()))
    for thread in threads:
        thread.join(max(0.0, limit - time_source.monotonic()))
    return untold
