"""What a shell offers for the tabulator key: names of this cabin where a name is meant, files only where a file is.

The kept library argcomplete (extra "completion") offers the files of the folder for whatever it knows nothing of.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from pathlib import Path

from bridge.commands.files import usual_config
from bridge.commands.noted import ACTS
from bridge.config import Loaded, load
from bridge.errors import BridgeError
from bridge.intake.hand_words import UNITS
from rules.bank import Bank
from rules.hand import FULL, LEVELS
from rules.plan import checklist

#: Who knows the names that are meant somewhere, from the cabin file and what was typed before.
Names = Callable[[Loaded, argparse.Namespace], Iterable[str]]
#: Whatever names a file or a folder without being a `Path`: it may be an object store as well.
_PLACES = frozenset({"parcels", "out", "rounds"})
#: What is said of a kind of hand reading in one word.
_SAID = {"level": LEVELS, "water": (FULL,), "gravity": ("low", "high", "none")}


def complete(parser: argparse.ArgumentParser) -> None:
    """Answer the shell that asks, and end; where none asks, do nothing."""
    import argcomplete  # noqa: PLC0415  (only the extra has it, and only a shell asks)

    _see_to(parser)
    argcomplete.autocomplete(parser)


def _see_to(parser: argparse.ArgumentParser) -> None:
    """Say of each argument, also of the commands within, what completes it; a file is what is usual."""
    names, file = (_IN_SETUP, "output") if parser.prog.endswith(" setup") else (_NAMES, "config")
    for action in parser._actions:  # argparse has no public way to what a parser takes
        if isinstance(action, argparse._SubParsersAction):
            for inner in action.choices.values():
                _see_to(inner)
        elif action.choices is None and not _is_a_file(action):
            action.completer = _offering(names.get(action.dest, _nothing), file)  # type: ignore[attr-defined]


def _is_a_file(action: argparse.Action) -> bool:
    return action.type is Path or action.dest in _PLACES


def _offering(names: Names, option: str) -> Callable[..., list[str]]:
    """Return what offers these names to the shell; nothing where the cabin file, as `option` says it, does not load."""

    def offer(parsed_args: argparse.Namespace, **_: object) -> list[str]:
        file = getattr(parsed_args, option, None) or usual_config()
        try:
            return sorted(set(names(load(file), parsed_args)))
        except BridgeError:
            return []

    return offer


def _nothing(loaded: Loaded, typed: argparse.Namespace) -> Iterable[str]:
    """Return no name: what is meant here, as volts are, nobody can know."""
    return ()


def _banks(loaded: Loaded, typed: argparse.Namespace) -> Iterable[str]:
    return loaded.cabin.banks


def _meant(loaded: Loaded, typed: argparse.Namespace) -> list[Bank]:
    """Return the bank that was named, else all."""
    named = getattr(typed, "bank", None)
    return [bank for bank in loaded.cabin.banks.values() if named in (None, bank.id)]


def _quantities(loaded: Loaded, typed: argparse.Namespace) -> Iterable[str]:
    return [name for bank in _meant(loaded, typed) for name in bank.by_quantity]


def _blocks(loaded: Loaded, typed: argparse.Namespace) -> Iterable[str]:
    return [block.label for bank in _meant(loaded, typed) for string in bank.strings for block in string]


def _recorded(loaded: Loaded, typed: argparse.Namespace) -> Iterable[str]:
    """Return what may stand behind a kind of reading: the bank, its blocks, and what is said in one word."""
    several = loaded.cabin.banks if len(loaded.cabin.banks) > 1 and not typed.bank else ()
    return [*several, *(f"{label}=" for label in _blocks(loaded, typed)), *_SAID.get(str(typed.what), ())]


def _lines(loaded: Loaded, typed: argparse.Namespace) -> Iterable[str]:
    return ["all", *(key for bank in _meant(loaded, typed) for key, _ in checklist([bank]))]


def _topics(loaded: Loaded, typed: argparse.Namespace) -> Iterable[str]:
    return [mapping.topic for mapping in loaded.routes.mappings if mapping.quantity != "relay_state"]


def _orders(loaded: Loaded, typed: argparse.Namespace) -> Iterable[str]:
    return ["none", *(relay.topic for relay in loaded.cabin.relays)]


def _states(loaded: Loaded, typed: argparse.Namespace) -> Iterable[str]:
    return ["none", *(relay.state_topic for relay in loaded.cabin.relays if relay.state_topic)]


#: Where a name is meant -> who knows the names.
_NAMES: dict[str, Names] = {
    "bank": _banks,
    "sealed": _banks,
    "quantity": _quantities,
    "block": _blocks,
    "words": _recorded,
    "list": lambda loaded, typed: [*UNITS, *ACTS],
    "read": _lines,
}
#: The same where the file is asked for anew; what is printed on a block is no name.
_IN_SETUP: dict[str, Names] = {
    "bank": _banks,
    "take": _topics,
    "probe": lambda loaded, typed: ["cell", "case", *(f"{topic}=" for topic in _topics(loaded, typed))],
    "relay": _orders,
    "relay_state": _states,
}
