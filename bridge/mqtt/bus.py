"""The broker sessions: `live` starts clean, `history` is kept by the broker and acknowledged after the commit.

Callbacks copy topic, payload, flags and arrival time into the mailbox and return; everything else happens elsewhere.
"""

from __future__ import annotations

import hashlib
import logging
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

from paho.mqtt.client import Client
from paho.mqtt.subscribeoptions import SubscribeOptions

from bridge.errors import CannotReachError
from bridge.mailbox import Mailbox, SessionChange
from bridge.message import Message
from bridge.mqtt.client import LARGEST_PACKET, Will
from bridge.mqtt.outgoing import Outgoing, Waiting
from bridge.mqtt.refusals import FAILURE
from bridge.mqtt.session import Session
from bridge.settings import BrokerSettings

log = logging.getLogger("revival.bus")

HISTORY_KEPT = 7 * 86400  #: how long the broker keeps the history session while we are away [s]
WILL_DELAY = 10  #: the tree is called lost only after this [s]; a short reconnect does not flap (needs MQTT 5)
LINGER = 30  #: session expiry of the live session [s]: a delayed will needs a session that outlives it
STUCK = 8.0  #: the watch has not turned for so long [s]: the process is not well
SUBSCRIBE_AT_ONCE = 50
#: After so many new connections without a heartbeat it is said once.
SAID_AT = 2


def filters_hash(topics: Iterable[str]) -> str:
    """Return the fingerprint of a subscription list: a kept session has filters that the cabin file no longer has."""
    return hashlib.sha256("\n".join(sorted(set(topics))).encode()).hexdigest()[:16]


class Subscriptions(NamedTuple):
    """What the bus listens to, and what the broker says should it fall silent.

    Attributes
    ----------
    live, history, commands : tuple of str
        Topics without and with a time of their own, and those on which people act.
    will_topic : str or None
        Where the broker says ``lost`` for us.
    known_filters : str or None
        `filters` of the previous run; where they differ the broker forgets the old session once.
    """

    live: tuple[str, ...] = ()
    history: tuple[str, ...] = ()
    commands: tuple[str, ...] = ()
    will_topic: str | None = None
    known_filters: str | None = None

    @property
    def filters(self) -> str:
        """To be remembered for the next run's `known_filters`."""
        return filters_hash(self.history)


NOTHING = Subscriptions()


