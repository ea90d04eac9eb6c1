"""A loopback HTTP server that takes line protocol and misbehaves as it is told.

`FaultyDatabase.script` is asked for every write with the lines in it and returns what to do: an HTTP status (with an
optional body and headers), or one of the words ``cut``, ``slow``.
"""

from __future__ import annotations

import gzip
import json
import threading
import time
from collections.abc import Callable, Mapping
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, NamedTuple


class Reply(NamedTuple):
    """What the server does with a request."""

    status: int = 204
    message: str = ""
    headers: Mapping[str, str] = {}
    store: bool = False  # keep the lines although the status says otherwise
    delay: float = 0.0
    cut: bool = False


class FaultyDatabase:
    """Start it, give its `url` to the writer, read `points` and `requests`."""

    def __init__(self) -> None:
        self.script: Callable[[list[str]], Reply] = lambda lines: Reply()
        self.points: dict[tuple[str, str], str] = {}  # (series, time) -> fields: a repeat overwrites, as in a database
        self.order: list[str] = []
        self.requests: list[tuple[str, Mapping[str, str], list[str]]] = []
        database = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"]))
                if self.headers.get("Content-Encoding") == "gzip":
                    body = gzip.decompress(body)
                lines = body.decode().split("\n")
                database.requests.append((self.path, dict(self.headers), lines))
                reply = database.script(lines)
                if reply.store or reply.status == 204:
                    database.keep(lines)
                if reply.delay:
                    time.sleep(reply.delay)
                if reply.cut:
                    self.close_connection = True
                    return
                text = json.dumps({"code": "invalid", "message": reply.message}).encode() if reply.message else b""
                self.send_response(reply.status)
                for name, value in reply.headers.items():
                    self.send_header(name, value)
                if reply.status != 204:
                    self.send_header("Content-Length", str(len(text)))
                self.end_headers()
                self.wfile.write(text)

            def log_message(self, format: str, *args: Any) -> None:
                pass

        class Server(ThreadingHTTPServer):
            daemon_threads = True

            def handle_error(self, request: Any, client_address: Any) -> None:
                pass  # a client that gave up waiting is part of the test

        self._server = Server(("127.0.0.1", 0), Handler)
        self.port = self._server.server_address[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
        self._thread.start()

    def keep(self, lines: list[str]) -> None:
        """Store as a time-series database does: the same series at the same time is one point, with all its fields."""
        for line in lines:
            series, rest = line.split(" ", 1)
            fields, time_ = rest.rsplit(" ", 1)
            before = self.points.get((series, time_), fields)
            self.points[series, time_] = fields if before == fields else f"{before},{fields}"
            self.order.append(line)

    def values(self, measurement: str, field: str) -> list[float]:
        """All values of a field in order of time."""
        found = []
        for (series, time_), fields in list(self.points.items()):
            if series.startswith(measurement):
                values = dict(pair.split("=", 1) for pair in fields.split(",") if "=" in pair)
                if field in values:
                    found.append((int(time_), float(values[field])))
        return [value for _, value in sorted(found)]

    def close(self) -> None:
        """Stop listening."""
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(5.0)
