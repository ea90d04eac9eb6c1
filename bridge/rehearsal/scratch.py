"""The same cabin elsewhere: every topic below a prefix, a journal of its own, nothing that leaves the host."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from bridge.config import Loaded
from bridge.intake import Routes
from bridge.settings import JournalSettings


def scratch(loaded: Loaded, bank: str, prefix: str, folder: Path, broker: tuple[str, int] | None) -> Loaded:
    """Return a copy of the cabin for one bank, that meets the real one nowhere.

    Parameters
    ----------
    bank : str
        The only bank of the copy.
    prefix : str
        Goes before every topic, read or written.
    folder : Path
        For the journal.
    broker : tuple or None
        Host and port of another broker than the owner's.
    """
    cabin = loaded.cabin
    settings = replace(cabin.broker, client_prefix=f"{cabin.broker.client_prefix}-rehearsal")
    if broker is not None:
        settings = replace(
            settings, host=broker[0], port=broker[1], protocol="5", tls=False, username=None, password=None
        )
    relays = tuple(
        replace(
            relay,
            banks=(bank,),
            topic=f"{prefix}/{relay.topic}",
            state_topic=None if relay.state_topic is None else f"{prefix}/{relay.state_topic}",
        )
        for relay in cabin.relays
        if bank in relay.banks
    )
    mappings = [
        replace(mapping, topic=f"{prefix}/{mapping.topic}")
        for mapping in loaded.routes.mappings
        if mapping.bank == bank
    ]
    copy = replace(
        cabin,
        banks={bank: cabin.banks[bank]},
        broker=settings,
        relays=relays,
        journal=JournalSettings(folder / "rehearsal.db"),
        influx=None,
        notify=None,
        parcels=None,
        page=None,
        discovery_prefix=None,
        root=f"{prefix}/{cabin.root}",
        time_source="auto",
    )
    return Loaded(copy, Routes(mappings), loaded.model)
