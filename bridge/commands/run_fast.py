"""`revival run --fast`: a recorded round through the owner's own cabin file, where nobody else can hear it."""

from __future__ import annotations

import logging
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from rich.console import Console

from bridge.app import running
from bridge.clock import PacedClock
from bridge.commands.demo import FASTEST, LASTS, page_port
from bridge.commands.replay import recorded
from bridge.config import Loaded, load
from bridge.demo.broker import embedded_broker
from bridge.demo.performance import Performance
from bridge.demo.player import TOLD, Player
from bridge.demo.summary import Episode, summary
from bridge.errors import UsageError
from bridge.report.owner import Units
from bridge.settings import JournalSettings, PageSettings
from rules.events import Event, Outcome


def in_private(loaded: Loaded, port: int, folder: Path, heard: Iterable[str], page: int | None) -> Loaded:
    """Return the same cabin on a broker, a journal and a page of its own; nothing of it leaves this machine.

    Parameters
    ----------
    port : int
        Of the private broker on loopback.
    folder : Path
        For the journal.
    heard : iterable of str
        Topics of the recording. A relay that does not report in it cannot answer: its bank is watched only.
    page : int or None
        Port for the page on loopback; None = no page.

    Raises
    ------
    UsageError
        Nothing in the recording is mapped by the file.
    """
    cabin, topics = loaded.cabin, frozenset(heard)
    if not topics & {mapping.topic for mapping in loaded.routes.mappings}:
        raise UsageError(
            f"{cabin.source}: none of its meters' topics is in the recording, which has "
            f"{', '.join(sorted(topics)[:5])}: name the file that this traffic was recorded for"
        )
    broker = replace(
        cabin.broker, host="127.0.0.1", port=port, protocol="5", tls=False, username=None, password=None, ca_file=None
    )
    relays = tuple(relay for relay in cabin.relays if relay.state_topic in topics)
    answered = {bank for relay in relays for bank in relay.banks}
    banks = {name: bank if name in answered else replace(bank, relay=None) for name, bank in cabin.banks.items()}
    shown = cabin.page.temperature if cabin.page is not None else PageSettings.temperature
    return replace(
        loaded,
        cabin=replace(
            cabin,
            banks=banks,
            broker=broker,
            relays=relays,
            journal=JournalSettings(folder / "fast.db"),
            influx=None,
            notify=None,
            parcels=None,
            page=None if page is None else PageSettings(port=page, temperature=shown),
            discovery_prefix=None,
            time_source="auto",
        ),
    )


def run_fast(config: Path, recording: Path, speed: float | None) -> int:
    """Play the recording through the file, show it live, sum it up."""
    if speed is not None and not 1.0 <= speed <= FASTEST:
        raise UsageError(f"--speed {speed:g}: between 1 and {FASTEST:.0f}")
    loaded = load(config)
    messages = sorted(recorded(recording), key=lambda message: message.at)
    if not messages:
        raise UsageError(f"{recording}: no message in it")
    console = Console()
    logging.basicConfig(level=logging.ERROR)
    with tempfile.TemporaryDirectory(prefix="revival-fast-") as name, embedded_broker(Path(name)) as port:
        private = in_private(loaded, port, Path(name), (message.topic for message in messages), page_port())
        hours = (messages[-1].at - messages[0].at) / 3600.0
        pace = speed or min(FASTEST, max(1.0, hours * 3600.0 / LASTS))
        console.print(
            f"{recording.name}: {hours:.1f} recorded hours through {config}, {pace:,.0f} seconds in one, on a broker "
            "of its own: no meter, relay, database or person hears it."
        )
        for bank in private.cabin.banks.values():
            if bank.relay is None and loaded.cabin.banks[bank.id].relay is not None:
                console.print(f"{bank.id}: watched only, for its relay does not report in this recording")
        if not any(message.topic.endswith(TOLD) for message in messages):
            console.print("Nobody starts, resets or ends a round in this recording: what they would be told is said.")
        if private.cabin.page is not None:
            console.print(f"Watch it in a browser: http://127.0.0.1:{private.cabin.page.port}/")
        clock, scale = PacedClock(messages[0].at, pace), Units.of(loaded.cabin).temperature
        with running(private, clock) as service:
            player = Player("127.0.0.1", port, messages, clock)
            performance = Performance(service, player, clock, scale)
            trips: list[Episode] = []
            carry = service.engine.carry

            def watch(outcome: Outcome, carry: Callable[[Outcome], None] = carry) -> None:
                if type(outcome) is Event and outcome.kind == "trip":
                    trips.append(Episode(outcome, 0.0))
                carry(outcome)

            service.engine.carry = watch
            try:
                performance.run(console, lambda: pace)
                console.print(summary(service, private.cabin.journal.path, trips, performance.seconds, scale))
            except KeyboardInterrupt:
                console.print("ended before the recording was")
            finally:
                player.close()
                performance.stop()
    return 0
