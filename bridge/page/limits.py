"""What one browser, or everybody together, may cost the page: connections, time to send, and guesses at the token."""

from __future__ import annotations

import asyncio
import logging
import resource
import ssl
from collections import Counter, OrderedDict
from ipaddress import IPv6Address, ip_address
from typing import Any, NamedTuple

from uvicorn.protocols.http.h11_impl import H11Protocol

from bridge import clock as time_source

log = logging.getLogger("revival.page")

#: Connections at once: of everybody, and of one address. A browser opens six, and an open page keeps one.
CONNECTIONS, OF_ONE = 128, 64
#: Accepted in one go before the first of them is counted: with it the descriptors of the page have an end as well.
ACCEPTED_AT_ONCE = 32
#: Descriptors that the page leaves to the broker's sessions, the guards, the journal and its readers.
RESERVE = 200
#: A request is whole after so long, and an answer is taken without a stop as long as this [s].
SEND_WITHIN, TAKE_WITHIN = 10.0, 30.0
#: So many wrong tokens within a minute from one address, and nothing is taken from there for a minute; each time it
#: happens again, for twice as long, up to an hour [1], [s].
GUESSES, MINUTE, LONGEST_LOCK = 10, 60.0, 3600.0
#: Addresses remembered for their guesses.
ADDRESSES = 1000


def most_connections() -> int:
    """Return how many connections the page takes, so that the reserve is left of what this process may open."""
    allowed, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    if allowed == resource.RLIM_INFINITY:
        return CONNECTIONS
    return max(8, min(CONNECTIONS, allowed - RESERVE - ACCEPTED_AT_ONCE))


class Doors:
    """A count of the connections that stand; it says once when some are turned away."""

    def __init__(self) -> None:
        self.most = most_connections()
        self.standing: Counter[str] = Counter()
        self.shed = 0
        self._full = False

    def enter(self, address: str) -> bool:
        """Tell whether one more is taken from this address."""
        total = self.standing.total()
        if total >= self.most or self.standing[address] >= OF_ONE:
            self.shed += 1
            if not self._full:
                self._full = True
                log.warning("page: %d connections, %d of them from %s: more are turned away",
                            total, self.standing[address], address)  # fmt: skip
            return False
        self.standing[address] += 1
        return True

    def leave(self, address: str) -> None:
        """Take note that one is gone."""
        self.standing[address] -= 1
        if self.standing[address] <= 0:
            del self.standing[address]
        if self._full and self.standing.total() < self.most // 2:
            self._full = False
            log.info("page: room again; %d connections were turned away", self.shed)


