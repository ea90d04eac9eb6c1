"""Serves the page from a thread of its own, beside the bridge's loop and never in its way."""

from __future__ import annotations

import asyncio
import contextlib
import gzip
import json
import logging
import socket
import sqlite3
import ssl
import threading
from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp

from bridge.errors import JournalError
from bridge.page import curve, history
from bridge.page.acts import Acts
from bridge.page.assets import Assets
from bridge.page.gate import Gate
from bridge.page.limits import ACCEPTED_AT_ONCE, Doors, guarded
from bridge.page.view import bank_view, bridge_view, hand_view, site_view
from bridge.runtime.service import Service
from bridge.settings import Cabin, PageSettings
from bridge.words.page_address import reachable
from rules.events import Derived
from rules.safety import Interlock

log = logging.getLogger("revival.page")

#: The stream looks for news so often, and says at least so often that it is still there [s].
LOOK_EVERY, PULSE_EVERY = 0.5, 5.0
#: A curve is packed this hard: a third of the work of the hardest for nearly the same size.
PACKED = 5
#: Browsers that may watch at once: every telephone of a household, a tablet on each wall, and room.
WATCHERS = 60


class PageServer:
    """A server that listens from the moment it is made.

    Raises
    ------
    OSError
        The address cannot be listened on, or its certificate cannot be used.
    """

    def __init__(self, service: Service, cabin: Cabin, settings: PageSettings) -> None:
        self._service, self._cabin, self._settings = service, cabin, settings
        self._acts = Acts(service, settings.token)
        self._assets = Assets()
        self._stopping = False
        self._watching = 0
        self._written: dict[str, tuple[Derived, Interlock, str]] = {}
        tls = _certified(settings)
        family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
        self._socket = socket.create_server((settings.host, settings.port), family=family, backlog=ACCEPTED_AT_ONCE)
        self.doors = Doors()
        self.port = int(self._socket.getsockname()[1])
        self._server = uvicorn.Server(
            uvicorn.Config(
                self.app(),
                lifespan="off",
                ws="none",
                http=guarded(self.doors, tls),
                backlog=ACCEPTED_AT_ONCE,
                loop="asyncio",
                log_config=None,
                access_log=False,
                server_header=False,
                limit_concurrency=100,
                timeout_graceful_shutdown=1,
            )
        )
        self._thread = threading.Thread(target=self._serve, name="page", daemon=True)
        self._thread.start()
        log.info("page on %s", " or ".join(reachable(replace(settings, port=self.port))))
        if settings.token is None:
            log.info("page: no token is configured, so it only shows")
        if tls is None and settings.host not in ("127.0.0.1", "::1", "localhost"):
            log.warning("page: %s is open to the network without encryption; anybody there can watch", settings.host)

    def stop(self) -> None:
        """Stop serving; open streams end."""
        self._stopping = True
        self._server.should_exit = True
        self._thread.join(4.0)
        self._socket.close()

    def _serve(self) -> None:
        with contextlib.suppress(asyncio.CancelledError):
            self._server.run(sockets=[self._socket])

    def app(self) -> ASGIApp:
        """Return all routes, each answer with the headers that keep other sites out."""
        routes = [
            Route("/", self._assets.home(len(self._cabin.banks))),
            Route("/bench", self._assets.page("bench.html")),
            Route("/wall", self._assets.page("wall.html")),
            Route("/worker.js", self._assets.worker),
            Route("/static/{name}", self._assets.file),
            # The same under another address: a browser never asks again for a module that failed to come.
            Route("/static/again/{turn:int}/{name}", self._assets.file),
            Route("/api/site", self._site),
            Route("/api/news", self._news),
            Route("/api/sparks", self._sparks),
            Route("/api/curve/{bank}", self._of_bank(curve.curve)),
            Route("/api/days/{bank}", self._of_bank(curve.days)),
            Route("/api/rounds/{bank}", self._of_bank(history.rounds)),
            Route("/api/years/{bank}", self._of_bank(history.years)),
            Route("/api/record/{bank}", self._acts.record, methods=["POST"]),
            Route("/api/act/{bank}", self._acts.act, methods=["POST"]),
            Route("/api/token", self._acts.check, methods=["POST"]),
        ]
        app = Starlette(routes=routes, exception_handlers={HTTPException: _explain})
        return Gate(app, self._settings.host, self._assets.boot_hash)

    async def _site(self, request: Request) -> Response:
        return JSONResponse(site_view(self._cabin, self._settings))

    def _of_bank(
        self, answer: Callable[[Path, Service, str, dict[str, str]], dict[str, Any]]
    ) -> Callable[[Request], Awaitable[Response]]:
        async def respond(request: Request) -> Response:
            bank = request.path_params["bank"]
            if bank not in self._cabin.banks:
                raise HTTPException(404, f"there is no bank {bank[:40]!r}")
            path, query = self._cabin.journal.path, dict(request.query_params)
            return await self._from_journal(request, lambda: answer(path, self._service, bank, query))

        return respond

    async def _from_journal(self, request: Request, answer: Callable[[], dict[str, Any]]) -> Response:
        """Answer with what is read from the journal, in a thread of its own; the browser asks a busy one again."""
        packs = "gzip" in request.headers.get("accept-encoding", "")

        def written() -> bytes:
            text = json.dumps(answer(), separators=(",", ":")).encode()
            return gzip.compress(text, PACKED) if packs else text

        try:
            found = await run_in_threadpool(written)
        except ValueError as error:
            raise HTTPException(422, str(error)) from None
        except (JournalError, sqlite3.Error) as error:
            raise HTTPException(503, f"the journal cannot be read now: {error}") from None
        headers = {"vary": "accept-encoding"} | ({"content-encoding": "gzip"} if packs else {})
        return Response(found, headers=headers, media_type="application/json")

    async def _sparks(self, request: Request) -> Response:
        return await self._from_journal(request, lambda: curve.sparks(self._cabin.journal.path, self._service))

    async def _news(self, request: Request) -> Response:
        if self._watching >= WATCHERS:
            raise HTTPException(503, f"{WATCHERS} browsers are watching already")
        if request.method == "HEAD":  # the stream has no end, and a HEAD no body to wait for
            return Response(media_type="text/event-stream")
        stream = self._stream()
        first = await anext(stream)  # from here on it is counted: a thousand that ask at once do not all get in
        return StreamingResponse(_from_first(first, stream), media_type="text/event-stream")

    async def _stream(self) -> AsyncGenerator[str, None]:
        """Yield what is new since this browser last heard, bank by bank; a pulse with the bridge's health between."""
        service = self._service
        told: dict[str, object] = {}
        entries: dict[str, object] = {}
        since_pulse = PULSE_EVERY
        self._watching += 1
        try:
            yield "retry: 2000\n\n"
            while not self._stopping:
                for bank in self._cabin.banks:
                    derived = service.latest.get(bank)
                    if derived is not None and told.get(bank) is not derived:
                        told[bank] = derived
                        yield self._bank_event(bank, derived)
                    memory = service.engine.memories[bank]
                    if entries.get(bank) is not memory.hand:
                        entries[bank] = memory.hand
                        yield _event("hand", hand_view(bank, memory, self._cabin.degrees))
                since_pulse += LOOK_EVERY
                if since_pulse >= PULSE_EVERY:
                    since_pulse = 0.0
                    yield _event("pulse", bridge_view(service))
                await asyncio.sleep(LOOK_EVERY)
        finally:
            self._watching -= 1

    def _bank_event(self, bank: str, derived: Derived) -> str:
        """Return a bank's state as every browser is told it: written once, however many watch."""
        lock = self._service.engine.memories[bank].interlock
        before = self._written.get(bank)
        if before is None or before[0] is not derived or before[1] is not lock:
            before = derived, lock, _event("bank", bank_view(self._service, bank, derived, self._cabin.degrees))
            self._written[bank] = before
        return before[2]


def _certified(settings: PageSettings) -> ssl.SSLContext | None:
    """Return what the page is encrypted with; none without a certificate."""
    if settings.certificate_file is None or settings.key_file is None:
        return None
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        # A key with a passphrase is refused: nobody is there to type it.
        context.load_cert_chain(settings.certificate_file, settings.key_file, password="")
    except OSError as error:
        why = error.strerror or error
        raise OSError(
            f"[page] certificate_file {settings.certificate_file} and key_file {settings.key_file}: {why}; "
            "bridge/page/TLS.md says how they are made"
        ) from error
    return context


async def _from_first(first: str, stream: AsyncGenerator[str, None]) -> AsyncIterator[str]:
    try:
        yield first
        async for piece in stream:
            yield piece
    finally:
        await stream.aclose()


def _event(name: str, document: dict[str, Any]) -> str:
    return f"event: {name}\ndata: {json.dumps(document, separators=(',', ':'))}\n\n"


async def _explain(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return JSONResponse({"error": error.detail}, error.status_code, error.headers)
