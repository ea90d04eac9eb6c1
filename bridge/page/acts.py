"""What the page may change: every such request carries the token, and goes through the engine's own mailbox."""

from __future__ import annotations

import asyncio
import hmac
import math
import queue
from typing import Any

from pydantic import SecretStr
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from bridge.errors import JournalError, RequestError
from bridge.intake.hand_record import LONGEST, parse_record
from bridge.intake.request import Request as Wish
from bridge.intake.request import parse_act
from bridge.journal.reader import JournalReader
from bridge.mailbox import Asked
from bridge.page.limits import Guesses
from bridge.page.view import in_measures
from bridge.runtime.control_socket import ANSWER_WITHIN
from bridge.runtime.service import Service

#: Acts that a person may ask for here; limits, bypasses and arrangement stay with the command line.
ALLOWED = frozenset(("start", "resume", "finish", "abandon", "reset", "prove", "checklist", "test", "zero"))
#: A wrong token is answered only after this [s].
WRONG_TOKEN = 0.5
#: A reading is confirmed once it is on the disk; after so long [s] the browser is told to keep it and send it again.
STORED_WITHIN = 3.0


class Acts:
    """Routes that change something."""

    def __init__(self, service: Service, token: SecretStr | None) -> None:
        self._service = service
        self._guesses = Guesses()
        self._token = None if token is None else token.get_secret_value().encode()

    async def check(self, request: Request) -> Response:
        """Answer only whether the token is right."""
        await self._admit(request)
        return JSONResponse({"ok": True})

    async def record(self, request: Request) -> Response:
        """Take a hand reading. With a key it may be sent again and again and counts once; 202 asks to send it again.

        409 with ``unsure`` asks whether a strange value is meant: it was not taken, and counts when it is sent again
        with ``"sure": true``.
        """
        body = await self._admit(request)
        bank = self._bank(request)
        try:
            reading = parse_record(bank, self._service.clock.now(), body)
        except RequestError as error:
            raise HTTPException(422, str(error)) from None
        answer = await self._ask(reading)
        if "unsure" in answer or answer["refused"]:
            return JSONResponse(answer, 409)
        if reading.key and not await self._stored(bank, reading.key, reading.taken_at):
            return JSONResponse({**answer, "stored": False}, 202)
        return JSONResponse({**answer, "stored": True})

    async def act(self, request: Request) -> Response:
        """Do a person's act; answer 409 with the reasons where the rules refuse it, or with ``unsure`` as `record`."""
        body = await self._admit(request)
        bank = self._bank(request)
        try:
            act = parse_act(bank, self._service.clock.now(), body, ALLOWED)
        except RequestError as error:
            raise HTTPException(422, f"not understood: {error}") from None
        answer = await self._ask(act)
        return JSONResponse(answer, 409 if "unsure" in answer or answer["refused"] else 200)

    async def _admit(self, request: Request) -> bytes:
        """Return the body of a request whose token is right: a header, which no other site can make us send."""
        if self._token is None:
            raise HTTPException(403, "no token is configured, so this page only shows; see [page] in the cabin file")
        address = request.client.host if request.client else ""
        locked = self._guesses.locked_for(address)
        if locked > 0.0:  # the right one as well: otherwise guessing would go on, only unseen
            wait = str(math.ceil(locked))
            raise HTTPException(429, f"too many wrong tokens from here: wait {wait} s", {"Retry-After": wait})
        given = request.headers.get("authorization", "").removeprefix("Bearer ").encode("utf-8", "surrogateescape")
        if not hmac.compare_digest(given, self._token):
            if given:  # none at all is a browser that has not been told it yet
                self._guesses.wrong(address)
            await asyncio.sleep(WRONG_TOKEN)
            raise HTTPException(401, "the token is missing or wrong")
        body = b""
        async for chunk in request.stream():
            body += chunk
            if len(body) > LONGEST:
                raise HTTPException(413, f"at most {LONGEST} bytes")
        return body

    def _bank(self, request: Request) -> str:
        bank = str(request.path_params["bank"])
        if bank not in self._service.engine.banks:
            raise HTTPException(404, f"there is no bank {bank[:40]!r}")
        return bank

    async def _ask(self, wish: Wish) -> dict[str, Any]:
        reply: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
        self._service.mailbox.put(Asked(wish, reply))
        try:
            answer = await run_in_threadpool(reply.get, True, ANSWER_WITHIN)
        except queue.Empty:
            raise HTTPException(503, "the bridge does not answer") from None
        if "error" in answer:
            raise HTTPException(422, str(answer["error"]))
        return dict(in_measures(answer, self._service.homie.cabin.degrees))

    async def _stored(self, bank: str, key: str, taken_at: float) -> bool:
        for _ in range(round(STORED_WITHIN / 0.05)):
            if await run_in_threadpool(self._in_journal, bank, key, taken_at):
                return True
            await asyncio.sleep(0.05)
        return False

    def _in_journal(self, bank: str, key: str, taken_at: float) -> bool:
        try:
            with JournalReader(self._service.journal.path) as reader:
                events = reader.events(bank, taken_at - 1.0, float("1e11"), ["hand", "hand-again"])
        except JournalError:
            return False
        return any(event.detail.get("key") == key for event in events)
