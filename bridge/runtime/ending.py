"""How the bridge ends: cut first, then finish what is under way, whatever hangs."""

from __future__ import annotations

import threading

from bridge import clock as time_source
from bridge.journal.writer import Journal
from bridge.mqtt.bus import Bus
from bridge.outlets.homie import HomieOutlet
from bridge.outlets.relay import RelayOutlet
from bridge.runtime.commits import Storing
from bridge.runtime.engine import Engine

#: Stopping takes at most so long in all [s].
STOP_WITHIN = 4.5


def end(
    engine: Engine, storing: Storing, journal: Journal, bus: Bus, homie: HomieOutlet, relays: set[RelayOutlet]
) -> None:
    """Cut every relay, store every bank's memory, take leave of the broker: within five seconds."""
    limit = time_source.monotonic() + STOP_WITHIN
    for relay in relays:
        relay.guard.order("cut")
    until = time_source.monotonic() + 2.0
    for relay in relays:
        relay.guard.wait_acknowledged(max(0.0, until - time_source.monotonic()))
    storing.submit(time_source.monotonic(), set(engine.banks))
    homie.disconnect()
    # Each of these waits for something that may hang; they wait side by side, and the process ends without them.
    threads = [
        threading.Thread(target=work, args=(1.0,), daemon=True)
        for work in (bus.stop, *(relay.guard.close_with_will for relay in relays))
    ]
    for thread in threads:
        thread.start()
    journal.close(max(0.5, limit - 1.5 - time_source.monotonic()))
    for thread in threads:
        thread.join(max(0.0, limit - time_source.monotonic()))
