"""A bridge for the tests: everything wired on a cabin file, its loop in a thread of its own."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bridge.app import running
from bridge.clock import Clock
from bridge.config import load
from bridge.runtime.service import Service


@contextmanager
def turning(path: Path, clock: Clock | None = None) -> Iterator[Service]:
    """The bridge on this cabin file; ended in good order when the block ends."""
    with running(load(path), clock or Clock()) as service:
        thread = threading.Thread(target=service.run, daemon=True)
        thread.start()
        try:
            yield service
        finally:
            service.stop()
            thread.join(20.0)
        assert not thread.is_alive()
