"""Messages to people: the journal's events followed by a cursor, and told through services the owner chose.

Each service has a ledger of its own (`bridge.outlets.notices`), kept in the journal, so that a lost link delays what it
is told and one service that is down keeps no other waiting. After each message the ledger is stored before the next is
sent: what a service has taken is not sent again, except where the process is killed, or the answer lost, between the
two. Then it is sent twice rather than never.

While the journal does not store, trips are taken from the banks' states as they are now.
"""

from __future__ import annotations

import json
import logging
import sqlite3
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from urllib.error import HTTPError
from urllib.request import Request, urlopen

from bridge.errors import ConfigError, JournalError
from bridge.journal.reader import JournalReader
from bridge.journal.writer import Journal
from bridge.outlets import notices
from bridge.outlets.messenger import Messenger, scheme
from bridge.outlets.notices import Item, Ledger
from bridge.settings import Cabin, NotifySettings
from bridge.words import notice, page_address
from rules.events import Derived

log = logging.getLogger(__name__)

#: By this name the journal keeps the ledgers.
NAME = "notify"
#: Pause between looks at the journal [s]; a trip is told that much later at most.
LOOK = 1.0
#: Pauses after a service did not take a message [s]: doubled up to the longest, so that a link that is back is used.
FIRST_PAUSE, LONGEST_PAUSE = 5.0, 60.0
#: So long a message that was taken waits to be stored before the next one is sent [s].
STORED_WITHIN, STORED_LOOK = 5.0, 0.02
#: Events read at once.
EVENTS = 1000
#: So long an outside watcher's address may take to answer [s].
PATIENCE = 10.0

State = Callable[[str], Derived | None]


@dataclass
class _Service:
    """One service and what it was told; `next_at` [s, monotonic] is from when it is tried again."""

    scheme: str
    messenger: Messenger | None = None
    ledger: Ledger | None = None
    state: str = "starting"
    words: str = ""
    told: int = 0
    failures: int = 0
    next_at: float = float("-inf")


@dataclass
class _Alive:
    """How an outside watcher's address was, and when it is fetched next [s, monotonic]."""

    state: str = "not yet"
    words: str = ""
    next_at: float = field(default=float("-inf"))


