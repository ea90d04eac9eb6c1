"""A cabin without its bus: a journal filled from a recording, and parcels made of it."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from bridge.config import load, told
from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.outlets.parcels import ParcelsOutlet
from bridge.runtime.engine import Engine
from bridge.settings import JournalSettings, ParcelsSettings
from rules.events import Derived, Event, Outcome
from tests.support.brokers import wait_until

ALL = ("event", "hand", "state", "message", "reading")
#: Rows handed over at once.
PIECE = 500


class Cabin:
    """A journal that is filled as the running bridge fills it, and the outlet that follows it."""

    def __init__(self, config: Path, folder: Path, site: str = "") -> None:
        loaded = load(config)
        self.site = site or loaded.cabin.site
        tables: Any = told(config)
        tables["site"]["id"] = self.site
        self.text = json.dumps(tables, sort_keys=True)
        self.journal = Journal.open(
            JournalSettings(folder / f"{self.site}.db"), {bank.id: bank.meters for bank in loaded.cabin.banks.values()}
        )
        self.batch = Batch()
        self.engine = Engine(loaded.cabin.banks, loaded.routes, self._carry)
        self.now = 0.0

    def _carry(self, outcome: Outcome) -> None:
        if isinstance(outcome, Derived):
            self.batch.derived.append(outcome)
        elif isinstance(outcome, Event):
            self.batch.events.append(outcome)

    def live(self, messages: Iterable[Message]) -> None:
        """Fold and store messages."""
        for message in messages:
            decoded = self.engine.accept(message)
            if decoded is not None:
                self.batch.messages.append((message, decoded.stamp))
                self.batch.readings.extend(decoded.readings)
            self.now = max(self.now, message.at)
            if len(self.batch.messages) >= PIECE:
                self.store()
        self.store()

    def store(self) -> None:
        """Hand over what was collected, and wait until it is on the disk."""
        batch, self.batch = self.batch, Batch()
        self.journal.submit(batch)
        wait_until(lambda: self.journal.backlog == 0)

    def outlet(self, where: Path | str, **how: Any) -> ParcelsOutlet:
        """Return a new outlet, as after a start."""
        options = {key: how.pop(key) for key in ("every", "tables", "monthly") if key in how}
        settings = ParcelsSettings(str(where), **{"every": 0.0, "tables": ALL, **options})
        pace = {"look": 0.02, "drain": 0.0, **how}
        return ParcelsOutlet(settings, self.site, self.text, self.journal, lambda: self.now, lambda: True, **pace)

    def send(self, where: Path | str, **how: Any) -> ParcelsOutlet:
        """Send all there is, and stop."""
        return self.run(self.outlet(where, **how))

    def run(self, outlet: ParcelsOutlet) -> ParcelsOutlet:
        """Let an outlet send all there is, and stop it."""
        outlet.start()
        wait_until(lambda: outlet.state == "up to date" and not outlet.backlog)
        assert outlet.stop()
        wait_until(lambda: not self.position()["plans"])
        return outlet

    def position(self) -> dict[str, Any]:
        """Return what the journal remembers of the sending."""
        with JournalReader(self.journal.path) as reader:
            kept: dict[str, Any] = json.loads(reader.position("parcels"))
        return kept
