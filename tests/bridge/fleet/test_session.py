"""What Java, Spark and its workers print past every setting does not reach whoever asked for banks."""

from __future__ import annotations

import subprocess
import sys
import threading

import pytest

from bridge.fleet.session import quietly

#: As Spark 4 prints it, and a line that somebody must see.
SAID = r"""
WARNING: Using incubator modules: jdk.incubator.vector
Setting default log level to "WARN".
To adjust logging level use sc.setLogLevel(newLevel).
Starting Streaming TransformWithStateInPandas Python worker.

Streaming TransformWithStateInPandas Python worker finish init stage: <bound method x of <y at 0x7f1dde7f1d90>>
spark: no space left on the device
"""


def test_noise_is_dropped_and_the_rest_passed_on(capfd: pytest.CaptureFixture[str]) -> None:
    before = set(threading.enumerate())  # an engine of another test may still speak
    with quietly():
        subprocess.run([sys.executable, "-c", f"import sys; sys.stderr.write({SAID!r})"], check=True)
    for thread in set(threading.enumerate()) - before:
        thread.join()
    assert capfd.readouterr().err == "spark: no space left on the device\n"
