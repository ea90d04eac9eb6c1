"""Wiring: what is made, in which order it starts, and in which it stops."""

from __future__ import annotations

import contextlib
import json
import logging
import signal
import sqlite3
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.clock import SOURCES, Clock, PacedClock
from bridge.config import Loaded
from bridge.config import told as told_of
from bridge.errors import BridgeError, JournalError
from bridge.journal.lock import only_one
from bridge.journal.reader import JournalReader
from bridge.journal.snapshot import from_text
from bridge.journal.writer import Journal
from bridge.mailbox import Mailbox
from bridge.mqtt.bus import Bus, Subscriptions
from bridge.mqtt.relay_guard import RelayGuard
from bridge.outlets.homie import HomieOutlet
from bridge.outlets.relay import RelayOutlet
from bridge.page import start_page
from bridge.runtime.control_socket import Control, socket_path
from bridge.runtime.engine import Engine
from bridge.runtime.log_limit import Quiet
from bridge.runtime.newer_file import NewerFile
from bridge.runtime.service import Service
from bridge.settings import Cabin
from rules.events import Command, Event
from rules.safety import LINK_LOST
from rules.step import Memory

if TYPE_CHECKING:
    from bridge.outlets.notify import NotifyOutlet
    from bridge.outlets.parcels import ParcelsOutlet

log = logging.getLogger("revival")
#: A hot reading overtakes whatever else has come.
SAFETY_QUANTITIES = frozenset(
    ("voltage", "current", "string_current", "electrolyte_temperature", "hydrogen", "fan", "relay_state")
)
#: A bank whose memory is so much older than another's was not in the cabin file meanwhile: it goes on from what it
#: remembers, and what the others measured since is not read again [s].
LONGEST_BEHIND = 600.0


def log_to_stdout(level: int = logging.INFO) -> None:
    """Log one plain line per edge to standard output; the service manager adds time and keeps them."""
    logging.basicConfig(stream=sys.stdout, level=level, force=True)
    for handler in logging.getLogger().handlers:
        handler.setFormatter(_Plain())
        handler.addFilter(Quiet())
    # Retries of the database client name addresses with every attempt; our own outlet tells the edges.
    logging.getLogger("urllib3").setLevel(logging.ERROR)
    # The page's server tells of processes and threads; an operator is told the address.
    logging.getLogger("uvicorn").setLevel(logging.WARNING)


class _Plain(logging.Formatter):
    """What an operator reads: the sentence, and a word in front of it only where something is wrong."""

    def format(self, record: logging.LogRecord) -> str:
        line = super().format(record)
        return line if record.levelno < logging.WARNING else f"{record.levelname.lower()}: {line}"


@contextmanager
def running(loaded: Loaded, clock: Clock | PacedClock) -> Iterator[Service]:
    """Return the whole bridge, started; ended by `Service.close` or at the end of the context.

    Raises
    ------
    JournalError
        The journal, or what it remembers of a bank, was written by a newer version.
    UnsafeStateError
        Another bridge runs on this journal.
    """
    with only_one(loaded.cabin.journal.path), _started(loaded, clock) as service:
        yield service


@contextmanager
def _started(loaded: Loaded, clock: Clock | PacedClock) -> Iterator[Service]:
    """Start the bridge of this process, the guards of its relays first."""
    cabin = loaded.cabin
    with ExitStack() as leaving:
        guards = {
            relay.name: RelayGuard(cabin.broker, relay, f"{cabin.broker.client_prefix}-{cabin.site}")
            for relay in cabin.relays
        }
        for guard in guards.values():
            # Before the disk is asked for anything: nobody knows how the relay was left, and a disk may not answer.
            guard.order("cut")
            guard.start()
            leaving.callback(guard.cut_and_leave)
        service, parts = _wired(loaded, clock, guards)
        leaving.pop_all()
    try:
        yield service
    finally:
        service.close()  # the cut goes first, whatever else hangs
        parts.close()


