"""The page's own files, and the chart script from its wheel: read once, compressed once, never fetched from afar."""

from __future__ import annotations

import gzip
import hashlib
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
}
#: Our own files that the page asks for by name.
OWN = ("icon.svg", "page.css", "common.js", "watch.js", "chart.js", "bench.js", "queue.js")
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
        self._files = {name: _asset(name, own.joinpath(name).read_bytes()) for name in OWN}
        self._files["palette.css"] = _asset("palette.css", palette.css().encode())
        package, inside = CHART_SCRIPT
        self._files["dygraph.js"] = _asset("dygraph.js", files(package).joinpath(inside).read_bytes())
        self._pages = {name: _asset(name, own.joinpath(name).read_bytes()) for name in ("watch.html", "bench.html")}

    @property
    def size(self) -> int:
        """Bytes of everything, uncompressed."""
        return sum(len(asset.plain) for asset in (*self._files.values(), *self._pages.values()))

    def page(self, name: str) -> Callable[[Request], Awaitable[Response]]:
        """The route of an HTML file."""

        async def respond(request: Request) -> Response:
            return _respond(request, self._pages[name])

        return respond

    async def file(self, request: Request) -> Response:
        """The route of scripts and styles."""
        asset = self._files.get(request.path_params["name"])
        if asset is None:
            raise HTTPException(404, "no such file")
        return _respond(request, asset)


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
