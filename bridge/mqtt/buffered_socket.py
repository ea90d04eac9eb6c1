"""A socket that reads and writes in large pieces, for a library that asks for a byte at a time.

The MQTT client reads each packet in three calls and writes each acknowledgement in one. Every one of them is a system
call that lets go of the interpreter's lock and has to win it back from a busy engine: measured, that is more than half
of what a message costs.
"""

from __future__ import annotations

import contextlib
import ssl
from typing import Any

from paho.mqtt.client import Client

PIECE = 65536  #: read at once [bytes]


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

    def _create_socket(self) -> Any:  # the only seam there is; a test looks that it is still used
        return Buffered(super()._create_socket())
