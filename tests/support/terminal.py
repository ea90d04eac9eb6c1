"""A command in a real terminal, and what is typed into it."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path


def typed_into(arguments: list[str], answers: list[str], folder: Path, within: float = 60.0) -> tuple[int, str]:
    """Run `revival` with a terminal of its own; each answer is typed once its prompt stands there.

    Returns
    -------
    tuple
        Exit code, and everything that the terminal showed.

    Raises
    ------
    AssertionError
        It did not end in time, as with an answer too few.

    Notes
    -----
    A prompt is whatever the command last showed without ending the line.
    """
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "bridge", *arguments], stdin=theirs, stdout=theirs, stderr=theirs, cwd=folder,
        start_new_session=True,
    )  # fmt: skip
    os.close(theirs)
    shown, waiting, end = "", list(answers), time.monotonic() + within
    fresh = False
    while time.monotonic() < end:
        ready, _, _ = select.select([ours], [], [], 0.3)
        if ready:
            try:
                piece = os.read(ours, 65536)
            except OSError:
                break  # the terminal is closed at its other end
            if not piece:
                break
            shown, fresh = shown + piece.decode(errors="replace"), True
        elif fresh and waiting and not shown.endswith("\n"):
            os.write(ours, f"{waiting.pop(0)}\n".encode())
            fresh = False
    else:
        process.kill()
        process.wait(10.0)
        raise AssertionError(f"it still waits after {within:.0f} s: {shown[-2000:]}")
    os.close(ours)
    return process.wait(10.0), shown.replace("\r\n", "\n")
