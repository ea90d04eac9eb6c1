"""``python -m tests.bench.estimate.outside FOLDER --truth T --out O --keep K``: the outside rounds, behind real relays.

`FOLDER` holds the outside family's own adapter, which drives `revival replay` and the engine over recorded rounds. Five
things it does not know, and they are all that is changed here:

- the rules try a proved relay once more when the bank takes charge, and look after every cut whether the current falls;
  a recorded current does not: here it reads nothing while the relay is open, as behind any relay that works, and the
  five minutes of that proof are no cut;
- an owner whose meter writes "28,80 V" says so in the cabin file, as `revival check` asks;
- an owner who is told that a current reads below zero while the bank is charged turns its two wires, an hour later;
- the band by the clock is published: it need not be stretched from that of charging hours;
- `current-step` tells a person to look for a shorted cell: it is named with what it tells.
"""

from __future__ import annotations

import argparse
import importlib
import json
import re
import sys
from bisect import bisect_right
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
#: What the bridge says of a shunt whose wires are swapped, and how soon somebody comes for it [s] (assumed).
SWAPPED, COMES_AFTER = "current: sign", 3600.0
#: Flags whose name alone does not say what they tell a person.
IN_WORDS = {"current-step": "current-step: a shorted cell"}
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


def asked_to_turn(events: Path) -> dict[str, float]:
    """Return the banks whose current was said to have the wrong sign, and when somebody has turned its wires [s]."""
    turned: dict[str, float] = {}
    for line in events.read_text(encoding="utf-8").splitlines():
        event = json.loads(line)
        if event.get("kind") == "flag-raised" and SWAPPED in str(event["detail"].get("reason", "")):
            turned.setdefault(event["bank"], event["t"] + COMES_AFTER)
    return turned


def as_published(told: Path, lines: dict[str, list[dict[str, Any]]], clock: bool) -> None:
    """Name the flags of these lines in words and, by the clock, write the published band for the stretched one."""
    at = {bank: [line["t"] for line in those] for bank, those in lines.items()}
    result = []
    for text in told.read_text(encoding="utf-8").splitlines():
        line = json.loads(text)
        line["flags"] = [IN_WORDS.get(flag, flag) for flag in line["flags"]]
        if clock:
            bank = line["bank"]
            published = lines[bank][bisect_right(at[bank], line["t"]) - 1]
            line["remaining_low"] = published["remaining_clock_low"]
            line["remaining_high"] = published["remaining_clock_high"]
        result.append(json.dumps(line) + "\n")
    told.write_text("".join(result), encoding="utf-8")


def with_wires_turned(watched: Callable[..., Any], recorded: dict[str, Any]) -> Callable[..., Any]:
    """The adapter's watching of the banks, once more with the wires of a swapped shunt turned when that was asked."""

    def watch(work: Path, rows: list[Any], end: float) -> Any:
        lines, words = watched(work, rows, end)
        turned = asked_to_turn(work / "events.jsonl")
        if turned:
            shunts = {
                topic["topic"]: turned[topic["bank"]]
                for topic in recorded["topics"]
                if topic["role"] == "current" and topic["bank"] in turned and topic["path"] is None
            }
            rows[:] = [
                (at, topic, opposite(payload) if at >= shunts.get(topic, end + 1.0) else payload, retain)
                for at, topic, payload, retain in rows
            ]
            for kept in ("watched.toml", "derived.jsonl", "events.jsonl"):
                (work / kept).unlink()
            lines, words = watched(work, rows, end)
        recorded["lines"] = lines
        return lines, words

    return watch


def opposite(payload: str) -> str:
    """Return a number with the other sign; a text that is none as it is."""
    return payload[1:] if payload.startswith("-") else f"-{payload}" if payload[:1].isdigit() else payload


def one(job: tuple[str, tuple[str, str, str, bool]]) -> tuple[str, str]:
    """One session through the changed adapter."""
    folder, session = job
    sys.path.insert(0, folder)
    adapt = importlib.import_module("adapt")
    truth, out = Path(session[0]), Path(session[1])
    recorded = json.loads((truth / "session.json").read_text(encoding="utf-8"))["config"]
    with (
        patch.object(engine, "Engine", Obeyed),
        patch.object(adapt, "cabin", with_commas(adapt.cabin)),
        patch.object(adapt, "ordered", without_proofs(adapt.ordered)),
        patch.object(adapt, "watch", with_wires_turned(adapt.watch, recorded)),
    ):
        name, words = adapt.session(session)
    for basis in ("wall", "charge"):
        as_published(out / basis / f"{truth.name}.jsonl", recorded["lines"], basis == "wall")
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
