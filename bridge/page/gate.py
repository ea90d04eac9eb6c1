"""Who may speak with the page: no foreign site, through the browser of somebody who is at home."""

from __future__ import annotations

from ipaddress import ip_address
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: What a page may load and run; the one script inside a page is let through by its hash.
POLICY = (
    "default-src 'none'; script-src 'self' 'sha256-{boot}'; style-src 'self'; connect-src 'self'; "
    "img-src 'self'; manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
#: Goes out with every answer.
HEADERS = {
    b"x-content-type-options": b"nosniff",
    b"referrer-policy": b"no-referrer",
    b"cross-origin-resource-policy": b"same-origin",
}
#: Endings of names that no stranger can register (RFC 2606, 6762, 8375; lan by custom).
AT_HOME = (".localhost", ".local", ".lan", ".home.arpa", ".internal")


class Gate:
    """A gate that turns away what another site made a browser send, and adds the same headers to every answer.

    A name from outside that is made to point here (DNS rebinding) is known by the Host header: addresses, names without
    a dot and names that only exist at home are answered, and the name that the cabin file listens on.
    """

    def __init__(self, app: ASGIApp, listens_on: str, boot_hash: str) -> None:
        self._app, self._listens_on = app, listens_on.lower()
        self._headers = {**HEADERS, b"content-security-policy": POLICY.format(boot=boot_hash).encode()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request through the routes, with the headers, if it comes from a place that may ask."""

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = list(message.get("headers", []))
                stored = [] if any(name == b"cache-control" for name, _ in own) else [(b"cache-control", b"no-store")]
                message["headers"] = [*own, *stored, *self._headers.items()]
            await send(message)

        refused = self._refuses(scope)
        if refused is None:
            await self._app(scope, receive, with_headers)
        else:
            status, why = refused
            await JSONResponse({"error": why}, status)(scope, receive, with_headers)

    def _refuses(self, scope: Scope) -> tuple[int, str] | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if not self._at_home(host):
            return 421, "reached under a name that is not of this house: use the address, or a name such as cabin.local"
        origin = headers.get("origin")
        if origin is not None and urlsplit(origin).netloc.lower() != host.lower():
            return 403, "sent by another site"
        if scope["path"].startswith("/api/") and headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
            return 403, "sent by another site"
        kind = headers.get("content-type", "").partition(";")[0].strip().lower()
        if scope["method"] == "POST" and kind != "application/json":
            return 415, "the body is JSON, and its Content-Type says so: application/json"
        return None

    def _at_home(self, host: str) -> bool:
        name = host.lower()
        if not name.endswith("]"):
            before, colon, _ = name.rpartition(":")
            name = before if colon else name
        try:
            ip_address(name.strip("[]"))
        except ValueError:
            name = name.rstrip(".")
            return bool(name) and ("." not in name or name.endswith(AT_HOME) or name == self._listens_on)
        return True
