"""A cabin file with two hundred watch-only banks, for the tests and the benchmark."""

from __future__ import annotations

from pathlib import Path

BANKS = 200

HEAD = """
[site]
id = "tarn-hut"

[broker]
host = "127.0.0.1"
port = {port}

[journal]
path = "revival.db"
{hub}"""

BANK = """
[[bank]]
id = "{bank}"
strings = 1
blocks = {{ per_string = 4, cells = 3, capacity = "200 Ah" }}
meter = [
  {{ topic = "yard/{bank}/shunt", style = "json", pointer = "/v", quantity = "voltage", unit = "V", time = "/t" }},
  {{ topic = "yard/{bank}/shunt", style = "json", pointer = "/a", quantity = "current", unit = "A", time = "/t" }},
  {{ topic = "yard/{bank}/probe", quantity = "electrolyte_temperature", unit = "degC", placed = "cell" }},
]
"""


def many_banks(folder: Path, port: int, *, banks: int = BANKS, hub: bool = False) -> Path:
    """Write it; banks are called b000, b001 and so on."""
    path = folder / "cabin.toml"
    text = HEAD.format(port=port, hub="\n[hub]\n" if hub else "")
    path.write_text(text + "".join(BANK.format(bank=f"b{number:03}") for number in range(banks)))
    return path
