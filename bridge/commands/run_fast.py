"""`revival run --fast`: a recorded round through the owner's own cabin file, where nobody else can hear it."""

from __future__ import annotations

import logging
import tempfile
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from statistics import median

from rich.console import Console

from bridge import clock as time_source
from bridge.app import running
from bridge.clock import PacedClock
from bridge.commands.demo import FASTEST, LASTS, SLOW_FOR, SLOWLY, TAKES, page_port
from bridge.commands.files import PLACES
from bridge.commands.replay import recorded, refuse_foreign
from bridge.config import Loaded, load
from bridge.demo.broker import embedded_broker
from bridge.demo.performance import Performance
from bridge.demo.player import TOLD, Player
from bridge.demo.summary import Episode, summary
from bridge.errors import UsageError
from bridge.message import Message
from bridge.report.owner import Units
from bridge.settings import Cabin, JournalSettings, PageSettings, RelaySettings
from bridge.words.catalogue import OWN_TOO
from rules.events import Event, Outcome
from rules.safety import window

#: What comes of a person's word; until then it goes on at this pace, for so long at most [recorded s per s], [s].
ANSWERS = ("command", "refused", "hand", "unsure")
OF_THE_BRIDGE = ("boot", "health")
CRAWLING, LONGEST_ANSWER = 0.1, 2.0
#: The order to prove a relay, and how long a proof takes at most [recorded s].
PROVE, PROOF_LASTS = "/safety/prove/set", 15.0
PROVE_OWN = f"/safety/{OWN_TOO}/set"
#: The bridge holds a relay open for five minutes of its own, give or take [recorded s]; so many usual steps without a
#: message are a silence [1].
HELD_OPEN, MISSED = 600.0, 2.0
#: It goes slowly from so long before somebody speaks [recorded s].
EARLIER = 1.0


#: What a recording without a word of a person shows, and what shows more.
UNTOLD = (
    "Nobody confirms a checklist, starts or notes anything in this recording: a round does not begin in it, and its "
    "banks may stay idle unless they are charged for ten minutes. What people told is exported with it where the cabin "
    "file is named and the stretch begins before the checklist (revival export --config FILE --format messages "
    "--since TIME); the round as it was is shown by revival report."
)


def in_private(loaded: Loaded, port: int, folder: Path, heard: Iterable[str], page: int | None) -> Loaded:
    """Return the same cabin on a broker, a journal and a page of its own; nothing of it leaves this machine.

    Parameters
    ----------
    port : int
        Of the private broker on loopback.
    folder : Path
        For the journal.
    heard : iterable of str
        Topics of the recording. A relay that does not report in it cannot answer, and where nobody starts a round the
        permit it would need is never given: its bank is watched only.
    page : int or None
        Port for the page on loopback; None = no page.

    Raises
    ------
    UsageError
        Nothing in the recording is mapped by the file.
    """
    cabin, topics = loaded.cabin, frozenset(heard)
    refuse_foreign(cabin, {mapping.topic for mapping in loaded.routes.mappings}, topics)
    broker = replace(
        cabin.broker, host="127.0.0.1", port=port, protocol="5", tls=False, username=None, password=None, ca_file=None
    )
    relays = tuple(relay for relay in cabin.relays if relay.state_topic in topics and _told(cabin, relay, topics))
    answered = {bank for relay in relays for bank in relay.banks}
    banks = {name: bank if name in answered else replace(bank, relay=None) for name, bank in cabin.banks.items()}
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
            page=None if page is None else PageSettings(port=page),
            discovery_prefix=None,
            time_source="auto",
        ),
    )


def _told(cabin: Cabin, relay: RelaySettings, topics: Iterable[str]) -> bool:
    """Tell whether somebody speaks to the relay's banks in the recording, under the names of this file."""
    names = tuple(f"{cabin.root}/{cabin.site}-{bank}/" for bank in relay.banks)
    return any(topic.startswith(names) and topic.endswith(TOLD) for topic in topics)


def _unanswered(cabin: Cabin, bank: str, messages: Sequence[Message]) -> str:
    """Say which of the two that a relay needs the recording has not."""
    topics = {message.topic for message in messages}
    silent = [relay for relay in cabin.relays if bank in relay.banks and relay.state_topic not in topics]
    if silent:
        return f"in this recording its relay does not report on {silent[0].state_topic}"
    return f"in this recording nobody starts a round of {cabin.site}-{bank}, as this file names it"


