"""Makes the demo's recording: one round of the invented cabin, from the simulated bank.

``python -m bridge.demo.record`` writes the packaged recording and, beside the sample messages, a second one that also
holds what the relay reported. The same seed gives the same bytes.
"""

from __future__ import annotations

import argparse
import gzip
import json
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np

from bridge.demo.charger import Setting, weather
from bridge.demo.chemistry import advance
from bridge.demo.simulate import Scenario, build

#: 2026-06-15 08:00 UTC.
START = 1_781_510_400.0
STEP = 10.0
COMMAND = "homie/5/tarn-hut-north/revival/command/set"
RESET = "homie/5/tarn-hut-north/safety/reset/set"
RELAY_STATE = "cabin/charger/state"

#: Two tired strings in a hut that is hot in the afternoon; the second string wakes later.
NORTH = Scenario(
    strings=2,
    settings=(Setting(28.8, 50.0), Setting(32.0, 50.0)),
    equalise=2.67,
    hold=16.0,
    free=0.00006,
    wake_rate=0.22,
    laggard=1.04,
    hard=0.18,
    lost=0.03,
    charged=0.03,
    gas=0.009,
    packed=1.3,
    ambient=26.0,
    swing=8.0,
    longest=70.0,
)
#: The generator is off: one night, after the first day [h since the start].
NIGHT = (14.6, 22.4)
#: The person turns the charger up to the equalising voltage [h since the start].
RAISED = 32.8
#: The person looks at the trip, and lets it go on, so long after it [h].
RETURNS = 3.6


class Recorded(NamedTuple):
    """One message as it reached the broker [s since the epoch]."""

    t: float
    topic: str
    payload: str


class Hand:
    """The relay as a fixed procedure would work it: second hot sample cuts, a person resets, the hold's end cuts."""

    def __init__(self) -> None:
        self.closed = False
        self.change: tuple[float, bool] | None = None
        self.hot = 0
        self.hold = 0.0
        self.finished = False
        self.last = START

    def hear(self, message: Recorded) -> None:
        """Take a message; `change` is then the relay's next change, if any."""
        if message.topic == COMMAND:
            self.change = (message.t + 0.5, True)
        elif message.topic == "cabin/probe1":
            self.hot = self.hot + 1 if float(message.payload) > 110.0 else 0
            if self.hot == 2 and self.closed:
                self.change = (message.t + 4.0, False)
        elif message.topic == "cabin/shunt":
            dc = json.loads(message.payload)["dc"]
            if dc["mv"] >= 31_680 and self.closed:
                self.hold += message.t - self.last
            self.last = message.t
            if self.hold >= 16 * 3600.0 and not self.finished:
                self.finished = True
                self.change = (message.t + 2.0, False)


def later(now: float, delay: float, random: np.random.Generator) -> float:
    """When a message arrives: the meter's delay [s] and a little of the network's."""
    return round(now + delay + random.uniform(0.0, 0.3), 3)


def round_of_north(seed: int, relay: Hand) -> Iterator[Recorded]:
    """Yield every message of the round, the relay's own reports included."""
    random = np.random.default_rng(seed)
    count = int(NORTH.longest * 3600.0 / STEP)
    at = START + STEP * np.arange(count, dtype=np.float64)
    air = weather(at, NORTH.ambient, NORTH.swing, random, warmest=15.5)
    cells = build(NORTH, random, float(air[0]))
    probes = [float(air[0]), float(air[0])]
    resume_at, reset_at = np.inf, np.inf
    volts, current = float(cells.volts.sum(axis=1)[0]), 0.0
    start_at = START + 900.0
    for index in range(count):
        now = float(at[index])
        # Meters report where the last step left the bank; arrival trails by the meter's and the network's delay.
        millivolts = round((volts + random.normal(0.0, 0.004)) * 1000)
        amps = round(current + random.normal(0.0, 0.05), 1) + 0.0
        shunt = json.dumps({"dc": {"mv": millivolts, "a": amps}, "t": int(now)})
        heard = [Recorded(later(now, 0.05, random), "cabin/shunt", shunt)]
        if index % 3 == 0:
            for probe, cell in enumerate(((1, 1), (0, 4))):
                probes[probe] += (float(cells.temperature[cell]) - probes[probe]) * (1.0 - np.exp(-30.0 / 180.0))
            first, second = (value + random.normal(0.0, 0.03) for value in probes)
            heard += [
                Recorded(later(now, 3.0, random), "cabin/probe1", f"{first * 1.8 + 32.0:.1f}"),
                Recorded(later(now, 5.0, random), "cabin/probe2", f"{second:.2f}"),
                Recorded(later(now, 7.0, random), "cabin/air", f"{air[index]:.1f}"),
            ]
        if start_at <= now < start_at + STEP:
            heard.append(Recorded(now + 8.0, COMMAND, "start"))
        if reset_at <= now < reset_at + STEP:
            heard.append(Recorded(now + 8.0, RESET, "true"))
        if resume_at <= now < resume_at + STEP:
            heard.append(Recorded(now + 8.0, COMMAND, "resume"))
        for message in heard:
            yield message
            was_closed = relay.closed
            relay.hear(message)
            if relay.change is not None:
                when, closed = relay.change
                relay.change = None
                if closed != was_closed:
                    relay.closed = closed
                    yield Recorded(round(when, 3), RELAY_STATE, "ON" if closed else "OFF")
                    if not closed and not relay.finished:
                        reset_at = now + RETURNS * 3600.0
                        resume_at = reset_at + 120.0
        hours = (now - START) / 3600.0
        powered = relay.closed and not NIGHT[0] <= hours < NIGHT[1]
        limit, amps = NORTH.settings[int(hours >= RAISED)]
        ceiling = limit + 0.01 * np.sin(hours * 1.7)
        volts, each = advance(cells, ceiling, amps if powered else 0.0, float(air[index]), STEP)
        current = float(each.sum())


def write(path: Path, messages: list[Recorded], with_relay: bool) -> None:
    """Write JSON Lines, gzipped without a date so that the same messages give the same bytes."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as raw, gzip.GzipFile(filename="", fileobj=raw, mode="wb", mtime=0) as file:
        for message in messages:
            if with_relay or message.topic != RELAY_STATE:
                line = {"t": message.t, "topic": message.topic, "payload": message.payload, "retain": False}
                file.write(json.dumps(line, separators=(",", ":")).encode() + b"\n")


def main() -> None:
    """Make both recordings."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=4)
    parser.add_argument("--out", type=Path, default=Path(__file__).with_name("round.jsonl.gz"))
    rounds = Path("sample_messages/rounds")
    parser.add_argument(
        "--with-relay", type=Path, default=rounds / "tarn-hut-north-with-relay.jsonl.gz", metavar="FILE"
    )
    arguments = parser.parse_args()
    messages = sorted(round_of_north(arguments.seed, Hand()), key=lambda message: message.t)
    write(arguments.out, messages, with_relay=False)
    write(arguments.with_relay, messages, with_relay=True)


if __name__ == "__main__":
    main()