def _wired(loaded: Loaded, clock: Clock | PacedClock, guards: dict[str, RelayGuard]) -> tuple[Service, ExitStack]:
    """Return the service, and what is to be ended after it: everything but the guards starts here."""
    cabin = loaded.cabin
    journal = Journal.open(cabin.journal, {bank.id: bank.meters for bank in cabin.banks.values()})
    try:
        memories, lost = _remembered(journal, cabin.banks)
    except JournalError:
        journal.close()
        raise
    mailbox = Mailbox(first_topics=_safety_topics(loaded))
    bus = Bus(cabin.broker, mailbox, clock.now, f"{cabin.broker.client_prefix}-{cabin.site}")
    homie = HomieOutlet(cabin, bus.publish)
    outlets = {relay.name: RelayOutlet(relay, guards[relay.name]) for relay in cabin.relays}
    relays = {bank: outlets[relay.name] for relay in cabin.relays for bank in relay.banks}
    time_topic = "" if cabin.time_source in SOURCES else cabin.time_source
    influx = None
    if cabin.influx is not None:
        # The database client costs 20 MB and half of all imports: only who has a database pays for it.
        from bridge.outlets.influx import InfluxOutlet  # noqa: PLC0415  (only where a database is configured)

        influx = InfluxOutlet(cabin.influx, cabin.site, journal, lambda: clock.trusted, scale=cabin.degrees)
    database = None if influx is None else influx.status
    messages = _messages(cabin, journal, clock)
    parcels = _parcels(cabin, journal, clock)
    sending = None if parcels is None else parcels.status
    banks, routes = cabin.banks, loaded.routes
    service = Service(
        banks, routes, clock, mailbox, bus, journal, homie, relays, time_topic, database, messages, sending,
        NewerFile(cabin),
    )  # fmt: skip
    facts = journal.facts()
    _restore(service.engine, journal, clock, memories, lost)
    _note_changes(service, cabin, facts, clock.now())
    subscriptions = Subscriptions(
        live=(*loaded.routes.live_topics, *([time_topic] if time_topic else [])),
        history=loaded.routes.history_topics,
        commands=tuple(homie.command_topics()),
        will_topic=homie.state_topic,
        known_filters=_fact(facts, "filters", lambda kept: isinstance(kept, str)),
    )
    homie.retire(_fact(facts, "announced", _are_topics) or [])
    known = _fact(facts, "described", _are_versions) or {}
    service.keep_fact("described", json.dumps(homie.number(known, clock.now())))
    service.keep_fact("filters", json.dumps(subscriptions.filters))
    parts = ExitStack()
    if influx is not None:
        influx.start()
        parts.callback(influx.stop)
    if parcels is not None:
        parcels.start()
        parts.callback(parcels.stop)
    parts.callback(Control(socket_path(cabin.journal.path), mailbox.put, clock.now).close)
    if messages is not None:
        messages.start(service.latest.get, lambda: service.well)
        parts.callback(messages.stop)
    bus.start(subscriptions)
    page = start_page(service, cabin) if cabin.page is not None else None
    if page is not None:
        parts.callback(page.stop)
    return service, parts


def _messages(cabin: Cabin, journal: Journal, clock: Clock | PacedClock) -> NotifyOutlet | None:
    """Return what tells people, where it is configured; a missing extra is told and keeps no bridge from watching."""
    if cabin.notify is None:
        return None
    try:
        # The library loads a hundred services and costs 20 MB: only who wants messages pays for it.
        from bridge.outlets.notify import NotifyOutlet  # noqa: PLC0415  (only where messages are configured)
    except ImportError as error:
        fix = 'install the extra "notify" (pip install "revival-bridge[notify]")'
        log.error("nobody is told: %s is missing; %s", error.name, fix)
        return None
    return NotifyOutlet(cabin, cabin.notify, journal, clock.now, lambda: clock.trusted)