class Guarded(H11Protocol):
    """One connection, limited in the time of a request and of an answer.

    Encryption is begun in here, not by the server: who only opens a connection and never shakes hands is counted too.
    """

    doors: Doors
    tls: ssl.SSLContext | None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # TCP is served
        """Count it, and begin to shake hands where the page is encrypted."""
        peer = transport.get_extra_info("peername")
        self._address = str(peer[0]) if peer else ""
        self._timer: asyncio.TimerHandle | None = None
        self._stalled: asyncio.TimerHandle | None = None
        self._looked_at: Any = None
        self._early: bytes | None = b""
        self._counted = self.doors.enter(self._address)
        if self.tls is not None and self._counted:
            transport.pause_reading()
            self._shaking_hands = self.loop.create_task(self._secure(transport, self.tls))
            return
        self._admitted(transport)
        if not self._counted:
            transport.abort()

    def _admitted(self, transport: asyncio.Transport) -> None:
        early, self._early = self._early, None
        super().connection_made(transport)
        self._timer = self.loop.call_later(SEND_WITHIN, self._look)
        if early:
            super().data_received(early)

    async def _secure(self, plain: asyncio.Transport, tls: ssl.SSLContext) -> None:
        try:
            secured = await self.loop.start_tls(plain, self, tls, server_side=True, ssl_handshake_timeout=SEND_WITHIN)
        except OSError:  # it speaks something else, or trusts nobody, or says nothing
            plain.abort()
            secured = None
        if secured is None or plain.is_closing():
            self._gone()
        else:
            self._admitted(secured)

    def data_received(self, data: bytes) -> None:
        """Take a piece of a request."""
        if self._early is None:
            super().data_received(data)
        else:  # it came together with the end of the handshake
            self._early += data

    def _gone(self) -> None:
        for timer in (self._timer, self._stalled):
            if timer is not None:
                timer.cancel()
        if self._counted:
            self._counted = False
            self.doors.leave(self._address)

    def connection_lost(self, exc: Exception | None) -> None:
        """Take note that it is gone."""
        self._gone()
        if self._early is None:
            super().connection_lost(exc)

    def _look(self) -> None:
        """Close who has not sent a whole request since the last look; who is being answered may stay."""
        cycle = self.cycle
        answering = cycle is not None and not cycle.more_body and not cycle.response_complete
        if answering or (cycle is not None and not cycle.more_body and cycle is not self._looked_at):
            self._looked_at = cycle
            self._timer = self.loop.call_later(SEND_WITHIN, self._look)
        else:
            self.transport.abort()

    def pause_writing(self) -> None:
        """Wait for who takes nothing of its answer, but not for long."""
        super().pause_writing()
        if self._stalled is None:
            self._stalled = self.loop.call_later(TAKE_WITHIN, self.transport.abort)

    def resume_writing(self) -> None:
        """Take note that the answer goes on."""
        super().resume_writing()
        if self._stalled is not None:
            self._stalled.cancel()
            self._stalled = None


def guarded(doors: Doors, tls: ssl.SSLContext | None = None) -> type[Guarded]:
    """Return the server's protocol for these doors; encrypted where there is a certificate."""
    return type("Guarded", (Guarded,), {"doors": doors, "tls": tls})


class _Tries(NamedTuple):
    """Wrong tokens of one address: since when, how many, how often it was locked, and until when [s, monotonic]."""

    since: float
    wrong: int = 0
    locks: int = 0
    until: float = 0.0


class Guesses:
    """Wrong tokens by address. Who guesses is first slowed down and then locked out, with one line for the edge."""

    def __init__(self) -> None:
        self._tries: OrderedDict[str, _Tries] = OrderedDict()

    def locked_for(self, address: str) -> float:
        """Return how long nothing is taken from this address [s]; 0 = not locked."""
        tries = self._tries.get(_home(address))
        return 0.0 if tries is None else max(0.0, tries.until - time_source.monotonic())

    def wrong(self, address: str) -> None:
        """Count a wrong token; lock the address when it was one too many."""
        home, now = _home(address), time_source.monotonic()
        tries = self._tries.pop(home, _Tries(now))
        if now - tries.since > MINUTE:
            tries = tries._replace(since=now, wrong=0)
        tries = tries._replace(wrong=tries.wrong + 1)
        if tries.wrong >= GUESSES:
            lock = min(LONGEST_LOCK, MINUTE * 2.0**tries.locks)
            tries = _Tries(now, 0, tries.locks + 1, now + lock)
            log.warning("page: %d wrong tokens from %s: nothing is taken from there for %.0f s", GUESSES, home, lock)
        self._tries[home] = tries
        if len(self._tries) > ADDRESSES:
            self._tries.popitem(last=False)


def _home(address: str) -> str:
    """Return an address, or its network of 64 bits: under IPv6 one host has as many addresses as it likes.

    Examples
    --------
    >>> _home("192.0.2.7"), _home("2001:db8::7")
    ('192.0.2.7', '2001:db8::/64')
    """
    try:
        known = ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(known, IPv6Address) and known.ipv4_mapped is None:
        return f"{IPv6Address(int(known) >> 64 << 64)}/64"
    return address
