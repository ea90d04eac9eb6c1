"""Makes the demo's recording: one round of the invented cabin, from the simulated bank, with the bridge in the loop.

``python -m tests.bench.simulated_bank.record`` writes the packaged recording and, beside the sample messages, a second
one that also holds what the relay reported. The same rules that will watch the recording decided here when the relay
opens, so that the current in it falls when it should. The same seed gives the same bytes.
"""

from __future__ import annotations

import argparse
import gzip
import heapq
import json
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import NamedTuple

import numpy as np

from bridge.config import load
from bridge.message import Message
from bridge.outlets.homie import HomieOutlet
from bridge.runtime.engine import Engine
from rules.events import Command, Event, Order, Outcome
from tests.bench.simulated_bank.charger import Setting, weather
from tests.bench.simulated_bank.chemistry import Cells, advance
from tests.bench.simulated_bank.simulate import Scenario, build

#: 2026-06-15 08:00 UTC.
START = 1_781_510_400.0
STEP = 10.0
HOUR = 3600.0
TREE = "homie/5/tarn-hut-north"
RELAY_STATE = "cabin/charger/state"

#: Two tired strings in a hut that is hot in the afternoon.
NORTH = Scenario(
    strings=2,
    settings=(Setting(28.8, 50.0), Setting(32.0, 50.0)),
    equalise=2.67,
    hold=16.0,
    free=0.00006,
    wake_rate=0.19,
    laggard=1.0,
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
#: From order to contact; and in the demo's recording the charge goes on so much longer after the hold: there each cut
#: and each start may cost the hold clock a sample or two, and it must still come to its end [s]. The demo's own relay
#: ends the current when it opens.
RELAY_TAKES, LATE = 0.25, 60.0
#: What the person does before the charger may start, and when [s since the start].
ACTS = (
    (600.0, "revival/checklist/set", "keeper of the hut"),
    (660.0, "safety/prove/set", "true"),
    (900.0, "revival/command/set", "start"),
)


class Recorded(NamedTuple):
    """One message as it reached the broker [s since the epoch]."""

    t: float
    topic: str
    payload: str


class Hut:
    """The bridge, its relay and the person who comes back after a trip; messages wait in `coming`."""

    def __init__(self, cabin: Path, late: float) -> None:
        loaded = load(cabin)
        self._late = late
        self._charges_until = 0.0
        self.coming: list[Recorded] = [Recorded(START + at, f"{TREE}/{path}", word) for at, path, word in ACTS]
        heapq.heapify(self.coming)
        self.closed = False
        self.events: list[Event] = []
        self._engine = Engine(loaded.cabin.banks, loaded.routes, self._carry)
        self._homie = HomieOutlet(loaded.cabin, lambda *_, **__: None)
        self._commands = frozenset(self._homie.command_topics())

    def until(self, at: float) -> Iterator[Recorded]:
        """Let the bridge hear everything that comes before `at`, and yield it."""
        while self.coming and self.coming[0].t < at:
            recorded = heapq.heappop(self.coming)
            yield recorded
            message = Message(recorded.topic, recorded.payload.encode(), recorded.t)
            if recorded.topic == RELAY_STATE:
                self.closed = recorded.payload == "ON"
            if recorded.topic not in self._commands:
                self._engine.accept(message)
                continue
            self._engine.advance(recorded.t)
            told = self._homie.command(message, recorded.t)
            if isinstance(told, Command):
                self._engine.fold(told)

    def charging(self, now: float) -> bool:
        """Whether current flows when the generator runs [s since the epoch]."""
        return self.closed or now < self._charges_until

    def _carry(self, outcome: Outcome) -> None:
        if isinstance(outcome, Order):
            word = "ON" if outcome.action == "allow" else "OFF"
            heapq.heappush(self.coming, Recorded(round(outcome.at + RELAY_TAKES, 3), RELAY_STATE, word))
            if outcome.reason == "hold-complete":
                self._charges_until = outcome.at + self._late
        elif isinstance(outcome, Event):
            self.events.append(outcome)
            # What follows the hold in the demo's recording is the minute too long, which nobody comes back for.
            if outcome.kind == "trip" and not self._charges_until:
                back = outcome.at + RETURNS * HOUR
                heapq.heappush(self.coming, Recorded(round(back, 3), f"{TREE}/safety/reset/set", "true"))
                heapq.heappush(self.coming, Recorded(round(back + 120.0, 3), f"{TREE}/revival/command/set", "resume"))


class Meters:
    """Shunt and probes of the hut: a shunt every 10 s, everything else every 30 s."""

    def __init__(self, random: np.random.Generator, degrees: float) -> None:
        self._random = random
        self._probes = [degrees, degrees]

    def _later(self, now: float, delay: float) -> float:
        return round(now + delay + self._random.uniform(0.0, 0.3), 3)

    def shunt(self, now: float, volts: float, current: float) -> Recorded:
        """What the shunt says of the last step."""
        millivolts = round((volts + self._random.normal(0.0, 0.004)) * 1000)
        amps = round(current + self._random.normal(0.0, 0.05), 1) + 0.0
        payload = json.dumps({"dc": {"mv": millivolts, "a": amps}, "t": int(now)})
        return Recorded(self._later(now, 0.05), "cabin/shunt", payload)

    def thermometers(self, now: float, cells: Cells, air: float) -> list[Recorded]:
        """Probe 1 in N5 [degF], probe 2 in N2 [degC], air [degC]; a probe lags its electrolyte by three minutes."""
        follows = 1.0 - np.exp(-30.0 / 180.0)
        for probe, cell in enumerate(((1, 1), (0, 4))):
            self._probes[probe] += (float(cells.temperature[cell]) - self._probes[probe]) * follows
        first, second = (value + self._random.normal(0.0, 0.03) for value in self._probes)
        return [
            Recorded(self._later(now, 3.0), "cabin/probe1", f"{first * 1.8 + 32.0:.1f}"),
            Recorded(self._later(now, 5.0), "cabin/probe2", f"{second:.2f}"),
            Recorded(self._later(now, 7.0), "cabin/air", f"{air:.1f}"),
        ]


def round_of_north(seed: int, hut: Hut) -> Iterator[Recorded]:
    """Yield every message of the round, the relay's own reports included."""
    random = np.random.default_rng(seed)
    count = int(NORTH.longest * HOUR / STEP)
    at = START + STEP * np.arange(count, dtype=np.float64)
    air = weather(at, NORTH.ambient, NORTH.swing, random, warmest=15.5)
    cells = build(NORTH, random, float(air[0]))
    meters = Meters(random, float(air[0]))
    volts, current = float(cells.volts.sum(axis=1)[0]), 0.0
    for index in range(count):
        now = float(at[index])
        heapq.heappush(hut.coming, meters.shunt(now, volts, current))
        if index % 3 == 0:
            for message in meters.thermometers(now, cells, float(air[index])):
                heapq.heappush(hut.coming, message)
        yield from hut.until(now + STEP)
        hours = (now - START) / HOUR
        powered = hut.charging(now) and not NIGHT[0] <= hours < NIGHT[1]
        setting = NORTH.settings[int(hours >= RAISED)]
        ceiling = setting.volts + 0.01 * np.sin(hours * 1.7)
        volts, each = advance(cells, ceiling, setting.amps if powered else 0.0, float(air[index]), STEP)
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
    """Make both recordings and say what happened."""
    packaged = Path(str(files("bridge.demo")))
    parser = argparse.ArgumentParser(prog="python -m tests.bench.simulated_bank.record", description=__doc__)
    parser.add_argument("--seed", type=int, default=4)
    parser.add_argument("--out", type=Path, default=packaged / "round.jsonl.gz", metavar="FILE")
    beside = Path("sample_messages/rounds/tarn-hut-north-with-relay.jsonl.gz")
    parser.add_argument("--with-relay", type=Path, default=beside, metavar="FILE")
    arguments = parser.parse_args()
    cabin = packaged / "cabin.toml"
    write(arguments.out, list(round_of_north(arguments.seed, Hut(cabin, LATE))), with_relay=False)
    hut = Hut(cabin, 0.0)
    write(arguments.with_relay, list(round_of_north(arguments.seed, hut)), with_relay=True)
    for event in hut.events:
        print(f"{(event.at - START) / HOUR:7.3f} h  {event.kind}: {json.dumps(dict(event.detail), default=str)}")


if __name__ == "__main__":
    main()
