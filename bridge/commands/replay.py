"""`revival replay`: recorded traffic through the same engine, offline, as fast as it can."""

from __future__ import annotations

import argparse
import gzip
import sys
from collections.abc import Collection, Iterable, Iterator
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
from rules.events import Command, Derived, Event, Outcome

#: The bar moves on after so many messages.
SHOWN_EVERY = 5000


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
    parser.add_argument("--events", type=Path, metavar="OUT", help="events and relay orders, JSON Lines")
    parser.add_argument(
        "--score", type=Path, metavar="NOTEBOOK", help="CSV when,bank,what: what happened when; say how right it was"
    )
    parser.add_argument("--picture", type=Path, metavar="OUT.svg", help="draw the score, one picture a bank")
    add_force(parser)


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
    with ExitStack() as stack:
        out = stack.enter_context(output(arguments.output))
        events = None if arguments.events is None else stack.enter_context(output(arguments.events))
        refuse_foreign(loaded.cabin, mapped, (message.topic for message in recorded(named[0])))
        engine, count, told = _played(loaded, named[0], looks, out if shown else None, events)
    _say(notes, looks, arguments.picture)
    _say_untold(loaded.cabin, told)
    refused = sum(engine.rejected.values())
    print(f"{count} messages, {refused} values rejected, {engine.duplicates} duplicates", file=sys.stderr)
    return 0


def _played(
    loaded: Loaded, messages: Path, looks: dict[str, list[scored.Look]], out: IO[str] | None, events: IO[str] | None
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
            if out is not None:
                out.write(line + "\n")
            if outcome.bank in looks:
                looks[outcome.bank].append(scored.look(outcome))
        elif events is not None:
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
