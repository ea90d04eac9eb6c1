"""`revival replay`: recorded traffic through the same engine, offline, as fast as it can."""

from __future__ import annotations

import argparse
import gzip
import sys
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import IO

from rich.console import Console
from rich.progress import Progress

from bridge.commands.files import add_config, add_force, fresh, output
from bridge.config import Loaded, load
from bridge.errors import RequestError, UsageError
from bridge.intake.recorded import parse_recorded
from bridge.message import Message
from bridge.outlets.homie import BACK, HomieOutlet
from bridge.report import scored
from bridge.runtime.engine import Engine
from bridge.runtime.replayed import StateLines, event_line
from bridge.settings import Cabin
from bridge.words.bank_name import called
from bridge.words.bank_status import event_words
from bridge.words.spoken import spoken
from rules.events import Command, Derived, Event, Outcome, moment

#: The bar moves on after so many messages.
SHOWN_EVERY = 5000
#: So many phases, trips and kinds of what was dropped are named for each bank.
NAMED = 10


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_config(parser)
    parser.add_argument(
        "recording", nargs="?", type=Path, metavar="FILE", help="recorded traffic, JSON Lines, may be gzipped"
    )
    parser.add_argument("--messages", type=Path, metavar="FILE", help="the same")
    parser.add_argument(
        "--output", "--derived", type=Path, metavar="OUT", help="derived states, JSON Lines (else standard output)"
    )
    parser.add_argument(
        "--json", action="store_true", help="states as JSON Lines on a terminal too, which else shows a summary"
    )
    parser.add_argument("--events", type=Path, metavar="OUT", help="events and relay orders, JSON Lines")
    parser.add_argument(
        "--score", type=Path, metavar="NOTEBOOK", help="CSV when,bank,what: what happened when; say how right it was"
    )
    parser.add_argument("--picture", type=Path, metavar="OUT.svg", help="draw the score, one picture a bank")
    add_force(parser)


class Course:
    """What a person wants to know of a recording: phases, trips, hours and hold of each bank."""

    def __init__(self) -> None:
        self.phases: dict[str, list[tuple[str, float]]] = {}
        self.last: dict[str, Derived] = {}
        self.first: dict[str, float] = {}
        self.hold: dict[str, float] = {}
        self.trips: dict[str, list[Event]] = {}

    def see(self, derived: Derived) -> None:
        """Take in one state."""
        bank = derived.bank
        phases = self.phases.setdefault(bank, [])
        if not phases or phases[-1][0] != derived.phase:
            phases.append((derived.phase, derived.at))
        self.first.setdefault(bank, derived.at)
        self.hold[bank] = max(self.hold.get(bank, 0.0), derived.hold_hours)
        self.last[bank] = derived

    def words(self, scale: str, rejected: Mapping[tuple[str, str], int]) -> list[str]:
        """Return it in some twenty lines, and what was dropped."""
        lines = []
        for bank, last in self.last.items():
            begun = self.first[bank]
            lines.append(
                f"{called(bank)}: {moment(begun)} to {moment(last.at)}, {(last.at - begun) / 3600.0:.1f} h of record"
            )
            phases = self.phases[bank]
            ends = [*[at for _, at in phases[1:]], last.at]
            told = [
                f"  {phase}: {(end - at) / 3600.0:.1f} h from {moment(at)}"
                for (phase, at), end in zip(phases, ends, strict=True)
            ]
            lines += _some(told, "phases")
            lines.append(f"  hold: {self.hold[bank]:.1f} h" + (f" of {last.hold_needed:g} h" * (last.hold_needed > 0)))
            if last.remaining_hours is not None:
                lines.append(f"  remaining at the end: {last.remaining_hours:.1f} h")
            trips = self.trips.get(bank, [])
            said = [f"  {moment(event.at)} {event_words(event, scale)}" for event in trips]
            lines += _some(said, "trips") or ["  no trip"]
        dropped = [f"{many} of {of}, {why}" for (of, why), many in rejected.items() if many]
        lines.append(f"dropped: {', '.join(dropped[:NAMED]) or 'nothing'}")
        return [spoken(line, scale) for line in lines]


def _some(lines: list[str], what: str) -> list[str]:
    """Return the first lines, and how many are left out."""
    return [*lines[:NAMED], *([f"  and {len(lines) - NAMED} more {what}"] if len(lines) > NAMED else [])]


def recorded(path: Path) -> Iterator[Message]:
    """Yield messages of a recording, in order.

    Raises
    ------
    UsageError
        A line is no message; names file and line.
    """
    opener = gzip.open if path.suffix == ".gz" else open
    try:
        with opener(path, "rb") as lines:
            for number, line in enumerate(lines, 1):
                if not line.strip():
                    continue
                try:
                    yield parse_recorded(line)
                except RequestError as error:
                    raise UsageError(f"{path}, line {number}: not a recorded message: {error}") from None
    except OSError as error:
        raise UsageError(f"{path}: {error.strerror or error}") from error


def refuse_foreign(cabin: Cabin, mapped: Collection[str], topics: Iterable[str]) -> None:
    """Refuse a recording that a cabin file maps nothing of.

    Raises
    ------
    UsageError
        None of these topics is mapped; names some of them, and what to play instead.
    """
    heard: set[str] = set()
    for topic in topics:
        if topic in mapped:
            return
        heard.add(topic)
    raise UsageError(
        f"{cabin.source}: none of its meters' topics is in the recording, which has "
        f"{', '.join(sorted(heard)[:5]) or 'no message'}: play it through the file that it was recorded for "
        "(--config FILE), or play what your own meters said (revival export --format messages)"
    )