def belonging(recording: Path, topics: frozenset[str]) -> Path | None:
    """Return the cabin file that a recording belongs to: one of its name, or one beside it, or the invented cabin's."""
    name = recording.name.partition(".")[0]
    demo = Path(str(files("bridge.demo").joinpath("cabin.toml")))
    for file in (recording.with_name(f"{name}.toml"), recording.with_name("cabin.toml"), demo):
        if file.is_file() and topics & {mapping.topic for mapping in load(file).routes.mappings}:
            return file
    return None


def without_proofs(private: Loaded, messages: Sequence[Message]) -> tuple[list[Message], list[str]]:
    """Return the recording without its proof tests, and the banks for which one was begun in it.

    In a proof the relay answers this bridge's own orders to the second, which one that is only recorded cannot do.
    """
    states = {relay.state_topic for relay in private.cabin.relays}
    proofs = [message for message in messages if message.topic.endswith((PROVE, PROVE_OWN))]
    lasts = {proof.topic: _lasts(private, proof.topic) for proof in proofs}
    kept = [
        message
        for message in messages
        if message not in proofs
        and not (
            message.topic in states and any(0.0 <= message.at - proof.at <= lasts[proof.topic] for proof in proofs)
        )
    ]
    device = f"{private.cabin.root}/{private.cabin.site}"
    proved = {proof.topic for proof in proofs}
    orders = {bank: {f"{device}-{bank}{PROVE}", f"{device}-{bank}{PROVE_OWN}"} for bank in private.cabin.banks}
    return kept, [bank for bank, topics in orders.items() if topics & proved]


def _lasts(private: Loaded, topic: str) -> float:
    """Return how long a proof takes at most that was ordered there, with the relay's own auto-off or without [s]."""
    if not topic.endswith(PROVE_OWN):
        return PROOF_LASTS
    relays = [bank.relay for bank in private.cabin.banks.values() if bank.relay is not None]
    return 2.0 * PROOF_LASTS + max([window(relay)[1] for relay in relays], default=0.0)


def without_own_openings(private: Loaded, messages: Sequence[Message]) -> list[Message]:
    """Return the recording without what its relays reported while its own bridge held them open for minutes.

    That bridge tried a proof again, or had just been started: nobody spoke, every meter went on, and the relay closed
    by itself. This bridge has no such reason, and would take the opening for a hand's. One beside a silent meter stays:
    this bridge opens the relay there as well.
    """
    kept = list(messages)
    for relay in private.cabin.relays:
        reports = [message for message in messages if message.topic == relay.state_topic]
        states = [(message, message.payload.decode(errors="replace").strip()) for message in reports]
        opened: Message | None = None
        for before, (message, state) in zip([None, *states], states, strict=False):
            if state == relay.state_open and before is not None and before[1] == relay.state_closed:
                opened = message
            elif state == relay.state_closed and opened is not None:
                if _of_its_own(private, relay, messages, opened.at, message.at):
                    gone = (opened.at, message.at)
                    kept = [m for m in kept if m.topic != relay.state_topic or not gone[0] <= m.at <= gone[1]]
                opened = None
    return kept


def _of_its_own(
    private: Loaded, relay: RelaySettings, messages: Sequence[Message], opened: float, closed: float
) -> bool:
    """Tell whether nobody spoke in an opening of minutes, and no meter of its banks had fallen silent before it."""
    spoke = any(message.topic.endswith(TOLD) and opened - HELD_OPEN <= message.at <= closed for message in messages)
    if closed - opened > HELD_OPEN or spoke:
        return False
    for topic in {mapping.topic for mapping in private.routes.mappings if mapping.bank in relay.banks}:
        heard = [message.at for message in messages if message.topic == topic and message.at <= opened]
        usual = median([after - before for before, after in pairwise(heard)]) if len(heard) > 1 else 0.0
        if topic != relay.state_topic and usual and opened - heard[-1] > MISSED * usual:
            return False
    return True


