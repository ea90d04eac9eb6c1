"""What a quiet second costs, and a bank-day in replay whose meters speak every five seconds.

``python -m tests.bench.bridge.quiet`` prints microseconds (for a machine with nothing else to do) and looks;
``--count SECOND`` folds only, for callgrind: run it for two numbers of seconds and take the difference.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rules.bank.model import Bank
from rules.events import Reading, Tick
from rules.step import Memory, step
from rules.step.memory import initial
from tests.bench.bridge.cabin import BANK, HEAD, meter, stamped_cabin
from tests.bench.bridge.fold import START, bank

#: Seconds in a day [s]; how often the meters speak [s].
DAY, EVERY = 86_400, 5


def values(second: int) -> tuple[tuple[str, float], ...]:
    """What the three meters of the bank show."""
    turn = second // EVERY
    volts, amps, degrees = 26.0 + 0.01 * (turn % 7), 24.0 + 0.1 * (turn % 5), 20.0 + 0.1 * (turn % 3)
    return ("voltage", volts), ("current", amps), ("electrolyte_temperature", degrees)


def folded(one: Bank, memory: Memory, first: int, seconds: int, every: int = EVERY) -> tuple[Memory, int]:
    """So many seconds with three readings every so often [s], 0 = never; and how many of them were looked at."""
    looks = 0
    for second in range(first, first + seconds):
        at = START + second
        if every and second % every == 0:
            for name, value in values(second):
                memory, _ = step(one, memory, Reading(one.id, name, value, at, at))
        before = memory.judged_at
        memory, _ = step(one, memory, Tick(at))
        looks += memory.judged_at != before
    return memory, looks


def seconds_cost() -> dict[str, float]:
    """Microseconds a second in the mean over an hour, with meters that speak and with none; looks are in it."""
    one = bank("north")
    memory, _ = folded(one, initial(), 0, 3600)
    began = time.process_time()
    spoken, looks = folded(one, memory, 3600, 3600)
    middle = time.process_time()
    silent, _ = folded(one, spoken, 7200, 900, every=0)  # they fall silent, and that is told
    before = time.process_time()
    _, quiet = folded(one, silent, 8100, 3600, every=0)
    return {
        "second_with_meters_every_5_s_us": round(1e6 * (middle - began) / 3600, 2),
        "looks_an_hour_with_meters_every_5_s": looks,
        "quiet_second_us": round(1e6 * (time.process_time() - before) / 3600, 2),
        "looks_in_a_quiet_hour": quiet,
    }


def recorded(path: Path, days: int, together: bool) -> int:
    """Write the traffic of so many days, three topics or all in one message; how many messages."""
    count = 0
    with path.open("w") as out:
        for second in range(0, days * DAY, EVERY):
            t = START + second
            volts, amps, degrees = [value for _, value in values(second)]
            said = {"shunt": json.dumps({"v": volts, "t": t, "a": amps, "c": degrees})}
            if not together:
                said = {"volts": f"{volts:.2f}", "amps": f"{amps:.2f}", "probe": f"{degrees:.2f}"}
            for topic, payload in said.items():
                out.write(json.dumps({"t": t, "topic": f"bench/b0/{topic}", "payload": payload}) + "\n")
                count += 1
    return count


def replayed(days: int, together: bool) -> float:
    """How many times real time one core replays so many days; what the start of the program takes is in it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        recorded(folder / "messages.jsonl", days, together)
        config = folder / "cabin.toml"
        if together:
            config = stamped_cabin(folder, 1, 1, 3)
        else:
            config.write_text(
                HEAD.format(port=1)
                + BANK.format(bank="b0")
                + meter("b0", "volts", "voltage", "V")
                + meter("b0", "amps", "current", "A")
                + meter("b0", "probe", "electrolyte_temperature", "degC")
            )
        files = ["--config", config, "--messages", folder / "messages.jsonl", "--derived", folder / "derived.jsonl"]
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "bridge", "replay", *map(str, files)], check=True, stderr=subprocess.DEVNULL
        )
        return days * DAY / (time.perf_counter() - began)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=7)
    parser.add_argument("--count", type=int, metavar="SECONDS", help="fold so many after an hour, say nothing")
    parser.add_argument("--silent", action="store_true", help="with --count: no meter speaks")
    arguments = parser.parse_args()
    if arguments.count is not None:
        started, _ = folded(bank("north"), initial(), 0, 3600)
        started, _ = folded(bank("north"), started, 3600, 900, every=0)
        folded(bank("north"), started, 4500, arguments.count, every=0 if arguments.silent else EVERY)
    else:
        told: dict[str, float] = seconds_cost()
        told["replay_times_real_one_message"] = round(replayed(arguments.days, together=True))
        told["replay_times_real_three_messages"] = round(replayed(arguments.days, together=False))
        print(json.dumps(told, indent=2))