def _say_untold(cabin: Cabin, told: Collection[str]) -> None:
    """Say of which banks nobody did anything in the recording: what their relay may do is not judged by it."""
    for bank in cabin.banks.values():
        if bank.relay is not None and bank.id not in told:
            print(
                f"{bank.id}: nobody confirms a checklist, proves or starts in this recording, so its safety is not "
                "judged: what the lines say of relay, proof and permit is no word on the round as it was",
                file=sys.stderr,
            )


def _notes(arguments: argparse.Namespace, banks: Iterable[str]) -> tuple[scored.Note, ...]:
    if arguments.picture is not None and arguments.score is None:
        raise UsageError("--picture draws a score: name the notebook with --score")
    return () if arguments.score is None else scored.read_notebook(arguments.score, banks)


def run(arguments: argparse.Namespace) -> int:
    """Replay one recording."""
    named = [path for path in (arguments.recording, arguments.messages) if path is not None]
    if len(named) != 1:
        raise UsageError("name one recording, as in revival replay round.jsonl.gz")
    for path in (arguments.output, arguments.events, arguments.picture):
        fresh(path, arguments.force)
    loaded = load(arguments.config)
    notes = _notes(arguments, loaded.cabin.banks)
    own = HomieOutlet(loaded.cabin, lambda *_, **__: None).command_topics()
    mapped = {mapping.topic for mapping in loaded.routes.mappings} | set(own)
    looks: dict[str, list[scored.Look]] = {note.bank: [] for note in notes}
    shown = arguments.output is not None or arguments.score is None
    summary = shown and arguments.output is None and not arguments.json and sys.stdout.isatty()
    course = Course()
    with ExitStack() as stack:
        out = stack.enter_context(output(arguments.output))
        events = None if arguments.events is None else stack.enter_context(output(arguments.events))
        refuse_foreign(loaded.cabin, mapped, (message.topic for message in recorded(named[0])))
        engine, count, told = _played(loaded, named[0], looks, out if shown and not summary else None, events, course)
    if summary:
        print("\n".join(course.words(loaded.cabin.degrees, engine.rejected)))
    _say(notes, looks, arguments.picture)
    _say_untold(loaded.cabin, told)
    refused = sum(engine.rejected.values())
    print(f"{count} messages, {refused} values rejected, {engine.duplicates} duplicates", file=sys.stderr)
    return 0


def _played(
    loaded: Loaded,
    messages: Path,
    looks: dict[str, list[scored.Look]],
    out: IO[str] | None,
    events: IO[str] | None,
    course: Course,
) -> tuple[Engine, int, set[str]]:
    """Play a recording through an engine, what it says into the outputs.

    Returns
    -------
    tuple
        The engine, the number of messages, and the banks for which somebody did something.
    """
    told: set[str] = set()
    lines = StateLines()

    def carry(outcome: Outcome) -> None:
        if isinstance(outcome, Derived):
            line = lines.line(outcome)
            if line is None:
                return
            course.see(outcome)
            if out is not None:
                out.write(line + "\n")
            if outcome.bank in looks:
                looks[outcome.bank].append(scored.look(outcome))
            return
        if isinstance(outcome, Event) and outcome.kind == "trip":
            course.trips.setdefault(outcome.bank, []).append(outcome)
        if events is not None:
            events.write(event_line(outcome) + "\n")

    engine = Engine(loaded.cabin.banks, loaded.routes, carry, wanted=lines.wanted)
    homie = HomieOutlet(loaded.cabin, lambda *_, **__: None)
    command_topics = frozenset(homie.command_topics())
    count = 0
    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task(f"replay of {messages.name}", total=None)
        for message in recorded(messages):
            count += 1
            if count % SHOWN_EVERY == 0:
                progress.update(task, description=f"replay of {messages.name}: {count} messages")
            if message.topic == homie.state_topic:
                if message.payload == BACK:
                    _started_again(engine, message.at)
                else:  # until here it watched
                    engine.advance(message.at)
            elif message.topic in command_topics:
                act = homie.command(message, message.at)
                if act is not None and not isinstance(act, Event):
                    engine.advance(act.at)
                    engine.fold(act)
                if isinstance(act, Command):
                    told.add(act.bank)
            else:
                engine.accept(message)
    return engine, count, told


def _started_again(engine: Engine, at: float) -> None:
    """Let the bridge come up again as it did: nothing was judged while it was away."""
    engine.skip(at)
    for bank in engine.banks:
        engine.fold(Command(bank, "boot", at))


def _say(notes: tuple[scored.Note, ...], looks: dict[str, list[scored.Look]], picture: Path | None) -> None:
    """Print how right it was, bank by bank, and draw it; several banks have their names in the pictures' own."""
    for bank, seen in looks.items():
        if not seen:
            print(f"{called(bank)}: the recording says nothing of it")
            continue
        truth = scored.told(notes, bank)
        print(scored.table(bank, scored.score(truth, seen)))
        if picture is not None:
            drawn = picture if len(looks) == 1 else picture.with_stem(f"{picture.stem}-{bank}")
            drawn.write_text(scored.picture(bank, truth, seen), encoding="utf-8")
