"""What the bridge writes to the card in a day with eight stamped readings a second.

``python -m tests.bench.bridge.card``.

A real bridge on a real disk, a broker on loopback with the shipped window. The operating system's own account of what
the process had written to the device is read after a minute's settling and at the end. In a few minutes that is the log
alone; what the journal's file itself has grown by is written once more, about every hour, and told beside it.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from pathlib import Path

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from tests.bench.bridge.cabin import BANK, HEAD, meter
from tests.bench.bridge.drain import mosquitto, start

#: Topic, quantity, unit, middle value: eight of them speak each second.
METERS = (
    ("volts", "voltage", "V", 26.3),
    ("amps", "current", "A", 12.0),
    ("watts", "power", "W", 310.0),
    ("cell", "electrolyte_temperature", "degC", 24.0),
    ("air", "ambient_temperature", "degC", 11.0),
    ("ac-volts", "ac_voltage", "V", 231.0),
    ("ac-amps", "ac_current", "A", 1.6),
    ("ac-watts", "ac_power", "W", 370.0),
)


def written(pid: int) -> int:
    """Bytes that the process has had written to the device so far."""
    lines = Path(f"/proc/{pid}/io").read_text().splitlines()
    return int(dict(line.split(": ") for line in lines)["write_bytes"])


def measure(folder: Path, seconds: int, in_flight: int) -> tuple[float, float]:
    """Gigabytes a day: written so far, and what the file grew by."""
    with mosquitto(folder) as port:
        head = HEAD.format(port=port).replace(f"port = {port}\n", f"port = {port}\nin_flight = {in_flight}\n")
        text = head + BANK.format(bank="b0")
        text += "".join(meter("b0", topic, quantity, unit, "/v", True) for topic, quantity, unit, _ in METERS)
        path = folder / "cabin.toml"
        path.write_text(text)
        client = Client(CallbackAPIVersion.VERSION2, client_id="meters")
        client.connect("127.0.0.1", port)
        client.loop_start()
        process = start(path)
        try:
            began = at_start = 0.0
            for second in range(60 + seconds):
                for number, (topic, _, _, middle) in enumerate(METERS):
                    value = middle * (1.0 + 0.002 * ((second * 7 + number * 3) % 11 - 5))
                    stamp = round(time.time(), 3)
                    client.publish(f"bench/b0/{topic}", json.dumps({"v": round(value, 3), "t": stamp}), qos=1)
                if second == 60:
                    began, at_start = time.monotonic(), float(written(process.pid))
                time.sleep(1.0)
            rate = (written(process.pid) - at_start) / (time.monotonic() - began)
        finally:
            process.terminate()
            process.wait(20)
        grown = (folder / "bench.db").stat().st_size / (60.0 + seconds)
        client.disconnect()
        client.loop_stop()
    return rate * 86400.0 / 1e9, grown * 86400.0 / 1e9


def main() -> None:
    """Measure with the broker's default window and with the shipped one."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=480)
    parser.add_argument("--folder", type=Path, default=Path.cwd(), help="on the disk that is meant, not in memory")
    arguments = parser.parse_args()
    for in_flight in (20, 1000):
        with tempfile.TemporaryDirectory(dir=arguments.folder) as name:
            day, grown = measure(Path(name), arguments.seconds, in_flight)
        print(f"in_flight = {in_flight}: {day:.2f} GB a day; the file grows by {grown:.2f} GB a day", flush=True)


if __name__ == "__main__":
    main()
