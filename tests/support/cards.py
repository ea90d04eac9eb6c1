"""A small disk of its own for a test: a mounted tmpfs that can be filled, freed and made read-only."""

from __future__ import annotations

import contextlib
import os
import subprocess
from pathlib import Path

from tests.support.brokers import need, wait_until


def _as_root(*words: str) -> None:
    program, *rest = words
    first = [] if os.geteuid() == 0 else [need("sudo"), "-n"]
    subprocess.run([*first, need(program), *rest], check=True, capture_output=True, timeout=30)


class Card:
    """Mounted while it stands; `path` is its folder."""

    def __init__(self, path: Path, size: str = "3m") -> None:
        self.path = path
        path.mkdir()
        _as_root("mount", "-t", "tmpfs", "-o", f"size={size},mode=0777", "tmpfs", str(path))

    def fill(self) -> None:
        """Not a byte is left."""
        with (self.path / "ballast").open("ab", buffering=0) as ballast:
            for size in (65536, 4096, 1):
                try:
                    while True:
                        ballast.write(bytes(size))
                except OSError:
                    continue

    def free(self) -> None:
        """There is room again."""
        (self.path / "ballast").unlink()

    def read_only(self, yes: bool) -> None:
        """As after an error of a memory card."""

        def done() -> bool:
            with contextlib.suppress(subprocess.CalledProcessError):  # who has just written may still have it open
                _as_root("mount", "-o", f"remount,{'ro' if yes else 'rw'}", str(self.path))
                return True
            return False

        wait_until(done, 10)

    def close(self) -> None:
        """Gone, with all that is on it."""
        _as_root("umount", "-l", str(self.path))
