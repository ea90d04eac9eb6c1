"""Kill the bridge in the middle of a round, on a good disk, a full disk, and together with its broker.

On demand, as root, since a small disk is mounted: ``python tests/bench/kill_in_round.py --kills 100``; the last line is
JSON. Each turn a round is under way; then acid too hot trips it, or a person abandons or finishes it, and the bridge is
killed with SIGKILL within half a second of the answer. The next start may have forgotten nothing of it: no latch, no
end. The relay is watched all the while: it may never be told to close after the trip or the end.
"""

from __future__ import annotations

import argparse
import json
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from bridge.journal.reader import JournalReader
from bridge.journal.snapshot import remembered
from bridge.runtime.control_socket import ask
from tests.support.brokers import Broker, wait_until
from tests.support.cards import Card
from tests.support.fault_rig import Rig

PLACES = ("good disk", "full disk", "broker killed too", "full disk")
ACTS = ("trip", "abandon", "finish")


def begin(rig: Rig) -> None:
    """A round under way, as a bridge that ended in good order keeps it."""
    with rig.bridge() as service:
        memory = service.engine.memories["north"]
        proof = memory.interlock.proof._replace(at=memory.began_at, passed=True, current_proved=True)
        whole = memory.interlock._replace(
            started=True, checklist_by="the keeper", proof=proof, latched={}, needs_resume=False
        )
        service.engine.memories["north"] = memory._replace(interlock=whole)


def turn(rig: Rig, card: Card, place: str, act: str, wait: float) -> tuple[bool, int]:
    """One kill; whether what happened was remembered, and how often the relay was told to close afterwards."""
    begin(rig)
    with rig.process() as bridge:
        if place == "full disk":
            card.fill()
        if act == "trip":
            rig.meters.heat(44.5)
            wait_until(lambda: rig.bank().get("tripped"), 20, "the trip")
        else:
            answer = ask(
                rig.journal, {"ask": "act", "bank": "north", "name": act, "by": "test", "argument": {"sure": True}}
            )
            assert answer["refused"] == [], answer
        told = len(rig.relay.told)
        time.sleep(wait)
        if place == "broker killed too":
            rig.broker.stop(signal.SIGKILL)
        bridge.kill()
    rig.meters.heat(25.0)
    if place == "broker killed too":
        rig.broker.start()
    if place == "full disk":
        card.free()
    with rig.process():
        if act == "trip":
            remembers = bool(rig.bank().get("tripped"))
        else:
            remembers = rig.act("resume") == ["no round was started: start first"]
        time.sleep(1.0)
    closed = rig.relay.told[told:].count("ON")
    with JournalReader(rig.journal) as reader:
        lock = remembered(reader, "north").interlock
    remembers = remembers and (bool(lock.latched) if act == "trip" else not lock.started)
    return remembers, closed


def campaign(folder: Path, kills: int, seed: int) -> dict[str, Any]:
    """Run it; what came out."""
    choose = random.Random(seed)
    began = time.monotonic()
    count: Counter[str] = Counter()
    forgotten: list[str] = []
    closings = 0
    for number in range(kills):
        place, act = PLACES[number % len(PLACES)], ACTS[number % len(ACTS)]
        room = folder / f"{number}"
        room.mkdir()
        broker = Broker(room / "broker", ("persistence true", "autosave_interval 1")).start()
        card = Card(room / "card")
        rig = Rig(broker, room)
        try:
            rig.edit('path = "revival.db"', f'path = "{card.path}/revival.db"')
            remembers, closed = turn(rig, card, place, act, choose.uniform(0.0, 0.5))
        finally:
            rig.close()
            broker.stop()
            card.close()
        count[place] += 1
        closings += closed
        if not remembers:
            forgotten.append(f"{number}: {act}, {place}")
        print(f"{number + 1}/{kills} {place}: {act}", flush=True)
    return {
        "kills": kills,
        "places": dict(count),
        "forgotten": forgotten,
        "closed_again": closings,
        "seconds": round(time.monotonic() - began, 1),
    }


def main() -> int:
    """Parse, run, print one line of JSON; 0 when nothing was forgotten and nothing closed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        report = campaign(Path(folder), options.kills, options.seed)
    print(json.dumps(report))
    return int(bool(report["forgotten"] or report["closed_again"]))


if __name__ == "__main__":
    sys.exit(main())
