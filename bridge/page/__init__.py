"""The live page: what people look at, and where they enter what they see. Needs the extra ``page``."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from bridge.runtime.service import Service
    from bridge.settings import Cabin

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
        log.error("no page: cannot listen on %s:%d (%s)", cabin.page.host, cabin.page.port, error.strerror or error)
    return None
