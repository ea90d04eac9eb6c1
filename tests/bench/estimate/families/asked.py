"""Rounds with a hazard that was asked for, in a household that would have seen it or not; else as drawn.

Few drawn rounds have a hazard, and half of their households no relay. Here every bank lives, has a probe and a relay,
and the hazard comes; bank, charger, meters and weather stay those of the seed, but for what the hazard's name says.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from .priors import Hazard, Round, draw
from .world import Lived

#: A round ends so long after its hazard began [h]: whoever has not spoken by then has missed it.
ENDS = 14.0
#: A probe in the acid and one on a case [s].
FAST, SLOW = (120.0, 400.0), (1800.0, 3600.0)


class Asked(NamedTuple):
    """A hazard's kind, what sticks, range of its size, meters by name; at least so many strings."""

    kind: str
    quantity: str = ""
    size: tuple[float, float] = (1.0, 1.0)
    probe: tuple[float, float] = FAST
    blocks: bool | None = None
    strings: bool | None = None
    least_strings: int = 1


ASKED = {
    "runaway-fast": Asked("runaway-fast", size=(3.0, 6.0)),
    "runaway-slow": Asked("runaway-slow", size=(1.8, 2.6)),
    "short, block meters": Asked("short", blocks=True, strings=False),
    "short, string meters": Asked("short", blocks=False, strings=True, least_strings=2),
    "short, neither": Asked("short", blocks=False, strings=False),
    "hot, fast probe": Asked("over-temperature", size=(14.0, 26.0)),
    "hot, slow probe": Asked("over-temperature", size=(14.0, 26.0), probe=SLOW),
    "stuck probe": Asked("stuck", "temperature"),
    "stuck ammeter": Asked("stuck", "current"),
    "stuck voltmeter": Asked("stuck", "voltage"),
    "swapped": Asked("swapped", "current"),
    "offset": Asked("drifting", "current", (0.06, 0.15)),
    "over-voltage": Asked("over-voltage", size=(0.09, 0.25)),
}
#: A metal bridge, or moss that takes some amps or a fraction of one [S/Ah].
SHORTS = (4.0, 0.05, 0.01, 0.003)


def draw_asked(seed: int, name: str) -> Round:
    """Draw a round with that hazard; the same seed draws the same."""
    asked, drawn = ASKED[name], draw(seed)
    random = np.random.default_rng((seed, 20_262, sorted(ASKED).index(name)))
    make = drawn.make._replace(strings=max(drawn.make.strings, asked.least_strings), dead=False)
    meters = drawn.meters._replace(probe=True, power=False, probe_lag=float(random.uniform(*asked.probe)))
    if asked.blocks is not None:
        meters = meters._replace(blocks=asked.blocks, midpoint=False)
    if asked.strings is not None:
        meters = meters._replace(strings=asked.strings)
    short = asked.kind == "short"
    hazard = Hazard(
        asked.kind,
        str(random.choice(["reviving", "finishing", "holding"] if short else ["finishing", "holding"])),
        float(random.uniform(0.5, 8.0)),
        float(random.choice(SHORTS) if short else random.uniform(*asked.size)),
        # Blocks are measured in the first string.
        0 if asked.blocks else int(random.integers(make.strings)),
        int(random.integers(make.cells)),
        asked.quantity,
    )
    return drawn._replace(make=make, meters=meters, hazard=hazard, relay=True, longest=max(drawn.longest, 140.0))


def cut_off(lived: Lived) -> Lived:
    """Leave out what came long after the hazard."""
    kind = lived.round.hazard.kind
    kind = "warm-air" if kind == "over-temperature" else kind
    began = min([event[1] for event in lived.events if event[0] == kind], default=np.inf)
    rows = int(np.searchsorted(lived.at, began + 3600.0 * ENDS))
    if rows >= len(lived.at):
        return lived
    last = float(lived.at[rows - 1])
    kept: dict[str, Any] = {
        name: column[:rows] for name, column in lived._asdict().items() if isinstance(column, np.ndarray)
    }
    kept["events"] = tuple(event for event in lived.events if event[1] <= last)
    kept["hold_end"] = lived.hold_end if lived.hold_end <= last else np.inf
    return lived._replace(**kept)