def _parcels(cabin: Cabin, journal: Journal, clock: Clock | PacedClock) -> ParcelsOutlet | None:
    """Return what sends parcels, where they are configured; a missing extra is told and keeps no bridge from watching.

    Made before anything is subscribed: messages from here on are judged by the cabin file of this start.
    """
    if cabin.parcels is None:
        return None
    try:
        # The library that writes the files costs 60 MB: only who sends them pays for it.
        from bridge.outlets.parcels import ParcelsOutlet  # noqa: PLC0415  (only where parcels are configured)
    except ImportError as error:
        fix = 'install the extra "fleet" (pip install "revival-bridge[fleet]")'
        log.error("no parcels are sent: %s is missing; %s", error.name, fix)
        return None
    text = json.dumps(told_of(Path(cabin.source)), sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return ParcelsOutlet(cabin.parcels, cabin.site, text, journal, clock.now, lambda: clock.trusted)


def _safety_topics(loaded: Loaded) -> set[str]:
    """Return whose messages are read before all others: readings that may trip, and what the relay reports."""
    return {mapping.topic for mapping in loaded.routes.mappings if mapping.quantity in SAFETY_QUANTITIES}


def _remembered(journal: Journal, banks: Iterable[str]) -> tuple[dict[str, Memory], dict[str, str]]:
    """Return memory of each bank as the last run left it, and why there is none where what was kept cannot be read.

    A bank that has rows had a memory as well, for the first commit carries it: without one it was lost.

    Raises
    ------
    JournalError
        A newer version wrote it.
    """
    known, with_rows = journal.snapshots(), journal.banks()
    memories: dict[str, Memory] = {}
    lost: dict[str, str] = {}
    for bank in banks:
        if bank not in known:
            if with_rows is None and not journal.degraded:
                lost[bank] = "the journal could not be read at this start"
            elif journal.vanished:
                lost[bank] = "the journal is new, and what lies beside it shows that there was another"
            elif with_rows is not None and bank in with_rows:
                lost[bank] = "the journal has rows of this bank, but what it remembered of it is gone"
            continue
        try:
            memories[bank], ignored = from_text(known[bank])
        except ValueError as error:
            log.error("%s: begun afresh, its snapshot does not fit: %s", bank, error)
            lost[bank] = f"what the journal kept of this bank cannot be read by this version ({error})"
        except JournalError as error:
            raise JournalError(f"{journal.path}: {bank}: {error}") from None
        else:
            if ignored:
                log.warning("%s: %d left out of what another version kept: %s", bank, len(ignored), ", ".join(ignored))
    for bank in set(banks) & journal.reserved.keys():
        _take_newer(memories, lost, bank, journal.reserved[bank])
    return memories, lost


def _take_newer(memories: dict[str, Memory], lost: dict[str, str], bank: str, reserved: str) -> None:
    """Take what the last run could write only into the reserve, unless the journal knows something newer."""
    try:
        memory, _ = from_text(reserved)
    except (ValueError, JournalError) as error:
        log.error("%s: what the reserve kept of it does not fit: %s", bank, error)
        lost.setdefault(bank, f"what the last run could not store cannot be read ({error})")
        return
    if bank not in memories or memory.judged_at >= memories[bank].judged_at:
        memories[bank] = memory
        lost.pop(bank, None)
        log.warning("%s: continued from the reserve, because the journal did not store when the last run ended", bank)


def _restore(
    engine: Engine,
    journal: Journal,
    clock: Clock | PacedClock,
    memories: dict[str, Memory],
    lost: dict[str, str],
) -> None:
    """Continue where the last run stopped: snapshots, then the raw messages journaled after them, then a new boot.

    The latch comes up before anything is subscribed. A journal that was damaged, or whose memory does not fit any
    more, leaves the bank tripped, because it may have been; one that cannot be opened withholds the permit until a
    person starts or resumes.
    """
    engine.memories.update(memories)
    judged = [memory.judged_at for memory in engine.memories.values() if memory.judged_at]
    # A board without a clock of its own comes up where it was switched off, or earlier; never before its own journal.
    clock.at_least(max(judged, default=0.0))
    if judged and min(judged) < clock.now():
        try:
            with contextlib.suppress(OSError, BridgeError), JournalReader(journal.path) as reader:
                since = max(min(judged), max(judged) - LONGEST_BEHIND)
                clock.at_least(max((message.at for message in reader.since_memory(since)), default=0.0))
                engine.catch_up(reader.since_memory(since), clock.now())
        except (sqlite3.Error, TypeError, ValueError) as error:
            log.error("journal %s: what came after the last memory cannot be read: %s", journal.path, error)
            engine.skip(clock.now())
            why = f"what the journal kept after the bank's memory cannot be read ({error})"
            lost = dict.fromkeys(engine.banks, why) | lost
    engine.remember(journal.recent_stamps())
    engine.remember((topic, None, checksum) for topic, checksum in journal.recent_unbelieved())
    if journal.set_aside is not None:
        lost = dict.fromkeys(engine.banks, f"the journal was damaged and set aside as {journal.set_aside.name}")
    disobeyed = _disobeyed(journal)
    kept = "new" if journal.fresh else "degraded" if journal.degraded else "kept"
    for bank in engine.banks:
        now = clock.now()
        told: dict[str, object] = {
            "journal": kept,
            "clock_trusted": clock.trusted,
            "storage": journal.storage[0],
            "link": LINK_LOST if engine.banks[bank].relay is not None else "",
            **({"disobeyed_at": disobeyed[bank]} if bank in disobeyed else {}),
        }
        engine.fold(Command(bank, "boot", now, argument=told))
        if bank in lost:
            engine.fold(Command(bank, "journal-lost", now, argument={"why": lost[bank], "tripped": True}))
        elif journal.degraded:
            why = f"the journal cannot be used at this start: {journal.degraded}"
            engine.fold(Command(bank, "journal-lost", now, argument={"why": why}))


def _disobeyed(journal: Journal) -> dict[str, float]:
    """Return when each relay last disobeyed [s since the epoch]: an earlier version held it against no proof."""
    try:
        with contextlib.suppress(OSError, BridgeError), JournalReader(journal.path) as reader:
            return reader.last_trip("relay-disobeys")
    except (sqlite3.Error, TypeError, ValueError) as error:
        log.error("journal %s: whether a relay ever disobeyed cannot be read: %s", journal.path, error)
    return {}


def _note_changes(service: Service, cabin: Cabin, facts: dict[str, str], now: float) -> None:
    """Journal limits and relays that differ from the last start: what moved, old and new."""
    for name, bank in cabin.banks.items():
        limits = {**asdict(bank.limits), "string_current": bank.string_current_limit}
        before = _fact(facts, f"limits/{name}", lambda kept: isinstance(kept, dict))
        if before is None and f"limits/{name}" in facts:
            told = {"why": "the limits it was last watched with cannot be read in the journal", "tripped": True}
            service.engine.fold(Command(name, "journal-lost", now, argument=told))
        before = before or {}
        for limit, value in limits.items():
            if limit in before and before[limit] != value:
                detail = {"limit": limit, "before": before[limit], "after": value}
                service.carry(Event(name, "limit-changed", now, detail))
        service.keep_fact(f"limits/{name}", json.dumps(limits))
    for relay in cabin.relays:
        text = json.dumps([relay.topic, relay.cut, relay.allow, relay.state_topic])
        for name in relay.banks:
            if facts.get(f"relay/{name}", text) != text:
                service.engine.fold(Command(name, "relay-changed", now))
            service.keep_fact(f"relay/{name}", text)


def _fact(facts: dict[str, str], name: str, fits: Callable[[Any], bool]) -> Any:
    """Return a fact as it was kept; None where there is none, or where damage has left nothing that fits."""
    if name not in facts:
        return None
    try:
        kept = json.loads(facts[name])
    except (ValueError, TypeError, RecursionError):
        kept = None
    if not fits(kept):
        log.error("the journal's fact %r cannot be read: left out", name)
        return None
    return kept


def _are_topics(kept: object) -> bool:
    """Tell whether this can be cleared topic by topic; the broker ends a connection that publishes on a wildcard."""
    return isinstance(kept, list) and all(
        isinstance(name, str) and name and not set("+#\0\ufffd") & set(name) for name in kept
    )


def _are_versions(kept: object) -> bool:
    """Tell whether these are checksum and version of descriptions, by device."""
    return isinstance(kept, dict) and all(
        isinstance(pair, list) and list(map(type, pair)) == [int, int] for pair in kept.values()
    )


def serve(loaded: Loaded, clock: Clock) -> int:
    """Run until the process is told to end; the exit code."""
    with running(loaded, clock) as service:
        ends = (signal.SIGTERM, signal.SIGINT)

        def told(*_: object) -> None:
            for number in ends:  # once is enough: a second in the midst of the first would wait for a lock it holds
                signal.signal(number, signal.SIG_IGN)
            service.stop()

        for number in ends:
            signal.signal(number, told)
        banks = loaded.cabin.banks.values()
        for bank in banks:
            relay = "watch only" if bank.relay is None else "with a relay that cuts"
            log.info("%s: watched, %d cells, %s", bank.id, bank.cells, relay)
        threading.Thread(target=service.end_when_hung, name="watchdog", daemon=True).start()
        code = service.run()
        deaf = [
            name for name, memory in service.engine.memories.items() if "relay-disobeys" in memory.interlock.latched
        ]
    for name in deaf:
        log.warning("%s: its relay did not obey before: pull the charger's plug", name)
    for topic in service.untold:
        log.error("%s: no broker took its order to open: switch the charger off at the wall", topic)
    if not code:
        relays = any(bank.relay is not None for bank in banks)
        cut = "; every relay was told to open" if relays and not service.untold else ""
        log.info("stopped as asked%s", cut)
    return code
