"""`revival checklist`: the start checklist, asked line by line and confirmed by name once every line is yes."""

from __future__ import annotations

import argparse
import json
import shlex
import sys
from typing import Any

from bridge.commands.act import a_name, add_common, order, scale_of, take_back
from bridge.commands.which_bank import which_bank
from bridge.config import Loaded, load
from bridge.errors import UnsafeStateError, UsageError
from bridge.runtime.control_socket import ask
from bridge.words.bank_status import event_words
from bridge.words.folded import for_screen
from bridge.words.spoken import spoken
from rules.bank import Bank
from rules.events import Event
from rules.plan import checklist
from rules.step import Doubt, checklist_doubts

#: All lines at once, for a script that has shown each of them to somebody.
ALL = "all"
CONFIRM = "revival checklist --name YOU"
#: What is asked where a line was said to be so that cannot be seen now, and how it is finished without.
BEFORE = "it cannot be seen now: did somebody see it at zero before this charger came on?"
LATER = "meters: switch the charger off at the wall, wait until the ammeter shows zero, then confirm it"
ABOUT = "for this round and the blocks as they are joined now; a new round or another joining asks for it again"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add who walked round, and what was read already."""
    parser.add_argument("--name", type=a_name, help="who walked round with it; left out: only print its lines")
    parser.add_argument(
        "--read", nargs="+", default=[], metavar="LINE",
        help=f"lines that were read and are so, by the word in front of each, or {ALL}; a terminal asks the others",
    )  # fmt: skip
    parser.add_argument(
        "--take-back",
        action="store_true",
        help="it was confirmed by mistake: no relay closes before it is confirmed anew",
    )
    add_common(parser)


def run(arguments: argparse.Namespace) -> int:
    """Ask line by line and confirm, or take it back; exit 5 while a line is open, or the meters contradict one."""
    loaded = load(arguments.config)
    bank = which_bank(loaded.cabin.banks, arguments.bank)
    if arguments.take_back:
        return take_back(loaded, bank, "checklist", arguments.name or "", as_json=arguments.json)
    lines = dict(checklist([loaded.cabin.banks[bank]]))
    read = _read(arguments.read, lines)
    if arguments.name is None and arguments.json:
        rows = [{"key": key, "text": text} for key, text in lines.items()]
        print(json.dumps({"bank": bank, "lines": rows, "confirmed_by": CONFIRM}, indent=2))
        return 0
    if arguments.name is None:
        print(for_screen(spoken("\n".join(printed(loaded.cabin.banks[bank])), scale_of(loaded))))
        return 0
    if not arguments.name.strip():
        raise UsageError('--name "": the checklist is confirmed by name: say who walked round, as in --name Ann')
    lines = {key: spoken(text, scale_of(loaded)) for key, text in lines.items()}
    # While a trip stands nobody is sent round the bank to read them.
    order(loaded, bank, "checklist", {"only": "asked"})
    seen = doubts_now(loaded, loaded.cabin.banks[bank])
    doubts = tuple([doubt._replace(why=spoken(doubt.why, scale_of(loaded))) for doubt in seen])
    forbidding = [f"{doubt.line}: {doubt.why}" for doubt in doubts if doubt.forbids]
    if forbidding:
        raise UnsafeStateError(f"{bank}: not confirmed: {'; '.join(forbidding)}")
    asks = sys.stdin.isatty() and not arguments.json
    if not asks and not read:
        raise UsageError(
            "nobody has read the lines: in a terminal each is asked; a script says which were read and are so, by the "
            f"word in front of each (--read {' '.join(list(lines)[:3])} ...) or all of them (--read {ALL})"
        )
    # Whoever sits at a terminal is asked what nobody can look at now, though it was named as read.
    unseen = {doubt.line for doubt in doubts if doubt.unseen}
    read -= unseen if asks else set()
    if asks and len(read) < len(lines):
        print(for_screen(f"{bank}: start checklist, {ABOUT}. y = it is so; anything else leaves the line open."))
        read |= _walked({key: text for key, text in lines.items() if key not in read}, doubts)
    still = [key for key in lines if key not in read]
    if still:
        opened = _open(bank, lines, still, arguments.name, arguments.bank)
        later = [f"  {LATER}" for key in still if key in unseen]
        raise UnsafeStateError("\n".join([*opened[:-1], *later, opened[-1]]))
    answer = order(loaded, bank, "checklist", {"name": arguments.name})
    if arguments.json:
        print(json.dumps(answer, indent=2))
        return 0
    told = [Event(bank, str(event.pop("kind")), 0.0, event) for event in answer["events"]]
    said = [words for event in told if (words := event_words(event)) is not None]
    said += [] if answer.get("stored", True) else [str(answer["warning"])]
    print(for_screen("\n".join(spoken(f"{bank}: {line}", scale_of(loaded)) for line in said)))
    return 0


def printed(bank: Bank) -> list[str]:
    """Return what is confirmed by name, of what, and how."""
    how = f"Confirm it with: {CONFIRM} (it asks line by line)"
    return [f"start checklist, {ABOUT}:", *_boxes(dict(checklist([bank]))), how]


def doubts_now(loaded: Loaded, bank: Bank) -> tuple[Doubt, ...]:
    """Return what the running bridge sees that contradicts a line, before anybody is asked."""
    state: dict[str, Any] = ask(loaded.cabin.journal.path, {"ask": "status"})["banks"].get(bank.id, {})
    raised = {str(flag["name"]): str(flag["reason"]) for flag in state.get("flags", ())}
    return checklist_doubts(
        bank, state.get("current"), state.get("volts_per_cell"), state.get("relay") == "open", raised
    )


def _read(given: list[str], lines: dict[str, str]) -> set[str]:
    """Return the lines that are named as read."""
    if given == [ALL]:
        return set(lines)
    unknown = [key for key in given if key not in lines]
    if unknown:
        raise UsageError(f"--read {unknown[0]}: no such line; there are {', '.join(lines)}, or {ALL}")
    return set(given)


def _walked(lines: dict[str, str], doubts: tuple[Doubt, ...]) -> set[str]:
    """Ask for each line; return those that are so."""
    seen = {doubt.line: doubt.why for doubt in doubts}
    unseen = {doubt.line for doubt in doubts if doubt.unseen}
    agreed: set[str] = set()
    for key, text in lines.items():
        doubt = f"\n    but seen or noted is: {seen[key]}" if key in seen else ""
        try:
            so = _yes(f"  {key}: {text}{doubt}\n    y/n: ")
            if so and key in unseen:
                so = _yes(f"    {BEFORE} y/n: ")
        except EOFError:
            break
        if so:
            agreed.add(key)
    return agreed


def _yes(question: str) -> bool:
    return input(for_screen(question)).strip().lower() in ("y", "yes")


def _boxes(lines: dict[str, str]) -> list[str]:
    return [f"  [ ] {key}: {text}" for key, text in lines.items()]


def _open(bank: str, lines: dict[str, str], still: list[str], name: str, named: str | None) -> list[str]:
    """Say which lines are open, and the whole command that confirms all once these are so too."""
    of = "" if named is None else f" --bank {shlex.quote(named)}"
    again = f"revival checklist --name {shlex.quote(name)}{of} --read {' '.join(lines)}"
    return [
        f"{bank}: not confirmed, {len(still)} of {len(lines)} lines are open:",
        *_boxes({key: lines[key] for key in still}),
        f"  when they are so: {again}",
    ]
