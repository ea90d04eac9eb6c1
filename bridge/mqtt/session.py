"""One supervised connection to the broker, in its own thread: connect, run the network loop, wait, connect again.

A fresh client object serves each connection, so nothing half-sent survives into the next one; its callbacks only copy.
The loop is ours because the library's own waits as long for a session that is knocked off every second as for a broker
that is down, and its thread dies of a callback's exception while still calling itself connected.
Sessions are timed by the host's monotonic clock: the bridge's own clock may run fast in the demo, a network never does.
"""

from __future__ import annotations

import contextlib
import logging
import random
import select
import socket
import threading
import time
from collections.abc import Callable
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from bridge.mqtt.buffered_socket import Buffered, BufferedClient
from bridge.mqtt.client import Will, acknowledge_at_once, make_client, open_connection, set_will
from bridge.mqtt.refusals import QOS_REFUSED, REFUSALS, RETAIN_REFUSED, TAKEN_OVER, describe, tls_context
from bridge.settings import BrokerSettings

log = logging.getLogger("revival.bus")

SHORT_LIVED = 30.0  #: a session shorter than this [s] makes the next wait longer
#: Waits before the next attempt [s]; shortened at random by up to half, so that many do not return at once.
FIRST_WAIT, SUSPECT_WAIT, REFUSED_WAIT, LONGEST_WAIT = 1.0, 10.0, 30.0, 60.0
BURST = 50  #: packets read in a row before anything is written
PACKET_BITS = 16  #: of a packet's number (OASIS MQTT 5.0, 2.2.1); the connection's own number stands above them
UNSPECIFIED = 0x80  #: what the library calls a connection closed without a reason
DISCONNECT_WITH_WILL = 0x04


