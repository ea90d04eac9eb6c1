"""A socket beside the journal, for the commands on this host: one JSON line asks, one JSON line answers.

What may not come over the bus (a bypass; reset and resume under MQTT 3.1.1) comes this way, and needs no broker.
Only the user who runs the bridge may open it.
"""

from __future__ import annotations

import contextlib
import errno
import json
import logging
import os
import queue
import socket
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bridge.errors import CannotReachError
from bridge.intake.request import LONGEST_REQUEST, parse_request
from bridge.mailbox import Asked

log = logging.getLogger("revival.control")

ANSWER_WITHIN = 10.0  #: s
#: Who sends more is answered at once; so much of the rest is thrown away, for who still writes reads no answer [bytes].
MOST_THROWN_AWAY = 64_000_000
MOST_AT_ONCE = 16  #: connections
AGAIN = 10.0  #: a disk that takes no file is tried again so often [s]


def socket_path(journal: Path) -> Path:
    """Return where a running bridge listens."""
    return journal.with_name(journal.name + ".sock")


class Control:
    """A socket that listens, parses, and passes each request on to the engine's own thread.

    Parameters
    ----------
    path : Path
        Of the socket.
    deliver : callable
        Takes what was asked.
    now : callable
        The bridge's clock [s since the epoch].
    """

    def __init__(self, path: Path, deliver: Callable[[Asked], object], now: Callable[[], float]) -> None:
        self.path = path
        self._deliver, self._now = deliver, now
        self._free = threading.BoundedSemaphore(MOST_AT_ONCE)
        self._closing = threading.Event()
        self._socket = self._listening()
        self._thread = threading.Thread(target=self._serve, name="control", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop listening and remove the socket."""
        self._closing.set()
        held = self._socket
        if held is not None:
            with contextlib.suppress(OSError):
                held.shutdown(socket.SHUT_RDWR)
            held.close()
            with contextlib.suppress(OSError):
                self.path.unlink()

    def _listening(self) -> socket.socket | None:
        """Return the socket in its place; None where the disk takes no file, and then it is tried again later."""
        held = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        before = os.umask(0o177)
        try:
            with contextlib.suppress(FileNotFoundError):
                self.path.unlink()
            held.bind(str(self.path))
        except OSError as error:
            held.close()
            log.error("%s: commands on this host cannot reach the bridge: %s", self.path, error)
            return None
        finally:
            os.umask(before)
        held.listen(8)
        return held

    def _serve(self) -> None:
        while self._socket is None:
            if self._closing.wait(AGAIN):
                return
            self._socket = self._listening()
        while True:
            try:
                connection, _ = self._socket.accept()
            except OSError as error:
                if error.errno in (errno.EMFILE, errno.ENFILE, errno.ECONNABORTED):
                    time.sleep(0.1)
                    continue
                return
            if self._free.acquire(blocking=False):
                threading.Thread(target=self._answer, args=(connection,), daemon=True).start()
            else:
                with connection, contextlib.suppress(OSError):
                    connection.settimeout(0.1)
                    connection.sendall(b'{"error": "too many ask at once: try again"}\n')

    def _answer(self, connection: socket.socket) -> None:
        try:
            with connection:
                until = time.monotonic() + ANSWER_WITHIN
                try:
                    request = parse_request(_line(connection, until), self._now())
                    reply: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
                    self._deliver(Asked(request, reply))
                    answer = reply.get(timeout=ANSWER_WITHIN)
                except (OSError, ValueError, queue.Empty) as error:
                    answer = {"error": str(error) or type(error).__name__}
                with contextlib.suppress(OSError):
                    connection.settimeout(ANSWER_WITHIN)
                    connection.sendall(json.dumps(answer, default=str).encode() + b"\n")
                    connection.shutdown(socket.SHUT_WR)
                    _throw_away(connection, until)
        finally:
            self._free.release()


def _line(connection: socket.socket, until: float) -> bytes:
    """Return the first line, or what came before the other side had nothing more to say.

    Raises
    ------
    ValueError
        Too long.
    OSError
        Not whole at `until` [s, monotonic].
    """
    line = b""
    while b"\n" not in line:
        connection.settimeout(max(0.001, until - time.monotonic()))
        piece = connection.recv(65536)
        if not piece:
            return line
        line += piece
        if len(line) > LONGEST_REQUEST:
            raise ValueError(f"a request has at most {LONGEST_REQUEST} bytes")
    return line.partition(b"\n")[0]


def _throw_away(connection: socket.socket, until: float) -> None:
    thrown = 0
    while thrown < MOST_THROWN_AWAY and (left := until - time.monotonic()) > 0:
        connection.settimeout(left)
        piece = connection.recv(65536)
        if not piece:
            return
        thrown += len(piece)


def ask(journal: Path, request: dict[str, Any]) -> dict[str, Any]:
    """Ask the bridge that runs on this journal.

    Raises
    ------
    CannotReachError
        No bridge runs here, or it does not answer.
    """
    path = socket_path(journal)
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
            connection.settimeout(ANSWER_WITHIN + 1.0)
            connection.connect(str(path))
            connection.sendall(json.dumps(request).encode() + b"\n")
            with connection.makefile("rb") as lines:
                answer = json.loads(lines.readline())
    except (FileNotFoundError, ConnectionRefusedError):  # none has run, or one was killed and left its socket
        raise CannotReachError(f"no bridge runs on {journal}: start it with `revival run`") from None
    except (OSError, ValueError) as error:
        raise CannotReachError(f"the bridge on {journal} does not answer: {error}") from error
    return dict(answer)
