"""`revival start`, `resume`, `reset` and the other acts of a person, asked of the bridge that runs on this host."""

from __future__ import annotations

import argparse
import getpass
import json
import os
import sys
from typing import Any

from bridge import units
from bridge.commands.files import add_config
from bridge.commands.which_bank import which_bank
from bridge.config import Loaded, load
from bridge.errors import UnsafeStateError, UsageError
from bridge.intake.hand_words import quantity
from bridge.runtime.control_socket import ask
from bridge.words.bank_status import event_words
from bridge.words.equalising import out_of_reach
from bridge.words.spoken import spoken
from rules.events import Event
from rules.safety import LONGEST_BYPASS


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the act that the parser is for."""
    what = parser.prog.split()[-1]
    if what == "bypass":
        parser.add_argument(
            "quantity",
            help="whose silence, as the cabin file spells it: current, fan ...; of several alike names with commas",
        )
        how_long = parser.add_mutually_exclusive_group()
        how_long.add_argument(
            "minutes", nargs="?", type=_minutes, metavar="N", help=f"minutes, at most {LONGEST_BYPASS:g}"
        )
        how_long.add_argument("--minutes", type=_minutes, dest="long", metavar="N", help="the same")
    elif what == "witness":
        parser.add_argument("--name", type=a_name, required=True, help="who stood beside the relay")
    elif what == "zero":
        parser.add_argument("--undo", action="store_true", default=None, help="take the last zero back")
    elif what == "finish":
        parser.add_argument(
            "--sure", action="store_true", default=None, help="long before the hold is complete: it is meant"
        )
    elif what == "arrange":
        parser.add_argument(
            "act", choices=("split", "swap", "rejoin", "isolate", "add"), help="swap: the other half instead"
        )
        parser.add_argument(
            "--volts",
            nargs="+",
            metavar="V",
            help="at rest, of every string that will be in parallel, for add and rejoin",
        )
        parser.add_argument("--number", type=int, default=1, metavar="N", help="which half or string (default 1)")
        parser.add_argument("--sure", action="store_true", default=None, help="while the charger is on: it is meant")
    elif what == "abandon":
        parser.add_argument(
            "--sure", action="store_true", default=None, help="while a round is under way: giving it up is meant"
        )
    add_common(parser)
    parser.add_argument("--by", type=a_name, metavar="NAME", help="who; left out: the user of this host")


#: The account that runs services: a name of nobody.
_NOBODY = "root"


def whoever() -> str:
    """Return who acts where nobody says a name: the user of this host, also behind sudo; root is no person."""
    names = (os.environ.get("SUDO_USER"), getpass.getuser())
    return next((name for name in names if name and name != _NOBODY), "the owner")


def a_name(text: str) -> str:
    """Return a name, of a person or a place, that is one."""
    if not text.strip():
        raise argparse.ArgumentTypeError("is empty: say which, such as anna")
    return text.strip()


def _minutes(text: str) -> float:
    """Return minutes, as a bare number or with their unit: ``20``, ``20min``."""
    try:
        return units.parse(f"{text} min" if text.replace(".", "", 1).isdecimal() else text, "s") / 60.0
    except units.UnitError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def add_common(parser: argparse.ArgumentParser) -> None:
    """Add cabin file, bank, and a form for machines."""
    add_config(parser)
    parser.add_argument("--bank", metavar="ID", help="which bank; not needed where there is only one")
    parser.add_argument("--json", action="store_true", help="for machines")


def scale_of(loaded: Loaded) -> str:
    """Return how the owner reads temperatures, for `bridge.words.spoken`."""
    return loaded.cabin.degrees


def order(loaded: Loaded, bank: str, name: str, argument: dict[str, Any], by: str | None = None) -> dict[str, Any]:
    """Ask the running bridge for one act; what the rules said of it.

    Raises
    ------
    UnsafeStateError
        The rules refuse, with their reasons.
    """
    request = {"ask": "act", "bank": bank, "name": name, "by": by or whoever(), "argument": argument}
    answer = ask(loaded.cabin.journal.path, request)
    if "error" in answer:
        raise UsageError(str(answer["error"]))
    if answer["refused"]:
        raise UnsafeStateError(spoken(f"{bank}: refused: {'; '.join(answer['refused'])}", scale_of(loaded)))
    return answer


def take_back(loaded: Loaded, bank: str, name: str, by: str = "", *, as_json: bool = False) -> int:
    """Take the last checklist or verdict back, and say what follows from it."""
    answer = order(loaded, bank, name, {"undo": True, **({"name": by} if by else {})})
    if as_json:
        print(json.dumps(answer, indent=2))
        return 0
    lines = _lines(bank, answer)
    print("\n".join(spoken(f"{bank}: {line}", scale_of(loaded)) for line in lines))
    return 0


def _lines(bank: str, answer: dict[str, Any]) -> list[str]:
    """Return what an act led to, a line each; and that it is not stored, where it is not."""
    told = [Event(bank, str(event["kind"]), 0.0, event) for event in answer["events"]]
    lines = [words for event in told if (words := event_words(event)) is not None]
    return lines if answer.get("stored", True) else [*lines, str(answer["warning"])]


def sure(bank: str, why: str) -> bool:
    """Tell whether the person at this terminal means it; nobody is asked where nobody can answer."""
    if not sys.stdin.isatty():
        return False
    return input(f"{bank}: {why}{'' if why.endswith('?') else '.'} Sure? [y/N] ").strip().lower() in ("y", "yes")


def still_charged(state: dict[str, Any]) -> str:
    """Say that the charger still runs although the round is over; empty where it does not."""
    if not state.get("charging"):
        return ""
    amps = state.get("current")
    gives = "is still on" if amps is None else f"still gives {amps:.1f} A"
    return f"the round is over, the charger {gives}"


def _volts(text: str) -> float:
    try:
        return quantity(text, "V")
    except units.UnitError as error:
        raise UsageError(f'--volts "{text}": {error}') from None


def joined(state: dict[str, Any]) -> list[str]:
    """Return how the blocks are joined now, in words; nothing where it is not known."""
    rows = state.get("blocks", ())
    numbers = sorted({row["string"] for row in rows} - {0})
    strings = [" ".join(row["block"] for row in rows if row["string"] == number) for number in numbers]
    aside = " ".join(row["block"] for row in rows if not row["string"])
    return [f"in the circuit: {' | '.join(strings)}" + (f"; aside: {aside}" if aside else "")] if strings else []


def _state(loaded: Loaded, bank: str) -> dict[str, Any]:
    """Return the bank as the running bridge shows it now."""
    state: dict[str, Any] = ask(loaded.cabin.journal.path, {"ask": "status"})["banks"].get(bank, {})
    return state


def _see_which_temperature(loaded: Loaded, bank: str, quantity: str | None) -> None:
    """Refuse a bypass of just a temperature: of which thermometer decides what nobody watches then."""
    if quantity == "temperature":
        known = [name for name in loaded.cabin.banks[bank].by_quantity if name.endswith("_temperature")]
        raise UsageError(f"bypass temperature: which one? {bank} has {' and '.join(known) or 'none'}: write it whole")


def _given_up(state: dict[str, Any]) -> str:
    """Say what goes with a round that is abandoned now; empty where none runs."""
    if state.get("phase") in (None, "idle", "finished"):
        return ""
    held, needed = state.get("hold_hours") or 0.0, state.get("hold_needed")
    hold = f", held {held:.1f} of at least {needed:g} h" if needed else ""
    return f"a round is under way ({state['phase']}{hold}); given up, it leaves no verdict, and a later one begins anew"


def _see_meant(bank: str, why_not: str, arguments: argparse.Namespace) -> None:
    """Ask whoever is at the terminal whether it is meant; refuse where nobody can answer or it is not."""
    if why_not and (arguments.json or not sure(bank, why_not)):
        raise UnsafeStateError(f"{bank}: not done: {why_not}; if it is meant, say --sure")


def run(arguments: argparse.Namespace) -> int:
    """Ask; exit 4 where no bridge runs, 5 where the rules refuse."""
    loaded = load(arguments.config)
    bank = which_bank(loaded.cabin.banks, arguments.bank)
    _see_which_temperature(loaded, bank, getattr(arguments, "quantity", None))
    if getattr(arguments, "long", None) is not None:
        arguments.minutes = arguments.long
    if arguments.command == "bypass" and arguments.minutes is None:
        most = f"at most {LONGEST_BYPASS:g} minutes, and somebody stays with the bank"
        raise UsageError(
            f"bypass {arguments.quantity}: for how long? `revival bypass {arguments.quantity} 20` excuses it for 20 "
            f"minutes; {most}"
        )
    argument = {
        key: value for key in ("quantity", "minutes", "name", "act", "number", "undo", "sure")
        if (value := getattr(arguments, key, None)) is not None
    }  # fmt: skip
    if getattr(arguments, "volts", None):
        argument["volts"] = [_volts(text) for text in arguments.volts]
    if arguments.command == "abandon" and not argument.pop("sure", False):
        _see_meant(bank, _given_up(_state(loaded, bank)), arguments)
    answer = order(loaded, bank, arguments.command, argument, arguments.by)
    if "unsure" in answer:
        _see_meant(bank, spoken(str(answer["unsure"]), scale_of(loaded)), arguments)
        answer = order(loaded, bank, arguments.command, {**argument, "sure": True}, arguments.by)
    if arguments.json:
        print(json.dumps(answer, indent=2))
        return 0
    scale = scale_of(loaded)
    told = [Event(bank, str(event.pop("kind")), 0.0, event) for event in answer["events"]]
    lines = [words for event in told if (words := event_words(event, scale)) is not None]
    if arguments.command == "arrange":
        lines += joined(_state(loaded, bank))
    if arguments.command == "start" and (why := out_of_reach(loaded.cabin.banks[bank])):
        lines.append(why)
    if arguments.command in ("finish", "abandon") and (on := still_charged(_state(loaded, bank))):
        lines.append(on)
    if not answer.get("stored", True):
        lines.append(str(answer["warning"]))
    print("\n".join(f"{bank}: {spoken(line, scale)}" for line in lines) or f"{bank}: done")
    return 0
