"""`revival demo`: a recorded round of the invented cabin through the very bridge that runs in a real one."""

from __future__ import annotations

import argparse
import json
import logging
import secrets
import socket
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from rich.console import Console

from bridge import clock as time_source
from bridge.app import running
from bridge.clock import PacedClock
from bridge.commands.replay import recorded
from bridge.config import load
from bridge.demo.broker import embedded_broker
from bridge.demo.elsewhere import Login, elsewhere, refuse_if_heard
from bridge.demo.performance import Performance, keep
from bridge.demo.player import ANSWERS, Player
from bridge.demo.relay import DemoRelay
from bridge.demo.summary import Episode, summary
from bridge.errors import UsageError
from bridge.message import Message
from bridge.report.owner import Units
from bridge.runtime.service import Service
from rules.events import Event, Order, Outcome

#: Real seconds that the demo takes at its own pace, without the slow moments [s].
LASTS = 75.0
#: How long the person in front of it has to wait, with the slow moments and a usual machine.
#: Before words whose degrees not everybody is used to.
IN_FAHRENHEIT = (
    "This invented house counts in US units: 100 °F is 37.8 °C, 110 °F is 43.3 °C, 1 cfm is 1.7 m³/h. A cabin file of "
    "your own has the unit that you choose, metric where nothing is written."
)
TAKES = "It takes about two minutes, longer on a busy machine."
#: Around an order to the relay time runs so slowly that a person, and a relay, can follow [recorded s per s];
#: for so long after the order [recorded s].
SLOWLY, SLOW_FOR = 10.0, 8.0
#: The one meter of the demo that shows the charge.
SHUNT = "cabin/shunt"
#: Longer than this nothing waits for the relay [s].
LONGEST_ANSWER = 2.0
#: Faster than this the relay of the demo cannot be followed [recorded s per s].
FASTEST = 20_000.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "--speed", type=float, metavar="X", help="recorded seconds per second (default: the whole in about two minutes)"
    )
    parser.add_argument("--keep", action="store_true", help="leave everything running to look at, until Ctrl-C")
    parser.add_argument(
        "--broker",
        metavar="HOST:PORT",
        help="your own broker instead of the embedded one; everything stays below a topic of its own there",
    )
    parser.add_argument("--username", metavar="NAME", help="login at that broker")
    parser.add_argument("--password-file", type=Path, metavar="FILE", help="its password, the only line of a file")


def login(arguments: argparse.Namespace) -> Login:
    """Return user and password as they were given.

    Raises
    ------
    UsageError
        The file cannot be read, or a login without a broker of one's own.
    """
    if arguments.broker is None and (arguments.username or arguments.password_file):
        raise UsageError("--username and --password-file belong to --broker: the demo's own broker asks for neither")
    if arguments.password_file is None:
        return Login(arguments.username, None)
    try:
        return Login(arguments.username, arguments.password_file.read_text(encoding="utf-8").strip())
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"--password-file {arguments.password_file}: {error}") from None


@contextmanager
def chosen_broker(wanted: str | None, folder: Path) -> Iterator[tuple[str, int]]:
    """Yield the owner's broker, or start one of our own."""
    if wanted is None:
        with embedded_broker(folder) as port:
            yield "127.0.0.1", port
        return
    host, _, port_text = wanted.rpartition(":")
    if not host or not port_text.isdigit():
        raise UsageError(f"--broker {wanted}: write HOST:PORT, for example localhost:1883")
    yield host, int(port_text)


def demo_cabin(folder: Path, host: str, port: int, page: int | None = None) -> Path:
    """Copy the packaged cabin file, pointed at this broker, into a folder of its own; with a page on this port."""
    text = files("bridge.demo").joinpath("cabin.toml").read_text(encoding="utf-8")
    text = text.replace('host = "localhost"', f'host = "{host}"').replace("port = 1883", f"port = {port}")
    if page is not None:
        text += f'\n[page]\nlisten = "127.0.0.1:{page}"\n'
    path = folder / "cabin.toml"
    path.write_text(text, encoding="utf-8")
    return path


