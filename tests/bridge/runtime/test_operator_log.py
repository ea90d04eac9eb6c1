"""What `revival run` writes for an operator: what, which bank, why, once; no Python words; a line at a clean stop."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time
from pathlib import Path

from tests.support.brokers import Broker, wait_until

CABIN = """[site]
id = "oplog"
[broker]
host = "127.0.0.1"
port = {port}
client_prefix = "oplog"
[[bank]]
id = "north"
blocks = {{ per_string = 4, cells = 3, capacity = "200 Ah" }}
[[bank.meter]]
topic = "oplog/volts"
quantity = "voltage"
unit = "V"
[[bank.meter]]
topic = "oplog/probe"
quantity = "electrolyte_temperature"
unit = "degC"
placed = "cell"
"""
#: A logger's name, a level of Python's, a dictionary or a pair as code writes it.
PYTHON = re.compile(r"\bINFO\b|\bWARNING\b|revival\.[a-z]|\{'|\b[a-z_]+=[^ ]|Traceback|None\b|Error\(")


RELAY = """[bank.relay]
topic = "oplog/charger/set"
state_topic = "oplog/charger/state"
auto_off = "90 s"
"""


def test_the_first_seconds_alarm_nobody_by_what_has_not_had_its_time(broker: Broker, tmp_path: Path) -> None:
    """No link was lost before one could come, and no relay had its time to show that it opened."""
    file, log = tmp_path / "cabin.toml", tmp_path / "bridge.log"
    file.write_text(CABIN.format(port=broker.port) + RELAY)
    with log.open("wb") as out:
        bridge = subprocess.Popen(
            [sys.executable, "-m", "bridge", "run", "--config", str(file)], stdout=out, stderr=subprocess.STDOUT
        )
        try:
            wait_until(lambda: "watched, 12 cells" in log.read_text(), 30, "the bridge is up")
            said = subprocess.run(
                [sys.executable, "-m", "bridge", "status", "--config", str(file)],
                capture_output=True,
                text=True,
                check=False,
            ).stdout
        finally:
            bridge.send_signal(signal.SIGTERM)
            bridge.wait(20)
    assert "relay-link-lost" not in log.read_text() and "restart" not in log.read_text()
    assert "north: charging not allowed yet since the bridge came up" in log.read_text().splitlines()
    assert "nothing has shown that it did" not in said and "safe, no danger" not in said and "cut off" not in said


def test_an_operator_reads_what_which_bank_and_why_and_a_line_at_a_clean_stop(broker: Broker, tmp_path: Path) -> None:
    file, log = tmp_path / "cabin.toml", tmp_path / "bridge.log"
    file.write_text(CABIN.format(port=broker.port))
    with log.open("wb") as out:
        bridge = subprocess.Popen(
            [sys.executable, "-m", "bridge", "run", "--config", str(file)], stdout=out, stderr=subprocess.STDOUT
        )
        try:
            wait_until(lambda: "connected as" in log.read_text(), 30, "the bridge is up")
            for _ in range(4):
                broker.publish("oplog/volts", "25.9")
                broker.publish("oplog/probe", "55.0")
                time.sleep(0.6)
            wait_until(lambda: "over-temperature" in log.read_text(), 30, "the trip is told")
        finally:
            bridge.send_signal(signal.SIGTERM)
            code = bridge.wait(20)
    lines = log.read_text().splitlines()
    assert code == 0
    assert lines.count("north: watched, 12 cells, watch only") == 1
    assert sum(line.startswith("north: tripped by over-temperature") for line in lines) == 1
    assert lines[-1] == "stopped as asked"
    assert not [line for line in lines if PYTHON.search(line)]
