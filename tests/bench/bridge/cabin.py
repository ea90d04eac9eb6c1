"""Cabin files and traffic of any size for the measurements."""

from __future__ import annotations

import json
from pathlib import Path

HEAD = """
[site]
id = "bench"

[broker]
host = "127.0.0.1"
port = {port}

[journal]
path = "bench.db"
"""

BANK = """
[[bank]]
id = "{bank}"
strings = 1
blocks = {{ per_string = 4, cells = 3, capacity = "200 Ah" }}
chargers = [ {{ volts = "32 V", amps = "25 A" }} ]
"""

METER = """
[[bank.meter]]
topic = "bench/{bank}/{topic}"
style = "{style}"
{pointer}quantity = "{quantity}"
unit = "{unit}"
{time}placed = "{placed}"
"""

RELAY = """
[bank.relay]
topic = "bench/{bank}/relay/set"
cut = "OFF"
allow = "ON"
state_topic = "bench/{bank}/relay/state"
auto_off = "none"
"""


def meter(bank: str, topic: str, quantity: str, unit: str, pointer: str = "", stamped: bool = False) -> str:
    """One mapping."""
    placed = "cell" if quantity == "electrolyte_temperature" else ""
    text = METER.format(
        bank=bank,
        topic=topic,
        style="json" if pointer else "plain",
        pointer=f'pointer = "{pointer}"\n' if pointer else "",
        quantity=quantity,
        unit=unit,
        time='time = "/t"\n' if stamped else "",
        placed=placed,
    )
    return text if placed else text.replace('placed = ""\n', "")


def stamped_cabin(folder: Path, port: int, banks: int, values: int) -> Path:
    """Banks whose one topic carries its own time and one or three values."""
    text = HEAD.format(port=port)
    for number in range(banks):
        bank = f"b{number}"
        text += BANK.format(bank=bank) + meter(bank, "shunt", "voltage", "V", "/v", True)
        if values == 3:
            text += meter(bank, "shunt", "current", "A", "/a", True)
            text += meter(bank, "shunt", "electrolyte_temperature", "degC", "/c", True)
    path = folder / "cabin.toml"
    path.write_text(text)
    return path


def stamped_message(number: int, banks: int, values: int, start: float) -> tuple[str, str]:
    """Message `number` of the stream: round robin over banks, each stamped, each different."""
    bank, turn = number % banks, number // banks
    stamp = start + turn * 0.5
    plain: dict[str, float] = {"v": 24.0 + (number % 97) / 50.0, "t": round(stamp, 3), "n": number}
    if values == 3:
        plain |= {"a": 5.0 + (number % 13) / 10.0, "c": 20.0 + (number % 7) / 10.0}
    return f"bench/b{bank}/shunt", json.dumps(plain)