def page_port() -> int | None:
    """Return a free port for the page; none where what serves it is not installed."""
    if any(find_spec(name) is None for name in ("starlette", "uvicorn", "dygraphs")):
        return None
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def run(arguments: argparse.Namespace) -> int:
    """Play the round, show it live, sum it up."""
    if arguments.speed is not None and not 1.0 <= arguments.speed <= FASTEST:
        raise UsageError(f"--speed {arguments.speed:g}: between 1 and {FASTEST:.0f}")
    console = Console()
    logging.basicConfig(level=logging.ERROR)
    with tempfile.TemporaryDirectory(prefix="revival-demo-") as name, chosen_broker(arguments.broker, Path(name)) as at:
        folder = Path(name)
        loaded = load(demo_cabin(folder, *at, page=page_port()))
        messages = list(recorded(Path(str(files("bridge.demo").joinpath("round.jsonl.gz")))))
        who, prefix = login(arguments), ""
        if arguments.broker is not None:
            # Below a name that no cabin file can know, so that no meter is drowned and no relay hears an order.
            prefix = f"revival-demo-{secrets.token_hex(8)}"
            loaded = elsewhere(loaded, prefix, folder, who)
            messages = [message._replace(topic=f"{prefix}/{message.topic}") for message in messages]
            refuse_if_heard(*at, loaded.cabin.relays[0], who)
            prefix += "/"
        hours = (messages[-1].at - messages[0].at) / 3600.0
        console.print(
            f"Tarn hut, bank north: {hours:.0f} recorded hours over the broker at {at[0]}:{at[1]}, journal in {folder}"
        )
        if loaded.cabin.degrees == "degF":
            console.print(IN_FAHRENHEIT)
        if arguments.speed is None:
            console.print(TAKES)
        speed = arguments.speed or max(1.0, hours * 3600.0 / LASTS)
        clock = PacedClock(messages[0].at, speed)
        with running(loaded, clock) as service:
            if loaded.cabin.page is not None:
                console.print(f"Watch it in a browser: http://127.0.0.1:{loaded.cabin.page.port}/")
            else:
                console.print('To watch it in a browser install the extra "page" (pip install "revival-bridge[page]").')
            relay = DemoRelay(*at, loaded.cabin.relays[0], who)
            player = Player(*at, messages, clock, who)
            scale = Units.of(loaded.cabin).temperature
            played = Played(service, player, relay, clock, speed, prefix, scale)
            try:
                played.run(console)
                seconds = played.performance.seconds
                console.print(summary(service, loaded.cabin.journal.path, played.episodes, seconds, scale))
                if arguments.keep:
                    keep(console, str(folder / "cabin.toml"))
            finally:
                player.close()
                relay.close()
                played.performance.stop()
    return 0


class Played:
    """The demo's performance: its own relay answers, and time runs slowly around an order to it."""

    def __init__(
        self,
        service: Service,
        player: Player,
        relay: DemoRelay,
        clock: PacedClock,
        speed: float,
        prefix: str = "",
        scale: str = "degC",
    ) -> None:
        self.prefix = prefix
        self.service, self.player, self.relay, self.clock, self.speed = service, player, relay, clock, speed
        self.performance = Performance(service, player, clock, scale)
        self.episodes: list[Episode] = []
        self._slow_until = 0.0
        self._ordered, self._owes_since = 0, 0.0
        self._count_orders()
        self._carry = service.engine.carry
        service.engine.carry = self._watch

    def run(self, console: Console) -> None:
        """Play to the end."""
        self.performance.run(console, self.pace, self._waits, self._flows)

    def pace(self) -> float:
        """Return full speed, but slowly while the relay is being waited for."""
        return SLOWLY if self.clock.now() < self._slow_until else self.speed

    def _count_orders(self) -> None:
        session, topic = self.service.relays[next(iter(self.service.relays))].guard.session, self.relay.relay.topic
        publish = session.publish

        def counted(name: str, payload: bytes, **options: Any) -> int | None:
            number = publish(name, payload, **options)
            self._ordered += number is not None and name == topic and bool(payload)
            return number

        session.publish = counted  # type: ignore[method-assign, assignment]  # the demo counts what leaves for the relay

    def _flows(self, message: Message) -> Message:
        """Return the shunt's message as the demo's own relay lets it be: no charge flows through an open one."""
        if self.relay.closed or message.topic != self.prefix + SHUNT:
            return message
        told = json.loads(message.payload)
        told["dc"]["a"] = min(0.0, told["dc"]["a"])
        return message._replace(payload=json.dumps(told).encode())

    def _waits(self) -> bool:
        """Whether the relay has not yet heard an order, or the bridge not yet its answer; for so long at most."""
        relay, moment = self.relay, time_source.monotonic()
        answered = self.performance.arrived[relay.relay.state_topic] if relay.relay.state_topic else relay.reported
        if self._ordered <= relay.told and relay.reported <= answered:
            self._owes_since = moment
            return False
        if moment - self._owes_since > LONGEST_ANSWER:
            self._ordered = relay.told
        return moment - self._owes_since <= LONGEST_ANSWER

    def _watch(self, outcome: Outcome) -> None:
        """See every outcome before it is carried: time slows down before the order leaves."""
        if type(outcome) is Order:
            self._slow_until = self.clock.now() + SLOW_FOR
            self.clock.run_at(SLOWLY)
            # However the player holds the clock: what answers an order comes later than the order.
            self.clock.limit = max(self.clock.limit, self.clock.now() + ANSWERS)
        if type(outcome) is Event and outcome.kind in ("trip", "proof-begun"):
            if outcome.kind == "trip":
                self.episodes.append(Episode(outcome, self._probed_at(outcome.bank)))
            self._slow_until = self.clock.now() + SLOW_FOR
            self.clock.run_at(SLOWLY)
        self._carry(outcome)
        if type(outcome) is Event and outcome.kind == "cut-confirmed":
            for episode in self.episodes:
                episode.confirm(outcome, self.relay.opened_at)

    def _probed_at(self, bank: str) -> float:
        """Return when the last reading of a thermometer in this bank was published [s, monotonic]."""
        probes = self.service.engine.banks[bank].by_quantity.get("electrolyte_temperature", ())
        return max((self.player.sent_at.get(self.prefix + probe.source, 0.0) for probe in probes), default=0.0)
