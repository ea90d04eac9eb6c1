"""Simulate a valley of alike banks and keep what their meters showed: ``python -m tests.bench.fleet.keep_valley``.

24 V banks of two strings, each with chemistry of its own (`tests.bench.estimate.kinds.varied`), whose people turn
the charger up after about eight hours and whose hold begins at a current. Five-minute samples, so that a test can play
them all in seconds: `tests/bridge/fleet/valley.json.gz`.
"""

from __future__ import annotations

import gzip
import json
from pathlib import Path

import numpy as np

from tests.bench.estimate.kinds import SLOW, varied, volts24
from tests.bench.simulated_bank.sensors import sample
from tests.bench.simulated_bank.simulate import simulate

BANKS = 12
KEPT = Path(__file__).resolve().parents[2] / "bridge" / "fleet" / "valley.json.gz"
#: Samples of the longest round that is kept: fifty hours.
LONGEST = 600
#: The seed whose record ends before the rules' own hold does.
UNENDED = (3,)
#: Tail current [A], and hours until somebody turns the charger up: mean and spread [h].
TAIL, RAISED = 9.0, (8.0, 1.0)


def main() -> int:
    """Simulate and write."""
    banks = []
    for seed in range(BANKS):
        random = np.random.default_rng((seed, 99))
        scenario = varied(volts24(free=0.002), 9000 + seed)
        scenario = scenario._replace(raise_after=float(random.normal(*RAISED)), at_current=TAIL, hold=16.0)
        run = simulate(scenario, seed)
        seen = sample(run, SLOW, seed)
        # Volts in mV, amps in tenths, electrolyte in tenths of a degree, seconds since the first sample.
        if len(seen.at) > LONGEST or seed in UNENDED:
            continue  # a bank that never came back, or whose record ends before its hold, says nothing of hours
        rows = np.array([seen.at - seen.at[0], 1000 * seen.volts, 10 * seen.amps, 10 * seen.temperature])
        amps = [setting.amps for setting in scenario.settings]
        banks.append({"amps": amps, "hold": scenario.hold, "samples": np.rint(rows).astype(int).tolist()})
        print(seed, scenario.raise_after, len(seen.at))
    with KEPT.open("wb") as out, gzip.GzipFile(fileobj=out, mode="wb", mtime=0, filename="") as packed:
        packed.write(json.dumps({"tail": TAIL, "banks": banks}, separators=(",", ":")).encode())
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
