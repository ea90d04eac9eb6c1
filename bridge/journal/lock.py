"""One bridge per journal: two that write the same memory would each undo what the other ordered."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bridge.errors import ConfigError, UnsafeStateError


@contextmanager
def only_one(journal: Path) -> Iterator[None]:
    """Hold the lock beside this journal while a bridge runs on it; it goes with the process, however that ends.

    Parameters
    ----------
    journal : Path
        Of the cabin file.

    Raises
    ------
    UnsafeStateError
        Another bridge holds it; its process id is named.
    ConfigError
        The folder of the journal is missing or not writable.
    """
    path = journal.with_name(f"{journal.name}.lock")
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except (FileNotFoundError, NotADirectoryError):
        raise ConfigError(
            f"[journal] path = {str(journal)!r}: the folder {journal.parent} is missing: create it, or name another"
        ) from None
    except OSError:
        # A disk that takes nothing (full, read-only) is the journal's to tell: the relay must be cut all the same.
        try:
            handle = os.open(path, os.O_RDONLY | os.O_CLOEXEC)  # one that lies there already can be held all the same
        except OSError:
            yield
            return
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.read(handle, 32).decode("ascii", "replace").strip() or "unknown"
            raise UnsafeStateError(
                f"a bridge runs on {journal} already, process {holder}: end that one first (kill {holder}), or give "
                "this cabin file a journal of its own"
            ) from None
        try:
            os.ftruncate(handle, 0)
            os.pwrite(handle, f"{os.getpid()}\n".encode(), 0)
        except OSError:
            pass  # the lock holds without its number: only the words of a refusal are poorer
        yield
    finally:
        os.close(handle)
