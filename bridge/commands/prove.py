"""`revival prove`: close and open the real relay, watch it and the current, measure, restore, say what was seen."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from bridge import clock as time_source
from bridge.commands.act import add_common, order, sure
from bridge.commands.which_bank import which_bank
from bridge.config import Loaded, load
from bridge.errors import CannotReachError, UnsafeStateError
from bridge.runtime.control_socket import ask
from rules.safety import SLOWEST_METER

#: A test that ends later than this has gone wrong [s].
LONGEST = SLOWEST_METER + 60.0
POLL = 0.2
WARNING = "the charger comes on for some seconds and goes off again: be clear of the posts"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_common(parser)
    parser.add_argument("--sure", action="store_true", help="nobody is at the posts: close the relay without asking")


def run(arguments: argparse.Namespace) -> int:
    """Prove, wait, print the evidence; exit 5 when the test failed."""
    loaded = load(arguments.config)
    bank = which_bank(loaded.cabin.banks, arguments.bank)
    # Nobody is warned of a charger that will not come on: what refuses the test is said first.
    order(loaded, bank, "prove", {"only": "asked"})
    if not arguments.sure and (arguments.json or not sure(bank, WARNING)):
        raise UnsafeStateError(f"{bank}: not proved: {WARNING}; if nobody is at the posts, say --sure")
    order(loaded, bank, "prove", {})
    if not arguments.json:
        print(f"{bank}: the relay is being exercised; listen for it and watch the amps", flush=True)
    end, asked = time_source.monotonic() + LONGEST, False
    while True:
        answer = ask(loaded.cabin.journal.path, {"ask": "proof", "bank": bank})
        if not answer["proving"]:
            break
        if answer["proving"] == "witness" and not asked:
            asked = True
            _ask_person(loaded, bank, asks=sys.stdin.isatty() and not arguments.json)
        if time_source.monotonic() > end:
            raise CannotReachError(f"{bank}: the proof test does not end")
        time_source.sleep(POLL)
    print(
        json.dumps(answer["proof"], indent=2)
        if arguments.json
        else words(bank, answer["proof"], auto_off=_opens_by_itself(loaded, bank))
    )
    return 0 if answer["proof"]["passed"] else UnsafeStateError.exit_code


def _ask_person(loaded: Loaded, bank: str, *, asks: bool) -> None:
    """Ask a person who stood there, by name, where neither relay nor current can show anything."""
    if not asks:
        told = "nothing can show it here: who heard the relay and saw the charger go out says so with `revival witness`"
        print(f"{bank}: {told}", file=sys.stderr, flush=True)
        return
    print(f"{bank}: the relay was told to open; it reports no state, and too little current flowed to see it fall.")
    name = input("Who heard it and saw the charger go out? Name, or nothing if nobody did: ").strip()
    if name:
        order(loaded, bank, "witness", {"name": name})


def _opens_by_itself(loaded: Loaded, bank: str) -> bool:
    """Tell whether the file says that the bank's relay has an auto-off."""
    return any(relay.auto_off for relay in loaded.cabin.relays if bank in relay.banks)


def words(bank: str, proof: dict[str, Any], *, auto_off: bool = False) -> str:
    """Return the result for people."""
    if not proof["passed"]:
        return (
            f"{bank}: FAILED after {proof['seconds']:.1f} s: {proof['note']}. The relay was ordered open and stays so; "
            "find the cause, then prove it again."
        )
    time = f"open {proof['seconds']:.2f} s after the order" if proof["seconds"] else "no time could be measured"
    missing = f"; not shown: {proof['not_shown']}" if proof["not_shown"] else ""
    own = "; its own auto-off is not tested by this, `revival check` says how to try it" if auto_off else ""
    return f"{bank}: passed, {time}: {proof['note']}{missing}{own}"
