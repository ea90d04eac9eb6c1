"""``python -m tests.bench.estimate.outside FOLDER --truth T --out O --keep K``: the outside rounds, behind real relays.

`FOLDER` holds the outside family's own adapter, which drives `revival replay` and the engine over recorded rounds. Two
things it does not know, and they are all that is changed here:

- the rules try a proved relay once more when the bank takes charge, and look after every cut whether the current falls;
  a recorded current does not: here it reads nothing while the relay is open, as behind any relay that works, and the
  five minutes of that proof are no cut;
- an owner whose meter writes "28,80 V" says so in the cabin file, as `revival check` asks.
"""

from __future__ import annotations

import argparse
import importlib
import re
import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any
from unittest.mock import patch

from bridge.runtime import engine
from rules.bank import Bank
from rules.events import Order, Reading

#: What falls when a relay opens.
FALLS = ("current", "string_current", "power")
#: Why a relay opens that is tried.
PROOF = "proof test"
#: What a session's meters said.
HEARD = "observations.jsonl"
#: A number as a meter with a decimal comma writes it.
COMMA = re.compile(r"\d,\d")


class Obeyed(engine.Engine):
    """An engine behind whose relays the current falls while they are open."""

    def __init__(self, banks: dict[str, Bank], routes: Any, carry: Callable[[Any], None]) -> None:
        self.opened: set[str] = set()

        def carried(fact: Any) -> None:
            if isinstance(fact, Order) and fact.action in ("cut", "allow"):
                (self.opened.add if fact.action == "cut" else self.opened.discard)(fact.bank)
            carry(fact)

        super().__init__(banks, routes, carried)

    def fold(self, event: Any) -> None:
        """Fold one event in, as its relay lets it be."""
        if isinstance(event, Reading) and event.bank in self.opened:
            quantity = next(m.quantity for m in self.banks[event.bank].meters if m.name == event.meter)
            event = event._replace(value=0.0) if quantity in FALLS else event
        super().fold(event)


def with_commas(written: Callable[..., str]) -> Callable[..., str]:
    """The adapter's maker of cabin files, which also tells of decimal commas."""

    def cabin(config: Any, first: dict[str, list[str]], relays: Any, stamps: Any) -> str:
        text = written(config, first, relays, stamps)
        for topic, payloads in first.items():
            if any(COMMA.search(payload) for payload in payloads if not payload.startswith(("{", "["))):
                text = text.replace(f'topic = "{topic}"\n', f'topic = "{topic}"\ndecimal = ","\n')
        return text

    return cabin


def without_proofs(ordered: Callable[..., Any]) -> Callable[..., Any]:
    """The adapter's player of a relay, whose orders leave out those of a proof."""

    def played(*arguments: Any) -> Any:
        orders, told = ordered(*arguments)
        return {bank: [one for one in all_of if one[2] != PROOF] for bank, all_of in orders.items()}, told

    return played


def one(job: tuple[str, tuple[str, str, str, bool]]) -> tuple[str, str]:
    """One session through the changed adapter."""
    folder, session = job
    sys.path.insert(0, folder)
    adapt = importlib.import_module("adapt")
    with (
        patch.object(engine, "Engine", Obeyed),
        patch.object(adapt, "cabin", with_commas(adapt.cabin)),
        patch.object(adapt, "ordered", without_proofs(adapt.ordered)),
    ):
        name, words = adapt.session(session)
    return str(name), str(words)


def main() -> int:
    """Play every session of the truth folder."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.estimate.outside", description=__doc__)
    parser.add_argument("folder", help="where the outside rounds' own adapter lies")
    for name in ("truth", "out", "keep"):
        parser.add_argument(f"--{name}", required=True)
    parser.add_argument("--jobs", type=int, default=2)
    arguments = parser.parse_args()
    sessions = sorted(
        Path(arguments.truth).glob("*/session.json"), key=lambda path: -path.with_name(HEARD).stat().st_size
    )
    jobs = [(arguments.folder, (str(path.parent), arguments.out, arguments.keep, True)) for path in sessions]
    with ProcessPoolExecutor(arguments.jobs) as pool:
        for name, words in pool.map(one, jobs):
            print(f"{name}: {words}", flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
