"""The page's own files, and the chart script from its wheel: read once, compressed once, never fetched from afar."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
from collections.abc import Awaitable, Callable
from importlib.resources import files
from typing import NamedTuple

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from bridge.words import palette

_TYPES = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "webmanifest": "application/manifest+json",
}
#: Our own files that the page asks for by name.
OWN = (
    *("page.css", "wall.css", "manifest.webmanifest"),
    *(
        "common.js",
        "overview.js",
        "watch.js",
        "wall.js",
        "act.js",
        "cells.js",
        "chart.js",
        "years.js",
        "bench.js",
        "queue.js",
    ),
)
PAGES = ("overview.html", "watch.html", "bench.html", "wall.html")
#: Stands in every page for the script that asks again for whatever did not come; it is part of the page, so that it
#: is there whenever the page is.
BOOT_PLACE = b"/*boot*/"
#: The tab's picture for each answer to "is it safe?": what is drawn on it beside its colour.
MARKS = {
    "yes": '<path d="M9 17l5 5 10-12" fill="none" stroke="#fff" stroke-width="4"/>',
    "warm": '<path d="M16 6v13" stroke="#fff" stroke-width="4"/><circle cx="16" cy="24" r="3.5" fill="#fff"/>',
    "not-yet": '<path d="M16 7v9l6 4" fill="none" stroke="#fff" stroke-width="4"/>',
    "no": '<path d="M9 9l14 14M23 9L9 23" stroke="#fff" stroke-width="5"/>',
    "unknown": '<path d="M8 16h16" stroke="#fff" stroke-width="4" stroke-dasharray="4 2"/>',
}
#: Where the chart library's wheel keeps its script.
CHART_SCRIPT = ("dygraphs", "assets/dygraph-combined.js")


class Asset(NamedTuple):
    """A file as it goes out."""

    kind: str
    plain: bytes
    packed: bytes
    tag: str


class Assets:
    """All files of the page, in memory.

    Raises
    ------
    ImportError
        The chart library is not installed.
    """

    def __init__(self) -> None:
        own = files("bridge.page").joinpath("static")
        boot = own.joinpath("boot.js").read_bytes()
        #: What the policy lets run inside a page: this one script and no other.
        self.boot_hash = base64.b64encode(hashlib.sha256(boot).digest()).decode()
        self._files = {name: _asset(name, own.joinpath(name).read_bytes()) for name in OWN}
        self._files["palette.css"] = _asset("palette.css", palette.css().encode())
        package, inside = CHART_SCRIPT
        self._files["dygraph.js"] = _asset("dygraph.js", files(package).joinpath(inside).read_bytes())
        for answer, mark in MARKS.items():
            self._files[f"icon-{answer}.svg"] = _asset("icon.svg", _icon(palette.ANSWER_LEVELS[answer], mark).encode())
        self._pages = {name: _asset(name, own.joinpath(name).read_bytes().replace(BOOT_PLACE, boot)) for name in PAGES}

        self._worker = _asset("worker.js", self._worker_script(own.joinpath("worker.js").read_text("utf-8")))

    def _worker_script(self, text: str) -> bytes:
        """Return the script that keeps the pages, with the names of what it keeps and a version that follows them."""
        kept = ["/", "/?bank=any", "/bench", "/api/site", *(f"/static/{name}" for name in sorted(self._files))]
        tags = "".join(asset.tag for _, asset in sorted({**self._files, **self._pages}.items()))
        version = hashlib.sha256((text + tags).encode()).hexdigest()[:20]
        return text.replace("/*version*/", version).replace("/*files*/", ", ".join(map(json.dumps, kept))).encode()

    async def worker(self, request: Request) -> Response:
        """Serve the script that keeps the pages; at the root, because it serves what lies beside and below."""
        return _respond(request, self._worker)

    @property
    def size(self) -> int:
        """Bytes of everything, uncompressed."""
        return sum(len(asset.plain) for asset in (*self._files.values(), *self._pages.values()))

    def page(self, name: str) -> Callable[[Request], Awaitable[Response]]:
        """Return the route of an HTML file."""

        async def respond(request: Request) -> Response:
            return _respond(request, self._pages[name])

        return respond

    def home(self, banks: int) -> Callable[[Request], Awaitable[Response]]:
        """Return the route of the first page: all banks at a glance, or at once the one that is asked for or there."""
        everything, one = self.page("overview.html"), self.page("watch.html")

        async def respond(request: Request) -> Response:
            return await (one if banks == 1 or request.query_params.get("bank") else everything)(request)

        return respond

    async def file(self, request: Request) -> Response:
        """Serve scripts and styles."""
        asset = self._files.get(request.path_params["name"])
        if asset is None:
            raise HTTPException(404, "no such file")
        return _respond(request, asset)


def _icon(level: str, mark: str) -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32">'
        f'<rect width="32" height="32" rx="6" fill="{palette.LEVELS[level].light}"/>{mark}</svg>'
    )


def _asset(name: str, plain: bytes) -> Asset:
    kind = _TYPES[name.rpartition(".")[2]]
    return Asset(kind, plain, gzip.compress(plain, mtime=0), f'"{hashlib.sha256(plain).hexdigest()[:20]}"')


def _respond(request: Request, asset: Asset) -> Response:
    # Asked for every time, answered with 304 where nothing changed: an update never meets an old script.
    headers = {"etag": asset.tag, "cache-control": "no-cache", "vary": "accept-encoding"}
    if request.headers.get("if-none-match") == asset.tag:
        return Response(status_code=304, headers=headers)
    if "gzip" in request.headers.get("accept-encoding", ""):
        return Response(asset.packed, headers=headers | {"content-encoding": "gzip"}, media_type=asset.kind)
    return Response(asset.plain, headers=headers, media_type=asset.kind)
