"""A socket beside the journal, for the commands on this host: one JSON line asks, one JSON line answers.

What may not come over the bus (a bypass; reset and resume under MQTT 3.1.1) comes this way, and needs no broker.
Only the user who runs the bridge may open it.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import queue
import socket
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bridge.errors import CannotReachError
from bridge.mailbox import Asked

log = logging.getLogger("revival.control")

LONGEST_REQUEST = 100_000  #: bytes
ANSWER_WITHIN = 10.0  #: s


def socket_path(journal: Path) -> Path:
    """Where a running bridge listens."""
    return journal.with_name(journal.name + ".sock")


class Control:
    """Listens, and passes each request on to the engine's own thread."""

    def __init__(self, path: Path, deliver: Callable[[Asked], object]) -> None:
        self.path = path
        self._deliver = deliver
        with contextlib.suppress(FileNotFoundError):
            path.unlink()
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        before = os.umask(0o177)
        try:
            self._socket.bind(str(path))
        finally:
            os.umask(before)
        self._socket.listen(8)
        self._thread = threading.Thread(target=self._serve, name="control", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop listening and remove the socket."""
        with contextlib.suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()
        with contextlib.suppress(FileNotFoundError):
            self.path.unlink()

    def _serve(self) -> None:
        while True:
            try:
                connection, _ = self._socket.accept()
            except OSError:
                return
            threading.Thread(target=self._answer, args=(connection,), daemon=True).start()

    def _answer(self, connection: socket.socket) -> None:
        with connection:
            connection.settimeout(ANSWER_WITHIN)
            try:
                with connection.makefile("rb") as lines:
                    request = json.loads(lines.readline(LONGEST_REQUEST))
                reply: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
                self._deliver(Asked(request, reply))
                answer = reply.get(timeout=ANSWER_WITHIN)
            except (OSError, ValueError, RecursionError, queue.Empty) as error:
                answer = {"error": f"{type(error).__name__}: {error}"}
            with contextlib.suppress(OSError):
                connection.sendall(json.dumps(answer).encode() + b"\n")


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
    except FileNotFoundError:
        raise CannotReachError(f"no bridge runs on {journal}: start it with `revival run`") from None
    except (OSError, ValueError) as error:
        raise CannotReachError(f"the bridge on {journal} does not answer: {error}") from error
    return dict(answer)