class Bus:
    """Both sessions and everything published on the live one.

    Parameters
    ----------
    now : callable
        The bridge's clock [s since the epoch]: stamps every arrival.
    client_id_base : str
        Fixed from run to run, different for two bridges on one broker.

    Attributes
    ----------
    subscriptions : Subscriptions
        As given to `start`.
    outgoing : Outgoing
        What is published; counts what was refused or dropped.
    """

    def __init__(
        self, settings: BrokerSettings, mailbox: Mailbox, now: Callable[[], float], client_id_base: str
    ) -> None:
        self.settings, self.mailbox, self.now, self.base = settings, mailbox, now, client_id_base
        self.subscriptions = Subscriptions()
        self.heartbeat_topic = f"revival/{client_id_base}/heartbeat"
        self.live = Session(
            settings,
            f"{client_id_base}-live",
            linger=LINGER,
            opened=self._live_opened,
            closed=lambda reason: self._closed("live", reason),
            answered=lambda mid, codes: self._suback("live", mid, codes),
        )
        self.live.received = self._receiver(self.live, "live")
        self.outgoing = Outgoing(self.live)
        self.live.acknowledged = self.outgoing.acknowledged
        self.history: Session | None = None
        self._shed: frozenset[str] = frozenset()
        self._asked: dict[str, dict[int, Sequence[str]]] = {}  # by session: its open questions, since it is connected
        self._heard = self._beaten = self._watched = time.monotonic()
        self._silences = 0  # limits that passed since a heartbeat came back
        self._stopping = threading.Event()
        self._watch = threading.Thread(target=self._watch_loop, name=f"{client_id_base}-watch", daemon=True)

    # --------------------------------------------------------------------------------- for the engine

    @property
    def connected(self) -> bool:
        """The live session is up."""
        return self.live.connected

    @property
    def subscribed(self) -> bool:
        """Connected, and the broker has answered every subscription asked for."""
        return all(self._asked.get(name) == {} for name in ("live", "history") if name == "live" or self.history)

    def start(self, subscriptions: Subscriptions = NOTHING) -> None:
        """Begin to connect; a broker that is down is retried for ever and never an error here."""
        self.subscriptions = subscriptions
        if subscriptions.will_topic:
            self.live.will = Will(subscriptions.will_topic, b"lost", retain=True, delay=WILL_DELAY)
        if subscriptions.history:
            self.history = Session(
                self.settings,
                f"{self.base}-history",
                persistent=HISTORY_KEPT,
                opened=self._history_opened,
                closed=lambda reason: self._closed("history", reason),
                answered=lambda mid, codes: self._suback("history", mid, codes),
            )
            self.history.received = self._receiver(self.history, "history")
            self.history.clean_once = subscriptions.known_filters not in (None, subscriptions.filters)
            self.history.start()
        self.live.start()
        self._watch.start()

    def publish(self, topic: str, payload: bytes | str, retain: bool = True, qos: int = 1) -> None:
        """Publish on the live session; never waits.

        Without a connection, or with a full window, the last value of each retained topic waits and is sent once;
        what is not retained would arrive stale and is dropped and counted.
        """
        data = payload.encode() if isinstance(payload, str) else payload
        self.outgoing.publish(topic, Waiting(data, qos, retain))

    def ack(self, message: Message) -> None:
        """Acknowledge a `history` message, after it is journaled or counted as lost."""
        if self.history is not None and message.qos:
            self.history.ack(message.mid, message.qos)

    def hold(self, holding: bool) -> None:
        """Take no more `history` messages for now; the live session, on which safety rests, goes on."""
        if self.history is not None:
            self.history.hold(holding)

    def shed(self, topics: frozenset[str]) -> None:
        """Listen to none of these live topics; a longer list takes effect on a new connection, without what is queued.

        The old connection's queue in the broker is gone with it, and with it everything that waited behind the flood.
        """
        more, again = topics - self._shed, self._shed - topics
        self._shed = topics
        if more:
            self.live.drop("a topic that floods is left out", back_at_once=True)
        elif again and self.live.connected:
            self._asked.setdefault("live", {}).update(self._subscribe(self.live, sorted(again), no_local=True))

    def healthy(self) -> bool:
        """Tell whether the threads live and turn; when not, the process is to end and be started again.

        A broker that is down is not unhealthy. Networks are timed by the host's own clock.
        """
        sessions = [session for session in (self.live, self.history) if session is not None]
        return all(one.thread.is_alive() for one in sessions) and time.monotonic() - self._watched < STUCK

    def status(self) -> dict[str, object]:
        """Return how the sessions are, for `revival status`."""
        sessions = {"live": self.live} | ({"history": self.history} if self.history else {})
        return {
            "sessions": {
                name: {"connected": one.connected, "reason": one.reason, "connections": one.generation}
                for name, one in sessions.items()
            },
            "waiting": self.outgoing.outstanding,
            "refused": dict(self.outgoing.refused),
            "dropped": dict(self.outgoing.dropped),
        }

    def flush(self, timeout: float) -> bool:
        """Wait until the broker has acknowledged everything published, at most `timeout` [s]."""
        return self.outgoing.flush(timeout)

    def stop(self, timeout: float = 2.0) -> bool:
        """Publish what is left (at most `timeout` [s]), say goodbye; whether everything was acknowledged."""
        done = self.flush(timeout)
        self._stopping.set()
        self.outgoing.stir.set()
        for session in (self.live, self.history):
            if session is not None:
                session.stop()
        self._watch.join(1.0)
        return done

    # ------------------------------------------------------------------------- callbacks: only copy

    def _receiver(self, session: Session, name: str) -> Callable[[Client, Any, Any], None]:
        put, now, heartbeat, dropped = self.mailbox.put, self.now, self.heartbeat_topic, self.mailbox.dropped
        live = name == "live"

        def receive(client: Client, userdata: Any, message: Any) -> None:
            try:
                topic = message.topic
            except UnicodeDecodeError:
                topic = "(topic is not UTF-8)"
            if live and topic == heartbeat:
                self._heard, self._silences = time.monotonic(), 0
                return
            number = message.mid if live else session.number(message.mid)
            copied = Message(topic, message.payload, now(), message.retain, name, number, message.qos, message.dup)
            if len(copied.payload) > LARGEST_PACKET:
                dropped[topic] += 1
            elif put(copied):
                return
            if not live:
                self.ack(copied)  # dropped and counted: withholding it would stop the whole session

        return receive

    def _suback(self, name: str, mid: int, codes: list[int]) -> None:
        for topic, code in zip(self._asked.get(name, {}).pop(mid, []), codes, strict=False):
            if code >= FAILURE:
                self.outgoing.refuse(topic, f"subscription refused (0x{code:02X})")

    def _live_opened(self, session: Session, present: bool) -> None:
        self._heard = time.monotonic()
        self._beaten = 0.0
        heard = [topic for topic in self.subscriptions.live if topic not in self._shed]
        asked = self._subscribe(session, heard, no_local=True)
        # commands keep the publisher's retain flag, so that a retained one is seen as such; our own come back too
        asked |= self._subscribe(session, [*self.subscriptions.commands, self.heartbeat_topic], as_published=True)
        self._asked["live"] = asked
        self.mailbox.put(SessionChange("live", True, present))
        self.outgoing.stir.set()

    def _history_opened(self, session: Session, present: bool) -> None:
        wanted = self.subscriptions
        kept = present and wanted.known_filters == wanted.filters
        self._asked["history"] = {} if kept else self._subscribe(session, wanted.history, no_local=True)
        self.subscriptions = wanted._replace(known_filters=wanted.filters)
        self.mailbox.put(SessionChange("history", True, present))

    def _closed(self, name: str, reason: str) -> None:
        self._asked.pop(name, None)
        self.mailbox.put(SessionChange(name, False, False, reason))
        self.outgoing.stir.set()

    def _subscribe(
        self, session: Session, topics: Sequence[str], *, no_local: bool = False, as_published: bool = False
    ) -> dict[int, Sequence[str]]:
        asked: dict[int, Sequence[str]] = {}
        if session.link is None:
            return asked
        client = session.link[0]
        options = SubscribeOptions(qos=1, noLocal=no_local, retainAsPublished=as_published)
        for start in range(0, len(topics), SUBSCRIBE_AT_ONCE):
            some = topics[start : start + SUBSCRIBE_AT_ONCE]
            if self.settings.protocol == "5":
                _, mid = client.subscribe([(topic, options) for topic in some])
            else:
                _, mid = client.subscribe([(topic, 1) for topic in some])
            if mid is not None:
                asked[mid] = some
        return asked

    # ------------------------------------------------------------------------------------- watching

    def _watch_loop(self) -> None:
        limit = float(self.settings.keepalive)
        beat = limit / 3.0  # a heartbeat goes round through the broker this often, and may be missed twice
        while not self._stopping.is_set():
            self.outgoing.stir.wait(0.5)
            self.outgoing.stir.clear()
            moment = self._watched = time.monotonic()
            self.outgoing.pump()
            if not self.live.connected:
                continue
            if moment - self._heard > limit:
                self._heard = moment
                self._silent(limit)
            elif moment - self._beaten >= beat:
                self._beaten = moment
                self.live.publish(self.heartbeat_topic, b"", qos=0)

    def _silent(self, limit: float) -> None:
        """Connect again after no heartbeat for too long; if that does not help, it is no dead connection."""
        self._silences += 1
        if self._silences == 1:
            log.warning("no heartbeat came back for %.0f s", limit)
            for session in (self.live, self.history):
                if session is not None:
                    session.drop("connected but deaf")
        elif self._silences == SAID_AT:
            log.warning(
                "still no heartbeat: does the broker let us write and read %s? Without it a connection that is deaf "
                "is noticed by its keep-alive only",
                self.heartbeat_topic,
            )


def probe(settings: BrokerSettings, client_id: str, timeout: float = 10.0) -> None:
    """Connect once and leave.

    Raises
    ------
    CannotReachError
        With the reason in words: refused, no such host, wrong password, expired certificate ...
    """
    opened = threading.Event()
    session = Session(settings, client_id, opened=lambda _session, _present: opened.set())
    session.start()
    deadline = time.monotonic() + timeout
    while not opened.wait(0.02):
        if session.failure or time.monotonic() > deadline:
            reason = session.failure or f"no answer from {settings.host}:{settings.port} within {timeout:g} s"
            session.stop()
            raise CannotReachError(f"broker: {reason}")
    session.stop()
