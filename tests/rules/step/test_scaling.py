"""12, 24 and 48 V, one string to four: through the one door everything is reckoned per cell and per string."""

from __future__ import annotations

from functools import cache

import pytest

from rules.bank.model import Bank, Block, ChargerSetting, Meter
from rules.events import Command, Derived, HandReading, Incoming, Reading, Tick
from rules.step import step
from rules.step.memory import initial

START = 1_795_590_000.0
METERS = tuple(Meter(name, name, period=30.0) for name in ("voltage", "current", "electrolyte_temperature"))

#: Field -> how it goes with cells in series and with strings: 0 not at all, 1 in proportion.
SCALES = {
    "voltage": (1, 0),
    "volts_per_cell": (0, 0),
    "current": (0, 1),
    "power": (1, 1),
    "temperature": (0, 0),
    "charge_returned": (0, 1),
    "energy": (1, 1),
    "hydrogen_rate": (1, 1),
    "ventilation_needed": (1, 1),
    "gassing_share": (0, 0),
    "water_used": (0, 0),
    "water_reserve": (0, 0),
    "hold_hours": (0, 0),
    "hold_needed": (0, 0),
    "lowest_gravity": (0, 0),
    "gravity_spread": (0, 0),
}


@cache
def charged(cells: int, strings: int) -> Derived:
    """After forty minutes of current that grows at 2.5 V per cell, with gravities read of each cell."""
    blocks = tuple(tuple(Block(f"{s}B{b}", 3, 225.0) for b in range(cells // 3)) for s in range(strings))
    bank = Bank("north", blocks, chargers=(ChargerSetting(2.67 * cells, 25.0 * strings),), meters=METERS)
    memory, last = initial(), Derived("north", START)

    def give(event: Incoming) -> None:
        nonlocal memory, last
        memory, outcomes = step(bank, memory, event)
        last = next((each for each in reversed(outcomes) if isinstance(each, Derived)), last)

    give(Command("north", "start", START))
    for second in range(1, 2401):
        at = START + second
        if second % 30 == 0:
            amps = 2.0 + 18.0 * second / 2400.0
            for meter, value in zip(METERS, (2.5 * cells, amps * strings, 20.0 + second / 2400.0), strict=True):
                give(Reading("north", meter.name, value, at, at))
        give(Tick(at))
    places = {
        f"{block.label}.{n}": 1.24 if n == 1 else 1.25 for string in blocks for block in string for n in (1, 2, 3)
    }
    give(HandReading("north", "gravity", at, at, places, 25.0))
    return last


@pytest.mark.parametrize("strings", [1, 2, 3, 4])
@pytest.mark.parametrize("cells", [6, 12, 24])
def test_every_figure_of_a_state_scales_with_cells_and_strings(cells: int, strings: int) -> None:
    one, many = charged(6, 1), charged(cells, strings)
    assert many.charge_returned is not None and many.charge_returned > 0.0 and many.hydrogen_rate
    for field, (by_cells, by_strings) in SCALES.items():
        factor = (cells / 6) ** by_cells * strings**by_strings
        assert getattr(many, field) == pytest.approx(factor * getattr(one, field)), field
    assert (many.phase, many.interrupted) == (one.phase, one.interrupted)
    assert many.remaining_hours == pytest.approx(one.remaining_hours, rel=1e-12)
    # The clamp is asked for only where strings share what nobody measures.
    names = {flag.name for flag in many.flags} - {"string-currents-due"}
    assert names == {flag.name for flag in one.flags}
    assert {row["charge"] for row in many.blocks} == {row["charge"] for row in one.blocks}
