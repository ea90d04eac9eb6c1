"""The live page: what people look at, and where they enter what they see. Needs the extra ``page``."""

from __future__ import annotations

import errno
import logging
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from bridge.runtime.service import Service
    from bridge.settings import Cabin

#: Highest port there is.
LAST_PORT = 65535

log = logging.getLogger("revival.page")


class Page(Protocol):
    """A page that is being served."""

    def stop(self) -> None:
        """Stop serving it."""


def start_page(service: Service, cabin: Cabin) -> Page | None:
    """Serve the page beside the bridge; what goes wrong with it is told and never keeps the bridge from watching."""
    assert cabin.page is not None
    try:
        from bridge.page.server import PageServer  # noqa: PLC0415  (only the page extra has what it needs)

        return PageServer(service, cabin, cabin.page)
    except ImportError as error:
        log.error('no page: %s is missing; install the extra "page" (pip install "revival-bridge[page]")', error.name)
    except OSError as error:
        log.error("no page: %s", _why(error, cabin))
    return None


def _why(error: OSError, cabin: Cabin) -> str:
    """Say why nothing can be served, and in which line of the file it is mended."""
    assert cabin.page is not None
    host, port = cabin.page.host, cabin.page.port
    listen = f'{cabin.source}: [page] listen = "{f"[{host}]" if ":" in host else host}:{port}"'
    if error.errno == errno.EADDRINUSE:
        return (
            f"{listen}: another program listens on port {port} already, perhaps a bridge that runs; end it, or give "
            f"the page another port there, such as {port + 1 if port < LAST_PORT else port - 1}, and restart the bridge"
        )
    if error.errno == errno.EADDRNOTAVAIL:
        return f'{listen}: this host has no such address: "127.0.0.1:{port}" is this host alone, "0.0.0.0:{port}" all'
    if error.errno == errno.EACCES:
        return f"{listen}: ports below 1024 are root's: write a higher one, such as 8170, and restart the bridge"
    return f"{listen}: {error.strerror or error}"
