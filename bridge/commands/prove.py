"""`revival prove`: close and open the real relay, watch it and the current, measure, restore, say what was seen.

With `--auto-off` the relay has first to open by itself: what alone covers a lost broker or network is measured.
"""

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
from rules.bank import Bank
from rules.safety import CHARGER_OFF, PROOF_WAIT, SLOWEST_METER, OwnOff, own_off_words, window

#: A test that ends later than this has gone wrong [s].
LONGEST = SLOWEST_METER + 60.0
POLL = 0.2
WARNING = "the charger comes on for some seconds and goes off again: be clear of the posts"
OWN_WARNING = (
    "the charger comes on for up to {seconds:.0f} s, until the relay opens by itself, then once more for some seconds: "
    "be clear of the posts, with somebody where the charger can be switched off at the wall"
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_common(parser)
    parser.add_argument("--sure", action="store_true", help="nobody is at the posts: close the relay without asking")
    parser.add_argument(
        "--auto-off",
        action="store_true",
        help="also try the relay's own auto-off, which alone opens it once broker or network are gone: it is told to "
        "close once and has to open by itself in time. The charger runs so long; where it does not open it is cut at "
        "once, the proof fails, and nothing is permitted to charge until it was seen to open by itself",
    )


def run(arguments: argparse.Namespace) -> int:
    """Prove, wait, print the evidence; exit 5 when the test failed."""
    loaded = load(arguments.config)
    bank = which_bank(loaded.cabin.banks, arguments.bank)
    # Nobody is warned of a charger that will not come on: what refuses the test is said first.
    own = {"auto_off": True} if arguments.auto_off else {}
    order(loaded, bank, "prove", {"only": "asked", **own})
    lasts = _own_lasts(loaded.cabin.banks[bank]) if own else 0.0
    warning = OWN_WARNING.format(seconds=lasts) if own else WARNING
    if not arguments.sure and (arguments.json or not sure(bank, warning)):
        raise UnsafeStateError(f"{bank}: not proved: {warning}; if nobody is at the posts, say --sure")
    order(loaded, bank, "prove", own)
    if not arguments.json:
        until = f", at most {lasts:.0f} s until it opens by itself" if own else ""
        print(f"{bank}: the relay is being exercised{until}; listen for it and watch the amps", flush=True)
    end, asked = time_source.monotonic() + lasts + LONGEST, False
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
        else words(bank, answer["proof"], auto_off=_auto_off(loaded, bank))
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


def _own_lasts(bank: Bank) -> float:
    """Return how long the relay may be closed until it has opened by itself, or is cut [s]."""
    return 0.0 if bank.relay is None else PROOF_WAIT + window(bank.relay)[1]


def _auto_off(loaded: Loaded, bank: str) -> float | None:
    """Return the auto-off of the bank's relay as the file says [s]; None where it has none."""
    return next((relay.auto_off for relay in loaded.cabin.relays if bank in relay.banks), None)


def words(bank: str, proof: dict[str, Any], *, auto_off: float | None = None) -> str:
    """Return the result for people; `auto_off` as the cabin file has it [s]."""
    if proof["note"] == CHARGER_OFF:
        return f"{bank}: {proof['note']}."
    if not proof["passed"]:
        # what was not seen to open by itself says itself how it is proved again
        again = "" if proof["note"] == proof.get("own", {}).get("why") else "; find the cause, then prove it again"
        return (
            f"{bank}: FAILED after {proof['seconds']:.1f} s: {proof['note']}. The relay was ordered open and stays "
            f"so{again}."
        )
    time = f"open {proof['seconds']:.2f} s after the order" if proof["seconds"] else "no time could be measured"
    missing = f"; not shown: {proof['not_shown']}" if proof["not_shown"] else ""
    own = ""
    if auto_off:
        tried = OwnOff(**proof.get("own", {}))
        own = "; its own auto-off is not tested by this, `revival prove --auto-off` measures it"
        if tried.at and tried.written == auto_off:
            own = f"; its own auto-off: {own_off_words(auto_off, tried)}"
    return f"{bank}: passed, {time}: {proof['note']}{missing}{own}"
