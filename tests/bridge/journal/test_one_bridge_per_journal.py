"""One bridge per journal: the second is refused with the process id of the first; a killed one leaves no lock."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from bridge.errors import ConfigError, UnsafeStateError
from bridge.journal.lock import only_one

HOLDER = """
import sys, time
from pathlib import Path
from bridge.journal.lock import only_one
with only_one(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def held(journal: Path) -> subprocess.Popen[str]:
    """Another process that holds the lock."""
    process = subprocess.Popen([sys.executable, "-c", HOLDER, str(journal)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None and process.stdout.readline() == "held\n"
    return process


def test_the_second_is_refused_with_the_process_of_the_first_and_a_killed_one_leaves_nothing(tmp_path: Path) -> None:
    journal = tmp_path / "revival.db"
    first = held(journal)
    try:
        with pytest.raises(UnsafeStateError, match=rf"process {first.pid}: end that one first"), only_one(journal):
            pass
        with only_one(tmp_path / "other.db"):
            pass  # another journal is another bridge
    finally:
        first.send_signal(signal.SIGKILL)
        first.communicate(timeout=10)
    deadline = time.monotonic() + 10.0
    while True:
        try:
            with only_one(journal):
                assert (tmp_path / "revival.db.lock").read_text() == f"{os.getpid()}\n"
            break
        except UnsafeStateError:
            assert time.monotonic() < deadline
            time.sleep(0.05)


def test_a_missing_folder_is_named_with_its_key(tmp_path: Path) -> None:
    journal = tmp_path / "away" / "revival.db"
    with pytest.raises(ConfigError, match=r"\[journal\] path = .*away/revival.db.*create it"), only_one(journal):
        pass
