"""Wiring: what is made, in which order it starts, and in which it stops."""

from __future__ import annotations

import contextlib
import json
import logging
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from bridge.bus import Bus
from bridge.clock import Clock, PacedClock
from bridge.config import Loaded
from bridge.control import Control, socket_path
from bridge.engine import Engine
from bridge.guard import RelayGuard
from bridge.journal.reader import JournalReader
from bridge.journal.writer import Journal
from bridge.mailbox import Mailbox
from bridge.outlets.homie import HomieOutlet
from bridge.outlets.influx import InfluxOutlet
from bridge.outlets.relay import RelayOutlet
from bridge.page import start_page
from bridge.service import Service
from rules.reading import Command

log = logging.getLogger("revival")


def log_to_stdout(level: int = logging.INFO) -> None:
    """One plain line per edge; the service manager adds time and keeps them."""
    logging.basicConfig(stream=sys.stdout, level=level, format="%(levelname)s %(name)s: %(message)s", force=True)
    # Retries of the database client name addresses with every attempt; our own outlet tells the edges.
    logging.getLogger("urllib3").setLevel(logging.ERROR)


@contextmanager
def running(loaded: Loaded, clock: Clock | PacedClock) -> Iterator[Service]:
    """The whole bridge, started; ended by `Service.close` or at the end of the context.

    Raises
    ------
    JournalError
        The journal was written by a newer version.
    """
    cabin = loaded.cabin
    journal = Journal.open(cabin.journal, {bank.id: bank.meters for bank in cabin.banks.values()})
    mailbox = Mailbox()
    bus = Bus(cabin.broker, mailbox, clock.now, f"{cabin.broker.client_prefix}-{cabin.site}")
    homie = HomieOutlet(cabin, bus.publish)
    guards = {
        relay.name: RelayGuard(cabin.broker, relay, f"{cabin.broker.client_prefix}-{cabin.site}")
        for relay in cabin.relays
    }
    outlets = {relay.name: RelayOutlet(relay, guards[relay.name]) for relay in cabin.relays}
    relays = {bank: outlets[relay.name] for relay in cabin.relays for bank in relay.banks}
    engine = Engine(cabin.banks, loaded.routes, lambda outcome: None)
    service = Service(engine, clock, mailbox, bus, journal, homie, relays)
    facts = journal.facts()
    _restore(engine, journal, clock)
    bus.live_topics = list(loaded.routes.live_topics)
    bus.history_topics = list(loaded.routes.history_topics)
    bus.command_topics = homie.command_topics()
    bus.will_topic = homie.state_topic
    bus.known_filters = json.loads(facts["filters"]) if "filters" in facts else None
    homie.retire(json.loads(facts.get("announced", "[]")))
    service.keep_fact("filters", json.dumps(bus.history_filters))
    control = Control(socket_path(cabin.journal.path), mailbox.put)
    influx = None
    if cabin.influx is not None:
        influx = InfluxOutlet(cabin.influx, cabin.site, journal, lambda: clock.trusted)
        influx.start()
    for guard in guards.values():
        guard.start()
    bus.start()
    page = start_page(service, cabin) if cabin.page is not None else None
    try:
        yield service
    finally:
        if page is not None:
            page.stop()
        control.close()
        if influx is not None:
            influx.stop()
        service.close()


def _restore(engine: Engine, journal: Journal, clock: Clock | PacedClock) -> None:
    """Continue where the last run stopped: snapshots, then the raw messages journaled after them, then a new boot.

    The latch comes up before anything is subscribed. A journal that was damaged leaves every bank tripped, because
    nobody knows what happened before.
    """
    known = journal.snapshots()
    oldest = clock.now()
    for bank in engine.banks:
        if bank not in known:
            continue
        try:
            engine.restore(bank, known[bank])
            oldest = min(oldest, engine.memories[bank].judged_at or oldest)
        except ValueError as error:
            log.error("%s: begun afresh, its snapshot does not fit: %s", bank, error)
    if known and oldest < clock.now():
        with contextlib.suppress(OSError), JournalReader(journal.path) as reader:
            for message, _ in reader.messages(oldest, clock.now()):
                engine.accept(message)
    engine.remember(journal.recent_stamps())
    for bank in engine.banks:
        engine.fold(Command(bank, "boot", clock.now()))
        if journal.set_aside is not None:
            why = f"the journal was damaged and set aside as {journal.set_aside.name}"
            engine.fold(Command(bank, "journal-lost", clock.now(), argument={"why": why}))


def serve(loaded: Loaded, clock: Clock) -> int:
    """Run until the process is told to end; the exit code."""
    with running(loaded, clock) as service:
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: service.stop())
        return service.run()