class NotifyOutlet:
    """Follows the journal in a thread of its own and tells people.

    Parameters
    ----------
    cabin, settings : Cabin, NotifySettings
        Banks, page and site; services and how often.
    journal : Journal
        Where events are read and the ledgers kept.
    now, trusted : callable
        The bridge's clock [s since the epoch], and whether anybody vouches for it.
    """

    def __init__(
        self,
        cabin: Cabin,
        settings: NotifySettings,
        journal: Journal,
        now: Callable[[], float],
        trusted: Callable[[], bool],
        *,
        look: float = LOOK,
        pause: float = FIRST_PAUSE,
    ) -> None:
        self._cabin, self._settings, self._journal = cabin, settings, journal
        self._now, self._trusted, self._look, self._first_pause = now, trusted, look, pause
        self._scale = cabin.degrees
        self._services = [_Service(scheme(url)) for url in settings.urls]
        self._alive = _Alive()
        self._kept = ""
        self._state: State = lambda bank: None
        self._well: Callable[[], bool] = lambda: False
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=NAME, daemon=True)

    def start(self, state: State, well: Callable[[], bool]) -> None:
        """Begin to follow; `state` tells how a bank is now, `well` whether the bridge does its work."""
        self._state, self._well = state, well
        self._thread.start()

    def leave(self) -> None:
        """Send nothing more than what is under way: the journal is about to be closed."""
        self._stop.set()

    def stop(self, timeout: float = 2.0) -> bool:
        """End, waiting at most `timeout` [s]; the rest is told after the next start."""
        self._stop.set()
        self._thread.join(timeout)
        return not self._thread.is_alive()

    def status(self) -> dict[str, object]:
        """Return how each service is, and the outside watcher's address, without any part of a URL but its scheme."""
        services = [
            {
                "scheme": service.scheme,
                "state": service.state,
                "words": service.words,
                "told": service.told,
                "waiting": 0 if service.ledger is None else _waiting(service.ledger),
            }
            for service in self._services
        ]
        alive = None
        if self._settings.alive_url is not None:
            alive = {"state": self._alive.state, "words": self._alive.words}
        return {"services": services, "alive": alive}

    # ---------------------------------------------------------------------------------- the thread

    def _run(self) -> None:
        for number, (service, url) in enumerate(zip(self._services, self._settings.urls, strict=True), 1):
            # Here, where nobody waits for it: the library first loads all the services that it knows.
            try:
                service.messenger = Messenger(url, number)
            except ConfigError as error:
                service.state, service.words = "not understood", str(error)
                log.error("%s", error)
        while not self._stop.is_set():
            try:
                self._turn()
            except Exception as error:  # the thread outlives everything, and its words may hold a secret
                log.error("messages: %s", type(error).__name__)
            self._stop.wait(self._look)
        for service in self._services:
            service.state = "stopped"

    def _turn(self) -> None:
        self._follow()
        self._save()
        for service in sorted(self._services, key=lambda service: service.failures):  # who takes them waits for nobody
            while not self._stop.is_set() and time.monotonic() >= service.next_at and self._tell(service):
                pass
        self._tell_watcher()

    def _follow(self) -> None:
        """Fold what is new in the journal into each ledger; where it does not store, what the banks' states show."""
        try:
            with JournalReader(self._journal.path) as reader:
                for service in self._services:
                    if service.messenger is not None:
                        self._catch_up(reader, service, service.messenger.id)
        except (JournalError, sqlite3.Error) as error:
            log.debug("messages: the journal cannot be read: %s", type(error).__name__)
        if self._journal.degraded:
            # After the journal: what that knows may be older than the states, never newer.
            states = self._states()
            for service in self._services:
                if service.ledger is not None:
                    service.ledger = notices.seen(service.ledger, states)

    def _catch_up(self, reader: JournalReader, service: _Service, key: str) -> None:
        newest = reader.newest("event")
        if service.ledger is None:
            kept = json.loads(reader.position(NAME) or "{}").get(key)
            if kept is None:
                states = [state for bank in self._cabin.banks if (state := reader.latest_state(bank)) is not None]
                service.ledger = notices.begun(newest, states, self._now(), self._settings)
            else:
                service.ledger = notices.only_of(notices.from_plain(kept), self._cabin.banks)
        if newest < service.ledger.row:  # another journal than the one this was read from
            service.ledger = service.ledger._replace(row=0)
        while service.ledger.row < newest:
            rows = reader.after("event", service.ledger.row, EVENTS, newest)
            for row in rows:
                if row.bank in self._cabin.banks:
                    service.ledger = notices.folded(service.ledger, row.values)
            service.ledger = service.ledger._replace(row=rows[-1].id if rows else newest)

    def _states(self) -> list[Derived]:
        return [state for bank in self._cabin.banks if (state := self._state(bank)) is not None]

    def _tell(self, service: _Service) -> bool:
        """Tell one service the next thing that is due; whether there may be more to tell it now."""
        if service.messenger is None or service.ledger is None:
            return False
        now = self._now()
        settled = self._trusted() and len(self._states()) == len(self._cabin.banks)
        item = notices.due(service.ledger, self._settings, now, settled)
        if item is None:
            service.state, service.words = "waiting" if _waiting(service.ledger) else "up to date", ""
            return False
        text = self._text(item, notices.again(service.ledger, item))
        if text:
            subject = f"{self._cabin.site} {item.bank}: {item.flag.name}"
            answer = service.messenger.send(
                text, subject if item.bank else f"{self._cabin.site}: chores", item.kind == "trip"
            )
            if not answer.taken:
                self._failed(service, answer.words)
                return False
            service.told += 1
            if service.failures:
                log.warning("messages: %s takes them again", service.scheme)
            service.state, service.words, service.failures = "up to date", "", 0
        service.ledger = notices.told(service.ledger, item, now)
        self._store()
        return True

    def _failed(self, service: _Service, words: str) -> None:
        if not service.failures:
            log.warning("messages: %s does not take them: %s", service.scheme, words)
        service.state, service.words = "waiting", words
        service.next_at = time.monotonic() + min(LONGEST_PAUSE, self._first_pause * 2.0 ** min(service.failures, 10))
        service.failures += 1

    def _text(self, item: Item, again: bool) -> str:
        """Put it in one line, as the bank is now; empty for a digest of nothing."""
        if item.kind == "digest":
            text = notice.chores(self._cabin.site, {state.bank: state for state in self._states()}, self._scale)
        else:
            state = self._state(item.bank)
            flags = () if state is None or item.over else state.flags
            up = next((flag for flag in flags if flag.name == item.flag.name), None)
            where = f"{self._cabin.site} {item.bank}"
            if item.kind == "trip":
                text = notice.trip(where, item.flag, up, again, item.over, self._scale)
            else:
                text = notice.permit(where, item.flag, up, item.over, self._scale)
        link = page_address.link(self._cabin.page) if self._cabin.page is not None else ""
        return f"{text} {link}".rstrip() if text else ""

    # ------------------------------------------------------------------------------- what is kept

    def _position(self) -> str:
        ledgers = {
            service.messenger.id: notices.plain(service.ledger)
            for service in self._services
            if service.messenger is not None and service.ledger is not None
        }
        return json.dumps(ledgers)

    def _save(self) -> None:
        """Keep what changed with the next commit; a row alone is not worth one: what led up to it says nothing new."""
        without_rows = json.dumps(
            [service.ledger._replace(row=0) for service in self._services if service.ledger is not None]
        )
        if without_rows != self._kept:
            self._kept = without_rows
            self._journal.advance(NAME, self._position())

    def _store(self) -> None:
        """Keep it now, and wait until it is kept: nothing else is sent before."""
        position = self._position()
        self._journal.advance(NAME, position, at_once=True)
        limit = time.monotonic() + STORED_WITHIN
        try:
            with JournalReader(self._journal.path) as reader:
                while reader.position(NAME) != position and time.monotonic() < limit:
                    # A journal that is being closed stores what it was told; one that is degraded stores nothing.
                    if self._journal.degraded or self._stop.wait(STORED_LOOK):
                        return
        except (JournalError, sqlite3.Error) as error:
            log.debug("messages: the journal cannot be read: %s", type(error).__name__)

    # ---------------------------------------------------------------------- whoever watches outside

    def _tell_watcher(self) -> None:
        """Fetch the outside watcher's address while all is well: when it is not fetched, the watcher speaks up."""
        url, alive = self._settings.alive_url, self._alive
        if url is None or time.monotonic() < alive.next_at:
            return
        if not self._well():
            alive.state, alive.words = "withheld", "the bridge is not well"
            return
        words = _fetched(url.get_secret_value())
        if words and alive.state != "not answered":
            log.warning("messages: the address of alive_url: %s", words)
        alive.state, alive.words = ("not answered", words) if words else ("answered", "")
        pause = self._settings.alive_every
        alive.next_at = time.monotonic() + (min(pause, LONGEST_PAUSE) if words else pause)


def _waiting(ledger: Ledger) -> int:
    return len(ledger.waiting) + sum(trip.told_at is None for trip in ledger.trips.values())


def _fetched(url: str) -> str:
    """Fetch it; why that failed, without any part of it."""
    try:
        with urlopen(Request(url, headers={"User-Agent": "revival-bridge"}), timeout=PATIENCE):
            return ""
    except HTTPError as error:
        error.close()
        return f"it answers {error.code}"
    except (OSError, ValueError) as error:
        return f"nothing answers there ({type(error).__name__})"


def try_out(settings: NotifySettings, site: str, found: Sequence[Messenger]) -> list[dict[str, object]]:
    """Send one test message through each service, and fetch the outside watcher's address; what each answered."""
    text = notice.line(f"{site}: {notice.TRY}", "degC")
    told: list[dict[str, object]] = []
    for number, service in enumerate(found, 1):
        answer = service.send(text, f"{site}: test", urgent=False)
        told.append({"what": f"{number}. {service.scheme}", "ok": answer.taken, "words": answer.words or "taken"})
    if settings.alive_url is not None:
        words = _fetched(settings.alive_url.get_secret_value())
        told.append({"what": "alive_url", "ok": not words, "words": words or "answered"})
    return told
