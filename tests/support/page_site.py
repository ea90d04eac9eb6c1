"""A bridge with its page on a real broker, and an HTTP client that is no browser."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path
from typing import Any, NamedTuple

from bridge.config import load
from bridge.journal.batch import Batch
from bridge.journal.snapshot import to_text
from bridge.journal.writer import Journal
from bridge.runtime.service import Service
from rules.events import Event, Reading
from rules.step import initial
from tests.support.brokers import Broker, free_port, wait_until
from tests.support.cabin import write_cabin
from tests.support.running_bridge import turning

TOKEN, PASSWORD = "a-token-for-tests-only", "a-password-for-tests-only"
#: Noon UTC of yesterday: what the journal holds lies before it.
NOON = time.time() // 86400.0 * 86400.0 - 43_200.0
HOSTILE = "<img src=x onerror=alert(1)>"
READ = (
    "/",
    "/bench",
    "/wall",
    "/worker.js",
    "/api/site",
    "/api/sparks",
    "/api/days/north",
    "/api/curve/north",
    "/static/page.css",
    "/static/dygraph.js",
)
WRITE = ("/api/record/north", "/api/act/north", "/api/token")


class Answer(NamedTuple):
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)


class Site(NamedTuple):
    """A bridge with its page, and what it was started on."""

    port: int
    broker: Broker
    service: Service
    config: Path

    def ask(self, method: str, path: str, body: object = None, **headers: str) -> Answer:
        """One request on a connection of its own; `headers` with underscores; a dict goes as JSON."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=30.0)
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if body is not None and not isinstance(body, bytes):
            body = json.dumps(body).encode()
        if method == "POST":
            sent.setdefault("content-type", "application/json")
        try:
            connection.request(method, path, body, sent)
            answer = connection.getresponse()
            told = {name.lower(): value for name, value in answer.getheaders()}
            return Answer(answer.status, told, answer.read())
        finally:
            connection.close()

    def get(self, path: str, **headers: str) -> Answer:
        """Look."""
        return self.ask("GET", path, **headers)

    def post(self, path: str, body: object, token: str = TOKEN, **headers: str) -> Answer:
        """Change something, with the right token."""
        return self.ask("POST", path, body, authorization=f"Bearer {token}", **headers)


@contextmanager
def open_site(folder: Path, more: str = "") -> Iterator[Site]:
    """A cabin that is only watched, with a page and a few readings of long ago in its journal.

    `more` stands in the page's table as well.
    """
    broker = Broker(folder / "broker").start()
    port = free_port()
    (folder / "token").write_text(TOKEN)
    (folder / "password").write_text(PASSWORD)
    page = f'\n[page]\nlisten = "127.0.0.1:{port}"\ntoken_file = "token"\n{more}'
    path = write_cabin(folder, broker.port, relay=False, extra=page)
    login = f'port = {broker.port}\nusername = "bridge"\npassword_file = "password"\n'
    path.write_text(path.read_text().replace(f"port = {broker.port}\n", login))
    write_readings(path)
    try:
        with turning(path) as service:
            wait_until(lambda: service.bus.subscribed, 30.0)
            yield Site(port, broker, service, path)
    finally:
        broker.stop()


def write_readings(path: Path) -> None:
    """Twelve cells: two seconds at 24.0 and 26.4 V; one minute at 24.0, 25.2 and 28.8 V with 3, 4 and 8 A; a gap."""
    batch = Batch(snapshots={"north": to_text(initial())})
    for after, volts in ((0.0, 24.0), (1.0, 26.4), (2.0, 27.0)):
        at = NOON - 7200.0 + after
        batch.readings.append(Reading("north", "voltage", volts, at, at))
    for after, volts, amps in ((5.0, 24.0, 3.0), (20.0, 25.2, 4.0), (50.0, 28.8, 8.0), (600.0, 27.6, 5.0)):
        at = NOON - 36_000.0 + after
        batch.readings.append(Reading("north", "voltage", volts, at, at))
        batch.readings.append(Reading("north", "current", amps, at, at))
    for at, phase in ((NOON - 36_000.0, "waking"), (NOON - 18_000.0, "bulk")):
        batch.events.append(Event("north", "phase", at, {"phase": phase, "before": "idle", "interrupted": False}))
    batch.events.append(Event("north", "trip", NOON - 20_000.0, {"hazard": "over-temperature", "reason": HOSTILE}))
    cabin = load(path).cabin
    journal = Journal.open(cabin.journal, {"north": cabin.banks["north"].meters})
    journal.submit(batch)
    journal.close(30.0)
