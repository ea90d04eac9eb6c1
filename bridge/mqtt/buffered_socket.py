"""A socket that reads and writes in large pieces, for a library that asks for a byte at a time.

The MQTT client reads each packet in three calls and writes each acknowledgement in one. Every one of them is a system
call that lets go of the interpreter's lock and has to win it back from a busy engine: measured, that is more than half
of what a message costs.

Half of the rest is what the library prepares for each message and nobody here asks for: properties, filters by topic,
a lock. So the one packet that comes by the thousand, a message of QoS 0 or 1 that lies whole in what was read, is taken
apart here (`published`); every other, and whatever is out of the ordinary, the library reads.
"""

from __future__ import annotations

import contextlib
import ssl
from typing import Any, NamedTuple

from paho.mqtt.client import Client

PIECE = 65536  #: read at once [bytes]
#: First byte of a message's packet: its kind in the upper half, then sent before, QoS 2 or the forbidden 3, QoS 1, kept
#: (OASIS MQTT 5.0, 3.3.1; the same in 3.1.1).
KIND, PUBLISH, DUP, QOS_2, QOS_1, RETAIN = 0xF0, 0x30, 0x08, 0x04, 0x02, 0x01
#: A length is written in groups of seven bits, in at most four bytes of which all but the last have this bit
#: (OASIS MQTT 5.0, 1.5.5).
GOES_ON, LONGEST_LENGTH = 0x80, 4


class Published(NamedTuple):
    """A message as it came: `mid` is its number for the acknowledgement, 0 with QoS 0."""

    topic: str
    payload: bytes
    qos: int
    retain: bool
    dup: bool
    mid: int


def published(data: bytes, at: int, five: bool) -> tuple[Published, int] | None:
    r"""Return the message whose packet begins at this place, and where the packet ends.

    Parameters
    ----------
    data : bytes
        As read from the broker.
    at : int
        Where a packet begins in it [bytes].
    five : bool
        MQTT 5: properties stand before the payload, and are passed over.

    Returns
    -------
    tuple or None
        None where the packet is none of a message of QoS 0 or 1, is not whole, or has anything strange about it.

    Examples
    --------
    >>> published(b"\x32\x09\x00\x03a/b\x00\x0726", 0, five=False)
    (Published(topic='a/b', payload=b'26', qos=1, retain=False, dup=False, mid=7), 11)
    """
    if len(data) - at <= 1 or data[at] & KIND != PUBLISH or data[at] & QOS_2:
        return None
    header = data[at]
    length, start = _length(data, at + 1)
    end = start + length
    if length <= 1 or end > len(data):
        return None
    topic_ends = start + 2 + (data[start] << 8 | data[start + 1])
    begins = topic_ends + (header & QOS_1)  # QoS 1 has a number of two bytes
    if five:
        properties, begins = _length(data, begins)
        begins = begins + properties if properties >= 0 else end + 1
    mid = data[topic_ends] << 8 | data[topic_ends + 1] if header & QOS_1 and begins <= end else 0
    if begins > end or topic_ends == start + 2 or (header & QOS_1 and not mid):
        return None
    try:
        topic = data[start + 2 : topic_ends].decode()
    except UnicodeDecodeError:
        return None
    qos, retain, dup = (header & QOS_1) >> 1, bool(header & RETAIN), bool(header & DUP)
    return Published(topic, data[begins:end], qos, retain, dup, mid), end


def _length(data: bytes, at: int) -> tuple[int, int]:
    """Return a length and where it ends; -1 where it is not whole or too long."""
    value = shift = 0
    for place in range(at, min(at + LONGEST_LENGTH, len(data))):
        byte = data[place]
        value |= (byte & ~GOES_ON) << shift
        if byte < GOES_ON:
            return value, place + 1
        shift += 7
    return -1, at


class Buffered:
    """Like the connected, non-blocking socket (or TLS socket) inside it; `flush` sends what `send` has collected."""

    def __init__(self, inner: Any) -> None:
        self._inner = inner
        self._read = b""
        self._at = 0
        self._unsent = bytearray()
        self.open = True
        self.fileno = inner.fileno
        self.setsockopt = inner.setsockopt
        self.setblocking = inner.setblocking
        self.shutdown = inner.shutdown

    def recv(self, size: int) -> bytes:
        """Return up to `size` bytes; asks the system only when nothing is left of the last piece."""
        at = self._at
        if at == len(self._read):
            self._read, at = self._inner.recv(PIECE), 0
        self._at = end = min(at + size, len(self._read))
        return self._read[at:end]

    def published(self, five: bool) -> Published | None:
        """Take the message that comes next, where its packet lies whole in what was read, else leave it to `recv`."""
        found = published(self._read, self._at, five)
        if found is None:
            return None
        message, self._at = found
        return message

    def pending(self) -> bool:
        """Tell whether more can be read without the system being asked, so that polling would not tell."""
        inner = getattr(self._inner, "pending", None)
        return self._at < len(self._read) or bool(inner is not None and inner())

    def send(self, data: bytes | bytearray) -> int:
        """Collect for the next `flush`; takes everything."""
        self._unsent += data
        return len(data)

    def flush(self) -> bool:
        """Send as much as the system takes now; whether something is left.

        Raises
        ------
        OSError
            The connection is gone.
        """
        while self._unsent:
            try:
                del self._unsent[: self._inner.send(self._unsent)]
            except (BlockingIOError, ssl.SSLWantReadError, ssl.SSLWantWriteError):
                return True
        return False

    def close(self) -> None:
        """Send what still can be sent, a goodbye at least, and close."""
        with contextlib.suppress(OSError, ValueError):
            self.flush()
        self.open = False
        self._inner.close()


class BufferedClient(Client):
    """The library's client on a buffered socket; whoever turns its loop calls `flush` on `socket()` after writing."""

    def socket(self) -> Buffered | None:
        """Return the open socket, if any."""
        return super().socket()  # type: ignore[return-value]  # the library returns what it was given: ours

    @property
    def midway(self) -> bool:
        """The library has read a packet in part and waits for the rest of it."""
        return bool(self._in_packet["command"])

    def _create_socket(self) -> Any:  # the only seam there is; tests look that these two are still so
        return Buffered(super()._create_socket())
