"""What happens in an invented house while somebody listens: banks on charge, weather, mains, machines.

Every signal is a function of the second. The generator is small on purpose: it has the right sizes and company
(a bank's volts answer its own amps, acid lags, air drifts, a starter battery does what it likes), not the chemistry.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable, Iterator
from typing import NamedTuple

Signal = Callable[[float], float]
#: Somewhere in November, so that stamps look like stamps.
START = 1_795_590_000.0


class Truth(NamedTuple):
    """What one place in the traffic really is: of which bank, which quantity, in which unit, and its sign."""

    bank: str
    quantity: str
    unit: str = ""
    sign: str = "charging"


class Row(NamedTuple):
    """One topic: how often it speaks [s], what it says at a second, and what in it is true."""

    topic: str
    every: float
    says: Callable[[float], object]
    truth: dict[str, Truth]
    retain: bool


class House:
    """Collects rows; plays them in the order of time.

    Attributes
    ----------
    name, equalised : str
        The house, and the bank that is being equalised.
    shapes : dict
        Cells in series of each bank.
    """

    def __init__(self, name: str, seed: int, equalised: str, shapes: dict[str, int], seconds: int = 600) -> None:
        self.name, self.equalised, self.shapes, self.seconds = name, equalised, shapes, seconds
        self.chance = random.Random(seed)
        self.rows: list[Row] = []

    def say(
        self,
        topic: str,
        every: float,
        says: object,
        truth: dict[str, Truth] | Truth | None = None,
        *,
        retain: bool = False,
    ) -> None:
        """Add a topic; `says` is a constant, or a function of the second; a lone truth is that of the whole payload."""
        what = says if callable(says) else lambda _t: says
        told = {"": truth} if isinstance(truth, Truth) else truth or {}
        self.rows.append(Row(topic, every, what, told, retain))

    def noise(self, sigma: float) -> Signal:
        """White noise that is the same each time the same second is asked."""
        seed = self.chance.random()
        return lambda t: random.Random(f"{seed}{round(t, 3)}").gauss(0.0, sigma)

    def around(self, middle: float, swing: float = 0.0, period: float = 900.0, sigma: float = 0.0) -> Signal:
        """A value that wanders slowly about its middle."""
        phase, noise = self.chance.uniform(0.0, 6.28), self.noise(sigma)
        return lambda t: middle + swing * math.sin(6.28 * t / period + phase) + noise(t)

    def steps(self, *levels: float, dwell: float = 90.0, sigma: float = 0.0) -> Signal:
        """A value that jumps between levels (a pump, a kettle, a cloud)."""
        noise, salt = self.noise(sigma), self.chance.random()
        return lambda t: random.Random(f"{salt}{int(t // dwell)}").choice(levels) + noise(t)

    def counter(self, start: float, per_second: float) -> Signal:
        """A count that only rises."""
        return lambda t: start + per_second * t

    def messages(self) -> Iterator[dict[str, object]]:
        """Traffic as recorded: epoch seconds, topic, payload, retain."""
        due = []
        for row in self.rows:
            if row.retain:
                due.append((0.0, row))
                continue
            t = self.chance.uniform(0.0, row.every)
            while t < self.seconds:
                due.append((t, row))
                t += row.every * self.chance.uniform(0.97, 1.03)
        due.sort(key=lambda entry: entry[0])
        for t, row in due:
            said = row.says(t)
            payload = said if isinstance(said, str) else json.dumps(said)
            yield {"t": round(START + t, 3), "topic": row.topic, "payload": payload, "retain": row.retain}

    def truths(self) -> dict[str, Truth]:
        """What is true, by ``topic`` and ``topic pointer`` (or SenML name)."""
        return {f"{row.topic} {at}".strip(): truth for row in self.rows for at, truth in row.truth.items()}


class Bank(NamedTuple):
    """The signals of one bank."""

    volts: Signal
    amps: Signal
    acid: Signal
    watts: Signal


def bank(
    house: House, cells: int, per_cell: float, amps: float, acid: float, *, way: str = "steady", sigma: float = 0.004
) -> Bank:
    """A bank on charge: `way` is steady, rising, tapering, cut (the charger drops out for a while) or resting."""
    noise_v, noise_a = house.noise(sigma * cells / 6), house.noise(max(0.01, 0.004 * abs(amps)))
    dip = house.chance.uniform(0.3, 0.6) * house.seconds

    def flows(t: float) -> float:
        if way == "cut" and dip <= t < dip + 75.0:
            return -0.4
        if way == "tapering":
            return amps * math.exp(-t / 5200.0)
        if way == "rising":
            return amps * (1.0 + t / 9000.0)
        return amps

    def current(t: float) -> float:
        return flows(t) + noise_a(t)

    def volts(t: float) -> float:
        sag = 0.0
        if way == "cut" and dip <= t < dip + 75.0:
            sag = -0.24 * (1.0 - math.exp(-(t - dip) / 12.0))
        elif way == "cut" and t >= dip + 75.0:
            sag = -0.24 * math.exp(-(t - dip - 75.0) / 9.0)
        climb = 0.00003 * t if way in {"rising", "steady"} and per_cell < 2.6 else 0.0
        return cells * (per_cell + sag + climb) + noise_v(t)

    warm = house.noise(0.02)
    slope = 0.6 / 3600.0 * min(4.0, abs(amps) / 8.0)
    return Bank(volts, current, lambda t: acid + slope * t + warm(t), lambda t: volts(t) * current(t))
