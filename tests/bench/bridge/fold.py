"""Cost of the fold per reading, of replay, and of one more bank. All in one process, no broker."""

from __future__ import annotations

import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rules.bank.model import Bank, Block, ChargerSetting, Meter
from rules.events import Reading, Tick
from rules.step import step
from rules.step.memory import Memory, initial
from tests.bench.bridge.cabin import BANK, HEAD, meter
from tests.bench.bridge.drain import resident

START = 1_795_590_000.0


def bank(name: str) -> Bank:
    """Three meters on a 24 V string."""
    meters = (
        Meter("voltage", "voltage"),
        Meter("current", "current"),
        Meter("electrolyte_temperature", "electrolyte_temperature", placed="cell"),
    )
    block = Block("N1", 12, 200.0)
    return Bank(name, ((block,),), chargers=(ChargerSetting(32.0, 25.0),), meters=meters)


def folded(one: Bank, memory: Memory, seconds: int, spent: list[int] | None = None) -> Memory:
    """So many seconds of a bulk charge at one sample a second."""
    for second in range(seconds):
        at = START + second
        for name, value in (
            ("voltage", 26.0 + 0.01 * (second % 7)),
            ("current", 24.0 + 0.1 * (second % 5)),
            ("electrolyte_temperature", 20.0 + 0.1 * (second % 3)),
        ):
            began = time.perf_counter_ns()
            memory, _ = step(one, memory, Reading(one.id, name, value, at, at))
            if spent is not None:
                spent.append(time.perf_counter_ns() - began)
        memory, _ = step(one, memory, Tick(at))
    return memory


def step_cost() -> dict[str, float]:
    """Microseconds per reading, and per second of one bank with three samples in it."""
    one = bank("north")
    memory = folded(one, initial(), 3600)
    spent: list[int] = []
    began = time.perf_counter()
    folded(one, memory, 10_000, spent)
    whole = (time.perf_counter() - began) / 10_000
    return {
        "reading_median_us": round(statistics.median(spent) / 1000.0, 2),
        "second_with_three_readings_us": round(1e6 * whole, 1),
    }


def bank_memory() -> dict[str, float]:
    """What one more bank costs [KB], after a day of readings in each."""
    kept: list[Memory] = [folded(bank("first"), initial(), 2000)]
    before = resident(os.getpid())
    for number in range(100):
        kept.append(folded(bank(f"b{number}"), initial(), 2000))
    return {"one_more_bank_kb": round((resident(os.getpid()) - before) / 100 / 1024, 1)}


def recording(path: Path, days: float) -> int:
    """Six series at 1 Hz; how many messages."""
    count = 0
    with path.open("w") as out:
        for second in range(int(days * 86400)):
            t = START + second
            for topic, value in (
                ("volts", 26.0 + 0.01 * (second % 7)),
                ("amps", 24.0 + 0.1 * (second % 5)),
                ("probe", 20.0 + 0.1 * (second % 3)),
                ("probe2", 20.5 + 0.1 * (second % 3)),
                ("air", 12.0 + 0.1 * (second % 4)),
                ("watts", 620.0 + second % 9),
            ):
                out.write(f'{{"t":{t},"topic":"bench/b0/{topic}","payload":"{value:.2f}","retain":false}}\n')
                count += 1
    return count


def replay_cost(days: float) -> dict[str, float]:
    """Messages a second of `revival replay`, and its memory."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        messages = folder / "messages.jsonl"
        count = recording(messages, days)
        config = folder / "cabin.toml"
        config.write_text(
            HEAD.format(port=1)
            + BANK.format(bank="b0")
            + meter("b0", "volts", "voltage", "V")
            + meter("b0", "amps", "current", "A")
            + meter("b0", "probe", "electrolyte_temperature", "degC")
            + meter("b0", "probe2", "electrolyte_temperature", "degC")
            + meter("b0", "air", "ambient_temperature", "degC")
            + meter("b0", "watts", "power", "W")
        )
        began = time.perf_counter()
        files = ["--config", config, "--messages", messages, "--derived", folder / "derived.jsonl"]
        subprocess.run(
            [sys.executable, "-m", "bridge", "replay", *map(str, files)], check=True, stderr=subprocess.DEVNULL
        )
        seconds = time.perf_counter() - began
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return {
        "replay_days": days,
        "replay_messages": count,
        "replay_per_second": round(count / seconds),
        "replay_peak_mb": round(peak, 1),
    }


if __name__ == "__main__":
    wanted = float(sys.argv[1]) if len(sys.argv) > 1 else 7.0
    print(json.dumps(step_cost() | bank_memory() | replay_cost(wanted), indent=2))
