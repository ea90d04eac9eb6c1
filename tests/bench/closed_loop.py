"""Bank, charger, relay and person in a closed loop with the real engine, faults drawn at random; one sentence is held.

*Whenever the cell was over its limit for longer than the budget that `revival check` prints, the charger was off.*

``python tests/bench/closed_loop.py [--lives 300] [--seed 1]`` lives so many half-hours to hours, each from its own
seed, and prints every second in which the sentence was false. Time is the simulator's: nothing waits. What is drawn:
cells that heat, volts that run away, meters that lose, delay, double or garble what they say or fall silent, a second
sender on the probe's topic, a bridge that is killed or frozen, a broker that is gone, a relay that hears nothing for a
while, hands on the relay's button, resets and resumes as soon as they are taken.

Left out is what `README.md` does not promise: a probe that is wrong but plausible, a welded contact, another source.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
from abc import ABC, abstractmethod
from pathlib import Path
from typing import NamedTuple

from bridge.config import load
from bridge.config.time_budget import RELAY_SECONDS, losses, time_budget
from bridge.message import Message
from bridge.runtime.engine import Engine
from rules.bank import Bank
from rules.events import Command, Order, Outcome
from rules.safety import LINK_LOST, PROVED
from tests.support.cabin import shunt, write_cabin

START = 1_795_590_000.0
AMPS, VOLTS, CELLS = 20.0, 28.0, 12
#: True values count as over their limit from a little above it: a probe shows tenths, a shunt millivolts [K], [V].
HOT, HIGH = 0.1, 0.005
#: The bridge remembers its banks once a minute, and at once what it has told [s].
KEPT_EVERY = 60


class Found(NamedTuple):
    """A second in which the sentence was false: the life's seed, when, for how long already [s], and what was drawn."""

    seed: int
    second: int
    lasted: int
    allowed: float
    drawn: str


class Trouble(NamedTuple):
    """Something that goes wrong from one second to another."""

    kind: str
    begins: int
    ends: int


#: Kind -> shortest and longest [s].
KINDS = {
    "hot cell": (300, 1500), "volts run away": (60, 600), "probe loses": (60, 900), "probe silent": (30, 400),
    "probe unplugged": (10, 200), "probe garbles": (10, 300), "probe late": (60, 600), "probe doubled": (60, 600),
    "second sender": (60, 900), "shunt silent": (30, 400), "shunt garbles": (10, 200), "bridge killed": (2, 200),
    "bridge frozen": (2, 28), "broker gone": (2, 200), "relay deaf": (2, 200), "hand on the button": (1, 120),
    "hand opens": (1, 5), "proof": (1, 2),
}  # fmt: skip
#: While these last nothing of the bridge reaches the relay: its own auto-off covers them, as `check` says.
LINKLESS = frozenset({"broker gone", "relay deaf", "bridge frozen"})


