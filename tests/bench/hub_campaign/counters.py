"""Last part: the hub's own statistics of energy and charge, over a new round and a bridge that was away.

The hub writes them every five minutes of its clock, so this part waits for most of its ten to fifteen minutes.
"""

from __future__ import annotations

import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from hub import Hub
from outlets import BANKS, Bridge, derived

from tests.support.brokers import Broker, wait_until

#: What is counted [kWh], second for second: a round, the same once more after the bridge was away, a new round.
FIRST, AWAY, NEW = (1.0, 2.5, 4.0), (4.0, 4.5), (0.0, 0.0, 0.5, 1.5)
#: All of it: what the first value adds over nothing is not counted, a fall to 0 begins anew.
TOTAL = (4.5 - 1.0) + 1.5
ENERGY, CHARGE = "sensor.tarn_hut_north_revival_energy", "sensor.tarn_hut_north_revival_charge_returned"
EVERY, LATE = 300.0, 25.0  # how often the hub writes statistics, and how long after the minute it has them [s]


def campaign(program: str) -> None:
    """All steps; raises where one fails."""
    with tempfile.TemporaryDirectory() as folder:
        broker, hub = Broker(Path(folder) / "broker").start(), Hub(program, Path(folder))
        hub.add("recorder:\n")
        bridge: Bridge | None = None
        begun = datetime.now(UTC).isoformat()
        try:
            hub.start()
            hub.set_up(broker)
            _soon_after_a_boundary()
            bridge = Bridge(broker, BANKS)
            _count(hub, bridge, FIRST)
            _boundary(bridge)
            before = _sums(hub, begun)
            bridge.stop()
            wait_until(lambda: hub.states()[ENERGY] == "unavailable", 60, "the bridge is away")
            bridge = Bridge(broker, BANKS)
            _count(hub, bridge, AWAY)
            _count(hub, bridge, NEW)
            _boundary(bridge)
            after = _sums(hub, begun)
            print(f"      sums before {before}, after {after}")
            for entity, sums in after.items():
                assert sums == sorted(sums), f"{entity} runs backwards: {sums}"
                assert sums[: len(before[entity])] == before[entity], "what was written stays"
            assert abs(after[ENERGY][-1] - TOTAL) < 0.001, f"{after[ENERGY]} should end with {TOTAL}"
            assert abs(after[CHARGE][-1] - 30.0 * TOTAL) < 0.1, after[CHARGE]
            print("ok    energy and charge rise alone in the hub's statistics, a new round is added to the last")
            complaints = hub.complaints()
            assert not complaints, complaints[:5]
            print("ok    the hub's log has no line about us")
        finally:
            if bridge is not None:
                bridge.bus.stop(1)
            hub.stop()
            broker.stop()


def _count(hub: Hub, bridge: Bridge, values: tuple[float, ...]) -> None:
    bridge.turn(lambda: bridge.bus.subscribed, "connected")
    for energy in values:
        bridge.homie.update(derived("north", energy=energy, charge_returned=30.0 * energy))
        bridge.turn(lambda energy=energy: hub.states().get(ENERGY) == f"{energy:.2f}", f"energy {energy} kWh")


def _soon_after_a_boundary() -> None:
    """Wait where too little time is left of the five minutes that are under way."""
    left = EVERY - time.time() % EVERY
    if left < 2.0 * LATE:
        time.sleep(left + 1.0)


def _boundary(bridge: Bridge) -> None:
    due = (time.time() // EVERY + 1.0) * EVERY + LATE
    bridge.turn(lambda: time.time() > due, "the hub has written its statistics", EVERY + 2.0 * LATE)


def _sums(hub: Hub, begun: str) -> dict[str, list[float]]:
    """Return what the hub has summed up, once it has done so for the five minutes that are over."""
    over = time.time() // EVERY * EVERY
    found: dict[str, Any] = {}

    def there() -> bool:
        found.update(
            hub.socket(
                type="recorder/statistics_during_period",
                start_time=begun,
                statistic_ids=[ENERGY, CHARGE],
                period="5minute",
                types=["sum"],
            )
        )
        return len(found) == 2 and all(rows[-1]["end"] >= 1000.0 * over for rows in found.values())

    wait_until(there, 120, f"the hub has summed up until {over}: {found}")
    return {entity: [round(row["sum"], 3) for row in rows] for entity, rows in found.items()}


if __name__ == "__main__":
    campaign(sys.argv[1])