class Session:
    """A connection that is always being kept up.

    Parameters
    ----------
    persistent : int
        How long the broker keeps the session while we are away [s]; 0 starts clean every time.
    linger : int
        Session expiry of a clean session [s]; a delayed will needs one.
    opened, closed : callable
        ``opened(session, present)`` and ``closed(reason)``, called in the session's thread.
    received : callable
        The library's ``on_message(client, userdata, message)``.
    acknowledged : callable
        ``acknowledged(number, reason code)`` for what we published; may not take a lock that is held while publishing.
    """

    def __init__(
        self,
        settings: BrokerSettings,
        client_id: str,
        *,
        persistent: int = 0,
        linger: int = 0,
        will: Will | None = None,
        opened: Callable[[Session, bool], object] = lambda session, present: None,
        closed: Callable[[str], None] = lambda reason: None,
        received: Callable[[Client, Any, Any], None] | None = None,
        acknowledged: Callable[[int, int], None] = lambda mid, code: None,
        answered: Callable[[int, list[int]], None] = lambda mid, codes: None,
    ) -> None:
        self.settings, self.client_id, self.will = settings, client_id, will
        self.persistent, self.linger = persistent, linger
        self.opened, self.closed, self.received = opened, closed, received
        self.acknowledged, self.answered = acknowledged, answered
        self.clean_once = False  #: forget once what the broker kept for this identifier
        self.generation = 0  #: counts connections: an acknowledgement may never reach the wrong one
        self.retain_available, self.maximum_qos, self.maximum_packet = True, 2, 0
        self.reason = "not tried yet"  #: why it is down; empty while it is up
        self.failure = ""  #: how the last attempt ended
        self.link: tuple[Client, int] | None = None  #: the open connection and its generation, as one value
        self._client: Client | None = None
        self._five = settings.protocol == "5"
        self._context = tls_context(settings) if settings.tls else None
        self._refusal, self._slow, self._wordless, self._opened_at = "", False, False, 0.0
        self._awake = self._holding = self._back_at_once = False
        self._stopping = threading.Event()
        self._wake_end, self._wake = socket.socketpair()
        for end in (self._wake_end, self._wake):
            end.setblocking(False)
        self.thread = threading.Thread(target=self._run, name=client_id, daemon=True)

    # ------------------------------------------------------------------------------ other threads

    @property
    def connected(self) -> bool:
        """The broker has accepted us and the connection stands."""
        return self.link is not None

    def start(self) -> None:
        """Begin; never waits for the broker."""
        self.thread.start()

    def publish(
        self, topic: str, payload: bytes, qos: int = 1, retain: bool = False, expiry: int | None = None
    ) -> int | None:
        """Hand to the connection; the packet's number (unique over connections), or ``None`` without a connection.

        What is not delivered within `expiry` [s] is thrown away by the broker; only MQTT 5 can say so.
        """
        link = self.link
        if link is None:
            return None
        client, generation = link
        properties = None
        if expiry is not None and self._five:
            properties = Properties(PacketTypes.PUBLISH)
            properties.MessageExpiryInterval = expiry
        retain = retain and self.retain_available
        mid = client.publish(topic, payload, min(qos, self.maximum_qos), retain, properties).mid
        self.wake()
        return generation << PACKET_BITS | mid

    def number(self, mid: int) -> int:
        """Return a packet number that is unique over connections."""
        return self.generation << PACKET_BITS | mid

    def ack(self, number: int, qos: int) -> None:
        """Acknowledge a received message, unless its connection is gone: then the broker sends it again anyway."""
        link = self.link
        if link is not None and number >> PACKET_BITS == link[1]:
            link[0].ack(number & 0xFFFF, qos)
            self.wake()

    def hold(self, holding: bool) -> None:
        """Read nothing for a while, so that what comes waits in the broker; its keep-alive limits how long."""
        if holding != self._holding:
            self._holding = holding
            self.wake()

    def wake(self) -> None:
        """Say that there is something to write; call it after the packet is queued."""
        if not self._awake:
            self._awake = True
            with contextlib.suppress(OSError):
                self._wake.send(b"w")

    def drop(self, why: str = "", *, back_at_once: bool = False) -> None:
        """Break the connection as a pulled cable would: no goodbye, so the broker publishes the will."""
        self._back_at_once = back_at_once
        self._refusal = self._refusal or why
        client = self._client
        held: Any = client.socket() if client is not None else None
        if held is not None:
            with contextlib.suppress(OSError):
                held.shutdown(socket.SHUT_RDWR)

    def stop(self, timeout: float = 2.0, with_will: bool = False) -> None:
        """Say goodbye (or ask for the will) and end the thread."""
        self._stopping.set()
        client = self._client
        if client is not None:
            if not with_will:
                client.disconnect()
            elif self._five:
                client.disconnect(ReasonCode(PacketTypes.DISCONNECT, identifier=DISCONNECT_WITH_WILL))
            else:
                self.drop()
        self.wake()
        if self.thread.ident is not None:
            self.thread.join(timeout)
            if self.thread.is_alive():
                self.drop()
                self.thread.join(1.0)
        if not self.thread.is_alive():
            for end in (self._wake_end, self._wake):
                end.close()

    # ------------------------------------------------------------------------------- own thread

    def _run(self) -> None:
        wait, said, cut_short = 0.0, "", 0
        while not self._stopping.is_set():
            reason = self._once()
            if self._stopping.is_set():
                return
            opened = bool(self._opened_at)
            least = REFUSED_WAIT if self._slow else FIRST_WAIT
            if opened and time.monotonic() - self._opened_at >= SHORT_LIVED:
                wait, cut_short = FIRST_WAIT, 0
            else:
                # not every broker says that somebody else took the session: twice cut short without a word is named
                cut_short = cut_short + 1 if opened and self._wordless else 0
                if cut_short > 1:
                    reason, least = f"{reason}; again so soon: {REFUSALS[TAKEN_OVER]}?", SUSPECT_WAIT
                wait = min(max(2 * wait, least), LONGEST_WAIT)
            self.reason = self.failure = reason
            if opened or reason != said:
                log.warning("%s: %s; trying again as %s", self._where, reason, self.client_id)
            said = reason
            if opened:
                self.closed(reason)
            if not self._back_at_once:
                self._stopping.wait(wait * random.uniform(0.5, 1.0))
            self._back_at_once = False

    def _once(self) -> str:
        """Run one connection from start to end; return why it ended."""
        self._refusal, self._slow, self._wordless, self._opened_at = "", False, False, 0.0
        client = self._make()
        self.generation += 1
        self._client = client
        try:
            open_connection(client, self.settings, clean=self._clean(), expiry=self.persistent or self.linger)
            self._loop(client)
        except OSError as error:
            self._refusal, self._slow = describe(error, self.settings)
        except Exception:  # a defect must not silence the bus for good: it is logged, and the session starts again
            log.exception("%s: unexpected", self.client_id)
            self._refusal = "an unexpected error, see above"
        finally:
            self.link = self._client = None
            held = client.socket()
            if held is not None:
                held.close()
        return self._refusal or "connection closed"

    def _loop(self, client: BufferedClient) -> None:
        poll = select.poll()
        poll.register(self._wake_end, select.POLLIN)
        watched: Any = None
        next_check, unsent = 0.0, False
        while (held := client.socket()) is not None:
            reading, writing = not self._holding, unsent or client.want_write()
            if (held, reading, writing) != watched:
                poll.register(held, reading * select.POLLIN | writing * select.POLLOUT)
                watched = (held, reading, writing)
            wake_number = self._wake_end.fileno()
            for number, _ in poll.poll(0 if reading and held.pending() else 500):
                if number == wake_number:
                    with contextlib.suppress(BlockingIOError):
                        self._wake_end.recv(4096)
                    self._awake = False  # before the queue is looked at: what comes later wakes again
                else:
                    self._read(client, held)
            if reading and held.open and held.pending():
                self._read(client, held)
            if client.want_write():
                client.loop_write()
            unsent = held.open and held.flush()
            moment = time.monotonic()
            if moment >= next_check:
                next_check = moment + 0.5
                client.loop_misc()

    def _read(self, client: BufferedClient, held: Buffered) -> None:
        """Read what has come, at most so much that writing need not wait for long."""
        for _ in range(BURST):
            client.loop_read()
            if not held.pending():
                break
        acknowledge_at_once(client.socket())

    def _clean(self) -> bool:
        return self.clean_once or not self.persistent

    def _make(self) -> BufferedClient:
        client = make_client(
            self.settings,
            self.client_id,
            clean=self._clean(),
            manual_ack=self.persistent > 0,
            context=self._context,
        )
        if self.will is not None:
            set_will(client, self.will, self._five, retain=self.retain_available, qos=self.maximum_qos)
        client.on_socket_register_write = lambda *_: self.wake()
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_message = self.received
        client.on_publish = lambda _client, _data, mid, code, _properties: self.acknowledged(
            self.number(mid), code.value
        )
        client.on_subscribe = lambda _client, _data, mid, codes, _properties: self.answered(
            mid, [code.value for code in codes]
        )
        return client

    def _on_connect(
        self, client: Client, userdata: Any, flags: ConnectFlags, code: ReasonCode, properties: Properties | None
    ) -> None:
        if code.is_failure:
            self._refusal = f"the broker refuses: {REFUSALS.get(code.value, str(code))}"
            self._slow = code.value in REFUSALS
            if code.value == RETAIN_REFUSED:
                self.retain_available, self._refusal = False, "the broker keeps nothing retained: going on without"
            elif code.value == QOS_REFUSED:
                self.maximum_qos, self._refusal = 0, "the broker has only QoS 0: going on with that"
            return
        self._read_limits(properties)
        if self._stopping.is_set():
            client.disconnect()
            return
        if self.clean_once and not self._five:  # under 3.1.1 a clean session is not kept: connect again for one that is
            self.clean_once = False
            client.disconnect()
            return
        self.clean_once = False
        self._opened_at = time.monotonic()
        self.link = (client, self.generation)
        self.reason = self.failure = ""
        log.info("%s: connected as %s", self._where, self.client_id)
        self.opened(self, flags.session_present)

    @property
    def _where(self) -> str:
        """The broker in a line of the log."""
        return f"broker {self.settings.host}:{self.settings.port}"

    def _read_limits(self, properties: Properties | None) -> None:
        retain = bool(getattr(properties, "RetainAvailable", 1))
        qos = int(getattr(properties, "MaximumQoS", 2))
        packet = int(getattr(properties, "MaximumPacketSize", 0))
        if (retain, qos) != (self.retain_available, self.maximum_qos) and (not retain or qos < 1):
            log.warning(
                "%s: the broker %s", self.client_id, "keeps nothing retained" if not retain else "has only QoS 0"
            )
        self.retain_available, self.maximum_qos, self.maximum_packet = retain, qos, packet

    def _on_disconnect(
        self, client: Client, userdata: Any, flags: DisconnectFlags, code: ReasonCode, properties: Properties | None
    ) -> None:
        if not self._refusal:
            told = "connection lost" if code.value == UNSPECIFIED else f"connection lost ({code})"
            self._refusal = REFUSALS.get(code.value) or told
            self._slow = code.value == TAKEN_OVER
            self._wordless = code.value == UNSPECIFIED