class _Pace:
    """How fast to play: where somebody speaks as slowly as the demo, and nearly standing until the bridge has heard it.

    What a person tells and what the relay then reports go two ways through the bridge: faster, one overtakes the other.
    """

    def __init__(self, messages: Iterable[Message], usual: float, clock: PacedClock) -> None:
        self.spoken = sorted(message.at for message in messages if message.topic.endswith(TOLD))
        self.usual, self.clock = usual, clock
        self.heard = 0
        self._owed_since = 0.0

    def __call__(self) -> float:
        """Return the pace at this moment [recorded s per s]."""
        at = self.clock.now()
        last = bisect_right(self.spoken, at + EARLIER)
        if not last or at > self.spoken[last - 1] + SLOW_FOR:
            self._owed_since = 0.0
            return self.usual
        if self.heard >= bisect_right(self.spoken, at):
            self._owed_since = 0.0
            return min(self.usual, SLOWLY)
        now = time_source.monotonic()
        self._owed_since = self._owed_since or now
        # What was told under other names is never heard.
        return min(self.usual, SLOWLY if now - self._owed_since > LONGEST_ANSWER else CRAWLING)


def _say_what_is_missing(console: Console, owners: Cabin, private: Cabin, messages: Sequence[Message]) -> None:
    """Say which banks are watched only, and that nobody begins a round, where the recording has no more."""
    for bank in private.banks.values():
        if bank.relay is None and owners.banks[bank.id].relay is not None:
            console.print(f"{bank.id}: watched only, for {_unanswered(owners, bank.id, messages)}")
    if not any(message.topic.endswith(TOLD) for message in messages):
        console.print(UNTOLD)


def run_fast(config: Path, recording: Path, speed: float | None) -> int:
    """Play the recording through the file, show it live, sum it up."""
    if speed is not None and not 1.0 <= speed <= FASTEST:
        raise UsageError(f"--speed {speed:g}: between 1 and {FASTEST:.0f}")
    messages = sorted(recorded(recording), key=lambda message: message.at)
    if not messages:
        raise UsageError(f"{recording}: no message in it")
    if config == PLACES[0] and not config.exists():  # nobody named one, and none is here
        config = belonging(recording, frozenset(message.topic for message in messages)) or config
    loaded = load(config)
    console = Console()
    logging.basicConfig(level=logging.ERROR)
    with tempfile.TemporaryDirectory(prefix="revival-fast-") as name, embedded_broker(Path(name)) as port:
        private = in_private(loaded, port, Path(name), (message.topic for message in messages), page_port())
        hours = (messages[-1].at - messages[0].at) / 3600.0
        pace = speed or min(FASTEST, max(1.0, hours * 3600.0 / LASTS))
        console.print(
            f"{recording.name}: {hours:.1f} recorded hours through {config}, {pace:,.0f} seconds in one, on a broker "
            "of its own: no meter, relay, database or person hears it. " + (TAKES if speed is None else "")
        )
        _say_what_is_missing(console, loaded.cabin, private.cabin, messages)
        if private.cabin.page is not None:
            console.print(f"Watch it in a browser: http://127.0.0.1:{private.cabin.page.port}/")
        clock, scale = PacedClock(messages[0].at, pace), Units.of(loaded.cabin).temperature
        played, proved = without_proofs(private, messages)
        if proved:
            played = without_own_openings(private, played)
        with running(private, clock) as service:
            for named in proved:
                memory = service.engine.memories[named]
                proof = memory.interlock.proof._replace(at=messages[0].at, passed=True, current_proved=True)
                service.engine.memories[named] = memory._replace(interlock=memory.interlock._replace(proof=proof))
                console.print(f"{named}: the relay's proof is taken from the recording")
            player = Player("127.0.0.1", port, played, clock)
            performance = Performance(service, player, clock, scale)
            paced = _Pace(played, pace, clock)
            trips: list[Episode] = []
            carry = service.engine.carry

            def watch(outcome: Outcome, carry: Callable[[Outcome], None] = carry) -> None:
                if type(outcome) is Event and outcome.kind == "trip":
                    trips.append(Episode(outcome, 0.0))
                if type(outcome) is Event and outcome.kind in ANSWERS:
                    paced.heard += outcome.detail.get("name") not in OF_THE_BRIDGE
                carry(outcome)

            service.engine.carry = watch
            try:
                performance.run(console, paced)
                console.print(summary(service, private.cabin.journal.path, trips, performance.seconds, scale))
            except KeyboardInterrupt:
                console.print("ended before the recording was")
            finally:
                player.close()
                performance.stop()
    return 0