class World(ABC):
    """One bank on one charger, its meters and whoever stands there; who inherits carries what is said and ordered.

    Parameters
    ----------
    kinds : dict
        What may go wrong: kind -> shortest and longest [s].
    length : int, optional
        How long it lives [s]; drawn where none is given.
    """

    def __init__(
        self, seed: int, bank: Bank, auto_off: float, kinds: dict[str, tuple[int, int]], length: int | None = None
    ) -> None:
        self.dice = random.Random(seed)
        self.seed, self.bank, self.auto_off = seed, bank, auto_off
        budget = time_budget(bank)
        assert budget is not None
        self.budget = budget.needed
        self.length = length or self.dice.randrange(1800, 3600)
        self.troubles = self._draw(kinds)
        self.period = self.dice.randrange(2, 11)
        self.rate = self.dice.uniform(20.0, 200.0)
        self.at = START
        self.now: frozenset[str] = frozenset()
        self.temperature, self.cell = self.dice.uniform(25.0, 42.5), VOLTS / CELLS
        self.closed, self.told_at = False, START
        self.longest, self.over = 0, 0  # over its limit with the charger on at a stretch, and in all [s]

    def _draw(self, kinds: dict[str, tuple[int, int]]) -> list[Trouble]:
        drawn = self.dice.choices(list(kinds), k=self.dice.randrange(2, 9))
        drawn.append(self.dice.choice(["hot cell", "volts run away"]))
        found = []
        for kind in drawn:
            least, most = kinds[kind]
            begins = self.dice.randrange(120, self.length)
            found.append(Trouble(kind, begins, begins + self.dice.randrange(least, most)))
        return sorted(found, key=lambda each: each.begins)

    def has(self, kind: str) -> bool:
        """Whether it is so now."""
        return kind in self.now

    def wrong(self, second: int) -> frozenset[str]:
        """What is drawn for this second."""
        return frozenset(each.kind for each in self.troubles if each.begins <= second < each.ends)

    @property
    def is_over(self) -> bool:
        """Whether a cell truly is over its limit."""
        limits = self.bank.limits
        return self.temperature >= limits.temperature + HOT or self.cell > limits.cell_voltage + HIGH

    @property
    def drawn(self) -> str:
        """What was drawn, in words."""
        troubles = ", ".join(f"{each.kind} {each.begins}-{each.ends}" for each in self.troubles)
        return f"every {self.period} s, {self.rate:.0f} K/h: {troubles}"

    @abstractmethod
    def act(self, what: str, /, **argument: object) -> None:
        """A person's act."""

    @abstractmethod
    def reset_or_resume(self) -> None:
        """A person's next act after a trip."""

    @abstractmethod
    def _say(self, topic: str, payload: bytes, late: float) -> None:
        """Publish, so much later [s]."""

    def _report(self) -> None:
        if not self.has("relay deaf"):
            self._say("cabin/charger/state", b"ON" if self.closed else b"OFF", 1.0)

    def _nature(self, second: int) -> None:
        if self.closed and self.at - self.told_at >= self.auto_off:
            self.closed = False
            self._report()
        if self.has("hot cell") and self.closed:
            self.temperature += self.rate / 3600.0
        else:
            self.temperature += (25.0 - self.temperature) / 3600.0
        aim = 2.9 if self.has("volts run away") and self.closed else VOLTS / CELLS if self.closed else 2.1
        self.cell += (aim - self.cell) / 20.0

    def _meters(self, second: int) -> None:
        amps = AMPS if self.closed else 0.0
        if second % self.period == 0 and not self.has("shunt silent"):
            text = shunt(self.at, CELLS * self.cell, amps).encode()
            self._say("cabin/shunt", b'{"dc": {"mv": "unavailable"' if self.has("shunt garbles") else text, 0.0)
        if second % self.period == self.period // 2 and not self.has("probe silent"):
            if self.has("probe loses") and self.dice.random() < 0.2:
                return
            shown = f"{round(self.temperature, 1) * 1.8 + 32.0:.2f}".encode()
            if self.has("probe unplugged"):
                shown = b"-196.6"  # -127 degC
            if self.has("probe garbles"):
                shown = self.dice.choice([b"unavailable", b"nan", b"", b"\xff", b"12,6"])
            late = self.dice.uniform(0.0, 8.0) if self.has("probe late") else 0.0
            self._say("cabin/probe", shown, late)
            if self.has("probe doubled"):
                self._say("cabin/probe", shown, late)
            if self.has("second sender") and self.dice.random() < 0.5:
                self._say("cabin/probe", b"86.0", late)  # somebody else's 30 degC on the same topic

    def _hands(self, second: int, before: frozenset[str]) -> None:
        if second == 30:
            self.act("checklist", name="the keeper")
            self.act("prove")
        if second == 80:
            self.act("start")
        if self.has("hand on the button") and second % 7 == 0 and not self.closed:
            self.told_at, self.closed = self.at, True
            self._report()
        if "hand opens" in self.now - before and self.closed:
            self.closed = False
            self._report()
        if "proof" in self.now - before:
            self.act("prove")
        if second % 30 == 15 and second > 100:
            self.reset_or_resume()


