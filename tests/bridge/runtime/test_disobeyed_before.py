"""What the journal of an earlier version knows of a relay that disobeyed counts against the proof of before."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.config import load
from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.snapshot import to_text
from bridge.journal.writer import Journal
from rules.events import Event
from rules.safety import Proof
from rules.step.memory import initial
from tests.support.brokers import Broker
from tests.support.cabin import write_cabin
from tests.support.running_bridge import turning


@pytest.mark.parametrize(
    ("hazard", "after", "stands"),
    [("relay-disobeys", 3600.0, False), ("relay-disobeys", -3600.0, True), ("over-temperature", 3600.0, True)],
)
def test_a_trip_that_was_reset_before_the_upgrade_voids_the_proof_that_was_older(
    make_broker: Callable[..., Broker], tmp_path: Path, hazard: str, after: float, stands: bool
) -> None:
    path = write_cabin(tmp_path, make_broker().port)
    cabin = load(path).cabin
    proved = time.time() - 86400.0
    memory = initial()
    memory = memory._replace(interlock=memory.interlock._replace(proof=Proof(proved, passed=True, current_proved=True)))
    journal = Journal.open(cabin.journal, {name: () for name in cabin.banks})
    events = [
        Event("north", "trip", proved + after, {"hazard": hazard, "value": None, "reason": "seen"}),
        Event("north", "command", proved + after + 60.0, {"name": "reset", "cleared": [hazard]}),
    ]
    journal.submit(Batch(events=events, snapshots={"north": to_text(memory)}))
    journal.close(10.0)
    with JournalReader(cabin.journal.path) as reader:
        assert reader.last_trip(hazard) == {"north": pytest.approx(proved + after, abs=0.01)}
    with turning(path) as service:
        proof = service.engine.memories["north"].interlock.proof
        assert proof.passed is stands
        assert ("disobeyed since it was proved" in proof.note) is not stands