class Life(World):
    """A world around the real engine, for a while."""

    def __init__(self, seed: int, folder: Path) -> None:
        self.loaded = load(write_cabin(folder, 1883))
        (bank,) = self.loaded.cabin.banks.values()
        (relay,) = self.loaded.cabin.relays
        super().__init__(seed, bank, relay.auto_off or 0.0, KINDS)
        covered = [loss.after for loss in losses(self.loaded.cabin.broker, relay) if "broker lost" in loss.lost]
        self.linkless = max(self.budget, (covered[0] or 0.0) + RELAY_SECONDS) if covered else self.budget
        self.news = False
        self.standing, self.refreshed = False, 0.0
        self.waiting: list[tuple[float, str, bytes]] = []
        self.alive = True
        self.engine = self._engine()
        self.kept = dict(self.engine.memories)

    def _engine(self) -> Engine:
        return Engine({"north": self.bank}, self.loaded.routes, self._carry)

    def _carry(self, outcome: Outcome) -> None:
        if isinstance(outcome, Order) and outcome.action in ("cut", "allow"):
            self.standing = outcome.action == "allow"
            self._send()
        elif not isinstance(outcome, Order):
            self.news = True

    def _send(self) -> None:
        """An order on its way: half a second later the relay has it, if anything reaches it."""
        self.refreshed = self.at
        if not self.now & LINKLESS:
            self._obey(self.standing)

    def _obey(self, closed: bool) -> None:
        if closed:
            self.told_at = self.at
        self.closed = closed
        self._report()

    def act(self, what: str, /, **argument: object) -> None:
        """A person's act, where there is a bridge that hears it."""
        if self.alive and not self.has("bridge frozen"):
            self.engine.fold(Command("north", what, self.at, "the keeper", argument))

    def reset_or_resume(self) -> None:
        """As soon as each is taken."""
        self.act("reset" if self.engine.memories["north"].interlock.latched else "resume")

    def live(self) -> Found | None:
        """Until the end, or until the sentence is false."""
        lasted = linkless = 0
        self.engine.fold(Command("north", "boot", self.at, argument={"storage": PROVED}))
        for second in range(self.length):
            self.at = START + second
            before, self.now = self.now, self.wrong(second)
            self._bridge(before)
            self._nature(second)
            self._meters(second)
            self._deliver(second)
            self._hands(second, before)
            over = self.is_over
            lasted = lasted + 1 if over and self.closed else 0
            self.longest, self.over = max(self.longest, lasted), self.over + over
            linkless = second if self.now & (LINKLESS | {"bridge killed"}) else linkless
            allowed = self.linkless if linkless and second - linkless <= self.linkless else self.budget
            if lasted > allowed:
                return Found(self.seed, second, lasted, allowed, self.drawn)
        return None

    def _say(self, topic: str, payload: bytes, late: float) -> None:
        if not self.has("broker gone"):
            self.waiting.append((self.at + late, topic, payload))

    def _deliver(self, second: int) -> None:
        if self.has("bridge frozen"):
            return
        due = sorted((each for each in self.waiting if each[0] <= self.at), key=lambda each: each[0])
        self.waiting = [each for each in self.waiting if each[0] > self.at]
        if not self.alive:
            return
        if not self.has("broker gone"):
            for _, topic, payload in due:
                self.engine.accept(Message(topic, payload, self.at))
        self.engine.advance(self.at)
        # What the relay's outlet does: a permit that stands is repeated every third of the auto-off.
        if self.standing and self.at - self.refreshed >= self.auto_off / 3.0:
            self._send()
        if self.news or second % KEPT_EVERY == 0:
            self.kept, self.news = dict(self.engine.memories), False

    def _bridge(self, before: frozenset[str]) -> None:
        ended = before - self.now
        if self.has("bridge killed") and self.alive:
            self.alive, self.standing = False, False
            if not self.now & LINKLESS:
                self._obey(False)  # the guard's will
        if "bridge killed" in ended:
            self.alive = True
            self.engine = self._engine()
            self.engine.memories = dict(self.kept)
            self.engine.skip(self.at)
            self.engine.fold(Command("north", "boot", self.at, argument={"storage": PROVED, "link": LINK_LOST}))
            self._link("" if not self.has("broker gone") else LINK_LOST)
        if not self.alive:
            return
        if "broker gone" in self.now - before:
            self._link(LINK_LOST)
        if "broker gone" in ended:
            self._obey(False)  # a broker that comes back publishes the will, and the cut is sent again
            self._link("", opened="the connection was lost")
        if "bridge frozen" in ended and self.standing and self.at - self.refreshed >= self.auto_off - 2.0:
            self._link("", opened="its auto-off passed")

    def _link(self, link: str, opened: str = "") -> None:
        argument = {"link": link, "opened": opened, "why": "drawn"}
        self.engine.fold(Command("north", "relay-link", self.at, argument=argument))


class Told(NamedTuple):
    """What came of so many lives: how many went over a limit, the longest second that this lasted, what was false."""

    lives: int
    over: int
    longest: int
    false: list[Found]


def lives(seeds: range) -> Told:
    """One life for each seed."""
    found, over, longest = [], 0, 0
    with tempfile.TemporaryDirectory() as folder:
        for seed in seeds:
            life = Life(seed, Path(folder))
            false = life.live()
            found += [] if false is None else [false]
            over, longest = over + (life.over > 0), max(longest, life.longest)
    return Told(len(seeds), over, longest, found)


def main() -> int:
    """Print the counter-examples, and one JSON line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--lives", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    told = lives(range(options.seed, options.seed + options.lives))
    for each in told.false:
        print(each)
    print(json.dumps(told._asdict() | {"false": len(told.false)}))
    return 1 if told.false else 0


if __name__ == "__main__":
    sys.exit(main())
